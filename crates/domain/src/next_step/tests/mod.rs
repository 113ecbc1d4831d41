//! Histories and what is proposed for them: examples, and athletes who do what is proposed for years.

mod both_ways;
mod examples;
mod followed;
mod not_yet;
mod total;
mod words;

use time::macros::date;

use super::*;
use crate::id::BlockId;
use crate::plan::{IntervalSets, Scheme, SetLadder};
use crate::scenario::{Day, MILL, PULLOVER, club, day, history, of_mass, plus};
use crate::training::AvailableClub;
use crate::units::{Reps, Seconds};

const MONDAY: Date = date!(2024 - 01 - 01);

/// Two sessions a week: the day of the so-manieth.
fn on(session: i64) -> Date {
    plus(MONDAY, session / 2 * 7 + session % 2 * 3)
}

struct Numbers;

impl Names for Numbers {
    fn movement(&self, movement: MovementId) -> &str {
        if movement == MILL { "mill" } else { "pullover" }
    }

    fn club(&self, loading: LoadingId) -> &str {
        [
            "?", "club 1", "club 2", "club 3", "club 4", "club 5", "club 6",
        ]
        .get((loading.0.as_u128() - 0xC000) as usize)
        .unwrap_or(&"?")
    }
}

fn all(history: &History, policy: &Policy, today: Date) -> Vec<NextStep> {
    let episodes = rules::episodes(history, policy, today);
    propose(history, policy, &episodes, &|_| false, today, &Numbers)
}

/// The only proposal, the usual policy.
fn next(history: &History, today: Date) -> NextStep {
    let mut steps = all(history, &Policy::default(), today);
    assert_eq!(steps.len(), 1, "{steps:?}");
    steps.remove(0)
}

/// Steps of 25, 28 and 26 % from club 1 on, and then of 61 %.
fn rack() -> Vec<AvailableClub> {
    [(1, 6.0), (2, 7.5), (3, 9.6), (4, 12.1), (5, 19.5)]
        .map(|(number, mass)| of_mass(number, mass))
        .into()
}

/// Five sets against the clock.
fn clock(session: i64, number: u128, count: u16) -> Day {
    day(on(session))
        .sets((MILL, Hands::Two, club(number)), 30, &[(count, count); 5])
        .effort(6.0)
}

/// So many sets of five.
fn ladder(session: i64, number: u128, sets: usize) -> Day {
    day(on(session))
        .sets((MILL, Hands::One, club(number)), 0, &vec![(5, 5); sets])
        .effort(6.0)
}

/// A log of two-hand work: a start of 10 in 30 s, so that the goal is 24 a minute, then these counts.
fn climbing(counts: &[u16]) -> Vec<Day> {
    let counts = [10, 10, 10].iter().chain(counts);
    (0..)
        .zip(counts)
        .map(|(session, count)| clock(session, 1, *count))
        .collect()
}

fn after(days: Vec<Day>) -> NextStep {
    let today = plus(days.last().unwrap().0.on, 2);
    next(&history(days, rack()), today)
}

fn said(step: &NextStep) -> Vec<&str> {
    step.reasons
        .iter()
        .map(|reason| reason.text.as_str())
        .collect()
}

fn against(step: &NextStep) -> Vec<&str> {
    step.against
        .iter()
        .map(|reason| reason.text.as_str())
        .collect()
}

fn block(hands: Hands, number: u128, from: Date) -> BlockSpan {
    let scheme = match hands {
        Hands::One => Scheme::SetLadder(SetLadder {
            reps: Reps::new(5).unwrap(),
            start_sets: 5,
            add_per_week: 1,
            target_sets: 20,
            light_fourth_week: true,
            rest_seconds: 60,
        }),
        _ => Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        }),
    };
    BlockSpan {
        block: BlockId(uuid::Uuid::nil()),
        movement: MILL,
        hands,
        loading: club(number),
        scheme,
        from,
        until: plus(from, 83),
    }
}
