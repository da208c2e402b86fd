//! How long a session lives, and that a dead one opens nothing.

use std::path::PathBuf;

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::json;

use crate::support::shops::{PASSWORD, visitor};
use crate::support::visit::{person, text};
use crate::support::{Client, Place, Server, Shops, now};

/// Shops whose server goes by a clock that the test moves.
struct Clocked {
    shops: Shops,
    file: PathBuf,
    began: DateTime<Utc>,
}

impl Clocked {
    fn serve(place: Place) -> Self {
        let file = std::env::temp_dir().join(format!("onetrip-clock-{}", uuid::Uuid::new_v4()));
        let began = now();
        std::fs::write(&file, began.to_rfc3339()).unwrap();
        let server = Server::with(&place, &["--clock-file", file.to_str().unwrap()]);
        Self { shops: Shops::served(place, server), file, began }
    }

    /// Sets the clock to so long after the beginning.
    fn set(&self, after: TimeDelta) {
        std::fs::write(&self.file, (self.began + after).to_rfc3339()).unwrap();
    }

    fn page(&self, name: &str) -> Client {
        visitor(self.shops.base(), name, PASSWORD)
    }

    fn program(&self, name: &str) -> Client {
        let body = json!({ "sign_in_name": name, "password": PASSWORD });
        let answer = self.shops.stranger().call("POST", "/api/v1/sessions").json(&body).send();
        let token = text(&answer.expect(200).json()["token"]).to_owned();
        self.shops.stranger().with("authorization", format!("Bearer {token}"))
    }
}

impl Drop for Clocked {
    fn drop(&mut self) {
        drop(std::fs::remove_file(&self.file));
    }
}

fn page_lives(page: &Client) -> bool {
    match page.get("/me").status {
        200 => true,
        303 => false,
        other => panic!("{other}"),
    }
}

fn program_lives(program: &Client) -> bool {
    match program.get("/api/v1/me").status {
        200 => true,
        401 => false,
        other => panic!("{other}"),
    }
}

fn sessions_end_whichever_way_the_clock_goes(clocked: &Clocked) {
    let (hours, days) = (TimeDelta::hours, TimeDelta::days);
    let (page, program) = (clocked.page("adviser.north"), clocked.program("adviser.north"));
    let lives = |after: TimeDelta, expected: (bool, bool)| {
        clocked.set(after);
        assert_eq!((page_lives(&page), program_lives(&program)), expected, "{after}");
    };
    lives(TimeDelta::zero(), (true, true));
    // A shift without use, and a shift counted from each use.
    lives(hours(11), (true, true));
    lives(hours(22), (true, true));
    lives(hours(35), (false, true));
    // Years ahead and back: what was opened before is where it was, what was
    // opened there is dead.
    lives(days(3650), (false, false));
    let (page_ahead, program_ahead) =
        (clocked.page("owner.riverside"), clocked.program("owner.riverside"));
    assert!(page_lives(&page_ahead) && program_lives(&program_ahead));
    clocked.set(hours(36));
    assert!(!page_lives(&page_ahead) && !program_lives(&program_ahead));
    // Signing in there has swept out all that were past their end by that clock.
    assert!(!program_lives(&program));
    // However often it is used, after a week it is over.
    let (page, program) = (clocked.page("manager.north"), clocked.program("manager.north"));
    for hour in (40..=200).step_by(8) {
        clocked.set(hours(hour));
        assert!(page_lives(&page) && program_lives(&program), "{hour}");
    }
    clocked.set(hours(36 + 7 * 24));
    assert!(!page_lives(&page) && !program_lives(&program));
    // A clock that goes back by an hour puts nobody out, one by years everybody.
    let (page, program) = (clocked.page("manager.north"), clocked.program("manager.north"));
    clocked.set(hours(35 + 7 * 24));
    assert!(page_lives(&page) && program_lives(&program));
    clocked.set(-days(3650));
    assert!(!page_lives(&page) && !program_lives(&program));
}

fn a_dead_session_opens_nothing(clocked: &Clocked) {
    let shops = &clocked.shops;
    let kept = |client: &Client| client.clone();
    // Signed out.
    let (page, program) = (clocked.page("adviser.north"), clocked.program("adviser.north"));
    let replayed = (kept(&page), kept(&program));
    let form_token = "SELECT form_token AS line FROM session WHERE kind = 'page'";
    let tokens = shops.place.lines(form_token);
    for token in &tokens {
        page.call("POST", "/sign-out").form(&[("form_token", token)]).send();
    }
    program.call("DELETE", "/api/v1/sessions/current").send().expect(204);
    assert!(!page_lives(&replayed.0) && !program_lives(&replayed.1));
    // Another password: the others end, the one that changed it goes on.
    let (page, other) = (clocked.page("technician.north"), clocked.program("technician.north"));
    let here = clocked.program("technician.north");
    let change = json!({ "old_password": PASSWORD, "new_password": "sparrow kettle nine doors" });
    here.call("PUT", "/api/v1/me/password").json(&change).send().expect(204);
    assert!(!page_lives(&page) && !program_lives(&other) && program_lives(&here));
    // A role that was taken is gone at the next request, in the same session.
    let manager = shops.person("manager.north");
    let id = person(&manager, "helper of north");
    manager.post(&format!("people/{id}/roles"), &json!({ "role": "adviser" })).expect(201);
    let helper = clocked.program("helper.north");
    let orders = format!("/api/v1/shops/{}/orders", shops.id("north"));
    helper.get(&orders).expect(200);
    let take = |role: &str| {
        manager.call("DELETE", &format!("people/{id}/roles/{role}")).send().expect(204)
    };
    let customers = |status: u16| {
        let body = json!({});
        let path = format!(
            "/api/v1/shops/{}/orders/{}/authorizations",
            shops.id("north"),
            uuid::Uuid::nil()
        );
        helper.call("POST", &path).json(&body).new_key().send().expect(status)
    };
    let before = helper.call("POST", &format!("{orders}/{}/authorizations", uuid::Uuid::nil()));
    let may = before.json(&json!({})).new_key().send().status;
    assert_ne!(may, 403);
    take("adviser");
    customers(403);
    // Closed: nothing is opened any more.
    manager.patch(&format!("people/{id}"), &json!({ "active": false })).expect(200);
    assert!(!program_lives(&helper));
}

fn a_planted_id_stays_a_stranger(clocked: &Clocked) {
    let base = clocked.shops.base();
    let planted = "onetrip_session=onetrip_0123456789abcdef";
    let browser = Client::new(base).with("cookie", planted.to_owned());
    let fields = [("sign_in_name", "adviser.north"), ("password", PASSWORD)];
    let answer = browser.call("POST", "/sign-in").form(&fields).send().expect(303);
    let cookie = answer.header("set-cookie").split(';').next().unwrap().to_owned();
    assert_ne!(cookie, planted);
    assert!(!page_lives(&browser));
    // Signing in once more in the same browser: another id, and the one before ends.
    let first = Client::new(base).with("cookie", cookie.clone());
    assert!(page_lives(&first));
    let answer = first.call("POST", "/sign-in").form(&fields).send().expect(303);
    let second = answer.header("set-cookie").split(';').next().unwrap().to_owned();
    assert_ne!(second, cookie);
    assert!(!page_lives(&first) && page_lives(&Client::new(base).with("cookie", second)));
}

macro_rules! clocked {
    ($($test:ident),+ $(,)?) => {
        mod sqlite {
            $(#[test]
            fn $test() {
                super::$test(&super::Clocked::serve(super::Place::sqlite()));
            })+
        }
        mod postgres {
            $(#[test]
            fn $test() {
                if let Some(place) = super::Place::postgres() {
                    super::$test(&super::Clocked::serve(place));
                }
            })+
        }
    };
}

clocked!(
    sessions_end_whichever_way_the_clock_goes,
    a_dead_session_opens_nothing,
    a_planted_id_stays_a_stranger,
);
