//! Who takes part in a measurement: folders, servers as child processes, and
//! clients that keep their connection.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use diesel::prelude::*;
use diesel::sqlite::SqliteConnection;
use serde_json::{Value, json};

/// A folder that goes with this.
pub struct Scratch(pub PathBuf);

impl Scratch {
    pub fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("closes-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn copy_of(from: &Path, name: &str) -> Self {
        let made = Self::new(name);
        for file in std::fs::read_dir(from).unwrap() {
            let file = file.unwrap();
            std::fs::copy(file.path(), made.0.join(file.file_name())).unwrap();
        }
        made
    }

    pub fn conn(&self) -> SqliteConnection {
        SqliteConnection::establish(self.0.join("onetrip.sqlite").to_str().unwrap()).unwrap()
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

/// A server, killed with this.
pub struct Server {
    child: Child,
    pub address: String,
}

impl Server {
    fn start(mut command: Command) -> Self {
        let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().trim_end_matches('/').trim_start_matches("http://").to_owned();
        assert!(!address.is_empty(), "the server did not start");
        Self { child, address }
    }

    pub fn onetrip(folder: &Path) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_onetrip"));
        command.arg("--data").arg(folder).args(["serve", "--listen", "127.0.0.1:0"]);
        Self::start(command)
    }

    pub fn bare(folder: &Path, person: &str) -> Self {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.arg("bare").arg(folder).arg(person);
        Self::start(command)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// One connection that is kept.
pub struct Client {
    stream: BufReader<TcpStream>,
}

impl Client {
    pub fn to(address: &str) -> Self {
        let stream = TcpStream::connect(address).unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream: BufReader::new(stream) }
    }

    /// The status, the ETag and the body.
    pub fn send(&mut self, head: &str, body: &str) -> (u16, String, String) {
        let length = body.len();
        let request = format!("{head}host: bench\r\ncontent-length: {length}\r\n\r\n{body}");
        self.stream.get_mut().write_all(request.as_bytes()).unwrap();
        let (mut status, mut length, mut etag) = (0, 0, String::new());
        loop {
            let mut line = String::new();
            self.stream.read_line(&mut line).unwrap();
            let line = line.trim_end();
            if line.is_empty() {
                break;
            }
            if let Some((name, value)) = line.split_once(": ") {
                match name.to_ascii_lowercase().as_str() {
                    "content-length" => length = value.parse().unwrap(),
                    "etag" => etag = value.to_owned(),
                    _ => {}
                }
            } else {
                status = line.split(' ').nth(1).unwrap().parse().unwrap();
            }
        }
        let mut body = vec![0; length];
        self.stream.read_exact(&mut body).unwrap();
        (status, etag, String::from_utf8(body).unwrap())
    }

    pub fn call(&mut self, method: &str, path: &str, token: &str, body: &Value) -> (u16, Value) {
        let key = uuid::Uuid::now_v7();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nauthorization: Bearer {token}\r\n\
             content-type: application/json\r\nidempotency-key: {key}\r\n"
        );
        let body = if method == "GET" { String::new() } else { body.to_string() };
        let (status, _, answer) = self.send(&head, &body);
        (status, serde_json::from_str(&answer).unwrap_or(Value::Null))
    }

    pub fn sign_in(&mut self, name: &str, password: &str) -> String {
        let body = json!({ "sign_in_name": name, "password": password });
        let (status, answer) = self.call("POST", "/api/v1/sessions", "", &body);
        assert!(status < 300, "{status} {answer}");
        answer["token"].as_str().unwrap().to_owned()
    }
}
