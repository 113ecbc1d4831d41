//! The week that ended, by e-mail to coaches who ask for it: on Monday morning by the gym's clocks, in
//! counts alone, once. Without a mail server nothing is made and nothing is sent.

mod letter;
pub(crate) mod pages;
mod post;

use std::time::Duration as Wait;

use leverbook_domain::digest::{Counted, Digest, week_due};
use leverbook_domain::id::{AccountId, GymId};
use leverbook_store::digests::{self, Job, Outcome};
use leverbook_store::people::{self, Role};
use leverbook_store::{StoreError, accounts, flags, gyms, notes, review};
use time::Duration;
use tokio::sync::watch;
use uuid::Uuid;

use crate::App;
use crate::coach::review::need_of;
pub use post::{MailError, Mailer};

/// How long after one look comes the next.
const PAUSE: Wait = Wait::from_secs(60);

/// After this a job that a server took, and did not settle, is anybody's again.
const LEASE: Duration = Duration::minutes(10);

/// How long a mail is tried. A week's counts are old news after that.
const WORTH_TRYING: Duration = Duration::days(2);

/// Nobody: the server acts for itself.
const NOBODY: AccountId = AccountId(Uuid::nil());

/// Looks after the mails until told to stop; what is being sent then is sent.
pub(crate) async fn watch(app: App, mut stop: watch::Receiver<bool>) {
    loop {
        tokio::select! {
            () = tokio::time::sleep(PAUSE) => {}
            _ = stop.changed() => return,
        }
        if let Err(error) = look(&app).await {
            tracing::warn!(%error, "cannot look after the week's mails; trying again");
        }
    }
}

/// Makes the jobs that are due, and sends what waits.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn look(app: &App) -> Result<(), StoreError> {
    let Some(mailer) = app.mailer.as_deref() else {
        return Ok(());
    };
    make_what_is_due(app).await?;
    loop {
        let now = app.clock.now();
        let job = {
            let mut outside = app.store.outside().await?;
            digests::take(&mut outside, now, now + LEASE).await?
        };
        let Some(job) = job else {
            return Ok(());
        };
        let (outcome, why) = attempt(app, mailer, job).await?;
        let mut outside = app.store.outside().await?;
        digests::settle(&mut outside, job, outcome, &why).await?;
        match outcome {
            Outcome::Sent(_) => tracing::info!(gym = %job.gym, week = %job.week, "week mailed"),
            Outcome::TryAt(_) | Outcome::GivenUp(_) => {
                tracing::warn!(gym = %job.gym, week = %job.week, %why, "week not mailed");
            }
        }
    }
}

async fn make_what_is_due(app: &App) -> Result<(), StoreError> {
    let all = {
        let mut outside = app.store.outside().await?;
        accounts::all_gyms(&mut outside).await?
    };
    for gym in all {
        // One gym's trouble is not the others'.
        if let Err(error) = make_in(app, gym).await {
            tracing::warn!(%gym, %error, "cannot make the week's mails");
        }
    }
    Ok(())
}

async fn make_in(app: &App, gym: GymId) -> Result<(), StoreError> {
    let now = app.clock.now();
    let mut tx = app.store.enter(gym, NOBODY).await?;
    if let Some(week) = week_due(digests::local_time(&mut tx, now).await?) {
        digests::make_jobs(&mut tx, week, now).await?;
        tx.commit().await?;
    }
    Ok(())
}

/// Tries a job, and says what came of it.
async fn attempt(app: &App, mailer: &Mailer, job: Job) -> Result<(Outcome, String), StoreError> {
    let now = app.clock.now();
    let Some(letter) = write(app, job).await? else {
        return Ok((Outcome::GivenUp(now), "not asked for any more".to_owned()));
    };
    Ok(match mailer.send(&letter, now).await {
        Ok(()) => (Outcome::Sent(now), String::new()),
        Err(error) if error.is_final => (Outcome::GivenUp(now), error.to_string()),
        Err(error) => {
            let again = now + pause_after(job.attempts);
            if again - job.made_at > WORTH_TRYING {
                (Outcome::GivenUp(now), error.to_string())
            } else {
                (Outcome::TryAt(again), error.to_string())
            }
        }
    })
}

/// Longer after each failure: 1, 4, 16 minutes and so on, at most 4 hours.
fn pause_after(attempts: i16) -> Duration {
    let doublings = u32::try_from(attempts.clamp(1, 5) - 1).unwrap_or(0);
    Duration::minutes(4_i64.pow(doublings)).min(Duration::hours(4))
}

/// What a job's mail says as things stand; `None` where it is not wanted any more.
async fn write(app: &App, job: Job) -> Result<Option<letter::Letter>, StoreError> {
    let now = app.clock.now();
    let today = {
        let mut tx = app.store.enter(job.gym, job.coach).await?;
        gyms::get(&mut tx, now).await?.today
    };
    flags::bring_up_to_date(&app.store, job.gym, NOBODY, today).await?;
    let mut tx = app.store.enter(job.gym, job.coach).await?;
    let gym = gyms::get(&mut tx, now).await?;
    let Some(stop_token) = digests::standing(&mut tx).await?.stop_token else {
        return Ok(None);
    };
    let coach = match people::get(&mut tx, job.coach).await {
        Ok(person) if person.roles.has(Role::Coach) => person,
        Ok(_) | Err(StoreError::NotFound) => return Ok(None),
        Err(error) => return Err(error),
    };
    let roster = review::week(&mut tx, job.coach, job.week).await?;
    let counted = roster.iter().map(|week| Counted {
        need: need_of(week, today),
        planned: week.planned,
        done: week.done,
    });
    let unread = notes::unread(&mut tx, job.coach).await?.as_coach;
    let closed = review::closed_at(&mut tx, job.coach, job.week).await?;
    let unread = u32::try_from(unread).unwrap_or(u32::MAX);
    Ok(Some(letter::Letter {
        digest: Digest::of(job.week, counted, unread, closed.is_some()),
        origin: app.config.origin(),
        gym: gym.id,
        gym_name: gym.name,
        to_name: coach.name,
        to: coach.email,
        coach: job.coach,
        stop_token,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_grow_and_end_at_four_hours() {
        let minutes: Vec<i64> = (0..8).map(|n| pause_after(n).whole_minutes()).collect();
        assert_eq!(minutes, [1, 1, 4, 16, 64, 240, 240, 240]);
    }
}
