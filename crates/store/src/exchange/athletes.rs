//! `athletes.csv`: who trains here.

use time::Date;
use time::format_description::well_known::Iso8601;

use super::{Column, Limits, Problem, Row, Writer, read};
use crate::athletes::{Handle, PersonName, Status};

/// The columns. `status` is empty for active; `coach` names coaches of the gym by address, parted
/// by spaces, and is empty for the roster of whoever imports.
pub const COLUMNS: &[Column] = &[
    Column::required("athlete"),
    Column::required("name"),
    Column::required("started_on"),
    Column::optional("status"),
    Column::optional("status_since"),
    Column::optional("coach"),
    Column::optional("notes"),
];
