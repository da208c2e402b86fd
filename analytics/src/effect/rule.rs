//! What a shop rule is about, and what keeps it: the one definition that pages,
//! reports and the job in hand go by.

use crate::follow::first_returns;
use crate::history::{History, Reading};
use crate::select::Column;
use crate::select::{Limits, Order, Selector, Term, Treatment, fitting};
use crate::words::{JobKind, PartRole};

/// What a shop rule asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Rule {
    ReplaceSuspect {
        part: String,
        symptom: Option<String>,
    },
    CleanAndTest {
        part: String,
    },
    CheckFirst {
        symptom: String,
        check: String,
    },
    ReadingLimit {
        /// Code of a check, or the name of a reading taken before a vehicle leaves.
        check: String,
        /// Without it, every job on which the reading was taken owes it.
        symptom: Option<String>,
        unit: String,
        low: Option<Reading>,
        high: Option<Reading>,
    },
    FreeText {
        /// The rule's id, under which jobs answer.
        id: String,
        about: Selector,
    },
}

/// The jobs of a rule, as selectors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleSelectors {
    /// Which jobs it is about.
    pub about: Selector,
    /// Which of them kept it.
    pub kept: Selector,
    /// Of which of them nobody knows it; absent where the record always tells.
    pub not_known: Option<Selector>,
}

fn text(column: Column, value: &str) -> Term {
    Term::Text(column, Some(value.to_owned()))
}

fn with_symptom(jobs: Selector, symptom: Option<&str>) -> Selector {
    match symptom {
        Some(symptom) => jobs.with(text(Column::Symptom, symptom)),
        None => jobs,
    }
}

impl Rule {
    /// Its selectors.
    #[must_use]
    pub fn selectors(&self) -> RuleSelectors {
        match self {
            Self::ReplaceSuspect { part, symptom } => {
                let suspect = Selector::new()
                    .with(text(Column::Part, part))
                    .with(Term::Role(Some(PartRole::Suspect)));
                let put_back = suspect.clone().with(Term::Treatment(Treatment::PutBack));
                RuleSelectors {
                    about: with_symptom(suspect.clone(), symptom.as_deref()),
                    // One of them replaced is not enough where another was put back.
                    // One that tested good and was left is neither.
                    kept: suspect
                        .with(Term::Treatment(Treatment::Replaced))
                        .with(Term::Except(put_back)),
                    not_known: None,
                }
            }
            Self::CleanAndTest { part } => {
                let put_back = Selector::new()
                    .with(text(Column::Part, part))
                    .with(Term::Treatment(Treatment::PutBack));
                let untested = put_back.clone().with(Term::BenchRead(false));
                RuleSelectors {
                    about: put_back.clone(),
                    // Each that was put back was read.
                    kept: put_back.with(Term::Except(untested)),
                    not_known: None,
                }
            }
            Self::CheckFirst { symptom, check } => RuleSelectors {
                about: Selector::new()
                    .with(Term::Kind(JobKind::Complaint))
                    .with(text(Column::Symptom, symptom)),
                kept: Selector::new().with(Term::LeadsWith(check.clone())),
                not_known: Some(without_order()),
            },
            Self::ReadingLimit { check, symptom, unit, low, high } => {
                let owing = match symptom {
                    Some(symptom) => text(Column::Symptom, symptom),
                    None => Term::TookReading(check.clone()),
                };
                let limits =
                    Limits { check: check.clone(), unit: unit.clone(), low: *low, high: *high };
                RuleSelectors {
                    about: Selector::new().with(owing),
                    kept: Selector::new().with(Term::ReadingWithin(limits)),
                    not_known: None,
                }
            }
            Self::FreeText { id, about } => {
                let answered = Selector::new().with(Term::RuleAnswered(id.clone()));
                RuleSelectors {
                    about: about.clone(),
                    kept: Selector::new().with(Term::RuleKept(id.clone())),
                    not_known: Some(Selector::new().with(Term::Except(answered))),
                }
            }
        }
    }
}

/// Jobs whose checks have no order: all typed in at close, or none made.
fn without_order() -> Selector {
    let without = |order| Term::Except(Selector::new().with(Term::Order(order)));
    let ordered = Selector::new().with(without(Order::NotMeasured)).with(without(Order::NoChecks));
    Selector::new().with(Term::Except(ordered))
}

impl RuleSelectors {
    /// The same with every code as `now` has it.
    #[must_use]
    pub fn following(self, now: &impl Fn(&str, &str) -> String) -> Self {
        Self {
            about: self.about.following(now),
            kept: self.kept.following(now),
            not_known: self.not_known.map(|jobs| jobs.following(now)),
        }
    }

    /// Those of the jobs that kept it.
    pub(super) fn that_kept(&self) -> Selector {
        self.known().with(Term::Also(self.kept.clone()))
    }

    /// Those of which it is known that they did not.
    pub(super) fn that_did_not(&self) -> Selector {
        self.known().with(Term::Except(self.kept.clone()))
    }

    /// Those of which nobody knows it.
    pub(super) fn of_which_none_knows(&self) -> Option<Selector> {
        let not_known = self.not_known.clone()?;
        Some(Selector::new().with(Term::Also(self.about.clone())).with(Term::Also(not_known)))
    }

    fn known(&self) -> Selector {
        let about = Selector::new().with(Term::Also(self.about.clone()));
        match &self.not_known {
            Some(not_known) => about.with(Term::Except(not_known.clone())),
            None => about,
        }
    }
}

/// What the record says of one job and a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    NotAbout,
    Kept,
    NotKept,
    NotKnown,
}

/// How each job of the history stands to a rule, by its row.
#[must_use]
pub fn stands(history: &History, rule: &RuleSelectors) -> Vec<Stands> {
    let last = history.jobs().closed_day.last().copied().unwrap_or(0);
    let seen = (last, history.facts().window_days);
    let returns = first_returns(history);
    let fits = |jobs: &Selector| fitting(history, jobs, returns, seen);
    let none = || vec![false; history.jobs().closed_day.len()];
    let not_known = rule.not_known.as_ref().map_or_else(none, fits);
    let rows = fits(&rule.about).into_iter().zip(fits(&rule.kept)).zip(not_known);
    rows.map(|((about, kept), not_known)| match (about, not_known, kept) {
        (false, ..) => Stands::NotAbout,
        (true, true, _) => Stands::NotKnown,
        (true, false, true) => Stands::Kept,
        (true, false, false) => Stands::NotKept,
    })
    .collect()
}
