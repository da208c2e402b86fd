//! The first account: whoever can read the server's console may make it, once, by
//! a link that ends soon. There is no password that the program came with.

use std::sync::{Mutex, PoisonError};

use chrono::TimeDelta;

use super::door;
use super::session::{self, Device, Kind, NewSession, digest, secret};
use crate::app::App;
use crate::db::{Answer, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::log;
use crate::people::model as people;
use crate::problem::Problem;
use crate::shops::model as shops;

/// How long the link is good, whichever way the clock is set meanwhile.
const MINUTES: i64 = 60;

/// The link's code; only its hash is kept, in memory: a new start makes a new one.
pub struct Link {
    hash: String,
    made_at: UtcStamp,
}

/// Where the link lies until it is used.
#[derive(Default)]
pub struct First(Mutex<Option<Link>>);

impl First {
    /// Makes the link where nobody can sign in yet, and answers its path.
    ///
    /// # Errors
    /// Where the record does not answer, or the machine has no random bytes.
    pub fn offer(&self, db: &Db, now: UtcStamp) -> Answer<Option<String>> {
        if db.read(people::anybody_signs_in)? {
            return Ok(None);
        }
        let code = secret("onetrip_first_")?;
        let link = Link { hash: digest(code.as_bytes()), made_at: now };
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(link);
        Ok(Some(format!("/first-account?code={code}")))
    }

    /// Whether the code is of a link that is good.
    pub fn knows(&self, code: &str, now: UtcStamp) -> bool {
        let held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        held.as_ref().is_some_and(|link| link.fits(code, now))
    }

    /// Takes the link away where the code fits: two that come at once are not two
    /// accounts.
    pub fn take(&self, code: &str, now: UtcStamp) -> Option<Link> {
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        held.take_if(|link| link.fits(code, now))
    }

    /// Puts back a link that was not used after all.
    pub fn put_back(&self, link: Link) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(link);
    }
}

impl Link {
    fn fits(&self, code: &str, now: UtcStamp) -> bool {
        let passed = (now.utc() - self.made_at.utc()).abs();
        digest(code.as_bytes()) == self.hash && passed < TimeDelta::minutes(MINUTES)
    }
}

/// The account to make.
pub struct New {
    pub name: String,
    pub sign_in: String,
    pub password: String,
}

/// Makes the account of an administrator where nobody can sign in yet, and signs
/// it in.
///
/// # Errors
/// A conflict where somebody can; the record does not answer.
pub async fn make(app: &App, new: New, device: Device) -> Result<NewSession, Problem> {
    let hash = door::hashed(app, new.password).await?;
    let (from, now) = (device.from, app.clock.now());
    let made = app.db.write(move |conn| {
        if people::anybody_signs_in(conn)? {
            return Err(Refusal::Conflict("somebody can sign in already".into()).into());
        }
        let group = shops::first_group(conn, "Group", now)?;
        let id = people::make(conn, &group, &new.name, Some((&new.sign_in, &hash)))?;
        people::grant(conn, &id, Role::Administrator, None)?;
        Ok((session::open(conn, &id, Kind::Page, &device, now)?, id))
    });
    let (session, id) = made.await?;
    log::came_in(&id, "first account", from);
    Ok(session)
}
