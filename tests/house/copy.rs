//! The whole copy has every table and every column of the record.

use super::migrations::{Tables, known};

/// Tables that hold no record: who is signed in and tried to be, on which browsers,
/// what a hash costs here, answers kept for repeated requests, when copies were
/// written, and the numbers that tell of changes.
const LEFT_OUT: [&str; 8] = [
    "access_stamp",
    "copy_made",
    "idempotency_key",
    "known_device",
    "password_cost",
    "session",
    "settings_stamp",
    "sign_in_try",
];

/// Tables with their columns, as the copy says it knows them.
fn copied() -> Tables {
    let sources = [
        include_str!("../../api/src/copy/tables/shop.rs"),
        include_str!("../../api/src/copy/tables/work.rs"),
        include_str!("../../api/src/copy/tables/circle.rs"),
    ];
    let lists = sources.map(|source| source.split_once("copied! {\n").expect("tables").1);
    let mut tables = Tables::new();
    for table in lists.iter().flat_map(|list| list.split("    }\n")) {
        if !table.contains(" in ") {
            continue;
        }
        let (_, rest) = table.split_once(" in ").unwrap();
        let (name, rest) = rest.split_once(" by ").unwrap();
        let (_, body) = rest.split_once('{').unwrap();
        let columns = body.lines().filter_map(|line| line.trim().split_once(": "));
        let columns =
            columns.map(|(name, word)| (name.to_owned(), word.trim_end_matches(',').to_owned()));
        tables.insert(name.to_owned(), columns.collect());
    }
    tables
}

#[test]
fn no_table_and_no_column_is_forgotten() {
    let mut all = known();
    for name in LEFT_OUT {
        assert!(all.remove(name).is_some(), "{name}");
    }
    assert_eq!(copied(), all);
}
