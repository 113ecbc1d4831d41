//! How the work has gone: densities and ladders over time, as pages show them.
//!
//! Nothing is judged here. The rules judge; this is the picture beside what they say.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use time::Date;

use crate::density::{Reading, Slope, TrendLine, trend_line};
use crate::id::{LoadingId, MovementId};
use crate::plan::Scheme;
use crate::policy::Policy;
use crate::rules::goal_density;
use crate::training::{Bout, Hands, History};
use crate::units::Seconds;

/// One kind of work: a movement, hands, a club, and for interval sets the interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct WorkKey {
    /// Movement.
    pub movement: MovementId,
    /// Hands.
    pub hands: Hands,
    /// Club, as loaded.
    pub loading: LoadingId,
    /// The interval of interval sets; `None` for straight sets.
    pub seconds: Option<Seconds>,
}

impl WorkKey {
    fn of(bout: &Bout) -> Self {
        Self {
            movement: bout.movement,
            hands: bout.hands,
            loading: bout.loading,
            seconds: bout.seconds,
        }
    }
}

/// One session of one kind of work.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The training day.
    pub on: Date,
    /// The sets in short.
    pub bout: Bout,
}

/// All sessions of one kind of work, in order of day.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Which work.
    pub key: WorkKey,
    /// The sessions.
    pub points: Vec<Point>,
}

/// Every kind of work that the log holds up to a day, the one begun first coming first.
pub fn series(history: &History, until: Date) -> Vec<Series> {
    let mut found: BTreeMap<WorkKey, Vec<Point>> = BTreeMap::new();
    for session in history
        .sessions()
        .iter()
        .take_while(|session| session.on <= until)
    {
        for bout in session.bouts() {
            let point = Point {
                on: session.on,
                bout,
            };
            found
                .entry(WorkKey::of(&point.bout))
                .or_default()
                .push(point);
        }
    }
    let mut all: Vec<Series> = found
        .into_iter()
        .map(|(key, points)| Series { key, points })
        .collect();
    all.sort_by_key(|series| (series.points.first().map(|point| point.on), series.key));
    all
}

/// Where one kind of work stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Standing {
    /// Work against the clock (T2, T3).
    Density {
        /// Density of the last session.
        rpm: f64,
        /// The goal; `None` while there are too few sessions to set one.
        goal_rpm: Option<f64>,
        /// The trend over the newest sessions.
        slope: Option<Slope>,
    },
    /// Straight sets (V1, V2).
    Sets {
        /// Sets on each side in the last session.
        sets: u16,
        /// Reps a set.
        reps: u16,
        /// The ladder's target, where a block set one.
        target: Option<u8>,
    },
}

/// The work an athlete was last seen at in one movement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// Which work.
    pub key: WorkKey,
    /// When it was last done.
    pub on: Date,
    /// Sessions of it so far.
    pub sessions: usize,
    /// Where it stands.
    pub standing: Standing,
}

/// For every movement, the work last done in it, as of a day; the latest first.
pub fn latest(history: &History, policy: &Policy, today: Date) -> Vec<Progress> {
    let mut newest: BTreeMap<MovementId, Series> = BTreeMap::new();
    for series in series(history, today) {
        let last = |series: &Series| series.points.last().map(|point| point.on);
        match newest.get(&series.key.movement) {
            Some(other) if last(other) > last(&series) => {}
            _ => _ = newest.insert(series.key.movement, series),
        }
    }
    let mut all: Vec<Progress> = newest
        .into_values()
        .filter_map(|series| progress(history, policy, &series))
        .collect();
    all.sort_by(|a, b| b.on.cmp(&a.on).then(a.key.cmp(&b.key)));
    all
}

fn progress(history: &History, policy: &Policy, series: &Series) -> Option<Progress> {
    let last = series.points.last()?;
    let standing = match (series.key.seconds, last.bout.density()) {
        (Some(seconds), Some(density)) => Standing::Density {
            rpm: density.rpm(),
            goal_rpm: goal_density(
                history,
                policy,
                (
                    series.key.movement,
                    series.key.hands,
                    series.key.loading,
                    seconds,
                ),
                last.on,
            ),
            slope: slope(policy, &series.points),
        },
        _ => Standing::Sets {
            sets: last.bout.sets_each_side(),
            reps: last.bout.reps,
            target: target(history, series.key, last.on),
        },
    };
    Some(Progress {
        key: series.key,
        on: last.on,
        sessions: series.points.len(),
        standing,
    })
}

/// The trend over the newest sessions of work against the clock.
pub fn slope(policy: &Policy, points: &[Point]) -> Option<Slope> {
    trend(policy, points).map(|line| line.slope)
}

/// [`slope`] with the line it belongs to.
pub fn trend(policy: &Policy, points: &[Point]) -> Option<TrendLine> {
    let readings: Vec<Reading> = points
        .iter()
        .filter_map(|point| Reading::of(point.on, &point.bout))
        .collect();
    trend_line(policy, &readings)
}

/// The target of the newest ladder block begun with this club.
pub fn target(history: &History, key: WorkKey, on: Date) -> Option<u8> {
    history
        .blocks
        .iter()
        .flatten()
        .filter(|block| {
            (block.movement, block.hands, block.loading) == (key.movement, key.hands, key.loading)
                && block.from <= on
        })
        .filter_map(|block| match block.scheme {
            Scheme::SetLadder(ladder) => Some((block.from, ladder.target_sets)),
            _ => None,
        })
        .max()
        .map(|(_, target)| target)
}

#[cfg(test)]
mod tests {
    use time::macros::date;
    use uuid::Uuid;

    use super::*;
    use crate::id::SessionId;
    use crate::training::{Session, SetDone, Side, Work};
    use crate::units::Reps;

    const MOVEMENT: MovementId = MovementId(Uuid::from_u128(1));
    const CLUB: LoadingId = LoadingId(Uuid::from_u128(2));

    fn session(number: u128, on: Date, hands: Hands, work: &[Work]) -> Session {
        let sets = work
            .iter()
            .flat_map(|work| {
                Side::BOTH.map(|side| SetDone {
                    movement: MOVEMENT,
                    hands,
                    loading: CLUB,
                    side,
                    work: *work,
                })
            })
            .collect();
        Session {
            id: SessionId(Uuid::from_u128(number)),
            on,
            planned: None,
            minutes: None,
            effort: None,
            pain: Vec::new(),
            sets,
        }
    }

    fn interval(reps: i64) -> Work {
        Work::Interval {
            seconds: Seconds::new(30).unwrap(),
            reps: Reps::new(reps).unwrap(),
        }
    }

    fn straight(reps: i64) -> Work {
        Work::Straight {
            reps: Reps::new(reps).unwrap(),
            asked: None,
        }
    }

    /// By hand: 15, 16, 17 reps in 30 s are 30, 32, 34 a minute, one week apart: 2 a week. The goal
    /// is 1.2 × the median, 38.4 (common practice, no source).
    #[test]
    fn density_goal_and_slope_of_three_sessions() {
        let days = [
            date!(2026 - 01 - 05),
            date!(2026 - 01 - 12),
            date!(2026 - 01 - 19),
        ];
        let sessions = days
            .into_iter()
            .zip(15..)
            .map(|(day, reps)| session(reps as u128, day, Hands::Two, &[interval(reps)]))
            .collect();
        let history = History::new(sessions, Vec::new(), None);
        let latest = latest(&history, &Policy::default(), date!(2026 - 02 - 01));
        assert_eq!(latest.len(), 1);
        let Standing::Density {
            rpm,
            goal_rpm,
            slope,
        } = latest[0].standing
        else {
            panic!("{latest:?}");
        };
        assert!((rpm - 34.0).abs() < 1e-9);
        assert!((goal_rpm.unwrap() - 38.4).abs() < 1e-9);
        assert!((slope.unwrap().rpm_per_week - 2.0).abs() < 1e-9);
        assert_eq!(
            slope.unwrap().low,
            None,
            "three points are too few for an interval"
        );
        let line = trend(
            &Policy::default(),
            &series(&history, date!(2026 - 02 - 01))[0].points,
        )
        .unwrap();
        assert_eq!((line.from, line.until), (days[0], days[2]));
        assert!((line.rpm.0 - 30.0).abs() < 1e-9 && (line.rpm.1 - 34.0).abs() < 1e-9);
    }

    #[test]
    fn the_latest_work_of_a_movement_is_shown_and_nothing_later() {
        let history = History::new(
            vec![
                session(1, date!(2026 - 01 - 05), Hands::Two, &[interval(15)]),
                session(2, date!(2026 - 01 - 08), Hands::One, &[straight(5); 6]),
                session(3, date!(2026 - 03 - 01), Hands::Two, &[interval(15)]),
            ],
            Vec::new(),
            None,
        );
        let then = latest(&history, &Policy::default(), date!(2026 - 02 - 01));
        assert_eq!(
            then[0].standing,
            Standing::Sets {
                sets: 6,
                reps: 5,
                target: None
            }
        );
        assert_eq!(series(&history, date!(2026 - 02 - 01)).len(), 2);
        assert!(
            latest(
                &History::new(Vec::new(), Vec::new(), None),
                &Policy::default(),
                date!(2026 - 02 - 01)
            )
            .is_empty()
        );
    }
}
