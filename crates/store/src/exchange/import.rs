//! Bringing files into a gym: all of it or nothing, and the same files twice change nothing.
//!
//! Everything happens in the caller's transaction. A dry run is the same work rolled back, so it
//! cannot say anything else than the real run.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use leverbook_domain::id::{
    AccountId, AthleteId, ClubId, LoadingId, MovementId, RevisionId, SessionId,
};
use leverbook_domain::roster::Handle;
use leverbook_domain::text::{ClubName, Guidance, LoadingName, MovementName};
use leverbook_domain::training::{Note, SetDone};
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use super::athletes::AthleteRow;
use super::clubs::ClubRow;
use super::sets::LoggedSession;
use super::{Limits, Problem, athletes as athletes_file, clubs as clubs_file, sets as sets_file};
use crate::athletes::{self, Details};
use crate::log::{self, Done, FIRST_DAY, LAST_DAY, NewRevision, RecordError};
use crate::people::{self, Role};
use crate::rack::{self, Club, ClubDetails, Loading, MovementDetails, NewLoading};
use crate::{GymTx, StoreError, flags};

/// The three files, in the order in which they are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum File {
    /// `athletes.csv`.
    Athletes,
    /// `clubs.csv`.
    Clubs,
    /// `sets.csv`.
    Sets,
}

impl File {
    /// All of them, in the order in which they are read.
    pub const ALL: [Self; 3] = [Self::Athletes, Self::Clubs, Self::Sets];

    /// The file's name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Athletes => "athletes.csv",
            Self::Clubs => "clubs.csv",
            Self::Sets => "sets.csv",
        }
    }
}

/// What was brought.
#[derive(Debug, Clone, Copy, Default)]
pub struct Files<'a> {
    /// `athletes.csv`, if it was.
    pub athletes: Option<&'a [u8]>,
    /// `clubs.csv`, if it was.
    pub clubs: Option<&'a [u8]>,
    /// `sets.csv`, if it was.
    pub sets: Option<&'a [u8]>,
}

/// Whose rows may be touched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// Athletes on the roster of whoever imports, and new ones.
    Roster,
    /// Everybody: for whoever runs the server.
    WholeGym,
}

/// When and for whom.
#[derive(Debug, Clone, Copy)]
pub struct Import {
    /// Whose rows may be touched.
    pub scope: Scope,
    /// Now.
    pub now: OffsetDateTime,
    /// Today in the gym's zone: no session lies after it.
    pub today: Date,
    /// Whether it will be rolled back; then flags need not be worked out.
    pub dry_run: bool,
}

/// How many rows did what.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counted {
    /// New.
    pub added: usize,
    /// There before, and changed.
    pub changed: usize,
    /// There before, just so.
    pub unchanged: usize,
}

/// What an import did, or would do.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Report {
    /// Athletes.
    pub athletes: Counted,
    /// Clubs and loadings.
    pub clubs: Counted,
    /// Sessions.
    pub sessions: Counted,
    /// Movements that the catalogue did not have.
    pub movements: Vec<String>,
}

/// Why nothing was imported.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// Something in the files is wrong; every problem found.
    #[error("the files have problems, so nothing was imported")]
    Refused(Vec<(File, Problem)>),
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Brings the files in. The caller commits, or drops the transaction for a dry run.
///
/// # Errors
/// [`ImportError::Refused`] with every problem by file, line and column; then the transaction must
/// be dropped.
pub async fn import(tx: &mut GymTx, files: Files<'_>, how: Import) -> Result<Report, ImportError> {
    let mut problems = Problems::default();
    let limits = Limits::default();
    let athlete_rows = problems.read(File::Athletes, files.athletes, |bytes| {
        athletes_file::read(bytes, limits)
    });
    let club_rows = problems.read(File::Clubs, files.clubs, |bytes| {
        clubs_file::read(bytes, limits)
    });
    let session_rows = problems.read(File::Sets, files.sets, |bytes| {
        sets_file::read(bytes, limits)
    });
    // What one file names may be new in another, so names are only looked up once all of them read.
    problems.none()?;

    let athletes = athletes_in(tx, &athlete_rows, how, &mut problems).await?;
    let clubs = clubs_in(tx, &club_rows, how, &mut problems).await?;
    problems.none()?;
    let (sessions, movements) = sessions_in(tx, &session_rows, how, &mut problems).await?;
    problems.none()?;
    Ok(Report {
        athletes,
        clubs,
        sessions,
        movements,
    })
}

/// The problems found so far.
#[derive(Default)]
struct Problems(Vec<(File, Problem)>);

impl Problems {
    fn read<T>(
        &mut self,
        file: File,
        bytes: Option<&[u8]>,
        read: impl FnOnce(&[u8]) -> Result<Vec<T>, Vec<Problem>>,
    ) -> Vec<T> {
        match bytes.map(read) {
            None => Vec::new(),
            Some(Ok(rows)) => rows,
            Some(Err(problems)) => {
                self.0
                    .extend(problems.into_iter().map(|problem| (file, problem)));
                Vec::new()
            }
        }
    }

    fn at(&mut self, file: File, line: u64, column: &str, what: impl Into<String>, found: &str) {
        let problem = Problem {
            line,
            column: column.to_owned(),
            what: what.into(),
            excerpt: found.to_owned(),
        };
        self.0.push((file, problem));
    }

    fn none(&mut self) -> Result<(), ImportError> {
        if self.0.is_empty() {
            Ok(())
        } else {
            self.0
                .sort_by(|(a, x), (b, y)| (a, x.line).cmp(&(b, y.line)));
            Err(ImportError::Refused(std::mem::take(&mut self.0)))
        }
    }
}

/// An id that the same words always give, so that the same file twice is the same rows.
fn id_of(tx: &GymTx, kind: &str, words: &str) -> Uuid {
    Uuid::new_v5(&tx.gym().0, format!("{kind}|{words}").as_bytes())
}

async fn athletes_in(
    tx: &mut GymTx,
    rows: &[AthleteRow],
    how: Import,
    problems: &mut Problems,
) -> Result<Counted, StoreError> {
    let mut counted = Counted::default();
    if rows.is_empty() {
        return Ok(counted);
    }
    let known: HashMap<Handle, athletes::Athlete> = athletes::all(tx)
        .await?
        .into_iter()
        .map(|athlete| (athlete.handle.clone(), athlete))
        .collect();
    let mut coaches_of: HashMap<AthleteId, BTreeSet<AccountId>> = HashMap::new();
    for (athlete, coach) in athletes::rosters(tx).await? {
        coaches_of.entry(athlete).or_default().insert(coach);
    }
    let coaches: HashMap<String, AccountId> = people::list(tx)
        .await?
        .into_iter()
        .filter(|person| person.roles.has(Role::Coach))
        .map(|person| (person.email.to_lowercase(), person.id))
        .collect();
    for row in rows {
        let before = problems.0.len();
        let mut wanted = BTreeSet::new();
        for email in &row.coaches {
            match coaches.get(email) {
                Some(coach) => _ = wanted.insert(*coach),
                None => problems.at(
                    File::Athletes,
                    row.line,
                    "coach",
                    "is no coach of this gym; invite them first",
                    email,
                ),
            }
        }
        let details = Details {
            name: row.name.clone(),
            started_on: row.started_on,
            status: row.status,
            status_since: row.status_since,
            notes: row.notes.clone(),
        };
        let existing = known.get(&row.athlete);
        if let Some(athlete) = existing
            && how.scope == Scope::Roster
            && !coaches_of
                .get(&athlete.id)
                .is_some_and(|coaches| coaches.contains(&tx.actor()))
        {
            problems.at(
                File::Athletes,
                row.line,
                "athlete",
                "is in this gym and not on your roster",
                row.athlete.as_str(),
            );
        }
        if problems.0.len() > before {
            continue;
        }
        let id = match existing {
            None => {
                let id = AthleteId(id_of(tx, "athlete", row.athlete.as_str()));
                athletes::add(tx, id, &row.athlete, &details, how.now).await?;
                if wanted.is_empty() && how.scope == Scope::Roster {
                    wanted.insert(tx.actor());
                }
                counted.added += 1;
                id
            }
            Some(athlete) => {
                let same = athlete.name == details.name
                    && athlete.started_on == details.started_on
                    && athlete.status == details.status
                    && athlete.status_since == details.status_since
                    && athlete.notes == details.notes
                    && (wanted.is_empty() || coaches_of.get(&athlete.id) == Some(&wanted));
                if same {
                    counted.unchanged += 1;
                    continue;
                }
                athletes::change(tx, athlete.id, &details).await?;
                counted.changed += 1;
                athlete.id
            }
        };
        if !wanted.is_empty() {
            athletes::set_coaches(tx, id, &wanted.into_iter().collect::<Vec<_>>()).await?;
        }
    }
    Ok(counted)
}

async fn clubs_in(
    tx: &mut GymTx,
    rows: &[ClubRow],
    how: Import,
    problems: &mut Problems,
) -> Result<Counted, StoreError> {
    let mut counted = Counted::default();
    if rows.is_empty() {
        return Ok(counted);
    }
    let handles: HashMap<Handle, AthleteId> = athletes::all(tx)
        .await?
        .into_iter()
        .map(|athlete| (athlete.handle, athlete.id))
        .collect();
    let known: HashMap<String, Loading> = loadings_by_name(tx).await?;
    let clubs_by_id: HashMap<ClubId, Club> = rack::clubs(tx)
        .await?
        .into_iter()
        .map(|club| (club.id, club))
        .collect();
    let mut clubs: HashMap<ClubName, ClubId> = clubs_by_id
        .values()
        .map(|club| (club.details.name.clone(), club.id))
        .collect();
    for row in rows {
        let owner = match &row.athlete {
            None => None,
            Some(handle) => match handles.get(handle) {
                Some(athlete) => Some(*athlete),
                None => {
                    problems.at(
                        File::Clubs,
                        row.line,
                        "athlete",
                        "is nobody in this gym or in athletes.csv",
                        handle.as_str(),
                    );
                    continue;
                }
            },
        };
        let club_text = row.part_of.as_ref().unwrap_or(&row.club);
        let (Ok(club_name), Ok(name)) = (ClubName::new(club_text), LoadingName::new(&row.club))
        else {
            let what = "is longer than 60 characters, the most for a club of its own";
            problems.at(File::Clubs, row.line, "club", what, club_text);
            continue;
        };
        let details = ClubDetails {
            name: club_name.clone(),
            owner,
            loadable: row.loadable,
            count: row.count,
        };
        let Some(loading) = known.get(&row.club) else {
            let new = NewLoading {
                id: LoadingId(id_of(tx, "loading", &row.club)),
                name,
                measure: row.measure.clone(),
            };
            match clubs.get(&club_name) {
                Some(club) => rack::add_loading(tx, *club, &new, how.now).await?,
                None => {
                    let club = ClubId(id_of(tx, "club", club_name.as_str()));
                    rack::add_club(tx, club, &details, &new, how.now).await?;
                    clubs.insert(club_name, club);
                }
            }
            counted.added += 1;
            continue;
        };
        let Some(club) = clubs_by_id.get(&loading.club) else {
            let what = "a loading of no club";
            return Err(StoreError::corrupt("loadings", loading.id, what));
        };
        let same_measure = loading.measure == row.measure;
        if club.details.name != details.name {
            let what = format!(
                "is a loading of {:?} in this gym",
                club.details.name.as_str()
            );
            problems.at(File::Clubs, row.line, "part_of", what, club_text);
        } else if !same_measure && rack::is_used(tx, loading.id).await? {
            let what = "is in the log or the plan with other measurements; give the changed club a \
                        new name, so that the past stays true";
            problems.at(File::Clubs, row.line, "club", what, &row.club);
        } else if same_measure && club.details == details {
            counted.unchanged += 1;
        } else {
            let measured = NewLoading {
                id: loading.id,
                name,
                measure: row.measure.clone(),
            };
            rack::remeasure(tx, loading, &measured, how.now, how.today).await?;
            rack::change_club(tx, club.id, &details).await?;
            counted.changed += 1;
        }
    }
    Ok(counted)
}

/// The gym's loadings by the name that files use.
async fn loadings_by_name(tx: &mut GymTx) -> Result<HashMap<String, Loading>, StoreError> {
    Ok(rack::loadings(tx)
        .await?
        .into_iter()
        .map(|loading| (String::from(loading.name.clone()), loading))
        .collect())
}

/// The gym's movements by name; those that the file names and the catalogue lacks are added.
async fn movements_in(
    tx: &mut GymTx,
    rows: &[LoggedSession],
) -> Result<(HashMap<String, MovementId>, Vec<String>), StoreError> {
    let mut movements: HashMap<String, MovementId> = rack::movements(tx)
        .await?
        .into_iter()
        .map(|movement| (String::from(movement.details.name), movement.id))
        .collect();
    let mut new = BTreeSet::new();
    for set in rows.iter().flat_map(|session| &session.sets) {
        if !movements.contains_key(&*set.movement) {
            new.insert(set.movement.to_string());
        }
    }
    for text in &new {
        let id = MovementId(id_of(tx, "movement", text));
        let details = MovementDetails {
            name: MovementName::new(text)
                .map_err(|why| StoreError::corrupt("movements", text, why))?,
            cues: Guidance::default(),
            faults: Guidance::default(),
        };
        rack::add_movement(tx, id, &details).await?;
        movements.insert(text.clone(), id);
    }
    Ok((movements, new.into_iter().collect()))
}

async fn sessions_in(
    tx: &mut GymTx,
    rows: &[LoggedSession],
    how: Import,
    problems: &mut Problems,
) -> Result<(Counted, Vec<String>), StoreError> {
    let mut counted = Counted::default();
    if rows.is_empty() {
        return Ok((counted, Vec::new()));
    }
    let athletes = athletes_named(tx, rows, how, problems).await?;
    let loadings: HashMap<String, LoadingId> = loadings_by_name(tx)
        .await?
        .into_iter()
        .map(|(name, loading)| (name, loading.id))
        .collect();
    let mut unknown_clubs = HashSet::new();
    for set in rows.iter().flat_map(|session| &session.sets) {
        if !loadings.contains_key(&*set.club) && unknown_clubs.insert(&set.club) {
            problems.at(
                File::Sets,
                set.line,
                "club",
                "is no club in this gym or in clubs.csv",
                &set.club,
            );
        }
    }
    for row in rows.iter().filter(|row| row.on > how.today) {
        problems.at(
            File::Sets,
            row.line,
            "date",
            "lies in the future",
            &row.on.to_string(),
        );
    }
    if !problems.0.is_empty() {
        return Ok((counted, Vec::new()));
    }
    let (movements, new_movements) = movements_in(tx, rows).await?;

    let ids: Vec<AthleteId> = athletes.values().copied().collect();
    let mut standing: HashMap<SessionId, log::Logged> = log::between(tx, &ids, FIRST_DAY, LAST_DAY)
        .await?
        .into_iter()
        .map(|logged| (logged.session, logged))
        .collect();
    let mut touched = BTreeSet::new();
    for row in rows {
        let athlete = athletes[&*row.athlete];
        let session = session_id(tx, row);
        let done = Done {
            on: row.on,
            planned: None,
            minutes: row.minutes,
            effort: row.effort,
            pain: row.pain.clone(),
            note: match Note::new(&row.note) {
                Ok(note) => note,
                Err(why) => {
                    problems.at(File::Sets, row.line, "note", why.to_string(), "");
                    continue;
                }
            },
            sets: row
                .sets
                .iter()
                .map(|set| SetDone {
                    movement: movements[&*set.movement],
                    hands: set.hands,
                    loading: loadings[&*set.club],
                    side: set.side,
                    work: set.work,
                })
                .collect(),
        };
        let new = match standing.remove(&session) {
            Some(logged) if logged.athlete != athlete => {
                let what = "is the session of somebody else";
                problems.at(File::Sets, row.line, "session", what, &row.session);
                continue;
            }
            Some(logged) => {
                let done = Done {
                    planned: logged.done.planned,
                    ..done
                };
                if logged.done == done {
                    counted.unchanged += 1;
                    continue;
                }
                counted.changed += 1;
                NewRevision {
                    revision: RevisionId(id_of(
                        tx,
                        "edit",
                        &format!("{}|{done:?}|{}", logged.revision, row.note),
                    )),
                    replaces: Some(logged.revision),
                    athlete,
                    done: Some(done),
                    logged_at: how.now,
                }
            }
            None => {
                counted.added += 1;
                NewRevision {
                    revision: RevisionId(session.0),
                    replaces: None,
                    athlete,
                    done: Some(done),
                    logged_at: how.now,
                }
            }
        };
        match log::record(tx, &new).await {
            Ok(_) => _ = touched.insert(athlete),
            Err(RecordError::Store(StoreError::NotFound)) => {
                let what = "is the session of somebody else";
                problems.at(File::Sets, row.line, "session", what, &row.session);
            }
            Err(RecordError::Store(why)) => return Err(why),
            Err(why @ RecordError::TooMuch) => {
                problems.at(
                    File::Sets,
                    row.line,
                    "session",
                    why.to_string(),
                    &row.session,
                );
            }
            Err(RecordError::OtherContent { .. } | RecordError::ReplacedMeanwhile { .. }) => {
                let what =
                    "was taken back in this gym; give it another session word to log it anew";
                problems.at(File::Sets, row.line, "session", what, &row.session);
            }
        }
    }
    if problems.0.is_empty() && !how.dry_run {
        let touched: Vec<AthleteId> = touched.into_iter().collect();
        flags::reassess_all(tx, &touched, how.today).await?;
    }
    Ok((counted, new_movements))
}

/// The session's id: the word itself where it is an id, as our own exports have it.
fn session_id(tx: &GymTx, row: &LoggedSession) -> SessionId {
    SessionId(Uuid::try_parse(&row.session).unwrap_or_else(|_| {
        id_of(
            tx,
            "session",
            &format!("{}|{}|{}", row.athlete, row.on, row.session),
        )
    }))
}

/// The athletes that the log names, by handle.
async fn athletes_named(
    tx: &mut GymTx,
    rows: &[LoggedSession],
    how: Import,
    problems: &mut Problems,
) -> Result<BTreeMap<String, AthleteId>, StoreError> {
    let on_roster: HashSet<AthleteId> = athletes::rosters(tx)
        .await?
        .into_iter()
        .filter(|(_, coach)| *coach == tx.actor())
        .map(|(athlete, _)| athlete)
        .collect();
    let known: HashMap<String, AthleteId> = athletes::all(tx)
        .await?
        .into_iter()
        .map(|athlete| (String::from(athlete.handle), athlete.id))
        .collect();
    let mut named = BTreeMap::new();
    let mut told = HashSet::new();
    for row in rows {
        let what = match known.get(&*row.athlete) {
            None => "is nobody in this gym or in athletes.csv",
            Some(id) if how.scope == Scope::Roster && !on_roster.contains(id) => {
                "is not on your roster"
            }
            Some(id) => {
                named.insert(row.athlete.to_string(), *id);
                continue;
            }
        };
        if told.insert(&row.athlete) {
            problems.at(File::Sets, row.line, "athlete", what, &row.athlete);
        }
    }
    Ok(named)
}
