//! Any name survives: what people type is kept letter by letter, or refused.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use unicode_normalization::UnicodeNormalization;

use super::corpus::{naughty, some};
use super::scale::{dice, trials};
use super::support::client::encoded;
use super::support::examples::{Examples, holds, with};
use super::support::html::plain;
use super::support::visit::text;
use super::support::{Answer, Place, Shops};

/// As a text is kept: without blanks around it, in normal form C (UAX 15).
fn kept(sent: &str) -> String {
    sent.trim().nfc().collect()
}

/// Whether no field takes it: a control character, or one that is none.
fn is_barred(text: &str) -> bool {
    let noncharacter = |c: char| {
        let code = u32::from(c);
        (0xfdd0..=0xfdef).contains(&code) || code & 0xfffe == 0xfffe
    };
    text.chars().any(|c| noncharacter(c) || c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
}

/// The field's name, without places in lists.
fn name_of(pointer: &str) -> &str {
    pointer.rsplit('/').find(|part| part.parse::<usize>().is_err()).unwrap()
}

/// Fields that are kept in a form of their own, not as they were typed.
const OWN_FORM: [&str; 5] = ["vin", "plate", "code", "sign_in_name", "currency"];

/// Fields that mean nothing by themselves, and are left aside then: the note of a sale
/// that was not, a purpose beside the list that is named, a unit without a temperature.
const NOTHING_ALONE: [&str; 3] =
    ["changeVehicle/sold_note", "beginReadingSheet/purpose", "takeReading/temperature_unit"];

/// What one answer says of one text in one field; whether it was taken.
fn judged(answer: &Answer, field: &str, sent: &str) -> Result<bool, String> {
    let said =
        || format!("{}: {}", answer.status, answer.body.chars().take(600).collect::<String>());
    match answer.status {
        200 | 201 | 204 => {
            let (name, kept) = (name_of(field), kept(sent));
            if NOTHING_ALONE.contains(&field) {
                return Ok(false);
            }
            let shown = kept.is_empty()
                || answer.body.is_empty()
                || OWN_FORM.contains(&name)
                || holds(&answer.json(), &kept);
            if is_barred(sent.trim()) {
                Err(format!("a control character was taken: {}", said()))
            } else if shown {
                Ok(true)
            } else {
                Err(format!("it is not kept as {kept:?}: {}", said()))
            }
        }
        422 => {
            let problem = answer.json();
            let told = problem["errors"].as_array().is_some_and(|errors| !errors.is_empty());
            if told { Ok(false) } else { Err(format!("no field is named: {}", said())) }
        }
        // There is no such code, person, part ...; or the record does not allow it.
        404 | 409 => Ok(false),
        _ => Err(said()),
    }
}

/// Every text field of every writing operation, tried and taken back.
fn every_field(test: &str, place: Place, share: usize) {
    let shops = Shops::open(place);
    let (texts, mut dice) = (naughty(), dice(test));
    let mut examples = Examples::of(&shops);
    let (mut tried, mut wrong) = (0, Vec::new());
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    examples.play(&shops, |examples, request| {
        if !request.takes_dry_run() || !seen.insert(request.name.to_owned()) {
            return;
        }
        let Some(body) = &request.body else { return };
        for at in examples.places(request, "string") {
            let field = format!("{}{at}", request.name);
            taken.entry(field.clone()).or_default();
            let plain = "plain words".to_owned();
            for sent in some(&mut dice, &texts, share).into_iter().chain([&plain]) {
                let answer = request.rehearse(&with(body, &at, json!(sent)));
                tried += 1;
                match judged(&answer, &field, sent) {
                    Ok(true) => *taken.get_mut(&field).unwrap() += 1,
                    Ok(false) => {}
                    Err(what) => wrong.push(format!("{field} of {sent:?}: {what}")),
                }
            }
        }
    });
    assert!(wrong.is_empty(), "{} of {tried}:\n{}", wrong.len(), wrong.join("\n"));
    let open = taken.values().filter(|times| **times > 0).count();
    println!("{test}: {tried} texts in {} fields, {open} of them open to any text", taken.len());
    assert!(open > 100 && taken.len() > 200, "{open} of {}", taken.len());
}

#[test]
fn any_text_in_any_field_on_sqlite() {
    every_field("any_text_in_any_field_on_sqlite", Place::sqlite(), trials(6, 1_000));
}

#[test]
fn any_text_in_any_field_on_postgres() {
    if let Some(place) = Place::postgres() {
        every_field("any_text_in_any_field_on_postgres", place, trials(2, 1_000));
    }
}

/// A visit whose every text is this one, where a line of text can be that.
fn visit(number: usize, sent: &str) -> Value {
    json!({
        "vehicle": { "plate": format!("NAME {number}") },
        "jobs": [{ "symptom": "engine.stalls", "complaint": sent }],
        "customer_name": sent, "customer_contact": sent,
    })
}

/// Written for good: read back, listed, in the file for spreadsheets, found, and on
/// pages apart from what stands beside it.
fn kept_for_good(test: &str, place: Place) {
    let shops = Shops::open(place);
    let adviser = shops.person("adviser.north");
    let page = shops.visitor("adviser.north", "north");
    let mut kept_texts = BTreeMap::new();
    for (number, sent) in naughty().iter().enumerate() {
        let mut body = visit(number, sent);
        let mut answer = adviser.post("orders", &body);
        // What one line may not hold, a complaint may.
        if answer.status == 422 {
            body["customer_name"] = Value::Null;
            body["customer_contact"] = Value::Null;
            answer = adviser.post("orders", &body);
        }
        if answer.status == 422 {
            continue;
        }
        let id = text(&answer.expect(201).json()["id"]).to_owned();
        let name = kept(body["customer_name"].as_str().unwrap_or_default());
        kept_texts.insert(id, (name, kept(sent)));
    }
    let mut listed = 0;
    let mut next = "orders?limit=200".to_owned();
    loop {
        let json = adviser.get(&next).expect(200).json();
        let csv = adviser.get(&format!("{next}&format=csv")).expect(200);
        let mut reader = csv::Reader::from_reader(csv.body.as_bytes());
        let column = reader.headers().unwrap().iter().position(|name| name == "customer_name");
        for (item, line) in json["items"].as_array().unwrap().iter().zip(reader.records()) {
            let (expected, _) = &kept_texts[text(&item["id"])];
            assert_eq!(item["customer_name"].as_str().unwrap_or_default(), expected);
            assert_eq!(&line.unwrap()[column.unwrap()], expected);
            listed += 1;
        }
        let Some(cursor) = json["next_cursor"].as_str() else { break };
        next = format!("orders?limit=200&cursor={}", encoded(cursor));
    }
    assert_eq!(listed, kept_texts.len());
    let mut found = 0;
    // Each page is shown in the long form.
    for (id, (name, complaint)) in kept_texts.iter().step_by(trials(7, 1)) {
        let order = adviser.get(&format!("orders/{id}")).expect(200).json();
        assert_eq!(order["customer_name"].as_str().unwrap_or_default(), name);
        assert_eq!(order["jobs"][0]["complaint"].as_str().unwrap_or_default(), complaint);
        let job = text(&order["jobs"][0]["id"]);
        for place in [format!("orders/{id}"), format!("orders/{id}/paper"), format!("jobs/{job}")] {
            let body = page.get(&place).expect(200).body;
            assert!(is_apart(&body, complaint), "{place}: {complaint:?} is not apart");
        }
        let answer = page.get(&format!("find?q={}", encoded(name)));
        assert!([200, 303].contains(&answer.status), "{name:?}: {}", answer.status);
        found += usize::from(answer.body.contains(id.as_str()) || answer.status == 303);
    }
    println!("{test}: {listed} texts kept, listed, shown apart; {found} found by themselves");
    assert!(listed > 450, "{listed}");
}

/// Whether a page shows the text in an element that keeps the order of its letters
/// from what stands around it (UAX 9).
fn is_apart(page: &str, text: &str) -> bool {
    page.split("<bdi>").skip(1).any(|rest| {
        let inner = plain(rest.split("</bdi>").next().unwrap());
        inner.contains(text)
    })
}

#[test]
fn names_are_kept_for_good_on_sqlite() {
    kept_for_good("names_are_kept_for_good_on_sqlite", Place::sqlite());
}

#[test]
fn names_are_kept_for_good_on_postgres() {
    if let Some(place) = Place::postgres() {
        kept_for_good("names_are_kept_for_good_on_postgres", place);
    }
}
