//! Many new rows at once, in each database's quickest way.

/// Rows of one statement where a statement takes several.
pub const AT_ONCE: usize = 1_000;

/// Inserts what an iterator yields. SQLite goes fastest by one prepared
/// statement that is bound again for each row; PostgreSQL, where each statement
/// is a way there and back, takes many rows in one.
macro_rules! insert_rows {
    ($conn:expr, $table:ident, $rows:expr) => {{
        let mut rows = $rows;
        match $conn {
            $crate::db::Conn::Sqlite(inner) => {
                for row in rows {
                    diesel::insert_into($table::table).values(row).execute(inner)?;
                }
            }
            $crate::db::Conn::Postgres(inner) => loop {
                let some: Vec<_> = rows.by_ref().take($crate::db::AT_ONCE).collect();
                if some.is_empty() {
                    break;
                }
                diesel::insert_into($table::table).values(some).execute(inner)?;
            },
        }
    }};
}
pub(crate) use insert_rows;
