//! Shares as people write them.

use super::decimal::rounded;

/// A share between 0 and 1 in percent, to about two figures: `24%`, `4.2%`.
#[must_use]
pub fn percent(share: f64) -> String {
    format!("{}%", points(share))
}

/// The bounds of an interval in percent: `13-39%`.
#[must_use]
pub fn percents(low: f64, high: f64) -> String {
    format!("{}-{}%", points(low), points(high))
}

/// The number before the sign.
#[must_use]
pub fn points(share: f64) -> String {
    let percent = share * 100.0;
    // From 9.95 on one decimal would read 10.0, wider than it is sure.
    if percent == 0.0 || percent.abs() >= 9.95 { rounded(percent, 0) } else { rounded(percent, 1) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sign_stands_at_its_number() {
        for (share, shown) in
            [(0.2437, "24%"), (0.042, "4.2%"), (0.0, "0%"), (-0.0001, "0.0%"), (1.0, "100%")]
        {
            assert_eq!(percent(share), shown);
        }
        assert_eq!(percents(0.016, 0.102), "1.6-10%");
        assert_eq!(percents(-0.05, 0.02), "-5.0-2.0%");
    }
}
