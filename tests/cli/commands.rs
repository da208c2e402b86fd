//! The program's commands beside its main ones.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Command, Output, Stdio};

use super::import::history::History;
use crate::support::folder::Folder;
use crate::support::{Place, Program, Shops};

fn onetrip(arguments: &[&str], environment: &[(&str, &str)]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_onetrip"))
        .args(arguments)
        .env_remove("ONETRIP_DATA")
        .env_remove("RUST_LOG")
        .envs(environment.iter().copied())
        .output()
        .unwrap()
}

#[test]
fn settings_tell_where_they_come_from() {
    let folder = Folder::new();
    let (file, secret) = (folder.path().join("settings.toml"), folder.path().join("data"));
    std::fs::write(&file, "listen = \"127.0.0.1:1\"\nmetrics = \"127.0.0.1:2\"\n").unwrap();
    std::fs::write(&secret, "postgres://u:hunter@h/d\n").unwrap();
    let output = onetrip(
        &["config", "show", "--listen", "127.0.0.1:3"],
        &[
            ("ONETRIP_CONFIG", file.to_str().unwrap()),
            ("ONETRIP_DATA_FILE", secret.to_str().unwrap()),
            ("ONETRIP_SECURE_COOKIES", "true"),
        ],
    );
    let text = String::from_utf8(output.stdout).unwrap();
    let expected = format!(
        "data\tpostgres://u:***@h/d\tenvironment ONETRIP_DATA_FILE\n\
         listen\t127.0.0.1:3\tflag --listen\n\
         tls_certificate\toff\tdefault\n\
         tls_key\toff\tdefault\n\
         plain_http\tfalse\tdefault\n\
         metrics\t127.0.0.1:2\tfile {}\n\
         secure_cookies\ttrue\tenvironment ONETRIP_SECURE_COOKIES\n\
         trusted_proxies\toff\tdefault\n\
         backup_to\toff\tdefault\n\
         backup_minutes\t60\tdefault\n\
         most_requests\t256\tdefault\n\
         body_seconds\t30\tdefault\n\
         password_cost\tmeasured\tdefault\n\
         log\twarn\tdefault\n\
         log_form\tfull\tdefault\n",
        file.display()
    );
    assert_eq!(text, expected);
    std::fs::write(&file, "colour = \"blue\"\n").unwrap();
    let output = onetrip(&["--config", file.to_str().unwrap(), "config", "show"], &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("there is no setting colour"));
}

#[test]
fn a_sound_record_is_told_from_one_that_is_not() {
    let place = Place::sqlite();
    History::small().import(&place, &[]).ended(0);
    let text = Program::new(&place, &["check"]).must("");
    assert!(text.lines().all(|line| line.starts_with("ok ")), "{text}");
    for words in ["database: sound", "shop NORTH: time zone", "shop NORTH: history: 3 closed jobs"]
    {
        assert!(text.contains(words), "{words}: {text}");
    }
    let faults = |sql: &str, why: &str| {
        place.run(sql);
        let output = Program::new(&place, &["check"]).run("");
        let text = String::from_utf8(output.stdout).unwrap();
        assert_eq!(output.status.code(), Some(1), "{text}");
        let lines: Vec<&str> = text.lines().filter(|line| line.starts_with("FAULT ")).collect();
        assert!(lines.iter().any(|line| line.contains(why)), "{why}: {text}");
    };
    faults("UPDATE shop SET time_zone = 'Mars/Base' WHERE code = 'NORTH'", "time zone 'Mars/Base'");
    faults("UPDATE record_change SET changed_at = '2199-01-01 00:00:00'", "before the last change");
    faults(
        "UPDATE record_change SET action = 'added' WHERE record = 'order'; \
         UPDATE repair_order SET order_no = '9' WHERE order_no = 'A-0417'",
        "order numbers: 8 is missing",
    );
    faults(
        "PRAGMA foreign_keys = OFF; DELETE FROM vehicle WHERE vin IS NOT NULL",
        "repair_order row",
    );
}

#[test]
fn checking_makes_no_record() {
    let place = Place::empty_sqlite();
    assert_eq!(Program::new(&place, &["check"]).run("").status.code(), Some(2));
    assert_eq!(std::fs::read_dir(place.data()).unwrap().count(), 0);
}

#[test]
fn a_server_is_asked_whether_it_answers() {
    let mut shops = Shops::open(Place::sqlite());
    let url = format!("{}/readyz", shops.base());
    let ask = |url: &str| onetrip(&["healthcheck", "--url", url], &[]).status.code();
    assert_eq!(ask(&url), Some(0));
    assert_eq!(onetrip(&["healthcheck", "--url", &url], &[]).stdout, b"ready\n");
    assert_eq!(ask(&format!("{}/nowhere", shops.base())), Some(1));
    shops.kill();
    assert_eq!(ask(&url), Some(1));
    assert_eq!(ask("ftp://127.0.0.1/"), Some(2));
}

#[test]
fn shells_and_readers_are_told_of_every_command() {
    let help = String::from_utf8(onetrip(&["--help"], &[]).stdout).unwrap();
    assert!(help.contains("Exit codes: 0 done; 1 failed"), "{help}");
    let man = String::from_utf8(onetrip(&["man"], &[]).stdout).unwrap();
    for shell in ["bash", "zsh", "fish"] {
        let output = onetrip(&["completions", shell], &[]);
        let text = String::from_utf8(output.stdout).unwrap();
        for command in ["serve", "import", "backup", "restore", "healthcheck", "completions"] {
            assert!(text.contains(command), "{shell}: {command}");
            assert!(man.contains(command) && help.contains(command), "{command}");
        }
    }
    let import = String::from_utf8(onetrip(&["man", "import"], &[]).stdout).unwrap();
    assert!(import.contains("guess\\-map") && import.contains("onetrip"), "{import}");
    for name in [&["user-add"][..], &["user", "add"], &["user add"]] {
        let page = onetrip(&[&["man"][..], name].concat(), &[]);
        assert!(String::from_utf8_lossy(&page.stdout).contains("password\\-stdin"), "{name:?}");
    }
    assert_eq!(onetrip(&["man", "gossip"], &[]).status.code(), Some(2));
}

/// A reader that stops is no fault, whatever is still to be printed.
#[test]
fn a_pipe_that_closes_early_ends_quietly() {
    let place = Place::sqlite();
    let data = place.data();
    for command in [
        "check",
        "config show",
        "openapi",
        "codes",
        "user list",
        "man",
        "report labor --shop north",
    ] {
        let script = format!("{{ \"$0\" --data \"$1\" {command}; echo $? >&2; }} | true");
        let output = Command::new("sh")
            .args(["-c", &script, env!("CARGO_BIN_EXE_onetrip"), &data])
            .output()
            .unwrap();
        let words = String::from_utf8_lossy(&output.stderr);
        assert!(words.ends_with("0\n") && !words.contains("panicked"), "{command}: {words}");
    }
}

#[test]
fn lists_are_printed_of_a_shop_or_to_start_with() {
    let place = Place::sqlite();
    let print = |arguments: &[&str]| Program::new(&place, arguments).must("");
    assert!(print(&["codes", "symptom"]).lines().any(|line| line.starts_with("brakes.noise\t")));
    assert!(print(&["codes"]).contains("check\troad-test\tRoad test\n"));
    place.run("UPDATE code_entry SET label = 'Grinds' WHERE code = 'brakes.noise'");
    assert!(print(&["codes", "symptom", "--shop", "NORTH"]).contains("brakes.noise\tGrinds\n"));
    let output = Program::new(&place, &["codes", "--shop", "west"]).run("");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("there is no shop west"));
}

#[test]
fn one_more_role_leaves_the_password() {
    for place in [Some(Place::sqlite()), Place::postgres()].into_iter().flatten() {
        let add = |role: &str, more: &[&str], input: &str| {
            let base = ["user", "add", "--group", "riverside", "--name", "Dana Cole"];
            let who = ["--sign-in", "dana", "--shop", "north", "--role", role];
            let output = Program::new(&place, &[&base[..], &who[..], more].concat()).run(input);
            let words = String::from_utf8(output.stderr).unwrap();
            assert_eq!(output.status.code(), Some(0), "{words}");
            words
        };
        let hash =
            || place.lines("SELECT password_hash AS line FROM person WHERE sign_in_name = 'dana'");
        add("technician", &["--password-stdin"], "a first long password\n");
        let first = hash();
        assert!(add("service-manager", &[], "").contains("with the password of before"));
        assert_eq!(hash(), first);
        let roles =
            "FROM role_grant g JOIN person p ON p.id = g.person_id WHERE p.sign_in_name = 'dana'";
        assert_eq!(place.count(roles), 2);
        let words = add("technician", &["--password-stdin"], "a second long password\n");
        assert!(words.contains("new password set"), "{words}");
        assert_ne!(hash(), first);
    }
}

#[test]
fn a_server_that_nobody_can_enter_says_so() {
    let place = Place::empty_sqlite();
    let mut child = Command::new(env!("CARGO_BIN_EXE_onetrip"))
        .args(["--data", &place.data(), "serve", "--listen", "127.0.0.1:0"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stderr.take().unwrap()).read_line(&mut line).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(line.contains("Nobody can sign in yet"), "{line}");
}

fn get(address: &str, path: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n").unwrap();
    let mut text = String::new();
    stream.read_to_string(&mut text).unwrap();
    text
}

/// A port that was free a moment ago.
fn free_port() -> u16 {
    std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

#[test]
fn metrics_count_requests_by_route_and_tell_no_ids() {
    let place = Place::sqlite();
    let metrics = format!("127.0.0.1:{}", free_port());
    let server = crate::support::Server::with(&place, &["--metrics", &metrics]);
    let address = server.base.trim_start_matches("http://").to_owned();
    for path in ["/livez", "/livez", "/api/v1/shops/0197-secret/orders/0198-secret", "/no/such"] {
        get(&address, path);
    }
    let text = get(&metrics, "/metrics");
    assert!(text.contains("content-type: text/plain; version=0.0.4"), "{text}");
    assert!(text.contains("onetrip_build_info{version="), "{text}");
    for (route, class, count) in [
        ("/livez", "2xx", 2),
        ("/api/v1/shops/{shop}/orders/{order}", "4xx", 1),
        ("none", "4xx", 1),
    ] {
        let line = format!(
            "onetrip_http_request_duration_seconds_count{{method=\"GET\",route=\"{route}\",status=\"{class}\"}} {count}\n"
        );
        assert!(text.contains(&line), "{line}: {text}");
    }
    assert!(!text.contains("secret") && !text.contains("/no/such"), "{text}");
    assert!(get(&address, "/metrics").starts_with("HTTP/1.1 404"), "only at their own address");
}
