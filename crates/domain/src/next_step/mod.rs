//! What the rules propose for an athlete's coming week, and why. The coach decides.
//!
//! One proposal a movement, from the first of these that applies; a file each, in this order:
//!
//! 1. a stop flag stands: wait for the coach (L4);
//! 2. nothing of it was logged for 14 days: return with 60 % of the sets, from 28 days on with one club
//!    lighter (A1);
//! 3. the club cannot be picked up any more, and no block (5) goes on with one that can: the next one
//!    below (W2);
//! 4. pain stays at one place: hold (L4);
//! 5. a block of the coach has begun with another club or another way of holding it: begin it, or wait
//!    for the coach where its club cannot be picked up;
//! 6. a step or a stage was taken that the rules object to: step back to what was earned (O1 to O3, W1
//!    to W5), begin the ladder again at 5 sets (V4), or hold (V1, V2, V5, V6), for a week or four
//!    also after sets that came too soon were done in full (V2, V4);
//! 7. a side is favoured: hold (B2);
//! 8. effort climbs, or density falls or has stopped climbing: a light week; once a light week has gone by
//!    and not helped, hold until the coach closes the flag (L3, T6, T5);
//! 9. two hands: the fingertip stage where the gate is open (O1), but not after a session that said not
//!    to add (V5); else a step up where one was earned (T4) and the last session was at the goal too,
//!    else the same work until the count is there (T1);
//! 10. fingertips: one hand at 5 sets after four sessions (O3, V1);
//! 11. one hand: a step up where one was earned (V3) and the last session did the target too, else more
//!     sets, one a week (V2), but not after a session that said not to (V5) nor in every fourth week
//!     (V6). Sets that went well in their time are come back to at once.
//!
//! A step up goes to the usable club with the smallest step, of the gym's rack and the athlete's own, and
//! only if that is within the limit (W1, W2). Where every step in the rack is too big, the two-hand count
//! goes on climbing, and a one-hand ladder goes on to its next target.
//!
//! A ladder's target is the running block's; without one it is the first of the policy's two targets,
//! 10, at which a step is earned; 20 is for racks whose next club is too far. All of this order is
//! common practice without a published source.
//!
//! Each proposal tells what speaks for it, what speaks against it, and what would change it.

mod clubs;
mod fingertips;
mod last_session;
mod one_hand;
mod pain_and_gaps;
mod present;
mod proposal;
mod put_right;
mod sides_and_effort;
mod step_up;
#[cfg(test)]
mod tests;
mod two_hands;
mod words;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use time::Date;

use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::rules::{self, Episode, Flag, Names, Rule};
use crate::training::{BlockSpan, Hands, History};
use crate::units::{Seconds, reps_a_set};
pub use words::ForAthlete;

use present::{Present, Worked};
use proposal::Proposal;

/// The kinds of proposal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Go on as planned.
    Stay,
    /// Add sets, up to this many on each side.
    AddSets {
        /// Sets on each side.
        sets: u8,
    },
    /// Same work, nothing added.
    Hold,
    /// A week of fewer sets.
    LightWeek {
        /// Sets on each side.
        sets: u8,
    },
    /// Step to a club with a greater lever demand.
    StepUp,
    /// Step back to a lighter club.
    StepBack,
    /// Begin the fingertip stage.
    FingertipStage,
    /// Begin free one-hand work.
    OpenOneHand,
    /// Come back after a gap with fewer sets.
    Return {
        /// Sets on each side.
        sets: u8,
    },
    /// Wait until the coach decides.
    WaitForCoach,
}

/// One reason for or against, tied to the rule it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// The rule.
    pub rule: Rule,
    /// In plain words.
    pub text: String,
}

/// A proposal for one movement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextStep {
    /// Movement.
    pub movement: MovementId,
    /// Hands of the proposed work.
    pub hands: Hands,
    /// What to do.
    pub step: Step,
    /// The club of the proposed work.
    pub loading: Option<LoadingId>,
    /// The first day on which to do it, where that is not at once: until then the work stays as it is.
    #[serde(default)]
    pub not_before: Option<Date>,
    /// Why.
    pub reasons: Vec<Reason>,
    /// What speaks against it.
    #[serde(default)]
    pub against: Vec<Reason>,
    /// What would change the answer, in plain words.
    pub would_change: Vec<String>,
}

/// What the rules propose for each movement that the athlete has trained or has a running block for,
/// in order of movement. `episodes` are those of [`rules::episodes`] for the same day; `is_closed` says
/// which flags the coach has closed or quieted, so that nothing waits for them any more.
pub fn propose(
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
    names: &dyn Names,
) -> Vec<NextStep> {
    told_in(
        Counted::AMinute,
        history,
        policy,
        episodes,
        is_closed,
        today,
        names,
    )
}

/// The same as the athlete reads it, with counts in reps a set.
pub fn propose_for_athlete(
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
    names: &dyn Names,
) -> Vec<ForAthlete> {
    told_in(
        Counted::ASet,
        history,
        policy,
        episodes,
        is_closed,
        today,
        names,
    )
    .iter()
    .map(|step| step.for_athlete(names))
    .collect()
}

fn told_in(
    counted: Counted,
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
    names: &dyn Names,
) -> Vec<NextStep> {
    let mut standing = rules::standing(episodes, today);
    standing.retain(|flag| !is_closed(flag));
    let sessions: Vec<Worked> = history
        .sessions_until(today)
        .iter()
        .flat_map(|session| {
            let worked = move |bout| Worked { session, bout };
            session.bouts().into_iter().map(worked)
        })
        .collect();
    let book = Book {
        history,
        policy,
        episodes,
        standing,
        sessions,
        is_closed,
        today,
        names,
        counted,
    };
    let trained = book.sessions.iter().map(|worked| worked.bout.movement);
    let planned = book.running_blocks().map(|block| block.movement);
    let movements: BTreeSet<MovementId> = trained.chain(planned).collect();
    // Who is away or paused reads nothing new, but for what waits for the coach.
    let is_away = |step: &NextStep| {
        let mut excused = history.excused.iter();
        step.step != Step::WaitForCoach
            && excused.any(|(first, last)| (*first..=*last).contains(&today))
    };
    movements
        .into_iter()
        .filter_map(|movement| book.propose(movement))
        .filter(|step| !is_away(step))
        .collect()
}

/// Everything that a proposal is made from.
struct Book<'a> {
    history: &'a History,
    policy: &'a Policy,
    episodes: &'a [Episode],
    /// The flags that stand and that the coach has not closed.
    standing: Vec<&'a Flag>,
    sessions: Vec<Worked<'a>>,
    is_closed: &'a dyn Fn(&Flag) -> bool,
    today: Date,
    names: &'a dyn Names,
    counted: Counted,
}

/// What a count against the clock is told in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Counted {
    /// Reps a minute: sets of different seconds can be compared.
    AMinute,
    /// Reps a set, which is what the athlete counts.
    ASet,
}

impl<'a> Book<'a> {
    /// A count in numbers alone, of sets of so many seconds.
    fn count(&self, rpm: f64, seconds: Option<Seconds>) -> String {
        match (self.counted, seconds) {
            (Counted::ASet, Some(seconds)) => format!("{:.1}", reps_a_set(rpm, seconds)),
            _ => format!("{rpm:.1}"),
        }
    }

    /// The same with what it is told in.
    fn count_told(&self, rpm: f64, seconds: Option<Seconds>) -> String {
        let count = self.count(rpm, seconds);
        match (self.counted, seconds) {
            (Counted::ASet, Some(_)) => format!("{count} reps a set"),
            _ => format!("{count} a minute"),
        }
    }

    fn propose(&self, movement: MovementId) -> Option<NextStep> {
        let block = self
            .running_blocks()
            .filter(|block| block.movement == movement)
            .max_by_key(|block| (block.from, block.block));
        let proposal = match (self.present(movement, block), block) {
            (Some(present), block) => self.go_on(&present, block),
            (None, Some(block)) => self.begin(block),
            (None, None) => return None,
        };
        Some(NextStep {
            movement,
            hands: proposal.hands,
            step: proposal.step,
            loading: proposal.loading,
            not_before: proposal.not_before,
            reasons: proposal.reasons,
            against: proposal.against,
            would_change: proposal.would_change,
        })
    }

    /// The order of the proposals, from the top.
    fn go_on(&self, present: &Present<'_>, block: Option<&BlockSpan>) -> Proposal {
        self.waits(present)
            .or_else(|| self.returns(present))
            .or_else(|| self.has_no_club(present, block))
            .or_else(|| self.sore(present))
            .or_else(|| self.begins_block(present, block))
            .or_else(|| self.goes_back(present))
            .or_else(|| self.is_uneven(present))
            .or_else(|| self.is_tired(present))
            .unwrap_or_else(|| match present.hands {
                Hands::Two => self.two_hands(present),
                Hands::Fingertip => self.fingertips(present),
                Hands::One => self.one_hand(present, block),
            })
    }
}
