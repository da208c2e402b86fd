//! Many kinds of requests at once, at a rate that is kept whatever the answers
//! take: `mixed FOLDER PASSWORD [RATE SECONDS]`, on a copy of that record. Time
//! counts from the moment a request was due. Prints figures as JSON.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a bench")]
#![allow(clippy::disallowed_methods, reason = "a bench has a clock of its own")]

#[allow(dead_code, reason = "the bare server is the other bench's")]
mod parties;

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{LazyLock, Mutex};
use std::time::{Duration, Instant};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel::sql_types::Text;
use serde_json::{Value, json};

use parties::{Client, Scratch, Server};

const CONNECTIONS: usize = 64;
/// Jobs of a shop that are worked on.
const AT_WORK: usize = 50;
/// Of twenty requests, in an order that no kind has to itself.
const MIX: [Kind; 20] = {
    use Kind::{Check, Close, Job, Labor, List, Report};
    [
        Job, List, Check, Job, Report, List, Job, Labor, List, Job, Close, Job, List, Check, Job,
        Report, List, Job, List, Job,
    ]
};
/// When the work began that is entered: of today, as work is.
static BEGAN: LazyLock<DateTime<Utc>> = LazyLock::new(|| Utc::now() - TimeDelta::hours(3));
const REPORTS: [&str; 6] = [
    "comebacks?by=symptom",
    "comebacks?by=technician",
    "weekly",
    "reuse",
    "paths",
    "labor?by=technician",
];

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Job,
    List,
    Report,
    Check,
    Labor,
    Close,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    shop: String,
    #[diesel(sql_type = Text)]
    what: String,
}

/// A shop with what is asked of it.
struct Shop {
    id: String,
    token: String,
    closed: Vec<String>,
    open: Mutex<Vec<String>>,
    /// Open jobs that checks and labor go to, in turn.
    at_work: Vec<String>,
    worked: AtomicUsize,
    labor: AtomicUsize,
}

fn rows(scratch: &Scratch, sql: &str) -> Vec<Row> {
    diesel::sql_query(sql).load(&mut scratch.conn()).unwrap()
}

fn managers(scratch: &Scratch) -> Vec<Row> {
    rows(
        scratch,
        "SELECT public_id AS shop, MIN(sign_in_name) AS what FROM shop \
         JOIN role_grant ON shop_id = shop.id JOIN person ON person.id = person_id \
         WHERE role = 'service_manager' AND sign_in_name IS NOT NULL GROUP BY shop.id",
    )
}

/// Up to two thousand jobs of each shop, from all its years.
fn closed_jobs(scratch: &Scratch) -> BTreeMap<String, Vec<String>> {
    let mut found = BTreeMap::<String, Vec<String>>::new();
    for row in rows(
        scratch,
        "SELECT public_id AS shop, job.id AS what FROM job JOIN shop ON shop.id = shop_id \
         WHERE outcome IS NOT NULL AND job.rowid % 25 = 0",
    ) {
        found.entry(row.shop).or_default().push(row.what);
    }
    found
}

fn opened(client: &mut Client, shop: &str, token: &str, plate: usize) -> String {
    let order = json!({
        "vehicle": { "plate": format!("MX{plate:07}") },
        "jobs": [{ "symptom": "engine.stalls", "complaint": "it dies at the lights" }],
    });
    let path = format!("/api/v1/shops/{shop}/orders");
    let (status, made) = client.call("POST", &path, token, &order);
    assert_eq!(status, 201, "{made}");
    made["jobs"][0]["id"].as_str().unwrap().to_owned()
}

/// Signs in and opens as many jobs as will be closed.
fn furnish(scratch: &Scratch, address: &str, password: &str, closes: usize) -> Vec<Shop> {
    let mut closed = closed_jobs(scratch);
    let managers = managers(scratch);
    let each = closes / managers.len() + 2;
    let plate = AtomicUsize::new(0);
    let furnished = |row: Row, closed: Vec<String>| {
        let mut client = Client::to(address);
        let token = client.sign_in(&row.what, password);
        let mut open = || {
            let plate = plate.fetch_add(1, Ordering::Relaxed);
            opened(&mut client, &row.shop, &token, plate)
        };
        let at_work = (0..AT_WORK).map(|_| open()).collect();
        let jobs = (0..each).map(|_| open()).collect();
        let (worked, labor) = (AtomicUsize::new(0), AtomicUsize::new(0));
        Shop { open: Mutex::new(jobs), at_work, worked, labor, closed, id: row.shop, token }
    };
    std::thread::scope(|scope| {
        let threads: Vec<_> = managers
            .into_iter()
            .map(|row| {
                let closed = closed.remove(&row.shop).unwrap_or_default();
                scope.spawn(|| furnished(row, closed))
            })
            .collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    })
}

/// Method, rest of the address and body of a request; further head lines.
fn request(shop: &Shop, kind: Kind, turn: usize) -> (&'static str, String, String, String) {
    let none = || (String::new(), String::new());
    let at_work =
        || &shop.at_work[shop.worked.fetch_add(1, Ordering::Relaxed) % shop.at_work.len()];
    let keyed = || format!("idempotency-key: {}\r\n", uuid::Uuid::now_v7());
    let (method, path, (head, body)) = match kind {
        Kind::Job => ("GET", format!("jobs/{}", shop.closed[turn * 7 % shop.closed.len()]), none()),
        Kind::List if turn.is_multiple_of(2) => {
            ("GET", "orders?status=open&limit=50".into(), none())
        }
        Kind::List => ("GET", "orders?status=closed&limit=50".into(), none()),
        Kind::Report => ("GET", format!("reports/{}", REPORTS[turn / 20 % REPORTS.len()]), none()),
        Kind::Check => {
            let check = json!({ "code": "read-codes", "finding": "normal", "minutes": 8 });
            ("POST", format!("jobs/{}/checks", at_work()), (keyed(), check.to_string()))
        }
        Kind::Labor => {
            // One after the other, so that nobody works twice at once.
            let number = shop.labor.fetch_add(1, Ordering::Relaxed) as i64;
            let from = *BEGAN + TimeDelta::seconds(10 * number);
            let to = from + TimeDelta::seconds(10);
            let labor = json!({ "activity": "diagnosis", "started_at": from, "ended_at": to });
            ("POST", format!("jobs/{}/labor", at_work()), (keyed(), labor.to_string()))
        }
        Kind::Close => {
            let job = shop.open.lock().unwrap().pop().unwrap();
            let closing = json!({
                "outcome": "repaired", "cause": "air-filter", "cause_how": "reading",
                "correction": "replaced",
                "checks": [{ "code": "read-codes", "finding": "normal", "minutes": 8 },
                    { "code": "road-test", "finding": "abnormal", "minutes": 12 }],
                "parts": [{ "part_no": "AF-100", "name": "air filter",
                    "disposition": "replaced_new", "role": "suspect" }],
            });
            let head = format!("{}if-match: \"1\"\r\n", keyed());
            ("POST", format!("jobs/{job}/closure"), (head, closing.to_string()))
        }
    };
    (method, path, head, body)
}

type Took = BTreeMap<Kind, Vec<(Duration, bool)>>;

/// One connection: takes the next request that is due until the time is over.
fn drive(
    address: &str,
    shops: &[Shop],
    next: &AtomicUsize,
    (rate, all): (f64, usize),
    began: Instant,
) -> Took {
    let mut client = Client::to(address);
    let mut took = Took::new();
    loop {
        let turn = next.fetch_add(1, Ordering::Relaxed);
        if turn >= all {
            return took;
        }
        let due = began + Duration::from_secs_f64(turn as f64 / rate);
        std::thread::sleep(due.saturating_duration_since(Instant::now()));
        let kind = MIX[turn % MIX.len()];
        let shop = &shops[turn / MIX.len() % shops.len()];
        let (method, path, head, body) = request(shop, kind, turn);
        let head = format!(
            "{method} /api/v1/shops/{}/{path} HTTP/1.1\r\nauthorization: Bearer {}\r\n\
             content-type: application/json\r\n{head}",
            shop.id, shop.token
        );
        let (status, _, answer) = client.send(&head, &body);
        let good = (200..300).contains(&status);
        if !good && took.values().flatten().all(|(_, good)| *good) {
            eprintln!("{kind:?}: {status} {answer}");
        }
        took.entry(kind).or_default().push((due.elapsed(), good));
    }
}

fn told(mut took: Vec<(Duration, bool)>) -> Value {
    took.sort_unstable();
    let at = |part: f64| took[((took.len() - 1) as f64 * part) as usize].0.as_secs_f64() * 1e3;
    let errors = took.iter().filter(|(_, good)| !good).count();
    json!({ "requests": took.len(), "errors": errors, "p50_ms": at(0.5), "p99_ms": at(0.99), "max_ms": at(1.0) })
}

fn main() {
    let sent: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let [folder, password, more @ ..] = sent.as_slice() else {
        eprintln!("give FOLDER PASSWORD [RATE SECONDS]");
        return;
    };
    let number = |at: usize, other: f64| more.get(at).map_or(other, |text| text.parse().unwrap());
    let (rate, seconds) = (number(0, 5000.0), number(1, 60.0));
    let all = (rate * seconds) as usize;
    let copy = Scratch::copy_of(Path::new(folder), "mixed");
    let server = Server::onetrip(&copy.0);
    let shops = furnish(&copy, &server.address, password, all / MIX.len());
    let mut client = Client::to(&server.address);
    loop {
        let (_, ready) = client.call("GET", "/readyz", "", &Value::Null);
        if ready["reports"]["ready"] == ready["reports"]["of"] {
            break;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    let (next, began) = (AtomicUsize::new(0), Instant::now());
    let mut took = Took::new();
    std::thread::scope(|scope| {
        let one = || drive(&server.address, &shops, &next, (rate, all), began);
        let threads: Vec<_> = (0..CONNECTIONS).map(|_| scope.spawn(one)).collect();
        for thread in threads {
            for (kind, some) in thread.join().unwrap() {
                took.entry(kind).or_default().extend(some);
            }
        }
    });
    let lasted = began.elapsed().as_secs_f64();
    let mut said = serde_json::Map::new();
    said.insert("asked_per_second".into(), json!(rate));
    said.insert("answered_per_second".into(), json!(all as f64 / lasted));
    said.insert("all".into(), told(took.values().flatten().copied().collect()));
    for (kind, some) in took {
        said.insert(format!("{kind:?}").to_lowercase(), told(some));
    }
    println!("{}", serde_json::to_string_pretty(&Value::Object(said)).unwrap());
}
