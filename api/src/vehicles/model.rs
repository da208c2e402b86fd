//! A vehicle's row.

use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use crate::db::schema::vehicle;
use crate::db::{Answer, Conn};
use crate::domain::ids::VehicleId;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::{text, vin};
use crate::shops::write::ShopWrite;

/// A vehicle of one shop.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = vehicle)]
pub struct Vehicle {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: VehicleId,
    pub vin: Option<String>,
    pub plate: Option<String>,
    pub make: Option<String>,
    pub model: Option<String>,
    pub model_year: Option<i32>,
    pub engine: Option<String>,
    pub version: i32,
}

impl Vehicle {
    /// One line that a person knows it by.
    #[must_use]
    pub fn label(&self) -> String {
        let year = self.model_year.map(|y| y.to_string());
        let parts = [year.as_deref(), self.make.as_deref(), self.model.as_deref()];
        let name: Vec<&str> = parts.into_iter().flatten().collect();
        let number = self.plate.as_deref().or(self.vin.as_deref()).unwrap_or("no VIN");
        if name.is_empty() { number.to_owned() } else { format!("{} ({number})", name.join(" ")) }
    }
}

/// A vehicle as written up.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewVehicle {
    /// Any text is taken; a check digit that does not fit is told, not refused.
    pub vin: Option<String>,
    pub plate: Option<String>,
    pub make: Option<String>,
    pub model: Option<String>,
    #[schema(minimum = 1880, maximum = 2200)]
    pub model_year: Option<i32>,
    pub engine: Option<String>,
}

impl NewVehicle {
    /// Cleans the fields; `base` is where they lie in the request.
    ///
    /// # Errors
    /// The faulty fields; a vehicle without VIN and plate.
    pub fn parse(&self, base: &str) -> Result<Self, Vec<FieldFault>> {
        let mut faults = Vec::new();
        let mut take = |name: &str, value: Option<&str>, most: usize| {
            text::optional(&format!("{base}{name}"), value, most).unwrap_or_else(|fault| {
                faults.push(fault);
                None
            })
        };
        let vin = self.vin.as_deref().map(vin::normalize);
        let clean = Self {
            vin: take("vin", vin.as_deref(), 40),
            plate: take("plate", self.plate.as_deref().map(str::to_uppercase).as_deref(), 20),
            make: take("make", self.make.as_deref(), 100),
            model: take("model", self.model.as_deref(), 100),
            model_year: self.model_year,
            engine: take("engine", self.engine.as_deref(), 100),
        };
        if clean.vin.is_none() && clean.plate.is_none() {
            faults.push(FieldFault::new(
                &format!("{base}vin"),
                "required",
                "write the VIN, or the plate where there is no VIN",
            ));
        }
        if clean.model_year.is_some_and(|year| !(1880..=2200).contains(&year)) {
            faults.push(FieldFault::new(
                &format!("{base}model_year"),
                "range",
                "write a year between 1880 and 2200",
            ));
        }
        if faults.is_empty() { Ok(clean) } else { Err(faults) }
    }
}

/// The vehicle of a write-up: by VIN, else by plate, else new.
///
/// # Errors
/// Where the database does not answer.
pub fn find_or_make(write: &mut ShopWrite<'_>, new: &NewVehicle) -> Answer<Vehicle> {
    let shop_id = write.shop.id;
    let mut query = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .select(Vehicle::as_select())
        .into_boxed();
    query = match (&new.vin, &new.plate) {
        (Some(vin), _) => query.filter(vehicle::vin.eq(vin)),
        (None, plate) => query.filter(vehicle::plate.eq(plate)),
    };
    let found: Option<Vehicle> = query.order(vehicle::id).first(write.conn).optional()?;
    if let Some(found) = found {
        return Ok(found);
    }
    let row = Vehicle {
        shop_id,
        id: VehicleId::make(),
        vin: new.vin.clone(),
        plate: new.plate.clone(),
        make: new.make.clone(),
        model: new.model.clone(),
        model_year: new.model_year,
        engine: new.engine.clone(),
        version: 1,
    };
    diesel::insert_into(vehicle::table).values(&row).execute(write.conn)?;
    Ok(row)
}

/// One vehicle.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &VehicleId) -> Answer<Vehicle> {
    Ok(vehicle::table.find((shop_id, id)).select(Vehicle::as_select()).first(conn)?)
}

/// Vehicles by VIN or plate, or by their ends ("last eight"), oldest id first.
///
/// # Errors
/// Where the database does not answer.
pub fn search(
    conn: &mut Conn,
    shop_id: i32,
    words: Option<&str>,
    after: Option<&VehicleId>,
    limit: i64,
) -> Answer<Vec<Vehicle>> {
    let mut query = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .order(vehicle::id)
        .limit(limit)
        .select(Vehicle::as_select())
        .into_boxed();
    if let Some(after) = after {
        query = query.filter(vehicle::id.gt(after.clone()));
    }
    if let Some(words) = words {
        let wanted = vin::normalize(words).replace(['%', '_', '\\'], "");
        if wanted.is_empty() {
            return Err(Refusal::field("q", "required", "write some letters or digits").into());
        }
        let end = format!("%{wanted}");
        query = query.filter(vehicle::vin.like(end.clone()).or(vehicle::plate.like(end)));
    }
    Ok(query.load(conn)?)
}
