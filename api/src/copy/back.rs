//! Taking a copy in.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

use super::CopyError;
use super::manifest::{Listed, Manifest};
use super::tables::{self, Copied, Line};
use crate::db::{self, Answer, Conn, Db, Fault};
use crate::domain::refusal::Refusal;

/// Looks a folder's copy through before anything is written: a manifest that
/// this program understands, files as they were written, tables that it knows.
///
/// # Errors
/// See [`CopyError`].
pub fn check(folder: &Path) -> Result<Manifest, CopyError> {
    let manifest = Manifest::read(folder, &db::steps())?;
    for listed in &manifest.files {
        let plain = listed.file == format!("{}.ndjson", listed.table);
        if !plain || !tables::all().any(|table| table.name == listed.table) {
            let why = format!("names {}, which this program does not know", listed.file);
            return Err(CopyError::at(folder, why));
        }
    }
    manifest.hold(folder)?;
    Ok(manifest)
}

/// Puts a copy that [`check`] found good into an empty record, in one
/// transaction: all of it is there afterwards, or nothing.
///
/// # Errors
/// Where the record is not empty, or does not take a row.
pub fn restore(db: &Db, folder: &Path, manifest: &Manifest) -> Result<(), CopyError> {
    let (folder, files) = (folder.to_owned(), manifest.files.clone());
    db.write_blocking(move |conn| {
        for table in tables::all() {
            if !(table.page)(conn, 0, 1)?.is_empty() {
                return Err(refused(format!(
                    "this record has something in it already (table {}); name an empty place with --data",
                    table.name
                )));
            }
        }
        for table in tables::all() {
            for listed in files.iter().filter(|listed| listed.table == table.name) {
                take(conn, &folder, table, listed)?;
            }
        }
        Ok(())
    })?;
    Ok(())
}

fn refused(why: String) -> Fault {
    Refusal::Conflict(why).into()
}

fn take(conn: &mut Conn, folder: &Path, table: &Copied, listed: &Listed) -> Answer<()> {
    let path = folder.join(&listed.file);
    let unread = |error: std::io::Error| refused(format!("{}: {error}", path.display()));
    let file = BufReader::new(File::open(&path).map_err(unread)?);
    for (at, text) in file.lines().enumerate() {
        let text = text.map_err(unread)?;
        let bad = |why: String| refused(format!("{} line {}: {why}", listed.file, at + 1));
        let line: Line = serde_json::from_str(&text).map_err(|error| bad(error.to_string()))?;
        match (table.add)(conn, line) {
            Ok(added) => added.map_err(bad)?,
            Err(Fault::Refused(Refusal::Conflict(why))) => return Err(bad(why)),
            Err(other) => return Err(other),
        }
    }
    Ok(())
}
