//! Both jobs of a comeback beside each other: what was checked the first time
//! and what was not, what was put back, what is found now.

use std::collections::HashMap;

use super::model::{self, Comeback};
use super::view::{ToldLink, days, missing};
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::jobs::brief;
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
        let symptom = brief::of(conn, self.words.shop.id, job)?.job.symptom;
        let first = Told::read(conn, self.words, job, self.rights, self.asker)?;
        let not_checked = match symptom {
            Some(symptom) => {
                let usual = self.usual(conn, symptom)?;
                missing(conn, self.words, job, &usual)?
            }
            None => Vec::new(),
        };
        Ok(Pair { not_checked, first, now: None, days, returned: Vec::new() })
    }

    /// The checks that the record has for a complaint, most often made first.
    fn usual(&mut self, conn: &mut Conn, symptom: String) -> Answer<Vec<(String, i64)>> {
        if let Some(known) = self.usual.get(&symptom) {
            return Ok(known.clone());
        }
        let usual = usual::checks(conn, self.words.shop.id, &symptom)?;
        self.usual.insert(symptom, usual.clone());
        Ok(usual)
    }
}
