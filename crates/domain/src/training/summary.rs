//! A session in short: what was done with each club, side by side.

use super::{Hands, Session, SetDone, Side, Work};
use crate::id::{LoadingId, MovementId};
use crate::units::{Density, Seconds};

/// What one side did in a [`Bout`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct SideWork {
    /// Sets.
    pub sets: u16,
    /// Reps over all sets.
    pub reps: u32,
    /// Seconds of work over all interval sets; 0 in straight sets.
    pub seconds: u32,
    /// Sets with fewer reps than the bout's own [`Bout::reps`] or than the plan asked for.
    pub missed: u16,
}

impl SideWork {
    /// T2 of this side alone; `None` in straight sets and where nothing was done.
    pub fn density(&self) -> Option<Density> {
        Density::of_work(self.reps, self.seconds).ok()
    }
}

/// All sets of one session with the same movement, hands, club and kind of set (for interval sets:
/// also the same interval).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bout {
    /// Movement.
    pub movement: MovementId,
    /// Hands.
    pub hands: Hands,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// The interval of interval sets; `None` for straight sets.
    pub seconds: Option<Seconds>,
    /// Reps that each set was for. In straight sets: what the plan asked for in most of them, else
    /// what was done in most of them; of two equally frequent numbers the larger. 0 in interval
    /// sets, whose count is free.
    pub reps: u16,
    /// Whether a plan asked for reps in every straight set.
    pub asked: bool,
    /// The most reps of any set.
    pub most_reps: u16,
    /// Left side.
    pub left: SideWork,
    /// Right side.
    pub right: SideWork,
}

impl Bout {
    /// One side's work.
    pub fn side(&self, side: Side) -> &SideWork {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }

    /// Sets done on each side: a set counts once both sides have done it.
    pub fn sets_each_side(&self) -> u16 {
        self.left.sets.min(self.right.sets)
    }

    /// T2 over both sides; `None` in straight sets.
    pub fn density(&self) -> Option<Density> {
        Density::of_work(
            self.left.reps + self.right.reps,
            self.left.seconds + self.right.seconds,
        )
        .ok()
    }

    /// The density of the slower side; `None` unless both sides worked against the clock.
    pub fn slower_side(&self) -> Option<Density> {
        Some(self.left.density()?.min(self.right.density()?))
    }

    /// Whether a straight set had fewer reps than it was for, on either side.
    pub fn missed_reps(&self) -> bool {
        self.left.missed + self.right.missed > 0
    }

    fn holds(&self, set: &SetDone) -> bool {
        let seconds = match set.work {
            Work::Interval { seconds, .. } => Some(seconds),
            Work::Straight { .. } => None,
        };
        (self.movement, self.hands, self.loading, self.seconds)
            == (set.movement, set.hands, set.loading, seconds)
    }
}

impl Session {
    /// The session's bouts, in the order in which each began.
    pub fn bouts(&self) -> Vec<Bout> {
        let mut bouts: Vec<Bout> = Vec::new();
        for set in &self.sets {
            let known = bouts.iter().position(|bout| bout.holds(set));
            let bout = match known {
                Some(at) => &mut bouts[at],
                None => {
                    bouts.push(self.bout_beginning_with(set));
                    bouts.last_mut().expect("just pushed")
                }
            };
            let reps = set.work.reps().get();
            let (seconds, asked) = match set.work {
                Work::Interval { seconds, .. } => (u32::from(seconds.get()), None),
                Work::Straight { asked, .. } => (0, asked),
            };
            let wanted = asked.map_or(bout.reps, |asked| asked.get());
            bout.most_reps = bout.most_reps.max(reps);
            let side = match set.side {
                Side::Left => &mut bout.left,
                Side::Right => &mut bout.right,
            };
            side.sets += 1;
            side.reps += u32::from(reps);
            side.seconds += seconds;
            side.missed += u16::from(reps < wanted);
        }
        bouts
    }

    fn bout_beginning_with(&self, first: &SetDone) -> Bout {
        let mut bout = Bout {
            movement: first.movement,
            hands: first.hands,
            loading: first.loading,
            seconds: None,
            reps: 0,
            asked: false,
            most_reps: 0,
            left: SideWork::default(),
            right: SideWork::default(),
        };
        match first.work {
            Work::Interval { seconds, .. } => bout.seconds = Some(seconds),
            Work::Straight { .. } => {
                let mut wanted: Vec<u16> = Vec::new();
                let mut asked_for_all = true;
                for set in self.sets.iter().filter(|set| bout.holds(set)) {
                    if let Work::Straight { reps, asked } = set.work {
                        wanted.push(asked.unwrap_or(reps).get());
                        asked_for_all &= asked.is_some();
                    }
                }
                bout.asked = asked_for_all;
                wanted.sort_unstable();
                bout.reps = wanted
                    .chunk_by(|a, b| a == b)
                    .max_by_key(|run| run.len())
                    .map_or(0, |run| run[0]);
            }
        }
        bout
    }

    /// The worst pain reported; `None` when none was reported either way.
    pub fn worst_pain(&self) -> Option<u8> {
        self.pain.iter().map(|pain| pain.score.get()).max()
    }
}
