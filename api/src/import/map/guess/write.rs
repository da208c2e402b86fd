//! A guessed mapping as text, with its reasons.

use std::path::Path;

use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, Outcome, PartRole, Payer, Serviceable,
    WorkedAs,
};

use super::{Kind, Match, Proposal, Sample, kind, section};
use crate::import::files::{Column, HistoryFile};

/// Different values of a column that are worth translating.
const MOST_WORDS: usize = 20;

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
    let comma = |text: &&str| {
        text.rsplit_once(',').is_some_and(|(_, after)| (1..=2).contains(&after.len()))
    };
    let (decimal, why) = match of_kind(Kind::Number).find(comma) {
        Some(value) => (",", format!("a value here: {value}")),
        None => (".", "no value here speaks against it".to_owned()),
    };
    let times: Vec<&str> = of_kind(Kind::Time).take(3).collect();
    let by_itself = times.iter().all(|text| crate::domain::clock::UtcStamp::parse(text).is_some());
    let time = if by_itself && !times.is_empty() { "RFC 3339" } else { "" };
    lines.extend([
        "[form]".to_owned(),
        format!("delimiter = {}   # what the first line is split by: , ; or tab", quoted(delimiter)),
        "encoding = \"UTF-8\"   # nothing else is read: save the files so".to_owned(),
        format!("decimal = {}   # {why}", quoted(decimal)),
        "thousands = \"\"   # the sign between thousands, where there is one".to_owned(),
        "signs = \"$\"   # signs in numbers that say nothing".to_owned(),
        format!(
            "time = {}   # fill in as the program writes it, such as \"MM/DD/YYYY HH:MM\" or \"DD.MM.YYYY HH:MM\"; values here: {}",
            quoted(time),
            times.join(" | ")
        ),
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
    for column in known.file.columns().iter().filter(|column| column.name != "suspect") {
        lines.push(match known.columns.get(column.name) {
            Some(offer) => guessed(known, column, offer),
            None if column.name == "shop" => {
                "shop = { fixed = \"MAIN\" }   # no header looks like it: write your shop's code"
                    .to_owned()
            }
            None if column.required => {
                format!("{} = \"\"   # needed: no header looks like it", column.name)
            }
            None => format!("# {} = \"\"", column.name),
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

fn guessed(known: &Match<'_>, column: &Column, offer: &Proposal) -> String {
    let (name, header) = (column.name, quoted(&offer.header));
    let words = words_of(column.name);
    let values = known.sample.values(&offer.header);
    let strange: Vec<&str> = values.into_iter().filter(|v| !words.contains(v)).collect();
    if words.is_empty() || strange.is_empty() || strange.len() > MOST_WORDS {
        return format!("{name} = {header}   # {}", offer.why);
    }
    let pairs: Vec<String> =
        strange.iter().map(|value| format!("{} = \"\"", quoted(value))).collect();
    format!(
        "{name} = {{ from = {header}, words = {{ {} }} }}   # {}; fill in one of: {}, or \"-\" for none",
        pairs.join(", "),
        offer.why,
        words.join(", ")
    )
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
        "serviceable" => Serviceable::WORDS,
        "activity" => Activity::WORDS,
        "as" => WorkedAs::WORDS,
        "odometer_unit" => crate::domain::odometer::UNITS,
        _ => &[],
    }
}
