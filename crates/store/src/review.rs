//! The weekly review: a coach's roster in one ISO week, what was decided, and whether the week is
//! closed. Decisions are only ever added; the newest counts.

use std::collections::HashMap;

use leverbook_domain::id::{AccountId, AthleteId, DecisionId, LoadingId, MovementId};
use leverbook_domain::next_step::NextStep;
use leverbook_domain::progress::{Progress, WorkKey};
use leverbook_domain::review::{Instead, SessionWork, Week};
use leverbook_domain::roster::{PersonName, Status};
use leverbook_domain::training::Hands;
use leverbook_domain::units::Seconds;
use sqlx::FromRow;
use sqlx::types::Json;
use time::{Date, OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

use crate::athletes::uuids;
use crate::flags::{self, KeptFlag};
use crate::{GymTx, StoreError, log};

pub mod together;

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
    /// Everything that coaches did about this week, oldest first.
    pub acts: Vec<Act>,
    /// What was decided the week before, with what had been proposed then.
    pub before: Option<(Decision, Vec<NextStep>)>,
    /// What was swung in the week and in the one before, oldest first.
    pub work: Vec<SessionWork>,
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
    /// Its id.
    pub id: DecisionId,
    /// What.
    pub verdict: Verdict,
    /// Why, in the coach's words.
    pub reason: String,
    /// Who, by name.
    pub by: String,
    /// When.
    pub at: OffsetDateTime,
    /// The same by the gym's clock.
    pub local: PrimitiveDateTime,
    /// Whether a note to the athlete went with it.
    pub noted: bool,
    /// The one act in which several were accepted, if it was one, and whose.
    pub together: Option<(Uuid, AccountId)>,
}

/// Something that a coach did about one athlete's week: a decision, or taking one back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    /// What; `None` took a decision back.
    pub verdict: Option<Verdict>,
    /// Why, in the coach's words.
    pub reason: String,
    /// Who, by name.
    pub by: String,
    /// When, by the gym's clock.
    pub local: PrimitiveDateTime,
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
    /// The decision that its coach saw when they made it; `None` where they saw that there was none.
    pub over: Option<DecisionId>,
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
    /// Somebody decided, or took a decision back, after its coach had looked: here is the last of it.
    #[error("this was decided meanwhile")]
    Meanwhile(Box<Act>),
    /// There is no decision to take back.
    #[error("there is no decision to take back")]
    NothingToTakeBack,
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
            and ($5::uuid is null or a.athlete_id = $5)
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

/// A coach's roster in a week, by name: six queries, however many athletes.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn week(
    tx: &mut GymTx,
    coach: AccountId,
    week: Week,
) -> Result<Vec<AthleteWeek>, StoreError> {
    of_roster(tx, coach, week, None).await
}

/// The same of one athlete only; `None` where they are not on the coach's roster.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn week_of(
    tx: &mut GymTx,
    coach: AccountId,
    week: Week,
    athlete: AthleteId,
) -> Result<Option<AthleteWeek>, StoreError> {
    Ok(of_roster(tx, coach, week, Some(athlete)).await?.pop())
}

async fn of_roster(
    tx: &mut GymTx,
    coach: AccountId,
    week: Week,
    only: Option<AthleteId>,
) -> Result<Vec<AthleteWeek>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<WeekRow> = sqlx::query_as(ROSTER_WEEK)
        .bind(gym.0)
        .bind(coach.0)
        .bind(week.monday())
        .bind(week.sunday())
        .bind(only.map(|athlete| athlete.0))
        .fetch_all(tx.conn())
        .await?;
    let athletes: Vec<AthleteId> = rows.iter().map(|row| AthleteId(row.athlete_id)).collect();
    let mut standing: HashMap<AthleteId, Vec<KeptFlag>> = HashMap::new();
    // What ended within the week or the one before it still belongs on the table.
    for flag in flags::on_days(tx, &athletes, week.before().monday(), week.sunday()).await? {
        standing.entry(flag.athlete).or_default().push(flag);
    }
    let mut acts = acts(tx, &athletes, week).await?;
    let mut work = work(tx, &athletes, week).await?;
    rows.into_iter()
        .map(|row| {
            let athlete = AthleteId(row.athlete_id);
            let corrupt = |what: &str| StoreError::corrupt("athletes", row.athlete_id, what);
            let count = |many: i64| u16::try_from(many).unwrap_or(u16::MAX);
            let Acts {
                decision,
                acts,
                before,
            } = acts.remove(&athlete).unwrap_or_default();
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
                decision,
                acts,
                before,
                work: work.remove(&athlete).unwrap_or_default(),
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
    decided_by: Uuid,
    by_name: Option<String>,
    decided_at: OffsetDateTime,
    local: PrimitiveDateTime,
    noted: bool,
    together: Option<Uuid>,
    iso_year: i16,
    iso_week: i16,
}

impl DecisionRow {
    fn corrupt(&self, what: &str) -> StoreError {
        StoreError::corrupt("review_decisions", self.decision_id, what)
    }

    /// `None` where a decision was taken back.
    fn verdict(&self) -> Result<Option<Verdict>, StoreError> {
        match (self.kind.as_str(), &self.decided) {
            ("accept", _) => Ok(Some(Verdict::Accept)),
            ("hold", _) => Ok(Some(Verdict::Hold)),
            ("change", Some(instead)) => Ok(Some(Verdict::Change(instead.0.clone()))),
            ("undo", _) => Ok(None),
            _ => Err(self.corrupt("kind")),
        }
    }

    fn by(&self) -> String {
        let name = self.by_name.as_deref();
        name.unwrap_or("somebody who has left").to_owned()
    }

    fn act(&self) -> Result<Act, StoreError> {
        Ok(Act {
            verdict: self.verdict()?,
            reason: self.reason.clone(),
            by: self.by(),
            local: self.local,
        })
    }

    fn decision(&self) -> Result<Option<Decision>, StoreError> {
        Ok(self.verdict()?.map(|verdict| Decision {
            id: DecisionId(self.decision_id),
            verdict,
            reason: self.reason.clone(),
            by: self.by(),
            at: self.decided_at,
            local: self.local,
            noted: self.noted,
            together: self.together.map(|id| (id, AccountId(self.decided_by))),
        }))
    }
}

/// What coaches did about an athlete in a week, and what they decided the week before.
#[derive(Default)]
struct Acts {
    decision: Option<Decision>,
    acts: Vec<Act>,
    before: Option<(Decision, Vec<NextStep>)>,
}

/// What was done about a week, and the decisions that counted in the week before.
async fn acts(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    week: Week,
) -> Result<HashMap<AthleteId, Acts>, StoreError> {
    #[derive(FromRow)]
    struct Row {
        #[sqlx(flatten)]
        decision: DecisionRow,
        proposal: Option<Json<Vec<NextStep>>>,
    }
    let gym = tx.gym();
    let before = week.before();
    let rows: Vec<Row> = sqlx::query_as(
        "select d.decision_id, d.athlete_id, d.kind, d.decided, d.reason, d.decided_by,
             p.name as by_name, d.decided_at, d.decided_at at time zone g.time_zone as local,
             n.note_id is not null as noted, d.together, d.iso_year, d.iso_week,
             case when d.iso_year = $4 and d.iso_week = $5 then d.proposal end as proposal
         from review_decisions d
         join gyms g on g.gym_id = d.gym_id
         left join people p on p.gym_id = d.gym_id and p.person_id = d.decided_by
         left join coach_notes n on n.gym_id = d.gym_id and n.note_id = d.decision_id
         where d.gym_id = $1 and d.athlete_id = any($6)
             and (d.iso_year, d.iso_week) in (($2, $3), ($4, $5))
         order by d.athlete_id, d.nth",
    )
    .bind(gym.0)
    .bind(iso_year(week))
    .bind(i16::from(week.number()))
    .bind(iso_year(before))
    .bind(i16::from(before.number()))
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    let mut found: HashMap<AthleteId, Acts> = HashMap::new();
    for Row { decision, proposal } in rows {
        let of = found.entry(AthleteId(decision.athlete_id)).or_default();
        let proposed = proposal.map(|json| json.0);
        match proposed {
            Some(proposed) => of.before = decision.decision()?.zip(Some(proposed)),
            None => {
                of.decision = decision.decision()?;
                of.acts.push(decision.act()?);
            }
        }
    }
    Ok(found)
}

/// What was swung in a week and in the one before, a line a session and kind of work.
async fn work(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    week: Week,
) -> Result<HashMap<AthleteId, Vec<SessionWork>>, StoreError> {
    #[derive(FromRow)]
    struct Row {
        athlete_id: Uuid,
        revision_id: Uuid,
        on_date: Date,
        movement_id: Uuid,
        hands: String,
        loading_id: Uuid,
        seconds: Option<i16>,
        reps: i64,
        left_sets: i64,
        right_sets: i64,
    }
    let gym = tx.gym();
    let rows: Vec<Row> = sqlx::query_as(
        "select s.athlete_id, s.revision_id, s.on_date, w.movement_id, w.hands, w.loading_id,
             w.seconds, sum(w.reps) as reps,
             count(*) filter (where w.side = 'left') as left_sets,
             count(*) filter (where w.side = 'right') as right_sets
         from logged_sessions s
         join logged_sets w on w.gym_id = s.gym_id and w.revision_id = s.revision_id
         where s.gym_id = $1 and s.athlete_id = any($2) and s.on_date between $3 and $4
             and not s.withdrawn and not exists (
                 select from logged_sessions later
                 where later.gym_id = $1 and later.replaces = s.revision_id
             )
         group by s.gym_id, s.revision_id, w.movement_id, w.hands, w.loading_id, w.seconds
         order by s.athlete_id, s.on_date, s.session_id, w.movement_id, w.hands, w.loading_id,
             w.seconds",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .bind(week.before().monday())
    .bind(week.sunday())
    .fetch_all(tx.conn())
    .await?;
    let mut found: HashMap<AthleteId, Vec<SessionWork>> = HashMap::new();
    for row in rows {
        let corrupt = |what: &str| StoreError::corrupt("logged_sets", row.revision_id, what);
        let seconds = row.seconds.map(|seconds| {
            u16::try_from(seconds)
                .ok()
                .and_then(|s| Seconds::new(s.into()).ok())
        });
        let seconds = match seconds {
            Some(None) => return Err(corrupt("seconds")),
            Some(known) => known,
            None => None,
        };
        let count = |many: i64| u16::try_from(many).unwrap_or(u16::MAX);
        let one = SessionWork {
            on: row.on_date,
            key: WorkKey {
                movement: MovementId(row.movement_id),
                hands: Hands::from_word(&row.hands).ok_or_else(|| corrupt("hands"))?,
                loading: LoadingId(row.loading_id),
                seconds,
            },
            reps: u32::try_from(row.reps).unwrap_or(u32::MAX),
            left_sets: count(row.left_sets),
            right_sets: count(row.right_sets),
        };
        found
            .entry(AthleteId(row.athlete_id))
            .or_default()
            .push(one);
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
             d.reason, d.decided_by, p.name as by_name, d.decided_at,
             d.decided_at at time zone g.time_zone as local, n.note_id is not null as noted,
             d.together, d.iso_year, d.iso_week
         from review_decisions d
         join gyms g on g.gym_id = d.gym_id
         left join people p on p.gym_id = d.gym_id and p.person_id = d.decided_by
         left join coach_notes n on n.gym_id = d.gym_id and n.note_id = d.decision_id
         where d.gym_id = $1 and d.athlete_id = $2
         order by d.iso_year desc, d.iso_week desc, d.nth desc",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    let mut found = Vec::new();
    for row in rows {
        let week = u8::try_from(row.iso_week)
            .ok()
            .and_then(|number| Week::new(row.iso_year.into(), number).ok())
            .ok_or_else(|| row.corrupt("week"))?;
        if let Some(decision) = row.decision()? {
            found.push((week, decision));
        }
    }
    Ok(found)
}

/// Takes hold of the actor's own desk until the transaction ends: nobody decides for them in a week
/// that they are closing.
async fn hold_desk(tx: &mut GymTx) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query("select from people where gym_id = $1 and person_id = $2 for no key update")
        .bind(gym.0)
        .bind(actor.0)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// The last act about an athlete's week, and the decision that counts.
async fn last_act(
    tx: &mut GymTx,
    athlete: AthleteId,
    week: Week,
) -> Result<(Option<Act>, Option<DecisionId>), StoreError> {
    let Acts { decision, acts, .. } = acts(tx, &[athlete], week)
        .await?
        .remove(&athlete)
        .unwrap_or_default();
    Ok((
        acts.into_iter().last(),
        decision.map(|decision| decision.id),
    ))
}

/// Takes a decision and writes the note that goes with it; the same id with the same content twice
/// decides once. Decisions about one athlete go one after the other, and none is put over one that
/// its coach did not see.
///
/// # Errors
/// [`DecideError::Closed`] once the coach has closed the week, [`DecideError::Meanwhile`] where
/// somebody was quicker, [`DecideError::OtherContent`] where the id stands for something else,
/// [`DecideError::NothingToTakeBack`] where nothing was decided.
pub async fn decide(tx: &mut GymTx, new: &NewDecision<'_>) -> Result<(), DecideError> {
    hold_desk(tx).await?;
    log::hold(tx, new.athlete).await?;
    if was_sent_before(tx, new).await? {
        return Ok(());
    }
    if closed_at(tx, tx.actor(), new.week).await?.is_some() {
        return Err(DecideError::Closed);
    }
    let (last, standing) = last_act(tx, new.athlete, new.week).await?;
    if let Some(last) = last.filter(|_| standing != new.over) {
        return Err(DecideError::Meanwhile(Box::new(last)));
    }
    if new.verdict.is_none() && standing.is_none() {
        return Err(DecideError::NothingToTakeBack);
    }
    write(tx, new).await
}

fn in_words(verdict: Option<&Verdict>) -> (&'static str, Option<Json<&Instead>>) {
    match verdict {
        None => ("undo", None),
        Some(Verdict::Accept) => ("accept", None),
        Some(Verdict::Hold) => ("hold", None),
        Some(Verdict::Change(instead)) => ("change", Some(Json(instead))),
    }
}

/// Whether this very decision stands in the book already.
async fn was_sent_before(tx: &mut GymTx, new: &NewDecision<'_>) -> Result<bool, DecideError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let (kind, instead) = in_words(new.verdict.as_ref());
    let same: Option<bool> = sqlx::query_scalar(
        "select d.athlete_id = $3 and d.iso_year = $4 and d.iso_week = $5 and d.kind = $6
             and d.decided is not distinct from $7 and d.reason = $8
             and coalesce(n.body, '') = $9 and d.decided_by = $10
         from review_decisions d
         left join coach_notes n on n.gym_id = d.gym_id and n.note_id = d.decision_id
         where d.gym_id = $1 and d.decision_id = $2",
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
    .fetch_optional(tx.conn())
    .await?;
    match same {
        Some(false) => Err(DecideError::OtherContent),
        Some(true) => Ok(true),
        None => Ok(false),
    }
}

async fn write(tx: &mut GymTx, new: &NewDecision<'_>) -> Result<(), DecideError> {
    let (kind, instead) = in_words(new.verdict.as_ref());
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
        // Two of one id about two athletes at once.
        return Err(DecideError::OtherContent);
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
    hold_desk(tx).await?;
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
