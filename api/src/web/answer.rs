//! Answers with their headers, and effects that happen once however often they
//! are asked for.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header;
use diesel::prelude::*;
use serde::Serialize;

use super::ctx::Ctx;
use crate::db::schema::idempotency_key;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::PersonId;
use crate::domain::refusal::Refusal;
use crate::domain::role::Permission;
use crate::problem::{Kind, Problem};
use crate::shops::write::ShopWrite;

/// What a write made.
pub struct Made<T> {
    pub status: u16,
    pub body: T,
    pub location: Option<String>,
    pub version: Option<i32>,
}

impl<T> Made<T> {
    /// 201 with the address of what was made.
    pub fn created(location: String, version: i32, body: T) -> Self {
        Self { status: 201, body, location: Some(location), version: Some(version) }
    }

    /// 200 with the new state.
    pub fn done(version: i32, body: T) -> Self {
        Self { status: 200, body, location: None, version: Some(version) }
    }
}

/// A stored answer.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = idempotency_key)]
struct Stored {
    request_hash: String,
    status: i32,
    location: Option<String>,
    etag: Option<String>,
    body: String,
}

/// A list's page.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Page<T> {
    pub items: Vec<T>,
    /// Give it as `cursor` for the next page; absent on the last.
    pub next_cursor: Option<String>,
}

/// 200 with a JSON body.
pub fn ok<T: Serialize>(body: &T) -> HttpResponse {
    HttpResponse::Ok().json(body)
}

/// 200 with a JSON body and its version as the ETag.
pub fn versioned<T: Serialize>(version: i32, body: &T) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::ETAG, tag(version))).json(body)
}

fn tag(version: i32) -> String {
    format!("\"{version}\"")
}

fn replay(stored: Stored) -> HttpResponse {
    let status = u16::try_from(stored.status)
        .ok()
        .and_then(|code| StatusCode::from_u16(code).ok())
        .unwrap_or(StatusCode::OK);
    let mut answer = HttpResponse::build(status);
    if let Some(location) = stored.location {
        answer.insert_header((header::LOCATION, location));
    }
    if let Some(etag) = stored.etag {
        answer.insert_header((header::ETAG, etag));
    }
    answer.content_type("application/json").body(stored.body)
}

/// The place of a key: whose, on which route.
#[derive(Clone)]
struct Place {
    person: PersonId,
    route: String,
    key: String,
    request_hash: String,
}

fn look_up(conn: &mut Conn, place: &Place) -> Answer<Option<Stored>> {
    let found: Option<Stored> = idempotency_key::table
        .find((&place.person, &place.route, &place.key))
        .select(Stored::as_select())
        .first(conn)
        .optional()?;
    match found {
        Some(stored) if stored.request_hash != place.request_hash => Err(Refusal::KeyReused.into()),
        other => Ok(other),
    }
}

/// A tablet may sleep over a holiday: so long an answer is kept for a request that
/// comes again.
const KEPT_DAYS: i64 = 30;

/// Forgets answers that nobody asks for any more; tells how many.
///
/// # Errors
/// Where the database does not answer.
pub fn forget_old(conn: &mut Conn, now: UtcStamp) -> Answer<usize> {
    let oldest = UtcStamp::new(now.utc() - chrono::Duration::days(KEPT_DAYS));
    let old = idempotency_key::table.filter(idempotency_key::created_at.lt(oldest));
    Ok(diesel::delete(old).execute(conn)?)
}

fn keep<T: Serialize>(
    conn: &mut Conn,
    place: &Place,
    made: &Made<T>,
    now: UtcStamp,
) -> Answer<Stored> {
    let stored = Stored {
        request_hash: place.request_hash.clone(),
        status: i32::from(made.status),
        location: made.location.clone(),
        etag: made.version.map(tag),
        body: serde_json::to_string(&made.body)
            .map_err(|error| crate::db::Fault::Unavailable(error.to_string()))?,
    };
    diesel::insert_into(idempotency_key::table)
        .values((
            idempotency_key::person_id.eq(&place.person),
            idempotency_key::route.eq(&place.route),
            idempotency_key::key.eq(&place.key),
            idempotency_key::request_hash.eq(&stored.request_hash),
            idempotency_key::status.eq(stored.status),
            idempotency_key::location.eq(&stored.location),
            idempotency_key::etag.eq(&stored.etag),
            idempotency_key::body.eq(&stored.body),
            idempotency_key::created_at.eq(now),
        ))
        .execute(conn)?;
    Ok(stored)
}

impl Ctx {
    fn place(&self, request_hash: &str) -> Result<Place, Problem> {
        let key = self.key.as_deref().map(str::trim).unwrap_or("");
        if key.is_empty() {
            return Err(Problem::new(
                Kind::KEY_MISSING,
                "send an Idempotency-Key header with a new UUID for each thing you do",
            ));
        }
        if key.len() > 255 {
            return Err(Problem::new(
                Kind::BAD_REQUEST,
                "an Idempotency-Key has at most 255 bytes",
            ));
        }
        Ok(Place {
            person: self.asker().person.id.clone(),
            route: self.route.clone(),
            key: key.to_owned(),
            request_hash: request_hash.to_owned(),
        })
    }

    /// Writes to the shop at most once per key: a twin waits for its turn and
    /// gets the stored answer. The key's row stands or falls with the effect.
    ///
    /// # Errors
    /// Key missing, key reused, or what `work` answers.
    pub async fn once<T, F>(&self, request_hash: &str, work: F) -> Result<HttpResponse, Problem>
    where
        T: Serialize,
        F: Fn(&mut ShopWrite<'_>) -> Answer<Made<T>> + Send + 'static,
    {
        let place = self.place(request_hash)?;
        let shop = self.shop()?.clone();
        let (now, corrects) = (self.now, self.may(Permission::Correct));
        let stored = self
            .keep(move |conn| {
                // The number comes first, since it locks the shop: a twin that is
                // under way has ended when the key is looked up.
                let mut write = ShopWrite::begin(conn, &shop, &place.person, now)?;
                if let Some(stored) = look_up(write.conn, &place)? {
                    write.give_back()?;
                    return Ok(stored);
                }
                write.corrects = corrects;
                let made = work(&mut write)?;
                keep(conn, &place, &made, now)
            })
            .await?;
        Ok(replay(stored))
    }

    /// As [`Self::once`], for what belongs to the group and not to one shop.
    ///
    /// # Errors
    /// As there.
    pub async fn once_in_group<T, F>(
        &self,
        request_hash: &str,
        work: F,
    ) -> Result<HttpResponse, Problem>
    where
        T: Serialize,
        F: Fn(&mut Conn) -> Answer<Made<T>> + Send + 'static,
    {
        let place = self.place(request_hash)?;
        let now = self.now;
        let stored = self
            .keep(move |conn| {
                if let Some(stored) = look_up(conn, &place)? {
                    return Ok(stored);
                }
                let made = work(conn)?;
                keep(conn, &place, &made, now)
            })
            .await?;
        Ok(replay(stored))
    }
}
