//! Words of the plan, as pages say them.

use leverbook_domain::plan::{Ask, Prescription, Scheme, Weekdays};
use leverbook_domain::training::Hands;
use leverbook_store::blocks::ChangeError;
use time::Date;

use crate::chart::day_label;
use crate::error::PageError;
use crate::parts::Choice;

const WEEKDAYS: [&str; 7] = [
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
];

pub(super) const fn hands(hands: Hands) -> &'static str {
    match hands {
        Hands::Two => "two hands",
        Hands::Fingertip => "fingertip stage",
        Hands::One => "one hand",
    }
}

/// How the club is held, and the work that goes with it.
pub(super) const fn scheme_of(hands: Hands) -> &'static str {
    match hands {
        Hands::Two => "Two hands: sets against the clock, the count climbs",
        Hands::Fingertip => "Fingertip stage: few reps, nothing is added",
        Hands::One => "One hand: a set ladder, reps stay and sets are added",
    }
}

pub(super) fn scheme(scheme: &Scheme) -> String {
    match scheme {
        Scheme::IntervalSets(work) => {
            let goal = work.goal.map_or_else(
                || "the goal is set from the first sessions (T3)".to_owned(),
                |goal| format!("to {:.1} a minute", goal.rpm()),
            );
            format!(
                "{} sets of {} s a side, {} s rest; {goal}",
                work.sets,
                work.seconds.get(),
                work.rest_seconds
            )
        }
        Scheme::FingertipSets(work) => format!(
            "{} sets of {} a side, {} s rest",
            work.sets,
            work.reps.get(),
            work.rest_seconds
        ),
        Scheme::SetLadder(ladder) => format!(
            "sets of {} a side, from {} sets by {} a week to {}, with weeks that {} (V6); {} s rest",
            ladder.reps.get(),
            ladder.start_sets,
            ladder.add_per_week,
            ladder.target_sets,
            if ladder.light_fourth_week {
                "are light"
            } else {
                "hold"
            },
            ladder.rest_seconds
        ),
    }
}

/// What one session asks on each side, short enough for a cell: "5 × 30 s", "7 × 5".
pub(super) fn short_line(prescription: &Prescription) -> String {
    match prescription.ask {
        Ask::Interval { seconds, .. } => format!("{} × {} s", prescription.sets, seconds.get()),
        Ask::Straight { reps } => format!("{} × {}", prescription.sets, reps.get()),
    }
}

/// "Monday".
pub(super) const fn weekday(day: time::Weekday) -> &'static str {
    WEEKDAYS[day.number_days_from_monday() as usize]
}

/// The days of the week as choices.
pub(super) fn weekdays() -> Vec<Choice> {
    (1..)
        .zip(WEEKDAYS)
        .map(|(number, name): (u8, _)| Choice::new(number.to_string(), name))
        .collect()
}

/// "Mon".
pub(super) fn short_weekday(day: Date) -> String {
    let number = usize::from(day.weekday().number_days_from_monday());
    WEEKDAYS[number].chars().take(3).collect()
}

/// "Monday and Thursday".
pub(super) fn weekday_names(weekdays: Weekdays) -> String {
    let names: Vec<&str> = weekdays
        .iso()
        .map(|number| WEEKDAYS[usize::from(number) - 1])
        .collect();
    match names.as_slice() {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => names.concat(),
    }
}

/// Why a change to the plan was not taken, where there is no field to say it at.
pub(super) fn change_refused(error: ChangeError) -> PageError {
    match error {
        ChangeError::ChangedMeanwhile => PageError::Conflict(
            "Somebody changed this plan while you looked at it. Nothing of yours was saved; open it again and decide anew."
                .to_owned(),
        ),
        ChangeError::Logged(on) => PageError::Conflict(format!(
            "The session of {} is logged already: what was done is not planned any more.",
            day_label(on)
        )),
        ChangeError::Passed(on) => PageError::Conflict(format!(
            "{} has passed: a session cannot go back to it. Move it to a day from today on.",
            day_label(on)
        )),
        ChangeError::Store(error) => error.into(),
    }
}
