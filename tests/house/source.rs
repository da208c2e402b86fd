//! The project's own source files.

use std::path::{Path, PathBuf};

pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// A file: its path from the top of the project, and its code without tests
/// and comments.
pub struct Source {
    pub path: String,
    pub code: String,
}

/// Every Rust file below the folder, tests left out.
pub fn below(folder: &str) -> Vec<Source> {
    let mut found = Vec::new();
    walk(&root().join(folder), &mut found);
    assert!(!found.is_empty(), "there is nothing in {folder}");
    found.sort();
    found.iter().map(|path| read(path)).collect()
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != "tests" {
            walk(&path, found);
        } else if name.ends_with(".rs") && name != "tests.rs" {
            found.push(path);
        }
    }
}

fn read(path: &Path) -> Source {
    let text = std::fs::read_to_string(path).unwrap();
    // Inline tests stand at the end of their file.
    let (code, _) = text.split_once("\n#[cfg(test)]\nmod tests {").unwrap_or((&text, ""));
    let code: Vec<&str> =
        code.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
    let path = path.strip_prefix(root()).unwrap().display().to_string();
    Source { path, code: code.join("\n") }
}

/// The files with a word in them, as `path: word`.
pub fn naming<'a>(sources: impl IntoIterator<Item = &'a Source>, words: &[&str]) -> Vec<String> {
    sources
        .into_iter()
        .flat_map(|source| {
            let holds = |word: &&&str| source.code.contains(**word);
            words.iter().filter(holds).map(|word| format!("{}: {word}", source.path))
        })
        .collect()
}
