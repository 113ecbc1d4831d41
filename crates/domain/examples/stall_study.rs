//! How good the stall judgement (T5) is, on simulated athletes: `cargo run -p leverbook-domain --example stall_study`.
//!
//! Two sessions a week, one in ten missed at random; five 30 s sets a side, counted in whole reps; day-to-day noise of 3 %,
//! independent or carrying over to the next session (AR(1) with 0.3); growth of 1 to 2.5 % a week. For false alarms
//! the growth goes on for eight weeks. For plateaus it ends after six, and the four weeks that follow are watched, their
//! last day included. The log is judged after every session. The tests at the end pin what the judgement must reach.

use leverbook_domain::stats::{Climb, Work, judge_climb};

/// Simulated athletes for a line of the table: the figures are good to about half a percent.
const ATHLETES: u32 = 8_000;

fn main() {
    println!(
        "{:44} {:>12} {:>12} {:>12}",
        "simulated athletes", "false alarms", "plateaus", "of which not"
    );
    println!(
        "{:44} {:>12} {:>12} {:>12}",
        "", "in 8 weeks", "in 4 weeks", "alarmed before"
    );
    let independent = Setting::default();
    let carried = Setting {
        carry_over: 0.3,
        ..independent
    };
    let rules: [(&str, Rule); 3] = [
        ("no new best in 4 sessions", |log| no_new_best(log, 4)),
        ("no new best in 6 sessions", |log| no_new_best(log, 6)),
        ("the judgement", stalled),
    ];
    for (name, rule) in rules {
        print_line(&format!("{name}, independent noise"), independent, rule);
        print_line(&format!("{name}, AR(1) 0.3"), carried, rule);
    }
    println!();
    for (name, setting) in [
        (
            "counts cut off, low count",
            Setting {
                reps_a_minute: (12.0, 18.0),
                cut_off: true,
                ..independent
            },
        ),
        (
            "all sets of a day alike",
            Setting {
                set_noise: 0.0,
                ..independent
            },
        ),
        (
            "noise 2 %",
            Setting {
                day_noise: 0.02,
                ..independent
            },
        ),
        (
            "noise 5 %",
            Setting {
                day_noise: 0.05,
                ..independent
            },
        ),
        (
            "growth 1 %",
            Setting {
                growth: (0.01, 0.01),
                ..independent
            },
        ),
        (
            "growth 2.5 %",
            Setting {
                growth: (0.025, 0.025),
                ..independent
            },
        ),
        (
            "sixteen weeks, plateau after twelve",
            Setting {
                climb_weeks: 12,
                ..independent
            },
        ),
        (
            "plateau after three weeks",
            Setting {
                climb_weeks: 3,
                ..independent
            },
        ),
    ] {
        print_line(name, setting, stalled);
    }
    let never = Setting {
        growth: (0.0, 0.0),
        ..independent
    };
    let flagged = 100.0 * measure(never, stalled, ATHLETES).false_alarms;
    println!("\nno growth from the start: flagged within 8 weeks {flagged:.1} %");
}

fn print_line(name: &str, setting: Setting, rule: Rule) {
    let found = measure(setting, rule, ATHLETES);
    println!(
        "{name:44} {:>10.1} % {:>10.1} % {:>10.1} %",
        100.0 * found.false_alarms,
        100.0 * found.seen,
        100.0 * found.seen_first
    );
}

/// Whether a log calls for the flag as it stands.
type Rule = fn(&[Work]) -> bool;

fn stalled(log: &[Work]) -> bool {
    matches!(judge_climb(log), Climb::Stalled { .. })
}

/// The plain rule that the judgement is measured against.
fn no_new_best(log: &[Work], sessions: usize) -> bool {
    let better = |best: usize, index: usize| {
        let rate = |work: &Work| f64::from(work.reps) / f64::from(work.seconds);
        if rate(&log[index]) > rate(&log[best]) {
            index
        } else {
            best
        }
    };
    let best = (1..log.len()).fold(0, better);
    log.len() - 1 - best >= sessions
}

/// What is simulated.
#[derive(Clone, Copy)]
struct Setting {
    growth: (f64, f64),
    reps_a_minute: (f64, f64),
    day_noise: f64,
    carry_over: f64,
    set_noise: f64,
    /// Counts are cut off to whole reps; else rounded.
    cut_off: bool,
    /// Weeks of growth before a plateau. False alarms are counted over two weeks more.
    climb_weeks: i32,
}

impl Default for Setting {
    fn default() -> Self {
        Self {
            growth: (0.01, 0.025),
            reps_a_minute: (20.0, 30.0),
            day_noise: 0.03,
            carry_over: 0.0,
            set_noise: 0.03,
            cut_off: false,
            climb_weeks: 6,
        }
    }
}

/// Shares of the simulated athletes.
struct Found {
    /// Alarmed while growth went on.
    false_alarms: f64,
    /// Alarmed in the four weeks after growth ended.
    seen: f64,
    /// The same, of those that had no alarm before.
    seen_first: f64,
}

fn measure(setting: Setting, rule: Rule, athletes: u32) -> Found {
    let mut chance = Chance(20_261_125);
    let (mut false_alarms, mut seen, mut seen_first) = (0, 0, 0);
    let plateau = 7 * setting.climb_weeks;
    for _ in 0..athletes {
        let growing = setting.simulate(&mut chance, plateau + 13, None);
        let alarms = |log: &[Work]| -> Vec<i32> {
            (1..=log.len())
                .filter(|n| rule(&log[..*n]))
                .map(|n| log[n - 1].day)
                .collect()
        };
        false_alarms += u32::from(!alarms(&growing).is_empty());
        let held = alarms(&setting.simulate(&mut chance, plateau + 28, Some(plateau)));
        seen += u32::from(held.iter().any(|day| *day >= plateau));
        seen_first += u32::from(held.first().is_some_and(|day| *day >= plateau));
    }
    let share = |count: u32| f64::from(count) / f64::from(athletes);
    Found {
        false_alarms: share(false_alarms),
        seen: share(seen),
        seen_first: share(seen_first),
    }
}

impl Setting {
    /// One athlete's log up to a day, growing until `plateau`.
    fn simulate(self, chance: &mut Chance, until: i32, plateau: Option<i32>) -> Vec<Work> {
        let growth = chance.between(self.growth);
        let start = chance.between(self.reps_a_minute);
        let mut form = chance.normal();
        let mut log = Vec::new();
        for day in (0..=until).filter(|day| matches!(day % 7, 0 | 3)) {
            if chance.uniform() < 0.1 {
                continue;
            }
            let fresh = (1.0 - self.carry_over * self.carry_over).sqrt();
            form = self.carry_over * form + fresh * chance.normal();
            let weeks = f64::from(plateau.map_or(day, |plateau| day.min(plateau))) / 7.0;
            let rate = start * (1.0 + growth).powf(weeks) * (1.0 + self.day_noise * form);
            let count = |chance: &mut Chance| {
                let exact = rate / 2.0 * (1.0 + self.set_noise * chance.normal());
                let whole = if self.cut_off {
                    exact.floor()
                } else {
                    exact.round()
                };
                whole.max(0.0) as u32
            };
            let reps = (0..10).map(|_| count(chance)).sum();
            log.push(Work {
                day,
                reps,
                seconds: 300,
                sets: 10,
            });
        }
        log
    }
}

/// Repeatable chance: a linear congruential generator with the constants of Knuth's MMIX, its upper half.
struct Chance(u64);

impl Chance {
    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        f64::from((self.0 >> 32) as u32) / 4_294_967_296.0
    }

    fn between(&mut self, (low, high): (f64, f64)) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Box and Muller.
    fn normal(&mut self) -> f64 {
        let (radius, angle) = (1.0 - self.uniform(), std::f64::consts::TAU * self.uniform());
        (-2.0 * radius.ln()).sqrt() * angle.cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Few enough for a test: a share of 8 % is good to ±1.4 at two standard errors, one of 75 % to ±2.2.
    const FEW: u32 = 1_500;

    #[test]
    fn independent_noise_is_judged_well_enough() {
        let found = measure(Setting::default(), stalled, FEW);
        assert!(
            found.false_alarms <= 0.08,
            "false alarms {}",
            found.false_alarms
        );
        assert!(found.seen_first >= 0.75, "seen {}", found.seen_first);
    }

    #[test]
    fn noise_that_carries_over_is_judged_well_enough() {
        let carried = Setting {
            carry_over: 0.3,
            ..Setting::default()
        };
        let found = measure(carried, stalled, FEW);
        assert!(
            found.false_alarms <= 0.10,
            "false alarms {}",
            found.false_alarms
        );
        assert!(found.seen_first >= 0.62, "seen {}", found.seen_first);
    }

    #[test]
    fn the_plain_rule_is_worse_on_the_same_athletes() {
        let plain = measure(Setting::default(), |log| no_new_best(log, 6), FEW);
        let judged = measure(Setting::default(), stalled, FEW);
        assert!(plain.false_alarms > judged.false_alarms && plain.seen < judged.seen);
    }
}
