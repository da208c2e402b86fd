//! The first account, by a link on the console.

use crate::support::html::form;
use crate::support::{Answer, Client, Place, Program, Server};

const PASSWORD: &str = "lamp river seven chair";

/// So that what it tells stands on its standard output.
const TOLD: [&str; 2] = ["--log-form", "json"];

/// The link that the server prints behind its address.
fn link(server: &mut Server) -> String {
    let words = server.line();
    assert!(words.contains("Nobody can sign in yet"), "{words}");
    let link = server.line();
    link.strip_prefix(&server.base).unwrap_or_else(|| panic!("{link}")).to_owned()
}

fn fill(page: &Answer, client: &Client, name: &str, password: &str) -> Answer {
    form(page, "/first-account")
        .fill("name", "Office")
        .fill("sign_in_name", name)
        .fill("password", password)
        .send(client)
}

fn the_first_account_is_made_once(place: &Place) {
    let mut server = Server::with(place, &TOLD);
    let client = Client::new(&server.base);
    let path = link(&mut server);
    // Without its code nothing is to be had.
    for other in ["/first-account", "/first-account?code=onetrip_first_0", &path[..path.len() - 1]]
    {
        let page = client.get(other).expect(200);
        assert!(page.body.contains("not good any more") && !page.body.contains("<form"), "{other}");
    }
    let sent =
        [("code", "onetrip_first_0"), ("name", "X"), ("sign_in_name", "x"), ("password", PASSWORD)];
    client.call("POST", "/first-account").form(&sent).send().expect(401);
    let page = client.get(&path).expect(200);
    for bad in ["short", "passwordpassword", "onetrip office 1"] {
        let again = fill(&page, &client, "office", bad).expect(422);
        assert!(
            again.body.contains("value=\"office\"")
                && !again.body.contains(&format!("value=\"{bad}")),
            "{bad}"
        );
    }
    let made = fill(&page, &client, "office", PASSWORD).expect(303);
    let cookie = made.header("set-cookie").split(';').next().unwrap().to_owned();
    let office = Client::new(&server.base).with("cookie", cookie);
    let own = office.get("/me").expect(200);
    assert!(own.body.contains("Office") && own.body.contains("dministrator"), "{}", own.body);
    // Once.
    fill(&page, &client, "second", PASSWORD).expect(401);
    assert!(client.get(&path).expect(200).body.contains("not good any more"));
    let people = "SELECT sign_in_name AS line FROM person";
    assert_eq!(place.lines(people), ["office"]);
    // Where somebody can sign in no link is printed.
    drop(server);
    let mut server = Server::with(place, &TOLD);
    server.kill();
    assert_eq!(server.line(), "");
}

#[test]
fn the_first_account_is_made_once_on_sqlite() {
    the_first_account_is_made_once(&Place::empty_sqlite());
}

#[test]
fn the_first_account_is_made_once_on_postgres() {
    if let Some(place) = Place::empty_postgres() {
        the_first_account_is_made_once(&place);
    }
}

#[test]
fn the_link_ends_by_the_clock_and_with_another_account() {
    let place = Place::empty_sqlite();
    let clock = std::path::Path::new(&place.data()).join("clock");
    let set = |time: &str| std::fs::write(&clock, time).unwrap();
    set("2026-10-12T08:00:00Z");
    let mut server =
        Server::with(&place, &[&["--clock-file", clock.to_str().unwrap()], &TOLD[..]].concat());
    let client = Client::new(&server.base);
    let path = link(&mut server);
    let good = || client.get(&path).expect(200).body.contains("<form");
    let page = client.get(&path).expect(200);
    set("2026-10-12T08:59:59Z");
    assert!(good());
    for over in ["2026-10-12T09:00:00Z", "2036-10-12T08:00:00Z", "2016-10-12T08:00:00Z"] {
        set(over);
        assert!(!good(), "{over}");
        fill(&page, &client, "late", PASSWORD).expect(401);
    }
    set("2026-10-12T08:30:00Z");
    assert!(good());
    let add = ["user", "add", "--name", "Other", "--sign-in", "other", "--role", "administrator"];
    Program::new(&place, &[&add[..], &["--password-stdin"]].concat())
        .must(&format!("{PASSWORD}\n"));
    fill(&page, &client, "office", PASSWORD).expect(409);
    assert_eq!(place.lines("SELECT sign_in_name AS line FROM person"), ["other"]);
}
