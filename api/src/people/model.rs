//! People's rows and their grants of roles.

use std::collections::HashMap;

use diesel::prelude::*;

use super::rights::Grant;
use crate::db::schema::{person, role_grant};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{GrantId, GroupId, PersonId};
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::shops::model::Shop;

/// One person. Without a sign-in name only a name in the record.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = person)]
pub struct Person {
    pub id: PersonId,
    pub group_id: GroupId,
    pub name: String,
    pub sign_in_name: Option<String>,
    pub password_hash: Option<String>,
    pub active: bool,
    pub version: i32,
    pub pin_hash: Option<String>,
}

/// A person by sign-in name, in any case of letters.
///
/// # Errors
/// Where the database does not answer.
pub fn by_sign_in(conn: &mut Conn, name: &str) -> Answer<Option<Person>> {
    Ok(person::table
        .filter(person::sign_in_name.eq(name.trim().to_lowercase()))
        .select(Person::as_select())
        .first(conn)
        .optional()?)
}

/// A person's grants.
///
/// # Errors
/// Where the database does not answer.
pub fn grants(conn: &mut Conn, id: &PersonId) -> Answer<Vec<Grant>> {
    let rows: Vec<(Word<Role>, Option<i32>)> = role_grant::table
        .filter(role_grant::person_id.eq(id))
        .select((role_grant::role, role_grant::shop_id))
        .load(conn)?;
    Ok(rows.into_iter().map(|(role, shop)| (role.0, shop)).collect())
}

/// Everybody with a role in the shop, with that role, by name.
///
/// # Errors
/// Where the database does not answer.
pub fn of_shop(conn: &mut Conn, shop_id: i32) -> Answer<Vec<(Person, Role)>> {
    let rows: Vec<(Person, Word<Role>)> = person::table
        .inner_join(role_grant::table.on(role_grant::person_id.eq(person::id)))
        .filter(role_grant::shop_id.eq(shop_id))
        .order((person::name, role_grant::role))
        .select((Person::as_select(), role_grant::role))
        .load(conn)?;
    Ok(rows.into_iter().map(|(row, role)| (row, role.0)).collect())
}

/// Everybody with a role in the shop, then those of the whole group.
///
/// # Errors
/// Where the database does not answer.
pub fn listed(conn: &mut Conn, shop: &Shop) -> Answer<Vec<(Person, Role)>> {
    let mut people = of_shop(conn, shop.id)?;
    people.extend(of_group(conn, &shop.group_id)?);
    Ok(people)
}

/// Everybody with a role in the whole group, with that role, by name.
///
/// # Errors
/// Where the database does not answer.
pub fn of_group(conn: &mut Conn, group: &GroupId) -> Answer<Vec<(Person, Role)>> {
    let rows: Vec<(Person, Word<Role>)> = person::table
        .inner_join(role_grant::table.on(role_grant::person_id.eq(person::id)))
        .filter(person::group_id.eq(group).and(role_grant::shop_id.is_null()))
        .order((person::name, role_grant::role))
        .select((Person::as_select(), role_grant::role))
        .load(conn)?;
    Ok(rows.into_iter().map(|(row, role)| (row, role.0)).collect())
}

/// The person of that name in the group.
///
/// # Errors
/// Where the database does not answer.
pub fn by_name(conn: &mut Conn, group: &GroupId, name: &str) -> Answer<Option<PersonId>> {
    Ok(person::table
        .filter(person::group_id.eq(group).and(person::name.eq(name)))
        .select(person::id)
        .first(conn)
        .optional()?)
}

/// The person of that name in the group; made, with the role, where there is
/// none. How imported technicians come in: they cannot sign in until somebody
/// gives them a sign-in name.
///
/// # Errors
/// Where the database does not answer.
pub fn named(conn: &mut Conn, group: &GroupId, shop_id: i32, name: &str) -> Answer<PersonId> {
    let id = match by_name(conn, group, name)? {
        Some(id) => id,
        None => make(conn, group, name, None)?,
    };
    grant(conn, &id, Role::Technician, Some(shop_id))?;
    Ok(id)
}

/// A new person; `sign_in` is the name and the password's hash.
///
/// # Errors
/// A conflict where the name or the sign-in name is taken.
pub fn make(
    conn: &mut Conn,
    group: &GroupId,
    name: &str,
    sign_in: Option<(&str, &str)>,
) -> Answer<PersonId> {
    let row = Person {
        id: PersonId::make(),
        group_id: group.clone(),
        name: name.to_owned(),
        sign_in_name: sign_in.map(|(name, _)| name.trim().to_lowercase()),
        password_hash: sign_in.map(|(_, hash)| hash.to_owned()),
        active: true,
        version: 1,
        pin_hash: None,
    };
    if by_name(conn, group, name)?.is_some() {
        return Err(Refusal::Conflict(format!(
            "there is a {name} already; give that person a sign-in and roles"
        ))
        .into());
    }
    if let Some(sign_in) = &row.sign_in_name
        && by_sign_in(conn, sign_in)?.is_some()
    {
        return Err(Refusal::Conflict(format!("the sign-in name {sign_in} is taken")).into());
    }
    diesel::insert_into(person::table).values(&row).execute(conn)?;
    Ok(row.id)
}

/// Gives a person a sign-in name and password, in place of what stood.
///
/// # Errors
/// Where the database does not answer.
pub fn set_sign_in(conn: &mut Conn, id: &PersonId, name: &str, hash: &str) -> Answer<()> {
    diesel::update(person::table.find(id))
        .set((
            person::sign_in_name.eq(name.trim().to_lowercase()),
            person::password_hash.eq(hash),
            person::version.eq(person::version + 1),
        ))
        .execute(conn)?;
    Ok(())
}

/// Puts another hash of the same password in the place of the one before, unless
/// that was changed meanwhile. The account is as it was.
///
/// # Errors
/// Where the database does not answer.
pub fn put_hash_anew(conn: &mut Conn, id: &PersonId, before: &str, hash: &str) -> Answer<()> {
    diesel::update(person::table.find(id).filter(person::password_hash.eq(before)))
        .set(person::password_hash.eq(hash))
        .execute(conn)?;
    Ok(())
}

/// Whether there is an account that can sign in with a password.
///
/// # Errors
/// Where the database does not answer.
pub fn anybody_signs_in(conn: &mut Conn) -> Answer<bool> {
    let hits: i64 = person::table
        .filter(person::active.eq(true))
        .filter(person::sign_in_name.is_not_null().and(person::password_hash.is_not_null()))
        .count()
        .get_result(conn)?;
    Ok(hits > 0)
}

/// Everybody in the record, by group and name.
///
/// # Errors
/// Where the database does not answer.
pub fn everybody(conn: &mut Conn) -> Answer<Vec<Person>> {
    Ok(person::table
        .order((person::group_id, person::name))
        .select(Person::as_select())
        .load(conn)?)
}

/// Closes an account, or opens it again.
///
/// # Errors
/// Where the database does not answer.
pub fn set_active(conn: &mut Conn, id: &PersonId, active: bool) -> Answer<()> {
    diesel::update(person::table.find(id))
        .set((person::active.eq(active), person::version.eq(person::version + 1)))
        .execute(conn)?;
    Ok(())
}

/// Writes a person's row over the version before it.
///
/// # Errors
/// Stale where another version stands.
pub fn put(conn: &mut Conn, row: &Person) -> Answer<()> {
    let place = person::id.eq(&row.id).and(person::version.eq(row.version - 1));
    let hit = diesel::update(person::table.filter(place))
        .set((
            person::name.eq(&row.name),
            person::sign_in_name.eq(&row.sign_in_name),
            person::password_hash.eq(&row.password_hash),
            person::pin_hash.eq(&row.pin_hash),
            person::active.eq(row.active),
            person::version.eq(row.version),
        ))
        .execute(conn)?;
    if hit == 1 {
        return Ok(());
    }
    let stands = person::table.find(&row.id).select(person::version).first(conn)?;
    Err(Refusal::Stale(stands).into())
}

/// Grants a role; nothing happens where it stands already.
///
/// # Errors
/// Where the database does not answer.
pub fn grant(conn: &mut Conn, id: &PersonId, role: Role, shop_id: Option<i32>) -> Answer<()> {
    if grants(conn, id)?.contains(&(role, shop_id)) {
        return Ok(());
    }
    diesel::insert_into(role_grant::table)
        .values((
            role_grant::id.eq(GrantId::make()),
            role_grant::person_id.eq(id),
            role_grant::shop_id.eq(shop_id),
            role_grant::role.eq(Word(role)),
        ))
        .execute(conn)?;
    Ok(())
}

/// Everybody's name in the group, by id.
///
/// # Errors
/// Where the database does not answer.
pub fn names(conn: &mut Conn, group: &GroupId) -> Answer<HashMap<PersonId, String>> {
    let rows: Vec<(PersonId, String)> = person::table
        .filter(person::group_id.eq(group))
        .select((person::id, person::name))
        .load(conn)?;
    Ok(rows.into_iter().collect())
}

/// Whether the person is a technician, adviser or manager of the shop, and may
/// so be named on a job.
///
/// # Errors
/// Where the database does not answer.
pub fn works_in(conn: &mut Conn, id: &PersonId, shop_id: i32) -> Answer<bool> {
    let hits: i64 = role_grant::table
        .filter(role_grant::person_id.eq(id).and(role_grant::shop_id.eq(shop_id)))
        .count()
        .get_result(conn)?;
    Ok(hits > 0)
}
