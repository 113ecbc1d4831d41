//! What the shared pieces of pages in `templates/parts` are given.

/// One option of a select, a group of radio buttons or of checkboxes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What the form sends.
    pub value: String,
    /// What a person reads.
    pub word: String,
}

impl Choice {
    /// An option that sends `value` and reads `word`.
    pub fn new(value: impl Into<String>, word: impl Into<String>) -> Self {
        Self {
            value: value.into(),
            word: word.into(),
        }
    }
}

/// A room of the gym in the navigation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Room {
    /// Where it is.
    pub href: String,
    /// What it is called.
    pub word: &'static str,
    /// Whether the page shown belongs to it.
    pub here: bool,
    /// How much in it waits to be opened.
    pub new: i64,
}
