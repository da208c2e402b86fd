//! Further operations, checks and parts: rows that a job has by number. All
//! three come in the same way.

use std::collections::{BTreeMap, HashMap};

use diesel::prelude::*;

use super::changes::{Changes, Written};
use super::differ::{self, Pair};
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{Placed, Said, ShopPlace};
use super::parse::{CheckLine, OperationRecord};
use super::records::PartRecord;
use super::rows::{CheckRow, OperationRow, PartRow, Versioned};
use super::store::{Outcome, Store, count};
use crate::db::schema::{job_check, job_operation, part_use};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{CheckId, JobId, OperationId, PartUseId};

/// A row of a job that has a number among its like.
pub trait JobLines {
    type Row: Clone + PartialEq + serde::Serialize + Versioned;
    const FILE: HistoryFile;
    /// The column of the number.
    const NUMBER: &'static str;

    fn order_no(&self) -> &str;
    fn job_no(&self) -> i32;
    /// Absent: its place among the job's rows in the file.
    fn number(&self) -> Option<i32>;
    /// The code it brings, and the list the code belongs to.
    fn code(&self) -> Option<(&'static str, &str)>;
    /// The row it would be with nothing said.
    fn blank(&self, shop_id: i32, job: &JobId, number: i32) -> Self::Row;
    /// Lays what it says over a row.
    fn lay_over(&self, row: &mut Self::Row, said: &Said);
    /// The rows that jobs of the record have.
    ///
    /// # Errors
    /// Where the record does not answer.
    fn standing(conn: &mut Conn, shop_id: i32, jobs: &[JobId]) -> Answer<Vec<Self::Row>>;
    /// Where a row belongs.
    fn slot(row: &Self::Row) -> (JobId, i32);
    /// Where rows wait to be written.
    fn among(changes: &mut Changes) -> &mut Written<Self::Row>;
}

type Standing<T> = HashMap<(JobId, i32), <T as JobLines>::Row>;

impl Store<'_> {
    /// Takes a chunk of a job's numbered rows.
    ///
    /// # Errors
    /// Where the record does not answer.
    pub fn lines<T: JobLines>(&mut self, rows: Vec<Placed<T>>, said: &Said) -> Answer<()> {
        let standing = self.standing_lines(&rows)?;
        for Placed { raw, record } in rows {
            match self.place_line(&record, &standing, said) {
                Ok(outcome) => count(self.summary.file(T::FILE), outcome),
                Err(fault) => self.reject(T::FILE, raw, vec![fault]),
            }
        }
        Ok(())
    }

    fn standing_lines<T: JobLines>(&mut self, rows: &[Placed<T>]) -> Answer<Standing<T>> {
        let mut by_shop: BTreeMap<ShopPlace, Vec<JobId>> = BTreeMap::new();
        for row in rows {
            if let Ok((order, _, job)) = self.known.job(row.record.order_no(), row.record.job_no())
                && !job.fresh
            {
                by_shop.entry(order.shop).or_default().push(job.id.clone());
            }
        }
        let mut standing = HashMap::new();
        for (shop, mut jobs) in by_shop {
            jobs.sort_unstable();
            jobs.dedup();
            let Some(number) = self.number_in_record(shop) else { continue };
            let rows = self.look(|conn| T::standing(conn, number, &jobs))?;
            standing.extend(rows.into_iter().map(|row| (T::slot(&row), row)));
        }
        Ok(standing)
    }

    fn place_line<T: JobLines>(
        &mut self,
        record: &T,
        standing: &Standing<T>,
        said: &Said,
    ) -> Result<Outcome, Fault> {
        let (order, key, job) = self.known.job(record.order_no(), record.job_no())?;
        let (shop, id) = (order.shop, job.id.clone());
        let (shop_id, _) = self.number_and_zone(shop);
        let number = self.known.meet(key, T::FILE, record.number()).map_err(|number| {
            let why = format!("{number} is there twice on this job; keep one row each");
            Fault::new(T::NUMBER, why)
        })?;
        let old = match standing.is_empty() {
            true => None,
            false => standing.get(&(id.clone(), number)),
        };
        let mut row = old.cloned().unwrap_or_else(|| record.blank(shop_id, &id, number));
        record.lay_over(&mut row, if old.is_some() { said } else { &Said::All });
        match old {
            Some(old) if *old == row => return Ok(Outcome::Unchanged),
            Some(old) if !self.options.update => {
                return Err(differ::fault(T::FILE, &[Pair::new(Some(old), Some(&row))]));
            }
            _ => {}
        }
        if let Some((list, code)) = record.code() {
            self.know_code(shop, list, Some(code));
        }
        if let Some(job) = self.known.jobs.get_mut(&key) {
            job.touched = true;
        }
        let changes = self.changes(shop);
        changes.touched.insert(id);
        if old.is_some() {
            *row.version() += 1;
            T::among(changes).over.push(row);
            Ok(Outcome::Changed)
        } else {
            T::among(changes).new.push(row);
            Ok(Outcome::Added)
        }
    }
}

impl JobLines for OperationRecord {
    type Row = OperationRow;
    const FILE: HistoryFile = HistoryFile::Operations;
    const NUMBER: &'static str = "line";

    fn order_no(&self) -> &str {
        &self.order_no
    }

    fn job_no(&self) -> i32 {
        self.job_no
    }

    fn number(&self) -> Option<i32> {
        Some(self.line)
    }

    fn code(&self) -> Option<(&'static str, &str)> {
        Some(("operation", &self.operation))
    }

    fn blank(&self, shop_id: i32, job: &JobId, number: i32) -> OperationRow {
        OperationRow {
            shop_id,
            id: OperationId::make(),
            job_id: job.clone(),
            line: number,
            code: self.operation.clone(),
            flat_rate_hundredths: None,
            billed_hundredths: None,
            labor_amount_minor: None,
            payer: None,
            version: 1,
        }
    }

    fn lay_over(&self, row: &mut OperationRow, said: &Said) {
        row.code.clone_from(&self.operation);
        said.put("flat_rate_hours", self.flat_rate_hundredths, &mut row.flat_rate_hundredths);
        said.put("billed_hours", self.billed_hundredths, &mut row.billed_hundredths);
        said.put("labor_amount", self.labor_amount_minor, &mut row.labor_amount_minor);
        said.put("payer", self.payer.map(Word), &mut row.payer);
    }

    fn standing(conn: &mut Conn, shop_id: i32, jobs: &[JobId]) -> Answer<Vec<OperationRow>> {
        Ok(job_operation::table
            .filter(job_operation::shop_id.eq(shop_id))
            .filter(job_operation::job_id.eq_any(jobs))
            .select(OperationRow::as_select())
            .load(conn)?)
    }

    fn slot(row: &OperationRow) -> (JobId, i32) {
        (row.job_id.clone(), row.line)
    }

    fn among(changes: &mut Changes) -> &mut Written<OperationRow> {
        &mut changes.operations
    }
}

impl JobLines for CheckLine {
    type Row = CheckRow;
    const FILE: HistoryFile = HistoryFile::Checks;
    const NUMBER: &'static str = "seq";

    fn order_no(&self) -> &str {
        &self.check.order_no
    }

    fn job_no(&self) -> i32 {
        self.check.job_no
    }

    fn number(&self) -> Option<i32> {
        Some(self.check.seq)
    }

    fn code(&self) -> Option<(&'static str, &str)> {
        Some(("check", &self.check.check))
    }

    fn blank(&self, shop_id: i32, job: &JobId, number: i32) -> CheckRow {
        CheckRow {
            shop_id,
            id: CheckId::make(),
            job_id: job.clone(),
            seq: number,
            code: self.check.check.clone(),
            position: None,
            finding: None,
            minutes: None,
            reading: None,
            unit: None,
            typed_at_close: false,
            version: 1,
        }
    }

    fn lay_over(&self, row: &mut CheckRow, said: &Said) {
        let check = &self.check;
        row.code.clone_from(&check.check);
        said.put("position", check.position.clone(), &mut row.position);
        said.put("finding", check.finding.map(Word), &mut row.finding);
        said.put("minutes", check.minutes, &mut row.minutes);
        said.put("reading", check.reading, &mut row.reading);
        said.put("unit", check.unit.clone(), &mut row.unit);
        said.put("typed_at_close", self.typed_at_close, &mut row.typed_at_close);
    }

    fn standing(conn: &mut Conn, shop_id: i32, jobs: &[JobId]) -> Answer<Vec<CheckRow>> {
        Ok(job_check::table
            .filter(job_check::shop_id.eq(shop_id))
            .filter(job_check::job_id.eq_any(jobs))
            .select(CheckRow::as_select())
            .load(conn)?)
    }

    fn slot(row: &CheckRow) -> (JobId, i32) {
        (row.job_id.clone(), row.seq)
    }

    fn among(changes: &mut Changes) -> &mut Written<CheckRow> {
        &mut changes.checks
    }
}

impl JobLines for PartRecord {
    type Row = PartRow;
    const FILE: HistoryFile = HistoryFile::Parts;
    const NUMBER: &'static str = "line";

    fn order_no(&self) -> &str {
        &self.order_no
    }

    fn job_no(&self) -> i32 {
        self.job_no
    }

    fn number(&self) -> Option<i32> {
        self.line
    }

    fn code(&self) -> Option<(&'static str, &str)> {
        None
    }

    fn blank(&self, shop_id: i32, job: &JobId, number: i32) -> PartRow {
        PartRow {
            shop_id,
            id: PartUseId::make(),
            job_id: job.clone(),
            line: number,
            part_no: None,
            name: self.name.clone(),
            position: None,
            quantity_hundredths: 100,
            disposition: Word(self.disposition),
            role: None,
            serviceable: None,
            supplier: None,
            lot: None,
            unit_cost_minor: None,
            unit_price_minor: None,
            bench_reading: None,
            bench_unit: None,
            version: 1,
        }
    }

    fn lay_over(&self, row: &mut PartRow, said: &Said) {
        row.name.clone_from(&self.name);
        row.disposition = Word(self.disposition);
        if said.has("role") || said.has("suspect") {
            row.role = self.role.map(Word);
        }
        said.put("part_no", self.part_no.clone(), &mut row.part_no);
        said.put("position", self.position.clone(), &mut row.position);
        said.put("quantity", self.quantity_hundredths.unwrap_or(100), &mut row.quantity_hundredths);
        said.put("serviceable", self.serviceable.map(Word), &mut row.serviceable);
        said.put("supplier", self.supplier.clone(), &mut row.supplier);
        said.put("lot", self.lot.clone(), &mut row.lot);
        said.put("unit_cost", self.unit_cost_minor, &mut row.unit_cost_minor);
        said.put("unit_price", self.unit_price_minor, &mut row.unit_price_minor);
        said.put("bench_reading", self.bench_reading, &mut row.bench_reading);
        said.put("bench_unit", self.bench_unit.clone(), &mut row.bench_unit);
    }

    fn standing(conn: &mut Conn, shop_id: i32, jobs: &[JobId]) -> Answer<Vec<PartRow>> {
        Ok(part_use::table
            .filter(part_use::shop_id.eq(shop_id))
            .filter(part_use::job_id.eq_any(jobs))
            .select(PartRow::as_select())
            .load(conn)?)
    }

    fn slot(row: &PartRow) -> (JobId, i32) {
        (row.job_id.clone(), row.line)
    }

    fn among(changes: &mut Changes) -> &mut Written<PartRow> {
        &mut changes.parts
    }
}
