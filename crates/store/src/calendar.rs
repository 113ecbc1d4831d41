//! An athlete's plan as a calendar feed, and the link that leads to it.

use std::collections::HashMap;

use leverbook_domain::id::{AthleteId, PlannedId};
use sqlx::FromRow;
use time::{Date, OffsetDateTime, Time};
use uuid::Uuid;

use crate::blocks::{self, Planned};
use crate::sign_ins::TokenHash;
use crate::{GymTx, StoreError, touched};

/// A link that is in force. Its token is only in the link itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Whose plan it shows.
    pub athlete: AthleteId,
    /// When they train, in the gym's zone; `None`: sessions are whole days.
    pub starts_at: Option<Time>,
    /// When it was made, or made anew.
    pub made_at: OffsetDateTime,
    changed_at: OffsetDateTime,
}

#[derive(FromRow)]
struct Row {
    athlete_id: Uuid,
    starts_at: Option<Time>,
    made_at: OffsetDateTime,
    changed_at: OffsetDateTime,
}

impl From<Row> for Link {
    fn from(row: Row) -> Self {
        Self {
            athlete: AthleteId(row.athlete_id),
            starts_at: row.starts_at,
            made_at: row.made_at,
            changed_at: row.changed_at,
        }
    }
}

/// The athlete's link, where they have one.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn of_athlete(tx: &mut GymTx, athlete: AthleteId) -> Result<Option<Link>, StoreError> {
    let gym = tx.gym();
    let row: Option<Row> = sqlx::query_as(
        "select athlete_id, starts_at, made_at, changed_at from calendar_links
         where gym_id = $1 and athlete_id = $2",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .fetch_optional(tx.conn())
    .await?;
    Ok(row.map(Link::from))
}

/// The link of a token. Whose athlete has no account in the gym's training any more leads nowhere.
///
/// # Errors
/// [`StoreError::NotFound`] if no link of this gym in force has that token.
pub async fn follow(tx: &mut GymTx, token: TokenHash) -> Result<Link, StoreError> {
    let gym = tx.gym();
    let row: Row = sqlx::query_as(
        "select l.athlete_id, l.starts_at, l.made_at, l.changed_at
         from calendar_links l
         join athletes a on a.gym_id = l.gym_id and a.athlete_id = l.athlete_id
         join memberships m on m.gym_id = a.gym_id and m.person_id = a.person_id
             and m.role = 'athlete'
         where l.gym_id = $1 and l.token_hash = $2",
    )
    .bind(gym.0)
    .bind(token.as_bytes())
    .fetch_one(tx.conn())
    .await?;
    Ok(row.into())
}

/// Gives the athlete a link. The one that they had before ends; their time of day stays.
///
/// # Errors
/// [`StoreError::Constraint`] if there is no such athlete.
pub async fn give(
    tx: &mut GymTx,
    athlete: AthleteId,
    token: TokenHash,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query(
        "insert into calendar_links (gym_id, athlete_id, token_hash, made_at, changed_at)
         values ($1, $2, $3, $4, $4)
         on conflict (gym_id, athlete_id) do update
             set token_hash = excluded.token_hash, made_at = excluded.made_at,
                 changed_at = excluded.changed_at",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(token.as_bytes())
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Sets the time of day at which the athlete trains, or takes it away.
///
/// # Errors
/// [`StoreError::NotFound`] if they have no link.
pub async fn set_time(
    tx: &mut GymTx,
    athlete: AthleteId,
    starts_at: Option<Time>,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    let done = sqlx::query(
        "update calendar_links set starts_at = $3, changed_at = $4
         where gym_id = $1 and athlete_id = $2",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(starts_at)
    .bind(now)
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// Ends the athlete's link; nothing changes if they have none.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn revoke(tx: &mut GymTx, athlete: AthleteId) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query("delete from calendar_links where gym_id = $1 and athlete_id = $2")
        .bind(gym.0)
        .bind(athlete.0)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// A planned session as it stands in the calendar.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What is planned.
    pub planned: Planned,
    /// When it begins, where the link has a time of day.
    pub starts: Option<OffsetDateTime>,
    /// When it last became what it is: the coach decided, or the link's time of day changed.
    pub changed_at: OffsetDateTime,
}

#[derive(FromRow)]
struct EntryRow {
    planned_id: Uuid,
    starts: Option<OffsetDateTime>,
    changed_at: OffsetDateTime,
}

/// What a link shows from a day on, in order of day: everything planned, and what a coach took out.
/// Reading it leaves no trace.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn entries(tx: &mut GymTx, link: &Link, from: Date) -> Result<Vec<Entry>, StoreError> {
    let planned = blocks::between(tx, &[link.athlete], from, Date::MAX).await?;
    let gym = tx.gym();
    // The zone's offset is that of the day itself, on either side of a change of the clocks.
    let rows: Vec<EntryRow> = sqlx::query_as(
        "select r.planned_id, greatest(r.decided_at, $5) as changed_at,
             (r.on_date + $4::time) at time zone g.time_zone as starts
         from unnest($2::uuid[], $3::integer[]) as shown (planned_id, revision)
         join planned_revisions r
             on r.planned_id = shown.planned_id and r.revision = shown.revision
         join gyms g on g.gym_id = r.gym_id
         where r.gym_id = $1",
    )
    .bind(gym.0)
    .bind(planned.iter().map(|one| one.planned.0).collect::<Vec<_>>())
    .bind(planned.iter().map(|one| one.revision).collect::<Vec<_>>())
    .bind(link.starts_at)
    .bind(link.changed_at)
    .fetch_all(tx.conn())
    .await?;
    let mut when: HashMap<PlannedId, EntryRow> = rows
        .into_iter()
        .map(|row| (PlannedId(row.planned_id), row))
        .collect();
    planned
        .into_iter()
        .map(|planned| {
            let id = planned.planned;
            let row = when
                .remove(&id)
                .ok_or_else(|| StoreError::corrupt("planned_revisions", id.0, "no newest"))?;
            Ok(Entry {
                planned,
                starts: row.starts,
                changed_at: row.changed_at,
            })
        })
        .collect()
}
