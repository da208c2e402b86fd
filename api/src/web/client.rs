//! Where a request comes from: the peer of the connection or, where that is a web
//! server that whoever set the program up trusts, whom it says it speaks for.

use std::net::{IpAddr, Ipv4Addr};

use actix_web::HttpRequest;
use actix_web::http::header::X_FORWARDED_FOR;
use actix_web::web;
use ipnet::IpNet;

use crate::app::App;

/// The address that a request comes from.
#[must_use]
pub fn address(req: &HttpRequest) -> IpAddr {
    let peer = req.peer_addr().map_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED), |peer| peer.ip());
    let trusted = req.app_data::<web::Data<App>>().map_or(&[][..], |app| &app.trusted_proxies);
    let lines = req.headers().get_all(X_FORWARDED_FOR);
    // A hop that is no text must not take the others of its line with it.
    let said: Vec<_> = lines.map(|line| String::from_utf8_lossy(line.as_bytes())).collect();
    behind(peer, trusted, &said.join(","))
}

/// The last hop that is no trusted one. Each adds on the right whom it took the
/// request from: what stands further left anybody may have written.
fn behind(peer: IpAddr, trusted: &[IpNet], said: &str) -> IpAddr {
    let mut from = peer.to_canonical();
    for hop in said.rsplit(',') {
        if !trusted.iter().any(|net| net.contains(&from)) {
            break;
        }
        let Some(hop) = hop_of(hop.trim()) else { break };
        from = hop.to_canonical();
    }
    from
}

/// An address as web servers write it, with or without a port.
fn hop_of(text: &str) -> Option<IpAddr> {
    let bare = |text: &str| text.trim_start_matches('[').trim_end_matches(']').parse().ok();
    bare(text).or_else(|| text.parse::<std::net::SocketAddr>().ok().map(|at| at.ip()))
}

/// Networks and addresses, with commas between.
///
/// # Errors
/// The one that cannot be read.
pub fn networks(text: &str) -> Result<Vec<IpNet>, String> {
    let one = |word: &str| {
        let alone = || word.parse::<IpAddr>().map(IpNet::from);
        word.parse::<IpNet>().or_else(|_| alone()).map_err(|_| {
            format!("'{word}' is no address and no network, such as 127.0.0.1 or 10.0.0.0/8")
        })
    };
    text.split(',').map(str::trim).filter(|word| !word.is_empty()).map(one).collect()
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn told(peer: &str, trusted: &str, said: &str) -> String {
        behind(peer.parse().unwrap(), &networks(trusted).unwrap(), said).to_string()
    }

    #[test]
    fn only_trusted_hops_are_believed() {
        let proxies = "127.0.0.1, 10.0.0.0/8, fd00::/8";
        for (peer, trusted, said, from) in [
            ("198.51.100.7", "", "203.0.113.9", "198.51.100.7"),
            ("198.51.100.7", proxies, "203.0.113.9", "198.51.100.7"),
            ("127.0.0.1", "", "203.0.113.9", "127.0.0.1"),
            ("127.0.0.1", proxies, "", "127.0.0.1"),
            ("127.0.0.1", proxies, "203.0.113.9", "203.0.113.9"),
            ("127.0.0.1", proxies, "1.1.1.1, 203.0.113.9", "203.0.113.9"),
            ("127.0.0.1", proxies, "1.1.1.1,203.0.113.9, 10.1.2.3", "203.0.113.9"),
            ("127.0.0.1", proxies, "10.9.9.9, 10.1.2.3", "10.9.9.9"),
            ("127.0.0.1", proxies, "203.0.113.9, nonsense", "127.0.0.1"),
            ("::ffff:127.0.0.1", proxies, "203.0.113.9:4711", "203.0.113.9"),
            ("fd00::1", proxies, "[2001:db8::7]:4711", "2001:db8::7"),
            ("fd00::1", proxies, "2001:db8::7", "2001:db8::7"),
        ] {
            assert_eq!(told(peer, trusted, said), from, "{peer} of {trusted}: {said}");
        }
    }

    #[test]
    fn what_is_no_network_is_told() {
        assert!(networks("10.0.0.0/8, somewhere").unwrap_err().contains("somewhere"));
    }
}
