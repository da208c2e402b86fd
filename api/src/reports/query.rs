//! What a report is asked for: the words of a query, resolved against the
//! shop's days.

mod days;
mod group;
mod in_hand;
mod known;
mod money;
mod run;

use analytics::bench::Better;
use analytics::comeback;
use analytics::compare;
use analytics::figure::Query;
use analytics::labor;
use analytics::path::order::MAX_CHECKS;
use analytics::repeats;
use analytics::reuse::Overrides;
use analytics::select::Selector;
use analytics::warning::Planned;
use analytics::words::{Curable, PartRole};
use chrono::{Duration, NaiveDate};
use serde::Deserialize;

pub use group::{cut_at, labor_of_shops};
pub use known::Known;
pub use run::{JobsReport, Report, answer, permitted};

use crate::domain::clock::UtcStamp;
use crate::domain::money::Currency;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::model::Shop;
use days::{as_of, begun, last_complete_week, parse_date, period, week};
use in_hand::HandAsked;

/// No share is shown past this many days.
const LONGEST_WINDOW: i32 = 400;
/// Minutes that holding a vehicle back may take, as the page offers them: few enough
/// to tell next to nothing of a cost.
pub const HOLD_MINUTES: [&str; 4] = ["15", "30", "60", "120"];
/// Minutes that one entry of a part may have, as in the record.
const MOST_MINUTES: i64 = 100_000;

/// The reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReportName {
    Weekly,
    Comebacks,
    Reuse,
    Paths,
    Labor,
    Compare,
    Checks,
    Repeats,
    Pattern,
    Bench,
    HandOver,
    Effect,
    Warnings,
    Estimate,
    Jobs,
}

impl ReportName {
    /// Every report, in the order in which they are listed.
    pub const ALL: [Self; 15] = [
        Self::Weekly,
        Self::Comebacks,
        Self::Compare,
        Self::Reuse,
        Self::Bench,
        Self::HandOver,
        Self::Pattern,
        Self::Repeats,
        Self::Paths,
        Self::Checks,
        Self::Effect,
        Self::Warnings,
        Self::Estimate,
        Self::Labor,
        Self::Jobs,
    ];

    /// The word, as in addresses and on the command line.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Weekly => "weekly",
            Self::Comebacks => "comebacks",
            Self::Reuse => "reuse",
            Self::Paths => "paths",
            Self::Labor => "labor",
            Self::Compare => "compare",
            Self::Checks => "checks",
            Self::Repeats => "repeats",
            Self::Pattern => "pattern",
            Self::Bench => "bench",
            Self::HandOver => "hand-over",
            Self::Effect => "effect",
            Self::Warnings => "warnings",
            Self::Estimate => "estimate",
            Self::Jobs => "jobs",
        }
    }

    /// The report of a word; `None` where there is no such report.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|name| name.as_str() == text)
    }

    /// The parameters it takes beside `as_of` and `window`.
    const fn takes(self) -> &'static [&'static str] {
        match self {
            Self::Weekly | Self::Warnings => &["week"],
            Self::Estimate => &[
                "part",
                "role",
                "serviceable",
                "curable",
                "tested",
                "reading",
                "unit",
                "better",
                "access_hours",
                "access_minutes",
                "clean_minutes",
                "fit_minutes",
                "part_cost",
                "assembly_cost",
                "rebuilt_cost",
                "return_extra",
            ],
            Self::Comebacks | Self::Compare | Self::Labor => &["week", "from", "to", "by"],
            Self::Repeats => &["from", "to", "by"],
            Self::Pattern => &["from", "to", "part", "role"],
            Self::Bench => &["from", "to", "part", "role", "better"],
            Self::Effect => &["rule", "select", "start", "review", "kept", "not_known"],
            Self::HandOver => &["from", "to", "line", "better", "hold_minutes"],
            Self::Reuse => &[
                "week",
                "from",
                "to",
                "part",
                "role",
                "curable",
                "tested",
                "access_minutes",
                "clean_minutes",
                "fit_minutes",
                "part_cost",
            ],
            Self::Paths => &["week", "from", "to", "symptom"],
            Self::Checks => &["week", "from", "to", "symptom", "first"],
            Self::Jobs => &["select"],
        }
    }

    /// The columns that `by` takes, the usual one first.
    fn columns(self) -> Vec<&'static str> {
        match self {
            Self::Comebacks => comeback::By::ALL.iter().map(|by| by.as_str()).collect(),
            Self::Labor => labor::By::WORDS.to_vec(),
            Self::Compare => compare::COLUMNS.map(comeback::By::as_str).to_vec(),
            Self::Repeats => repeats::By::WORDS.to_vec(),
            Self::Weekly
            | Self::Reuse
            | Self::Paths
            | Self::Checks
            | Self::Pattern
            | Self::Bench
            | Self::HandOver
            | Self::Effect
            | Self::Warnings
            | Self::Estimate
            | Self::Jobs => Vec::new(),
        }
    }
}

/// What a report is asked for, in words. Days are shop-local and included.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReportQuery {
    /// A week such as `2026-W41`. The weekly review takes the last complete one
    /// where it is absent; other reports look at every day.
    pub week: Option<String>,
    /// First closing day, such as `2026-01-01`.
    pub from: Option<String>,
    /// Last closing day.
    pub to: Option<String>,
    /// End of this day: today's record, cut here. The last complete day where
    /// absent.
    pub as_of: Option<String>,
    /// Comeback window in days, at most 400; the shop's where absent.
    pub window: Option<String>,
    /// The column to group by: comebacks by symptom, labor by technician where
    /// absent.
    pub by: Option<String>,
    /// Paths, and orders of checks, of this symptom only.
    pub symptom: Option<String>,
    /// Checks that come first in any order, whatever they find, in this order, such
    /// as `visual-under-hood,read-codes`; none where it is empty. Where absent: the
    /// free looks that the shop does on at least half of the symptom's jobs.
    pub first: Option<String>,
    /// Part number, else name: advice on this part, or its line alone.
    pub part: Option<String>,
    /// What the part was held as: suspect, bystander, damaged, wish.
    pub role: Option<String>,
    /// Whether cleaning cures the cause at hand: yes, no, depends.
    pub curable: Option<String>,
    /// Whether the part passed its test after cleaning: true, false.
    pub tested: Option<String>,
    /// Minutes to reach the part and close up again, in place of the record's.
    pub access_minutes: Option<String>,
    /// Minutes to clean the part.
    pub clean_minutes: Option<String>,
    /// Minutes to fit a new part.
    pub fit_minutes: Option<String>,
    /// The part's cost, in the shop's currency.
    pub part_cost: Option<String>,
    /// Key of the line of a list of readings: this one alone.
    pub line: Option<String>,
    /// Minutes that holding one vehicle back before the hand-over takes. Who may not
    /// see costs gives 15, 30, 60 or 120.
    pub hold_minutes: Option<String>,
    /// The part in hand can be had alone, assembly_only, or is not_serviceable.
    pub serviceable: Option<String>,
    /// Hours to reach the part and close up again, in place of the record's.
    pub access_hours: Option<String>,
    /// The cost of the assembly, where the part is sold in one only.
    pub assembly_cost: Option<String>,
    /// The cost of a rebuilt one.
    pub rebuilt_cost: Option<String>,
    /// What a return costs besides labor and part, in place of the shop's own.
    pub return_extra: Option<String>,
    /// What the part in hand reads on the bench, and the unit of it.
    pub reading: Option<String>,
    pub unit: Option<String>,
    /// Which reading is the better one: higher, lower.
    pub better: Option<String>,
    /// First closing day on which the rule stood.
    pub start: Option<String>,
    /// The day of the one verdict on the rule, set once: the effect report needs it.
    pub review: Option<String>,
    /// Which jobs kept the rule, as one encoded query: `first_check=battery.terminals`.
    pub kept: Option<String>,
    /// Of which jobs nobody knows whether they kept the rule, as one encoded
    /// query: they count as neither.
    pub not_known: Option<String>,
    /// Id of a shop rule: it says which jobs, since when, and the day of the
    /// verdict.
    pub rule: Option<String>,
    /// Which jobs to list, or the rule is about, as one encoded query:
    /// `symptom=engine.tick&returned=true`. A rule is about jobs as they were
    /// done: what became of them is refused there.
    pub select: Option<String>,
    /// `json`, `csv`, `ndjson` or `text`.
    pub format: Option<String>,
    /// Which of the report's tables the CSV form has; the first where absent.
    pub table: Option<String>,
}

/// The table of the returns themselves.
pub const RETURNS: &str = "returns";

impl ReportQuery {
    /// The jobs list's query: a selector as figures carry it, and beside its
    /// keys `as_of`, `window`, `format` and `table`, whose values are never in
    /// need of percent-encoding.
    #[must_use]
    pub fn of_jobs(query: &str) -> Self {
        let mut asked = Self::default();
        let mut selector: Vec<&str> = Vec::new();
        for pair in query.split('&').filter(|pair| !pair.is_empty()) {
            let (key, value) = pair.split_once('=').unwrap_or((pair, ""));
            let place = match key {
                "as_of" => &mut asked.as_of,
                "window" => &mut asked.window,
                "format" => &mut asked.format,
                "table" => &mut asked.table,
                _ => {
                    selector.push(pair);
                    continue;
                }
            };
            *place = Some(value.to_owned());
        }
        asked.select = Some(selector.join("&"));
        asked
    }

    /// Whether it only says which days are looked at, and what to group by: no
    /// code, no part and no rule of the record is named.
    #[must_use]
    pub fn is_plain(&self) -> bool {
        self.given().iter().all(|name| ["week", "from", "to", "by"].contains(name))
    }

    /// Parameters that only some reports take, with their names.
    pub(crate) fn given(&self) -> Vec<&'static str> {
        [
            ("week", &self.week),
            ("from", &self.from),
            ("to", &self.to),
            ("by", &self.by),
            ("symptom", &self.symptom),
            ("first", &self.first),
            ("part", &self.part),
            ("role", &self.role),
            ("curable", &self.curable),
            ("tested", &self.tested),
            ("access_minutes", &self.access_minutes),
            ("clean_minutes", &self.clean_minutes),
            ("fit_minutes", &self.fit_minutes),
            ("part_cost", &self.part_cost),
            ("line", &self.line),
            ("hold_minutes", &self.hold_minutes),
            ("serviceable", &self.serviceable),
            ("access_hours", &self.access_hours),
            ("assembly_cost", &self.assembly_cost),
            ("rebuilt_cost", &self.rebuilt_cost),
            ("return_extra", &self.return_extra),
            ("reading", &self.reading),
            ("unit", &self.unit),
            ("better", &self.better),
            ("start", &self.start),
            ("review", &self.review),
            ("kept", &self.kept),
            ("not_known", &self.not_known),
            ("rule", &self.rule),
            ("select", &self.select),
        ]
        .into_iter()
        .filter_map(|(name, value)| value.is_some().then_some(name))
        .collect()
    }
}

/// A query that a report can be made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Resolved {
    figures: Query,
    /// First day of the week looked at.
    week_from: NaiveDate,
    symptom: Option<String>,
    /// Checks that come first; none given: the free looks do.
    first: Option<Vec<String>>,
    part: PartAsked,
    better: Option<Better>,
    hand_over: HandOverAsked,
    hand: HandAsked,
    /// Checks of the shop's plans, by symptom.
    planned: Planned,
    rule: RuleAsked,
    select: Selector,
    /// Whoever names the table of returns wants each of them.
    every_return: bool,
}

/// What is asked of readings before the hand-over.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct HandOverAsked {
    line: Option<String>,
    hold_minutes: Option<i64>,
}

/// What is asked of a rule.
#[derive(Debug, Clone, Default, PartialEq)]
struct RuleAsked {
    start: Option<NaiveDate>,
    review: Option<NaiveDate>,
    /// Of a shop rule that is no more.
    withdrawn: Option<NaiveDate>,
    kept: Option<Selector>,
    not_known: Option<Selector>,
}

/// What is asked of one part.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct PartAsked {
    part: Option<String>,
    role: Option<PartRole>,
    curable: Option<Curable>,
    tested: Option<bool>,
    overrides: Overrides,
}

/// Collects faults, so that all of them are told at once.
#[derive(Default)]
struct Faults(Vec<FieldFault>);

impl Faults {
    fn add(&mut self, field: &str, code: &'static str, detail: impl Into<String>) {
        self.0.push(FieldFault::new(field, code, detail));
    }

    /// The value of a parameter that was given; a fault where it cannot be read.
    fn read<T>(
        &mut self,
        field: &str,
        text: Option<&str>,
        parse: impl FnOnce(&str) -> Option<T>,
        detail: impl FnOnce() -> String,
    ) -> Option<T> {
        let text = text?;
        let value = parse(text);
        if value.is_none() {
            self.add(field, "value", format!("'{text}' cannot be taken: {}", detail()));
        }
        value
    }

    fn date(&mut self, field: &str, text: Option<&str>) -> Option<NaiveDate> {
        self.read(field, text, parse_date, || "write a day such as 2026-10-11".to_owned())
    }

    fn minutes(&mut self, field: &str, text: Option<&str>) -> Option<i64> {
        let parse = |text: &str| text.parse().ok().filter(|m| (0..=MOST_MINUTES).contains(m));
        self.read(field, text, parse, || "write whole minutes".to_owned())
    }
}

/// Reads a query against the shop: its zone, week start and currency, and the
/// day it is there now.
///
/// # Errors
/// Every parameter that cannot be taken, by name.
pub fn resolve(
    name: ReportName,
    query: &ReportQuery,
    shop: &Shop,
    now: UtcStamp,
) -> Result<Resolved, Refusal> {
    let mut faults = Faults::default();
    for given in query.given() {
        if !name.takes().contains(&given) {
            faults.add(
                given,
                "not_taken",
                format!("the {} report takes no {given}", name.as_str()),
            );
        }
    }
    let as_of = as_of(&mut faults, query, shop, now);
    let week = week(&mut faults, query, shop);
    let (from, to) = match (name, week) {
        (ReportName::Weekly | ReportName::Warnings, _) => (None, None),
        (_, Some(first)) => (Some(first), first.checked_add_signed(Duration::days(6))),
        (_, None) => period(&mut faults, query),
    };
    // Without an as-of the running week may be looked at on its first day.
    let last = if query.as_of.is_some() { as_of } else { shop.zone().day(now) };
    begun(&mut faults, (week, from), last);
    let figures = Query {
        as_of,
        from,
        to,
        window_days: window(&mut faults, query),
        by: by(&mut faults, name, query),
    };
    let resolved = Resolved {
        figures,
        week_from: week.unwrap_or_else(|| last_complete_week(as_of, shop.week_start)),
        symptom: query.symptom.clone(),
        first: first(&mut faults, query),
        part: part_asked(&mut faults, query, &shop.money()),
        better: better(&mut faults, query),
        hand_over: hand_over_asked(&mut faults, query),
        planned: Planned::new(),
        hand: in_hand::asked(&mut faults, name, query, &shop.money()),
        rule: rule_asked(&mut faults, name, query),
        select: selector(&mut faults, "select", query.select.as_deref()),
        every_return: query.table.as_deref() == Some(RETURNS),
    };
    as_they_were_done(&mut faults, name, &resolved);
    if faults.0.is_empty() { Ok(resolved) } else { Err(Refusal::Invalid(faults.0)) }
}

/// What a rule did cannot be told among jobs that were chosen by what it did.
fn as_they_were_done(faults: &mut Faults, name: ReportName, asked: &Resolved) {
    let fields = [
        ("select", Some(&asked.select)),
        ("kept", asked.rule.kept.as_ref()),
        ("not_known", asked.rule.not_known.as_ref()),
    ];
    for (field, jobs) in fields {
        if name == ReportName::Effect && jobs.is_some_and(Selector::tells_the_outcome) {
            faults.add(
                field,
                "value",
                "a rule is about jobs as they were done, not about what became of them",
            );
        }
    }
}

fn window(faults: &mut Faults, query: &ReportQuery) -> Option<i32> {
    let parse = |text: &str| text.parse().ok().filter(|days| (1..=LONGEST_WINDOW).contains(days));
    faults.read("window", query.window.as_deref(), parse, || {
        format!("write whole days between 1 and {LONGEST_WINDOW}")
    })
}

fn by(faults: &mut Faults, name: ReportName, query: &ReportQuery) -> Option<String> {
    let columns = name.columns();
    let usual = columns.first()?;
    let parse = |text: &str| columns.contains(&text).then(|| text.to_owned());
    let text = query.by.as_deref().unwrap_or(usual);
    faults.read("by", Some(text), parse, || format!("choose one of {}", columns.join(", ")))
}

fn part_asked(faults: &mut Faults, query: &ReportQuery, money: &Currency) -> PartAsked {
    let one_of = |words: &[&str]| format!("choose one of {}", words.join(", "));
    let asked = PartAsked {
        part: query.part.clone(),
        role: faults
            .read("role", query.role.as_deref(), PartRole::parse, || one_of(PartRole::WORDS)),
        curable: faults
            .read("curable", query.curable.as_deref(), Curable::parse, || one_of(Curable::WORDS)),
        tested: faults.read(
            "tested",
            query.tested.as_deref(),
            |text| text.parse().ok(),
            || one_of(&["true", "false"]),
        ),
        overrides: Overrides {
            access_minutes: faults.minutes("access_minutes", query.access_minutes.as_deref()),
            clean_minutes: faults.minutes("clean_minutes", query.clean_minutes.as_deref()),
            fit_minutes: faults.minutes("fit_minutes", query.fit_minutes.as_deref()),
            part_cost_minor: faults.read(
                "part_cost",
                query.part_cost.as_deref(),
                |text| money.parse_amount(text).ok().filter(|minor| *minor >= 0),
                || format!("write an amount in {} such as 12", money.code()),
            ),
        },
    };
    let particulars = asked.curable.is_some()
        || asked.tested.is_some()
        || asked.overrides != Overrides::default();
    if particulars && asked.part.is_none() {
        faults.add("part", "required", "name the part that this is about");
    }
    asked
}

/// A list of codes without a gap; an empty one asks for nothing first.
fn first(faults: &mut Faults, query: &ReportQuery) -> Option<Vec<String>> {
    let parse = |text: &str| {
        if text.trim().is_empty() {
            return Some(Vec::new());
        }
        let codes: Vec<String> = text.split(',').map(|code| code.trim().to_owned()).collect();
        let sound = codes.len() <= MAX_CHECKS && codes.iter().all(|code| !code.is_empty());
        sound.then_some(codes)
    };
    faults.read("first", query.first.as_deref(), parse, || {
        "write checks such as visual-under-hood,read-codes".to_owned()
    })
}

fn selector(faults: &mut Faults, field: &str, text: Option<&str>) -> Selector {
    Selector::parse(text.unwrap_or_default()).unwrap_or_else(|error| {
        faults.add(field, "value", error.to_string());
        Selector::default()
    })
}

fn hand_over_asked(faults: &mut Faults, query: &ReportQuery) -> HandOverAsked {
    HandOverAsked {
        line: query.line.clone(),
        hold_minutes: faults.minutes("hold_minutes", query.hold_minutes.as_deref()),
    }
}

fn better(faults: &mut Faults, query: &ReportQuery) -> Option<Better> {
    faults.read("better", query.better.as_deref(), Better::parse, || {
        "choose one of higher, lower".to_owned()
    })
}

fn rule_asked(faults: &mut Faults, name: ReportName, query: &ReportQuery) -> RuleAsked {
    if name == ReportName::Effect && query.start.is_none() {
        faults.add("start", "required", "write the first day on which the rule stood");
    }
    if name == ReportName::Effect && query.review.is_none() {
        let why = "write the day of the one verdict, set once: who looks each day finds an effect \
                   some day";
        faults.add("review", "required", why);
    }
    let rule = RuleAsked {
        start: faults.date("start", query.start.as_deref()),
        review: faults.date("review", query.review.as_deref()),
        withdrawn: None,
        kept: query.kept.as_deref().map(|text| selector(faults, "kept", Some(text))),
        not_known: query.not_known.as_deref().map(|text| selector(faults, "not_known", Some(text))),
    };
    if let (Some(start), Some(review)) = (rule.start, rule.review)
        && review <= start
    {
        faults.add("review", "range", format!("write a day after {start}"));
    }
    rule
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
pub(crate) mod tests;
