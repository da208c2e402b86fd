//! The API document: OpenAPI 3.1, made from the handlers.

mod dress;
pub mod examples;
pub mod fields;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use serde_json::Value;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{Modify, OpenApi};

use crate::routes::Route;
use crate::{
    attendance, auth, changes, codes, comebacks, enquiries, followups, jobs, orders, people, plans,
    preparation, problem, reports, rules, shops, vehicles, warnings,
};

struct Bearer;

impl Modify for Bearer {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let components = document.components.get_or_insert_with(Default::default);
        components.add_security_scheme(
            "bearer",
            SecurityScheme::Http(HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build()),
        );
    }
}

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Onetrip",
        description = include_str!("openapi/about.md"),
        contact(name = "The developers of Onetrip"),
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0"),
    ),
    servers((url = "/", description = "This server")),
    tags(
        (name = "session", description = "Signing in and out"),
        (name = "token", description = "Named tokens of programs"),
        (name = "tablet", description = "Tablets of the shop floor, where a PIN opens a session"),
        (name = "shop", description = "Shops and their settings"),
        (name = "people", description = "Who works in a shop"),
        (name = "codes", description = "The lists a shop keeps"),
        (name = "changes", description = "What changed, who changed it, before and after"),
        (name = "vehicle", description = "Vehicles and their history"),
        (name = "order", description = "Repair orders, one a visit"),
        (name = "job", description = "Jobs, one a complaint"),
        (name = "work", description = "Checks, parts, operations, labor and proofs of a job"),
        (name = "attendance", description = "How long people were there for work"),
        (name = "comeback", description = "What came back, proposed and decided"),
        (name = "follow-up", description = "Calls some days after the hand-over"),
        (name = "enquiry", description = "Enquiries into comebacks, and corrective actions"),
        (name = "plan", description = "How the shop checks a symptom"),
        (name = "rule", description = "Decisions of the shop, and what came of them"),
        (name = "preparation", description = "Readings before a vehicle leaves, and vehicles in stock"),
        (name = "report", description = "What the record says"),
        (name = "warning", description = "Groups with more returns than expected, and silenced ones"),
    ),
    modifiers(&Bearer),
    security(("bearer" = [])),
    components(schemas(problem::ProblemBody)),
    paths(
        auth::http::sign_in, auth::http::sign_out, auth::http::me,
        auth::http_own::change_password, auth::http_own::set_pin, auth::http_own::sessions,
        auth::http_own::end_others, auth::http_own::end_session,
        auth::http_token::list_own, auth::http_token::make, auth::http_token::revoke_own,
        auth::http_token::list, auth::http_token::revoke,
        auth::http_tablet::list, auth::http_tablet::enroll, auth::http_tablet::revoke,
        shops::http::list, shops::http::make, shops::http::read, shops::http::change,
        people::http::list, people::http::add,
        people::http_account::read, people::http_account::change, people::http_account::grant,
        people::http_account::take, people::http_account::sessions,
        people::http_account::end_session,
        codes::http::list, codes::http::add,
        codes::http::lists, codes::http::read, codes::http::change, codes::http::merge,
        plans::http::list, plans::http::make, plans::http::starting, plans::http::read,
        plans::http::revise, plans::http::propose, plans::http::decide, plans::http::withdraw,
        plans::http::of_job,
        changes::http::feed, changes::http::audit,
        rules::http::list, rules::http::take, rules::http::read,
        rules::http_settle::change, rules::http_settle::review, rules::http_settle::withdraw,
        rules::http_job::list, rules::http_job::answer, rules::http_job::remove,
        vehicles::http::list, vehicles::http::add, vehicles::http::read,
        orders::http::list, orders::http::open, orders::http::read, orders::http::change,
        orders::http::add_job, orders::http::close,
        orders::http_batch::open,
        jobs::http::read, jobs::http::change, jobs::http::close,
        jobs::http_work::add_check, jobs::http_work::remove_check,
        jobs::http_work::add_part_use, jobs::http_work::remove_part_use,
        jobs::http_work::add_operation, jobs::http_work::remove_operation,
        jobs::http_work::start_labor, jobs::http_work::stop_labor, jobs::http_work::add_proof,
        jobs::http::reopen, jobs::http_people::assign, jobs::http_people::unassign,
        jobs::http_people::start_wait, jobs::http_people::end_wait,
        jobs::http_sublets::add, jobs::http_sublets::change, jobs::http_sublets::remove,
        jobs::http_change::change_check, jobs::http_change::change_part_use,
        jobs::http_change::change_operation, jobs::http_labor::change, jobs::http_labor::remove,
        attendance::http::list, attendance::http::set, attendance::http::remove,
        comebacks::http::list, comebacks::http::link, comebacks::http::read, comebacks::http::decide,
        vehicles::http::change, vehicles::http::reset_odometer,
        preparation::http_lists::list, preparation::http_lists::make,
        preparation::http_lists::read, preparation::http_lists::change,
        preparation::http_lists::withdraw,
        preparation::http_sheets::list, preparation::http_sheets::begin,
        preparation::http_sheets::read, preparation::http_sheets::take,
        preparation::http_sheets::pass,
        preparation::http_stock::list, preparation::http_stock::add,
        preparation::http_stock::leave,
        reports::http::hand_over,
        orders::http::authorize, orders::http::void,
        comebacks::http::tell_outside, comebacks::http::withdraw_outside,
        comebacks::http::add_pay_back, comebacks::http::remove_pay_back,
        followups::http::due, followups::http::summary, followups::http::list,
        followups::http::add, followups::http::remove,
        enquiries::http::read, enquiries::http::begin, enquiries::http::change,
        enquiries::http::say, enquiries::http::close, enquiries::http::reopen,
        enquiries::http::trend, enquiries::http_action::list, enquiries::http_action::add,
        enquiries::http_action::read, enquiries::http_action::change,
        enquiries::http_action::end, enquiries::http_action::reopen,
        enquiries::http_action::verify,
        reports::http::weekly, reports::http::comebacks, reports::http::reuse,
        reports::http::paths, reports::http::labor, reports::http::jobs,
        reports::http::compare, reports::http::checks, reports::http::repeats,
        reports::http::pattern, reports::http::bench, reports::http::effect,
        reports::http::warnings, reports::http::estimate,
        warnings::http::list, warnings::http::add, warnings::http::end,
        shops::http_parts::list, shops::http_parts::read, shops::http_parts::set,
        shops::http_parts::remove,
    )
)]
struct Document;

/// The document.
#[must_use]
pub fn value() -> &'static Value {
    static VALUE: OnceLock<Value> = OnceLock::new();
    VALUE.get_or_init(|| {
        let mut document = serde_json::to_value(Document::openapi()).unwrap_or_default();
        dress::dress(&mut document);
        document
    })
}

/// The document as JSON, with a line break at its end.
#[must_use]
pub fn json() -> &'static str {
    static TEXT: OnceLock<String> = OnceLock::new();
    TEXT.get_or_init(|| {
        let mut text = serde_json::to_string_pretty(value()).unwrap_or_default();
        text.push('\n');
        text
    })
}

/// The columns of a list: the fields of its items as the document has them, so
/// that they are the same whatever the list holds. `None` for other routes.
#[must_use]
pub fn columns(route: &Route) -> Option<&'static [String]> {
    static COLUMNS: OnceLock<BTreeMap<String, Vec<String>>> = OnceLock::new();
    if route.method != "GET" {
        return None;
    }
    let all = COLUMNS.get_or_init(|| {
        let lists = dress::lists(value());
        let paths = value().get("paths").and_then(Value::as_object);
        paths
            .into_iter()
            .flatten()
            .filter_map(|(path, item)| Some((path.clone(), columns_of(item, &lists)?)))
            .collect()
    });
    all.get(route.path).map(Vec::as_slice)
}

fn columns_of(item: &Value, lists: &BTreeSet<String>) -> Option<Vec<String>> {
    let page = dress::list_of(item.get("get")?.as_object()?, lists)?;
    let schema = value().pointer(&format!("/components/schemas/{page}/properties/items/items"))?;
    Some(fields::of(value(), schema).into_iter().map(|(name, ..)| name.to_owned()).collect())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;
    use crate::routes;

    #[test]
    fn the_document_and_the_table_have_the_same_operations() {
        let document: serde_json::Value = serde_json::from_str(json()).unwrap();
        let mut documented: Vec<String> = Vec::new();
        for (path, item) in document["paths"].as_object().unwrap() {
            for method in item.as_object().unwrap().keys() {
                documented.push(format!("{} {path}", method.to_uppercase()));
            }
        }
        let mut routed: Vec<String> = routes::TABLE
            .iter()
            .filter(|route| route.is_api())
            .map(|route| format!("{} {}", route.method, route.path))
            .collect();
        documented.sort();
        routed.sort();
        assert_eq!(documented, routed);
    }

    #[test]
    fn every_response_is_described_and_every_operation_named_once() {
        let document: serde_json::Value = serde_json::from_str(json()).unwrap();
        let mut names = Vec::new();
        for item in document["paths"].as_object().unwrap().values() {
            for operation in item.as_object().unwrap().values() {
                names.push(operation["operationId"].as_str().unwrap().to_owned());
                assert!(operation["description"].as_str().is_some_and(|d| !d.is_empty()));
                for response in operation["responses"].as_object().unwrap().values() {
                    let response = fields::resolved(&document, response);
                    assert!(response["description"].as_str().is_some_and(|d| !d.is_empty()));
                }
            }
        }
        let all = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), all);
    }

    #[test]
    fn every_operation_tells_its_problems_in_one_form() {
        let document: serde_json::Value = serde_json::from_str(json()).unwrap();
        for route in routes::TABLE.iter().filter(|route| route.is_api()) {
            let operation = &document["paths"][route.path][route.method.to_lowercase()];
            let told = operation["responses"].as_object().unwrap();
            let mut owed = vec!["401", "503"];
            owed.extend(route.path.contains('{').then_some("404"));
            if operation.get("requestBody").is_some() {
                owed.extend(["400", "413", "415", "422"]);
            }
            let parameters = operation["parameters"].as_array();
            if parameters.is_some_and(|all| all.iter().any(|p| p["name"] == "If-Match")) {
                owed.extend(["412", "428"]);
            }
            for status in owed {
                assert!(told.contains_key(status), "{} {}: {status}", route.method, route.path);
            }
            for (status, response) in told.iter().filter(|(s, _)| s.starts_with(['4', '5'])) {
                let response = fields::resolved(&document, response);
                let schema = &response["content"]["application/problem+json"]["schema"]["$ref"];
                assert_eq!(schema, "#/components/schemas/Problem", "{} {status}", route.path);
            }
        }
    }

    #[test]
    fn every_tag_is_described_and_every_operation_is_under_one() {
        let document: serde_json::Value = serde_json::from_str(json()).unwrap();
        let tags = document["tags"].as_array().unwrap();
        assert!(tags.iter().all(|tag| tag["description"].as_str().is_some_and(|d| !d.is_empty())));
        for item in document["paths"].as_object().unwrap().values() {
            for operation in item.as_object().unwrap().values() {
                let used = operation["tags"].as_array().unwrap();
                assert!(
                    used.len() == 1 && tags.iter().any(|tag| tag["name"] == used[0]),
                    "{used:?}"
                );
            }
        }
    }

    #[test]
    fn a_list_has_columns_in_the_order_of_its_type() {
        let lists = routes::TABLE.iter().filter(|route| columns(route).is_some());
        assert!(lists.clone().count() >= 6);
        let orders = lists.clone().find(|route| route.path.ends_with("/orders")).unwrap();
        let columns = columns(orders).unwrap();
        assert_eq!(columns[..3], ["id", "order_no", "vehicle_id"]);
    }
}
