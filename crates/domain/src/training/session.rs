//! One logged session and its sets.

use serde::{Deserialize, Serialize};
use time::Date;

use super::{Hands, Side};
use crate::id::{LoadingId, MovementId, PlannedId, SessionId};
use crate::text::Label;
use crate::units::{Effort, Minutes, Pain as PainScore, Reps, Seconds};

/// The work of one set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Work {
    /// Work for a fixed time; the reps were counted.
    Interval {
        /// Length of the interval.
        seconds: Seconds,
        /// Reps counted in it.
        reps: Reps,
    },
    /// A fixed number of reps.
    Straight {
        /// Reps done.
        reps: Reps,
        /// Reps the plan asked for, where there was a plan. Fewer done than asked is a missed rep.
        asked: Option<Reps>,
    },
}

impl Work {
    /// Reps done, whichever kind of set it was.
    pub const fn reps(self) -> Reps {
        match self {
            Self::Interval { reps, .. } | Self::Straight { reps, .. } => reps,
        }
    }
}

/// One set as it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetDone {
    /// What was swung.
    pub movement: MovementId,
    /// How it was held.
    pub hands: Hands,
    /// With which club, as loaded.
    pub loading: LoadingId,
    /// On which side.
    pub side: Side,
    /// How much.
    pub work: Work,
}

/// A place on the body, in the athlete's own word, folded so that the same place compares equal.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PainPlace(String);

/// Why a pain place was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a pain place is 1 to 60 printable characters, such as \"left elbow\"")]
pub struct PainPlaceError;

impl PainPlace {
    /// Trims, folds case and inner white space, and refuses what is empty, long or unprintable.
    pub fn new(text: &str) -> Result<Self, PainPlaceError> {
        Label::<60>::new(&text.to_lowercase())
            .map(|folded| Self(folded.into()))
            .map_err(|_| PainPlaceError)
    }

    /// The folded word.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for PainPlace {
    type Error = PainPlaceError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        Self::new(&text)
    }
}

impl From<PainPlace> for String {
    fn from(place: PainPlace) -> Self {
        place.0
    }
}

/// Pain as reported: how much, and where if it was said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pain {
    /// 0 to 10.
    pub score: PainScore,
    /// Where.
    pub place: Option<PainPlace>,
}

/// One logged session: the current revision of it, without the athlete's free-text note, which no
/// rule may read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Session {
    /// Its id, the same through all revisions.
    pub id: SessionId,
    /// The training day, in the gym's zone.
    pub on: Date,
    /// The planned session it answers, if any.
    pub planned: Option<PlannedId>,
    /// How long the whole session took.
    pub minutes: Option<Minutes>,
    /// Session effort (CR10).
    pub effort: Option<Effort>,
    /// Pain reports; empty when none was given.
    pub pain: Vec<Pain>,
    /// The sets in the order they were done.
    pub sets: Vec<SetDone>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_a_word_that_can_be_seen() {
        for (typed, kept) in [(" Left \t Elbow", "left elbow"), ("כתף", "כתף")] {
            assert_eq!(PainPlace::new(typed).unwrap().as_str(), kept);
        }
        for bad in [
            "",
            " ",
            "\u{200b}",
            "a\u{0}",
            "wo\u{202e}ble",
            &"x".repeat(61),
        ] {
            assert_eq!(PainPlace::new(bad), Err(PainPlaceError), "{bad:?}");
        }
    }
}
