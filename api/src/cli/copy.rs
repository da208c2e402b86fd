//! `onetrip export --all` and `onetrip import --all`: the whole record.

use std::path::Path;
use std::process::ExitCode;

use super::{REFUSED, fail};
use crate::copy::{self, CopyError};
use crate::db::{Db, Place};
use crate::domain::clock::UtcStamp;

/// Writes a whole copy. Words go to stderr; nothing to stdout.
pub fn export(folder: &Path, with_secrets: bool, db: &Db, now: UtcStamp) -> ExitCode {
    match copy::write(db, folder, with_secrets) {
        Ok(manifest) => {
            eprintln!(
                "{}: {} rows in {} files{}",
                folder.display(),
                manifest.rows(),
                manifest.files.len(),
                if with_secrets {
                    ", secrets included: keep it as you keep the record"
                } else {
                    ""
                }
            );
            // The copy is whole whether or not the record can note it.
            if let Err(fault) = copy::mark(db, &manifest, now) {
                eprintln!("the record could not note the copy: {}", crate::import::told(&fault));
            }
            ExitCode::SUCCESS
        }
        Err(error) => fail(error),
    }
}

/// Takes a whole copy into an empty place.
pub fn import(folder: &Path, place: &Place) -> ExitCode {
    let manifest = match copy::check(folder) {
        Ok(manifest) => manifest,
        Err(error) => return refuse(&error),
    };
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    match copy::restore(&db, folder, &manifest) {
        Ok(()) => {
            eprintln!("{}: {} rows are in {}", folder.display(), manifest.rows(), place.show());
            if !manifest.with_secrets {
                eprintln!(
                    "the copy has no passwords: give each person one with onetrip user add, under the name they have"
                );
            }
            ExitCode::SUCCESS
        }
        Err(error @ CopyError::Record(crate::db::Fault::Refused(_))) => refuse(&error),
        Err(error) => fail(error),
    }
}

fn refuse(error: &CopyError) -> ExitCode {
    eprintln!("onetrip: {error}");
    eprintln!("nothing was imported");
    ExitCode::from(REFUSED)
}
