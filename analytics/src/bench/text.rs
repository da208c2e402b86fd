//! The cut-off in words.

use super::Better;
use super::estimate::{BenchPart, Kind, Looked, NoCutOff};
use crate::figure::Interval;

/// The answer, or why there is none, and what the record says of the direction.
pub(super) fn sentence(line: &BenchPart, looked: &Looked) -> String {
    let answer = answer(line, looked.better);
    let Some(record) = line.record_points_to else {
        return answer;
    };
    let worse = match record {
        Better::Higher => "lower",
        Better::Lower => "higher",
    };
    let found = format!("{worse} readings came back more often, beyond what luck explains");
    match (looked.stated, record == looked.better) {
        (false, _) => {
            format!(
                "{answer} The record points to {} readings as the better ones: {found}.",
                record.as_str()
            )
        }
        (true, false) => format!(
            "Against the record: {} is said to be better, but {found}. Check the direction first. \
             {answer}",
            looked.better.as_str()
        ),
        (true, true) => answer,
    }
}

fn answer(line: &BenchPart, better: Better) -> String {
    let cut_off = match (&line.cut_off, line.no_cut_off) {
        (Some(cut_off), _) => cut_off,
        (None, Some(why)) => return format!("No cut-off: {}.", reason(line, why)),
        (None, None) => return String::new(),
    };
    let unit = line.unit.as_ref().map_or_else(String::new, |unit| format!(" {unit}"));
    let at = format!("{}{unit}", shown(cut_off.reading));
    let (good, bad) = match better {
        Better::Higher => ("up", "below"),
        Better::Lower => ("down", "above"),
    };
    match cut_off.kind {
        Kind::Between => {
            let range = somewhere(cut_off.interval.as_ref(), &unit);
            format!("Put back from {at} {good}, replace {bad} it{range}.")
        }
        // Nothing is cut off here: a range of limits would say otherwise.
        Kind::WorstSeen => {
            format!("Put back whatever was put back so far; {bad} {at} nothing was tried.")
        }
        Kind::BestSeen => {
            format!("Replace: not even {at}, the best that was put back, was worth it.")
        }
    }
}

/// Between what the limit lies, behind it.
pub(crate) fn somewhere(interval: Option<&Interval>, unit: &str) -> String {
    interval.map_or_else(String::new, |range| {
        format!(
            " (the limit lies somewhere from {} to {}{unit})",
            shown(range.low),
            shown(range.high)
        )
    })
}

fn reason(line: &BenchPart, why: NoCutOff) -> String {
    match why {
        NoCutOff::TooFew => format!(
            "{} came back and {} held, and ten of each are needed",
            line.returned.returns,
            line.returned.count - line.returned.returns
        ),
        NoCutOff::DirectionNotStated => {
            "say first whether a higher or a lower reading is the better one".to_owned()
        }
        NoCutOff::CostsUnknown if line.missing.is_empty() => "a return costs nothing".to_owned(),
        NoCutOff::CostsUnknown => {
            let missing: Vec<&str> = line
                .missing
                .iter()
                .map(|name| match *name {
                    "access_minutes" => "the minutes to get at the part",
                    "part_cost" => "the part's cost",
                    other => other,
                })
                .collect();
            format!("{} not known yet", missing.join(" and "))
        }
        NoCutOff::ReplacingCostsNoMore => {
            "replacing costs no more than putting back, whatever it reads".to_owned()
        }
        NoCutOff::ReplacingCostsTooMuch => {
            "replacing costs more than a return would, whatever it reads".to_owned()
        }
        NoCutOff::ProposalsWaiting => format!(
            "{} proposed returns wait for a decision that would move it",
            line.proposals_waiting
        ),
    }
}

/// A reading to six figures, without zeros at its end.
pub(crate) fn shown(reading: f64) -> String {
    let size = reading.abs().log10().floor();
    if reading != 0.0 && !(-6.0..6.0).contains(&size) {
        return format!("{reading:e}");
    }
    let decimals = if reading == 0.0 { 0 } else { (5.0 - size) as usize };
    let text = format!("{reading:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_shown_short() {
        for (reading, text) in [
            (12.350_000_000_000_001, "12.35"),
            (0.0, "0"),
            (-3.5, "-3.5"),
            (1200.0, "1200"),
            (0.001_5, "0.0015"),
            (2e9, "2e9"),
            (1.25e-9, "1.25e-9"),
        ] {
            assert_eq!(shown(reading), text);
        }
    }
}
