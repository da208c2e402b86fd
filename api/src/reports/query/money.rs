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
