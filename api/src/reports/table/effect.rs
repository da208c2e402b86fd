//! Before and after a rule, as tables.

use analytics::effect::{
    Basis, BeforeAfter, Compliance, Difference, EffectCell, EffectReport, Verdict,
};

use super::{Cell, Column, Row, Table, number, percent, share, text};
use crate::domain::style::Style;

/// The jobs that a rule is about.
const RULE_JOBS: &str = "jobs the rule is about";

const CELLS: &[Column] = &[
    text("group", "Jobs"),
    text("from", "Handed over from"),
    text("to", "to"),
    number("jobs", "Jobs closed"),
    share("comebacks", "Came back"),
    share("closed", "Came back, comeback window over"),
    share("possible", "If every undecided one counts"),
];

const CHANGES: &[Column] = &[
    text("change", "Jobs"),
    number("value", "Change in the share that came back"),
    number("low", "at least"),
    number("high", "at most"),
    number("p", "Luck alone"),
    number("chi_square", "Test value"),
];

const KEPT: &[Column] = &[
    text("group", "Since the start"),
    number("jobs", "Jobs closed"),
    number("part", "Share of them"),
    share("comebacks", "Came back"),
    share("closed", "Came back, comeback window over"),
    share("possible", "If every undecided one counts"),
];

pub(super) fn tables(report: &EffectReport, style: &Style) -> Vec<Table> {
    let mut tables = vec![cells(report, style), changes(report)];
    tables.extend(report.compliance.as_ref().map(kept));
    tables
}

fn cells(report: &EffectReport, style: &Style) -> Table {
    let from = Cell::day(report.before_from);
    let last = Cell::day(report.start.pred_opt().filter(|_| report.before_from.is_some()));
    let begun = report.after_to.map(|_| report.start);
    let before = (from, last);
    let after = (Cell::day(begun), Cell::day(report.after_to));
    let others = report.untouched_are.as_str();
    let rows = [
        (format!("{RULE_JOBS}, before"), &before, &report.touched.before),
        (format!("{RULE_JOBS}, after"), &after, &report.touched.after),
        (format!("{others}, before"), &before, &report.untouched.before),
        (format!("{others}, after"), &after, &report.untouched.after),
    ];
    Table {
        key: "effect",
        title: "Comebacks before and after the rule".to_owned(),
        note: Some(note(report, style)),
        columns: CELLS.to_vec(),
        rows: rows
            .into_iter()
            .map(|(name, (from, to), cell)| {
                row([Cell::text(name), from.clone(), to.clone(), Cell::Count(cell.count)], cell)
            })
            .collect(),
    }
}

fn note(report: &EffectReport, style: &Style) -> String {
    let kept = report.compliance.as_ref().and_then(|kept| {
        let share = kept.share?;
        Some(format!("\nKept on {} of {} jobs ({})", kept.kept, kept.count, percent(share)))
    });
    format!(
        "On {}: {}, {}{}\nOne verdict, on that day: who looks each day finds an effect some day\n\
         Rules are made when things are bad, and what was bad by chance gets better without a rule",
        style.day(report.review),
        said(report.verdict),
        match report.basis {
            Basis::BesideUntouched => format!("held against {}", report.untouched_are.as_str()),
            Basis::Alone => "before and after alone: too few other jobs to compare".to_owned(),
        },
        kept.unwrap_or_default(),
    )
}

/// The verdict in the shop's words.
const fn said(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::TooEarly => "too early to say",
        Verdict::TooFew => "too few jobs to say",
        Verdict::FewerComebacks => "fewer comebacks",
        Verdict::MoreComebacks => "more comebacks",
        Verdict::NoEvidence => "no difference beyond chance",
        Verdict::UndecidedProposals => "decide the open comebacks first",
    }
}

fn row(first: impl IntoIterator<Item = Cell>, cell: &EffectCell) -> Row {
    let shares = [&cell.share, &cell.closed_window, &cell.possible];
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
        note: Some(
            "After less before, of jobs whose comeback window is over. Luck alone: how often luck \
             alone makes before and after at least this different"
                .to_owned(),
        ),
        columns: CHANGES.to_vec(),
        rows: vec![
            change("the rule's jobs beside the others", &report.beside_untouched, None),
            alone(RULE_JOBS, &report.touched),
            alone(report.untouched_are.as_str(), &report.untouched),
        ],
    }
}

fn change(name: &str, difference: &Difference, test: Option<(f64, f64)>) -> Row {
    let interval = difference.interval.as_ref().filter(|_| !difference.too_few);
    Row {
        cells: vec![
            Cell::text(name),
            if difference.too_few {
                Cell::text(format!("too few ({})", difference.count))
            } else {
                Cell::percent(difference.value)
            },
            Cell::percent(interval.map(|interval| interval.low)),
            Cell::percent(interval.map(|interval| interval.high)),
            Cell::percent(test.map(|(_, p)| p)),
            Cell::number(test.map(|(chi_square, _)| chi_square), 2),
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
    let interval = difference.interval.as_ref().filter(|_| !difference.too_few);
    Table {
        key: "kept",
        title: "Whether the rule was kept".to_owned(),
        note: difference.value.zip(interval).map(|(value, interval)| {
            format!(
                "Came back, kept less not kept: {} ({} to {}), of jobs whose comeback window is \
                 over; who keeps a rule chooses when",
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
