//! A logged session as a person reads it.

use crate::chart::day_label;
use leverbook_domain::id::{LoadingId, MovementId};
use leverbook_domain::rules::Names;
use leverbook_domain::training::{Hands, Pain, SetDone, Side, Work};
use leverbook_store::log::Done;

use super::log_form::{effort_word, hands_word};

/// One session, ready to be read.
#[derive(Debug)]
pub(super) struct SessionWords {
    pub(super) day: String,
    pub(super) work: Vec<WorkWords>,
    pub(super) minutes: Option<String>,
    pub(super) effort: Option<String>,
    pub(super) pain: Vec<String>,
    pub(super) note: String,
}

/// The sets of one movement, hands and club.
#[derive(Debug)]
pub(super) struct WorkWords {
    pub(super) movement: String,
    pub(super) hands: &'static str,
    pub(super) club: String,
    /// "in 30 s", "of 5 asked"; empty where there is nothing to say.
    pub(super) counted: String,
    pub(super) left: SideWords,
    pub(super) right: SideWords,
}

/// What was done on one side.
#[derive(Debug)]
pub(super) struct SideWords {
    /// The counts in order.
    pub(super) counts: String,
    pub(super) total: u32,
}

type Key = (MovementId, Hands, LoadingId, Option<u16>);

fn key(set: &SetDone) -> Key {
    let seconds = match set.work {
        Work::Interval { seconds, .. } => Some(seconds.get()),
        Work::Straight { .. } => None,
    };
    (set.movement, set.hands, set.loading, seconds)
}

impl SessionWords {
    pub(super) fn of(done: &Done, names: &impl Names) -> Self {
        let mut keys: Vec<Key> = Vec::new();
        for set in &done.sets {
            if !keys.contains(&key(set)) {
                keys.push(key(set));
            }
        }
        Self {
            day: day_label(done.on),
            work: keys
                .into_iter()
                .map(|of| WorkWords::of(of, done, names))
                .collect(),
            minutes: done.minutes.map(|minutes| format!("{} min", minutes.get())),
            effort: done.effort.map(|effort| match effort_word(effort) {
                "" => format!("{} of 10", effort.rating()),
                word => format!("{} of 10, {word}", effort.rating()),
            }),
            pain: done.pain.iter().map(pain_words).collect(),
            note: done.note.as_str().to_owned(),
        }
    }
}

fn pain_words(pain: &Pain) -> String {
    match (pain.score.get(), &pain.place) {
        (0, _) => "none".to_owned(),
        (score, Some(place)) => format!("{score} of 10, {}", place.as_str()),
        (score, None) => format!("{score} of 10"),
    }
}

impl WorkWords {
    fn of(of: Key, done: &Done, names: &impl Names) -> Self {
        let sets: Vec<&SetDone> = done.sets.iter().filter(|set| key(set) == of).collect();
        let (movement, hands, loading, seconds) = of;
        let asked = sets.iter().find_map(|set| match set.work {
            Work::Straight { asked, .. } => asked,
            Work::Interval { .. } => None,
        });
        let counted = match (seconds, asked) {
            (Some(seconds), _) => format!("reps in {seconds} s"),
            (None, Some(asked)) => format!("reps, {} asked", asked.get()),
            (None, None) => "reps".to_owned(),
        };
        Self {
            movement: names.movement(movement).to_owned(),
            hands: hands_word(hands),
            club: names.club(loading).to_owned(),
            counted,
            left: SideWords::of(&sets, Side::Left),
            right: SideWords::of(&sets, Side::Right),
        }
    }
}

impl SideWords {
    fn of(sets: &[&SetDone], side: Side) -> Self {
        let reps: Vec<u16> = sets
            .iter()
            .filter(|set| set.side == side)
            .map(|set| set.work.reps().get())
            .collect();
        let counts: Vec<String> = reps.iter().map(u16::to_string).collect();
        Self {
            counts: if counts.is_empty() {
                "–".to_owned()
            } else {
                counts.join(", ")
            },
            total: reps.into_iter().map(u32::from).sum(),
        }
    }
}
