//! Pieces that every operation of the API document shares.

use std::collections::BTreeMap;

use utoipa::openapi::{ContentBuilder, Ref, RefOr, Response, ResponseBuilder};

/// The problems that any operation may answer.
pub struct Problems;

impl utoipa::IntoResponses for Problems {
    fn responses() -> BTreeMap<String, RefOr<Response>> {
        let one = |description: &str| {
            let content =
                ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).build();
            ResponseBuilder::new()
                .description(description)
                .content("application/problem+json", content)
                .build()
        };
        BTreeMap::from([
            ("4XX".to_owned(), RefOr::T(one("The request is refused; nothing was written"))),
            (
                "5XX".to_owned(),
                RefOr::T(one("The record did not answer; try again with the same key")),
            ),
        ])
    }
}

/// The limit, within its bounds.
///
/// # Errors
/// A fault where it lies outside.
pub fn limit(asked: Option<i64>) -> Result<i64, crate::problem::Problem> {
    let limit = asked.unwrap_or(50);
    if (1..=200).contains(&limit) {
        return Ok(limit);
    }
    Err(crate::problem::Problem::invalid(vec![crate::domain::refusal::FieldFault {
        pointer: "limit".into(),
        code: "range",
        detail: "ask for 1 to 200".into(),
    }]))
}

/// Refuses a cursor that is none of ours.
#[must_use]
pub fn bad_cursor() -> crate::problem::Problem {
    crate::problem::Problem::invalid(vec![crate::domain::refusal::FieldFault {
        pointer: "cursor".into(),
        code: "cursor",
        detail: "give the next_cursor of the page before, or none".into(),
    }])
}

/// One more than asked was read: cuts it off and makes the cursor of the last
/// that stays.
pub fn page<T>(
    mut items: Vec<T>,
    limit: i64,
    cursor: impl Fn(&T) -> String,
) -> crate::web::answer::Page<T> {
    let most = usize::try_from(limit).unwrap_or(usize::MAX);
    let more = items.len() > most;
    items.truncate(most);
    let next_cursor = if more { items.last().map(cursor) } else { None };
    crate::web::answer::Page { items, next_cursor }
}
