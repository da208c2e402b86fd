//! The two-parameter Weibull life by maximum likelihood, with units still
//! alive at their last time (right censoring) and integer counts.
//!
//! Share alive at t: exp(-(t / scale)^shape). Sources: Nelson (1982) Applied
//! Life Data Analysis, chapter 8; Meeker and Escobar (1998) Statistical
//! Methods for Reliability Data, chapter 8. Standard errors are those of the
//! observed information of the two logarithms, intervals are normal on the
//! logarithmic scale (delta method).

use statrs::function::gamma::{checked_gamma_ur, ln_gamma};

use super::{normal_quantile, rising_root};

/// Beyond this shape the event times differ by rounding only.
const STEEPEST_SHAPE: f64 = 1e12;

/// What happened at one time, as integer counts. Several entries may share a
/// time; their counts add.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Hours, days or distance: any unit that starts at 0.
    pub time: f64,
    pub events: i64,
    pub censored: i64,
}

/// An estimate with its standard error and interval, in its own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    pub value: f64,
    pub standard_error: f64,
    pub low: f64,
    pub high: f64,
}

/// The test of shape 1: a life with one steady event rate (exponential).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapeTest {
    /// Mean life under a steady rate: all time over all events.
    pub exponential_mean: f64,
    pub exponential_log_likelihood: f64,
    /// Twice the gain in log likelihood.
    pub statistic: f64,
    /// Its probability by chi-square with one degree of freedom.
    pub p: f64,
}

/// A fitted life.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    pub units: i64,
    pub events: i64,
    /// Below 1 the event rate falls with age, above 1 it rises.
    pub shape: f64,
    /// The time by which 63.2 % had the event.
    pub scale: f64,
    pub log_likelihood: f64,
    log_scale: f64,
    log_scale_variance: f64,
    log_shape_variance: f64,
    /// Of log scale with log shape.
    covariance: f64,
    exponential_log_mean: f64,
}

/// Moments that count, with the logarithms of their times.
struct Sample {
    /// Logarithm of time, events, units; ascending.
    rows: Vec<(f64, f64, f64)>,
    events: i64,
    units: i64,
    /// Logarithm of the last time.
    last: f64,
    /// Mean of log(t / last) over the events.
    mean_event: f64,
}

/// Sums over all units at one shape, of z = (t / last)^shape and of its
/// products with log(t / last).
struct Sums {
    plain: f64,
    first: f64,
    second: f64,
}

impl Sample {
    fn new(moments: impl IntoIterator<Item = Moment>) -> Option<Self> {
        let mut moments: Vec<Moment> = moments
            .into_iter()
            .map(|m| Moment { events: m.events.max(0), censored: m.censored.max(0), ..m })
            .filter(|m| m.events > 0 || m.censored > 0)
            .collect();
        if moments.iter().any(|m| !(m.time > 0.0 && m.time.is_finite())) {
            return None;
        }
        moments.sort_unstable_by(|a, b| a.time.total_cmp(&b.time));
        let (mut rows, mut events, mut units, mut event_times) = (Vec::new(), 0_i64, 0_i64, 0);
        for group in moments.chunk_by(|a, b| a.time == b.time) {
            let (mut d, mut n) = (0_i64, 0_i64);
            for moment in group {
                d = d.checked_add(moment.events)?;
                n = n.checked_add(moment.events)?.checked_add(moment.censored)?;
            }
            rows.push((group.first()?.time.ln(), d as f64, n as f64));
            events = events.checked_add(d)?;
            units = units.checked_add(n)?;
            event_times += i32::from(d > 0);
        }
        if event_times < 2 {
            return None;
        }
        let last = rows.last()?.0;
        // Distances from the last time, so that equal times stay exact.
        let sum: f64 = rows.iter().map(|(log, d, _)| d * (log - last)).sum();
        Some(Self { rows, events, units, last, mean_event: sum / events as f64 })
    }

    fn sums(&self, shape: f64) -> Sums {
        let mut sums = Sums { plain: 0.0, first: 0.0, second: 0.0 };
        for (log, _, n) in &self.rows {
            let y = log - self.last;
            let z = n * (shape * y).exp();
            sums.plain += z;
            sums.first += z * y;
            sums.second += z * y * y;
        }
        sums
    }

    /// The likelihood equation of the shape with the scale at its best: it
    /// rises with the shape and is 0 at the estimate.
    fn slope(&self, shape: f64) -> f64 {
        let sums = self.sums(shape);
        sums.first / sums.plain - self.mean_event - 1.0 / shape
    }

    fn shape(&self) -> Option<f64> {
        let (mut low, mut high) = (1.0, 1.0);
        while self.slope(high) < 0.0 {
            high *= 2.0;
            if high > STEEPEST_SHAPE {
                return None;
            }
        }
        while self.slope(low) >= 0.0 {
            low /= 2.0;
            if low < 1.0 / STEEPEST_SHAPE {
                return None;
            }
        }
        Some(rising_root(low, high, 0.0, |shape| self.slope(shape)))
    }
}

/// Fits a life to these counts, in any order; negative counts count as none.
///
/// `None` below two distinct event times (no shape to be seen), for a time
/// that is not positive and finite, and where the counts or the estimates pass
/// what their numbers hold.
#[must_use]
pub fn fit(moments: impl IntoIterator<Item = Moment>) -> Option<Fit> {
    let sample = Sample::new(moments)?;
    let shape = sample.shape()?;
    let sums = sample.sums(shape);
    let d = sample.events as f64;
    // log(scale / last), from: sum of (t / scale)^shape = events.
    let offset = (sums.plain / d).ln() / shape;
    let log_scale = sample.last + offset;
    let scale = log_scale.exp();
    let log_likelihood =
        d * (shape.ln() - log_scale + (shape - 1.0) * (sample.mean_event - offset) - 1.0);
    // Means of z = shape log(t / scale) and of its square, each unit weighing
    // (t / scale)^shape: these weights add up to the events.
    let (one, two) = (sums.first / sums.plain, sums.second / sums.plain);
    let first = shape * (one - offset);
    let second = shape * shape * (two - 2.0 * one * offset + offset * offset);
    // The determinant of the information over shape^2 times the events.
    let determinant = d * (1.0 + shape * shape * (two - one * one));
    let exponential_log_mean = sample.last + (sample.sums(1.0).plain / d).ln();
    let fit = Fit {
        units: sample.units,
        events: sample.events,
        shape,
        scale,
        log_likelihood,
        log_scale,
        log_scale_variance: (1.0 + second) / (shape * shape * determinant),
        log_shape_variance: 1.0 / determinant,
        covariance: first / (shape * determinant),
        exponential_log_mean,
    };
    let sound = scale > 0.0
        && [scale, log_likelihood, fit.log_scale_variance, fit.covariance]
            .iter()
            .all(|value| value.is_finite());
    sound.then_some(fit)
}

/// An estimate from its logarithm and the variance of that.
fn from_log(log: f64, variance: f64, level: f64) -> Option<Estimate> {
    let z = normal_quantile(level)?;
    let (value, error) = (log.exp(), variance.max(0.0).sqrt());
    Some(Estimate {
        value,
        standard_error: value * error,
        low: (log - z * error).exp(),
        high: (log + z * error).exp(),
    })
}

impl Fit {
    /// Covariance of log scale and log shape.
    #[must_use]
    pub fn log_covariance(&self) -> f64 {
        self.covariance
    }

    /// The shape with its interval; `None` for a level outside 0 to 1.
    #[must_use]
    pub fn shape_estimate(&self, level: f64) -> Option<Estimate> {
        from_log(self.shape.ln(), self.log_shape_variance, level)
    }

    /// The scale with its interval; `None` for a level outside 0 to 1. With
    /// few events the upper end may be infinite.
    #[must_use]
    pub fn scale_estimate(&self, level: f64) -> Option<Estimate> {
        from_log(self.log_scale, self.log_scale_variance, level)
    }

    /// The time by which a share `p` had the event: 0.1 gives the B10 life.
    /// `None` unless `p` and `level` lie strictly between 0 and 1.
    #[must_use]
    pub fn life(&self, p: f64, level: f64) -> Option<Estimate> {
        if !(p > 0.0 && p < 1.0) {
            return None;
        }
        // log life = log scale + g / shape.
        let g = (-(-p).ln_1p()).ln();
        let weight = g / self.shape;
        let variance = self.log_scale_variance + weight * weight * self.log_shape_variance
            - 2.0 * weight * self.covariance;
        from_log(self.log_scale + weight, variance, level)
    }

    /// Mean life, scale x gamma(1 + 1 / shape); `None` where it passes what a
    /// number holds (a shape near 0).
    #[must_use]
    pub fn mean_life(&self) -> Option<f64> {
        let mean = (self.log_scale + ln_gamma(1.0 + 1.0 / self.shape)).exp();
        mean.is_finite().then_some(mean)
    }

    /// The likelihood-ratio test of shape 1. `None` where the exponential mean
    /// passes what a number holds.
    #[must_use]
    pub fn shape_test(&self) -> Option<ShapeTest> {
        let mean = self.exponential_log_mean.exp();
        let log_likelihood = -(self.events as f64) * (self.exponential_log_mean + 1.0);
        // At the best shape the likelihood cannot be lower: below 0 is rounding.
        let statistic = (2.0 * (self.log_likelihood - log_likelihood)).max(0.0);
        let p = if statistic > 0.0 { checked_gamma_ur(0.5, statistic / 2.0).ok()? } else { 1.0 };
        mean.is_finite().then_some(ShapeTest {
            exponential_mean: mean,
            exponential_log_likelihood: log_likelihood,
            statistic,
            p,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fit_of(rows: &[(f64, i64, i64)]) -> Option<Fit> {
        fit(rows.iter().map(|&(time, events, censored)| Moment { time, events, censored }))
    }

    #[test]
    fn too_little_or_no_times_have_no_fit() {
        assert_eq!(fit_of(&[]), None);
        assert_eq!(fit_of(&[(5.0, 0, 9), (7.0, 0, 1)]), None);
        assert_eq!(fit_of(&[(5.0, 3, 0), (7.0, 0, 1)]), None);
        for time in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(fit_of(&[(5.0, 1, 0), (6.0, 1, 0), (time, 0, 1)]), None);
            assert!(fit_of(&[(5.0, 1, 0), (6.0, 1, 0), (time, 0, 0)]).is_some());
        }
        assert_eq!(fit_of(&[(5.0, i64::MAX, 0), (6.0, i64::MAX, 0)]), None);
        assert!(fit_of(&[(1e-300, 1, 0), (1e300, 1, 0)]).is_some());
        let fit = fit_of(&[(5.0, 1, 0), (6.0, 1, 0)]).unwrap();
        assert_eq!(fit.life(0.0, 0.95), None);
        assert_eq!(fit.life(f64::NAN, 0.95), None);
        assert_eq!(fit.scale_estimate(1.0), None);
    }

    fn rows() -> impl Strategy<Value = Vec<(f64, i64, i64)>> {
        proptest::collection::vec((1.0_f64..1000.0, 0_i64..3, 0_i64..4), 2..25)
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-7 * (1.0 + b.abs())
    }

    proptest! {
        /// Another unit of time changes the scale alone; a power of time
        /// divides the shape (both identities of the distribution).
        #[test]
        fn units_of_time_do_not_matter(rows in rows(), factor in 1e-6_f64..1e6) {
            let Some(plain) = fit_of(&rows) else { return Ok(()) };
            let other: Vec<_> = rows.iter().map(|&(t, d, c)| (t * factor, d, c)).collect();
            let scaled = fit_of(&other).unwrap();
            prop_assert!(near(scaled.shape, plain.shape));
            prop_assert!(near(scaled.scale / factor, plain.scale));
            let lost = plain.events as f64 * factor.ln();
            prop_assert!(near(scaled.log_likelihood + lost, plain.log_likelihood));
            let (a, b) = (scaled.shape_test().unwrap(), plain.shape_test().unwrap());
            prop_assert!((a.statistic - b.statistic).abs() < 1e-6);
            let squared: Vec<_> = rows.iter().map(|&(t, d, c)| (t * t, d, c)).collect();
            prop_assert!(near(fit_of(&squared).unwrap().shape * 2.0, plain.shape));
        }

        /// Counts are frequency weights, and the order of rows is nothing.
        #[test]
        fn counts_are_repeated_rows(rows in rows()) {
            let split: Vec<_> = rows.iter().rev()
                .flat_map(|&(t, d, c)| {
                    let events = std::iter::repeat_n((t, 1, 0), d as usize);
                    events.chain(std::iter::repeat_n((t, 0, 1), c as usize))
                })
                .collect();
            prop_assert_eq!(fit_of(&rows), fit_of(&split));
        }

        /// No other shape or scale makes the rows likelier, and the expected
        /// number of events is the observed one (the score of the scale).
        #[test]
        fn the_fit_is_the_likeliest(rows in rows(), step in -0.3_f64..0.3, turn in -0.3_f64..0.3) {
            let Some(fit) = fit_of(&rows) else { return Ok(()) };
            let log_likelihood = |shape: f64, scale: f64| -> f64 {
                rows.iter().map(|&(t, d, c)| {
                    let log_hazard = shape * (t / scale).ln();
                    let hazard = log_hazard.exp();
                    let density = (shape / t).ln() + log_hazard;
                    d as f64 * density - (d + c) as f64 * hazard
                }).sum()
            };
            let best = log_likelihood(fit.shape, fit.scale);
            prop_assert!(near(best, fit.log_likelihood));
            let other = log_likelihood(fit.shape * step.exp(), fit.scale * turn.exp());
            prop_assert!(other <= best + 1e-9 * (1.0 + best.abs()));
        }

        /// Lives rise with the share, and every interval holds its point.
        #[test]
        fn lives_rise_and_lie_inside(rows in rows()) {
            let Some(fit) = fit_of(&rows) else { return Ok(()) };
            let mut before = 0.0;
            for p in [0.01, 0.1, 0.5, 0.9, 0.99] {
                let life = fit.life(p, 0.95).unwrap();
                prop_assert!(before < life.value);
                prop_assert!(life.low <= life.value && life.value <= life.high);
                before = life.value;
            }
            let test = fit.shape_test().unwrap();
            prop_assert!(test.statistic >= 0.0 && (0.0..=1.0).contains(&test.p));
        }
    }
}
