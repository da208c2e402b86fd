//! Slows down guessing: after five tries in a row a name waits 1, 2, 4 ...
//! seconds, at most a quarter of an hour, until it signs in.

use std::collections::HashMap;
use std::sync::Mutex;

use super::session::digest;
use crate::domain::clock::UtcStamp;
use crate::problem::{Kind, Problem};

const FREE: u32 = 5;
const LONGEST_SECONDS: i64 = 900;
/// Names remembered at most.
const MOST_NAMES: usize = 10_000;

/// Tries by name.
#[derive(Default)]
pub struct Tries(Mutex<HashMap<String, (u32, UtcStamp)>>);

/// Counts a try, or refuses it.
///
/// # Errors
/// Too many tries, with the seconds to wait.
pub fn admit(tries: &Tries, name: &str, now: UtcStamp) -> Result<(), Problem> {
    let Ok(mut names) = tries.0.lock() else { return Ok(()) };
    if names.len() > MOST_NAMES {
        names.retain(|_, (_, last)| (now.utc() - last.utc()).num_seconds() < LONGEST_SECONDS);
        if names.len() > MOST_NAMES {
            forget_the_oldest(&mut names);
        }
    }
    // A name may be long, and anybody may send it: its digest is kept.
    let name = &digest(name.as_bytes());
    let (count, last) = names.get(name).copied().unwrap_or((0, now));
    if count >= FREE {
        let wait = wait_seconds(count);
        let passed = (now.utc() - last.utc()).num_seconds();
        if passed < wait {
            let left = u32::try_from(wait - passed.max(0)).unwrap_or(1);
            let mut problem = Problem::new(Kind::TOO_MANY, format!("wait {}", seconds(left)));
            problem.retry_after_seconds = Some(left);
            return Err(problem);
        }
    }
    names.insert(name.clone(), (count.saturating_add(1), now));
    Ok(())
}

/// Whoever sends many names that nobody has must not make it forget the one that
/// is being guessed at: those with few tries go first, then those tried long ago.
fn forget_the_oldest(names: &mut HashMap<String, (u32, UtcStamp)>) {
    let mut known: Vec<(bool, UtcStamp, String)> =
        names.iter().map(|(name, (count, last))| (*count >= FREE, *last, name.clone())).collect();
    known.sort_unstable_by(|a, b| (a.0, a.1, &a.2).cmp(&(b.0, b.1, &b.2)));
    for (_, _, name) in known.iter().take(MOST_NAMES / 4) {
        names.remove(name);
    }
}

/// A wait in words.
#[must_use]
pub fn seconds(count: u32) -> String {
    if count == 1 { "1 second".to_owned() } else { format!("{count} seconds") }
}

fn wait_seconds(count: u32) -> i64 {
    let doublings = count.saturating_sub(FREE).min(20);
    (1_i64 << doublings).min(LONGEST_SECONDS)
}

/// Forgets the tries of a name that has signed in.
pub fn forget(tries: &Tries, name: &str) {
    if let Ok(mut names) = tries.0.lock() {
        names.remove(&digest(name.as_bytes()));
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn a_flood_of_names_does_not_free_the_one_that_is_guessed_at() {
        let tries = Tries::default();
        let now = UtcStamp::parse("2026-10-12T08:00:00Z").unwrap();
        for _ in 0..FREE {
            assert!(admit(&tries, "mirela", now).is_ok());
        }
        for number in 0..3 * MOST_NAMES {
            assert!(admit(&tries, &number.to_string(), now).is_ok());
        }
        assert!(admit(&tries, "mirela", now).is_err());
        assert!(tries.0.lock().unwrap().len() <= MOST_NAMES + 1);
    }

    #[test]
    fn the_sixth_try_in_a_row_waits() {
        let tries = Tries::default();
        let at = |s: &str| UtcStamp::parse(s).unwrap();
        let now = at("2026-10-12T08:00:00Z");
        for _ in 0..5 {
            assert!(admit(&tries, "mirela", now).is_ok());
        }
        assert_eq!(admit(&tries, "mirela", now).unwrap_err().retry_after_seconds, Some(1));
        assert!(admit(&tries, "tomas", now).is_ok());
        assert!(admit(&tries, "mirela", at("2026-10-12T08:00:01Z")).is_ok());
        assert_eq!(
            admit(&tries, "mirela", at("2026-10-12T08:00:01Z")).unwrap_err().retry_after_seconds,
            Some(2)
        );
        forget(&tries, "mirela");
        assert!(admit(&tries, "mirela", now).is_ok());
    }
}
