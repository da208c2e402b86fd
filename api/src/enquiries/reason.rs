//! One reason for a comeback and the enquiry into it: whichever is changed, the
//! other follows in the same write.

use analytics::words::LinkState;

use super::model::{self, of_comeback};
use crate::codes::change::ATTRIBUTIONS;
use crate::codes::model as codes;
use crate::comebacks::decide::{self, Decision};
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::db::Answer;
use crate::domain::ids::ComebackId;
use crate::domain::refusal::Refusal;
use crate::shops::write::ShopWrite;

const LIST: &str = "comeback_reason";

/// What is no comeback needs no enquiry.
pub(super) fn refuse_rejected(comeback: &Comeback) -> Answer<()> {
    if comeback.state.0 != LinkState::Rejected {
        return Ok(());
    }
    Err(Refusal::Conflict("it is rejected as a comeback: decide that again first".into()).into())
}

/// Looks a reason up; one that stands stays.
pub(super) fn usable(
    write: &mut ShopWrite<'_>,
    field: &str,
    code: Option<&str>,
    stands: Option<&str>,
) -> Answer<()> {
    match code {
        Some(code) if stands != Some(code) => {
            codes::usable(write.conn, write.shop.id, LIST, field, code).map(|_| ())
        }
        _ => Ok(()),
    }
}

/// What the reason is put down to: as given, else as the shop's list has it.
pub(super) fn attribution(
    write: &mut ShopWrite<'_>,
    reason: Option<&str>,
    given: Option<&str>,
) -> Answer<Option<String>> {
    if let Some(word) = given.map(str::trim).filter(|word| !word.is_empty()) {
        if ATTRIBUTIONS.contains(&word) {
            return Ok(Some(word.to_owned()));
        }
        let detail = format!("choose one of: {}", ATTRIBUTIONS.join(", "));
        return Err(Refusal::field("attribution", "word", detail).into());
    }
    let Some(reason) = reason else { return Ok(None) };
    let now = codes::meant(write.conn, write.shop.id, LIST, reason)?;
    Ok(codes::find(write.conn, write.shop.id, LIST, &now)?.and_then(|entry| entry.kind))
}

/// Decides the comeback by the reason that the enquiry came to.
pub(super) fn decide(
    write: &mut ShopWrite<'_>,
    comeback: &Comeback,
    reason: Option<&str>,
) -> Answer<()> {
    let Some(reason) = reason else { return Ok(()) };
    let confirmed = comeback.state.0 == LinkState::Confirmed;
    if confirmed && comeback.reason.as_deref() == Some(reason) {
        return Ok(());
    }
    let decision = Decision {
        confirm: true,
        reason: reason.to_owned(),
        note: None,
        part_returned: parts_kept(write, comeback)?,
    };
    decide::decide(write, &comeback.id, comeback.version, &decision).map(|_| ())
}

/// Another reason is no other decision on the parts that came back with it.
fn parts_kept(write: &mut ShopWrite<'_>, comeback: &Comeback) -> Answer<Option<bool>> {
    if comeback.state.0 != LinkState::Confirmed {
        return Ok(None);
    }
    let (earlier, later) = (&comeback.earlier_job_id, &comeback.later_job_id);
    let parts = comebacks::returned_parts(write.conn, write.shop.id, earlier, later)?;
    Ok(parts.first().map(|part| part.state.0 == LinkState::Confirmed))
}

/// The enquiry takes the reason that the comeback was decided on, or that was
/// taken back, and what that is put down to.
///
/// # Errors
/// Where the database does not answer.
pub fn follow(write: &mut ShopWrite<'_>, id: &ComebackId, reason: Option<&str>) -> Answer<()> {
    let Some(before) = of_comeback(write.conn, write.shop.id, id)? else { return Ok(()) };
    if before.reason.as_deref() == reason {
        return Ok(());
    }
    let of = comebacks::by_id(write.conn, write.shop.id, id)?;
    let mut row = before.clone();
    row.reason = reason.map(str::to_owned);
    row.attribution = attribution(write, reason, None)?;
    if row.contributing == row.reason {
        row.contributing = None;
    }
    model::save(write, &mut row)?;
    write.note(&row.about(&of), "changed", Some(&before), Some(&row))
}
