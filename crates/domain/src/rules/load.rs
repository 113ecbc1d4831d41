//! L · Load, effort and pain.
//!
//! - **L1** A session's load is its effort (CR10) times its minutes (Foster et al., J Strength Cond
//!   Res 2001;15(1):109). A week's load is the sum; its monotony is the mean of the seven daily
//!   loads over their SD, rest days being 0, and its strain is load times monotony (Foster, Med
//!   Sci Sports Exerc 1998;30(7):1164; the sample SD is ours). Shown, never flagged.
//! - **L2** A week over 1.5 times the exponentially weighted mean of the weeks before it is noted.
//!   Such ratios are disputed as predictors of injury (Impellizzeri et al., Int J Sports Physiol
//!   Perform 2020, from memory), hence no more than a note. It stands until the end of the week
//!   after, so that whoever reviews the week sees it.
//! - **L3** Effort of 9 or more in two sessions running, with the same club, interval and reps, and no
//!   more sets. Common practice.
//! - **L4** Pain of 4 or more once stops the work; pain of 1 to 3 in two sessions running at one
//!   place is for the coach to look at. Bands of pain scales disagree; 1-3 mild, 4-6 moderate is the
//!   Canadian Physiotherapy Association's pain division's. It ends after two sessions of the
//!   movement without pain there. Planned work waits for a stop until it ends or a coach closes or
//!   quiets it; that a coach has seen it does not release the work.
//!
//! A session whose minutes were not logged is taken to last as long as its sets and a minute's rest
//! between them; the evidence says so. A session without effort has no known load: what is known of
//! its week may be a spike all the same, but the week is not part of the mean.

use std::collections::BTreeMap;

use serde::Serialize;
use time::{Date, Duration};

use super::log::Log;
use super::{Episode, Evidence, Flag, Rule, Severity, Subject};
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::stats::week_load;
use crate::training::{Bout, Hands, History, PainPlace, Session, Work};
use crate::units::Seconds;

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut found = Vec::new();
    spikes(log, &mut found);
    climbing_effort(log, &mut found);
    pain(log, &mut found);
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

/// L1; `None` where effort was not logged.
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
}

/// L1: every ISO week from the first session to the week of `until`, weeks of rest too.
pub fn load_weeks(history: &History, policy: &Policy, until: Date) -> Vec<LoadWeek> {
    let sessions = history.sessions_until(until);
    let Some(first) = sessions.first() else {
        return Vec::new();
    };
    let mut weeks = Vec::new();
    let mut sessions = sessions.iter().peekable();
    let mut monday = monday_of(first.on);
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

fn monday_of(day: Date) -> Date {
    let back = day.weekday().number_days_from_monday();
    day.saturating_sub(Duration::days(back.into()))
}

/// L2.
fn spikes(log: &Log, found: &mut Vec<Episode>) {
    let policy = log.policy;
    let lambda = (2.0 / (f64::from(policy.load_mean_weeks) + 1.0)).min(1.0);
    let mut mean: Option<f64> = None;
    let mut weeks_before = 0;
    let mut standing: Option<Flag> = None;
    for week in load_weeks(log.history, policy, log.as_of) {
        if weeks_before >= policy.load_weeks_before
            && let Some(mean) = mean.filter(|mean| *mean > 0.0)
            && let Some(since) = spike_day(&week, mean * policy.load_spike_ratio)
        {
            found.extend(standing.take().map(|flag| Episode {
                flag,
                until: Some(since),
            }));
            standing = Some(Flag {
                rule: Rule::L2,
                severity: Severity::Note,
                subject: Subject::default(),
                since,
                evidence: spike_evidence(&week, mean, log),
            });
        } else if standing
            .as_ref()
            .is_some_and(|flag| flag.since < week.monday)
        {
            // The week after the spike has passed without another.
            let until = week.monday.saturating_add(Duration::WEEK);
            if until <= log.as_of {
                found.extend(standing.take().map(|flag| Episode {
                    flag,
                    until: Some(until),
                }));
            }
        }
        if !week.incomplete {
            let sum = week.sum();
            mean = Some(mean.map_or(sum, |mean| mean + lambda * (sum - mean)));
            weeks_before += 1;
        }
    }
    found.extend(standing.map(|flag| Episode { flag, until: None }));
}

/// The day on which the week's running sum went over the limit.
fn spike_day(week: &LoadWeek, limit: f64) -> Option<Date> {
    let mut sum = 0.0;
    let days = week.daily.iter().position(|load| {
        sum += load;
        sum > limit * (1.0 + 1e-9)
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

    /// The same work as before, or less of it.
    fn is_no_more_than(self, before: Self) -> bool {
        self.sets <= before.sets
            && Self {
                sets: before.sets,
                ..self
            } == before
    }
}

/// L3 at one movement and hands.
#[derive(Default)]
struct EffortWalk {
    last: Option<(Date, Asked, Option<f64>)>,
    standing: Option<Flag>,
}

/// L3.
fn climbing_effort(log: &Log, found: &mut Vec<Episode>) {
    let limit = log.policy.effort_climbing;
    let mut walks: BTreeMap<(MovementId, Hands), EffortWalk> = BTreeMap::new();
    for (session, bouts) in log.sessions() {
        let effort = session.effort.map(|effort| effort.rating());
        // The main work at a movement is the bout with the most sets; a few with another club
        // before it are a warm-up.
        let mut main: BTreeMap<(MovementId, Hands), Asked> = BTreeMap::new();
        for bout in bouts {
            let asked = Asked::of(bout);
            main.entry((bout.movement, bout.hands))
                .and_modify(|main| {
                    if asked.sets > main.sets {
                        *main = asked;
                    }
                })
                .or_insert(asked);
        }
        for ((movement, hands), asked) in main {
            let walk = walks.entry((movement, hands)).or_default();
            walk.leave_if_gone_by(session.on, log, found);
            let before = walk.last.replace((session.on, asked, effort));
            let unchanged = before.filter(|(_, before, _)| asked.is_no_more_than(*before));
            let both = unchanged
                .and_then(|(_, _, before)| before)
                .zip(effort)
                .filter(|(before, effort)| before.min(*effort) >= limit);
            match both {
                Some((effort_before, effort)) => {
                    let evidence = Evidence::Effort {
                        effort,
                        effort_before,
                        limit,
                    };
                    match &mut walk.standing {
                        Some(flag) => flag.evidence = evidence,
                        None => {
                            walk.standing = Some(Flag {
                                rule: Rule::L3,
                                severity: Severity::Look,
                                subject: Subject {
                                    movement: Some(movement),
                                    hands: Some(hands),
                                    loading: Some(asked.loading),
                                    ..Subject::default()
                                },
                                since: session.on,
                                evidence,
                            });
                        }
                    }
                }
                // A session without effort says nothing either way.
                None if effort.is_none() && unchanged.is_some() => {}
                None => walk.end(Some(session.on), found),
            }
        }
    }
    for mut walk in walks.into_values() {
        walk.leave_if_gone_by(log.as_of, log, found);
        walk.end(None, found);
    }
}

impl EffortWalk {
    fn end(&mut self, until: Option<Date>, found: &mut Vec<Episode>) {
        found.extend(self.standing.take().map(|flag| Episode { flag, until }));
    }

    fn leave_if_gone_by(&mut self, day: Date, log: &Log, found: &mut Vec<Episode>) {
        let left_on = self.last.and_then(|(last, ..)| log.left_on(last));
        if let Some(left_on) = left_on.filter(|left_on| *left_on <= day) {
            self.end(Some(left_on), found);
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
}

struct PainFlag {
    flag: Flag,
    worst: u8,
    /// Sessions of the movement running without pain here.
    free: usize,
}

/// L4.
fn pain(log: &Log, found: &mut Vec<Episode>) {
    let mut walks: BTreeMap<Option<PainPlace>, PainWalk> = BTreeMap::new();
    for (session, bouts) in log.sessions() {
        let mut here: BTreeMap<Option<PainPlace>, u8> = BTreeMap::new();
        for report in session.pain.iter().filter(|report| report.score.get() > 0) {
            let worst = here.entry(report.place.clone()).or_default();
            *worst = report.score.get().max(*worst);
        }
        for (place, walk) in &mut walks {
            if !here.contains_key(place) {
                walk.without_pain(session.on, bouts, log.policy, found);
            }
        }
        for (place, score) in here {
            let walk = walks.entry(place.clone()).or_default();
            let movement = only_movement(bouts);
            walk.with_pain(session.on, movement, place, score, log.policy, found);
        }
        walks.retain(|_, walk| walk.running > 0 || !walk.standing.is_empty());
    }
    let standing = walks.into_values().flat_map(|walk| walk.standing);
    found.extend(standing.map(|(_, it)| Episode {
        flag: it.flag,
        until: None,
    }));
}

impl PainWalk {
    fn with_pain(
        &mut self,
        on: Date,
        movement: Option<MovementId>,
        place: Option<PainPlace>,
        score: u8,
        policy: &Policy,
        found: &mut Vec<Episode>,
    ) {
        self.running += 1;
        for standing in self.standing.values_mut() {
            standing.free = 0;
        }
        let severity = if score >= policy.pain_stop {
            Severity::Stop
        } else if self.running >= policy.pain_in_a_row {
            Severity::Look
        } else {
            return;
        };
        let evidence = |score| Evidence::Pain {
            score,
            sessions: self.running,
            stop_at: policy.pain_stop,
        };
        let covered = [None, movement]
            .into_iter()
            .find(|key| {
                self.standing
                    .get(key)
                    .is_some_and(|standing| standing.flag.severity >= severity)
            })
            .and_then(|key| self.standing.get_mut(&key));
        if let Some(standing) = covered {
            standing.worst = standing.worst.max(score);
            standing.flag.evidence = evidence(standing.worst);
            return;
        }
        let flag = Flag {
            rule: Rule::L4,
            severity,
            subject: Subject {
                movement,
                place,
                ..Subject::default()
            },
            since: on,
            evidence: evidence(score),
        };
        // If it has worsened, the milder flag ends where the graver begins.
        let milder = self.standing.insert(
            movement,
            PainFlag {
                flag,
                worst: score,
                free: 0,
            },
        );
        found.extend(milder.map(|it| Episode {
            flag: it.flag,
            until: Some(on),
        }));
    }

    fn without_pain(
        &mut self,
        on: Date,
        bouts: &[Bout],
        policy: &Policy,
        found: &mut Vec<Episode>,
    ) {
        self.running = 0;
        for (movement, standing) in &mut self.standing {
            if movement.is_none_or(|it| bouts.iter().any(|bout| bout.movement == it)) {
                standing.free += 1;
            }
        }
        self.standing.retain(|_, standing| {
            let ended = standing.free >= policy.pain_free_sessions;
            if ended {
                found.push(Episode {
                    flag: standing.flag.clone(),
                    until: Some(on),
                });
            }
            !ended
        });
    }
}

/// The movement of a session that had only one; pain in a session of several may come from any, and
/// then the flag is about all.
fn only_movement(bouts: &[Bout]) -> Option<MovementId> {
    let first = bouts.first()?.movement;
    bouts
        .iter()
        .all(|bout| bout.movement == first)
        .then_some(first)
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;
    use crate::rules;
    use crate::scenario::{Day, MILL, PULLOVER, club, day, history, plus};

    const MONDAY: Date = date!(2026 - 01 - 05);
    const WORK: (MovementId, Hands, LoadingId) = (MILL, Hands::One, club(1));

    fn found(days: Vec<Day>, rule: Rule, as_of: i64) -> Vec<Episode> {
        rules::episodes(
            &history(days, Vec::new()),
            &Policy::default(),
            plus(MONDAY, as_of),
        )
        .into_iter()
        .filter(|episode| episode.flag.rule == rule)
        .collect()
    }

    /// Since and until, in days after that Monday, and severity.
    fn lives(episodes: &[Episode]) -> Vec<(i64, Option<i64>, Severity)> {
        let days = |date: Date| (date - MONDAY).whole_days();
        episodes
            .iter()
            .map(|it| {
                let flag = &it.flag;
                (days(flag.since), it.until.map(days), flag.severity)
            })
            .collect()
    }

    fn loaded(on: i64, effort: f64, minutes: i64) -> Day {
        day(plus(MONDAY, on))
            .sets(WORK, 0, &[(5, 5)])
            .effort(effort)
            .minutes(minutes)
    }

    // Foster et al. 2001: 7 × 60 = 420; 7 × 40, 4 × 45, 0 × 30 are 280, 180 and 0.
    #[test]
    fn a_sessions_load_is_effort_times_minutes() {
        for (effort, minutes, expected) in [
            (7.0, 60, 420.0),
            (7.0, 40, 280.0),
            (4.0, 45, 180.0),
            (0.0, 30, 0.0),
        ] {
            let session = loaded(0, effort, minutes).0;
            let load = session_load(&session, &Policy::default()).unwrap();
            assert_eq!((load.load, load.minutes_estimated), (expected, false));
        }
        let silent = day(MONDAY).sets(WORK, 0, &[(5, 5)]).0;
        assert_eq!(session_load(&silent, &Policy::default()), None);
        // Ten 30 s sets and nine rests of a minute: 14 minutes.
        let timed = day(MONDAY).sets(WORK, 30, &[(9, 9); 5]).effort(6.0).0;
        let load = session_load(&timed, &Policy::default()).unwrap();
        assert_eq!((load.load, load.minutes_estimated), (84.0, true));
    }

    #[test]
    fn a_week_has_its_days_in_order_and_weeks_of_rest_count() {
        let days = vec![loaded(0, 5.0, 60), loaded(2, 4.0, 60), loaded(16, 6.0, 60)];
        let weeks = load_weeks(
            &history(days, Vec::new()),
            &Policy::default(),
            plus(MONDAY, 20),
        );
        assert_eq!(weeks.len(), 3);
        assert_eq!(weeks[0].daily, [300.0, 0.0, 240.0, 0.0, 0.0, 0.0, 0.0]);
        assert_eq!(weeks[1].sum(), 0.0);
        assert_eq!(weeks[2].monday, plus(MONDAY, 14));
    }

    // By hand with λ = 2/(4 + 1) (Williams et al. 2017, formula from memory): weeks of 300, 300 and
    // 400 make 300 + 0.4·(400 − 300) = 340; 1.5 times that is 510.
    #[test]
    fn a_week_well_over_the_mean_of_those_before_is_noted() {
        let mut days: Vec<Day> = [0, 7, 14]
            .into_iter()
            .map(|week| loaded(week, 5.0, 60))
            .collect();
        days.push(loaded(17, 5.0, 20));
        days.push(loaded(21, 5.0, 60));
        days.push(loaded(23, 5.0, 42));
        assert_eq!(found(days.clone(), Rule::L2, 23), []);
        days.push(loaded(25, 1.0, 1));
        let notes = found(days, Rule::L2, 60);
        assert_eq!(lives(&notes), [(25, Some(35), Severity::Note)]);
        let Evidence::Load {
            week_load,
            mean_before,
            ratio,
            monotony: Some(_),
            minutes_estimated: false,
            ..
        } = notes[0].flag.evidence
        else {
            panic!("{notes:?}");
        };
        assert_eq!((week_load, mean_before), (511.0, 340.0));
        assert!((ratio - 511.0 / 340.0).abs() < 1e-12);
    }

    #[test]
    fn a_spike_needs_weeks_before_it_and_known_efforts() {
        let few = vec![loaded(0, 5.0, 60), loaded(7, 5.0, 60), loaded(14, 10.0, 90)];
        assert_eq!(found(few, Rule::L2, 20), []);
        // A week with a session of unknown effort is not part of the mean; what is known of it may be
        // a spike all the same.
        let mut days: Vec<Day> = (0..5).map(|week| loaded(7 * week, 5.0, 60)).collect();
        days[3].0.effort = None;
        assert_eq!(found(days.clone(), Rule::L2, 40), []);
        days.push(loaded(29, 5.0, 60));
        days.push(day(plus(MONDAY, 31)).sets(WORK, 0, &[(5, 5)]));
        assert_eq!(
            lives(&found(days, Rule::L2, 33)),
            [(29, None, Severity::Note)]
        );
    }

    #[test]
    fn effort_of_nine_twice_at_the_same_work_is_looked_at() {
        let hard = |on, sets: usize, effort: f64| {
            day(plus(MONDAY, on))
                .sets(WORK, 0, &vec![(5, 5); sets])
                .effort(effort)
        };
        let look = Severity::Look;
        let case = |days: Vec<Day>| lives(&found(days, Rule::L3, 20));
        assert_eq!(
            case(vec![hard(0, 6, 9.0), hard(3, 6, 9.5)]),
            [(3, None, look)]
        );
        assert_eq!(
            case(vec![hard(0, 6, 9.0), hard(3, 5, 9.0)]),
            [(3, None, look)]
        );
        assert_eq!(case(vec![hard(0, 6, 9.0), hard(3, 7, 9.0)]), []);
        assert_eq!(case(vec![hard(0, 6, 9.0), hard(3, 6, 8.5)]), []);
        let ends = vec![hard(0, 6, 9.0), hard(3, 6, 9.0), hard(7, 6, 8.0)];
        assert_eq!(case(ends), [(3, Some(7), look)]);
        // Another club is another prescription.
        let other = day(plus(MONDAY, 3))
            .sets((MILL, Hands::One, club(2)), 0, &[(5, 5); 6])
            .effort(9.0);
        assert_eq!(case(vec![hard(0, 6, 9.0), other]), []);
    }

    // Bands of the Canadian Physiotherapy Association, pain division: 1-3 mild, 4-6 moderate.
    #[test]
    fn pain_stops_at_four_and_is_looked_at_when_it_stays() {
        let sore = |on, score, place| {
            day(plus(MONDAY, on))
                .sets(WORK, 0, &[(5, 5)])
                .pain(score, place)
        };
        let fine = |on| day(plus(MONDAY, on)).sets(WORK, 0, &[(5, 5)]);
        let case = |days: Vec<Day>| lives(&found(days, Rule::L4, 30));
        use Severity::{Look, Stop};
        assert_eq!(case(vec![sore(0, 4, "elbow")]), [(0, None, Stop)]);
        assert_eq!(case(vec![sore(0, 3, "elbow")]), []);
        assert_eq!(case(vec![sore(0, 0, "")]), []);
        assert_eq!(
            case(vec![sore(0, 1, "elbow"), sore(3, 1, " Elbow ")]),
            [(3, None, Look)]
        );
        assert_eq!(case(vec![sore(0, 3, "elbow"), sore(3, 3, "neck")]), []);
        assert_eq!(
            case(vec![sore(0, 3, "elbow"), fine(3), sore(7, 3, "elbow")]),
            []
        );
        // It worsens: the look ends where the stop begins.
        assert_eq!(
            case(vec![sore(0, 2, ""), sore(3, 2, ""), sore(7, 7, "")]),
            [(3, Some(7), Look), (7, None, Stop)]
        );
        // Two sessions without pain there end it, one does not, and pain in between starts again.
        assert_eq!(case(vec![sore(0, 5, "elbow"), fine(3)]), [(0, None, Stop)]);
        assert_eq!(
            case(vec![sore(0, 5, "elbow"), fine(3), fine(7)]),
            [(0, Some(7), Stop)]
        );
        let again = vec![sore(0, 5, "elbow"), fine(3), sore(7, 1, "elbow"), fine(10)];
        assert_eq!(case(again), [(0, None, Stop)]);
    }

    #[test]
    fn how_long_pain_lasts_is_the_gyms_to_set() {
        let sore = |on| {
            day(plus(MONDAY, on))
                .sets(WORK, 0, &[(5, 5)])
                .pain(2, "elbow")
        };
        let fine = |on| day(plus(MONDAY, on)).sets(WORK, 0, &[(5, 5)]);
        let policy = Policy {
            pain_in_a_row: 3,
            pain_free_sessions: 1,
            ..Policy::default()
        };
        let case = |days| {
            let mut found = rules::episodes(&history(days, Vec::new()), &policy, plus(MONDAY, 12));
            found.retain(|episode| episode.flag.rule == Rule::L4);
            lives(&found)
        };
        assert_eq!(case(vec![sore(0), sore(3)]), []);
        let look = Severity::Look;
        assert_eq!(case(vec![sore(0), sore(3), sore(7)]), [(7, None, look)]);
        let over = vec![sore(0), sore(3), sore(7), fine(10)];
        assert_eq!(case(over), [(7, Some(10), look)]);
    }

    #[test]
    fn pain_is_about_the_movement_that_was_trained() {
        let pullover =
            |on| day(plus(MONDAY, on)).sets((PULLOVER, Hands::One, club(1)), 0, &[(5, 5)]);
        let mill = |on| day(plus(MONDAY, on)).sets(WORK, 0, &[(5, 5)]);
        // Sessions of another movement do not show that this one is free of pain again.
        let days = vec![mill(0).pain(5, "elbow"), pullover(3), pullover(7)];
        let flags = found(days, Rule::L4, 10);
        assert_eq!(flags[0].flag.subject.movement, Some(MILL));
        assert_eq!(flags[0].until, None);
        // It hurts there too: that movement stops as well.
        let days = vec![mill(0).pain(5, "elbow"), pullover(3).pain(4, "elbow")];
        assert_eq!(found(days, Rule::L4, 10).len(), 2);
        // Two movements in one session: either may have done it.
        let both = mill(0)
            .sets((PULLOVER, Hands::One, club(1)), 0, &[(5, 5)])
            .pain(5, "elbow");
        let flags = found(vec![both, mill(3), pullover(7)], Rule::L4, 10);
        assert_eq!(flags[0].flag.subject.movement, None);
        assert_eq!(flags[0].until, Some(plus(MONDAY, 7)));
    }
}
