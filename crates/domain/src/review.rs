//! The weekly review: who needs the coach, and in which order.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use time::{Date, Duration, Weekday};

use crate::id::LoadingId;
use crate::next_step::{NextStep, Step};
use crate::progress::WorkKey;
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

/// Whether a week may be accepted together with others, without a look at each: nothing is out of the
/// ordinary, no flag of any weight stands, and what is proposed goes on with the block that runs. Common
/// practice, no source.
pub fn is_plainly_steady(need: Need, flags_stand: bool, proposals: &[NextStep]) -> bool {
    need == Need::Steady
        && !flags_stand
        && !proposals.is_empty()
        && !proposals
            .iter()
            .any(|proposal| changes_the_work(proposal.step))
}

/// One kind of work in one session, summed up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SessionWork {
    /// The training day.
    pub on: Date,
    /// Which work.
    pub key: WorkKey,
    /// Repetitions of both sides.
    pub reps: u32,
    /// Sets on the left.
    pub left_sets: u16,
    /// Sets on the right.
    pub right_sets: u16,
}

/// How much was done in a session, in the figure that its kind of work is followed by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// T2: repetitions a minute of work, both sides.
    Density {
        /// Repetitions a minute.
        rpm: f64,
    },
    /// V2: sets done on both sides.
    Sets {
        /// Sets on each side.
        sets: u16,
    },
}

impl SessionWork {
    /// T2 for work against the clock, else the sets that both sides have.
    pub fn amount(&self) -> Amount {
        match self.key.seconds {
            Some(seconds) => {
                let sets = f64::from(self.left_sets) + f64::from(self.right_sets);
                let minutes = sets * f64::from(seconds.get()) / 60.0;
                Amount::Density {
                    rpm: if minutes > 0.0 {
                        f64::from(self.reps) / minutes
                    } else {
                        0.0
                    },
                }
            }
            None => Amount::Sets {
                sets: self.left_sets.min(self.right_sets),
            },
        }
    }
}

/// One kind of work in a week beside the week before: the last session of each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// Which work.
    pub key: WorkKey,
    /// In the week; `None` where it was not done.
    pub now: Option<Amount>,
    /// In the week before; `None` where it was not done.
    pub before: Option<Amount>,
}

/// What was swung in a week beside the week before. Sessions come oldest first; those of other weeks
/// count for neither.
pub fn against_week_before(work: &[SessionWork], week: Week) -> Vec<Compared> {
    let mut found: BTreeMap<WorkKey, Compared> = BTreeMap::new();
    for session in work {
        let its_week = Week::of(session.on);
        let compared = found.entry(session.key).or_insert(Compared {
            key: session.key,
            now: None,
            before: None,
        });
        if its_week == week {
            compared.now = Some(session.amount());
        } else if its_week == week.before() {
            compared.before = Some(session.amount());
        }
    }
    found
        .into_values()
        .filter(|compared| compared.now.is_some() || compared.before.is_some())
        .collect()
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
    use crate::units::Seconds;

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

    fn session(on: Date, seconds: Option<u16>, reps: u32, sets: (u16, u16)) -> SessionWork {
        SessionWork {
            on,
            key: WorkKey {
                movement: MovementId(uuid::Uuid::nil()),
                hands: if seconds.is_some() {
                    Hands::Two
                } else {
                    Hands::One
                },
                loading: LoadingId(uuid::Uuid::nil()),
                seconds: seconds.map(|seconds| Seconds::new(seconds.into()).expect("an interval")),
            },
            reps,
            left_sets: sets.0,
            right_sets: sets.1,
        }
    }

    /// T2: 60·Σreps/Σseconds. Ten sets of 30 s are five minutes: 120 reps are 24 a minute.
    #[test]
    fn the_last_session_of_each_week_is_compared() {
        let week = Week::of(date!(2026 - 11 - 25));
        let work = [
            session(date!(2026 - 11 - 12), Some(30), 500, (5, 5)),
            session(date!(2026 - 11 - 16), Some(30), 100, (5, 5)),
            session(date!(2026 - 11 - 22), Some(30), 120, (5, 5)),
            session(date!(2026 - 11 - 23), Some(30), 90, (5, 5)),
            session(date!(2026 - 11 - 26), Some(30), 125, (5, 5)),
            session(date!(2026 - 11 - 29), None, 70, (7, 6)),
            session(date!(2026 - 11 - 30), None, 100, (10, 10)),
        ];
        let found = against_week_before(&work, week);
        let amounts: Vec<_> = found.iter().map(|line| (line.before, line.now)).collect();
        assert_eq!(
            amounts,
            [
                (
                    Some(Amount::Density { rpm: 24.0 }),
                    Some(Amount::Density { rpm: 25.0 })
                ),
                (None, Some(Amount::Sets { sets: 6 })),
            ]
        );
        // Three weeks on, nothing was done in that week nor in the one before.
        assert_eq!(against_week_before(&work, week.after().after().after()), []);
        assert_eq!(
            session(date!(2026 - 11 - 25), Some(30), 0, (0, 0)).amount(),
            Amount::Density { rpm: 0.0 }
        );
    }

    /// Common practice, no source: what a coach may wave through is what nobody would look at.
    #[test]
    fn only_what_nobody_would_look_at_is_accepted_unread() {
        let stay = [proposal(Step::Stay)];
        assert!(is_plainly_steady(Need::Steady, false, &stay));
        assert!(!is_plainly_steady(Need::Steady, true, &stay), "a flag");
        assert!(!is_plainly_steady(Need::Steady, false, &[]), "no proposal");
        let step = [proposal(Step::Stay), proposal(Step::StepUp)];
        assert!(!is_plainly_steady(Need::Steady, false, &step), "a step");
        for need in [Need::Stopped, Need::Look, Need::Step, Need::Decided] {
            assert!(!is_plainly_steady(need, false, &stay), "{need:?}");
        }
    }
}
