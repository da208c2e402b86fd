//! Whatever is refused is refused in one form (RFC 9457), with the status that
//! RFC 9110 and RFC 6585 give it.

use std::io::{Read, Write};
use std::net::TcpStream;

use serde_json::{Value, json};

use crate::support::visit::{open, text, write_up};
use crate::support::{Shops, on_each_database};

on_each_database!(
    amounts_and_texts_have_limits,
    addresses_and_methods,
    bodies_that_cannot_be_read,
    fields_that_need_correcting,
    what_a_write_must_carry,
    forms_of_answer,
    every_answer_carries_its_headers,
);

const NOBODY: &str = "00000000-0000-7000-8000-000000000000";

fn addresses_and_methods(shops: &Shops) {
    let manager = shops.person("manager.north");
    for path in ["/api/v1/nothing", "orders/not-an-id", "jobs/../../x"] {
        manager.get(path).problem(404, "not-found");
    }
    // A thing that is not there and a shop that is not yours: one answer.
    let absent = manager.get(&format!("orders/{NOBODY}")).problem(404, "not-found");
    let foreign = manager.get(&format!("/api/v1/shops/{NOBODY}/orders")).problem(404, "not-found");
    assert_eq!(absent, foreign);
    let wrong = manager.call("DELETE", "orders").send();
    wrong.problem(405, "method-not-allowed");
    assert_eq!(wrong.header("allow"), "GET, HEAD, POST");
    let wrong = manager.call("PUT", "/api/v1/sessions").body("{}", "application/json").send();
    wrong.problem(405, "method-not-allowed");
    assert_eq!(wrong.header("allow"), "POST");

    let stranger = shops.stranger();
    let refused = stranger.get("/api/v1/me");
    refused.problem(401, "not-signed-in");
    assert_eq!(refused.header("www-authenticate"), "Bearer");
    let forged = stranger.with("authorization", format!("Bearer onetrip_{}", "0".repeat(64)));
    forged.get("/api/v1/me").problem(401, "not-signed-in");
    let technician = shops.person("technician.north");
    technician.get("people").problem(403, "forbidden");
}

fn bodies_that_cannot_be_read(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let post = |body: &str, media_type: &str| {
        adviser.call("POST", "orders").body(body, media_type).new_key().send()
    };
    post("{}", "text/plain").problem(415, "media-type");
    post("{}", "").problem(415, "media-type");
    let packed = adviser.call("POST", "orders").json(&json!({})).header("content-encoding", "gzip");
    packed.new_key().send().problem(415, "media-type");
    let broken = post("{\"jobs\": [", "application/json").problem(400, "bad-request");
    assert_eq!(broken["errors"][0]["code"], "syntax");
    post("", "application/json").problem(400, "bad-request");
    let long = format!("\"{}\"", "x".repeat(256 * 1024));
    post(&long, "application/json").problem(413, "too-large");
    refused_before_it_is_sent(shops);
}

/// A body that is declared too large is refused by its first line, not after
/// ten gigabytes.
fn refused_before_it_is_sent(shops: &Shops) {
    let mut socket = TcpStream::connect(shops.base().trim_start_matches("http://")).unwrap();
    let head = "POST /api/v1/sessions HTTP/1.1\r\nhost: test\r\nconnection: close\r\n\
                content-type: application/json\r\ncontent-length: 10000000000\r\n\r\n";
    socket.write_all(head.as_bytes()).unwrap();
    let mut answer = [0_u8; 12];
    socket.read_exact(&mut answer).unwrap();
    assert_eq!(&answer, b"HTTP/1.1 413");
}

fn fields_that_need_correcting(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let pointers = |body: &Value| adviser.post("orders", body).pointers();
    let good = || write_up("FM 11", "engine.stalls");
    let mut odd = good();
    odd["jobs"][0]["symptom"] = json!("engine.sulks");
    assert_eq!(pointers(&odd), ["/jobs/0/symptom"]);
    odd = good();
    odd["jobs"][0]["happens_when"] = json!(["hot", "on-tuesdays"]);
    assert_eq!(pointers(&odd), ["/jobs/0/happens_when/1"]);
    odd = good();
    odd["jobs"] = json!([]);
    odd["odometer_in"] = json!(-1);
    odd["odometer_unit"] = json!("furlong");
    assert_eq!(pointers(&odd), ["/jobs", "/odometer_in", "/odometer_unit"]);
    odd = good();
    odd["vehicle"] = json!({ "make": "Corvane", "model_year": 1066 });
    assert_eq!(pointers(&odd), ["/vehicle/vin", "/vehicle/model_year"]);
    odd = good();
    odd["odometer_in"] = json!("many");
    assert_eq!(pointers(&odd), ["/odometer_in"]);
    odd = good();
    odd["jobs"][0]["surprise"] = json!(1);
    assert_eq!(
        adviser.post("orders", &odd).problem(422, "invalid")["errors"][0]["code"],
        "unknown"
    );
    // Text goes in as it is; what no text holds is refused.
    for (complaint, taken) in
        [("מנוע רועד \u{1f697}", true), ("bell \u{7}", false), ("nul \u{0}", false)]
    {
        let mut visit = good();
        visit["jobs"][0]["complaint"] = json!(complaint);
        let answer = adviser.post("orders", &visit);
        if taken {
            assert_eq!(answer.expect(201).json()["jobs"][0]["complaint"], complaint);
        } else {
            assert_eq!(answer.pointers(), ["/jobs/0/complaint"]);
        }
    }
    plain_words(shops);
    for query in ["limit=0", "limit=201", "limit=x", "cursor=x", "status=gone", "colour=red"] {
        adviser.get(&format!("orders?{query}")).problem(422, "invalid");
    }
    let manager = shops.person("manager.north");
    for query in ["as_of=2200-01-01", "as_of=soon", "window=401", "by=mood", "from=2026-02-30"] {
        manager.get(&format!("reports/comebacks?{query}")).problem(422, "invalid");
    }
}

/// Whoever wrote the request reads what to do, not what a reader's types are.
fn plain_words(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let good = || write_up("FM 12", "engine.stalls");
    let told = |body: &Value| {
        let problem = adviser.post("orders", body).problem(422, "invalid");
        let fault = &problem["errors"][0];
        (text(&fault["pointer"]).to_owned(), text(&fault["detail"]).to_owned())
    };
    let with = |field: &str, value: Value| {
        let mut body = good();
        body[field] = value;
        body
    };
    for (body, pointer, detail) in [
        (with("odometer_in", json!(1.5)), "/odometer_in", "write a whole number"),
        (with("jobs", json!("one")), "/jobs", "write a list, in square brackets"),
        (with("vehicle", json!("KT 1")), "/vehicle", "write an object, in curly braces"),
        (
            with("promised_at", json!("300000-01-01T00:00:00Z")),
            "/promised_at",
            "write a time such as",
        ),
        (
            with("color", json!(1)),
            "/color",
            "this field is not known here; choose from: vehicle_id",
        ),
        (json!({ "vehicle": { "plate": "FM 13" } }), "/jobs", "this field is missing"),
    ] {
        let (at, said) = told(&body);
        assert_eq!(at, pointer);
        assert!(said.starts_with(detail), "{said}");
    }
    let query = adviser.get("orders?limit=x").problem(422, "invalid");
    assert_eq!(
        (&query["errors"][0]["pointer"], &query["errors"][0]["detail"]),
        (&json!("limit"), &json!("write a whole number"))
    );
}

fn what_a_write_must_carry(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let body = write_up("WM 1", "engine.stalls");
    let keyless = adviser.call("POST", "orders").json(&body).send();
    keyless.problem(400, "idempotency-key-missing");
    let long = adviser.call("POST", "orders").json(&body).key(&"k".repeat(256)).send();
    long.problem(400, "bad-request");
    let (order, job) = open(&adviser, "WM 1", "engine.stalls");
    for (method, path, body) in [
        ("PATCH", format!("orders/{order}"), json!({ "customer_name": "A" })),
        ("PATCH", format!("jobs/{job}"), json!({ "bay": "2" })),
        ("POST", format!("jobs/{job}/closure"), json!({ "outcome": "declined" })),
        ("POST", format!("orders/{order}/closure"), json!({})),
    ] {
        let call = || adviser.call(method, &path).json(&body).new_key();
        call().send().problem(428, "version-missing");
        let stale = call().if_match("\"99\"").send().problem(412, "stale");
        assert_eq!(stale["current_version"], 1, "{path}");
        call().if_match("\"elsewhere\"").send().problem(412, "stale");
    }
    assert_eq!(adviser.get(&format!("orders/{order}")).version(), 1);
}

fn forms_of_answer(shops: &Shops) {
    let manager = shops.person("manager.north");
    let report =
        |accept: &str| manager.call("GET", "reports/labor").header("accept", accept).send();
    for (accept, media_type) in [
        ("application/json", "application/json"),
        ("text/csv", "text/csv; charset=utf-8; header=present"),
        ("text/plain;q=0.5", "text/plain; charset=utf-8"),
        ("image/png, */*", "application/json"),
    ] {
        assert_eq!(report(accept).expect(200).header("content-type"), media_type, "{accept}");
    }
    report("image/png").problem(406, "not-acceptable");
    let chosen =
        manager.call("GET", "reports/labor?format=csv").header("accept", "image/png").send();
    assert!(chosen.expect(200).header("content-type").starts_with("text/csv"));
    let kinds = shops.stranger().get("/problems/stale").expect(200);
    assert!(kinds.body.contains("Somebody else changed it"));
    shops.stranger().get("/problems/none-such").expect(404);
}

fn every_answer_carries_its_headers(shops: &Shops) {
    let manager = shops.person("manager.north");
    let mut ids = Vec::new();
    for path in ["/api/v1/me", "/api/v1/nothing", "/livez", "/sign-in", "orders/x"] {
        let answer = manager.get(path);
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        let kept = if path == "/api/v1/me" { "private, no-cache" } else { "no-store" };
        assert_eq!(answer.header("cache-control"), kept, "{path}");
        assert!(answer.header("content-security-policy").contains("default-src 'none'"), "{path}");
        assert_eq!(answer.header("cross-origin-opener-policy"), "same-origin", "{path}");
        assert_eq!(answer.header("cross-origin-resource-policy"), "same-origin", "{path}");
        assert!(answer.header("permissions-policy").contains("camera=()"), "{path}");
        ids.push(answer.header("x-request-id").to_owned());
    }
    let document = manager.get("/openapi.json").expect(200).json();
    assert!(text(&document["openapi"]).starts_with("3.1"));
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), 5);
}

fn amounts_and_texts_have_limits(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (_, job) = open(&manager, "PR 9", "engine.misfire");
    let huge = json!({ "code": "coil", "labor_amount_minor": i64::MAX });
    let answer = manager.post(&format!("jobs/{job}/operations"), &huge);
    assert_eq!(answer.pointers(), ["/labor_amount_minor"]);
    let far = json!({
        "vehicle": { "plate": "PR 10" }, "odometer_in": i64::MAX,
        "jobs": [{ "complaint": "ticks", "symptom": "engine.tick" }],
    });
    assert_eq!(manager.post("orders", &far).pointers(), ["/odometer_in"]);
    // PostgreSQL cannot keep a NUL; neither database is asked to.
    for nul in ["vehicles?q=%00", "orders?order_no=%00"] {
        manager.get(nul).problem(422, "invalid");
    }
    let signs = json!({ "sign_in_name": "a\u{0}", "password": "no such password" });
    shops.stranger().post("/api/v1/sessions", &signs).problem(422, "invalid");
    manager.post("vehicles", &json!(["1HG", null])).problem(422, "invalid");
    let long = json!({ "started_at": "1975-01-01T00:00:00Z", "ended_at": "1989-01-01T00:00:00Z" });
    assert_eq!(manager.post(&format!("jobs/{job}/labor"), &long).pointers(), ["/started_at"]);
    let shop = shops.person("technician.north").get("/api/v1/shops").expect(200).json();
    assert!(shop["items"][0]["labor_cost_minor"].is_null(), "{shop}");
    let running = manager.post(&format!("jobs/{job}/labor"), &json!({})).expect(201).json();
    let stop = format!("jobs/{job}/labor/{}/stop", text(&running["id"]));
    shops.person("technician.north").post(&stop, &json!({})).problem(403, "forbidden");
    manager.post(&stop, &json!({})).expect(200);
}
