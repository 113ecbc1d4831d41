//! What an athlete's story is told in, beside [`crate::progress`]: both sides by week, what became
//! of each day, the times without training, and the coach's questions with their answers in a
//! sentence. Nothing is judged here; the rules judge.

pub mod answers;
mod gaps;

use std::collections::{BTreeMap, BTreeSet};

use time::{Date, Duration};

pub use gaps::{Gap, GapKind, gaps};

use crate::id::MovementId;
use crate::policy::Policy;
use crate::review::Week;
use crate::stats::symmetry_index;
use crate::training::{Hands, History};

/// Reps with each hand working, over some days.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct BothSides {
    /// Left.
    pub left: u32,
    /// Right.
    pub right: u32,
}

impl BothSides {
    /// B2: the symmetry index, percent; `None` where nothing was swung.
    pub fn index_percent(self) -> Option<f64> {
        symmetry_index(self.left, self.right)
    }
}

/// Reps by ISO week, all movements together, weeks without a session left out, the oldest first.
pub fn sides_by_week(history: &History, from: Date, until: Date) -> Vec<(Week, BothSides)> {
    let mut weeks: BTreeMap<Week, BothSides> = BTreeMap::new();
    for session in history.sessions_until(until) {
        if session.on < from {
            continue;
        }
        let week = weeks.entry(Week::of(session.on)).or_default();
        for bout in session.bouts() {
            week.left += bout.left.reps;
            week.right += bout.right.reps;
        }
    }
    weeks.into_iter().collect()
}

/// B2: reps over the days that the symmetry index looks back over, as they stood on the Sunday of each
/// week with a session in it, and today of a week that is not over; the oldest first.
pub fn sides_looking_back(
    history: &History,
    policy: &Policy,
    from: Date,
    today: Date,
) -> Vec<(Date, BothSides)> {
    let back = Duration::days(i64::from(policy.symmetry_days) - 1);
    let mut ends: Vec<Date> = history
        .sessions_until(today)
        .iter()
        .filter(|session| session.on >= from)
        .map(|session| Week::of(session.on).sunday().min(today))
        .collect();
    ends.dedup();
    ends.into_iter()
        .map(|end| {
            let first = end.saturating_sub(back);
            let works = sides_by_work(history, first, end);
            let sum = works
                .values()
                .fold(BothSides::default(), |sum, one| BothSides {
                    left: sum.left + one.left,
                    right: sum.right + one.right,
                });
            (end, sum)
        })
        .collect()
}

/// Reps over some days in each movement and way of holding, as B2 compares them.
pub fn sides_by_work(
    history: &History,
    from: Date,
    until: Date,
) -> BTreeMap<(MovementId, Hands), BothSides> {
    let mut work: BTreeMap<(MovementId, Hands), BothSides> = BTreeMap::new();
    for session in history.sessions_until(until) {
        if session.on < from {
            continue;
        }
        for bout in session.bouts() {
            let sides = work.entry((bout.movement, bout.hands)).or_default();
            sides.left += bout.left.reps;
            sides.right += bout.right.reps;
        }
    }
    work
}

/// What became of a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DayKind {
    /// Nothing planned, nothing done.
    Blank,
    /// Trained.
    Done,
    /// Planned, not done, and past.
    Missed,
    /// Excused or paused.
    Excused,
    /// Planned, still to come.
    Planned,
}

/// The days of an athlete: what was done, what was planned and not answered, what was excused.
#[derive(Debug, Clone)]
pub struct Days<'a> {
    done: BTreeSet<Date>,
    open: BTreeSet<Date>,
    excused: &'a [(Date, Date)],
    today: Date,
}

impl<'a> Days<'a> {
    /// `open` are the days of planned sessions that still stand and that no session answers: one
    /// that was done on another day is not missed, nor is one that the coach skipped.
    pub fn new(history: &'a History, open: impl IntoIterator<Item = Date>, today: Date) -> Self {
        Self {
            done: history
                .sessions_until(today)
                .iter()
                .map(|session| session.on)
                .collect(),
            open: open.into_iter().collect(),
            excused: &history.excused,
            today,
        }
    }

    /// What became of this day. What was done counts before everything else; whoever is excused
    /// has missed nothing. A session planned for today can still be done.
    pub fn kind(&self, day: Date) -> DayKind {
        let excused = || {
            self.excused
                .iter()
                .any(|(first, last)| (*first..=*last).contains(&day))
        };
        if self.done.contains(&day) {
            DayKind::Done
        } else if day <= self.today && excused() {
            DayKind::Excused
        } else if !self.open.contains(&day) {
            DayKind::Blank
        } else if excused() {
            DayKind::Excused
        } else if day < self.today {
            DayKind::Missed
        } else {
            DayKind::Planned
        }
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;
    use crate::rules::clubs_worked;
    use crate::scenario::{MILL, PULLOVER, club, day, history, of_mass};

    const TWO: Hands = Hands::Two;

    // 2026-01-01 is a Thursday in week 1 of 2026 (ISO 8601). The index of 45 and 50 is 10.526 by
    // the formula of Robinson 1987.
    #[test]
    fn sides_add_up_by_iso_week_and_by_work() {
        let history = history(
            vec![
                day(date!(2025 - 12 - 29)).sets((MILL, TWO, club(1)), 30, &[(20, 25)]),
                day(date!(2026 - 01 - 01)).sets((PULLOVER, TWO, club(1)), 30, &[(25, 25)]),
                day(date!(2026 - 01 - 05)).sets((MILL, TWO, club(1)), 30, &[(10, 12), (10, 8)]),
            ],
            vec![of_mass(1, 5.0)],
        );
        let weeks = sides_by_week(&history, date!(2025 - 12 - 29), date!(2026 - 01 - 31));
        assert_eq!(weeks.len(), 2);
        assert_eq!(weeks[0].0.to_string(), "2026-W01");
        assert_eq!((weeks[0].1.left, weeks[0].1.right), (45, 50));
        assert!((weeks[0].1.index_percent().unwrap() - 10.5263).abs() < 1e-3);
        assert_eq!((weeks[1].1.left, weeks[1].1.right), (20, 20));
        let work = sides_by_work(&history, date!(2026 - 01 - 01), date!(2026 - 01 - 31));
        assert_eq!(
            work[&(MILL, TWO)],
            BothSides {
                left: 20,
                right: 20
            }
        );
        assert_eq!(work[&(PULLOVER, TWO)].index_percent(), Some(0.0));
        assert_eq!(BothSides::default().index_percent(), None);
    }

    // By hand: 28 days back from Sunday 1 Feb begin on 5 Jan, from 8 Feb on 12 Jan; the running week ends today.
    #[test]
    fn the_index_looks_back_over_its_days_from_each_sunday() {
        let swung = |on, left, right| day(on).sets((MILL, TWO, club(1)), 30, &[(left, right)]);
        let history = history(
            vec![
                swung(date!(2026 - 01 - 05), 20, 30),
                swung(date!(2026 - 01 - 29), 10, 10),
                swung(date!(2026 - 02 - 04), 5, 5),
                swung(date!(2026 - 02 - 09), 1, 2),
            ],
            vec![of_mass(1, 5.0)],
        );
        let found = sides_looking_back(
            &history,
            &Policy::default(),
            date!(2026 - 01 - 06),
            date!(2026 - 02 - 10),
        );
        let read: Vec<_> = found
            .iter()
            .map(|(day, sides)| (*day, sides.left, sides.right))
            .collect();
        assert_eq!(
            read,
            [
                (date!(2026 - 02 - 01), 30, 40),
                (date!(2026 - 02 - 08), 15, 15),
                (date!(2026 - 02 - 10), 16, 17),
            ]
        );
    }

    #[test]
    fn a_day_is_what_became_of_it() {
        let mut history = history(
            vec![day(date!(2026 - 11 - 02)).sets((MILL, TWO, club(1)), 30, &[(20, 20)])],
            vec![of_mass(1, 5.0)],
        );
        history.excused = vec![(date!(2026 - 11 - 09), date!(2026 - 11 - 12))];
        let open = [
            date!(2026 - 11 - 02),
            date!(2026 - 11 - 05),
            date!(2026 - 11 - 09),
            date!(2026 - 11 - 16),
            date!(2026 - 11 - 19),
        ];
        let days = Days::new(&history, open, date!(2026 - 11 - 16));
        for (day, kind) in [
            (date!(2026 - 11 - 02), DayKind::Done),
            (date!(2026 - 11 - 03), DayKind::Blank),
            (date!(2026 - 11 - 05), DayKind::Missed),
            (date!(2026 - 11 - 09), DayKind::Excused),
            (date!(2026 - 11 - 10), DayKind::Excused),
            (date!(2026 - 11 - 16), DayKind::Planned),
            (date!(2026 - 11 - 19), DayKind::Planned),
            (date!(2026 - 11 - 20), DayKind::Blank),
        ] {
            assert_eq!(days.kind(day), kind, "{day}");
        }
    }

    // Masses 5, 6 and 7.5 kg with the same balance: steps of 20 and 25 % by M1 and M4.
    #[test]
    fn steps_taken_are_those_between_sessions_and_have_their_size() {
        let history = history(
            vec![
                day(date!(2026 - 01 - 05)).sets((MILL, TWO, club(1)), 30, &[(20, 20)]),
                day(date!(2026 - 01 - 08)).sets((MILL, TWO, club(2)), 30, &[(20, 20)]),
                day(date!(2026 - 01 - 12)).sets((MILL, TWO, club(1)), 30, &[(20, 20)]),
                day(date!(2026 - 01 - 15)).sets((MILL, TWO, club(2)), 30, &[(20, 20)]),
                day(date!(2026 - 01 - 19)).sets((MILL, TWO, club(3)), 30, &[(20, 20)]),
            ],
            vec![of_mass(1, 5.0), of_mass(2, 6.0), of_mass(3, 7.5)],
        );
        let worked = clubs_worked(&history, &Policy::default(), date!(2026 - 01 - 31));
        assert_eq!(worked.len(), 1);
        assert_eq!(worked[0].worked.len(), 5);
        let sizes: Vec<i64> = worked[0]
            .steps
            .iter()
            .map(|step| (step.size.fraction * 1000.0).round() as i64)
            .collect();
        assert_eq!(sizes, [200, 200, 250]);
        assert_eq!(worked[0].steps[2].on, date!(2026 - 01 - 19));
        let before = clubs_worked(&history, &Policy::default(), date!(2026 - 01 - 07));
        assert!(before[0].steps.is_empty());
    }
}
