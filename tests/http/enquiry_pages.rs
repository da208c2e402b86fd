//! Enquiries and corrective actions on their pages, and on those that lead there.

use serde_json::json;

use super::enquiries::{back, decide};
use crate::support::html::{form, form_with};
use crate::support::visit::text;
use crate::support::{Shops, on_each_database};

on_each_database!(
    an_enquiry_is_held_on_its_page,
    actions_stand_on_their_page,
    the_week_says_what_waits,
);

fn an_enquiry_is_held_on_its_page(shops: &Shops) {
    let manager = shops.person("manager.north");
    let it = back(shops, "EN 7");
    decide(&manager, &it, true, "diagnosis-incomplete");
    let desk = shops.visitor("manager.north", "north");
    let link = format!("/shops/north/{}", it.enquiry());
    assert!(desk.get(&it.at()).expect(200).body.contains(&link));
    let page = desk.get(&it.enquiry()).expect(200);
    // What both jobs know already stands in the form.
    for word in ["Read codes and freeze frame: normal", "Road test: abnormal", "no time"] {
        assert!(page.body.to_lowercase().contains(&word.to_lowercase()), "{word}: {}", page.body);
    }
    let filled = form(&page, "/enquiry")
        .fill("failed_item", "idle valve")
        .fill("verified", "yes")
        .fill("reason", "diagnosis-incomplete");
    let refused = filled.send(&desk).expect(422);
    assert!(refused.body.contains("say how that was found out"), "{}", refused.body);
    assert!(refused.body.contains("value=\"idle valve\""), "{}", refused.body);
    let done = filled.fill("verified_how", "stalls cold, as before").follow(&desk);
    assert!(done.body.contains("Saved."), "{}", done.body);
    let row = it.read(&manager);
    assert_eq!((&row["failed_item"], &row["verified"]), (&json!("idle valve"), &json!(true)));
    assert_eq!(row["attribution"], "shop_work");
    let new = form(&done, "/enquiry/actions")
        .fill("kind", "check_plan")
        .fill("words", "measure the idle flow before the valve is blamed");
    let done = new.follow(&desk);
    assert!(done.body.contains("measure the idle flow"), "{}", done.body);
    assert!(done.body.contains("One action is open"), "{}", done.body);
    let id = text(&it.read(&manager)["actions"][0]["id"]).to_owned();
    manager.settle(&format!("actions/{id}"), "ending", &json!({ "state": "done" })).expect(200);
    let page = desk.get(&it.enquiry()).expect(200);
    let closed = form(&page, "/closure").fill("note", "the plan has it").follow(&desk);
    assert!(closed.body.contains("closed ") && closed.body.contains("the plan has it"));
    // Two at the same version: the second sees what the first wrote.
    let page = form(&closed, "/closure").follow(&desk);
    let first = form(&page, "/enquiry").fill("analysis", "one");
    let again = desk.get(&it.enquiry()).expect(200);
    let second = form(&again, "/enquiry").fill("analysis", "two");
    first.send(&desk).expect(303);
    let stale = second.send(&desk).expect(412);
    assert!(stale.body.contains("Somebody else changed this meanwhile"), "{}", stale.body);
    assert_eq!(it.read(&manager)["analysis"], "one");
}

fn actions_stand_on_their_page(shops: &Shops) {
    let manager = shops.person("manager.north");
    let desk = shops.visitor("manager.north", "north");
    let page = desk.get("actions").expect(200);
    let new = form(&page, "/actions").fill("kind", "rule").fill("words", "no valve put back");
    let page = new.follow(&desk);
    let later = form(&page, "/actions").fill("kind", "check_plan").fill("words", "flow first");
    let page = later.fill("due_on", "2026-01-05").follow(&desk);
    assert!(page.body.contains("2 actions are open, 1 past the day"), "{}", page.body);
    // The one past its day stands first.
    let place = |words: &str| page.body.find(words).unwrap();
    assert!(place("flow first") < place("no valve put back"), "{}", page.body);
    for link in ["rules/new?action_id=", "plans?action_id="] {
        assert!(page.body.contains(link), "{link}: {}", page.body);
    }
    let drop = form_with(&page, "/ending", "Drop it").fill("state", "dropped");
    let refused = drop.send(&desk).expect(422);
    assert!(refused.body.contains("say why it is dropped"), "{}", refused.body);
    let page = drop.fill("note", "the list has it").follow(&desk);
    assert!(page.body.contains("Dropped: 1"), "{}", page.body);
    let page = form_with(&page, "/ending", "Drop it").fill("state", "done").follow(&desk);
    let seen = form(&page, "/verification").fill("held", "no").fill("how", "came back twice");
    let page = seen.follow(&desk);
    assert!(page.body.contains("It did not hold, looked at"), "{}", page.body);
    let again = form_with(&page, "/ending", "Open it again").follow(&desk);
    assert!(again.body.contains("1 action is open"), "{}", again.body);
    // Who may not write sees them without a form.
    let page = shops.visitor("technician.north", "north").get("actions").expect(200);
    assert!(
        page.body.contains("no valve put back") && !page.body.contains("<button name=\"state\"")
    );
    assert_eq!(manager.get("actions").json()["items"].as_array().unwrap().len(), 2);
}

fn the_week_says_what_waits(shops: &Shops) {
    let manager = shops.person("manager.north");
    let it = back(shops, "EN 8");
    decide(&manager, &it, true, "workmanship");
    let desk = shops.visitor("manager.north", "north");
    let day = text(&manager.get(&it.at()).json()["decided_at"])[..10].to_owned();
    let week = day.parse::<chrono::NaiveDate>().unwrap().format("%G-W%V").to_string();
    let page = desk.get(&format!("week?week={week}")).expect(200);
    let link = format!("/shops/north/{}", it.enquiry());
    assert!(
        page.body.contains("not looked into yet") && page.body.contains(&link),
        "{}",
        page.body
    );
    let row = manager.post(&it.enquiry(), &json!({})).expect(201).json();
    let late = json!({
        "enquiry_id": row["id"], "kind": "other", "words": "a mirror at bay 3",
        "due_on": "2026-01-05",
    });
    manager.post("actions", &late).expect(201);
    let page = desk.get(&format!("week?week={week}")).expect(200);
    assert!(!page.body.contains("not looked into yet"), "{}", page.body);
    for word in ["One corrective action is open", "1 past the day", "a mirror at bay 3"] {
        assert!(page.body.contains(word), "{word}: {}", page.body);
    }
    assert!(desk.get("today").expect(200).body.contains("One corrective action is past the day"));
}
