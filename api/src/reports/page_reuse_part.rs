//! One part of the clean-or-replace page: the answer first, then what it rests
//! on.

use analytics::reuse::{
    Advice, Basis, Choice, DecidedBy, Ledger, PartLine, ReuseReport, Source, Verdict,
    at_the_counter, headline,
};
use analytics::words::{PartRole, RuleKind};

use super::page_table::Standing;
use super::picture;
use super::table::{Cell, percent, sentence};
use crate::domain::percent::points;
use crate::domain::style::Style;
use crate::web::words::{Shown, duration};

/// What was done with a part, and what became of it.
pub struct ChoiceView {
    pub label: &'static str,
    pub closed: String,
    pub place: String,
    /// The jobs whose part came back, where there are any.
    pub came_back: Option<String>,
    pub share: String,
    pub if_all_proposed: String,
    pub job_comebacks: String,
}

/// A line of the two purses: what it is, for customer and shop together, for the
/// shop alone.
pub struct LedgerLine {
    pub name: &'static str,
    pub together: String,
    pub shop: String,
}

/// An answer, and what it rests on.
pub struct AdviceView {
    pub headline: String,
    pub because: Vec<String>,
    /// What can be told at the counter.
    pub counter: String,
    pub text: String,
    pub money: Option<String>,
    pub basis: &'static str,
    pub picture: String,
    pub facts: Vec<(&'static str, String)>,
    pub ledgers: Vec<LedgerLine>,
}

/// A part in one role, with everything.
pub struct PartView {
    pub name: String,
    pub part: String,
    pub held_as: &'static str,
    /// The kind of shop rule that can be taken on it.
    pub rule: RuleKind,
    pub choices: Vec<ChoiceView>,
    pub advice: Option<AdviceView>,
}

impl PartView {
    /// `costs`: whether the viewer may see what things cost.
    pub(super) fn of(
        line: &PartLine,
        report: &ReuseReport,
        standing: &Standing<'_>,
        costs: bool,
    ) -> Self {
        let window = report.head.window_days;
        let money = costs.then_some(standing.style);
        Self {
            name: line.name.clone(),
            part: line.part.clone(),
            held_as: held_as(line.role),
            rule: match line.role {
                Some(PartRole::Suspect) => RuleKind::ReplaceSuspect,
                _ => RuleKind::CleanAndTest,
            },
            choices: line
                .choices
                .iter()
                .map(|one| ChoiceView {
                    label: label(one.choice),
                    closed: sentence(&one.closed, window),
                    place: standing.jobs(&one.closed.jobs),
                    came_back: (one.closed.returns > 0)
                        .then(|| standing.jobs(&format!("{}&part_returned=true", one.closed.jobs))),
                    share: Cell::share(&one.share).to_string(),
                    if_all_proposed: Cell::share(&one.possible).to_string(),
                    job_comebacks: Cell::share(&one.comebacks).to_string(),
                })
                .collect(),
            advice: line.advice.as_ref().map(|advice| told_advice(advice, window, money)),
        }
    }
}

/// What a part was held as.
pub fn held_as(role: Option<PartRole>) -> &'static str {
    role.map_or("role not recorded", Shown::shown)
}

pub fn told_advice(advice: &Advice, window: i32, money: Option<&Style>) -> AdviceView {
    let drawn = money.and_then(|style| picture::reuse::break_even(advice, style));
    AdviceView {
        headline: headline(advice),
        because: advice.decided_by.iter().map(|by| because(*by, advice.ceiling)).collect(),
        counter: at_the_counter(advice, window),
        text: advice.text.clone(),
        money: advice.money_text.clone(),
        basis: basis(advice.basis),
        picture: drawn.unwrap_or_else(|| picture::reuse::shares(advice)).html(),
        facts: facts(advice, money),
        ledgers: money.map(|money| ledgers(advice, money)).unwrap_or_default(),
    }
}

/// The two purses line by line; none where the costs are not known.
fn ledgers(advice: &Advice, money: &Style) -> Vec<LedgerLine> {
    let Some((together, shop)) = advice.together.zip(advice.shop) else { return Vec::new() };
    let amount = |minor: f64| money.bare_amount(minor.round() as i64);
    let line = |name, of: &dyn Fn(&Ledger) -> String| LedgerLine {
        name,
        together: of(&together),
        shop: of(&shop),
    };
    vec![
        line("Clean and put back", &|ledger| amount(ledger.clean_minor)),
        line("Replace", &|ledger| amount(ledger.replace_minor)),
        line("Chance that replacing costs less", &|ledger| {
            percent(ledger.probability_replace_cheaper)
        }),
        line("Lost on average if cleaning is wrong", &|ledger| amount(ledger.loss_if_clean_minor)),
        line("Lost on average if replacing is wrong", &|ledger| {
            amount(ledger.loss_if_replace_minor)
        }),
    ]
}

/// What stands behind the answer, a line each.
fn facts(advice: &Advice, money: Option<&Style>) -> Vec<(&'static str, String)> {
    let mut facts = priced(advice, money);
    facts.push((
        "The shop's limit",
        format!(
            "{} may come back; chance that cleaned ones come back more often than that, and than \
             new ones: {}",
            percent(advice.ceiling),
            percent(advice.probability_over_ceiling)
        ),
    ));
    if advice.confirmed_causes > 0 {
        let text = format!(
            "cleaning could not cure {} of {} confirmed causes",
            advice.incurable_causes, advice.confirmed_causes
        );
        facts.push(("Causes", text));
    }
    if advice.untouched.count > 0 {
        let cell = Cell::share(&advice.untouched).to_string();
        facts.push(("Left alone", format!("came back: {cell}")));
    }
    if let Some(threshold) = advice.while_open_threshold {
        let text = format!(
            "replace it while it is open when its chance to fail before the next opening is above {}",
            percent(threshold)
        );
        facts.push(("As a neighbor", text));
    }
    if advice.proposals_waiting > 0 {
        let text = format!("{} proposed returns to be decided", advice.proposals_waiting);
        facts.push(("Waiting", text));
    }
    facts
}

/// What the times and prices are, and where the two choices cost the same.
fn priced(advice: &Advice, money: Option<&Style>) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if let Some(costs) = &advice.costs {
        let access = duration(costs.access.minutes.round() as i64);
        facts.push(("Access and reassembly", format!("{access}, {}", source(costs.access.source))));
        if let Some(money) = money {
            let part = amount(costs.part.minor, money);
            facts.push(("The part", format!("{part}, {}", source(costs.part.source))));
            facts.push(("One return", amount(costs.return_minor, money)));
        }
    }
    if let Some(gap) = advice.break_even_gap {
        facts.push(("Break-even", break_even(gap, advice.break_even_share)));
    }
    facts
}

/// Where the two choices cost customer and shop the same together.
fn break_even(gap: f64, share: Option<f64>) -> String {
    let points = points(gap.abs());
    if share.is_some_and(|share| share <= 0.0) {
        "replacing is cheaper even if no cleaned one came back".to_owned()
    } else if gap < 0.0 {
        format!(
            "replacing costs less together unless a cleaned part comes back at least {points} \
             points less often than a new one"
        )
    } else {
        format!(
            "replacing costs less together when a cleaned part comes back at least {points} points \
             more often than a new one"
        )
    }
}

fn amount(minor: f64, money: &Style) -> String {
    money.amount(minor.round() as i64)
}

const fn label(choice: Choice) -> &'static str {
    match choice {
        Choice::CleanedReused => "cleaned and reused",
        Choice::AdjustedReused => "adjusted and reused",
        Choice::RepairedReused => "repaired and reused",
        Choice::Replaced => "replaced",
        Choice::RemovedRefitted => "off and on, untouched",
        Choice::TestedLeft => "tested good and left",
    }
}

/// An answer in a word or two.
pub(super) const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CleanAndReuse => "clean and reuse",
        Verdict::Undecided => "undecided",
        Verdict::Replace => "replace",
    }
}

/// What an answer rests on.
pub(super) const fn basis(basis: Basis) -> &'static str {
    basis.as_str()
}

fn because(by: DecidedBy, ceiling: f64) -> String {
    match by {
        DecidedBy::NotCurable => "cleaning does not cure the cause".to_owned(),
        DecidedBy::Ceiling => format!("over the shop's {} limit", percent(ceiling)),
        DecidedBy::Money => "replacing costs customer and shop less together".to_owned(),
    }
}

const fn source(source: Source) -> &'static str {
    match source {
        Source::Asked => "as asked",
        Source::Record => "median of the record",
        Source::Entered => "as the shop entered it",
        Source::Starting => "starting value",
    }
}
