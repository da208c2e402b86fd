//! The API document: OpenAPI 3.1, made from the handlers.

use std::sync::OnceLock;

use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{Modify, OpenApi};

use crate::{
    attendance, auth, changes, codes, comebacks, jobs, orders, people, problem, reports, shops,
    vehicles,
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
        description = "The repair-order and comeback service of a vehicle repair shop. Money is in minor units of the shop's currency, hours in hundredths, instants in UTC, days shop-local.",
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
        (name = "report", description = "What the record says"),
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
        changes::http::feed, changes::http::audit,
        vehicles::http::list, vehicles::http::add, vehicles::http::read,
        orders::http::list, orders::http::open, orders::http::read, orders::http::change,
        orders::http::add_job, orders::http::close,
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
        orders::http::authorize, orders::http::void,
        comebacks::http::tell_outside, comebacks::http::withdraw_outside,
        comebacks::http::add_pay_back, comebacks::http::remove_pay_back,
        reports::http::weekly, reports::http::comebacks, reports::http::reuse,
        reports::http::paths, reports::http::labor, reports::http::jobs,
    )
)]
struct Document;

/// The document as JSON, with a line break at its end.
#[must_use]
pub fn json() -> &'static str {
    static TEXT: OnceLock<String> = OnceLock::new();
    TEXT.get_or_init(|| {
        let mut text = Document::openapi().to_pretty_json().unwrap_or_default();
        text.push('\n');
        text
    })
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
                    assert!(response["description"].as_str().is_some_and(|d| !d.is_empty()));
                }
            }
        }
        let all = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), all);
    }
}
