//! The reference page: for everybody, without a script, every operation on it.

use std::collections::BTreeSet;

use crate::support::{Shops, on_each_database};

on_each_database!(the_reference_has_every_operation);

/// The values of an attribute, in their order.
fn values<'a>(html: &'a str, attribute: &str) -> Vec<&'a str> {
    html.split(&format!(" {attribute}=\""))
        .skip(1)
        .filter_map(|rest| rest.split_once('"').map(|(value, _)| value))
        .collect()
}

fn the_reference_has_every_operation(shops: &Shops) {
    let stranger = shops.stranger();
    let page = stranger.get("/docs").expect(200);
    assert_eq!(page.header("content-type"), "text/html; charset=utf-8");
    let html = page.body;
    let document = stranger.get("/openapi.json").expect(200).json();
    let ids = values(&html, "id");
    let mut operations = 0;
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let id = operation["operationId"].as_str().unwrap();
            assert!(ids.contains(&id), "{id}");
            assert!(html.contains(&format!("{} {path}", method.to_uppercase())), "{id}");
            operations += 1;
        }
    }
    assert!(operations > 40, "{operations}");
    assert_eq!(html.matches("<h4>Example</h4>").count(), operations);
    // Ids are there once, and every way within the page leads somewhere.
    let once: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(once.len(), ids.len());
    for place in values(&html, "href").iter().filter_map(|href| href.strip_prefix('#')) {
        assert!(once.contains(place), "#{place} leads nowhere");
    }
    for place in values(&html, "aria-labelledby") {
        assert!(once.contains(place), "{place} names nothing");
    }
    // The frame's script alone, from a file.
    assert_eq!(
        html.matches("<script").count(),
        html.matches("<script defer src=\"/assets/").count()
    );
    assert!(!html.contains("{{") && !html.contains("http://"));
    let api = stranger.get("/api/v1/me");
    let link = api.header("link");
    assert!(
        link.contains("</docs>; rel=\"service-doc\"") && link.contains("service-desc"),
        "{link}"
    );
}
