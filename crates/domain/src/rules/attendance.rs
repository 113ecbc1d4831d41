//! A · Attendance.
//!
//! - **A1** Two sessions in every week, indefinitely. Under two in each of the last two ISO weeks while a
//!   block is running: look. No session for 14 days: look, and the next step is a return plan.
//!   Source: common practice; WHO guidelines on physical activity and sedentary behaviour, 2020: muscle
//!   strengthening on two or more days a week.
//!
//! What counts is days with a session: two entries on one day are one visit. Excused days are not
//! missed ones: they do not add to the 14, a week asks for less by the share of it that was excused
//! or lay outside every block, and nothing stands while one lasts. A person is in training from the
//! first session on: an empty log says nothing about anybody, whatever was planned.

use time::{Date, Duration, Weekday};

use super::life::Life;
use super::log::Log;
use super::{Episode, Evidence, Rule, Subject};
use crate::policy::Policy;
use crate::training::History;

/// **A1** Two sessions in every week: of a week that counts in part, the same part of two.
fn fewer_than_two_sessions(week: Week, policy: &Policy) -> bool {
    week.visits < u16::from(policy.sessions_per_week) * week.days / 7
}

/// **A1** Under two in each of the last two ISO weeks while a block is running: look.
fn two_short_weeks(week_before: Week, last_week: Week, policy: &Policy) -> bool {
    fewer_than_two_sessions(week_before, policy) && fewer_than_two_sessions(last_week, policy)
}

/// **A1** No session for 14 days: look.
fn no_session_for_too_long(missed_days: u16, policy: &Policy) -> bool {
    missed_days >= policy.gap_days
}

/// One ISO week, as far as it has passed.
#[derive(Debug, Clone, Copy, Default)]
struct Week {
    /// Days with a session.
    visits: u16,
    /// Days on which sessions were asked for.
    days: u16,
}

// How A1 is walked through a log, day by day.

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let Some(first) = log.sessions().next().map(|(session, _)| session.on) else {
        return Vec::new();
    };
    let mut trained = Spans::new(log.sessions().map(|(session, _)| (session.on, session.on)));
    let mut excused = Spans::new(log.history.excused.iter().copied());
    let mut running = Spans::new(running(log.history, first));

    let mut flag = Life::new(Rule::A1, Subject::default());
    let [mut before, mut last, mut this] = [Week::default(); 3];
    let mut last_on = first;
    let mut missed_days = 0u16;
    let mut day = first;
    while day <= log.as_of {
        if day.weekday() == Weekday::Monday {
            (before, last, this) = (last, this, Week::default());
        }
        let is_excused = excused.holds(day);
        if !is_excused && running.holds(day) {
            this.days += 1;
        }
        if trained.holds(day) {
            this.visits += 1;
            last_on = day;
            missed_days = 0;
        } else if !is_excused {
            missed_days = missed_days.saturating_add(1);
        }
        let missing = no_session_for_too_long(missed_days, log.policy)
            || two_short_weeks(before, last, log.policy);
        let broken = missing && !is_excused;
        flag.shows(
            day,
            broken.then(|| Evidence::Attendance {
                last_on,
                days_since: (day - last_on).whole_days(),
                last_week: last.visits,
                week_before: before.visits,
                wanted: log.policy.sessions_per_week.into(),
            }),
        );
        match day.next_day() {
            Some(next) => day = next,
            None => break,
        }
    }
    flag.episodes()
}

/// The days on which two sessions a week are asked for.
fn running(history: &History, first_session: Date) -> Vec<(Date, Date)> {
    match &history.blocks {
        Some(blocks) => blocks
            .iter()
            .map(|block| (block.from, block.until))
            .collect(),
        None => vec![(first_session, Date::MAX)],
    }
}

/// Spans of days, first to last, asked about for one day after the other.
struct Spans {
    spans: Vec<(Date, Date)>,
    at: usize,
}

impl Spans {
    /// Joins spans that touch or overlap; one that ends before it begins holds nothing.
    fn new(spans: impl IntoIterator<Item = (Date, Date)>) -> Self {
        let mut sorted: Vec<_> = spans
            .into_iter()
            .filter(|(from, until)| from <= until)
            .collect();
        sorted.sort_unstable();
        let mut joined: Vec<(Date, Date)> = Vec::with_capacity(sorted.len());
        for (from, until) in sorted {
            match joined.last_mut() {
                Some(last) if from <= last.1.saturating_add(Duration::DAY) => {
                    last.1 = last.1.max(until);
                }
                _ => joined.push((from, until)),
            }
        }
        Self {
            spans: joined,
            at: 0,
        }
    }

    /// Whether a day is in a span; days must be asked for in order.
    fn holds(&mut self, day: Date) -> bool {
        while self
            .spans
            .get(self.at)
            .is_some_and(|(_, until)| *until < day)
        {
            self.at += 1;
        }
        self.spans
            .get(self.at)
            .is_some_and(|(from, _)| *from <= day)
    }
}

#[cfg(test)]
mod examples {
    use super::*;
    use crate::plan::{Scheme, SetLadder};
    use crate::scenario::{
        Day, block, date, examples_by_day, history, only, plus, rack, reps, session,
    };
    use crate::training::Hands;

    /// A one-hand session on each of these days; day 0 is a Monday.
    fn trained(days: &[i64]) -> Vec<Day> {
        days.iter()
            .map(|day| session(*day).straight(Hands::One, 1, &[5]))
            .collect()
    }

    fn with_excused(days: &[i64], excused: &[(i64, i64)]) -> History {
        let mut history = history(trained(days), rack());
        let span = |(from, until): &(i64, i64)| (date(*from), date(*until));
        history.excused = excused.iter().map(span).collect();
        history
    }

    fn with_blocks(days: &[i64], blocks: &[(i64, i64)]) -> History {
        let ladder = Scheme::SetLadder(SetLadder {
            reps: reps(5),
            start_sets: 5,
            add_per_week: 1,
            target_sets: 10,
            light_fourth_week: false,
            rest_seconds: 60,
        });
        let mut history = history(trained(days), rack());
        let span = |span: &(i64, i64)| block(Hands::One, 1, *span, ladder);
        history.blocks = Some(blocks.iter().map(span).collect());
        history
    }

    // WHO guidelines on physical activity and sedentary behaviour, 2020: two or more days a week. The parts
    // of a week that counts in part are by hand: two sevenths of the days ask for half a session.
    #[test]
    fn a1_fewer_than_two_sessions() {
        for (words, visits, days, expected) in [
            ("none in a week", 0, 7, true),
            ("one in a week", 1, 7, true),
            ("two in a week", 2, 7, false),
            ("three in a week", 3, 7, false),
            ("one, and six days count: 1.7 sessions", 1, 6, false),
            ("none, and six days count", 0, 6, true),
            ("none, and four days count: 1.1 sessions", 0, 4, true),
            ("none, and three days count: 0.9 sessions", 0, 3, false),
            ("none, and no day counts", 0, 0, false),
        ] {
            let short = fewer_than_two_sessions(Week { visits, days }, &Policy::default());
            assert_eq!(short, expected, "{words}");
        }
    }

    // WHO 2020, as above. Each log, and the flag by the day named.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn a1_two_short_weeks() {
        let once_a_week_twice = || trained(&[0, 3, 7, 14]);
        examples_by_day(
            &["A1"],
            [
                ("twice a week", trained(&[0, 3, 7, 10, 14, 17]), 21, "nothing"),
                ("once in the first week", trained(&[0, 7, 10]), 14, "nothing"),
                ("once in the second", trained(&[0, 3, 7, 14]), 14, "nothing"),
                ("once in each of two, on Sunday", once_a_week_twice(), 20, "nothing"),
                ("and on the Monday after", once_a_week_twice(), 21, "A1 from day 21"),
                (
                    "then twice again: until that week is over",
                    trained(&[0, 3, 7, 14, 21, 24, 28, 31]),
                    40,
                    "A1 day 21 to 28",
                ),
                ("two entries a day are one visit", trained(&[0, 0, 7, 7]), 14, "A1 from day 14"),
                ("nobody began", trained(&[]), 400, "nothing"),
            ],
        );
    }

    // Common practice, no source.
    #[test]
    fn a1_no_session_for_14_days() {
        for (missed_days, expected) in [(0, false), (13, false), (14, true), (15, true)] {
            let too_long = no_session_for_too_long(missed_days, &Policy::default());
            assert_eq!(too_long, expected, "{missed_days} days");
        }
        examples_by_day(
            &["A1"],
            [
                ("the thirteenth day", trained(&[0, 3]), 16, "nothing"),
                ("the fourteenth day", trained(&[0, 3]), 17, "A1 from day 17"),
                (
                    "a session ends the gap, its week the short weeks",
                    trained(&[0, 3, 21, 24, 28]),
                    30,
                    "A1 day 17 to 28",
                ),
            ],
        );
    }

    /// Excused days are not missed; by hand.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn a1_excused_days() {
        examples_by_day(
            &["A1"],
            [
                (
                    "days 4 to 6 and from 23 on count: 13 of them",
                    with_excused(&[0, 3], &[(7, 20), (15, 22)]),
                    32,
                    "nothing",
                ),
                ("and the fourteenth", with_excused(&[0, 3], &[(7, 20), (15, 22)]), 33, "A1 from day 33"),
                (
                    "nothing stands while somebody is excused",
                    with_excused(&[0, 3], &[(20, 29)]),
                    30,
                    "A1 day 17 to 20, A1 from day 30",
                ),
                (
                    "three days excused in each week: one visit is enough",
                    with_excused(&[0, 3, 7, 14], &[(10, 12), (17, 19)]),
                    21,
                    "nothing",
                ),
                (
                    "a span that ends before it begins excuses nobody",
                    with_excused(&[0, 3], &[(10, 5)]),
                    17,
                    "A1 from day 17",
                ),
            ],
        );
    }

    /// Short weeks count only while a block is running; by hand.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn a1_while_a_block_is_running() {
        let once_a_week = [0, 7, 14, 21];
        examples_by_day(
            &["A1"],
            [
                ("a block of two weeks", with_blocks(&once_a_week, &[(7, 20)]), 28, "A1 day 21 to 28"),
                (
                    "the same, as two blocks of a week",
                    with_blocks(&once_a_week, &[(14, 20), (7, 13)]),
                    28,
                    "A1 day 21 to 28",
                ),
                ("the first day of the block is missing", with_blocks(&once_a_week, &[(8, 20)]), 28, "nothing"),
                ("the last day of the block is missing", with_blocks(&once_a_week, &[(7, 19)]), 28, "nothing"),
                ("no block", with_blocks(&once_a_week, &[]), 28, "nothing"),
                ("a plan that nobody began says nothing yet", with_blocks(&[], &[(2, 60)]), 400, "nothing"),
                ("what counts begins with the first session", with_blocks(&[30], &[(2, 60)]), 43, "nothing"),
                ("and a fortnight after it is the gap", with_blocks(&[30], &[(2, 60)]), 44, "A1 from day 44"),
            ],
        );
    }

    #[test]
    fn a1_the_figures() {
        let evidence = only(&history(trained(&[0, 3, 7]), rack()), Rule::A1, 22)
            .flag
            .evidence;
        assert_eq!(
            evidence,
            Evidence::Attendance {
                last_on: plus(date(0), 7),
                days_since: 15,
                last_week: 0,
                week_before: 1,
                wanted: 2,
            }
        );
    }
}
