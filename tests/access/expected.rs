//! What each role may do, written down once more by hand: the program's own
//! table is not looked at, so that a change there has to be made here, too.

use super::routes::{self, Route};

/// Who may use a route in the own shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    Anybody,
    SignedIn,
    Roles(&'static [&'static str]),
}

const TECHNICIAN: &str = "technician";
const ADVISER: &str = "adviser";
const MANAGER: &str = "manager";
const OWNER: &str = "owner";
const ADMINISTRATOR: &str = "administrator";

/// Everybody who asks, beside somebody who has not signed in.
pub const ROLES: [&str; 5] = [TECHNICIAN, ADVISER, MANAGER, OWNER, ADMINISTRATOR];

/// Orders, jobs, vehicles, comebacks of the own shop: read.
const READERS: &[&str] = &[TECHNICIAN, ADVISER, MANAGER, OWNER];
/// Orders, jobs, checks, parts, labor of the own shop: written.
const WORKERS: &[&str] = &[TECHNICIAN, ADVISER, MANAGER];
/// Authorization, customers, and the link at write-up.
const FRONT: &[&str] = &[ADVISER, MANAGER];
/// Comebacks: decided.
const DECIDERS: &[&str] = &[MANAGER];
/// Reports: all of the shop, all of the group.
const SHOP_FIGURES: &[&str] = &[MANAGER, OWNER];
/// Reports: own figures.
const OWN_FIGURES: &[&str] = &[TECHNICIAN, MANAGER, OWNER];
/// Reports: paths and advice.
const ADVICE: &[&str] = &[TECHNICIAN, ADVISER, MANAGER, OWNER];
/// Code lists: seen by everybody, written by these.
const LIST_KEEPERS: &[&str] = &[MANAGER, OWNER, ADMINISTRATOR];
/// People of the shop.
const PEOPLE_READERS: &[&str] = &[MANAGER, OWNER, ADMINISTRATOR];
const PEOPLE_KEEPERS: &[&str] = &[MANAGER, ADMINISTRATOR];
/// Shops and their settings.
const SHOP_KEEPERS: &[&str] = &[ADMINISTRATOR];

const EXPECTED: &[(Who, &[&str])] = &[
    (
        Who::Anybody,
        &[
            "GET /livez",
            "GET /readyz",
            "GET /openapi.json",
            "GET /docs",
            "GET /problems/{kind}",
            "GET /assets/{file}",
            "POST /api/v1/sessions",
            "GET /sign-in",
            "POST /sign-in",
        ],
    ),
    (
        Who::SignedIn,
        &[
            "DELETE /api/v1/sessions/current",
            "GET /api/v1/me",
            "GET /api/v1/shops",
            "GET /api/v1/shops/{shop}",
            "GET /",
            "POST /sign-out",
        ],
    ),
    (Who::Roles(SHOP_KEEPERS), &["POST /api/v1/shops", "PATCH /api/v1/shops/{shop}"]),
    (Who::Roles(PEOPLE_READERS), &["GET /api/v1/shops/{shop}/people", "GET /shops/{shop}/people"]),
    (Who::Roles(PEOPLE_KEEPERS), &["POST /api/v1/shops/{shop}/people"]),
    (Who::Roles(&ROLES), &["GET /api/v1/shops/{shop}/codes"]),
    (Who::Roles(LIST_KEEPERS), &["POST /api/v1/shops/{shop}/codes"]),
    (
        Who::Roles(READERS),
        &[
            "GET /api/v1/shops/{shop}/vehicles",
            "GET /api/v1/shops/{shop}/vehicles/{vehicle}",
            "GET /api/v1/shops/{shop}/orders",
            "GET /api/v1/shops/{shop}/orders/{order}",
            "GET /api/v1/shops/{shop}/jobs/{job}",
            "GET /api/v1/shops/{shop}/comebacks",
            "GET /api/v1/shops/{shop}/comebacks/{comeback}",
            "GET /api/v1/shops/{shop}/reports/jobs",
            "GET /shops/{shop}/today",
            "GET /shops/{shop}/orders/{order}",
            "GET /shops/{shop}/jobs/{job}",
            "GET /shops/{shop}/comebacks",
            "GET /shops/{shop}/comebacks/{comeback}",
            "GET /shops/{shop}/closed-jobs",
        ],
    ),
    (
        Who::Roles(WORKERS),
        &[
            "POST /api/v1/shops/{shop}/vehicles",
            "POST /api/v1/shops/{shop}/orders",
            "POST /api/v1/shops/{shop}/orders/batch",
            "POST /api/v1/shops/{shop}/orders/{order}/jobs",
            "POST /api/v1/shops/{shop}/orders/{order}/closure",
            "PATCH /api/v1/shops/{shop}/jobs/{job}",
            "POST /api/v1/shops/{shop}/jobs/{job}/closure",
            "POST /api/v1/shops/{shop}/jobs/{job}/checks",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/checks/{id}",
            "POST /api/v1/shops/{shop}/jobs/{job}/parts",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/parts/{id}",
            "POST /api/v1/shops/{shop}/jobs/{job}/operations",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/operations/{id}",
            "POST /api/v1/shops/{shop}/jobs/{job}/labor",
            "POST /api/v1/shops/{shop}/jobs/{job}/labor/{id}/stop",
            "POST /api/v1/shops/{shop}/jobs/{job}/proofs",
            "GET /shops/{shop}/write-up",
            "POST /shops/{shop}/write-up",
            "POST /shops/{shop}/orders/{order}/jobs",
            "POST /shops/{shop}/orders/{order}/closure",
            "POST /shops/{shop}/jobs/{job}/plan",
            "POST /shops/{shop}/jobs/{job}/checks",
            "POST /shops/{shop}/jobs/{job}/checks/{id}/removal",
            "POST /shops/{shop}/jobs/{job}/parts",
            "POST /shops/{shop}/jobs/{job}/parts/{id}/removal",
            "POST /shops/{shop}/jobs/{job}/operations",
            "POST /shops/{shop}/jobs/{job}/operations/{id}/removal",
            "POST /shops/{shop}/jobs/{job}/labor",
            "POST /shops/{shop}/jobs/{job}/labor/{id}/stop",
            "POST /shops/{shop}/jobs/{job}/proofs",
            "POST /shops/{shop}/jobs/{job}/closure",
        ],
    ),
    (
        Who::Roles(FRONT),
        &[
            "PATCH /api/v1/shops/{shop}/orders/{order}",
            "POST /api/v1/shops/{shop}/comebacks",
            "POST /shops/{shop}/orders/{order}/front",
            "POST /shops/{shop}/comebacks/{comeback}/customer",
        ],
    ),
    (
        Who::Roles(DECIDERS),
        &[
            "POST /api/v1/shops/{shop}/comebacks/{comeback}/decision",
            "POST /shops/{shop}/comebacks/{comeback}/decision",
        ],
    ),
    (
        Who::Roles(SHOP_FIGURES),
        &[
            "GET /api/v1/shops/{shop}/reports/weekly",
            "GET /api/v1/shops/{shop}/reports/comebacks",
            "GET /shops/{shop}/week",
            "GET /shops/{shop}/comeback-shares",
        ],
    ),
    (
        Who::Roles(ADVICE),
        &[
            "GET /api/v1/shops/{shop}/reports/reuse",
            "GET /api/v1/shops/{shop}/reports/paths",
            "GET /shops/{shop}/reuse",
            "GET /shops/{shop}/paths",
        ],
    ),
    (
        Who::Roles(OWN_FIGURES),
        &["GET /api/v1/shops/{shop}/reports/labor", "GET /shops/{shop}/labor"],
    ),
];

/// Who may use the route; `None` where nobody has written it down.
pub fn who(route: &Route) -> Option<Who> {
    let said = format!("{} {}", route.method, route.path);
    let mut fitting = EXPECTED.iter().filter(|(_, routes)| routes.contains(&said.as_str()));
    fitting.next().map(|(who, _)| *who)
}

#[test]
fn every_route_is_written_down_once() {
    let routed: Vec<String> =
        routes::all().iter().map(|route| format!("{} {}", route.method, route.path)).collect();
    let written: Vec<&str> = EXPECTED.iter().flat_map(|(_, routes)| *routes).copied().collect();
    let times = |route: &&String| written.iter().filter(|other| other == route).count();
    let missing: Vec<&String> = routed.iter().filter(|route| times(route) != 1).collect();
    assert!(missing.is_empty(), "not written down once: {missing:?}");
    assert_eq!(routed.len(), written.len(), "something is written down that is no route");
}
