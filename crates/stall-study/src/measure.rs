//! How often a rule is right and wrong about many athletes.

use std::num::NonZero;
use std::thread;

use crate::athlete::Setting;
use crate::rules::{Log, Rule};

/// Weeks after the end of growth within which a plateau should be seen.
pub const WATCHED_WEEKS: u8 = 4;

/// Fewest weeks of real growth over which false alarms are counted.
pub const GROWING_WEEKS: u8 = 8;

/// What one rule makes of one athlete.
#[derive(Debug, Clone, Copy)]
struct Outcome {
    false_alarm: bool,
    alarmed_before: bool,
    /// In the weeks watched.
    seen: bool,
    /// Weeks from the end of growth to the first alarm, if none came before.
    delay: Option<f64>,
}

/// What one rule makes of many athletes.
#[derive(Debug, Clone, Default)]
pub struct Figures {
    athletes: usize,
    false_alarms: usize,
    unalarmed: usize,
    seen: usize,
    /// Of those not alarmed before.
    delays: Vec<f64>,
}

impl Figures {
    fn add(&mut self, outcome: Outcome) {
        self.athletes += 1;
        self.false_alarms += usize::from(outcome.false_alarm);
        self.unalarmed += usize::from(!outcome.alarmed_before);
        self.seen += usize::from(outcome.seen);
        self.delays.extend(outcome.delay);
    }

    fn merge(&mut self, other: Self) {
        self.athletes += other.athletes;
        self.false_alarms += other.false_alarms;
        self.unalarmed += other.unalarmed;
        self.seen += other.seen;
        self.delays.extend(other.delays);
    }

    /// Share of the athletes with an alarm while growth went on.
    #[must_use]
    pub fn false_alarms(&self) -> f64 {
        share(self.false_alarms, self.athletes)
    }

    /// Share of all athletes that the rule calls stalled at some session in the four weeks after growth ended.
    #[must_use]
    pub fn seen(&self) -> f64 {
        share(self.seen, self.athletes)
    }

    /// The same, of those not called stalled before growth ended.
    #[must_use]
    pub fn seen_of_unalarmed(&self) -> f64 {
        share(self.delays.len(), self.unalarmed)
    }

    /// Share of all athletes whose very first alarm comes in the four weeks after growth ended.
    #[must_use]
    pub fn seen_first(&self) -> f64 {
        share(self.delays.len(), self.athletes)
    }

    /// Weeks from the end of growth by which half of the athletes not alarmed before are; `None` when it takes more than
    /// the weeks watched.
    #[must_use]
    pub fn median_delay(&self) -> Option<f64> {
        let mut delays = self.delays.clone();
        delays.sort_unstable_by(f64::total_cmp);
        let half = self.unalarmed.div_ceil(2);
        delays.get(half.checked_sub(1)?).copied()
    }
}

fn share(count: usize, of: usize) -> f64 {
    count as f64 / of.max(1) as f64
}

/// What each of the rules makes of the athletes numbered from 0 on, all rules of the same ones.
#[must_use]
pub fn measure(setting: &Setting, rules: &[Rule], seed: u64, athletes: u64) -> Vec<Figures> {
    let workers = thread::available_parallelism().map_or(1, NonZero::get) as u64;
    let part = |worker: u64| {
        let mut figures = vec![Figures::default(); rules.len()];
        for number in (worker..athletes).step_by(workers as usize) {
            for (figures, outcome) in figures.iter_mut().zip(one(setting, rules, seed, number)) {
                figures.add(outcome);
            }
        }
        figures
    };
    thread::scope(|scope| {
        let parts: Vec<_> = (0..workers)
            .map(|worker| scope.spawn(move || part(worker)))
            .collect();
        let mut total = vec![Figures::default(); rules.len()];
        for part in parts {
            let figures = part.join().expect("a worker does not panic");
            for (total, figures) in total.iter_mut().zip(figures) {
                total.merge(figures);
            }
        }
        total
    })
}

fn one(setting: &Setting, rules: &[Rule], seed: u64, number: u64) -> Vec<Outcome> {
    let growing_weeks = GROWING_WEEKS.max(setting.plateau_after + 2);
    let growing = Log::of(setting.athlete(seed, number, false, growing_weeks));
    let weeks = setting.plateau_after + WATCHED_WEEKS + 1;
    let levelling = Log::of(setting.athlete(seed, number, true, weeks));
    let end = f64::from(setting.plateau_after);
    let watched = |week: f64| week > end && week <= end + f64::from(WATCHED_WEEKS);
    let judge = |rule: &Rule| {
        let alarms = rule.alarms(&levelling);
        let alarms = levelling.weeks().zip(alarms);
        let mut weeks = alarms.filter_map(|(week, alarm)| alarm.then_some(week));
        let first = weeks.next();
        Outcome {
            false_alarm: rule.alarms(&growing).contains(&true),
            alarmed_before: first.is_some_and(|week| week <= end),
            seen: first.into_iter().chain(weeks).any(watched),
            delay: first.filter(|week| watched(*week)).map(|week| week - end),
        }
    };
    rules.iter().map(judge).collect()
}
