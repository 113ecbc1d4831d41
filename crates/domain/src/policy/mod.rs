//! Every threshold that a gym may set. [`Policy`] is what the rules read; [`Threshold::ALL`] says of
//! each one what it means, its unit, its allowed range and its source, and range checks, files, pages
//! and the rules' help are all made from it. A coach may make an exception for one athlete
//! ([`Exceptions`]).
//!
//! What is not here is no matter of choice: the constants by which T5 and T6 tell a change from
//! day-to-day noise stand with their estimators, because how often those are right was measured with
//! these very values; and L3 compares one session with the one before it.

mod effect;
mod exceptions;
pub mod file;
mod thresholds;

pub use effect::{Effect, FlagTurn, StepTurn};
pub use exceptions::{AthletePolicy, Exception, ExceptionChange, Exceptions, ExceptionsNumber};
pub use thresholds::{Fault, Refused, Threshold, Unit};

use serde::{Deserialize, Serialize};

/// The version of a gym's policy; every computed result names the one it used. Version 0 is the
/// policy as shipped.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct PolicyVersion(pub i32);

/// The thresholds, by the names that files and the database use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Policy {
    /// Which version this is.
    pub version: PolicyVersion,
    /// T1: length of an interval set, seconds.
    pub interval_seconds: u16,
    /// T3: default goal as a multiple of the median of the first sessions at a key.
    pub goal_over_start: f64,
    /// T3: how many first sessions make the start.
    pub goal_start_sessions: usize,
    /// T4, V3: sessions in a row at the goal.
    pub earned_in_a_row: usize,
    /// T4, V3: effort (CR10) must not be over this.
    pub earned_effort_at_most: f64,
    /// T4, V3: pain must not be over this.
    pub earned_pain_at_most: u8,
    /// O1: distinct two-hand clubs finished by T4.
    pub opening_clubs: usize,
    /// O1: months of two-hand work in the log.
    pub opening_months: u32,
    /// O1: sessions a week on average over the two-hand work.
    pub opening_sessions_per_week: f64,
    /// O3: fingertip sessions before free one-hand sets.
    pub fingertip_sessions: usize,
    /// V1: fewest reps of a straight set.
    pub ladder_reps_min: u16,
    /// V1: most reps of a straight set.
    pub ladder_reps_max: u16,
    /// V1, V4: sets on each side that a ladder starts with.
    pub ladder_start_sets: u8,
    /// V2: the two targets, in sets on each side.
    pub ladder_targets: [u8; 2],
    /// V2: more sets than this added within seven days is flagged.
    pub ladder_added_sets_max: u8,
    /// V5: at this effort or more, the next session does not add.
    pub no_add_effort: f64,
    /// V5: at this pain or more, the next session does not add.
    pub no_add_pain: u8,
    /// V6: every how many weeks the ladder holds.
    pub hold_every_weeks: u8,
    /// V6: share of the sets in an optional light week.
    pub light_week_share: f64,
    /// B2: symmetry index, percent, over which a side is favoured.
    pub symmetry_percent: f64,
    /// B2: days over which the index is taken.
    pub symmetry_days: u16,
    /// B2: fewest sessions among those days for a habit to show.
    pub symmetry_sessions: usize,
    /// W1: largest step, percent.
    pub step_percent: f64,
    /// L2: week over this multiple of the exponentially weighted mean of the weeks before.
    pub load_spike_ratio: f64,
    /// L2: span N, in weeks, of the exponentially weighted mean, lambda = 2/(N+1).
    pub load_mean_weeks: u16,
    /// L2: fewest weeks before the one judged.
    pub load_weeks_before: usize,
    /// L1: rest between sets, seconds, where a session's minutes were not logged.
    pub assumed_rest_seconds: f64,
    /// L1: seconds a rep of a straight set takes, where a session's minutes were not logged.
    pub assumed_rep_seconds: f64,
    /// L3: effort at or over this in two sessions running at an unchanged prescription.
    pub effort_climbing: f64,
    /// L4: pain at or over this once stops the work.
    pub pain_stop: u8,
    /// L4: sessions running with milder pain at one place for the coach to look at.
    pub pain_in_a_row: usize,
    /// L4: sessions of the movement running without pain there after which the flag ends; a stop only after
    /// sessions of which it was said that nothing hurt.
    pub pain_free_sessions: usize,
    /// A1: sessions in every week.
    pub sessions_per_week: u8,
    /// A1: days without a session after which a return plan is proposed.
    pub gap_days: u16,
    /// A1: share of the sets on return.
    pub return_share: f64,
    /// A1: days without a session after which the return is one club lighter.
    pub gap_lighter_days: u16,
    /// T4 to T6, V3, O1, O3, W: days without work after which a club, or a way of holding it, counts
    /// as left: flags about it end, and its series starts again.
    pub left_after_days: u16,
    /// M4, V4, W1 to W5: sessions at the new club, with nothing missed, effort and pain as
    /// [`Self::earned_effort_at_most`] and [`Self::earned_pain_at_most`] have it, after which a step
    /// counts as settled and flags about it end.
    pub settled_sessions: usize,
    /// M4: a change smaller than this, percent, is no step.
    pub step_percent_min: f64,
}

impl Default for Policy {
    fn default() -> Self {
        Self {
            version: PolicyVersion(0),
            interval_seconds: 30,
            goal_over_start: 1.2,
            goal_start_sessions: 3,
            earned_in_a_row: 2,
            earned_effort_at_most: 7.0,
            earned_pain_at_most: 2,
            opening_clubs: 3,
            opening_months: 12,
            opening_sessions_per_week: 2.0,
            fingertip_sessions: 4,
            ladder_reps_min: 3,
            ladder_reps_max: 5,
            ladder_start_sets: 5,
            ladder_targets: [10, 20],
            ladder_added_sets_max: 2,
            no_add_effort: 9.0,
            no_add_pain: 3,
            hold_every_weeks: 4,
            light_week_share: 0.6,
            symmetry_percent: 10.0,
            symmetry_days: 28,
            symmetry_sessions: 2,
            step_percent: 33.0,
            load_spike_ratio: 1.5,
            load_mean_weeks: 4,
            load_weeks_before: 3,
            assumed_rest_seconds: 60.0,
            assumed_rep_seconds: 3.0,
            effort_climbing: 9.0,
            pain_stop: 4,
            pain_in_a_row: 2,
            pain_free_sessions: 2,
            sessions_per_week: 2,
            gap_days: 14,
            return_share: 0.6,
            gap_lighter_days: 28,
            left_after_days: 28,
            settled_sessions: 4,
            step_percent_min: 2.0,
        }
    }
}

impl Policy {
    /// Every threshold outside its range, or out of order with the one it goes with; empty for a policy
    /// that can be used.
    #[must_use]
    pub fn refused(&self) -> Vec<Refused> {
        Threshold::ALL
            .iter()
            .filter_map(|threshold| threshold.check(self).err())
            .collect()
    }

    /// The thresholds in which another policy differs.
    pub fn differing<'a>(
        &'a self,
        other: &'a Self,
    ) -> impl Iterator<Item = &'static Threshold> + 'a {
        Threshold::ALL
            .iter()
            .filter(|threshold| threshold.of(self).to_bits() != threshold.of(other).to_bits())
    }
}

#[cfg(test)]
mod tests;
