//! A · Attendance.
//!
//! - **A1** Two sessions in every week, indefinitely (WHO guidelines on physical activity and
//!   sedentary behaviour, 2020: muscle strengthening on two or more days a week; the count is
//!   common practice). Fewer in each of the last two whole ISO weeks, while a block is running,
//!   is for the coach to look at; so are 14 days without a session, whether a block runs or not.
//!
//! What counts is days with a session: two entries on one day are one visit. Excused days are not
//! missed ones: they do not add to the 14, a week asks for less by the share of it that was excused
//! or lay outside every block, and nothing stands while one lasts. A person is in training from the
//! first session on: an empty log says nothing about anybody, whatever was planned.

use time::{Date, Duration, Weekday};

use super::log::Log;
use super::{Episode, Evidence, Flag, Rule, Severity, Subject};
use crate::training::History;

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut trained = Spans::new(log.sessions().map(|(session, _)| (session.on, session.on)));
    let mut excused = Spans::new(log.history.excused.iter().copied());
    let Some(first) = log.sessions().next().map(|(session, _)| session.on) else {
        return Vec::new();
    };
    let mut running = Spans::new(running(log.history, first));

    let wanted = log.policy.sessions_per_week;
    let mut found = Vec::new();
    let mut standing: Option<Flag> = None;
    let [mut before, mut last, mut this] = [Week::default(); 3];
    let mut last_on = first;
    let mut missed_days = 0;
    let mut day = first;
    while day <= log.as_of {
        if day.weekday() == Weekday::Monday {
            (before, last, this) = (last, this, Week::default());
        }
        let is_excused = excused.holds(day);
        if !is_excused && running.holds(day) {
            this.days += 1;
        }
        if trained.holds(day) {
            this.visits += 1;
            last_on = day;
            missed_days = 0;
        } else if !is_excused {
            missed_days += 1;
        }

        let gap = missed_days >= log.policy.gap_days;
        let short = before.is_short(wanted) && last.is_short(wanted);
        if !is_excused && (gap || short) {
            let evidence = Evidence::Attendance {
                last_on,
                days_since: (day - last_on).whole_days(),
                last_week: last.visits,
                week_before: before.visits,
                wanted: wanted.into(),
            };
            match &mut standing {
                Some(flag) => flag.evidence = evidence,
                None => {
                    standing = Some(Flag {
                        rule: Rule::A1,
                        severity: Severity::Look,
                        subject: Subject::default(),
                        since: day,
                        evidence,
                    });
                }
            }
        } else {
            found.extend(standing.take().map(|flag| Episode {
                flag,
                until: Some(day),
            }));
        }
        match day.next_day() {
            Some(next) => day = next,
            None => break,
        }
    }
    found.extend(standing.map(|flag| Episode { flag, until: None }));
    found
}

/// The days on which two sessions a week are asked for.
fn running(history: &History, first_session: Date) -> Vec<(Date, Date)> {
    match &history.blocks {
        Some(blocks) => blocks
            .iter()
            .map(|block| (block.from, block.until))
            .collect(),
        None => vec![(first_session, Date::MAX)],
    }
}

/// One ISO week.
#[derive(Debug, Clone, Copy, Default)]
struct Week {
    /// Days with a session.
    visits: u16,
    /// Days on which sessions were asked for.
    days: u16,
}

impl Week {
    /// Fewer visits than the share of the week that counts asks for.
    fn is_short(self, wanted: u8) -> bool {
        self.visits < u16::from(wanted) * self.days / 7
    }
}

/// Spans of days, first to last, asked about for one day after the other.
struct Spans {
    spans: Vec<(Date, Date)>,
    at: usize,
}

impl Spans {
    /// Joins spans that touch or overlap; one that ends before it begins holds nothing.
    fn new(spans: impl IntoIterator<Item = (Date, Date)>) -> Self {
        let mut sorted: Vec<_> = spans
            .into_iter()
            .filter(|(from, until)| from <= until)
            .collect();
        sorted.sort_unstable();
        let mut joined: Vec<(Date, Date)> = Vec::with_capacity(sorted.len());
        for (from, until) in sorted {
            match joined.last_mut() {
                Some(last) if from <= last.1.saturating_add(Duration::DAY) => {
                    last.1 = last.1.max(until);
                }
                _ => joined.push((from, until)),
            }
        }
        Self {
            spans: joined,
            at: 0,
        }
    }

    /// Whether a day is in a span; days must be asked for in order.
    fn holds(&mut self, day: Date) -> bool {
        while self
            .spans
            .get(self.at)
            .is_some_and(|(_, until)| *until < day)
        {
            self.at += 1;
        }
        self.spans
            .get(self.at)
            .is_some_and(|(from, _)| *from <= day)
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;
    use crate::id::BlockId;
    use crate::plan::{Scheme, SetLadder};
    use crate::policy::Policy;
    use crate::rules;
    use crate::scenario::{MILL, club, day, history, plus};
    use crate::training::{BlockSpan, Hands};
    use crate::units::Reps;

    /// ISO 8601: 2026-01-05 is a Monday, of 2026-W02.
    const MONDAY: Date = date!(2026 - 01 - 05);

    /// A history with a session on each of these days after that Monday.
    fn trained(days: &[i64]) -> History {
        let set = |on| day(on).sets((MILL, Hands::One, club(1)), 0, &[(5, 5)]);
        history(
            days.iter().map(|days| set(plus(MONDAY, *days))).collect(),
            Vec::new(),
        )
    }

    /// Since and until, in days after that Monday.
    fn flags(history: &History, as_of: i64) -> Vec<(i64, Option<i64>)> {
        let days = |date: Date| (date - MONDAY).whole_days();
        rules::episodes(history, &Policy::default(), plus(MONDAY, as_of))
            .into_iter()
            .filter(|episode| episode.flag.rule == Rule::A1)
            .map(|episode| (days(episode.flag.since), episode.until.map(days)))
            .collect()
    }

    // WHO guidelines on physical activity and sedentary behaviour, 2020: two or more days a week.
    #[test]
    fn two_short_weeks_running_show_on_the_monday_after() {
        // Once each in the second and third week, then twice again.
        let history = trained(&[0, 3, 7, 14, 21, 24, 28, 31]);
        assert_eq!(flags(&history, 20), []);
        assert_eq!(flags(&history, 21), [(21, None)]);
        assert_eq!(flags(&history, 40), [(21, Some(28))]);
        // One short week is no pattern.
        assert_eq!(flags(&trained(&[0, 3, 7, 14, 17]), 20), []);
        // Two entries on one day are one visit.
        assert_eq!(flags(&trained(&[0, 0, 7, 7]), 14), [(14, None)]);
    }

    #[test]
    fn fourteen_days_without_a_session_show_on_the_fourteenth() {
        let history = trained(&[0, 3]);
        assert_eq!(flags(&history, 16), []);
        assert_eq!(flags(&history, 17), [(17, None)]);
        // The session ends the gap; the two weeks before stay short until the week is over.
        assert_eq!(flags(&trained(&[0, 3, 21, 24, 28]), 30), [(17, Some(28))]);
        let evidence = rules::episodes(&history, &Policy::default(), plus(MONDAY, 20))
            .into_iter()
            .find(|episode| episode.flag.rule == Rule::A1)
            .map(|episode| episode.flag.evidence);
        assert_eq!(
            evidence,
            Some(Evidence::Attendance {
                last_on: plus(MONDAY, 3),
                days_since: 17,
                last_week: 0,
                week_before: 2,
                wanted: 2,
            })
        );
    }

    #[test]
    fn excused_days_are_not_missed() {
        let mut history = trained(&[0, 3]);
        history.excused = vec![
            (plus(MONDAY, 7), plus(MONDAY, 20)),
            (plus(MONDAY, 15), plus(MONDAY, 22)),
        ];
        // Days 4 to 6 count, then 23 on: the fourteenth is day 33.
        assert_eq!(flags(&history, 32), []);
        assert_eq!(flags(&history, 33), [(33, None)]);
        // Nothing stands while somebody is excused, and it comes back after.
        let mut history = trained(&[0, 3]);
        history.excused = vec![(plus(MONDAY, 20), plus(MONDAY, 29))];
        assert_eq!(flags(&history, 30), [(17, Some(20)), (30, None)]);
        // Half a week excused asks for one visit, not two.
        let mut history = trained(&[0, 3, 7, 14]);
        history.excused = [10, 17]
            .map(|day| (plus(MONDAY, day), plus(MONDAY, day + 2)))
            .into();
        assert_eq!(flags(&history, 21), []);
    }

    #[test]
    fn short_weeks_count_only_while_a_block_is_running() {
        let span = |from, until| BlockSpan {
            block: BlockId(uuid::Uuid::nil()),
            movement: MILL,
            hands: Hands::One,
            loading: club(1),
            scheme: Scheme::SetLadder(SetLadder {
                reps: Reps::new(5).unwrap(),
                start_sets: 5,
                add_per_week: 1,
                target_sets: 10,
                light_fourth_week: false,
                rest_seconds: 60,
            }),
            from: plus(MONDAY, from),
            until: plus(MONDAY, until),
        };
        let mut history = trained(&[0, 7, 14, 21]);
        history.blocks = Some(vec![span(7, 20)]);
        assert_eq!(flags(&history, 28), [(21, Some(28))]);
        history.blocks = Some(Vec::new());
        assert_eq!(flags(&history, 28), []);
        // A plan that nobody began says nothing yet; what counts begins with the first session.
        let mut history = trained(&[]);
        history.blocks = Some(vec![span(2, 60)]);
        assert_eq!(flags(&history, 400), []);
        let mut history = trained(&[30]);
        history.blocks = Some(vec![span(2, 60)]);
        assert_eq!(flags(&history, 43), []);
        assert_eq!(flags(&history, 44), [(44, None)]);
    }
}
