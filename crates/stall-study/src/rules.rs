//! The rules that are compared: T5's judgement, rules of thumb, and two that know what no coach knows.

use leverbook_domain::stats::{Climb, Work, judge_climb, mann_kendall};

use crate::athlete::{Athlete, Goal};

/// A rule that says of a log, as it stands, whether the count has stopped climbing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// T5's judgement of the log of one key: the estimator alone.
    Judgement,
    /// T5 as it is raised and ended by all the rules together, from the athlete's whole history.
    Flag(Goal),
    /// No new best in so many sessions.
    NoNewBest(usize),
    /// The Mann-Kendall test for a rise finds none: over the last sessions, its p is over this.
    TrendTest {
        /// Sessions.
        window: usize,
        /// Chance of so much of a rise without a trend.
        p_over: f64,
    },
    /// The least squares slope of the last sessions is under this.
    Slope {
        /// Sessions.
        window: usize,
        /// Share of the level a week.
        under: f64,
    },
    /// Likelihood ratio of "level since one of the sessions" against "growing", with the noise known and independent,
    /// level and growth fitted, ten sessions or more before the level and two in it, growth within 1 to 2.5 % a week; its
    /// logarithm is over this.
    Scan {
        /// Of the log likelihood ratio.
        over: f64,
    },
    /// The same, with level, growth, noise and carry-over known.
    Oracle {
        /// Of the log likelihood ratio.
        over: f64,
    },
}

/// The log likelihood ratios of the two rules that know the noise were set on the study's own athletes, seed 1, so that
/// their false alarms with independent noise come to the published 9 % and 7 %.
pub const SCAN: Rule = Rule::Scan { over: 1.2 };
/// See [`SCAN`].
pub const ORACLE: Rule = Rule::Oracle { over: 3.1 };

impl Rule {
    /// The rules of thumb at every setting that is tried.
    #[must_use]
    pub fn of_thumb() -> Vec<Self> {
        let mut rules: Vec<Self> = (3..=8).map(Self::NoNewBest).collect();
        for window in [6, 8, 10, 12] {
            rules.extend(
                [0.05, 0.1, 0.2, 0.3, 0.5].map(|p_over| Self::TrendTest { window, p_over }),
            );
            rules.extend([0.0, 0.002, 0.005, 0.01].map(|under| Self::Slope { window, under }));
        }
        rules
    }

    /// Its name in tables.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::Judgement => "T5".to_owned(),
            Self::Flag(Goal::Default) => "T5 by all the rules".to_owned(),
            Self::Flag(Goal::FarOff) => "T5 by all the rules, goal far off".to_owned(),
            Self::NoNewBest(sessions) => format!("no new best in {sessions} sessions"),
            Self::TrendTest { window, p_over } => {
                format!("trend test on the last {window}, p > {p_over}")
            }
            Self::Slope { window, under } => format!(
                "slope of the last {window} under {} % a week",
                100.0 * under
            ),
            Self::Scan { .. } => "likelihood-ratio scan, noise known".to_owned(),
            Self::Oracle { .. } => "oracle: level, growth, noise known".to_owned(),
        }
    }

    /// Whether it calls for the flag after each session; all but [`Self::Flag`] take the whole log for one of the same
    /// club and interval.
    #[must_use]
    pub fn alarms(&self, log: &Log) -> Vec<bool> {
        if let Self::Flag(goal) = self {
            return log.athlete.flagged(*goal);
        }
        (1..=log.work.len()).map(|n| self.fires(log, n)).collect()
    }

    fn fires(&self, log: &Log, n: usize) -> bool {
        let last = |window: usize| (n >= window).then(|| &log.points[n - window..n]);
        match *self {
            Self::Judgement => matches!(judge_climb(&log.work[..n]), Climb::Stalled { .. }),
            Self::Flag(_) => false,
            Self::NoNewBest(sessions) => {
                let mut best = 0;
                for (index, point) in log.points[..n].iter().enumerate() {
                    if point.1 > log.points[best].1 {
                        best = index;
                    }
                }
                n - 1 - best >= sessions
            }
            Self::TrendTest { window, p_over } => last(window)
                .and_then(mann_kendall)
                .is_some_and(|test| test.p_rising > p_over),
            Self::Slope { window, under } => {
                last(window).is_some_and(|points| Line::fit(points, f64::INFINITY).growth() < under)
            }
            Self::Scan { over } => {
                let points = &log.points[..n];
                let growing = Line::fit(points, f64::INFINITY).misfit_within(GROWTH);
                let level = (9..n.saturating_sub(2))
                    .map(|last| Line::fit(points, points[last].0).misfit_within(GROWTH))
                    .fold(f64::INFINITY, f64::min);
                (growing - level) / (2.0 * log.athlete.noise.powi(2)) > over
            }
            Self::Oracle { over } => {
                let growing = log.known_misfit(n, f64::INFINITY);
                let level = (0..n)
                    .map(|last| log.known_misfit(n, log.points[last].0))
                    .fold(f64::INFINITY, f64::min);
                (growing - level) / 2.0 > over
            }
        }
    }
}

/// One athlete's log, as the rules take it.
#[derive(Debug)]
pub struct Log {
    athlete: Athlete,
    work: Vec<Work>,
    /// Weeks, and the logarithm of density in reps a second.
    points: Vec<(f64, f64)>,
}

impl Log {
    /// Of one athlete.
    #[must_use]
    pub fn of(athlete: Athlete) -> Self {
        let work = athlete.work();
        let points = work
            .iter()
            .map(|work| {
                let density = f64::from(work.reps).max(0.5) / f64::from(work.seconds);
                (f64::from(work.day) / 7.0, density.ln())
            })
            .collect();
        Self {
            athlete,
            work,
            points,
        }
    }

    /// Weeks of training at each session.
    pub fn weeks(&self) -> impl Iterator<Item = f64> {
        self.athlete.done.iter().map(|done| done.trained_weeks)
    }

    /// Sum of squared errors over their variance, of the first sessions, when growth ended at this week.
    fn known_misfit(&self, n: usize, until: f64) -> f64 {
        let Athlete {
            level,
            growth,
            noise,
            carry_over,
            ..
        } = self.athlete;
        let fresh = noise * noise * (1.0 - carry_over * carry_over);
        let mut before = None;
        self.points[..n]
            .iter()
            .map(|(week, log)| {
                let error = log - level - growth * week.min(until);
                match before.replace(error) {
                    None => error * error / (noise * noise),
                    Some(before) => (error - carry_over * before).powi(2) / fresh,
                }
            })
            .sum()
    }
}

/// Growth that [`Rule::Scan`] takes for possible, share a week: that of the published comparison.
const GROWTH: (f64, f64) = (0.01, 0.025);

/// A line that grows up to some week and is level afterwards, by least squares.
struct Line {
    x_x: f64,
    x_y: f64,
    y_y: f64,
}

impl Line {
    fn fit(points: &[(f64, f64)], until: f64) -> Self {
        let n = points.len() as f64;
        let mean_x = points.iter().map(|(x, _)| x.min(until)).sum::<f64>() / n;
        let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / n;
        let (mut x_x, mut x_y, mut y_y) = (0.0, 0.0, 0.0);
        for (x, y) in points {
            let (x, y) = (x.min(until) - mean_x, y - mean_y);
            x_x += x * x;
            x_y += x * y;
            y_y += y * y;
        }
        Self { x_x, x_y, y_y }
    }

    fn growth(&self) -> f64 {
        if self.x_x > 0.0 {
            self.x_y / self.x_x
        } else {
            0.0
        }
    }

    /// Sum of squared errors with the growth that fits best within these bounds.
    fn misfit_within(&self, (low, high): (f64, f64)) -> f64 {
        let growth = self.growth().clamp(low, high);
        self.y_y - 2.0 * growth * self.x_y + growth * growth * self.x_x
    }
}
