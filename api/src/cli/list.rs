//! `onetrip list`: what the shop has agreed on, and what waits for somebody:
//! check plans, shop rules, readings due in stock, calls, enquiries' actions.

use std::process::ExitCode;

use chrono::NaiveDate;
use clap::ValueEnum;
use serde::Serialize;
use serde_json::Value;

use super::{REFUSED, fail, print, standing};
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn, Fault, Place};
use crate::domain::clock::Clock;
use crate::enquiries::action;
use crate::enquiries::closure::State;
use crate::followups::model as calls;
use crate::import::told;
use crate::plans::model as plans;
use crate::preparation::due;
use crate::rules::model as rules;
use crate::shops::model::{self as shops, Shop};

/// More open actions than anybody sees to.
const MOST: i64 = 10_000;

/// What can be listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    /// Check plans in force, step by step
    Plans,
    /// Shop rules, the latest first
    Rules,
    /// Vehicles in stock with what is due on them, overdue first
    Stock,
    /// Calls that are owed, the oldest first
    Calls,
    /// Corrective actions that are open
    Actions,
}

/// Prints one line a thing, tabs between; with --json one object a line, as the
/// API has it.
#[derive(Debug, clap::Args)]
pub struct ListArgs {
    #[arg(value_enum)]
    what: What,
    /// Code of the shop, where there are several
    #[arg(long, value_name = "CODE")]
    shop: Option<String>,
    /// Objects, as the API has them
    #[arg(long)]
    json: bool,
}

/// A thing: its words, and what the API shows of it.
type Line = (Vec<String>, Value);

/// Prints them.
#[must_use]
pub fn run(args: &ListArgs, place: &Place, clock: Clock) -> ExitCode {
    match lines(args, place, clock) {
        Ok(lines) => {
            let shown = lines.into_iter().map(|(words, object)| {
                if args.json { format!("{object}\n") } else { format!("{}\n", words.join("\t")) }
            });
            print(shown.collect::<String>().as_bytes())
        }
        Err(code) => code,
    }
}

fn lines(args: &ListArgs, place: &Place, clock: Clock) -> Result<Vec<Line>, ExitCode> {
    let db = standing(place)?;
    let broken = |fault| fail(told(&fault));
    let all = db.read(shops::all).map_err(broken)?;
    let shop = chosen(&all, args.shop.as_deref()).map_err(|why| {
        eprintln!("onetrip: {why}");
        ExitCode::from(REFUSED)
    })?;
    let today = shop.zone().day(clock.now());
    let read = |conn: &mut Conn| {
        let lists = Lists::load(conn, shop.id)?;
        match args.what {
            What::Plans => of_plans(conn, shop, &lists),
            What::Rules => of_rules(conn, shop, today),
            What::Stock => of_stock(conn, shop, today),
            What::Calls => of_calls(conn, shop, &lists, today),
            What::Actions => of_actions(conn, shop),
        }
    };
    db.read(read).map_err(broken)
}

/// The shop of the code; without a code the only one.
fn chosen<'a>(all: &'a [Shop], code: Option<&str>) -> Result<&'a Shop, String> {
    let known: Vec<&str> = all.iter().map(|shop| shop.code.as_str()).collect();
    let known = known.join(", ");
    match (code, all) {
        (Some(code), all) => all
            .iter()
            .find(|shop| shop.code.eq_ignore_ascii_case(code))
            .ok_or_else(|| format!("there is no shop {code}; there are: {known}")),
        (None, [only]) => Ok(only),
        (None, _) => Err(format!("name the shop with --shop; there are: {known}")),
    }
}

fn object<T: Serialize>(value: &T) -> Answer<Value> {
    serde_json::to_value(value).map_err(|error| Fault::Unavailable(error.to_string()))
}

fn of_plans(conn: &mut Conn, shop: &Shop, lists: &Lists) -> Answer<Vec<Line>> {
    let mut lines = Vec::new();
    for whole in plans::whole_plans(conn, shop.id, false)? {
        let plan = &whole.plan;
        let Some(version) = whole.in_force() else { continue };
        let steps: Vec<String> =
            version.steps.iter().map(|step| lists.label("check", &step.check)).collect();
        let narrowed = [plan.model.clone(), plan.engine.clone()];
        let narrowed: Vec<String> = narrowed.into_iter().flatten().collect();
        let words = vec![
            lists.label("symptom", &plan.symptom),
            narrowed.join(", "),
            format!("version {}", version.number),
            steps.join(" > "),
        ];
        lines.push((words, object(&whole)?));
    }
    Ok(lines)
}

fn of_rules(conn: &mut Conn, shop: &Shop, today: NaiveDate) -> Answer<Vec<Line>> {
    let style = shop.style();
    let rows = rules::list(conn, shop.id)?.into_iter().map(|rule| {
        let words = vec![
            rule.id.to_string(),
            rule.title.clone(),
            crate::rules::told::state(&rule, today, &style),
            rule.evidence.clone(),
        ];
        Ok((words, object(&rule)?))
    });
    rows.collect()
}

fn of_stock(conn: &mut Conn, shop: &Shop, today: NaiveDate) -> Answer<Vec<Line>> {
    let rows = due::list(conn, shop.id, today)?.into_iter().map(|(shown, vehicle)| {
        let due = shown.due.iter().map(|due| {
            let late = match due.overdue_days {
                0 => String::new(),
                days => format!(", {days} days late"),
            };
            format!("{} due {}{late}", due.label, due.due_on)
        });
        let words = vec![
            vehicle.label(),
            format!("{} days in stock", shown.days),
            due.collect::<Vec<_>>().join("; "),
        ];
        Ok((words, object(&shown)?))
    });
    rows.collect()
}

fn of_calls(conn: &mut Conn, shop: &Shop, lists: &Lists, today: NaiveDate) -> Answer<Vec<Line>> {
    let rows = calls::owed(conn, shop, today)?.into_iter().map(|owed| {
        let (job, order) = (&owed.of.job, &owed.of.order);
        let symptom = job.symptom.as_deref().map(|code| lists.label("symptom", code));
        let words = vec![
            owed.due.due_on.to_string(),
            format!("{}.{}", order.order_no, job.job_no),
            owed.of.vehicle.label(),
            symptom.unwrap_or_default(),
            format!("{} calls reached nobody", owed.due.tries),
        ];
        let shown = serde_json::json!({
            "job_id": job.id, "due_on": owed.due.due_on, "tries": owed.due.tries,
        });
        Ok((words, shown))
    });
    rows.collect()
}

fn of_actions(conn: &mut Conn, shop: &Shop) -> Answer<Vec<Line>> {
    let rows = action::list(conn, shop.id, Some(State::Open), None, MOST)?.into_iter().map(|row| {
        let due = row.due_on.map(|day| format!("by {day}")).unwrap_or_default();
        let words = vec![row.id.to_string(), row.kind.clone(), due, row.words.clone()];
        Ok((words, object(&row)?))
    });
    rows.collect()
}
