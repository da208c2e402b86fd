//! A part that was cleaned before is not cleaned again without a reason.

use serde_json::{Value, json};

use crate::support::visit::{finish, open, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(a_second_cleaning_says_why, a_change_to_cleaned_says_why, a_new_part_begins_anew,);

fn valve(disposition: &str) -> Value {
    json!({
        "part_no": "IAV-100", "name": "idle air valve", "position": "bank 1",
        "disposition": disposition, "role": "suspect",
    })
}

fn visit(client: &Client, plate: &str, disposition: &str) {
    let (order, job) = open(client, plate, "engine.stalls");
    client.post(&format!("jobs/{job}/parts"), &valve(disposition)).expect(201);
    finish(client, &order, &job, "air-filter");
}

fn a_second_cleaning_says_why(shops: &Shops) {
    let technician = shops.person("technician.north");
    visit(&technician, "SC 1", "cleaned_reused");
    visit(&technician, "SC 2", "cleaned_reused");
    let (_, job) = open(&technician, "SC 1", "engine.stalls");
    let at = format!("jobs/{job}");
    let mut again = valve("cleaned_reused");
    let refused = technician.post(&format!("{at}/parts"), &again);
    assert_eq!(refused.pointers(), ["/again_reason"]);
    let told = refused.json()["errors"][0]["detail"].clone();
    assert!(
        text(&told).contains("once before, last on ") && text(&told).contains("(order "),
        "{told}"
    );
    // Another position, and another vehicle's cleaning, are no second cleaning.
    let elsewhere = json!({
        "part_no": "IAV-100", "name": "idle air valve", "position": "bank 2",
        "disposition": "cleaned_reused",
    });
    let made = technician.post(&format!("{at}/parts"), &elsewhere).expect(201).json();
    assert_eq!(made["times_cleaned_before"], 0);
    again["again_reason"] = json!("the new one is on back order");
    let made = technician.post(&format!("{at}/parts"), &again).expect(201).json();
    assert_eq!(made["times_cleaned_before"], 1);
    assert_eq!(made["again_reason"], "the new one is on back order");
    let page = shops.visitor("technician.north", "north").get(&at).expect(200);
    assert!(page.body.contains("cleaned and put back once before"));
}

fn a_change_to_cleaned_says_why(shops: &Shops) {
    let technician = shops.person("technician.north");
    visit(&technician, "SC 3", "cleaned_reused");
    let (_, job) = open(&technician, "SC 3", "engine.stalls");
    let at = format!("jobs/{job}");
    let made =
        technician.post(&format!("{at}/parts"), &valve("removed_refitted")).expect(201).json();
    assert_eq!(made["times_cleaned_before"], 1);
    let part = format!("{at}/parts/{}", text(&made["id"]));
    let patch = |body: Value| {
        let tag = technician.get(&at).tag();
        technician.call("PATCH", &part).json(&body).if_match(&tag).send()
    };
    assert_eq!(patch(json!({ "disposition": "cleaned_reused" })).pointers(), ["/again_reason"]);
    let said = json!({ "disposition": "cleaned_reused", "again_reason": "customer's wish" });
    assert_eq!(patch(said).expect(200).json()["times_cleaned_before"], 1);
    assert_eq!(patch(json!({ "again_reason": null })).pointers(), ["/again_reason"]);
    patch(json!({ "supplier": "Corvane" })).expect(200);
}

fn a_new_part_begins_anew(shops: &Shops) {
    let technician = shops.person("technician.north");
    visit(&technician, "SC 4", "cleaned_reused");
    visit(&technician, "SC 4", "replaced_new");
    let (_, job) = open(&technician, "SC 4", "engine.stalls");
    let made = technician.post(&format!("jobs/{job}/parts"), &valve("cleaned_reused"));
    assert_eq!(made.expect(201).json()["times_cleaned_before"], 0);
}
