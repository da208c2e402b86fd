//! Least squares under order: the closest values that only rise, or only fall,
//! with a reading.
//!
//! Source: Barlow, Bartholomew, Bremner and Brunk (1972) Statistical Inference
//! under Order Restrictions (pool-adjacent-violators). Values at equal readings
//! are averaged first, so that one reading has one fitted value.

/// Which way the fitted values go as the reading rises.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    Increasing,
    Decreasing,
}

/// A value seen at a reading, this many times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    pub at: f64,
    pub value: f64,
    pub count: i64,
}

/// The fitted value at one reading, with all counts there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    pub at: f64,
    pub value: f64,
    pub count: i64,
}

/// Neighboring readings with one fitted value.
#[derive(Debug, Clone, Copy)]
struct Block {
    /// Sum of the values, each as often as it was seen.
    sum: f64,
    count: i64,
    readings: usize,
}

impl Block {
    fn mean(&self) -> f64 {
        self.sum / self.count as f64
    }
}

/// The fitted value of every distinct reading, by rising reading. Rows may
/// come in any order; counts below one are passed over; nothing makes an empty
/// fit.
///
/// `None` for a counted reading or value that is not finite, and where sums
/// pass what their numbers hold.
#[must_use]
pub fn fit(points: impl IntoIterator<Item = Point>, direction: Direction) -> Option<Vec<Level>> {
    let singles = singles(points)?;
    // A falling fit is a rising one of the values turned about.
    let sign = match direction {
        Direction::Increasing => 1.0,
        Direction::Decreasing => -1.0,
    };
    let mut blocks: Vec<Block> = Vec::new();
    for (_, single) in &singles {
        let mut block = Block { sum: sign * single.sum, ..*single };
        while let Some(before) = blocks.pop_if(|before| before.mean() >= block.mean()) {
            block.sum += before.sum;
            block.count = block.count.checked_add(before.count)?;
            block.readings += before.readings;
        }
        blocks.push(block);
    }
    let values =
        blocks.iter().flat_map(|block| std::iter::repeat_n(sign * block.mean(), block.readings));
    let levels: Vec<Level> = singles
        .iter()
        .zip(values)
        .map(|(&(at, single), value)| Level { at, value, count: single.count })
        .collect();
    levels.iter().all(|level| level.value.is_finite()).then_some(levels)
}

/// Every distinct reading with what was seen there, by rising reading.
fn singles(points: impl IntoIterator<Item = Point>) -> Option<Vec<(f64, Block)>> {
    let mut points: Vec<Point> = points
        .into_iter()
        .filter(|point| point.count > 0)
        // Makes one zero of the two.
        .map(|point| Point { at: point.at + 0.0, ..point })
        .collect();
    if points.iter().any(|point| !(point.at.is_finite() && point.value.is_finite())) {
        return None;
    }
    // By value too, so that the order of rows leaves no trace in the sums.
    points.sort_unstable_by(|a, b| {
        a.at.total_cmp(&b.at).then(a.value.total_cmp(&b.value)).then(a.count.cmp(&b.count))
    });
    points
        .chunk_by(|a, b| a.at == b.at)
        .map(|group| {
            let count = group.iter().try_fold(0_i64, |sum, point| sum.checked_add(point.count))?;
            let sum = group.iter().map(|point| point.value * point.count as f64).sum();
            Some((group.first()?.at, Block { sum, count, readings: 1 }))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fit_of(rows: &[(i32, i32, i64)], direction: Direction) -> Vec<Level> {
        let point =
            |&(at, value, count): &_| Point { at: f64::from(at), value: f64::from(value), count };
        fit(rows.iter().map(point), direction).unwrap()
    }

    #[test]
    fn nothing_and_not_a_number() {
        assert_eq!(fit([], Direction::Increasing), Some(Vec::new()));
        let of = |at, value, count| fit([Point { at, value, count }], Direction::Increasing);
        assert_eq!(of(f64::NAN, 1.0, 1), None);
        assert_eq!(of(1.0, f64::INFINITY, 1), None);
        assert_eq!(of(1.0, f64::MAX, 2), None);
        assert_eq!(of(f64::NAN, 1.0, 0), Some(Vec::new()));
    }

    fn rows() -> impl Strategy<Value = Vec<(i32, i32, i64)>> {
        proptest::collection::vec((-9_i32..10, -20_i32..20, 0_i64..4), 0..40)
    }

    proptest! {
        /// The fit is max over starts of min over ends of the plain averages
        /// (the max-min formula of the same book, computed the long way).
        #[test]
        fn it_is_the_max_min_of_averages(rows in rows()) {
            let levels = fit_of(&rows, Direction::Increasing);
            let average = |low: f64, high: f64| {
                let inside = rows.iter().filter(|row| (low..=high).contains(&f64::from(row.0)));
                let (sum, n) = inside.fold((0, 0), |(s, n), &(_, value, count)| {
                    (s + i64::from(value) * count, n + count)
                });
                sum as f64 / n as f64
            };
            for level in &levels {
                let starts = levels.iter().filter(|other| other.at <= level.at);
                let best = starts.map(|start| {
                    let ends = levels.iter().filter(|other| other.at >= level.at);
                    ends.map(|end| average(start.at, end.at)).fold(f64::INFINITY, f64::min)
                });
                let expected = best.fold(f64::NEG_INFINITY, f64::max);
                prop_assert!((level.value - expected).abs() < 1e-9);
            }
        }

        /// The fit goes one way, keeps the sum, mirrors with the direction,
        /// stays as it is when fitted again, and the order of rows is nothing.
        #[test]
        fn it_is_ordered_and_keeps_the_sum(rows in rows()) {
            let levels = fit_of(&rows, Direction::Increasing);
            prop_assert!(levels.is_sorted_by(|a, b| a.at < b.at && a.value <= b.value));
            let fitted: f64 = levels.iter().map(|level| level.value * level.count as f64).sum();
            let seen: i64 = rows.iter().map(|row| i64::from(row.1) * row.2).sum();
            prop_assert!((fitted - seen as f64).abs() < 1e-9);
            let back: Vec<_> = rows.iter().rev().copied().collect();
            prop_assert_eq!(&levels, &fit_of(&back, Direction::Increasing));
            let mirrored: Vec<_> = rows.iter().map(|&(at, v, n)| (-at, v, n)).collect();
            let mirrored = fit_of(&mirrored, Direction::Decreasing);
            prop_assert_eq!(levels.len(), mirrored.len());
            for (level, mirror) in levels.iter().zip(mirrored.iter().rev()) {
                prop_assert_eq!((level.at, level.count), (-mirror.at, mirror.count));
                prop_assert!((level.value - mirror.value).abs() < 1e-12);
            }
            let again = levels.iter().map(|l| Point { at: l.at, value: l.value, count: l.count });
            for (a, b) in fit(again, Direction::Increasing).unwrap().iter().zip(&levels) {
                prop_assert!((a.value - b.value).abs() < 1e-12);
            }
        }
    }
}
