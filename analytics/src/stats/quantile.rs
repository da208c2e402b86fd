//! Sample quantiles by two conventions of Hyndman & Fan, "Sample quantiles in
//! statistical packages", The American Statistician 50 (1996) 361-365.

use std::collections::BTreeMap;

/// Where between two neighboring values a quantile lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Convention {
    /// Rank p(n + 1): the engineering handbooks' percentile.
    Six,
    /// Rank p(n - 1) + 1: what most statistical libraries give unasked.
    Seven,
}

/// Lower quartile, median and upper quartile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quartiles {
    pub lower: f64,
    pub median: f64,
    pub upper: f64,
}

/// A whole rank and the fraction of the way to the next.
fn rank(count: u64, p: f64, convention: Convention) -> Option<(u64, f64)> {
    if count == 0 || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let n = count as f64;
    let position = match convention {
        Convention::Six => p * (n + 1.0),
        Convention::Seven => p.mul_add(n - 1.0, 1.0),
    }
    .clamp(1.0, n);
    let whole = position.floor();
    Some((whole as u64, position - whole))
}

/// The quantile at `p` (0 to 1) of ascending values. `None` for no values or
/// `p` outside its range.
#[must_use]
pub fn of_sorted(values: &[f64], p: f64, convention: Convention) -> Option<f64> {
    let (whole, fraction) = rank(values.len() as u64, p, convention)?;
    let at = usize::try_from(whole).ok()?;
    let low = *values.get(at.checked_sub(1)?)?;
    let high = values.get(at).copied().unwrap_or(low);
    Some(fraction.mul_add(high - low, low))
}

/// The quantile at `p` (0 to 1) of a histogram: value to how often it occurs.
/// Counts below one are passed over. `None` for an empty histogram or `p`
/// outside its range.
#[must_use]
pub fn of_histogram(histogram: &BTreeMap<i64, i64>, p: f64, convention: Convention) -> Option<f64> {
    let steps = || {
        histogram
            .iter()
            .filter_map(|(&value, &count)| Some((value, u64::try_from(count).ok()?)))
            .filter(|&(_, count)| count > 0)
    };
    let (whole, fraction) = rank(steps().map(|(_, count)| count).sum(), p, convention)?;
    let mut seen = 0;
    let mut low = None;
    for (value, count) in steps() {
        seen += count;
        if let Some(low) = low {
            return Some((value as f64 - low) * fraction + low);
        }
        if seen > whole || (seen == whole && fraction == 0.0) {
            return Some(value as f64);
        }
        if seen == whole {
            low = Some(value as f64);
        }
    }
    low
}

/// The median of a histogram.
#[must_use]
pub fn median(histogram: &BTreeMap<i64, i64>) -> Option<f64> {
    of_histogram(histogram, 0.5, Convention::Seven)
}

/// Quartiles of a histogram by convention seven.
#[must_use]
pub fn quartiles(histogram: &BTreeMap<i64, i64>) -> Option<Quartiles> {
    let at = |p| of_histogram(histogram, p, Convention::Seven);
    Some(Quartiles { lower: at(0.25)?, median: at(0.5)?, upper: at(0.75)? })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Twelve readings in ascending order, with a tie.
    const READINGS: [i64; 12] = [2, 4, 4, 5, 7, 9, 12, 13, 20, 21, 34, 60];

    // numpy 2.4.6: numpy.quantile(READINGS, P, method="weibull" | "linear");
    // numpy's documentation names them Hyndman & Fan's types 6 and 7.
    const P: [f64; 7] = [0.0, 0.05, 0.25, 0.5, 0.75, 0.9, 1.0];
    const SIX: [f64; 7] = [2.0, 2.0, 4.25, 10.5, 20.75, 52.2, 60.0];
    const SEVEN: [f64; 7] = [2.0, 3.1, 4.75, 10.5, 20.25, 32.7, 60.0];

    fn histogram(values: &[i64]) -> BTreeMap<i64, i64> {
        let mut counts = BTreeMap::new();
        for &value in values {
            *counts.entry(value).or_insert(0) += 1;
        }
        counts
    }

    #[test]
    fn quantiles_agree_with_numpy() {
        let sorted: Vec<f64> = READINGS.iter().map(|&v| v as f64).collect();
        for (convention, expected) in [(Convention::Six, SIX), (Convention::Seven, SEVEN)] {
            for (&p, &value) in P.iter().zip(&expected) {
                let from_slice = of_sorted(&sorted, p, convention).unwrap();
                let from_histogram = of_histogram(&histogram(&READINGS), p, convention).unwrap();
                assert!((from_slice - value).abs() < 1e-12, "{convention:?} {p} {from_slice}");
                assert!((from_histogram - value).abs() < 1e-12, "{convention:?} {p}");
            }
        }
    }

    #[test]
    fn nothing_has_no_quantile() {
        assert_eq!(of_sorted(&[], 0.5, Convention::Seven), None);
        assert_eq!(median(&BTreeMap::new()), None);
        assert_eq!(of_sorted(&[1.0], 1.5, Convention::Six), None);
        assert_eq!(of_sorted(&[1.0], f64::NAN, Convention::Six), None);
    }

    proptest! {
        #[test]
        fn a_histogram_says_what_its_values_say(
            mut values in proptest::collection::vec(-50_i64..50, 1..40),
            p in 0.0..=1.0,
        ) {
            values.sort_unstable();
            let sorted: Vec<f64> = values.iter().map(|&v| v as f64).collect();
            for convention in [Convention::Six, Convention::Seven] {
                let a = of_sorted(&sorted, p, convention).unwrap();
                let b = of_histogram(&histogram(&values), p, convention).unwrap();
                prop_assert!((a - b).abs() < 1e-9);
            }
        }
    }
}
