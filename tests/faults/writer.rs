//! One of those who write while the server is killed: it remembers what was
//! promised, and asks again for what was not answered.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

use crate::support::visit::text;
use crate::support::{Answer, Client};

/// What one request does. Each carries its key into the record, where it can
/// be counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    Open,
    Check,
    Part,
    Proof,
    Close,
    HandOver,
}

/// A request that may be sent again as it was.
#[derive(Debug, Clone)]
pub struct Asked {
    pub kind: Kind,
    pub key: String,
    path: String,
    body: Value,
    tag: Option<String>,
}

/// A write that was acknowledged.
pub struct Promised {
    pub asked: Asked,
    pub body: String,
}

/// Whether an answer says "not now".
fn not_now(answer: &Answer) -> bool {
    [503, 507].contains(&answer.status)
}

/// Somebody who writes on one vehicle, one visit after the other.
pub struct Writer {
    client: Client,
    plate: String,
    dice: ChaCha8Rng,
    order: Option<String>,
    job: Option<String>,
    waiting: Option<Asked>,
    pub promised: Vec<Promised>,
    /// Requests that were left without an answer, and are sent again.
    pub repeated: usize,
    /// Answers that said that the disk is full.
    pub full: usize,
    /// Answers that said "not now" and not when to come again.
    pub unhinted: usize,
}

impl Writer {
    pub fn new(client: Client, number: usize, dice: ChaCha8Rng) -> Self {
        Self {
            client,
            plate: format!("KILL {number}"),
            dice,
            order: None,
            job: None,
            waiting: None,
            promised: Vec::new(),
            repeated: 0,
            full: 0,
            unhinted: 0,
        }
    }

    /// Goes on at a server that was started anew.
    pub fn move_to(&mut self, base: &str) {
        self.client = self.client.clone().moved_to(base);
    }

    /// Writes until the server is gone; first what was left without an answer.
    pub fn write(&mut self) {
        while self.settle()
            && let Some(asked) = self.next()
        {
            self.waiting = Some(asked);
        }
    }

    /// Writes until it is told to stop, whatever the server answers meanwhile.
    pub fn write_until(&mut self, over: &AtomicBool) {
        while !over.load(Ordering::Relaxed) {
            if self.settle() {
                self.waiting = self.next();
            }
            if self.waiting.is_none() {
                // It says "not now": asked at once again it would say so again.
                std::thread::sleep(Duration::from_millis(5));
            }
        }
    }

    /// Sends what waits; false where it goes on waiting.
    pub fn settle(&mut self) -> bool {
        let Some(asked) = self.waiting.take() else { return true };
        let answer = self.ask(&asked);
        if let Some(answer) = answer.as_ref().filter(|answer| not_now(answer)) {
            self.full += usize::from(answer.status == 507);
            self.unhinted += usize::from(answer.header("retry-after").is_empty());
        }
        match answer.filter(|answer| !not_now(answer)) {
            Some(answer) => self.take(asked, answer),
            None => {
                self.repeated += 1;
                self.waiting = Some(asked);
            }
        }
        self.waiting.is_none()
    }

    /// Sends what waits until it is taken.
    pub fn insist(&mut self) {
        let begun = std::time::Instant::now();
        while !self.settle() {
            assert!(begun.elapsed() < Duration::from_secs(20), "the server runs");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// `None` where no answer came.
    fn ask(&self, asked: &Asked) -> Option<Answer> {
        let call = self.client.call("POST", &asked.path).json(&asked.body).key(&asked.key);
        let call = match &asked.tag {
            Some(tag) => call.if_match(tag),
            None => call,
        };
        call.try_send().ok()
    }

    fn take(&mut self, asked: Asked, answer: Answer) {
        assert!((200..300).contains(&answer.status), "{asked:?}: {}", answer.body);
        let id = |value: &Value| Some(text(value).to_owned());
        match asked.kind {
            Kind::Open => {
                let made = answer.json();
                (self.order, self.job) = (id(&made["id"]), id(&made["jobs"][0]["id"]));
            }
            Kind::Close => self.job = None,
            Kind::HandOver => self.order = None,
            Kind::Check | Kind::Part | Kind::Proof => {}
        }
        self.promised.push(Promised { asked, body: answer.body });
    }

    /// The next request; `None` where the server is gone before it is asked.
    fn next(&mut self) -> Option<Asked> {
        let key = format!("{:032x}", self.dice.random::<u128>());
        let (kind, path, body) = match (&self.order, &self.job) {
            (None, _) => (Kind::Open, "orders".to_owned(), self.write_up(&key)),
            (Some(order), None) => (Kind::HandOver, format!("orders/{order}/closure"), json!({})),
            (_, Some(job)) => self.at_work(&job.clone(), &key),
        };
        let thing = path.strip_suffix("/closure");
        let tag = match thing {
            Some(thing) => {
                let read = self.client.call("GET", thing).try_send().ok()?;
                if not_now(&read) {
                    return None;
                }
                Some(read.expect(200).tag())
            }
            None => None,
        };
        Some(Asked { kind, key, path, body, tag })
    }

    fn write_up(&self, key: &str) -> Value {
        json!({
            "vehicle": { "plate": self.plate },
            "jobs": [{ "complaint": key, "symptom": "engine.stalls" }],
        })
    }

    fn at_work(&mut self, job: &str, key: &str) -> (Kind, String, Value) {
        match self.dice.random_range(0..8) {
            0..=2 => {
                let body = json!({ "code": "road-test", "position": key });
                (Kind::Check, format!("jobs/{job}/checks"), body)
            }
            3 | 4 => {
                let body = json!({ "name": key, "disposition": "replaced_new", "role": "suspect" });
                (Kind::Part, format!("jobs/{job}/parts"), body)
            }
            5 => {
                let body = json!({ "how": "road_test", "passed": true, "note": key });
                (Kind::Proof, format!("jobs/{job}/proofs"), body)
            }
            _ => {
                let body = json!({
                    "outcome": "repaired", "cause": "air-filter", "cause_how": "seen", "correction": key,
                });
                (Kind::Close, format!("jobs/{job}/closure"), body)
            }
        }
    }

    /// The same request once more is answered as it was.
    pub fn ask_again(&self, promised: &Promised) {
        let answer = self.ask(&promised.asked).expect("the server runs");
        assert_eq!(answer.body, promised.body, "{:?}", promised.asked);
    }
}
