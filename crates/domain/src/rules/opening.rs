//! O · Opening one-hand work.
//!
//! - **O1** Gate: at least three distinct two-hand clubs finished by T4, and at least 12 months of two-hand
//!   work in the log, at two sessions a week on average; no open stop flag. A coach may open the gate early,
//!   with a reason; the flag stays in the history. Source: common practice (12 to 24 months).
//! - **O2** Return to light: the first fingertip and one-hand club must not exceed the lightest of the
//!   three finished ones by S. Source: common practice.
//! - **O3** Fingertip sets come before free one-hand sets, at least four sessions. Source: the order is common
//!   practice, the count is ours.
//!
//! All three are judged a movement at a time. Clubs finished count in that movement where it was ever
//! trained with two hands, which is the safe reading; a movement that was never trained so takes its
//! clubs from all movements. Months and sessions a week count all two-hand work: what hands and
//! shoulders got used to. The average is that of the last twelve months of it.
//!
//! O1 is raised with the first fingertip or one-hand session in front of a closed gate. It ends when the gate is
//! open, or that work is left for 28 days; when the coach opens the gate, a note with the reason stands in
//! its place. A stop flag counts until its condition ends, whether a coach closed it or not, because pain that
//! lasts is no time for new work. O2 ends with a session whose clubs keep to it, once the next step is earned,
//! once four sessions running went well, or when that way of swinging is left for 28 days. With no club
//! finished it goes by the lightest worked with two hands, so that whoever opens too early does not open heavy
//! too (ours). O3 ends once the fingertip sessions were done, or one-hand work is left for 28 days.

use std::collections::{BTreeMap, BTreeSet};

use time::{Date, Duration, Month};

use super::life::{Life, about_club, episode};
use super::log::{Log, left_after};
use super::steps::is_earned_at;
use super::{Episode, Evidence, Rule, Severity, Subject};
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
    /// **O1** At least three distinct two-hand clubs finished by T4,
    fn three_clubs_finished(&self, policy: &Policy) -> bool {
        self.finished.len() >= policy.opening_clubs
    }

    /// **O1** and at least 12 months of two-hand work in the log,
    fn a_year_of_two_hand_work(&self, policy: &Policy) -> bool {
        self.months >= policy.opening_months
    }

    /// **O1** at two sessions a week on average (but for rounding);
    pub(crate) fn twice_a_week(&self, policy: &Policy) -> bool {
        self.sessions_per_week >= policy.opening_sessions_per_week - 1e-9
    }

    /// **O1** no open stop flag. Whether the rule itself opens the gate, whatever the coach did.
    pub fn is_open(&self, policy: &Policy) -> bool {
        self.three_clubs_finished(policy)
            && self.a_year_of_two_hand_work(policy)
            && self.twice_a_week(policy)
            && !self.stop_flag_open
    }
}

/// **O2** The first fingertip and one-hand club must not exceed the lightest by S: by how much it does. What
/// is no step (under 2 %) is no more.
fn heavier_than_the_lightest(log: &Log, lightest: LoadingId, club: LoadingId) -> Option<StepSize> {
    let least = log.policy.step_percent_min / 100.0;
    by_static_moment(log, lightest, club).filter(|step| step.leads_up() && step.fraction >= least)
}

/// **O3** Fingertip sets come before free one-hand sets, at least four sessions.
const fn too_few_fingertip_sessions(done: usize, policy: &Policy) -> bool {
    done < policy.fingertip_sessions
}

// How O1 to O3 are walked through a log, a movement at a time.

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
            let mut found = in_front_of_the_gate(log, &work, movement, &sessions);
            found.extend(heavy_restarts(log, &work, movement, &sessions, before));
            found.extend(free_before_fingertip(log, movement, &sessions));
            found
        })
        .collect()
}

impl Gate {
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

/// How an average of sessions a week that is too low would come right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mend {
    /// So many two-hand sessions.
    pub sessions: usize,
    /// Within so many weeks.
    pub weeks: usize,
}

/// **O1** How many two-hand sessions in how many weeks from a day on bring the average to what the gate asks,
/// at one session a week more than that; `None` where that is over seven a week, or takes over a year.
pub fn mended_pace(history: &History, policy: &Policy, day: Date) -> Option<Mend> {
    let a_week = policy.opening_sessions_per_week.ceil() + 1.0;
    if !(1.0..=7.0).contains(&a_week) {
        return None;
    }
    // From 1 to 7, and whole.
    let a_week = a_week as usize;
    let sessions = history.sessions_until(day).iter();
    let two_hands =
        sessions.filter(|session| session.sets.iter().any(|set| set.hands == Hands::Two));
    let mut days: Vec<Date> = two_hands.map(|session| session.on).collect();
    days.dedup();
    for added in 0..52 * a_week {
        let (week, within) = (added / a_week, added % a_week);
        let ahead = i64::try_from(7 * week + 7 * within / a_week + 1).ok()?;
        days.push(day.checked_add(Duration::days(ahead))?);
        let (_, pace) = months_and_pace(policy, &days, *days.last()?);
        if pace >= policy.opening_sessions_per_week - 1e-9 {
            return Some(Mend {
                sessions: added + 1,
                weeks: week + 1,
            });
        }
    }
    None
}

/// **O1** as far as these days of two-hand work go: months and sessions a week are enough on a day.
pub(crate) fn is_long_enough(policy: &Policy, days: &[Date], day: Date) -> bool {
    let (months, sessions_per_week) = months_and_pace(policy, days, day);
    let gate = Gate {
        finished: Vec::new(),
        months,
        sessions_per_week,
        stop_flag_open: false,
        opened_early: None,
    };
    gate.a_year_of_two_hand_work(policy) && gate.twice_a_week(policy)
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

/// O1.
fn in_front_of_the_gate(
    log: &Log,
    work: &TwoHandWork,
    movement: MovementId,
    sessions: &[usize],
) -> Vec<Episode> {
    let mut found = Vec::new();
    // Work that was left is judged again when it is taken up.
    let mut rest = sessions;
    while let Some(first) = rest.first() {
        let begun = log.on(*first);
        if work.gate_before(log, movement, begun).is_open(log.policy) {
            break;
        }
        let (ahead, left) = until_left(log, rest);
        let opens = work
            .days_of_change(log.policy, begun, left.unwrap_or(log.as_of))
            .into_iter()
            .find(|day| work.gate(log, movement, *day).is_open(log.policy));
        let until = [opens, left].into_iter().flatten().min();
        let mut bouts = log.bouts(*first).iter();
        let bout = bouts.find(|bout| bout.movement == movement && bout.hands != Hands::Two);
        let subject = Subject {
            movement: Some(movement),
            hands: bout.map(|bout| bout.hands),
            loading: bout.map(|bout| bout.loading),
            ..Subject::default()
        };
        found.extend(look_and_note(log, work, movement, subject, (begun, until)));
        if opens.is_some() {
            break;
        }
        rest = &rest[ahead..];
    }
    found
}

/// How many of these sessions come before the work is left, and the day on which it counts as left.
fn until_left(log: &Log, sessions: &[usize]) -> (usize, Option<Date>) {
    for (at, session) in sessions.iter().enumerate() {
        let next = sessions.get(at + 1).map(|next| log.on(*next));
        if let Some(left) = log.left_on(log.on(*session))
            && next.is_none_or(|next| left <= next)
        {
            return (at + 1, Some(left));
        }
    }
    (sessions.len(), None)
}

/// O1 from one day to another: a look until the coach opened the gate, a note from then on.
fn look_and_note(
    log: &Log,
    work: &TwoHandWork,
    movement: MovementId,
    subject: Subject,
    (begun, until): (Date, Option<Date>),
) -> Vec<Episode> {
    let opened = log
        .history
        .openings
        .iter()
        .filter(|opening| opening.movement == movement && opening.on <= log.as_of)
        .map(|opening| opening.on.max(begun))
        .min()
        .filter(|opened| until.is_none_or(|until| *opened < until));
    let flag = |severity, since, until: Option<Date>| {
        // What a flag says is what was so on the last day it stood.
        let day = until
            .and_then(Date::previous_day)
            .map_or(log.as_of, |day| day.max(since));
        let mut gate = work.gate(log, movement, day);
        if severity == Severity::Look {
            gate.opened_early = None;
        }
        let evidence = gate.evidence(log.policy);
        let mut found = episode(Rule::O1, subject.clone(), (since, until), evidence);
        found.flag.severity = severity;
        found
    };
    match opened {
        Some(opened) if opened == begun => vec![flag(Severity::Note, begun, until)],
        Some(opened) => vec![
            flag(Severity::Look, begun, Some(opened)),
            flag(Severity::Note, opened, until),
        ],
        None => vec![flag(Severity::Look, begun, until)],
    }
}

/// O2, fingertips and one hand each on its own.
fn heavy_restarts(
    log: &Log,
    work: &TwoHandWork,
    movement: MovementId,
    sessions: &[usize],
    before: &[Episode],
) -> Vec<Episode> {
    let restart = |hands| {
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
        let until = [kept_to, earned].into_iter().flatten().min();
        Some(episode(
            Rule::O2,
            about_club(movement, hands, club),
            (since, until),
            Evidence::Restart {
                lightest,
                finished,
                step,
            },
        ))
    };
    [Hands::Fingertip, Hands::One]
        .into_iter()
        .filter_map(restart)
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

/// From one club up to another by static moment alone, by mass where one is unknown; `None` where nothing
/// is known of one of the two.
fn by_static_moment(log: &Log, from: LoadingId, to: LoadingId) -> Option<StepSize> {
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
        let lighter = by_static_moment(log, lightest, club).is_some_and(|step| step.fraction < 0.0);
        if lighter { club } else { lightest }
    })
}

/// The club of a session that is furthest over the lightest, if any is over it.
fn heaviest_over(
    log: &Log,
    lightest: LoadingId,
    session: usize,
    movement: MovementId,
    hands: Hands,
) -> Option<(LoadingId, StepSize)> {
    work_in(log, session, movement, hands)
        .filter_map(|bout| {
            let step = heavier_than_the_lightest(log, lightest, bout.loading)?;
            Some((bout.loading, step))
        })
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
fn free_before_fingertip(log: &Log, movement: MovementId, sessions: &[usize]) -> Vec<Episode> {
    let mut done = 0;
    let mut flag = Life::new(Rule::O3, Subject::default());
    let figures = |sessions| Evidence::Fingertip {
        sessions,
        needed: log.policy.fingertip_sessions,
    };
    // The day on which free one-hand work counts as left.
    let mut left: Option<Date> = None;
    for session in sessions {
        let on = log.on(*session);
        if let Some(left) = left.filter(|left| *left <= on) {
            flag.end(left);
        }
        let free = work_in(log, *session, movement, Hands::One).next();
        if let Some(bout) = free
            && too_few_fingertip_sessions(done, log.policy)
        {
            left = log.left_on(on);
            flag.turn_to(about_club(movement, Hands::One, bout.loading));
            flag.raise(on, figures(done));
        }
        if work_in(log, *session, movement, Hands::Fingertip)
            .next()
            .is_some()
        {
            done += 1;
            if flag.since().is_some() {
                flag.raise(on, figures(done));
            }
            if !too_few_fingertip_sessions(done, log.policy) {
                flag.end(on);
            }
        }
    }
    if let Some(left) = left {
        flag.end(left);
    }
    flag.episodes()
}

#[cfg(test)]
mod examples {
    use time::macros::date as day_of;

    use super::*;
    use crate::scenario::{
        Day, MILL, PULLOVER, by_mass_only, club, date, examples, examples_by_day, history,
        of_moment, only, opening, rack, session, twice_a_week,
    };

    /// Two-hand work twice a week, on days 0, 3, 7, …: 56 weeks, each club for a third of the time; each is
    /// finished early in its time.
    fn a_year_and_a_month_with(clubs: [u128; 3]) -> Vec<Day> {
        (0..112)
            .map(|number| {
                let count = if number % 38 < 3 { 10 } else { 12 };
                let club = clubs[number as usize / 38];
                session(twice_a_week(number)).against_the_clock(club, &[count])
            })
            .collect()
    }

    fn a_year_and_a_month() -> Vec<Day> {
        a_year_and_a_month_with([2, 3, 4])
    }

    /// The first day after [`a_year_and_a_month`].
    const NEXT: i64 = 392;

    fn after_a_year(more: Vec<Day>) -> Vec<Day> {
        [a_year_and_a_month(), more].concat()
    }

    fn held(on: i64, hands: Hands, club: u128) -> Day {
        session(on).straight(hands, club, &[5; 5])
    }

    fn fingertip(on: i64) -> Day {
        held(on, Hands::Fingertip, 2)
    }

    fn free(on: i64) -> Day {
        held(on, Hands::One, 1)
    }

    // Common practice of the trade, no source: three clubs, a year, two a week.
    #[test]
    fn o1_gate() {
        let gate = |clubs: u128, months, sessions_per_week, stop_flag_open| Gate {
            finished: (0..clubs).map(club).collect(),
            months,
            sessions_per_week,
            stop_flag_open,
            opened_early: None,
        };
        for (words, gate, expected) in [
            ("all of it", gate(3, 12, 2.0, false), true),
            ("more than all of it", gate(4, 30, 3.5, false), true),
            ("two clubs", gate(2, 12, 2.0, false), false),
            ("eleven months", gate(3, 11, 2.0, false), false),
            ("1.9 sessions a week", gate(3, 12, 1.9, false), false),
            ("a stop flag stands", gate(3, 12, 2.0, true), false),
        ] {
            assert_eq!(gate.is_open(&Policy::default()), expected, "{words}");
        }
        let early = Gate {
            opened_early: Some("a reason".to_owned()),
            ..gate(0, 0, 0.0, false)
        };
        assert!(
            !early.is_open(&Policy::default()),
            "the coach's word is not the rule's"
        );
    }

    // As above; the logs in full.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o1_in_front_of_the_gate() {
        let year = a_year_and_a_month;
        let but = |mut days: Vec<Day>, change: fn(&Day) -> bool| {
            days.retain(change);
            days.push(fingertip(NEXT));
            days
        };
        let once_a_week = |day: &Day| (day.0.on - date(0)).whole_days() % 7 == 0;
        let a_slow_year_before: Vec<Day> = (1..=52)
            .map(|week| session(-7 * week).against_the_clock(2, &[9]))
            .collect();
        let hurt_on = |at: usize| {
            let mut days = year();
            days[at] = days[at].clone().pain(6, "");
            days
        };
        let mut over_it = hurt_on(100);
        for day in &mut over_it[101..] {
            *day = day.clone().pain(0, "");
        }
        examples(
            &["O1"],
            [
                ("a year and a month", but(year(), |_| true), "nothing"),
                ("one hand, nothing before", vec![held(0, Hands::One, 1)], "O1 from day 0"),
                ("fingertips, nothing before", vec![fingertip(0)], "O1 from day 0"),
                ("two hands are no one-hand work", vec![session(0).against_the_clock(1, &[9])], "nothing"),
                ("two months less", but(year().split_off(18), |_| true), "O1 from day 392"),
                ("two clubs", but(a_year_and_a_month_with([2, 3, 2]), |_| true), "O1 from day 392"),
                ("once a week", but(year(), once_a_week), "O1 from day 392"),
                (
                    "once a week in the year before that: forgiven",
                    [a_slow_year_before, but(year(), |_| true)].concat(),
                    "nothing",
                ),
                (
                    "pain of 6 in the last session before",
                    [hurt_on(111), vec![fingertip(NEXT)]].concat(),
                    "O1 from day 392",
                ),
                (
                    "left in its first month, open since, and shut again by pain",
                    [vec![fingertip(-40)], hurt_on(111), vec![fingertip(NEXT)]].concat(),
                    "O1 day -40 to -12, O1 from day 392",
                ),
                (
                    "pain of 6 long ago, of which nothing was said since",
                    [hurt_on(100), vec![fingertip(NEXT)]].concat(),
                    "O1 from day 392",
                ),
                ("pain of 6 long ago, and none since", [over_it, vec![fingertip(NEXT)]].concat(), "nothing"),
                (
                    "pain of 6 in the very session did not stand in its way",
                    after_a_year(vec![fingertip(NEXT).pain(6, "")]),
                    "nothing",
                ),
                ("once open it stays open", after_a_year(vec![fingertip(NEXT), fingertip(NEXT + 200)]), "nothing"),
                ("again after 27 days", vec![free(0), free(27)], "O1 from day 0"),
                (
                    "again after 28: judged again",
                    vec![free(0), free(20), free(48), free(60)],
                    "O1 day 0 to 48, O1 from day 48",
                ),
                (
                    "months ago, when the gate was shut; open by now",
                    [
                        vec![fingertip(-40)],
                        a_year_and_a_month(),
                        vec![fingertip(NEXT)],
                    ]
                    .concat(),
                    "O1 day -40 to -12",
                ),
            ],
        );
        examples_by_day(
            &["O1"],
            [
                ("27 days later", vec![free(0)], 27, "O1 from day 0"),
                ("28 days later", vec![free(0)], 28, "O1 day 0 to 28"),
            ],
        );
    }

    /// 2026-01-05 to 2027-01-05 is a year, by the calendar: day 365.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o1_ends_on_the_day_the_gate_opens() {
        let mut days = a_year_and_a_month();
        days.extend((50..55).map(|week| fingertip(week * 7 + 5)));
        let mut third_club_finished = a_year_and_a_month_with([2, 3, 2]);
        third_club_finished.push(fingertip(NEXT));
        third_club_finished.extend(
            [(2, 10), (4, 10), (6, 10), (8, 12), (10, 12)]
                .map(|(later, count)| session(NEXT + later).against_the_clock(5, &[count])),
        );
        examples_by_day(
            &["O1"],
            [
                ("the day before", days.clone(), 364, "O1 from day 355"),
                ("the day", days.clone(), 365, "O1 day 355 to 365"),
                ("after", days.clone(), 400, "O1 day 355 to 365"),
                ("with the third club finished", third_club_finished, NEXT + 10, "O1 day 392 to 402"),
                (
                    "with the stop flag",
                    {
                        let mut days = a_year_and_a_month();
                        days[111] = days[111].clone().pain(6, "");
                        days.extend([0, 3, 7].map(|later| fingertip(NEXT + later).pain(0, "")));
                        days
                    },
                    NEXT + 7,
                    "O1 day 392 to 395",
                ),
            ],
        );
        let ended = only(&History::from(days), Rule::O1, 400).flag;
        let Evidence::Opening { months, .. } = ended.evidence else {
            panic!("opening evidence");
        };
        assert_eq!(months, 11, "as on the last day it stood");
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o1_the_coach_may_open_the_gate_early() {
        let opened = |days: &[i64]| {
            let mut history = history(vec![free(0), free(7)], rack());
            history.openings = days.iter().map(|on| opening(*on)).collect();
            history
        };
        let mut elsewhere = opened(&[-1]);
        elsewhere.openings[0].movement = PULLOVER;
        examples_by_day(
            &["O1"],
            [
                ("before the work began: a note", opened(&[-1]), 8, "O1 from day 0"),
                ("on its first day", opened(&[0]), 8, "O1 from day 0"),
                ("after: a look, then a note", opened(&[5]), 8, "O1 day 0 to 5, O1 from day 5"),
                ("not yet", opened(&[5]), 4, "O1 from day 0"),
                ("twice: the first counts", opened(&[6, 5]), 8, "O1 day 0 to 5, O1 from day 5"),
                ("after the work was left", opened(&[35]), 60, "O1 day 0 to 35"),
                ("in another movement", elsewhere.clone(), 8, "O1 from day 0"),
            ],
        );
        let severity = |history: &History, as_of| only(history, Rule::O1, as_of).flag.severity;
        assert_eq!(severity(&opened(&[-1]), 8), Severity::Note);
        assert_eq!(severity(&opened(&[0]), 8), Severity::Note);
        assert_eq!(severity(&opened(&[5]), 4), Severity::Look);
        assert_eq!(severity(&elsewhere, 8), Severity::Look);
        let reason = |history: &History, as_of| match only(history, Rule::O1, as_of).flag.evidence {
            Evidence::Opening { opened_early, .. } => opened_early,
            other => panic!("{other:?}"),
        };
        let of_gate = |history: &History| {
            let policy = Policy::default();
            let found = super::super::episodes(history, &policy, date(8));
            gate(history, &policy, &found, MILL, date(8)).opened_early
        };
        assert_eq!(of_gate(&opened(&[8])).as_deref(), Some("came from another hall"));
        assert_eq!((of_gate(&opened(&[9])), of_gate(&elsewhere)), (None, None));
        let mut twice = opened(&[-2, -1]);
        twice.openings[1].reason = "on second thoughts".to_owned();
        assert_eq!(reason(&twice, 8).as_deref(), Some("on second thoughts"));
        assert_eq!(reason(&opened(&[5]), 4), None);
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o1_the_movements_own_clubs_count_where_it_was_trained_two_handed() {
        let pullover = || fingertip(NEXT).moving(PULLOVER);
        let once = |on| session(on).against_the_clock(2, &[10]).moving(PULLOVER);
        examples(
            &["O1"],
            [
                ("never trained: those of all movements", after_a_year(vec![pullover()]), "nothing"),
                (
                    "trained once, with nothing finished",
                    after_a_year(vec![once(NEXT - 1), pullover()]),
                    "O1 from day 392",
                ),
                ("trained later", after_a_year(vec![pullover(), once(NEXT + 1)]), "nothing"),
            ],
        );
        let history = history(after_a_year(vec![once(NEXT)]), rack());
        let policy = Policy::default();
        let episodes = super::super::episodes(&history, &policy, date(NEXT));
        let of = |movement, day| gate(&history, &policy, &episodes, movement, date(day)).finished;
        assert_eq!(of(MILL, NEXT), [club(2), club(3), club(4)]);
        assert_eq!(of(PULLOVER, NEXT), []);
        assert_eq!(of(PULLOVER, NEXT - 1), [club(2), club(3), club(4)]);
        assert_eq!(of(MILL, 13), []);
        assert_eq!(of(MILL, 14), [club(2)]);
    }

    #[test]
    fn o1_the_figures() {
        let days = vec![
            session(0).against_the_clock(1, &[10]),
            session(3).against_the_clock(1, &[10]),
            session(14)
                .against_the_clock(1, &[10])
                .sets((PULLOVER, Hands::Fingertip, club(3)), 0, &[(5, 5)])
                .straight(Hands::One, 2, &[5]),
        ];
        let history = history(days, rack());
        let found = super::super::episodes(&history, &Policy::default(), date(14));
        let flag = found
            .iter()
            .map(|episode| &episode.flag)
            .find(|flag| flag.rule == Rule::O1 && flag.subject.movement == Some(MILL))
            .unwrap();
        assert_eq!(flag.subject, about_club(MILL, Hands::One, club(2)));
        assert_eq!(
            flag.evidence,
            Evidence::Opening {
                clubs_finished: 0,
                clubs_needed: 3,
                months: 0,
                months_needed: 12,
                sessions_per_week: 1.5,
                sessions_per_week_needed: 2.0,
                stop_flag_open: false,
                opened_early: None,
            }
        );
    }

    // Common practice, no source. Clubs 2, 3 and 4, of 25, 30 and 40 N·m, were finished.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o2_return_to_light() {
        let first = |hands, nm| {
            let mut clubs = rack();
            clubs.push(of_moment(6, 12.0, nm));
            history(after_a_year(vec![held(NEXT, hands, 6)]), clubs)
        };
        let (fingertip, one) = (Hands::Fingertip, Hands::One);
        let begun = |club| {
            let two_hands = vec![
                session(0)
                    .against_the_clock(2, &[10])
                    .against_the_clock(3, &[10]),
                held(3, one, club),
            ];
            history(two_hands, rack())
        };
        let lighter_by_number = |club| {
            let clubs = vec![of_moment(1, 9.0, 30.0), of_moment(2, 5.0, 20.0), of_moment(3, 7.0, 25.0)];
            let two_hands = [1, 2, 3].map(|number| session(number).against_the_clock(number as u128, &[9]));
            history([&two_hands[..], &[held(4, one, club)]].concat(), clubs)
        };
        let by_mass = |kg| {
            let clubs = vec![by_mass_only(1, 5.0), by_mass_only(2, kg)];
            history(
                vec![session(0).against_the_clock(1, &[9]), held(3, one, 2)],
                clubs,
            )
        };
        examples(
            &["O2"],
            [
                ("fingertips, 24 N·m", first(fingertip, 24.0), "nothing"),
                ("fingertips, 25.4 N·m: no step more", first(fingertip, 25.4), "nothing"),
                ("fingertips, 25.6 N·m", first(fingertip, 25.6), "O2 from day 392"),
                ("one hand, 25.4 N·m", first(one, 25.4), "nothing"),
                ("one hand, 25.6 N·m", first(one, 25.6), "O2 from day 392"),
                ("nothing finished; the lightest worked", begun(2), "nothing"),
                ("nothing finished; heavier than that", begun(3), "O2 from day 3"),
                ("of three worked the lightest: with it", lighter_by_number(2), "nothing"),
                ("with the next", lighter_by_number(3), "O2 from day 4"),
                ("by mass where that is all there is: 5 and 5.05 kg", by_mass(5.05), "nothing"),
                ("5 and 5.15 kg", by_mass(5.15), "O2 from day 3"),
                (
                    "a club of which nothing is known",
                    history(
                        vec![session(0).against_the_clock(1, &[9]), held(3, one, 9)],
                        rack(),
                    ),
                    "nothing",
                ),
                ("no two-hand work to go by", vec![held(0, one, 5)].into(), "nothing"),
                (
                    "fingertips and one hand are each a first",
                    after_a_year(vec![held(NEXT, fingertip, 3), held(NEXT + 1, one, 3)]).into(),
                    "O2 from day 392, O2 from day 393",
                ),
                (
                    "a club finished only later does not count",
                    {
                        let mut days = after_a_year(vec![held(NEXT, one, 2)]);
                        let goal = [10, 10, 10, 12, 12];
                        days.extend((1..).zip(goal).map(|(day, count)| {
                            session(NEXT + day).against_the_clock(1, &[count])
                        }));
                        days.into()
                    },
                    "nothing",
                ),
            ],
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o2_how_long() {
        let heavy = |on| held(on, Hands::One, 3);
        let begun = |more: &[Day]| {
            let two_hands = [session(0).against_the_clock(2, &[10])];
            [&two_hands[..], &[heavy(3)], more].concat()
        };
        let missed = |on| session(on).straight(Hands::One, 3, &[5, 5, 5, 5, 4]);
        let target = |on| session(on).straight(Hands::One, 3, &[5; 10]);
        examples_by_day(
            &["O2"],
            [
                ("three went well", begun(&[heavy(7), heavy(10)]), 14, "O2 from day 3"),
                ("four went well", begun(&[heavy(7), heavy(10), heavy(14)]), 14, "O2 day 3 to 14"),
                ("one of them was hard", begun(&[heavy(7), heavy(10).effort(7.5), heavy(14)]), 14, "O2 from day 3"),
                (
                    "one of them missed a rep",
                    begun(&[heavy(7), missed(10), heavy(14), heavy(17), heavy(21)]),
                    21,
                    "O2 from day 3",
                ),
                ("back with the light one", begun(&[held(7, Hands::One, 2)]), 7, "O2 day 3 to 7"),
                ("fingertips are not one hand", begun(&[fingertip(7)]), 7, "O2 from day 3"),
                ("the next step is earned", begun(&[target(7), target(10)]), 10, "O2 day 3 to 10"),
                ("27 days later", begun(&[]), 30, "O2 from day 3"),
                ("28 days later", begun(&[]), 31, "O2 day 3 to 31"),
                ("again after 27 days", begun(&[heavy(30)]), 30, "O2 from day 3"),
                ("again after 28 days", begun(&[heavy(31)]), 31, "O2 day 3 to 31"),
            ],
        );
    }

    #[test]
    fn o2_the_figures() {
        let first = session(NEXT)
            .straight(Hands::One, 3, &[5])
            .straight(Hands::One, 4, &[5])
            .straight(Hands::One, 2, &[5]);
        let flag = only(&history(after_a_year(vec![first]), rack()), Rule::O2, NEXT).flag;
        assert_eq!(
            flag.subject,
            about_club(MILL, Hands::One, club(4)),
            "the heaviest"
        );
        let Evidence::Restart {
            lightest,
            finished,
            step,
        } = flag.evidence
        else {
            panic!("restart evidence");
        };
        assert_eq!(
            (lightest, finished, step.basis),
            (club(2), true, StepBasis::Moment)
        );
        assert!((step.fraction - 0.6).abs() < 1e-9);
    }

    // The order is common practice, no source; the count is ours.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn o3_fingertip_sets_first() {
        let after = |sessions: i64, more: &[Day]| {
            let days: Vec<Day> = (0..sessions)
                .map(|at| fingertip(twice_a_week(at)))
                .collect();
            [&days, more].concat()
        };
        let both = session(20)
            .straight(Hands::Fingertip, 1, &[5])
            .straight(Hands::One, 1, &[5]);
        examples(
            &["O3"],
            [
                ("none before", after(0, &[free(20)]), "O3 from day 20"),
                ("three before", after(3, &[free(20)]), "O3 from day 20"),
                ("four before", after(4, &[free(20)]), "nothing"),
                ("five before", after(5, &[free(20)]), "nothing"),
                ("fingertips alone", after(3, &[]), "nothing"),
                ("in another movement", after(4, &[free(20).moving(PULLOVER)]), "O3 from day 20"),
                ("the fourth in the same session", after(3, &[both]), "O3 day 20 to 20"),
                ("made good for", after(3, &[free(14), fingertip(17), free(21)]), "O3 day 14 to 17"),
                ("not yet", after(2, &[free(14), fingertip(17), free(21)]), "O3 from day 14"),
                ("again after 27 days", after(0, &[free(0), free(27)]), "O3 from day 0"),
                ("again after 28 days", after(0, &[free(0), free(20), free(48)]), "O3 day 0 to 48, O3 from day 48"),
                ("left by the time it is made good for", after(3, &[free(14), fingertip(42)]), "O3 day 14 to 42"),
            ],
        );
        examples_by_day(
            &["O3"],
            [
                ("27 days later", after(0, &[free(0)]), 27, "O3 from day 0"),
                ("28 days later", after(0, &[free(0)]), 28, "O3 day 0 to 28"),
            ],
        );
        let days = after(1, &[free(14), fingertip(17), held(21, Hands::One, 2)]);
        let flag = only(&history(days, rack()), Rule::O3, 21).flag;
        assert_eq!(flag.subject, about_club(MILL, Hands::One, club(1)));
        assert_eq!(
            flag.evidence,
            Evidence::Fingertip {
                sessions: 2,
                needed: 4
            }
        );
    }

    // The calendar, by hand.
    #[test]
    fn months_are_calendar_months() {
        let cases = [
            (day_of!(2025 - 01 - 31), day_of!(2025 - 02 - 27), 0),
            (day_of!(2025 - 01 - 31), day_of!(2025 - 02 - 28), 1),
            (day_of!(2025 - 01 - 05), day_of!(2026 - 01 - 04), 11),
            (day_of!(2025 - 01 - 05), day_of!(2026 - 01 - 05), 12),
            (day_of!(2024 - 02 - 29), day_of!(2025 - 02 - 28), 12),
            (day_of!(2025 - 01 - 05), day_of!(2025 - 01 - 05), 0),
            (day_of!(2025 - 12 - 31), day_of!(2026 - 01 - 30), 0),
        ];
        for (from, to, months) in cases {
            assert_eq!(whole_months(from, to), months, "{from} to {to}");
        }
        let march = day_of!(2026 - 03 - 31);
        assert_eq!(months_before(march, 1), day_of!(2026 - 02 - 28));
        assert_eq!(months_before(march, 3), day_of!(2025 - 12 - 31));
        assert_eq!(months_after(march, 1), day_of!(2026 - 04 - 30));
        assert_eq!(months_after(march, 12), day_of!(2027 - 03 - 31));
    }

    /// By hand: sessions over weeks. 28 days make work count as left, as of its last session.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn months_of_work_and_sessions_a_week() {
        let (first, last) = (day_of!(2025 - 01 - 05), day_of!(2025 - 12 - 20));
        let earlier = day_of!(2024 - 01 - 05);
        let over_a_year = [earlier, first, day_of!(2026 - 01 - 05)];
        for (words, days, day, expected) in [
            ("nothing", &[][..], last, (0, 0.0)),
            ("one session is one in a week", &[first], first, (0, 1.0)),
            ("twice within a week", &[date(0), date(3)], date(3), (0, 2.0)),
            ("three over two weeks", &[date(0), date(7), date(14)], date(14), (0, 1.5)),
            ("27 days after", &[first, last], day_of!(2026 - 01 - 16), (12, 14.0 / 349.0)),
            ("28 days after", &[first, last], day_of!(2026 - 01 - 17), (11, 14.0 / 349.0)),
            ("the last twelve months", &over_a_year, over_a_year[2], (24, 14.0 / 365.0)),
        ] {
            let (months, pace) = months_and_pace(&Policy::default(), days, day);
            assert_eq!(months, expected.0, "{words}");
            assert!((pace - expected.1).abs() < 1e-12, "{words}: {pace}");
        }
    }
}
