//! `onetrip backup` and `onetrip restore`: the whole record as one file.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::{REFUSED, fail, is_bare};
use crate::backups::schedule::name;
use crate::db::{self, Db, Place};
use crate::domain::clock::Clock;

/// Where to.
#[derive(Args)]
pub struct BackupArgs {
    /// Folder that the backup is written into
    #[arg(long, value_name = "FOLDER")]
    to: PathBuf,
}

/// From what.
#[derive(Args)]
pub struct RestoreArgs {
    /// A backup
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

pub(super) const OF_SERVER: &str = "a PostgreSQL record is backed up by its own tools (PGOPTIONS='-c onetrip.shop=all' pg_dump \
     --enable-row-security), or as files with onetrip export --all and import --all";

/// Writes a backup, looked through; its path goes to stdout.
#[must_use]
pub fn backup(args: &BackupArgs, place: &Place, clock: Clock) -> ExitCode {
    let Place::Folder(folder) = place else { return refuse(OF_SERVER) };
    if is_bare(place) {
        return refuse(format!("there is no record in {}", place.show()));
    }
    if let Err(error) = std::fs::create_dir_all(&args.to) {
        return fail(format!("{}: {error}", args.to.display()));
    }
    match written(folder, &args.to, clock) {
        Ok((file, bytes)) => {
            eprintln!(
                "{bytes} bytes, looked through and on the disk; it holds password hashes: keep it as you keep the record"
            );
            super::print(format!("{}\n", file.display()).as_bytes())
        }
        Err(why) => fail(why),
    }
}

/// A backup of this moment, under a name that tells it.
fn written(folder: &Path, to: &Path, clock: Clock) -> Result<(PathBuf, u64), String> {
    let file = to.join(name(clock.now()));
    let bytes = db::snapshot(folder, &file)?;
    Ok((file, bytes))
}

/// Puts a backup into an empty place, and brings it up to date.
#[must_use]
pub fn restore(args: &RestoreArgs, place: &Place) -> ExitCode {
    let Place::Folder(folder) = place else { return refuse(OF_SERVER) };
    if let Err(why) = db::restore(&args.file, folder) {
        return refuse(why);
    }
    match Db::open(place) {
        Ok(_) => {
            eprintln!("{} is in {}", args.file.display(), place.show());
            ExitCode::SUCCESS
        }
        Err(error) => fail(error),
    }
}

fn refuse(why: impl std::fmt::Display) -> ExitCode {
    eprintln!("onetrip: {why}");
    ExitCode::from(REFUSED)
}
