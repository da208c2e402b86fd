//! Logistic regression of a yes-or-no outcome on one number, by maximum
//! likelihood with integer counts.
//!
//! Sources: McCullagh and Nelder (1989) Generalized Linear Models, chapter 4;
//! Albert and Anderson (1984) Biometrika 71:1-10 for where no estimate exists.

/// An outcome at a reading, seen this many times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    pub reading: f64,
    /// Whether the event happened.
    pub event: bool,
    pub count: i64,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unfit {
    /// A counted reading is not finite, or the spread of readings or a sum of
    /// counts passes what its number holds.
    NotFinite,
    /// All outcomes are events, or none is.
    OneOutcome,
    /// All readings are the same.
    OneReading,
    /// One reading divides the events from the rest (ties on it allowed): the
    /// steeper the curve the likelier, without end.
    Separated,
    /// The search did not settle: the readings all but divide the outcomes.
    Unsettled,
}

/// A fitted curve: the log odds of the event are intercept + slope x reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    pub units: i64,
    pub events: i64,
    pub intercept: f64,
    /// Per unit of the reading.
    pub slope: f64,
    pub intercept_standard_error: f64,
    pub slope_standard_error: f64,
    /// Of intercept and slope.
    pub covariance: f64,
    pub log_likelihood: f64,
    /// Twice the log likelihood, turned about: 0 for a perfect fit.
    pub deviance: f64,
    /// The deviance of one share for all readings.
    pub null_deviance: f64,
}

impl Fit {
    /// The fitted share with the event at a reading.
    #[must_use]
    pub fn share(&self, reading: f64) -> f64 {
        share(self.slope.mul_add(reading, self.intercept))
    }
}

/// Readings on a scale where they lie between -1 and 1.
struct Sample {
    /// Scaled reading, events, units.
    rows: Vec<(f64, f64, f64)>,
    middle: f64,
    half_range: f64,
    events: i64,
    units: i64,
}

/// Log likelihood at one curve, with its slopes and information by intercept
/// and slope.
struct Local {
    log_likelihood: f64,
    slopes: (f64, f64),
    /// By intercept twice, by both, by slope twice.
    information: (f64, f64, f64),
}

/// 1 / (1 + exp(-log odds)).
fn share(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

impl Sample {
    fn new(outcomes: impl IntoIterator<Item = Outcome>) -> Result<Self, Unfit> {
        let mut outcomes: Vec<Outcome> =
            outcomes.into_iter().filter(|outcome| outcome.count > 0).collect();
        if outcomes.iter().any(|outcome| !outcome.reading.is_finite()) {
            return Err(Unfit::NotFinite);
        }
        outcomes.sort_unstable_by(|a, b| a.reading.total_cmp(&b.reading));
        let ends = |event: bool| {
            let mut these = outcomes.iter().filter(move |o| o.event == event).map(|o| o.reading);
            let low = these.next()?;
            Some((low, these.next_back().unwrap_or(low)))
        };
        let (Some(yes), Some(no)) = (ends(true), ends(false)) else {
            return Err(Unfit::OneOutcome);
        };
        let (low, high) = (yes.0.min(no.0), yes.1.max(no.1));
        let half_range = high / 2.0 - low / 2.0;
        if low == high {
            return Err(Unfit::OneReading);
        }
        if yes.1 <= no.0 || no.1 <= yes.0 {
            return Err(Unfit::Separated);
        }
        let middle = f64::midpoint(low, high);
        let mut sample = Self { rows: Vec::new(), middle, half_range, events: 0, units: 0 };
        for group in outcomes.chunk_by(|a, b| a.reading == b.reading) {
            let Some(first) = group.first() else { continue };
            sample.add(first.reading, group).ok_or(Unfit::NotFinite)?;
        }
        Ok(sample)
    }

    fn add(&mut self, reading: f64, group: &[Outcome]) -> Option<()> {
        let (mut events, mut units) = (0_i64, 0_i64);
        for outcome in group {
            units = units.checked_add(outcome.count)?;
            events = if outcome.event { events.checked_add(outcome.count)? } else { events };
        }
        let scaled = reading / self.half_range - self.middle / self.half_range;
        self.rows.push((scaled, events as f64, units as f64));
        self.events = self.events.checked_add(events)?;
        self.units = self.units.checked_add(units)?;
        scaled.is_finite().then_some(())
    }

    fn at(&self, (intercept, slope): (f64, f64)) -> Local {
        let mut local =
            Local { log_likelihood: 0.0, slopes: (0.0, 0.0), information: (0.0, 0.0, 0.0) };
        for &(x, d, n) in &self.rows {
            let log_odds = slope.mul_add(x, intercept);
            // log(1 + exp(log odds)) without overflow.
            let soft = log_odds.max(0.0) + (-log_odds.abs()).exp().ln_1p();
            local.log_likelihood += d * log_odds - n * soft;
            let (p, q) = (share(log_odds), share(-log_odds));
            let residual = d * q - (n - d) * p;
            local.slopes.0 += residual;
            local.slopes.1 += residual * x;
            let weight = n * p * q;
            local.information.0 += weight;
            local.information.1 += weight * x;
            local.information.2 += weight * x * x;
        }
        local
    }
}

impl Local {
    /// The inverse of the information: variances and covariance.
    fn variances(&self) -> Option<(f64, f64, f64)> {
        let (a, b, c) = self.information;
        let determinant = a * c - b * b;
        (determinant > 0.0 && determinant.is_finite()).then_some((
            c / determinant,
            -b / determinant,
            a / determinant,
        ))
    }
}

/// The likeliest curve by Newton's steps; the log likelihood bends down
/// everywhere, so it has one peak.
fn climb(sample: &Sample) -> Option<((f64, f64), Local)> {
    const MOST_STEPS: usize = 200;
    // No log odds move by more than this: the information stays within exp of
    // it, and full steps come in quadratically. Farther off they may overshoot.
    const NEAR: f64 = 0.1;
    let odds = sample.events as f64 / (sample.units - sample.events) as f64;
    let mut at = (odds.ln(), 0.0);
    let mut here = sample.at(at);
    let mut before = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let (aa, ab, bb) = here.variances()?;
        let (u, v) = here.slopes;
        let step = (aa * u + ab * v, ab * u + bb * v);
        let size = step.0.abs() + step.1.abs();
        let unit = 1.0 + at.0.abs() + at.1.abs();
        // Steps that no longer shrink are the rounding of the sums.
        if size <= 1e-13 * unit || (size <= 1e-7 * unit && size >= before / 2.0) {
            return Some((at, here));
        }
        if size <= NEAR {
            at = (at.0 + step.0, at.1 + step.1);
            here = sample.at(at);
        } else {
            (at, here) = uphill(sample, at, step, here.log_likelihood)?;
        }
        before = size;
    }
    None
}

/// The step, halved until it leads up.
fn uphill(
    sample: &Sample,
    from: (f64, f64),
    step: (f64, f64),
    log_likelihood: f64,
) -> Option<((f64, f64), Local)> {
    const MOST_HALVINGS: i32 = 60;
    (0..MOST_HALVINGS)
        .map(|halvings| {
            let part = 0.5_f64.powi(halvings);
            let to = (from.0 + step.0 * part, from.1 + step.1 * part);
            (to, sample.at(to))
        })
        .find(|(_, there)| there.log_likelihood > log_likelihood)
}

/// Fits the curve to these outcomes, in any order; counts below one are passed
/// over.
///
/// # Errors
///
/// What keeps the likelihood from having one peak, see [`Unfit`].
pub fn fit(outcomes: impl IntoIterator<Item = Outcome>) -> Result<Fit, Unfit> {
    let sample = Sample::new(outcomes)?;
    let ((level, steepness), peak) = climb(&sample).ok_or(Unfit::Unsettled)?;
    let (level_variance, both, steepness_variance) = peak.variances().ok_or(Unfit::Unsettled)?;
    // Back from the scaled reading (reading - middle) / half range.
    let shift = sample.middle / sample.half_range;
    let (d, n) = (sample.events as f64, sample.units as f64);
    let null = d * (d / n).ln() + (n - d) * ((n - d) / n).ln();
    let intercept_variance =
        level_variance - 2.0 * shift * both + shift * shift * steepness_variance;
    let fit = Fit {
        units: sample.units,
        events: sample.events,
        intercept: level - steepness * shift,
        slope: steepness / sample.half_range,
        intercept_standard_error: intercept_variance.max(0.0).sqrt(),
        slope_standard_error: steepness_variance.sqrt() / sample.half_range,
        covariance: (both - shift * steepness_variance) / sample.half_range,
        log_likelihood: peak.log_likelihood,
        deviance: -2.0 * peak.log_likelihood,
        null_deviance: -2.0 * null,
    };
    let sound = [fit.intercept, fit.slope, fit.covariance, fit.intercept_standard_error]
        .iter()
        .all(|value| value.is_finite());
    if sound { Ok(fit) } else { Err(Unfit::NotFinite) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fit_of(rows: &[(f64, bool, i64)]) -> Result<Fit, Unfit> {
        fit(rows.iter().map(|&(reading, event, count)| Outcome { reading, event, count }))
    }

    #[test]
    fn each_reason_for_no_fit() {
        let no = |rows: &[_]| fit_of(rows).unwrap_err();
        assert_eq!(no(&[]), Unfit::OneOutcome);
        assert_eq!(no(&[(1.0, true, 3), (2.0, true, 1), (3.0, false, 0)]), Unfit::OneOutcome);
        assert_eq!(no(&[(1.0, true, 3), (1.0, false, 1)]), Unfit::OneReading);
        assert_eq!(no(&[(1.0, true, 3), (2.0, false, 1)]), Unfit::Separated);
        assert_eq!(no(&[(1.0, false, 3), (2.0, true, 1)]), Unfit::Separated);
        // Ties on the dividing reading alone.
        let tied = [(1.0, true, 3), (2.0, true, 1), (2.0, false, 1), (3.0, false, 1)];
        assert_eq!(no(&tied), Unfit::Separated);
        assert_eq!(no(&[(f64::NAN, true, 1)]), Unfit::NotFinite);
        assert_eq!(no(&[(1.0, true, i64::MAX), (0.0, true, 9), (0.5, false, 9)]), Unfit::NotFinite);
    }

    /// Two readings make a saturated curve, a closed form: the log odds of
    /// each share, variances 1/a + 1/b + 1/c + 1/d (Woolf 1955, Annals of Human
    /// Genetics 19:251-253). Shares 3 of 10 and 8 of 12.
    #[test]
    fn two_readings_are_their_log_odds() {
        let rows = [(0.0, true, 3), (0.0, false, 7), (2.0, true, 8), (2.0, false, 4)];
        let fit = fit_of(&rows).unwrap();
        let (low, high) = ((3.0_f64 / 7.0).ln(), 2.0_f64.ln());
        assert!((fit.intercept - low).abs() < 1e-12);
        assert!((fit.slope - (high - low) / 2.0).abs() < 1e-12);
        let variance: f64 = 1.0 / 3.0 + 1.0 / 7.0;
        assert!((fit.intercept_standard_error - variance.sqrt()).abs() < 1e-9);
        assert!((fit.covariance + variance / 2.0).abs() < 1e-9);
        let variance = variance + 1.0 / 8.0 + 1.0 / 4.0;
        assert!((fit.slope_standard_error - variance.sqrt() / 2.0).abs() < 1e-9);
        assert!((fit.share(2.0) - 8.0 / 12.0).abs() < 1e-12);
    }

    fn rows() -> impl Strategy<Value = Vec<(f64, bool, i64)>> {
        proptest::collection::vec((-50_i32..50, any::<bool>(), 0_i64..4), 0..40)
            .prop_map(|rows| rows.into_iter().map(|(x, e, n)| (f64::from(x), e, n)).collect())
    }

    proptest! {
        /// Fitted events add up to the events seen, and so do their readings
        /// (the likelihood equations).
        #[test]
        fn fitted_events_are_those_seen(rows in rows()) {
            match fit_of(&rows) {
                Ok(fit) => {
                    let (mut count, mut sum) = (0.0, 0.0);
                    for &(x, event, n) in &rows {
                        let gap = n as f64 * (f64::from(u8::from(event)) - fit.share(x));
                        count += gap;
                        sum += gap * x;
                    }
                    prop_assert!(count.abs() < 1e-6 && sum.abs() < 1e-4);
                    prop_assert!(fit.deviance <= fit.null_deviance + 1e-9);
                    prop_assert!(fit.log_likelihood <= 0.0);
                }
                // Whole readings never come so near to a divide.
                Err(unfit) => prop_assert!(!matches!(unfit, Unfit::Unsettled | Unfit::NotFinite)),
            }
        }

        /// Counts are repeated rows in any order; the other outcome and the
        /// mirrored reading turn the slope about.
        #[test]
        fn it_mirrors(rows in rows()) {
            let split: Vec<_> = rows.iter().rev()
                .flat_map(|&(x, event, n)| std::iter::repeat_n((x, event, 1), n as usize))
                .collect();
            let plain = fit_of(&rows);
            prop_assert_eq!(plain, fit_of(&split));
            let Ok(plain) = plain else { return Ok(()) };
            let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * (1.0 + b.abs());
            let other: Vec<_> = rows.iter().map(|&(x, event, n)| (x, !event, n)).collect();
            let other = fit_of(&other).unwrap();
            prop_assert!(near(other.slope, -plain.slope) && near(other.intercept, -plain.intercept));
            prop_assert!(near(other.deviance, plain.deviance));
            let turned: Vec<_> = rows.iter().map(|&(x, event, n)| (-x, event, n)).collect();
            let turned = fit_of(&turned).unwrap();
            prop_assert!(near(turned.slope, -plain.slope) && near(turned.intercept, plain.intercept));
            prop_assert!(near(turned.covariance, -plain.covariance));
        }

        #[test]
        fn any_readings_are_answered(
            rows in proptest::collection::vec(
                (proptest::num::f64::ANY, any::<bool>(), proptest::num::i64::ANY), 0..12,
            ),
        ) {
            if let Ok(fit) = fit_of(&rows) {
                prop_assert!(fit.slope.is_finite() && fit.intercept.is_finite());
            }
        }
    }
}
