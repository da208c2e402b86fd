//! The pictures of a report, by the table whose numbers they show. They are made
//! from the report's struct and nothing else, so that a page, a file and the
//! table beneath can never differ.

mod bench;
mod checks;
mod comebacks;
mod compare;
mod effect;
mod labor;
mod pattern;
mod repeats;
pub(super) mod reuse;
mod tree;
mod weekly;

use analytics::figure::{Interval, Share};

use super::page_table::Standing;
use super::query::Report;
use super::table::{Cell, percent, thousands};
use crate::chart::{Picture, RowDot, Shape, Tone};

/// Lines of a picture; the table has them all.
const MOST_LINES: usize = 14;
/// Jobs or vehicles that must still be followed for a curve to go on.
const FOLLOWED: i64 = 10;

/// What stands over a table, as figures of a page.
#[must_use]
pub fn of(report: &Report, table: &str, standing: &Standing<'_>) -> Option<String> {
    let pictures: Vec<Picture> = match (report, table) {
        (Report::Paths(report), "tree") => return tree::html(report, standing),
        (Report::Checks(report), "orders") => {
            checks::orders(report, standing).into_iter().collect()
        }
        (Report::Checks(report), "checks") => {
            checks::checks(report, standing).into_iter().collect()
        }
        (Report::Reuse(report), "choices") => reuse::parts(report).into_iter().collect(),
        (Report::Weekly(review), "chart") => weekly::chart(review, standing).into_iter().collect(),
        (Report::Weekly(review), "arrivals") => {
            weekly::arrivals(review, standing).into_iter().collect()
        }
        (Report::Weekly(review), "movers") => {
            weekly::movers(review, standing).into_iter().collect()
        }
        (Report::Comebacks(report), "comebacks") => {
            comebacks::groups(report, standing).into_iter().collect()
        }
        (Report::Comebacks(report), "curve") => comebacks::curve(report).into_iter().collect(),
        (Report::Comebacks(report), "reasons") => {
            comebacks::reasons(report, standing).into_iter().collect()
        }
        (Report::Compare(report), "compare") => {
            compare::funnel(report, standing).into_iter().collect()
        }
        (Report::Labor(report), "labor") => labor::hours(report, standing).into_iter().collect(),
        (Report::Repeats(report), "repeats") => repeats::curve(report).into_iter().collect(),
        (Report::Pattern(report), "pattern") => pattern::parts(report).into_iter().collect(),
        (Report::Pattern(report), "symptoms") => {
            pattern::symptoms(report, standing).into_iter().collect()
        }
        (Report::Bench(report), "bands") => bench::parts(report),
        (Report::HandOver(report), "bands") => bench::lines(report),
        (Report::Effect(report), "effect") => {
            effect::shares(report, standing).into_iter().collect()
        }
        _ => Vec::new(),
    };
    (!pictures.is_empty()).then(|| pictures.iter().map(Picture::html).collect())
}

/// `9 of 38`.
fn counts(share: &Share) -> String {
    let [returns, count] = [share.returns, share.count].map(|count| thousands(&count.to_string()));
    format!("{returns} of {count}")
}

/// A share in percent.
fn shown(share: f64) -> String {
    percent(share)
}

/// A number as tables have it.
fn number(value: f64, decimals: usize) -> String {
    Cell::Number(value, decimals).to_string()
}

/// Both ends of an interval.
fn ends(interval: Option<&Interval>) -> Option<(f64, f64)> {
    interval.map(|interval| (interval.low, interval.high))
}

/// A share as a mark on its line: hollow where the jobs are too few, and then
/// without an interval, which would look like knowledge.
fn share_dot(share: &Share, tone: Tone, label: &str) -> Option<RowDot> {
    let at = share.share?;
    let (shape, spread, few) = if share.too_few {
        (Shape::Ring, None, ", too few to say")
    } else {
        (Shape::Disc, ends(share.interval.as_ref()), "")
    };
    let said = format!("{label}: {} ({}){few}", shown(at), counts(share));
    Some(RowDot { tone, shape, at, said, spread })
}

/// What is written beside such a mark.
fn share_text(share: &Share) -> String {
    match share.share {
        _ if share.count == 0 => String::new(),
        _ if share.too_few => format!("too few ({})", counts(share)),
        None => format!("not yet ({})", counts(share)),
        Some(at) => format!("{} ({})", shown(at), counts(share)),
    }
}
