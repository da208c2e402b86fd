//! Before and after a rule, as tables.

use analytics::effect::{BeforeAfter, Compliance, Difference, EffectCell, EffectReport};

use super::{Cell, Column, Row, Table, number, percent, share, text};

const CELLS: &[Column] = &[
    text("group", "Jobs"),
    text("from", "Handed over from"),
    text("to", "to"),
    number("jobs", "Jobs closed"),
    share("comebacks", "Comebacks"),
    share("possible", "If all proposed"),
    share("closed", "Closed windows"),
];

const CHANGES: &[Column] = &[
    text("change", "Change"),
    number("value", "Closed windows, after less before"),
    number("low", "at least"),
    number("high", "at most"),
    number("chi_square", "Log-rank"),
    number("p", "By chance (p)"),
];

const KEPT: &[Column] = &[
    text("group", "Since the start"),
    number("jobs", "Jobs closed"),
    number("part", "Part of them"),
    share("comebacks", "Comebacks"),
    share("possible", "If all proposed"),
    share("closed", "Closed windows"),
];

pub(super) fn tables(report: &EffectReport) -> Vec<Table> {
    let mut tables = vec![cells(report), changes(report)];
    tables.extend(report.compliance.as_ref().map(kept));
    tables
}

fn cells(report: &EffectReport) -> Table {
    let from = Cell::day(report.before_from);
    let last = Cell::day(report.start.pred_opt().filter(|_| report.before_from.is_some()));
    let begun = report.after_to.map(|_| report.start);
    let before = (from, last);
    let after = (Cell::day(begun), Cell::day(report.after_to));
    let rows = [
        ("touched, before", &before, &report.touched.before),
        ("touched, after", &after, &report.touched.after),
        ("untouched, before", &before, &report.untouched.before),
        ("untouched, after", &after, &report.untouched.after),
    ];
    Table {
        key: "effect",
        title: "Comebacks before and after the rule".to_owned(),
        note: Some(note(report)),
        columns: CELLS.to_vec(),
        rows: rows
            .into_iter()
            .map(|(name, (from, to), cell)| {
                row([Cell::text(name), from.clone(), to.clone(), Cell::Count(cell.count)], cell)
            })
            .collect(),
    }
}

fn note(report: &EffectReport) -> String {
    let kept = report.compliance.as_ref().and_then(|kept| {
        let share = kept.share?;
        Some(format!("\nKept on {} of {} jobs ({})", kept.kept, kept.count, percent(share)))
    });
    format!(
        "On {}: {}, {}\nUntouched: {}{}\nRules are made when things are bad, and what was bad by \
         chance gets better without a rule",
        report.review,
        report.verdict.as_str(),
        report.basis.as_str(),
        report.untouched_are.as_str(),
        kept.unwrap_or_default(),
    )
}

fn row(first: impl IntoIterator<Item = Cell>, cell: &EffectCell) -> Row {
    let shares = [&cell.share, &cell.possible, &cell.closed_window];
    Row {
        cells: first.into_iter().chain(shares.into_iter().map(Cell::share)).collect(),
        jobs: Some(cell.jobs.clone()),
    }
}

fn changes(report: &EffectReport) -> Table {
    let alone = |name: &str, jobs: &BeforeAfter| {
        let test = jobs.log_rank;
        change(name, &jobs.change, test.map(|test| (test.chi_square, test.p)))
    };
    Table {
        key: "changes",
        title: "What changed".to_owned(),
        note: None,
        columns: CHANGES.to_vec(),
        rows: vec![
            change("touched less untouched", &report.beside_untouched, None),
            alone("touched", &report.touched),
            alone("untouched", &report.untouched),
        ],
    }
}

fn change(name: &str, difference: &Difference, test: Option<(f64, f64)>) -> Row {
    let interval = difference.interval.as_ref();
    Row {
        cells: vec![
            Cell::text(name),
            Cell::percent(difference.value),
            Cell::percent(interval.map(|interval| interval.low)),
            Cell::percent(interval.map(|interval| interval.high)),
            Cell::number(test.map(|(chi_square, _)| chi_square), 2),
            Cell::number(test.map(|(_, p)| p), 4),
        ],
        jobs: None,
    }
}

fn kept(compliance: &Compliance) -> Table {
    let difference = &compliance.difference;
    let part = |cell: &EffectCell| {
        (compliance.count > 0).then(|| cell.count as f64 / compliance.count as f64)
    };
    let rows = [("kept", &compliance.when_kept), ("not kept", &compliance.when_not)];
    let interval = difference.interval.as_ref();
    Table {
        key: "kept",
        title: "Whether the rule was kept".to_owned(),
        note: difference.value.zip(interval).map(|(value, interval)| {
            format!(
                "Closed windows, kept less not kept: {} ({} to {}); who keeps a rule chooses when",
                percent(value),
                percent(interval.low),
                percent(interval.high),
            )
        }),
        columns: KEPT.to_vec(),
        rows: rows
            .into_iter()
            .map(|(name, cell)| {
                let first = [Cell::text(name), Cell::Count(cell.count), Cell::percent(part(cell))];
                row(first, cell)
            })
            .collect(),
    }
}
