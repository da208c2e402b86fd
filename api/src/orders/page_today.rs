//! Today's page: the viewer's own jobs by promised time and the clock that runs;
//! at the counter all open orders, and what waits for what.

use actix_web::{HttpRequest, HttpResponse};
use askama::Template;

use super::model::{self, OpenOrder};
use super::view::{JobLine, ToldOrder};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId};
use crate::domain::role::Permission;
use crate::enquiries::week::Today as Circle;
use crate::jobs::brief;
use crate::jobs::labor::LaborEntry;
use crate::jobs::model::Job;
use crate::jobs::page::Clock;
use crate::jobs::view::Words;
use crate::jobs::view_lines::ToldWait;
use crate::jobs::waits::{self, Wait};
use crate::jobs::{page_notice, people};
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::form::FormView;
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer};

/// A job in a list by promised time.
struct TodayJob {
    number: String,
    vehicle: String,
    promised: Option<String>,
    late: bool,
    line: JobLine,
    wait: Option<TodayWait>,
}

/// What a job waits for.
struct TodayWait {
    told: ToldWait,
    /// Expected on a day that is over.
    past: bool,
}

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    date: String,
    clock: Option<Clock>,
    /// The viewer looks after all orders, not only after the own jobs.
    front: bool,
    mine: Vec<TodayJob>,
    unled: Vec<TodayJob>,
    others: Vec<TodayJob>,
    waiting: Vec<TodayJob>,
    orders: Vec<ToldOrder>,
    undecided: usize,
    circle: Circle,
    form: FormView,
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    orders: Vec<OpenOrder>,
    running: Vec<LaborEntry>,
    waits: Vec<Wait>,
    /// Jobs that the viewer was put on.
    assigned: Vec<JobId>,
    clock: Option<Clock>,
    undecided: usize,
    circle: Circle,
    notice: Option<Notice>,
}

fn load(
    conn: &mut Conn,
    words: Words,
    (person, sees): (&PersonId, (bool, bool)),
    did: Option<&Did>,
) -> Answer<Loaded> {
    let shop_id = words.shop.id;
    let proposed = analytics::words::LinkState::Proposed;
    let undecided = crate::comebacks::model::list(conn, shop_id, Some(proposed), None, 200)?.len();
    let running = brief::running(conn, shop_id)?;
    let clock = match running.iter().find(|entry| entry.person_id == *person) {
        Some(entry) => Some(Clock::of(entry, &brief::of(conn, shop_id, &entry.job_id)?, words.now)),
        None => None,
    };
    let notice = match did {
        Some(did) => page_notice::stopped(conn, &words, person, did)?,
        None => None,
    };
    Ok(Loaded {
        orders: model::open_by_promise(conn, shop_id)?,
        waits: waits::running(conn, shop_id)?,
        assigned: people::jobs_of(conn, shop_id, person)?,
        running,
        clock,
        undecided,
        circle: Circle::read(conn, &words, person, sees)?,
        notice,
        words,
    })
}

impl Loaded {
    fn row(&self, open: &OpenOrder, job: &Job) -> TodayJob {
        let words = &self.words;
        let today = words.shop.zone().day(words.now);
        let wait = self.waits.iter().find(|wait| wait.job_id == job.id);
        let late = |at: UtcStamp| at < words.now;
        TodayJob {
            number: format!("{}/{}", open.order.order_no, job.job_no),
            vehicle: open.vehicle.label(),
            promised: open.order.promised_at.map(|at| words.moment(at)),
            late: open.order.promised_at.is_some_and(late),
            line: JobLine::of(job, words, &self.running),
            wait: wait.map(|wait| TodayWait {
                told: ToldWait::of(wait, words),
                past: wait.expected_on.is_some_and(|day| day < today),
            }),
        }
    }

    /// The open jobs that hold that, by promised time.
    fn jobs(&self, holds: impl Fn(&Job) -> bool) -> Vec<TodayJob> {
        let open = self.orders.iter().flat_map(|open| open.jobs.iter().map(move |job| (open, job)));
        open.filter(|(_, job)| job.outcome.is_none() && holds(job))
            .map(|(open, job)| self.row(open, job))
            .collect()
    }

    /// Whether the job is led by the person, or the person was put on it.
    fn is_of(&self, job: &Job, person: &PersonId) -> bool {
        job.lead_id.as_ref() == Some(person) || self.assigned.contains(&job.id)
    }
}

/// Open jobs and orders by promised time.
///
/// # Errors
/// Where the record does not answer.
pub async fn today(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let (now, person, did) = (ctx.now, ctx.asker().person.id.clone(), Did::of(&req));
    let sees = (ctx.may(Permission::WriteFront), ctx.may(Permission::WriteRules));
    let loaded = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            load(conn, words, (&person, sees), did.as_ref())
        })
        .await?;
    let person = &ctx.asker().person.id;
    let works = ctx.may(Permission::WriteWork);
    let front = !works || ctx.may(Permission::WriteFront);
    let mine = if works { loaded.jobs(|job| loaded.is_of(job, person)) } else { Vec::new() };
    let of_others =
        |led: bool| loaded.jobs(|job| !loaded.is_of(job, person) && job.lead_id.is_some() == led);
    let (unled, others) =
        if front { (Vec::new(), Vec::new()) } else { (of_others(false), of_others(true)) };
    let told = |open: &OpenOrder| {
        ToldOrder::of(&open.order, &open.vehicle, &open.jobs, &loaded.words, &loaded.running)
    };
    let words = &loaded.words;
    let shown = TodayPage {
        viewer: Viewer::of(&ctx),
        shop: words.shop.code.clone(),
        date: words.style().long_day(words.shop.zone().day(now)),
        front,
        mine,
        unled,
        others,
        waiting: if front { loaded.jobs(|job| job.waiting_for.is_some()) } else { Vec::new() },
        orders: if front { loaded.orders.iter().map(told).collect() } else { Vec::new() },
        undecided: loaded.undecided,
        circle: loaded.circle,
        form: FormView::default(),
        clock: loaded.clock,
        notice: loaded.notice,
    };
    page::html(&shown)
}
