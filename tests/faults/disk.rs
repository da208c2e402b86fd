//! A disk whose power can be cut: a layer between the program and its folder
//! (disk.c), and what is found after the cut.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::support::folder::Folder;
use super::support::{Place, Program};

const PAGE: usize = 4096;
const SECTOR: usize = 512;

/// The layer, compiled once.
fn layer() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/faults/disk.c");
        let name = format!("disk-{}.so", std::process::id());
        let made = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        let mut compiler = Command::new("cc");
        compiler.args(["-O1", "-shared", "-fPIC", "-o"]);
        compiler.arg(&made).arg(source).args(["-ldl", "-lpthread"]);
        assert!(compiler.status().unwrap().success(), "a C compiler makes the layer");
        made
    })
}

/// How the disk behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sort {
    /// What is synced is kept.
    Honest,
    /// A sync keeps nothing.
    Lying,
}

/// A disk under one place.
pub struct Disk {
    live: PathBuf,
    kept: Folder,
    orders: PathBuf,
    sort: Sort,
}

impl Disk {
    /// Under the place's folder, where nobody is at work.
    pub fn under(place: &Place, sort: Sort) -> Self {
        let Place::Sqlite(folder) = place else { panic!("a disk is under a folder") };
        let live = folder.path().canonicalize().unwrap();
        let kept = Folder::new();
        copy(&live, kept.path());
        let orders = kept.path().join("orders");
        Self { live, kept, orders, sort }
    }

    /// The program on it.
    pub fn program(&self, place: &Place) -> Program {
        let program = Program::serving(place, &[])
            .set("LD_PRELOAD", layer())
            .set("DISK_LIVE", &self.live)
            .set("DISK_KEPT", self.kept.path())
            .set("DISK_ORDERS", &self.orders);
        match self.sort {
            Sort::Honest => program,
            Sort::Lying => program.set("DISK_NO_SYNC", "1"),
        }
    }

    /// From now on so many of a thousand of these calls end with the error.
    pub fn order(&self, call: &str, error: i32, permille: u32) {
        std::fs::write(&self.orders, format!("{call} {error} {permille}")).unwrap();
    }

    /// It behaves again.
    pub fn obey(&self) {
        std::fs::write(&self.orders, "").unwrap();
    }

    /// The power is cut, the program being dead: what was not synced is gone. With
    /// dice, each page of it is gone, there, or there in part.
    pub fn cut(&self, mut dice: Option<&mut ChaCha8Rng>) {
        let mut found: Vec<(PathBuf, Vec<u8>)> = Vec::new();
        for entry in std::fs::read_dir(self.kept.path()).unwrap() {
            let kept = entry.unwrap().path();
            if kept == self.orders {
                continue;
            }
            let live = self.live.join(kept.file_name().unwrap());
            let mut bytes = std::fs::read(&kept).unwrap();
            if let Some(dice) = &mut dice {
                tear(&mut bytes, &std::fs::read(&live).unwrap_or_default(), dice);
            }
            std::fs::write(&kept, &bytes).unwrap();
            found.push((live, bytes));
        }
        for entry in std::fs::read_dir(&self.live).unwrap() {
            std::fs::remove_file(entry.unwrap().path()).unwrap();
        }
        for (live, bytes) in found {
            std::fs::write(live, bytes).unwrap();
        }
    }
}

/// Of pages that differ: kept as they were, written as far as some sector, written.
fn tear(kept: &mut Vec<u8>, live: &[u8], dice: &mut ChaCha8Rng) {
    if live.len() > kept.len() && dice.random_bool(0.5) {
        kept.resize(live.len(), 0);
    }
    for (old, new) in kept.chunks_mut(PAGE).zip(live.chunks(PAGE)) {
        let length = old.len().min(new.len());
        if old[..length] == new[..length] {
            continue;
        }
        let written = match dice.random_range(0..10) {
            0..=3 => 0,
            4 | 5 => SECTOR * dice.random_range(1..PAGE / SECTOR),
            _ => length,
        };
        let written = written.min(length);
        old[..written].copy_from_slice(&new[..written]);
    }
}

fn copy(from: &Path, to: &Path) {
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        std::fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
    }
}

/// The program as it would be if it did not wait for the disk: a copy in which the
/// setting that it asks SQLite for is another one.
pub fn careless_program() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let (full, normal) = (b"synchronous = FULL", b"synchronous =    1");
        let mut bytes = std::fs::read(env!("CARGO_BIN_EXE_onetrip")).unwrap();
        let places: Vec<usize> = bytes
            .windows(full.len())
            .enumerate()
            .filter_map(|(at, window)| (window == full).then_some(at))
            .collect();
        assert_eq!(places.len(), 1, "the setting stands in the program once");
        bytes[places[0]..places[0] + full.len()].copy_from_slice(normal);
        let name = format!("careless-{}", std::process::id());
        let made = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        std::fs::copy(env!("CARGO_BIN_EXE_onetrip"), &made).unwrap();
        std::fs::write(&made, bytes).unwrap();
        made
    })
}
