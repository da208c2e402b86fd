//! PostgreSQL begins anew as after a crash, and ends connections, while people write
//! through three servers.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use rand::Rng;

use super::deaths::{conclude, writers};
use super::scale::{dice, trials};
use super::support::cluster::Cluster;
use super::support::postgres::Database;
use super::support::{Client, Place, Server, Shops, shops};

const WRITERS: usize = 6;
/// Connections ended between two restarts.
const ENDED: usize = 10;
/// A server answers again by then.
const HEALTHY: Duration = Duration::from_secs(5);

/// How long it takes until a server says that the record answers.
fn healthy(base: &str) -> Duration {
    let (client, begun) = (Client::new(base), Instant::now());
    while begun.elapsed() < HEALTHY {
        let asked = client.call("GET", "/readyz").try_send();
        if asked.is_ok_and(|answer| answer.status == 200) {
            return begun.elapsed();
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("{base} is not well again after {HEALTHY:?}");
}

#[test]
fn a_database_that_restarts_loses_nothing() {
    let test = "a_database_that_restarts_loses_nothing";
    let Some(cluster) = Cluster::start() else { return };
    let place = Place::Postgres(Database::in_cluster(&cluster.url()));
    shops::furnish(&place);
    let shops = Shops::open(place);
    let others = [Server::start(&shops.place), Server::start(&shops.place)];
    let bases = [shops.base(), &others[0].base, &others[1].base].map(str::to_owned);
    let mut dice = dice(test);
    let mut writers = writers(&shops, WRITERS, &mut dice);
    for (at, writer) in writers.iter_mut().enumerate() {
        writer.move_to(&bases[at % bases.len()]);
    }
    let restarts = trials(2, 50);
    let mut slowest = Duration::ZERO;
    for _ in 0..restarts {
        let over = AtomicBool::new(false);
        std::thread::scope(|scope| {
            for writer in &mut writers {
                scope.spawn(|| writer.write_until(&over));
            }
            for _ in 0..ENDED {
                std::thread::sleep(Duration::from_millis(dice.random_range(10..60)));
                shops.place.lines(
                    "SELECT CAST(count(*) AS TEXT) AS line FROM (SELECT pg_terminate_backend(pid) \
                     FROM pg_stat_activity WHERE usename = 'onetrip_test' ORDER BY random() LIMIT 1) ended",
                );
            }
            std::thread::sleep(Duration::from_millis(dice.random_range(50..300)));
            cluster.control("restart");
            slowest = bases.iter().map(|base| healthy(base)).fold(slowest, Duration::max);
            std::thread::sleep(Duration::from_millis(200));
            over.store(true, Ordering::Relaxed);
        });
    }
    for writer in &mut writers {
        writer.insist();
    }
    let unhinted: usize = writers.iter().map(|writer| writer.unhinted).sum();
    assert_eq!(unhinted, 0, "answers said 'not now' and not when");
    conclude(test, restarts, &shops, &mut writers);
    println!(
        "{test}: {} connections ended, well again after at most {slowest:?}",
        restarts * ENDED
    );
}
