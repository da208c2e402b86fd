//! A shop's closed work as typed polars frames, built from plain rows and
//! extended by new ones.

mod beside;
mod bounds;
mod build;
mod columns;
mod dictionary;
mod frames;
mod planned;
mod reading;
mod rows;

use std::collections::{HashMap, HashSet};
use std::fmt;

use crate::standing::Entry;
pub(crate) use beside::Day;
pub use columns::{
    Checks, Holds, Jobs, Labor, NO_NUMBER, NO_READING, NO_WORD, NONE, Operations, Parts, Readings,
    Returns, RuleAnswers,
};
pub use reading::Reading;
pub use rows::{
    AttendanceRow, CheckRow, JobId, JobRow, LaborRow, Odometer, OperationRow, PartPolicy,
    PartReturnRow, PartRow, PartUseId, PayBackRow, PlanFacts, PlannedVisitRow, ReadingRow,
    ReturnRow, Rows, RuleAnswerRow, ShopFacts, ToldReturn,
};

/// What names a job to people, kept beside the frames.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobLabel {
    pub id: JobId,
    pub order_no: String,
    pub job_no: i32,
    /// The customer's own words.
    pub complaint: Option<String>,
}

/// Why rows do not make a history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HistoryError {
    /// Two rows carry the same job id.
    DuplicateJob(JobId),
    /// More rows or texts than a 32-bit place can number.
    TooMany(&'static str),
    /// A row says what no shop's record can; by the name of the thing.
    OutOfBounds(&'static str),
    /// The columns do not make a frame.
    Frame(String),
}

impl fmt::Display for HistoryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DuplicateJob(id) => write!(f, "job {id:032x} appears twice"),
            Self::TooMany(what) => write!(f, "more {what} than 32 bits can number"),
            Self::OutOfBounds(what) => write!(f, "a {what} is out of all bounds"),
            Self::Frame(message) => write!(f, "the columns make no frame: {message}"),
        }
    }
}

impl std::error::Error for HistoryError {}

/// A shop's closed work, in memory. Job rows are in the order of closing day,
/// order number and job number. Derived: it always equals a rebuild from all
/// rows, except for the codes of texts, which follow first sight.
#[derive(Debug, Clone)]
pub struct History {
    facts: ShopFacts,
    change_no: i64,
    texts: dictionary::Dictionary,
    labels: Vec<JobLabel>,
    rows: HashMap<JobId, u32>,
    links: Vec<ReturnRow>,
    jobs: frames::JobsFrame,
    checks: frames::ChecksFrame,
    parts: frames::PartsFrame,
    labor: frames::LaborFrame,
    operations: frames::OperationsFrame,
    holds: frames::HoldsColumns,
    readings: frames::ReadingsColumns,
    rule_answers: frames::RuleAnswersColumns,
    returns: frames::ReturnsFrame,
    beside: beside::Beside,
    entry: Entry,
}

impl History {
    /// The history of these rows. Rows of jobs that are not among `rows.jobs`
    /// (an open job has checks and labor already) are left out, and so are
    /// links whose earlier job is not; labor of such jobs counts as time on the
    /// clock alone.
    ///
    /// # Errors
    /// Two jobs of one id; more rows than 32 bits can number; a row out of all
    /// bounds.
    pub fn new(facts: ShopFacts, rows: Rows, change_no: i64) -> Result<Self, HistoryError> {
        let mut history = Self {
            facts,
            change_no,
            texts: dictionary::Dictionary::default(),
            labels: Vec::new(),
            rows: HashMap::new(),
            links: Vec::new(),
            jobs: frames::JobsColumns::default().finish()?,
            checks: frames::ChecksColumns::default().finish()?,
            parts: frames::PartsColumns::default().finish()?,
            labor: frames::LaborColumns::default().finish()?,
            operations: frames::OperationsColumns::default().finish()?,
            holds: frames::HoldsColumns::default(),
            readings: frames::ReadingsColumns::default(),
            rule_answers: frames::RuleAnswersColumns::default(),
            returns: frames::ReturnsColumns::default().finish()?,
            beside: beside::Beside::default(),
            entry: Entry::default(),
        };
        history.apply(&[], rows, change_no)?;
        Ok(history)
    }

    /// Replaces everything of the touched jobs by `rows`; a touched job that
    /// `rows` no longer has is removed. Jobs in `rows` count as touched. Links
    /// and part returns are replaced with their earlier job; a link that only
    /// touches its later job may be brought too, each link once.
    ///
    /// # Errors
    /// As [`History::new`]; the history is then what it was before.
    pub fn apply(
        &mut self,
        touched: &[JobId],
        mut rows: Rows,
        change_no: i64,
    ) -> Result<(), HistoryError> {
        bounds::check(&rows)?;
        let gone: HashSet<JobId> =
            touched.iter().copied().chain(rows.jobs.iter().map(|job| job.id)).collect();
        let texts = &mut self.texts;
        let planned = planned::Planned::taken(&mut rows);
        let held =
            rows.jobs.iter().flat_map(|job| job.holds_on.iter().map(move |day| (job.id, *day)));
        let held: Vec<_> = held.collect();
        let (new_labels, new_jobs) = build::jobs(rows.jobs, &planned, texts)?;
        let old = self.jobs.view();
        let plan = build::plan(
            (&self.labels, old.closed_day),
            (&new_labels, &new_jobs.closed_day),
            &gone,
        )?;
        let jobs = frames::JobsColumns::gathered(&plan.picks, old, new_jobs.view()).finish()?;

        let new = build::checks(rows.checks, &plan.brought, texts)?;
        let checks = self.checks.merged(&plan.moved, &new)?;
        let new = build::parts(rows.parts, &rows.part_returns, &plan.brought, texts)?;
        let parts = self.parts.merged(&plan.moved, &new)?;
        let (closed, unclosed): (Vec<_>, Vec<_>) =
            rows.labor.into_iter().partition(|row| plan.brought.contains_key(&row.job));
        let new = build::labor(closed, &plan.brought, texts)?;
        let labor = self.labor.merged(&plan.moved, &new)?;
        let new = build::operations(rows.operations, &plan.brought, texts)?;
        let operations = self.operations.merged(&plan.moved, &new)?;
        let holds = self.holds.merged(&plan.moved, &build::holds(held, &plan.brought))?;
        let new = build::readings(rows.readings, &plan.brought, texts)?;
        let readings = self.readings.merged(&plan.moved, &new)?;
        let new = build::rule_answers(rows.rule_answers, &plan.brought, texts)?;
        let rule_answers = self.rule_answers.merged(&plan.moved, &new)?;

        let row_of = |id: JobId| {
            plan.brought.get(&id).copied().or_else(|| {
                let old_row = self.rows.get(&id)?;
                plan.moved.get(*old_row as usize).copied().filter(|row| *row != NONE)
            })
        };
        let linked = rows.returns.iter().filter_map(|link| self.rows.get(&link.earlier).copied());
        let first_linked = linked.min().map_or(plan.first_changed, |row| row as usize);
        let links = build::kept_returns(&self.links, rows.returns, &gone);
        let (links, returns) = build::returns(links, row_of, texts)?;
        let returns = returns.finish()?;

        for id in &gone {
            self.rows.remove(id);
        }
        let old_labels = std::mem::take(&mut self.labels);
        self.labels = build::labels(&plan.picks, old_labels, &gone, new_labels);
        for (row, label) in (0_u32..).zip(&self.labels).skip(plan.first_changed) {
            self.rows.insert(label.id, row);
        }
        self.links = links;
        (self.jobs, self.checks, self.parts) = (jobs, checks, parts);
        (self.labor, self.operations, self.returns) = (labor, operations, returns);
        (self.holds, self.readings, self.rule_answers) = (holds, readings, rule_answers);
        self.beside.bring(rows.attendance, unclosed, rows.pay_backs, &gone);
        self.change_no = change_no;
        let mut entry = std::mem::take(&mut self.entry);
        entry.bring(self, plan.first_changed.min(first_linked));
        self.entry = entry;
        Ok(())
    }

    /// The shop's settings.
    #[must_use]
    pub fn facts(&self) -> &ShopFacts {
        &self.facts
    }

    /// Settings change without touching a job.
    pub fn set_facts(&mut self, facts: ShopFacts) {
        self.facts = facts;
    }

    /// The last change of the shop that is in here.
    #[must_use]
    pub fn change_no(&self) -> i64 {
        self.change_no
    }

    #[must_use]
    pub fn jobs(&self) -> Jobs<'_> {
        self.jobs.view()
    }

    #[must_use]
    pub fn checks(&self) -> Checks<'_> {
        self.checks.view()
    }

    #[must_use]
    pub fn parts(&self) -> Parts<'_> {
        self.parts.view()
    }

    #[must_use]
    pub fn labor(&self) -> Labor<'_> {
        self.labor.view()
    }

    #[must_use]
    pub fn operations(&self) -> Operations<'_> {
        self.operations.view()
    }

    /// The days on which customers said that a repair holds.
    #[must_use]
    pub fn holds(&self) -> Holds<'_> {
        self.holds.view()
    }

    /// Readings taken before vehicles left.
    #[must_use]
    pub fn readings(&self) -> Readings<'_> {
        self.readings.view()
    }

    /// What was said of shop rules.
    #[must_use]
    pub fn rule_answers(&self) -> RuleAnswers<'_> {
        self.rule_answers.view()
    }

    #[must_use]
    pub fn returns(&self) -> Returns<'_> {
        self.returns.view()
    }

    /// Minutes attended and on the clock, by technician and day, whatever
    /// became of the jobs.
    pub(crate) fn days(&self) -> Vec<Day<'_>> {
        self.beside.days(self)
    }

    /// Attendance, by technician and day.
    #[must_use]
    pub fn attendance(&self) -> &[AttendanceRow] {
        self.beside.attendance()
    }

    /// Labor of jobs that are not closed, or never will be.
    #[must_use]
    pub fn unclosed_labor(&self) -> &[LaborRow] {
        self.beside.unclosed_labor()
    }

    /// What suppliers paid back, by job and day.
    #[must_use]
    pub fn pay_backs(&self) -> &[PayBackRow] {
        self.beside.pay_backs()
    }

    /// The text of a code; `None` for [`NONE`].
    #[must_use]
    pub fn text(&self, code: u32) -> Option<&str> {
        self.texts.text(code)
    }

    /// The code of a text; `None` where the shop's record never had it.
    #[must_use]
    pub fn code_of(&self, text: &str) -> Option<u32> {
        self.texts.code_of(text)
    }

    /// Number and words of the job in a row.
    #[must_use]
    pub fn job_label(&self, row: u32) -> Option<&JobLabel> {
        self.labels.get(row as usize)
    }

    /// The row of a job; `None` where it is not closed.
    #[must_use]
    pub fn job_row(&self, id: JobId) -> Option<u32> {
        self.rows.get(&id).copied()
    }

    /// The links, in the order of the returns frame's rows.
    #[must_use]
    pub fn links(&self) -> &[ReturnRow] {
        &self.links
    }

    /// What is known of jobs once they are entered, beside their rows.
    pub(crate) fn entry(&self) -> &Entry {
        &self.entry
    }

    /// The jobs frame, for free grouping.
    pub(crate) fn jobs_frame(&self) -> &polars::prelude::DataFrame {
        &self.jobs.frame
    }

    /// The checks frame, for free grouping.
    pub(crate) fn checks_frame(&self) -> &polars::prelude::DataFrame {
        &self.checks.frame
    }

    /// The parts frame, for free grouping.
    pub(crate) fn parts_frame(&self) -> &polars::prelude::DataFrame {
        &self.parts.frame
    }

    /// The labor frame, for free grouping.
    pub(crate) fn labor_frame(&self) -> &polars::prelude::DataFrame {
        &self.labor.frame
    }

    /// The operations frame, for free grouping.
    pub(crate) fn operations_frame(&self) -> &polars::prelude::DataFrame {
        &self.operations.frame
    }

    /// The returns frame, for free grouping.
    pub(crate) fn returns_frame(&self) -> &polars::prelude::DataFrame {
        &self.returns.frame
    }
}
