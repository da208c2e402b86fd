//! A shop's code lists as a page: one list at a time, and one entry opened.

use std::collections::BTreeMap;

use actix_web::HttpResponse;
use analytics::words::{Access, Curable};
use askama::Template;
use serde::Deserialize;

use super::change::{self, ATTRIBUTIONS, CAUSE_KINDS};
use super::lists::Lists;
use super::model::{self, CodeEntry};
use super::sources::{self, ABOUT, About};
use super::uses::{self, Uses};
use crate::domain::codes::address_part;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::body::Params;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::page::{self, Viewer};
use crate::web::words::{Pick, Shown, counted, label_of};

/// Which list, and which entry of it.
#[derive(Debug, Clone, Default, Deserialize)]
pub struct CodesQuery {
    /// Absent: symptoms.
    pub list: Option<String>,
    pub code: Option<String>,
    /// Only entries with this in their label or code.
    pub q: Option<String>,
}

/// A list with more entries than this is folded under heads.
const LONG: usize = 20;

/// A list in the row of lists.
struct Tab {
    label: &'static str,
    place: String,
    here: bool,
}

/// An entry in its list.
struct Row {
    code: String,
    label: String,
    system: Option<String>,
    /// What the entry is put under in a long list.
    under: String,
    origin: &'static str,
    uses: i64,
    state: Option<String>,
    place: String,
}

/// Entries under a common head; a short list has one without a head.
struct Group {
    label: String,
    rows: Vec<Row>,
    open: bool,
}

/// The entry that is opened.
struct Opened {
    code: String,
    label: String,
    /// Label and value of what the list's entries have besides.
    facts: Vec<(&'static str, String)>,
    source: String,
    uses: String,
    state: Option<String>,
    remarks: Vec<String>,
    live: bool,
    retired: bool,
    version: i32,
    history: String,
}

#[derive(Template)]
#[template(path = "codes.html")]
pub struct CodesPage {
    viewer: Viewer,
    shop: String,
    writes: bool,
    tabs: Vec<Tab>,
    about: &'static About,
    groups: Vec<Group>,
    /// Entries that are shown, of all there are.
    shown: usize,
    all: usize,
    /// What is looked for.
    wanted: String,
    opened: Option<Opened>,
    blank: Fields,
    systems: Vec<Pick>,
    kinds: Vec<Pick>,
    curables: Vec<Pick>,
    accesses: Vec<Pick>,
    targets: Vec<Pick>,
    tried: Option<Tried>,
}

impl CodesPage {
    fn form(&self, name: &str) -> FormView {
        let blank = if name == "entry" { self.blank.clone() } else { Fields::default() };
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }

    fn has_systems(&self) -> bool {
        self.about.list == "symptom"
    }
}

/// The address of an entry's page.
#[must_use]
pub fn place(shop: &str, list: &str, code: &str) -> String {
    format!("/shops/{shop}/codes?list={list}&code={}", address_part(code))
}

const fn origin(word: &str) -> &'static str {
    match word.as_bytes() {
        b"starting" => "starting list",
        b"import" => "imported files",
        _ => "added here",
    }
}

/// Kinds as people read them, of the lists that have some.
fn kinds(list: &str) -> Vec<Pick> {
    let label = |word: &str| match word {
        "shop_work" => "our work".to_owned(),
        "shop_process" => "how the shop works".to_owned(),
        "customer_choice" => "the customer's choice".to_owned(),
        "physical" => "something on the vehicle".to_owned(),
        "workmanship" => "work done before".to_owned(),
        "supply" => "a part as supplied".to_owned(),
        "none" if list == "cause" => "nothing wrong".to_owned(),
        "none" => "nobody".to_owned(),
        other => other.to_owned(),
    };
    let words = match list {
        "cause" => CAUSE_KINDS,
        "comeback_reason" => ATTRIBUTIONS,
        _ => &[],
    };
    words.iter().map(|word| Pick::new(*word, label(word))).collect()
}

fn curables() -> Vec<Pick> {
    Curable::ALL.iter().map(|word| Pick::new(word.as_str(), word.as_str())).collect()
}

/// How an entry that new work may not use stands.
fn state(entry: &CodeEntry, lists: &Lists) -> Option<String> {
    match &entry.merged_into {
        Some(into) => Some(format!("merged into {}", lists.label(&entry.list, into))),
        None => entry.retired_at.map(|_| "retired".to_owned()),
    }
}

impl Row {
    /// Whether every word looked for is in the label, the code or the system.
    fn has(&self, wanted: &str) -> bool {
        let system = self.system.as_deref().unwrap_or_default();
        let text = format!("{} {} {system}", self.label, self.code).to_lowercase();
        wanted.to_lowercase().split_whitespace().all(|word| text.contains(word))
    }
}

/// The head that an entry of a long list stands under: a symptom's system, the
/// kind of a cause.
fn under(entry: &CodeEntry, lists: &Lists) -> String {
    match (&entry.system, &entry.kind) {
        (Some(system), _) => lists.label("system", system),
        (None, Some(kind)) => label_of(&kinds(&entry.list), kind),
        (None, None) => "without one".to_owned(),
    }
}

/// A long list under heads that fold; what was looked for is open.
fn grouped(list: &str, rows: Vec<Row>, looked_for: bool) -> Vec<Group> {
    if rows.len() <= LONG || !["symptom", "cause"].contains(&list) {
        return vec![Group { label: String::new(), rows, open: true }];
    }
    let mut heads: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    for row in rows {
        heads.entry(row.under.clone()).or_default().push(row);
    }
    heads.into_iter().map(|(label, rows)| Group { label, rows, open: looked_for }).collect()
}

fn rows(shop: &str, entries: &[CodeEntry], lists: &Lists, uses: &Uses) -> Vec<Row> {
    let mut sorted: Vec<&CodeEntry> = entries.iter().collect();
    sorted.sort_by(|a, b| (!a.is_live(), &a.label).cmp(&(!b.is_live(), &b.label)));
    sorted
        .into_iter()
        .map(|entry| Row {
            system: entry.system.as_deref().map(|system| lists.label("system", system)),
            under: under(entry, lists),
            origin: origin(&entry.origin),
            uses: uses.get(&entry.code).copied().unwrap_or(0),
            state: state(entry, lists),
            place: place(shop, &entry.list, &entry.code),
            code: entry.code.clone(),
            label: entry.label.clone(),
        })
        .collect()
}

fn facts(entry: &CodeEntry, lists: &Lists) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if let Some(system) = &entry.system {
        facts.push(("System", lists.label("system", system)));
    }
    if let Some(kind) = &entry.kind {
        let name = if entry.list == "cause" { "Kind" } else { "Put down to" };
        facts.push((name, label_of(&kinds(&entry.list), kind)));
    }
    if let Some(curable) = entry.curable {
        facts.push(("Cleaning cures it", curable.0.as_str().to_owned()));
    }
    if let Some(minutes) = entry.typical_minutes {
        facts.push(("Typical minutes", minutes.to_string()));
    }
    if let Some(access) = entry.access {
        facts.push(("What must be open", access.0.shown().to_owned()));
    }
    facts
}

/// What one moment of the record holds for the page.
struct Loaded {
    entries: Vec<CodeEntry>,
    lists: Lists,
    uses: Uses,
}

fn opened(ctx: &Ctx, loaded: &Loaded, entry: &CodeEntry) -> Result<Opened, Problem> {
    let shop = ctx.shop()?;
    let into = loaded.entries.iter().find(|e| entry.merged_into.as_deref() == Some(&*e.code));
    let uses = loaded.uses.get(&entry.code).copied().unwrap_or(0);
    let from = origin(&entry.origin);
    let since = entry
        .retired_at
        .map(|at| format!("retired since {}", shop.style().seen_moment(at, ctx.now)));
    Ok(Opened {
        code: entry.code.clone(),
        label: entry.label.clone(),
        facts: facts(entry, &loaded.lists),
        source: entry.source.clone().unwrap_or_else(|| format!("Came by: {from}.")),
        uses: counted(uses, "time", "times"),
        state: since.filter(|_| into.is_none()).or_else(|| state(entry, &loaded.lists)),
        remarks: into.map(|into| change::remarks(entry, into)).unwrap_or_default(),
        live: entry.is_live(),
        retired: entry.retired_at.is_some() && entry.merged_into.is_none(),
        version: entry.version,
        history: format!(
            "/shops/{}/history?record=code&record_id={}",
            shop.code,
            address_part(&format!("{}/{}", entry.list, entry.code))
        ),
    })
}

fn blank(entry: &CodeEntry) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    Fields::of(&[
        ("label", entry.label.clone()),
        ("system", text(&entry.system)),
        ("kind", text(&entry.kind)),
        ("curable", entry.curable.map(|word| word.0.as_str().to_owned()).unwrap_or_default()),
        (
            "typical_minutes",
            entry.typical_minutes.map(|minutes| minutes.to_string()).unwrap_or_default(),
        ),
        ("access", entry.access.map(|word| word.0.as_str().to_owned()).unwrap_or_default()),
    ])
}

/// The page of a list, with a form that was refused where one was.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn view(
    ctx: &Ctx,
    query: &CodesQuery,
    tried: Option<Tried>,
) -> Result<CodesPage, Problem> {
    let list = query.list.as_deref().unwrap_or("symptom");
    let about = sources::about(list).ok_or_else(Problem::not_found)?;
    let loaded = ctx
        .read(move |conn, shop| {
            Ok(Loaded {
                entries: model::entries(conn, shop.id, Some(about.list))?,
                lists: Lists::load(conn, shop.id)?,
                uses: uses::of_list(conn, shop.id, about.list)?,
            })
        })
        .await?;
    let shop = ctx.shop()?.code.clone();
    let entry = match &query.code {
        Some(code) => {
            Some(loaded.entries.iter().find(|e| e.code == *code).ok_or_else(Problem::not_found)?)
        }
        None => None,
    };
    let wanted = query.q.as_deref().unwrap_or_default().trim();
    let mut rows = rows(&shop, &loaded.entries, &loaded.lists, &loaded.uses);
    rows.retain(|row| row.has(wanted));
    let tab = |about: &About| Tab {
        label: about.label,
        place: format!("/shops/{shop}/codes?list={}", about.list),
        here: about.list == list,
    };
    let mut targets = loaded.lists.picks(list);
    targets.retain(|pick| entry.is_none_or(|entry| pick.value != entry.code));
    Ok(CodesPage {
        viewer: Viewer::of(ctx),
        writes: ctx.may(Permission::WriteCodes),
        tabs: ABOUT.iter().map(tab).collect(),
        about,
        shown: rows.len(),
        all: loaded.entries.len(),
        groups: grouped(list, rows, !wanted.is_empty()),
        wanted: wanted.to_owned(),
        opened: entry.map(|entry| opened(ctx, &loaded, entry)).transpose()?,
        blank: entry.map(blank).unwrap_or_default(),
        systems: loaded.lists.picks("system"),
        kinds: kinds(list),
        curables: curables(),
        accesses: Access::picks(),
        targets,
        shop,
        tried,
    })
}

/// The shop's code lists.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn list(ctx: Ctx, query: Params<CodesQuery>) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, &query.0, None).await?)
}
