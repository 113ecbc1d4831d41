//! The path ahead in plain words: for the coach exact, for the athlete kind.

use time::{Date, Weekday};

use super::{
    Aim, Attendance, BlockAhead, Milestone, MissedWeeks, Missing, Open, WayAhead, Weekdays, When,
};
use crate::density::TREND_SESSIONS;
use crate::policy::Policy;
use crate::rules::words::day_words;
use crate::rules::{Names, Rule};
use crate::units::{Seconds, reps_a_set};

impl Aim {
    /// What is to be expected, as a heading. A count is told in reps a minute.
    pub fn words(self, names: &dyn Names) -> String {
        match self {
            Self::Goal {
                rpm: Some(rpm),
                loading,
            } => format!(
                "{rpm:.1} a minute with {}, on both sides",
                names.club(loading)
            ),
            Self::Goal { rpm: None, loading } => format!("A goal with {}", names.club(loading)),
            Self::NextClub(Some(club)) => format!("Next club: {}", names.club(club)),
            Self::NextClub(None) => "Next club".to_owned(),
            Self::Gate => "One-hand work opens, with fingertip sets".to_owned(),
            Self::OneHand => "Free one-hand sets".to_owned(),
            Self::Sets(sets) => format!("{sets} one-hand sets a side"),
        }
    }

    /// The same for the athlete, who counts reps in sets of so many seconds.
    pub fn for_athlete(self, names: &dyn Names, seconds: Option<Seconds>) -> String {
        match (self, seconds) {
            (
                Self::Goal {
                    rpm: Some(rpm),
                    loading,
                },
                Some(seconds),
            ) => format!(
                "{:.1} reps a set with {}, on both sides",
                reps_a_set(rpm, seconds),
                names.club(loading)
            ),
            _ => self.words(names),
        }
    }

    /// The rule that says what has to be done for it.
    pub const fn rule(self) -> Rule {
        match self {
            Self::Goal { .. } => Rule::T4,
            Self::NextClub(_) => Rule::W2,
            Self::Gate => Rule::O1,
            Self::OneHand => Rule::O3,
            Self::Sets(_) => Rule::V2,
        }
    }
}

impl When {
    /// What the coach reads.
    pub fn words(self, names: &dyn Names) -> String {
        match self {
            Self::Now => "now".to_owned(),
            Self::Between {
                early,
                late: Ok(late),
            } => between(early, late),
            Self::Between {
                early,
                late: Err(_),
            } => format!("not before {}", day_words(early)),
            Self::NotAtThisTrend => "not at this trend".to_owned(),
            Self::Unknown(missing) => match missing {
                Missing::Sessions(1) => "cannot be said yet: 1 more session".to_owned(),
                Missing::Sessions(many) => format!("cannot be said yet: {many} more sessions"),
                Missing::Stop => "cannot be said while a stop flag stands".to_owned(),
                Missing::Gap(days) => {
                    format!(
                        "cannot be said after {days} days without a session: the return comes first"
                    )
                }
                Missing::OtherSets => {
                    "cannot be said: the last sets were not the kind that goes with these hands"
                        .to_owned()
                }
                Missing::TooFar(club) => {
                    format!("not with this rack: {} is over the limit", names.club(club))
                }
                Missing::NoClub => "not with this rack: it has no bigger club".to_owned(),
                Missing::NothingAdded => "not with this block: it adds no sets".to_owned(),
                Missing::TooFewDays => {
                    "not on these days: the sessions a week stay too few".to_owned()
                }
            },
        }
    }

    /// What the athlete reads.
    pub fn for_athlete(self) -> String {
        match self {
            Self::Now => "you are there".to_owned(),
            Self::Between {
                early,
                late: Ok(late),
            } if early == late => between(early, late),
            Self::Between {
                early,
                late: Ok(late),
            } => format!("earliest {}, latest {}", day_words(early), day_words(late)),
            Self::Between {
                early,
                late: Err(_),
            } => format!("earliest {}, and it may take its time", day_words(early)),
            Self::NotAtThisTrend => {
                "not as the count goes at present; your coach will look at what to change"
                    .to_owned()
            }
            Self::Unknown(missing) => match missing {
                Missing::Sessions(1) => "one more session will tell".to_owned(),
                Missing::Sessions(many) => format!("{many} more sessions will tell"),
                Missing::Stop => "pain comes first: speak with your coach".to_owned(),
                Missing::Gap(_) => "first come back, gently".to_owned(),
                Missing::OtherSets
                | Missing::TooFar(_)
                | Missing::NoClub
                | Missing::NothingAdded
                | Missing::TooFewDays => "your coach will say".to_owned(),
            },
        }
    }
}

fn between(early: Date, late: Date) -> String {
    if early == late {
        return format!("on {}", day_words(early));
    }
    format!("between {} and {}", day_words(early), day_words(late))
}

impl WayAhead {
    /// What the dates assume, and why one has no late end, in a line; `None` where there is no date.
    pub fn assumption(&self, policy: &Policy) -> Option<String> {
        assumption(policy, self.attendance, &self.milestones)
    }

    /// What the athlete reads beside the dates, before [`Self::assumption`]; `None` where there is none.
    pub fn gist_for_athlete(&self) -> Option<&'static str> {
        self.milestones
            .iter()
            .any(|one| matches!(one.when, When::Between { .. }))
            .then_some("The days are for training as you do now. Weeks off move them.")
    }
}

impl BlockAhead {
    /// What the dates assume, and why one has no late end, in a line; `None` where there is no date.
    pub fn assumption(&self, policy: &Policy) -> Option<String> {
        assumption(policy, self.attendance, &self.milestones)
    }
}

impl Open {
    /// Why there is no late end, as a sentence.
    const fn sentence(self) -> &'static str {
        match self {
            Self::Trend => {
                "Where no last day is given, the count would not get there at its slowest."
            }
            Self::Attendance => {
                "Where no last day is given, fewer than four of the last eight weeks were full."
            }
            Self::Pace => {
                "For one-hand work no last day is given: with weeks missed, the sessions a week stay too few."
            }
        }
    }
}

fn assumption(policy: &Policy, attendance: Attendance, milestones: &[Milestone]) -> Option<String> {
    let lates: Vec<Result<Date, Open>> = milestones
        .iter()
        .filter_map(|one| match one.when {
            When::Between { late, .. } => Some(late),
            When::Now | When::NotAtThisTrend | When::Unknown(_) => None,
        })
        .collect();
    if lates.is_empty() {
        return None;
    }
    let dated = |wanted: fn(&Aim) -> bool| {
        milestones
            .iter()
            .any(|one| wanted(&one.aim) && matches!(one.when, When::Between { .. }))
    };
    let mut parts = vec![format!(
        "training on {}",
        weekday_words(attendance.weekdays)
    )];
    if dated(|aim| matches!(aim, Aim::Goal { .. })) {
        parts.push(format!(
            "the count climbing as in its newest {TREND_SESSIONS} sessions, within a 90 % interval"
        ));
    }
    if dated(|aim| matches!(aim, Aim::Gate)) {
        parts.push("every further club climbing like this one".to_owned());
    }
    if dated(|aim| matches!(aim, Aim::Sets(_))) {
        parts.push(match policy.hold_every_weeks {
            0 => "sets added every week".to_owned(),
            1 => "no sets added, since every week holds".to_owned(),
            weeks => format!("sets added every week, with every {weeks} weeks one that holds"),
        });
    }
    let mut sentences = vec![format!(
        "If nothing hurts and nothing is missed in a set: {}.",
        parts.join(", ")
    )];
    if lates.iter().any(Result::is_ok) {
        sentences.extend(match attendance.missed {
            MissedWeeks::OneInFour => Some("The late end misses one week in four.".to_owned()),
            MissedWeeks::EverySecond => {
                Some("The late end misses every second week, as lately.".to_owned())
            }
            MissedWeeks::Unknown => None,
        });
    }
    for open in [Open::Trend, Open::Attendance, Open::Pace] {
        if lates.contains(&Err(open)) {
            sentences.push(open.sentence().to_owned());
        }
    }
    Some(sentences.join(" "))
}

/// "Monday and Thursday".
fn weekday_words(weekdays: Weekdays) -> String {
    let names: Vec<String> = weekdays
        .iso()
        .map(|number| Weekday::Monday.nth_next(number - 1).to_string())
        .collect();
    match names.as_slice() {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => names.concat(),
    }
}
