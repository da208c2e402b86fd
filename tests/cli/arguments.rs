//! What the command line says to words it cannot take: exit code 2, and a
//! reason on standard error; data alone goes to standard output.

use crate::support::folder::Folder;
use crate::support::{Place, Program, Server};

fn refused(place: &Place, arguments: &[&str], input: &str, reason: &str) {
    let output = Program::new(place, arguments).run(input);
    let words = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {words}");
    assert!(words.contains(reason), "{arguments:?}: {words}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
}

#[test]
fn words_that_cannot_be_taken_are_refused() {
    let place = Place::sqlite();
    let add = ["user", "add", "--name", "A", "--sign-in", "a", "--password-stdin", "--role"];
    let with = |role: &'static str| [&add[..], &[role]].concat();
    refused(&place, &with("king"), "long enough a password\n", "--role");
    refused(&place, &with("owner"), "short\n", "password");
    let report =
        |more: &[&'static str]| [&["report", "comebacks", "--shop", "north"][..], more].concat();
    refused(&place, &report(&["--window", "401"]), "", "--window");
    refused(&place, &report(&["--by", "mood"]), "", "--by");
    refused(&place, &report(&["--as-of", "2026-02-30"]), "", "--as-of");
    refused(&place, &["report", "gossip"], "", "gossip");
    refused(&place, &["report", "labor"], "", "--shop");
}

#[test]
fn asking_makes_no_record() {
    let place = Place::empty_sqlite();
    refused(&place, &["report", "labor"], "", "no record");
    refused(&place, &["user", "list"], "", "no record");
    refused(&place, &["codes", "--shop", "NORTH"], "", "no record");
    let out = Folder::new();
    let folder = out.path().join("out").display().to_string();
    refused(&place, &["export", &folder], "", "no record");
    refused(&place, &["serve", "--listen", "999"], "", "such as 127.0.0.1:8437");
    assert_eq!(std::fs::read_dir(place.data()).unwrap().count(), 0);
}

#[test]
fn one_server_at_a_time_has_a_folder() {
    let place = Place::sqlite();
    let first = Server::start(&place);
    let output = Program::new(&place, &["serve", "--listen", "127.0.0.1:0"]).run("");
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("another onetrip"));
    drop(first);
    Server::start(&place);
}
