//! Secret tokens: 256 bits from the operating system's generator, written as 64 hex digits.

use std::fmt::Write as _;

use subtle::ConstantTimeEq;

/// A new token.
///
/// # Panics
/// If the operating system has no randomness to give; nothing can be kept secret then.
#[must_use]
pub fn new() -> String {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).expect("the operating system gives random bytes");
    bytes
        .iter()
        .fold(String::with_capacity(64), |mut text, byte| {
            // Writing to a String cannot fail.
            let _ = write!(text, "{byte:02x}");
            text
        })
}

/// Whether what was sent is the token, in a time that does not tell how much of it was right.
#[must_use]
pub fn same(sent: &str, token: &str) -> bool {
    !token.is_empty() && bool::from(sent.as_bytes().ct_eq(token.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    // OWASP ASVS 5.0, V7.2.3: at least 128 bits of entropy; here 256.
    #[test]
    fn tokens_are_64_hex_digits_and_never_twice_the_same() {
        let tokens: std::collections::HashSet<String> = (0..1000).map(|_| new()).collect();
        assert_eq!(tokens.len(), 1000);
        assert!(
            tokens
                .iter()
                .all(|t| t.len() == 64 && t.bytes().all(|b| b.is_ascii_hexdigit()))
        );
    }

    #[test]
    fn no_token_matches_the_empty_one() {
        assert!(!same("", ""));
        assert!(same("ab", "ab"));
        assert!(!same("ab", "abc"));
    }
}
