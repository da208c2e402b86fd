//! The one way to the record from a handler: the asker, the shop of the
//! address, and the rights that the route's line demands.

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};

use crate::app::App;
use crate::auth::reach;
use crate::auth::session::{self, Asker, Kind};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::role::{Permission, Role};
use crate::problem::{self, Problem};
use crate::routes::{Access, Found};
use crate::shops::model::{self as shops, Shop};
use crate::shops::write::ShopWrite;
use crate::web::asked;
use crate::web::notice::Did;

/// The cookie of a page session.
pub const COOKIE: &str = "onetrip_session";

/// A request by somebody known, in a shop where the address names one.
pub struct Ctx {
    pub app: web::Data<App>,
    pub asker: Asker,
    /// The asker's roles: in the shop of the address, else all.
    pub roles: Vec<Role>,
    /// Shops of the group that the asker has a role in.
    pub shops: Vec<Shop>,
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
}

/// What the request says of itself, before anybody is looked up.
struct Sent {
    token: Option<String>,
    kind: Kind,
    /// Public id or, on pages, the shop's code.
    shop: Option<String>,
    names_shop: bool,
}

impl Sent {
    fn read(req: &HttpRequest, found: &Found) -> Self {
        let kind = if found.route.is_api() { Kind::Bearer } else { Kind::Page };
        let token = match kind {
            Kind::Bearer => bearer(req),
            Kind::Page => req.cookie(COOKIE).map(|c| c.value().to_owned()),
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

/// Who asks, with what that person may see and do here.
struct Known {
    asker: Asker,
    roles: Vec<Role>,
    shops: Vec<Shop>,
    shop: Option<Shop>,
}

fn look_up(conn: &mut Conn, sent: &Sent, now: UtcStamp) -> Answer<Result<Known, Problem>> {
    let not_signed_in = || Problem::new(problem::Kind::NOT_SIGNED_IN, "sign in, then try again");
    let Some(token) = sent.token.as_deref() else {
        return Ok(Err(not_signed_in()));
    };
    let Some(asker) = session::holder(conn, token, sent.kind, now)? else {
        return Ok(Err(not_signed_in()));
    };
    let of_group = shops::of_group(conn, &asker.person.group_id)?;
    let has = |shop: &Shop| roles_in(&asker, shop).next().is_some();
    let shops: Vec<Shop> = of_group.into_iter().filter(has).collect();
    if !sent.names_shop {
        let roles = asker.grants.iter().map(|(role, _)| *role).collect();
        return Ok(Ok(Known { asker, roles, shops, shop: None }));
    }
    let named = |shop: &&Shop| {
        let name = sent.shop.as_deref();
        match sent.kind {
            Kind::Bearer => name == Some(shop.public_id.as_str()),
            Kind::Page => name == Some(shop.code.as_str()),
        }
    };
    // Another shop is answered like one that does not exist.
    let Some(shop) = shops.iter().find(named).cloned() else {
        return Ok(Err(Problem::not_found()));
    };
    let roles = roles_in(&asker, &shop).collect();
    Ok(Ok(Known { asker, roles, shops, shop: Some(shop) }))
}

fn roles_in<'a>(asker: &'a Asker, shop: &'a Shop) -> impl Iterator<Item = Role> + 'a {
    asker.grants.iter().filter(|(_, at)| at.is_none_or(|id| id == shop.id)).map(|(role, _)| *role)
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
        let sent = Sent::read(req, found);
        let access = found.route.access;
        let now = app.clock.now();
        let db = app.db.clone();
        let known = web::block(move || db.read(|conn| look_up(conn, &sent, now))).await???;
        let ctx = Self {
            asker: known.asker,
            roles: known.roles,
            shops: known.shops,
            shop: known.shop,
            route: format!("{} {}", req.method(), req.path()),
            key: header_text(req, "idempotency-key"),
            if_match: header_text(req, "if-match"),
            dry_run: found.route.is_api() && asked::dry_run(req),
            did: Did::of(req),
            now,
            app,
        };
        req.extensions_mut().insert(crate::web::page::Viewer::of(&ctx));
        if let Some(why) = reach::refusal(ctx.asker.way, req.method().as_str(), access) {
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
        if self.asker.used_at.is_some_and(|used| now.minutes_since(used) < 10) {
            return;
        }
        let (way, hash) = (self.asker.way, self.asker.token_hash.clone());
        let noted = self.app.db.write(move |conn| session::note_use(conn, way, &hash, now)).await;
        if noted.is_err() {
            tracing::warn!("the use of a session could not be noted");
        }
    }

    /// Whether one of the asker's roles here may do it.
    #[must_use]
    pub fn may(&self, what: Permission) -> bool {
        self.roles.iter().any(|role| role.may(what))
    }

    /// The shops in which one of the asker's roles may do it.
    #[must_use]
    pub fn shops_where(&self, what: Permission) -> Vec<Shop> {
        let may = |shop: &&Shop| roles_in(&self.asker, shop).any(|role| role.may(what));
        self.shops.iter().filter(may).cloned().collect()
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

    /// Reads one moment of the shop's record.
    ///
    /// # Errors
    /// What `work` answers, as a problem.
    pub async fn read<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: FnOnce(&mut Conn, &Shop) -> Answer<T> + Send + 'static,
    {
        let db = self.app.db.clone();
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
        let person = self.asker.person.id.clone();
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
        if self.dry_run { self.app.db.rehearse(work).await } else { self.app.db.write(work).await }
    }
}

fn header_text(req: &HttpRequest, name: &str) -> Option<String> {
    req.headers().get(name)?.to_str().ok().map(str::to_owned)
}
