//! How good the stall flag (T5) is, on simulated athletes, beside rules of thumb and beside rules that know more.
//!
//! `cargo run --release -p leverbook-stall-study` prints the tables and draws the plot. The constants of the judgement
//! were set with the seeds [`TUNED_WITH`]; the figures that are stated come from another, [`HELD_OUT`].

mod athlete;
mod chance;
mod measure;
mod plot;
mod rules;
mod scenarios;
mod table;

pub use athlete::{Athlete, Counting, Done, Event, Goal, Setting, date};
pub use measure::{Figures, GROWING_WEEKS, WATCHED_WEEKS, measure};
pub use plot::plot;
pub use rules::{Log, ORACLE, Rule, SCAN};
pub use scenarios::{Named, countings, events, grid, published};
pub use table::{Beaten, HELD_OUT, Study, TUNED_WITH, beaten_at};
