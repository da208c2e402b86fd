//! Most writes touch open jobs, and many touch a job without changing what
//! figures are made from. What did not change is left out here, and of what did
//! the sieve says from which day on reports can see it.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use analytics::history::{History, JobId, LaborRow, PartUseId, PayBackRow, Rows};

/// A change that any report may see, whatever its last day.
pub(super) const ALWAYS: i32 = i32::MIN;

/// Jobs whose rows are kept for comparing, at most.
const MOST_KEPT: usize = 500;

/// More jobs than this, touched at once, are taken as they come.
const MANY: usize = 500;

/// The rows of jobs that were touched lately, as they went into the history.
#[derive(Default)]
pub(super) struct Sieve(HashMap<JobId, Rows>);

/// What is left of touched jobs and their rows.
pub(super) struct Changed {
    pub touched: Vec<JobId>,
    pub rows: Rows,
    /// The first day as of which a report may say something else, from 1970-01-01;
    /// `None` where no report can.
    pub since: Option<i32>,
    /// What was seen of jobs, for the next time; `None`: of too many.
    pub seen: Option<Vec<(JobId, Rows)>>,
}

impl Sieve {
    pub fn keep(&mut self, seen: Option<Vec<(JobId, Rows)>>) {
        let Some(seen) = seen else {
            self.0.clear();
            return;
        };
        if self.0.len() + seen.len() > MOST_KEPT {
            self.0.clear();
        }
        self.0.extend(seen);
    }

    /// Leaves out the jobs whose rows are what the history has of them.
    pub fn sift(&self, history: &History, touched: Vec<JobId>, mut rows: Rows) -> Changed {
        let attendance = rows.attendance.take().and_then(|mut rows| {
            rows.sort_unstable();
            (rows != history.attendance()).then_some(rows)
        });
        let mut since = attendance.is_some().then_some(ALWAYS);
        let mut left = Changed { touched: Vec::new(), rows: Rows::default(), since, seen: None };
        if touched.len() > MANY {
            rows.attendance = attendance;
            return Changed { touched, rows, since: Some(ALWAYS), seen: None };
        }
        let mut apart = by_job(rows);
        let (mut labor, mut pay_backs) = beside(history, &touched);
        let mut seen = Vec::with_capacity(touched.len());
        for id in touched {
            let now = apart.remove(&id).unwrap_or_default();
            let was = Was {
                kept: self.0.get(&id),
                closed: history.job_row(id).is_some(),
                labor: labor.remove(&id).unwrap_or_default(),
                pay_backs: pay_backs.remove(&id).unwrap_or_default(),
            };
            if let Some(day) = was.differs_since(&now) {
                since = Some(since.map_or(day, |first: i32| first.min(day)));
                left.touched.push(id);
                join(&mut left.rows, now.clone());
            }
            seen.push((id, now));
        }
        left.rows.attendance = attendance;
        Changed { since, seen: Some(seen), ..left }
    }
}

/// What the history has of a touched job.
struct Was<'a> {
    kept: Option<&'a Rows>,
    closed: bool,
    /// Of a job that is not closed.
    labor: Vec<&'a LaborRow>,
    pay_backs: Vec<&'a PayBackRow>,
}

impl Was<'_> {
    /// The first day as of which the job's rows say something else than they did.
    /// A report as of a day says what a record would say that ends with that day:
    /// a job that was not closed is in none before its closing day, but for its
    /// hours, which count when they are worked.
    fn differs_since(&self, now: &Rows) -> Option<i32> {
        if self.kept == Some(now) {
            return None;
        }
        if self.closed {
            return Some(ALWAYS);
        }
        let closing = now.jobs.iter().map(|job| job.closed_on);
        let hours = (!same(&self.labor, &now.labor))
            .then(|| self.labor.iter().copied().chain(&now.labor).map(|row| row.started_on));
        let paid = (!same(&self.pay_backs, &now.pay_backs))
            .then(|| self.pay_backs.iter().copied().chain(&now.pay_backs).map(|row| row.paid_on));
        let days = closing.chain(hours.into_iter().flatten()).chain(paid.into_iter().flatten());
        days.map(|day| day.to_epoch_days()).min()
    }
}

/// Whether they are the same rows, in whatever order.
fn same<R: PartialEq>(some: &[&R], others: &[R]) -> bool {
    let count = |row: &R| {
        let of = some.iter().filter(|one| **one == row).count();
        of == others.iter().filter(|one| *one == row).count()
    };
    some.len() == others.len() && others.iter().all(count)
}

type Beside<'a> = (HashMap<JobId, Vec<&'a LaborRow>>, HashMap<JobId, Vec<&'a PayBackRow>>);

/// What stands beside closed jobs, of the touched ones.
fn beside<'a>(history: &'a History, touched: &[JobId]) -> Beside<'a> {
    let wanted: BTreeSet<JobId> = touched.iter().copied().collect();
    let (mut labor, mut pay_backs): Beside<'a> = Beside::default();
    for row in history.unclosed_labor().iter().filter(|row| wanted.contains(&row.job)) {
        labor.entry(row.job).or_default().push(row);
    }
    for row in history.pay_backs().iter().filter(|row| wanted.contains(&row.job)) {
        pay_backs.entry(row.job).or_default().push(row);
    }
    (labor, pay_backs)
}

/// The rows of each job, in their order.
fn by_job(rows: Rows) -> HashMap<JobId, Rows> {
    let mut apart: HashMap<JobId, Rows> = HashMap::new();
    macro_rules! deal {
        ($($list:ident by $key:ident),+ $(,)?) => {$(
            for row in rows.$list {
                apart.entry(row.$key).or_default().$list.push(row);
            }
        )+};
    }
    let of_part: BTreeMap<PartUseId, JobId> =
        rows.parts.iter().map(|part| (part.id, part.job)).collect();
    for row in rows.part_returns {
        if let Some(job) = of_part.get(&row.part_use) {
            apart.entry(*job).or_default().part_returns.push(row);
        }
    }
    deal!(
        jobs by id,
        checks by job,
        parts by job,
        labor by job,
        operations by job,
        readings by job,
        rule_answers by job,
        returns by earlier,
        planned_visits by earlier,
        pay_backs by job,
    );
    apart
}

fn join(all: &mut Rows, one: Rows) {
    all.jobs.extend(one.jobs);
    all.checks.extend(one.checks);
    all.parts.extend(one.parts);
    all.labor.extend(one.labor);
    all.operations.extend(one.operations);
    all.readings.extend(one.readings);
    all.rule_answers.extend(one.rule_answers);
    all.returns.extend(one.returns);
    all.part_returns.extend(one.part_returns);
    all.planned_visits.extend(one.planned_visits);
    all.pay_backs.extend(one.pay_backs);
}

/// When a history came to say something else, and from which day on it shows.
pub(super) struct Moves(Vec<(i32, u64)>);

impl Moves {
    pub fn new(content: u64) -> Self {
        Self(vec![(ALWAYS, content)])
    }

    /// Content numbers only grow: what a newer one covers is told by it alone.
    pub fn note(&mut self, since: i32, content: u64) {
        self.0.retain(|(day, _)| *day < since);
        self.0.push((since, content));
    }

    /// Of the last change that a report as of that day can see.
    pub fn seen_by(&self, day: i32) -> u64 {
        let seen = self.0.iter().filter(|(since, _)| *since <= day);
        seen.map(|(_, content)| *content).max().unwrap_or_default()
    }

    pub fn last(&self) -> u64 {
        self.seen_by(i32::MAX)
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests;
