//! The days on which somebody is taken to train from now on.

use std::collections::BTreeSet;

use time::{Date, Duration};

use crate::plan::Weekdays;
use crate::policy::Policy;
use crate::review::Week;
use crate::training::History;

/// How far ahead anything is looked for: five years. Ours, the same as a trend is followed.
const HORIZON_DAYS: i64 = 1826;

/// Whole weeks of the log that tell how somebody comes.
const WEEKS_LOOKED_AT: i64 = 8;

/// A weekday counts as a training day when it was one in this many of those weeks. Ours.
const REGULAR_WEEKS: usize = 4;

/// Weekdays in the order in which they are taken where the log has none. Two days a week with rest
/// between them come first.
const ORDER: [u8; 7] = [1, 4, 2, 5, 3, 6, 7];

/// How often a week goes by without a session at the late end of a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MissedWeeks {
    /// One week in four. Ours, for everybody who comes at least that often, and for whom the log is short.
    OneInFour,
    /// Every second week: in the last eight weeks four or five were full.
    EverySecond,
    /// In the last eight weeks fewer than four were full: no late end can be said.
    Unknown,
}

impl MissedWeeks {
    const fn every(self) -> Option<i64> {
        match self {
            Self::OneInFour => Some(4),
            Self::EverySecond => Some(2),
            Self::Unknown => None,
        }
    }
}

/// How somebody is taken to train from now on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Attendance {
    /// The days of the week; at the early end all of them, every week.
    pub weekdays: Weekdays,
    /// Weeks missed at the late end.
    pub missed: MissedWeeks,
}

impl Attendance {
    /// As in the last eight whole weeks of the log; the weekdays of a plan go before those of the log.
    pub(super) fn of(
        history: &History,
        policy: &Policy,
        planned: Option<Weekdays>,
        today: Date,
    ) -> Self {
        let this_week = Week::of(today).monday();
        let since = this_week.saturating_sub(Duration::weeks(WEEKS_LOOKED_AT));
        let visits: BTreeSet<Date> = history
            .sessions_until(today)
            .iter()
            .map(|session| session.on)
            .filter(|on| *on >= since)
            .collect();
        let began = history.sessions().first().map_or(today, |first| first.on);
        let excused = |monday: Date| {
            let sunday = monday.saturating_add(Duration::days(6));
            let spans = &history.excused;
            spans
                .iter()
                .any(|(from, until)| *from <= sunday && *until >= monday)
        };
        let is_full = |week: &i64| {
            let monday = since.saturating_add(Duration::weeks(*week));
            let days = visits
                .iter()
                .filter(|day| Week::of(**day).monday() == monday);
            excused(monday) || days.count() >= usize::from(policy.sessions_per_week)
        };
        let full = (0..WEEKS_LOOKED_AT).filter(is_full).count();
        let missed = if began > since || full >= 6 {
            MissedWeeks::OneInFour
        } else if full >= 4 {
            MissedWeeks::EverySecond
        } else {
            MissedWeeks::Unknown
        };
        Self {
            weekdays: planned.unwrap_or_else(|| usual_days(&visits, policy)),
            missed,
        }
    }

    /// Training days from a day on, without those of the weeks missed, counted from that day's week.
    fn days(self, from: Date, missed: Option<(i64, i64)>) -> impl Iterator<Item = Date> {
        let monday = Week::of(from).monday();
        (0..HORIZON_DAYS)
            .map_while(move |ahead| from.checked_add(Duration::days(ahead)))
            .filter(move |day| self.weekdays.contains(day.weekday()))
            .filter(move |day| {
                let week = (Week::of(*day).monday() - monday).whole_weeks();
                missed.is_none_or(|(every, first)| week % every != first)
            })
    }

    /// The day that `play` finds when every training day is kept.
    pub(super) fn at_best(self, from: Date, play: &Play<'_>) -> Option<Date> {
        play(&mut self.days(from, None))
    }

    /// The latest day that `play` finds whichever weeks are missed, as far apart as they are.
    pub(super) fn at_worst(self, from: Date, play: &Play<'_>) -> Option<Date> {
        let every = self.missed.every()?;
        latest((0..every).map(|first| play(&mut self.days(from, Some((every, first))))))
    }

    /// [`Self::at_best`] where the start is only known not to come before `from`: the soonest of a week of
    /// starts, since a start a week later ends a week later.
    pub(super) fn at_best_from(self, from: Date, play: &Play<'_>) -> Option<Date> {
        week_from(from)
            .filter_map(|day| self.at_best(day, play))
            .min()
    }

    /// [`Self::at_worst`] where the start is only known not to come after `until`.
    pub(super) fn at_worst_until(self, until: Date, play: &Play<'_>) -> Option<Date> {
        latest(week_from(until).map(|day| self.at_worst(day, play)))
    }
}

/// What is looked for, given the training days: the day on which it has come, if it comes.
pub(super) type Play<'a> = dyn Fn(&mut dyn Iterator<Item = Date>) -> Option<Date> + 'a;

fn week_from(day: Date) -> impl Iterator<Item = Date> {
    (0..7).filter_map(move |later| day.checked_add(Duration::days(later)))
}

/// The last of these days; `None` if one of them never comes.
fn latest(mut days: impl Iterator<Item = Option<Date>>) -> Option<Date> {
    days.try_fold(Date::MIN, |latest, day| Some(latest.max(day?)))
}

/// The weekdays trained on most: the regular ones, and as many as the policy asks for in a week.
fn usual_days(visits: &BTreeSet<Date>, policy: &Policy) -> Weekdays {
    let count = |number: u8| {
        let here = |day: &&Date| day.weekday().number_from_monday() == number;
        visits.iter().filter(here).count()
    };
    let mut order = ORDER;
    order.sort_by_key(|number| std::cmp::Reverse(count(*number)));
    let regular = order
        .iter()
        .filter(|number| count(**number) >= REGULAR_WEEKS)
        .count();
    let wanted = regular.max(policy.sessions_per_week.into()).clamp(1, 7);
    let chosen = order[..wanted].iter().copied();
    Weekdays::from_iso(chosen.map(i64::from)).expect("one to seven distinct weekdays")
}
