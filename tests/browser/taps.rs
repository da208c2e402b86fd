//! How many taps a job takes from opened to closed, over the jobs that the
//! demo's record ends with, opened anew.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use crate::browser::Browser;
use crate::stage::{SHOP, Stage, in_a_browser};
use crate::support::Client;
use crate::support::visit::text;
use crate::technician::{closed, open_job};

in_a_browser!(few_taps_over_the_mix_of_jobs);

const JOBS: usize = 26;
const MOST_FOR_A_COMPLAINT: u32 = 12;
const MOST_FOR_OTHERS: u32 = 4;

/// The last jobs that were handed over.
fn mix(technician: &Client) -> Vec<Value> {
    let orders = technician.get("orders?status=closed&limit=60").expect(200).json();
    let orders = orders["items"].as_array().unwrap().iter();
    let jobs = orders.flat_map(|row| {
        let order = technician.get(&format!("orders/{}", text(&row["id"]))).expect(200).json();
        order["jobs"].as_array().unwrap().clone()
    });
    let done = jobs.filter(|job| job["outcome"] == "repaired" || job["kind"] != "complaint");
    let whole =
        |job: Value| technician.get(&format!("jobs/{}", text(&job["id"]))).expect(200).json();
    done.take(JOBS).map(whole).collect()
}

/// Does by thumb what was done then, as far as the page offers it.
fn repeat(browser: &Browser, model: &Value) {
    browser.tap("[data-step=clock]");
    if model["kind"] == "complaint" {
        for check in model["checks"].as_array().unwrap() {
            let offered = format!("form[data-check='{}']", text(&check["code"]));
            let finding = check["finding"].as_str().unwrap_or("normal");
            let button = format!("{offered} [data-step=finding][value={finding}]");
            if browser.count(&button) > 0 {
                browser.tap(&button);
            }
        }
        let part = !model["parts"].as_array().unwrap().is_empty();
        if part {
            browser.tap("[data-step=part-open]");
            browser.tap("[data-part][open] [data-step=part][value^='suspect ']");
        }
        browser.tap("[data-step=cause]");
        browser.tap("[data-step=cause-how]");
        browser.tap("form[data-way=road_test] [data-step=proof][value=yes]");
        if !part {
            // No part tells what was done.
            browser.type_in("#close-form textarea[name=correction]", "set to what it should be");
        }
    }
    browser.tap("[data-step=close]");
}

fn few_taps_over_the_mix_of_jobs(stage: &Stage) {
    let technician = stage.program("technician");
    let browser = stage.browser_of("technician", true);
    browser.size(390, 844);
    let mut counted: BTreeMap<String, Vec<u32>> = BTreeMap::new();
    for model in mix(&technician) {
        let kind = text(&model["kind"]).to_owned();
        let job = json!({
            "kind": kind, "symptom": model["symptom"], "complaint": model["complaint"],
        });
        let job = open_job(stage, &job);
        browser.go(&format!("/shops/{SHOP}/jobs/{job}"));
        browser.taps.set(0);
        repeat(&browser, &model);
        closed(&browser, &technician, &job);
        counted.entry(kind).or_default().push(browser.taps.get());
    }
    for (kind, taps) in &mut counted {
        taps.sort_unstable();
        println!("taps for a {kind}: {taps:?}");
        let most = if kind == "complaint" { MOST_FOR_A_COMPLAINT } else { MOST_FOR_OTHERS };
        // Half of the complaints are typical or less; of the others, all.
        let held = if kind == "complaint" { taps[taps.len() / 2] } else { taps[taps.len() - 1] };
        assert!(held <= most, "{kind}: {taps:?}");
    }
    assert!(counted.values().map(Vec::len).sum::<usize>() >= 20, "{counted:?}");
}
