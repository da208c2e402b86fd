//! One set of history files on its way in: all files at once, order by order.

use super::feed::Feed;
use super::files::HistoryFile;
use super::folder::{FileSet, ImportError};
use super::known::Placed;
use super::map::Lens;
use super::parse::{self, Parsed};
use super::rejects::{Rejects, Shown};
use super::source::{Raw, Refused, Rows};
use super::store::Store;
use super::summary::Summary;
use super::words::reworded;

/// Orders that are written in one transaction, with what hangs on them.
const ORDERS: usize = 1_000;
/// Rows of any other file that are taken at once.
const ROWS: usize = 20_000;
/// Text of a file that is taken at once.
const TEXT: usize = 16 << 20;

fn refused(why: Refused) -> ImportError {
    ImportError::Refused(vec![why])
}

/// Which files have been read to their end: orders, jobs and what they hang on,
/// all.
#[derive(Debug, Clone, Copy, Default)]
struct Done {
    orders: bool,
    jobs: bool,
    all: bool,
}

/// One set on its way in.
pub struct Drive<'a> {
    pub store: Store<'a>,
    pub set: &'a FileSet,
    pub rejects: &'a mut Rejects,
    /// Is told how many bytes of all sets were read.
    pub progress: &'a dyn Fn(u64),
    /// Bytes of the sets before.
    pub read: u64,
}

impl Drive<'_> {
    /// All files at once, orders first, each as far as the orders and jobs that
    /// its rows name are known: where the files go alike, as exported ones do,
    /// an order is written whole. A row that names what is not known waits until
    /// the file that should have it has been read to its end.
    ///
    /// # Errors
    /// See [`ImportError`].
    pub fn run(mut self) -> Result<Summary, ImportError> {
        let mut feeds = self.feeds()?;
        let mut done = Done::default();
        while !done.all {
            done.all = true;
            for feed in &mut feeds {
                self.import_some(feed, done)?;
                let ended = !feed.more().map_err(refused)?;
                match feed.file {
                    HistoryFile::Orders => done.orders = ended,
                    HistoryFile::Jobs => done.jobs = ended && done.orders,
                    _ => {}
                }
                done.all &= ended;
            }
            self.store.flush()?;
            self.tell_rejects()?;
            (self.progress)(self.read + feeds.iter().map(|feed| feed.bytes).sum::<u64>());
        }
        self.store.settle_links()?;
        self.store.settle_links_from()?;
        self.tell_rejects()?;
        Ok(self.store.summary)
    }

    fn feeds(&mut self) -> Result<Vec<Feed>, ImportError> {
        let mut feeds = Vec::new();
        for (file, path) in &self.set.files {
            let shown = self.set.shown(*file);
            let rows = Rows::open(path, &shown, *file, self.set.lens(*file)).map_err(refused)?;
            self.store.summary.file(*file);
            if !rows.header.extra.is_empty() {
                let extra = rows.header.extra.clone();
                self.store.summary.extra_columns.insert(shown.clone(), extra);
            }
            feeds.push(Feed::start(*file, &shown, rows).map_err(refused)?);
        }
        Ok(feeds)
    }

    /// Takes a file's next rows, as far as what they name is known.
    fn import_some(&mut self, feed: &mut Feed, done: Done) -> Result<(), ImportError> {
        let most = if feed.file == HistoryFile::Orders { ORDERS } else { ROWS };
        let (mut chunk, mut text) = (Vec::new(), 0);
        while chunk.len() < most
            && text < TEXT
            && feed.more().map_err(refused)?
            && self.is_known(feed, done)
            && let Some(raw) = feed.take()
        {
            text += raw.fields.as_slice().len();
            chunk.push(self.timed(feed, raw)?);
        }
        self.import_chunk(feed, chunk)
    }

    /// Whether what the row ahead names is known by now, or never will be.
    fn is_known(&self, feed: &Feed, done: Done) -> bool {
        let (known, header) = (&self.store.known, &feed.header);
        let Some(raw) = feed.ahead() else { return false };
        match feed.file {
            HistoryFile::Orders => true,
            HistoryFile::Jobs => {
                done.orders
                    || parse::order_named(header, raw)
                        .is_none_or(|order_no| known.orders.contains_key(&*order_no))
            }
            _ => {
                done.jobs
                    || parse::job_named(header, raw)
                        .is_none_or(|(order_no, job_no)| known.job(&order_no, job_no).is_ok())
            }
        }
    }

    /// The row with its times in the zone of its shop.
    fn timed(&self, feed: &Feed, mut raw: Raw) -> Result<Raw, ImportError> {
        let Some(bound) = &feed.bound else { return Ok(raw) };
        let zone = match bound.zone() {
            Some(stated) => stated,
            None => self.store.zone_of_row(feed.file, &feed.header, &raw)?,
        };
        bound.timed(&mut raw, zone);
        Ok(raw)
    }

    fn import_chunk(&mut self, feed: &Feed, chunk: Vec<Raw>) -> Result<(), ImportError> {
        let Feed { file, header, said, .. } = feed;
        let (store, file) = (&mut self.store, *file);
        match file {
            HistoryFile::Orders => {
                let rows = good(store, file, chunk, |_, raw| parse::order(header, raw));
                store.orders(rows, said)?;
            }
            HistoryFile::Jobs => {
                let rows = good(store, file, chunk, |store, raw| {
                    parse::job(header, raw, &store.money_of_row(header, raw))
                });
                store.jobs(rows, said)?;
            }
            HistoryFile::Operations => {
                let rows = good(store, file, chunk, |store, raw| {
                    parse::operation(header, raw, &store.money_of_row(header, raw))
                });
                store.lines(rows, said)?;
            }
            HistoryFile::Checks => {
                let rows = good(store, file, chunk, |_, raw| parse::check(header, raw));
                store.lines(rows, said)?;
            }
            HistoryFile::Parts => {
                let rows = good(store, file, chunk, |store, raw| {
                    parse::part(header, raw, &store.money_of_row(header, raw))
                });
                store.lines(rows, said)?;
            }
            HistoryFile::Labor => {
                let rows = good(store, file, chunk, |_, raw| parse::labor(header, raw));
                store.labor(rows, said)?;
            }
        }
        Ok(())
    }

    fn tell_rejects(&mut self) -> Result<(), ImportError> {
        for reject in std::mem::take(&mut self.store.rejects) {
            let shown = Shown {
                file: &self.set.shown(reject.file),
                header_of: &|column| self.set.header_of(reject.file, column),
                reworded: &|reason| {
                    reworded(reason, &|word| self.set.foreign_name(reject.file, word))
                },
                delimiter: self.set.lens(reject.file).map_or(b',', Lens::delimiter),
            };
            self.rejects
                .write(&reject, &shown)
                .map_err(|e| ImportError::Rejects(self.rejects.path().to_owned(), e))?;
        }
        Ok(())
    }
}

/// Parses a chunk; what does not parse is turned away.
fn good<T>(
    store: &mut Store<'_>,
    file: HistoryFile,
    chunk: Vec<Raw>,
    read: impl Fn(&Store<'_>, &Raw) -> Parsed<T>,
) -> Vec<Placed<T>> {
    let mut rows = Vec::with_capacity(chunk.len());
    for raw in chunk {
        match read(store, &raw) {
            Ok(record) => rows.push(Placed { raw, record }),
            Err(faults) => store.reject(file, raw, faults),
        }
    }
    rows
}
