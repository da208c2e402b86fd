//! A real browser (Chromium, by its driver) at the real server, on SQLite and
//! on PostgreSQL: every page by every role, and what people come to do there.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod adviser;
mod axe;
mod browser;
mod budget;
mod circle;
#[path = "../access/expected.rs"]
mod expected;
mod hostile;
mod look;
mod manager;
mod owner;
mod pictures;
mod refusals;
#[path = "../access/routes.rs"]
mod routes;
mod stage;
#[allow(
    dead_code,
    unused_imports,
    unused_macros,
    reason = "the black-box tests use the rest of it"
)]
#[path = "../support/mod.rs"]
mod support;
mod taps;
mod technician;
mod walk;
