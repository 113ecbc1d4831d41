//! Care of clubs: when one with fasteners is to be inspected again, and whether a club is out of use.
//!
//! Common practice of the trade, no published source: collars and fasteners are looked at before each session, and
//! taken apart and looked at closely every so often. How often is this project's own number. An inspection in the book
//! takes nothing from the look before each session.

use std::collections::HashMap;

use time::{Date, Duration};

use crate::id::{ClubId, LoadingId};

/// Days from one close inspection to the next where nobody said otherwise. Ours.
pub const USUAL_DAYS: u16 = 30;

/// Days that may lie between two inspections: 1 to this many.
pub const MOST_DAYS: u16 = 365;

/// What an inspection found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// Nothing loose, worn or bent.
    InOrder,
    /// Not fit to swing; it was taken out of use.
    TakenOut,
}

impl Found {
    /// Both.
    pub const ALL: [Self; 2] = [Self::InOrder, Self::TakenOut];

    /// As it is stored and sent.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::InOrder => "in_order",
            Self::TakenOut => "taken_out",
        }
    }

    /// As a person reads it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::InOrder => "In order",
            Self::TakenOut => "Taken out of use",
        }
    }

    /// The finding of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|found| found.word() == word)
    }
}

/// An inspection, as far as the next one follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Inspection {
    /// When.
    pub on: Date,
    /// In how many days to look again.
    pub next_in_days: u16,
}

/// The day by which a loadable club is to be inspected again: after its last inspection, or, where none is in the book,
/// [`USUAL_DAYS`] after it came into the rack.
#[must_use]
pub fn inspect_by(last: Option<Inspection>, in_rack_since: Date) -> Date {
    let (from, days) = last.map_or((in_rack_since, USUAL_DAYS), |last| {
        (last.on, last.next_in_days)
    });
    from.saturating_add(Duration::days(days.into()))
}

/// Why a club is out of use for a while. One that is gone for good is retired instead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Not safe to swing.
    Broken,
    /// Somebody is mending it.
    InRepair,
    /// Elsewhere.
    Lent,
    /// As the note says.
    Other,
}

impl Why {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Broken, Self::InRepair, Self::Lent, Self::Other];

    /// As it is stored and sent.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Broken => "broken",
            Self::InRepair => "in_repair",
            Self::Lent => "lent",
            Self::Other => "other",
        }
    }

    /// As a person reads it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Broken => "broken",
            Self::InRepair => "in repair",
            Self::Lent => "lent",
            Self::Other => "another reason",
        }
    }

    /// The reason of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|why| why.word() == word)
    }
}

/// A club or one of its loadings goes out of use from a day, or comes back from a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UseChange {
    /// Whose.
    pub club: ClubId,
    /// `None` where it is about the whole club.
    pub loading: Option<LoadingId>,
    /// From which day on.
    pub from: Date,
    /// Why it is out; `None` where it is back.
    pub out: Option<Why>,
}

/// Out of use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Out {
    /// Since which day.
    pub since: Date,
    /// Why.
    pub why: Why,
}

/// What is out of use on one day.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OutOfUse {
    standing: HashMap<(ClubId, Option<LoadingId>), Out>,
}

impl OutOfUse {
    /// What the changes, in the order in which they were written, leave out of use on a day: of one club's or loading's
    /// the one with the latest day not after it counts, and of several with that day the one written last.
    #[must_use]
    pub fn on(day: Date, changes: &[UseChange]) -> Self {
        let mut latest: HashMap<(ClubId, Option<LoadingId>), &UseChange> = HashMap::new();
        for change in changes.iter().filter(|change| change.from <= day) {
            let counts = latest
                .entry((change.club, change.loading))
                .or_insert(change);
            if change.from >= counts.from {
                *counts = change;
            }
        }
        let out = |change: &UseChange| {
            change.out.map(|why| Out {
                since: change.from,
                why,
            })
        };
        Self {
            standing: latest
                .into_iter()
                .filter_map(|(what, change)| Some((what, out(change)?)))
                .collect(),
        }
    }

    /// Why this loading cannot be picked up, if so: its whole club is out of use, or the loading is.
    #[must_use]
    pub fn of(&self, club: ClubId, loading: LoadingId) -> Option<Out> {
        self.of_club(club)
            .or_else(|| self.standing.get(&(club, Some(loading))).copied())
    }

    /// Why the whole club is out of use, if so.
    #[must_use]
    pub fn of_club(&self, club: ClubId) -> Option<Out> {
        self.standing.get(&(club, None)).copied()
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;
    use uuid::Uuid;

    use super::*;

    const CLUB: ClubId = ClubId(Uuid::from_u128(1));
    const LOADING: LoadingId = LoadingId(Uuid::from_u128(2));

    fn change(loading: Option<LoadingId>, from: Date, out: Option<Why>) -> UseChange {
        UseChange {
            club: CLUB,
            loading,
            from,
            out,
        }
    }

    // By the calendar: 30 days from 1 November is 1 December; from 15 December 2026, 14 days is 29 December.
    #[test]
    fn the_next_inspection_follows_from_the_last() {
        assert_eq!(
            inspect_by(None, date!(2026 - 11 - 01)),
            date!(2026 - 12 - 01)
        );
        let last = Inspection {
            on: date!(2026 - 12 - 15),
            next_in_days: 14,
        };
        assert_eq!(
            inspect_by(Some(last), date!(2026 - 11 - 01)),
            date!(2026 - 12 - 29)
        );
    }

    #[test]
    fn the_latest_day_counts_and_of_one_day_what_was_written_last() {
        let out = |changes: &[UseChange], day| OutOfUse::on(day, changes).of(CLUB, LOADING);
        let broken = change(None, date!(2026 - 11 - 10), Some(Why::Broken));
        let back = change(None, date!(2026 - 11 - 20), None);
        let changes = [broken.clone(), back];
        assert_eq!(out(&changes, date!(2026 - 11 - 09)), None);
        let since = Out {
            since: date!(2026 - 11 - 10),
            why: Why::Broken,
        };
        assert_eq!(out(&changes, date!(2026 - 11 - 10)), Some(since));
        assert_eq!(out(&changes, date!(2026 - 11 - 19)), Some(since));
        assert_eq!(out(&changes, date!(2026 - 11 - 20)), None);
        // Put right on the same day; and an earlier day written later changes nothing after it.
        let same_day = change(None, date!(2026 - 11 - 10), None);
        assert_eq!(
            out(&[broken, same_day.clone()], date!(2026 - 11 - 10)),
            None
        );
        let late = change(None, date!(2026 - 11 - 05), Some(Why::Lent));
        assert_eq!(out(&[same_day, late], date!(2026 - 11 - 12)), None);
    }

    #[test]
    fn a_loading_is_out_alone_or_with_its_club() {
        let day = date!(2026 - 11 - 25);
        let other = LoadingId(Uuid::from_u128(3));
        let one = OutOfUse::on(day, &[change(Some(LOADING), day, Some(Why::InRepair))]);
        assert!(one.of(CLUB, LOADING).is_some());
        assert_eq!((one.of(CLUB, other), one.of_club(CLUB)), (None, None));
        let back_alone = [
            change(None, day, Some(Why::Lent)),
            change(Some(LOADING), day, None),
        ];
        assert!(OutOfUse::on(day, &back_alone).of(CLUB, LOADING).is_some());
    }

    #[test]
    fn words_are_read_as_they_are_written() {
        for found in Found::ALL {
            assert_eq!(Found::from_word(found.word()), Some(found));
        }
        for why in Why::ALL {
            assert_eq!(Why::from_word(why.word()), Some(why));
        }
        assert_eq!(
            (Found::from_word("fine"), Why::from_word("gone")),
            (None, None)
        );
    }
}
