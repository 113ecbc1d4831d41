//! What one planned session asks for.

use serde::{Deserialize, Serialize};

use crate::id::{LoadingId, MovementId};
use crate::training::Hands;
use crate::units::{Density, Reps, Seconds};

/// One planned session's content, frozen as the athlete saw it: the names are part of it, so that
/// renaming a club later does not rewrite the past.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Prescription {
    /// Movement.
    pub movement: MovementId,
    /// Its name when it was prescribed.
    pub movement_name: String,
    /// Hands.
    pub hands: Hands,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// Its name when it was prescribed.
    pub club_name: String,
    /// Sets on each side.
    pub sets: u8,
    /// What each set asks.
    pub ask: Ask,
    /// Rest between sets, in seconds.
    pub rest_seconds: u16,
    /// The week of its block, from 1.
    pub week: u8,
    /// The coach's note to the athlete.
    pub note: Option<String>,
}

/// What each set of a prescription asks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Ask {
    /// As many clean reps as fit an interval.
    Interval {
        /// Its length.
        seconds: Seconds,
        /// The density to reach, if known.
        goal: Option<Density>,
    },
    /// A fixed number of reps.
    Straight {
        /// How many.
        reps: Reps,
    },
}
