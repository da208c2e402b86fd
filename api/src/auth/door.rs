//! The two doors: name and password, and a PIN on an enrolled tablet. Neither
//! tells who is known: whatever does not fit gets one answer, after the same
//! work.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use actix_web::{HttpRequest, web};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::session::{self, Device, Kind, NewSession};
use super::{cookie, device as known, password, tablet, throttle};
use crate::app::App;
use crate::db::Fault;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, TabletId};
use crate::log;
use crate::people::model::{self as people, Person};
use crate::problem::{self, Problem};

/// Those who may wait for a turn: some seconds of hashing.
const MOST_WAITING: usize = 32;

/// A line of those who wait to have something hashed, one at a time: it takes a
/// core and the memory that a hash costs. Strangers stand in one of their own, so
/// that a flood of them holds up nobody who was here before.
pub struct Line {
    turn: Arc<Semaphore>,
    waiting: AtomicUsize,
}

impl Default for Line {
    fn default() -> Self {
        Self { turn: Arc::new(Semaphore::new(1)), waiting: AtomicUsize::new(0) }
    }
}

impl Line {
    /// Waits for a turn. It goes along with the work: who hangs up meanwhile does
    /// not end that, and the next must not begin beside it.
    ///
    /// # Errors
    /// Unavailable, where too many wait already or the server stops.
    pub async fn turn(&self) -> Result<OwnedSemaphorePermit, Problem> {
        /// Goes out of the line, even where whoever waits has hung up.
        struct Waits<'a>(&'a AtomicUsize);
        impl Drop for Waits<'_> {
            fn drop(&mut self) {
                self.0.fetch_sub(1, Ordering::Relaxed);
            }
        }
        let before = self.waiting.fetch_add(1, Ordering::Relaxed);
        let _waits = Waits(&self.waiting);
        if before >= MOST_WAITING {
            let mut problem =
                Problem::new(problem::Kind::UNAVAILABLE, "too many people sign in at this moment");
            problem.retry_after_seconds = Some(2);
            return Err(problem);
        }
        let turn = Arc::clone(&self.turn).acquire_owned().await;
        turn.map_err(|_| Problem::new(problem::Kind::UNAVAILABLE, "the server is stopping"))
    }
}

/// Hashes a new password or PIN off the async threads.
///
/// # Errors
/// Where the hash cannot be made.
pub async fn hashed(app: &App, secret: String) -> Result<String, Problem> {
    let (turn, cost) = (app.hashing.turn().await?, app.cost);
    let work = move || {
        let _turn = turn;
        password::hash(&secret, cost)
    };
    let hash = web::block(work).await?;
    hash.map_err(|why| Problem::new(problem::Kind::INTERNAL, why))
}

/// Counts a try under each of the keys.
///
/// # Errors
/// Too many tries.
pub async fn admit(app: &App, keys: &[String], now: UtcStamp) -> Result<(), Problem> {
    let keys = keys.to_vec();
    let wait = app.db.write(move |conn| throttle::admit(conn, &keys, now)).await?;
    wait.map_or(Ok(()), |seconds| Err(throttle::too_many(seconds)))
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
    let (now, from) = (app.clock.now(), device.from);
    let name = sign_in_name.trim().to_lowercase();
    let key = tries_of(app, &name, &device, now).await?;
    let held = |_: &Problem| log::kept_out(None, "password", from, "too-many-tries");
    if key.is_none() {
        app.addresses.admit(from).inspect_err(held)?;
    }
    let line = if key.is_some() { &app.hashing } else { &app.strangers };
    let keys = vec![key.unwrap_or_else(|| format!("name:{name}"))];
    let turn = line.turn().await?;
    admit(app, &keys, now).await.inspect_err(held)?;
    let (db, cost) = (app.db.clone(), app.cost);
    let found = web::block(move || {
        let _turn = turn;
        let person = db.read(|conn| people::by_sign_in(conn, &name))?;
        let hash = person.as_ref().filter(|p| p.active).and_then(|p| p.password_hash.as_deref());
        let fits = password::fits(&secret, hash, cost);
        // Made also where the password was wrong: else a name with a hash of before
        // would be told by how soon it is answered.
        let cheaper = hash.filter(|hash| password::is_cheaper(hash, cost));
        let anew = cheaper.and_then(|_| password::hash(&secret, cost).ok());
        Ok::<_, Fault>((person, fits, anew))
    })
    .await??;
    let (person, anew) = match found {
        (Some(person), true, anew) => (person, anew),
        (known, ..) => {
            let who = known.as_ref().map(|person| &person.id);
            log::kept_out(who, "password", from, "wrong");
            return Err(Problem::new(problem::Kind::NOT_SIGNED_IN, "name or password is wrong"));
        }
    };
    enter(app, person, Entry { way: "password", keys, kind, device, anew }, now).await
}

/// The key of tries with a browser that the person has signed in with before.
async fn tries_of(
    app: &App,
    name: &str,
    device: &Device,
    now: UtcStamp,
) -> Result<Option<String>, Problem> {
    let Some(token) = device.known.clone() else { return Ok(None) };
    let (db, name) = (app.db.clone(), name.to_owned());
    let key = move || {
        db.read(|conn| {
            let Some(person) = people::by_sign_in(conn, &name)? else { return Ok(None) };
            let knows = known::knows(conn, &token, &person.id, now)?;
            Ok(knows.then(|| format!("device:{token}:{}", person.id)))
        })
    };
    Ok(web::block(key).await??)
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
    let keys = vec![format!("pin:{at}"), format!("pin:{at}:{named}")];
    let turn = app.hashing.turn().await?;
    let held = |_: &Problem| log::kept_out(None, "pin", device.from, "too-many-tries");
    admit(app, &keys, now).await.inspect_err(held)?;
    let (db, cost) = (app.db.clone(), app.cost);
    let found = web::block(move || {
        let _turn = turn;
        let people = db.read(|conn| tablet::people(conn, shop_id))?;
        let person = people.into_iter().find(|person| Some(&person.id) == who.as_ref());
        let hash = person.as_ref().and_then(|p| p.pin_hash.as_deref());
        let fits = password::fits(&pin, hash, cost);
        Ok::<_, Fault>(if fits { Ok(person) } else { Err(person) })
    })
    .await??;
    let Ok(Some(person)) = found else {
        let known = found.err().flatten().map(|person| person.id);
        log::kept_out(known.as_ref(), "pin", device.from, "wrong");
        return Err(Problem::new(problem::Kind::NOT_SIGNED_IN, "name or PIN is wrong"));
    };
    let device = device.on(at.clone());
    app.db.write(move |conn| tablet::touch(conn, shop_id, &at, now)).await?;
    let entry = Entry { way: "pin", keys, kind: Kind::Page, device, anew: None };
    enter(app, person, entry, now).await
}

/// Ends the session that the browser brought along: whoever was in before is out,
/// and no token is carried over into what is opened now.
///
/// # Errors
/// Where the record does not answer.
pub async fn end_before(app: &App, req: &HttpRequest) -> Result<(), Problem> {
    let Some(before) = cookie::sent(req, cookie::session_name(req, app)) else { return Ok(()) };
    let hash = session::digest(before.as_bytes());
    Ok(app.db.write(move |conn| session::close(conn, &hash)).await?)
}

/// How somebody has proved who it is.
struct Entry {
    way: &'static str,
    /// Tries to forget.
    keys: Vec<String>,
    kind: Kind,
    device: Device,
    /// The password's hash at what one costs now.
    anew: Option<String>,
}

/// Opens the session of somebody who has proved who it is.
async fn enter(
    app: &App,
    person: Person,
    entry: Entry,
    now: UtcStamp,
) -> Result<NewSession, Problem> {
    let (who, from, way) = (person.id.clone(), entry.device.from, entry.way);
    let opened = app.db.write(move |conn| {
        let Entry { keys, kind, device, anew, .. } = &entry;
        throttle::forget(conn, keys)?;
        if let Some((before, hash)) = person.password_hash.as_ref().zip(anew.as_ref()) {
            people::put_hash_anew(conn, &person.id, before, hash)?;
        }
        let mut opened = session::open(conn, &person.id, *kind, device, now)?;
        // On a tablet people come in with a PIN, programs keep no cookies.
        if *kind == Kind::Page && !device.is_tablet() {
            opened.device = Some(known::note(conn, device.known.as_deref(), &person.id, now)?);
        }
        Ok(opened)
    });
    let opened = opened.await?;
    log::came_in(&who, way, from);
    Ok(opened)
}
