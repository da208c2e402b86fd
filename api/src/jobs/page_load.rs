//! What one moment of the record holds for the job's page, and what its reports
//! say beside it.

use analytics::path::CheckOrderLine;
use analytics::reuse::ReuseReport;
use analytics::words::{Curable, PartRole};
use futures_util::future::try_join;

use super::brief::{self, Brief};
use super::labor::LaborEntry;
use super::minutes;
use super::page_notice::{self, Shown};
use super::page_offer::{self, PartAdvice};
use super::parts::MoneyRights;
use super::usual::{self, LastReading, Usual};
use super::view::{Told, Words};
use super::whole::{self, WholeJob};
use crate::comebacks::view::{ListedComeback, ToldComeback, listed, told};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId};
use crate::domain::role::Permission;
use crate::orders::model as orders;
use crate::people::model as people;
use crate::plans::job::{self as plans, JobPlan};
use crate::plans::page_job::source;
use crate::preparation::page_job::{self, JobReadings};
use crate::problem::{Kind, Problem};
use crate::reports::http::make;
use crate::reports::query::{Report, ReportName, ReportQuery};
use crate::rules::on_job::{self, JobRule};
use crate::web::ctx::Ctx;
use crate::web::notice::{Did, Notice};
use crate::web::words::Pick;

/// Visits of the vehicle that are worth a look.
const VISITS: i64 = 12;

/// Who looks, and what they may do.
#[derive(Debug, Clone)]
pub(super) struct Looker {
    pub person: PersonId,
    pub rights: MoneyRights,
    pub writes: bool,
    pub corrects: bool,
}

/// What one moment of the record holds for the page.
pub(super) struct Loaded {
    pub words: Words,
    pub whole: WholeJob,
    pub brief: Brief,
    pub job: Told,
    pub promised_at: Option<UtcStamp>,
    pub came_back_for: Vec<ToldComeback>,
    pub came_back_as: Vec<ListedComeback>,
    pub visits: Vec<Brief>,
    pub usual: Usual,
    /// The check plan that the job follows.
    pub plan: Option<JobPlan>,
    pub people: Vec<Pick>,
    /// Since when the viewer's time goes into the next check.
    pub check_since: Option<UtcStamp>,
    /// The viewer's clock on another job.
    pub elsewhere: Option<(Brief, LaborEntry)>,
    pub notice: Option<Notice>,
    /// The shop's rules that touch the job.
    pub rules: Vec<JobRule>,
    /// Read before the vehicle leaves.
    pub readings: JobReadings,
}

impl Loaded {
    /// Whether the job may still be worked on by the viewer.
    pub fn writes(&self, looker: &Looker) -> bool {
        self.brief.status == "open" && self.whole.job.outcome.is_none() && looker.writes
    }

    /// Whether the job has ended, and the viewer may correct it.
    pub fn corrects(&self, looker: &Looker) -> bool {
        self.whole.job.outcome.is_some() && self.brief.status != "void" && looker.corrects
    }

    /// Whether cleaning cures the cause that is named.
    fn curable(&self) -> Option<Curable> {
        self.whole.job.cause.as_deref().and_then(|cause| self.words.lists.curable(cause))
    }
}

/// Reads it all.
///
/// # Errors
/// Not found, or the database does not answer.
pub(super) fn load(
    conn: &mut Conn,
    words: Words,
    id: &JobId,
    looker: &Looker,
    did: Option<&Did>,
) -> Answer<Loaded> {
    let shop_id = words.shop.id;
    let whole = whole::read(conn, shop_id, id, looker.rights)?;
    let brief = brief::of(conn, shop_id, id)?;
    let (later, earlier): (Vec<_>, Vec<_>) =
        whole.comebacks.iter().cloned().partition(|row| row.later_job_id == *id);
    let mut came_back_for = Vec::new();
    for row in &later {
        came_back_for.push(told(conn, &words, row, looker.rights, &looker.person)?);
    }
    let mut visits = brief::of_vehicle(conn, shop_id, &brief.vehicle.id, VISITS)?;
    visits.retain(|visit| visit.job.id != *id);
    let vehicle = &brief.vehicle;
    let plan = plans::of(conn, &words.lists, (&whole.job, vehicle), &whole.checks)?;
    let mut usual = match &whole.job.symptom {
        Some(symptom) => usual::of(conn, shop_id, symptom, whole.job.cause.as_deref())?,
        None => Usual::default(),
    };
    let today = words.shop.zone().day(words.now);
    let rules = on_job::of(conn, &words.shop, &words.lists, (&whole.job, &usual), today)?;
    // A plan's limits stand over those of the last reading.
    usual.readings.extend(plan.iter().flat_map(planned_readings));
    let mut loaded = Loaded {
        rules,
        came_back_as: listed(conn, &words, &earlier)?,
        came_back_for,
        visits,
        usual,
        plan,
        people: lead_picks(conn, &words, &whole)?,
        promised_at: orders::by_id(conn, shop_id, &whole.job.order_id)?.promised_at,
        check_since: minutes::since(conn, shop_id, &looker.person, id)?,
        elsewhere: elsewhere(conn, shop_id, id, &looker.person)?,
        job: Told::of(&whole, &brief, &words, &looker.person),
        notice: None,
        readings: page_job::load(conn, &words, &brief)?,
        words,
        whole,
        brief,
    };
    if let Some(did) = did {
        let shown = Shown {
            words: &loaded.words,
            whole: &loaded.whole,
            job: &loaded.job,
            writes: loaded.writes(looker) || loaded.corrects(looker),
            order_open: loaded.brief.status == "open" && looker.writes,
        };
        loaded.notice = page_notice::of(conn, &shown, did)?;
    }
    Ok(loaded)
}

/// What the steps of a plan are read in, by check.
fn planned_readings(plan: &JobPlan) -> impl Iterator<Item = (String, LastReading)> + '_ {
    plan.steps.iter().filter_map(|(step, _)| {
        let limits = step.limits.as_ref()?;
        let reading = LastReading {
            unit: Some(limits.unit.clone()),
            low_limit: limits.low,
            high_limit: limits.high,
            limit_source: Some(source(limits)),
        };
        Some((step.check.clone(), reading))
    })
}

/// Who may lead; who leads may have left since.
fn lead_picks(conn: &mut Conn, words: &Words, whole: &WholeJob) -> Answer<Vec<Pick>> {
    let mut picks: Vec<Pick> = people::of_shop(conn, words.shop.id)?
        .into_iter()
        .filter(|(person, _)| person.active)
        .map(|(person, _)| Pick::new(person.id.as_str(), person.name))
        .collect();
    picks.dedup();
    let lead = whole.job.lead_id.as_ref();
    if let Some((lead, name)) = lead.zip(words.name(lead))
        && picks.iter().all(|pick| pick.value != lead.as_str())
    {
        picks.push(Pick::new(lead.as_str(), name));
    }
    Ok(picks)
}

fn elsewhere(
    conn: &mut Conn,
    shop_id: i32,
    id: &JobId,
    person: &PersonId,
) -> Answer<Option<(Brief, LaborEntry)>> {
    let mut running = brief::running(conn, shop_id)?.into_iter();
    let Some(entry) = running.find(|entry| entry.person_id == *person && entry.job_id != *id)
    else {
        return Ok(None);
    };
    Ok(Some((brief::of(conn, shop_id, &entry.job_id)?, entry)))
}

/// What the reports say beside an open job.
#[derive(Default)]
pub(super) struct Said {
    pub order: Option<CheckOrderLine>,
    pub reuse: Option<ReuseReport>,
    pub curable: Option<Curable>,
    pub advice: Vec<PartAdvice>,
}

/// A report; nothing where the record cannot answer the question, as of a code
/// that no closed job has, or not yet.
async fn ask(ctx: &Ctx, name: ReportName, query: ReportQuery) -> Result<Option<Report>, Problem> {
    match make(ctx, name, query).await {
        Ok(report) => Ok(Some(report)),
        Err(problem) if [Kind::INVALID, Kind::NOT_READY].contains(&problem.kind) => Ok(None),
        Err(problem) => Err(problem),
    }
}

async fn order(ctx: &Ctx, symptom: Option<&String>) -> Result<Option<CheckOrderLine>, Problem> {
    let Some(symptom) = symptom.cloned() else { return Ok(None) };
    let query = ReportQuery { symptom: Some(symptom), ..ReportQuery::default() };
    Ok(match ask(ctx, ReportName::Checks, query).await? {
        Some(Report::Checks(report)) => report.symptoms.into_iter().next(),
        _ => None,
    })
}

async fn reuse(ctx: &Ctx, asked: bool) -> Result<Option<ReuseReport>, Problem> {
    if !asked {
        return Ok(None);
    }
    Ok(match ask(ctx, ReportName::Reuse, ReportQuery::default()).await? {
        Some(Report::Reuse(report)) => Some(report),
        _ => None,
    })
}

/// Asks the reports, at once where they do not need one another.
///
/// # Errors
/// Where the record does not answer.
pub(super) async fn ask_record(ctx: &Ctx, loaded: &Loaded) -> Result<Said, Problem> {
    let job = &loaded.whole.job;
    if job.outcome.is_some() || loaded.brief.status != "open" || !ctx.may(Permission::ReadAdvice) {
        return Ok(Said::default());
    }
    let held = page_offer::held(&loaded.whole);
    let parts = !loaded.usual.parts.is_empty() || !held.is_empty();
    let (order, reuse) = try_join(order(ctx, job.symptom.as_ref()), reuse(ctx, parts)).await?;
    let mut said = Said { order, reuse, curable: loaded.curable(), advice: Vec::new() };
    for on_job in &held {
        let advice = advice(ctx, &said, on_job).await?;
        said.advice.extend(advice);
    }
    Ok(said)
}

/// The advice on a part of the job: of the report at hand, unless the cause or a
/// part new to the shop asks for an answer of its own.
async fn advice(
    ctx: &Ctx,
    said: &Said,
    on_job: &(String, PartRole, u32),
) -> Result<Option<PartAdvice>, Problem> {
    let (part, role, _) = on_job;
    let curable = said.curable.filter(|_| *role == PartRole::Suspect);
    let known = said.reuse.as_ref().filter(|_| curable.is_none());
    if let Some(advice) = known.and_then(|report| page_offer::told(report, on_job)) {
        return Ok(Some(advice));
    }
    let query = ReportQuery {
        part: Some(part.clone()),
        role: Some(role.as_str().to_owned()),
        curable: curable.map(|curable| curable.as_str().to_owned()),
        ..ReportQuery::default()
    };
    Ok(match ask(ctx, ReportName::Reuse, query).await? {
        Some(Report::Reuse(report)) => page_offer::told(&report, on_job),
        _ => None,
    })
}
