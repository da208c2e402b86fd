//! Shared ground without a database, a server or a document: the types that
//! requests and rows are parsed into, and what a decision may answer.

pub mod clock;
pub mod codes;
pub mod day;
pub mod decimal;
pub mod formula;
pub mod ids;
pub mod money;
pub mod odometer;
pub mod percent;
pub mod plate;
pub mod refusal;
pub mod role;
pub mod scope;
pub mod style;
pub mod text;
pub mod vin;
pub mod week;
pub mod zone;
