//! What the black-box tests stand on: places for a record, the running
//! program, people who sign in, and a visit's usual steps.

pub mod client;
pub mod cluster;
pub mod examples;
pub mod folder;
pub mod html;
pub mod place;
pub mod postgres;
pub mod program;
pub mod rows;
pub mod shops;
pub mod visit;

pub use client::{Answer, Client};
pub use place::Place;
pub use program::{Program, Server};
pub use shops::Shops;

/// Makes each function into two tests, one for each database.
macro_rules! on_each_database {
    ($($test:ident),+ $(,)?) => {
        mod sqlite {
            $(#[test]
            fn $test() {
                super::$test(&$crate::support::Shops::open($crate::support::Place::sqlite()));
            })+
        }
        mod postgres {
            $(#[test]
            fn $test() {
                if let Some(place) = $crate::support::Place::postgres() {
                    super::$test(&$crate::support::Shops::open(place));
                }
            })+
        }
    };
}
pub(crate) use on_each_database;

/// The machine's time, by which the server goes, too.
#[expect(clippy::disallowed_methods, reason = "the server under test goes by the machine's clock")]
pub fn now() -> chrono::DateTime<chrono::Utc> {
    chrono::Utc::now()
}
