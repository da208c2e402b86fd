//! What follows from the columns by one pass over them and is asked for by several
//! reports: computed when it is first asked for, and kept until a change.

use std::sync::OnceLock;

use crate::comeback::Fate;
use crate::follow::FirstReturn;

/// By job row, each the answer of the function that fills it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Derived {
    pub first_returns: OnceLock<Vec<FirstReturn>>,
    pub possible_returns: OnceLock<Vec<i32>>,
    pub in_population: OnceLock<Vec<bool>>,
    pub earlier_rows: OnceLock<Vec<u32>>,
    pub first_repairs: OnceLock<Vec<bool>>,
    pub answering: OnceLock<Vec<u32>>,
    pub next_visits: OnceLock<Vec<i32>>,
    pub fates: OnceLock<Vec<Option<Fate>>>,
}
