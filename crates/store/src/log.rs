//! The training log: append-only, every session a chain of revisions.
//!
//! Ids are made when the form is rendered, so that the same form sent twice stores once. An edit
//! is a new revision that names the one it replaces; taking a session back is a revision without
//! work. The session as it counts is the revision that nothing replaces, unless that one takes it
//! back. Nothing is ever overwritten.

use std::collections::{HashMap, HashSet};

use leverbook_domain::id::{
    AccountId, AthleteId, LoadingId, MovementId, PlannedId, RevisionId, SessionId,
};
use leverbook_domain::training::{Hands, Note, Pain, Session, SetDone, Side, Work};
use leverbook_domain::units::{Effort, Minutes, Reps, Seconds};
use serde::Serialize;
use sha2::{Digest, Sha256};
use sqlx::FromRow;
use sqlx::types::Json;
use time::macros::date;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::{GymTx, StoreError};

/// The first day that a session may have; the schema says the same.
pub const FIRST_DAY: Date = date!(1950 - 01 - 01);

/// The last day that a session may have.
pub const LAST_DAY: Date = date!(2200 - 01 - 01);

/// Most sets in one session: more than anybody swings, few enough that one request cannot fill
/// the log.
pub const MOST_SETS: usize = 400;

/// Most pain reports in one session.
pub const MOST_PAIN: usize = 8;

/// Something to write into the log.
#[derive(Debug, Clone, PartialEq)]
pub struct NewRevision {
    /// Its id, made with the form.
    pub revision: RevisionId,
    /// The revision that it replaces; `None` for a session's first.
    pub replaces: Option<RevisionId>,
    /// Whose session.
    pub athlete: AthleteId,
    /// What was done; `None` takes the session back.
    pub done: Option<Done>,
    /// When it was sent.
    pub logged_at: OffsetDateTime,
}

/// What was done in a session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Done {
    /// The training day, in the gym's zone.
    pub on: Date,
    /// The planned session that it answers, as the athlete saw it.
    pub planned: Option<PlannedSeen>,
    /// How long the whole session took.
    pub minutes: Option<Minutes>,
    /// Session effort (CR10).
    pub effort: Option<Effort>,
    /// Pain reports, at most [`MOST_PAIN`].
    pub pain: Vec<Pain>,
    /// The athlete's own words.
    #[serde(serialize_with = "note_text")]
    pub note: Note,
    /// The sets in the order they were done, at most [`MOST_SETS`].
    pub sets: Vec<SetDone>,
}

impl Done {
    /// **L4** Whether it hurt so much that the work stops.
    #[must_use]
    pub fn stops_the_work(&self, stop_at: u8) -> bool {
        self.pain.iter().any(|pain| pain.score.get() >= stop_at)
    }
}

fn note_text<S: serde::Serializer>(note: &Note, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(note.as_str())
}

/// A planned session in the revision that was on the athlete's screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct PlannedSeen {
    /// Which planned session.
    pub planned: PlannedId,
    /// Which revision of it.
    pub revision: i32,
}

/// How writing went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recorded {
    /// Written now.
    Stored,
    /// The same thing under the same id was there already; nothing was written.
    AlreadyStored,
}

/// Why something was not written. Nothing was lost: what stands is given back beside what was sent.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// This id is in the log with other content.
    #[error("this form was already used for something else")]
    OtherContent {
        /// What is stored under the id.
        stored: Box<Revision>,
    },
    /// Somebody changed the session in the meantime.
    #[error("the session was changed in the meantime")]
    ReplacedMeanwhile {
        /// The newest revision.
        newest: Box<Revision>,
    },
    /// More sets or pain reports than a session may have.
    #[error("at most {MOST_SETS} sets and {MOST_PAIN} pain reports in one session")]
    TooMuch,
    /// The store failed or refused.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<sqlx::Error> for RecordError {
    fn from(error: sqlx::Error) -> Self {
        Self::Store(error.into())
    }
}

/// One revision as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Revision {
    /// Its id.
    pub revision: RevisionId,
    /// The session that it is a revision of.
    pub session: SessionId,
    /// The revision that it replaced.
    pub replaces: Option<RevisionId>,
    /// Whose session.
    pub athlete: AthleteId,
    /// The training day; of a taken-back session, the day that it had.
    pub on: Date,
    /// What was done; `None` where it takes the session back.
    pub done: Option<Done>,
    /// Who sent it.
    pub logged_by: AccountId,
    /// When.
    pub logged_at: OffsetDateTime,
}

/// A session as it counts now.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The session.
    pub session: SessionId,
    /// Its newest revision.
    pub revision: RevisionId,
    /// The revision that it replaced; `None` where there are no older ones.
    pub replaces: Option<RevisionId>,
    /// Whose session.
    pub athlete: AthleteId,
    /// What was done.
    pub done: Done,
    /// Who sent the newest revision.
    pub logged_by: AccountId,
    /// When.
    pub logged_at: OffsetDateTime,
}

impl Logged {
    /// The session as the rules see it: all but the note.
    #[must_use]
    pub fn into_session(self) -> Session {
        Session {
            id: self.session,
            on: self.done.on,
            planned: self.done.planned.map(|seen| seen.planned),
            minutes: self.done.minutes,
            effort: self.done.effort,
            pain: self.done.pain,
            sets: self.done.sets,
        }
    }
}

/// What the content hash is made over: everything that was sent, but not when or by whom.
#[derive(Serialize)]
struct Sent<'a> {
    replaces: Option<RevisionId>,
    athlete: AthleteId,
    done: Option<&'a Done>,
}

fn content_hash(new: &NewRevision) -> Result<Vec<u8>, StoreError> {
    let sent = Sent {
        replaces: new.replaces,
        athlete: new.athlete,
        done: new.done.as_ref(),
    };
    let text = serde_json::to_vec(&sent).map_err(|error| StoreError::Corrupt {
        table: "logged_sessions",
        key: new.revision.to_string(),
        what: error.to_string(),
    })?;
    Ok(Sha256::digest(text).to_vec())
}

/// Takes hold of an athlete until the transaction ends, so that what is computed from the log is
/// computed from all of it: two writers of one athlete's log go one after the other.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has no such athlete.
pub(crate) async fn hold(tx: &mut GymTx, athlete: AthleteId) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query("select 1 from athletes where gym_id = $1 and athlete_id = $2 for no key update")
        .bind(gym.0)
        .bind(athlete.0)
        .fetch_optional(tx.conn())
        .await?
        .map(|_| ())
        .ok_or(StoreError::NotFound)
}

/// [`hold`] for several, in order of id so that two of these never wait for each other.
///
/// # Errors
/// As [`hold`].
pub(crate) async fn hold_all(tx: &mut GymTx, athletes: &[AthleteId]) -> Result<(), StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let held: Vec<Uuid> = sqlx::query_scalar(
        "select athlete_id from athletes where gym_id = $1 and athlete_id = any($2)
         order by athlete_id for no key update",
    )
    .bind(gym.0)
    .bind(&ids)
    .fetch_all(tx.conn())
    .await?;
    if held.len() == ids.len() {
        Ok(())
    } else {
        Err(StoreError::NotFound)
    }
}

#[derive(FromRow)]
struct ReplacedRow {
    session_id: Uuid,
    on_date: Date,
}

/// Writes one revision. Flags are not touched: [`crate::flags::record`] writes both.
///
/// # Errors
/// [`RecordError::OtherContent`] and [`RecordError::ReplacedMeanwhile`] give back what stands;
/// [`StoreError::NotFound`] where the athlete, the replaced revision or the planned session is
/// not this athlete's or this gym's.
pub async fn record(tx: &mut GymTx, new: &NewRevision) -> Result<Recorded, RecordError> {
    if let Some(done) = &new.done
        && (done.sets.len() > MOST_SETS || done.pain.len() > MOST_PAIN)
    {
        return Err(RecordError::TooMuch);
    }
    hold(tx, new.athlete).await?;
    let hash = content_hash(new)?;
    let replaced = match new.replaces {
        None => None,
        Some(replaces) => Some(
            sqlx::query_as::<_, ReplacedRow>(
                "select session_id, on_date from logged_sessions
                 where gym_id = $1 and revision_id = $2 and athlete_id = $3",
            )
            .bind(tx.gym().0)
            .bind(replaces.0)
            .bind(new.athlete.0)
            .fetch_optional(tx.conn())
            .await?
            .ok_or(StoreError::NotFound)?,
        ),
    };
    let (session, on) = match (&replaced, &new.done) {
        (None, Some(done)) => (new.revision.0, done.on),
        (Some(replaced), Some(done)) => (replaced.session_id, done.on),
        (Some(replaced), None) => (replaced.session_id, replaced.on_date),
        // Nothing to take back.
        (None, None) => return Err(StoreError::NotFound.into()),
    };
    if insert_session(tx, new, session, on, &hash).await? == 0 {
        return standing_instead(tx, new, &hash).await;
    }
    if let Some(done) = &new.done {
        insert_sets(tx, new.revision, &done.sets).await?;
        if let Some(seen) = done.planned {
            mark_seen(tx, new, seen).await?;
        }
    }
    Ok(Recorded::Stored)
}

/// An athlete who logs by a revision of the plan has seen it; a coach who does so for them has not
/// seen it in their place.
async fn mark_seen(tx: &mut GymTx, new: &NewRevision, seen: PlannedSeen) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into planned_seen (gym_id, planned_id, revision, seen_at)
         select gym_id, $3, $4, $5 from athletes
         where gym_id = $1 and athlete_id = $2 and person_id = $6
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(new.athlete.0)
    .bind(seen.planned.0)
    .bind(seen.revision)
    .bind(new.logged_at)
    .bind(actor.0)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// The planned session is looked up with the athlete, so that nobody answers another's plan.
const INSERT_SESSION: &str = "
    insert into logged_sessions (
        gym_id, revision_id, session_id, replaces, athlete_id, on_date, planned_id,
        planned_revision, minutes, effort_half_steps, pain, note, withdrawn, logged_by, logged_at,
        content_hash
    )
    select $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16
    on conflict do nothing";

const OWN_PLANNED: &str = "
    select exists (
        select from planned_sessions p join planned_revisions r using (gym_id, planned_id)
        where p.gym_id = $1 and p.planned_id = $2 and p.athlete_id = $3 and r.revision = $4
    )";

async fn insert_session(
    tx: &mut GymTx,
    new: &NewRevision,
    session: Uuid,
    on: Date,
    hash: &[u8],
) -> Result<u64, StoreError> {
    let done = new.done.as_ref();
    let planned = done.and_then(|done| done.planned);
    if let Some(seen) = planned {
        let own: bool = sqlx::query_scalar(OWN_PLANNED)
            .bind(tx.gym().0)
            .bind(seen.planned.0)
            .bind(new.athlete.0)
            .bind(seen.revision)
            .fetch_one(tx.conn())
            .await?;
        if !own {
            return Err(StoreError::NotFound);
        }
    }
    let minutes = done.and_then(|done| done.minutes);
    let effort = done.and_then(|done| done.effort);
    let (gym, actor) = (tx.gym(), tx.actor());
    let result = sqlx::query(INSERT_SESSION)
        .bind(gym.0)
        .bind(new.revision.0)
        .bind(session)
        .bind(new.replaces.map(|id| id.0))
        .bind(new.athlete.0)
        .bind(on)
        .bind(planned.map(|seen| seen.planned.0))
        .bind(planned.map(|seen| seen.revision))
        .bind(minutes.map(|minutes| i64::from(minutes) as i16))
        .bind(effort.map(|effort| i16::from(effort.half_steps())))
        .bind(Json(done.map_or(&[][..], |done| &done.pain)))
        .bind(done.map_or("", |done| done.note.as_str()))
        .bind(done.is_none())
        .bind(actor.0)
        .bind(new.logged_at)
        .bind(hash)
        .execute(tx.conn())
        .await?;
    Ok(result.rows_affected())
}

async fn insert_sets(
    tx: &mut GymTx,
    revision: RevisionId,
    sets: &[SetDone],
) -> Result<(), StoreError> {
    let mut position = Vec::with_capacity(sets.len());
    let mut movement = Vec::with_capacity(sets.len());
    let mut hands = Vec::with_capacity(sets.len());
    let mut loading = Vec::with_capacity(sets.len());
    let mut side = Vec::with_capacity(sets.len());
    let mut seconds: Vec<Option<i16>> = Vec::with_capacity(sets.len());
    let mut reps = Vec::with_capacity(sets.len());
    let mut asked_reps: Vec<Option<i16>> = Vec::with_capacity(sets.len());
    for (set, at) in sets.iter().zip(1i16..) {
        position.push(at);
        movement.push(set.movement.0);
        hands.push(set.hands.word());
        loading.push(set.loading.0);
        side.push(set.side.word());
        reps.push(i64::from(set.work.reps()) as i16);
        let (interval, asked) = match set.work {
            Work::Interval { seconds, .. } => (Some(i64::from(seconds) as i16), None),
            Work::Straight { asked, .. } => (None, asked.map(|reps| i64::from(reps) as i16)),
        };
        seconds.push(interval);
        asked_reps.push(asked);
    }
    let gym = tx.gym();
    sqlx::query(
        "insert into logged_sets (
             gym_id, revision_id, position, movement_id, hands, loading_id, side, seconds, reps,
             asked_reps
         )
         select $1, $2, done.* from unnest(
             $3::smallint[], $4::uuid[], $5::text[], $6::uuid[], $7::text[], $8::smallint[],
             $9::smallint[], $10::smallint[]
         ) as done",
    )
    .bind(gym.0)
    .bind(revision.0)
    .bind(position)
    .bind(movement)
    .bind(hands)
    .bind(loading)
    .bind(side)
    .bind(seconds)
    .bind(reps)
    .bind(asked_reps)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// The insert met a row that stands in its way: the same id, or another edit of the same revision.
async fn standing_instead(
    tx: &mut GymTx,
    new: &NewRevision,
    hash: &[u8],
) -> Result<Recorded, RecordError> {
    let gym = tx.gym();
    let stored: Option<(Vec<u8>, Uuid)> = sqlx::query_as(
        "select content_hash, athlete_id from logged_sessions
         where gym_id = $1 and revision_id = $2",
    )
    .bind(gym.0)
    .bind(new.revision.0)
    .fetch_optional(tx.conn())
    .await?;
    match stored {
        Some((stored, _)) if stored == hash => Ok(Recorded::AlreadyStored),
        Some((_, athlete)) if athlete == new.athlete.0 => {
            let stored = Box::new(revision(tx, new.athlete, new.revision).await?);
            Err(RecordError::OtherContent { stored })
        }
        // Another athlete's id: not theirs to see.
        Some(_) => Err(StoreError::NotFound.into()),
        None => {
            let replaces = new.replaces.ok_or(StoreError::NotFound)?;
            let session = revision(tx, new.athlete, replaces).await?.session;
            let newest = revisions(tx, new.athlete, session)
                .await?
                .pop()
                .ok_or(StoreError::NotFound)?;
            Err(RecordError::ReplacedMeanwhile {
                newest: Box::new(newest),
            })
        }
    }
}

#[derive(FromRow)]
struct RevisionRow {
    revision_id: Uuid,
    session_id: Uuid,
    replaces: Option<Uuid>,
    athlete_id: Uuid,
    on_date: Date,
    planned_id: Option<Uuid>,
    planned_revision: Option<i32>,
    minutes: Option<i16>,
    effort_half_steps: Option<i16>,
    pain: Json<Vec<Pain>>,
    note: String,
    withdrawn: bool,
    logged_by: Uuid,
    logged_at: OffsetDateTime,
}

impl RevisionRow {
    fn corrupt(&self, what: impl ToString) -> StoreError {
        StoreError::Corrupt {
            table: "logged_sessions",
            key: self.revision_id.to_string(),
            what: what.to_string(),
        }
    }

    fn with_sets(self, sets: Vec<SetDone>) -> Result<Revision, StoreError> {
        let minutes = self
            .minutes
            .map(|minutes| Minutes::new(minutes.into()))
            .transpose()
            .map_err(|refused| self.corrupt(refused))?;
        let effort = self
            .effort_half_steps
            .map(|half_steps| Effort::new(f64::from(half_steps) / 2.0))
            .transpose()
            .map_err(|refused| self.corrupt(refused))?;
        let note = Note::new(&self.note).map_err(|refused| self.corrupt(refused))?;
        let planned = self.planned_id.zip(self.planned_revision);
        let done = Done {
            on: self.on_date,
            planned: planned.map(|(planned, revision)| PlannedSeen {
                planned: PlannedId(planned),
                revision,
            }),
            minutes,
            effort,
            pain: self.pain.0,
            note,
            sets,
        };
        Ok(Revision {
            revision: RevisionId(self.revision_id),
            session: SessionId(self.session_id),
            replaces: self.replaces.map(RevisionId),
            athlete: AthleteId(self.athlete_id),
            on: self.on_date,
            done: (!self.withdrawn).then_some(done),
            logged_by: AccountId(self.logged_by),
            logged_at: self.logged_at,
        })
    }
}

#[derive(FromRow)]
struct SetRow {
    revision_id: Uuid,
    position: i16,
    movement_id: Uuid,
    hands: String,
    loading_id: Uuid,
    side: String,
    seconds: Option<i16>,
    reps: i16,
    asked_reps: Option<i16>,
}

impl TryFrom<SetRow> for SetDone {
    type Error = StoreError;

    fn try_from(row: SetRow) -> Result<Self, StoreError> {
        let corrupt = |what: String| StoreError::Corrupt {
            table: "logged_sets",
            key: format!("{}, set {}", row.revision_id, row.position),
            what,
        };
        let whole = |value: i16| Reps::new(value.into()).map_err(|e| corrupt(e.to_string()));
        let reps = whole(row.reps)?;
        let work = match row.seconds {
            Some(seconds) => Work::Interval {
                seconds: Seconds::new(seconds.into()).map_err(|e| corrupt(e.to_string()))?,
                reps,
            },
            None => Work::Straight {
                reps,
                asked: row.asked_reps.map(whole).transpose()?,
            },
        };
        Ok(Self {
            movement: MovementId(row.movement_id),
            hands: Hands::from_word(&row.hands).ok_or_else(|| corrupt("hands".to_owned()))?,
            loading: LoadingId(row.loading_id),
            side: Side::from_word(&row.side).ok_or_else(|| corrupt("side".to_owned()))?,
            work,
        })
    }
}

/// The sets of these revisions, in the order they were done.
async fn sets_of(
    tx: &mut GymTx,
    revisions: &[Uuid],
) -> Result<HashMap<Uuid, Vec<SetDone>>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<SetRow> = sqlx::query_as(
        "select revision_id, position, movement_id, hands, loading_id, side, seconds, reps,
             asked_reps
         from logged_sets where gym_id = $1 and revision_id = any($2)
         order by revision_id, position",
    )
    .bind(gym.0)
    .bind(revisions)
    .fetch_all(tx.conn())
    .await?;
    let mut sets: HashMap<Uuid, Vec<SetDone>> = HashMap::with_capacity(revisions.len());
    for row in rows {
        sets.entry(row.revision_id)
            .or_default()
            .push(row.try_into()?);
    }
    Ok(sets)
}

async fn filled(tx: &mut GymTx, rows: Vec<RevisionRow>) -> Result<Vec<Revision>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.revision_id).collect();
    let mut sets = sets_of(tx, &ids).await?;
    rows.into_iter()
        .map(|row| {
            let own = sets.remove(&row.revision_id).unwrap_or_default();
            row.with_sets(own)
        })
        .collect()
}

impl TryFrom<Revision> for Logged {
    type Error = StoreError;

    /// # Errors
    /// [`StoreError::NotFound`] for a revision that takes its session back.
    fn try_from(newest: Revision) -> Result<Self, StoreError> {
        Ok(Self {
            session: newest.session,
            revision: newest.revision,
            replaces: newest.replaces,
            athlete: newest.athlete,
            done: newest.done.ok_or(StoreError::NotFound)?,
            logged_by: newest.logged_by,
            logged_at: newest.logged_at,
        })
    }
}

/// One revision, whether or not it still counts.
///
/// # Errors
/// [`StoreError::NotFound`] where this athlete has none of this id.
pub async fn revision(
    tx: &mut GymTx,
    athlete: AthleteId,
    id: RevisionId,
) -> Result<Revision, StoreError> {
    let gym = tx.gym();
    let row: RevisionRow = sqlx::query_as(
        "select revision_id, session_id, replaces, athlete_id, on_date, planned_id,
             planned_revision, minutes, effort_half_steps, pain, note, withdrawn, logged_by,
             logged_at
         from logged_sessions where gym_id = $1 and revision_id = $2 and athlete_id = $3",
    )
    .bind(gym.0)
    .bind(id.0)
    .bind(athlete.0)
    .fetch_optional(tx.conn())
    .await?
    .ok_or(StoreError::NotFound)?;
    filled(tx, vec![row])
        .await?
        .pop()
        .ok_or(StoreError::NotFound)
}

/// Every revision of one session, oldest first: the order of the chain, not of clocks.
///
/// # Errors
/// [`StoreError::NotFound`] where this athlete has no such session.
pub async fn revisions(
    tx: &mut GymTx,
    athlete: AthleteId,
    session: SessionId,
) -> Result<Vec<Revision>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<RevisionRow> = sqlx::query_as(
        "select revision_id, session_id, replaces, athlete_id, on_date, planned_id,
             planned_revision, minutes, effort_half_steps, pain, note, withdrawn, logged_by,
             logged_at
         from logged_sessions where gym_id = $1 and session_id = $2 and athlete_id = $3",
    )
    .bind(gym.0)
    .bind(session.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    let mut by_replaced: HashMap<Option<RevisionId>, Revision> = filled(tx, rows)
        .await?
        .into_iter()
        .map(|revision| (revision.replaces, revision))
        .collect();
    let mut chain: Vec<Revision> = Vec::with_capacity(by_replaced.len());
    while let Some(next) = by_replaced.remove(&chain.last().map(|last| last.revision)) {
        chain.push(next);
    }
    if chain.is_empty() {
        return Err(StoreError::NotFound);
    }
    Ok(chain)
}

/// One session as it counts now.
///
/// # Errors
/// [`StoreError::NotFound`] where this athlete has no such session, or took it back.
pub async fn current(
    tx: &mut GymTx,
    athlete: AthleteId,
    session: SessionId,
) -> Result<Logged, StoreError> {
    revisions(tx, athlete, session)
        .await?
        .pop()
        .ok_or(StoreError::NotFound)?
        .try_into()
}

/// Sessions as they count, of these athletes, first to last day, in order of day, then id.
const CURRENT_BETWEEN: &str = "
    select s.revision_id, s.session_id, s.replaces, s.athlete_id, s.on_date, s.planned_id,
        s.planned_revision, s.minutes, s.effort_half_steps, s.pain, s.note, s.withdrawn,
        s.logged_by, s.logged_at
    from logged_sessions s
    where s.gym_id = $1 and s.athlete_id = any($2) and s.on_date between $3 and $4
        and not s.withdrawn
        and not exists (
            select from logged_sessions later
            where later.gym_id = s.gym_id and later.replaces = s.revision_id
        )
    order by s.on_date, s.session_id";

/// The sessions of these athletes from the first day to the last, both included, in order of day,
/// then id. Two queries, however many athletes.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn between(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    first: Date,
    last: Date,
) -> Result<Vec<Logged>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows: Vec<RevisionRow> = sqlx::query_as(CURRENT_BETWEEN)
        .bind(gym.0)
        .bind(ids)
        .bind(first)
        .bind(last)
        .fetch_all(tx.conn())
        .await?;
    filled(tx, rows)
        .await?
        .into_iter()
        .map(Logged::try_from)
        .collect()
}

/// One athlete's newest sessions before a day, newest first: a page of their log.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn before(
    tx: &mut GymTx,
    athlete: AthleteId,
    day: Date,
    at_most: u16,
) -> Result<Vec<Logged>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<RevisionRow> = sqlx::query_as(
        "select s.revision_id, s.session_id, s.replaces, s.athlete_id, s.on_date, s.planned_id,
             s.planned_revision, s.minutes, s.effort_half_steps, s.pain, s.note, s.withdrawn,
             s.logged_by, s.logged_at
         from logged_sessions s
         where s.gym_id = $1 and s.athlete_id = $2 and s.on_date < $3 and not s.withdrawn
             and not exists (
                 select from logged_sessions later
                 where later.gym_id = s.gym_id and later.replaces = s.revision_id
             )
         order by s.on_date desc, s.session_id desc
         limit $4",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(day)
    .bind(i64::from(at_most))
    .fetch_all(tx.conn())
    .await?;
    filled(tx, rows)
        .await?
        .into_iter()
        .map(Logged::try_from)
        .collect()
}

/// Which clubs an athlete has swung before, in any session that counts.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn swung(tx: &mut GymTx, athlete: AthleteId) -> Result<HashSet<LoadingId>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<Uuid> = sqlx::query_scalar(
        "select distinct t.loading_id
         from logged_sessions s
         join logged_sets t on t.gym_id = s.gym_id and t.revision_id = s.revision_id
         where s.gym_id = $1 and s.athlete_id = $2 and not s.withdrawn
             and not exists (
                 select from logged_sessions later
                 where later.gym_id = s.gym_id and later.replaces = s.revision_id
             )",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows.into_iter().map(LoadingId).collect())
}

/// A kind of work: a movement, hands, a club, and the interval of interval sets.
pub type WorkKind = (MovementId, Hands, LoadingId, Option<Seconds>);

/// The kind of work that a set was.
fn kind_of(set: &SetDone) -> WorkKind {
    let seconds = match set.work {
        Work::Interval { seconds, .. } => Some(seconds),
        Work::Straight { .. } => None,
    };
    (set.movement, set.hands, set.loading, seconds)
}

/// Of each of these kinds of work, the newest session that counts and has a set of it.
const NEWEST_OF_EACH: &str = "
    select kind.at, newest.revision_id, newest.on_date
    from unnest($3::bigint[], $4::uuid[], $5::text[], $6::uuid[], $7::smallint[])
        as kind (at, movement_id, hands, loading_id, seconds)
    cross join lateral (
        select s.revision_id, s.on_date
        from logged_sessions s
        join logged_sets t on t.gym_id = s.gym_id and t.revision_id = s.revision_id
        where s.gym_id = $1 and s.athlete_id = $2 and not s.withdrawn
            and t.movement_id = kind.movement_id and t.hands = kind.hands
            and t.loading_id = kind.loading_id and t.seconds is not distinct from kind.seconds
            and not exists (
                select from logged_sessions later
                where later.gym_id = s.gym_id and later.replaces = s.revision_id
            )
        order by s.on_date desc, s.session_id desc
        limit 1
    ) newest";

/// What an athlete did of each of these kinds of work when they last did it: the day, and the sets of
/// that kind in order. Kinds that they never did are left out. Two queries, however many kinds.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn last_of_each(
    tx: &mut GymTx,
    athlete: AthleteId,
    kinds: &[WorkKind],
) -> Result<HashMap<WorkKind, (Date, Vec<SetDone>)>, StoreError> {
    let gym = tx.gym();
    let at: Vec<i64> = (0..).take(kinds.len()).collect();
    let movements: Vec<Uuid> = kinds.iter().map(|(movement, ..)| movement.0).collect();
    let hands: Vec<&str> = kinds.iter().map(|(_, hands, ..)| hands.word()).collect();
    let loadings: Vec<Uuid> = kinds.iter().map(|(_, _, loading, _)| loading.0).collect();
    let seconds: Vec<Option<i16>> = kinds
        .iter()
        .map(|(.., seconds)| seconds.map(|seconds| i64::from(seconds) as i16))
        .collect();
    let newest: Vec<(i64, Uuid, Date)> = sqlx::query_as(NEWEST_OF_EACH)
        .bind(gym.0)
        .bind(athlete.0)
        .bind(at)
        .bind(movements)
        .bind(hands)
        .bind(loadings)
        .bind(seconds)
        .fetch_all(tx.conn())
        .await?;
    let revisions: Vec<Uuid> = newest.iter().map(|(_, revision, _)| *revision).collect();
    let sets = sets_of(tx, &revisions).await?;
    Ok(newest
        .into_iter()
        .filter_map(|(at, revision, on)| {
            let kind = *kinds.get(usize::try_from(at).ok()?)?;
            let of_kind = sets
                .get(&revision)?
                .iter()
                .filter(|set| kind_of(set) == kind);
            Some((kind, (on, of_kind.copied().collect())))
        })
        .collect())
}

/// The loading of the last set that each athlete did of a movement, held one way, since a day.
const LAST_WORKED: &str = "
    select who.athlete_id, newest.loading_id, newest.on_date
    from unnest($2::uuid[]) as who (athlete_id)
    cross join lateral (
        select t.loading_id, s.on_date
        from logged_sessions s
        join logged_sets t on t.gym_id = s.gym_id and t.revision_id = s.revision_id
        where s.gym_id = $1 and t.gym_id = $1 and s.athlete_id = who.athlete_id
            and s.on_date >= $5 and not s.withdrawn and t.movement_id = $3 and t.hands = $4
            and not exists (
                select from logged_sessions later
                where later.gym_id = s.gym_id and later.replaces = s.revision_id
            )
        order by s.on_date desc, s.session_id desc, t.position desc
        limit 1
    ) newest";

/// With which loading each of these athletes last worked a movement, held one way, and when; not
/// before a day. One query, however many athletes.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn last_worked(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    movement: MovementId,
    hands: Hands,
    since: Date,
) -> Result<HashMap<AthleteId, (LoadingId, Date)>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows: Vec<(Uuid, Uuid, Date)> = sqlx::query_as(LAST_WORKED)
        .bind(gym.0)
        .bind(ids)
        .bind(movement.0)
        .bind(hands.word())
        .bind(since)
        .fetch_all(tx.conn())
        .await?;
    Ok(rows
        .into_iter()
        .map(|(athlete, loading, on)| (AthleteId(athlete), (LoadingId(loading), on)))
        .collect())
}

/// The logged sessions that count and answer a planned session, the first logged first.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn answering(
    tx: &mut GymTx,
    athlete: AthleteId,
    planned: PlannedId,
) -> Result<Vec<SessionId>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = sqlx::query_scalar(
        "select s.session_id from logged_sessions s
         where s.gym_id = $1 and s.athlete_id = $2 and s.planned_id = $3 and not s.withdrawn
             and not exists (
                 select from logged_sessions later
                 where later.gym_id = s.gym_id and later.replaces = s.revision_id
             )
         order by s.session_id",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(planned.0)
    .fetch_all(tx.conn())
    .await?;
    Ok(ids.into_iter().map(SessionId).collect())
}

/// Which of these planned sessions have been answered, and by which logged session; where several
/// answer one, the first logged.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn answers(
    tx: &mut GymTx,
    athlete: AthleteId,
    planned: &[PlannedId],
) -> Result<HashMap<PlannedId, SessionId>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = planned.iter().map(|planned| planned.0).collect();
    let rows: Vec<(Uuid, Uuid)> = sqlx::query_as(
        "select s.planned_id, s.session_id from logged_sessions s
         where s.gym_id = $1 and s.athlete_id = $2 and s.planned_id = any($3) and not s.withdrawn
             and not exists (
                 select from logged_sessions later
                 where later.gym_id = s.gym_id and later.replaces = s.revision_id
             )
         order by s.session_id desc",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(ids)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows
        .into_iter()
        .map(|(planned, session)| (PlannedId(planned), SessionId(session)))
        .collect())
}
