//! The order of checks: minutes of the usual order beside those of the advised
//! one, and what each check of the advised order takes and finds.

use analytics::path::{CheckOrderLine, CheckOrderReport, OrderedCheck};

use super::MOST_LINES;
use crate::chart::{Axis, Bar, Key, Picture, Row, RowDot, Rows, Shape, Tone, Unit};
use crate::domain::decimal::rounded;
use crate::domain::percent::percent;
use crate::reports::page_table::Standing;

/// Minutes that finding the cause takes on average, by complaint.
#[must_use]
pub fn orders(report: &CheckOrderReport, standing: &Standing<'_>) -> Option<Picture> {
    let lines: Vec<(&CheckOrderLine, f64)> = report
        .symptoms
        .iter()
        .filter_map(|line| Some((line, line.advised.expected_minutes?)))
        .take(MOST_LINES)
        .collect();
    if lines.is_empty() {
        return None;
    }
    let rows: Vec<Row> = lines.iter().map(|(line, _)| order_row(line, standing)).collect();
    let minutes = lines.iter().flat_map(|(line, advised)| {
        [usual(line).unwrap_or(0.0), *advised, line.best.expected_minutes.unwrap_or(0.0)]
    });
    let rows = Rows {
        axis: Axis::over("Minutes to find the cause, on average", Unit::Number, minutes),
        rows,
        levels: Vec::new(),
        run: Vec::new(),
    };
    Some(
        Picture::rows("Our usual order and the advised one", said(&lines), rows)
            .with(Key::Bar(Tone::A), "advised order")
            .with(Key::Bar(Tone::B), "our usual order, with the same checks first")
            .with(Key::Mark(Shape::Upright, Tone::Usual), "best with nothing first"),
    )
}

/// The usual order with what comes first moved up: what the advised one is held
/// against.
fn usual(line: &CheckOrderLine) -> Option<f64> {
    line.habit.as_ref()?.expected_minutes_with_first
}

fn said(lines: &[(&CheckOrderLine, f64)]) -> String {
    if let [(line, _)] = lines {
        return match &line.saved {
            Some(saved) => {
                let sure = saved.interval.as_ref().map_or_else(String::new, |interval| {
                    format!(" ({} to {})", minutes(interval.low), minutes(interval.high))
                });
                format!("The advised order saves {} min a job{sure}.", minutes(saved.minutes))
            }
            None if line.too_few => {
                "Fewer than ten causes confirmed: no saving can be told yet.".to_owned()
            }
            None => "No saving is claimed here.".to_owned(),
        };
    }
    let saving = lines.iter().filter(|(line, _)| line.saved.is_some()).count();
    format!("A saving can be told for {saving} of {} complaints.", lines.len())
}

fn order_row(line: &CheckOrderLine, standing: &Standing<'_>) -> Row {
    let label = standing.lists.label("symptom", &line.symptom);
    let bar = |tone, name: &str, value: f64| Bar {
        tone,
        from: 0.0,
        to: value,
        said: format!("{label}, {name}: {} min", minutes(value)),
    };
    let advised = line.advised.expected_minutes;
    let usual = usual(line);
    let best = line.best.expected_minutes.map(|at| RowDot {
        tone: Tone::Usual,
        shape: Shape::Upright,
        at,
        said: format!("{label}, best with nothing first: {} min", minutes(at)),
        spread: None,
    });
    Row {
        bars: [
            advised.map(|value| bar(Tone::A, "advised order", value)),
            usual.map(|value| bar(Tone::B, "our usual order", value)),
        ]
        .into_iter()
        .flatten()
        .collect(),
        dots: best.into_iter().collect(),
        text: line
            .saved
            .as_ref()
            .map_or_else(String::new, |saved| format!("saves {}", minutes(saved.minutes))),
        label,
    }
}

/// The checks of one complaint in the advised order: what each takes, and how
/// often it finds the cause.
#[must_use]
pub fn checks(report: &CheckOrderReport, standing: &Standing<'_>) -> Option<Picture> {
    let [line] = report.symptoms.as_slice() else { return None };
    let placed: Vec<(i64, f64, &OrderedCheck)> = line
        .checks
        .iter()
        .filter_map(|check| Some((check.place?, check.minutes?, check)))
        .collect();
    if placed.is_empty() {
        return None;
    }
    let rows = placed
        .iter()
        .map(|(place, value, check)| {
            let name = standing.lists.label("check", &check.check);
            let told = format!("{} min, finds {}", minutes(*value), percent(check.chance));
            Row {
                label: format!("{place}. {name}"),
                bars: vec![Bar {
                    tone: if check.first { Tone::B } else { Tone::A },
                    from: 0.0,
                    to: *value,
                    said: format!("{place}. {name}: {told}"),
                }],
                dots: Vec::new(),
                text: told,
            }
        })
        .collect();
    let rows = Rows {
        axis: Axis::over("Minutes", Unit::Number, placed.iter().map(|(_, value, _)| *value)),
        rows,
        levels: Vec::new(),
        run: Vec::new(),
    };
    let picture = Picture::rows(
        "The advised order, check by check",
        "From the top: the next check is done where none before it found the cause.",
        rows,
    );
    let leads = placed.iter().any(|(_, _, check)| check.first);
    let picture = picture.with(Key::Bar(Tone::A), "minutes of the check");
    Some(if leads {
        picture.with(Key::Bar(Tone::B), "comes first, whatever it finds")
    } else {
        picture
    })
}

fn minutes(value: f64) -> String {
    rounded(value, 1)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::codes::lists::Lists;
    use crate::domain::style::Style;
    use crate::reports::query::{Report, ReportName, ReportQuery, tests as cases};

    #[test]
    fn both_orders_and_each_check_are_drawn() {
        let query =
            ReportQuery { symptom: Some("engine.tick".to_owned()), ..ReportQuery::default() };
        let Report::Checks(report) = cases::report(ReportName::Checks, &query) else { panic!() };
        let (lists, style) = (Lists::default(), Style::plain());
        let standing = Standing {
            shop: "north",
            head: &report.head,
            lists: &lists,
            report: None,
            by: None,
            without: &[],
            csv: String::new(),
            style: &style,
        };
        let html = orders(&report, &standing).unwrap().html();
        assert!(html.contains("engine.tick, advised order: "), "{html}");
        let html = checks(&report, &standing).unwrap().html();
        assert!(html.contains("1. ") && html.contains(" min, finds "), "{html}");
    }
}
