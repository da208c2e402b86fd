//! Bodies, parameters and path parts, parsed with a pointer to each fault.

use std::borrow::Cow;
use std::future::Future;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};
use futures_util::StreamExt;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::app::App;
use crate::auth::session::digest;
use crate::domain::refusal::FieldFault;
use crate::problem::{Kind, Problem};
use crate::web::{asked, flight, plain};

/// The most that a request's body may weigh.
const MOST_BYTES: usize = 256 * 1024;
/// The same where many things are sent at once.
const MOST_BYTES_AT_ONCE: usize = 2 * 1024 * 1024;

/// A JSON body with the hash of its bytes (for idempotency keys).
pub struct Json<T> {
    pub value: T,
    pub hash: String,
}

/// A form's body, with the hash of its fields.
pub struct Form<T> {
    pub value: T,
    pub hash: String,
}

/// The query's parameters.
pub struct Params<T>(pub T);

/// The address's changing parts.
pub struct Parts<T>(pub T);

type Later<T> = Pin<Box<dyn Future<Output = Result<T, Problem>>>>;

fn most_bytes(path: &str) -> usize {
    if path.ends_with("/batch") { MOST_BYTES_AT_ONCE } else { MOST_BYTES }
}

fn too_large(most: usize) -> Problem {
    Problem::new(Kind::TOO_LARGE, format!("send at most {most} bytes"))
}

/// An answer that holds what was not read of its request. As long as that is there
/// the connection ends with the answer; once it is dropped, what is still sent in
/// pieces would be read, and thrown away, for as long as somebody sends.
struct Held {
    answer: BoxBody,
    _unread: Payload,
}

impl MessageBody for Held {
    type Error = <BoxBody as MessageBody>::Error;

    fn size(&self) -> BodySize {
        self.answer.size()
    }

    fn poll_next(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Bytes, Self::Error>>> {
        Pin::new(&mut self.get_mut().answer).poll_next(cx)
    }
}

/// The answer's body, with what was not read of the request held as long.
#[must_use]
pub fn held_until_sent(answer: BoxBody, unread: Payload) -> BoxBody {
    BoxBody::new(Held { answer, _unread: unread })
}

async fn collect(payload: &mut Payload, most: usize) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|e| Problem::new(Kind::BAD_REQUEST, e.to_string()))?;
        if bytes.len() + chunk.len() > most {
            return Err(too_large(most));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

async fn arrive(
    req: HttpRequest,
    mut payload: Payload,
    types: &[&str],
) -> Result<Vec<u8>, Problem> {
    let read = read(&req, &mut payload, types).await;
    if read.is_err() {
        req.extensions_mut().insert(payload);
    }
    read
}

async fn read(
    req: &HttpRequest,
    payload: &mut Payload,
    types: &[&str],
) -> Result<Vec<u8>, Problem> {
    let sent = req.headers().get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or("");
    let bare = sent.split(';').next().unwrap_or("").trim().to_ascii_lowercase();
    if !types.contains(&bare.as_str()) {
        return Err(Problem::new(
            Kind::MEDIA_TYPE,
            format!("send the body as {}", types.join(" or ")),
        ));
    }
    if req.headers().contains_key(header::CONTENT_ENCODING) {
        return Err(Problem::new(Kind::MEDIA_TYPE, "send the body without Content-Encoding"));
    }
    let declared = req
        .headers()
        .get(header::CONTENT_LENGTH)
        .and_then(|v| v.to_str().ok())
        .and_then(|v| v.parse::<usize>().ok());
    let most = most_bytes(req.path());
    if declared.is_some_and(|n| n > most) {
        return Err(too_large(most));
    }
    let app = req.app_data::<web::Data<App>>();
    let patience = app.map_or(Duration::ZERO, |app| app.body_patience);
    flight::wait(req);
    let arrived = tokio::time::timeout(patience, collect(payload, most)).await;
    flight::board(req)?;
    arrived.map_err(|_| {
        let detail = format!("the body was not there after {} seconds", patience.as_secs());
        Problem::new(Kind::LATE, detail)
    })?
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter()
        .map(|segment| match segment {
            Segment::Seq { index } => format!("/{index}"),
            Segment::Map { key } => format!("/{}", key.replace('~', "~0").replace('/', "~1")),
            Segment::Enum { variant } => format!("/{variant}"),
            Segment::Unknown => String::new(),
        })
        .collect()
}

/// JSON has one kind of number: 12.0 is the integer 12 (JSON Schema says so,
/// and some clients write it so).
fn whole_numbers(value: &mut Value) {
    match value {
        Value::Number(number) => {
            let whole = number.as_f64().filter(|n| number.is_f64() && n.fract() == 0.0);
            // Past 2^53 a float no longer names one integer.
            if let Some(n) = whole.filter(|n| n.abs() < 9_007_199_254_740_992.0) {
                *number = (n as i64).into();
            }
        }
        Value::Array(items) => items.iter_mut().for_each(whole_numbers),
        Value::Object(fields) => fields.values_mut().for_each(whole_numbers),
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
}

/// Where the first NUL stands. PostgreSQL cannot keep one, so none gets past
/// this door.
fn nul_at(value: &Value, at: String) -> Option<String> {
    match value {
        Value::String(text) => text.contains('\0').then_some(at),
        Value::Array(items) => {
            items.iter().enumerate().find_map(|(place, item)| nul_at(item, format!("{at}/{place}")))
        }
        Value::Object(fields) => fields.iter().find_map(|(name, field)| {
            let below = format!("{at}/{}", name.replace('~', "~0").replace('/', "~1"));
            if name.contains('\0') { Some(at.clone()) } else { nul_at(field, below) }
        }),
        Value::Null | Value::Bool(_) | Value::Number(_) => None,
    }
}

fn nul(pointer: String) -> Problem {
    let detail = "remove the NUL characters".to_owned();
    Problem::invalid(vec![FieldFault { pointer, code: "control_character", detail }])
}

fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Problem> {
    let mut value: Value = serde_json::from_slice(bytes).map_err(|error| {
        let place = format!("line {}, column {}", error.line(), error.column());
        let fault = FieldFault::new("", "syntax", format!("it stops being JSON at {place}"));
        let mut problem = Problem::new(Kind::BAD_REQUEST, "the body is not JSON");
        problem.errors = vec![fault];
        problem
    })?;
    if !value.is_object() {
        let fault = FieldFault::new("", "object", "send one JSON object");
        return Err(Problem::invalid(vec![fault]));
    }
    if let Some(pointer) = nul_at(&value, String::new()) {
        return Err(nul(pointer));
    }
    whole_numbers(&mut value);
    from_value(value).map_err(|fault| Problem::invalid(vec![fault]))
}

/// Reads one thing of a body that was read before.
///
/// # Errors
/// Where it is not one, with a pointer from its top.
pub fn from_value<T: DeserializeOwned>(value: Value) -> Result<T, FieldFault> {
    serde_path_to_error::deserialize(value)
        .map_err(|error| plain::fault(pointer(error.path()), &error.inner().to_string()))
}

impl<T: DeserializeOwned + 'static> FromRequest for Json<T> {
    type Error = Problem;
    type Future = Later<Self>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Later<Self> {
        let (req, payload) = (req.clone(), payload.take());
        Box::pin(async move {
            let types: &[&str] = if req.method() == actix_web::http::Method::PATCH {
                &["application/merge-patch+json", "application/json"]
            } else {
                &["application/json"]
            };
            let bytes = arrive(req, payload, types).await?;
            Ok(Self { value: parse(&bytes)?, hash: digest(&bytes) })
        })
    }
}

impl<T: DeserializeOwned + 'static> FromRequest for Form<T> {
    type Error = Problem;
    type Future = Later<Self>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Later<Self> {
        let (req, payload) = (req.clone(), payload.take());
        Box::pin(async move {
            let bytes = arrive(req, payload, &["application/x-www-form-urlencoded"]).await?;
            if bytes.contains(&0) || bytes.windows(3).any(|three| three == b"%00") {
                return Err(nul(String::new()));
            }
            let value = serde_urlencoded::from_bytes(&bytes).map_err(|e| {
                Problem::invalid(vec![FieldFault::new("", "form", plain::words(&e.to_string()))])
            })?;
            Ok(Self { value, hash: digest(&without_token(&bytes)) })
        })
    }
}

/// A form's body but for the session's token: what was kept while nobody was
/// signed in is sent again under the token of a later session, and is the same
/// request.
fn without_token(bytes: &[u8]) -> Vec<u8> {
    let pairs = bytes.split(|byte| *byte == b'&');
    let kept: Vec<&[u8]> = pairs.filter(|pair| !pair.starts_with(b"form_token=")).collect();
    kept.join(&b'&')
}

impl<T: DeserializeOwned + 'static> FromRequest for Params<T> {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        if req.query_string().contains("%00") {
            return std::future::ready(Err(nul(String::new())));
        }
        let query = if req.path().starts_with("/api/") {
            Cow::Owned(asked::for_handlers(req.query_string()))
        } else {
            Cow::Borrowed(req.query_string())
        };
        let read = web::Query::<T>::from_query(&query);
        std::future::ready(read.map(|q| Self(q.into_inner())).map_err(|error| {
            let fault = plain::parameter::<T>(&query)
                .unwrap_or_else(|| FieldFault::new("", "query", plain::words(&error.to_string())));
            Problem::invalid(vec![fault])
        }))
    }
}

impl<T: DeserializeOwned + 'static> FromRequest for Parts<T> {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        if req.path().contains("%00") {
            return std::future::ready(Err(Problem::not_found()));
        }
        // An id that cannot be read is an id that does not exist.
        let read = web::Path::<T>::from_request(req, payload).into_inner();
        std::future::ready(read.map(|p| Self(p.into_inner())).map_err(|_| Problem::not_found()))
    }
}

/// Tells an absent field from one that is null: a merge patch (RFC 7396)
/// removes what is null and leaves what is absent.
///
/// # Errors
/// Those of the value.
pub fn present<'de, T, D>(deserializer: D) -> Result<Option<Option<T>>, D::Error>
where
    T: Deserialize<'de>,
    D: serde::Deserializer<'de>,
{
    Option::<T>::deserialize(deserializer).map(Some)
}

/// As [`present`], for a field that cannot be emptied: null is refused.
///
/// # Errors
/// Those of the value; null.
pub fn given<'de, T, D>(deserializer: D) -> Result<Option<T>, D::Error>
where
    T: Deserialize<'de>,
    D: serde::Deserializer<'de>,
{
    T::deserialize(deserializer).map(Some)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[derive(Debug, Deserialize)]
    struct Line {
        minutes: i64,
        reading: f64,
    }

    #[derive(Debug, Deserialize)]
    struct Body {
        lines: Vec<Line>,
    }

    #[test]
    fn a_whole_float_is_an_integer_and_an_integer_a_float() {
        let body: Body = parse(br#"{"lines":[{"minutes":12.0,"reading":3}]}"#).unwrap();
        let line = body.lines.first().unwrap();
        assert_eq!((line.minutes, line.reading), (12, 3.0));
    }

    #[test]
    fn a_fault_is_pointed_at() {
        let problem = parse::<Body>(br#"{"lines":[{"minutes":1.5,"reading":3}]}"#).unwrap_err();
        let fault = problem.errors.first().unwrap();
        assert_eq!(fault.pointer, "/lines/0/minutes");
        assert_eq!(fault.detail, "write a whole number");
        assert_eq!(problem.kind, Kind::INVALID);
    }

    #[test]
    fn what_is_not_json_is_told() {
        assert_eq!(parse::<Body>(b"{").unwrap_err().kind, Kind::BAD_REQUEST);
    }
}
