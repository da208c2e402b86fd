//! From values to places, and the values that stand beside an axis.

use chrono::{Datelike, Days, Months, NaiveDate};

use crate::domain::decimal::thousands;
use crate::domain::style::{DateStyle, Style};

/// Beyond this nothing is drawn to scale: no shop has such a number.
const MOST: f64 = 1e12;

/// What an axis counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    Number,
    /// Shares between 0 and 1, shown in percent.
    Percent,
    /// Days, counted from the first day of our era, as the shop writes them.
    Day(DateStyle),
}

impl Unit {
    const fn is_days(self) -> bool {
        matches!(self, Self::Day(_))
    }
}

/// An axis with its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    pub label: String,
    unit: Unit,
    from: f64,
    to: f64,
    /// Room before the first day and after the last.
    room: f64,
}

impl Axis {
    /// An axis that holds all the values that are numbers, and nothing (0) but
    /// for days. It ends on a value that stands beside it.
    #[must_use]
    pub fn over(label: &str, unit: Unit, values: impl IntoIterator<Item = f64>) -> Self {
        let zero = (!unit.is_days()).then_some(0.0);
        let known = values.into_iter().filter(|value| value.is_finite() && value.abs() <= MOST);
        let ends = zero.into_iter().chain(known).fold(None, |ends: Option<(f64, f64)>, value| {
            Some(ends.map_or((value, value), |(low, high)| (low.min(value), high.max(value))))
        });
        let (from, to) = ends.unwrap_or((0.0, 1.0));
        let mut axis = Self { label: label.to_owned(), unit, from, to, room: 0.0 };
        axis.widen();
        axis
    }

    /// An axis of readings: from the lowest to the highest, with some room.
    #[must_use]
    pub fn around(label: &str, values: impl IntoIterator<Item = f64>) -> Self {
        let known: Vec<f64> =
            values.into_iter().filter(|value| value.is_finite() && value.abs() <= MOST).collect();
        let low = known.iter().copied().fold(f64::INFINITY, f64::min);
        let high = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = if known.is_empty() { (0.0, 1.0) } else { (low, high) };
        let room = if high > low { (high - low) * 0.04 } else { 0.5 };
        let (from, to) = (low - room, high + room);
        Self { label: label.to_owned(), unit: Unit::Number, from, to, room: 0.0 }
    }

    /// With room at both ends: what stands for a day may be wider than that.
    #[must_use]
    pub fn with_room(mut self, room: f64) -> Self {
        self.room = room;
        self
    }

    /// Both ends on values that stand beside the axis.
    fn widen(&mut self) {
        if self.unit.is_days() {
            if self.to - self.from < 1.0 {
                self.to = self.from + 7.0;
            }
            return;
        }
        if self.to <= self.from {
            self.to = self.from + if self.unit == Unit::Percent { 0.1 } else { 1.0 };
        }
        let step = step(self.to - self.from, 5);
        self.from = (self.from / step).floor() * step;
        self.to = (self.to / step).ceil() * step;
    }

    /// How far along a value lies, 0 to 1; values beyond an end lie on it.
    pub(super) fn part(&self, value: f64) -> Option<f64> {
        let (from, to) = (self.from - self.room, self.to + self.room);
        let part = (value - from) / (to - from);
        part.is_finite().then(|| part.clamp(0.0, 1.0))
    }

    /// The value at an end, for lines from end to end.
    #[must_use]
    pub const fn ends(&self) -> (f64, f64) {
        (self.from, self.to)
    }

    /// Values that stand beside the axis, no more than fit.
    pub(super) fn ticks(&self, most: usize) -> Vec<(f64, String)> {
        if let Unit::Day(dates) = self.unit {
            return self.days(most, dates);
        }
        let step = step(self.to - self.from, most.max(1));
        let first = (self.from / step - 1e-9).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        // However odd the numbers, a page is not filled with ticks.
        (first..=last.min(first.saturating_add(50)))
            .map(|count| count as f64 * step)
            .map(|value| (value, self.shown(value, step)))
            .collect()
    }

    fn shown(&self, value: f64, step: f64) -> String {
        let (value, step) = match self.unit {
            Unit::Percent => (value * 100.0, step * 100.0),
            _ => (value, step),
        };
        let decimals = (-(step.log10() + 1e-9).floor()).clamp(0.0, 9.0) as usize;
        // Less than nothing that rounds to nothing has no sign.
        let value = if value.abs() < step / 2.0 { 0.0 } else { value };
        let text = thousands(&format!("{value:.decimals$}"));
        if self.unit == Unit::Percent { format!("{text}%") } else { text }
    }

    /// Weeks from the first day on, where they fit; else first days of months.
    fn days(&self, most: usize, dates: DateStyle) -> Vec<(f64, String)> {
        let style = Style { dates, ..Style::plain() };
        let most = most.max(1) as f64;
        let span = self.to - self.from;
        let weeks = [7.0, 14.0, 28.0].into_iter().find(|step| span / step <= most);
        if let Some(step) = weeks {
            let count = (span / step).floor().clamp(0.0, 60.0) as i64;
            return (0..=count)
                .map(|at| self.from + at as f64 * step)
                .filter_map(|at| Some((at, style.day_of_year(day(at)?))))
                .collect();
        }
        let step = [1, 2, 3, 6, 12, 24, 60, 120]
            .into_iter()
            .find(|step| span / (f64::from(*step) * 30.4) <= most)
            .unwrap_or(1200);
        self.months(step)
    }

    fn months(&self, step: u32) -> Vec<(f64, String)> {
        // From January on, so that quarters are those of the year.
        let january = day(self.from).and_then(|day| day.with_day(1)?.with_month(1));
        let Some(first) = january else { return Vec::new() };
        let mut ticks = Vec::new();
        for at in (0..1200).step_by(step.max(1) as usize) {
            let Some(month) = first.checked_add_months(Months::new(at)) else { break };
            let place = days(month);
            if place > self.to {
                break;
            }
            if place >= self.from {
                // The year is told once, where it begins.
                let year = ticks.is_empty() || month.month() <= step.min(12);
                let format = if year { "%b %Y" } else { "%b" };
                ticks.push((place, month.format(format).to_string()));
            }
        }
        ticks
    }
}

/// A day as a number to draw by.
#[must_use]
pub fn days(day: NaiveDate) -> f64 {
    f64::from(day.num_days_from_ce())
}

fn day(at: f64) -> Option<NaiveDate> {
    let start = NaiveDate::from_num_days_from_ce_opt(1)?;
    let past = at.round() - 1.0;
    (0.0..=4e6).contains(&past).then(|| start.checked_add_days(Days::new(past as u64))).flatten()
}

/// The smallest of 1, 2 and 5 times a power of ten that parts a span in no more
/// than that many.
fn step(span: f64, most: usize) -> f64 {
    let least = span / most.max(1) as f64;
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(least.log10().floor());
    let fits = |times: &&f64| **times * power >= least * (1.0 - 1e-9);
    [1.0, 2.0, 5.0, 10.0].iter().find(fits).map_or(power * 10.0, |times| times * power)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn labels(axis: &Axis, most: usize) -> Vec<String> {
        axis.ticks(most).into_iter().map(|(_, label)| label).collect()
    }

    #[test]
    fn ticks_are_one_two_five() {
        assert_eq!(labels(&Axis::over("", Unit::Number, [17.0]), 5), ["0", "5", "10", "15", "20"]);
        let percent = Axis::over("", Unit::Percent, [0.042]);
        assert_eq!(labels(&percent, 5), ["0%", "1%", "2%", "3%", "4%", "5%"]);
        let both = Axis::over("", Unit::Number, [-3.0, 4.0]);
        assert_eq!(labels(&both, 5), ["-4", "-2", "0", "2", "4"]);
        let large = Axis::over("", Unit::Number, [43_000.0]);
        assert_eq!(labels(&large, 5), ["0", "10,000", "20,000", "30,000", "40,000", "50,000"]);
        assert_eq!(
            labels(&Axis::over("", Unit::Number, [0.003]), 3),
            ["0.000", "0.001", "0.002", "0.003"]
        );
    }

    #[test]
    fn no_values_make_an_axis() {
        for values in [vec![], vec![f64::NAN], vec![f64::INFINITY, f64::NEG_INFINITY], vec![1e300]]
        {
            for unit in [Unit::Number, Unit::Percent, Unit::Day(DateStyle::Us)] {
                let axis = Axis::over("", unit, values.clone());
                let (from, to) = axis.ends();
                assert!(from < to && axis.ticks(5).len() < 60, "{axis:?}");
                assert_eq!(axis.part(f64::NAN), None);
            }
            assert!(Axis::around("", values).ticks(5).len() < 60);
        }
    }

    #[test]
    fn values_past_an_end_lie_on_it() {
        let axis = Axis::over("", Unit::Number, [10.0]);
        assert_eq!(
            (axis.part(-5.0), axis.part(5.0), axis.part(50.0)),
            (Some(0.0), Some(0.5), Some(1.0))
        );
    }

    #[test]
    fn days_stand_by_week_and_by_month() {
        let first = NaiveDate::from_ymd_opt(2026, 6, 29).unwrap();
        let at = |weeks: u64| days(first.checked_add_days(Days::new(weeks * 7)).unwrap());
        let quarter = Axis::over("", Unit::Day(DateStyle::Us), [at(0), at(11)]);
        assert_eq!(
            labels(&quarter, 6),
            ["Jun 29", "Jul 13", "Jul 27", "Aug 10", "Aug 24", "Sep 7"]
        );
        let year = Axis::over("", Unit::Day(DateStyle::Us), [at(0), at(52)]);
        assert_eq!(labels(&year, 5), ["Jul 2026", "Oct", "Jan 2027", "Apr"]);
        let one = Axis::over("", Unit::Day(DateStyle::Us), [at(3)]);
        assert_eq!(labels(&one, 5).len(), 2);
    }

    proptest::proptest! {
        #[test]
        fn every_axis_has_few_ticks_inside(
            values in proptest::collection::vec(proptest::num::f64::ANY, 0..6),
            most in 1_usize..9,
        ) {
            for unit in [Unit::Number, Unit::Percent, Unit::Day(DateStyle::Us)] {
                let axis = Axis::over("", unit, values.clone());
                let ticks = axis.ticks(most);
                proptest::prop_assert!(ticks.len() <= 61, "{:?}", ticks);
                for (value, _) in ticks {
                    let part = axis.part(value).unwrap();
                    proptest::prop_assert!((0.0..=1.0).contains(&part));
                }
            }
        }
    }
}
