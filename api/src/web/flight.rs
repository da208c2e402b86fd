//! Requests in flight: past so many the next is told to come again, at once, in
//! place of standing in a line that only grows. Whose body is still on its way is
//! not counted, so that slow senders take nobody's place.

use std::sync::atomic::{AtomicUsize, Ordering};

use actix_web::{HttpMessage, HttpRequest, web};

use crate::app::App;
use crate::problem::{Kind, Problem};

/// What those are told who find no place.
pub const FULL: &str = "too many requests at this moment";

/// How many are being answered.
#[derive(Default)]
pub struct Flight(AtomicUsize);

/// A request's place among them.
pub struct Seat(web::Data<App>);

impl Drop for Seat {
    fn drop(&mut self) {
        self.0.flight.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Takes a place for a request; whether the server lives and is ready is answered
/// without one.
///
/// # Errors
/// Unavailable, with when to come again.
pub fn board(req: &HttpRequest) -> Result<(), Problem> {
    let Some(app) = req.app_data::<web::Data<App>>() else { return Ok(()) };
    if matches!(req.path(), "/livez" | "/readyz") {
        return Ok(());
    }
    let before = app.flight.0.fetch_add(1, Ordering::Relaxed);
    // Given up again where it is refused.
    let seat = Seat(app.clone());
    if before >= app.most_requests {
        let mut problem = Problem::new(Kind::UNAVAILABLE, FULL);
        problem.retry_after_seconds = Some(1);
        return Err(problem);
    }
    req.extensions_mut().insert(seat);
    Ok(())
}

/// Gives the place up while a body arrives.
pub fn wait(req: &HttpRequest) {
    drop(req.extensions_mut().remove::<Seat>());
}
