//! A week's attendance as a sheet: people by days, with the clock time beside.

use std::collections::HashMap;

use actix_web::HttpResponse;
use askama::Template;
use chrono::{Datelike, Duration, NaiveDate};
use serde::Deserialize;

use super::day::{as_hours, minutes_of};
use super::model::{self, Attendance, DayAttended};
use crate::domain::day::known;
use crate::domain::ids::PersonId;
use crate::domain::refusal::FieldFault;
use crate::domain::role::{Permission, Role};
use crate::domain::style::Style;
use crate::people::model as people;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::answer::Made;
use crate::web::body::{Form, Params};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};

/// Which week: any day of it.
#[derive(Debug, Clone, Default, Deserialize)]
pub struct WeekAsked {
    pub day: Option<NaiveDate>,
}

/// A day at the head of the sheet.
struct Head {
    label: String,
}

/// A person's day.
struct Cell {
    /// The day, where the sheet is a list.
    day: String,
    /// The field's name.
    name: String,
    label: String,
    typed: String,
    wrong: bool,
    /// Still to come: nothing to write.
    ahead: bool,
    clocked: Option<String>,
}

struct Line {
    name: String,
    cells: Vec<Cell>,
    attended: String,
    clocked: String,
}

#[derive(Template)]
#[template(path = "attendance.html")]
struct AttendancePage {
    viewer: Viewer,
    shop: String,
    first: String,
    span: String,
    before: String,
    after: Option<String>,
    heads: Vec<Head>,
    lines: Vec<Line>,
    writes: bool,
    tried: Option<Tried>,
}

impl AttendancePage {
    fn form(&self) -> FormView {
        FormView::of("attendance", self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "attendance"
    }
}

/// The first day of the shop's week that a day lies in.
fn week_of(day: NaiveDate, week_start: i32) -> NaiveDate {
    let into =
        (i64::from(day.weekday().number_from_monday()) - i64::from(week_start)).rem_euclid(7);
    day - Duration::days(into)
}

fn days(first: NaiveDate) -> impl Iterator<Item = NaiveDate> {
    (0..7).map(move |offset| first + Duration::days(offset))
}

fn field(person: &PersonId, day: NaiveDate) -> String {
    format!("{person}_{day}")
}

/// What a week of the record holds for the sheet.
struct Week {
    first: NaiveDate,
    today: NaiveDate,
    people: Vec<(PersonId, String)>,
    attended: HashMap<(PersonId, NaiveDate), Attendance>,
    clocked: HashMap<(PersonId, NaiveDate), i64>,
    style: Style,
}

impl Week {
    async fn load(ctx: &Ctx, day: Option<NaiveDate>) -> Result<Self, Problem> {
        let now = ctx.now;
        ctx.read(move |conn, shop: &Shop| {
            let today = shop.zone().day(now);
            let asked = day.filter(|asked| known("day", *asked).is_ok());
            let first = week_of(asked.unwrap_or(today), shop.week_start);
            let span = (first, first + Duration::days(6));
            let rows = model::between(conn, shop.id, span, None)?;
            let attended: HashMap<_, _> =
                rows.into_iter().map(|row| ((row.person_id.clone(), row.worked_on), row)).collect();
            let mut crew: Vec<(PersonId, String)> = Vec::new();
            for (person, role) in people::of_shop(conn, shop.id)? {
                let counts = role == Role::Technician && person.active;
                let written = attended.keys().any(|(id, _)| *id == person.id);
                if (counts || written) && crew.iter().all(|(id, _)| *id != person.id) {
                    crew.push((person.id, person.name));
                }
            }
            let mut clocked = HashMap::new();
            for (person, _) in &crew {
                for (day, minutes) in model::clocked(conn, shop.id, person, span)? {
                    *clocked.entry((person.clone(), day)).or_default() += minutes;
                }
            }
            Ok(Self { first, today, people: crew, attended, clocked, style: shop.style() })
        })
        .await
    }

    fn cell(&self, person: &(PersonId, String), day: NaiveDate, tried: Option<&Tried>) -> Cell {
        let key = (person.0.clone(), day);
        let name = field(&person.0, day);
        let stands = self.attended.get(&key).map(|row| as_hours(i64::from(row.attended_minutes)));
        let typed = tried.map_or_else(
            || stands.unwrap_or_default(),
            |tried| tried.fields.typed(&name).to_owned(),
        );
        Cell {
            wrong: !typed.trim().is_empty() && minutes_of(typed.trim()).is_none(),
            label: format!("{}, {}", person.1, self.style.weekday(day)),
            day: self.style.weekday(day),
            ahead: day > self.today,
            clocked: self.clocked.get(&key).map(|minutes| as_hours(*minutes)),
            name,
            typed,
        }
    }

    fn line(&self, person: &(PersonId, String), tried: Option<&Tried>) -> Line {
        let of = |day: NaiveDate| (person.0.clone(), day);
        let attended = days(self.first)
            .filter_map(|day| self.attended.get(&of(day)))
            .map(|row| i64::from(row.attended_minutes))
            .reduce(|sum, minutes| sum + minutes);
        let clocked: i64 = days(self.first).filter_map(|day| self.clocked.get(&of(day))).sum();
        Line {
            name: person.1.clone(),
            cells: days(self.first).map(|day| self.cell(person, day, tried)).collect(),
            attended: attended.map_or_else(|| "-".to_owned(), as_hours),
            clocked: as_hours(clocked),
        }
    }
}

fn laid_out(ctx: &Ctx, week: &Week, tried: Option<Tried>) -> Result<AttendancePage, Problem> {
    let last = week.first + Duration::days(6);
    Ok(AttendancePage {
        viewer: Viewer::of(ctx),
        shop: ctx.shop()?.code.clone(),
        first: week.first.to_string(),
        span: week.style.span(week.first, last),
        before: (week.first - Duration::days(7)).to_string(),
        after: (last < week.today).then(|| (week.first + Duration::days(7)).to_string()),
        heads: days(week.first).map(|day| Head { label: week.style.weekday(day) }).collect(),
        lines: week.people.iter().map(|person| week.line(person, tried.as_ref())).collect(),
        writes: ctx.may(Permission::WriteAttendance),
        tried,
    })
}

/// The sheet of a week.
///
/// # Errors
/// The record does not answer.
pub async fn week(ctx: Ctx, asked: Params<WeekAsked>) -> Result<HttpResponse, Problem> {
    let week = Week::load(&ctx, asked.0.day).await?;
    page::html(&laid_out(&ctx, &week, None)?)
}

/// A cell that was changed: minutes, or taken back.
type Change = (PersonId, NaiveDate, Option<i32>);

/// What differs from what stands. A cell that was left alone is not written.
fn changes(week: &Week, fields: &Fields) -> Result<Vec<Change>, Problem> {
    let mut faults = Vec::new();
    let mut changes = Vec::new();
    for person in &week.people {
        for day in days(week.first).filter(|day| *day <= week.today) {
            let sent = fields.all(&field(&person.0, day));
            let Some(typed) = sent.first() else { continue };
            let row = week.attended.get(&(person.0.clone(), day));
            let typed = typed.trim();
            let minutes = minutes_of(typed);
            if minutes.is_none() && !typed.is_empty() {
                let detail = format!(
                    "{}, {}: write hours such as 8, 7.5 or 7:30",
                    person.1,
                    week.style.weekday(day)
                );
                faults.push(FieldFault::new("", "number", detail));
            } else if minutes != row.map(|row| row.attended_minutes) {
                changes.push((person.0.clone(), day, minutes));
            }
        }
    }
    if faults.is_empty() { Ok(changes) } else { Err(Problem::invalid(faults)) }
}

/// Writes the sheet of a week.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn write(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let day = form.value.text("day").and_then(|text| text.parse().ok());
    let week = Week::load(&ctx, day).await?;
    let done = match changes(&week, &form.value) {
        Ok(changes) => {
            let notes: Vec<Option<String>> = changes
                .iter()
                .map(|(person, day, _)| {
                    week.attended.get(&(person.clone(), *day)).and_then(|row| row.note.clone())
                })
                .collect();
            ctx.once(&form.hash, move |write| {
                for ((person, day, minutes), note) in changes.iter().zip(&notes) {
                    match minutes {
                        Some(minutes) => {
                            let new =
                                DayAttended { attended_minutes: *minutes, note: note.clone() };
                            model::set(write, person, *day, &new)?;
                        }
                        None => model::remove(write, person, *day)?,
                    }
                }
                Ok(Made { status: 200, body: (), location: None, version: None })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!(
            "/shops/{}/attendance?day={}&did=saved",
            ctx.shop()?.code,
            week.first
        ))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "attendance", fields: form.value, problem: problem.clone() };
            refused(&problem, &laid_out(&ctx, &week, Some(tried))?)
        }
        Err(problem) => Err(problem),
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn a_week_begins_on_the_shops_day() {
        let friday = NaiveDate::from_ymd_opt(2026, 11, 27).unwrap();
        assert_eq!(week_of(friday, 1).to_string(), "2026-11-23");
        assert_eq!(week_of(friday, 7).to_string(), "2026-11-22");
        assert_eq!(week_of(friday, 5), friday);
    }
}
