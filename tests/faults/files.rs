//! Files to be imported that are broken in every way: refused whole, with the record
//! as it was, or taken row by row, with each row that is not taken named and why.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::corpus::naughty;
use super::scale::{dice, trials};
use super::support::folder::Folder;
use super::support::{Place, Program, rows};

const FILES: [(&str, &str); 4] = [
    (
        "orders.csv",
        "order_no,shop,vin,make,model_year,odometer_in,odometer_unit,opened_at,closed_at\r\n\
         A-1,NORTH,ZZD00000000000015,Ostrelle,2012,120300,km,2026-03-02T08:05:00-06:00,2026-03-02T16:30:00-06:00\r\n\
         A-2,NORTH,ZZD00000000000015,Ostrelle,2012,121000,km,2026-03-21T09:00:00-05:00,2026-03-21T15:00:00-05:00\r\n",
    ),
    (
        "jobs.csv",
        "order_no,job_no,symptom,complaint,cause,correction,technician,operation,labor_amount,returned_from_order,returned_from_job\r\n\
         A-2,1,idle.rough,\"shakes, \"\"hard\"\"\r\nagain\",valve-sticking,cleaned,Tomas,IDLE-1,140.00,A-1,1\r\n\
         A-1,1,idle.rough,Gr\u{fc}\u{df}e,valve-sticking,cleaned,Mirela,IDLE-1,140.00,,\r\n",
    ),
    (
        "parts.csv",
        "order_no,job_no,name,quantity,disposition,role,unit_cost,bench_reading,bench_unit\r\n\
         A-1,1,idle air valve,1,cleaned_reused,suspect,85.00,0.4,A\r\n",
    ),
    (
        "labor.csv",
        "order_no,job_no,technician,activity,started_at,ended_at\r\n\
         A-1,1,Mirela,diagnosis,2026-03-02T09:00:00-06:00,2026-03-02T09:30:00-06:00\r\n",
    ),
];

/// One file changed, and how.
struct Broken {
    file: usize,
    bytes: Vec<u8>,
    how: String,
}

/// Cut short at every so many bytes.
fn cuts(every: usize) -> Vec<Broken> {
    let cut = |(file, (_, text)): (usize, &(&str, &str))| -> Vec<Broken> {
        let at = |at: usize| Broken {
            file,
            bytes: text.as_bytes()[..at].to_vec(),
            how: format!("cut at {at}"),
        };
        (0..text.len()).step_by(every).map(at).collect()
    };
    FILES.iter().enumerate().flat_map(cut).collect()
}

/// Ways in which a whole file is otherwise than it should be.
fn wholes() -> Vec<Broken> {
    let each = |file: usize| {
        let text = FILES[file].1;
        let wide = |bytes: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(bytes).collect();
        let latin = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect();
        let (first, rest) = text.split_once("\r\n").unwrap();
        let ends = text.replacen("\r\n", "\n", 1).replacen("\r\n", "\r", 1);
        let made: [(&str, Vec<u8>); 10] = [
            ("UTF-16, low byte first", [vec![0xff, 0xfe], wide(u16::to_le_bytes)].concat()),
            ("UTF-16, high byte first", [vec![0xfe, 0xff], wide(u16::to_be_bytes)].concat()),
            ("UTF-16 without its mark", wide(u16::to_le_bytes)),
            ("ISO 8859-1", latin),
            ("UTF-8 with its mark", [&[0xef, 0xbb, 0xbf], text.as_bytes()].concat()),
            ("mixed line ends", ends.into_bytes()),
            ("a very long line", format!("{text}{}\r\n", "x".repeat(3 << 20)).into_bytes()),
            ("100,000 columns", format!("{first}{}\r\n{rest}", ",c".repeat(100_000)).into_bytes()),
            ("100,000 fields", format!("{text}{}\r\n", ",".repeat(100_000)).into_bytes()),
            ("semicolons", text.replace(',', ";").into_bytes()),
        ];
        made.map(|(how, bytes)| Broken { file, bytes, how: how.to_owned() })
    };
    (0..FILES.len()).flat_map(each).collect()
}

/// A few bytes, cells or lines otherwise.
fn mutated(dice: &mut ChaCha8Rng, texts: &[String]) -> Broken {
    let file = dice.random_range(0..FILES.len());
    let mut bytes = FILES[file].1.as_bytes().to_vec();
    let mut how = Vec::new();
    for _ in 0..dice.random_range(1..4) {
        let at = dice.random_range(0..bytes.len());
        let kind = dice.random_range(0..7);
        how.push(format!("{kind} at {at}"));
        match kind {
            0 => bytes[at] = dice.random(),
            1 => bytes.insert(at, dice.random()),
            2 => drop(bytes.drain(at..(at + dice.random_range(1..20)).min(bytes.len()))),
            3 => {
                let part = bytes[at..(at + 60).min(bytes.len())].to_vec();
                bytes.splice(at..at, part);
            }
            4 => bytes[at] = b"\",\r\n\0;\t'"[dice.random_range(0..8)],
            // A cell of another kind.
            _ => {
                let commas: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at] == b',').collect();
                if commas.len() < 2 {
                    continue;
                }
                let place = dice.random_range(0..commas.len() - 1);
                let text = texts[dice.random_range(0..texts.len())].replace('"', "\"\"");
                let cell = format!("\"{text}\"");
                bytes.splice(commas[place] + 1..commas[place + 1], cell.into_bytes());
            }
        }
        if bytes.is_empty() {
            break;
        }
    }
    Broken { file, bytes, how: how.join(", ") }
}

/// A record that has something already, which stays.
struct Model {
    place: Place,
    rows: BTreeMap<String, Vec<String>>,
}

/// What became of one: refused, taken in part, taken whole.
#[derive(Default)]
struct Ends {
    refused: AtomicUsize,
    in_part: AtomicUsize,
    whole: AtomicUsize,
}

fn import(place: &Place, folder: &Path) -> (Option<i32>, String) {
    let arguments = ["import", folder.to_str().unwrap(), "--zone", "America/Chicago"];
    let output = Program::new(place, &arguments).run("");
    (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
}

/// Every line of the rejects names its file, its row and a reason.
fn rejects_are_named(file: &Path) -> Result<(), String> {
    let bytes = std::fs::read(file).map_err(|error| format!("no rejects: {error}"))?;
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(bytes.as_slice());
    let mut lines = 0;
    for record in reader.byte_records() {
        let record = record.map_err(|error| error.to_string())?;
        let cell =
            |at: usize| String::from_utf8_lossy(record.get(at).unwrap_or_default()).into_owned();
        let file = FILES.iter().any(|(name, _)| cell(0).ends_with(name));
        let line = cell(1).parse::<u64>().is_ok_and(|line| line >= 1);
        if !file || !line || cell(3).len() < 5 {
            return Err(format!("a reject without its place or reason: {record:?}"));
        }
        lines += 1;
    }
    if lines > 0 { Ok(()) } else { Err("nothing is rejected".to_owned()) }
}

fn judged(model: &Model, broken: &Broken, twice: bool, ends: &Ends) -> Result<(), String> {
    let place = model.place.copied();
    let around = Folder::new();
    let folder = around.path().join("old");
    std::fs::create_dir(&folder).unwrap();
    for (at, (name, text)) in FILES.iter().enumerate() {
        let bytes = if at == broken.file { &broken.bytes[..] } else { text.as_bytes() };
        std::fs::write(folder.join(name), bytes).unwrap();
    }
    let (code, words) = import(&place, &folder);
    if words.contains("panicked") {
        return Err(words);
    }
    match code {
        Some(0) => ends.whole.fetch_add(1, Ordering::Relaxed),
        Some(2) => {
            let changed = rows::differing(&model.rows, &rows::all(&place));
            if !changed.is_empty() || words.trim().is_empty() {
                return Err(format!("refused ({words}), and {changed:?} changed"));
            }
            ends.refused.fetch_add(1, Ordering::Relaxed)
        }
        Some(3) => {
            rejects_are_named(&around.path().join("old-rejected.csv"))?;
            ends.in_part.fetch_add(1, Ordering::Relaxed)
        }
        _ => return Err(format!("ended with {code:?}: {words}")),
    };
    if place.count("FROM pragma_foreign_key_check") > 0 {
        return Err("a row names one that is not there".to_owned());
    }
    // What is in is in: the same once more adds nothing.
    if twice && code != Some(2) {
        let before = rows::all(&place);
        let (again, words) = import(&place, &folder);
        let changed = rows::differing(&before, &rows::all(&place));
        if again != code || !changed.is_empty() {
            return Err(format!("once more: {again:?}, {changed:?} changed: {words}"));
        }
    }
    Ok(())
}

#[test]
fn broken_files_change_nothing_or_are_told_row_by_row() {
    let test = "broken_files_change_nothing_or_are_told_row_by_row";
    let mut dice = dice(test);
    let texts: Vec<String> = naughty().into_iter().filter(|text| text.len() < 1_000).collect();
    let mut trouble = cuts(trials(61, 1));
    trouble.extend(wholes());
    trouble.extend((0..trials(60, 10_000)).map(|_| mutated(&mut dice, &texts)));
    let place = Place::empty_sqlite();
    let around = Folder::new();
    for (name, text) in FILES {
        // Another shop's, and other people's: nobody works twice at once.
        let names = [("A-", "B-"), ("NORTH", "SOUTH"), ("Mirela", "Anna"), ("Tomas", "Otto")];
        let text =
            names.iter().fold(text.to_owned(), |text, (one, other)| text.replace(one, other));
        std::fs::write(around.path().join(name), text).unwrap();
    }
    assert_eq!(import(&place, around.path()).0, Some(0));
    let model = Model { rows: rows::all(&place), place };
    let (next, ends) = (AtomicUsize::new(0), Ends::default());
    let wrong: Mutex<Vec<String>> = Mutex::default();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(broken) = trouble.get(at) else { return };
                    if let Err(what) = judged(&model, broken, at % 5 == 0, &ends) {
                        let file = FILES[broken.file].0;
                        wrong.lock().unwrap().push(format!("{file} {}: {what}", broken.how));
                    }
                }
            });
        }
    });
    let wrong = wrong.into_inner().unwrap();
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), trouble.len(), wrong.join("\n"));
    let [refused, in_part, whole] =
        [ends.refused, ends.in_part, ends.whole].map(AtomicUsize::into_inner);
    println!("{test}: {refused} refused, {in_part} taken in part, {whole} taken whole");
    assert!(refused > 20 && in_part > 20 && whole > 5, "{refused} {in_part} {whole}");
}
