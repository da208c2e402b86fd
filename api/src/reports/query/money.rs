//! The two ledgers of an advice in a sentence.

use analytics::reuse::{Advice, DecidedBy, Ledger};

use crate::domain::money::Currency;

/// Which choice costs less on average, by both ledgers: they may differ. `None`
/// where cleaning cannot cure, or the costs are not known.
pub(super) fn money_text(advice: &Advice, money: &Currency) -> Option<String> {
    let (together, shop) = (advice.together?, advice.shop?);
    if advice.decided_by.contains(&DecidedBy::NotCurable) {
        return None;
    }
    Some(format!(
        "Counting customer and shop together, {}. Counting only what the shop pays for comebacks, \
         {}.",
        cheaper(&together, money),
        cheaper(&shop, money)
    ))
}

/// The cheaper choice, and both amounts, its own first.
fn cheaper(ledger: &Ledger, money: &Currency) -> String {
    let shown = |minor: f64| money.format_amount(minor.round() as i64);
    let (clean, replace) = (shown(ledger.clean_minor), shown(ledger.replace_minor));
    let code = money.code();
    if clean == replace {
        format!("both cost the same on average ({clean} {code})")
    } else if ledger.clean_minor < ledger.replace_minor {
        format!("cleaning costs less on average ({clean} against {replace} {code})")
    } else {
        format!("replacing costs less on average ({replace} against {clean} {code})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ledger(clean_minor: f64, replace_minor: f64) -> Ledger {
        Ledger {
            clean_minor,
            replace_minor,
            probability_replace_cheaper: 0.5,
            loss_if_clean_minor: 0.0,
            loss_if_replace_minor: 0.0,
        }
    }

    #[test]
    fn the_cheaper_amount_stands_first() {
        let money = Currency::parse("USD").unwrap_or_else(Currency::none);
        for (clean, replace, said) in [
            (12_411.4, 15_181.9, "cleaning costs less on average (124.11 against 151.82 USD)"),
            (4_911.4, 681.9, "replacing costs less on average (6.82 against 49.11 USD)"),
            (500.2, 499.9, "both cost the same on average (5.00 USD)"),
        ] {
            assert_eq!(cheaper(&ledger(clean, replace), &money), said);
        }
    }
}
