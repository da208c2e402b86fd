//! `onetrip erase`: a customer's personal data.

use std::process::ExitCode;

use clap::Args;

use super::{REFUSED, fail, standing};
use crate::db::{self, Claim, Db, Fault, Place};
use crate::domain::clock::Clock;
use crate::domain::refusal::Refusal;
use crate::import::told;
use crate::orders::erase::{Erased, Whom, erase};
use crate::people::model as people;
use crate::shops::model as shops;
use crate::shops::write::ShopWrite;

/// Erases a customer's name, contact, word of authorization and plates from a shop's
/// record, also from the notes of changes. The work, the VIN and every figure stay.
#[derive(Args)]
pub struct EraseArgs {
    /// Code of the shop
    #[arg(long, value_name = "CODE")]
    shop: String,
    /// The customer's name, as it stands on the orders
    #[arg(long, value_name = "NAME")]
    customer: String,
    /// Only orders with this contact: where two customers have one name
    #[arg(long, value_name = "TEXT")]
    contact: Option<String>,
    /// Who erases: a sign-in name
    #[arg(long, value_name = "NAME")]
    by: String,
}

/// What it does not reach.
const BESIDE: &str = "Backups and whole copies that were made before still hold it, and so may what somebody wrote as free text \
     (complaints, notes): delete the one, read the other.";

/// Erases, and sees to it that no page of the database's files holds any of it.
#[must_use]
pub fn run(args: &EraseArgs, place: &Place, clock: Clock) -> ExitCode {
    // A server would hold old pages, and answers in memory.
    let claim = match Claim::take(place) {
        Ok(claim) => claim,
        Err(error) => return refuse(error),
    };
    let db = match standing(place) {
        Ok(db) => db,
        Err(code) => return code,
    };
    let erased = match erased(args, &db, clock) {
        Ok(erased) => Some(erased),
        Err(Fault::Refused(Refusal::NotFound)) => None,
        Err(fault) => return fail(told(&fault)),
    };
    if let Some(erased) = &erased {
        eprintln!(
            "erased from {} orders ({}), {} plates, {} notes of changes.\n{BESIDE}",
            erased.orders.len(),
            erased.orders.join(", "),
            erased.plates,
            erased.notes
        );
    }
    drop(db);
    // Also where nobody is found: rows that an earlier run cleared may still lie in
    // the files, if it was cut short before this.
    if let Err(why) = db::scrub(place) {
        return fail(why);
    }
    drop(claim);
    match erased {
        Some(_) => ExitCode::SUCCESS,
        None => refuse("no order of the shop has that customer, or nobody signs in by that name"),
    }
}

fn erased(args: &EraseArgs, db: &Db, clock: Clock) -> Result<Erased, Fault> {
    let now = clock.now();
    let whom = Whom { name: args.customer.clone(), contact: args.contact.clone() };
    let (code, by) = (args.shop.clone(), args.by.clone());
    db.write_blocking(move |conn| {
        let shop = shops::all(conn)?.into_iter().find(|shop| shop.code == code);
        let shop = shop.ok_or(Refusal::NotFound)?;
        let person =
            people::by_sign_in(conn, &by)?.filter(|person| person.group_id == shop.group_id);
        let person = person.ok_or(Refusal::NotFound)?;
        erase(&mut ShopWrite::begin(conn, &shop, &person.id, now)?, &whom)
    })
}

fn refuse(why: impl std::fmt::Display) -> ExitCode {
    eprintln!("onetrip: {why}");
    ExitCode::from(REFUSED)
}
