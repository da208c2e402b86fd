//! Splitting a whole into whole parts.

/// Splits `total` by weights, largest remainder first, so that the parts add
/// up to the total digit for digit. Equal parts where all weights are zero;
/// negative weights count as none. No parts without weights.
pub(crate) fn split(total: i64, weights: &[i64]) -> Vec<i64> {
    match weights {
        [] => Vec::new(),
        [_] => vec![total],
        // Nearly all jobs have one or two who worked on them.
        [first, second] => split_in_two(total, (*first, *second))
            .map_or_else(|| split_in_many(total, weights), |(first, second)| vec![first, second]),
        _ => split_in_many(total, weights),
    }
}

/// `None` where the numbers are too large for it.
fn split_in_two(total: i64, (first, second): (i64, i64)) -> Option<(i64, i64)> {
    let (first, second) = match (first.max(0), second.max(0)) {
        (0, 0) => (1, 1),
        weights => weights,
    };
    let sum = first.checked_add(second)?;
    let product = total.checked_mul(first)?;
    let (own, rest) = (product.div_euclid(sum), product.rem_euclid(sum));
    // What is left over goes to the larger remainder, the first of equals; the
    // two remainders are zero or add up to the sum.
    let own = if rest > 0 && rest >= sum - rest { own + 1 } else { own };
    Some((own, total.checked_sub(own)?))
}

fn split_in_many(total: i64, weights: &[i64]) -> Vec<i64> {
    let sum: i128 = weights.iter().map(|&weight| i128::from(weight.max(0))).sum();
    let (weights, sum): (Vec<i128>, i128) = if sum == 0 {
        (vec![1; weights.len()], weights.len() as i128)
    } else {
        (weights.iter().map(|&weight| i128::from(weight.max(0))).collect(), sum)
    };
    if sum == 0 {
        return Vec::new();
    }
    let total = i128::from(total);
    let mut parts: Vec<i128> =
        weights.iter().map(|weight| (total * weight).div_euclid(sum)).collect();
    let missing = total - parts.iter().sum::<i128>();
    let mut order: Vec<usize> = (0..parts.len()).collect();
    // The earlier of equals, so that the same job always splits the same way.
    order.sort_by_key(|&at| {
        std::cmp::Reverse(weights.get(at).map(|weight| (total * weight).rem_euclid(sum)))
    });
    for at in order.into_iter().take(usize::try_from(missing).unwrap_or(0)) {
        if let Some(part) = parts.get_mut(at) {
            *part += 1;
        }
    }
    parts.into_iter().map(|part| i64::try_from(part).unwrap_or(0)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_larger_remainder_gets_the_last_one() {
        // Hamilton's method by hand: 10 by 1:1:1 is 3.33 each; by 6:3:1 of 7
        // it is 4.2, 2.1, 0.7.
        assert_eq!(split(10, &[1, 1, 1]), [4, 3, 3]);
        assert_eq!(split(7, &[6, 3, 1]), [4, 2, 1]);
        assert_eq!(split(5, &[0, 0]), [3, 2]);
        assert_eq!(split(5, &[]), [] as [i64; 0]);
    }

    proptest! {
        #[test]
        fn two_parts_are_split_as_many_are(
            total in -1_000_i64..1_000_000, first in -5_i64..500, second in -5_i64..500,
        ) {
            prop_assert_eq!(split(total, &[first, second]), split_in_many(total, &[first, second]));
            prop_assert_eq!(split(total, &[first]), split_in_many(total, &[first]));
        }

        #[test]
        fn parts_add_to_the_whole_and_stay_near_their_share(
            total in 0_i64..1_000_000, weights in proptest::collection::vec(0_i64..10_000, 1..8),
        ) {
            let parts = split(total, &weights);
            prop_assert_eq!(parts.iter().sum::<i64>(), total);
            let sum: i64 = weights.iter().sum();
            for (part, weight) in parts.iter().zip(&weights).filter(|_| sum > 0) {
                let share = total as f64 * *weight as f64 / sum as f64;
                prop_assert!((*part as f64 - share).abs() < 1.0 + 1e-6);
            }
        }
    }
}
