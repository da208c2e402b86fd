//! The one word on a rule.

use serde::Serialize;

use crate::figure::TOO_FEW;
use crate::follow::{Cases, LEVEL};
use crate::stats::difference::{difference_in_differences, newcombe};

/// What became of the comebacks with the rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectVerdict))]
pub enum Verdict {
    /// Before the review day, or no window since the start has ended.
    #[serde(rename = "too early")]
    TooEarly,
    /// Under ten ended windows before or after.
    #[serde(rename = "too few")]
    TooFew,
    #[serde(rename = "fewer comebacks")]
    FewerComebacks,
    #[serde(rename = "more comebacks")]
    MoreComebacks,
    #[serde(rename = "no evidence")]
    NoEvidence,
    /// It hangs on comebacks that are proposed and not decided.
    #[serde(rename = "undecided proposals")]
    UndecidedProposals,
    /// The rule was withdrawn before its review day: there is no verdict.
    #[serde(rename = "withdrawn")]
    Withdrawn,
}

impl Verdict {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::TooEarly => "too early",
            Self::TooFew => "too few",
            Self::FewerComebacks => "fewer comebacks",
            Self::MoreComebacks => "more comebacks",
            Self::NoEvidence => "no evidence",
            Self::UndecidedProposals => "undecided proposals",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// What the verdict rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectBasis))]
pub enum Basis {
    /// The change of the touched jobs less that of the untouched ones.
    #[serde(rename = "beside untouched jobs")]
    BesideUntouched,
    /// The touched jobs alone: there are too few others to hold them against.
    #[serde(rename = "before and after alone")]
    Alone,
}

impl Basis {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::BesideUntouched => "beside untouched jobs",
            Self::Alone => "before and after alone",
        }
    }
}

/// Ended windows before and after the start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ended {
    pub before: Cases,
    pub after: Cases,
}

impl Ended {
    pub fn too_few(&self) -> bool {
        self.before.cases.min(self.after.cases) < TOO_FEW
    }

    /// After and before, as (returns, cases).
    pub fn pairs(&self) -> [(i64, i64); 2] {
        [self.after, self.before].map(|cases| (cases.returns, cases.cases))
    }
}

pub(super) fn basis(untouched: Ended) -> Basis {
    if untouched.too_few() { Basis::Alone } else { Basis::BesideUntouched }
}

/// The verdict; `early` before the review day.
pub(super) fn verdict(early: bool, touched: Ended, untouched: Ended) -> Verdict {
    if early || touched.after.cases == 0 {
        return Verdict::TooEarly;
    }
    if touched.too_few() {
        return Verdict::TooFew;
    }
    let interval = match basis(untouched) {
        Basis::BesideUntouched => {
            difference_in_differences(touched.pairs(), untouched.pairs(), LEVEL)
        }
        Basis::Alone => {
            let [after, before] = touched.pairs();
            newcombe(after.0, after.1, before.0, before.1, LEVEL)
        }
    };
    match interval {
        Some((_, high)) if high < 0.0 => Verdict::FewerComebacks,
        Some((low, _)) if low > 0.0 => Verdict::MoreComebacks,
        _ => Verdict::NoEvidence,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ended(before: (i64, i64), after: (i64, i64)) -> Ended {
        let cases = |(returns, cases)| Cases { cases, returns };
        Ended { before: cases(before), after: cases(after) }
    }

    /// In Python from the formulas: 2/60 less 15/50 is -0.267 (-0.406 to -0.131);
    /// less 11/100 less 10/100 of others, -0.277 (-0.442 to -0.115). Turned
    /// over, 0.267 (0.131 to 0.406) and 0.257 (0.095 to 0.422).
    #[test]
    fn the_verdict_needs_a_difference_beside_the_others() {
        let better = ended((15, 50), (2, 60));
        let worse = ended((2, 60), (15, 50));
        let level = ended((10, 100), (11, 100));
        let nobody = ended((0, 0), (0, 0));
        for (touched, untouched, expected) in [
            (better, level, Verdict::FewerComebacks),
            (worse, level, Verdict::MoreComebacks),
            (level, level, Verdict::NoEvidence),
            (better, better, Verdict::NoEvidence),
            (better, nobody, Verdict::FewerComebacks),
            (worse, nobody, Verdict::MoreComebacks),
            (ended((5, 50), (1, 9)), level, Verdict::TooFew),
            (ended((1, 9), (5, 50)), level, Verdict::TooFew),
            (ended((5, 50), (0, 0)), level, Verdict::TooEarly),
        ] {
            assert_eq!(verdict(false, touched, untouched), expected, "{touched:?} {untouched:?}");
        }
        assert_eq!(verdict(true, better, level), Verdict::TooEarly);
        assert_eq!(basis(ended((1, 30), (0, 9))), Basis::Alone);
        assert_eq!(basis(level), Basis::BesideUntouched);
    }
}
