//! What was just done on the job's page, in words, with the way back.

use serde_json::Value;

use super::view::{Told, Words};
use super::view_lines::{ToldCheck, ToldLabor, ToldPart};
use super::whole::WholeJob;
use super::{brief, labor, put_back};
use crate::db::{Answer, Conn};
use crate::domain::ids::{LaborId, PersonId, RuleId};
use crate::web::notice::{self, Did, Notice};

const TAKE_BACK: &str = "Take back";
const PUT_BACK: &str = "Put it back";

/// The job as its page shows it.
pub(super) struct Shown<'a> {
    pub words: &'a Words,
    pub whole: &'a WholeJob,
    pub job: &'a Told,
    /// It may be written to, as work or as a correction.
    pub writes: bool,
    pub order_open: bool,
}

impl Shown<'_> {
    fn base(&self) -> String {
        format!("/shops/{}/jobs/{}", self.words.shop.code, self.job.id)
    }

    /// With the way back, where the viewer may take it.
    fn undo(&self, notice: Notice, label: &'static str, place: &str) -> Notice {
        if self.writes { notice.undo(label, format!("{}/{place}", self.base())) } else { notice }
    }

    /// A line that was taken back, by the record of changes.
    fn taken(
        &self,
        conn: &mut Conn,
        did: &Did,
        (record, place): (&str, &str),
    ) -> Answer<Option<Notice>> {
        let Some(id) = did.id.as_deref() else { return Ok(None) };
        let (shop, job) = (self.words.shop.id, &self.whole.job.id);
        let line = put_back::taken(conn, shop, job, (record, id))?;
        Ok(line.map(|line| {
            let label = match (text(&line, "code"), text(&line, "name")) {
                (Some(code), _) => self.words.lists.label(record, &code),
                (None, name) => name.unwrap_or_default(),
            };
            let told = Notice::plain(format!("Taken back: {label}."));
            self.undo(told, PUT_BACK, &format!("{place}/{id}/return"))
        }))
    }

    fn closed(&self) -> Option<Notice> {
        let told = Notice::plain(format!("Closed: {}.", self.job.outcome?));
        if !self.order_open {
            return Some(told);
        }
        let version = self.whole.job.version.to_string();
        let place = format!("{}/reopening", self.base());
        Some(told.undo("Reopen", place).with("version", version))
    }

    /// The cause that was named; back is what stood before.
    fn cause(&self, conn: &mut Conn) -> Answer<Option<Notice>> {
        let job = &self.whole.job;
        let line = ("job", job.id.as_str());
        let last = put_back::before_last(conn, self.words.shop.id, &job.id, line)?;
        let Some((_, before)) = last else { return Ok(None) };
        let text = |name: &str| text(&before, name).unwrap_or_default();
        let told = match (&self.job.cause, self.job.cause_state) {
            (Some(cause), Some(state)) => format!("Cause: {cause}, {state}."),
            (Some(cause), None) => format!("Cause: {cause}."),
            (None, _) => "No cause is named.".to_owned(),
        };
        // The last change of the job was another one.
        let same = |name: &str, now: &Option<String>| text(name) == now.clone().unwrap_or_default();
        if same("cause", &job.cause) && same("cause_how", &job.cause_how) {
            return Ok(Some(Notice::plain(told)));
        }
        let version = job.version.to_string();
        let notice = self.undo(Notice::plain(told), TAKE_BACK, "cause").with("version", version);
        let fields = ["cause", "cause_how", "cause_position"];
        Ok(Some(fields.into_iter().fold(notice, |notice, name| notice.with(name, text(name)))))
    }
}

/// What today's page tells of a clock that was stopped there.
///
/// # Errors
/// Where the database does not answer.
pub fn stopped(
    conn: &mut Conn,
    words: &Words,
    person: &PersonId,
    did: &Did,
) -> Answer<Option<Notice>> {
    let Some(id) = did.id_of("stopped").and_then(LaborId::parse) else { return Ok(None) };
    let Some(entry) = labor::ended(conn, words.shop.id, person, &id)? else { return Ok(None) };
    let number = brief::of(conn, words.shop.id, &entry.job_id)?.number();
    let told = ToldLabor::of(&entry, words, person);
    let on = told.activity.unwrap_or("work");
    Ok(Some(Notice::plain(format!("Stopped: job {number}, {on}, {}.", told.lasted))))
}

fn text(line: &Value, name: &str) -> Option<String> {
    line.get(name)?.as_str().map(str::to_owned)
}

fn check(row: &ToldCheck) -> String {
    let at = row.position.as_ref().map(|at| format!(", {at}")).unwrap_or_default();
    let finding = row.finding.map(|finding| format!(": {finding}")).unwrap_or_default();
    let minutes = row.minutes.map(|minutes| format!(", {minutes} min")).unwrap_or_default();
    format!("{}{at}{finding}{minutes}", row.label)
}

fn part(row: &ToldPart) -> String {
    let held = row.held_as.map(|held| format!(" ({held})")).unwrap_or_default();
    format!("{}: {}{held}", row.name, row.done)
}

/// What to tell of it; nothing where it is about a line that is not there.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn of(conn: &mut Conn, shown: &Shown<'_>, did: &Did) -> Answer<Option<Notice>> {
    let job = shown.job;
    let back = |told: String, list: &str, id: &str| {
        let told = Notice::plain(format!("Recorded: {told}."));
        Some(shown.undo(told, TAKE_BACK, &format!("{list}/{id}/removal")))
    };
    let id = did.id.as_deref().unwrap_or_default();
    Ok(match did.word.as_str() {
        "check" => job
            .checks
            .iter()
            .find(|row| row.id == id)
            .and_then(|row| back(check(row), "checks", id)),
        "part" => {
            job.parts.iter().find(|row| row.id == id).and_then(|row| back(part(row), "parts", id))
        }
        "operation" => job
            .operations
            .iter()
            .find(|row| row.id == id)
            .and_then(|row| back(row.label.clone(), "operations", id)),
        "proof" => job.proofs.iter().find(|row| row.id == id).and_then(|row| {
            let holds = if row.passed { "it holds" } else { "not yet: more work" };
            back(format!("{}, {holds}", row.how), "proofs", id)
        }),
        "started" => match job.labor.iter().find(|row| row.id == id && row.runs) {
            Some(row) => {
                let told = format!("The clock runs: {}.", row.activity.unwrap_or("work"));
                // Without it no clock would run: one tap changes over again.
                let took_over = labor::took_over(conn, shown.words.shop.id, id)?;
                let told = Notice::plain(told);
                let place = format!("labor/{id}/removal");
                Some(if took_over { told } else { shown.undo(told, TAKE_BACK, &place) })
            }
            None => None,
        },
        "stopped" => job.labor.iter().find(|row| row.id == id && !row.runs).map(|row| {
            let on = row.activity.unwrap_or("work");
            Notice::plain(format!("Stopped: {on}, {}.", row.lasted))
        }),
        "check-taken" => shown.taken(conn, did, ("check", "checks"))?,
        "part-taken" => shown.taken(conn, did, ("part_use", "parts"))?,
        "operation-taken" => shown.taken(conn, did, ("operation", "operations"))?,
        "cause" => shown.cause(conn)?,
        "rule" => RuleId::parse(id).map(|rule| {
            let told = Notice::plain("Kept: what you said of the rule.");
            told.undo(TAKE_BACK, format!("{}/rules/{rule}/removal", shown.base()))
        }),
        "rule-taken" => Some(Notice::plain("Taken back: what was said of the rule.")),
        "closed" => shown.closed(),
        _ => notice::plain(did),
    })
}
