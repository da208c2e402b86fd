//! Rows to columns: what is brought is sorted and coded, to be merged into what is
//! kept. A first build is the same step with nothing kept, so a history that
//! grew row by row equals one built at once.

use std::cmp::Ordering;
use std::collections::{BTreeMap, HashSet};

use chrono::NaiveDate;

use super::dictionary::Dictionary;
use super::labels::Labels;
use super::planned::Planned;
use super::splice::Plan;
use super::tables::{
    ChecksColumns, HoldsColumns, JobsColumns, LaborColumns, OperationsColumns, PartsColumns,
    ReadingsColumns, RuleAnswersColumns,
};
use super::{
    CheckRow, HistoryError, JobId, JobLabel, JobRow, LaborRow, NO_NUMBER, NO_READING, NO_WORD,
    Odometer, OperationRow, PartReturnRow, PartRow, PartUseId, Reading, ReadingRow, Rows,
    RuleAnswerRow,
};
use crate::hashed::HashMap;
use crate::words::LinkState;

type Built<T> = Result<T, HistoryError>;

/// What belongs to jobs, but for links.
#[derive(Debug, Clone, Default)]
pub(super) struct Children {
    pub checks: ChecksColumns,
    pub parts: PartsColumns,
    pub labor: LaborColumns,
    pub operations: OperationsColumns,
    pub holds: HoldsColumns,
    pub readings: ReadingsColumns,
    pub rule_answers: RuleAnswersColumns,
}

impl Children {
    /// Whether all rows can be numbered with those brought.
    ///
    /// # Errors
    /// They cannot.
    pub fn fit(&self, brought: &Self) -> Built<()> {
        self.checks.fits(&brought.checks)?;
        self.parts.fits(&brought.parts)?;
        self.labor.fits(&brought.labor)?;
        self.operations.fits(&brought.operations)?;
        self.holds.fits(&brought.holds)?;
        self.readings.fits(&brought.readings)?;
        self.rule_answers.fits(&brought.rule_answers)
    }

    /// Follows the jobs to their new rows.
    pub fn follow(&mut self, plan: &Plan, brought: &Self) {
        self.checks.follow(plan, &brought.checks);
        self.parts.follow(plan, &brought.parts);
        self.labor.follow(plan, &brought.labor);
        self.operations.follow(plan, &brought.operations);
        self.holds.follow(plan, &brought.holds);
        self.readings.follow(plan, &brought.readings);
        self.rule_answers.follow(plan, &brought.rule_answers);
    }
}

/// What belongs to the brought jobs, by their rows, and the labor of jobs that are
/// not closed.
pub(super) fn children(
    rows: Rows,
    held: Vec<(JobId, NaiveDate)>,
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<(Children, Vec<LaborRow>)> {
    let (closed, unclosed): (Vec<_>, Vec<_>) =
        rows.labor.into_iter().partition(|row| brought.contains_key(&row.job));
    let children = Children {
        checks: checks(rows.checks, brought, texts)?,
        parts: parts(rows.parts, &rows.part_returns, brought, texts)?,
        labor: labor(closed, brought, texts)?,
        operations: operations(rows.operations, brought, texts)?,
        holds: holds(held, brought),
        readings: readings(rows.readings, brought, texts)?,
        rule_answers: rule_answers(rows.rule_answers, brought, texts)?,
    };
    Ok((children, unclosed))
}

pub(super) fn flag(yes: bool) -> u8 {
    u8::from(yes)
}

/// Series and kilometers of a reading.
pub(super) fn odometer(reading: Option<Odometer>) -> (u32, i64) {
    reading.map_or((0, NO_NUMBER), |reading| (reading.series, reading.km))
}

/// Rows in an order. Their places are sorted, not the rows: moving rows of
/// many texts about is most of what sorting them costs.
fn ordered<R>(rows: Vec<R>, by: impl Fn(&R, &R) -> Ordering) -> impl Iterator<Item = R> {
    let mut places: Vec<(usize, &R)> = rows.iter().enumerate().collect();
    places.sort_by(|(_, a), (_, b)| by(a, b));
    let places: Vec<usize> = places.into_iter().map(|(place, _)| place).collect();
    let mut rows: Vec<Option<R>> = rows.into_iter().map(Some).collect();
    places.into_iter().filter_map(move |place| rows.get_mut(place)?.take())
}

/// The brought jobs in their final order, with their columns.
pub(super) fn jobs(
    rows: Vec<JobRow>,
    planned: &Planned,
    texts: &mut Dictionary,
) -> Built<(Labels, JobsColumns)> {
    let mut seen = HashSet::with_capacity(rows.len());
    let (mut labels, mut columns) = (Labels::default(), JobsColumns::default());
    let by = |a: &JobRow, b: &JobRow| {
        let days = a.closed_on.cmp(&b.closed_on);
        days.then_with(|| a.order_no.cmp(&b.order_no))
            .then_with(|| (a.job_no, a.id).cmp(&(b.job_no, b.id)))
    };
    for row in ordered(rows, by) {
        if !seen.insert(row.id) {
            return Err(HistoryError::DuplicateJob(row.id));
        }
        row_columns(&mut columns, &row, texts)?;
        columns.second_visit_day.push(planned.day_of(row.id));
        labels.push(JobLabel {
            id: row.id,
            order_no: &row.order_no,
            job_no: row.job_no,
            complaint: row.complaint.as_deref(),
        });
    }
    Ok((labels, columns))
}

/// What a job's own row says.
fn row_columns(columns: &mut JobsColumns, row: &JobRow, texts: &mut Dictionary) -> Built<()> {
    columns.vehicle.push(texts.code(&row.vehicle)?);
    columns.model.push(texts.optional(row.model.as_deref())?);
    columns.engine.push(texts.optional(row.engine.as_deref())?);
    columns.model_year.push(row.model_year.map_or(NO_NUMBER, i64::from));
    columns.kind.push(row.kind.code());
    columns.outcome.push(row.outcome.code());
    columns.symptom.push(texts.optional(row.symptom.as_deref())?);
    columns.system.push(texts.optional(row.system.as_deref())?);
    columns.cause.push(texts.optional(row.cause.as_deref())?);
    columns.cause_state.push(row.cause_state.map_or(NO_WORD, |w| w.code()));
    columns.cause_curable.push(row.cause_curable.map_or(NO_WORD, |w| w.code()));
    let answers = row.supervisor.as_deref().or(row.technician.as_deref());
    columns.technician.push(texts.optional(answers)?);
    columns.lead.push(texts.optional(row.technician.as_deref())?);
    columns.opened_day.push(row.opened_on.to_epoch_days());
    columns.opened_minute.push(row.opened_minute);
    columns.closed_day.push(row.closed_on.to_epoch_days());
    let (series, km) = odometer(row.odometer_in);
    columns.odometer_in_series.push(series);
    columns.odometer_in_km.push(km);
    let (series, km) = odometer(row.odometer_out);
    columns.odometer_out_series.push(series);
    columns.odometer_out_km.push(km);
    columns.odometer_in_miles.push(flag(row.odometer_in_miles));
    columns.failed_proofs.push(row.failed_proofs);
    columns.sublet_cost_minor.push(row.sublet_cost_minor);
    let told = row.told.as_ref();
    columns.told.push(told.map_or(NO_WORD, |told| told.told.code()));
    columns.told_day.push(told.map_or(i32::MAX, |told| told.told_on.to_epoch_days()));
    columns.told_reason.push(texts.optional(told.and_then(|told| told.reason.as_deref()))?);
    Ok(())
}

/// The rows whose job is among the brought ones, with the job's row, sorted by
/// it and then by `then`: an open job's rows stay out until it is closed.
fn placed<R>(
    rows: Vec<R>,
    brought: &HashMap<JobId, u32>,
    job: impl Fn(&R) -> JobId,
    then: impl Fn(&R, &R) -> Ordering,
) -> impl Iterator<Item = (u32, R)> {
    let placed: Vec<(u32, R)> =
        rows.into_iter().filter_map(|row| brought.get(&job(&row)).map(|job| (*job, row))).collect();
    ordered(placed, move |(job_a, a), (job_b, b)| job_a.cmp(job_b).then_with(|| then(a, b)))
}

fn checks(
    rows: Vec<CheckRow>,
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<ChecksColumns> {
    let mut columns = ChecksColumns::default();
    let by = |a: &CheckRow, b: &CheckRow| {
        a.seq.cmp(&b.seq).then_with(|| a.check.cmp(&b.check)).then_with(|| {
            (a.finding, a.minutes, a.at_close, &a.unit)
                .cmp(&(b.finding, b.minutes, b.at_close, &b.unit))
                .then_with(|| of_readings(a.reading, b.reading))
        })
    };
    for (job, row) in placed(rows, brought, |row| row.job, by) {
        columns.job.push(job);
        columns.seq.push(row.seq);
        columns.check.push(texts.code(&row.check)?);
        columns.finding.push(row.finding.map_or(NO_WORD, |w| w.code()));
        columns.minutes.push(row.minutes.map_or(NO_NUMBER, i64::from));
        columns.at_close.push(flag(row.at_close));
        let reading = row.reading.and_then(Reading::new);
        columns.reading.push(reading.map_or(NO_READING, Reading::value));
        columns.unit.push(texts.optional(reading.and(row.unit.as_deref()))?);
    }
    Ok(columns)
}

/// What is not there comes first.
fn of_readings(a: Option<f64>, b: Option<f64>) -> Ordering {
    let value = |reading: Option<f64>| reading.unwrap_or(f64::NEG_INFINITY);
    value(a).total_cmp(&value(b))
}

/// Readings that are no number say nothing and stay out.
fn readings(
    rows: Vec<ReadingRow>,
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<ReadingsColumns> {
    let mut columns = ReadingsColumns::default();
    let by = |a: &ReadingRow, b: &ReadingRow| {
        (&a.line, &a.place, &a.unit)
            .cmp(&(&b.line, &b.place, &b.unit))
            .then_with(|| a.reading.total_cmp(&b.reading))
    };
    for (job, row) in placed(rows, brought, |row| row.job, by) {
        let Some(reading) = Reading::new(row.reading) else { continue };
        columns.job.push(job);
        columns.line.push(texts.code(&row.line)?);
        columns.place.push(texts.optional(row.place.as_deref())?);
        columns.reading.push(reading.value());
        columns.unit.push(texts.optional(row.unit.as_deref())?);
    }
    Ok(columns)
}

/// The days on which customers said that a repair holds.
fn holds(rows: Vec<(JobId, NaiveDate)>, brought: &HashMap<JobId, u32>) -> HoldsColumns {
    let mut columns = HoldsColumns::default();
    for (job, (_, day)) in placed(rows, brought, |row| row.0, |a, b| a.1.cmp(&b.1)) {
        columns.job.push(job);
        columns.day.push(day.to_epoch_days());
    }
    columns
}

fn rule_answers(
    rows: Vec<RuleAnswerRow>,
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<RuleAnswersColumns> {
    let mut columns = RuleAnswersColumns::default();
    let by = |a: &RuleAnswerRow, b: &RuleAnswerRow| {
        (&a.rule, a.kept, a.reasoned).cmp(&(&b.rule, b.kept, b.reasoned))
    };
    for (job, row) in placed(rows, brought, |row| row.job, by) {
        columns.job.push(job);
        columns.rule.push(texts.code(&row.rule)?);
        columns.kept.push(row.kept.map_or(NO_WORD, flag));
        columns.reasoned.push(flag(row.reasoned));
    }
    Ok(columns)
}

/// First day of a part return: confirmed, and confirmed or undecided.
fn part_return_days(rows: &[PartReturnRow]) -> BTreeMap<PartUseId, (i32, i32)> {
    let mut days = BTreeMap::new();
    for row in rows.iter().filter(|row| row.state != LinkState::Rejected) {
        let (confirmed, possible) = days.entry(row.part_use).or_insert((i32::MAX, i32::MAX));
        let day = row.later_opened_on.to_epoch_days();
        *possible = day.min(*possible);
        if row.state == LinkState::Confirmed {
            *confirmed = day.min(*confirmed);
        }
    }
    days
}

fn parts(
    rows: Vec<PartRow>,
    part_returns: &[PartReturnRow],
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<PartsColumns> {
    let returned = part_return_days(part_returns);
    let mut columns = PartsColumns::default();
    for (job, row) in placed(rows, brought, |row| row.job, |a, b| a.id.cmp(&b.id)) {
        let (confirmed, possible) = returned.get(&row.id).copied().unwrap_or((i32::MAX, i32::MAX));
        columns.job.push(job);
        columns.part.push(texts.code(row.part_no.as_deref().unwrap_or(&row.name))?);
        columns.name.push(texts.code(&row.name)?);
        columns.position.push(texts.optional(row.position.as_deref())?);
        columns.disposition.push(row.disposition.code());
        columns.role.push(row.role.map_or(NO_WORD, |w| w.code()));
        columns.supplier.push(texts.optional(row.supplier.as_deref())?);
        columns.lot.push(texts.optional(row.lot.as_deref())?);
        columns.quantity_hundredths.push(row.quantity_hundredths);
        columns.unit_cost_minor.push(row.unit_cost_minor.unwrap_or(NO_NUMBER));
        let reading = row.bench_reading.and_then(Reading::new);
        columns.bench_reading.push(reading.map_or(NO_READING, Reading::value));
        columns.bench_unit.push(texts.optional(reading.and(row.bench_unit.as_deref()))?);
        columns.returned_day.push(confirmed);
        columns.possibly_returned_day.push(possible);
    }
    Ok(columns)
}

fn labor(
    rows: Vec<LaborRow>,
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<LaborColumns> {
    let mut columns = LaborColumns::default();
    let by = |a: &LaborRow, b: &LaborRow| {
        a.started_on.cmp(&b.started_on).then_with(|| a.technician.cmp(&b.technician)).then_with(
            || (a.activity, a.worked_as, a.minutes).cmp(&(b.activity, b.worked_as, b.minutes)),
        )
    };
    for (job, row) in placed(rows, brought, |row| row.job, by) {
        columns.job.push(job);
        columns.technician.push(texts.code(&row.technician)?);
        columns.activity.push(row.activity.map_or(NO_WORD, |w| w.code()));
        columns.worked_as.push(row.worked_as.code());
        columns.started_day.push(row.started_on.to_epoch_days());
        columns.minutes.push(row.minutes);
    }
    Ok(columns)
}

fn operations(
    rows: Vec<OperationRow>,
    brought: &HashMap<JobId, u32>,
    texts: &mut Dictionary,
) -> Built<OperationsColumns> {
    let mut columns = OperationsColumns::default();
    let by = |a: &OperationRow, b: &OperationRow| {
        let key = |row: &OperationRow| {
            (row.flat_rate_hundredths, row.billed_hundredths, row.labor_amount_minor, row.payer)
        };
        a.code.cmp(&b.code).then_with(|| key(a).cmp(&key(b)))
    };
    for (job, row) in placed(rows, brought, |row| row.job, by) {
        columns.job.push(job);
        columns.code.push(texts.code(&row.code)?);
        columns.flat_rate_hundredths.push(row.flat_rate_hundredths.unwrap_or(NO_NUMBER));
        columns.billed_hundredths.push(row.billed_hundredths.unwrap_or(NO_NUMBER));
        columns.labor_amount_minor.push(row.labor_amount_minor.unwrap_or(NO_NUMBER));
        columns.payer.push(row.payer.map_or(NO_WORD, |w| w.code()));
    }
    Ok(columns)
}
