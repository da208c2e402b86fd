//! The job's page: what the technician has in hand.

use actix_web::HttpResponse;
use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, Outcome, PartRole, Payer, Serviceable,
    WorkedAs,
};
use askama::Template;

use super::brief::{self, Brief};
use super::cautions::{self, Caution};
use super::http::money;
use super::parts::MoneyRights;
use super::view::{Told, Words};
use super::view_lines::{ToldLabor, ToldWait, times_cleaned};
use super::whole::{self, WholeJob};
use super::{page_correct, page_lines};
use crate::comebacks::view::{ListedComeback, ToldBrief, ToldComeback, listed, told};
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::domain::role::Permission;
use crate::people::model as people;
use crate::problem::Problem;
use crate::reports::http::make;
use crate::reports::query::{Report, ReportName, ReportQuery};
use crate::shops::model::Shop;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::page::{self, Viewer};
use crate::web::words::{self, Pick, PickGroup, Shown};

/// Visits of the vehicle that are worth a look.
const VISITS: i64 = 12;
/// Parts that advice is given for on one page.
const ADVISED: usize = 4;

/// The choices of all forms on the page.
pub struct Picks {
    checks: Vec<PickGroup>,
    causes: Vec<PickGroup>,
    symptoms: Vec<PickGroup>,
    operations: Vec<Pick>,
    findings: Vec<Pick>,
    dispositions: Vec<Pick>,
    roles: Vec<Pick>,
    serviceable: Vec<Pick>,
    activities: Vec<Pick>,
    worked_as: Vec<Pick>,
    payers: Vec<Pick>,
    ways: Vec<Pick>,
    outcomes: Vec<Pick>,
    units: Vec<Pick>,
    waits: Vec<Pick>,
    people: Vec<Pick>,
    cause_states: Vec<Pick>,
}

/// What the record says of a part on the job.
struct PartAdvice {
    part: String,
    held_as: &'static str,
    text: String,
    place: String,
    /// How often it was cleaned on this vehicle before.
    cleaned_before: Option<String>,
}

/// The page.
#[derive(Template)]
#[template(path = "job.html")]
pub struct JobPage {
    viewer: Viewer,
    shop: String,
    job: Told,
    version: i32,
    /// The job may still be written to, and by this viewer.
    writes: bool,
    /// The job has ended, and this viewer may correct it.
    corrects: bool,
    order_open: bool,
    /// The order was opened by mistake: nothing on it counts.
    voided: bool,
    rights: MoneyRights,
    may_name_others: bool,
    complaint_job: bool,
    beside: Vec<Caution>,
    others: Vec<Caution>,
    came_back_for: Vec<ToldComeback>,
    came_back_as: Vec<ListedComeback>,
    visits: Vec<ToldBrief>,
    advice: Vec<PartAdvice>,
    note: &'static str,
    picks: Picks,
    blank_close: Fields,
    blank_plan: Fields,
    blank_correct: Fields,
    /// The forms of the lines as they stand, by the line's id.
    blank_lines: Vec<(String, Fields)>,
    tried: Option<Tried>,
}

impl JobPage {
    fn form(&self, name: &str) -> FormView {
        let blank = match name {
            "close" => self.blank_close.clone(),
            "plan" => self.blank_plan.clone(),
            "correct" => self.blank_correct.clone(),
            _ => Fields::default(),
        };
        FormView::of(name, self.tried.as_ref(), blank)
    }

    /// The form of one line of the job.
    fn line(&self, name: &str, id: &str) -> FormView {
        let blank = self.blank_lines.iter().find(|(line, _)| line == id);
        let blank = blank.map(|(_, fields)| fields.clone()).unwrap_or_default();
        FormView::of_line(name, id, self.tried.as_ref(), blank)
    }

    /// The units, with the one that stands.
    fn units_with(&self, stands: &str) -> Vec<Pick> {
        let mut units = self.picks.units.clone();
        if !stands.is_empty() && units.iter().all(|unit| unit.value != stands) {
            units.push(Pick::new(stands, stands));
        }
        units
    }

    /// Whether the repair was shown to hold, where the last proof says so.
    fn proved(&self) -> bool {
        self.job.proofs.last().is_some_and(|proof| proof.passed)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }

    /// The page's own address.
    fn base(&self) -> String {
        format!("/shops/{}/jobs/{}", self.shop, self.job.id)
    }

    fn first_caution(&self) -> &'static str {
        cautions::FIRST
    }

    /// Whether lines of the job may be written, as work or as a correction.
    fn lines_open(&self) -> bool {
        self.writes || self.corrects
    }

    /// Whether the job is still to be ended.
    fn runs(&self) -> bool {
        self.job.outcome.is_none() && !self.voided
    }

    /// Whether the viewer may change an entry's times.
    fn may_change(&self, entry: &ToldLabor) -> bool {
        self.corrects || (self.writes && (self.may_name_others || entry.own_recent))
    }

    /// What the job waits for now.
    fn waiting(&self) -> Option<&ToldWait> {
        self.job.waits.iter().find(|wait| wait.runs)
    }

    /// The viewer's own entry that runs on this job.
    fn own_running(&self) -> bool {
        self.job.labor.iter().any(|entry| entry.own && entry.runs)
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    whole: WholeJob,
    brief: Brief,
    came_back_for: Vec<ToldComeback>,
    came_back_as: Vec<ListedComeback>,
    visits: Vec<Brief>,
    usual: (Vec<String>, Vec<String>),
    people: Vec<Pick>,
}

fn load(
    conn: &mut Conn,
    words: Words,
    id: &JobId,
    rights: MoneyRights,
    asker: &PersonId,
) -> Answer<Loaded> {
    let shop_id = words.shop.id;
    let whole = whole::read(conn, shop_id, id, rights)?;
    let brief = brief::of(conn, shop_id, id)?;
    let (later, earlier): (Vec<_>, Vec<_>) =
        whole.comebacks.iter().cloned().partition(|row| row.later_job_id == *id);
    let mut came_back_for = Vec::new();
    for row in &later {
        came_back_for.push(told(conn, &words, row, rights, asker)?);
    }
    let mut visits = brief::of_vehicle(conn, shop_id, &brief.vehicle.id, VISITS)?;
    visits.retain(|visit| visit.job.id != *id);
    let usual = match &whole.job.symptom {
        Some(symptom) => brief::usual(conn, shop_id, symptom)?,
        None => Default::default(),
    };
    let mut picks: Vec<Pick> = people::of_shop(conn, shop_id)?
        .into_iter()
        .filter(|(person, _)| person.active)
        .map(|(person, _)| Pick::new(person.id.as_str(), person.name))
        .collect();
    picks.dedup();
    // Who leads may have left since.
    if let Some((lead, name)) =
        whole.job.lead_id.as_ref().zip(words.name(whole.job.lead_id.as_ref()))
        && picks.iter().all(|pick| pick.value != lead.as_str())
    {
        picks.push(Pick::new(lead.as_str(), name));
    }
    Ok(Loaded {
        came_back_as: listed(conn, &words, &earlier)?,
        came_back_for,
        visits,
        usual,
        people: picks,
        words,
        whole,
        brief,
    })
}

/// The page of a job, with a form that was refused where one was.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn view(ctx: &Ctx, id: JobId, tried: Option<Tried>) -> Result<JobPage, Problem> {
    let (rights, asker, now) = (money(ctx), ctx.asker.person.id.clone(), ctx.now);
    let person = asker.clone();
    let loaded = ctx
        .read(move |conn, shop: &Shop| {
            let words = Words::load(conn, shop, now)?;
            load(conn, words, &id, rights, &person)
        })
        .await?;
    let advice = advice(ctx, &loaded).await?;
    Ok(laid_out(ctx, &loaded, advice, &asker, tried))
}

fn laid_out(
    ctx: &Ctx,
    loaded: &Loaded,
    advice: Vec<PartAdvice>,
    asker: &PersonId,
    tried: Option<Tried>,
) -> JobPage {
    let Loaded { words, whole, brief, .. } = loaded;
    let job = &whole.job;
    let system = job.symptom.as_deref().map(|symptom| words.lists.system(symptom));
    let (beside, others) = cautions::beside(system);
    let order_open = brief.status == "open";
    let voided = brief.status == "void";
    let ended = job.outcome.is_some() && !voided;
    JobPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        version: job.version,
        writes: order_open && job.outcome.is_none() && ctx.may(Permission::WriteWork),
        corrects: ended && ctx.may(Permission::Correct),
        order_open,
        voided,
        rights: money(ctx),
        may_name_others: ctx.may(Permission::WriteFront),
        complaint_job: job.kind.0 == JobKind::Complaint,
        beside,
        others,
        came_back_for: loaded.came_back_for.clone(),
        came_back_as: loaded.came_back_as.clone(),
        visits: loaded.visits.iter().map(|visit| ToldBrief::of(visit, words)).collect(),
        note: "Technicians choose what to clean: the record compares, it is not a trial.",
        advice,
        picks: picks(loaded),
        blank_close: blank_close(whole),
        blank_plan: blank_plan(whole),
        blank_correct: page_correct::blank(whole),
        blank_lines: page_lines::blanks(whole, &words.shop.money()),
        job: Told::of(whole, brief, words, asker),
        tried,
    }
}

fn picks(loaded: &Loaded) -> Picks {
    let lists = &loaded.words.lists;
    let (checks, causes) = &loaded.usual;
    let job = &loaded.whole.job;
    Picks {
        checks: lists.usual_first("check", checks),
        causes: lists.holding("cause", job.cause.as_deref(), lists.usual_first("cause", causes)),
        symptoms: lists.holding("symptom", job.symptom.as_deref(), lists.symptoms()),
        operations: lists.picks("operation"),
        findings: Finding::picks(),
        dispositions: Disposition::picks(),
        roles: PartRole::picks(),
        serviceable: Serviceable::picks(),
        activities: Activity::picks(),
        worked_as: WorkedAs::picks(),
        payers: Payer::picks(),
        ways: words::ways(),
        outcomes: Outcome::picks(),
        units: words::units(),
        waits: words::waits(),
        people: loaded.people.clone(),
        cause_states: CauseState::picks(),
    }
}

fn blank_close(whole: &WholeJob) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let job = &whole.job;
    Fields::of(&[
        ("outcome", Outcome::Repaired.as_str().to_owned()),
        ("cause", text(&job.cause)),
        ("cause_how", text(&job.cause_how)),
        ("cause_position", text(&job.cause_position)),
        ("correction", text(&job.correction)),
    ])
}

fn blank_plan(whole: &WholeJob) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let job = &whole.job;
    Fields::of(&[
        ("symptom", text(&job.symptom)),
        ("lead_id", job.lead_id.as_ref().map(ToString::to_string).unwrap_or_default()),
        ("bay", text(&job.bay)),
    ])
}

/// What the record says of the suspects and bystanders on an open job.
async fn advice(ctx: &Ctx, loaded: &Loaded) -> Result<Vec<PartAdvice>, Problem> {
    let mut asked: Vec<(String, PartRole, u32)> = Vec::new();
    let open = loaded.whole.job.outcome.is_none() && ctx.may(Permission::ReadAdvice);
    for on_job in loaded.whole.parts.iter().filter(|_| open) {
        let Some(role) = on_job.part.role.map(|word| word.0) else { continue };
        let times = on_job.times_cleaned_before;
        match asked
            .iter_mut()
            .find(|(part, as_what, _)| part == on_job.part.key() && *as_what == role)
        {
            Some((.., most)) => *most = times.max(*most),
            None if matches!(role, PartRole::Suspect | PartRole::Bystander) => {
                asked.push((on_job.part.key().to_owned(), role, times));
            }
            None => {}
        }
    }
    let mut told = Vec::new();
    for (part, role, times) in asked.into_iter().take(ADVISED) {
        let curable = loaded.whole.job.cause.as_deref().and_then(|c| loaded.words.lists.curable(c));
        let query = ReportQuery {
            part: Some(part.clone()),
            role: Some(role.as_str().to_owned()),
            curable: curable
                .filter(|_| role == PartRole::Suspect)
                .map(|curable| curable.as_str().to_owned()),
            ..ReportQuery::default()
        };
        let Report::Reuse(report) = make(ctx, ReportName::Reuse, query).await? else { continue };
        let said = report.parts.into_iter().find_map(|line| line.advice);
        told.extend(said.map(|advice| PartAdvice {
            place: format!("/reuse?part={}&role={}", escape(&part), role.as_str()),
            part,
            held_as: role.shown(),
            text: advice.text,
            cleaned_before: times_cleaned(times),
        }));
    }
    Ok(told)
}

/// A value in a query.
fn escape(value: &str) -> String {
    serde_urlencoded::to_string([("", value)])
        .unwrap_or_default()
        .trim_start_matches('=')
        .to_owned()
}

/// One job.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn job(ctx: Ctx, parts: Parts<(String, JobId)>) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, None).await?)
}
