//! The enquiry into a comeback as a page: both jobs at hand, what was found, what
//! the technician says, what is changed, and the close-out.

use actix_web::{HttpRequest, HttpResponse};
use askama::Template;

use super::action_write as actions;
use super::findings::Findings;
use super::http::sees_all;
use super::model::{self, Enquiry};
use super::page_action::new_action;
use super::view::{self, Draft, Line, ToldAction};
use crate::codes::lists::Lists;
use crate::comebacks::model as comebacks;
use crate::comebacks::page_decide::yes_or_no;
use crate::comebacks::pair::{LinkedPair, Teller};
use crate::db::{Answer, Conn};
use crate::domain::ids::{ComebackId, PersonId};
use crate::domain::refusal::Refusal;
use crate::domain::role::Permission;
use crate::jobs::http::money;
use crate::jobs::parts::MoneyRights;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{self, Did, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

type Done = Result<HttpResponse, Problem>;

#[derive(Template)]
#[template(path = "enquiry.html")]
struct EnquiryPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    comeback: String,
    base: String,
    both: LinkedPair,
    may_see: bool,
    begun: bool,
    /// Decides comebacks, and so writes what was found.
    writes: bool,
    /// Writes rules, and so agrees on what is changed.
    agrees: bool,
    /// Is the technician whom the enquiry names.
    states: bool,
    version: String,
    closed: Option<String>,
    close_note: Option<String>,
    facts: Vec<String>,
    found: Vec<Line>,
    actions: Vec<ToldAction>,
    open_actions: usize,
    verified_picks: Vec<Pick>,
    reasons: Vec<Pick>,
    attributions: Vec<Pick>,
    action_kinds: Vec<Pick>,
    people: Vec<Pick>,
    blank: Fields,
    says: String,
    /// Who wrote that down.
    said_by: String,
    asker: String,
    tried: Option<Tried>,
}

impl EnquiryPage {
    fn form(&self) -> FormView {
        FormView::of_record("enquiry", self.tried.as_ref(), self.blank.clone())
    }

    fn statement(&self) -> FormView {
        let blank = Fields::of(&[("technician_says", self.says.clone())]);
        FormView::of("statement", self.tried.as_ref(), blank)
    }

    fn action_form(&self) -> FormView {
        let blank = Fields::of(&[("owner_id", self.asker.clone())]);
        FormView::of("actions", self.tried.as_ref(), blank)
    }

    fn close_form(&self) -> FormView {
        FormView::of("close", self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        let tried = self.tried.as_ref()?;
        Some(FormView::of(tried.form, Some(tried), Fields::default()))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }

    /// Of the later job nothing is asked that was not checked.
    fn none_missed(&self) -> Vec<String> {
        Vec::new()
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    both: LinkedPair,
    row: Option<Enquiry>,
    is_about: bool,
    facts: Vec<String>,
    actions: Vec<ToldAction>,
    people: Vec<Pick>,
    blank: Fields,
}

/// The form as the enquiry stands, else as both jobs would have it.
fn blank(
    row: Option<&Enquiry>,
    both: &LinkedPair,
    lead: Option<&PersonId>,
    lists: &Lists,
    decided: Option<&str>,
) -> Fields {
    let Some(row) = row else {
        let draft = Draft::of(&both.pair);
        return Fields::of(&[
            ("failed_item", draft.failed_item),
            ("conditions", draft.conditions),
            ("checked", draft.checked),
            ("not_checked", draft.not_checked),
            ("reason", decided.unwrap_or_default().to_owned()),
            ("technician_id", lead.map(ToString::to_string).unwrap_or_default()),
        ]);
    };
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let listed = row.reason.as_deref().and_then(|code| lists.kind("comeback_reason", code));
    // One that only follows the list goes on following it.
    let own = row.attribution.clone().filter(|word| listed.as_ref() != Some(word));
    let verified = row.verified.map_or("", |yes| if yes { "yes" } else { "no" });
    Fields::of(&[
        ("failed_item", text(&row.failed_item)),
        ("conditions", text(&row.conditions)),
        ("verified", verified.to_owned()),
        ("verified_how", text(&row.verified_how)),
        ("checked", text(&row.checked)),
        ("not_checked", text(&row.not_checked)),
        ("analysis", text(&row.analysis)),
        ("reason", text(&row.reason)),
        ("contributing", text(&row.contributing)),
        ("attribution", own.unwrap_or_default()),
        ("technician_id", row.technician_id.as_ref().map(ToString::to_string).unwrap_or_default()),
        ("technician_says", text(&row.technician_says)),
    ])
}

fn load(
    conn: &mut Conn,
    words: Words,
    id: &ComebackId,
    (rights, asker): (MoneyRights, &PersonId),
) -> Answer<Loaded> {
    let shop_id = words.shop.id;
    let comeback = comebacks::by_id(conn, shop_id, id)?;
    let both = Teller::new(&words, rights, asker).linked(conn, &comeback)?;
    let row = model::of_comeback(conn, shop_id, id)?;
    let lead = crate::jobs::model::by_id(conn, shop_id, &comeback.earlier_job_id)?.lead_id;
    let in_use = super::in_use::InUse::read(conn, shop_id, &comeback)?;
    let mut actions = Vec::new();
    if let Some(row) = &row {
        for action in super::action::of_enquiry(conn, shop_id, &row.id)? {
            actions.push(ToldAction::read(conn, &words, &action)?);
        }
    }
    Ok(Loaded {
        is_about: model::is_about(conn, &comeback, row.as_ref(), asker)?,
        blank: blank(row.as_ref(), &both, lead.as_ref(), &words.lists, comeback.reason.as_deref()),
        facts: view::in_use(&in_use),
        people: view::people(conn, &words.shop)?,
        actions,
        both,
        row,
        words,
    })
}

/// The shop's reasons, and those that stand though they are offered no more.
fn reasons(words: &Words, row: Option<&Enquiry>) -> Vec<Pick> {
    let mut picks = words.lists.picks("comeback_reason");
    let held = row.map(|row| [row.reason.as_deref(), row.contributing.as_deref()]);
    for code in held.into_iter().flatten().flatten() {
        if !picks.iter().any(|pick| pick.value == code) {
            picks.push(Pick::new(code, words.lists.label("comeback_reason", code)));
        }
    }
    picks
}

/// Who works here, and who is named though working here no more.
fn with_named(mut people: Vec<Pick>, words: &Words, named: Option<&PersonId>) -> Vec<Pick> {
    let name = named.and_then(|id| words.name(Some(id)).map(|name| (id, name)));
    if let Some((id, name)) =
        name.filter(|(id, _)| people.iter().all(|one| one.value != id.as_str()))
    {
        people.push(Pick::new(id.as_str(), name));
    }
    people
}

async fn view_of(
    ctx: &Ctx,
    id: ComebackId,
    did: Option<Did>,
    tried: Option<Tried>,
) -> Result<EnquiryPage, Problem> {
    let (now, rights, asker) = (ctx.now, money(ctx), ctx.asker().person.id.clone());
    let comeback = id.to_string();
    let own = asker.clone();
    let loaded = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            load(conn, words, &id, (rights, &own))
        })
        .await?;
    let Loaded { words, both, row, is_about, facts, actions, people, blank } = loaded;
    let shop = words.shop.code.clone();
    let closed = row.as_ref().and_then(|row| {
        let on = words.day(row.closed_on?);
        let who = words.name(row.closed_by.as_ref()).unwrap_or_default();
        Some(format!("closed {on} by {who}"))
    });
    let names = row.as_ref().and_then(|row| row.technician_id.clone());
    let people = with_named(people, &words, names.as_ref());
    Ok(EnquiryPage {
        viewer: Viewer::of(ctx),
        notice: did.as_ref().and_then(notice::plain),
        base: format!("/shops/{shop}/comebacks/{comeback}/enquiry"),
        may_see: sees_all(ctx) || is_about,
        begun: row.is_some(),
        writes: ctx.may(Permission::DecideComeback),
        agrees: ctx.may(Permission::WriteRules),
        states: [names.as_ref(), row.as_ref().and_then(|row| row.said_by.as_ref())]
            .contains(&Some(&asker))
            && closed.is_none()
            && !ctx.may(Permission::DecideComeback),
        version: row.as_ref().map(|row| row.version.to_string()).unwrap_or_default(),
        close_note: row.as_ref().and_then(|row| row.close_note.clone()),
        says: row.as_ref().and_then(|row| row.technician_says.clone()).unwrap_or_default(),
        said_by: row
            .as_ref()
            .and_then(|row| words.name(row.said_by.as_ref()))
            .map(|who| format!("Written by {who}."))
            .unwrap_or_default(),
        found: row.as_ref().map(|row| view::found(row, &words)).unwrap_or_default(),
        open_actions: actions.iter().filter(|action| action.state == "open").count(),
        verified_picks: vec![
            Pick::new("yes", "Yes, the same"),
            Pick::new("no", "No, another one"),
            Pick::new("", "Not known yet"),
        ],
        reasons: reasons(&words, row.as_ref()),
        attributions: view::attributions(),
        action_kinds: view::kinds(),
        asker: asker.to_string(),
        shop,
        comeback,
        both,
        closed,
        facts,
        actions,
        people,
        blank,
        tried,
    })
}

/// The enquiry.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(ctx: Ctx, req: HttpRequest, parts: Parts<(String, ComebackId)>) -> Done {
    page::html(&view_of(&ctx, parts.0.1, Did::of(&req), None).await?)
}

/// Reads a form, does what it asks once, and goes back to the page.
async fn act<N: Send + 'static, T: serde::Serialize>(
    mut ctx: Ctx,
    id: ComebackId,
    form: Form<Fields>,
    (name, did): (&'static str, &str),
    parse: impl FnOnce(&Fields) -> Result<N, Problem>,
    work: impl Fn(&mut ShopWrite<'_>, &ComebackId, &N) -> Answer<T> + Send + 'static,
) -> Done {
    ctx.take(&form.value)?;
    let done = match parse(&form.value) {
        Ok(new) => {
            let of = id.clone();
            ctx.once(&form.hash, move |write| {
                let body = work(write, &of, &new)?;
                Ok(Made { status: 200, body, location: None, version: None })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => {
            let shop = &ctx.shop()?.code;
            Ok(see_other(&format!("/shops/{shop}/comebacks/{id}/enquiry?did={did}")))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields: form.value, problem: problem.clone() };
            refused(&problem, &view_of(&ctx, id, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

fn findings(fields: &Fields) -> Result<(Option<i32>, Findings), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.word("version", |text| text.parse().ok());
    let found = Findings {
        failed_item: read.text("failed_item"),
        conditions: read.text("conditions"),
        verified: read.word("verified", yes_or_no),
        verified_how: read.text("verified_how"),
        checked: read.text("checked"),
        not_checked: read.text("not_checked"),
        analysis: read.text("analysis"),
        reason: read.text("reason"),
        contributing: read.text("contributing"),
        attribution: read.text("attribution"),
        technician_id: read.word("technician_id", PersonId::parse),
        technician_says: read.text("technician_says"),
        held_on: None,
    };
    read.finish(Some((seen, found)))
}

/// Writes what was found.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn save(ctx: Ctx, parts: Parts<(String, ComebackId)>, form: Form<Fields>) -> Done {
    let work = |write: &mut ShopWrite<'_>, id: &ComebackId, new: &(Option<i32>, Findings)| {
        model::write(write, id, new.0, &new.1)
    };
    act(ctx, parts.0.1, form, ("enquiry", "saved"), findings, work).await
}

/// Keeps what the technician says.
///
/// # Errors
/// As there.
pub async fn say(ctx: Ctx, parts: Parts<(String, ComebackId)>, form: Form<Fields>) -> Done {
    let parse = |fields: &Fields| Ok(fields.typed("technician_says").to_owned());
    let work =
        |write: &mut ShopWrite<'_>, id: &ComebackId, words: &String| model::say(write, id, words);
    act(ctx, parts.0.1, form, ("statement", "saved"), parse, work).await
}

/// Agrees on a corrective action.
///
/// # Errors
/// As there.
pub async fn agree(ctx: Ctx, parts: Parts<(String, ComebackId)>, form: Form<Fields>) -> Done {
    let work = |write: &mut ShopWrite<'_>, id: &ComebackId, new: &actions::NewAction| {
        let row = model::of_comeback(write.conn, write.shop.id, id)?.ok_or(Refusal::NotFound)?;
        actions::add(write, &actions::NewAction { enquiry_id: Some(row.id), ..new.clone() })
    };
    act(ctx, parts.0.1, form, ("actions", "added"), new_action, work).await
}

/// Closes the enquiry, or opens it again.
///
/// # Errors
/// As there.
pub async fn close(ctx: Ctx, parts: Parts<(String, ComebackId)>, form: Form<Fields>) -> Done {
    let parse = |fields: &Fields| {
        let mut read = Reader::new(fields);
        let seen: Option<i32> = read.owed("version", |text| text.parse().ok());
        let note = read.text("note");
        read.finish(seen.map(|seen| (seen, note, fields.holds("reopen"))))
    };
    let work = |write: &mut ShopWrite<'_>,
                id: &ComebackId,
                (seen, note, reopen): &(i32, Option<String>, bool)| {
        if *reopen {
            model::reopen(write, id, *seen)
        } else {
            model::close(write, id, *seen, note.as_deref())
        }
    };
    act(ctx, parts.0.1, form, ("close", "saved"), parse, work).await
}
