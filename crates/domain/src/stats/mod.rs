//! The few estimators that the rules need, each checked against published values. Every one is total: a series too short
//! or too flat for an answer gives `None`, never NaN.
//!
//! Times are real times, in days, never the index of a session: people miss sessions.

mod kendall;
mod load;
mod normal;
mod plateau;
mod spread;
mod symmetry;
mod trend;

pub use kendall::{MannKendall, mann_kendall};
pub use load::{WeekLoad, ewma, week_load};
pub use normal::normal_upper_tail;
pub use plateau::{Climb, FEWEST_SESSIONS, Work, judge_climb};
pub use spread::{mean, median, sample_sd};
pub use symmetry::symmetry_index;
pub use trend::{Interval, Reach, Trend, theil_sen};

/// What several of these estimators' tests check with.
#[cfg(test)]
mod checks {
    /// A series with a worked example by hand: College of the Holy Cross, Montserrat seminar notes.
    pub(super) const BY_HAND: [f64; 14] = [
        12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7,
    ];

    /// One value a day.
    pub(super) fn by_index(ys: &[f64]) -> Vec<(f64, f64)> {
        ys.iter()
            .enumerate()
            .map(|(index, y)| (index as f64, *y))
            .collect()
    }

    #[track_caller]
    pub(super) fn close(a: f64, b: f64, relative: f64) {
        assert!(
            (a - b).abs() <= relative * b.abs().max(1e-9),
            "{a} is not {b}"
        );
    }
}
