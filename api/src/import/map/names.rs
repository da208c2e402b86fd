//! What files and columns are usually called in the trade, in plain words. Only
//! ever a proposal: people read a guessed mapping before it is used.

use crate::import::files::HistoryFile;

/// Usual names of a file.
pub const fn of_file(file: HistoryFile) -> &'static [&'static str] {
    match file {
        HistoryFile::Orders => {
            &["repair orders", "orders", "ro", "work orders", "visits", "invoices", "tickets"]
        }
        HistoryFile::Jobs => {
            &["jobs", "job lines", "complaints", "concerns", "lines", "repairs", "ro lines"]
        }
        HistoryFile::Operations => {
            &["operations", "labor operations", "charges", "labor lines", "labor charges"]
        }
        HistoryFile::Checks => {
            &["checks", "diagnosis", "inspections", "tests", "steps", "findings"]
        }
        HistoryFile::Parts => &["parts", "part lines", "parts used", "items", "materials"],
        HistoryFile::Labor => {
            &["labor", "labour", "time", "clock", "time clock", "times", "punches", "hours"]
        }
    }
}

/// Usual names of a column.
pub fn of_column(column: &str) -> &'static [&'static str] {
    match column {
        "order_no" => &[
            "order number",
            "order",
            "ro",
            "ro number",
            "ro no",
            "repair order",
            "work order",
            "repair order number",
            "wo number",
            "invoice",
            "invoice number",
            "ticket",
        ],
        "job_no" => &[
            "job",
            "job number",
            "line",
            "line number",
            "job line",
            "concern number",
            "ln",
            "number",
        ],
        "shop" => &["shop", "shop code", "location", "store", "site", "branch", "br"],
        "vin" => &["vin", "vehicle identification number", "chassis", "chassis number"],
        "make" => &["make", "vehicle make", "brand", "manufacturer"],
        "model" => &["model", "vehicle model"],
        "model_year" => &["year", "model year", "vehicle year", "my"],
        "engine" => &["engine", "engine code", "motor", "engine size"],
        "odometer_in" => &["odometer", "odometer in", "mileage", "mileage in", "miles in", "km in"],
        "odometer_out" => &["odometer out", "mileage out", "miles out", "km out"],
        "odometer_unit" => &["odometer unit", "mileage unit", "distance unit"],
        "opened_at" => &[
            "opened",
            "open date",
            "date in",
            "created",
            "date opened",
            "written up",
            "arrived",
            "check in",
            "received",
            "in",
        ],
        "closed_at" => &[
            "closed",
            "close date",
            "date out",
            "date closed",
            "handed over",
            "delivered",
            "completed",
            "picked up",
            "out",
        ],
        other => of_job(other),
    }
}

/// Usual names of the columns of jobs.
fn of_job(column: &str) -> &'static [&'static str] {
    match column {
        "kind" => &["type", "job type", "kind of job", "category"],
        "symptom" => &["symptom code", "complaint code", "concern code", "fault code"],
        "complaint" => {
            &["concern", "customer concern", "customer complaint", "description", "descr", "desc"]
        }
        "outcome" => &["result", "status", "job status", "resolution"],
        "cause" => &["cause code", "root cause", "failure code"],
        "cause_position" => &["position of cause", "location of cause"],
        "correction" => &["work done", "work performed", "repair", "remedy", "fix"],
        "technician" => &["tech", "mechanic", "technician name", "employee", "worker", "tech name"],
        "operation" => &["labor operation", "labor code", "op code", "operation code", "charge"],
        "flat_rate_hours" => {
            &["flat rate", "book time", "book hours", "standard hours", "flat hours"]
        }
        "billed_hours" => &["billed", "hours billed", "sold hours", "hours sold"],
        "labor_amount" => &[
            "labor",
            "labor total",
            "labor price",
            "labor sale",
            "labor charge",
            "labor amt",
            "labour amount",
            "labour amt",
            "labour",
        ],
        "payer" => &["pay type", "paid by", "bill to", "who pays"],
        "returned_from_order" => &[
            "comeback of order",
            "original order",
            "return of order",
            "previous ro",
            "prev ro",
            "previous order",
            "prev order",
        ],
        "returned_from_job" => &[
            "comeback of job",
            "original job",
            "return of job",
            "previous line",
            "prev line",
            "prev ln",
            "previous job",
            "prev job",
        ],
        "comeback_reason" => &["return reason", "reason for comeback", "reason of return"],
        other => of_work(other),
    }
}

/// Usual names of the columns of checks, parts and time.
fn of_work(column: &str) -> &'static [&'static str] {
    match column {
        "line" => &["line", "line number", "part line", "no", "number", "ln"],
        "seq" => &["sequence", "step", "step number", "order of check", "number", "no"],
        "check" => &["test", "step name", "inspection", "check code", "check name"],
        "position" => &["location", "corner", "cylinder", "side"],
        "finding" => &["finding", "result", "outcome of check", "pass fail"],
        "minutes" => &["minutes", "time spent", "duration", "min", "mins"],
        "reading" => &["value", "measured", "measurement", "measured value"],
        "unit" => &["unit", "units", "unit of measure", "u", "uom"],
        "part_no" => &["part number", "part no", "sku", "item number", "part code"],
        "name" => {
            &["part name", "part", "description", "item", "part description", "descr", "desc"]
        }
        "quantity" => &["qty", "count", "amount used", "pieces"],
        "disposition" => &["action", "what was done", "part action", "action taken"],
        "role" => &["role", "part role", "reason"],
        "suspect" => &["suspected", "is suspect", "suspect part"],
        "serviceable" => &["serviceable", "sold as"],
        "supplier" => &["vendor", "source", "supplier name"],
        "lot" => &["batch", "lot number", "batch number"],
        "unit_cost" => &["cost", "part cost", "cost each"],
        "unit_price" => &["price", "part price", "list price", "sale price", "price each"],
        "bench_reading" => &["bench test", "bench value", "bench result"],
        "bench_unit" => &["bench test unit"],
        "activity" => &["activity", "work type", "labor type"],
        "started_at" => &["start", "start time", "clock in", "clock on", "punch in", "began", "in"],
        "ended_at" => &["end", "end time", "clock out", "clock off", "punch out", "stopped", "out"],
        "as" => &["worked as", "working as"],
        _ => &[],
    }
}

/// A name as words only: lower case, one blank between; `#` is a number.
pub fn normal(name: &str) -> String {
    let mut words = String::new();
    let mut before = ' ';
    for c in name.replace('#', " number ").trim().chars() {
        let split = !c.is_alphanumeric() || (c.is_uppercase() && before.is_lowercase());
        if split && !words.is_empty() && !words.ends_with(' ') {
            words.push(' ');
        }
        if c.is_alphanumeric() {
            words.extend(c.to_lowercase());
        }
        before = c;
    }
    words.trim_end().to_owned()
}

/// How alike two normal names are, 0 to 100: the share of their pairs of
/// letters (Dice).
pub fn alike(one: &str, other: &str) -> usize {
    let pairs =
        |text: &str| -> Vec<(char, char)> { text.chars().zip(text.chars().skip(1)).collect() };
    let (one, mut other) = (pairs(one), pairs(other));
    let all = one.len() + other.len();
    if all == 0 {
        return 0;
    }
    let mut shared = 0;
    for pair in one {
        if let Some(at) = other.iter().position(|known| *known == pair) {
            other.swap_remove(at);
            shared += 1;
        }
    }
    shared * 200 / all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_column_has_a_usual_name() {
        for file in HistoryFile::ALL {
            for column in file.columns() {
                let old_word = column.name.ends_with("_state");
                let known = !of_column(column.name).is_empty();
                assert!(known || old_word || column.name == "typed_at_close", "{}", column.name);
            }
        }
    }

    #[test]
    fn names_are_compared_by_their_words() {
        assert_eq!(normal(" RO-Number "), "ro number");
        assert_eq!(normal("partNumber"), "part number");
        assert_eq!((&*normal("#"), &*normal("Part#")), ("number", "part number"));
        assert_eq!(normal("Flat_Rate (h)"), "flat rate h");
        // Pairs of "night" and "nacht": only "ht" is shared, 2 * 1 / 8.
        assert_eq!(alike("night", "nacht"), 25);
        assert_eq!(alike("odometer", "odometer"), 100);
        assert_eq!(alike("", "x"), 0);
    }
}
