//! What the rules object to in planned work, before anybody swings it.

use std::collections::{BTreeMap, BTreeSet};

use time::{Date, Duration};
use uuid::Uuid;

use super::{Episode, Flag, Rule, Severity, episodes};
use crate::id::{BlockId, LoadingId, MovementId, SessionId};
use crate::plan::{Ask, FingertipSets, IntervalSets, PlannedOn, Scheme, SetLadder};
use crate::policy::Policy;
use crate::training::{BlockSpan, Hands, History, Session, SetDone, Side, Work};
use crate::units::{Density, Reps, Seconds};

/// One planned session, as far as the rules look at it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedWork {
    /// Its day.
    pub on: Date,
    /// Movement.
    pub movement: MovementId,
    /// Hands.
    pub hands: Hands,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// Sets on each side.
    pub sets: u8,
    /// What each set asks.
    pub ask: Ask,
    /// The week of its block, from 1.
    pub week: u8,
}

impl From<&PlannedOn> for PlannedWork {
    fn from(planned: &PlannedOn) -> Self {
        let asked = &planned.prescription;
        Self {
            on: planned.on,
            movement: asked.movement,
            hands: asked.hands,
            loading: asked.loading,
            sets: asked.sets,
            ask: asked.ask,
            week: asked.week,
        }
    }
}

/// A rule's objection to one planned session.
#[derive(Debug, Clone, PartialEq)]
pub struct Objection {
    /// Which of the planned sessions it is about, by its place in what was given.
    pub planned: usize,
    /// The flag that would be raised, or the stop flag that stands.
    pub flag: Flag,
}

/// The rules that can object to a plan. The others speak about how work went.
const OBJECTING: [Rule; 14] = [
    Rule::M4,
    Rule::O1,
    Rule::O2,
    Rule::O3,
    Rule::V1,
    Rule::V2,
    Rule::V4,
    Rule::V5,
    Rule::V6,
    Rule::W1,
    Rule::W2,
    Rule::W3,
    Rule::W4,
    Rule::W5,
];

/// What the rules would say if every planned session were done in full: each flag that the plan would
/// raise, at the session that would raise it, and each stop flag that stands in a movement when the plan
/// first comes to it. In the order in which the planned sessions were given.
///
/// Interval sets are taken to reach their goal, or else the density of the last session at that key;
/// effort and pain as unknown.
pub fn objections(history: &History, policy: &Policy, planned: &[PlannedWork]) -> Vec<Objection> {
    let Some(last) = planned.iter().map(|work| work.on).max() else {
        return Vec::new();
    };
    let as_it_is = episodes(history, policy, last);
    let mut with_plan = history.with_sessions(done_in_full(history, planned));
    with_plan
        .blocks
        .get_or_insert_default()
        .extend(running(planned));
    let key = |episode: &Episode| {
        let flag = &episode.flag;
        (flag.since, flag.rule, flag.subject.clone())
    };
    let known: BTreeSet<_> = as_it_is.iter().map(key).collect();
    let raised = episodes(&with_plan, policy, last)
        .into_iter()
        .filter(|episode| OBJECTING.contains(&episode.flag.rule) && !known.contains(&key(episode)))
        .filter_map(|episode| {
            let raised_by = |work: &PlannedWork| {
                let subject = &episode.flag.subject;
                work.on == episode.flag.since
                    && subject.movement == Some(work.movement)
                    && subject.hands.is_none_or(|hands| hands == work.hands)
                    && subject.loading.is_none_or(|club| club == work.loading)
            };
            Some(Objection {
                planned: planned.iter().position(raised_by)?,
                flag: episode.flag,
            })
        });
    let mut all: Vec<Objection> = stops(&as_it_is, planned).chain(raised).collect();
    all.sort_by_key(|objection| objection.planned);
    all
}

/// The stop flags in the way of each movement's first planned session.
fn stops(as_it_is: &[Episode], planned: &[PlannedWork]) -> impl Iterator<Item = Objection> {
    let mut first: BTreeMap<MovementId, usize> = BTreeMap::new();
    for (index, work) in planned.iter().enumerate() {
        let earliest = first.entry(work.movement).or_insert(index);
        if work.on < planned[*earliest].on {
            *earliest = index;
        }
    }
    first.into_iter().flat_map(move |(movement, index)| {
        as_it_is
            .iter()
            .filter(move |episode| {
                episode.flag.severity == Severity::Stop
                    && episode.stands_on(planned[index].on)
                    && episode
                        .flag
                        .subject
                        .movement
                        .is_none_or(|about| about == movement)
            })
            .map(move |episode| Objection {
                planned: index,
                flag: episode.flag.clone(),
            })
    })
}

/// The planned sessions as if they had been logged, after what was logged on the same day.
fn done_in_full(history: &History, planned: &[PlannedWork]) -> Vec<Session> {
    let last_ids = u128::MAX - planned.len() as u128;
    (1..)
        .zip(planned)
        .map(|(number, work)| {
            let done = match work.ask {
                Ask::Straight { reps } => Work::Straight {
                    reps,
                    asked: Some(reps),
                },
                Ask::Interval { seconds, goal } => {
                    let density = goal.or_else(|| last_density(history, work, seconds));
                    Work::Interval {
                        seconds,
                        reps: count_for(density, seconds),
                    }
                }
            };
            let set = |side| SetDone {
                movement: work.movement,
                hands: work.hands,
                loading: work.loading,
                side,
                work: done,
            };
            Session {
                id: SessionId(Uuid::from_u128(last_ids + number)),
                on: work.on,
                planned: None,
                minutes: None,
                effort: None,
                pain: Vec::new(),
                sets: (0..work.sets).flat_map(|_| Side::BOTH.map(set)).collect(),
            }
        })
        .collect()
}

/// The density of the last session at a key.
fn last_density(history: &History, work: &PlannedWork, seconds: Seconds) -> Option<Density> {
    history
        .sessions_until(work.on)
        .iter()
        .rev()
        .flat_map(Session::bouts)
        .find(|bout| {
            (bout.movement, bout.hands, bout.loading, bout.seconds)
                == (work.movement, work.hands, work.loading, Some(seconds))
        })?
        .density()
}

/// The smallest whole count that reaches a density; 0 where none is known or no set could hold it.
fn count_for(density: Option<Density>, seconds: Seconds) -> Reps {
    let exact = density.map_or(0.0, Density::rpm) * f64::from(seconds.get()) / 60.0;
    let none = || Reps::new(0).expect("0 reps are reps");
    Reps::new((exact - 1e-9).ceil() as i64).unwrap_or_else(|_| none())
}

/// The blocks that the planned sessions belong to, for the rules that count a block's weeks.
fn running(planned: &[PlannedWork]) -> Vec<BlockSpan> {
    let mut blocks: BTreeMap<(MovementId, Hands, LoadingId), BlockSpan> = BTreeMap::new();
    for work in planned {
        let key = (work.movement, work.hands, work.loading);
        let week_one = work.on - Duration::weeks(i64::from(work.week.max(1)) - 1);
        let span = blocks.entry(key).or_insert_with(|| BlockSpan {
            block: BlockId(Uuid::max()),
            movement: work.movement,
            hands: work.hands,
            loading: work.loading,
            scheme: scheme_of(work),
            from: week_one,
            until: work.on,
        });
        span.from = span.from.min(week_one);
        span.until = span.until.max(work.on);
    }
    blocks.into_values().collect()
}

fn scheme_of(work: &PlannedWork) -> Scheme {
    let rest_seconds = 0;
    match (work.ask, work.hands) {
        (Ask::Interval { seconds, goal }, _) => Scheme::IntervalSets(IntervalSets {
            sets: work.sets,
            seconds,
            rest_seconds,
            goal,
        }),
        (Ask::Straight { reps }, Hands::One) => Scheme::SetLadder(SetLadder {
            reps,
            start_sets: work.sets,
            add_per_week: 0,
            target_sets: u8::MAX,
            light_fourth_week: false,
            rest_seconds,
        }),
        (Ask::Straight { reps }, _) => Scheme::FingertipSets(FingertipSets {
            sets: work.sets,
            reps,
            rest_seconds,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{Day, MILL, PULLOVER, club, date, opening, reps, session};

    fn interval(on: i64, number: u128) -> PlannedWork {
        PlannedWork {
            on: date(on),
            movement: MILL,
            hands: Hands::Two,
            loading: club(number),
            sets: 5,
            ask: Ask::Interval {
                seconds: Seconds::new(30).unwrap(),
                goal: None,
            },
            week: 1,
        }
    }

    fn straight(on: i64, week: u8, hands: Hands, club: u128, sets: u8, count: u16) -> PlannedWork {
        PlannedWork {
            hands,
            sets,
            ask: Ask::Straight { reps: reps(count) },
            week,
            ..interval(on, club)
        }
    }

    fn found(history: &History, planned: &[PlannedWork]) -> Vec<String> {
        objections(history, &Policy::default(), planned)
            .iter()
            .map(|objection| format!("{} {}", objection.planned, objection.flag.rule.id()))
            .collect()
    }

    fn logged(days: Vec<Day>) -> History {
        days.into()
    }

    fn two_hand_start() -> History {
        logged(vec![
            session(0).against_the_clock(1, &[10]),
            session(3).against_the_clock(1, &[10]),
        ])
    }

    #[test]
    fn a_jump_is_objected_to_at_the_session_that_makes_it() {
        let history = two_hand_start();
        assert_eq!(found(&history, &[]), [""; 0]);
        assert_eq!(found(&history, &[interval(7, 1), interval(10, 1)]), [""; 0]);
        let jump = [interval(7, 1), interval(10, 4), interval(14, 4)];
        assert_eq!(found(&history, &jump), ["1 W1", "1 W2", "1 W3"]);
    }

    #[test]
    fn what_already_stands_is_not_objected_to_again() {
        let history = logged(vec![
            session(0).against_the_clock(1, &[10]),
            session(3).against_the_clock(4, &[10]),
        ]);
        assert_eq!(found(&history, &[interval(7, 4)]), [""; 0]);
        // Not even when it was raised on the very day.
        assert_eq!(found(&history, &[interval(3, 4)]), [""; 0]);
    }

    /// The rest of a block keeps the block's weeks: its second session here is in week 4, which holds.
    #[test]
    fn weeks_are_those_of_the_block() {
        let mut history = logged(vec![session(14).straight(Hands::One, 1, &[5; 6])]);
        history.openings.push(opening(-1));
        let rest = [
            straight(21, 3, Hands::One, 1, 7, 5),
            straight(28, 4, Hands::One, 1, 8, 5),
        ];
        assert_eq!(found(&history, &rest), ["1 V6"]);
    }

    #[test]
    fn one_hand_work_before_its_time() {
        let ladder = [
            straight(7, 1, Hands::One, 1, 5, 5),
            straight(10, 1, Hands::One, 1, 5, 5),
        ];
        assert_eq!(found(&two_hand_start(), &ladder), ["0 O1", "0 O3"]);
        let mut early = two_hand_start();
        early.openings.push(opening(5));
        let flags = objections(&early, &Policy::default(), &ladder);
        assert_eq!(flags[0].flag.severity, Severity::Note);
    }

    #[test]
    fn a_ladder_against_the_rules() {
        let fingertip = |number: i64| session(number * 3).straight(Hands::Fingertip, 1, &[5; 5]);
        let mut history = logged((0..4).map(fingertip).collect());
        history.openings.push(opening(-1));
        let ladder = [
            straight(14, 1, Hands::One, 1, 8, 6),
            straight(21, 2, Hands::One, 1, 11, 5),
            straight(28, 3, Hands::One, 1, 12, 5),
            straight(35, 4, Hands::One, 1, 13, 5),
        ];
        assert_eq!(found(&history, &ladder), ["0 V1", "1 V2", "3 V6"]);
        // In order: five sets to begin with, one a week, and the fourth week holds.
        let mut in_order = [(14, 5), (21, 6), (28, 7), (35, 7), (42, 8)]
            .map(|(on, sets)| straight(on, 1, Hands::One, 1, sets, 5));
        for (work, week) in in_order.iter_mut().zip(1..) {
            work.week = week;
        }
        assert_eq!(found(&history, &in_order), [""; 0]);
    }

    #[test]
    fn adding_after_a_bad_session() {
        let mut history = logged(vec![
            session(0).straight(Hands::One, 1, &[5; 5]).effort(9.0),
        ]);
        history.openings.push(opening(-1));
        let next = |sets| found(&history, &[straight(3, 1, Hands::One, 1, sets, 5)]);
        assert_eq!(next(6), ["0 V5"]);
        assert_eq!(next(5), [""; 0]);
    }

    #[test]
    fn a_stop_flag_is_in_the_way_once() {
        let hurt = logged(vec![session(0).against_the_clock(1, &[10]).pain(6, "")]);
        let planned = [interval(3, 1), interval(7, 1)];
        assert_eq!(found(&hurt, &planned), ["0 L4"]);
        let [first, second] = planned;
        assert_eq!(found(&hurt, &[second, first]), ["1 L4"], "by day");
        let elsewhere = planned.map(|work| PlannedWork {
            movement: PULLOVER,
            ..work
        });
        assert_eq!(found(&hurt, &elsewhere), [""; 0]);
    }

    #[test]
    fn interval_sets_are_taken_to_reach_their_goal() {
        let goal = Density::from_rpm(23.0).ok();
        let half_minute = Seconds::new(30).unwrap();
        assert_eq!(count_for(goal, half_minute), reps(12));
        assert_eq!(count_for(None, half_minute), reps(0));
        let last = last_density(&two_hand_start(), &interval(7, 1), half_minute);
        assert_eq!(last, Density::from_rpm(20.0).ok());
    }
}
