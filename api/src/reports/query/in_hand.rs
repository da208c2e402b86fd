//! What is asked of a part in hand.

use analytics::history::Reading;
use analytics::reuse::{AdviceQuery, HandReading, HeldRole, InHandQuery};
use analytics::words::Serviceable;

use super::{Faults, MOST_MINUTES, ReportName, ReportQuery, Resolved};
use crate::domain::decimal::parse_scaled;
use crate::domain::money::Currency;

/// Beside what is asked of a part for the clean-or-replace advice.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct HandAsked {
    serviceable: Option<Serviceable>,
    assembly_cost_minor: Option<i64>,
    rebuilt_cost_minor: Option<i64>,
    return_extra_minor: Option<i64>,
    reading: Option<Reading>,
    unit: Option<String>,
    pub access_minutes: Option<i64>,
}

pub(super) fn asked(
    faults: &mut Faults,
    name: ReportName,
    query: &ReportQuery,
    money: &Currency,
) -> HandAsked {
    if name != ReportName::Estimate {
        return HandAsked::default();
    }
    if query.part.is_none() {
        faults.add("part", "required", "name the part in hand");
    }
    let held = ["suspect", "bystander"];
    if query.role.as_deref().is_none_or(|role| !held.contains(&role)) {
        faults.add("role", "required", "choose one of suspect, bystander");
    }
    if query.access_hours.is_some() && query.access_minutes.is_some() {
        faults.add("access_hours", "value", "write hours or minutes, not both");
    }
    let mut amount = |field: &str, text: Option<&str>| {
        let parse = |text: &str| money.parse_amount(text).ok().filter(|minor| *minor >= 0);
        faults
            .read(field, text, parse, || format!("write an amount in {} such as 12", money.code()))
    };
    let (assembly_cost_minor, rebuilt_cost_minor, return_extra_minor) = (
        amount("assembly_cost", query.assembly_cost.as_deref()),
        amount("rebuilt_cost", query.rebuilt_cost.as_deref()),
        amount("return_extra", query.return_extra.as_deref()),
    );
    HandAsked {
        serviceable: faults.read(
            "serviceable",
            query.serviceable.as_deref(),
            Serviceable::parse,
            || format!("choose one of {}", Serviceable::WORDS.join(", ")),
        ),
        assembly_cost_minor,
        rebuilt_cost_minor,
        return_extra_minor,
        reading: faults.read("reading", query.reading.as_deref(), Reading::parse, || {
            "write a number such as 12.4".to_owned()
        }),
        unit: query.unit.clone().filter(|unit| !unit.is_empty()),
        access_minutes: faults.read(
            "access_hours",
            query.access_hours.as_deref(),
            minutes_of_hours,
            || "write hours such as 1.5".to_owned(),
        ),
    }
}

/// Whole minutes of hours to two decimals.
fn minutes_of_hours(text: &str) -> Option<i64> {
    let hundredths = parse_scaled(text, 2).ok()?;
    let minutes = (hundredths.checked_mul(60)? + 50).div_euclid(100);
    (0..=MOST_MINUTES).contains(&minutes).then_some(minutes)
}

impl Resolved {
    /// The question about the part in hand.
    pub(super) fn in_hand(&self) -> InHandQuery {
        let (part, hand) = (&self.part, &self.hand);
        let mut overrides = part.overrides;
        overrides.access_minutes = hand.access_minutes.or(overrides.access_minutes);
        InHandQuery {
            about: AdviceQuery {
                part: part.part.clone().unwrap_or_default(),
                // Resolving refuses a query without one of the two roles.
                role: part.role.and_then(HeldRole::of).unwrap_or(HeldRole::Suspect),
                cause_curable: part.curable,
                bench_tested: part.tested.or(hand.reading.map(|_| true)),
                as_of: self.figures.as_of,
                window_days: self.figures.window_days,
                overrides,
            },
            serviceable: hand.serviceable,
            assembly_cost_minor: hand.assembly_cost_minor,
            rebuilt_cost_minor: hand.rebuilt_cost_minor,
            return_extra_minor: hand.return_extra_minor,
            reading: hand.reading.map(|reading| HandReading {
                value: reading.value(),
                unit: hand.unit.clone(),
                better: self.better,
            }),
        }
    }

    /// Whether something is told of the part, which may then be new to the shop.
    pub(super) fn tells_of_the_hand(&self) -> bool {
        self.hand != HandAsked::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_whole_minutes() {
        for (text, minutes) in [("1.5", 90), ("0.25", 15), ("0", 0), ("4", 240), ("0.33", 20)] {
            assert_eq!(minutes_of_hours(text), Some(minutes), "{text}");
        }
        for text in ["", "-1", "1.333", "an hour", "99999999"] {
            assert_eq!(minutes_of_hours(text), None, "{text}");
        }
    }
}
