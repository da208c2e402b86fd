//! The owner wants one look: hours against flat-rate, with and without
//! comebacks, and the jobs behind.

use serde_json::json;

use crate::stage::{SHOP, Stage, in_a_browser};

in_a_browser!(the_owner_looks, the_owner_looks_without_script);

fn the_owner_looks(stage: &Stage) {
    look(stage, true);
}

fn the_owner_looks_without_script(stage: &Stage) {
    look(stage, false);
}

/// A second shop, so that there is a group to look over.
fn open_a_second_shop(stage: &Stage) {
    let shop = json!({
        "code": "two-mills", "name": "Two Mills Auto Service", "time_zone": "America/Chicago",
        "currency": "USD", "labor_cost_minor": 6200, "posted_rate_minor": 14_500, "window_days": 60,
    });
    stage.program("administrator").post("/api/v1/shops", &shop).expect(201);
}

fn look(stage: &Stage, script: bool) {
    open_a_second_shop(stage);
    let browser = stage.browser_of("owner", script);
    // Who owns several shops comes in there.
    browser.until("both shops", || (browser.count("#group tbody tr") >= 2).then_some(()));
    browser.taps.set(0);
    browser.tap(&format!("#group tbody a[href*='/{SHOP}/labor']"));
    browser.until("the figures", || (browser.count("#headline .efficiency") == 1).then_some(()));
    assert!(browser.words().contains("comebacks"), "{}", browser.words());
    browser.tap_on("nav.by a", "technician");
    browser.tap("#labor tbody tr a[href*='closed-jobs']");
    browser.until("the jobs behind", || browser.place().contains("/closed-jobs").then_some(()));
    assert!(browser.count("main a[href*='/jobs/']") > 0, "{}", browser.words());
    assert!(browser.taps.get() <= 3);
    assert_eq!(browser.complaints(), Vec::<String>::new());
}
