//! A program's side of HTTP.

use std::time::Duration;

use serde_json::Value;
use ureq::Agent;
use ureq::http::{HeaderMap, Request};

/// Somebody who sends requests: with a token, a cookie, or nothing.
#[derive(Clone)]
pub struct Client {
    agent: Agent,
    base: String,
    /// Address of the shop that relative paths lie in.
    shop: String,
    headers: Vec<(&'static str, String)>,
}

/// A request being put together.
pub struct Call<'a> {
    client: &'a Client,
    method: &'a str,
    path: String,
    headers: Vec<(&'static str, String)>,
    body: Option<Vec<u8>>,
}

/// What came back.
#[derive(Debug, Clone)]
pub struct Answer {
    pub status: u16,
    pub headers: HeaderMap,
    pub body: String,
}

impl Client {
    pub fn new(base: &str) -> Self {
        let agent = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .max_redirects_will_error(false)
            .timeout_global(Some(Duration::from_secs(60)))
            .build()
            .new_agent();
        Self { agent, base: base.to_owned(), shop: String::new(), headers: Vec::new() }
    }

    pub fn with(mut self, name: &'static str, value: String) -> Self {
        self.headers.push((name, value));
        self
    }

    /// Paths without a leading `/` lie below this one from now on.
    pub fn within(mut self, shop: String) -> Self {
        self.shop = shop;
        self
    }

    /// The same person at a server that was started anew.
    pub fn moved_to(mut self, base: &str) -> Self {
        self.base = base.to_owned();
        self
    }

    pub fn call<'a>(&'a self, method: &'a str, path: &str) -> Call<'a> {
        let path = if path.starts_with('/') {
            format!("{}{path}", self.base)
        } else {
            format!("{}{}/{path}", self.base, self.shop)
        };
        Call { client: self, method, path, headers: self.headers.clone(), body: None }
    }

    pub fn get(&self, path: &str) -> Answer {
        self.call("GET", path).send()
    }

    /// Makes something, under a key of its own.
    pub fn post(&self, path: &str, body: &Value) -> Answer {
        self.call("POST", path).json(body).new_key().send()
    }

    /// Ends or decides something: under a key, and on the version that stands.
    pub fn settle(&self, thing: &str, verb: &str, body: &Value) -> Answer {
        let tag = self.get(thing).expect(200).tag();
        self.call("POST", &format!("{thing}/{verb}")).json(body).new_key().if_match(&tag).send()
    }

    /// Changes something on the version that stands.
    pub fn patch(&self, thing: &str, body: &Value) -> Answer {
        let tag = self.get(thing).expect(200).tag();
        self.call("PATCH", thing).json(body).if_match(&tag).send()
    }
}

impl Call<'_> {
    pub fn header(mut self, name: &'static str, value: impl Into<String>) -> Self {
        self.headers.push((name, value.into()));
        self
    }

    pub fn json(self, body: &Value) -> Self {
        self.body(body.to_string(), "application/json")
    }

    pub fn form(self, fields: &[(&str, &str)]) -> Self {
        let body: Vec<String> =
            fields.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
        self.body(body.join("&"), "application/x-www-form-urlencoded")
    }

    pub fn body(mut self, body: impl Into<Vec<u8>>, media_type: &str) -> Self {
        self.body = Some(body.into());
        self.header("content-type", media_type)
    }

    pub fn key(self, key: &str) -> Self {
        self.header("idempotency-key", key)
    }

    pub fn new_key(self) -> Self {
        self.key(&uuid::Uuid::new_v4().to_string())
    }

    pub fn if_match(self, tag: &str) -> Self {
        self.header("if-match", tag)
    }

    pub fn send(self) -> Answer {
        let said = format!("{} {}", self.method, self.path);
        self.try_send().unwrap_or_else(|error| panic!("{said}: {error}"))
    }

    /// Sends; an error where no whole answer came.
    pub fn try_send(self) -> Result<Answer, ureq::Error> {
        let mut request = Request::builder().method(self.method).uri(&self.path);
        for (name, value) in &self.headers {
            request = request.header(*name, value);
        }
        let agent = &self.client.agent;
        let mut answer = match self.body {
            Some(body) => agent.run(request.body(body)?)?,
            None => agent.run(request.body(())?)?,
        };
        Ok(Answer {
            status: answer.status().as_u16(),
            headers: answer.headers().clone(),
            body: answer.body_mut().with_config().limit(64 << 20).read_to_string()?,
        })
    }
}

impl Answer {
    /// Fails where another status came.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}", self.body);
        self
    }

    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.body))
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }

    #[track_caller]
    pub fn tag(&self) -> String {
        let tag = self.header("etag");
        assert!(tag.starts_with('"') && tag.ends_with('"'), "no ETag: {}", self.body);
        tag.to_owned()
    }

    /// The version that the ETag names.
    #[track_caller]
    pub fn version(&self) -> i64 {
        let tag = self.tag();
        let (version, _) = tag.trim_matches('"').split_once('.').expect("a hash behind a point");
        version.parse().unwrap()
    }

    /// A problem document (RFC 9457) of that status and kind.
    #[track_caller]
    pub fn problem(&self, status: u16, kind: &str) -> Value {
        assert_eq!(self.status, status, "{}", self.body);
        assert_eq!(self.header("content-type"), "application/problem+json");
        let problem = self.json();
        assert_eq!(problem["type"], format!("/problems/{kind}"), "{problem}");
        assert_eq!(problem["status"], status);
        for member in ["title", "detail"] {
            assert!(problem[member].as_str().is_some_and(|text| !text.is_empty()), "{problem}");
        }
        problem
    }

    /// The fields that a 422 points at.
    #[track_caller]
    pub fn pointers(&self) -> Vec<String> {
        let problem = self.problem(422, "invalid");
        let errors = problem["errors"].as_array().unwrap();
        errors.iter().map(|error| error["pointer"].as_str().unwrap().to_owned()).collect()
    }
}

/// Percent-encoded for a form or a query.
pub fn encoded(text: &str) -> String {
    let byte = |byte: u8| match byte {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'_' | b'.' | b'~' => {
            char::from(byte).to_string()
        }
        other => format!("%{other:02X}"),
    };
    text.bytes().map(byte).collect()
}
