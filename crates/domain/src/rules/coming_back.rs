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
