//! The form that a session is logged with: its fields by name, what was typed into them, what was
//! wrong, and what it means once all is right.
//!
//! The form works without script. Work is in parts (a movement, hands, a club, and how it is
//! counted), each with rows of sets; "more rows" sends the form and gets it back with more of them.

use std::collections::HashMap;
use std::fmt::Display;

use leverbook_domain::id::{LoadingId, MovementId, PlannedId, RevisionId};
use leverbook_domain::plan::{Ask, Prescription};
use leverbook_domain::rules::Questions;
use leverbook_domain::training::{Hands, Note, Pain, PainPlace, SetDone, Side, Work};
use leverbook_domain::units::{Effort, Minutes, Pain as PainScore, Reps, Seconds};
use leverbook_store::log::{Done, MOST_PAIN, MOST_SETS, PlannedSeen};
use time::macros::format_description;
use time::{Date, Duration};
use uuid::Uuid;

use super::questions::AfterSession;
use crate::parts::Choice;
use crate::posted::Posted;

/// How far back a session can be logged by hand by somebody who began only lately.
const CATCH_UP: Duration = Duration::days(366);

/// Most parts that one form reads.
const MOST_PARTS: usize = 40;

/// A log form as it is shown.
#[derive(Debug, Default)]
pub(super) struct LogForm {
    values: HashMap<String, String>,
    broken: Vec<String>,
    errors: Vec<(String, String)>,
    /// The number of set rows in each part.
    rows: Vec<usize>,
    /// The number of pain rows.
    pains: usize,
}

/// What the sender wants with the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wish {
    /// To store it.
    Save,
    /// The form again, with more room.
    MoreRoom,
}

/// What may stand in the form.
#[derive(Debug)]
pub(super) struct Allowed {
    /// Movements of the gym.
    pub(super) movements: Vec<(MovementId, String)>,
    /// Clubs that the athlete may pick up or has used.
    pub(super) clubs: Vec<(LoadingId, String)>,
    /// What a straight set was asked to have, by movement, hands and club.
    pub(super) asked: HashMap<(MovementId, Hands, LoadingId), Reps>,
    /// The days that a session may have.
    pub(super) days: OpenDays,
    /// What is asked after the session.
    pub(super) after: AfterSession,
}

/// Days on which a session may be logged by hand: since the start, or within a year for those
/// who catch up on what they did before. A session's own old day stays allowed.
#[derive(Debug, Clone, Copy)]
pub(super) struct OpenDays {
    first: Date,
    today: Date,
}

impl OpenDays {
    pub(super) fn new(started_on: Date, today: Date, own: Option<Date>) -> Self {
        let year_ago = today.checked_sub(CATCH_UP).unwrap_or(today);
        let first = started_on.min(year_ago);
        Self {
            first: own.map_or(first, |own| own.min(first)),
            today,
        }
    }

    /// Why a session may not have this day.
    pub(super) fn check(self, day: Date) -> Result<(), String> {
        if day > self.today {
            return Err(format!(
                "{} is yet to come: here it is {}",
                day_value(day),
                day_value(self.today)
            ));
        }
        if day < self.first {
            return Err(format!(
                "{} is too long ago to log by hand: {} is the earliest",
                day_value(day),
                day_value(self.first)
            ));
        }
        Ok(())
    }
}

/// What a form means.
#[derive(Debug)]
pub(super) struct Read {
    pub(super) revision: RevisionId,
    pub(super) replaces: Option<RevisionId>,
    pub(super) done: Done,
}

/// A part of the form, as the template walks it.
#[derive(Debug)]
pub(super) struct Part {
    pub(super) number: usize,
    pub(super) movement: String,
    pub(super) hands: String,
    pub(super) club: String,
    pub(super) counted: String,
    pub(super) timed: bool,
    pub(super) sets: Vec<SetRow>,
}

/// The field names of one set row.
#[derive(Debug)]
pub(super) struct SetRow {
    pub(super) number: usize,
    pub(super) side: String,
    pub(super) reps: String,
    pub(super) seconds: String,
}

/// The field names of one pain row.
#[derive(Debug)]
pub(super) struct PainRow {
    pub(super) number: usize,
    pub(super) score: String,
    pub(super) place: String,
}

impl SetRow {
    pub(super) fn names(&self) -> [&str; 3] {
        [&self.side, &self.reps, &self.seconds]
    }
}

impl PainRow {
    pub(super) fn names(&self) -> [&str; 2] {
        [&self.score, &self.place]
    }
}

fn part_field(part: usize, field: &str) -> String {
    format!("work-{part}-{field}")
}

fn set_field(part: usize, set: usize, field: &str) -> String {
    format!("work-{part}-set-{set}-{field}")
}

fn pain_field(row: usize, field: &str) -> String {
    format!("pain-{row}-{field}")
}

/// A day as a date field sends it.
pub(super) fn day_value(day: Date) -> String {
    format!(
        "{:04}-{:02}-{:02}",
        day.year(),
        u8::from(day.month()),
        day.day()
    )
}

/// Reads [`day_value`] back.
pub(super) fn day_from(text: &str) -> Option<Date> {
    Date::parse(text, format_description!("[year]-[month]-[day]")).ok()
}

/// The work that a new part begins with.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub(super) movement: MovementId,
    pub(super) hands: Hands,
    pub(super) loading: LoadingId,
    pub(super) sets_a_side: u8,
    /// Interval length; `None` for straight sets.
    pub(super) seconds: Option<Seconds>,
    /// Reps to fill in, where they were asked for.
    pub(super) reps: Option<Reps>,
}

impl From<&Prescription> for Start {
    fn from(asked: &Prescription) -> Self {
        let (seconds, reps) = match asked.ask {
            Ask::Interval { seconds, .. } => (Some(seconds), None),
            Ask::Straight { reps } => (None, Some(reps)),
        };
        Self {
            movement: asked.movement,
            hands: asked.hands,
            loading: asked.loading,
            sets_a_side: asked.sets,
            seconds,
            reps,
        }
    }
}

impl LogForm {
    /// A fresh form for a session on a day, answering a planned one or none.
    pub(super) fn fresh(
        id: RevisionId,
        day: Date,
        planned: Option<PlannedSeen>,
        start: Start,
    ) -> Self {
        let mut form = Self::default();
        form.set("id", id.to_string());
        form.set("day", day_value(day));
        if let Some(seen) = planned {
            form.set("planned", seen.planned.to_string());
            form.set("planned-revision", seen.revision.to_string());
        }
        form.begin_part(start.movement, start.hands, start.loading, start.seconds);
        let sides = [Side::Left, Side::Right];
        let sets = usize::from(start.sets_a_side) * sides.len();
        for side in sides.into_iter().cycle().take(sets) {
            form.add_set(side, start.reps, start.seconds);
        }
        form.pains = 1;
        form
    }

    /// The form filled with what stands, to be changed: under a new id, naming what it replaces.
    pub(super) fn of(id: RevisionId, replaces: RevisionId, done: &Done) -> Self {
        let mut form = Self::default();
        form.set("day", day_value(done.on));
        if let Some(seen) = done.planned {
            form.set("planned", seen.planned.to_string());
            form.set("planned-revision", seen.revision.to_string());
        }
        let mut before: Option<(MovementId, Hands, LoadingId, bool)> = None;
        for set in &done.sets {
            let seconds = match set.work {
                Work::Interval { seconds, .. } => Some(seconds),
                Work::Straight { .. } => None,
            };
            let kind = (set.movement, set.hands, set.loading, seconds.is_some());
            if before.replace(kind) != Some(kind) {
                form.begin_part(set.movement, set.hands, set.loading, seconds);
            }
            form.add_set(set.side, Some(set.work.reps()), seconds);
        }
        for pain in &done.pain {
            form.pains += 1;
            form.set(
                &pain_field(form.pains, "score"),
                pain.score.get().to_string(),
            );
            let place = pain.place.as_ref().map_or("", PainPlace::as_str);
            form.set(&pain_field(form.pains, "place"), place.to_owned());
        }
        form.pains = form.pains.max(1);
        if let Some(effort) = done.effort {
            form.set("effort", effort.rating().to_string());
        }
        if let Some(minutes) = done.minutes {
            form.set("minutes", minutes.get().to_string());
        }
        form.set("note", done.note.as_str().to_owned());
        form.replacing(id, replaces)
    }

    /// The form as it was sent.
    pub(super) fn sent(posted: &Posted) -> Self {
        let values: HashMap<String, String> = posted.shown_again().into_iter().collect();
        let broken = posted.broken().map(str::to_owned).collect();
        let rows = (1..=MOST_PARTS)
            .take_while(|part| values.contains_key(&part_field(*part, "movement")))
            .map(|part| {
                (1..)
                    .take_while(|set| values.contains_key(&set_field(part, *set, "reps")))
                    .count()
            })
            .collect();
        let pains = (1..)
            .take_while(|row| values.contains_key(&pain_field(*row, "score")))
            .count();
        Self {
            values,
            broken,
            errors: Vec::new(),
            rows,
            pains,
        }
    }

    /// The same content as a change to a revision that stands, under a new id.
    pub(super) fn replacing(mut self, id: RevisionId, replaces: RevisionId) -> Self {
        self.set("id", id.to_string());
        self.set("replaces", replaces.to_string());
        self
    }

    /// What the button said; gives more room where that was the wish.
    pub(super) fn wish(&mut self, movement: Option<MovementId>) -> Wish {
        let wish = self.value("do").to_owned();
        if let Some(part) = wish
            .strip_prefix("sets-")
            .and_then(|part| part.parse::<usize>().ok())
        {
            self.more_sets(part);
            Wish::MoreRoom
        } else if wish == "work" {
            if let (true, Some(movement)) = (self.rows.len() < MOST_PARTS, movement) {
                self.more_work(movement);
            }
            Wish::MoreRoom
        } else if wish == "pain" {
            if self.pains < MOST_PAIN {
                self.pains += 1;
            }
            Wish::MoreRoom
        } else {
            Wish::Save
        }
    }

    /// One more set for each side, counted like the ones before.
    fn more_sets(&mut self, part: usize) {
        let Some(rows) = part
            .checked_sub(1)
            .and_then(|at| self.rows.get(at))
            .copied()
        else {
            return;
        };
        if self.rows.iter().sum::<usize>() + 2 > MOST_SETS {
            return;
        }
        let last = |field: &str| self.value(&set_field(part, rows, field)).to_owned();
        let seconds = last("seconds");
        let next = Side::from_word(&last("side")).map_or(Side::Left, Side::other);
        for (set, side) in [(rows + 1, next), (rows + 2, next.other())] {
            self.set(&set_field(part, set, "side"), side.word().to_owned());
            self.set(&set_field(part, set, "reps"), String::new());
            self.set(&set_field(part, set, "seconds"), seconds.clone());
        }
        self.rows[part - 1] += 2;
    }

    /// Room for other work in the same session.
    fn more_work(&mut self, movement: MovementId) {
        self.rows.push(0);
        let part = self.rows.len();
        self.set(&part_field(part, "movement"), movement.to_string());
        let like = |form: &Self, field: &str| form.value(&part_field(1, field)).to_owned();
        for field in ["hands", "club", "counted"] {
            let value = like(self, field);
            self.set(&part_field(part, field), value);
        }
        let seconds = self.value(&set_field(1, 1, "seconds")).to_owned();
        for set in 1..=4 {
            let side = if set % 2 == 1 {
                Side::Left
            } else {
                Side::Right
            };
            self.rows[part - 1] += 1;
            self.set(&set_field(part, set, "side"), side.word().to_owned());
            self.set(&set_field(part, set, "seconds"), seconds.clone());
        }
    }

    fn begin_part(
        &mut self,
        movement: MovementId,
        hands: Hands,
        loading: LoadingId,
        seconds: Option<Seconds>,
    ) {
        self.rows.push(0);
        let part = self.rows.len();
        let counted = if seconds.is_some() { "time" } else { "reps" };
        self.set(&part_field(part, "movement"), movement.to_string());
        self.set(&part_field(part, "hands"), hands.word().to_owned());
        self.set(&part_field(part, "club"), loading.to_string());
        self.set(&part_field(part, "counted"), counted.to_owned());
    }

    fn add_set(&mut self, side: Side, reps: Option<Reps>, seconds: Option<Seconds>) {
        let part = self.rows.len();
        let Some(rows) = self.rows.last_mut() else {
            return;
        };
        *rows += 1;
        let set = *rows;
        let number = |value: Option<u16>| value.map(|value| value.to_string()).unwrap_or_default();
        self.set(&set_field(part, set, "side"), side.word().to_owned());
        self.set(&set_field(part, set, "reps"), number(reps.map(Reps::get)));
        self.set(
            &set_field(part, set, "seconds"),
            number(seconds.map(Seconds::get)),
        );
    }

    fn set(&mut self, name: &str, value: String) {
        self.values.insert(name.to_owned(), value);
    }

    /// What stands in a field.
    pub(super) fn value(&self, name: &str) -> &str {
        self.values.get(name).map_or("", String::as_str)
    }

    /// What was wrong with a field.
    pub(super) fn error(&self, name: &str) -> Option<&str> {
        self.errors
            .iter()
            .find(|(n, _)| n == name)
            .map(|(_, error)| error.as_str())
    }

    /// Whether a select or a box stands at this value.
    pub(super) fn checked(&self, name: &str, value: &str) -> bool {
        self.value(name) == value
    }

    /// Whether anything was wrong.
    pub(super) fn any(&self) -> bool {
        !self.errors.is_empty()
    }

    /// Field of everything that was wrong, and the sentence to stand above the form: it says which
    /// set, where there are many.
    pub(super) fn problems(&self) -> Vec<(&str, String)> {
        self.errors
            .iter()
            .map(|(name, error)| {
                let set = name
                    .split_once("-set-")
                    .and_then(|(_, rest)| rest.split_once('-'));
                let problem = match set {
                    Some((set, _)) => format!("Set {set}: {error}"),
                    None => error.clone(),
                };
                (name.as_str(), problem)
            })
            .collect()
    }

    /// The parts with their rows.
    pub(super) fn parts(&self) -> Vec<Part> {
        self.rows
            .iter()
            .zip(1..)
            .map(|(rows, part)| Part {
                number: part,
                movement: part_field(part, "movement"),
                hands: part_field(part, "hands"),
                club: part_field(part, "club"),
                counted: part_field(part, "counted"),
                timed: self.is_timed(part),
                sets: (1..=*rows)
                    .map(|set| SetRow {
                        number: set,
                        side: set_field(part, set, "side"),
                        reps: set_field(part, set, "reps"),
                        seconds: set_field(part, set, "seconds"),
                    })
                    .collect(),
            })
            .collect()
    }

    /// The pain rows.
    pub(super) fn pain_rows(&self) -> Vec<PainRow> {
        (1..=self.pains)
            .map(|row| PainRow {
                number: row,
                score: pain_field(row, "score"),
                place: pain_field(row, "place"),
            })
            .collect()
    }

    /// Whether there is room for another place of pain.
    pub(super) fn has_room_for_pain(&self) -> bool {
        self.pains < MOST_PAIN
    }

    fn is_timed(&self, part: usize) -> bool {
        self.value(&part_field(part, "counted")) != "reps"
    }

    /// The planned session that it answers.
    pub(super) fn planned(&self) -> Option<PlannedSeen> {
        let planned: PlannedId = self.value("planned").parse().ok()?;
        let revision = self.value("planned-revision").parse().ok()?;
        Some(PlannedSeen { planned, revision })
    }

    fn wrong(&mut self, name: &str, sentence: impl Display) {
        self.errors.push((name.to_owned(), sentence.to_string()));
    }

    /// Reads one field; what is wrong with it is kept beside it.
    fn field<T, E: Display>(
        &mut self,
        name: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = self.value(name).trim().to_owned();
        if self.broken.iter().any(|broken| broken == name) {
            self.wrong(name, "Some characters could not be read: type it again");
            return None;
        }
        match parse(&text) {
            Ok(value) => Some(value),
            Err(error) => {
                self.wrong(name, capital(&error.to_string()));
                None
            }
        }
    }

    fn optional<T, E: Display>(
        &mut self,
        name: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        if self.value(name).trim().is_empty() {
            None
        } else {
            self.field(name, parse)
        }
    }

    /// What the form means; `None`, and what is wrong beside each field, where it means nothing.
    pub(super) fn read(&mut self, allowed: &Allowed) -> Option<Read> {
        let revision = self.field("id", fresh_id);
        let replaces = self.optional("replaces", known_id);
        let on = self.field("day", |text| day_within(text, allowed.days));
        let sets = self.sets(allowed);
        let effort = self.optional("effort", effort_from);
        let pain = self.pain();
        let minutes = self.optional("minutes", |text| {
            whole(text).and_then(|value| Minutes::new(value).map_err(|e| e.to_string()))
        });
        let note = self.field("note", Note::new);
        if sets.is_empty() && pain.is_empty() && !self.any() {
            self.wrong(
                "work-1-set-1-reps",
                "Put a count into at least one set, or say below that it hurts, or there is nothing to log",
            );
        }
        if let Some(on) = on {
            self.unsaid(allowed.after.questions.on(on), effort, &pain);
        }
        if self.any() {
            return None;
        }
        Some(Read {
            revision: RevisionId(revision?),
            replaces: replaces.map(RevisionId),
            done: Done {
                on: on?,
                planned: self.planned(),
                minutes,
                effort,
                pain,
                note: note?,
                sets,
            },
        })
    }

    fn sets(&mut self, allowed: &Allowed) -> Vec<SetDone> {
        let total: usize = self.rows.iter().sum();
        if total > MOST_SETS {
            let sentence = format!("At most {MOST_SETS} sets fit in one session; here are {total}");
            self.wrong("work-1-set-1-reps", sentence);
            return Vec::new();
        }
        let mut sets = Vec::with_capacity(total);
        for (part, rows) in (1..).zip(self.rows.clone()) {
            let movement = self.field(&part_field(part, "movement"), |text| {
                among(text, &allowed.movements, "Choose a movement")
            });
            let loading = self.field(&part_field(part, "club"), |text| {
                among(text, &allowed.clubs, "Choose a club")
            });
            let hands = self.field(&part_field(part, "hands"), |text| {
                Hands::from_word(text).ok_or("Choose how the club was held")
            });
            let timed = self.is_timed(part);
            for set in 1..=rows {
                let work = self.work(part, set, timed);
                let side = self.field(&set_field(part, set, "side"), |text| {
                    Side::from_word(text).ok_or("Choose left or right")
                });
                let (Some(work), Some(side)) = (work, side) else {
                    continue;
                };
                let (Some(movement), Some(hands), Some(loading)) = (movement, hands, loading)
                else {
                    continue;
                };
                let asked = allowed.asked.get(&(movement, hands, loading)).copied();
                let work = match work {
                    Work::Straight { reps, .. } => Work::Straight { reps, asked },
                    interval @ Work::Interval { .. } => interval,
                };
                sets.push(SetDone {
                    movement,
                    hands,
                    loading,
                    side,
                    work,
                });
            }
        }
        sets
    }

    /// L5: what had to be said and was not.
    fn unsaid(&mut self, asked: Questions, effort: Option<Effort>, pain: &[Pain]) {
        let effort = asked.effort.filter(|_| effort.is_none());
        let pain = asked.pain.filter(|_| pain.is_empty());
        for (name, must) in [("effort", effort), (&pain_field(1, "score"), pain)] {
            if let Some(must) = must.filter(|_| self.error(name).is_none()) {
                self.wrong(name, must.why.sentence());
            }
        }
    }

    /// A row with no count is a set that was not done.
    fn work(&mut self, part: usize, set: usize, timed: bool) -> Option<Work> {
        let reps = self.optional(&set_field(part, set, "reps"), |text| {
            whole(text).and_then(|value| Reps::new(value).map_err(|e| e.to_string()))
        })?;
        if !timed {
            return Some(Work::Straight { reps, asked: None });
        }
        let seconds = self.field(&set_field(part, set, "seconds"), |text| {
            if text.is_empty() {
                return Err("Say how many seconds this set took".to_owned());
            }
            whole(text).and_then(|value| Seconds::new(value).map_err(|e| e.to_string()))
        })?;
        Some(Work::Interval { seconds, reps })
    }

    fn pain(&mut self) -> Vec<Pain> {
        let mut pain = Vec::new();
        if self.pains > MOST_PAIN {
            self.wrong(
                "pain-1-place",
                format!("At most {MOST_PAIN} places fit in one session"),
            );
            return pain;
        }
        for row in 1..=self.pains {
            let place = self.optional(&pain_field(row, "place"), PainPlace::new);
            let name = pain_field(row, "score");
            let score = self.optional(&name, |text| {
                whole(text).and_then(|value| PainScore::new(value).map_err(|e| e.to_string()))
            });
            match (score, place) {
                (Some(score), place) => pain.push(Pain { score, place }),
                (None, Some(_)) if self.error(&name).is_none() => {
                    self.wrong(&name, "Say how much it hurt there, 0 to 10");
                }
                (None, _) => {}
            }
        }
        pain
    }
}

/// A sentence beside a field begins with a capital letter.
pub(super) fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn whole(text: &str) -> Result<i64, String> {
    text.parse()
        .map_err(|_| "write a whole number, such as 14".to_owned())
}

const CHANGED_ON_THE_WAY: &str =
    "This form was changed on its way here: open it again and copy over what you typed";

/// An id that was made with the form.
fn fresh_id(text: &str) -> Result<Uuid, &'static str> {
    known_id(text).and_then(|id| match id.get_version_num() {
        7 => Ok(id),
        _ => Err(CHANGED_ON_THE_WAY),
    })
}

/// An id of something in the log; what came from a file has ids of its own kind.
fn known_id(text: &str) -> Result<Uuid, &'static str> {
    Uuid::try_parse(text).map_err(|_| CHANGED_ON_THE_WAY)
}

fn day_within(text: &str, days: OpenDays) -> Result<Date, String> {
    let day = day_from(text).ok_or("Write the day as year-month-day, such as 2026-03-09")?;
    days.check(day).map(|()| day)
}

fn among<I: From<Uuid> + PartialEq + Copy>(
    text: &str,
    known: &[(I, String)],
    sentence: &'static str,
) -> Result<I, &'static str> {
    let id = I::from(Uuid::try_parse(text).map_err(|_| sentence)?);
    known
        .iter()
        .find(|(known, _)| *known == id)
        .map(|(known, _)| *known)
        .ok_or(sentence)
}

fn effort_from(text: &str) -> Result<Effort, String> {
    let rating: f64 = text
        .replace(',', ".")
        .parse()
        .map_err(|_| "choose an effort from 0 to 10".to_owned())?;
    Effort::new(rating).map_err(|refused| refused.to_string())
}

/// Effort from 0 to 10 in half steps, with words at the whole steps that have one.
pub(super) fn effort_choices() -> Vec<Choice> {
    let steps = (0..=20u8).filter_map(|half| Effort::from_half_steps(half).ok());
    std::iter::once(Choice::new("", "not said"))
        .chain(steps.map(|effort| {
            let rating = effort.rating().to_string();
            let word = match effort_word(effort) {
                "" => rating.clone(),
                word => format!("{rating} – {word}"),
            };
            Choice::new(rating, word)
        }))
        .collect()
}

/// The word at a step of the scale (after Foster 2001, session rating; from memory); empty between.
pub(super) const fn effort_word(effort: Effort) -> &'static str {
    match effort.half_steps() {
        0 => "rest",
        2 => "very, very easy",
        4 => "easy",
        6 => "moderate",
        8 => "somewhat hard",
        10 => "hard",
        14 => "very hard",
        20 => "as hard as can be",
        _ => "",
    }
}

/// Pain from 0 to 10, and from where on it stops the work (L4).
pub(super) fn pain_choices(stop_at: u8) -> Vec<Choice> {
    std::iter::once(Choice::new("", "not said"))
        .chain((0..=10u8).map(|score| {
            let word = match score {
                0 => "no pain",
                1..=3 => "mild",
                4..=6 => "moderate",
                _ => "severe",
            };
            let stop = if score >= stop_at { ": stop" } else { "" };
            Choice::new(score.to_string(), format!("{score} – {word}{stop}"))
        }))
        .collect()
}

/// How a club is held, in the athlete's words.
pub(super) const fn hands_word(hands: Hands) -> &'static str {
    match hands {
        Hands::Two => "two hands",
        Hands::Fingertip => "one hand, fingertips of the other guiding",
        Hands::One => "one hand",
    }
}

/// The ways to hold a club.
pub(super) fn hands_choices() -> Vec<Choice> {
    Hands::ALL
        .into_iter()
        .map(|hands| Choice::new(hands.word(), hands_word(hands)))
        .collect()
}

/// How sets are counted.
pub(super) fn counted_choices() -> Vec<Choice> {
    vec![
        Choice::new("time", "against the clock"),
        Choice::new("reps", "a set number of reps"),
    ]
}

/// The two sides.
pub(super) fn side_choices() -> Vec<Choice> {
    vec![Choice::new("left", "left"), Choice::new("right", "right")]
}
