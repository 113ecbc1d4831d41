//! What a cell may hold: names, numbers, days.

use leverbook_domain::text::{Label, TextError};
use time::Date;
use time::macros::format_description;

use crate::log::{FIRST_DAY, LAST_DAY};

/// Reads a name of at most `MOST` characters, as every form does.
pub(super) fn name<const MOST: usize>(text: &str) -> Result<String, TextError> {
    Label::<MOST>::new(text).map(String::from)
}

/// Reads a decimal number: digits with at most one point, perhaps a sign. No exponent, no NaN.
pub(super) fn number(text: &str) -> Result<f64, &'static str> {
    const WRONG: &str = "is not a number; write it like 12.5";
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+');
    if !text.chars().all(plain) {
        return Err(WRONG);
    }
    text.parse().map_err(|_| WRONG)
}

/// Reads a whole number, also as a spreadsheet may write it: `30.0`.
pub(super) fn whole(text: &str) -> Result<i64, &'static str> {
    let value = number(text).map_err(|_| "is not a whole number")?;
    // Everything counted here is far below 2^53, where whole f64 stop being exact.
    if value.fract() == 0.0 && value.abs() < 1e9 {
        Ok(value as i64)
    } else {
        Err("is not a whole number")
    }
}

/// Reads a day as ISO 8601 writes it.
pub(super) fn day(text: &str) -> Result<Date, String> {
    let day = Date::parse(text, format_description!("[year]-[month]-[day]"))
        .map_err(|_| "is not a day; write it like 2026-11-25".to_owned())?;
    if !(FIRST_DAY..=LAST_DAY).contains(&day) {
        return Err(format!("is not between {FIRST_DAY} and {LAST_DAY}"));
    }
    Ok(day)
}

/// Reads one of a few words, in any case.
pub(super) fn word<T>(
    text: &str,
    from_word: impl Fn(&str) -> Option<T>,
    allowed: &'static str,
) -> Result<T, String> {
    from_word(&text.to_lowercase()).ok_or_else(|| format!("must be {allowed}"))
}
