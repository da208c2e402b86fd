//! The disk answers with errors while people write, and behaves again: nothing
//! acknowledged is lost, and the same server goes on.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use rand::Rng;

use super::deaths::{conclude, writers};
use super::disk::{Disk, Sort};
use super::scale::{dice, trials};
use super::support::{Place, Server, Shops};

const WRITERS: usize = 4;
/// Of Linux: input/output error, no space left, read-only file system.
const EIO: i32 = 5;
const ENOSPC: i32 = 28;
const EROFS: i32 = 30;

/// Calls that fail, with what, and how many of a thousand.
type Orders = &'static [(&'static str, i32, u32)];

fn goes_on(test: &str, rounds: usize, orders: Orders) {
    let mut dice = dice(test);
    let place = Place::sqlite();
    let disk = Disk::under(&place, Sort::Honest);
    let server = Server::of(disk.program(&place));
    let shops = Shops::served(place, server);
    let mut writers = writers(&shops, WRITERS, &mut dice);
    for _ in 0..rounds {
        let over = AtomicBool::new(false);
        std::thread::scope(|scope| {
            for writer in &mut writers {
                scope.spawn(|| writer.write_until(&over));
            }
            std::thread::sleep(Duration::from_millis(dice.random_range(50..200)));
            let (call, error, permille) = orders[dice.random_range(0..orders.len())];
            disk.order(call, error, permille);
            std::thread::sleep(Duration::from_millis(dice.random_range(50..300)));
            disk.obey();
            std::thread::sleep(Duration::from_millis(100));
            over.store(true, Ordering::Relaxed);
        });
    }
    conclude(test, rounds, &shops, &mut writers);
    let refused: usize = writers.iter().map(|writer| writer.repeated).sum();
    assert!(refused > 0, "no write met an error");
}

#[test]
fn a_disk_with_errors() {
    let orders = &[("sync", EIO, 1000), ("sync", EIO, 50), ("write", EIO, 50), ("read", EIO, 20)];
    goes_on("a_disk_with_errors", trials(12, 200), orders);
}

#[test]
fn a_full_disk() {
    let orders = &[("write", ENOSPC, 1000), ("write", ENOSPC, 300)];
    goes_on("a_full_disk", trials(8, 200), orders);
}

#[test]
fn a_disk_that_may_only_be_read() {
    goes_on("a_disk_that_may_only_be_read", trials(6, 100), &[("write", EROFS, 1000)]);
}
