//! The week by e-mail: which coaches asked for it, and the mails that are to be sent. A job names a gym,
//! a coach and a week, and holds nothing of what the mail says.

use leverbook_domain::id::{AccountId, GymId};
use leverbook_domain::review::Week;
use sqlx::{FromRow, PgConnection};
use time::{OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

use crate::{GymTx, StoreError};

/// Asks for the mails on behalf of the actor; the token of the first asking stays.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn ask(tx: &mut GymTx, stop_token: &str, now: OffsetDateTime) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into digest_wishes (gym_id, coach_id, stop_token, asked_at) values ($1, $2, $3, $4)
         on conflict (gym_id, coach_id) do nothing",
    )
    .bind(gym.0)
    .bind(actor.0)
    .bind(stop_token)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Ends the actor's mails.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn stop(tx: &mut GymTx) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query("delete from digest_wishes where gym_id = $1 and coach_id = $2")
        .bind(gym.0)
        .bind(actor.0)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Ends the mails of whoever has this token in theirs.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn stop_by(tx: &mut GymTx, stop_token: &str) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query("delete from digest_wishes where gym_id = $1 and stop_token = $2")
        .bind(gym.0)
        .bind(stop_token)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Whether mails with this token are still sent.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn is_running(tx: &mut GymTx, stop_token: &str) -> Result<bool, StoreError> {
    let gym = tx.gym();
    Ok(sqlx::query_scalar(
        "select exists (select from digest_wishes where gym_id = $1 and stop_token = $2)",
    )
    .bind(gym.0)
    .bind(stop_token)
    .fetch_one(tx.conn())
    .await?)
}

/// The gym's own clocks.
///
/// # Errors
/// [`StoreError::NotFound`] if there is no such gym.
pub async fn local_time(
    tx: &mut GymTx,
    now: OffsetDateTime,
) -> Result<PrimitiveDateTime, StoreError> {
    let gym = tx.gym();
    Ok(
        sqlx::query_scalar("select $2 at time zone time_zone from gyms where gym_id = $1")
            .bind(gym.0)
            .bind(now)
            .fetch_one(tx.conn())
            .await?,
    )
}

/// Makes the jobs of a week for every coach of the gym who asked; those that are there stay as they are.
/// Gives how many are new.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn make_jobs(tx: &mut GymTx, week: Week, now: OffsetDateTime) -> Result<u64, StoreError> {
    let gym = tx.gym();
    let made = sqlx::query(
        "insert into digest_jobs (gym_id, coach_id, iso_year, iso_week, made_at, due_at)
         select w.gym_id, w.coach_id, $2, $3, $4, $4
         from digest_wishes w
         join memberships m on m.gym_id = w.gym_id and m.person_id = w.coach_id and m.role = 'coach'
         where w.gym_id = $1
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(made.rows_affected())
}

/// A mail to be sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Job {
    /// Of which gym.
    pub gym: GymId,
    /// To which coach.
    pub coach: AccountId,
    /// About which week.
    pub week: Week,
    /// How often it was tried, this time with it.
    pub attempts: i16,
    /// When it was made.
    pub made_at: OffsetDateTime,
}

#[derive(FromRow)]
struct JobRow {
    gym_id: Uuid,
    coach_id: Uuid,
    iso_year: i16,
    iso_week: i16,
    attempts: i16,
    made_at: OffsetDateTime,
}

/// Takes the job that has waited longest, and puts it off until `back_at`: if the server dies over it,
/// it is tried again then.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn take(
    outside: &mut PgConnection,
    now: OffsetDateTime,
    back_at: OffsetDateTime,
) -> Result<Option<Job>, StoreError> {
    let row: Option<JobRow> = sqlx::query_as(
        "update digest_jobs j set due_at = $2, attempts = j.attempts + 1
         from (select gym_id, coach_id, iso_year, iso_week from digest_jobs
               where sent_at is null and given_up_at is null and due_at <= $1
               order by due_at limit 1 for update skip locked) as next
         where j.gym_id = next.gym_id and j.coach_id = next.coach_id
             and j.iso_year = next.iso_year and j.iso_week = next.iso_week
         returning j.gym_id, j.coach_id, j.iso_year, j.iso_week, j.attempts, j.made_at",
    )
    .bind(now)
    .bind(back_at)
    .fetch_optional(outside)
    .await?;
    row.map(|row| {
        Ok(Job {
            gym: GymId(row.gym_id),
            coach: AccountId(row.coach_id),
            week: week_of(row.coach_id, row.iso_year, row.iso_week)?,
            attempts: row.attempts,
            made_at: row.made_at,
        })
    })
    .transpose()
}

/// What came of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// The mail server has it.
    Sent(OffsetDateTime),
    /// To be tried again.
    TryAt(OffsetDateTime),
    /// Never to be tried again.
    GivenUp(OffsetDateTime),
}

/// Keeps what came of a job, and why in our words; empty where nothing was wrong.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn settle(
    outside: &mut PgConnection,
    job: Job,
    outcome: Outcome,
    why: &str,
) -> Result<(), StoreError> {
    let (sent, again, given_up) = match outcome {
        Outcome::Sent(at) => (Some(at), None, None),
        Outcome::TryAt(at) => (None, Some(at), None),
        Outcome::GivenUp(at) => (None, None, Some(at)),
    };
    sqlx::query(
        "update digest_jobs set sent_at = $5, due_at = coalesce($6, due_at), given_up_at = $7,
             last_error = $8
         where gym_id = $1 and coach_id = $2 and iso_year = $3 and iso_week = $4",
    )
    .bind(job.gym.0)
    .bind(job.coach.0)
    .bind(iso_year(job.week))
    .bind(i16::from(job.week.number()))
    .bind(sent)
    .bind(again)
    .bind(given_up)
    .bind(why)
    .execute(outside)
    .await?;
    Ok(())
}

/// How the last mail to a coach went.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Last {
    /// About which week.
    pub week: Week,
    /// When the mail server took it, by the gym's clocks.
    pub sent_at: Option<PrimitiveDateTime>,
    /// Whether it is never tried again.
    pub given_up: bool,
    /// What the last attempt met; empty where nothing was wrong.
    pub error: String,
}

/// What a coach has asked for, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// What stops the mails; `None` where they were not asked for.
    pub stop_token: Option<String>,
    /// The last mail.
    pub last: Option<Last>,
}

/// How things stand for the actor.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn standing(tx: &mut GymTx) -> Result<Standing, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let stop_token = sqlx::query_scalar(
        "select stop_token from digest_wishes where gym_id = $1 and coach_id = $2",
    )
    .bind(gym.0)
    .bind(actor.0)
    .fetch_optional(tx.conn())
    .await?;
    let last: Option<(i16, i16, Option<PrimitiveDateTime>, bool, String)> = sqlx::query_as(
        "select j.iso_year, j.iso_week, j.sent_at at time zone g.time_zone,
             j.given_up_at is not null, j.last_error
         from digest_jobs j join gyms g on g.gym_id = j.gym_id
         where j.gym_id = $1 and j.coach_id = $2
         order by j.iso_year desc, j.iso_week desc limit 1",
    )
    .bind(gym.0)
    .bind(actor.0)
    .fetch_optional(tx.conn())
    .await?;
    let last = last
        .map(|(year, number, sent_at, given_up, error)| {
            week_of(actor.0, year, number).map(|week| Last {
                week,
                sent_at,
                given_up,
                error,
            })
        })
        .transpose()?;
    Ok(Standing { stop_token, last })
}

fn week_of(coach: Uuid, year: i16, number: i16) -> Result<Week, StoreError> {
    u8::try_from(number)
        .ok()
        .and_then(|number| Week::new(year.into(), number).ok())
        .ok_or_else(|| StoreError::corrupt("digest_jobs", coach, "week"))
}

/// The schema keeps ISO years, from 1950 to 2199, in 16 bits.
fn iso_year(week: Week) -> i16 {
    i16::try_from(week.year()).unwrap_or(i16::MAX)
}
