//! A block as a coach asks for it, and what is wrong with it.

use std::ops::RangeInclusive;

use time::{Date, Duration};

use super::{Scheme, Weekdays};
use crate::id::MovementId;
use crate::policy::Policy;

/// Weeks a block may last.
const WEEKS: RangeInclusive<i64> = 1..=52;
/// Sets on each side that one session may ask for.
pub(super) const SETS: RangeInclusive<u8> = 1..=40;
/// Length of an interval, seconds.
pub(super) const INTERVAL_SECONDS: RangeInclusive<u16> = 10..=600;
/// Rest between sets, seconds.
const REST_SECONDS: RangeInclusive<u16> = 0..=900;
/// Reps of a fingertip set: few. Common practice, the bound is ours.
pub(super) const FINGERTIP_REPS: RangeInclusive<u16> = 1..=10;
/// Fastest goal anybody could swing, reps a minute. Ours.
pub(super) const GOAL_AT_MOST: f64 = 120.0;
/// How far ahead a block may start.
pub(super) const START_WITHIN: Duration = Duration::days(366);
/// Characters of a note to the athlete.
const NOTE_LENGTH: usize = 400;

/// What a coach asked for, not yet checked.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockWish {
    /// Movement.
    pub movement: MovementId,
    /// How it progresses; the hands follow from it.
    pub scheme: Scheme,
    /// ISO weekdays, 1 = Monday.
    pub weekdays: Vec<i64>,
    /// Day from which on it counts.
    pub starts_on: Date,
    /// ISO weeks.
    pub weeks: i64,
    /// A note shown with every session; empty for none.
    pub note: String,
}

/// What one problem of a block is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BlockField {
    /// Days of the week.
    Weekdays,
    /// First day.
    StartsOn,
    /// Number of weeks.
    Weeks,
    /// Sets on each side of interval or fingertip sets.
    Sets,
    /// Length of an interval.
    Seconds,
    /// Goal density.
    Goal,
    /// Reps of a fingertip set or of a ladder's set.
    Reps,
    /// Sets in a ladder's first week.
    StartSets,
    /// Sets a ladder adds in a week.
    AddPerWeek,
    /// Sets at which a ladder is done.
    TargetSets,
    /// Rest between sets.
    Rest,
    /// Note to the athlete.
    Note,
}

/// One thing wrong with a block, in words to stand beside the field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockProblem {
    /// Which field.
    pub field: BlockField,
    /// What to do.
    pub message: String,
}

/// Everything wrong with a block; never empty.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", .0.iter().map(|one| one.message.as_str()).collect::<Vec<_>>().join("; "))]
pub struct BlockProblems(pub Vec<BlockProblem>);

/// A block that can be assigned: every parameter is within its bounds and they suit each other. The
/// club is not part of it, since each athlete has their own.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockDraft {
    movement: MovementId,
    scheme: Scheme,
    weekdays: Weekdays,
    starts_on: Date,
    weeks: u8,
    first_week_sets: Option<u8>,
    note: Option<String>,
}

impl BlockDraft {
    /// Checks a wish against the bounds of this module and of the policy.
    ///
    /// # Errors
    /// [`BlockProblems`] with every field that is wrong.
    pub fn new(wish: BlockWish, policy: &Policy, today: Date) -> Result<Self, BlockProblems> {
        let mut problems = scheme_problems(&wish.scheme, policy);
        let mut refuse = |field, message: String| problems.push(BlockProblem { field, message });

        let weekdays = Weekdays::from_iso(wish.weekdays);
        if let Err(error) = weekdays {
            refuse(BlockField::Weekdays, error.to_string());
        }
        if wish.starts_on < today {
            refuse(
                BlockField::StartsOn,
                format!("cannot be in the past: {today} or later"),
            );
        } else if wish.starts_on > today + START_WITHIN {
            refuse(
                BlockField::StartsOn,
                "takes a day within a year from today".to_owned(),
            );
        }
        if !WEEKS.contains(&wish.weeks) {
            refuse(BlockField::Weeks, between(&WEEKS));
        }
        let note = read_note(&wish.note);
        if let Err(message) = &note {
            refuse(BlockField::Note, message.clone());
        }

        match (weekdays, u8::try_from(wish.weeks), note) {
            (Ok(weekdays), Ok(weeks), Ok(note)) if problems.is_empty() => Ok(Self {
                movement: wish.movement,
                scheme: wish.scheme,
                weekdays,
                starts_on: wish.starts_on,
                weeks,
                first_week_sets: None,
                note,
            }),
            _ => Err(BlockProblems(problems)),
        }
    }

    /// Movement.
    pub const fn movement(&self) -> MovementId {
        self.movement
    }

    /// How it progresses.
    pub const fn scheme(&self) -> Scheme {
        self.scheme
    }

    /// Days of the week.
    pub const fn weekdays(&self) -> Weekdays {
        self.weekdays
    }

    /// Day from which on it counts.
    pub const fn starts_on(&self) -> Date {
        self.starts_on
    }

    /// ISO weeks, 1 to 52.
    pub const fn weeks(&self) -> u8 {
        self.weeks
    }

    /// The same block with so many sets on each side in week 1 (A1, V6): the scheme goes on from week 2.
    ///
    /// # Errors
    /// The range that sets take.
    pub fn with_first_week(self, sets: Option<u8>) -> Result<Self, String> {
        if sets.is_some_and(|sets| !SETS.contains(&sets)) {
            return Err(between(&SETS));
        }
        Ok(Self {
            first_week_sets: sets,
            ..self
        })
    }

    /// Sets on each side in week 1, where they are not the scheme's.
    pub const fn first_week_sets(&self) -> Option<u8> {
        self.first_week_sets
    }

    /// The note shown with every session.
    pub fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }
}

/// Reads a number of sets on each side.
pub(super) fn read_sets(sets: i64) -> Result<u8, String> {
    u8::try_from(sets)
        .ok()
        .filter(|sets| SETS.contains(sets))
        .ok_or_else(|| between(&SETS))
}

/// Trims a note to the athlete; empty is none.
pub(super) fn read_note(text: &str) -> Result<Option<String>, String> {
    let text = text.trim();
    if text.chars().count() > NOTE_LENGTH {
        return Err(format!("takes at most {NOTE_LENGTH} characters"));
    }
    if text
        .chars()
        .any(|c| c.is_control() && !c.is_ascii_whitespace())
    {
        return Err("takes printable characters only".to_owned());
    }
    Ok((!text.is_empty()).then(|| text.to_owned()))
}

fn scheme_problems(scheme: &Scheme, policy: &Policy) -> Vec<BlockProblem> {
    let mut problems = Vec::new();
    let mut check = |field, holds: bool, message: String| {
        if !holds {
            problems.push(BlockProblem { field, message });
        }
    };
    let rest = match scheme {
        Scheme::IntervalSets(work) => {
            check(BlockField::Sets, SETS.contains(&work.sets), between(&SETS));
            check(
                BlockField::Seconds,
                INTERVAL_SECONDS.contains(&work.seconds.get()),
                between(&INTERVAL_SECONDS),
            );
            check(
                BlockField::Goal,
                work.goal
                    .is_none_or(|goal| goal.rpm() > 0.0 && goal.rpm() <= GOAL_AT_MOST),
                format!("takes over 0 and at most {GOAL_AT_MOST} reps a minute"),
            );
            work.rest_seconds
        }
        Scheme::FingertipSets(work) => {
            check(BlockField::Sets, SETS.contains(&work.sets), between(&SETS));
            check(
                BlockField::Reps,
                FINGERTIP_REPS.contains(&work.reps.get()),
                between(&FINGERTIP_REPS),
            );
            work.rest_seconds
        }
        Scheme::SetLadder(ladder) => {
            let reps = policy.ladder_reps_min..=policy.ladder_reps_max;
            check(
                BlockField::Reps,
                reps.contains(&ladder.reps.get()),
                between(&reps),
            );
            check(
                BlockField::StartSets,
                SETS.contains(&ladder.start_sets),
                between(&SETS),
            );
            check(
                BlockField::AddPerWeek,
                ladder.add_per_week <= policy.ladder_added_sets_max,
                between(&(0..=policy.ladder_added_sets_max)),
            );
            if SETS.contains(&ladder.target_sets) {
                check(
                    BlockField::TargetSets,
                    ladder.start_sets <= ladder.target_sets,
                    format!(
                        "cannot be under the {} sets of the first week",
                        ladder.start_sets
                    ),
                );
            } else {
                check(BlockField::TargetSets, false, between(&SETS));
            }
            ladder.rest_seconds
        }
    };
    check(
        BlockField::Rest,
        REST_SECONDS.contains(&rest),
        between(&REST_SECONDS),
    );
    problems
}

fn between<T: std::fmt::Display>(range: &RangeInclusive<T>) -> String {
    format!("takes {} to {}", range.start(), range.end())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{FingertipSets, IntervalSets, SetLadder};
    use crate::training::Hands;
    use crate::units::{Density, Reps, Seconds};
    use time::macros::date;
    use uuid::Uuid;

    const TODAY: Date = date!(2026 - 11 - 25);

    fn wish(scheme: Scheme) -> BlockWish {
        BlockWish {
            movement: MovementId(Uuid::nil()),
            scheme,
            weekdays: vec![1, 4],
            starts_on: TODAY,
            weeks: 8,
            note: " Elbow close. ".to_owned(),
        }
    }

    fn interval() -> IntervalSets {
        IntervalSets {
            sets: 5,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        }
    }

    fn ladder() -> SetLadder {
        SetLadder {
            reps: Reps::new(5).unwrap(),
            start_sets: 5,
            add_per_week: 1,
            target_sets: 10,
            light_fourth_week: false,
            rest_seconds: 60,
        }
    }

    fn fields(wish: BlockWish) -> Vec<BlockField> {
        match BlockDraft::new(wish, &Policy::default(), TODAY) {
            Ok(_) => Vec::new(),
            Err(BlockProblems(problems)) => problems.iter().map(|one| one.field).collect(),
        }
    }

    #[test]
    fn a_sound_block_is_taken_as_asked() {
        let draft = BlockDraft::new(wish(Scheme::SetLadder(ladder())), &Policy::default(), TODAY);
        let draft = draft.unwrap();
        assert_eq!(draft.scheme().hands(), Hands::One);
        assert_eq!(draft.weeks(), 8);
        assert_eq!(draft.note(), Some("Elbow close."));
    }

    #[test]
    fn each_wrong_field_is_named() {
        use BlockField as F;
        let ladders: &[(SetLadder, &[F])] = &[
            (
                SetLadder {
                    reps: Reps::new(3).unwrap(),
                    ..ladder()
                },
                &[],
            ),
            (
                SetLadder {
                    reps: Reps::new(2).unwrap(),
                    ..ladder()
                },
                &[F::Reps],
            ),
            (
                SetLadder {
                    reps: Reps::new(6).unwrap(),
                    ..ladder()
                },
                &[F::Reps],
            ),
            (
                SetLadder {
                    start_sets: 0,
                    ..ladder()
                },
                &[F::StartSets],
            ),
            (
                SetLadder {
                    start_sets: 11,
                    ..ladder()
                },
                &[F::TargetSets],
            ),
            (
                SetLadder {
                    start_sets: 10,
                    ..ladder()
                },
                &[],
            ),
            (
                SetLadder {
                    target_sets: 41,
                    ..ladder()
                },
                &[F::TargetSets],
            ),
            (
                SetLadder {
                    add_per_week: 2,
                    ..ladder()
                },
                &[],
            ),
            (
                SetLadder {
                    add_per_week: 3,
                    ..ladder()
                },
                &[F::AddPerWeek],
            ),
            (
                SetLadder {
                    rest_seconds: 901,
                    ..ladder()
                },
                &[F::Rest],
            ),
        ];
        for (scheme, expected) in ladders {
            assert_eq!(
                fields(wish(Scheme::SetLadder(*scheme))),
                *expected,
                "{scheme:?}"
            );
        }
        let intervals: &[(IntervalSets, &[F])] = &[
            (
                IntervalSets {
                    sets: 40,
                    ..interval()
                },
                &[],
            ),
            (
                IntervalSets {
                    sets: 0,
                    ..interval()
                },
                &[F::Sets],
            ),
            (
                IntervalSets {
                    sets: 41,
                    ..interval()
                },
                &[F::Sets],
            ),
            (
                IntervalSets {
                    seconds: Seconds::new(9).unwrap(),
                    ..interval()
                },
                &[F::Seconds],
            ),
            (
                IntervalSets {
                    seconds: Seconds::new(601).unwrap(),
                    ..interval()
                },
                &[F::Seconds],
            ),
            (
                IntervalSets {
                    goal: Density::from_rpm(0.0).ok(),
                    ..interval()
                },
                &[F::Goal],
            ),
            (
                IntervalSets {
                    goal: Density::from_rpm(24.5).ok(),
                    ..interval()
                },
                &[],
            ),
            (
                IntervalSets {
                    goal: Density::from_rpm(120.5).ok(),
                    ..interval()
                },
                &[F::Goal],
            ),
        ];
        for (scheme, expected) in intervals {
            assert_eq!(
                fields(wish(Scheme::IntervalSets(*scheme))),
                *expected,
                "{scheme:?}"
            );
        }
        let fingertip = |reps| {
            Scheme::FingertipSets(FingertipSets {
                sets: 5,
                reps: Reps::new(reps).unwrap(),
                rest_seconds: 0,
            })
        };
        assert_eq!(fields(wish(fingertip(0))), [F::Reps]);
        assert_eq!(fields(wish(fingertip(3))), []);
        assert_eq!(fields(wish(fingertip(11))), [F::Reps]);
    }

    #[test]
    fn every_problem_is_told_at_once() {
        use BlockField as F;
        let sound = || wish(Scheme::IntervalSets(interval()));
        let cases = [
            (
                BlockWish {
                    weekdays: vec![],
                    ..sound()
                },
                vec![F::Weekdays],
            ),
            (
                BlockWish {
                    weekdays: vec![1, 1],
                    ..sound()
                },
                vec![F::Weekdays],
            ),
            (
                BlockWish {
                    weekdays: vec![9],
                    ..sound()
                },
                vec![F::Weekdays],
            ),
            (
                BlockWish {
                    starts_on: date!(2026 - 11 - 24),
                    ..sound()
                },
                vec![F::StartsOn],
            ),
            (
                BlockWish {
                    starts_on: date!(2028 - 01 - 01),
                    ..sound()
                },
                vec![F::StartsOn],
            ),
            (
                BlockWish {
                    weeks: 0,
                    ..sound()
                },
                vec![F::Weeks],
            ),
            (
                BlockWish {
                    weeks: 53,
                    ..sound()
                },
                vec![F::Weeks],
            ),
            (
                BlockWish {
                    weeks: -300,
                    ..sound()
                },
                vec![F::Weeks],
            ),
            (
                BlockWish {
                    weeks: i64::MAX,
                    ..sound()
                },
                vec![F::Weeks],
            ),
            (
                BlockWish {
                    note: "x".repeat(401),
                    ..sound()
                },
                vec![F::Note],
            ),
            (
                BlockWish {
                    note: "a\u{7}b".to_owned(),
                    ..sound()
                },
                vec![F::Note],
            ),
            (
                BlockWish {
                    note: "é".repeat(400),
                    ..sound()
                },
                vec![],
            ),
            (
                BlockWish {
                    weekdays: vec![0],
                    weeks: 0,
                    starts_on: Date::MIN,
                    ..sound()
                },
                vec![F::Weekdays, F::StartsOn, F::Weeks],
            ),
        ];
        for (wish, expected) in cases {
            assert_eq!(fields(wish.clone()), expected, "{wish:?}");
        }
    }
}
