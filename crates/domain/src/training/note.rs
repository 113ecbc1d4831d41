//! What an athlete writes about a session in their own words.

/// A free-text note, at most 2000 characters, possibly empty. Health data: only the athlete and
/// their coach read it, no rule does, and it hides itself from debug output so that no log line
/// can carry it.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct Note(String);

/// Why a note was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoteError {
    /// Longer than a note may be.
    #[error("a note is at most 2000 characters; this one has {characters}")]
    TooLong {
        /// How many it has.
        characters: usize,
    },
    /// Something no screen can show.
    #[error("a note is plain text; this one has control characters in it")]
    Unprintable,
}

impl Note {
    /// Most characters in a note.
    pub const MOST: usize = 2000;

    /// Takes text of any script, with line breaks and tabs. Line endings become `\n`; blank space
    /// around the whole is dropped.
    ///
    /// # Errors
    /// [`NoteError`] when it is too long or has control characters.
    pub fn new(text: &str) -> Result<Self, NoteError> {
        let text = text.replace("\r\n", "\n").replace('\r', "\n");
        let text = text.trim();
        let characters = text.chars().count();
        if characters > Self::MOST {
            return Err(NoteError::TooLong { characters });
        }
        if text
            .chars()
            .any(|c| c.is_control() && c != '\n' && c != '\t')
        {
            return Err(NoteError::Unprintable);
        }
        Ok(Self(text.to_owned()))
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether nothing was written.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl std::fmt::Debug for Note {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Note(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_keeps_what_was_written_in_any_script() {
        for text in [
            "left wrist a bit tight\nsecond set better",
            "הכתף קצת תפוסה 🙂",
            "كتفي اليمنى متعبة",
        ] {
            assert_eq!(Note::new(text).unwrap().as_str(), text);
        }
        assert_eq!(Note::new("  one\r\ntwo \r\n").unwrap().as_str(), "one\ntwo");
    }

    #[test]
    fn what_no_screen_can_show_is_refused() {
        assert_eq!(Note::new("a\0b"), Err(NoteError::Unprintable));
        assert_eq!(Note::new("bell\u{7}"), Err(NoteError::Unprintable));
        assert_eq!(
            Note::new(&"é".repeat(2001)),
            Err(NoteError::TooLong { characters: 2001 })
        );
        assert!(Note::new(&"é".repeat(2000)).is_ok());
    }

    #[test]
    fn debug_output_never_carries_the_text() {
        let shown = format!("{:?}", Note::new("sore elbow").unwrap());
        assert!(!shown.contains("elbow"), "{shown}");
    }
}
