//! Moving one planned session to another day.

use time::{Date, Duration};

use super::{PlannedState, Standing};
use crate::id::PlannedId;

/// How far out of its block's days a session may be moved. Ours: a fortnight without a session is a gap (A1).
pub const OUT_OF_BLOCK: Duration = Duration::days(14);

/// A planned session as it stands, and whether it was done.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// Which.
    pub planned: PlannedId,
    /// As its newest revision has it.
    pub standing: Standing,
    /// Whether the log answers it.
    pub logged: bool,
}

/// Why a session stays where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum MoveRefused {
    /// It was done.
    #[error("it is logged: what was done cannot be moved")]
    Logged,
    /// It was taken out of the plan.
    #[error("it was taken out of the plan: plan it again first")]
    NotPlanned,
    /// It is there already.
    #[error("it is on that day already: choose another")]
    SameDay,
    /// The day has passed.
    #[error("cannot be in the past: today or later")]
    Past,
    /// The same movement is on that day.
    #[error("this movement is planned or logged on that day already: one session of it a day")]
    Taken,
    /// Too far from the days of its block.
    #[error(
        "is too far from its block, which runs {first} to {last}: at most two weeks before or after it"
    )]
    OutOfBlock {
        /// First day of the block.
        first: Date,
        /// Last day of the block.
        last: Date,
    },
}

/// The session on another day. `others` are the athlete's other planned sessions, of all blocks; `block` is
/// the first and the last day of its own.
///
/// # Errors
/// [`MoveRefused`] with the first reason that applies.
pub fn moved_to(
    session: &Placed,
    to: Date,
    others: &[Placed],
    block: (Date, Date),
    today: Date,
) -> Result<Standing, MoveRefused> {
    let standing = &session.standing;
    if session.logged {
        return Err(MoveRefused::Logged);
    }
    if standing.state != PlannedState::Planned {
        return Err(MoveRefused::NotPlanned);
    }
    if to == standing.on {
        return Err(MoveRefused::SameDay);
    }
    if to < today {
        return Err(MoveRefused::Past);
    }
    let (first, last) = block;
    if to < first.saturating_sub(OUT_OF_BLOCK) || to > last.saturating_add(OUT_OF_BLOCK) {
        return Err(MoveRefused::OutOfBlock { first, last });
    }
    let is_taken = others.iter().any(|other| {
        other.planned != session.planned
            && other.standing.on == to
            && other.standing.prescription.movement == standing.prescription.movement
            && (other.logged || other.standing.state == PlannedState::Planned)
    });
    if is_taken {
        return Err(MoveRefused::Taken);
    }
    Ok(Standing {
        on: to,
        ..standing.clone()
    })
}

#[cfg(test)]
mod examples {
    use time::macros::date;
    use uuid::Uuid;

    use super::*;
    use crate::id::{LoadingId, MovementId};
    use crate::plan::{Ask, Prescription};
    use crate::training::Hands;
    use crate::units::Reps;

    const TODAY: Date = date!(2026 - 11 - 25);
    const BLOCK: (Date, Date) = (date!(2026 - 11 - 23), date!(2026 - 12 - 20));

    fn placed(number: u128, movement: u128, on: Date, state: PlannedState, logged: bool) -> Placed {
        Placed {
            planned: PlannedId(Uuid::from_u128(number)),
            standing: Standing {
                on,
                state,
                prescription: Prescription {
                    movement: MovementId(Uuid::from_u128(movement)),
                    movement_name: "Mill".to_owned(),
                    hands: Hands::One,
                    loading: LoadingId(Uuid::nil()),
                    club_name: "Oak 8".to_owned(),
                    sets: 5,
                    ask: Ask::Straight {
                        reps: Reps::new(5).unwrap(),
                    },
                    rest_seconds: 60,
                    week: 1,
                    note: None,
                },
            },
            logged,
        }
    }

    // The trade has no source for any of this: common practice, and ours. The days are by hand.
    #[test]
    fn a_session_moves_to_a_free_day_near_its_block() {
        use MoveRefused as R;
        use PlannedState::{Ended, Planned, Skipped};
        let session = placed(1, 7, date!(2026 - 12 - 03), Planned, false);
        let others = [
            session.clone(),
            placed(2, 7, date!(2026 - 12 - 07), Planned, false),
            placed(3, 8, date!(2026 - 12 - 08), Planned, false),
            placed(4, 7, date!(2026 - 12 - 09), Skipped, false),
            placed(5, 7, date!(2026 - 11 - 25), Planned, true),
        ];
        let out = R::OutOfBlock {
            first: BLOCK.0,
            last: BLOCK.1,
        };
        for (words, to, expected) in [
            ("the next day", date!(2026 - 12 - 04), Ok(())),
            ("tomorrow", date!(2026 - 11 - 26), Ok(())),
            ("where it is", date!(2026 - 12 - 03), Err(R::SameDay)),
            ("yesterday", date!(2026 - 11 - 24), Err(R::Past)),
            (
                "upon the same movement",
                date!(2026 - 12 - 07),
                Err(R::Taken),
            ),
            ("upon what was logged today", TODAY, Err(R::Taken)),
            ("beside another movement", date!(2026 - 12 - 08), Ok(())),
            ("where one was taken out", date!(2026 - 12 - 09), Ok(())),
            ("two weeks after the block", date!(2027 - 01 - 03), Ok(())),
            ("and a day", date!(2027 - 01 - 04), Err(out)),
        ] {
            let moved = moved_to(&session, to, &others, BLOCK, TODAY);
            assert_eq!(moved.clone().map(drop), expected, "{words}");
            if let Ok(moved) = moved {
                let expected = Standing {
                    on: to,
                    ..session.standing.clone()
                };
                assert_eq!(moved, expected, "{words}");
            }
        }
        // Before a block that is still to come: two weeks, not a day more.
        let later = (date!(2026 - 12 - 20), date!(2027 - 01 - 20));
        let to = |day| moved_to(&session, day, &[], later, TODAY).map(drop);
        assert_eq!(to(date!(2026 - 12 - 06)), Ok(()));
        assert!(matches!(
            to(date!(2026 - 12 - 05)),
            Err(R::OutOfBlock { .. })
        ));
        for (state, logged, expected) in [
            (Planned, true, R::Logged),
            (Skipped, false, R::NotPlanned),
            (Ended, false, R::NotPlanned),
        ] {
            let session = placed(1, 7, date!(2026 - 12 - 03), state, logged);
            let moved = moved_to(&session, date!(2026 - 12 - 04), &[], BLOCK, TODAY);
            assert_eq!(moved, Err(expected));
        }
    }
}
