//! O · Opening one-hand work.
//!
//! - **O1** The gate: at least three distinct two-hand clubs finished by T4, at least twelve months of
//!   two-hand work in the log (common practice: 12 to 24), at two sessions a week on average, and no
//!   stop flag standing: until its condition ends, whether a coach closed it or not, because pain that
//!   lasts is no time for new work. Raised with the first fingertip or one-hand session in front of a closed gate;
//!   ends when the gate is open, or that work is left for 28 days. When the coach opens the gate early,
//!   with a reason, the flag ends and a note with the reason stands in its place.
//! - **O2** Return to light: the first fingertip club and the first one-hand club ask no more, by static
//!   moment (by mass where that is unknown), than the lightest of the finished ones. Common practice, no
//!   source. With none finished it is the lightest club worked with two hands, so that whoever opens
//!   too early does not open heavy too (ours). Ends with a session whose clubs keep to it, once the next step is earned, once four sessions
//!   running went well, or when that way of swinging is left for 28 days.
//! - **O3** At least four sessions with fingertip sets come before free one-hand sets. The order is common
//!   practice, the number is ours. Ends once they were done, or one-hand work is left for 28 days.
//!
//! All three are judged a movement at a time. Clubs finished count in that movement where it was ever
//! trained with two hands, which is the safe reading; a movement that was never trained so takes its
//! clubs from all movements. Months and sessions a week count all two-hand work: what hands and
//! shoulders got used to. The average is that of the last twelve months of it.

use std::collections::{BTreeMap, BTreeSet};

use time::{Date, Duration, Month};

use super::log::{Log, left_after};
use super::steps::is_earned_at;
use super::{Episode, Evidence, Flag, Rule, Severity, Subject};
use crate::club::{StepBasis, StepSize, step_size};
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::training::{Bout, Hands, History};

/// O1: how much of the gate there is.
#[derive(Debug, Clone, PartialEq)]
pub struct Gate {
    /// Two-hand clubs finished by T4.
    pub finished: Vec<LoadingId>,
    /// Whole months of two-hand work.
    pub months: u32,
    /// Two-hand sessions a week over the last of those months.
    pub sessions_per_week: f64,
    /// Whether a stop flag stands: its condition holds, whatever a coach decided about it.
    pub stop_flag_open: bool,
    /// The coach's reason, where the coach opened the gate early.
    pub opened_early: Option<String>,
}

impl Gate {
    /// Whether the rule itself opens it, whatever the coach did.
    pub fn is_open(&self, policy: &Policy) -> bool {
        self.finished.len() >= policy.opening_clubs
            && self.months >= policy.opening_months
            && is_often_enough(policy, self.sessions_per_week)
            && !self.stop_flag_open
    }

    /// The figures as evidence.
    pub fn evidence(&self, policy: &Policy) -> Evidence {
        Evidence::Opening {
            clubs_finished: self.finished.len(),
            clubs_needed: policy.opening_clubs,
            months: self.months,
            months_needed: policy.opening_months,
            sessions_per_week: self.sessions_per_week,
            sessions_per_week_needed: policy.opening_sessions_per_week,
            stop_flag_open: self.stop_flag_open,
            opened_early: self.opened_early.clone(),
        }
    }
}

/// O1: the gate in front of one-hand work in a movement, at the end of a day.
pub fn gate(
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    movement: MovementId,
    day: Date,
) -> Gate {
    let log = Log::new(history, policy, day);
    TwoHandWork::of(&log, episodes).gate(&log, movement, day)
}

/// All that the gate looks at, gathered in one pass.
struct TwoHandWork<'a> {
    days: Vec<Date>,
    /// Clubs worked in a movement, by day.
    worked: Vec<(MovementId, LoadingId, Date)>,
    /// Clubs and the day on which each was first finished in a movement.
    finished: Vec<(MovementId, LoadingId, Date)>,
    stops: Vec<&'a Episode>,
}

impl<'a> TwoHandWork<'a> {
    fn of(log: &Log, episodes: &'a [Episode]) -> Self {
        let mut days: Vec<Date> = Vec::new();
        let mut worked = Vec::new();
        for (session, bouts) in log.sessions() {
            for bout in bouts.iter().filter(|bout| bout.hands == Hands::Two) {
                worked.push((bout.movement, bout.loading, session.on));
                if days.last() != Some(&session.on) {
                    days.push(session.on);
                }
            }
        }
        let finished = episodes
            .iter()
            .filter(|episode| episode.flag.rule == Rule::T4)
            .filter_map(|episode| {
                let subject = &episode.flag.subject;
                Some((subject.movement?, subject.loading?, episode.flag.since))
            })
            .collect();
        let stops = episodes
            .iter()
            .filter(|episode| episode.flag.severity == Severity::Stop)
            .collect();
        Self {
            days,
            worked,
            finished,
            stops,
        }
    }

    /// Clubs finished by a day, as far as they count for a movement.
    fn finished_by(&self, movement: MovementId, day: Date) -> Vec<LoadingId> {
        self.counted(&self.finished, movement, day)
    }

    /// Clubs worked with two hands by a day, as far as they count for a movement.
    fn worked_by(&self, movement: MovementId, day: Date) -> Vec<LoadingId> {
        self.counted(&self.worked, movement, day)
    }

    fn counted(
        &self,
        clubs: &[(MovementId, LoadingId, Date)],
        movement: MovementId,
        day: Date,
    ) -> Vec<LoadingId> {
        let own = self
            .worked
            .iter()
            .take_while(|(_, _, on)| *on <= day)
            .any(|(at, _, _)| *at == movement);
        let clubs: BTreeSet<LoadingId> = clubs
            .iter()
            .filter(|(at, _, on)| *on <= day && (!own || *at == movement))
            .map(|(_, club, _)| *club)
            .collect();
        clubs.into_iter().collect()
    }

    /// The days after `begun`, up to `last`, on which the gate can have opened.
    fn days_of_change(&self, policy: &Policy, begun: Date, last: Date) -> BTreeSet<Date> {
        let worked = self.days.iter().copied();
        let finished = self.finished.iter().map(|(_, _, on)| *on);
        let stops_end = self.stops.iter().filter_map(|stop| stop.until);
        let old_enough = self
            .days
            .first()
            .map(|first| months_after(*first, policy.opening_months));
        worked
            .chain(finished)
            .chain(stops_end)
            .chain(old_enough)
            .filter(|day| *day > begun && *day <= last)
            .collect()
    }

    fn gate(&self, log: &Log, movement: MovementId, day: Date) -> Gate {
        let days = &self.days[..self.days.partition_point(|each| *each <= day)];
        let (months, sessions_per_week) = months_and_pace(log.policy, days, day);
        Gate {
            finished: self.finished_by(movement, day),
            months,
            sessions_per_week,
            stop_flag_open: self.stops.iter().any(|stop| stop.stands_on(day)),
            opened_early: opening(log.history, movement, day).map(str::to_owned),
        }
    }

    /// The gate as a day's session found it: pain in that very session did not stand in the way of
    /// beginning it.
    fn gate_before(&self, log: &Log, movement: MovementId, day: Date) -> Gate {
        let stood = |stop: &&Episode| stop.flag.since < day && stop.stands_on(day);
        Gate {
            stop_flag_open: self.stops.iter().any(stood),
            ..self.gate(log, movement, day)
        }
    }
}

/// The coach's reason, where the coach had opened the gate by this day.
fn opening(history: &History, movement: MovementId, day: Date) -> Option<&str> {
    history
        .openings
        .iter()
        .filter(|opening| opening.movement == movement && opening.on <= day)
        .max_by_key(|opening| opening.on)
        .map(|opening| opening.reason.as_str())
}

/// Whole months of work up to a day, and sessions a week over the last `opening_months` of it. Work
/// that has not been left goes on up to the day; the average counts from its first to its last session.
fn months_and_pace(policy: &Policy, days: &[Date], day: Date) -> (u32, f64) {
    let (Some(first), Some(last)) = (days.first(), days.last()) else {
        return (0, 0.0);
    };
    let still = left_after(policy, *last).is_none_or(|left| left > day);
    let months = whole_months(*first, if still { day } else { *last });
    let window = months_before(*last, policy.opening_months);
    let from = days.partition_point(|each| *each < window);
    let recent = &days[from..];
    let span = (*last - recent[0]).max(Duration::WEEK);
    let weeks = span.whole_days() as f64 / 7.0;
    (months, recent.len() as f64 / weeks)
}

/// O1: whether these days of two-hand work make enough months, at enough sessions a week, on a day.
pub(crate) fn is_long_enough(policy: &Policy, days: &[Date], day: Date) -> bool {
    let (months, sessions_per_week) = months_and_pace(policy, days, day);
    months >= policy.opening_months && is_often_enough(policy, sessions_per_week)
}

fn is_often_enough(policy: &Policy, sessions_per_week: f64) -> bool {
    sessions_per_week >= policy.opening_sessions_per_week - 1e-9
}

/// Months as whole numbers, counted from year 0.
fn month_count(date: Date) -> i64 {
    i64::from(date.year()) * 12 + i64::from(u8::from(date.month())) - 1
}

/// Whole months from one day to another: to the same day of a later month, or that month's last day.
fn whole_months(from: Date, to: Date) -> u32 {
    let months = u32::try_from(month_count(to) - month_count(from)).unwrap_or(0);
    if months_after(from, months) > to {
        months.saturating_sub(1)
    } else {
        months
    }
}

fn months_after(date: Date, months: u32) -> Date {
    in_month(date, month_count(date) + i64::from(months)).unwrap_or(Date::MAX)
}

fn months_before(date: Date, months: u32) -> Date {
    in_month(date, month_count(date) - i64::from(months)).unwrap_or(Date::MIN)
}

/// The same day in another month, or that month's last.
fn in_month(date: Date, count: i64) -> Option<Date> {
    let year = i32::try_from(count.div_euclid(12)).ok()?;
    let month = Month::try_from(u8::try_from(count.rem_euclid(12) + 1).ok()?).ok()?;
    Date::from_calendar_date(year, month, date.day().min(month.length(year))).ok()
}

/// O2: from one club up to another by static moment alone, by mass where one is unknown; `None` where
/// nothing is known of one of the two.
fn heavier_by(log: &Log, from: LoadingId, to: LoadingId) -> Option<StepSize> {
    let from = &log.history.club(from)?.mechanics;
    let to = &log.history.club(to)?.mechanics;
    let step = match from.static_moment.zip(to.static_moment) {
        Some((from, to)) => StepSize {
            fraction: to.value().nm() / from.value().nm() - 1.0,
            basis: StepBasis::Moment,
        },
        None => step_size(from, to),
    };
    step.fraction.is_finite().then_some(step)
}

/// The lightest of some clubs.
fn lightest(log: &Log, clubs: &[LoadingId]) -> Option<LoadingId> {
    clubs.iter().copied().reduce(|lightest, club| {
        let lighter = heavier_by(log, lightest, club).is_some_and(|step| step.fraction < 0.0);
        if lighter { club } else { lightest }
    })
}

/// O1 to O3, given the steps earned (T4, V3) and the stop flags.
pub(super) fn episodes(log: &Log, before: &[Episode]) -> Vec<Episode> {
    let work = TwoHandWork::of(log, before);
    let mut sessions: BTreeMap<MovementId, Vec<usize>> = BTreeMap::new();
    for (index, (_, bouts)) in log.sessions().enumerate() {
        for bout in bouts.iter().filter(|bout| bout.hands != Hands::Two) {
            let seen = sessions.entry(bout.movement).or_default();
            if seen.last() != Some(&index) {
                seen.push(index);
            }
        }
    }
    sessions
        .into_iter()
        .flat_map(|(movement, sessions)| {
            let mut found = gate_episodes(log, &work, movement, &sessions);
            found.extend(restarts(log, &work, movement, &sessions, before));
            found.extend(too_few_fingertip_sessions(log, movement, &sessions));
            found
        })
        .collect()
}

/// O1.
fn gate_episodes(
    log: &Log,
    work: &TwoHandWork,
    movement: MovementId,
    sessions: &[usize],
) -> Vec<Episode> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(index) = sessions.get(at) {
        let begun = log.on(*index);
        if work.gate_before(log, movement, begun).is_open(log.policy) {
            break;
        }
        let later = &sessions[at..];
        let gap = later.iter().enumerate().find_map(|(ahead, session)| {
            let left = log.left_on(log.on(*session))?;
            let next = later.get(ahead + 1).map(|next| log.on(*next));
            (next.is_none_or(|next| left <= next)).then_some((ahead, left))
        });
        let left = gap.map(|(_, left)| left);
        let last_day = left.unwrap_or(log.as_of);
        let opens = work
            .days_of_change(log.policy, begun, last_day)
            .into_iter()
            .find(|day| work.gate(log, movement, *day).is_open(log.policy));
        let until = [opens, left].into_iter().flatten().min();
        let first = log
            .bouts(*index)
            .iter()
            .find(|bout| bout.movement == movement && bout.hands != Hands::Two);
        let subject = (
            movement,
            first.map(|bout| bout.hands),
            first.map(|bout| bout.loading),
        );
        found.extend(look_and_note(log, work, subject, begun, until));
        match gap {
            Some((ahead, _)) if opens.is_none() => at += ahead + 1,
            _ => break,
        }
    }
    found
}

/// O1 from one day to another: a look until the coach opened the gate, a note from then on.
fn look_and_note(
    log: &Log,
    work: &TwoHandWork,
    subject: (MovementId, Option<Hands>, Option<LoadingId>),
    begun: Date,
    until: Option<Date>,
) -> Vec<Episode> {
    let opened = log
        .history
        .openings
        .iter()
        .filter(|opening| opening.movement == subject.0 && opening.on <= log.as_of)
        .map(|opening| opening.on.max(begun))
        .min()
        .filter(|opened| until.is_none_or(|until| *opened < until));
    let episode = |severity, since, until: Option<Date>| {
        // What a flag says is what was so on the last day it stood.
        let day = until
            .and_then(Date::previous_day)
            .map_or(log.as_of, |day| day.max(since));
        let mut gate = work.gate(log, subject.0, day);
        if severity == Severity::Look {
            gate.opened_early = None;
        }
        let evidence = gate.evidence(log.policy);
        Episode {
            flag: flag(Rule::O1, severity, subject, since, evidence),
            until,
        }
    };
    match opened {
        Some(opened) if opened == begun => vec![episode(Severity::Note, begun, until)],
        Some(opened) => vec![
            episode(Severity::Look, begun, Some(opened)),
            episode(Severity::Note, opened, until),
        ],
        None => vec![episode(Severity::Look, begun, until)],
    }
}

/// O2.
fn restarts(
    log: &Log,
    work: &TwoHandWork,
    movement: MovementId,
    sessions: &[usize],
    before: &[Episode],
) -> Vec<Episode> {
    [Hands::Fingertip, Hands::One]
        .into_iter()
        .filter_map(|hands| {
            let mut sessions = sessions
                .iter()
                .copied()
                .filter(|session| work_in(log, *session, movement, hands).next().is_some());
            let first = sessions.next()?;
            let since = log.on(first);
            let (lightest, finished) = match lightest(log, &work.finished_by(movement, since)) {
                Some(club) => (club, true),
                None => (lightest(log, &work.worked_by(movement, since))?, false),
            };
            let (club, step) = heaviest_over(log, lightest, first, movement, hands)?;
            let kept_to = restart_ends(log, lightest, (movement, hands), first, sessions);
            let earned = before
                .iter()
                .filter(|episode| is_earned_at(episode, movement, hands, club))
                .map(|episode| episode.flag.since)
                .min();
            let evidence = Evidence::Restart {
                lightest,
                finished,
                step,
            };
            let subject = (movement, Some(hands), Some(club));
            Some(Episode {
                flag: flag(Rule::O2, Rule::O2.severity(), subject, since, evidence),
                until: [kept_to, earned].into_iter().flatten().min(),
            })
        })
        .collect()
}

/// The bouts of one session in a movement and hands.
fn work_in<'a>(
    log: &'a Log,
    session: usize,
    movement: MovementId,
    hands: Hands,
) -> impl Iterator<Item = &'a Bout> {
    log.bouts(session)
        .iter()
        .filter(move |bout| bout.movement == movement && bout.hands == hands)
}

/// The club of a session that is furthest over the lightest finished one, if any is over it.
fn heaviest_over(
    log: &Log,
    lightest: LoadingId,
    session: usize,
    movement: MovementId,
    hands: Hands,
) -> Option<(LoadingId, StepSize)> {
    let least = log.policy.step_percent_min / 100.0;
    work_in(log, session, movement, hands)
        .filter_map(|bout| Some((bout.loading, heavier_by(log, lightest, bout.loading)?)))
        .filter(|(_, step)| step.fraction >= least)
        .max_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction))
}

/// When a heavy restart stops being news, as far as the sessions say.
fn restart_ends(
    log: &Log,
    lightest: LoadingId,
    (movement, hands): (MovementId, Hands),
    first: usize,
    later: impl Iterator<Item = usize>,
) -> Option<Date> {
    let mut last_on = log.on(first);
    let mut went_well = 0;
    for session in std::iter::once(first).chain(later) {
        let on = log.on(session);
        if let Some(left) = log.left_on(last_on).filter(|left| *left <= on) {
            return Some(left);
        }
        last_on = on;
        if heaviest_over(log, lightest, session, movement, hands).is_none() {
            return Some(on);
        }
        let missed = work_in(log, session, movement, hands).any(Bout::missed_reps);
        went_well = if log.easy_enough(log.session(session)) && !missed {
            went_well + 1
        } else {
            0
        };
        if went_well >= log.policy.settled_sessions {
            return Some(on);
        }
    }
    log.left_on(last_on)
}

/// O3.
fn too_few_fingertip_sessions(log: &Log, movement: MovementId, sessions: &[usize]) -> Vec<Episode> {
    struct Open {
        since: Date,
        club: LoadingId,
        last_on: Date,
    }
    let needed = log.policy.fingertip_sessions;
    let mut done = 0;
    let mut open: Option<Open> = None;
    let mut found = Vec::new();
    let mut write = |open: Open, sessions: usize, until: Option<Date>| {
        let evidence = Evidence::Fingertip { sessions, needed };
        let subject = (movement, Some(Hands::One), Some(open.club));
        found.push(Episode {
            flag: flag(Rule::O3, Rule::O3.severity(), subject, open.since, evidence),
            until,
        });
    };
    for session in sessions {
        let on = log.on(*session);
        if let Some(left) = open
            .as_ref()
            .and_then(|open| log.left_on(open.last_on))
            .filter(|left| *left <= on)
            && let Some(open) = open.take()
        {
            write(open, done, Some(left));
        }
        let free = work_in(log, *session, movement, Hands::One).next();
        if let Some(bout) = free
            && done < needed
        {
            open.get_or_insert(Open {
                since: on,
                club: bout.loading,
                last_on: on,
            })
            .last_on = on;
        }
        if work_in(log, *session, movement, Hands::Fingertip)
            .next()
            .is_some()
        {
            done += 1;
            if done >= needed
                && let Some(open) = open.take()
            {
                write(open, done, Some(on));
            }
        }
    }
    if let Some(open) = open {
        let left = log.left_on(open.last_on);
        write(open, done, left);
    }
    found
}

fn flag(
    rule: Rule,
    severity: Severity,
    subject: (MovementId, Option<Hands>, Option<LoadingId>),
    since: Date,
    evidence: Evidence,
) -> Flag {
    Flag {
        rule,
        severity,
        subject: Subject {
            movement: Some(subject.0),
            hands: subject.1,
            loading: subject.2,
            seconds: None,
            place: None,
        },
        since,
        evidence,
    }
}

#[cfg(test)]
mod tests {
    use super::super::scenario::{
        Did, club, day, history, lives, loading, movement, only, opening, session,
    };
    use super::*;
    use crate::training::Session;

    /// Two-hand work twice a week, on days 0, 3, 7, …: 56 weeks, clubs 2, 3 and 4 for a third of the
    /// time each; each is finished early in its time.
    fn a_year_and_a_month() -> Vec<Session> {
        (0..112)
            .map(|number| {
                let count = if number % 38 < 3 { 10 } else { 12 };
                session(slot(number)).against_the_clock(2 + number as u128 / 38, &[count])
            })
            .collect()
    }

    fn slot(number: i64) -> i64 {
        number / 2 * 7 + number % 2 * 3
    }

    /// The first day after [`a_year_and_a_month`].
    const NEXT: i64 = 392;

    fn with(mut sessions: Vec<Session>, more: Vec<Session>) -> History {
        sessions.extend(more);
        history(sessions)
    }

    fn held(on: i64, hands: Hands, club: u128) -> Session {
        session(on).straight(hands, club, &[5; 5])
    }

    const O1: &[&str] = &["O1"];

    // Common practice of the trade, no source: three clubs, a year at two a week.
    #[test]
    fn the_gate_by_table() {
        let fingertip = || vec![held(NEXT, Hands::Fingertip, 2)];
        let year = a_year_and_a_month;
        let only_two_clubs = || {
            let mut sessions = year();
            sessions
                .retain(|session| session.sets[0].loading != loading(4) || session.on < day(300));
            sessions
        };
        let cases: [(&str, Vec<Session>, bool); 5] = [
            ("open", year(), true),
            ("nothing before", Vec::new(), false),
            ("eleven months", year().split_off(18), false),
            (
                "once a week",
                year().into_iter().step_by(2).collect(),
                false,
            ),
            ("only two clubs", only_two_clubs(), false),
        ];
        for (name, sessions, open) in cases {
            let found = lives(&with(sessions, fingertip()), O1, NEXT);
            assert_eq!(found.is_empty(), open, "{name}: {found:?}");
        }
    }

    #[test]
    fn a_stop_flag_keeps_the_gate_shut_until_it_ends() {
        let mut sessions = a_year_and_a_month();
        let last = sessions.pop().unwrap();
        sessions.push(last.pain(6));
        let fingertip = |on| held(on, Hands::Fingertip, 2);
        let more = vec![fingertip(NEXT), fingertip(NEXT + 3), fingertip(NEXT + 7)];
        let history = with(sessions, more);
        assert_eq!(lives(&history, O1, NEXT), ["O1 392-"]);
        let Evidence::Opening { stop_flag_open, .. } = only(&history, Rule::O1, NEXT).flag.evidence
        else {
            panic!("opening evidence");
        };
        assert!(stop_flag_open);
        // Pain has not come back for two sessions: the stop ends, and with it this.
        let stop = only(&history, Rule::L4, NEXT + 7);
        assert_eq!(only(&history, Rule::O1, NEXT + 7).until, stop.until);
        assert!(stop.until.is_some());
    }

    /// The average is that of the last twelve months: a slow first year is forgiven.
    #[test]
    fn the_last_twelve_months_are_averaged() {
        let year = a_year_and_a_month();
        let slow = (1..=52).map(|week| session(-7 * week).against_the_clock(2, &[9]));
        let history = with(
            year,
            slow.chain([held(NEXT, Hands::Fingertip, 2)]).collect(),
        );
        assert_eq!(lives(&history, O1, NEXT), [""; 0]);
    }

    #[test]
    fn the_gate_holds_for_both_ways_to_leave_two_hands() {
        for hands in [Hands::Fingertip, Hands::One] {
            let history = history(vec![held(0, hands, 1)]);
            assert_eq!(lives(&history, O1, 1), ["O1 0-"], "{hands:?}");
            let episode = only(&history, Rule::O1, 1);
            assert_eq!(episode.flag.severity, Severity::Look);
            assert_eq!(episode.flag.subject.hands, Some(hands));
        }
    }

    /// A gate closed for its months only opens when the year is full: here on day 365 + 1 (2026-01-05
    /// to 2027-01-05), by the calendar alone.
    #[test]
    fn the_flag_ends_on_the_day_the_gate_opens() {
        let mut sessions = a_year_and_a_month();
        let mut fingertip = vec![];
        for week in 50..55 {
            fingertip.push(held(week * 7 + 5, Hands::Fingertip, 2));
        }
        sessions.extend(fingertip);
        assert_eq!(lives(&history(sessions), O1, 400), ["O1 355-365"]);
    }

    #[test]
    fn once_open_the_gate_stays_open() {
        let mut more = vec![held(NEXT, Hands::Fingertip, 2)];
        more.push(held(NEXT + 200, Hands::Fingertip, 2));
        assert_eq!(lives(&with(a_year_and_a_month(), more), O1, 600), [""; 0]);
    }

    #[test]
    fn work_given_up_is_judged_again() {
        let history = history(vec![
            held(0, Hands::One, 1),
            held(20, Hands::One, 1),
            held(60, Hands::One, 1),
        ]);
        assert_eq!(lives(&history, O1, 61), ["O1 0-48", "O1 60-"]);
    }

    #[test]
    fn the_coach_may_open_early_and_it_stays_on_record() {
        let mut early = history(vec![held(0, Hands::One, 1), held(7, Hands::One, 1)]);
        early.openings.push(opening(-1));
        let note = only(&early, Rule::O1, 8);
        assert_eq!(note.flag.severity, Severity::Note);
        let Evidence::Opening { opened_early, .. } = note.flag.evidence else {
            panic!("opening evidence");
        };
        assert_eq!(opened_early.as_deref(), Some("came from another hall"));
        // Opened only after the work began: a look until then, a note from then on.
        early.openings[0] = opening(5);
        assert_eq!(lives(&early, O1, 8), ["O1 0-5", "O1 5-"]);
        assert_eq!(lives(&early, O1, 4), ["O1 0-"]);
    }

    #[test]
    fn the_movements_own_clubs_count_where_it_was_trained_two_handed() {
        let other = held(NEXT, Hands::Fingertip, 2).moving(2);
        let untrained = with(a_year_and_a_month(), vec![other.clone()]);
        assert_eq!(lives(&untrained, O1, NEXT), [""; 0]);
        let trained_once = session(1).against_the_clock(2, &[10]).moving(2);
        let history = with(a_year_and_a_month(), vec![trained_once, other]);
        assert_eq!(lives(&history, O1, NEXT), ["O1 392-"]);
        let found = gate(
            &history,
            &Policy::default(),
            &super::super::episodes(&history, &Policy::default(), day(NEXT)),
            movement(1),
            day(NEXT),
        );
        assert_eq!(found.finished, [loading(2), loading(3), loading(4)]);
        assert!(found.is_open(&Policy::default()));
    }

    #[test]
    fn o2_back_to_the_lightest_finished_club() {
        let first = |hands, club| {
            let mut clubs_by_row = lives(
                &with(a_year_and_a_month(), vec![held(NEXT, hands, club)]),
                &["O2", "W5"],
                NEXT,
            );
            clubs_by_row.sort();
            clubs_by_row
        };
        for hands in [Hands::Fingertip, Hands::One] {
            assert_eq!(first(hands, 1), [""; 0], "lighter");
            assert_eq!(first(hands, 2), [""; 0], "the lightest finished");
            assert_eq!(first(hands, 3), ["O2 392-", "W5 392-"], "heavier");
        }
        let back = vec![
            held(NEXT, Hands::Fingertip, 3),
            held(NEXT + 3, Hands::Fingertip, 2),
        ];
        assert_eq!(
            lives(&with(a_year_and_a_month(), back), &["O2"], NEXT + 3),
            ["O2 392-395"]
        );
        let never_worked = with(vec![], vec![held(0, Hands::Fingertip, 5)]);
        assert_eq!(lives(&never_worked, &["O2"], 1), [""; 0]);
        // Nothing finished yet: the lightest club worked with two hands takes its place.
        for (club, flagged) in [(2, &[""; 0][..]), (3, &["O2 3-", "W5 3-"][..])] {
            let begun = vec![session(0).against_the_clock(2, &[10])];
            let history = with(begun, vec![held(3, Hands::One, club)]);
            let mut found = lives(&history, &["O2", "W5"], 3);
            found.sort();
            assert_eq!(found, flagged, "club {club}");
        }
    }

    /// O2 is by static moment: a heavier club that asks less is no heavy restart.
    #[test]
    fn o2_is_by_static_moment() {
        let mut history = with(a_year_and_a_month(), vec![held(NEXT, Hands::Fingertip, 6)]);
        history.clubs.push(club(6, 12.0, 22.0));
        assert_eq!(lives(&history, &["O2"], NEXT), [""; 0]);
    }

    #[test]
    fn o3_four_fingertip_sessions_first() {
        let fingertip = |count: i64| -> Vec<Session> {
            (0..count)
                .map(|number| held(slot(number), Hands::Fingertip, 1))
                .collect()
        };
        for (count, flagged) in [(0, true), (3, true), (4, false), (5, false)] {
            let history = with(fingertip(count), vec![held(20, Hands::One, 1)]);
            let found = lives(&history, &["O3"], 20);
            assert_eq!(found.len(), usize::from(flagged), "{count} before");
        }
        let caught_up = with(
            fingertip(3),
            vec![
                held(14, Hands::One, 1),
                held(17, Hands::Fingertip, 1),
                held(21, Hands::One, 1),
            ],
        );
        assert_eq!(lives(&caught_up, &["O3"], 22), ["O3 14-17"]);
        // Fingertip sets in the same session do not come before it.
        let same = with(
            fingertip(3),
            vec![
                session(20)
                    .straight(Hands::Fingertip, 1, &[5])
                    .straight(Hands::One, 1, &[5; 5]),
            ],
        );
        assert_eq!(lives(&same, &["O3"], 20), ["O3 20-20"]);
        let elsewhere = with(fingertip(4), vec![held(20, Hands::One, 1).moving(2)]);
        assert_eq!(lives(&elsewhere, &["O3"], 20), ["O3 20-"]);
    }

    // The calendar, by hand.
    #[test]
    fn months_are_calendar_months() {
        use time::macros::date;
        let cases = [
            (date!(2025 - 01 - 31), date!(2025 - 02 - 27), 0),
            (date!(2025 - 01 - 31), date!(2025 - 02 - 28), 1),
            (date!(2025 - 01 - 05), date!(2026 - 01 - 04), 11),
            (date!(2025 - 01 - 05), date!(2026 - 01 - 05), 12),
            (date!(2024 - 02 - 29), date!(2025 - 02 - 28), 12),
            (date!(2025 - 01 - 05), date!(2025 - 01 - 05), 0),
        ];
        for (from, to, months) in cases {
            assert_eq!(whole_months(from, to), months, "{from} to {to}");
        }
        assert_eq!(
            months_before(date!(2026 - 03 - 31), 1),
            date!(2026 - 02 - 28)
        );
    }
}
