//! Readings brought to one temperature.

use serde::Serialize;

use super::list::{Correction, Degrees};

/// A temperature as it was read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Temperature {
    pub value: f64,
    pub unit: Degrees,
}

impl Temperature {
    /// The same temperature in other degrees.
    #[must_use]
    pub fn in_degrees(self, unit: Degrees) -> f64 {
        match (self.unit, unit) {
            (Degrees::Celsius, Degrees::Fahrenheit) => self.value * 9.0 / 5.0 + 32.0,
            (Degrees::Fahrenheit, Degrees::Celsius) => (self.value - 32.0) * 5.0 / 9.0,
            _ => self.value,
        }
    }
}

impl Correction {
    /// The reading at the correction's own temperature. It goes by the degree,
    /// not by whole steps.
    #[must_use]
    pub fn correct(&self, reading: f64, at: Temperature) -> f64 {
        let steps = (at.in_degrees(self.unit) - self.from) / self.step;
        self.per_step.mul_add(steps, reading)
    }
}

/// To a millionth: no instrument reads finer, and what was worked out from two
/// decimal numbers compares like the number meant.
#[must_use]
pub fn settled(value: f64) -> f64 {
    let whole = (value * 1e6).round();
    if whole.is_finite() { whole / 1e6 } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gravity() -> Correction {
        Correction {
            per_step: 0.004,
            step: 10.0,
            from: 80.0,
            unit: Degrees::Fahrenheit,
            source: "TM 5-4210-230-14&P-1".to_owned(),
            edition: None,
        }
    }

    // The first two as printed in a generator maker's manual that gives the same
    // rule (0.004 for every 10 degrees Fahrenheit from 80). The others by hand:
    // 1.280 - 8 x 0.004 = 1.248; 1.220 - 9 x 0.004 = 1.184; 1.254 - 2 x 0.004 = 1.246.
    #[test]
    fn gravity_comes_to_eighty_degrees() {
        let fahrenheit = |value| Temperature { value, unit: Degrees::Fahrenheit };
        for (read, at, corrected) in [
            (1.250, 20.0, 1.226),
            (1.235, 100.0, 1.243),
            (1.280, 0.0, 1.248),
            (1.220, -10.0, 1.184),
            (1.254, 60.0, 1.246),
            (1.265, 80.0, 1.265),
        ] {
            let got = settled(gravity().correct(read, fahrenheit(at)));
            assert!((got - corrected).abs() < 1e-12, "{read} at {at}: {got}");
        }
    }

    // NIST SP 811 (2008), B.8: t/F = 1.8 t/C + 32; -40 is the same on both.
    #[test]
    fn degrees_of_both_kinds() {
        let celsius = |value| Temperature { value, unit: Degrees::Celsius };
        assert!((celsius(-40.0).in_degrees(Degrees::Fahrenheit) + 40.0).abs() < 1e-12);
        assert!((celsius(100.0).in_degrees(Degrees::Fahrenheit) - 212.0).abs() < 1e-12);
        let warm = Temperature { value: 68.0, unit: Degrees::Fahrenheit };
        assert!((warm.in_degrees(Degrees::Celsius) - 20.0).abs() < 1e-12);
        // 15 degrees Celsius are 59 Fahrenheit: 1.254 - 2.1 x 0.004 = 1.2456.
        let got = settled(gravity().correct(1.254, celsius(15.0)));
        assert!((got - 1.2456).abs() < 1e-12, "{got}");
    }
}
