//! When a vehicle that waits is due again, and what standing cost it.

use chrono::{Duration, NaiveDate};
use serde::Serialize;

use super::correct::settled;
use super::list::Line;

/// What is due on a vehicle in stock.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = StockDue))]
pub struct Due {
    /// Key and label of the list's line.
    pub key: String,
    pub label: String,
    /// It was last done on this day, or the vehicle came on it.
    pub since_on: NaiveDate,
    /// Whether it was done at all since the vehicle came.
    pub done: bool,
    pub days: i64,
    pub due_on: NaiveDate,
    /// Days past the due day; nothing where it is not overdue.
    pub overdue_days: i64,
    /// What the reading is expected to have lost since, in its unit.
    pub expected_loss: Option<f64>,
    /// What loses it: the label of a line.
    pub loss_of: Option<String>,
}

/// What a line asks of a vehicle that came on one day and was last read on
/// another; `None` where nothing is asked again. What was done before it came
/// does not count.
#[must_use]
pub fn due(
    (line, loses): (&Line, Option<&Line>),
    arrived_on: NaiveDate,
    last_on: Option<NaiveDate>,
    today: NaiveDate,
) -> Option<Due> {
    let repeat = line.repeat_days?;
    let last_on = last_on.filter(|last| *last >= arrived_on);
    let since_on = last_on.unwrap_or(arrived_on);
    let days = (today - since_on).num_days().max(0);
    let due_on = since_on.checked_add_signed(Duration::try_days(repeat)?)?;
    Some(Due {
        key: line.key.clone(),
        label: line.label.clone(),
        since_on,
        done: last_on.is_some(),
        days,
        due_on,
        overdue_days: (today - due_on).num_days().max(0),
        expected_loss: loses
            .and_then(|line| line.loss.as_ref())
            .map(|loss| settled(loss.per_day * days as f64)),
        loss_of: loses.filter(|line| line.loss.is_some()).map(|line| line.label.clone()),
    })
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::super::list::Loss;
    use super::super::tests::line;
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    // By hand: from October 1 to November 16 are 30 + 16 = 46 days (October has
    // 31); 46 x 0.001 = 0.046; due on October 31, 16 days past.
    #[test]
    fn forty_six_days_are_sixteen_too_many() {
        let mut charge = line("battery.charge");
        charge.repeat_days = Some(30);
        let mut loses = line("battery.gravity");
        loses.loss = Some(Loss { per_day: 0.001, source: "TM 5-1185".to_owned(), edition: None });
        let came = day("2026-10-01");
        let due_of = |last, today| due((&charge, Some(&loses)), came, last, day(today)).unwrap();
        let late = due_of(None, "2026-11-16");
        assert_eq!((late.days, late.overdue_days, late.due_on), (46, 16, day("2026-10-31")));
        assert!((late.expected_loss.unwrap() - 0.046).abs() < 1e-12);
        assert!(!late.done);
        // On the thirtieth day it is due, not late.
        assert_eq!(due_of(None, "2026-10-31").overdue_days, 0);
        let charged = due_of(Some(day("2026-11-01")), "2026-11-16");
        assert_eq!((charged.days, charged.overdue_days, charged.done), (15, 0, true));
        // A charge before it came was another's.
        assert_eq!(due_of(Some(day("2026-09-20")), "2026-11-16"), late);
        charge.repeat_days = None;
        assert_eq!(due((&charge, None), came, None, day("2026-11-16")), None);
    }
}
