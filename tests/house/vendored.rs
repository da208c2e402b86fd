//! What others wrote: named with version and licence, and as it came.

use std::collections::BTreeSet;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::source::root;

/// Folders with files of others.
const FOLDERS: [&str; 2] = ["api/assets", "tests/browser/vendor"];

fn text<'a>(entry: &'a toml::Value, name: &str) -> &'a str {
    let value = entry.get(name).and_then(toml::Value::as_str);
    value.unwrap_or_else(|| panic!("no {name}: {entry}"))
}

/// The files that the folder's list names, where it has one, each held.
fn held(folder: &Path) -> BTreeSet<String> {
    let Ok(list) = std::fs::read_to_string(folder.join("third_party.toml")) else {
        return BTreeSet::new();
    };
    let list: toml::Value = toml::from_str(&list).unwrap();
    let entries = list["file"].as_array().unwrap();
    for entry in entries {
        for name in ["name", "version", "licence", "source"] {
            assert!(!text(entry, name).is_empty(), "{entry}");
        }
        let bytes = std::fs::read(folder.join(text(entry, "file"))).unwrap();
        let sum: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(sum, text(entry, "sha256"), "{} is not as it came", text(entry, "file"));
        let licence = std::fs::read_to_string(folder.join(text(entry, "licence_file"))).unwrap();
        assert!(licence.len() > 200, "no licence: {licence}");
    }
    entries.iter().map(|entry| text(entry, "file").to_owned()).collect()
}

#[test]
fn what_others_wrote_is_named_and_as_it_came() {
    for folder in FOLDERS {
        let folder = root().join(folder);
        let named = held(&folder);
        for entry in std::fs::read_dir(&folder).unwrap() {
            let name = entry.unwrap().file_name().to_string_lossy().into_owned();
            assert!(!name.contains(".min.") || named.contains(&name), "{name} is not named");
        }
    }
}
