//! The form of a plan's steps: one row a step, read and written without script.

use super::page_job::ToldPoint;
use super::step::{PlanFinding, PlanLimits, PlanOpening, PlanSensitivity, PlanStep};
use crate::codes::lists::Lists;
use crate::domain::refusal::FieldFault;
use crate::problem::{Kind, Problem};
use crate::web::form::Fields;
use crate::web::words::Pick;

/// Rows to add steps in, at once.
const BLANK_ROWS: usize = 2;
/// Rows that are read: more than a plan has steps.
const MOST_ROWS: usize = 40;
/// Findings of a step that are read.
const MOST_POINTS: usize = 14;

/// A step's row as it stands in the form.
#[derive(Debug, Clone, Default)]
pub struct StepRow {
    /// What its fields' names begin with.
    pub at: String,
    pub place: String,
    /// Empty on a row that adds a step.
    pub code: String,
    pub label: String,
    pub minutes: String,
    pub mandatory: bool,
    pub misses: bool,
    pub out: bool,
    /// A field for each check that comes before it, and one more.
    pub afters: Vec<String>,
    pub opening: String,
    pub opening_minutes: String,
    pub unit: String,
    pub low: String,
    pub high: String,
    pub source: String,
    pub edition: String,
    pub caution: String,
    /// A row for each finding, and one more.
    pub points: Vec<PointRow>,
}

/// A finding's row.
#[derive(Debug, Clone)]
pub struct PointRow {
    pub at: String,
    pub told: ToldPoint,
}

/// The steps as the form's fields.
#[must_use]
pub fn fields_of(steps: &[PlanStep], lists: &Lists) -> Fields {
    let mut pairs: Vec<(String, String)> = Vec::new();
    for (at, step) in steps.iter().enumerate() {
        step_fields(at, step, lists, &mut pairs);
    }
    let pairs: Vec<(&str, String)> =
        pairs.iter().map(|(name, value)| (name.as_str(), value.clone())).collect();
    Fields::of(&pairs)
}

fn step_fields(at: usize, step: &PlanStep, lists: &Lists, pairs: &mut Vec<(String, String)>) {
    let mut put = |name: &str, value: String| pairs.push((format!("s{at}_{name}"), value));
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    put("place", (at + 1).to_string());
    put("check", step.check.clone());
    put("minutes", step.minutes.map(|minutes| minutes.to_string()).unwrap_or_default());
    if step.mandatory {
        put("mandatory", "yes".to_owned());
    }
    if step.sensitivity == PlanSensitivity::MayMiss {
        put("misses", "yes".to_owned());
    }
    step.after.iter().for_each(|code| put("after", code.clone()));
    if let Some(opening) = &step.opening {
        put("opening", opening.name.clone());
        put("opening_minutes", opening.minutes.to_string());
    }
    if let Some(limits) = &step.limits {
        put("unit", limits.unit.clone());
        put("low", number(limits.low));
        put("high", number(limits.high));
        put("source", limits.source.clone());
        put("edition", limits.edition.clone().unwrap_or_default());
    }
    put("caution", step.caution.clone().unwrap_or_default());
    for (line, point) in step.points_to.iter().enumerate() {
        let cause = point.cause.as_deref().map(|cause| lists.label("cause", cause));
        put(&format!("p{line}_finding"), point.finding.clone());
        put(&format!("p{line}_cause"), cause.unwrap_or_default());
        put(&format!("p{line}_correction"), point.correction.clone().unwrap_or_default());
    }
}

/// The rows of a form's fields, with some to add steps in.
#[must_use]
pub fn rows(fields: &Fields, lists: &Lists) -> Vec<StepRow> {
    let filled = (0..MOST_ROWS).rev().find(|at| !fields.typed(&format!("s{at}_check")).is_empty());
    let count = filled.map_or(0, |last| last + 1) + BLANK_ROWS;
    (0..count.min(MOST_ROWS)).map(|at| row(at, fields, lists)).collect()
}

fn row(at: usize, fields: &Fields, lists: &Lists) -> StepRow {
    let typed = |name: &str| fields.typed(&format!("s{at}_{name}")).to_owned();
    let ticked = |name: &str| fields.holds(&format!("s{at}_{name}"));
    let code = typed("check");
    let point = |line: usize| ToldPoint {
        finding: typed(&format!("p{line}_finding")),
        cause: Some(typed(&format!("p{line}_cause"))),
        correction: Some(typed(&format!("p{line}_correction"))),
    };
    let written = |point: &ToldPoint| {
        let empty = |text: &Option<String>| text.as_ref().is_none_or(String::is_empty);
        !(point.finding.is_empty() && empty(&point.cause) && empty(&point.correction))
    };
    let mut told: Vec<ToldPoint> = (0..MOST_POINTS).map(point).filter(written).collect();
    told.push(ToldPoint { finding: String::new(), cause: None, correction: None });
    let points = told.into_iter().enumerate();
    let mut afters: Vec<String> =
        fields.all(&format!("s{at}_after")).into_iter().filter(|code| !code.is_empty()).collect();
    afters.push(String::new());
    StepRow {
        place: if typed("place").is_empty() { (at + 1).to_string() } else { typed("place") },
        label: if code.is_empty() { String::new() } else { lists.label("check", &code) },
        code,
        minutes: typed("minutes"),
        mandatory: ticked("mandatory"),
        misses: ticked("misses"),
        out: ticked("out"),
        afters,
        opening: typed("opening"),
        opening_minutes: typed("opening_minutes"),
        unit: typed("unit"),
        low: typed("low"),
        high: typed("high"),
        source: typed("source"),
        edition: typed("edition"),
        caution: typed("caution"),
        points: points
            .map(|(line, told)| PointRow { at: format!("s{at}_p{line}"), told })
            .collect(),
        at: format!("s{at}"),
    }
}

/// The checks of a plan, as choices of what comes before a step.
#[must_use]
pub fn checks_of(rows: &[StepRow]) -> Vec<Pick> {
    rows.iter()
        .filter(|row| !row.code.is_empty())
        .map(|row| Pick::new(&*row.code, &*row.label))
        .collect()
}

/// Reads one row; collects what cannot be read.
struct RowReader<'a> {
    fields: &'a Fields,
    at: usize,
    label: String,
    faults: &'a mut Vec<FieldFault>,
}

impl RowReader<'_> {
    fn text(&self, name: &str) -> Option<String> {
        self.fields.text(&format!("s{}_{name}", self.at))
    }

    fn number<T: std::str::FromStr>(&mut self, name: &str, what: &str) -> Option<T> {
        let text = self.text(name)?;
        let number = text.parse().ok();
        if number.is_none() {
            let detail = format!("{}: write {what} as a number", self.label);
            self.faults.push(FieldFault::new("", "number", detail));
        }
        number
    }
}

/// The steps of a form, in the order of their places.
///
/// # Errors
/// What cannot be read, each with the step it is about.
pub fn steps_of(fields: &Fields, lists: &Lists) -> Result<Vec<PlanStep>, Problem> {
    let mut faults = Vec::new();
    let mut placed: Vec<(f64, PlanStep)> = Vec::new();
    for at in 0..MOST_ROWS {
        let Some(check) = fields.text(&format!("s{at}_check")) else { continue };
        if fields.holds(&format!("s{at}_out")) {
            continue;
        }
        let label = lists.label("check", &check);
        let mut read = RowReader { fields, at, label, faults: &mut faults };
        let place = read.number("place", "its place").unwrap_or(at as f64 + 1.0);
        placed.push((place, step(&mut read, check, lists)));
    }
    if !faults.is_empty() {
        return Err(Problem::invalid(faults));
    }
    // Stable: of two at one place the one above stays above.
    placed.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let mut steps: Vec<PlanStep> = placed.into_iter().map(|(_, step)| step).collect();
    // A check that was taken out is waited for no more.
    let there: Vec<String> = steps.iter().map(|step| step.check.clone()).collect();
    for step in &mut steps {
        step.after.retain(|code| there.contains(code));
    }
    Ok(steps)
}

fn step(read: &mut RowReader<'_>, check: String, lists: &Lists) -> PlanStep {
    let at = read.at;
    let (unit, source) = (read.text("unit"), read.text("source"));
    let (low, high) =
        (read.number("low", "the lower limit"), read.number("high", "the upper limit"));
    let limited = unit.is_some() || source.is_some() || low.is_some() || high.is_some();
    let opening_minutes = read.number("opening_minutes", "the minutes of opening");
    PlanStep {
        minutes: read.number("minutes", "its minutes"),
        mandatory: read.fields.holds(&format!("s{at}_mandatory")),
        after: read
            .fields
            .all(&format!("s{at}_after"))
            .into_iter()
            .filter(|code| !code.is_empty())
            .collect(),
        opening: read
            .text("opening")
            .map(|name| PlanOpening { name, minutes: opening_minutes.unwrap_or(0) }),
        sensitivity: if read.fields.holds(&format!("s{at}_misses")) {
            PlanSensitivity::MayMiss
        } else {
            PlanSensitivity::Conclusive
        },
        limits: limited.then(|| PlanLimits {
            unit: unit.unwrap_or_default(),
            low,
            high,
            source: source.unwrap_or_default(),
            edition: read.text("edition"),
        }),
        caution: read.text("caution"),
        points_to: points(read, lists),
        check,
    }
}

fn points(read: &mut RowReader<'_>, lists: &Lists) -> Vec<PlanFinding> {
    let mut points = Vec::new();
    for line in 0..MOST_POINTS {
        let part = |name: &str| read.text(&format!("p{line}_{name}"));
        let (finding, cause, correction) = (part("finding"), part("cause"), part("correction"));
        if finding.is_none() && cause.is_none() && correction.is_none() {
            continue;
        }
        let code = cause.as_deref().map(|cause| {
            lists.coded("cause", cause).unwrap_or_else(|| {
                let detail = format!("{}: '{cause}' is not in the list of causes", read.label);
                read.faults.push(FieldFault::new("", "unknown_code", detail));
                cause.to_owned()
            })
        });
        points.push(PlanFinding { finding: finding.unwrap_or_default(), cause: code, correction });
    }
    points
}

/// The same problem, with the step of each fault named instead of its place in
/// what was sent.
#[must_use]
pub fn named(mut problem: Problem, steps: &[PlanStep], lists: &Lists) -> Problem {
    if problem.kind != Kind::INVALID {
        return problem;
    }
    for fault in &mut problem.errors {
        let mut parts = fault.pointer.split('/').skip(1);
        if parts.next() != Some("steps") {
            continue;
        }
        let step = parts.next().and_then(|at| at.parse::<usize>().ok());
        let label = step.and_then(|at| steps.get(at)).map(|step| lists.label("check", &step.check));
        if let Some(label) = label {
            fault.detail = format!("{label}: {}", fault.detail);
        }
        fault.pointer = String::new();
    }
    problem
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::super::starting;
    use super::*;

    #[test]
    fn every_starting_plan_goes_through_the_form_unchanged() {
        let lists = Lists::default();
        for plan in starting::all() {
            let steps = plan.steps();
            let read = steps_of(&fields_of(&steps, &lists), &lists);
            // Without a list no cause is known: each is told, none else.
            let causes = steps.iter().flat_map(|step| &step.points_to);
            let causes = causes.filter(|point| point.cause.is_some()).count();
            let faults = read.err().map(|problem| problem.errors).unwrap_or_default();
            assert_eq!(faults.len(), causes, "{}", plan.symptom);
            let bare: Vec<PlanStep> = steps
                .into_iter()
                .map(|mut step| {
                    step.points_to.iter_mut().for_each(|point| point.cause = None);
                    step
                })
                .collect();
            assert_eq!(steps_of(&fields_of(&bare, &lists), &lists).unwrap(), bare);
        }
    }

    #[test]
    fn places_order_and_what_is_taken_out_is_waited_for_no_more() {
        let lists = Lists::default();
        let b = PlanStep { after: vec!["a".into()], ..PlanStep::plain("b") };
        let steps = [PlanStep::plain("a"), b, PlanStep::plain("c")];
        let fields = fields_of(&steps, &lists).with("s2_place", "1.5").with("s0_out", "yes");
        let read = steps_of(&fields, &lists).unwrap();
        let codes: Vec<&str> = read.iter().map(|step| step.check.as_str()).collect();
        assert_eq!(codes, ["c", "b"]);
        assert!(read.iter().all(|step| step.after.is_empty()));
        let rows = rows(&fields, &lists);
        assert_eq!((rows.len(), rows.iter().filter(|row| row.code.is_empty()).count()), (5, 2));
    }
}
