//! Encrypted connections, and plain ones where they may be.

use std::path::{Path, PathBuf};
use std::process::Command;

use rcgen::{CertifiedKey, generate_simple_self_signed};
use ureq::Agent;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

use crate::support::folder::Folder;
use crate::support::shops::PASSWORD;
use crate::support::{Place, Program, Server};

/// A certificate with its key, in files.
struct Papers {
    folder: Folder,
    pem: String,
}

impl Papers {
    fn make() -> Self {
        let names = vec!["localhost".to_owned(), "127.0.0.1".to_owned()];
        let CertifiedKey { cert, signing_key } = generate_simple_self_signed(names).unwrap();
        let papers = Self { folder: Folder::new(), pem: cert.pem() };
        std::fs::write(papers.certificate(), cert.pem()).unwrap();
        std::fs::write(papers.key(), signing_key.serialize_pem()).unwrap();
        papers
    }

    fn certificate(&self) -> PathBuf {
        self.folder.path().join("certificate.pem")
    }

    fn key(&self) -> PathBuf {
        self.folder.path().join("key.pem")
    }

    /// Somebody who trusts this certificate alone.
    fn agent(&self) -> Agent {
        let root = Certificate::from_pem(self.pem.as_bytes()).unwrap();
        let tls = TlsConfig::builder().root_certs(RootCerts::new_with_certs(&[root])).build();
        Agent::config_builder()
            .tls_config(tls)
            .http_status_as_error(false)
            .max_redirects(0)
            .max_redirects_will_error(false)
            .build()
            .new_agent()
    }
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn https_is_spoken_where_a_certificate_is_given() {
    let (papers, place) = (Papers::make(), Place::sqlite());
    let (certificate, key) = (papers.certificate(), papers.key());
    let given = ["--tls-certificate", text(&certificate), "--tls-key", text(&key)];
    let server = Server::with(&place, &[&given[..], &["--metrics", "127.0.0.1:0"]].concat());
    assert!(server.base.starts_with("https://127.0.0.1:"), "{}", server.base);
    let agent = papers.agent();
    let form = [("sign_in_name", "adviser.north"), ("password", PASSWORD)];
    let answer = agent.post(format!("{}/sign-in", server.base)).send_form(form).unwrap();
    assert_eq!(answer.status(), 303);
    let cookie = answer.headers()["set-cookie"].to_str().unwrap().to_owned();
    assert!(cookie.starts_with("__Host-onetrip_session="), "{cookie}");
    assert!(cookie.contains("; Secure"), "{cookie}");
    let session = cookie.split(';').next().unwrap();
    let own = agent.get(format!("{}/me", server.base)).header("cookie", session).call().unwrap();
    assert_eq!(own.status(), 200);
    // Whoever trusts another certificate, or speaks plainly, gets nothing.
    let other = Papers::make();
    assert!(other.agent().get(format!("{}/livez", server.base)).call().is_err());
    let plain = server.base.replace("https://", "http://");
    assert!(papers.agent().get(format!("{plain}/livez")).call().is_err());
    let asked = |papers: &Papers| {
        let mut ask = Command::new(env!("CARGO_BIN_EXE_onetrip"));
        ask.env("ONETRIP_TLS_CERTIFICATE", papers.certificate());
        let ask = ask.args(["healthcheck", "--url", &format!("{}/readyz", server.base)]);
        ask.output().unwrap()
    };
    assert_eq!(asked(&papers).stdout, b"ready\n");
    assert_eq!(asked(&other).status.code(), Some(1));
}

#[test]
fn what_cannot_be_encrypted_is_refused() {
    let (papers, other, place) = (Papers::make(), Papers::make(), Place::sqlite());
    let refused = |arguments: &[&str], words: &str| {
        let output = Program::new(&place, &[&["serve"][..], arguments].concat()).run("");
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
        assert!(told.contains(words), "{arguments:?}: {told}");
    };
    let (certificate, key, elses) = (papers.certificate(), papers.key(), other.key());
    let here = ["--listen", "127.0.0.1:0"];
    let with = |more: &[&'static str]| [&here[..], more].concat();
    refused(&[&with(&["--tls-certificate"])[..], &[text(&certificate)]].concat(), "go together");
    let pair = |certificate: &Path, key: &Path, words: &str| {
        let files = ["--tls-certificate", text(certificate), "--tls-key", text(key)];
        refused(&[&here[..], &files].concat(), words);
    };
    pair(&certificate, &elses, "key.pem");
    pair(&key, &certificate, "key.pem");
    pair(Path::new("/nowhere/at-all"), &key, "/nowhere/at-all");
    // Plain http stays on this machine unless one says so.
    for listen in ["0.0.0.0:0", "[::]:0"] {
        refused(&["--listen", listen], "tls_certificate");
    }
}

#[test]
fn plain_http_is_spoken_to_others_where_one_says_so() {
    let place = Place::sqlite();
    let program = Program::new(&place, &["serve", "--listen", "0.0.0.0:0", "--plain-http"]);
    let server = Server::of(program);
    assert!(server.base.starts_with("http://0.0.0.0:"), "{}", server.base);
    let here = server.base.replace("0.0.0.0", "127.0.0.1");
    crate::support::Client::new(&here).get("/livez").expect(200);
}
