//! Several weeks accepted in one act, and taken back in one.

use leverbook_domain::id::{AthleteId, DecisionId};
use leverbook_domain::review::Week;
use sqlx::types::Json;
use time::OffsetDateTime;
use uuid::Uuid;

use super::{AthleteWeek, closed_at, hold_desk, iso_year, week as week_of_roster};
use crate::athletes::uuids;
use crate::{GymTx, StoreError};

/// Why nothing was accepted.
#[derive(Debug, thiserror::Error)]
pub enum TogetherError {
    /// The week is closed.
    #[error("this week is closed; open it again to change a decision")]
    Closed,
    /// These are not as they were shown any more: their names.
    #[error("not as they were shown: {0:?}")]
    NotAsShown(Vec<String>),
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<sqlx::Error> for TogetherError {
    fn from(error: sqlx::Error) -> Self {
        Self::Store(error.into())
    }
}

/// Takes hold of athletes until the transaction ends, in order of id like everybody who holds several.
async fn hold_all(tx: &mut GymTx, athletes: &[AthleteId]) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query(
        "select from athletes where gym_id = $1 and athlete_id = any($2)
         order by athlete_id for no key update",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Accepts the proposals of these athletes of the actor's roster in one act: all of them, or none if
/// one is not as it was shown. `as_shown` says so of the week as it stands. The same act sent twice
/// accepts once.
///
/// # Errors
/// [`TogetherError::Closed`], [`TogetherError::NotAsShown`].
pub async fn accept(
    tx: &mut GymTx,
    act: Uuid,
    week: Week,
    wanted: &[(AthleteId, DecisionId)],
    at: OffsetDateTime,
    as_shown: impl Fn(&AthleteWeek) -> bool,
) -> Result<(), TogetherError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    hold_desk(tx).await?;
    let athletes: Vec<AthleteId> = wanted.iter().map(|(athlete, _)| *athlete).collect();
    hold_all(tx, &athletes).await?;
    let sent_before: bool = sqlx::query_scalar(
        "select exists (
             select from review_decisions
             where gym_id = $1 and iso_year = $2 and iso_week = $3 and together = $4
                 and decided_by = $5
         )",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(act)
    .bind(actor.0)
    .fetch_one(tx.conn())
    .await?;
    if sent_before {
        return Ok(());
    }
    if closed_at(tx, actor, week).await?.is_some() {
        return Err(TogetherError::Closed);
    }
    let mut ids = Vec::new();
    let mut decided = Vec::new();
    let mut proposals = Vec::new();
    let mut otherwise = Vec::new();
    let roster = week_of_roster(tx, actor, week).await?;
    for line in &roster {
        let Some((_, id)) = wanted.iter().find(|(athlete, _)| *athlete == line.athlete) else {
            continue;
        };
        if as_shown(line) {
            ids.push(line.athlete.0);
            decided.push(id.0);
            proposals.push(Json(&line.proposals));
        } else {
            otherwise.push(line.name.to_string());
        }
    }
    if ids.len() + otherwise.len() < wanted.len() {
        otherwise.push("somebody who is no longer on your roster".to_owned());
    }
    if !otherwise.is_empty() {
        return Err(TogetherError::NotAsShown(otherwise));
    }
    sqlx::query(
        "insert into review_decisions (gym_id, decision_id, athlete_id, iso_year, iso_week, kind,
             proposal, reason, decided_by, decided_at, together)
         select $1, decision_id, athlete_id, $2, $3, 'accept', proposal, '', $4, $5, $6
         from unnest($7::uuid[], $8::uuid[], $9::jsonb[])
             as wanted (decision_id, athlete_id, proposal)",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(actor.0)
    .bind(at)
    .bind(act)
    .bind(decided)
    .bind(ids)
    .bind(proposals)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Takes back what the actor accepted in one act, as far as it still counts; what somebody decided
/// since stays. `new_id` makes the ids of the new rows.
///
/// # Errors
/// [`TogetherError::Closed`].
pub async fn take_back(
    tx: &mut GymTx,
    act: Uuid,
    week: Week,
    at: OffsetDateTime,
    new_id: impl Fn() -> DecisionId,
) -> Result<(), TogetherError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    hold_desk(tx).await?;
    if closed_at(tx, actor, week).await?.is_some() {
        return Err(TogetherError::Closed);
    }
    let athletes: Vec<AthleteId> = sqlx::query_scalar(
        "select athlete_id from review_decisions
         where gym_id = $1 and iso_year = $2 and iso_week = $3 and together = $4
             and decided_by = $5",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(act)
    .bind(actor.0)
    .fetch_all(tx.conn())
    .await?
    .into_iter()
    .map(AthleteId)
    .collect();
    hold_all(tx, &athletes).await?;
    let ids: Vec<Uuid> = athletes.iter().map(|_| new_id().0).collect();
    sqlx::query(
        "insert into review_decisions (gym_id, decision_id, athlete_id, iso_year, iso_week, kind,
             proposal, reason, decided_by, decided_at)
         select d.gym_id, taken.decision_id, d.athlete_id, d.iso_year, d.iso_week, 'undo',
             d.proposal, '', $5, $6
         from unnest($7::uuid[], $8::uuid[]) as taken (decision_id, athlete_id)
         join review_decisions d on d.gym_id = $1 and d.athlete_id = taken.athlete_id
             and d.iso_year = $2 and d.iso_week = $3 and d.together = $4
         where not exists (
             select from review_decisions later
             where later.gym_id = $1 and later.athlete_id = d.athlete_id
                 and later.iso_year = $2 and later.iso_week = $3 and later.nth > d.nth
         )",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(act)
    .bind(actor.0)
    .bind(at)
    .bind(ids)
    .bind(uuids(&athletes))
    .execute(tx.conn())
    .await?;
    Ok(())
}
