//! Pages: a form becomes a parsed type, a domain decision, one transaction, and a page again.

pub mod chart;
pub mod parts;
