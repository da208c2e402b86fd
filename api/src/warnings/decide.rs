//! Whether a group may be silenced.

use analytics::warning::WarningKind;
use chrono::NaiveDate;

use crate::domain::day;
use crate::domain::refusal::FieldFault;

/// Characters that a group's key may have.
const LONGEST_KEY: usize = 400;

/// Decides.
///
/// # Errors
/// What is wrong, field by field.
pub fn decide(
    kind: &str,
    group_key: &str,
    until_on: Option<NaiveDate>,
    today: NaiveDate,
) -> Result<WarningKind, Vec<FieldFault>> {
    let mut faults = Vec::new();
    let known = WarningKind::parse(kind);
    if known.is_none() {
        let words: Vec<&str> = WarningKind::ALL.iter().map(|kind| kind.as_str()).collect();
        let detail = format!("choose one of: {}", words.join(", "));
        faults.push(FieldFault::new("kind", "word", detail));
    }
    let fits = known.is_none_or(|known| known.takes(group_key));
    if !fits || group_key.chars().count() > LONGEST_KEY {
        faults.push(FieldFault::new("group_key", "value", "write the key as the warning has it"));
    }
    if let Some(until) = until_on {
        faults.extend(day::known("until_on", until).err());
        if until < today {
            let detail = format!("write a day from {today} on, or leave it out");
            faults.push(FieldFault::new("until_on", "range", detail));
        }
    }
    match known {
        Some(kind) if faults.is_empty() => Ok(kind),
        _ => Err(faults),
    }
}

/// Whether a silence that was not ended still holds on a day.
#[must_use]
pub fn holds(until_on: Option<NaiveDate>, today: NaiveDate) -> bool {
    until_on.is_none_or(|until| until >= today)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn day(n: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, n).unwrap()
    }

    #[test]
    fn a_key_fits_its_kind_and_no_day_is_past() {
        let at = |kind, key, until| decide(kind, key, until, day(5));
        assert_eq!(at("lot", "supplier=Quarry%20Lane&lot=Q17", None), Ok(WarningKind::Lot));
        assert_eq!(at("model", "model=Surf", Some(day(5))), Ok(WarningKind::Model));
        for (kind, key, until, pointer) in [
            ("color", "color=red", None, "/kind"),
            ("lot", "lot=Q17&supplier=Quarry", None, "/group_key"),
            ("lot", "lot=Q17", None, "/group_key"),
            ("model", "model=%zz", None, "/group_key"),
            ("model", "model=Surf", Some(day(4)), "/until_on"),
            ("model", "model=Surf", Some(NaiveDate::MAX), "/until_on"),
        ] {
            let faults = at(kind, key, until).unwrap_err();
            assert_eq!(faults.first().unwrap().pointer, pointer, "{key}");
        }
        let long = format!("model={}", "a".repeat(LONGEST_KEY));
        assert!(at("model", &long, None).is_err());
    }

    #[test]
    fn the_last_day_is_part_of_it() {
        assert!(holds(None, day(9)) && holds(Some(day(9)), day(9)));
        assert!(!holds(Some(day(8)), day(9)));
    }
}
