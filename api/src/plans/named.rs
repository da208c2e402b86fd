//! Models and engines as the shop's vehicles have them written.

use diesel::prelude::*;

use super::model::same_name;
use crate::db::schema::vehicle;
use crate::db::{Answer, Conn};

/// The spelling that a vehicle has, where one has the name in other capitals:
/// figures look for it as it is written.
fn spelled(written: Vec<Option<String>>, name: String) -> String {
    let mut written = written.into_iter().flatten();
    let found: Vec<String> = written.by_ref().filter(|other| same_name(other, &name)).collect();
    if found.contains(&name) { name } else { found.into_iter().next().unwrap_or(name) }
}

/// A model and an engine, as the shop's vehicles have them written.
///
/// # Errors
/// Where the database does not answer.
pub fn as_written(
    conn: &mut Conn,
    shop_id: i32,
    (model, engine): (Option<String>, Option<String>),
) -> Answer<(Option<String>, Option<String>)> {
    let model = match model {
        None => None,
        Some(name) => {
            let of_shop = vehicle::table.filter(vehicle::shop_id.eq(shop_id));
            let written = of_shop.select(vehicle::model).distinct().load(conn)?;
            Some(spelled(written, name))
        }
    };
    let engine = match engine {
        None => None,
        Some(name) => {
            let of_shop = vehicle::table.filter(vehicle::shop_id.eq(shop_id));
            let written = of_shop.select(vehicle::engine).distinct().load(conn)?;
            Some(spelled(written, name))
        }
    };
    Ok((model, engine))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_written_as_on_a_vehicle() {
        let of = |name: &str| {
            let written = vec![None, Some("Corvane".to_owned()), Some("Haddenby".to_owned())];
            spelled(written, name.to_owned())
        };
        assert_eq!(of("corvane"), "Corvane");
        assert_eq!(of("Haddenby"), "Haddenby");
        assert_eq!(of("Lirren"), "Lirren");
    }
}
