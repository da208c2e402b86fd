//! A person's account: read, and changed by whoever keeps it.

use diesel::prelude::*;
use serde::Serialize;

use super::model::{self, Person, grants};
use super::rights::{self, Grant};
use crate::auth::{sessions, token};
use crate::db::schema::{person, role_grant, shop_group};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{GroupId, PersonId};
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::shops::model::Shop;
use crate::shops::write::{About, ShopWrite};

/// A role as it is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct PersonRole {
    pub role: Role,
    /// Held in every shop of the group.
    pub of_group: bool,
}

/// A person's account, as those see it who keep the shop's people.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct Account {
    pub id: PersonId,
    pub name: String,
    pub sign_in_name: Option<String>,
    pub active: bool,
    /// Whether the person can sign in with a password.
    pub signs_in: bool,
    /// Whether the person can come in on a tablet of the shop floor.
    pub has_pin: bool,
    /// In this shop and in the group.
    pub roles: Vec<PersonRole>,
    #[serde(skip)]
    pub version: i32,
}

/// A person with every grant, also those in other shops.
#[derive(Debug, Clone)]
pub struct Standing {
    pub person: Person,
    pub grants: Vec<Grant>,
}

impl Standing {
    /// As this shop shows it.
    #[must_use]
    pub fn account(self, shop: &Shop) -> Account {
        let Self { person, grants } = self;
        let mut roles: Vec<PersonRole> = grants
            .into_iter()
            .filter(|(_, at)| at.is_none_or(|at| at == shop.id))
            .map(|(role, at)| PersonRole { role, of_group: at.is_none() })
            .collect();
        roles.sort_by_key(|held| held.role);
        Account {
            signs_in: person.active && person.password_hash.is_some(),
            has_pin: person.pin_hash.is_some(),
            id: person.id,
            name: person.name,
            sign_in_name: person.sign_in_name,
            active: person.active,
            roles,
            version: person.version,
        }
    }
}

/// Somebody with a role in the shop or in the whole group.
///
/// # Errors
/// Not found, also where the person works in other shops alone.
pub fn standing(conn: &mut Conn, shop: &Shop, id: &PersonId) -> Answer<Standing> {
    let person: Person = person::table
        .filter(person::id.eq(id).and(person::group_id.eq(&shop.group_id)))
        .select(Person::as_select())
        .first(conn)?;
    let grants = grants(conn, id)?;
    if grants.iter().any(|(_, at)| at.is_none_or(|at| at == shop.id)) {
        Ok(Standing { person, grants })
    } else {
        Err(Refusal::NotFound.into())
    }
}

/// Somebody whose account the asker keeps.
///
/// # Errors
/// Not found; forbidden where the person's roles reach further than the
/// asker's shop.
pub fn kept(conn: &mut Conn, shop: &Shop, asker: &[Grant], id: &PersonId) -> Answer<Standing> {
    let standing = standing(conn, shop, id)?;
    if rights::may_change(asker, &standing.grants) {
        return Ok(standing);
    }
    let why = "this account reaches further than your shop's floor: an administrator changes it";
    Err(Refusal::Forbidden(why.to_owned()).into())
}

/// What to change. Absent fields stay; the inner `None` takes away.
#[derive(Debug, Clone, Default)]
pub struct Change {
    pub name: Option<String>,
    pub sign_in_name: Option<Option<String>>,
    pub active: Option<bool>,
    pub password_hash: Option<String>,
    pub pin_hash: Option<Option<String>>,
}

/// What the changes say of an account: no secret, and no hash of one.
#[derive(Serialize)]
struct Noted {
    name: String,
    sign_in_name: Option<String>,
    active: bool,
    password: &'static str,
    pin: &'static str,
}

fn noted(row: &Person, anew: (bool, bool)) -> Noted {
    let said = |hash: &Option<String>, anew: bool| match hash {
        None => "none",
        Some(_) if anew => "set anew",
        Some(_) => "set",
    };
    Noted {
        name: row.name.clone(),
        sign_in_name: row.sign_in_name.clone(),
        active: row.active,
        password: said(&row.password_hash, anew.0),
        pin: said(&row.pin_hash, anew.1),
    }
}

/// Notes that a person came in.
///
/// # Errors
/// Where the database does not answer.
pub fn note_added(write: &mut ShopWrite<'_>, row: &Person) -> Answer<()> {
    write.note(&About::new("person", &row.id), "added", None, Some(&noted(row, (false, false))))
}

/// Notes that a person's account is not what it was.
///
/// # Errors
/// Where the database does not answer.
pub fn note_changed(write: &mut ShopWrite<'_>, before: &Person, after: &Person) -> Answer<()> {
    let anew = (after.password_hash != before.password_hash, after.pin_hash != before.pin_hash);
    write.note(
        &About::new("person", &before.id),
        "changed",
        Some(&noted(before, (false, false))),
        Some(&noted(after, anew)),
    )
}

/// Changes an account. Where the person may no longer come in, or has another
/// password, every session and token of before is dead.
///
/// # Errors
/// Not found, forbidden, stale, or a name that is taken.
pub fn change(
    write: &mut ShopWrite<'_>,
    asker: &[Grant],
    id: &PersonId,
    seen: i32,
    change: &Change,
) -> Answer<Account> {
    let before = kept(write.conn, write.shop, asker, id)?;
    if before.person.version != seen {
        return Err(Refusal::Stale(before.person.version).into());
    }
    let touches_entry = change.active.is_some()
        || change.password_hash.is_some()
        || change.pin_hash.is_some()
        || change.sign_in_name == Some(None);
    if id == write.person && touches_entry {
        let why = "change your own password and PIN under your own name; somebody else closes your account";
        return Err(Refusal::Forbidden(why.to_owned()).into());
    }
    let after = changed(&before.person, change);
    check(write.conn, &before, &after)?;
    model::put(write.conn, &after)?;
    // Taking the sign-in name away takes the password along.
    if !after.active || after.password_hash != before.person.password_hash {
        sessions::end_all(write.conn, id, None)?;
        token::revoke_all(write.conn, id, write.person, write.now)?;
    } else if change.pin_hash.is_some() {
        sessions::end_by_pin(write.conn, id)?;
    }
    note_changed(write, &before.person, &after)?;
    Ok(Standing { person: after, grants: before.grants }.account(write.shop))
}

fn changed(before: &Person, change: &Change) -> Person {
    let mut after = before.clone();
    after.version += 1;
    if let Some(name) = &change.name {
        after.name.clone_from(name);
    }
    if let Some(sign_in) = &change.sign_in_name {
        after.sign_in_name = sign_in.as_ref().map(|name| name.to_lowercase());
        // Without a name to type there is nothing that a password could fit.
        if after.sign_in_name.is_none() {
            after.password_hash = None;
        }
    }
    if let Some(active) = change.active {
        after.active = active;
    }
    if let Some(hash) = &change.password_hash {
        after.password_hash = Some(hash.clone());
    }
    if let Some(hash) = &change.pin_hash {
        after.pin_hash.clone_from(hash);
    }
    after
}

fn check(conn: &mut Conn, before: &Standing, after: &Person) -> Answer<()> {
    if after.password_hash.is_some() && after.sign_in_name.is_none() {
        let why = "choose a sign-in name to go with the password";
        return Err(Refusal::field("sign_in_name", "required", why).into());
    }
    let taken = |other: Option<PersonId>| other.is_some_and(|other| other != after.id);
    if after.name != before.person.name
        && taken(model::by_name(conn, &after.group_id, &after.name)?)
    {
        return Err(Refusal::Conflict(format!("there is a {} already", after.name)).into());
    }
    if let Some(name) = &after.sign_in_name
        && after.sign_in_name != before.person.sign_in_name
        && taken(model::by_sign_in(conn, name)?.map(|person| person.id))
    {
        return Err(Refusal::Conflict(format!("the sign-in name {name} is taken")).into());
    }
    let comes_in = |person: &Person| person.active && person.password_hash.is_some();
    if comes_in(&before.person) && !comes_in(after) && rights::administers(&before.grants) {
        leave_an_administrator(conn, &after.group_id, &after.id)?;
    }
    Ok(())
}

/// Refuses to leave the group without an administrator who can come in. The
/// group's row is locked: two who take one another's place wait in a line.
///
/// # Errors
/// A conflict where the person is the last one.
pub fn leave_an_administrator(conn: &mut Conn, group: &GroupId, but: &PersonId) -> Answer<()> {
    diesel::update(shop_group::table.find(group))
        .set(shop_group::name.eq(shop_group::name))
        .execute(conn)?;
    let others: i64 = person::table
        .inner_join(role_grant::table.on(role_grant::person_id.eq(person::id)))
        .filter(person::group_id.eq(group).and(person::id.ne(but)))
        .filter(person::active.eq(true).and(person::password_hash.is_not_null()))
        .filter(role_grant::role.eq(Word(Role::Administrator)))
        .count()
        .get_result(conn)?;
    if others > 0 {
        return Ok(());
    }
    let why = "this is the group's last administrator: make another one first";
    Err(Refusal::Conflict(why.to_owned()).into())
}
