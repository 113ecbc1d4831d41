//! What one planned session asks for.

use serde::{Deserialize, Serialize};

use crate::id::{LoadingId, MovementId};
use crate::training::Hands;
use crate::units::{Density, Reps, Seconds, reps_a_set};

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

impl Prescription {
    /// The count that a set against the clock has to reach for the goal, in whole reps.
    pub fn goal_count(&self) -> Option<u32> {
        let Ask::Interval { seconds, goal } = self.ask else {
            return None;
        };
        let count = reps_a_set(goal?.rpm(), seconds);
        // But for rounding: 1.2 times 25 in 30 s is 15 reps.
        Some((count - 1e-9).ceil() as u32)
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn asks(ask: Ask) -> Prescription {
        Prescription {
            movement: MovementId(Uuid::nil()),
            movement_name: String::new(),
            hands: Hands::Two,
            loading: LoadingId(Uuid::nil()),
            club_name: String::new(),
            sets: 5,
            ask,
            rest_seconds: 60,
            week: 1,
            note: None,
        }
    }

    /// By hand: reps a minute times seconds, over 60, and up to the next whole rep.
    #[test]
    fn a_goal_is_whole_reps_a_set() {
        for (rpm, seconds, expected) in [
            (28.0, 30, 14),
            (28.1, 30, 15),
            (1.2 * 25.0, 30, 15),
            (0.1 * 3.0 * 100.0, 30, 15),
            (33.6, 30, 17),
            (20.0, 45, 15),
            (0.0, 60, 0),
        ] {
            let goal = Some(Density::from_rpm(rpm).unwrap());
            let seconds = Seconds::new(seconds).unwrap();
            assert_eq!(
                asks(Ask::Interval { seconds, goal }).goal_count(),
                Some(expected),
                "{rpm}"
            );
        }
        let seconds = Seconds::new(30).unwrap();
        assert_eq!(
            asks(Ask::Interval {
                seconds,
                goal: None
            })
            .goal_count(),
            None
        );
        let reps = Reps::new(5).unwrap();
        assert_eq!(asks(Ask::Straight { reps }).goal_count(), None);
    }
}
