//! Taking a rule: first what it is about, then what the record says for it, and
//! the words it is taken in.

use actix_web::HttpResponse;
use analytics::words::RuleKind;
use askama::Template;
use chrono::NaiveDate;

use super::ask::{self, Draft, RuleTaken};
use super::page_one::owners;
use super::{decide, model, told};
use crate::codes::lists::Lists;
use crate::domain::ids::{ActionId, PersonId};
use crate::people::model as people;
use crate::problem::{Kind, Problem};
use crate::shops::model::Shop;
use crate::web::answer::Made;
use crate::web::body::{Form, Params};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::{self, Pick, PickGroup};

/// What says what a rule is about: it stands in the address.
const SUBJECT: [&str; 9] = [
    "kind",
    "symptom",
    "part",
    "check",
    "unit",
    "low_limit",
    "high_limit",
    "limit_source",
    "action_id",
];

/// What else is typed: asking the record again keeps it.
const TYPED: [&str; 7] =
    ["title", "words", "about", "evidence", "owner_id", "starts_on", "review_on"];

/// What the record says, for the page.
struct Said {
    evidence: Option<String>,
    /// Which jobs it counts; nothing where it has none.
    covers: Option<String>,
    plan: String,
    /// Where the check stands in the shop's own plan, if not first.
    place_in_plan: Option<usize>,
}

#[derive(Template)]
#[template(path = "rule_new.html")]
struct NewRulePage {
    viewer: Viewer,
    shop: String,
    kind: Option<&'static str>,
    kinds: Vec<Choice>,
    subject: Fields,
    /// What stands in the address, for the form that takes the rule.
    held: Vec<(&'static str, String)>,
    /// What was typed besides, for the form that asks the record.
    typed: Vec<(&'static str, String)>,
    symptoms: Vec<PickGroup>,
    checks: Vec<Pick>,
    units: Vec<Pick>,
    people: Vec<Pick>,
    said: Option<Said>,
    blank: Fields,
    today: String,
    tried: Option<Tried>,
}

/// A kind to choose.
struct Choice {
    label: &'static str,
    place: String,
    here: bool,
}

impl NewRulePage {
    fn form(&self) -> FormView {
        FormView::of("rule", self.tried.as_ref(), self.blank.clone())
    }

    fn subject_form(&self) -> FormView {
        FormView::of("subject", None, self.subject.clone())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "rule"
    }

    /// The form that takes the rule: once the record was asked, and whenever something
    /// was typed into it. A rule in words has no other.
    fn takes(&self) -> bool {
        let begun = self.tried.is_some() || !self.typed.is_empty();
        self.said.is_some() || begun || self.is("free_text")
    }

    fn beside(&self) -> Option<&'static str> {
        self.kind.and_then(RuleKind::parse).and_then(told::beside)
    }

    fn is(&self, kind: &str) -> bool {
        self.kind == Some(kind)
    }

    fn named(&self) -> Vec<Pick> {
        let typed = self.subject.typed("check");
        let mut checks = self.checks.clone();
        if !typed.is_empty() && checks.iter().all(|pick| pick.value != typed) {
            checks.insert(0, Pick::new(typed, typed));
        }
        checks
    }
}

/// A day, where something was typed.
pub(super) fn day(read: &mut Reader<'_>, name: &str) -> Option<NaiveDate> {
    let day = read.text(name)?.parse().ok();
    if day.is_none() {
        read.refuse(name, "write a day, such as 2026-03-31");
    }
    day
}

/// The rule that a form's fields are of.
fn read(fields: &Fields) -> Result<RuleTaken, Problem> {
    let mut read = Reader::new(fields);
    let kind = read.owed("kind", RuleKind::parse);
    let new = RuleTaken {
        kind: kind.unwrap_or(RuleKind::FreeText),
        title: read.text("title").unwrap_or_default(),
        words: read.text("words").unwrap_or_default(),
        symptom: read.text("symptom"),
        part: read.text("part"),
        check: read.text("check"),
        unit: read.text("unit"),
        low_limit: read.decimal("low_limit"),
        high_limit: read.decimal("high_limit"),
        limit_source: read.text("limit_source"),
        about: read.text("about"),
        evidence: read.text("evidence"),
        owner_id: read.word("owner_id", PersonId::parse),
        starts_on: day(&mut read, "starts_on"),
        review_on: day(&mut read, "review_on"),
        action_id: read.word("action_id", ActionId::parse),
    };
    read.finish(kind.map(|_| new))
}

/// What the record says for the rule that is asked about; nothing while it is not
/// named whole.
async fn asked(ctx: &Ctx, fields: &Fields) -> Result<Option<(RuleTaken, Draft)>, Problem> {
    let Ok(new) = read(fields) else { return Ok(None) };
    match ask::draft(ctx, &new).await {
        Ok(draft) => Ok(Some((new, draft))),
        Err(problem) if problem.kind == Kind::INVALID => Ok(None),
        Err(problem) => Err(problem),
    }
}

/// A title to begin with.
fn title(new: &RuleTaken, lists: &Lists) -> String {
    let named = |list: &str, code: &Option<String>| {
        code.as_deref().map(|code| lists.label(list, code)).unwrap_or_default()
    };
    let part = new.part.clone().unwrap_or_default();
    match new.kind {
        RuleKind::ReplaceSuspect => format!("Replace {part} where it is the suspect"),
        RuleKind::CleanAndTest => format!("Test {part} before it goes back"),
        RuleKind::CheckFirst => {
            format!("{} first: {}", named("check", &new.check), named("symptom", &new.symptom))
        }
        RuleKind::ReadingLimit => {
            format!("{} inside its limits before hand-over", named("check", &new.check))
        }
        RuleKind::FreeText => String::new(),
    }
}

async fn view(ctx: &Ctx, fields: &Fields, tried: Option<Tried>) -> Result<NewRulePage, Problem> {
    let asked = asked(ctx, fields).await?;
    let (lists, people) = ctx
        .read(|conn, shop: &Shop| {
            let lists = Lists::load(conn, shop.id)?;
            Ok((lists, owners(&people::of_shop(conn, shop.id)?)))
        })
        .await?;
    let (style, shop) = (ctx.shop()?.style(), ctx.shop()?.code.clone());
    let today = style.zone.day(ctx.now);
    let kind = RuleKind::parse(fields.typed("kind"));
    let mut blank = Fields::of(&[
        ("owner_id", ctx.asker().person.id.to_string()),
        ("starts_on", today.to_string()),
        ("about", fields.typed("about").to_owned()),
    ]);
    if let Some((new, draft)) = &asked {
        let earliest = decide::earliest_review(today, draft.plan.window_days);
        blank = blank
            .with("title", title(new, &lists))
            .with("words", title(new, &lists))
            .with("review_on", draft.plan.day.max(earliest).to_string());
    }
    let among = |names: &[&'static str]| -> Vec<(&'static str, String)> {
        names.iter().filter_map(|name| Some((*name, fields.text(name)?))).collect()
    };
    let typed = among(&TYPED);
    let blank = typed.iter().fold(blank, |blank, (name, text)| blank.with(name, text.as_str()));
    let action = fields.text("action_id").map(|id| format!("&action_id={id}")).unwrap_or_default();
    let kinds = RuleKind::ALL.iter().map(|one| Choice {
        label: told::kind(*one),
        place: format!("/shops/{shop}/rules/new?kind={one}{action}"),
        here: kind == Some(*one),
    });
    Ok(NewRulePage {
        viewer: Viewer::of(ctx),
        kind: kind.map(RuleKind::as_str),
        kinds: kinds.collect(),
        subject: fields.clone(),
        held: among(&SUBJECT),
        typed,
        symptoms: lists.symptoms(),
        checks: lists.picks("check"),
        units: words::units(),
        people,
        said: asked.map(|(new, draft)| Said {
            covers: draft.sentence.is_some().then(|| {
                let (as_of, window) = (draft.evidence.as_of, draft.evidence.window_days);
                told::covers(new.kind, as_of, window, &style)
            }),
            plan: told::plan(&draft.plan, &style),
            place_in_plan: draft.place_in_plan.filter(|place| *place > 1),
            evidence: draft.sentence,
        }),
        blank,
        today: today.to_string(),
        shop,
        tried,
    })
}

/// Limits by the short names that reports lead here with.
fn in_full(fields: Fields) -> Fields {
    let short = [("low", "low_limit"), ("high", "high_limit")];
    short.into_iter().fold(fields, |fields, (short, name)| match fields.text(short) {
        Some(limit) if !fields.holds(name) => fields.with(name, limit),
        _ => fields,
    })
}

/// The form, as the address begins it.
///
/// # Errors
/// The record does not answer.
pub async fn form(ctx: Ctx, asked: Params<Fields>) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, &in_full(asked.0), None).await?)
}

/// Takes the rule.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn take(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let done = match read(&form.value) {
        Ok(new) => match ask::prepared(&ctx, new).await {
            Ok(new) => {
                ctx.once(&form.hash, move |write| {
                    let row = model::take(write, &new)?;
                    let place = format!("/shops/{}/rules/{}", write.shop.code, row.id);
                    Ok(Made::created(place, row.version, row))
                })
                .await
            }
            Err(problem) => Err(problem),
        },
        Err(problem) => Err(problem),
    };
    match done {
        Ok(answer) => {
            let place = answer.headers().get("location").and_then(|place| place.to_str().ok());
            let place = place.unwrap_or_default();
            Ok(see_other(&format!("{place}?did=saved")))
        }
        Err(problem) if mendable(&problem) => {
            let fields = form.value.clone();
            let tried = Tried { form: "rule", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, &fields, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
