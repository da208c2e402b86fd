//! Labor sums to ratios.

use std::ops::AddAssign;

use serde::Serialize;

use super::sums::{ByKind, Kind, Sums};
use crate::figure::{Interval, TOO_FEW};
use crate::follow::{LEVEL, Period};
use crate::stats::normal_quantile;
use crate::stats::ratio::RatioSums;

/// A ratio of sums.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ratio {
    /// Jobs the sums are over.
    pub count: i64,
    /// Absent where nothing was clocked (or billed), and of efficiencies where no
    /// flat-rate hours were credited.
    pub value: Option<f64>,
    /// Linearized; from ten jobs on.
    pub standard_error: Option<f64>,
    pub interval: Option<Interval>,
    pub too_few: bool,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    pub jobs: String,
}

impl Ratio {
    /// From sums, with the factor that turns their units into the figure's.
    pub(super) fn new(
        sums: &RatioSums,
        factor: f64,
        definition: &'static str,
        jobs: String,
    ) -> Self {
        let value = sums.ratio().map(|ratio| ratio * factor);
        let too_few = sums.cases < TOO_FEW;
        let standard_error = sums.standard_error().filter(|_| !too_few).map(|error| error * factor);
        let interval =
            value.zip(standard_error).zip(normal_quantile(LEVEL)).map(|((value, error), z)| {
                Interval {
                    low: z.mul_add(-error, value).max(0.0),
                    high: z.mul_add(error, value),
                    level: LEVEL,
                    method: "linearized",
                }
            });
        Self { count: sums.cases, value, standard_error, interval, too_few, definition, jobs }
    }

    /// Absent where nothing stands above the line: work without flat-rate hours
    /// is neither quick nor slow.
    pub(super) fn credited(self, sums: &RatioSums) -> Self {
        if sums.numerator > 0 {
            return self;
        }
        Self { value: None, standard_error: None, interval: None, ..self }
    }
}

/// The three ratios of one person's or one team's week.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WeekRatios {
    /// Clock over attended hours.
    pub productivity: Option<f64>,
    /// Flat-rate over clock hours.
    pub efficiency: Option<f64>,
    /// Flat-rate over attended hours.
    pub overall: Option<f64>,
}

/// From hours attended, on the clock, and flat-rate. A ratio to zero hours is
/// absent.
#[must_use]
pub fn week_ratios(attended: f64, clock: f64, flat_rate: f64) -> WeekRatios {
    let ratio = |over: f64, under: f64| (under > 0.0).then(|| over / under);
    WeekRatios {
        productivity: ratio(clock, attended),
        efficiency: ratio(flat_rate, clock),
        overall: ratio(flat_rate, attended),
    }
}

/// Sums of a period, apart by what is credited.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct PeriodSums {
    /// Jobs with clock time that are no comebacks.
    pub first: Sums,
    /// Comebacks with clock time.
    pub comeback: Sums,
    /// Jobs without clock time.
    pub unclocked: Sums,
    /// Flat-rate hundredths of jobs that are no comebacks, on the clock or not.
    pub credited: i64,
}

impl AddAssign for PeriodSums {
    fn add_assign(&mut self, other: Self) {
        self.first += other.first;
        self.comeback += other.comeback;
        self.unclocked += other.unclocked;
        self.credited += other.credited;
    }
}

impl PeriodSums {
    pub fn new(by_kind: &ByKind, period: &Period) -> Self {
        let mut sums = Self::default();
        for (kind, more) in by_kind.iter().filter(|(kind, _)| period.holds(kind.closed_day)) {
            *sums.of(*kind) += *more;
            sums.credited += if kind.comeback { 0 } else { more.efficiency.numerator };
        }
        sums
    }

    const fn of(&mut self, kind: Kind) -> &mut Sums {
        match (kind.clocked, kind.comeback) {
            (false, _) => &mut self.unclocked,
            (true, false) => &mut self.first,
            (true, true) => &mut self.comeback,
        }
    }

    /// Flat-rate over clock with comebacks: their clock counts, their
    /// flat-rate hours are not credited.
    pub fn efficiency(&self) -> RatioSums {
        let mut sums = self.first.efficiency;
        sums += RatioSums {
            numerator: 0,
            numerator_squared: 0,
            product: 0,
            ..self.comeback.efficiency
        };
        sums
    }

    pub fn rate(&self) -> RatioSums {
        let mut sums = self.first.rate;
        sums += self.comeback.rate;
        sums += self.unclocked.rate;
        sums
    }

    pub fn jobs(&self) -> i64 {
        self.first.efficiency.cases
            + self.comeback.efficiency.cases
            + self.unclocked.efficiency.cases
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_week_of_one_technician() {
        // The definitions by hand: 35/40, 42/35, 42/40.
        let week = week_ratios(40.0, 35.0, 42.0);
        let close = |value: Option<f64>, expected: f64| (value.unwrap() - expected).abs() < 1e-12;
        assert!(close(week.productivity, 0.875));
        assert!(close(week.efficiency, 1.2));
        assert!(close(week.overall, 1.05));
    }

    #[test]
    fn no_hours_make_no_ratio() {
        let week = week_ratios(0.0, 0.0, 3.0);
        assert_eq!((week.productivity, week.efficiency, week.overall), (None, None, None));
    }
}
