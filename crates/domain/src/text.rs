//! Words that people give to things: names on one line and longer notes, in any script.

use std::fmt::Display;

use serde::{Deserialize, Serialize};

/// Why a text was refused; ready to stand beside a form field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Nothing that anybody would see.
    #[error("is needed")]
    Empty,
    /// Longer than it may be.
    #[error("may have at most {most} characters; this has {characters}")]
    TooLong {
        /// How many it has.
        characters: usize,
        /// How many it may have.
        most: usize,
    },
    /// A control character, or a mark that silently turns text around.
    #[error("has a character in it that cannot be shown; type it again without copying")]
    Unprintable,
}

/// "1 session", "6 sessions", "0 sessions".
#[must_use]
pub fn counted<N: Display + PartialEq + From<u8>>(count: N, thing: &str) -> String {
    let end = if count == N::from(1) { "" } else { "s" };
    format!("{count} {thing}{end}")
}

/// Control characters, and the marks that reorder or hide text: explicit bidirectional controls,
/// zero-width space, byte order mark, line and paragraph separators (Unicode Standard, chapter 23).
/// Right-to-left scripts need none of them, and joiners inside words and emoji stay allowed.
#[must_use]
pub fn is_unprintable(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}' | '\u{feff}' | '\u{2028}' | '\u{2029}')
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Characters that nobody sees, though words and emoji may need them: joiners, direction marks,
/// variation selectors, fillers (Unicode Standard, `Default_Ignorable_Code_Point`).
fn is_invisible(c: char) -> bool {
    matches!(
        c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}'
            | '\u{180b}'..='\u{180f}' | '\u{200c}'..='\u{200f}' | '\u{2060}'..='\u{206f}'
            | '\u{3164}' | '\u{fe00}'..='\u{fe0f}' | '\u{ffa0}' | '\u{e0000}'..='\u{e0fff}'
    )
}

/// With a capital letter, as it begins a line.
#[must_use]
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn checked_length(text: &str, most: usize) -> Result<(), TextError> {
    let characters = text.chars().count();
    if characters > most {
        return Err(TextError::TooLong { characters, most });
    }
    Ok(())
}

/// A name on one line, 1 to `MOST` characters: trimmed, inner white space folded.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Label<const MOST: usize>(String);

/// The name of a club.
pub type ClubName = Label<60>;

/// The name of a club as loaded, by which files and plans know it.
pub type LoadingName = Label<80>;

/// The name of a movement.
pub type MovementName = Label<60>;

/// The name of a class.
pub type ClassName = Label<60>;

/// The name of a gym.
pub type GymName = Label<120>;

/// Why a coach decided something.
pub type Reason = Label<400>;

impl<const MOST: usize> Label<MOST> {
    /// Trims and folds white space; refuses what is empty, long or unprintable.
    ///
    /// # Errors
    /// [`TextError`].
    pub fn new(text: &str) -> Result<Self, TextError> {
        // A tab or a line break between words is white space to fold, not a character to refuse.
        let folded = text.split_whitespace().collect::<Vec<_>>().join(" ");
        checked_length(&folded, MOST)?;
        if folded.chars().any(is_unprintable) {
            return Err(TextError::Unprintable);
        }
        if folded.chars().all(|c| c.is_whitespace() || is_invisible(c)) {
            return Err(TextError::Empty);
        }
        Ok(Self(folded))
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl ClubName {
    /// The name of a fixed club's only loading: the club's own.
    #[must_use]
    pub fn for_loading(&self) -> LoadingName {
        Label(self.0.clone())
    }
}

impl<const MOST: usize> TryFrom<String> for Label<MOST> {
    type Error = TextError;

    fn try_from(text: String) -> Result<Self, TextError> {
        Self::new(&text)
    }
}

impl<const MOST: usize> From<Label<MOST>> for String {
    fn from(label: Label<MOST>) -> Self {
        label.0
    }
}

impl<const MOST: usize> std::fmt::Display for Label<MOST> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// A text of several lines, possibly empty, at most `MOST` characters.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Prose<const MOST: usize>(String);

/// Coaching notes, common faults.
pub type Guidance = Prose<4000>;

impl<const MOST: usize> Prose<MOST> {
    /// Takes text with line breaks and tabs; line endings become `\n`, blank space around the whole
    /// is dropped.
    ///
    /// # Errors
    /// [`TextError`] when it is too long or unprintable.
    pub fn new(text: &str) -> Result<Self, TextError> {
        let text = text.replace("\r\n", "\n").replace('\r', "\n");
        let text = text.trim();
        checked_length(text, MOST)?;
        if text
            .chars()
            .any(|c| is_unprintable(c) && c != '\n' && c != '\t')
        {
            return Err(TextError::Unprintable);
        }
        Ok(Self(text.to_owned()))
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// What a coach or an athlete writes to the other: several lines, 1 to 2,000 characters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteBody(Prose<2000>);

impl NoteBody {
    /// The most characters that one has.
    pub const MOST: usize = 2000;

    /// Takes text as [`Prose`] does, and refuses what nobody would see.
    ///
    /// # Errors
    /// [`TextError`] when it is empty, too long or unprintable.
    pub fn new(text: &str) -> Result<Self, TextError> {
        let body = Prose::new(text)?;
        if body
            .as_str()
            .chars()
            .all(|c| c.is_whitespace() || is_invisible(c))
        {
            return Err(TextError::Empty);
        }
        Ok(Self(body))
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_line_in_any_script() {
        for (typed, kept) in [
            ("  Ash \t pair ", "Ash pair"),
            ("מוט ברזל", "מוט ברזל"),
            ("棍棒 八", "棍棒 八"),
            ("🔥 12", "🔥 12"),
            ("👩\u{200d}🚒", "👩\u{200d}🚒"),
            ("Iron\n12", "Iron 12"),
        ] {
            assert_eq!(ClubName::new(typed).map(String::from), Ok(kept.to_owned()));
        }
    }

    #[test]
    fn what_cannot_be_shown_is_refused() {
        for typed in [
            "a\0b",
            "a\u{7}",
            "abc\u{202e}cba",
            "\u{feff}Ash",
            "a\u{2066}b",
            "\u{200b}",
        ] {
            assert_eq!(
                ClubName::new(typed),
                Err(TextError::Unprintable),
                "{typed:?}"
            );
        }
        for typed in ["", "   ", "\n\t", "\u{200d}", "\u{3164} \u{ad}"] {
            assert_eq!(ClubName::new(typed), Err(TextError::Empty), "{typed:?}");
        }
    }

    #[test]
    fn a_line_begins_with_a_capital_letter() {
        for (text, line) in [("mill", "Mill"), ("ébène", "Ébène"), ("ß", "SS"), ("", "")] {
            assert_eq!(capitalised(text), line);
        }
    }

    #[test]
    fn length_is_counted_in_characters() {
        assert!(ClubName::new(&"ж".repeat(60)).is_ok());
        assert_eq!(
            ClubName::new(&"ж".repeat(61)),
            Err(TextError::TooLong {
                characters: 61,
                most: 60
            })
        );
        assert!(matches!(
            Guidance::new(&"x".repeat(1 << 20)),
            Err(TextError::TooLong { most: 4000, .. })
        ));
    }

    #[test]
    fn prose_keeps_its_lines() {
        let prose = Guidance::new("one\r\ntwo\rthree \n").map(|prose| prose.as_str().to_owned());
        assert_eq!(prose, Ok("one\ntwo\nthree".to_owned()));
        assert_eq!(Guidance::new("a\u{1b}[31m"), Err(TextError::Unprintable));
    }

    #[test]
    fn a_label_is_its_text_again() {
        let name = ClubName::new(" Ash ").unwrap();
        assert_eq!((name.as_str(), name.to_string()), ("Ash", "Ash".to_owned()));
        assert_eq!(name.for_loading().as_str(), "Ash");
        let json = serde_json::to_string(&name).unwrap();
        assert_eq!(json, "\"Ash\"");
        assert_eq!(serde_json::from_str::<ClubName>(&json).unwrap(), name);
        assert!(serde_json::from_str::<ClubName>("\"\"").is_err());
    }

    #[test]
    fn a_note_says_something_in_two_thousand_characters() {
        let words = |text: &str| NoteBody::new(text).map(|body| body.as_str().to_owned());
        assert_eq!(words(" Slow\r\ndown. "), Ok("Slow\ndown.".to_owned()));
        for empty in ["", " \n\t", "\u{200d}\u{2060}"] {
            assert_eq!(words(empty), Err(TextError::Empty), "{empty:?}");
        }
        assert!(words(&"棒".repeat(2000)).is_ok());
        assert!(words(&"棒".repeat(2001)).is_err());
        assert_eq!(words("a\u{202e}b"), Err(TextError::Unprintable));
    }
}
