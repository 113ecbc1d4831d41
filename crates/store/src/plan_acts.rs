//! What coaches did to plans, each act whole: a move, days away, a pause, a return. An act carries its own id,
//! so that sending it twice stores it once; taking it back puts everything where it was, or nothing.

use leverbook_domain::id::{AthleteId, BlockId, DecisionId, PlannedId};
use leverbook_domain::plan::Standing;
use leverbook_domain::roster::{ExcusedKind, Status};
use leverbook_domain::text::Reason;
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::blocks::{self, ChangeError, Planned, Revise};
use crate::roster::{self, NewExcused};
use crate::{GymTx, StoreError, athletes, log, touched};

/// The kinds of act.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// One session to another day.
    Move,
    /// Days away, from one to another.
    Away,
    /// Until they are back.
    Pause,
    /// Back from a pause.
    Return,
}

impl What {
    const ALL: [Self; 4] = [Self::Move, Self::Away, Self::Pause, Self::Return];

    /// The word used in the database.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Move => "move",
            Self::Away => "away",
            Self::Pause => "pause",
            Self::Return => "return",
        }
    }
}

/// Everything that one act does to one athlete.
#[derive(Debug, Clone, PartialEq)]
pub struct NewAct<'a> {
    /// Its id, made with the form; the same for everybody whom it is about.
    pub act: DecisionId,
    /// Whose plan.
    pub athlete: AthleteId,
    /// What it is.
    pub what: What,
    /// Why, in one word.
    pub kind: Option<ExcusedKind>,
    /// The first day that it is about.
    pub first_day: Date,
    /// The last one; `None` until they are back.
    pub last_day: Option<Date>,
    /// Why, in the coach's words; may be empty.
    pub reason: &'a str,
    /// Weeks by which the blocks of these sessions move on.
    pub weeks: i64,
    /// Days that it excuses.
    pub excused: Option<NewExcused>,
    /// Whether they train from now on, and since when.
    pub status: Option<(Status, Date)>,
    /// The sessions that it changes, in the revisions that were looked at.
    pub planned: &'a [Planned],
    /// As they will stand, in the same order.
    pub after: &'a [Standing],
}

/// Makes an act, all of it or nothing; says whether it was new. Call [`crate::flags::reassess_all`] in the
/// same transaction.
///
/// # Errors
/// As [`blocks::revise`].
pub async fn make(
    tx: &mut GymTx,
    new: &NewAct<'_>,
    now: OffsetDateTime,
) -> Result<bool, ChangeError> {
    blocks::hold_roster(tx, std::iter::once(new.athlete)).await?;
    let before = athletes::get(tx, new.athlete).await?;
    if !insert(tx, new, (before.status, before.status_since), now).await? {
        return Ok(false);
    }
    if let Some(days) = &new.excused {
        roster::insert_excused(tx, new.athlete, days, now).await?;
    }
    if let Some((status, since)) = new.status {
        set_status(tx, new.athlete, status, since).await?;
    }
    let moved: Vec<BlockId> = new.planned.iter().map(|planned| planned.block).collect();
    if new.weeks > 0 {
        move_on(tx, &moved, new.weeks).await?;
    }
    let revise = Revise {
        planned: new.planned,
        after: new.after,
        reason: new.reason,
        act: Some(new.act),
    };
    blocks::revise(tx, new.athlete, revise, now).await?;
    Ok(true)
}

async fn insert(
    tx: &mut GymTx,
    new: &NewAct<'_>,
    (status, since): (Status, Date),
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let changes_status = new.status.is_some();
    let done = sqlx::query(
        "insert into plan_acts (
             gym_id, act_id, athlete_id, what, kind, first_day, last_day, reason, weeks, excused_id,
             status_before, status_since_before, decided_by, decided_at
         ) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(new.act.0)
    .bind(new.athlete.0)
    .bind(new.what.word())
    .bind(new.kind.map(ExcusedKind::word))
    .bind(new.first_day)
    .bind(new.last_day)
    .bind(new.reason)
    .bind(i16::try_from(new.weeks).unwrap_or(i16::MAX))
    .bind(new.excused.as_ref().map(|days| days.id.0))
    .bind(changes_status.then(|| status.word()))
    .bind(changes_status.then_some(since))
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(done.rows_affected() == 1)
}

async fn set_status(
    tx: &mut GymTx,
    athlete: AthleteId,
    status: Status,
    since: Date,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    let done = sqlx::query(
        "update athletes set status = $3, status_since = $4 where gym_id = $1 and athlete_id = $2",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(status.word())
    .bind(since)
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// Blocks run so many weeks longer, or shorter again.
async fn move_on(tx: &mut GymTx, blocks: &[BlockId], weeks: i64) -> Result<(), StoreError> {
    let gym = tx.gym();
    let mut blocks: Vec<Uuid> = blocks.iter().map(|block| block.0).collect();
    blocks.sort_unstable();
    blocks.dedup();
    sqlx::query(
        "update blocks set moved_on_weeks = moved_on_weeks + $3
         where gym_id = $1 and block_id = any($2)",
    )
    .bind(gym.0)
    .bind(blocks)
    .bind(i16::try_from(weeks).unwrap_or(i16::MAX))
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// An act as one athlete's plan has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Act {
    /// Its id, the same for everybody whom it is about.
    pub act: DecisionId,
    /// Whose plan.
    pub athlete: AthleteId,
    /// The athlete's name today.
    pub athlete_name: String,
    /// What it is.
    pub what: What,
    /// Why, in one word. Health data.
    pub kind: Option<ExcusedKind>,
    /// The first day that it is about.
    pub first_day: Date,
    /// The last one; `None` until they are back.
    pub last_day: Option<Date>,
    /// Why, in the coach's words. Health data.
    pub reason: String,
    /// Weeks by which blocks moved on.
    pub weeks: i16,
    /// How many sessions it changed.
    pub sessions: i64,
    /// Of a move: what, from which day, to which.
    pub moved: Option<(String, Date, Date)>,
    /// Who decided.
    pub decided_by_name: String,
    /// The day, in the gym's zone.
    pub decided_on: Date,
    /// Whether it was taken back.
    pub taken_back: bool,
}

#[derive(FromRow)]
struct ActRow {
    act_id: Uuid,
    athlete_id: Uuid,
    athlete_name: String,
    what: String,
    kind: Option<String>,
    first_day: Date,
    last_day: Option<Date>,
    reason: String,
    weeks: i16,
    sessions: i64,
    movement_name: Option<String>,
    from_day: Option<Date>,
    to_day: Option<Date>,
    decided_by_name: String,
    decided_on: Date,
    taken_back: bool,
}

impl TryFrom<ActRow> for Act {
    type Error = StoreError;

    fn try_from(row: ActRow) -> Result<Self, StoreError> {
        let corrupt = |what: &str| StoreError::corrupt("plan_acts", row.act_id, what);
        let mut known = What::ALL.into_iter();
        let what = known
            .find(|what| what.word() == row.what)
            .ok_or_else(|| corrupt("what"))?;
        let kind = row.kind.as_deref().map(ExcusedKind::from_word);
        let moved = row.movement_name.zip(row.from_day).zip(row.to_day);
        Ok(Self {
            act: DecisionId(row.act_id),
            athlete: AthleteId(row.athlete_id),
            athlete_name: row.athlete_name,
            what,
            kind: kind
                .map(|kind| kind.ok_or_else(|| corrupt("kind")))
                .transpose()?,
            first_day: row.first_day,
            last_day: row.last_day,
            reason: row.reason,
            weeks: row.weeks,
            sessions: row.sessions,
            moved: moved
                .filter(|_| what == What::Move)
                .map(|((movement, from), to)| (movement, from, to)),
            decided_by_name: row.decided_by_name,
            decided_on: row.decided_on,
            taken_back: row.taken_back,
        })
    }
}

macro_rules! acts {
    ($($condition:literal),+ $(,)?) => {
        concat!(
            "select c.act_id, c.athlete_id, a.name as athlete_name, c.what, c.kind, c.first_day,
                 c.last_day, c.reason, c.weeks, made.sessions, made.movement_name, made.from_day,
                 made.to_day, coalesce(who.name, '') as decided_by_name,
                 (c.decided_at at time zone g.time_zone)::date as decided_on,
                 c.taken_back_at is not null as taken_back
             from plan_acts c
             join gyms g on g.gym_id = c.gym_id
             join athletes a on a.gym_id = c.gym_id and a.athlete_id = c.athlete_id
             left join people who on who.gym_id = c.gym_id and who.person_id = c.decided_by
             cross join lateral (
                 select count(*) as sessions, min(r.prescription ->> 'movement_name') as movement_name,
                     min(was.on_date) as from_day, min(r.on_date) as to_day
                 from planned_revisions r
                 join planned_revisions was on was.gym_id = r.gym_id
                     and was.planned_id = r.planned_id and was.revision = r.revision - 1
                 where r.gym_id = c.gym_id and r.act_id = c.act_id and r.athlete_id = c.athlete_id
             ) made
             where c.gym_id = $1 and ",
            $($condition),+
        )
    };
}

/// The newest acts on an athlete's plan, taken back or not, newest first.
///
/// # Errors
/// [`StoreError`].
pub async fn of_athlete(
    tx: &mut GymTx,
    athlete: AthleteId,
    at_most: i64,
) -> Result<Vec<Act>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<ActRow> =
        sqlx::query_as(acts!("c.athlete_id = $2 order by c.nth desc limit $3",))
            .bind(gym.0)
            .bind(athlete.0)
            .bind(at_most)
            .fetch_all(tx.conn())
            .await?;
    rows.into_iter().map(Act::try_from).collect()
}

/// One act, for everybody of the actor's roster whom it is about, by name.
///
/// # Errors
/// [`StoreError::NotFound`] where there is nobody.
pub async fn of_act(tx: &mut GymTx, act: DecisionId) -> Result<Vec<Act>, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let rows: Vec<ActRow> = sqlx::query_as(acts!(
        "c.act_id = $2 and exists (
             select from rosters r
             where r.gym_id = c.gym_id and r.coach_id = $3 and r.athlete_id = c.athlete_id
         )
         order by lower(a.name), a.athlete_id",
    ))
    .bind(gym.0)
    .bind(act.0)
    .bind(actor.0)
    .fetch_all(tx.conn())
    .await?;
    if rows.is_empty() {
        return Err(StoreError::NotFound);
    }
    rows.into_iter().map(Act::try_from).collect()
}

/// The sessions that an athlete's pause took out, and that nothing has changed since.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn waiting_for_return(
    tx: &mut GymTx,
    athlete: AthleteId,
) -> Result<Vec<PlannedId>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = sqlx::query_scalar(
        "select r.planned_id from planned_revisions r
         join plan_acts c on c.gym_id = r.gym_id and c.act_id = r.act_id
             and c.athlete_id = r.athlete_id
         where r.gym_id = $1 and c.gym_id = $1 and c.athlete_id = $2 and c.what = 'pause'
             and c.taken_back_at is null and r.state = 'skipped' and not exists (
                 select from planned_revisions next
                 where next.gym_id = r.gym_id and next.planned_id = r.planned_id
                     and next.revision = r.revision + 1
             )",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    Ok(ids.into_iter().map(PlannedId).collect())
}

#[derive(FromRow)]
struct WholeRow {
    athlete_id: Uuid,
    what: String,
    weeks: i16,
    excused_id: Option<Uuid>,
    status_before: Option<String>,
    status_since_before: Option<Date>,
    taken_back: bool,
    status_changed_since: bool,
}

#[derive(FromRow)]
struct MadeRow {
    athlete_id: Uuid,
    planned_id: Uuid,
    block_id: Uuid,
    on_date: Date,
    was_on: Date,
    is_newest: bool,
}

const MADE: &str = "
    select r.athlete_id, r.planned_id, p.block_id, r.on_date, was.on_date as was_on,
        not exists (
            select from planned_revisions next
            where next.gym_id = r.gym_id and next.planned_id = r.planned_id
                and next.revision = r.revision + 1
        ) as is_newest
    from planned_revisions r
    join planned_sessions p on p.gym_id = r.gym_id and p.planned_id = r.planned_id
    join planned_revisions was on was.gym_id = r.gym_id and was.planned_id = r.planned_id
        and was.revision = r.revision - 1
    where r.gym_id = $1 and r.act_id = $2
    order by r.planned_id";

const TAKE_BACK: &str = "
    insert into planned_revisions (
        gym_id, planned_id, revision, athlete_id, on_date, state, prescription, reason, decided_by,
        decided_at
    )
    select r.gym_id, r.planned_id, r.revision + 1, r.athlete_id, was.on_date, was.state,
        was.prescription, 'taken back', $3, $4
    from planned_revisions r
    join planned_revisions was on was.gym_id = r.gym_id and was.planned_id = r.planned_id
        and was.revision = r.revision - 1
    where r.gym_id = $1 and r.act_id = $2";

/// Takes an act back whole, for everybody whom it is about: sessions stand as before it, its days count
/// again, and whoever it paused or brought back is as before. Says whose plan changed: nobody's where it was
/// taken back already. Call [`crate::flags::reassess_all`] in the same transaction.
///
/// # Errors
/// [`StoreError::NotFound`] where there is no such act, or one of them is not on the actor's roster;
/// [`ChangeError::ChangedMeanwhile`], [`ChangeError::Logged`] and [`ChangeError::Passed`] where something came
/// after it that would be lost.
pub async fn take_back(
    tx: &mut GymTx,
    act: DecisionId,
    now: OffsetDateTime,
    today: Date,
) -> Result<Vec<AthleteId>, ChangeError> {
    let gym = tx.gym();
    let whose: Vec<Uuid> =
        sqlx::query_scalar("select athlete_id from plan_acts where gym_id = $1 and act_id = $2")
            .bind(gym.0)
            .bind(act.0)
            .fetch_all(tx.conn())
            .await?;
    if whose.is_empty() {
        return Err(StoreError::NotFound.into());
    }
    blocks::hold_roster(tx, whose.iter().map(|athlete| AthleteId(*athlete))).await?;
    let whole: Vec<WholeRow> = sqlx::query_as(
        "select c.athlete_id, c.what, c.weeks, c.excused_id, c.status_before, c.status_since_before,
             c.taken_back_at is not null as taken_back,
             c.status_before is not null and exists (
                 select from plan_acts later
                 where later.gym_id = c.gym_id and later.athlete_id = c.athlete_id
                     and later.status_before is not null and later.taken_back_at is null
                     and later.nth > c.nth
             ) as status_changed_since
         from plan_acts c where c.gym_id = $1 and c.act_id = $2",
    )
    .bind(gym.0)
    .bind(act.0)
    .fetch_all(tx.conn())
    .await?;
    if whole.iter().all(|one| one.taken_back) {
        return Ok(Vec::new());
    }
    if whole.iter().any(|one| one.status_changed_since) {
        return Err(ChangeError::ChangedMeanwhile);
    }
    let made: Vec<MadeRow> = sqlx::query_as(MADE)
        .bind(gym.0)
        .bind(act.0)
        .fetch_all(tx.conn())
        .await?;
    is_still_whole(tx, &whole, &made, today).await?;
    put_back(tx, act, &whole, &made, now).await?;
    Ok(whose.into_iter().map(AthleteId).collect())
}

/// Nothing of it was changed or done since, and nothing would go back to a day that has passed, unless the
/// day was only excused.
async fn is_still_whole(
    tx: &mut GymTx,
    whole: &[WholeRow],
    made: &[MadeRow],
    today: Date,
) -> Result<(), ChangeError> {
    if made.iter().any(|one| !one.is_newest) {
        return Err(ChangeError::ChangedMeanwhile);
    }
    for one in whole {
        let of_one = || made.iter().filter(|made| made.athlete_id == one.athlete_id);
        let ids: Vec<PlannedId> = of_one().map(|made| PlannedId(made.planned_id)).collect();
        let answered = log::answers(tx, AthleteId(one.athlete_id), &ids).await?;
        if let Some(done) = of_one().find(|made| answered.contains_key(&PlannedId(made.planned_id)))
        {
            return Err(ChangeError::Logged(done.on_date));
        }
        if one.what == What::Move.word()
            && let Some(passed) = of_one().find(|made| made.was_on < today)
        {
            return Err(ChangeError::Passed(passed.was_on));
        }
    }
    Ok(())
}

async fn put_back(
    tx: &mut GymTx,
    act: DecisionId,
    whole: &[WholeRow],
    made: &[MadeRow],
    now: OffsetDateTime,
) -> Result<(), ChangeError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "update plan_acts set taken_back_at = $3
         where gym_id = $1 and act_id = $2 and taken_back_at is null",
    )
    .bind(gym.0)
    .bind(act.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    sqlx::query(TAKE_BACK)
        .bind(gym.0)
        .bind(act.0)
        .bind(actor.0)
        .bind(now)
        .execute(tx.conn())
        .await?;
    for one in whole {
        if one.weeks > 0 {
            let of_one = made.iter().filter(|made| made.athlete_id == one.athlete_id);
            let blocks: Vec<BlockId> = of_one.map(|made| BlockId(made.block_id)).collect();
            move_on(tx, &blocks, -i64::from(one.weeks)).await?;
        }
        if let (Some(status), Some(since)) = (&one.status_before, one.status_since_before) {
            let status = Status::from_word(status)
                .ok_or_else(|| StoreError::corrupt("plan_acts", act, "status"))?;
            set_status(tx, AthleteId(one.athlete_id), status, since).await?;
        }
    }
    let excused: Vec<Uuid> = whole.iter().filter_map(|one| one.excused_id).collect();
    sqlx::query(
        "update excused set taken_back_at = $3
         where gym_id = $1 and excused_id = any($2) and taken_back_at is null",
    )
    .bind(gym.0)
    .bind(excused)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Why, as it stands with excused days: never empty.
///
/// # Errors
/// [`StoreError`] where it is no reason.
pub fn reason_or_kind(reason: &str, kind: ExcusedKind) -> Result<Reason, StoreError> {
    let text = if reason.is_empty() {
        kind.word()
    } else {
        reason
    };
    Reason::new(text).map_err(|error| StoreError::corrupt("plan_acts", kind.word(), error))
}
