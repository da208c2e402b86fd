//! What rows may say. Inside these bounds no sum over the rows of a shop leaves
//! 64 bits; outside them lies no shop's work.

use std::ops::RangeInclusive;

use chrono::{Datelike, NaiveDate};

use super::{HistoryError, Rows};

const YEARS: RangeInclusive<i32> = 1900..=2200;
/// Minutes of one entry; an import may have an entry of years.
const MINUTES: RangeInclusive<i64> = 0..=100_000_000;
/// One amount of money, in minor units.
const AMOUNT: RangeInclusive<i64> = -1_000_000_000_000..=1_000_000_000_000;
/// Hundredths of an hour, or of one of a thing.
const HUNDREDTHS: RangeInclusive<i64> = 0..=100_000_000;

type Fits = Result<(), HistoryError>;

fn fits<T: PartialOrd>(
    what: &'static str,
    bounds: &RangeInclusive<T>,
    values: impl IntoIterator<Item = T>,
) -> Fits {
    let mut values = values.into_iter();
    if values.all(|value| bounds.contains(&value)) {
        Ok(())
    } else {
        Err(HistoryError::OutOfBounds(what))
    }
}

fn days(what: &'static str, days: impl IntoIterator<Item = NaiveDate>) -> Fits {
    fits(what, &YEARS, days.into_iter().map(|day| day.year()))
}

/// Refuses rows of which one says what no shop's record can: years, minutes,
/// amounts and quantities far outside a shop's, readings that are no numbers.
///
/// # Errors
/// What is out of bounds.
pub(super) fn check(rows: &Rows) -> Fits {
    days("opening day", rows.jobs.iter().map(|row| row.opened_on))?;
    days("closing day", rows.jobs.iter().map(|row| row.closed_on))?;
    days("told day", rows.jobs.iter().filter_map(|row| Some(row.told.as_ref()?.told_on)))?;
    days("day of a call", rows.jobs.iter().flat_map(|row| row.holds_on.iter().copied()))?;
    days("day of labor", rows.labor.iter().map(|row| row.started_on))?;
    days("day of a return", rows.returns.iter().map(|row| row.later_opened_on))?;
    days("day of a part return", rows.part_returns.iter().map(|row| row.later_opened_on))?;
    days("day of a planned visit", rows.planned_visits.iter().map(|row| row.later_opened_on))?;
    days("day of a pay-back", rows.pay_backs.iter().map(|row| row.paid_on))?;
    let attendance = || rows.attendance.iter().flatten();
    days("day of attendance", attendance().map(|row| row.worked_on))?;
    fits("minutes of attendance", &MINUTES, attendance().map(|row| row.minutes))?;
    fits("minutes of labor", &MINUTES, rows.labor.iter().map(|row| row.minutes))?;
    let minutes = rows.checks.iter().filter_map(|row| row.minutes);
    fits("minutes of a check", &MINUTES, minutes.map(i64::from))?;
    fits("sublet cost", &AMOUNT, rows.jobs.iter().map(|row| row.sublet_cost_minor))?;
    fits("part cost", &AMOUNT, rows.parts.iter().filter_map(|row| row.unit_cost_minor))?;
    fits("pay-back", &AMOUNT, rows.pay_backs.iter().map(|row| row.amount_minor))?;
    let operations = rows.operations.iter();
    fits("labor amount", &AMOUNT, operations.clone().filter_map(|row| row.labor_amount_minor))?;
    let hours = operations
        .flat_map(|row| [row.flat_rate_hundredths, row.billed_hundredths].into_iter().flatten());
    fits("hours of an operation", &HUNDREDTHS, hours)?;
    fits("quantity", &HUNDREDTHS, rows.parts.iter().map(|row| row.quantity_hundredths))?;
    let readings = rows.parts.iter().filter_map(|row| row.bench_reading);
    fits("bench reading", &(f64::MIN..=f64::MAX), readings)?;
    let readings = rows.checks.iter().filter_map(|row| row.reading);
    fits("reading of a check", &(f64::MIN..=f64::MAX), readings)?;
    let readings = rows.readings.iter().map(|row| row.reading);
    fits("reading", &(f64::MIN..=f64::MAX), readings)
}
