//! The tables of the copy, in an order in which each row finds those it names.
//! A test holds them against the schema, so that no table is forgotten.

mod circle;
mod shop;
mod work;

use serde_json::{Map, Value};

use super::cell::Cell;
use crate::db::{Answer, Conn};

/// A row as it stands in a file.
pub type Line = Map<String, Value>;

/// What can be done with a table, whatever its columns are.
pub struct Copied {
    pub name: &'static str,
    /// Its primary key.
    pub key: &'static [&'static str],
    /// Rows in the order of the key, from an offset on.
    pub page: fn(&mut Conn, i64, i64) -> Answer<Vec<Line>>,
    /// Adds one row; the inner error is a sentence about the line.
    pub add: fn(&mut Conn, Line) -> Answer<Result<(), String>>,
}

type Text = String;
type Integer = i32;
type BigInt = i64;
type Bool = bool;
type Double = f64;
type Timestamp = chrono::NaiveDateTime;
type Date = chrono::NaiveDate;
type Nullable<T> = Option<T>;

macro_rules! copied {
    ($($row:ident in $table:ident by ($($key:ident),+) { $($column:ident: $type:ty),+ $(,)? })+) => {
        $(
            #[derive(Queryable, Insertable)]
            #[diesel(table_name = $table)]
            #[diesel(treat_none_as_default_value = false)]
            struct $row { $($column: $type),+ }

            impl $row {
                fn page(conn: &mut Conn, offset: i64, limit: i64) -> Answer<Vec<Line>> {
                    let rows: Vec<Self> = $table::table
                        .order(($($table::$key),+,))
                        .offset(offset)
                        .limit(limit)
                        .load(conn)?;
                    Ok(rows.into_iter().map(Self::line).collect())
                }

                fn line(self) -> Line {
                    let mut line = Line::new();
                    $(line.insert(stringify!($column).to_owned(), self.$column.shown());)+
                    line
                }

                fn read(line: &mut Line) -> Result<Self, String> {
                    $(let $column = taken(line, stringify!($column))?;)+
                    match line.keys().next() {
                        Some(more) => Err(format!("has the column {more}, which this program does not know")),
                        None => Ok(Self { $($column),+ }),
                    }
                }

                fn add(conn: &mut Conn, mut line: Line) -> Answer<Result<(), String>> {
                    match Self::read(&mut line) {
                        Ok(row) => {
                            diesel::insert_into($table::table).values(&row).execute(conn)?;
                            Ok(Ok(()))
                        }
                        Err(why) => Ok(Err(why)),
                    }
                }
            }
        )+

        pub const TABLES: &[Copied] = &[$(Copied {
            name: stringify!($table),
            key: &[$(stringify!($key)),+],
            page: $row::page,
            add: $row::add,
        }),+];
    };
}

pub(crate) use copied;

/// Every table that holds the record.
pub fn all() -> impl Iterator<Item = &'static Copied> {
    shop::TABLES.iter().chain(work::TABLES).chain(circle::TABLES)
}

/// A column's value, out of the line; a column that is not there is empty.
fn taken<T: Cell>(line: &mut Line, column: &str) -> Result<T, String> {
    let value = line.remove(column).unwrap_or(Value::Null);
    T::read(value).map_err(|why| format!("{column}: {why}"))
}
