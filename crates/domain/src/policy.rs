//! Every threshold that a gym may set, its default, its unit, its allowed range and its source.
//!
//! What is not here is no matter of choice: the constants by which T5 and T6 tell a change from
//! day-to-day noise stand with their estimators, because how often those are right was measured with
//! these very values; and L3 compares one session with the one before it.

use serde::{Deserialize, Serialize};

/// The version of a gym's policy; every computed result names the one it used. Version 0 is the
/// policy as shipped.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct PolicyVersion(pub i32);

/// The thresholds. Defaults are this project's own unless a source is named; "common practice"
/// means common practice of the trade, no published source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Policy {
    /// Which version this is.
    pub version: PolicyVersion,
    /// T1: length of an interval set, seconds. Common practice.
    pub interval_seconds: u16,
    /// T3: default goal as a multiple of the median of the first sessions at a key. Common practice.
    pub goal_over_start: f64,
    /// T3: how many first sessions make the start. Common practice.
    pub goal_start_sessions: usize,
    /// T4, V3: sessions in a row at the goal. Mirrors the published 2-for-2 rule (NSCA, from memory).
    pub earned_in_a_row: usize,
    /// T4, V3: effort (CR10) must not be over this. Common practice.
    pub earned_effort_at_most: f64,
    /// T4, V3: pain must not be over this. Common practice.
    pub earned_pain_at_most: u8,
    /// O1: distinct two-hand clubs finished by T4. Common practice.
    pub opening_clubs: usize,
    /// O1: months of two-hand work in the log. Common practice: 12 to 24.
    pub opening_months: u32,
    /// O1: sessions a week on average over the two-hand work. Common practice.
    pub opening_sessions_per_week: f64,
    /// O3: fingertip sessions before free one-hand sets. Common practice, the count is ours.
    pub fingertip_sessions: usize,
    /// V1: fewest reps of a straight set. Common practice.
    pub ladder_reps_min: u16,
    /// V1: most reps of a straight set. Common practice.
    pub ladder_reps_max: u16,
    /// V1, V4: sets on each side that a ladder starts with. Common practice.
    pub ladder_start_sets: u8,
    /// V2: the two targets, in sets on each side. Common practice.
    pub ladder_targets: [u8; 2],
    /// V2: more sets than this added within seven days is flagged. Common practice.
    pub ladder_added_sets_max: u8,
    /// V5: at this effort or more, the next session does not add. Common practice.
    pub no_add_effort: f64,
    /// V5: at this pain or more, the next session does not add. Common practice.
    pub no_add_pain: u8,
    /// V6: every how many weeks the ladder holds. Common practice.
    pub hold_every_weeks: u8,
    /// V6: share of the sets in an optional light week. Common practice.
    pub light_week_share: f64,
    /// B2: symmetry index, percent, over which a side is favoured. Robinson 1987 for the index;
    /// 10 % is the widely used, arbitrary cut-off (Herzog 1989).
    pub symmetry_percent: f64,
    /// B2: days over which the index is taken. Ours.
    pub symmetry_days: u16,
    /// B2: fewest sessions among those days for a habit to show. Ours.
    pub symmetry_sessions: usize,
    /// W1: largest step, percent. Common practice, the coach's own number; published guidance for
    /// load increases is 2-10 % (ACSM 2009), which fixed clubs cannot reach.
    pub step_percent: f64,
    /// L2: week over this multiple of the exponentially weighted mean of the weeks before. Such
    /// ratios are disputed as predictors of injury (Impellizzeri 2020, from memory).
    pub load_spike_ratio: f64,
    /// L2: span N, in weeks, of the exponentially weighted mean, lambda = 2/(N+1) (Williams 2017,
    /// from memory).
    pub load_mean_weeks: u16,
    /// L2: fewest weeks before the one judged. Ours.
    pub load_weeks_before: usize,
    /// L1: rest between sets, seconds, where a session's minutes were not logged. Common practice.
    pub assumed_rest_seconds: f64,
    /// L1: seconds a rep of a straight set takes, where a session's minutes were not logged. Common
    /// practice.
    pub assumed_rep_seconds: f64,
    /// L3: effort at or over this in two sessions running at an unchanged prescription.
    pub effort_climbing: f64,
    /// L4: pain at or over this once stops the work. Bands of pain scales disagree; 4-6 is
    /// "moderate" in the Canadian Physiotherapy Association's.
    pub pain_stop: u8,
    /// L4: sessions running with milder pain at one place for the coach to look at. Common practice.
    pub pain_in_a_row: usize,
    /// L4: sessions of the movement running without pain there after which the flag ends. Ours.
    pub pain_free_sessions: usize,
    /// A1: sessions in every week. WHO 2020: muscle strengthening on two or more days a week.
    pub sessions_per_week: u8,
    /// A1: days without a session after which a return plan is proposed. Common practice.
    pub gap_days: u16,
    /// A1: share of the sets on return. Common practice.
    pub return_share: f64,
    /// A1: days without a session after which the return is one club lighter. Common practice.
    pub gap_lighter_days: u16,
    /// T4 to T6, V3, O1, O3, W: days without work after which a club, or a way of holding it, counts
    /// as left: flags about it end, and its series starts again. Ours, as [`Self::gap_lighter_days`].
    pub left_after_days: u16,
    /// M4, V4, W1 to W5: sessions at the new club, with nothing missed, effort and pain as
    /// [`Self::earned_effort_at_most`] and [`Self::earned_pain_at_most`] have it, after which a step
    /// counts as settled and flags about it end. Ours.
    pub settled_sessions: usize,
    /// M4: a change smaller than this, percent, is no step. The low end of published guidance for load
    /// increases, 2-10 % (ACSM 2009).
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

/// A threshold outside its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{threshold} must be from {least} to {most}")]
pub struct OutOfBounds {
    /// Its name, as in [`Policy`] and in files.
    pub threshold: &'static str,
    /// The least it may be.
    pub least: f64,
    /// The most it may be.
    pub most: f64,
}

impl Policy {
    /// Every threshold outside the range in which the rules mean something; empty for a policy that
    /// can be used. The ranges are ours: wide enough for any gym, narrow enough for a slipped digit to
    /// show. Thresholds that come in pairs must also be in order.
    pub fn out_of_bounds(&self) -> Vec<OutOfBounds> {
        let count = |count: usize| u32::try_from(count).map_or(f64::INFINITY, f64::from);
        let [first_target, last_target] = self.ladder_targets.map(f64::from);
        let start = f64::from(self.ladder_start_sets);
        let reps_min = f64::from(self.ladder_reps_min);
        [
            (
                "interval_seconds",
                self.interval_seconds.into(),
                5.0,
                3600.0,
            ),
            ("goal_over_start", self.goal_over_start, 1.0, 3.0),
            (
                "goal_start_sessions",
                count(self.goal_start_sessions),
                1.0,
                20.0,
            ),
            ("earned_in_a_row", count(self.earned_in_a_row), 1.0, 20.0),
            (
                "earned_effort_at_most",
                self.earned_effort_at_most,
                0.0,
                10.0,
            ),
            (
                "earned_pain_at_most",
                self.earned_pain_at_most.into(),
                0.0,
                10.0,
            ),
            ("opening_clubs", count(self.opening_clubs), 0.0, 20.0),
            ("opening_months", self.opening_months.into(), 0.0, 120.0),
            (
                "opening_sessions_per_week",
                self.opening_sessions_per_week,
                0.0,
                14.0,
            ),
            (
                "fingertip_sessions",
                count(self.fingertip_sessions),
                0.0,
                100.0,
            ),
            ("ladder_reps_min", reps_min, 1.0, 50.0),
            (
                "ladder_reps_max",
                self.ladder_reps_max.into(),
                reps_min,
                50.0,
            ),
            ("ladder_start_sets", start, 1.0, 40.0),
            ("ladder_targets[0]", first_target, start, 100.0),
            ("ladder_targets[1]", last_target, first_target, 100.0),
            (
                "ladder_added_sets_max",
                self.ladder_added_sets_max.into(),
                0.0,
                20.0,
            ),
            ("no_add_effort", self.no_add_effort, 0.0, 10.0),
            ("no_add_pain", self.no_add_pain.into(), 0.0, 10.0),
            ("hold_every_weeks", self.hold_every_weeks.into(), 0.0, 52.0),
            ("light_week_share", self.light_week_share, 0.1, 1.0),
            ("symmetry_percent", self.symmetry_percent, 0.0, 200.0),
            ("symmetry_days", self.symmetry_days.into(), 1.0, 366.0),
            (
                "symmetry_sessions",
                count(self.symmetry_sessions),
                1.0,
                100.0,
            ),
            (
                "step_percent",
                self.step_percent,
                self.step_percent_min,
                200.0,
            ),
            ("load_spike_ratio", self.load_spike_ratio, 1.0, 10.0),
            ("load_mean_weeks", self.load_mean_weeks.into(), 1.0, 52.0),
            (
                "load_weeks_before",
                count(self.load_weeks_before),
                1.0,
                52.0,
            ),
            (
                "assumed_rest_seconds",
                self.assumed_rest_seconds,
                0.0,
                900.0,
            ),
            ("assumed_rep_seconds", self.assumed_rep_seconds, 0.5, 60.0),
            ("effort_climbing", self.effort_climbing, 0.0, 10.0),
            ("pain_stop", self.pain_stop.into(), 1.0, 10.0),
            ("pain_in_a_row", count(self.pain_in_a_row), 1.0, 20.0),
            (
                "pain_free_sessions",
                count(self.pain_free_sessions),
                1.0,
                20.0,
            ),
            (
                "sessions_per_week",
                self.sessions_per_week.into(),
                1.0,
                14.0,
            ),
            ("gap_days", self.gap_days.into(), 2.0, 366.0),
            ("return_share", self.return_share, 0.1, 1.0),
            (
                "gap_lighter_days",
                self.gap_lighter_days.into(),
                self.gap_days.into(),
                366.0,
            ),
            ("left_after_days", self.left_after_days.into(), 2.0, 366.0),
            ("settled_sessions", count(self.settled_sessions), 1.0, 100.0),
            ("step_percent_min", self.step_percent_min, 0.0, 50.0),
        ]
        .into_iter()
        // NaN is in no range.
        .filter(|(_, value, least, most)| !(least..=most).contains(&value))
        .map(|(threshold, _, least, most)| OutOfBounds {
            threshold,
            least,
            most,
        })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_policy_as_shipped_can_be_used() {
        assert_eq!(Policy::default().out_of_bounds(), []);
    }

    #[test]
    fn every_threshold_has_its_bounds() {
        let shipped = serde_json::to_value(Policy::default()).unwrap();
        for (name, value) in shipped.as_object().unwrap() {
            if name == "version" {
                continue;
            }
            let with = |value: serde_json::Value| {
                let mut changed = shipped.clone();
                changed[name] = value;
                serde_json::from_value::<Policy>(changed)
            };
            let policy = match value {
                serde_json::Value::Array(_) => with(serde_json::json!([0, 0])),
                value if value.is_f64() => with(serde_json::json!(-1.0)),
                // Too much for any of them; small ones cannot even hold it.
                _ => with(serde_json::json!(40_000)).or_else(|_| with(serde_json::json!(255))),
            }
            .unwrap();
            let told = policy.out_of_bounds();
            assert!(
                told.iter()
                    .any(|it| it.threshold.starts_with(name.as_str())),
                "{name}: {told:?}"
            );
        }
    }

    #[test]
    fn what_is_no_number_or_out_of_order_is_told() {
        let policy = Policy {
            step_percent: f64::NAN,
            gap_days: 30,
            ladder_reps_min: 6,
            ..Policy::default()
        };
        let told: Vec<String> = policy
            .out_of_bounds()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(
            told,
            [
                "ladder_reps_max must be from 6 to 50",
                "step_percent must be from 2 to 200",
                "gap_lighter_days must be from 30 to 366",
            ]
        );
    }
}
