//! Readings before a vehicle leaves, their lists, and vehicles in stock.

use chrono::{Duration, NaiveDate};
use serde_json::{Value, json};

use crate::support::client::encoded;
use crate::support::html::{form, form_with};
use crate::support::visit::{finish, open, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    one_weak_cell_holds_the_vehicle,
    a_charge_and_a_second_reading,
    none_there_and_none_taken,
    limits_are_the_shops_choice,
    lists_have_versions,
    what_cannot_be_read_is_refused,
    a_slip_of_the_pen_is_asked_about,
    one_of_three_is_owed,
    vehicles_that_wait,
    standing_loses_what_is_there_to_lose,
    readings_of_a_job_and_its_return,
    a_job_that_no_list_is_meant_for,
    one_of_two_lists_that_fit_alike,
    a_sheet_on_its_page,
    a_list_on_its_page,
);

fn vehicle(client: &Client, plate: &str) -> String {
    let body = json!({ "plate": plate, "make": "Haddenby", "model": "Seven" });
    text(&client.post("vehicles", &body).expect(201).json()["id"]).to_owned()
}

/// Battery cells and voltage of which one is enough, and lamps.
fn short_list(client: &Client) -> Value {
    let lines = json!([
        {
            "key": "battery.gravity", "label": "Cells", "kind": "cells", "unit": "1", "cells": 6,
            "one_of": "battery",
            "limits": [
                { "bound": "least", "value": 1.225, "source": "a manual", "edition": "1971" },
                { "bound": "mean_least", "value": 1.25, "source": "a manual" },
                { "bound": "spread_most", "value": 0.025, "source": "another manual" },
            ],
            "correction": {
                "per_step": 0.004, "step": 10, "from": 80, "unit": "[degF]", "source": "a manual",
            },
        },
        {
            "key": "battery.resting-voltage", "label": "Voltage", "kind": "number", "unit": "V",
            "one_of": "battery",
            "limits": [{ "bound": "least", "value": 12.5, "source": "the shop" }],
        },
        { "key": "lamps", "label": "Lamps work", "kind": "yes_no", "expects": true },
    ]);
    let body = json!({ "name": "Short", "purpose": "preparation", "lines": lines });
    client.post("reading-lists", &body).expect(201).json()
}

/// A sheet by the list, of a new vehicle.
fn begun(shops: &Shops, plate: &str) -> (Client, String) {
    let list = short_list(&shops.person("manager.north"));
    let technician = shops.person("technician.north");
    let body = json!({ "vehicle_id": vehicle(&technician, plate), "list_id": list["id"] });
    let sheet = technician.post("reading-sheets", &body).expect(201).json();
    (technician, text(&sheet["id"]).to_owned())
}

fn take(client: &Client, sheet: &str, reading: &Value) -> Value {
    client.post(&format!("reading-sheets/{sheet}/readings"), reading).expect(200).json()
}

fn cells(values: [f64; 6], temperature: i32) -> Value {
    json!({ "line": "battery.gravity", "values": values, "temperature": temperature })
}

fn of_line<'a>(sheet: &'a Value, key: &str) -> &'a Value {
    let lines = sheet["verdict"]["lines"].as_array().unwrap();
    lines.iter().find(|line| line["key"] == key).unwrap()
}

fn pass(client: &Client, sheet: &str) -> crate::support::Answer {
    client.call("POST", &format!("reading-sheets/{sheet}/pass")).send()
}

// By hand, as in the preparation example of the trade: 60 F is two steps below
// 80, so 0.008 comes off; 1.268 less 1.238 is 0.030.
fn one_weak_cell_holds_the_vehicle(shops: &Shops) {
    let (technician, sheet) = begun(shops, "PR 1");
    let shown = take(&technician, &sheet, &cells([1.276, 1.272, 1.274, 1.246, 1.275, 1.273], 60));
    let line = of_line(&shown, "battery.gravity");
    assert_eq!(line["verdict"], "fail");
    assert_eq!(line["why"], "The spread of the cells is 0.030, above 0.025.");
    let counts: Vec<f64> = line["values"]
        .as_array()
        .unwrap()
        .iter()
        .map(|value| value["counts_as"].as_f64().unwrap())
        .collect();
    assert_eq!(counts, [1.268, 1.264, 1.266, 1.238, 1.267, 1.265]);
    assert_eq!(line["mean"], json!(1.261_333));
    take(&technician, &sheet, &json!({ "line": "lamps", "yes": true }));
    let refused = pass(&technician, &sheet).problem(409, "conflict");
    assert!(text(&refused["detail"]).contains("Cells"), "{refused}");
    assert_eq!(shops.place.count("FROM reading_sheet WHERE passed_at IS NOT NULL"), 0);
}

fn a_charge_and_a_second_reading(shops: &Shops) {
    let (technician, sheet) = begun(shops, "PR 2");
    let first = take(&technician, &sheet, &cells([1.254; 6], 60));
    assert_eq!(of_line(&first, "battery.gravity")["why"], "The mean is 1.246, below 1.250.");
    let second = take(&technician, &sheet, &cells([1.266; 6], 60));
    let line = of_line(&second, "battery.gravity");
    assert_eq!((&line["verdict"], &line["attempt"]), (&json!("pass"), &json!(2)));
    // Both are kept.
    assert_eq!(second["readings"].as_array().unwrap().len(), 12);
    assert_eq!(second["readings"][0]["value"], json!(1.254));
    let ready = take(&technician, &sheet, &json!({ "line": "lamps", "yes": true }));
    assert_eq!(ready["verdict"]["passes"], true);
    let passed = pass(&technician, &sheet).expect(200).json();
    assert!(passed["passed_at"].is_string() && passed["passed_by"].is_string());
    // A passed sheet is ended.
    pass(&technician, &sheet).problem(409, "conflict");
    let again = json!({ "line": "lamps", "yes": false });
    let again = technician.post(&format!("reading-sheets/{sheet}/readings"), &again);
    again.problem(409, "conflict");
    let open = technician.get("reading-sheets?open=true").expect(200).json();
    assert_eq!(open["items"], json!([]));
}

fn none_there_and_none_taken(shops: &Shops) {
    let (technician, sheet) = begun(shops, "PR 3");
    take(&technician, &sheet, &json!({ "line": "lamps", "yes": true }));
    let none = |state: &str| json!({ "line": "battery.gravity", "state": state, "reason": "sealed battery" });
    let waits = take(&technician, &sheet, &none("not_measured"));
    assert_eq!(of_line(&waits, "battery.gravity")["verdict"], "not_measured");
    pass(&technician, &sheet).problem(409, "conflict");
    // A sealed battery has no gravity, but a voltage it has.
    let sealed = take(&technician, &sheet, &none("not_applicable"));
    assert_eq!(of_line(&sealed, "battery.gravity")["verdict"], "not_applicable");
    assert_eq!(sealed["verdict"]["groups"][0]["verdict"], "not_measured");
    pass(&technician, &sheet).problem(409, "conflict");
    let low = json!({ "line": "battery.resting-voltage", "value": 12.3 });
    assert_eq!(
        of_line(&take(&technician, &sheet, &low), "battery.resting-voltage")["verdict"],
        "fail"
    );
    let full = json!({ "line": "battery.resting-voltage", "value": 12.7 });
    assert_eq!(take(&technician, &sheet, &full)["verdict"]["passes"], true);
    pass(&technician, &sheet).expect(200);
}

/// The same cells by another manual's limit.
fn limits_are_the_shops_choice(shops: &Shops) {
    let manager = shops.person("manager.north");
    let list = short_list(&manager);
    let mut lines = list["stands"]["lines"].clone();
    lines[0]["limits"][2]["value"] = json!(0.05);
    let body = json!({ "purpose": "preparation", "model": "seven", "lines": lines });
    let narrow = manager.post("reading-lists", &body).expect(201).json();
    let id = vehicle(&manager, "PR 4");
    // The list for the model stands before the one for all.
    let sheet = manager.post("reading-sheets", &json!({ "vehicle_id": id })).expect(201).json();
    assert_eq!(sheet["list_id"], narrow["id"]);
    let read = cells([1.276, 1.272, 1.274, 1.246, 1.275, 1.273], 60);
    let shown = take(&manager, text(&sheet["id"]), &read);
    assert_eq!(of_line(&shown, "battery.gravity")["verdict"], "pass");
    // Another sheet by the same list is not begun beside it.
    let twice = manager.post("reading-sheets", &json!({ "vehicle_id": id }));
    twice.problem(409, "conflict");
    // With no list of its own the shop begins by the starting one, which is its
    // own from then on.
    let south = shops.person_at("manager.south", "south");
    let other = vehicle(&south, "PR 5");
    let begun = south.post("reading-sheets", &json!({ "vehicle_id": other })).expect(201).json();
    assert!(begun["lines"].as_array().unwrap().len() > 15);
    let own = south.get("reading-lists").expect(200).json();
    assert_eq!(own["items"][0]["id"], begun["list_id"]);
}

fn lists_have_versions(shops: &Shops) {
    let manager = shops.person("manager.north");
    let list = short_list(&manager);
    let place = format!("reading-lists/{}", text(&list["id"]));
    let mut lines = list["stands"]["lines"].clone();
    lines[1]["limits"][0]["value"] = json!(12.6);
    let tag = manager.get(&place).expect(200).tag();
    let send = |body: &Value, tag: &str| {
        let call = manager.call("POST", &format!("{place}/versions"));
        call.new_key().if_match(tag).json(body).send()
    };
    let body = json!({ "lines": lines, "reason": "two came back" });
    let after = send(&body, &tag).expect(200).json();
    assert_eq!(after["stands"]["number"], 2);
    send(&body, &tag).problem(412, "stale");
    let whole = manager.get(&place).expect(200).json();
    let numbers: Vec<&Value> =
        whole["versions"].as_array().unwrap().iter().map(|one| &one["number"]).collect();
    assert_eq!(numbers, [2, 1]);
    assert_eq!(whole["versions"][1]["lines"][1]["limits"][0]["value"], json!(12.5));
    let mut odd = lines.clone();
    odd[1]["key"] = json!("lamps");
    odd[0]["limits"][0]["source"] = json!("");
    let odd = json!({ "lines": odd, "reason": "" });
    let tag = manager.get(&place).expect(200).tag();
    let mut told = send(&odd, &tag).pointers();
    told.sort();
    assert_eq!(told, ["/lines/0/limits/0/source", "/lines/2/key", "/reason"]);
    let withdraw = manager.call("POST", &format!("{place}/withdrawal")).if_match(&tag);
    withdraw.send().expect(200);
    let begin = json!({ "vehicle_id": vehicle(&manager, "PR 6"), "list_id": list["id"] });
    assert_eq!(manager.post("reading-sheets", &begin).pointers(), ["/list_id"]);
    assert_eq!(manager.get("reading-lists").expect(200).json()["items"], json!([]));
    let all = manager.get("reading-lists?withdrawn=true").expect(200).json();
    assert_eq!(all["items"].as_array().unwrap().len(), 1);
}

fn what_cannot_be_read_is_refused(shops: &Shops) {
    let (technician, sheet) = begun(shops, "PR 7");
    let refused = |body: Value| {
        technician.post(&format!("reading-sheets/{sheet}/readings"), &body).pointers()
    };
    assert_eq!(refused(json!({ "line": "horn", "yes": true })), ["/line"]);
    assert_eq!(refused(json!({ "line": "lamps" })), ["/yes"]);
    let five = json!({ "line": "battery.gravity", "values": [1.2, 1.2], "temperature": 60 });
    assert_eq!(refused(five), ["/values"]);
    let cold = json!({ "line": "battery.gravity", "values": [1.2, 1.2, 1.2, 1.2, 1.2, 1.2] });
    assert_eq!(refused(cold), ["/temperature"]);
    let silent = json!({ "line": "battery.gravity", "state": "not_applicable" });
    assert_eq!(refused(silent), ["/reason"]);
    let far = json!({ "line": "battery.resting-voltage", "value": 1e300 });
    assert_eq!(refused(far), ["/value"]);
    assert_eq!(shops.place.count("FROM reading_taken"), 0);
    let both = technician.post("reading-sheets", &json!({}));
    assert_eq!(both.pointers(), ["/vehicle_id"]);
}

/// A sheet by the starting list, of a new vehicle.
fn by_the_starting_list(client: &Client, plate: &str) -> String {
    let begin = json!({ "vehicle_id": vehicle(client, plate) });
    text(&client.post("reading-sheets", &begin).expect(201).json()["id"]).to_owned()
}

fn a_slip_of_the_pen_is_asked_about(shops: &Shops) {
    let technician = shops.person("technician.north");
    let sheet = by_the_starting_list(&technician, "PR 40");
    let place = format!("reading-sheets/{sheet}/readings");
    let slip = cells([1.25, 1.25, 1250.0, 1.25, 1.25, 1.25], 80);
    let told = technician.post(&place, &slip).problem(422, "invalid");
    assert_eq!(told["errors"][0]["pointer"], "/values/2");
    assert!(text(&told["errors"][0]["detail"]).starts_with("1.250?"), "{told}");
    let refused = |body: Value| technician.post(&place, &body).pointers();
    assert_eq!(refused(json!({ "line": "battery.resting-voltage", "value": 126 })), ["/value"]);
    assert_eq!(refused(json!({ "line": "odometer", "value": -1 })), ["/value"]);
    assert_eq!(refused(json!({ "line": "codes.stored", "value": 0.5 })), ["/value"]);
    // Every vehicle has an odometer; not every one has engine oil.
    let none = |line: &str| json!({ "line": line, "state": "not_applicable", "reason": "none" });
    assert_eq!(refused(none("odometer")), ["/state"]);
    assert_eq!(shops.place.count("FROM reading_taken"), 0);
    take(&technician, &sheet, &none("levels.oil"));
    // On the page the question stands at the cell.
    let visitor = shops.visitor("technician.north", "north");
    let page = visitor.get(&format!("preparation/sheets/{sheet}")).expect(200);
    let mut read = form_with(&page, "/readings", "value=\"battery.gravity\"");
    for cell in 1..=6 {
        read = read.fill(&format!("value_{cell}"), if cell == 3 { "1250" } else { "1.25" });
    }
    let asked = read.fill("temperature", "80").send(&visitor).expect(422);
    assert!(asked.body.contains("Value 3: 1.250?"), "{}", asked.body);
    // A span that is none is not kept.
    let manager = shops.person("manager.north");
    let line = |least: f64| {
        json!([{
            "key": "volts", "label": "Volts", "kind": "number", "unit": "V",
            "plausible_least": least, "plausible_most": 20, "always": true,
        }])
    };
    let list = |least: f64| json!({ "purpose": "preparation", "lines": line(least) });
    let odd = manager.post("reading-lists", &list(30.0)).pointers();
    assert_eq!(odd, ["/lines/0/plausible_least"]);
    let kept = manager.post("reading-lists", &list(0.0)).expect(201).json();
    assert_eq!(kept["stands"]["lines"][0]["always"], true);
}

fn one_of_three_is_owed(shops: &Shops) {
    let technician = shops.person("technician.north");
    let sheet = by_the_starting_list(&technician, "PR 41");
    let three = ["battery.gravity", "battery.resting-voltage", "battery.conductance"];
    let mut shown = Value::Null;
    for line in three {
        let none = json!({ "line": line, "state": "not_applicable", "reason": "sealed" });
        shown = take(&technician, &sheet, &none);
    }
    let why = text(&shown["verdict"]["groups"][0]["why"]);
    assert!(why.starts_with("One of these three is owed: "), "{why}");
    let visitor = shops.visitor("technician.north", "north");
    let page = visitor.get(&format!("preparation/sheets/{sheet}")).expect(200);
    for line in three {
        let open = format!("id=\"line-{line}\" class=\"reading open\"");
        assert!(page.body.contains(&open), "{line}: {}", page.body);
    }
    // One reading frees the two others; what is done has its unit.
    take(&technician, &sheet, &json!({ "line": "battery.resting-voltage", "value": 12.7 }));
    take(&technician, &sheet, &json!({ "line": "coolant.freeze-point", "value": -37 }));
    let page = visitor.get(&format!("preparation/sheets/{sheet}")).expect(200);
    for line in three {
        let done = format!("id=\"line-{line}\" class=\"reading pass\"");
        assert!(page.body.contains(&done), "{line}: {}", page.body);
    }
    assert!(page.body.contains("<p>12.7 V.</p>"), "{}", page.body);
    assert!(page.body.contains("no limit set.</p>"), "{}", page.body);
}

fn past(days: i64) -> NaiveDate {
    crate::support::now().date_naive() - Duration::days(days)
}

/// Days since a day as the shop sees them: its day may be the one before UTC's.
fn days_since(shown: &Value) -> i64 {
    shown["days"].as_i64().unwrap()
}

fn vehicles_that_wait(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (old, new) = (vehicle(&technician, "PR 8"), vehicle(&technician, "PR 9"));
    let came = |id: &str, days: i64| json!({ "vehicle_id": id, "arrived_on": past(days) });
    technician.post("stock", &came(&new, 3)).expect(201);
    let waits = technician.post("stock", &came(&old, 46)).expect(201).json();
    technician.post("stock", &came(&old, 2)).problem(409, "conflict");
    assert_eq!(technician.post("stock", &came(&new, -3)).pointers(), ["/arrived_on"]);
    let list = technician.get("stock").expect(200).json();
    let first = &list["items"][0];
    assert_eq!(first["vehicle_id"], json!(old));
    let due = &first["due"][0];
    assert_eq!(due["key"], "battery.charge");
    let days = days_since(due);
    assert!((45..=46).contains(&days), "{due}");
    // 30 days by the starting list; 0.001 a day.
    assert_eq!(due["overdue_days"], days - 30);
    assert!((due["expected_loss"].as_f64().unwrap() - 0.001 * days as f64).abs() < 1e-9);
    assert_eq!(list["items"][1]["due"][0]["overdue_days"], 0);
    // Charged today, it is due in thirty days.
    let begin = json!({ "vehicle_id": old });
    let sheet = technician.post("reading-sheets", &begin).expect(201).json();
    let sheet = text(&sheet["id"]);
    take(&technician, sheet, &json!({ "line": "battery.charge", "yes": false }));
    let not_yet = technician.get("stock").expect(200).json();
    assert_eq!(not_yet["items"][0]["due"][0]["done"], false);
    take(&technician, sheet, &json!({ "line": "battery.charge", "yes": true }));
    let list = technician.get("stock").expect(200).json();
    let charged =
        list["items"].as_array().unwrap().iter().find(|row| row["vehicle_id"] == json!(old));
    let due = &charged.unwrap()["due"][0];
    assert_eq!(
        (&due["done"], &due["days"], &due["overdue_days"]),
        (&json!(true), &json!(0), &json!(0))
    );
    let place = format!("stock/{}/departure", text(&waits["id"]));
    let early = json!({ "left_on": past(60) });
    assert_eq!(technician.call("POST", &place).json(&early).send().pointers(), ["/left_on"]);
    technician.call("POST", &place).json(&json!({})).send().expect(200);
    technician.call("POST", &place).json(&json!({})).send().problem(409, "conflict");
    assert_eq!(technician.get("stock").expect(200).json()["items"].as_array().unwrap().len(), 1);
}

fn standing_loses_what_is_there_to_lose(shops: &Shops) {
    let technician = shops.person("technician.north");
    let id = vehicle(&technician, "PR 42");
    let came = json!({ "vehicle_id": id, "arrived_on": past(200) });
    technician.post("stock", &came).expect(201);
    let due = || {
        let list = technician.get("stock").expect(200).json();
        let due = list["items"][0]["due"].as_array().unwrap().clone();
        due.into_iter().find(|due| due["key"] == "battery.charge").unwrap()
    };
    // 200 days at 0.001 would be more than a battery has.
    let flat = due();
    assert_eq!((&flat["expected_loss"], &flat["stands_too_long"]), (&Value::Null, &json!(true)));
    let page = shops.visitor("technician.north", "north").get("preparation").expect(200);
    assert!(page.body.contains("it stands too long to tell, charge it"), "{}", page.body);
    // Read today, it lost nothing since.
    let begin = json!({ "vehicle_id": id });
    let sheet = technician.post("reading-sheets", &begin).expect(201).json();
    let sheet = text(&sheet["id"]);
    take(&technician, sheet, &cells([1.2; 6], 80));
    let read = due();
    assert_eq!((&read["expected_loss"], &read["stands_too_long"]), (&json!(0.0), &json!(false)));
    assert_eq!(read["done"], false);
    // A sealed battery has no gravity to lose.
    let sealed = json!({
        "line": "battery.gravity", "state": "not_applicable", "reason": "sealed battery",
    });
    take(&technician, sheet, &sealed);
    let sealed = due();
    assert_eq!((&sealed["expected_loss"], &sealed["loss_of"]), (&Value::Null, &Value::Null));
    assert_eq!(sealed["stands_too_long"], false);
}

fn readings_of_a_job_and_its_return(shops: &Shops) {
    let manager = shops.person("manager.north");
    let list = short_list(&manager);
    let (order, job) = open(&manager, "PR 10", "start.no-crank");
    let begin = json!({ "job_id": job, "list_id": list["id"] });
    let sheet = manager.post("reading-sheets", &begin).expect(201).json();
    let sheet = text(&sheet["id"]).to_owned();
    let before = manager.get(&format!("jobs/{job}")).expect(200).version();
    take(&manager, &sheet, &cells([1.254; 6], 60));
    take(&manager, &sheet, &cells([1.266, 1.264, 1.266, 1.264, 1.266, 1.264], 60));
    assert!(manager.get(&format!("jobs/{job}")).expect(200).version() > before);
    let handed_over = finish(&manager, &order, &job, "battery-worn");
    let day = text(&handed_over["closed_on"]).to_owned();
    let long_ago = past(100);
    shops.place.run(&format!(
        "UPDATE repair_order SET opened_on = '{long_ago}', closed_on = '{long_ago}' \
         WHERE closed_on IS NOT NULL"
    ));
    let report = format!("reports/hand-over?as_of={day}&better=higher&hold_minutes=30");
    let answer = manager.get(&report).expect(200).json();
    let line = &answer["lines"][0];
    assert_eq!((&line["line"], &line["left"]), (&json!("battery.gravity"), &json!(1)));
    // The last attempt's mean, corrected: 1.265 less 0.008.
    assert!((line["bands"][0]["from"].as_f64().unwrap() - 1.257).abs() < 1e-9, "{line}");
    assert_eq!(line["no_cut_off"], "too_few");
    let jobs = text(&line["bands"][0]["share"]["jobs"]);
    let behind = manager.get(&format!("reports/jobs?{jobs}&as_of={day}")).expect(200).json();
    assert_eq!(behind["jobs"][0]["job_id"], json!(job));
    assert_eq!(behind["count"], 1);
    // Prices are not for everybody, nor is a slip an answer.
    let technician = shops.person("technician.north").get(&report).expect(200).json();
    assert_eq!(technician["lines"][0]["hold_minor"], Value::Null);
    assert_eq!(line["hold_minor"], 4500);
    // Nor could they be worked out by trying one time after another.
    let other = report.replace("hold_minutes=30", "hold_minutes=31");
    shops.person("technician.north").get(&other).problem(403, "forbidden");
    manager.get(&other).expect(200);
    manager.get("reports/hand-over?line=battery.gravitas").problem(422, "invalid");
    let known = manager.get("reports/hand-over?line=battery.conductance").expect(200).json();
    assert_eq!(known["lines"], json!([]));
    // After the hand-over it is a correction, which a technician does not make.
    let late = json!({ "line": "lamps", "yes": true });
    let place = format!("reading-sheets/{sheet}/readings");
    shops.person("technician.north").post(&place, &late).problem(409, "conflict");
    manager.post(&place, &late).expect(200);
    let marked = "FROM record_change WHERE record = 'reading_taken' AND correction";
    assert_eq!(shops.place.count(marked), 1);
    let asked = format!("hand-over-readings?as_of={day}");
    let page = shops.visitor("manager.north", "north").get(&asked).expect(200);
    assert!(page.body.contains("battery.gravity"), "{}", page.body);
}

/// The starting list is for starting work, and becomes the shop's own once.
fn a_job_that_no_list_is_meant_for(shops: &Shops) {
    let manager = shops.person("manager.north");
    let begin = |job: &str, more: Value| {
        let mut body = json!({ "job_id": job });
        for (name, value) in more.as_object().unwrap() {
            body[name] = value.clone();
        }
        manager.post("reading-sheets", &body)
    };
    let (_, stalls) = open(&manager, "PR 20", "engine.stalls");
    assert_eq!(begin(&stalls, json!({})).pointers(), ["/list_id"]);
    assert_eq!(begin(&stalls, json!({ "purpose": "hand_over" })).pointers(), ["/list_id"]);
    assert_eq!(shops.place.count("FROM reading_list"), 0);
    for plate in ["PR 21", "PR 22"] {
        let (_, job) = open(&manager, plate, "start.no-crank");
        begin(&job, json!({})).expect(201);
        assert_eq!(shops.place.count("FROM reading_list"), 1);
    }
    // Who names it may read any job by it.
    let list = manager.get("reading-lists").expect(200).json()["items"][0]["id"].clone();
    assert_eq!(begin(&stalls, json!({})).pointers(), ["/list_id"]);
    begin(&stalls, json!({ "list_id": list })).expect(201);
    assert_eq!(shops.place.count("FROM reading_list"), 1);
}

/// Of two lists that fit alike the one made first counts, whatever its name: for a sheet
/// and for what is due in stock.
fn one_of_two_lists_that_fit_alike(shops: &Shops) {
    let manager = shops.person("manager.north");
    let made = |name: &str, days: i64| {
        let line = json!({
            "key": "battery.charge", "label": "Charged", "kind": "yes_no", "expects": true,
            "repeat_days": days, "source": "the shop",
        });
        let body = json!({
            "name": name, "purpose": "preparation", "model": "Seven", "lines": [line],
        });
        manager.post("reading-lists", &body).expect(201).json()["id"].clone()
    };
    let first = made("lower case", 20);
    made("Zulu", 40);
    made("alpha", 60);
    let id = vehicle(&manager, "PR 30");
    let came = json!({ "vehicle_id": id, "arrived_on": past(10) });
    manager.post("stock", &came).expect(201);
    let waits = manager.get("stock").expect(200).json();
    let due = &waits["items"][0]["due"][0];
    assert_eq!(due["overdue_days"].as_i64().unwrap(), (days_since(due) - 20).max(0), "{due}");
    let due_on: NaiveDate = text(&due["due_on"]).parse().unwrap();
    assert_eq!((due_on - past(10)).num_days(), 20, "{due}");
    let sheet = manager.post("reading-sheets", &json!({ "vehicle_id": id })).expect(201).json();
    assert_eq!(sheet["list_id"], first);
}

fn a_sheet_on_its_page(shops: &Shops) {
    let technician = shops.visitor("technician.north", "north");
    let home = technician.get("preparation").expect(200);
    let stock = form(&home, "/preparation/stock").fill("known", "PR 11").fill("make", "Corvane");
    let home = stock.follow(&technician);
    assert!(home.body.contains("PR 11") && home.body.contains("It waits in stock."));
    let wrong = form(&home, "/preparation/stock").send(&technician).expect(422);
    assert!(wrong.body.contains("write the VIN, or the plate"), "{}", wrong.body);
    let sheet = form_with(&home, "/preparation/sheets", "vehicle_id").follow(&technician);
    assert!(sheet.body.contains("Not yet: "));
    let gravity =
        |page: &crate::support::Answer| form_with(page, "/readings", "value=\"battery.gravity\"");
    let mut read = gravity(&sheet).fill("temperature", "60");
    for cell in 1..=6 {
        read = read.fill(&format!("value_{cell}"), "1.254");
    }
    let low = read.follow(&technician);
    assert!(low.body.contains("The mean is 1.246, below 1.250."), "{}", low.body);
    assert!(low.body.contains("Charge slowly") && low.body.contains("hydrogen"));
    let half = gravity(&low).fill("value_1", "1.26").send(&technician).expect(422);
    assert!(half.body.contains("write the temperature at which it was read"), "{}", half.body);
    let lamps = form_with(&low, "/readings", "value=\"lamps\"").add("yes", "true");
    let lit = lamps.follow(&technician);
    assert!(lit.body.contains("All lamps work: passes."), "{}", lit.body);
    // Who only reads has no forms.
    let place = shops.place.lines("SELECT id AS line FROM reading_sheet");
    let owner = shops.visitor("owner.riverside", "north");
    let seen = owner.get(&format!("preparation/sheets/{}", place[0])).expect(200);
    assert!(!seen.body.contains("/readings\""), "{}", seen.body);
    // It left, and back by the notice.
    let home = technician.get("preparation").expect(200);
    let left = form(&home, "/departure").follow(&technician);
    assert!(left.body.contains("It left stock."));
    let back = form_with(&left, "/departure", "value=\"yes\"").follow(&technician);
    assert!(back.body.contains("PR 11"));
    // A job with starting work asks for its readings, and begins them.
    let (_, job) = open(&shops.person("technician.north"), "PR 12", "start.no-crank");
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    assert!(page.body.contains("Readings before hand-over"));
    let begun = form_with(&page, "/preparation/sheets", "hand_over").follow(&technician);
    assert!(begun.body.contains("Starts at once"), "{}", begun.body);
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    assert!(page.body.contains("to go"), "{}", page.body);
}

fn a_list_on_its_page(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let starting = manager.get("preparation/lists/preparation").expect(200);
    assert!(starting.body.contains("TM 9-6140-200-14"));
    let own = form(&starting, "/preparation/lists").follow(&manager);
    assert!(own.body.contains("version 1"), "{}", own.body);
    let volts = form_with(&own, "/lines", "value=\"battery.resting-voltage\"");
    let wrong = volts
        .fill("unit", "V")
        .fill("least", "much")
        .fill("reason", "x")
        .send(&manager)
        .expect(422);
    assert!(wrong.body.contains("value=\"much\""));
    let volts = form_with(&own, "/lines", "value=\"battery.resting-voltage\"");
    let kept = volts.fill("unit", "V").fill("least", "12.6").fill("least_source", "two came back");
    let kept = kept.fill("reason", "two came back").follow(&manager);
    assert!(kept.body.contains("at least 12.6 V") && kept.body.contains("version 2"));
    // What the form does not show stays: the correction of the cells.
    let cells = form_with(&kept, "/lines", "value=\"battery.gravity\"");
    let kept = cells
        .fill("unit", "1")
        .fill("spread_most", "0.03")
        .fill("reason", "as our manual")
        .follow(&manager);
    assert!(kept.body.contains("spread at most 0.03"), "{}", kept.body);
    assert!(kept.body.contains("corrected by 0.004"));
    let added = form_with(&kept, "/lines", "name=\"key\"");
    let added = added.fill("key", "horn").fill("kind", "yes_no").fill("label", "Horn works");
    let added = added.fill("reason", "one had none").follow(&manager);
    assert!(added.body.contains("Horn works"), "{}", added.body);
    let out = form_with(&added, "/lines", "name=\"take_out\"").fill("reason", "not here");
    let out = out.follow(&manager);
    assert!(out.body.contains("version 5"));
    let technician = shops.visitor("technician.north", "north");
    let place = shops.place.lines("SELECT id AS line FROM reading_list");
    let read = technician.get(&format!("preparation/lists/{}", encoded(&place[0]))).expect(200);
    assert!(read.body.contains("Horn works") && !read.body.contains("Change it"));
    let gone = form(&out, "/withdrawal").follow(&manager);
    assert!(gone.body.contains("withdrawn"));
    technician.get("preparation/lists/nothing").expect(404);
}
