//! Intervals for one proportion, `x` of `n`.
//!
//! Sources: Wilson (1927) JASA 22:209-212; Clopper and Pearson (1934)
//! Biometrika 26:404-413; Brown, Cai and DasGupta (2001) Statistical Science
//! 16:101-133 (Jeffreys with end corrections, Agresti-Coull).
//!
//! Every function takes counts with `0 <= x <= n`, `n > 0` and a level
//! strictly between 0 and 1, gives (low, high) inside 0 to 1, and `None`
//! outside those bounds.

use statrs::function::beta::checked_beta_reg;

use super::{normal_quantile, rising_root};

type Bounds = Option<(f64, f64)>;

/// The counts as numbers, where they make a proportion.
fn counts(x: i64, n: i64) -> Option<(f64, f64)> {
    // Past 2^53 a count has no exact place among the numbers.
    (n > 0 && (0..=n).contains(&x) && n <= 1 << 53).then_some((x as f64, n as f64))
}

/// Wilson's score interval. The ends are exact at `x = 0` and `x = n`.
#[must_use]
pub fn wilson(x: i64, n: i64, level: f64) -> Bounds {
    let (successes, trials) = counts(x, n)?;
    let z = normal_quantile(level)?;
    let p = successes / trials;
    let weight = z * z / trials;
    let middle = (p + weight / 2.0) / (1.0 + weight);
    let half = z * (p * (1.0 - p) / trials + weight / (4.0 * trials)).sqrt() / (1.0 + weight);
    let low = if x == 0 { 0.0 } else { (middle - half).max(0.0) };
    let high = if x == n { 1.0 } else { (middle + half).min(1.0) };
    Some((low, high))
}

/// The `p` quantile of a Beta distribution with positive shapes.
fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    rising_root(0.0, 1.0, p, |x| checked_beta_reg(a, b, x).unwrap_or(f64::NAN))
}

/// The exact interval of Clopper and Pearson.
#[must_use]
pub fn clopper_pearson(x: i64, n: i64, level: f64) -> Bounds {
    let (successes, trials) = counts(x, n)?;
    normal_quantile(level)?;
    let tail = (1.0 - level) / 2.0;
    let low = if x == 0 { 0.0 } else { beta_quantile(successes, trials - successes + 1.0, tail) };
    let high =
        if x == n { 1.0 } else { beta_quantile(successes + 1.0, trials - successes, 1.0 - tail) };
    Some((low, high))
}

/// The equal-tail interval of the Beta posterior with Jeffreys' prior.
#[must_use]
pub fn jeffreys(x: i64, n: i64, level: f64) -> Bounds {
    let (successes, trials) = counts(x, n)?;
    normal_quantile(level)?;
    let tail = (1.0 - level) / 2.0;
    let (a, b) = (successes + 0.5, trials - successes + 0.5);
    Some((beta_quantile(a, b, tail), beta_quantile(a, b, 1.0 - tail)))
}

/// Jeffreys' interval with the end corrections of Brown, Cai and DasGupta:
/// it reaches 0 where nothing was seen and 1 where all was.
#[must_use]
pub fn jeffreys_corrected(x: i64, n: i64, level: f64) -> Bounds {
    let (low, high) = jeffreys(x, n, level)?;
    Some((if x == 0 { 0.0 } else { low }, if x == n { 1.0 } else { high }))
}

/// The interval of Agresti and Coull.
#[must_use]
pub fn agresti_coull(x: i64, n: i64, level: f64) -> Bounds {
    let (successes, trials) = counts(x, n)?;
    let z = normal_quantile(level)?;
    let trials = trials + z * z;
    let p = (successes + z * z / 2.0) / trials;
    let half = z * (p * (1.0 - p) / trials).sqrt();
    Some(((p - half).max(0.0), (p + half).min(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_interval_without_a_proportion() {
        for (x, n, level) in [(0, 0, 0.95), (-1, 4, 0.95), (5, 4, 0.95), (1, 4, 1.0), (1, 4, 0.0)] {
            assert_eq!(wilson(x, n, level), None);
            assert_eq!(clopper_pearson(x, n, level), None);
            assert_eq!(jeffreys(x, n, level), None);
            assert_eq!(agresti_coull(x, n, level), None);
        }
        assert_eq!(wilson(1, 4, f64::NAN), None);
    }

    proptest::proptest! {
        /// Every method holds the observed share and mirrors with the
        /// complement (an identity of each definition).
        #[test]
        fn intervals_hold_the_share_and_mirror(n in 1_i64..400, part in 0.0_f64..=1.0) {
            let x = (part * n as f64).floor() as i64;
            let share = x as f64 / n as f64;
            for method in [wilson, clopper_pearson, jeffreys_corrected, agresti_coull] {
                let (low, high) = method(x, n, 0.95).unwrap();
                proptest::prop_assert!(0.0 <= low && low <= share + 1e-12);
                proptest::prop_assert!(share - 1e-12 <= high && high <= 1.0);
                let (mirror_low, mirror_high) = method(n - x, n, 0.95).unwrap();
                proptest::prop_assert!((low - (1.0 - mirror_high)).abs() < 1e-9);
                proptest::prop_assert!((high - (1.0 - mirror_low)).abs() < 1e-9);
            }
        }
    }
}
