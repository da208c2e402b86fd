//! Run rules: patterns of points that chance seldom makes, though each point
//! alone may lie inside its limits.
//!
//! Sources: Nelson (1984) Journal of Quality Technology 16:237-239; Western
//! Electric, Statistical Quality Control Handbook (1956).
//!
//! Points are distances from the center in standard deviations. A point on a
//! line is not beyond it, so one exactly on the center ends a run on one side;
//! equal neighbors end a rise, a fall and an alternation.

/// A pattern of neighboring points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Rule {
    OneBeyondThree,
    NineOnOneSide,
    SixRisingOrFalling,
    FourteenAlternating,
    TwoOfThreeBeyondTwo,
    FourOfFiveBeyondOne,
    FifteenWithinOne,
    EightBeyondOne,
    EightOnOneSide,
}

/// Nelson's rules 1 to 8, in his order.
pub const NELSON: [Rule; 8] = [
    Rule::OneBeyondThree,
    Rule::NineOnOneSide,
    Rule::SixRisingOrFalling,
    Rule::FourteenAlternating,
    Rule::TwoOfThreeBeyondTwo,
    Rule::FourOfFiveBeyondOne,
    Rule::FifteenWithinOne,
    Rule::EightBeyondOne,
];

/// The Western Electric handbook's rules 1 to 4, in its order.
pub const WESTERN_ELECTRIC: [Rule; 4] = [
    Rule::OneBeyondThree,
    Rule::TwoOfThreeBeyondTwo,
    Rule::FourOfFiveBeyondOne,
    Rule::EightOnOneSide,
];

impl Rule {
    /// The rule in plain words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::OneBeyondThree => "one beyond three sigma",
            Self::NineOnOneSide => "nine in a row on one side",
            Self::SixRisingOrFalling => "six in a row rising or falling",
            Self::FourteenAlternating => "fourteen in a row up and down in turn",
            Self::TwoOfThreeBeyondTwo => "two of three beyond two sigma on one side",
            Self::FourOfFiveBeyondOne => "four of five beyond one sigma on one side",
            Self::FifteenWithinOne => "fifteen in a row within one sigma",
            Self::EightBeyondOne => "eight in a row beyond one sigma on either side",
            Self::EightOnOneSide => "eight in a row on one side",
        }
    }

    /// How many neighboring points the rule looks at.
    #[must_use]
    pub fn window(self) -> usize {
        match self {
            Self::OneBeyondThree => 1,
            Self::TwoOfThreeBeyondTwo => 3,
            Self::FourOfFiveBeyondOne => 5,
            Self::SixRisingOrFalling => 6,
            Self::EightBeyondOne | Self::EightOnOneSide => 8,
            Self::NineOnOneSide => 9,
            Self::FourteenAlternating => 14,
            Self::FifteenWithinOne => 15,
        }
    }

    /// Places (from 0) of all points where a window that meets the rule ends.
    /// A window with a value that is no number meets none.
    #[must_use]
    pub fn met_at(self, z: &[f64]) -> Vec<usize> {
        let last = self.window() - 1;
        z.windows(self.window())
            .enumerate()
            .filter(|(_, points)| self.is_met(points))
            .map(|(first, _)| first + last)
            .collect()
    }

    fn is_met(self, points: &[f64]) -> bool {
        if points.iter().any(|z| z.is_nan()) {
            return false;
        }
        match self {
            Self::OneBeyondThree => beyond(points, 3.0, 1),
            Self::TwoOfThreeBeyondTwo => beyond(points, 2.0, 2),
            Self::FourOfFiveBeyondOne => beyond(points, 1.0, 4),
            Self::NineOnOneSide | Self::EightOnOneSide => beyond(points, 0.0, points.len()),
            Self::EightBeyondOne => points.iter().all(|z| z.abs() > 1.0),
            Self::FifteenWithinOne => points.iter().all(|z| z.abs() < 1.0),
            Self::SixRisingOrFalling => {
                points.is_sorted_by(|a, b| a < b) || points.is_sorted_by(|a, b| a > b)
            }
            Self::FourteenAlternating => points
                .windows(3)
                .all(|turn| matches!(turn, [a, b, c] if (a < b && b > c) || (a > b && b < c))),
        }
    }
}

/// At least so many points lie beyond the line on one and the same side.
fn beyond(points: &[f64], line: f64, least: usize) -> bool {
    let above = points.iter().filter(|&&z| z > line).count();
    let below = points.iter().filter(|&&z| z < -line).count();
    above.max(below) >= least
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rules() -> impl Iterator<Item = Rule> {
        NELSON.into_iter().chain(WESTERN_ELECTRIC)
    }

    /// Values on and about the lines, with ties.
    fn points() -> impl Strategy<Value = Vec<f64>> {
        proptest::collection::vec((-14_i32..=14).prop_map(|step| f64::from(step) / 4.0), 0..60)
    }

    #[test]
    fn names_tell_the_rules_apart() {
        let mut names: Vec<&str> = NELSON.iter().map(|rule| rule.name()).collect();
        names.push(Rule::EightOnOneSide.name());
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), 9);
    }

    #[test]
    fn what_is_no_number_meets_nothing() {
        for rule in rules() {
            assert_eq!(rule.met_at(&[]), vec![0; 0]);
            assert_eq!(rule.met_at(&[f64::NAN; 20]), vec![0; 0]);
        }
        assert_eq!(Rule::OneBeyondThree.met_at(&[f64::INFINITY, 3.0, -3.1]), vec![0, 2]);
        assert_eq!(Rule::TwoOfThreeBeyondTwo.met_at(&[2.5, f64::NAN, 2.5]), vec![0; 0]);
    }

    /// By hand: a tie, a zero or a value on the line ends the pattern, one
    /// more point makes it.
    #[test]
    fn each_rule_at_its_edge() {
        assert_eq!(Rule::SixRisingOrFalling.met_at(&[0.0, 0.1, 0.2, 0.3, 0.4, 0.4]), vec![0; 0]);
        assert_eq!(Rule::SixRisingOrFalling.met_at(&[0.5, 0.4, 0.3, 0.2, 0.1, 0.0]), vec![5]);
        let mut side = [0.5; 9];
        assert_eq!(Rule::NineOnOneSide.met_at(&side), vec![8]);
        assert_eq!(Rule::EightOnOneSide.met_at(&side), vec![7, 8]);
        side[4] = 0.0;
        assert_eq!(Rule::NineOnOneSide.met_at(&side), vec![0; 0]);
        assert_eq!(Rule::TwoOfThreeBeyondTwo.met_at(&[2.1, -2.1, 0.0, 2.0, -2.1]), vec![0; 0]);
        assert_eq!(Rule::TwoOfThreeBeyondTwo.met_at(&[-2.1, 0.0, -2.1]), vec![2]);
        assert_eq!(Rule::FourOfFiveBeyondOne.met_at(&[1.1, 1.1, -9.0, 1.1, 1.1]), vec![4]);
        assert_eq!(Rule::FourOfFiveBeyondOne.met_at(&[1.1, 1.1, -9.0, 1.0, 1.1]), vec![0; 0]);
        assert_eq!(Rule::EightBeyondOne.met_at(&[1.1, -1.1, 2.0, -3.0, 1.1, 1.1, 1.1, -1.1]), [7]);
        let unmet = Rule::EightBeyondOne.met_at(&[1.1, -1.0, 2.0, -3.0, 1.1, 1.1, 1.1, 9.0]);
        assert_eq!(unmet, Vec::<usize>::new());
    }

    proptest! {
        /// Turning the chart over changes nothing; running time backwards
        /// finds the same windows from the other end.
        #[test]
        fn rules_are_symmetric(z in points()) {
            let over: Vec<f64> = z.iter().map(|z| -z).collect();
            let back: Vec<f64> = z.iter().rev().copied().collect();
            for rule in rules() {
                let met = rule.met_at(&z);
                prop_assert_eq!(&met, &rule.met_at(&over));
                let first_of_window = |end: usize| z.len() - 1 - end + rule.window() - 1;
                let mut again: Vec<usize> =
                    rule.met_at(&back).into_iter().map(first_of_window).collect();
                again.reverse();
                prop_assert_eq!(&met, &again);
            }
        }

        /// What comes later never changes what was seen before, and each place
        /// is judged by its own window alone.
        #[test]
        fn what_comes_later_changes_nothing(z in points(), cut in 0_usize..60) {
            let cut = cut.min(z.len());
            for rule in rules() {
                let met = rule.met_at(&z);
                let before: Vec<usize> = met.iter().copied().filter(|&at| at < cut).collect();
                prop_assert_eq!(rule.met_at(&z[..cut]), before);
                for at in met {
                    let own = &z[at + 1 - rule.window()..=at];
                    prop_assert_eq!(rule.met_at(own), vec![rule.window() - 1]);
                }
            }
        }

        /// Nine on one side are eight on one side, for the point before too.
        #[test]
        fn nine_are_eight(z in proptest::collection::vec(-1.0_f64..4.0, 0..60)) {
            let eight = Rule::EightOnOneSide.met_at(&z);
            for at in Rule::NineOnOneSide.met_at(&z) {
                prop_assert!(eight.contains(&at) && eight.contains(&(at - 1)));
            }
        }
    }
}
