//! What the ordinary jobs of the demo shop are made of: for each symptom the
//! customer's words, the checks in their order and the repairs that end them.
//! Figures are estimates, invented for the demo.

mod body;
mod chassis;
mod cooling;
mod engine;
pub(super) mod parts;
mod start;

use analytics::words::Disposition;

use self::parts::Part;
use super::dice::Dice;
use crate::codes::starting::{CHECKS, SYMPTOMS};

/// Which makes of vehicle a symptom occurs on, as bits by place in
/// [`super::garage::MAKES`].
pub(super) type Makes = u8;
pub(super) const CORVANE: Makes = 1;
pub(super) const OSTRELLE: Makes = 2;
pub(super) const HADDENBY: Makes = 4;
pub(super) const LIRREN: Makes = 8;
pub(super) const ANY: Makes = CORVANE | OSTRELLE | HADDENBY | LIRREN;
pub(super) const GASOLINE: Makes = CORVANE | OSTRELLE | HADDENBY;

/// A repair that ends a complaint.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fix {
    pub cause: &'static str,
    pub operation: &'static str,
    /// How often, against the other repairs of the symptom.
    pub weight: u32,
    /// How many of the template's checks it takes to find it.
    pub found_by: usize,
    /// The part that was held for the cause.
    pub part: Option<(&'static Part, Disposition)>,
    /// A part that was only in the way.
    pub beside: Option<(&'static Part, Disposition)>,
    /// Access, repair, reassembly, proof.
    pub minutes: [i32; 4],
    pub correction: &'static str,
}

impl Fix {
    const fn with(mut self, part: &'static Part, disposition: Disposition) -> Self {
        self.part = Some((part, disposition));
        self
    }

    const fn replaced(self, part: &'static Part) -> Self {
        self.with(part, Disposition::ReplacedNew)
    }

    const fn cleaned(self, part: &'static Part) -> Self {
        self.with(part, Disposition::CleanedReused)
    }

    const fn beside(mut self, part: &'static Part, disposition: Disposition) -> Self {
        self.beside = Some((part, disposition));
        self
    }
}

const fn fix(
    cause: &'static str,
    operation: &'static str,
    weight: u32,
    found_by: usize,
    minutes: [i32; 4],
    correction: &'static str,
) -> Fix {
    Fix { cause, operation, weight, found_by, part: None, beside: None, minutes, correction }
}

/// All that is known of one symptom.
#[derive(Debug, Clone, Copy)]
pub(super) struct Template {
    pub symptom: &'static str,
    /// How often, against the other symptoms.
    pub weight: u32,
    pub makes: Makes,
    /// The customer's words.
    pub words: &'static [&'static str],
    /// Check codes in the trade's order.
    pub checks: &'static [&'static str],
    pub fixes: &'static [Fix],
}

impl Template {
    /// One of its repairs, by weight.
    pub fn fix(&self, dice: &mut Dice) -> Fix {
        let list = self.fixes.iter().map(|fix| (fix.weight, *fix));
        dice.weighted(list).unwrap_or(NO_FIX)
    }
}

/// Every template.
pub(super) fn all() -> impl Iterator<Item = &'static Template> {
    start::TEMPLATES
        .iter()
        .chain(engine::TEMPLATES)
        .chain(cooling::TEMPLATES)
        .chain(chassis::TEMPLATES)
        .chain(body::TEMPLATES)
}

/// Stands in for a template without repairs.
const NO_FIX: Fix = fix("not-found", "diagnosis", 1, 0, [0, 0, 0, 0], "Nothing done");

/// Stands in for a symptom that has no template.
const UNKNOWN: Template = Template {
    symptom: "engine.lamp",
    weight: 1,
    makes: ANY,
    words: &["A light came on"],
    checks: &["read-codes"],
    fixes: &[],
};

/// The template of a symptom.
pub(super) fn of(symptom: &str) -> &'static Template {
    all().find(|t| t.symptom == symptom).unwrap_or(&UNKNOWN)
}

/// A template by chance and weight among those whose symptom is wanted.
pub(super) fn any(dice: &mut Dice, wanted: impl Fn(&str) -> bool) -> &'static Template {
    let list = all().filter(|t| wanted(t.symptom)).map(|t| (t.weight, t));
    dice.weighted(list).unwrap_or(&UNKNOWN)
}

/// The system that a symptom belongs to.
pub(super) fn system(symptom: &str) -> Option<&'static str> {
    SYMPTOMS.iter().find(|s| s.code == symptom).map(|s| s.system)
}

/// Typical hands-on minutes of a check.
pub(super) fn check_minutes(check: &str) -> i32 {
    CHECKS.iter().find(|c| c.code == check).map_or(10, |c| c.minutes)
}
