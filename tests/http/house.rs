//! The house: shops, the database under them, copies, and who may come in.

use serde_json::json;

use crate::support::folder::Folder;
use crate::support::html::form;
use crate::support::visit::text;
use crate::support::{Program, Shops, on_each_database};

on_each_database!(
    a_shop_is_added_on_the_page,
    the_owner_reads_and_makes_nothing,
    a_whole_copy_is_noted,
    sessions_and_tokens_of_the_group_end,
);

fn a_shop_is_added_on_the_page(shops: &Shops) {
    let office = shops.visitor("administrator.riverside", "north");
    assert_eq!(office.get("/").expect(303).header("location"), "/house");
    let page = office.get("/house").expect(200);
    for word in ["Shop north", "Shop south", "Tables at step", "No whole copy"] {
        assert!(page.body.contains(word), "{word}: {}", page.body);
    }
    assert!(!page.body.contains("Shop far"), "{}", page.body);
    let odd = form(&page, "/house/shops").fill("code", "west").fill("name", "Shop west");
    let odd = odd.fill("time_zone", "Nowhere/Nothing").fill("week_start", "1");
    let shown = odd.send(&office).expect(422);
    assert!(shown.body.contains("Time zone: choose one of the list"), "{}", shown.body);
    assert!(shown.body.contains("value=\"Nowhere/Nothing\""), "{}", shown.body);
    let right = form(&shown, "/house/shops").fill("time_zone", "America/Denver");
    let right = right.fill("week_start", "7").fill("labor_cost_minor", "95.50");
    // Sent twice it is made once.
    let sent = [right.send(&office), right.send(&office)];
    for answer in sent {
        answer.expect(303);
    }
    let made = office.get("/house").expect(200);
    assert!(made.body.contains("Shop west") && made.body.contains("America/Denver"));
    let kept = "SELECT code || ' ' || CAST(labor_cost_minor AS TEXT) || ' ' || currency AS line \
                FROM shop WHERE code = 'west'";
    assert_eq!(shops.place.lines(kept), ["west 9550 USD"]);
    let again = form(&made, "/house/shops").fill("code", "west").fill("name", "Another");
    let twice = again.fill("week_start", "1").send(&office).expect(409);
    assert!(twice.body.contains("There is a shop west in the group already"), "{}", twice.body);
}

fn the_owner_reads_and_makes_nothing(shops: &Shops) {
    let owner = shops.visitor("owner.riverside", "north");
    let page = owner.get("/house").expect(200);
    assert!(page.body.contains("Shop south") && !page.body.contains("/house/shops"));
    assert!(!page.body.contains("/house/access") && !page.body.contains("/settings\""));
    owner.get("/house/access").expect(403);
    for name in ["technician.north", "adviser.north", "manager.north"] {
        shops.visitor(name, "north").get("/house").expect(403);
    }
}

fn a_whole_copy_is_noted(shops: &Shops) {
    let folder = Folder::new();
    let place = folder.path().join("copy");
    let export = ["export", "--all", place.to_str().unwrap()];
    Program::new(&shops.place, &export).must("");
    let page = shops.visitor("administrator.riverside", "north").get("/house").expect(200);
    assert!(page.body.contains("The last whole copy was written"), "{}", page.body);
    assert!(page.body.contains("without passwords, PINs and tokens"), "{}", page.body);
    // It is no part of what is copied.
    assert!(!place.join("copy_made.ndjson").exists());
    assert_eq!(shops.place.count("FROM copy_made"), 1);
}

fn sessions_and_tokens_of_the_group_end(shops: &Shops) {
    let manager = shops.person("manager.north");
    let new = json!({ "name": "till", "scope": "read" });
    let made = manager.call("POST", "/api/v1/me/tokens").json(&new).send().expect(201).json();
    let till = shops
        .stranger()
        .with("authorization", format!("Bearer {}", text(&made["token"])))
        .within(format!("/api/v1/shops/{}", shops.id("north")));
    till.get("orders").expect(200);
    let signed_in = shops.visitor("adviser.north", "north");
    signed_in.get("today").expect(200);
    let office = shops.visitor("administrator.riverside", "north");
    let page = office.get("/house/access").expect(200);
    for word in ["adviser of north", "till", "of <bdi>manager of north</bdi>"] {
        assert!(page.body.contains(word), "{word}: {}", page.body);
    }
    // The own session has no button: that is signing out.
    assert!(page.body.contains(">here<"), "{}", page.body);
    form(&page, &format!("/house/tokens/{}/removal", text(&made["id"]))).follow(&office);
    till.get("orders").problem(401, "not-signed-in");
    let id = shops.place.lines(
        "SELECT substr(token_hash, 1, 16) AS line FROM session \
         JOIN person ON person.id = session.person_id \
         WHERE sign_in_name = 'adviser.north' AND kind = 'page'",
    );
    let place = format!("/house/sessions/{}/removal", id[0]);
    let page = form(&page, &place).follow(&office);
    assert_eq!(signed_in.get("today").expect(303).header("location"), "/sign-in");
    assert!(page.body.contains("Tokens that open nothing any more"), "{}", page.body);
    // Another group's is not there.
    let other = shops.visitor("administrator.uplands", "far");
    let theirs = other.get("/house/access").expect(200);
    assert!(!theirs.body.contains("of north"), "{}", theirs.body);
}
