//! Shop rules: rows, and taking one.

use analytics::effect::Rule;
use analytics::history::Reading;
use analytics::words::RuleKind;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;
use serde_json::Value;

use super::decide::{self, Says};
use crate::codes::model as codes;
use crate::db::schema::{reading_list_version, shop_rule};
use crate::db::types::Word;
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::system_of;
use crate::domain::ids::{ActionId, PersonId, RuleId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::{odometer, text};
use crate::enquiries::action::{self, Answered};
use crate::jobs::model::{known_code, known_person, no_faults, optional};
use crate::shops::write::{About, ShopWrite};
use crate::web::words::units;

/// A decision of the shop, with what it was taken on.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = shop_rule, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct ShopRule {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: RuleId,
    #[schema(value_type = RuleKind)]
    pub kind: Word<RuleKind>,
    pub title: String,
    /// The rule in the shop's words.
    pub words: String,
    pub symptom: Option<String>,
    /// Part number, else name.
    pub part: Option<String>,
    /// Code of a check, or the name of a reading taken before a vehicle leaves.
    #[serde(rename = "check")]
    pub check_code: Option<String>,
    /// Unit of the reading (UCUM).
    pub unit: Option<String>,
    pub low_limit: Option<f64>,
    pub high_limit: Option<f64>,
    pub limit_source: Option<String>,
    /// Which jobs a rule in words is about, as a query; absent: all.
    pub about: Option<String>,
    /// What it was taken on, as it stood then.
    pub evidence: String,
    /// The same as figures, where the record had any: a JSON object.
    pub evidence_json: Option<String>,
    /// Who sees to it.
    pub owner_id: PersonId,
    /// First shop-local closing day on which it stands.
    pub starts_on: NaiveDate,
    /// The day of the one verdict.
    pub review_on: NaiveDate,
    pub taken_by: PersonId,
    pub taken_at: UtcStamp,
    pub reviewed_on: Option<NaiveDate>,
    pub reviewed_by: Option<PersonId>,
    /// `kept`, `changed`, `withdrawn`.
    pub review_word: Option<String>,
    pub review_note: Option<String>,
    pub withdrawn_on: Option<NaiveDate>,
    pub withdrawn_by: Option<PersonId>,
    pub withdrawn_reason: Option<String>,
    pub version: i32,
}

/// A rule to be taken.
#[derive(Debug, Clone)]
pub struct NewRule {
    pub kind: RuleKind,
    pub title: String,
    pub words: String,
    pub symptom: Option<String>,
    pub part: Option<String>,
    pub check_code: Option<String>,
    pub unit: Option<String>,
    pub low_limit: Option<f64>,
    pub high_limit: Option<f64>,
    pub limit_source: Option<String>,
    pub about: Option<String>,
    pub evidence: String,
    pub evidence_json: Option<String>,
    pub owner_id: PersonId,
    pub starts_on: NaiveDate,
    pub review_on: NaiveDate,
    /// The corrective action that it answers.
    pub action_id: Option<ActionId>,
}

impl NewRule {
    pub(super) fn says(&self) -> Says<'_> {
        Says {
            symptom: self.symptom.as_deref(),
            part: self.part.as_deref(),
            check: self.check_code.as_deref(),
            unit: self.unit.as_deref(),
            low: self.low_limit,
            high: self.high_limit,
            limit_source: self.limit_source.as_deref(),
            about: self.about.as_deref(),
        }
    }
}

/// Where a rule stands on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    ToCome,
    InForce,
    DueForReview,
    /// Reviewed, and it stands.
    Reviewed,
    Withdrawn,
}

impl ShopRule {
    /// What it asks for.
    ///
    /// # Errors
    /// Where the row says what no rule can.
    pub fn asks(&self) -> Answer<Rule> {
        asks(self.kind.0, &self.id, &self.says())
            .ok_or_else(|| Fault::Unavailable(format!("rule {} in the record is none", self.id)))
    }

    fn says(&self) -> Says<'_> {
        Says {
            symptom: self.symptom.as_deref(),
            part: self.part.as_deref(),
            check: self.check_code.as_deref(),
            unit: self.unit.as_deref(),
            low: self.low_limit,
            high: self.high_limit,
            limit_source: self.limit_source.as_deref(),
            about: self.about.as_deref(),
        }
    }

    /// Where it stands on a day.
    #[must_use]
    pub fn state(&self, today: NaiveDate) -> State {
        match () {
            () if self.withdrawn_on.is_some() => State::Withdrawn,
            () if self.reviewed_on.is_some() => State::Reviewed,
            () if self.starts_on > today => State::ToCome,
            () if self.review_on <= today => State::DueForReview,
            () => State::InForce,
        }
    }

    /// The last day up to today on which jobs were asked for it.
    #[must_use]
    pub fn last_day(&self, today: NaiveDate) -> NaiveDate {
        let last = self.withdrawn_on.and_then(|day| day.pred_opt());
        last.map_or(today, |last| last.min(today))
    }

    /// The day on which it was withdrawn before its review day: it gets no verdict.
    #[must_use]
    pub fn ended_early(&self) -> Option<NaiveDate> {
        self.withdrawn_on.filter(|day| *day < self.review_on)
    }

    /// Whether jobs are asked for it on a day.
    #[must_use]
    pub fn binds(&self, today: NaiveDate) -> bool {
        self.withdrawn_on.is_none() && self.starts_on <= today
    }
}

/// What a rule of a kind asks for; `None` where it lacks what its kind needs.
#[must_use]
pub fn asks(kind: RuleKind, id: &RuleId, says: &Says<'_>) -> Option<Rule> {
    let own = |text: Option<&str>| text.map(str::to_owned);
    Some(match kind {
        RuleKind::ReplaceSuspect => {
            Rule::ReplaceSuspect { part: own(says.part)?, symptom: own(says.symptom) }
        }
        RuleKind::CleanAndTest => Rule::CleanAndTest { part: own(says.part)? },
        RuleKind::CheckFirst => {
            Rule::CheckFirst { symptom: own(says.symptom)?, check: own(says.check)? }
        }
        RuleKind::ReadingLimit => Rule::ReadingLimit {
            check: own(says.check)?,
            symptom: own(says.symptom),
            unit: own(says.unit)?,
            low: says.low.and_then(Reading::new),
            high: says.high.and_then(Reading::new),
        },
        RuleKind::FreeText => Rule::FreeText {
            id: id.to_string(),
            about: decide::jobs(says.about.unwrap_or_default()).ok()?,
        },
    })
}

/// The shop's rules, the youngest first.
///
/// # Errors
/// Where the database does not answer.
pub fn list(conn: &mut Conn, shop_id: i32) -> Answer<Vec<ShopRule>> {
    Ok(shop_rule::table
        .filter(shop_rule::shop_id.eq(shop_id))
        .order((shop_rule::starts_on.desc(), shop_rule::id.desc()))
        .select(ShopRule::as_select())
        .load(conn)?)
}

/// Those that jobs are asked for on a day, the oldest first.
///
/// # Errors
/// Where the database does not answer.
pub fn binding(conn: &mut Conn, shop_id: i32, today: NaiveDate) -> Answer<Vec<ShopRule>> {
    Ok(shop_rule::table
        .filter(shop_rule::shop_id.eq(shop_id).and(shop_rule::withdrawn_on.is_null()))
        .filter(shop_rule::starts_on.le(today))
        .order((shop_rule::starts_on, shop_rule::id))
        .select(ShopRule::as_select())
        .load(conn)?)
}

/// One rule, where there is one.
///
/// # Errors
/// Where the database does not answer.
pub fn find(conn: &mut Conn, shop_id: i32, id: &RuleId) -> Answer<Option<ShopRule>> {
    Ok(shop_rule::table.find((shop_id, id)).select(ShopRule::as_select()).first(conn).optional()?)
}

/// One rule.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &RuleId) -> Answer<ShopRule> {
    find(conn, shop_id, id)?.ok_or_else(|| Refusal::NotFound.into())
}

/// Takes a rule.
///
/// # Errors
/// Faulty fields; a corrective action that is not there or no longer open.
pub fn take(write: &mut ShopWrite<'_>, new: &NewRule) -> Answer<ShopRule> {
    let today = write.shop.zone().day(write.now);
    // What it is about comes first: without that the record has nothing to say for it.
    no_faults(decide::fields(new.kind, &new.says()))?;
    known_code(write, "symptom", "symptom", new.symptom.as_deref())?;
    known_reading(write, new)?;
    known_unit(write, new)?;
    known_jobs(write, new.about.as_deref())?;
    let days = (new.starts_on, new.review_on);
    let mut faults = decide::days(days, today, write.shop.window_days);
    let (title, words, evidence) = texts(new, &mut faults);
    no_faults(faults)?;
    known_person(write, "owner_id", Some(&new.owner_id))?;
    let row = ShopRule {
        shop_id: write.shop.id,
        id: RuleId::make(),
        kind: Word(new.kind),
        title,
        words,
        symptom: new.symptom.clone(),
        part: optional("part", new.part.as_deref(), 200)?,
        check_code: new.check_code.clone(),
        unit: optional("unit", new.unit.as_deref(), 40)?,
        low_limit: new.low_limit,
        high_limit: new.high_limit,
        limit_source: optional("limit_source", new.limit_source.as_deref(), 400)?,
        about: optional("about", new.about.as_deref(), 2000)?,
        evidence,
        evidence_json: new.evidence_json.clone(),
        owner_id: new.owner_id.clone(),
        starts_on: new.starts_on,
        review_on: new.review_on,
        taken_by: write.person.clone(),
        taken_at: write.now,
        reviewed_on: None,
        reviewed_by: None,
        review_word: None,
        review_note: None,
        withdrawn_on: None,
        withdrawn_by: None,
        withdrawn_reason: None,
        version: 1,
    };
    diesel::insert_into(shop_rule::table).values(&row).execute(write.conn)?;
    write.note(&About::new("shop_rule", &row.id), "added", None, Some(&row))?;
    if let Some(id) = &new.action_id {
        action::answered(write, id, Answered::Rule(row.id.clone()))?;
    }
    Ok(row)
}

/// Title, words and evidence, with what is wrong with them.
fn texts(new: &NewRule, faults: &mut Vec<FieldFault>) -> (String, String, String) {
    let mut read = |field: &str, text: &str, most: usize| {
        text::required(field, text, most).unwrap_or_else(|fault| {
            faults.push(fault);
            String::new()
        })
    };
    (
        read("title", &new.title, 200),
        read("words", &new.words, 2000),
        read("evidence", &new.evidence, 4000),
    )
}

/// A check of the list; for a limit also a reading that one of the shop's lists
/// asks for before a vehicle leaves.
fn known_reading(write: &mut ShopWrite<'_>, new: &NewRule) -> Answer<()> {
    let check = new.check_code.as_deref();
    if new.kind == RuleKind::ReadingLimit
        && let Some(key) = check
        && on_a_list(write, key, None)?
    {
        return Ok(());
    }
    known_code(write, "check", "check", check)
}

/// A unit that readings are written in: of checks, of odometers, of the line itself.
fn known_unit(write: &mut ShopWrite<'_>, new: &NewRule) -> Answer<()> {
    let Some(unit) = new.unit.as_deref() else { return Ok(()) };
    let known = odometer::UNITS.contains(&unit) || units().iter().any(|pick| pick.value == unit);
    if known || on_a_list(write, new.check_code.as_deref().unwrap_or_default(), Some(unit))? {
        return Ok(());
    }
    let detail = format!("no reading is written in {unit}: choose one of the list");
    Err(Refusal::field("unit", "unknown_unit", detail).into())
}

/// The codes that a rule in words names: each stands on its list, if only as one that
/// counts as another now. Reports refuse what nobody knows, so no rule is made of it.
fn known_jobs(write: &mut ShopWrite<'_>, about: Option<&str>) -> Answer<()> {
    let Some(about) = about else { return Ok(()) };
    let jobs = decide::jobs(about).map_err(|fault| Refusal::Invalid(vec![fault]))?;
    for (list, code) in decide::named(jobs) {
        let mut known = codes::find(write.conn, write.shop.id, &list, &code)?.is_some();
        if !known && list == "system" {
            let symptoms = codes::entries(write.conn, write.shop.id, Some("symptom"))?;
            known = symptoms.iter().any(|symptom| {
                symptom.system.as_deref().unwrap_or_else(|| system_of(&symptom.code)) == code
            });
        }
        if !known {
            let detail = format!("there is no {list} {code}");
            return Err(Refusal::field("about", "unknown_code", detail).into());
        }
    }
    Ok(())
}

/// Whether a list asks for a line of that key, in that unit where one is named.
fn on_a_list(write: &mut ShopWrite<'_>, key: &str, unit: Option<&str>) -> Answer<bool> {
    let lists: Vec<String> = reading_list_version::table
        .filter(reading_list_version::shop_id.eq(write.shop.id))
        .select(reading_list_version::lines_json)
        .load(write.conn)?;
    let says =
        |line: &Value, name: &str, text: &str| line.get(name).and_then(Value::as_str) == Some(text);
    let names =
        |line: &Value| says(line, "key", key) && unit.is_none_or(|unit| says(line, "unit", unit));
    let has = |text: &String| {
        let lines: Option<Value> = serde_json::from_str(text).ok();
        lines.as_ref().and_then(Value::as_array).is_some_and(|lines| lines.iter().any(names))
    };
    Ok(lists.iter().any(has))
}

/// Writes a rule over what stands, one version on.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn save(
    write: &mut ShopWrite<'_>,
    before: &ShopRule,
    mut row: ShopRule,
    action: &str,
) -> Answer<ShopRule> {
    row.version = before.version + 1;
    diesel::update(shop_rule::table.find((row.shop_id, &row.id))).set(&row).execute(write.conn)?;
    write.note(&About::new("shop_rule", &row.id), action, Some(before), Some(&row))?;
    Ok(row)
}
