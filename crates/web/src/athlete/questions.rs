//! L5: what has to be said after a session.

use leverbook_domain::id::AthleteId;
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{Flag, Questions};
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::log::{self, Logged};
use leverbook_store::{GymTx, StoreError, policies};
use time::Date;

/// What has to be said, by the flags that stand and the last session in the log.
pub(super) fn after(standing: &[KeptFlag], last: Option<Logged>, policy: &Policy) -> Questions {
    let standing: Vec<&Flag> = standing.iter().map(|kept| &kept.flag).collect();
    let last = last.map(Logged::into_session);
    Questions::after(&standing, last.as_ref(), policy)
}

/// [`after`] for an athlete, as of today.
pub(super) async fn of(
    tx: &mut GymTx,
    athlete: AthleteId,
    today: Date,
) -> Result<Questions, StoreError> {
    let standing = flags::standing_for(tx, &[athlete]).await?;
    let tomorrow = today.next_day().unwrap_or(today);
    let last = log::before(tx, athlete, tomorrow, 1).await?.pop();
    let policy = policies::of_athlete(tx, athlete).await?;
    Ok(after(&standing, last, policy.own()))
}
