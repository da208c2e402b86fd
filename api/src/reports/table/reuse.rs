//! Clean or replace, as tables.

use analytics::reuse::{Advice, Basis, Choice, DecidedBy, PartLine, ReuseReport, Source, Verdict};

use super::{Cell, Column, Row, Table, currency, number, share, text};
use crate::domain::money::Currency;
use crate::web::words::Shown;

const CHOICES: &[Column] = &[
    text("part", "Part"),
    text("name", "Name"),
    text("role", "Held as"),
    text("choice", "Done with it"),
    number("uses", "Uses"),
    number("returns", "Back so far"),
    share("part_return", "Part came back"),
    share("closed", "Of those with all days over"),
    share("possible", "If every undecided one counts"),
    share("comebacks", "Job came back"),
];

const ADVICE: &[Column] = &[
    text("part", "Part"),
    text("role", "Held as"),
    text("verdict", "Verdict"),
    text("decided_by", "Because of"),
    text("basis", "Basis"),
    number("clean_return_share", "Best estimate, cleaned"),
    number("replace_return_share", "Best estimate, replaced"),
    number("ceiling", "Shop's limit"),
    number("over_ceiling_probability", "Chance that cleaned is over it"),
    number("break_even_gap", "Cleaned may come back more by"),
    number("access_minutes", "Access min"),
    text("access_from", "from"),
    number("part_cost", "Part cost"),
    text("part_cost_from", "from"),
    number("together_clean", "Clean, together"),
    number("together_replace", "Replace, together"),
    number("shop_clean", "Clean, shop"),
    number("shop_replace", "Replace, shop"),
    number("loss_if_clean", "Extra cost if cleaning was wrong"),
    number("loss_if_replace", "Extra cost if replacing was wrong"),
    share("untouched", "Left alone, came back"),
];

pub(super) fn tables(report: &ReuseReport) -> Vec<Table> {
    let money = currency(&report.head.currency);
    let advised = || report.parts.iter().filter_map(|line| line.advice.as_ref());
    vec![
        Table {
            key: "choices",
            title: "What became of parts".to_owned(),
            note: Some(format!("{}\n{}", report.note, report.caution)),
            columns: CHOICES.to_vec(),
            rows: report.parts.iter().flat_map(choice_rows).collect(),
        },
        Table {
            key: "advice",
            title: "Clean or replace".to_owned(),
            note: says(advised()),
            columns: ADVICE.to_vec(),
            rows: advised().map(|advice| advice_row(advice, &money)).collect(),
        },
    ]
}

/// The answers in words, one a line.
fn says<'a>(advice: impl Iterator<Item = &'a Advice>) -> Option<String> {
    let lines: Vec<String> = advice
        .map(|advice| {
            let held = advice.role.part_role().shown();
            let money = advice.money_text.as_ref().map(|text| format!(" {text}"));
            format!("{}, {held}: {}{}", advice.part, advice.text, money.unwrap_or_default())
        })
        .collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}

/// Where replacing is cheaper at any share of returns, no gap says so plainly.
pub(super) fn for_people(mut tables: Vec<Table>) -> Vec<Table> {
    for table in &mut tables {
        let at = |key: &str| table.columns.iter().position(|column| column.key == key);
        let because = at("decided_by");
        for cell in table.rows.iter_mut().filter_map(|row| row.cells.get_mut(because?)) {
            if let Cell::Text(words) = cell {
                *words = said_because(words);
            }
        }
        let (Some(gap), Some(new)) = (at("break_even_gap"), at("replace_return_share")) else {
            continue;
        };
        for row in &mut table.rows {
            if let (Some(Cell::Percent(more)), Some(Cell::Percent(share))) =
                (row.cells.get(gap), row.cells.get(new))
                && more + share <= 0.0
                && let Some(cell) = row.cells.get_mut(gap)
            {
                *cell = Cell::text("replacing is cheaper even if none came back");
            }
        }
    }
    tables
}

fn choice_rows(line: &PartLine) -> impl Iterator<Item = Row> + '_ {
    line.choices.iter().map(|choice| Row {
        cells: vec![
            Cell::text(&line.part),
            Cell::text(&line.name),
            Cell::text(line.role.map_or("unknown", |role| role.as_str())),
            Cell::text(choice_label(choice.choice)),
            Cell::Count(choice.uses),
            Cell::Count(choice.returns),
            Cell::share(&choice.share),
            Cell::share(&choice.closed),
            Cell::share(&choice.possible),
            Cell::share(&choice.comebacks),
        ],
        jobs: Some(choice.share.jobs.clone()),
    })
}

fn advice_row(advice: &Advice, money: &Currency) -> Row {
    let costs = advice.costs.as_ref();
    let (together, shop) = (advice.together.as_ref(), advice.shop.as_ref());
    let because: Vec<&str> = advice.decided_by.iter().map(|by| because(*by)).collect();
    Row {
        cells: vec![
            Cell::text(&advice.part),
            Cell::text(advice.role.as_str()),
            Cell::text(verdict_label(advice.verdict)),
            Cell::text(because.join(", ")),
            Cell::text(basis_label(advice.basis)),
            Cell::Percent(advice.clean.return_share),
            Cell::Percent(advice.replace.return_share),
            Cell::Percent(advice.ceiling),
            Cell::Percent(advice.probability_over_ceiling),
            Cell::percent(advice.break_even_gap),
            Cell::number(costs.map(|costs| costs.access.minutes), 0),
            Cell::maybe(costs.map(|costs| source_label(costs.access.source))),
            Cell::money(costs.map(|costs| costs.part.minor), money),
            Cell::maybe(costs.map(|costs| source_label(costs.part.source))),
            Cell::money(together.map(|ledger| ledger.clean_minor), money),
            Cell::money(together.map(|ledger| ledger.replace_minor), money),
            Cell::money(shop.map(|ledger| ledger.clean_minor), money),
            Cell::money(shop.map(|ledger| ledger.replace_minor), money),
            Cell::money(together.map(|ledger| ledger.loss_if_clean_minor), money),
            Cell::money(together.map(|ledger| ledger.loss_if_replace_minor), money),
            Cell::share(&advice.untouched),
        ],
        jobs: Some(advice.clean.jobs.clone()),
    }
}

/// What was done with the part, in words.
#[must_use]
pub const fn choice_label(choice: Choice) -> &'static str {
    match choice {
        Choice::CleanedReused => "cleaned, put back",
        Choice::AdjustedReused => "adjusted, put back",
        Choice::RepairedReused => "repaired, put back",
        Choice::Replaced => "replaced",
        Choice::RemovedRefitted => "off and on, untouched",
        Choice::TestedLeft => "tested good, left",
    }
}

/// The verdict in words.
#[must_use]
pub const fn verdict_label(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CleanAndReuse => "clean and reuse",
        Verdict::Undecided => "undecided",
        Verdict::Replace => "replace",
    }
}

/// What the verdict rests on, in words.
#[must_use]
pub const fn basis_label(basis: Basis) -> &'static str {
    match basis {
        Basis::Assumption => "assumption",
        Basis::MostlyAssumption => "mostly assumption",
        Basis::Record => "record",
    }
}

const fn because(by: DecidedBy) -> &'static str {
    match by {
        DecidedBy::NotCurable => NOT_CURABLE,
        DecidedBy::Ceiling => "ceiling",
        DecidedBy::Money => "money",
    }
}

const NOT_CURABLE: &str = "cause not curable by cleaning";

/// The words of `because` as people say them.
fn said_because(words: &str) -> String {
    words
        .replace(NOT_CURABLE, "cleaning cannot cure it")
        .replace("ceiling", "over the shop's limit")
        .replace("money", "costs less together")
}

const fn source_label(source: Source) -> &'static str {
    match source {
        Source::Asked => "asked with",
        Source::Record => "record",
        Source::Entered => "entered",
        Source::Starting => "starting value",
    }
}
