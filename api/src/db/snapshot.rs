//! Copies of a whole SQLite file as it stands at one moment, a server at work on it
//! or not. A copy counts when it has been looked through and lies on the disk:
//! until then it has another name.

use std::fs::File;
use std::path::{Path, PathBuf};

use diesel::prelude::*;
use diesel::sql_types::Text;
use diesel::sqlite::SqliteConnection;

use super::conn::{Use, sqlite};
use super::sound;

/// The name of the record in its folder.
pub const FILE: &str = "onetrip.sqlite";
/// What a copy is called while it is made.
const PART: &str = "part";

/// Copies the record of a folder to a file that is not there yet. Answers its size
/// in bytes.
///
/// # Errors
/// Why there is no copy; then nothing of that name is there.
pub fn snapshot(folder: &Path, to: &Path) -> Result<u64, String> {
    if to.exists() {
        return Err(format!("{} is there already", to.display()));
    }
    let from = folder.join(FILE).display().to_string();
    // One that may only ask could not write the copy either.
    let mut conn = sqlite(&from, Use::Write).map_err(|error| error.to_string())?;
    written(&mut conn, to)
}

/// The same over a connection that is open.
pub(super) fn written(conn: &mut SqliteConnection, to: &Path) -> Result<u64, String> {
    let part = to.with_extension(PART);
    // Left behind by one that was interrupted.
    drop(std::fs::remove_file(&part));
    let made = diesel::sql_query("VACUUM INTO ?")
        .bind::<Text, _>(part.display().to_string())
        .execute(conn)
        .map_err(|error| error.to_string())
        .and_then(|_| named(&part, to));
    if made.is_err() {
        drop(std::fs::remove_file(&part));
    }
    made
}

/// Puts a snapshot into a folder without a record.
///
/// # Errors
/// Why it was not done; then the folder has no record still.
pub fn restore(from: &Path, folder: &Path) -> Result<u64, String> {
    let to = folder.join(FILE);
    if to.exists() {
        return Err(format!(
            "{} has a record already: restore into an empty folder",
            folder.display()
        ));
    }
    // SQLite would read the log of another record into this one.
    let log = folder.join(format!("{FILE}-wal"));
    if log.exists() {
        return Err(format!(
            "{} is left of another record: move it away, or restore into an empty folder",
            log.display()
        ));
    }
    looked_through(from)?;
    std::fs::create_dir_all(folder).map_err(|error| error.to_string())?;
    let part = to.with_extension(PART);
    let made = std::fs::copy(from, &part)
        .map_err(|error| error.to_string())
        .and_then(|_| named(&part, &to));
    if made.is_err() {
        drop(std::fs::remove_file(&part));
    }
    made
}

/// Looks it through, waits for the disk, and gives it its name.
fn named(part: &Path, to: &Path) -> Result<u64, String> {
    let told = |error: std::io::Error| format!("{}: {error}", to.display());
    looked_through(part)?;
    let file = File::open(part).map_err(told)?;
    file.sync_all().map_err(told)?;
    std::fs::rename(part, to).map_err(told)?;
    let folder = match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    };
    // The name lies on the disk, too.
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(told)?;
    Ok(file.metadata().map_err(told)?.len())
}

/// Whether a file is a record whose pages and references are sound.
fn looked_through(file: &Path) -> Result<(), String> {
    let told = |error: &dyn std::fmt::Display| format!("{}: {error}", file.display());
    // Opened by its name, a file that is not there would be made.
    if !file.is_file() {
        return Err(told(&"there is no such file"));
    }
    let mut conn =
        SqliteConnection::establish(&file.display().to_string()).map_err(|error| told(&error))?;
    let faults = sound::sqlite_faults(&mut conn).map_err(|error| told(&error))?;
    if let Some(fault) = faults.first() {
        return Err(told(fault));
    }
    let steps = sound::steps_taken(&mut conn).map_err(|_| told(&"it is no record of onetrip"))?;
    if steps == 0 { Err(told(&"it is no record of onetrip")) } else { Ok(()) }
}
