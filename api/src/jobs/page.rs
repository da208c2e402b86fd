//! The job's page: what the technician has in hand.

use actix_web::{HttpRequest, HttpResponse};
use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, Outcome, PartRole, Payer, Serviceable,
    WorkedAs,
};
use askama::Template;

use super::brief::Brief;
use super::cautions::{self, Caution};
use super::http::money;
use super::labor::LaborEntry;
use super::page_load::{Loaded, Looker, Said, ask_record, load};
use super::page_next::{self, Ahead};
use super::page_offer::{self, OfferedPart, PartAdvice};
use super::page_rules::{self, RuleOnJob};
use super::parts::MoneyRights;
use super::view::{Told, Words};
use super::view_lines::{ToldCheck, ToldLabor, ToldWait};
use super::{page_blank, page_correct, page_lines};
use crate::comebacks::view::{ListedComeback, ToldBrief, ToldComeback};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::JobId;
use crate::domain::role::Permission;
use crate::plans::page_job::ToldPlan;
use crate::preparation::page_job::JobReadings;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer};
use crate::web::words::{self, Pick, PickGroup, Shown};

/// The choices of all forms on the page.
pub struct Picks {
    checks: Vec<PickGroup>,
    causes: Vec<PickGroup>,
    symptoms: Vec<PickGroup>,
    operations: Vec<Pick>,
    findings: Vec<Pick>,
    /// Findings of a check that was made.
    made: Vec<Pick>,
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

/// A clock that runs.
pub struct Clock {
    pub id: String,
    pub job: String,
    pub number: String,
    pub activity: &'static str,
    /// The word of the activity.
    pub word: &'static str,
    pub since: String,
    pub lasted: String,
}

impl Clock {
    /// The clock of an entry that runs.
    #[must_use]
    pub fn of(entry: &LaborEntry, job: &Brief, now: UtcStamp) -> Self {
        Self {
            id: entry.id.to_string(),
            job: entry.job_id.to_string(),
            number: job.number(),
            activity: entry.activity.map_or("work", |word| word.0.shown()),
            word: entry.activity.map_or("", |word| word.0.as_str()),
            since: entry.started_at.rfc3339(),
            lasted: words::duration(now.minutes_since(entry.started_at).max(0)),
        }
    }
}

/// Clocks and times of the page.
struct Times {
    /// The viewer's clock on this job, and on another.
    here: Option<Clock>,
    elsewhere: Option<Clock>,
    /// Since when the viewer's time goes into the next check, and how long.
    check: Option<(String, String)>,
    /// All time on the job so far.
    worked: String,
}

fn times(loaded: &Loaded, looker: &Looker, now: UtcStamp) -> Times {
    let labor = &loaded.whole.labor;
    let own = |entry: &&LaborEntry| entry.ended_at.is_none() && entry.person_id == looker.person;
    let minutes: i64 = labor.iter().map(|entry| page_blank::minutes(entry, now)).sum();
    let since = |at: UtcStamp| (at.rfc3339(), words::duration(now.minutes_since(at).max(0)));
    Times {
        here: labor.iter().find(own).map(|entry| Clock::of(entry, &loaded.brief, now)),
        elsewhere: loaded.elsewhere.as_ref().map(|(job, entry)| Clock::of(entry, job, now)),
        check: loaded.check_since.map(since),
        worked: words::duration(minutes),
    }
}

/// The page.
#[derive(Template)]
#[template(path = "job.html")]
pub struct JobPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    job: Told,
    version: i32,
    promised: Option<String>,
    /// The promised time is over.
    late: bool,
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
    /// Read before the vehicle leaves.
    readings: JobReadings,
    came_back_for: Vec<ToldComeback>,
    came_back_as: Vec<ListedComeback>,
    visits: Vec<ToldBrief>,
    times: Times,
    ahead: Ahead,
    /// The check plan that the job follows.
    plan: Option<ToldPlan>,
    symptom: Option<String>,
    /// Causes that the record had for the complaint, with how often.
    causes: Vec<(Pick, i64)>,
    /// Ways the cause may have been confirmed, from the checks.
    hows: Vec<String>,
    parts: Vec<OfferedPart>,
    advice: Vec<PartAdvice>,
    /// The shop's rules that touch the job.
    rules: Vec<RuleOnJob>,
    note: &'static str,
    /// Beside advice: where no figure decides.
    caution: &'static str,
    picks: Picks,
    blank_close: Fields,
    blank_plan: Fields,
    blank_correct: Fields,
    /// The forms of the lines as they stand, by the line's id.
    blank_lines: Vec<(String, Fields)>,
    /// The forms for readings, by the check's id.
    blank_readings: Vec<(String, Fields)>,
    /// The line that was just recorded.
    just: Option<String>,
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

    /// The form for the reading of a check that has one by its nature, until it
    /// is there.
    fn reading(&self, check: &ToldCheck) -> Option<FormView> {
        let (_, fields) = self.blank_readings.iter().find(|(id, _)| *id == check.id)?;
        let form = FormView::of_line("reading", &check.id, None, fields.clone());
        (self.writes && check.reading.is_none()).then_some(form)
    }

    /// Whether the line was recorded just now.
    fn is_just(&self, id: &str) -> bool {
        self.just.as_deref() == Some(id)
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

    /// Whether the viewer may say something of a rule, now or afterwards.
    fn answers_rules(&self) -> bool {
        self.viewer.writes_work && !self.voided
    }

    /// Whether the viewer may change an entry's times.
    fn may_change(&self, entry: &ToldLabor) -> bool {
        self.corrects || (self.writes && (self.may_name_others || entry.own_recent))
    }

    /// What the job waits for now.
    fn waiting(&self) -> Option<&ToldWait> {
        self.job.waits.iter().find(|wait| wait.runs)
    }

    /// Whether the cause is named and confirmed.
    fn is_confirmed(&self) -> bool {
        self.job.cause_state == Some(CauseState::Confirmed.shown())
    }

    /// The activities that a tap starts or changes over to.
    fn starts(&self) -> impl Iterator<Item = &Pick> {
        let runs = self.times.here.as_ref().map_or("", |clock| clock.word);
        self.picks.activities.iter().filter(move |pick| pick.value != runs)
    }
}

/// The page of a job: with a form that was refused, or what was just done.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn view(
    ctx: &Ctx,
    id: JobId,
    (tried, did): (Option<Tried>, Option<Did>),
) -> Result<JobPage, Problem> {
    let now = ctx.now;
    let looker = Looker {
        person: ctx.asker().person.id.clone(),
        rights: money(ctx),
        writes: ctx.may(Permission::WriteWork),
        corrects: ctx.may(Permission::Correct),
    };
    let (who, what) = (looker.clone(), did.clone());
    let loaded = ctx
        .read(move |conn, shop: &Shop| {
            let words = Words::load(conn, shop, now)?;
            load(conn, words, &id, &who, what.as_ref())
        })
        .await?;
    let said = ask_record(ctx, &loaded).await?;
    let mut page = laid_out(ctx, loaded, said, &looker);
    page.just = did.and_then(|did| did.id_of("check").map(str::to_owned));
    page.tried = tried;
    Ok(page)
}

fn laid_out(ctx: &Ctx, loaded: Loaded, said: Said, looker: &Looker) -> JobPage {
    let (writes, corrects) = (loaded.writes(looker), loaded.corrects(looker));
    let (now, shop) = (ctx.now, loaded.words.shop.code.clone());
    let rules = if ctx.may(Permission::ReadRules) { loaded.rules.clone() } else { Vec::new() };
    let picks = picks(&loaded);
    let Loaded { words, whole, brief, job, usual, .. } = &loaded;
    let row = &whole.job;
    let system = row.symptom.as_deref().map(|symptom| words.lists.system(symptom));
    let (beside, others) = cautions::beside(row.kind.0, system);
    let done: Vec<String> = whole.checks.iter().map(|check| check.code.clone()).collect();
    let times = times(&loaded, looker, now);
    JobPage {
        viewer: Viewer::of(ctx),
        version: row.version,
        promised: loaded.promised_at.map(|at| words.moment(at)),
        late: loaded.promised_at.is_some_and(|at| at < now) && row.outcome.is_none(),
        writes,
        corrects,
        order_open: brief.status == "open",
        voided: brief.status == "void",
        rights: looker.rights,
        may_name_others: ctx.may(Permission::WriteFront),
        complaint_job: row.kind.0 == JobKind::Complaint,
        beside,
        others,
        visits: loaded.visits.iter().map(|visit| ToldBrief::of(visit, words)).collect(),
        times,
        ahead: page_next::ahead(
            (loaded.plan.as_ref(), said.order.as_ref()),
            usual,
            &words.lists,
            &done,
        ),
        plan: loaded.plan.as_ref().map(|plan| ToldPlan::of(plan, &words.lists)),
        symptom: row.symptom.clone(),
        causes: page_blank::causes(usual, &words.lists, row.cause.as_deref()),
        hows: page_blank::hows(whole, &job.checks),
        parts: page_offer::parts(&usual.parts, said.reuse.as_ref(), said.curable),
        advice: said.advice,
        rules: page_rules::shown(rules, &shop),
        note: "Technicians choose what to clean: the record compares, it is not a trial.",
        caution: analytics::reuse::CAUTION,
        picks,
        blank_close: page_blank::close(whole, &job.parts),
        blank_plan: page_blank::plan(whole),
        blank_correct: page_correct::blank(whole),
        blank_lines: page_lines::blanks(whole, &words.shop.money()),
        blank_readings: page_blank::readings(whole, usual),
        just: None,
        tried: None,
        shop,
        job: loaded.job,
        notice: loaded.notice,
        readings: loaded.readings,
        came_back_for: loaded.came_back_for,
        came_back_as: loaded.came_back_as,
    }
}

fn picks(loaded: &Loaded) -> Picks {
    let lists = &loaded.words.lists;
    let usual = &loaded.usual;
    let codes = |counted: &[(String, i64)]| -> Vec<String> {
        counted.iter().map(|(code, _)| code.clone()).collect()
    };
    let (checks, causes) = (codes(&usual.checks), codes(&usual.causes));
    let job = &loaded.whole.job;
    Picks {
        checks: lists.usual_first("check", &checks),
        causes: lists.holding("cause", job.cause.as_deref(), lists.usual_first("cause", &causes)),
        symptoms: lists.holding("symptom", job.symptom.as_deref(), lists.symptoms()),
        operations: lists.picks("operation"),
        made: page_blank::made(),
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

/// One job.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn job(
    ctx: Ctx,
    req: HttpRequest,
    parts: Parts<(String, JobId)>,
) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, (None, Did::of(&req))).await?)
}
