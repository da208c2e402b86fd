//! Folders that go away with the test that made them.

use std::path::{Path, PathBuf};
use std::sync::Once;
use std::sync::atomic::{AtomicU32, Ordering};

/// A number that no other name in this process has.
pub fn serial() -> u32 {
    static NEXT: AtomicU32 = AtomicU32::new(0);
    NEXT.fetch_add(1, Ordering::Relaxed)
}

/// Whether the process that a name was made by still runs: what a killed test
/// run left behind is removed by the next one.
pub fn maker_runs(pid: &str) -> bool {
    Path::new("/proc").join(pid).exists()
}

/// A folder on the build's disk (not in memory, so that flushing is real).
pub struct Folder(PathBuf);

impl Folder {
    pub fn new() -> Self {
        static SWEEP: Once = Once::new();
        let base = Path::new(env!("CARGO_TARGET_TMPDIR"));
        SWEEP.call_once(|| sweep(base));
        let path = base.join(format!("onetrip-{}-{}", std::process::id(), serial()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

fn sweep(base: &Path) {
    for entry in std::fs::read_dir(base).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let left_by = name.strip_prefix("onetrip-").and_then(|rest| rest.split('-').next());
        if left_by.is_some_and(|pid| !maker_runs(pid)) {
            drop(std::fs::remove_dir_all(entry.path()));
        }
    }
}
