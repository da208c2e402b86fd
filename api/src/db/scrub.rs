//! What a database leaves of erased rows on its disk, and how that goes, too.

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::Integer;

use super::Place;
use super::conn::{Use, postgres, sqlite};
use super::snapshot::FILE;

/// Of the tables that personal data was in: their rows are written anew.
const ANEW: [&str; 5] = [
    "VACUUM FULL repair_order",
    "VACUUM FULL order_authorization",
    "VACUUM FULL vehicle",
    "VACUUM FULL record_change",
    "VACUUM FULL idempotency_key",
];

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
            let mut anew = |statement: &&str| conn.batch_execute(statement);
            ANEW.iter().try_for_each(&mut anew).map_err(|error| error.to_string())
        }
    }
}
