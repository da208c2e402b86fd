//! Labor entries: a technician's time is in one place at a time.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use diesel::prelude::*;

use analytics::words::WorkedAs;

use super::differ::{self, Pair};
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{Clocked, Placed, Said, ShopPlace};
use super::records::LaborRecord;
use super::rows::LaborRow;
use super::store::{Outcome, Store, count};
use crate::db::schema::{job, labor_entry, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, LaborId, PersonId};

type Standing = HashMap<(PersonId, UtcStamp), LaborRow>;

/// A good row with what it points at.
struct Found {
    placed: Placed<LaborRecord>,
    shop: ShopPlace,
    job: JobId,
    person: PersonId,
}

impl Store<'_> {
    /// Takes a chunk of labor entries.
    ///
    /// # Errors
    /// Where the record does not answer.
    pub fn labor(&mut self, rows: Vec<Placed<LaborRecord>>, said: &Said) -> Answer<()> {
        let mut good = Vec::with_capacity(rows.len());
        for placed in rows {
            match self.find_labor_job(&placed.record) {
                Ok((shop, job)) => {
                    let Some(person) = self.person(shop, &placed.record.technician)? else {
                        continue;
                    };
                    good.push(Found { placed, shop, job, person });
                }
                Err(fault) => self.reject(HistoryFile::Labor, placed.raw, vec![fault]),
            }
        }
        let standing = self.standing_labor(&good)?;
        for found in good {
            match self.place_labor(&found, &standing, said)? {
                Ok(outcome) => count(self.summary.file(HistoryFile::Labor), outcome),
                Err(fault) => self.reject(HistoryFile::Labor, found.placed.raw, vec![fault]),
            }
        }
        Ok(())
    }

    fn find_labor_job(&self, record: &LaborRecord) -> Result<(ShopPlace, JobId), Fault> {
        if record.ended_at <= record.started_at {
            return Err(Fault::new("ended_at", "is not after started_at; correct one of the two"));
        }
        let (order, _, job) = self.known.job(&record.order_no, record.job_no)?;
        Ok((order.shop, job.id.clone()))
    }

    fn standing_labor(&self, rows: &[Found]) -> Answer<Standing> {
        let mut by_shop: BTreeMap<ShopPlace, (BTreeSet<&PersonId>, Vec<UtcStamp>)> =
            BTreeMap::new();
        for row in rows {
            let (people, starts) = by_shop.entry(row.shop).or_default();
            people.insert(&row.person);
            starts.push(UtcStamp::new(row.placed.record.started_at));
        }
        let mut standing = HashMap::new();
        for (shop, (people, starts)) in by_shop {
            if let Some(number) = self.labor_in_record(shop) {
                let rows = self.db.read(|conn| started_at(conn, number, &people, &starts))?;
                standing.extend(
                    rows.into_iter().map(|row| ((row.person_id.clone(), row.started_at), row)),
                );
            }
        }
        Ok(standing)
    }

    /// The shop's number, where the record may have labor entries that this
    /// import has not written.
    fn labor_in_record(&self, shop: ShopPlace) -> Option<i32> {
        let state = self.known.shops.get(shop)?;
        state.had_labor.then_some(state.number)
    }

    fn place_labor(
        &mut self,
        found: &Found,
        standing: &Standing,
        said: &Said,
    ) -> Answer<Result<Outcome, Fault>> {
        let record = &found.placed.record;
        let start = UtcStamp::new(record.started_at);
        let end = UtcStamp::new(record.ended_at);
        if let Some(other) = self.clocked_over(&found.person, start, end) {
            return Ok(Err(overlap(&other.order_no, other.job_no)));
        }
        let old = standing.get(&(found.person.clone(), start));
        let row = self.labor_row(found, old, start, end, said);
        let same = old.is_some_and(|old| *old == row);
        if old.is_some() && !same && !self.options.update {
            return Ok(Err(differ::fault(HistoryFile::Labor, &[Pair::new(old, Some(&row))])));
        }
        if !same && let Some(number) = self.labor_in_record(found.shop) {
            let last = self.db.read(|conn| last_before(conn, number, &found.person, start, end))?;
            if let Some((begun, ended, order_no, job_no)) = last
                && ended.is_none_or(|ended| ended > start)
                && !self.was_met(&found.person, begun)
            {
                return Ok(Err(overlap(&order_no, job_no)));
            }
        }
        let order_no = self
            .known
            .orders
            .get_key_value(record.order_no.as_str())
            .map_or_else(|| Arc::from(record.order_no.as_str()), |(no, _)| Arc::clone(no));
        let clocked = Clocked { ended_at: end, order_no, job_no: record.job_no };
        self.known.clocked.entry(found.person.clone()).or_default().insert(start, clocked);
        if same {
            return Ok(Ok(Outcome::Unchanged));
        }
        Ok(Ok(self.write_labor(found, row, old)))
    }

    fn write_labor(&mut self, found: &Found, mut row: LaborRow, old: Option<&LaborRow>) -> Outcome {
        let record = &found.placed.record;
        let key = self.known.job(&record.order_no, record.job_no).map(|(_, key, _)| key);
        if let Some(job) = key.ok().and_then(|key| self.known.jobs.get_mut(&key)) {
            job.touched = true;
        }
        let changes = self.changes(found.shop);
        changes.touched.insert(found.job.clone());
        match old {
            Some(old) => {
                changes.touched.insert(old.job_id.clone());
                row.version += 1;
                changes.labor.over.push(row);
                Outcome::Changed
            }
            None => {
                changes.labor.new.push(row);
                Outcome::Added
            }
        }
    }

    fn labor_row(
        &self,
        found: &Found,
        old: Option<&LaborRow>,
        start: UtcStamp,
        end: UtcStamp,
        said: &Said,
    ) -> LaborRow {
        let (shop_id, zone) = self.number_and_zone(found.shop);
        let mut row = old.cloned().unwrap_or_else(|| LaborRow {
            shop_id,
            id: LaborId::make(),
            job_id: found.job.clone(),
            person_id: found.person.clone(),
            activity: None,
            worked_as: Word(WorkedAs::Lead),
            started_at: start,
            started_on: zone.day(start),
            ended_at: Some(end),
            version: 1,
        });
        let said = if old.is_some() { said } else { &Said::All };
        let record = &found.placed.record;
        row.job_id = found.job.clone();
        row.ended_at = Some(end);
        said.put("activity", record.activity.map(Word), &mut row.activity);
        said.put("as", Word(record.worked_as.unwrap_or(WorkedAs::Lead)), &mut row.worked_as);
        row
    }

    /// Whether the import has met the entry that began then, and may have moved
    /// its end.
    fn was_met(&self, person: &PersonId, begun: UtcStamp) -> bool {
        self.known.clocked.get(person).is_some_and(|entries| entries.contains_key(&begun))
    }

    /// An entry of this import in which the technician is elsewhere. Entries do
    /// not overlap, so the last one begun before `end` is the one to look at.
    fn clocked_over(&self, person: &PersonId, start: UtcStamp, end: UtcStamp) -> Option<&Clocked> {
        let (_, last) = self.known.clocked.get(person)?.range(..end).next_back()?;
        (last.ended_at > start).then_some(last)
    }
}

fn overlap(order_no: &str, job_no: i32) -> Fault {
    Fault::new(
        "started_at",
        format!(
            "overlaps the same technician's time on job {job_no} of order {order_no}; correct one of the two"
        ),
    )
}

fn started_at(
    conn: &mut Conn,
    shop_id: i32,
    people: &BTreeSet<&PersonId>,
    starts: &[UtcStamp],
) -> Answer<Vec<LaborRow>> {
    Ok(labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id))
        .filter(labor_entry::person_id.eq_any(people.iter().copied()))
        .filter(labor_entry::started_at.eq_any(starts.iter().copied()))
        .select(LaborRow::as_select())
        .load(conn)?)
}

/// An entry of the record: start, end, order and job.
type Last = (UtcStamp, Option<UtcStamp>, String, i32);

/// The technician's last entry in the record that began before `end`, other
/// than the one that began at `start`.
fn last_before(
    conn: &mut Conn,
    shop_id: i32,
    person: &PersonId,
    start: UtcStamp,
    end: UtcStamp,
) -> Answer<Option<Last>> {
    Ok(labor_entry::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(labor_entry::shop_id).and(job::id.eq(labor_entry::job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::person_id.eq(person)))
        .filter(labor_entry::started_at.lt(end).and(labor_entry::started_at.ne(start)))
        .order(labor_entry::started_at.desc())
        .select((
            labor_entry::started_at,
            labor_entry::ended_at,
            repair_order::order_no,
            job::job_no,
        ))
        .first(conn)
        .optional()?)
}
