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
    /// What the reading is expected to have lost, in its unit, since it was last
    /// taken or what restores it was done. Absent where the vehicle has none, or
    /// stands too long.
    pub expected_loss: Option<f64>,
    /// It stands so long that the loss cannot be told by the day: only doing what
    /// is due helps.
    pub stands_too_long: bool,
    /// What loses it: the label of a line.
    pub loss_of: Option<String>,
}

/// What a vehicle loses by standing.
#[derive(Debug, Clone, Copy)]
pub struct Loses<'a> {
    pub line: &'a Line,
    /// When it was last read.
    pub last_on: Option<NaiveDate>,
}

/// What a line asks of a vehicle that came on one day and was last read on
/// another; `None` where nothing is asked again. What was done before it came
/// does not count.
#[must_use]
pub fn due(
    (line, loses): (&Line, Option<Loses<'_>>),
    arrived_on: NaiveDate,
    last_on: Option<NaiveDate>,
    today: NaiveDate,
) -> Option<Due> {
    let repeat = line.repeat_days?;
    let last_on = last_on.filter(|last| *last >= arrived_on);
    let since_on = last_on.unwrap_or(arrived_on);
    let days = (today - since_on).num_days().max(0);
    let due_on = since_on.checked_add_signed(Duration::try_days(repeat)?)?;
    let lost = loses.and_then(|loses| {
        let loss = loses.line.loss.as_ref()?;
        let from = loses.last_on.map_or(since_on, |read| read.max(since_on));
        Some((loss, (today - from).num_days().max(0)))
    });
    let expected_loss = lost
        .filter(|(loss, days)| *days <= loss.days())
        .map(|(loss, days)| settled(loss.per_day * days as f64));
    Some(Due {
        key: line.key.clone(),
        label: line.label.clone(),
        since_on,
        done: last_on.is_some(),
        days,
        due_on,
        overdue_days: (today - due_on).num_days().max(0),
        expected_loss,
        stands_too_long: lost.is_some_and(|(loss, days)| days > loss.days()),
        loss_of: loses
            .filter(|loses| loses.line.loss.is_some())
            .map(|loses| loses.line.label.clone()),
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

    fn loss() -> Loss {
        let source = "TM 5-1185".to_owned();
        Loss { per_day: 0.001, most_days: None, source, edition: None }
    }

    // By hand: from October 1 to November 16 are 30 + 16 = 46 days (October has
    // 31); 46 x 0.001 = 0.046; due on October 31, 16 days past.
    #[test]
    fn forty_six_days_are_sixteen_too_many() {
        let mut charge = line("battery.charge");
        charge.repeat_days = Some(30);
        let mut loses = line("battery.gravity");
        loses.loss = Some(loss());
        let came = day("2026-10-01");
        let loses = Loses { line: &loses, last_on: None };
        let due_of = |last, today| due((&charge, Some(loses)), came, last, day(today)).unwrap();
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

    // By hand: came on January 1; January 31, February 28, March 31 and April 30
    // days make May 1 the day 120, with 0.120 lost, and May 2 the day 121. Read on
    // April 21, it lost 11 x 0.001 until May 2, charged or not before that.
    #[test]
    fn a_loss_ends_with_what_there_is_to_lose() {
        let mut charge = line("battery.charge");
        charge.repeat_days = Some(30);
        let mut gravity = line("battery.gravity");
        gravity.loss = Some(loss());
        let due_of = |read: Option<&str>, charged: Option<&str>, today| {
            let loses = Loses { line: &gravity, last_on: read.map(day) };
            due((&charge, Some(loses)), day("2026-01-01"), charged.map(day), day(today)).unwrap()
        };
        let most = due_of(None, None, "2026-05-01");
        assert!((most.expected_loss.unwrap() - 0.12).abs() < 1e-12 && !most.stands_too_long);
        let flat = due_of(None, None, "2026-05-02");
        assert_eq!((flat.expected_loss, flat.stands_too_long), (None, true));
        for charged in [None, Some("2026-03-01")] {
            let read = due_of(Some("2026-04-21"), charged, "2026-05-02");
            assert!((read.expected_loss.unwrap() - 0.011).abs() < 1e-12);
        }
        // Charged after it was read: 2 days.
        let charged = due_of(Some("2026-04-21"), Some("2026-04-30"), "2026-05-02");
        assert!((charged.expected_loss.unwrap() - 0.002).abs() < 1e-12);
        let sealed = due((&charge, None), day("2026-01-01"), None, day("2026-05-02")).unwrap();
        assert_eq!((sealed.expected_loss, sealed.stands_too_long), (None, false));
    }
}
