//! How often a part was cleaned before, and what a further cleaning owes. A
//! part that was replaced since is another part.

use analytics::words::Disposition;
use chrono::NaiveDate;

use crate::domain::refusal::FieldFault;

/// A part of the vehicle on an earlier job, in order of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Treated {
    /// Part number, else name.
    pub part: String,
    pub position: Option<String>,
    pub disposition: Disposition,
    pub on: NaiveDate,
    pub order_no: String,
}

/// Earlier cleanings of one part.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Before {
    pub times: u32,
    /// Day and order of the latest.
    pub last: Option<(NaiveDate, String)>,
}

/// The cleanings of a part since it was last replaced.
#[must_use]
pub fn before(part: &str, position: Option<&str>, earlier: &[Treated]) -> Before {
    let same = |row: &&Treated| row.part == part && row.position.as_deref() == position;
    earlier.iter().filter(same).fold(Before::default(), |seen, row| {
        if row.disposition == Disposition::CleanedReused {
            Before { times: seen.times + 1, last: Some((row.on, row.order_no.clone())) }
        } else if row.disposition.is_replaced() {
            Before::default()
        } else {
            seen
        }
    })
}

/// What is missing where a part is cleaned and put back again.
#[must_use]
pub fn owed(disposition: Disposition, reason: Option<&str>, before: &Before) -> Option<FieldFault> {
    let (on, order_no) = before.last.as_ref()?;
    if disposition != Disposition::CleanedReused || reason.is_some() {
        return None;
    }
    let times = match before.times {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        more => format!("{more} times"),
    };
    Some(FieldFault::new(
        "again_reason",
        "required",
        format!(
            "this part was cleaned and put back {times} before, last on {on} (order {order_no}): \
             replace it, or say why it is cleaned again"
        ),
    ))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn treated(day: u32, position: &str, disposition: Disposition) -> Treated {
        Treated {
            part: "IAV-100".into(),
            position: Some(position.into()),
            disposition,
            on: NaiveDate::from_ymd_opt(2026, 3, day).unwrap(),
            order_no: format!("10{day:02}"),
        }
    }

    #[test]
    fn cleanings_add_up_at_one_position() {
        let cleaned = Disposition::CleanedReused;
        let earlier = [
            treated(1, "bank 1", cleaned),
            treated(4, "bank 2", cleaned),
            treated(9, "bank 1", cleaned),
            treated(11, "bank 1", Disposition::RemovedRefitted),
        ];
        let seen = before("IAV-100", Some("bank 1"), &earlier);
        assert_eq!(seen.times, 2);
        let fault = owed(cleaned, None, &seen).unwrap();
        assert_eq!(fault.pointer, "/again_reason");
        assert!(fault.detail.contains("twice before, last on 2026-03-09 (order 1009)"));
        assert_eq!(before("IAV-100", None, &earlier), Before::default());
    }

    #[test]
    fn a_new_part_begins_anew() {
        let earlier = [
            treated(1, "bank 1", Disposition::CleanedReused),
            treated(2, "bank 1", Disposition::ReplacedNew),
        ];
        assert_eq!(before("IAV-100", Some("bank 1"), &earlier), Before::default());
    }

    #[test]
    fn a_reason_or_a_replacement_owes_nothing() {
        let earlier = [treated(1, "bank 1", Disposition::CleanedReused)];
        let seen = before("IAV-100", Some("bank 1"), &earlier);
        assert!(owed(Disposition::CleanedReused, Some("part is on back order"), &seen).is_none());
        assert!(owed(Disposition::ReplacedNew, None, &seen).is_none());
        assert!(owed(Disposition::CleanedReused, None, &Before::default()).is_none());
    }
}
