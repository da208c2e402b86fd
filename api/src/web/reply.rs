//! What the edge makes of a program's answer: a list in the form asked for, its
//! next page, tags and what follows from them, and the mark of a dry run.

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::ServiceResponse;
use actix_web::http::header::{self, HeaderMap, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::web::Bytes;
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;
use serde_json::Value;

use crate::auth::session::digest;
use crate::web::asked::{self, Asked, Form};
use crate::web::csv;

/// A list that is asked for.
#[derive(Debug, Clone, Copy)]
pub struct List {
    pub asked: Asked,
    pub columns: &'static [String],
}

/// Of a list's page, what tells the next one.
#[derive(Deserialize)]
struct Next {
    next_cursor: Option<String>,
}

/// Of a list's page, what other forms are made from.
#[derive(Deserialize)]
struct Items {
    items: Vec<Value>,
}

/// Finishes an answer of the API.
pub fn finish(answer: ServiceResponse<BoxBody>, list: Option<List>) -> ServiceResponse<BoxBody> {
    let (request, mut response) = answer.into_parts();
    if !response.status().is_success() {
        return ServiceResponse::new(request, response);
    }
    if asked::dry_run(&request) {
        // What was made is gone again: it has no address and no version.
        response.headers_mut().remove(header::LOCATION);
        response.headers_mut().remove(header::ETAG);
        if response.status() == StatusCode::CREATED {
            *response.status_mut() = StatusCode::OK;
        }
        return ServiceResponse::new(request, response);
    }
    let reads = request.method() == Method::GET;
    if !reads && !response.headers().contains_key(header::ETAG) {
        return ServiceResponse::new(request, response);
    }
    let (mut head, body) = response.into_parts();
    let bytes = match body.try_into_bytes() {
        Ok(bytes) => bytes,
        Err(body) => return ServiceResponse::new(request, head.set_body(body)),
    };
    let bytes = match list {
        Some(list) => listed(&request, head.headers_mut(), &bytes, list),
        None => bytes,
    };
    let tag = tag(head.headers(), &bytes);
    if let Ok(value) = HeaderValue::from_str(&tag) {
        head.headers_mut().insert(header::ETAG, value);
    }
    if reads && asked::has_it(request.headers(), &tag) {
        return ServiceResponse::new(request, not_modified(head.headers()));
    }
    ServiceResponse::new(request, head.set_body(BoxBody::new(bytes)))
}

/// A strong tag: the version, where the thing has one, and what the body is,
/// since a body may change with what hangs on the thing.
fn tag(headers: &HeaderMap, bytes: &Bytes) -> String {
    let hash = digest(bytes);
    let version = headers.get(header::ETAG).and_then(|tag| tag.to_str().ok());
    match version.map(|tag| tag.trim_matches('"')) {
        Some(version) => format!("\"{version}.{}\"", hash.get(..8).unwrap_or_default()),
        None => format!("\"{}\"", hash.get(..16).unwrap_or_default()),
    }
}

fn not_modified(headers: &HeaderMap) -> HttpResponse {
    let mut answer = HttpResponse::NotModified();
    for name in [header::ETAG, header::VARY, header::LINK] {
        for value in headers.get_all(&name) {
            answer.append_header((name.clone(), value.clone()));
        }
    }
    answer.finish()
}

/// The page in its form, with the address of the next one (RFC 8288).
fn listed(request: &HttpRequest, headers: &mut HeaderMap, bytes: &Bytes, list: List) -> Bytes {
    let next = serde_json::from_slice::<Next>(bytes).ok().and_then(|page| page.next_cursor);
    let link = next.and_then(|cursor| next_link(request, &cursor));
    if let Some(link) = link {
        headers.append(header::LINK, link);
    }
    headers.insert(header::VARY, HeaderValue::from_static("Accept"));
    let form = list.asked.form;
    if form == Form::Json {
        return bytes.clone();
    }
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(form.media_type()));
    let items = serde_json::from_slice::<Items>(bytes).map_or_else(|_| Vec::new(), |p| p.items);
    let text = match form {
        Form::Csv => csv::of_items(list.columns, &items, list.asked.spreadsheet),
        _ => items.iter().map(|item| format!("{item}\n")).collect(),
    };
    Bytes::from(text)
}

fn next_link(request: &HttpRequest, cursor: &str) -> Option<HeaderValue> {
    let kept = request
        .query_string()
        .split('&')
        .filter(|pair| !pair.is_empty() && !pair.starts_with("cursor="));
    let cursor = serde_urlencoded::to_string([("cursor", cursor)]).ok()?;
    let query: Vec<&str> = kept.chain([cursor.as_str()]).collect();
    let link = format!("<{}?{}>; rel=\"next\"", request.path(), query.join("&"));
    HeaderValue::from_str(&link).ok()
}
