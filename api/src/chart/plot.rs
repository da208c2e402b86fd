//! Lines, steps, bands and marks between two axes.

use super::axis::Axis;
use super::svg::{self, Anchor, LETTER, MARK, Shape, Tone, drawing, place, room, words};
use super::{NARROW, Sheet};

const TOP: f64 = 28.0;
const BOTTOM: f64 = 46.0;
const RIGHT: f64 = 16.0;

/// A mark, and what it says.
#[derive(Debug, Clone, PartialEq)]
pub struct Dot {
    pub x: f64,
    pub y: f64,
    pub shape: Shape,
    /// For who points at it, or steps through the marks by key.
    pub said: String,
    /// Written beside it, where there is room.
    pub label: Option<String>,
    /// From where to where it could lie.
    pub spread: Option<(f64, f64)>,
}

/// Something between the axes; the first lies undermost.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    /// Between two bounds at each x.
    Band {
        tone: Tone,
        points: Vec<(f64, f64, f64)>,
        steps: bool,
    },
    Line {
        tone: Tone,
        points: Vec<(f64, f64)>,
        steps: bool,
    },
    /// Dashed; the outer ones of two finer.
    Limit {
        points: Vec<(f64, f64)>,
        steps: bool,
        outer: bool,
    },
    /// From side to side.
    Level {
        tone: Tone,
        at: f64,
        label: String,
    },
    /// From top to bottom.
    Upright {
        tone: Tone,
        at: f64,
        label: String,
    },
    Dots {
        tone: Tone,
        dots: Vec<Dot>,
    },
}

/// A drawing between two axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    pub x: Axis,
    pub y: Axis,
    pub layers: Vec<Layer>,
}

impl Plot {
    pub(super) fn drawn(&self, sheet: Sheet, title: &str, says: &str) -> String {
        let height = if sheet == NARROW { 260.0 } else { 320.0 };
        let ticks = self.y.ticks(if sheet == NARROW { 4 } else { 5 });
        let widest = ticks.iter().map(|(_, label)| room(label)).fold(0.0, f64::max);
        let frame = Frame {
            plot: self,
            left: widest + 10.0,
            right: sheet.width - RIGHT,
            top: TOP,
            bottom: height - BOTTOM,
        };
        let mut body = frame.axes(&ticks, sheet);
        let mut taken = Vec::new();
        for layer in &self.layers {
            body.push_str(&frame.layer(layer, &mut taken));
        }
        drawing(sheet.class, (sheet.width, height), (title, says), &body)
    }
}

/// The plot on a sheet of some size.
struct Frame<'a> {
    plot: &'a Plot,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

/// A written text: left, right, top, bottom.
type Taken = (f64, f64, f64, f64);

impl Frame<'_> {
    fn x(&self, value: f64) -> Option<f64> {
        Some((self.right - self.left).mul_add(self.plot.x.part(value)?, self.left))
    }

    fn y(&self, value: f64) -> Option<f64> {
        Some((self.top - self.bottom).mul_add(self.plot.y.part(value)?, self.bottom))
    }

    fn at(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        Some((self.x(x)?, self.y(y)?))
    }

    fn axes(&self, ticks: &[(f64, String)], sheet: Sheet) -> String {
        let mut body = words("axis-label", (0.0, LETTER), Anchor::Start, &self.plot.y.label);
        for (value, label) in ticks {
            let Some(y) = self.y(*value) else { continue };
            body.push_str(&svg::line("grid", (self.left, y), (self.right, y)));
            let beside = (self.left - 6.0, y + LETTER / 3.0);
            body.push_str(&words("tick", beside, Anchor::End, label));
        }
        body.push_str(&svg::line("axis", (self.left, self.bottom), (self.right, self.bottom)));
        let most = if sheet == NARROW { 4 } else { 8 };
        let mut free = f64::NEG_INFINITY;
        for (value, label) in self.plot.x.ticks(most) {
            let Some(x) = self.x(value) else { continue };
            let foot = (x, self.bottom + 5.0);
            body.push_str(&svg::line("axis", (x, self.bottom), foot));
            // Never past the edge of the sheet, never over the one before.
            let half = room(&label) / 2.0;
            let middle = x.min(sheet.width - half);
            if middle - half >= free {
                let under = (middle, self.bottom + 5.0 + LETTER);
                body.push_str(&words("tick", under, Anchor::Middle, &label));
                free = middle + half + 4.0;
            }
        }
        let label = svg::cut(&self.plot.x.label, sheet.width);
        let under = (self.right, self.bottom + 10.0 + LETTER * 2.2);
        body.push_str(&words("axis-label", under, Anchor::End, &label));
        body
    }

    fn layer(&self, layer: &Layer, taken: &mut Vec<Taken>) -> String {
        match layer {
            Layer::Band { tone, points, steps } => self.band(*tone, points, *steps),
            Layer::Line { tone, points, steps } => {
                svg::stroke(&format!("line {}", tone.class()), &self.path(points, *steps))
            }
            Layer::Limit { points, steps, outer } => {
                let class = if *outer { "limit outer" } else { "limit" };
                svg::stroke(class, &self.path(points, *steps))
            }
            Layer::Level { tone, at, label } => {
                let Some(y) = self.y(*at) else { return String::new() };
                let class = format!("line {}", tone.class());
                let above = if y - LETTER < self.top { y + LETTER } else { y - 5.0 };
                taken.push((self.right - room(label), self.right, above - LETTER, above + 3.0));
                svg::line(&class, (self.left, y), (self.right, y))
                    + &words("note", (self.right, above), Anchor::End, label)
            }
            Layer::Upright { tone, at, label } => {
                let Some(x) = self.x(*at) else { return String::new() };
                let class = format!("line {}", tone.class());
                let (beside, anchor) = if x + room(label) + 6.0 > self.right {
                    (x - 5.0, Anchor::End)
                } else {
                    (x + 5.0, Anchor::Start)
                };
                svg::line(&class, (x, self.top), (x, self.bottom))
                    + &words("note", (beside, self.top + LETTER), anchor, label)
            }
            Layer::Dots { tone, dots } => self.dots(*tone, dots, taken),
        }
    }

    fn path(&self, points: &[(f64, f64)], steps: bool) -> String {
        let placed: Vec<_> = points.iter().map(|(x, y)| self.at(*x, *y)).collect();
        svg::path(&placed, steps)
    }

    fn band(&self, tone: Tone, points: &[(f64, f64, f64)], steps: bool) -> String {
        let corners = |pick: fn(&(f64, f64, f64)) -> f64| {
            let mut corners: Vec<(f64, f64)> = Vec::new();
            let whole = points.iter().filter(|(_, low, high)| low.is_finite() && high.is_finite());
            for (x, y) in whole.filter_map(|point| self.at(point.0, pick(point))) {
                if let Some((_, before)) = corners.last().copied().filter(|_| steps) {
                    corners.push((x, before));
                }
                corners.push((x, y));
            }
            corners
        };
        let (upper, mut lower) = (corners(|point| point.2), corners(|point| point.1));
        if upper.len() < 2 {
            return String::new();
        }
        lower.reverse();
        let around: Vec<String> = upper
            .iter()
            .chain(&lower)
            .map(|(x, y)| format!("{} {}", place(*x), place(*y)))
            .collect();
        format!(r#"<path class="band {}" d="M{}Z"/>"#, tone.class(), around.join("L"))
    }

    fn dots(&self, tone: Tone, dots: &[Dot], taken: &mut Vec<Taken>) -> String {
        let placed: Vec<(&Dot, (f64, f64))> =
            dots.iter().filter_map(|dot| Some((dot, self.at(dot.x, dot.y)?))).collect();
        // A name never hides a mark.
        taken.extend(placed.iter().map(|(_, (x, y))| (x - MARK, x + MARK, y - MARK, y + MARK)));
        let mut body = String::new();
        for (dot, (x, _)) in &placed {
            let ends = dot.spread.and_then(|(low, high)| Some((self.y(low)?, self.y(high)?)));
            if let Some((low, high)) = ends {
                let class = format!("spread {}", tone.class());
                body.push_str(&svg::line(&class, (*x, low), (*x, high)));
            }
        }
        for (dot, at) in &placed {
            body.push_str(&svg::mark(dot.shape, tone, *at, &dot.said));
        }
        for (dot, at) in &placed {
            if let Some(label) = &dot.label {
                body.push_str(&self.name(label, *at, taken));
            }
        }
        body
    }

    /// A name beside its mark: on the side where nothing is written yet; nowhere,
    /// if there is none. What stands in the table as well may be left out.
    fn name(&self, label: &str, (x, y): (f64, f64), taken: &mut Vec<Taken>) -> String {
        let (wide, gap) = (room(label), MARK + 4.0);
        let sides = [
            (x + gap, y + LETTER / 3.0),
            (x - gap - wide, y + LETTER / 3.0),
            (x - wide / 2.0, y - gap),
            (x - wide / 2.0, y + gap + LETTER * 0.8),
        ];
        for (left, base) in sides {
            let (right, top, bottom) = (left + wide, base - LETTER, base + 3.0);
            let inside = left >= self.left && right <= self.right + RIGHT && bottom <= self.bottom;
            let free = taken
                .iter()
                .all(|(l, r, t, b)| right <= *l || left >= *r || bottom <= *t || top >= *b);
            if inside && free && top >= self.top - LETTER {
                taken.push((left, right, top, bottom));
                return words("name", (left, base), Anchor::Start, label);
            }
        }
        String::new()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Unit, WIDE};
    use super::*;

    fn dot(x: f64, y: f64) -> Dot {
        Dot { x, y, shape: Shape::Disc, said: "said".into(), label: None, spread: None }
    }

    fn plot(layers: Vec<Layer>, values: &[f64]) -> Plot {
        Plot {
            x: Axis::over("Days", Unit::Number, values.to_vec()),
            y: Axis::over("Came back", Unit::Percent, values.to_vec()),
            layers,
        }
    }

    #[test]
    fn whatever_the_numbers_the_drawing_has_none_that_is_none() {
        let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300, 0.0, -0.0, 5e-324];
        let points: Vec<(f64, f64)> =
            odd.iter().flat_map(|x| odd.iter().map(move |y| (*x, *y))).collect();
        let layers = || {
            vec![
                Layer::Band {
                    tone: Tone::A,
                    points: points.iter().map(|(x, y)| (*x, *y, *y)).collect(),
                    steps: true,
                },
                Layer::Line { tone: Tone::A, points: points.clone(), steps: false },
                Layer::Limit { points: points.clone(), steps: true, outer: true },
                Layer::Level { tone: Tone::Usual, at: f64::NAN, label: String::new() },
                Layer::Upright { tone: Tone::Usual, at: 1e300, label: "x".into() },
                Layer::Dots {
                    tone: Tone::B,
                    dots: points
                        .iter()
                        .map(|(x, y)| Dot {
                            label: Some("long name of a line".into()),
                            spread: Some((*y, *x)),
                            ..dot(*x, *y)
                        })
                        .collect(),
                },
            ]
        };
        for values in [&[][..], &odd, &[1.0]] {
            for sheet in [WIDE, NARROW] {
                let drawn = plot(layers(), values).drawn(sheet, "t", "s");
                assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
            }
        }
        assert!(plot(Vec::new(), &[]).drawn(WIDE, "t", "s").ends_with("</svg>"));
    }

    #[test]
    fn one_point_is_drawn() {
        let drawn =
            plot(vec![Layer::Dots { tone: Tone::A, dots: vec![dot(3.0, 0.5)] }], &[3.0, 0.5])
                .drawn(WIDE, "t", "s");
        assert_eq!(drawn.matches("<title>said</title>").count(), 1);
    }

    #[test]
    fn names_do_not_lie_over_each_other() {
        let dots =
            (0..9).map(|_| Dot { label: Some("Somebody".into()), ..dot(0.5, 0.5) }).collect();
        let drawn = plot(vec![Layer::Dots { tone: Tone::A, dots }], &[1.0]).drawn(NARROW, "t", "s");
        assert!((1..=4).contains(&drawn.matches("class=\"name\"").count()), "{drawn}");
    }

    #[test]
    fn a_small_plot_as_it_stands() {
        let layers = vec![
            Layer::Line { tone: Tone::A, points: vec![(0.0, 0.0), (10.0, 0.5)], steps: true },
            Layer::Level { tone: Tone::Usual, at: 0.5, label: "usual".into() },
        ];
        let drawn = Plot {
            x: Axis::over("Days", Unit::Number, [10.0]),
            y: Axis::over("Share", Unit::Percent, [0.5]),
            layers,
        }
        .drawn(NARROW, "A <title>", "What it says");
        assert!(drawn.starts_with(
            "<svg class=\"chart narrow\" viewBox=\"0 0 344 260\" role=\"img\" font-size=\"14\">\
             <title>A &lt;title&gt;</title><desc>What it says</desc>"
        ));
        assert!(
            drawn.contains("<path class=\"line series a\" d=\"M34.6 214H328V28\" fill=\"none\"/>"),
            "{drawn}"
        );
        assert!(!drawn.contains("style"));
    }
}
