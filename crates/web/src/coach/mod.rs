//! The coach's pages. The rack is also read by everybody else of the gym, and kept by its owner; the
//! owner keeps the classes, too, but their plans are the coach's.

pub(crate) mod assign;
pub(crate) mod athlete;
pub(crate) mod athletes;
pub(crate) mod away;
pub(crate) mod back;
pub(crate) mod block_templates;
pub(crate) mod blocks;
pub(crate) mod changes;
pub(crate) mod classes;
pub(crate) mod exceptions;
pub(crate) mod files;
pub(crate) mod movements;
pub(crate) mod moving;
pub(crate) mod open_early;
pub(crate) mod plan;
pub(crate) mod planned;
pub(crate) mod rack;
pub(crate) mod review;
pub(crate) mod roster;

mod around;
mod objections;
mod offer;
mod plan_calendar;
mod typed;
mod words;
