//! `sets.csv`: the training log, one set a row. Rows with the same athlete, date and session word
//! make one session, in the order in which they stand. A row without movement, hands, club, side,
//! seconds and reps is a session that pain stopped before its first set.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use leverbook_domain::text::TextError;
use leverbook_domain::training::{Hands, Pain, PainPlace, Side, Work};
use leverbook_domain::units::{Effort, Minutes, Pain as PainScore, Reps, Seconds};
use time::Date;

use super::cells::{day, name, number, whole, word};
use super::table::{Column, Limits, Problem, Row, Writer, read as read_table};

/// The columns. Those after `reps` may be empty or missing; `seconds` is empty for straight sets.
/// Effort, minutes, pain and note are the session's, and may stand on any of its rows or on all.
pub const COLUMNS: [Column; 15] = [
    Column::required("athlete"),
    Column::required("date"),
    Column::required("session"),
    Column::required("movement"),
    Column::required("hands"),
    Column::required("club"),
    Column::required("side"),
    Column::required("seconds"),
    Column::required("reps"),
    Column::optional("effort"),
    Column::optional("pain"),
    Column::optional("pain_place"),
    Column::optional("asked_reps"),
    Column::optional("minutes"),
    Column::optional("note"),
];

/// Most sets that one session may have.
pub const SETS_AT_MOST: usize = 400;

/// Most characters of a session's note, as the database has it.
const NOTE_AT_MOST: usize = 2_000;

/// One session as logged. Names are as written in the file; who they are is for the reader to
/// look up.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedSession {
    /// The line of its first row.
    pub line: u64,
    /// Who trained.
    pub athlete: Arc<str>,
    /// The training day.
    pub on: Date,
    /// The word that tells it from the athlete's other sessions of that day.
    pub session: Arc<str>,
    /// How long it took.
    pub minutes: Option<Minutes>,
    /// The highest effort stated on its rows.
    pub effort: Option<Effort>,
    /// The highest pain stated for each place.
    pub pain: Vec<Pain>,
    /// The athlete's note; empty where there is none. Health data.
    pub note: String,
    /// Its sets in order.
    pub sets: Vec<LoggedSet>,
}

/// One set as logged.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedSet {
    /// The line it stands on.
    pub line: u64,
    /// What was swung.
    pub movement: Arc<str>,
    /// How it was held.
    pub hands: Hands,
    /// With which club or loading.
    pub club: Arc<str>,
    /// On which side.
    pub side: Side,
    /// How much.
    pub work: Work,
}

/// A row before it has found its session.
struct SetRow {
    athlete: Arc<str>,
    on: Date,
    session: Arc<str>,
    /// `None` where pain stopped the work before the first set.
    set: Option<LoggedSet>,
    minutes: Option<Minutes>,
    effort: Option<Effort>,
    pain: Vec<Pain>,
    note: String,
}

/// What is said of a set.
const OF_A_SET: [&str; 7] = [
    "movement",
    "hands",
    "club",
    "side",
    "seconds",
    "reps",
    "asked_reps",
];

/// Reads the file; the sessions come in the order of their first rows.
///
/// # Errors
/// Every problem by line and column.
pub fn read(bytes: &[u8], limits: Limits) -> Result<Vec<LoggedSession>, Vec<Problem>> {
    let mut words = Words::default();
    let mut places = HashMap::new();
    let mut sessions: Vec<LoggedSession> = Vec::new();
    read_table(bytes, &COLUMNS, limits, |row| {
        let read = set_row(row, &mut words)?;
        let key = (
            Arc::clone(&read.athlete),
            read.on,
            Arc::clone(&read.session),
        );
        let at = *places.entry(key).or_insert(sessions.len());
        match sessions.get_mut(at) {
            Some(session) => join(session, read, row),
            None => sessions.push(LoggedSession {
                line: row.line(),
                athlete: read.athlete,
                on: read.on,
                session: read.session,
                minutes: read.minutes,
                effort: read.effort,
                pain: strongest(read.pain),
                note: read.note,
                sets: read.set.into_iter().collect(),
            }),
        }
        Some(())
    })?;
    Ok(sessions)
}

/// Adds a row to the session it belongs to.
fn join(session: &mut LoggedSession, read: SetRow, row: &mut Row<'_>) {
    if session.sets.len() == SETS_AT_MOST {
        row.refuse("session", format!("has more than {SETS_AT_MOST} sets"));
        return;
    }
    if read.minutes.is_some()
        && session
            .minutes
            .is_some_and(|minutes| Some(minutes) != read.minutes)
    {
        row.refuse(
            "minutes",
            format!("differs from line {}, of the same session", session.line),
        );
    }
    if !read.note.is_empty() && !session.note.is_empty() && session.note != read.note {
        row.refuse(
            "note",
            format!("differs from line {}, of the same session", session.line),
        );
    }
    session.minutes = session.minutes.or(read.minutes);
    session.effort = session.effort.max(read.effort);
    if session.note.is_empty() {
        session.note = read.note;
    }
    if !read.pain.is_empty() {
        let all = session.pain.drain(..).chain(read.pain).collect();
        session.pain = strongest(all);
    }
    session.sets.extend(read.set);
}

/// Keeps the highest score of each place, in order of first mention. "No pain" only stands alone.
fn strongest(pain: Vec<Pain>) -> Vec<Pain> {
    let mut kept: Vec<Pain> = Vec::new();
    for report in pain {
        match kept.iter_mut().find(|other| other.place == report.place) {
            Some(other) => other.score = other.score.max(report.score),
            None => kept.push(report),
        }
    }
    if kept.iter().any(|report| report.score.get() > 0) {
        kept.retain(|report| report.score.get() > 0 || report.place.is_some());
    }
    kept
}

/// Keeps one copy of each name, however many rows repeat it.
#[derive(Default)]
struct Words(HashSet<Arc<str>>);

impl Words {
    fn keep(&mut self, text: &str) -> Arc<str> {
        if let Some(kept) = self.0.get(text) {
            return Arc::clone(kept);
        }
        let kept: Arc<str> = text.into();
        self.0.insert(Arc::clone(&kept));
        kept
    }
}

fn set_row(row: &mut Row<'_>, words: &mut Words) -> Option<SetRow> {
    let mut kept = |row: &mut Row<'_>, column, parse: fn(&str) -> Result<String, TextError>| {
        row.need(column, parse).map(|name| words.keep(&name))
    };
    let athlete = kept(row, "athlete", name::<120>);
    let on = row.need("date", day);
    let session = kept(row, "session", name::<120>);
    let stopped_at_once = row.has("pain") && !OF_A_SET.iter().any(|column| row.has(column));
    let set = if stopped_at_once {
        Some(None)
    } else {
        set_of(row, words).map(Some)
    };
    let effort = row.may("effort", |text| {
        number(text)
            .map_err(str::to_owned)
            .and_then(|rating| Effort::new(rating).map_err(|why| why.to_string()))
    });
    let minutes = row.may("minutes", quantity(Minutes::new));
    let pain = pain(row);
    let note = row.text("note").to_owned();
    if note.chars().nth(NOTE_AT_MOST).is_some() {
        row.refuse("note", format!("is longer than {NOTE_AT_MOST} characters"));
    }
    Some(SetRow {
        athlete: athlete?,
        on: on?,
        session: session?,
        set: set?,
        minutes,
        effort,
        pain: pain?,
        note,
    })
}

fn set_of(row: &mut Row<'_>, words: &mut Words) -> Option<LoggedSet> {
    let mut kept = |row: &mut Row<'_>, column, parse: fn(&str) -> Result<String, TextError>| {
        row.need(column, parse).map(|name| words.keep(&name))
    };
    let movement = kept(row, "movement", name::<60>);
    let hands = row.need("hands", |text| {
        word(text, Hands::from_word, "two, fingertip or one")
    });
    let club = kept(row, "club", name::<80>);
    let side = row.need("side", |text| word(text, Side::from_word, "left or right"));
    let work = work(row);
    Some(LoggedSet {
        line: row.line(),
        movement: movement?,
        hands: hands?,
        club: club?,
        side: side?,
        work: work?,
    })
}

/// Reads a whole-number quantity.
fn quantity<T, E: std::fmt::Display>(
    parse: impl Fn(i64) -> Result<T, E>,
) -> impl Fn(&str) -> Result<T, String> {
    move |text: &str| parse(whole(text)?).map_err(|why| why.to_string())
}

/// Seconds make it an interval set; only straight sets are asked for a number of reps.
fn work(row: &mut Row<'_>) -> Option<Work> {
    let reps = row.need("reps", quantity(Reps::new));
    let seconds = row.may("seconds", quantity(Seconds::new));
    let asked = row.may("asked_reps", |text| {
        quantity(Reps::new)(text).and_then(|asked| match asked.get() {
            0 => Err("must be 1 or more".to_owned()),
            _ => Ok(asked),
        })
    });
    if row.has("seconds") {
        if row.has("asked_reps") {
            row.refuse(
                "asked_reps",
                "belongs to straight sets, whose seconds are empty",
            );
        }
        return Some(Work::Interval {
            seconds: seconds?,
            reps: reps?,
        });
    }
    Some(Work::Straight { reps: reps?, asked })
}

/// Reads one pain with its place, or several with `;` between them in both cells.
fn pain(row: &mut Row<'_>) -> Option<Vec<Pain>> {
    if !row.has("pain") {
        if row.has("pain_place") {
            row.refuse("pain", "is empty, but a place is given");
            return None;
        }
        return Some(Vec::new());
    }
    let scores = row.may("pain", |text| {
        let score = quantity(PainScore::new);
        let scores = text.split(';').map(|text| score(text.trim()));
        scores.collect::<Result<Vec<_>, _>>()
    })?;
    let places: Vec<Option<PainPlace>> = if !row.has("pain_place") {
        vec![None; scores.len()]
    } else if scores.len() == 1 {
        vec![Some(row.may("pain_place", PainPlace::new)?)]
    } else {
        let place = |text: &str| match text.trim() {
            "" => Ok(None),
            text => PainPlace::new(text).map(Some),
        };
        row.may("pain_place", |text| {
            text.split(';').map(place).collect::<Result<Vec<_>, _>>()
        })?
    };
    if places.len() != scores.len() {
        row.refuse(
            "pain_place",
            format!(
                "must name as many places as there are pains, {}",
                scores.len()
            ),
        );
        return None;
    }
    let pair = |(score, place)| Pain { score, place };
    Some(scores.into_iter().zip(places).map(pair).collect())
}

/// Writes a file that reads back to the same sessions.
pub fn write<'a>(sessions: impl IntoIterator<Item = &'a LoggedSession>) -> Vec<u8> {
    let mut writer = Writer::new(&COLUMNS);
    for session in sessions {
        let rows = session.sets.len().max(1);
        for at in 0..rows {
            let set = session.sets.get(at);
            // One pain a row; what is left over when the rows end stands together on the last.
            let pains = if at + 1 == rows {
                session.pain.get(at..)
            } else {
                session.pain.get(at..=at)
            }
            .unwrap_or_default();
            let (seconds, asked) = match set.map(|set| set.work) {
                Some(Work::Interval { seconds, .. }) => (Some(seconds.get()), None),
                Some(Work::Straight { asked, .. }) => (None, asked.map(Reps::get)),
                None => (None, None),
            };
            let count =
                |value: Option<u16>| value.map(|value| value.to_string()).unwrap_or_default();
            let scores: Vec<String> = pains
                .iter()
                .map(|pain| pain.score.get().to_string())
                .collect();
            let places: Vec<String> = pains
                .iter()
                .map(|pain| {
                    let place = pain.place.as_ref().map_or("", PainPlace::as_str);
                    // Where several share the cell, the mark between them is not theirs to use.
                    if pains.len() > 1 {
                        place.replace(';', ",")
                    } else {
                        place.to_owned()
                    }
                })
                .collect();
            let named = pains.iter().any(|pain| pain.place.is_some());
            writer.row([
                session.athlete.as_ref(),
                &session.on.to_string(),
                session.session.as_ref(),
                set.map_or("", |set| &set.movement),
                set.map_or("", |set| set.hands.word()),
                set.map_or("", |set| &set.club),
                set.map_or("", |set| set.side.word()),
                &count(seconds),
                &count(set.map(|set| set.work.reps().get())),
                &session
                    .effort
                    .map(|effort| effort.rating().to_string())
                    .unwrap_or_default(),
                &scores.join(";"),
                &if named {
                    places.join(";")
                } else {
                    String::new()
                },
                &count(asked),
                &count(session.minutes.map(Minutes::get)),
                if at == 0 { &session.note } else { "" },
            ]);
        }
    }
    writer.finish()
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    const HEADER: &str =
        "athlete,date,session,movement,hands,club,side,seconds,reps,effort,pain,pain_place\n";

    fn sessions(rows: &str) -> Result<Vec<LoggedSession>, Vec<Problem>> {
        read(format!("{HEADER}{rows}").as_bytes(), Limits::default())
    }

    fn told(rows: &str) -> Vec<String> {
        let problems = sessions(rows).unwrap_err();
        problems.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn rows_of_one_session_come_together_in_order() {
        let found = sessions(
            "Ida,2026-11-02,1,mill,two,Iron 12,left,30,14,6,,\n\
             Ida,2026-11-02,1,mill,two,Iron 12,right,30.0,15,7.0,1,Left  Elbow\n\
             Bo,2026-11-02,1,mill,one,Ash 4,left,,5,,,\n\
             Ida,2026-11-02,1,mill,Two,Iron 12,LEFT,30,13,,2,left elbow\n\
             Ida,2026-11-02,2,mill,two,Iron 12,right,30,13,,0,\n",
        )
        .unwrap();
        assert_eq!(found.len(), 3);
        let ida = &found[0];
        assert_eq!(
            (ida.on, ida.sets.len(), ida.line),
            (date!(2026 - 11 - 02), 3, 2)
        );
        let reps: Vec<u16> = ida.sets.iter().map(|set| set.work.reps().get()).collect();
        assert_eq!(reps, [14, 15, 13]);
        assert_eq!(ida.effort, Some(Effort::new(7.0).unwrap()));
        assert_eq!(
            ida.pain,
            [Pain {
                score: PainScore::new(2).unwrap(),
                place: Some(PainPlace::new("left elbow").unwrap()),
            }]
        );
        assert!(matches!(
            found[1].sets[0].work,
            Work::Straight { asked: None, .. }
        ));
        assert_eq!(found[2].pain[0].score.get(), 0);
    }

    #[test]
    fn columns_after_reps_may_be_missing() {
        let text = "reps,seconds,side,club,hands,movement,session,date,athlete\n\
                    5,,left,Ash 4,one,mill,1,2026-11-02,Bo\n";
        assert_eq!(read(text.as_bytes(), Limits::default()).unwrap().len(), 1);
    }

    #[test]
    fn what_was_written_reads_back() {
        let pain = |score, place: &str| Pain {
            score: PainScore::new(score).unwrap(),
            place: PainPlace::new(place).ok(),
        };
        let set = |line, side, work| LoggedSet {
            line,
            movement: "inside circle".into(),
            hands: Hands::One,
            club: "-5 kg \"short\"".into(),
            side,
            work,
        };
        let reps = |reps| Reps::new(reps).unwrap();
        let straight = |done, asked: Option<i64>| Work::Straight {
            reps: reps(done),
            asked: asked.map(reps),
        };
        let interval = Work::Interval {
            seconds: Seconds::new(30).unwrap(),
            reps: reps(12),
        };
        let session = LoggedSession {
            line: 2,
            athlete: "Ödön, B.".into(),
            on: date!(2026 - 02 - 28),
            session: "0198".into(),
            minutes: Some(Minutes::new(40).unwrap()),
            effort: Some(Effort::new(7.5).unwrap()),
            pain: vec![pain(3, "left elbow"), pain(1, ""), pain(2, "neck")],
            note: " =tired,\nslept badly".to_owned(),
            sets: vec![
                set(2, Side::Left, straight(4, Some(5))),
                // The note's line break moves the second row down by one.
                set(4, Side::Right, interval),
            ],
        };
        let bare = LoggedSession {
            line: 5,
            minutes: None,
            effort: None,
            pain: Vec::new(),
            note: String::new(),
            on: date!(2026 - 03 - 01),
            sets: vec![set(5, Side::Left, straight(5, None))],
            ..session.clone()
        };
        let stopped = LoggedSession {
            line: 6,
            on: date!(2026 - 03 - 05),
            sets: Vec::new(),
            ..session.clone()
        };
        let both = [session, bare, stopped];
        assert_eq!(read(&write(&both), Limits::default()).unwrap(), both);
    }

    #[test]
    fn pain_before_the_first_set_is_a_row_of_its_own() {
        let found = sessions("Bo,2026-11-02,1,,,,,,,,4,left elbow\n").unwrap();
        assert_eq!((found[0].sets.len(), found[0].pain[0].score.get()), (0, 4));
        // More pain of a session with sets may stand on a row of its own too.
        let found = sessions(
            "Bo,2026-11-02,1,,,,,,,,4,left elbow\nBo,2026-11-02,1,mill,one,Ash 4,left,,5,,1,neck\n",
        )
        .unwrap();
        assert_eq!((found[0].sets.len(), found[0].pain.len()), (1, 2));
        // Without pain, or with part of a set, something is missing.
        let empty = told("Bo,2026-11-02,1,,,,,,,6,,\n");
        assert_eq!(empty[0], "line 2, column movement: is empty");
        let part = told("Bo,2026-11-02,1,,,,,,5,,4,\n");
        assert_eq!(part[0], "line 2, column movement: is empty");
    }

    #[test]
    fn every_problem_is_told_at_its_cell() {
        assert_eq!(
            told(
                ",2026-02-30,,mill,three,,up,-30,1.5,11,12,\n\
                 Bo,30.11.2026,1,mill,one,Ash 4,left,,,7.3,,elbow\n\
                 Bo,1800-01-01,1,mill,one,Ash 4,left,x,99999999999,NaN,1;2,a;b;c\n"
            ),
            [
                "line 2, column athlete: is empty",
                "line 2, column date: is not a day; write it like 2026-11-25 (found \"2026-02-30\")",
                "line 2, column session: is empty",
                "line 2, column hands: must be two, fingertip or one (found \"three\")",
                "line 2, column club: is empty",
                "line 2, column side: must be left or right (found \"up\")",
                "line 2, column reps: is not a whole number (found \"1.5\")",
                "line 2, column seconds: interval must be a whole number of seconds from 1 to 3600 (found \"-30\")",
                "line 2, column effort: effort must be from 0 to 10, in steps of 0.5 (found \"11\")",
                "line 2, column pain: pain must be a whole number from 0 to 10 (found \"12\")",
                "line 3, column date: is not a day; write it like 2026-11-25 (found \"30.11.2026\")",
                "line 3, column reps: is empty",
                "line 3, column effort: effort must be from 0 to 10, in steps of 0.5 (found \"7.3\")",
                "line 3, column pain: is empty, but a place is given",
                "line 4, column date: is not between 1950-01-01 and 2200-01-01 (found \"1800-01-01\")",
                "line 4, column reps: is not a whole number (found \"99999999999\")",
                "line 4, column seconds: is not a whole number (found \"x\")",
                "line 4, column effort: is not a number; write it like 12.5 (found \"NaN\")",
                "line 4, column pain_place: must name as many places as there are pains, 2 (found \"a;b;c\")",
            ]
        );
    }

    #[test]
    fn a_session_agrees_with_itself_and_ends_somewhere() {
        let header =
            "athlete,date,session,movement,hands,club,side,seconds,reps,minutes,note,asked_reps\n";
        let row = |end: &str| format!("Bo,2026-11-02,1,mill,two,Ash 4,left,30,5,{end}\n");
        let text = format!("{header}{}{}", row("40,fine,"), row("45,tired,5"));
        let problems = read(text.as_bytes(), Limits::default()).unwrap_err();
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert_eq!(
            told,
            [
                "line 3, column asked_reps: belongs to straight sets, whose seconds are empty (found \"5\")",
                "line 3, column minutes: differs from line 2, of the same session (found \"45\")",
                "line 3, column note: differs from line 2, of the same session (found \"tired\")",
            ]
        );
        let many = format!("{header}{}", row(",,").repeat(SETS_AT_MOST + 1));
        assert_eq!(
            read(many.as_bytes(), Limits::default()).unwrap_err()[0].line,
            402
        );
    }
}
