//! How long a planned session takes.

use super::{Ask, Prescription};
use crate::units::{Density, Seconds, reps_a_set};

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

    /// What is asked, in one line: "5 sets of 30 s a side", "8 sets of 5 a side". A goal is told in
    /// reps a minute, by which sets of different seconds can be compared.
    pub fn line(&self) -> String {
        self.line_with(|goal, _| format!("{:.1} a minute", goal.rpm()))
    }

    /// The same for the athlete: a goal is told in reps a set, which is what they count.
    pub fn line_for_athlete(&self) -> String {
        self.line_with(|goal, seconds| format!("{:.1} reps a set", reps_a_set(goal.rpm(), seconds)))
    }

    fn line_with(&self, told: impl Fn(Density, Seconds) -> String) -> String {
        let sets = if self.sets == 1 { "set" } else { "sets" };
        match self.ask {
            Ask::Interval { seconds, goal } => {
                let goal = goal
                    .map(|goal| format!(", to {}", told(goal, seconds)))
                    .unwrap_or_default();
                format!("{} {sets} of {} s a side{goal}", self.sets, seconds.get())
            }
            Ask::Straight { reps } => format!("{} {sets} of {} a side", self.sets, reps.get()),
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::id::{LoadingId, MovementId};
    use crate::training::Hands;
    use crate::units::Reps;

    fn asks(sets: u8, rest_seconds: u16, ask: Ask) -> Prescription {
        Prescription {
            movement: MovementId(Uuid::nil()),
            movement_name: "Mill".to_owned(),
            hands: Hands::Two,
            loading: LoadingId(Uuid::nil()),
            club_name: "Oak 8".to_owned(),
            sets,
            ask,
            rest_seconds,
            week: 1,
            note: None,
        }
    }

    fn interval(seconds: i64, goal: Option<f64>) -> Ask {
        Ask::Interval {
            seconds: Seconds::new(seconds).unwrap(),
            goal: goal.map(|rpm| Density::from_rpm(rpm).unwrap()),
        }
    }

    fn straight(reps: i64) -> Ask {
        Ask::Straight {
            reps: Reps::new(reps).unwrap(),
        }
    }

    /// Worked by hand: two sides a set, 2 to 4 s a straight rep; the short end rests between rounds, the long end
    /// between all sets.
    #[test]
    fn work_and_rests_are_summed() {
        for (asked, shortest, longest, minutes) in [
            (asks(1, 60, interval(30, None)), 60, 120, "1–2 min"),
            (asks(3, 90, interval(40, None)), 420, 690, "7–12 min"),
            (asks(2, 0, interval(30, None)), 120, 120, "2 min"),
            (asks(1, 0, straight(5)), 20, 40, "1 min"),
            (asks(20, 60, straight(5)), 1540, 3140, "26–53 min"),
            (asks(0, 60, straight(5)), 0, 0, "0 min"),
        ] {
            let time = asked.time();
            assert_eq!((time.shortest, time.longest), (shortest, longest));
            assert_eq!(time.in_minutes(), minutes);
        }
    }

    #[test]
    fn what_is_asked_fits_a_line() {
        for (asked, line) in [
            (asks(5, 60, interval(30, None)), "5 sets of 30 s a side"),
            (asks(8, 60, straight(5)), "8 sets of 5 a side"),
            (asks(1, 60, straight(3)), "1 set of 3 a side"),
        ] {
            assert_eq!(asked.line(), line);
            assert_eq!(asked.line_for_athlete(), line);
        }
        // T2, by hand: 24.25 a minute are 16.17 in forty seconds.
        let goal = asks(1, 60, interval(40, Some(24.25)));
        assert_eq!(goal.line(), "1 set of 40 s a side, to 24.2 a minute");
        assert_eq!(
            goal.line_for_athlete(),
            "1 set of 40 s a side, to 16.2 reps a set"
        );
    }
}
