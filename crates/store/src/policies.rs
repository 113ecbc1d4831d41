//! The thresholds in force in a gym, and how they came to be. Versions are only ever added.

use std::collections::HashMap;

use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::policy::{AthletePolicy, Policy, PolicyVersion, Refused};
use leverbook_domain::text::Reason;
use sqlx::FromRow;
use sqlx::types::Json;
use time::OffsetDateTime;
use uuid::Uuid;

use crate::{GymTx, StoreError, exceptions};

/// The newest policy of this gym, or the policy as shipped where the gym never changed it.
///
/// # Errors
/// [`StoreError`] when the database fails or holds a policy that cannot be read.
pub async fn in_force(tx: &mut GymTx) -> Result<Policy, StoreError> {
    let gym = tx.gym();
    let newest: Option<(i32, Json<serde_json::Value>)> = sqlx::query_as(
        "select version, policy from policies where gym_id = $1 order by version desc limit 1",
    )
    .bind(gym.0)
    .fetch_optional(tx.conn())
    .await?;
    newest.map_or_else(
        || Ok(Policy::default()),
        |(version, Json(stored))| read(version, stored),
    )
}

fn read(version: i32, stored: serde_json::Value) -> Result<Policy, StoreError> {
    let policy: Policy = serde_json::from_value(stored)
        .map_err(|error| StoreError::corrupt("policies", version, error))?;
    Ok(Policy {
        version: PolicyVersion(version),
        ..policy
    })
}

/// The policy by which this athlete is judged.
///
/// # Errors
/// As [`in_force`].
pub async fn of_athlete(tx: &mut GymTx, athlete: AthleteId) -> Result<AthletePolicy, StoreError> {
    let gym = in_force(tx).await?;
    let mut all = exceptions::of_athletes(tx, &[athlete]).await?;
    Ok(AthletePolicy::new(
        gym,
        all.remove(&athlete).unwrap_or_default(),
    ))
}

/// The policies by which these athletes are judged.
///
/// # Errors
/// As [`in_force`].
pub async fn of_athletes(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, AthletePolicy>, StoreError> {
    let gym = in_force(tx).await?;
    let mut all = exceptions::of_athletes(tx, athletes).await?;
    Ok(athletes
        .iter()
        .map(|athlete| {
            let exceptions = all.remove(athlete).unwrap_or_default();
            (*athlete, AthletePolicy::new(gym.clone(), exceptions))
        })
        .collect())
}

/// A version, and how it came to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Version {
    /// The thresholds, with the version's number.
    pub policy: Policy,
    /// Why it was made, in whose words it was.
    pub reason: String,
    /// Who made it.
    pub by: AccountId,
    /// Their name; `None` where they have no part in the gym any more.
    pub by_name: Option<String>,
    /// When.
    pub at: OffsetDateTime,
}

#[derive(FromRow)]
struct VersionRow {
    version: i32,
    policy: Json<serde_json::Value>,
    reason: String,
    decided_by: Uuid,
    name: Option<String>,
    decided_at: OffsetDateTime,
}

impl TryFrom<VersionRow> for Version {
    type Error = StoreError;

    fn try_from(row: VersionRow) -> Result<Self, StoreError> {
        Ok(Self {
            policy: read(row.version, row.policy.0)?,
            reason: row.reason,
            by: AccountId(row.decided_by),
            by_name: row.name,
            at: row.decided_at,
        })
    }
}

/// Every version that the gym made, the newest first; the policy as shipped is none of them.
///
/// # Errors
/// As [`in_force`].
pub async fn versions(tx: &mut GymTx) -> Result<Vec<Version>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<VersionRow> = sqlx::query_as(
        "select v.version, v.policy, v.reason, v.decided_by, p.name, v.decided_at
         from policies v
         left join people p on p.gym_id = v.gym_id and p.person_id = v.decided_by
         where v.gym_id = $1 order by v.version desc",
    )
    .bind(gym.0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Version::try_from).collect()
}

/// A version to make.
#[derive(Debug, Clone, PartialEq)]
pub struct NewVersion {
    /// The thresholds, all of them in their ranges and in order; the version in it does not count.
    pub policy: Policy,
    /// The version that was looked at when it was decided.
    pub after: PolicyVersion,
    /// Why.
    pub reason: Reason,
    /// When.
    pub at: OffsetDateTime,
}

/// Why a policy, or an exception from it, was not written.
#[derive(Debug, thiserror::Error)]
pub enum NotChanged {
    /// Somebody else changed it after it was looked at.
    #[error("somebody changed it meanwhile")]
    Meanwhile,
    /// It would be out of order with what stands for these athletes.
    #[error("it does not go with what stands for one athlete or more")]
    OutOfOrder(Vec<(AthleteId, Refused)>),
    /// The database.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<sqlx::Error> for NotChanged {
    fn from(error: sqlx::Error) -> Self {
        Self::Store(error.into())
    }
}

/// Lets nobody else change the gym's policy, or an exception from it, until the transaction ends.
pub(crate) async fn hold(tx: &mut GymTx) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query("select from gyms where gym_id = $1 for no key update")
        .bind(gym.0)
        .fetch_one(tx.conn())
        .await?;
    Ok(())
}

/// Makes a version. Flags are out of date then, until
/// [`bring_up_to_date`](crate::flags::bring_up_to_date) has been round, within a minute. Sent twice, it
/// is made once.
///
/// # Errors
/// [`NotChanged`]; then nothing was written.
pub async fn change(tx: &mut GymTx, new: &NewVersion) -> Result<PolicyVersion, NotChanged> {
    hold(tx).await?;
    let (gym, actor) = (tx.gym(), tx.actor());
    let standing = in_force(tx).await?.version;
    let Some(version) = new.after.0.checked_add(1).map(PolicyVersion) else {
        return Err(NotChanged::Meanwhile);
    };
    let policy = Policy {
        version,
        ..new.policy.clone()
    };
    if standing == version {
        let newest = versions(tx).await?.into_iter().next();
        let again = newest.is_some_and(|newest| {
            newest.by == actor && newest.reason == new.reason.as_str() && newest.policy == policy
        });
        return if again {
            Ok(version)
        } else {
            Err(NotChanged::Meanwhile)
        };
    }
    if standing != new.after {
        return Err(NotChanged::Meanwhile);
    }
    let wrong = out_of_order(tx, &policy).await?;
    if !wrong.is_empty() {
        return Err(NotChanged::OutOfOrder(wrong));
    }
    sqlx::query(
        "insert into policies (gym_id, version, policy, decided_by, decided_at, reason)
         values ($1, $2, $3, $4, $5, $6)",
    )
    .bind(gym.0)
    .bind(version.0)
    .bind(Json(&policy))
    .bind(actor.0)
    .bind(new.at)
    .bind(new.reason.as_str())
    .execute(tx.conn())
    .await?;
    Ok(version)
}

/// The athletes whose exceptions would be out of order with another policy of the gym.
///
/// # Errors
/// As [`in_force`].
pub async fn out_of_order(
    tx: &mut GymTx,
    gym: &Policy,
) -> Result<Vec<(AthleteId, Refused)>, StoreError> {
    let all = exceptions::everybodys(tx).await?;
    let mut wrong: Vec<(AthleteId, Refused)> = all
        .into_iter()
        .filter_map(|(athlete, exceptions)| {
            let policy = AthletePolicy::new(gym.clone(), exceptions);
            let refused = policy.own().refused().into_iter().next()?;
            Some((athlete, refused))
        })
        .collect();
    wrong.sort_by_key(|(athlete, _)| *athlete);
    Ok(wrong)
}
