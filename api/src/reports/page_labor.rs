//! Labor against flat-rate as a page: what it comes to, then the lines with and
//! without comebacks side by side, then the rest of each line.

use actix_web::{HttpRequest, HttpResponse};
use analytics::figure::TOO_FEW;
use analytics::labor::LaborReport;

use super::headline::{Of, headline, spans};
use super::page::{Asked, Found, ReportPage, found, laid_out};
use super::page_table::{ShownTable, Standing};
use super::query::{Report, ReportName};
use super::table::{Cell, Row, Table};
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

/// Columns of the first table, in their order.
const MAIN: &[&str] = &[
    "group",
    "jobs",
    "efficiency",
    "efficiency_without_comebacks",
    "flat_rate_hours",
    "clock_hours",
    "gained_hours",
    "comebacks",
    "comeback_hours",
];
/// Those of the second one, about the same lines.
const REST: &[&str] = &[
    "group",
    "attended_hours",
    "started_clock_hours",
    "productivity",
    "overall",
    "billed_hours",
    "labor_amount",
    "effective_labor_rate",
    "diagnosis_share",
    "unclocked",
    "unclocked_flat_rate_hours",
];

/// With more lines than this, those of few jobs stand apart.
const LONG: usize = 20;

/// Labor against flat-rate.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn labor(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Labor).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let viewer = Viewer::of(&ctx);
    let by = asked.query.by.as_deref().unwrap_or("technician");
    let title = if viewer.sees_reports { "Labor hours" } else { "My hours" };
    let lead = if viewer.sees_reports {
        "Flat-rate hours against clock hours, sum over sum. People stand by name and are never \
         ranked; an hour over the guide may be the guide's."
    } else {
        "Your own line: flat-rate hours against clock hours, sum over sum."
    };
    let mut shown = ReportPage::of(&ctx, &asked, title, lead.to_owned());
    if viewer.sees_reports {
        shown = shown.grouped(analytics::labor::By::WORDS, by, &asked);
    }
    let head = asked.report.head();
    shown.spans = spans(&asked.csv, (head.from, head.to), head.as_of);
    if let Report::Labor(report) = &asked.report {
        shown.headline = told(&ctx, &asked, report, !viewer.sees_reports)?;
    }
    shown.tables = lines(&ctx, &asked, by, !viewer.sees_reports)?;
    page::html(&shown)
}

/// The figures over the tables.
fn told(
    ctx: &Ctx,
    asked: &Asked,
    report: &LaborReport,
    own: bool,
) -> Result<Vec<super::headline::Told>, Problem> {
    let shop = ctx.shop()?;
    let standing = asked.standing(&shop.code, None);
    let costs = ctx.may(Permission::ReadCosts);
    let of = Of {
        line: &report.total,
        cost: &report.comebacks,
        money: costs.then_some(&asked.style),
        posted_minor: Some(shop.posted_rate_minor),
        own,
    };
    Ok(headline(&of, |selector| Some(standing.jobs(selector))))
}

/// The report's tables: the lines in two, then what comebacks cost, and how
/// complaints ended.
fn lines(ctx: &Ctx, asked: &Asked, by: &str, own: bool) -> Result<Vec<ShownTable>, Problem> {
    let shop = ctx.shop()?.code.clone();
    let (prices, costs) = (ctx.may(Permission::ReadPrices), ctx.may(Permission::ReadCosts));
    let without: &[&str] = if prices { &[] } else { &["labor_amount", "effective_labor_rate"] };
    let standing = Standing { without, ..asked.standing(&shop, Some(by)) };
    let mut all = asked.tables();
    all.retain(|table| costs || table.key != "comeback_cost");
    all.retain(|table| !table.rows.is_empty());
    let main = all.iter().position(|table| table.key == "labor");
    if let Some(mut whole) = main.map(|at| all.remove(at)) {
        // The own line is the whole of what one sees: it does not come twice.
        if own && whole.rows.len() > 1 {
            whole.rows.remove(0);
        }
        let mut rest = part(&whole, REST);
        rest.title = format!("Attendance, rates and diagnosis, by {by}");
        rest.note = None;
        let mut main = part(&whole, MAIN);
        let few = fewer(&mut main, by);
        all = [main].into_iter().chain([rest]).chain(few).chain(all).collect();
    }
    let mut shown = laid_out(&all, &standing);
    // They are of the same file, and have places of their own on the page.
    let others = shown.iter_mut().skip(1).filter(|table| table.key == "labor");
    for (table, key) in others.zip(["labor-rest", "labor-few"]) {
        table.key = key;
        // The picture is of the first one's numbers.
        table.picture = None;
        table.fold = format!("{} lines", table.rows.len());
        table.folded = table.rows.len() > 1;
    }
    Ok(shown)
}

/// Takes out of a long table the lines with too few jobs for a ratio: among
/// many they are most of it, and say the least.
fn fewer(main: &mut Table, by: &str) -> Option<Table> {
    if main.rows.len() <= LONG {
        return None;
    }
    let is_few = |row: &Row| matches!(row.cells.get(1), Some(Cell::Count(jobs)) if *jobs < TOO_FEW);
    let (few, rows): (Vec<Row>, Vec<Row>) = main.rows.drain(..).partition(is_few);
    main.rows = rows;
    let title = format!("With fewer than {TOO_FEW} jobs, by {by}");
    (!few.is_empty()).then(|| Table { title, note: None, rows: few, ..main.clone() })
}

/// Some columns of a table, in that order; none that has nothing on any line.
fn part(whole: &Table, keys: &[&str]) -> Table {
    let says = |at: usize| {
        whole.rows.iter().any(|row| row.cells.get(at).is_some_and(|cell| *cell != Cell::Blank))
    };
    let places: Vec<usize> = keys
        .iter()
        .filter_map(|key| whole.columns.iter().position(|column| column.key == *key))
        .filter(|at| says(*at))
        .collect();
    let mut part = whole.clone();
    part.columns = places.iter().filter_map(|at| whole.columns.get(*at)).copied().collect();
    for (row, of) in part.rows.iter_mut().zip(&whole.rows) {
        row.cells = places.iter().filter_map(|at| of.cells.get(*at)).cloned().collect();
    }
    part
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::reports::table::{Column, Kind};

    #[test]
    fn lines_of_few_jobs_stand_apart_in_a_long_table_alone() {
        let row = |jobs: i64| Row {
            cells: vec![Cell::Text(format!("operation {jobs}")), Cell::Count(jobs)],
            jobs: None,
        };
        let table = |rows: Vec<Row>| Table {
            key: "labor",
            title: "Labor".into(),
            note: None,
            columns: Vec::new(),
            rows,
        };
        let mut short = table((1..=12).map(row).collect());
        assert!(fewer(&mut short, "operation").is_none() && short.rows.len() == 12);
        let mut long = table((1..=30).map(row).collect());
        let few = fewer(&mut long, "operation").unwrap();
        assert_eq!((long.rows.len(), few.rows.len()), (21, 9));
        assert_eq!(few.title, "With fewer than 10 jobs, by operation");
    }

    #[test]
    fn a_part_has_the_columns_that_say_something_in_its_own_order() {
        let column = |key: &'static str| Column { key, label: key, kind: Kind::Number };
        let whole = Table {
            key: "labor",
            title: "Labor".into(),
            note: None,
            columns: ["group", "jobs", "overall", "clock_hours"].map(column).to_vec(),
            rows: vec![Row {
                cells: vec![Cell::Text("Ilse".into()), Cell::Count(3), Cell::Blank, Cell::Count(4)],
                jobs: None,
            }],
        };
        let part = part(&whole, &["group", "clock_hours", "overall", "jobs"]);
        let keys: Vec<&str> = part.columns.iter().map(|column| column.key).collect();
        assert_eq!(keys, ["group", "clock_hours", "jobs"]);
        assert_eq!(part.rows.first().unwrap().cells.get(1), Some(&Cell::Count(4)));
    }
}
