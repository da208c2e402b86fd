//! The page of a sheet: one line after another, with its verdict at once.

use actix_web::{HttpRequest, HttpResponse};
use analytics::preparation::{Bound, Kind, Line, LineVerdict, Verdict};
use askama::Template;

use super::sheets::{self, ReadingTaken, ShownReadingSheet};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::ReadingSheetId;
use crate::jobs::brief;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::vehicles::model as vehicles;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer};
use crate::web::words::{self, Pick};

/// What is written for each bound.
#[must_use]
pub const fn bound_words(bound: Bound) -> &'static str {
    match bound {
        Bound::Least => "at least",
        Bound::Most => "at most",
        Bound::MeanLeast => "mean at least",
        Bound::SpreadMost => "spread at most",
    }
}

/// A limit as people read it, with its source.
pub struct ToldLimit {
    pub text: String,
    pub source: String,
}

/// The limits of a line, and what else rests on somebody's word.
#[must_use]
pub fn limits(line: &Line) -> Vec<ToldLimit> {
    let sourced = |source: &str, edition: Option<&String>| match edition {
        Some(edition) => format!("{source}, {edition}"),
        None => source.to_owned(),
    };
    let unit = line.unit.as_deref();
    let mut told: Vec<ToldLimit> = line
        .limits
        .iter()
        .map(|limit| ToldLimit {
            text: format!("{} {}", bound_words(limit.bound), words::reading(limit.value, unit)),
            source: sourced(&limit.source, limit.edition.as_ref()),
        })
        .collect();
    if line.kind.is_measured() && line.limits.is_empty() {
        let source = sourced(line.source.as_deref().unwrap_or("the shop"), line.edition.as_ref());
        told.push(ToldLimit { text: "no limit set".to_owned(), source });
    }
    told.extend(line.correction.as_ref().map(|rule| ToldLimit {
        text: format!(
            "corrected by {} for every {} {} from {}",
            rule.per_step,
            rule.step,
            words::reading(0.0, Some(rule.unit.as_str())).trim_start_matches("0 "),
            words::reading(rule.from, Some(rule.unit.as_str()))
        ),
        source: sourced(&rule.source, rule.edition.as_ref()),
    }));
    told.extend(line.repeat_days.map(|days| ToldLimit {
        text: format!("in stock again every {days} days"),
        source: sourced(line.source.as_deref().unwrap_or("the shop"), line.edition.as_ref()),
    }));
    told.extend(line.loss.as_ref().map(|loss| ToldLimit {
        text: format!("standing, it loses about {} a day, for {} days", loss.per_day, loss.days()),
        source: sourced(&loss.source, loss.edition.as_ref()),
    }));
    told
}

/// An attempt at a line as it was taken.
struct ToldAttempt {
    number: i32,
    values: String,
    who: String,
}

/// A line of the sheet.
struct ToldLine {
    key: String,
    label: String,
    kind: Kind,
    how: Option<String>,
    unit: Option<String>,
    places: Vec<u32>,
    corrected: bool,
    /// One of several of which one is enough.
    one_of: bool,
    /// Every vehicle has it.
    always: bool,
    verdict: &'static str,
    /// Of the look: `pass`, `fail`, `open`.
    look: &'static str,
    why: String,
    /// Whether something stands for it.
    read: bool,
    fails: bool,
    instruction: Option<String>,
    cautions: Vec<String>,
    limits: Vec<ToldLimit>,
    source: Option<String>,
    /// The latest first.
    attempts: Vec<ToldAttempt>,
}

impl ToldLine {
    fn is_number(&self) -> bool {
        self.kind == Kind::Number
    }

    fn is_cells(&self) -> bool {
        self.kind == Kind::Cells
    }

    fn is_yes_no(&self) -> bool {
        self.kind == Kind::YesNo
    }

    /// The form's words before the field.
    fn field(&self) -> String {
        match self.unit.as_deref() {
            Some("1") | None => "Reading".to_owned(),
            Some(unit) => format!("Reading, {}", unit_name(unit)),
        }
    }
}

/// A unit as people write it.
fn unit_name(unit: &str) -> String {
    words::reading(0.0, Some(unit)).trim_start_matches("0 ").to_owned()
}

/// Why the line has its verdict; what passes with its unit, and whether there was
/// a limit to miss.
fn why(line: &Line, verdict: &LineVerdict) -> String {
    if verdict.verdict != Verdict::Pass || !line.kind.is_measured() {
        return verdict.why.clone();
    }
    let unit = line.unit.as_deref().filter(|unit| *unit != "1");
    let unit = unit.map_or_else(String::new, |unit| format!(" {}", unit_name(unit)));
    let limit = if line.limits.is_empty() { "; no limit set" } else { "" };
    format!("{}{unit}{limit}.", verdict.why.trim_end_matches('.'))
}

const fn verdict_word(verdict: Verdict, read: bool) -> (&'static str, &'static str) {
    match verdict {
        Verdict::Pass => ("passes", "pass"),
        Verdict::Fail => ("fails", "fail"),
        Verdict::NotApplicable if read => ("not on this vehicle", "pass"),
        Verdict::NotApplicable => ("not needed", "pass"),
        Verdict::NotMeasured => ("open", "open"),
    }
}

/// A value as it was read, and beside it as it counts.
fn shown_value(line: &Line, row: &ReadingTaken) -> Option<String> {
    let value = row.value?;
    if line.kind == Kind::YesNo {
        return Some(if value > 0.5 { "yes" } else { "no" }.to_owned());
    }
    let read = words::reading(value, row.unit.as_deref());
    let taken = row.taken();
    let counts = analytics::preparation::counted(line, value, taken.temperature);
    let text = match counts.filter(|_| line.correction.is_some()) {
        Some(counts) => format!("{read} (counts as {counts})"),
        None => read,
    };
    let place = row.place.as_deref().map_or_else(String::new, |place| format!("{place}: "));
    Some(format!("{place}{text}"))
}

fn attempts(line: &Line, readings: &[ReadingTaken], words: &Words) -> Vec<ToldAttempt> {
    let rows: Vec<&ReadingTaken> = readings.iter().filter(|row| row.line_key == line.key).collect();
    let mut told: Vec<ToldAttempt> = rows
        .chunk_by(|a, b| a.attempt == b.attempt)
        .filter_map(|chunk| {
            let first = chunk.first()?;
            let mut said: Vec<String> =
                chunk.iter().filter_map(|row| shown_value(line, row)).collect();
            let at = first.temperature.map(|value| {
                format!("at {}", words::reading(value, first.temperature_unit.as_deref()))
            });
            said.extend(at);
            if first.state != "measured" {
                said.push(first.state.replace('_', " "));
            }
            said.extend(first.words.clone());
            said.extend(first.reason.clone());
            let name = words.name(Some(&first.person_id)).unwrap_or_default();
            Some(ToldAttempt {
                number: first.attempt,
                values: said.join(", "),
                who: format!("{name}, {}", words.moment(first.taken_at)),
            })
        })
        .collect();
    told.reverse();
    told
}

fn told_line(
    line: &Line,
    verdict: &LineVerdict,
    (readings, words): (&[ReadingTaken], &Words),
) -> ToldLine {
    let read = verdict.attempt.is_some();
    let (word, look) = verdict_word(verdict.verdict, read);
    ToldLine {
        key: line.key.clone(),
        label: line.label.clone(),
        kind: line.kind,
        how: line.how.clone(),
        unit: line.unit.clone(),
        places: (1..=line.places()).collect(),
        corrected: line.correction.is_some(),
        one_of: line.one_of.is_some(),
        always: line.always,
        verdict: word,
        look,
        why: why(line, verdict),
        read,
        fails: verdict.verdict == Verdict::Fail,
        instruction: line.instruction.clone(),
        cautions: line.cautions.clone(),
        limits: limits(line),
        source: line.source.clone(),
        attempts: attempts(line, readings, words),
    }
}

#[derive(Template)]
#[template(path = "sheet.html")]
pub struct SheetPage {
    viewer: Viewer,
    notice: Option<Notice>,
    shop: String,
    id: String,
    vehicle: String,
    vehicle_id: String,
    job: Option<(String, String)>,
    list: String,
    list_id: String,
    number: i32,
    begun: String,
    passed: Option<String>,
    note: Option<String>,
    passes: bool,
    open: usize,
    /// What is owed of lines of which one is enough.
    owed: Vec<String>,
    lines: Vec<ToldLine>,
    writes: bool,
    degrees: Vec<Pick>,
    tried: Option<Tried>,
}

impl SheetPage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), Fields::default())
    }

    /// How many lines let the vehicle go.
    fn done(&self) -> usize {
        self.lines.iter().filter(|line| line.look == "pass").count()
    }

    /// The page's own address.
    fn base(&self) -> String {
        format!("/shops/{}/preparation/sheets/{}", self.shop, self.id)
    }

    fn line(&self, line: &ToldLine) -> FormView {
        let blank = Fields::of(&[("temperature_unit", "[degF]".to_owned())]);
        FormView::of_line("reading", &line.key, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        let tried = self.tried.as_ref()?;
        Some(FormView::of(tried.form, Some(tried), Fields::default()))
    }

    fn refused_form(&self) -> String {
        self.tried.as_ref().map_or_else(String::new, |tried| match tried.fields.typed("line") {
            "" => tried.form.to_owned(),
            line => format!("line-{line}"),
        })
    }
}

struct Loaded {
    words: Words,
    shown: ShownReadingSheet,
    vehicle: String,
    /// Number and status of the order.
    job: Option<(String, String, String)>,
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp, id: &ReadingSheetId) -> Answer<Loaded> {
    let sheet = sheets::by_id(conn, shop.id, id)?;
    let job = match &sheet.job_id {
        Some(job) => {
            let brief = brief::of(conn, shop.id, job)?;
            Some((job.to_string(), brief.number(), brief.status))
        }
        None => None,
    };
    Ok(Loaded {
        words: Words::load(conn, shop, now)?,
        vehicle: vehicles::by_id(conn, shop.id, &sheet.vehicle_id)?.label(),
        shown: sheets::shown(conn, sheet)?,
        job,
    })
}

/// What was just done to the sheet.
fn told(did: Option<&Did>, shown: &ShownReadingSheet) -> Option<Notice> {
    let did = did?;
    if did.word == "begun" {
        return Some(Notice::plain("The sheet is begun."));
    }
    if did.word == "passed" {
        return Some(Notice::plain("It passes. The sheet is ended."));
    }
    let key = did.id_of("reading")?;
    let line = shown.lines.iter().find(|line| line.key == key)?;
    let verdict = shown.verdict.lines.iter().find(|line| line.key == key)?;
    let (word, _) = verdict_word(verdict.verdict, verdict.attempt.is_some());
    Some(Notice::plain(format!("{}: {word}. {}", line.label, why(line, verdict))))
}

/// The page of a sheet.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn view(
    ctx: &Ctx,
    id: ReadingSheetId,
    (did, tried): (Option<Did>, Option<Tried>),
) -> Result<SheetPage, Problem> {
    let now = ctx.now;
    let Loaded { words, shown, vehicle, job } =
        ctx.read(move |conn, shop| load(conn, shop, now, &id)).await?;
    let here = job.as_ref().is_none_or(|(_, _, status)| status == "open");
    let open = sheets::open_keys(&shown);
    let lines = shown.lines.iter().filter_map(|line| {
        let verdict = shown.verdict.lines.iter().find(|verdict| verdict.key == line.key)?;
        let mut told = told_line(line, verdict, (&shown.readings, &words));
        // Of lines of which none is on the vehicle one is owed all the same.
        if told.look == "pass" && open.contains(&line.key.as_str()) {
            told.look = "open";
        }
        Some(told)
    });
    let sheet = &shown.sheet;
    Ok(SheetPage {
        notice: told(did.as_ref(), &shown),
        id: sheet.id.to_string(),
        vehicle,
        vehicle_id: sheet.vehicle_id.to_string(),
        job: job.map(|(id, number, _)| (id, number)),
        list: shown.list_name.clone(),
        list_id: shown.list_id.to_string(),
        number: shown.list_number,
        begun: format!(
            "{}, {}",
            words.name(Some(&sheet.begun_by)).unwrap_or_default(),
            words.moment(sheet.begun_at)
        ),
        passed: sheet.passed_at.map(|at| {
            let who = words.name(sheet.passed_by.as_ref()).unwrap_or_default();
            format!("{who}, {}", words.moment(at))
        }),
        note: sheet.note.clone(),
        passes: shown.verdict.passes,
        open: open.len(),
        owed: shown
            .verdict
            .groups
            .iter()
            .filter(|group| group.verdict == Verdict::NotMeasured)
            .map(|group| group.why.clone())
            .collect(),
        lines: lines.collect(),
        writes: sheet.passed_at.is_none() && viewer_writes(ctx, here),
        degrees: vec![Pick::new("[degF]", "°F"), Pick::new("Cel", "°C")],
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        tried,
    })
}

/// After the hand-over only who corrects may take a reading.
fn viewer_writes(ctx: &Ctx, here: bool) -> bool {
    use crate::domain::role::Permission;
    ctx.may(Permission::WriteWork) && (here || ctx.may(Permission::Correct))
}

/// One sheet.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(
    ctx: Ctx,
    req: HttpRequest,
    parts: Parts<(String, ReadingSheetId)>,
) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, (Did::of(&req), None)).await?)
}
