//! The roster: everybody who trains, found by name, status, coach and gravest flag; days that are
//! excused; and who looks after whom.

use leverbook_domain::id::{AccountId, AthleteId, DecisionId};
use leverbook_domain::roster::{ExcusedKind, Handle, PersonName, Status};
use leverbook_domain::rules::Severity;
use leverbook_domain::text::Reason;
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::athletes::{self, Details};
use crate::{GymTx, StoreError, flags, touched};

/// Athletes on one page of the roster.
pub const PAGE: i64 = 50;

/// Whose athletes are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coached {
    /// Everybody.
    ByAnybody,
    /// Nobody looks after them.
    ByNobody,
    /// This coach does.
    By(AccountId),
}

/// What is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Search {
    /// A part of the name or of the handle, in any case; empty finds all.
    pub text: String,
    /// Only those of this status.
    pub status: Option<Status>,
    /// Only those of this coach.
    pub coached: Coached,
    /// Only those with an open flag at least this grave. Flags are health data: only those of the
    /// actor's own athletes are looked at.
    pub at_least: Option<Severity>,
    /// From 1.
    pub page: u32,
}

/// One line of the roster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Who.
    pub id: AthleteId,
    /// Their name.
    pub name: PersonName,
    /// Whether they are here.
    pub status: Status,
    /// Since when.
    pub status_since: Date,
    /// First day of training here.
    pub started_on: Date,
    /// Whether they have an account of their own.
    pub has_account: bool,
    /// Names of their coaches.
    pub coaches: Vec<String>,
    /// What only their coaches see; `None` where the actor is none of them.
    pub closer: Option<Closer>,
}

/// What only an athlete's coaches see on the roster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Closer {
    /// How many flags are open.
    pub open_flags: i64,
    /// The gravest of them.
    pub gravest: Option<Severity>,
    /// The last day with a logged session.
    pub last_session: Option<Date>,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// One page of it, by name.
    pub lines: Vec<Line>,
    /// How many there are on all pages.
    pub total: i64,
}

#[derive(FromRow)]
struct Row {
    athlete_id: Uuid,
    name: String,
    status: String,
    status_since: Date,
    started_on: Date,
    has_account: bool,
    coaches: Vec<String>,
    mine: bool,
    open_flags: i64,
    gravest: Option<i32>,
    last_session: Option<Date>,
    total: i64,
}

impl TryFrom<Row> for Line {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let corrupt = |what: &str| StoreError::corrupt("athletes", row.athlete_id, what);
        let gravest = match row.gravest {
            None => None,
            Some(1) => Some(Severity::Note),
            Some(2) => Some(Severity::Look),
            Some(3) => Some(Severity::Stop),
            Some(_) => return Err(corrupt("severity")),
        };
        let closer = row.mine.then_some(Closer {
            open_flags: row.open_flags,
            gravest,
            last_session: row.last_session,
        });
        Ok(Self {
            id: AthleteId(row.athlete_id),
            name: PersonName::new(&row.name).map_err(|_| corrupt("name"))?,
            status: Status::from_word(&row.status).ok_or_else(|| corrupt("status"))?,
            status_since: row.status_since,
            started_on: row.started_on,
            has_account: row.has_account,
            coaches: row.coaches,
            closer,
        })
    }
}

/// A flag is open while its condition stands, unless a coach's last word about it closed it or
/// quieted it until a day that has not passed, and it has not worsened since: the same as
/// [`flags::Life::is_open`]. Only what is shown on the page is looked up per athlete.
const SEARCH: &str = "
    with open_flags as materialized (
        select f.athlete_id, count(*) as how_many,
            max(array_position(array['note', 'look', 'stop'], f.severity)) as gravest
        from flags f
        join rosters r
            on r.gym_id = f.gym_id and r.athlete_id = f.athlete_id and r.coach_id = $2
        left join lateral (
            select d.kind, d.quiet_until, d.severity from flag_decisions d
            where d.gym_id = f.gym_id and d.flag_id = f.flag_id
            order by d.nth desc limit 1
        ) last on true
        where f.gym_id = $1 and f.until is null
            and (last.kind is null or last.kind in ('seen', 'reopened')
                or (last.kind = 'quieted' and last.quiet_until < $3)
                or array_position(array['note', 'look', 'stop'], f.severity)
                    > array_position(array['note', 'look', 'stop'], last.severity))
        group by f.athlete_id
    ),
    found as materialized (
        select a.athlete_id, a.name, a.status, a.status_since, a.started_on,
            a.person_id is not null as has_account,
            coalesce(o.how_many, 0) as open_flags, o.gravest,
            count(*) over () as total
        from athletes a left join open_flags o on o.athlete_id = a.athlete_id
        where a.gym_id = $1
            and ($4 = '' or a.name ilike '%' || $4 || '%' or a.handle ilike '%' || $4 || '%')
            and ($5::text is null or a.status = $5)
            and ($6::uuid is null or exists (
                select from rosters r
                where r.gym_id = $1 and r.coach_id = $6 and r.athlete_id = a.athlete_id))
            and (not $7 or not exists (
                select from rosters r where r.gym_id = $1 and r.athlete_id = a.athlete_id))
            and ($8::int is null or o.gravest >= $8)
        order by lower(a.name), a.athlete_id
        limit $9 offset $10
    )
    select found.*,
        array(select p.name from rosters r
              join people p on p.gym_id = r.gym_id and p.person_id = r.coach_id
              where r.gym_id = $1 and r.athlete_id = found.athlete_id
              order by lower(p.name)) as coaches,
        exists (select from rosters r
                where r.gym_id = $1 and r.coach_id = $2 and r.athlete_id = found.athlete_id) as mine,
        (select s.on_date from logged_sessions s
         where s.gym_id = $1 and s.athlete_id = found.athlete_id and not s.withdrawn
             and not exists (select from logged_sessions later
                             where later.gym_id = $1 and later.replaces = s.revision_id)
         order by s.on_date desc limit 1) as last_session
    from found order by lower(found.name), found.athlete_id";

/// One page of the roster, for the transaction's actor.
///
/// # Errors
/// [`StoreError`].
pub async fn search(tx: &mut GymTx, wanted: &Search, today: Date) -> Result<Found, StoreError> {
    let coach = match wanted.coached {
        Coached::By(coach) => Some(coach.0),
        Coached::ByAnybody | Coached::ByNobody => None,
    };
    let grave = wanted.at_least.map(|severity| match severity {
        Severity::Note => 1,
        Severity::Look => 2,
        Severity::Stop => 3,
    });
    let (gym, actor) = (tx.gym(), tx.actor());
    let rows: Vec<Row> = sqlx::query_as(SEARCH)
        .bind(gym.0)
        .bind(actor.0)
        .bind(today)
        .bind(like_literal(&wanted.text))
        .bind(wanted.status.map(Status::word))
        .bind(coach)
        .bind(wanted.coached == Coached::ByNobody)
        .bind(grave)
        .bind(PAGE)
        .bind(i64::from(wanted.page.saturating_sub(1)) * PAGE)
        .fetch_all(tx.conn())
        .await?;
    let total = rows.first().map_or(0, |row| row.total);
    let lines = rows
        .into_iter()
        .map(Line::try_from)
        .collect::<Result<_, _>>()?;
    Ok(Found { lines, total })
}

/// The text as a pattern that finds itself: `%`, `_` and `\` stand for themselves.
fn like_literal(text: &str) -> String {
    let mut pattern = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, '%' | '_' | '\\') {
            pattern.push('\\');
        }
        pattern.push(c);
    }
    pattern
}

/// Adds an athlete under the handle that their name suggests, or that with a number where it is
/// taken; these coaches look after them.
///
/// # Errors
/// [`StoreError`].
pub async fn enrol(
    tx: &mut GymTx,
    athlete: AthleteId,
    details: &Details,
    coaches: &[AccountId],
    now: OffsetDateTime,
    today: Date,
) -> Result<(), StoreError> {
    let suggested = details.name.suggested_handle();
    let taken: Vec<String> = sqlx::query_scalar(
        "select handle from athletes where gym_id = $1 and handle like $2 || '%'",
    )
    .bind(tx.gym().0)
    .bind(like_literal(
        &suggested[..suggested.floor_char_boundary(52)],
    ))
    .fetch_all(tx.conn())
    .await?;
    let handle = free_handle(&suggested, &taken)?;
    athletes::add(tx, athlete, &handle, details, now).await?;
    athletes::set_coaches(tx, athlete, coaches).await?;
    flags::reassess(tx, athlete, today).await
}

/// The handle, or the first of `-2`, `-3`, … that nobody has.
fn free_handle(suggested: &str, taken: &[String]) -> Result<Handle, StoreError> {
    (1..)
        .map(|number| match number {
            1 => suggested.to_owned(),
            _ => {
                let ending = format!("-{number}");
                let start: String = suggested.chars().take(60 - ending.len()).collect();
                format!("{start}{ending}")
            }
        })
        .find(|handle| !taken.contains(handle))
        .and_then(|handle| Handle::new(&handle).ok())
        .ok_or_else(|| StoreError::corrupt("athletes", suggested, "handle"))
}

/// Changes an athlete's details and coaches. Coming back from a pause leaves the days of the pause
/// excused.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such athlete.
pub async fn change(
    tx: &mut GymTx,
    athlete: AthleteId,
    details: &Details,
    coaches: &[AccountId],
    pause: DecisionId,
    now: OffsetDateTime,
    today: Date,
) -> Result<(), StoreError> {
    let before = athletes::get(tx, athlete).await?;
    athletes::change(tx, athlete, details).await?;
    athletes::set_coaches(tx, athlete, coaches).await?;
    let is_back = before.status != Status::Active && details.status == Status::Active;
    if let Some(last_day) = details.status_since.previous_day()
        && is_back
        && before.status_since <= last_day
    {
        let reason = match before.status {
            Status::Left => "had left",
            Status::Paused | Status::Active => "paused",
        };
        let days = NewExcused {
            id: pause,
            kind: ExcusedKind::Pause,
            first_day: before.status_since,
            last_day,
            reason: Reason::new(reason)
                .map_err(|error| StoreError::corrupt("excused", pause, error))?,
        };
        insert_excused(tx, athlete, &days, now).await?;
    }
    flags::reassess(tx, athlete, today).await
}

/// Puts an athlete whom nobody looks after on the actor's roster.
///
/// # Errors
/// [`StoreError::NotFound`] if the gym has no such athlete, or somebody looks after them already.
pub async fn take_on(tx: &mut GymTx, athlete: AthleteId) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    // Of two coaches who take somebody on at the same moment, the second finds it done.
    sqlx::query("select from athletes where gym_id = $1 and athlete_id = $2 for update")
        .bind(gym.0)
        .bind(athlete.0)
        .fetch_one(tx.conn())
        .await?;
    let done = sqlx::query(
        "insert into rosters (gym_id, coach_id, athlete_id)
         select $1, $2, $3 where not exists (
             select from rosters where gym_id = $1 and athlete_id = $3)",
    )
    .bind(gym.0)
    .bind(actor.0)
    .bind(athlete.0)
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// The coaches of one athlete.
///
/// # Errors
/// [`StoreError`].
pub async fn coaches_of(tx: &mut GymTx, athlete: AthleteId) -> Result<Vec<AccountId>, StoreError> {
    let ids: Vec<Uuid> = sqlx::query_scalar(
        "select coach_id from rosters where gym_id = $1 and athlete_id = $2 order by coach_id",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    Ok(ids.into_iter().map(AccountId).collect())
}

/// Days that do not count as missed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excused {
    /// Its id.
    pub id: DecisionId,
    /// Why, in one word.
    pub kind: ExcusedKind,
    /// The first day.
    pub first_day: Date,
    /// The last day.
    pub last_day: Date,
    /// Why, in the coach's words. Health data.
    pub reason: String,
    /// Who decided.
    pub decided_by: String,
    /// Whether it was taken back.
    pub taken_back: bool,
}

/// Days to be excused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewExcused {
    /// Its id.
    pub id: DecisionId,
    /// Why, in one word.
    pub kind: ExcusedKind,
    /// The first day.
    pub first_day: Date,
    /// The last day, not before the first.
    pub last_day: Date,
    /// Why, in the coach's words.
    pub reason: Reason,
}

#[derive(FromRow)]
struct ExcusedRow {
    excused_id: Uuid,
    kind: String,
    first_day: Date,
    last_day: Date,
    reason: String,
    decided_by: String,
    taken_back: bool,
}

impl TryFrom<ExcusedRow> for Excused {
    type Error = StoreError;

    fn try_from(row: ExcusedRow) -> Result<Self, StoreError> {
        Ok(Self {
            id: DecisionId(row.excused_id),
            kind: ExcusedKind::from_word(&row.kind)
                .ok_or_else(|| StoreError::corrupt("excused", row.excused_id, "kind"))?,
            first_day: row.first_day,
            last_day: row.last_day,
            reason: row.reason,
            decided_by: row.decided_by,
            taken_back: row.taken_back,
        })
    }
}

/// Every period that was ever excused for an athlete, the newest first.
///
/// # Errors
/// [`StoreError`].
pub async fn excused(tx: &mut GymTx, athlete: AthleteId) -> Result<Vec<Excused>, StoreError> {
    let rows: Vec<ExcusedRow> = sqlx::query_as(
        "select e.excused_id, e.kind, e.first_day, e.last_day, e.reason,
             coalesce(p.name, '') as decided_by, e.taken_back_at is not null as taken_back
         from excused e
         left join people p on p.gym_id = e.gym_id and p.person_id = e.decided_by
         where e.gym_id = $1 and e.athlete_id = $2
         order by e.first_day desc, e.excused_id desc",
    )
    .bind(tx.gym().0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Excused::try_from).collect()
}

/// Excuses days on the actor's word.
///
/// # Errors
/// [`StoreError::Constraint`] `excused_days_in_order`; [`StoreError::NotFound`] if the gym has no
/// such athlete.
pub async fn excuse(
    tx: &mut GymTx,
    athlete: AthleteId,
    days: &NewExcused,
    now: OffsetDateTime,
    today: Date,
) -> Result<(), StoreError> {
    insert_excused(tx, athlete, days, now).await?;
    flags::reassess(tx, athlete, today).await
}

pub(crate) async fn insert_excused(
    tx: &mut GymTx,
    athlete: AthleteId,
    days: &NewExcused,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into excused (gym_id, excused_id, athlete_id, kind, first_day, last_day, reason,
             decided_by, decided_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
    )
    .bind(gym.0)
    .bind(days.id.0)
    .bind(athlete.0)
    .bind(days.kind.word())
    .bind(days.first_day)
    .bind(days.last_day)
    .bind(days.reason.as_str())
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Takes an excuse back: its days count again.
///
/// # Errors
/// [`StoreError::NotFound`] if the athlete has no such excuse, or it was taken back already.
pub async fn take_back_excuse(
    tx: &mut GymTx,
    athlete: AthleteId,
    excused: DecisionId,
    now: OffsetDateTime,
    today: Date,
) -> Result<(), StoreError> {
    let done = sqlx::query(
        "update excused set taken_back_at = $4
         where gym_id = $1 and excused_id = $2 and athlete_id = $3 and taken_back_at is null",
    )
    .bind(tx.gym().0)
    .bind(excused.0)
    .bind(athlete.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    touched(&done)?;
    flags::reassess(tx, athlete, today).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_taken_handle_gets_a_number() {
        let free = |suggested: &str, taken: &[&str]| {
            let taken: Vec<String> = taken.iter().map(|&handle| handle.to_owned()).collect();
            free_handle(suggested, &taken).map(String::from).ok()
        };
        assert_eq!(free("ada-moor", &[]).as_deref(), Some("ada-moor"));
        assert_eq!(
            free("ada-moor", &["ada-moor", "ada-moor-2"]).as_deref(),
            Some("ada-moor-3")
        );
        let long = "ж".repeat(60);
        let next = free(&long, &[&long]).expect("a handle");
        assert_eq!(next.chars().count(), 60);
        assert!(next.ends_with("-2"), "{next}");
    }

    #[test]
    fn a_percent_sign_finds_a_percent_sign() {
        assert_eq!(like_literal(r"50%_\a"), r"50\%\_\\a");
    }
}
