//! What others wrote lies here as it came.

use std::collections::BTreeSet;

use sha2::{Digest, Sha256};

use super::source::root;

/// Files that nobody here wrote end so.
const MINIFIED: &str = ".min.js";
/// What browsers get, and what the tests bring along.
const FOLDERS: [&str; 2] = ["api/assets", "tests/browser/vendor"];

#[test]
fn what_others_wrote_is_listed_with_its_sum() {
    for folder in FOLDERS {
        hold(folder);
    }
}

fn hold(folder: &str) {
    let folder = root().join(folder);
    let listed = std::fs::read_to_string(folder.join("third_party.toml")).unwrap();
    let listed: toml::Table = listed.parse().unwrap();
    let mut named = BTreeSet::new();
    for file in listed["file"].as_array().unwrap() {
        let text = |name: &str| file[name].as_str().unwrap().to_owned();
        let bytes = std::fs::read(folder.join(text("file"))).unwrap();
        let sum: String = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(sum, text("sha256"), "{}", text("file"));
        assert!(!text("name").is_empty() && !text("version").is_empty());
        assert!(!text("license").is_empty());
        let license = std::fs::read_to_string(folder.join(text("license_file"))).unwrap();
        assert!(license.len() > 100, "{}", text("license_file"));
        named.insert(text("file"));
    }
    let there = std::fs::read_dir(&folder).unwrap();
    let there = there.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    let there: BTreeSet<String> = there.filter(|name| name.ends_with(MINIFIED)).collect();
    assert_eq!(named, there);
}
