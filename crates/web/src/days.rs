//! Days as forms send them and as pages say them.

use leverbook_store::log::FIRST_DAY;
use time::macros::format_description;
use time::{Date, Duration};

use crate::chart::day_label;

/// Reads a day as date fields send it, no later than a year from today.
///
/// # Errors
/// A sentence that says how to write it, or which days are allowed.
pub fn day(text: &str, today: Date) -> Result<Date, String> {
    let last = today.saturating_add(Duration::days(366));
    between(text, FIRST_DAY, last)
}

/// Reads a day that has begun.
///
/// # Errors
/// As [`day`].
pub fn day_until(text: &str, today: Date) -> Result<Date, String> {
    between(text, FIRST_DAY, today)
}

fn between(text: &str, first: Date, last: Date) -> Result<Date, String> {
    let text = text.trim();
    if text.is_empty() {
        return Err("is needed".to_owned());
    }
    let day = Date::parse(text, format_description!("[year]-[month]-[day]"))
        .map_err(|_| "is not a day; write it like 2026-11-25".to_owned())?;
    if day < first || day > last {
        return Err(format!(
            "must be from {} to {}",
            day_label(first),
            day_label(last)
        ));
    }
    Ok(day)
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    const TODAY: Date = date!(2026 - 11 - 25);

    #[test]
    fn days_are_read_as_date_fields_send_them() {
        assert_eq!(day("2026-02-28", TODAY), Ok(date!(2026 - 02 - 28)));
        assert_eq!(day(" 2024-02-29 ", TODAY), Ok(date!(2024 - 02 - 29)));
        for text in [
            "",
            "2026-02-29",
            "2026-13-01",
            "25.11.2026",
            "11/25/2026",
            "2026-11-25T10:00",
            "0001-01-01",
            "1949-12-31",
            "2027-12-31",
            "9999-12-31",
            "99999-01-01",
            "-2026-01-01",
            "NaN",
            "today",
        ] {
            assert!(day(text, TODAY).is_err(), "{text:?}");
        }
        assert_eq!(day_until("2026-11-25", TODAY), Ok(TODAY));
        assert!(day_until("2026-11-26", TODAY).is_err());
    }
}
