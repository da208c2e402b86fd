//! The program itself: run to its end, or serving.

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdout, Command, ExitStatus, Output, Stdio};
use std::time::{Duration, Instant};

use super::place::Place;

/// The program with its arguments, on a place.
pub struct Program(Command);

impl Program {
    pub fn new(place: &Place, arguments: &[&str]) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_onetrip"));
        command.arg("--data").arg(place.data()).args(arguments);
        // Tests sign in often.
        Self(command).set("ONETRIP_PASSWORD_COST", "least")
    }

    /// The program as a server on a free port.
    pub fn serving(place: &Place, more: &[&str]) -> Self {
        let arguments = [&["serve", "--listen", "127.0.0.1:0"][..], more].concat();
        // Who comes in and is turned away fills the tests' own output.
        Self::new(place, &arguments).set("RUST_LOG", "warn,access=off")
    }

    /// What it says on standard error goes into that file.
    pub fn telling(mut self, file: &std::path::Path) -> Self {
        self.0.stderr(std::fs::File::create(file).unwrap());
        self
    }

    /// With a variable of its surroundings.
    pub fn set(mut self, name: &str, value: impl AsRef<std::ffi::OsStr>) -> Self {
        self.0.env(name, value);
        self
    }

    /// Another program in its place, with the same arguments.
    pub fn replaced_by(self, program: &std::path::Path) -> Self {
        let mut command = Command::new(program);
        command.args(self.0.get_args());
        command.envs(self.0.get_envs().filter_map(|(name, value)| Some((name, value?))));
        Self(command)
    }

    /// Runs to the end with `input` on standard input.
    pub fn run(mut self, input: &str) -> Output {
        let mut child = self
            .0
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // Who refuses its arguments ends before it reads.
        drop(child.stdin.take().unwrap().write_all(input.as_bytes()));
        child.wait_with_output().unwrap()
    }

    /// Starts it and kills it after a while, wherever it is.
    pub fn killed_after(mut self, moment: Duration) {
        let mut child = self
            .0
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(moment);
        drop(child.kill());
        drop(child.wait());
    }

    /// Runs to the end and answers standard output; fails where it fails.
    pub fn must(self, input: &str) -> String {
        let said = format!("{:?}", self.0);
        let output = self.run(input);
        let words = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{said}: {}\n{words}", output.status);
        String::from_utf8(output.stdout).unwrap()
    }
}

/// A server, killed with this.
pub struct Server {
    child: Child,
    out: BufReader<ChildStdout>,
    /// `http://127.0.0.1:PORT`, or with https.
    pub base: String,
}

impl Server {
    pub fn start(place: &Place) -> Self {
        Self::with(place, &[])
    }

    /// Serves with more arguments.
    pub fn with(place: &Place, more: &[&str]) -> Self {
        Self::of(Program::serving(place, more))
    }

    /// Serves as the program says.
    pub fn of(Program(mut command): Program) -> Self {
        let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        out.read_line(&mut line).unwrap();
        let base = line.trim_end().trim_end_matches('/').to_owned();
        assert!(base.starts_with("http"), "the server did not start: {line:?}");
        Self { child, out, base }
    }

    /// The next line that it prints.
    pub fn line(&mut self) -> String {
        let mut line = String::new();
        self.out.read_line(&mut line).unwrap();
        line.trim().to_owned()
    }

    /// Its number among the machine's processes.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Asks it to end, and waits for that: how long it took, and how it ended.
    pub fn stop(&mut self) -> (Duration, ExitStatus) {
        let begun = Instant::now();
        // The shell's own word: not every system has a program of that name.
        let order = format!("kill -TERM {}", self.child.id());
        assert!(Command::new("sh").args(["-c", &order]).status().unwrap().success());
        let status = self.child.wait().unwrap();
        (begun.elapsed(), status)
    }

    /// As when the box is switched off: no chance to finish anything.
    pub fn kill(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.kill();
    }
}
