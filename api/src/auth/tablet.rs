//! Tablets of the shop floor: enrolled by the manager, the only places where a
//! PIN opens a session.

use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::session::{digest, secret};
use super::sessions;
use crate::db::schema::{person, role_grant, tablet};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, TabletId};
use crate::domain::refusal::Refusal;
use crate::domain::text;
use crate::people::model::Person;
use crate::shops::model::{Shop, by_number};
use crate::shops::write::{About, ShopWrite};

/// A tablet of the shop.
#[derive(Debug, Clone, Queryable, Selectable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = tablet)]
pub struct Tablet {
    pub id: TabletId,
    pub name: String,
    pub enrolled_by: PersonId,
    pub enrolled_at: UtcStamp,
    /// When somebody last came in with a PIN.
    pub used_at: Option<UtcStamp>,
    pub revoked_at: Option<UtcStamp>,
}

/// A tablet to enroll.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTablet {
    /// Where it is kept, such as "bay 3".
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
}

/// A tablet that was enrolled. Its token is told once; the record keeps its
/// hash.
#[derive(Serialize, utoipa::ToSchema)]
pub struct EnrolledTablet {
    /// The tablet sends it as the cookie `onetrip_tablet`.
    pub token: String,
    #[serde(flatten)]
    pub kept: Tablet,
}

/// What the changes say of a tablet.
#[derive(Serialize)]
struct Noted<'a> {
    name: &'a str,
}

/// Enrolls a tablet.
///
/// # Errors
/// A fault in the name.
pub fn enroll(write: &mut ShopWrite<'_>, new: &NewTablet) -> Answer<EnrolledTablet> {
    let name = text::required("name", &new.name, 100).map_err(|f| Refusal::Invalid(vec![f]))?;
    let token = secret("onetrip_tablet_")?;
    let kept = Tablet {
        id: TabletId::make(),
        name,
        enrolled_by: write.person.clone(),
        enrolled_at: write.now,
        used_at: None,
        revoked_at: None,
    };
    diesel::insert_into(tablet::table)
        .values((
            tablet::shop_id.eq(write.shop.id),
            tablet::id.eq(&kept.id),
            tablet::name.eq(&kept.name),
            tablet::token_hash.eq(digest(token.as_bytes())),
            tablet::enrolled_by.eq(&kept.enrolled_by),
            tablet::enrolled_at.eq(kept.enrolled_at),
        ))
        .execute(write.conn)?;
    let about = About::new("tablet", &kept.id);
    write.note(&about, "added", None, Some(&Noted { name: &kept.name }))?;
    Ok(EnrolledTablet { token, kept })
}

/// The shop's tablets, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn of_shop(conn: &mut Conn, shop_id: i32) -> Answer<Vec<Tablet>> {
    Ok(tablet::table
        .filter(tablet::shop_id.eq(shop_id))
        .order(tablet::id.desc())
        .select(Tablet::as_select())
        .load(conn)?)
}

/// Revokes a tablet: what was opened on it ends at once.
///
/// # Errors
/// Not found, also where it is revoked already.
pub fn revoke(write: &mut ShopWrite<'_>, id: &TabletId) -> Answer<()> {
    let row: Tablet = tablet::table
        .find((write.shop.id, id))
        .filter(tablet::revoked_at.is_null())
        .select(Tablet::as_select())
        .first(write.conn)?;
    diesel::update(tablet::table.find((write.shop.id, id)))
        .set(tablet::revoked_at.eq(write.now))
        .execute(write.conn)?;
    sessions::end_on(write.conn, id)?;
    write.note(&About::new("tablet", id), "ended", Some(&Noted { name: &row.name }), None)
}

/// The shop of a tablet that is not revoked.
///
/// # Errors
/// Where the database does not answer.
pub fn shop_of(conn: &mut Conn, id: &TabletId) -> Answer<Option<i32>> {
    Ok(tablet::table
        .filter(tablet::id.eq(id).and(tablet::revoked_at.is_null()))
        .select(tablet::shop_id)
        .first(conn)
        .optional()?)
}

/// The enrolled tablet of that token, with its shop.
///
/// # Errors
/// Where the database does not answer.
pub fn by_token(conn: &mut Conn, token: &str) -> Answer<Option<(TabletId, Shop)>> {
    let found: Option<(TabletId, i32)> = tablet::table
        .filter(tablet::token_hash.eq(digest(token.as_bytes())))
        .filter(tablet::revoked_at.is_null())
        .select((tablet::id, tablet::shop_id))
        .first(conn)
        .optional()?;
    found.map(|(id, shop_id)| Ok((id, by_number(conn, shop_id)?))).transpose()
}

/// Notes that somebody came in on the tablet.
///
/// # Errors
/// Where the database does not answer.
pub fn touch(conn: &mut Conn, shop_id: i32, id: &TabletId, now: UtcStamp) -> Answer<()> {
    diesel::update(tablet::table.find((shop_id, id))).set(tablet::used_at.eq(now)).execute(conn)?;
    Ok(())
}

/// Who works in the shop and has a PIN, by name.
///
/// # Errors
/// Where the database does not answer.
pub fn people(conn: &mut Conn, shop_id: i32) -> Answer<Vec<Person>> {
    Ok(person::table
        .inner_join(role_grant::table.on(role_grant::person_id.eq(person::id)))
        .filter(role_grant::shop_id.eq(shop_id))
        .filter(person::active.eq(true).and(person::pin_hash.is_not_null()))
        .order((person::name, person::id))
        .select(Person::as_select())
        .distinct()
        .load(conn)?)
}
