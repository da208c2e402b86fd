//! The circle from record to rule and back: a vehicle comes back, the enquiry
//! names why, a rule is taken, jobs keep it or do not, and on the review day the
//! program says what can be said.

use serde_json::{Value, json};

use crate::browser::Browser;
use crate::stage::{SHOP, Stage};
use crate::support::Client;
use crate::support::visit::{self, text};

mod sqlite {
    #[test]
    fn the_circle_closes() {
        if let Some(stage) = super::Stage::sqlite() {
            super::round(stage);
        }
    }
}

mod postgres {
    #[test]
    fn the_circle_closes() {
        if let Some(stage) = super::Stage::postgres() {
            super::round(stage);
        }
    }
}

const SYMPTOM: &str = "suspension.knock";
const CHECK: &str = "shake-down";
const CAUSE: &str = "ball-joint";
const TITLE: &str = "Shake it down before anything is taken off";
/// Past the review day, and the windows of the four jobs.
const LATER_DAYS: i64 = 400;

fn check(client: &Client, job: &str, code: &str, finding: &str) {
    let body = json!({ "code": code, "finding": finding, "minutes": 9 });
    client.post(&format!("jobs/{job}/checks"), &body).expect(201);
}

/// Two visits of one vehicle: the second is proposed as a comeback. Its id.
fn comes_back(manager: &Client) -> String {
    let (order, job) = visit::open(manager, "CI 4471", SYMPTOM);
    check(manager, &job, "visual-underneath", "abnormal");
    visit::finish(manager, &order, &job, "bushing-worn");
    let (order, job) = visit::open(manager, "CI 4471", SYMPTOM);
    check(manager, &job, CHECK, "abnormal");
    visit::finish(manager, &order, &job, CAUSE);
    let whole = manager.get(&format!("orders/{order}")).expect(200).json();
    text(&whole["comebacks"][0]["id"]).to_owned()
}

/// The manager decides, asks why, and agrees on what changes.
fn ask(browser: &Browser, comeback: &str) {
    let page = format!("/shops/{SHOP}/comebacks/{comeback}");
    browser.go(&page);
    browser.tap("form.decide label");
    browser.tap("form.decide button[name=confirm][value=yes]");
    let confirmed = || (browser.count("#enquiry a.button") == 1).then_some(());
    browser.until("the way to the enquiry", confirmed);
    browser.tap("#enquiry a.button");
    browser.until("the enquiry", || (browser.count("[name=failed_item]") == 1).then_some(()));
    browser.type_in("[name=failed_item]", "lower ball joint, play");
    browser.type_in("[name=conditions]", "over bumps, wheels turned");
    browser.tap_on("fieldset label", "Yes");
    browser.type_in("[name=verified_how]", "driven over the same road");
    browser.type_in("[name=checked]", "looked underneath");
    browser.type_in("[name=not_checked]", "nobody took hold of the wheel");
    browser.type_in("[name=analysis]", "the worn bushing was seen first and taken for the cause");
    browser.choose("#enquiry [name=reason]", "diagnosis-incomplete");
    browser.tap("#enquiry button.main");
    browser.until("the enquiry as begun", || (browser.count("#actions") == 1).then_some(()));
    browser.tap("#actions details.adding summary");
    browser.tap_on("#actions fieldset label", "rule");
    browser.type_in("#actions [name=words]", "shake down first, always");
    browser.tap("#actions form button.main");
    browser.until("the action", || (browser.count("#actions li a") == 1).then_some(()));
}

/// The rule is taken for the action; its id.
fn take(browser: &Browser, manager: &Client) -> String {
    let listed = manager.get("actions").expect(200).json();
    let actions = listed["items"].as_array().unwrap();
    let agreed = actions.iter().find(|action| action["words"] == "shake down first, always");
    let action = text(&agreed.unwrap()["id"]);
    browser.go(&format!("/shops/{SHOP}/actions"));
    browser.tap_on(&format!("#a-{action} a"), "Take a shop rule");
    browser.until("the kinds", || (browser.count("nav.by a") > 3).then_some(()));
    browser.tap_on("nav.by a", "check this first");
    browser.until("the subject", || (browser.count("#subject [name=check]") == 1).then_some(()));
    browser.choose("#subject [name=symptom]", SYMPTOM);
    browser.choose("#subject [name=check]", CHECK);
    browser.tap("#subject button");
    browser.until("the rule's form", || (browser.count("#rule [name=title]") == 1).then_some(()));
    browser.type_in("#rule [name=title]", TITLE);
    browser.tap("#rule button.main");
    browser.until("the rule", || browser.place().contains("/rules/01").then_some(()));
    let rules = manager.get("rules").expect(200).json();
    let rules = rules["items"].as_array().unwrap().clone();
    let rule = rules.into_iter().find(|rule| rule["title"] == TITLE).unwrap();
    assert_eq!(manager.get(&format!("actions/{action}")).expect(200).json()["state"], "done");
    text(&rule["id"]).to_owned()
}

/// Four jobs: three keep the rule, one does not and says why.
fn work(browser: &Browser, manager: &Client) {
    for plate in ["CI 1", "CI 2"] {
        let (order, job) = visit::open(manager, plate, SYMPTOM);
        check(manager, &job, CHECK, "abnormal");
        visit::finish(manager, &order, &job, CAUSE);
    }
    // One by the technician's thumb, reminded of the rule.
    let (order, job) = visit::open(manager, "CI 3", SYMPTOM);
    browser.go(&format!("/shops/{SHOP}/jobs/{job}"));
    assert!(browser.words().contains(TITLE), "{}", browser.words());
    browser.tap(&format!("form[data-check='{CHECK}'] [data-step=finding][value=abnormal]"));
    let made = || {
        let whole = manager.get(&format!("jobs/{job}")).expect(200).json();
        (whole["checks"].as_array().unwrap().len() == 1).then_some(())
    };
    browser.until("the check", made);
    visit::finish(manager, &order, &job, CAUSE);
    // One that looks elsewhere: it is asked why, and held up by nothing.
    let (order, job) = visit::open(manager, "CI 4", SYMPTOM);
    check(manager, &job, "visual-underneath", "abnormal");
    browser.go(&format!("/shops/{SHOP}/jobs/{job}"));
    browser.tap("#rules [data-step=rule-reason]");
    let said = || {
        let rules = manager.get(&format!("jobs/{job}/rules")).expect(200).json();
        rules.to_string().contains("\"reason\":\"").then_some(())
    };
    browser.until("the reason", said);
    visit::finish(manager, &order, &job, CAUSE);
}

fn complaints(browser: &Browser) {
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

fn round(stage: Stage) {
    // It came back the day before: what was closed by then is not the rule's.
    let stage = stage.later(-1);
    let comeback = comes_back(&stage.program("manager"));
    let stage = stage.later(0);
    let manager = stage.program("manager");
    let leads = stage.browser_of("manager", true);
    ask(&leads, &comeback);
    let rule = take(&leads, &manager);
    let technician = stage.browser_of("technician", true);
    technician.size(390, 844);
    work(&technician, &manager);
    complaints(&technician);
    leads.go(&format!("/shops/{SHOP}/rules/{rule}"));
    let page = leads.words();
    assert!(page.contains("3 of 4"), "{page}");
    assert!(page.to_lowercase().contains("too early"), "{page}");
    complaints(&leads);
    drop((leads, technician));

    // On the review day: too few to say anything, and the page says so.
    let stage = stage.later(LATER_DAYS);
    let leads = stage.browser_of("manager", true);
    leads.go(&format!("/shops/{SHOP}/rules/{rule}"));
    let page = leads.words();
    assert!(page.to_lowercase().contains("too few cases"), "{page}");
    let told = stage.program("manager").get(&format!("reports/effect?rule={rule}"));
    let report: Value = told.expect(200).json();
    assert_eq!(report["verdict"], "too few");
    assert_eq!(
        (&report["compliance"]["kept"], &report["compliance"]["count"]),
        (&json!(3), &json!(4))
    );
    complaints(&leads);
}
