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
pub use trend::{Interval, Trend, theil_sen};
