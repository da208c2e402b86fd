//! Every promise names tests that are there.

use super::source::root;

/// The tests that the lines of a table name, as `path: test`, or `test` of the file
/// named before on the line. Fails where one is not there.
fn named(lines: &str) -> usize {
    let mut named = 0;
    for line in lines.lines().filter(|line| line.starts_with("| ") && line.contains(".rs: ")) {
        let mut file = String::new();
        for word in
            line.split('`').filter(|word| !word.contains(['|', ' ']) || word.contains(".rs: "))
        {
            let name = match word.split_once(": ") {
                Some((path, name)) => {
                    let places = ["tests", "api/src"].map(|folder| root().join(folder).join(path));
                    file = places
                        .iter()
                        .find_map(|place| std::fs::read_to_string(place).ok())
                        .expect(path);
                    name
                }
                None => word,
            };
            assert!(file.contains(&format!("fn {name}(")), "{name}: {line}");
            named += 1;
        }
    }
    named
}

#[test]
fn every_promise_names_tests_that_are_there() {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let (_, rest) = text.split_once("## What must hold when things go wrong").unwrap();
    let (part, _) = rest.split_once("\n## ").unwrap();
    let named = named(part);
    assert!(named >= 20, "{named}");
}

/// Each requirement has its line, and says what holds it or that nothing does.
#[test]
fn every_requirement_is_held_or_said_not_to_be() {
    let text = std::fs::read_to_string(root().join("tests/faults/ASVS.md")).unwrap();
    let named = named(&text);
    let mut seen = Vec::new();
    for line in text.lines().filter(|line| line.starts_with("| ") && line.contains('.')) {
        let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
        let [id, asks, held] = cells[..] else { panic!("not three cells: {line}") };
        let numbers = id.split('.').filter(|part| part.parse::<u8>().is_ok()).count();
        assert!(numbers == 3 && asks.len() > 10, "{line}");
        let says = ["`", "not held:", "by design:", "written down:"];
        assert!(says.iter().any(|word| held.starts_with(word)), "{line}");
        assert!(!seen.contains(&id), "{id} stands there twice");
        seen.push(id);
    }
    assert!(named >= 60 && seen.len() >= 180, "{named} {}", seen.len());
}
