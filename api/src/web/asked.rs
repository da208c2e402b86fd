//! What a request asks for beside its matter: the form of the answer, a dry
//! run, the version it was made for.

use actix_web::HttpRequest;
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderMap};

use crate::domain::refusal::FieldFault;
use crate::problem::{Kind, Problem};
use crate::routes::Route;

/// The form of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    Json,
    Csv,
    Ndjson,
    Text,
}

impl Form {
    /// Every word.
    pub const WORDS: [&'static str; 4] = ["json", "csv", "ndjson", "text"];

    /// The form of a word; `None` where there is no such form.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        REPORT_FORMS.into_iter().find(|form| form.word() == text)
    }

    /// The word for `format`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Csv => "csv",
            Self::Ndjson => "ndjson",
            Self::Text => "text",
        }
    }

    /// The media type without parameters.
    #[must_use]
    pub const fn bare(self) -> &'static str {
        match self {
            Self::Json => "application/json",
            Self::Csv => "text/csv",
            Self::Ndjson => "application/x-ndjson",
            Self::Text => "text/plain",
        }
    }

    /// The media type as it is sent.
    #[must_use]
    pub const fn media_type(self) -> &'static str {
        match self {
            // RFC 4180 and RFC 7111: the first line names the columns.
            Self::Csv => "text/csv; charset=utf-8; header=present",
            Self::Text => "text/plain; charset=utf-8",
            other => other.bare(),
        }
    }
}

/// What a list's answer can be.
pub const LIST_FORMS: [Form; 3] = [Form::Json, Form::Csv, Form::Ndjson];
/// What a report can be.
pub const REPORT_FORMS: [Form; 4] = [Form::Json, Form::Csv, Form::Ndjson, Form::Text];

/// How a list or a report is to be answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    pub form: Form,
    /// Whether a spreadsheet will open it.
    pub spreadsheet: bool,
}

/// Reads the form from `format`, else from Accept (RFC 9110, section 12.5.1).
///
/// # Errors
/// Not acceptable; a faulty parameter.
pub fn form(req: &HttpRequest, offered: &[Form]) -> Result<Asked, Problem> {
    let words: Vec<&str> = offered.iter().map(|form| form.word()).collect();
    let spreadsheet = flag(req.query_string(), "spreadsheet")?;
    let form = match parameter(req.query_string(), "format") {
        Some(word) => {
            offered.iter().copied().find(|form| form.word() == word).ok_or_else(|| {
                faulty("format", "word", format!("choose one of: {}", words.join(", ")))
            })?
        }
        None => by_accept(req.headers(), offered).ok_or_else(|| {
            let types: Vec<&str> = offered.iter().map(|form| form.bare()).collect();
            Problem::new(Kind::NOT_ACCEPTABLE, format!("ask for one of: {}", types.join(", ")))
        })?,
    };
    Ok(Asked { form, spreadsheet })
}

fn by_accept(headers: &HeaderMap, offered: &[Form]) -> Option<Form> {
    let lines: Vec<&str> =
        headers.get_all(header::ACCEPT).filter_map(|value| value.to_str().ok()).collect();
    let accept = lines.join(",");
    if accept.trim().is_empty() {
        return offered.first().copied();
    }
    let mut best: Option<(Form, f32)> = None;
    for form in offered {
        let quality = quality(&accept, form.bare());
        if quality > best.map_or(0.0, |(_, least)| least) {
            best = Some((*form, quality));
        }
    }
    best.map(|(form, _)| form)
}

/// The weight of a media type: the most specific range that takes it counts.
fn quality(accept: &str, media_type: &str) -> f32 {
    let (major, _) = media_type.split_once('/').unwrap_or((media_type, ""));
    let mut found = (0, 0.0);
    for range in accept.split(',') {
        let mut pieces = range.split(';').map(str::trim);
        let named = pieces.next().unwrap_or("").to_ascii_lowercase();
        let rank = if named == media_type {
            3
        } else if named == format!("{major}/*") {
            2
        } else if named == "*/*" {
            1
        } else {
            continue;
        };
        let weight = pieces
            .find_map(|piece| piece.strip_prefix("q=").or_else(|| piece.strip_prefix("Q=")))
            .map_or(1.0, |text| text.trim().parse::<f32>().unwrap_or(0.0).clamp(0.0, 1.0));
        if rank > found.0 || (rank == found.0 && weight > found.1) {
            found = (rank, weight);
        }
    }
    found.1
}

/// The value of a query parameter, as it was sent.
fn parameter<'a>(query: &'a str, name: &str) -> Option<&'a str> {
    query.split('&').find_map(|pair| pair.strip_prefix(name)?.strip_prefix('='))
}

fn flag(query: &str, name: &'static str) -> Result<bool, Problem> {
    match parameter(query, name) {
        None | Some("false") => Ok(false),
        Some("true") => Ok(true),
        Some(_) => Err(faulty(name, "boolean", "write true or false".to_owned())),
    }
}

fn faulty(name: &str, code: &'static str, detail: String) -> Problem {
    Problem::invalid(vec![FieldFault { pointer: name.to_owned(), code, detail }])
}

/// Whether a write is only to be tried.
pub fn dry_run(req: &HttpRequest) -> bool {
    writes(req.method()) && flag(req.query_string(), "dry_run").unwrap_or(false)
}

/// Refuses a dry run that is not one: a word that cannot be read, or an address
/// whose writes cannot be tried. Nobody's record may change by a misreading.
///
/// # Errors
/// A faulty parameter.
pub fn dry_run_fits(req: &HttpRequest, route: &Route) -> Result<(), Problem> {
    if !route.is_api() || !writes(req.method()) {
        return Ok(());
    }
    for pair in req.query_string().split('&').filter(|pair| !pair.is_empty()) {
        match pair.split_once('=') {
            Some(("dry_run", "true" | "false")) => {}
            Some(("dry_run", _)) | None if pair.starts_with("dry_run") => {
                return Err(faulty("dry_run", "boolean", "write true or false".to_owned()));
            }
            _ => {
                let name = pair.split('=').next().unwrap_or(pair);
                let detail = "writes take no parameter but dry_run".to_owned();
                return Err(faulty(name, "unknown", detail));
            }
        }
    }
    if req.query_string().matches("dry_run=").count() > 1 {
        return Err(faulty("dry_run", "twice", "write dry_run once".to_owned()));
    }
    if !flag(req.query_string(), "dry_run")? {
        return Ok(());
    }
    if route.takes_dry_run() {
        return Ok(());
    }
    Err(faulty("dry_run", "unknown", "this address takes no dry run".to_owned()))
}

fn writes(method: &Method) -> bool {
    !matches!(*method, Method::GET | Method::HEAD)
}

/// Parameters that the edge reads itself; handlers do not see them.
const OF_THE_EDGE: [&str; 3] = ["format", "spreadsheet", "dry_run"];

/// The query without what the edge reads.
#[must_use]
pub fn for_handlers(query: &str) -> String {
    let kept: Vec<&str> = query
        .split('&')
        .filter(|pair| !OF_THE_EDGE.contains(&pair.split('=').next().unwrap_or("")))
        .collect();
    kept.join("&")
}

/// How answers may be packed for the way.
pub const PACKINGS: [&str; 2] = ["gzip", "deflate"];

/// The tag of the same answer, packed.
#[must_use]
pub fn packed(tag: &str, packing: &str) -> String {
    format!("{}-{packing}\"", tag.strip_suffix('"').unwrap_or(tag))
}

/// The tag of the same answer as it is before it is packed.
fn unpacked(tag: &str) -> String {
    let ending = PACKINGS.iter().find_map(|packing| tag.strip_suffix(&format!("-{packing}\"")));
    ending.map_or_else(|| tag.to_owned(), |bare| format!("{bare}\""))
}

/// The version in an If-Match: one strong tag, `"3"` or `"3.1f0c9a2b"`, packed or
/// not.
#[must_use]
pub fn version(tag: &str) -> Option<i32> {
    let tag = unpacked(tag.trim());
    let inner = tag.strip_prefix('"')?.strip_suffix('"')?;
    let (number, hash) = inner.split_once('.').unwrap_or((inner, ""));
    let fits = number.bytes().all(|byte| byte.is_ascii_digit())
        && hash.bytes().all(|byte| byte.is_ascii_hexdigit());
    fits.then(|| number.parse().ok())?
}

/// Whether an If-None-Match names the tag (RFC 9110, section 13.1.2: compared
/// weakly).
#[must_use]
pub fn has_it(headers: &HeaderMap, tag: &str) -> bool {
    headers
        .get_all(header::IF_NONE_MATCH)
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(','))
        .map(str::trim)
        .any(|sent| sent == "*" || unpacked(sent.strip_prefix("W/").unwrap_or(sent)) == tag)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_most_specific_range_counts() {
        let accept = "text/*;q=0.3, text/csv;q=0.7, */*;q=0.5";
        assert!((quality(accept, "text/csv") - 0.7).abs() < 1e-6);
        assert!((quality(accept, "text/plain") - 0.3).abs() < 1e-6);
        assert!((quality(accept, "application/json") - 0.5).abs() < 1e-6);
        assert!(quality("image/png", "application/json") < 1e-6);
        assert!(quality("text/csv;q=0, */*", "text/csv") < 1e-6);
    }

    #[test]
    fn a_version_stands_before_the_point() {
        assert_eq!(version("\"3\""), Some(3));
        assert_eq!(version(" \"12.1f0c9a2b\" "), Some(12));
        assert_eq!(version("\"12.1f0c9a2b-gzip\""), Some(12));
        for odd in [
            "3",
            "W/\"3\"",
            "*",
            "\"3.ab\", \"4\"",
            "\"3\", \"4\"",
            "\"x\"",
            "\"\"",
            "\"+3\"",
            "\"9999999999\"",
        ] {
            assert_eq!(version(odd), None, "{odd}");
        }
    }

    #[test]
    fn a_tag_is_found_in_a_list_of_tags() {
        let mut headers = HeaderMap::new();
        let sent = header::HeaderValue::from_static("\"1\", W/\"2\", \"4-gzip\"");
        headers.insert(header::IF_NONE_MATCH, sent);
        assert!(has_it(&headers, "\"2\"") && has_it(&headers, "\"1\""));
        assert!(!has_it(&headers, "\"3\"") && has_it(&headers, "\"4\""));
    }

    #[test]
    fn handlers_do_not_see_what_the_edge_reads() {
        assert_eq!(for_handlers("limit=2&format=csv&spreadsheet=true&q=a"), "limit=2&q=a");
        assert_eq!(for_handlers(""), "");
    }
}
