//! Simulated athletes: what they do, and the log that comes of it.

use leverbook_domain::club::Mechanics;
use leverbook_domain::id::{BlockId, ClubId, LoadingId, MovementId, SessionId};
use leverbook_domain::plan::{IntervalSets, Scheme};
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{self, Episode, episodes};
use leverbook_domain::stats::Work;
use leverbook_domain::training::{
    self, AvailableClub, BlockSpan, Hands, History, Session, SetDone, Side,
};
use leverbook_domain::units::{Density, Mass, Measured, Reps, Seconds, StaticMoment};
use time::{Date, Duration, Month};
use uuid::Uuid;

use crate::chance::Chance;

/// What is simulated. The default is an athlete of the published comparison: two sessions a week, one in ten missed at
/// random, five sets of 30 s a side in whole reps, day-to-day noise of 3 %, growing 1 to 2.5 % a week, level after six
/// weeks if a plateau is reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Share that density grows by in a week, lowest and highest of the athletes.
    pub growth: (f64, f64),
    /// Reps in half a minute at the start.
    pub start_reps: (f64, f64),
    /// Standard deviation from day to day, as a share of the rate.
    pub day_noise: f64,
    /// Lag-one correlation of the days' noise, AR(1) from session to session.
    pub carry_over: f64,
    /// Whether the noise is Student's t with four degrees of freedom instead of normal, at the same standard deviation.
    pub heavy_tails: bool,
    /// Standard deviation from set to set within a day, as a share of the rate.
    pub set_noise: f64,
    /// How an unfinished rep is counted.
    pub counting: Counting,
    /// By how much the right side is slower, as a share.
    pub slower_right: f64,
    /// Share of the sessions missed.
    pub missed: f64,
    /// Sets a side.
    pub sets: u8,
    /// Weeks of training after which growth ends, for those who reach a plateau.
    pub plateau_after: u8,
    /// What happens after four weeks of training.
    pub event: Event,
}

impl Default for Setting {
    fn default() -> Self {
        Self {
            growth: (0.01, 0.025),
            start_reps: (10.0, 15.0),
            day_noise: 0.03,
            carry_over: 0.0,
            heavy_tails: false,
            set_noise: 0.0,
            counting: Counting::ByChance,
            slower_right: 0.0,
            missed: 0.1,
            sets: 5,
            plateau_after: 6,
            event: Event::None,
        }
    }
}

/// How an unfinished rep is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counting {
    /// To the nearest rep.
    Rounded,
    /// Not at all.
    Floored,
    /// By whether the set began early or late in a rep: with the chance of its share.
    ByChance,
}

/// Something that breaks a series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// Nothing.
    None,
    /// The interval becomes 60 s, at a rate 8 % lower.
    LongerInterval,
    /// A bigger club, at a rate 15 % lower.
    BiggerClub,
    /// Three to five weeks away. 3 % of form is lost a week, half of that regained in the first week back and the rest
    /// in the second. Training weeks, growth and plateau stand still meanwhile.
    Layoff,
}

/// Weeks of training before an [`Event`].
const EVENT_AFTER: f64 = 4.0;

/// One session of a simulated athlete.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// Days since the first possible session.
    pub day: i32,
    /// Weeks of training by then, without a layoff.
    pub trained_weeks: f64,
    /// The second club, once there is one.
    pub second_club: bool,
    /// Interval in seconds.
    pub seconds: u16,
    /// Counts of the left side's sets.
    pub left: Vec<u16>,
    /// Counts of the right side's sets.
    pub right: Vec<u16>,
}

/// A simulated athlete, with what only the simulator knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Athlete {
    /// The sessions, first to last.
    pub done: Vec<Done>,
    /// Logarithm of the rate at the start, reps a second.
    pub level: f64,
    /// Growth of the logarithm in a week.
    pub growth: f64,
    /// Standard deviation of a session's logarithm: of the day, of the sets, and of counting in whole reps.
    pub noise: f64,
    /// Lag-one correlation of the days' noise.
    pub carry_over: f64,
}

impl Setting {
    /// The athlete with this number, training for so many weeks; those who reach a plateau are level after
    /// [`Self::plateau_after`] weeks of it.
    #[must_use]
    pub fn athlete(&self, seed: u64, number: u64, plateau: bool, weeks: u8) -> Athlete {
        let mut chance = Chance::new(seed, 2 * number + u64::from(plateau));
        let growth = (1.0 + chance.between(self.growth)).ln();
        let start = chance.between(self.start_reps);
        let away_days = match self.event {
            Event::Layoff => 21 + (chance.share() * 15.0) as i32,
            _ => 0,
        };
        let fresh = (1.0 - self.carry_over * self.carry_over).sqrt();
        let mut form = self.draw(&mut chance);
        let mut done = Vec::new();
        for training_day in (0..7 * i32::from(weeks)).filter(|day| matches!(day % 7, 0 | 3)) {
            if chance.share() < self.missed {
                continue;
            }
            let trained_weeks = f64::from(training_day) / 7.0;
            let after_event = trained_weeks >= EVENT_AFTER && self.event != Event::None;
            form = self.carry_over * form + fresh * self.draw(&mut chance);
            let grown = match plateau {
                true => trained_weeks.min(f64::from(self.plateau_after)),
                false => trained_weeks,
            };
            let mut rate = start / 30.0 * (growth * grown).exp() * (1.0 + self.day_noise * form);
            let mut seconds = 30;
            if after_event {
                match self.event {
                    Event::None => {}
                    Event::LongerInterval => {
                        rate *= 0.92;
                        seconds = 60;
                    }
                    Event::BiggerClub => rate *= 0.85,
                    Event::Layoff => {
                        let to_regain = (2.0 - (trained_weeks - EVENT_AFTER)).max(0.0) / 2.0;
                        rate *= 1.0 - 0.03 * f64::from(away_days) / 7.0 * to_regain;
                    }
                }
            }
            let mut counts = |rate: f64| -> Vec<u16> {
                (0..self.sets)
                    .map(|_| {
                        let exact = rate
                            * f64::from(seconds)
                            * (1.0 + self.set_noise * self.draw(&mut chance));
                        let whole = match self.counting {
                            Counting::Rounded => exact.round(),
                            Counting::Floored => exact.floor(),
                            Counting::ByChance => (exact + chance.share()).floor(),
                        };
                        whole.clamp(0.0, 999.0) as u16
                    })
                    .collect()
            };
            done.push(Done {
                day: training_day + if after_event { away_days } else { 0 },
                trained_weeks,
                second_club: after_event && self.event == Event::BiggerClub,
                seconds,
                left: counts(rate),
                right: counts(rate * (1.0 - self.slower_right)),
            });
        }
        let sets = 2.0 * f64::from(self.sets);
        let counting = 1.0 / 12.0 / (start * start * sets);
        let noise = self.day_noise.powi(2) + self.set_noise.powi(2) / sets + counting;
        Athlete {
            done,
            level: (start / 30.0).ln(),
            growth,
            noise: noise.sqrt(),
            carry_over: self.carry_over,
        }
    }

    /// One unit of noise.
    fn draw(&self, chance: &mut Chance) -> f64 {
        if self.heavy_tails {
            chance.heavy_tailed()
        } else {
            chance.normal()
        }
    }
}

const MOVEMENT: MovementId = MovementId(Uuid::from_u128(1));

fn loading(second: bool) -> LoadingId {
    LoadingId(Uuid::from_u128(2 + u128::from(second)))
}

/// Day 0: a Monday.
const FIRST_DAY: Date = match Date::from_calendar_date(2026, Month::January, 5) {
    Ok(day) => day,
    Err(_) => panic!("5 January 2026 is a day"),
};

/// The date of a day of [`Done::day`].
#[must_use]
pub fn date(day: i32) -> Date {
    FIRST_DAY + Duration::days(i64::from(day))
}

impl Athlete {
    /// What the estimator is given of athletes who change neither club nor interval.
    #[must_use]
    pub fn work(&self) -> Vec<Work> {
        let one = |done: &Done| {
            let counts = done.left.iter().chain(&done.right);
            let sets = (done.left.len() + done.right.len()) as u32;
            Work {
                day: done.day,
                reps: counts.map(|count| u32::from(*count)).sum(),
                seconds: sets * u32::from(done.seconds),
                sets,
            }
        };
        self.done.iter().map(one).collect()
    }

    /// The same as the rules are given it: real sessions and clubs, with the default goal, or with one so far off that
    /// it is never reached.
    ///
    /// # Panics
    /// Never: all that is simulated is within the domain's bounds.
    #[must_use]
    pub fn history(&self, goal: Goal) -> History {
        let sessions = self.done.iter().map(Done::session).collect();
        let clubs = [(false, 20.0), (true, 25.0)].map(|(second, moment)| club(second, moment));
        let blocks = match goal {
            Goal::Default => None,
            Goal::FarOff => Some(vec![BlockSpan {
                block: BlockId(Uuid::from_u128(9)),
                movement: MOVEMENT,
                hands: Hands::Two,
                loading: loading(false),
                scheme: Scheme::IntervalSets(IntervalSets {
                    seconds: Seconds::new(30).expect("30 s is an interval"),
                    sets: 5,
                    rest_seconds: 60,
                    goal: Some(Density::from_rpm(400.0).expect("a density")),
                }),
                from: FIRST_DAY,
                until: FIRST_DAY + Duration::days(2_000),
            }]),
        };
        History::new(sessions, clubs.to_vec(), blocks)
    }
}

impl Athlete {
    /// The lives of the T5 flags that all the rules together find in the whole history.
    #[must_use]
    pub fn flags(&self, goal: Goal) -> Vec<Episode> {
        let last = self.done.last().map_or(0, |done| done.day);
        let mut found = episodes(&self.history(goal), &Policy::default(), date(last));
        found.retain(|episode| episode.flag.rule == rules::Rule::T5);
        found
    }

    /// Whether T5 stands after each session.
    #[must_use]
    pub fn flagged(&self, goal: Goal) -> Vec<bool> {
        let flags = self.flags(goal);
        let stands = |done: &Done| flags.iter().any(|flag| flag.stands_on(date(done.day)));
        self.done.iter().map(stands).collect()
    }
}

/// The goal at the athlete's club (T3).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// As without a coach's word.
    Default,
    /// Out of reach.
    FarOff,
}

fn club(second: bool, newton_metres: f64) -> AvailableClub {
    let kg = newton_metres / 4.0;
    AvailableClub {
        loading: loading(second),
        club: ClubId(Uuid::from_u128(5)),
        mechanics: Mechanics {
            mass: Measured::new(Mass::from_kg(kg).expect("a mass"), 0.01).expect("a ±"),
            length: None,
            balance: None,
            static_moment: Some(
                Measured::new(StaticMoment::from_nm(newton_metres).expect("a moment"), 0.1)
                    .expect("a ±"),
            ),
            inertia_cm: None,
            inertia_grip: None,
        },
        usable: true,
    }
}

impl Done {
    fn session(&self) -> Session {
        let side = |side: Side, counts: &[u16]| -> Vec<SetDone> {
            let set = |count: &u16| SetDone {
                movement: MOVEMENT,
                hands: Hands::Two,
                loading: loading(self.second_club),
                side,
                work: training::Work::Interval {
                    seconds: Seconds::new(i64::from(self.seconds)).expect("an interval"),
                    reps: Reps::new(i64::from(*count)).expect("a count"),
                },
            };
            counts.iter().map(set).collect()
        };
        let mut sets = side(Side::Left, &self.left);
        sets.extend(side(Side::Right, &self.right));
        Session {
            id: SessionId(Uuid::from_u128(1_000 + self.day.unsigned_abs() as u128)),
            on: date(self.day),
            planned: None,
            minutes: None,
            effort: None,
            pain: Vec::new(),
            sets,
        }
    }
}
