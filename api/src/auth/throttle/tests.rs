#![expect(clippy::unwrap_used, reason = "tests")]

use super::*;
use crate::db::{Db, Place};

struct Held(std::path::PathBuf, Db);

impl Held {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("onetrip-tries-{}", uuid::Uuid::new_v4()));
        let db = Db::open(&Place::Folder(path.clone())).unwrap();
        Self(path, db)
    }

    fn admit(&self, name: &'static str, now: &str) -> Option<i64> {
        let now = UtcStamp::parse(now).unwrap();
        self.1.write_blocking(move |conn| admit(conn, &[name.to_owned()], now)).unwrap()
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

#[test]
fn a_flood_of_names_does_not_free_the_one_that_is_guessed_at() {
    let held = Held::new();
    let at = "2026-10-12T08:00:00Z";
    for _ in 0..FREE {
        assert_eq!(held.admit("mirela", at), None);
    }
    let now = UtcStamp::parse(at).unwrap();
    let kept = held.1.write_blocking(move |conn| {
        for number in 0..3 * MOST_KEYS {
            assert_eq!(admit(conn, &[number.to_string()], now)?, None);
        }
        Ok(sign_in_try::table.count().get_result::<i64>(conn)?)
    });
    assert!(held.admit("mirela", at).is_some());
    assert!(kept.unwrap() <= MOST_KEYS + 1);
}

#[test]
fn the_sixth_try_in_a_row_waits() {
    let held = Held::new();
    for _ in 0..5 {
        assert_eq!(held.admit("mirela", "2026-10-12T08:00:00Z"), None);
    }
    assert_eq!(held.admit("mirela", "2026-10-12T08:00:00Z"), Some(1));
    assert_eq!(held.admit("tomas", "2026-10-12T08:00:00Z"), None);
    assert_eq!(held.admit("mirela", "2026-10-12T08:00:01Z"), None);
    assert_eq!(held.admit("mirela", "2026-10-12T08:00:01Z"), Some(2));
    // A clock that is set back does not lock anybody out.
    assert_eq!(held.admit("mirela", "2016-10-12T08:00:00Z"), None);
    held.1.write_blocking(|conn| forget(conn, &["mirela".to_owned()])).unwrap();
    assert_eq!(held.admit("mirela", "2026-10-12T08:00:01Z"), None);
}

#[test]
fn an_address_has_ten_tries_at_once_and_a_network_as_well() {
    let addresses = Addresses::default();
    let tried = |from: &str| addresses.admit(from.parse().unwrap());
    for one in ["203.0.113.9", "2001:db8:1:2::7"] {
        for _ in 0..10 {
            assert!(tried(one).is_ok());
        }
        let wait = tried(one).unwrap_err().retry_after_seconds.unwrap();
        assert!((1..=7).contains(&wait), "{wait}");
    }
    assert!(tried("2001:db8:1:2:ffff::1").is_err());
    assert!(tried("2001:db8:1:3::7").is_ok() && tried("203.0.113.10").is_ok());
    for _ in 0..100 {
        assert!(tried("127.0.0.1").is_ok());
    }
}
