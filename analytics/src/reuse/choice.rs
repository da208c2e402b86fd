//! What can be done with a part, and as what it was held.

use serde::Serialize;

use crate::words::{Disposition, PartRole};

/// What was done with a part, as far as its return is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Choice {
    CleanedReused,
    AdjustedReused,
    RepairedReused,
    /// New, rebuilt or used: a different part is on the vehicle afterwards.
    Replaced,
    /// Untouched, though it was off.
    RemovedRefitted,
    TestedLeft,
}

impl Choice {
    /// The choice a disposition amounts to.
    #[must_use]
    pub const fn of(disposition: Disposition) -> Self {
        match disposition {
            Disposition::CleanedReused => Self::CleanedReused,
            Disposition::AdjustedReused => Self::AdjustedReused,
            Disposition::RepairedReused => Self::RepairedReused,
            Disposition::ReplacedNew | Disposition::ReplacedRebuilt | Disposition::ReplacedUsed => {
                Self::Replaced
            }
            Disposition::RemovedRefitted => Self::RemovedRefitted,
            Disposition::TestedLeft => Self::TestedLeft,
        }
    }

    /// The word, as in answers and selectors.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::CleanedReused => "cleaned_reused",
            Self::AdjustedReused => "adjusted_reused",
            Self::RepairedReused => "repaired_reused",
            Self::Replaced => "replaced",
            Self::RemovedRefitted => "removed_refitted",
            Self::TestedLeft => "tested_left",
        }
    }

    /// What a selector calls the two untouched choices together.
    pub(super) const UNTOUCHED: &'static str = "untouched";

    /// Neither cleaned, mended nor replaced.
    #[must_use]
    pub const fn is_untouched(self) -> bool {
        matches!(self, Self::RemovedRefitted | Self::TestedLeft)
    }
}

/// The two roles that advice is given for: a part damaged by the fault or
/// wished by the customer is not chosen about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HeldRole {
    /// It was held for the complaint's cause.
    Suspect,
    /// It was only in the way.
    Bystander,
}

impl HeldRole {
    /// The role of a part use, where it is one of the two.
    #[must_use]
    pub const fn of(role: PartRole) -> Option<Self> {
        match role {
            PartRole::Suspect => Some(Self::Suspect),
            PartRole::Bystander => Some(Self::Bystander),
            PartRole::Damaged | PartRole::Wish => None,
        }
    }

    /// The role as part uses carry it.
    #[must_use]
    pub const fn part_role(self) -> PartRole {
        match self {
            Self::Suspect => PartRole::Suspect,
            Self::Bystander => PartRole::Bystander,
        }
    }

    /// The word, as in answers and selectors.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        self.part_role().as_str()
    }
}

/// What a figure of the advice rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// No case of this part: the shop's starting assumption and its other parts.
    Assumption,
    /// Fewer than ten cases of its own.
    MostlyAssumption,
    Record,
}

impl Basis {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Assumption => "assumption",
            Self::MostlyAssumption => "mostly assumption",
            Self::Record => "record",
        }
    }

    /// The basis of a figure with this many cases of its own.
    #[must_use]
    pub const fn of_cases(cases: i64) -> Self {
        if cases <= 0 {
            Self::Assumption
        } else if cases < crate::figure::TOO_FEW {
            Self::MostlyAssumption
        } else {
            Self::Record
        }
    }
}
