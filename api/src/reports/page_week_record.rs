//! What the weekly review shows of the record beside its figures: proposals and
//! comebacks with their first repair, what was told, planned and decided.

use analytics::comeback::ComebackLine;
use analytics::weekly::WeeklyReview;
use analytics::words::LinkState;
use chrono::{Days, NaiveDate, NaiveTime};

use super::model;
use super::page_week::last_day;
use crate::codes::uses;
use crate::comebacks::model as comebacks;
use crate::comebacks::outside;
use crate::comebacks::page_decide::Reasons;
use crate::comebacks::pair::{LinkedPair, Pair, Teller};
use crate::comebacks::view::{ListedComeback, ToldBrief, ToldLink, ToldOutside, listed};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{ComebackId, JobId};
use crate::enquiries::week::Waiting;
use crate::jobs::brief;
use crate::jobs::http::money;
use crate::jobs::view::Words;
use crate::orders::planned;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::ctx::Ctx;

/// Undecided ones looked for at once.
const UNDECIDED: i64 = 50;
/// Of those, the ones shown with both jobs.
const WITH_JOBS: usize = 8;
/// Comebacks of the week that are told with their first repair.
const COMEBACKS: usize = 40;
/// Lines of a list.
const LINES: i64 = 30;
/// Days back from the week's end that what was told is listed for.
const TOLD_DAYS: u64 = 27;
/// Days back from the week's end in which a comeback is looked into.
const LOOKED_INTO_DAYS: u64 = 90;
/// Days back from the week's end in which a planned visit is waited for.
const PLANNED_DAYS: u64 = 83;

/// A comeback of the week beside its first repair.
pub(super) struct WeekComeback {
    pub line: ComebackLine,
    pub returned: String,
    /// What was told, where the vehicle did not come.
    pub told: Option<&'static str>,
    pub reason: Option<String>,
    /// Absent where it was told.
    pub link: Option<ToldLink>,
    pub pair: Pair,
}

/// The record beside the figures.
pub(super) struct Beside {
    /// What was just decided.
    pub did: Option<ListedComeback>,
    pub undecided: Vec<LinkedPair>,
    pub further: Vec<ListedComeback>,
    /// Of every undecided one: when the vehicle was here again, and whether for
    /// the same complaint.
    pub waiting: Vec<(NaiveDate, bool)>,
    pub reasons: Reasons,
    pub comebacks: Vec<WeekComeback>,
    pub told: Vec<ToldOutside>,
    pub told_since: String,
    pub planned: Vec<ToldBrief>,
    pub decisions: Vec<ListedComeback>,
    /// What waits to be looked into, changed, asked.
    pub waits: Waiting,
}

/// The days of the review that the record is asked for.
#[derive(Clone, Copy)]
struct Span {
    first: NaiveDate,
    last: NaiveDate,
}

impl Span {
    fn since(self, days: u64) -> (NaiveDate, NaiveDate) {
        (self.last.checked_sub_days(Days::new(days)).unwrap_or(self.first), self.last)
    }

    /// From the first day's beginning to the end of the last, by the shop's
    /// clock.
    fn instants(self, shop: &Shop) -> Option<(UtcStamp, UtcStamp)> {
        let zone = shop.zone();
        let after = self.last.succ_opt()?;
        Some((
            zone.instant(self.first.and_time(NaiveTime::MIN))?,
            zone.instant(after.and_time(NaiveTime::MIN))?,
        ))
    }
}

/// Reads it, in one look at the record.
pub(super) async fn read(
    ctx: &Ctx,
    review: &WeeklyReview,
    did: Option<ComebackId>,
) -> Result<Beside, Problem> {
    let (now, rights, asker) = (ctx.now, money(ctx), ctx.asker().person.id.clone());
    let lines: Vec<ComebackLine> = review.comebacks.iter().take(COMEBACKS).cloned().collect();
    let span = Span { first: review.week_from, last: last_day(review) };
    ctx.read(move |conn, shop| {
        let words = Words::load(conn, shop, now)?;
        let mut teller = Teller::new(&words, rights, &asker);
        let (undecided, further) = proposals(conn, &words, &mut teller)?;
        let mut told = Vec::new();
        for line in &lines {
            told.extend(comeback(conn, &words, &mut teller, line)?);
        }
        let did = match did {
            Some(id) => comebacks::find(conn, shop.id, &id)?,
            None => None,
        };
        let since = span.since(TOLD_DAYS);
        Ok(Beside {
            did: listed(conn, &words, did.as_slice())?.pop(),
            undecided,
            further,
            waiting: model::undecided(conn, shop.id)?,
            reasons: Reasons::of(&words.lists, &uses::of_list(conn, shop.id, "comeback_reason")?),
            comebacks: told,
            told: outside_returns(conn, &words, since)?,
            told_since: words.day(since.0),
            planned: planned_visits(conn, &words, span.since(PLANNED_DAYS))?,
            decisions: decisions(conn, &words, span)?,
            waits: Waiting::read(conn, &words, span.since(LOOKED_INTO_DAYS))?,
        })
    })
    .await
}

/// What waits for a decision: those of the same complaint first, since they would
/// enter the share; some with both jobs, the rest by name.
fn proposals(
    conn: &mut Conn,
    words: &Words,
    teller: &mut Teller<'_>,
) -> Answer<(Vec<LinkedPair>, Vec<ListedComeback>)> {
    let state = Some(LinkState::Proposed);
    let mut rows = comebacks::list(conn, words.shop.id, state, None, UNDECIDED)?;
    rows.sort_by_key(|row| !row.same_complaint);
    let rest = rows.split_off(rows.len().min(WITH_JOBS));
    let mut pairs = Vec::new();
    for row in &rows {
        pairs.push(teller.linked(conn, row)?);
    }
    Ok((pairs, listed(conn, words, &rest)?))
}

/// A line of the review with its first repair; nothing where its job is gone.
fn comeback(
    conn: &mut Conn,
    words: &Words,
    teller: &mut Teller<'_>,
    line: &ComebackLine,
) -> Answer<Option<WeekComeback>> {
    let Some(earlier) = JobId::parse(&line.earlier.job_id) else { return Ok(None) };
    let later = line.later.as_ref().and_then(|job| JobId::parse(&job.job_id));
    let row = match &later {
        Some(later) => comebacks::of_job(conn, words.shop.id, later)?
            .into_iter()
            .find(|row| row.earlier_job_id == earlier && row.later_job_id == *later),
        None => None,
    };
    let told = match (&row, &later) {
        (Some(row), _) => {
            let LinkedPair { link, pair } = teller.linked(conn, row)?;
            (Some(link), pair)
        }
        (None, _) => (None, teller.alone(conn, &earlier, line.days.into())?),
    };
    Ok(Some(WeekComeback {
        returned: words.day(line.returned_on),
        told: line.told.map(|told| crate::comebacks::view::told_words(told.as_str())),
        reason: words.label("comeback_reason", line.reason.as_deref()),
        link: told.0,
        pair: told.1,
        line: line.clone(),
    }))
}

fn outside_returns(
    conn: &mut Conn,
    words: &Words,
    days: (NaiveDate, NaiveDate),
) -> Answer<Vec<ToldOutside>> {
    outside::told_between(conn, words.shop.id, days, LINES)?
        .iter()
        .map(|row| {
            let job = brief::of(conn, words.shop.id, &row.job_id)?;
            Ok(ToldOutside::of(row, &job, words))
        })
        .collect()
}

fn planned_visits(
    conn: &mut Conn,
    words: &Words,
    days: (NaiveDate, NaiveDate),
) -> Answer<Vec<ToldBrief>> {
    planned::still_to_come(conn, words.shop.id, days, LINES)?
        .iter()
        .map(|id| Ok(ToldBrief::of(&brief::of(conn, words.shop.id, id)?, words)))
        .collect()
}

fn decisions(conn: &mut Conn, words: &Words, span: Span) -> Answer<Vec<ListedComeback>> {
    let Some(instants) = span.instants(&words.shop) else { return Ok(Vec::new()) };
    let rows = comebacks::decided_between(conn, words.shop.id, instants, LINES)?;
    listed(conn, words, &rows)
}
