//! Answers that were kept are those that would be made now.

use proptest::prelude::*;

use super::{Garage, Live, beside, noon};
use crate::domain::clock::UtcStamp;
use crate::reports::live::Question;
use crate::reports::query::{Known, ReportName, ReportQuery, permitted};
use crate::reports::{Format, render};
use analytics::history::History;

/// Some of what happens lies after the last complete day by then, some before.
fn now() -> UtcStamp {
    noon(30)
}

fn of(name: ReportName, query: ReportQuery) -> Question {
    Question::new(name, &query, (None, true))
}

fn questions() -> Vec<Question> {
    let day = |text: &str| Some(text.to_owned());
    let mut all: Vec<Question> = [
        ReportName::Weekly,
        ReportName::Comebacks,
        ReportName::Reuse,
        ReportName::Paths,
        ReportName::Labor,
        ReportName::Compare,
        ReportName::Checks,
        ReportName::Repeats,
        ReportName::Warnings,
    ]
    .map(|name| of(name, ReportQuery::default()))
    .into();
    let today = ReportQuery { as_of: day("2026-02-04"), ..ReportQuery::default() };
    let early = ReportQuery { as_of: day("2026-01-12"), ..ReportQuery::default() };
    let valve = ReportQuery { part: day("valve"), ..ReportQuery::default() };
    let tick = ReportQuery { symptom: day("test.1"), ..ReportQuery::default() };
    let jobs = ReportQuery::of_jobs("symptom=test.1");
    all.push(of(ReportName::Comebacks, today.clone()));
    all.push(of(ReportName::Labor, today));
    all.push(of(ReportName::Comebacks, early.clone()));
    all.push(of(ReportName::Labor, early));
    all.push(of(ReportName::Reuse, valve));
    all.push(of(ReportName::Paths, tick));
    all.push(of(ReportName::Jobs, jobs));
    all.push(Question::new(
        ReportName::Labor,
        &ReportQuery::default(),
        (Some("First name".to_owned()), false),
    ));
    all
}

/// What is answered: the kept answer where there is one.
fn answered(garage: &Garage, live: &Live, question: &Question) -> Result<String, String> {
    let (db, shop) = (&garage.db, &garage.shop);
    let kept = live.kept(db, shop, now(), question).map_err(|fault| format!("{fault:?}"))?;
    let told = match kept {
        Some(told) => told,
        None => live.answer(db, shop, now(), question).map_err(|fault| format!("{fault:?}"))?,
    };
    told.json(&shop.style()).map_err(|fault| format!("{fault:?}"))
}

/// What would be answered by who reads everything anew.
fn made(garage: &Garage, anew: &History, question: &Question) -> Result<String, String> {
    let shop = crate::shops::model::by_number;
    let read = garage.db.read(|conn| {
        let shop = shop(conn, garage.shop.id)?;
        let known = Known::load(conn, &shop, (question.name, now()), &question.query)?;
        Ok((shop, known))
    });
    let (shop, known) = read.unwrap();
    let report = permitted(anew, &known, &shop, now(), question)
        .map_err(|refusal| format!("{:?}", crate::db::Fault::from(refusal)))?;
    render(&report, Format::Json, None, &shop.style()).map_err(|fault| format!("{fault:?}"))
}

/// A quarter of the questions: each is asked again after four steps.
pub fn compare(
    garage: &Garage,
    live: &Live,
    (anew, step): (&History, usize),
) -> Result<(), TestCaseError> {
    for question in questions().into_iter().skip(step % 4).step_by(4) {
        let (told, made) = (answered(garage, live, &question), made(garage, anew, &question));
        prop_assert_eq!(told, made, "{:?}", question);
    }
    Ok(())
}

fn kept(garage: &Garage, live: &Live, question: &Question) -> bool {
    live.kept(&garage.db, &garage.shop, now(), question).unwrap().is_some()
}

/// Visit n is opened on day 3n, with forty minutes on the clock, and closed a day
/// later. The report is made as of day 29.
#[test]
fn an_answer_is_kept_until_something_changes_that_it_could_say() {
    let mut garage = Garage::new();
    (0..13).for_each(|_| garage.open(0, 0));
    garage.hand_over(0);
    let live = Live::default();
    let question = of(ReportName::Comebacks, ReportQuery::default());
    assert!(!kept(&garage, &live, &question));
    let first = answered(&garage, &live, &question).unwrap();
    assert!(first.contains("\"change_no\":14,"), "{first}");
    assert!(kept(&garage, &live, &question));
    // What hangs on an open job is nothing that a report counts: the answer stands,
    // and says how far the record was read.
    garage.write_beside(beside::Event::SendOut { visit: 3, cost: 50 });
    garage.write_beside(beside::Event::Fail { visit: 4 });
    assert!(kept(&garage, &live, &question));
    let later = answered(&garage, &live, &question).unwrap();
    assert_eq!(later, first.replace("\"change_no\":14,", "\"change_no\":16,"));
    // Of the twelve open ones, visit 10: closed on day 31.
    garage.hand_over(9);
    assert!(kept(&garage, &live, &question));
    // An hour on the clock may be counted from the day on which it was worked.
    garage.open(1, 1);
    assert!(kept(&garage, &live, &question));
    // Visit 1: closed on day 4.
    garage.hand_over(0);
    assert!(!kept(&garage, &live, &question));
    answered(&garage, &live, &question).unwrap();
    // What is closed already is in every report.
    garage.correct(0, 1);
    assert!(!kept(&garage, &live, &question));
    answered(&garage, &live, &question).unwrap();
    // Takes no change number.
    garage.set_window(90);
    assert!(!kept(&garage, &live, &question));
}

#[test]
fn what_one_may_not_see_is_another_answer() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    let asked = |own: Option<&str>, costs| {
        let own = own.map(str::to_owned);
        Question::new(ReportName::Labor, &ReportQuery::default(), (own, costs))
    };
    let all = answered(&garage, &live, &asked(None, true)).unwrap();
    let own = answered(&garage, &live, &asked(Some("Nobody"), false)).unwrap();
    assert_ne!(all, own);
    assert_eq!(answered(&garage, &live, &asked(None, true)).unwrap(), all);
    assert_eq!(answered(&garage, &live, &asked(Some("Nobody"), false)).unwrap(), own);
}
