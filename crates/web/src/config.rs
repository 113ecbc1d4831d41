//! What an operator decides.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

use leverbook_store::sign_ins::Lifetime;
use time::Duration;

/// Settings of the server. [`Config::default`] is right for one machine without a proxy.
#[derive(Debug, Clone)]
pub struct Config {
    /// The address it listens on. Links in invitations start with it where no public URL is set.
    pub listens_on: SocketAddr,
    /// Where people find it, such as `https://book.example.org`; links in invitations start with
    /// it, and cookies are bound to TLS if it is `https`.
    pub public_url: Option<String>,
    /// Whether a proxy in front tells the visitor's address in `X-Forwarded-For`. Never on
    /// without one: anybody could then claim any address.
    pub behind_proxy: bool,
    /// How long a sign-in lasts. The default is 30 days in all (NIST SP 800-63B-4, AAL1: sign in again at least
    /// every 30 days) and 7 without a request.
    pub sign_in: Lifetime,
    /// How long an invitation can be taken up.
    pub invitation: Duration,
    /// The largest form, in bytes.
    pub form_bytes: usize,
}

impl Default for Config {
    fn default() -> Self {
        Self {
            listens_on: SocketAddr::from((Ipv4Addr::LOCALHOST, 8080)),
            public_url: None,
            behind_proxy: false,
            sign_in: Lifetime {
                idle: Duration::days(7),
                absolute: Duration::days(30),
            },
            invitation: Duration::days(7),
            form_bytes: 2 * 1024 * 1024,
        }
    }
}

impl Config {
    /// Where links start. Never what a request says of its host: anybody can forge that, and a link
    /// in an invitation would lead to them.
    #[must_use]
    pub fn origin(&self) -> String {
        if let Some(url) = &self.public_url {
            return url.trim_end_matches('/').to_owned();
        }
        let mut address = self.listens_on;
        // "Every address of this machine" is none that a browser can open.
        if address.ip().is_unspecified() {
            address.set_ip(match address.ip() {
                IpAddr::V4(_) => Ipv4Addr::LOCALHOST.into(),
                IpAddr::V6(_) => Ipv6Addr::LOCALHOST.into(),
            });
        }
        format!("http://{address}")
    }

    /// Whether links work on this machine only.
    #[must_use]
    pub fn is_for_this_machine_only(&self) -> bool {
        let ip = self.listens_on.ip();
        self.public_url.is_none() && (ip.is_loopback() || ip.is_unspecified())
    }

    /// Whether people reach it over TLS.
    #[must_use]
    pub fn is_tls(&self) -> bool {
        self.public_url
            .as_deref()
            .is_some_and(|url| url.starts_with("https://"))
    }

    /// The name of a cookie. Under TLS it has the prefix that makes a browser bind it to this very
    /// host, the whole path and TLS.
    #[must_use]
    pub fn cookie_name(&self, plain: &str) -> String {
        if self.is_tls() {
            format!("__Host-{plain}")
        } else {
            plain.to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_start_with_the_public_url_or_with_an_address_that_a_browser_can_open() {
        let origin = |public_url: Option<&str>, listens_on: &str| {
            let config = Config {
                public_url: public_url.map(str::to_owned),
                listens_on: listens_on.parse().unwrap(),
                ..Config::default()
            };
            (config.origin(), config.is_for_this_machine_only())
        };
        for (public_url, listens_on, start, only_here) in [
            (
                Some("https://book.example.org/"),
                "0.0.0.0:80",
                "https://book.example.org",
                false,
            ),
            (None, "127.0.0.1:8080", "http://127.0.0.1:8080", true),
            (None, "0.0.0.0:8080", "http://127.0.0.1:8080", true),
            (None, "[::]:8080", "http://[::1]:8080", true),
            (None, "192.0.2.7:8080", "http://192.0.2.7:8080", false),
        ] {
            assert_eq!(
                origin(public_url, listens_on),
                (start.to_owned(), only_here)
            );
        }
    }
}
