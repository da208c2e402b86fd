//! A PostgreSQL server of a test's own, which it may end as it likes.

use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Ended and removed with this.
pub struct Cluster {
    folder: PathBuf,
    programs: PathBuf,
    port: u16,
}

fn programs() -> Option<PathBuf> {
    let versions = std::fs::read_dir("/usr/lib/postgresql").ok()?.flatten();
    let folders = versions.map(|entry| entry.path().join("bin"));
    folders.filter(|folder| folder.join("initdb").is_file()).max()
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|id| id.stdout == b"0\n")
}

impl Cluster {
    /// `None`, with a word, where PostgreSQL's programs are not.
    #[expect(clippy::disallowed_methods, reason = "where CI runs it must not be left out")]
    pub fn start() -> Option<Self> {
        let Some(programs) = programs() else {
            assert!(std::env::var("CI").is_err(), "PostgreSQL's programs are not here");
            eprintln!("skipped: PostgreSQL's programs are not here");
            return None;
        };
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let port = free.local_addr().unwrap().port();
        drop(free);
        // Its user must get there.
        let folder = std::env::temp_dir().join(format!("onetrip-cluster-{port}"));
        drop(std::fs::remove_dir_all(&folder));
        std::fs::create_dir_all(&folder).unwrap();
        if is_root() {
            let mut owned = Command::new("chown");
            assert!(owned.arg("postgres").arg(&folder).status().unwrap().success());
        }
        let cluster = Self { folder, programs, port };
        let made = ["-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "-N"];
        cluster.run("initdb", &made);
        cluster.control("start");
        Some(cluster)
    }

    fn run(&self, program: &str, more: &[&str]) {
        let path = self.programs.join(program);
        let mut command = if is_root() {
            let mut command = Command::new("runuser");
            command.args(["-u", "postgres", "--"]).arg(path);
            command
        } else {
            Command::new(path)
        };
        command.arg("-D").arg(self.folder.join("data")).args(more).current_dir(&self.folder);
        // A server that stays must not hold a pipe of ours open.
        let done =
            command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status();
        assert!(done.unwrap().success(), "{program} {more:?}");
    }

    /// Starts it, ends it, or begins it anew as after a crash.
    pub fn control(&self, verb: &str) {
        let options = format!(
            "-p {} -k {} -c listen_addresses=127.0.0.1 -c max_connections=200",
            self.port,
            self.folder.display()
        );
        let log = self.folder.join("log").display().to_string();
        self.run("pg_ctl", &["-w", "-m", "immediate", "-l", &log, "-o", &options, verb]);
    }

    /// For its administrator.
    pub fn url(&self) -> String {
        format!("postgres://postgres@127.0.0.1:{}/postgres", self.port)
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| self.control("stop"))).is_ok() {
            drop(std::fs::remove_dir_all(&self.folder));
        }
    }
}
