//! A log entry as a phone keeps and sends it: one revision of a session, in JSON.

use leverbook_domain::id::{LoadingId, MovementId, PlannedId, RevisionId, SessionId};
use leverbook_domain::training::{Hands, Note, Pain, PainPlace, SetDone, Side, Work};
use leverbook_domain::units::{Effort, Minutes, Pain as PainScore, Reps, Seconds};
use leverbook_store::log::{Done, Logged, MOST_PAIN, MOST_SETS, PlannedSeen, Revision};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::log_form::{capital, day_from, day_value};

/// The version of the entry's form.
pub(super) const FORMAT: u32 = 1;

/// An entry as it travels. A field that is not known here is refused, never dropped.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Entry {
    format: u32,
    pub(super) id: Uuid,
    pub(super) replaces: Option<Uuid>,
    session: Uuid,
    on: String,
    planned: Option<EntryPlanned>,
    sets: Vec<EntrySet>,
    effort: Option<f64>,
    pain: Vec<EntryPain>,
    minutes: Option<i64>,
    #[serde(default)]
    note: String,
    #[serde(default)]
    taken_back: bool,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryPlanned {
    planned: Uuid,
    revision: i32,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EntrySet {
    movement: Uuid,
    hands: String,
    club: Uuid,
    side: String,
    seconds: Option<i64>,
    reps: i64,
    asked: Option<i64>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryPain {
    score: i64,
    place: Option<String>,
}

/// Only the version, of whatever else an entry holds.
#[derive(Deserialize)]
struct Format {
    format: u32,
}

/// What is wrong with an entry: the field, and a sentence.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub(super) struct Problem {
    pub(super) field: &'static str,
    pub(super) sentence: String,
}

impl Problem {
    pub(super) fn at(field: &'static str, sentence: impl Into<String>) -> Self {
        Self {
            field,
            sentence: capital(&sentence.into()),
        }
    }
}

/// An entry, read into what the log takes.
#[derive(Debug)]
pub(super) struct Sent {
    pub(super) revision: RevisionId,
    pub(super) replaces: Option<RevisionId>,
    pub(super) session: SessionId,
    /// `None` takes the session back.
    pub(super) done: Option<Done>,
}

impl Sent {
    /// Whether the log has just this under the same id.
    pub(super) fn is(&self, stored: &Revision) -> bool {
        (self.revision, self.replaces, self.session, &self.done)
            == (
                stored.revision,
                stored.replaces,
                stored.session,
                &stored.done,
            )
    }
}

impl Entry {
    /// Reads the JSON.
    pub(super) fn from_text(text: &str) -> Result<Self, Problem> {
        let format: Format = serde_json::from_str(text)
            .map_err(|_| Problem::at("entry", "this cannot be read as an entry of a phone"))?;
        if format.format != FORMAT {
            return Err(Problem::at(
                "entry",
                "this was kept by another version of the phone’s pages, which the server does not \
                 know. It stays on the phone",
            ));
        }
        serde_json::from_str(text)
            .map_err(|error| Problem::at("entry", format!("this entry cannot be read: {error}")))
    }

    /// A session of the log as an entry.
    pub(super) fn of_logged(logged: &Logged) -> Self {
        Self::of(
            logged.revision,
            logged.replaces,
            logged.session,
            &logged.done,
        )
    }

    /// A revision as an entry; `None` where it takes its session back.
    pub(super) fn of_revision(stored: &Revision) -> Option<Self> {
        let done = stored.done.as_ref()?;
        Some(Self::of(
            stored.revision,
            stored.replaces,
            stored.session,
            done,
        ))
    }

    fn of(
        revision: RevisionId,
        replaces: Option<RevisionId>,
        session: SessionId,
        done: &Done,
    ) -> Self {
        Self {
            format: FORMAT,
            id: revision.0,
            replaces: replaces.map(|replaces| replaces.0),
            session: session.0,
            on: day_value(done.on),
            planned: done.planned.map(|seen| EntryPlanned {
                planned: seen.planned.0,
                revision: seen.revision,
            }),
            sets: done.sets.iter().map(EntrySet::of).collect(),
            effort: done.effort.map(Effort::rating),
            pain: done.pain.iter().map(EntryPain::of).collect(),
            minutes: done.minutes.map(i64::from),
            note: done.note.as_str().to_owned(),
            taken_back: false,
        }
    }

    /// Reads every field into what it means, or says everything that is wrong.
    pub(super) fn read(&self) -> Result<Sent, Vec<Problem>> {
        let mut wrong = Vec::new();
        if self.id.get_version_num() != 7 {
            wrong.push(Problem::at("entry", "its id is none that a phone makes"));
        }
        if self.replaces.is_none() && self.session != self.id {
            wrong.push(Problem::at(
                "entry",
                "a first entry has the id of its session",
            ));
        }
        if self.replaces.is_none() && self.taken_back {
            wrong.push(Problem::at("entry", "there is nothing to take back yet"));
        }
        let done = if self.taken_back {
            None
        } else {
            self.done(&mut wrong)
        };
        if !wrong.is_empty() {
            return Err(wrong);
        }
        Ok(Sent {
            revision: RevisionId(self.id),
            replaces: self.replaces.map(RevisionId),
            session: SessionId(self.session),
            done,
        })
    }

    fn done(&self, wrong: &mut Vec<Problem>) -> Option<Done> {
        let on = kept(wrong, "on", || {
            day_from(&self.on).ok_or("write the day as year-month-day, such as 2026-03-09")
        });
        let sets = self.sets(wrong);
        let effort = match self.effort {
            Some(rating) => kept(wrong, "effort", || Effort::new(rating)).map(Some),
            None => Some(None),
        };
        let minutes = match self.minutes {
            Some(minutes) => kept(wrong, "minutes", || Minutes::new(minutes)).map(Some),
            None => Some(None),
        };
        let pain = self.pain(wrong);
        let note = kept(wrong, "note", || Note::new(&self.note));
        if self.sets.is_empty() && self.pain.is_empty() {
            wrong.push(Problem::at(
                "sets",
                "put a count into at least one set, or say where it hurts, or there is nothing to log",
            ));
        }
        Some(Done {
            on: on?,
            planned: self.planned.as_ref().map(|seen| PlannedSeen {
                planned: PlannedId(seen.planned),
                revision: seen.revision,
            }),
            minutes: minutes?,
            effort: effort?,
            pain,
            note: note?,
            sets,
        })
    }

    fn sets(&self, wrong: &mut Vec<Problem>) -> Vec<SetDone> {
        if self.sets.len() > MOST_SETS {
            let here = self.sets.len();
            let sentence = format!("at most {MOST_SETS} sets fit in one session; here are {here}");
            wrong.push(Problem::at("sets", sentence));
            return Vec::new();
        }
        let mut sets = Vec::with_capacity(self.sets.len());
        for (set, number) in self.sets.iter().zip(1..) {
            match set.read() {
                Ok(set) => sets.push(set),
                Err(what) => wrong.push(Problem::at("sets", format!("Set {number}: {what}"))),
            }
        }
        sets
    }

    fn pain(&self, wrong: &mut Vec<Problem>) -> Vec<Pain> {
        if self.pain.len() > MOST_PAIN {
            let sentence = format!("at most {MOST_PAIN} places fit in one session");
            wrong.push(Problem::at("pain", sentence));
            return Vec::new();
        }
        self.pain
            .iter()
            .filter_map(|pain| {
                let score = kept(wrong, "pain", || PainScore::new(pain.score))?;
                let place = match pain.place.as_deref() {
                    None => None,
                    Some(place) => Some(kept(wrong, "pain", || PainPlace::new(place))?),
                };
                Some(Pain { score, place })
            })
            .collect()
    }
}

/// What was read, or a sentence at its field.
fn kept<T, E: std::fmt::Display>(
    wrong: &mut Vec<Problem>,
    field: &'static str,
    read: impl FnOnce() -> Result<T, E>,
) -> Option<T> {
    read()
        .map_err(|error| wrong.push(Problem::at(field, error.to_string())))
        .ok()
}

impl EntrySet {
    fn of(set: &SetDone) -> Self {
        let (seconds, asked) = match set.work {
            Work::Interval { seconds, .. } => (Some(i64::from(seconds)), None),
            Work::Straight { asked, .. } => (None, asked.map(i64::from)),
        };
        Self {
            movement: set.movement.0,
            hands: set.hands.word().to_owned(),
            club: set.loading.0,
            side: set.side.word().to_owned(),
            seconds,
            reps: i64::from(set.work.reps()),
            asked,
        }
    }

    fn read(&self) -> Result<SetDone, String> {
        let reps = Reps::new(self.reps).map_err(|refused| refused.to_string())?;
        let work = match (self.seconds, self.asked) {
            (Some(_), Some(_)) => {
                return Err("reps are asked of straight sets, whose seconds are empty".to_owned());
            }
            (Some(seconds), None) => Work::Interval {
                seconds: Seconds::new(seconds).map_err(|refused| refused.to_string())?,
                reps,
            },
            (None, None) => Work::Straight { reps, asked: None },
            (None, Some(0)) => return Err("the reps asked must be 1 or more".to_owned()),
            (None, Some(asked)) => Work::Straight {
                reps,
                asked: Some(Reps::new(asked).map_err(|refused| format!("asked {refused}"))?),
            },
        };
        Ok(SetDone {
            movement: MovementId(self.movement),
            hands: Hands::from_word(&self.hands).ok_or("say how the club was held")?,
            loading: LoadingId(self.club),
            side: Side::from_word(&self.side).ok_or("say left or right")?,
            work,
        })
    }
}

impl EntryPain {
    fn of(pain: &Pain) -> Self {
        Self {
            score: i64::from(pain.score.get()),
            place: pain.place.as_ref().map(|place| place.as_str().to_owned()),
        }
    }
}
