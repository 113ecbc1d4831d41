//! V2, V4, V5: the sets that a ladder may come back up to.

use time::{Date, Duration};

use super::{Episode, Evidence};
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::training::Hands;

/// One session of a ladder, as far as coming back to its sets goes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Climbed {
    pub(crate) on: Date,
    /// Sets on each side.
    pub(crate) sets: u16,
    /// V5: whether it said that the next session does not add.
    pub(crate) says_not_to_add: bool,
}

/// **V2** The most sets of the last three weeks that went well (V5) and did not come too soon (V2, V4), as long
/// as no gap lies between; 0 where there are none. Coming back up to them is not adding.
pub(crate) fn sets_to_come_back_to(
    policy: &Policy,
    episodes: &[Episode],
    about: (MovementId, Hands, LoadingId),
    oldest_first: impl DoubleEndedIterator<Item = Climbed>,
    today: Date,
) -> u16 {
    let lately = today.saturating_sub(Duration::weeks(3));
    let gap = Duration::days(policy.gap_days.into());
    let mut next_on = today;
    oldest_first
        .rev()
        .take_while(|climbed| {
            let goes_on = climbed.on >= lately && next_on - climbed.on < gap;
            next_on = climbed.on;
            goes_on
        })
        .filter(|climbed| !climbed.says_not_to_add && !came_too_soon(episodes, about, climbed))
        .map(|climbed| climbed.sets)
        .max()
        .unwrap_or(0)
}

/// V2, V4: whether these were more sets than were in order on that day.
fn came_too_soon(
    episodes: &[Episode],
    (movement, hands, loading): (MovementId, Hands, LoadingId),
    climbed: &Climbed,
) -> bool {
    episodes
        .iter()
        .filter(|episode| {
            let subject = &episode.flag.subject;
            (subject.movement, subject.hands, subject.loading)
                == (Some(movement), Some(hands), Some(loading))
                && episode.stands_on(climbed.on)
        })
        .any(|episode| match episode.flag.evidence {
            Evidence::Ladder { allowed_sets, .. } => {
                allowed_sets.is_some_and(|allowed| climbed.sets > allowed)
            }
            _ => false,
        })
}

#[cfg(test)]
mod examples {
    use super::*;
    use crate::rules::episodes;
    use crate::scenario::{MILL, club, date, history, rack, session};

    /// So many sets on these days; those that said not to add are negative.
    fn back_to(days: &[(i64, i64)], today: i64) -> u16 {
        let climbed = days.iter().map(|(on, sets)| Climbed {
            on: date(*on),
            sets: u16::try_from(sets.abs()).unwrap(),
            says_not_to_add: *sets < 0,
        });
        let about = (MILL, Hands::One, club(1));
        sets_to_come_back_to(&Policy::default(), &[], about, climbed, date(today))
    }

    // Three weeks, and 14 days for a gap: common practice, no source.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v2_sets_to_come_back_to() {
        for (words, days, today, expected) in [
            ("nothing was done", &[][..], 0, 0),
            ("what was done last", &[(0, 5)], 3, 5),
            ("more, not long ago", &[(0, 8), (7, 5)], 10, 8),
            ("more, but it was hard", &[(0, -8), (7, 5)], 10, 5),
            ("21 days ago", &[(0, 8), (10, 5)], 21, 8),
            ("22 days ago", &[(0, 8), (10, 5)], 22, 5),
            ("a gap of 13 days", &[(0, 8), (13, 5)], 14, 8),
            ("a gap of 14 days", &[(0, 8), (14, 5)], 15, 5),
            ("nothing for 14 days", &[(0, 8)], 14, 0),
        ] {
            assert_eq!(back_to(days, today), expected, "{words}");
        }
    }

    // By hand: from 5 to 8 sets in four days is more than two in seven (V2): 7 would have been in order.
    #[test]
    fn v2_sets_that_came_too_soon_are_not_come_back_to() {
        let ladder = |on, sets| session(on).straight(Hands::One, 1, &vec![5; sets]);
        let log = history(vec![ladder(0, 5), ladder(4, 8)], rack());
        let policy = Policy::default();
        let episodes = episodes(&log, &policy, date(4));
        for (loading, sets, expected) in [(1, 8, 0), (1, 7, 7), (2, 8, 8)] {
            let climbed = Climbed {
                on: date(4),
                sets,
                says_not_to_add: false,
            };
            let about = (MILL, Hands::One, club(loading));
            let found =
                sets_to_come_back_to(&policy, &episodes, about, std::iter::once(climbed), date(5));
            assert_eq!(found, expected, "{sets} with club {loading}");
        }
    }
}
