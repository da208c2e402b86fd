//! Changes to a part use.

use analytics::words::{Disposition, PartRole, Serviceable};
use serde::Deserialize;

use super::parts::{NewPartUse, PartUse};
use crate::db::Answer;
use crate::domain::refusal::Refusal;
use crate::web::body::present;

/// A change to a part use. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartUsePatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub part_no: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub name: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub position: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 1, maximum = 100_000_000)]
    pub quantity_hundredths: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Disposition>)]
    pub disposition: Option<Option<Disposition>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<PartRole>)]
    pub role: Option<Option<PartRole>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Serviceable>)]
    pub serviceable: Option<Option<Serviceable>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub supplier: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub lot: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub unit_cost_minor: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub unit_price_minor: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<f64>)]
    pub bench_reading: Option<Option<f64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub bench_unit: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub again_reason: Option<Option<String>>,
}

impl PartUsePatch {
    /// The part use as it is to be.
    pub(super) fn over(self, row: &PartUse) -> Answer<NewPartUse> {
        let text = |to: Option<Option<String>>, stands: &Option<String>| {
            to.unwrap_or_else(|| stands.clone())
        };
        let Some(disposition) = self.disposition.unwrap_or(Some(row.disposition.0)) else {
            return Err(Refusal::field(
                "disposition",
                "required",
                "choose what was done with the part",
            )
            .into());
        };
        Ok(NewPartUse {
            part_no: text(self.part_no, &row.part_no),
            name: self.name.unwrap_or_else(|| Some(row.name.clone())).unwrap_or_default(),
            position: text(self.position, &row.position),
            quantity_hundredths: self.quantity_hundredths.unwrap_or(Some(row.quantity_hundredths)),
            disposition,
            role: self.role.unwrap_or(row.role.map(|word| word.0)),
            serviceable: self.serviceable.unwrap_or(row.serviceable.map(|word| word.0)),
            supplier: text(self.supplier, &row.supplier),
            lot: text(self.lot, &row.lot),
            unit_cost_minor: self.unit_cost_minor.unwrap_or(row.unit_cost_minor),
            unit_price_minor: self.unit_price_minor.unwrap_or(row.unit_price_minor),
            bench_reading: self.bench_reading.unwrap_or(row.bench_reading),
            bench_unit: text(self.bench_unit, &row.bench_unit),
            again_reason: text(self.again_reason, &row.again_reason),
        })
    }
}
