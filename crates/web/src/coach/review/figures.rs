//! The week as a whole: beside the week before, and what was decided once it is closed.

use std::collections::BTreeMap;

use leverbook_domain::review::{Need, Week};
use leverbook_domain::rules::Severity;
use leverbook_store::review::{AthleteWeek, Verdict};
use time::Date;

use super::need_of;

/// The roster's week beside the week before.
#[derive(Debug)]
pub(super) struct Against {
    /// What is counted, now, the week before.
    pub(super) lines: Vec<(&'static str, usize, usize)>,
    /// How many decisions the week before had.
    pub(super) decided_before: usize,
}

impl Against {
    pub(super) fn of(weeks: &[AthleteWeek], week: Week, today: Date) -> Self {
        let now = week.sunday().min(today);
        let then = week.before().sunday();
        let flagged = |on: Date, severity: Severity| {
            weeks
                .iter()
                .filter(|line| worst_on(line, on) == Some(severity))
                .count()
        };
        let sessions = |of: fn(&AthleteWeek) -> u16| -> usize {
            weeks.iter().map(|line| usize::from(of(line))).sum()
        };
        let came = |of: fn(&AthleteWeek) -> u16| weeks.iter().filter(|line| of(line) > 0).count();
        Self {
            lines: vec![
                (
                    "Sessions",
                    sessions(|w| w.done),
                    sessions(|w| w.done_before),
                ),
                (
                    "Athletes who came",
                    came(|w| w.done),
                    came(|w| w.done_before),
                ),
                (
                    "With a stop flag",
                    flagged(now, Severity::Stop),
                    flagged(then, Severity::Stop),
                ),
                (
                    "With a look flag",
                    flagged(now, Severity::Look),
                    flagged(then, Severity::Look),
                ),
            ],
            decided_before: weeks.iter().filter(|week| week.before.is_some()).count(),
        }
    }
}

/// The gravest flag that stood on a day, dealt with or not.
fn worst_on(line: &AthleteWeek, on: Date) -> Option<Severity> {
    line.flags
        .iter()
        .filter(|flag| flag.flag.since <= on && flag.until.is_none_or(|until| until > on))
        .map(|flag| flag.flag.severity)
        .max()
}

/// What was decided in a week, for the coach who closes it.
#[derive(Debug)]
pub(super) struct Summary {
    pub(super) decided: usize,
    pub(super) athletes: usize,
    pub(super) accepted: usize,
    pub(super) changed: usize,
    pub(super) held: usize,
    pub(super) notes: usize,
    /// Coaches and how many each decided.
    pub(super) by: Vec<(String, usize)>,
    /// Whose work waits for the coach.
    pub(super) stopped: Vec<String>,
    /// Who needed a decision and got none.
    pub(super) undecided: Vec<String>,
    /// How many steady weeks nobody decided about.
    pub(super) steady: usize,
}

impl Summary {
    pub(super) fn of(weeks: &[AthleteWeek], today: Date) -> Self {
        let decisions = || weeks.iter().filter_map(|week| week.decision.as_ref());
        let count =
            |of: fn(&Verdict) -> bool| decisions().filter(|decision| of(&decision.verdict)).count();
        let mut by: BTreeMap<&str, usize> = BTreeMap::new();
        for decision in decisions() {
            *by.entry(&decision.by).or_default() += 1;
        }
        let names = |of: &dyn Fn(Need, &AthleteWeek) -> bool| -> Vec<String> {
            weeks
                .iter()
                .filter(|week| of(need_of(week, today), week))
                .map(|week| week.name.to_string())
                .collect()
        };
        Self {
            decided: decisions().count(),
            athletes: weeks.len(),
            accepted: count(|verdict| matches!(verdict, Verdict::Accept)),
            changed: count(|verdict| matches!(verdict, Verdict::Change(_))),
            held: count(|verdict| matches!(verdict, Verdict::Hold)),
            notes: decisions().filter(|decision| decision.noted).count(),
            by: by
                .into_iter()
                .map(|(name, many)| (name.to_owned(), many))
                .collect(),
            stopped: names(&|need, _| need == Need::Stopped),
            undecided: names(&|need, week| need < Need::Steady && week.decision.is_none()),
            steady: names(&|need, _| need == Need::Steady).len(),
        }
    }
}
