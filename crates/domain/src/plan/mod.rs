//! What is asked for: schemes, and what one planned session prescribes.

mod prescription;
mod scheme;

pub use prescription::{Ask, Prescription};
pub use scheme::{FingertipSets, IntervalSets, Scheme, SetLadder};
