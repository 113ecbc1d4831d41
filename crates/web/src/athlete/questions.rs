//! L5: what has to be said after a session.

use leverbook_domain::id::AthleteId;
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{Flag, Questions};
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::log::{self, Logged};
use leverbook_store::{GymTx, StoreError, policies};
use time::Date;

/// What is asked after a session.
#[derive(Debug, Clone, Copy)]
pub(super) struct AfterSession {
    /// L5: what has to be said, and why.
    pub(super) questions: Questions,
    /// L4: the pain from which on the work stops.
    pub(super) pain_stop: u8,
}

/// What has to be said, by the flags that stand and the last session in the log.
pub(super) fn after(standing: &[KeptFlag], last: Option<Logged>, policy: &Policy) -> Questions {
    let standing: Vec<&Flag> = standing.iter().map(|kept| &kept.flag).collect();
    let last = last.map(Logged::into_session);
    Questions::after(&standing, last.as_ref(), policy)
}

impl AfterSession {
    /// As of today. A coach who logs for the athlete may leave everything unsaid.
    pub(super) async fn load(
        tx: &mut GymTx,
        athlete: AthleteId,
        by_coach: bool,
        today: Date,
    ) -> Result<Self, StoreError> {
        let policy = policies::of_athlete(tx, athlete).await?;
        let pain_stop = policy.own().pain_stop;
        if by_coach {
            return Ok(Self {
                questions: Questions::default(),
                pain_stop,
            });
        }
        let standing = flags::standing_for(tx, &[athlete]).await?;
        let tomorrow = today.next_day().unwrap_or(today);
        let last = log::before(tx, athlete, tomorrow, 1).await?.pop();
        Ok(Self {
            questions: after(&standing, last, policy.own()),
            pain_stop,
        })
    }
}
