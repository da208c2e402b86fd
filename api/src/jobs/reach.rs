//! Whether a job's work may still be written, and as what.

use crate::domain::refusal::Refusal;

/// How far a write reaches back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// Work under way.
    Open,
    /// The job has ended; the vehicle is still here.
    Finished,
    /// The vehicle has left.
    HandedOver,
}

impl Reach {
    /// Whether the write changes what had ended: it is marked.
    #[must_use]
    pub const fn is_correction(self) -> bool {
        !matches!(self, Self::Open)
    }
}

/// Decides from the order's status, whether the job has ended, and whether the
/// writer may correct what has ended.
///
/// # Errors
/// A conflict that says who can.
pub fn reach(order_status: &str, finished: bool, corrects: bool) -> Result<Reach, Refusal> {
    let refuse = |why: &str| Err(Refusal::Conflict(why.to_owned()));
    match (order_status, finished) {
        ("open", false) => Ok(Reach::Open),
        ("open", true) if corrects => Ok(Reach::Finished),
        ("open", true) => refuse(
            "the job is finished: reopen it to go on working, or ask the service manager to \
             correct it",
        ),
        ("closed", _) if corrects => Ok(Reach::HandedOver),
        ("closed", _) => refuse(
            "the vehicle was handed over: only the service manager can correct this order; for \
             new work open a new one",
        ),
        _ => refuse("the order is void: nothing on it can be changed"),
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn work_under_way_is_no_correction() {
        for corrects in [false, true] {
            let open = reach("open", false, corrects).unwrap();
            assert_eq!(open, Reach::Open);
            assert!(!open.is_correction());
        }
    }

    #[test]
    fn only_who_corrects_reaches_what_has_ended() {
        assert_eq!(reach("open", true, true).unwrap(), Reach::Finished);
        assert_eq!(reach("closed", true, true).unwrap(), Reach::HandedOver);
        for status in ["open", "closed"] {
            let Refusal::Conflict(why) = reach(status, true, false).unwrap_err() else {
                panic!("no conflict");
            };
            assert!(why.contains("service manager"), "{why}");
        }
    }

    #[test]
    fn nobody_writes_to_a_void_order() {
        for finished in [false, true] {
            assert!(reach("void", finished, true).is_err());
        }
    }
}
