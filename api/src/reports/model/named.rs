//! The vehicles of jobs by the names that people have for them.

use std::collections::HashMap;

use diesel::prelude::*;

use crate::db::schema::{job, repair_order, vehicle};
use crate::db::{Answer, Conn};

/// Of a VIN as many of the last characters tell vehicles apart.
const LAST: usize = 8;

/// A vehicle as people speak of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct VehicleName {
    pub model_year: Option<i32>,
    pub make: Option<String>,
    pub model: Option<String>,
    pub plate: Option<String>,
    pub vin: Option<String>,
}

impl VehicleName {
    /// Year, make and model, as far as they are known.
    #[must_use]
    pub fn name(&self) -> String {
        let year = self.model_year.map(|year| year.to_string());
        let parts = [year.as_deref(), self.make.as_deref(), self.model.as_deref()];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }

    /// The plate, else the end of the VIN.
    #[must_use]
    pub fn known_by(&self) -> String {
        let end = |vin: &String| {
            let letters: Vec<char> = vin.chars().collect();
            letters.iter().skip(letters.len().saturating_sub(LAST)).collect()
        };
        self.plate.clone().or_else(|| self.vin.as_ref().map(end)).unwrap_or_default()
    }
}

/// The vehicles of some jobs, by the job.
///
/// # Errors
/// Where the database does not answer.
pub fn vehicles_of(
    conn: &mut Conn,
    shop_id: i32,
    jobs: &[String],
) -> Answer<HashMap<String, VehicleName>> {
    type Tuple =
        (String, (Option<i32>, Option<String>, Option<String>), (Option<String>, Option<String>));
    let tuples: Vec<Tuple> = job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .inner_join(
            vehicle::table.on(vehicle::shop_id
                .eq(repair_order::shop_id)
                .and(vehicle::id.eq(repair_order::vehicle_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::id.eq_any(jobs)))
        .select((
            job::id,
            (vehicle::model_year, vehicle::make, vehicle::model),
            (vehicle::plate, vehicle::vin),
        ))
        .load(conn)?;
    let named = tuples.into_iter().map(|(id, (model_year, make, model), (plate, vin))| {
        (id, VehicleName { model_year, make, model, plate, vin })
    });
    Ok(named.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_vehicle_by_its_plate_else_by_the_end_of_its_vin() {
        let vehicle = VehicleName {
            model_year: Some(2018),
            model: Some("Surf".into()),
            vin: Some("ZZDA1CKA5JT001950".into()),
            ..VehicleName::default()
        };
        assert_eq!(
            (vehicle.name().as_str(), vehicle.known_by().as_str()),
            ("2018 Surf", "JT001950")
        );
        let plated = VehicleName { plate: Some("NU 7".into()), ..vehicle };
        assert_eq!(plated.known_by(), "NU 7");
        assert_eq!(VehicleName::default().known_by(), "");
    }
}
