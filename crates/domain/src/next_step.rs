//! What the rules propose for an athlete's coming week, and why. The coach decides.

use serde::{Deserialize, Serialize};

use crate::id::{LoadingId, MovementId};
use crate::rules::Rule;
use crate::training::Hands;

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
    /// Wait until the coach has looked.
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
    /// Why.
    pub reasons: Vec<Reason>,
    /// What would change the answer, in plain words.
    pub would_change: Vec<String>,
}
