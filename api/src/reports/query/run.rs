//! The report that answers a query.

use std::collections::BTreeMap;

use analytics::Written;
use analytics::bench::{BenchQuery, BenchReport, bench};
use analytics::comeback::{self, ComebackReport};
use analytics::compare::{CompareReport, compare};
use analytics::effect::{EffectQuery, EffectReport, effect};
use analytics::figure::Head;
use analytics::history::{History, ShopFacts};
use analytics::labor::{self, ComebackCost, LaborLine, LaborReport, Ratio};
use analytics::path::{CheckOrderReport, PathReport, check_orders, paths};
use analytics::pattern::{PatternQuery, PatternReport, pattern};
use analytics::preparation::hand_over::{HandOverQuery, HandOverReport, hand_over};
use analytics::repeats::{RepeatReport, repeats};
use analytics::reuse::{
    Advice, AdviceQuery, EstimateReport, HeldRole, PartLine, ReuseReport, ReuseTally, advise_from,
    estimate, reuse_from,
};
use analytics::select::{JobLine, select};
use analytics::warning::{WarningsQuery, WarningsReport, warnings};
use analytics::weekly::{WeekQuery, WeeklyReview, weekly};
use analytics::words::PartRole;
use serde::Serialize;

use super::money::money_text;
use super::{Known, ReportName, ReportQuery, Resolved, resolve};
use crate::domain::clock::UtcStamp;
use crate::domain::refusal::Refusal;
use crate::reports::live::Question;
use crate::shops::model::Shop;

/// One report's answer.
#[derive(Debug, Clone)]
#[expect(clippy::large_enum_variant, reason = "one at a time is made, and moved twice")]
pub enum Report {
    Weekly(WeeklyReview),
    Comebacks(ComebackReport),
    Reuse(ReuseReport),
    Paths(PathReport),
    Labor(LaborReport),
    Compare(CompareReport),
    Checks(CheckOrderReport),
    Repeats(RepeatReport),
    Pattern(PatternReport),
    Bench(BenchReport),
    HandOver(HandOverReport),
    Effect(EffectReport),
    Warnings(WarningsReport),
    Estimate(EstimateReport),
    Jobs(JobsReport),
}

impl Report {
    /// As-of, change number and definitions.
    #[must_use]
    pub const fn head(&self) -> &Head {
        match self {
            Self::Weekly(report) => &report.head,
            Self::Comebacks(report) => &report.head,
            Self::Reuse(report) => &report.head,
            Self::Paths(report) => &report.head,
            Self::Labor(report) => &report.head,
            Self::Compare(report) => &report.head,
            Self::Checks(report) => &report.head,
            Self::Repeats(report) => &report.head,
            Self::Pattern(report) => &report.head,
            Self::Bench(report) => &report.head,
            Self::HandOver(report) => &report.head,
            Self::Effect(report) => &report.head,
            Self::Warnings(report) => &report.head,
            Self::Estimate(report) => &report.head,
            Self::Jobs(report) => &report.head,
        }
    }

    /// What writes it as JSON, where the loops are compiled for speed.
    #[must_use]
    pub fn written(&self) -> &dyn Written {
        match self {
            Self::Weekly(report) => report,
            Self::Comebacks(report) => report,
            Self::Reuse(report) => report,
            Self::Paths(report) => report,
            Self::Labor(report) => report,
            Self::Compare(report) => report,
            Self::Checks(report) => report,
            Self::Repeats(report) => report,
            Self::Pattern(report) => report,
            Self::Bench(report) => report,
            Self::HandOver(report) => report,
            Self::Effect(report) => report,
            Self::Warnings(report) => report,
            Self::Estimate(report) => report,
            Self::Jobs(report) => report,
        }
    }

    /// The same, to be changed.
    #[must_use]
    pub const fn head_mut(&mut self) -> &mut Head {
        match self {
            Self::Weekly(report) => &mut report.head,
            Self::Comebacks(report) => &mut report.head,
            Self::Reuse(report) => &mut report.head,
            Self::Paths(report) => &mut report.head,
            Self::Labor(report) => &mut report.head,
            Self::Compare(report) => &mut report.head,
            Self::Checks(report) => &mut report.head,
            Self::Repeats(report) => &mut report.head,
            Self::Pattern(report) => &mut report.head,
            Self::Bench(report) => &mut report.head,
            Self::HandOver(report) => &mut report.head,
            Self::Effect(report) => &mut report.head,
            Self::Warnings(report) => &mut report.head,
            Self::Estimate(report) => &mut report.head,
            Self::Jobs(report) => &mut report.head,
        }
    }
}

/// The jobs behind a figure.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct JobsReport {
    pub head: Head,
    /// What they were selected by.
    pub select: String,
    pub count: i64,
    pub jobs: Vec<JobLine>,
}

impl Written for JobsReport {
    fn json(&self) -> serde_json::Result<String> {
        serde_json::to_string(self)
    }

    fn pretty_json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self)
    }
}

/// The report that answers a query.
///
/// # Errors
/// Where the query names a column that the report does not know.
fn run(history: &History, name: ReportName, asked: &Resolved) -> Result<Report, Refusal> {
    Ok(match name {
        ReportName::Weekly => Report::Weekly(weekly(
            history,
            &WeekQuery {
                as_of: asked.figures.as_of,
                week_from: asked.week_from,
                window_days: asked.figures.window_days,
            },
        )),
        ReportName::Comebacks => {
            let most = if asked.every_return { usize::MAX } else { comeback::MOST_RETURNS };
            let report = comeback::comebacks_listing(history, &asked.figures, most);
            Report::Comebacks(report.map_err(no_column)?)
        }
        ReportName::Reuse => Report::Reuse(reuse_report(history, asked)),
        ReportName::Paths => Report::Paths(path_report(history, asked)),
        ReportName::Labor => {
            Report::Labor(labor::labor(history, &asked.figures).map_err(no_column)?)
        }
        ReportName::Compare => {
            Report::Compare(compare(history, &asked.figures).map_err(no_column)?)
        }
        ReportName::Checks => Report::Checks(check_order_report(history, asked)),
        ReportName::Repeats => {
            Report::Repeats(repeats(history, &asked.figures).map_err(no_column)?)
        }
        ReportName::Pattern => Report::Pattern(pattern(history, &pattern_query(asked))),
        ReportName::Bench => Report::Bench(bench(history, &bench_query(asked))),
        ReportName::HandOver => Report::HandOver(hand_over(history, &hand_over_query(asked))),
        ReportName::Effect => Report::Effect(effect(history, &effect_query(asked))),
        ReportName::Warnings => Report::Warnings(warnings(history, &warnings_query(asked))),
        ReportName::Estimate => Report::Estimate(estimate(history, &asked.in_hand())),
        ReportName::Jobs => Report::Jobs(jobs_report(history, asked)),
    })
}

fn no_column(word: String) -> Refusal {
    Refusal::field("by", "value", format!("there is no column {word}"))
}

/// Resolves, follows merged codes and runs.
///
/// # Errors
/// See [`resolve`]; a symptom or part that is not known.
pub fn answer(
    history: &History,
    known: &Known,
    shop: &Shop,
    now: UtcStamp,
    name: ReportName,
    query: &ReportQuery,
) -> Result<Report, Refusal> {
    let asked = known.follow(history, resolve(name, &known.asked(query)?, shop, now)?)?;
    let mut report = run(history, name, &asked)?;
    let style = shop.style();
    match &mut report {
        Report::Reuse(reuse) => {
            for advice in reuse.parts.iter_mut().filter_map(|line| line.advice.as_mut()) {
                advice.money_text = money_text(advice, &style);
            }
        }
        Report::Estimate(estimate) => {
            estimate.advice.money_text = money_text(&estimate.advice, &style);
        }
        Report::Warnings(warnings) => known.silence(warnings),
        _ => {}
    }
    Ok(report)
}

/// The answer without what the asker may not see.
///
/// # Errors
/// As [`answer`].
pub fn permitted(
    history: &History,
    known: &Known,
    shop: &Shop,
    now: UtcStamp,
    question: &Question,
) -> Result<Report, Refusal> {
    let mut report = answer(history, known, shop, now, question.name, &question.query)?;
    match (&mut report, &question.own) {
        (Report::Labor(labor), Some(own)) => only_own(labor, own),
        (Report::Compare(compared), Some(own)) => only_own_group(compared, own),
        (report, _) if !question.costs => without_costs(report),
        _ => {}
    }
    Ok(report)
}

/// All parts, or the asked one with its advice, which is given whether or not
/// the shop has seen the part.
fn reuse_report(history: &History, asked: &Resolved) -> ReuseReport {
    let tally = ReuseTally::of(history);
    let mut report = reuse_from(&tally, history.facts(), history.change_no(), &asked.figures);
    let wanted = &asked.part;
    report.parts.retain(|line| {
        wanted.part.as_ref().is_none_or(|part| *part == line.part)
            && wanted.role.is_none_or(|role| line.role == Some(role))
    });
    if let Some(part) = &wanted.part {
        answer_about(&mut report, part, asked, (&tally, history.facts()));
    }
    report
}

/// Puts the advice on the asked part, with what was asked with it, in its lines.
fn answer_about(
    report: &mut ReuseReport,
    part: &str,
    asked: &Resolved,
    (tally, facts): (&ReuseTally, &ShopFacts),
) {
    let wanted = &asked.part;
    let roles = wanted.role.map_or(vec![PartRole::Suspect, PartRole::Bystander], |role| vec![role]);
    for held in roles.into_iter().filter_map(HeldRole::of) {
        let question = AdviceQuery {
            part: part.to_owned(),
            role: held,
            cause_curable: wanted.curable,
            bench_tested: wanted.tested,
            as_of: asked.figures.as_of,
            window_days: asked.figures.window_days,
            overrides: wanted.overrides,
        };
        let advice = advise_from(tally, facts, &question);
        let role = Some(held.part_role());
        match report.parts.iter_mut().find(|line| line.role == role) {
            Some(line) => line.advice = Some(advice),
            None => report.parts.push(PartLine {
                part: part.to_owned(),
                name: part.to_owned(),
                role,
                uses: 0,
                choices: Vec::new(),
                advice: Some(advice),
            }),
        }
    }
}

/// Leaves of a report what may be seen without costs: shares and verdicts stay,
/// amounts do not, nor ratios of amounts from which one could be worked out.
pub(super) fn without_costs(report: &mut Report) {
    let head = match report {
        Report::Reuse(reuse) => {
            reuse
                .parts
                .iter_mut()
                .filter_map(|line| line.advice.as_mut())
                .for_each(advice_without_costs);
            &mut reuse.head
        }
        Report::Estimate(estimate) => {
            advice_without_costs(&mut estimate.advice);
            estimate.turnings.clear();
            if let Some(rebuilt) = &mut estimate.rebuilt {
                rebuilt.replace_minor = None;
            }
            &mut estimate.head
        }
        Report::Bench(bench) => {
            for part in &mut bench.parts {
                part.costs = None;
                part.break_even_share = None;
                part.cut_offs.iter_mut().for_each(|line| line.cost_minor = None);
            }
            &mut bench.head
        }
        Report::HandOver(report) => {
            for line in &mut report.lines {
                line.hold_minor = None;
                line.return_extra_minor = None;
                line.break_even_share = None;
                line.cut_offs.iter_mut().for_each(|cut_off| cut_off.cost_minor = None);
            }
            &mut report.head
        }
        Report::Pattern(pattern) => {
            pattern.parts.iter_mut().for_each(|line| line.replacement = None);
            &mut pattern.head
        }
        Report::Repeats(repeats) => {
            repeats.withhold_costs();
            &mut repeats.head
        }
        Report::Effect(effect) => {
            effect.cost = None;
            &mut effect.head
        }
        _ => return,
    };
    head.definitions.insert(
        "costs",
        "Costs, and shares at which costs are even, are for the service manager and the owner; \
         they are withheld here.",
    );
}

fn advice_without_costs(advice: &mut Advice) {
    advice.costs = None;
    advice.together = None;
    advice.shop = None;
    advice.break_even_gap = None;
    advice.break_even_share = None;
    advice.while_open_threshold = None;
    advice.money_text = None;
}

/// Leaves of a labor report what one person may see: the own line, without
/// money. What is withheld reads nothing, and the head says so.
pub(super) fn only_own(report: &mut LaborReport, name: &str) {
    report.lines.retain(|line| line.group.as_deref() == Some(name));
    for line in &mut report.lines {
        line.withhold_money();
    }
    let withheld = LaborLine {
        group: None,
        count: 0,
        flat_rate_hours: 0.0,
        clock_hours: 0.0,
        lost_hours: 0.0,
        efficiency: nothing(&report.total.efficiency),
        efficiency_without_comebacks: nothing(&report.total.efficiency_without_comebacks),
        attended_hours: None,
        started_clock_hours: None,
        productivity: None,
        overall: None,
        billed_hours: 0.0,
        labor_amount_minor: None,
        effective_labor_rate: nothing(&report.total.effective_labor_rate),
        diagnosis_share: None,
        comebacks: 0,
        comeback_jobs: String::new(),
        comeback_hours: 0.0,
        unclocked: 0,
        unclocked_flat_rate_hours: 0.0,
        jobs: String::new(),
    };
    report.total = report.lines.first().cloned().unwrap_or(withheld);
    report.total.group = None;
    report.comebacks = ComebackCost {
        count: report.total.comebacks,
        clock_hours: report.total.comeback_hours,
        labor_minor: None,
        parts_minor: None,
        sublet_minor: None,
        extra_minor: None,
        paid_back_minor: None,
        total_minor: None,
        definition: report.comebacks.definition,
    };
    // How everybody's complaints ended is not the own line either.
    report.outcomes.clear();
    report.head.definitions.insert(
        "own",
        "Your own line only. Amounts of money and the figures of others are withheld; they read \
         nothing here.",
    );
}

/// Leaves of a comparison what one person may see: the own line. What others
/// did stands in it only as what the mix of jobs lets expect.
pub(super) fn only_own_group(report: &mut CompareReport, name: &str) {
    report.groups.retain(|group| group.group.as_deref() == Some(name));
    for group in &mut report.groups {
        group.others = None;
    }
    report.total = None;
    report.strength = None;
    report.funnel.clear();
    report.head.definitions.insert(
        "own",
        "Your own line only. The figures of others are withheld; they read nothing here.",
    );
}

fn nothing(ratio: &Ratio) -> Ratio {
    Ratio {
        count: 0,
        value: None,
        standard_error: None,
        interval: None,
        too_few: true,
        definition: ratio.definition,
        jobs: String::new(),
    }
}

fn pattern_query(asked: &Resolved) -> PatternQuery {
    PatternQuery {
        figures: asked.figures.clone(),
        part: asked.part.part.clone(),
        role: asked.part.role,
    }
}

fn bench_query(asked: &Resolved) -> BenchQuery {
    BenchQuery {
        figures: asked.figures.clone(),
        part: asked.part.part.clone(),
        role: asked.part.role,
        better: asked.better,
    }
}

fn hand_over_query(asked: &Resolved) -> HandOverQuery {
    HandOverQuery {
        figures: asked.figures.clone(),
        line: asked.hand_over.line.clone(),
        better: asked.better,
        hold_minutes: asked.hand_over.hold_minutes,
    }
}

fn effect_query(asked: &Resolved) -> EffectQuery {
    EffectQuery {
        figures: asked.figures.clone(),
        jobs: asked.select.clone(),
        // Resolving refuses a query without a start, or without a review day.
        start: asked.rule.start.unwrap_or(asked.figures.as_of),
        review: asked.rule.review.unwrap_or(asked.figures.as_of),
        withdrawn: asked.rule.withdrawn,
        kept: asked.rule.kept.clone(),
        not_known: asked.rule.not_known.clone(),
    }
}

fn warnings_query(asked: &Resolved) -> WarningsQuery {
    WarningsQuery {
        as_of: asked.figures.as_of,
        week_from: asked.week_from,
        window_days: asked.figures.window_days,
        planned: asked.planned.clone(),
    }
}

fn path_report(history: &History, asked: &Resolved) -> PathReport {
    let mut report = paths(history, &asked.figures);
    if let Some(symptom) = &asked.symptom {
        report.symptoms.retain(|line| line.symptom == *symptom);
        report.plans.retain(|plan| plan.symptom == *symptom);
        report.outcomes =
            report.symptoms.first().map(|line| line.outcomes.clone()).unwrap_or_default();
    }
    report
}

fn check_order_report(history: &History, asked: &Resolved) -> CheckOrderReport {
    let mut report = check_orders(history, &asked.figures, asked.first.as_deref());
    report
        .symptoms
        .retain(|line| asked.symptom.as_ref().is_none_or(|symptom| line.symptom == *symptom));
    report
}

fn jobs_report(history: &History, asked: &Resolved) -> JobsReport {
    let facts = history.facts();
    let window_days = asked.figures.window_days.unwrap_or(facts.window_days);
    let jobs = select(history, &asked.select, asked.figures.as_of, window_days);
    JobsReport {
        head: Head {
            report: ReportName::Jobs.as_str(),
            shop: facts.code.clone(),
            as_of: asked.figures.as_of,
            from: None,
            to: None,
            change_no: history.change_no(),
            window_days,
            currency: facts.currency.clone(),
            definitions: BTreeMap::new(),
        },
        select: asked.select.to_string(),
        count: i64::try_from(jobs.len()).unwrap_or(i64::MAX),
        jobs,
    }
}
