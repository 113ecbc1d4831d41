//! How long a planned session takes.

use super::{Ask, Prescription};

/// Fewest and most seconds a rep of a straight set takes. Common practice, no source.
const SECONDS_PER_REP: (u32, u32) = (2, 4);

/// How long the work and the rests of one planned session take, without warming up.
///
/// The short end changes hands without a rest and rests only after both sides; the long end rests
/// after every set on either side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SessionTime {
    /// Seconds at the short end.
    pub shortest: u32,
    /// Seconds at the long end.
    pub longest: u32,
}

impl SessionTime {
    /// In whole minutes, rounded up: "12–17 min", or "12 min" where both ends agree.
    pub fn in_minutes(self) -> String {
        let [short, long] = [self.shortest, self.longest].map(|seconds| seconds.div_ceil(60));
        if short == long {
            format!("{short} min")
        } else {
            format!("{short}–{long} min")
        }
    }
}

impl Prescription {
    /// How long it takes.
    pub fn time(&self) -> SessionTime {
        let rounds = u32::from(self.sets);
        let rest = u32::from(self.rest_seconds);
        let (quick, slow) = match self.ask {
            Ask::Interval { seconds, .. } => (seconds.get().into(), seconds.get().into()),
            Ask::Straight { reps } => {
                let reps = u32::from(reps.get());
                (reps * SECONDS_PER_REP.0, reps * SECONDS_PER_REP.1)
            }
        };
        let sets = 2 * rounds;
        SessionTime {
            shortest: sets * quick + rounds.saturating_sub(1) * rest,
            longest: sets * slow + sets.saturating_sub(1) * rest,
        }
    }

    /// What is asked, in one line: "5 sets of 30 s a side", "8 sets of 5 a side".
    pub fn line(&self) -> String {
        let sets = if self.sets == 1 { "set" } else { "sets" };
        match self.ask {
            Ask::Interval { seconds, goal } => {
                let goal = goal
                    .map(|goal| format!(", to {:.1} a minute", goal.rpm()))
                    .unwrap_or_default();
                format!("{} {sets} of {} s a side{goal}", self.sets, seconds.get())
            }
            Ask::Straight { reps } => format!("{} {sets} of {} a side", self.sets, reps.get()),
        }
    }
}
