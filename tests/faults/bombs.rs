//! Requests that are small on the way and large when they are opened: refused before
//! they are.

use std::io::Write;
use std::time::{Duration, Instant};

use flate2::Compression;
use flate2::write::GzEncoder;

use super::support::{Place, Shops};

/// As long as an answer may take on a machine that is busy with other tests.
const PATIENCE: Duration = Duration::from_secs(5);
/// By how much the server may grow.
const MOST_KIB: u64 = 64 * 1024;

/// A gigabyte of nothing, a thousandth of that on the way.
fn packed() -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    let zeros = vec![b' '; 1 << 20];
    for _ in 0..256 {
        packer.write_all(&zeros).unwrap();
    }
    packer.finish().unwrap()
}

/// What is sent, as which encoding, and how it is refused.
struct Bomb {
    name: &'static str,
    encoding: Option<&'static str>,
    body: Vec<u8>,
    refused: &'static [u16],
}

fn nested(opening: &str, middle: &str, closing: &str, times: usize) -> Vec<u8> {
    [&opening.repeat(times), middle, &closing.repeat(times)].concat().into_bytes()
}

fn bombs() -> Vec<Bomb> {
    let gzip = packed();
    let small = &gzip[..200 * 1024];
    let bomb = |name, encoding, body: Vec<u8>, refused| Bomb { name, encoding, body, refused };
    // No JSON at all, or more than is taken: 400 says where it stops being JSON.
    let unread: &[u16] = &[400, 422];
    vec![
        bomb("gzip", Some("gzip"), gzip.clone(), &[413, 415]),
        bomb("gzip within the bound", Some("gzip"), small.to_vec(), &[415]),
        bomb("gzip twice", Some("gzip, gzip"), small.to_vec(), &[415]),
        bomb("br", Some("br"), vec![0x5b; 1000], &[415]),
        bomb("zstd", Some("zstd"), vec![0x28, 0xb5, 0x2f, 0xfd, 0, 0, 0, 0], &[415]),
        bomb("deflate", Some("deflate"), vec![0x78, 0x9c, 0, 0], &[415]),
        bomb("an unknown encoding", Some("x-other"), b"{}".to_vec(), &[415]),
        bomb("deep lists", None, nested("[", "", "]", 100_000), unread),
        bomb("deep lists never closed", None, nested("[", "", "", 200_000), unread),
        bomb("deep objects", None, nested("{\"a\":", "1", "}", 40_000), unread),
        bomb("deep in a field", None, nested("{\"jobs\":[", "", "]}", 20_000), unread),
        bomb(
            "many members",
            None,
            {
                let members: Vec<String> = (0..20_000).map(|n| format!("\"{n}\":1")).collect();
                format!("{{{}}}", members.join(",")).into_bytes()
            },
            &[422],
        ),
        bomb(
            "one member again and again",
            None,
            format!("{{{}}}", vec!["\"jobs\":[]"; 20_000].join(",")).into_bytes(),
            unread,
        ),
        bomb(
            "many jobs",
            None,
            {
                format!(
                    "{{\"vehicle\":{{\"plate\":\"B\"}},\"jobs\":[{}]}}",
                    vec!["{}"; 60_000].join(",")
                )
                .into_bytes()
            },
            &[422],
        ),
        bomb(
            "a long number",
            None,
            format!("{{\"odometer_in\":{}}}", "9".repeat(200_000)).into_bytes(),
            unread,
        ),
        bomb("a long exponent", None, b"{\"odometer_in\":1e99999999999999}".to_vec(), unread),
        bomb(
            "a long text",
            None,
            {
                format!(
                    "{{\"vehicle\":{{\"plate\":\"{}\"}},\"jobs\":[{{\"complaint\":\"a\"}}]}}",
                    "B".repeat(200_000)
                )
                .into_bytes()
            },
            &[422],
        ),
        bomb("more than is taken", None, vec![b' '; 3 << 20], &[413]),
    ]
}

/// The most that the server has ever held, in KiB.
#[cfg(target_os = "linux")]
fn held(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

#[test]
#[cfg(target_os = "linux")]
fn bombs_are_refused_unopened() {
    let mut shops = Shops::open(Place::sqlite());
    let pid = shops.server().pid();
    let manager = shops.person("manager.north");
    let visitor = shops.visitor("manager.north", "north");
    manager.get("orders").expect(200);
    let before = held(pid);
    let mut sent = 0;
    for bomb in bombs() {
        let json = ["orders", "orders/batch"].map(|path| (path, "application/json"));
        let form = ("/shops/north/write-up", "application/x-www-form-urlencoded");
        for (path, media_type) in json.into_iter().chain([form]) {
            let page = path.starts_with('/');
            if page && bomb.encoding.is_none() {
                continue;
            }
            let client = if page { &visitor } else { &manager };
            let mut call = client.call("POST", path).body(bomb.body.clone(), media_type).new_key();
            if let Some(encoding) = bomb.encoding {
                call = call.header("content-encoding", encoding);
            }
            let begun = Instant::now();
            let answer = call.send();
            let known = bomb.refused.contains(&answer.status)
                // A batch is larger, and takes each thing by itself.
                || path.ends_with("batch") && [413, 422].contains(&answer.status);
            assert!(known, "{} to {path}: {}: {}", bomb.name, answer.status, answer.body);
            assert!(begun.elapsed() < PATIENCE, "{}: {:?}", bomb.name, begun.elapsed());
            sent += 1;
        }
    }
    let grown = held(pid) - before;
    assert!(grown < MOST_KIB, "the server grew by {grown} KiB");
    manager.get("orders").expect(200);
    println!("{sent} bombs refused, the server grew by {grown} KiB");
}
