//! Readings before the hand-over, as the page of a job shows them.

use analytics::words::JobKind;

use super::lists::{self, is_for};
use super::sheets::{self, Wanted};
use super::starting::Purpose;
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn};
use crate::jobs::brief::Brief;
use crate::jobs::view::Words;
use crate::web::words::Pick;

/// Sheets of one job that are shown.
const MOST_SHEETS: i64 = 20;

/// A sheet of the job.
pub struct ToldJobSheet {
    pub id: String,
    pub list: String,
    /// When it was passed, and by whom.
    pub passed: Option<String>,
    pub state: String,
}

/// What is read before the vehicle leaves.
#[derive(Default)]
pub struct JobReadings {
    pub sheets: Vec<ToldJobSheet>,
    /// Lists by which a sheet may be begun, the narrowest first.
    pub begin: Vec<Pick>,
    /// Readings are meant for such a job, and none of them is passed yet.
    pub asks: bool,
}

impl JobReadings {
    /// Whether the page has anything to say of readings.
    #[must_use]
    pub fn shows(&self) -> bool {
        !self.sheets.is_empty() || !self.begin.is_empty()
    }
}

fn starting(purpose: Purpose, symptom: Option<&str>, lists: &Lists) -> Option<Pick> {
    is_for(purpose.symptom(), symptom, lists).then(|| Pick::new(purpose.as_str(), purpose.name()))
}

/// Reads them.
///
/// # Errors
/// Where the database does not answer.
pub fn load(conn: &mut Conn, words: &Words, brief: &Brief) -> Answer<JobReadings> {
    let shop_id = words.shop.id;
    let job = &brief.job;
    let wanted = Wanted { job_id: Some(job.id.clone()), limit: MOST_SHEETS, ..Wanted::default() };
    let mut told = Vec::new();
    let mut under_way = Vec::new();
    let mut passed = false;
    for sheet in sheets::all(conn, shop_id, &wanted)? {
        let shown = sheets::shown(conn, sheet)?;
        let (left, ended) = (sheets::open_lines(&shown).len(), shown.sheet.passed_at);
        passed |= ended.is_some();
        if ended.is_none() {
            under_way.push(shown.list_id.to_string());
        }
        told.push(ToldJobSheet {
            id: shown.sheet.id.to_string(),
            list: shown.list_name,
            passed: ended.map(|at| {
                let who = words.name(shown.sheet.passed_by.as_ref()).unwrap_or_default();
                format!("{who}, {}", words.moment(at))
            }),
            state: match left {
                0 => "everything is read and nothing fails".to_owned(),
                left => format!("{left} of {} to go", shown.lines.len()),
            },
        });
    }
    let purpose = match job.kind.0 {
        JobKind::Preparation => Purpose::Preparation,
        _ => Purpose::HandOver,
    };
    let symptom = job.symptom.as_deref();
    let mut own = lists::fitting(conn, shop_id, purpose, &brief.vehicle)?;
    own.retain(|one| one.list.is_for(symptom, &words.lists));
    let mut begin: Vec<Pick> =
        own.iter().map(|one| Pick::new(one.list.id.as_str(), one.list.name.clone())).collect();
    if own.is_empty() && offers(conn, shop_id, purpose)? {
        begin.extend(starting(purpose, symptom, &words.lists));
    }
    let asks = !passed && (!begin.is_empty() || !told.is_empty());
    begin.retain(|pick| !under_way.contains(&pick.value));
    Ok(JobReadings { sheets: told, begin, asks })
}

/// Whether the shop has no list of its own for the purpose.
fn offers(conn: &mut Conn, shop_id: i32, purpose: Purpose) -> Answer<bool> {
    Ok(lists::offers_starting(purpose, &lists::all(conn, shop_id, false)?))
}
