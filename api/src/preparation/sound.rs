//! Whether a list of readings can be worked by.

use std::collections::BTreeSet;

use analytics::preparation::{Bound, Kind, Line};

use crate::domain::refusal::FieldFault;
use crate::domain::text;

/// More lines than anybody goes through.
pub const MOST_LINES: usize = 60;
const MOST_CELLS: u32 = 24;
const MOST_REPEAT_DAYS: i64 = 3650;
const MOST_CAUTIONS: usize = 12;
/// Further than any instrument reads.
const MOST_NUMBER: f64 = 1e9;

/// The lines as they are kept: every text tidied.
#[must_use]
pub fn tidied(lines: &[Line]) -> Vec<Line> {
    lines.iter().cloned().map(tidied_line).collect()
}

fn tidied_line(mut line: Line) -> Line {
    let own = |text: &mut String| *text = text::tidied(text);
    let (correction, loss) = (line.correction.iter_mut(), line.loss.iter_mut());
    let sources = [&mut line.unit, &mut line.how, &mut line.source, &mut line.edition];
    sources.into_iter().flatten().for_each(own);
    [&mut line.instruction, &mut line.one_of].into_iter().flatten().for_each(own);
    line.cautions.iter_mut().chain([&mut line.label]).for_each(own);
    correction.for_each(|it| {
        own(&mut it.source);
        it.edition.iter_mut().for_each(own);
    });
    loss.for_each(|it| {
        own(&mut it.source);
        it.edition.iter_mut().for_each(own);
    });
    for limit in &mut line.limits {
        own(&mut limit.source);
        limit.edition.iter_mut().for_each(own);
    }
    line
}

/// Everything that is wrong, with where it lies.
#[must_use]
pub fn faults(lines: &[Line]) -> Vec<FieldFault> {
    let mut faults = Faults::default();
    if lines.is_empty() || lines.len() > MOST_LINES {
        faults.add("lines".to_owned(), "range", format!("write 1 to {MOST_LINES} lines"));
    }
    let mut keys = BTreeSet::new();
    for (at, line) in lines.iter().enumerate() {
        let base = format!("lines/{at}");
        if !keys.insert(line.key.as_str()) {
            faults.add(
                format!("{base}/key"),
                "twice",
                format!("'{}' stands in the list already", line.key),
            );
        }
        faults.words(&base, line);
        faults.numbers(&base, line);
        faults.limits(&base, line);
    }
    faults.0
}

/// Whether a key is one that programs and people can name.
#[must_use]
pub fn is_key(text: &str) -> bool {
    let letters = |part: &str| {
        let mut bytes = part.bytes();
        bytes.next().is_some_and(|b| b.is_ascii_lowercase())
            && bytes.all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
    };
    text.len() <= 80 && text.split('.').all(letters)
}

#[derive(Default)]
struct Faults(Vec<FieldFault>);

impl Faults {
    fn add(&mut self, field: String, code: &'static str, detail: impl Into<String>) {
        self.0.push(FieldFault::new(&field, code, detail));
    }

    fn text(&mut self, field: String, text: &str, most: usize) {
        self.0.extend(text::required(&field, text, most).err());
    }

    fn words(&mut self, base: &str, line: &Line) {
        if !is_key(&line.key) {
            let detail = "write small letters, digits and hyphens, with points between words, \
                          such as battery.gravity";
            self.add(format!("{base}/key"), "word", detail);
        }
        self.text(format!("{base}/label"), &line.label, 200);
        let long = [
            ("how", &line.how, 1000),
            ("source", &line.source, 400),
            ("edition", &line.edition, 100),
            ("instruction", &line.instruction, 1000),
            ("one_of", &line.one_of, 40),
            ("unit", &line.unit, 40),
        ];
        for (name, text, most) in long {
            if let Some(text) = text {
                self.text(format!("{base}/{name}"), text, most);
            }
        }
        if line.cautions.len() > MOST_CAUTIONS {
            let detail = format!("write at most {MOST_CAUTIONS} cautions");
            self.add(format!("{base}/cautions"), "range", detail);
        }
        for (at, caution) in line.cautions.iter().enumerate() {
            self.text(format!("{base}/cautions/{at}"), caution, 400);
        }
    }

    fn numbers(&mut self, base: &str, line: &Line) {
        if line.kind.is_measured() && line.unit.is_none() {
            self.add(format!("{base}/unit"), "required", "numbers need a unit (UCUM); 1 for none");
        }
        let cells = line.cells.unwrap_or(0);
        if (line.kind == Kind::Cells) != line.cells.is_some()
            || (line.kind == Kind::Cells && !(2..=MOST_CELLS).contains(&cells))
        {
            let detail = format!("a line of cells has 2 to {MOST_CELLS} of them, others have none");
            self.add(format!("{base}/cells"), "range", detail);
        }
        self.plausible(base, line);
        if line.expects.is_some() && line.kind != Kind::YesNo {
            self.add(format!("{base}/expects"), "kind", "only yes or no is expected");
        }
        if line.repeat_days.is_some_and(|days| !(1..=MOST_REPEAT_DAYS).contains(&days)) {
            let detail = format!("write days between 1 and {MOST_REPEAT_DAYS}");
            self.add(format!("{base}/repeat_days"), "range", detail);
        }
        if let Some(correction) = &line.correction {
            let place = format!("{base}/correction");
            let known = [correction.per_step, correction.step, correction.from];
            if !line.kind.is_measured() {
                self.add(place.clone(), "kind", "only numbers are corrected");
            }
            if known.iter().any(|value| !value.is_finite()) || correction.step <= 0.0 {
                self.add(format!("{place}/step"), "range", "write a step above zero");
            }
            self.text(format!("{place}/source"), &correction.source, 400);
            if let Some(edition) = &correction.edition {
                self.text(format!("{place}/edition"), edition, 100);
            }
        }
        if let Some(loss) = &line.loss {
            if !(loss.per_day.is_finite() && loss.per_day > 0.0) {
                self.add(format!("{base}/loss/per_day"), "range", "write a loss above zero");
            }
            if loss.most_days.is_some_and(|days| !(1..=MOST_REPEAT_DAYS).contains(&days)) {
                let detail = format!("write days between 1 and {MOST_REPEAT_DAYS}");
                self.add(format!("{base}/loss/most_days"), "range", detail);
            }
            self.text(format!("{base}/loss/source"), &loss.source, 400);
            if let Some(edition) = &loss.edition {
                self.text(format!("{base}/loss/edition"), edition, 100);
            }
        }
    }

    fn plausible(&mut self, base: &str, line: &Line) {
        let ends =
            [("plausible_least", line.plausible_least), ("plausible_most", line.plausible_most)];
        for (name, value) in ends {
            if value.is_some() && !line.kind.is_measured() {
                self.add(format!("{base}/{name}"), "kind", "only numbers lie between two others");
            } else if value.is_some_and(|value| !(value.is_finite() && value.abs() <= MOST_NUMBER))
            {
                self.add(format!("{base}/{name}"), "range", "write a number that can be kept");
            }
        }
        if let (Some(least), Some(most)) = (line.plausible_least, line.plausible_most)
            && least > most
        {
            let detail = "the least may not lie above the most";
            self.add(format!("{base}/plausible_least"), "range", detail);
        }
        if line.whole && !line.kind.is_measured() {
            self.add(format!("{base}/whole"), "kind", "only numbers have no decimals");
        }
    }

    fn limits(&mut self, base: &str, line: &Line) {
        let mut seen: Vec<Bound> = Vec::new();
        for (at, limit) in line.limits.iter().enumerate() {
            let place = format!("{base}/limits/{at}");
            if seen.contains(&limit.bound) {
                self.add(format!("{place}/bound"), "twice", "this limit stands already");
            }
            seen.push(limit.bound);
            let of_cells = matches!(limit.bound, Bound::MeanLeast | Bound::SpreadMost);
            if !line.kind.is_measured() || (of_cells && line.kind != Kind::Cells) {
                let detail = "limits are for numbers, mean and spread for cells alone";
                self.add(format!("{place}/bound"), "kind", detail);
            }
            if !limit.value.is_finite() || (limit.bound == Bound::SpreadMost && limit.value < 0.0) {
                self.add(format!("{place}/value"), "range", "write a number that can be kept");
            }
            self.text(format!("{place}/source"), &limit.source, 400);
            if let Some(edition) = &limit.edition {
                self.text(format!("{place}/edition"), edition, 100);
            }
        }
        let of = |bound| line.limit(bound).map(|limit| limit.value);
        if let (Some(least), Some(most)) = (of(Bound::Least), of(Bound::Most))
            && least > most
        {
            let detail = "the least may not lie above the most";
            self.add(format!("{base}/limits"), "range", detail);
        }
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::super::starting::Purpose;
    use super::*;

    fn pointers(change: impl Fn(&mut Vec<Line>)) -> Vec<String> {
        let mut lines = Purpose::HandOver.lines().to_vec();
        change(&mut lines);
        faults(&lines).into_iter().map(|fault| fault.pointer).collect()
    }

    #[test]
    fn what_cannot_be_worked_by_is_told_where_it_lies() {
        assert_eq!(pointers(|_| {}), Vec::<String>::new());
        assert_eq!(pointers(Vec::clear), ["/lines"]);
        assert_eq!(pointers(|l| l[1].key = l[0].key.clone()), ["/lines/1/key"]);
        assert_eq!(pointers(|l| l[0].key = "Battery gravity".to_owned()), ["/lines/0/key"]);
        assert_eq!(pointers(|l| l[0].cells = Some(1)), ["/lines/0/cells"]);
        assert_eq!(pointers(|l| l[1].cells = Some(6)), ["/lines/1/cells"]);
        assert_eq!(pointers(|l| l[1].unit = None), ["/lines/1/unit"]);
        assert_eq!(pointers(|l| l[1].expects = Some(true)), ["/lines/1/expects"]);
        assert_eq!(pointers(|l| l[1].repeat_days = Some(0)), ["/lines/1/repeat_days"]);
        assert_eq!(
            pointers(|l| l[0].correction.as_mut().unwrap().step = 0.0),
            ["/lines/0/correction/step"]
        );
        assert_eq!(
            pointers(|l| l[0].loss.as_mut().unwrap().per_day = 0.0),
            ["/lines/0/loss/per_day"]
        );
        assert_eq!(
            pointers(|l| l[0].limits[0].source = " ".to_owned()),
            ["/lines/0/limits/0/source"]
        );
        assert_eq!(
            pointers(|l| l[1].limits[0].bound = Bound::SpreadMost),
            ["/lines/1/limits/0/bound"]
        );
        assert_eq!(pointers(|l| l[1].limits[0].value = f64::NAN), ["/lines/1/limits/0/value"]);
        assert_eq!(pointers(|l| l[1].plausible_least = Some(30.0)), ["/lines/1/plausible_least"]);
        assert_eq!(pointers(|l| l[1].plausible_most = Some(f64::NAN)), ["/lines/1/plausible_most"]);
        let yes_no = |lines: &mut Vec<Line>| {
            lines[2].plausible_most = Some(1.0);
            lines[2].whole = true;
        };
        assert_eq!(pointers(yes_no), ["/lines/2/plausible_most", "/lines/2/whole"]);
        // The running voltage, from 13.5 to 14.7 V, with its limits crossed.
        let crossed = |lines: &mut Vec<Line>| {
            let volts = lines.iter_mut().find(|line| line.limits.len() == 2).unwrap();
            volts.limits[0].value = 15.0;
        };
        assert_eq!(pointers(crossed), ["/lines/3/limits"]);
    }

    #[test]
    fn keys_are_short_words() {
        for key in ["lamps", "battery.gravity", "wheels.front-left.torque2"] {
            assert!(is_key(key), "{key}");
        }
        for key in ["", ".", "battery.", "Battery", "2x", "a b", "a_b", &"a".repeat(81)] {
            assert!(!is_key(key), "{key}");
        }
    }
}
