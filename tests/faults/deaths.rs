//! The server ends while people write, again and again: killed, asked to end, or its
//! power cut. What was acknowledged is there exactly once; what was not answered is
//! there exactly once after it was asked again under its key.

use std::time::{Duration, Instant};

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::judge::judge;
use super::scale::{dice, trials};
use super::support::{Place, Shops};
use super::writer::Writer;

const LONGEST_MILLIS: u64 = 2_000;
/// Before it listens for the signal, a server that is asked to end just dies, which
/// the tests of kills are about.
const STARTED_MILLIS: u64 = 200;
/// A server that was asked to end has so long.
const PATIENCE: Duration = Duration::from_secs(10);

/// People of one shop who write, each on a vehicle of their own.
pub fn writers(shops: &Shops, count: usize, dice: &mut ChaCha8Rng) -> Vec<Writer> {
    let people = ["technician", "helper", "adviser", "manager"];
    (0..count)
        .map(|number| {
            let client = shops.person(&format!("{}.north", people[number % people.len()]));
            Writer::new(client, number, ChaCha8Rng::seed_from_u64(dice.random()))
        })
        .collect()
}

/// Lets them write until `end` ends the server, then go on at the next one.
pub fn one_death(
    shops: &mut Shops,
    writers: &mut [Writer],
    moment: Duration,
    end: impl FnOnce(&mut Shops),
) {
    std::thread::scope(|scope| {
        for writer in &mut *writers {
            scope.spawn(|| writer.write());
        }
        std::thread::sleep(moment);
        end(shops);
    });
}

/// They go on at a server that was started anew.
pub fn move_all(shops: &Shops, writers: &mut [Writer]) {
    for writer in writers {
        writer.move_to(shops.base());
    }
}

/// All is settled and judged; tells what was done.
pub fn conclude(test: &str, deaths: usize, shops: &Shops, writers: &mut [Writer]) {
    for writer in &mut *writers {
        assert!(writer.settle(), "the server runs");
    }
    judge(shops, writers);
    let writes: usize = writers.iter().map(|writer| writer.promised.len()).sum();
    let repeated: usize = writers.iter().map(|writer| writer.repeated).sum();
    println!("{test}: {deaths} times, {writes} writes, {repeated} asked again, 0 lost, 0 twice");
    assert!(repeated >= deaths, "they met too little work: {repeated}");
}

fn keeps_every_promise(
    test: &str,
    place: Place,
    (deaths, soonest_millis): (usize, u64),
    end: impl Fn(&mut Shops),
) {
    let mut dice = dice(test);
    let mut shops = Shops::open(place);
    let mut writers = writers(&shops, 8, &mut dice);
    let mut slowest = Duration::ZERO;
    for _ in 0..deaths {
        let moment = Duration::from_millis(dice.random_range(soonest_millis..=LONGEST_MILLIS));
        one_death(&mut shops, &mut writers, moment, &end);
        let start = Instant::now();
        shops.restart();
        slowest = slowest.max(start.elapsed());
        move_all(&shops, &mut writers);
    }
    conclude(test, deaths, &shops, &mut writers);
    println!("{test}: ready again after at most {slowest:?}");
}

#[test]
fn killed_on_sqlite() {
    keeps_every_promise("killed_on_sqlite", Place::sqlite(), (trials(50, 1_000), 0), Shops::kill);
}

#[test]
fn killed_on_postgres() {
    if let Some(place) = Place::postgres() {
        keeps_every_promise("killed_on_postgres", place, (trials(50, 1_000), 0), Shops::kill);
    }
}

/// It ends in good order, in time, with no word of an error.
fn asked_to_end(shops: &mut Shops) {
    let (took, status) = shops.server().stop();
    assert!(status.success(), "{status}");
    assert!(took <= PATIENCE, "{took:?}");
}

#[test]
fn asked_to_end_on_sqlite() {
    keeps_every_promise(
        "asked_to_end_on_sqlite",
        Place::sqlite(),
        (trials(25, 100), STARTED_MILLIS),
        asked_to_end,
    );
}

#[test]
fn asked_to_end_on_postgres() {
    if let Some(place) = Place::postgres() {
        keeps_every_promise(
            "asked_to_end_on_postgres",
            place,
            (trials(25, 100), STARTED_MILLIS),
            asked_to_end,
        );
    }
}
