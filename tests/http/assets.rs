//! Files of the pages, and how answers are packed for the way.

use std::io::{Read, Write};
use std::net::TcpStream;

use serde_json::json;

use crate::support::shops::PASSWORD;
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_file_s_address_changes_with_its_bytes,
    answers_are_packed_where_that_is_taken,
    a_packed_answer_has_a_tag_of_its_own,
    the_worker_keeps_nothing_of_programs,
    a_page_tells_its_browser_what_it_needs,
);

/// Addresses of files in a page.
fn files(page: &Answer) -> Vec<String> {
    let quoted = page.body.split('"').filter(|text| text.starts_with("/assets/"));
    quoted.map(str::to_owned).collect()
}

fn a_file_s_address_changes_with_its_bytes(shops: &Shops) {
    let stranger = shops.stranger();
    let files = files(&stranger.get("/sign-in").expect(200));
    assert!(files.len() >= 5, "{files:?}");
    for file in &files {
        let kept = stranger.get(file).expect(200);
        assert_eq!(kept.header("cache-control"), "public, max-age=31536000, immutable", "{file}");
        // A page of an earlier version finds what there is, and does not keep it.
        let sum = file.split('.').nth(1).unwrap();
        let earlier = stranger.get(&file.replace(sum, "000000000000")).expect(200);
        assert_eq!(earlier.header("cache-control"), "public, max-age=300", "{file}");
        assert_eq!(earlier.body, kept.body);
    }
    stranger.get("/assets/none.css").expect(404);
}

/// The answer's head and the bytes of its body, asked for packed.
fn packed(shops: &Shops, method: &str, address: &str, more: &str) -> (String, Vec<u8>) {
    let host = shops.base().trim_start_matches("http://");
    let mut wire = TcpStream::connect(host).unwrap();
    let asked = format!(
        "{method} {address} HTTP/1.1\r\nhost: {host}\r\naccept-encoding: gzip, br\r\n\
         connection: close\r\n{more}\r\n"
    );
    wire.write_all(asked.as_bytes()).unwrap();
    let mut answer = Vec::new();
    wire.read_to_end(&mut answer).unwrap();
    let end = answer.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
    let body = answer.split_off(end + 4);
    (String::from_utf8(answer).unwrap().to_lowercase(), body)
}

fn answers_are_packed_where_that_is_taken(shops: &Shops) {
    let stranger = shops.stranger();
    let page = stranger.get("/sign-in").expect(200);
    let script = files(&page).into_iter().find(|file| file.contains("/htmx.")).unwrap();
    for address in ["/sign-in", "/openapi.json", "/docs", "/problems/stale", script.as_str()] {
        let whole = stranger.get(address).expect(200);
        assert_eq!(whole.headers.get("content-encoding"), None, "{address}");
        let (head, body) = packed(shops, "GET", address, "");
        assert!(head.contains("content-encoding: gzip"), "{address}: {head}");
        assert!(head.contains("vary: accept-encoding"), "{address}: {head}");
        assert!(body.len() < whole.body.len(), "{address}: {} bytes", body.len());
        let (head, body) = packed(shops, "HEAD", address, "");
        assert!(head.contains("content-encoding: gzip") && body.is_empty(), "{address}: {head}");
    }
}

fn token(shops: &Shops, sign_in: &str) -> String {
    let body = json!({ "sign_in_name": sign_in, "password": PASSWORD });
    let session = shops.stranger().call("POST", "/api/v1/sessions").json(&body).send();
    session.expect(200).json()["token"].as_str().unwrap().to_owned()
}

fn a_packed_answer_has_a_tag_of_its_own(shops: &Shops) {
    let manager = shops.person("manager.north");
    let address = format!("/api/v1/shops/{}", shops.id("north"));
    let plain = manager.get(&address).tag();
    let more = format!("authorization: Bearer {}\r\n", token(shops, "manager.north"));
    let (head, _) = packed(shops, "GET", &address, &more);
    let tag = plain.replace(['"'], "") + "-gzip";
    assert!(head.contains(&format!("etag: \"{tag}\"")), "{head}");
    // It names the same state: what is unchanged is not sent again, under the
    // tag that is held, and a change can be made on it.
    let held = format!("{more}if-none-match: \"{tag}\"\r\n");
    let (head, body) = packed(shops, "GET", &address, &held);
    assert!(head.starts_with("http/1.1 304") && body.is_empty(), "{head}");
    assert!(head.contains(&format!("etag: \"{tag}\"")), "{head}");
    let change = json!({ "name": "Shop by the river" });
    let quoted = format!("\"{tag}\"");
    let administrator = shops.person("administrator.riverside");
    administrator.call("PATCH", &address).json(&change).if_match(&quoted).send().expect(200);
    administrator
        .call("PATCH", &address)
        .json(&change)
        .if_match(&quoted)
        .send()
        .problem(412, "stale");
}

fn the_worker_keeps_nothing_of_programs(shops: &Shops) {
    let stranger = shops.stranger();
    let worker = stranger.get("/sw.js").expect(200);
    assert_eq!(worker.header("cache-control"), "no-cache");
    assert!(worker.header("content-type").starts_with("text/javascript"));
    assert!(!worker.body.contains("/api"));
    // It takes exactly the files that pages name.
    for file in files(&stranger.get("/sign-in").expect(200)) {
        assert!(worker.body.contains(&format!("\"{file}\"")), "{file}");
    }
    assert!(stranger.get("/offline").expect(200).body.contains("cannot be reached"));
}

/// Whose page it is and the token of its forms stand where the script looks.
fn a_page_tells_its_browser_what_it_needs(shops: &Shops) {
    let technician = shops.visitor("technician.north", "north");
    let today = technician.get("today").expect(200);
    let own = shops.person("technician.north").get("/api/v1/me").expect(200).json();
    let person = own["id"].as_str().unwrap();
    assert!(today.body.contains(&format!("data-person=\"{person}\"")), "{person}");
    assert!(today.body.contains("data-now=\"") && today.body.contains("name=\"form_token\""));
    let policy = today.header("content-security-policy");
    for part in ["script-src 'self'", "style-src 'self'", "worker-src 'self'"] {
        assert!(policy.contains(part) && !policy.contains("unsafe"), "{policy}");
    }
    // Nothing stands in the page that the policy would refuse.
    for inline in ["<script>", "style=\"", " onclick=", "hx-on", "javascript:"] {
        assert!(!today.body.contains(inline), "{inline}");
    }
    forms_come_from_here(shops, &technician);
}

/// A form that says it comes from elsewhere is refused, whatever it holds.
fn forms_come_from_here(shops: &Shops, technician: &Client) {
    let page = technician.get("today").expect(200);
    let (_, rest) = page.body.split_once("name=\"form_token\" value=\"").unwrap();
    let (token, _) = rest.split_once('"').unwrap();
    let send = |origin: &str| {
        let fields = [("form_token", token)];
        let call = technician.call("POST", "/sign-out").form(&fields);
        call.header("origin", origin).send()
    };
    send("https://elsewhere.test").expect(403);
    send(shops.base()).expect(303);
}
