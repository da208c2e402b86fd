//! A proposal of a mapping from the names that stand in a folder's files. Each
//! guess says why it was made; what is not known is left to fill in. How times
//! and numbers are written is stated only where all values fit one way: a day
//! and a month look alike.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::names::{alike, normal, of_column, of_file};
use super::read::section;
use super::{Kind, kind};
use crate::import::files::HistoryFile;
use crate::import::source::readable;

mod forms;
mod write;

/// Rows that are looked at for examples.
const LOOKED_AT: usize = 500;
/// How much surer a column is that must be there: a lone `Line` is the job's.
const NEEDED: usize = 15;
/// Below this, names are not alike.
const ALIKE: usize = 72;

/// A file of the folder, as far as a guess needs it.
struct Sample {
    name: String,
    delimiter: u8,
    headers: Vec<String>,
    rows: Vec<csv::StringRecord>,
}

/// A proposal for one column.
struct Proposal {
    header: String,
    why: String,
    score: usize,
}

/// A history file with the file it may come from.
struct Match<'a> {
    file: HistoryFile,
    sample: &'a Sample,
    columns: BTreeMap<&'static str, Proposal>,
}

/// A mapping that people finish.
pub struct Guess {
    pub text: String,
    /// What an import will refuse about the files, a sentence each.
    pub unfit: Vec<String>,
}

/// Looks at a folder's CSV files and writes a mapping that people finish.
///
/// # Errors
/// A sentence.
pub fn guess(folder: &Path) -> Result<Guess, String> {
    let samples = samples(folder)?;
    if samples.is_empty() {
        return Err(format!("{} has no .csv file with a first line", folder.display()));
    }
    let matched = matched(&samples);
    let unfit = matched.iter().filter_map(|known| {
        let Sample { name, delimiter, .. } = known.sample;
        let why = readable(&folder.join(name), *delimiter).err()?;
        Some(format!("{name}: {why}"))
    });
    Ok(Guess { text: write::mapping(folder, &samples, &matched), unfit: unfit.collect() })
}

fn samples(folder: &Path) -> Result<Vec<Sample>, String> {
    let listing = std::fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let mut paths: Vec<PathBuf> = listing
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
            path.is_file() && ["csv", "txt", "tsv"].contains(&ending.to_lowercase().as_str())
        })
        .collect();
    paths.sort();
    Ok(paths.iter().filter_map(|path| sample(path)).collect())
}

/// The first rows of a file; `None` where it is no table of text.
fn sample(path: &Path) -> Option<Sample> {
    let name = path.file_name()?.to_str()?.to_owned();
    let first = std::io::BufRead::lines(std::io::BufReader::new(std::fs::File::open(path).ok()?))
        .next()?
        .ok()?;
    let count = |sign: char| first.matches(sign).count();
    let delimiter = [(b';', count(';')), (b'\t', count('\t')), (b',', count(','))]
        .into_iter()
        .max_by_key(|(_, count)| *count)
        .map_or(b',', |(sign, _)| sign);
    let mut reader =
        csv::ReaderBuilder::new().flexible(true).delimiter(delimiter).from_path(path).ok()?;
    let headers = reader.headers().ok()?;
    let headers: Vec<String> =
        headers.iter().map(|h| h.trim_start_matches('\u{feff}').trim().to_owned()).collect();
    let rows = reader.records().take(LOOKED_AT).filter_map(Result::ok).collect();
    Some(Sample { name, delimiter, headers, rows })
}

impl Sample {
    /// The different values of a column, as they come.
    fn values(&self, header: &str) -> Vec<&str> {
        let Some(at) = self.headers.iter().position(|known| known == header) else {
            return Vec::new();
        };
        let mut seen = BTreeSet::new();
        let cells = self.rows.iter().filter_map(|row| row.get(at)).map(str::trim);
        cells.filter(|text| !text.is_empty() && seen.insert(*text)).collect()
    }
}

/// The best file for each history file, each file once; the surest first.
fn matched(samples: &[Sample]) -> Vec<Match<'_>> {
    let mut offers = Vec::new();
    for file in HistoryFile::ALL {
        for sample in samples {
            let columns = columns(*file, sample);
            let needed = file.columns().iter().filter(|column| column.required);
            let found = needed.filter(|column| columns.contains_key(column.name)).count();
            let score = named(*file, &sample.name) + columns.len() * 10 + found * 15;
            offers.push((score, Match { file: *file, sample, columns }));
        }
    }
    offers.sort_by_key(|(score, offer)| (std::cmp::Reverse(*score), offer.file));
    let mut taken: Vec<Match<'_>> = Vec::new();
    for (_, offer) in offers {
        let free =
            |known: &Match<'_>| known.file != offer.file && known.sample.name != offer.sample.name;
        if !offer.columns.is_empty() && taken.iter().all(free) {
            taken.push(offer);
        }
    }
    taken.sort_by_key(|known| known.file);
    taken
}

/// How much a file's name says that it is this one.
fn named(file: HistoryFile, name: &str) -> usize {
    let (stem, _) = name.rsplit_once('.').unwrap_or((name, ""));
    let stem = normal(stem);
    let usual = of_file(file).iter();
    usual.map(|usual| if *usual == stem { 100 } else { alike(usual, &stem) / 2 }).max().unwrap_or(0)
}

/// The best header for each column, each header once; the surest first.
fn columns(file: HistoryFile, sample: &Sample) -> BTreeMap<&'static str, Proposal> {
    let mut offers = Vec::new();
    for column in file.columns() {
        for header in &sample.headers {
            let needed = if column.required { NEEDED } else { 0 };
            offers.extend(
                proposal(column.name, header)
                    .map(|offer| (column.name, Proposal { score: offer.score + needed, ..offer })),
            );
        }
    }
    offers.sort_by_key(|(_, offer)| std::cmp::Reverse(offer.score));
    let mut taken: BTreeMap<&'static str, Proposal> = BTreeMap::new();
    for (column, offer) in offers {
        let free = taken.values().all(|known| known.header != offer.header);
        if free && !taken.contains_key(column) {
            taken.insert(column, offer);
        }
    }
    // One says what the other says.
    if taken.contains_key("role") {
        taken.remove("suspect");
    }
    taken
}

fn proposal(column: &'static str, header: &str) -> Option<Proposal> {
    let (ours, theirs) = (normal(column), normal(header));
    let offer =
        |score: usize, why: String| Some(Proposal { header: header.to_owned(), why, score });
    if ours == theirs {
        return offer(200, "the same name".to_owned());
    }
    if let Some(place) = of_column(column).iter().position(|usual| *usual == theirs) {
        return offer(190 - place, "a usual name for it".to_owned());
    }
    let usual = of_column(column).iter().copied().chain([ours.as_str()]);
    let (score, best) = usual.map(|name| (alike(name, &theirs), name)).max()?;
    (score >= ALIKE).then(|| offer(score, format!("much like '{best}'; look whether it is")))?
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn found(column: &'static str, header: &str) -> Option<String> {
        proposal(column, header).map(|offer| offer.why)
    }

    #[test]
    fn guesses_tell_their_reason() {
        assert_eq!(found("order_no", "Order_No").unwrap(), "the same name");
        assert_eq!(found("order_no", "RO Number").unwrap(), "a usual name for it");
        assert!(found("order_no", "RO Numbers").unwrap().contains("much like 'ro number'"));
        assert_eq!(found("order_no", "Customer"), None);
    }

    #[test]
    fn a_lone_line_is_the_jobs_number() {
        for (headers, job_no, line) in [
            (&["RO No.", "Line", "Descr."][..], "Line", None),
            (&["RO No.", "Ln", "#", "Descr.", "Suspect?"][..], "Ln", Some("#")),
            (&["RO No.", "Job", "Line"][..], "Job", Some("Line")),
        ] {
            let sample = Sample {
                name: "parts.csv".to_owned(),
                delimiter: b',',
                headers: headers.iter().map(|&header| header.to_owned()).collect(),
                rows: Vec::new(),
            };
            let columns = columns(HistoryFile::Parts, &sample);
            let found = |column| columns.get(column).map(|offer| offer.header.as_str());
            assert_eq!((found("job_no"), found("line")), (Some(job_no), line), "{headers:?}");
            assert_eq!(found("suspect").is_some(), headers.contains(&"Suspect?"));
        }
    }

    #[test]
    fn a_header_serves_one_column() {
        let sample = Sample {
            name: "parts.csv".to_owned(),
            delimiter: b',',
            headers: ["RO", "Line", "Description", "Part Number", "Qty"].map(str::to_owned).into(),
            rows: Vec::new(),
        };
        let columns = columns(HistoryFile::Parts, &sample);
        let headers: BTreeSet<&str> = columns.values().map(|offer| offer.header.as_str()).collect();
        assert_eq!(headers.len(), columns.len());
        assert_eq!(columns.get("part_no").unwrap().header, "Part Number");
        assert_eq!(columns.get("name").unwrap().header, "Description");
    }
}
