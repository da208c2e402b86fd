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
/// Comebacks decided, what has ended corrected, attendance written.
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
/// Every token of the group.
const TOKEN_KEEPERS: &[&str] = &[ADMINISTRATOR];
/// The group's shops at a glance, the database and its copies.
const HOUSE_READERS: &[&str] = &[OWNER, ADMINISTRATOR];
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
            "GET /sw.js",
            "GET /offline",
            "POST /api/v1/sessions",
            "GET /sign-in",
            "POST /sign-in",
            "GET /first-account",
            "POST /first-account",
            "GET /tablet",
            "POST /tablet",
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
            "PUT /api/v1/me/password",
            "PUT /api/v1/me/pin",
            "GET /api/v1/me/sessions",
            "DELETE /api/v1/me/sessions",
            "DELETE /api/v1/me/sessions/{session}",
            "GET /api/v1/me/tokens",
            "POST /api/v1/me/tokens",
            "DELETE /api/v1/me/tokens/{token}",
            "GET /me",
            "POST /me/password",
            "POST /me/pin",
            "POST /me/tokens",
            "POST /me/tokens/{token}/removal",
            "POST /me/sessions/others",
            "POST /me/sessions/{session}/removal",
        ],
    ),
    (
        Who::Roles(TOKEN_KEEPERS),
        &[
            "GET /api/v1/tokens",
            "DELETE /api/v1/tokens/{token}",
            "GET /house/access",
            "POST /house/tokens/{token}/removal",
            "POST /house/sessions/{session}/removal",
        ],
    ),
    (Who::Roles(HOUSE_READERS), &["GET /house"]),
    (
        Who::Roles(PEOPLE_READERS),
        &[
            "GET /api/v1/shops/{shop}/people/{person}",
            "GET /api/v1/shops/{shop}/tablets",
            "GET /shops/{shop}/people/{person}",
            "GET /shops/{shop}/tablets",
        ],
    ),
    (
        Who::Roles(PEOPLE_KEEPERS),
        &[
            "PATCH /api/v1/shops/{shop}/people/{person}",
            "POST /api/v1/shops/{shop}/people/{person}/roles",
            "DELETE /api/v1/shops/{shop}/people/{person}/roles/{role}",
            "GET /api/v1/shops/{shop}/people/{person}/sessions",
            "DELETE /api/v1/shops/{shop}/people/{person}/sessions/{session}",
            "POST /api/v1/shops/{shop}/tablets",
            "DELETE /api/v1/shops/{shop}/tablets/{tablet}",
            "POST /shops/{shop}/people",
            "POST /shops/{shop}/people/{person}",
            "POST /shops/{shop}/people/{person}/password",
            "POST /shops/{shop}/people/{person}/pin",
            "POST /shops/{shop}/people/{person}/active",
            "POST /shops/{shop}/people/{person}/roles",
            "POST /shops/{shop}/people/{person}/roles/{role}/removal",
            "POST /shops/{shop}/people/{person}/sessions/removal",
            "POST /shops/{shop}/tablets",
            "POST /shops/{shop}/tablets/{tablet}/removal",
        ],
    ),
    (
        Who::Roles(SHOP_KEEPERS),
        &["POST /api/v1/shops", "PATCH /api/v1/shops/{shop}", "POST /house/shops"],
    ),
    (Who::Roles(SHOP_KEEPERS), &["GET /shops/{shop}/settings", "POST /shops/{shop}/settings"]),
    (Who::Roles(PEOPLE_READERS), &["GET /api/v1/shops/{shop}/people", "GET /shops/{shop}/people"]),
    (Who::Roles(PEOPLE_KEEPERS), &["POST /api/v1/shops/{shop}/people"]),
    (Who::Roles(&ROLES), &["GET /api/v1/shops/{shop}/codes"]),
    (Who::Roles(LIST_KEEPERS), &["POST /api/v1/shops/{shop}/codes"]),
    (
        Who::Roles(&ROLES),
        &[
            "GET /api/v1/shops/{shop}/code-lists",
            "GET /api/v1/shops/{shop}/codes/{list}/{code}",
            "GET /shops/{shop}/codes",
        ],
    ),
    (
        Who::Roles(LIST_KEEPERS),
        &[
            "PATCH /api/v1/shops/{shop}/codes/{list}/{code}",
            "POST /api/v1/shops/{shop}/codes/{list}/{code}/merge",
            "POST /shops/{shop}/codes",
            "POST /shops/{shop}/codes/change",
            "POST /shops/{shop}/codes/retirement",
            "POST /shops/{shop}/codes/merge",
        ],
    ),
    (
        Who::Roles(READERS),
        &[
            "GET /api/v1/shops/{shop}/plans",
            "GET /api/v1/shops/{shop}/starting-plans",
            "GET /api/v1/shops/{shop}/plans/{plan}",
            "GET /api/v1/shops/{shop}/jobs/{job}/plan",
            "GET /shops/{shop}/plans",
            "GET /shops/{shop}/plans/starting/{symptom}",
            "GET /shops/{shop}/plans/{plan}",
        ],
    ),
    (
        Who::Roles(SHOP_FIGURES),
        &[
            "POST /api/v1/shops/{shop}/plans",
            "POST /api/v1/shops/{shop}/plans/{plan}/versions",
            "POST /api/v1/shops/{shop}/plans/{plan}/proposals",
            "POST /api/v1/shops/{shop}/plans/{plan}/versions/{version}/decision",
            "POST /api/v1/shops/{shop}/plans/{plan}/withdrawal",
            "POST /shops/{shop}/plans",
            "GET /shops/{shop}/plans/new",
            "POST /shops/{shop}/plans/{plan}/versions",
            "POST /shops/{shop}/plans/{plan}/proposals",
            "POST /shops/{shop}/plans/{plan}/decision",
            "POST /shops/{shop}/plans/{plan}/withdrawal",
        ],
    ),
    (Who::Roles(READERS), &["GET /api/v1/shops/{shop}/changes"]),
    (Who::Roles(SHOP_FIGURES), &["GET /api/v1/shops/{shop}/audit", "GET /shops/{shop}/history"]),
    (
        Who::Roles(READERS),
        &[
            "GET /api/v1/shops/{shop}/rules",
            "GET /api/v1/shops/{shop}/rules/{rule}",
            "GET /api/v1/shops/{shop}/jobs/{job}/rules",
            "GET /shops/{shop}/rules",
            "GET /shops/{shop}/rules/{rule}",
        ],
    ),
    (
        Who::Roles(SHOP_FIGURES),
        &[
            "POST /api/v1/shops/{shop}/rules",
            "PATCH /api/v1/shops/{shop}/rules/{rule}",
            "POST /api/v1/shops/{shop}/rules/{rule}/review",
            "POST /api/v1/shops/{shop}/rules/{rule}/withdrawal",
            "POST /shops/{shop}/rules",
            "GET /shops/{shop}/rules/new",
            "POST /shops/{shop}/rules/{rule}/change",
            "POST /shops/{shop}/rules/{rule}/review",
            "POST /shops/{shop}/rules/{rule}/withdrawal",
        ],
    ),
    (
        Who::Roles(WORKERS),
        &[
            "PUT /api/v1/shops/{shop}/jobs/{job}/rules/{rule}",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/rules/{rule}",
            "POST /shops/{shop}/jobs/{job}/rules/{rule}",
            "POST /shops/{shop}/jobs/{job}/rules/{rule}/removal",
        ],
    ),
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
            "GET /shops/{shop}/find",
            "GET /shops/{shop}/orders/{order}",
            "GET /shops/{shop}/orders/{order}/paper",
            "GET /shops/{shop}/jobs/{job}",
            "GET /shops/{shop}/comebacks",
            "GET /shops/{shop}/comebacks/{comeback}",
            "GET /shops/{shop}/closed-jobs",
            "GET /shops/{shop}/vehicles/{vehicle}",
            "GET /shops/{shop}/jobs/{job}/after",
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
            "POST /shops/{shop}/jobs/{job}/proofs/{id}/removal",
            "POST /shops/{shop}/jobs/{job}/checks/{id}/return",
            "POST /shops/{shop}/jobs/{job}/parts/{id}/return",
            "POST /shops/{shop}/jobs/{job}/operations/{id}/return",
            "POST /shops/{shop}/jobs/{job}/cause",
            "POST /shops/{shop}/jobs/{job}/closure",
            "PATCH /api/v1/shops/{shop}/vehicles/{vehicle}",
            "POST /api/v1/shops/{shop}/vehicles/{vehicle}/odometer-resets",
            "POST /shops/{shop}/vehicles/{vehicle}/change",
            "POST /shops/{shop}/vehicles/{vehicle}/odometer-resets",
            "POST /api/v1/shops/{shop}/jobs/{job}/reopening",
            "POST /api/v1/shops/{shop}/jobs/{job}/people",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/people/{person}",
            "POST /api/v1/shops/{shop}/jobs/{job}/waits",
            "POST /api/v1/shops/{shop}/jobs/{job}/waits/{id}/end",
            "POST /api/v1/shops/{shop}/jobs/{job}/sublets",
            "PATCH /api/v1/shops/{shop}/jobs/{job}/sublets/{id}",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/sublets/{id}",
            "PATCH /api/v1/shops/{shop}/jobs/{job}/checks/{id}",
            "PATCH /api/v1/shops/{shop}/jobs/{job}/parts/{id}",
            "PATCH /api/v1/shops/{shop}/jobs/{job}/operations/{id}",
            "PATCH /api/v1/shops/{shop}/jobs/{job}/labor/{id}",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/labor/{id}",
            "POST /shops/{shop}/jobs/{job}/reopening",
            "POST /shops/{shop}/jobs/{job}/people",
            "POST /shops/{shop}/jobs/{job}/people/{person}/removal",
            "POST /shops/{shop}/jobs/{job}/waits",
            "POST /shops/{shop}/jobs/{job}/waits/{id}/end",
            "POST /shops/{shop}/jobs/{job}/sublets",
            "POST /shops/{shop}/jobs/{job}/sublets/{id}",
            "POST /shops/{shop}/jobs/{job}/sublets/{id}/removal",
            "POST /shops/{shop}/jobs/{job}/labor/{id}/times",
            "POST /shops/{shop}/jobs/{job}/labor/{id}/removal",
            "POST /shops/{shop}/jobs/{job}/checks/{id}/change",
            "POST /shops/{shop}/jobs/{job}/parts/{id}/change",
            "POST /shops/{shop}/jobs/{job}/operations/{id}/change",
        ],
    ),
    (
        Who::Roles(READERS),
        &[
            "GET /api/v1/shops/{shop}/reading-lists",
            "GET /api/v1/shops/{shop}/reading-lists/{list}",
            "GET /api/v1/shops/{shop}/reading-sheets",
            "GET /api/v1/shops/{shop}/reading-sheets/{sheet}",
            "GET /api/v1/shops/{shop}/stock",
            "GET /shops/{shop}/preparation",
            "GET /shops/{shop}/preparation/sheets/{sheet}",
            "GET /shops/{shop}/preparation/lists/{list}",
        ],
    ),
    (
        Who::Roles(WORKERS),
        &[
            "POST /api/v1/shops/{shop}/reading-sheets",
            "POST /api/v1/shops/{shop}/reading-sheets/{sheet}/readings",
            "POST /api/v1/shops/{shop}/reading-sheets/{sheet}/pass",
            "POST /api/v1/shops/{shop}/stock",
            "POST /api/v1/shops/{shop}/stock/{stock}/departure",
            "POST /shops/{shop}/preparation/sheets",
            "POST /shops/{shop}/preparation/sheets/{sheet}/readings",
            "POST /shops/{shop}/preparation/sheets/{sheet}/pass",
            "POST /shops/{shop}/preparation/stock",
            "POST /shops/{shop}/preparation/stock/{stock}/departure",
        ],
    ),
    (
        Who::Roles(SHOP_FIGURES),
        &[
            "POST /api/v1/shops/{shop}/reading-lists",
            "POST /api/v1/shops/{shop}/reading-lists/{list}/versions",
            "POST /api/v1/shops/{shop}/reading-lists/{list}/withdrawal",
            "POST /shops/{shop}/preparation/lists",
            "POST /shops/{shop}/preparation/lists/{list}/lines",
            "POST /shops/{shop}/preparation/lists/{list}/withdrawal",
        ],
    ),
    (
        Who::Roles(ADVICE),
        &["GET /api/v1/shops/{shop}/reports/hand-over", "GET /shops/{shop}/hand-over-readings"],
    ),
    (
        Who::Roles(DECIDERS),
        &[
            "POST /shops/{shop}/jobs/{job}/correction",
            "PUT /api/v1/shops/{shop}/attendance/{person}/{day}",
            "DELETE /api/v1/shops/{shop}/attendance/{person}/{day}",
            "POST /shops/{shop}/attendance",
        ],
    ),
    (Who::Roles(SHOP_FIGURES), &["GET /shops/{shop}/attendance"]),
    (Who::Roles(OWN_FIGURES), &["GET /api/v1/shops/{shop}/attendance"]),
    (
        Who::Roles(FRONT),
        &[
            "PATCH /api/v1/shops/{shop}/orders/{order}",
            "POST /api/v1/shops/{shop}/comebacks",
            "POST /shops/{shop}/orders/{order}/front",
            "POST /shops/{shop}/comebacks/{comeback}/customer",
            "POST /api/v1/shops/{shop}/orders/{order}/authorizations",
            "POST /api/v1/shops/{shop}/orders/{order}/void",
            "POST /api/v1/shops/{shop}/jobs/{job}/outside-return",
            "POST /shops/{shop}/orders/{order}/authorizations",
            "POST /shops/{shop}/orders/{order}/void",
            "POST /shops/{shop}/jobs/{job}/outside-return",
        ],
    ),
    (
        Who::Roles(DECIDERS),
        &[
            "POST /api/v1/shops/{shop}/comebacks/{comeback}/decision",
            "POST /shops/{shop}/comebacks/{comeback}/decision",
            "POST /shops/{shop}/week",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/outside-return",
            "POST /api/v1/shops/{shop}/jobs/{job}/pay-backs",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/pay-backs/{id}",
            "POST /shops/{shop}/jobs/{job}/outside-return/removal",
            "POST /shops/{shop}/jobs/{job}/pay-backs",
            "POST /shops/{shop}/jobs/{job}/pay-backs/{id}/removal",
        ],
    ),
    // Calls, enquiries, corrective actions.
    (
        Who::Roles(READERS),
        &[
            "GET /api/v1/shops/{shop}/follow-ups",
            "GET /api/v1/shops/{shop}/comebacks/{comeback}/enquiry",
            "GET /api/v1/shops/{shop}/enquiries/trend",
            "GET /api/v1/shops/{shop}/actions",
            "GET /api/v1/shops/{shop}/actions/{action}",
            "GET /shops/{shop}/comebacks/{comeback}/enquiry",
            "GET /shops/{shop}/actions",
        ],
    ),
    (
        Who::Roles(WORKERS),
        &[
            "PUT /api/v1/shops/{shop}/comebacks/{comeback}/enquiry/statement",
            "POST /shops/{shop}/comebacks/{comeback}/enquiry/statement",
        ],
    ),
    (
        Who::Roles(FRONT),
        &[
            "GET /api/v1/shops/{shop}/follow-ups/due",
            "GET /api/v1/shops/{shop}/follow-ups/summary",
            "POST /api/v1/shops/{shop}/jobs/{job}/follow-ups",
            "DELETE /api/v1/shops/{shop}/jobs/{job}/follow-ups/{id}",
            "GET /shops/{shop}/calls",
            "POST /shops/{shop}/jobs/{job}/calls",
            "POST /shops/{shop}/jobs/{job}/calls/{id}/removal",
        ],
    ),
    (
        Who::Roles(DECIDERS),
        &[
            "POST /api/v1/shops/{shop}/comebacks/{comeback}/enquiry",
            "PATCH /api/v1/shops/{shop}/comebacks/{comeback}/enquiry",
            "POST /api/v1/shops/{shop}/comebacks/{comeback}/enquiry/closure",
            "POST /api/v1/shops/{shop}/comebacks/{comeback}/enquiry/reopening",
            "POST /shops/{shop}/comebacks/{comeback}/enquiry",
            "POST /shops/{shop}/comebacks/{comeback}/enquiry/closure",
        ],
    ),
    (
        Who::Roles(&[MANAGER, OWNER]),
        &[
            "POST /api/v1/shops/{shop}/actions",
            "PATCH /api/v1/shops/{shop}/actions/{action}",
            "POST /api/v1/shops/{shop}/actions/{action}/ending",
            "POST /api/v1/shops/{shop}/actions/{action}/reopening",
            "POST /api/v1/shops/{shop}/actions/{action}/verification",
            "POST /shops/{shop}/comebacks/{comeback}/enquiry/actions",
            "POST /shops/{shop}/actions",
            "POST /shops/{shop}/actions/{action}/ending",
            "POST /shops/{shop}/actions/{action}/verification",
        ],
    ),
    (
        Who::Roles(SHOP_FIGURES),
        &[
            "GET /api/v1/shops/{shop}/reports/weekly",
            "GET /api/v1/shops/{shop}/reports/comebacks",
            "GET /api/v1/shops/{shop}/reports/repeats",
            "GET /api/v1/shops/{shop}/reports/pattern",
            "GET /api/v1/shops/{shop}/reports/effect",
            "GET /group/labor",
            "GET /shops/{shop}/week",
            "GET /shops/{shop}/comeback-shares",
            "GET /shops/{shop}/repeats",
            "GET /shops/{shop}/time-pattern",
        ],
    ),
    (
        Who::Roles(SHOP_FIGURES),
        &[
            "GET /api/v1/shops/{shop}/reports/warnings",
            "GET /api/v1/shops/{shop}/warning-silences",
            "POST /api/v1/shops/{shop}/warning-silences",
            "POST /api/v1/shops/{shop}/warning-silences/{silence}/end",
            "PUT /api/v1/shops/{shop}/part-policies/{part}",
            "DELETE /api/v1/shops/{shop}/part-policies/{part}",
            "GET /shops/{shop}/warnings",
            "POST /shops/{shop}/warnings",
            "POST /shops/{shop}/warnings/{silence}/end",
            "POST /shops/{shop}/parts-times",
            "POST /shops/{shop}/parts-times/removal",
        ],
    ),
    (
        Who::Roles(ADVICE),
        &[
            "GET /api/v1/shops/{shop}/reports/estimate",
            "GET /api/v1/shops/{shop}/part-policies",
            "GET /api/v1/shops/{shop}/part-policies/{part}",
            "GET /shops/{shop}/bench",
            "GET /shops/{shop}/parts-times",
        ],
    ),
    (
        Who::Roles(ADVICE),
        &[
            "GET /api/v1/shops/{shop}/reports/reuse",
            "GET /api/v1/shops/{shop}/reports/paths",
            "GET /api/v1/shops/{shop}/reports/checks",
            "GET /api/v1/shops/{shop}/reports/bench",
            "GET /shops/{shop}/reuse",
            "GET /shops/{shop}/paths",
            "GET /shops/{shop}/check-order",
            "GET /shops/{shop}/bench-readings",
        ],
    ),
    (
        Who::Roles(OWN_FIGURES),
        &[
            "GET /api/v1/shops/{shop}/reports/labor",
            "GET /api/v1/shops/{shop}/reports/compare",
            "GET /shops/{shop}/labor",
            "GET /shops/{shop}/compare",
        ],
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
