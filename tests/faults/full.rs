//! A disk that is really full: a small one in memory, filled while people write.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use rand::Rng;

use super::deaths::{conclude, writers};
use super::scale::{dice, trials};
use super::support::folder::Folder;
use super::support::{Place, Shops};

const WRITERS: usize = 4;

/// A file system of so many bytes on a folder, taken off with this.
struct Small(PathBuf);

impl Small {
    /// `None`, with a word, where this machine lets nobody do it.
    #[expect(clippy::disallowed_methods, reason = "where CI runs as root it must not be left out")]
    fn on(folder: &Path) -> Option<Self> {
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", "size=48m", "tmpfs"]).arg(folder);
        let done = mount.output().is_ok_and(|said| said.status.success());
        if !done {
            let root = Command::new("id").arg("-u").output().is_ok_and(|id| id.stdout == b"0\n");
            assert!(!root || std::env::var("CI").is_err(), "root may mount nothing here");
            eprintln!("skipped: no file system can be mounted here");
        }
        done.then(|| Self(folder.to_owned()))
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        drop(Command::new("umount").arg("-l").arg(&self.0).status());
    }
}

/// Takes all the room that is left.
fn fill(file: &Path) {
    use std::io::Write;
    let mut file = std::fs::File::create(file).unwrap();
    for size in [1 << 20, 4096, 1] {
        while file.write_all(&vec![0_u8; size]).is_ok() {}
    }
}

#[test]
fn a_disk_that_is_really_full() {
    let test = "a_disk_that_is_really_full";
    let (model, folder) = (Place::sqlite(), Folder::new());
    let Some(_small) = Small::on(folder.path()) else { return };
    let Place::Sqlite(from) = &model else { unreachable!() };
    for entry in std::fs::read_dir(from.path()).unwrap() {
        let entry = entry.unwrap();
        std::fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
    }
    let filler = folder.path().join("filler");
    let mut dice = dice(test);
    let shops = Shops::open(Place::Sqlite(folder));
    let mut writers = writers(&shops, WRITERS, &mut dice);
    let rounds = trials(6, 200);
    let client = shops.person("manager.north");
    for _ in 0..rounds {
        let over = AtomicBool::new(false);
        std::thread::scope(|scope| {
            for writer in &mut writers {
                scope.spawn(|| writer.write_until(&over));
            }
            std::thread::sleep(Duration::from_millis(dice.random_range(50..200)));
            fill(&filler);
            std::thread::sleep(Duration::from_millis(dice.random_range(100..300)));
            // What is recorded can be read.
            client.get("orders").expect(200);
            std::fs::remove_file(&filler).unwrap();
            std::thread::sleep(Duration::from_millis(100));
            over.store(true, Ordering::Relaxed);
        });
        // The same server goes on, at once.
        for writer in &mut writers {
            assert!(writer.settle(), "there is room again");
        }
    }
    let full: usize = writers.iter().map(|writer| writer.full).sum();
    conclude(test, rounds.min(full), &shops, &mut writers);
    assert!(full > 0, "nobody met a full disk");
    println!("{test}: {full} answers said that the disk is full");
}
