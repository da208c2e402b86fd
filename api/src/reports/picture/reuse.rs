//! Clean or replace: where the two choices cost the same, and how sure the shares
//! are that this hangs on.

use analytics::reuse::{Advice, Basis, PartLine, ReuseReport, Side};

use super::MOST_LINES;
use crate::chart::{Axis, Dot, Key, Layer, Picture, Plot, Row, RowDot, Rows, Shape, Tone, Unit};
use crate::domain::percent::{percent, percents};
use crate::domain::style::Style;

/// Room beyond the last thing that is marked.
const ROOM: f64 = 1.15;

/// What either choice costs customer and shop together, by how many of the
/// cleaned ones come back: two lines that cross at the break-even. `None` where
/// the costs are not known, or may not be seen.
#[must_use]
pub fn break_even(advice: &Advice, style: &Style) -> Option<Picture> {
    let (costs, ledger, even) = (advice.costs?, advice.together?, advice.break_even_share?);
    let (low, high) = (advice.clean.interval.low, advice.clean.interval.high);
    let whole = 10_f64.powi(i32::try_from(style.money.decimals()).unwrap_or(2));
    let cleaned = |share: f64| share.mul_add(costs.return_minor, costs.clean_now_minor) / whole;
    let replaced = ledger.replace_minor / whole;
    let crossed = (0.0..=1.0).contains(&even);
    let marked = [high, advice.ceiling, if crossed { even } else { 0.0 }];
    let end = (marked.into_iter().fold(0.0, f64::max) * ROOM).min(1.0);
    let x = Axis::over("Cleaned ones that come back", Unit::Percent, [end]);
    let (_, end) = x.ends();
    let end = end.min(1.0);
    let y = Axis::over(
        &format!("Cost of one, {}", style.money.code()),
        Unit::Number,
        [cleaned(end), replaced],
    );
    let (floor, roof) = y.ends();
    let mut layers = vec![
        Layer::Band {
            tone: Tone::A,
            points: vec![(low, floor, roof), (high, floor, roof)],
            steps: false,
        },
        Layer::Line {
            tone: Tone::A,
            points: vec![(0.0, cleaned(0.0)), (end, cleaned(end))],
            steps: false,
        },
        Layer::Line { tone: Tone::B, points: vec![(0.0, replaced), (end, replaced)], steps: false },
        Layer::Upright { tone: Tone::Usual, at: advice.ceiling, label: "limit".to_owned() },
    ];
    layers.push(Layer::Dots { tone: Tone::A, dots: vec![best_estimate(&advice.clean, cleaned)] });
    if crossed {
        let said = format!("The same cost where {} come back", percent(even));
        let label = Some("same cost".to_owned());
        let dot = Dot { x: even, y: replaced, shape: Shape::Diamond, said, label, spread: None };
        layers.push(Layer::Dots { tone: Tone::Signal, dots: vec![dot] });
    }
    let plot = Plot { x, y, layers };
    Some(legend(
        Picture::plot("Where the two cost the same", said(advice, even), plot),
        advice,
        crossed,
    ))
}

fn best_estimate(clean: &Side, cost: impl Fn(f64) -> f64) -> Dot {
    let share = clean.return_share;
    Dot {
        x: share,
        y: cost(share),
        shape: shape(clean),
        said: format!("Cleaned ones, best estimate: {} come back", percent(share)),
        label: None,
        spread: None,
    }
}

/// Hollow where the record has too little of its own.
fn shape(side: &Side) -> Shape {
    if side.basis == Basis::Record { Shape::Disc } else { Shape::Ring }
}

/// What is to be seen, the break-even first.
fn said(advice: &Advice, even: f64) -> String {
    let clean = &advice.clean;
    let lies = format!(
        "Cleaned ones: best estimate {} ({}).",
        percent(clean.return_share),
        percents(clean.interval.low, clean.interval.high)
    );
    if even <= 0.0 {
        format!("Replacing costs customer and shop less even if no cleaned one came back. {lies}")
    } else if even >= 1.0 {
        format!("Cleaning costs customer and shop less even if every cleaned one came back. {lies}")
    } else {
        format!(
            "Up to {} coming back, cleaning costs customer and shop less; beyond that, replacing. \
             {lies}",
            percent(even)
        )
    }
}

fn legend(picture: Picture, advice: &Advice, crossed: bool) -> Picture {
    let estimate = match advice.clean.basis {
        Basis::Record => "best estimate, from the record",
        Basis::MostlyAssumption | Basis::Assumption => "best estimate, mostly an assumption",
    };
    let picture = picture
        .with(Key::Line(Tone::A), "cleaned and put back")
        .with(Key::Line(Tone::B), "replaced")
        .with(Key::Mark(shape(&advice.clean), Tone::A), estimate)
        .with(Key::Band(Tone::A), "where the share of cleaned ones lies, 95%")
        .with(Key::Line(Tone::Usual), format!("the shop's limit, {}", percent(advice.ceiling)));
    if crossed {
        picture.with(Key::Mark(Shape::Diamond, Tone::Signal), "same cost")
    } else {
        picture
    }
}

/// How many come back of either choice, with where that could lie: what may be
/// seen without costs.
#[must_use]
pub fn shares(advice: &Advice) -> Picture {
    let rows = vec![
        row("Cleaned and put back", [(&advice.clean, Tone::A)]),
        row("Replaced", [(&advice.replace, Tone::B)]),
    ];
    let says = format!(
        "Cleaned ones: {}. Replaced ones: {}.",
        estimate(&advice.clean),
        estimate(&advice.replace)
    );
    let bounds = [advice.clean.interval.high, advice.replace.interval.high, advice.ceiling];
    let rows = Rows {
        axis: Axis::over("Come back", Unit::Percent, bounds),
        rows,
        levels: vec![(Tone::Usual, advice.ceiling, "limit".to_owned())],
        run: Vec::new(),
    };
    keys(Picture::rows("How many come back", says, rows), advice.ceiling)
}

/// Parts that were cleaned and put back, each beside the new ones.
#[must_use]
pub fn parts(report: &ReuseReport) -> Option<Picture> {
    let tried: Vec<(&PartLine, &Advice)> = report
        .parts
        .iter()
        .filter_map(|line| Some((line, line.advice.as_ref()?)))
        .filter(|(_, advice)| advice.clean.cases > 0)
        .take(MOST_LINES)
        .collect();
    let ceiling = tried.first()?.1.ceiling;
    let rows = tried
        .iter()
        .map(|(line, advice)| {
            let held = advice.role.part_role();
            let label = format!("{}, {}", line.name, crate::web::words::Shown::shown(held));
            row(&label, [(&advice.clean, Tone::A), (&advice.replace, Tone::B)])
        })
        .collect();
    let over = tried.iter().filter(|(_, advice)| advice.clean.return_share > ceiling).count();
    let says = format!(
        "{over} of {} lie above the shop's limit of {} by their best estimate.",
        tried.len(),
        percent(ceiling)
    );
    let highs = tried
        .iter()
        .flat_map(|(_, advice)| [advice.clean.interval.high, advice.replace.interval.high]);
    let rows = Rows {
        axis: Axis::over("Come back", Unit::Percent, highs.chain([ceiling])),
        rows,
        levels: vec![(Tone::Usual, ceiling, "limit".to_owned())],
        run: Vec::new(),
    };
    Some(keys(Picture::rows("Cleaned parts and new ones", says, rows), ceiling))
}

fn keys(picture: Picture, ceiling: f64) -> Picture {
    picture
        .with(Key::Mark(Shape::Disc, Tone::A), "cleaned and put back")
        .with(Key::Mark(Shape::Diamond, Tone::B), "replaced")
        .with(Key::Mark(Shape::Ring, Tone::A), "hollow: under ten cases, mostly an assumption")
        .with(Key::Line(Tone::Usual), format!("the shop's limit, {}", percent(ceiling)))
}

fn row<const N: usize>(label: &str, sides: [(&Side, Tone); N]) -> Row {
    let dots = sides
        .iter()
        .map(|(side, tone)| RowDot {
            tone: *tone,
            shape: match (tone, side.basis) {
                (Tone::B, Basis::Record) => Shape::Diamond,
                (Tone::B, _) => Shape::HollowDiamond,
                (_, Basis::Record) => Shape::Disc,
                (_, _) => Shape::Ring,
            },
            at: side.return_share,
            said: format!("{label}, {}: {}", side.choice.as_str(), estimate(side)),
            spread: Some((side.interval.low, side.interval.high)),
        })
        .collect();
    let text = sides.first().map_or_else(String::new, |(side, _)| percent(side.return_share));
    Row { label: label.to_owned(), bars: Vec::new(), dots, text }
}

/// `24% (13-39%; 9 of 38)`.
fn estimate(side: &Side) -> String {
    format!(
        "{} ({}; {} of {})",
        percent(side.return_share),
        percents(side.interval.low, side.interval.high),
        side.returns,
        side.cases
    )
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::domain::money::Currency;
    use crate::reports::query::{Report, ReportName, ReportQuery, tests as cases};

    fn asked(access: Option<&str>, cost: Option<&str>) -> ReuseReport {
        let text = |value: Option<&str>| value.map(str::to_owned);
        let query = ReportQuery {
            part: Some("V-1".to_owned()),
            role: Some("suspect".to_owned()),
            access_minutes: text(access),
            part_cost: text(cost),
            ..ReportQuery::default()
        };
        let Report::Reuse(report) = cases::report(ReportName::Reuse, &query) else { panic!() };
        report
    }

    fn advice(access: Option<&str>, cost: Option<&str>) -> Advice {
        asked(access, cost).parts.first().unwrap().advice.clone().unwrap()
    }

    fn drawn(advice: &Advice) -> Option<String> {
        let money = Currency::parse("USD").unwrap();
        break_even(advice, &Style { money, ..Style::plain() }).map(|picture| picture.html())
    }

    #[test]
    fn the_crossing_is_marked_where_there_is_one() {
        let advice = advice(Some("60"), Some("90"));
        let even = advice.break_even_share.unwrap();
        assert!((0.0..1.0).contains(&even), "{even}");
        let html = drawn(&advice).unwrap();
        let said = format!("The same cost where {} come back", percent(even));
        assert!(html.contains(&said), "{said}: {html}");
        assert!(html.contains("cleaning costs customer and shop less; beyond that"), "{html}");
        assert!(html.contains("Cost of one, USD"), "{html}");
        assert!(!html.contains("NaN") && !html.contains("style="), "{html}");
    }

    #[test]
    fn a_part_that_costs_nothing_is_always_replaced() {
        let advice = advice(Some("60"), Some("0"));
        let html = drawn(&advice).unwrap();
        assert!(html.contains("less even if no cleaned one came back"), "{html}");
        assert!(!html.contains("The same cost"), "{html}");
    }

    #[test]
    fn without_costs_shares_are_drawn_and_no_money() {
        let mut advice = advice(Some("60"), Some("90"));
        advice.costs = None;
        assert!(drawn(&advice).is_none());
        let html = shares(&advice).html();
        assert!(html.contains("Cleaned ones: ") && html.contains("limit"), "{html}");
        assert!(!html.contains("USD") && !html.contains("cost"), "{html}");
    }

    #[test]
    fn parts_never_cleaned_are_in_no_picture() {
        let mut report = asked(None, None);
        assert!(parts(&report).unwrap().html().contains("suspect"));
        report.parts.iter_mut().filter_map(|line| line.advice.as_mut()).for_each(|advice| {
            advice.clean.cases = 0;
        });
        assert!(parts(&report).is_none());
    }
}
