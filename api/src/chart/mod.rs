//! Charts as SVG text. They are drawn here and not in the browser, so that they
//! stand without script, print as lines, and are the same on a page and in a file.
//!
//! A chart knows no trade word: it gets numbers, labels and classes. Colors are
//! the stylesheet's; what tells series apart besides color is drawn: dashes,
//! shapes of marks, ruled bars. Each is drawn twice, for a wide and for a narrow
//! page, so that letters are never smaller than they can be read.

mod axis;
mod figure;
mod plot;
mod rows;
mod svg;

pub use axis::{Axis, Unit, days};
pub use figure::{Key, Picture};
pub use plot::{Dot, Layer, Plot};
pub use rows::{Bar, Row, RowDot, Rows};
pub use svg::{Shape, Tone};

/// A size that a chart is drawn in.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sheet {
    pub width: f64,
    pub class: &'static str,
}

/// On a desk and on a tablet.
const WIDE: Sheet = Sheet { width: 760.0, class: "chart wide" };
/// On a phone: the letters keep their size, the lines come closer.
const NARROW: Sheet = Sheet { width: 344.0, class: "chart narrow" };
