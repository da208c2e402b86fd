//! Whatever stands where a day, a time, a number, a cursor, an id or a selector should:
//! an answer in time, and none that is the server's fault.

use std::collections::BTreeSet;

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

use super::injected::{sent, ways};
use super::scale::{dice, trials};
use super::support::examples::Examples;
use super::support::{Place, Shops};

/// Texts of the forms that are read somewhere, whole ones and such as are not.
const SEEDS: [&str; 40] = [
    "2026-03-02",
    "2026-02-30",
    "0000-00-00",
    "-0001-01-01",
    "9999-12-31",
    "262143-12-31",
    "-262144-01-01",
    "2026-W53",
    "2026-W00",
    "2020-W53",
    "2026-03-02T14:05:00Z",
    "2026-03-08T02:30:00-06:00",
    "2026-12-31T23:59:60Z",
    "2026-03-02T14:05:00+99:99",
    "1970-01-01T00:00:00.0000000001Z",
    "+292278994-08-17T07:12:55Z",
    "12",
    "-1",
    "00",
    "1e9",
    "0x10",
    "NaN",
    "inf",
    "9223372036854775807",
    "9223372036854775808",
    "-9223372036854775808",
    "340282366920938463463374607431768211456",
    "2147483648",
    "1.005",
    "1,234.50",
    "$1,234.50",
    "1G4AH59H45G118341",
    "11111111111111111",
    "00000000-0000-7000-8000-000000000000",
    "00000000-0000-0000-0000-00000000000g",
    "outcome=repaired",
    "closed_on>=2026-01-01,part=IAV-7",
    "symptom:engine.stalls|cause:",
    "true",
    "",
];

/// A text that is nearly one of the seeds, or the one that was right.
fn nearly(dice: &mut ChaCha8Rng, right: &str) -> String {
    let mut text: Vec<char> = match dice.random_range(0..4) {
        0 if !right.is_empty() => right.chars().collect(),
        _ => SEEDS[dice.random_range(0..SEEDS.len())].chars().collect(),
    };
    for _ in 0..dice.random_range(0..4) {
        let at = dice.random_range(0..=text.len());
        match dice.random_range(0..6) {
            0 => text.insert(at, char::from(dice.random_range(32..127_u8))),
            1 => text.insert(at, dice.random()),
            2 if at < text.len() => drop(text.remove(at)),
            3 if at < text.len() => text[at] = char::from(dice.random_range(b'0'..=b'9')),
            4 => text.extend(text.clone()),
            _ => text.truncate(at),
        }
    }
    text.into_iter().filter(|c| *c != '\0').take(4_000).collect()
}

/// The text that stands there in the request as it is right.
fn right(body: Option<&Value>, at: &str) -> String {
    let value = body.and_then(|body| body.pointer(at)).and_then(Value::as_str);
    value.unwrap_or_default().to_owned()
}

fn whatever_stands_there(test: &str, place: Place, times: usize) {
    let shops = Shops::open(place);
    let mut dice = dice(test);
    let (mut tried, mut places, mut taken) = (0, 0, 0);
    let mut seen = BTreeSet::new();
    let mut examples = Examples::of(&shops);
    examples.play(&shops, |examples, request| {
        if !seen.insert(request.name.to_owned()) {
            return;
        }
        for (at, send) in ways(examples, request) {
            places += 1;
            let right = right(request.body.as_ref(), &at);
            for _ in 0..times {
                let text = nearly(&mut dice, &right);
                let answer = sent(|| send(&text), &format!("{} {at}: {text:?}", request.name));
                taken += usize::from(answer.status < 300);
                tried += 1;
            }
        }
        // A cursor is what an answer told, a little wrong.
        if request.operation.parameters.iter().any(|name| name == "cursor") {
            tried += cursors(request, &mut dice, times);
        }
    });
    println!("{test}: {tried} texts in {places} places, {taken} taken: no fault of the server");
    assert!(places > 500 && taken > 50, "{places} {taken}");
}

/// The cursor of a first page, whole and broken: the next page, or a fault told.
fn cursors(
    request: &super::support::examples::Request<'_>,
    dice: &mut ChaCha8Rng,
    times: usize,
) -> usize {
    let joined = if request.address.contains('?') { '&' } else { '?' };
    let ask = |more: &str| {
        let address = format!("{}{joined}{more}", request.address);
        sent(|| request.call(&address, None).send(), &address)
    };
    let first = ask("limit=1");
    let cursor = first.json()["next_cursor"].as_str().map(str::to_owned);
    let Some(cursor) = cursor.filter(|_| first.status == 200) else { return 0 };
    let whole = ask(&format!("limit=1&cursor={}", super::support::client::encoded(&cursor)));
    assert_eq!(whole.status, 200, "{}: {}", request.name, whole.body);
    for _ in 0..times {
        let broken = nearly(dice, &cursor);
        let answer = ask(&format!("cursor={}", super::support::client::encoded(&broken)));
        assert!([200, 422].contains(&answer.status), "{}: {broken:?}", request.name);
    }
    times
}

#[test]
fn whatever_stands_there_on_sqlite() {
    let times = trials(2, 400);
    whatever_stands_there("whatever_stands_there_on_sqlite", Place::sqlite(), times);
}

#[test]
fn whatever_stands_there_on_postgres() {
    let times = trials(1, 400);
    if let Some(place) = Place::postgres() {
        whatever_stands_there("whatever_stands_there_on_postgres", place, times);
    }
}
