//! Clean or replace: what became of parts that were put back, and the advice
//! that follows from it, within part and role.

mod advice;
mod choice;
mod costs;
mod estimate;
mod in_hand;
mod prior;
mod reading;
mod report;
mod stakes;
mod tally;
mod text;
mod turning;
mod verdict;
mod weigh;

pub use advice::{Advice, AdviceQuery, Overrides, Side, advise, advise_from};
pub use choice::{Basis, Choice, HeldRole};
pub use costs::{Amount, Costs, Ledger, Minutes, Source, break_even_gap, while_open_threshold};
pub use in_hand::{
    EstimateReport, InHandAction, InHandQuery, RebuiltChoice, estimate, estimate_from,
};
pub use reading::{HandReading, ReadingAnswer, ReadingSaid};
pub use report::{ChoiceLine, PartLine, ReuseReport, reuse, reuse_from};
pub(crate) use stakes::Stakes;
pub use tally::ReuseTally;
pub use text::{CAUTION, at_the_counter, headline};
pub use turning::{Lever, Turn, Turning};
pub use verdict::{DecidedBy, Undecided, UndecidedWhy, Verdict};
pub(crate) use weigh::{DONE, Ground};
