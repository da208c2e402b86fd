//! What would change an answer: the values at which both choices cost the same,
//! and those at which the verdict turns.
//!
//! Access, price and the rest of a return enter the decision by the break-even
//! gap alone, and the gap is solved for each of them:
//! gap = ((t_n - t_c) w + P) / ((A + t_n) w + P + G).

use serde::Serialize;

use super::costs::Costs;
use super::verdict::{Question, SURE, Verdict};
use crate::stats::beta::{Beta, probability_exceeds};
use crate::stats::rising_root;

/// How far beside a turn its verdicts are looked up, as a part of it.
const BESIDE: f64 = 1e-6;
/// Shares of returns that are looked between.
const LEAST_SHARE: f64 = 1e-4;

/// What the answer hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Lever {
    /// To reach the part and to close up again.
    AccessMinutes,
    /// Minor units.
    PartCost,
    /// What a return costs besides labor and part, minor units.
    ReturnExtra,
    /// Believed share of cleaned ones that come back.
    ReturnShare,
}

/// A value at which the verdict turns.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Turn {
    pub at: f64,
    pub below: Verdict,
    pub above: Verdict,
}

/// One lever, all else as it stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Turning {
    pub lever: Lever,
    pub now: f64,
    /// Where both choices cost customer and shop together the same on average;
    /// absent where no value does that.
    pub level_at: Option<f64>,
    /// In rising order; empty where no value changes the verdict.
    pub turns: Vec<Turn>,
}

/// What the gap is made of, in minutes and minor units.
#[derive(Debug, Clone, Copy)]
struct Terms {
    access: f64,
    clean: f64,
    fit: f64,
    part: f64,
    extra: f64,
    per_minute: f64,
}

impl Terms {
    fn of(costs: &Costs) -> Self {
        Self {
            access: costs.access.minutes,
            clean: costs.clean.minutes,
            fit: costs.fit.minutes,
            part: costs.part.minor,
            extra: costs.return_extra_minor as f64,
            per_minute: costs.labor_cost_minor_per_hour as f64 / 60.0,
        }
    }

    /// What replacing costs more than cleaning today.
    fn dearer(&self) -> f64 {
        (self.fit - self.clean).mul_add(self.per_minute, self.part)
    }

    fn gap(&self) -> Option<f64> {
        let back = (self.access + self.fit) * self.per_minute + self.part + self.extra;
        (back > 0.0).then(|| self.dearer() / back)
    }

    fn get(&self, lever: Lever) -> f64 {
        match lever {
            Lever::AccessMinutes => self.access,
            Lever::PartCost => self.part,
            Lever::ReturnExtra => self.extra,
            Lever::ReturnShare => f64::NAN,
        }
    }

    fn with(self, lever: Lever, value: f64) -> Self {
        match lever {
            Lever::AccessMinutes => Self { access: value, ..self },
            Lever::PartCost => Self { part: value, ..self },
            Lever::ReturnExtra => Self { extra: value, ..self },
            Lever::ReturnShare => self,
        }
    }

    /// The lever's value that makes this gap; `None` where none does.
    fn solved(&self, lever: Lever, gap: f64) -> Option<f64> {
        let w = self.per_minute;
        let value = match lever {
            Lever::AccessMinutes => (self.dearer() / gap - self.part - self.extra) / w - self.fit,
            Lever::PartCost => {
                let rest = (self.access + self.fit).mul_add(w, self.extra);
                (gap * rest - (self.fit - self.clean) * w) / (1.0 - gap)
            }
            Lever::ReturnExtra => self.dearer() / gap - (self.access + self.fit) * w - self.part,
            Lever::ReturnShare => f64::NAN,
        };
        // An infinite value fits no gap, nor does one below nothing.
        let fits = |made: f64| (made - gap).abs() <= 1e-9 * gap.abs().max(1.0);
        let sound = value.is_finite() && value >= 0.0;
        (sound && self.with(lever, value).gap().is_some_and(fits)).then_some(value)
    }
}

/// Every lever. Without costs only the share of returns is one.
pub(super) fn turnings(question: &Question, costs: Option<&Costs>) -> Vec<Turning> {
    let terms = costs.map(Terms::of);
    let by_money = terms.iter().flat_map(|terms| {
        let gaps = [SURE, 1.0 - SURE].map(|odds| gap_of(question, odds));
        [Lever::AccessMinutes, Lever::PartCost, Lever::ReturnExtra]
            .map(|lever| money_turning(question, terms, lever, gaps))
    });
    let by_money: Vec<Turning> = by_money.collect();
    by_money.into_iter().chain([share_turning(question)]).collect()
}

/// The gap at which replacing is cheaper with this probability.
fn gap_of(question: &Question, odds: f64) -> f64 {
    rising_root(-1.0, 1.0, 1.0 - odds, |gap| {
        1.0 - probability_exceeds(&question.clean, &question.replace, gap)
    })
}

fn decided(question: &Question) -> Verdict {
    question.verdict(&question.odds())
}

fn money_turning(question: &Question, terms: &Terms, lever: Lever, gaps: [f64; 2]) -> Turning {
    let verdict = |value: f64| {
        let gap = terms.with(lever, value.max(0.0)).gap();
        decided(&Question { gap, ..*question })
    };
    let at = gaps.into_iter().filter_map(|gap| terms.solved(lever, gap));
    Turning {
        lever,
        now: terms.get(lever),
        level_at: terms.solved(lever, question.clean.mean() - question.replace.mean()),
        turns: turns(at, verdict),
    }
}

fn share_turning(question: &Question) -> Turning {
    let (returned, held) = question.clean.shapes();
    let strength = returned + held;
    let verdict = |share: f64| {
        let clean = Beta::nearest(share * strength, (1.0 - share) * strength);
        decided(&Question { clean, ..*question })
    };
    // More returns never speak for cleaning, so each verdict begins once.
    let (low, high) = (LEAST_SHARE, 1.0 - LEAST_SHARE);
    let begins = |least: Verdict| {
        let inside = verdict(low) < least && verdict(high) >= least;
        let reached = |share: f64| if verdict(share) >= least { 1.0 } else { 0.0 };
        inside.then(|| rising_root(low, high, 0.5, reached))
    };
    let at = [Verdict::Undecided, Verdict::Replace].into_iter().filter_map(begins);
    let level = question.gap.map(|gap| question.replace.mean() + gap);
    Turning {
        lever: Lever::ReturnShare,
        now: question.clean.mean(),
        level_at: level.filter(|share| (0.0..=1.0).contains(share)),
        turns: turns(at, verdict),
    }
}

/// Those of the values at which the verdict is another one on either side.
fn turns(at: impl Iterator<Item = f64>, verdict: impl Fn(f64) -> Verdict) -> Vec<Turn> {
    let mut at: Vec<f64> = at.collect();
    at.sort_by(f64::total_cmp);
    at.dedup();
    let turn = |at: f64| {
        let beside = at.abs().max(1e-3) * BESIDE;
        Turn { at, below: verdict(at - beside), above: verdict(at + beside) }
    };
    at.into_iter().map(turn).filter(|turn| turn.below != turn.above).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reuse::costs::{Amount, Minutes, Source};
    use proptest::prelude::*;

    fn terms(access: f64, clean: f64, fit: f64, part: f64, extra: f64) -> Terms {
        Terms { access, clean, fit, part, extra, per_minute: 1.5 }
    }

    /// By hand, money per minute 1.50. Shallow: (145 - 75)/170 = .4118; at a gap
    /// of 9/38 - 2/60 the rest of a return is 70/.20351 - 145 = 198.96. Deep:
    /// (442.5 - 420)/467.5 = .04813.
    #[test]
    fn levels_by_hand() {
        let shallow = terms(30.0, 20.0, 10.0, 85.0, 25.0);
        assert!((shallow.gap().unwrap() - 0.4118).abs() < 5e-5);
        let difference = 9.0 / 38.0 - 2.0 / 60.0;
        let extra = shallow.solved(Lever::ReturnExtra, difference).unwrap();
        assert!((extra - 198.96).abs() < 0.02, "{extra}");
        let deep = terms(240.0, 40.0, 15.0, 60.0, 25.0);
        assert!((deep.gap().unwrap() - 0.04813).abs() < 5e-6);
        // At a gap of a tenth: 22.5/.1 = 225 = (A + 15) 1.5 + 85, A = 78.33.
        let access = deep.solved(Lever::AccessMinutes, 0.1).unwrap();
        assert!((access - 78.333).abs() < 1e-3, "{access}");
        // P - 37.5 = .1 (382.5 + P + 25), P = (40.75 + 37.5)/.9 = 86.94.
        let part = deep.solved(Lever::PartCost, 0.1).unwrap();
        assert!((part - 86.944).abs() < 1e-3, "{part}");
        assert_eq!(deep.solved(Lever::AccessMinutes, 0.9), None);
    }

    fn question(clean: (f64, f64), replace: (f64, f64), gap: Option<f64>) -> Question {
        Question {
            clean: Beta::new(clean.0, clean.1).unwrap(),
            replace: Beta::new(replace.0, replace.1).unwrap(),
            gap,
            ceiling: 0.1,
            not_curable: false,
        }
    }

    fn costs(terms: &Terms) -> Costs {
        let minutes = |minutes| Minutes { minutes, source: Source::Asked, jobs: None };
        let clean = (terms.access + terms.clean) * terms.per_minute;
        let replace = (terms.access + terms.fit) * terms.per_minute + terms.part;
        Costs {
            labor_cost_minor_per_hour: (terms.per_minute * 60.0) as i64,
            access: minutes(terms.access),
            clean: minutes(terms.clean),
            fit: minutes(terms.fit),
            part: Amount { minor: terms.part, source: Source::Asked, uses: None },
            return_extra_minor: terms.extra as i64,
            clean_now_minor: clean,
            replace_now_minor: replace,
            return_minor: replace + terms.extra,
        }
    }

    #[test]
    fn what_cleaning_cannot_cure_nothing_turns() {
        let deep = terms(240.0, 40.0, 15.0, 60.0, 25.0);
        let question =
            Question { not_curable: true, ..question((3.0, 7.0), (0.3, 9.7), deep.gap()) };
        let all = turnings(&question, Some(&costs(&deep)));
        assert_eq!(all.len(), 4);
        assert!(all.iter().all(|one| one.turns.is_empty()));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        /// A hair below a turn the decision itself says what stands below it, a
        /// hair above what stands above; and at the level both cost the same.
        #[test]
        fn each_turn_turns(
            access in 0_u32..400, clean in 0_u32..90, fit in 0_u32..60, part in 0_u32..300,
            extra in 0_u32..300, x in 0.5..12.0, n in 4.0..60.0, y in 0.3..4.0, m in 5.0..80.0,
        ) {
            let terms = terms(
                f64::from(access), f64::from(clean), f64::from(fit), f64::from(part),
                f64::from(extra) + 1.0,
            );
            let question = question((x, n), (y, m), terms.gap());
            for one in turnings(&question, Some(&costs(&terms))) {
                let said = |value: f64| match one.lever {
                    Lever::ReturnShare => {
                        let clean = Beta::nearest(value * (x + n), (1.0 - value) * (x + n));
                        decided(&Question { clean, ..question })
                    }
                    lever => decided(&Question { gap: terms.with(lever, value).gap(), ..question }),
                };
                for turn in &one.turns {
                    let hair = turn.at.max(1e-3) * 1e-5;
                    prop_assert_eq!(said((turn.at - hair).max(0.0)), turn.below, "{:?}", one);
                    prop_assert_eq!(said(turn.at + hair), turn.above, "{:?}", one);
                }
                let turned = one.turns.iter().rev().find(|turn| turn.at < one.now * 0.9999);
                if let Some(turn) = turned {
                    let next = one.turns.iter().find(|next| next.at > turn.at);
                    if next.is_none_or(|next| next.at > one.now * 1.0001) {
                        prop_assert_eq!(turn.above, decided(&question), "{:?}", one);
                    }
                }
                if let (Some(level), true) = (one.level_at, one.lever != Lever::ReturnShare) {
                    let gap = terms.with(one.lever, level).gap().unwrap();
                    let difference = question.clean.mean() - question.replace.mean();
                    prop_assert!((gap - difference).abs() < 1e-7);
                }
            }
        }
    }
}
