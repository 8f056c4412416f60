//! The address of a client, also behind proxies that this server trusts.

use axum::http::{Extensions, HeaderMap, HeaderValue};
use forwarded_header_value::ForwardedHeaderValue;
use ipnet::IpNet;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};

/// The client address of a connection. The server adds it to the extensions of each request.
#[derive(Debug, Clone, Copy)]
pub struct PeerAddress(pub SocketAddr);

/// The header in which a proxy names its client. Only one is read: a proxy passes the other on as a stranger wrote it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum ForwardedHeader {
    /// X-Forwarded-For, the de-facto standard.
    #[default]
    XForwardedFor,
    /// Forwarded (RFC 7239).
    Forwarded,
}

/// The proxies whose word about a client's address counts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TrustedProxies {
    /// Their addresses.
    pub networks: Vec<IpNet>,
    /// The header that they set.
    pub header: ForwardedHeader,
}

impl TrustedProxies {
    /// Whether an address is a trusted proxy's.
    pub fn contains(&self, address: IpAddr) -> bool {
        let address = address.to_canonical();
        self.networks.iter().any(|network| network.contains(&address))
    }

    /// The client's address: the peer, or if that is a trusted proxy, the last address in its header that is not.
    /// Addresses further left were written by the client itself.
    fn client(&self, peer: IpAddr, headers: &HeaderMap) -> IpAddr {
        if !self.contains(peer) {
            return peer;
        }
        let named = self.named(headers);
        named
            .into_iter()
            .rev()
            .map_while(|address| address)
            .find(|address| !self.contains(*address))
            .unwrap_or(peer)
    }

    /// The addresses that the header names, in order; `None` for one that is hidden or makes no sense.
    fn named(&self, headers: &HeaderMap) -> Vec<Option<IpAddr>> {
        let text = |name: &str| {
            let lines = headers.get_all(name).iter().filter_map(|line: &HeaderValue| line.to_str().ok());
            lines.collect::<Vec<_>>().join(",")
        };
        let read = match self.header {
            ForwardedHeader::XForwardedFor => {
                // Some proxies add the port, which the header's usual form does not have.
                let names = text("x-forwarded-for");
                let one = |name: &str| {
                    let name = name.trim();
                    name.parse().ok().or_else(|| name.parse::<SocketAddr>().ok().map(|address| address.ip()))
                };
                return names.split(',').map(one).collect();
            }
            ForwardedHeader::Forwarded => ForwardedHeaderValue::from_forwarded(&text("forwarded")),
        };
        let one = |stanza: &forwarded_header_value::ForwardedStanza| stanza.forwarded_for_ip();
        read.map(|value| value.iter().map(one).collect()).unwrap_or_default()
    }

    /// The key for limits per client: the IPv4 address, or the first 64 bits of the IPv6 address, because one household
    /// has that prefix to itself.
    pub(crate) fn client_key(&self, extensions: &Extensions, headers: &HeaderMap) -> IpAddr {
        let peer = extensions.get::<PeerAddress>().map_or(Ipv4Addr::UNSPECIFIED.into(), |peer| peer.0.ip());
        household(self.client(peer, headers))
    }
}

/// An IPv4 address, or the network of an IPv6 address.
pub(crate) fn household(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::V6((v6.to_bits() >> 64 << 64).into()),
        v4 => v4,
    }
}

/// Reads an address or a network, such as `127.0.0.1` or `10.0.0.0/8`.
pub(crate) fn parse_network(text: &str) -> Result<IpNet, String> {
    let address = || text.parse::<IpAddr>().map(IpNet::from);
    text.parse()
        .or_else(|_| address())
        .map_err(|_| "expected an address or a network, such as 10.0.0.0/8".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn client(header: ForwardedHeader, peer: &str, lines: &[(&'static str, &'static str)]) -> String {
        let networks = ["127.0.0.1", "10.0.0.0/8", "fd00::/8"].map(|text| parse_network(text).unwrap());
        let proxies = TrustedProxies { networks: networks.to_vec(), header };
        let mut headers = HeaderMap::new();
        for (name, value) in lines {
            headers.append(*name, HeaderValue::from_static(value));
        }
        household(proxies.client(peer.parse().unwrap(), &headers)).to_string()
    }

    /// The forms of `Forwarded` are the examples of RFC 7239, 4 and 7.1.
    #[test]
    fn only_trusted_proxies_are_believed() {
        use ForwardedHeader::{Forwarded, XForwardedFor};
        for (header, peer, lines, expected) in [
            (XForwardedFor, "192.0.2.1", &[("x-forwarded-for", "192.0.2.60")][..], "192.0.2.1"),
            (XForwardedFor, "127.0.0.1", &[("x-forwarded-for", "192.0.2.60")], "192.0.2.60"),
            (XForwardedFor, "::ffff:127.0.0.1", &[("x-forwarded-for", "192.0.2.60")], "192.0.2.60"),
            (
                XForwardedFor,
                "127.0.0.1",
                &[("x-forwarded-for", "198.51.100.9, 192.0.2.60, 10.1.2.3")],
                "192.0.2.60",
            ),
            (
                XForwardedFor,
                "127.0.0.1",
                &[("x-forwarded-for", "198.51.100.9"), ("x-forwarded-for", "192.0.2.60")],
                "192.0.2.60",
            ),
            (XForwardedFor, "127.0.0.1", &[("x-forwarded-for", "192.0.2.60:4711")], "192.0.2.60"),
            (XForwardedFor, "127.0.0.1", &[("x-forwarded-for", "2001:db8::1:2")], "2001:db8::"),
            (XForwardedFor, "127.0.0.1", &[("x-forwarded-for", "nonsense")], "127.0.0.1"),
            (XForwardedFor, "127.0.0.1", &[("x-forwarded-for", "192.0.2.60, nonsense")], "127.0.0.1"),
            (XForwardedFor, "127.0.0.1", &[("forwarded", "for=192.0.2.60")], "127.0.0.1"),
            (XForwardedFor, "127.0.0.1", &[], "127.0.0.1"),
            (Forwarded, "127.0.0.1", &[("x-forwarded-for", "192.0.2.60")], "127.0.0.1"),
            (Forwarded, "127.0.0.1", &[("forwarded", "for=192.0.2.43, for=198.51.100.17")], "198.51.100.17"),
            (Forwarded, "127.0.0.1", &[("forwarded", "For=\"[2001:db8:cafe::17]:4711\"")], "2001:db8:cafe::"),
            (Forwarded, "127.0.0.1", &[("forwarded", "for=192.0.2.43, for=\"[fd00::1]\"")], "192.0.2.43"),
            (Forwarded, "127.0.0.1", &[("forwarded", "for=_hidden")], "127.0.0.1"),
            (
                Forwarded,
                "10.9.9.9",
                &[("forwarded", "for=192.0.2.60;proto=http;by=203.0.113.43")],
                "192.0.2.60",
            ),
        ] {
            assert_eq!(client(header, peer, lines), expected, "{header:?} {peer} {lines:?}");
        }
    }
}
