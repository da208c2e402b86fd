//! Looking changes nothing: a link from elsewhere, which a browser follows with the
//! session's cookie, leaves the record as it is.

use super::expected::ROLES;
use super::matrix::{Asker, PLACES, Things, send, shop_of};
use super::routes;
use crate::support::{Shops, on_each_database, rows};

on_each_database!(looking_changes_nothing);

fn looking_changes_nothing(shops: &Shops) {
    let things = Things::make(shops, "north");
    let mut asked = 0;
    let askers = ROLES.map(|role| Asker::sign_in(shops, role));
    // Its first use is noted, and no second one within ten minutes.
    for asker in &askers {
        asker.program.get("/api/v1/me").expect(200);
        asker.visitor.get("/").expect(303);
    }
    let before = rows::all(&shops.place);
    for asker in &askers {
        for route in routes::all() {
            if route.method != "GET" {
                continue;
            }
            let places = if route.path.contains("{shop}") { &PLACES[..] } else { &PLACES[..1] };
            let client = if route.is_api() { &asker.program } else { &asker.visitor };
            for place in places {
                let address = things.address(&route, &shop_of(shops, &route, *place));
                assert!(send(client, "", &route, &address).status < 500, "{address}");
                asked += 1;
            }
        }
    }
    let after = rows::all(&shops.place);
    assert_eq!(rows::differing(&before, &after), Vec::<String>::new());
    // A write is seen.
    let manager = askers.iter().find(|asker| asker.role == "manager").unwrap();
    crate::support::visit::open(&manager.program, "LK 1", "engine.tick");
    let written = rows::differing(&after, &rows::all(&shops.place));
    assert!(written.iter().any(|table| table == "repair_order"), "{written:?}");
    println!("{asked} looks changed nothing in {} tables", before.len());
    assert!(asked > 1_000, "{asked}");
}
