//! Two editors: nobody's words vanish.

use std::sync::atomic::{AtomicU32, Ordering};

use serde_json::json;

use crate::support::visit::{open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_stale_change_is_refused,
    merge_patches_keep_and_remove,
    editors_at_once_lose_nothing,
);

fn a_stale_change_is_refused(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, _) = open(&adviser, "VE 1", "engine.stalls");
    let thing = format!("orders/{order}");
    let tag = adviser.get(&thing).tag();
    let change = |name: &str| {
        adviser.call("PATCH", &thing).json(&json!({ "customer_name": name })).if_match(&tag).send()
    };
    let first = change("first").expect(200);
    assert_ne!(first.tag(), tag);
    let second = change("second");
    let version = first.version();
    assert_eq!(second.problem(412, "stale")["current_version"], version);
    assert_eq!(adviser.get(&thing).json()["customer_name"], "first");
}

// RFC 7396: null removes, absence keeps.
fn merge_patches_keep_and_remove(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "VE 2", "engine.stalls");
    let thing = format!("orders/{order}");
    let patch =
        json!({ "customer_name": "Imre", "authorized_minor": 25_000, "authorized_how": "phone" });
    let now = adviser.patch(&thing, &patch).expect(200).json();
    assert_eq!((&now["customer_name"], &now["authorized_minor"]), (&json!("Imre"), &json!(25_000)));
    assert!(now["authorized_at"].is_string());
    let now = adviser.patch(&thing, &json!({ "customer_name": null })).expect(200).json();
    assert!(now["customer_name"].is_null());
    assert_eq!(now["authorized_how"], "phone");
    let typed = adviser.call("PATCH", &thing).body("{}", "application/merge-patch+json");
    typed.if_match(&adviser.get(&thing).tag()).send().expect(200);

    let thing = format!("jobs/{job}");
    let now =
        adviser.patch(&thing, &json!({ "waiting_for": "part", "cause": "air-filter" })).expect(200);
    assert_eq!(now.json()["cause_state"], "suspected");
    let now = adviser.patch(&thing, &json!({ "cause": null })).expect(200).json();
    assert!(now["cause_state"].is_null());
    assert_eq!(text(&now["waiting_for"]), "part");
    assert_eq!(
        adviser.patch(&thing, &json!({ "waiting_for": "godot" })).pointers(),
        ["/waiting_for"]
    );
    assert_eq!(
        adviser.patch(&thing, &json!({ "cause_state": "confirmed" })).pointers(),
        ["/cause"]
    );
}

fn editors_at_once_lose_nothing(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, _) = open(&adviser, "VE 3", "engine.stalls");
    let thing = format!("orders/{order}");
    let (won, lost) = (AtomicU32::new(0), AtomicU32::new(0));
    std::thread::scope(|scope| {
        for editor in 0..4 {
            let (adviser, thing, won, lost) = (&adviser, &thing, &won, &lost);
            scope.spawn(move || {
                for round in 0..10 {
                    let name = json!({ "customer_name": format!("{editor} {round}") });
                    let answer = adviser.patch(thing, &name);
                    let count = if answer.status == 200 { won } else { lost };
                    count.fetch_add(1, Ordering::Relaxed);
                    assert!([200, 412].contains(&answer.status), "{}", answer.body);
                }
            });
        }
    });
    let version = adviser.get(&thing).version();
    assert_eq!(version - 1, i64::from(won.load(Ordering::Relaxed)));
    assert_eq!(won.into_inner() + lost.into_inner(), 40);
}
