//! A part in hand: what to do with it now, why, how sure that is, and what would
//! change it.

use serde::Serialize;

use super::advice::{Advice, AdviceQuery};
use super::choice::HeldRole;
use super::reading::{HandReading, ReadingAnswer, ReadingSaid, said};
use super::tally::{PartTally, ReuseTally};
use super::text::{CAUTION, headline};
use super::turning::{Turning, turnings};
use super::verdict::{UndecidedWhy, Verdict};
use super::weigh::{Asked, Ground, Particulars};
use crate::bench::BenchTally;
use crate::figure::{Head, Query};
use crate::follow::{Period, head};
use crate::history::{History, ShopFacts};
use crate::words::Serviceable;

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "verdict",
        "By the clean-or-replace advice, at the times and prices given here: replace when cleaning \
         cannot cure the cause, or when it is at least 80% sure that a cleaned part returns above \
         the shop's limit and more often than a new one, or that replacing costs customer and shop \
         less together; clean and reuse when both are at most 20%; else undecided. A part that is \
         not serviceable is never opened; a reading worse than the shop's cut-off is replaced.",
    ),
    (
        "level_at",
        "Where both choices cost customer and shop together the same on average, all else as it \
         stands: solved from (t_n - t_c) w + P = (r_c - r_n) ((A + t_n) w + P + G), with A access, \
         t_c and t_n the time to clean and to fit a new one, w labor cost, P the part, G the rest \
         of a return, r_c and r_n the believed shares that come back.",
    ),
    ("turns", "The values at which the verdict becomes another one, all else as it stands."),
    (
        "rebuilt",
        "The same question at the rebuilt one's price. The record counts rebuilt ones that come \
         back with new ones, so both are believed to return as often.",
    ),
];

/// A part in hand.
#[derive(Debug, Clone, PartialEq)]
pub struct InHandQuery {
    pub about: AdviceQuery,
    pub serviceable: Option<Serviceable>,
    /// What it costs where it is sold in an assembly only.
    pub assembly_cost_minor: Option<i64>,
    pub rebuilt_cost_minor: Option<i64>,
    /// What else a return costs; the shop's own where absent.
    pub return_extra_minor: Option<i64>,
    pub reading: Option<HandReading>,
}

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum InHandAction {
    CleanAndReuse,
    Replace,
    ReplaceAssembly,
    /// New ones cost too much, rebuilt ones do not.
    ReplaceRebuilt,
    /// Not to be opened, and no reason to replace it.
    LeaveClosed,
    Undecided,
}

/// The rebuilt one as a third choice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RebuiltChoice {
    /// Clean or replace, were the rebuilt one the only one to be had.
    pub verdict: Verdict,
    /// What it costs customer and shop together on average, returns included.
    pub replace_minor: Option<f64>,
}

/// The estimate.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EstimateReport {
    pub head: Head,
    pub part: String,
    pub role: HeldRole,
    pub serviceable: Option<Serviceable>,
    pub action: InHandAction,
    /// The answer in a few words.
    pub headline: String,
    /// What it rests on besides the record of returns.
    pub because: Vec<&'static str>,
    /// At the price that counts: the assembly's, where it is sold so only.
    pub advice: Advice,
    pub rebuilt: Option<RebuiltChoice>,
    pub reading: Option<ReadingSaid>,
    /// What would change the verdict.
    pub turnings: Vec<Turning>,
    /// Where no share of returns decides.
    pub caution: &'static str,
}

/// The estimate for a part in hand, from the whole record.
#[must_use]
pub fn estimate(history: &History, query: &InHandQuery) -> EstimateReport {
    let tallies = (&ReuseTally::of(history), &BenchTally::of(history));
    estimate_from(tallies, history.facts(), history.change_no(), query)
}

/// The same from tallies already made.
#[must_use]
pub fn estimate_from(
    (tally, bench): (&ReuseTally, &BenchTally),
    facts: &ShopFacts,
    change_no: i64,
    query: &InHandQuery,
) -> EstimateReport {
    let facts = reckoned_with(facts, query);
    let about = &query.about;
    let figures = figures(about);
    let ground = Ground::new(tally, &facts, Period::new(&figures, &facts));
    let unseen = PartTally::default();
    let part = tally.parts.get(&about.part).unwrap_or(&unseen);
    let at_price = |price: Option<i64>| {
        let mut overrides = about.overrides;
        overrides.part_cost_minor = price.or(overrides.part_cost_minor);
        Particulars {
            cause_curable: about.cause_curable,
            bench_tested: about.bench_tested,
            overrides,
        }
    };
    let assembly = query.assembly_cost_minor.filter(|_| sold_in_assembly(query));
    let particulars = at_price(assembly);
    let advice = ground.advice(&about.part, part, about.role, &particulars);
    let rebuilt = query.rebuilt_cost_minor.map(|price| {
        let advice = ground.advice(&about.part, part, about.role, &at_price(Some(price)));
        let replace_minor = advice.together.map(|ledger| ledger.replace_minor);
        RebuiltChoice { verdict: advice.verdict, replace_minor }
    });
    let asked = Asked { name: &about.part, part, role: about.role, particulars: &particulars };
    let weighed = ground.weigh(&asked);
    let reading = query
        .reading
        .as_ref()
        .map(|reading| said((bench, tally), &facts, (&figures, &about.part), reading));
    let action = action(query, &advice, rebuilt.as_ref(), reading.as_ref());
    let settled = closed(query) || below_cut_off(reading.as_ref()) || waits(&advice);
    EstimateReport {
        head: head("estimate", &facts, change_no, &figures, DEFINITIONS),
        part: about.part.clone(),
        role: about.role,
        serviceable: query.serviceable,
        action,
        headline: told(action, query, &advice),
        because: because(query, reading.as_ref()),
        rebuilt,
        reading,
        turnings: if settled {
            Vec::new()
        } else {
            turnings(&weighed.question, weighed.costs.as_ref())
        },
        caution: CAUTION,
        advice,
    }
}

/// The whole record up to the question's day.
fn figures(about: &AdviceQuery) -> Query {
    Query { as_of: about.as_of, from: None, to: None, window_days: about.window_days, by: None }
}

/// The shop's facts with what is told here. Times and price stand where the record
/// says nothing: for the cut-off of a reading; the advice takes them first anyway.
fn reckoned_with(facts: &ShopFacts, query: &InHandQuery) -> ShopFacts {
    let mut facts = facts.clone();
    facts.return_extra_minor = query.return_extra_minor.unwrap_or(facts.return_extra_minor);
    let told = query.about.overrides;
    let entered = facts.part_policies.entry(query.about.part.clone()).or_default();
    entered.access_minutes = told.access_minutes.or(entered.access_minutes);
    entered.clean_minutes = told.clean_minutes.or(entered.clean_minutes);
    entered.fit_minutes = told.fit_minutes.or(entered.fit_minutes);
    entered.cost_minor = told.part_cost_minor.or(entered.cost_minor);
    facts
}

fn sold_in_assembly(query: &InHandQuery) -> bool {
    query.serviceable == Some(Serviceable::AssemblyOnly)
}

fn closed(query: &InHandQuery) -> bool {
    query.serviceable == Some(Serviceable::NotServiceable)
}

fn below_cut_off(reading: Option<&ReadingSaid>) -> bool {
    reading.is_some_and(|reading| reading.answer == ReadingAnswer::Replace)
}

/// Whatever the times and prices, nothing is said before proposals are decided.
fn waits(advice: &Advice) -> bool {
    advice.undecided.is_some_and(|open| open.why == UndecidedWhy::ProposalsWaiting)
}

fn action(
    query: &InHandQuery,
    advice: &Advice,
    rebuilt: Option<&RebuiltChoice>,
    reading: Option<&ReadingSaid>,
) -> InHandAction {
    let replace =
        if sold_in_assembly(query) { InHandAction::ReplaceAssembly } else { InHandAction::Replace };
    let in_the_way = query.about.role == HeldRole::Bystander;
    if closed(query) && in_the_way && !below_cut_off(reading) {
        return InHandAction::LeaveClosed;
    }
    if closed(query) || below_cut_off(reading) || advice.verdict == Verdict::Replace {
        return replace;
    }
    if rebuilt.is_some_and(|rebuilt| rebuilt.verdict == Verdict::Replace) {
        return InHandAction::ReplaceRebuilt;
    }
    match advice.verdict {
        Verdict::CleanAndReuse => InHandAction::CleanAndReuse,
        Verdict::Undecided | Verdict::Replace => InHandAction::Undecided,
    }
}

fn told(action: InHandAction, query: &InHandQuery, advice: &Advice) -> String {
    let tested = query.about.bench_tested == Some(true);
    match action {
        InHandAction::LeaveClosed => {
            "Leave it closed: put it back if it tests good, else replace it".to_owned()
        }
        InHandAction::Replace if closed(query) => {
            "Replace it as the vehicle maker sells it: it is not to be opened".to_owned()
        }
        InHandAction::Replace if advice.verdict != Verdict::Replace => "Replace it".to_owned(),
        InHandAction::ReplaceAssembly => "Replace the assembly".to_owned(),
        InHandAction::ReplaceRebuilt => "Replace it with a rebuilt one".to_owned(),
        InHandAction::CleanAndReuse if advice.clean.cases > 0 && !tested => {
            "Clean it, test it, put it back".to_owned()
        }
        InHandAction::CleanAndReuse | InHandAction::Replace | InHandAction::Undecided => {
            headline(advice)
        }
    }
}

fn because(query: &InHandQuery, reading: Option<&ReadingSaid>) -> Vec<&'static str> {
    [
        (closed(query), "the part is not serviceable: what is opened is charged back"),
        (below_cut_off(reading), "it reads worse than the shop's cut-off"),
        (
            sold_in_assembly(query) && query.assembly_cost_minor.is_none(),
            "the assembly's price was not given: the part's own price was taken",
        ),
    ]
    .into_iter()
    .filter_map(|(holds, why)| holds.then_some(why))
    .collect()
}
