//! In what order to do a symptom's checks, so that the cause is found in the
//! least expected time.
//!
//! One fault: each check looks for one cause, and its probability is the
//! chance that this cause is the fault. What the probabilities leave open to 1
//! is the chance that it is none of them; then all checks are done.
//!
//! Sources: Smith (1956) Naval Research Logistics Quarterly 3:59-66, Gluss
//! (1959) Operations Research 7:468-477 and Mitten (1960) Journal of Industrial
//! Engineering 11 for the order by probability over time; Kadane and Simon
//! (1977) Annals of Statistics 5:237-255 (from memory) for shared set-up and
//! precedence; Held and Karp (1962) SIAM Journal 10:196-210 (from memory) for
//! the search over subsets.

mod bound;
mod exact;
mod greedy;
mod looks;
mod parts;
mod plan;
mod problem;
mod repair;
mod signal;
mod sound;

pub use bound::least_minutes;
pub use looks::{AfterClean, Look, after_clean, looks};
pub use parts::{
    Check, Cluster, EXACT_CHECKS, MAX_CHECKS, MAX_MINUTES, OrderError, ProblemError, ProblemParts,
};
pub use plan::{
    Method, Plan, best_order, best_order_against, greedy_order, ratio_order, ratio_rule_holds,
};
pub use problem::{Problem, expected_minutes};
pub use repair::expected_with_repair;
pub use signal::{Probing, SignalError, SignalPath};
