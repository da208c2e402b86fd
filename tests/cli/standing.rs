//! The standing figures on the command line.

use serde_json::Value;

use crate::support::place::DEMO_END;
use crate::support::{Place, Program};

fn report(arguments: &[&str]) -> String {
    Program::new(Place::demo(), &[&["report"], arguments].concat()).must("")
}

fn json(arguments: &[&str]) -> Value {
    let as_of = ["--format", "json", "--as-of", DEMO_END];
    serde_json::from_str(&report(&[arguments, &as_of].concat())).unwrap()
}

/// Count, returns and share of each group, by name.
fn shares(lines: &Value, share: impl Fn(&Value) -> &Value) -> Vec<(String, [Value; 3])> {
    let lines = lines.as_array().unwrap().iter();
    let mut shares: Vec<_> = lines
        .map(|line| {
            let share = share(line);
            let parts = ["count", "returns", "share"].map(|part| share[part].clone());
            (line["group"].to_string(), parts)
        })
        .collect();
    shares.sort_by(|a, b| a.0.cmp(&b.0));
    shares
}

#[test]
fn the_figures_are_those_of_the_other_reports() {
    let standing = json(&["standing"]);
    assert_eq!(standing["head"]["report"], "standing");
    assert_eq!(standing["head"]["shops"][0]["as_of"], DEMO_END);
    for (column, lines) in [("symptom", "symptoms"), ("technician", "technicians")] {
        let groups = &json(&["comebacks", "--by", column, "--window", "90"])["groups"];
        let expected = shares(groups, |line| &line["figures"]["share"]);
        assert!(!expected.is_empty());
        assert_eq!(shares(&standing[lines], |line| &line["share_90"]), expected);
    }
    let labor = json(&["labor", "--by", "technician"]);
    let clocked = labor["lines"].as_array().unwrap().iter();
    let clocked: Vec<&Value> = clocked
        .filter(|line| line["efficiency"]["count"] != 0)
        .map(|line| &line["group"])
        .collect();
    let named = standing["efficiency_by_technician"].as_array().unwrap();
    assert_eq!(named.iter().map(|line| &line["group"]).collect::<Vec<_>>(), clocked);
    assert!(standing["orders"].as_array().unwrap().len() > 10);
}

#[test]
fn it_comes_as_tables_too() {
    let text = report(&["standing", "--as-of", DEMO_END]);
    assert!(text.starts_with("standing of "), "{text}");
    for words in ["Comebacks by closing week", "Orders of checks", "What the figures mean"] {
        assert!(text.contains(words), "{words}");
    }
    let csv = report(&["standing", "--format", "csv", "--table", "parts", "--as-of", DEMO_END]);
    let header = csv.lines().next().unwrap();
    assert!(header.starts_with("part,disposition,role,share_30_count,"), "{header}");
    assert!(header.ends_with(",report,shops,as_of"), "{header}");
    let rows = csv::ReaderBuilder::new().from_reader(csv.as_bytes()).into_records().count();
    let lines =
        report(&["standing", "--format", "ndjson", "--table", "parts", "--as-of", DEMO_END]);
    assert_eq!(lines.lines().count(), rows);
    let first: Value = serde_json::from_str(lines.lines().next().unwrap()).unwrap();
    assert_eq!(first["as_of"], DEMO_END);
}

#[test]
fn what_it_does_not_take_is_told() {
    let refused = |arguments: &[&str], why: &str| {
        let output = Program::new(Place::demo(), &[&["report", "standing"], arguments].concat());
        let output = output.run("");
        let words = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{words}");
        assert!(words.contains(why), "{words}");
    };
    refused(&["--by", "symptom", "--window", "30"], "standing does not take --by, --window");
    refused(&["--format", "html"], "standing has no form html");
    refused(&["--table", "none"], "choose one of cohorts, symptoms");
    refused(&["--as-of", "1912-01-01"], "--as-of: write a day from 1980-01-01 on");
    refused(&["--shop", "NOWHERE"], "choose a shop with --shop");
}
