//! Flat-rate hours and clock hours of each line, beside each other.

use analytics::labor::{By, LaborLine, LaborReport};

use super::{MOST_LINES, number, shown};
use crate::chart::{Axis, Bar, Key, Picture, Row, Rows, Tone, Unit};
use crate::reports::page_table::Standing;

pub(super) fn hours(report: &LaborReport, standing: &Standing<'_>) -> Option<Picture> {
    let worked = |line: &&LaborLine| line.clock_hours > 0.0 || line.flat_rate_hours > 0.0;
    let lines: Vec<&LaborLine> = report.lines.iter().filter(worked).collect();
    // By week the newest ones.
    let skipped = if report.by == By::Week { lines.len().saturating_sub(MOST_LINES) } else { 0 };
    let rows: Vec<Row> =
        lines.iter().skip(skipped).take(MOST_LINES).map(|line| row(line, standing)).collect();
    if rows.is_empty() {
        return None;
    }
    let left = lines.len() - rows.len();
    let total = &report.total;
    let says = format!(
        "{} flat-rate hours against {} on the clock{}.{}",
        number(total.flat_rate_hours, 1),
        number(total.clock_hours, 1),
        total.efficiency.value.map_or_else(String::new, |at| format!(": {}", shown(at))),
        if left > 0 { format!(" {left} more lines are in the table.") } else { String::new() },
    );
    let reaches = rows.iter().flat_map(|row| row.bars.iter().map(|bar| bar.to));
    let axis = Axis::over("Hours", Unit::Number, reaches);
    let rows = Rows { axis, rows, levels: Vec::new(), run: Vec::new() };
    Some(
        Picture::rows("Flat-rate hours and clock hours.", says, rows)
            .with(Key::Bar(Tone::A), "flat-rate hours")
            .with(Key::Bar(Tone::B), "clock hours"),
    )
}

fn row(line: &LaborLine, standing: &Standing<'_>) -> Row {
    let label = line
        .group
        .as_deref()
        .map_or_else(|| "not recorded".to_owned(), |code| standing.label("labor", "group", code));
    let bar = |tone, to: f64, what: &str| Bar {
        tone,
        from: 0.0,
        to,
        said: format!("{label}: {} {what} hours", number(to, 1)),
    };
    let bars = vec![
        bar(Tone::A, line.flat_rate_hours, "flat-rate"),
        bar(Tone::B, line.clock_hours, "clock"),
    ];
    let text = match line.efficiency.value {
        Some(_) if line.efficiency.too_few => "too few jobs".to_owned(),
        Some(at) => shown(at),
        None => String::new(),
    };
    Row { bars, dots: Vec::new(), text, label }
}
