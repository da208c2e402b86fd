//! Finished reports, kept until something changes that they could say.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::Ordering;

use chrono::NaiveDate;

use super::held::Held;
use super::slot::Slot;
use super::{Live, locked};
use crate::db::{Answer, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::style::Style;
use crate::reports::model::{Stamp, stamp};
use crate::reports::query::{Known, RETURNS, Report, ReportName, ReportQuery, permitted};
use crate::reports::{Format, render};
use crate::shops::model::{Shop, by_number};

/// Bytes of kept answers, about.
const MOST_BYTES: usize = 64 << 20;

/// How often the text of an answer is counted: the report beside it, as a struct,
/// takes about twice as much.
const TIMES_TEXT: usize = 3;

/// Where the change number stands in the text of a report: in its head, which
/// comes first.
const CHANGE_NO: &str = "\"change_no\":";

/// What is asked, and what the asker may see of the answer.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Question {
    pub name: ReportName,
    /// Without the form of the answer.
    pub query: ReportQuery,
    /// The name of who sees the own line alone.
    pub own: Option<String>,
    pub costs: bool,
}

impl Question {
    #[must_use]
    pub fn new(
        name: ReportName,
        query: &ReportQuery,
        (own, costs): (Option<String>, bool),
    ) -> Self {
        // Of the tables one alone makes another answer.
        let table = query.table.clone().filter(|table| table == RETURNS);
        let query = ReportQuery { format: None, table, ..query.clone() };
        Self { name, query, own, costs }
    }
}

/// A question on a day in a shop.
type Key = (i32, NaiveDate, Question);

/// A finished report, and its text as JSON.
struct Finished {
    report: Report,
    json: String,
    /// The change number's place in the text.
    change_no: Option<Range<usize>>,
}

impl Finished {
    fn new(report: Report, style: &Style) -> Answer<Self> {
        let json = render(&report, Format::Json, None, style)?;
        let number = report.head().change_no.to_string();
        let change_no = json.find(CHANGE_NO).and_then(|at| {
            let start = at + CHANGE_NO.len();
            let place = start..start + number.len();
            (json.get(place.clone()) == Some(number.as_str())).then_some(place)
        });
        Ok(Self { report, json, change_no })
    }
}

/// What was told, and the change up to which the record was read for it.
pub struct Told {
    finished: Arc<Finished>,
    change_no: i64,
}

impl Told {
    /// The report.
    #[must_use]
    pub fn report(self) -> Report {
        let mut report = Arc::try_unwrap(self.finished)
            .map_or_else(|shared| shared.report.clone(), |own| own.report);
        report.head_mut().change_no = self.change_no;
        report
    }

    /// The report as JSON.
    ///
    /// # Errors
    /// Where it cannot be written as such.
    pub fn json(self, style: &Style) -> Answer<String> {
        let place = self.finished.change_no.clone().and_then(|place| {
            let json = &self.finished.json;
            Some((json.get(..place.start)?, json.get(place.end..)?))
        });
        match place {
            Some((before, after)) => Ok(format!("{before}{}{after}", self.change_no)),
            None => render(&self.report(), Format::Json, None, style),
        }
    }
}

#[derive(Clone)]
struct Kept {
    finished: Arc<Finished>,
    settings: i64,
    content: u64,
    /// Where the answer hangs on rows of open jobs, too.
    change_no: Option<i64>,
}

impl Kept {
    fn is_true(&self, held: &Held, question: &Question) -> bool {
        let stamp = held.stamp();
        self.settings == stamp.settings
            && self.change_no.is_none_or(|number| number == stamp.change_no)
            && self.content == content(held, question, self.finished.report.head().as_of)
    }
}

/// What the answer was made from: of a plain question, what is seen as of its
/// day; whether a code or a part is known at all is asked of the whole record.
fn content(held: &Held, question: &Question, as_of: NaiveDate) -> u64 {
    if question.query.is_plain() {
        held.moves().seen_by(as_of.to_epoch_days())
    } else {
        held.moves().last()
    }
}

/// The answers of all shops, within a bound; those not asked for longest go.
#[derive(Default)]
pub(super) struct Keeper {
    answers: HashMap<Arc<Key>, (u64, Kept)>,
    by_age: BTreeMap<u64, Arc<Key>>,
    next: u64,
    bytes: usize,
}

impl Keeper {
    fn find(&mut self, key: &Key) -> Option<Kept> {
        let (shared, _) = self.answers.get_key_value(key)?;
        let shared = Arc::clone(shared);
        let (age, kept) = self.answers.get_mut(key)?;
        self.by_age.remove(age);
        *age = self.next;
        self.next += 1;
        self.by_age.insert(*age, shared);
        Some(kept.clone())
    }

    fn forget(&mut self, key: &Key) {
        if let Some((age, kept)) = self.answers.remove(key) {
            self.by_age.remove(&age);
            self.bytes = self.bytes.saturating_sub(size(&kept));
        }
    }

    fn keep(&mut self, key: Key, kept: Kept) {
        self.forget(&key);
        self.bytes += size(&kept);
        let key = Arc::new(key);
        self.by_age.insert(self.next, Arc::clone(&key));
        self.answers.insert(key, (self.next, kept));
        self.next += 1;
        while self.bytes > MOST_BYTES
            && let Some((_, oldest)) = self.by_age.first_key_value()
        {
            let oldest = Arc::clone(oldest);
            self.forget(&oldest);
        }
    }
}

fn size(kept: &Kept) -> usize {
    kept.finished.json.len().saturating_mul(TIMES_TEXT)
}

impl Live {
    pub(super) fn next_content(&self) -> u64 {
        self.0.contents.fetch_add(1, Ordering::Relaxed)
    }

    /// The answer, where it is kept and still true. Blocks: call it off the async
    /// threads.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn kept(
        &self,
        db: &Db,
        shop: &Shop,
        now: UtcStamp,
        question: &Question,
    ) -> Answer<Option<Told>> {
        let slot = self.slot(shop.id);
        let open = slot.open(self, db, shop)?;
        let held = open.get()?;
        let key = (shop.id, held.shop().zone().day(now), question.clone());
        let kept = locked(&self.0.keeper).find(&key);
        let kept = kept.filter(|kept| kept.is_true(held, question));
        let change_no = held.stamp().change_no;
        Ok(kept.map(|kept| Told { finished: kept.finished, change_no }))
    }

    /// Makes the answer, and keeps it. Blocks: call it off the async threads.
    ///
    /// # Errors
    /// As [`Self::with`]; what was asked cannot be answered.
    pub fn answer(&self, db: &Db, shop: &Shop, now: UtcStamp, question: &Question) -> Answer<Told> {
        let slot: Arc<Slot> = self.slot(shop.id);
        // First the history, which may take long; what else is known is asked last.
        drop(slot.open(self, db, shop)?);
        let (known_at, shop, known) = db.read(|conn| {
            let shop = by_number(conn, shop.id)?;
            let known = Known::load(conn, &shop, (question.name, now), &question.query)?;
            Ok((stamp(conn, shop.id)?, shop, known))
        })?;
        let open = slot.open(self, db, &shop)?;
        let held = open.get()?;
        let report = permitted(held.history(), &known, &shop, now, question)?;
        let finished = Arc::new(Finished::new(report, &shop.style())?);
        self.keep(&shop, now, (held, known_at), question, &finished);
        Ok(Told { finished, change_no: held.stamp().change_no })
    }

    fn keep(
        &self,
        shop: &Shop,
        now: UtcStamp,
        (held, known_at): (&Held, Stamp),
        question: &Question,
        finished: &Arc<Finished>,
    ) {
        let stamp = held.stamp();
        // Whether the record has a part is looked up among open jobs, too.
        let change_no = question.query.part.as_ref().map(|_| stamp.change_no);
        let at_once = stamp.settings == known_at.settings
            && change_no.is_none_or(|number| number == known_at.change_no);
        if !at_once {
            return;
        }
        let kept = Kept {
            settings: stamp.settings,
            content: content(held, question, finished.report.head().as_of),
            change_no,
            finished: Arc::clone(finished),
        };
        let key = (shop.id, shop.zone().day(now), question.clone());
        locked(&self.0.keeper).keep(key, kept);
    }
}
