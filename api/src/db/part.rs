//! A part of a write that stands or falls by itself.

use diesel::connection::SimpleConnection;

use super::{Answer, Conn};

/// Runs a part of a write in a savepoint: where it fails, the record is as it
/// was before the part, and the write goes on.
///
/// # Errors
/// What `work` answers, or where the database does not answer.
pub fn apart<W, T>(
    write: &mut W,
    conn: impl Fn(&mut W) -> &mut Conn,
    work: impl FnOnce(&mut W) -> Answer<T>,
) -> Answer<T> {
    conn(write).batch_execute("SAVEPOINT one_part")?;
    let answer = work(write);
    let end = if answer.is_ok() {
        "RELEASE SAVEPOINT one_part"
    } else {
        "ROLLBACK TO SAVEPOINT one_part; RELEASE SAVEPOINT one_part"
    };
    conn(write).batch_execute(end)?;
    answer
}
