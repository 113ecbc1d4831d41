//! One file a subcommand: its arguments, and what it does with them.

pub(crate) mod account;
pub mod assess;
pub(crate) mod backup;
pub(crate) mod demo;
pub(crate) mod export;
pub(crate) mod import;
pub mod mechanics;
pub(crate) mod migrate;
pub(crate) mod refused;
pub(crate) mod restore;
pub(crate) mod serve;
