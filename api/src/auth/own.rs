//! What somebody does with the own ways in: password, PIN, tokens, sessions.

use actix_web::web;

use super::token::{self, AccessToken, MadeAccessToken, NewAccessToken, in_each};
use super::{door, password, pin, session, sessions, throttle};
use crate::db::{Answer, Conn};
use crate::domain::ids::TokenId;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::log;
use crate::people::account::note_changed;
use crate::people::model::{self as people, Person};
use crate::problem::Problem;
use crate::web::ctx::Ctx;

/// Proves that the one who asks knows the password: a session that was left
/// open is not enough for what opens doors. Guessing waits as at sign-in.
async fn prove(ctx: &Ctx, field: &str, secret: String) -> Result<(), Problem> {
    let app = &ctx.app;
    let keys = vec![format!("own:{}", ctx.asker().person.id)];
    door::admit(app, &keys, ctx.now).await?;
    let hash = ctx.asker().person.password_hash.clone();
    let fits = {
        let (turn, cost) = (app.hashing.turn().await?, app.cost);
        let work = move || {
            let _turn = turn;
            password::fits(&secret, hash.as_deref(), cost)
        };
        web::block(work).await?
    };
    if !fits {
        log::kept_out(Some(&ctx.asker().person.id), "own password", ctx.from, "wrong");
        let fault = FieldFault::new(field, "wrong", "this is not your password");
        return Err(Problem::invalid(vec![fault]));
    }
    Ok(app.db.write(move |conn| throttle::forget(conn, &keys)).await?)
}

/// Writes the person's row as it is to be, and notes it in every shop.
async fn keep(
    ctx: &Ctx,
    change: impl Fn(&mut Person) + Send + 'static,
    ends: impl Fn(&mut Conn) -> Answer<()> + Send + 'static,
) -> Result<(), Problem> {
    let (before, shops, now) = (ctx.asker().person.clone(), ctx.shops().to_vec(), ctx.now);
    let kept = ctx.app.db.write(move |conn| {
        let mut after = before.clone();
        after.version += 1;
        change(&mut after);
        people::put(conn, &after)?;
        ends(conn)?;
        in_each(conn, &shops, &before.id, now, |write| note_changed(write, &before, &after))
    });
    Ok(kept.await?)
}

/// Changes the own password; every other session of the person ends.
///
/// # Errors
/// Faults in what was sent; too many tries.
pub async fn change_password(ctx: &Ctx, old: String, new: String) -> Result<(), Problem> {
    let person = &ctx.asker().person;
    let own = [&*person.name, person.sign_in_name.as_deref().unwrap_or_default()];
    password::acceptable(&new, password::of_shops(ctx.shops()).chain(own)).map_err(|fault| {
        Problem::invalid(vec![FieldFault { pointer: "/new_password".to_owned(), ..fault }])
    })?;
    if old == new {
        let fault = FieldFault::new("new_password", "same", "choose another one than before");
        return Err(Problem::invalid(vec![fault]));
    }
    prove(ctx, "old_password", old).await?;
    let hash = door::hashed(&ctx.app, new).await?;
    let (person, current) = (ctx.asker().person.id.clone(), ctx.asker().token_hash.clone());
    keep(
        ctx,
        move |row| row.password_hash = Some(hash.clone()),
        move |conn| sessions::end_all(conn, &person, Some(&current)),
    )
    .await?;
    log::done(&ctx.asker().person.id, "password", ctx.from);
    Ok(())
}

/// Sets the own PIN; what was opened with the one before ends.
///
/// # Errors
/// As there.
pub async fn set_pin(ctx: &Ctx, secret: String, new: String) -> Result<(), Problem> {
    pin::acceptable(&new).map_err(|fault| Problem::invalid(vec![fault]))?;
    prove(ctx, "password", secret).await?;
    let hash = door::hashed(&ctx.app, new).await?;
    let person = ctx.asker().person.id.clone();
    keep(
        ctx,
        move |row| row.pin_hash = Some(hash.clone()),
        move |conn| sessions::end_by_pin(conn, &person),
    )
    .await?;
    log::done(&ctx.asker().person.id, "pin", ctx.from);
    Ok(())
}

/// Makes a token of the asker.
///
/// # Errors
/// Faults in what was sent.
pub async fn make_token(ctx: &Ctx, new: NewAccessToken) -> Result<MadeAccessToken, Problem> {
    let new = new.parse(ctx.now).map_err(Problem::invalid)?;
    let (owner, shops, now) = (ctx.asker().person.clone(), ctx.shops().to_vec(), ctx.now);
    let made = ctx.app.db.write(move |conn| {
        let made = token::make(conn, &owner, &new, now)?;
        token::note(conn, &shops, &owner.id, &made.kept, false, now)?;
        Ok(made)
    });
    Ok(made.await?)
}

/// Revokes a token: the asker's own, or with `any` one of the whole group.
///
/// # Errors
/// Not found.
pub async fn revoke_token(ctx: &Ctx, id: TokenId, any: bool) -> Result<(), Problem> {
    let (asker, shops, now) = (ctx.asker().person.clone(), ctx.shops().to_vec(), ctx.now);
    let revoked = ctx.app.db.write(move |conn| {
        let found: AccessToken = token::standing(conn, &asker.group_id, &id)?;
        if !any && found.person_id != asker.id {
            return Err(Refusal::NotFound.into());
        }
        token::revoke(conn, &id, &asker.id, now)?;
        token::note(conn, &shops, &asker.id, &found, true, now)
    });
    Ok(revoked.await?)
}

/// Ends the session that asks.
///
/// # Errors
/// Where the record does not answer.
pub async fn sign_out(ctx: &Ctx) -> Result<(), Problem> {
    let hash = ctx.asker().token_hash.clone();
    ctx.app.db.write(move |conn| session::close(conn, &hash)).await?;
    log::done(&ctx.asker().person.id, "sign-out", ctx.from);
    Ok(())
}

/// Ends one of the asker's sessions or, without an id, all but this one.
///
/// # Errors
/// Not found.
pub async fn end_session(ctx: &Ctx, id: Option<String>) -> Result<(), Problem> {
    let (person, current) = (ctx.asker().person.id.clone(), ctx.asker().token_hash.clone());
    let ended = ctx.app.db.write(move |conn| match &id {
        Some(id) => sessions::end(conn, &person, id),
        None => sessions::end_all(conn, &person, Some(&current)),
    });
    Ok(ended.await?)
}

/// Ends one session of somebody in the asker's group.
///
/// # Errors
/// Not found.
pub async fn end_session_of_group(ctx: &Ctx, id: String) -> Result<(), Problem> {
    let group = ctx.asker().person.group_id.clone();
    let ended = ctx.app.db.write(move |conn| sessions::end_in_group(conn, &group, &id));
    Ok(ended.await?)
}

/// Reads something that is the asker's own.
///
/// # Errors
/// Where the record does not answer.
pub async fn read<T: Send + 'static>(
    ctx: &Ctx,
    work: impl FnOnce(&mut Conn, &Person) -> Answer<T> + Send + 'static,
) -> Result<T, Problem> {
    let (db, person) = (ctx.app.db.clone(), ctx.asker().person.clone());
    Ok(web::block(move || db.read(|conn| work(conn, &person))).await??)
}
