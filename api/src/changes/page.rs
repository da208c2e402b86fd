//! Who changed what, as a page.

use std::collections::{HashMap, HashSet};

use actix_web::HttpResponse;
use askama::Template;
use serde::Deserialize;

use super::model::{self, AuditLine, Filter};
use super::query::{self, AuditQuery};
use super::told::{self, ToldField};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId};
use crate::domain::refusal::FieldFault;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::body::Params;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried, refused};
use crate::web::page::{self, Viewer};
use crate::web::words::Pick;

/// Lines on one page.
const LINES: i64 = 50;

/// What the page is narrowed to, as its form sends it: empty fields, too.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct HistoryQuery {
    record: String,
    record_id: String,
    order_no: String,
    job_id: String,
    person_id: String,
    from: String,
    to: String,
    cursor: String,
}

impl HistoryQuery {
    fn pairs(&self) -> [(&'static str, &str); 7] {
        [
            ("record", &self.record),
            ("record_id", &self.record_id),
            ("order_no", &self.order_no),
            ("job_id", &self.job_id),
            ("person_id", &self.person_id),
            ("from", &self.from),
            ("to", &self.to),
        ]
    }

    fn fields(&self) -> Fields {
        Fields::of(&self.pairs().map(|(name, value)| (name, value.to_owned())))
    }

    /// The same lines, from that one on.
    fn further(&self, cursor: &str) -> String {
        let filled = self.pairs().into_iter().filter(|(_, value)| !value.is_empty());
        let pairs: Vec<(&str, &str)> = filled.chain([("cursor", cursor)]).collect();
        serde_urlencoded::to_string(pairs).unwrap_or_default()
    }

    /// As the audit takes it. What is no id narrows nothing.
    fn asked(&self, order: Option<OrderId>) -> AuditQuery {
        let text = |text: &String| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
        AuditQuery {
            record: text(&self.record),
            record_id: text(&self.record_id),
            order_id: order,
            job_id: JobId::parse(&self.job_id),
            person_id: PersonId::parse(&self.person_id),
            from: text(&self.from),
            to: text(&self.to),
            limit: None,
            cursor: text(&self.cursor),
        }
    }
}

/// A line as told.
struct ToldLine {
    when: String,
    who: String,
    what: String,
    /// Number and address of the job or order it hangs on.
    on: Option<(String, String)>,
    correction: bool,
    fields: Vec<ToldField>,
    added: bool,
    removed: bool,
}

#[derive(Template)]
#[template(path = "history.html")]
struct HistoryPage {
    viewer: Viewer,
    shop: String,
    lines: Vec<ToldLine>,
    records: Vec<Pick>,
    people: Vec<Pick>,
    fields: Fields,
    /// What it is narrowed to beside the form's own fields.
    about: Option<String>,
    older: Option<String>,
    tried: Option<Tried>,
}

impl HistoryPage {
    fn form(&self) -> FormView {
        FormView::of("find", self.tried.as_ref(), self.fields.clone())
    }
}

/// Numbers of the orders and jobs that lines hang on.
#[derive(Default)]
struct Numbers {
    orders: HashMap<OrderId, String>,
    jobs: HashMap<JobId, String>,
}

impl Numbers {
    fn load(conn: &mut Conn, shop_id: i32, lines: &[AuditLine]) -> Answer<Self> {
        let jobs: HashSet<JobId> =
            lines.iter().filter_map(|line| line.change.job_id.clone()).collect();
        let jobs: Vec<JobId> = jobs.into_iter().collect();
        let jobs = model::job_numbers(conn, shop_id, &jobs)?;
        let orders: HashSet<OrderId> = lines
            .iter()
            .filter_map(|line| line.change.order_id.clone())
            .chain(jobs.iter().map(|(_, order, _)| order.clone()))
            .collect();
        let orders: Vec<OrderId> = orders.into_iter().collect();
        let orders: HashMap<OrderId, String> =
            model::order_numbers(conn, shop_id, &orders)?.into_iter().collect();
        let number = |(id, order, job_no): (JobId, OrderId, i32)| {
            let number = orders.get(&order).map(|order_no| format!("{order_no}/{job_no}"))?;
            Some((id, number))
        };
        Ok(Self { jobs: jobs.into_iter().filter_map(number).collect(), orders })
    }

    fn place(&self, line: &AuditLine, shop: &str) -> Option<(String, String)> {
        let change = &line.change;
        if let Some((id, number)) =
            change.job_id.as_ref().and_then(|id| Some((id, self.jobs.get(id)?)))
        {
            return Some((format!("job {number}"), format!("/shops/{shop}/jobs/{id}")));
        }
        let id = change.order_id.as_ref()?;
        let number = self.orders.get(id)?;
        Some((format!("order {number}"), format!("/shops/{shop}/orders/{id}")))
    }
}

fn told_line(line: &AuditLine, words: &Words, numbers: &Numbers) -> ToldLine {
    let change = &line.change;
    ToldLine {
        when: words.moment(change.changed_at),
        who: words.name(Some(&change.person_id)).unwrap_or_else(|| "somebody".to_owned()),
        what: told::what(line, words),
        on: numbers.place(line, &words.shop.code),
        correction: change.correction,
        fields: told::fields(line, words),
        added: line.before.is_none(),
        removed: line.after.is_none(),
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    lines: Vec<AuditLine>,
    numbers: Numbers,
    people: Vec<Pick>,
    about: Option<String>,
}

/// What the lines are narrowed to, beside what the form has a field for.
fn about(conn: &mut Conn, shop_id: i32, filter: &Filter) -> Answer<Option<String>> {
    let Some(id) = &filter.job_id else { return Ok(filter.record_id.clone()) };
    let Some((_, order, job_no)) =
        model::job_numbers(conn, shop_id, std::slice::from_ref(id))?.pop()
    else {
        return Ok(None);
    };
    let order = model::order_numbers(conn, shop_id, &[order])?.pop();
    Ok(order.map(|(_, order_no)| format!("Job {order_no}/{job_no}")))
}

fn load(
    conn: &mut Conn,
    shop: &Shop,
    query: &HistoryQuery,
    now: UtcStamp,
) -> Answer<Result<Loaded, Vec<FieldFault>>> {
    let number = query.order_no.trim();
    let order = if number.is_empty() {
        None
    } else {
        match model::order_of_number(conn, shop.id, number)? {
            Some(id) => Some(id),
            None => {
                let detail = "the shop has no order of that number";
                return Ok(Err(vec![FieldFault::new("order_no", "unknown_order", detail)]));
            }
        }
    };
    let filter = match query::filter(query.asked(order), LINES + 1, shop.zone()) {
        Ok(filter) => filter,
        Err(faults) => return Ok(Err(faults)),
    };
    let lines = model::audit(conn, shop.id, &filter)?;
    let writers = model::writers(conn, shop)?;
    Ok(Ok(Loaded {
        words: Words::load(conn, shop, now)?,
        numbers: Numbers::load(conn, shop.id, &lines)?,
        lines,
        people: writers.into_iter().map(|(id, name)| Pick::new(id.as_str(), name)).collect(),
        about: about(conn, shop.id, &filter)?,
    }))
}

fn laid_out(ctx: &Ctx, query: &HistoryQuery, loaded: &Loaded) -> HistoryPage {
    let most = usize::try_from(LINES).unwrap_or(usize::MAX);
    let shown = loaded.lines.iter().take(most);
    let older = loaded.lines.get(most).and_then(|_| loaded.lines.get(most - 1));
    let shop = loaded.words.shop.code.clone();
    HistoryPage {
        viewer: Viewer::of(ctx),
        lines: shown.map(|line| told_line(line, &loaded.words, &loaded.numbers)).collect(),
        records: told::records(),
        people: loaded.people.clone(),
        fields: query.fields(),
        about: loaded.about.clone(),
        older: older.map(|last| {
            let cursor = query::cursor(last.change.change_no, last.change.line);
            format!("/shops/{shop}/history?{}", query.further(&cursor))
        }),
        shop,
        tried: None,
    }
}

/// Who changed what, newest first.
///
/// # Errors
/// Where the record does not answer.
pub async fn history(ctx: Ctx, query: Params<HistoryQuery>) -> Result<HttpResponse, Problem> {
    let (query, now) = (query.0, ctx.now);
    let asked = query.clone();
    let loaded = ctx.read(move |conn, shop| load(conn, shop, &asked, now)).await?;
    match loaded {
        Ok(loaded) => page::html(&laid_out(&ctx, &query, &loaded)),
        Err(faults) => {
            let problem = Problem::invalid(faults);
            let blank = HistoryQuery::default();
            let all = ctx.read(move |conn, shop| load(conn, shop, &blank, now)).await?;
            let Ok(all) = all else { return Err(problem) };
            let tried = Tried { form: "find", fields: query.fields(), problem: problem.clone() };
            let page = HistoryPage {
                tried: Some(tried),
                ..laid_out(&ctx, &HistoryQuery::default(), &all)
            };
            refused(&problem, &page)
        }
    }
}
