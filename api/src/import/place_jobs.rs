//! Jobs, each with its first operation and the comeback it names: what a chunk
//! of rows comes to.

use std::collections::{BTreeMap, HashMap};

use analytics::words::{CauseState, JobKind, Outcome as Ending};
use diesel::prelude::*;

use super::differ::{self, Pair};
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{JobEntry, OrderEntry, PendingLink, Placed, Said, ShopPlace};
use super::parse::JobLine;
use super::records::JobRecord;
use super::rows::{JobRow, OperationRow};
use super::store::{Outcome, Store, count};
use crate::db::schema::{job, job_operation};
use crate::db::types::Word;
use crate::db::{AT_ONCE, Answer, Conn};
use crate::domain::ids::{JobId, OperationId, OrderId, PersonId};

/// What the record holds of the jobs that a chunk names.
#[derive(Default)]
struct Standing {
    jobs: HashMap<(OrderId, i32), JobRow>,
    operations: HashMap<JobId, OperationRow>,
}

/// A job and its first operation as they are to be.
struct Wanted {
    job: JobRow,
    operation: Option<OperationRow>,
}

impl Store<'_> {
    /// Takes a chunk of jobs.
    ///
    /// # Errors
    /// Where the record does not answer.
    pub fn jobs(&mut self, rows: Vec<Placed<JobLine>>, said: &Said) -> Answer<()> {
        let standing = self.standing_jobs(&rows)?;
        for Placed { raw, record } in rows {
            let order = match self.known.order(&record.job.order_no) {
                Ok(order) => order.clone(),
                Err(fault) => {
                    self.reject(HistoryFile::Jobs, raw, vec![fault]);
                    continue;
                }
            };
            let old = match standing.jobs.is_empty() {
                true => None,
                false => standing.jobs.get(&(order.id.clone(), record.job.job_no)),
            };
            let faults = self.job_faults(&order, &record.job, old);
            if !faults.is_empty() {
                self.reject(HistoryFile::Jobs, raw, faults);
                continue;
            }
            let lead = match &record.job.technician {
                Some(name) => self.person(order.shop, name)?,
                None => None,
            };
            let old_operation = old.and_then(|row| standing.operations.get(&row.id));
            match self.place_job(&order, &record, lead, (old, old_operation), said) {
                Ok(outcome) => {
                    count(self.summary.file(HistoryFile::Jobs), outcome);
                    self.note_link(&order, raw, &record.job);
                }
                Err(fault) => self.reject(HistoryFile::Jobs, raw, vec![fault]),
            }
        }
        Ok(())
    }

    fn standing_jobs(&mut self, rows: &[Placed<JobLine>]) -> Answer<Standing> {
        let mut by_shop: BTreeMap<ShopPlace, Vec<OrderId>> = BTreeMap::new();
        for row in rows {
            if let Some(order) = self.known.orders.get(row.record.job.order_no.as_str())
                && !order.fresh
            {
                by_shop.entry(order.shop).or_default().push(order.id.clone());
            }
        }
        let mut standing = Standing::default();
        for (shop, mut orders) in by_shop {
            orders.dedup();
            let Some(number) = self.number_in_record(shop) else { continue };
            let (jobs, operations) = self.look(|conn| load(conn, number, &orders))?;
            standing
                .jobs
                .extend(jobs.into_iter().map(|row| ((row.order_id.clone(), row.job_no), row)));
            standing.operations.extend(operations.into_iter().map(|row| (row.job_id.clone(), row)));
        }
        Ok(standing)
    }

    fn job_faults(
        &self,
        order: &OrderEntry,
        record: &JobRecord,
        old: Option<&JobRow>,
    ) -> Vec<Fault> {
        let mut faults = Vec::new();
        if self.known.jobs.contains_key(&(order.place, record.job_no)) {
            faults.push(Fault::new("job_no", "is there twice on its order; keep one row a job"));
        }
        let finished = record.outcome.is_some() || order.closed_at.is_some();
        let complaint = record.kind.unwrap_or(JobKind::Complaint) == JobKind::Complaint;
        let never_had = old.is_none_or(|row| row.symptom.is_some());
        if record.symptom.is_none() && complaint && finished && never_had {
            faults.push(Fault::new(
                "symptom",
                "is empty on a finished complaint; write the symptom's code, or another kind of job",
            ));
        }
        let charged = record.flat_rate_hundredths.is_some()
            || record.billed_hundredths.is_some()
            || record.labor_amount_minor.is_some()
            || record.payer.is_some();
        if charged && record.operation.is_none() {
            faults.push(Fault::new(
                "operation",
                "is empty beside hours or amounts; write what is charged",
            ));
        }
        match (&record.returned_from_order, record.returned_from_job) {
            (Some(_), None) => faults.push(Fault::new(
                "returned_from_job",
                "is empty beside returned_from_order; write the earlier job's number too",
            )),
            (None, Some(_)) => faults.push(Fault::new(
                "returned_from_order",
                "is empty beside returned_from_job; write the earlier order's number too",
            )),
            (None, None) if record.comeback_reason.is_some() => faults.push(Fault::new(
                "comeback_reason",
                "is a reason without a comeback; write returned_from_order and returned_from_job, or empty it",
            )),
            _ => {}
        }
        faults
    }

    fn place_job(
        &mut self,
        order: &OrderEntry,
        line: &JobLine,
        lead: Option<PersonId>,
        (old, old_operation): (Option<&JobRow>, Option<&OperationRow>),
        said: &Said,
    ) -> Result<Outcome, Fault> {
        let (number, _) = self.number_and_zone(order.shop);
        let wanted = match old {
            None => Wanted { job: new_row(number, order, line, lead), operation: None },
            Some(old) => Wanted {
                job: overlay(old, order, line, lead, said),
                operation: old_operation.cloned(),
            },
        };
        let wanted = charge(wanted, &line.job, said);
        let key = (order.place, line.job.job_no);
        let fresh = old.is_none();
        let changed =
            old.is_some_and(|old| wanted.job != *old) || wanted.operation.as_ref() != old_operation;
        let entry = |touched| JobEntry::new(wanted.job.id.clone(), fresh, touched);
        if !fresh && changed && !self.options.update {
            self.known.jobs.insert(key, entry(false));
            let job = Pair::new(old, Some(&wanted.job));
            let operation = Pair::new(old_operation, wanted.operation.as_ref());
            return Err(differ::fault(HistoryFile::Jobs, &[job, operation]));
        }
        self.known.jobs.insert(key, entry(fresh || changed));
        if !fresh && !changed {
            return Ok(Outcome::Unchanged);
        }
        self.know_code(order.shop, "symptom", wanted.job.symptom.as_deref());
        self.know_code(order.shop, "cause", wanted.job.cause.as_deref());
        self.write_job(order.shop, wanted, old, old_operation);
        Ok(if fresh { Outcome::Added } else { Outcome::Changed })
    }

    fn write_job(
        &mut self,
        shop: ShopPlace,
        wanted: Wanted,
        old: Option<&JobRow>,
        old_operation: Option<&OperationRow>,
    ) {
        let Wanted { mut job, operation } = wanted;
        self.know_code(shop, "operation", operation.as_ref().map(|row| row.code.as_str()));
        let changes = self.changes(shop);
        if let Some(mut row) = operation {
            match old_operation {
                None => changes.operations.new.push(row),
                Some(old) if row != *old => {
                    row.version += 1;
                    changes.operations.over.push(row);
                }
                Some(_) => {}
            }
        }
        match old {
            None => changes.jobs.new.push(job),
            Some(old) if job != *old => {
                job.version += 1;
                changes.jobs.over.push(job);
            }
            Some(_) => {
                changes.touched.insert(job.id);
            }
        }
    }

    fn note_link(&mut self, order: &OrderEntry, raw: super::source::Raw, record: &JobRecord) {
        if let (Some(earlier_order), Some(earlier_job)) =
            (&record.returned_from_order, record.returned_from_job)
        {
            self.known.links.push(PendingLink {
                raw,
                shop: order.shop,
                later: (order.place, record.job_no),
                later_order: record.order_no.clone(),
                earlier_order: earlier_order.clone(),
                earlier_job,
                reason: record.comeback_reason.clone(),
            });
        }
    }
}

fn new_row(shop_id: i32, order: &OrderEntry, line: &JobLine, lead: Option<PersonId>) -> JobRow {
    let blank = JobRow {
        shop_id,
        id: JobId::make(),
        order_id: order.id.clone(),
        job_no: line.job.job_no,
        kind: Word(JobKind::Complaint),
        symptom: None,
        complaint: None,
        outcome: None,
        cause: None,
        cause_state: None,
        cause_position: None,
        correction: None,
        lead_id: None,
        finished_at: None,
        version: 1,
    };
    overlay(&blank, order, line, lead, &Said::All)
}

/// Lays the file's row over the record's.
fn overlay(
    old: &JobRow,
    order: &OrderEntry,
    JobLine { job: record, cause_state }: &JobLine,
    lead: Option<PersonId>,
    said: &Said,
) -> JobRow {
    let mut row = old.clone();
    said.put("kind", Word(record.kind.unwrap_or(JobKind::Complaint)), &mut row.kind);
    said.put("symptom", record.symptom.clone(), &mut row.symptom);
    said.put("complaint", record.complaint.clone(), &mut row.complaint);
    said.put("cause", record.cause.clone(), &mut row.cause);
    said.put("cause_position", record.cause_position.clone(), &mut row.cause_position);
    said.put("correction", record.correction.clone(), &mut row.correction);
    said.put("technician", lead, &mut row.lead_id);
    // A cause that stands keeps how sure it is; a new one from a file was the
    // cause unless the file says otherwise.
    let kept = row.cause_state.filter(|_| row.cause == old.cause);
    row.cause_state = row
        .cause
        .as_ref()
        .map(|_| cause_state.map(Word).or(kept).unwrap_or(Word(CauseState::Confirmed)));
    let ending = record.outcome.or_else(|| {
        let kept = row.outcome.filter(|_| !said.has("outcome")).map(|word| word.0);
        kept.or(order.closed_at.map(|_| Ending::Repaired))
    });
    if ending != row.outcome.map(|word| word.0) {
        row.outcome = ending.map(Word);
        row.finished_at = ending.map(|_| order.closed_at.unwrap_or(order.opened_at));
    }
    row
}

/// Lays what the row charges over the job's first operation; a row that charges
/// nothing says nothing.
fn charge(wanted: Wanted, record: &JobRecord, said: &Said) -> Wanted {
    let Wanted { job, operation } = wanted;
    let Some(code) = record.operation.clone() else {
        return Wanted { job, operation };
    };
    let mut row = operation.unwrap_or_else(|| OperationRow {
        shop_id: job.shop_id,
        id: OperationId::make(),
        job_id: job.id.clone(),
        line: 1,
        code: code.clone(),
        flat_rate_hundredths: None,
        billed_hundredths: None,
        labor_amount_minor: None,
        payer: None,
        version: 1,
    });
    row.code = code;
    said.put("flat_rate_hours", record.flat_rate_hundredths, &mut row.flat_rate_hundredths);
    said.put("billed_hours", record.billed_hundredths, &mut row.billed_hundredths);
    said.put("labor_amount", record.labor_amount_minor, &mut row.labor_amount_minor);
    said.put("payer", record.payer.map(Word), &mut row.payer);
    Wanted { job, operation: Some(row) }
}

fn load(
    conn: &mut Conn,
    shop_id: i32,
    orders: &[OrderId],
) -> Answer<(Vec<JobRow>, Vec<OperationRow>)> {
    let jobs: Vec<JobRow> = job::table
        .filter(job::shop_id.eq(shop_id))
        .filter(job::order_id.eq_any(orders))
        .select(JobRow::as_select())
        .load(conn)?;
    let ids: Vec<&JobId> = jobs.iter().map(|row| &row.id).collect();
    let mut operations = Vec::with_capacity(ids.len());
    for some in ids.chunks(AT_ONCE) {
        let rows: Vec<OperationRow> = job_operation::table
            .filter(job_operation::shop_id.eq(shop_id))
            .filter(job_operation::job_id.eq_any(some.iter().copied()))
            .filter(job_operation::line.eq(1))
            .select(OperationRow::as_select())
            .load(conn)?;
        operations.extend(rows);
    }
    Ok((jobs, operations))
}
