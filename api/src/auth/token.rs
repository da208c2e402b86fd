//! Named tokens of programs: made by a person, limited by scope, kept as a hash.
//! A revoked one stays in the list.

use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::reach::Way;
use super::session::{Asker, digest, secret};
use crate::db::schema::{access_token, person};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{GroupId, PersonId, TokenId};
use crate::domain::refusal::FieldFault;
use crate::domain::scope::Scope;
use crate::domain::text;
use crate::people::model::{Person, grants};
use crate::shops::model::Shop;
use crate::shops::write::{About, ShopWrite};

/// A token as its list shows it: without the text that opens the door.
#[derive(Debug, Clone, Queryable, Selectable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = access_token)]
pub struct AccessToken {
    pub id: TokenId,
    pub person_id: PersonId,
    pub name: String,
    #[schema(value_type = Scope)]
    pub scope: Word<Scope>,
    pub made_at: UtcStamp,
    /// Absent: it holds until it is revoked.
    pub ends_at: Option<UtcStamp>,
    /// When it was last used, to about ten minutes.
    pub used_at: Option<UtcStamp>,
    pub revoked_at: Option<UtcStamp>,
}

/// A token to make.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAccessToken {
    /// What it is for.
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
    /// `read`: GET alone. `work`: what you may, but no people, shops, tokens,
    /// code lists, audit. `all`: what you may.
    pub scope: Scope,
    pub ends_at: Option<UtcStamp>,
}

/// A token that was made. Its text is told once; the record keeps its hash.
#[derive(Serialize, utoipa::ToSchema)]
pub struct MadeAccessToken {
    /// Send it as `Authorization: Bearer ...`.
    pub token: String,
    #[serde(flatten)]
    pub kept: AccessToken,
}

impl NewAccessToken {
    /// Checks the fields.
    ///
    /// # Errors
    /// The faults.
    pub fn parse(self, now: UtcStamp) -> Result<Self, Vec<FieldFault>> {
        let mut faults = Vec::new();
        let name = text::required("name", &self.name, 100).unwrap_or_else(|fault| {
            faults.push(fault);
            String::new()
        });
        if self.ends_at.is_some_and(|ends| ends <= now) {
            faults.push(FieldFault::new("ends_at", "past", "choose a time to come, or none"));
        }
        if faults.is_empty() { Ok(Self { name, ..self }) } else { Err(faults) }
    }
}

/// Makes a token of the person.
///
/// # Errors
/// Where the database does not answer.
pub fn make(
    conn: &mut Conn,
    owner: &Person,
    new: &NewAccessToken,
    now: UtcStamp,
) -> Answer<MadeAccessToken> {
    let token = secret("onetrip_")?;
    let kept = AccessToken {
        id: TokenId::make(),
        person_id: owner.id.clone(),
        name: new.name.clone(),
        scope: Word(new.scope),
        made_at: now,
        ends_at: new.ends_at,
        used_at: None,
        revoked_at: None,
    };
    diesel::insert_into(access_token::table)
        .values((
            access_token::id.eq(&kept.id),
            access_token::group_id.eq(&owner.group_id),
            access_token::person_id.eq(&kept.person_id),
            access_token::name.eq(&kept.name),
            access_token::scope.eq(kept.scope),
            access_token::token_hash.eq(digest(token.as_bytes())),
            access_token::made_at.eq(kept.made_at),
            access_token::ends_at.eq(kept.ends_at),
        ))
        .execute(conn)?;
    Ok(MadeAccessToken { token, kept })
}

/// A person's tokens, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn of_person(conn: &mut Conn, owner: &PersonId) -> Answer<Vec<AccessToken>> {
    Ok(access_token::table
        .filter(access_token::person_id.eq(owner))
        .order(access_token::id.desc())
        .select(AccessToken::as_select())
        .load(conn)?)
}

/// The tokens of a group, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn of_group(conn: &mut Conn, group: &GroupId) -> Answer<Vec<AccessToken>> {
    Ok(access_token::table
        .filter(access_token::group_id.eq(group))
        .order(access_token::id.desc())
        .select(AccessToken::as_select())
        .load(conn)?)
}

/// One token of the group that still stands.
///
/// # Errors
/// Not found, also where it is revoked.
pub fn standing(conn: &mut Conn, group: &GroupId, id: &TokenId) -> Answer<AccessToken> {
    Ok(access_token::table
        .filter(access_token::group_id.eq(group).and(access_token::id.eq(id)))
        .filter(access_token::revoked_at.is_null())
        .select(AccessToken::as_select())
        .first(conn)?)
}

/// Revokes a token; it stays in the list.
///
/// # Errors
/// Where the database does not answer.
pub fn revoke(conn: &mut Conn, id: &TokenId, by: &PersonId, now: UtcStamp) -> Answer<()> {
    diesel::update(access_token::table.find(id))
        .set((access_token::revoked_at.eq(now), access_token::revoked_by.eq(by)))
        .execute(conn)?;
    Ok(())
}

/// Revokes every token of the person.
///
/// # Errors
/// Where the database does not answer.
pub fn revoke_all(conn: &mut Conn, owner: &PersonId, by: &PersonId, now: UtcStamp) -> Answer<()> {
    let standing = access_token::person_id.eq(owner).and(access_token::revoked_at.is_null());
    diesel::update(access_token::table.filter(standing))
        .set((access_token::revoked_at.eq(now), access_token::revoked_by.eq(by)))
        .execute(conn)?;
    Ok(())
}

/// Who holds the token, where it stands and the person still works here.
///
/// # Errors
/// Where the database does not answer.
pub fn holder(conn: &mut Conn, token_hash: String, now: UtcStamp) -> Answer<Option<Asker>> {
    type Found = (Person, Word<Scope>, Option<UtcStamp>, Option<UtcStamp>);
    let found: Option<Found> = access_token::table
        .inner_join(person::table.on(person::id.eq(access_token::person_id)))
        .filter(access_token::token_hash.eq(&token_hash))
        .filter(access_token::revoked_at.is_null())
        .filter(access_token::ends_at.is_null().or(access_token::ends_at.gt(now)))
        .filter(person::active.eq(true))
        .select((
            Person::as_select(),
            access_token::scope,
            access_token::used_at,
            access_token::ends_at,
        ))
        .first(conn)
        .optional()?;
    let Some((person, scope, used_at, ends_at)) = found else { return Ok(None) };
    let grants = grants(conn, &person.id)?;
    let way = Way::Token(scope.0);
    let form_token = String::new();
    let opened_at = None;
    Ok(Some(Asker { person, grants, form_token, way, token_hash, used_at, ends_at, opened_at }))
}

/// Notes that the token is in use.
///
/// # Errors
/// Where the database does not answer.
pub fn touch(conn: &mut Conn, token_hash: &str, now: UtcStamp) -> Answer<()> {
    diesel::update(access_token::table.filter(access_token::token_hash.eq(token_hash)))
        .set(access_token::used_at.eq(now))
        .execute(conn)?;
    Ok(())
}

/// What the changes say of a token.
#[derive(Serialize)]
struct Noted<'a> {
    person_id: &'a PersonId,
    name: &'a str,
    scope: Scope,
    ends_at: Option<UtcStamp>,
}

/// Notes a token in each of the shops: it opens them all. They are locked in
/// the order of their numbers, so that two such writes never wait in a ring.
///
/// # Errors
/// Where the database does not answer.
pub fn note(
    conn: &mut Conn,
    shops: &[Shop],
    by: &PersonId,
    token: &AccessToken,
    ended: bool,
    now: UtcStamp,
) -> Answer<()> {
    let noted = Noted {
        person_id: &token.person_id,
        name: &token.name,
        scope: token.scope.0,
        ends_at: token.ends_at,
    };
    in_each(conn, shops, by, now, |write| {
        let about = About::new("token", &token.id);
        if ended {
            write.note(&about, "ended", Some(&noted), None)
        } else {
            write.note(&about, "added", None, Some(&noted))
        }
    })
}

/// Writes to each of the shops, in the order of their numbers.
///
/// # Errors
/// What `work` answers.
pub fn in_each(
    conn: &mut Conn,
    shops: &[Shop],
    by: &PersonId,
    now: UtcStamp,
    work: impl Fn(&mut ShopWrite<'_>) -> Answer<()>,
) -> Answer<()> {
    let mut in_order: Vec<&Shop> = shops.iter().collect();
    in_order.sort_by_key(|shop| shop.id);
    for shop in in_order {
        work(&mut ShopWrite::begin(conn, shop, by, now)?)?;
    }
    Ok(())
}
