//! T5: whether the count at one key has stopped climbing, from nothing but the athlete's own log.
//!
//! Two explanations of the log are weighed against each other. *Climbing*: density grows by the same share every week.
//! *Stalled*: it did so up to one of the sessions, and has been level since (or was level throughout). Each is averaged
//! over what the log cannot tell exactly: the level, the growth, the day-to-day noise, and the session at which the
//! climbing ended. The flag goes up when stalled is the more likely of the two.
//!
//! Written out, with y the logarithm of density, t in weeks and τ the last week that climbed:
//! `y = a + g·t + e` against `y = a + g·min(t, τ) + e`. The errors e have standard deviation σ and lag-one correlation
//! [`CARRY_OVER`]. The level a is unknown; g is normal about [`GROWTH_PER_WEEK`] with a spread of [`GROWTH_SPREAD`]·σ;
//! σ² is inverse-gamma about [`DAY_NOISE`]², worth [`NOISE_WORTH`] · 2 sessions, so that the log soon outweighs it. With
//! these every integral has a closed form (the normal-inverse-gamma linear model of any textbook on Bayesian
//! regression), and running sums give it for each τ in constant time.
//!
//! Bounded work: only the last [`WINDOW`] sessions are looked at, so judging after every session of a long log is
//! linear in its length. The constants below were set together on the athletes of seeds 1 to 4 of the study, for all its
//! settings at once; how often the judgement is right and wrong is measured there with other seeds, and pinned.

/// Sessions looked at, the latest ones: twelve weeks at two a week.
const WINDOW: usize = 24;

/// Fewest sessions for a judgement: from here on a climb that never was can be told from one. The end of a climb takes
/// three more.
pub const FEWEST_SESSIONS: usize = 8;

/// The climb is known by at least this many sessions before the one at which it ends.
const CLIMB_KNOWN_BY: usize = 6;
/// The level is known by at least this many sessions after it.
const LEVEL_KNOWN_BY: usize = 4;

/// Growth expected before the log speaks: 1.5 % a week.
const GROWTH_PER_WEEK: f64 = 0.015;
/// Its spread, as a multiple of the day-to-day noise: wide, so that the log decides.
const GROWTH_SPREAD: f64 = 0.275;

/// Day-to-day noise expected before the log speaks; more than is common, so that a few days that happen to agree do not
/// count for much. What whole-number counting adds is added to it.
const DAY_NOISE: f64 = 0.06;
/// Half the number of sessions that [`DAY_NOISE`] counts for against those of the log.
const NOISE_WORTH: f64 = 2.5;

/// How much of a day's noise carries over to the next session: between independent noise and AR(1) noise of 0.5.
const CARRY_OVER: f64 = 0.25;

/// Odds that the climb ended at one session, and by how much their logarithm rises with each session since: a few bad
/// days are no stall yet.
const ENDED_HERE: f64 = 0.052;
/// See [`ENDED_HERE`].
const LONGER_AGO: f64 = 0.08;
/// Odds that there never was a climb.
const NEVER_CLIMBED: f64 = 0.25;
/// From this many sessions on the logarithm of [`NEVER_CLIMBED`] falls by [`FADES`] with each: by then those who never
/// climbed are known, and slow growth is not to be taken for none.
const FADES_AFTER: usize = 13;
/// See [`FADES_AFTER`].
const FADES: f64 = 0.5;

/// Each session is another chance to be wrong. From the first of these numbers of sessions on the odds must be better by
/// [`MORE_ODDS`] for each one more, up to the second.
const MORE_LOOKS: (usize, usize) = (17, 38);
/// See [`MORE_LOOKS`]; of the logarithm of the odds.
const MORE_ODDS: f64 = 0.05;

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
    let earlier = log.len().saturating_sub(WINDOW);
    let window = &log[earlier..];
    let (odds, last_climbing) = weigh(earlier, window);
    if odds > odds_needed(log.len()) {
        Climb::Stalled {
            since_day: window[last_climbing].day,
            odds,
        }
    } else {
        Climb::Climbing
    }
}

/// How much likelier stalled must be after so many sessions.
fn odds_needed(sessions: usize) -> f64 {
    let more_looks = sessions.clamp(MORE_LOOKS.0, MORE_LOOKS.1) - MORE_LOOKS.0;
    (MORE_ODDS * more_looks as f64).exp()
}

/// The odds of stalled against climbing, and the index of the session that was most likely the last to climb, 0 for none
/// of the window, which so many earlier sessions came before.
fn weigh(earlier: usize, window: &[Work]) -> (f64, usize) {
    let view = View::new(window);
    let end = window.len() - 1;
    // Weights come as logarithms far below 0; all are taken relative to climbing.
    let climbing = view.log_weight_of_climb_until(end);
    let mut stalled = [0.0; WINDOW];
    let faded = (earlier + window.len()).saturating_sub(FADES_AFTER) as f64;
    let level_throughout = NEVER_CLIMBED * (-FADES * faded).exp() + ENDED_HERE * earlier as f64;
    stalled[0] = level_throughout * (view.log_weight_of_level() - climbing).exp();
    let ends = CLIMB_KNOWN_BY..window.len().saturating_sub(LEVEL_KNOWN_BY);
    for (last, odds) in stalled
        .iter_mut()
        .enumerate()
        .filter(|(last, _)| ends.contains(last))
    {
        let since = (end - last) as f64;
        let weight = view.log_weight_of_climb_until(last) - climbing;
        *odds = ENDED_HERE * (LONGER_AGO * since + weight).exp();
    }
    let likeliest = (0..window.len()).max_by(|a, b| stalled[*a].total_cmp(&stalled[*b]));
    (stalled.iter().sum(), likeliest.unwrap_or(0))
}

/// The variance of log density to expect: day-to-day noise, and a twelfth of a square rep of an average set. Sets of one
/// day may all lack the same part of a rep, so that many of them do not make it smaller.
fn expected_noise(window: &[Work]) -> f64 {
    let counting =
        |work: &Work| (f64::from(work.sets) / f64::from(work.reps.max(1))).powi(2) / 12.0;
    DAY_NOISE.powi(2) + window.iter().map(counting).sum::<f64>() / window.len() as f64
}

/// The window made independent by taking from each session what carried over from the one before, with running sums up
/// to each session.
struct View {
    sessions: usize,
    noise: f64,
    /// What becomes of a constant 1 past the first session.
    unit: f64,
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
    fn new(window: &[Work]) -> Self {
        let fresh = (1.0 - CARRY_OVER * CARRY_OVER).sqrt();
        let zeros = [0.0; WINDOW];
        let mut view = Self {
            sessions: window.len(),
            noise: expected_noise(window),
            unit: (1.0 - CARRY_OVER) / fresh,
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
                    (week - CARRY_OVER * week_before) / fresh,
                    (log - CARRY_OVER * log_before) / fresh,
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

    /// Log weight from the sums of squares and products about the mean, with level, growth and noise integrated out, but
    /// for what all explanations share.
    fn log_weight(&self, x_x: f64, x_y: f64) -> f64 {
        let all_log = self.one_log[self.sessions - 1];
        let y_y = self.squares - all_log * all_log / self.ones;
        let spread = GROWTH_SPREAD.powi(2);
        let r_y = x_y - GROWTH_PER_WEEK * x_x;
        let r_r = y_y - 2.0 * GROWTH_PER_WEEK * x_y + GROWTH_PER_WEEK.powi(2) * x_x;
        let misfit = (r_r - spread * r_y * r_y / (1.0 + spread * x_x)).max(0.0);
        let freedom = NOISE_WORTH + (self.sessions - 1) as f64 / 2.0;
        -0.5 * (spread * x_x).ln_1p() - freedom * (NOISE_WORTH * self.noise + misfit / 2.0).ln()
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

    const LEVEL: [u32; 16] = [
        130, 128, 131, 129, 130, 132, 128, 130, 129, 131, 130, 129, 128, 131, 130, 129,
    ];
    /// 24 sessions of which the last is missing here: with 151 reps it stalled, with 152 it did not yet.
    const NEAR_THE_BAR: [u32; 23] = [
        120, 124, 121, 127, 126, 131, 129, 134, 136, 133, 139, 141, 138, 144, 147, 145, 150, 148,
        153, 151, 153, 150, 151,
    ];

    fn uneven(share_of_reps: u32, seconds: u32, sets: u32) -> Vec<Work> {
        let days = [0, 3, 7, 14, 17, 21, 28, 31, 35, 38];
        let reps = [121, 126, 129, 133, 135, 137, 131, 133, 130, 131];
        days.into_iter()
            .zip(reps)
            .map(|(day, reps)| Work {
                day,
                reps: reps / share_of_reps,
                seconds,
                sets,
            })
            .collect()
    }

    #[track_caller]
    fn weighs(earlier: usize, window: &[Work], odds: f64, last_climbing: usize) {
        let found = weigh(earlier, window);
        assert!((found.0 / odds - 1.0).abs() < 1e-9, "{found:?}");
        assert_eq!(found.1, last_climbing);
    }

    /// Recomputed with numpy, another way: the covariance of the log densities written out, ρ^|i−j| + GROWTH_SPREAD²·x·xᵀ
    /// with x the weeks up to τ, its inverse and determinant, and the level projected out of it.
    #[test]
    fn the_odds_are_those_of_the_whole_covariance() {
        weighs(0, &log(&STALLED), 6.0128362305414695, 11);
        weighs(0, &log(&STALLED[..17]), 1.3085077845531634, 11);
        weighs(0, &log(&STALLED[..16]), 0.49268617358460504, 11);
        weighs(0, &log(&STALLED[..10]), 0.042766876762275516, 0);
        weighs(0, &log(&CLIMBING), 0.07660100776460954, 11);
        weighs(0, &log(&CLIMBING[..11]), 0.048394181818248616, 6);
        weighs(0, &log(&CLIMBING[..9]), 0.050092653791280764, 0);
        weighs(0, &log(&LEVEL), 1.3911790659131325, 0);
        weighs(0, &log(&LEVEL[..14]), 1.2549111983585435, 0);
        weighs(0, &log(&LEVEL[..13]), 1.495966635938935, 0);
        weighs(0, &log(&LEVEL[..8]), 0.41631274940080426, 0);
        // Two weeks without a session; fewer sets; a quarter of the reps, where counting is coarser.
        weighs(0, &uneven(1, 300, 10), 0.22918478453631444, 0);
        weighs(0, &uneven(1, 120, 4), 0.2187749361047792, 0);
        weighs(0, &uneven(4, 300, 10), 0.3586068280376267, 0);
        // What came before the window may have been the end of the climb.
        weighs(0, &log(&[120; 24]), 5.126437779832588, 6);
        weighs(16, &log(&[120; 24]), 23.691275105831384, 0);
    }

    #[test]
    fn a_climb_is_left_alone_and_a_stall_is_seen() {
        assert_eq!(judge_climb(&log(&CLIMBING)), Climb::Climbing);
        let work = log(&STALLED);
        let Climb::Stalled { since_day, odds } = judge_climb(&work) else {
            panic!("eight sessions level after twelve that climbed");
        };
        assert!((odds - 6.013).abs() < 0.001, "{odds}");
        // The twelfth session was the last that climbed.
        assert_eq!(since_day, work[11].day);
        assert_eq!(judge_climb(&work[..16]), Climb::Climbing);
        let Climb::Stalled { since_day, .. } = judge_climb(&work[..17]) else {
            panic!("odds over 1 after 17 sessions");
        };
        assert_eq!(since_day, work[11].day);
    }

    #[test]
    fn one_that_never_climbed_is_stalled_too() {
        let work = log(&LEVEL);
        let Climb::Stalled { since_day, .. } = judge_climb(&work) else {
            panic!("sixteen sessions level");
        };
        assert_eq!(since_day, work[0].day);
    }

    #[test]
    fn it_waits_for_eight_sessions() {
        for sessions in 0..8 {
            assert_eq!(
                judge_climb(&log(&STALLED)[..sessions]),
                Climb::NotEnoughYet {
                    sessions_missing: 8 - sessions
                }
            );
        }
        assert_eq!(judge_climb(&log(&CLIMBING)[..8]), Climb::Climbing);
        assert_eq!(FEWEST_SESSIONS, 8);
    }

    /// By hand: e^0.05 for each session from 18 to 38.
    #[test]
    fn every_further_look_asks_for_more() {
        for (sessions, odds) in [
            (8, 1.0),
            (17, 1.0),
            (18, 1.051_271_096),
            (27, 1.648_721_271),
            (37, std::f64::consts::E),
            (38, 2.857_651_118),
            (400, 2.857_651_118),
        ] {
            assert!((odds_needed(sessions) - odds).abs() < 1e-9, "{sessions}");
        }
    }

    /// Odds of 1.67 and 1.36 (recomputed with numpy as above) where 24 sessions ask for 1.42.
    #[test]
    fn the_bar_decides() {
        let ending = |reps| judge_climb(&log(&[NEAR_THE_BAR.as_slice(), &[reps]].concat()));
        assert!(matches!(ending(151), Climb::Stalled { odds, .. } if (odds - 1.672).abs() < 0.001));
        assert_eq!(ending(152), Climb::Climbing);
    }

    /// The window is the last 24 sessions; of those before it only their number counts.
    #[test]
    fn only_the_last_twelve_weeks_are_read() {
        let late = log(&[STALLED.as_slice(), &[138, 139, 137, 138]].concat());
        let behind = |reps: u32| {
            let mut all = log(&[reps; 10]);
            for work in &mut all {
                work.day -= 200;
            }
            all.extend(&late);
            judge_climb(&all)
        };
        assert!(matches!(behind(90), Climb::Stalled { .. }));
        assert_eq!(behind(90), behind(140));
    }

    /// Level for half a year: stalled all along, not only while the end of the climb is in the window.
    #[test]
    fn a_stall_stays_one() {
        let mut reps = STALLED.to_vec();
        reps.extend([139, 137, 140, 136, 138, 139].iter().cycle().take(40));
        for sessions in 17..=reps.len() {
            let found = judge_climb(&log(&reps[..sessions]));
            assert!(
                matches!(found, Climb::Stalled { .. }),
                "{sessions}: {found:?}"
            );
        }
    }

    #[test]
    fn no_reps_at_all_are_judged_too() {
        let none = log(&[0; 30]);
        assert!(matches!(judge_climb(&none), Climb::Stalled { .. }));
        let mut no_time = log(&STALLED);
        for work in &mut no_time {
            work.seconds = 0;
        }
        assert!(matches!(judge_climb(&no_time), Climb::Stalled { .. }));
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
            let odds = weigh(0, &shifted).0;
            prop_assert!((odds / weigh(0, &log(&STALLED)).0 - 1.0).abs() < 1e-9);
        }
    }
}
