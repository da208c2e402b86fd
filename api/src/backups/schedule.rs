//! Makes backups while the server runs, and tells how they stand.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::{DateTime, NaiveDateTime, Utc};

use super::keep::dropped;
use crate::db;
use crate::domain::clock::{Clock, UtcStamp};

/// How a backup's time stands in its name.
const STAMP: &str = "%Y%m%dT%H%M%SZ";
/// How often it is looked whether one is due.
const LOOK: Duration = Duration::from_secs(1);
/// A record whose newest backup is older is in danger.
const OLDEST_DAYS: i64 = 3;
/// After one that failed, a while passes before the next.
const AGAIN_MINUTES: i64 = 5;

/// Where backups go, and what became of the last one.
#[derive(Debug, Clone)]
pub struct Backups {
    pub folder: PathBuf,
    pub minutes: u32,
    fault: Arc<Mutex<Option<String>>>,
}

/// How they stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    pub folder: String,
    pub minutes: u32,
    pub there: usize,
    pub newest: Option<UtcStamp>,
    /// Why the last one was not made.
    pub fault: Option<String>,
    /// None, or none in three days.
    pub owed: bool,
}

/// The name of a backup that somebody makes, of that moment: it is nobody else's to
/// remove.
#[must_use]
pub fn name(at: UtcStamp) -> String {
    format!("onetrip-{}.sqlite", at.utc().format(STAMP))
}

/// The name of one by schedule, which goes in time.
fn scheduled(at: UtcStamp) -> String {
    format!("scheduled-{}.sqlite", at.utc().format(STAMP))
}

/// The moment of a backup by schedule of that name.
fn moment(name: &str) -> Option<DateTime<Utc>> {
    let stamp = name.strip_prefix("scheduled-")?.strip_suffix(".sqlite")?;
    Some(NaiveDateTime::parse_from_str(stamp, STAMP).ok()?.and_utc())
}

/// The backups of a folder.
fn there(folder: &Path) -> BTreeSet<DateTime<Utc>> {
    let names = std::fs::read_dir(folder).into_iter().flatten().flatten();
    names.filter_map(|entry| moment(&entry.file_name().to_string_lossy())).collect()
}

impl Backups {
    #[must_use]
    pub fn new(folder: PathBuf, minutes: u32) -> Self {
        Self { folder, minutes, fault: Arc::default() }
    }

    /// How they stand now.
    #[must_use]
    pub fn standing(&self, now: UtcStamp) -> Standing {
        let made = there(&self.folder);
        // One of a clock that ran ahead says nothing of today.
        let newest = made.range(..=now.utc()).next_back().copied();
        let oldest = now.utc() - chrono::Duration::days(OLDEST_DAYS);
        Standing {
            folder: self.folder.display().to_string(),
            minutes: self.minutes,
            there: made.len(),
            newest: newest.map(UtcStamp::new),
            fault: self.fault.lock().unwrap_or_else(PoisonError::into_inner).clone(),
            owed: newest.is_none_or(|newest| newest < oldest),
        }
    }

    /// Makes them from now on, each when it is due.
    ///
    /// # Errors
    /// Where the folder or the thread cannot be had.
    pub fn begin(&self, record: PathBuf, clock: Clock) -> std::io::Result<()> {
        std::fs::create_dir_all(&self.folder)?;
        let own = self.clone();
        std::thread::Builder::new().name("backups".to_owned()).spawn(move || {
            let mut newest = there(&own.folder).last().copied();
            let mut tried: Option<DateTime<Utc>> = None;
            loop {
                let now = clock.now();
                if due(newest, i64::from(own.minutes), now.utc())
                    && due(tried, AGAIN_MINUTES, now.utc())
                {
                    match own.make(&record, now) {
                        Ok(()) => (newest, tried) = (Some(now.utc()), None),
                        Err(why) => {
                            tracing::error!(why, "no backup was made");
                            tried = Some(now.utc());
                        }
                    }
                }
                std::thread::sleep(LOOK);
            }
        })?;
        Ok(())
    }

    /// Makes one, looked through and on the disk, and lets old ones go.
    fn make(&self, record: &Path, now: UtcStamp) -> Result<(), String> {
        let made = sweep(&self.folder)
            .and_then(|()| db::snapshot(record, &self.folder.join(scheduled(now))));
        *self.fault.lock().unwrap_or_else(PoisonError::into_inner) = made.as_ref().err().cloned();
        made?;
        for old in dropped(&there(&self.folder)) {
            let file = self.folder.join(scheduled(UtcStamp::new(old)));
            if let Err(error) = std::fs::remove_file(&file) {
                tracing::warn!(%error, file = %file.display(), "an old backup could not be removed");
            }
        }
        Ok(())
    }
}

/// What a server that died left half made.
fn sweep(folder: &Path) -> Result<(), String> {
    for entry in std::fs::read_dir(folder).map_err(|error| error.to_string())?.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let half = name.strip_suffix(".part").map(|head| format!("{head}.sqlite"));
        if half.and_then(|name| moment(&name)).is_some() {
            drop(std::fs::remove_file(entry.path()));
        }
    }
    Ok(())
}

/// Whether so many minutes have passed, or the clock was set back before it.
fn due(last: Option<DateTime<Utc>>, minutes: i64, now: DateTime<Utc>) -> bool {
    last.is_none_or(|last| now - last >= chrono::Duration::minutes(minutes) || now < last)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn a_name_tells_the_moment_and_other_names_tell_none() {
        let at = DateTime::from_timestamp(1_790_000_000, 0).unwrap();
        assert_eq!(moment(&scheduled(UtcStamp::new(at))), Some(at));
        // One that somebody made is left alone.
        assert_eq!(moment(&name(UtcStamp::new(at))), None);
        for other in ["onetrip.sqlite", "scheduled-x.sqlite", "before-20261128000000.sqlite"] {
            assert_eq!(moment(other), None);
        }
    }

    #[test]
    fn one_is_due_when_the_time_is_up_or_ran_backward() {
        let at = |minutes: i64| DateTime::from_timestamp(1_790_000_000 + minutes * 60, 0).unwrap();
        assert!(
            due(None, 60, at(0)) && due(Some(at(0)), 60, at(60)) && due(Some(at(5)), 60, at(0))
        );
        assert!(!due(Some(at(0)), 60, at(59)));
    }
}
