//! Which lines of the audit are asked for.

use chrono::{NaiveDate, NaiveTime};
use serde::Deserialize;

use super::model::Filter;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId};
use crate::domain::refusal::FieldFault;
use crate::domain::zone::Zone;

/// Which lines.
#[derive(Debug, Clone, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct AuditQuery {
    /// A kind of record: `order`, `job`, `check`, `code` and so on.
    pub record: Option<String>,
    pub record_id: Option<String>,
    #[param(value_type = Option<String>, format = Uuid)]
    pub order_id: Option<OrderId>,
    #[param(value_type = Option<String>, format = Uuid)]
    pub job_id: Option<JobId>,
    #[param(value_type = Option<String>, format = Uuid)]
    pub person_id: Option<PersonId>,
    /// The first shop-local day.
    #[param(format = Date)]
    pub from: Option<String>,
    /// The last shop-local day.
    #[param(format = Date)]
    pub to: Option<String>,
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

/// The place of a line, as a cursor.
#[must_use]
pub fn cursor(change_no: i64, line: i32) -> String {
    format!("{change_no}_{line}")
}

/// Reads a cursor.
#[must_use]
pub fn place(cursor: &str) -> Option<(i64, i32)> {
    let (change_no, line) = cursor.split_once('_')?;
    Some((change_no.parse().ok()?, line.parse().ok()?))
}

/// The instant at which a day of the shop begins.
fn begin(zone: Zone, day: NaiveDate) -> Option<UtcStamp> {
    zone.instant(day.and_time(NaiveTime::MIN))
}

fn date(text: &str) -> Option<NaiveDate> {
    (text.len() == 10).then(|| NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()).flatten()
}

/// What is asked for, with the shop's days as instants.
///
/// # Errors
/// A fault for each field that cannot be read.
pub fn filter(query: AuditQuery, limit: i64, zone: Zone) -> Result<Filter, Vec<FieldFault>> {
    let mut faults = Vec::new();
    let mut fault = |pointer: &str, code: &'static str, detail: &str| {
        faults.push(FieldFault { pointer: pointer.into(), code, detail: detail.into() });
    };
    let mut day = |field: &str, text: Option<&str>, later: u64| {
        let text = text?;
        let at = date(text)
            .and_then(|day| day.checked_add_days(chrono::Days::new(later)))
            .and_then(|day| begin(zone, day));
        if at.is_none() {
            fault(field, "date", "write a day such as 2026-03-02");
        }
        at
    };
    let from = day("from", query.from.as_deref(), 0);
    let before = day("to", query.to.as_deref(), 1);
    let after = query.cursor.as_deref().map(place);
    if after == Some(None) {
        fault("cursor", "cursor", "give the next_cursor of the page before, or none");
    }
    if let (Some(first), Some(late)) = (from, before)
        && first >= late
    {
        fault("to", "range", "the last day lies before the first");
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok(Filter {
        record: query.record,
        record_id: query.record_id,
        order_id: query.order_id,
        job_id: query.job_id,
        person_id: query.person_id,
        from,
        before,
        after: after.flatten(),
        limit,
    })
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    // America/Chicago is six hours behind UTC in winter (IANA tz database).
    #[test]
    fn days_are_the_shops_and_whole() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let asked = AuditQuery {
            from: Some("2026-01-05".to_owned()),
            to: Some("2026-01-05".to_owned()),
            cursor: Some(cursor(12, 3)),
            ..AuditQuery::default()
        };
        let filter = filter(asked, 50, zone).unwrap();
        assert_eq!(filter.from.unwrap().rfc3339(), "2026-01-05T06:00:00Z");
        assert_eq!(filter.before.unwrap().rfc3339(), "2026-01-06T06:00:00Z");
        assert_eq!(filter.after, Some((12, 3)));
    }

    #[test]
    fn every_fault_is_told() {
        let asked = AuditQuery {
            from: Some("5 Jan".to_owned()),
            to: Some("2026-02-30".to_owned()),
            cursor: Some("next".to_owned()),
            ..AuditQuery::default()
        };
        let told: Vec<String> = filter(asked, 50, Zone::UTC)
            .unwrap_err()
            .into_iter()
            .map(|fault| fault.pointer)
            .collect();
        assert_eq!(told, ["from", "to", "cursor"]);
        let asked = AuditQuery {
            from: Some("2026-01-06".to_owned()),
            to: Some("2026-01-05".to_owned()),
            ..AuditQuery::default()
        };
        assert!(filter(asked, 50, Zone::UTC).is_err());
    }
}
