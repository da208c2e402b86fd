//! Clean or replace as a page: every part in a line, or one part with all that
//! the answer rests on.

use analytics::reuse::{Choice, PartLine, ReuseReport};
use analytics::words::{Curable, PartRole};
use askama::Template;

use super::page::{self, Asked};
use super::page_foot::Foot;
use super::page_more;
use super::page_reuse_part::{PartView, basis, held_as, verdict};
use super::page_table::Standing;
use super::picture;
use super::query::{Report, ReportName};
use super::table::Cell;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView};
use crate::web::page::Viewer;
use crate::web::words::{Pick, Shown};

/// How many came back, and the jobs behind it.
pub struct Told {
    pub text: String,
    pub place: String,
}

/// A part in one role, in a line.
pub struct PartInBrief {
    name: String,
    part: String,
    held_as: &'static str,
    verdict: &'static str,
    basis: &'static str,
    cleaned: Option<Told>,
    replaced: Option<Told>,
    place: String,
}

/// The page.
#[derive(Template)]
#[template(path = "reuse.html")]
pub struct ReusePage {
    viewer: Viewer,
    beside: Vec<page::Choice>,
    shop: String,
    note: &'static str,
    caution: &'static str,
    /// Whether what things cost may be seen, and told.
    costs: bool,
    /// What was asked about.
    asked_part: Option<String>,
    /// Cleaned parts beside new ones, drawn.
    picture: Option<String>,
    /// Parts that were cleaned and put back, and all others.
    cleaned: Vec<PartInBrief>,
    others: Vec<PartInBrief>,
    parts: Vec<PartView>,
    known: Vec<Pick>,
    roles: Vec<Pick>,
    curable: Vec<Pick>,
    yes_no: Vec<Pick>,
    fields: Fields,
    csv: String,
    foot: Foot,
}

impl ReusePage {
    fn form(&self) -> FormView {
        FormView::of("ask", None, self.fields.clone())
    }

    /// From the report.
    ///
    /// # Errors
    /// Not found, where the report is another one.
    pub fn of(ctx: &Ctx, asked: &Asked) -> Result<Self, Problem> {
        let Report::Reuse(report) = &asked.report else { return Err(Problem::not_found()) };
        let shop = ctx.shop()?.code.clone();
        let standing = asked.standing(&shop, None);
        let query = &asked.query;
        let one = query.part.is_some();
        let costs = ctx.may(Permission::ReadCosts);
        let text = |value: &Option<String>| value.clone().unwrap_or_default();
        let lines = |wanted: bool| report.parts.iter().filter(move |_| wanted);
        let (cleaned, others) = lines(!one)
            .map(|line| in_brief(line, &standing))
            .partition(|line| line.cleaned.is_some());
        let viewer = Viewer::of(ctx);
        Ok(Self {
            beside: page_more::beside(ReportName::Reuse, &viewer, &shop),
            viewer,
            note: report.note,
            caution: report.caution,
            costs,
            asked_part: query.part.clone(),
            picture: picture::reuse::parts(report).filter(|_| !one).map(|drawn| drawn.html()),
            cleaned,
            others,
            parts: lines(one).map(|line| PartView::of(line, report, &standing, costs)).collect(),
            known: known(report),
            roles: [PartRole::Suspect, PartRole::Bystander]
                .map(|role| Pick::new(role.as_str(), role.shown()))
                .to_vec(),
            curable: Curable::WORDS.iter().map(|word| Pick::new(*word, *word)).collect(),
            yes_no: vec![Pick::new("true", "yes"), Pick::new("false", "no")],
            fields: Fields::of(&[
                ("part", text(&query.part)),
                ("role", text(&query.role)),
                ("curable", text(&query.curable)),
                ("tested", text(&query.tested)),
                ("access_minutes", text(&query.access_minutes)),
                ("part_cost", text(&query.part_cost)),
            ]),
            csv: asked.csv.clone(),
            foot: Foot::of(asked),
            shop,
        })
    }
}

/// Every part once, for the field that asks about one.
fn known(report: &ReuseReport) -> Vec<Pick> {
    let mut picks: Vec<Pick> =
        report.parts.iter().map(|line| Pick::new(&*line.part, &*line.name)).collect();
    picks.sort_by(|a, b| a.value.cmp(&b.value));
    picks.dedup();
    picks
}

fn told(line: &PartLine, choice: Choice, standing: &Standing<'_>) -> Option<Told> {
    let found = line.choices.iter().find(|one| one.choice == choice)?;
    Some(Told {
        text: Cell::share(&found.closed).to_string(),
        place: standing.jobs(&found.closed.jobs),
    })
}

fn in_brief(line: &PartLine, standing: &Standing<'_>) -> PartInBrief {
    let role = line.role.map(|role| format!("&role={}", role.as_str())).unwrap_or_default();
    let part = serde_urlencoded::to_string([("part", &line.part)]).unwrap_or_default();
    PartInBrief {
        name: line.name.clone(),
        part: line.part.clone(),
        held_as: held_as(line.role),
        verdict: line.advice.as_ref().map_or("", |advice| verdict(advice.verdict)),
        basis: line.advice.as_ref().map_or("", |advice| basis(advice.basis)),
        cleaned: told(line, Choice::CleanedReused, standing),
        replaced: told(line, Choice::Replaced, standing),
        place: format!("/shops/{}/reuse?{part}{role}", standing.shop),
    }
}
