//! The settings that there are, and what stood on the command line.

use std::path::PathBuf;

/// A setting that the program knows.
pub(super) struct Known {
    pub(super) name: &'static str,
    pub(super) variable: &'static str,
    pub(super) flag: &'static str,
    pub(super) default: Option<&'static str>,
    pub(super) kind: Kind,
}

/// What its value may be.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A text that may hold a password: never shown whole, and taken from a
    /// file that a second variable names.
    Secret,
    Text,
    Switch,
    /// A whole number, from and to.
    Number(usize, usize),
    Word(&'static [&'static str]),
}

pub(super) const KNOWN: &[Known] = &[
    Known {
        name: "data",
        variable: "ONETRIP_DATA",
        flag: "--data",
        default: Some("onetrip-data"),
        kind: Kind::Secret,
    },
    Known {
        name: "listen",
        variable: "ONETRIP_LISTEN",
        flag: "--listen",
        default: Some("127.0.0.1:8437"),
        kind: Kind::Text,
    },
    Known {
        name: "tls_certificate",
        variable: "ONETRIP_TLS_CERTIFICATE",
        flag: "--tls-certificate",
        default: None,
        kind: Kind::Text,
    },
    Known {
        name: "tls_key",
        variable: "ONETRIP_TLS_KEY",
        flag: "--tls-key",
        default: None,
        kind: Kind::Text,
    },
    Known {
        name: "plain_http",
        variable: "ONETRIP_PLAIN_HTTP",
        flag: "--plain-http",
        default: Some("false"),
        kind: Kind::Switch,
    },
    Known {
        name: "metrics",
        variable: "ONETRIP_METRICS",
        flag: "--metrics",
        default: None,
        kind: Kind::Text,
    },
    Known {
        name: "secure_cookies",
        variable: "ONETRIP_SECURE_COOKIES",
        flag: "--secure-cookies",
        default: Some("false"),
        kind: Kind::Switch,
    },
    Known {
        name: "trusted_proxies",
        variable: "ONETRIP_TRUSTED_PROXIES",
        flag: "--trusted-proxies",
        default: None,
        kind: Kind::Text,
    },
    Known {
        name: "backup_to",
        variable: "ONETRIP_BACKUP_TO",
        flag: "--backup-to",
        default: None,
        kind: Kind::Text,
    },
    Known {
        name: "backup_minutes",
        variable: "ONETRIP_BACKUP_MINUTES",
        flag: "--backup-minutes",
        default: Some("60"),
        kind: Kind::Text,
    },
    Known {
        name: "most_requests",
        variable: "ONETRIP_MOST_REQUESTS",
        flag: "",
        default: Some("256"),
        kind: Kind::Number(1, 100_000),
    },
    Known {
        name: "body_seconds",
        variable: "ONETRIP_BODY_SECONDS",
        flag: "",
        default: Some("30"),
        kind: Kind::Number(1, 3_600),
    },
    Known {
        name: "password_cost",
        variable: "ONETRIP_PASSWORD_COST",
        flag: "",
        default: Some("measured"),
        kind: Kind::Word(&["measured", "least"]),
    },
    Known {
        name: "log",
        variable: "RUST_LOG",
        flag: "--log",
        default: Some("warn"),
        kind: Kind::Text,
    },
    Known {
        name: "log_form",
        variable: "ONETRIP_LOG_FORM",
        flag: "--log-form",
        default: Some("full"),
        kind: Kind::Word(&["full", "compact", "json"]),
    },
];

/// What stood on the command line.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    pub config: Option<PathBuf>,
    pub data: Option<String>,
    pub listen: Option<String>,
    pub tls_certificate: Option<String>,
    pub tls_key: Option<String>,
    pub plain_http: bool,
    pub metrics: Option<String>,
    pub secure_cookies: bool,
    pub trusted_proxies: Option<String>,
    pub backup_to: Option<String>,
    pub backup_minutes: Option<String>,
    pub log: Option<String>,
    pub log_form: Option<String>,
}

impl Flags {
    pub(super) fn get(&self, name: &str) -> Option<String> {
        match name {
            "data" => self.data.clone(),
            "listen" => self.listen.clone(),
            "tls_certificate" => self.tls_certificate.clone(),
            "tls_key" => self.tls_key.clone(),
            "plain_http" => self.plain_http.then(|| "true".to_owned()),
            "metrics" => self.metrics.clone(),
            "secure_cookies" => self.secure_cookies.then(|| "true".to_owned()),
            "trusted_proxies" => self.trusted_proxies.clone(),
            "backup_to" => self.backup_to.clone(),
            "backup_minutes" => self.backup_minutes.clone(),
            "log" => self.log.clone(),
            "log_form" => self.log_form.clone(),
            _ => None,
        }
    }
}
