//! Everything about an athlete that the rules look at, in a handful of queries however many
//! athletes are asked for.

use std::collections::{HashMap, HashSet};

use leverbook_domain::club::ClubMeasure;
use leverbook_domain::id::{AthleteId, BlockId, ClubId, LoadingId, MovementId, SessionId};
use leverbook_domain::plan::{Scheme, Weekdays};
use leverbook_domain::training::{
    AvailableClub, BlockSpan, GateOpening, Hands, History, Pain, Session, UnsaidPain,
};
use sqlx::FromRow;
use sqlx::types::Json;
use time::{Date, Duration};
use uuid::Uuid;

use crate::athletes::uuids;
use crate::log::{self, FIRST_DAY, LAST_DAY, Logged};
use crate::{GymTx, StoreError};

/// One athlete's history.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has no such athlete.
pub async fn load(tx: &mut GymTx, athlete: AthleteId) -> Result<History, StoreError> {
    load_many(tx, &[athlete])
        .await?
        .pop()
        .map(|(_, history)| history)
        .ok_or(StoreError::NotFound)
}

/// The histories of these athletes, in order of id. Athletes that this gym does not have are left
/// out.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn load_many(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<Vec<(AthleteId, History)>, StoreError> {
    let people = people(tx, athletes).await?;
    let ids: Vec<AthleteId> = people.iter().map(|row| AthleteId(row.athlete_id)).collect();
    let mut sessions: HashMap<AthleteId, Vec<Session>> = HashMap::new();
    for logged in log::between(tx, &ids, FIRST_DAY, LAST_DAY).await? {
        let athlete = logged.athlete;
        sessions
            .entry(athlete)
            .or_default()
            .push(Logged::into_session(logged));
    }
    let mut blocks = blocks(tx, &ids).await?;
    let mut openings = openings(tx, &ids).await?;
    let mut excused = excused(tx, &ids).await?;
    let mut unsaid = unsaid(tx, &ids).await?;
    let mut used: HashSet<LoadingId> = HashSet::new();
    for session in sessions.values().flatten() {
        used.extend(session.sets.iter().map(|set| set.loading));
    }
    used.extend(blocks.values().flatten().map(|span| span.loading));
    let loadings = loadings(tx, &ids, &used).await?;
    Ok(people
        .into_iter()
        .map(|person| {
            let athlete = AthleteId(person.athlete_id);
            let sessions = sessions.remove(&athlete).unwrap_or_default();
            let spans = blocks.remove(&athlete).unwrap_or_default();
            let clubs = clubs_of(athlete, &loadings, &sessions, &spans);
            // Without a single block no plan is known, which is not the same as a plan of nothing.
            let plan = (!spans.is_empty()).then_some(spans);
            let mut history = History::new(sessions, clubs, plan);
            history.openings = openings.remove(&athlete).unwrap_or_default();
            history.excused = excused.remove(&athlete).unwrap_or_default();
            history.excused.extend(person.away());
            history.unsaid = unsaid.remove(&athlete).unwrap_or_default();
            (athlete, history)
        })
        .collect())
}

#[derive(FromRow)]
struct PersonRow {
    athlete_id: Uuid,
    status: String,
    status_since: Date,
}

impl PersonRow {
    /// While paused or gone, no day counts as missed.
    fn away(&self) -> Option<(Date, Date)> {
        (self.status != "active").then_some((self.status_since, LAST_DAY))
    }
}

async fn people(tx: &mut GymTx, athletes: &[AthleteId]) -> Result<Vec<PersonRow>, StoreError> {
    let gym = tx.gym();
    Ok(sqlx::query_as(
        "select athlete_id, status, status_since from athletes
         where gym_id = $1 and athlete_id = any($2) order by athlete_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?)
}

#[derive(FromRow)]
struct LoadingRow {
    loading_id: Uuid,
    club_id: Uuid,
    owner: Option<Uuid>,
    in_use: bool,
    measure: Json<serde_json::Value>,
}

/// A loading and whose it is.
struct OwnedLoading {
    club: AvailableClub,
    /// `None` for the gym's.
    owner: Option<AthleteId>,
}

/// The gym's loadings, these athletes' own, and any that were swung or planned.
async fn loadings(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    used: &HashSet<LoadingId>,
) -> Result<Vec<OwnedLoading>, StoreError> {
    let gym = tx.gym();
    let used: Vec<Uuid> = used.iter().map(|loading| loading.0).collect();
    let rows: Vec<LoadingRow> = sqlx::query_as(
        "select l.loading_id, l.club_id, c.athlete_id as owner, l.measure,
             l.retired_at is null and c.retired_at is null as in_use
         from loadings l join clubs c on c.gym_id = l.gym_id and c.club_id = l.club_id
         where l.gym_id = $1
             and (c.athlete_id is null or c.athlete_id = any($2) or l.loading_id = any($3))
         order by l.loading_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .bind(used)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(OwnedLoading::try_from).collect()
}

impl TryFrom<LoadingRow> for OwnedLoading {
    type Error = StoreError;

    fn try_from(row: LoadingRow) -> Result<Self, StoreError> {
        let measure: ClubMeasure = serde_json::from_value(row.measure.0)
            .map_err(|error| StoreError::corrupt("loadings", row.loading_id, error))?;
        Ok(Self {
            club: AvailableClub {
                loading: LoadingId(row.loading_id),
                club: ClubId(row.club_id),
                mechanics: *measure.mechanics(),
                usable: row.in_use,
            },
            owner: row.owner.map(AthleteId),
        })
    }
}

/// What this athlete may pick up, and what they have used or were asked to use.
fn clubs_of(
    athlete: AthleteId,
    loadings: &[OwnedLoading],
    sessions: &[Session],
    blocks: &[BlockSpan],
) -> Vec<AvailableClub> {
    let mut used: HashSet<LoadingId> = blocks.iter().map(|span| span.loading).collect();
    for session in sessions {
        used.extend(session.sets.iter().map(|set| set.loading));
    }
    loadings
        .iter()
        .filter_map(|loading| {
            let theirs = loading.owner.is_none_or(|owner| owner == athlete);
            (theirs || used.contains(&loading.club.loading)).then(|| AvailableClub {
                usable: loading.club.usable && theirs,
                ..loading.club.clone()
            })
        })
        .collect()
}

#[derive(FromRow)]
struct BlockRow {
    block_id: Uuid,
    athlete_id: Uuid,
    movement_id: Uuid,
    hands: String,
    loading_id: Uuid,
    scheme: Json<serde_json::Value>,
    weekdays: Vec<i16>,
    starts_on: Date,
    weeks: i16,
    moved_on_weeks: i16,
    ended_on: Option<Date>,
}

impl TryFrom<BlockRow> for BlockSpan {
    type Error = StoreError;

    fn try_from(row: BlockRow) -> Result<Self, StoreError> {
        let corrupt = |what: String| StoreError::corrupt("blocks", row.block_id, what);
        let scheme: Scheme =
            serde_json::from_value(row.scheme.0).map_err(|error| corrupt(error.to_string()))?;
        let weekdays = Weekdays::from_iso(row.weekdays.into_iter().map(i64::from))
            .map_err(|error| corrupt(error.to_string()))?;
        let weeks = i64::from(row.weeks) + i64::from(row.moved_on_weeks);
        let last = row.starts_on + Duration::days(weeks * 7 - 1);
        Ok(Self {
            block: BlockId(row.block_id),
            movement: MovementId(row.movement_id),
            hands: Hands::from_word(&row.hands).ok_or_else(|| corrupt("hands".to_owned()))?,
            loading: LoadingId(row.loading_id),
            scheme,
            from: weekdays.first_from(row.starts_on),
            until: row.ended_on.map_or(last, |ended| ended.min(last)),
        })
    }
}

/// Blocks by athlete, in order of start. A block that was ended before its first day never ran.
async fn blocks(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Vec<BlockSpan>>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<BlockRow> = sqlx::query_as(
        "select block_id, athlete_id, movement_id, hands, loading_id, scheme, weekdays, starts_on,
             weeks, moved_on_weeks, ended_on
         from blocks
         where gym_id = $1 and athlete_id = any($2)
             and (ended_on is null or ended_on >= starts_on)
         order by starts_on, block_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    let mut spans: HashMap<AthleteId, Vec<BlockSpan>> = HashMap::new();
    for row in rows {
        let athlete = AthleteId(row.athlete_id);
        spans.entry(athlete).or_default().push(row.try_into()?);
    }
    Ok(spans)
}

async fn openings(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Vec<GateOpening>>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<(Uuid, Uuid, Date, String)> = sqlx::query_as(
        "select athlete_id, movement_id, on_date, reason from gate_openings
         where gym_id = $1 and athlete_id = any($2) order by on_date, opening_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    let mut openings: HashMap<AthleteId, Vec<GateOpening>> = HashMap::new();
    for (athlete, movement, on, reason) in rows {
        openings
            .entry(AthleteId(athlete))
            .or_default()
            .push(GateOpening {
                movement: MovementId(movement),
                on,
                reason,
            });
    }
    Ok(openings)
}

/// Pain in revisions that were replaced, of sessions whose newest revision is the athlete's own: who
/// coaches them has looked at what they change themselves.
const UNSAID: &str = "
    select s.athlete_id, s.session_id, s.on_date, s.pain, (
        select array_agg(distinct t.movement_id) from logged_sets t
        where t.gym_id = s.gym_id and t.revision_id = s.revision_id
    ) as movements
    from logged_sessions s
    join athletes a on a.gym_id = s.gym_id and a.athlete_id = s.athlete_id
    where s.gym_id = $1 and s.athlete_id = any($2) and s.pain <> '[]'
        and exists (
            select from logged_sessions later
            where later.gym_id = s.gym_id and later.replaces = s.revision_id
        )
        and exists (
            select from logged_sessions newest
            where newest.gym_id = s.gym_id and newest.session_id = s.session_id
                and newest.logged_by = a.person_id
                and not exists (
                    select from logged_sessions later
                    where later.gym_id = newest.gym_id and later.replaces = newest.revision_id
                )
        )
    order by s.on_date, s.revision_id";

#[derive(FromRow)]
struct UnsaidRow {
    athlete_id: Uuid,
    session_id: Uuid,
    on_date: Date,
    pain: Json<Vec<Pain>>,
    movements: Option<Vec<Uuid>>,
}

async fn unsaid(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Vec<UnsaidPain>>, StoreError> {
    let rows: Vec<UnsaidRow> = sqlx::query_as(UNSAID)
        .bind(tx.gym().0)
        .bind(uuids(athletes))
        .fetch_all(tx.conn())
        .await?;
    let mut unsaid: HashMap<AthleteId, Vec<UnsaidPain>> = HashMap::new();
    for row in rows {
        let movement = match row.movements.as_deref() {
            Some([only]) => Some(MovementId(*only)),
            _ => None,
        };
        let own = unsaid.entry(AthleteId(row.athlete_id)).or_default();
        own.extend(row.pain.0.into_iter().map(|pain| UnsaidPain {
            session: SessionId(row.session_id),
            on: row.on_date,
            movement,
            pain,
        }));
    }
    Ok(unsaid)
}

async fn excused(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Vec<(Date, Date)>>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<(Uuid, Date, Date)> = sqlx::query_as(
        "select athlete_id, first_day, last_day from excused
         where gym_id = $1 and athlete_id = any($2) and taken_back_at is null
         order by first_day, excused_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    let mut excused: HashMap<AthleteId, Vec<(Date, Date)>> = HashMap::new();
    for (athlete, first, last) in rows {
        excused
            .entry(AthleteId(athlete))
            .or_default()
            .push((first, last));
    }
    Ok(excused)
}
