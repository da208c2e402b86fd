//! Every report there is, as the text of its JSON, for what must hold of all.

use analytics::bench::{BenchQuery, Better, bench};
use analytics::comeback::{self, comebacks};
use analytics::compare::{COLUMNS, compare};
use analytics::effect::{EffectQuery, effect};
use analytics::figure::Query;
use analytics::history::History;
use analytics::labor::{self, labor};
use analytics::path::{check_orders, paths};
use analytics::pattern::{PatternQuery, pattern};
use analytics::preparation::hand_over::{HandOverQuery, hand_over};
use analytics::repeats::repeats;
use analytics::reuse::{
    AdviceQuery, HandReading, HeldRole, InHandQuery, Overrides, advise, estimate, reuse,
};
use analytics::select::{Selector, select};
use analytics::slice::slice;
use analytics::standing::{ShopOfStanding, standing};
use analytics::warning::{Planned, WarningsQuery, warnings};
use analytics::weekly::{WeekQuery, weekly};
use chrono::{Days, NaiveDate};
use serde::Serialize;

/// What reports are asked for.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    pub as_of: NaiveDate,
    pub from: Option<NaiveDate>,
    pub window_days: Option<i32>,
}

fn json(name: impl Into<String>, report: &impl Serialize) -> (String, String) {
    (name.into(), serde_json::to_string(report).unwrap())
}

/// Every report by every column, with its name.
pub fn every_report(history: &History, asked: Asked) -> Vec<(String, String)> {
    let query = |by: Option<&str>| Query {
        as_of: asked.as_of,
        from: asked.from,
        to: None,
        window_days: asked.window_days,
        by: by.map(str::to_owned),
    };
    let mut all = Vec::new();
    for by in comeback::By::ALL.map(comeback::By::as_str) {
        all.push(json(
            format!("comebacks by {by}"),
            &comebacks(history, &query(Some(by))).unwrap(),
        ));
    }
    all.push(json("comebacks", &comebacks(history, &query(None)).unwrap()));
    for by in labor::By::WORDS {
        all.push(json(format!("labor by {by}"), &labor(history, &query(Some(by))).unwrap()));
    }
    for by in COLUMNS.map(comeback::By::as_str) {
        all.push(json(format!("compare by {by}"), &compare(history, &query(Some(by))).unwrap()));
    }
    for by in [None, Some("model"), Some("engine")] {
        all.push(json(format!("repeats by {by:?}"), &repeats(history, &query(by))));
    }
    all.push(json("slice", &slice(history, &query(Some("symptom,technician"))).unwrap()));
    let standing = standing(&[ShopOfStanding { history, as_of: asked.as_of }]);
    all.push(json("standing", &(&standing.cohorts, &standing.symptoms, &standing.technicians)));
    all.push(json("parts and orders", &(&standing.parts, &standing.orders)));
    let by_technician = standing.efficiency_by_technician;
    all.push(json("efficiency", &(by_technician, standing.efficiency_by_symptom)));
    all.push(json("paths", &paths(history, &query(None))));
    all.push(json("checks", &check_orders(history, &query(None), Some(&["check 2".to_owned()]))));
    all.push(json("reuse", &reuse(history, &query(None))));
    all.extend(of_parts(history, &query(None)));
    all.extend(of_days(history, &query(None)));
    all
}

fn of_parts(history: &History, figures: &Query) -> Vec<(String, String)> {
    let mut all = Vec::new();
    let pattern_query = PatternQuery { figures: figures.clone(), part: None, role: None };
    all.push(json("pattern", &pattern(history, &pattern_query)));
    for better in [None, Some(Better::Higher), Some(Better::Lower)] {
        let asked = BenchQuery { figures: figures.clone(), part: None, role: None, better };
        all.push(json(format!("bench {better:?}"), &bench(history, &asked)));
    }
    for better in [None, Some(Better::Higher), Some(Better::Lower)] {
        let figures = figures.clone();
        let asked = HandOverQuery { figures, line: None, better, hold_minutes: Some(30) };
        all.push(json(format!("hand-over {better:?}"), &hand_over(history, &asked)));
    }
    for role in [HeldRole::Suspect, HeldRole::Bystander] {
        let question = AdviceQuery {
            part: "part 1".to_owned(),
            role,
            cause_curable: None,
            bench_tested: None,
            as_of: figures.as_of,
            window_days: figures.window_days,
            overrides: Overrides {
                access_minutes: Some(60),
                part_cost_minor: Some(5_000),
                ..Overrides::default()
            },
        };
        all.push(json(format!("advice {role:?}"), &advise(history, &question)));
        let in_hand = InHandQuery {
            about: question,
            serviceable: None,
            assembly_cost_minor: None,
            rebuilt_cost_minor: Some(3_000),
            return_extra_minor: None,
            reading: Some(HandReading { value: 11.5, unit: None, better: None }),
        };
        all.push(json(format!("estimate {role:?}"), &estimate(history, &in_hand)));
    }
    all
}

fn of_days(history: &History, figures: &Query) -> Vec<(String, String)> {
    let mut all = Vec::new();
    for weeks in 0..3 {
        let week = WeekQuery {
            as_of: figures.as_of,
            week_from: figures.as_of.checked_sub_days(Days::new(7 * weeks)).unwrap(),
            window_days: figures.window_days,
        };
        all.push(json(format!("weekly, {weeks} back"), &weekly(history, &week)));
    }
    let scan = WarningsQuery {
        as_of: figures.as_of,
        week_from: figures.as_of.checked_sub_days(Days::new(6)).unwrap(),
        window_days: figures.window_days,
        planned: Planned::new(),
    };
    all.push(json("warnings", &warnings(history, &scan)));
    let rule = EffectQuery {
        figures: figures.clone(),
        jobs: Selector::parse("symptom=symptom 1").unwrap(),
        start: figures.as_of.checked_sub_days(Days::new(40)).unwrap(),
        review: figures.as_of,
        withdrawn: None,
        kept: Some(Selector::parse("check=check 1").unwrap()),
        not_known: Some(Selector::parse("order=no_checks").unwrap()),
    };
    all.push(json("effect", &effect(history, &rule)));
    let every = select(history, &Selector::default(), figures.as_of, 60);
    all.push(json("jobs", &every));
    all
}
