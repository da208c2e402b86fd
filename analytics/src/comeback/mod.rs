//! What came back: shares by Kaplan-Meier, closed windows counted out, the
//! comebacks themselves and their chains.

mod answers;
mod by;
mod differ;
mod distance;
mod estimate;
mod line;
mod reasons;
mod report;
mod tally;

pub use by::By;
pub use differ::GroupsTest;
pub use distance::{ComebackDistance, DistanceCount, DistancePoint};
pub use estimate::ComebackFigures;
pub use line::{ChainCount, ComebackLine, LinkedJob};
pub use reasons::ReasonShare;
pub use report::{
    ComebackGroup, ComebackReport, CurvePoint, MOST_RETURNS, comebacks, comebacks_from,
    comebacks_listing,
};
pub(crate) use tally::possible_returns;
pub use tally::{ComebackTally, Tally};

pub(crate) use answers::answering;
pub(crate) use by::{by_group, week_start_of};
pub(crate) use distance::{Driven, driven};
pub(crate) use estimate::{DEFINITIONS, figures, share_at};
pub(crate) use line::{Returns, comeback_lines};
pub(crate) use tally::{Fate, fates, first_repairs, in_population, seen_again};
