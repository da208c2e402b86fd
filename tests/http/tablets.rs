//! Tablets of the shop floor, and PINs.

use serde_json::json;

use crate::support::html::form;
use crate::support::shops::PASSWORD;
use crate::support::visit::person;
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_pin_opens_an_enrolled_tablet,
    a_pin_gives_the_floor_and_no_more,
    a_wrong_pin_and_a_stranger_are_answered_alike,
    a_revoked_tablet_ends_at_once,
);

const PIN: &str = "135790";

fn set_pin(shops: &Shops, name: &str, pin: &str) -> Answer {
    let body = json!({ "password": PASSWORD, "pin": pin });
    shops.person(name).call("PUT", "/api/v1/me/pin").json(&body).send()
}

fn cookie(answer: &Answer) -> String {
    answer.header("set-cookie").split(';').next().unwrap().to_owned()
}

/// A browser that the manager of the shop has enrolled.
fn enrolled(shops: &Shops, shop: &str) -> (Client, String) {
    let manager = shops.visitor(&format!("manager.{shop}"), shop);
    let page = manager.get("tablets").expect(200);
    form(&page, "/tablets").send(&manager).expect(422);
    let answer = form(&page, "/tablets").fill("name", "bay 3").send(&manager).expect(303);
    let set = answer.header("set-cookie");
    for word in ["onetrip_tablet=", "HttpOnly", "SameSite=Strict", "Max-Age="] {
        assert!(set.contains(word), "{set}");
    }
    assert!(manager.get("tablets").expect(200).body.contains("bay 3"));
    let kept = cookie(&answer);
    (shops.stranger().with("cookie", kept.clone()), kept)
}

fn come_in(tablet: &Client, id: &str, pin: &str) -> Answer {
    let page = tablet.get("/tablet").expect(200);
    form(&page, "/tablet").fill("person_id", id).fill("pin", pin).send(tablet)
}

/// The session that a PIN opened, on the tablet.
fn opened(shops: &Shops, kept: &str, answer: &Answer) -> Client {
    let both = format!("{kept}; {}", cookie(answer));
    shops.stranger().with("cookie", both).within("/shops/north".to_owned())
}

fn a_pin_opens_an_enrolled_tablet(shops: &Shops) {
    for pin in ["12345", "1234567", "222222", "123456", "654321", "abcdef"] {
        assert_eq!(set_pin(shops, "technician.north", pin).pointers(), ["/pin"], "{pin}");
    }
    set_pin(shops, "technician.north", PIN).expect(204);
    set_pin(shops, "technician.south", PIN).expect(204);
    // Without an enrolled tablet there is nobody to choose.
    let page = shops.stranger().get("/tablet").expect(200);
    assert!(page.body.contains("Not an enrolled tablet") && !page.body.contains("of north"));
    let id = person(&shops.person("manager.north"), "technician of north");
    let fields = [("person_id", id.as_str()), ("pin", PIN)];
    let refused = shops.stranger().call("POST", "/tablet").form(&fields).send().expect(303);
    assert_eq!((refused.header("location"), refused.header("set-cookie")), ("/tablet", ""));

    let (tablet, kept) = enrolled(shops, "north");
    let page = tablet.get("/tablet").expect(200);
    assert!(page.body.contains("Shop north") && page.body.contains("technician of north"));
    for other in ["adviser of north", "technician of south"] {
        assert!(!page.body.contains(other), "{other}");
    }
    assert!(tablet.get("/sign-in").expect(200).body.contains("href=\"/tablet\""));
    let foreign = form(&page, "/tablet").fill("person_id", &id).fill("pin", PIN);
    let elsewhere = tablet.clone().with("origin", "https://elsewhere.test".to_owned());
    foreign.send(&elsewhere).expect(403);
    let answer = foreign.send(&tablet).expect(303);
    let floor = opened(shops, &kept, &answer);
    let today = floor.get("today").expect(200);
    let left = form(&today, "/sign-out").send(&floor).expect(303);
    assert_eq!(left.header("location"), "/tablet");
    assert_eq!(floor.get("today").expect(303).header("location"), "/tablet");
    // The next one comes in, and whoever was in before is out.
    let first = opened(shops, &kept, &come_in(&tablet, &id, PIN).expect(303));
    opened(shops, &kept, &come_in(&first, &id, PIN).expect(303)).get("today").expect(200);
    first.get("today").expect(303);
    let pins = shops.place.lines("SELECT pin_hash AS line FROM person WHERE pin_hash IS NOT NULL");
    assert!(pins.iter().all(|hash| hash.starts_with("$argon2id$")));
}

fn a_pin_gives_the_floor_and_no_more(shops: &Shops) {
    set_pin(shops, "manager.north", PIN).expect(204);
    set_pin(shops, "owner.riverside", PIN).expect(204);
    let (tablet, kept) = enrolled(shops, "north");
    let page = tablet.get("/tablet").expect(200);
    assert!(!page.body.contains("owner of riverside"));
    let id = person(&shops.person("manager.north"), "manager of north");
    let floor = opened(shops, &kept, &come_in(&tablet, &id, PIN).expect(303));
    floor.get("write-up").expect(200);
    for page in ["people", "week", "tablets", "/me"] {
        floor.get(page).expect(403);
    }
    let today = floor.get("today").expect(200);
    assert!(!today.body.contains("href=\"/me\"") && !today.body.contains("/people\""));
    // Another PIN ends what the one before opened.
    set_pin(shops, "manager.north", "246802").expect(204);
    floor.get("today").expect(303);
    come_in(&tablet, &id, PIN).expect(401);
    come_in(&tablet, &id, "246802").expect(303);
}

fn a_wrong_pin_and_a_stranger_are_answered_alike(shops: &Shops) {
    set_pin(shops, "technician.north", PIN).expect(204);
    let manager = shops.person("manager.north");
    let (tablet, _) = enrolled(shops, "north");
    let (known, pinless) =
        (person(&manager, "technician of north"), person(&manager, "adviser of north"));
    let told = |answer: Answer| {
        let body = answer.expect(401).body;
        assert!(body.contains("Name or PIN is wrong"));
        body.replace(" checked", "")
    };
    let wrong = told(come_in(&tablet, &known, "975310"));
    assert_eq!(wrong, told(come_in(&tablet, &pinless, "975310")));
    assert_eq!(wrong, told(come_in(&tablet, "nobody", "975310")));
    // Five tries at the tablet, whoever they are for; then it waits.
    told(come_in(&tablet, &known, "975311"));
    told(come_in(&tablet, &known, "975312"));
    let held = std::iter::repeat_with(|| come_in(&tablet, &known, "975313"))
        .take(50)
        .find(|answer| answer.status == 429);
    let held = held.expect("nobody may guess fifty times in a row");
    assert!(held.body.contains("Too many tries") && !held.header("retry-after").is_empty());
    // Another tablet is not held up.
    let (other, _) = enrolled(shops, "north");
    come_in(&other, &known, PIN).expect(303);
}

fn a_revoked_tablet_ends_at_once(shops: &Shops) {
    set_pin(shops, "technician.north", PIN).expect(204);
    let manager = shops.person("manager.north");
    let id = person(&manager, "technician of north");
    let (tablet, kept) = enrolled(shops, "north");
    let floor = opened(shops, &kept, &come_in(&tablet, &id, PIN).expect(303));
    floor.get("today").expect(200);
    let listed = manager.get("tablets").expect(200).json();
    assert!(listed["items"][0]["used_at"].is_string());
    let place = format!("tablets/{}", listed["items"][0]["id"].as_str().unwrap());
    manager.call("DELETE", &place).send().expect(204);
    manager.call("DELETE", &place).send().problem(404, "not-found");
    floor.get("today").expect(303);
    assert!(tablet.get("/tablet").expect(200).body.contains("Not an enrolled tablet"));
    // A program enrolls a tablet, too: its token is told once.
    let made = manager.call("POST", "tablets").json(&json!({ "name": "bay 4" })).send();
    let token = made.expect(201).json()["token"].as_str().unwrap().to_owned();
    let tablet = shops.stranger().with("cookie", format!("onetrip_tablet={token}"));
    come_in(&tablet, &id, PIN).expect(303);
    let kept = shops.place.lines("SELECT token_hash AS line FROM tablet");
    assert!(kept.iter().all(|hash| !hash.contains("onetrip")));
    let noted = shops.place.lines(
        "SELECT action AS line FROM record_change WHERE record = 'tablet' ORDER BY change_no",
    );
    assert_eq!(noted, ["added", "ended", "added"]);
}
