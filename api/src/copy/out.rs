//! Writing a copy.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;

use serde_json::Value;
use sha2::{Digest, Sha256};

use super::CopyError;
use super::manifest::{Listed, Manifest, NAME, hex};
use super::tables::{self, Copied, Line};
use crate::db::{self, Db};

/// Rows read at once.
const PAGE: i64 = 5_000;

/// Columns with hashes of secrets, and tables that are nothing without theirs.
const SECRET_COLUMNS: &[(&str, &str)] = &[("person", "password_hash"), ("person", "pin_hash")];
const SECRET_TABLES: &[&str] = &["access_token", "tablet"];

/// Tables with text of people's own in their keys, which each database sorts
/// its own way; they are small enough to be sorted here.
const SORTED_HERE: &[&str] = &["code_entry", "part_policy"];

const README: &str = "\
A whole copy of a onetrip record.

manifest.json  what this copy is: format, the step its tables were at, which program wrote it, whether
               secrets are in it, and for every file its rows and its SHA-256
TABLE.ndjson   one table: each line is one row, a JSON object with the table's columns in their order;
               rows stand in the order of their primary key

Values: texts as they are; whole numbers; true and false; null for nothing; days as 2026-03-02; times in UTC as
2026-03-02T14:05:00.000000Z; measured values as numbers, or as text where a number would lose a digit. Money is
in minor units of its shop's currency (columns ending in _minor), hours in hundredths (_hundredths), shares in
thousandths (_permille).

Not in it: sessions, answers kept for repeated requests, when copies were written, and, unless it was written with --with-secrets, the
hashes of passwords and PINs (they are null) and the tables access_token and tablet.

Into an empty place:  onetrip --data PLACE import --all FOLDER
Two copies of the same record are the same, byte for byte, whichever database holds it.
";

/// Writes the whole record into a folder, which must be empty or not there.
///
/// # Errors
/// See [`CopyError`].
pub fn write(db: &Db, folder: &Path, with_secrets: bool) -> Result<Manifest, CopyError> {
    fs::create_dir_all(folder).map_err(|error| CopyError::at(folder, error))?;
    // All tables from one moment; a fault of the files comes out of it whole.
    let files = db.read(|conn| {
        let mut files = Vec::new();
        for table in tables::all() {
            if with_secrets || !SECRET_TABLES.contains(&table.name) {
                match write_table(conn, folder, table, with_secrets) {
                    Ok(listed) => files.push(listed),
                    Err(CopyError::Record(fault)) => return Err(fault),
                    Err(files) => return Ok(Err(files)),
                }
            }
        }
        Ok(Ok(files))
    })??;
    let manifest = Manifest::new(db::last_step(), with_secrets, files);
    let text = serde_json::to_string_pretty(&manifest)
        .map_err(|error| CopyError::Files(error.to_string()))?;
    for (name, text) in [("README.txt", README.to_owned()), (NAME, text + "\n")] {
        let path = folder.join(name);
        put(&path, &text).map_err(|error| CopyError::at(&path, error))?;
    }
    Ok(manifest)
}

/// Reads every row of the record; answers how many there are.
///
/// # Errors
/// Where a row cannot be read.
pub fn read_through(conn: &mut db::Conn) -> db::Answer<i64> {
    let mut all = 0;
    for table in tables::all() {
        let mut offset = 0;
        loop {
            let found = i64::try_from((table.page)(conn, offset, PAGE)?.len()).unwrap_or(0);
            offset += found;
            if found < PAGE {
                break;
            }
        }
        all += offset;
    }
    Ok(all)
}

fn put(path: &Path, text: &str) -> std::io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

fn write_table(
    conn: &mut db::Conn,
    folder: &Path,
    table: &Copied,
    with_secrets: bool,
) -> Result<Listed, CopyError> {
    let name = format!("{}.ndjson", table.name);
    let path = folder.join(&name);
    let failed = |error: std::io::Error| CopyError::at(&path, error);
    let mut file = BufWriter::new(File::create(&path).map_err(failed)?);
    let (mut digest, mut rows) = (Sha256::new(), 0_u64);
    let page = if SORTED_HERE.contains(&table.name) { i64::MAX } else { PAGE };
    loop {
        let mut lines = (table.page)(conn, i64::try_from(rows).unwrap_or(i64::MAX), page)?;
        if SORTED_HERE.contains(&table.name) {
            lines.sort_by_cached_key(|line| key(table, line));
        }
        let found = i64::try_from(lines.len()).unwrap_or(i64::MAX);
        for mut line in lines {
            if !with_secrets {
                hide(table, &mut line);
            }
            let mut text = Value::Object(line).to_string();
            text.push('\n');
            digest.update(&text);
            file.write_all(text.as_bytes()).map_err(failed)?;
            rows += 1;
        }
        if found < page {
            break;
        }
    }
    let file = file.into_inner().map_err(|error| failed(error.into_error()))?;
    file.sync_all().map_err(failed)?;
    Ok(Listed { file: name, table: table.name.to_owned(), rows, sha256: hex(&digest.finalize()) })
}

/// A row's place among the others: whole numbers, then texts by their bytes.
fn key(table: &Copied, line: &Line) -> Vec<(Option<i64>, Option<String>)> {
    let part = |column: &&str| {
        let value = line.get(*column);
        (value.and_then(Value::as_i64), value.and_then(Value::as_str).map(str::to_owned))
    };
    table.key.iter().map(part).collect()
}

fn hide(table: &Copied, line: &mut Line) {
    for (of, column) in SECRET_COLUMNS {
        if *of == table.name
            && let Some(value) = line.get_mut(*column)
        {
            *value = Value::Null;
        }
    }
}
