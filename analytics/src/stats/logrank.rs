//! The log-rank test: do groups have the event at the same rate over time?
//!
//! At each event time the events a group is expected to have are its share of
//! the units at risk; observed and expected are compared over all times.
//!
//! Sources: Mantel (1966) Cancer Chemother Rep 50:163-170 (hypergeometric
//! variance); Peto and Peto (1972) J R Stat Soc A 135:185-207 and Harrington
//! and Fleming (1982) Biometrika 69:553-566 for the weights by survival.

use std::collections::BTreeMap;

use statrs::function::gamma::checked_gamma_ur;

use super::survival::Moment;
use super::tally;

/// How much each event time counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weights {
    /// All alike: the log-rank test.
    Equal,
    /// By the share of all units without an event just before (Peto-Peto,
    /// rho = 1): early differences count more.
    Survival,
}

/// One group of a comparison. With weights other than equal, observed and
/// expected are sums of weights.
#[derive(Debug, Clone, PartialEq)]
pub struct Group<G> {
    pub group: G,
    /// Units, whatever became of them.
    pub units: i64,
    /// Events.
    pub observed: f64,
    /// Events expected if all groups were alike.
    pub expected: f64,
}

/// The chi-square test that all groups are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChiSquare {
    pub chi_square: f64,
    pub degrees_of_freedom: i64,
    /// Probability of a chi-square at least as large if the groups are alike.
    pub p: f64,
}

/// Groups held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison<G> {
    /// Ascending by group.
    pub groups: Vec<Group<G>>,
    /// Covariance of observed minus expected, in the order of the groups.
    pub variance: Vec<Vec<f64>>,
    /// `None` unless at least two groups had units at risk when an event
    /// happened, and not everybody had the event at once.
    pub test: Option<ChiSquare>,
}

/// Upper tail of the chi-square distribution, an incomplete gamma function.
/// 1 at or below 0, not a number without degrees of freedom.
#[must_use]
pub fn chi_square_at_least(chi_square: f64, degrees_of_freedom: i64) -> f64 {
    if degrees_of_freedom <= 0 || chi_square.is_nan() {
        return f64::NAN;
    }
    if chi_square <= 0.0 {
        return 1.0;
    }
    if chi_square == f64::INFINITY {
        return 0.0;
    }
    checked_gamma_ur(degrees_of_freedom as f64 / 2.0, chi_square / 2.0).unwrap_or(f64::NAN)
}

/// What happened to one group at one time.
#[derive(Debug, Clone, Copy)]
struct Entry {
    time: i32,
    group: usize,
    events: i64,
    leaving: i64,
}

/// The running sums of a comparison, one item a group.
struct Sums {
    at_risk: Vec<i64>,
    observed: Vec<f64>,
    expected: Vec<f64>,
    /// Empty where it is not asked for.
    variance: Vec<Vec<f64>>,
    /// Share of all units without an event so far.
    survival: f64,
}

impl Sums {
    /// Nobody has had the event yet.
    fn new(at_risk: Vec<i64>, covariance: bool) -> Self {
        let groups = at_risk.len();
        let square = if covariance { groups } else { 0 };
        Self {
            at_risk,
            observed: vec![0.0; groups],
            expected: vec![0.0; groups],
            variance: vec![vec![0.0; square]; square],
            survival: 1.0,
        }
    }

    /// Takes in all entries of one time.
    fn add(&mut self, entries: &[Entry], weights: Weights) {
        let events: i64 = entries.iter().map(|entry| entry.events).sum();
        if events > 0 {
            let weight = match weights {
                Weights::Equal => 1.0,
                Weights::Survival => self.survival,
            };
            for entry in entries {
                if let Some(observed) = self.observed.get_mut(entry.group) {
                    *observed += weight * entry.events as f64;
                }
            }
            self.add_expected(events, weight);
        }
        for entry in entries {
            if let Some(at_risk) = self.at_risk.get_mut(entry.group) {
                *at_risk -= entry.leaving;
            }
        }
    }

    /// What these events would do to every group if all were alike: mean and
    /// covariance of the hypergeometric distribution.
    fn add_expected(&mut self, events: i64, weight: f64) {
        let total: i64 = self.at_risk.iter().sum();
        let (n, d) = (total as f64, events as f64);
        for (expected, own) in self.expected.iter_mut().zip(&self.at_risk) {
            *expected += weight * d * *own as f64 / n;
        }
        if events < total {
            let spread = weight * weight * d * (n - d) / (n - 1.0);
            for (g, (row, own)) in self.variance.iter_mut().zip(&self.at_risk).enumerate() {
                for (h, (cell, other)) in row.iter_mut().zip(&self.at_risk).enumerate() {
                    let rest = if g == h { total - own } else { -other };
                    *cell += spread * (*own as f64 / n) * (rest as f64 / n);
                }
            }
        }
        self.survival *= (n - d) / n;
    }

    /// The quadratic form of observed minus expected. Groups that were never
    /// at risk when an event happened take no part.
    fn test(&self) -> Option<ChiSquare> {
        let takes_part: Vec<bool> = self.expected.iter().map(|expected| *expected > 0.0).collect();
        let rows = kept(&self.variance, &takes_part);
        let variance = rows.iter().map(|row| kept(row, &takes_part)).collect();
        let excess: Vec<f64> =
            self.observed.iter().zip(&self.expected).map(|(o, e)| o - e).collect();
        let excess = kept(&excess, &takes_part);
        let degrees_of_freedom = i64::try_from(excess.len()).ok()? - 1;
        if degrees_of_freedom < 1 {
            return None;
        }
        let chi_square = quadratic_form(variance, excess)?;
        let p = chi_square_at_least(chi_square, degrees_of_freedom);
        Some(ChiSquare { chi_square, degrees_of_freedom, p })
    }
}

/// The items that take part.
fn kept<T: Clone>(items: &[T], takes_part: &[bool]) -> Vec<T> {
    items.iter().zip(takes_part).filter(|(_, keep)| **keep).map(|(item, _)| item.clone()).collect()
}

/// x' V^- x where V is a covariance whose rows add to zero, and so do the x:
/// one of them is told by the others. By elimination, always on the largest
/// variance left. `None` where the variance is zero.
fn quadratic_form(mut variance: Vec<Vec<f64>>, mut excess: Vec<f64>) -> Option<f64> {
    let mut sum = 0.0;
    while excess.len() > 1 {
        let diagonal = variance.iter().enumerate().filter_map(|(i, row)| Some((i, *row.get(i)?)));
        let (pivot, scale) = diagonal.max_by(|(_, a), (_, b)| a.total_cmp(b))?;
        if scale.is_nan() || scale <= 0.0 {
            return None;
        }
        let mut top = variance.swap_remove(pivot);
        top.swap_remove(pivot);
        let lead = excess.swap_remove(pivot);
        sum += lead * lead / scale;
        for (row, rest) in variance.iter_mut().zip(&mut excess) {
            let factor = row.swap_remove(pivot) / scale;
            *rest -= factor * lead;
            for (cell, above) in row.iter_mut().zip(&top) {
                *cell -= factor * above;
            }
        }
    }
    Some(sum)
}

impl<G: Ord> Comparison<G> {
    /// Compares the groups of these moments, given in any order. Negative
    /// counts count as none. Meant for up to some hundred groups: time and
    /// memory grow with their square.
    #[must_use]
    pub fn new(moments: impl IntoIterator<Item = (G, Moment)>, weights: Weights) -> Self {
        let (groups, units, mut sums) = added(moments, weights, true);
        let test = sums.test();
        let variance = std::mem::take(&mut sums.variance);
        Self { groups: listed(groups, units, sums), variance, test }
    }
}

/// The groups alone, without holding each against each: for any number of them.
pub fn groups<G: Ord>(
    moments: impl IntoIterator<Item = (G, Moment)>,
    weights: Weights,
) -> Vec<Group<G>> {
    let (groups, units, sums) = added(moments, weights, false);
    listed(groups, units, sums)
}

/// Ascending by group, with the units of each.
fn listed<G>(groups: Vec<G>, units: Vec<i64>, sums: Sums) -> Vec<Group<G>> {
    let counts = units.into_iter().zip(sums.observed.into_iter().zip(sums.expected));
    let groups = groups.into_iter().zip(counts);
    groups
        .map(|(group, (units, (observed, expected)))| Group { group, units, observed, expected })
        .collect()
}

/// The groups, their units, and what comes of all moments.
fn added<G: Ord>(
    moments: impl IntoIterator<Item = (G, Moment)>,
    weights: Weights,
    covariance: bool,
) -> (Vec<G>, Vec<i64>, Sums) {
    let mut by_group: BTreeMap<G, Vec<Moment>> = BTreeMap::new();
    for (group, moment) in moments {
        by_group.entry(group).or_default().push(moment);
    }
    let mut entries: Vec<Entry> = by_group
        .values()
        .enumerate()
        .flat_map(|(group, moments)| moments.iter().map(move |moment| (group, moment)))
        .map(|(group, moment)| {
            let events = tally(moment.events);
            let leaving = events + tally(moment.censored);
            Entry { time: moment.time, group, events, leaving }
        })
        .collect();
    entries.sort_unstable_by_key(|entry| entry.time);
    let mut units = vec![0; by_group.len()];
    for entry in &entries {
        if let Some(units) = units.get_mut(entry.group) {
            *units += entry.leaving;
        }
    }
    let mut sums = Sums::new(units.clone(), covariance);
    for entries in entries.chunk_by(|a, b| a.time == b.time) {
        sums.add(entries, weights);
    }
    (by_group.into_keys().collect(), units, sums)
}

#[cfg(test)]
mod tests {
    use super::*;

    type Row = (u8, i32, i64, i64);

    fn compare(rows: &[Row], weights: Weights) -> Comparison<u8> {
        let moments = rows
            .iter()
            .map(|&(group, time, events, censored)| (group, Moment { time, events, censored }));
        Comparison::new(moments, weights)
    }

    fn rows() -> impl proptest::strategy::Strategy<Value = Vec<Row>> {
        proptest::collection::vec((0_u8..4, 0_i32..40, -1_i64..4, -1_i64..4), 0..60)
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0)
    }

    #[test]
    fn without_a_comparison_there_is_no_test() {
        let cases: [&[Row]; 6] = [
            &[],
            &[(0, 5, 1, 0)],
            // One group only, and two of which one leaves before any event.
            &[(0, 5, 1, 0), (0, 9, 1, 3)],
            &[(0, 5, 1, 2), (0, 6, 1, 0), (1, 4, 0, 7)],
            // All censored; all events at once.
            &[(0, 5, 0, 4), (1, 6, 0, 4)],
            &[(0, 0, 4, 0), (1, 0, 9, 0)],
        ];
        for rows in cases {
            for weights in [Weights::Equal, Weights::Survival] {
                assert_eq!(compare(rows, weights).test, None, "{rows:?}");
            }
        }
    }

    #[test]
    fn huge_counts_do_not_overflow() {
        let rows = [(0, 1, i64::MAX, i64::MAX), (1, 1, i64::MIN, i64::MAX), (2, 2, 1, 0)];
        let test = compare(&rows, Weights::Equal).test.unwrap();
        assert!(test.chi_square.is_finite() && test.degrees_of_freedom == 2);
    }

    /// Groups of 2 and 2; events at 1 (group 0) and 2 (group 1), the other two
    /// censored at 3. By hand: expected in group 0 is 2/4 + 1/3 = 5/6, variance
    /// 1/4 + 2/9 = 17/36, so (1 - 5/6)^2 / (17/36) = 1/17.
    #[test]
    fn four_units_by_hand() {
        let rows = [(0, 1, 1, 0), (1, 2, 1, 0), (0, 3, 0, 1), (1, 3, 0, 1)];
        let test = compare(&rows, Weights::Equal).test.unwrap();
        assert!(near(test.chi_square, 1.0 / 17.0));
        // A group that left before the first event changes nothing.
        let with_early = [rows.as_slice(), &[(7, 0, 0, 5)]].concat();
        assert_eq!(compare(&with_early, Weights::Equal).test, Some(test));
    }

    /// Closed forms: exp(-x / 2) with two degrees of freedom, and
    /// exp(-x / 2) (1 + x / 2) with four.
    #[test]
    fn the_tail_has_closed_forms() {
        for x in [1e-300, 1e-6, 0.3, 1.0, 2.0, 5.99, 40.0, 700.0] {
            let tail = f64::exp(-x / 2.0);
            assert!((chi_square_at_least(x, 2) / tail - 1.0).abs() < 1e-11, "{x}");
            let four = tail * (1.0 + x / 2.0);
            assert!((chi_square_at_least(x, 4) / four - 1.0).abs() < 1e-11, "{x}");
        }
        assert_eq!(chi_square_at_least(-1.0, 1), 1.0);
        assert_eq!(chi_square_at_least(f64::INFINITY, 1), 0.0);
        assert!(chi_square_at_least(1.0, 0).is_nan());
        assert!(chi_square_at_least(f64::NAN, 1).is_nan());
    }

    proptest::proptest! {
        /// Events are expected as many as happened; a covariance adds to zero
        /// along its rows; with two groups the test is (O - E)^2 / V.
        #[test]
        fn sums_agree(rows in rows(), equal: bool) {
            let weights = if equal { Weights::Equal } else { Weights::Survival };
            let all = compare(&rows, weights);
            let observed: f64 = all.groups.iter().map(|group| group.observed).sum();
            let expected: f64 = all.groups.iter().map(|group| group.expected).sum();
            proptest::prop_assert!(near(observed, expected));
            for row in &all.variance {
                proptest::prop_assert!(near(row.iter().sum(), 0.0));
            }
            let two: Vec<Row> = rows.iter().map(|&(g, t, d, c)| (g % 2, t, d, c)).collect();
            let two = compare(&two, weights);
            if let Some(test) = two.test {
                let excess = two.groups[0].observed - two.groups[0].expected;
                proptest::prop_assert!(near(test.chi_square, excess * excess / two.variance[0][0]));
                proptest::prop_assert!((0.0..=1.0).contains(&test.p));
            }
        }

        /// Neither the order of rows, nor what the groups are called, nor the
        /// unit of time matters; a count of two equals two entries of one.
        #[test]
        fn only_the_order_of_times_matters(rows in rows(), scale in 1_i32..9, equal: bool) {
            let weights = if equal { Weights::Equal } else { Weights::Survival };
            let all = compare(&rows, weights);
            let split: Vec<Row> = rows.iter().rev()
                .flat_map(|&(g, t, d, c)| {
                    let events = (0..d).map(move |_| (9 - g, t * scale - 50, 1, 0));
                    events.chain((0..c).map(move |_| (9 - g, t * scale - 50, 0, 1)))
                })
                .collect();
            match (all.test, compare(&split, weights).test) {
                (Some(a), Some(b)) => {
                    proptest::prop_assert!(near(a.chi_square, b.chi_square));
                    proptest::prop_assert_eq!(a.degrees_of_freedom, b.degrees_of_freedom);
                }
                (a, b) => proptest::prop_assert_eq!(a, b),
            }
        }

        /// Groups that are copies of each other differ by nothing.
        #[test]
        fn copies_do_not_differ(rows in rows()) {
            let copies: Vec<Row> =
                (0..3).flat_map(|g| rows.iter().map(move |&(_, t, d, c)| (g, t, d, c))).collect();
            if let Some(test) = compare(&copies, Weights::Equal).test {
                proptest::prop_assert!(near(test.chi_square, 0.0) && near(test.p, 1.0));
            }
        }
    }
}
