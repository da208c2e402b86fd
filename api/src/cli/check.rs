//! `onetrip check`: whether the record is sound, a line for each thing looked
//! at.

use std::io::{StdoutLock, Write};
use std::process::ExitCode;

use super::{fail, standing};
use crate::db::{self, Answer, Db, Place};
use crate::domain::clock::{Clock, UtcStamp};
use crate::shops::model::{self as shops, Shop};
use crate::shops::sound;
use crate::{copy, import, reports};

/// Below this, a disk is as good as full.
const LEAST_FREE_BYTES: u64 = 200 * 1024 * 1024;

/// The program helps from 64 MiB on; past this something keeps it from it.
const LONGEST_LOG_BYTES: u64 = 256 * 1024 * 1024;

/// What was found. Whoever reads may stop early; the exit code still tells.
struct Findings {
    faults: u32,
    out: StdoutLock<'static>,
}

impl Findings {
    fn tell(&mut self, of: &str, found: Result<String, String>) {
        let at = if of.is_empty() { String::new() } else { format!("shop {of}: ") };
        let written = match found {
            Ok(words) => writeln!(self.out, "ok    {at}{words}"),
            Err(why) => {
                self.faults += 1;
                writeln!(self.out, "FAULT {at}{why}")
            }
        };
        drop(written);
    }

    /// What the record did not answer is a fault too.
    fn answered(&mut self, of: &str, found: Answer<Result<String, String>>) {
        self.tell(of, found.unwrap_or_else(|fault| Err(import::told(&fault))));
    }
}

/// Looks; 1 where anything is not sound.
#[must_use]
pub fn run(place: &Place, clock: Clock) -> ExitCode {
    let db = match standing(place) {
        Ok(db) => db,
        Err(code) => return code,
    };
    let mut findings = Findings { faults: 0, out: std::io::stdout().lock() };
    findings.tell("", Ok(format!("tables: at step {}", db::last_step())));
    findings.answered("", integrity(&db));
    let read = db.read(copy::read_through);
    findings.answered("", read.map(|rows| Ok(format!("rows: all {rows} can be read"))));
    if let Place::Url(_) = place {
        let walled = db.walled().map(|walled| Ok(walls(walled).to_owned()));
        findings.answered("", walled);
    }
    if let Place::Folder(folder) = place {
        findings.tell("", free(folder));
        findings.tell("", log(folder));
    }
    match db.read(shops::all) {
        Ok(all) => all.iter().for_each(|shop| of_shop(&mut findings, &db, shop, clock.now())),
        Err(fault) => findings.answered("", Err(fault)),
    }
    if findings.faults > 0 {
        return ExitCode::FAILURE;
    }
    match findings.out.flush() {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => fail(error),
        _ => ExitCode::SUCCESS,
    }
}

fn integrity(db: &Db) -> Answer<Result<String, String>> {
    let faults = db.faults()?;
    Ok(if faults.is_empty() {
        Ok("database: sound".to_owned())
    } else {
        Err(format!("database: {}", faults.join("; ")))
    })
}

/// What stands between the shops in PostgreSQL.
fn walls(walled: bool) -> &'static str {
    if walled {
        "shops: the database keeps them apart, too"
    } else {
        "shops: the program alone keeps them apart, since the database's user is a superuser"
    }
}

fn free(folder: &std::path::Path) -> Result<String, String> {
    let bytes = fs4::available_space(folder).map_err(|error| format!("disk: {error}"))?;
    let mebibytes = bytes / (1024 * 1024);
    if bytes < LEAST_FREE_BYTES {
        return Err(format!("disk: only {mebibytes} MiB free; make room"));
    }
    Ok(format!("disk: {mebibytes} MiB free"))
}

/// SQLite's log is carried over as people write; one that grows is carried no more.
fn log(folder: &std::path::Path) -> Result<String, String> {
    let file = folder.join(format!("{}-wal", db::FILE));
    let bytes = std::fs::metadata(file).map_or(0, |found| found.len());
    let mebibytes = bytes / (1024 * 1024);
    if bytes > LONGEST_LOG_BYTES {
        return Err(format!(
            "log: {mebibytes} MiB wait to be written over; end what holds the record open, then restart the server"
        ));
    }
    Ok(format!("log: {mebibytes} MiB wait to be written over"))
}

fn of_shop(findings: &mut Findings, db: &Db, shop: &Shop, now: UtcStamp) {
    findings.tell(&shop.code, sound::zone(shop));
    findings.answered(&shop.code, db.read(|conn| sound::clock(conn, shop, now)));
    findings.answered(&shop.code, db.read(|conn| sound::numbers(conn, shop)));
    findings.answered(&shop.code, db.read(|conn| sound::changes(conn, shop)));
    let agreed = db.read(|conn| reports::agree::agrees(conn, shop));
    findings.answered(
        &shop.code,
        agreed.map(|found| match found {
            Ok(jobs) => Ok(format!("history: {jobs} closed jobs, the same built anew")),
            Err(why) => Err(format!("history: {why}")),
        }),
    );
}
