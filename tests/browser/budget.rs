//! How much comes over the wire, and how soon: printed page by page.

use crate::browser::Browser;
use crate::stage::Things;
use crate::stage::{Stage, in_a_browser};
use crate::support::Place;
use crate::walk;
use serde_json::json;

in_a_browser!(a_first_visit_is_small);

/// Of the page with all that it needs, nothing kept from before.
const MOST_BYTES: u64 = 100_000;

/// Bytes of the page, of what it needs besides, and milliseconds to its first.
const WIRE: &str = "const page = performance.getEntriesByType('navigation')[0];
    const rest = performance.getEntriesByType('resource');
    return [page.transferSize, rest.reduce((sum, it) => sum + it.transferSize, 0),
        Math.round(page.responseStart - page.requestStart)]";

struct Visit {
    address: String,
    page: u64,
    assets: u64,
    milliseconds: u64,
}

fn visit(browser: &Browser, address: &str) -> Visit {
    browser.command("Network.clearBrowserCache", json!({}));
    browser.go(address);
    let found = browser.run(WIRE);
    let number = |at: usize| found[at].as_u64().unwrap();
    let address = address.to_owned();
    Visit { address, page: number(0), assets: number(1), milliseconds: number(2) }
}

fn a_first_visit_is_small(stage: &Stage) {
    let things = Things::make(stage);
    let browser = stage.browser_of("manager", true);
    // What the worker keeps would not come over the wire.
    browser.command("Network.enable", json!({}));
    browser.command("Network.setBypassServiceWorker", json!({ "bypass": true }));
    let pages = walk::pages(&things);
    let seen = pages.iter().filter(|page| page.roles.contains(&"manager"));
    let mut visits: Vec<Visit> =
        seen.flat_map(|page| &page.addresses).map(|address| visit(&browser, address)).collect();
    visits.sort_by_key(|visit| visit.page);
    let database = match stage.place {
        Place::Sqlite(_) => "SQLite",
        Place::Postgres(_) => "PostgreSQL",
    };
    println!("{database}: bytes of the page, of its assets, milliseconds to the first byte");
    for visit in &visits {
        println!(
            "{:>7} {:>7} {:>5}  {}",
            visit.page, visit.assets, visit.milliseconds, visit.address
        );
    }
    let large = visits.iter().filter(|visit| visit.page + visit.assets > MOST_BYTES);
    let large: Vec<&str> = large.map(|visit| visit.address.as_str()).collect();
    assert!(large.is_empty(), "over {MOST_BYTES} bytes: {large:?}");
}
