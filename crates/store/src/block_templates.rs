//! Blocks that a gym uses again and again: what they ask, without athlete, club and first day.
//!
//! A template is a row of versions numbered from 1. The newest counts; none is ever changed, so that a
//! block can say what it came from. Two people who change the same version cannot both win: the second
//! meets the key of the first.

use leverbook_domain::id::{BlockTemplateId, MovementId};
use leverbook_domain::plan::{BlockDraft, Scheme, Weekdays};
use sqlx::FromRow;
use sqlx::types::Json;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::blocks::TemplateVersion;
use crate::{GymTx, StoreError, touched};

/// What a version asks.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockPattern {
    /// What the gym calls it, 1 to 80 characters.
    pub name: String,
    /// Movement.
    pub movement: MovementId,
    /// Whether each athlete's values come from their own log.
    pub each_their_own: bool,
    /// What it asks of everybody, or of those whose log says nothing.
    pub scheme: Scheme,
    /// Days of the week.
    pub weekdays: Weekdays,
    /// ISO weeks.
    pub weeks: u8,
    /// Note to the athlete; empty for none.
    pub note: String,
}

impl BlockPattern {
    /// A draft under a name, without what belongs to one assignment.
    pub fn of(name: String, draft: &BlockDraft, each_their_own: bool) -> Self {
        Self {
            name,
            movement: draft.movement(),
            each_their_own,
            scheme: draft.scheme(),
            weekdays: draft.weekdays(),
            weeks: draft.weeks(),
            note: draft.note().unwrap_or_default().to_owned(),
        }
    }
}

/// One version of a template.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockTemplate {
    /// Which.
    pub at: TemplateVersion,
    /// What it asks.
    pub pattern: BlockPattern,
    /// The movement's name today.
    pub movement_name: String,
    /// Who made this version.
    pub made_by_name: String,
    /// The day, in the gym's zone.
    pub made_on: Date,
    /// Whether it is offered no more.
    pub retired: bool,
    /// Blocks that came from this version.
    pub used: i64,
}

/// Keeps a new template, as its version 1. The same id once more changes nothing.
///
/// # Errors
/// [`StoreError`] when the database fails or refuses.
pub async fn add(
    tx: &mut GymTx,
    template: BlockTemplateId,
    pattern: &BlockPattern,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let added = sqlx::query(
        "insert into block_templates (gym_id, template_id, made_by, made_at)
         values ($1, $2, $3, $4) on conflict do nothing",
    )
    .bind(gym.0)
    .bind(template.0)
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    if added.rows_affected() == 0 {
        return Ok(());
    }
    let first = TemplateVersion {
        template,
        version: 1,
    };
    insert(tx, first, pattern, now).await
}

/// Keeps what a template asks from now on, after the version that was looked at.
///
/// # Errors
/// A refusal of `block_template_versions_pkey` where somebody made the next version meanwhile;
/// of a foreign key where there is no such template.
pub async fn change(
    tx: &mut GymTx,
    looked_at: TemplateVersion,
    pattern: &BlockPattern,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let next = TemplateVersion {
        version: looked_at.version.saturating_add(1),
        ..looked_at
    };
    insert(tx, next, pattern, now).await
}

async fn insert(
    tx: &mut GymTx,
    at: TemplateVersion,
    pattern: &BlockPattern,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into block_template_versions (
             gym_id, template_id, version, name, movement_id, each_their_own, scheme, weekdays,
             weeks, note, made_by, made_at
         ) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)",
    )
    .bind(gym.0)
    .bind(at.template.0)
    .bind(at.version)
    .bind(&pattern.name)
    .bind(pattern.movement.0)
    .bind(pattern.each_their_own)
    .bind(Json(pattern.scheme))
    .bind(pattern.weekdays.iso().map(i16::from).collect::<Vec<i16>>())
    .bind(i16::from(pattern.weeks))
    .bind(&pattern.note)
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Offers a template no more, or again.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has none of this id.
pub async fn retire(
    tx: &mut GymTx,
    template: BlockTemplateId,
    at: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    let retired = sqlx::query(
        "update block_templates set retired_at = $3 where gym_id = $1 and template_id = $2",
    )
    .bind(gym.0)
    .bind(template.0)
    .bind(at)
    .execute(tx.conn())
    .await?;
    touched(&retired)
}

#[derive(FromRow)]
struct Row {
    template_id: Uuid,
    version: i32,
    name: String,
    movement_id: Uuid,
    movement_name: String,
    each_their_own: bool,
    scheme: Json<serde_json::Value>,
    weekdays: Vec<i16>,
    weeks: i16,
    note: String,
    made_by_name: Option<String>,
    made_on: Date,
    retired: bool,
    used: i64,
}

impl TryFrom<Row> for BlockTemplate {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let corrupt = |what: &dyn ToString| {
            StoreError::corrupt("block_template_versions", row.template_id, what.to_string())
        };
        Ok(Self {
            at: TemplateVersion {
                template: BlockTemplateId(row.template_id),
                version: row.version,
            },
            pattern: BlockPattern {
                name: row.name,
                movement: MovementId(row.movement_id),
                each_their_own: row.each_their_own,
                scheme: serde_json::from_value(row.scheme.0).map_err(|error| corrupt(&error))?,
                weekdays: Weekdays::from_iso(row.weekdays.into_iter().map(i64::from))
                    .map_err(|error| corrupt(&error))?,
                weeks: u8::try_from(row.weeks).map_err(|error| corrupt(&error))?,
                note: row.note,
            },
            movement_name: row.movement_name,
            made_by_name: row.made_by_name.unwrap_or_default(),
            made_on: row.made_on,
            retired: row.retired,
            used: row.used,
        })
    }
}

macro_rules! templates {
    ($($condition:literal),+ $(,)?) => {
        concat!(
            "select v.template_id, v.version, v.name, v.movement_id, m.name as movement_name,
                 v.each_their_own, v.scheme, v.weekdays, v.weeks, v.note, who.name as made_by_name,
                 (v.made_at at time zone g.time_zone)::date as made_on,
                 t.retired_at is not null as retired, (
                     select count(*) from blocks b
                     where b.gym_id = v.gym_id and b.template_id = v.template_id
                         and b.template_version = v.version
                 ) as used
             from block_template_versions v
             join block_templates t on t.gym_id = v.gym_id and t.template_id = v.template_id
             join movements m on m.gym_id = v.gym_id and m.movement_id = v.movement_id
             join gyms g on g.gym_id = v.gym_id
             left join people who on who.gym_id = v.gym_id and who.person_id = v.made_by
             where v.gym_id = $1 ",
            $($condition),+
        )
    };
}

/// Every template of the gym with all its versions, by template, the newest version first.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn all(tx: &mut GymTx) -> Result<Vec<Vec<BlockTemplate>>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<Row> = sqlx::query_as(templates!("order by v.template_id, v.version desc"))
        .bind(gym.0)
        .fetch_all(tx.conn())
        .await?;
    let versions: Vec<BlockTemplate> = rows
        .into_iter()
        .map(BlockTemplate::try_from)
        .collect::<Result<_, _>>()?;
    let mut all: Vec<Vec<BlockTemplate>> = versions
        .chunk_by(|one, other| one.at.template == other.at.template)
        .map(<[_]>::to_vec)
        .collect();
    all.sort_by_key(|versions| versions[0].pattern.name.to_lowercase());
    Ok(all)
}

/// The versions of one template, the newest first.
///
/// # Errors
/// [`StoreError::NotFound`] where this gym has none of this id.
pub async fn versions(
    tx: &mut GymTx,
    template: BlockTemplateId,
) -> Result<Vec<BlockTemplate>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<Row> =
        sqlx::query_as(templates!("and v.template_id = $2 order by v.version desc"))
            .bind(gym.0)
            .bind(template.0)
            .fetch_all(tx.conn())
            .await?;
    if rows.is_empty() {
        return Err(StoreError::NotFound);
    }
    rows.into_iter().map(BlockTemplate::try_from).collect()
}
