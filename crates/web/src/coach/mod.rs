//! The coach's pages.

pub(crate) mod files;
