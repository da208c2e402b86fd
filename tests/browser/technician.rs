//! The technician's minute: from opening the job to closed, by thumb.

use serde_json::{Value, json};

use crate::browser::Browser;
use crate::stage::{SHOP, Stage, in_a_browser};
use crate::support::Client;
use crate::support::visit::{self, text};

in_a_browser!(a_job_is_done, a_job_is_done_without_script, what_is_tapped_offline_is_sent_once,);

fn a_job_is_done(stage: &Stage) {
    from_today(stage, true);
}

fn a_job_is_done_without_script(stage: &Stage) {
    from_today(stage, false);
}

/// An open job that the technician leads: its id.
pub fn open_job(stage: &Stage, job: &Value) -> String {
    let manager = stage.program("manager");
    let mut job = job.clone();
    job["lead_id"] = visit::person(&manager, "Mirela Voss").into();
    let plate = format!("BR {}", uuid::Uuid::new_v4().simple());
    let body = json!({ "vehicle": { "plate": &plate[..9] }, "jobs": [job] });
    let order = manager.post("orders", &body).expect(201).json();
    text(&order["jobs"][0]["id"]).to_owned()
}

fn complaint(symptom: &str, words: &str) -> Value {
    json!({ "symptom": symptom, "complaint": words })
}

/// A complaint as it is usually worked: two checks, a part, the cause.
fn work(browser: &Browser) {
    browser.tap("[data-step=clock][value=diagnosis]");
    browser.tap("form[data-check] [data-step=finding][value=normal]");
    browser.tap("form[data-check] [data-step=finding][value=abnormal]");
    browser.tap("[data-step=part-open]");
    browser.tap("[data-part][open] [data-step=part][value='suspect replaced_new']");
    browser.tap("[data-step=cause]");
    browser.tap("[data-step=cause-how]");
    browser.tap("form[data-way=road_test] [data-step=proof][value=yes]");
    browser.tap("[data-step=close]");
}

/// What the record has of a closed job.
pub fn closed(browser: &Browser, technician: &Client, job: &str) -> Value {
    browser.until("the closed job", || {
        let job = technician.get(&format!("jobs/{job}")).expect(200).json();
        (!job["outcome"].is_null()).then_some(job)
    })
}

fn from_today(stage: &Stage, script: bool) {
    let words = "Shakes at the lights, worse when it is cold";
    let job = open_job(stage, &complaint("engine.idle-rough", words));
    let browser = stage.browser_of("technician", script);
    browser.size(390, 844);
    browser.go(&format!("/shops/{SHOP}/today"));
    browser.tap_on("#mine a", words);
    browser.until("the job", || browser.place().contains(&job).then_some(()));
    browser.taps.set(0);
    work(&browser);
    let done = closed(&browser, &stage.program("technician"), &job);
    assert_eq!(done["outcome"], "repaired");
    assert_eq!(done["cause_state"], "confirmed");
    let checks = done["checks"].as_array().unwrap();
    let findings: Vec<&Value> = checks.iter().map(|check| &check["finding"]).collect();
    assert_eq!(findings, ["normal", "abnormal"]);
    assert_eq!(done["parts"][0]["role"], "suspect");
    assert_eq!(done["proofs"][0]["passed"], true);
    // The clock ran, and ended with the job.
    let labor = done["labor"].as_array().unwrap();
    assert!(labor.iter().all(|entry| !entry["ended_at"].is_null()), "{labor:?}");
    assert!(browser.taps.get() <= 12, "{} taps", browser.taps.get());
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

fn what_is_tapped_offline_is_sent_once(stage: &Stage) {
    let job = open_job(stage, &complaint("engine.idle-rough", "Dies when I stop"));
    let browser = stage.browser_of("technician", true);
    let technician = stage.program("technician");
    let checks = || {
        let job = technician.get(&format!("jobs/{job}")).expect(200).json();
        job["checks"].as_array().unwrap().len()
    };
    browser.go(&format!("/shops/{SHOP}/jobs/{job}"));
    browser.until("the script", || (browser.count("html[data-script]") == 1).then_some(()));
    browser.network(false);
    browser.tap("form[data-check] [data-step=finding][value=abnormal]");
    browser.until("the card", || (browser.count("#outbox") == 1).then_some(()));
    browser.until("the word beside it", || (browser.count("p.not-sent") == 1).then_some(()));
    assert_eq!(checks(), 0);
    browser.network(true);
    browser.until("the check in the record", || (checks() == 1).then_some(()));
    browser.until("the word that it is sent", || {
        (browser.count("p.not-sent.sent") == 1 && browser.count("#outbox") == 0).then_some(())
    });
    // Neither the page as it is opened again nor time sends it a second time.
    browser.tap("p.not-sent.sent a");
    browser.until("the page anew", || (browser.count("p.not-sent") == 0).then_some(()));
    browser.until("the script", || (browser.count("html[data-script]") == 1).then_some(()));
    std::thread::sleep(std::time::Duration::from_secs(3));
    assert_eq!(checks(), 1);
    assert_eq!(browser.count("#outbox"), 0);
}
