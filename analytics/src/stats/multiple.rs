//! Many tests at once: p values adjusted for how many were looked at.
//!
//! Sources: Benjamini and Hochberg (1995) JRSS B 57:289-300; Holm (1979)
//! Scandinavian Journal of Statistics 6:65-70.
//!
//! Both take p values in any order and give adjusted ones in the same order,
//! each at most 1 and never below the value it came from. `None` where a
//! value is no number from 0 to 1.

use std::cmp::Ordering;

/// Places of the values in rising order, with the values.
fn rising(p: &[f64]) -> Option<Vec<(usize, f64)>> {
    if p.iter().any(|value| !(0.0..=1.0).contains(value)) {
        return None;
    }
    let mut ranked: Vec<(usize, f64)> = p.iter().copied().enumerate().collect();
    ranked.sort_by(|(_, a), (_, b)| a.partial_cmp(b).unwrap_or(Ordering::Equal));
    Some(ranked)
}

fn in_place(mut adjusted: Vec<(usize, f64)>) -> Vec<f64> {
    adjusted.sort_by_key(|&(place, _)| place);
    adjusted.into_iter().map(|(_, value)| value).collect()
}

/// Benjamini and Hochberg's step-up values: those at most q are, on average,
/// wrong in at most the share q of them.
#[must_use]
pub fn benjamini_hochberg(p: &[f64]) -> Option<Vec<f64>> {
    let ranked = rising(p)?;
    let all = ranked.len() as f64;
    let mut least = 1.0_f64;
    let adjusted = ranked
        .into_iter()
        .enumerate()
        .rev()
        .map(|(below, (place, value))| {
            // The factor is at least 1, so the value never falls.
            least = least.min(value * (all / (below + 1) as f64));
            (place, least)
        })
        .collect();
    Some(in_place(adjusted))
}

/// Holm's step-down values: with those at most a taken, the chance of a single
/// wrong one is at most a.
#[must_use]
pub fn holm(p: &[f64]) -> Option<Vec<f64>> {
    let ranked = rising(p)?;
    let all = ranked.len();
    let mut most = 0.0_f64;
    let adjusted = ranked
        .into_iter()
        .enumerate()
        .map(|(below, (place, value))| {
            most = most.max(value * (all - below) as f64).min(1.0);
            (place, most)
        })
        .collect();
    Some(in_place(adjusted))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn only_probabilities_are_adjusted() {
        for bad in [f64::NAN, -0.1, 1.1, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(benjamini_hochberg(&[0.1, bad, 0.2]), None);
            assert_eq!(holm(&[bad]), None);
        }
        assert_eq!(benjamini_hochberg(&[]), Some(vec![]));
        assert_eq!(holm(&[]), Some(vec![]));
        assert_eq!(benjamini_hochberg(&[0.3]), Some(vec![0.3]));
        assert_eq!(holm(&[0.3]), Some(vec![0.3]));
    }

    proptest! {
        #[test]
        fn adjusting_raises_and_keeps_order(
            mut p in proptest::collection::vec(0.0_f64..=1.0, 0..40), tied in 0.0_f64..=1.0,
        ) {
            p.extend([tied, tied]);
            for method in [benjamini_hochberg, holm] {
                let adjusted = method(&p).unwrap();
                prop_assert_eq!(adjusted.len(), p.len());
                for (i, (&raw, &value)) in p.iter().zip(&adjusted).enumerate() {
                    prop_assert!(raw <= value && value <= 1.0);
                    for (&other, &other_value) in p.iter().zip(&adjusted).skip(i) {
                        prop_assert!(raw > other || value <= other_value);
                        prop_assert!(raw < other || value >= other_value);
                    }
                }
                // The order of the rows never matters.
                let mut back = method(&p.iter().rev().copied().collect::<Vec<_>>()).unwrap();
                back.reverse();
                prop_assert_eq!(&back, &adjusted);
            }
            // The stricter promise is never the smaller value.
            let (some, none) = (benjamini_hochberg(&p).unwrap(), holm(&p).unwrap());
            prop_assert!(some.iter().zip(&none).all(|(some, none)| *some <= none + 1e-15));
        }
    }
}
