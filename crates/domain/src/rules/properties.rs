//! What holds for every history, whatever is in it.

use proptest::collection::vec;
use proptest::prelude::*;
use time::Date;

use super::help::rule_text;
use super::{Episode, Evidence, Rule, episodes, standing};
use crate::plan::{IntervalSets, Scheme, SetLadder};
use crate::policy::Policy;
use crate::scenario::{
    Day, MILL, PULLOVER, block, by_mass_only, club, date, half_minute, history, opening, rack,
    reps, session,
};
use crate::training::{Hands, History, Session, SetDone, Side, Work};
use crate::units::{Density, Reps, Seconds};

/// Some sets of one movement, hands and club, with counts near each other and sides that may differ.
fn bout() -> impl Strategy<Value = Vec<SetDone>> {
    let hands = prop_oneof![
        5 => Just(Hands::Two),
        1 => Just(Hands::Fingertip),
        3 => Just(Hands::One),
    ];
    let number = prop_oneof![6 => 1..=5u128, 1 => Just(8u128), 1 => Just(9u128)];
    let asked = proptest::option::weighted(0.3, 3..=5u16);
    (
        prop_oneof![Just(MILL), Just(PULLOVER)],
        hands,
        number,
        1..=12usize,
        3..=5u16,
        asked,
        0..4u8,
    )
        .prop_map(|(movement, hands, number, sets, count, asked, oddity)| {
            let mut done = Vec::new();
            for set in 0..sets {
                for side in Side::BOTH {
                    let short = oddity == 1 && set + 1 == sets && side == Side::Right;
                    let count = if short { count - 1 } else { count };
                    let work = match hands {
                        Hands::Two => half_minute(count + 8),
                        _ => Work::Straight {
                            reps: reps(count),
                            asked: asked.map(reps),
                        },
                    };
                    done.push(SetDone {
                        movement,
                        hands,
                        loading: club(number),
                        side,
                        work,
                    });
                }
            }
            if oddity == 2 {
                done.pop();
            }
            done
        })
}

fn one_session() -> impl Strategy<Value = Session> {
    let effort = proptest::option::of(0..=20u8);
    let pain = proptest::option::weighted(0.2, 0..=10i64);
    (vec(bout(), 1..3), effort, pain).prop_map(|(bouts, effort, pain)| {
        let mut day = session(0);
        day.0.sets = bouts.into_iter().flatten().collect();
        reported(day, effort, pain)
    })
}

/// The session with effort, in half steps, and pain as far as they were reported.
fn reported(mut day: Day, effort: Option<u8>, pain: Option<i64>) -> Session {
    if let Some(half_steps) = effort {
        day = day.effort(f64::from(half_steps) / 2.0);
    }
    if let Some(score) = pain {
        day = day.pain(score, "");
    }
    day.0
}

/// Sessions against the clock with one club, the counts of which wobble around a level, and from one
/// session on around another; effort and pain may be the same in all of them.
fn series() -> impl Strategy<Value = Vec<Session>> {
    let effort = proptest::option::of(0..=20u8);
    let pain = proptest::option::weighted(0.2, 1..=4i64);
    let wobbles = vec(0..=1u16, 8..24);
    (
        1..=5u128,
        wobbles,
        20..30u16,
        6..16usize,
        0..=8u16,
        effort,
        pain,
    )
        .prop_map(|(club, wobbles, level, until, drop, effort, pain)| {
            let counts = wobbles
                .into_iter()
                .enumerate()
                .map(|(at, wobble)| level + wobble - if at < until { 0 } else { drop });
            counts
                .map(|count| {
                    let day = session(0).against_the_clock(club, &[count; 3]);
                    reported(day, effort, pain)
                })
                .collect()
        })
}

/// Sessions 0 to 6 days apart, now and then after a long gap.
fn sessions() -> impl Strategy<Value = Vec<Session>> {
    let apart = prop_oneof![12 => 0..6i64, 1 => 20..40i64];
    let done = prop_oneof![3 => vec(one_session(), 0..30), 1 => series()];
    (done, vec(apart, 30)).prop_map(|(sessions, apart)| {
        let mut on = 0;
        sessions
            .into_iter()
            .zip(apart)
            .zip(0u128..)
            .map(|((mut session, apart), number)| {
                on += apart;
                session.on = date(on);
                session.id.0 = uuid::Uuid::from_u128(0x4000 + number);
                session
            })
            .collect()
    })
}

fn histories() -> impl Strategy<Value = History> {
    let goal = proptest::option::of(15.0..30.0f64);
    let excused = vec((0..120i64, 0..30i64), 0..3);
    (
        sessions(),
        goal,
        proptest::option::of(0..90i64),
        4..12u8,
        excused,
    )
        .prop_map(|(sessions, goal, opened, target_sets, excused)| {
            let mut clubs = rack();
            clubs.push(by_mass_only(8, 9.0));
            let intervals = Scheme::IntervalSets(IntervalSets {
                sets: 5,
                seconds: Seconds::new(30).unwrap(),
                rest_seconds: 60,
                goal: goal.map(|rpm| Density::from_rpm(rpm).unwrap()),
            });
            let ladder = Scheme::SetLadder(SetLadder {
                reps: Reps::new(5).unwrap(),
                start_sets: 5,
                add_per_week: 1,
                target_sets,
                light_fourth_week: false,
                rest_seconds: 60,
            });
            let blocks = vec![
                block(Hands::Two, 2, (5, 40), intervals),
                block(Hands::One, 1, (10, 50), ladder),
            ];
            let mut history = History::new(sessions, clubs, Some(blocks));
            history.openings.extend(opened.map(opening));
            let span = |(from, days)| (date(from), date(from + days));
            history.excused.extend(excused.into_iter().map(span));
            history
        })
}

/// A policy under which the slow rules come up within a few weeks too.
fn impatient() -> Policy {
    Policy {
        opening_clubs: 1,
        opening_months: 1,
        opening_sessions_per_week: 0.5,
        fingertip_sessions: 2,
        settled_sessions: 2,
        ..Policy::default()
    }
}

fn last_day(history: &History) -> Date {
    history
        .sessions()
        .last()
        .map_or(date(0), |session| session.on)
        + time::Duration::days(35)
}

/// What may never change once it was said: which flag, since when, how urgent, and until when.
type Life = (String, Date, super::Severity, Option<Date>);

fn lives_by(found: &[Episode], by: Date) -> Vec<Life> {
    found
        .iter()
        .filter(|episode| episode.flag.since <= by)
        .map(|Episode { flag, until }| {
            (
                format!("{} {:?}", flag.rule.id(), flag.subject),
                flag.since,
                flag.severity,
                until.filter(|until| *until <= by),
            )
        })
        .collect()
}

/// The same history, but for what was done.
fn with_sessions(history: &History, sessions: Vec<Session>) -> History {
    let mut other = History::new(sessions, history.clubs.clone(), history.blocks.clone());
    other.openings.clone_from(&history.openings);
    other.excused.clone_from(&history.excused);
    other
}

fn swapped(mut session: Session) -> Session {
    for set in &mut session.sets {
        set.side = set.side.other();
    }
    session
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    /// What a day said, every later day says too: nothing looks ahead.
    #[test]
    fn a_replay_day_by_day_gives_the_same_episodes(history in histories(), hasty: bool) {
        let policy = if hasty { impatient() } else { Policy::default() };
        let end = last_day(&history);
        let whole = episodes(&history, &policy, end);
        let mut today = date(0);
        while today <= end {
            let by_today = episodes(&history, &policy, today);
            prop_assert_eq!(
                lives_by(&by_today, today),
                lives_by(&whole, today),
                "on day {}", (today - date(0)).whole_days()
            );
            let then = standing(&by_today, today).len();
            prop_assert_eq!(then, standing(&whole, today).len());
            today = today.next_day().unwrap();
        }
    }

    #[test]
    fn sessions_that_came_later_change_nothing(history in histories(), cut in 0..100i64) {
        let cut = date(cut);
        let known: Vec<Session> = history.sessions_until(cut).to_vec();
        let shorter = with_sessions(&history, known);
        let policy = Policy::default();
        prop_assert_eq!(episodes(&history, &policy, cut), episodes(&shorter, &policy, cut));
    }

    #[test]
    fn the_order_of_input_does_not_matter(history in histories(), seed: u64) {
        let mut shuffled = history.sessions().to_vec();
        let mut state = seed | 1;
        for at in (1..shuffled.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            shuffled.swap(at, (state >> 33) as usize % (at + 1));
        }
        let mut other = with_sessions(&history, shuffled);
        other.clubs.reverse();
        other.blocks.iter_mut().for_each(|blocks| blocks.reverse());
        other.excused.reverse();
        let end = last_day(&history);
        prop_assert_eq!(
            episodes(&history, &impatient(), end),
            episodes(&other, &impatient(), end)
        );
    }

    #[test]
    fn sides_swapped_give_sides_swapped(history in histories()) {
        let sessions = history.sessions().iter().cloned().map(swapped).collect();
        let other = with_sessions(&history, sessions);
        let end = last_day(&history);
        let mut expected = episodes(&history, &impatient(), end);
        for episode in &mut expected {
            if let Evidence::Sides { left_reps, right_reps, .. } = &mut episode.flag.evidence {
                std::mem::swap(left_reps, right_reps);
            }
        }
        prop_assert_eq!(expected, episodes(&other, &impatient(), end));
    }

    /// T2.
    #[test]
    fn adding_reps_never_lowers_density(session in one_session(), at: prop::sample::Index, more in 1..20u16) {
        let before = session.bouts();
        let mut richer = session;
        let at = at.index(richer.sets.len());
        match &mut richer.sets[at].work {
            Work::Interval { reps: count, .. } | Work::Straight { reps: count, .. } => {
                *count = reps(count.get() + more);
            }
        }
        let after = richer.bouts();
        prop_assert_eq!(before.len(), after.len());
        for (before, after) in before.iter().zip(&after) {
            prop_assert!(after.density() >= before.density());
            prop_assert!(after.slower_side() >= before.slower_side());
        }
    }

    /// Whatever was planned, excused or opened.
    #[test]
    fn no_rule_fires_on_an_empty_log(history in histories(), today in 0..400i64, hasty: bool) {
        let policy = if hasty { impatient() } else { Policy::default() };
        let mut empty = with_sessions(&history, Vec::new());
        prop_assert_eq!(episodes(&empty, &policy, date(today)), []);
        empty.blocks = None;
        prop_assert_eq!(episodes(&empty, &policy, date(today)), []);
    }

    #[test]
    fn flags_have_one_id_each(history in histories()) {
        let athlete = crate::id::AthleteId(uuid::Uuid::from_u128(1));
        let found = episodes(&history, &impatient(), last_day(&history));
        let mut ids: Vec<_> = found.iter().map(|episode| episode.flag.id(athlete)).collect();
        ids.sort_unstable();
        ids.dedup();
        prop_assert_eq!(ids.len(), found.len());
        for Episode { flag, until } in &found {
            let varies = matches!(flag.rule, super::Rule::O1 | super::Rule::L4);
            prop_assert!(varies || flag.severity == flag.rule.severity(), "{flag:?}");
            prop_assert!(until.is_none_or(|until| until >= flag.since), "{flag:?} {until:?}");
        }
    }
}

/// Two sessions in one day may begin, end and begin the same flag: what is left is the one that stands.
#[test]
fn of_two_that_began_on_one_day_the_longer_is_kept() {
    let history = history(vec![session(0).straight(Hands::One, 1, &[5; 8])], rack());
    let mut found = episodes(&history, &Policy::default(), date(0));
    let standing = found.remove(0);
    let ended = |number| Episode {
        until: Some(date(number)),
        ..standing.clone()
    };
    let kept = |both| super::in_order(both);
    let of_two = kept(vec![ended(0), standing.clone()]);
    assert_eq!(of_two, std::slice::from_ref(&standing));
    assert_eq!(kept(vec![ended(3), ended(5), ended(4)]), [ended(5)]);
}

/// The generator reaches every rule that raises flags, those that say when a flag ends.
#[test]
fn the_histories_tried_raise_every_rule() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let mut seen = std::collections::BTreeSet::new();
    for _ in 0..400 {
        let history = histories().new_tree(&mut runner).unwrap().current();
        let found = episodes(&history, &impatient(), last_day(&history));
        seen.extend(found.iter().map(|episode| episode.flag.rule));
    }
    let raises_flags = |rule: &Rule| rule_text(*rule, &Policy::default()).ends.is_some();
    let wanted: std::collections::BTreeSet<Rule> =
        Rule::ALL.iter().copied().filter(raises_flags).collect();
    assert_eq!(seen, wanted);
}
