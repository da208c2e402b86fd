//! Strangers at the edge: slow ones, huge ones, bombs, crowds. Others go on, and the
//! server is afterwards as it was.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use super::scale::trials;
use super::support::{Place, Program, Server, Shops};

/// How long a body may take here; the setting is thirty.
const BODY_SECONDS: u64 = 2;
/// Longer than any end that is waited for.
const PATIENCE: Duration = Duration::from_secs(90);

fn served(variables: &[(&str, &str)]) -> Shops {
    let place = Place::sqlite();
    let program = variables
        .iter()
        .fold(Program::serving(&place, &[]), |program, (name, value)| program.set(name, value));
    let server = Server::of(program);
    Shops::served(place, server)
}

fn host(shops: &Shops) -> &str {
    shops.base().strip_prefix("http://").unwrap()
}

fn connect(shops: &Shops) -> TcpStream {
    let stream = TcpStream::connect(host(shops)).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    stream.set_write_timeout(Some(PATIENCE)).unwrap();
    stream
}

/// What comes until the other side ends it.
fn rest(mut stream: TcpStream) -> String {
    let mut bytes = Vec::new();
    // A reset ends it as well.
    drop(stream.read_to_end(&mut bytes));
    String::from_utf8_lossy(&bytes).into_owned()
}

/// A number of the process's status, in KiB.
fn memory(server: &Server) -> i64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", server.id())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn descriptors(server: &Server) -> usize {
    std::fs::read_dir(format!("/proc/{}/fd", server.id())).unwrap().count()
}

/// Asks again and again meanwhile: every answer must be there, and be good.
fn others_go_on(shops: &Shops, meanwhile: impl FnOnce()) -> usize {
    let client = shops.person("adviser.north");
    let (over, asked) = (AtomicBool::new(false), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !over.load(Ordering::Relaxed) {
                client.get("orders").expect(200);
                asked.fetch_add(1, Ordering::Relaxed);
                std::thread::sleep(Duration::from_millis(10));
            }
        });
        meanwhile();
        over.store(true, Ordering::Relaxed);
    });
    asked.into_inner()
}

/// Waits for something that comes in time or not at all.
fn until(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < PATIENCE, "{what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

const SIGN_IN: &str =
    "POST /api/v1/sessions HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n";

/// Heads that do not end, bodies that do not come or come byte by byte, answers
/// that nobody reads: each is let go, and nobody else notices.
#[test]
fn slow_ones_are_let_go() {
    let each = trials(20, 1_000);
    let mut shops = served(&[("ONETRIP_BODY_SECONDS", &BODY_SECONDS.to_string())]);
    shops.person("adviser.north").get("orders").expect(200);
    let before = descriptors(shops.server());
    let open = |text: &str| {
        let mut stream = connect(&shops);
        stream.write_all(text.as_bytes()).unwrap();
        stream
    };
    let asked = others_go_on(&shops, || {
        let heads: Vec<TcpStream> =
            (0..each).map(|_| open("GET /livez HTTP/1.1\r\nHost:")).collect();
        let bodies: Vec<TcpStream> =
            (0..each).map(|_| open(&format!("{SIGN_IN}Content-Length: 100\r\n\r\n{{"))).collect();
        let mut drops: Vec<TcpStream> = (0..each)
            .map(|_| open(&format!("{SIGN_IN}Transfer-Encoding: chunked\r\n\r\n")))
            .collect();
        // A byte now and then does not make it longer.
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_secs(BODY_SECONDS + 1) {
            for stream in &mut drops {
                drop(stream.write_all(b"1\r\n \r\n"));
            }
            std::thread::sleep(Duration::from_millis(200));
        }
        // A page that kept its form sends it again after this.
        for stream in bodies.into_iter().chain(drops).chain(heads) {
            let answer = rest(stream);
            assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 408 "), "{answer}");
        }
    });
    assert!(asked > 0);
    until("the descriptors come back", || descriptors(shops.server()) <= before + 10);
    println!(
        "slow_ones_are_let_go: {each} heads, {each} bodies, {each} by drops; {asked} others served"
    );
}

/// Whoever asks for much and reads nothing is let go by the machine's own limit.
#[test]
fn who_does_not_read_is_let_go() {
    let each = trials(2, 200);
    let mut shops = served(&[("ONETRIP_BODY_SECONDS", &BODY_SECONDS.to_string())]);
    let before = descriptors(shops.server());
    // So many answers that no buffer holds them.
    let asking = "GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n".repeat(200);
    let streams: Vec<TcpStream> = (0..each)
        .map(|_| {
            let mut stream = connect(&shops);
            stream.write_all(asking.as_bytes()).unwrap();
            stream
        })
        .collect();
    until("they are let go", || descriptors(shops.server()) <= before + 10);
    drop(streams);
    shops.stranger().get("/livez").expect(200);
    println!("who_does_not_read_is_let_go: {each}");
}

/// Ten gigabytes, told beforehand or sent in pieces: refused at the limit.
#[test]
fn a_huge_body_is_refused_at_the_limit() {
    let at_once = trials(4, 20);
    let mut shops = served(&[]);
    shops.person("adviser.north").get("orders").expect(200);
    let before = memory(shops.server());
    let declared = format!("{SIGN_IN}Content-Length: 10737418240\r\n\r\n");
    let (sent, whole) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let asked = others_go_on(&shops, || {
        std::thread::scope(|scope| {
            for number in 0..at_once {
                let (shops, declared, sent, whole) = (&shops, &declared, &sent, &whole);
                scope.spawn(move || {
                    let mut stream = connect(shops);
                    if number % 2 == 0 {
                        stream.write_all(declared.as_bytes()).unwrap();
                    } else {
                        let head = format!("{SIGN_IN}Transfer-Encoding: chunked\r\n\r\n");
                        stream.write_all(head.as_bytes()).unwrap();
                        let piece =
                            [b"10000\r\n".to_vec(), vec![b' '; 65_536], b"\r\n".to_vec()].concat();
                        // As long as the other side takes it, up to the whole.
                        let pieces = (0..163_840)
                            .take_while(|_| stream.write_all(&piece).is_ok())
                            .inspect(|_| {
                                sent.fetch_add(piece.len(), Ordering::Relaxed);
                            });
                        whole.fetch_add(usize::from(pieces.count() == 163_840), Ordering::Relaxed);
                    }
                    let answer = rest(stream);
                    // Whoever still writes as the other side ends it may miss the answer.
                    let refused = answer.starts_with("HTTP/1.1 413 ");
                    assert!(refused || (number % 2 == 1 && answer.is_empty()), "{answer}");
                });
            }
        });
    });
    let grown = memory(shops.server()) - before;
    assert!(grown <= 32 * 1024, "{grown} KiB more");
    let most = sent.load(Ordering::Relaxed);
    assert_eq!(whole.load(Ordering::Relaxed), 0, "all of it was taken");
    shops.stranger().get("/livez").expect(200);
    println!(
        "a_huge_body_is_refused_at_the_limit: {at_once}, {most} bytes sent in pieces, {grown} KiB more, {asked} others served"
    );
}

/// Packed bodies are not unpacked at all; deep ones are refused.
#[test]
fn bombs_do_not_go_off() {
    let mut shops = served(&[]);
    let client = shops.stranger();
    let technician = shops.person("technician.north");
    technician.get("orders").expect(200);
    let before = memory(shops.server());
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    packer.write_all(&vec![b' '; 64 << 20]).unwrap();
    let bomb = packer.finish().unwrap();
    assert!(bomb.len() < 100_000);
    let mut told = std::collections::BTreeMap::new();
    let public = [
        ("/api/v1/sessions", "application/json"),
        ("/sign-in", "application/x-www-form-urlencoded"),
        ("/first-account", "application/x-www-form-urlencoded"),
    ];
    let own = [("orders", "application/json"), ("orders/batch", "application/json")];
    for (client, paths) in [(&client, &public[..]), (&technician, &own[..])] {
        for packing in
            ["gzip", "deflate", "br", "zstd", "x-gzip", "identity", "gzip, gzip", "nonsense"]
        {
            for (path, kind) in paths {
                let call = client.call("POST", path).body(bomb.clone(), kind).new_key();
                let answer = call.header("content-encoding", packing).send();
                *told.entry(answer.status).or_insert(0) += 1;
                assert_eq!(answer.status, 415, "{path} {packing}: {}", answer.body);
            }
        }
    }
    for deep in ["[".repeat(200_000), "{\"a\":".repeat(40_000)] {
        let call = technician.call("POST", "orders").body(deep, "application/json").new_key();
        call.send().expect(400);
    }
    let grown = memory(shops.server()) - before;
    assert!(grown <= 64 * 1024, "{grown} KiB more");
    println!("bombs_do_not_go_off: {told:?}, {grown} KiB more");
}

/// A crowd that only keeps its connections open.
#[test]
fn idle_connections_hold_nobody_up() {
    let crowd = trials(2_000, 10_000);
    let most = rlimit::increase_nofile_limit(u64::MAX).unwrap();
    assert!(most > crowd as u64 + 500, "this needs more than {most} descriptors");
    let mut shops = served(&[]);
    shops.person("adviser.north").get("orders").expect(200);
    let before = descriptors(shops.server());
    for round in 0..trials(1, 2) {
        let mut streams: Vec<TcpStream> = Vec::with_capacity(crowd);
        let asked = others_go_on(&shops, || {
            for _ in 0..crowd {
                let mut stream = connect(&shops);
                stream.write_all(b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n").unwrap();
                streams.push(stream);
            }
        });
        let held = descriptors(shops.server());
        shops.person("adviser.north").get("orders").expect(200);
        shops.stranger().get("/readyz").expect(200);
        let memory = memory(shops.server());
        assert!(memory <= 500 * 1024, "{memory} KiB");
        // Nobody has to go for them: they are let go.
        until("the descriptors come back", || descriptors(shops.server()) <= before + 10);
        println!(
            "idle_connections_hold_nobody_up: round {round}: {crowd} came, {held} descriptors at most, {memory} KiB, {asked} others served"
        );
        for stream in streams {
            drop(stream.shutdown(Shutdown::Both));
        }
    }
}

/// More than can be answered: the rest is told to come again, at once, and when the
/// crowd has gone all is as before.
#[test]
fn overload_is_shed_and_heals() {
    let (clients, each) = (40, trials(20, 500));
    let shops = served(&[("ONETRIP_MOST_REQUESTS", "4")]);
    let asker = shops.person("manager.north");
    asker.get("orders").expect(200);
    let (served, shed) = (AtomicUsize::new(0), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        for _ in 0..clients {
            scope.spawn(|| {
                for _ in 0..each {
                    let answer = asker.get("orders");
                    match answer.status {
                        200 => served.fetch_add(1, Ordering::Relaxed),
                        _ => {
                            answer.problem(503, "unavailable");
                            assert_eq!(answer.header("retry-after"), "1");
                            shed.fetch_add(1, Ordering::Relaxed)
                        }
                    };
                }
            });
        }
        // Whoever looks after the server sees that it lives.
        for _ in 0..each {
            shops.stranger().get("/livez").expect(200);
            shops.stranger().get("/readyz").expect(200);
        }
    });
    let (served, shed) = (served.into_inner(), shed.into_inner());
    assert!(served > 0 && shed > 0, "{served} served, {shed} shed");
    // No place was lost on the way.
    for _ in 0..50 {
        asker.get("orders").expect(200);
    }
    // Those whose bodies are on their way take no place.
    let waiting: Vec<TcpStream> = (0..20)
        .map(|_| {
            let mut stream = connect(&shops);
            stream.write_all(format!("{SIGN_IN}Content-Length: 100\r\n\r\n{{").as_bytes()).unwrap();
            stream
        })
        .collect();
    for _ in 0..20 {
        asker.get("orders").expect(200);
    }
    drop(waiting);
    println!(
        "overload_is_shed_and_heals: {clients} at once where 4 may be: {served} served, {shed} shed"
    );
}
