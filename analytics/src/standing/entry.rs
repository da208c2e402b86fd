//! What is known of a job once it is entered, beside its row: who answers for
//! it, its first return, its order of checks, its minutes and its hours. Derived:
//! it always equals a rebuild, but for the places of groups, which follow first
//! sight.

mod answers;
mod checks;
mod parts;
mod places;
mod work;

use crate::follow::NEVER;
use crate::history::{History, NONE};
use crate::words::LinkState;
use answers::answering;
use checks::OrderReader;
pub(super) use parts::Cell;
pub(super) use places::{Lists, Places};
use work::Work;

/// Minutes that nobody measured.
pub(super) const UNMEASURED: u32 = u32::MAX;

/// Something that came back, by its row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Back {
    pub row: u32,
    /// Days from the hand-over to the first return.
    pub days: i32,
}

/// One technician's part of a job that was clocked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Piece {
    /// Row of the job.
    pub job: u32,
    /// Place of the technician.
    pub person: u32,
    /// Credited hundredths of a flat-rate hour.
    pub flat: u32,
    /// Minutes on the clock.
    pub clock: u32,
}

/// A job's hours.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Hours {
    /// Credited hundredths of a flat-rate hour; none where nothing was clocked.
    pub flat: u32,
    /// Minutes on the clock.
    pub clock: u32,
}

/// The repair of a comeback, and what it came back for, by their rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Linked {
    later: u32,
    earlier: u32,
}

/// Derived columns of a history.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entry {
    /// Codes of symptoms, [`NONE`] among them where a job has none.
    pub(super) symptoms: Places<u32>,
    /// Codes of technicians' names, [`NONE`] among them where nobody is named.
    pub(super) people: Places<u32>,
    /// Codes of the checks in orders.
    pub(super) checks: Places<u32>,
    /// Place of the symptom, then places of the checks that were done in a
    /// measured order.
    pub(super) orders: Lists,
    pub(super) cells: Places<Cell>,

    /// By job row: place of the symptom.
    pub(super) symptom: Vec<u32>,
    /// By job row: place of who answers for the first job of its chain.
    pub(super) answers: Vec<u32>,
    /// By job row: place of its symptom and order of checks; [`NONE`] where it is
    /// no complaint, has no symptom, or its order was not measured.
    pub(super) order: Vec<u32>,
    /// By job row: hands-on minutes of diagnosis.
    pub(super) minutes: Vec<u32>,
    /// By job row.
    pub(super) hours: Vec<Hours>,
    /// From each job that is the repair of a comeback to the job that it came back
    /// for, by row of the later one.
    linked: Vec<Linked>,
    /// Jobs that came back, by row.
    pub(super) returns: Vec<Back>,
    /// Technicians' parts of clocked jobs, by job row.
    pub(super) pieces: Vec<Piece>,

    /// By row of the parts frame: place of part, choice and role; [`NONE`] where
    /// the job was not handed over as done.
    pub(super) cell: Vec<u32>,
    /// Part uses that came back, by row of the parts frame.
    pub(super) part_returns: Vec<Back>,
}

impl Entry {
    /// Keeps what stands of the rows before `from_row` and reads all others
    /// anew. `from_row` is the first job row of which anything has changed.
    pub(crate) fn bring(&mut self, history: &History, from_row: usize) {
        let from = self.first_read(history, from_row);
        self.bring_returns(history, from);
        let linked = self.bring_links(history, from);
        self.bring_answers(history, from, linked);
        self.bring_work(history, from, linked);
        self.bring_parts(history, from);
    }

    /// The first row that reads differently once anything of a row and of those behind
    /// it has changed: who answers for a job may be told by one that stands behind it,
    /// where both were closed on one day.
    fn first_read(&self, history: &History, changed: usize) -> usize {
        let mut from = changed.min(self.order.len()).min(history.jobs().closed_day.len());
        let reaches = |from: usize, link: &Linked| {
            link.earlier as usize >= from && (link.later as usize) < from
        };
        while let Some(link) =
            (self.linked.iter().copied().chain(linked(history))).find(|link| reaches(from, link))
        {
            from = link.later as usize;
        }
        from
    }

    /// Where the links of the rows from there on begin.
    fn bring_links(&mut self, history: &History, from: usize) -> usize {
        let first = self.linked.partition_point(|link| (link.later as usize) < from);
        self.linked.truncate(first);
        let mut tail: Vec<Linked> =
            linked(history).filter(|link| link.later as usize >= from).collect();
        tail.sort_by_key(|link| link.later);
        for link in tail {
            // A later job links to one earlier job; of two the last stands.
            self.linked.pop_if(|last| last.later == link.later);
            self.linked.push(link);
        }
        first
    }

    fn bring_answers(&mut self, history: &History, from: usize, linked: usize) {
        let jobs = history.jobs();
        self.symptom.truncate(from);
        let codes = places::tail(jobs.symptom, from).iter();
        self.symptom.extend(codes.map(|code| self.symptoms.of(*code)));
        self.answers.truncate(from);
        let codes = places::tail(jobs.technician, from).iter();
        self.answers.extend(codes.map(|code| self.people.of(*code)));
        for (row, answers) in answering(&self.answers, places::tail(&self.linked, linked)) {
            places::set(&mut self.answers, row, answers);
        }
    }

    fn bring_work(&mut self, history: &History, from: usize, linked: usize) {
        self.order.truncate(from);
        self.minutes.truncate(from);
        self.hours.truncate(from);
        self.pieces.truncate(self.pieces.partition_point(|piece| (piece.job as usize) < from));
        let mut work = Work::from(history, from);
        let mut orders = OrderReader::from(history, from);
        let mut comebacks = places::tail(&self.linked, linked).iter().peekable();
        let rows = (0_u32..).zip(history.jobs().closed_day).skip(from);
        for (row, _) in rows {
            let diagnosis = work.read(row);
            let comeback = comebacks.next_if(|link| link.later == row).is_some();
            let (hours, pieces) = work.hours(comeback);
            self.hours.push(hours);
            let people = &mut self.people;
            self.pieces.extend(pieces.map(|(technician, hours)| Piece {
                job: row,
                person: people.of(technician),
                flat: hours.flat,
                clock: hours.clock,
            }));
            let symptom = self.symptom.get(row as usize).copied().unwrap_or(NONE);
            let (order, minutes) = orders.read(row, (symptom, diagnosis), &mut self.checks);
            self.order.push(order.map_or(NONE, |key| self.orders.of(key)));
            self.minutes.push(minutes);
        }
    }

    /// The first return of each job: its first confirmed comeback, or the day on
    /// which somebody told that the repair had not held.
    fn bring_returns(&mut self, history: &History, from: usize) {
        self.returns.truncate(self.returns.partition_point(|back| (back.row as usize) < from));
        let (jobs, links) = (history.jobs(), history.returns());
        let mut at = links.earlier.partition_point(|earlier| (*earlier as usize) < from);
        let days = jobs.closed_day.iter().zip(jobs.told_day);
        for (row, (&closed, &told)) in (0_u32..).zip(days).skip(from) {
            let mut first = if told == NEVER { NEVER } else { since(closed, told) };
            while links.earlier.get(at) == Some(&row) {
                let confirmed = links.state.get(at) == Some(&LinkState::Confirmed.code());
                if let Some(&opened) = links.later_opened_day.get(at).filter(|_| confirmed) {
                    first = first.min(since(closed, opened));
                }
                at += 1;
            }
            if first != NEVER {
                self.returns.push(Back { row, days: first });
            }
        }
    }
}

/// Days from a hand-over; a day before it is no return.
fn since(closed: i32, day: i32) -> i32 {
    if day < closed { NEVER } else { day.saturating_sub(closed) }
}

/// Confirmed comebacks whose repair is closed too. What was opened before the
/// hand-over is rework.
fn linked(history: &History) -> impl Iterator<Item = Linked> + '_ {
    let (closed, links) = (history.jobs().closed_day, history.returns());
    let rows = links.earlier.iter().zip(links.later);
    let told = links.later_opened_day.iter().zip(links.state);
    let confirmed = rows.zip(told).filter(|((earlier, later), (opened, state))| {
        **later != NONE
            && **state == LinkState::Confirmed.code()
            && closed.get(**earlier as usize).is_some_and(|closed| closed <= *opened)
    });
    confirmed.map(|((&earlier, &later), _)| Linked { later, earlier })
}
