//! T · Two-hand phase: work for time.
//!
//! Everything here is judged at one *key*: a movement held with two hands, a club and an interval
//! length. Work against the clock with one hand or with fingertips has a density too
//! ([`crate::training::Bout::density`]), but the rules below are those of the two-hand phase: with
//! one hand the sets are counted, not the clock.
//!
//! - **T1** Sets are intervals (default 30 s). The club and interval stay, the count must climb.
//!   Source: common practice.
//! - **T2** Density = 60·Σreps/Σseconds over a session's interval sets at one key (movement, hands, club,
//!   interval). Source: definition.
//! - **T3** The club's goal density is set by the coach, default 1.2 × the median of the first three sessions at
//!   that key. Source: common practice.
//! - **T4** Step earned: density at or over the goal on both sides in two consecutive sessions, effort ≤ 7,
//!   pain ≤ 2. Source: two in a row mirrors the published 2-for-2 rule (NSCA, Essentials of Strength Training and
//!   Conditioning, from memory); the application to density is common practice.
//! - **T5** Stalled: the count has stopped climbing and the goal is not reached. Source: ours; how often it is
//!   right and wrong was measured on simulated athletes ([`crate::stats::judge_climb`]).
//! - **T6** Falling: density is down by more than its own day-to-day noise explains. Source: ours; measured below.
//!
//! T5 ends with a new best, at the goal, or once two sessions running say that it climbs again, and is not raised
//! again within four sessions of its end; T6 once a
//! session is back at the old level, or after six sessions on the new one. Every flag of this family ends in any
//! case once a bigger club has been worked in the movement, once four sessions running used other clubs, or when
//! the key has not been worked for 28 days ([`super::club_use`]). After such a gap the series that T5 and T6 look
//! at begins again, the goal does not.

use std::collections::BTreeMap;

use time::Date;

use super::club_use::{self, ClubUse};
use super::life::{about_club, episode};
use super::log::Log;
use super::{Episode, Evidence, Rule, Subject};
use crate::density::{self, DensityFigures, Reading};
use crate::id::{LoadingId, MovementId};
use crate::plan::Scheme;
use crate::policy::Policy;
use crate::stats::{Climb, Work, judge_climb, median};
use crate::training::{Hands, History};
use crate::units::Seconds;

/// **T3** The club's goal density is set by the coach: the newest block's that has begun by the day.
fn coachs_goal(history: &History, key: Key, day: Date) -> Option<f64> {
    let blocks = history.blocks.iter().flatten();
    let begun = blocks.filter(|block| {
        (block.movement, block.hands, block.loading) == (key.movement, Hands::Two, key.loading)
            && block.from <= day
    });
    let goals = begun.filter_map(|block| match &block.scheme {
        Scheme::IntervalSets(sets) if sets.seconds == key.seconds => {
            Some((block.from, sets.goal?.rpm()))
        }
        _ => None,
    });
    let newest = goals.max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    newest.map(|(_, goal)| goal)
}

/// **T3** Default 1.2 × the median of the first three sessions at that key.
fn default_goal(first_sessions: &[f64], policy: &Policy) -> Option<f64> {
    let start = first_sessions.get(..policy.goal_start_sessions)?;
    let start = median(start).filter(|rpm| *rpm > 0.0)?;
    Some(policy.goal_over_start * start)
}

/// **T4** Density at or over the goal on both sides (but for rounding): the slower side's counts.
pub(crate) fn at_the_goal_on_both_sides(slower_side: Option<f64>, goal: Option<f64>) -> bool {
    let both = slower_side.zip(goal);
    both.is_some_and(|(slower, goal)| slower >= goal * (1.0 - 1e-9))
}

/// **T4** In two consecutive sessions, effort ≤ 7, pain ≤ 2 ([`Log::easy_enough`]): step earned.
const fn step_earned(sessions_running: usize, policy: &Policy) -> bool {
    sessions_running >= policy.earned_in_a_row
}

/// **T5** Stalled: the count has stopped climbing and the goal is not reached.
fn stalled(series: &[Work], at_the_goal: bool) -> bool {
    !at_the_goal && matches!(judge_climb(series), Climb::Stalled { .. })
}

/// **T5** A stall that ended is not called again within four sessions: whoever has just had a new best is not told that
/// the count has stopped climbing. Ours.
const fn just_climbed(sessions_since_stall: usize) -> bool {
    sessions_since_stall < 4
}

/// **T6** Falling: density is down by more than its own day-to-day noise explains. The last two sessions both
/// lie under the level of the six before, and their mean by more than noise; gives the density at which the
/// athlete is back.
fn falling(series: &[Point]) -> Option<f64> {
    if series.len() < LEVEL_SESSIONS + 2 {
        return None;
    }
    let (before, last) = series.split_at(series.len() - 2);
    let level = median(&densities(&before[before.len() - LEVEL_SESSIONS..]))?;
    let noise = day_to_day_noise(before, level)?;
    // Variance of the mean of two, and of the median of six (π/2n).
    let error = noise * (0.5 + std::f64::consts::FRAC_PI_2 / LEVEL_SESSIONS as f64).sqrt();
    let mean = f64::midpoint(last[0].rpm, last[1].rpm);
    let back = level - noise;
    let both_under = last.iter().all(|point| point.rpm < back);
    (both_under && mean < level - FALL_ERRORS * error).then_some(back)
}

/// **T6** An athlete's own day-to-day noise: the median absolute deviation of the differences from one session to
/// the next, which neither a steady climb nor one bad day inflates, drawn towards 3 % while there are few.
fn day_to_day_noise(before: &[Point], level: f64) -> Option<f64> {
    let lately = densities(&before[before.len().saturating_sub(NOISE_SESSIONS)..]);
    let steps: Vec<f64> = lately.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let middle = median(&steps)?;
    let deviations: Vec<f64> = steps.iter().map(|step| (step - middle).abs()).collect();
    // 1.4826 makes the median absolute deviation of normal noise its standard deviation; a difference
    // of two sessions has twice the variance of one.
    let own_variance = (1.4826 * median(&deviations)?).powi(2) / 2.0;
    let usual_variance = (USUAL_NOISE * level).powi(2);
    let count = steps.len() as f64;
    let weighed = count * own_variance + USUAL_NOISE_WEIGHT * usual_variance;
    Some((weighed / (count + USUAL_NOISE_WEIGHT)).sqrt())
}

/// Sessions running that say it climbs, after which a stall is over (T5): one may be chance.
const CLIMBS_AGAIN: usize = 2;
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

fn densities(points: &[Point]) -> Vec<f64> {
    points.iter().map(|point| point.rpm).collect()
}

// How T4 to T6 are walked through a log, a key at a time.

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
                slower_rpm: reading.slower_rpm,
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
    coachs_goal(history, key, day).or_else(|| default_goal(first, policy))
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
    /// Sessions since a stall ended; `None` without one since the last gap.
    since_stall: Option<usize>,
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
            since_stall: None,
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
            self.since_stall = None;
            self.reached_rpm = 0.0;
        }
    }

    fn work(&mut self, point: Point) {
        self.points.push(point);
        self.series.push(point.work);
        self.readings.push(Reading {
            on: point.on,
            rpm: point.rpm,
            slower_rpm: point.slower_rpm,
        });
        self.best_at = density::better_of(&self.readings, self.best_at, self.readings.len() - 1);
        self.best_since_gap_rpm = self.best_since_gap_rpm.max(point.rpm);
        let first = self.points.len().min(self.log.policy.goal_start_sessions);
        let first = densities(&self.points[..first]);
        self.goal = goal_on(
            self.log.history,
            self.log.policy,
            self.key,
            point.on,
            &first,
        );
        let at_goal = at_the_goal_on_both_sides(point.slower_rpm, self.goal);
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
        if !step_earned(self.running, self.log.policy) {
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
        match &mut self.stalled {
            None => {
                self.since_stall = self.since_stall.map(|sessions| sessions + 1);
                let done = self.goal.is_some_and(|goal| goal <= self.reached_rpm);
                let bigger_in_use = self.in_use.bigger_in_use(self.log, point.on);
                let too_soon = self.since_stall.is_some_and(just_climbed);
                if !done && !bigger_in_use && !too_soon && stalled(&self.series, at_goal) {
                    self.stalled = Some(Stalled {
                        since: point.on,
                        best_rpm: self.best_since_gap_rpm,
                        climbing: 0,
                    });
                }
            }
            Some(standing) => {
                standing.climbing = match judge_climb(&self.series) {
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
        let mut recovered_rpm = None;
        let since = match rule {
            Rule::T4 => self.earned.take(),
            Rule::T5 => self.stalled.take().map(|stalled| {
                self.since_stall = Some(0);
                stalled.since
            }),
            _ => self.falling.take().map(|falling| {
                recovered_rpm = Some(falling.recovered_rpm);
                falling.since
            }),
        };
        let Some((since, figures)) = since.zip(self.figures()) else {
            return;
        };
        let evidence = Evidence::Density(DensityFigures {
            recovered_rpm,
            ..figures
        });
        let subject = Subject {
            seconds: Some(self.key.seconds.get()),
            ..about_club(self.key.movement, Hands::Two, self.key.loading)
        };
        self.done
            .push(episode(rule, subject, (since, until), evidence));
    }

    /// The points since the last gap.
    fn since_gap(&self) -> &[Point] {
        &self.points[self.points.len() - self.series.len()..]
    }

    /// The figures after the last session at the key.
    fn figures(&self) -> Option<DensityFigures> {
        let last = self.readings.last()?.on;
        density::figures(&self.readings, self.best_at, &self.series, self.goal, last)
    }
}

/// The rules of this family that have episodes.
const RULES: [Rule; 3] = [Rule::T4, Rule::T5, Rule::T6];

#[cfg(test)]
mod examples {
    use super::*;
    use crate::plan::IntervalSets;
    use crate::scenario::{
        Day, MILL, PULLOVER, block, club, date, examples, examples_by_day, history, of_moment,
        only, rack, session, twice_a_week,
    };
    use crate::training::{BlockSpan, Side};
    use crate::units::Density;

    /// Sessions on days 0, 3, 7, 10, …, two a week, with one set of 30 s on each side of each count.
    fn counts(counts: &[u16]) -> Vec<Day> {
        (0..)
            .zip(counts)
            .map(|(number, count)| session(twice_a_week(number)).against_the_clock(1, &[*count]))
            .collect()
    }

    /// The goal of the coach's block with club 1 from this day on.
    fn goal_from(from: i64, rpm: f64) -> BlockSpan {
        let scheme = Scheme::IntervalSets(IntervalSets {
            sets: 1,
            seconds: half_a_minute(),
            rest_seconds: 60,
            goal: Some(Density::from_rpm(rpm).unwrap()),
        });
        block(Hands::Two, 1, (from, 200), scheme)
    }

    fn with_goals(days: Vec<Day>, blocks: &[BlockSpan]) -> History {
        let mut history = history(days, rack());
        history.blocks = Some(blocks.to_vec());
        history
    }

    fn half_a_minute() -> Seconds {
        Seconds::new(30).unwrap()
    }

    // By definition: 60·Σreps/Σseconds.
    #[test]
    fn t2_density() {
        for (words, seconds, pairs, expected) in [
            ("10 and 10 in 30 s", 30, &[(10, 10)][..], 20.0),
            ("12 and 8 in 30 s", 30, &[(12, 8)], 20.0),
            ("10 and 10 in a minute", 60, &[(10, 10)], 10.0),
            ("10 and 10, then 14 and 14", 30, &[(10, 10), (14, 14)], 24.0),
        ] {
            let day = session(0).sets((MILL, Hands::Two, club(1)), seconds, pairs);
            let density = day.0.bouts()[0].density();
            assert_eq!(density.map(Density::rpm), Some(expected), "{words}");
        }
    }

    // Common practice, no source.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t3_default_goal() {
        for (words, first_sessions, expected) in [
            ("two sessions", &[20.0, 20.0][..], None),
            ("three sessions", &[20.0, 20.0, 22.0], Some(24.0)),
            ("three in another order", &[30.0, 10.0, 20.0], Some(24.0)),
            ("the fourth does not count", &[20.0, 20.0, 20.0, 90.0], Some(24.0)),
            ("nothing was counted", &[0.0, 0.0, 0.0], None),
        ] {
            let goal = default_goal(first_sessions, &Policy::default());
            assert_eq!(goal, expected, "{words}");
        }
        let of_none = Policy {
            goal_start_sessions: 0,
            ..Policy::default()
        };
        assert_eq!(default_goal(&[20.0, 20.0, 20.0], &of_none), None);
    }

    // Common practice, no source. The sessions on days 0, 3 and 7 would make it 24.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t3_the_coachs_goal() {
        let but = |change: fn(&mut BlockSpan)| {
            let mut block = goal_from(5, 26.0);
            change(&mut block);
            vec![block]
        };
        let minutes = |block: &mut BlockSpan| {
            if let Scheme::IntervalSets(sets) = &mut block.scheme {
                sets.seconds = Seconds::new(60).unwrap();
            }
        };
        let no_goal = |block: &mut BlockSpan| {
            if let Scheme::IntervalSets(sets) = &mut block.scheme {
                sets.goal = None;
            }
        };
        let key = (MILL, Hands::Two, club(1), half_a_minute());
        for (words, blocks, day, expected) in [
            ("no block, two sessions", vec![], 6, None),
            ("no block, three sessions", vec![], 7, Some(24.0)),
            ("before the block", vec![goal_from(5, 26.0)], 4, None),
            ("on its first day", vec![goal_from(5, 26.0)], 5, Some(26.0)),
            ("ever after", vec![goal_from(5, 26.0)], 900, Some(26.0)),
            ("of two the newer", vec![goal_from(9, 22.0), goal_from(5, 26.0)], 9, Some(22.0)),
            ("until it begins the older", vec![goal_from(9, 22.0), goal_from(5, 26.0)], 8, Some(26.0)),
            ("of two from one day the higher", vec![goal_from(5, 26.0), goal_from(5, 22.0)], 8, Some(26.0)),
            ("with another club", but(|block| block.loading = club(2)), 8, Some(24.0)),
            ("with one hand", but(|block| block.hands = Hands::One), 8, Some(24.0)),
            ("of another movement", but(|block| block.movement = PULLOVER), 8, Some(24.0)),
            ("of another interval", but(minutes), 8, Some(24.0)),
            ("without a goal", but(no_goal), 8, Some(24.0)),
        ] {
            let history = with_goals(counts(&[10, 10, 11]), &blocks);
            let goal = goal_density(&history, &Policy::default(), key, date(day));
            assert_eq!(goal, expected, "{words}");
        }
        let one_hand = (MILL, Hands::One, club(1), half_a_minute());
        let history = with_goals(counts(&[10, 10, 11]), &[]);
        assert_eq!(
            goal_density(&history, &Policy::default(), one_hand, date(9)),
            None
        );
        let other_club = (MILL, Hands::Two, club(2), half_a_minute());
        assert_eq!(
            goal_density(&history, &Policy::default(), other_club, date(9)),
            None
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t4_at_the_goal_on_both_sides() {
        for (words, slower_side, goal, expected) in [
            ("24 of 24", Some(24.0), Some(24.0), true),
            ("24 of 24 but for rounding", Some(24.0 - 1e-9), Some(24.0), true),
            ("23.9 of 24", Some(23.9), Some(24.0), false),
            ("one side only", None, Some(24.0), false),
            ("no goal yet", Some(24.0), None, false),
        ] {
            assert_eq!(
                at_the_goal_on_both_sides(slower_side, goal),
                expected,
                "{words}"
            );
        }
    }

    /// The start is the median of 10, 10, 11 in half a minute = 20 a minute, the goal 24: 12 in half a minute.
    // NSCA's 2-for-2 rule, from memory, for two in a row; otherwise common practice, no source.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t4_step_earned() {
        let last = |change: fn(Day) -> Day| {
            let mut days = counts(&[10, 10, 11, 12, 12]);
            days[4] = change(days[4].clone());
            days
        };
        let pair = |left, right| {
            let mut days = counts(&[10, 10, 11, 12]);
            days.push(session(14).sets((MILL, Hands::Two, club(1)), 30, &[(left, right)]));
            days
        };
        let left_only = |mut day: Day| {
            day.0.sets.retain(|set| set.side == Side::Left);
            day
        };
        let a_minute = |count| session(14).sets((MILL, Hands::Two, club(1)), 60, &[(count, count)]);
        examples(
            &["T4"],
            [
                ("twice running", counts(&[10, 10, 11, 12, 12]), "T4 from day 14"),
                ("once", counts(&[10, 10, 11, 12]), "nothing"),
                ("twice, not running", counts(&[10, 10, 11, 12, 11, 12]), "nothing"),
                ("under the goal", counts(&[10, 10, 11, 11, 11, 11]), "nothing"),
                ("no goal before three sessions", counts(&[12, 12]), "nothing"),
                ("it stands though the next is worse", counts(&[10, 10, 11, 12, 12, 9]), "T4 from day 14"),
                ("effort 7", last(|day| day.effort(7.0)), "T4 from day 14"),
                ("effort 7.5", last(|day| day.effort(7.5)), "nothing"),
                ("pain 2", last(|day| day.pain(2, "")), "T4 from day 14"),
                ("pain 3", last(|day| day.pain(3, "")), "nothing"),
                ("13 and 12", pair(13, 12), "T4 from day 14"),
                ("14 and 11, 25 a minute together", pair(14, 11), "nothing"),
                ("11 and 14", pair(11, 14), "nothing"),
                ("one side only", last(left_only), "nothing"),
                (
                    "another interval is another key",
                    [counts(&[10, 10, 11, 12]), vec![a_minute(24)]].concat(),
                    "nothing",
                ),
                (
                    "another movement too",
                    [
                        counts(&[10, 10, 11, 12]),
                        vec![session(14).against_the_clock(1, &[12]).moving(PULLOVER)],
                    ]
                    .concat(),
                    "nothing",
                ),
                (
                    "fingertips are no two-hand work",
                    counts(&[10, 10, 11, 12, 12])
                        .into_iter()
                        .map(|mut day| {
                            day.0
                                .sets
                                .iter_mut()
                                .for_each(|set| set.hands = Hands::Fingertip);
                            day
                        })
                        .collect(),
                    "nothing",
                ),
            ],
        );
        let goal = |rpm| with_goals(counts(&[10, 10, 11, 12, 12]), &[goal_from(7, rpm)]);
        examples(
            &["T4"],
            [
                ("the coach asks for 24", goal(24.0), "T4 from day 14"),
                ("for 25", goal(25.0), "nothing"),
                ("for 22, which day 7 had", goal(22.0), "T4 from day 10"),
                (
                    "a club of which nothing is known",
                    history(counts(&[10, 10, 11, 12, 12]), vec![of_moment(2, 5.0, 20.0)]),
                    "T4 from day 14",
                ),
            ],
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t4_how_long() {
        let earned = |more: &[(i64, u128)]| {
            let mut days: Vec<Day> = [(0, 10), (3, 10), (7, 11), (10, 12), (14, 12)]
                .map(|(on, count)| session(on).against_the_clock(2, &[count]))
                .into();
            days.extend(
                more.iter()
                    .map(|(on, club)| session(*on).against_the_clock(*club, &[12])),
            );
            days
        };
        examples_by_day(
            &["T4"],
            [
                ("27 days without", earned(&[]), 41, "T4 from day 14"),
                ("28 days without", earned(&[]), 42, "T4 day 14 to 42"),
                ("a bigger club", earned(&[(17, 3)]), 20, "T4 day 14 to 17"),
                ("three sessions with a lighter one", earned(&[(17, 1), (21, 1), (24, 1)]), 25, "T4 from day 14"),
                ("four", earned(&[(17, 1), (21, 1), (24, 1), (28, 1)]), 29, "T4 day 14 to 28"),
                (
                    "three, back, and one more",
                    earned(&[(17, 1), (21, 1), (24, 1), (28, 2), (31, 1)]),
                    32,
                    "T4 from day 14",
                ),
                (
                    "back at the old club, beside the bigger one",
                    earned(&[(17, 3), (21, 2), (24, 2)]),
                    25,
                    "T4 day 14 to 17",
                ),
                (
                    "once the bigger one counts as left",
                    earned(&[(17, 3), (21, 2), (24, 2), (45, 2), (48, 2)]),
                    50,
                    "T4 day 14 to 17, T4 from day 45",
                ),
                (
                    "earned for the first time beside a bigger club: on record once",
                    [
                        vec![session(-3).against_the_clock(3, &[10])],
                        earned(&[(17, 2), (21, 2)]),
                    ]
                    .concat(),
                    21,
                    "T4 day 14 to 14",
                ),
            ],
        );
    }

    #[test]
    fn t4_the_figures() {
        let history = history(counts(&[10, 10, 11, 13, 12]), rack());
        let flag = only(&history, Rule::T4, 20).flag;
        assert_eq!(
            flag.subject,
            Subject {
                seconds: Some(30),
                ..about_club(MILL, Hands::Two, club(1))
            }
        );
        let Evidence::Density(figures) = flag.evidence else {
            panic!("density evidence");
        };
        assert_eq!((figures.density_rpm, figures.goal_rpm), (24.0, Some(24.0)));
        assert_eq!((figures.best_rpm, figures.best_on), (26.0, date(10)));
        assert_eq!((figures.sessions_since_best, figures.sessions), (1, 5));
    }

    /// 2 % a week for six weeks; day-to-day noise of about 1 %, worked into the counts by hand.
    const CLIMB: [u16; 12] = [200, 202, 203, 207, 208, 211, 211, 215, 217, 219, 220, 224];
    /// Then level. How often the judgement itself is right is measured beside it.
    const LEVEL: [u16; 10] = [222, 224, 221, 225, 223, 222, 224, 221, 223, 222];

    /// Since and until of T5, by the day of the last session.
    fn stalls(history: &History) -> Vec<(i64, Option<i64>)> {
        let number = |day: Date| (day - date(0)).whole_days();
        let last = history.sessions().last().unwrap().on;
        super::super::episodes(history, &Policy::default(), last)
            .into_iter()
            .filter(|episode| episode.flag.rule == Rule::T5)
            .map(|episode| (number(episode.flag.since), episode.until.map(number)))
            .collect()
    }

    #[test]
    fn t5_stalled() {
        let day = twice_a_week(22);
        let of = |lists: &[&[u16]]| stalls(&history(counts(&lists.concat()), rack()));
        assert_eq!(of(&[&CLIMB]), [], "climbing");
        let level = of(&[&CLIMB, &LEVEL]);
        let [(since, None)] = level[..] else {
            panic!("{level:?}");
        };
        // 225 on the day of session 15 was the best.
        assert_eq!(
            of(&[&CLIMB, &LEVEL, &[225]]),
            [(since, None)],
            "as good as the best"
        );
        assert_eq!(
            of(&[&CLIMB, &LEVEL, &[226]]),
            [(since, Some(day))],
            "a new best"
        );
        // 240 is the goal.
        assert_eq!(
            of(&[&CLIMB, &LEVEL, &[240]]),
            [(since, Some(day))],
            "at the goal"
        );
        // The coach lowers the goal: 221 in half a minute is at it, and no new best.
        let lowered = |rpm| {
            let days = counts(&[&CLIMB[..], &LEVEL, &[222]].concat());
            stalls(&with_goals(days, &[goal_from(day, rpm)]))
        };
        assert_eq!(lowered(442.0), [(since, Some(day))], "at the lower goal");
        assert_eq!(lowered(450.0), [(since, None)], "not at it");
    }

    /// A hair's breadth of a new best on session 22 ends it. What is level before is level after: called again, but not
    /// within four sessions.
    #[test]
    fn t5_is_not_called_again_at_once() {
        let again = [&CLIMB[..], &LEVEL, &[226, 221, 222, 221, 220, 221, 222]].concat();
        let stalls = stalls(&history(counts(&again), rack()));
        assert_eq!(stalls[0].1, Some(twice_a_week(22)));
        assert_eq!(stalls[1..], [(twice_a_week(26), None)]);
    }

    /// One lucky day of 250, then as above; afterwards it climbs again, without another 250.
    #[test]
    fn t5_ends_once_it_climbs_again() {
        let mut lucky = [&CLIMB[..], &LEVEL].concat();
        lucky[5] = 250;
        let level = lucky.len();
        lucky.extend([226, 229, 231, 234, 236, 238, 239, 241, 243, 245]);
        let stalls = stalls(&with_goals(counts(&lucky), &[goal_from(0, 600.0)]));
        let until = stalls[0].1.unwrap();
        assert!(until > twice_a_week(level as i64), "{stalls:?}");
    }

    #[test]
    fn t5_level_at_the_goal_is_not_stalled() {
        let climb = [200, 202, 203, 210, 215, 220, 226, 231, 236, 241, 243, 243];
        let level = [243, 241, 244, 242, 243, 241, 242, 243, 241, 239, 238, 239];
        assert_eq!(
            stalls(&history(counts(&[climb, level].concat()), rack())),
            []
        );
    }

    /// Worked out apart from this program, in Python: eight sessions about 24 a minute. The level is the median of
    /// the last six, 24.05; the noise 0.4661; back at 23.584; a fall once the mean of two is under 22.626.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t6_falling() {
        const STEADY: [f64; 8] = [24.0, 24.3, 23.6, 24.1, 24.5, 23.8, 24.0, 24.2];
        const NOISY: [f64; 8] = [24.0, 26.0, 22.5, 25.5, 23.0, 24.5, 22.0, 25.0];
        let wild_before = [
            &[18.0, 30.0, 19.0, 29.0][..],
            &STEADY,
            &[23.9, 24.1, 24.4, 23.7],
        ]
        .concat();
        for (words, before, last, back) in [
            ("just over the limit", &STEADY[..], [22.63, 22.63], None),
            ("just under it", &STEADY, [22.62, 22.62], Some(23.583_876)),
            ("the mean of the two", &STEADY, [21.70, 23.54], Some(23.583_876)),
            ("is what counts", &STEADY, [21.72, 23.54], None),
            ("both must lie under the level", &STEADY, [20.0, 23.59], None),
            ("in either order", &STEADY, [23.59, 20.0], None),
            ("one bad day", &STEADY, [20.0, 24.0], None),
            ("six sessions before, over", &STEADY[..6], [22.51, 22.51], None),
            ("six sessions before, under", &STEADY[..6], [22.50, 22.50], Some(23.544_249)),
            ("five sessions before say nothing", &STEADY[..5], [20.0, 20.0], None),
            ("noisy days, over", &NOISY, [19.70, 19.70], None),
            ("noisy days, under", &NOISY, [19.69, 19.69], Some(22.424_012)),
            ("wild days longer ago, over", &wild_before, [22.79, 22.79], None),
            ("wild days longer ago, under", &wild_before, [22.78, 22.78], Some(23.636_412)),
        ] {
            let series: Vec<Point> = (0..)
                .zip([before, &last].concat())
                .map(|(number, rpm)| point(number, (rpm * 100.0).round() as u32, 6000))
                .collect();
            match (falling(&series), back) {
                (None, None) => {}
                (Some(found), Some(back)) => {
                    assert!((found - back).abs() < 1e-6, "{words}: {found}")
                }
                other => panic!("{words}: {other:?}"),
            }
        }
    }

    /// From 24 a minute down to 20 with day-to-day noise of about 3 %: that is a fall of 17 %.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn t6_how_long() {
        let with =
            |more: &[u16]| counts(&[&[240, 243, 236, 241, 245, 238, 240, 242][..], more].concat());
        // Club 1 again so many days after the last of the eight sessions, and three days later.
        let after = |gap: i64| {
            let mut days = with(&[]);
            days.extend(
                [(24 + gap, 200), (27 + gap, 205)]
                    .map(|(on, count)| session(on).against_the_clock(1, &[count])),
            );
            days
        };
        examples(
            &["T6"],
            [
                ("steady", with(&[]), "nothing"),
                ("one bad day", with(&[200]), "nothing"),
                ("one bad day, then as before", with(&[200, 240]), "nothing"),
                ("within the noise", with(&[236, 233]), "nothing"),
                ("two bad days", with(&[200, 205]), "T6 from day 31"),
                ("and a third", with(&[200, 205, 200]), "T6 from day 31"),
                ("and back", with(&[200, 205, 200, 239]), "T6 day 31 to 38"),
                ("five sessions on the new level", with(&[200, 203, 199, 202, 200, 204, 198]), "T6 from day 31"),
                ("six", with(&[200, 203, 199, 202, 200, 204, 198, 201]), "T6 day 31 to 52"),
                ("27 days apart", after(27), "T6 from day 54"),
                ("28 days apart: the series begins again", after(28), "nothing"),
            ],
        );
        examples_by_day(
            &["T6"],
            [
                ("27 days without", with(&[200, 205]), 58, "T6 from day 31"),
                ("28 days without", with(&[200, 205]), 59, "T6 day 31 to 59"),
            ],
        );
    }

    fn point(on: i64, reps: u32, seconds: u32) -> Point {
        let rpm = Density::of_work(reps, seconds).unwrap().rpm();
        Point {
            on: date(on),
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
                    point(twice_a_week(number), reps as u32, 300)
                })
                .collect();
            let alarm = watched
                .clone()
                .any(|last| falling(&series[..=last]).is_some());
            found += u32::from(alarm);
        }
        f64::from(found) / f64::from(ATHLETES)
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
