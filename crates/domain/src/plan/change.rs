//! What a coach may do to planned sessions that are not yet logged.

use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use super::block::read_note;
use super::{BlockField, BlockProblem, BlockProblems, Prescription, block};
use crate::id::LoadingId;

/// Whether a planned session still counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PlannedState {
    /// To be done.
    Planned,
    /// The coach took this one out.
    Skipped,
    /// Its block was ended before it.
    Ended,
}

impl PlannedState {
    /// The word used in the database and in pages.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Skipped => "skipped",
            Self::Ended => "ended",
        }
    }

    /// Reads [`PlannedState::word`] back.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Planned, Self::Skipped, Self::Ended]
            .into_iter()
            .find(|state| state.word() == word)
    }
}

/// A planned session as one revision has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Its day.
    pub on: Date,
    /// Whether it counts.
    pub state: PlannedState,
    /// What it asks.
    pub prescription: Prescription,
}

/// One thing a coach does to a planned session, or to it and every later one of its block.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// To another day, this many days later; negative is earlier.
    Move {
        /// Days.
        days: i64,
    },
    /// Not to be done.
    Skip,
    /// To be done after all.
    Restore,
    /// Other sets, another club, another note.
    Edit {
        /// Sets on each side to add; negative takes away. A number relative to what is asked, so
        /// that a ladder keeps its shape.
        sets_by: i64,
        /// The club.
        loading: LoadingId,
        /// The club's name today.
        club_name: String,
        /// The note to the athlete; empty for none.
        note: String,
    },
    /// The block ends before it.
    End,
}

impl Change {
    /// The next revision's content.
    ///
    /// # Errors
    /// [`BlockProblems`] where the result would be out of bounds: a day before today or over a
    /// year ahead, sets outside 1 to 40, a note too long.
    pub fn apply(&self, before: &Standing, today: Date) -> Result<Standing, BlockProblems> {
        let mut after = before.clone();
        match self {
            Self::Move { days } => after.on = moved(before.on, *days, today)?,
            Self::Skip => after.state = PlannedState::Skipped,
            Self::Restore => after.state = PlannedState::Planned,
            Self::End => after.state = PlannedState::Ended,
            Self::Edit {
                sets_by,
                loading,
                club_name,
                note,
            } => {
                let sets = i64::from(before.prescription.sets).saturating_add(*sets_by);
                after.prescription =
                    before
                        .prescription
                        .edited(sets, (*loading, club_name), note)?;
            }
        }
        Ok(after)
    }
}

fn moved(from: Date, days: i64, today: Date) -> Result<Date, BlockProblems> {
    let far = block::START_WITHIN.whole_days();
    let refused = |message: &str| {
        BlockProblems(vec![BlockProblem {
            field: BlockField::StartsOn,
            message: message.to_owned(),
        }])
    };
    let to = Some(days)
        .filter(|days| (-2 * far..=2 * far).contains(days))
        .and_then(|days| from.checked_add(Duration::days(days)))
        .filter(|to| *to <= today + block::START_WITHIN)
        .ok_or_else(|| refused("takes a day within a year from today"))?;
    if to < today {
        return Err(refused("cannot be in the past: today or later"));
    }
    Ok(to)
}

impl Prescription {
    /// The same planned session with other sets, another club or another note.
    ///
    /// # Errors
    /// [`BlockProblems`] naming sets or note.
    pub fn edited(
        &self,
        sets: i64,
        (loading, club_name): (LoadingId, &str),
        note: &str,
    ) -> Result<Self, BlockProblems> {
        let mut problems = Vec::new();
        let sets = block::read_sets(sets);
        if let Err(message) = &sets {
            problems.push(BlockProblem {
                field: BlockField::Sets,
                message: message.clone(),
            });
        }
        let note = read_note(note);
        if let Err(message) = &note {
            problems.push(BlockProblem {
                field: BlockField::Note,
                message: message.clone(),
            });
        }
        match (sets, note) {
            (Ok(sets), Ok(note)) => Ok(Self {
                loading,
                club_name: club_name.to_owned(),
                sets,
                note,
                ..self.clone()
            }),
            _ => Err(BlockProblems(problems)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::id::MovementId;
    use crate::plan::Ask;
    use crate::training::Hands;
    use crate::units::Reps;
    use time::macros::date;
    use uuid::Uuid;

    const TODAY: Date = date!(2026 - 11 - 25);
    const LIGHTER: LoadingId = LoadingId(Uuid::max());

    fn standing(sets: u8) -> Standing {
        Standing {
            on: date!(2026 - 11 - 30),
            state: PlannedState::Planned,
            prescription: Prescription {
                movement: MovementId(Uuid::nil()),
                movement_name: "Mill".to_owned(),
                hands: Hands::One,
                loading: LoadingId(Uuid::nil()),
                club_name: "Oak 8".to_owned(),
                sets,
                ask: Ask::Straight {
                    reps: Reps::new(5).unwrap(),
                },
                rest_seconds: 60,
                week: 3,
                note: None,
            },
        }
    }

    fn edit(sets_by: i64, note: &str) -> Change {
        Change::Edit {
            sets_by,
            loading: LIGHTER,
            club_name: "Ash 6".to_owned(),
            note: note.to_owned(),
        }
    }

    fn fields(change: &Change, before: &Standing) -> Vec<BlockField> {
        match change.apply(before, TODAY) {
            Ok(_) => Vec::new(),
            Err(BlockProblems(problems)) => problems.iter().map(|one| one.field).collect(),
        }
    }

    #[test]
    fn an_edit_changes_sets_club_and_note_and_nothing_else() {
        let before = standing(7);
        let after = edit(-2, " Easy today. ").apply(&before, TODAY).unwrap();
        let expected = Prescription {
            sets: 5,
            loading: LIGHTER,
            club_name: "Ash 6".to_owned(),
            note: Some("Easy today.".to_owned()),
            ..before.prescription
        };
        assert_eq!(after.prescription, expected);
        assert_eq!((after.on, after.state), (before.on, before.state));
    }

    #[test]
    fn an_edit_stays_within_the_bounds_of_a_block() {
        use BlockField as F;
        for (sets, by, expected) in [
            (1, 39, vec![]),
            (1, 40, vec![F::Sets]),
            (5, -4, vec![]),
            (5, -5, vec![F::Sets]),
            (5, 252, vec![F::Sets]),
            (5, i64::MAX, vec![F::Sets]),
            (5, i64::MIN, vec![F::Sets]),
        ] {
            assert_eq!(
                fields(&edit(by, ""), &standing(sets)),
                expected,
                "{sets} {by}"
            );
        }
        assert_eq!(
            fields(&edit(40, &"x".repeat(401)), &standing(5)),
            [F::Sets, F::Note]
        );
    }

    #[test]
    fn a_move_stays_between_today_and_a_year_ahead() {
        let on = |days| {
            Change::Move { days }
                .apply(&standing(5), TODAY)
                .map(|after| after.on)
                .ok()
        };
        assert_eq!(on(2), Some(date!(2026 - 12 - 02)));
        assert_eq!(on(0), Some(date!(2026 - 11 - 30)));
        assert_eq!(on(-5), Some(TODAY));
        assert_eq!(on(-6), None);
        assert_eq!(on(361), Some(date!(2027 - 11 - 26)));
        for days in [362, i64::MAX, i64::MIN] {
            assert_eq!(on(days), None, "{days}");
        }
    }

    #[test]
    fn a_session_is_skipped_ended_and_restored_as_it_was() {
        let before = standing(6);
        for (change, state) in [
            (Change::Skip, PlannedState::Skipped),
            (Change::End, PlannedState::Ended),
        ] {
            let after = change.apply(&before, TODAY).unwrap();
            assert_eq!(after.state, state);
            assert_eq!(PlannedState::from_word(state.word()), Some(state));
            assert_eq!(Change::Restore.apply(&after, TODAY).unwrap(), before);
        }
    }
}
