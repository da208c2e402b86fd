//! The diagnosis paths of one complaint as a tree: from the first check on, how
//! many jobs went which way, how long they took and what they came to.

use std::collections::BTreeMap;

use analytics::path::{PathReport, TreeLine};
use askama::Template;

use crate::domain::decimal::{rounded, thousands};
use crate::reports::page_table::Standing;
use crate::reports::table::Cell;
use crate::web::words::{counted, duration};

/// Of the complaint's jobs, those that a branch must hold to stand open at once.
const OPEN_FROM: f64 = 0.1;

#[derive(Template)]
#[template(path = "tree.html")]
struct Tree {
    symptom: String,
    branches: Vec<Branch>,
}

/// The jobs that began with the checks down to here.
#[derive(Template)]
#[template(path = "tree_branch.html")]
struct Branch {
    check: String,
    jobs: String,
    /// Absent where links lead nowhere.
    place: Option<String>,
    bars: Bars,
    facts: Vec<String>,
    came_back: Option<(String, Option<String>)>,
    open: bool,
    /// What the fold of its branches says.
    next: String,
    branches: Vec<Branch>,
}

/// Lengths of the bars, of a hundred.
struct Bars {
    jobs: String,
    found: String,
    hours: String,
}

/// What the longest bars stand for.
struct Whole {
    jobs: i64,
    minutes: i64,
}

/// The tree of the one complaint that the report is about.
#[must_use]
pub fn html(report: &PathReport, standing: &Standing<'_>) -> Option<String> {
    let [line] = report.symptoms.as_slice() else { return None };
    if line.tree.is_empty() {
        return None;
    }
    let roots = || line.tree.iter().filter(|branch| branch.checks.len() == 1);
    let whole = Whole {
        jobs: roots().map(|branch| branch.count).sum(),
        minutes: roots().map(|branch| branch.minutes.total_minutes).sum(),
    };
    let tree = Tree {
        symptom: standing.lists.label("symptom", &line.symptom),
        branches: under(&[], &by_parent(&line.tree), &whole, standing),
    };
    tree.render().ok()
}

/// The branches by the checks that they go on from, the most taken first.
fn by_parent(lines: &[TreeLine]) -> BTreeMap<&[String], Vec<&TreeLine>> {
    let mut children: BTreeMap<&[String], Vec<&TreeLine>> = BTreeMap::new();
    for line in lines {
        if let Some((_, parent)) = line.checks.split_last() {
            children.entry(parent).or_default().push(line);
        }
    }
    for branches in children.values_mut() {
        branches.sort_by_key(|line| std::cmp::Reverse(line.count));
    }
    children
}

fn under(
    checks: &[String],
    children: &BTreeMap<&[String], Vec<&TreeLine>>,
    whole: &Whole,
    standing: &Standing<'_>,
) -> Vec<Branch> {
    let lines = children.get(checks).map_or(&[][..], Vec::as_slice);
    lines
        .iter()
        .map(|line| {
            let branches = under(&line.checks, children, whole, standing);
            branch(line, branches, whole, standing)
        })
        .collect()
}

fn branch(
    line: &TreeLine,
    branches: Vec<Branch>,
    whole: &Whole,
    standing: &Standing<'_>,
) -> Branch {
    let name = line.checks.last().map_or("", String::as_str);
    let part = |value: i64, whole: i64| rounded(100.0 * value as f64 / whole.max(1) as f64, 1);
    Branch {
        check: standing.lists.label("check", name),
        jobs: counted(line.count, "job", "jobs"),
        place: place(&line.jobs, standing),
        bars: Bars {
            jobs: part(line.count, whole.jobs),
            found: part(line.found, whole.jobs),
            hours: part(line.minutes.total_minutes, whole.minutes),
        },
        facts: facts(line),
        came_back: came_back(line, standing),
        open: line.count as f64 >= OPEN_FROM * whole.jobs as f64,
        next: branches.first().map_or_else(String::new, |first| match branches.len() {
            1 => format!("Then {}", first.check),
            more => format!("Then {} or {} more", first.check, more - 1),
        }),
        branches,
    }
}

fn place(jobs: &str, standing: &Standing<'_>) -> Option<String> {
    standing.leads().then(|| standing.jobs(jobs))
}

fn facts(line: &TreeLine) -> Vec<String> {
    let hours = thousands(&rounded(line.minutes.total_minutes as f64 / 60.0, 1));
    let middle = line
        .minutes
        .median
        .map(|median| format!("middle job {}, {hours} h in all", duration(median.round() as i64)));
    let ended =
        (line.ended > 0).then(|| format!("{} ended here", thousands(&line.ended.to_string())));
    let found = format!("cause found on {}", thousands(&line.found.to_string()));
    [middle, Some(found), ended].into_iter().flatten().collect()
}

/// What came back, and those jobs. Nothing is said where nothing was followed.
fn came_back(line: &TreeLine, standing: &Standing<'_>) -> Option<(String, Option<String>)> {
    (line.comebacks.count > 0).then(|| {
        let said = format!("came back: {}", Cell::share(&line.comebacks));
        (said, place(&line.comebacks.jobs, standing))
    })
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::codes::lists::Lists;
    use crate::domain::style::Style;
    use crate::reports::query::{Report, ReportName, ReportQuery, tests as cases};

    fn report(lines: &[(&[&str], i64, i64, i64, i64)]) -> PathReport {
        let query =
            ReportQuery { symptom: Some("engine.tick".to_owned()), ..ReportQuery::default() };
        let Report::Paths(mut report) = cases::report(ReportName::Paths, &query) else { panic!() };
        let line = report.symptoms.first_mut().unwrap();
        let one = line.tree.first().unwrap().clone();
        line.tree = lines
            .iter()
            .map(|(checks, count, ended, found, minutes)| {
                let mut line = TreeLine {
                    checks: checks.iter().map(|check| (*check).to_owned()).collect(),
                    count: *count,
                    ended: *ended,
                    found: *found,
                    ..one.clone()
                };
                line.minutes.median = Some(30.0);
                line.minutes.total_minutes = *minutes;
                line
            })
            .collect();
        report
    }

    fn drawn(report: &PathReport) -> Option<String> {
        let (lists, style) = (Lists::default(), Style::plain());
        let standing = Standing {
            shop: "north",
            head: &report.head,
            lists: &lists,
            report: None,
            by: None,
            without: &[],
            csv: "/shops/north/paths?".into(),
            style: &style,
        };
        html(report, &standing)
    }

    #[test]
    fn branches_hang_on_the_checks_before_them() {
        let report = report(&[
            (&["listen"], 20, 2, 8, 300),
            (&["listen", "oil"], 1, 1, 0, 10),
            (&["listen", "road <test>"], 17, 17, 8, 270),
            (&["oil"], 80, 80, 40, 2_700),
        ]);
        let html = drawn(&report).unwrap();
        // The most taken first, a line a branch, what goes on inside what began.
        let at = |text: &str| html.find(text).unwrap_or_else(|| panic!("{text}: {html}"));
        assert!(at(">80 jobs<") < at(">20 jobs<") && at(">17 jobs<") < at(">1 job<"));
        assert!(at(">20 jobs<") < at("Then road &#60;test&#62; or 1 more"));
        assert_eq!(html.matches("<li>").count(), 4);
        assert!(html.contains("45.0 h in all") && html.contains("cause found on 40"), "{html}");
        assert!(html.contains("80 ended here"), "{html}");
        // Of a hundred jobs, and of fifty hours.
        assert!(html.contains(r#"class="all" width="80.0""#), "{html}");
        assert!(html.contains(r#"class="found" width="40.0""#), "{html}");
        assert!(html.contains(r#"class="hours" y="10" width="90.0""#), "{html}");
        assert!(!html.contains("style="), "{html}");
    }

    #[test]
    fn without_an_order_there_is_no_tree() {
        assert_eq!(drawn(&report(&[])), None);
    }
}
