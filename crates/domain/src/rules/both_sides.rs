//! B · Both sides.
//!
//! - **B1** Equal reps on each side, in every session, in both phases. Any unequal session: note.
//!   Source: common practice.
//! - **B2** Symmetry index `SI = 100·|L − R| / (0.5·(L + R))` of reps over 28 days. SI over 10 % across
//!   28 days: look (10 to 15 % is the band commonly quoted).
//!   Source: Robinson et al., J Manipulative Physiol Ther 1987;10:172 for the index; 10 % is an arbitrary
//!   but widely used cut-off (Herzog et al., Med Sci Sports Exerc 1989;21(1):110). That one session alone
//!   is no habit yet, so that it takes two, is ours.
//!
//! Reps of different movements, or of one hand and two, do not compare, so each is judged alone. B1 ends
//! with the next session of that movement and hands whose sides are equal, B2 once the index of the last
//! 28 days is back in bounds; the days move on though nobody logs.

use std::collections::{BTreeMap, VecDeque};

use time::{Date, Duration};

use super::life::Life;
use super::log::Log;
use super::{Episode, Evidence, Rule, Subject};
use crate::id::MovementId;
use crate::policy::Policy;
use crate::stats::symmetry_index;
use crate::training::Hands;

/// **B1** Equal reps on each side. Any unequal session: note.
fn unequal_sides(session: Reps) -> bool {
    session.left != session.right
}

/// **B2** SI over 10 % across 28 days: look.
fn one_side_favoured(window: &Window, policy: &Policy) -> bool {
    window.sessions.len() >= policy.symmetry_sessions
        && symmetry_index(window.left, window.right)
            .is_some_and(|index| index > policy.symmetry_percent)
}

/// Reps of one session at one movement and hands.
#[derive(Debug, Clone, Copy)]
struct Reps {
    on: Date,
    left: u32,
    right: u32,
}

// How B1 and B2 are walked through a log, a movement and hands at a time.

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut all: BTreeMap<(MovementId, Hands), Vec<Reps>> = BTreeMap::new();
    for (session, bouts) in log.sessions() {
        let mut here: BTreeMap<(MovementId, Hands), Reps> = BTreeMap::new();
        for bout in bouts {
            let reps = here.entry((bout.movement, bout.hands)).or_insert(Reps {
                on: session.on,
                left: 0,
                right: 0,
            });
            reps.left += bout.left.reps;
            reps.right += bout.right.reps;
        }
        for (key, reps) in here {
            all.entry(key).or_default().push(reps);
        }
    }
    all.into_iter()
        .flat_map(|((movement, hands), sessions)| {
            let subject = Subject {
                movement: Some(movement),
                hands: Some(hands),
                ..Subject::default()
            };
            let mut found = unequal(log, subject.clone(), &sessions);
            found.extend(favoured(log, subject, &sessions));
            found
        })
        .collect()
}

/// B1: session by session; a note of work that was left has had its day.
fn unequal(log: &Log, subject: Subject, sessions: &[Reps]) -> Vec<Episode> {
    let mut flag = Life::new(Rule::B1, subject);
    for (at, session) in sessions.iter().enumerate() {
        flag.shows(
            session.on,
            unequal_sides(*session).then(|| sides(session.left, session.right, 1)),
        );
        let next = sessions.get(at + 1).map(|next| next.on);
        if let Some(left_on) = log.left_on(session.on)
            && next.is_none_or(|next| left_on <= next)
        {
            flag.end(left_on);
        }
    }
    flag.episodes()
}

/// B2: the sum changes on the days of sessions, and on the days when one falls out of the window.
fn favoured(log: &Log, subject: Subject, sessions: &[Reps]) -> Vec<Episode> {
    let days = log.policy.symmetry_days;
    let mut flag = Life::new(Rule::B2, subject);
    let mut window = Window::default();
    let mut coming = sessions.iter().peekable();
    loop {
        let falls_out = window.next_out(days);
        let comes_in = coming.peek().map(|session| session.on);
        let day = falls_out.into_iter().chain(comes_in).min();
        let Some(day) = day.filter(|day| *day <= log.as_of) else {
            break;
        };
        window.drop_old(day, days);
        while let Some(session) = coming.next_if(|session| session.on == day) {
            window.add(*session);
        }
        flag.shows(
            day,
            one_side_favoured(&window, log.policy).then(|| sides(window.left, window.right, days)),
        );
    }
    flag.episodes()
}

/// The sessions of the last so many days, and their sums.
#[derive(Default)]
struct Window {
    sessions: VecDeque<Reps>,
    left: u32,
    right: u32,
}

impl Window {
    fn add(&mut self, session: Reps) {
        self.left += session.left;
        self.right += session.right;
        self.sessions.push_back(session);
    }

    /// The day on which the oldest session no longer counts.
    fn next_out(&self, days: u16) -> Option<Date> {
        let oldest = self.sessions.front()?;
        oldest.on.checked_add(Duration::days(days.into()))
    }

    fn drop_old(&mut self, day: Date, days: u16) {
        while self.next_out(days).is_some_and(|out| out <= day) {
            if let Some(old) = self.sessions.pop_front() {
                self.left -= old.left;
                self.right -= old.right;
            }
        }
    }
}

fn sides(left: u32, right: u32, days: u16) -> Evidence {
    Evidence::Sides {
        left_reps: left,
        right_reps: right,
        index_percent: symmetry_index(left, right),
        days,
    }
}

#[cfg(test)]
mod examples {
    use super::*;
    use crate::scenario::{
        Day, MILL, PULLOVER, club, examples, examples_by_day, history, only, rack, session,
    };

    /// One one-hand session of mills with so many reps on the left and on the right.
    fn mill(on: i64, left: u16, right: u16) -> Day {
        session(on).sets((MILL, Hands::One, club(1)), 0, &[(left, right)])
    }

    // Common practice, no source.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn b1_unequal_sides() {
        let with_pullovers = |day: Day, pair| day.sets((PULLOVER, Hands::One, club(1)), 0, &[pair]);
        let with_fingertips =
            |day: Day, pair| day.sets((MILL, Hands::Fingertip, club(1)), 0, &[pair]);
        examples(
            &["B1"],
            [
                ("25 and 25", vec![mill(0, 25, 25)], "nothing"),
                ("25 and 24", vec![mill(0, 25, 24)], "B1 from day 0"),
                ("24 and 25", vec![mill(0, 24, 25)], "B1 from day 0"),
                ("unequal, then unequal the other way", vec![mill(0, 25, 24), mill(3, 24, 25)], "B1 from day 0"),
                ("unequal, then equal", vec![mill(0, 25, 24), mill(3, 25, 25)], "B1 day 0 to 3"),
                (
                    "two clubs make a session equal together",
                    vec![mill(0, 5, 4).sets((MILL, Hands::One, club(2)), 0, &[(4, 5)])],
                    "nothing",
                ),
                ("two movements do not", vec![with_pullovers(mill(0, 5, 4), (4, 5))], "B1 from day 0, B1 from day 0"),
                (
                    "nor two ways of holding",
                    vec![with_fingertips(mill(0, 5, 4), (4, 5))],
                    "B1 from day 0, B1 from day 0",
                ),
                (
                    "unequal again after 27 days: the note still stood",
                    vec![mill(0, 25, 24), mill(27, 25, 24)],
                    "B1 from day 0",
                ),
                (
                    "unequal again after 28 days: the work had been left",
                    vec![mill(0, 25, 24), mill(28, 25, 24)],
                    "B1 day 0 to 28, B1 from day 28",
                ),
            ],
        );
        examples_by_day(
            &["B1"],
            [
                ("27 days later", vec![mill(0, 5, 4)], 27, "B1 from day 0"),
                ("28 days later", vec![mill(0, 5, 4)], 28, "B1 day 0 to 28"),
            ],
        );
    }

    // Robinson et al. 1987, figures recomputed: 95 and 105 give 10 %, which is not over 10 %; 95 and 106 give
    // 10.945 %; 45 and 50 give 10.526 %; 0 and 40 give 200 %.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn b2_one_side_favoured() {
        examples(
            &["B2"],
            [
                ("50 and 50", vec![mill(0, 25, 25), mill(3, 25, 25)], "nothing"),
                ("95 and 105", vec![mill(0, 45, 55), mill(3, 50, 50)], "nothing"),
                ("95 and 106", vec![mill(0, 45, 55), mill(3, 50, 51)], "B2 from day 3"),
                ("106 and 95", vec![mill(0, 55, 45), mill(3, 51, 50)], "B2 from day 3"),
                ("45 and 50", vec![mill(0, 20, 25), mill(3, 25, 25)], "B2 from day 3"),
                ("0 and 40", vec![mill(0, 0, 20), mill(3, 0, 20)], "B2 from day 3"),
                ("nothing at all", vec![mill(0, 0, 0), mill(3, 0, 0)], "nothing"),
                ("one session is no habit", vec![mill(0, 5, 25)], "nothing"),
                (
                    "made good again: 45 and 45",
                    vec![mill(0, 20, 25), mill(3, 20, 20), mill(7, 20, 15)],
                    "B2 day 3 to 7",
                ),
            ],
        );
    }

    /// 50 and 40 on day 7, 75 and 65 (14.3 %) on day 14; from day 28 on the first session is no longer
    /// among the last 28 days, though nobody logged. By hand.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn b2_across_28_days() {
        let days = || vec![mill(0, 25, 15), mill(7, 25, 25), mill(14, 25, 25)];
        examples_by_day(
            &["B2"],
            [
                ("day 27", days(), 27, "B2 from day 7"),
                ("day 28", days(), 28, "B2 day 7 to 28"),
                ("much later", days(), 200, "B2 day 7 to 28"),
                ("a session on the day", [days(), vec![mill(28, 25, 21)]].concat(), 28, "B2 day 7 to 28"),
                ("27 days apart", vec![mill(0, 25, 15), mill(27, 25, 20)], 27, "B2 from day 27"),
                ("28 days apart", vec![mill(0, 25, 15), mill(28, 25, 20)], 28, "nothing"),
            ],
        );
    }

    #[test]
    fn the_figures() {
        let of = |days, rule, as_of| only(&history(days, rack()), rule, as_of).flag.evidence;
        let unequal = of(vec![mill(0, 25, 20), mill(3, 24, 25)], Rule::B1, 3);
        assert_eq!(unequal, sides(24, 25, 1));
        let days = || vec![mill(0, 25, 15), mill(7, 25, 20), mill(14, 25, 25)];
        assert_eq!(of(days(), Rule::B2, 7), sides(50, 35, 28));
        assert_eq!(of(days(), Rule::B2, 14), sides(75, 60, 28));
        // The day before the first session falls out is the last on which the flag showed these.
        assert_eq!(of(days(), Rule::B2, 60), sides(50, 45, 28));
    }
}
