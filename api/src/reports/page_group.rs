//! Labor over every shop whose reports the viewer may read: a line a shop, and
//! all of them together.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web};
use analytics::figure::Head;
use analytics::labor::{GroupLabor, GroupTotal, ShopLabor};
use askama::Template;
use chrono::NaiveDate;

use super::csv;
use super::headline::{Of, Told, headline, spans};
use super::page::{Choice, format_fits, given, page_address, read};
use super::page_refused::{self, Period};
use super::page_table::{ShownTable, Standing};
use super::query::{ReportName, ReportQuery, labor_of_shops};
use super::table::group::{Of as Line, table};
use super::table::{Table, currency};
use crate::codes::lists::Lists;
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::problem::{Kind, Problem};
use crate::shops::model::Shop;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

#[derive(Template)]
#[template(path = "group.html")]
struct GroupPage {
    viewer: Viewer,
    /// The day that every shop's figures go to, where it is the same one.
    through: Option<String>,
    spans: Vec<Choice>,
    period: Period,
    headline: Vec<Told>,
    table: ShownTable,
    /// Why all shops together have no share, or no amounts.
    absent: Vec<&'static str>,
    definitions: Vec<(String, &'static str)>,
}

/// The report of the shops, off the async threads.
async fn make(ctx: &Ctx, shops: Vec<Shop>, query: ReportQuery) -> Result<GroupLabor, Problem> {
    let _turn = ctx
        .app
        .counting
        .acquire()
        .await
        .map_err(|_| Problem::new(Kind::UNAVAILABLE, "the server is stopping"))?;
    let (db, live, now) = (ctx.app.db.clone(), ctx.app.live.clone(), ctx.now);
    let report = web::block(move || {
        live.with_all(&db, &shops, |parts| labor_of_shops(parts, now, &query))?
            .map_err(crate::db::Fault::from)
    })
    .await??;
    Ok(report)
}

fn line(shop: &ShopLabor, through: Option<NaiveDate>) -> Table {
    table(&Line {
        name: &shop.name,
        labor: &shop.labor,
        cost: &shop.comebacks,
        share: Some(&shop.share),
        money: Some(&currency(&shop.head.currency)),
        through,
        jobs: Some(&shop.labor.jobs),
    })
}

fn total_line(total: &GroupTotal) -> Table {
    let money = total.currency.as_deref().map(currency);
    table(&Line {
        name: "all shops",
        labor: &total.labor,
        cost: &total.comebacks,
        share: total.share.as_ref(),
        money: money.as_ref(),
        through: None,
        jobs: None,
    })
}

/// The last day that all shops' figures go to; absent where they differ.
fn common_day(report: &GroupLabor) -> Option<NaiveDate> {
    let mut days = report.shops.iter().map(|shop| shop.head.as_of);
    let first = days.next()?;
    days.all(|day| day == first).then_some(first)
}

/// The lines, each from where its own jobs lie and as its shop writes; all shops
/// together come first.
fn shown(report: &GroupLabor, styles: &[Style], address: &str) -> Option<ShownTable> {
    let (common, lists) = (common_day(report), Lists::default());
    let standing = |head, style| Standing {
        shop: "",
        report: None,
        head,
        lists: &lists,
        by: Some("shop"),
        without: if common.is_some() { &["through", "currency"] } else { &[] },
        csv: address.to_owned(),
        style,
    };
    let (_, kept) = address.split_once('?').unwrap_or((address, ""));
    let first = standing(&report.shops.first()?.head, styles.first()?);
    let mut whole = first.shown(&total_line(&report.total));
    // A job is found in its own shop: the sums of several lead nowhere.
    for cell in whole.rows.iter_mut().flatten() {
        (cell.place, cell.came_back) = (None, None);
    }
    for (shop, style) in report.shops.iter().zip(styles) {
        let code = shop.head.shop.as_str();
        let of_shop = Standing { shop: code, ..standing(&shop.head, style) };
        let mut rows = of_shop.shown(&line(shop, Some(shop.head.as_of))).rows;
        if let Some(name) = rows.first_mut().and_then(|row| row.first_mut()) {
            let place = format!("/shops/{code}/labor?{kept}");
            name.place = Some(place.trim_end_matches(['?', '&']).to_owned());
        }
        whole.rows.extend(rows);
    }
    whole.folded = false;
    Some(whole)
}

/// The shops' lines as one file: each line tells its own as-of and currency.
fn file(report: &GroupLabor) -> HttpResponse {
    let mut body = String::new();
    for shop in &report.shops {
        let head = Head { report: "group-labor", ..shop.head.clone() };
        let text = csv::render(&head, &line(shop, Some(shop.head.as_of)));
        let lines = text.split_once('\n').filter(|_| !body.is_empty());
        body.push_str(lines.map_or(text.as_str(), |(_, lines)| lines));
    }
    HttpResponse::Ok()
        .content_type(super::Format::Csv.media_type())
        .insert_header((header::CONTENT_DISPOSITION, "attachment; filename=\"group-labor.csv\""))
        .body(body)
}

/// Why something cannot be added up.
fn absent(report: &GroupLabor) -> Vec<&'static str> {
    let total = &report.total;
    let money = "The shops have several currencies: amounts are not added up.";
    let share = "The shops have several comeback windows: one share of all would mix them.";
    let reasons = [(total.currency.is_none(), money), (total.share.is_none(), share)];
    reasons.into_iter().filter_map(|(is, why)| is.then_some(why)).collect()
}

fn period(path: &str, query: &ReportQuery) -> Period {
    let kept = [("as_of", &query.as_of), ("window", &query.window)];
    Period {
        action: path.to_owned(),
        from: query.from.clone().unwrap_or_default(),
        to: query.to.clone().unwrap_or_default(),
        kept: kept.into_iter().filter_map(|(name, value)| Some((name, value.clone()?))).collect(),
        ..Period::default()
    }
}

fn laid_out(
    ctx: &Ctx,
    req: &HttpRequest,
    query: &ReportQuery,
    (report, styles): (&GroupLabor, &[Style]),
) -> Result<GroupPage, Problem> {
    let address = page_address(req, &given(req));
    let table = shown(report, styles, &address).ok_or_else(Problem::not_found)?;
    let style = styles.first().ok_or_else(Problem::not_found)?;
    let head = &report.shops.first().ok_or_else(Problem::not_found)?.head;
    let sums = report.total.currency.is_some() && ctx.may(Permission::ReadCosts);
    let of = Of {
        line: &report.total.labor,
        cost: &report.total.comebacks,
        money: sums.then_some(style),
        posted_minor: None,
        own: false,
    };
    Ok(GroupPage {
        viewer: Viewer::of(ctx),
        through: common_day(report).map(|day| style.day(day)),
        spans: spans(&address, (head.from, head.to), head.as_of),
        period: period(req.path(), query),
        headline: headline(&of, |_| None),
        table,
        absent: absent(report),
        definitions: head
            .definitions
            .iter()
            .map(|(key, meaning)| (key.replace('_', " "), *meaning))
            .collect(),
    })
}

/// The page, or its lines as a file.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn labor(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let text = given(&req);
    let shops = ctx.shops_where(Permission::ReadReports);
    let styles: Vec<Style> = shops.iter().map(Shop::style).collect();
    let asked = read(&text).and_then(|query| format_fits(&query, &["csv"]).map(|()| query));
    let made = match asked {
        // Its column is the shop.
        Ok(query) => {
            let query = ReportQuery { by: None, ..query };
            make(&ctx, shops, query.clone()).await.map(|report| (query, report))
        }
        Err(problem) => Err(problem),
    };
    let (query, report) = match made {
        Ok(made) => made,
        Err(problem) if problem.kind == Kind::INVALID => {
            return page_refused::page(&ctx, ReportName::Labor, req.path(), &text, &problem);
        }
        Err(problem) => return Err(problem),
    };
    if query.format.as_deref() == Some("csv") {
        return Ok(file(&report));
    }
    page::html(&laid_out(&ctx, &req, &query, (&report, &styles))?)
}
