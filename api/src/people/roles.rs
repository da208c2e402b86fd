//! Roles given and taken.

use diesel::prelude::*;
use serde::Serialize;

use super::account::{Account, leave_an_administrator, note_added, standing};
use super::model;
use super::rights::{self, Grant};
use crate::db::Answer;
use crate::db::schema::{person, role_grant};
use crate::db::types::Word;
use crate::domain::ids::PersonId;
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::shops::write::{About, ShopWrite};

/// What the changes say of a role.
#[derive(Serialize)]
struct Noted<'a> {
    person_id: &'a PersonId,
    role: Role,
    of_group: bool,
}

fn allowed(write: &ShopWrite<'_>, asker: &[Grant], id: &PersonId, role: Role) -> Answer<()> {
    let why = if id == write.person {
        "nobody changes their own roles: ask somebody else".to_owned()
    } else if !rights::may_give(asker, role, write.shop.id) {
        format!("an administrator gives and takes the role {}", role.label())
    } else {
        return Ok(());
    };
    Err(Refusal::Forbidden(why).into())
}

/// Moves the account's version: its roles are part of what an editor has seen.
fn stamp(write: &mut ShopWrite<'_>, id: &PersonId) -> Answer<()> {
    diesel::update(person::table.find(id))
        .set(person::version.eq(person::version + 1))
        .execute(write.conn)?;
    Ok(())
}

fn note(write: &mut ShopWrite<'_>, id: &PersonId, role: Role, given: bool) -> Answer<()> {
    let noted = Noted { person_id: id, role, of_group: role.is_of_group() };
    let about = About::new("role", id);
    if given {
        write.note(&about, "added", None, Some(&noted))
    } else {
        write.note(&about, "removed", Some(&noted), None)
    }
}

/// A new person's first role, noted with the person.
///
/// # Errors
/// Where the database does not answer.
pub fn first(write: &mut ShopWrite<'_>, id: &PersonId, role: Role) -> Answer<()> {
    let place = rights::place(role, write.shop.id);
    model::grant(write.conn, id, role, place)?;
    let person = standing(write.conn, write.shop, id)?.person;
    note_added(write, &person)?;
    note(write, id, role, true)
}

/// Gives a role: in the shop, or in the group where it is one of the group's.
/// A role that is held already stays as it is.
///
/// # Errors
/// Not found, or forbidden.
pub fn give(
    write: &mut ShopWrite<'_>,
    asker: &[Grant],
    id: &PersonId,
    role: Role,
) -> Answer<Account> {
    let known = standing(write.conn, write.shop, id)?;
    allowed(write, asker, id, role)?;
    let place = rights::place(role, write.shop.id);
    if !known.grants.contains(&(role, place)) {
        model::grant(write.conn, id, role, place)?;
        stamp(write, id)?;
        note(write, id, role, true)?;
    }
    Ok(standing(write.conn, write.shop, id)?.account(write.shop))
}

/// Takes a role. The last one stays: an account without a role would be in
/// nobody's list.
///
/// # Errors
/// Not found, forbidden, or the last role or administrator.
pub fn take(write: &mut ShopWrite<'_>, asker: &[Grant], id: &PersonId, role: Role) -> Answer<()> {
    let known = standing(write.conn, write.shop, id)?;
    let place = rights::place(role, write.shop.id);
    if !known.grants.contains(&(role, place)) {
        return Err(Refusal::NotFound.into());
    }
    allowed(write, asker, id, role)?;
    if known.grants.len() == 1 {
        let why = "this is the person's only role: give another first, or close the account";
        return Err(Refusal::Conflict(why.to_owned()).into());
    }
    if role == Role::Administrator {
        leave_an_administrator(write.conn, &write.shop.group_id, id)?;
    }
    let held = role_grant::person_id.eq(id).and(role_grant::role.eq(Word(role)));
    match place {
        Some(shop_id) => {
            diesel::delete(role_grant::table.filter(held.and(role_grant::shop_id.eq(shop_id))))
                .execute(write.conn)?
        }
        None => diesel::delete(role_grant::table.filter(held.and(role_grant::shop_id.is_null())))
            .execute(write.conn)?,
    };
    stamp(write, id)?;
    note(write, id, role, false)
}
