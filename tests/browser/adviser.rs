//! The adviser takes a vehicle in that was there before for the same.

use serde_json::Value;

use crate::browser::Browser;
use crate::stage::{SHOP, Stage, in_a_browser};
use crate::support::Client;
use crate::support::visit::text;

in_a_browser!(a_vehicle_is_taken_in, a_vehicle_is_taken_in_without_script);

fn a_vehicle_is_taken_in(stage: &Stage) {
    take_in(stage, true);
}

fn a_vehicle_is_taken_in_without_script(stage: &Stage) {
    take_in(stage, false);
}

/// The latest handed-over job that was a repaired complaint, and its order.
fn last_repair(adviser: &Client) -> (Value, Value) {
    let orders = adviser.get("orders?status=closed&limit=50").expect(200).json();
    let repaired = |id: &Value| {
        let order = adviser.get(&format!("orders/{}", text(id))).expect(200).json();
        let fits = |job: &&Value| job["outcome"] == "repaired" && !job["symptom"].is_null();
        let job = order["jobs"].as_array().unwrap().iter().find(fits).cloned();
        job.map(|job| (order, job))
    };
    let rows = orders["items"].as_array().unwrap();
    rows.iter().find_map(|row| repaired(&row["id"])).expect("a repaired complaint")
}

/// The order that was opened last for the vehicle.
fn last_order(adviser: &Client, vehicle: &str) -> Value {
    let open = format!("orders?status=open&vehicle_id={vehicle}&limit=1");
    let found = adviser.get(&open).expect(200).json();
    adviser.get(&format!("orders/{}", text(&found["items"][0]["id"]))).expect(200).json()
}

fn take_in(stage: &Stage, script: bool) {
    let adviser = stage.program("adviser");
    let (order, job) = last_repair(&adviser);
    let id = text(&order["vehicle_id"]);
    let vehicle = adviser.get(&format!("vehicles/{id}")).expect(200).json();
    let known = ["vin", "plate"].iter().find_map(|name| vehicle[name].as_str());
    let known = known.expect("a VIN or a plate");
    let browser = stage.browser_of("adviser", script);

    // Its history, by what stands on the vehicle.
    browser.type_in("header input[name=q]", &known[known.len().saturating_sub(8)..]);
    browser.tap("header form[role=search] button");
    browser.until("the vehicle", || browser.place().contains(id).then_some(()));

    write_up(&browser, known, &job);
    browser.until("the order", || browser.place().contains("/orders/").then_some(()));
    let opened = last_order(&adviser, id);
    assert_eq!(opened["jobs"][0]["complaint"], "Does it again, as before");
    let asked = &opened["comebacks"][0];
    assert_eq!((&asked["earlier_job_id"], &asked["customer_says"]), (&job["id"], &true.into()));

    authorize(&browser);
    let path = format!("orders/{}", text(&opened["id"]));
    browser.until("the amount", || {
        let order = adviser.get(&path).expect(200).json();
        (order["authorized_minor"] == 25_000).then_some(())
    });
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

fn write_up(browser: &Browser, known: &str, job: &Value) {
    browser.go(&format!("/shops/{SHOP}/write-up"));
    browser.type_in("#write-up textarea[name=complaint]", "Does it again, as before");
    browser.type_in("#write-up-known", known);
    browser.tap("#look");
    browser.until("the vehicle", || {
        (browser.count("#vehicle") == 1 && browser.count("#earlier") == 1).then_some(())
    });
    browser.choose("#write-up select[name=symptom]", text(&job["symptom"]));
    // "In before for this?": the earlier job stands there to be named.
    browser.tap(&format!("#earlier label:has(input[value='{}'])", text(&job["id"])));
    browser.tap("#write-up label:has(input[name=promised_pick])");
    browser.tap("button[name=then][value=order]");
}

fn authorize(browser: &Browser) {
    if browser.count("#authorize input[name=amount_minor]") == 0 {
        browser.tap("#authorize summary");
    }
    browser.type_in("#authorize input[name=amount_minor]", "250");
    browser.type_in("#authorize input[name=authorized_by]", "the customer");
    browser.tap_on("#authorize label:has(input[name=authorized_how_pick])", "by telephone");
    browser.tap("#authorize form button.main");
}
