//! The record's two databases behind one door: readers see one moment, writers
//! stand in one line. Nothing outside this folder names a database.

mod carrier;
mod conn;
mod many;
mod open;
mod part;
mod reach;
pub mod schema;
mod scrub;
mod snapshot;
mod sound;
mod state;
pub mod types;
mod writer;

pub use conn::Conn;
pub use many::AT_ONCE;
pub(crate) use many::insert_rows;
pub use open::{Claim, Db, Place, last_step, steps};
pub use part::apart;
pub use scrub::scrub;
pub use snapshot::{FILE, restore, snapshot};
pub use state::State;

use crate::domain::refusal::Refusal;

/// What PostgreSQL says where labor entries of a person would share time.
const TWICE_AT_ONCE: &str = "nobody works twice at once";

/// What a read or write answers instead of its value.
#[derive(Debug)]
pub enum Fault {
    /// The decision says no; nothing was written.
    Refused(Refusal),
    /// What reports are made from is being read; says how far it is.
    NotReady(String),
    /// Too many writes wait already.
    Busy,
    /// The database did not answer as it must; whether the write stands is not
    /// known here.
    Unavailable(String),
}

impl From<Refusal> for Fault {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl From<diesel::result::Error> for Fault {
    fn from(error: diesel::result::Error) -> Self {
        use diesel::result::DatabaseErrorKind as Kind;
        use diesel::result::Error;
        match error {
            Error::NotFound => Self::Refused(Refusal::NotFound),
            Error::DatabaseError(Kind::UniqueViolation, info) => Self::Refused(Refusal::Conflict(
                format!("the record has this already ({})", info.message()),
            )),
            // Two shops wrote of one person at once: the decision saw neither.
            Error::DatabaseError(_, info) if info.message() == TWICE_AT_ONCE => {
                Self::Refused(Refusal::Conflict(
                    "another labor entry of this person has that time; stop or change it first"
                        .to_owned(),
                ))
            }
            // Decisions check before they write, so a constraint that speaks
            // has caught a fault of ours: the write is refused all the same.
            Error::DatabaseError(
                Kind::CheckViolation | Kind::ForeignKeyViolation | Kind::NotNullViolation,
                info,
            ) => Self::Refused(Refusal::Conflict(format!(
                "the record does not allow this ({})",
                info.message()
            ))),
            other => Self::Unavailable(other.to_string()),
        }
    }
}

impl From<diesel::r2d2::PoolError> for Fault {
    fn from(error: diesel::r2d2::PoolError) -> Self {
        Self::Unavailable(error.to_string())
    }
}

/// Whether both databases' reasons say that there is no room: SQLITE_FULL, and of
/// PostgreSQL what its system says.
pub(crate) fn disk_is_full(reason: &str) -> bool {
    reason.contains("database or disk is full") || reason.contains("No space left on device")
}

/// The answer of everything that touches the database.
pub type Answer<T> = Result<T, Fault>;
