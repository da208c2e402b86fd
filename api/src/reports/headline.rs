//! What a labor report comes to, in a few figures with a sentence each.

use analytics::labor::{ComebackCost, LaborLine, Ratio};
use chrono::{Days, NaiveDate};

use super::page::Choice;
use super::table::{percent, thousands};
use crate::domain::style::Style;

/// A figure with what it says.
pub struct Told {
    /// Names it in the page.
    pub key: &'static str,
    pub title: &'static str,
    pub figure: String,
    /// The jobs behind it.
    pub place: Option<String>,
    pub sentence: String,
}

/// Whose labor it is, and what of it may be shown.
pub struct Of<'a> {
    pub line: &'a LaborLine,
    pub cost: &'a ComebackCost,
    /// How amounts are written; absent where they are withheld or of several
    /// currencies.
    pub money: Option<&'a Style>,
    /// What an hour is sold for, where it is one shop.
    pub posted_minor: Option<i64>,
    /// The viewer's own line.
    pub own: bool,
}

/// The figures: efficiency, hours lost to comebacks, their cost, and the rate.
pub fn headline(of: &Of<'_>, jobs: impl Fn(&str) -> Option<String>) -> Vec<Told> {
    let mut told = vec![efficiency(of, &jobs), lost(of, &jobs)];
    if let Some(money) = of.money.filter(|_| !of.own) {
        told.extend(cost(of.cost, money));
        told.extend(rate(of, money, &jobs));
    }
    told
}

fn ratio(ratio: &Ratio) -> Option<String> {
    ratio.value.filter(|_| !ratio.too_few).map(percent)
}

fn efficiency(of: &Of<'_>, jobs: &impl Fn(&str) -> Option<String>) -> Told {
    let (with, without) = (&of.line.efficiency, &of.line.efficiency_without_comebacks);
    let sentence = match (ratio(with), ratio(without)) {
        (None, _) => format!(
            "{} with time on the clock in these days: a ratio of so few would say nothing.",
            jobs_of(with.count)
        ),
        (Some(_), Some(without)) => format!(
            "with comebacks, {without} without them: flat-rate hours over clock hours, sum over \
             sum, of {}.",
            jobs_of(with.count)
        ),
        (Some(_), None) => {
            format!("flat-rate hours over clock hours, sum over sum, of {}.", jobs_of(with.count))
        }
    };
    Told {
        key: "efficiency",
        title: "Efficiency",
        figure: ratio(with).unwrap_or_else(|| "too few".to_owned()),
        place: jobs(&with.jobs),
        sentence,
    }
}

fn counted(count: i64, one: &str, many: &str) -> String {
    format!("{} {}", thousands(&count.to_string()), if count == 1 { one } else { many })
}

fn jobs_of(count: i64) -> String {
    counted(count, "job", "jobs")
}

fn comebacks_of(count: i64) -> String {
    counted(count, "comeback", "comebacks")
}

fn hours(hours: f64) -> String {
    format!("{} h", thousands(&format!("{hours:.1}")))
}

fn lost(of: &Of<'_>, jobs: &impl Fn(&str) -> Option<String>) -> Told {
    let line = of.line;
    let share = (line.clock_hours > 0.0).then(|| line.comeback_hours / line.clock_hours);
    let share = share.map(|share| format!(" That is {} of all clock hours.", percent(share)));
    let comebacks = comebacks_of(line.comebacks);
    let whose = if of.own { ", whoever led the first job" } else { "" };
    Told {
        key: "lost",
        title: if of.own { "Your hours on comebacks" } else { "Hours lost to comebacks" },
        figure: hours(line.comeback_hours),
        place: (line.comebacks > 0).then(|| jobs(&line.comeback_jobs)).flatten(),
        sentence: format!(
            "on the clock for {comebacks}{whose}; no flat-rate hours are credited for them.{}",
            share.filter(|_| line.comebacks > 0).unwrap_or_default()
        ),
    }
}

fn cost(cost: &ComebackCost, money: &Style) -> Option<Told> {
    let total = cost.total_minor?;
    let plain = |minor: i64| money.amount(minor);
    let named = [
        ("labor", cost.labor_minor),
        ("parts", cost.parts_minor),
        ("sublet work", cost.sublet_minor),
        ("all else by the settings", cost.extra_minor),
    ];
    let parts: Vec<String> = named
        .into_iter()
        .filter_map(|(name, minor)| {
            Some(format!("{name} {}", plain(minor.filter(|minor| *minor != 0)?)))
        })
        .collect();
    let back = cost.paid_back_minor.filter(|minor| *minor != 0);
    let back = back.map(|minor| format!(", less {} that suppliers paid back", plain(minor)));
    let of_what = if parts.is_empty() { String::new() } else { format!(": {}", parts.join(", ")) };
    Some(Told {
        key: "cost",
        title: "What comebacks cost",
        figure: money.amount(total),
        place: None,
        sentence: format!(
            "for {} closed in these days{of_what}{}.",
            comebacks_of(cost.count),
            back.unwrap_or_default()
        ),
    })
}

fn rate(of: &Of<'_>, money: &Style, jobs: &impl Fn(&str) -> Option<String>) -> Option<Told> {
    let rate = &of.line.effective_labor_rate;
    let posted =
        of.posted_minor.map(|minor| format!("; the posted rate is {}", money.amount(minor)));
    Some(Told {
        key: "rate",
        title: "Effective labor rate",
        figure: money.amount(rate.value?.round() as i64),
        place: jobs(&rate.jobs),
        sentence: format!(
            "for each of {} billed hours{}.",
            thousands(&format!("{:.1}", of.line.billed_hours)),
            posted.unwrap_or_default()
        ),
    })
}

/// Spans of days up to the as-of, as links that keep all else that was asked;
/// `from` and `to` are what was asked for.
pub fn spans(
    address: &str,
    (from, to): (Option<NaiveDate>, Option<NaiveDate>),
    as_of: NaiveDate,
) -> Vec<Choice> {
    let (path, query) = address.split_once('?').unwrap_or((address, ""));
    let kept: Vec<&str> = query
        .split('&')
        .filter(|pair| {
            let name = pair.split('=').next().unwrap_or_default();
            !pair.is_empty() && !["from", "to", "week", "format", "table"].contains(&name)
        })
        .collect();
    let place = |first: Option<NaiveDate>| {
        let mut pairs: Vec<String> = kept.iter().map(|pair| (*pair).to_owned()).collect();
        pairs.extend(first.map(|day| format!("from={day}")));
        if pairs.is_empty() { path.to_owned() } else { format!("{path}?{}", pairs.join("&")) }
    };
    let ends = to.is_none_or(|to| to >= as_of);
    let of_weeks = [4_u64, 13, 26, 52].into_iter().filter_map(|weeks| {
        let first = as_of.checked_sub_days(Days::new(weeks * 7 - 1))?;
        Some(Choice {
            label: format!("{weeks} weeks"),
            place: place(Some(first)),
            here: ends && from == Some(first),
        })
    });
    let whole = Choice {
        label: "the whole record".to_owned(),
        place: place(None),
        here: ends && from.is_none(),
    };
    of_weeks.chain([whole]).collect()
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn a_span_keeps_what_else_was_asked() {
        let asked = "/shops/north/labor?by=week&from=2026-10-29&to=2026-11-25&";
        let seen = spans(asked, (Some(day("2026-10-30")), None), day("2026-11-26"));
        let first = seen.first().unwrap();
        assert_eq!(first.place, "/shops/north/labor?by=week&from=2026-10-30");
        assert!(first.here && !seen.last().unwrap().here);
        assert_eq!(seen.last().unwrap().place, "/shops/north/labor?by=week");
        let bare = spans("/group/labor?", (None, None), day("2026-11-26"));
        assert!(bare.last().unwrap().here && bare.last().unwrap().place == "/group/labor");
    }
}
