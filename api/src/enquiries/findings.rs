//! What an enquiry finds, as it is sent.

use chrono::NaiveDate;
use serde::Deserialize;

use super::model::Enquiry;
use crate::domain::ids::PersonId;
use crate::web::body::present;

/// What is found.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Findings {
    pub failed_item: Option<String>,
    pub conditions: Option<String>,
    pub verified: Option<bool>,
    /// Owed with `verified`.
    pub verified_how: Option<String>,
    pub checked: Option<String>,
    pub not_checked: Option<String>,
    pub analysis: Option<String>,
    /// A code of the shop's comeback reasons: it decides the comeback, too. Absent:
    /// the one decided on.
    pub reason: Option<String>,
    pub contributing: Option<String>,
    /// Absent: as the shop's list has it for the reason.
    pub attribution: Option<String>,
    /// Absent at first: who led the first job.
    pub technician_id: Option<PersonId>,
    pub technician_says: Option<String>,
    /// Absent: as it stands, at first today.
    pub held_on: Option<NaiveDate>,
}

/// A change to what was found. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EnquiryPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub failed_item: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub conditions: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<bool>)]
    pub verified: Option<Option<bool>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub verified_how: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub checked: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub not_checked: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub analysis: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub reason: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub contributing: Option<Option<String>>,
    /// Null: as the shop's list has it for the reason.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub attribution: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<PersonId>)]
    pub technician_id: Option<Option<PersonId>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub technician_says: Option<Option<String>>,
}

impl EnquiryPatch {
    /// What is found, as it is to be.
    #[must_use]
    pub fn over(self, row: &Enquiry) -> Findings {
        // Another reason brings its own attribution, unless one is given with it.
        let same_reason = self.reason.as_ref().is_none_or(|reason| *reason == row.reason);
        let stands = row.attribution.clone().filter(|_| same_reason);
        Findings {
            failed_item: self.failed_item.unwrap_or_else(|| row.failed_item.clone()),
            conditions: self.conditions.unwrap_or_else(|| row.conditions.clone()),
            verified: self.verified.unwrap_or(row.verified),
            verified_how: self.verified_how.unwrap_or_else(|| row.verified_how.clone()),
            checked: self.checked.unwrap_or_else(|| row.checked.clone()),
            not_checked: self.not_checked.unwrap_or_else(|| row.not_checked.clone()),
            analysis: self.analysis.unwrap_or_else(|| row.analysis.clone()),
            reason: self.reason.unwrap_or_else(|| row.reason.clone()),
            contributing: self.contributing.unwrap_or_else(|| row.contributing.clone()),
            attribution: self.attribution.unwrap_or(stands),
            technician_id: self.technician_id.unwrap_or_else(|| row.technician_id.clone()),
            technician_says: self.technician_says.unwrap_or_else(|| row.technician_says.clone()),
            held_on: None,
        }
    }
}
