//! What is charged against what was agreed to. Pure: lines in, sums out.

use analytics::words::Payer;
use serde::Serialize;

/// A line that is charged, in minor units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Charge {
    /// An operation's labor, or sublet work: who pays may be somebody else.
    Work { minor: i64, payer: Option<Payer> },
    /// A part at the price of one.
    Part { unit_minor: i64, quantity_hundredths: i64 },
}

/// An order's charges to the customer, in minor units of the shop's currency;
/// all are null for who may not see prices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Charges {
    /// The latest amount agreed to.
    pub authorized_minor: Option<i64>,
    pub charged_minor: Option<i64>,
    /// By how much the charges exceed what was agreed to; 0 where they do not,
    /// or where no amount was.
    pub over_minor: Option<i64>,
}

impl Charges {
    /// As who may not see prices sees it.
    #[must_use]
    pub const fn without_prices(self) -> Self {
        Self { authorized_minor: None, charged_minor: None, over_minor: None }
    }
}

/// Price times quantity, half a minor unit up.
fn extended(unit_minor: i64, quantity_hundredths: i64) -> i64 {
    let product = i128::from(unit_minor) * i128::from(quantity_hundredths);
    i64::try_from((product + 50).div_euclid(100)).unwrap_or(i64::MAX)
}

/// The sums. What somebody else than the customer pays is not charged to the
/// customer; a line without a payer is.
#[must_use]
pub fn sum(authorized_minor: Option<i64>, lines: impl IntoIterator<Item = Charge>) -> Charges {
    let charged = lines
        .into_iter()
        .map(|line| match line {
            Charge::Work { minor, payer: None | Some(Payer::Customer) } => minor,
            Charge::Work { .. } => 0,
            Charge::Part { unit_minor, quantity_hundredths } => {
                extended(unit_minor, quantity_hundredths)
            }
        })
        .fold(0, i64::saturating_add);
    let over = authorized_minor.map_or(0, |agreed| charged.saturating_sub(agreed).max(0));
    Charges { authorized_minor, charged_minor: Some(charged), over_minor: Some(over) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::money::{MOST_MINOR, line_fits};
    use proptest::prelude::*;

    #[test]
    fn only_what_the_customer_pays_is_charged() {
        let lines = [
            Charge::Work { minor: 16_800, payer: None },
            Charge::Work { minor: 5_000, payer: Some(Payer::Customer) },
            Charge::Work { minor: 90_000, payer: Some(Payer::OwnGuarantee) },
            Charge::Part { unit_minor: 6_900, quantity_hundredths: 200 },
        ];
        let told = sum(Some(23_600), lines);
        assert_eq!(told.charged_minor, Some(35_600));
        assert_eq!(told.over_minor, Some(12_000));
        assert_eq!(sum(Some(35_600), lines).over_minor, Some(0));
        assert_eq!(sum(None, lines).over_minor, Some(0));
        let unseen = told.without_prices();
        assert_eq!((unseen.authorized_minor, unseen.charged_minor), (None, None));
        assert_eq!(unseen.over_minor, None);
    }

    #[test]
    fn half_a_minor_unit_goes_up_on_each_line() {
        // 4.5 liters at 3.33: 14.985.
        let oil = Charge::Part { unit_minor: 333, quantity_hundredths: 450 };
        assert_eq!(sum(None, [oil]).charged_minor, Some(1_499));
        assert_eq!(sum(None, [oil, oil]).charged_minor, Some(2_998));
        let third = Charge::Part { unit_minor: 100, quantity_hundredths: 33 };
        assert_eq!(sum(None, [third]).charged_minor, Some(33));
    }

    proptest! {
        // As much as the record takes, line by line: to the minor unit.
        #[test]
        fn sums_are_exact(lines in prop::collection::vec((0..=MOST_MINOR, 1_i64..=100_000_000), 0..40), agreed in 0..=MOST_MINOR) {
            let (mut charges, mut exact) = (Vec::new(), 0_i128);
            for (minor, quantity) in lines {
                if line_fits(minor, quantity) {
                    charges.push(Charge::Part { unit_minor: minor, quantity_hundredths: quantity });
                    exact += (i128::from(minor) * i128::from(quantity) + 50) / 100;
                }
                charges.push(Charge::Work { minor, payer: None });
                exact += i128::from(minor);
            }
            let told = sum(Some(agreed), charges);
            prop_assert_eq!(told.charged_minor.map(i128::from), Some(exact));
            prop_assert_eq!(told.over_minor.map(i128::from), Some((exact - i128::from(agreed)).max(0)));
        }
    }

    #[test]
    fn sums_stay_within_the_numbers() {
        let most = Charge::Part { unit_minor: MOST_MINOR, quantity_hundredths: 100_000_000 };
        assert_eq!(sum(Some(0), [most; 20]).charged_minor, Some(i64::MAX));
    }
}
