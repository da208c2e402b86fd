//! Every address: HEAD, wrong methods, tags and what follows from them.

use crate::access::routes::{self, Route};
use crate::support::visit::{finish, open, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    wrong_methods_are_told_the_right_ones,
    head_is_get_without_its_body_everywhere,
    what_is_still_the_same_is_not_sent_again,
    a_tag_with_a_body_s_hash_is_a_version,
);

const NOBODY: &str = "00000000-0000-7000-8000-000000000000";
const METHODS: [&str; 5] = ["GET", "POST", "PUT", "PATCH", "DELETE"];

fn fits(pattern: &str, address: &str) -> bool {
    let (pattern, address): (Vec<&str>, Vec<&str>) =
        (pattern.split('/').collect(), address.split('/').collect());
    pattern.len() == address.len()
        && pattern.iter().zip(&address).all(|(part, said)| part.starts_with('{') || part == said)
}

/// The address with each changing part filled in by `fill`.
fn filled(path: &str, fill: impl Fn(&str) -> String) -> String {
    let part = |part: &str| match part.strip_prefix('{').and_then(|p| p.strip_suffix('}')) {
        Some(name) => fill(name),
        None => part.to_owned(),
    };
    path.split('/').map(part).collect::<Vec<_>>().join("/")
}

fn wrong_methods_are_told_the_right_ones(shops: &Shops) {
    let (all, manager) = (routes::all(), shops.person("manager.north"));
    let mut asked = 0;
    for route in &all {
        let address = filled(&route.path, |_| NOBODY.to_owned());
        let mut taken: Vec<&str> = all
            .iter()
            .filter(|other| fits(&other.path, &address))
            .map(|other| other.method.as_str())
            .collect();
        if taken.contains(&"GET") {
            taken.push("HEAD");
        }
        taken.sort_unstable();
        taken.dedup();
        for method in METHODS.iter().filter(|method| !taken.contains(method)) {
            let answer = manager.call(method, &address).send().expect(405);
            assert_eq!(answer.header("allow"), taken.join(", "), "{method} {address}");
            asked += 1;
        }
    }
    assert!(asked > 100, "{asked}");
}

/// Every address of a program that can be read, with real things in it.
fn readable(shops: &Shops, manager: &Client) -> Vec<String> {
    let (order, job) = open(manager, "ME 1", "engine.stalls");
    finish(manager, &order, &job, "air-filter");
    let (order, job) = open(manager, "ME 1", "engine.stalls");
    let whole = manager.get(&format!("orders/{order}")).expect(200).json();
    let fill = |name: &str| match name {
        "shop" => shops.id("north").to_owned(),
        "order" => order.clone(),
        "job" => job.clone(),
        "vehicle" => text(&whole["vehicle_id"]).to_owned(),
        "comeback" => text(&whole["comebacks"][0]["id"]).to_owned(),
        "kind" => "stale".to_owned(),
        "file" => "app.css".to_owned(),
        _ => NOBODY.to_owned(),
    };
    let read = |route: &Route| {
        let of_program = route.is_api() || !route.path.starts_with("/shops");
        (route.method == "GET" && of_program && !["/", "/sign-in"].contains(&route.path.as_str()))
            .then(|| filled(&route.path, fill))
    };
    routes::all().iter().filter_map(read).collect()
}

fn head_is_get_without_its_body_everywhere(shops: &Shops) {
    let manager = shops.person("manager.north");
    for address in readable(shops, &manager) {
        let whole = manager.get(&address);
        let head = manager.call("HEAD", &address).send();
        assert_eq!((head.status, head.body.as_str()), (whole.status, ""), "{address}");
        assert_eq!(head.header("content-length"), whole.body.len().to_string(), "{address}");
        for name in ["content-type", "etag", "cache-control", "vary"] {
            assert_eq!(head.header(name), whole.header(name), "{name} of {address}");
        }
    }
}

fn what_is_still_the_same_is_not_sent_again(shops: &Shops) {
    let manager = shops.person("manager.north");
    let mut held = 0;
    for address in readable(shops, &manager) {
        let whole = manager.get(&address);
        if whole.status != 200 || !address.starts_with("/api/") {
            continue;
        }
        let tag = whole.tag();
        assert_eq!(whole.header("cache-control"), "private, no-cache", "{address}");
        for sent in [tag.clone(), format!("\"other\", W/{tag}"), "*".to_owned()] {
            let again = manager.call("GET", &address).header("if-none-match", sent.as_str()).send();
            assert_eq!((again.status, again.body.as_str()), (304, ""), "{address} {sent}");
            assert_eq!(again.tag(), tag, "{address}");
        }
        let anew = manager.call("GET", &address).header("if-none-match", "\"other\"").send();
        assert_eq!(anew.expect(200).body, whole.body, "{address}");
        held += 1;
    }
    assert!(held >= 14, "{held}");
    // What hangs on a thing changes its tag, even where its version stays.
    let (order, job) = open(&manager, "ME 2", "engine.stalls");
    let thing = format!("orders/{order}");
    let before = manager.get(&thing).tag();
    manager.patch(&format!("jobs/{job}"), &serde_json::json!({ "bay": "7" })).expect(200);
    let after = manager.call("GET", &thing).header("if-none-match", before.as_str()).send();
    assert_ne!(after.expect(200).tag(), before);
}

fn a_tag_with_a_body_s_hash_is_a_version(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, _) = open(&adviser, "ME 3", "engine.stalls");
    let thing = format!("orders/{order}");
    let name = serde_json::json!({ "customer_name": "B" });
    let change = |tag: &str| adviser.call("PATCH", &thing).json(&name).if_match(tag).send();
    assert_eq!(adviser.get(&thing).tag().split('.').next(), Some("\"1"));
    change(&adviser.get(&thing).tag()).expect(200);
    let now = change("\"2\"").expect(200);
    // The answer to a change is what a reader would get.
    assert_eq!(now.tag(), adviser.get(&thing).tag());
    for refused in ["W/\"3\"", "*", "\"3\", \"4\"", "3"] {
        change(refused).problem(412, "stale");
    }
}
