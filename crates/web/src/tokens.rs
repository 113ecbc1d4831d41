//! Secret tokens: 256 bits from the operating system's generator, written as 64 hex digits.

use std::fmt::Write as _;

use subtle::ConstantTimeEq;

/// A new token.
///
/// # Panics
/// If the operating system has no randomness to give; nothing can be kept secret then.
#[must_use]
pub fn secret() -> String {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).expect("the operating system gives random bytes");
    hex(&bytes)
}

/// Bytes as hex digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes
        .iter()
        .fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
            // Writing to a String cannot fail.
            let _ = write!(text, "{byte:02x}");
            text
        })
}

/// A password for somebody else to type: 20 letters and digits without look-alikes in four groups,
/// 98 bits.
///
/// # Panics
/// If the operating system has no randomness to give.
#[must_use]
pub fn password() -> String {
    const SIGNS: &[u8; 30] = b"abcdefghjkmnpqrstuvwxyz2345678";
    let mut password = String::with_capacity(23);
    while password.len() < 23 {
        if password.len() % 6 == 5 {
            password.push('-');
            continue;
        }
        let mut byte = [0];
        getrandom::fill(&mut byte).expect("the operating system gives random bytes");
        // 240 is the last multiple of 30 in a byte: above it, some signs would be likelier.
        if byte[0] < 240 {
            password.push(char::from(SIGNS[usize::from(byte[0] % 30)]));
        }
    }
    password
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
        let tokens: std::collections::HashSet<String> = (0..1000).map(|_| secret()).collect();
        assert_eq!(tokens.len(), 1000);
        assert!(
            tokens
                .iter()
                .all(|t| t.len() == 64 && t.bytes().all(|b| b.is_ascii_hexdigit()))
        );
    }

    #[test]
    fn a_password_made_for_somebody_is_one_that_is_taken() {
        for _ in 0..100 {
            let password = password();
            assert_eq!(password.len(), 23);
            assert_eq!(
                password.split('-').map(str::len).collect::<Vec<_>>(),
                [5; 4]
            );
            assert_eq!(crate::passwords::check(&password, &[]), Ok(()));
        }
    }

    #[test]
    fn no_token_matches_the_empty_one() {
        assert!(!same("", ""));
        assert!(same("ab", "ab"));
        assert!(!same("ab", "abc"));
    }
}
