//! Carries what is committed from SQLite's log into its file, on a thread and
//! a connection of its own: no commit waits for it. The log begins anew only
//! when all of it has been carried at one moment; under writes that never
//! cease that moment does not come by itself, so past a bound the writer sees
//! to the little that is left, between two batches.

use std::sync::Arc;
use std::sync::atomic::{AtomicI32, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use diesel::prelude::*;
use diesel::sql_types::Integer;

use super::Conn;

/// Pages of the log past which the writer helps: 64 MiB.
const LONG_LOG: i32 = 16_384;
/// From one carrying to the next.
const PAUSE: Duration = Duration::from_millis(250);

/// What SQLite tells of the log.
#[derive(QueryableByName)]
struct Told {
    #[diesel(sql_type = Integer)]
    log: i32,
}

/// Carries what can be without making anybody wait; tells the log's pages.
pub(super) fn carry(conn: &mut Conn) -> QueryResult<i32> {
    match conn {
        Conn::Sqlite(inner) => {
            let told: Told =
                diesel::sql_query("PRAGMA wal_checkpoint(PASSIVE)").get_result(inner)?;
            Ok(told.log)
        }
        // It keeps its log itself.
        Conn::Postgres(_) => Ok(0),
    }
}

/// The writer's end of it.
pub(super) struct Carrier {
    wake: SyncSender<()>,
    pages: Arc<AtomicI32>,
    thread: JoinHandle<()>,
}

impl Carrier {
    /// Starts the thread on its connection.
    pub(super) fn start(conn: Conn) -> std::io::Result<Self> {
        let (wake, woken) = sync_channel(1);
        let pages = Arc::new(AtomicI32::new(0));
        let told = Arc::clone(&pages);
        let thread = std::thread::Builder::new()
            .name("record-carrier".into())
            .spawn(move || serve(conn, &woken, &told))?;
        Ok(Self { wake, pages, thread })
    }

    /// Something was committed. One call that waits already stands for all.
    pub(super) fn wake(&self) {
        let _ = self.wake.try_send(());
    }

    /// Whether the log was found long; asks once for each time it was.
    pub(super) fn found_long(&self) -> bool {
        self.pages.load(Ordering::Relaxed) >= LONG_LOG
            && self.pages.swap(0, Ordering::Relaxed) >= LONG_LOG
    }

    /// Ends the thread and waits until its connection is closed.
    pub(super) fn end(self) {
        drop(self.wake);
        if self.thread.join().is_err() {
            tracing::error!("the thread that carries the log had panicked");
        }
    }
}

fn serve(mut conn: Conn, woken: &Receiver<()>, pages: &AtomicI32) {
    let mut waits = false;
    while waits || woken.recv().is_ok() {
        match carry(&mut conn) {
            Ok(log) => pages.store(log, Ordering::Relaxed),
            Err(error) => tracing::warn!(%error, "the log could not be carried over"),
        }
        // What is committed meanwhile is carried together.
        let (until, mut more) = (Instant::now() + PAUSE, false);
        loop {
            match woken.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(()) => more = true,
                Err(RecvTimeoutError::Timeout) => break,
                Err(RecvTimeoutError::Disconnected) => return,
            }
        }
        waits = more;
    }
}
