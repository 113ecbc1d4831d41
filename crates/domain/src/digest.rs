//! The week that ended, as counts that may leave the house by e-mail: who stands where, what came of
//! the plan, what waits. No name, no flag, no effort, pain or note: those stay in the book.

use time::{Date, PrimitiveDateTime, Time, Weekday};

use crate::review::{Need, Week};

/// From which hour of Monday the week before is told, by the gym's clocks.
pub const FROM: Time = match Time::from_hms(6, 0, 0) {
    Ok(time) => time,
    Err(_) => Time::MIDNIGHT,
};

/// The week to be told of at this moment of a gym's clocks: the one that ended, from Monday 06:00 to the
/// end of Tuesday. After that it is old news.
pub fn week_due(local: PrimitiveDateTime) -> Option<Week> {
    let today: Date = local.date();
    let due = match today.weekday() {
        Weekday::Monday => local.time() >= FROM,
        Weekday::Tuesday => true,
        _ => false,
    };
    due.then(|| Week::of(today).before())
}

/// One athlete's week, as far as it is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// How much they need the coach.
    pub need: Need,
    /// Sessions planned in the week.
    pub planned: u16,
    /// Sessions done in the week, planned or not.
    pub done: u16,
}

/// What a coach is told of a week.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Digest {
    /// Which week.
    pub week: Week,
    /// Athletes on the roster.
    pub athletes: usize,
    /// Those who need the coach: work that waits, or something to look at. Not told apart, since the one
    /// would say that somebody hurts.
    pub need_you: usize,
    /// Those for whom a step is due.
    pub step_due: usize,
    /// Those with nothing out of the ordinary.
    pub steady: usize,
    /// Those about whom the coach decided.
    pub decided: usize,
    /// Sessions done.
    pub done: u32,
    /// Sessions planned.
    pub planned: u32,
    /// Notes that the coach has not opened.
    pub unread: u32,
    /// Whether the coach closed the week.
    pub closed: bool,
}

impl Digest {
    /// Counts a roster's week.
    pub fn of(
        week: Week,
        roster: impl IntoIterator<Item = Counted>,
        unread: u32,
        closed: bool,
    ) -> Self {
        let none = Self {
            week,
            athletes: 0,
            need_you: 0,
            step_due: 0,
            steady: 0,
            decided: 0,
            done: 0,
            planned: 0,
            unread,
            closed,
        };
        roster.into_iter().fold(none, |mut all, one| {
            all.athletes += 1;
            match one.need {
                Need::Stopped | Need::Look => all.need_you += 1,
                Need::Step => all.step_due += 1,
                Need::Steady => all.steady += 1,
                Need::Decided => all.decided += 1,
            }
            all.done += u32::from(one.done);
            all.planned += u32::from(one.planned);
            all
        })
    }

    /// The lines of the mail, without greeting and links.
    pub fn lines(&self) -> Vec<String> {
        let number = self.week.number();
        let mut lines = vec![
            match self.need_you {
                0 => "Nobody needs you urgently.".to_owned(),
                1 => "1 athlete needs you.".to_owned(),
                many => format!("{many} athletes need you."),
            },
            format!(
                "Of {} on your roster: a step is due for {}, steady {}, decided {}.",
                self.athletes, self.step_due, self.steady, self.decided
            ),
            format!("Sessions: {} done, {} planned.", self.done, self.planned),
        ];
        lines.push(match self.unread {
            0 => "No unread notes.".to_owned(),
            1 => "1 unread note.".to_owned(),
            many => format!("{many} unread notes."),
        });
        lines.push(if self.closed {
            format!("You have closed week {number}.")
        } else {
            format!("Week {number} is not closed yet.")
        });
        lines
    }
}

#[cfg(test)]
mod tests {
    use time::macros::{date, datetime};

    use super::*;

    // ISO 8601 week dates; Python 3: datetime.date(2027, 1, 4).isocalendar() is 2027-W01-1, and
    // datetime.date(2026, 12, 28).isocalendar() is 2026-W53-1.
    #[test]
    fn the_week_that_ended_is_due_from_monday_at_six_to_the_end_of_tuesday() {
        let week = |year, number| Week::new(year, number).ok();
        for (local, due) in [
            (datetime!(2026 - 11 - 29 23:59), None),
            (datetime!(2026 - 11 - 30 05:59:59), None),
            (datetime!(2026 - 11 - 30 06:00), week(2026, 48)),
            (datetime!(2026 - 12 - 01 23:59), week(2026, 48)),
            (datetime!(2026 - 12 - 02 00:00), None),
            (datetime!(2027 - 01 - 04 06:00), week(2026, 53)),
            (datetime!(2027 - 01 - 05 06:00), week(2026, 53)),
            (datetime!(2027 - 01 - 11 06:00), week(2027, 1)),
        ] {
            assert_eq!(week_due(local), due, "{local}");
        }
    }

    #[test]
    fn a_week_is_told_in_counts_alone() {
        let one = |need, planned, done| Counted {
            need,
            planned,
            done,
        };
        let digest = Digest::of(
            Week::of(date!(2026 - 11 - 25)),
            [
                one(Need::Stopped, 2, 0),
                one(Need::Look, 2, 2),
                one(Need::Step, 3, 3),
                one(Need::Steady, 0, 1),
                one(Need::Decided, 2, 2),
            ],
            1,
            false,
        );
        assert_eq!(
            digest.lines(),
            [
                "2 athletes need you.",
                "Of 5 on your roster: a step is due for 1, steady 1, decided 1.",
                "Sessions: 8 done, 9 planned.",
                "1 unread note.",
                "Week 48 is not closed yet.",
            ]
        );
    }
}
