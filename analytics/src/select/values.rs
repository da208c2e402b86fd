//! What the values of terms can be: columns of texts, treatments, orders of
//! checks, and how often something happened.

use std::fmt;

use crate::words::Disposition;

/// A column of texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    Symptom,
    System,
    Cause,
    /// Who answers for the job: who led it, or a trainee's supervisor.
    Technician,
    /// Who answers for the first job of the chain that the job belongs to: whose
    /// comeback it is, where it mends one.
    Answers,
    /// Anyone with a labor entry on the job.
    Worked,
    /// Anyone with a labor entry on the job; who led it, where it has none: whom
    /// the labor report counts it to.
    Credited,
    Vehicle,
    Model,
    Engine,
    Part,
    Position,
    Supplier,
    Lot,
    /// Unit of a part's bench reading.
    BenchUnit,
    /// Key and unit of a reading before the hand-over; of cells their mean.
    HandOverLine,
    HandOverUnit,
    Operation,
    Check,
}

impl Column {
    pub(super) const ALL: [Self; 19] = [
        Self::Symptom,
        Self::System,
        Self::Cause,
        Self::Technician,
        Self::Answers,
        Self::Worked,
        Self::Credited,
        Self::Vehicle,
        Self::Model,
        Self::Engine,
        Self::Part,
        Self::Position,
        Self::Supplier,
        Self::Lot,
        Self::BenchUnit,
        Self::HandOverLine,
        Self::HandOverUnit,
        Self::Operation,
        Self::Check,
    ];

    /// The key, as in a query string.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Symptom => "symptom",
            Self::System => "system",
            Self::Cause => "cause",
            Self::Technician => "technician",
            Self::Answers => "answers",
            Self::Worked => "worked",
            Self::Credited => "credited",
            Self::Vehicle => "vehicle",
            Self::Model => "model",
            Self::Engine => "engine",
            Self::Part => "part",
            Self::Position => "position",
            Self::Supplier => "supplier",
            Self::Lot => "lot",
            Self::BenchUnit => "bench_unit",
            Self::HandOverLine => "hand_over_line",
            Self::HandOverUnit => "hand_over_unit",
            Self::Operation => "operation",
            Self::Check => "check",
        }
    }
}

impl Column {
    /// The shop's list that the column's codes are of.
    pub(super) const fn list(self) -> Option<&'static str> {
        match self {
            Self::Symptom | Self::System | Self::Cause | Self::Operation | Self::Check => {
                Some(self.as_str())
            }
            _ => None,
        }
    }
}

/// What was done with a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Treatment {
    /// Replaced by a new, a rebuilt or a used one.
    Replaced,
    /// Refitted as it was, or tested good and left.
    Untouched,
    /// Cleaned, adjusted or repaired, and put back.
    PutBack,
    One(Disposition),
}

impl Treatment {
    pub(super) const REPLACED: &'static str = "replaced";
    pub(super) const UNTOUCHED: &'static str = "untouched";
    pub(super) const PUT_BACK: &'static str = "put_back";

    /// Whether a disposition is meant.
    #[must_use]
    pub fn holds(self, disposition: Disposition) -> bool {
        match self {
            Self::Replaced => disposition.is_replaced(),
            Self::Untouched => {
                matches!(disposition, Disposition::RemovedRefitted | Disposition::TestedLeft)
            }
            Self::PutBack => disposition.is_put_back(),
            Self::One(one) => one == disposition,
        }
    }
}

/// How a job's checks compare with a list of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PathMatch {
    /// Exactly these, in this order.
    Whole,
    /// These first, in this order.
    Starts,
    /// This one first.
    First,
    /// This one later than first.
    Later,
    /// Checks in a measured order, and never this one.
    Skipped,
}

impl PathMatch {
    pub(super) const ALL: [Self; 5] =
        [Self::Whole, Self::Starts, Self::First, Self::Later, Self::Skipped];

    pub(super) const fn as_str(self) -> &'static str {
        match self {
            Self::Whole => "path",
            Self::Starts => "path_starts",
            Self::First => "first_check",
            Self::Later => "later_check",
            Self::Skipped => "skipped_check",
        }
    }

    /// Whether the key's value is a list of checks rather than one.
    pub(super) const fn is_list(self) -> bool {
        matches!(self, Self::Whole | Self::Starts)
    }
}

/// Why a job's checks have no order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// All were typed in at close.
    NotMeasured,
    NoChecks,
}

impl Order {
    pub(super) const ALL: [Self; 2] = [Self::NotMeasured, Self::NoChecks];

    pub(super) const fn as_str(self) -> &'static str {
        match self {
            Self::NotMeasured => "not_measured",
            Self::NoChecks => "no_checks",
        }
    }
}

/// What is known of the distance to a job's return.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DistanceKnown {
    /// How far it held, to its return or to the vehicle's last reading.
    Known,
    /// It came back, nobody knows after how far.
    ReturnedUnread,
    /// It did not come back, and there is no later reading.
    NoLaterReading,
}

impl DistanceKnown {
    pub(super) const ALL: [Self; 3] = [Self::Known, Self::ReturnedUnread, Self::NoLaterReading];

    pub(super) const fn as_str(self) -> &'static str {
        match self {
            Self::Known => "known",
            Self::ReturnedUnread => "returned_unread",
            Self::NoLaterReading => "no_later_reading",
        }
    }
}

/// How often a vehicle came back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Visits {
    Any,
    Exactly(i64),
    AtLeast(i64),
}

impl Visits {
    pub(super) const ANY: &'static str = "any";
    pub(super) const OR_MORE: &'static str = "_or_more";

    /// Whether a count is meant.
    #[must_use]
    pub const fn holds(self, visits: i64) -> bool {
        match self {
            Self::Any => true,
            Self::Exactly(count) => visits == count,
            Self::AtLeast(count) => visits >= count,
        }
    }

    pub(super) fn parse(text: &str) -> Option<Self> {
        let count = |text: &str| text.parse().ok().filter(|count| *count >= 0);
        match text.strip_suffix(Self::OR_MORE) {
            Some(least) => count(least).map(Self::AtLeast),
            None if text == Self::ANY => Some(Self::Any),
            None => count(text).map(Self::Exactly),
        }
    }
}

impl fmt::Display for Visits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Any => f.write_str(Self::ANY),
            Self::Exactly(count) => write!(f, "{count}"),
            Self::AtLeast(count) => write!(f, "{count}{}", Self::OR_MORE),
        }
    }
}
