//! Labor entries: a technician's time is in one place at a time.

use std::collections::hash_map::Entry;
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

/// What the record holds of the time that a chunk names.
#[derive(Default)]
struct Standing {
    /// Entries that began when one of the chunk does.
    rows: HashMap<(PersonId, UtcStamp), LaborRow>,
    /// By shop, once they are asked for: the entries that reach into the chunk.
    spans: HashMap<ShopPlace, Spans>,
}

/// End, order and job of entries, by technician and start.
type Spans = BTreeMap<(PersonId, UtcStamp), (Option<UtcStamp>, String, i32)>;

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
        let mut standing = self.standing_labor(&good)?;
        let mut rejects = Vec::new();
        for (at, found) in good.iter().enumerate() {
            match self.place_labor(found, &good, &mut standing, said)? {
                Ok(outcome) => count(self.summary.file(HistoryFile::Labor), outcome),
                Err(fault) => rejects.push((at, fault)),
            }
        }
        let mut rejects = rejects.into_iter().peekable();
        for (at, found) in good.into_iter().enumerate() {
            if let Some((_, fault)) = rejects.next_if(|(place, _)| *place == at) {
                self.reject(HistoryFile::Labor, found.placed.raw, vec![fault]);
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

    fn standing_labor(&mut self, rows: &[Found]) -> Answer<Standing> {
        let mut by_shop: BTreeMap<ShopPlace, (BTreeSet<&PersonId>, Vec<UtcStamp>)> =
            BTreeMap::new();
        for row in rows.iter().filter(|row| self.labor_in_record(row.shop).is_some()) {
            let (people, starts) = by_shop.entry(row.shop).or_default();
            people.insert(&row.person);
            starts.push(UtcStamp::new(row.placed.record.started_at));
        }
        let mut standing = Standing::default();
        for (shop, (people, starts)) in by_shop {
            if let Some(number) = self.labor_in_record(shop) {
                let rows = self.look(|conn| started_at(conn, number, &people, &starts))?;
                standing.rows.extend(
                    rows.into_iter().map(|row| ((row.person_id.clone(), row.started_at), row)),
                );
            }
        }
        Ok(standing)
    }

    /// The entry of the record in which the technician is elsewhere, and which
    /// the import has not met. Entries do not overlap, so the last one begun
    /// before the end is the one to look at.
    fn recorded_over(
        &mut self,
        found: &Found,
        rows: &[Found],
        standing: &mut Standing,
    ) -> Answer<Option<Fault>> {
        let Some(number) = self.labor_in_record(found.shop) else { return Ok(None) };
        let spans = match standing.spans.entry(found.shop) {
            Entry::Occupied(loaded) => loaded.into_mut(),
            Entry::Vacant(place) => {
                let own = || rows.iter().filter(|row| row.shop == found.shop);
                let people: BTreeSet<&PersonId> = own().map(|row| &row.person).collect();
                let first = own().map(|row| row.placed.record.started_at).min();
                let last = own().map(|row| row.placed.record.ended_at).max();
                let (Some(first), Some(last)) = (first, last) else { return Ok(None) };
                let reach = (UtcStamp::new(first), UtcStamp::new(last));
                place.insert(self.look(|conn| reaching(conn, number, &people, reach))?)
            }
        };
        let record = &found.placed.record;
        let (start, end) = (UtcStamp::new(record.started_at), UtcStamp::new(record.ended_at));
        let before = spans.range(..(found.person.clone(), end)).rev();
        let mut own = before.take_while(|((person, _), _)| *person == found.person);
        let last = own.find(|((_, begun), _)| *begun != start);
        Ok(last
            .filter(|(_, (ended, _, _))| ended.is_none_or(|ended| ended > start))
            .filter(|((_, begun), _)| !self.was_met(&found.person, *begun))
            .map(|(_, (_, order_no, job_no))| overlap(order_no, *job_no)))
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
        rows: &[Found],
        standing: &mut Standing,
        said: &Said,
    ) -> Answer<Result<Outcome, Fault>> {
        let record = &found.placed.record;
        let start = UtcStamp::new(record.started_at);
        let end = UtcStamp::new(record.ended_at);
        if let Some(other) = self.clocked_over(&found.person, start, end) {
            return Ok(Err(overlap(&other.order_no, other.job_no)));
        }
        let old = match standing.rows.is_empty() {
            true => None,
            false => standing.rows.get(&(found.person.clone(), start)).cloned(),
        };
        let old = old.as_ref();
        let row = self.labor_row(found, old, start, end, said);
        let same = old.is_some_and(|old| *old == row);
        if old.is_some() && !same && !self.options.update {
            return Ok(Err(differ::fault(HistoryFile::Labor, &[Pair::new(old, Some(&row))])));
        }
        if !same && let Some(fault) = self.recorded_over(found, rows, standing)? {
            return Ok(Err(fault));
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

/// The entries of the record that reach into a stretch of time.
fn reaching(
    conn: &mut Conn,
    shop_id: i32,
    people: &BTreeSet<&PersonId>,
    (first, last): (UtcStamp, UtcStamp),
) -> Answer<Spans> {
    type Row = (PersonId, UtcStamp, Option<UtcStamp>, String, i32);
    let rows: Vec<Row> = labor_entry::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(labor_entry::shop_id).and(job::id.eq(labor_entry::job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(labor_entry::shop_id.eq(shop_id))
        .filter(labor_entry::person_id.eq_any(people.iter().copied()))
        .filter(labor_entry::started_at.lt(last))
        .filter(labor_entry::ended_at.is_null().or(labor_entry::ended_at.gt(first)))
        .select((
            labor_entry::person_id,
            labor_entry::started_at,
            labor_entry::ended_at,
            repair_order::order_no,
            job::job_no,
        ))
        .load(conn)?;
    let span = |(person, start, end, order_no, job_no)| ((person, start), (end, order_no, job_no));
    Ok(rows.into_iter().map(span).collect())
}
