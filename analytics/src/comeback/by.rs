//! The columns that comebacks are grouped by.

use serde::Serialize;

use super::answers::answering;
use crate::follow::date_of;
use crate::history::{History, NONE};

/// A column of jobs, or of the parts used on them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", schema(as = ComebackColumn))]
pub enum By {
    Symptom,
    System,
    /// The cause as it stands, confirmed or suspected: a comeback turns the
    /// earlier job's cause back to suspected, and a share of confirmed causes
    /// alone would lose its own returns.
    Cause,
    /// Who answers for the first job of the chain (who led it, or a trainee's
    /// supervisor), never who mended the comeback.
    Technician,
    Vehicle,
    Model,
    Engine,
    /// Jobs on which the part was used, whatever was done with it.
    Part,
    Supplier,
    Lot,
    /// The week of closing, by its first day.
    Week,
}

impl By {
    /// Every column, in the order in which they are listed.
    pub const ALL: [Self; 11] = [
        Self::Symptom,
        Self::System,
        Self::Cause,
        Self::Technician,
        Self::Vehicle,
        Self::Model,
        Self::Engine,
        Self::Part,
        Self::Supplier,
        Self::Lot,
        Self::Week,
    ];

    /// The word, as in queries and selectors.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Symptom => "symptom",
            Self::System => "system",
            Self::Cause => "cause",
            Self::Technician => "technician",
            Self::Vehicle => "vehicle",
            Self::Model => "model",
            Self::Engine => "engine",
            Self::Part => "part",
            Self::Supplier => "supplier",
            Self::Lot => "lot",
            Self::Week => "week",
        }
    }

    /// The key under which a selector knows the column's groups.
    #[must_use]
    pub(crate) const fn selector_key(self) -> &'static str {
        match self {
            Self::Technician => "answers",
            other => other.as_str(),
        }
    }

    /// The column of a word; `None` where there is no such column.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|by| by.as_str() == text)
    }

    /// Whether a job may stand in several groups.
    pub(super) const fn overlaps(self) -> bool {
        matches!(self, Self::Part | Self::Supplier | Self::Lot)
    }

    /// Every job row with the code of its group: texts by their code
    /// ([`NONE`] where absent), weeks by their first day. A job has several
    /// rows where it used several parts, but one for each group.
    pub(crate) fn groups(self, history: &History) -> Vec<(u32, i64)> {
        let jobs = history.jobs();
        let texts = |column: &[u32]| (0_u32..).zip(column.iter().copied().map(i64::from)).collect();
        let parts = history.parts();
        match self {
            Self::Symptom => texts(jobs.symptom),
            Self::System => texts(jobs.system),
            Self::Cause => texts(jobs.cause),
            Self::Technician => texts(answering(history)),
            Self::Vehicle => texts(jobs.vehicle),
            Self::Model => texts(jobs.model),
            Self::Engine => texts(jobs.engine),
            Self::Part => of_parts(parts.job, parts.part),
            Self::Supplier => of_parts(parts.job, parts.supplier),
            Self::Lot => of_parts(parts.job, parts.lot),
            Self::Week => {
                let first = history.facts().week_start;
                let days = jobs.closed_day.iter();
                (0_u32..).zip(days.map(|day| i64::from(week_start_of(*day, first)))).collect()
            }
        }
    }

    /// What a group is called; `None` where the column has no value.
    pub(crate) fn label(self, history: &History, group: i64) -> Option<String> {
        if self == Self::Week {
            return i32::try_from(group).ok().map(|day| date_of(day).to_string());
        }
        let code = u32::try_from(group).ok()?;
        history.text(code).map(str::to_owned)
    }
}

fn of_parts(job: &[u32], column: &[u32]) -> Vec<(u32, i64)> {
    let mut groups: Vec<(u32, i64)> = job
        .iter()
        .zip(column)
        .filter(|(_, code)| **code != NONE)
        .map(|(job, code)| (*job, i64::from(*code)))
        .collect();
    groups.sort_unstable();
    groups.dedup();
    groups
}

/// The rows of each group, as they come; groups in ascending order. Codes and days
/// lie close together: a place for each costs less than sorting.
pub(crate) fn by_group(rows: &[(u32, i64)]) -> Vec<(i64, Vec<u32>)> {
    let nothing = i64::from(NONE);
    let named = || rows.iter().map(|(_, group)| *group).filter(|group| *group != nothing);
    let (first, last) = (named().min().unwrap_or(0), named().max().unwrap_or(-1));
    let places = usize::try_from(last - first + 1).unwrap_or(0);
    let mut found: Vec<Vec<u32>> = vec![Vec::new(); places + 1];
    for (row, group) in rows {
        let place =
            if *group == nothing { Some(places) } else { usize::try_from(*group - first).ok() };
        if let Some(rows) = place.and_then(|place| found.get_mut(place)) {
            rows.push(*row);
        }
    }
    let groups = (first..=last).chain([nothing]).zip(found);
    groups.filter(|(_, rows)| !rows.is_empty()).collect()
}

/// The first day of the week that holds a day. Weeks start on `first`
/// (1 = Monday ... 7 = Sunday); days count from 1970-01-01, a Thursday.
pub(crate) fn week_start_of(day: i32, first: u8) -> i32 {
    let monday_is_zero = day.wrapping_add(3).rem_euclid(7);
    let into_week = (monday_is_zero - (i32::from(first) - 1)).rem_euclid(7);
    day.saturating_sub(into_week)
}

#[cfg(test)]
mod tests {
    use chrono::{Datelike, Weekday};

    use super::*;

    proptest::proptest! {
        /// Held against chrono's own calendar.
        #[test]
        fn weeks_start_on_their_day(day in -40_000_i32..40_000, first in 1_u8..=7) {
            let start = week_start_of(day, first);
            proptest::prop_assert!((start..start + 7).contains(&day));
            let weekday = Weekday::try_from(first - 1).unwrap();
            proptest::prop_assert_eq!(date_of(start).weekday(), weekday);
        }
    }

    proptest::proptest! {
        /// Held against sorting.
        #[test]
        fn groups_have_all_their_rows(
            codes in proptest::collection::vec(proptest::option::of(-4_i64..9), 0..40),
        ) {
            let code = |code: Option<i64>| code.unwrap_or(i64::from(NONE));
            let rows: Vec<(u32, i64)> = (0_u32..).zip(codes.into_iter().map(code)).collect();
            let mut sorted: Vec<(i64, u32)> = rows.iter().map(|(row, code)| (*code, *row)).collect();
            sorted.sort_unstable();
            let found = by_group(&rows);
            let found: Vec<(i64, u32)> = found
                .into_iter()
                .flat_map(|(code, rows)| rows.into_iter().map(move |row| (code, row)))
                .collect();
            proptest::prop_assert_eq!(found, sorted);
        }
    }

    #[test]
    fn every_word_leads_back_to_its_column() {
        for by in By::ALL {
            assert_eq!(By::parse(by.as_str()), Some(by));
        }
        assert_eq!(By::parse("color"), None);
    }
}
