//! A line of changes as people read it: the record by its trade word, fields by
//! their names, codes by their labels, people by theirs.

use chrono::NaiveDate;
use serde_json::{Map, Value};

use super::fields::{fixed, label};
use super::model::AuditLine;
use crate::domain::clock::UtcStamp;
use crate::domain::decimal::format_hundredths;
use crate::domain::ids::PersonId;
use crate::jobs::view::Words;
use crate::web::words::{self as shown, Pick};

/// Kinds of record, with the words of the trade.
const RECORDS: &[(&str, &str)] = &[
    ("order", "order"),
    ("job", "job"),
    ("vehicle", "vehicle"),
    ("check", "check"),
    ("part_use", "part"),
    ("operation", "operation"),
    ("labor", "labor entry"),
    ("proof", "proof"),
    ("comeback", "comeback"),
    ("part_return", "returned part"),
    ("authorization", "authorization"),
    ("wait", "wait"),
    ("sublet", "sublet work"),
    ("pay_back", "supplier's pay-back"),
    ("outside_return", "return told later"),
    ("planned_visit", "planned second visit"),
    ("odometer_reset", "odometer replacement"),
    ("attendance", "attended hours"),
    ("job_person", "person on the job"),
    ("person", "person"),
    ("role", "role"),
    ("code", "code list entry"),
    ("shop", "shop settings"),
    ("tablet", "tablet"),
    ("token", "access token"),
    ("part_policy", "times and cost of a part"),
    ("check_plan", "check plan"),
    ("check_plan_version", "version of a check plan"),
    ("shop_rule", "shop rule"),
    ("rule_answer", "answer to a shop rule"),
    ("reading_list", "list of readings"),
    ("reading_sheet", "sheet of readings"),
    ("reading_taken", "reading"),
    ("stock_vehicle", "vehicle in stock"),
    ("follow_up", "call after the hand-over"),
    ("enquiry", "comeback enquiry"),
    ("corrective_action", "corrective action"),
    ("warning_silence", "silenced warning"),
];

/// Kinds of record as choices.
#[must_use]
pub fn records() -> Vec<Pick> {
    RECORDS.iter().map(|(word, label)| Pick::new(*word, *label)).collect()
}

/// A kind of record as people call it.
#[must_use]
pub fn record(word: &str) -> String {
    RECORDS
        .iter()
        .find(|(known, _)| *known == word)
        .map_or_else(|| word.replace('_', " "), |(_, label)| (*label).to_owned())
}

/// What happened to which record: `check "Road test" added`.
#[must_use]
pub fn what(line: &AuditLine, words: &Words) -> String {
    let change = &line.change;
    let (kind, action) = (record(&change.record), change.action.replace('_', " "));
    match name(line, words) {
        Some(name) => format!("{kind} \u{201c}{name}\u{201d} {action}"),
        None => format!("{kind} {action}"),
    }
}

/// What people call the record, where it has a name of its own.
fn name(line: &AuditLine, words: &Words) -> Option<String> {
    let row = line.after.as_ref().or(line.before.as_ref())?.as_object()?;
    let text = |field: &str| row.get(field).and_then(Value::as_str);
    match line.change.record.as_str() {
        "code" => text("label").map(str::to_owned),
        "shop_rule" => text("title").map(str::to_owned),
        "part_use" | "person" | "tablet" | "token" | "reading_list" => {
            text("name").map(str::to_owned)
        }
        "reading_taken" => text("line_key").map(str::to_owned),
        list @ ("check" | "operation") => text("code").map(|code| words.lists.label(list, code)),
        _ => None,
    }
}

/// Fields that tell a reader nothing: ids of the record itself and of what it
/// hangs on, its version, days that follow from their times, and the unit that
/// stands behind the odometer.
const SILENT: &[&str] = &[
    "id",
    "version",
    "job_id",
    "order_id",
    "job_no",
    "line",
    "seq",
    "vehicle_id",
    "second_visit_of_job_id",
    "rule_id",
    "evidence_json",
    "in_before_job_id",
    "earlier_job_id",
    "later_job_id",
    "comeback_id",
    "enquiry_id",
    "opened_on",
    "closed_on",
    "odometer_unit",
];

/// One field, before and after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldField {
    pub label: String,
    pub before: Option<String>,
    pub after: Option<String>,
}

/// The fields that differ and tell something.
#[must_use]
pub fn fields(line: &AuditLine, words: &Words) -> Vec<ToldField> {
    let value = |record: &Option<Value>, name: &str| {
        let record = record.as_ref().and_then(Value::as_object)?;
        record.get(name).and_then(|value| value_of(&line.change.record, record, name, value, words))
    };
    line.changed
        .iter()
        .filter(|name| !SILENT.contains(&name.as_str()))
        .map(|name| ToldField {
            label: label(name),
            before: value(&line.before, name),
            after: value(&line.after, name),
        })
        .filter(|field| field.before != field.after)
        .collect()
}

/// The list that a field's code stands in.
fn list_of<'a>(record: &str, row: &'a Map<String, Value>, field: &str) -> Option<&'a str> {
    match (record, field) {
        (_, "symptom") => Some("symptom"),
        (_, "cause") => Some("cause"),
        (_, "system") => Some("system"),
        ("check", "code") => Some("check"),
        ("operation", "code") => Some("operation"),
        ("comeback" | "outside_return" | "enquiry", "reason") | ("enquiry", "contributing") => {
            Some("comeback_reason")
        }
        ("shop_rule", "check") => Some("check"),
        ("code", "merged_into") => row.get("list").and_then(Value::as_str),
        _ => None,
    }
}

/// Fields that hold a reading of the odometer, in the record's unit.
const ODOMETERS: &[&str] = &["odometer_in", "odometer_out", "reading_before", "reading_after"];

fn value_of(
    record: &str,
    row: &Map<String, Value>,
    field: &str,
    value: &Value,
    words: &Words,
) -> Option<String> {
    match value {
        Value::Null => None,
        Value::Bool(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        Value::Number(number) => Some(match number.as_i64() {
            Some(n) if field.ends_with("_minor") => words.amount(n),
            Some(n) if ODOMETERS.contains(&field) => {
                let unit = row.get("odometer_unit").and_then(Value::as_str);
                shown::odometer(n, unit.unwrap_or("[mi_i]"))
            }
            Some(n) if field == "quantity_hundredths" => format_hundredths(n),
            Some(n) if field.ends_with("_hundredths") => format!("{} h", format_hundredths(n)),
            Some(n) if field.ends_with("_permille") => {
                format!("{}%", format!("{}.{}", n / 10, n % 10).trim_end_matches(".0"))
            }
            _ => number.to_string(),
        }),
        Value::String(text) => Some(match list_of(record, row, field) {
            Some(list) => words.lists.label(list, text),
            None => said(field, text, words),
        }),
        Value::Array(_) | Value::Object(_) => Some(value.to_string()),
    }
}

/// Text of a field: a time on the shop's wall, a day, a name, a fixed word, or
/// what was typed.
fn said(field: &str, text: &str, words: &Words) -> String {
    let known = if field.ends_with("_at") {
        UtcStamp::parse(text).map(|at| words.moment(at))
    } else if field.ends_with("_on") {
        NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().map(|day| words.day(day))
    } else if field.ends_with("_id") || field.ends_with("_by") {
        PersonId::parse(text).and_then(|id| words.name(Some(&id)))
    } else {
        fixed(field, text)
    };
    known.unwrap_or_else(|| text.to_owned())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use std::collections::HashMap;

    use serde_json::json;

    use super::super::differ;
    use super::super::model::Change;
    use super::*;
    use crate::codes::lists::Lists;
    use crate::domain::ids::{GroupId, ShopPublicId};
    use crate::shops::model::Shop;

    fn words(names: HashMap<PersonId, String>) -> Words {
        let shop = Shop {
            id: 1,
            public_id: ShopPublicId::make(),
            group_id: GroupId::make(),
            code: "north".to_owned(),
            name: "North".to_owned(),
            time_zone: "America/Chicago".to_owned(),
            currency: "USD".to_owned(),
            labor_cost_minor: 0,
            posted_rate_minor: 0,
            window_days: 90,
            week_start: 1,
            ceiling_permille: 100,
            return_diagnosis_minor: 0,
            return_proof_minor: 0,
            return_transport_minor: 0,
            return_bay_minor: 0,
            return_goodwill_minor: 0,
            assumed_cleaned_suspect_permille: 300,
            assumed_bystander_tested_permille: 30,
            assumed_bystander_untested_permille: 60,
            assumed_replaced_permille: 30,
            links_from: None,
            version: 1,
            date_style: None,
            follow_up_days: None,
            follow_up_intermittent_days: None,
        };
        let now = UtcStamp::parse("2026-01-05T18:00:00Z").unwrap();
        Words::of(Lists::default(), names, shop, now)
    }

    fn line(before: Option<Value>, after: Option<Value>) -> AuditLine {
        AuditLine {
            change: Change {
                change_no: 1,
                line: 1,
                changed_at: UtcStamp::parse("2026-01-05T18:00:00Z").unwrap(),
                person_id: PersonId::make(),
                record: "order".to_owned(),
                record_id: "1".to_owned(),
                action: "changed".to_owned(),
                order_id: None,
                job_id: None,
                correction: false,
            },
            changed: differ::changed(before.as_ref(), after.as_ref()),
            before,
            after,
        }
    }

    #[test]
    fn fields_read_as_people_write_them() {
        let person = PersonId::make();
        let names = HashMap::from([(person.clone(), "Wren".to_owned())]);
        let after = json!({
            "id": "x", "version": 2, "authorized_minor": 25_000, "flat_rate_hundredths": 125,
            "ceiling_permille": 105, "lead_id": person.to_string(), "passed": true,
            "promised_at": "2026-01-05T21:30:00Z", "sold_on": "2026-01-05",
            "cause_state": "confirmed", "waiting_for": "part", "vin": "ZZD", "note": "part_of it",
        });
        let told: Vec<(String, String)> = fields(&line(None, Some(after)), &words(names))
            .into_iter()
            .map(|field| (field.label, field.after.unwrap()))
            .collect();
        let text = |label: &str| {
            told.iter().find(|(name, _)| name == label).map(|(_, value)| value.as_str())
        };
        assert_eq!(text("authorized"), Some("$250.00"));
        assert_eq!(text("flat rate"), Some("1.25 h"));
        assert_eq!(text("ceiling"), Some("10.5%"));
        assert_eq!(text("lead"), Some("Wren"));
        assert_eq!(text("passed"), Some("yes"));
        assert_eq!(text("promised"), Some("today 3:30 PM"));
        assert_eq!(text("sold"), Some("today"));
        assert_eq!(text("VIN"), Some("ZZD"));
        assert_eq!(text("note"), Some("part_of it"));
        assert_eq!((text("id"), text("version")), (None, None));
    }

    fn told_of(after: Value) -> Vec<(String, String)> {
        fields(&line(None, Some(after)), &words(HashMap::new()))
            .into_iter()
            .map(|field| (field.label, field.after.unwrap()))
            .collect()
    }

    #[test]
    fn pieces_are_no_hours_and_an_odometer_has_its_unit() {
        let pair = |label: &str, text: &str| (label.to_owned(), text.to_owned());
        assert_eq!(told_of(json!({ "quantity_hundredths": 100 })), [pair("quantity", "1")]);
        let order = json!({ "odometer_in": 55_000, "odometer_unit": "[mi_i]", "vehicle_id": "x" });
        assert_eq!(told_of(order), [pair("odometer in", "55,000 mi")]);
        let reset = json!({ "reading_before": 900, "odometer_unit": "km" });
        assert_eq!(told_of(reset), [pair("reading before", "900 km")]);
    }

    #[test]
    fn no_two_fields_have_the_same_name() {
        let told = told_of(json!({
            "told": "not_fixed", "told_on": "2026-01-05", "order_no": "1001",
            "closed_at": "2026-01-05T21:30:00Z", "closed_on": "2026-01-05",
        }));
        let mut labels: Vec<&str> = told.iter().map(|(label, _)| label.as_str()).collect();
        labels.sort_unstable();
        assert_eq!(labels, ["handed over", "order number", "told", "what was told"]);
    }

    #[test]
    fn what_was_removed_has_no_after() {
        let before = json!({ "bay": "2", "cause": null });
        let after = json!({ "bay": null, "cause": null });
        let told = fields(&line(Some(before), Some(after)), &words(HashMap::new()));
        let gone = ToldField { label: "bay".to_owned(), before: Some("2".to_owned()), after: None };
        assert_eq!(told, [gone]);
    }

    #[test]
    fn records_have_trade_words() {
        assert_eq!(record("part_use"), "part");
        assert_eq!(record("some_thing"), "some thing");
        let nameless = line(None, Some(json!({ "status": "open" })));
        assert_eq!(what(&nameless, &words(HashMap::new())), "order changed");
        let mut check = line(Some(json!({ "code": "road-test" })), None);
        check.change.record = "check".to_owned();
        check.change.action = "removed".to_owned();
        let told = what(&check, &words(HashMap::new()));
        assert_eq!(told, "check \u{201c}road-test\u{201d} removed");
    }
}
