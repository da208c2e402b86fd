//! The service manager reviews the week: decides, takes it back, opens what
//! is behind a number.

use crate::browser::Browser;
use crate::stage::{SHOP, Stage, in_a_browser};
use crate::support::Client;

in_a_browser!(the_week_is_reviewed, the_week_is_reviewed_without_script);

fn the_week_is_reviewed(stage: &Stage) {
    review(stage, true);
}

fn the_week_is_reviewed_without_script(stage: &Stage) {
    review(stage, false);
}

fn undecided(manager: &Client) -> usize {
    let list = manager.get("comebacks?state=proposed&limit=200").expect(200).json();
    list["items"].as_array().unwrap().len()
}

/// Waits until so many proposals are left in the record.
fn left(browser: &Browser, manager: &Client, expected: usize) {
    browser.until(&format!("{expected} left"), || (undecided(manager) == expected).then_some(()));
}

fn review(stage: &Stage, script: bool) {
    let manager = stage.program("manager");
    let browser = stage.browser_of("manager", script);
    browser.tap_on("nav a", "Week");
    browser.until("the verdict", || (browser.count("p.verdict") == 1).then_some(()));
    let before = undecided(&manager);
    assert!(before > 1, "nothing to decide");

    browser.taps.set(0);
    browser.tap(".proposal[open] form.decide label");
    browser.tap(".proposal[open] form.decide button[name=confirm][value=yes]");
    assert_eq!(browser.taps.get(), 2);
    left(&browser, &manager, before - 1);
    browser.tap(".said button[data-step=undo]");
    left(&browser, &manager, before);
    browser.tap(".proposal[open] form.decide label");
    browser.tap(".proposal[open] form.decide button[name=confirm][value=no]");
    left(&browser, &manager, before - 1);

    // A number opens to the jobs that it counts.
    browser.go(&format!("/shops/{SHOP}/week"));
    crate::look::unfold(&browser);
    browser.tap("#arrivals a[href*='closed-jobs'], #chart a[href*='closed-jobs']");
    browser.until("the jobs behind", || browser.place().contains("/closed-jobs").then_some(()));
    assert!(browser.count("main a[href*='/jobs/']") > 0, "{}", browser.words());
    assert_eq!(browser.complaints(), Vec::<String>::new());
}
