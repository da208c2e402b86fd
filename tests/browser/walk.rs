//! Every page of the route table, by every role that may see it.

use std::collections::BTreeMap;

use crate::browser::Browser;
use crate::expected::{ROLES, Who, who};
use crate::look;
use crate::routes::{self, Route};
use crate::stage::{PASSWORD, SHOP, Stage, Things, in_a_browser, name_of};
use crate::support::Place;

in_a_browser!(every_page_by_every_role);

/// What is answered by something else than a page.
const NO_PAGES: [&str; 5] = ["/livez", "/readyz", "/openapi.json", "/assets/{file}", "/sw.js"];

/// Pages as they are opened in other ways than from the menu.
const MORE: &[(&str, &[&str])] = &[
    ("/shops/{shop}/closed-jobs", &["?outcome=repaired"]),
    ("/shops/{shop}/labor", &["?by=operation", "?by=week"]),
    ("/shops/{shop}/codes", &["?list=cause"]),
    (
        "/shops/{shop}/rules/new",
        &["?kind=replace_suspect&part=IAV-7", "?kind=reading_limit", "?kind=free_text"],
    ),
    ("/shops/{shop}/bench", &["?part=IAV-100&role=suspect"]),
    ("/shops/{shop}/parts-times", &["?part=IAV-100"]),
];

/// A page of the table, and where to find it.
pub struct Page {
    pub route: Route,
    /// Roles of who may see it; of public pages nobody's.
    pub roles: Vec<&'static str>,
    pub addresses: Vec<String>,
}

/// Every address that a line of the table stands for, as the record fills it.
fn addresses(route: &Route, things: &Things) -> Vec<String> {
    let path = route.path.replace("{shop}", SHOP);
    let fill = |name: &str, values: &[String]| -> Vec<String> {
        values.iter().map(|value| path.replace(name, value)).collect()
    };
    let kinds = [
        ("{order}", &things.orders[..]),
        ("{plan}", std::slice::from_ref(&things.plan)),
        ("{symptom}", &["engine.tick".to_owned()]),
        ("{job}", &things.jobs[..]),
        ("{rule}", std::slice::from_ref(&things.rule)),
        ("{vehicle}", std::slice::from_ref(&things.vehicle)),
        ("{sheet}", std::slice::from_ref(&things.sheet)),
        ("{list}", &things.reading_lists[..]),
        ("{comeback}", &things.comebacks[..]),
        ("{person}", std::slice::from_ref(&things.person)),
        ("{kind}", &["stale".to_owned()]),
    ];
    let named = kinds.iter().find(|(name, _)| path.contains(name));
    let mut found = named.map_or_else(|| vec![path.clone()], |(name, them)| fill(name, them));
    assert!(found.iter().all(|address| !address.contains('{')), "what is {path} filled with?");
    let more =
        MORE.iter().find(|(other, _)| *other == route.path).map_or(&[][..], |(_, more)| more);
    found.extend(more.iter().map(|query| format!("{path}{query}")));
    found
}

/// Every page.
pub fn pages(things: &Things) -> Vec<Page> {
    let shown = |route: &Route| {
        route.method == "GET" && !route.is_api() && !NO_PAGES.contains(&route.path.as_str())
    };
    let page = |route: Route| Page {
        roles: match who(&route).expect("written down") {
            Who::Anybody => Vec::new(),
            Who::SignedIn => ROLES.to_vec(),
            Who::Roles(roles) => roles.to_vec(),
        },
        addresses: addresses(&route, things),
        route,
    };
    routes::all().into_iter().filter(shown).map(page).collect()
}

/// What is wrong, with where and to whom it was seen.
#[derive(Default)]
pub struct Found(BTreeMap<String, Vec<String>>);

impl Found {
    fn note(&mut self, route: &str, who: &str, wrong: Vec<(String, String)>) {
        for (how, line) in wrong {
            self.0.entry(format!("{route}: {line}")).or_default().push(format!("{who}{how}"));
        }
    }

    fn must_be_empty(&self) {
        let line = |(wrong, seen): (&String, &Vec<String>)| {
            format!("{wrong}\n    seen by {}\n", seen.join(", "))
        };
        let lines: String = self.0.iter().map(line).collect();
        assert!(self.0.is_empty(), "{} things are wrong:\n{lines}", self.0.len());
    }
}

/// One page, looked at by somebody: how it was looked at, and what is wrong.
/// The rules are applied at those widths, by day and by night.
fn visit(browser: &Browser, address: &str, ways: &[(u32, bool)]) -> Vec<(String, String)> {
    let seen = |how: &str, lines: Vec<String>| -> Vec<(String, String)> {
        lines.into_iter().map(|line| (how.to_owned(), line)).collect()
    };
    browser.size(390, 844);
    browser.dark(false);
    browser.go(address);
    let mut wrong = seen("", look::arrival(browser));
    look::unfold(browser);
    wrong.extend(seen(" on a phone", look::on_a_phone(browser)));
    for (width, dark) in ways {
        let how = format!(" at {width} by {}", if *dark { "night" } else { "day" });
        wrong.extend(seen(&how, look::by_rules(browser, *width, *dark)));
    }
    wrong.extend(seen(" while looking", browser.complaints()));
    wrong
}

const EVERY_WAY: [(u32, bool); 4] = [(390, false), (390, true), (1280, false), (1280, true)];

impl Page {
    /// The manager sees most of what a page can have, with every form; where no
    /// manager comes, who is last in the list; nobody of public pages.
    pub fn who_sees_most(&self) -> Option<&'static str> {
        let manager = self.roles.iter().find(|role| **role == "manager");
        manager.or(self.roles.last()).copied()
    }

    /// Which ways somebody is to look. The technician's phone has pages of its
    /// own; the others see less of the same.
    fn ways(&self, role: &str) -> &'static [(u32, bool)] {
        match role {
            _ if self.who_sees_most() == Some(role) => &EVERY_WAY,
            "technician" => &EVERY_WAY[..1],
            _ => &[],
        }
    }
}

fn every_page_by_every_role(stage: &Stage) {
    let things = Things::make(stage);
    let (browser, pages) = (stage.browser(), pages(&things));
    // The rules look at what is shown, which no database changes.
    let ruled = matches!(stage.place, Place::Sqlite(_));
    let mut found = Found::default();
    for page in pages.iter().filter(|page| page.roles.is_empty()) {
        for address in &page.addresses {
            found.note(
                &page.route.path,
                "anybody",
                visit(&browser, address, if ruled { &EVERY_WAY } else { &[] }),
            );
        }
    }
    for role in ROLES {
        browser.sign_in(name_of(role), PASSWORD);
        for page in pages.iter().filter(|page| page.roles.contains(&role)) {
            let ways = if ruled { page.ways(role) } else { &[] };
            let most = page.who_sees_most() == Some(role);
            let asked = |address: &&String| most || !address.contains('?');
            for address in page.addresses.iter().filter(asked) {
                found.note(&page.route.path, role, visit(&browser, address, ways));
            }
        }
    }
    found.must_be_empty();
}
