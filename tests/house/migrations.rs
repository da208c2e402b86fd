//! The two databases have the same tables, and the program knows them as they
//! are.

use std::collections::{BTreeMap, BTreeSet};

use super::source::root;

/// SQLite's type, PostgreSQL's, and the program's.
const TYPES: [(&str, &str, &str); 8] = [
    ("TEXT", "TEXT", "Text"),
    ("TEXT", "TIMESTAMP", "Timestamp"),
    ("TEXT", "DATE", "Date"),
    ("INTEGER", "INTEGER", "Integer"),
    ("INTEGER", "BIGINT", "BigInt"),
    ("INTEGER", "BOOLEAN", "Bool"),
    ("REAL", "DOUBLE PRECISION", "Double"),
    ("BLOB", "BYTEA", "Binary"),
];

fn stamps(database: &str) -> Vec<String> {
    let folder = root().join("migrations").join(database);
    let names = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        names.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn sql(database: &str, stamp: &str, file: &str) -> String {
    let path = root().join("migrations").join(database).join(stamp).join(file);
    std::fs::read_to_string(path).unwrap()
}

/// After a line that ends so each database has its own words for what the other
/// says, too, or what the other does not need.
const OWN_WORDS: &str = ", in each database's own words.";

/// What both databases say alike of a step.
fn shared(text: &str) -> Vec<&str> {
    text.lines().take_while(|line| !line.ends_with(OWN_WORDS)).collect()
}

/// A line that begins a column: its name, and what follows it.
fn column(line: &str) -> Option<(&str, &str)> {
    let (name, rest) = line.strip_prefix("    ")?.split_once(' ')?;
    name.starts_with(|c: char| c.is_ascii_lowercase()).then_some((name, rest))
}

/// The type at the head of a column's definition, by place in the table of
/// types, and what follows it.
fn kind(
    rest: &str,
    of: fn(&(&'static str, &'static str, &'static str)) -> &'static str,
) -> Vec<(usize, &str)> {
    let fitting = |(place, line): (usize, &(&'static str, &'static str, &'static str))| {
        let after = rest.strip_prefix(of(line))?;
        (after.is_empty() || after.starts_with([' ', ',', ';'])).then_some((place, after))
    };
    TYPES.iter().enumerate().filter_map(fitting).collect()
}

/// Whether the two lines say the same in the two databases' words.
fn alike(sqlite: &str, postgres: &str) -> bool {
    match (column(sqlite), column(postgres)) {
        (Some((one, left)), Some((other, right))) => {
            let left = kind(left, |line| line.0);
            one == other && kind(right, |line| line.1).iter().any(|pair| left.contains(pair))
        }
        _ => sqlite.replace(") STRICT;", ");") == postgres,
    }
}

#[test]
fn the_two_databases_take_the_same_steps() {
    let steps = stamps("sqlite");
    assert!(!steps.is_empty());
    assert_eq!(steps, stamps("postgres"));
    for step in steps {
        for file in ["up.sql", "down.sql"] {
            let (sqlite, postgres) = (sql("sqlite", &step, file), sql("postgres", &step, file));
            let own = [&sqlite, &postgres].map(|text| text.contains(OWN_WORDS));
            assert_eq!(own[0], own[1], "{step}/{file}");
            let (sqlite, postgres) = (shared(&sqlite), shared(&postgres));
            assert_eq!(sqlite.len(), postgres.len(), "{step}/{file}");
            for (ours, theirs) in sqlite.iter().zip(&postgres) {
                assert!(alike(ours, theirs), "{step}/{file}:\n{ours}\n{theirs}");
            }
        }
    }
}

#[test]
fn sqlite_tables_are_strict() {
    for step in stamps("sqlite") {
        let text = sql("sqlite", &step, "up.sql");
        assert_eq!(text.matches("CREATE TABLE").count(), text.matches(") STRICT;").count());
    }
}

/// A number that is missing for one index makes SQLite take it for better than it
/// is, beside the others that have theirs.
#[test]
fn every_index_of_sqlite_has_its_numbers() {
    let (mut indexes, mut numbers) = (BTreeSet::new(), BTreeSet::new());
    let word = |text: &str| text.split([' ', ';', '\n']).next().unwrap().to_owned();
    for step in stamps("sqlite") {
        let text = sql("sqlite", &step, "up.sql");
        for line in text.lines() {
            if let Some(name) = line.strip_prefix("DROP INDEX ") {
                assert!(indexes.remove(&word(name)), "{line}");
            } else if let Some((start, name)) = line.split_once("INDEX ")
                && start.starts_with("CREATE ")
            {
                indexes.insert(word(name));
            } else if let Some(("    (", name, rest)) = three(line) {
                let numbers_of = rest.trim_matches(|c: char| !c.is_ascii_digit());
                assert!(
                    numbers_of.split(' ').all(|number| number.parse::<i64>().is_ok()),
                    "{line}"
                );
                numbers.insert(name.to_owned());
            }
        }
    }
    numbers.retain(|name| !name.starts_with("sqlite_autoindex_"));
    assert_eq!(numbers, indexes);
}

/// A line of the numbers: what comes before its table, the index, and the rest.
fn three(line: &str) -> Option<(&str, &str, &str)> {
    let mut words = line.split('\'');
    let (start, _, _, index, _, rest) =
        (words.next()?, words.next()?, words.next()?, words.next()?, words.next()?, words.next()?);
    Some((start, index, rest))
}

pub type Tables = BTreeMap<String, Vec<(String, String)>>;

/// Tables with their columns, as the program would write them, from the steps.
fn migrated() -> Tables {
    let mut tables = Tables::new();
    for step in stamps("postgres") {
        let text = sql("postgres", &step, "up.sql");
        for added in text.split("ALTER TABLE ").skip(1) {
            let (name, rest) = added.split_once(" ADD COLUMN\n").expect("a step only adds columns");
            let (line, _) = rest.split_once(";\n").unwrap();
            tables.get_mut(name).expect("a table of an earlier step").extend(typed(line));
        }
        for table in text.split("CREATE TABLE ").skip(1) {
            let (name, rest) = table.split_once(" (\n").unwrap();
            let (body, _) = rest.split_once("\n)").unwrap();
            tables.insert(name.to_owned(), body.lines().filter_map(typed).collect());
        }
    }
    tables
}

fn typed(line: &str) -> Option<(String, String)> {
    let (name, rest) = column(line)?;
    let place = kind(rest, |line| line.1)[0].0;
    let word = TYPES[place].2;
    let filled = rest.contains("NOT NULL") || rest.contains("PRIMARY KEY");
    let word = if filled { word.to_owned() } else { format!("Nullable<{word}>") };
    Some((name.to_owned(), word))
}

/// Tables with their columns, as the program says it knows them.
pub fn known() -> Tables {
    let source = include_str!("../../api/src/db/schema.rs");
    let mut tables = Tables::new();
    for table in source.split("diesel::table! {").skip(1) {
        let (name, rest) = table.split_once('(').unwrap();
        let (_, rest) = rest.split_once('{').unwrap();
        let (body, _) = rest.split_once('}').unwrap();
        let columns = body.split(',').filter_map(|line| line.trim().split_once(" -> "));
        let columns = columns.map(|(name, word)| (name.to_owned(), word.to_owned())).collect();
        tables.insert(name.trim().to_owned(), columns);
    }
    tables
}

#[test]
fn the_program_knows_the_tables_as_they_are() {
    let (migrated, known) = (migrated(), known());
    assert!(migrated.len() > 10);
    assert_eq!(migrated, known);
}
