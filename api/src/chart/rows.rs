//! Lines of a list with bars and marks on one axis: the label of each beside it
//! on a wide sheet, above it on a narrow one.

use super::axis::Axis;
use super::svg::{self, Anchor, LETTER, MARK, Shape, Tone, bar, cut, drawing, mark, room, words};
use super::{NARROW, Sheet};

const THICK: f64 = 15.0;
const GAP: f64 = 12.0;
const TOP: f64 = 6.0;
const BOTTOM: f64 = 46.0;
/// Labels beside the bars take no more than this part of the sheet.
const BESIDE: f64 = 0.38;

/// A bar; most begin at nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    pub tone: Tone,
    pub from: f64,
    pub to: f64,
    pub said: String,
}

/// A mark on a line.
#[derive(Debug, Clone, PartialEq)]
pub struct RowDot {
    pub tone: Tone,
    pub shape: Shape,
    pub at: f64,
    pub said: String,
    /// From where to where it could lie.
    pub spread: Option<(f64, f64)>,
}

/// One line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row {
    pub label: String,
    /// Under each other.
    pub bars: Vec<Bar>,
    /// On the line's middle.
    pub dots: Vec<RowDot>,
    /// Written after what is drawn.
    pub text: String,
}

/// The lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    pub axis: Axis,
    pub rows: Vec<Row>,
    /// From top to bottom through all lines, with what it is.
    pub levels: Vec<(Tone, f64, String)>,
    /// A line from row to row, such as sums so far.
    pub run: Vec<f64>,
}

impl Row {
    fn thick(&self) -> f64 {
        (self.bars.len().max(1)) as f64 * THICK
    }
}

impl Rows {
    pub(super) fn drawn(&self, sheet: Sheet, title: &str, says: &str) -> String {
        let widest = self.rows.iter().map(|row| room(&row.label)).fold(0.0, f64::max);
        let beside = sheet != NARROW;
        let left = if beside { (widest + 12.0).min(sheet.width * BESIDE) } else { 4.0 };
        let text = self.rows.iter().map(|row| room(&row.text)).fold(0.0, f64::max);
        let after = if text > 0.0 { text + 12.0 } else { 16.0 };
        let lanes: f64 = self.rows.iter().map(|row| row.thick() + GAP).sum();
        let heads = if beside { 0.0 } else { self.rows.len() as f64 * (LETTER + 4.0) };
        let noted =
            if self.levels.iter().any(|(_, _, label)| !label.is_empty()) { LETTER } else { 0.0 };
        let list = List {
            rows: self,
            left,
            right: sheet.width - after.max(16.0),
            top: TOP + noted,
            bottom: TOP + noted + lanes + heads,
            beside,
            width: sheet.width,
        };
        let height = list.bottom + BOTTOM;
        drawing(sheet.class, (sheet.width, height), (title, says), &list.body())
    }
}

/// The lines on a sheet of some size.
struct List<'a> {
    rows: &'a Rows,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    beside: bool,
    width: f64,
}

impl List<'_> {
    fn x(&self, value: f64) -> Option<f64> {
        Some((self.right - self.left).mul_add(self.rows.axis.part(value)?, self.left))
    }

    fn body(&self) -> String {
        let mut body = self.axis();
        let mut y = self.top;
        let mut run = Vec::new();
        for (at, row) in self.rows.rows.iter().enumerate() {
            if self.beside {
                let label = cut(&row.label, self.left - 12.0);
                let base = (self.left - 8.0, y + row.thick() / 2.0 + LETTER / 3.0);
                body.push_str(&words("label", base, Anchor::End, &label));
            } else {
                let label = cut(&row.label, self.width - 8.0);
                body.push_str(&words("label", (self.left, y + LETTER), Anchor::Start, &label));
                y += LETTER + 4.0;
            }
            body.push_str(&self.row(row, y));
            let middle = y + row.thick() / 2.0;
            run.push(self.rows.run.get(at).and_then(|value| Some((self.x(*value)?, middle))));
            y += row.thick() + GAP;
        }
        body.push_str(&svg::stroke("line series c", &svg::path(&run, false)));
        for at in run.iter().flatten() {
            body.push_str(&mark(Shape::Ring, Tone::C, *at, ""));
        }
        body + &self.levels()
    }

    fn axis(&self) -> String {
        let mut body = String::new();
        let mut free = f64::NEG_INFINITY;
        for (value, label) in self.rows.axis.ticks(if self.beside { 6 } else { 4 }) {
            let Some(x) = self.x(value) else { continue };
            body.push_str(&svg::line("grid", (x, self.top), (x, self.bottom)));
            let half = room(&label) / 2.0;
            let middle = x.clamp(half, (self.width - half).max(half));
            if middle - half >= free {
                let under = (middle, self.bottom + 3.0 + LETTER);
                body.push_str(&words("tick", under, Anchor::Middle, &label));
                free = middle + half + 4.0;
            }
        }
        if let Some(zero) = self.x(0.0) {
            body.push_str(&svg::line("axis", (zero, self.top), (zero, self.bottom)));
        }
        let label = cut(&self.rows.axis.label, self.width);
        let right = if self.beside { self.right } else { self.width - 4.0 };
        let under = (right.max(room(&label)).min(self.width), self.bottom + 8.0 + LETTER * 2.2);
        body + &words("axis-label", under, Anchor::End, &label)
    }

    fn row(&self, row: &Row, top: f64) -> String {
        let mut body = String::new();
        let mut furthest = self.x(0.0).unwrap_or(self.left);
        for (at, one) in row.bars.iter().enumerate() {
            let Some((from, to)) = self.x(one.from).zip(self.x(one.to)) else { continue };
            let y = top + at as f64 * THICK;
            body.push_str(&bar(one.tone, (from, to), (y + 1.0, THICK - 3.0), &one.said));
            furthest = furthest.max(from).max(to);
        }
        let middle = top + row.thick() / 2.0;
        for dot in &row.dots {
            let Some(x) = self.x(dot.at) else { continue };
            furthest = furthest.max(x + MARK);
            let ends = dot.spread.and_then(|(low, high)| Some((self.x(low)?, self.x(high)?)));
            if let Some((low, high)) = ends {
                let class = format!("spread {}", dot.tone.class());
                body.push_str(&svg::line(&class, (low, middle), (high, middle)));
                furthest = furthest.max(low).max(high);
            }
        }
        for dot in &row.dots {
            if let Some(x) = self.x(dot.at) {
                body.push_str(&mark(dot.shape, dot.tone, (x, middle), &dot.said));
            }
        }
        if !row.text.is_empty() {
            let after = (furthest + 8.0, middle + LETTER / 3.0);
            body.push_str(&words("value", after, Anchor::Start, &row.text));
        }
        body
    }

    fn levels(&self) -> String {
        let drawn = self.rows.levels.iter().filter_map(|(tone, at, label)| {
            let x = self.x(*at)?;
            let (beside, anchor) =
                if x + room(label) > self.width { (x, Anchor::End) } else { (x, Anchor::Start) };
            let class = format!("line {}", tone.class());
            Some(
                svg::line(&class, (x, self.top), (x, self.bottom))
                    + &words("note", (beside, self.top - 3.0), anchor, label),
            )
        });
        drawn.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Unit, WIDE};
    use super::*;

    fn rows(values: &[f64]) -> Rows {
        let row = |value: &f64| Row {
            label: "Brakes, a rather long name of a system of the vehicle".into(),
            bars: [Tone::A, Tone::B]
                .map(|tone| Bar { tone, from: 0.0, to: *value, said: "9 <of> 38".into() })
                .into(),
            dots: vec![RowDot {
                tone: Tone::Usual,
                shape: Shape::Upright,
                at: *value,
                said: String::new(),
                spread: Some((*value, f64::NAN)),
            }],
            text: "9".into(),
        };
        Rows {
            axis: Axis::over("Comebacks", Unit::Number, values.to_vec()),
            rows: values.iter().map(row).collect(),
            levels: vec![(Tone::Usual, 1.0, "usual".into()), (Tone::C, f64::NAN, String::new())],
            run: values.to_vec(),
        }
    }

    #[test]
    fn whatever_the_numbers_the_drawing_has_none_that_is_none() {
        let odd = [f64::NAN, f64::INFINITY, -1e300, 1e300, 0.0, 5e-324, 12.0];
        for values in [&[][..], &odd, &[3.0], &[0.0]] {
            for sheet in [WIDE, NARROW] {
                let drawn = rows(values).drawn(sheet, "t", "s");
                assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
            }
        }
    }

    #[test]
    fn labels_stand_beside_or_above_and_are_escaped() {
        let wide = rows(&[3.0, 4.0]).drawn(WIDE, "t", "s");
        assert!(wide.contains("Brakes, a rather long name of a\u{2026}"), "{wide}");
        assert!(wide.contains("<title>9 &lt;of&gt; 38</title>"));
        let narrow = rows(&[3.0, 4.0]).drawn(NARROW, "t", "s");
        assert!(narrow.contains("x=\"4\" y=\"34\" text-anchor=\"start\">Brakes"), "{narrow}");
    }
}
