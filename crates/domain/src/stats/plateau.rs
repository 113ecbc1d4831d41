//! T5: whether the count at one key has stopped climbing, from nothing but the athlete's own log.
//!
//! Two explanations of the log are weighed against each other. *Climbing*: density grows by the same share every week.
//! *Stalled*: it did so up to one of the sessions, and has been level since (or was level throughout). Each is averaged
//! over what the log cannot tell exactly: the level, the growth, the day-to-day noise, how much one day carries over
//! to the next, and the session at which the climbing ended. The flag goes up when stalled is the more likely of the
//! two.
//!
//! Written out, with y the logarithm of density, t in weeks and τ the last week that climbed:
//! `y = a + g·t + e` against `y = a + g·min(t, τ) + e`. The errors e have standard deviation σ and lag-one correlation
//! ρ. The level a is unknown; g is normal about [`GROWTH_PER_WEEK`] with a spread of [`GROWTH_SPREAD`]·σ/[`DAY_NOISE`];
//! σ² is inverse-gamma about [`DAY_NOISE`]², worth [`NOISE_WORTH`] · 2 sessions, so that the log soon outweighs it; ρ is
//! one of [`CARRY_OVER`]. With these every integral has a closed form (the normal-inverse-gamma linear model of any
//! textbook on Bayesian regression), and running sums give it for each τ in constant time.
//!
//! Bounded work: only the last [`WINDOW`] sessions are looked at, so judging after every session of a long log is
//! linear in its length. How often it is right and wrong is measured by the example `stall_study`, whose tests pin it.

/// Sessions looked at, the latest ones: twelve weeks at two a week.
const WINDOW: usize = 24;

/// Fewest sessions for a judgement: six to know the climb by, and two since.
pub const FEWEST_SESSIONS: usize = 8;

/// The climb is known by at least this many sessions before the one at which it ends.
const CLIMB_KNOWN_BY: usize = 5;

/// Growth expected before the log speaks, and its spread: two thirds of athletes between −0.5 % and 1.5 % a week. Kept
/// low and wide, so that slow growth is not taken for none.
const GROWTH_PER_WEEK: f64 = 0.005;
/// See [`GROWTH_PER_WEEK`].
const GROWTH_SPREAD: f64 = 0.01;

/// Day-to-day noise expected before the log speaks: 3 % (common practice, no source). What whole-number counting adds
/// is added to it.
const DAY_NOISE: f64 = 0.03;
/// Half the number of sessions that [`DAY_NOISE`] counts for against those of the log.
const NOISE_WORTH: f64 = 3.0;

/// How much of a day's noise carries over to the next session: little or much, either as likely.
const CARRY_OVER: [f64; 2] = [0.1, 0.4];

/// Odds that a climb ends at any one session. This and the next were set once, on the study's athletes with independent
/// and carried-over noise together, so that its false alarms stay within what is allowed.
const ENDS_HERE: f64 = 0.075;
/// Odds that there was no climb throughout the window.
const NEVER_CLIMBED: f64 = 0.12;

/// Each session is another chance to be wrong. From the first of these numbers of sessions on the odds must be better by
/// 5 % for each one more, up to the second.
const MORE_LOOKS: (usize, usize) = (18, 38);

/// One session's interval sets at one key, both sides together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Day number, of any calendar that counts days.
    pub day: i32,
    /// Sum of reps.
    pub reps: u32,
    /// Sum of work time in seconds.
    pub seconds: u32,
    /// How many sets the reps were counted in: each is a whole number, and so off by up to half a rep.
    pub sets: u32,
}

/// What the log says about the climb at one key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Climb {
    /// Too few sessions to tell.
    NotEnoughYet {
        /// How many more it takes.
        sessions_missing: usize,
    },
    /// Growth is the likelier explanation.
    Climbing,
    /// T5: the count has stopped climbing.
    Stalled {
        /// Day of the session that was most likely the last to climb.
        since_day: i32,
        /// How many times likelier than climbing.
        odds: f64,
    },
}

/// T5: judges the log of one key since the club was begun, oldest session first, as it stands after its last session.
#[must_use]
pub fn judge_climb(log: &[Work]) -> Climb {
    if log.len() < FEWEST_SESSIONS {
        return Climb::NotEnoughYet {
            sessions_missing: FEWEST_SESSIONS - log.len(),
        };
    }
    let window = &log[log.len().saturating_sub(WINDOW)..];
    let (odds, last_climbing) = weigh(window);
    let more_looks = log.len().clamp(MORE_LOOKS.0, MORE_LOOKS.1) - MORE_LOOKS.0;
    if odds.ln() > 0.05 * more_looks as f64 {
        Climb::Stalled {
            since_day: window[last_climbing].day,
            odds,
        }
    } else {
        Climb::Climbing
    }
}

/// The odds of stalled against climbing, and the index of the session that was most likely the last to climb, 0 for none.
fn weigh(window: &[Work]) -> (f64, usize) {
    let noise = expected_noise(window);
    let end = window.len() - 1;
    let mut stalled = [0.0; WINDOW];
    let mut climbing = 0.0;
    let views = CARRY_OVER.map(|carry_over| View::new(window, carry_over, noise));
    // Weights come as logarithms far below 0; all are taken relative to this one.
    let scale = views[0].log_weight_of_climb_until(end);
    for view in &views {
        let weight = |log_weight: f64| (log_weight - scale).exp();
        climbing += weight(view.log_weight_of_climb_until(end));
        stalled[0] += NEVER_CLIMBED * weight(view.log_weight_of_level());
        for (last, total) in stalled
            .iter_mut()
            .enumerate()
            .take(end - 1)
            .skip(CLIMB_KNOWN_BY)
        {
            *total += ENDS_HERE * weight(view.log_weight_of_climb_until(last));
        }
    }
    let likeliest = (0..window.len()).max_by(|a, b| stalled[*a].total_cmp(&stalled[*b]));
    (
        stalled.iter().sum::<f64>() / climbing,
        likeliest.unwrap_or(0),
    )
}

/// The variance of log density to expect: day-to-day noise, and a twelfth of a square rep for each set counted.
fn expected_noise(window: &[Work]) -> f64 {
    let counting = |work: &Work| f64::from(work.sets) / 12.0 / f64::from(work.reps.max(1)).powi(2);
    DAY_NOISE.powi(2) + window.iter().map(counting).sum::<f64>() / window.len() as f64
}

/// The window seen with one carry-over: made independent by taking from each session what carried over from the one
/// before, with running sums up to each session.
struct View {
    sessions: usize,
    noise: f64,
    /// What becomes of a constant 1 past the first session.
    unit: f64,
    /// log of the part of the weight that all explanations share.
    shared: f64,
    /// Σ 1·1 and Σ y·y of all.
    ones: f64,
    squares: f64,
    weeks: [f64; WINDOW],
    /// Up to each session: Σ 1·t, Σ t·t, Σ t·y, Σ 1·y.
    one_week: [f64; WINDOW],
    week_week: [f64; WINDOW],
    week_log: [f64; WINDOW],
    one_log: [f64; WINDOW],
}

impl View {
    fn new(window: &[Work], carry_over: f64, noise: f64) -> Self {
        let fresh = (1.0 - carry_over * carry_over).sqrt();
        let zeros = [0.0; WINDOW];
        let mut view = Self {
            sessions: window.len(),
            noise,
            unit: (1.0 - carry_over) / fresh,
            shared: 0.0,
            ones: 0.0,
            squares: 0.0,
            weeks: zeros,
            one_week: zeros,
            week_week: zeros,
            week_log: zeros,
            one_log: zeros,
        };
        // Half a rep stands for none, whose logarithm there is not.
        let log_density =
            |work: &Work| (f64::from(work.reps).max(0.5) / f64::from(work.seconds.max(1))).ln();
        let (first_day, first_log) = (window[0].day, log_density(&window[0]));
        let (mut week_before, mut log_before) = (0.0, 0.0);
        let (mut one_week, mut week_week, mut week_log, mut one_log) = (0.0, 0.0, 0.0, 0.0);
        for (index, work) in window.iter().enumerate() {
            let week = (f64::from(work.day) - f64::from(first_day)) / 7.0;
            let log = log_density(work) - first_log;
            let (one, t, y) = if index == 0 {
                (1.0, week, log)
            } else {
                (
                    view.unit,
                    (week - carry_over * week_before) / fresh,
                    (log - carry_over * log_before) / fresh,
                )
            };
            view.ones += one * one;
            view.squares += y * y;
            one_week += one * t;
            week_week += t * t;
            week_log += t * y;
            one_log += one * y;
            view.weeks[index] = week;
            view.one_week[index] = one_week;
            view.week_week[index] = week_week;
            view.week_log[index] = week_log;
            view.one_log[index] = one_log;
            (week_before, log_before) = (week, log);
        }
        view.shared = -0.5 * view.ones.ln() - (view.sessions - 1) as f64 * fresh.ln();
        view
    }

    /// Log weight of growth up to the session `last` and none after it; of growth throughout when it is the last of all.
    fn log_weight_of_climb_until(&self, last: usize) -> f64 {
        let level = (self.sessions - 1 - last) as f64;
        let end = self.weeks[last];
        let held = level * self.unit * self.unit * end;
        let all_log = self.one_log[self.sessions - 1];
        let one_x = self.one_week[last] + held;
        let x_x = self.week_week[last] + held * end;
        let x_y = self.week_log[last] + end * (all_log - self.one_log[last]);
        self.log_weight(
            x_x - one_x * one_x / self.ones,
            x_y - one_x * all_log / self.ones,
        )
    }

    /// Log weight of no growth at all.
    fn log_weight_of_level(&self) -> f64 {
        self.log_weight(0.0, 0.0)
    }

    /// Log weight from the sums of squares and products about the mean, with level, growth and noise integrated out.
    fn log_weight(&self, x_x: f64, x_y: f64) -> f64 {
        let all_log = self.one_log[self.sessions - 1];
        let y_y = self.squares - all_log * all_log / self.ones;
        let spread = (GROWTH_SPREAD / DAY_NOISE).powi(2);
        let r_y = x_y - GROWTH_PER_WEEK * x_x;
        let r_r = y_y - 2.0 * GROWTH_PER_WEEK * x_y + GROWTH_PER_WEEK.powi(2) * x_x;
        let misfit = (r_r - spread * r_y * r_y / (1.0 + spread * x_x)).max(0.0);
        let freedom = NOISE_WORTH + (self.sessions - 1) as f64 / 2.0;
        self.shared
            - 0.5 * (spread * x_x).ln_1p()
            - freedom * (NOISE_WORTH * self.noise + misfit / 2.0).ln()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Two sessions a week with these sums of reps in ten sets of 30 s.
    fn log(reps: &[u32]) -> Vec<Work> {
        (0i32..)
            .zip(reps)
            .map(|(index, reps)| Work {
                day: index / 2 * 7 + index % 2 * 3,
                reps: *reps,
                seconds: 300,
                sets: 10,
            })
            .collect()
    }

    const CLIMBING: [u32; 16] = [
        120, 124, 121, 127, 126, 131, 129, 134, 136, 133, 139, 141, 138, 144, 147, 145,
    ];
    const STALLED: [u32; 20] = [
        120, 124, 121, 127, 126, 131, 129, 134, 136, 133, 139, 141, 138, 140, 137, 139, 136, 140,
        138, 137,
    ];

    fn odds(work: &[Work]) -> f64 {
        match judge_climb(work) {
            Climb::Stalled { odds, .. } => odds,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_climb_is_left_alone_and_a_stall_is_seen() {
        assert_eq!(judge_climb(&log(&CLIMBING)), Climb::Climbing);
        let work = log(&STALLED);
        let Climb::Stalled { since_day, odds } = judge_climb(&work) else {
            panic!("eight sessions level after twelve that climbed");
        };
        assert!(odds > 3.0, "{odds}");
        // The twelfth session was the last that climbed; the judgement may be a week off.
        assert!((since_day - work[11].day).abs() <= 7, "{since_day}");
    }

    #[test]
    fn one_that_never_climbed_is_stalled_too() {
        assert!(
            odds(&log(&[
                130, 128, 131, 129, 130, 132, 128, 130, 129, 131, 130, 129, 128, 131, 130, 129
            ])) > 1.0
        );
    }

    #[test]
    fn it_waits_for_eight_sessions() {
        assert_eq!(
            judge_climb(&[]),
            Climb::NotEnoughYet {
                sessions_missing: 8
            }
        );
        let missing = Climb::NotEnoughYet {
            sessions_missing: 1,
        };
        assert_eq!(judge_climb(&log(&STALLED)[..7]), missing);
        assert_eq!(judge_climb(&log(&CLIMBING)[..8]), Climb::Climbing);
    }

    /// The odds by plain summing over a fine grid of growth, level and noise, with the errors one by one.
    fn odds_by_summing(window: &[Work]) -> f64 {
        let expected = expected_noise(window);
        let logs: Vec<f64> = window
            .iter()
            .map(|it| (f64::from(it.reps) / f64::from(it.seconds)).ln())
            .collect();
        let weeks: Vec<f64> = window
            .iter()
            .map(|it| f64::from(it.day - window[0].day) / 7.0)
            .collect();
        let end = weeks.len() - 1;
        let (mut climbing, mut stalled) = (0.0, 0.0);
        for carry_over in CARRY_OVER {
            let fresh = (1.0f64 - carry_over * carry_over).sqrt();
            for noise_step in 0..60 {
                let sd = 0.01 * (1.0 + f64::from(noise_step) / 59.0 * 9.0);
                // Inverse-gamma in σ², and dσ² = 2σ dσ.
                let prior = (-NOISE_WORTH * expected / (sd * sd)
                    - 2.0 * (NOISE_WORTH + 1.0) * sd.ln())
                .exp()
                    * sd;
                for growth_step in -40..=40 {
                    let share = f64::from(growth_step) / 8.0;
                    let growth = GROWTH_PER_WEEK + share * sd * GROWTH_SPREAD / DAY_NOISE;
                    let prior = prior * (-share * share / 2.0).exp();
                    let likelihood = |last: usize, growth: f64| -> f64 {
                        (-60..=60)
                            .map(|level_step| {
                                let level = logs[0] + f64::from(level_step) / 60.0 * 0.3;
                                let error =
                                    |i: usize| logs[i] - level - growth * weeks[i].min(weeks[last]);
                                let squares: f64 = (0..=end)
                                    .map(|i| match i {
                                        0 => error(0),
                                        _ => (error(i) - carry_over * error(i - 1)) / fresh,
                                    })
                                    .map(|fresh_error| fresh_error * fresh_error)
                                    .sum();
                                (-squares / (2.0 * sd * sd)).exp()
                            })
                            .sum::<f64>()
                            / sd.powi(end as i32 + 1)
                            / fresh.powi(end as i32)
                    };
                    climbing += prior * likelihood(end, growth);
                    stalled += prior * NEVER_CLIMBED * likelihood(end, 0.0);
                    for last in CLIMB_KNOWN_BY..end - 1 {
                        stalled += prior * ENDS_HERE * likelihood(last, growth);
                    }
                }
            }
        }
        stalled / climbing
    }

    #[test]
    fn the_closed_form_is_the_sum_over_all_that_is_not_known() {
        let uneven = [0, 3, 7, 14, 17, 21, 28, 31, 35, 38];
        let reps = [121, 126, 129, 133, 135, 137, 131, 133, 130, 131];
        let work: Vec<Work> = uneven
            .into_iter()
            .zip(reps)
            .map(|(day, reps)| Work {
                day,
                reps,
                seconds: 300,
                sets: 10,
            })
            .collect();
        let (closed, summed) = (weigh(&work).0, odds_by_summing(&work));
        assert!(
            (closed / summed - 1.0).abs() < 0.01,
            "{closed} against {summed}"
        );
    }

    #[test]
    fn only_the_last_twelve_weeks_count() {
        let mut early = log(&[90; 10]);
        let mut late = log(&[STALLED.as_slice(), &[138, 139, 137, 138]].concat());
        let alone = judge_climb(&late);
        for work in &mut early {
            work.day -= 200;
        }
        early.append(&mut late);
        // The same window; only the bar for more looks differs, and both are far above it.
        assert_eq!(judge_climb(&early), alone);
    }

    proptest! {
        // Any log has an answer, and neither the unit of time worked nor the start of the calendar changes it.
        #[test]
        fn every_log_is_judged(
            days in proptest::collection::vec(-40_000..40_000i32, 0..40),
            reps in proptest::collection::vec(0..2_000u32, 40),
            seconds in 0..4_000u32,
            sets in 0..40u32,
        ) {
            let work: Vec<Work> = days
                .iter()
                .zip(&reps)
                .map(|(day, reps)| Work { day: *day, reps: *reps, seconds, sets })
                .collect();
            if let Climb::Stalled { odds, .. } = judge_climb(&work) {
                prop_assert!(odds > 0.0);
            }
        }

        #[test]
        fn the_calendar_does_not_matter(shift in -100_000..100_000i32) {
            let mut shifted = log(&STALLED);
            for work in &mut shifted {
                work.day += shift;
            }
            prop_assert!((odds(&shifted) / odds(&log(&STALLED)) - 1.0).abs() < 1e-9);
        }
    }
}
