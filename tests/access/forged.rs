//! Forms from elsewhere: whoever lures somebody to another place makes nothing
//! happen here.

use super::matrix::{Asker, Things, ends_the_session};
use super::routes;
use crate::support::{Shops, on_each_database};

on_each_database!(forms_from_elsewhere_do_nothing);

/// What browsers say of a form that another place sent.
const FORGED: [(&str, &str); 5] = [
    ("sec-fetch-site", "cross-site"),
    ("sec-fetch-site", "same-site"),
    ("origin", "https://elsewhere.example"),
    ("origin", "null"),
    ("origin", "http://127.0.0.1:1"),
];

/// Rows of whatever a form could leave behind.
fn rows(shops: &Shops) -> Vec<i64> {
    let tables = ["record_change", "repair_order", "job", "session", "access_token", "role_grant"];
    tables.map(|table| shops.place.count(&format!("FROM {table}"))).into()
}

fn forms_from_elsewhere_do_nothing(shops: &Shops) {
    let things = Things::make(shops, "north");
    let mut sent = 0;
    for role in ["manager", "administrator"] {
        let asker = Asker::sign_in(shops, role);
        let before = rows(shops);
        for route in routes::all() {
            if route.is_api() || route.method != "POST" || ends_the_session(&route) {
                continue;
            }
            let address = things.address(&route, "north");
            for (name, value) in FORGED {
                let call = asker.visitor.call("POST", &address).header(name, value);
                let answer = call.form(&[("form_token", &asker.form_token)]).send();
                assert_eq!(answer.status, 403, "{address} with {name}: {value}");
                sent += 1;
            }
        }
        assert_eq!(rows(shops), before);
    }
    println!("{sent} forged forms were refused");
    assert!(sent > 300, "{sent}");
}
