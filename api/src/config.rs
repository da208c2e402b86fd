//! The program's settings and where each came from: a flag goes before the
//! environment, the environment before the settings file, the file before what
//! the program does by itself. Nothing else reads the environment.

use std::path::{Path, PathBuf};

use crate::db::Place;

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

/// A setting that the program knows.
struct Known {
    name: &'static str,
    variable: &'static str,
    flag: &'static str,
    default: Option<&'static str>,
    kind: Kind,
}

/// What its value may be.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// A text that may hold a password: never shown whole, and taken from a
    /// file that a second variable names.
    Secret,
    Text,
    Switch,
    Word(&'static [&'static str]),
}

const KNOWN: &[Known] = &[
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
        kind: Kind::Word(&["full", "compact"]),
    },
];

/// What stood on the command line.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    pub config: Option<PathBuf>,
    pub data: Option<String>,
    pub listen: Option<String>,
    pub metrics: Option<String>,
    pub secure_cookies: bool,
    pub backup_to: Option<String>,
    pub backup_minutes: Option<String>,
    pub log: Option<String>,
    pub log_form: Option<String>,
}

impl Flags {
    fn get(&self, name: &str) -> Option<String> {
        match name {
            "data" => self.data.clone(),
            "listen" => self.listen.clone(),
            "metrics" => self.metrics.clone(),
            "secure_cookies" => self.secure_cookies.then(|| "true".to_owned()),
            "backup_to" => self.backup_to.clone(),
            "backup_minutes" => self.backup_minutes.clone(),
            "log" => self.log.clone(),
            "log_form" => self.log_form.clone(),
            _ => None,
        }
    }
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

    /// What is logged.
    #[must_use]
    pub fn log(&self) -> &str {
        self.get("log").unwrap_or_default()
    }

    /// Whether log lines are the short ones.
    #[must_use]
    pub fn compact_log(&self) -> bool {
        self.get("log_form") == Some("compact")
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
