//! Numbers as people type them.

/// Reads a decimal number, with a point or, as many keyboards offer, a comma. No exponent, no
/// grouping, no NaN.
///
/// # Errors
/// A sentence that says how to write it.
pub fn decimal(text: &str) -> Result<f64, &'static str> {
    const WRONG: &str = "is not a number; write it like 12.5";
    let text = text.trim();
    if text.is_empty() {
        return Err("is needed");
    }
    let separators = text.chars().filter(|c| matches!(c, '.' | ',')).count();
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+');
    if separators > 1 || !text.chars().all(plain) {
        return Err(WRONG);
    }
    text.replace(',', ".").parse().map_err(|_| WRONG)
}

/// Reads a whole number.
///
/// # Errors
/// A sentence that says how to write it.
pub fn whole(text: &str) -> Result<i64, &'static str> {
    let text = text.trim();
    if text.is_empty() {
        return Err("is needed");
    }
    text.parse()
        .map_err(|_| "is not a whole number; write it like 12")
}

/// Writes a number with at most so many decimals and no trailing zeros, as fields show it.
#[must_use]
pub fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_keyboards_write_them() {
        for (text, value) in [
            ("12.5", 12.5),
            (" 12,5 ", 12.5),
            ("0", 0.0),
            ("-3", -3.0),
            (".5", 0.5),
        ] {
            assert_eq!(decimal(text), Ok(value), "{text:?}");
        }
        for text in [
            "", "NaN", "inf", "1e9", "1,000.5", "12 kg", "--1", "٣", "1.2.3", "0x10", ".",
        ] {
            assert!(decimal(text).is_err(), "{text:?}");
        }
        assert_eq!(whole("12"), Ok(12));
        for text in ["", "1.5", "99999999999999999999", "²", "five"] {
            assert!(whole(text).is_err(), "{text:?}");
        }
    }

    #[test]
    fn numbers_are_shown_without_idle_decimals() {
        assert_eq!(plain(12.500, 3), "12.5");
        assert_eq!(plain(100.0, 3), "100");
        assert_eq!(plain(0.1 + 0.2, 3), "0.3");
    }
}
