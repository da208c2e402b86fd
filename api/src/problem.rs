//! The only place where an error becomes a status: RFC 9457 problems for
//! programs, and the same words on a page for people.

use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderValue};
use actix_web::{HttpResponse, HttpResponseBuilder, ResponseError};
use serde::Serialize;

use crate::db::{Fault, disk_is_full};
use crate::domain::refusal::{FieldFault, Refusal};

/// One kind of problem: its short name (the end of its `type`), status, title.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kind {
    pub slug: &'static str,
    pub status: u16,
    pub title: &'static str,
    /// What it means and what to do, for the page behind its `type`.
    pub help: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $status:literal $slug:literal $title:literal $help:literal;)+) => {
        impl Kind {
            $(pub const $name: Self = Self { slug: $slug, status: $status, title: $title, help: $help };)+
            /// Every kind of problem.
            pub const ALL: &'static [Self] = &[$(Self::$name),+];
        }
    };
}

kinds! {
    BAD_REQUEST = 400 "bad-request" "The request cannot be read"
        "Something about the form of the request is wrong; the detail says what. Correct it and send it again.";
    KEY_MISSING = 400 "idempotency-key-missing" "An Idempotency-Key is needed"
        "Requests that create or close something carry an Idempotency-Key header, so that sending one twice does it once. Make a new UUID for each thing you do.";
    NOT_SIGNED_IN = 401 "not-signed-in" "Sign in first"
        "Send a bearer token from POST /api/v1/sessions, or sign in on the page.";
    FORBIDDEN = 403 "forbidden" "Your role may not do this"
        "Ask somebody whose role may, or have the role given to you.";
    FORM_EXPIRED = 403 "form-expired" "Load the page again"
        "The page was open too long, or the form came from somewhere else. Nothing was written: load the page again and send your entry once more.";
    NOT_FOUND = 404 "not-found" "Not found"
        "Nothing is at this address, or it belongs to a shop that is not yours.";
    METHOD = 405 "method-not-allowed" "This address does not take this method"
        "The Allow header lists the methods it takes.";
    NOT_ACCEPTABLE = 406 "not-acceptable" "The answer does not come in that format"
        "Ask for one of the formats that the detail lists.";
    LATE = 408 "body-late" "The body took too long to arrive"
        "Nothing was written. Send it again, with the same Idempotency-Key.";
    CONFLICT = 409 "conflict" "The record does not allow this"
        "Read the detail, look at the record as it is now, and decide again.";
    STALE = 412 "stale" "Somebody else changed it first"
        "Read it again, look at what changed, and send your change with the new ETag in If-Match.";
    TOO_LARGE = 413 "too-large" "The request is too large"
        "Send less at once.";
    MEDIA_TYPE = 415 "media-type" "The body has the wrong type"
        "Send the content type that the detail names.";
    INVALID = 422 "invalid" "Some fields need correcting"
        "Each entry of errors points to a field and says what to do. Nothing was written.";
    KEY_REUSED = 422 "idempotency-key-reused" "This Idempotency-Key was used for another request"
        "Make a new key for a new request; keep a key only to repeat the same one.";
    VERSION_MISSING = 428 "version-missing" "Say which version you are changing"
        "Send the ETag you read in If-Match, so that nobody's change is lost.";
    TOO_MANY = 429 "too-many-tries" "Too many tries"
        "Wait as long as Retry-After says, then try again.";
    INTERNAL = 500 "internal" "Something went wrong on our side"
        "Whether anything was written is not known: look at the record before you try again. The log has the request's id.";
    UNAVAILABLE = 503 "unavailable" "The record cannot be reached right now"
        "Try again after the seconds in Retry-After, with the same Idempotency-Key.";
    DISK_FULL = 507 "disk-full" "The disk that the record is on is full"
        "Nothing was written. What is recorded can still be read. Make room on the disk, then try again with the same Idempotency-Key.";
    NOT_READY = 503 "reports-not-ready" "Reports will be there in a moment"
        "What reports are made from is read anew after the start. Recording works meanwhile; try again after the seconds in Retry-After.";
}

/// After this many seconds it is looked again whether there is room.
const FULL_SECONDS: u32 = 10;
/// After this many seconds a report that was not ready is asked for again.
pub const RELOAD_SECONDS: u32 = 2;

impl Kind {
    /// Whether it is the first of its status: the reference leads there.
    #[must_use]
    pub fn is_first_of_status(&self) -> bool {
        Self::ALL.iter().find(|kind| kind.status == self.status) == Some(self)
    }
}

/// An answer that is not what was asked for.
#[derive(Debug, Clone)]
pub struct Problem {
    pub kind: Kind,
    pub detail: String,
    pub errors: Vec<FieldFault>,
    pub current_version: Option<i32>,
    pub retry_after_seconds: Option<u32>,
    pub allow: Option<String>,
}

/// The body of a problem (RFC 9457).
#[derive(Debug, Serialize, utoipa::ToSchema)]
#[schema(as = Problem)]
pub struct ProblemBody {
    /// Address of the page that explains the kind.
    #[serde(rename = "type")]
    pub kind: String,
    pub title: String,
    pub status: u16,
    pub detail: String,
    /// The faults, field by field.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub errors: Vec<ProblemField>,
    /// With `stale`: the version that stands now.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub current_version: Option<i32>,
}

/// One faulty field.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ProblemField {
    /// RFC 6901 pointer into the body, or the name of a query parameter.
    pub pointer: String,
    pub code: String,
    pub detail: String,
}

impl Problem {
    /// A problem of a kind with its detail.
    #[must_use]
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        Self {
            kind,
            detail: detail.into(),
            errors: Vec::new(),
            current_version: None,
            retry_after_seconds: None,
            allow: None,
        }
    }

    /// Not found, in the same words whatever the reason.
    #[must_use]
    pub fn not_found() -> Self {
        Self::new(Kind::NOT_FOUND, "nothing is at this address for you")
    }

    /// Faulty fields.
    #[must_use]
    pub fn invalid(errors: Vec<FieldFault>) -> Self {
        let detail = errors
            .iter()
            .map(|e| {
                let field = e.pointer.trim_start_matches('/');
                if field.is_empty() { e.detail.clone() } else { format!("{field}: {}", e.detail) }
            })
            .collect::<Vec<_>>()
            .join("; ");
        Self { errors, ..Self::new(Kind::INVALID, detail) }
    }

    /// The JSON body.
    #[must_use]
    pub fn body(&self) -> ProblemBody {
        ProblemBody {
            kind: format!("/problems/{}", self.kind.slug),
            title: self.kind.title.to_owned(),
            status: self.kind.status,
            detail: self.detail.clone(),
            errors: self
                .errors
                .iter()
                .map(|e| ProblemField {
                    pointer: e.pointer.clone(),
                    code: e.code.to_owned(),
                    detail: e.detail.clone(),
                })
                .collect(),
            current_version: self.current_version,
        }
    }

    fn headed(&self) -> HttpResponseBuilder {
        let mut answer = HttpResponse::build(self.status_code());
        answer.insert_header((header::CACHE_CONTROL, "no-store"));
        if self.kind == Kind::NOT_SIGNED_IN {
            answer.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
        }
        if let Some(seconds) = self.retry_after_seconds {
            answer.insert_header((header::RETRY_AFTER, seconds.to_string()));
        }
        if let Some(allow) = self.allow.as_ref().and_then(|a| HeaderValue::from_str(a).ok()) {
            answer.insert_header((header::ALLOW, allow));
        }
        answer
    }

    /// The problem as a page made by `render`.
    #[must_use]
    pub fn page(&self, html: String) -> HttpResponse {
        self.headed().content_type("text/html; charset=utf-8").body(html)
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.kind.title, self.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.kind.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        let body = serde_json::to_string(&self.body()).unwrap_or_default();
        let mut answer = self.headed().content_type("application/problem+json").body(body);
        // Pages show the same problem in their own dress.
        answer.extensions_mut().insert(self.clone());
        answer
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::NotFound => Self::not_found(),
            Refusal::Forbidden(why) => Self::new(Kind::FORBIDDEN, why),
            Refusal::Invalid(errors) => Self::invalid(errors),
            Refusal::Conflict(why) => Self::new(Kind::CONFLICT, why),
            Refusal::Stale(version) => Self {
                current_version: Some(version),
                ..Self::new(Kind::STALE, format!("the version that stands now is {version}"))
            },
            Refusal::KeyReused => Self::new(
                Kind::KEY_REUSED,
                "the key belongs to an earlier request with another body",
            ),
        }
    }
}

impl From<Fault> for Problem {
    fn from(fault: Fault) -> Self {
        match fault {
            Fault::Refused(refusal) => refusal.into(),
            Fault::Busy => Self {
                retry_after_seconds: Some(1),
                ..Self::new(Kind::UNAVAILABLE, "too many writes are waiting")
            },
            Fault::NotReady(how_far) => Self {
                retry_after_seconds: Some(RELOAD_SECONDS),
                ..Self::new(Kind::NOT_READY, how_far)
            },
            Fault::Unavailable(reason) if disk_is_full(&reason) => {
                tracing::error!(reason, "the disk is full");
                Self {
                    retry_after_seconds: Some(FULL_SECONDS),
                    ..Self::new(Kind::DISK_FULL, "there is no room left to write it")
                }
            }
            Fault::Unavailable(reason) => {
                tracing::error!(reason, "the record did not answer");
                Self {
                    retry_after_seconds: Some(2),
                    ..Self::new(Kind::UNAVAILABLE, "the record did not answer as it must")
                }
            }
        }
    }
}

impl From<actix_web::error::BlockingError> for Problem {
    fn from(_: actix_web::error::BlockingError) -> Self {
        Self::new(Kind::INTERNAL, "the work was cut short")
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn a_report_that_is_not_ready_is_asked_for_again() {
        let problem = Problem::from(Fault::NotReady("3 of 20 shops done".into()));
        assert_eq!(
            (problem.kind, problem.detail.as_str()),
            (Kind::NOT_READY, "3 of 20 shops done")
        );
        for answer in [problem.error_response(), problem.page(String::new())] {
            assert_eq!(answer.status().as_u16(), 503);
            assert_eq!(answer.headers().get(header::RETRY_AFTER).unwrap(), "2");
        }
    }
}
