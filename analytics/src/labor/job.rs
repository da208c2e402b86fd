//! One job's hours and money, and how they are split.

use super::allocate::split;
use super::sums::Piece;
use crate::history::{History, Labor, NO_NUMBER, NONE, Operations};
use crate::words::{Activity, Payer};

/// One operation of a job.
#[derive(Debug, Clone, Copy)]
pub(super) struct Operation {
    pub code: u32,
    pub payer: Option<Payer>,
    pub piece: Piece,
}

/// One technician's minutes on a job.
#[derive(Debug, Clone, Copy)]
pub(super) struct Worked {
    pub technician: u32,
    pub minutes: i64,
    pub diagnosis: i64,
}

/// A job's operations and minutes.
#[derive(Debug, Default)]
pub(super) struct Job {
    pub operations: Vec<Operation>,
    pub worked: Vec<Worked>,
}

impl Job {
    /// The whole job.
    pub fn whole(&self) -> Piece {
        let mut whole = Piece::default();
        for operation in &self.operations {
            whole += operation.piece;
        }
        for worked in &self.worked {
            whole.clock += worked.minutes;
            whole.diagnosis += worked.diagnosis;
        }
        whole
    }

    /// Hours and money by clock share; all of it to the technician who led the
    /// job where no clock was kept.
    pub fn by_technician(&self, lead: u32) -> Vec<(u32, Piece)> {
        let whole = self.whole();
        if self.worked.is_empty() {
            return vec![(lead, whole)];
        }
        let weights: Vec<i64> = self.worked.iter().map(|worked| worked.minutes).collect();
        let shares = [whole.flat, whole.billed, whole.amount].map(|total| split(total, &weights));
        let [flat, billed, amount] = &shares;
        self.worked
            .iter()
            .zip(flat.iter().zip(billed).zip(amount))
            .map(|(worked, ((&flat, &billed), &amount))| {
                let piece = Piece {
                    flat,
                    clock: worked.minutes,
                    diagnosis: worked.diagnosis,
                    billed,
                    amount,
                };
                (worked.technician, piece)
            })
            .collect()
    }

    /// Diagnosis minutes to the operation of diagnosis, all others to the
    /// other operations by flat-rate share. Where a job has only the one kind
    /// of operation, its hours are meant for all of the work, so all minutes
    /// are its own; a job without operations stands under none. The groups add
    /// up to the job.
    pub fn by_operation(&self, diagnosis: u32) -> impl Iterator<Item = (Operation, Piece)> {
        let whole = self.whole();
        let is_diagnosis = |operation: &Operation| operation.code == diagnosis;
        let (diagnosing, working): (Vec<Operation>, Vec<Operation>) =
            self.operations.iter().copied().partition(is_diagnosis);
        let mut pieces = Vec::with_capacity(self.operations.len() + 1);
        if self.operations.is_empty() && whole.clock > 0 {
            let piece =
                Piece { clock: whole.clock, diagnosis: whole.diagnosis, ..Piece::default() };
            let none = Operation { code: NONE, payer: None, piece: Piece::default() };
            pieces.push((none, piece));
        } else if diagnosing.is_empty() || working.is_empty() {
            share_out(&self.operations, whole.clock, whole.diagnosis, &mut pieces);
        } else {
            share_out(&diagnosing, whole.diagnosis, whole.diagnosis, &mut pieces);
            share_out(&working, whole.clock - whole.diagnosis, 0, &mut pieces);
        }
        pieces.into_iter()
    }
}

/// Shares minutes out among operations by their flat-rate hours.
fn share_out(
    operations: &[Operation],
    clock: i64,
    diagnosis: i64,
    pieces: &mut Vec<(Operation, Piece)>,
) {
    let weights: Vec<i64> = operations.iter().map(|op| op.piece.flat).collect();
    let shares = split(clock, &weights).into_iter().zip(split(diagnosis, &weights));
    for (operation, (clock, diagnosis)) in operations.iter().zip(shares) {
        pieces.push((*operation, Piece { clock, diagnosis, ..operation.piece }));
    }
}

/// Reads operations and labor along with the jobs: all are in job order.
pub(super) struct Reader<'a> {
    operations: Operations<'a>,
    labor: Labor<'a>,
    operation: usize,
    entry: usize,
}

impl<'a> Reader<'a> {
    pub fn new(history: &'a History) -> Self {
        Self { operations: history.operations(), labor: history.labor(), operation: 0, entry: 0 }
    }

    pub fn read(&mut self, row: usize, job: &mut Job) {
        job.operations.clear();
        job.worked.clear();
        while self.operations.job.get(self.operation).is_some_and(|&of| of as usize <= row) {
            job.operations.extend(operation(&self.operations, self.operation));
            self.operation += 1;
        }
        while self.labor.job.get(self.entry).is_some_and(|&of| of as usize <= row) {
            if let Some(entry) = worked(&self.labor, self.entry) {
                match job.worked.iter_mut().find(|known| known.technician == entry.technician) {
                    Some(known) => {
                        known.minutes += entry.minutes;
                        known.diagnosis += entry.diagnosis;
                    }
                    None => job.worked.push(entry),
                }
            }
            self.entry += 1;
        }
    }
}

fn operation(operations: &Operations<'_>, at: usize) -> Option<Operation> {
    let known = |value: Option<&i64>| value.copied().filter(|&value| value != NO_NUMBER);
    let billed = known(operations.billed_hundredths.get(at));
    let amount = known(operations.labor_amount_minor.get(at));
    // Hours without an amount, or the reverse, would bend the rate.
    let (billed, amount) = billed.zip(amount).unwrap_or_default();
    Some(Operation {
        code: *operations.code.get(at)?,
        payer: operations.payer.get(at).and_then(|&code| Payer::from_code(code)),
        piece: Piece {
            flat: known(operations.flat_rate_hundredths.get(at)).unwrap_or(0),
            billed,
            amount,
            ..Piece::default()
        },
    })
}

fn worked(labor: &Labor<'_>, at: usize) -> Option<Worked> {
    let minutes = *labor.minutes.get(at)?;
    let diagnosis = labor.activity.get(at) == Some(&Activity::Diagnosis.code());
    Some(Worked {
        technician: *labor.technician.get(at)?,
        minutes,
        diagnosis: if diagnosis { minutes } else { 0 },
    })
}
