//! The cut-off in words.

use super::estimate::{HandOverLine, Looked};
use crate::bench::text::{shown, somewhere};
use crate::bench::{Better, Kind, NoCutOff};

/// The answer, or why there is none, and what the record says of the direction.
pub(super) fn sentence(line: &HandOverLine, looked: &Looked) -> String {
    let answer = answer(line, looked.better);
    let Some(record) = line.record_points_to else {
        return answer;
    };
    let worse = match record {
        Better::Higher => "lower",
        Better::Lower => "higher",
    };
    let found = format!(
        "vehicles that left with {worse} readings came back more often, beyond what luck explains"
    );
    match (looked.stated, record == looked.better) {
        (false, _) => format!("{answer} In the record, {found}."),
        (true, false) => format!(
            "Against the record: {} is said to be better, but {found}. Check the direction first. \
             {answer}",
            looked.better.as_str()
        ),
        (true, true) => answer,
    }
}

fn answer(line: &HandOverLine, better: Better) -> String {
    let cut_off = match (&line.cut_off, line.no_cut_off) {
        (Some(cut_off), _) => cut_off,
        (None, Some(why)) => return format!("No limit: {}.", reason(line, why)),
        (None, None) => return String::new(),
    };
    let unit = line
        .unit
        .as_deref()
        .filter(|unit| *unit != "1")
        .map_or_else(String::new, |unit| format!(" {unit}"));
    let at = format!("{}{unit}", shown(cut_off.reading));
    let bad = match better {
        Better::Higher => "below",
        Better::Lower => "above",
    };
    match cut_off.kind {
        Kind::Between => {
            let range = somewhere(cut_off.interval.as_ref(), &unit);
            format!("Hold back {bad} {at}{range}.")
        }
        // Nothing is held back here: a range of limits would say otherwise.
        Kind::WorstSeen => format!(
            "Let go whatever was let go so far; {bad} {at} no vehicle left, and nothing is known."
        ),
        Kind::BestSeen => {
            format!("Holding back pays at every reading, up to {at}, the best that left.")
        }
    }
}

fn reason(line: &HandOverLine, why: NoCutOff) -> String {
    match why {
        NoCutOff::TooFew => format!(
            "{} came back and {} stayed away, and ten of each are needed",
            line.returned.returns,
            line.returned.count - line.returned.returns
        ),
        NoCutOff::DirectionNotStated => {
            "say first whether a higher or a lower reading is the better one".to_owned()
        }
        NoCutOff::CostsUnknown => {
            "say first how many minutes holding one vehicle back takes".to_owned()
        }
        NoCutOff::ReplacingCostsNoMore => {
            "holding back costs nothing, so no reading is too good for it".to_owned()
        }
        NoCutOff::ReplacingCostsTooMuch => {
            "a return costs the shop nothing by its settings".to_owned()
        }
        NoCutOff::ProposalsWaiting => format!(
            "{} proposed returns wait for a decision that would move it",
            line.proposals_waiting
        ),
    }
}
