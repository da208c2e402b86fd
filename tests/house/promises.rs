//! Every promise names tests that are there.

use super::source::root;

#[test]
fn every_promise_names_tests_that_are_there() {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let (_, rest) = text.split_once("## What must hold when things go wrong").unwrap();
    let (part, _) = rest.split_once("\n## ").unwrap();
    let mut named = 0;
    for line in part.lines().filter(|line| line.starts_with("| ") && line.contains(".rs: ")) {
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
    assert!(named >= 20, "{named}");
}
