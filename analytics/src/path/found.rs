//! Which check found a job's cause.

use crate::words::Finding;

/// The abnormal checks of one job, seen in the order in which they stand on it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Abnormal {
    /// The last of those in a measured order.
    measured: Option<u32>,
    at_close: AtClose,
}

/// Those typed in together at close: which came last is not known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
enum AtClose {
    #[default]
    None,
    One(u32),
    Several,
}

impl Abnormal {
    /// Takes the job's next check.
    pub fn see(&mut self, check: u32, finding: Option<Finding>, measured: bool) {
        if finding != Some(Finding::Abnormal) {
            return;
        }
        if measured {
            self.measured = Some(check);
            return;
        }
        self.at_close = match self.at_close {
            AtClose::None => AtClose::One(check),
            // The same check at another position.
            AtClose::One(one) if one == check => AtClose::One(one),
            AtClose::One(_) | AtClose::Several => AtClose::Several,
        };
    }

    /// The check that found the cause: the last abnormal one in the measured
    /// order; where none in it was abnormal, the only one typed in at close that
    /// was. `None` where no recorded check found it, or which one is not known.
    pub fn finder(&self) -> Option<u32> {
        self.measured.or(match self.at_close {
            AtClose::One(check) => Some(check),
            AtClose::None | AtClose::Several => None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check, abnormal, measured.
    fn finder(checks: &[(u32, bool, bool)]) -> Option<u32> {
        let mut abnormal = Abnormal::default();
        for &(check, showing, measured) in checks {
            let finding = if showing { Finding::Abnormal } else { Finding::Normal };
            abnormal.see(check, Some(finding), measured);
        }
        abnormal.finder()
    }

    #[test]
    fn the_last_abnormal_check_of_an_order_found_it() {
        assert_eq!(finder(&[(1, true, true), (2, true, true), (3, false, true)]), Some(2));
        assert_eq!(finder(&[(1, false, true)]), None);
        assert_eq!(finder(&[]), None);
    }

    #[test]
    fn without_an_order_only_a_single_abnormal_check_found_it() {
        assert_eq!(finder(&[(1, false, false), (2, true, false)]), Some(2));
        assert_eq!(finder(&[(2, true, false), (2, true, false)]), Some(2));
        assert_eq!(finder(&[(1, true, false), (2, true, false)]), None);
        assert_eq!(finder(&[(1, true, false), (2, true, false), (1, true, false)]), None);
    }

    #[test]
    fn an_order_stands_over_what_was_typed_in_beside_it() {
        assert_eq!(finder(&[(1, true, true), (2, true, false)]), Some(1));
        assert_eq!(finder(&[(1, false, true), (2, true, false)]), Some(2));
    }

    #[test]
    fn only_abnormal_counts() {
        let mut abnormal = Abnormal::default();
        for finding in [None, Some(Finding::Inconclusive), Some(Finding::NotDone)] {
            abnormal.see(1, finding, true);
        }
        assert_eq!(abnormal.finder(), None);
    }
}
