//! Lists in other formats than JSON, and the way to the next page.

use serde_json::Value;

use crate::support::visit::{open, text};
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_list_is_the_same_in_every_format,
    an_empty_list_has_its_columns,
    every_list_and_report_takes_every_format,
    the_next_page_is_linked,
    a_spreadsheet_gets_text_for_formulas,
);

fn as_type(client: &Client, path: &str, accept: &str) -> Answer {
    client.call("GET", path).header("accept", accept).send()
}

fn rows(csv: &Answer) -> (Vec<String>, Vec<Vec<String>>) {
    assert_eq!(csv.header("content-type"), "text/csv; charset=utf-8; header=present");
    assert_eq!(csv.body.matches('\n').count(), csv.body.matches("\r\n").count());
    let mut reader = csv::Reader::from_reader(csv.body.as_bytes());
    let header = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let rows = reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect());
    (header, rows.collect())
}

fn field(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

fn a_list_is_the_same_in_every_format(shops: &Shops) {
    let manager = shops.person("manager.north");
    for plate in ["FO, \"1\"", "FO 2"] {
        open(&manager, plate, "engine.stalls");
    }
    for list in ["orders", "vehicles", "codes", "people", "/api/v1/shops", "comebacks"] {
        let json = manager.get(list).expect(200);
        assert_eq!(json.header("vary"), "Accept", "{list}");
        let items = json.json()["items"].as_array().unwrap().clone();
        let lines = as_type(&manager, list, "application/x-ndjson").expect(200);
        assert_eq!(lines.header("content-type"), "application/x-ndjson");
        let read: Vec<Value> =
            lines.body.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!(read, items, "{list}");
        let csv = as_type(&manager, list, "text/csv").expect(200);
        let (header, rows) = rows(&csv);
        assert_eq!(rows.len(), items.len(), "{list}");
        for (row, item) in rows.iter().zip(&items) {
            let known = item.as_object().unwrap();
            assert!(known.keys().all(|name| header.contains(name)), "{list}: {known:?}");
            for (name, shown) in header.iter().zip(row) {
                assert_eq!(*shown, item.get(name).map_or_else(String::new, field), "{list} {name}");
            }
        }
        let tags = [json.tag(), lines.tag(), csv.tag()];
        assert!(items.is_empty() || (tags[0] != tags[1] && tags[1] != tags[2]), "{list}");
    }
}

fn an_empty_list_has_its_columns(shops: &Shops) {
    let manager = shops.person("manager.north");
    let empty = rows(&as_type(&manager, "orders", "text/csv").expect(200));
    assert!(empty.0.starts_with(&["id".to_owned(), "order_no".to_owned()]), "{:?}", empty.0);
    open(&manager, "FO 3", "engine.stalls");
    let full = rows(&manager.get("orders?format=csv").expect(200));
    assert_eq!((empty.0, empty.1.len(), full.1.len()), (full.0, 0, 1));
}

fn every_list_and_report_takes_every_format(shops: &Shops) {
    let manager = shops.person("manager.north");
    let document = manager.get("/openapi.json").expect(200).json();
    let mut tried = 0;
    for (path, item) in document["paths"].as_object().unwrap() {
        let content = &item["get"]["responses"]["200"]["content"];
        if content.get("text/csv").is_none() {
            continue;
        }
        let path = path.replace("{shop}", shops.id("north"));
        if path.contains('{') || manager.get(&path).status != 200 {
            continue;
        }
        for media_type in content.as_object().unwrap().keys() {
            let answer = as_type(&manager, &path, media_type).expect(200);
            assert!(answer.header("content-type").starts_with(media_type), "{path} {media_type}");
        }
        let last = as_type(&manager, &path, "image/png, text/csv;q=0.2, application/json;q=0.1");
        assert!(last.expect(200).header("content-type").starts_with("text/csv"), "{path}");
        as_type(&manager, &path, "image/png").problem(406, "not-acceptable");
        let joined = if path.contains('?') { '&' } else { '?' };
        assert_eq!(manager.get(&format!("{path}{joined}format=xml")).pointers(), ["format"]);
        tried += 1;
    }
    assert!(tried >= 11, "{tried}");
    // A line of a report keeps numbers as numbers.
    open(&manager, "FO 5", "engine.stalls");
    let lines = as_type(&manager, "reports/labor", "application/x-ndjson").expect(200);
    for line in lines.body.lines() {
        assert!(serde_json::from_str::<Value>(line).unwrap()["change_no"].is_i64(), "{line}");
    }
}

fn the_next_page_is_linked(shops: &Shops) {
    let manager = shops.person("manager.north");
    for number in 0..5 {
        open(&manager, &format!("FO L{number}"), "engine.stalls");
    }
    let mut address = "orders?limit=2&format=csv&status=open".to_owned();
    let mut ids = Vec::new();
    loop {
        let page = manager.get(&address).expect(200);
        ids.extend(rows(&page).1.into_iter().map(|row| row[0].clone()));
        let next = page.headers.get_all("link").iter().find_map(|link| {
            let (place, rest) = link.to_str().unwrap().split_once('>').unwrap();
            rest.contains("rel=\"next\"").then(|| place.trim_start_matches('<').to_owned())
        });
        let Some(next) = next else { break };
        assert!(next.contains("format=csv") && next.matches("cursor=").count() == 1, "{next}");
        address = next;
    }
    let all = manager.get("orders").expect(200).json();
    let expected: Vec<&str> =
        all["items"].as_array().unwrap().iter().map(|order| text(&order["id"])).collect();
    assert_eq!(ids, expected);
}

fn a_spreadsheet_gets_text_for_formulas(shops: &Shops) {
    let manager = shops.person("manager.north");
    let visit = serde_json::json!({
        "vehicle": { "plate": "FO 9" }, "customer_name": "=1+2",
        "jobs": [{ "symptom": "engine.stalls", "complaint": "stalls" }],
    });
    manager.post("orders", &visit).expect(201);
    for (query, shown) in [("", "=1+2"), ("?spreadsheet=true", "'=1+2")] {
        let csv = as_type(&manager, &format!("orders{query}"), "text/csv").expect(200);
        let (header, rows) = rows(&csv);
        let place = header.iter().position(|name| name == "customer_name").unwrap();
        assert_eq!(rows[0][place], shown, "{query}");
    }
    assert_eq!(manager.get("orders?spreadsheet=maybe").pointers(), ["spreadsheet"]);
}
