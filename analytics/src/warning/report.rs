//! The warnings of a week, each with its evidence and its jobs.

use std::collections::HashSet;

use chrono::NaiveDate;
use serde::Serialize;

use super::group::{Group, QUESTIONS, WarningKind};
use super::scan::{ALIKE_DAYS, Days, GROUP_DAYS, LIMIT, Planned, Scan, Scanned, Tested};
use crate::figure::{Head, Query};
use crate::follow::{Period, date_of, day_number, head};
use crate::history::History;

/// Groups shown beside those that are warned of.
const NEXT: usize = 5;

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "warnings",
        "Repaired complaints closed in the 26 weeks up to the week's end that have something in \
         common: a supplier's lot, a part from one supplier, a model, a model of one year, an \
         engine, an operation, a usual check of the symptom not made, or somebody whose first job \
         here is half a year old at most (first repairs, by who answers). At least ten of them, \
         ten like them outside the group, and three returns inside the window so far.",
    ),
    (
        "expected",
        "Returns that the group would have had by now if each first return of the last 52 weeks' \
         jobs alike (of the same symptom; of suppliers and lots: with the same part) had fallen by \
         chance on one of those that had been out as long. How hard the jobs were and how long \
         they have been out is taken into account.",
    ),
    ("p", "Chance of so many returns or more, dealt out so: the exact log-rank test on one side."),
    (
        "q",
        "p times the groups looked at for the same question (lots; suppliers; vehicles; operations; \
         skipped checks; new people) times the six questions. Under 3% the group is warned of. Together \
         with the weekly review, fewer than 5% of the weeks of simulated shops in which nothing \
         changes raise anything.",
    ),
    (
        "usual_check",
        "A check of the shop's plan for the symptom, or one that at least half of its jobs had, of \
         those whose checks were noted as they were made. Jobs without it differ in other ways, too: a comparison, no trial.",
    ),
    (
        "people",
        "A warning about a new technician is a reason to look at the job mix and to support, never \
         a finding about a person. A trainee's jobs stand with the supervisor.",
    ),
];

/// What the scan is asked for. Days are shop-local.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WarningsQuery {
    /// End of this day: today's record, cut here.
    pub as_of: NaiveDate,
    /// First day of the week looked at.
    pub week_from: NaiveDate,
    /// Comeback window in days; the shop's own where absent.
    pub window_days: Option<i32>,
    /// Checks of the shop's plans, by symptom.
    pub planned: Planned,
}

/// How a group stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum WarningState {
    /// Not warned of at the end of the week before.
    #[serde(rename = "new")]
    New,
    #[serde(rename = "still standing")]
    Standing,
    #[serde(rename = "no evidence")]
    NoEvidence,
}

impl WarningState {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Standing => "still standing",
            Self::NoEvidence => "no evidence",
        }
    }
}

/// Why a group is not warned of for now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WarningSilenced {
    /// Id of the silence.
    pub id: String,
    pub reason: String,
    /// The last day of it; for good where absent.
    pub until_on: Option<NaiveDate>,
}

/// A group, and what it stands on.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Warning {
    pub kind: WarningKind,
    /// What names the group, whatever the week: what it is silenced by.
    pub group_key: String,
    /// The values that name it, in the order of the key.
    pub group: Vec<String>,
    pub state: WarningState,
    /// Jobs of the group, and those of them that came back so far.
    pub count: i64,
    pub returns: i64,
    pub expected: f64,
    pub p: f64,
    /// Groups looked at for the same question.
    pub looked_at: i64,
    pub q: f64,
    /// In a sentence.
    pub evidence: String,
    /// Absent where nobody has silenced it.
    pub silenced: Option<WarningSilenced>,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    /// Selects the jobs of the group, and those that came back.
    pub jobs: String,
    pub returned_jobs: String,
}

/// The scan of one week.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WarningsReport {
    pub head: Head,
    pub week_from: NaiveDate,
    pub week_to: NaiveDate,
    /// The as-of lies inside the week: it is not over.
    pub partial: bool,
    /// Fewer than 13 weeks of record before the week, or it has not begun.
    pub not_yet: bool,
    /// Groups with jobs enough, and groups without.
    pub looked_at: i64,
    pub too_few: i64,
    /// The groups warned of, the least likely first.
    pub warnings: Vec<Warning>,
    /// The next ones, of which nothing is to be said.
    pub next: Vec<Warning>,
}

/// The groups of the week that came back too often.
#[must_use]
pub fn warnings(history: &History, query: &WarningsQuery) -> WarningsReport {
    let days = days_of(query.as_of, query.week_from);
    // The week before looks back as far as this one, from its own end.
    let looked_at = (days.from.saturating_sub(ALIKE_DAYS), days.to);
    let scan = Scan::between_days(history, query.window_days, &query.planned, looked_at);
    let scanned = scan.scanned(days);
    let before: HashSet<(WarningKind, String)> = scan
        .scanned(Days { from: days.from.saturating_sub(7), to: days.from.saturating_sub(1) })
        .warned_of()
        .map(|one| (one.group.kind, one.group.key()))
        .collect();
    let state = |one: &Tested<'_>| match (one.q < LIMIT, one.group) {
        (false, _) => WarningState::NoEvidence,
        (true, group) if before.contains(&(group.kind, group.key())) => WarningState::Standing,
        (true, _) => WarningState::New,
    };
    let (warned, next): (Vec<Warning>, Vec<Warning>) = scanned
        .tested
        .iter()
        .map(|one| scan.warning(one, state(one), days))
        .partition(|warning| warning.state != WarningState::NoEvidence);
    let week_to = date_of(days.to);
    let asked = Query {
        as_of: query.as_of,
        from: Some(query.week_from),
        to: Some(week_to),
        window_days: query.window_days,
        by: None,
    };
    WarningsReport {
        head: head("warnings", history.facts(), history.change_no(), &asked, DEFINITIONS),
        week_from: query.week_from,
        week_to,
        partial: days.to < days.from.saturating_add(6),
        not_yet: !scanned.known,
        looked_at: scanned.looked_at,
        too_few: scanned.too_few,
        warnings: warned,
        next: next.into_iter().take(NEXT).collect(),
    }
}

/// The chance of every group with three returns or more, adjusted for all that
/// were looked at, with its kind and key; the least likely first. What is below
/// [`LIMIT`] is warned of.
#[must_use]
pub fn chances(
    scan: &Scan<'_>,
    as_of: NaiveDate,
    week_from: NaiveDate,
) -> Vec<(WarningKind, String, f64)> {
    let tested = scan.scanned(days_of(as_of, week_from)).tested;
    tested.iter().map(|one| (one.group.kind, one.group.key(), one.q)).collect()
}

fn days_of(as_of: NaiveDate, week_from: NaiveDate) -> Days {
    let from = day_number(week_from);
    Days { from, to: from.saturating_add(6).min(day_number(as_of)) }
}

impl Scanned<'_> {
    fn warned_of(&self) -> impl Iterator<Item = &Tested<'_>> {
        self.tested.iter().take_while(|one| one.q < LIMIT)
    }
}

impl Scan<'_> {
    fn warning(&self, one: &Tested<'_>, state: WarningState, days: Days) -> Warning {
        let group = one.group;
        let jobs = self.selector(group, days);
        Warning {
            kind: group.kind,
            group_key: group.key(),
            group: named(group),
            state,
            count: one.jobs,
            returns: one.returns,
            expected: one.expected,
            p: one.p,
            looked_at: one.looked_at,
            q: one.q,
            evidence: evidence(one),
            silenced: None,
            definition: "warnings",
            returned_jobs: format!("{jobs}&returned=true"),
            jobs,
        }
    }

    fn selector(&self, group: &Group, days: Days) -> String {
        let linked = self.history.facts().links_from.map_or(i32::MIN, day_number);
        let first = days.to.saturating_sub(GROUP_DAYS - 1).max(linked);
        let period = Period { first, last: days.to, as_of: days.to, window: self.window };
        let own = group.pairs.iter().map(|(key, value)| (*key, value.as_str()));
        let pairs: Vec<(&str, &str)> =
            [("kind", "complaint"), ("outcome", "repaired")].into_iter().chain(own).collect();
        period.selector(&pairs)
    }
}

/// The values that name a group; not those every group of its kind has.
fn named(group: &Group) -> Vec<String> {
    let pairs = group.pairs.iter().filter(|(key, _)| *key != "first_repair");
    pairs.map(|(_, value)| value.clone()).collect()
}

fn evidence(one: &Tested<'_>) -> String {
    format!(
        "{} of {} came back so far, {:.1} expected; chance alone does this in {} of such groups. \
         {} {} looked at for this question, one of {}: that chance makes any group of them all look \
         so is at most {} likely, and what is under {:.0}% is warned of",
        one.returns,
        one.jobs,
        one.expected,
        percent(one.p),
        one.looked_at,
        if one.looked_at == 1 { "group was" } else { "groups were" },
        QUESTIONS.len(),
        percent(one.q),
        LIMIT * 100.0,
    )
}

/// In percent, to two figures; what is smaller than any use is only bounded.
fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent >= 9.95 {
        format!("{percent:.0}%")
    } else if percent >= 0.95 {
        format!("{percent:.1}%")
    } else if percent >= 0.01 {
        format!("{percent:.2}%")
    } else {
        "under 0.01%".to_owned()
    }
}
