//! Files that people bring in and take out: comma-separated values as RFC 4180 has them.
//!
//! A file is read whole or refused whole. Every problem is told by line and column, all of them at
//! once, so that somebody can mend a file in one go. What is written here reads back as it was.

pub mod athletes;
mod cells;
pub mod clubs;
mod export;
mod import;
pub mod sets;
mod table;

pub use export::{athletes_csv, attendance_csv, clubs_csv, sets_csv};
pub use import::{Counted, File, Files, Import, ImportError, Report, Scope, import};
pub use table::{Column, Limits, Problem, Row, Writer, read};
