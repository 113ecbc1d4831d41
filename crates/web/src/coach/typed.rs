//! Numbers and days of a plan as people type them.

use time::Date;
use time::macros::format_description;

use crate::numbers::whole;

/// A whole number that a byte holds; what does not fit becomes the largest, for the domain to
/// refuse with the range that it takes.
pub(super) fn small(text: &str) -> Result<u8, &'static str> {
    Ok(u8::try_from(whole(text)?).unwrap_or(u8::MAX))
}

/// Seconds of rest; what does not fit becomes the most, for the domain to refuse.
pub(super) fn seconds(text: &str) -> Result<u16, &'static str> {
    Ok(u16::try_from(whole(text)?).unwrap_or(u16::MAX))
}

/// A day as browsers send it.
pub(super) fn iso_date(text: &str) -> Result<Date, &'static str> {
    Date::parse(text, format_description!("[year]-[month]-[day]"))
        .map_err(|_| "needs a day, such as 2026-11-30")
}
