//! Times without training: away with leave, or simply without a session.

use time::{Date, Duration};

use crate::policy::Policy;
use crate::training::History;

/// Why nothing was done on some days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GapKind {
    /// Paused or excused.
    Away,
    /// A1: so many days without a session since the last one that the coach should know, days away not counted.
    NoSession {
        /// How many in all: days away may lie between them.
        days: u16,
    },
}

/// Days in a row on which nothing was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// The first of them.
    pub first: Date,
    /// The last.
    pub last: Date,
    /// Why.
    pub kind: GapKind,
}

impl Gap {
    /// How many days it is.
    pub fn days(self) -> i64 {
        (self.last - self.first).whole_days() + 1
    }

    /// What stands beside it.
    pub fn words(self) -> String {
        match self.kind {
            GapKind::Away if self.days() == 1 => "away for a day".to_owned(),
            GapKind::Away => format!("away for {} days", self.days()),
            GapKind::NoSession { days } => format!("no session for {days} days"),
        }
    }
}

/// The gaps from the first session on, in order of day, up to and on `today`: every day away, and the days without a
/// session where there are as many between two sessions, or since the last one, as A1 calls a gap. Days with a
/// session are never part of one.
pub fn gaps(history: &History, policy: &Policy, today: Date) -> Vec<Gap> {
    let sessions = history.sessions_until(today);
    let mut trained: Vec<Date> = sessions.iter().map(|session| session.on).collect();
    trained.dedup();
    // After the last session the days run on to today; an empty log says nothing.
    trained.push(today.saturating_add(Duration::DAY));
    let mut away = history.excused.clone();
    away.sort_unstable();
    let is_away = |day: Date| {
        let begun = away.partition_point(|(first, _)| *first <= day);
        away[..begun].iter().any(|(_, last)| day <= *last)
    };
    trained
        .windows(2)
        .flat_map(|pair| between(pair[0], pair[1], policy, &is_away))
        .collect()
}

/// The gaps of the days between two sessions.
fn between(
    session: Date,
    next: Date,
    policy: &Policy,
    is_away: &impl Fn(Date) -> bool,
) -> Vec<Gap> {
    let days: Vec<(Date, bool)> = std::iter::successors(session.next_day(), |day| day.next_day())
        .take_while(|day| *day < next)
        .map(|day| (day, is_away(day)))
        .collect();
    let missed = days.iter().filter(|(_, away)| !away).count();
    let missed = u16::try_from(missed).unwrap_or(u16::MAX);
    days.chunk_by(|(_, one), (_, other)| one == other)
        .filter_map(|run| {
            let kind = match run[0].1 {
                true => GapKind::Away,
                false if missed >= policy.gap_days => GapKind::NoSession { days: missed },
                false => return None,
            };
            Some(Gap {
                first: run[0].0,
                last: run[run.len() - 1].0,
                kind,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{date, history, rack, session};

    fn found(sessions: &[i64], excused: &[(i64, i64)], today: i64) -> Vec<(i64, i64, GapKind)> {
        let days = sessions.iter().map(|day| session(*day)).collect();
        let mut history = history(days, rack());
        history.excused = excused
            .iter()
            .map(|(first, last)| (date(*first), date(*last)))
            .collect();
        let number = |day: Date| (day - date(0)).whole_days();
        gaps(&history, &Policy::default(), date(today))
            .into_iter()
            .map(|gap| (number(gap.first), number(gap.last), gap.kind))
            .collect()
    }

    // A1: no session for 14 days (common practice, no source). Thirteen days lie between days 0 and 14.
    #[test]
    fn fourteen_days_without_a_session_are_a_gap_and_thirteen_are_none() {
        assert_eq!(found(&[0, 14], &[], 14), []);
        let none = |days| GapKind::NoSession { days };
        assert_eq!(found(&[0, 15], &[], 15), [(1, 14, none(14))]);
        assert_eq!(found(&[0], &[], 13), []);
        assert_eq!(found(&[0], &[], 14), [(1, 14, none(14))]);
        assert_eq!(found(&[], &[(0, 30)], 30), [], "an empty log says nothing");
    }

    #[test]
    fn days_away_are_told_and_not_counted_as_missed() {
        let none = |days| GapKind::NoSession { days };
        // 19 days between two sessions, ten of them away: nine missed.
        assert_eq!(found(&[0, 20], &[(5, 14)], 20), [(5, 14, GapKind::Away)]);
        // 29 days, ten of them away: 19 missed, before and after.
        assert_eq!(
            found(&[0, 30], &[(5, 14)], 30),
            [(1, 4, none(19)), (5, 14, GapKind::Away), (15, 29, none(19))]
        );
        // Two leaves that overlap are one; a session within stands out of it; a pause runs on to today.
        assert_eq!(
            found(&[0, 6, 10], &[(2, 4), (3, 8), (11, 400)], 12),
            [
                (2, 5, GapKind::Away),
                (7, 8, GapKind::Away),
                (11, 12, GapKind::Away)
            ]
        );
    }

    #[test]
    fn a_gap_says_how_long_it_was() {
        let gap = |last, kind| Gap {
            first: date(0),
            last: date(last),
            kind,
        };
        assert_eq!(gap(0, GapKind::Away).words(), "away for a day");
        assert_eq!(gap(6, GapKind::Away).words(), "away for 7 days");
        assert_eq!(
            gap(6, GapKind::NoSession { days: 16 }).words(),
            "no session for 16 days"
        );
    }
}
