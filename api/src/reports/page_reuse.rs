//! Clean or replace as a page: every part in a line, or one part with all that
//! the answer rests on.

use analytics::reuse::{
    Advice, Basis, Choice, DecidedBy, Ledger, PartLine, ReuseReport, Source, Verdict,
};
use analytics::words::{Curable, PartRole};
use askama::Template;

use super::page::{self, Asked};
use super::page_foot::Foot;
use super::page_more;
use super::page_table::Standing;
use super::query::{Report, ReportName};
use super::table::{Cell, percent, sentence};
use crate::domain::percent::points;
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView};
use crate::web::page::Viewer;
use crate::web::words::{Pick, Shown, duration};

/// A sentence, and the jobs behind it.
pub struct Told {
    pub text: String,
    pub place: String,
}

/// A part in one role, in a line.
pub struct PartInBrief {
    name: String,
    part: String,
    held_as: &'static str,
    verdict: &'static str,
    basis: &'static str,
    cleaned: Option<Told>,
    replaced: Option<Told>,
    place: String,
}

/// What was done with a part, and what became of it.
pub struct ChoiceView {
    label: &'static str,
    closed: Told,
    /// The jobs whose part came back, where there are any.
    came_back: Option<String>,
    share: String,
    if_all_proposed: String,
    job_comebacks: String,
}

/// A purse: what either choice is expected to cost, and to lose.
pub struct LedgerView {
    name: &'static str,
    clean: String,
    replace: String,
    loss_if_clean: String,
    loss_if_replace: String,
    cheaper: String,
}

/// What an answer rests on, in words.
pub struct AdviceView {
    verdict: &'static str,
    because: Vec<String>,
    text: String,
    money: Option<String>,
    basis: &'static str,
    facts: Vec<(&'static str, String)>,
    ledgers: Vec<LedgerView>,
}

/// A part in one role, with everything.
pub struct PartView {
    name: String,
    part: String,
    held_as: &'static str,
    choices: Vec<ChoiceView>,
    advice: Option<AdviceView>,
}

/// The page.
#[derive(Template)]
#[template(path = "reuse.html")]
pub struct ReusePage {
    viewer: Viewer,
    beside: Vec<page::Choice>,
    shop: String,
    currency: String,
    note: &'static str,
    caution: &'static str,
    /// Whether what things cost may be seen, and told.
    costs: bool,
    /// What was asked about.
    asked_part: Option<String>,
    /// Parts that were cleaned and put back, and all others.
    cleaned: Vec<PartInBrief>,
    others: Vec<PartInBrief>,
    parts: Vec<PartView>,
    known: Vec<Pick>,
    roles: Vec<Pick>,
    curable: Vec<Pick>,
    yes_no: Vec<Pick>,
    fields: Fields,
    csv: String,
    foot: Foot,
}

impl ReusePage {
    fn form(&self) -> FormView {
        FormView::of("ask", None, self.fields.clone())
    }

    /// From the report.
    ///
    /// # Errors
    /// Not found, where the report is another one.
    pub fn of(ctx: &Ctx, asked: &Asked) -> Result<Self, Problem> {
        let Report::Reuse(report) = &asked.report else { return Err(Problem::not_found()) };
        let shop = ctx.shop()?.clone();
        let standing = asked.standing(&shop.code, None);
        let query = &asked.query;
        let one = query.part.is_some();
        let costs = ctx.may(Permission::ReadCosts);
        let text = |value: &Option<String>| value.clone().unwrap_or_default();
        let lines = |wanted: bool| report.parts.iter().filter(move |_| wanted);
        let (cleaned, others) = lines(!one)
            .map(|line| in_brief(line, report, &standing))
            .partition(|line| line.cleaned.is_some());
        let viewer = Viewer::of(ctx);
        Ok(Self {
            beside: page_more::beside(ReportName::Reuse, &viewer, &shop.code),
            viewer,
            currency: shop.currency.clone(),
            note: report.note,
            caution: report.caution,
            costs,
            asked_part: query.part.clone(),
            cleaned,
            others,
            parts: lines(one)
                .map(|line| whole(line, report, &standing, costs.then_some(&asked.style)))
                .collect(),
            known: known(report),
            roles: [PartRole::Suspect, PartRole::Bystander]
                .map(|role| Pick::new(role.as_str(), role.shown()))
                .to_vec(),
            curable: Curable::WORDS.iter().map(|word| Pick::new(*word, *word)).collect(),
            yes_no: vec![Pick::new("true", "yes"), Pick::new("false", "no")],
            fields: Fields::of(&[
                ("part", text(&query.part)),
                ("role", text(&query.role)),
                ("curable", text(&query.curable)),
                ("tested", text(&query.tested)),
                ("access_minutes", text(&query.access_minutes)),
                ("part_cost", text(&query.part_cost)),
            ]),
            csv: asked.csv.clone(),
            foot: Foot::of(asked),
            shop: shop.code,
        })
    }
}

/// Every part once, for the field that asks about one.
fn known(report: &ReuseReport) -> Vec<Pick> {
    let mut picks: Vec<Pick> =
        report.parts.iter().map(|line| Pick::new(&*line.part, &*line.name)).collect();
    picks.sort_by(|a, b| a.value.cmp(&b.value));
    picks.dedup();
    picks
}

fn held_as(role: Option<PartRole>) -> &'static str {
    role.map_or("role not recorded", Shown::shown)
}

fn told(
    line: &PartLine,
    choice: Choice,
    report: &ReuseReport,
    standing: &Standing<'_>,
) -> Option<Told> {
    let found = line.choices.iter().find(|one| one.choice == choice)?;
    Some(Told {
        text: sentence(&found.closed, report.head.window_days),
        place: standing.jobs(&found.closed.jobs),
    })
}

fn in_brief(line: &PartLine, report: &ReuseReport, standing: &Standing<'_>) -> PartInBrief {
    let role = line.role.map(|role| format!("&role={}", role.as_str())).unwrap_or_default();
    let part = serde_urlencoded::to_string([("part", &line.part)]).unwrap_or_default();
    PartInBrief {
        name: line.name.clone(),
        part: line.part.clone(),
        held_as: held_as(line.role),
        verdict: line.advice.as_ref().map_or("", |advice| verdict(advice.verdict)),
        basis: line.advice.as_ref().map_or("", |advice| basis(advice.basis)),
        cleaned: told(line, Choice::CleanedReused, report, standing),
        replaced: told(line, Choice::Replaced, report, standing),
        place: format!("/shops/{}/reuse?{part}{role}", standing.shop),
    }
}

/// `money` is there for who may see what things cost.
fn whole(
    line: &PartLine,
    report: &ReuseReport,
    standing: &Standing<'_>,
    money: Option<&Style>,
) -> PartView {
    let window = report.head.window_days;
    PartView {
        name: line.name.clone(),
        part: line.part.clone(),
        held_as: held_as(line.role),
        choices: line
            .choices
            .iter()
            .map(|one| ChoiceView {
                label: label(one.choice),
                closed: Told {
                    text: sentence(&one.closed, window),
                    place: standing.jobs(&one.closed.jobs),
                },
                came_back: (one.closed.returns > 0)
                    .then(|| standing.jobs(&format!("{}&part_returned=true", one.closed.jobs))),
                share: Cell::share(&one.share).to_string(),
                if_all_proposed: Cell::share(&one.possible).to_string(),
                job_comebacks: Cell::share(&one.comebacks).to_string(),
            })
            .collect(),
        advice: line.advice.as_ref().map(|advice| told_advice(advice, money)),
    }
}

fn ledgers(advice: &Advice, money: &Style) -> Vec<LedgerView> {
    let purses = [
        ("Customer and shop together", advice.together),
        ("The shop alone: only returns are unpaid", advice.shop),
    ];
    let view = |(name, ledger): (&'static str, Option<Ledger>)| {
        ledger.map(|ledger| LedgerView {
            name,
            clean: bare(ledger.clean_minor, money),
            replace: bare(ledger.replace_minor, money),
            loss_if_clean: bare(ledger.loss_if_clean_minor, money),
            loss_if_replace: bare(ledger.loss_if_replace_minor, money),
            cheaper: percent(ledger.probability_replace_cheaper),
        })
    };
    purses.into_iter().filter_map(view).collect()
}

fn told_advice(advice: &Advice, money: Option<&Style>) -> AdviceView {
    AdviceView {
        verdict: verdict(advice.verdict),
        because: advice.decided_by.iter().map(|by| because(*by, advice.ceiling)).collect(),
        text: advice.text.clone(),
        money: advice.money_text.clone(),
        basis: basis(advice.basis),
        facts: facts(advice, money),
        ledgers: money.map(|money| ledgers(advice, money)).unwrap_or_default(),
    }
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

/// Rounded to whole minor units, the currency standing elsewhere.
fn bare(minor: f64, money: &Style) -> String {
    money.bare_amount(minor.round() as i64)
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

const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CleanAndReuse => "clean and reuse",
        Verdict::Undecided => "undecided",
        Verdict::Replace => "replace",
    }
}

const fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Assumption => "assumption",
        Basis::MostlyAssumption => "mostly assumption",
        Basis::Record => "record",
    }
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
