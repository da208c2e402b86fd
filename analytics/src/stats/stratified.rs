//! One group against the rest of several strata: the exact test of its events,
//! given how many events each stratum has.
//!
//! If chance alone deals out a stratum's events, a group's part of them is
//! hypergeometric; over the strata these parts add up.
//!
//! Source: Gart (1970) Biometrika 57:471-475 (exact test in several two-by-two
//! tables; from memory). Two-sided as twice the smaller tail.

/// Most units of a stratum, so that any answer comes in a moment.
const MOST: i64 = 10_000_000;
/// What is no likelier than this, beside the likeliest, is left out.
const LEAST: f64 = 1e-22;

/// A stratum and the group's part of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stratum {
    pub units: i64,
    /// Units with an event.
    pub events: i64,
    /// Units of the group.
    pub own: i64,
}

impl Stratum {
    fn is_sound(&self) -> bool {
        (0..=MOST).contains(&self.units)
            && (0..=self.units).contains(&self.events)
            && (0..=self.units).contains(&self.own)
    }
}

/// Probabilities of the counts from `low` on.
struct Spread {
    low: i64,
    shares: Vec<f64>,
}

/// Probability, if chance alone deals out each stratum's events, that the group
/// has a count at least as far from what is expected as `observed`: twice the
/// smaller tail, at most 1. What is below some 1e-18 reads 0. `None` where the
/// strata's counts do not fit together, or a stratum has over ten million units.
#[must_use]
pub fn two_sided(observed: i64, strata: impl IntoIterator<Item = Stratum>) -> Option<f64> {
    let sum = summed(strata)?;
    let (up, down) = (sum.tail(|count| count >= observed), sum.tail(|count| count <= observed));
    Some((2.0 * up.min(down)).min(1.0))
}

/// Probability of `observed` events or more in the group, if chance alone deals
/// out each stratum's events. `None` as there.
#[must_use]
pub fn at_least(observed: i64, strata: impl IntoIterator<Item = Stratum>) -> Option<f64> {
    Some(summed(strata)?.tail(|count| count >= observed).min(1.0))
}

/// The group's events in all strata together.
fn summed(strata: impl IntoIterator<Item = Stratum>) -> Option<Spread> {
    let mut sum = Spread { low: 0, shares: vec![1.0] };
    for stratum in strata {
        if !stratum.is_sound() {
            return None;
        }
        sum = sum.plus(&Spread::of(&stratum));
    }
    Some(sum)
}

impl Spread {
    /// Probability of the counts that are taken.
    fn tail(&self, takes: impl Fn(i64) -> bool) -> f64 {
        let counts = (self.low..).zip(&self.shares).filter(|(count, _)| takes(*count));
        counts.map(|(_, share)| share).sum()
    }

    /// The group's events in one stratum.
    fn of(stratum: &Stratum) -> Self {
        let Stratum { units, events, own } = *stratum;
        let (least, most) = ((events + own - units).max(0), events.min(own));
        // Ratio of the probability of one more to this one.
        let next = |count: i64| {
            let up = (events - count) as f64 * (own - count) as f64;
            up / ((count + 1) as f64 * (units - events - own + count + 1) as f64)
        };
        let peak = (events + 1) as f64 * (own + 1) as f64 / (units + 2) as f64;
        let peak = (peak as i64).clamp(least, most);
        let above: Vec<f64> = falling((peak..most).map(next)).collect();
        let below: Vec<f64> = falling((least..peak).rev().map(|count| 1.0 / next(count))).collect();
        let low = peak - below.len() as i64;
        let weights = below.into_iter().rev().chain([1.0]).chain(above);
        Self { low, shares: weights.collect() }.whole()
    }

    /// The sum of two independent counts.
    fn plus(&self, other: &Self) -> Self {
        let mut shares = vec![0.0; self.shares.len() + other.shares.len() - 1];
        for (at, ours) in self.shares.iter().enumerate() {
            for (slot, theirs) in shares.iter_mut().skip(at).zip(&other.shares) {
                *slot += ours * theirs;
            }
        }
        let most = shares.iter().copied().fold(0.0, f64::max);
        let tells = |share: &f64| *share >= most * LEAST;
        let skipped = shares.iter().take_while(|share| !tells(share)).count();
        let kept = shares.iter().rposition(tells).map_or(0, |last| last + 1);
        let shares = shares.into_iter().take(kept).skip(skipped).collect();
        Self { low: self.low + other.low + skipped as i64, shares }.whole()
    }

    /// The same, adding up to 1.
    fn whole(mut self) -> Self {
        let sum: f64 = self.shares.iter().sum();
        self.shares.iter_mut().for_each(|share| *share /= sum);
        self
    }
}

/// Running products of ratios from 1 on, for as long as they tell.
fn falling(ratios: impl Iterator<Item = f64>) -> impl Iterator<Item = f64> {
    let products = ratios.scan(1.0, |product, ratio| {
        *product *= ratio;
        Some(*product)
    });
    products.take_while(|product| *product >= LEAST)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn strata() -> impl Strategy<Value = Vec<Stratum>> {
        let one = (1_i64..60).prop_flat_map(|units| (Just(units), 0..=units, 0..=units));
        let one = one.prop_map(|(units, events, own)| Stratum { units, events, own });
        proptest::collection::vec(one, 0..6)
    }

    #[test]
    fn strata_that_do_not_fit_have_no_answer() {
        let fits = Stratum { units: 10, events: 3, own: 4 };
        for bad in [
            Stratum { events: 11, ..fits },
            Stratum { own: 11, ..fits },
            Stratum { events: -1, ..fits },
            Stratum { own: -1, ..fits },
            Stratum { units: i64::MAX, ..fits },
            Stratum { units: -1, events: 0, own: 0 },
        ] {
            assert_eq!(two_sided(1, [fits, bad]), None, "{bad:?}");
        }
        assert_eq!(two_sided(0, []), Some(1.0));
        assert_eq!(two_sided(i64::MAX, [fits]), Some(0.0));
        assert_eq!(two_sided(i64::MIN, [fits]), Some(0.0));
    }

    #[test]
    fn the_largest_strata_are_answered() {
        let half = Stratum { units: MOST, events: MOST / 2, own: MOST / 2 };
        let p = two_sided(MOST / 4, [half, Stratum { units: 9, events: 0, own: 9 }]).unwrap();
        assert!((p - 1.0).abs() < 1e-6, "{p}");
    }

    proptest! {
        /// What the group has not, the rest has: as far from what is expected.
        #[test]
        fn the_rest_is_as_far(strata in strata(), observed in 0_i64..120) {
            let events: i64 = strata.iter().map(|stratum| stratum.events).sum();
            let rest = strata.iter().map(|stratum| Stratum {
                own: stratum.units - stratum.own, ..*stratum
            });
            let ours = two_sided(observed, strata.iter().copied()).unwrap();
            let theirs = two_sided(events - observed, rest).unwrap();
            prop_assert!((0.0..=1.0).contains(&ours));
            prop_assert!((ours - theirs).abs() <= 1e-12, "{ours} against {theirs}");
        }

        /// One tail and the other make the whole, the seen count twice.
        #[test]
        fn tails_make_the_whole(strata in strata(), observed in 0_i64..120) {
            let up = |count: i64| at_least(count, strata.iter().copied()).unwrap();
            let both = two_sided(observed, strata.iter().copied()).unwrap();
            let down = 1.0 - up(observed + 1);
            prop_assert!((both - (2.0 * up(observed).min(down)).min(1.0)).abs() <= 1e-9);
        }

        /// Groups and events may trade places, and the order of strata is free.
        #[test]
        fn the_test_is_symmetric(strata in strata(), observed in 0_i64..120) {
            let turned = strata.iter().rev().map(|stratum| Stratum {
                events: stratum.own, own: stratum.events, ..*stratum
            });
            let ours = two_sided(observed, strata.iter().copied()).unwrap();
            let theirs = two_sided(observed, turned).unwrap();
            prop_assert!((ours - theirs).abs() <= 1e-12);
        }
    }
}
