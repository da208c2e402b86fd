//! The sister shops of a large demo group.

use super::{new_shop, take_in};
use crate::db::{Answer, Conn, Db};
use crate::demo::{self, DemoPlan, SisterShop};
use crate::domain::clock::UtcStamp;
use crate::domain::role::Role;
use crate::people::model as people;
use crate::shops::model::{self as shops, Shop};

/// Makes so many sister shops beside the first, each with its people and its
/// work.
pub(super) fn open(
    db: &Db,
    first: &Shop,
    plan: &DemoPlan,
    count: usize,
    hash: &str,
    now: UtcStamp,
) -> Answer<()> {
    for (number, sister) in (1..=count).map_while(|i| Some((i, demo::sister_shop(i)?))) {
        eprintln!("Making the work of {} ...", sister.name);
        let (first, hash) = (first.clone(), hash.to_owned());
        let technicians = demo::sister_technicians(plan, number);
        let shop =
            db.write_blocking(move |conn| make(conn, &first, &sister, &technicians, &hash))?;
        take_in(db, &shop, demo::sister_visits(plan, number), now)?;
    }
    Ok(())
}

fn make(
    conn: &mut Conn,
    first: &Shop,
    sister: &SisterShop,
    technicians: &[String],
    hash: &str,
) -> Answer<Shop> {
    let group = &first.group_id;
    let shop = shops::make(conn, group, &new_shop(sister.code, sister.name, first.zone()))?;
    let lead = [(sister.manager, Role::ServiceManager), (sister.adviser, Role::Adviser)];
    let work = technicians.iter().map(|name| (name.as_str(), Role::Technician));
    for (name, role) in lead.into_iter().chain(work) {
        let sign_in = name.to_lowercase().replace(' ', ".");
        let id = people::make(conn, group, name, Some((&sign_in, hash)))?;
        people::grant(conn, &id, role, Some(shop.id))?;
    }
    Ok(shop)
}
