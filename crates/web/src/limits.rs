//! How often somebody may try a password.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::time::Duration;

use governor::clock::{Clock as _, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use leverbook_store::accounts::Email;
use leverbook_store::sign_ins::TokenHash;

/// Limits on attempts to sign in, by email address and by where they come from. Kept in memory:
/// they start anew with the server.
pub(crate) struct Limits {
    by_email: DefaultKeyedRateLimiter<TokenHash>,
    by_address: DefaultKeyedRateLimiter<IpAddr>,
}

/// Ten attempts at once on one account, then one each half minute: a guesser gets 2,880 a day.
fn email_quota() -> Quota {
    Quota::with_period(Duration::from_secs(30))
        .expect("half a minute is no empty period")
        .allow_burst(NonZeroU32::new(10).expect("ten is not zero"))
}

/// A whole gym behind one address can sign in before a class.
fn address_quota() -> Quota {
    Quota::per_second(NonZeroU32::new(1).expect("one is not zero"))
        .allow_burst(NonZeroU32::new(100).expect("a hundred is not zero"))
}

/// Above so many keys, those that are back at their full allowance are dropped.
const MANY: usize = 10_000;

impl Limits {
    pub(crate) fn new() -> Self {
        Self {
            by_email: RateLimiter::keyed(email_quota()),
            by_address: RateLimiter::keyed(address_quota()),
        }
    }

    /// Counts an attempt. The error is the seconds to wait.
    pub(crate) fn attempt(&self, email: &Email, from: Option<IpAddr>) -> Result<(), u64> {
        if self.by_email.len() + self.by_address.len() > MANY {
            self.by_email.retain_recent();
            self.by_address.retain_recent();
        }
        let wait = |not_until: governor::NotUntil<_>| {
            not_until
                .wait_time_from(DefaultClock::default().now())
                .as_secs()
                + 1
        };
        if let Some(address) = from {
            self.by_address.check_key(&address).map_err(wait)?;
        }
        // A key of fixed length, so that a long address takes no more memory.
        let email = TokenHash::of(email.as_str());
        self.by_email.check_key(&email).map_err(wait)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn email(text: &str) -> Email {
        Email::new(text).unwrap()
    }

    #[test]
    fn the_eleventh_attempt_on_an_account_waits_and_others_do_not() {
        let limits = Limits::new();
        for _ in 0..10 {
            assert_eq!(limits.attempt(&email("ida@quarry.example"), None), Ok(()));
        }
        // However it is written.
        let wait = limits
            .attempt(&email(" IDA@quarry.example"), None)
            .unwrap_err();
        assert!((1..=31).contains(&wait), "{wait} s");
        assert_eq!(limits.attempt(&email("nils@quarry.example"), None), Ok(()));
    }

    #[test]
    fn an_address_that_tries_a_hundred_accounts_waits() {
        let limits = Limits::new();
        let here = Some(IpAddr::from([203, 0, 113, 9]));
        for i in 0..100 {
            assert_eq!(
                limits.attempt(&email(&format!("{i}@quarry.example")), here),
                Ok(())
            );
        }
        assert!(limits.attempt(&email("x@quarry.example"), here).is_err());
    }
}
