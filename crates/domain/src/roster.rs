//! Who trains: names, handles and whether somebody is here.

use serde::{Deserialize, Serialize};

use crate::text::{Label, TextError};

/// What somebody is called on pages: any script, trimmed, inner white space folded.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PersonName(Label<120>);

impl PersonName {
    /// Trims and folds white space; refuses what is empty, long or unprintable.
    ///
    /// # Errors
    /// [`TextError`].
    pub fn new(text: &str) -> Result<Self, TextError> {
        Label::new(text).map(Self)
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }

    /// A handle to begin with: the name's letters and digits in lower case, dashes between words.
    #[must_use]
    pub fn suggested_handle(&self) -> String {
        let words = self.as_str().to_lowercase();
        let words: Vec<&str> = words
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .collect();
        let handle: String = words.join("-").chars().take(60).collect();
        let handle = handle.trim_end_matches('-');
        if handle.is_empty() {
            "athlete".to_owned()
        } else {
            handle.to_owned()
        }
    }
}

impl From<PersonName> for String {
    fn from(name: PersonName) -> Self {
        name.0.into()
    }
}

impl std::fmt::Display for PersonName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Why a handle was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a handle is 1 to 60 letters, digits, dots, dashes or underscores, without spaces")]
pub struct HandleError;

/// The short name by which files know an athlete: once in a gym, and it never changes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Handle(String);

impl Handle {
    /// Takes letters and digits of any script, and `.`, `-`, `_`.
    ///
    /// # Errors
    /// [`HandleError`].
    pub fn new(text: &str) -> Result<Self, HandleError> {
        let fits = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_');
        if text.is_empty() || text.chars().count() > 60 || !text.chars().all(fits) {
            return Err(HandleError);
        }
        Ok(Self(text.to_owned()))
    }

    /// The handle.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Handle {
    type Error = HandleError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        Self::new(&text)
    }
}

impl From<Handle> for String {
    fn from(handle: Handle) -> Self {
        handle.0
    }
}

impl std::fmt::Display for Handle {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// Whether somebody is here.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// Trains.
    #[default]
    Active,
    /// Comes back; nothing counts as missed meanwhile.
    Paused,
    /// Has left. The log stays.
    Left,
}

impl Status {
    /// Every status.
    pub const ALL: [Self; 3] = [Self::Active, Self::Paused, Self::Left];

    /// The word used in files, the database and pages.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Active => "active",
            Self::Paused => "paused",
            Self::Left => "left",
        }
    }

    /// Reads [`Status::word`] back.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|status| status.word() == word)
    }
}

/// Why days are excused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ExcusedKind {
    /// A pause that was agreed.
    Pause,
    /// Away from the gym.
    Travel,
    /// Ill or hurt. Health data.
    Illness,
    /// A competition, and the days around it.
    Competition,
    /// Anything else.
    Other,
}

impl ExcusedKind {
    /// Every kind.
    pub const ALL: [Self; 5] = [
        Self::Pause,
        Self::Travel,
        Self::Illness,
        Self::Competition,
        Self::Other,
    ];

    /// The word used in the database and in forms.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pause => "pause",
            Self::Travel => "travel",
            Self::Illness => "illness",
            Self::Competition => "competition",
            Self::Other => "other",
        }
    }

    /// Reads [`ExcusedKind::word`] back.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // From Unicode's own categories: letters and digits of every script are alphanumeric.
    #[test]
    fn names_of_every_script_are_names() {
        for name in [
            "Ada",
            "Łucja Ødegård",
            "محمد",
            "山田 太郎",
            "O'Neill-Šimić",
            "🏋 Bo",
        ] {
            assert_eq!(PersonName::new(name).unwrap().as_str(), name);
        }
        assert_eq!(
            PersonName::new("  Ada \t Quill\n").unwrap().as_str(),
            "Ada Quill"
        );
        for bad in [
            "",
            "  ",
            "a\u{0}b",
            "a\u{7f}",
            "\u{200b}",
            "\u{200d}",
            "Ada \u{202e}lliuQ",
            &"x".repeat(121),
        ] {
            assert!(PersonName::new(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn a_handle_is_suggested_from_any_name() {
        for (name, handle) in [
            ("Ada Quill", "ada-quill"),
            ("O'Neill-Šimić", "o-neill-šimić"),
            ("🏋", "athlete"),
            ("山田 太郎", "山田-太郎"),
        ] {
            let suggested = PersonName::new(name).unwrap().suggested_handle();
            assert_eq!(suggested, handle);
            assert!(Handle::new(&suggested).is_ok());
        }
        let long = PersonName::new(&"ab ".repeat(40))
            .unwrap()
            .suggested_handle();
        assert!(Handle::new(&long).is_ok(), "{long}");
        for bad in ["", "two words", "=1+2", "a,b", "a/b", &"x".repeat(61)] {
            assert_eq!(Handle::new(bad), Err(HandleError), "{bad:?}");
        }
    }

    /// Words that stand in files and in the database.
    #[test]
    fn words_are_read_back() {
        let statuses = Status::ALL.map(Status::word);
        assert_eq!(statuses, ["active", "paused", "left"]);
        let kinds = ExcusedKind::ALL.map(ExcusedKind::word);
        assert_eq!(
            kinds,
            ["pause", "travel", "illness", "competition", "other"]
        );
        for status in Status::ALL {
            assert_eq!(Status::from_word(status.word()), Some(status));
        }
        for kind in ExcusedKind::ALL {
            assert_eq!(ExcusedKind::from_word(kind.word()), Some(kind));
        }
        assert_eq!(Status::from_word("Active"), None);
        assert_eq!(ExcusedKind::from_word(""), None);
    }

    #[test]
    fn names_and_handles_are_texts_again() {
        let name = PersonName::new("Ada Quill").unwrap();
        assert_eq!(
            (name.to_string(), String::from(name)),
            ("Ada Quill".into(), "Ada Quill".into())
        );
        let handle = Handle::new("ada.q-1_x").unwrap();
        assert_eq!(handle.as_str(), "ada.q-1_x");
        assert_eq!(handle.to_string(), "ada.q-1_x");
        let json = serde_json::to_string(&handle).unwrap();
        assert_eq!(json, "\"ada.q-1_x\"");
        assert_eq!(serde_json::from_str::<Handle>(&json).unwrap(), handle);
        assert!(serde_json::from_str::<Handle>("\"a b\"").is_err());
        assert!(Handle::new(&"x".repeat(60)).is_ok());
    }
}
