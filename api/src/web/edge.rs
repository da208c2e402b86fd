//! What happens to every request and answer: ids, headers, HEAD, addresses and
//! methods that are not there, problems shown as pages to people.

use std::net::IpAddr;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{HttpMessage, HttpRequest, HttpResponse, ResponseError};
use uuid::Uuid;

use crate::auth::cookie::{self, TABLET};
use crate::log;
use crate::openapi;
use crate::problem::{Kind, Problem, RELOAD_SECONDS};
use crate::routes::{self, Access, Found};
use crate::web::asked;
use crate::web::body;
use crate::web::client;
use crate::web::ctx::{Ctx, OtherShop, Who};
use crate::web::flight;
use crate::web::page;
use crate::web::reply::{self, List};

/// Where the API is described, for programs and for people (RFC 8631).
const DESCRIBED: &str = "</openapi.json>; rel=\"service-desc\", </docs>; rel=\"service-doc\"";

const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
    font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; \
    base-uri 'none'; frame-ancestors 'none'; object-src 'none'";

/// What no page here asks a browser for.
const FEATURES: &str =
    "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()";

/// The outermost step.
///
/// # Errors
/// Those of the framework; a handler's error is an answer already.
pub async fn guard(
    mut req: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, actix_web::Error> {
    let request_id = Uuid::now_v7().to_string();
    // The connection remembers that the body of HEAD's answer stays here.
    if req.method() == Method::HEAD {
        req.head_mut().method = Method::GET;
    }
    let is_api = is_program(req.path());
    let is_tagged = req.path().starts_with("/api/") || req.path() == "/openapi.json";
    let cached = req.path().starts_with("/assets/") || req.path() == "/sw.js";
    let found = routes::find(req.method().as_str(), req.path());
    let route = found.as_ref().map_or("none", |found| found.route.path);
    let from = client::address(req.request());
    let admitted = admit(&req, found.as_ref()).await;
    let unread = unread(&mut req, admitted.is_ok() && found.is_some());
    let answered = match admitted {
        Ok(list) => {
            let answered = next.call(req).await?.map_into_boxed_body();
            if is_tagged { reply::finish(answered, list) } else { answered }
        }
        Err(problem) => req.into_response(problem.error_response()).map_into_boxed_body(),
    };
    let status = answered.status();
    tell_of_denial(&answered, found.as_ref(), &request_id, from);
    if status.is_server_error() && !is_awaited(&answered) {
        tracing::error!(%request_id, %status, route, "a request failed");
    }
    let mut answer = if is_api || !(status.is_client_error() || status.is_server_error()) {
        answered
    } else {
        as_page(answered)
    };
    put_headers(&mut answer, &request_id, cached, is_api);
    let left = answer.request().extensions_mut().remove::<Payload>();
    Ok(match unread.or(left) {
        Some(unread) => answer.map_body(|_, body| body::held_until_sent(body, unread)),
        None => answer,
    })
}

/// The body of a request that is sent in pieces where nobody will read it.
fn unread(req: &mut ServiceRequest, is_taken: bool) -> Option<Payload> {
    let reads = matches!(*req.method(), Method::POST | Method::PUT | Method::PATCH);
    let in_pieces = req.headers().contains_key(header::TRANSFER_ENCODING);
    (in_pieces && !(is_taken && reads)).then(|| req.take_payload())
}

/// What every answer carries.
fn put_headers(
    answer: &mut ServiceResponse<BoxBody>,
    request_id: &str,
    cached: bool,
    is_api: bool,
) {
    let tagged = matches!(answer.status(), StatusCode::OK | StatusCode::NOT_MODIFIED)
        && answer.request().method() == Method::GET
        && answer.headers().contains_key(header::ETAG);
    let headers = answer.headers_mut();
    let mut put = |name: HeaderName, value: &str| {
        if let Ok(value) = HeaderValue::from_str(value) {
            headers.insert(name, value);
        }
    };
    put(HeaderName::from_static("x-request-id"), request_id);
    put(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    put(header::REFERRER_POLICY, "same-origin");
    put(header::CONTENT_SECURITY_POLICY, POLICY);
    put(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    put(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    put(HeaderName::from_static("permissions-policy"), FEATURES);
    if tagged {
        put(header::CACHE_CONTROL, "private, no-cache");
    } else if !cached {
        put(header::CACHE_CONTROL, "no-store");
    }
    if is_api {
        headers.append(header::LINK, HeaderValue::from_static(DESCRIBED));
    }
}

/// Whom a rule of access turned away is logged; at the doors themselves that is
/// told with the way that was tried.
fn tell_of_denial(
    answer: &ServiceResponse<BoxBody>,
    found: Option<&Found>,
    request_id: &str,
    from: IpAddr,
) {
    const DENIALS: [Kind; 4] =
        [Kind::NOT_SIGNED_IN, Kind::FORBIDDEN, Kind::FORM_EXPIRED, Kind::TOO_MANY];
    let Some(route) = found.map(|found| found.route) else { return };
    let kind = answer.response().extensions().get::<Problem>().map(|problem| problem.kind);
    let extensions = answer.request().extensions();
    let why = match kind.filter(|kind| DENIALS.contains(kind)) {
        Some(Kind::NOT_SIGNED_IN | Kind::TOO_MANY) if route.access == Access::Public => return,
        Some(kind) => kind.slug,
        None if extensions.get::<OtherShop>().is_some() => "other-shop",
        None => return,
    };
    let who = extensions.get::<Who>().map(|who| &who.0);
    let what = log::Asked { method: route.method, route: route.path, request_id };
    log::turned_away(who, &what, from, why);
}

/// Bytes that are packed for the way are other bytes: their tag is another one
/// (RFC 9110, section 8.8.3.3), `"3.1f0c9a2b-gzip"`.
///
/// Pages hold secrets beside what an address made them say, which lets who reads
/// the length of packed answers guess at them. The secret is the form token
/// alone, and it opens nothing: the session's cookie is not sent along with
/// forms from elsewhere, and [`cookie::own_origin`] refuses them.
///
/// # Errors
/// Those of the framework.
pub async fn tag_packed(
    req: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let held = req.headers().get(header::IF_NONE_MATCH).cloned();
    let mut answer = next.call(req).await?;
    let text = |value: Option<&HeaderValue>| value.and_then(|v| v.to_str().ok().map(str::to_owned));
    let Some(tag) = text(answer.headers().get(header::ETAG)) else { return Ok(answer) };
    let packing = match text(answer.headers().get(header::CONTENT_ENCODING)) {
        Some(packing) => packing,
        None if answer.status() == StatusCode::NOT_MODIFIED => {
            let held = text(held.as_ref()).unwrap_or_default();
            let of_it = |packing: &&&str| held.contains(&asked::packed(&tag, packing));
            asked::PACKINGS.iter().find(of_it).map_or_else(String::new, |found| (*found).to_owned())
        }
        None => String::new(),
    };
    if !packing.is_empty()
        && let Ok(value) = HeaderValue::from_str(&asked::packed(&tag, &packing))
    {
        answer.headers_mut().insert(header::ETAG, value);
    }
    Ok(answer)
}

/// Looks up who asks before anything else of the request is read. Tells how a
/// list is to be answered.
async fn admit(req: &ServiceRequest, found: Option<&Found>) -> Result<Option<List>, Problem> {
    flight::board(req.request())?;
    let Some(found) = found else {
        return Ok(None);
    };
    if found.route.access != Access::Public {
        let ctx = Ctx::of(req.request(), found).await?;
        req.extensions_mut().insert(ctx);
        let reads = matches!(*req.method(), Method::GET | Method::HEAD);
        if !found.route.is_api() && !reads {
            cookie::own_origin(req.request())?;
        }
    }
    asked::dry_run_fits(req.request(), found.route)?;
    let Some(columns) = openapi::columns(found.route) else {
        return Ok(None);
    };
    let asked = asked::form(req.request(), &asked::LIST_FORMS)?;
    Ok(Some(List { asked, columns }))
}

/// Addresses that programs read: errors there are problem documents.
fn is_program(path: &str) -> bool {
    path.starts_with("/api/") || matches!(path, "/openapi.json" | "/livez" | "/readyz")
}

/// Whether a report is only not ready yet, or too many ask: no faults, and a crowd
/// must not fill the log.
fn is_awaited(answer: &ServiceResponse<BoxBody>) -> bool {
    let extensions = answer.response().extensions();
    extensions
        .get::<Problem>()
        .is_some_and(|problem| problem.kind == Kind::NOT_READY || problem.detail == flight::FULL)
}

fn as_page(answer: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let problem = answer.response().extensions().get::<Problem>().cloned();
    let Some(problem) = problem else { return answer };
    let viewer = answer.request().extensions().get::<page::Viewer>().cloned();
    // On the shop's tablets people come in with a PIN.
    let on_tablet = answer.request().cookie(TABLET).is_some();
    let (request, _) = answer.into_parts();
    let mut response = if problem.kind == Kind::NOT_SIGNED_IN {
        page::see_other(if on_tablet { "/tablet" } else { "/sign-in" })
    } else {
        problem.page(page::problem(viewer.as_ref(), &problem))
    };
    // The page of a report that is not ready turns into the report by itself; a
    // form is for its sender to send again.
    if problem.kind == Kind::NOT_READY && request.method() == Method::GET {
        response.headers_mut().insert(header::REFRESH, HeaderValue::from(RELOAD_SECONDS));
    }
    ServiceResponse::new(request, response)
}

/// No route took the request: another method may have an answer here.
pub async fn nowhere(req: HttpRequest) -> HttpResponse {
    let mut methods = routes::methods(req.path());
    if methods.is_empty() {
        return Problem::not_found().error_response();
    }
    if methods.contains(&"GET") {
        methods.push("HEAD");
    }
    methods.sort_unstable();
    methods.dedup();
    let mut problem =
        Problem::new(Kind::METHOD, format!("this address takes {}", methods.join(", ")));
    problem.allow = Some(methods.join(", "));
    problem.error_response()
}
