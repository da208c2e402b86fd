//! The API document: the one in the project is the one that the program writes,
//! and no two types share a name in it.

use std::collections::BTreeMap;
use std::process::Command;

use super::source::{below, root};

#[test]
fn the_document_is_the_programs_own() {
    let written = Command::new(env!("CARGO_BIN_EXE_onetrip")).arg("openapi").output().unwrap();
    assert!(written.status.success());
    let kept = std::fs::read_to_string(root().join("openapi/openapi.json")).unwrap();
    let written = String::from_utf8(written.stdout).unwrap();
    assert!(kept == written, "write it anew: cargo run -- openapi > openapi/openapi.json");
}

/// The names under which a file's types stand in the document.
fn described(code: &str) -> Vec<String> {
    let mut names = Vec::new();
    let mut lines = code.lines();
    while let Some(line) = lines.next() {
        if !(line.starts_with("#[") && line.contains("ToSchema")) {
            continue;
        }
        let mut alias = None;
        let item = lines.by_ref().find(|line| {
            let renamed =
                line.split_once("schema(as = ").and_then(|(_, rest)| rest.split_once(')'));
            alias = renamed.map(|(name, _)| name.to_owned()).or(alias.take());
            line.contains("struct ") || line.contains("enum ")
        });
        let item = item.expect("an attribute stands before its type");
        let words = item.split(|c: char| !c.is_alphanumeric() && c != '_');
        let name = words.skip_while(|word| !["struct", "enum"].contains(word)).nth(1);
        names.push(alias.unwrap_or_else(|| name.expect("a type has a name").to_owned()));
    }
    names
}

// The document keeps one of two types of the same name, without a word.
#[test]
fn no_two_types_share_a_name_in_the_document() {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for source in below("analytics/src").iter().chain(&below("api/src")) {
        for name in described(&source.code) {
            places.entry(name).or_default().push(source.path.clone());
        }
    }
    assert!(places.len() > 50);
    places.retain(|_, paths| paths.len() > 1);
    assert!(places.is_empty(), "shared names: {places:?}");
}
