//! The one clock. Everything else is handed `now` or `today`.

use std::sync::{Arc, Mutex, PoisonError};

use time::{Duration, OffsetDateTime};
use uuid::{NoContext, Timestamp, Uuid};

/// Where `now` comes from.
#[derive(Debug, Clone)]
pub struct Clock(Source);

#[derive(Debug, Clone)]
enum Source {
    Machine,
    Set(Arc<Mutex<OffsetDateTime>>),
}

impl Clock {
    /// The machine's clock.
    #[must_use]
    pub const fn machine() -> Self {
        Self(Source::Machine)
    }

    /// A clock that stands until it is moved, for tests and for the demo's fixed day. Clones move
    /// together.
    #[must_use]
    pub fn standing_at(now: OffsetDateTime) -> Self {
        Self(Source::Set(Arc::new(Mutex::new(now))))
    }

    /// The instant, in UTC.
    #[must_use]
    pub fn now(&self) -> OffsetDateTime {
        match &self.0 {
            Source::Machine =>
            {
                #[expect(
                    clippy::disallowed_methods,
                    reason = "this is the clock that everything else is handed"
                )]
                OffsetDateTime::now_utc()
            }
            Source::Set(now) => *now.lock().unwrap_or_else(PoisonError::into_inner),
        }
    }

    /// A new id, in the order of time.
    #[must_use]
    pub fn new_id<T: From<Uuid>>(&self) -> T {
        let now = self.now();
        let seconds = u64::try_from(now.unix_timestamp()).unwrap_or_default();
        Uuid::new_v7(Timestamp::from_unix(NoContext, seconds, now.nanosecond())).into()
    }

    /// Moves a standing clock; the machine's clock cannot be moved, and stays.
    pub fn advance(&self, by: Duration) {
        if let Source::Set(now) = &self.0 {
            *now.lock().unwrap_or_else(PoisonError::into_inner) += by;
        }
    }
}
