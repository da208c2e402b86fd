//! `onetrip config show`.

use std::process::ExitCode;

use super::print;
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
    let mut text = String::new();
    for setting in config.settings() {
        text.push_str(&format!("{}\t{}\t{}\n", setting.name, setting.shown(), setting.source));
    }
    print(text.as_bytes())
}
