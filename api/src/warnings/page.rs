//! Early warnings as a page, and those of a week on its review.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse};
use analytics::warning::{Warning, WarningKind, WarningState};
use askama::Template;
use chrono::NaiveDate;

use super::silence::{self, NewSilence};
use crate::codes::lists::Lists;
use crate::domain::ids::SilenceId;
use crate::domain::week;
use crate::problem::Problem;
use crate::reports::http::make;
use crate::reports::page::{Asked, Found, found};
use crate::reports::page_foot::Foot;
use crate::reports::page_table::Standing;
use crate::reports::query::{Report, ReportName, ReportQuery};
use crate::reports::table::warnings_said;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::counted;

/// A group as people read of it.
pub struct ToldWarning {
    pub name: String,
    pub about: &'static str,
    pub is_new: bool,
    pub evidence: String,
    pub jobs: String,
    pub place: String,
    pub returned: String,
    pub returned_place: String,
    /// What to do about it first.
    pub advice: &'static str,
    /// Where a corrective action is begun, with words.
    pub action: String,
    kind: &'static str,
    key: String,
    /// Id of the silence, and what is said of it.
    silenced: Option<(String, String)>,
}

#[derive(Template)]
#[template(path = "warnings.html")]
struct WarningsPage {
    viewer: Viewer,
    days: String,
    name: String,
    partial: bool,
    before: String,
    after: Option<String>,
    said: String,
    looked_at: String,
    notice: Option<Notice>,
    new: Vec<ToldWarning>,
    standing: Vec<ToldWarning>,
    silenced: Vec<ToldWarning>,
    next: Vec<ToldWarning>,
    action: String,
    foot: Foot,
    tried: Option<Tried>,
}

impl ToldWarning {
    /// Where it stands on the page.
    fn anchor(&self) -> String {
        format!("w-{}", self.key)
    }
}

impl WarningsPage {
    /// What is told in full: headings, groups, and what is said where there are
    /// none.
    fn groups(&self) -> [(&'static str, &[ToldWarning], &'static str); 2] {
        [
            ("New this week", &self.new, "Nothing new."),
            ("Told before, still standing", &self.standing, "Nothing stands from before."),
        ]
    }

    /// The form of one group.
    fn line(&self, key: &str) -> FormView {
        FormView::of_line("silence", key, self.tried.as_ref(), Fields::default())
    }

    fn is_refused(&self, key: &str) -> bool {
        self.tried.as_ref().is_some_and(|tried| tried.fields.typed("line") == key)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.line(tried.fields.typed("line")))
    }

    fn refused_form(&self) -> String {
        self.tried
            .as_ref()
            .map_or_else(String::new, |tried| format!("w-{}", tried.fields.typed("line")))
    }
}

/// What a group is called.
fn name(warning: &Warning, lists: &Lists) -> String {
    let at = |place: usize| warning.group.get(place).map_or("", String::as_str);
    let (first, second) = (at(0), at(1));
    match warning.kind {
        WarningKind::Lot if first.is_empty() => format!("Lot {second}"),
        WarningKind::Lot => format!("Lot {second} of {first}"),
        WarningKind::Supplier => format!("{first} from {second}"),
        WarningKind::ModelYear => format!("{first}, {second}"),
        WarningKind::Operation => lists.label("operation", first),
        WarningKind::SkippedCheck => format!(
            "{}: jobs without \u{201c}{}\u{201d}",
            lists.label("symptom", first),
            lists.label("check", second)
        ),
        WarningKind::Model | WarningKind::Engine | WarningKind::NewTechnician => first.to_owned(),
    }
}

const fn about(kind: WarningKind) -> &'static str {
    match kind {
        WarningKind::Lot => "lot",
        WarningKind::Supplier => "part of one supplier",
        WarningKind::Model => "model",
        WarningKind::ModelYear => "model and year",
        WarningKind::Engine => "engine",
        WarningKind::Operation => "operation",
        WarningKind::SkippedCheck => "usual check",
        WarningKind::NewTechnician => "new here",
    }
}

const fn advice(kind: WarningKind) -> &'static str {
    match kind {
        WarningKind::Lot => "Set the rest of the lot aside and show the supplier the counts.",
        WarningKind::Supplier => "Look at the parts that came back; show the supplier the counts.",
        WarningKind::Model | WarningKind::ModelYear | WarningKind::Engine => {
            "Look at what these jobs have in common before the next one leaves."
        }
        WarningKind::Operation => "Look at the operation's steps, parts and instructions.",
        WarningKind::SkippedCheck => {
            "These jobs differ from the others in other ways, too: look at them before a rule is made."
        }
        WarningKind::NewTechnician => {
            "Look at the job mix, and at what support is missing. This says nothing about a person."
        }
    }
}

/// The kind of corrective action that answers it as a rule.
const fn answered_by(kind: WarningKind) -> &'static str {
    match kind {
        WarningKind::Lot | WarningKind::Supplier => "supplier",
        WarningKind::SkippedCheck => "check_plan",
        WarningKind::NewTechnician => "training",
        _ => "other",
    }
}

fn told(warning: &Warning, standing: &Standing<'_>) -> ToldWarning {
    let name = name(warning, standing.lists);
    let words = format!("{name}: {}", warning.evidence);
    let query = [("kind", answered_by(warning.kind)), ("words", &words)];
    let query = serde_urlencoded::to_string(query).unwrap_or_default();
    let until = |day: Option<NaiveDate>| {
        day.map_or_else(
            || "for good".to_owned(),
            |day| format!("until {}", standing.style.day(day)),
        )
    };
    ToldWarning {
        about: about(warning.kind),
        is_new: warning.state == WarningState::New,
        evidence: warning.evidence.clone(),
        jobs: counted(warning.count, "job", "jobs"),
        place: standing.jobs(&warning.jobs),
        returned: format!("the {} that came back", warning.returns),
        returned_place: standing.jobs(&warning.returned_jobs),
        advice: advice(warning.kind),
        action: format!("/shops/{}/actions?{query}", standing.shop),
        kind: warning.kind.as_str(),
        key: warning.group_key.clone(),
        silenced: warning
            .silenced
            .as_ref()
            .map(|one| (one.id.clone(), format!("{}: {}", until(one.until_on), one.reason))),
        name,
    }
}

/// What the week warns of and nobody has silenced, for its review.
///
/// # Errors
/// The record does not answer.
pub async fn of_week(
    ctx: &Ctx,
    asked: &Asked,
    week_from: NaiveDate,
) -> Result<Vec<ToldWarning>, Problem> {
    let query = ReportQuery {
        week: Some(week::name(week_from)),
        as_of: asked.query.as_of.clone(),
        window: asked.query.window.clone(),
        ..ReportQuery::default()
    };
    let Report::Warnings(report) = make(ctx, ReportName::Warnings, query).await? else {
        return Err(Problem::not_found());
    };
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, None);
    let heard = report.warnings.iter().filter(|warning| warning.silenced.is_none());
    Ok(heard.map(|warning| told(warning, &standing)).collect())
}

/// The week's warnings.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn warnings(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Warnings).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let did = Did::of(&req);
    page::html(&view(&ctx, &asked, did.as_ref(), None)?)
}

/// The answer, and how much of it nobody is to hear of for now.
fn headline(answer: &str, heard: usize, silenced: usize) -> String {
    match (heard, silenced) {
        (_, 0) => format!("{answer}."),
        (0, count) => format!(
            "Only {} came back more often than luck explains: nothing else is warned of.",
            counted(count as i64, "silenced group", "silenced groups")
        ),
        (_, count) => format!("{answer}; {count} of them silenced."),
    }
}

fn view(
    ctx: &Ctx,
    asked: &Asked,
    did: Option<&Did>,
    tried: Option<Tried>,
) -> Result<WarningsPage, Problem> {
    let Report::Warnings(report) = &asked.report else { return Err(Problem::not_found()) };
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, None);
    let (answer, looked_at) = warnings_said(report);
    let address = |first: NaiveDate| {
        format!("/shops/{shop}/warnings?week={}{}", week::name(first), asked.kept())
    };
    let place = |days: i64| {
        let first = report.week_from.checked_add_signed(chrono::Duration::days(days))?;
        (first <= report.head.as_of).then(|| address(first))
    };
    let all: Vec<ToldWarning> =
        report.warnings.iter().map(|warning| told(warning, &standing)).collect();
    let (silenced, heard): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|one| one.silenced.is_some());
    let said = headline(&answer, heard.len(), silenced.len());
    let (new, still) = heard.into_iter().partition(|one| one.is_new);
    Ok(WarningsPage {
        viewer: Viewer::of(ctx),
        days: asked.style.week(report.week_from),
        name: week::name(report.week_from),
        partial: report.partial,
        before: place(-7).unwrap_or_default(),
        after: place(7),
        said,
        looked_at,
        notice: did.and_then(|did| notice(did, &shop)),
        new,
        standing: still,
        silenced,
        next: report.next.iter().map(|warning| told(warning, &standing)).collect(),
        action: format!("/shops/{shop}/warnings"),
        foot: Foot::of(asked),
        tried,
    })
}

/// What was just done, with the way back.
fn notice(did: &Did, shop: &str) -> Option<Notice> {
    if let Some(id) = did.id_of("silenced").and_then(SilenceId::parse) {
        let back = format!("/shops/{shop}/warnings/{id}/end");
        return Some(Notice::plain("Silenced.").undo("Take back", back));
    }
    (did.word == "heard").then(|| Notice::plain("It is warned of again."))
}

/// The same week again.
fn back_to(shop: &str, fields: &Fields, did: &str) -> String {
    let week = fields
        .text("week")
        .filter(|week| week.chars().all(|c| c.is_ascii_alphanumeric() || c == '-'));
    let week = week.map_or_else(String::new, |week| format!("week={week}&"));
    format!("/shops/{shop}/warnings?{week}did={did}")
}

/// Silences a group.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn silence(
    mut ctx: Ctx,
    req: HttpRequest,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let new = NewSilence {
        kind: form.value.typed("kind").to_owned(),
        group_key: form.value.typed("line").to_owned(),
        reason: form.value.typed("reason").to_owned(),
        until_on: read.word("until_on", |text| text.parse().ok()),
    };
    let done = match read.finish(Some(new)) {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let row = silence::add(write, &new)?;
                // What was silenced is told by where to look.
                let (id, version) = (row.id.to_string(), row.version);
                Ok(Made { status: 200, body: row, location: Some(id), version: Some(version) })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    let shop = ctx.shop()?.code.clone();
    match done {
        Ok(made) => {
            let id = made.headers().get(header::LOCATION).and_then(|id| id.to_str().ok());
            let did = format!("silenced:{}", id.unwrap_or_default());
            Ok(see_other(&back_to(&shop, &form.value, &did)))
        }
        Err(problem) if mendable(&problem) => {
            let asked = match found(&ctx, &req, ReportName::Warnings).await? {
                Found::Page(asked) => asked,
                Found::Answer(answer) => return Ok(answer),
            };
            let tried = Tried { form: "silence", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, &asked, None, Some(tried))?)
        }
        Err(problem) => Err(problem),
    }
}

/// Ends a silence.
///
/// # Errors
/// Forbidden, no such silence, or the record does not answer.
pub async fn end(
    mut ctx: Ctx,
    parts: Parts<(String, SilenceId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let Parts((_, id)) = parts;
    ctx.once(&form.hash, move |write| {
        let row = silence::end(write, &id)?;
        Ok(Made::done(row.version, row))
    })
    .await?;
    let shop = ctx.shop()?.code.clone();
    Ok(see_other(&back_to(&shop, &form.value, "heard")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_headline_says_what_is_silenced() {
        assert_eq!(headline("No group", 0, 0), "No group.");
        assert_eq!(headline("3 groups, 1 new", 2, 1), "3 groups, 1 new; 1 of them silenced.");
        let only = "Only 1 silenced group came back more often than luck explains: nothing else is \
                    warned of.";
        assert_eq!(headline("1 group", 0, 1), only);
    }
}
