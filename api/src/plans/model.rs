//! Check plans and their versions: rows and queries.

use std::collections::BTreeMap;

use diesel::prelude::*;
use serde::Serialize;

use super::evidence::PlanEvidence;
use super::step::PlanStep;
use crate::codes::merge::{Standing, Standings, end_of};
use crate::codes::model as codes;
use crate::db::schema::{check_plan, check_plan_version};
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{CheckPlanId, CheckPlanVersionId, PersonId};
use crate::domain::refusal::Refusal;

/// A plan of checks for a symptom.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = check_plan, treat_none_as_null = true)]
pub struct CheckPlan {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: CheckPlanId,
    /// A code of the shop's list of symptoms.
    pub symptom: String,
    /// Only for this model; absent: for all.
    pub model: Option<String>,
    /// Only for this engine; absent: for all.
    pub engine: Option<String>,
    pub made_at: UtcStamp,
    pub withdrawn_at: Option<UtcStamp>,
    pub withdrawn_reason: Option<String>,
    pub version: i32,
}

/// A version as its row keeps it.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize)]
#[diesel(table_name = check_plan_version, treat_none_as_null = true)]
pub struct VersionRow {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: CheckPlanVersionId,
    pub plan_id: CheckPlanId,
    pub number: i32,
    pub state: String,
    pub origin: String,
    pub steps_json: String,
    pub evidence_json: Option<String>,
    pub reason: Option<String>,
    pub person_id: Option<PersonId>,
    pub made_at: UtcStamp,
    pub decided_by: Option<PersonId>,
    pub decided_at: Option<UtcStamp>,
    pub from_at: Option<UtcStamp>,
    pub to_at: Option<UtcStamp>,
}

/// A version of a plan.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct PlanVersion {
    pub id: CheckPlanVersionId,
    /// From 1.
    pub number: i32,
    /// `proposed`, `in_force`, `declined` or `replaced`.
    pub state: String,
    /// `starting` (ours), `own` (the shop's) or `record` (proposed by the record).
    pub origin: String,
    pub steps: Vec<PlanStep>,
    /// What a proposal of the record was made from.
    pub evidence: Option<PlanEvidence>,
    /// Why it was made, or declined.
    pub reason: Option<String>,
    pub person_id: Option<PersonId>,
    pub made_at: UtcStamp,
    pub decided_by: Option<PersonId>,
    pub decided_at: Option<UtcStamp>,
    /// When it came into force, and when another took its place.
    pub from_at: Option<UtcStamp>,
    pub to_at: Option<UtcStamp>,
}

/// A plan with its versions, the latest first.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholePlan {
    #[serde(flatten)]
    pub plan: CheckPlan,
    pub versions: Vec<PlanVersion>,
}

impl WholePlan {
    /// The version that is followed.
    #[must_use]
    pub fn in_force(&self) -> Option<&PlanVersion> {
        self.versions.iter().find(|version| version.state == "in_force")
    }

    /// The version that waits for a decision.
    #[must_use]
    pub fn proposed(&self) -> Option<&PlanVersion> {
        self.versions.iter().find(|version| version.state == "proposed")
    }
}

/// The plan that a job follows.
#[derive(Debug, Clone)]
pub struct PlanInForce {
    pub plan: CheckPlan,
    pub version: PlanVersion,
}

fn unreadable(what: &str, error: &serde_json::Error) -> Fault {
    Fault::Unavailable(format!("{what} of a check plan cannot be read: {error}"))
}

/// Steps as a row keeps them.
///
/// # Errors
/// Where they cannot be written as JSON.
pub fn steps_text(steps: &[PlanStep]) -> Answer<String> {
    serde_json::to_string(steps).map_err(|error| unreadable("the steps", &error))
}

impl VersionRow {
    /// The row with its steps and evidence read.
    ///
    /// # Errors
    /// Where they are not what they should be.
    pub fn read(&self) -> Answer<PlanVersion> {
        let steps =
            serde_json::from_str(&self.steps_json).map_err(|e| unreadable("the steps", &e))?;
        let evidence = self
            .evidence_json
            .as_deref()
            .map(serde_json::from_str)
            .transpose()
            .map_err(|error| unreadable("the evidence", &error))?;
        Ok(PlanVersion {
            id: self.id.clone(),
            number: self.number,
            state: self.state.clone(),
            origin: self.origin.clone(),
            steps,
            evidence,
            reason: self.reason.clone(),
            person_id: self.person_id.clone(),
            made_at: self.made_at,
            decided_by: self.decided_by.clone(),
            decided_at: self.decided_at,
            from_at: self.from_at,
            to_at: self.to_at,
        })
    }
}

/// The shop's plans, withdrawn ones too where asked, by symptom.
///
/// # Errors
/// Where the database does not answer.
pub fn plans(conn: &mut Conn, shop_id: i32, withdrawn: bool) -> Answer<Vec<CheckPlan>> {
    let mut query = check_plan::table
        .filter(check_plan::shop_id.eq(shop_id))
        .order((check_plan::symptom, check_plan::id))
        .select(CheckPlan::as_select())
        .into_boxed();
    if !withdrawn {
        query = query.filter(check_plan::withdrawn_at.is_null());
    }
    Ok(query.load(conn)?)
}

/// The shop's plans with their versions.
///
/// # Errors
/// Where the database does not answer.
pub fn whole_plans(conn: &mut Conn, shop_id: i32, withdrawn: bool) -> Answer<Vec<WholePlan>> {
    let plans = plans(conn, shop_id, withdrawn)?;
    let rows: Vec<VersionRow> = check_plan_version::table
        .filter(check_plan_version::shop_id.eq(shop_id))
        .order(check_plan_version::number.desc())
        .select(VersionRow::as_select())
        .load(conn)?;
    let mut versions: BTreeMap<CheckPlanId, Vec<PlanVersion>> = BTreeMap::new();
    for row in rows {
        versions.entry(row.plan_id.clone()).or_default().push(row.read()?);
    }
    Ok(plans
        .into_iter()
        .map(|plan| WholePlan { versions: versions.remove(&plan.id).unwrap_or_default(), plan })
        .collect())
}

/// One plan.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &CheckPlanId) -> Answer<CheckPlan> {
    let row = check_plan::table
        .find((shop_id, id))
        .select(CheckPlan::as_select())
        .first(conn)
        .optional()?;
    row.ok_or_else(|| Refusal::NotFound.into())
}

/// A plan's versions, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn versions(conn: &mut Conn, shop_id: i32, id: &CheckPlanId) -> Answer<Vec<VersionRow>> {
    Ok(check_plan_version::table
        .filter(check_plan_version::shop_id.eq(shop_id).and(check_plan_version::plan_id.eq(id)))
        .order(check_plan_version::number.desc())
        .select(VersionRow::as_select())
        .load(conn)?)
}

/// One plan with its versions.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn whole(conn: &mut Conn, shop_id: i32, id: &CheckPlanId) -> Answer<WholePlan> {
    let plan = by_id(conn, shop_id, id)?;
    let rows = versions(conn, shop_id, id)?;
    Ok(WholePlan { plan, versions: rows.iter().map(VersionRow::read).collect::<Answer<_>>()? })
}

/// The symptoms of the shop as they count now.
///
/// # Errors
/// Where the database does not answer.
pub fn symptoms(conn: &mut Conn, shop_id: i32) -> Answer<Standings> {
    standings(conn, shop_id, "symptom")
}

/// A list of the shop as its codes count now.
fn standings(conn: &mut Conn, shop_id: i32, list: &str) -> Answer<Standings> {
    let entries = codes::entries(conn, shop_id, Some(list))?;
    let standing = |entry: codes::CodeEntry| {
        let standing = Standing {
            retired: entry.retired_at.is_some(),
            merged_into: entry.merged_into.clone(),
        };
        (entry.code, standing)
    };
    Ok(entries.into_iter().map(standing).collect())
}

/// Whether two names of a model or an engine are the same: capitals and blanks
/// around do not tell them apart.
#[must_use]
pub fn same_name(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

impl CheckPlan {
    /// How narrowly it fits such a vehicle; `None` where it is for others. An
    /// engine says more than a model, both more than one.
    #[must_use]
    pub fn fits(&self, model: Option<&str>, engine: Option<&str>) -> Option<u8> {
        let part = |own: &Option<String>, asked: Option<&str>, weight: u8| match own {
            None => Some(0),
            Some(own) => asked.filter(|asked| same_name(own, asked)).map(|_| weight),
        };
        Some(part(&self.engine, engine, 1)? + part(&self.model, model, 2)?)
    }
}

/// The plans there ever were for a symptom, with their versions.
///
/// # Errors
/// Where the database does not answer.
pub fn of_symptom(conn: &mut Conn, shop_id: i32, symptom: &str) -> Answer<Vec<WholePlan>> {
    let symptoms = symptoms(conn, shop_id)?;
    let wanted = end_of(&symptoms, symptom).to_owned();
    let plans = plans(conn, shop_id, true)?.into_iter();
    let mut found = Vec::new();
    for plan in plans.filter(|plan| end_of(&symptoms, &plan.symptom) == wanted) {
        let rows = versions(conn, shop_id, &plan.id)?;
        let versions = rows.iter().map(VersionRow::read).collect::<Answer<_>>()?;
        found.push(WholePlan { plan, versions });
    }
    Ok(found)
}

/// Of a symptom's plans the one that a vehicle of this model and engine follows,
/// now or at that moment: the one for its engine and model first, then for its
/// model, its engine, and for all. Of two, where a merge brought their symptoms
/// together, the one made later counts.
#[must_use]
pub fn choose<'a>(
    plans: &'a [WholePlan],
    (model, engine): (Option<&str>, Option<&str>),
    at: Option<UtcStamp>,
) -> Option<(&'a CheckPlan, &'a PlanVersion)> {
    let followed = |version: &&PlanVersion| match at {
        None => version.state == "in_force",
        Some(at) => {
            version.from_at.is_some_and(|from| from <= at) && version.to_at.is_none_or(|to| at < to)
        }
    };
    plans
        .iter()
        .filter_map(|whole| {
            let narrow = whole.plan.fits(model, engine)?;
            let version = whole.versions.iter().find(followed)?;
            Some((narrow, &whole.plan, version))
        })
        .max_by(|(one, made, _), (other, after, _)| one.cmp(other).then(made.id.cmp(&after.id)))
        .map(|(_, plan, version)| (plan, version))
}

/// The plan in force for a symptom on such a vehicle, the narrowest that fits.
///
/// # Errors
/// Where the database does not answer.
pub fn in_force(
    conn: &mut Conn,
    shop_id: i32,
    symptom: &str,
    model: Option<&str>,
    engine: Option<&str>,
) -> Answer<Option<PlanInForce>> {
    let plans = of_symptom(conn, shop_id, symptom)?;
    let chosen = choose(&plans, (model, engine), None);
    Ok(chosen.map(|(plan, version)| PlanInForce { plan: plan.clone(), version: version.clone() }))
}

/// The place, from 1, of a check in the plan in force for a symptom, of those for
/// every vehicle; `None` where there is no such plan or it has no such step. Codes
/// are read through their merges.
///
/// # Errors
/// Where the database does not answer.
pub fn place_of(
    conn: &mut Conn,
    shop_id: i32,
    symptom: &str,
    check: &str,
) -> Answer<Option<usize>> {
    let Some(followed) = in_force(conn, shop_id, symptom, None, None)? else { return Ok(None) };
    let checks = standings(conn, shop_id, "check")?;
    let wanted = end_of(&checks, check);
    let mut steps: Vec<&str> = Vec::new();
    for step in &followed.version.steps {
        let now = end_of(&checks, &step.check);
        // Of two that were merged the first stays.
        if !steps.contains(&now) {
            steps.push(now);
        }
    }
    Ok(steps.iter().position(|step| *step == wanted).map(|at| at + 1))
}

/// Adds a plan.
///
/// # Errors
/// Where the database does not answer.
pub fn add_plan(conn: &mut Conn, plan: &CheckPlan) -> Answer<()> {
    diesel::insert_into(check_plan::table).values(plan).execute(conn)?;
    Ok(())
}

/// Writes a plan's row over what stands.
///
/// # Errors
/// Where the database does not answer.
pub fn save_plan(conn: &mut Conn, plan: &CheckPlan) -> Answer<()> {
    diesel::update(check_plan::table.find((plan.shop_id, &plan.id))).set(plan).execute(conn)?;
    Ok(())
}

/// Adds a version.
///
/// # Errors
/// Where the database does not answer.
pub fn add_version(conn: &mut Conn, version: &VersionRow) -> Answer<()> {
    diesel::insert_into(check_plan_version::table).values(version).execute(conn)?;
    Ok(())
}

/// Writes how a version stands. Its steps are never changed.
///
/// # Errors
/// Where the database does not answer.
pub fn save_standing(conn: &mut Conn, version: &VersionRow) -> Answer<()> {
    diesel::update(check_plan_version::table.find((version.shop_id, &version.id)))
        .set((
            check_plan_version::state.eq(&version.state),
            check_plan_version::reason.eq(&version.reason),
            check_plan_version::decided_by.eq(&version.decided_by),
            check_plan_version::decided_at.eq(version.decided_at),
            check_plan_version::from_at.eq(version.from_at),
            check_plan_version::to_at.eq(version.to_at),
        ))
        .execute(conn)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(model: Option<&str>, engine: Option<&str>) -> CheckPlan {
        CheckPlan {
            shop_id: 1,
            id: CheckPlanId::make(),
            symptom: "engine.tick".to_owned(),
            model: model.map(str::to_owned),
            engine: engine.map(str::to_owned),
            made_at: UtcStamp::from_naive(chrono::NaiveDateTime::default()),
            withdrawn_at: None,
            withdrawn_reason: None,
            version: 1,
        }
    }

    #[test]
    fn the_narrowest_fits_best() {
        let vehicle = (Some("Corvane "), Some("2.4"));
        let fit = |model, engine| plan(model, engine).fits(vehicle.0, vehicle.1);
        assert_eq!(fit(None, None), Some(0));
        assert_eq!(fit(None, Some("2.4")), Some(1));
        assert_eq!(fit(Some("corvane"), None), Some(2));
        assert_eq!(fit(Some("Corvane"), Some("2.4")), Some(3));
        assert_eq!(fit(Some("Haddenby"), None), None);
        assert_eq!(plan(None, Some("2.4")).fits(None, None), None);
    }
}
