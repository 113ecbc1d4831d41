//! V6: the weeks in which a ladder holds. The plan, the rule and the next step ask the same functions.

use time::{Date, Duration};

use super::{Scheme, SetLadder};
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::review::Week;
use crate::training::{BlockSpan, Hands, History};

/// V6: whether a ladder's week holds, by its number from 1: every fourth, by the policy's number.
pub const fn holds(policy: &Policy, week: i64) -> bool {
    let every = policy.hold_every_weeks as i64;
    every > 0 && week % every == 0
}

/// A week in which a ladder holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HoldingWeek {
    /// Which week of the ladder, from 1.
    pub number: i64,
    /// The Monday after it, on which the ladder goes on.
    pub over_on: Date,
}

/// V6: the week into which a day falls, if that week holds. Weeks are ISO weeks, counted from the one in
/// which the ladder, or its block, began.
pub fn week_that_holds(policy: &Policy, began: Date, day: Date) -> Option<HoldingWeek> {
    let monday = Week::of(day).monday();
    let number = (monday - Week::of(began).monday()).whole_weeks() + 1;
    holds(policy, number).then(|| HoldingWeek {
        number,
        over_on: monday.saturating_add(Duration::WEEK),
    })
}

/// The ladder block that runs with a movement and club on this day; of several the newest.
pub fn ladder_block(
    history: &History,
    movement: MovementId,
    loading: LoadingId,
    day: Date,
) -> Option<(&BlockSpan, &SetLadder)> {
    let blocks = history.blocks.iter().flatten();
    blocks
        .filter(|block| {
            (block.movement, block.hands, block.loading) == (movement, Hands::One, loading)
                && (block.from..=block.until).contains(&day)
        })
        .filter_map(|block| match &block.scheme {
            Scheme::SetLadder(ladder) => Some((block, ladder)),
            _ => None,
        })
        .max_by_key(|(block, _)| (block.from, block.block))
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    // Common practice, no source: every fourth week holds. 2026-01-05 is a Monday, of 2026-W02 (ISO 8601).
    #[test]
    fn every_fourth_iso_week_holds() {
        let policy = Policy::default();
        let fourth = HoldingWeek {
            number: 4,
            over_on: date!(2026 - 02 - 02),
        };
        // Begun on a Monday or on the Sunday of the same week: the same weeks hold.
        for began in [date!(2026 - 01 - 05), date!(2026 - 01 - 11)] {
            for (day, expected) in [
                (began, None),
                (date!(2026 - 01 - 25), None),
                (date!(2026 - 01 - 26), Some(fourth)),
                (date!(2026 - 02 - 01), Some(fourth)),
                (date!(2026 - 02 - 02), None),
                (
                    date!(2026 - 02 - 25),
                    Some(HoldingWeek {
                        number: 8,
                        over_on: date!(2026 - 03 - 02),
                    }),
                ),
            ] {
                assert_eq!(week_that_holds(&policy, began, day), expected, "{day}");
            }
        }
    }

    #[test]
    fn a_policy_of_none_never_holds_and_of_one_always() {
        let with = |weeks| Policy {
            hold_every_weeks: weeks,
            ..Policy::default()
        };
        for week in 1..=12 {
            assert!(!holds(&with(0), week) && holds(&with(1), week), "{week}");
            assert_eq!(holds(&with(3), week), [3, 6, 9, 12].contains(&week));
        }
    }
}
