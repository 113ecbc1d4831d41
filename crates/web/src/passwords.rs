//! Passwords: which are taken, and how they are kept.
//!
//! Kept as Argon2id hashes at the cost that OWASP's Password Storage Cheat Sheet names as the
//! minimum. Which are taken follows NIST SP 800-63B-4: 15 characters or more because it is the only factor,
//! long ones welcome, no rules about kinds of characters, and none that is commonly used or made
//! of what everybody knows about the person. Text is compared in normal form KC, so that the same
//! password typed on another keyboard is the same.

use std::sync::Arc;

use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use tokio::sync::Semaphore;
use unicode_normalization::UnicodeNormalization;

/// Fewest characters.
pub const SHORTEST: usize = 15;
/// Most characters; only so that nobody sends a book.
pub const LONGEST: usize = 1000;

/// Memory of one hash in KiB, passes over it, lanes (OWASP: m = 19 MiB, t = 2, p = 1).
const COST: (u32, u32, u32) = (19_456, 2, 1);

/// Long passwords that are in everybody's list, from memory of published lists of leaked
/// passwords. Compared in lower case, without blanks and punctuation.
const COMMON: &str = include_str!("passwords/common.txt");

/// Hashes and checks passwords, off the threads that serve pages, and no more at once than there
/// are processors: each takes 19 MiB.
#[derive(Clone)]
pub struct Passwords {
    turns: Arc<Semaphore>,
    /// Checked where there is no account, so that this takes as long.
    nobody: Arc<str>,
}

impl Default for Passwords {
    fn default() -> Self {
        Self::new()
    }
}

impl Passwords {
    /// As many turns as processors.
    #[must_use]
    pub fn new() -> Self {
        let turns = std::thread::available_parallelism().map_or(2, usize::from);
        Self {
            turns: Arc::new(Semaphore::new(turns)),
            // Of a random password that nobody knows.
            nobody: "$argon2id$v=19$m=19456,t=2,p=1$AAECAwQFBgcICQoLDA0ODw$gYJZtjEAJqjg26xdLmknq8/bB7MiWPrE9hsYuA+SkIU".into(),
        }
    }

    /// The hash of a new password, as a PHC string with a salt of its own.
    ///
    /// # Panics
    /// If the operating system has no randomness to give or no memory left.
    pub async fn hash(&self, password: &str) -> String {
        let password = normal(password);
        self.in_turn(move || {
            argon2()
                .hash_password(password.as_bytes())
                .expect("there is randomness and memory for a hash")
                .to_string()
        })
        .await
    }

    /// Whether a password is the one of a hash. Without a hash, as long is worked for a no.
    pub async fn verify(&self, password: &str, hash: Option<&str>) -> bool {
        let known = hash.is_some();
        let hash: Arc<str> = hash.map_or_else(|| Arc::clone(&self.nobody), Into::into);
        // Longer than any that was ever taken.
        let password = normal(&password.chars().take(LONGEST + 1).collect::<String>());
        let same = self
            .in_turn(move || {
                argon2()
                    .verify_password(password.as_bytes(), &*hash)
                    .is_ok()
            })
            .await;
        known && same
    }

    async fn in_turn<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> T {
        let turn = Arc::clone(&self.turns)
            .acquire_owned()
            .await
            .expect("the turns are never closed");
        tokio::task::spawn_blocking(move || {
            let result = work();
            drop(turn);
            result
        })
        .await
        .expect("hashing does not panic")
    }
}

fn argon2() -> Argon2<'static> {
    let (memory, passes, lanes) = COST;
    let params = Params::new(memory, passes, lanes, None).expect("the cost is within bounds");
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Unicode normal form KC.
fn normal(password: &str) -> String {
    password.nfkc().collect()
}

/// In lower case without blanks and punctuation, unless that is all there is.
fn bare(text: &str) -> String {
    let (kept, left_out): (String, String) = text
        .nfkc()
        .flat_map(char::to_lowercase)
        .partition(|c| !c.is_whitespace() && !c.is_ascii_punctuation());
    if kept.is_empty() { left_out } else { kept }
}

/// Why a password is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Weak {
    /// Under [`SHORTEST`].
    #[error(
        "needs at least {SHORTEST} characters; this has {0}. Three or four words make a good one"
    )]
    Short(usize),
    /// Over [`LONGEST`].
    #[error("has {0} characters; at most {LONGEST} fit")]
    Long(usize),
    /// Everybody's list has it.
    #[error("is one of the passwords that are tried first: choose another")]
    Common,
    /// One short thing over and over, or keys in a row.
    #[error("is one short piece over and over, or a row of keys: choose another")]
    Pattern,
    /// Their name, address, gym, and little more.
    #[error("is mostly your name, your address or the gym's name: choose another")]
    AboutYou,
}

/// Whether a password is taken. `about` is what everybody knows about its owner: name, address,
/// gym.
///
/// # Errors
/// Why it is [`Weak`].
pub fn check(password: &str, about: &[&str]) -> Result<(), Weak> {
    // NIST SP 800-63B-4: each code point is a character.
    let length = password.chars().count();
    if length < SHORTEST {
        return Err(Weak::Short(length));
    }
    if length > LONGEST {
        return Err(Weak::Long(length));
    }
    let bare = bare(password);
    if COMMON.lines().any(|common| common == bare) {
        return Err(Weak::Common);
    }
    if is_pattern(&bare) {
        return Err(Weak::Pattern);
    }
    if is_about(&bare, about) {
        return Err(Weak::AboutYou);
    }
    Ok(())
}

/// One piece of up to five characters over and over, or keys in a row.
fn is_pattern(bare: &str) -> bool {
    const ROWS: [&str; 5] = [
        "01234567890123456789012345678901234567890",
        "98765432109876543210987654321098765432109876543210",
        "abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz",
        "qwertyuiopasdfghjklzxcvbnmqwertyuiopasdfghjklzxcvbnm",
        "qwertzuiopasdfghjklyxcvbnmqwertzuiopasdfghjklyxcvbnm",
    ];
    let chars: Vec<char> = bare.chars().collect();
    let repeats = (1..=5).any(|n| chars.iter().zip(chars.iter().skip(n)).all(|(a, b)| a == b));
    repeats || ROWS.iter().any(|row| row.contains(bare))
}

/// Whether fewer than eight characters are left when what everybody knows is struck out.
fn is_about(bare_password: &str, about: &[&str]) -> bool {
    let mut words: Vec<String> = about
        .iter()
        .flat_map(|text| text.split(|c: char| !c.is_alphanumeric()))
        .chain(["leverbook", "password", "gym", "club", "swing"])
        .map(bare)
        .filter(|word| word.chars().count() >= 3)
        .collect();
    words.sort_by_key(|word| std::cmp::Reverse(word.len()));
    let mut left = bare_password.to_owned();
    for word in &words {
        left = left.replace(word, "");
    }
    left.len() < bare_password.len() && left.chars().count() < 8
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 9106 § 5.3, the Argon2id test vector.
    #[test]
    fn argon2id_gives_the_tag_of_rfc_9106() {
        let params = argon2::ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .output_len(32)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let secret = [3; 8];
        let argon2 =
            Argon2::new_with_secret(&secret, Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon2
            .hash_password_into(&[1; 32], &[2; 16], &mut tag)
            .unwrap();
        let hex: String = tag.iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(
            hex,
            "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
        );
    }

    // Computed with argon2-cffi 25.1.0 at the same cost: salt 00 01 … 0f.
    const REFERENCE: &str = "$argon2id$v=19$m=19456,t=2,p=1$AAECAwQFBgcICQoLDA0ODw$gYJZtjEAJqjg26xdLmknq8/bB7MiWPrE9hsYuA+SkIU";

    #[tokio::test]
    async fn a_hash_made_elsewhere_at_this_cost_is_verified() {
        let salt: Vec<u8> = (0..16).collect();
        let ours = argon2()
            .hash_password_with_salt(b"correct horse battery staple", &salt)
            .unwrap();
        assert_eq!(ours.to_string(), REFERENCE);
        let passwords = Passwords::new();
        assert!(
            passwords
                .verify("correct horse battery staple", Some(REFERENCE))
                .await
        );
        assert!(
            !passwords
                .verify("correct horse battery stapl", Some(REFERENCE))
                .await
        );
        assert!(!passwords.verify("correct horse battery staple", None).await);
    }

    #[tokio::test]
    async fn hashes_are_salted_and_cost_what_owasp_asks() {
        let passwords = Passwords::new();
        let (one, other) = (
            passwords.hash("granite quarry lantern").await,
            passwords.hash("granite quarry lantern").await,
        );
        assert_ne!(one, other);
        // OWASP Password Storage Cheat Sheet: Argon2id, m = 19456 KiB, t = 2, p = 1.
        assert!(one.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{one}");
        assert!(passwords.verify("granite quarry lantern", Some(&one)).await);
    }

    // Unicode TR 15: é is one code point or two, the same text.
    #[tokio::test]
    async fn the_same_text_typed_otherwise_is_the_same_password() {
        let passwords = Passwords::new();
        let hash = passwords.hash("caf\u{e9} granite lantern").await;
        assert!(
            passwords
                .verify("cafe\u{301} granite lantern", Some(&hash))
                .await
        );
    }

    // NIST SP 800-63B-4: at least 15 characters as the only factor, 64 and more allowed, no rules about kinds of
    // characters, each code point one character, a blocklist.
    #[test]
    fn which_passwords_are_taken() {
        let about = [
            "Ida Marsh",
            "ida.marsh@quarry.example",
            "Quarry Lane Club Hall",
        ];
        let long = "lantern ".repeat(8) + "granite";
        for fine in [
            "granite lantern otter",
            "alllowercaseletters",
            "934871562309481",
            "ÅÄÖåäöéüßçñãõêî",
            "(]&!:^;%\"'+#={~",
            "🦦🪨🏮🌧️🚲🧭🪵🧶🫖🍐🥾🧣🪁🐌🧊",
            &long,
        ] {
            assert_eq!(check(fine, &about), Ok(()), "{fine}");
        }
        assert_eq!(check("", &about), Err(Weak::Short(0)));
        assert_eq!(check("granite otter9", &about), Err(Weak::Short(14)));
        assert_eq!(check("ÅÄÖåäöéüßçñãõê", &about), Err(Weak::Short(14)));
        assert_eq!(check(&"x y".repeat(400), &about), Err(Weak::Long(1200)));
        for common in [
            "correct horse battery staple",
            "passwordpassword",
            "Trust no 1 trust no 1",
        ] {
            assert!(check(common, &about).is_err(), "{common}");
        }
        for pattern in [
            "aaaaaaaaaaaaaaaa",
            "!!!!!!!!!!!!!!!",
            "🦦🦦🦦🦦🦦🦦🦦🦦🦦🦦🦦🦦🦦🦦🦦",
            "123123123123123",
            "abcdefghijklmnopq",
            "qwertyuiopasdfgh",
            "0123456789 012345",
        ] {
            assert_eq!(check(pattern, &about), Err(Weak::Pattern), "{pattern}");
        }
        for about_them in [
            "Ida Marsh 2026!!",
            "quarrylaneclubhall1",
            "ida.marsh@quarry.example",
            "leverbook-password",
        ] {
            assert_eq!(
                check(about_them, &about),
                Err(Weak::AboutYou),
                "{about_them}"
            );
        }
    }
}
