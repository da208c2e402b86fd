//! Closes over HTTP, with three checks and a part each, beside a bare handler
//! that inserts the same rows. `closes [FOLDER PASSWORD]`: on a copy of that
//! record, whose people all have that password, else on a small one of its own. Prints figures as JSON.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::expect_used)]
#![allow(clippy::disallowed_methods, reason = "a bench has a clock of its own")]

mod bare;
mod parties;
#[allow(dead_code, reason = "the bare handler knows the tables it writes to")]
#[path = "../../api/src/db/schema.rs"]
mod schema;

use std::collections::HashMap;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::{Integer, Text};
use diesel::sqlite::SqliteConnection;
use serde_json::{Value, json};

use parties::{Client, Scratch, Server};

const PASSWORD: &str = "lamp river seven chair";
/// How long each round lasts.
const ROUND: Duration = Duration::from_secs(10);
/// Open jobs made for each of the rounds, in all shops together.
const JOBS: usize = 60_000;
const SHOPS: usize = 4;

fn main() {
    let sent: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let sent: Vec<&str> = sent.iter().map(String::as_str).collect();
    match sent.as_slice() {
        ["bare", folder, person] => bare::serve(folder, (*person).to_owned()),
        [folder, password] => measure(Path::new(folder), password),
        _ => {
            let folder = Scratch::new("own");
            furnish(&folder.0);
            measure(&folder.0, PASSWORD);
        }
    }
}

fn add_person(folder: &Path, sign_in: &str, role: &str, shop: Option<&str>) {
    let mut add = Command::new(env!("CARGO_BIN_EXE_onetrip"));
    add.arg("--data").arg(folder).args(["user", "add", "--group", "bench", "--name", sign_in]);
    add.args(["--sign-in", sign_in, "--role", role, "--password-stdin"]);
    if let Some(shop) = shop {
        add.args(["--shop", shop]);
    }
    let mut child = add.stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(format!("{PASSWORD}\n").as_bytes()).unwrap();
    assert!(child.wait().unwrap().success());
}

/// A record of its own: shops of one group.
fn furnish(folder: &Path) {
    add_person(folder, "administrator.bench", "administrator", None);
    let server = Server::onetrip(folder);
    let mut client = Client::to(&server.address);
    let administrator = client.sign_in("administrator.bench", PASSWORD);
    for number in 0..SHOPS {
        let code = format!("s{number}");
        let shop = json!({
            "code": code, "name": format!("Shop {number}"), "time_zone": "America/Chicago",
            "currency": "USD", "labor_cost_minor": 9000, "posted_rate_minor": 14000,
            "window_days": 60,
        });
        let (status, made) = client.call("POST", "/api/v1/shops", &administrator, &shop);
        assert_eq!(status, 201, "{made}");
        let manager = format!("manager.{code}");
        add_person(folder, &manager, "service-manager", Some(&code));
    }
}

/// Somebody of each shop who signs in.
#[derive(QueryableByName)]
struct Worker {
    #[diesel(sql_type = Integer)]
    shop: i32,
    #[diesel(sql_type = Text)]
    public_id: String,
    #[diesel(sql_type = Text)]
    person: String,
    #[diesel(sql_type = Text)]
    sign_in: String,
}

fn workers(conn: &mut SqliteConnection) -> Vec<Worker> {
    diesel::sql_query(
        "SELECT shop_id AS shop, public_id, person.id AS person, MIN(sign_in_name) AS sign_in \
         FROM role_grant JOIN person ON person.id = person_id JOIN shop ON shop.id = shop_id \
         WHERE shop_id IS NOT NULL AND sign_in_name IS NOT NULL AND active GROUP BY shop_id",
    )
    .load(conn)
    .unwrap()
}

#[derive(QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

#[derive(QueryableByName)]
struct Template {
    #[diesel(sql_type = Integer)]
    shop: i32,
    #[diesel(sql_type = Text)]
    public_id: String,
    #[diesel(sql_type = Text)]
    job: String,
    #[diesel(sql_type = Text)]
    order: String,
    #[diesel(sql_type = Text)]
    vehicle: String,
}

fn lines(conn: &mut SqliteConnection, sql: &str) -> Vec<String> {
    let lines: Vec<Line> = diesel::sql_query(sql).load(conn).unwrap();
    lines.into_iter().map(|line| line.line).collect()
}

/// Repeats a row, with some columns replaced by expressions over `i`.
fn repeat(
    conn: &mut SqliteConnection,
    table: &str,
    id: &str,
    count: usize,
    new: &[(&str, String)],
) {
    let columns = lines(conn, &format!("SELECT name AS line FROM pragma_table_info('{table}')"));
    let of = |column: &String| {
        let own = new.iter().find(|(name, _)| name == column);
        own.map_or_else(|| format!("t.{column}"), |(_, expression)| expression.clone())
    };
    let values: Vec<String> = columns.iter().map(of).collect();
    conn.batch_execute(&format!(
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {count}) \
         INSERT INTO {table} ({}) SELECT {} FROM n, {table} t WHERE t.id = '{id}'",
        columns.join(", "),
        values.join(", "),
    ))
    .unwrap();
}

/// Opens a job in each shop, from which the others are made. Once served, the
/// record is brought up to date, too.
fn write_up(copy: &Scratch, workers: &[Worker], password: &str) {
    let server = Server::onetrip(&copy.0);
    let mut client = Client::to(&server.address);
    let order = json!({
        "vehicle": { "plate": "TEMPLATE" },
        "jobs": [{ "symptom": "engine.stalls", "complaint": "it dies at the lights" }],
    });
    for worker in workers {
        let token = client.sign_in(&worker.sign_in, password);
        let path = format!("/api/v1/shops/{}/orders", worker.public_id);
        let (status, made) = client.call("POST", &path, &token, &order);
        assert_eq!(status, 201, "{made}");
    }
}

/// An open job to close: the shop's number, its public id, the job, its version.
type Open = (i32, String, String, i32);

/// Makes open jobs beside the first open job of each shop: each on an order and
/// a vehicle of its own.
fn prepare(folder: &Scratch) -> Vec<Open> {
    let mut conn = folder.conn();
    conn.batch_execute("PRAGMA journal_mode = WAL; PRAGMA synchronous = OFF;").unwrap();
    let found: Vec<Template> = diesel::sql_query(
        "SELECT shop.id AS shop, public_id, MIN(job.id) AS job, repair_order.id AS \"order\", \
         vehicle_id AS vehicle FROM shop JOIN job ON job.shop_id = shop.id \
         JOIN repair_order ON repair_order.shop_id = shop.id AND repair_order.id = job.order_id \
         WHERE status = 'open' AND outcome IS NULL AND kind = 'complaint' \
         AND symptom IS NOT NULL AND waiting_for IS NULL GROUP BY shop.id",
    )
    .load(&mut conn)
    .unwrap();
    assert!(!found.is_empty(), "no shop has an open job");
    let count = JOBS / found.len();
    let mut open = Vec::new();
    for from in &found {
        let id = |kind: u8| format!("printf('%08x-00{kind:02}-7000-8000-%012x', t.shop_id, i)");
        let plate = "printf('Z%08d', i)".to_owned();
        repeat(
            &mut conn,
            "vehicle",
            &from.vehicle,
            count,
            &[
                ("id", id(1)),
                ("vin", "NULL".into()),
                ("plate", plate.clone()),
                ("plate_key", plate),
            ],
        );
        repeat(
            &mut conn,
            "repair_order",
            &from.order,
            count,
            &[("id", id(2)), ("order_no", "printf('Z%d', i)".into()), ("vehicle_id", id(1))],
        );
        repeat(
            &mut conn,
            "job",
            &from.job,
            count,
            &[("id", id(3)), ("order_id", id(2)), ("job_no", "1".into()), ("version", "1".into())],
        );
        open.extend((1..=count).map(|i| {
            let id = format!("{:08x}-0003-7000-8000-{i:012x}", from.shop);
            (from.shop, from.public_id.clone(), id, 1)
        }));
    }
    // Shops take turns, as they would.
    open.sort_by(|one, other| one.2[9..].cmp(&other.2[9..]));
    open.reverse();
    open
}

fn closing() -> String {
    json!({
        "outcome": "repaired", "cause": "air-filter", "cause_how": "reading before and after",
        "correction": "cleaned and refitted",
        "checks": [
            { "code": "read-codes", "finding": "normal", "minutes": 8 },
            { "code": "charging-voltage", "finding": "normal", "minutes": 5 },
            { "code": "road-test", "finding": "abnormal", "minutes": 12 },
        ],
        "parts": [{
            "part_no": "AF-100", "name": "air filter", "disposition": "replaced_new",
            "role": "suspect",
        }],
    })
    .to_string()
}

/// Closes jobs over so many connections for the round's time.
fn round(
    address: &str,
    connections: usize,
    open: &Mutex<Vec<Open>>,
    head: impl Fn(&Open) -> String + Sync,
) -> Value {
    let body = closing();
    let began = Instant::now();
    let one = || {
        let mut client = Client::to(address);
        let (mut took, mut faults) = (Vec::new(), 0);
        while began.elapsed() < ROUND {
            let Some(job) = open.lock().unwrap().pop() else { break };
            let key = uuid::Uuid::now_v7();
            let head = format!(
                "{}content-type: application/json\r\nidempotency-key: {key}\r\n",
                head(&job)
            );
            let sent = Instant::now();
            let (status, _, answer) = client.send(&head, &body);
            took.push(sent.elapsed());
            if status != 200 {
                faults += 1;
                if faults == 1 {
                    eprintln!("{status} {answer}");
                }
            }
        }
        (took, faults)
    };
    let (mut took, mut faults) = (Vec::new(), 0);
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..connections).map(|_| scope.spawn(one)).collect();
        for thread in threads {
            let (some, wrong) = thread.join().unwrap();
            took.extend(some);
            faults += wrong;
        }
    });
    let seconds = began.elapsed().as_secs_f64();
    took.sort();
    let at = |part: f64| took[((took.len() - 1) as f64 * part) as usize].as_secs_f64() * 1e3;
    json!({
        "connections": connections, "closes_per_second": (took.len() as f64 / seconds).round(),
        "p50_ms": at(0.5), "p99_ms": at(0.99), "max_ms": at(1.0), "errors": faults,
        "closed": took.len(),
    })
}

fn measure(folder: &Path, password: &str) {
    let mut said = serde_json::Map::new();
    let mut rates = [Vec::new(), Vec::new()];
    for (place, name) in ["onetrip", "bare"].into_iter().enumerate() {
        for connections in [8, 32] {
            let copy = Scratch::copy_of(folder, name);
            let workers = workers(&mut copy.conn());
            write_up(&copy, &workers, password);
            let open = prepare(&copy);
            let told = if name == "onetrip" {
                let server = Server::onetrip(&copy.0);
                let mut client = Client::to(&server.address);
                let tokens: HashMap<i32, String> = workers
                    .iter()
                    .map(|worker| (worker.shop, client.sign_in(&worker.sign_in, password)))
                    .collect();
                let head = |(number, shop, job, version): &Open| {
                    let token = &tokens[number];
                    format!(
                        "POST /api/v1/shops/{shop}/jobs/{job}/closure HTTP/1.1\r\n\
                         authorization: Bearer {token}\r\nif-match: \"{version}\"\r\n"
                    )
                };
                round(&server.address, connections, &Mutex::new(open), head)
            } else {
                let server = Server::bare(&copy.0, &workers[0].person);
                let head = |(shop, _, job, _): &Open| {
                    format!("POST /shops/{shop}/jobs/{job}/closure HTTP/1.1\r\n")
                };
                round(&server.address, connections, &Mutex::new(open), head)
            };
            rates[place].push(told["closes_per_second"].as_f64().unwrap());
            said.insert(format!("{name}_{connections}"), told);
        }
    }
    let ratio = |at: usize| rates[0][at] / rates[1][at];
    said.insert("ratio_at_8".into(), json!(ratio(0)));
    said.insert("ratio_at_32".into(), json!(ratio(1)));
    println!("{}", serde_json::to_string_pretty(&Value::Object(said)).unwrap());
}
