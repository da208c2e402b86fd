//! The steps of a check plan, as a version keeps them.

use serde::{Deserialize, Serialize};

use crate::domain::text;

/// How much a check that finds nothing says.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlanSensitivity {
    /// What it does not show is not there.
    #[default]
    Conclusive,
    /// It may miss: a cause that it did not show is less likely, not ruled out.
    MayMiss,
}

/// What has to be opened before a step: paid once for all steps that share it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanOpening {
    pub name: String,
    /// To open and to close again.
    #[schema(minimum = 0, maximum = 10000)]
    pub minutes: i32,
}

/// What a reading has to lie between, and who says so.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanLimits {
    /// UCUM code.
    pub unit: String,
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// The document, the vehicle maker, or `common practice`.
    pub source: String,
    pub edition: Option<String>,
}

/// What a finding points to, and what is done then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanFinding {
    pub finding: String,
    /// A code of the shop's list of causes; absent: no cause, but a way on.
    pub cause: Option<String>,
    pub correction: Option<String>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanStep {
    /// A code of the shop's list of checks.
    pub check: String,
    /// Hands-on minutes; absent: as measured, else as the list of checks says.
    #[schema(minimum = 0, maximum = 10000)]
    pub minutes: Option<i32>,
    /// It stands before the others, and no proposal of the record drops it.
    #[serde(default)]
    #[schema(required = false)]
    pub mandatory: bool,
    /// Checks of the plan that have to come before it.
    #[serde(default)]
    #[schema(required = false)]
    pub after: Vec<String>,
    pub opening: Option<PlanOpening>,
    #[serde(default)]
    #[schema(required = false)]
    pub sensitivity: PlanSensitivity,
    pub limits: Option<PlanLimits>,
    pub caution: Option<String>,
    #[serde(default)]
    #[schema(required = false)]
    pub points_to: Vec<PlanFinding>,
}

impl PlanStep {
    /// A step with a check and nothing else.
    #[must_use]
    pub fn plain(check: impl Into<String>) -> Self {
        Self {
            check: check.into(),
            minutes: None,
            mandatory: false,
            after: Vec::new(),
            opening: None,
            sensitivity: PlanSensitivity::Conclusive,
            limits: None,
            caution: None,
            points_to: Vec::new(),
        }
    }
}

/// Without blanks around texts, and without texts that are nothing.
#[must_use]
pub fn trimmed(steps: &[PlanStep]) -> Vec<PlanStep> {
    steps.iter().map(trimmed_step).collect()
}

fn trimmed_step(step: &PlanStep) -> PlanStep {
    let own = text::tidied;
    let some = |text: &Option<String>| text.as_deref().map(own).filter(|text| !text.is_empty());
    PlanStep {
        check: own(&step.check),
        after: step.after.iter().map(|code| own(code)).collect(),
        opening: step
            .opening
            .as_ref()
            .map(|opening| PlanOpening { name: own(&opening.name), minutes: opening.minutes }),
        limits: step.limits.as_ref().map(|limits| PlanLimits {
            unit: own(&limits.unit),
            source: own(&limits.source),
            edition: some(&limits.edition),
            ..limits.clone()
        }),
        caution: some(&step.caution),
        points_to: step
            .points_to
            .iter()
            .map(|point| PlanFinding {
                finding: own(&point.finding),
                cause: some(&point.cause),
                correction: some(&point.correction),
            })
            .collect(),
        ..step.clone()
    }
}
