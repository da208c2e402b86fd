//! Both jobs of a comeback beside each other: what was checked the first time
//! and what was not, what was put back, what is found now.

use std::collections::HashMap;

use super::model::{self, Comeback};
use super::view::{ToldLink, days, not_made};
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::jobs::brief::{self, Brief};
use crate::jobs::parts::MoneyRights;
use crate::jobs::usual;
use crate::jobs::view::{Told, Words};

/// The first repair, and what came of it.
pub struct Pair {
    pub first: Told,
    /// Checks usual for this complaint that were not made the first time.
    pub not_checked: Vec<String>,
    /// Absent where the vehicle did not come.
    pub now: Option<Told>,
    /// From the hand-over to the return.
    pub days: i64,
    /// Parts of the first repair that are held for the cause now.
    pub returned: Vec<String>,
}

/// A comeback with both jobs, and its decision.
pub struct LinkedPair {
    pub link: ToldLink,
    pub pair: Pair,
}

/// Tells pairs to one viewer; what is usual for a complaint is read once.
pub struct Teller<'a> {
    words: &'a Words,
    rights: MoneyRights,
    asker: &'a PersonId,
    /// By symptom.
    usual: HashMap<String, Vec<(String, i64)>>,
}

impl<'a> Teller<'a> {
    #[must_use]
    pub fn new(words: &'a Words, rights: MoneyRights, asker: &'a PersonId) -> Self {
        Self { words, rights, asker, usual: HashMap::new() }
    }

    /// A comeback's jobs.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn linked(&mut self, conn: &mut Conn, row: &Comeback) -> Answer<LinkedPair> {
        let shop_id = self.words.shop.id;
        let earlier = brief::of(conn, shop_id, &row.earlier_job_id)?;
        let later = brief::of(conn, shop_id, &row.later_job_id)?;
        let mut pair = self.alone(conn, &row.earlier_job_id, days(&earlier, &later))?;
        let back = model::returned_parts(conn, shop_id, &row.earlier_job_id, &row.later_job_id)?;
        pair.returned = pair
            .first
            .parts
            .iter()
            .filter(|part| back.iter().any(|one| one.part_use_id.as_str() == part.id))
            .map(|part| match &part.position {
                Some(position) => format!("{}, {position}: {}", part.name, part.done),
                None => format!("{}: {}", part.name, part.done),
            })
            .collect();
        pair.now = Some(Told::read(conn, self.words, &row.later_job_id, self.rights, self.asker)?);
        Ok(LinkedPair { link: ToldLink::of(row, self.words), pair })
    }

    /// The first repair alone, of which the customer told that it did not hold.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn alone(&mut self, conn: &mut Conn, job: &JobId, days: i64) -> Answer<Pair> {
        let brief = brief::of(conn, self.words.shop.id, job)?;
        Ok(Pair {
            not_checked: self.not_checked(conn, &brief)?,
            first: Told::read(conn, self.words, job, self.rights, self.asker)?,
            now: None,
            days,
            returned: Vec::new(),
        })
    }

    /// Of the checks usual for the job's complaint, those that were not made.
    fn not_checked(&mut self, conn: &mut Conn, job: &Brief) -> Answer<Vec<String>> {
        let Some(symptom) = &job.job.symptom else { return Ok(Vec::new()) };
        let shop_id = self.words.shop.id;
        if !self.usual.contains_key(symptom) {
            self.usual.insert(symptom.clone(), usual::checks(conn, shop_id, symptom)?);
        }
        let usual = self.usual.get(symptom).map(Vec::as_slice).unwrap_or_default();
        not_made(conn, self.words, job, usual)
    }
}
