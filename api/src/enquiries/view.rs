//! Enquiries and corrective actions as pages tell them.

use chrono::NaiveDate;

use super::action::CorrectiveAction;
use super::action_write::KINDS;
use super::in_use::InUse;
use super::model::{self, Enquiry};
use crate::codes::change::ATTRIBUTIONS;
use crate::comebacks::pair::Pair;
use crate::db::{Answer, Conn};
use crate::jobs::view::Words;
use crate::people::model as people;
use crate::shops::model::Shop;
use crate::web::words::{Pick, counted};

/// What changes, as people say it.
#[must_use]
pub fn kind_words(kind: &str) -> &'static str {
    match kind {
        "rule" => "shop rule",
        "check_plan" => "check plan",
        "training" => "training",
        "supplier" => "supplier",
        _ => "something else",
    }
}

/// Kinds as choices.
#[must_use]
pub fn kinds() -> Vec<Pick> {
    KINDS.iter().map(|kind| Pick::new(*kind, kind_words(kind))).collect()
}

/// What a reason is put down to, as people say it.
#[must_use]
pub fn attribution_words(word: &str) -> &'static str {
    match word {
        "shop_work" => "our work",
        "shop_process" => "how the shop works",
        "supplier" => "a supplier",
        "customer_choice" => "the customer's choice",
        _ => "nobody",
    }
}

/// Attributions as choices.
#[must_use]
pub fn attributions() -> Vec<Pick> {
    ATTRIBUTIONS.iter().map(|word| Pick::new(*word, attribution_words(word))).collect()
}

/// Who may see to something, by name.
///
/// # Errors
/// Where the database does not answer.
pub fn people(conn: &mut Conn, shop: &Shop) -> Answer<Vec<Pick>> {
    let mut picks: Vec<Pick> = people::of_shop(conn, shop.id)?
        .into_iter()
        .filter(|(person, _)| person.active)
        .map(|(person, _)| Pick::new(person.id.to_string(), person.name))
        .collect();
    picks.dedup();
    Ok(picks)
}

/// A corrective action.
pub struct ToldAction {
    pub id: String,
    pub version: i32,
    pub words: String,
    pub kind: String,
    pub kind_label: &'static str,
    pub owner: String,
    pub due: Option<String>,
    pub overdue: bool,
    pub state: String,
    pub ended: Option<String>,
    pub note: Option<String>,
    /// The comeback whose enquiry it is of.
    pub comeback: Option<String>,
    pub rule: Option<String>,
    pub plan: Option<String>,
    pub verdict: Option<String>,
    pub verified_how: Option<String>,
    pub verified_by: Option<String>,
    /// What the record says of the rule that it became.
    pub evidence: Option<String>,
}

/// Whether an action is open past its day.
#[must_use]
pub fn is_overdue(row: &CorrectiveAction, today: NaiveDate) -> bool {
    row.state == "open" && row.due_on.is_some_and(|due| due < today)
}

impl ToldAction {
    /// Tells an action.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(conn: &mut Conn, words: &Words, row: &CorrectiveAction) -> Answer<Self> {
        let comeback = match &row.enquiry_id {
            Some(id) => Some(model::by_id(conn, words.shop.id, id)?.comeback_id.to_string()),
            None => None,
        };
        let verdict = row.held.zip(row.verified_on).map(|(held, on)| {
            let said = if held { "It held" } else { "It did not hold" };
            format!("{said}, looked at {}", words.day(on))
        });
        Ok(Self {
            id: row.id.to_string(),
            version: row.version,
            words: row.words.clone(),
            kind_label: kind_words(&row.kind),
            kind: row.kind.clone(),
            owner: words.name(Some(&row.owner_id)).unwrap_or_default(),
            due: row.due_on.map(|day| words.day(day)),
            overdue: is_overdue(row, words.shop.zone().day(words.now)),
            state: row.state.clone(),
            ended: row.done_on.map(|day| words.day(day)),
            note: row.done_note.clone(),
            comeback,
            rule: row.rule_id.as_ref().map(ToString::to_string),
            plan: row.plan_id.as_ref().map(ToString::to_string),
            verdict,
            verified_how: row.verified_how.clone(),
            verified_by: words.name(row.verified_by.as_ref()),
            evidence: None,
        })
    }
}

/// What was found, a line each.
pub struct Line {
    pub label: &'static str,
    pub text: String,
}

/// What an enquiry says, for who does not write it.
#[must_use]
pub fn found(row: &Enquiry, words: &Words) -> Vec<Line> {
    let reason = |code: &Option<String>| words.label("comeback_reason", code.as_deref());
    let verified = row.verified.map(|yes| {
        let said = if yes { "yes" } else { "no" };
        format!("{said}: {}", row.verified_how.as_deref().unwrap_or("not said how"))
    });
    let says = row.technician_says.as_ref().map(|says| {
        let who = words.name(row.said_by.as_ref());
        who.map_or_else(|| says.clone(), |who| format!("{says} (written by {who})"))
    });
    let put_down = row.attribution.as_deref().map(|word| attribution_words(word).to_owned());
    let lines = [
        ("What failed", row.failed_item.clone()),
        ("When it showed", row.conditions.clone()),
        ("The same failure as the first time", verified),
        ("Checked the first time", row.checked.clone()),
        ("Not checked the first time", row.not_checked.clone()),
        ("From what was seen to the cause", row.analysis.clone()),
        ("Main reason", reason(&row.reason)),
        ("Had a part in it", reason(&row.contributing)),
        ("Put down to", put_down),
        ("Talked over with", words.name(row.technician_id.as_ref())),
        ("What they say", says),
        ("Held", Some(words.day(row.held_on))),
        ("Held by", words.name(Some(&row.held_by))),
    ];
    lines.into_iter().filter_map(|(label, text)| Some(Line { label, text: text? })).collect()
}

/// How long and how far it held, and how long the repairs took.
#[must_use]
pub fn in_use(known: &InUse) -> Vec<String> {
    let mut facts = Vec::new();
    facts.extend(known.days.map(|days| format!("held {}", counted(days, "day", "days"))));
    if let Some((distance, unit)) = known.distance.zip(known.distance_unit.as_deref()) {
        facts.push(format!("{} driven", crate::web::words::odometer(distance, unit)));
    }
    for (minutes, which) in
        [(known.first_repair_minutes, "first repair"), (known.repair_minutes, "this one")]
    {
        if minutes > 0 {
            facts.push(format!("{which} {}", counted(minutes, "minute", "minutes")));
        }
    }
    facts
}

/// What an enquiry begins with, from both jobs: what was checked the first time
/// and what was not, what came back, when it showed.
pub struct Draft {
    pub failed_item: String,
    pub conditions: String,
    pub checked: String,
    pub not_checked: String,
}

impl Draft {
    /// From both jobs as told. A check that was put down as not made is none that
    /// was, and says why.
    #[must_use]
    pub fn of(pair: &Pair) -> Self {
        let (mut checked, mut not_checked) = (Vec::new(), Vec::new());
        for check in &pair.first.checks {
            let place = check.position.as_ref().map(|at| format!(", {at}")).unwrap_or_default();
            match (check.not_done_reason.as_ref(), check.finding) {
                (Some(why), _) => not_checked.push(format!("{}{place}: {why}", check.label)),
                (None, Some(found)) => checked.push(format!("{}{place}: {found}", check.label)),
                (None, None) => checked.push(format!("{}{place}", check.label)),
            }
        }
        not_checked.extend(pair.not_checked.iter().cloned());
        let conditions = pair.now.as_ref().map(|now| now.when.join(", ")).unwrap_or_default();
        Self {
            failed_item: pair.returned.join("; "),
            conditions,
            checked: checked.join("\n"),
            not_checked: not_checked.join("\n"),
        }
    }
}
