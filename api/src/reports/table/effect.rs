//! Before and after a rule, as tables.

use analytics::effect::{
    Ahead, Basis, BeforeAfter, Compliance, CostCell, Difference, EffectCell, EffectCost,
    EffectReport, Verdict,
};
use analytics::figure::TOO_FEW;

use super::{Cell, Column, Row, Table, currency, number, percent, share, text};
use crate::domain::money::Currency;
use crate::domain::style::Style;
use crate::web::words::counted;

/// The jobs that a rule is about.
const RULE_JOBS: &str = "jobs the rule is about";

/// What the selector of a cost has besides that of the jobs whose window is over.
const CAME_BACK: &str = "&returned=true";

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

const COST: &[Column] = &[
    text("group", "Jobs"),
    number("jobs", "Comeback window over"),
    number("returns", "Came back"),
    number("not_priced", "of them without a cost"),
    number("total", "Cost"),
    number("per_hundred", "For a hundred jobs"),
    number("per_return", "For each comeback"),
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
    let money = currency(&report.head.currency);
    tables.extend(report.cost.as_ref().map(|cost| costs(cost, &money, style)));
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
    let ahead = report.ahead.as_ref().map(|ahead| format!("\n{}", self::ahead(ahead, style)));
    let kept = format!("{}{}", kept.unwrap_or_default(), ahead.unwrap_or_default());
    if let Some(day) = report.withdrawn {
        let day = style.day(day);
        return format!("Withdrawn on {day}, before its review day: no verdict{kept}");
    }
    format!(
        "On {}: {}, {}{}\nOne verdict, on that day: who looks each day finds an effect some day\n\
         Rules are made when things are bad, and what was bad by chance gets better without a rule",
        style.day(report.review),
        said(report.verdict),
        match report.basis {
            Basis::BesideUntouched => format!("held against {}", report.untouched_are.as_str()),
            Basis::Alone => "before and after alone: too few other jobs to compare".to_owned(),
        },
        kept,
    )
}

/// What the review day will have to go by, in a sentence.
#[must_use]
pub fn ahead(ahead: &Ahead, style: &Style) -> String {
    format!(
        "Too early before {}. Of jobs since the start {} have ended their window; by then about \
         {:.0} will have. Of jobs before it {} will have. Under {TOO_FEW} on either side the answer \
         is \u{201c}too few\u{201d}. The pace is {} in the last {}",
        style.day(ahead.review),
        ahead.ended_after,
        ahead.expected_after,
        ahead.known_before,
        counted(ahead.pace_jobs, "job", "jobs"),
        counted(ahead.pace_days, "day", "days"),
    )
}

fn costs(cost: &EffectCost, money: &Currency, style: &Style) -> Table {
    let line = |name: &str, cell: &CostCell| Row {
        cells: vec![
            Cell::text(name),
            Cell::Count(cell.jobs_count),
            Cell::CountOf(cell.returns, cell.jobs.clone()),
            Cell::Count(cell.not_priced),
            Cell::money(cell.total.total_minor.map(|minor| minor as f64), money),
            if cell.jobs_count < TOO_FEW {
                Cell::text(format!("too few ({})", cell.jobs_count))
            } else {
                Cell::money(cell.per_hundred_jobs_minor, money)
            },
            Cell::money(cell.per_return_minor, money),
        ],
        jobs: cell.jobs.strip_suffix(CAME_BACK).map(str::to_owned),
    };
    Table {
        key: "cost",
        title: "What the comebacks cost".to_owned(),
        note: joined(
            Some(
                "Of jobs whose comeback window is over: hours at the labor cost, parts, sublets and \
                 the rest of a return, less what suppliers paid back"
                    .to_owned(),
            ),
            for_a_hundred(cost, style),
        ),
        columns: COST.to_vec(),
        rows: vec![line("before the rule", &cost.before), line("after", &cost.after)],
    }
}

/// The verdict in the shop's words.
#[must_use]
pub const fn said(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::TooEarly => "too early to say",
        Verdict::TooFew => "too few cases to say",
        Verdict::FewerComebacks => "fewer comebacks",
        Verdict::MoreComebacks => "more comebacks",
        Verdict::NoEvidence => "no difference beyond chance",
        Verdict::UndecidedProposals => "decide the open comebacks first",
        Verdict::Withdrawn => "withdrawn: no verdict",
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
    let not_known = compliance.not_known.as_ref().filter(|jobs| jobs.count > 0);
    let not_known = not_known.map(|jobs| {
        let jobs = counted(jobs.count, "job", "jobs");
        format!("Of {jobs} nobody knows whether the rule was kept: they count as neither")
    });
    let interval = difference.interval.as_ref().filter(|_| !difference.too_few);
    Table {
        key: "kept",
        title: "Whether the rule was kept".to_owned(),
        note: joined(difference.value.zip(interval).map(|(value, interval)| {
            format!(
                "Came back, kept less not kept: {} ({} to {}), of jobs whose comeback window is \
                 over; who keeps a rule chooses when",
                percent(value),
                percent(interval.low),
                percent(interval.high),
            )
        }), not_known),
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

/// What a hundred jobs cost on each side, where both have enough, and what it rests on.
fn for_a_hundred(cost: &EffectCost, style: &Style) -> Option<String> {
    let amount = |cell: &CostCell| {
        let minor = cell.per_hundred_jobs_minor.filter(|_| cell.jobs_count >= TOO_FEW)?;
        let on = counted(cell.returns, "comeback", "comebacks");
        Some((style.amount(minor.round() as i64), format!("by {on} of {}", cell.jobs_count)))
    };
    let ((before, so), (after, then)) = (amount(&cost.before)?, amount(&cost.after)?);
    Some(format!("For a hundred jobs {before} before the rule ({so}), {after} after ({then})"))
}

/// Two notes, a line each, of those that there are.
fn joined(first: Option<String>, second: Option<String>) -> Option<String> {
    let lines: Vec<String> = first.into_iter().chain(second).collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}
