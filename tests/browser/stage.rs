//! The demo shop, served, with work of every kind in it.

use std::sync::OnceLock;

use chrono::{Days, NaiveDate};
use serde_json::{Value, json};

use crate::browser::{Browser, there_is_one};
use crate::support::folder::Folder;
use crate::support::visit::text;
use crate::support::{Client, Place, Program, Server, now};

pub const PASSWORD: &str = "demo four sycamores";
pub const SHOP: &str = "four-sycamores";

/// A role's word in the access table, and who of the demo shop has it.
pub const PEOPLE: [(&str, &str); 5] = [
    ("technician", "mirela"),
    ("adviser", "wren"),
    ("manager", "piotr"),
    ("owner", "adaeze"),
    ("administrator", "office"),
];

/// The demo shop, served to browsers.
pub struct Stage {
    // Before the place: the server ends first.
    server: Server,
    pub place: Place,
    shop: String,
    /// Where the server reads the time, if not from the machine.
    _clock: Option<Folder>,
}

/// What stands in the record, for addresses that name it.
pub struct Things {
    pub orders: Vec<String>,
    pub jobs: Vec<String>,
    pub vehicle: String,
    pub comebacks: Vec<String>,
    pub person: String,
    pub rule: String,
    /// A sheet of readings, under way.
    pub sheet: String,
    /// A list of the shop's own, and a starting one.
    pub reading_lists: Vec<String>,
    pub plan: String,
}

/// Makes each function into two tests, one for each database.
macro_rules! in_a_browser {
    ($($test:ident),+ $(,)?) => {
        mod sqlite {
            $(#[test]
            fn $test() {
                $crate::stage::Stage::sqlite().as_ref().map(super::$test);
            })+
        }
        mod postgres {
            $(#[test]
            fn $test() {
                $crate::stage::Stage::postgres().as_ref().map(super::$test);
            })+
        }
    };
}
pub(crate) use in_a_browser;

fn with_demo(place: Place) -> Place {
    // Up to yesterday, so that today has open work.
    Program::new(&place, &["demo", "--prepare-only"]).must("");
    place
}

impl Stage {
    /// `None` where there is no browser.
    pub fn sqlite() -> Option<Self> {
        static MODEL: OnceLock<Place> = OnceLock::new();
        let model = || MODEL.get_or_init(|| with_demo(Place::empty_sqlite()));
        there_is_one().then(|| Self::on(model().copied()))
    }

    /// `None` where there is no browser or no PostgreSQL.
    pub fn postgres() -> Option<Self> {
        static MODEL: OnceLock<Option<Place>> = OnceLock::new();
        let model = || MODEL.get_or_init(|| Place::empty_postgres().map(with_demo));
        if !there_is_one() {
            return None;
        }
        model().as_ref().map(|model| Self::on(model.copied()))
    }

    fn on(place: Place) -> Self {
        let server = Server::start(&place);
        let mut stage = Self { server, place, shop: String::new(), _clock: None };
        let me = stage.program("manager").get("/api/v1/me").expect(200).json();
        stage.shop = text(&me["shops"][0]["id"]).to_owned();
        stage
    }

    /// The same record, served so many days later: everybody signs in anew.
    pub fn later(self, days: i64) -> Self {
        let Self { server, place, shop, .. } = self;
        drop(server);
        let folder = Folder::new();
        let file = folder.path().join("clock");
        let then = now() + chrono::TimeDelta::days(days);
        std::fs::write(&file, then.to_rfc3339()).unwrap();
        let server = Server::with(&place, &["--clock-file", file.to_str().unwrap()]);
        Self { server, place, shop, _clock: Some(folder) }
    }

    pub fn base(&self) -> &str {
        &self.server.base
    }

    pub fn browser(&self) -> Browser {
        Browser::open(self.base())
    }

    /// A browser in which that role has signed in, with script or without.
    pub fn browser_of(&self, role: &str, script: bool) -> Browser {
        let browser = self.browser();
        browser.script(script);
        browser.sign_in(name_of(role), PASSWORD);
        browser
    }

    /// Somebody of that role with a token, in the shop.
    pub fn program(&self, role: &str) -> Client {
        let client = Client::new(self.base());
        let body = json!({ "sign_in_name": name_of(role), "password": PASSWORD });
        let answer = client.call("POST", "/api/v1/sessions").json(&body).send().expect(200).json();
        let token = format!("Bearer {}", text(&answer["token"]));
        client.with("authorization", token).within(format!("/api/v1/shops/{}", self.shop))
    }
}

pub fn name_of(role: &str) -> &'static str {
    let found = PEOPLE.iter().find(|(word, _)| *word == role);
    found.unwrap_or_else(|| panic!("nobody is {role}")).1
}

/// A write-up of one complaint; the order as it was answered.
fn write_up(client: &Client, plate: &str, symptom: &str) -> Value {
    let body = json!({
        "vehicle": { "plate": plate, "make": "Ashlar", "model": "Corvane", "model_year": 2016 },
        "customer_name": "Odalys Brunner-Teague",
        "customer_contact": "by phone after five",
        "odometer_in": 81_200,
        "promised_at": now() + chrono::TimeDelta::hours(3),
        "jobs": [{
            "symptom": symptom, "complaint": "Shakes at the lights, worse when it is cold",
        }],
    });
    client.post("orders", &body).expect(201).json()
}

/// Something of each kind on a job.
fn work_on(client: &Client, job: &str, day: NaiveDate) {
    let person = client.get("/api/v1/me").expect(200).json()["id"].clone();
    let lines = [
        ("checks", json!({ "code": "read-codes", "finding": "normal", "minutes": 8 })),
        (
            "checks",
            json!({
                "code": "charging-voltage", "finding": "abnormal", "minutes": 12,
                "position": "battery", "reading": 15.1, "unit": "V", "low_limit": 13.5,
                "high_limit": 14.8, "limit_source": "the shop",
            }),
        ),
        (
            "parts",
            json!({
                "part_no": "IAV-7", "name": "idle air valve", "position": "left",
                "disposition": "cleaned_reused", "role": "suspect", "bench_reading": 11.5,
                "bench_unit": "Ohm", "supplier": "the parts house", "lot": "B-12",
            }),
        ),
        (
            "operations",
            json!({
                "code": "idle-air-valve", "flat_rate_hundredths": 80, "billed_hundredths": 90,
                "labor_amount_minor": 12_600, "payer": "customer",
            }),
        ),
        (
            "labor",
            json!({
                "activity": "diagnosis", "person_id": person,
                "started_at": format!("{day}T15:00:00Z"), "ended_at": format!("{day}T15:30:00Z"),
            }),
        ),
        ("labor", json!({ "activity": "repair" })),
        ("waits", json!({ "waiting_for": "part", "note": "on back order" })),
        (
            "sublets",
            json!({ "business": "the machine shop", "work": "pressure test", "cost_minor": 9_000 }),
        ),
        ("proofs", json!({ "how": "road_test", "passed": true })),
    ];
    for (kind, body) in lines {
        client.post(&format!("jobs/{job}/{kind}"), &body).expect(201);
    }
}

/// A sheet with a reading that fails, one that passes, and one that is not there:
/// its id and its list's.
fn readings(client: &Client, vehicle: &str) -> (String, String) {
    client.post("stock", &json!({ "vehicle_id": vehicle })).expect(201);
    let sheet = client.post("reading-sheets", &json!({ "vehicle_id": vehicle })).expect(201).json();
    let id = text(&sheet["id"]);
    for reading in [
        json!({ "line": "battery.gravity", "temperature": 60,
            "values": [1.276, 1.272, 1.274, 1.246, 1.275, 1.273] }),
        json!({ "line": "lamps", "yes": true }),
        json!({ "line": "road-test", "state": "not_measured", "reason": "no plates yet" }),
    ] {
        client.post(&format!("reading-sheets/{id}/readings"), &reading).expect(200);
    }
    (id.to_owned(), text(&sheet["list_id"]).to_owned())
}

/// A check plan with a proposal of the record.
fn plan(client: &Client) -> String {
    let listed = client.get("plans").expect(200).json();
    let there = listed["items"].as_array().and_then(|plans| plans.first().cloned());
    let plan = there.unwrap_or_else(|| {
        client
            .post(
                "plans",
                &json!({ "symptom": "engine.idle-rough", "steps": [
            { "check": "read-codes", "mandatory": true },
            { "check": "intake-smoke", "points_to": [
                { "finding": "smoke at a joint", "cause": "intake-leak", "correction": "sealed" },
            ] },
            { "check": "plug-coil" },
        ] }),
            )
            .expect(201)
            .json()
    });
    let place = format!("plans/{}", text(&plan["id"]));
    let waits = plan["versions"].as_array().unwrap().iter().any(|one| one["state"] == "proposed");
    if !waits {
        client.settle(&place, "proposals", &json!({})).expect(200);
    }
    text(&plan["id"]).to_owned()
}

impl Things {
    /// Adds to the record what the demo has none of, and names what it has.
    pub fn make(stage: &Stage) -> Self {
        let manager = stage.program("manager");
        let yesterday = now().date_naive() - Days::new(1);
        let worked = write_up(&manager, "BR 4471", "engine.idle-rough");
        let job = text(&worked["jobs"][0]["id"]).to_owned();
        work_on(&manager, &job, yesterday);
        let order = text(&worked["id"]).to_owned();
        let amount = json!({
            "amount_minor": 45_000, "authorized_by": "Odalys Brunner-Teague",
            "authorized_how": "by phone",
        });
        manager.post(&format!("orders/{order}/authorizations"), &amount).expect(201);
        let states = ["proposed", "confirmed", "rejected"];
        let found = states.map(|state| {
            let list = manager.get(&format!("comebacks?state={state}&limit=1")).expect(200).json();
            list["items"][0].clone()
        });
        let comebacks: Vec<&Value> = found.iter().filter(|row| !row.is_null()).collect();
        assert!(comebacks.len() > 1, "{found:?}");
        let id = |value: &Value| text(value).to_owned();
        let rule = json!({
            "kind": "replace_suspect", "part": "IAV-7", "title": "New idle air valve",
            "words": "where it was held for the cause, a new one goes in",
            "evidence": "9 of 38 cleaned ones came back",
        });
        // The first repair of a confirmed one, handed over, and the second.
        let (first, second) =
            (id(&comebacks[1]["earlier_job_id"]), id(&comebacks[1]["later_job_id"]));
        let returned = manager.get(&format!("jobs/{first}")).expect(200).json();
        let waiting = id(&comebacks[0]["later_job_id"]);
        let person = crate::support::visit::person(&manager, "Mirela Voss");
        let (sheet, list) = readings(&manager, text(&worked["vehicle_id"]));
        Self {
            sheet,
            reading_lists: vec![list, "hand_over".to_owned()],
            vehicle: id(&worked["vehicle_id"]),
            orders: vec![order, id(&returned["order_id"])],
            jobs: vec![job, first, second, waiting],
            comebacks: comebacks.iter().map(|row| id(&row["id"])).collect(),
            plan: plan(&manager),
            person,
            rule: id(&manager.post("rules", &rule).expect(201).json()["id"]),
        }
    }
}
