//! The decision between cleaning and replacing, from two beliefs and a price.

use serde::Serialize;

use crate::stats::beta::{Beta, probability_above_both, probability_exceeds};

/// From this probability on a statement is acted on; at its complement or
/// below, its opposite is.
pub(super) const SURE: f64 = 0.8;
/// Further cases past which more of them are not offered as an answer.
const MOST_CASES: i64 = 1_000;

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    CleanAndReuse,
    Undecided,
    Replace,
}

/// What a verdict of replace rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum DecidedBy {
    /// The cause cannot be cured by cleaning.
    NotCurable,
    /// It comes back more often than the shop's ceiling allows, and more often
    /// than a new one.
    Ceiling,
    /// Replacing costs customer and shop less together.
    Money,
}

/// Why there is no verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum UndecidedWhy {
    /// So many further cleaned cases, going as before, would settle it.
    CasesNeeded,
    /// The shares lie so close to the limit that cases will not settle it.
    AtTheLimit,
    /// Proposed returns wait for a decision that would change the verdict.
    ProposalsWaiting,
    /// Access minutes or the part's cost are not known.
    CostsMissing,
}

/// The reason for no verdict, and the cases that would settle it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = UndecidedAdvice))]
pub struct Undecided {
    pub why: UndecidedWhy,
    /// Further cleaned cases; proposals waiting.
    pub cases: Option<i64>,
}

/// Everything the decision depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Question {
    /// Beliefs about the return share after cleaning and after replacing.
    pub clean: Beta,
    pub replace: Beta,
    /// Break-even gap; absent where the costs are not known.
    pub gap: Option<f64>,
    pub ceiling: f64,
    pub not_curable: bool,
}

/// The probabilities the decision is taken on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Odds {
    /// P(replacing is cheaper, together).
    pub cheaper: Option<f64>,
    /// P(a cleaned part returns above the ceiling and more often than a new one).
    pub over_ceiling: f64,
}

impl Question {
    pub fn odds(&self) -> Odds {
        Odds {
            cheaper: self.gap.map(|gap| probability_exceeds(&self.clean, &self.replace, gap)),
            over_ceiling: probability_above_both(&self.clean, &self.replace, self.ceiling),
        }
    }

    /// What speaks for replacing, surely enough.
    pub fn decided_by(&self, odds: &Odds) -> Vec<DecidedBy> {
        [
            (self.not_curable, DecidedBy::NotCurable),
            (odds.over_ceiling >= SURE, DecidedBy::Ceiling),
            (odds.cheaper.is_some_and(|p| p >= SURE), DecidedBy::Money),
        ]
        .into_iter()
        .filter_map(|(holds, by)| holds.then_some(by))
        .collect()
    }

    pub fn verdict(&self, odds: &Odds) -> Verdict {
        if !self.decided_by(odds).is_empty() {
            return Verdict::Replace;
        }
        let unlikely = |p: f64| p <= 1.0 - SURE;
        if unlikely(odds.over_ceiling) && odds.cheaper.is_some_and(unlikely) {
            Verdict::CleanAndReuse
        } else {
            Verdict::Undecided
        }
    }

    /// Why the verdict is open.
    pub fn undecided(&self) -> Undecided {
        if self.gap.is_none() {
            return Undecided { why: UndecidedWhy::CostsMissing, cases: None };
        }
        self.cases_needed().map_or(
            Undecided { why: UndecidedWhy::AtTheLimit, cases: None },
            |cases| Undecided { why: UndecidedWhy::CasesNeeded, cases: Some(cases) },
        )
    }

    /// The verdict after so many further cleaned cases that come back as often
    /// as is believed now.
    fn settled_by(&self, cases: i64) -> bool {
        let (returned, held) = self.clean.shapes();
        let (mean, more) = (self.clean.mean(), cases as f64);
        let clean = Beta::nearest(returned + mean * more, held + (1.0 - mean) * more);
        let then = Self { clean, ..*self };
        then.verdict(&then.odds()) != Verdict::Undecided
    }

    /// The least number of further cleaned cases that would settle it. Doubled
    /// until it does, then halved back.
    fn cases_needed(&self) -> Option<i64> {
        let mut enough = 1;
        while !self.settled_by(enough) {
            if enough >= MOST_CASES {
                return None;
            }
            enough = (enough * 2).min(MOST_CASES);
        }
        let mut short = enough / 2;
        while enough - short > 1 {
            let middle = i64::midpoint(short, enough);
            if self.settled_by(middle) {
                enough = middle;
            } else {
                short = middle;
            }
        }
        Some(enough)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn question(clean: (f64, f64), replace: (f64, f64), gap: f64) -> Question {
        Question {
            clean: Beta::new(clean.0, clean.1).unwrap(),
            replace: Beta::new(replace.0, replace.1).unwrap(),
            gap: Some(gap),
            ceiling: 0.1,
            not_curable: false,
        }
    }

    #[test]
    fn an_incurable_cause_is_replaced_whatever_the_price() {
        let question =
            Question { not_curable: true, gap: None, ..question((0.3, 99.7), (0.3, 9.7), 5.0) };
        assert_eq!(question.verdict(&question.odds()), Verdict::Replace);
        assert_eq!(question.decided_by(&question.odds()), [DecidedBy::NotCurable]);
    }

    #[test]
    fn without_costs_nothing_is_put_back_on_money_grounds() {
        let question = Question { gap: None, ..question((0.3, 99.7), (0.3, 9.7), 0.0) };
        assert_eq!(question.verdict(&question.odds()), Verdict::Undecided);
        assert_eq!(question.undecided().why, UndecidedWhy::CostsMissing);
    }

    #[test]
    fn a_share_on_the_ceiling_is_at_the_limit() {
        // The belief is centered on the ceiling: cases only narrow it.
        let question = question((50.0, 450.0), (1.0, 99.0), 0.9);
        assert_eq!(question.undecided().why, UndecidedWhy::AtTheLimit);
    }

    #[test]
    fn the_cases_asked_for_settle_it_and_one_fewer_does_not() {
        let question = question((1.6, 8.4), (0.3, 9.7), 0.4);
        assert_eq!(question.verdict(&question.odds()), Verdict::Undecided);
        let cases = question.undecided().cases.unwrap();
        assert!(cases > 1 && question.settled_by(cases) && !question.settled_by(cases - 1));
    }

    proptest! {
        /// One more return among as many cases never speaks for cleaning.
        #[test]
        fn more_returns_never_speak_for_cleaning(
            cases in 1_i64..60, returns in 0_i64..60, gap in 0.01..0.9, new_a in 0.1..20.0, new_b in 1.0..80.0,
        ) {
            let returns = returns % cases;
            let at = |x: i64| {
                let q = question((3.0 + x as f64, 7.0 + (cases - x) as f64), (new_a, new_b), gap);
                q.verdict(&q.odds())
            };
            prop_assert!(at(returns) <= at(returns + 1));
        }
    }
}
