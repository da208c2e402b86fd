//! From every earlier state of the tables to the present one: nothing is lost, also
//! where the step is cut short, and where several servers begin at once.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rand::Rng;

use super::scale::{dice, trials};
use super::support::visit::{finish, open};
use super::support::{Place, Program, Server, Shops};

/// The steps of a database, the first first.
fn steps(database: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations").join(database);
    let mut steps: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    steps.sort();
    steps
}

fn version(step: &Path) -> String {
    let name = step.file_name().unwrap().to_string_lossy().into_owned();
    name.chars().take_while(|c| *c != '_').filter(char::is_ascii_digit).collect()
}

/// Takes the record back by steps, the latest first.
fn back(place: &Place, steps: &[PathBuf]) {
    for step in steps.iter().rev() {
        place.run(&std::fs::read_to_string(step.join("down.sql")).unwrap());
        place.run(&format!(
            "DELETE FROM __diesel_schema_migrations WHERE version = '{}'",
            version(step)
        ));
    }
}

/// What no step may change: rows of the tables that were there from the first on.
fn rows(place: &Place) -> Vec<String> {
    let asked = [
        "SELECT order_no || ' ' || status || ' ' || coalesce(customer_name, '-') AS line FROM repair_order",
        "SELECT id || ' ' || coalesce(complaint, '-') || ' ' || coalesce(cause, '-') AS line FROM job",
        "SELECT id || ' ' || coalesce(plate, '-') AS line FROM vehicle",
        "SELECT id || ' ' || coalesce(position, '-') AS line FROM job_check",
        "SELECT name || ' ' || coalesce(sign_in_name, '-') AS line FROM person",
        "SELECT code || ' ' || name AS line FROM shop",
    ];
    let mut all: Vec<String> = asked.iter().flat_map(|sql| place.lines(sql)).collect();
    all.sort();
    all
}

/// A record with some work, nobody at it.
fn worked(place: Place) -> Place {
    let mut shops = Shops::open(place);
    let manager = shops.person("manager.north");
    for number in 0..20 {
        let (order, job) = open(&manager, &format!("STEP {number}"), "engine.stalls");
        let check =
            serde_json::json!({ "code": "road-test", "position": format!("corner {number}") });
        manager.post(&format!("jobs/{job}/checks"), &check).expect(201);
        if number % 2 == 0 {
            finish(&manager, &order, &job, "air-filter");
        }
    }
    shops.server().stop();
    let model = shops.place.copied();
    // A copy is taken of a database that nobody is connected to.
    drop(shops);
    model
}

fn from_every_step(test: &str, database: &str, place: Place) {
    let mut dice = dice(test);
    let model = worked(place);
    let before = rows(&model);
    let all = steps(database);
    let mut killed = 0;
    for taken in 1..all.len() {
        // In the short form the longest way alone is cut short.
        let kills = if taken == 1 { trials(3, 100) } else { trials(0, 100) };
        killed += kills;
        for round in 0..=kills {
            let place = model.copied();
            back(&place, &all[taken..]);
            if round > 0 {
                // The program dies somewhere on the way, and is started anew.
                let moment = Duration::from_millis(dice.random_range(0..400));
                Program::serving(&place, &[]).killed_after(moment);
            }
            Program::new(&place, &["check"]).must("");
            assert!(rows(&place) == before, "from step {taken} of {}", all.len());
            let there = place.count("FROM __diesel_schema_migrations");
            assert_eq!(usize::try_from(there).unwrap(), all.len());
        }
    }
    println!(
        "{test}: from each of {} earlier states, {killed} times killed on the way: all rows there",
        all.len() - 1
    );
}

#[test]
fn from_every_step_on_sqlite() {
    from_every_step("from_every_step_on_sqlite", "sqlite", Place::sqlite());
}

#[test]
fn from_every_step_on_postgres() {
    if let Some(place) = Place::postgres() {
        from_every_step("from_every_step_on_postgres", "postgres", place);
    }
}

/// Each step is taken once, and all three serve.
#[test]
fn three_begin_at_once() {
    let Some(place) = Place::postgres() else { return };
    let (model, all) = (worked(place), steps("postgres"));
    let before = rows(&model);
    for taken in [1, all.len() - 1] {
        let place = model.copied();
        back(&place, &all[taken..]);
        std::thread::scope(|scope| {
            let servers: Vec<_> = (0..3).map(|_| scope.spawn(|| Server::start(&place))).collect();
            for server in servers {
                drop(server.join().unwrap());
            }
        });
        assert!(rows(&place) == before);
        let there = place.count("FROM __diesel_schema_migrations");
        assert_eq!(usize::try_from(there).unwrap(), all.len());
    }
}
