//! Which vehicle a write-up is for, by the one field that a VIN or plate is
//! typed or scanned into.

use crate::db::{Answer, Conn};
use crate::domain::refusal::FieldFault;
use crate::domain::{plate, vin};
use crate::find::asked::Asked;
use crate::find::model as find;
use crate::problem::Problem;
use crate::vehicles::model::Vehicle;
use crate::web::ctx::Ctx;
use crate::web::form::Fields;

/// What was found.
#[derive(Debug, Clone)]
pub enum Sought {
    /// Nothing was looked for.
    Nothing,
    One(Vehicle),
    /// One of these may be meant.
    Several(Vec<Vehicle>),
    /// No vehicle of the shop: the text, and the field of a new vehicle that it
    /// belongs to.
    None {
        text: String,
        field: &'static str,
    },
}

impl Sought {
    /// The one that was meant.
    #[must_use]
    pub const fn one(&self) -> Option<&Vehicle> {
        match self {
            Self::One(vehicle) => Some(vehicle),
            _ => None,
        }
    }
}

/// What a text is of a vehicle that nobody knows yet.
fn new_field(asked: &Asked) -> (&'static str, String) {
    if asked.is_whole_vin() { ("vin", asked.vin.clone()) } else { ("plate", asked.text.clone()) }
}

/// Looks a VIN or plate up, or the end of one.
///
/// # Errors
/// Where the database does not answer.
pub fn look(conn: &mut Conn, shop_id: i32, text: &str) -> Answer<Sought> {
    let asked = Asked::of(text);
    if asked.is_empty() {
        return Ok(Sought::Nothing);
    }
    let found = find::by_number(conn, shop_id, &asked)?;
    if let Some(vehicle) = found.one(&asked) {
        return Ok(Sought::One(vehicle.clone()));
    }
    let mut rows = found.all();
    if rows.is_empty() {
        let (field, text) = new_field(&asked);
        return Ok(Sought::None { text, field });
    }
    rows.truncate(find::MOST);
    Ok(Sought::Several(rows))
}

/// As [`look`], for who is still typing: what may be meant, and nothing taken.
///
/// # Errors
/// As there.
pub fn offer(conn: &mut Conn, shop_id: i32, text: &str) -> Answer<Sought> {
    let mut rows = find::by_number(conn, shop_id, &Asked::of(text))?.all();
    rows.truncate(find::MOST);
    Ok(if rows.is_empty() { Sought::Nothing } else { Sought::Several(rows) })
}

/// What the form asks to look up: its own field, else the VIN or plate that
/// was typed for a new vehicle.
#[must_use]
pub fn sought(fields: &Fields) -> Option<String> {
    ["known", "vin", "plate"].iter().find_map(|name| fields.text(name))
}

fn refuse(detail: &str) -> Problem {
    Problem::invalid(vec![FieldFault::new("known", "which_vehicle", detail)])
}

/// The form with its vehicle settled, where it is sent without having been
/// looked up: the known vehicle, or the text as the VIN or plate of a new one.
///
/// # Errors
/// Where the record does not answer; within, that a person has to say which.
pub async fn settle(ctx: &Ctx, fields: Fields) -> Result<Result<Fields, Problem>, Problem> {
    let Some(text) = fields.text("known").filter(|_| fields.text("vehicle_id").is_none()) else {
        return Ok(Ok(fields));
    };
    let asked = Asked::of(&text);
    let same = |name: &str, key: &str| {
        fields.text(name).is_some_and(|typed| match name {
            "vin" => vin::normalize(&typed) == key,
            _ => plate::key(&typed) == key,
        })
    };
    if fields.text("vin").is_some() || fields.text("plate").is_some() {
        let told = same("vin", &asked.vin) || same("plate", &asked.plate);
        let why = "this is another VIN or plate than the one below: look it up, or empty it";
        return Ok(if told { Ok(fields) } else { Err(refuse(why)) });
    }
    if asked.is_empty() {
        return Ok(Err(refuse("write a VIN or a plate")));
    }
    let wanted = asked.clone();
    let found = ctx.read(move |conn, shop| find::by_number(conn, shop.id, &wanted)).await?;
    if let Some(only) = found.exactly() {
        return Ok(Ok(fields.with("vehicle_id", only.id.as_str())));
    }
    if found.exact.is_empty() && found.ending.is_empty() {
        let (field, text) = new_field(&asked);
        return Ok(Ok(fields.with(field, &text)));
    }
    Ok(Err(refuse("more than one vehicle may be meant: choose which, or describe a new one")))
}
