//! `onetrip check`: whether the record is sound, a line for each thing looked
//! at.

use std::process::ExitCode;

use super::{REFUSED, fail};
use crate::db::{self, Answer, Db, Place};
use crate::domain::clock::{Clock, UtcStamp};
use crate::shops::model::{self as shops, Shop};
use crate::shops::sound;
use crate::{copy, import, reports};

/// Below this, a disk is as good as full.
const LEAST_FREE_BYTES: u64 = 200 * 1024 * 1024;

/// What was found.
struct Findings {
    faults: u32,
}

impl Findings {
    fn tell(&mut self, of: &str, found: Result<String, String>) {
        let at = if of.is_empty() { String::new() } else { format!("shop {of}: ") };
        match found {
            Ok(words) => println!("ok    {at}{words}"),
            Err(why) => {
                self.faults += 1;
                println!("FAULT {at}{why}");
            }
        }
    }

    /// What the record did not answer is a fault too.
    fn answered(&mut self, of: &str, found: Answer<Result<String, String>>) {
        self.tell(of, found.unwrap_or_else(|fault| Err(import::told(&fault))));
    }
}

/// Looks; 1 where anything is not sound.
#[must_use]
pub fn run(place: &Place, clock: Clock) -> ExitCode {
    // Looking must not make a record where there is none.
    if let Place::Folder(folder) = place
        && !folder.join("onetrip.sqlite").is_file()
    {
        eprintln!("onetrip: there is no record in {}", folder.display());
        return ExitCode::from(REFUSED);
    }
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    let mut findings = Findings { faults: 0 };
    findings.tell("", Ok(format!("tables: at step {}", db::last_step())));
    findings.answered("", integrity(&db));
    let read = db.read(copy::read_through);
    findings.answered("", read.map(|rows| Ok(format!("rows: all {rows} can be read"))));
    if let Place::Folder(folder) = place {
        findings.tell("", free(folder));
    }
    match db.read(shops::all) {
        Ok(all) => all.iter().for_each(|shop| of_shop(&mut findings, &db, shop, clock.now())),
        Err(fault) => findings.answered("", Err(fault)),
    }
    if findings.faults == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn integrity(db: &Db) -> Answer<Result<String, String>> {
    let faults = db.faults()?;
    Ok(if faults.is_empty() {
        Ok("database: sound".to_owned())
    } else {
        Err(format!("database: {}", faults.join("; ")))
    })
}

fn free(folder: &std::path::Path) -> Result<String, String> {
    let bytes = fs4::available_space(folder).map_err(|error| format!("disk: {error}"))?;
    let mebibytes = bytes / (1024 * 1024);
    if bytes < LEAST_FREE_BYTES {
        return Err(format!("disk: only {mebibytes} MiB free; make room"));
    }
    Ok(format!("disk: {mebibytes} MiB free"))
}

fn of_shop(findings: &mut Findings, db: &Db, shop: &Shop, now: UtcStamp) {
    findings.tell(&shop.code, sound::zone(shop));
    findings.answered(&shop.code, db.read(|conn| sound::clock(conn, shop, now)));
    findings.answered(&shop.code, db.read(|conn| sound::numbers(conn, shop)));
    let agreed = db.read(|conn| reports::agree::agrees(conn, shop));
    findings.answered(
        &shop.code,
        agreed.map(|found| match found {
            Ok(jobs) => Ok(format!("history: {jobs} closed jobs, the same built anew")),
            Err(why) => Err(format!("history: {why}")),
        }),
    );
}
