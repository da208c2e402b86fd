//! Whether a shop's record is sound in what no constraint can say.

use std::collections::{BTreeSet, HashSet};

use diesel::prelude::*;

use super::model::Shop;
use crate::db::schema::{record_change, repair_order, shop_counter};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::zone::Zone;

/// The shop's zone is one that this program has.
///
/// # Errors
/// What is wrong.
pub fn zone(shop: &Shop) -> Result<String, String> {
    match Zone::parse(&shop.time_zone) {
        Some(zone) => Ok(format!("time zone {}", zone.name())),
        None => Err(format!("time zone '{}' is not known to this program", shop.time_zone)),
    }
}

/// The clock is not behind the last change.
///
/// # Errors
/// Where the database does not answer; the inner error says what is wrong.
pub fn clock(conn: &mut Conn, shop: &Shop, now: UtcStamp) -> Answer<Result<String, String>> {
    let last: Option<UtcStamp> = record_change::table
        .filter(record_change::shop_id.eq(shop.id))
        .order((record_change::change_no.desc(), record_change::line.desc()))
        .select(record_change::changed_at)
        .first(conn)
        .optional()?;
    Ok(match last {
        None => Ok("clock: no change noted yet".to_owned()),
        Some(last) if last <= now => Ok(format!("clock: last change {}", last.rfc3339())),
        Some(last) => Err(format!(
            "clock: it is {} here, before the last change ({}); set the clock",
            now.rfc3339(),
            last.rfc3339()
        )),
    })
}

/// The shop's own order numbers have no gap.
///
/// # Errors
/// Where the database does not answer; the inner error says what is wrong.
pub fn numbers(conn: &mut Conn, shop: &Shop) -> Answer<Result<String, String>> {
    let orders: Vec<(String, String)> = repair_order::table
        .filter(repair_order::shop_id.eq(shop.id))
        .select((repair_order::id, repair_order::order_no))
        .load(conn)?;
    let opened_here: HashSet<String> = record_change::table
        .filter(record_change::shop_id.eq(shop.id))
        .filter(record_change::record.eq("order").and(record_change::action.eq("added")))
        .select(record_change::record_id)
        .load(conn)?
        .into_iter()
        .collect();
    let last: i64 =
        shop_counter::table.find(shop.id).select(shop_counter::order_number).first(conn)?;
    let all: BTreeSet<i64> = orders.iter().filter_map(|(_, no)| ending(no)).collect();
    let own: Vec<i64> = orders
        .iter()
        .filter(|(id, _)| opened_here.contains(id))
        .filter_map(|(_, no)| no.parse().ok())
        .collect();
    Ok(match gap(&all, &own, last) {
        None => Ok(format!("order numbers: {} given here, the last {last}", own.len())),
        Some(missing) => Err(format!("order numbers: {missing} is missing")),
    })
}

/// No change is noted above the last number that was given, and none twice.
///
/// # Errors
/// Where the database does not answer; the inner error says what is wrong.
pub fn changes(conn: &mut Conn, shop: &Shop) -> Answer<Result<String, String>> {
    let last: i64 =
        shop_counter::table.find(shop.id).select(shop_counter::change_no).first(conn)?;
    let noted: Option<i64> = record_change::table
        .filter(record_change::shop_id.eq(shop.id))
        .select(diesel::dsl::max(record_change::change_no))
        .first(conn)?;
    Ok(match noted.filter(|noted| *noted > last) {
        None => Ok(format!("changes: {last} numbers given, the last noted {}", noted.unwrap_or(0))),
        Some(above) => Err(format!("changes: {above} is noted, and only {last} were given")),
    })
}

/// The digits that an order number ends in.
fn ending(order_no: &str) -> Option<i64> {
    let head = order_no.trim_end_matches(|c: char| c.is_ascii_digit());
    order_no.get(head.len()..)?.parse().ok()
}

/// The number that is missing. Numbering goes on above numbers from elsewhere,
/// which may have gaps; so what stands before an own number, and the last
/// number of all, must be there.
fn gap(all: &BTreeSet<i64>, own: &[i64], last: i64) -> Option<i64> {
    let before = own.iter().map(|number| number - 1);
    let needed = before.chain((!own.is_empty()).then_some(last));
    needed.filter(|number| *number > 0).find(|number| !all.contains(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_in_own_numbers_is_found() {
        let all = |numbers: &[i64]| numbers.iter().copied().collect::<BTreeSet<i64>>();
        assert_eq!(gap(&all(&[1, 2, 3]), &[1, 2, 3], 3), None);
        assert_eq!(gap(&all(&[1, 3]), &[1, 3], 3), Some(2));
        assert_eq!(gap(&all(&[1, 2]), &[1, 2], 3), Some(3));
        // From elsewhere came 415 and 417; 418 was given here.
        assert_eq!(gap(&all(&[415, 417, 418]), &[418], 418), None);
        assert_eq!(gap(&all(&[415, 417, 419]), &[419], 419), Some(418));
        assert_eq!(gap(&all(&[]), &[], 0), None);
    }
}
