//! What there is to order, in words, and what may be wrong with it.

use std::fmt;

/// More checks than this, or more clusters, are refused.
pub const MAX_CHECKS: usize = 128;

/// Up to this many checks (the mandatory first ones not counted) the best
/// order is searched among all.
pub const EXACT_CHECKS: usize = 14;

/// Longer than any check of a shop: keeps every sum finite.
pub const MAX_MINUTES: f64 = 1e9;

/// One check. It looks for one cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Check {
    /// Minutes it takes, more than 0.
    pub minutes: f64,
    /// Chance that its cause is the fault, 0 to 1.
    pub probability: f64,
    /// Chance that it shows its cause where that is the fault, 0 to 1.
    pub sensitivity: f64,
    /// The teardown it needs, as an index of [`ProblemParts::clusters`].
    pub cluster: Option<usize>,
}

/// A teardown that several checks need. It is paid once, before the first of
/// them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cluster {
    /// Minutes, 0 or more.
    pub opening_minutes: f64,
    /// The cluster that has to be open before this one.
    pub within: Option<usize>,
}

/// What a [`Problem`] is made of. Checks and clusters are named by their index.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ProblemParts {
    pub checks: Vec<Check>,
    pub clusters: Vec<Cluster>,
    /// The first of a pair is done before the second.
    pub pairs: Vec<(usize, usize)>,
    /// Checks that come before all others, in this order: safety, free looks.
    pub first: Vec<usize>,
    /// Whether the last cause that can be left is taken for the fault without
    /// its check. That is so once the probabilities add up to 1, the mandatory
    /// first checks are done, every check done is sure to show its cause, and
    /// one cause with a probability above 0 remains.
    pub infer_last: bool,
}

/// Why there is nothing to order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProblemError {
    /// More than [`MAX_CHECKS`] checks or clusters.
    TooMany,
    /// Not above 0, or above [`MAX_MINUTES`].
    Minutes { check: usize },
    /// Not 0 to 1.
    Probability { check: usize },
    /// Not 0 to 1.
    Sensitivity { check: usize },
    /// The probabilities add up to more than 1.
    ProbabilitySum,
    /// Not 0 or more, or above [`MAX_MINUTES`].
    Opening { cluster: usize },
    /// An index no check has.
    UnknownCheck { check: usize },
    /// An index no cluster has.
    UnknownCluster { cluster: usize },
    /// A cluster that has to be open before itself.
    WithinItself { cluster: usize },
    /// A check that is named twice among the first ones.
    FirstTwice { check: usize },
    /// A check that has to be done before itself.
    BeforeItself { check: usize },
}

impl fmt::Display for ProblemError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooMany => write!(f, "more than {MAX_CHECKS} checks or clusters"),
            Self::Minutes { check } => write!(f, "check {check}: minutes must be above 0"),
            Self::Probability { check } => write!(f, "check {check}: probability must be 0 to 1"),
            Self::Sensitivity { check } => write!(f, "check {check}: sensitivity must be 0 to 1"),
            Self::ProbabilitySum => write!(f, "the probabilities add up to more than 1"),
            Self::Opening { cluster } => {
                write!(f, "cluster {cluster}: opening minutes must be 0 or more")
            }
            Self::UnknownCheck { check } => write!(f, "there is no check {check}"),
            Self::UnknownCluster { cluster } => write!(f, "there is no cluster {cluster}"),
            Self::WithinItself { cluster } => write!(f, "cluster {cluster} lies within itself"),
            Self::FirstTwice { check } => write!(f, "check {check} is first twice"),
            Self::BeforeItself { check } => write!(f, "check {check} has to come before itself"),
        }
    }
}

impl std::error::Error for ProblemError {}

/// Why an order cannot be followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderError {
    /// An index no check has.
    Unknown { check: usize },
    /// A check that is done twice.
    Twice { check: usize },
    /// A check before one that has to precede it.
    OutOfTurn { check: usize },
    /// A check is left out.
    Incomplete,
    /// Not one repair time of 0 or more for each check.
    RepairMinutes,
}

impl fmt::Display for OrderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown { check } => write!(f, "there is no check {check}"),
            Self::Twice { check } => write!(f, "check {check} is done twice"),
            Self::OutOfTurn { check } => {
                write!(f, "check {check} is done before one that has to precede it")
            }
            Self::Incomplete => write!(f, "a check is left out"),
            Self::RepairMinutes => write!(f, "each check needs a repair time of 0 or more"),
        }
    }
}

impl std::error::Error for OrderError {}
