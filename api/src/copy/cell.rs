//! One value of a copied row, the same text from either database.

use chrono::{NaiveDate, NaiveDateTime};
use serde_json::{Number, Value};

/// Times to the microsecond, in UTC.
const TIME: &str = "%Y-%m-%dT%H:%M:%S%.6fZ";

/// What a column holds.
pub trait Cell: Sized {
    fn shown(self) -> Value;
    /// Reads back what was shown.
    ///
    /// # Errors
    /// What is wrong with it.
    fn read(value: Value) -> Result<Self, String>;
}

impl<T: Cell> Cell for Option<T> {
    fn shown(self) -> Value {
        self.map_or(Value::Null, T::shown)
    }

    fn read(value: Value) -> Result<Self, String> {
        if value.is_null() { Ok(None) } else { T::read(value).map(Some) }
    }
}

impl Cell for String {
    fn shown(self) -> Value {
        Value::String(self)
    }

    fn read(value: Value) -> Result<Self, String> {
        match value {
            Value::String(text) => Ok(text),
            other => Err(format!("{other} is no text")),
        }
    }
}

impl Cell for bool {
    fn shown(self) -> Value {
        Value::Bool(self)
    }

    fn read(value: Value) -> Result<Self, String> {
        value.as_bool().ok_or_else(|| format!("{value} is neither true nor false"))
    }
}

impl Cell for i64 {
    fn shown(self) -> Value {
        self.into()
    }

    fn read(value: Value) -> Result<Self, String> {
        value.as_i64().ok_or_else(|| format!("{value} is no whole number"))
    }
}

impl Cell for i32 {
    fn shown(self) -> Value {
        self.into()
    }

    fn read(value: Value) -> Result<Self, String> {
        let number = i64::read(value)?;
        Self::try_from(number).map_err(|_| format!("{number} is too large"))
    }
}

/// A number where the number comes back to the last bit, else its digits as
/// text.
impl Cell for f64 {
    fn shown(self) -> Value {
        // One of the databases knows no zero below zero.
        let plain = self + 0.0;
        let exact = |number: &Number| {
            let back: Option<Self> = serde_json::from_str(&number.to_string()).ok();
            back.is_some_and(|back| back.to_bits() == plain.to_bits())
        };
        match Number::from_f64(plain).filter(exact) {
            Some(number) => Value::Number(number),
            None => Value::String(plain.to_string()),
        }
    }

    fn read(value: Value) -> Result<Self, String> {
        let number = match &value {
            Value::Number(number) => number.as_f64(),
            Value::String(digits) => digits.parse().ok(),
            _ => None,
        };
        number.filter(|n| n.is_finite()).ok_or_else(|| format!("{value} is no number"))
    }
}

impl Cell for NaiveDateTime {
    fn shown(self) -> Value {
        Value::String(self.format(TIME).to_string())
    }

    fn read(value: Value) -> Result<Self, String> {
        let text = String::read(value)?;
        Self::parse_from_str(&text, TIME)
            .map_err(|_| format!("'{text}' is not a time such as 2026-03-02T14:05:00.000000Z"))
    }
}

impl Cell for NaiveDate {
    fn shown(self) -> Value {
        Value::String(self.format("%Y-%m-%d").to_string())
    }

    fn read(value: Value) -> Result<Self, String> {
        let text = String::read(value)?;
        Self::parse_from_str(&text, "%Y-%m-%d")
            .map_err(|_| format!("'{text}' is not a day such as 2026-03-02"))
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn again<T: Cell>(value: T) -> T {
        let text = serde_json::to_string(&value.shown()).unwrap();
        T::read(serde_json::from_str(&text).unwrap()).unwrap()
    }

    proptest! {
        #[test]
        fn numbers_come_back_to_the_last_bit(number in any::<f64>()) {
            prop_assume!(number.is_finite() && number != 0.0);
            prop_assert_eq!(again(number).to_bits(), number.to_bits());
        }

        #[test]
        fn times_come_back_to_the_microsecond(micros in 0_i64..4_000_000_000_000_000) {
            let at = chrono::DateTime::from_timestamp_micros(micros).unwrap().naive_utc();
            prop_assert_eq!(again(at), at);
        }
    }

    #[test]
    fn what_is_no_value_is_told() {
        assert!(i32::read(4_000_000_000_i64.into()).unwrap_err().contains("too large"));
        assert!(bool::read(1.into()).unwrap_err().contains("neither true nor false"));
        assert!(NaiveDate::read("2026-02-30".into()).unwrap_err().contains("2026-03-02"));
        assert_eq!(Option::<String>::read(Value::Null), Ok(None));
        assert_eq!((-0.0_f64).shown().to_string(), "0.0");
    }
}
