//! Athletes: who trains in a gym, and which coach looks after whom.

use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::roster::{Handle, PersonName, Status};
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::accounts::Account;
use crate::{GymTx, StoreError, flags, touched};

/// One athlete.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Athlete {
    /// The id.
    pub id: AthleteId,
    /// The athlete's own account, once an invitation was taken up.
    pub person: Option<AccountId>,
    /// The handle in files.
    pub handle: Handle,
    /// The name.
    pub name: PersonName,
    /// First day of training here.
    pub started_on: Date,
    /// Whether they are here.
    pub status: Status,
    /// Since when.
    pub status_since: Date,
    /// The coaches' notes. Health data: for the athlete's coaches only.
    pub notes: String,
}

/// What can be changed about an athlete, and what a new one needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Details {
    /// The name.
    pub name: PersonName,
    /// First day of training here.
    pub started_on: Date,
    /// Whether they are here.
    pub status: Status,
    /// Since when.
    pub status_since: Date,
    /// The coaches' notes, at most 4000 characters.
    pub notes: String,
}

#[derive(FromRow)]
struct Row {
    athlete_id: Uuid,
    person_id: Option<Uuid>,
    handle: String,
    name: String,
    started_on: Date,
    status: String,
    status_since: Date,
    notes: String,
}

impl TryFrom<Row> for Athlete {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let corrupt = |what: &str| StoreError::corrupt("athletes", row.athlete_id, what);
        Ok(Self {
            id: AthleteId(row.athlete_id),
            person: row.person_id.map(AccountId),
            handle: Handle::new(&row.handle).map_err(|_| corrupt("handle"))?,
            name: PersonName::new(&row.name).map_err(|_| corrupt("name"))?,
            started_on: row.started_on,
            status: Status::from_word(&row.status).ok_or_else(|| corrupt("status"))?,
            status_since: row.status_since,
            notes: row.notes,
        })
    }
}

/// Everybody in the gym, by name.
///
/// # Errors
/// [`StoreError`] if the database fails or a row cannot be true.
pub async fn all(tx: &mut GymTx) -> Result<Vec<Athlete>, StoreError> {
    let rows: Vec<Row> = sqlx::query_as(
        "select athlete_id, person_id, handle, name, started_on, status, status_since, notes
         from athletes where gym_id = $1 order by name, handle",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Athlete::try_from).collect()
}

/// One athlete.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such athlete.
pub async fn get(tx: &mut GymTx, athlete: AthleteId) -> Result<Athlete, StoreError> {
    let row: Row = sqlx::query_as(
        "select athlete_id, person_id, handle, name, started_on, status, status_since, notes
         from athletes where gym_id = $1 and athlete_id = $2",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

/// The athlete whose own account this is.
///
/// # Errors
/// [`StoreError::NotFound`] if the account is no athlete's in this gym.
pub async fn of_person(tx: &mut GymTx, person: AccountId) -> Result<Athlete, StoreError> {
    let row: Row = sqlx::query_as(
        "select athlete_id, person_id, handle, name, started_on, status, status_since, notes
         from athletes where gym_id = $1 and person_id = $2",
    )
    .bind(tx.gym().0)
    .bind(person.0)
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

/// Adds an athlete.
///
/// # Errors
/// [`StoreError::Constraint`] `athletes_handle_once` if the handle is taken in this gym.
pub async fn add(
    tx: &mut GymTx,
    athlete: AthleteId,
    handle: &Handle,
    details: &Details,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query(
        "insert into athletes (gym_id, athlete_id, handle, name, started_on, status, status_since, notes, created_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .bind(handle.as_str())
    .bind(details.name.as_str())
    .bind(details.started_on)
    .bind(details.status.word())
    .bind(details.status_since)
    .bind(&details.notes)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Changes an athlete's details. The handle stays: files know the athlete by it.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such athlete.
pub async fn change(
    tx: &mut GymTx,
    athlete: AthleteId,
    details: &Details,
) -> Result<(), StoreError> {
    let done = sqlx::query(
        "update athletes set name = $3, started_on = $4, status = $5, status_since = $6, notes = $7
         where gym_id = $1 and athlete_id = $2",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .bind(details.name.as_str())
    .bind(details.started_on)
    .bind(details.status.word())
    .bind(details.status_since)
    .bind(&details.notes)
    .execute(tx.conn())
    .await?;
    touched(&done)?;
    flags::outdate(tx, athlete).await
}

/// Lets an account log as this athlete, who has none yet. An account is one athlete at most.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such athlete without an account;
/// [`StoreError::Constraint`] `athletes_person_once` if the account is another athlete already.
pub async fn give_account(
    tx: &mut GymTx,
    athlete: AthleteId,
    account: AccountId,
) -> Result<(), StoreError> {
    let done = sqlx::query(
        "update athletes set person_id = $3
         where gym_id = $1 and athlete_id = $2 and person_id is null",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .bind(account.0)
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// An athlete whom this coach looks after; for others' coaches they do not exist.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such athlete, or they are not on the coach's roster.
pub async fn of_roster(
    tx: &mut GymTx,
    coach: AccountId,
    athlete: AthleteId,
) -> Result<Athlete, StoreError> {
    if is_on_roster(tx, coach, athlete).await? {
        get(tx, athlete).await
    } else {
        Err(StoreError::NotFound)
    }
}

/// Whether a coach looks after this athlete.
///
/// # Errors
/// [`StoreError::Db`] if the database fails.
pub async fn is_on_roster(
    tx: &mut GymTx,
    coach: AccountId,
    athlete: AthleteId,
) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar(
        "select exists (select from rosters where gym_id = $1 and coach_id = $2 and athlete_id = $3)",
    )
    .bind(tx.gym().0)
    .bind(coach.0)
    .bind(athlete.0)
    .fetch_one(tx.conn())
    .await?)
}

/// The coaches of everybody, as pairs of athlete and coach.
///
/// # Errors
/// [`StoreError::Db`] if the database fails.
pub async fn rosters(tx: &mut GymTx) -> Result<Vec<(AthleteId, AccountId)>, StoreError> {
    let rows: Vec<(Uuid, Uuid)> = sqlx::query_as(
        "select athlete_id, coach_id from rosters where gym_id = $1 order by athlete_id, coach_id",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows
        .into_iter()
        .map(|(athlete, coach)| (AthleteId(athlete), AccountId(coach)))
        .collect())
}

/// Sets who looks after an athlete: exactly these coaches.
///
/// # Errors
/// [`StoreError::Constraint`] if one of them is nobody in this gym.
pub async fn set_coaches(
    tx: &mut GymTx,
    athlete: AthleteId,
    coaches: &[AccountId],
) -> Result<(), StoreError> {
    let coaches: Vec<Uuid> = coaches.iter().map(|coach| coach.0).collect();
    sqlx::query(
        "delete from rosters where gym_id = $1 and athlete_id = $2 and coach_id <> all($3)",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .bind(&coaches)
    .execute(tx.conn())
    .await?;
    sqlx::query(
        "insert into rosters (gym_id, coach_id, athlete_id)
         select $1, coach, $2 from unnest($3::uuid[]) as coach
         on conflict do nothing",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .bind(&coaches)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Makes an athlete of somebody who has joined the gym, and says whether that was new: nothing
/// changes if they are one. The handle is made from the name, with a number where others have the same.
///
/// # Errors
/// [`StoreError::Constraint`] if they have no part in the gym.
pub async fn of_new_person(
    tx: &mut GymTx,
    account: &Account,
    athlete: AthleteId,
    today: Date,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query(
        "insert into athletes
             (gym_id, athlete_id, person_id, handle, name, started_on, status, status_since, created_at)
         select $1, $2, $3, free.handle, $4, $6, 'active', $6, $7
         from (
             select left($5, 54) || case n when 1 then '' else '-' || n end as handle
             from generate_series(1, 10000) as n
             where not exists (
                 select from athletes a where a.gym_id = $1
                     and a.handle = left($5, 54) || case n when 1 then '' else '-' || n end)
             order by n limit 1
         ) as free
         on conflict (gym_id, person_id) do nothing",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .bind(account.id.0)
    .bind(account.name.as_str())
    .bind(account.name.suggested_handle())
    .bind(today)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Their ids as a statement takes them.
pub(crate) fn uuids(athletes: &[AthleteId]) -> Vec<Uuid> {
    athletes.iter().map(|athlete| athlete.0).collect()
}
