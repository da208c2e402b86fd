//! Proofs: how a repair was shown to hold before hand-over.

use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::optional;
use super::writable;
use crate::db::schema::proof;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId, ProofId};
use crate::domain::refusal::Refusal;
use crate::shops::write::{About, ShopWrite};

/// Ways to prove a repair.
pub const WAYS: &[&str] = &["road_test", "reading", "second_person"];

/// A proof. One that fails is rework, caught here.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = proof)]
pub struct Proof {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ProofId,
    pub job_id: JobId,
    pub how: String,
    pub passed: bool,
    pub note: Option<String>,
    pub reading: Option<f64>,
    pub unit: Option<String>,
    pub person_id: PersonId,
    pub proved_at: UtcStamp,
    pub version: i32,
}

/// A proof as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewProof {
    /// `road_test`, `reading` or `second_person`.
    pub how: String,
    pub passed: bool,
    pub note: Option<String>,
    pub reading: Option<f64>,
    pub unit: Option<String>,
}

/// A job's proofs, in order of time.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<Proof>> {
    Ok(proof::table
        .filter(proof::shop_id.eq(shop_id).and(proof::job_id.eq(job)))
        .order((proof::proved_at, proof::id))
        .select(Proof::as_select())
        .load(conn)?)
}

/// Takes a proof back: the own, while the job is open.
///
/// # Errors
/// Not found, forbidden; a conflict where the job is finished.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &ProofId) -> Answer<()> {
    let target = writable::unfinished(write, job)?;
    let row: Proof = proof::table
        .find((write.shop.id, id))
        .filter(proof::job_id.eq(job))
        .select(Proof::as_select())
        .first(write.conn)?;
    if row.person_id != *write.person {
        return Err(Refusal::Forbidden("take back what you proved yourself".into()).into());
    }
    diesel::delete(proof::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    write.stamp_job(job)?;
    let about = About::new("proof", &row.id).job(job).order(&target.order_id);
    write.note(&about, "removed", Some(&row), None)
}

/// Adds a proof.
///
/// # Errors
/// Faulty fields; a conflict where the job is finished.
pub fn add(write: &mut ShopWrite<'_>, job: &JobId, new: &NewProof) -> Answer<Proof> {
    let target = writable::unfinished(write, job)?;
    if !WAYS.contains(&new.how.as_str()) {
        return Err(
            Refusal::field("how", "word", format!("choose one of: {}", WAYS.join(", "))).into()
        );
    }
    if new.how == "reading" && new.reading.is_none() {
        return Err(Refusal::field("reading", "required", "write the reading").into());
    }
    let row = Proof {
        shop_id: write.shop.id,
        id: ProofId::make(),
        job_id: job.clone(),
        how: new.how.clone(),
        passed: new.passed,
        note: optional("note", new.note.as_deref(), 2000)?,
        reading: new.reading,
        unit: optional("unit", new.unit.as_deref(), 40)?,
        person_id: write.person.clone(),
        proved_at: write.now,
        version: 1,
    };
    diesel::insert_into(proof::table).values(&row).execute(write.conn)?;
    write.stamp_job(job)?;
    let about = About::new("proof", &row.id).job(job).order(&target.order_id);
    write.note(&about, "added", None, Some(&row))?;
    Ok(row)
}
