//! L · Load, effort and pain.
//!
//! - **L1** Session load = effort (CR10) × minutes. Weekly sum, monotony = mean/SD of the week's seven daily
//!   loads, strain = sum × monotony. Shown as context, never flagged.
//!   Source: Foster et al., J Strength Cond Res 2001;15(1):109 for the load; Foster, Med Sci Sports Exerc
//!   1998;30(7):1164 for monotony and strain. Rest days are 0; that the SD is the sample's is ours.
//! - **L2** Load spike: week over 1.5 × the exponentially weighted mean of the weeks before it: note, with the
//!   caution that such ratios are disputed as predictors of injury.
//!   Source: Williams et al., Br J Sports Med 2017;51:209 for the mean, Impellizzeri et al., Int J Sports
//!   Physiol Perform 2020 for the dispute; both from memory.
//! - **L3** Effort climbing at an unchanged prescription: ≥ 9 in two sessions running: look.
//!   Source: common practice.
//! - **L4** Pain ≥ 4 once, or 1-3 in two sessions running at one place: stop / look.
//!   Source: bands of pain scales disagree; 1-3 mild, 4-6 moderate is the Canadian Physiotherapy
//!   Association's pain division's. That it ends after two sessions of the movement without pain there is ours;
//!   a stop ends only after two of which it was said that nothing hurt, for silence is no answer, and no
//!   session without a set ends anything. A session that stopped the work and was changed by the athlete to say
//!   less, or taken back, stops nothing any more, for a typing error must be correctable; but the flag stays as a
//!   look, as long as the stop would have.
//!
//! L2 stands until the end of the week after, so that whoever reviews the week sees it. L3 ends with the next
//! session that was easier or asked for more. Planned work waits for a stop of L4 until it ends or a coach
//! closes or quiets it; that a coach has seen it does not release the work.
//!
//! A session whose minutes were not logged is taken to last as long as its sets and a minute's rest
//! between them; the evidence says so. A session without effort has no known load: what is known of
//! its week may be a spike all the same, but the week is not part of the mean.

use std::collections::BTreeMap;

use serde::Serialize;
use time::{Date, Duration};

use super::life::{Life, about_club};
use super::log::Log;
use super::{Episode, Evidence, Rule, Severity, Subject};
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::review::Week;
use crate::stats::week_load;
use crate::training::{Bout, Hands, History, Pain, PainPlace, Session, UnsaidPain, Work};
use crate::units::Seconds;

/// **L1** Session load = effort (CR10) × minutes; `None` where effort was not logged.
pub fn session_load(session: &Session, policy: &Policy) -> Option<SessionLoad> {
    let effort = session.effort?.rating();
    let (minutes, minutes_estimated) = match session.minutes {
        Some(minutes) => (f64::from(minutes.get()), false),
        None => (minutes_of_sets(session, policy), true),
    };
    Some(SessionLoad {
        load: effort * minutes,
        minutes_estimated,
    })
}

/// **L2** Week over 1.5 × the mean of the weeks before it, but for rounding.
fn load_spike(week_so_far: f64, mean_before: f64, policy: &Policy) -> bool {
    week_so_far > mean_before * policy.load_spike_ratio * (1.0 + 1e-9)
}

/// **L2** The exponentially weighted mean of the weeks before: each week moves it by λ = 2/(N + 1) of the way.
fn weighted_mean(before: Option<f64>, week: f64, policy: &Policy) -> f64 {
    let lambda = (2.0 / (f64::from(policy.load_mean_weeks) + 1.0)).min(1.0);
    before.map_or(week, |mean| mean + lambda * (week - mean))
}

/// **L3** At an unchanged prescription: the same club, interval and reps, and no more sets.
fn unchanged_prescription(before: Asked, now: Asked) -> bool {
    now.sets <= before.sets
        && (now.loading, now.seconds, now.reps) == (before.loading, before.seconds, before.reps)
}

/// **L3** Effort ≥ 9 in two sessions running.
fn effort_of_nine_twice(before: f64, now: f64, policy: &Policy) -> bool {
    before >= policy.effort_climbing && now >= policy.effort_climbing
}

/// **L4** Pain ≥ 4 once: stop. 1-3 in two sessions running at one place: look.
fn pain_asks_for(score: u8, sessions_running: usize, policy: &Policy) -> Option<Severity> {
    if score >= policy.pain_stop {
        Some(Severity::Stop)
    } else if score >= 1 && sessions_running >= policy.pain_in_a_row {
        Some(Severity::Look)
    } else {
        None
    }
}

/// **L4** Ends after two sessions of the movement running without pain there, a stop after two that said so.
const fn free_of_pain_again(sessions_without: usize, policy: &Policy) -> bool {
    sessions_without >= policy.pain_free_sessions
}

// How L1 to L4 are walked through a log.

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut found = spikes(log);
    found.extend(climbing_effort(log));
    found.extend(pain(log));
    found
}

/// L1: the load of one session.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SessionLoad {
    /// Effort (CR10) times minutes.
    pub load: f64,
    /// Whether the minutes were estimated from the sets.
    pub minutes_estimated: bool,
}

/// The sets with a rest between each two.
fn minutes_of_sets(session: &Session, policy: &Policy) -> f64 {
    let work: f64 = session
        .sets
        .iter()
        .map(|set| match set.work {
            Work::Interval { seconds, .. } => f64::from(seconds.get()),
            Work::Straight { reps, .. } => f64::from(reps.get()) * policy.assumed_rep_seconds,
        })
        .sum();
    let rests = session.sets.len().saturating_sub(1) as f64;
    (work + rests * policy.assumed_rest_seconds) / 60.0
}

/// L1: one ISO week, for showing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LoadWeek {
    /// Its Monday.
    pub monday: Date,
    /// Loads of its days, Monday first.
    pub daily: [f64; 7],
    /// Whether the load of some session is unknown, so that the sums say too little.
    pub incomplete: bool,
    /// Whether the minutes of some session were estimated.
    pub minutes_estimated: bool,
}

impl LoadWeek {
    const fn empty(monday: Date) -> Self {
        Self {
            monday,
            daily: [0.0; 7],
            incomplete: false,
            minutes_estimated: false,
        }
    }

    fn add(&mut self, session: &Session, policy: &Policy) {
        match session_load(session, policy) {
            Some(load) => {
                let day = session.on.weekday().number_days_from_monday();
                self.daily[usize::from(day)] += load.load;
                self.minutes_estimated |= load.minutes_estimated;
            }
            None => self.incomplete = true,
        }
    }

    /// Sum of the week.
    pub fn sum(&self) -> f64 {
        self.daily.iter().sum()
    }

    /// The last day of the week.
    fn sunday(&self) -> Date {
        self.monday.saturating_add(Duration::days(6))
    }

    /// The first day of the next.
    fn next_monday(&self) -> Date {
        self.monday.saturating_add(Duration::WEEK)
    }
}

/// L1: every ISO week from the first session to the week of `until`, weeks of rest too.
pub fn load_weeks(history: &History, policy: &Policy, until: Date) -> Vec<LoadWeek> {
    let sessions = history.sessions_until(until);
    let Some(first) = sessions.first() else {
        return Vec::new();
    };
    let mut weeks = Vec::new();
    let mut sessions = sessions.iter().peekable();
    let mut monday = Week::of(first.on).monday();
    while monday <= until {
        let mut week = LoadWeek::empty(monday);
        while let Some(session) = sessions.next_if(|session| session.on <= week.sunday()) {
            week.add(session, policy);
        }
        weeks.push(week);
        match monday.checked_add(Duration::WEEK) {
            Some(next) => monday = next,
            None => break,
        }
    }
    weeks
}

/// L2: week by week. The note stands to the end of the week after, unless that is a spike too.
fn spikes(log: &Log) -> Vec<Episode> {
    let policy = log.policy;
    let mut mean: Option<f64> = None;
    let mut weeks_before = 0;
    let mut flag = Life::new(Rule::L2, Subject::default());
    for week in load_weeks(log.history, policy, log.as_of) {
        let known = mean.filter(|mean| *mean > 0.0 && weeks_before >= policy.load_weeks_before);
        let spike = known.and_then(|mean| Some((spike_day(&week, mean, policy)?, mean)));
        if let Some((on, mean)) = spike {
            flag.end(on);
            flag.raise(on, spike_evidence(&week, mean, log));
        } else if week.sunday() < log.as_of {
            // The week after a spike has passed without another.
            flag.end(week.next_monday());
        }
        if !week.incomplete {
            mean = Some(weighted_mean(mean, week.sum(), policy));
            weeks_before += 1;
        }
    }
    flag.episodes()
}

/// The day on which the week's running sum became a spike.
fn spike_day(week: &LoadWeek, mean_before: f64, policy: &Policy) -> Option<Date> {
    let mut so_far = 0.0;
    let days = week.daily.iter().position(|load| {
        so_far += load;
        load_spike(so_far, mean_before, policy)
    })?;
    let days = i64::try_from(days).ok()?;
    Some(week.monday.saturating_add(Duration::days(days)))
}

fn spike_evidence(week: &LoadWeek, mean: f64, log: &Log) -> Evidence {
    let whole = week_load(&week.daily);
    // Days still to come are not days of rest.
    let over = week.sunday() <= log.as_of;
    Evidence::Load {
        week_load: whole.sum,
        mean_before: mean,
        ratio: whole.sum / mean,
        limit: log.policy.load_spike_ratio,
        monotony: whole.monotony.filter(|_| over),
        strain: whole.strain.filter(|_| over),
        minutes_estimated: week.minutes_estimated,
    }
}

/// What one session did with a movement and hands, as far as it makes the work harder.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Asked {
    loading: LoadingId,
    seconds: Option<Seconds>,
    reps: u16,
    sets: u16,
}

impl Asked {
    fn of(bout: &Bout) -> Self {
        Self {
            loading: bout.loading,
            seconds: bout.seconds,
            reps: bout.reps,
            sets: bout.left.sets.max(bout.right.sets),
        }
    }
}

/// The main work at each movement and hands of a session: the bout with the most sets. A few with another
/// club before it are a warm-up.
fn main_work(bouts: &[Bout]) -> BTreeMap<(MovementId, Hands), Asked> {
    let mut main: BTreeMap<(MovementId, Hands), Asked> = BTreeMap::new();
    for bout in bouts {
        let asked = Asked::of(bout);
        let most = main.entry((bout.movement, bout.hands)).or_insert(asked);
        if asked.sets > most.sets {
            *most = asked;
        }
    }
    main
}

/// L3 at one movement and hands.
struct EffortWalk {
    last: Option<(Date, Asked, Option<f64>)>,
    flag: Life,
}

/// L3.
fn climbing_effort(log: &Log) -> Vec<Episode> {
    let mut walks: BTreeMap<(MovementId, Hands), EffortWalk> = BTreeMap::new();
    for (session, bouts) in log.sessions() {
        let effort = session.effort.map(|effort| effort.rating());
        for ((movement, hands), asked) in main_work(bouts) {
            let walk = walks
                .entry((movement, hands))
                .or_insert_with(|| EffortWalk {
                    last: None,
                    flag: Life::new(Rule::L3, Subject::default()),
                });
            walk.leave_if_gone_by(session.on, log);
            walk.flag
                .turn_to(about_club(movement, hands, asked.loading));
            walk.work((session.on, asked, effort), log.policy);
        }
    }
    let ended = walks.into_values().flat_map(|mut walk| {
        walk.leave_if_gone_by(log.as_of, log);
        walk.flag.episodes()
    });
    ended.collect()
}

impl EffortWalk {
    fn work(&mut self, now: (Date, Asked, Option<f64>), policy: &Policy) {
        let (on, asked, effort) = now;
        let unchanged = self
            .last
            .replace(now)
            .filter(|(_, before, _)| unchanged_prescription(*before, asked));
        // A session without effort says nothing either way.
        if effort.is_none() && unchanged.is_some() {
            return;
        }
        let both = unchanged.and_then(|(_, _, before)| before).zip(effort);
        let twice = both.filter(|(before, now)| effort_of_nine_twice(*before, *now, policy));
        self.flag.shows(
            on,
            twice.map(|(effort_before, effort)| Evidence::Effort {
                effort,
                effort_before,
                limit: policy.effort_climbing,
            }),
        );
    }

    fn leave_if_gone_by(&mut self, day: Date, log: &Log) {
        let left_on = self.last.and_then(|(last, ..)| log.left_on(last));
        if let Some(left_on) = left_on.filter(|left_on| *left_on <= day) {
            self.flag.end(left_on);
            self.last = None;
        }
    }
}

/// L4 at one place.
#[derive(Default)]
struct PainWalk {
    /// Sessions running with pain here.
    running: usize,
    /// By movement, `None` being all of them.
    standing: BTreeMap<Option<MovementId>, PainFlag>,
    over: Vec<Episode>,
}

struct PainFlag {
    flag: Life,
    severity: Severity,
    worst: u8,
    /// Sessions of the movement running without pain here; after a stop, those that said so.
    free: usize,
}

/// L4.
fn pain(log: &Log) -> Vec<Episode> {
    let mut found = Vec::new();
    let mut walks: BTreeMap<Option<PainPlace>, PainWalk> = BTreeMap::new();
    for (session, bouts) in log.sessions() {
        let mut here: BTreeMap<Option<PainPlace>, u8> = BTreeMap::new();
        for report in session.pain.iter().filter(|report| report.score.get() > 0) {
            let worst = here.entry(report.place.clone()).or_default();
            *worst = report.score.get().max(*worst);
        }
        for (place, walk) in &mut walks {
            if !here.contains_key(place) {
                walk.without_pain(session, bouts, log.policy);
            }
        }
        for (place, score) in here {
            let about = Subject {
                movement: only_movement(bouts),
                place: place.clone(),
                ..Subject::default()
            };
            let walk = walks.entry(place).or_default();
            walk.with_pain(session.on, about, score, log.policy);
        }
        // Places are free text: one that is over is let go, or a long log would cost its square.
        walks.retain(|_, walk| {
            found.append(&mut walk.over);
            walk.running > 0 || !walk.standing.is_empty()
        });
    }
    let standing = walks
        .into_values()
        .flat_map(|walk| walk.standing.into_values());
    found.extend(standing.flat_map(|it| it.flag.episodes()));
    for unsaid in unsaid(log) {
        // One flag about one subject and day: a stop that stands says more.
        let same = |other: &Episode| {
            (&other.flag.subject, other.flag.since) == (&unsaid.flag.subject, unsaid.flag.since)
        };
        let stops = |other: &Episode| other.flag.severity == Severity::Stop;
        if !found.iter().any(|other| same(other) && stops(other)) {
            found.retain(|other| !same(other));
            found.push(unsaid);
        }
    }
    found
}

/// L4: what stopped the work until the athlete changed it, the worst of each subject and day.
fn unsaid(log: &Log) -> Vec<Episode> {
    let mut worst: BTreeMap<(Date, Subject), &UnsaidPain> = BTreeMap::new();
    for unsaid in &log.history.unsaid {
        let subject = Subject {
            movement: unsaid.movement,
            place: unsaid.pain.place.clone(),
            ..Subject::default()
        };
        let known = worst.entry((unsaid.on, subject)).or_insert(unsaid);
        if unsaid.pain.score > known.pain.score {
            *known = unsaid;
        }
    }
    let episodes = worst.into_iter().filter_map(|((on, subject), unsaid)| {
        let sessions = log.history.sessions();
        let now = sessions.iter().find(|it| it.id == unsaid.session);
        let now = now.and_then(Session::worst_pain);
        let (score, stop_at) = (unsaid.pain.score.get(), log.policy.pain_stop);
        if on > log.as_of || score < stop_at || now.is_some_and(|now| now >= stop_at) {
            return None;
        }
        let mut flag = Life::new(Rule::L4, subject).with_severity(Severity::Look);
        flag.raise(
            on,
            Evidence::PainUnsaid {
                score,
                now,
                stop_at,
            },
        );
        if let Some(free) = free_again_on(log, unsaid) {
            flag.end(free);
        }
        Some(flag.episodes())
    });
    episodes.flatten().collect()
}

/// The day on which the stop would have ended: after sessions of the movement that said that nothing hurt.
fn free_again_on(log: &Log, unsaid: &UnsaidPain) -> Option<Date> {
    let mut free = 0;
    for (session, bouts) in log.sessions() {
        let later = (session.on, session.id) > (unsaid.on, unsaid.session);
        let trained = bouts
            .iter()
            .any(|bout| unsaid.movement.is_none_or(|it| bout.movement == it));
        if !later || !trained {
            continue;
        }
        let hurts = |report: &Pain| report.score.get() > 0 && report.place == unsaid.pain.place;
        match session.worst_pain() {
            Some(0) => free += 1,
            _ if session.pain.iter().any(hurts) => free = 0,
            _ => {}
        }
        if free_of_pain_again(free, log.policy) {
            return Some(session.on);
        }
    }
    None
}

impl PainWalk {
    fn with_pain(&mut self, on: Date, about: Subject, score: u8, policy: &Policy) {
        self.running += 1;
        for standing in self.standing.values_mut() {
            standing.free = 0;
        }
        let Some(severity) = pain_asks_for(score, self.running, policy) else {
            return;
        };
        let evidence = |score| Evidence::Pain {
            score,
            sessions: self.running,
            stop_at: policy.pain_stop,
        };
        let movement = about.movement;
        // A flag as grave, about the movement or all of them, covers it.
        let as_grave = |key: &Option<MovementId>| {
            let standing = self.standing.get(key);
            standing.is_some_and(|standing| standing.severity >= severity)
        };
        if let Some(key) = [None, movement].into_iter().find(as_grave)
            && let Some(standing) = self.standing.get_mut(&key)
        {
            standing.worst = standing.worst.max(score);
            standing.flag.raise(on, evidence(standing.worst));
            return;
        }
        let mut flag = Life::new(Rule::L4, about).with_severity(severity);
        flag.raise(on, evidence(score));
        let worsened = PainFlag {
            flag,
            severity,
            worst: score,
            free: 0,
        };
        // The milder flag ends where the graver begins.
        if let Some(mut milder) = self.standing.insert(movement, worsened) {
            milder.flag.end(on);
            self.over.extend(milder.flag.episodes());
        }
    }

    fn without_pain(&mut self, session: &Session, bouts: &[Bout], policy: &Policy) {
        // Where nothing was swung, nothing is known of what swinging does.
        if bouts.is_empty() {
            return;
        }
        self.running = 0;
        let said_so = session.worst_pain() == Some(0);
        for (movement, standing) in std::mem::take(&mut self.standing) {
            let mut standing = standing;
            let trained = movement.is_none_or(|it| bouts.iter().any(|bout| bout.movement == it));
            if trained && (said_so || standing.severity < Severity::Stop) {
                standing.free += 1;
            }
            if free_of_pain_again(standing.free, policy) {
                standing.flag.end(session.on);
                self.over.extend(standing.flag.episodes());
            } else {
                self.standing.insert(movement, standing);
            }
        }
    }
}

/// The movement of a session that had only one; pain in a session of several may come from any, and
/// then the flag is about all, as it is where the pain came before the first set.
fn only_movement(bouts: &[Bout]) -> Option<MovementId> {
    let first = bouts.first()?.movement;
    bouts
        .iter()
        .all(|bout| bout.movement == first)
        .then_some(first)
}

#[cfg(test)]
mod examples {
    use super::*;
    use crate::scenario::{
        Day, MILL, PULLOVER, club, date, examples, examples_by_day, history, only, rack, said,
        session,
    };

    const WORK: (MovementId, Hands, LoadingId) = (MILL, Hands::One, club(1));

    fn sets(on: i64, number: usize) -> Day {
        session(on).sets(WORK, 0, &vec![(5, 5); number])
    }

    fn loaded(on: i64, effort: f64, minutes: i64) -> Day {
        sets(on, 1).effort(effort).minutes(minutes)
    }

    // Foster et al. 2001: 7 × 60 = 420; 7 × 40, 4 × 45, 0 × 30 are 280, 180 and 0. By hand: ten 30 s sets and
    // nine rests of a minute are 14 minutes; six straight sets of five at 3 s a rep and five rests 6.5.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn l1_session_load() {
        for (words, day, expected) in [
            ("effort 7 for an hour", loaded(0, 7.0, 60), Some((420.0, false))),
            ("effort 7 for 40 minutes", loaded(0, 7.0, 40), Some((280.0, false))),
            ("effort 4 for 45 minutes", loaded(0, 4.0, 45), Some((180.0, false))),
            ("effort 0 for 30 minutes", loaded(0, 0.0, 30), Some((0.0, false))),
            ("effort not logged", sets(0, 1).minutes(30), None),
            (
                "minutes of five interval sets a side",
                session(0).sets(WORK, 30, &[(9, 9); 5]).effort(6.0),
                Some((84.0, true)),
            ),
            ("minutes of three straight sets a side", sets(0, 3).effort(6.0), Some((39.0, true))),
            ("no sets at all", session(0).effort(6.0), Some((0.0, true))),
        ] {
            let load = session_load(&day.0, &Policy::default());
            let load = load.map(|load| (load.load, load.minutes_estimated));
            assert_eq!(load, expected, "{words}");
        }
    }

    #[test]
    fn l1_weeks() {
        let of = |days: Vec<Day>, as_of| {
            load_weeks(&history(days, rack()), &Policy::default(), date(as_of))
        };
        let weeks = of(
            vec![
                loaded(1, 5.0, 60),
                loaded(6, 4.0, 60),
                loaded(16, 6.0, 60),
                sets(18, 1),
            ],
            20,
        );
        let mondays: Vec<Date> = weeks.iter().map(|week| week.monday).collect();
        assert_eq!(mondays, [date(0), date(7), date(14)]);
        assert_eq!(weeks[0].daily, [0.0, 300.0, 0.0, 0.0, 0.0, 0.0, 240.0]);
        let sums: Vec<f64> = weeks.iter().map(LoadWeek::sum).collect();
        assert_eq!(sums, [540.0, 0.0, 360.0]);
        let incomplete: Vec<bool> = weeks.iter().map(|week| week.incomplete).collect();
        assert_eq!(incomplete, [false, false, true]);
        // Two sessions on one day add up; one estimated makes the week so.
        let week = of(vec![loaded(0, 5.0, 60), sets(0, 3).effort(6.0)], 0)[0];
        assert_eq!((week.sum(), week.minutes_estimated), (339.0, true));
        let week = of(vec![sets(0, 3).effort(6.0), loaded(0, 5.0, 60)], 0)[0];
        assert_eq!((week.sum(), week.minutes_estimated), (339.0, true));
        assert_eq!(of(vec![loaded(0, 5.0, 60)], 6).len(), 1);
        assert_eq!(of(vec![loaded(0, 5.0, 60)], 7).len(), 2);
        assert_eq!(of(Vec::new(), 7), []);
    }

    // By hand with λ = 2/(4 + 1) (Williams et al. 2017, from memory).
    #[test]
    fn l2_weighted_mean() {
        for (words, before, week, expected) in [
            ("the first week", None, 300.0, 300.0),
            ("the same again", Some(300.0), 300.0, 300.0),
            ("a hundred more", Some(300.0), 400.0, 340.0),
            ("a week of rest", Some(300.0), 0.0, 180.0),
        ] {
            let mean = weighted_mean(before, week, &Policy::default());
            assert_eq!(mean, expected, "{words}");
        }
        let of_one_week = Policy {
            load_mean_weeks: 1,
            ..Policy::default()
        };
        assert_eq!(weighted_mean(Some(300.0), 400.0, &of_one_week), 400.0);
    }

    /// Weeks of 300, 300 and 400 make a mean of 340, of which 1.5 times is 510; the fourth week begins on day
    /// 21. By hand.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn l2_load_spike() {
        let weeks = |fourth: &[(i64, i64)]| {
            let mut days = vec![loaded(0, 5.0, 60), loaded(7, 5.0, 60), loaded(14, 5.0, 80)];
            days.extend(
                fourth
                    .iter()
                    .map(|(on, minutes)| loaded(*on, 1.0, *minutes)),
            );
            days
        };
        let few = |weeks: &[i64]| {
            let mut days: Vec<Day> = weeks.iter().map(|week| loaded(7 * week, 5.0, 60)).collect();
            days.push(loaded(21, 1.0, 480));
            days
        };
        let unknown = || {
            let mut days: Vec<Day> = (0..5).map(|week| loaded(7 * week, 5.0, 60)).collect();
            days[3] = sets(21, 1).minutes(600);
            days
        };
        let later = |more: &[(i64, i64)]| weeks(&[&[(23, 511)], more].concat());
        examples_by_day(
            &["L2"],
            [
                ("510 is not over", weeks(&[(21, 300), (23, 210)]), 27, "nothing"),
                ("511 is over", weeks(&[(21, 300), (23, 211)]), 27, "L2 from day 23"),
                ("from the day on which it is", weeks(&[(21, 511), (23, 1)]), 27, "L2 from day 21"),
                ("the Sunday of the week after", later(&[]), 34, "L2 from day 23"),
                ("and the Monday", later(&[]), 35, "L2 day 23 to 35"),
                ("two weeks later, the same", later(&[]), 60, "L2 day 23 to 35"),
                ("another on its heels", later(&[(29, 400), (30, 400)]), 34, "L2 day 23 to 30, L2 from day 30"),
                ("two weeks before are too few", few(&[1, 2]), 27, "nothing"),
                ("three weeks before, one of rest", few(&[0, 2]), 27, "L2 from day 21"),
                ("a week of unknown effort is no part of the mean", unknown(), 34, "nothing"),
                (
                    "what is known of a week may be a spike all the same",
                    [unknown(), vec![loaded(29, 5.0, 60), sets(31, 1)]].concat(),
                    34,
                    "L2 from day 29",
                ),
                (
                    "after weeks of nothing there is no mean",
                    vec![loaded(0, 0.0, 60), loaded(21, 5.0, 60)],
                    27,
                    "nothing",
                ),
            ],
        );
    }

    #[test]
    fn l2_the_figures() {
        let days = vec![
            loaded(0, 5.0, 60),
            loaded(7, 5.0, 60),
            loaded(14, 5.0, 80),
            loaded(21, 5.0, 60),
            loaded(23, 1.0, 211),
        ];
        let history = history(days, rack());
        let figures = |as_of| match only(&history, Rule::L2, as_of).flag.evidence {
            Evidence::Load {
                week_load,
                mean_before,
                ratio,
                limit,
                monotony,
                strain,
                ..
            } => {
                assert_eq!((week_load, mean_before, limit), (511.0, 340.0, 1.5));
                assert!((ratio - 511.0 / 340.0).abs() < 1e-12);
                (monotony, strain)
            }
            other => panic!("{other:?}"),
        };
        // Days still to come are not days of rest.
        assert_eq!(figures(26), (None, None));
        // Foster 1998, by hand: mean 73 a day, SD of 300, 211 and five zeros 127.3 (n − 1).
        let (monotony, strain) = figures(27);
        assert!((monotony.unwrap() - 73.0 / 127.2910).abs() < 1e-5);
        assert!((strain.unwrap() - 511.0 * 73.0 / 127.2910).abs() < 1e-2);
    }

    // Common practice, no source.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn l3_effort_climbing() {
        let hard = |on, number, effort| sets(on, number).effort(effort);
        let with = |club_number, seconds, pair| {
            session(3)
                .sets((MILL, Hands::One, club(club_number)), seconds, &[pair; 6])
                .effort(9.0)
        };
        let after = |next: Day| vec![hard(0, 6, 9.0), next];
        let then = |more: &[Day]| [&[hard(0, 6, 9.0), hard(3, 6, 9.0)], more].concat();
        examples(
            &["L3"],
            [
                ("9 and 9", after(hard(3, 6, 9.0)), "L3 from day 3"),
                ("9 and 8.5", after(hard(3, 6, 8.5)), "nothing"),
                ("8.5 and 9", vec![hard(0, 6, 8.5), hard(3, 6, 9.0)], "nothing"),
                ("9 once", vec![hard(0, 6, 9.0)], "nothing"),
                ("9 and not reported", after(sets(3, 6)), "nothing"),
                ("with a set less", after(hard(3, 5, 9.0)), "L3 from day 3"),
                ("with a set more", after(hard(3, 7, 9.0)), "nothing"),
                ("with another club", after(with(2, 0, (5, 5))), "nothing"),
                ("with other reps", after(with(1, 0, (4, 4))), "nothing"),
                ("against the clock", after(with(1, 30, (5, 5))), "nothing"),
                (
                    "with two hands",
                    after(
                        session(3)
                            .sets((MILL, Hands::Two, club(1)), 0, &[(5, 5); 6])
                            .effort(9.0),
                    ),
                    "nothing",
                ),
                (
                    "after a warm-up with another club",
                    after(
                        session(3)
                            .straight(Hands::One, 2, &[5; 5])
                            .straight(Hands::One, 1, &[5; 6])
                            .effort(9.0),
                    ),
                    "L3 from day 3",
                ),
                (
                    "before as many sets with another club",
                    after(
                        session(3)
                            .straight(Hands::One, 1, &[5; 6])
                            .straight(Hands::One, 2, &[5; 6])
                            .effort(9.0),
                    ),
                    "L3 from day 3",
                ),
                ("it stands while it is hard", then(&[hard(7, 6, 10.0)]), "L3 from day 3"),
                ("it ends once it is easier", then(&[hard(7, 6, 8.5)]), "L3 day 3 to 7"),
                ("or asked for more", then(&[hard(7, 7, 9.0)]), "L3 day 3 to 7"),
                ("not reported says nothing", then(&[sets(7, 6)]), "L3 from day 3"),
                ("not reported, more sets", then(&[sets(7, 7)]), "L3 day 3 to 7"),
                ("again after 27 days", then(&[hard(30, 6, 9.0)]), "L3 from day 3"),
                ("again after 28 days: left", then(&[hard(31, 6, 9.0)]), "L3 day 3 to 31"),
            ],
        );
        examples_by_day(
            &["L3"],
            [
                ("27 days later", then(&[]), 30, "L3 from day 3"),
                ("28 days later", then(&[]), 31, "L3 day 3 to 31"),
            ],
        );
        let flag = only(&history(then(&[hard(7, 6, 9.5)]), rack()), Rule::L3, 7).flag;
        assert_eq!(flag.severity, Severity::Look);
        let Evidence::Effort {
            effort,
            effort_before,
            limit,
        } = flag.evidence
        else {
            panic!("effort evidence");
        };
        assert_eq!((effort, effort_before, limit), (9.5, 9.0, 9.0));
    }

    // Bands of the Canadian Physiotherapy Association, pain division: 1-3 mild, 4-6 moderate. Two running
    // is common practice, no source.
    #[test]
    fn l4_pain_asks_for() {
        use Severity::{Look, Stop};
        for (score, sessions_running, expected) in [
            (0, 5, None),
            (1, 1, None),
            (3, 1, None),
            (4, 1, Some(Stop)),
            (10, 1, Some(Stop)),
            (1, 2, Some(Look)),
            (3, 2, Some(Look)),
            (3, 3, Some(Look)),
            (4, 2, Some(Stop)),
        ] {
            let asked = pain_asks_for(score, sessions_running, &Policy::default());
            assert_eq!(asked, expected, "{score}, {sessions_running} running");
        }
    }

    fn sore(on: i64, score: i64, place: &str) -> Day {
        sets(on, 1).pain(score, place)
    }

    /// Nothing was said of pain.
    fn fine(on: i64) -> Day {
        sets(on, 1)
    }

    /// It was said that nothing hurt.
    fn none(on: i64) -> Day {
        sets(on, 1).pain(0, "")
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn l4_pain() {
        examples(
            &["L4"],
            [
                ("3 once", vec![sore(0, 3, "elbow")], "nothing"),
                ("4 once", vec![sore(0, 4, "elbow")], "L4 from day 0"),
                ("none", vec![sore(0, 0, "elbow"), sore(3, 0, "elbow")], "nothing"),
                ("the worse of two reports", vec![sore(0, 4, "").pain(2, "")], "L4 from day 0"),
                ("1 twice running", vec![sore(0, 1, "elbow"), sore(3, 1, " Elbow ")], "L4 from day 3"),
                ("at two places", vec![sore(0, 3, "elbow"), sore(3, 3, "neck")], "nothing"),
                ("not running", vec![sore(0, 3, "elbow"), fine(3), sore(7, 3, "elbow")], "nothing"),
                (
                    "it worsens: the look ends where the stop begins",
                    vec![sore(0, 2, ""), sore(3, 2, ""), sore(7, 7, "")],
                    "L4 day 3 to 7, L4 from day 7",
                ),
                ("it gets better, and is still there", vec![sore(0, 7, ""), sore(3, 2, "")], "L4 from day 0"),
                ("one session without", vec![sore(0, 5, "elbow"), fine(3)], "L4 from day 0"),
                ("two that say nothing of it", vec![sore(0, 5, "elbow"), fine(3), fine(7)], "L4 from day 0"),
                ("two with none reported", vec![sore(0, 5, ""), sore(3, 0, ""), sore(7, 0, "")], "L4 day 0 to 7"),
                (
                    "pain in between starts again",
                    vec![sore(0, 5, "elbow"), none(3), sore(7, 1, "elbow"), none(10)],
                    "L4 from day 0",
                ),
                (
                    "silence in between does not",
                    vec![sore(0, 5, "elbow"), none(3), fine(7), none(10)],
                    "L4 day 0 to 10",
                ),
                (
                    "nor does pain elsewhere, and it does not count",
                    vec![sore(0, 5, "elbow"), none(3), sore(7, 1, "neck"), none(10)],
                    "L4 day 0 to 10",
                ),
                ("4 before the first set", vec![session(0).pain(4, "elbow")], "L4 from day 0"),
                (
                    "coming without a set does not",
                    vec![sore(0, 5, "elbow"), none(3), session(7).pain(0, ""), session(10).pain(0, "")],
                    "L4 from day 0",
                ),
                (
                    "nor does it end pain that was there before the first set",
                    vec![session(0).pain(5, "elbow"), session(3).pain(0, ""), session(7).pain(0, "")],
                    "L4 from day 0",
                ),
                (
                    "two sessions without do, whatever was swung",
                    vec![session(0).pain(5, "elbow"), none(3), none(7)],
                    "L4 day 0 to 7",
                ),
                (
                    "pain before the first set, then pain at the same place",
                    vec![session(0).pain(2, "elbow"), session(3).pain(0, ""), sore(7, 2, "elbow")],
                    "L4 from day 7",
                ),
                (
                    "milder pain ends without a word too",
                    vec![sore(0, 3, "elbow"), sore(3, 3, "elbow"), fine(7), fine(10)],
                    "L4 day 3 to 10",
                ),
                (
                    "and with pain elsewhere",
                    vec![sore(0, 3, "elbow"), sore(3, 3, "elbow"), fine(7), sore(10, 1, "neck")],
                    "L4 day 3 to 10",
                ),
            ],
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn l4_how_long_is_the_gyms_to_set() {
        let policy = Policy {
            pain_in_a_row: 3,
            pain_free_sessions: 1,
            ..Policy::default()
        };
        let elbow = |on| sore(on, 2, "elbow");
        for (days, expected) in [
            (vec![elbow(0), elbow(3)], "nothing"),
            (vec![elbow(0), elbow(3), elbow(7)], "L4 from day 7"),
            (vec![elbow(0), elbow(3), elbow(7), fine(10)], "L4 day 7 to 10"),
        ] {
            let history = history(days, rack());
            assert_eq!(said(&history, &policy, &["L4"], 12), expected);
        }
    }

    #[test]
    fn l4_pain_is_about_the_movement_that_was_trained() {
        let pullover = |on| session(on).sets((PULLOVER, Hands::One, club(1)), 0, &[(5, 5)]);
        let both = |on| fine(on).sets((PULLOVER, Hands::One, club(1)), 0, &[(5, 5)]);
        examples(
            &["L4"],
            [
                (
                    "sessions of another movement do not show it free of pain",
                    vec![
                        fine(0).pain(5, "elbow"),
                        pullover(3).pain(0, ""),
                        pullover(7).pain(0, ""),
                    ],
                    "L4 from day 0",
                ),
                (
                    "it hurts there too: that movement stops as well",
                    vec![fine(0).pain(5, "elbow"), pullover(3).pain(4, "elbow")],
                    "L4 from day 0, L4 from day 3",
                ),
                (
                    "two movements in one session: either may have done it",
                    vec![both(0).pain(5, "elbow"), none(3), pullover(7).pain(0, "")],
                    "L4 day 0 to 7",
                ),
                (
                    "a flag about all movements covers each",
                    vec![both(0).pain(5, "elbow"), fine(3).pain(4, "elbow")],
                    "L4 from day 0",
                ),
            ],
        );
        let about = |days| {
            only(&history(days, rack()), Rule::L4, 9)
                .flag
                .subject
                .movement
        };
        assert_eq!(about(vec![fine(0).pain(5, "elbow")]), Some(MILL));
        assert_eq!(about(vec![both(0).pain(5, "elbow")]), None);
        assert_eq!(about(vec![session(0).pain(5, "elbow")]), None);
    }

    /// Common practice, no source: a typing error is corrected, and somebody asks.
    #[test]
    fn l4_what_was_said_and_changed_is_still_looked_at() {
        use Severity::{Look, Stop};
        // The session of day 3 said this much, and says `now` this much; then these follow.
        let asks = |score: i64, now: Day, after: &[Day], as_of: i64| {
            let days = [vec![fine(0), now], after.to_vec()].concat();
            let mut history = history(days, rack());
            let session = history.sessions()[1].id;
            history.unsaid = [2, score]
                .map(|score| UnsaidPain {
                    session,
                    on: date(3),
                    movement: Some(MILL),
                    pain: Pain {
                        score: score.try_into().unwrap(),
                        place: PainPlace::new("elbow").ok(),
                    },
                })
                .to_vec();
            let mut found = crate::rules::episodes(&history, &Policy::default(), date(as_of));
            found.retain(|episode| episode.flag.rule == Rule::L4);
            let found: Vec<_> = found
                .into_iter()
                .map(|Episode { flag, until }| {
                    let figures = match flag.evidence {
                        Evidence::PainUnsaid {
                            score,
                            now,
                            stop_at: 4,
                        } => Some((score, now)),
                        _ => None,
                    };
                    (flag.severity, figures, until)
                })
                .collect();
            found
        };
        let look =
            |score, now, until: Option<i64>| vec![(Look, Some((score, now)), until.map(date))];
        assert_eq!(asks(6, sore(3, 2, "elbow"), &[], 3), look(6, Some(2), None));
        assert_eq!(asks(4, fine(3), &[], 3), look(4, None, None));
        assert_eq!(asks(3, fine(3), &[], 3), []);
        assert_eq!(asks(6, fine(3), &[], 2), []);
        // Changed and still a stop, here or elsewhere: the stop says it.
        assert_eq!(asks(6, sore(3, 4, "elbow"), &[], 3), [(Stop, None, None)]);
        assert_eq!(asks(6, sore(3, 5, "neck"), &[], 3), [(Stop, None, None)]);
        // It ends as the stop would have: after two that say that nothing hurts, of the movement.
        let ends = |after: &[Day]| asks(6, none(3), after, 20)[0].2;
        assert_eq!(ends(&[none(7)]), None);
        assert_eq!(ends(&[none(7), none(10), none(14)]), Some(date(10)));
        assert_eq!(ends(&[none(7), fine(10)]), None);
        assert_eq!(ends(&[none(7), sore(10, 1, "elbow"), none(14)]), None);
        assert_eq!(
            ends(&[none(7), sore(10, 1, "neck"), none(14)]),
            Some(date(14))
        );
        assert_eq!(ends(&[none(7), session(10).pain(0, "")]), None);
        let other = |on| session(on).sets((PULLOVER, Hands::One, club(1)), 0, &[(5, 5)]);
        assert_eq!(ends(&[other(7).pain(0, ""), other(10).pain(0, "")]), None);
    }

    #[test]
    fn l4_the_figures() {
        let figures = |days| {
            let flag = only(&history(days, rack()), Rule::L4, 9).flag;
            match flag.evidence {
                Evidence::Pain {
                    score,
                    sessions,
                    stop_at: 4,
                } => (flag.severity, score, sessions),
                other => panic!("{other:?}"),
            }
        };
        let stop = Severity::Stop;
        assert_eq!(figures(vec![sore(0, 5, "")]), (stop, 5, 1));
        // The worst so far, and every session of pain; milder pain leaves them as they are.
        assert_eq!(figures(vec![sore(0, 5, ""), sore(3, 6, "")]), (stop, 6, 2));
        assert_eq!(figures(vec![sore(0, 6, ""), sore(3, 5, "")]), (stop, 6, 2));
        let mild = vec![sore(0, 1, ""), sore(3, 3, ""), sore(7, 2, "")];
        assert_eq!(figures(mild), (Severity::Look, 3, 3));
    }
}
