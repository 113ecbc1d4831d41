//! Which days were trained, week by week.

use leverbook_domain::policy::Policy;
use leverbook_domain::review::Week;
use leverbook_domain::story::{DayKind, Days};
use leverbook_domain::training::History;
use time::{Date, Duration};

use crate::chart::{self, CalendarChart};

/// Weeks shown, this one with them.
const WEEKS: i64 = 12;

/// The days trained.
pub(super) struct Trained {
    pub(super) words: String,
    pub(super) chart: CalendarChart,
}

/// The weeks up to this one, and what is planned after it until a day. `None` before the first session.
pub(super) fn trained(
    history: &History,
    policy: &Policy,
    planned: impl IntoIterator<Item = Date>,
    today: Date,
    last: Date,
) -> Option<Trained> {
    let begun = history.sessions_until(today).first()?.on;
    let this_week = Week::of(today);
    let first = this_week
        .monday()
        .saturating_sub(Duration::weeks(WEEKS - 1))
        .max(Week::of(begun).monday());
    let days = Days::new(history, planned, today);
    let done: Vec<Date> = std::iter::successors(Some(first), |day| day.next_day())
        .take_while(|day| *day <= today)
        .filter(|day| days.kind(*day) == DayKind::Done)
        .collect();
    let wanted = usize::from(policy.sessions_per_week);
    let words = words(&done, first, this_week, wanted);
    let chart = chart::calendar(
        "days",
        "Training days".to_owned(),
        words.clone(),
        (first, last.max(this_week.sunday())),
        today,
        // What was not done is not held against anybody here.
        |day| match days.kind(day) {
            DayKind::Missed => DayKind::Blank,
            kind => kind,
        },
    )?;
    Some(Trained { words, chart })
}

/// A1: how many weeks had as many days as are wanted.
fn words(done: &[Date], first: Date, this_week: Week, wanted: usize) -> String {
    let weeks = (this_week.monday() - first).whole_weeks() + 1;
    let by_week = || done.chunk_by(|one, other| Week::of(*one) == Week::of(*other));
    let here = by_week()
        .last()
        .filter(|week| Week::of(week[0]) == this_week)
        .map_or(0, <[Date]>::len);
    let this = match here {
        0 => String::new(),
        done if done >= wanted => " This week’s are done.".to_owned(),
        done => format!(" {done} of {wanted} done this week."),
    };
    if weeks == 1 {
        return format!("You trained on {} this week.{this}", days_words(here));
    }
    let full = by_week().filter(|week| week.len() >= wanted).count();
    let full = match full {
        0 => String::new(),
        full => format!(
            " In {full} of the weeks you trained {} or more.",
            days_words(wanted)
        ),
    };
    format!(
        "You trained on {} in the last {weeks} weeks, this one with them.{full}{this}",
        days_words(done.len())
    )
}

fn days_words(days: usize) -> String {
    match days {
        1 => "1 day".to_owned(),
        many => format!("{many} days"),
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    // By hand: 23 November 2026 is a Monday, of ISO week 48.
    #[test]
    fn the_weeks_are_told_as_they_were() {
        let this_week = Week::of(date!(2026 - 11 - 25));
        let done = [
            date!(2026 - 11 - 9),
            date!(2026 - 11 - 12),
            date!(2026 - 11 - 22),
            date!(2026 - 11 - 23),
        ];
        for (days, first, said) in [
            (
                done.as_slice(),
                date!(2026 - 11 - 9),
                "You trained on 4 days in the last 3 weeks, this one with them. In 1 of the weeks you \
                 trained 2 days or more. 1 of 2 done this week.",
            ),
            (
                &done[3..],
                date!(2026 - 11 - 23),
                "You trained on 1 day this week. 1 of 2 done this week.",
            ),
            (
                &done[2..3],
                date!(2026 - 9 - 7),
                "You trained on 1 day in the last 12 weeks, this one with them.",
            ),
            (
                &[],
                date!(2026 - 11 - 23),
                "You trained on 0 days this week.",
            ),
        ] {
            assert_eq!(words(days, first, this_week, 2), said);
        }
        assert!(
            words(&done, date!(2026 - 11 - 9), this_week, 1).ends_with("This week’s are done.")
        );
    }
}
