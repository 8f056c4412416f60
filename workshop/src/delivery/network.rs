//! Detection of the network.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, ToSocketAddrs, UdpSocket};
use ureq::http::Uri;

/// Tells whether a shop is reachable. If not, no call is made, and a failed call does not count as an attempt.
pub trait Network: Send {
    /// Whether there is a route to this URL; `true` if unknown.
    fn is_reachable(&self, shop: &str) -> bool;
}

/// Uses the system's routing table; nothing is sent. One exception: if there is no default route and the
/// shop's host is a name, the system resolver is asked, because the name may belong to the local network.
#[derive(Debug, Clone, Copy, Default)]
pub struct RoutingTable;

impl Network for RoutingTable {
    fn is_reachable(&self, shop: &str) -> bool {
        let Ok(uri) = shop.parse::<Uri>() else { return true };
        if is_loopback_uri(&uri) {
            return true;
        }
        if let Some(address) = literal(&uri) {
            return leads_to(address);
        }
        // Documentation addresses (RFC 5737, 3; RFC 3849, 2): every default route covers them and no host has them.
        leads_to(Ipv4Addr::new(192, 0, 2, 1).into())
            || leads_to(Ipv6Addr::new(0x2001, 0xdb8, 0, 0, 0, 0, 0, 1).into())
            || (uri.host().unwrap_or_default(), 0)
                .to_socket_addrs()
                .is_ok_and(|mut found| found.any(|address| leads_to(address.ip())))
    }
}

fn leads_to(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(_) => has_way(Ipv4Addr::UNSPECIFIED.into(), address),
        IpAddr::V6(_) => has_way(Ipv6Addr::UNSPECIFIED.into(), address),
    }
}

/// The host, if it is an IP address and not a name.
fn literal(uri: &Uri) -> Option<IpAddr> {
    let host = uri.host().unwrap_or_default();
    let bare = host.strip_prefix('[').and_then(|host| host.strip_suffix(']')).unwrap_or(host);
    bare.parse().ok()
}

/// Whether there is a route: connecting a UDP socket only looks it up.
fn has_way(from: IpAddr, to: IpAddr) -> bool {
    let socket = UdpSocket::bind(SocketAddr::new(from, 0));
    // Port 9 is the discard service (RFC 863).
    socket.and_then(|socket| socket.connect(SocketAddr::new(to, 9))).is_ok()
}

/// Whether the host is the local machine.
pub(super) fn is_loopback_uri(uri: &Uri) -> bool {
    uri.host().is_some_and(|host| host.eq_ignore_ascii_case("localhost"))
        || literal(uri).is_some_and(|address| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_machine_by_its_names() {
        for (address, here) in [
            ("http://localhost:80", true),
            ("http://LOCALHOST/x", true),
            ("http://127.0.0.1:1", true),
            ("https://127.9.9.9", true),
            ("http://[::1]:8480/v1", true),
            ("http://localhost.example", false),
            ("http://127.0.0.1.example", false),
            ("http://128.0.0.1", false),
            ("/v1", false),
        ] {
            assert_eq!(is_loopback_uri(&address.parse().unwrap()), here, "{address}");
        }
        assert!(RoutingTable.is_reachable("http://127.0.0.1:1"));
    }
}
