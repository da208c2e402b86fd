//! The pieces that every chart is made of, as text.

/// Height of the letters, in the units of the drawing.
pub(super) const LETTER: f64 = 14.0;
/// A letter's width, on the wide side: what is measured by it always fits.
const LETTER_WIDTH: f64 = 8.2;
/// Half of a mark's width.
pub(super) const MARK: f64 = 5.0;
/// Between the rules of a ruled bar.
const RULED: f64 = 5.0;

/// Which series a piece belongs to; the stylesheet gives it a color, and lines
/// their dashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    A,
    B,
    C,
    /// What is usual, or was expected.
    Usual,
    /// What a limit leaves outside.
    Signal,
}

impl Tone {
    pub(super) const fn class(self) -> &'static str {
        match self {
            Self::A => "series a",
            Self::B => "series b",
            Self::C => "series c",
            Self::Usual => "series usual",
            Self::Signal => "series signal",
        }
    }
}

/// The shape of a mark. The hollow ones are for what is not known well.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    Disc,
    Ring,
    Diamond,
    HollowDiamond,
    Up,
    Down,
    Upright,
}

impl Shape {
    const fn is_hollow(self) -> bool {
        matches!(self, Self::Ring | Self::HollowDiamond)
    }
}

/// Text that cannot be read as markup.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            // XML has no place for these, not even escaped.
            letter if letter.is_control() => safe.push(' '),
            letter => safe.push(letter),
        }
    }
    safe
}

/// A place to a tenth, without idle zeros.
pub(super) fn place(at: f64) -> String {
    let tenths = (at * 10.0).round() / 10.0;
    // No minus before nothing.
    format!("{}", if tenths == 0.0 { 0.0 } else { tenths })
}

/// How much room a text takes.
pub(super) fn room(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER_WIDTH
}

/// The text, cut where it takes more room than there is.
pub(super) fn cut(text: &str, most: f64) -> String {
    let letters = (most / LETTER_WIDTH).floor().max(2.0) as usize;
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let kept: String = text.chars().take(letters.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// A path through the points; it begins anew where there is a gap.
pub(super) fn path(points: &[Option<(f64, f64)>], steps: bool) -> String {
    let mut text = String::new();
    let mut before: Option<(f64, f64)> = None;
    for point in points {
        if let Some((x, y)) = point {
            match before {
                None => text.push_str(&format!("M{} {}", place(*x), place(*y))),
                Some((_, level)) if steps && level != *y => {
                    text.push_str(&format!("H{}V{}", place(*x), place(*y)));
                }
                Some(_) if steps => text.push_str(&format!("H{}", place(*x))),
                Some(_) => text.push_str(&format!("L{} {}", place(*x), place(*y))),
            }
        }
        before = *point;
    }
    text
}

/// A line without a filling.
pub(super) fn stroke(class: &str, d: &str) -> String {
    if d.is_empty() {
        return String::new();
    }
    format!(r#"<path class="{class}" d="{d}" fill="none"/>"#)
}

pub(super) fn line(class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) -> String {
    stroke(class, &format!("M{} {}L{} {}", place(x1), place(y1), place(x2), place(y2)))
}

/// Where a text hangs from its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

pub(super) fn words(class: &str, (x, y): (f64, f64), anchor: Anchor, text: &str) -> String {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    if text.is_empty() {
        return String::new();
    }
    format!(
        r#"<text class="{class}" x="{}" y="{}" text-anchor="{anchor}">{}</text>"#,
        place(x),
        place(y),
        escape(text)
    )
}

/// A mark with what it says; `said` empty where it says nothing.
pub(super) fn mark(shape: Shape, tone: Tone, (x, y): (f64, f64), said: &str) -> String {
    let hollow = if shape.is_hollow() { " hollow" } else { "" };
    let (left, right, top, bottom) = (x - MARK, x + MARK, y - MARK, y + MARK);
    let at = |x: f64, y: f64| format!("{} {}", place(x), place(y));
    let closed = |points: &[(f64, f64)]| {
        let points: Vec<String> = points.iter().map(|(x, y)| at(*x, *y)).collect();
        format!("M{}Z", points.join("L"))
    };
    let d = match shape {
        Shape::Disc | Shape::Ring => {
            let r = place(MARK);
            format!(
                "M{}a{r} {r} 0 1 0 {} 0a{r} {r} 0 1 0 -{} 0Z",
                at(left, y),
                MARK * 2.0,
                MARK * 2.0
            )
        }
        Shape::Diamond | Shape::HollowDiamond => {
            closed(&[(x, top - 1.5), (right + 1.5, y), (x, bottom + 1.5), (left - 1.5, y)])
        }
        Shape::Up => closed(&[(x, top - 2.0), (right + 1.5, bottom), (left - 1.5, bottom)]),
        Shape::Down => closed(&[(left - 1.5, top), (right + 1.5, top), (x, bottom + 2.0)]),
        Shape::Upright => closed(&[
            (x - 1.5, top - 4.0),
            (x + 1.5, top - 4.0),
            (x + 1.5, bottom + 4.0),
            (x - 1.5, bottom + 4.0),
        ]),
    };
    told(&format!(r#"<path class="mark{hollow} {}" d="{d}""#, tone.class()), said)
}

/// A bar from one end to the other. Those of series B are ruled like a sheet, so
/// that they are told apart without color.
pub(super) fn bar(
    tone: Tone,
    (x1, x2): (f64, f64),
    (top, height): (f64, f64),
    said: &str,
) -> String {
    let (left, width) = (x1.min(x2), (x2 - x1).abs());
    let opening = format!(
        r#"<rect class="bar {}" x="{}" y="{}" width="{}" height="{}""#,
        tone.class(),
        place(left),
        place(top),
        place(width),
        place(height)
    );
    let mut text = told(&opening, said);
    if tone == Tone::B {
        let count = (width / RULED).floor().clamp(0.0, 400.0) as usize;
        let rules: String = (1..=count)
            .map(|rule| left + rule as f64 * RULED)
            .filter(|x| *x < left + width - 1.0)
            .map(|x| format!("M{} {}v{}", place(x), place(top), place(height)))
            .collect();
        text.push_str(&stroke("ruled series b", &rules));
    }
    text
}

/// An element with its title, which readers of single marks hear.
fn told(opening: &str, said: &str) -> String {
    if said.is_empty() {
        return format!("{opening}/>");
    }
    let name = opening.trim_start_matches('<').split(' ').next().unwrap_or("g");
    format!("{opening} data-said><title>{}</title></{name}>", escape(said))
}

/// The whole drawing.
pub(super) fn drawing(
    class: &str,
    (width, height): (f64, f64),
    (title, says): (&str, &str),
    body: &str,
) -> String {
    format!(
        r#"<svg class="{class}" viewBox="0 0 {} {}" role="img" font-size="{}"><title>{}</title><desc>{}</desc>{body}</svg>"#,
        place(width),
        place(height),
        place(LETTER),
        escape(title),
        escape(says)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_is_markup() {
        assert_eq!(escape("<b a='1'>&\"\u{0}"), "&lt;b a=&#39;1&#39;&gt;&amp;&quot; ");
        let drawn = words("label", (1.0, 2.0), Anchor::End, "</text><script>");
        assert_eq!(drawn.matches('<').count(), 2, "{drawn}");
    }

    #[test]
    fn places_are_short() {
        for (at, text) in [(0.04, "0"), (-0.04, "0"), (12.25, "12.3"), (100.0, "100")] {
            assert_eq!(place(at), text);
        }
    }

    #[test]
    fn a_gap_breaks_the_line() {
        let points = [Some((0.0, 1.0)), Some((2.0, 3.0)), None, Some((4.0, 5.0))];
        assert_eq!(path(&points, false), "M0 1L2 3M4 5");
        assert_eq!(path(&points, true), "M0 1H2V3M4 5");
        assert_eq!(stroke("line", &path(&[], true)), "");
    }

    #[test]
    fn long_texts_are_cut() {
        assert_eq!(cut("short", 100.0), "short");
        assert_eq!(cut("a long label of a line", 61.0), "a long\u{2026}");
        assert_eq!(cut("äöüäöü", 20.0), "ä\u{2026}");
    }

    #[test]
    fn series_b_is_ruled() {
        let drawn = bar(Tone::B, (10.0, 31.0), (0.0, 8.0), "");
        assert!(drawn.contains("M15 0v8M20 0v8M25 0v8\""), "{drawn}");
        assert!(!bar(Tone::A, (10.0, 31.0), (0.0, 8.0), "").contains("ruled"));
    }
}
