//! A guessed mapping as text, with its reasons.

use std::path::Path;

use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, Outcome, PartRole, Payer, Serviceable,
    WorkedAs,
};

use super::{Kind, Match, Proposal, Sample, forms, kind, section};
use crate::import::files::{Column, HistoryFile};
use crate::import::labels::{self, Labels};

/// Different values of a column that are worth translating.
const MOST_WORDS: usize = 20;
/// The same where the column has codes of a list.
const MOST_CODES: usize = 60;

/// A TOML text in quotation marks.
fn quoted(text: &str) -> String {
    serde_json::to_string(text).unwrap_or_default()
}

/// The whole mapping.
pub fn mapping(folder: &Path, samples: &[Sample], matched: &[Match<'_>]) -> String {
    let name = folder.file_name().map(|name| name.to_string_lossy().into_owned());
    let mut lines = vec![
        "# How another program's files are read. Every line is a guess or still to be".to_owned(),
        "# filled in: read it through, then: onetrip import FOLDER --map THIS-FILE --dry-run"
            .to_owned(),
        format!("name = {}", quoted(name.as_deref().unwrap_or("another program"))),
        String::new(),
    ];
    form(matched, &mut lines);
    for file in HistoryFile::ALL {
        match matched.iter().find(|known| known.file == *file) {
            Some(known) => sheet(known, &mut lines),
            None if file.is_required() => lines.extend([
                String::new(),
                format!("# [{}]        needed, and no file looks like it", section(*file)),
            ]),
            None => {}
        }
    }
    let used = |sample: &&Sample| matched.iter().any(|known| known.sample.name == sample.name);
    let left: Vec<&str> =
        samples.iter().filter(|sample| !used(sample)).map(|s| s.name.as_str()).collect();
    if !left.is_empty() {
        lines.extend([String::new(), format!("# files left aside: {}", left.join(", "))]);
    }
    lines.join("\n") + "\n"
}

fn form(matched: &[Match<'_>], lines: &mut Vec<String>) {
    let delimiter = match matched.first().map(|known| known.sample.delimiter) {
        Some(b';') => ";",
        Some(b'\t') => "tab",
        _ => ",",
    };
    let of_kind = |wanted: Kind| {
        matched.iter().flat_map(move |known| {
            let columns = known.columns.iter().filter(move |(column, _)| kind(column) == wanted);
            columns.flat_map(|(_, offer)| known.sample.values(&offer.header))
        })
    };
    let numbers = forms::numbers(&of_kind(Kind::Number).collect::<Vec<_>>());
    let times: Vec<&str> = of_kind(Kind::Time).collect();
    let shown = times.iter().take(3).copied().collect::<Vec<_>>().join(" | ");
    let (time, why) = match forms::times(&times) {
        Some(time) => (time, "only so all values here can be read, such as"),
        None => (
            String::new(),
            "fill in as the program writes it, such as \"MM/DD/YYYY HH:MM\" or \"DD.MM.YYYY HH:MM\"; values here:",
        ),
    };
    lines.extend([
        "[form]".to_owned(),
        format!(
            "delimiter = {}   # what the first line is split by: , ; or tab",
            quoted(delimiter)
        ),
        "encoding = \"UTF-8\"   # nothing else is read: save the files so".to_owned(),
        format!("decimal = {}   # {}", quoted(numbers.decimal), numbers.why),
        format!(
            "thousands = {}   # the sign between thousands, where there is one",
            quoted(numbers.thousands)
        ),
        format!("signs = {}   # signs in numbers that say nothing", quoted(&numbers.signs)),
        format!("time = {}   # {why} {shown}", quoted(&time)),
        "# at = \"08:00\"   # the time of day that is meant where there are only dates".to_owned(),
        "# zone = \"America/Chicago\"   # of times without one; absent: the shop's".to_owned(),
    ]);
}

fn sheet(known: &Match<'_>, lines: &mut Vec<String>) {
    let called = section(known.file);
    lines.extend([
        String::new(),
        format!("[{called}]"),
        format!("file = {}", quoted(&known.sample.name)),
        format!("[{called}.columns]"),
    ]);
    for column in known.file.columns() {
        lines.extend(match known.columns.get(column.name) {
            Some(offer) => Some(guessed(known, column, offer)),
            None if column.name == "suspect" => None,
            None => Some(unknown(column)),
        });
    }
    let used: Vec<&str> = known.columns.values().map(|offer| offer.header.as_str()).collect();
    let left: Vec<&str> = known
        .sample
        .headers
        .iter()
        .map(String::as_str)
        .filter(|header| !used.contains(header))
        .collect();
    if !left.is_empty() {
        lines.push(format!("# headers left aside: {}", left.join(", ")));
    }
}

/// A column that no header looks like.
fn unknown(column: &Column) -> String {
    let name = column.name;
    let words = words_of(name).join(", ");
    match (name, column.required) {
        ("shop", _) => {
            "shop = { fixed = \"MAIN\" }   # no header looks like it: write your shop's code"
                .to_owned()
        }
        (_, true) if words.is_empty() => {
            format!("{name} = \"\"   # needed: no header looks like it")
        }
        (_, true) => format!("{name} = \"\"   # needed: no header looks like it; one of: {words}"),
        (_, false) if words.is_empty() => format!("# {name} = \"\""),
        (_, false) => format!("# {name} = \"\"   # one of: {words}"),
    }
}

fn guessed(known: &Match<'_>, column: &Column, offer: &Proposal) -> String {
    let (name, header) = (column.name, quoted(&offer.header));
    let (words, list) = (words_of(name), list_of(name));
    let taken = |value: &&str| match list {
        Some(list) => labels::starting().any(|(of, code, _)| of == list && code == *value),
        None => words.contains(value),
    };
    let values = known.sample.values(&offer.header);
    let strange: Vec<&str> = values.into_iter().filter(|value| !taken(value)).collect();
    let most = if list.is_some() { MOST_CODES } else { MOST_WORDS };
    if (words.is_empty() && list.is_none()) || strange.is_empty() || strange.len() > most {
        return format!("{name} = {header}   # {}", offer.why);
    }
    let starting = Labels::starting();
    let pairs: Vec<String> = strange
        .iter()
        .map(|value| {
            let meant = match list {
                Some(list) => starting.code(list, value).unwrap_or_default(),
                None => plain_meaning(name, value),
            };
            format!("{} = {}", quoted(value), quoted(meant))
        })
        .collect();
    let fill = match list {
        Some(list) => format!(
            "fill in a code of `onetrip codes {list}` where one means the same, else the shop's own code, or \"-\" for none"
        ),
        None => format!("fill in one of: {}, or \"-\" for none", words.join(", ")),
    };
    format!(
        "{name} = {{ from = {header}, words = {{ {} }} }}   # {}; {fill}",
        pairs.join(", "),
        offer.why
    )
}

/// The list of codes that a column is of, where every shop starts with one.
fn list_of(column: &str) -> Option<&'static str> {
    match column {
        "symptom" => Some("symptom"),
        "cause" => Some("cause"),
        "check" => Some("check"),
        "comeback_reason" => Some("comeback_reason"),
        _ => None,
    }
}

/// What a value can only mean; empty where people must say.
fn plain_meaning(column: &str, value: &str) -> &'static str {
    match (column, value.to_lowercase().as_str()) {
        ("suspect", "y" | "yes" | "1" | "x") => "true",
        ("suspect", "n" | "no" | "0") => "false",
        _ => "",
    }
}

/// The words of a closed list; empty where the column has none.
fn words_of(column: &str) -> &'static [&'static str] {
    match column {
        "kind" => JobKind::WORDS,
        "outcome" => Outcome::WORDS,
        "cause_state" => CauseState::WORDS,
        "payer" => Payer::WORDS,
        "finding" => Finding::WORDS,
        "disposition" => Disposition::WORDS,
        "role" => PartRole::WORDS,
        "suspect" => &["true", "false"],
        "serviceable" => Serviceable::WORDS,
        "activity" => Activity::WORDS,
        "as" => WorkedAs::WORDS,
        "odometer_unit" => crate::domain::odometer::UNITS,
        _ => &[],
    }
}
