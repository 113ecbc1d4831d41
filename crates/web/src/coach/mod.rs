//! The coach's pages. The rack is also read by everybody else of the gym, and kept by its owner.

pub(crate) mod files;
pub(crate) mod movements;
pub(crate) mod rack;
