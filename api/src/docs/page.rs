//! The reference as a page.

use std::sync::OnceLock;

use actix_web::HttpResponse;
use askama::Template;

use super::model::{self, Reference};
use crate::openapi;
use crate::problem::{Kind, Problem};

#[derive(Template)]
#[template(path = "docs.html")]
struct ReferencePage {
    reference: Reference,
    kinds: &'static [Kind],
}

/// The whole reference on one page; it is the same for everybody.
///
/// # Errors
/// Where the template cannot be rendered.
pub async fn reference() -> Result<HttpResponse, Problem> {
    static PAGE: OnceLock<Result<String, String>> = OnceLock::new();
    let made = PAGE.get_or_init(|| {
        let page = ReferencePage { reference: model::read(openapi::value()), kinds: Kind::ALL };
        page.render().map_err(|error| error.to_string())
    });
    match made {
        Ok(html) => {
            Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html.as_str()))
        }
        Err(why) => Err(Problem::new(Kind::INTERNAL, why.as_str())),
    }
}
