//! A gym: its name and the zone in which its training days are dates.

use leverbook_domain::id::GymId;
use leverbook_domain::text::GymName;
use sqlx::FromRow;
use time::{Date, OffsetDateTime};

use crate::{GymTx, Store, StoreError, touched};

/// A gym.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gym {
    /// Its id.
    pub id: GymId,
    /// Its name.
    pub name: String,
    /// Its zone in the IANA time zone database, such as `Europe/Lisbon`.
    pub zone: String,
    /// The date there now.
    pub today: Date,
}

#[derive(FromRow)]
struct Row {
    name: String,
    time_zone: String,
    today: Date,
}

/// Whether PostgreSQL knows a place's zone by that name. Entries that stand for something else, such as
/// the machine's own zone or another reckoning of leap seconds, are none: what they mean may change.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn zone_exists(store: &Store, zone: &str) -> Result<bool, StoreError> {
    let mut outside = store.outside().await?;
    Ok(sqlx::query_scalar(
        "select exists (
                 select from pg_timezone_names
                 where name = $1
                   and name !~ '^(posix|right)/'
                   and lower(name) not in ('posixrules', 'localtime', 'factory'))",
    )
    .bind(zone)
    .fetch_one(&mut *outside)
    .await?)
}

/// Makes the gym whose door was entered, with nothing in it.
///
/// # Errors
/// [`StoreError::Constraint`] if the gym exists.
pub async fn create(
    tx: &mut GymTx,
    name: &GymName,
    zone: &str,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query("insert into gyms (gym_id, name, time_zone, created_at) values ($1, $2, $3, $4)")
        .bind(gym.0)
        .bind(name.as_str())
        .bind(zone)
        .bind(now)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// The gym, with the date there at `now`.
///
/// # Errors
/// [`StoreError::NotFound`] if there is no such gym.
pub async fn get(tx: &mut GymTx, now: OffsetDateTime) -> Result<Gym, StoreError> {
    let gym = tx.gym();
    let row: Row = sqlx::query_as(
        "select name, time_zone, ($2 at time zone time_zone)::date as today
         from gyms where gym_id = $1",
    )
    .bind(gym.0)
    .bind(now)
    .fetch_one(tx.conn())
    .await?;
    Ok(Gym {
        id: gym,
        name: row.name,
        zone: row.time_zone,
        today: row.today,
    })
}

/// Renames the gym, or moves it to another zone.
///
/// # Errors
/// [`StoreError::NotFound`] if there is no such gym.
pub async fn rename(tx: &mut GymTx, name: &GymName, zone: &str) -> Result<(), StoreError> {
    let gym = tx.gym();
    let done = sqlx::query("update gyms set name = $2, time_zone = $3 where gym_id = $1")
        .bind(gym.0)
        .bind(name.as_str())
        .bind(zone)
        .execute(tx.conn())
        .await?;
    touched(&done)
}
