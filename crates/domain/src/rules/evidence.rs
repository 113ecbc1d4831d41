//! The figures behind a flag. Field names are those of the JSON that `assess` prints.

use serde::{Deserialize, Serialize};
use time::Date;

use crate::club::StepSize;
use crate::density::DensityFigures;
use crate::id::LoadingId;

/// The figures behind a flag, one shape a kind of statement. `about` names the shape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "about", rename_all = "snake_case")]
pub enum Evidence {
    /// T4, T5, T6: density at one key.
    Density(DensityFigures),
    /// O1: how much of the gate was there when one-hand or fingertip work began.
    Opening {
        /// Two-hand clubs finished.
        clubs_finished: usize,
        /// Two-hand clubs needed.
        clubs_needed: usize,
        /// Whole months of two-hand work.
        months: u32,
        /// Months needed.
        months_needed: u32,
        /// Sessions a week over that time.
        sessions_per_week: f64,
        /// Sessions a week needed.
        sessions_per_week_needed: f64,
        /// Whether a stop flag stood.
        stop_flag_open: bool,
        /// The coach's reason, where the coach opened the gate early.
        opened_early: Option<String>,
    },
    /// O2, W5: the club of the restart against the lightest finished one.
    Restart {
        /// The lightest finished club; with none finished, the lightest worked with two hands.
        lightest: LoadingId,
        /// Whether it was finished.
        finished: bool,
        /// From that club up to the one used.
        step: StepSize,
    },
    /// O3: fingertip sessions before free one-hand sets.
    Fingertip {
        /// Sessions done.
        sessions: usize,
        /// Sessions needed.
        needed: usize,
    },
    /// V1, V2, V4, W4, V5, V6: how a ladder moved from one session to the next.
    Ladder {
        /// Sets on each side in this session.
        sets: u16,
        /// Sets on each side before: in the session before; V2: as many as the ladder had reached
        /// seven days earlier; V4: on the club before the step.
        sets_before: Option<u16>,
        /// Reps a set in this session; the most of any set where that is what was too many.
        reps: u16,
        /// Reps a set in the session before.
        reps_before: Option<u16>,
        /// The most sets on each side that were in order; `None` where the sets were not the matter.
        allowed_sets: Option<u16>,
        /// The nearest reps that were in order; `None` where the reps were not the matter.
        allowed_reps: Option<u16>,
        /// V5: what the session before said.
        because: Option<NoAdding>,
    },
    /// V3: the target was done in full on both sides.
    LadderDone {
        /// Sets on each side.
        sets: u16,
        /// The ladder's target.
        target: u16,
        /// Reps a set.
        reps: u16,
        /// Sessions in a row.
        in_a_row: usize,
    },
    /// B1, B2: reps on each side.
    Sides {
        /// Left reps.
        left_reps: u32,
        /// Right reps.
        right_reps: u32,
        /// Symmetry index, percent; `None` where nothing was swung.
        index_percent: Option<f64>,
        /// Days looked at; 1 for one session.
        days: u16,
    },
    /// M4, W1, W2, W3: a step from one club to another.
    Step {
        /// The last club actually worked in that movement and hands.
        from: LoadingId,
        /// The club stepped to.
        to: LoadingId,
        /// How big the step is.
        step: StepSize,
        /// The limit, percent.
        limit_percent: f64,
        /// W2: the club with the smallest step that stood in the rack.
        smaller: Option<LoadingId>,
        /// W2: how big that step would have been.
        smaller_step: Option<StepSize>,
    },
    /// L1, L2: a week's load.
    Load {
        /// Sum of the week's session loads (CR10 × minutes).
        week_load: f64,
        /// Exponentially weighted mean of the weeks before.
        mean_before: f64,
        /// Week over mean.
        ratio: f64,
        /// The limit.
        limit: f64,
        /// Mean of the week's daily loads over their sample SD; `None` where undefined.
        monotony: Option<f64>,
        /// Load × monotony.
        strain: Option<f64>,
        /// Whether minutes of some session of the week were estimated from its sets.
        minutes_estimated: bool,
    },
    /// L3: effort at an unchanged prescription.
    Effort {
        /// Effort of this session.
        effort: f64,
        /// Effort of the session before.
        effort_before: f64,
        /// The limit.
        limit: f64,
    },
    /// L4: pain.
    Pain {
        /// The score, 0 to 10.
        score: u8,
        /// Sessions running at this place.
        sessions: usize,
        /// The score that stops work.
        stop_at: u8,
    },
    /// L4: pain that stopped the work, until the athlete changed the session or took it back.
    PainUnsaid {
        /// The score as it stood, 0 to 10.
        score: u8,
        /// The worst of the session as it stands; `None` where it says nothing or is gone.
        now: Option<u8>,
        /// The score that stops work.
        stop_at: u8,
    },
    /// A1: attendance.
    Attendance {
        /// Last session.
        last_on: Date,
        /// Days since.
        days_since: i64,
        /// Sessions in the last whole ISO week.
        last_week: u16,
        /// Sessions in the whole ISO week before that.
        week_before: u16,
        /// Sessions wanted in every week.
        wanted: u16,
    },
}

/// V5: why the next session was not to add, each reason only where it holds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NoAdding {
    /// A set had fewer reps than it was for.
    pub missed_reps: bool,
    /// Effort at or over the limit.
    pub effort: Option<f64>,
    /// Pain at or over the limit.
    pub pain: Option<u8>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::density::GoalReach;

    /// Evidence as it was kept before the figures told when a goal would be reached.
    #[test]
    fn density_evidence_kept_earlier_is_still_read() {
        let kept = r#"{
            "about": "density", "density_rpm": 24.0, "goal_rpm": 24.0, "best_rpm": 26.0,
            "best_on": "2026-01-15", "sessions_since_best": 1, "slope_rpm_per_week": 1.5,
            "slope_low": null, "slope_high": null, "kendall_s": 6, "kendall_p": 0.2, "sessions": 5
        }"#;
        let Evidence::Density(figures) = serde_json::from_str(kept).unwrap() else {
            panic!("density evidence");
        };
        assert_eq!((figures.density_rpm, figures.sessions), (24.0, 5));
        assert_eq!(
            (
                figures.kendall_exact,
                figures.sessions_missing,
                figures.goal_reach
            ),
            (None, 0, GoalReach::Unknown)
        );
        // And what is kept now reads as it was written.
        let evidence = Evidence::Density(figures);
        let text = serde_json::to_string(&evidence).unwrap();
        assert_eq!(serde_json::from_str::<Evidence>(&text).unwrap(), evidence);
    }
}
