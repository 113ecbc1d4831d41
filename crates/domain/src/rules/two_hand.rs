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
//! - **T6** Falling: the last two sessions lie further under the recent level than this athlete's own
//!   day-to-day noise explains. Ours.
//!
//! A flag of this family ends, beside its own reasons, once a bigger club has been worked in the
//! movement, once four sessions running used other clubs, or when the key has not been worked for
//! 28 days. After such a gap the series that T6 looks at begins again, the goal does not.

use std::collections::BTreeMap;

use time::Date;

use super::club_use::{self, ClubUse};
use super::log::Log;
use super::{Episode, Evidence, Flag, Rule, Severity, Subject};
use crate::id::{LoadingId, MovementId};
use crate::plan::Scheme;
use crate::policy::Policy;
use crate::stats::{mann_kendall, median, theil_sen};
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
}

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut keys: BTreeMap<Key, Vec<(usize, Point)>> = BTreeMap::new();
    for (index, (session, bouts)) in log.sessions().enumerate() {
        for bout in bouts.iter().filter(|bout| bout.hands == Hands::Two) {
            let (Some(seconds), Some(density)) = (bout.seconds, bout.density()) else {
                continue;
            };
            let key = Key {
                movement: bout.movement,
                loading: bout.loading,
                seconds,
            };
            let point = Point {
                on: session.on,
                rpm: density.rpm(),
                slower_rpm: bout.slower_side().map(|density| density.rpm()),
                easy_enough: log.easy_enough(session),
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
    /// Where the series begins that T6 looks at: after the last gap.
    series_from: usize,
    goal: Option<f64>,
    /// Sessions running that would earn a step.
    running: usize,
    in_use: ClubUse,
    ever_earned: bool,
    earned: Option<Date>,
    falling: Option<Falling>,
    done: Vec<Episode>,
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
            series_from: 0,
            goal: None,
            running: 0,
            in_use: ClubUse::default(),
            ever_earned: false,
            earned: None,
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
        for rule in [Rule::T4, Rule::T6] {
            self.end(rule, None);
        }
        self.done
    }

    /// Ends everything if the key was left before or on this day.
    fn leave_if_gone_by(&mut self, day: Date) {
        if let Some(left) = self.in_use.left_by(self.log, day) {
            self.end_all(left);
            self.series_from = self.points.len();
        }
    }

    fn work(&mut self, point: Point) {
        self.points.push(point);
        let first = self.points.len().min(self.log.policy.goal_start_sessions);
        let first: Vec<f64> = self.points[..first].iter().map(|point| point.rpm).collect();
        self.goal = goal_on(
            self.log.history,
            self.log.policy,
            self.key,
            point.on,
            &first,
        );
        self.judge_earned(point);
        self.judge_falling(point);
    }

    fn judge_earned(&mut self, point: Point) {
        let at_goal = self
            .goal
            .zip(point.slower_rpm)
            .is_some_and(|(goal, slower)| at_or_over(slower, goal));
        self.running = if at_goal && point.easy_enough {
            self.running + 1
        } else {
            0
        };
        if self.running < self.log.policy.earned_in_a_row || self.earned.is_some() {
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

    fn judge_falling(&mut self, point: Point) {
        let found = falling(&self.points[self.series_from..]);
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
        for rule in [Rule::T4, Rule::T6] {
            self.end(rule, Some(on));
        }
        self.running = 0;
    }

    /// Writes an episode down, if one stands.
    fn end(&mut self, rule: Rule, until: Option<Date>) {
        let since = match rule {
            Rule::T4 => self.earned.take(),
            _ => self.falling.take().map(|falling| falling.since),
        };
        let (Some(since), Some(evidence)) = (since, self.evidence()) else {
            return;
        };
        let severity = match rule {
            Rule::T4 => Severity::Note,
            _ => Severity::Look,
        };
        self.done.push(Episode {
            flag: Flag {
                rule,
                severity,
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

    fn evidence(&self) -> Option<Evidence> {
        let last = self.points.last()?;
        let mut best = self.points[0];
        let mut since_best = 0;
        for point in &self.points[1..] {
            since_best += 1;
            if point.rpm > best.rpm {
                best = *point;
                since_best = 0;
            }
        }
        let series = &self.points[self.series_from.min(self.points.len() - 1)..];
        let recent = &series[series.len().saturating_sub(TREND_SESSIONS)..];
        let recent: Vec<(f64, f64)> = recent
            .iter()
            .map(|point| ((point.on - recent[0].on).whole_days() as f64, point.rpm))
            .collect();
        let slope = theil_sen(&recent);
        let interval = slope.and_then(|slope| slope.interval);
        let kendall = mann_kendall(&recent);
        Some(Evidence::Density {
            density_rpm: last.rpm,
            goal_rpm: self.goal,
            best_rpm: best.rpm,
            best_on: best.on,
            sessions_since_best: since_best,
            slope_rpm_per_week: slope.map(|slope| 7.0 * slope.per_day),
            slope_low: interval.map(|interval| 7.0 * interval.low),
            slope_high: interval.map(|interval| 7.0 * interval.high),
            kendall_s: kendall.map(|kendall| kendall.s),
            kendall_p: kendall.map(|kendall| kendall.p_two_sided),
            sessions: self.points.len(),
        })
    }
}

/// Sessions over which the evidence gives the trend: four weeks at two a week.
const TREND_SESSIONS: usize = 8;

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
/// How many standard errors under the level count as more than noise.
const FALL_ERRORS: f64 = 3.0;

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
