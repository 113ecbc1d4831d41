//! Care of clubs: what inspections found, which loadable clubs are due for the next, and what is out of
//! use. All of it is only ever added to.

use leverbook_domain::club::care::{Found, Inspection, OutOfUse, UseChange, Why, inspect_by};
use leverbook_domain::id::{AthleteId, ClubId, DecisionId, LoadingId};
use leverbook_domain::text::{ClubName, Reason};
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::{GymTx, StoreError, flags};

/// An inspection to be written down by the actor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewInspection {
    /// Made with the form: sent twice, it is written once.
    pub id: DecisionId,
    /// Of which club.
    pub club: ClubId,
    /// When, and in how many days to look again.
    pub inspection: Inspection,
    /// What was found.
    pub found: Found,
    /// In words, where there is more to say.
    pub note: Option<Reason>,
}

/// An inspection in the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inspected {
    /// When, and in how many days to look again.
    pub inspection: Inspection,
    /// What was found.
    pub found: Found,
    /// In words; may be empty.
    pub note: String,
    /// By whom.
    pub by: String,
}

/// Writes an inspection down. One that took the club out of use says so in [`change_use`] besides.
///
/// # Errors
/// A foreign key's [`StoreError::Constraint`] if there is no such club.
pub async fn inspect(
    tx: &mut GymTx,
    new: &NewInspection,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into club_inspections (gym_id, inspection_id, club_id, on_date, found, note,
             next_in_days, inspected_by, recorded_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
         on conflict (gym_id, inspection_id) do nothing",
    )
    .bind(gym.0)
    .bind(new.id.0)
    .bind(new.club.0)
    .bind(new.inspection.on)
    .bind(new.found.word())
    .bind(new.note.as_ref().map_or("", Reason::as_str))
    .bind(i16::try_from(new.inspection.next_in_days).unwrap_or(i16::MAX))
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    Ok(())
}

#[derive(FromRow)]
struct InspectionRow {
    inspection_id: Uuid,
    on_date: Date,
    found: String,
    note: String,
    next_in_days: i16,
    inspected_by: Option<String>,
}

impl TryFrom<InspectionRow> for Inspected {
    type Error = StoreError;

    fn try_from(row: InspectionRow) -> Result<Self, StoreError> {
        let corrupt = |what| StoreError::corrupt("club_inspections", row.inspection_id, what);
        Ok(Self {
            inspection: Inspection {
                on: row.on_date,
                next_in_days: u16::try_from(row.next_in_days)
                    .map_err(|_| corrupt("next_in_days"))?,
            },
            found: Found::from_word(&row.found).ok_or_else(|| corrupt("found"))?,
            note: row.note,
            by: row.inspected_by.unwrap_or_default(),
        })
    }
}

/// A club's inspections, the newest first.
///
/// # Errors
/// [`StoreError`].
pub async fn inspections_of(tx: &mut GymTx, club: ClubId) -> Result<Vec<Inspected>, StoreError> {
    let rows: Vec<InspectionRow> = sqlx::query_as(
        "select i.inspection_id, i.on_date, i.found, i.note, i.next_in_days, who.name as inspected_by
         from club_inspections i
         left join people who on who.gym_id = i.gym_id and who.person_id = i.inspected_by
         where i.gym_id = $1 and i.club_id = $2
         order by i.on_date desc, i.recorded_at desc, i.inspection_id desc",
    )
    .bind(tx.gym().0)
    .bind(club.0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Inspected::try_from).collect()
}

/// A loadable club and the day by which it is to be inspected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inspectable {
    /// Which.
    pub club: ClubId,
    /// What it is called.
    pub name: ClubName,
    /// Whose own it is.
    pub owner: Option<AthleteId>,
    /// The last inspection in the book.
    pub last: Option<Inspection>,
    /// The last day on which the next is in time.
    pub by: Date,
}

impl Inspectable {
    /// Whether that day is past.
    #[must_use]
    pub fn is_overdue(&self, today: Date) -> bool {
        self.by < today
    }
}

#[derive(FromRow)]
struct InspectableRow {
    club_id: Uuid,
    name: String,
    athlete_id: Option<Uuid>,
    since: Date,
    on_date: Option<Date>,
    next_in_days: Option<i16>,
}

/// Every loadable club in the rack, the one longest due first.
///
/// # Errors
/// [`StoreError`].
pub async fn inspectable(tx: &mut GymTx) -> Result<Vec<Inspectable>, StoreError> {
    let rows: Vec<InspectableRow> = sqlx::query_as(
        "select c.club_id, c.name, c.athlete_id, (c.created_at at time zone g.time_zone)::date as since,
             last.on_date, last.next_in_days
         from clubs c
         join gyms g on g.gym_id = c.gym_id
         left join lateral (
             select i.on_date, i.next_in_days from club_inspections i
             where i.gym_id = c.gym_id and i.club_id = c.club_id
             order by i.on_date desc, i.recorded_at desc, i.inspection_id desc limit 1
         ) last on true
         where c.gym_id = $1 and c.loadable and c.retired_at is null",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    let mut clubs: Vec<Inspectable> = rows
        .into_iter()
        .map(|row| {
            let last = row.on_date.zip(row.next_in_days);
            let last = last.map(|(on, days)| Inspection {
                on,
                next_in_days: days.unsigned_abs(),
            });
            Ok(Inspectable {
                club: ClubId(row.club_id),
                name: ClubName::new(&row.name)
                    .map_err(|error| StoreError::corrupt("clubs", row.club_id, error))?,
                owner: row.athlete_id.map(AthleteId),
                last,
                by: inspect_by(last, row.since),
            })
        })
        .collect::<Result<_, StoreError>>()?;
    clubs.sort_by(|a, b| a.by.cmp(&b.by).then_with(|| a.name.cmp(&b.name)));
    Ok(clubs)
}

/// A change of use to be written down by the actor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewUseChange {
    /// Made with the form: sent twice, it is written once.
    pub id: DecisionId,
    /// What changes.
    pub change: UseChange,
    /// In words, where there is more to say.
    pub note: Option<Reason>,
}

/// A change of use in the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangedUse {
    /// What changed.
    pub change: UseChange,
    /// In words; may be empty.
    pub note: String,
    /// Who decided it.
    pub by: String,
}

/// Puts a club or a loading out of use from a day, or back. The rules see it when flags are next worked
/// out, within a minute.
///
/// # Errors
/// A foreign key's [`StoreError::Constraint`] if there is no such club or loading.
pub async fn change_use(
    tx: &mut GymTx,
    new: &NewUseChange,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into use_changes (gym_id, change_id, club_id, loading_id, from_date, why, note,
             decided_by, decided_at)
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
         on conflict (gym_id, change_id) do nothing",
    )
    .bind(gym.0)
    .bind(new.id.0)
    .bind(new.change.club.0)
    .bind(new.change.loading.map(|loading| loading.0))
    .bind(new.change.from)
    .bind(new.change.out.map(Why::word))
    .bind(new.note.as_ref().map_or("", Reason::as_str))
    .bind(actor.0)
    .bind(now)
    .execute(tx.conn())
    .await?;
    flags::outdate_all(tx).await
}

#[derive(FromRow)]
struct UseRow {
    change_id: Uuid,
    club_id: Uuid,
    loading_id: Option<Uuid>,
    from_date: Date,
    why: Option<String>,
    note: String,
    decided_by: Option<String>,
}

impl TryFrom<UseRow> for ChangedUse {
    type Error = StoreError;

    fn try_from(row: UseRow) -> Result<Self, StoreError> {
        let why = row.why.as_deref().map(|word| {
            Why::from_word(word)
                .ok_or_else(|| StoreError::corrupt("use_changes", row.change_id, "why"))
        });
        Ok(Self {
            change: UseChange {
                club: ClubId(row.club_id),
                loading: row.loading_id.map(LoadingId),
                from: row.from_date,
                out: why.transpose()?,
            },
            note: row.note,
            by: row.decided_by.unwrap_or_default(),
        })
    }
}

/// Changes of use up to a day, of one club or of all, in the order in which they were written.
async fn use_changes(
    tx: &mut GymTx,
    club: Option<ClubId>,
    until: Date,
) -> Result<Vec<ChangedUse>, StoreError> {
    let rows: Vec<UseRow> = sqlx::query_as(
        "select u.change_id, u.club_id, u.loading_id, u.from_date, u.why, u.note,
             who.name as decided_by
         from use_changes u
         left join people who on who.gym_id = u.gym_id and who.person_id = u.decided_by
         where u.gym_id = $1 and ($2::uuid is null or u.club_id = $2) and u.from_date <= $3
         order by u.decided_at, u.change_id",
    )
    .bind(tx.gym().0)
    .bind(club.map(|club| club.0))
    .bind(until)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(ChangedUse::try_from).collect()
}

/// Every change of a club's use, those ahead too, in the order in which they were written.
///
/// # Errors
/// [`StoreError`].
pub async fn use_changes_of(tx: &mut GymTx, club: ClubId) -> Result<Vec<ChangedUse>, StoreError> {
    use_changes(tx, Some(club), crate::log::LAST_DAY).await
}

/// What is out of use in the gym on a day.
///
/// # Errors
/// [`StoreError`].
pub async fn out_of_use(tx: &mut GymTx, day: Date) -> Result<OutOfUse, StoreError> {
    let changes: Vec<UseChange> = use_changes(tx, None, day)
        .await?
        .into_iter()
        .map(|changed| changed.change)
        .collect();
    Ok(OutOfUse::on(day, &changes))
}
