//! What a database leaves of erased rows on its disk, and how that goes, too.

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::Integer;

use super::Place;
use super::conn::{Use, postgres, sqlite};
use super::snapshot::FILE;

/// Tables that personal data was in.
const HELD: [&str; 5] =
    ["repair_order", "order_authorization", "vehicle", "record_change", "idempotency_key"];

#[derive(QueryableByName)]
struct Told {
    #[diesel(sql_type = Integer)]
    busy: i32,
}

/// Writes the pages of the record anew and empties the log: nothing that is in no
/// row is in a file. Nobody may be at work on a folder's record.
///
/// # Errors
/// Why it was not done; it may be done again.
pub fn scrub(place: &Place) -> Result<(), String> {
    match place {
        Place::Folder(folder) => {
            let file = folder.join(FILE).display().to_string();
            let mut conn = sqlite(&file, Use::Write).map_err(|error| error.to_string())?;
            conn.batch_execute("VACUUM").map_err(|error| error.to_string())?;
            let told: Told = diesel::sql_query("PRAGMA wal_checkpoint(TRUNCATE)")
                .get_result(&mut conn)
                .map_err(|error| error.to_string())?;
            if told.busy == 0 {
                return Ok(());
            }
            Err("another program reads the record; end it, then erase again".to_owned())
        }
        Place::Url(url) => {
            let mut conn = postgres(url).map_err(|error| error.to_string())?;
            HELD.iter().try_for_each(|table| {
                conn.batch_execute(&format!("VACUUM FULL {table}"))
                    .map_err(|error| error.to_string())
            })
        }
    }
}
