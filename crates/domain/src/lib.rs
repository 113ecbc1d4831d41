//! The rules of the trade, pure: no input or output, no clock, no randomness. Dates come in, decisions go out.

pub mod units;
