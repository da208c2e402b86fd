//! `onetrip healthcheck`: one plain request to a running server.

use std::io::{Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::process::ExitCode;
use std::time::Duration;

use super::{REFUSED, fail, print};

/// How long each step of the asking may take.
const PATIENCE: Duration = Duration::from_secs(5);

#[derive(clap::Args)]
pub struct HealthcheckArgs {
    /// What to ask; only http, on this machine or within its network [default:
    /// /readyz at the address of `listen`]
    #[arg(long)]
    url: Option<String>,
}

/// 0 where the server says that the record answers, else 1.
#[must_use]
pub fn run(args: &HealthcheckArgs, listen: &str) -> ExitCode {
    let url = args.url.clone().unwrap_or_else(|| format!("http://{listen}/readyz"));
    let Some(rest) = url.strip_prefix("http://") else {
        eprintln!("onetrip: '{url}' does not begin with http://");
        return ExitCode::from(REFUSED);
    };
    let (server, path) = rest.split_once('/').unwrap_or((rest, "readyz"));
    match ask(server, path) {
        Ok(status) if status.split(' ').nth(1) == Some("200") => print(b"ready\n"),
        Ok(status) => fail(format!("{url} answers: {status}")),
        Err(error) => fail(format!("{url}: {error}")),
    }
}

/// The first line of the answer.
fn ask(server: &str, path: &str) -> std::io::Result<String> {
    let address = if server.rsplit_once(':').is_some_and(|(_, port)| port.parse::<u16>().is_ok()) {
        server.to_owned()
    } else {
        format!("{server}:80")
    };
    let nowhere = || std::io::Error::other("no such address");
    let at = address.to_socket_addrs()?.next().ok_or_else(nowhere)?;
    let mut stream = TcpStream::connect_timeout(&at, PATIENCE)?;
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    write!(stream, "GET /{path} HTTP/1.1\r\nHost: {server}\r\nConnection: close\r\n\r\n")?;
    let mut answer = Vec::new();
    stream.take(64 * 1024).read_to_end(&mut answer)?;
    let text = String::from_utf8_lossy(&answer);
    Ok(text.lines().next().unwrap_or_default().to_owned())
}
