//! The pages, as a browser without scripts uses them.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::support::html::{form, form_with, links, plain};
use crate::support::shops::visitor;
use crate::support::visit::{finish, open};
use crate::support::{Answer, Client, Place, Server, Shops, on_each_database};

on_each_database!(
    a_visit_by_the_forms,
    a_comeback_is_decided_on_its_page,
    forms_from_elsewhere_are_refused,
    a_form_sent_twice_acts_once,
    a_form_kept_past_its_session_acts_once,
    what_is_refused_is_shown_as_typed,
);

const WORDS: &str = "Shakes <b>& stalls</b> \"hot\", says O'Hara";

/// Writes the vehicle up on the page: the order's page.
fn write_up(adviser: &Client, plate: &str) -> Answer {
    let page = adviser.get("write-up").expect(200);
    let form = form(&page, "/write-up").fill("plate", plate).fill("complaint", WORDS);
    form.fill("symptom", "engine.stalls").fill("kind", "complaint").follow(adviser)
}

/// The page behind the first link whose address has that in it.
#[track_caller]
fn go(client: &Client, page: &Answer, place: &str) -> Answer {
    let link = links(&page.body).into_iter().find(|link| link.contains(place));
    client.get(&link.unwrap_or_else(|| panic!("no link to {place}: {}", page.body))).expect(200)
}

/// The technician's minute at the end of a job.
fn log(technician: &Client, page: Answer) -> Answer {
    let check = form_with(&page, "/checks", "name=\"minutes\"").fill("code", "road-test");
    let check = check.fill("finding", "abnormal");
    let page = check.fill("minutes", "12").follow(technician);
    let page = form(&page, "/labor").fill("activity", "repair").follow(technician);
    let page = form(&page, "/stop").follow(technician);
    let part = form(&page, "/parts").fill("name", "throttle body").fill("role", "suspect");
    let page = part.fill("disposition", "cleaned_reused").follow(technician);
    let page =
        form(&page, "/proofs").fill("how", "road_test").fill("passed", "yes").follow(technician);
    let close = form(&page, "/closure").fill("outcome", "repaired").fill("cause", "throttle-dirty");
    close.fill("cause_how", "seen").fill("correction", "cleaned").follow(technician)
}

fn a_visit_by_the_forms(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let technician = shops.visitor("technician.north", "north");
    let order = write_up(&adviser, "PG 1");
    // What people write is text on a page, never part of it.
    assert!(plain(&order.body).contains(WORDS));
    assert!(!order.body.contains("<b>& stalls"));
    let today = technician.get("today").expect(200);
    assert!(today.body.contains("PG 1"));
    let done = log(&technician, go(&technician, &today, "/jobs/"));
    for word in ["repaired", "throttle body", "cleaned and reused"] {
        assert!(done.body.contains(word), "{word}: {}", done.body);
    }
    let order = go(&adviser, &done, "/orders/");
    let order = form(&order, "/closure").fill("odometer_out", "").follow(&adviser);
    assert!(order.body.contains("Handed over"));
    assert_eq!(shops.place.lines("SELECT status AS line FROM repair_order"), ["closed"]);
    assert_eq!(shops.place.lines("SELECT cause_state AS line FROM job"), ["confirmed"]);
    assert!(!technician.get("today").expect(200).body.contains("PG 1"));
}

fn a_comeback_is_decided_on_its_page(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let program = shops.person("adviser.north");
    let (order, job) = open(&program, "PG 2", "engine.stalls");
    finish(&program, &order, &job, "air-filter");
    let later = write_up(&adviser, "PG 2");
    assert!(later.body.contains("Was in before for this?"));
    let manager = shops.visitor("manager.north", "north");
    let week = manager.get("week").expect(200);
    let comeback = go(&manager, &week, "/comebacks/");
    let decision =
        form(&comeback, "/decision").fill("confirm", "yes").fill("reason", "workmanship");
    let decided = decision.fill("note", "torque was not checked").follow(&manager);
    assert!(decided.body.contains("torque was not checked"));
    let kept = "SELECT state || ' ' || reason AS line FROM comeback";
    assert_eq!(shops.place.lines(kept), ["confirmed workmanship"]);
    // Who may not decide sees the decision and no form.
    let seen = go(&adviser, &adviser.get("comebacks").expect(200), "/comebacks/");
    assert!(seen.body.contains("torque was not checked") && !seen.body.contains("/decision\""));
}

fn forms_from_elsewhere_are_refused(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let other = shops.visitor("adviser.north", "north");
    let blank = || {
        let page = adviser.get("write-up").expect(200);
        form(&page, "/write-up").fill("plate", "PG 3").fill("complaint", "shakes")
    };
    blank().without("form_token").send(&adviser).expect(403);
    // Another session's token is another form's.
    blank().send(&other).expect(403);
    blank().without("once").send(&adviser).expect(400);
    form(&adviser.get("today").expect(200), "/sign-out")
        .without("form_token")
        .send(&adviser)
        .expect(403);
    let fields = [("sign_in_name", "adviser.north"), ("password", crate::support::shops::PASSWORD)];
    let from = |origin: &str| {
        let call = shops.stranger();
        call.call("POST", "/sign-in").form(&fields).header("origin", origin).send()
    };
    from("https://elsewhere.test").expect(403);
    from("null").expect(403);
    let cookie = from(shops.base()).expect(303).header("set-cookie").to_owned();
    for word in ["HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(word), "{cookie}");
    }
    // A page's cookie opens no program's door, and a token no page.
    adviser.get("/api/v1/me").problem(401, "not-signed-in");
    shops.person("adviser.north").get("/shops/north/today").expect(303);
    assert_eq!(shops.place.count("FROM repair_order"), 0);
    let left = form(&adviser.get("today").expect(200), "/sign-out").send(&adviser).expect(303);
    assert_eq!(left.header("location"), "/sign-in");
    assert_eq!(adviser.get("today").expect(303).header("location"), "/sign-in");
}

fn a_form_sent_twice_acts_once(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let twice = form(&page, "/write-up").fill("plate", "PG 4").fill("complaint", WORDS);
    let twice = twice.fill("kind", "complaint");
    let places = [twice.send(&adviser), twice.send(&adviser)]
        .map(|answer| answer.expect(303).header("location").to_owned());
    assert_eq!(places[0], places[1]);
    assert_eq!(shops.place.count("FROM repair_order"), 1);
}

// The answer was lost, the session ended: what the browser kept is sent again
// under the token of the next one.
fn a_form_kept_past_its_session_acts_once(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let kept = form(&page, "/write-up").fill("plate", "PG 6").fill("complaint", WORDS);
    let kept = kept.fill("kind", "complaint");
    let first = kept.send(&adviser).expect(303);
    let again = shops.visitor("adviser.north", "north");
    let page = again.get("today").expect(200);
    let (_, rest) = page.body.split_once("name=\"form_token\" value=\"").unwrap();
    let (token, _) = rest.split_once('"').unwrap();
    let second = kept.fill("form_token", token).send(&again).expect(303);
    assert_eq!(first.header("location"), second.header("location"));
    assert_eq!(shops.place.count("FROM repair_order"), 1);
}

fn what_is_refused_is_shown_as_typed(shops: &Shops) {
    let adviser = shops.visitor("adviser.north", "north");
    let page = adviser.get("write-up").expect(200);
    let odd = form(&page, "/write-up").fill("plate", "PG 5").fill("complaint", WORDS);
    let odd = odd.fill("kind", "complaint").fill("odometer_in", "many").fill("model_year", "12");
    let shown = odd.send(&adviser).expect(422);
    assert!(shown.header("content-type").starts_with("text/html"));
    assert!(shown.body.contains("role=\"alert\"") && shown.body.contains("value=\"many\""));
    assert!(plain(&shown.body).contains(WORDS));
    let mended = form(&shown, "/write-up").fill("odometer_in", "81,200").fill("model_year", "2012");
    mended.fill("kind", "complaint").fill("complaint", WORDS).follow(&adviser);
    assert_eq!(
        shops.place.lines("SELECT CAST(odometer_in AS TEXT) AS line FROM repair_order"),
        ["81200"]
    );
    // At the counter the customer is there to ask.
    let mute = form(&page, "/write-up").fill("plate", "PG 6").fill("symptom", "engine.stalls");
    let mute = mute.fill("kind", "complaint").send(&adviser).expect(422);
    assert!(mute.body.contains("Complaint: write the complaint"), "{}", mute.body);
    // Closing owes what it owes on the page, too.
    let job = go(&adviser, &adviser.get("today").expect(200), "/jobs/");
    let bare = form(&job, "/closure").fill("outcome", "repaired").send(&adviser).expect(422);
    for field in ["Cause:", "Correction:"] {
        assert!(bare.body.contains(field), "{field}: {}", bare.body);
    }
}

/// Addresses of one kind look alike: ids, days and queries are left out.
fn kind(address: &str) -> String {
    let part =
        |part: &str| if part.contains('-') && part.len() == 36 { "ID" } else { part }.to_owned();
    let (path, query) = address.split_once('?').unwrap_or((address, ""));
    let path: Vec<String> = path.split('/').map(part).collect();
    let keys: BTreeSet<&str> = query.split('&').filter_map(|pair| pair.split('=').next()).collect();
    format!("{} {keys:?}", path.join("/"))
}

/// Follows every kind of link, some of each, from the page where a person
/// starts: what a page offers is there, and its reader may see it.
fn walk(client: &Client) -> BTreeMap<String, usize> {
    let (mut seen, mut followed) = (BTreeSet::new(), BTreeMap::new());
    let mut waiting = VecDeque::from(["/".to_owned()]);
    while let Some(address) = waiting.pop_front() {
        let count: &mut usize = followed.entry(kind(&address)).or_default();
        if *count >= 4 {
            continue;
        }
        *count += 1;
        let answer = client.get(&address);
        assert!(
            [200, 303].contains(&answer.status),
            "{address}: {}\n{}",
            answer.status,
            answer.body
        );
        let mut found = links(&answer.body);
        found.extend((answer.status == 303).then(|| answer.header("location").to_owned()));
        for link in found {
            let link = link.split('#').next().unwrap().to_owned();
            let link = if link.starts_with('?') {
                format!("{}{link}", address.split('?').next().unwrap())
            } else {
                link
            };
            if link.starts_with('/') && seen.insert(link.clone()) {
                waiting.push_back(link);
            }
        }
    }
    followed
}

#[test]
fn every_link_of_the_demo_shop_leads_somewhere() {
    let server = Server::start(Place::demo());
    for (name, least) in [("mirela", 6), ("wren", 6), ("piotr", 10), ("adaeze", 10), ("office", 1)]
    {
        let followed = walk(&visitor(&server.base, name, "demo four sycamores"));
        let pages: usize = followed.values().sum();
        println!("{name}: {} kinds of address, {pages} pages", followed.len());
        assert!(followed.len() >= least, "{name}: {followed:?}");
    }
}
