//! Who changed what: a line for every write, and none is ever touched again.

use serde_json::{Value, json};

use crate::support::visit::{open, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    every_write_leaves_a_line,
    the_feed_ends_with_whole_writes,
    the_audit_tells_before_and_after,
    the_audit_is_narrowed_and_walked,
    the_history_is_read_on_its_page,
);

/// One write of a shop: who, the request, and the record and action that its
/// line names. `{order}` and `{job}` stand for an open order and its job.
struct Write {
    who: &'static str,
    method: &'static str,
    path: &'static str,
    body: fn() -> Value,
    record: &'static str,
    action: &'static str,
}

const fn write(
    who: &'static str,
    method: &'static str,
    path: &'static str,
    body: fn() -> Value,
    record: &'static str,
    action: &'static str,
) -> Write {
    Write { who, method, path, body, record, action }
}

/// A line for each kind of write; what is changed on a version is read first.
#[rustfmt::skip]
const WRITES: &[Write] = &[
    write("administrator.riverside", "PATCH", "", || json!({ "window_days": 45 }), "shop", "changed"),
    write("manager.north", "POST", "codes", || json!({ "list": "check", "code": "x", "label": "X" }), "code", "added"),
    write("manager.north", "PATCH", "codes/check/x", || json!({ "label": "Y" }), "code", "changed"),
    write("manager.north", "PATCH", "codes/check/x", || json!({ "retired": true }), "code", "retired"),
    write("manager.north", "PATCH", "codes/check/x", || json!({ "retired": false }), "code", "restored"),
    write("manager.north", "POST", "codes/check/x/merge", || json!({ "into": "road-test" }), "code", "merged"),
    write("adviser.north", "POST", "orders", || write_up("CH 0", "engine.stalls"), "order", "added"),
    write("technician.north", "POST", "jobs/{job}/checks", || json!({ "code": "road-test" }), "check", "added"),
];

/// Sends it on the version that stands, where there is one.
fn send(client: &Client, method: &str, path: &str, body: &Value) -> crate::support::Answer {
    let call = client.call(method, path).json(body).new_key();
    let call = if method == "PATCH" { call.if_match(&client.get(path).tag()) } else { call };
    call.send()
}

/// Every line, whole, in its order.
fn lines(shops: &Shops) -> Vec<String> {
    shops.place.lines(
        "SELECT CAST(shop_id AS TEXT) || ' ' || CAST(change_no AS TEXT) || ' ' || \
         CAST(line AS TEXT) || ' ' || person_id || ' ' || record || ' ' || record_id || ' ' || \
         action || ' ' || COALESCE(before_json, '-') || ' ' || COALESCE(after_json, '-') AS line \
         FROM record_change ORDER BY shop_id, change_no, line",
    )
}

/// The shop's last lines: those of its last write.
fn last(client: &Client) -> Vec<Value> {
    let newest = client.get("audit?limit=50").expect(200).json()["items"].clone();
    let newest = newest.as_array().unwrap().clone();
    let number = newest[0]["change_no"].clone();
    newest.into_iter().filter(|line| line["change_no"] == number).collect()
}

fn every_write_leaves_a_line(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&shops.person("adviser.north"), "CH 1", "engine.stalls");
    for write in WRITES {
        let client = shops.person(write.who);
        let path = write.path.replace("{order}", &order).replace("{job}", &job);
        let path =
            if path.is_empty() { format!("/api/v1/shops/{}", shops.id("north")) } else { path };
        let before = lines(shops);
        let answer = send(&client, write.method, &path, &(write.body)());
        let said = format!("{} {path}: {}", write.method, answer.body);
        assert!((200..300).contains(&answer.status), "{said}");
        let after = lines(shops);
        // Lines are added, and nothing of the earlier ones is touched.
        assert!(after.len() > before.len(), "no line: {said}");
        let kept = before.iter().all(|line| after.contains(line));
        assert!(kept, "a line was changed: {said}");
        let newest = last(&manager);
        let fits = |line: &Value| line["record"] == write.record && line["action"] == write.action;
        assert!(newest.iter().any(fits), "{said}: {newest:?}");
        let numbers: Vec<i64> = newest.iter().map(|l| l["line"].as_i64().unwrap()).rev().collect();
        assert_eq!(numbers, (1..=numbers.len() as i64).collect::<Vec<_>>(), "{said}");
    }
}

/// The whole feed, by pages of that size; each as change number and line.
fn walk(client: &Client, limit: usize) -> Vec<(i64, i64)> {
    let (mut found, mut after) = (Vec::new(), 0);
    loop {
        let page = client.get(&format!("changes?after={after}&limit={limit}")).expect(200);
        let feed = page.json();
        let items = feed["items"].as_array().unwrap();
        for item in items {
            assert!(item.get("before").is_none() && item.get("after").is_none(), "{item}");
            let number = |name: &str| item[name].as_i64().unwrap();
            found.push((number("change_no"), number("line")));
        }
        let last_no = feed["last_change_no"].as_i64().unwrap();
        let next = page.header("link");
        if next.is_empty() {
            return found;
        }
        assert!(last_no > after && items.last().unwrap()["change_no"] == last_no, "{feed}");
        let place = next.trim_start_matches('<').split('>').next().unwrap();
        assert!(next.ends_with("rel=\"next\""), "{next}");
        assert!(place.ends_with(&format!("after={last_no}&limit={limit}")), "{place}");
        after = last_no;
    }
}

fn the_feed_ends_with_whole_writes(shops: &Shops) {
    let manager = shops.person("manager.north");
    for number in 0..4 {
        let code = json!({ "list": "check", "code": format!("c{number}"), "label": "C" });
        manager.post("codes", &code).expect(201);
    }
    // One write of several lines: the symptoms of the system go over.
    manager.post("codes/system/brakes/merge", &json!({ "into": "steering" })).expect(200);
    manager.post("codes/check/c0/merge", &json!({ "into": "c1" })).expect(200);
    let whole = walk(&manager, 200);
    assert!(whole.is_sorted() && whole.iter().any(|(_, line)| *line > 3), "{whole:?}");
    for limit in [1, 2, 3, 7] {
        assert_eq!(walk(&manager, limit), whole, "{limit} a page");
    }
    let technician = shops.person("technician.north");
    let feed = technician.get("changes?limit=200").expect(200).json();
    let last_no = feed["last_change_no"].as_i64().unwrap();
    let nothing = technician.get(&format!("changes?after={last_no}")).expect(200).json();
    assert_eq!((&nothing["items"], &nothing["last_change_no"]), (&json!([]), &json!(last_no)));
    assert_eq!(technician.get("changes?limit=0").pointers(), ["limit"]);
}

fn the_audit_tells_before_and_after(shops: &Shops) {
    let manager = shops.person("manager.north");
    let label = json!({ "label": "Road test, short" });
    manager.patch("codes/check/road-test", &label).expect(200);
    let line = &last(&manager)[0];
    assert_eq!((&line["record"], &line["record_id"]), (&json!("code"), &json!("check/road-test")));
    assert_eq!(line["before"]["label"], "Road test");
    assert_eq!(line["after"]["label"], "Road test, short");
    assert_eq!(line["changed"], json!(["label", "version"]));
    assert_eq!(line["correction"], false);
    let me = manager.get("/api/v1/me").expect(200).json();
    assert!(me.to_string().contains(text(&line["person_id"])), "{me}");

    let shop = shops.person("administrator.riverside");
    let place = format!("/api/v1/shops/{}", shops.id("north"));
    shop.patch(&place, &json!({ "labor_cost_minor": 9_500 })).expect(200);
    let line = &last(&manager)[0];
    assert_eq!((&line["record"], &line["action"]), (&json!("shop"), &json!("changed")));
    assert_eq!(line["before"]["labor_cost_minor"], 9_000);
    assert_eq!(line["after"]["labor_cost_minor"], 9_500);
    // What is refused leaves none.
    let count = lines(shops).len();
    shop.patch(&place, &json!({ "window_days": 0 })).problem(422, "invalid");
    assert_eq!(lines(shops).len(), count);
}

fn the_audit_is_narrowed_and_walked(shops: &Shops) {
    let (manager, owner) = (shops.person("manager.north"), shops.person("owner.riverside"));
    for number in 0..5 {
        let code = json!({ "list": "check", "code": format!("n{number}"), "label": "N" });
        manager.post("codes", &code).expect(201);
    }
    owner.patch("codes/check/n0", &json!({ "label": "M" })).expect(200);
    let found = |query: &str| -> Vec<String> {
        let page = owner.get(&format!("audit?{query}")).expect(200).json();
        let items = page["items"].as_array().unwrap();
        items.iter().map(|item| text(&item["record_id"]).to_owned()).collect()
    };
    assert_eq!(found("record=code&record_id=check/n0"), ["check/n0", "check/n0"]);
    let by_owner = owner.get("audit?record=code&limit=1").expect(200).json();
    let person = text(&by_owner["items"][0]["person_id"]).to_owned();
    assert_eq!(found(&format!("person_id={person}")), ["check/n0"]);
    assert_eq!(found("record=code&from=2000-01-01&to=2000-12-31"), Vec::<String>::new());
    let all = found("record=code&from=2000-01-01&limit=200");
    assert_eq!(all.len(), 6);
    let (mut walked, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = owner.get(&format!("audit?record=code&limit=2{cursor}")).expect(200).json();
        let items = page["items"].as_array().unwrap();
        walked.extend(items.iter().map(|item| text(&item["record_id"]).to_owned()));
        let Some(next) = page["next_cursor"].as_str() else { break };
        cursor = format!("&cursor={next}");
    }
    assert_eq!(walked, all);
    assert_eq!(owner.get("audit?from=monday&cursor=x").pointers(), ["from", "cursor"]);
}

fn the_history_is_read_on_its_page(shops: &Shops) {
    let program = shops.person("manager.north");
    program.patch("codes/check/road-test", &json!({ "label": "Road <b>test</b>" })).expect(200);
    let manager = shops.visitor("manager.north", "north");
    let entry = manager.get("codes?list=check&code=road-test").expect(200);
    assert!(
        entry.body.contains("/history?record=code&#38;record_id=check%2Froad-test")
            || entry.body.contains("/history?record=code&amp;record_id=check%2Froad-test")
    );
    let page = manager.get("history?record=code&record_id=check%2Froad-test").expect(200);
    assert!(page.body.contains("manager of north") && !page.body.contains("<b>test</b>"));
    assert!(page.body.contains("Before and after") && page.body.contains("<bdi>Road test</bdi>"));
    // An empty form asks for everything.
    let all = "history?record=&order_no=&person_id=&from=&to=";
    assert!(manager.get(all).expect(200).body.contains("code list entry"));
    let (order, _) = open(&shops.person("adviser.north"), "CH 2", "engine.stalls");
    let order = manager.get(&format!("orders/{order}")).expect(200);
    assert!(order.body.contains("/history?order_no=1\""), "{}", order.body);
    manager.get("history?order_no=1").expect(200);
    let odd = manager.get("history?order_no=99&from=").expect(422);
    assert!(odd.body.contains("no order of that number") && odd.body.contains("value=\"99\""));
    manager.get("history?from=2026-02-30").expect(422);
}
