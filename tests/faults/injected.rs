//! Text that would be run as SQL, in everything that a request can carry: nothing is
//! run, and no answer differs as if it had been. The shapes are the classic ones,
//! put together here for both databases.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use serde_json::json;

use super::corpus::some;
use super::scale::{dice, trials};
use super::support::client::encoded;
use super::support::examples::{Examples, Request, with};
use super::support::{Answer, Place, Shops, rows};

const OPENINGS: [&str; 11] = ["'", "\"", "')", "'))", "\")", "`", "", "0", "\\'", "'||'", "$$"];
const ACTIONS: [&str; 26] = [
    " OR 1=1",
    " OR '1'='1",
    " OR TRUE",
    " AND 1=2",
    " UNION SELECT NULL",
    " UNION ALL SELECT NULL,NULL,NULL,NULL",
    " UNION SELECT sqlite_version()",
    " UNION SELECT current_user",
    "; DROP TABLE job",
    "; DELETE FROM repair_order",
    "; UPDATE person SET active = FALSE",
    "; INSERT INTO currency VALUES ('x')",
    "; SELECT pg_sleep(6)",
    "||(SELECT pg_sleep(6))",
    " AND 6=(SELECT 6 FROM pg_sleep(6))",
    " AND randomblob(900000000) IS NOT NULL",
    " AND 1=CAST(version() AS INT)",
    " AND 1=(SELECT count(*) FROM sqlite_master)",
    " ORDER BY 99",
    " LIMIT 0",
    " HAVING 1=1",
    " RETURNING *",
    "; ATTACH DATABASE 'attached' AS attached",
    "; COPY job TO PROGRAM 'id'",
    "; PRAGMA user_version = 9",
    " AND load_extension('x')",
];
const ENDINGS: [&str; 5] = ["", " --", " /*", ";--", "#"];

/// One that would make a condition hold, and its twin that would not.
const TWINS: [(&str, &str); 8] = [
    ("x' OR '1'='1", "x' OR '1'='2"),
    ("x' OR 1=1 --", "x' OR 1=2 --"),
    ("x') OR ('1'='1", "x') OR ('1'='2"),
    ("x\" OR \"1\"=\"1", "x\" OR \"1\"=\"2"),
    ("0 OR 1=1", "0 OR 1=2"),
    ("' AND '1'='1", "' AND '1'='2"),
    ("x'||(SELECT '')||'", "x'||(SELECT 'y')||'"),
    ("x' OR 7 BETWEEN 6 AND 8 --", "x' OR 9 BETWEEN 6 AND 8 --"),
];

/// Waited for by the payloads that wait; nothing else takes as long.
const WAIT: Duration = Duration::from_secs(5);

fn payloads() -> Vec<String> {
    let endings = |begun: String| ENDINGS.iter().map(move |end| format!("{begun}{end}"));
    let actions = |opening: &'static str| {
        ACTIONS.iter().map(move |action| format!("{opening}{action}")).flat_map(endings)
    };
    OPENINGS.into_iter().flat_map(actions).collect()
}

/// Sends it, and looks at what must hold of every answer.
pub fn sent(send: impl FnOnce() -> Answer, said: &str) -> Answer {
    let begun = Instant::now();
    let answer = send();
    assert!(answer.status < 500, "{said}: {}", answer.body);
    assert!(begun.elapsed() < WAIT, "{said}: after {:?}", begun.elapsed());
    answer
}

/// A way to send a text.
pub type Way<'a> = Box<dyn Fn(&str) -> Answer + 'a>;

/// Every way in which the request takes a text, by its name.
pub fn ways<'a>(examples: &Examples, request: &'a Request<'_>) -> Vec<(String, Way<'a>)> {
    let mut found: Vec<(String, Way<'a>)> = Vec::new();
    let (path, query) = request.address.split_once('?').unwrap_or((&request.address, ""));
    if request.operation.method == "GET" {
        for name in request.operation.parameters.clone() {
            let others: Vec<&str> = query
                .split('&')
                .filter(|pair| !pair.is_empty() && !pair.starts_with(&format!("{name}=")))
                .collect();
            let others = others.join("&");
            let asked = name.clone();
            let send = move |text: &str| {
                let address = format!("{path}?{others}&{asked}={}", encoded(text));
                request.call(&address.replace("?&", "?"), None).send()
            };
            found.push((format!("?{name}"), Box::new(send)));
        }
    }
    let places = request.operation.path.split('/').enumerate();
    for (place, name) in places.filter(|(_, part)| part.starts_with('{')) {
        let dry = if request.takes_dry_run() { "?dry_run=true" } else { "" };
        if request.operation.method != "GET" && dry.is_empty() {
            continue;
        }
        let send = move |text: &str| {
            let mut parts: Vec<String> = path.split('/').map(str::to_owned).collect();
            parts[place] = encoded(text);
            let address = format!("{}{dry}", parts.join("/"));
            request.call(&address, request.body.as_ref()).send()
        };
        found.push((name.to_owned(), Box::new(send)));
    }
    let Some(body) = request.body.as_ref().filter(|_| request.takes_dry_run()) else {
        return found;
    };
    let places = [examples.places(request, "string"), examples.places(request, "formatted")];
    for at in places.concat() {
        let send = {
            let at = at.clone();
            move |text: &str| request.rehearse(&with(body, &at, json!(text)))
        };
        found.push((at, Box::new(send)));
    }
    let key = move |text: &str| {
        request.rehearse(&with(body, &format!("/{}", text.replace('/', "")), json!(1)))
    };
    found.push(("a member's name".to_owned(), Box::new(key)));
    found
}

/// How many rows each table has, by one look.
fn counts(place: &Place, tables: &[String]) -> Vec<String> {
    let count = |table: &String| format!("(SELECT count(*) FROM \"{table}\")");
    let each: Vec<String> =
        tables.iter().map(|table| format!("CAST({} AS TEXT)", count(table))).collect();
    place.lines(&format!("SELECT {} AS line", each.join(" || ' ' || ")))
}

fn nothing_is_run(test: &str, place: Place, share: usize, twins: usize) {
    let shops = Shops::open(place);
    let (payloads, mut dice) = (payloads(), dice(test));
    let tables: Vec<String> = rows::all(&shops.place).into_keys().collect();
    let (mut tried, mut compared, mut places) = (0, 0, 0);
    let mut seen = BTreeSet::new();
    Examples::of(&shops).play(&shops, |examples, request| {
        if !seen.insert(request.name.to_owned()) {
            return;
        }
        let before = counts(&shops.place, &tables);
        for (place, send) in ways(examples, request) {
            places += 1;
            for payload in some(&mut dice, &payloads, share) {
                sent(|| send(payload), &format!("{} {place}: {payload}", request.name));
                tried += 1;
            }
            for (holds, fails) in some(&mut dice, &TWINS, twins) {
                let said = format!("{} {place}: {holds}", request.name);
                let [one, other] = [holds, fails].map(|text| {
                    let answer = sent(|| send(text), &said);
                    let reads = request.operation.method == "GET";
                    let body = if reads { masked(&answer.body, text) } else { String::new() };
                    (answer.status, body)
                });
                assert_eq!(one, other, "{said}");
                compared += 1;
            }
        }
        assert_eq!(counts(&shops.place, &tables), before, "{}", request.name);
    });
    println!(
        "{test}: {tried} of {} payloads in {places} places, {compared} twins: nothing was run",
        payloads.len()
    );
    assert!(places > 500 && tried > 500 && compared > 500, "{places} {tried} {compared}");
    let after: Vec<String> = rows::all(&shops.place).into_keys().collect();
    assert_eq!(after, tables);
}

/// Without the text itself, which answers may tell.
fn masked(body: &str, text: &str) -> String {
    let in_json = json!(text).to_string();
    let forms = [encoded(text), in_json.trim_matches('"').to_owned(), text.to_owned()];
    forms.iter().fold(body.to_owned(), |body, form| body.replace(form.as_str(), "#"))
}

#[test]
fn nothing_is_run_on_sqlite() {
    let (share, twins) = (trials(2, 10_000), trials(1, 8));
    nothing_is_run("nothing_is_run_on_sqlite", Place::sqlite(), share, twins);
}

#[test]
fn nothing_is_run_on_postgres() {
    let (share, twins) = (trials(1, 10_000), trials(1, 8));
    if let Some(place) = Place::postgres() {
        nothing_is_run("nothing_is_run_on_postgres", place, share, twins);
    }
}
