//! The power is cut while people write.

use std::time::Duration;

use rand::Rng;

use super::deaths::{conclude, move_all, one_death, writers};
use super::disk::{Disk, Sort, careless_program};
use super::judge::lost;
use super::scale::{dice, trials};
use super::support::{Place, Server, Shops};

const WRITERS: usize = 4;
const LONGEST_MILLIS: u64 = 900;

fn cuts_lose_nothing(test: &str, torn: bool) {
    let mut dice = dice(test);
    let place = Place::sqlite();
    let disk = Disk::under(&place, Sort::Honest);
    let server = Server::of(disk.program(&place));
    let mut shops = Shops::served(place, server);
    let mut writers = writers(&shops, WRITERS, &mut dice);
    let cuts = trials(20, 500);
    for _ in 0..cuts {
        let moment = Duration::from_millis(dice.random_range(20..=LONGEST_MILLIS));
        one_death(&mut shops, &mut writers, moment, Shops::kill);
        disk.cut(torn.then_some(&mut dice));
        shops.serve(Server::of(disk.program(&shops.place)));
        move_all(&shops, &mut writers);
    }
    conclude(test, cuts, &shops, &mut writers);
}

#[test]
fn a_cut_loses_nothing() {
    cuts_lose_nothing("a_cut_loses_nothing", false);
}

#[test]
fn a_torn_cut_loses_nothing() {
    cuts_lose_nothing("a_torn_cut_loses_nothing", true);
}

/// Cuts after which something acknowledged is missing, of so many.
fn losing_cuts(test: &str, cuts: usize, sort: Sort, careless: bool) -> usize {
    let mut dice = dice(test);
    let (mut losing, mut missing, mut writes) = (0, 0, 0);
    for _ in 0..cuts {
        let place = Place::sqlite();
        let disk = Disk::under(&place, sort);
        let program = disk.program(&place);
        let program = if careless { program.replaced_by(careless_program()) } else { program };
        let server = Server::of(program);
        let mut shops = Shops::served(place, server);
        let mut writers = writers(&shops, WRITERS, &mut dice);
        let moment = Duration::from_millis(dice.random_range(200..=LONGEST_MILLIS));
        one_death(&mut shops, &mut writers, moment, Shops::kill);
        disk.cut(None);
        let gone = lost(&shops.place, &writers);
        losing += usize::from(gone > 0);
        missing += gone;
        writes += writers.iter().map(|writer| writer.promised.len()).sum::<usize>();
    }
    println!("{test}: {cuts} cuts, {losing} of them lost, {missing} of {writes} writes");
    losing
}

/// So that the test above has teeth: a disk that lies is seen to lose.
#[test]
fn a_lying_disk_is_seen_to_lose() {
    let cuts = trials(4, 40);
    assert_eq!(losing_cuts("a_lying_disk_is_seen_to_lose", cuts, Sort::Lying, false), cuts);
}

/// And so is a program that does not wait for the disk at each commit.
#[test]
fn a_careless_program_is_seen_to_lose() {
    let cuts = trials(8, 40);
    let losing = losing_cuts("a_careless_program_is_seen_to_lose", cuts, Sort::Honest, true);
    assert!(losing * 2 >= cuts, "{losing} of {cuts}");
}
