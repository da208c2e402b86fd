//! What lies at the top of the project.

use super::source::root;

const FILES: [&str; 5] = ["Cargo.lock", "Cargo.toml", "DEVELOPERS.md", "LICENSE", "README.md"];
const FOLDERS: [&str; 6] = ["analytics", "api", "fixtures", "migrations", "openapi", "tests"];

#[test]
fn the_top_has_these_entries_and_no_others() {
    let ignored = std::fs::read_to_string(root().join(".gitignore")).unwrap();
    let ignored: Vec<&str> = ignored.lines().map(|line| line.trim_matches('/')).collect();
    let mut found: Vec<String> = std::fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.') && !ignored.contains(&name.as_str()))
        .collect();
    found.sort();
    let mut expected: Vec<&str> = FILES.into_iter().chain(FOLDERS).collect();
    expected.sort_unstable();
    assert_eq!(found, expected);
}
