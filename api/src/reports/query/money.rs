//! The two ledgers of an advice in a sentence.

use analytics::reuse::{Advice, DecidedBy, Ledger};

use crate::domain::style::Style;

/// Which choice costs less on average, by both ledgers: they may differ. `None`
/// where cleaning cannot cure, or the costs are not known.
pub(super) fn money_text(advice: &Advice, style: &Style) -> Option<String> {
    let (together, shop) = (advice.together?, advice.shop?);
    if advice.decided_by.contains(&DecidedBy::NotCurable) {
        return None;
    }
    Some(format!(
        "Counting customer and shop together, {}. Counting only what the shop pays for comebacks, \
         {}.",
        cheaper(&together, style),
        cheaper(&shop, style)
    ))
}

/// The cheaper choice, and both amounts, its own first.
fn cheaper(ledger: &Ledger, style: &Style) -> String {
    let [clean, replace] =
        [ledger.clean_minor, ledger.replace_minor].map(|minor| minor.round() as i64);
    // The currency's name stands once, behind both.
    let against = |less: i64, more: i64| {
        format!("{} against {}", style.bare_amount(less), style.amount(more))
    };
    if clean == replace {
        format!("both cost the same on average ({})", style.amount(clean))
    } else if ledger.clean_minor < ledger.replace_minor {
        format!("cleaning costs less on average ({})", against(clean, replace))
    } else {
        format!("replacing costs less on average ({})", against(replace, clean))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::money::Currency;
    use crate::domain::style::DateStyle;

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
        let dollars = Style { dates: DateStyle::Us, ..style("USD") };
        for (clean, replace, said) in [
            (12_411.4, 15_181.9, "cleaning costs less on average ($124.11 against $151.82)"),
            (4_911.4, 681.9, "replacing costs less on average ($6.82 against $49.11)"),
            (500.2, 499.9, "both cost the same on average ($5.00)"),
        ] {
            assert_eq!(cheaper(&ledger(clean, replace), &dollars), said);
        }
        assert_eq!(
            cheaper(&ledger(12_411.4, 15_181.9), &style("EUR")),
            "cleaning costs less on average (124.11 against 151.82 EUR)"
        );
    }

    fn style(code: &str) -> Style {
        Style { money: Currency::parse(code).unwrap_or_else(Currency::none), ..Style::plain() }
    }
}
