//! `onetrip healthcheck`: one plain request to a running server.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use rustls::{ClientConfig, ClientConnection, StreamOwned};

use super::{REFUSED, fail, print};
use crate::config::Config;
use crate::tls;

/// How long each step of the asking may take.
const PATIENCE: Duration = Duration::from_secs(5);
/// Nobody's first line is longer.
const MOST_BYTES: u64 = 64 * 1024;

#[derive(clap::Args)]
pub struct HealthcheckArgs {
    /// What to ask, on this machine or within its network; over https the server
    /// must have the certificate of the settings [default: /readyz at the address
    /// of `listen`]
    #[arg(long)]
    url: Option<String>,
}

/// 0 where the server says that the record answers, else 1.
#[must_use]
pub fn run(args: &HealthcheckArgs, config: &Config) -> ExitCode {
    let certificate = config.tls_certificate();
    let scheme = if certificate.is_some() { "https" } else { "http" };
    let own = || format!("{scheme}://{}/readyz", config.listen());
    let url = args.url.clone().unwrap_or_else(own);
    let (secret, rest) = match (url.strip_prefix("http://"), url.strip_prefix("https://")) {
        (Some(rest), _) => (None, rest),
        (None, Some(rest)) => match certificate.ok_or("set tls_certificate".to_owned()) {
            Ok(file) => match tls::asking(file) {
                Ok(secret) => (Some(secret), rest),
                Err(why) => return fail(why),
            },
            Err(why) => {
                eprintln!("onetrip: to ask '{url}' {why}");
                return ExitCode::from(REFUSED);
            }
        },
        (None, None) => {
            eprintln!("onetrip: '{url}' does not begin with http:// or https://");
            return ExitCode::from(REFUSED);
        }
    };
    let (server, path) = rest.split_once('/').unwrap_or((rest, "readyz"));
    match ask(server, path, secret) {
        Ok(status) if status.split(' ').nth(1) == Some("200") => print(b"ready\n"),
        Ok(status) => fail(format!("{url} answers: {status}")),
        Err(error) => fail(format!("{url}: {error}")),
    }
}

/// The first line of the answer.
fn ask(server: &str, path: &str, secret: Option<ClientConfig>) -> std::io::Result<String> {
    let named = server.rsplit_once(':').filter(|(_, port)| port.parse::<u16>().is_ok());
    let usual = if secret.is_some() { 443 } else { 80 };
    let host = named.map_or(server, |(host, _)| host);
    let address = named.map_or_else(|| format!("{server}:{usual}"), |_| server.to_owned());
    let nowhere = || std::io::Error::other("no such address");
    let at = address.to_socket_addrs()?.next().ok_or_else(nowhere)?;
    let stream = TcpStream::connect_timeout(&at, PATIENCE)?;
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let request = format!("GET /{path} HTTP/1.1\r\nHost: {server}\r\nConnection: close\r\n\r\n");
    let Some(config) = secret else { return first_line(stream, &request) };
    let name = host.trim_matches(['[', ']']).to_owned().try_into().map_err(|_| nowhere())?;
    let secret = ClientConnection::new(Arc::new(config), name).map_err(std::io::Error::other)?;
    first_line(StreamOwned::new(secret, stream), &request)
}

fn first_line(mut stream: impl Read + Write, request: &str) -> std::io::Result<String> {
    stream.write_all(request.as_bytes())?;
    let mut line = Vec::new();
    BufReader::new(stream.take(MOST_BYTES)).read_until(b'\n', &mut line)?;
    Ok(String::from_utf8_lossy(&line).trim_end().to_owned())
}
