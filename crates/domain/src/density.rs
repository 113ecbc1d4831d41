//! What the log says of the count at one density key: a movement with two hands, a club, an interval (T2).
//!
//! One set of figures for everybody who speaks of a count: the evidence of T4 to T6, the pages, and what
//! `assess` prints. Nothing is judged here; [`crate::stats::judge_climb`] says whether a count has stopped
//! climbing, and these figures stand beside what it says.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::rules::words::day_words;
use crate::rules::{Flag, Rule, at_the_goal_on_both_sides, goal_density};
use crate::stats::{Climb, Trend, Work, judge_climb, mann_kendall, theil_sen};
use crate::training::{Bout, Hands, History, since_gap};
use crate::units::Seconds;

/// How many of the newest sessions a trend is taken over: four weeks at two a week. A stall is to be seen
/// within four weeks, so the trend beside it must not still tell of the climb before it; and up to ten
/// sessions the chance of Kendall's S is exact.
pub const TREND_SESSIONS: usize = 8;

/// How far ahead a trend is followed to a goal. Ours; it says little long before that.
const AHEAD: Duration = Duration::days(2 * 365);

/// The density of one session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The training day.
    pub on: Date,
    /// Both sides together, reps a minute.
    pub rpm: f64,
    /// The slower side; `None` where only one worked.
    pub slower_rpm: Option<f64>,
}

impl Reading {
    /// Of a day's bout; `None` of straight sets.
    pub fn of(on: Date, bout: &Bout) -> Option<Self> {
        Some(Self {
            on,
            rpm: bout.density()?.rpm(),
            slower_rpm: bout.slower_side().map(|slower| slower.rpm()),
        })
    }
}

/// How fast density changes, per week, with its 90 % interval (Theil-Sen).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Slope {
    /// Reps a minute, per week.
    pub rpm_per_week: f64,
    /// Lower end of the interval; `None` with too few sessions to say.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

/// The trend as a line over the sessions it was taken from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrendLine {
    /// Day of the first of the sessions.
    pub from: Date,
    /// Day of the last.
    pub until: Date,
    /// Reps a minute on the line, at both ends.
    pub rpm: (f64, f64),
    /// The same on the flattest and on the steepest line of the interval, all three through the
    /// middle of the sessions; `None` with too few sessions to say.
    pub within: Option<[(f64, f64); 2]>,
    /// How steep it is.
    pub slope: Slope,
}

/// The newest sessions, days counted from the first of them.
struct Lately {
    from: Date,
    until: Date,
    points: Vec<(f64, f64)>,
}

impl Lately {
    fn of(readings: &[Reading]) -> Option<Self> {
        let newest = &readings[readings.len().saturating_sub(TREND_SESSIONS)..];
        let (from, until) = (newest.first()?.on, newest.last()?.on);
        let points = newest
            .iter()
            .map(|reading| ((reading.on - from).whole_days() as f64, reading.rpm))
            .collect();
        Some(Self {
            from,
            until,
            points,
        })
    }
}

fn slope(trend: &Trend) -> Slope {
    Slope {
        rpm_per_week: 7.0 * trend.per_day,
        low: trend.interval.map(|interval| 7.0 * interval.low),
        high: trend.interval.map(|interval| 7.0 * interval.high),
    }
}

/// T4: the trend of the slower side over the newest of these sessions in which both worked, and the day that it
/// calls 0: a goal is one for both sides.
pub(crate) fn toward_goal(series: &[Reading]) -> Option<(Trend, Date)> {
    let slower = |reading: &Reading| {
        Some(Reading {
            rpm: reading.slower_rpm?,
            ..*reading
        })
    };
    let newest = series.iter().rev().filter_map(slower).take(TREND_SESSIONS);
    let mut slower_side: Vec<Reading> = newest.collect();
    slower_side.reverse();
    let lately = Lately::of(&slower_side)?;
    Some((theil_sen(&lately.points)?, lately.from))
}

/// The trend over the newest sessions since the last gap; `None` unless two of them lie on different days.
pub fn trend_line(policy: &Policy, readings: &[Reading]) -> Option<TrendLine> {
    let lately = Lately::of(since_gap(policy, readings, |reading| reading.on))?;
    let trend = theil_sen(&lately.points)?;
    let (middle, at_middle) = trend.middle;
    let last = (lately.until - lately.from).whole_days() as f64;
    let ends = |per_day: f64| {
        (
            at_middle - per_day * middle,
            at_middle + per_day * (last - middle),
        )
    };
    Some(TrendLine {
        from: lately.from,
        until: lately.until,
        rpm: ends(trend.per_day),
        within: trend
            .interval
            .map(|interval| [ends(interval.low), ends(interval.high)]),
        slope: slope(&trend),
    })
}

/// When the goal would be reached if the trend holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "when", rename_all = "snake_case")]
pub enum GoalReach {
    /// Nothing to say: no goal yet, too few sessions for the trend's interval, or the club was left.
    #[default]
    Unknown,
    /// The last session was at or over the goal on both sides.
    AtGoal,
    /// On a day.
    Around {
        /// By the trend itself.
        on: Date,
        /// At the steep end of its 90 % interval.
        earliest: Date,
        /// At the flat end; `None`: not within two years.
        latest: Option<Date>,
    },
    /// The trend rises, but too slowly.
    NotWithinTwoYears,
    /// The trend is level or down.
    NotRising,
}

/// The figures of one key after its last session. Field names are those of the JSON that `assess` prints
/// and that flags are kept with; what was added later may be missing in flags kept before.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DensityFigures {
    /// Density of the last session, reps a minute.
    pub density_rpm: f64,
    /// The goal (T3); `None` while there are too few sessions to set one.
    pub goal_rpm: Option<f64>,
    /// Best density so far.
    pub best_rpm: f64,
    /// Day of the best, the first of several.
    pub best_on: Date,
    /// Sessions since the best.
    pub sessions_since_best: usize,
    /// Theil-Sen slope per week over the newest sessions.
    pub slope_rpm_per_week: Option<f64>,
    /// Lower end of its 90 % interval.
    pub slope_low: Option<f64>,
    /// Upper end of its 90 % interval.
    pub slope_high: Option<f64>,
    /// Kendall's S of the same sessions.
    pub kendall_s: Option<i64>,
    /// Its two-sided p.
    pub kendall_p: Option<f64>,
    /// Whether p is exact (no ties), or a normal approximation.
    #[serde(default)]
    pub kendall_exact: Option<bool>,
    /// Sessions at this key.
    pub sessions: usize,
    /// Sessions missing before it can be told whether the count has stopped climbing (T5).
    #[serde(default)]
    pub sessions_missing: usize,
    /// T6: a session at or over this, reps a minute, is back at the level of before; `None` in other flags.
    #[serde(default)]
    pub recovered_rpm: Option<f64>,
    /// When the goal would be reached if the trend holds.
    #[serde(default)]
    pub goal_reach: GoalReach,
}

/// Which of two readings is the better, the first one if neither is.
pub(crate) fn better_of(readings: &[Reading], best_at: usize, other: usize) -> usize {
    if readings[other].rpm > readings[best_at].rpm {
        other
    } else {
        best_at
    }
}

/// The figures of a key with these readings, the best of which stands at `best_at`, and of which `series`
/// are the work since the last gap; `from` is the first day on which a goal can be reached. `None` of no
/// readings.
pub(crate) fn figures(
    readings: &[Reading],
    best_at: usize,
    series: &[Work],
    goal_rpm: Option<f64>,
    from: Date,
) -> Option<DensityFigures> {
    let (last, best) = (readings.last()?, readings.get(best_at)?);
    let since_gap = &readings[readings.len().saturating_sub(series.len())..];
    let lately = Lately::of(since_gap);
    let trend = lately.as_ref().and_then(|lately| theil_sen(&lately.points));
    let kendall = lately
        .as_ref()
        .and_then(|lately| mann_kendall(&lately.points));
    let slope = trend.as_ref().map(slope);
    let goal_reach = goal_rpm.map_or(GoalReach::Unknown, |goal| goal_reach(since_gap, goal, from));
    Some(DensityFigures {
        density_rpm: last.rpm,
        goal_rpm,
        best_rpm: best.rpm,
        best_on: best.on,
        sessions_since_best: readings.len() - 1 - best_at,
        slope_rpm_per_week: slope.map(|slope| slope.rpm_per_week),
        slope_low: slope.and_then(|slope| slope.low),
        slope_high: slope.and_then(|slope| slope.high),
        kendall_s: kendall.map(|kendall| kendall.s),
        kendall_p: kendall.map(|kendall| kendall.p_two_sided),
        kendall_exact: kendall.map(|kendall| kendall.exact),
        sessions: readings.len(),
        sessions_missing: match judge_climb(series) {
            Climb::NotEnoughYet { sessions_missing } => sessions_missing,
            Climb::Climbing | Climb::Stalled { .. } => 0,
        },
        recovered_rpm: None,
        goal_reach,
    })
}

/// T4: when both sides reach the goal.
fn goal_reach(series: &[Reading], goal: f64, from: Date) -> GoalReach {
    let Some((trend, day_zero)) = toward_goal(series) else {
        return GoalReach::Unknown;
    };
    let last = series.last().and_then(|last| last.slower_rpm);
    if at_the_goal_on_both_sides(last, Some(goal)) {
        return GoalReach::AtGoal;
    }
    let Some(reach) = trend.reaches(goal, day_zero, from) else {
        return GoalReach::Unknown;
    };
    if trend.per_day <= 0.0 {
        return GoalReach::NotRising;
    }
    let in_time = |day: &Date| *day - from <= AHEAD;
    match (reach.expected.filter(in_time), reach.earliest) {
        (Some(on), Some(earliest)) => GoalReach::Around {
            on,
            earliest,
            latest: reach.latest.filter(in_time),
        },
        _ => GoalReach::NotWithinTwoYears,
    }
}

impl DensityFigures {
    /// When the goal would be reached, in plain words; `None` where nothing can be said.
    pub fn goal_words(&self) -> Option<String> {
        let goal = format!("the goal of {:.1} a minute", self.goal_rpm?);
        Some(match self.goal_reach {
            GoalReach::Unknown => return None,
            GoalReach::AtGoal => format!("the last session was at {goal}"),
            GoalReach::Around {
                on,
                earliest,
                latest: Some(latest),
            } => format!(
                "{goal} would be reached around {} (between {} and {}) if the trend holds",
                day_words(on),
                day_words(earliest),
                day_words(latest)
            ),
            GoalReach::Around {
                on,
                earliest,
                latest: None,
            } => format!(
                "{goal} would be reached around {} if the trend holds, not before {}; it may also take more than \
                 two years",
                day_words(on),
                day_words(earliest)
            ),
            GoalReach::NotWithinTwoYears => {
                format!("if the trend holds, {goal} is not reached within two years")
            }
            GoalReach::NotRising => {
                format!("the trend is not rising: if it holds, {goal} is not reached")
            }
        })
    }

    /// T5: how many sessions are missing before a stall can be told; `None` where none is.
    pub fn missing_words(&self) -> Option<String> {
        let sessions = match self.sessions_missing {
            0 => return None,
            1 => "1 more session".to_owned(),
            many => format!("{many} more sessions"),
        };
        Some(format!(
            "not enough yet: {sessions} before a stall can be told"
        ))
    }
}

/// Where one density key stands.
#[derive(Debug, Clone, PartialEq)]
pub struct DensityStanding {
    /// Movement, with two hands.
    pub movement: MovementId,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// The interval.
    pub seconds: Seconds,
    /// The last session at the key.
    pub on: Date,
    /// Whether the key counts as left: not worked for so long that a series there begins again.
    pub is_left: bool,
    /// T5: whether a flag stands that the count has stopped climbing.
    pub stalled: bool,
    /// The figures.
    pub figures: DensityFigures,
}

/// Every density key that the log holds up to a day, in order of movement, club and interval. `standing`
/// are the flags that stand on that day, as [`crate::rules::standing`] gives them.
pub fn densities<'a>(
    history: &History,
    policy: &Policy,
    standing: impl IntoIterator<Item = &'a Flag>,
    today: Date,
) -> Vec<DensityStanding> {
    let mut keys: BTreeMap<_, Vec<(Reading, Work)>> = BTreeMap::new();
    for session in history.sessions_until(today) {
        for bout in session.bouts() {
            let reading = (bout.hands == Hands::Two)
                .then(|| read(session.on, &bout))
                .flatten();
            if let Some((seconds, reading, work)) = reading {
                let key = (bout.movement, bout.loading, seconds);
                keys.entry(key).or_default().push((reading, work));
            }
        }
    }
    let stalled: BTreeSet<_> = standing
        .into_iter()
        .filter(|flag| flag.rule == Rule::T5)
        .map(|flag| &flag.subject)
        .map(|subject| (subject.movement, subject.loading, subject.seconds))
        .collect();
    let left = Duration::days(policy.left_after_days.into());
    keys.into_iter()
        .filter_map(|((movement, loading, seconds), log)| {
            let (readings, works): (Vec<Reading>, Vec<Work>) = log.into_iter().unzip();
            let on = readings.last()?.on;
            let is_left = today - on >= left;
            let series =
                &works[works.len() - since_gap(policy, &readings, |reading| reading.on).len()..];
            let key = (movement, Hands::Two, loading, seconds);
            let goal = goal_density(history, policy, key, today);
            let best_at =
                (1..readings.len()).fold(0, |best, other| better_of(&readings, best, other));
            let mut figures = figures(&readings, best_at, series, goal, today)?;
            if is_left {
                figures.goal_reach = GoalReach::Unknown;
                figures.sessions_missing = match judge_climb(&[]) {
                    Climb::NotEnoughYet { sessions_missing } => sessions_missing,
                    Climb::Climbing | Climb::Stalled { .. } => 0,
                };
            }
            Some(DensityStanding {
                movement,
                loading,
                seconds,
                on,
                is_left,
                stalled: stalled.contains(&(Some(movement), Some(loading), Some(seconds.get()))),
                figures,
            })
        })
        .collect()
}

/// One bout against the clock, as the figures and T5 take it; `None` of straight sets.
pub(crate) fn read(on: Date, bout: &Bout) -> Option<(Seconds, Reading, Work)> {
    let reading = Reading::of(on, bout)?;
    let work = Work {
        day: on.to_julian_day(),
        reps: bout.left.reps + bout.right.reps,
        seconds: bout.left.seconds + bout.right.seconds,
        sets: u32::from(bout.left.sets) + u32::from(bout.right.sets),
    };
    Some((bout.seconds?, reading, work))
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;
    use crate::rules::{episodes, standing};
    use crate::scenario::{MILL, PULLOVER, club, day, history, of_mass, plus};

    const FIRST: Date = date!(2026 - 01 - 05);

    /// One reading a day with these numbers.
    fn daily(rpm: &[f64]) -> Vec<Reading> {
        (0..)
            .zip(rpm)
            .map(|(number, rpm)| Reading {
                on: plus(FIRST, number),
                rpm: *rpm,
                slower_rpm: Some(*rpm),
            })
            .collect()
    }

    /// As many pieces of work as there are readings: their number is what says how many are missing.
    fn work(readings: &[Reading]) -> Vec<Work> {
        readings
            .iter()
            .map(|reading| Work {
                day: reading.on.to_julian_day(),
                reps: (reading.rpm * 10.0).round() as u32,
                seconds: 600,
                sets: 20,
            })
            .collect()
    }

    fn of(rpm: &[f64], goal: Option<f64>) -> DensityFigures {
        let readings = daily(rpm);
        let last = readings.last().unwrap().on;
        let best_at = (1..readings.len()).fold(0, |best, other| better_of(&readings, best, other));
        figures(&readings, best_at, &work(&readings), goal, last).unwrap()
    }

    /// Eight days, rising unsteadily, without ties.
    const WAVY: [f64; 8] = [18.0, 19.5, 19.0, 21.0, 20.5, 22.5, 22.0, 24.0];

    // scipy 1.17.1, theilslopes and kendalltau with the exact method, alpha 0.9, days as time: slope 0.75
    // a day from 0.5 to 1.0, S = 22, p = 0.005505952.
    #[test]
    fn the_trend_is_that_of_the_newest_eight_sessions() {
        let plain = of(&WAVY, None);
        assert_eq!(plain.slope_rpm_per_week, Some(5.25));
        assert_eq!((plain.slope_low, plain.slope_high), (Some(3.5), Some(7.0)));
        assert_eq!(
            (plain.kendall_s, plain.kendall_exact),
            (Some(22), Some(true))
        );
        assert!((plain.kendall_p.unwrap() - 0.005_505_952_38).abs() < 1e-9);
        let longer = of(&[&[40.0, 10.0][..], &WAVY].concat(), None);
        assert_eq!(longer.slope_rpm_per_week, plain.slope_rpm_per_week);
        assert_eq!(longer.kendall_s, plain.kendall_s);
        assert_eq!((longer.best_rpm, longer.best_on), (40.0, FIRST));
        assert_eq!((longer.sessions_since_best, longer.sessions), (9, 10));
        assert_eq!(of(&[20.0, 20.0], None).kendall_exact, Some(false), "a tie");
        assert_eq!(of(&[20.0], None).slope_rpm_per_week, None);
    }

    #[test]
    fn the_first_of_several_bests_is_the_best() {
        let figures = of(&[20.0, 24.0, 22.0, 24.0, 23.0], None);
        assert_eq!((figures.best_rpm, figures.best_on), (24.0, plus(FIRST, 1)));
        assert_eq!(figures.sessions_since_best, 3);
        assert_eq!(of(&[20.0, 24.0], None).sessions_since_best, 0);
    }

    // By hand: the lines go through the medians, day 3.5 and 20.75 a minute; 26 is 5.25 more, which is
    // 5.25 days at 1 a day, 7 at 0.75 and 10.5 at 0.5, so days 9, 11 and 14 from 5 January on.
    #[test]
    fn the_goal_is_reached_where_the_trend_meets_it() {
        let figures = of(&WAVY, Some(26.0));
        assert_eq!(
            figures.goal_reach,
            GoalReach::Around {
                on: date!(2026 - 01 - 16),
                earliest: date!(2026 - 01 - 14),
                latest: Some(date!(2026 - 01 - 19)),
            }
        );
        assert_eq!(
            figures.goal_words().unwrap(),
            "the goal of 26.0 a minute would be reached around 16 January 2026 (between 14 January 2026 and \
             19 January 2026) if the trend holds"
        );
        // No sooner than the day that is asked from.
        let readings = daily(&WAVY);
        let later = date!(2026 - 01 - 17);
        let found = super::figures(&readings, 7, &work(&readings), Some(26.0), later);
        assert_eq!(
            found.unwrap().goal_reach,
            GoalReach::Around {
                on: later,
                earliest: later,
                latest: Some(date!(2026 - 01 - 19)),
            }
        );
    }

    // T4: both sides have to be there. By hand: WAVY is the slower side, the other does 4 a minute more, so that both
    // together do 2 more.
    #[test]
    fn the_slower_side_is_what_reaches_the_goal() {
        let slow = daily(&WAVY);
        let uneven = |last: usize| -> Vec<Reading> {
            slow[..last]
                .iter()
                .map(|reading| Reading {
                    rpm: reading.rpm + 2.0,
                    ..*reading
                })
                .collect()
        };
        let of = |readings: &[Reading], goal| {
            let last = readings.last().unwrap().on;
            figures(readings, 0, &work(readings), Some(goal), last).unwrap()
        };
        let both = uneven(8);
        let figures = of(&both, 26.0);
        assert_eq!(figures.density_rpm, 26.0);
        assert_eq!(figures.slope_rpm_per_week, Some(5.25));
        let slower_alone = of(&slow, 26.0).goal_reach;
        assert!(matches!(slower_alone, GoalReach::Around { .. }));
        assert_eq!(figures.goal_reach, slower_alone);
        assert_eq!(of(&both, 24.0).goal_reach, GoalReach::AtGoal);
        // A day on which one side alone worked says nothing of both, and is not at the goal.
        let mut one_sided = both.clone();
        one_sided[7].slower_rpm = None;
        assert_eq!(toward_goal(&one_sided), toward_goal(&slow[..7]));
        assert_ne!(of(&one_sided, 24.0).goal_reach, GoalReach::AtGoal);
        // As everywhere, the newest eight sessions count.
        let longer = daily(&[&[40.0, 10.0][..], &WAVY].concat());
        let trend = |readings: &[Reading]| toward_goal(readings).unwrap().0;
        assert_eq!(trend(&longer), trend(&slow));
    }

    // By hand, the middle at day 3.5 and 20.75: 730 days after the last, day 7, are 733.5 from the middle;
    // at 0.75 a day that is 550.125 more, at 0.5 it is 366.75.
    #[test]
    fn two_years_ahead_is_where_it_ends() {
        let reach = |goal| of(&WAVY, Some(goal)).goal_reach;
        let latest = |goal| match reach(goal) {
            GoalReach::Around { latest, .. } => latest,
            other => panic!("{other:?}"),
        };
        assert_eq!(latest(20.75 + 366.75), Some(date!(2028 - 01 - 12)));
        assert_eq!(latest(20.75 + 366.80), None);
        assert!(matches!(reach(20.75 + 550.1), GoalReach::Around { .. }));
        assert_eq!(reach(20.75 + 550.2), GoalReach::NotWithinTwoYears);
    }

    #[test]
    fn what_cannot_be_said_is_not_said() {
        let rising_slowly = [20.0, 20.001, 20.002, 20.003, 20.004, 20.005, 20.006, 20.007];
        let unsure = [20.0, 21.0, 19.0, 22.0, 18.0, 23.0, 19.5, 22.5];
        let falling: Vec<f64> = WAVY.iter().rev().copied().collect();
        let not_rising =
            "the trend is not rising: if it holds, the goal of 26.0 a minute is not reached";
        for (name, rpm, goal, reach, words) in [
            ("no goal", &WAVY[..], None, GoalReach::Unknown, None),
            (
                "three sessions have no interval",
                &WAVY[..3],
                Some(26.0),
                GoalReach::Unknown,
                None,
            ),
            ("one session", &[20.0], Some(26.0), GoalReach::Unknown, None),
            (
                "at the goal",
                &WAVY,
                Some(24.0),
                GoalReach::AtGoal,
                Some("the last session was at the goal of 24.0 a minute"),
            ),
            (
                "level",
                &[20.0; 8],
                Some(26.0),
                GoalReach::NotRising,
                Some(not_rising),
            ),
            (
                "down",
                &falling,
                Some(26.0),
                GoalReach::NotRising,
                Some(not_rising),
            ),
            (
                "6 a minute more at 0.001 a day",
                &rising_slowly,
                Some(26.0),
                GoalReach::NotWithinTwoYears,
                Some(
                    "if the trend holds, the goal of 26.0 a minute is not reached within two years",
                ),
            ),
        ] {
            let figures = of(rpm, goal);
            assert_eq!(figures.goal_reach, reach, "{name}");
            assert_eq!(figures.goal_words().as_deref(), words, "{name}");
        }
        // Up and down: the interval holds falling lines too, so there is no latest day.
        let figures = of(&unsure, Some(24.0));
        assert!(figures.slope_low.unwrap() < 0.0 && figures.slope_rpm_per_week.unwrap() > 0.0);
        let GoalReach::Around { latest: None, .. } = figures.goal_reach else {
            panic!("{figures:?}");
        };
        let words = figures.goal_words().unwrap();
        assert!(
            words.contains(" if the trend holds, not before "),
            "{words}"
        );
        assert!(
            words.ends_with("; it may also take more than two years"),
            "{words}"
        );
    }

    #[test]
    fn the_sessions_missing_for_a_judgement_are_counted() {
        for (sessions, missing, words) in [
            (
                1,
                7,
                Some("not enough yet: 7 more sessions before a stall can be told"),
            ),
            (
                7,
                1,
                Some("not enough yet: 1 more session before a stall can be told"),
            ),
            (8, 0, None),
        ] {
            let figures = of(&WAVY[..sessions], None);
            assert_eq!(figures.sessions_missing, missing);
            assert_eq!(figures.missing_words().as_deref(), words);
        }
    }

    /// Twice a week with these counts in each of five sets of half a minute a side; 0 is a session missed.
    fn log(counts: &[u16]) -> History {
        let days = (0..)
            .zip(counts)
            .filter(|(_, count)| **count > 0)
            .map(|(number, count)| {
                day(plus(FIRST, number / 2 * 7 + number % 2 * 3)).sets(
                    (MILL, Hands::Two, club(1)),
                    30,
                    &[(*count, *count); 5],
                )
            })
            .collect();
        history(days, vec![of_mass(1, 6.0)])
    }

    fn standings(history: &History, today: Date) -> Vec<DensityStanding> {
        let policy = Policy::default();
        let episodes = episodes(history, &policy, today);
        densities(history, &policy, standing(&episodes, today), today)
    }

    #[test]
    fn after_28_days_without_the_club_a_series_begins_again() {
        let counts = [10, 11, 11, 12, 12, 12, 13, 13];
        for (missed, missing) in [(6, 0), (7, 6)] {
            // The eighth session is on day 24; 6 missed ones lead to day 49, 7 to day 52.
            let all: Vec<u16> = counts
                .into_iter()
                .chain(vec![0; missed])
                .chain([12, 12])
                .collect();
            let standing = &standings(&log(&all), plus(FIRST, 70))[0];
            assert_eq!(
                standing.figures.sessions_missing, missing,
                "{missed} missed"
            );
            assert_eq!(standing.figures.sessions, 10);
            assert_eq!(standing.figures.kendall_s == Some(0), missing == 6);
        }
    }

    #[test]
    fn a_club_that_was_left_reaches_no_goal() {
        // 20 a minute three times is a goal of 24 (T3); 22 on day 24 is short of it.
        let log = log(&[10, 10, 10, 10, 11, 11, 11, 11]);
        let last = plus(FIRST, 24);
        let used = &standings(&log, plus(last, 27))[0];
        assert!(!used.is_left && matches!(used.figures.goal_reach, GoalReach::Around { .. }));
        assert_eq!((used.on, used.figures.goal_rpm), (last, Some(24.0)));
        let left = &standings(&log, plus(last, 28))[0];
        assert!(left.is_left);
        assert_eq!(left.figures.goal_reach, GoalReach::Unknown);
        assert_eq!(left.figures.sessions_missing, 8);
        assert_eq!(left.figures.kendall_s, used.figures.kendall_s);
    }

    #[test]
    fn every_key_stands_by_itself_and_other_ways_of_holding_have_none() {
        let mill = (MILL, Hands::Two, club(1));
        let log = history(
            vec![
                day(FIRST)
                    .sets(mill, 30, &[(10, 10)])
                    .sets(mill, 60, &[(19, 19)])
                    .sets((MILL, Hands::One, club(1)), 30, &[(8, 8)])
                    .sets((MILL, Hands::One, club(1)), 0, &[(5, 5)])
                    .sets((PULLOVER, Hands::Two, club(1)), 30, &[(9, 9)]),
                day(plus(FIRST, 3)).sets((MILL, Hands::Two, club(2)), 30, &[(7, 7)]),
            ],
            vec![of_mass(1, 6.0), of_mass(2, 8.0)],
        );
        let keys = |until| -> Vec<_> {
            standings(&log, until)
                .iter()
                .map(|it| {
                    (
                        it.movement,
                        it.loading,
                        it.seconds.get(),
                        it.figures.density_rpm,
                    )
                })
                .collect()
        };
        let first = [
            (MILL, club(1), 30, 20.0),
            (MILL, club(1), 60, 19.0),
            (PULLOVER, club(1), 30, 18.0),
        ];
        assert_eq!(keys(FIRST), first);
        let [a, b, c] = first;
        assert_eq!(keys(plus(FIRST, 3)), [a, b, (MILL, club(2), 30, 14.0), c]);
    }

    /// The stall that the rules flag is the one that is told here, with the figures of its evidence.
    #[test]
    fn a_stalled_key_says_so() {
        let counts = [
            200, 202, 203, 207, 208, 211, 211, 215, 217, 219, 220, 224, 222, 224, 221, 225, 223,
            222, 224, 221, 223, 222,
        ];
        let log = log(&counts);
        let today = log.sessions().last().unwrap().on;
        let stalled = &standings(&log, today)[0];
        assert!(stalled.stalled);
        let policy = Policy::default();
        let episodes = episodes(&log, &policy, today);
        let flag = standing(&episodes, today)
            .into_iter()
            .find(|flag| flag.rule == Rule::T5)
            .unwrap();
        assert_eq!(
            flag.evidence,
            crate::rules::Evidence::Density(stalled.figures.clone())
        );
        assert!(!standings(&log, plus(FIRST, 21))[0].stalled);
    }
}
