//! The rack: movements, clubs, and the loadings that sets are swung with.

use leverbook_domain::club::{BareClub, ClubMeasure};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId, MovementId};
use leverbook_domain::text::{ClubName, Guidance, LoadingName, MovementName};
use leverbook_domain::training::catalogue::SHIPPED;
use sqlx::FromRow;
use sqlx::types::Json;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::{GymTx, StoreError, flags, touched};

/// A movement of the gym's catalogue.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Movement {
    /// Its id.
    pub id: MovementId,
    /// What the gym knows of it.
    pub details: MovementDetails,
    /// When it was taken out of the catalogue; logs still name it.
    pub retired_at: Option<OffsetDateTime>,
}

/// What a gym writes about a movement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovementDetails {
    /// Its name, once in a gym.
    pub name: MovementName,
    /// Coaching notes.
    pub cues: Guidance,
    /// Common faults.
    pub faults: Guidance,
}

#[derive(FromRow)]
struct MovementRow {
    movement_id: Uuid,
    name: String,
    cues: String,
    faults: String,
    retired_at: Option<OffsetDateTime>,
}

impl TryFrom<MovementRow> for Movement {
    type Error = StoreError;

    fn try_from(row: MovementRow) -> Result<Self, StoreError> {
        let corrupt = |error| StoreError::corrupt("movements", row.movement_id, error);
        Ok(Self {
            id: MovementId(row.movement_id),
            details: MovementDetails {
                name: MovementName::new(&row.name).map_err(corrupt)?,
                cues: Guidance::new(&row.cues).map_err(corrupt)?,
                faults: Guidance::new(&row.faults).map_err(corrupt)?,
            },
            retired_at: row.retired_at,
        })
    }
}

/// The catalogue in its order, retired movements last.
///
/// # Errors
/// [`StoreError`].
pub async fn movements(tx: &mut GymTx) -> Result<Vec<Movement>, StoreError> {
    let rows: Vec<MovementRow> = sqlx::query_as(
        "select movement_id, name, cues, faults, retired_at from movements
         where gym_id = $1 order by retired_at is not null, position, name",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Movement::try_from).collect()
}

/// One movement.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such movement.
pub async fn movement(tx: &mut GymTx, movement: MovementId) -> Result<Movement, StoreError> {
    let row: MovementRow = sqlx::query_as(
        "select movement_id, name, cues, faults, retired_at from movements
         where gym_id = $1 and movement_id = $2",
    )
    .bind(tx.gym().0)
    .bind(movement.0)
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

/// Adds a movement at the end of the catalogue.
///
/// # Errors
/// [`StoreError::Constraint`] `movements_name_once` if the gym has one of that name.
pub async fn add_movement(
    tx: &mut GymTx,
    movement: MovementId,
    details: &MovementDetails,
) -> Result<(), StoreError> {
    sqlx::query(
        "insert into movements (gym_id, movement_id, name, cues, faults, position)
         select $1, $2, $3, $4, $5, coalesce(max(position), 0) + 1 from movements where gym_id = $1",
    )
    .bind(tx.gym().0)
    .bind(movement.0)
    .bind(details.name.as_str())
    .bind(details.cues.as_str())
    .bind(details.faults.as_str())
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Changes what is written about a movement. Logs and plans follow a new name.
///
/// # Errors
/// [`StoreError::NotFound`]; [`StoreError::Constraint`] `movements_name_once`.
pub async fn change_movement(
    tx: &mut GymTx,
    movement: MovementId,
    details: &MovementDetails,
) -> Result<(), StoreError> {
    let done = sqlx::query(
        "update movements set name = $3, cues = $4, faults = $5
         where gym_id = $1 and movement_id = $2",
    )
    .bind(tx.gym().0)
    .bind(movement.0)
    .bind(details.name.as_str())
    .bind(details.cues.as_str())
    .bind(details.faults.as_str())
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// Takes a movement out of the catalogue, or brings it back (`None`).
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn retire_movement(
    tx: &mut GymTx,
    movement: MovementId,
    at: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let done =
        sqlx::query("update movements set retired_at = $3 where gym_id = $1 and movement_id = $2")
            .bind(tx.gym().0)
            .bind(movement.0)
            .bind(at)
            .execute(tx.conn())
            .await?;
    touched(&done)
}

/// Gives a new gym the movements that are shipped. What the gym has by that name stays as it is.
///
/// # Errors
/// [`StoreError`].
pub async fn seed_movements(tx: &mut GymTx) -> Result<(), StoreError> {
    for (position, shipped) in (1i32..).zip(SHIPPED) {
        sqlx::query(
            "insert into movements (gym_id, movement_id, name, cues, faults, position)
             values ($1, $2, $3, $4, $5, $6) on conflict do nothing",
        )
        .bind(tx.gym().0)
        .bind(Uuid::new_v5(&tx.gym().0, shipped.name.as_bytes()))
        .bind(shipped.name)
        .bind(shipped.cues)
        .bind(shipped.faults)
        .bind(position)
        .execute(tx.conn())
        .await?;
    }
    Ok(())
}

/// A club: the thing that is picked up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Club {
    /// Its id.
    pub id: ClubId,
    /// What the gym knows of it.
    pub details: ClubDetails,
    /// The owner's name, where it is an athlete's own.
    pub owner_name: Option<String>,
    /// When it was taken out of the rack; logs still name it.
    pub retired_at: Option<OffsetDateTime>,
}

/// What a gym writes about a club.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClubDetails {
    /// What it is called.
    pub name: ClubName,
    /// Whose own it is; `None` is the gym's.
    pub owner: Option<AthleteId>,
    /// Whether plates go on it: then it has fasteners to inspect, and may have several loadings.
    pub loadable: bool,
    /// How many of the same there are: 1 to 500.
    pub count: u16,
}

#[derive(FromRow)]
struct ClubRow {
    club_id: Uuid,
    name: String,
    athlete_id: Option<Uuid>,
    owner_name: Option<String>,
    loadable: bool,
    count: i32,
    retired_at: Option<OffsetDateTime>,
}

impl TryFrom<ClubRow> for Club {
    type Error = StoreError;

    fn try_from(row: ClubRow) -> Result<Self, StoreError> {
        let corrupt = |what: String| StoreError::corrupt("clubs", row.club_id, what);
        Ok(Self {
            id: ClubId(row.club_id),
            details: ClubDetails {
                name: ClubName::new(&row.name).map_err(|error| corrupt(error.to_string()))?,
                owner: row.athlete_id.map(AthleteId),
                loadable: row.loadable,
                count: u16::try_from(row.count).map_err(|error| corrupt(error.to_string()))?,
            },
            owner_name: row.owner_name,
            retired_at: row.retired_at,
        })
    }
}

/// Every club of the gym and of its athletes, by name, retired ones too.
///
/// # Errors
/// [`StoreError`].
pub async fn clubs(tx: &mut GymTx) -> Result<Vec<Club>, StoreError> {
    let rows: Vec<ClubRow> = sqlx::query_as(
        "select c.club_id, c.name, c.athlete_id, a.name as owner_name, c.loadable, c.count,
             c.retired_at
         from clubs c
         left join athletes a on a.gym_id = c.gym_id and a.athlete_id = c.athlete_id
         where c.gym_id = $1 order by c.name, c.club_id",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Club::try_from).collect()
}

/// One club.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such club.
pub async fn club(tx: &mut GymTx, club: ClubId) -> Result<Club, StoreError> {
    let row: ClubRow = sqlx::query_as(
        "select c.club_id, c.name, c.athlete_id, a.name as owner_name, c.loadable, c.count,
             c.retired_at
         from clubs c
         left join athletes a on a.gym_id = c.gym_id and a.athlete_id = c.athlete_id
         where c.gym_id = $1 and c.club_id = $2",
    )
    .bind(tx.gym().0)
    .bind(club.0)
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

/// Adds a club with its first loading, which gives it its measure.
///
/// # Errors
/// [`StoreError::Constraint`] `loadings_name_once` if files and plans know another loading by that
/// name; a foreign key's if the owner is nobody here.
pub async fn add_club(
    tx: &mut GymTx,
    club: ClubId,
    details: &ClubDetails,
    first: &NewLoading,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query(
        "insert into clubs (gym_id, club_id, name, athlete_id, loadable, count, created_at)
         values ($1, $2, $3, $4, $5, $6, $7)",
    )
    .bind(tx.gym().0)
    .bind(club.0)
    .bind(details.name.as_str())
    .bind(details.owner.map(|owner| owner.0))
    .bind(details.loadable)
    .bind(i32::from(details.count))
    .bind(now)
    .execute(tx.conn())
    .await?;
    add_loading(tx, club, first, now).await
}

/// Changes what is written about a club. What it was measured to be stands with its loadings.
///
/// # Errors
/// [`StoreError::NotFound`]; a foreign key's [`StoreError::Constraint`] if the owner is nobody here.
pub async fn change_club(
    tx: &mut GymTx,
    club: ClubId,
    details: &ClubDetails,
) -> Result<(), StoreError> {
    let done = sqlx::query(
        "update clubs set name = $3, athlete_id = $4, loadable = $5, count = $6
         where gym_id = $1 and club_id = $2",
    )
    .bind(tx.gym().0)
    .bind(club.0)
    .bind(details.name.as_str())
    .bind(details.owner.map(|owner| owner.0))
    .bind(details.loadable)
    .bind(i32::from(details.count))
    .execute(tx.conn())
    .await?;
    touched(&done)?;
    flags::outdate_all(tx).await
}

/// Takes a club out of the rack, or brings it back (`None`).
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn retire_club(
    tx: &mut GymTx,
    club: ClubId,
    at: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let done = sqlx::query("update clubs set retired_at = $3 where gym_id = $1 and club_id = $2")
        .bind(tx.gym().0)
        .bind(club.0)
        .bind(at)
        .execute(tx.conn())
        .await?;
    touched(&done)?;
    flags::outdate_all(tx).await
}

/// A club as loaded.
#[derive(Debug, Clone, PartialEq)]
pub struct Loading {
    /// Its id.
    pub id: LoadingId,
    /// Which club.
    pub club: ClubId,
    /// The name by which files and plans know it.
    pub name: LoadingName,
    /// What was measured.
    pub measure: ClubMeasure,
    /// When it was retired; logs still name it.
    pub retired_at: Option<OffsetDateTime>,
}

/// A loading to be added.
#[derive(Debug, Clone, PartialEq)]
pub struct NewLoading {
    /// Its id.
    pub id: LoadingId,
    /// The name by which files and plans will know it, once in a gym.
    pub name: LoadingName,
    /// What was measured.
    pub measure: ClubMeasure,
}

#[derive(FromRow)]
struct LoadingRow {
    loading_id: Uuid,
    club_id: Uuid,
    name: String,
    measure: Json<serde_json::Value>,
    retired_at: Option<OffsetDateTime>,
}

impl TryFrom<LoadingRow> for Loading {
    type Error = StoreError;

    fn try_from(row: LoadingRow) -> Result<Self, StoreError> {
        Ok(Self {
            id: LoadingId(row.loading_id),
            club: ClubId(row.club_id),
            name: LoadingName::new(&row.name)
                .map_err(|error| StoreError::corrupt("loadings", row.loading_id, error))?,
            measure: serde_json::from_value(row.measure.0)
                .map_err(|error| StoreError::corrupt("loadings", row.loading_id, error))?,
            retired_at: row.retired_at,
        })
    }
}

/// Every loading of the gym, by name, retired ones too.
///
/// # Errors
/// [`StoreError`].
pub async fn loadings(tx: &mut GymTx) -> Result<Vec<Loading>, StoreError> {
    let rows: Vec<LoadingRow> = sqlx::query_as(
        "select loading_id, club_id, name, measure, retired_at from loadings
         where gym_id = $1 order by name",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Loading::try_from).collect()
}

/// The loadings of one club, the newest first.
///
/// # Errors
/// [`StoreError`].
pub async fn loadings_of(tx: &mut GymTx, club: ClubId) -> Result<Vec<Loading>, StoreError> {
    let rows: Vec<LoadingRow> = sqlx::query_as(
        "select loading_id, club_id, name, measure, retired_at from loadings
         where gym_id = $1 and club_id = $2
         order by retired_at is not null, created_at desc, name",
    )
    .bind(tx.gym().0)
    .bind(club.0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Loading::try_from).collect()
}

/// One loading.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such loading.
pub async fn loading(tx: &mut GymTx, loading: LoadingId) -> Result<Loading, StoreError> {
    let row: LoadingRow = sqlx::query_as(
        "select loading_id, club_id, name, measure, retired_at from loadings
         where gym_id = $1 and loading_id = $2",
    )
    .bind(tx.gym().0)
    .bind(loading.0)
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

/// Adds a loading to a club.
///
/// # Errors
/// [`StoreError::Constraint`] `loadings_name_once`; a foreign key's if there is no such club.
pub async fn add_loading(
    tx: &mut GymTx,
    club: ClubId,
    new: &NewLoading,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query(
        "insert into loadings (gym_id, loading_id, club_id, name, measure, created_at)
         values ($1, $2, $3, $4, $5, $6)",
    )
    .bind(tx.gym().0)
    .bind(new.id.0)
    .bind(club.0)
    .bind(new.name.as_str())
    .bind(Json(&new.measure))
    .bind(now)
    .execute(tx.conn())
    .await?;
    flags::outdate_all(tx).await
}

/// Whether a log or a plan names this loading.
///
/// # Errors
/// [`StoreError`].
pub async fn is_used(tx: &mut GymTx, loading: LoadingId) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar(
        "select exists (select from logged_sets where gym_id = $1 and loading_id = $2)
             or exists (select from blocks where gym_id = $1 and loading_id = $2)
             or exists (select from planned_revisions
                        where gym_id = $1 and prescription->>'loading' = $2::text)",
    )
    .bind(tx.gym().0)
    .bind(loading.0)
    .fetch_one(tx.conn())
    .await?)
}

/// What became of a loading that was measured again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remeasured {
    /// It is the same loading: it was never used, or only what was unknown was added.
    Same,
    /// It had been used and some figure changed: it was retired under a name that says until when,
    /// and the new figures are a new loading.
    Replaced(LoadingId),
}

/// Measures a loading again. Logs stay true: what was swung with keeps the figures it was logged
/// under, so a loading in use only ever gains what was unknown of it; any other change makes a new
/// loading, `replacement.id`, which takes over the name.
///
/// # Errors
/// [`StoreError::NotFound`]; [`StoreError::Constraint`] `loadings_name_once` if another loading has
/// the name.
pub async fn remeasure(
    tx: &mut GymTx,
    old: &Loading,
    replacement: &NewLoading,
    now: OffsetDateTime,
    today: Date,
) -> Result<Remeasured, StoreError> {
    let in_place = old.measure == replacement.measure
        || only_adds(&old.measure, &replacement.measure)
        || !is_used(tx, old.id).await?;
    if in_place {
        let done = sqlx::query(
            "update loadings set name = $3, measure = $4 where gym_id = $1 and loading_id = $2",
        )
        .bind(tx.gym().0)
        .bind(old.id.0)
        .bind(replacement.name.as_str())
        .bind(Json(&replacement.measure))
        .execute(tx.conn())
        .await?;
        touched(&done)?;
        flags::outdate_all(tx).await?;
        return Ok(Remeasured::Same);
    }
    let done = sqlx::query(
        "update loadings set name = $3, retired_at = $4
         where gym_id = $1 and loading_id = $2 and retired_at is null",
    )
    .bind(tx.gym().0)
    .bind(old.id.0)
    .bind(name_until(&old.name, today, old.id))
    .bind(now)
    .execute(tx.conn())
    .await?;
    touched(&done)?;
    add_loading(tx, old.club, replacement, now).await?;
    Ok(Remeasured::Replaced(replacement.id))
}

/// "Iron 12 until 2026-11-25 · 9f3c": cut so that it fits, and never taken already.
fn name_until(name: &LoadingName, today: Date, loading: LoadingId) -> String {
    let start: String = name.as_str().chars().take(54).collect();
    let id = loading.0.simple().to_string();
    format!(
        "{} until {today} · {}",
        start.trim_end(),
        &id[id.len() - 6..]
    )
}

/// Whether one measure says everything that the other does, and more: a weighed club of the same
/// mass, with figures where there were none. Only then is a log under the one true under the other.
fn only_adds(old: &ClubMeasure, new: &ClubMeasure) -> bool {
    fn keeps<T: PartialEq>(old: Option<T>, new: Option<T>) -> bool {
        old.is_none() || old == new
    }
    let same_bare = match (old.bare(), new.bare()) {
        (
            BareClub::Weighed {
                mass,
                length,
                balance,
                swing,
            },
            BareClub::Weighed {
                mass: new_mass,
                length: new_length,
                balance: new_balance,
                swing: new_swing,
            },
        ) => {
            mass == new_mass
                && keeps(*length, *new_length)
                && keeps(*balance, *new_balance)
                && keeps(*swing, *new_swing)
        }
        (old, new) => old == new,
    };
    same_bare && keeps(old.grip(), new.grip()) && old.plates() == new.plates()
}

/// Calls a loading by another name. Logs and plans follow.
///
/// # Errors
/// [`StoreError::NotFound`]; [`StoreError::Constraint`] `loadings_name_once`.
pub async fn rename_loading(
    tx: &mut GymTx,
    loading: LoadingId,
    name: &LoadingName,
) -> Result<(), StoreError> {
    let done = sqlx::query("update loadings set name = $3 where gym_id = $1 and loading_id = $2")
        .bind(tx.gym().0)
        .bind(loading.0)
        .bind(name.as_str())
        .execute(tx.conn())
        .await?;
    touched(&done)
}

/// Retires a loading, or brings it back (`None`).
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn retire_loading(
    tx: &mut GymTx,
    loading: LoadingId,
    at: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let done =
        sqlx::query("update loadings set retired_at = $3 where gym_id = $1 and loading_id = $2")
            .bind(tx.gym().0)
            .bind(loading.0)
            .bind(at)
            .execute(tx.conn())
            .await?;
    touched(&done)?;
    flags::outdate_all(tx).await
}

/// Lets the rules see a changed rack at once for the athlete whose own club it was. For a club of the
/// gym there is nothing to do here: the change itself marked everybody's flags as out of date.
///
/// # Errors
/// [`StoreError`].
pub async fn tell_rules(
    tx: &mut GymTx,
    owner: Option<AthleteId>,
    today: Date,
) -> Result<(), StoreError> {
    match owner {
        Some(owner) => flags::reassess(tx, owner, today).await,
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use leverbook_domain::club::ClubFields;

    use super::*;

    fn measure(change: impl FnOnce(&mut ClubFields)) -> ClubMeasure {
        let mut fields = ClubFields {
            mass_kg: Some(11.7),
            length_mm: Some(660.0),
            ..ClubFields::default()
        };
        change(&mut fields);
        ClubMeasure::try_from(fields).expect("a possible club")
    }

    #[test]
    fn knowing_more_of_a_club_is_not_another_club() {
        let known = measure(|_| ());
        let balanced = measure(|fields| {
            fields.balance_mm = Some(463.0);
            fields.grip_mm = Some(50.0);
        });
        assert!(only_adds(&known, &balanced));
        assert!(!only_adds(&balanced, &known), "nothing is forgotten");
        let swung = measure(|fields| {
            fields.balance_mm = Some(463.0);
            fields.grip_mm = Some(50.0);
            fields.period_s = Some(1.453);
            fields.pivot_mm = Some(0.0);
        });
        assert!(only_adds(&balanced, &swung));
        assert!(!only_adds(
            &known,
            &measure(|fields| fields.mass_kg = Some(12.0))
        ));
        assert!(!only_adds(
            &balanced,
            &measure(|fields| fields.balance_mm = Some(470.0))
        ));
    }

    #[test]
    fn a_retired_name_fits_and_says_until_when() {
        let name = LoadingName::new(&"ж".repeat(80)).expect("a name");
        let day = Date::from_ordinal_date(2026, 329).expect("a day");
        let retired = name_until(&name, day, LoadingId(Uuid::from_u128(0xabc)));
        assert!(LoadingName::new(&retired).is_ok(), "{retired}");
        assert!(retired.ends_with("until 2026-11-25 · 000abc"), "{retired}");
    }
}
