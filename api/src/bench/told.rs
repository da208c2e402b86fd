//! What would change an answer, in sentences.

use analytics::reuse::{Lever, Turning, Verdict};

use crate::domain::percent::percent;
use crate::domain::style::Style;
use crate::web::words::duration;

/// One lever: what it is now, and where the answer becomes another one.
pub struct ToldTurning {
    pub lever: &'static str,
    pub now: String,
    pub said: String,
}

const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CleanAndReuse => "clean and put back",
        Verdict::Undecided => "undecided",
        Verdict::Replace => "replace",
    }
}

fn value(lever: Lever, value: f64, style: &Style) -> String {
    match lever {
        Lever::AccessMinutes => duration(value.round() as i64),
        Lever::PartCost | Lever::ReturnExtra => style.amount(value.round() as i64),
        Lever::ReturnShare => percent(value),
    }
}

/// The lever in sentences.
#[must_use]
pub fn told(turning: &Turning, style: &Style) -> ToldTurning {
    let lever = turning.lever;
    let at = |number: f64| value(lever, number, style);
    let level = turning
        .level_at
        .map(|level| format!(" Both cost the same on average at {}.", at(level)))
        .unwrap_or_default();
    ToldTurning {
        lever: match lever {
            Lever::AccessMinutes => "Time to get at it and close up",
            Lever::PartCost => "Price of the part",
            Lever::ReturnExtra => "What else a return costs",
            Lever::ReturnShare => "Cleaned ones that come back",
        },
        now: at(turning.now),
        said: format!("{}{level}", spans(turning, at)),
    }
}

/// Which answer stands between which values.
fn spans(turning: &Turning, at: impl Fn(f64) -> String) -> String {
    let Some((first, last)) = turning.turns.first().zip(turning.turns.last()) else {
        return "No value changes the answer.".to_owned();
    };
    let between = turning.turns.windows(2).filter_map(|pair| match pair {
        [from, to] => {
            Some(format!("{} from {} to {}", verdict(from.above), at(from.at), at(to.at)))
        }
        _ => None,
    });
    let spans: Vec<String> = [format!("{} below {}", verdict(first.below), at(first.at))]
        .into_iter()
        .chain(between)
        .chain([format!("{} above {}", verdict(last.above), at(last.at))])
        .collect();
    let mut said = spans.join(", ");
    if let Some(letter) = said.get_mut(0..1) {
        letter.make_ascii_uppercase();
    }
    said + "."
}

#[cfg(test)]
mod tests {
    use analytics::reuse::Turn;

    use super::*;

    #[test]
    fn spans_read_from_the_lowest_up() {
        let turn = |at, below, above| Turn { at, below, above };
        let turnings = Turning {
            lever: Lever::AccessMinutes,
            now: 90.0,
            level_at: Some(75.0),
            turns: vec![
                turn(40.0, Verdict::CleanAndReuse, Verdict::Undecided),
                turn(120.0, Verdict::Undecided, Verdict::Replace),
            ],
        };
        let one = told(&turnings, &Style::plain());
        assert_eq!(one.now, "1 h 30 min");
        assert_eq!(
            one.said,
            "Clean and put back below 40 min, undecided from 40 min to 2 h, replace above 2 h. \
             Both cost the same on average at 1 h 15 min."
        );
        let none = Turning { turns: Vec::new(), level_at: None, ..turnings };
        assert_eq!(told(&none, &Style::plain()).said, "No value changes the answer.");
    }
}
