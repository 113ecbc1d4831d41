//! Classes: who trains together at an hour of the week, who is expected on a day, and the plan that was
//! made for it.
//!
//! A plan made again for the same day is a new revision; the newest counts. Two coaches who start
//! from the same revision cannot both win: the second meets the key of the first.

use leverbook_domain::class::{ClassPlan, Expected, Swing};
use leverbook_domain::id::{AccountId, AthleteId, ClassId};
use leverbook_domain::text::ClassName;
use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use sqlx::types::Json;
use time::{Date, OffsetDateTime, Time, Weekday};
use uuid::Uuid;

use crate::{GymTx, StoreError, touched};

/// What is written about a class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClassDetails {
    /// What it is called.
    pub name: ClassName,
    /// On which day of the week.
    pub weekday: Weekday,
    /// When, in the gym's zone.
    pub starts_at: Time,
    /// How long: 10 to 300 minutes.
    pub minutes: u16,
    /// How many the room lets swing at once, with clear space around each: 1 to 200.
    pub at_once: u16,
    /// Who takes it.
    pub coach: Option<AccountId>,
}

/// A class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Class {
    /// Its id.
    pub id: ClassId,
    /// What is written about it.
    pub details: ClassDetails,
    /// The coach's name.
    pub coach_name: Option<String>,
    /// How many usually come.
    pub members: usize,
    /// When it was taken out of the week; its plans stay.
    pub retired_at: Option<OffsetDateTime>,
}

impl Class {
    /// The first day of the class on or after a date.
    #[must_use]
    pub fn day_from(&self, date: Date) -> Date {
        let days = self.details.weekday.number_days_from_monday() + 7
            - date.weekday().number_days_from_monday();
        date.saturating_add(time::Duration::days(i64::from(days % 7)))
    }
}

#[derive(FromRow)]
struct ClassRow {
    class_id: Uuid,
    name: String,
    weekday: i16,
    starts_at: Time,
    minutes: i16,
    at_once: i16,
    coach_id: Option<Uuid>,
    coach_name: Option<String>,
    members: i64,
    retired_at: Option<OffsetDateTime>,
}

impl TryFrom<ClassRow> for Class {
    type Error = StoreError;

    fn try_from(row: ClassRow) -> Result<Self, StoreError> {
        let corrupt =
            |what: &dyn ToString| StoreError::corrupt("classes", row.class_id, what.to_string());
        Ok(Self {
            id: ClassId(row.class_id),
            details: ClassDetails {
                name: ClassName::new(&row.name).map_err(|error| corrupt(&error))?,
                weekday: weekday(row.weekday).ok_or_else(|| corrupt(&"weekday"))?,
                starts_at: row.starts_at,
                minutes: u16::try_from(row.minutes).map_err(|error| corrupt(&error))?,
                at_once: u16::try_from(row.at_once).map_err(|error| corrupt(&error))?,
                coach: row.coach_id.map(AccountId),
            },
            coach_name: row.coach_name,
            members: usize::try_from(row.members).map_err(|error| corrupt(&error))?,
            retired_at: row.retired_at,
        })
    }
}

/// The day of an ISO number, 1 = Monday.
fn weekday(iso: i16) -> Option<Weekday> {
    (1..=7)
        .contains(&iso)
        .then(|| Weekday::Monday.nth_next(u8::try_from(iso - 1).unwrap_or(0)))
}

macro_rules! classes {
    ($($condition:literal),+ $(,)?) => {
        concat!(
            "select c.class_id, c.name, c.weekday, c.starts_at, c.minutes, c.at_once, c.coach_id,
                 who.name as coach_name, c.retired_at, (
                     select count(*) from class_members m
                     where m.gym_id = c.gym_id and m.class_id = c.class_id
                 ) as members
             from classes c
             left join people who on who.gym_id = c.gym_id and who.person_id = c.coach_id
             where c.gym_id = $1 ",
            $($condition),+
        )
    };
}

/// Every class of the gym in the order of the week, retired ones too.
///
/// # Errors
/// [`StoreError`].
pub async fn all(tx: &mut GymTx) -> Result<Vec<Class>, StoreError> {
    let rows: Vec<ClassRow> = sqlx::query_as(classes!(
        "order by c.weekday, c.starts_at, c.name, c.class_id"
    ))
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Class::try_from).collect()
}

/// One class.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such class.
pub async fn get(tx: &mut GymTx, class: ClassId) -> Result<Class, StoreError> {
    let row: ClassRow = sqlx::query_as(classes!("and c.class_id = $2"))
        .bind(tx.gym().0)
        .bind(class.0)
        .fetch_one(tx.conn())
        .await?;
    row.try_into()
}

/// Adds a class. One whose id is stored already is left as it is.
///
/// # Errors
/// [`StoreError::Constraint`] `classes_once` if there is one of that name at that hour;
/// `classes_gym_id_coach_id_fkey` if the coach is nobody in this gym.
pub async fn add(
    tx: &mut GymTx,
    class: ClassId,
    details: &ClassDetails,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query(
        "insert into classes
             (gym_id, class_id, name, weekday, starts_at, minutes, at_once, coach_id, created_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
         on conflict (gym_id, class_id) do nothing",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .bind(details.name.as_str())
    .bind(i16::from(details.weekday.number_from_monday()))
    .bind(details.starts_at)
    .bind(small(details.minutes))
    .bind(small(details.at_once))
    .bind(details.coach.map(|coach| coach.0))
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// A number as PostgreSQL keeps it; what does not fit is refused by the column's check.
fn small(number: u16) -> i16 {
    i16::try_from(number).unwrap_or(i16::MAX)
}

/// Changes what is written about a class.
///
/// # Errors
/// [`StoreError::NotFound`]; as [`add`].
pub async fn change(
    tx: &mut GymTx,
    class: ClassId,
    details: &ClassDetails,
) -> Result<(), StoreError> {
    let done = sqlx::query(
        "update classes set name = $3, weekday = $4, starts_at = $5, minutes = $6, at_once = $7,
             coach_id = $8
         where gym_id = $1 and class_id = $2",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .bind(details.name.as_str())
    .bind(i16::from(details.weekday.number_from_monday()))
    .bind(details.starts_at)
    .bind(small(details.minutes))
    .bind(small(details.at_once))
    .bind(details.coach.map(|coach| coach.0))
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// Takes a class out of the week, or brings it back (`None`).
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn retire(
    tx: &mut GymTx,
    class: ClassId,
    at: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let done =
        sqlx::query("update classes set retired_at = $3 where gym_id = $1 and class_id = $2")
            .bind(tx.gym().0)
            .bind(class.0)
            .bind(at)
            .execute(tx.conn())
            .await?;
    touched(&done)
}

/// Who usually comes.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn members(tx: &mut GymTx, class: ClassId) -> Result<Vec<AthleteId>, StoreError> {
    let rows: Vec<Uuid> = sqlx::query_scalar(
        "select athlete_id from class_members where gym_id = $1 and class_id = $2
         order by athlete_id",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows.into_iter().map(AthleteId).collect())
}

/// Sets who usually comes: exactly these.
///
/// # Errors
/// [`StoreError::Constraint`] if there is no such class, or one of them is nobody here.
pub async fn set_members(
    tx: &mut GymTx,
    class: ClassId,
    members: &[AthleteId],
) -> Result<(), StoreError> {
    let members: Vec<Uuid> = members.iter().map(|athlete| athlete.0).collect();
    sqlx::query(
        "delete from class_members where gym_id = $1 and class_id = $2 and athlete_id <> all($3)",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .bind(&members)
    .execute(tx.conn())
    .await?;
    sqlx::query(
        "insert into class_members (gym_id, class_id, athlete_id)
         select $1, $2, athlete from unnest($3::uuid[]) as athlete
         on conflict do nothing",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .bind(&members)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Somebody who may be expected on a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MayCome {
    /// Who.
    pub athlete: AthleteId,
    /// Their name.
    pub name: String,
    /// Whether they usually come.
    pub member: bool,
    /// Whether the actor looks after them.
    pub own: bool,
    /// In training, and not excused on the day.
    pub here: bool,
}

/// Who may be expected on a day, by name: whoever usually comes, and all in training on the actor's roster.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn may_come(
    tx: &mut GymTx,
    class: ClassId,
    on: Date,
) -> Result<Vec<MayCome>, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let rows: Vec<(Uuid, String, bool, bool, bool)> = sqlx::query_as(
        "select a.athlete_id, a.name, m.athlete_id is not null, r.athlete_id is not null,
             a.status = 'active' and not exists (
                 select from excused e
                 where e.gym_id = a.gym_id and e.athlete_id = a.athlete_id
                     and $4 between e.first_day and e.last_day and e.taken_back_at is null
             )
         from athletes a
         left join class_members m on m.gym_id = a.gym_id and m.class_id = $2
             and m.athlete_id = a.athlete_id
         left join rosters r on r.gym_id = a.gym_id and r.coach_id = $3
             and r.athlete_id = a.athlete_id
         where a.gym_id = $1 and a.status <> 'left'
             and (m.athlete_id is not null or r.athlete_id is not null and a.status = 'active')
         order by lower(a.name), a.athlete_id",
    )
    .bind(gym.0)
    .bind(class.0)
    .bind(actor.0)
    .bind(on)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows
        .into_iter()
        .map(|(athlete, name, member, own, here)| MayCome {
            athlete: AthleteId(athlete),
            name,
            member,
            own,
            here,
        })
        .collect())
}

/// Somebody who is expected, and where their clubs come from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Coming {
    /// What the plan is made from.
    #[serde(flatten)]
    pub expected: Expected,
    /// The coach chose the club by hand; else it is what their sessions ask for.
    pub by_hand: bool,
}

/// A plan to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// How many the room takes at once, on that day.
    pub at_once: u16,
    /// Who is expected, in the order of the list.
    pub coming: Vec<Coming>,
    /// Who swings what, when.
    pub plan: ClassPlan,
}

/// The newest plan of a class on a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptPlan {
    /// Its revision, from 1.
    pub revision: i32,
    /// What was made.
    pub made: Made,
    /// Who made it.
    pub made_by: String,
    /// When.
    pub made_at: OffsetDateTime,
}

/// Why a plan was not kept. Nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum KeepError {
    /// Somebody made another one since the page was opened.
    #[error("the class plan was made again in the meantime")]
    MadeMeanwhile,
    /// The store failed or refused.
    #[error(transparent)]
    Store(#[from] StoreError),
}

#[derive(FromRow)]
struct PlanRow {
    revision: i32,
    at_once: i16,
    expected: Json<serde_json::Value>,
    plan: Json<serde_json::Value>,
    made_by: Option<String>,
    made_at: OffsetDateTime,
}

/// The newest plan of a class on a day; `None` if none was made.
///
/// # Errors
/// [`StoreError`].
pub async fn plan_on(
    tx: &mut GymTx,
    class: ClassId,
    on: Date,
) -> Result<Option<KeptPlan>, StoreError> {
    let row: Option<PlanRow> = sqlx::query_as(
        "select p.revision, p.at_once, p.expected, p.plan, who.name as made_by, p.made_at
         from class_plans p
         left join people who on who.gym_id = p.gym_id and who.person_id = p.made_by
         where p.gym_id = $1 and p.class_id = $2 and p.on_date = $3
         order by p.revision desc limit 1",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .bind(on)
    .fetch_optional(tx.conn())
    .await?;
    row.map(|row| {
        let corrupt =
            |what: &dyn ToString| StoreError::corrupt("class_plans", class.0, what.to_string());
        Ok(KeptPlan {
            revision: row.revision,
            made: Made {
                at_once: u16::try_from(row.at_once).map_err(|error| corrupt(&error))?,
                coming: serde_json::from_value(row.expected.0).map_err(|error| corrupt(&error))?,
                plan: serde_json::from_value(row.plan.0).map_err(|error| corrupt(&error))?,
            },
            made_by: row.made_by.unwrap_or_default(),
            made_at: row.made_at,
        })
    })
    .transpose()
}

/// The rotations of last time: of the latest plan of the class up to and including a day. Empty if
/// there is none.
///
/// # Errors
/// [`StoreError`].
pub async fn last_time(
    tx: &mut GymTx,
    class: ClassId,
    until: Date,
) -> Result<Vec<Vec<Swing>>, StoreError> {
    let on: Option<Date> = sqlx::query_scalar(
        "select max(on_date) from class_plans where gym_id = $1 and class_id = $2 and on_date <= $3",
    )
    .bind(tx.gym().0)
    .bind(class.0)
    .bind(until)
    .fetch_one(tx.conn())
    .await?;
    Ok(match on {
        Some(on) => plan_on(tx, class, on)
            .await?
            .map(|kept| kept.made.plan.rotations)
            .unwrap_or_default(),
        None => Vec::new(),
    })
}

/// Keeps a plan after the revision that its maker looked at; 0 for none. The same plan sent twice
/// is kept once.
///
/// # Errors
/// [`KeepError::MadeMeanwhile`] where the newest revision is another one, with another plan.
pub async fn keep(
    tx: &mut GymTx,
    class: ClassId,
    on: Date,
    after: i32,
    made: &Made,
    now: OffsetDateTime,
) -> Result<(), KeepError> {
    let newest = plan_on(tx, class, on).await?;
    match &newest {
        Some(kept) if kept.made == *made => return Ok(()),
        Some(kept) if kept.revision == after => {}
        None if after == 0 => {}
        _ => return Err(KeepError::MadeMeanwhile),
    }
    let (gym, actor) = (tx.gym(), tx.actor());
    let done = sqlx::query(
        "insert into class_plans
             (gym_id, class_id, on_date, revision, at_once, expected, plan, made_by, made_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
    )
    .bind(gym.0)
    .bind(class.0)
    .bind(on)
    .bind(after + 1)
    .bind(small(made.at_once))
    .bind(Json(&made.coming))
    .bind(Json(&made.plan))
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await
    .map_err(StoreError::from);
    match done {
        Ok(_) => Ok(()),
        Err(error) if error.is_constraint("class_plans_pkey") => Err(KeepError::MadeMeanwhile),
        Err(error) => Err(error.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // ISO 8601: Monday is day 1, Sunday day 7.
    #[test]
    fn weekdays_are_kept_as_iso_numbers() {
        assert_eq!(weekday(1), Some(Weekday::Monday));
        assert_eq!(weekday(7), Some(Weekday::Sunday));
        assert_eq!((weekday(0), weekday(8)), (None, None));
    }
}
