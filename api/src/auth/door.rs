//! The two doors: name and password, and a PIN on an enrolled tablet. Neither
//! tells who is known: whatever does not fit gets one answer, after the same
//! work.

use std::sync::atomic::{AtomicUsize, Ordering};

use actix_web::web;

use super::session::{self, Device, Kind, NewSession};
use super::{password, tablet, throttle};
use crate::app::App;
use crate::db::Fault;
use crate::domain::ids::{PersonId, TabletId};
use crate::people::model as people;
use crate::problem::{self, Problem};

/// Those who may wait for a turn: some seconds of hashing.
const MOST_WAITING: usize = 32;

/// Waits for a turn: hashing takes a core.
///
/// # Errors
/// Unavailable, where too many wait already or the server stops.
pub async fn hashing_turn(app: &App) -> Result<tokio::sync::SemaphorePermit<'_>, Problem> {
    /// Goes out of the line, even where whoever waits has hung up.
    struct Waits<'a>(&'a AtomicUsize);
    impl Drop for Waits<'_> {
        fn drop(&mut self) {
            self.0.fetch_sub(1, Ordering::Relaxed);
        }
    }
    let before = app.hashing_waits.fetch_add(1, Ordering::Relaxed);
    let _waits = Waits(&app.hashing_waits);
    if before >= MOST_WAITING {
        let mut problem =
            Problem::new(problem::Kind::UNAVAILABLE, "too many people sign in at this moment");
        problem.retry_after_seconds = Some(2);
        return Err(problem);
    }
    let turn = app.hashing.acquire().await;
    turn.map_err(|_| Problem::new(problem::Kind::UNAVAILABLE, "the server is stopping"))
}

/// Hashes a new password or PIN off the async threads.
///
/// # Errors
/// Where the hash cannot be made.
pub async fn hashed(app: &App, secret: String) -> Result<String, Problem> {
    let _turn = hashing_turn(app).await?;
    let hash = web::block(move || password::hash(&secret)).await?;
    hash.map_err(|why| Problem::new(problem::Kind::INTERNAL, why))
}

/// Opens a session with name and password.
///
/// # Errors
/// Not signed in; too many tries.
pub async fn by_password(
    app: &App,
    sign_in_name: &str,
    secret: String,
    kind: Kind,
    device: Device,
) -> Result<NewSession, Problem> {
    let now = app.clock.now();
    let name = sign_in_name.trim().to_lowercase();
    let tries = format!("name:{name}");
    throttle::admit(&app.tries, &tries, now)?;
    let _turn = hashing_turn(app).await?;
    let db = app.db.clone();
    let found = web::block(move || {
        let person = db.read(|conn| people::by_sign_in(conn, &name))?;
        let active = person.filter(|p| p.active);
        let hash = active.as_ref().and_then(|p| p.password_hash.as_deref());
        let fits = password::fits(&secret, hash);
        Ok::<_, Fault>(active.filter(|_| fits))
    })
    .await??;
    let Some(person) = found else {
        return Err(Problem::new(problem::Kind::NOT_SIGNED_IN, "name or password is wrong"));
    };
    throttle::forget(&app.tries, &tries);
    Ok(app.db.write(move |conn| session::open(conn, &person.id, kind, &device, now)).await?)
}

/// Opens a page session with a PIN, on a tablet of the shop.
///
/// # Errors
/// Not signed in; too many tries for the person or for the tablet.
pub async fn by_pin(
    app: &App,
    shop_id: i32,
    at: TabletId,
    who: Option<PersonId>,
    pin: String,
    device: Device,
) -> Result<NewSession, Problem> {
    let now = app.clock.now();
    let named = who.as_ref().map_or("nobody", PersonId::as_str);
    let keys = [format!("pin:{at}"), format!("pin:{at}:{named}")];
    for key in &keys {
        throttle::admit(&app.known_tries, key, now)?;
    }
    let _turn = hashing_turn(app).await?;
    let db = app.db.clone();
    let found = web::block(move || {
        let people = db.read(|conn| tablet::people(conn, shop_id))?;
        let person = people.into_iter().find(|person| Some(&person.id) == who.as_ref());
        let hash = person.as_ref().and_then(|p| p.pin_hash.as_deref());
        let fits = password::fits(&pin, hash);
        Ok::<_, Fault>(person.filter(|_| fits))
    })
    .await??;
    let Some(person) = found else {
        return Err(Problem::new(problem::Kind::NOT_SIGNED_IN, "name or PIN is wrong"));
    };
    for key in &keys {
        throttle::forget(&app.known_tries, key);
    }
    let device = device.on(at.clone());
    let opened = app.db.write(move |conn| {
        tablet::touch(conn, shop_id, &at, now)?;
        session::open(conn, &person.id, Kind::Page, &device, now)
    });
    Ok(opened.await?)
}
