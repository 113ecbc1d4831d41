//! What an operator decides.

use leverbook_store::sign_ins::Lifetime;
use time::Duration;

/// Settings of the server. [`Config::default`] is right for one machine without a proxy.
#[derive(Debug, Clone)]
pub struct Config {
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
