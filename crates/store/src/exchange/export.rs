//! Taking files out of a gym: the same that [`super::import()`] reads, and read back to the same.

use std::collections::{BTreeSet, HashMap};

use leverbook_domain::club::ClubMeasure;
use leverbook_domain::id::AthleteId;
use leverbook_domain::roster::Handle;
use sqlx::types::Json;

use super::athletes::{self as athletes_file, AthleteRow};
use super::clubs::{self as clubs_file, ClubRow};
use super::sets::{self as sets_file, LoggedSession, LoggedSet};
use super::{Scope, Writer};
use crate::attendance::Attendance;
use crate::log::{self, FIRST_DAY, LAST_DAY};
use crate::names::GymNames;
use crate::{GymTx, StoreError, athletes, people};

/// The athletes that the scope allows, by handle.
async fn in_scope(tx: &mut GymTx, scope: Scope) -> Result<Vec<athletes::Athlete>, StoreError> {
    let mut all = athletes::all(tx).await?;
    if scope == Scope::Roster {
        let own: BTreeSet<AthleteId> = athletes::rosters(tx)
            .await?
            .into_iter()
            .filter(|(_, coach)| *coach == tx.actor())
            .map(|(athlete, _)| athlete)
            .collect();
        all.retain(|athlete| own.contains(&athlete.id));
    }
    all.sort_by(|a, b| a.handle.cmp(&b.handle));
    Ok(all)
}

/// `athletes.csv`.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn athletes_csv(tx: &mut GymTx, scope: Scope) -> Result<Vec<u8>, StoreError> {
    let emails: HashMap<_, _> = people::list(tx)
        .await?
        .into_iter()
        .map(|person| (person.id, person.email))
        .collect();
    let mut coaches: HashMap<AthleteId, Vec<String>> = HashMap::new();
    for (athlete, coach) in athletes::rosters(tx).await? {
        coaches
            .entry(athlete)
            .or_default()
            .extend(emails.get(&coach).cloned());
    }
    let rows: Vec<AthleteRow> = in_scope(tx, scope)
        .await?
        .into_iter()
        .map(|athlete| {
            let mut coaches = coaches.remove(&athlete.id).unwrap_or_default();
            coaches.sort();
            AthleteRow {
                line: 0,
                athlete: athlete.handle,
                name: athlete.name,
                started_on: athlete.started_on,
                status: athlete.status,
                status_since: athlete.status_since,
                coaches,
                notes: athlete.notes,
            }
        })
        .collect();
    Ok(athletes_file::write(&rows))
}

#[derive(sqlx::FromRow)]
struct LoadingRow {
    name: String,
    measure: Json<ClubMeasure>,
    club: String,
    loadable: bool,
    count: i32,
    owner: Option<String>,
}

/// `clubs.csv`: every loading of the gym, and those that athletes own, retired ones too, since the
/// log may name them.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn clubs_csv(tx: &mut GymTx) -> Result<Vec<u8>, StoreError> {
    let rows: Vec<LoadingRow> = sqlx::query_as(
        "select l.name, l.measure, c.name as club, c.loadable, c.count, a.handle as owner
         from loadings l
         join clubs c on c.gym_id = l.gym_id and c.club_id = l.club_id
         left join athletes a on a.gym_id = c.gym_id and a.athlete_id = c.athlete_id
         where l.gym_id = $1 order by l.name",
    )
    .bind(tx.gym().0)
    .fetch_all(tx.conn())
    .await?;
    let mut clubs = Vec::with_capacity(rows.len());
    for row in rows {
        let corrupt = |what: &str| StoreError::corrupt("loadings", &row.name, what);
        let athlete = match &row.owner {
            None => None,
            Some(handle) => Some(Handle::new(handle).map_err(|_| corrupt("owner's handle"))?),
        };
        clubs.push(ClubRow {
            line: 0,
            part_of: (row.club != row.name).then(|| row.club.clone()),
            loadable: row.loadable,
            count: u16::try_from(row.count).map_err(|_| corrupt("count"))?,
            athlete,
            measure: row.measure.0,
            club: row.name,
        });
    }
    Ok(clubs_file::write(&clubs))
}

/// `sets.csv`: the log as it counts now. Health data: never for an owner.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn sets_csv(tx: &mut GymTx, scope: Scope) -> Result<Vec<u8>, StoreError> {
    let names = GymNames::load(tx).await?;
    let mut sessions = Vec::new();
    for athlete in in_scope(tx, scope).await? {
        let logged = log::between(tx, &[athlete.id], FIRST_DAY, LAST_DAY).await?;
        for session in logged {
            let nameless = |what| StoreError::corrupt("logged_sets", session.revision, what);
            let mut sets = Vec::with_capacity(session.done.sets.len());
            for set in &session.done.sets {
                let movement = names
                    .movement_named(set.movement)
                    .ok_or_else(|| nameless("movement without a name"))?;
                let club = names
                    .club_named(set.loading)
                    .ok_or_else(|| nameless("loading without a name"))?;
                sets.push(LoggedSet {
                    line: 0,
                    movement: movement.into(),
                    hands: set.hands,
                    club: club.into(),
                    side: set.side,
                    work: set.work,
                });
            }
            sessions.push(LoggedSession {
                line: 0,
                athlete: athlete.handle.as_str().into(),
                on: session.done.on,
                session: session.session.to_string().into(),
                minutes: session.done.minutes,
                effort: session.done.effort,
                pain: session.done.pain,
                note: session.done.note.as_str().to_owned(),
                sets,
            });
        }
    }
    Ok(sets_file::write(&sessions))
}

/// A month of attendance: a person a row, a day a column, and the counts. Names and days only.
#[must_use]
pub fn attendance_csv(attendance: &Attendance) -> Vec<u8> {
    let mut writer = Writer::bare();
    let days: Vec<_> = attendance.month.days().collect();
    let mut head = vec!["athlete".to_owned(), "name".to_owned()];
    head.extend(days.iter().map(ToString::to_string));
    head.push("days".to_owned());
    writer.row(&head);
    for person in &attendance.people {
        let mut row = vec![person.handle.clone(), person.name.clone()];
        row.extend(days.iter().map(|day| {
            if person.days.contains(day) {
                "1".to_owned()
            } else {
                String::new()
            }
        }));
        row.push(person.days.len().to_string());
        writer.row(&row);
    }
    let mut foot = vec![String::new(), "everybody".to_owned()];
    foot.extend(attendance.by_day().values().map(ToString::to_string));
    foot.push(attendance.visits().to_string());
    writer.row(&foot);
    writer.finish()
}
