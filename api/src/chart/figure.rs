//! A chart as a figure of a page: its caption, its legend, its drawings.

use super::plot::Plot;
use super::rows::Rows;
use super::svg::{self, Shape, Tone, bar, escape, mark};
use super::{NARROW, WIDE};

/// What a legend shows before its words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    Line(Tone),
    Limit { outer: bool },
    Band(Tone),
    Mark(Shape, Tone),
    Bar(Tone),
}

/// One line of a legend.
type Legend = (Key, String);

/// The drawing of a picture.
#[derive(Debug, Clone, PartialEq)]
enum Drawn {
    Plot(Plot),
    Rows(Rows),
}

/// A chart with its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// What it shows.
    title: String,
    /// What is to be seen on it, in a sentence or two.
    says: String,
    legend: Vec<Legend>,
    drawn: Drawn,
}

impl Picture {
    #[must_use]
    pub fn plot(title: impl Into<String>, says: impl Into<String>, plot: Plot) -> Self {
        let (title, says) = (title.into(), says.into());
        Self { title, says, legend: Vec::new(), drawn: Drawn::Plot(plot) }
    }

    #[must_use]
    pub fn rows(title: impl Into<String>, says: impl Into<String>, rows: Rows) -> Self {
        let (title, says) = (title.into(), says.into());
        Self { title, says, legend: Vec::new(), drawn: Drawn::Rows(rows) }
    }

    /// With one more line of its legend.
    #[must_use]
    pub fn with(mut self, key: Key, words: impl Into<String>) -> Self {
        self.legend.push((key, words.into()));
        self
    }

    /// The figure as it stands on a page. Both drawings say the same; the
    /// stylesheet shows the one that fits, and readers hear only that one.
    #[must_use]
    pub fn html(&self) -> String {
        let drawn = [WIDE, NARROW].map(|sheet| match &self.drawn {
            Drawn::Plot(plot) => plot.drawn(sheet, &self.title, &self.says),
            Drawn::Rows(rows) => rows.drawn(sheet, &self.title, &self.says),
        });
        let legend: String = self
            .legend
            .iter()
            .map(|(key, words)| format!("<li>{}{}</li>", sample(*key), escape(words)))
            .collect();
        let legend = if legend.is_empty() {
            String::new()
        } else {
            format!(r#"<ul class="legend">{legend}</ul>"#)
        };
        format!(
            r#"<figure class="picture"><figcaption><b>{}</b> {}</figcaption>{legend}<div class="plot" data-points>{}</div><p class="readout" role="status"></p></figure>"#,
            escape(&self.title),
            escape(&self.says),
            drawn.concat()
        )
    }
}

/// A piece of what the words speak of.
fn sample(key: Key) -> String {
    let across = ((1.0, 8.0), (31.0, 8.0));
    let drawn = match key {
        Key::Line(tone) => svg::line(&format!("line {}", tone.class()), across.0, across.1),
        Key::Limit { outer } => {
            svg::line(if outer { "limit outer" } else { "limit" }, across.0, across.1)
        }
        Key::Band(tone) => {
            format!(r#"<rect class="band {}" x="1" y="1" width="30" height="14"/>"#, tone.class())
        }
        Key::Mark(shape, tone) => mark(shape, tone, (16.0, 8.0), ""),
        Key::Bar(tone) => bar(tone, (1.0, 31.0), (2.0, 12.0), ""),
    };
    format!(
        r#"<svg class="key" viewBox="0 0 32 16" aria-hidden="true" focusable="false">{drawn}</svg>"#
    )
}

#[cfg(test)]
mod tests {
    use super::super::{Axis, Unit};
    use super::*;

    #[test]
    fn a_figure_has_both_drawings_and_its_words() {
        let plot = Plot {
            x: Axis::over("Days", Unit::Number, [60.0]),
            y: Axis::over("Share", Unit::Percent, [0.1]),
            layers: Vec::new(),
        };
        let html = Picture::plot("Came <back>", "5 % by day 60.", plot)
            .with(Key::Line(Tone::A), "all & more")
            .html();
        assert_eq!(html.matches("role=\"img\"").count(), 2);
        assert!(html.contains("<figcaption><b>Came &lt;back&gt;</b> 5 % by day 60.</figcaption>"));
        assert!(html.contains("</svg>all &amp; more</li>"));
        // The policy of the pages forbids these.
        for word in ["style=", "<script", "onclick", " id="] {
            assert!(!html.contains(word), "{word}");
        }
    }
}
