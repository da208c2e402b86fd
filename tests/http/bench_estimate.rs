//! A part in hand: what to do with it, and what would change that.

use serde_json::{Value, json};

use crate::support::html::plain;
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_deep_suspect_sold_in_an_assembly_is_replaced,
    a_bystander_is_cleaned_tested_and_put_back,
    what_is_not_serviceable_is_not_opened,
    a_suspect_over_the_limit_turns_with_its_share_alone,
    a_bystander_s_answer_turns_with_the_price,
    costs_stay_with_who_may_see_them,
    what_cannot_be_asked_is_refused,
    the_page_answers_at_once,
);

/// A lifter under the intake: 4 hours of access, 40 minutes to clean, 15 to fit,
/// 60.00 for the part, 25.00 for the rest of a return, labor at 90.00 an hour.
const DEEP: &str = "part=LFT-1&access_hours=4&clean_minutes=40&fit_minutes=15&part_cost=60.00\
    &return_extra=25.00";

fn estimate(shops: &Shops, asked: &str) -> Value {
    shops.person("manager.north").get(&format!("reports/estimate?{asked}")).expect(200).json()
}

#[track_caller]
fn near(value: &Value, expected: f64, room: f64) {
    let number = value.as_f64().unwrap_or_else(|| panic!("no number: {value}"));
    assert!((number - expected).abs() <= room, "{number} against {expected}");
}

/// Common practice: a lifter sold only in an assembly, out because it was the
/// noisy one, is replaced. By hand: 22.50 / 467.50 = 4.8 points over the 3 % of
/// new ones, 7.8 %.
fn a_deep_suspect_sold_in_an_assembly_is_replaced(shops: &Shops) {
    let made = estimate(shops, &format!("{DEEP}&role=suspect&serviceable=assembly_only"));
    assert_eq!(made["action"], "replace_assembly");
    assert_eq!(made["headline"], "Replace the assembly");
    near(&made["advice"]["break_even_share"], 0.078, 5e-4);
    assert_eq!(made["advice"]["basis"], "assumption");
    let dear = estimate(
        shops,
        &format!("{DEEP}&role=suspect&serviceable=assembly_only&assembly_cost=300.00"),
    );
    near(&dear["advice"]["costs"]["part"]["minor"], 30_000.0, 1e-9);
    assert_eq!(dear["because"], json!([]));
    assert!(made["because"][0].as_str().unwrap().contains("the assembly's price was not given"));
}

fn a_bystander_is_cleaned_tested_and_put_back(shops: &Shops) {
    let made = estimate(shops, &format!("{DEEP}&role=bystander&tested=true"));
    assert_eq!(
        (&made["action"], &made["advice"]["verdict"]),
        (&json!("clean_and_reuse"), &json!("clean_and_reuse"))
    );
    let never = estimate(shops, &format!("{DEEP}&role=suspect&curable=no"));
    assert_eq!(never["advice"]["decided_by"][0], "not_curable");
    assert!(never["turnings"].as_array().unwrap().iter().all(|one| one["turns"] == json!([])));
}

fn what_is_not_serviceable_is_not_opened(shops: &Shops) {
    let asked = format!("{DEEP}&serviceable=not_serviceable");
    let suspect = estimate(shops, &format!("{asked}&role=suspect"));
    assert_eq!((&suspect["action"], &suspect["turnings"]), (&json!("replace"), &json!([])));
    let bystander = estimate(shops, &format!("{asked}&role=bystander"));
    assert_eq!(bystander["action"], "leave_closed");
}

fn a_suspect_over_the_limit_turns_with_its_share_alone(shops: &Shops) {
    // An idle air valve: shallow, so that its access time matters.
    let asked = "part=IAV-7&role=suspect&clean_minutes=20&fit_minutes=10";
    let query = format!("{asked}&access_minutes=30&part_cost=85.00&return_extra=25.00");
    let made = estimate(shops, &query);
    let turnings = made["turnings"].as_array().unwrap().clone();
    assert_eq!(turnings.len(), 4);
    let of = |lever: &str| turnings.iter().find(|one| one["lever"] == lever).unwrap().clone();
    // By hand: 30 % are believed to come back and 3 % of new ones; a gap of .27
    // is 70/.27 - 145 = 114.26 for the rest of a return, and access of
    // (70/.27 - 110)/1.5 - 10 = 89.5 minutes.
    near(&of("return_extra")["level_at"], 11_425.9, 1.0);
    near(&of("access_minutes")["level_at"], 89.5, 0.05);
    // Over the shop's limit it is replaced whatever the money says: only the share
    // of returns turns it.
    for lever in ["return_extra", "access_minutes", "part_cost"] {
        assert_eq!(of(lever)["turns"], json!([]), "{lever}");
    }
    assert_ne!(of("return_share")["turns"], json!([]));
}

/// Asked just below and just above each turn the verdict is the one it says.
fn a_bystander_s_answer_turns_with_the_price(shops: &Shops) {
    let mut turned = 0;
    let bystander = estimate(
        shops,
        "part=IAV-7&role=bystander&tested=true&clean_minutes=20&fit_minutes=10&access_minutes=30\
         &part_cost=12.00&return_extra=25.00",
    );
    for one in
        bystander["turnings"].as_array().unwrap().iter().filter(|one| one["lever"] == "part_cost")
    {
        for turn in one["turns"].as_array().unwrap() {
            let at = turn["at"].as_f64().unwrap() / 100.0;
            for (beside, side) in [(-0.02, "below"), (0.02, "above")] {
                let there = estimate(
                    shops,
                    &format!(
                        "part=IAV-7&role=bystander&tested=true&clean_minutes=20&fit_minutes=10\
                         &access_minutes=30&part_cost={:.2}&return_extra=25.00",
                        (at + beside).max(0.0)
                    ),
                );
                assert_eq!(there["advice"]["verdict"], turn[side], "{turn} {beside}");
                turned += 1;
            }
        }
    }
    assert!(turned > 0, "{bystander}");
}

fn costs_stay_with_who_may_see_them(shops: &Shops) {
    let new = json!({ "access_minutes": 240, "fit_minutes": 15, "cost_minor": 6_000 });
    let manager = shops.person("manager.north");
    manager.call("PUT", "part-policies/LFT-1").json(&new).send().expect(200);
    let asked = "reports/estimate?part=LFT-1&role=suspect&curable=depends";
    let manager = manager.get(asked).expect(200).json();
    for who in ["technician.north", "adviser.north"] {
        let person = shops.person(who);
        let seen = person.get(asked).expect(200).json();
        assert_eq!(seen["action"], manager["action"]);
        assert!(seen["advice"]["costs"].is_null() && seen["advice"]["together"].is_null());
        assert!(
            seen["advice"]["break_even_gap"].is_null() && seen["advice"]["money_text"].is_null()
        );
        assert!(seen["advice"]["while_open_threshold"].is_null());
        assert_eq!(seen["turnings"], json!([]));
        // No time and no cost may be tried.
        for given in [
            "access_hours=3.9",
            "access_hours=4",
            "access_minutes=240",
            "fit_minutes=15",
            "part_cost=60.00",
            "assembly_cost=60.00",
            "rebuilt_cost=60.00",
            "return_extra=25.00",
        ] {
            person.get(&format!("{asked}&{given}")).problem(403, "forbidden");
            shops
                .visitor(who, "north")
                .get(&format!("bench?part=LFT-1&role=suspect&{given}"))
                .expect(403);
        }
        let page = shops.visitor(who, "north").get("bench?part=LFT-1&role=suspect&curable=depends");
        let page = page.expect(200).body;
        assert!(
            page.contains("class=\"verdict\"") && !page.contains("name=\"access_hours\""),
            "{page}"
        );
        for word in ["$", "name=\"part_cost\"", "What would change the answer"] {
            assert!(!page.contains(word), "{who} {word}: {page}");
        }
    }
}

fn what_cannot_be_asked_is_refused(shops: &Shops) {
    let manager = shops.person("manager.north");
    let at = |query: &str| -> Vec<String> {
        manager.get(&format!("reports/estimate?{query}")).pointers()
    };
    assert_eq!(at(""), ["/part", "/role"]);
    assert_eq!(at("part=LFT-1&role=wish&curable=no"), ["/role"]);
    assert_eq!(at("part=LFT-1&role=suspect"), ["/part"]);
    assert_eq!(
        at(&format!("{DEEP}&role=suspect&serviceable=maybe&reading=soon&rebuilt_cost=-1")),
        ["/rebuilt_cost", "/serviceable", "/reading"]
    );
    assert_eq!(at(&format!("{DEEP}&role=suspect&access_minutes=30")), ["/access_hours"]);
    assert_eq!(at("part=LFT-1&role=suspect&week=2026-W41&curable=no"), ["/week"]);
}

fn the_page_answers_at_once(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let blank = manager.get("bench").expect(200).body;
    assert!(blank.contains("name=\"part_cost\"") && !blank.contains("id=\"answer\""), "{blank}");
    let page =
        manager.get(&format!("bench?{DEEP}&role=suspect&serviceable=assembly_only&reading=&unit="));
    let page = plain(&page.expect(200).body);
    assert!(page.contains("Replace the assembly."), "{page}");
    assert!(
        page.contains("What would change the answer") && page.contains("value=\"60.00\""),
        "{page}"
    );
    assert!(page.contains("vehicle maker's procedure decides"), "{page}");
    let reading =
        manager.get(&format!("bench?{DEEP}&role=suspect&reading=11.5&unit=Ohm")).expect(200);
    assert!(
        reading.body.contains("No such reading of this part was put back yet."),
        "{}",
        reading.body
    );
    // A part alone asks how it was held; what cannot be is refused with what was typed.
    let alone = manager.get("bench?part=LFT-1").expect(200).body;
    assert!(alone.contains("value=\"LFT-1\"") && !alone.contains("class=\"verdict\""), "{alone}");
    let refused = manager.get("bench?part=LFT-1&role=wish").expect(422).body;
    assert!(refused.contains("choose one of suspect, bystander"), "{refused}");
    assert!(refused.contains("value=\"LFT-1\""), "{refused}");
}
