//! The one way to the record from a handler: the asker, the shop of the
//! address, and the rights that the route's line demands.

use std::net::IpAddr;
use std::sync::Arc;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};

use crate::app::App;
use crate::auth::cookie;
use crate::auth::known::{self, Known, roles_in};
use crate::auth::reach;
use crate::auth::session::{self, Asker, Kind, digest};
use crate::db::{Answer, Conn, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::PersonId;
use crate::domain::role::{Permission, Role};
use crate::problem::{self, Problem};
use crate::routes::{Access, Found};
use crate::shops::model::Shop;
use crate::shops::write::ShopWrite;
use crate::web::asked;
use crate::web::client;
use crate::web::notice::Did;

/// A request by somebody known, in a shop where the address names one.
pub struct Ctx {
    pub app: web::Data<App>,
    known: Arc<Known>,
    kind: Kind,
    /// When the use of the session or token was last noted.
    used_at: Option<UtcStamp>,
    /// The asker's roles: in the shop of the address, else all.
    pub roles: Vec<Role>,
    shop: Option<Shop>,
    /// Method and pattern, for idempotency keys.
    pub route: String,
    /// The `Idempotency-Key` header.
    pub key: Option<String>,
    if_match: Option<String>,
    /// Whether the request only asks what a write would answer.
    pub dry_run: bool,
    /// What the address says was just done.
    pub did: Option<Did>,
    pub now: UtcStamp,
    /// Where the request comes from.
    pub from: IpAddr,
}

/// Who asks, for the log.
pub struct Who(pub PersonId);

/// What was asked for is in a shop that is not the asker's, or in none.
pub struct OtherShop;

/// What the request says of itself, before anybody is looked up.
struct Sent {
    token: Option<String>,
    kind: Kind,
    /// Public id or, on pages, the shop's code.
    shop: Option<String>,
    names_shop: bool,
}

impl Sent {
    fn read(req: &HttpRequest, app: &App, found: &Found) -> Self {
        let kind = if found.route.is_api() { Kind::Bearer } else { Kind::Page };
        let token = match kind {
            Kind::Bearer => bearer(req),
            Kind::Page => cookie::sent(req, cookie::session_name(req, app)),
        };
        Self {
            token,
            kind,
            shop: found.shop.clone(),
            names_shop: found.route.path.contains("{shop}"),
        }
    }
}

fn bearer(req: &HttpRequest) -> Option<String> {
    let value = req.headers().get(header::AUTHORIZATION)?.to_str().ok()?;
    let (scheme, token) = value.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim().to_owned())
}

/// The shop that a request names, and the asker's roles there; without one all
/// roles. Another shop is answered like one that does not exist.
fn place(known: &Known, sent: &Sent) -> Result<(Option<Shop>, Vec<Role>), Problem> {
    if !sent.names_shop {
        return Ok((None, known.asker.grants.iter().map(|(role, _)| *role).collect()));
    }
    let name = sent.shop.as_deref();
    let named = |shop: &&Shop| match sent.kind {
        Kind::Bearer => name == Some(shop.public_id.as_str()),
        Kind::Page => name == Some(shop.code.as_str()),
    };
    let shop = known.shops.iter().find(named).ok_or_else(Problem::not_found)?;
    Ok((Some(shop.clone()), roles_in(&known.asker, shop).collect()))
}

/// Who holds the token: from memory where the record's stamp still stands, else
/// from the record.
async fn who_asks(
    app: &App,
    sent: &Sent,
    now: UtcStamp,
) -> Result<(Arc<Known>, Option<UtcStamp>), Problem> {
    let not_signed_in = || Problem::new(problem::Kind::NOT_SIGNED_IN, "sign in, then try again");
    let token = sent.token.as_deref().ok_or_else(not_signed_in)?;
    let (hash, kind) = (digest(token.as_bytes()), sent.kind);
    let stamp = app.db.glance(known::stamp).await?;
    if let Some(found) = app.lately.find(&hash, kind, stamp, now) {
        return Ok(found);
    }
    let (db, asked) = (app.db.clone(), hash.clone());
    let read = move || db.read(|conn| known::look_up(conn, &asked, kind, now));
    let (stamp, found) = web::block(read).await??;
    let known = Arc::new(found.ok_or_else(not_signed_in)?);
    app.lately.keep(&hash, kind, stamp, &known);
    let used_at = known.asker.used_at;
    Ok((known, used_at))
}

impl FromRequest for Ctx {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    /// Hands out what [`Ctx::of`] found before the request was routed: nothing
    /// of a body is read for somebody who may not send it.
    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        let known = req.extensions_mut().remove::<Self>();
        std::future::ready(
            known.ok_or_else(|| Problem::new(problem::Kind::INTERNAL, "nobody was looked up")),
        )
    }
}

impl Ctx {
    /// Looks up who asks, and refuses what the route's line does not allow.
    ///
    /// # Errors
    /// Not signed in, not found, forbidden, unavailable.
    pub async fn of(req: &HttpRequest, found: &Found) -> Result<Self, Problem> {
        let app = req
            .app_data::<web::Data<App>>()
            .cloned()
            .ok_or_else(|| Problem::new(problem::Kind::INTERNAL, "the server is not set up"))?;
        let sent = Sent::read(req, &app, found);
        let access = found.route.access;
        let now = app.clock.now();
        let (known, used_at) = who_asks(&app, &sent, now).await?;
        req.extensions_mut().insert(Who(known.asker.person.id.clone()));
        let (shop, roles) = place(&known, &sent).inspect_err(|_| {
            req.extensions_mut().insert(OtherShop);
        })?;
        let ctx = Self {
            known,
            kind: sent.kind,
            used_at,
            roles,
            shop,
            route: format!("{} {}", req.method(), req.path()),
            key: header_text(req, "idempotency-key"),
            if_match: header_text(req, "if-match"),
            dry_run: found.route.is_api() && asked::dry_run(req),
            did: Did::of(req),
            now,
            from: client::address(req),
            app,
        };
        if !found.route.is_api() {
            req.extensions_mut().insert(crate::web::page::Viewer::of(&ctx));
        }
        if let Some(why) = reach::refusal(ctx.asker().way, req.method().as_str(), access) {
            return Err(Problem::new(problem::Kind::FORBIDDEN, why));
        }
        if let Access::May(what) = access {
            ctx.demand(what)?;
        }
        ctx.note_use().await;
        Ok(ctx)
    }

    /// Moves the session's or token's last use, at most once in ten minutes:
    /// reading must not mean a write each time.
    async fn note_use(&self) {
        let now = self.now;
        // Also after a clock that was ahead: it would not be noted for as long.
        if self.used_at.is_some_and(|used| now.minutes_since(used).abs() < 10) {
            return;
        }
        let way = self.asker().way;
        let (hash, noted) = (self.asker().token_hash.clone(), self.asker().token_hash.clone());
        match self.app.db.write(move |conn| session::note_use(conn, way, &hash, now)).await {
            Ok(()) => self.app.lately.used(&noted, self.kind, now),
            Err(_) => tracing::warn!("the use of a session could not be noted"),
        }
    }

    /// Who asks.
    #[must_use]
    pub fn asker(&self) -> &Asker {
        &self.known.asker
    }

    /// Shops of the group that the asker has a role in.
    #[must_use]
    pub fn shops(&self) -> &[Shop] {
        &self.known.shops
    }

    /// Whether one of the asker's roles here may do it.
    #[must_use]
    pub fn may(&self, what: Permission) -> bool {
        self.roles.iter().any(|role| role.may(what))
    }

    /// The shops in which one of the asker's roles may do it.
    #[must_use]
    pub fn shops_where(&self, what: Permission) -> Vec<Shop> {
        let may = |shop: &&Shop| roles_in(self.asker(), shop).any(|role| role.may(what));
        self.shops().iter().filter(may).cloned().collect()
    }

    /// Refuses where no role may.
    ///
    /// # Errors
    /// Forbidden.
    pub fn demand(&self, what: Permission) -> Result<(), Problem> {
        if self.may(what) {
            return Ok(());
        }
        let roles: Vec<String> = self.roles.iter().map(|role| role.one()).collect();
        let who = if roles.is_empty() { "you".to_owned() } else { roles.join(" and ") };
        Err(Problem::new(problem::Kind::FORBIDDEN, format!("{who} may not do this here")))
    }

    /// The shop of the address.
    ///
    /// # Errors
    /// Not found where the address names none.
    pub fn shop(&self) -> Result<&Shop, Problem> {
        self.shop.as_ref().ok_or_else(Problem::not_found)
    }

    /// The version in `If-Match`.
    ///
    /// # Errors
    /// Version missing; stale where the tag is none of ours.
    pub fn seen_version(&self) -> Result<i32, Problem> {
        let Some(tag) = &self.if_match else {
            return Err(Problem::new(
                problem::Kind::VERSION_MISSING,
                "send the ETag of what you read in If-Match",
            ));
        };
        asked::version(tag).ok_or_else(|| {
            Problem::new(problem::Kind::STALE, "If-Match must be one ETag of this address")
        })
    }

    /// The record, as far as the address reaches: one shop's, or all.
    #[must_use]
    pub fn db(&self) -> Db {
        match &self.shop {
            Some(shop) => self.app.db.of_shop(shop.id),
            None => self.app.db.clone(),
        }
    }

    /// Reads one moment of the shop's record.
    ///
    /// # Errors
    /// What `work` answers, as a problem.
    pub async fn read<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: FnOnce(&mut Conn, &Shop) -> Answer<T> + Send + 'static,
    {
        let db = self.db();
        let shop = self.shop()?.clone();
        Ok(web::block(move || db.read(|conn| work(conn, &shop))).await??)
    }

    /// Writes to the shop's record under a new change number.
    ///
    /// # Errors
    /// What `work` answers, as a problem; then nothing is written.
    pub async fn write<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: Fn(&mut ShopWrite<'_>) -> Answer<T> + Send + 'static,
    {
        let shop = self.shop()?.clone();
        let person = self.asker().person.id.clone();
        let (now, corrects) = (self.now, self.may(Permission::Correct));
        let wrote = self
            .keep(move |conn| {
                let mut write = ShopWrite::begin(conn, &shop, &person, now)?;
                write.corrects = corrects;
                work(&mut write)
            })
            .await?;
        Ok(wrote)
    }

    /// Writes; in a dry run takes it back and answers the same.
    pub(super) async fn keep<T, F>(&self, work: F) -> Answer<T>
    where
        T: Send + 'static,
        F: Fn(&mut Conn) -> Answer<T> + Send + 'static,
    {
        let db = self.db();
        if self.dry_run { db.rehearse(work).await } else { db.write(work).await }
    }
}

fn header_text(req: &HttpRequest, name: &str) -> Option<String> {
    req.headers().get(name)?.to_str().ok().map(str::to_owned)
}
