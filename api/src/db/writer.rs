//! SQLite's one writer: a thread that takes the waiting writes, runs each in a
//! savepoint inside one transaction, commits once, and answers them all. One
//! flush to the disk then serves many writes, and no write meets a lock.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};

use diesel::connection::SimpleConnection;
use tokio::sync::oneshot;

use super::carrier::{Carrier, carry};
use super::{Answer, Conn, Fault};

/// Writes that may wait; past that the answer is "busy" at once.
const QUEUE: usize = 256;
/// Writes that share one commit.
const BATCH: usize = 64;

/// A write in the line.
trait Task: Send {
    /// Does the work inside its savepoint; true where it is to be kept.
    fn run(&mut self, conn: &mut Conn) -> bool;
    /// Tells the waiting side.
    fn settle(self: Box<Self>, batch: Result<(), String>);
}

struct Write<T, F> {
    work: F,
    done: Option<Answer<T>>,
    reply: oneshot::Sender<Answer<T>>,
}

impl<T, F> Task for Write<T, F>
where
    T: Send,
    F: Fn(&mut Conn) -> Answer<T> + Send,
{
    fn run(&mut self, conn: &mut Conn) -> bool {
        let answer = catch_unwind(AssertUnwindSafe(|| (self.work)(conn)))
            .unwrap_or_else(|_| Err(Fault::Unavailable("the write panicked".into())));
        let keep = answer.is_ok();
        self.done = Some(answer);
        keep
    }

    fn settle(self: Box<Self>, batch: Result<(), String>) {
        let answer = match (batch, self.done) {
            (Ok(()), Some(answer)) => answer,
            (Ok(()), None) => Err(Fault::Unavailable("the write did not run".into())),
            (Err(reason), _) => Err(Fault::Unavailable(reason)),
        };
        // The asker may have gone; the write stands all the same.
        drop(self.reply.send(answer));
    }
}

/// The line's end that askers hold.
#[derive(Clone)]
pub(super) struct Line(SyncSender<Box<dyn Task>>);

impl Line {
    /// Starts the writing thread on its connection; the other one carries the
    /// log.
    pub(super) fn start(mut conn: Conn, carrying: Conn) -> std::io::Result<Self> {
        let (sender, receiver) = sync_channel(QUEUE);
        // A commit that carried the log over would make all that wait wait for
        // the disk once more.
        conn.batch_execute("PRAGMA wal_autocheckpoint = 0").map_err(std::io::Error::other)?;
        let carrier = Carrier::start(carrying)?;
        std::thread::Builder::new()
            .name("record-writer".into())
            .spawn(move || serve(conn, &receiver, carrier))?;
        Ok(Self(sender))
    }

    /// Puts a write in the line; the answer comes after its commit.
    pub(super) fn submit<T, F>(&self, work: F) -> Answer<oneshot::Receiver<Answer<T>>>
    where
        T: Send + 'static,
        F: Fn(&mut Conn) -> Answer<T> + Send + 'static,
    {
        let (reply, answer) = oneshot::channel();
        let task = Box::new(Write { work, done: None, reply });
        match self.0.try_send(task) {
            Ok(()) => Ok(answer),
            Err(TrySendError::Full(_)) => Err(Fault::Busy),
            Err(TrySendError::Disconnected(_)) => {
                Err(Fault::Unavailable("the writer has stopped".into()))
            }
        }
    }
}

fn serve(mut conn: Conn, receiver: &Receiver<Box<dyn Task>>, carrier: Carrier) {
    while let Ok(first) = receiver.recv() {
        let mut batch = vec![first];
        while batch.len() < BATCH {
            match receiver.try_recv() {
                Ok(task) => batch.push(task),
                Err(_) => break,
            }
        }
        let outcome = run_batch(&mut conn, &mut batch);
        if let Err(reason) = &outcome {
            tracing::error!(reason, writes = batch.len(), "a batch of writes was lost");
            // Somebody else holds the file: whoever came meanwhile has waited as long as
            // he should, and is told to come again, too.
            if reason.contains("database is locked") {
                batch.extend(receiver.try_iter());
            }
        }
        for task in batch {
            task.settle(outcome.clone());
        }
        carrier.wake();
        if carrier.found_long()
            && let Err(error) = carry(&mut conn)
        {
            tracing::warn!(%error, "the long log could not be carried over");
        }
    }
    carrier.end();
}

/// Runs all in one transaction. An error here means that nothing of the batch
/// stands for certain, and nothing of it is run again.
fn run_batch(conn: &mut Conn, batch: &mut [Box<dyn Task>]) -> Result<(), String> {
    let outcome = try_batch(conn, batch);
    if outcome.is_err() {
        // SQLite may have ended the transaction by itself (a full disk does);
        // then this fails, and that is well.
        drop(conn.batch_execute("ROLLBACK"));
    }
    outcome
}

fn try_batch(conn: &mut Conn, batch: &mut [Box<dyn Task>]) -> Result<(), String> {
    let say =
        |sql: &str, conn: &mut Conn| conn.batch_execute(sql).map_err(|error| error.to_string());
    say("BEGIN IMMEDIATE", conn)?;
    for task in batch {
        say("SAVEPOINT one_write", conn)?;
        if task.run(conn) {
            say("RELEASE one_write", conn)?;
        } else {
            say("ROLLBACK TO one_write; RELEASE one_write", conn)?;
        }
    }
    say("COMMIT", conn)
}
