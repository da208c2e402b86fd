//! `onetrip config show`.

use std::process::ExitCode;

use super::serve::ServeArgs;
use crate::config::{Config, Flags};

#[derive(clap::Args)]
pub struct ConfigArgs {
    #[command(subcommand)]
    verb: ConfigVerb,
}

#[derive(clap::Subcommand)]
enum ConfigVerb {
    /// Every setting with its value and where it comes from; passwords are not
    /// shown. Takes the flags of `serve`.
    Show(ServeArgs),
}

impl ConfigArgs {
    /// Adds what was said to the flags.
    #[must_use]
    pub fn over(&self, base: Flags) -> Flags {
        let ConfigVerb::Show(args) = &self.verb;
        args.over(base)
    }
}

/// Shows them, one a line: name, value, source, with tabs between.
#[must_use]
pub fn run(config: &Config) -> ExitCode {
    for setting in config.settings() {
        println!("{}\t{}\t{}", setting.name, setting.shown(), setting.source);
    }
    ExitCode::SUCCESS
}
