//! What is asked for: schemes, blocks, the days they fall on, and what one planned session
//! prescribes.

mod block;
mod change;
mod holding_week;
mod moving;
mod prescription;
mod preview;
mod projection;
mod proposed_block;
mod scheme;
mod session_time;
mod time_away;
mod weekdays;

pub use block::{BlockDraft, BlockField, BlockProblem, BlockProblems, BlockWish};
pub use change::{Change, PlannedState, Standing};
pub use holding_week::{HoldingWeek, holds, ladder_block, week_that_holds};
pub use moving::{MoveRefused, OUT_OF_BLOCK, Placed, moved_to};
pub use prescription::{Ask, Prescription};
pub(crate) use preview::share_of_sets;
pub use preview::{PlannedOn, Swung, preview};
pub use projection::{
    Aim, Attendance, BlockAhead, Milestone, MissedWeeks, Missing, Open, WayAhead, When,
    block_ahead, ways_ahead,
};
pub use proposed_block::{
    BlockGround, ProposedBlock, last_day, proposed_block, start_after, usual_scheme,
};
pub use scheme::{FingertipSets, IntervalSets, Scheme, SetLadder};
pub use session_time::SessionTime;
pub use time_away::{
    Afterwards, Around, ComesBack, InBlock, Known, LONGEST_AWAY, LastDone, LighterClub, TimeAway,
    TimeAwayError, around, comes_back, one_club_lighter,
};
pub use weekdays::{Weekdays, WeekdaysError};
