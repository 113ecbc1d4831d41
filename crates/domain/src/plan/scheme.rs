//! The three kinds of block.

use serde::{Deserialize, Serialize};

use crate::training::Hands;
use crate::units::{Density, Reps, Seconds};

/// How a block progresses.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Scheme {
    /// Two-hand work against the clock (T1): club and interval stay, the count climbs.
    IntervalSets(IntervalSets),
    /// The stage between two hands and one (O3): few reps, nothing is added.
    FingertipSets(FingertipSets),
    /// One-hand strength by volume (V1-V6): reps stay, sets are added.
    SetLadder(SetLadder),
}

impl Scheme {
    /// How the club is held: each way of holding has its own scheme.
    pub const fn hands(&self) -> Hands {
        match self {
            Self::IntervalSets(_) => Hands::Two,
            Self::FingertipSets(_) => Hands::Fingertip,
            Self::SetLadder(_) => Hands::One,
        }
    }

    /// Sets on each side: of every session, or of a ladder's first week.
    pub const fn sets(&self) -> u8 {
        match self {
            Self::IntervalSets(work) => work.sets,
            Self::FingertipSets(work) => work.sets,
            Self::SetLadder(ladder) => ladder.start_sets,
        }
    }

    /// The same with so many sets on each side; a ladder begins with them, and its target is no less.
    #[must_use]
    pub fn with_sets(self, sets: u8) -> Self {
        match self {
            Self::IntervalSets(work) => Self::IntervalSets(IntervalSets { sets, ..work }),
            Self::FingertipSets(work) => Self::FingertipSets(FingertipSets { sets, ..work }),
            Self::SetLadder(ladder) => Self::SetLadder(SetLadder {
                start_sets: sets,
                target_sets: ladder.target_sets.max(sets),
                ..ladder
            }),
        }
    }

    /// The goal of interval sets (T3).
    pub const fn goal(&self) -> Option<Density> {
        match self {
            Self::IntervalSets(work) => work.goal,
            _ => None,
        }
    }

    /// The same with this goal; work that has none stays as it is.
    #[must_use]
    pub const fn with_goal(self, goal: Option<Density>) -> Self {
        match self {
            Self::IntervalSets(work) => Self::IntervalSets(IntervalSets { goal, ..work }),
            other => other,
        }
    }
}

/// Parameters of [`Scheme::IntervalSets`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct IntervalSets {
    /// Sets on each side.
    pub sets: u8,
    /// Length of each interval.
    pub seconds: Seconds,
    /// Rest between sets, in seconds.
    pub rest_seconds: u16,
    /// The coach's goal density (T3); `None` takes the policy's default.
    pub goal: Option<Density>,
}

/// Parameters of [`Scheme::FingertipSets`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct FingertipSets {
    /// Sets on each side.
    pub sets: u8,
    /// Reps in each set.
    pub reps: Reps,
    /// Rest between sets, in seconds.
    pub rest_seconds: u16,
}

/// Parameters of [`Scheme::SetLadder`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetLadder {
    /// Reps in each set, the same through the whole ladder (V1, V2).
    pub reps: Reps,
    /// Sets on each side in the first week (V1: 5).
    pub start_sets: u8,
    /// Sets added each week (V2: 1).
    pub add_per_week: u8,
    /// Sets on each side at which the ladder is done (V2: 10, then 20).
    pub target_sets: u8,
    /// Whether every fourth week is a light week of fewer sets instead of only holding (V6).
    pub light_fourth_week: bool,
    /// Rest between sets, in seconds.
    pub rest_seconds: u16,
}
