//! How numbers and times are written, where their values leave one way only.

use super::super::form::{Form, TimeForm};
use crate::domain::zone::Zone;

/// How numbers are written, with the reason.
pub struct Numbers {
    pub decimal: &'static str,
    pub thousands: &'static str,
    /// Signs that say nothing.
    pub signs: String,
    pub why: String,
}

/// From the values of all columns of numbers; what is no number is passed over.
pub fn numbers(values: &[&str]) -> Numbers {
    let letter = |c: char| c.is_alphabetic();
    let values: Vec<&str> = values
        .iter()
        .copied()
        .filter(|text| text.contains(|c: char| c.is_ascii_digit()) && !text.contains(letter))
        .collect();
    let mut signs = String::from("$");
    for c in values.iter().flat_map(|text| text.chars()) {
        let part = c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | ' ');
        if !part && !signs.contains(c) {
            signs.push(c);
        }
    }
    let fits = |decimal: char, thousands: Option<char>| {
        let form = Form { delimiter: b',', decimal, thousands, signs: signs.clone(), zone: None };
        values.iter().all(|text| form.number(text).is_ok())
    };
    let grouped = |sign: char| values.iter().find(|text| text.contains(sign)).copied();
    let (plain_point, plain_comma) = (fits('.', None), fits(',', None));
    let (point, comma) = (fits('.', Some(',')), fits(',', Some('.')));
    let (decimal, thousands, seen) = match (plain_point, plain_comma) {
        (true, _) => (".", "", if comma { grouped('.') } else { None }),
        (_, true) => (",", "", if point { grouped(',') } else { None }),
        _ if point != comma && point => (".", ",", None),
        _ if point != comma => (",", ".", None),
        _ => (".", "", None),
    };
    let why = match seen {
        Some(value) => format!("look: {value} may have decimals, or thousands"),
        None if plain_point && plain_comma => "no value here speaks against it".to_owned(),
        None if !(plain_point || plain_comma || point || comma) => {
            "the values here are not written in one way".to_owned()
        }
        None => {
            let shown = values.iter().find(|text| text.contains(['.', ','])).unwrap_or(&"");
            format!("only so all values here can be read, such as {shown}")
        }
    };
    Numbers { decimal, thousands, signs, why }
}

const DAYS: [&str; 11] = [
    "YYYY-MM-DD",
    "YYYY/MM/DD",
    "DD.MM.YYYY",
    "MM/DD/YYYY",
    "DD/MM/YYYY",
    "MM-DD-YYYY",
    "DD-MM-YYYY",
    "MM/DD/YY",
    "DD/MM/YY",
    "DD.MM.YY",
    "MM-DD-YY",
];
const HOURS: [&str; 7] =
    ["", " HH:MM", " HH:MM:SS", " HH:MM AM", " HH:MM:SS AM", "THH:MM", "THH:MM:SS"];

/// The one way in which all values are times; `None` where there are several
/// ways, or none.
pub fn times(values: &[&str]) -> Option<String> {
    if values.is_empty() {
        return None;
    }
    if values.iter().all(|text| crate::domain::clock::UtcStamp::parse(text).is_some()) {
        return Some("RFC 3339".to_owned());
    }
    let mut found = None;
    for (day, hours) in DAYS.iter().flat_map(|day| HOURS.iter().map(move |hours| (day, hours))) {
        let stated = format!("{day}{hours}");
        let at = hours.is_empty().then_some("08:00");
        let Ok(form) = TimeForm::read(&stated, at) else { continue };
        // A year of two digits also reads as one of the first century.
        let read = |text: &str| form.time(text, Zone::UTC).is_ok_and(|t| t.starts_with(['1', '2']));
        if values.iter().all(|text| read(text)) {
            if found.is_some() {
                return None;
            }
            found = Some(stated);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_stated_where_one_way_fits() {
        for (values, decimal, thousands, why) in [
            (&["1.175,43", "25.754", "n/a"][..], ",", ".", "only so"),
            (&["$1,175.43", "12"][..], ".", ",", "only so"),
            (&["12,5", "3"][..], ",", "", "only so"),
            (&["12.50", "3"][..], ".", "", "only so"),
            (&["25.754", "3"][..], ".", "", "look: 25.754"),
            (&["120300"][..], ".", "", "no value here"),
            (&["1.5", "1,5"][..], ".", "", "not written in one way"),
            (&[][..], ".", "", "no value here"),
        ] {
            let read = numbers(values);
            assert_eq!((read.decimal, read.thousands), (decimal, thousands), "{values:?}");
            assert!(read.why.contains(why), "{values:?}: {}", read.why);
        }
        assert_eq!(numbers(&["\u{20ac} 12"]).signs, "$\u{20ac}");
    }

    #[test]
    fn times_are_stated_where_one_way_fits() {
        for (values, stated) in [
            (&["24.11.2025 13:39", "01.12.2025 08:05"][..], Some("DD.MM.YYYY HH:MM")),
            (&["03/02/2026 08:05"][..], None),
            (&["03/02/2026 08:05", "03/22/2026 8:05"][..], Some("MM/DD/YYYY HH:MM")),
            (&["22/03/26 08:05 PM"][..], Some("DD/MM/YY HH:MM AM")),
            (&["2026-03-02T08:05:00Z"][..], Some("RFC 3339")),
            (&["2026-03-02"][..], Some("YYYY-MM-DD")),
            (&["2026-03-02", "soon"][..], None),
            (&[][..], None),
        ] {
            assert_eq!(times(values).as_deref(), stated, "{values:?}");
        }
    }
}
