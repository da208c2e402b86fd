//! Every row of every table, to see that nothing was written.

use std::collections::BTreeMap;

use super::Place;

/// The tables of the record, without those that a database keeps for itself.
fn tables(place: &Place) -> Vec<String> {
    place.lines(match place {
        Place::Sqlite(_) => {
            "SELECT name AS line FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%' \
             ORDER BY name"
        }
        Place::Postgres(_) => {
            "SELECT table_name::text AS line FROM information_schema.tables \
             WHERE table_schema = 'public' AND table_type = 'BASE TABLE' ORDER BY table_name"
        }
    })
}

/// A query for all rows of a table, each as one text.
fn query(place: &Place, table: &str) -> String {
    match place {
        Place::Sqlite(_) => {
            let names = format!("SELECT name AS line FROM pragma_table_info('{table}')");
            let columns = place.lines(&names);
            let quoted: Vec<String> =
                columns.iter().map(|column| format!("quote(\"{column}\")")).collect();
            format!("SELECT {} AS line FROM \"{table}\"", quoted.join(" || '|' || "))
        }
        Place::Postgres(_) => format!("SELECT (t.*)::text AS line FROM \"{table}\" t"),
    }
}

/// Every row, by its table; the order of rows is the record's own affair.
pub fn all(place: &Place) -> BTreeMap<String, Vec<String>> {
    let read = |table: String| {
        let mut rows = place.lines(&query(place, &table));
        rows.sort_unstable();
        (table, rows)
    };
    tables(place).into_iter().map(read).collect()
}

/// The tables in which something differs.
pub fn differing(
    one: &BTreeMap<String, Vec<String>>,
    other: &BTreeMap<String, Vec<String>>,
) -> Vec<String> {
    let names = one.keys().chain(other.keys());
    let mut found: Vec<String> =
        names.filter(|name| one.get(*name) != other.get(*name)).cloned().collect();
    found.sort_unstable();
    found.dedup();
    found
}
