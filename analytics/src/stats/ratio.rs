//! A ratio of sums with its linearized standard error: Davison & Hinkley,
//! Bootstrap Methods and their Application (1997), sections 2.7.2 and 3.2;
//! Cochran, Sampling Techniques (1977), chapter 6.

use std::ops::AddAssign;

/// Sums over cases of a numerator x and a denominator u. Integers, so that
/// sums of parts equal the sum of the whole digit for digit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RatioSums {
    pub cases: i64,
    pub numerator: i64,
    pub denominator: i64,
    pub numerator_squared: i128,
    pub denominator_squared: i128,
    pub product: i128,
}

impl RatioSums {
    /// One case.
    #[must_use]
    pub fn of(numerator: i64, denominator: i64) -> Self {
        let (x, u) = (i128::from(numerator), i128::from(denominator));
        Self {
            cases: 1,
            numerator,
            denominator,
            numerator_squared: x * x,
            denominator_squared: u * u,
            product: x * u,
        }
    }

    /// Numerator over denominator, in their units; absent where the
    /// denominator is zero.
    #[must_use]
    pub fn ratio(&self) -> Option<f64> {
        (self.denominator != 0).then(|| self.numerator as f64 / self.denominator as f64)
    }

    /// Standard error of the ratio by linearization, divisor n - 1. Absent
    /// below two cases, for a zero denominator, or where the squares pass what
    /// 128 bits hold.
    #[must_use]
    pub fn standard_error(&self) -> Option<f64> {
        if self.cases < 2 || self.denominator == 0 {
            return None;
        }
        let n = self.cases as f64;
        let u = self.denominator as f64;
        Some(self.squared_residuals()?.sqrt() / u.abs() * (n / (n - 1.0)).sqrt())
    }

    /// Sum of (x - r u)^2, taken over the common denominator U^2 in whole
    /// numbers: in floating point nearly all digits would cancel.
    fn squared_residuals(&self) -> Option<f64> {
        let x = i128::from(self.numerator);
        let u = i128::from(self.denominator);
        let own = u.checked_mul(u)?.checked_mul(self.numerator_squared)?;
        let cross = x.checked_mul(u)?.checked_mul(2)?.checked_mul(self.product)?;
        let other = x.checked_mul(x)?.checked_mul(self.denominator_squared)?;
        let sum = own.checked_sub(cross)?.checked_add(other)?;
        Some(sum as f64 / (u as f64 * u as f64))
    }
}

impl AddAssign for RatioSums {
    fn add_assign(&mut self, other: Self) {
        self.cases += other.cases;
        self.numerator += other.numerator;
        self.denominator += other.denominator;
        self.numerator_squared += other.numerator_squared;
        self.denominator_squared += other.denominator_squared;
        self.product += other.product;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sums(cases: &[(i64, i64)]) -> RatioSums {
        let mut total = RatioSums::default();
        for &(x, u) in cases {
            total += RatioSums::of(x, u);
        }
        total
    }

    #[test]
    fn a_zero_denominator_has_no_ratio() {
        assert_eq!(sums(&[(5, 0), (7, 0)]).ratio(), None);
        assert_eq!(sums(&[(5, 0), (7, 0)]).standard_error(), None);
        assert_eq!(sums(&[(5, 2)]).standard_error(), None);
    }

    #[test]
    fn equal_ratios_have_no_error() {
        assert_eq!(sums(&[(2, 1), (4, 2), (200, 100)]).standard_error(), Some(0.0));
    }

    proptest! {
        #[test]
        fn parts_add_to_the_whole(
            cases in proptest::collection::vec((0_i64..100_000, 0_i64..100_000), 0..40),
            cut in 0_usize..40,
        ) {
            let cut = cut.min(cases.len());
            let mut added = sums(&cases[cut..]);
            added += sums(&cases[..cut]);
            prop_assert_eq!(added, sums(&cases));
        }
    }
}
