//! The program's settings and where each came from: a flag goes before the
//! environment, the environment before the settings file, the file before what
//! the program does by itself. Nothing else reads the environment.

mod known;

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::db::Place;
use crate::web::client;

pub use known::Flags;
use known::{KNOWN, Kind, Known};

/// Names the settings file where no flag does.
const FILE_VARIABLE: &str = "ONETRIP_CONFIG";

/// Where a value came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    Default,
    File(PathBuf),
    /// The variable, or the one that named a file with the value.
    Environment(String),
    Flag(&'static str),
}

impl std::fmt::Display for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Default => f.write_str("default"),
            Self::File(path) => write!(f, "file {}", path.display()),
            Self::Environment(name) => write!(f, "environment {name}"),
            Self::Flag(name) => write!(f, "flag {name}"),
        }
    }
}

/// How a line of the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogForm {
    Full,
    Compact,
    Json,
}

/// What a password's hash costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PasswordCost {
    /// As much as this machine makes in time.
    Measured,
    Least,
}

/// A setting as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setting {
    pub name: &'static str,
    pub value: Option<String>,
    pub source: Source,
    secret: bool,
}

impl Setting {
    /// For people: a password in it is not shown.
    #[must_use]
    pub fn shown(&self) -> String {
        match &self.value {
            None => "off".to_owned(),
            Some(value) if self.secret => masked(value),
            Some(value) => value.clone(),
        }
    }
}

/// A place without its password.
fn masked(place: &str) -> String {
    let shown = match Place::parse(place) {
        Place::Folder(path) => return path.display().to_string(),
        Place::Url(url) => url,
    };
    let (address, options) = shown.split_once('?').unwrap_or((&shown, ""));
    let (scheme, rest) = address.split_once("://").unwrap_or(("postgres", address));
    let rest = match rest.rsplit_once('@') {
        Some((who, server)) => match who.split_once(':') {
            Some((name, _)) => format!("{name}:***@{server}"),
            None => rest.to_owned(),
        },
        None => rest.to_owned(),
    };
    let hidden = |option: &str| match option.split_once('=') {
        Some((name, _)) if name.contains("password") => format!("{name}=***"),
        _ => option.to_owned(),
    };
    let options: Vec<String> = options.split('&').filter(|o| !o.is_empty()).map(hidden).collect();
    let mark = if options.is_empty() { "" } else { "?" };
    format!("{scheme}://{rest}{mark}{}", options.join("&"))
}

/// All settings.
#[derive(Debug, Clone)]
pub struct Config {
    settings: Vec<Setting>,
}

impl Config {
    /// Reads everything.
    ///
    /// # Errors
    /// A sentence about the setting, variable or file that cannot be taken.
    pub fn load(flags: &Flags) -> Result<Self, String> {
        Self::read(flags, &variable)
    }

    fn read(
        flags: &Flags,
        variable: &dyn Fn(&str) -> Result<Option<String>, String>,
    ) -> Result<Self, String> {
        let named = match &flags.config {
            Some(path) => Some(path.clone()),
            None => variable(FILE_VARIABLE)?.map(PathBuf::from),
        };
        let file = named.as_deref().map(settings_file).transpose()?.unwrap_or_default();
        let mut settings = Vec::new();
        for known in KNOWN {
            let from_file = || {
                let value = file.get(known.name)?.clone();
                Some((value, Source::File(named.clone().unwrap_or_default())))
            };
            let given = match flags.get(known.name) {
                Some(value) => Some((value, Source::Flag(known.flag))),
                None => environment(known, variable)?.or_else(from_file),
            };
            let (value, source) = match given {
                Some((value, source)) => (Some(known.fit(value, &source)?), source),
                None => (known.default.map(str::to_owned), Source::Default),
            };
            let secret = known.kind == Kind::Secret;
            settings.push(Setting { name: known.name, value, source, secret });
        }
        Ok(Self { settings })
    }

    /// Every setting, in a fixed order.
    #[must_use]
    pub fn settings(&self) -> &[Setting] {
        &self.settings
    }

    fn get(&self, name: &str) -> Option<&str> {
        self.settings.iter().find(|setting| setting.name == name)?.value.as_deref()
    }

    /// Where the record lives.
    #[must_use]
    pub fn place(&self) -> Place {
        Place::parse(self.get("data").unwrap_or_default())
    }

    /// Address and port to serve on.
    #[must_use]
    pub fn listen(&self) -> &str {
        self.get("listen").unwrap_or_default()
    }

    /// The file of the server's certificate; `None`: it speaks plain http.
    #[must_use]
    pub fn tls_certificate(&self) -> Option<&Path> {
        self.get("tls_certificate").map(Path::new)
    }

    /// The file of the certificate's key.
    #[must_use]
    pub fn tls_key(&self) -> Option<&Path> {
        self.get("tls_key").map(Path::new)
    }

    /// Whether other machines may be spoken to in plain http.
    #[must_use]
    pub fn plain_http(&self) -> bool {
        self.get("plain_http") == Some("true")
    }

    /// Address and port of the metrics; `None`: they are off.
    #[must_use]
    pub fn metrics(&self) -> Option<&str> {
        self.get("metrics")
    }

    /// Whether page sessions are only for https.
    #[must_use]
    pub fn secure_cookies(&self) -> bool {
        self.get("secure_cookies") == Some("true")
    }

    /// Backups by schedule: the folder and the minutes between two; `None`: off.
    ///
    /// # Errors
    /// A sentence about minutes that are none.
    pub fn backups(&self) -> Result<Option<(PathBuf, u32)>, String> {
        let Some(folder) = self.get("backup_to") else { return Ok(None) };
        let minutes = self.get("backup_minutes").unwrap_or_default();
        match minutes.parse() {
            Ok(number @ 1..=44_640) => Ok(Some((PathBuf::from(folder), number))),
            _ => Err(format!("backup_minutes is '{minutes}': write a number from 1 to 44640")),
        }
    }

    /// Web servers in front that are believed whom they speak for.
    ///
    /// # Errors
    /// The address that cannot be read.
    pub fn trusted_proxies(&self) -> Result<Vec<ipnet::IpNet>, String> {
        client::networks(self.get("trusted_proxies").unwrap_or_default())
            .map_err(|why| format!("trusted_proxies: {why}"))
    }

    fn number(&self, name: &str) -> usize {
        self.get(name).and_then(|text| text.parse().ok()).unwrap_or_default()
    }

    /// Requests that may be in flight at once.
    #[must_use]
    pub fn most_requests(&self) -> usize {
        self.number("most_requests")
    }

    /// How long a body may take to arrive, and what is sent may stay untaken.
    #[must_use]
    pub fn body_patience(&self) -> Duration {
        Duration::from_secs(self.number("body_seconds") as u64)
    }

    /// What a password's hash costs.
    #[must_use]
    pub fn password_cost(&self) -> PasswordCost {
        match self.get("password_cost") {
            Some("least") => PasswordCost::Least,
            _ => PasswordCost::Measured,
        }
    }

    /// What is logged.
    #[must_use]
    pub fn log(&self) -> &str {
        self.get("log").unwrap_or_default()
    }

    /// How a line of the log is written.
    #[must_use]
    pub fn log_form(&self) -> LogForm {
        match self.get("log_form") {
            Some("compact") => LogForm::Compact,
            Some("json") => LogForm::Json,
            _ => LogForm::Full,
        }
    }
}

impl Known {
    fn fit(&self, value: String, source: &Source) -> Result<String, String> {
        let words: &[&str] = match self.kind {
            Kind::Word(words) => words,
            Kind::Switch => &["true", "false"],
            Kind::Secret | Kind::Text if value.trim().is_empty() => {
                return Err(format!("{} is empty ({source}); write a value", self.name));
            }
            Kind::Secret | Kind::Text => return Ok(value),
            Kind::Number(least, most) => {
                let fits = |number: &usize| (least..=most).contains(number);
                return match value.parse().ok().filter(fits) {
                    Some(number) => Ok(number.to_string()),
                    None => Err(format!(
                        "{} is '{value}' ({source}); write a number from {least} to {most}",
                        self.name
                    )),
                };
            }
        };
        if words.contains(&value.as_str()) {
            return Ok(value);
        }
        Err(format!("{} is '{value}' ({source}); write one of: {}", self.name, words.join(", ")))
    }
}

/// A setting's value in the environment: given there, or in a file named there.
fn environment(
    known: &Known,
    variable: &dyn Fn(&str) -> Result<Option<String>, String>,
) -> Result<Option<(String, Source)>, String> {
    let given = variable(known.variable)?;
    if known.kind != Kind::Secret {
        return Ok(given.map(|value| (value, Source::Environment(known.variable.to_owned()))));
    }
    let by_file = format!("{}_FILE", known.variable);
    match (given, variable(&by_file)?) {
        (Some(_), Some(_)) => {
            Err(format!("{} and {by_file} are both set; unset one of them", known.variable))
        }
        (Some(value), None) => Ok(Some((value, Source::Environment(known.variable.to_owned())))),
        (None, Some(path)) => {
            let text = std::fs::read_to_string(&path)
                .map_err(|error| format!("{by_file} names {path}: {error}"))?;
            let value = text.trim_end_matches(['\n', '\r']).to_owned();
            Ok(Some((value, Source::Environment(by_file))))
        }
        (None, None) => Ok(None),
    }
}

#[expect(clippy::disallowed_methods, reason = "the one place that reads the environment")]
fn variable(name: &str) -> Result<Option<String>, String> {
    match std::env::var(name) {
        Ok(value) => Ok(Some(value)),
        Err(std::env::VarError::NotPresent) => Ok(None),
        Err(std::env::VarError::NotUnicode(_)) => Err(format!("{name} is not UTF-8")),
    }
}

/// The settings that a file gives, by name.
fn settings_file(path: &Path) -> Result<std::collections::BTreeMap<String, String>, String> {
    let shown = path.display();
    let text = std::fs::read_to_string(path).map_err(|error| format!("{shown}: {error}"))?;
    let table: toml::Table = text.parse().map_err(|error| format!("{shown}: {error}"))?;
    let mut settings = std::collections::BTreeMap::new();
    for (name, value) in table {
        let Some(known) = KNOWN.iter().find(|known| known.name == name) else {
            let names: Vec<&str> = KNOWN.iter().map(|known| known.name).collect();
            return Err(format!(
                "{shown}: there is no setting {name}; there are: {}",
                names.join(", ")
            ));
        };
        let text = match (value, known.kind) {
            (toml::Value::String(text), Kind::Secret | Kind::Text | Kind::Word(_)) => text,
            (toml::Value::Boolean(on), Kind::Switch) => on.to_string(),
            (toml::Value::Integer(number), Kind::Number(..)) => number.to_string(),
            (_, Kind::Number(..)) => return Err(format!("{shown}: {name} is a whole number")),
            (_, Kind::Switch) => return Err(format!("{shown}: {name} is true or false")),
            _ => return Err(format!("{shown}: {name} is a text in quotation marks")),
        };
        settings.insert(name, text);
    }
    Ok(settings)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests;
