//! The jobs behind a figure, as a table.

use analytics::select::JobLine;

use super::{Cell, Row, Table, number, text};
use crate::reports::query::JobsReport;

pub(super) fn table(report: &JobsReport) -> Table {
    Table {
        key: "jobs",
        title: format!("{} jobs", report.count),
        note: (!report.select.is_empty()).then(|| report.select.clone()),
        columns: vec![
            text("order_no", "Order"),
            number("job_no", "Job"),
            text("closed_on", "Handed over"),
            text("vehicle", "Vehicle"),
            text("symptom", "Symptom"),
            text("complaint", "Complaint"),
            text("cause", "Cause"),
            text("technician", "Technician"),
            text("outcome", "Outcome"),
            text("returned_on", "Back on"),
            number("days_to_return", "Days"),
            text("told", "Told"),
            text("job_id", "Id"),
        ],
        rows: report.jobs.iter().map(row).collect(),
    }
}

fn row(line: &JobLine) -> Row {
    Row {
        cells: vec![
            Cell::text(&line.order_no),
            Cell::Count(i64::from(line.job_no)),
            Cell::day(Some(line.closed_on)),
            Cell::text(&line.vehicle),
            Cell::maybe(line.symptom.as_deref()),
            Cell::maybe(line.complaint.as_deref()),
            Cell::maybe(line.cause.as_deref()),
            Cell::maybe(line.technician.as_deref()),
            Cell::text(line.outcome.as_str()),
            Cell::day(line.returned_on),
            Cell::count(line.days_to_return.map(i64::from)),
            Cell::maybe(line.told.map(|told| told.as_str())),
            Cell::text(&line.job_id),
        ],
        jobs: None,
    }
}
