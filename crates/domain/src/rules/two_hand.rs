//! T · Two-hand work against the clock.
//!
//! Everything here is judged at one *key*: a movement held with two hands, a club and an interval
//! length. Work against the clock with one hand or with fingertips has a density too
//! ([`crate::training::Bout::density`]), but the rules below are those of the two-hand phase: with
//! one hand the sets are counted, not the clock.
//!
//! - **T1** The club and the interval stay; the count has to climb. Common practice, no source.
//! - **T2** Density is the reps of a session's interval sets over the minutes they took.
//! - **T3** The goal at a key is the coach's, from the newest block begun there; without one it is
//!   1.2 times the median of the first three sessions. Common practice, no source.
//! - **T4** A step is earned once both sides are at or over the goal in two sessions running, at no
//!   more than effort 7 and pain 2. Two in a row is the shape of the 2-for-2 rule for adding load
//!   (NSCA, *Essentials of Strength Training and Conditioning*, from memory); that it is taken of
//!   density is common practice. What was not reported does not stand in the way.
//! - **T5** Stalled: the count has stopped climbing and the goal is not reached, as far as the log of this
//!   key alone can tell ([`crate::stats::judge_climb`]). Ends with a new best, at the goal, or once two
//!   sessions running say that it climbs again.
//! - **T6** Falling: the last two sessions lie further under the recent level than this athlete's own
//!   day-to-day noise explains. Ours.
//!
//! A flag of this family ends, beside its own reasons, once a bigger club has been worked in the
//! movement, once four sessions running used other clubs, or when the key has not been worked for
//! 28 days. After such a gap the series that T5 and T6 look at begins again, the goal does not.

use std::collections::BTreeMap;

use time::Date;

use super::club_use::{self, ClubUse};
use super::log::Log;
use super::{Episode, Evidence, Flag, Rule, Subject};
use crate::density::{self, Reading};
use crate::id::{LoadingId, MovementId};
use crate::plan::Scheme;
use crate::policy::Policy;
use crate::stats::{Climb, Work, judge_climb, median};
use crate::training::{Hands, History};
use crate::units::Seconds;

/// What density is judged at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    movement: MovementId,
    loading: LoadingId,
    seconds: Seconds,
}

/// One session at a key.
#[derive(Debug, Clone, Copy)]
struct Point {
    on: Date,
    /// Both sides together, reps a minute.
    rpm: f64,
    /// The slower side; `None` when only one side worked.
    slower_rpm: Option<f64>,
    /// Whether effort and pain allow a step (T4).
    easy_enough: bool,
    /// What T5 is judged by.
    work: Work,
}

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut keys: BTreeMap<Key, Vec<(usize, Point)>> = BTreeMap::new();
    for (index, (session, bouts)) in log.sessions().enumerate() {
        for bout in bouts.iter().filter(|bout| bout.hands == Hands::Two) {
            let Some((seconds, reading, work)) = density::read(session.on, bout) else {
                continue;
            };
            let key = Key {
                movement: bout.movement,
                loading: bout.loading,
                seconds,
            };
            let point = Point {
                on: session.on,
                rpm: reading.rpm,
                slower_rpm: bout.slower_side().map(|density| density.rpm()),
                easy_enough: log.easy_enough(session),
                work,
            };
            keys.entry(key).or_default().push((index, point));
        }
    }
    keys.into_iter()
        .flat_map(|(key, points)| KeyWalk::new(log, key).over(&points))
        .collect()
}

/// T3: the goal on a day, given the densities of the key's first sessions up to that day.
fn goal_on(history: &History, policy: &Policy, key: Key, day: Date, first: &[f64]) -> Option<f64> {
    let coachs = history
        .blocks
        .iter()
        .flatten()
        .filter(|block| {
            (block.movement, block.hands, block.loading) == (key.movement, Hands::Two, key.loading)
                && block.from <= day
        })
        .filter_map(|block| match &block.scheme {
            Scheme::IntervalSets(sets) if sets.seconds == key.seconds => {
                sets.goal.map(|goal| (block.from, goal.rpm()))
            }
            _ => None,
        })
        .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    if let Some((_, goal)) = coachs {
        return Some(goal);
    }
    if policy.goal_start_sessions == 0 || first.len() < policy.goal_start_sessions {
        return None;
    }
    let start = median(&first[..policy.goal_start_sessions])?;
    (start > 0.0).then_some(policy.goal_over_start * start)
}

/// T3: the goal density at a movement, hands, club and interval on a day, in reps a minute; `None`
/// while there are too few sessions to set one, and outside two-hand work.
pub fn goal_density(
    history: &History,
    policy: &Policy,
    (movement, hands, loading, seconds): (MovementId, Hands, LoadingId, Seconds),
    day: Date,
) -> Option<f64> {
    if hands != Hands::Two {
        return None;
    }
    let first: Vec<f64> = history
        .sessions()
        .iter()
        .take_while(|session| session.on <= day)
        .flat_map(|session| session.bouts())
        .filter(|bout| {
            (bout.movement, bout.hands, bout.loading, bout.seconds)
                == (movement, hands, loading, Some(seconds))
        })
        .filter_map(|bout| Some(bout.density()?.rpm()))
        .take(policy.goal_start_sessions)
        .collect();
    goal_on(
        history,
        policy,
        Key {
            movement,
            loading,
            seconds,
        },
        day,
        &first,
    )
}

/// The walk over one key's sessions, in order.
struct KeyWalk<'a> {
    log: &'a Log<'a>,
    key: Key,
    points: Vec<Point>,
    /// The same as readings, and where the best of them stands: it is kept from session to session, so that many
    /// flags at one key do not look through the whole log each.
    readings: Vec<Reading>,
    best_at: usize,
    /// The best density since the last gap, reps a minute.
    best_since_gap_rpm: f64,
    /// The series that T5 and T6 look at: the points since the last gap, as T5 is judged by them.
    series: Vec<Work>,
    goal: Option<f64>,
    /// The highest goal, reps a minute, that earned a step since the last gap; 0 if none did.
    reached_rpm: f64,
    /// Sessions running that would earn a step.
    running: usize,
    in_use: ClubUse,
    ever_earned: bool,
    earned: Option<Date>,
    stalled: Option<Stalled>,
    falling: Option<Falling>,
    done: Vec<Episode>,
}

/// T5 while it stands.
struct Stalled {
    since: Date,
    best_rpm: f64,
    /// Sessions running that say it climbs.
    climbing: usize,
}

/// T6 while it stands.
struct Falling {
    since: Date,
    /// A session at or over this is back at the old level.
    recovered_rpm: f64,
    /// Sessions since it was raised.
    sessions: usize,
}

impl<'a> KeyWalk<'a> {
    fn new(log: &'a Log<'a>, key: Key) -> Self {
        Self {
            log,
            key,
            points: Vec::new(),
            readings: Vec::new(),
            best_at: 0,
            best_since_gap_rpm: 0.0,
            series: Vec::new(),
            goal: None,
            reached_rpm: 0.0,
            running: 0,
            in_use: ClubUse::default(),
            ever_earned: false,
            earned: None,
            stalled: None,
            falling: None,
            done: Vec::new(),
        }
    }

    fn over(mut self, points: &[(usize, Point)]) -> Vec<Episode> {
        let mut points = points.iter().peekable();
        for visit in club_use::visits(self.log, self.key.movement, Hands::Two, self.key.loading) {
            self.leave_if_gone_by(visit.on);
            let point = points.next_if(|(session, _)| *session == visit.session);
            if let Some((_, point)) = point {
                self.work(*point);
            }
            if self.in_use.over_with(self.log, visit, point.is_some()) {
                self.end_all(visit.on);
            }
        }
        self.leave_if_gone_by(self.log.as_of);
        for rule in RULES {
            self.end(rule, None);
        }
        self.done
    }

    /// Ends everything if the key was left before or on this day.
    fn leave_if_gone_by(&mut self, day: Date) {
        if let Some(left) = self.in_use.left_by(self.log, day) {
            self.end_all(left);
            self.series.clear();
            self.best_since_gap_rpm = 0.0;
            self.reached_rpm = 0.0;
        }
    }

    fn work(&mut self, point: Point) {
        self.points.push(point);
        self.series.push(point.work);
        self.readings.push(Reading {
            on: point.on,
            rpm: point.rpm,
        });
        self.best_at = density::better_of(&self.readings, self.best_at, self.readings.len() - 1);
        self.best_since_gap_rpm = self.best_since_gap_rpm.max(point.rpm);
        let first = self.points.len().min(self.log.policy.goal_start_sessions);
        let first: Vec<f64> = self.points[..first].iter().map(|point| point.rpm).collect();
        self.goal = goal_on(
            self.log.history,
            self.log.policy,
            self.key,
            point.on,
            &first,
        );
        let at_goal = self
            .goal
            .zip(point.slower_rpm)
            .is_some_and(|(goal, slower)| at_or_over(slower, goal));
        self.judge_earned(point, at_goal);
        self.judge_stalled(point, at_goal);
        self.judge_falling(point);
    }

    fn judge_earned(&mut self, point: Point, at_goal: bool) {
        self.running = if at_goal && point.easy_enough {
            self.running + 1
        } else {
            0
        };
        if self.running < self.log.policy.earned_in_a_row {
            return;
        }
        self.reached_rpm = self.goal.map_or(0.0, |goal| goal.max(self.reached_rpm));
        if self.earned.is_some() {
            return;
        }
        // Beside a bigger club that is in use there is nothing to step up from: it is on record once.
        let bigger_in_use = self.in_use.bigger_in_use(self.log, point.on);
        if bigger_in_use && self.ever_earned {
            return;
        }
        self.earned = Some(point.on);
        self.ever_earned = true;
        if bigger_in_use {
            self.end(Rule::T4, Some(point.on));
        }
    }

    fn judge_stalled(&mut self, point: Point, at_goal: bool) {
        let climb = || judge_climb(&self.series);
        match &mut self.stalled {
            None => {
                let done = self.goal.is_some_and(|goal| goal <= self.reached_rpm);
                let bigger_in_use = self.in_use.bigger_in_use(self.log, point.on);
                if !at_goal && !done && !bigger_in_use && matches!(climb(), Climb::Stalled { .. }) {
                    self.stalled = Some(Stalled {
                        since: point.on,
                        best_rpm: self.best_since_gap_rpm,
                        climbing: 0,
                    });
                }
            }
            Some(standing) => {
                standing.climbing = match climb() {
                    Climb::Climbing => standing.climbing + 1,
                    Climb::Stalled { .. } | Climb::NotEnoughYet { .. } => 0,
                };
                if at_goal || point.rpm > standing.best_rpm || standing.climbing >= CLIMBS_AGAIN {
                    self.end(Rule::T5, Some(point.on));
                }
            }
        }
    }

    fn judge_falling(&mut self, point: Point) {
        let found = falling(self.since_gap());
        match &mut self.falling {
            None => {
                self.falling = found.map(|recovered_rpm| Falling {
                    since: point.on,
                    recovered_rpm,
                    sessions: 0,
                });
            }
            Some(standing) => {
                standing.sessions += 1;
                let back = point.rpm >= standing.recovered_rpm;
                let new_level = found.is_none() && standing.sessions >= LEVEL_SESSIONS;
                if back || new_level {
                    self.end(Rule::T6, Some(point.on));
                }
            }
        }
    }

    fn end_all(&mut self, on: Date) {
        for rule in RULES {
            self.end(rule, Some(on));
        }
        self.running = 0;
    }

    /// Writes an episode down, if one stands.
    fn end(&mut self, rule: Rule, until: Option<Date>) {
        let since = match rule {
            Rule::T4 => self.earned.take(),
            Rule::T5 => self.stalled.take().map(|stalled| stalled.since),
            _ => self.falling.take().map(|falling| falling.since),
        };
        let Some((since, evidence)) = since.zip(self.evidence()) else {
            return;
        };
        self.done.push(Episode {
            flag: Flag {
                rule,
                severity: rule.severity(),
                subject: Subject {
                    movement: Some(self.key.movement),
                    hands: Some(Hands::Two),
                    loading: Some(self.key.loading),
                    seconds: Some(self.key.seconds.get()),
                    place: None,
                },
                since,
                evidence,
            },
            until,
        });
    }

    /// The points since the last gap.
    fn since_gap(&self) -> &[Point] {
        &self.points[self.points.len() - self.series.len()..]
    }

    /// The figures after the last session at the key.
    fn evidence(&self) -> Option<Evidence> {
        let last = self.readings.last()?.on;
        density::figures(&self.readings, self.best_at, &self.series, self.goal, last)
            .map(Evidence::Density)
    }
}

/// The rules of this family that have episodes.
const RULES: [Rule; 3] = [Rule::T4, Rule::T5, Rule::T6];

/// Sessions running that say it climbs, after which a stall is over (T5): one may be chance.
const CLIMBS_AGAIN: usize = 2;

/// At or over a goal, but for rounding.
fn at_or_over(rpm: f64, goal: f64) -> bool {
    rpm >= goal * (1.0 - 1e-9)
}

/// Sessions that make the recent level (T6).
const LEVEL_SESSIONS: usize = 6;
/// Sessions from which the day-to-day noise is taken (T6).
const NOISE_SESSIONS: usize = 12;
/// Day-to-day noise expected of anybody, as a share of the level, and how many differences of an
/// athlete's own it is worth: six sessions alone say little about noise.
const USUAL_NOISE: f64 = 0.03;
const USUAL_NOISE_WEIGHT: f64 = 4.0;
/// How many standard errors under the level count as more than noise: the tests measure what it gives.
const FALL_ERRORS: f64 = 3.5;

/// T6: whether the last two sessions lie under the level of the six before by more than noise; gives
/// the density at which the athlete is back.
///
/// The noise is the median absolute deviation of the differences from one session to the next, which
/// neither a steady climb nor one bad day inflates, drawn towards 3 % while there are few.
fn falling(series: &[Point]) -> Option<f64> {
    if series.len() < LEVEL_SESSIONS + 2 {
        return None;
    }
    let (before, last) = series.split_at(series.len() - 2);
    let recent: Vec<f64> = before[before.len() - LEVEL_SESSIONS..]
        .iter()
        .map(|point| point.rpm)
        .collect();
    let level = median(&recent)?;
    let from = before.len().saturating_sub(NOISE_SESSIONS);
    let steps: Vec<f64> = before[from..]
        .windows(2)
        .map(|pair| pair[1].rpm - pair[0].rpm)
        .collect();
    let middle = median(&steps)?;
    let deviations: Vec<f64> = steps.iter().map(|step| (step - middle).abs()).collect();
    // 1.4826 makes the median absolute deviation of normal noise its standard deviation; a difference
    // of two sessions has twice the variance of one.
    let own_variance = (1.4826 * median(&deviations)?).powi(2) / 2.0;
    let usual_variance = (USUAL_NOISE * level).powi(2);
    let count = steps.len() as f64;
    let noise = ((count * own_variance + USUAL_NOISE_WEIGHT * usual_variance)
        / (count + USUAL_NOISE_WEIGHT))
        .sqrt();
    // Variance of the mean of two, and of the median of six (π/2n).
    let error = noise * (0.5 + std::f64::consts::FRAC_PI_2 / LEVEL_SESSIONS as f64).sqrt();
    let mean = f64::midpoint(last[0].rpm, last[1].rpm);
    let back = level - noise;
    let both_under = last.iter().all(|point| point.rpm < back);
    (both_under && mean < level - FALL_ERRORS * error).then_some(back)
}

#[cfg(test)]
mod tests {
    use super::super::scenario::{
        Did, block, club, day, half_minute, history, lives, only, rack, session,
    };
    use super::*;
    use crate::plan::IntervalSets;
    use crate::training::{Session, Side};
    use crate::units::Density;

    /// Sessions on days 0, 3, 7, 10, …, two a week, with one set each side of each count.
    fn twice_a_week(club: u128, counts: &[u16]) -> Vec<Session> {
        (0..)
            .zip(counts)
            .map(|(number, count)| session(slot(number)).against_the_clock(club, &[*count]))
            .collect()
    }

    fn slot(number: i64) -> i64 {
        number / 2 * 7 + number % 2 * 3
    }

    fn with_goal(rpm: f64) -> Scheme {
        Scheme::IntervalSets(IntervalSets {
            sets: 1,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: Some(Density::from_rpm(rpm).unwrap()),
        })
    }

    /// T3, T4: the start is the median of 10, 10, 11 in half a minute = 20 a minute, the goal 24; 12 in
    /// half a minute is at the goal, and it takes two in a row. Common practice, no source.
    #[test]
    fn a_step_is_earned_by_two_sessions_running_at_the_goal() {
        let cases: [(&str, &[u16], &[&str]); 5] = [
            ("two running", &[10, 10, 11, 12, 12], &["T4 14-"]),
            ("one is not enough", &[10, 10, 11, 12, 11, 12], &[]),
            ("under the goal", &[10, 10, 11, 11, 11, 11], &[]),
            ("no goal before three sessions", &[12, 12], &[]),
            (
                "stands though the next is worse",
                &[10, 10, 11, 12, 12, 9],
                &["T4 14-"],
            ),
        ];
        for (name, counts, expected) in cases {
            let history = history(twice_a_week(1, counts));
            assert_eq!(lives(&history, &["T4"], 20), expected, "{name}");
        }
    }

    #[test]
    fn a_step_is_not_earned_when_it_was_hard_or_hurt_or_on_one_side() {
        let last_two = |change: fn(Session) -> Session| {
            let mut sessions = twice_a_week(1, &[10, 10, 11, 12, 12]);
            let last = sessions.pop().unwrap();
            sessions.push(change(last));
            lives(&history(sessions), &["T4"], 20)
        };
        let earned = ["T4 14-"];
        assert_eq!(last_two(|session| session.effort(7.0)), earned);
        assert_eq!(last_two(|session| session.effort(7.5)), [""; 0]);
        assert_eq!(last_two(|session| session.pain(2)), earned);
        assert_eq!(last_two(|session| session.pain(3)), [""; 0]);
        assert_eq!(
            last_two(|mut session| {
                session.sets.retain(|set| set.side == Side::Left);
                session
            }),
            [""; 0]
        );
        // The slower side counts: 14 and 11 are 25 a minute together.
        assert_eq!(
            last_two(|mut session| {
                session.sets[0].work = half_minute(14);
                session.sets[1].work = half_minute(11);
                session
            }),
            [""; 0]
        );
    }

    /// T3: the coach's goal stands before the default, from the day its block begins.
    #[test]
    fn the_coachs_goal_counts() {
        let aiming_at = |rpm: f64| {
            let block = block(Hands::Two, 1, 7, 40, with_goal(rpm));
            let sessions = twice_a_week(1, &[10, 10, 11, 12, 12]);
            History::new(sessions, rack(), Some(vec![block]))
        };
        assert_eq!(lives(&aiming_at(26.0), &["T4"], 20), [""; 0]);
        // 22 a minute is 11 in half a minute: reached on day 7 and on day 10.
        assert_eq!(lives(&aiming_at(22.0), &["T4"], 20), ["T4 10-"]);
    }

    #[test]
    fn a_step_earned_ends_with_a_bigger_club_or_when_the_club_is_left() {
        let counts = [10, 10, 11, 12, 12];
        let mut sessions = twice_a_week(1, &counts);
        assert_eq!(lives(&history(sessions.clone()), &["T4"], 41), ["T4 14-"]);
        assert_eq!(lives(&history(sessions.clone()), &["T4"], 42), ["T4 14-42"]);
        sessions.push(session(17).against_the_clock(2, &[9]));
        assert_eq!(lives(&history(sessions.clone()), &["T4"], 20), ["T4 14-17"]);
        // Back at the old club for a while: beside the bigger club there is nothing to step up from.
        sessions.push(session(21).against_the_clock(1, &[12]));
        sessions.push(session(24).against_the_clock(1, &[12]));
        assert_eq!(lives(&history(sessions.clone()), &["T4"], 25), ["T4 14-17"]);
        // Once the bigger club counts as left, there is again.
        sessions.push(session(45).against_the_clock(1, &[12]));
        sessions.push(session(48).against_the_clock(1, &[12]));
        assert_eq!(
            lives(&history(sessions), &["T4"], 50),
            ["T4 14-17", "T4 45-"]
        );
    }

    #[test]
    fn a_lighter_club_ends_a_step_earned_only_after_four_sessions() {
        let mut sessions: Vec<Session> = twice_a_week(2, &[10, 10, 11, 12, 12]);
        for on in [17, 21, 24] {
            sessions.push(session(on).against_the_clock(1, &[12]));
        }
        assert_eq!(lives(&history(sessions.clone()), &["T4"], 25), ["T4 14-"]);
        sessions.push(session(28).against_the_clock(1, &[12]));
        assert_eq!(lives(&history(sessions), &["T4"], 29), ["T4 14-28"]);
    }

    /// T6: from 24 a minute down to 20 with day-to-day noise of about 3 %: that is a fall of 17 %.
    #[test]
    fn falling_takes_two_bad_sessions_and_ends_with_recovery() {
        let steady = [240, 243, 236, 241, 245, 238, 240, 242];
        let with = |more: &[u16]| {
            let counts: Vec<u16> = steady.iter().chain(more).copied().collect();
            lives(&history(twice_a_week(1, &counts)), &["T6"], 60)
        };
        assert_eq!(with(&[]), [""; 0]);
        assert_eq!(with(&[200]), [""; 0], "one bad day");
        assert_eq!(with(&[200, 240]), [""; 0], "one bad day");
        assert_eq!(with(&[236, 233]), [""; 0], "within the noise");
        assert_eq!(with(&[200, 205]), ["T6 31-59"], "left after 28 days");
        assert_eq!(with(&[200, 205, 200, 239]), ["T6 31-38"]);
        // After six sessions on the new level it is no longer falling.
        assert_eq!(
            with(&[200, 203, 199, 202, 200, 204, 198, 201]),
            ["T6 31-52"]
        );
    }

    /// After 28 days without the club a lower count is no fall: the series begins again.
    #[test]
    fn a_long_gap_is_no_fall() {
        let with_gap = |gap: i64| {
            let counts = [240, 243, 236, 241, 245, 238, 240, 242];
            let mut sessions = twice_a_week(1, &counts);
            for (on, count) in [(slot(7) + gap, 200), (slot(7) + gap + 3, 205)] {
                sessions.push(session(on).against_the_clock(1, &[count]));
            }
            lives(&history(sessions), &["T6"], slot(7) + gap + 3)
        };
        assert_eq!(with_gap(27), [format!("T6 {}-", slot(7) + 30)]);
        assert_eq!(with_gap(28), [""; 0]);
    }

    /// T5: 2 % a week for six weeks, then level; day-to-day noise of about 1 %, worked into the counts by
    /// hand. How often the judgement itself is right is measured beside it.
    #[test]
    fn stalled_ends_with_a_new_best() {
        let climb = [200, 202, 203, 207, 208, 211, 211, 215, 217, 219, 220, 224];
        let level = [222, 224, 221, 225, 223, 222, 224, 221, 223, 222];
        let with = |more: &[u16]| {
            let counts: Vec<u16> = climb.iter().chain(more).copied().collect();
            let last = slot(counts.len() as i64 - 1);
            lives(&history(twice_a_week(1, &counts)), &["T5"], last)
        };
        assert_eq!(with(&[]), [""; 0], "climbing");
        let found = with(&level);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(
            found[0].starts_with("T5 ") && found[0].ends_with('-'),
            "{found:?}"
        );
        let on = slot(22);
        let new_best = with(&[&level[..], &[230]].concat());
        assert!(new_best[0].ends_with(&format!("-{on}")), "{new_best:?}");
        // 240 is the goal.
        let at_goal = with(&[&level[..], &[240]].concat());
        assert!(at_goal[0].ends_with(&format!("-{on}")), "{at_goal:?}");
    }

    /// One lucky day of 250, then as above; afterwards it climbs again, without another 250.
    #[test]
    fn stalled_ends_once_it_climbs_again() {
        let mut counts = vec![
            200, 202, 203, 207, 208, 250, 211, 215, 217, 219, 220, 224, 222, 224, 221, 225, 223,
            222, 224, 221, 223, 222,
        ];
        let level = counts.len();
        counts.extend([226, 229, 231, 234, 236, 238, 239, 241, 243, 245]);
        let scheme = with_goal(600.0);
        let blocks = Some(vec![block(Hands::Two, 1, 0, 200, scheme)]);
        let history = History::new(twice_a_week(1, &counts), rack(), blocks);
        let found = lives(&history, &["T5"], slot(counts.len() as i64 - 1));
        let until: i64 = found[0].split_once('-').unwrap().1.parse().unwrap();
        assert!(until > slot(level as i64), "{found:?}");
    }

    /// The coach lowers the goal: 221 in half a minute is at it, and no new best.
    #[test]
    fn stalled_ends_at_the_goal() {
        let counts = [
            200, 202, 203, 207, 208, 211, 211, 215, 217, 219, 220, 224, 222, 224, 221, 225, 223,
            222, 224, 221, 223, 222, 222,
        ];
        let lowered = block(Hands::Two, 1, slot(22), 200, with_goal(442.0));
        let history = History::new(twice_a_week(1, &counts), rack(), Some(vec![lowered]));
        let found = lives(&history, &["T5"], slot(22));
        assert!(found[0].ends_with(&format!("-{}", slot(22))), "{found:?}");
    }

    #[test]
    fn level_at_the_goal_is_not_stalled() {
        let climb = [200, 202, 203, 210, 215, 220, 226, 231, 236, 241, 243, 243];
        let level = [243, 241, 244, 242, 243, 241, 242, 243, 241, 239, 238, 239];
        let counts: Vec<u16> = climb.into_iter().chain(level).collect();
        let found = lives(&history(twice_a_week(1, &counts)), &["T5"], 100);
        assert_eq!(found, [""; 0]);
    }

    #[test]
    fn the_evidence_names_the_best_and_when() {
        let history = history(twice_a_week(1, &[10, 10, 11, 13, 12]));
        let episode = only(&history, Rule::T4, 20);
        let Evidence::Density(figures) = episode.flag.evidence else {
            panic!("density evidence");
        };
        assert_eq!((figures.density_rpm, figures.goal_rpm), (24.0, Some(24.0)));
        assert_eq!((figures.best_rpm, figures.best_on), (26.0, day(10)));
        assert_eq!((figures.sessions_since_best, figures.sessions), (1, 5));
    }

    #[test]
    fn another_interval_is_another_key() {
        let mut sessions = twice_a_week(1, &[10, 10, 11, 12]);
        let minute = crate::training::Work::Interval {
            seconds: Seconds::new(60).unwrap(),
            reps: super::super::scenario::reps(24),
        };
        sessions.push(Side::BOTH.into_iter().fold(session(14), |session, side| {
            session.set(1, Hands::Two, 1, side, minute)
        }));
        assert_eq!(lives(&history(sessions), &["T4"], 20), [""; 0]);
    }

    #[test]
    fn a_club_of_which_nothing_is_known_can_still_be_finished() {
        let history = History::new(
            twice_a_week(9, &[10, 10, 11, 12, 12]),
            vec![club(1, 5.0, 20.0)],
            None,
        );
        assert_eq!(lives(&history, &["T4"], 20), ["T4 14-"]);
    }

    /// Repeatable chance: a linear congruential generator with the constants of Knuth's MMIX; normal by
    /// Box and Muller.
    struct Chance(u64);

    impl Chance {
        fn uniform(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            f64::from((self.0 >> 32) as u32) / 4_294_967_296.0
        }

        fn normal(&mut self) -> f64 {
            let (radius, angle) = (1.0 - self.uniform(), std::f64::consts::TAU * self.uniform());
            (-2.0 * radius.ln()).sqrt() * angle.cos()
        }
    }

    /// Share of simulated athletes for whom T6 comes up after one of the sessions `watched`: 24 a minute
    /// at first, day-to-day noise of 3 % that carries over by `carry_over`, growth a week, and from the
    /// session numbered 16 on a fall by `fall`.
    fn share_falling(
        carry_over: f64,
        growth: f64,
        fall: f64,
        watched: std::ops::Range<usize>,
    ) -> f64 {
        const ATHLETES: u32 = 2_000;
        let mut chance = Chance(20_261_125);
        let mut found = 0;
        for _ in 0..ATHLETES {
            let mut form = chance.normal();
            let series: Vec<Point> = (0..24)
                .map(|number| {
                    let fresh = (1.0f64 - carry_over * carry_over).sqrt();
                    form = carry_over * form + fresh * chance.normal();
                    let level = 24.0 * (1.0 + growth).powf(number as f64 / 2.0);
                    let after = if number >= 16 { 1.0 - fall } else { 1.0 };
                    // Ten sets of half a minute, in whole reps.
                    let reps = (level * after * (1.0 + 0.03 * form) * 5.0).round();
                    point(slot(number), reps as u32, 300)
                })
                .collect();
            let alarm = watched
                .clone()
                .any(|last| falling(&series[..=last]).is_some());
            found += u32::from(alarm);
        }
        f64::from(found) / f64::from(ATHLETES)
    }

    fn point(on: i64, reps: u32, seconds: u32) -> Point {
        let rpm = Density::of_work(reps, seconds).unwrap().rpm();
        Point {
            on: day(on),
            rpm,
            slower_rpm: Some(rpm),
            easy_enough: true,
            work: Work {
                day: 0,
                reps,
                seconds,
                sets: 10,
            },
        }
    }

    /// What T6 reaches, measured: over 12 weeks without a fall it comes up for 2 % of those who are level
    /// (7 % where a day carries over by 0.3) and for under 1 % of those who grow; a fall of 15 % is seen
    /// within three weeks in 96 % and 88 %.
    #[test]
    fn falling_is_seldom_noise() {
        for (carry_over, growth, most) in [
            (0.0, 0.0, 0.035),
            (0.3, 0.0, 0.085),
            (0.0, 0.015, 0.01),
            (0.3, 0.015, 0.01),
        ] {
            let share = share_falling(carry_over, growth, 0.0, 0..24);
            assert!(share <= most, "{carry_over} {growth}: {share}");
        }
        for (growth, least) in [(0.0, 0.94), (0.015, 0.85)] {
            let share = share_falling(0.0, growth, 0.15, 16..22);
            assert!(share >= least, "{growth}: {share}");
        }
    }
}
