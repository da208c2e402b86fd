//! What belongs to another shop cannot be told from what is not there.

use super::matrix::{Asker, Things, ends_the_session, send};
use super::routes;
use crate::support::{Answer, Shops, on_each_database};

on_each_database!(another_shops_things_are_not_there);

/// Everything that came, but for what is new with every request and what ends the
/// connection: that hangs on when the body was read.
fn told(answer: &Answer) -> (u16, Vec<(String, String)>, String) {
    let own = ["connection", "date", "set-cookie", "x-request-id"];
    let headers = answer.headers.iter().filter(|(name, _)| !own.contains(&name.as_str()));
    let headers = headers.map(|(name, value)| {
        (name.to_string(), String::from_utf8_lossy(value.as_bytes()).into_owned())
    });
    let mut headers: Vec<(String, String)> = headers.collect();
    headers.sort();
    (answer.status, headers, masked(&answer.body))
}

/// Without ids, keys that are made anew, and the moment at which a page was made.
fn masked(body: &str) -> String {
    let body = match body.split_once("data-now=\"") {
        Some((before, after)) => format!("{before}{}", after.split_once('"').unwrap().1),
        None => body.to_owned(),
    };
    let part = |c: char| c == '-' || c.is_ascii_digit() || ('a'..='f').contains(&c);
    let mut masked = String::new();
    let mut rest = body.as_str();
    while let Some(at) = rest.find(part) {
        let (before, after) = rest.split_at(at);
        let end = after.find(|c| !part(c)).unwrap_or(after.len());
        let (run, left) = after.split_at(end);
        masked.push_str(before);
        masked.push_str(if run.len() >= 32 { "#" } else { run });
        rest = left;
    }
    masked + rest
}

fn another_shops_things_are_not_there(shops: &Shops) {
    let own = Things::make(shops, "north");
    let person = own.person().to_owned();
    let foreign = Things::make(shops, "south").with_person(&person);
    let nowhere = Things::nowhere(&person);
    let mut pairs = 0;
    for role in ["technician", "adviser", "manager", "owner"] {
        let asker = Asker::sign_in(shops, role);
        for route in routes::all() {
            let shop = if route.is_api() { shops.id("north") } else { "north" };
            let (there, not) = (foreign.address(&route, shop), nowhere.address(&route, shop));
            if there == not || !route.path.contains("{shop}") || ends_the_session(&route) {
                continue;
            }
            let client = if route.is_api() { &asker.program } else { &asker.visitor };
            let ask = |address: &str| send(client, &asker.form_token, &route, address);
            let (there, not) = (told(&ask(&there)), told(&ask(&not)));
            assert_eq!(there, not, "{} {} by {role}", route.method, route.path);
            pairs += 1;
        }
    }
    println!("{pairs} pairs of a foreign and an invented id were answered alike");
    assert!(pairs > 200, "{pairs}");
}
