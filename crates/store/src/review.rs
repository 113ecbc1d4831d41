//! The weekly review: a coach's roster in one ISO week, what was decided, and whether the week is
//! closed. Decisions are only ever added; the newest counts.

use std::collections::HashMap;

use leverbook_domain::id::{AccountId, AthleteId, DecisionId};
use leverbook_domain::next_step::NextStep;
use leverbook_domain::progress::Progress;
use leverbook_domain::review::{Instead, Week};
use leverbook_domain::roster::{PersonName, Status};
use sqlx::FromRow;
use sqlx::types::Json;
use time::OffsetDateTime;
use uuid::Uuid;

use crate::flags::{self, KeptFlag};
use crate::{GymTx, StoreError};

/// One athlete's week.
#[derive(Debug, Clone, PartialEq)]
pub struct AthleteWeek {
    /// Who.
    pub athlete: AthleteId,
    /// Their name.
    pub name: PersonName,
    /// Whether they are here.
    pub status: Status,
    /// Sessions planned in the week.
    pub planned: u16,
    /// Sessions skipped in the week, with a coach's reason.
    pub skipped: u16,
    /// Sessions done in the week.
    pub done: u16,
    /// Sessions done in the week before.
    pub done_before: u16,
    /// Where the work stands.
    pub progress: Vec<Progress>,
    /// What the rules propose.
    pub proposals: Vec<NextStep>,
    /// The flags that stood in the week or in the one before.
    pub flags: Vec<KeptFlag>,
    /// The decision that counts, if there is one.
    pub decision: Option<Decision>,
}

/// What a coach did about the proposals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// As proposed.
    Accept,
    /// Something else.
    Change(Instead),
    /// Nothing for now.
    Hold,
}

/// A decision about one athlete's week.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// What.
    pub verdict: Verdict,
    /// Why, in the coach's words.
    pub reason: String,
    /// Who, by name.
    pub by: String,
    /// When.
    pub at: OffsetDateTime,
}

/// A new decision.
#[derive(Debug, Clone)]
pub struct NewDecision<'a> {
    /// Its id, made with the form, so that sending twice decides once.
    pub id: DecisionId,
    /// Whose week.
    pub athlete: AthleteId,
    /// Which week.
    pub week: Week,
    /// What; `None` takes the last decision back.
    pub verdict: Option<Verdict>,
    /// The proposals as they stood.
    pub proposals: &'a [NextStep],
    /// Why.
    pub reason: &'a str,
    /// A note to the athlete that goes with it; empty for none. Health data.
    pub note: &'a str,
    /// When.
    pub at: OffsetDateTime,
}

/// Why a decision was not taken.
#[derive(Debug, thiserror::Error)]
pub enum DecideError {
    /// The week is closed.
    #[error("this week is closed; open it again to change a decision")]
    Closed,
    /// The id is taken by another decision: the form was sent before with something else in it.
    #[error(
        "this form was sent before with something else in it; what you typed is below, send it again"
    )]
    OtherContent,
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<sqlx::Error> for DecideError {
    fn from(error: sqlx::Error) -> Self {
        Self::Store(error.into())
    }
}

#[derive(FromRow)]
struct WeekRow {
    athlete_id: Uuid,
    name: String,
    status: String,
    planned: i64,
    skipped: i64,
    done: i64,
    done_before: i64,
    next_steps: Option<Json<Vec<NextStep>>>,
    progress: Option<Json<Vec<Progress>>>,
}

const ROSTER_WEEK: &str = "
    with roster as (
        select a.athlete_id, a.name, a.status
        from rosters r join athletes a on a.gym_id = r.gym_id and a.athlete_id = r.athlete_id
        where r.gym_id = $1 and r.coach_id = $2 and a.status <> 'left'
    ), done as (
        select s.athlete_id,
            count(*) filter (where s.on_date >= $3) as done,
            count(*) filter (where s.on_date < $3) as done_before
        from logged_sessions s join roster using (athlete_id)
        where s.gym_id = $1 and s.on_date between $3 - 7 and $4 and not s.withdrawn
            and not exists (
                select from logged_sessions later
                where later.gym_id = $1 and later.replaces = s.revision_id
            )
        group by s.athlete_id
    ), planned as (
        select p.athlete_id,
            count(*) filter (where p.state = 'planned') as planned,
            count(*) filter (where p.state = 'skipped') as skipped
        from planned_revisions p join roster using (athlete_id)
        where p.gym_id = $1 and p.on_date between $3 and $4
            and not exists (
                select from planned_revisions later
                where later.gym_id = $1 and later.planned_id = p.planned_id
                    and later.revision > p.revision
            )
        group by p.athlete_id
    )
    select roster.athlete_id, roster.name, roster.status,
        coalesce(planned.planned, 0) as planned, coalesce(planned.skipped, 0) as skipped,
        coalesce(done.done, 0) as done, coalesce(done.done_before, 0) as done_before,
        assessed.next_steps, assessed.progress
    from roster
    left join done using (athlete_id)
    left join planned using (athlete_id)
    left join assessments assessed
        on assessed.gym_id = $1 and assessed.athlete_id = roster.athlete_id
    order by roster.name, roster.athlete_id";

/// A coach's roster in a week, by name: five queries, however many athletes.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn week(
    tx: &mut GymTx,
    coach: AccountId,
    week: Week,
) -> Result<Vec<AthleteWeek>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<WeekRow> = sqlx::query_as(ROSTER_WEEK)
        .bind(gym.0)
        .bind(coach.0)
        .bind(week.monday())
        .bind(week.sunday())
        .fetch_all(tx.conn())
        .await?;
    let athletes: Vec<AthleteId> = rows.iter().map(|row| AthleteId(row.athlete_id)).collect();
    let mut standing: HashMap<AthleteId, Vec<KeptFlag>> = HashMap::new();
    // What ended within the week or the one before it still belongs on the table.
    for flag in flags::on_days(tx, &athletes, week.before().monday(), week.sunday()).await? {
        standing.entry(flag.athlete).or_default().push(flag);
    }
    let mut decided = decisions(tx, &athletes, week).await?;
    rows.into_iter()
        .map(|row| {
            let athlete = AthleteId(row.athlete_id);
            let corrupt = |what: &str| StoreError::corrupt("athletes", row.athlete_id, what);
            let count = |many: i64| u16::try_from(many).unwrap_or(u16::MAX);
            Ok(AthleteWeek {
                athlete,
                name: PersonName::new(&row.name).map_err(|_| corrupt("name"))?,
                status: Status::from_word(&row.status).ok_or_else(|| corrupt("status"))?,
                planned: count(row.planned),
                skipped: count(row.skipped),
                done: count(row.done),
                done_before: count(row.done_before),
                progress: row.progress.map(|json| json.0).unwrap_or_default(),
                proposals: row.next_steps.map(|json| json.0).unwrap_or_default(),
                flags: standing.remove(&athlete).unwrap_or_default(),
                decision: decided.remove(&athlete),
            })
        })
        .collect()
}

#[derive(FromRow)]
struct DecisionRow {
    decision_id: Uuid,
    athlete_id: Uuid,
    kind: String,
    decided: Option<Json<Instead>>,
    reason: String,
    by_name: Option<String>,
    decided_at: OffsetDateTime,
    iso_year: i16,
    iso_week: i16,
}

impl DecisionRow {
    /// `None` where the decision was taken back.
    fn into_decision(self) -> Result<Option<Decision>, StoreError> {
        let corrupt = |what: &str| StoreError::corrupt("review_decisions", self.decision_id, what);
        let verdict = match (self.kind.as_str(), self.decided) {
            ("accept", _) => Verdict::Accept,
            ("hold", _) => Verdict::Hold,
            ("change", Some(instead)) => Verdict::Change(instead.0),
            ("undo", _) => return Ok(None),
            _ => return Err(corrupt("kind")),
        };
        Ok(Some(Decision {
            verdict,
            reason: self.reason,
            by: self
                .by_name
                .unwrap_or_else(|| "somebody who has left".to_owned()),
            at: self.decided_at,
        }))
    }
}

/// The decisions of a week that count.
async fn decisions(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    week: Week,
) -> Result<HashMap<AthleteId, Decision>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows: Vec<DecisionRow> = sqlx::query_as(
        "select distinct on (d.athlete_id) d.decision_id, d.athlete_id, d.kind, d.decided, d.reason,
             p.name as by_name, d.decided_at, d.iso_year, d.iso_week
         from review_decisions d
         left join people p on p.gym_id = d.gym_id and p.person_id = d.decided_by
         where d.gym_id = $1 and d.iso_year = $2 and d.iso_week = $3 and d.athlete_id = any($4)
         order by d.athlete_id, d.nth desc",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(ids)
    .fetch_all(tx.conn())
    .await?;
    let mut found = HashMap::new();
    for row in rows {
        let athlete = AthleteId(row.athlete_id);
        if let Some(decision) = row.into_decision()? {
            found.insert(athlete, decision);
        }
    }
    Ok(found)
}

/// Every decision about an athlete that counts, the newest week first.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn decisions_of(
    tx: &mut GymTx,
    athlete: AthleteId,
) -> Result<Vec<(Week, Decision)>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<DecisionRow> = sqlx::query_as(
        "select distinct on (d.iso_year, d.iso_week) d.decision_id, d.athlete_id, d.kind, d.decided,
             d.reason, p.name as by_name, d.decided_at, d.iso_year, d.iso_week
         from review_decisions d
         left join people p on p.gym_id = d.gym_id and p.person_id = d.decided_by
         where d.gym_id = $1 and d.athlete_id = $2
         order by d.iso_year desc, d.iso_week desc, d.nth desc",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    let mut found = Vec::new();
    for row in rows {
        let key = row.decision_id;
        let week = u8::try_from(row.iso_week)
            .ok()
            .and_then(|number| Week::new(row.iso_year.into(), number).ok())
            .ok_or_else(|| StoreError::corrupt("review_decisions", key, "week"))?;
        if let Some(decision) = row.into_decision()? {
            found.push((week, decision));
        }
    }
    Ok(found)
}

/// Takes a decision and writes the note that goes with it; the same id with the same content twice
/// decides once.
///
/// # Errors
/// [`DecideError::Closed`] once the coach has closed the week, [`DecideError::OtherContent`] where
/// the id stands for something else.
pub async fn decide(tx: &mut GymTx, new: &NewDecision<'_>) -> Result<(), DecideError> {
    if closed_at(tx, tx.actor(), new.week).await?.is_some() {
        return Err(DecideError::Closed);
    }
    let (kind, instead) = match &new.verdict {
        None => ("undo", None),
        Some(Verdict::Accept) => ("accept", None),
        Some(Verdict::Hold) => ("hold", None),
        Some(Verdict::Change(instead)) => ("change", Some(Json(instead))),
    };
    let (gym, actor) = (tx.gym(), tx.actor());
    let written = sqlx::query(
        "insert into review_decisions (gym_id, decision_id, athlete_id, iso_year, iso_week, kind,
             proposal, decided, reason, decided_by, decided_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
         on conflict (gym_id, decision_id) do nothing",
    )
    .bind(gym.0)
    .bind(new.id.0)
    .bind(new.athlete.0)
    .bind(iso_year(new.week))
    .bind(i16::from(new.week.number()))
    .bind(kind)
    .bind(Json(new.proposals))
    .bind(instead)
    .bind(new.reason)
    .bind(actor.0)
    .bind(new.at)
    .execute(tx.conn())
    .await?;
    if written.rows_affected() == 0 {
        let same: bool = sqlx::query_scalar(
            "select exists (
                 select from review_decisions d
                 left join coach_notes n on n.gym_id = d.gym_id and n.note_id = d.decision_id
                 where d.gym_id = $1 and d.decision_id = $2 and d.athlete_id = $3
                     and d.iso_year = $4 and d.iso_week = $5 and d.kind = $6
                     and d.decided is not distinct from $7 and d.reason = $8
                     and coalesce(n.body, '') = $9 and d.decided_by = $10
             )",
        )
        .bind(gym.0)
        .bind(new.id.0)
        .bind(new.athlete.0)
        .bind(iso_year(new.week))
        .bind(i16::from(new.week.number()))
        .bind(kind)
        .bind(instead)
        .bind(new.reason)
        .bind(new.note)
        .bind(actor.0)
        .fetch_one(tx.conn())
        .await?;
        return if same {
            Ok(())
        } else {
            Err(DecideError::OtherContent)
        };
    }
    if !new.note.is_empty() {
        sqlx::query(
            "insert into coach_notes (gym_id, note_id, athlete_id, body, written_by, written_at)
             values ($1, $2, $3, $4, $5, $6)",
        )
        .bind(gym.0)
        .bind(new.id.0)
        .bind(new.athlete.0)
        .bind(new.note)
        .bind(actor.0)
        .bind(new.at)
        .execute(tx.conn())
        .await?;
    }
    Ok(())
}

/// When a coach closed a week; `None` while it is open.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn closed_at(
    tx: &mut GymTx,
    coach: AccountId,
    week: Week,
) -> Result<Option<OffsetDateTime>, StoreError> {
    let gym = tx.gym();
    Ok(sqlx::query_scalar(
        "select closed_at from review_closings
         where gym_id = $1 and coach_id = $2 and iso_year = $3 and iso_week = $4",
    )
    .bind(gym.0)
    .bind(coach.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .fetch_optional(tx.conn())
    .await?)
}

/// Closes a week for the actor; closing twice keeps the first time.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn close(tx: &mut GymTx, week: Week, now: OffsetDateTime) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into review_closings (gym_id, coach_id, iso_year, iso_week, closed_at)
         values ($1, $2, $3, $4, $5) on conflict do nothing",
    )
    .bind(gym.0)
    .bind(actor.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Opens a week again for the actor.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn open_again(tx: &mut GymTx, week: Week) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "delete from review_closings
         where gym_id = $1 and coach_id = $2 and iso_year = $3 and iso_week = $4",
    )
    .bind(gym.0)
    .bind(actor.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// The schema keeps ISO years, from 1950 to 2199, in 16 bits.
fn iso_year(week: Week) -> i16 {
    i16::try_from(week.year()).unwrap_or(i16::MAX)
}

/// A note from a coach to an athlete.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoachNote {
    /// What it says. Health data.
    pub body: String,
    /// Who wrote it, by name.
    pub by: String,
    /// When.
    pub at: OffsetDateTime,
}

/// The newest notes to an athlete, newest first.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn notes(
    tx: &mut GymTx,
    athlete: AthleteId,
    at_most: u16,
) -> Result<Vec<CoachNote>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<(String, Option<String>, OffsetDateTime)> = sqlx::query_as(
        "select n.body, p.name, n.written_at from coach_notes n
         left join people p on p.gym_id = n.gym_id and p.person_id = n.written_by
         where n.gym_id = $1 and n.athlete_id = $2
         order by n.written_at desc, n.note_id desc limit $3",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(i64::from(at_most))
    .fetch_all(tx.conn())
    .await?;
    Ok(rows
        .into_iter()
        .map(|(body, by, at)| CoachNote {
            body,
            by: by.unwrap_or_else(|| "your coach".to_owned()),
            at,
        })
        .collect())
}
