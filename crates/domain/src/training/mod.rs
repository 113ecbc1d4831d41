//! What was swung: movements, hands, sides, sets, sessions, and an athlete's whole history.

pub mod catalogue;
mod history;
mod next_club;
mod note;
mod session;
mod summary;

pub use history::{AvailableClub, BlockSpan, GateOpening, History, UnsaidPain, since_gap};
pub use next_club::NextClub;
pub use note::{Note, NoteError};
pub use session::{Pain, PainPlace, PainPlaceError, Session, SetDone, Work};
pub use summary::{Bout, SideWork};

use serde::{Deserialize, Serialize};

/// How a club is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hands {
    /// Both hands grip.
    Two,
    /// The working hand grips, the other hand's fingertips guide and carry nothing.
    Fingertip,
    /// One hand alone.
    One,
}

impl Hands {
    /// Every way to hold a club, in the order an athlete meets them.
    pub const ALL: [Self; 3] = [Self::Two, Self::Fingertip, Self::One];

    /// The word used in files and in the database.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Two => "two",
            Self::Fingertip => "fingertip",
            Self::One => "one",
        }
    }

    /// Reads [`Hands::word`] back.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|hands| hands.word() == word)
    }
}

/// The working hand; in two-hand work the hand nearer the weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

impl Side {
    /// Both sides.
    pub const BOTH: [Self; 2] = [Self::Left, Self::Right];

    /// The word used in files and in the database.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// Reads [`Side::word`] back.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::BOTH.into_iter().find(|side| side.word() == word)
    }

    /// The other side.
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Words that stand in files and in the database.
    #[test]
    fn words_are_read_back() {
        assert_eq!(Hands::ALL.map(Hands::word), ["two", "fingertip", "one"]);
        assert_eq!(Side::BOTH.map(Side::word), ["left", "right"]);
        for hands in Hands::ALL {
            assert_eq!(Hands::from_word(hands.word()), Some(hands));
        }
        for side in Side::BOTH {
            assert_eq!(Side::from_word(side.word()), Some(side));
        }
        assert_eq!(
            (Hands::from_word("both"), Side::from_word("Left")),
            (None, None)
        );
        assert_eq!(Side::BOTH.map(Side::other), [Side::Right, Side::Left]);
    }
}
