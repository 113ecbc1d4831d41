//! What a coach set otherwise for one athlete. Each exception made, changed or ended is a row of its
//! own; none is ever changed.

use std::collections::HashMap;

use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::policy::{
    Exception, ExceptionChange, Exceptions, ExceptionsNumber, Threshold,
};
use leverbook_domain::text::Reason;
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::policies::{self, NotChanged};
use crate::{GymTx, StoreError, flags, log};

#[derive(FromRow)]
struct Row {
    athlete_id: Uuid,
    nth: i32,
    threshold: String,
    value: Option<f64>,
    reason: String,
    decided_by: Uuid,
    decided_at: OffsetDateTime,
    decided_on: Date,
}

impl TryFrom<Row> for (AthleteId, ExceptionChange) {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let corrupt = |what: &str| StoreError::corrupt("policy_exceptions", row.athlete_id, what);
        let change = ExceptionChange {
            number: ExceptionsNumber(row.nth),
            exception: Exception {
                threshold: Threshold::named(&row.threshold).ok_or_else(|| corrupt("threshold"))?,
                value: row.value,
            },
            reason: Reason::new(&row.reason).map_err(|_| corrupt("reason"))?,
            by: AccountId(row.decided_by),
            at: row.decided_at,
            on: row.decided_on,
        };
        Ok((AthleteId(row.athlete_id), change))
    }
}

fn by_athlete(rows: Vec<Row>) -> Result<HashMap<AthleteId, Exceptions>, StoreError> {
    let mut all: HashMap<AthleteId, Vec<ExceptionChange>> = HashMap::new();
    for row in rows {
        let (athlete, change) = row.try_into()?;
        all.entry(athlete).or_default().push(change);
    }
    Ok(all
        .into_iter()
        .map(|(athlete, changes)| (athlete, Exceptions::new(changes)))
        .collect())
}

/// The exceptions of these athletes; those who never had one are left out.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn of_athletes(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Exceptions>, StoreError> {
    let ids: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let gym = tx.gym();
    let rows = sqlx::query_as(
        "select athlete_id, nth, threshold, value, reason, decided_by, decided_at, decided_on
         from policy_exceptions where gym_id = $1 and athlete_id = any($2)",
    )
    .bind(gym.0)
    .bind(ids)
    .fetch_all(tx.conn())
    .await?;
    by_athlete(rows)
}

/// The exceptions of everybody who ever had one.
pub(crate) async fn everybodys(
    tx: &mut GymTx,
) -> Result<HashMap<AthleteId, Exceptions>, StoreError> {
    let gym = tx.gym();
    let rows = sqlx::query_as(
        "select athlete_id, nth, threshold, value, reason, decided_by, decided_at, decided_on
         from policy_exceptions where gym_id = $1",
    )
    .bind(gym.0)
    .fetch_all(tx.conn())
    .await?;
    by_athlete(rows)
}

/// An exception to make, to change or to end.
#[derive(Debug, Clone, PartialEq)]
pub struct NewException {
    /// Whose.
    pub athlete: AthleteId,
    /// What.
    pub exception: Exception,
    /// The athlete's exceptions that were looked at when it was decided.
    pub after: ExceptionsNumber,
    /// Why.
    pub reason: Reason,
    /// When.
    pub at: OffsetDateTime,
    /// The day in the gym's zone.
    pub on: Date,
}

/// Writes an exception down, and works the athlete's flags out again with it. Sent twice, it is
/// written once.
///
/// # Errors
/// [`NotChanged`]; then nothing was written.
pub async fn record(tx: &mut GymTx, new: &NewException) -> Result<ExceptionsNumber, NotChanged> {
    log::hold(tx, new.athlete).await?;
    policies::hold(tx).await?;
    let (gym, actor) = (tx.gym(), tx.actor());
    let policy = policies::of_athlete(tx, new.athlete).await?;
    let Some(number) = new.after.0.checked_add(1).map(ExceptionsNumber) else {
        return Err(NotChanged::Meanwhile);
    };
    let last = policy.exceptions().changes().last();
    if let Some(last) = last.filter(|last| last.number == number) {
        let again =
            last.by == actor && last.reason == new.reason && last.exception == new.exception;
        return if again {
            Ok(number)
        } else {
            Err(NotChanged::Meanwhile)
        };
    }
    if policy.exceptions().number() != new.after {
        return Err(NotChanged::Meanwhile);
    }
    policy
        .with(new.exception)
        .map_err(|refused| NotChanged::OutOfOrder(vec![(new.athlete, refused)]))?;
    sqlx::query(
        "insert into policy_exceptions (
             gym_id, athlete_id, nth, threshold, value, reason, decided_by, decided_at, decided_on
         ) values ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
    )
    .bind(gym.0)
    .bind(new.athlete.0)
    .bind(number.0)
    .bind(new.exception.threshold.name)
    .bind(new.exception.value)
    .bind(new.reason.as_str())
    .bind(actor.0)
    .bind(new.at)
    .bind(new.on)
    .execute(tx.conn())
    .await?;
    flags::reassess(tx, new.athlete, new.on).await?;
    Ok(number)
}
