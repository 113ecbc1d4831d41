//! What the rules found, and what coaches decided about it.
//!
//! Flags and next steps are a pure function of history, policy and day. They are kept so that a
//! page is fast, written in the transaction that wrote the log, and can be rebuilt from nothing to
//! the same rows. Decisions are people's: they are only ever added to, and outlive the flag.

use std::collections::{BTreeMap, HashMap};

use leverbook_domain::club::care::OutOfUse;
use leverbook_domain::id::{AccountId, AthleteId, DecisionId, FlagId, GymId, MovementId};
use leverbook_domain::next_step::{self, NextStep};
use leverbook_domain::policy::{AthletePolicy, Effect, ExceptionsNumber, Policy, PolicyVersion};
use leverbook_domain::progress;
use leverbook_domain::rules::{self, Episode, Flag, Severity};
use leverbook_domain::training::{Hands, History};
use sqlx::FromRow;
use sqlx::types::Json;
use time::macros::date;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::athletes::uuids;
use crate::log::{NewRevision, RecordError, Recorded};
use crate::names::GymNames;
use crate::{GymTx, Store, StoreError, care, history, log, policies};

/// How many athletes' histories are held in memory at once, and reassessed in one transaction when a
/// day begins.
const BATCH: u8 = 20;

/// Works out an athlete's flags and next steps as of today and keeps them. To be called in the
/// transaction of every write that the rules can see: log, blocks, clubs, excused days, openings,
/// status, policy.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has no such athlete.
pub async fn reassess(tx: &mut GymTx, athlete: AthleteId, today: Date) -> Result<(), StoreError> {
    reassess_all(tx, &[athlete], today).await
}

/// Writes one revision into the log, with the flags that follow from it: both stand once the
/// transaction is committed, or neither.
///
/// # Errors
/// As [`log::record`].
pub async fn record(
    tx: &mut GymTx,
    new: &NewRevision,
    today: Date,
) -> Result<Recorded, RecordError> {
    let recorded = log::record(tx, new).await?;
    if recorded == Recorded::Stored {
        reassess(tx, new.athlete, today).await?;
    }
    Ok(recorded)
}

/// [`reassess`] for several athletes, in order of id so that two of these never wait for each
/// other.
///
/// # Errors
/// As [`reassess`].
pub async fn reassess_all(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    today: Date,
) -> Result<(), StoreError> {
    let mut in_order = athletes.to_vec();
    in_order.sort_unstable();
    in_order.dedup();
    log::hold_all(tx, &in_order).await?;
    let mut ground = Ground::load(tx, &in_order, today).await?;
    for some in in_order.chunks(BATCH.into()) {
        ground.policies = policies::of_athletes(tx, some).await?;
        let mut histories = history::load_many(tx, some).await?;
        for (_, history) in &mut histories {
            history.leave_out(&ground.out);
        }
        keep(tx, &histories, &ground).await?;
    }
    Ok(())
}

/// What other policies would turn for these athletes, told before any is saved: in order of id, without
/// those for whom nothing changes. `then` gives an athlete's policy as it would be.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn foresee(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    today: Date,
    then: impl Fn(&AthletePolicy) -> Policy,
) -> Result<Vec<(AthleteId, Effect)>, StoreError> {
    let mut ground = Ground::load(tx, athletes, today).await?;
    let mut effects = Vec::new();
    for some in athletes.chunks(BATCH.into()) {
        ground.policies = policies::of_athletes(tx, some).await?;
        for (athlete, mut history) in history::load_many(tx, some).await? {
            history.leave_out(&ground.out);
            let now = ground.policy_of(athlete)?;
            let is_settled = |flag: &Flag| ground.is_settled(athlete, flag);
            let both = [now.own(), &then(now)];
            let effect = Effect::of(&history, both, &is_settled, today, &ground.names);
            if !effect.is_none() {
                effects.push((athlete, effect));
            }
        }
    }
    effects.sort_by_key(|(athlete, _)| *athlete);
    Ok(effects)
}

/// What is worked with beside a history.
struct Ground {
    /// Of those whose histories are held.
    policies: HashMap<AthleteId, AthletePolicy>,
    names: GymNames,
    decided: HashMap<FlagId, FlagDecision>,
    /// What cannot be picked up today.
    out: OutOfUse,
    today: Date,
}

impl Ground {
    async fn load(tx: &mut GymTx, athletes: &[AthleteId], today: Date) -> Result<Self, StoreError> {
        Ok(Self {
            policies: HashMap::new(),
            names: GymNames::load(tx).await?,
            decided: last_decisions(tx, athletes).await?,
            out: care::out_of_use(tx, today).await?,
            today,
        })
    }

    fn policy_of(&self, athlete: AthleteId) -> Result<&AthletePolicy, StoreError> {
        self.policies.get(&athlete).ok_or(StoreError::NotFound)
    }

    /// Whether a coach closed or quieted this flag, so that nothing waits for it.
    fn is_settled(&self, athlete: AthleteId, flag: &Flag) -> bool {
        let last = self.decided.get(&flag.id(athlete));
        !Life::of(flag.severity, last, self.today).is_open()
    }
}

/// Clears an athlete's flags and works them out again from the log alone.
///
/// # Errors
/// As [`reassess`].
pub async fn rebuild(tx: &mut GymTx, athlete: AthleteId, today: Date) -> Result<(), StoreError> {
    log::hold(tx, athlete).await?;
    let gym = tx.gym();
    sqlx::query("delete from flags where gym_id = $1 and athlete_id = $2")
        .bind(gym.0)
        .bind(athlete.0)
        .execute(tx.conn())
        .await?;
    reassess(tx, athlete, today).await
}

/// A day before every training day: flags worked out then are out of date.
const NEVER: Date = date!(1950 - 01 - 01);

/// Marks every athlete's flags as out of date, because what they share has changed: the rack. They
/// are worked out again by [`bring_up_to_date`], within a minute and whenever a review is opened.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn outdate_all(tx: &mut GymTx) -> Result<(), StoreError> {
    let gym = tx.gym();
    // In order of id, like everybody who writes several of these rows.
    sqlx::query(
        "with held as (
             select gym_id, athlete_id from assessments where gym_id = $1
             order by athlete_id for no key update
         )
         update assessments a set as_of = $2 from held
         where a.gym_id = $1 and a.gym_id = held.gym_id and a.athlete_id = held.athlete_id",
    )
    .bind(gym.0)
    .bind(NEVER)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// The same for one athlete, whose status or start has changed.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn outdate(tx: &mut GymTx, athlete: AthleteId) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query("update assessments set as_of = $3 where gym_id = $1 and athlete_id = $2")
        .bind(gym.0)
        .bind(athlete.0)
        .bind(NEVER)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Athletes whose flags were last worked out before today, or before the day they left, or under
/// another policy: the first few by id, held until the transaction ends.
const OUT_OF_DATE: &str = "
    select a.athlete_id from athletes a
    where a.gym_id = $1 and not exists (
        select from assessments s
        where s.gym_id = a.gym_id and s.athlete_id = a.athlete_id and s.policy_version = $4
            and s.exceptions = coalesce(
                (select max(e.nth) from policy_exceptions e
                 where e.gym_id = a.gym_id and e.athlete_id = a.athlete_id), 0)
            and s.as_of >= case a.status when 'left' then least(a.status_since, $2) else $2 end
    )
    order by a.athlete_id limit $3
    for no key update of a";

/// Brings every athlete's flags up to today: some conditions begin or end because days pass, not
/// because somebody logs. Small transactions, so that nobody who logs has to wait long; says how
/// many athletes were brought up to date.
///
/// # Errors
/// [`StoreError`] when the database fails; the athletes done by then stay done.
pub async fn bring_up_to_date(
    store: &Store,
    gym: GymId,
    actor: AccountId,
    today: Date,
) -> Result<usize, StoreError> {
    let mut done = 0;
    loop {
        let mut tx = store.enter(gym, actor).await?;
        let policy = policies::in_force(&mut tx).await?.version;
        let ids: Vec<Uuid> = sqlx::query_scalar(OUT_OF_DATE)
            .bind(gym.0)
            .bind(today)
            .bind(i64::from(BATCH))
            .bind(policy.0)
            .fetch_all(tx.conn())
            .await?;
        if ids.is_empty() {
            return Ok(done);
        }
        done += ids.len();
        let athletes: Vec<AthleteId> = ids.into_iter().map(AthleteId).collect();
        reassess_all(&mut tx, &athletes, today).await?;
        tx.commit().await?;
    }
}

/// Writes what the rules say of these histories. Rows that say the same already are left alone.
async fn keep(
    tx: &mut GymTx,
    histories: &[(AthleteId, History)],
    ground: &Ground,
) -> Result<(), StoreError> {
    let Ground { names, today, .. } = ground;
    let today = *today;
    let mut found = Vec::new();
    let (mut steps, mut progress, mut versions, mut exceptions) = (vec![], vec![], vec![], vec![]);
    for (athlete, history) in histories {
        let judged_by = ground.policy_of(*athlete)?;
        let policy = judged_by.own();
        let episodes = rules::episodes(history, policy, today);
        let settled = |flag: &Flag| ground.is_settled(*athlete, flag);
        steps.push(Json(next_step::propose(
            history, policy, &episodes, &settled, today, names,
        )));
        progress.push(Json(progress::latest(history, policy, today)));
        versions.push(policy.version.0);
        exceptions.push(judged_by.exceptions().number().0);
        found.push((*athlete, judged_by, episodes));
    }
    write_flags(tx, &found).await?;
    let gym = tx.gym();
    let athletes: Vec<Uuid> = histories.iter().map(|(athlete, _)| athlete.0).collect();
    sqlx::query(UPSERT_ASSESSMENTS)
        .bind(gym.0)
        .bind(today)
        .bind(athletes)
        .bind(steps)
        .bind(progress)
        .bind(versions)
        .bind(exceptions)
        .execute(tx.conn())
        .await?;
    Ok(())
}

const UPSERT_ASSESSMENTS: &str = "
    insert into assessments (gym_id, athlete_id, as_of, next_steps, progress, policy_version, exceptions)
    select $1, athlete_id, $2, next_steps, progress, policy_version, exceptions
    from unnest($3::uuid[], $4::jsonb[], $5::jsonb[], $6::integer[], $7::integer[])
        as new (athlete_id, next_steps, progress, policy_version, exceptions)
    on conflict (gym_id, athlete_id) do update set
        as_of = excluded.as_of,
        next_steps = excluded.next_steps,
        progress = excluded.progress,
        policy_version = excluded.policy_version,
        exceptions = excluded.exceptions";

const DELETE_VANISHED: &str = "
    delete from flags where gym_id = $1 and athlete_id = any($2) and flag_id <> all($3)";

const UPSERT_FLAGS: &str = "
    insert into flags (
        gym_id, flag_id, athlete_id, rule, severity, since, until, flag, policy_version, exceptions
    )
    select $1, flag_id, athlete_id, rule, severity, since, until, flag, policy_version, exceptions
    from unnest(
        $2::uuid[], $3::uuid[], $4::text[], $5::text[], $6::date[], $7::date[], $8::jsonb[],
        $9::integer[], $10::integer[]
    ) as found (
        flag_id, athlete_id, rule, severity, since, until, flag, policy_version, exceptions
    )
    on conflict (gym_id, flag_id) do update set
        severity = excluded.severity,
        since = excluded.since,
        until = excluded.until,
        flag = excluded.flag,
        policy_version = excluded.policy_version,
        exceptions = excluded.exceptions
    where (
            flags.severity, flags.since, flags.until, flags.flag, flags.policy_version,
            flags.exceptions
        ) is distinct from (
            excluded.severity, excluded.since, excluded.until, excluded.flag,
            excluded.policy_version, excluded.exceptions
        )";

/// What the rules found of one athlete, and by which policy.
type Judged<'a> = (AthleteId, &'a AthletePolicy, Vec<Episode>);

async fn write_flags(tx: &mut GymTx, judged: &[Judged<'_>]) -> Result<(), StoreError> {
    // Two sessions of one day can say the same thing about the same subject. It is one flag: the
    // one that still stands, else the one that stood longest.
    let mut found: BTreeMap<FlagId, (AthleteId, &AthletePolicy, &Episode)> = BTreeMap::new();
    for (athlete, judged_by, episodes) in judged {
        for episode in episodes {
            let id = episode.flag.id(*athlete);
            let lasting = |episode: &Episode| episode.until.unwrap_or(Date::MAX);
            if found
                .get(&id)
                .is_none_or(|(_, _, other)| lasting(other) < lasting(episode))
            {
                found.insert(id, (*athlete, judged_by, episode));
            }
        }
    }
    let ids: Vec<Uuid> = found.keys().map(|id| id.0).collect();
    let gym = tx.gym();
    sqlx::query(DELETE_VANISHED)
        .bind(gym.0)
        .bind(judged.iter().map(|(id, ..)| id.0).collect::<Vec<_>>())
        .bind(&ids)
        .execute(tx.conn())
        .await?;
    if found.is_empty() {
        return Ok(());
    }
    let flags = || found.values().map(|(_, _, episode)| &episode.flag);
    let athletes: Vec<Uuid> = found.values().map(|(athlete, ..)| athlete.0).collect();
    let rules: Vec<&str> = flags().map(|flag| flag.rule.id()).collect();
    let severities: Vec<&str> = flags().map(|flag| flag.severity.word()).collect();
    let since: Vec<Date> = flags().map(|flag| flag.since).collect();
    let until: Vec<Option<Date>> = found
        .values()
        .map(|(_, _, episode)| episode.until)
        .collect();
    let bodies: Vec<Json<&Flag>> = flags().map(Json).collect();
    let policies = || found.values().map(|(_, judged_by, _)| judged_by);
    let versions: Vec<i32> = policies().map(|by| by.own().version.0).collect();
    let exceptions: Vec<i32> = policies().map(|by| by.exceptions().number().0).collect();
    sqlx::query(UPSERT_FLAGS)
        .bind(gym.0)
        .bind(ids)
        .bind(athletes)
        .bind(rules)
        .bind(severities)
        .bind(since)
        .bind(until)
        .bind(bodies)
        .bind(versions)
        .bind(exceptions)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// A flag as kept.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptFlag {
    /// Its id.
    pub id: FlagId,
    /// Whose.
    pub athlete: AthleteId,
    /// What it says.
    pub flag: Flag,
    /// The day its condition ended; `None` while it stands.
    pub until: Option<Date>,
    /// The gym's policy that it was worked out with.
    pub policy: PolicyVersion,
    /// The athlete's exceptions from it that it was worked out with.
    pub exceptions: ExceptionsNumber,
    /// What coaches decided about it, oldest first.
    pub decisions: Vec<FlagDecision>,
}

/// One decision about a flag.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlagDecision {
    /// What.
    pub verdict: Verdict,
    /// Why, in the coach's words.
    pub reason: String,
    /// The severity that the flag had then.
    pub severity: Severity,
    /// Who.
    pub by: AccountId,
    /// When.
    pub at: OffsetDateTime,
}

/// What a coach does about a flag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Seen, nothing more: a stop still stops.
    Seen,
    /// Not to be shown before this day is over.
    Quieted {
        /// Its last quiet day.
        until: Date,
    },
    /// Dealt with.
    Closed,
    /// To be looked at again after all.
    Reopened,
}

impl Verdict {
    const fn word(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Quieted { .. } => "quieted",
            Self::Closed => "closed",
            Self::Reopened => "reopened",
        }
    }

    const fn quiet_until(self) -> Option<Date> {
        match self {
            Self::Quieted { until } => Some(until),
            Self::Seen | Self::Closed | Self::Reopened => None,
        }
    }
}

/// Where a standing flag is in its life, on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Life {
    /// Nobody has decided anything, or a quiet time is over.
    Fresh,
    /// Worse than when it was last decided: it is back.
    Worse,
    /// A coach reopened it.
    Reopened,
    /// A coach has seen it and it goes on.
    Seen,
    /// Quiet up to and including this day.
    Quiet {
        /// The last quiet day.
        until: Date,
    },
    /// A coach closed it with a reason.
    Closed,
}

impl Life {
    /// What the last decision makes of a flag of this severity.
    fn of(severity: Severity, last: Option<&FlagDecision>, today: Date) -> Self {
        let Some(last) = last else {
            return Self::Fresh;
        };
        if severity > last.severity {
            return Self::Worse;
        }
        match last.verdict {
            Verdict::Seen => Self::Seen,
            Verdict::Quieted { until } if today <= until => Self::Quiet { until },
            Verdict::Quieted { .. } => Self::Fresh,
            Verdict::Closed => Self::Closed,
            Verdict::Reopened => Self::Reopened,
        }
    }

    /// Whether the coach should still look.
    #[must_use]
    pub const fn wants_the_coach(self) -> bool {
        matches!(self, Self::Fresh | Self::Worse | Self::Reopened)
    }

    /// Whether it is to be shown at all among what stands.
    #[must_use]
    pub const fn is_open(self) -> bool {
        !matches!(self, Self::Quiet { .. } | Self::Closed)
    }
}

impl KeptFlag {
    /// Where it is in its life today. Closed and quieted flags come back when they worsen; a new
    /// episode is another flag and begins fresh.
    #[must_use]
    pub fn life(&self, today: Date) -> Life {
        Life::of(self.flag.severity, self.decisions.last(), today)
    }

    /// L4: whether planned work waits because of it. Seeing is not deciding: work goes on once a
    /// coach has closed the flag or quieted it, with a reason.
    #[must_use]
    pub fn holds_work(&self, today: Date) -> bool {
        self.until.is_none() && self.flag.severity == Severity::Stop && self.life(today).is_open()
    }
}

#[derive(FromRow)]
struct FlagRow {
    flag_id: Uuid,
    athlete_id: Uuid,
    until: Option<Date>,
    flag: Json<serde_json::Value>,
    policy_version: i32,
    exceptions: i32,
}

#[derive(FromRow)]
struct DecisionRow {
    flag_id: Uuid,
    kind: String,
    quiet_until: Option<Date>,
    severity: String,
    reason: String,
    decided_by: Uuid,
    decided_at: OffsetDateTime,
}

impl TryFrom<DecisionRow> for FlagDecision {
    type Error = StoreError;

    fn try_from(row: DecisionRow) -> Result<Self, StoreError> {
        let corrupt = |what| StoreError::corrupt("flag_decisions", row.flag_id, what);
        let verdict = match (row.kind.as_str(), row.quiet_until) {
            ("seen", _) => Verdict::Seen,
            ("quieted", Some(until)) => Verdict::Quieted { until },
            ("closed", _) => Verdict::Closed,
            ("reopened", _) => Verdict::Reopened,
            _ => return Err(corrupt("kind")),
        };
        Ok(Self {
            verdict,
            severity: Severity::from_word(&row.severity).ok_or_else(|| corrupt("severity"))?,
            reason: row.reason,
            by: AccountId(row.decided_by),
            at: row.decided_at,
        })
    }
}

async fn with_decisions(tx: &mut GymTx, rows: Vec<FlagRow>) -> Result<Vec<KeptFlag>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.flag_id).collect();
    let gym = tx.gym();
    let decided: Vec<DecisionRow> = sqlx::query_as(
        "select flag_id, kind, quiet_until, severity, reason, decided_by, decided_at
         from flag_decisions where gym_id = $1 and flag_id = any($2)
         order by nth",
    )
    .bind(gym.0)
    .bind(ids)
    .fetch_all(tx.conn())
    .await?;
    let mut decisions: HashMap<Uuid, Vec<FlagDecision>> = HashMap::new();
    for row in decided {
        decisions
            .entry(row.flag_id)
            .or_default()
            .push(row.try_into()?);
    }
    rows.into_iter()
        .map(|row| {
            let flag = serde_json::from_value(row.flag.0)
                .map_err(|error| StoreError::corrupt("flags", row.flag_id, error))?;
            Ok(KeptFlag {
                id: FlagId(row.flag_id),
                athlete: AthleteId(row.athlete_id),
                flag,
                until: row.until,
                policy: PolicyVersion(row.policy_version),
                exceptions: ExceptionsNumber(row.exceptions),
                decisions: decisions.remove(&row.flag_id).unwrap_or_default(),
            })
        })
        .collect()
}

/// The last decision about each flag of these athletes.
async fn last_decisions(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<FlagId, FlagDecision>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<DecisionRow> = sqlx::query_as(
        "select distinct on (flag_id)
             flag_id, kind, quiet_until, severity, reason, decided_by, decided_at
         from flag_decisions where gym_id = $1 and athlete_id = any($2)
         order by flag_id, decided_at desc, decision_id desc",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter()
        .map(|row| Ok((FlagId(row.flag_id), row.try_into()?)))
        .collect()
}

/// The flags of these athletes whose condition holds, by athlete, the gravest first; with what was
/// decided, so that [`KeptFlag::life`] tells which to show.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn standing_for(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<Vec<KeptFlag>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<FlagRow> = sqlx::query_as(
        "select flag_id, athlete_id, until, flag, policy_version, exceptions from flags
         where gym_id = $1 and athlete_id = any($2) and until is null
         order by athlete_id, array_position(array['stop', 'look', 'note'], severity),
             since desc, rule, flag_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    with_decisions(tx, rows).await
}

/// The flags of these athletes whose condition held on any of these days, in the order of
/// [`standing_for`]: what was true for a day belongs in that week's review too.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn on_days(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    first: Date,
    last: Date,
) -> Result<Vec<KeptFlag>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<FlagRow> = sqlx::query_as(
        "select flag_id, athlete_id, until, flag, policy_version, exceptions from flags
         where gym_id = $1 and athlete_id = any($2) and since <= $4 and (until is null or until > $3)
         order by athlete_id, array_position(array['stop', 'look', 'note'], severity),
             since desc, rule, flag_id",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .bind(first)
    .bind(last)
    .fetch_all(tx.conn())
    .await?;
    with_decisions(tx, rows).await
}

/// Every flag that an athlete ever had, newest first.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn story(tx: &mut GymTx, athlete: AthleteId) -> Result<Vec<KeptFlag>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<FlagRow> = sqlx::query_as(
        "select flag_id, athlete_id, until, flag, policy_version, exceptions from flags
         where gym_id = $1 and athlete_id = $2 order by since desc, rule, flag_id",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await?;
    with_decisions(tx, rows).await
}

/// What the rules propose, as of a day.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// Whose.
    pub athlete: AthleteId,
    /// The day that it was worked out for.
    pub as_of: Date,
    /// The proposals.
    pub steps: Vec<NextStep>,
    /// The gym's policy that it was worked out with.
    pub policy: PolicyVersion,
    /// The athlete's exceptions from it that it was worked out with.
    pub exceptions: ExceptionsNumber,
}

impl Assessment {
    /// Whether it says what would be worked out today by this policy.
    #[must_use]
    pub fn is_fresh(&self, today: Date, policy: &AthletePolicy) -> bool {
        self.as_of >= today
            && self.policy == policy.gym().version
            && self.exceptions == policy.exceptions().number()
    }
}

/// What the rules last proposed for these athletes, by athlete.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn assessments(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Assessment>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<(Uuid, Date, Json<serde_json::Value>, i32, i32)> = sqlx::query_as(
        "select athlete_id, as_of, next_steps, policy_version, exceptions from assessments
         where gym_id = $1 and athlete_id = any($2)",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter()
        .map(|(athlete, as_of, Json(steps), version, exceptions)| {
            let steps = serde_json::from_value(steps)
                .map_err(|error| StoreError::corrupt("assessments", athlete, error))?;
            let athlete = AthleteId(athlete);
            let assessment = Assessment {
                athlete,
                as_of,
                steps,
                policy: PolicyVersion(version),
                exceptions: ExceptionsNumber(exceptions),
            };
            Ok((athlete, assessment))
        })
        .collect()
}

/// The movement, and how it is held, that most of these athletes were last seen at; `None` where none of
/// them has worked yet.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn usual_work(
    tx: &mut GymTx,
    athletes: &[AthleteId],
) -> Result<Option<(MovementId, Hands)>, StoreError> {
    let gym = tx.gym();
    let row: Option<(Uuid, String)> = sqlx::query_as(
        "select (work->'key'->>'movement')::uuid as movement, work->'key'->>'hands' as hands
         from assessments a cross join lateral jsonb_array_elements(a.progress) work
         where a.gym_id = $1 and a.athlete_id = any($2)
         group by 1, 2 order by count(*) desc, 1, 2 limit 1",
    )
    .bind(gym.0)
    .bind(uuids(athletes))
    .fetch_optional(tx.conn())
    .await?;
    row.map(|(movement, hands)| {
        let hands = Hands::from_word(&hands)
            .ok_or_else(|| StoreError::corrupt("assessments", movement, "progress"))?;
        Ok((MovementId(movement), hands))
    })
    .transpose()
}

/// A decision to write down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewDecision {
    /// Its id, made with the form: sending it twice decides once.
    pub id: DecisionId,
    /// About which flag.
    pub flag: FlagId,
    /// Whose flag.
    pub athlete: AthleteId,
    /// What.
    pub verdict: Verdict,
    /// Why; at most 400 characters.
    pub reason: String,
    /// When.
    pub at: OffsetDateTime,
}

/// Writes a decision down beside the severity that the flag has now, and works the next steps out
/// again: what waited for it may go on.
///
/// # Errors
/// [`StoreError::NotFound`] where this athlete has no such flag; [`StoreError::Constraint`] for a
/// reason that is too long.
pub async fn decide(tx: &mut GymTx, new: &NewDecision, today: Date) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let severity: String = sqlx::query_scalar(
        "select severity from flags where gym_id = $1 and flag_id = $2 and athlete_id = $3",
    )
    .bind(gym.0)
    .bind(new.flag.0)
    .bind(new.athlete.0)
    .fetch_one(tx.conn())
    .await?;
    sqlx::query(
        "insert into flag_decisions (
             gym_id, decision_id, flag_id, athlete_id, kind, quiet_until, severity, reason,
             decided_by, decided_at
         ) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(new.id.0)
    .bind(new.flag.0)
    .bind(new.athlete.0)
    .bind(new.verdict.word())
    .bind(new.verdict.quiet_until())
    .bind(severity)
    .bind(&new.reason)
    .bind(actor.0)
    .bind(new.at)
    .execute(tx.conn())
    .await?;
    reassess(tx, new.athlete, today).await
}
