//! Diagnosis paths, as tables.

use analytics::path::{FirstCheck, PathFigures, PathReport, PlanSkips, SymptomLine};

use super::comebacks::outcomes;
use super::{Cell, Column, Row, Table, number, share, text};

const FIGURES: [Column; 9] = [
    number("jobs", "Jobs"),
    number("timed", "Timed"),
    number("median_minutes", "Middle job, min"),
    number("lower_quartile_minutes", "Middle half of jobs: from"),
    number("upper_quartile_minutes", "Middle half: to"),
    number("total_hours", "Hours"),
    share("found", "Cause found"),
    share("comebacks", "Came back"),
    share("closed", "Came back, comeback window over"),
];

pub(super) fn tables(report: &PathReport) -> Vec<Table> {
    let each = |rows: fn(&SymptomLine) -> Vec<Row>| report.symptoms.iter().flat_map(rows).collect();
    vec![
        Table {
            key: "paths",
            title: "Paths of diagnosis".to_owned(),
            note: None,
            columns: with_figures(&[text("symptom", "Symptom"), text("path", "Checks in order")]),
            rows: each(path_rows),
        },
        Table {
            key: "symptoms",
            title: "By symptom".to_owned(),
            note: None,
            columns: with_figures(&[text("symptom", "Symptom")]),
            rows: report
                .symptoms
                .iter()
                .map(|line| figure_row(vec![Cell::text(&line.symptom)], &line.all))
                .collect(),
        },
        Table {
            key: "first_checks",
            title: "The first check, done and skipped".to_owned(),
            note: Some("A comparison of jobs as they came, not a trial.".to_owned()),
            columns: first_check_columns(),
            rows: each(first_check_rows),
        },
        Table {
            key: "checks",
            title: "Checks".to_owned(),
            note: None,
            columns: vec![
                text("symptom", "Symptom"),
                text("check", "Check"),
                number("done", "Done"),
                number("median_minutes", "Middle job, min"),
                share("abnormal", "Abnormal"),
            ],
            rows: each(check_rows),
        },
        Table {
            key: "tree",
            title: "Tree of checks".to_owned(),
            note: None,
            columns: vec![
                text("symptom", "Symptom"),
                text("path", "Checks so far"),
                number("jobs", "Jobs"),
                number("ended", "Ended here"),
                number("found", "Cause found"),
                number("timed", "Timed"),
                number("median_minutes", "Middle job, min"),
                number("total_hours", "Hours"),
                share("comebacks", "Came back"),
            ],
            rows: each(tree_rows),
        },
        plan_table(report),
        outcomes(&report.outcomes),
    ]
}

fn plan_table(report: &PathReport) -> Table {
    Table {
        key: "plan_steps",
        title: "Steps of the check plans, made and skipped".to_owned(),
        note: Some("A comparison of jobs as they came, not a trial.".to_owned()),
        columns: with_figures(&[
            text("symptom", "Symptom"),
            text("model", "Model"),
            text("engine", "Engine"),
            text("check", "Step"),
            text("done", "It was"),
            number("median_minutes_to_cause", "Middle job, min to the cause"),
        ]),
        rows: report.plans.iter().flat_map(plan_rows).collect(),
    }
}

fn plan_rows(plan: &PlanSkips) -> Vec<Row> {
    let named = |name: &Option<String>| Cell::Text(name.clone().unwrap_or_default());
    plan.steps
        .iter()
        .flat_map(|step| {
            [
                ("made", &step.made, &step.made_to_cause),
                ("skipped", &step.skipped, &step.skipped_to_cause),
            ]
            .map(|(done, figures, to_cause)| {
                let first = vec![
                    Cell::text(&plan.symptom),
                    named(&plan.model),
                    named(&plan.engine),
                    Cell::text(&step.check),
                    Cell::text(done),
                    Cell::number(to_cause.median, 0),
                ];
                figure_row(first, figures)
            })
        })
        .collect()
}

fn with_figures(first: &[Column]) -> Vec<Column> {
    first.iter().copied().chain(FIGURES).collect()
}

fn first_check_columns() -> Vec<Column> {
    let first = [text("symptom", "Symptom"), text("check", "First check"), text("done", "It was")];
    let mut columns = with_figures(&first);
    columns.push(share("misdiagnosed", "Wrong diagnosis"));
    columns
}

fn figure_row(mut cells: Vec<Cell>, figures: &PathFigures) -> Row {
    let minutes = &figures.minutes;
    cells.extend([
        Cell::Count(figures.count),
        Cell::Count(minutes.timed),
        Cell::number(minutes.median, 0),
        Cell::number(minutes.lower_quartile, 0),
        Cell::number(minutes.upper_quartile, 0),
        Cell::Number(minutes.total_minutes as f64 / 60.0, 1),
        Cell::share(&figures.found),
        Cell::share(&figures.comebacks),
        Cell::share(&figures.closed),
    ]);
    Row { cells, jobs: Some(figures.jobs.clone()) }
}

fn path_rows(line: &SymptomLine) -> Vec<Row> {
    let ordered = line.paths.iter().map(|path| {
        let checks =
            if path.checks.is_empty() { "none done".to_owned() } else { path.checks.join(" > ") };
        (checks, &path.figures)
    });
    let apart = [
        ("order not measured", line.order_not_measured.as_ref()),
        ("no checks recorded", line.no_checks.as_ref()),
    ];
    let apart = apart.into_iter().filter_map(|(name, figures)| Some((name.to_owned(), figures?)));
    ordered
        .chain(apart)
        .map(|(checks, figures)| {
            figure_row(vec![Cell::text(&line.symptom), Cell::Text(checks)], figures)
        })
        .collect()
}

fn first_check_rows(line: &SymptomLine) -> Vec<Row> {
    let Some(FirstCheck { check, done_first, done_later, skipped }) = &line.first_check else {
        return Vec::new();
    };
    [("done first", done_first), ("done later", done_later), ("skipped", skipped)]
        .into_iter()
        .filter(|(_, figures)| figures.count > 0)
        .map(|(done, figures)| {
            let first = vec![Cell::text(&line.symptom), Cell::text(check), Cell::text(done)];
            let mut row = figure_row(first, figures);
            row.cells.push(Cell::share(&figures.misdiagnosed));
            row
        })
        .collect()
}

fn check_rows(line: &SymptomLine) -> Vec<Row> {
    line.checks
        .iter()
        .map(|check| Row {
            cells: vec![
                Cell::text(&line.symptom),
                Cell::text(&check.check),
                Cell::Count(check.done),
                Cell::number(check.minutes.median, 0),
                Cell::share(&check.abnormal),
            ],
            jobs: Some(check.abnormal.jobs.clone()),
        })
        .collect()
}

fn tree_rows(line: &SymptomLine) -> Vec<Row> {
    line.tree
        .iter()
        .map(|branch| Row {
            cells: vec![
                Cell::text(&line.symptom),
                Cell::Text(branch.checks.join(" > ")),
                Cell::Count(branch.count),
                Cell::Count(branch.ended),
                Cell::Count(branch.found),
                Cell::Count(branch.minutes.timed),
                Cell::number(branch.minutes.median, 0),
                Cell::Number(branch.minutes.total_minutes as f64 / 60.0, 1),
                Cell::share(&branch.comebacks),
            ],
            jobs: Some(branch.jobs.clone()),
        })
        .collect()
}
