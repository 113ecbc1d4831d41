//! The rules of progressive heavy-club training, as a coach knows them.
//!
//! This crate is pure: no input or output, no clock, no randomness. History, policy and a date go
//! in; flags, their evidence and a proposed next step come out. Every rule carries an id (`T5`,
//! `W1`, …) that is the same in code, tests, pages and help.

pub mod class;
pub mod club;
pub mod density;
pub mod digest;
pub mod id;
pub mod next_step;
pub mod plan;
pub mod policy;
pub mod progress;
pub mod review;
pub mod roster;
pub mod rules;
#[cfg(test)]
mod scenario;
pub mod stats;
pub mod story;
pub mod text;
pub mod training;
pub mod units;
