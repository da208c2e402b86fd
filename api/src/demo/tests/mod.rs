//! Every expected count is the shop scenario's (invented demo data), taken here
//! from the records alone.

#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

mod record;
mod stories;

use std::collections::HashMap;
use std::ops::RangeInclusive;

use analytics::words::{JobKind, Outcome};
use chrono::{DateTime, NaiveDate, Utc};

use super::{DemoPlan, STANDARD_JOBS, ZONE, calendar, visits};
use crate::import::records::{CheckRecord, JobRecord, LaborRecord, OrderRecord, PartRecord, Visit};

/// Two Sundays, and a Wednesday and a Saturday that break a week off.
fn ends() -> [NaiveDate; 4] {
    [(2026, 10, 11), (2026, 11, 22), (2026, 6, 3), (2027, 2, 20)]
        .map(|(y, m, d)| NaiveDate::from_ymd_opt(y, m, d).unwrap())
}

impl DemoPlan {
    /// The standard scenario.
    pub(crate) const fn standard(end: NaiveDate) -> Self {
        Self { seed: 1, end, jobs: STANDARD_JOBS }
    }

    /// First and last day of a run of weeks.
    fn days(&self, weeks: RangeInclusive<usize>) -> (NaiveDate, NaiveDate) {
        let monday = calendar::first_monday(self.end);
        let day = |weeks: usize| monday + chrono::Days::new(weeks as u64 * 7);
        (day(weeks.start() - 1), day(*weeks.end()) - chrono::Days::new(1))
    }
}

fn local(at: DateTime<Utc>) -> chrono::NaiveDateTime {
    let zone: chrono_tz::Tz = ZONE.parse().unwrap();
    at.with_timezone(&zone).naive_local()
}

type JobName = (String, i32);

/// The record, job by job.
struct Book {
    plan: DemoPlan,
    visits: Vec<Visit>,
    /// Job to the visit that came back for it.
    back: HashMap<JobName, usize>,
}

struct Line<'a> {
    order: &'a OrderRecord,
    job: &'a JobRecord,
    closed: NaiveDate,
    /// Days until it came back.
    days: Option<i64>,
    checks: Vec<&'a CheckRecord>,
    parts: Vec<&'a PartRecord>,
    labor: Vec<&'a LaborRecord>,
}

impl Line<'_> {
    fn within(&self, days: i64) -> bool {
        self.days.is_some_and(|d| d <= days)
    }

    fn minutes(&self) -> i64 {
        self.labor.iter().map(|l| (l.ended_at - l.started_at).num_minutes()).sum()
    }
}

impl Book {
    fn new(end: NaiveDate) -> Self {
        let plan = DemoPlan::standard(end);
        let visits: Vec<Visit> = visits(&plan).collect();
        let back = visits
            .iter()
            .enumerate()
            .flat_map(|(place, visit)| visit.jobs.iter().map(move |job| (place, job)))
            .filter_map(|(place, job)| {
                Some(((job.returned_from_order.clone()?, job.returned_from_job?), place))
            })
            .collect();
        Self { plan, visits, back }
    }

    fn lines(&self) -> Vec<Line<'_>> {
        let mut lines = Vec::new();
        for visit in &self.visits {
            let closed = local(visit.order.closed_at.unwrap()).date();
            for job in &visit.jobs {
                let back = self.back.get(&(job.order_no.clone(), job.job_no));
                let days = back.map(|place| {
                    (local(self.visits[*place].order.opened_at).date() - closed).num_days()
                });
                lines.push(Line {
                    order: &visit.order,
                    job,
                    closed,
                    days,
                    checks: visit.checks.iter().filter(|c| c.job_no == job.job_no).collect(),
                    parts: visit.parts.iter().filter(|p| p.job_no == job.job_no).collect(),
                    labor: visit.labor.iter().filter(|l| l.job_no == job.job_no).collect(),
                });
            }
        }
        lines
    }

    /// Jobs that count in a comeback share.
    fn repaired(&self) -> Vec<Line<'_>> {
        let mut lines = self.lines();
        lines.retain(|line| {
            line.job.kind == Some(JobKind::Complaint) && line.job.outcome == Some(Outcome::Repaired)
        });
        lines
    }

    fn closed_in(&self, weeks: RangeInclusive<usize>) -> Vec<Line<'_>> {
        let (first, last) = self.plan.days(weeks);
        let mut lines = self.repaired();
        lines.retain(|line| (first..=last).contains(&line.closed));
        lines
    }
}

fn each(test: impl Fn(&Book)) {
    for end in ends() {
        test(&Book::new(end));
    }
}
