//! A vehicle's row.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use crate::db::schema::vehicle;
use crate::db::{Answer, Conn};
use crate::domain::ids::VehicleId;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::{plate, text, vin};
use crate::shops::write::{About, ShopWrite};

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
    /// The plate without blanks, hyphens and points: by it plates are matched.
    #[serde(skip)]
    pub plate_key: Option<String>,
    /// When its owner sold it; its history stays with it.
    pub sold_on: Option<NaiveDate>,
    pub sold_note: Option<String>,
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
        type Clean = fn(&str, Option<&str>, usize) -> Result<Option<String>, FieldFault>;
        let mut faults = Vec::new();
        let mut take = |clean: Clean, name: &str, value: Option<&str>, most: usize| {
            clean(&format!("{base}{name}"), value, most).unwrap_or_else(|fault| {
                faults.push(fault);
                None
            })
        };
        let vin = self.vin.as_deref().map(vin::normalize);
        let plate = self.plate.as_deref().map(str::to_uppercase);
        let plate = plate.filter(|plate| !plate::key(plate).is_empty());
        let named = vin.as_deref().is_some_and(|vin| !vin.is_empty()) || plate.is_some();
        let clean = Self {
            vin: take(text::mark, "vin", vin.as_deref(), 40),
            plate: take(text::mark, "plate", plate.as_deref(), 20),
            make: take(text::optional, "make", self.make.as_deref(), 100),
            model: take(text::optional, "model", self.model.as_deref(), 100),
            model_year: self.model_year,
            engine: take(text::optional, "engine", self.engine.as_deref(), 100),
        };
        if !named {
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

/// The vehicle of a write-up: by VIN, else by plate, else new. Of two that bore
/// the plate it is the one that was not sold, the latest.
///
/// # Errors
/// Where the database does not answer.
pub fn find_or_make(write: &mut ShopWrite<'_>, new: &NewVehicle) -> Answer<Vehicle> {
    let shop_id = write.shop.id;
    let plate_key = new.plate.as_deref().map(plate::key);
    let mut query = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .select(Vehicle::as_select())
        .into_boxed();
    query = match (&new.vin, &plate_key) {
        (Some(vin), _) => query.filter(vehicle::vin.eq(vin)),
        (None, key) => query.filter(vehicle::plate_key.eq(key)),
    };
    let found: Vec<Vehicle> = query.order(vehicle::id.desc()).load(write.conn)?;
    let kept = found.iter().position(|row| row.sold_on.is_none());
    if let Some(found) = found.into_iter().nth(kept.unwrap_or(0)) {
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
        plate_key,
        sold_on: None,
        sold_note: None,
    };
    diesel::insert_into(vehicle::table).values(&row).execute(write.conn)?;
    write.note(&About::new("vehicle", &row.id), "added", None, Some(&row))?;
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
        // A VIN may hold a point that somebody typed; a plate's key never does.
        let end = |wanted: String| {
            let wanted = wanted.replace(['%', '_', '\\'], "");
            (!wanted.is_empty()).then(|| format!("%{wanted}"))
        };
        let (Some(vin), Some(plate)) = (end(vin::normalize(words)), end(plate::key(words))) else {
            return Err(Refusal::field("q", "required", "write some letters or digits").into());
        };
        query = query.filter(vehicle::vin.like(vin).or(vehicle::plate_key.like(plate)));
    }
    Ok(query.load(conn)?)
}
