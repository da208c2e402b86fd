//! A shop's settings by the form.

use serde_json::json;

use crate::support::html::form;
use crate::support::{Shops, on_each_database};

on_each_database!(
    settings_by_the_form,
    a_shop_says_how_it_writes,
    a_change_meanwhile_is_not_lost,
    a_person_of_that_name_is_linked,
);

fn settings_by_the_form(shops: &Shops) {
    let office = shops.visitor("administrator.riverside", "north");
    let page = office.get("people").expect(200);
    assert!(page.body.contains("/shops/north/settings\""), "{}", page.body);
    let page = office.get("settings").expect(200);
    let odd = form(&page, "/settings").fill("week_start", "1").fill("window_days", "401");
    let odd = odd.fill("ceiling_permille", "12.55").send(&office).expect(422);
    assert!(
        odd.body.contains("value=\"12.55\"") && odd.body.contains("Ceiling for returns"),
        "{}",
        odd.body
    );
    let most = form(&odd, "/settings").fill("week_start", "1").fill("window_days", "45");
    let most = most.fill("ceiling_permille", "120").send(&office).expect(422);
    assert!(most.body.contains("choose 0 to 100") && !most.body.contains("1000"), "{}", most.body);
    let right = form(&odd, "/settings").fill("name", "Cole Repair").fill("week_start", "7");
    let right = right.fill("posted_rate_minor", "145.50").fill("window_days", "45");
    let right = right.fill("assumed_replaced_permille", "4").fill("links_from", "2026-01-05");
    let place = right.fill("ceiling_permille", "12.5").send(&office).expect(303);
    let page = office.get(place.header("location")).expect(200);
    assert!(page.body.contains("value=\"145.50\""), "{}", page.body);
    assert!(page.body.contains("value=\"2026-01-05\""), "{}", page.body);
    assert!(page.body.contains("<p>Saved.</p>"), "{}", page.body);
    let seen = office.get("people").expect(200);
    assert!(seen.body.contains("$145.50") && seen.body.contains("12.5%"), "{}", seen.body);
    let shop = format!("/api/v1/shops/{}", shops.id("north"));
    let now = shops.person("administrator.riverside").get(&shop).expect(200).json();
    assert_eq!((&now["name"], &now["window_days"]), (&json!("Cole Repair"), &json!(45)));
    assert_eq!(
        (&now["posted_rate_minor"], &now["labor_cost_minor"]),
        (&json!(14_550), &json!(9_000))
    );
    assert_eq!((&now["ceiling_permille"], &now["week_start"]), (&json!(125), &json!(7)));
    assert_eq!(
        (&now["assumed_replaced_permille"], &now["links_from"]),
        (&json!(40), &json!("2026-01-05"))
    );
    // An emptied day takes the limit away; other emptied fields stay.
    let all = form(&page, "/settings").fill("week_start", "7").fill("links_from", "");
    let page = all.fill("labor_cost_minor", "").follow(&office);
    let now = shops.person("administrator.riverside").get(&shop).expect(200).json();
    assert_eq!((&now["links_from"], &now["labor_cost_minor"]), (&json!(null), &json!(9_000)));
    let over = form(&page, "/settings").fill("week_start", "7");
    let over = over.fill("assumed_cleaned_suspect_permille", "100.1").send(&office).expect(422);
    assert!(over.body.contains("Cleaned suspect, percent: choose 0 to 100"), "{}", over.body);
    // Who may not change them is told who may.
    let manager = shops.visitor("manager.north", "north").get("people").expect(200);
    assert!(!manager.body.contains("/shops/north/settings\""));
    assert!(manager.body.contains("An administrator changes them"));
}

fn a_shop_says_how_it_writes(shops: &Shops) {
    let program = shops.person("administrator.riverside");
    let shop = format!("/api/v1/shops/{}", shops.id("north"));
    // As is usual with its dollars, until somebody says otherwise.
    assert_eq!(program.get(&shop).json()["date_style"], "us");
    let refused = program.patch(&shop, &json!({ "date_style": "roman" })).expect(422);
    assert!(refused.body.contains("us, day_first or iso"), "{}", refused.body);
    let office = shops.visitor("administrator.riverside", "north");
    let manager = shops.visitor("manager.north", "north");
    let rate = |page: &str| page.contains("$140.00");
    assert!(rate(&office.get("people").expect(200).body));
    let shown = manager.get("labor?as_of=2026-01-31").expect(200);
    assert!(shown.body.contains("Through Jan 31, 2026"), "{}", shown.body);
    let page = office.get("settings").expect(200);
    let other = form(&page, "/settings").fill("week_start", "1").fill("date_style", "day_first");
    other.follow(&office);
    let page = office.get("people").expect(200);
    assert!(page.body.contains("140.00 USD") && !rate(&page.body), "{}", page.body);
    assert_eq!(program.get(&shop).json()["date_style"], "day_first");
    let shown = manager.get("labor?as_of=2026-01-31").expect(200);
    assert!(shown.body.contains("Through 31 Jan 2026"), "{}", shown.body);
    let new = json!({
        "code": "quay", "name": "Quay", "time_zone": "Europe/Lisbon", "currency": "EUR",
        "labor_cost_minor": 4000, "posted_rate_minor": 7000,
    });
    let made = program.post("/api/v1/shops", &new).expect(201).json();
    assert_eq!(made["date_style"], "day_first");
}

fn a_change_meanwhile_is_not_lost(shops: &Shops) {
    let office = shops.visitor("administrator.riverside", "north");
    let page = office.get("settings").expect(200);
    let program = shops.person("administrator.riverside");
    let shop = format!("/api/v1/shops/{}", shops.id("north"));
    program.patch(&shop, &json!({ "window_days": 30 })).expect(200);
    let late = form(&page, "/settings").fill("name", "Cole Repair").fill("week_start", "1");
    let shown = late.send(&office).expect(412);
    assert!(shown.body.contains("Somebody else changed this meanwhile"), "{}", shown.body);
    assert_eq!(program.get(&shop).json()["window_days"], 30);
    // Sent again it changes what is typed, and not what nobody touched here.
    let again = form(&shown, "/settings").fill("name", "Cole Repair").fill("week_start", "1");
    again.follow(&office);
    let now = program.get(&shop).json();
    assert_eq!((&now["name"], &now["window_days"]), (&json!("Cole Repair"), &json!(30)));
}

fn a_person_of_that_name_is_linked(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let page = manager.get("people").expect(200);
    let twice = form(&page, "/people").fill("name", "helper of north");
    let twice = twice.fill("sign_in_name", "other").fill("password", "chair seven river lamp");
    let shown = twice.fill("role", "technician").send(&manager).expect(409);
    assert!(shown.body.contains("Open the page of <bdi>helper of north</bdi>"), "{}", shown.body);
}
