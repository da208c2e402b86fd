//! `onetrip completions` and `onetrip man`: what a shell and a reader need to
//! know of the command line, made from the command line itself.

use std::io::Write;
use std::process::ExitCode;

use clap::{CommandFactory, ValueEnum};
use clap_complete::Shell;

use super::{Cli, REFUSED, fail};

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
    /// The page of this command, such as import
    command: Option<String>,
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
    let page = match &args.command {
        None => program,
        Some(name) => {
            let Some(found) = program.find_subcommand(name) else {
                eprintln!("onetrip: there is no command {name}; onetrip --help names them");
                return ExitCode::from(REFUSED);
            };
            found.clone()
        }
    };
    let mut text = Vec::new();
    match clap_mangen::Man::new(page).render(&mut text) {
        Ok(()) => print(&text),
        Err(error) => fail(error),
    }
}

/// Whoever reads may stop early; that is no fault.
fn print(text: &[u8]) -> ExitCode {
    match std::io::stdout().write_all(text) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => fail(error),
        _ => ExitCode::SUCCESS,
    }
}
