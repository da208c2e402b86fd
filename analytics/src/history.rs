//! A shop's closed work as typed columns, built from plain rows and extended by
//! new ones.

mod beside;
mod bounds;
mod build;
mod columns;
mod derived;
mod dictionary;
mod labels;
mod links;
mod planned;
mod reading;
mod rows;
mod splice;
mod tables;

use std::collections::HashSet;
use std::fmt;

use crate::standing::Entry;
pub(crate) use beside::Days;
pub use columns::{
    Checks, Holds, Jobs, Labor, NO_NUMBER, NO_READING, NO_WORD, NONE, Operations, Parts, Readings,
    Returns, RuleAnswers,
};
pub use labels::JobLabel;
pub use reading::Reading;
pub use rows::{
    AttendanceRow, CheckRow, JobId, JobRow, LaborRow, Odometer, OperationRow, PartPolicy,
    PartReturnRow, PartRow, PartUseId, PayBackRow, PlanFacts, PlannedVisitRow, ReadingRow,
    ReturnRow, Rows, RuleAnswerRow, ShopFacts, ToldReturn,
};

/// Why rows do not make a history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HistoryError {
    /// Two rows carry the same job id.
    DuplicateJob(JobId),
    /// More rows or texts than a 32-bit place can number.
    TooMany(&'static str),
    /// A row says what no shop's record can; by the name of the thing.
    OutOfBounds(&'static str),
}

impl fmt::Display for HistoryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DuplicateJob(id) => write!(f, "job {id:032x} appears twice"),
            Self::TooMany(what) => write!(f, "more {what} than 32 bits can number"),
            Self::OutOfBounds(what) => write!(f, "a {what} is out of all bounds"),
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
    labels: labels::Labels,
    jobs: tables::JobsColumns,
    children: build::Children,
    links: links::Links,
    beside: beside::Beside,
    derived: derived::Derived,
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
            labels: labels::Labels::default(),
            jobs: tables::JobsColumns::default(),
            children: build::Children::default(),
            links: links::Links::default(),
            beside: beside::Beside::default(),
            derived: derived::Derived::default(),
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
    /// What lies before the first job that changes stays where it is: the cost is
    /// that of the change and of the jobs behind it.
    ///
    /// # Errors
    /// As [`History::new`]; the history is then what it was before.
    pub fn apply(
        &mut self,
        touched: &[JobId],
        mut rows: Rows,
        change_no: i64,
    ) -> Result<(), HistoryError> {
        if touched.is_empty() && rows == Rows::default() {
            // What is worked out of the rows stays as it is.
            self.change_no = change_no;
            return Ok(());
        }
        bounds::check(&rows)?;
        let gone: HashSet<JobId> =
            touched.iter().copied().chain(rows.jobs.iter().map(|job| job.id)).collect();
        let planned = planned::Planned::taken(&mut rows);
        let held =
            rows.jobs.iter().flat_map(|job| job.holds_on.iter().map(move |day| (job.id, *day)));
        let held: Vec<_> = held.collect();
        let jobs = std::mem::take(&mut rows.jobs);
        let (labels, jobs) = build::jobs(jobs, &planned, &mut self.texts)?;
        self.labels.fits(&labels)?;
        let old = (&self.labels, self.jobs.closed_day.as_slice());
        let plan = splice::Plan::of(old, (&labels, &jobs.closed_day), &gone)?;
        let links = std::mem::take(&mut rows.returns);
        let links = self.links.change(links, &gone, (&plan, &self.labels), &mut self.texts)?;
        let place = links.from;
        let before = self.links.view().earlier.get(place).copied();
        let (pay_backs, attendance) = (std::mem::take(&mut rows.pay_backs), rows.attendance.take());
        let (children, unclosed) = build::children(rows, held, &plan.brought, &mut self.texts)?;
        self.children.fit(&children)?;

        // Nothing fails from here on.
        self.labels.splice(&plan.jobs, &labels, &gone);
        self.jobs.splice(&plan.jobs, &jobs);
        self.children.follow(&plan, &children);
        self.links.bring(links, &plan, &self.labels);
        self.beside.bring(attendance, unclosed, pay_backs, &gone);
        self.derived = derived::Derived::default();
        self.change_no = change_no;
        let after = self.returns().earlier.get(place).copied();
        let first = [before, after].into_iter().flatten().fold(plan.first, u32::min);
        let mut entry = std::mem::take(&mut self.entry);
        entry.bring(self, first as usize);
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
        self.derived = derived::Derived::default();
    }

    /// What follows from the columns, each computed once.
    pub(crate) const fn derived(&self) -> &derived::Derived {
        &self.derived
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
        self.children.checks.view()
    }

    #[must_use]
    pub fn parts(&self) -> Parts<'_> {
        self.children.parts.view()
    }

    #[must_use]
    pub fn labor(&self) -> Labor<'_> {
        self.children.labor.view()
    }

    #[must_use]
    pub fn operations(&self) -> Operations<'_> {
        self.children.operations.view()
    }

    /// The days on which customers said that a repair holds.
    #[must_use]
    pub fn holds(&self) -> Holds<'_> {
        self.children.holds.view()
    }

    /// Readings taken before vehicles left.
    #[must_use]
    pub fn readings(&self) -> Readings<'_> {
        self.children.readings.view()
    }

    /// What was said of shop rules.
    #[must_use]
    pub fn rule_answers(&self) -> RuleAnswers<'_> {
        self.children.rule_answers.view()
    }

    #[must_use]
    pub fn returns(&self) -> Returns<'_> {
        self.links.view()
    }

    /// Minutes attended and on the clock, by technician and day, whatever
    /// became of the jobs.
    pub(crate) fn days(&self) -> Vec<Days<'_>> {
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
    pub fn job_label(&self, row: u32) -> Option<JobLabel<'_>> {
        self.labels.get(row as usize)
    }

    /// The row of a job; `None` where it is not closed.
    #[must_use]
    pub fn job_row(&self, id: JobId) -> Option<u32> {
        self.labels.row_of(id)
    }

    /// The links, in the order of the rows of [`History::returns`].
    #[must_use]
    pub fn links(&self) -> &[ReturnRow] {
        self.links.rows()
    }

    /// What is known of jobs once they are entered, beside their rows.
    pub(crate) const fn entry(&self) -> &Entry {
        &self.entry
    }
}
