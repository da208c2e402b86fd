//! Jobs by closing day as running sums: what was closed between two days, and
//! what of it came back, costs two searches however many jobs there are.

use crate::follow::Cases;

/// Jobs in the order of closing, with those that came back inside the window.
#[derive(Debug, Clone, Default)]
pub(super) struct Running {
    days: Vec<i32>,
    /// Returns among the jobs up to each place.
    returned: Vec<i64>,
}

impl Running {
    /// From closing days in ascending order, each with whether the job came
    /// back inside the window.
    pub fn of(jobs: impl Iterator<Item = (i32, bool)>) -> Self {
        let mut running = Self::default();
        let mut sum = 0;
        for (day, back) in jobs {
            sum += i64::from(back);
            running.days.push(day);
            running.returned.push(sum);
        }
        running
    }

    /// The first closing day; `None` without jobs.
    pub fn first_day(&self) -> Option<i32> {
        self.days.first().copied()
    }

    /// The last closing day; `None` without jobs.
    pub fn last_day(&self) -> Option<i32> {
        self.days.last().copied()
    }

    /// The jobs closed between two days, both included.
    pub fn between(&self, first: i32, last: i32) -> Cases {
        let before = self.days.partition_point(|day| *day < first);
        let end = self.days.partition_point(|day| *day <= last).max(before);
        let returned = |place: usize| {
            place.checked_sub(1).and_then(|at| self.returned.get(at)).copied().unwrap_or(0)
        };
        Cases { cases: (end - before) as i64, returns: returned(end) - returned(before) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// The sums are those of counting every job, and of two stretches
        /// that meet.
        #[test]
        fn stretches_are_counted(
            mut jobs in proptest::collection::vec((0_i32..60, proptest::bool::ANY), 0..80),
            first in -5_i32..65, length in -3_i32..40, cut in -5_i32..65,
        ) {
            jobs.sort_unstable();
            let running = Running::of(jobs.iter().copied());
            let last = first + length;
            let inside = || jobs.iter().filter(|(day, _)| (first..=last).contains(day));
            let sums = running.between(first, last);
            proptest::prop_assert_eq!(sums.cases, inside().count() as i64);
            proptest::prop_assert_eq!(sums.returns, inside().filter(|(_, back)| *back).count() as i64);
            let cut = cut.clamp(first, last.max(first));
            let (early, late) = (running.between(first, cut), running.between(cut + 1, last));
            if first <= last {
                proptest::prop_assert_eq!(sums.cases, early.cases + late.cases);
                proptest::prop_assert_eq!(sums.returns, early.returns + late.returns);
            }
        }
    }
}
