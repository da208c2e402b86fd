//! How another program writes numbers and times.

use chrono::{NaiveDateTime, NaiveTime};

use crate::domain::zone::Zone;

/// What the mapping states once for all files.
#[derive(Debug, Clone)]
pub struct Form {
    pub delimiter: u8,
    pub decimal: char,
    pub thousands: Option<char>,
    /// Signs that say nothing, such as a currency's.
    pub signs: String,
    /// Zone of times without one; absent: the shop's.
    pub zone: Option<Zone>,
}

impl Form {
    /// A number as history files have it.
    ///
    /// # Errors
    /// A sentence.
    pub fn number(&self, text: &str) -> Result<String, String> {
        let bare: String = text.chars().filter(|c| !self.signs.contains(*c)).collect();
        let bare = bare.trim();
        let (sign, digits) = bare.strip_prefix('-').map_or(("", bare), |rest| ("-", rest));
        let (whole, fraction) = match digits.split_once(self.decimal) {
            Some((whole, fraction)) => (whole, Some(fraction)),
            None => (digits, None),
        };
        let whole = self.ungrouped(whole).filter(|whole| {
            let plain = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
            plain(whole) && fraction.is_none_or(plain)
        });
        match (whole, fraction) {
            (Some(whole), None) => Ok(format!("{sign}{whole}")),
            (Some(whole), Some(fraction)) => Ok(format!("{sign}{whole}.{fraction}")),
            (None, _) => Err(format!(
                "'{text}' is not a number with '{}' for the decimals{}",
                self.decimal,
                self.thousands.map(|t| format!(" and '{t}' for the thousands")).unwrap_or_default()
            )),
        }
    }

    /// The whole part without its thousands signs, which stand every three
    /// digits or not at all.
    fn ungrouped(&self, whole: &str) -> Option<String> {
        let Some(sign) = self.thousands.filter(|sign| whole.contains(*sign)) else {
            return Some(whole.to_owned());
        };
        let mut groups = whole.split(sign);
        let first = groups.next().filter(|group| (1..=3).contains(&group.len()))?;
        let mut joined = first.to_owned();
        for group in groups {
            if group.len() != 3 {
                return None;
            }
            joined.push_str(group);
        }
        Some(joined)
    }
}

/// The form of a time, as the mapping states it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TimeForm {
    Rfc3339,
    /// As stated, and in chrono's signs; dates alone are at this time of day.
    Stated {
        stated: String,
        signs: String,
        at: Option<NaiveTime>,
    },
}

impl TimeForm {
    /// Reads what the mapping states.
    ///
    /// # Errors
    /// A sentence.
    pub fn read(stated: &str, at: Option<&str>) -> Result<Self, String> {
        if stated.trim().eq_ignore_ascii_case("RFC 3339") {
            return Ok(Self::Rfc3339);
        }
        let signs = chrono_signs(stated)?;
        let has = |sign: &str| signs.contains(sign);
        if !(has("%d") && has("%m") && (has("%Y") || has("%y"))) {
            return Err(format!("time '{stated}' needs YYYY, MM and DD, or is \"RFC 3339\""));
        }
        let clock = has("%H") || has("%I");
        if clock && !has("%M") {
            return Err(format!("time '{stated}' has hours without minutes; write HH:MM"));
        }
        let at = match (clock, at) {
            (true, None) => None,
            (true, Some(_)) => return Err(format!("time '{stated}' has hours; leave out at")),
            (false, None) => {
                return Err(format!(
                    "time '{stated}' has no hours; state with at what time of day is meant, such as at = \"08:00\""
                ));
            }
            (false, Some(at)) => Some(
                NaiveTime::parse_from_str(at, "%H:%M")
                    .map_err(|_| format!("at '{at}' is not a time of day such as 08:00"))?,
            ),
        };
        Ok(Self::Stated { stated: stated.to_owned(), signs, at })
    }

    /// A time as history files have it.
    ///
    /// # Errors
    /// A sentence.
    pub fn time(&self, text: &str, zone: Zone) -> Result<String, String> {
        let Self::Stated { stated, signs, at } = self else { return Ok(text.to_owned()) };
        let local = match at {
            None => NaiveDateTime::parse_from_str(text, signs).ok(),
            Some(at) => {
                chrono::NaiveDate::parse_from_str(text, signs).ok().map(|day| day.and_time(*at))
            }
        };
        local
            .and_then(|local| zone.instant(local))
            .map(crate::domain::clock::UtcStamp::rfc3339)
            .ok_or_else(|| format!("'{text}' is not a time written as {stated}"))
    }
}

/// `DD.MM.YYYY HH:MM` in chrono's signs. MM are minutes where hours stand
/// before, else months.
fn chrono_signs(stated: &str) -> Result<String, String> {
    let twelve = stated.contains("AM");
    let mut signs = String::new();
    let mut rest = stated;
    while let Some(first) = rest.chars().next() {
        let known: [(&str, &str); 7] = [
            ("YYYY", "%Y"),
            ("YY", "%y"),
            ("DD", "%d"),
            ("HH", if twelve { "%I" } else { "%H" }),
            ("MM", if signs.contains("%H") || signs.contains("%I") { "%M" } else { "%m" }),
            ("SS", "%S"),
            ("AM", "%p"),
        ];
        if let Some((word, sign)) = known.iter().find(|(word, _)| rest.starts_with(word)) {
            signs.push_str(sign);
            rest = rest.get(word.len()..).unwrap_or_default();
        } else if first.is_alphanumeric() && first != 'T' || first == '%' {
            return Err(format!(
                "time '{stated}' has '{first}', which means nothing; write it with YYYY (or YY), MM, DD, HH, MM, SS and AM"
            ));
        } else {
            signs.push(first);
            rest = rest.get(first.len_utf8()..).unwrap_or_default();
        }
    }
    Ok(signs)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn form(decimal: char, thousands: Option<char>) -> Form {
        Form { delimiter: b',', decimal, thousands, signs: "$€ ".to_owned(), zone: None }
    }

    #[test]
    fn numbers_are_read_with_the_signs_that_are_stated() {
        let comma = form(',', Some('.'));
        assert_eq!(comma.number("1.234,50").unwrap(), "1234.50");
        assert_eq!(comma.number("€ -12,5").unwrap(), "-12.5");
        assert_eq!(comma.number("120300").unwrap(), "120300");
        let point = form('.', Some(','));
        assert_eq!(point.number("$1,234.50").unwrap(), "1234.50");
        for bad in ["1,23.4", "1.2.3", "12,5", "", "1,", "x", "1,234,5"] {
            assert!(point.number(bad).is_err(), "{bad}");
        }
        assert!(form('.', None).number("1,234").is_err());
    }

    #[test]
    fn times_are_read_as_stated_and_no_other_way() {
        let chicago = Zone::parse("America/Chicago").unwrap();
        let read =
            |stated: &str, text: &str| TimeForm::read(stated, None).unwrap().time(text, chicago);
        // 2026-03-02 08:05 in Chicago is 14:05 UTC.
        for (stated, text) in [
            ("DD.MM.YYYY HH:MM", "02.03.2026 08:05"),
            ("MM/DD/YYYY HH:MM", "3/2/2026 8:05"),
            ("MM/DD/YY HH:MM AM", "03/02/26 08:05 AM"),
            ("YYYY-MM-DDTHH:MM:SS", "2026-03-02T08:05:00"),
        ] {
            assert_eq!(read(stated, text).unwrap(), "2026-03-02T14:05:00Z", "{stated}");
        }
        assert!(read("DD.MM.YYYY HH:MM", "2026-03-02 08:05").unwrap_err().contains("DD.MM.YYYY"));
        assert!(read("MM/DD/YYYY HH:MM", "13/02/2026 08:05").is_err());
        let day = TimeForm::read("MM/DD/YYYY", Some("08:05")).unwrap();
        assert_eq!(day.time("03/02/2026", chicago).unwrap(), "2026-03-02T14:05:00Z");
    }

    #[test]
    fn forms_that_say_too_little_are_refused() {
        for (stated, why) in [
            ("MM/DD/YYYY", "no hours"),
            ("HH:MM", "needs YYYY"),
            ("YYYY-MM-DD HH", "hours without minutes"),
            ("yyyy-mm-dd", "means nothing"),
            ("", "needs YYYY"),
        ] {
            assert!(TimeForm::read(stated, None).unwrap_err().contains(why), "{stated}");
        }
    }
}
