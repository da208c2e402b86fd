//! What names jobs to people, all in one text: a job's own strings would weigh more
//! than what they say.

use std::collections::HashSet;

use super::splice::{Splice, room};
use super::{HistoryError, JobId, NONE};
use crate::hashed::HashMap;

/// What names a job to people, kept beside the columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct JobLabel<'a> {
    pub id: JobId,
    pub order_no: &'a str,
    pub job_no: i32,
    /// The customer's own words.
    pub complaint: Option<&'a str>,
}

impl JobLabel<'_> {
    /// What decides a job's place: closing day, order, job; the id only breaks a
    /// tie that the record should not have.
    pub(super) const fn place(&self, closed_day: i32) -> (i32, &str, i32, JobId) {
        (closed_day, self.order_no, self.job_no, self.id)
    }
}

/// Where a job's words end in the text of all.
#[derive(Debug, Clone, Copy)]
struct Ends {
    order_no: u32,
    /// `NONE` where there is no complaint.
    complaint: u32,
}

impl Ends {
    const fn last(self) -> u32 {
        if self.complaint == NONE { self.order_no } else { self.complaint }
    }
}

/// The labels by row, and the row of each id.
#[derive(Debug, Clone, Default)]
pub(super) struct Labels {
    ids: Vec<JobId>,
    job_nos: Vec<i32>,
    ends: Vec<Ends>,
    texts: String,
    /// By the bytes of the id, which lie closer than 128-bit numbers do.
    rows: HashMap<[u8; 16], u32>,
}

impl Labels {
    /// Adds a label behind the others. The row of its id is not known by it.
    pub fn push(&mut self, label: JobLabel<'_>) {
        self.ids.push(label.id);
        self.job_nos.push(label.job_no);
        self.texts.push_str(label.order_no);
        let order_no = self.end();
        self.texts.push_str(label.complaint.unwrap_or_default());
        let complaint = label.complaint.map_or(NONE, |_| self.end());
        self.ends.push(Ends { order_no, complaint });
    }

    /// See [`Labels::fits`].
    fn end(&self) -> u32 {
        u32::try_from(self.texts.len()).unwrap_or(NONE)
    }

    /// Whether the words of all have room beside each other.
    ///
    /// # Errors
    /// They have not.
    pub fn fits(&self, brought: &Self) -> Result<(), HistoryError> {
        super::splice::fits("texts", self.texts.len(), brought.texts.len())
    }

    fn start_of(&self, row: usize) -> usize {
        let before = row.checked_sub(1).and_then(|row| self.ends.get(row));
        before.map_or(0, |ends| ends.last() as usize)
    }

    pub fn get(&self, row: usize) -> Option<JobLabel<'_>> {
        let ends = self.ends.get(row)?;
        let order_no = self.texts.get(self.start_of(row)..ends.order_no as usize)?;
        let complaint = ends.order_no as usize..ends.last() as usize;
        Some(JobLabel {
            id: *self.ids.get(row)?,
            order_no,
            job_no: *self.job_nos.get(row)?,
            complaint: self.texts.get(complaint).filter(|_| ends.complaint != NONE),
        })
    }

    pub fn row_of(&self, id: JobId) -> Option<u32> {
        self.rows.get(&id.to_ne_bytes()).copied()
    }

    /// Brings the labels into their new order.
    pub fn splice(&mut self, splice: &Splice, brought: &Self, gone: &HashSet<JobId>) {
        for id in gone {
            self.rows.remove(&id.to_ne_bytes());
        }
        let tail = self.split_off(splice.from());
        let (kept, new) = (tail.all(), brought.all());
        let words = tail.texts.len() + brought.texts.len();
        if self.texts.capacity() - self.texts.len() < words {
            self.texts.reserve_exact(words + self.texts.len() / 16);
        }
        room(&mut self.ids, kept.len() + new.len());
        room(&mut self.job_nos, kept.len() + new.len());
        room(&mut self.ends, kept.len() + new.len());
        for label in splice.picked(&kept, &new) {
            self.push(label);
        }
        for (row, id) in (0_u32..).zip(&self.ids).skip(splice.from()) {
            self.rows.insert(id.to_ne_bytes(), row);
        }
    }

    fn all(&self) -> Vec<JobLabel<'_>> {
        (0..self.ids.len()).filter_map(|row| self.get(row)).collect()
    }

    /// Takes the labels from a row on.
    fn split_off(&mut self, row: usize) -> Self {
        let start = self.start_of(row);
        let base = u32::try_from(start).unwrap_or(NONE);
        let mut ends = self.ends.split_off(row.min(self.ends.len()));
        for ends in &mut ends {
            ends.order_no -= base;
            if ends.complaint != NONE {
                ends.complaint -= base;
            }
        }
        Self {
            ids: self.ids.split_off(row.min(self.ids.len())),
            job_nos: self.job_nos.split_off(row.min(self.job_nos.len())),
            ends,
            texts: self.texts.split_off(start),
            rows: HashMap::default(),
        }
    }
}
