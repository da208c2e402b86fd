//! `onetrip completions` and `onetrip man`: what a shell and a reader need to
//! know of the command line, made from the command line itself.

use std::process::ExitCode;

use clap::{CommandFactory, ValueEnum};
use clap_complete::Shell;

use super::{Cli, REFUSED, fail, print};

#[derive(clap::Args)]
pub struct CompletionsArgs {
    /// For which shell
    #[arg(value_enum)]
    shell: For,
}

/// Shells that are looked after.
#[derive(Clone, Copy, ValueEnum)]
enum For {
    Bash,
    Zsh,
    Fish,
}

#[derive(clap::Args)]
pub struct ManArgs {
    /// The page of this command, such as import, user add or user-add
    #[arg(value_name = "COMMAND")]
    commands: Vec<String>,
}

/// Prints completions.
#[must_use]
pub fn completions(args: &CompletionsArgs) -> ExitCode {
    let shell = match args.shell {
        For::Bash => Shell::Bash,
        For::Zsh => Shell::Zsh,
        For::Fish => Shell::Fish,
    };
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "onetrip", &mut text);
    print(&text)
}

/// Prints a manual page.
#[must_use]
pub fn man(args: &ManArgs) -> ExitCode {
    let mut program = Cli::command();
    program.build();
    let named = args.commands.join(" ");
    let mut page = &program;
    for name in named.split([' ', '-']).filter(|name| !name.is_empty()) {
        let Some(found) = page.find_subcommand(name) else {
            eprintln!("onetrip: there is no command {named}; onetrip --help names them");
            return ExitCode::from(REFUSED);
        };
        page = found;
    }
    let page = page.clone();
    let mut text = Vec::new();
    match clap_mangen::Man::new(page).render(&mut text) {
        Ok(()) => print(&text),
        Err(error) => fail(error),
    }
}
