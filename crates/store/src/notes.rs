//! Notes between an athlete and their coaches: who wrote what about which session or flag, and who has
//! read it. Health data. Nothing written is ever changed.

use leverbook_domain::id::{AccountId, AthleteId, DecisionId, FlagId, SessionId};
use leverbook_domain::roster::PersonName;
use leverbook_domain::text::NoteBody;
use sqlx::FromRow;
use time::{Date, OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

use crate::{GymTx, StoreError};

/// On which side somebody writes and reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// As a coach, to the athlete.
    Coach,
    /// As the athlete, to their coaches.
    Athlete,
}

impl Side {
    const fn word(self) -> &'static str {
        match self {
            Self::Coach => "coach",
            Self::Athlete => "athlete",
        }
    }

    /// The one that reads what this one writes.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Coach => Self::Athlete,
            Self::Athlete => Self::Coach,
        }
    }
}

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// Nothing in particular.
    Nothing,
    /// A logged session.
    Session(SessionId),
    /// A flag.
    Flag(FlagId),
}

impl About {
    const fn session(self) -> Option<Uuid> {
        match self {
            Self::Session(session) => Some(session.0),
            Self::Nothing | Self::Flag(_) => None,
        }
    }

    const fn flag(self) -> Option<Uuid> {
        match self {
            Self::Flag(flag) => Some(flag.0),
            Self::Nothing | Self::Session(_) => None,
        }
    }
}

/// A note to be written by the actor.
#[derive(Debug, Clone)]
pub struct NewNote {
    /// Its id, made with the form, so that sending twice writes once.
    pub id: DecisionId,
    /// Whose thread it stands in.
    pub athlete: AthleteId,
    /// Whether a coach or the athlete writes it.
    pub side: Side,
    /// What it is about.
    pub about: About,
    /// What it says.
    pub body: NoteBody,
    /// When.
    pub at: OffsetDateTime,
}

/// A note as somebody reads it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Its id.
    pub id: DecisionId,
    /// What it is about.
    pub about: About,
    /// The day of the session that it is about, as it stands now.
    pub session_on: Option<Date>,
    /// What it says.
    pub body: String,
    /// On which side it was written.
    pub side: Side,
    /// Who wrote it, by name; `None` once they are gone.
    pub by: Option<String>,
    /// Whether the reader wrote it.
    pub own: bool,
    /// When, by the gym's clocks.
    pub at: PrimitiveDateTime,
    /// Whether it is for the reader, and they have not opened it.
    pub unread: bool,
    /// The day on which somebody whom it is for first opened it.
    pub read_on: Option<Date>,
}

/// One athlete of a coach's roster, with what was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thread {
    /// Who.
    pub athlete: AthleteId,
    /// Their name.
    pub name: PersonName,
    /// How many notes the coach has not opened.
    pub unread: i64,
    /// When the newest note was written, by the gym's clocks.
    pub newest: Option<PrimitiveDateTime>,
    /// Whether the newest is the athlete's.
    pub newest_from_athlete: bool,
}

/// How many notes wait to be opened, on each side that somebody is on.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Unread {
    /// From the athletes on their roster.
    pub as_coach: i64,
    /// From their coaches.
    pub as_athlete: i64,
}

/// The form of a note can be shown again from what a phone keeps, with the id of a note that was sent
/// since: other words under it are another note, whose id is made of both, so that it is stored once too.
fn with_other_words(id: DecisionId, body: &NoteBody) -> DecisionId {
    DecisionId(Uuid::new_v5(&id.0, body.as_str().as_bytes()))
}

/// Writes a note; the same note twice is written once.
///
/// # Errors
/// [`StoreError::NotFound`] where the session or the flag is not the athlete's.
pub async fn write(tx: &mut GymTx, new: &NewNote) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let theirs: bool = sqlx::query_scalar(
        "select ($3::uuid is null or exists (
                 select from logged_sessions
                 where gym_id = $1 and athlete_id = $2 and session_id = $3))
             and ($4::uuid is null
                 or exists (select from flags
                     where gym_id = $1 and athlete_id = $2 and flag_id = $4)
                 or exists (select from coach_notes
                     where gym_id = $1 and athlete_id = $2 and flag_id = $4))",
    )
    .bind(gym.0)
    .bind(new.athlete.0)
    .bind(new.about.session())
    .bind(new.about.flag())
    .fetch_one(tx.conn())
    .await?;
    if !theirs {
        return Err(StoreError::NotFound);
    }
    for id in [new.id, with_other_words(new.id, &new.body)] {
        let written = sqlx::query(
            "insert into coach_notes (gym_id, note_id, athlete_id, body, written_by, written_at,
                 written_as, session_id, flag_id)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
             on conflict (gym_id, note_id) do nothing",
        )
        .bind(gym.0)
        .bind(id.0)
        .bind(new.athlete.0)
        .bind(new.body.as_str())
        .bind(actor.0)
        .bind(new.at)
        .bind(new.side.word())
        .bind(new.about.session())
        .bind(new.about.flag())
        .execute(tx.conn())
        .await?;
        let stored: bool = sqlx::query_scalar(
            "select exists (select from coach_notes
                 where gym_id = $1 and note_id = $2 and athlete_id = $3 and body = $4
                     and written_by = $5)",
        )
        .bind(gym.0)
        .bind(id.0)
        .bind(new.athlete.0)
        .bind(new.body.as_str())
        .bind(actor.0)
        .fetch_one(tx.conn())
        .await?;
        if written.rows_affected() > 0 || stored {
            return Ok(());
        }
    }
    Err(StoreError::corrupt(
        "coach_notes",
        new.id,
        "an id that stands for somebody else's note",
    ))
}

#[derive(FromRow)]
struct NoteRow {
    note_id: Uuid,
    body: String,
    written_as: String,
    by_name: Option<String>,
    own: bool,
    at: PrimitiveDateTime,
    session_id: Option<Uuid>,
    session_on: Option<Date>,
    flag_id: Option<Uuid>,
    read_by_me: bool,
    read_on: Option<Date>,
}

impl NoteRow {
    fn into_note(self, reader: Side) -> Note {
        let side = if self.written_as == "athlete" {
            Side::Athlete
        } else {
            Side::Coach
        };
        Note {
            id: DecisionId(self.note_id),
            about: match (self.session_id, self.flag_id) {
                (Some(session), _) => About::Session(SessionId(session)),
                (None, Some(flag)) => About::Flag(FlagId(flag)),
                (None, None) => About::Nothing,
            },
            session_on: self.session_on,
            body: self.body,
            unread: side != reader && !self.own && !self.read_by_me,
            side,
            by: self.by_name,
            own: self.own,
            at: self.at,
            read_on: self.read_on,
        }
    }
}

/// Which notes of an athlete are wanted.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted {
    /// Only those about this; [`About::Nothing`] is no limit.
    pub about: Option<About>,
    /// Only those that the reader has not opened.
    pub unread_only: bool,
    /// Only those written before this one.
    pub before: Option<DecisionId>,
    /// How many at most.
    pub at_most: u16,
}

/// Notes of one athlete, newest first, as the actor reads them on a side.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn of_athlete(
    tx: &mut GymTx,
    athlete: AthleteId,
    reader: Side,
    wanted: Wanted,
) -> Result<Vec<Note>, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let about = wanted.about.unwrap_or(About::Nothing);
    let rows: Vec<NoteRow> = sqlx::query_as(
        "select n.note_id, n.body, n.written_as, p.name as by_name, n.written_by = $3 as own,
             n.written_at at time zone g.time_zone as at, n.session_id, n.flag_id,
             (select s.on_date from logged_sessions s
              where s.gym_id = n.gym_id and s.session_id = n.session_id
                  and s.athlete_id = n.athlete_id
              order by s.logged_at desc limit 1) as session_on,
             mine.read_at is not null as read_by_me,
             ((select min(r.read_at) from note_reads r
               where r.gym_id = n.gym_id and r.note_id = n.note_id) at time zone g.time_zone)::date
                 as read_on
         from coach_notes n
         join gyms g on g.gym_id = n.gym_id
         left join people p on p.gym_id = n.gym_id and p.person_id = n.written_by
         left join note_reads mine
             on mine.gym_id = n.gym_id and mine.note_id = n.note_id and mine.reader_id = $3
         where n.gym_id = $1 and n.athlete_id = $2
             and ($4::uuid is null or n.session_id = $4)
             and ($5::uuid is null or n.flag_id = $5)
             and (not $6 or (n.written_as <> $7 and n.written_by <> $3 and mine.read_at is null))
             and ($8::uuid is null or n.nth < (
                 select b.nth from coach_notes b
                 where b.gym_id = $1 and b.note_id = $8 and b.athlete_id = $2))
         order by n.nth desc limit $9",
    )
    .bind(gym.0)
    .bind(athlete.0)
    .bind(actor.0)
    .bind(about.session())
    .bind(about.flag())
    .bind(wanted.unread_only)
    .bind(reader.word())
    .bind(wanted.before.map(|id| id.0))
    .bind(i64::from(wanted.at_most))
    .fetch_all(tx.conn())
    .await?;
    Ok(rows.into_iter().map(|row| row.into_note(reader)).collect())
}

/// Keeps when the actor first opened what is unread among these. Later sights change nothing. Gives how
/// many there were.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn mark_read(
    tx: &mut GymTx,
    notes: &[Note],
    now: OffsetDateTime,
) -> Result<i64, StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let unread: Vec<Uuid> = notes
        .iter()
        .filter(|note| note.unread)
        .map(|note| note.id.0)
        .collect();
    if unread.is_empty() {
        return Ok(0);
    }
    let marked = sqlx::query(
        "insert into note_reads (gym_id, reader_id, note_id, read_at)
         select $1, $2, note_id, $3 from unnest($4::uuid[]) as opened (note_id)
         on conflict do nothing",
    )
    .bind(gym.0)
    .bind(actor.0)
    .bind(now)
    .bind(unread)
    .execute(tx.conn())
    .await?;
    Ok(i64::try_from(marked.rows_affected()).unwrap_or(i64::MAX))
}

/// How many notes somebody has not opened.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn unread(tx: &mut GymTx, person: AccountId) -> Result<Unread, StoreError> {
    let gym = tx.gym();
    let (as_coach, as_athlete) = sqlx::query_as(
        "select
             (select count(*) from rosters r
              join athletes a on a.gym_id = r.gym_id and a.athlete_id = r.athlete_id
              join coach_notes n on n.gym_id = r.gym_id and n.athlete_id = r.athlete_id
              where r.gym_id = $1 and r.coach_id = $2 and a.status <> 'left'
                  and n.written_as = 'athlete' and n.written_by <> $2
                  and not exists (select from note_reads m
                      where m.gym_id = $1 and m.reader_id = $2 and m.note_id = n.note_id)),
             (select count(*) from athletes a
              join coach_notes n on n.gym_id = a.gym_id and n.athlete_id = a.athlete_id
              where a.gym_id = $1 and a.person_id = $2
                  and n.written_as = 'coach' and n.written_by <> $2
                  and not exists (select from note_reads m
                      where m.gym_id = $1 and m.reader_id = $2 and m.note_id = n.note_id))",
    )
    .bind(gym.0)
    .bind(person.0)
    .fetch_one(tx.conn())
    .await?;
    Ok(Unread {
        as_coach,
        as_athlete,
    })
}

#[derive(FromRow)]
struct ThreadRow {
    athlete_id: Uuid,
    name: String,
    unread: i64,
    newest: Option<PrimitiveDateTime>,
    newest_as: Option<String>,
}

/// Everybody on a coach's roster: those with unread notes first, then by the newest note, then by name.
///
/// # Errors
/// [`StoreError`] when the database fails or holds what it should not.
pub async fn threads(tx: &mut GymTx, coach: AccountId) -> Result<Vec<Thread>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<ThreadRow> = sqlx::query_as(
        "select a.athlete_id, a.name, unread.how_many as unread, newest.at as newest,
             newest.written_as as newest_as
         from rosters r
         join athletes a on a.gym_id = r.gym_id and a.athlete_id = r.athlete_id
         cross join lateral (
             select count(*) as how_many from coach_notes n
             where n.gym_id = $1 and n.athlete_id = a.athlete_id
                 and n.written_as = 'athlete' and n.written_by <> $2
                 and not exists (select from note_reads m
                     where m.gym_id = $1 and m.reader_id = $2 and m.note_id = n.note_id)
         ) unread
         left join lateral (
             select n.written_at at time zone g.time_zone as at, n.written_as
             from coach_notes n join gyms g on g.gym_id = n.gym_id
             where n.gym_id = $1 and n.athlete_id = a.athlete_id
             order by n.nth desc limit 1
         ) newest on true
         where r.gym_id = $1 and r.coach_id = $2 and a.status <> 'left'
         order by unread.how_many > 0 desc, newest.at desc nulls last, lower(a.name), a.athlete_id",
    )
    .bind(gym.0)
    .bind(coach.0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter()
        .map(|row| {
            let corrupt = |what: &str| StoreError::corrupt("athletes", row.athlete_id, what);
            Ok(Thread {
                athlete: AthleteId(row.athlete_id),
                name: PersonName::new(&row.name).map_err(|_| corrupt("name"))?,
                unread: row.unread,
                newest: row.newest,
                newest_from_athlete: row.newest_as.as_deref() == Some("athlete"),
            })
        })
        .collect()
}
