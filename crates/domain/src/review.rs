//! The weekly review: who needs the coach, and in which order.

use serde::{Deserialize, Serialize};
use time::{Date, Duration, Weekday};

use crate::id::LoadingId;
use crate::next_step::{NextStep, Step};
use crate::rules::Severity;

/// An ISO 8601 week, Monday to Sunday.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week {
    monday: Date,
}

/// Why a week was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a week is written as ISO 8601 has it, such as 2026-W48, from 1950 to 2199")]
pub struct WeekError;

impl Week {
    /// The week that a day lies in.
    pub fn of(day: Date) -> Self {
        let into = day.weekday().number_days_from_monday();
        Self {
            monday: day.checked_sub(Duration::days(into.into())).unwrap_or(day),
        }
    }

    /// By ISO year and number.
    ///
    /// # Errors
    /// [`WeekError`] where the year has no such week.
    pub fn new(year: i32, number: u8) -> Result<Self, WeekError> {
        if !(1950..2200).contains(&year) {
            return Err(WeekError);
        }
        Date::from_iso_week_date(year, number, Weekday::Monday)
            .map(|monday| Self { monday })
            .map_err(|_| WeekError)
    }

    /// Its Monday.
    pub const fn monday(self) -> Date {
        self.monday
    }

    /// Its Sunday.
    pub fn sunday(self) -> Date {
        self.monday
            .checked_add(Duration::days(6))
            .unwrap_or(self.monday)
    }

    /// The ISO year.
    pub fn year(self) -> i32 {
        self.monday.to_iso_week_date().0
    }

    /// The number within the ISO year, from 1.
    pub fn number(self) -> u8 {
        self.monday.to_iso_week_date().1
    }

    /// The week before.
    pub fn before(self) -> Self {
        Self {
            monday: self
                .monday
                .checked_sub(Duration::WEEK)
                .unwrap_or(self.monday),
        }
    }

    /// The week after.
    pub fn after(self) -> Self {
        Self {
            monday: self
                .monday
                .checked_add(Duration::WEEK)
                .unwrap_or(self.monday),
        }
    }
}

impl std::fmt::Display for Week {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-W{:02}", self.year(), self.number())
    }
}

impl std::str::FromStr for Week {
    type Err = WeekError;

    fn from_str(text: &str) -> Result<Self, WeekError> {
        let (year, number) = text.split_once("-W").ok_or(WeekError)?;
        let digits = |part: &str, count| {
            part.len() == count && part.bytes().all(|byte| byte.is_ascii_digit())
        };
        if !digits(year, 4) || !digits(number, 2) {
            return Err(WeekError);
        }
        let year = year.parse().map_err(|_| WeekError)?;
        Self::new(year, number.parse().map_err(|_| WeekError)?)
    }
}

/// How much an athlete needs the coach this week, most first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Need {
    /// Planned work waits.
    Stopped,
    /// Something to look at that no coach has seen.
    Look,
    /// A proposal that changes the club, the hands or the way back.
    Step,
    /// Nothing out of the ordinary.
    Steady,
    /// Decided this week already.
    Decided,
}

impl Need {
    /// In a coach's words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stopped => "work waits for you",
            Self::Look => "look",
            Self::Step => "a step is due",
            Self::Steady => "steady",
            Self::Decided => "decided",
        }
    }
}

/// Orders the week: by the worst flag that no coach has dealt with, then by what is proposed. A
/// decision made this week puts the athlete last, except that a stop stays on top until it is dealt
/// with.
pub fn need(
    unseen: impl IntoIterator<Item = Severity>,
    proposals: &[NextStep],
    decided: bool,
) -> Need {
    let worst = unseen.into_iter().max();
    if worst == Some(Severity::Stop) {
        Need::Stopped
    } else if decided {
        Need::Decided
    } else if worst == Some(Severity::Look) {
        Need::Look
    } else if proposals
        .iter()
        .any(|proposal| changes_the_work(proposal.step))
    {
        Need::Step
    } else {
        Need::Steady
    }
}

/// Whether a proposal asks for more than going on with the block that runs.
pub const fn changes_the_work(step: Step) -> bool {
    match step {
        Step::StepUp
        | Step::StepBack
        | Step::FingertipStage
        | Step::OpenOneHand
        | Step::Return { .. }
        | Step::WaitForCoach => true,
        Step::Stay | Step::AddSets { .. } | Step::Hold | Step::LightWeek { .. } => false,
    }
}

/// What a coach decided instead of the proposal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Instead {
    /// What to do.
    pub step: Step,
    /// With which club, where that was said.
    pub loading: Option<LoadingId>,
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;
    use crate::id::MovementId;
    use crate::training::Hands;

    /// ISO 8601 week dates; the days are those of Python's datetime.
    #[test]
    fn weeks_are_those_of_iso_8601() {
        for (day, week) in [
            (date!(2005 - 01 - 01), "2004-W53"),
            (date!(2008 - 12 - 29), "2009-W01"),
            (date!(2010 - 01 - 03), "2009-W53"),
            (date!(2026 - 11 - 25), "2026-W48"),
        ] {
            let found = Week::of(day);
            assert_eq!(found.to_string(), week);
            assert_eq!(week.parse::<Week>(), Ok(found));
            assert!(found.monday() <= day && day <= found.sunday());
            assert_eq!(found.before().after(), found);
        }
        for wrong in [
            "", "2026-48", "2026-W00", "2026-W54", "2025-W53", "26-W01", "2026-W1", "2200-W01",
            "9999-W01",
        ] {
            assert_eq!(wrong.parse::<Week>(), Err(WeekError), "{wrong}");
        }
    }

    fn proposal(step: Step) -> NextStep {
        NextStep {
            movement: MovementId(uuid::Uuid::nil()),
            hands: Hands::Two,
            step,
            loading: None,
            not_before: None,
            reasons: Vec::new(),
            against: Vec::new(),
            would_change: Vec::new(),
        }
    }

    /// Common practice, no source: whoever may be hurt first, then what is odd, then what is earned.
    #[test]
    fn those_who_need_the_coach_come_first() {
        let stay = [proposal(Step::Stay)];
        let step = [proposal(Step::Stay), proposal(Step::StepUp)];
        assert_eq!(
            need([Severity::Note, Severity::Stop], &stay, true),
            Need::Stopped
        );
        assert_eq!(need([Severity::Look], &step, false), Need::Look);
        assert_eq!(need([Severity::Look], &step, true), Need::Decided);
        assert_eq!(need([Severity::Note], &step, false), Need::Step);
        assert_eq!(need([Severity::Note], &stay, false), Need::Steady);
        assert_eq!(need([], &[], false), Need::Steady);
        let order = [
            Need::Stopped,
            Need::Look,
            Need::Step,
            Need::Steady,
            Need::Decided,
        ];
        assert!(order.is_sorted());
    }

    #[test]
    fn each_need_has_its_words() {
        let words = [
            Need::Stopped,
            Need::Look,
            Need::Step,
            Need::Steady,
            Need::Decided,
        ]
        .map(Need::word);
        assert_eq!(
            words,
            [
                "work waits for you",
                "look",
                "a step is due",
                "steady",
                "decided"
            ]
        );
    }

    #[test]
    fn going_on_as_planned_is_no_change() {
        for (step, changes) in [
            (Step::Stay, false),
            (Step::AddSets { sets: 6 }, false),
            (Step::Hold, false),
            (Step::LightWeek { sets: 3 }, false),
            (Step::StepUp, true),
            (Step::StepBack, true),
            (Step::FingertipStage, true),
            (Step::OpenOneHand, true),
            (Step::Return { sets: 3 }, true),
            (Step::WaitForCoach, true),
        ] {
            assert_eq!(changes_the_work(step), changes, "{step:?}");
        }
    }
}
