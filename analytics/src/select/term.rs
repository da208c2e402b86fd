//! A selector's terms: parsed from `key=value` pairs and written back.

use std::fmt;

use chrono::NaiveDate;

use super::encoding::{decoded, escaped};
use super::limits::Limits;
use super::values::{Column, DistanceKnown, Order, PathMatch, Treatment, Visits};
use crate::history::Reading;
use crate::words::{
    Activity, CauseState, Curable, Disposition, Finding, JobKind, Outcome, PartRole, Payer,
    WorkedAs,
};

/// One condition. Terms on parts hold for one and the same part of the job;
/// so do those on checks, labor entries and operations.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Term {
    Kind(JobKind),
    Outcome(Outcome),
    /// `None`: the column has no value.
    Text(Column, Option<String>),
    /// `None` in this and the following: nothing is recorded.
    CauseState(Option<CauseState>),
    Curable(Option<Curable>),
    /// The vehicle's model year.
    ModelYear(Option<i64>),
    /// A model of that name, of whichever make; an engine of that name. Capitals
    /// do not tell names apart.
    ModelNamed(String),
    EngineNamed(String),
    /// Of a check; without it a named check was done.
    Finding(Option<Finding>),
    Activity(Option<Activity>),
    WorkedAs(WorkedAs),
    Role(Option<PartRole>),
    Treatment(Treatment),
    /// Whether a bench reading stands.
    BenchRead(bool),
    /// The bench reading is at least, and at most, this.
    ReadingFrom(Reading),
    ReadingTo(Reading),
    /// The reading before the hand-over is at least, and at most, this.
    HandOverFrom(Reading),
    HandOverTo(Reading),
    Payer(Option<Payer>),
    Path(PathMatch, Vec<String>),
    Order(Order),
    /// The check that found the cause: the last abnormal one of a complaint job.
    /// `None`: no recorded check did.
    FoundBy(Option<String>),
    ClosedFrom(NaiveDate),
    ClosedTo(NaiveDate),
    /// The order was opened on this day or later, on this day or earlier.
    OpenedFrom(NaiveDate),
    OpenedTo(NaiveDate),
    /// [`Outcome::is_done`].
    Done(bool),
    /// A repaired complaint that came back, or did not, inside the window.
    Returned(bool),
    /// A repaired complaint whose first return fell on this day or later, on
    /// this day or earlier, whatever the window.
    ReturnedFrom(NaiveDate),
    ReturnedTo(NaiveDate),
    /// A repaired complaint whose vehicle the record knows to be seen again, for
    /// anything, whose return was told, or whose customer said after the window that
    /// it holds.
    SeenAgain(bool),
    /// It came back inside the window, and the first return was for this reason;
    /// `None`: no reason is named.
    ReturnReason(Option<String>),
    /// What is known of how far its vehicle was driven.
    Distance(DistanceKnown),
    /// It came back after so many kilometers or fewer.
    BackWithinKm(i64),
    /// The first repaired complaint of its vehicle between the selector's closing
    /// days, by how often the vehicle came back.
    Visits(Visits),
    /// The part came back, or did not, inside the window.
    PartReturned(bool),
    /// It did, and was told of, not seen.
    Told(bool),
    /// Not itself the repair of a confirmed comeback.
    FirstRepair(bool),
    /// A proof failed before the hand-over.
    FailedProof(bool),
    /// Time was clocked on it.
    Clocked(bool),
    /// The planned second visit came about.
    SecondVisit(bool),
    /// Of one of these systems.
    Systems(Vec<String>),
    /// The check was made in a measured order, and nothing but the shop's free
    /// looks before it.
    LeadsWith(String),
    /// The check was made, or the reading of that name was taken before the
    /// vehicle left.
    TookReading(String),
    /// The last such reading lies inside limits.
    ReadingWithin(Limits),
    /// Somebody said of the job that it kept the shop rule of this id.
    RuleKept(String),
    /// Somebody said whether it did.
    RuleAnswered(String),
    /// Somebody gave a reason for not following it.
    RuleReasoned(String),
    /// Fits another selector too. Its terms on parts, checks, labor entries and
    /// operations may hold for others than those of this one.
    Also(Selector),
    /// Does not fit another selector.
    Except(Selector),
}

/// Selectors inside selectors: more than anybody asks for, and no way to make
/// the program run out of room.
const DEEPEST: usize = 16;
/// Conditions of a selector: each is a look at every job of the shop.
const MOST_TERMS: usize = 64;
/// Why a query string is no selector.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SelectorError {
    UnknownKey(String),
    /// The key, and a value it cannot have.
    BadValue(String, String),
    /// Percent-encoding that is cut off or no UTF-8.
    BadEncoding(String),
    /// More conditions than anybody asks for.
    TooMany,
}

impl fmt::Display for SelectorError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownKey(key) => write!(f, "jobs are not selected by '{key}'"),
            Self::BadValue(key, value) => write!(f, "'{key}' cannot be '{value}'"),
            Self::TooMany => write!(f, "write at most {MOST_TERMS} conditions"),
            Self::BadEncoding(text) => write!(f, "'{text}' is not percent-encoded text"),
        }
    }
}

impl std::error::Error for SelectorError {}

/// Conditions that all hold.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Selector {
    terms: Vec<Term>,
}

impl Term {
    /// # Errors
    /// An unknown key, or a value the key cannot have.
    pub fn parse(key: &str, value: &str) -> Result<Self, SelectorError> {
        Self::parse_at(0, key, value)
    }

    /// The same inside so many other selectors.
    fn parse_at(depth: usize, key: &str, value: &str) -> Result<Self, SelectorError> {
        if let "also" | "except" = key {
            let bad = || SelectorError::BadValue(key.to_owned(), value.to_owned());
            let other = (depth < DEEPEST).then(|| Selector::parse_at(depth + 1, value));
            let other = other.ok_or_else(bad)??;
            return Ok(if key == "also" { Self::Also(other) } else { Self::Except(other) });
        }
        let optional = |value: &str| (!value.is_empty()).then(|| value.to_owned());
        if let Some(column) = Column::ALL.into_iter().find(|column| column.as_str() == key) {
            return Ok(Self::Text(column, optional(value)));
        }
        if let Some(kind) = PathMatch::ALL.into_iter().find(|kind| kind.as_str() == key) {
            let checks = match (kind.is_list(), value) {
                (true, "") => Vec::new(),
                (true, list) => list.split('>').map(str::to_owned).collect(),
                (false, check) => vec![check.to_owned()],
            };
            return Ok(Self::Path(kind, checks));
        }
        let flag = || match value {
            "true" => Some(true),
            "false" => Some(false),
            _ => None,
        };
        let term = match key {
            "kind" => JobKind::parse(value).map(Self::Kind),
            "outcome" => Outcome::parse(value).map(Self::Outcome),
            "cause_state" => word(value, CauseState::parse).map(Self::CauseState),
            "curable" => word(value, Curable::parse).map(Self::Curable),
            "model_year" => word(value, |text| text.parse().ok()).map(Self::ModelYear),
            "model_named" => optional(value).map(Self::ModelNamed),
            "engine_named" => optional(value).map(Self::EngineNamed),
            "finding" => word(value, Finding::parse).map(Self::Finding),
            "activity" => word(value, Activity::parse).map(Self::Activity),
            "worked_as" => WorkedAs::parse(value).map(Self::WorkedAs),
            "role" => word(value, PartRole::parse).map(Self::Role),
            "disposition" if value == Treatment::REPLACED => {
                Some(Self::Treatment(Treatment::Replaced))
            }
            "disposition" if value == Treatment::UNTOUCHED => {
                Some(Self::Treatment(Treatment::Untouched))
            }
            "disposition" if value == Treatment::PUT_BACK => {
                Some(Self::Treatment(Treatment::PutBack))
            }
            "disposition" => {
                Disposition::parse(value).map(|one| Self::Treatment(Treatment::One(one)))
            }
            "payer" => word(value, Payer::parse).map(Self::Payer),
            "order" => Order::ALL.into_iter().find(|o| o.as_str() == value).map(Self::Order),
            "bench_read" => flag().map(Self::BenchRead),
            "reading_from" => Reading::parse(value).map(Self::ReadingFrom),
            "reading_to" => Reading::parse(value).map(Self::ReadingTo),
            "hand_over_from" => Reading::parse(value).map(Self::HandOverFrom),
            "hand_over_to" => Reading::parse(value).map(Self::HandOverTo),
            "systems" => Some(Self::Systems(value.split('>').map(str::to_owned).collect())),
            "opened_from" => value.parse().ok().map(Self::OpenedFrom),
            "opened_to" => value.parse().ok().map(Self::OpenedTo),
            "found_by" => Some(Self::FoundBy(optional(value))),
            "closed_from" => value.parse().ok().map(Self::ClosedFrom),
            "closed_to" => value.parse().ok().map(Self::ClosedTo),
            "done" => flag().map(Self::Done),
            "returned" => flag().map(Self::Returned),
            "seen_again" => flag().map(Self::SeenAgain),
            "return_reason" => Some(Self::ReturnReason(optional(value))),
            "distance" => {
                DistanceKnown::ALL.into_iter().find(|d| d.as_str() == value).map(Self::Distance)
            }
            "back_within_km" => value.parse().ok().filter(|km| *km >= 0).map(Self::BackWithinKm),
            "visits" => Visits::parse(value).map(Self::Visits),
            "returned_from" => value.parse().ok().map(Self::ReturnedFrom),
            "returned_to" => value.parse().ok().map(Self::ReturnedTo),
            "part_returned" => flag().map(Self::PartReturned),
            "told" => flag().map(Self::Told),
            "failed_proof" => flag().map(Self::FailedProof),
            "clocked" => flag().map(Self::Clocked),
            "second_visit" => flag().map(Self::SecondVisit),
            "first_repair" => flag().map(Self::FirstRepair),
            "leads_with" => optional(value).map(Self::LeadsWith),
            "took_reading" => optional(value).map(Self::TookReading),
            "reading_within" => Limits::parse(value).map(Self::ReadingWithin),
            "rule_kept" => optional(value).map(Self::RuleKept),
            "rule_answered" => optional(value).map(Self::RuleAnswered),
            "rule_reasoned" => optional(value).map(Self::RuleReasoned),
            _ => return Err(SelectorError::UnknownKey(key.to_owned())),
        };
        term.ok_or_else(|| SelectorError::BadValue(key.to_owned(), value.to_owned()))
    }

    /// See [`Selector::tells_the_outcome`]. Every term is named: a new one has
    /// to be decided.
    fn tells_the_outcome(&self) -> bool {
        match self {
            Self::Also(other) | Self::Except(other) => other.tells_the_outcome(),
            Self::CauseState(_)
            | Self::Done(_)
            | Self::Returned(_)
            | Self::ReturnedFrom(_)
            | Self::ReturnedTo(_)
            | Self::ReturnReason(_)
            | Self::Distance(_)
            | Self::BackWithinKm(_)
            | Self::Visits(_)
            | Self::PartReturned(_)
            | Self::Told(_)
            | Self::SeenAgain(_)
            | Self::SecondVisit(_) => true,
            Self::Kind(_)
            | Self::Outcome(_)
            | Self::Text(..)
            | Self::Curable(_)
            | Self::ModelYear(_)
            | Self::ModelNamed(_)
            | Self::EngineNamed(_)
            | Self::Finding(_)
            | Self::Activity(_)
            | Self::WorkedAs(_)
            | Self::Role(_)
            | Self::Treatment(_)
            | Self::BenchRead(_)
            | Self::ReadingFrom(_)
            | Self::ReadingTo(_)
            | Self::HandOverFrom(_)
            | Self::HandOverTo(_)
            | Self::Payer(_)
            | Self::Path(..)
            | Self::Order(_)
            | Self::FoundBy(_)
            | Self::Clocked(_)
            | Self::ClosedFrom(_)
            | Self::ClosedTo(_)
            | Self::OpenedFrom(_)
            | Self::OpenedTo(_)
            | Self::FirstRepair(_)
            | Self::FailedProof(_)
            | Self::Systems(_)
            | Self::LeadsWith(_)
            | Self::TookReading(_)
            | Self::ReadingWithin(_)
            | Self::RuleKept(_)
            | Self::RuleAnswered(_)
            | Self::RuleReasoned(_) => false,
        }
    }

    /// Key and value, as [`Term::parse`] takes them.
    #[must_use]
    pub fn pair(&self) -> (&'static str, String) {
        match self {
            Self::Kind(kind) => ("kind", kind.to_string()),
            Self::Outcome(outcome) => ("outcome", outcome.to_string()),
            Self::Text(column, text) => (column.as_str(), text.clone().unwrap_or_default()),
            Self::CauseState(state) => {
                ("cause_state", state.map_or("", CauseState::as_str).to_owned())
            }
            Self::Curable(curable) => ("curable", curable.map_or("", Curable::as_str).to_owned()),
            Self::ModelYear(year) => {
                ("model_year", year.map(|year| year.to_string()).unwrap_or_default())
            }
            Self::ModelNamed(name) => ("model_named", name.clone()),
            Self::EngineNamed(name) => ("engine_named", name.clone()),
            Self::Finding(finding) => ("finding", finding.map_or("", Finding::as_str).to_owned()),
            Self::Activity(work) => ("activity", work.map_or("", Activity::as_str).to_owned()),
            Self::WorkedAs(worked) => ("worked_as", worked.to_string()),
            Self::Role(role) => ("role", role.map_or("", PartRole::as_str).to_owned()),
            Self::Treatment(Treatment::Replaced) => ("disposition", Treatment::REPLACED.to_owned()),
            Self::Treatment(Treatment::Untouched) => {
                ("disposition", Treatment::UNTOUCHED.to_owned())
            }
            Self::Treatment(Treatment::PutBack) => ("disposition", Treatment::PUT_BACK.to_owned()),
            Self::Treatment(Treatment::One(one)) => ("disposition", one.to_string()),
            Self::BenchRead(yes) => ("bench_read", yes.to_string()),
            Self::ReadingFrom(reading) => ("reading_from", reading.to_string()),
            Self::ReadingTo(reading) => ("reading_to", reading.to_string()),
            Self::HandOverFrom(reading) => ("hand_over_from", reading.to_string()),
            Self::HandOverTo(reading) => ("hand_over_to", reading.to_string()),
            Self::Payer(payer) => ("payer", payer.map_or("", Payer::as_str).to_owned()),
            Self::Path(kind, checks) => (kind.as_str(), checks.join(">")),
            Self::Order(order) => ("order", order.as_str().to_owned()),
            Self::OpenedFrom(day) => ("opened_from", day.to_string()),
            Self::OpenedTo(day) => ("opened_to", day.to_string()),
            Self::FoundBy(check) => ("found_by", check.clone().unwrap_or_default()),
            Self::ClosedFrom(day) => ("closed_from", day.to_string()),
            Self::ClosedTo(day) => ("closed_to", day.to_string()),
            Self::Done(yes) => ("done", yes.to_string()),
            Self::Returned(yes) => ("returned", yes.to_string()),
            Self::SeenAgain(yes) => ("seen_again", yes.to_string()),
            Self::ReturnReason(reason) => ("return_reason", reason.clone().unwrap_or_default()),
            Self::Distance(known) => ("distance", known.as_str().to_owned()),
            Self::BackWithinKm(km) => ("back_within_km", km.to_string()),
            Self::Visits(visits) => ("visits", visits.to_string()),
            Self::ReturnedFrom(day) => ("returned_from", day.to_string()),
            Self::ReturnedTo(day) => ("returned_to", day.to_string()),
            Self::PartReturned(yes) => ("part_returned", yes.to_string()),
            Self::Told(yes) => ("told", yes.to_string()),
            Self::FailedProof(yes) => ("failed_proof", yes.to_string()),
            Self::Clocked(yes) => ("clocked", yes.to_string()),
            Self::SecondVisit(yes) => ("second_visit", yes.to_string()),
            Self::FirstRepair(yes) => ("first_repair", yes.to_string()),
            Self::Systems(systems) => ("systems", systems.join(">")),
            Self::LeadsWith(check) => ("leads_with", check.clone()),
            Self::TookReading(check) => ("took_reading", check.clone()),
            Self::ReadingWithin(limits) => ("reading_within", limits.to_string()),
            Self::RuleKept(rule) => ("rule_kept", rule.clone()),
            Self::RuleAnswered(rule) => ("rule_answered", rule.clone()),
            Self::RuleReasoned(rule) => ("rule_reasoned", rule.clone()),
            Self::Also(other) => ("also", other.to_string()),
            Self::Except(other) => ("except", other.to_string()),
        }
    }
}

/// A word of a list, or nothing recorded where the value is empty; the outer
/// `None` for any other value.
fn word<W>(value: &str, parse: fn(&str) -> Option<W>) -> Option<Option<W>> {
    if value.is_empty() {
        return Some(None);
    }
    parse(value).map(Some)
}

impl Selector {
    /// Every job.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Narrower by one term.
    #[must_use]
    pub fn with(mut self, term: Term) -> Self {
        self.terms.push(term);
        self
    }

    /// The same with every code of a shop's list as `now` has it, which is given
    /// the list's name and the code.
    #[must_use]
    pub fn following(mut self, now: &impl Fn(&str, &str) -> String) -> Self {
        for term in &mut self.terms {
            match term {
                Term::Text(column, Some(code)) => {
                    if let Some(list) = column.list() {
                        *code = now(list, code);
                    }
                }
                Term::ReturnReason(Some(reason)) => *reason = now("comeback_reason", reason),
                Term::FoundBy(Some(check)) | Term::LeadsWith(check) | Term::TookReading(check) => {
                    *check = now("check", check);
                }
                Term::ReadingWithin(limits) => limits.check = now("check", &limits.check),
                Term::Path(_, checks) => {
                    checks.iter_mut().for_each(|check| *check = now("check", check));
                }
                Term::Systems(systems) => {
                    systems.iter_mut().for_each(|system| *system = now("system", system));
                }
                Term::Also(other) | Term::Except(other) => {
                    *other = std::mem::take(other).following(now);
                }
                _ => {}
            }
        }
        self
    }

    /// Every symptom that is named, in selectors inside this one too.
    #[must_use]
    pub fn symptoms(&self) -> Vec<&str> {
        let named = self.terms.iter().flat_map(|term| match term {
            Term::Text(Column::Symptom, Some(symptom)) => vec![symptom.as_str()],
            Term::Also(other) | Term::Except(other) => other.symptoms(),
            _ => Vec::new(),
        });
        named.collect()
    }

    /// Every person that is named, in selectors inside this one too.
    #[must_use]
    pub fn people(&self) -> Vec<&str> {
        let named = self.terms.iter().flat_map(|term| match term {
            Term::Text(
                Column::Technician | Column::Answers | Column::Worked | Column::Credited,
                Some(person),
            ) => vec![person.as_str()],
            Term::Also(other) | Term::Except(other) => other.people(),
            _ => Vec::new(),
        });
        named.collect()
    }

    /// Whether somebody's returns could be counted by it: it tells the outcome, or
    /// which jobs mended a comeback.
    #[must_use]
    pub fn tells_of_returns(&self) -> bool {
        let mends = |term: &Term| match term {
            Term::FirstRepair(_) => true,
            Term::Also(other) | Term::Except(other) => other.tells_of_returns(),
            _ => false,
        };
        self.tells_the_outcome() || self.terms.iter().any(mends)
    }

    /// Whether a term, in selectors inside this one too, is about what became of
    /// a job after it was closed, or about what that may have changed: a cause's
    /// state is set anew when a vehicle comes back.
    #[must_use]
    pub fn tells_the_outcome(&self) -> bool {
        self.terms.iter().any(Term::tells_the_outcome)
    }

    /// The terms, in the order in which they were given.
    #[must_use]
    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// Reads a query string, `key=value` pairs joined by `&`, percent-encoded;
    /// an empty one selects every job.
    ///
    /// # Errors
    /// Unknown keys, values a key cannot have, broken encoding.
    pub fn parse(query: &str) -> Result<Self, SelectorError> {
        let selector = Self::parse_at(0, query)?;
        if selector.terms_in_all() > MOST_TERMS {
            return Err(SelectorError::TooMany);
        }
        Ok(selector)
    }

    /// Those of selectors inside it, too.
    fn terms_in_all(&self) -> usize {
        let inside = |term: &Term| match term {
            Term::Also(other) | Term::Except(other) => 1 + other.terms_in_all(),
            _ => 1,
        };
        self.terms.iter().map(inside).sum()
    }

    fn parse_at(depth: usize, query: &str) -> Result<Self, SelectorError> {
        let mut selector = Self::new();
        for pair in query.split('&').filter(|pair| !pair.is_empty()) {
            let (key, value) = pair.split_once('=').unwrap_or((pair, ""));
            selector.terms.push(Term::parse_at(depth, &text(key)?, &text(value)?)?);
        }
        Ok(selector)
    }
}

fn text(encoded: &str) -> Result<String, SelectorError> {
    decoded(encoded).ok_or_else(|| SelectorError::BadEncoding(encoded.to_owned()))
}

impl fmt::Display for Selector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, term) in self.terms.iter().enumerate() {
            let (key, value) = term.pair();
            let join = if place == 0 { "" } else { "&" };
            write!(f, "{join}{key}={}", escaped(&value))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
