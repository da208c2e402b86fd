//! History files read ahead: each by a thread of its own, so that rows are
//! there when those before them are placed. Bounded in rows and in bytes.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::vec;

use super::files::HistoryFile;
use super::known::Said;
use super::map::Bound;
use super::source::{Header, Raw, Refused, Rows};

/// Rows that are handed over together.
const BATCH: usize = 256;
/// Text that is handed over together.
const BATCH_BYTES: usize = 1 << 20;
/// Batches that may wait.
const WAITING: usize = 4;

struct Batch {
    rows: Vec<Raw>,
    /// Bytes of the file up to its end.
    bytes: u64,
}

/// A file's rows, as history files have them.
pub struct Feed {
    pub file: HistoryFile,
    pub header: Header,
    /// The columns that it has.
    pub said: Said,
    /// How rows are made into ours; absent: they are ours.
    pub bound: Option<Bound>,
    /// Bytes of the file that were taken.
    pub bytes: u64,
    from: Receiver<Result<Batch, Refused>>,
    waiting: vec::IntoIter<Raw>,
    next: Option<Raw>,
}

impl Feed {
    /// Begins to read.
    ///
    /// # Errors
    /// Where there is no thread to be had.
    pub fn start(file: HistoryFile, shown: &str, mut rows: Rows) -> Result<Self, Refused> {
        let (header, bound) = (rows.header.clone(), rows.bound.take());
        let (to, from) = sync_channel(WAITING);
        std::thread::Builder::new()
            .name("history-rows".into())
            .spawn(move || read_on(&mut rows, &to))
            .map_err(|e| Refused { file: shown.to_owned(), why: format!("cannot be read: {e}") })?;
        let said = Said::Only(header.present());
        let waiting = Vec::new().into_iter();
        Ok(Self { file, header, said, bound, bytes: 0, from, waiting, next: None })
    }

    /// Whether there is another row, which is then ahead.
    ///
    /// # Errors
    /// Where the file cannot be read on.
    pub fn more(&mut self) -> Result<bool, Refused> {
        while self.next.is_none() {
            if let Some(raw) = self.waiting.next() {
                self.next = Some(match &self.bound {
                    Some(bound) => bound.made(raw),
                    None => raw,
                });
                break;
            }
            // The reader hangs up at the end.
            let Ok(batch) = self.from.recv() else { break };
            let Batch { rows, bytes } = batch?;
            self.bytes = bytes;
            self.waiting = rows.into_iter();
        }
        Ok(self.next.is_some())
    }

    /// The row ahead, which stays.
    pub const fn ahead(&self) -> Option<&Raw> {
        self.next.as_ref()
    }

    /// Takes the row ahead.
    pub fn take(&mut self) -> Option<Raw> {
        self.next.take()
    }
}

/// Reads to the end, or until nobody listens.
fn read_on(rows: &mut Rows, to: &SyncSender<Result<Batch, Refused>>) {
    loop {
        let batch = next_batch(rows);
        let last = batch.as_ref().map_or(true, |batch| batch.rows.is_empty());
        if to.send(batch).is_err() || last {
            return;
        }
    }
}

fn next_batch(rows: &mut Rows) -> Result<Batch, Refused> {
    let (mut batch, mut text) = (Vec::with_capacity(BATCH), 0);
    while batch.len() < BATCH
        && text < BATCH_BYTES
        && let Some(raw) = rows.next_row()?
    {
        text += raw.fields.as_slice().len();
        batch.push(raw);
    }
    Ok(Batch { rows: batch, bytes: rows.bytes() })
}
