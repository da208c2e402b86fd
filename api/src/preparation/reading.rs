//! Whether a reading can be kept, and what is kept of it.

use analytics::preparation::{Degrees, Kind, Line, State, Temperature};
use serde::Deserialize;

use crate::domain::refusal::FieldFault;
use crate::domain::text;

/// Further than any instrument reads.
const MOST: f64 = 1e9;
/// Colder and warmer nothing is read (Celsius).
const COLDEST: f64 = -90.0;
const HOTTEST: f64 = 300.0;

/// A reading of one line as it was taken.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReading {
    /// Key of the list's line.
    pub line: String,
    /// `measured` where absent; `not_applicable`: the vehicle has no such thing;
    /// `not_measured`: it has, and nobody read it. Both need a reason.
    pub state: Option<String>,
    /// Of a line with one number.
    pub value: Option<f64>,
    /// Of a line of cells, from the first to the last.
    pub values: Option<Vec<f64>>,
    /// Of a line that is answered yes or no.
    pub yes: Option<bool>,
    /// Of a line that takes words; beside a reading, a remark.
    pub words: Option<String>,
    /// Where the line is corrected by temperature.
    pub temperature: Option<f64>,
    /// `Cel` or `[degF]` (UCUM).
    pub temperature_unit: Option<String>,
    pub reason: Option<String>,
}

/// What is kept of one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    pub place: Option<u32>,
    pub state: State,
    pub value: Option<f64>,
    pub temperature: Option<Temperature>,
    pub words: Option<String>,
    pub reason: Option<String>,
}

/// Decides what is kept, a row for each place.
///
/// # Errors
/// What is wrong, field by field.
pub fn decide(line: &Line, new: &NewReading) -> Result<Vec<Kept>, Vec<FieldFault>> {
    let mut faults = Vec::new();
    let mut take = |name: &str, value: Option<&str>, most: usize| {
        text::optional(name, value, most).unwrap_or_else(|fault| {
            faults.push(fault);
            None
        })
    };
    let words = take("words", new.words.as_deref(), 400);
    let reason = take("reason", new.reason.as_deref(), 1000);
    let state = match new.state.as_deref() {
        None => Some(State::Measured),
        Some(word) => State::parse(word),
    };
    let Some(state) = state else {
        let detail = "choose one of: measured, not_applicable, not_measured";
        faults.push(FieldFault::new("state", "word", detail));
        return Err(faults);
    };
    if state == State::NotApplicable && line.always {
        let detail = "every vehicle has it: read it, or say that it was not measured";
        faults.push(FieldFault::new("state", "kind", detail));
    }
    if state != State::Measured {
        if reason.is_none() && faults.is_empty() {
            faults.push(FieldFault::new("reason", "required", "say why there is no reading"));
        }
        let none = Kept { place: None, state, value: None, temperature: None, words, reason };
        return if faults.is_empty() { Ok(vec![none]) } else { Err(faults) };
    }
    let values = values(line, new, words.as_deref(), &mut faults);
    let temperature = temperature(line, new, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    let cells = line.kind == Kind::Cells;
    let kept = |(at, value)| Kept {
        place: if cells { Some(at) } else { None },
        state,
        value,
        temperature,
        words: words.clone(),
        reason: reason.clone(),
    };
    Ok((1..).zip(values).map(kept).collect())
}

/// The numbers of the line, one a place; `None` where words alone are kept.
fn values(
    line: &Line,
    new: &NewReading,
    words: Option<&str>,
    faults: &mut Vec<FieldFault>,
) -> Vec<Option<f64>> {
    let sent = [
        ("value", new.value.is_some(), line.kind == Kind::Number),
        ("values", new.values.is_some(), line.kind == Kind::Cells),
        ("yes", new.yes.is_some(), line.kind == Kind::YesNo),
        ("words", words.is_some(), line.kind == Kind::Words),
    ];
    for (name, is_sent, fits) in sent {
        if fits && !is_sent {
            faults.push(FieldFault::new(name, "required", "write the reading"));
        }
        // A remark stands beside any reading.
        if !fits && is_sent && name != "words" {
            faults.push(FieldFault::new(name, "kind", "this line is read in another way"));
        }
    }
    let mut number = |field: &str, value: f64| {
        if !(value.is_finite() && value.abs() <= MOST) {
            faults.push(FieldFault::new(field, "range", "write a number such as 12.6"));
        } else if !line.is_plausible(value) {
            faults.push(FieldFault::new(field, "implausible", asked(line, value)));
        }
        Some(value)
    };
    match line.kind {
        Kind::Number => new.value.map(|value| number("value", value)).into_iter().collect(),
        Kind::Cells => {
            let cells: Vec<Option<f64>> = new
                .values
                .iter()
                .flatten()
                .enumerate()
                .map(|(at, value)| number(&format!("values/{at}"), *value))
                .collect();
            let wanted = usize::try_from(line.places()).unwrap_or(0);
            if new.values.is_some() && cells.len() != wanted {
                let detail = format!("write {wanted} numbers, one for each");
                faults.push(FieldFault::new("values", "range", detail));
            }
            cells
        }
        Kind::YesNo => vec![new.yes.map(|yes| if yes { 1.0 } else { 0.0 })],
        Kind::Words => vec![None],
    }
}

/// The question about a number that no such thing reads.
fn asked(line: &Line, value: f64) -> String {
    let span = match (line.plausible_least, line.plausible_most) {
        (Some(least), Some(most)) => format!("a number from {least} to {most}"),
        (Some(least), None) => format!("a number of at least {least}"),
        (None, Some(most)) => format!("a number of at most {most}"),
        (None, None) => "a number".to_owned(),
    };
    let whole = if line.whole { " without decimals" } else { "" };
    match meant(line, value) {
        Some(meant) => format!("{meant}? Write {span}{whole}"),
        None => format!("is it {value}? Write {span}{whole}"),
    }
}

/// What was meant, where a point or a minus was left out, with every digit that
/// was written.
fn meant(line: &Line, value: f64) -> Option<String> {
    let written = value.to_string();
    let decimals = written.split_once('.').map_or(0, |(_, after)| after.len());
    let shifted = [10.0, 100.0, 1000.0, 10_000.0].into_iter().zip(1..).find_map(|(scale, more)| {
        let less = value / scale;
        let decimals = decimals + more;
        line.is_plausible(less).then(|| format!("{less:.decimals$}"))
    });
    let turned = line.is_plausible(-value).then(|| (-value).to_string());
    turned.or(shifted.filter(|_| value > 0.0 && !line.whole))
}

fn temperature(line: &Line, new: &NewReading, faults: &mut Vec<FieldFault>) -> Option<Temperature> {
    let correction = line.correction.as_ref();
    let Some(value) = new.temperature else {
        if correction.is_some() {
            let detail = "write the temperature at which it was read";
            faults.push(FieldFault::new("temperature", "required", detail));
        }
        return None;
    };
    let unit = match new.temperature_unit.as_deref() {
        Some(code) => Degrees::parse(code),
        None => correction.map(|correction| correction.unit),
    };
    let Some(unit) = unit else {
        faults.push(FieldFault::new("temperature_unit", "word", "choose Cel or [degF]"));
        return None;
    };
    let at = Temperature { value, unit };
    if !(COLDEST..=HOTTEST).contains(&at.in_degrees(Degrees::Celsius)) {
        faults.push(FieldFault::new("temperature", "range", "write a temperature such as 60"));
        return None;
    }
    Some(at)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::super::starting::Purpose;
    use super::*;

    fn line(key: &str) -> &'static Line {
        Purpose::Preparation.lines().iter().find(|line| line.key == key).unwrap()
    }

    fn wrong(key: &str, new: NewReading) -> Vec<String> {
        let faults = decide(line(key), &new).unwrap_err();
        faults.into_iter().map(|fault| fault.pointer).collect()
    }

    #[test]
    fn cells_are_kept_one_by_one_with_their_temperature() {
        let new = NewReading {
            values: Some(vec![1.276, 1.272, 1.274, 1.246, 1.275, 1.273]),
            temperature: Some(60.0),
            ..NewReading::default()
        };
        let kept = decide(line("battery.gravity"), &new).unwrap();
        assert_eq!(kept.len(), 6);
        let fourth = kept.get(3).unwrap();
        assert_eq!((fourth.place, fourth.value), (Some(4), Some(1.246)));
        let at = Temperature { value: 60.0, unit: Degrees::Fahrenheit };
        assert!(kept.iter().all(|row| row.temperature == Some(at)));
        let cold = NewReading { temperature: None, ..new.clone() };
        assert_eq!(wrong("battery.gravity", cold), ["/temperature"]);
        let five = NewReading { values: Some(vec![1.27; 5]), ..new.clone() };
        assert_eq!(wrong("battery.gravity", five), ["/values"]);
        let odd = NewReading { values: Some(vec![f64::NAN; 6]), ..new.clone() };
        assert_eq!(wrong("battery.gravity", odd).len(), 6);
        let kelvin = NewReading { temperature_unit: Some("K".to_owned()), ..new };
        assert_eq!(wrong("battery.gravity", kelvin), ["/temperature_unit"]);
    }

    #[test]
    fn each_kind_takes_its_own() {
        let yes = NewReading { yes: Some(false), ..NewReading::default() };
        let kept = decide(line("lamps"), &yes).unwrap();
        assert_eq!(kept.first().unwrap().value, Some(0.0));
        assert_eq!(wrong("battery.resting-voltage", yes), ["/value", "/yes"]);
        let volts = NewReading {
            value: Some(12.6),
            words: Some("after a night".to_owned()),
            ..NewReading::default()
        };
        let kept = decide(line("battery.resting-voltage"), &volts).unwrap();
        assert_eq!(kept.first().unwrap().words.as_deref(), Some("after a night"));
        assert_eq!(wrong("lamps", NewReading::default()), ["/yes"]);
    }

    #[test]
    fn a_slip_of_the_pen_is_asked_about() {
        let told = |key: &str, new: NewReading| -> Vec<(String, String)> {
            let faults = decide(line(key), &new).unwrap_err();
            faults.into_iter().map(|fault| (fault.pointer, fault.detail)).collect()
        };
        let of = |value| NewReading { value: Some(value), ..NewReading::default() };
        let cells = |values: [f64; 6]| NewReading {
            values: Some(values.to_vec()),
            temperature: Some(80.0),
            ..NewReading::default()
        };
        let slip = told("battery.gravity", cells([1.25, 1.25, 1250.0, 1.25, 1.25, 1.25]));
        let question = "1.250? Write a number from 1 to 1.4".to_owned();
        assert_eq!(slip, [("/values/2".to_owned(), question)]);
        for (key, value, question) in [
            ("battery.resting-voltage", 126.0, "12.6? Write a number from 0 to 20"),
            ("battery.resting-voltage", 12650.0, "12.650? Write a number from 0 to 20"),
            ("battery.resting-voltage", -12.6, "12.6? Write a number from 0 to 20"),
            ("odometer", 12.5, "is it 12.5? Write a number of at least 0 without decimals"),
            ("codes.stored", -2.0, "2? Write a number of at least 0 without decimals"),
        ] {
            assert_eq!(told(key, of(value)), [("/value".to_owned(), question.to_owned())]);
        }
        // The ends of the span are readings.
        assert!(decide(line("battery.gravity"), &cells([1.0, 1.4, 1.2, 1.2, 1.2, 1.2])).is_ok());
        assert!(decide(line("odometer"), &of(0.0)).is_ok());
        assert!(decide(line("coolant.freeze-point"), &of(-37.0)).is_ok());
    }

    #[test]
    fn what_every_vehicle_has_is_read_or_not_measured() {
        let with = |state: &str| NewReading {
            state: Some(state.to_owned()),
            reason: Some("no time".to_owned()),
            ..NewReading::default()
        };
        assert_eq!(wrong("odometer", with("not_applicable")), ["/state"]);
        assert!(decide(line("odometer"), &with("not_measured")).is_ok());
        assert!(decide(line("levels.oil"), &with("not_applicable")).is_ok());
    }

    #[test]
    fn no_reading_needs_a_reason() {
        for state in ["not_applicable", "not_measured"] {
            let mut new = NewReading { state: Some(state.to_owned()), ..NewReading::default() };
            assert_eq!(wrong("battery.gravity", new.clone()), ["/reason"]);
            new.reason = Some("sealed battery".to_owned());
            let kept = decide(line("battery.gravity"), &new).unwrap();
            assert_eq!(kept.len(), 1);
            assert_eq!(kept.first().unwrap().state.as_str(), state);
        }
        let new = NewReading { state: Some("guessed".to_owned()), ..NewReading::default() };
        assert_eq!(wrong("lamps", new), ["/state"]);
    }
}
