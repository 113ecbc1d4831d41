//! Blocks and their planned sessions.
//!
//! A planned session is a chain of revisions numbered from 1. The newest counts; none is ever
//! changed, so what an athlete saw is kept as it was. Two coaches who change the same revision
//! cannot both win: the second meets the key of the first. Whatever changes here changes what the
//! rules see: call [`crate::flags::reassess`] in the same transaction.

use leverbook_domain::id::{
    AccountId, AthleteId, BlockId, BlockTemplateId, DecisionId, LoadingId, MovementId, PlannedId,
    SessionId,
};
use leverbook_domain::plan::{
    BlockDraft, Placed, PlannedOn, PlannedState, Prescription, Scheme, Standing, Weekdays,
};
use leverbook_domain::rules::{Rule, Severity};
use leverbook_domain::training::Hands;
use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use sqlx::types::Json;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::{GymTx, StoreError, log, touched};

/// What the rules objected to when a block was assigned, as the coach read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptObjection {
    /// Which rule.
    pub rule: Rule,
    /// How much it asked of the coach.
    pub severity: Severity,
    /// The first planned day that it is about.
    pub on: Date,
    /// In plain words, with the names of that day.
    pub sentence: String,
}

/// One version of a block template.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TemplateVersion {
    /// Which template.
    pub template: BlockTemplateId,
    /// Which version of it, from 1.
    pub version: i32,
}

/// The same block for one athlete or many.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    /// What it asks of everybody.
    pub draft: BlockDraft,
    /// Whom, and with which club.
    pub blocks: Vec<NewBlock>,
}

/// One athlete's share of an assignment.
#[derive(Debug, Clone, PartialEq)]
pub struct NewBlock {
    /// Its id, made with the form, so that sending twice stores once.
    pub block: BlockId,
    /// Whose.
    pub athlete: AthleteId,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// Its sessions, in order of day.
    pub planned: Vec<PlannedOn>,
    /// What the rules objected to.
    pub objections: Vec<KeptObjection>,
    /// Why the coach went on despite objections.
    pub overruled_because: Option<String>,
}

/// The revision of a planned session. 1 is as assigned.
pub type RevisionNumber = i32;

/// A planned session as it counts now.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// Its id, the same through all revisions.
    pub planned: PlannedId,
    /// The newest revision.
    pub revision: RevisionNumber,
    /// The block it belongs to.
    pub block: BlockId,
    /// Whose.
    pub athlete: AthleteId,
    /// What that revision says.
    pub standing: Standing,
    /// Why it was changed; empty as assigned.
    pub reason: String,
    /// The logged session that answers it.
    pub logged: Option<SessionId>,
}

impl Planned {
    /// As the domain looks at it when it is to be moved.
    #[must_use]
    pub fn placed(&self) -> Placed {
        Placed {
            planned: self.planned,
            standing: self.standing.clone(),
            logged: self.logged.is_some(),
        }
    }
}

/// One revision of a planned session, for its history.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedRevision {
    /// Its number.
    pub revision: RevisionNumber,
    /// What it says.
    pub standing: Standing,
    /// Why; empty as assigned.
    pub reason: String,
    /// Who made it.
    pub decided_by: AccountId,
    /// That person's name, where they have a part in the gym.
    pub decided_by_name: String,
    /// The day, in the gym's zone.
    pub decided_on: Date,
    /// The day on which the athlete first had it on the screen, in the gym's zone.
    pub seen_on: Option<Date>,
}

/// A block as assigned, and as ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Its id.
    pub block: BlockId,
    /// Whose.
    pub athlete: AthleteId,
    /// The athlete's name today.
    pub athlete_name: String,
    /// Movement.
    pub movement: MovementId,
    /// The movement's name today.
    pub movement_name: String,
    /// Hands.
    pub hands: Hands,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// The club's name today.
    pub club_name: String,
    /// Whether the club has fasteners to inspect.
    pub loadable: bool,
    /// How it progresses.
    pub scheme: Scheme,
    /// Days of the week.
    pub weekdays: Weekdays,
    /// Day from which on it counts.
    pub starts_on: Date,
    /// ISO weeks, as assigned.
    pub weeks: u8,
    /// Weeks by which what was left of it moved on since.
    pub moved_on_weeks: i16,
    /// What the rules objected to when it was assigned.
    pub objections: Vec<KeptObjection>,
    /// Why the coach went on despite them.
    pub overruled_because: Option<String>,
    /// Who assigned it.
    pub assigned_by_name: String,
    /// The day, in the gym's zone.
    pub assigned_on: Date,
    /// The last day that counts and why, where it was ended early.
    pub ended: Option<(Date, String)>,
    /// The version of the block template that it came from.
    pub template: Option<TemplateVersion>,
}

/// Why planned sessions were not changed. Nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum ChangeError {
    /// Somebody changed one of them since the page was opened.
    #[error("the plan was changed in the meantime")]
    ChangedMeanwhile,
    /// One of them is logged: what was done is not planned any more.
    #[error("the session of {0} is already logged")]
    Logged(Date),
    /// It would go back to a day that has passed.
    #[error("{0} has passed")]
    Passed(Date),
    /// The store failed or refused.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<sqlx::Error> for ChangeError {
    fn from(error: sqlx::Error) -> Self {
        match StoreError::from(error) {
            StoreError::Constraint { name } if name == "planned_revisions_pkey" => {
                Self::ChangedMeanwhile
            }
            other => Self::Store(other),
        }
    }
}

/// The id of the planned session of a block on the day it was first planned for. Made from the
/// two, so that the same assignment always makes the same ids.
fn planned_id(block: BlockId, on: Date) -> Uuid {
    Uuid::new_v5(&block.0, on.to_string().as_bytes())
}

/// Blocks of several assignments; each has its own draft, so everything comes in columns.
const INSERT_BLOCKS: &str = "
    insert into blocks (
        gym_id, block_id, athlete_id, movement_id, hands, loading_id, scheme, weekdays, starts_on,
        weeks, objections, overruled_because, assigned_by, assigned_at, template_id, template_version
    )
    select $1, block_id, athlete_id, movement_id, hands, loading_id, scheme,
        string_to_array(weekdays, ',')::smallint[], starts_on, weeks, objections, overruled_because,
        $2, $3, $4, $5
    from unnest(
        $6::uuid[], $7::uuid[], $8::uuid[], $9::text[], $10::uuid[], $11::jsonb[], $12::text[],
        $13::date[], $14::smallint[], $15::jsonb[], $16::text[]
    ) as new (
        block_id, athlete_id, movement_id, hands, loading_id, scheme, weekdays, starts_on, weeks,
        objections, overruled_because
    )
    on conflict do nothing
    returning block_id";

/// Writes blocks with all their planned sessions, all or none. Blocks whose id is stored already
/// are left as they are. Says which were written now.
///
/// # Errors
/// [`StoreError::NotFound`] where one of the athletes is not on the actor's roster.
pub async fn assign(
    tx: &mut GymTx,
    assignment: &Assignment,
    now: OffsetDateTime,
) -> Result<Vec<BlockId>, StoreError> {
    assign_each(tx, std::slice::from_ref(assignment), None, now).await
}

/// [`assign`] for several that ask different things, in as many statements as for one; with the
/// version of the block template that they came from.
///
/// # Errors
/// As [`assign`].
pub async fn assign_each(
    tx: &mut GymTx,
    assignments: &[Assignment],
    from: Option<TemplateVersion>,
    now: OffsetDateTime,
) -> Result<Vec<BlockId>, StoreError> {
    let all: Vec<(&BlockDraft, &NewBlock)> = assignments
        .iter()
        .flat_map(|one| one.blocks.iter().map(|block| (&one.draft, block)))
        .collect();
    hold_roster(tx, all.iter().map(|(_, block)| block.athlete)).await?;
    let (gym, actor) = (tx.gym(), tx.actor());
    let ids = |of: fn(&BlockDraft, &NewBlock) -> Uuid| -> Vec<Uuid> {
        all.iter().map(|(draft, block)| of(draft, block)).collect()
    };
    let hands: Vec<&str> = all
        .iter()
        .map(|(draft, _)| draft.scheme().hands().word())
        .collect();
    let schemes: Vec<_> = all.iter().map(|(draft, _)| Json(draft.scheme())).collect();
    let weekdays: Vec<String> = all
        .iter()
        .map(|(draft, _)| {
            let days: Vec<String> = draft.weekdays().iso().map(|day| day.to_string()).collect();
            days.join(",")
        })
        .collect();
    let starts: Vec<Date> = all.iter().map(|(draft, _)| draft.starts_on()).collect();
    let weeks: Vec<i16> = all.iter().map(|(draft, _)| draft.weeks().into()).collect();
    let objections: Vec<_> = all.iter().map(|(_, b)| Json(&b.objections)).collect();
    let because: Vec<_> = all
        .iter()
        .map(|(_, b)| b.overruled_because.as_deref())
        .collect();
    let written: Vec<Uuid> = sqlx::query_scalar(INSERT_BLOCKS)
        .bind(gym.0)
        .bind(actor.0)
        .bind(now)
        .bind(from.map(|from| from.template.0))
        .bind(from.map(|from| from.version))
        .bind(ids(|_, b| b.block.0))
        .bind(ids(|_, b| b.athlete.0))
        .bind(ids(|draft, _| draft.movement().0))
        .bind(hands)
        .bind(ids(|_, b| b.loading.0))
        .bind(schemes)
        .bind(weekdays)
        .bind(starts)
        .bind(weeks)
        .bind(objections)
        .bind(because)
        .fetch_all(tx.conn())
        .await?;
    let written: Vec<BlockId> = written.into_iter().map(BlockId).collect();
    let new: Vec<&NewBlock> = all
        .iter()
        .map(|(_, block)| *block)
        .filter(|block| written.contains(&block.block))
        .collect();
    insert_planned(tx, &new, now).await?;
    Ok(written)
}

/// The actor's roster holds all of these athletes, and nobody else writes their plan or log until
/// the transaction ends. In order of id, so that two of these never wait for each other.
pub(crate) async fn hold_roster(
    tx: &mut GymTx,
    athletes: impl Iterator<Item = AthleteId>,
) -> Result<(), StoreError> {
    let mut athletes: Vec<Uuid> = athletes.map(|athlete| athlete.0).collect();
    athletes.sort_unstable();
    athletes.dedup();
    let (gym, actor) = (tx.gym(), tx.actor());
    let held: Vec<Uuid> = sqlx::query_scalar(
        "select a.athlete_id from athletes a
         where a.gym_id = $1 and a.athlete_id = any($2) and exists (
             select from rosters r
             where r.gym_id = a.gym_id and r.coach_id = $3 and r.athlete_id = a.athlete_id
         )
         order by a.athlete_id
         for no key update of a",
    )
    .bind(gym.0)
    .bind(&athletes)
    .bind(actor.0)
    .fetch_all(tx.conn())
    .await?;
    if held == athletes {
        Ok(())
    } else {
        Err(StoreError::NotFound)
    }
}

const INSERT_PLANNED: &str = "
    insert into planned_sessions (gym_id, planned_id, block_id, athlete_id)
    select $1, new.* from unnest($2::uuid[], $3::uuid[], $4::uuid[]) as new";

const INSERT_FIRST_REVISIONS: &str = "
    insert into planned_revisions (
        gym_id, planned_id, revision, athlete_id, on_date, state, prescription, decided_by,
        decided_at
    )
    select $1, planned_id, 1, athlete_id, on_date, 'planned', prescription, $2, $3
    from unnest($4::uuid[], $5::uuid[], $6::date[], $7::jsonb[])
        as new (planned_id, athlete_id, on_date, prescription)";

async fn insert_planned(
    tx: &mut GymTx,
    blocks: &[&NewBlock],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let sessions = || {
        blocks
            .iter()
            .flat_map(|block| block.planned.iter().map(move |planned| (block, planned)))
    };
    let planned: Vec<Uuid> = sessions().map(|(b, p)| planned_id(b.block, p.on)).collect();
    let athletes: Vec<Uuid> = sessions().map(|(b, _)| b.athlete.0).collect();
    let of_block: Vec<Uuid> = sessions().map(|(b, _)| b.block.0).collect();
    let days: Vec<Date> = sessions().map(|(_, p)| p.on).collect();
    let prescriptions: Vec<_> = sessions().map(|(_, p)| Json(&p.prescription)).collect();
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(INSERT_PLANNED)
        .bind(gym.0)
        .bind(&planned)
        .bind(of_block)
        .bind(&athletes)
        .execute(tx.conn())
        .await?;
    sqlx::query(INSERT_FIRST_REVISIONS)
        .bind(gym.0)
        .bind(actor.0)
        .bind(now)
        .bind(planned)
        .bind(athletes)
        .bind(days)
        .bind(prescriptions)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Planned sessions as they count now. Revisions are consecutive, so the newest is the one without
/// a next.
macro_rules! current {
    ($($condition:literal),+ $(,)?) => {
        concat!(
            "select p.planned_id, r.revision, p.block_id, p.athlete_id, r.on_date, r.state,
                 r.prescription, r.reason, (
                     select s.session_id from logged_sessions s
                     where s.gym_id = p.gym_id and s.planned_id = p.planned_id and not s.withdrawn
                         and not exists (
                             select from logged_sessions later
                             where later.gym_id = s.gym_id and later.replaces = s.revision_id
                         )
                     order by s.session_id limit 1
                 ) as logged
             from planned_sessions p
             join planned_revisions r on r.gym_id = p.gym_id and r.planned_id = p.planned_id
             where p.gym_id = $1 and r.gym_id = $1 and not exists (
                 select from planned_revisions next
                 where next.gym_id = r.gym_id and next.planned_id = r.planned_id
                     and next.revision = r.revision + 1
             ) and ",
            $($condition),+
        )
    };
}

#[derive(FromRow)]
struct PlannedRow {
    planned_id: Uuid,
    revision: i32,
    block_id: Uuid,
    athlete_id: Uuid,
    on_date: Date,
    state: String,
    prescription: Json<serde_json::Value>,
    reason: String,
    logged: Option<Uuid>,
}

fn standing(
    planned: Uuid,
    on: Date,
    state: &str,
    prescription: serde_json::Value,
) -> Result<Standing, StoreError> {
    let corrupt =
        |what: &dyn ToString| StoreError::corrupt("planned_revisions", planned, what.to_string());
    Ok(Standing {
        on,
        state: PlannedState::from_word(state).ok_or_else(|| corrupt(&"state"))?,
        prescription: serde_json::from_value::<Prescription>(prescription)
            .map_err(|error| corrupt(&error))?,
    })
}

impl TryFrom<PlannedRow> for Planned {
    type Error = StoreError;

    fn try_from(row: PlannedRow) -> Result<Self, StoreError> {
        Ok(Self {
            planned: PlannedId(row.planned_id),
            revision: row.revision,
            block: BlockId(row.block_id),
            athlete: AthleteId(row.athlete_id),
            standing: standing(row.planned_id, row.on_date, &row.state, row.prescription.0)?,
            reason: row.reason,
            logged: row.logged.map(SessionId),
        })
    }
}

fn typed(rows: Vec<PlannedRow>) -> Result<Vec<Planned>, StoreError> {
    rows.into_iter().map(Planned::try_from).collect()
}

/// Planned sessions of these athletes from the first day to the last, both included, in order of
/// day, whatever their state. One query, however many athletes.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn between(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    first: Date,
    last: Date,
) -> Result<Vec<Planned>, StoreError> {
    let gym = tx.gym();
    let athletes: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows = sqlx::query_as(current!(
        "r.athlete_id = any($2) and r.on_date between $3 and $4
         order by r.on_date, p.planned_id",
    ))
    .bind(gym.0)
    .bind(athletes)
    .bind(first)
    .bind(last)
    .fetch_all(tx.conn())
    .await?;
    typed(rows)
}

/// All planned sessions of a block, in order of day.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn of_block(tx: &mut GymTx, block: BlockId) -> Result<Vec<Planned>, StoreError> {
    let gym = tx.gym();
    let rows = sqlx::query_as(current!("p.block_id = $2 order by r.on_date, p.planned_id"))
        .bind(gym.0)
        .bind(block.0)
        .fetch_all(tx.conn())
        .await?;
    typed(rows)
}

/// All planned sessions of these athletes' blocks that have not ended, in order of day.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn of_running_blocks(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<Vec<Planned>, StoreError> {
    let gym = tx.gym();
    let athletes: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows = sqlx::query_as(current!(
        "r.athlete_id = any($2) and exists (
             select from blocks b
             where b.gym_id = p.gym_id and b.block_id = p.block_id and b.ended_on is null
         )
         order by r.on_date, p.planned_id",
    ))
    .bind(gym.0)
    .bind(athletes)
    .fetch_all(tx.conn())
    .await?;
    typed(rows)
}

/// One planned session.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has none of this id.
pub async fn planned(tx: &mut GymTx, planned: PlannedId) -> Result<Planned, StoreError> {
    let gym = tx.gym();
    let row: PlannedRow = sqlx::query_as(current!("p.planned_id = $2"))
        .bind(gym.0)
        .bind(planned.0)
        .fetch_one(tx.conn())
        .await?;
    row.try_into()
}

#[derive(FromRow)]
struct RevisionRow {
    revision: i32,
    on_date: Date,
    state: String,
    prescription: Json<serde_json::Value>,
    reason: String,
    decided_by: Uuid,
    decided_by_name: Option<String>,
    decided_on: Date,
    seen_on: Option<Date>,
}

/// Every revision of a planned session, oldest first, and when the athlete saw it.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has none of this id.
pub async fn revisions(
    tx: &mut GymTx,
    planned: PlannedId,
) -> Result<Vec<PlannedRevision>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<RevisionRow> = sqlx::query_as(
        "select r.revision, r.on_date, r.state, r.prescription, r.reason, r.decided_by,
             who.name as decided_by_name,
             (r.decided_at at time zone g.time_zone)::date as decided_on,
             (seen.seen_at at time zone g.time_zone)::date as seen_on
         from planned_revisions r
         join gyms g on g.gym_id = r.gym_id
         left join people who on who.gym_id = r.gym_id and who.person_id = r.decided_by
         left join planned_seen seen on seen.gym_id = r.gym_id
             and seen.planned_id = r.planned_id and seen.revision = r.revision
         where r.gym_id = $1 and r.planned_id = $2
         order by r.revision",
    )
    .bind(gym.0)
    .bind(planned.0)
    .fetch_all(tx.conn())
    .await?;
    if rows.is_empty() {
        return Err(StoreError::NotFound);
    }
    rows.into_iter()
        .map(|row| {
            Ok(PlannedRevision {
                revision: row.revision,
                standing: standing(planned.0, row.on_date, &row.state, row.prescription.0)?,
                reason: row.reason,
                decided_by: AccountId(row.decided_by),
                decided_by_name: row.decided_by_name.unwrap_or_default(),
                decided_on: row.decided_on,
                seen_on: row.seen_on,
            })
        })
        .collect()
}

/// Blocks with the names of today.
macro_rules! blocks {
    ($($condition:literal),+ $(,)?) => {
        concat!(
            "select b.block_id, b.athlete_id, a.name as athlete_name, b.movement_id,
                 m.name as movement_name, b.hands, b.loading_id, l.name as club_name, c.loadable,
                 b.scheme, b.weekdays, b.starts_on, b.weeks, b.moved_on_weeks, b.objections,
                 b.overruled_because, who.name as assigned_by_name,
                 (b.assigned_at at time zone g.time_zone)::date as assigned_on, b.ended_on,
                 b.ended_because, b.template_id, b.template_version
             from blocks b
             join gyms g on g.gym_id = b.gym_id
             join athletes a on a.gym_id = b.gym_id and a.athlete_id = b.athlete_id
             join movements m on m.gym_id = b.gym_id and m.movement_id = b.movement_id
             join loadings l on l.gym_id = b.gym_id and l.loading_id = b.loading_id
             join clubs c on c.gym_id = l.gym_id and c.club_id = l.club_id
             left join people who on who.gym_id = b.gym_id and who.person_id = b.assigned_by
             where b.gym_id = $1 and ",
            $($condition),+
        )
    };
}

#[derive(FromRow)]
struct BlockRow {
    block_id: Uuid,
    athlete_id: Uuid,
    athlete_name: String,
    movement_id: Uuid,
    movement_name: String,
    hands: String,
    loading_id: Uuid,
    club_name: String,
    loadable: bool,
    scheme: Json<serde_json::Value>,
    weekdays: Vec<i16>,
    starts_on: Date,
    weeks: i16,
    moved_on_weeks: i16,
    objections: Json<serde_json::Value>,
    overruled_because: Option<String>,
    assigned_by_name: Option<String>,
    assigned_on: Date,
    ended_on: Option<Date>,
    ended_because: Option<String>,
    template_id: Option<Uuid>,
    template_version: Option<i32>,
}

impl TryFrom<BlockRow> for Block {
    type Error = StoreError;

    fn try_from(row: BlockRow) -> Result<Self, StoreError> {
        let corrupt =
            |what: &dyn ToString| StoreError::corrupt("blocks", row.block_id, what.to_string());
        Ok(Self {
            block: BlockId(row.block_id),
            athlete: AthleteId(row.athlete_id),
            athlete_name: row.athlete_name,
            movement: MovementId(row.movement_id),
            movement_name: row.movement_name,
            hands: Hands::from_word(&row.hands).ok_or_else(|| corrupt(&"hands"))?,
            loading: LoadingId(row.loading_id),
            club_name: row.club_name,
            loadable: row.loadable,
            scheme: serde_json::from_value(row.scheme.0).map_err(|error| corrupt(&error))?,
            weekdays: Weekdays::from_iso(row.weekdays.into_iter().map(i64::from))
                .map_err(|error| corrupt(&error))?,
            starts_on: row.starts_on,
            weeks: u8::try_from(row.weeks).map_err(|error| corrupt(&error))?,
            moved_on_weeks: row.moved_on_weeks,
            objections: serde_json::from_value(row.objections.0)
                .map_err(|error| corrupt(&error))?,
            overruled_because: row.overruled_because,
            assigned_by_name: row.assigned_by_name.unwrap_or_default(),
            assigned_on: row.assigned_on,
            ended: row
                .ended_on
                .map(|on| (on, row.ended_because.unwrap_or_default())),
            template: row
                .template_id
                .zip(row.template_version)
                .map(|(id, version)| TemplateVersion {
                    template: BlockTemplateId(id),
                    version,
                }),
        })
    }
}

/// One block.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has none of this id.
pub async fn block(tx: &mut GymTx, block: BlockId) -> Result<Block, StoreError> {
    let gym = tx.gym();
    let row: BlockRow = sqlx::query_as(blocks!("b.block_id = $2"))
        .bind(gym.0)
        .bind(block.0)
        .fetch_one(tx.conn())
        .await?;
    row.try_into()
}

/// Blocks of these athletes, newest start first, ended ones too.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn of_athletes(tx: &mut GymTx, athletes: &[AthleteId]) -> Result<Vec<Block>, StoreError> {
    let gym = tx.gym();
    let athletes: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows: Vec<BlockRow> = sqlx::query_as(blocks!(
        "b.athlete_id = any($2) order by b.starts_on desc, b.block_id",
    ))
    .bind(gym.0)
    .bind(athletes)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Block::try_from).collect()
}

/// Which of these blocks are stored.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn written(tx: &mut GymTx, blocks: &[BlockId]) -> Result<Vec<BlockId>, StoreError> {
    let gym = tx.gym();
    let blocks: Vec<Uuid> = blocks.iter().map(|block| block.0).collect();
    let found: Vec<Uuid> =
        sqlx::query_scalar("select block_id from blocks where gym_id = $1 and block_id = any($2)")
            .bind(gym.0)
            .bind(blocks)
            .fetch_all(tx.conn())
            .await?;
    Ok(found.into_iter().map(BlockId).collect())
}

/// The last block of each of these athletes, by start; ended ones too.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn last_of(tx: &mut GymTx, athletes: &[AthleteId]) -> Result<Vec<Block>, StoreError> {
    let gym = tx.gym();
    let athletes: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows: Vec<BlockRow> = sqlx::query_as(blocks!(
        "b.athlete_id = any($2) and not exists (
             select from blocks later
             where later.gym_id = b.gym_id and later.athlete_id = b.athlete_id
                 and (later.starts_on, later.block_id) > (b.starts_on, b.block_id)
         )",
    ))
    .bind(gym.0)
    .bind(athletes)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Block::try_from).collect()
}

/// Blocks of these athletes that still run on a day or after it, by athlete and start.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn running(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    from: Date,
) -> Result<Vec<Block>, StoreError> {
    let gym = tx.gym();
    let athletes: Vec<Uuid> = athletes.iter().map(|athlete| athlete.0).collect();
    let rows: Vec<BlockRow> = sqlx::query_as(blocks!(
        "b.athlete_id = any($2)
             and least(b.ended_on, b.starts_on + 7 * (b.weeks + b.moved_on_weeks) - 1) >= $3
         order by b.athlete_id, b.starts_on, b.block_id",
    ))
    .bind(gym.0)
    .bind(athletes)
    .bind(from)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Block::try_from).collect()
}

impl Block {
    /// The last day that it can have a session on, unless one was moved.
    pub fn until(&self) -> Date {
        let last = self.starts_on
            + time::Duration::weeks(i64::from(self.weeks) + i64::from(self.moved_on_weeks))
            - time::Duration::DAY;
        match &self.ended {
            Some((ended, _)) => last.min(*ended),
            None => last,
        }
    }
}

/// Planned sessions to change, in the revision that the coach looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Revise<'a> {
    /// All of one block and athlete.
    pub planned: &'a [Planned],
    /// The next revision of each, in the same order.
    pub after: &'a [Standing],
    /// Why.
    pub reason: &'a str,
    /// The act that it belongs to, where there is one; it is stored already.
    pub act: Option<DecisionId>,
}

const INSERT_REVISIONS: &str = "
    insert into planned_revisions (
        gym_id, planned_id, revision, athlete_id, on_date, state, prescription, reason, decided_by,
        decided_at, act_id
    )
    select $1, planned_id, revision, $2, on_date, state, prescription, $3, $4, $5, $11
    from unnest($6::uuid[], $7::integer[], $8::date[], $9::text[], $10::jsonb[])
        as new (planned_id, revision, on_date, state, prescription)";

/// Adds a revision to each of these planned sessions, all or none.
///
/// # Errors
/// [`ChangeError::ChangedMeanwhile`] where one has a newer revision, [`ChangeError::Logged`] where
/// one is logged, [`StoreError::NotFound`] where the athlete is not on the actor's roster.
pub async fn revise(
    tx: &mut GymTx,
    athlete: AthleteId,
    revise: Revise<'_>,
    now: OffsetDateTime,
) -> Result<(), ChangeError> {
    hold_roster(tx, std::iter::once(athlete)).await?;
    let ids: Vec<PlannedId> = revise.planned.iter().map(|one| one.planned).collect();
    let answered = log::answers(tx, athlete, &ids).await?;
    if let Some(logged) = revise
        .planned
        .iter()
        .find(|one| answered.contains_key(&one.planned))
    {
        return Err(ChangeError::Logged(logged.standing.on));
    }
    let next: Vec<i32> = revise.planned.iter().map(|one| one.revision + 1).collect();
    let days: Vec<Date> = revise.after.iter().map(|after| after.on).collect();
    let states: Vec<_> = revise
        .after
        .iter()
        .map(|after| after.state.word())
        .collect();
    let prescriptions: Vec<_> = revise
        .after
        .iter()
        .map(|after| Json(&after.prescription))
        .collect();
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(INSERT_REVISIONS)
        .bind(gym.0)
        .bind(athlete.0)
        .bind(revise.reason)
        .bind(actor.0)
        .bind(now)
        .bind(ids.iter().map(|id| id.0).collect::<Vec<_>>())
        .bind(next)
        .bind(days)
        .bind(states)
        .bind(prescriptions)
        .bind(revise.act.map(|act| act.0))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Ends several blocks of athletes whom the transaction already holds, each on its own last day that
/// counts, in as many statements as for one. Nothing of them is logged or changed meanwhile.
///
/// # Errors
/// As [`end`].
pub async fn end_each(
    tx: &mut GymTx,
    blocks: &[(BlockId, Date)],
    reason: &str,
    now: OffsetDateTime,
) -> Result<(), ChangeError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let ids: Vec<Uuid> = blocks.iter().map(|(block, _)| block.0).collect();
    let days: Vec<Date> = blocks.iter().map(|(_, last_day)| *last_day).collect();
    let ended = sqlx::query(
        "update blocks b set ended_on = new.last_day, ended_because = $4
         from unnest($2::uuid[], $3::date[]) as new (block_id, last_day)
         where b.gym_id = $1 and b.block_id = new.block_id and b.ended_on is null",
    )
    .bind(gym.0)
    .bind(&ids)
    .bind(&days)
    .bind(reason)
    .execute(tx.conn())
    .await?;
    if ended.rows_affected() != blocks.len() as u64 {
        return Err(ChangeError::ChangedMeanwhile);
    }
    sqlx::query(END_PLANNED)
        .bind(gym.0)
        .bind(ids)
        .bind(days)
        .bind(reason)
        .bind(actor.0)
        .bind(now)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// The next revision of every session that is still to come after its block's last day: as [`end`].
const END_PLANNED: &str = "
    insert into planned_revisions (
        gym_id, planned_id, revision, athlete_id, on_date, state, prescription, reason, decided_by,
        decided_at
    )
    select r.gym_id, r.planned_id, r.revision + 1, r.athlete_id, r.on_date, 'ended', r.prescription,
        $4, $5, $6
    from unnest($2::uuid[], $3::date[]) as new (block_id, last_day)
    join planned_sessions p on p.gym_id = $1 and p.block_id = new.block_id
    join planned_revisions r on r.gym_id = p.gym_id and r.planned_id = p.planned_id
    where r.gym_id = $1 and r.state = 'planned' and r.on_date > new.last_day
        and not exists (
            select from planned_revisions next
            where next.gym_id = r.gym_id and next.planned_id = r.planned_id
                and next.revision = r.revision + 1
        )
        and not exists (
            select from logged_sessions s
            where s.gym_id = p.gym_id and s.planned_id = p.planned_id and not s.withdrawn
                and not exists (
                    select from logged_sessions later
                    where later.gym_id = s.gym_id and later.replaces = s.revision_id
                )
        )";

/// Ends a block: `last_day` is the last that counts. Planned sessions after it that are neither
/// logged nor skipped get a revision that says so.
///
/// # Errors
/// [`ChangeError::ChangedMeanwhile`] where the block has ended already or a session of it was
/// changed at the same time; [`StoreError::NotFound`] where the athlete is not on the actor's
/// roster.
pub async fn end(
    tx: &mut GymTx,
    block: &Block,
    last_day: Date,
    reason: &str,
    now: OffsetDateTime,
) -> Result<(), ChangeError> {
    hold_roster(tx, std::iter::once(block.athlete)).await?;
    let gym = tx.gym();
    let ended = sqlx::query(
        "update blocks set ended_on = $3, ended_because = $4
         where gym_id = $1 and block_id = $2 and ended_on is null",
    )
    .bind(gym.0)
    .bind(block.block.0)
    .bind(last_day)
    .bind(reason)
    .execute(tx.conn())
    .await?;
    touched(&ended).map_err(|_| ChangeError::ChangedMeanwhile)?;
    let rest: Vec<Planned> = of_block(tx, block.block)
        .await?
        .into_iter()
        .filter(|one| one.logged.is_none())
        .filter(|one| one.standing.on > last_day)
        .filter(|one| one.standing.state == PlannedState::Planned)
        .collect();
    let after: Vec<Standing> = rest
        .iter()
        .map(|one| Standing {
            state: PlannedState::Ended,
            ..one.standing.clone()
        })
        .collect();
    let revision = Revise {
        planned: &rest,
        after: &after,
        reason,
        act: None,
    };
    revise(tx, block.athlete, revision, now).await
}

/// Keeps when an athlete first had these revisions on the screen. Later sights change nothing.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn mark_seen(
    tx: &mut GymTx,
    seen: &[(PlannedId, RevisionNumber)],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    let planned: Vec<Uuid> = seen.iter().map(|(planned, _)| planned.0).collect();
    let revisions: Vec<i32> = seen.iter().map(|(_, revision)| *revision).collect();
    sqlx::query(
        "insert into planned_seen (gym_id, planned_id, revision, seen_at)
         select $1, planned_id, revision, $2
         from unnest($3::uuid[], $4::integer[]) as seen (planned_id, revision)
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(now)
    .bind(planned)
    .bind(revisions)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// O1: a coach opens one-hand work early.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenGate {
    /// Its id, made with the form, so that sending twice stores once.
    pub opening: DecisionId,
    /// For whom.
    pub athlete: AthleteId,
    /// For which movement.
    pub movement: MovementId,
    /// From which day on.
    pub on: Date,
    /// Why.
    pub reason: String,
}

/// Keeps an early opening. It stays in the history for good.
///
/// # Errors
/// [`StoreError::NotFound`] where the athlete is not on the actor's roster.
pub async fn open_gate(
    tx: &mut GymTx,
    gate: &OpenGate,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    hold_roster(tx, std::iter::once(gate.athlete)).await?;
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into gate_openings (
             gym_id, opening_id, athlete_id, movement_id, on_date, reason, decided_by, decided_at
         ) values ($1, $2, $3, $4, $5, $6, $7, $8)
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(gate.opening.0)
    .bind(gate.athlete.0)
    .bind(gate.movement.0)
    .bind(gate.on)
    .bind(&gate.reason)
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// An athlete whom the actor may assign work to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assignable {
    /// Whom.
    pub athlete: AthleteId,
    /// Their name.
    pub name: String,
}

/// The athletes in training on the actor's roster, by name.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub async fn assignable(tx: &mut GymTx) -> Result<Vec<Assignable>, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let rows: Vec<(Uuid, String)> = sqlx::query_as(
        "select a.athlete_id, a.name
         from rosters r join athletes a on a.gym_id = r.gym_id and a.athlete_id = r.athlete_id
         where r.gym_id = $1 and r.coach_id = $2 and a.status = 'active'
         order by lower(a.name), a.athlete_id",
    )
    .bind(gym.0)
    .bind(actor.0)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows
        .into_iter()
        .map(|(athlete, name)| Assignable {
            athlete: AthleteId(athlete),
            name,
        })
        .collect())
}
