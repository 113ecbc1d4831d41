//! The invented gym: thirty-two athletes at every stage, made from a seed, with known truths.
//!
//! Every athlete is a script of phases (climb on this club until the step is earned, stay flat, jump two clubs,
//! stop coming, …). The script is played from its own first week; its last week is then laid on the gym's last
//! week. What the script did on purpose is the athlete's *truth*: the flags that must stand on [`AS_OF`], and the
//! proposal that must follow. `cargo run -p leverbook-tests --bin make-demo-data` writes the files.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use time::macros::date;
use time::{Date, Duration};

/// The last day of the invented logs, a Sunday.
pub const AS_OF: Date = date!(2026 - 11 - 22);

const SETS_PER_SIDE: usize = 5;
const INTERVAL_SECONDS: u32 = 30;
const GOAL_OVER_START: f64 = 1.2;

/// One club of the rack, as its row in the file.
pub struct Club {
    /// Name, as files and plans use it.
    pub name: &'static str,
    mass_kg: f64,
    length_mm: u32,
    balance_mm: Option<u32>,
    grip_mm: Option<u32>,
    period_s: Option<f64>,
    pivot_mm: Option<u32>,
    loadable: bool,
    count: u32,
    /// The athlete who owns it, where it is not the gym's.
    owner: Option<&'static str>,
}

const fn club(
    name: &'static str,
    mass_kg: f64,
    length_mm: u32,
    balance_mm: u32,
    period_s: f64,
    count: u32,
) -> Club {
    Club {
        name,
        mass_kg,
        length_mm,
        balance_mm: Some(balance_mm),
        grip_mm: Some(60),
        period_s: Some(period_s),
        pivot_mm: Some(0),
        loadable: false,
        count,
        owner: None,
    }
}

/// The rack, lightest lever first. Each step to the next is under a third.
pub const RACK: &[Club] = &[
    club("Rowan 2", 2.0, 560, 370, 1.330, 4),
    club("Rowan 2.4", 2.4, 570, 375, 1.338, 4),
    club("Hazel 2.9", 2.9, 580, 380, 1.346, 4),
    club("Hazel 3.5", 3.5, 590, 385, 1.354, 3),
    club("Alder 4.2", 4.2, 600, 390, 1.362, 3),
    club("Alder 5", 5.0, 610, 400, 1.374, 3),
    club("Oak 6", 6.0, 620, 405, 1.382, 3),
    club("Oak 7.1", 7.1, 630, 412, 1.392, 3),
    club("Forge 8.4", 8.4, 640, 420, 1.402, 2),
    club("Forge 9.9", 9.9, 650, 428, 1.412, 2),
    club("Forge 11.6", 11.6, 660, 436, 1.422, 2),
    Club {
        loadable: true,
        ..club("Tallow bar, two plates", 13.5, 700, 445, 1.440, 1)
    },
    Club {
        loadable: true,
        ..club("Tallow bar, four plates", 15.6, 700, 462, 1.452, 1)
    },
    // Never put on a swing test: its inertia is unknown, and every page says so.
    Club {
        period_s: None,
        pivot_mm: None,
        owner: Some("nairn"),
        ..club("Nairn's own 6.4", 6.4, 625, 407, 0.0, 1)
    },
];

const ONE_HAND_START: usize = 1;
const TWO_HAND_START: usize = 5;

/// How fast the count climbs in a week.
const GROWTH: f64 = 0.013;

/// What an athlete's script says happens next.
#[derive(Clone, Copy)]
enum Phase {
    /// Two hands: the count climbs until the step is earned on both sides, twice in a row.
    Earn { club: usize, growth: f64 },
    /// Two hands: the same, one club after the other.
    EarnEach {
        first: usize,
        clubs: usize,
        growth: f64,
    },
    /// Two hands: the count climbs for some weeks, short of the goal.
    Climb {
        club: usize,
        growth: f64,
        weeks: usize,
    },
    /// Two hands: the count stays where it is.
    Flat { weeks: usize },
    /// Two hands: as `Climb`, but the left side lags by this share.
    LagLeft {
        club: usize,
        weeks: usize,
        share: f64,
    },
    /// Two hands: effort goes up at the same work.
    Grind { weeks: usize },
    /// The fingertip stage.
    Fingertip { club: usize, sessions: usize },
    /// One hand: sets are added week by week from five, holding every fourth week, for some weeks.
    Ladder { club: usize, weeks: usize },
    /// One hand: the same, until the target was done in full in two sessions running.
    LadderEarn { club: usize, target: usize },
    /// One hand: one week at this many sets on each side.
    LadderWeek { club: usize, sets: usize },
    /// One hand: weeks in which the left side leaves sets out.
    LadderLeftShort {
        club: usize,
        weeks: usize,
        sets: usize,
        left_sets: usize,
    },
    /// Nobody comes.
    Away { weeks: usize },
    /// One session a week, as in the phase before.
    HalfWeeks { weeks: usize },
    /// The last session hurt.
    Hurt {
        score: u8,
        place: &'static str,
        sessions: usize,
    },
}

use Phase::{
    Away, Climb, Earn, EarnEach, Fingertip, Flat, Grind, HalfWeeks, Hurt, Ladder, LadderEarn,
    LadderLeftShort, LadderWeek, LagLeft,
};

/// Whether an athlete still trains.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Standing {
    Active,
    Paused,
    Left,
}

/// One athlete of the invented gym.
pub struct Person {
    /// The handle in files.
    pub handle: &'static str,
    /// The name on pages.
    pub name: &'static str,
    coach: &'static str,
    movement: &'static str,
    standing: Standing,
    script: &'static [Phase],
    /// The rules whose `look` or `stop` flags must stand on [`AS_OF`]; nobody else's may.
    pub truth: &'static [&'static str],
    /// The kind of next step that must be proposed, where the script leaves one answer.
    pub next: Option<&'static str>,
}

impl Person {
    /// Whether they train here now.
    #[must_use]
    pub fn is_here(&self) -> bool {
        self.standing == Standing::Active
    }
}

/// The coaches' addresses in the files.
pub const COACHES: [&str; 2] = ["maren@quarrylane.example", "tobias@quarrylane.example"];

/// What they are called, as `leverbook demo` calls them.
pub const COACH_NAMES: [&str; 2] = ["Maren Holloway", "Tobias Wren"];

const fn person(
    handle: &'static str,
    name: &'static str,
    coach: usize,
    movement: &'static str,
    script: &'static [Phase],
    truth: &'static [&'static str],
    next: Option<&'static str>,
) -> Person {
    Person {
        handle,
        name,
        coach: COACHES[coach],
        movement,
        standing: Standing::Active,
        script,
        truth,
        next,
    }
}

const fn earn(club: usize) -> Phase {
    Earn {
        club,
        growth: GROWTH,
    }
}

// The first three clubs that everybody works through, each until its step is earned.
const C1: Phase = earn(TWO_HAND_START);
const C2: Phase = earn(TWO_HAND_START + 1);
const C3: Phase = earn(TWO_HAND_START + 2);
// Those and two more, for whoever is on the way to one hand: more than a year of two-hand work, as
// the gate asks.
const TO_THE_GATE: Phase = EarnEach {
    first: TWO_HAND_START,
    clubs: 5,
    growth: GROWTH,
};
const TIPS: Phase = Fingertip {
    club: ONE_HAND_START,
    sessions: 4,
};

/// Everybody, by what their script is there to show.
pub const PEOPLE: &[Person] = &[
    // Steady two-hand work, nothing to see.
    person(
        "abena",
        "Abena Thorsley",
        0,
        "pullover",
        &[Climb {
            club: 5,
            growth: 0.015,
            weeks: 7,
        }],
        &[],
        Some("stay"),
    ),
    person(
        "bruno",
        "Bruno Ashgrove",
        0,
        "inside circle",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.016,
                weeks: 6,
            },
        ],
        &[],
        Some("stay"),
    ),
    person(
        "carys",
        "Carys Venn",
        1,
        "pullover",
        &[
            C1,
            C2,
            Climb {
                club: 7,
                growth: 0.014,
                weeks: 7,
            },
        ],
        &[],
        Some("stay"),
    ),
    person(
        "dmitri",
        "Dmitri Hallow",
        1,
        "mill",
        &[
            C1,
            C2,
            C3,
            Climb {
                club: 8,
                growth: 0.017,
                weeks: 5,
            },
        ],
        &[],
        None,
    ),
    person(
        "elske",
        "Elske Brandt",
        0,
        "outside circle",
        &[Climb {
            club: 5,
            growth: 0.018,
            weeks: 6,
        }],
        &[],
        Some("stay"),
    ),
    person(
        "farid",
        "Farid Ostler",
        1,
        "inside circle",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 8,
            },
        ],
        &[],
        Some("stay"),
    ),
    person(
        "greta",
        "Greta Lindqvist-Moor",
        0,
        "mill",
        &[
            C1,
            C2,
            Climb {
                club: 7,
                growth: 0.016,
                weeks: 6,
            },
        ],
        &[],
        Some("stay"),
    ),
    // Two sessions old.
    person(
        "hollis",
        "Hollis Pree",
        1,
        "pullover",
        &[Climb {
            club: 5,
            growth: 0.015,
            weeks: 1,
        }],
        &[],
        Some("stay"),
    ),
    // The step is earned this week.
    person(
        "imani",
        "Imani Calder",
        0,
        "pullover",
        &[C1, C2],
        &[],
        Some("step_up"),
    ),
    person(
        "jorin",
        "Jorin Peake",
        1,
        "inside circle",
        &[C1],
        &[],
        Some("step_up"),
    ),
    // Stopped climbing short of the goal.
    person(
        "kaveh",
        "Kaveh Rushton",
        0,
        "pullover",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.018,
                weeks: 6,
            },
            Flat { weeks: 10 },
        ],
        &["T5"],
        None,
    ),
    person(
        "liese",
        "Liese Okonjo",
        0,
        "mill",
        &[
            Climb {
                club: 5,
                growth: 0.02,
                weeks: 6,
            },
            Flat { weeks: 9 },
        ],
        &["T5"],
        None,
    ),
    person(
        "marek",
        "Marek Dunmore",
        1,
        "outside circle",
        &[
            C1,
            C2,
            Climb {
                club: 7,
                growth: 0.017,
                weeks: 7,
            },
            Flat { weeks: 10 },
        ],
        &["T5"],
        None,
    ),
    // Jumped weight: one before the step was earned, one who earned it and passed two clubs by.
    person(
        "nairn",
        "Nairn Fettes",
        0,
        "pullover",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 6,
            },
            Climb {
                club: 9,
                growth: 0.01,
                weeks: 1,
            },
        ],
        &["W1", "W2", "W3"],
        None,
    ),
    person(
        "odile",
        "Odile Sarrat",
        1,
        "inside circle",
        &[
            C1,
            Climb {
                club: 8,
                growth: 0.01,
                weeks: 1,
            },
        ],
        &["W1", "W2"],
        None,
    ),
    // Stepped up a single club before it was earned.
    person(
        "piers",
        "Piers Wexcombe",
        1,
        "mill",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 6,
            },
            Climb {
                club: 7,
                growth: 0.01,
                weeks: 1,
            },
        ],
        &["W3"],
        None,
    ),
    // Favours a side.
    person(
        "quilla",
        "Quilla Marsh",
        0,
        "pullover",
        &[
            C1,
            LagLeft {
                club: 6,
                weeks: 7,
                share: 0.14,
            },
        ],
        &["B2"],
        None,
    ),
    person(
        "rasmus",
        "Rasmus Thole",
        1,
        "mill",
        &[
            TO_THE_GATE,
            TIPS,
            Ladder { club: 1, weeks: 3 },
            LadderLeftShort {
                club: 1,
                weeks: 5,
                sets: 8,
                left_sets: 6,
            },
        ],
        &["B2"],
        None,
    ),
    // Fades away, stays away, comes half the time.
    person(
        "signe",
        "Signe Aldous",
        0,
        "inside circle",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 6,
            },
            Away { weeks: 3 },
        ],
        &["A1"],
        Some("return"),
    ),
    person(
        "tamsin",
        "Tamsin Royle",
        1,
        "pullover",
        &[
            C1,
            C2,
            Climb {
                club: 7,
                growth: 0.015,
                weeks: 5,
            },
            Away { weeks: 5 },
        ],
        &["A1"],
        Some("return"),
    ),
    person(
        "ulf",
        "Ulf Hartigan",
        0,
        "mill",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 5,
            },
            HalfWeeks { weeks: 3 },
        ],
        &["A1"],
        None,
    ),
    // Three clubs finished in more than a year: the gate to one hand is open.
    person(
        "vesna",
        "Vesna Tarrow",
        0,
        "pullover",
        &[TO_THE_GATE],
        &[],
        Some("fingertip_stage"),
    ),
    person(
        "wilf",
        "Wilf Adeyemi-Stone",
        1,
        "inside circle",
        &[
            TO_THE_GATE,
            Climb {
                club: 10,
                growth: 0.015,
                weeks: 5,
            },
        ],
        &[],
        Some("fingertip_stage"),
    ),
    // In the fingertip stage, and through it.
    person(
        "xanthe",
        "Xanthe Bellwood",
        0,
        "pullover",
        &[
            TO_THE_GATE,
            Fingertip {
                club: ONE_HAND_START,
                sessions: 2,
            },
        ],
        &[],
        None,
    ),
    person(
        "yusuf",
        "Yusuf Carrow",
        1,
        "mill",
        &[TO_THE_GATE, TIPS],
        &[],
        Some("open_one_hand"),
    ),
    // On the ladder, going well.
    person(
        "zelda",
        "Zelda Prowse",
        0,
        "pullover",
        &[
            TO_THE_GATE,
            TIPS,
            LadderEarn {
                club: 1,
                target: 10,
            },
            LadderEarn {
                club: 2,
                target: 10,
            },
            LadderEarn {
                club: 3,
                target: 10,
            },
            Ladder { club: 4, weeks: 5 },
        ],
        &[],
        None,
    ),
    person(
        "anton",
        "Anton Greaves",
        0,
        "inside circle",
        &[
            TO_THE_GATE,
            TIPS,
            LadderEarn {
                club: 1,
                target: 10,
            },
            Ladder { club: 2, weeks: 5 },
        ],
        &[],
        None,
    ),
    // The ladder's target done twice.
    person(
        "beata",
        "Beata Fallow",
        1,
        "mill",
        &[
            TO_THE_GATE,
            TIPS,
            LadderEarn {
                club: 1,
                target: 10,
            },
        ],
        &[],
        Some("step_up"),
    ),
    // Four sets more from one week to the next.
    person(
        "casper",
        "Casper Nyland",
        0,
        "pullover",
        &[
            TO_THE_GATE,
            TIPS,
            Ladder { club: 1, weeks: 2 },
            LadderWeek { club: 1, sets: 10 },
        ],
        &["V2"],
        Some("hold"),
    ),
    // Kept ten sets across a step.
    person(
        "delphi",
        "Delphi Arnott",
        1,
        "inside circle",
        &[
            TO_THE_GATE,
            TIPS,
            LadderEarn {
                club: 1,
                target: 10,
            },
            LadderWeek { club: 2, sets: 10 },
        ],
        &["W4"],
        Some("hold"),
    ),
    // Hurts: once badly, twice a little at one place.
    person(
        "edvard",
        "Edvard Locke",
        0,
        "pullover",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 6,
            },
            Hurt {
                score: 5,
                place: "left elbow",
                sessions: 1,
            },
        ],
        &["L4"],
        Some("wait_for_coach"),
    ),
    person(
        "freya",
        "Freya Munting",
        1,
        "mill",
        &[
            C1,
            C2,
            Climb {
                club: 7,
                growth: 0.015,
                weeks: 5,
            },
            Hurt {
                score: 2,
                place: "right shoulder",
                sessions: 2,
            },
        ],
        &["L4"],
        None,
    ),
    // Effort at the ceiling, twice.
    person(
        "gwil",
        "Gwil Trevanion",
        0,
        "outside circle",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 6,
            },
            Grind { weeks: 1 },
        ],
        &["L3"],
        None,
    ),
    // One hand after one club and a few months, and on a club heavier than the one finished.
    person(
        "hedda",
        "Hedda Straik",
        1,
        "pullover",
        &[
            C1,
            Climb {
                club: 6,
                growth: 0.015,
                weeks: 6,
            },
            LadderWeek { club: 6, sets: 5 },
        ],
        &["O1", "O3", "W5"],
        None,
    ),
    // Paused, and gone: in the files, in nobody's week.
    Person {
        standing: Standing::Paused,
        ..person(
            "ivo",
            "Ivo Cardew",
            0,
            "mill",
            &[
                C1,
                Climb {
                    club: 6,
                    growth: 0.015,
                    weeks: 6,
                },
                Away { weeks: 4 },
            ],
            &["A1"],
            None,
        )
    },
    Person {
        standing: Standing::Left,
        ..person(
            "juno",
            "Juno Whitlock",
            1,
            "pullover",
            &[C1, Away { weeks: 12 }],
            &["A1"],
            None,
        )
    },
];

/// One set as it goes into the file.
struct SetRow {
    hands: &'static str,
    club: usize,
    side: &'static str,
    seconds: Option<u32>,
    reps: u32,
    asked: Option<u32>,
}

/// One session, on a day counted from the script's first Monday.
struct SessionRow {
    day: i64,
    minutes: u32,
    effort: f64,
    pain: Option<(u8, &'static str)>,
    sets: Vec<SetRow>,
}

/// Plays one script.
struct Player {
    random: ChaCha8Rng,
    weekdays: [i64; 2],
    week: i64,
    sessions: Vec<SessionRow>,
    club: usize,
    level: f64,
    missed_last_week: bool,
    /// Never misses: whoever is on the way to one hand keeps two sessions in every week.
    regular: bool,
}

impl Player {
    fn new(seed: u64, regular: bool) -> Self {
        let weekdays = [[0, 3], [1, 4], [2, 5]][(seed % 3) as usize];
        Self {
            random: ChaCha8Rng::seed_from_u64(seed),
            weekdays,
            week: 0,
            sessions: Vec::new(),
            club: 0,
            level: 0.0,
            missed_last_week: false,
            regular,
        }
    }

    /// Uniform in 0..1, the same on every machine.
    fn uniform(&mut self) -> f64 {
        (self.random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Close to a standard normal: twelve uniforms less six, exact on every machine.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }

    /// The days of this week on which the athlete comes. One session in twelve is missed, never in two weeks
    /// running, so that nobody is flagged for attendance by chance.
    fn days(&mut self) -> Vec<i64> {
        let misses = !self.regular && !self.missed_last_week && self.uniform() < 1.0 / 6.0;
        self.missed_last_week = misses;
        let kept = if misses {
            vec![self.weekdays[1]]
        } else {
            self.weekdays.to_vec()
        };
        kept.into_iter()
            .map(|weekday| self.week * 7 + weekday)
            .collect()
    }

    fn effort(&mut self) -> f64 {
        [5.0, 5.5, 6.0][(self.random.next_u64() % 3) as usize]
    }

    fn take_up(&mut self, club: usize) {
        if self.club != club || self.level == 0.0 {
            self.club = club;
            self.level = 27.0 + 3.0 * self.uniform();
        }
    }

    /// One session of interval sets at today's form; gives the density of each side.
    fn interval_session(
        &mut self,
        day: i64,
        lag_left: f64,
        effort: f64,
        pain: Option<(u8, &'static str)>,
    ) -> [f64; 2] {
        let form = self.level * (1.0 + 0.03 * self.normal());
        let mut sets = Vec::new();
        let mut totals = [0u32; 2];
        for _ in 0..SETS_PER_SIDE {
            for (at, side) in ["left", "right"].into_iter().enumerate() {
                let lag = if at == 0 { lag_left } else { 0.0 };
                let count =
                    form * f64::from(INTERVAL_SECONDS) / 60.0 * (1.0 - lag) + 0.3 * self.normal();
                let reps = count.round().max(1.0) as u32;
                totals[at] += reps;
                sets.push(SetRow {
                    hands: "two",
                    club: self.club,
                    side,
                    seconds: Some(INTERVAL_SECONDS),
                    reps,
                    asked: None,
                });
            }
        }
        self.sessions.push(SessionRow {
            day,
            minutes: 32,
            effort,
            pain,
            sets,
        });
        totals.map(|total| {
            60.0 * f64::from(total) / f64::from(INTERVAL_SECONDS * SETS_PER_SIDE as u32)
        })
    }

    fn straight_session(
        &mut self,
        day: i64,
        hands: &'static str,
        club: usize,
        left: usize,
        right: usize,
    ) {
        self.club = club;
        let reps = if hands == "fingertip" { 3 } else { 5 };
        let mut sets = Vec::new();
        for at in 0..left.max(right) {
            for (side, count) in [("left", left), ("right", right)] {
                if at < count {
                    sets.push(SetRow {
                        hands,
                        club,
                        side,
                        seconds: None,
                        reps,
                        asked: Some(reps),
                    });
                }
            }
        }
        let effort = self.effort();
        let minutes = 10 + 2 * left.max(right) as u32;
        self.sessions.push(SessionRow {
            day,
            minutes,
            effort,
            pain: None,
            sets,
        });
    }

    fn grow(&mut self, growth: f64) {
        self.level *= 1.0 + growth;
        self.week += 1;
    }

    fn ladder_week(&mut self, club: usize, left: usize, right: usize) {
        let days = [self.weekdays[0], self.weekdays[1]].map(|weekday| self.week * 7 + weekday);
        for day in days {
            self.straight_session(day, "one", club, left, right);
        }
        self.week += 1;
    }

    fn play(&mut self, phase: Phase) {
        match phase {
            Earn { club, growth } => {
                self.take_up(club);
                let mut first = Vec::new();
                let mut in_a_row = 0;
                while in_a_row < 2 {
                    for day in self.days() {
                        let effort = self.effort();
                        let sides = self.interval_session(day, 0.0, effort, None);
                        first.push((sides[0] + sides[1]) / 2.0);
                        let goal = GOAL_OVER_START * median_of_first_three(&first);
                        let reached = first.len() >= 3 && sides.iter().all(|side| *side >= goal);
                        // Once earned, the week is still finished with the same club.
                        in_a_row = match (reached, in_a_row) {
                            (_, 2) => 2,
                            (true, before) => before + 1,
                            (false, _) => 0,
                        };
                    }
                    self.grow(growth);
                }
            }
            EarnEach {
                first,
                clubs,
                growth,
            } => {
                for club in first..first + clubs {
                    self.play(Earn { club, growth });
                }
            }
            Climb {
                club,
                growth,
                weeks,
            } => {
                self.take_up(club);
                for _ in 0..weeks {
                    for day in self.days() {
                        let effort = self.effort();
                        self.interval_session(day, 0.0, effort, None);
                    }
                    self.grow(growth);
                }
            }
            Flat { weeks } => {
                for _ in 0..weeks {
                    for day in self.days() {
                        let effort = self.effort();
                        self.interval_session(day, 0.0, effort, None);
                    }
                    self.grow(0.0);
                }
            }
            LagLeft { club, weeks, share } => {
                self.take_up(club);
                for _ in 0..weeks {
                    for day in self.days() {
                        let effort = self.effort();
                        self.interval_session(day, share, effort, None);
                    }
                    self.grow(0.014);
                }
            }
            Grind { weeks } => {
                for _ in 0..weeks {
                    for weekday in self.weekdays {
                        self.interval_session(self.week * 7 + weekday, 0.0, 9.0, None);
                    }
                    self.grow(0.01);
                }
            }
            Fingertip { club, sessions } => {
                for at in 0..sessions {
                    let day = self.week * 7 + self.weekdays[at % 2];
                    self.straight_session(day, "fingertip", club, 5, 5);
                    if at % 2 == 1 {
                        self.week += 1;
                    }
                }
            }
            Ladder { club, weeks } => {
                for week in 0..weeks {
                    let sets = ladder_sets(week).min(10);
                    self.ladder_week(club, sets, sets);
                }
            }
            LadderEarn { club, target } => {
                for week in 0.. {
                    let sets = ladder_sets(week).min(target);
                    self.ladder_week(club, sets, sets);
                    if sets == target {
                        break;
                    }
                }
            }
            LadderWeek { club, sets } => self.ladder_week(club, sets, sets),
            LadderLeftShort {
                club,
                weeks,
                sets,
                left_sets,
            } => {
                for _ in 0..weeks {
                    self.ladder_week(club, left_sets, sets);
                }
            }
            Away { weeks } => self.week += weeks as i64,
            HalfWeeks { weeks } => {
                for _ in 0..weeks {
                    let effort = self.effort();
                    self.interval_session(self.week * 7 + self.weekdays[0], 0.0, effort, None);
                    self.grow(0.01);
                }
            }
            Hurt {
                score,
                place,
                sessions,
            } => {
                for weekday in self.weekdays.into_iter().take(sessions) {
                    let effort = self.effort();
                    self.interval_session(
                        self.week * 7 + weekday,
                        0.0,
                        effort,
                        Some((score, place)),
                    );
                }
                self.week += 1;
            }
        }
    }
}

/// Sets on each side in a week of the ladder, from 0: one more each week, every fourth week holds.
fn ladder_sets(week: usize) -> usize {
    5 + week - (week + 1) / 4
}

fn median_of_first_three(densities: &[f64]) -> f64 {
    let mut first: Vec<f64> = densities.iter().copied().take(3).collect();
    first.sort_by(f64::total_cmp);
    first.get(1).copied().unwrap_or(f64::INFINITY)
}

/// The files of the invented gym, by name.
pub fn files() -> Vec<(&'static str, String)> {
    vec![
        ("athletes.csv", athletes()),
        ("clubs.csv", clubs()),
        ("sets.csv", sets()),
    ]
}

/// The day on which the week after the script's last begins is the day after [`AS_OF`].
fn day_of(script_weeks: i64, day: i64) -> Date {
    AS_OF + Duration::days(1) - Duration::weeks(script_weeks) + Duration::days(day)
}

fn played() -> Vec<(&'static Person, Player)> {
    PEOPLE
        .iter()
        .enumerate()
        .map(|(at, person)| {
            let seed = SEEDS
                .iter()
                .find(|(handle, _)| *handle == person.handle)
                .map_or(at as u64 * 7 + 3, |(_, seed)| *seed);
            let earned: usize = person
                .script
                .iter()
                .map(|phase| match phase {
                    Earn { .. } => 1,
                    EarnEach { clubs, .. } => *clubs,
                    _ => 0,
                })
                .sum();
            let regular = earned >= 3;
            let mut player = Player::new(seed, regular);
            for phase in person.script {
                player.play(*phase);
            }
            (person, player)
        })
        .collect()
}

/// Athletes whose first seed happened to tell another story as well: the seed that does not.
const SEEDS: &[(&str, u64)] = &[];

fn athletes() -> String {
    let mut text = String::from("athlete,name,started_on,status,status_since,coach,notes\r\n");
    for (person, player) in played() {
        let start = day_of(player.week, player.sessions[0].day);
        let last = day_of(player.week, player.sessions[player.sessions.len() - 1].day);
        let (status, since) = match person.standing {
            Standing::Active => ("active", start),
            Standing::Paused => ("paused", last + Duration::days(1)),
            Standing::Left => ("left", last + Duration::days(1)),
        };
        text += &format!(
            "{},{},{start},{status},{since},{},\r\n",
            person.handle, person.name, person.coach
        );
    }
    text
}

fn clubs() -> String {
    let mut text = String::from(
        "club,mass_kg,length_mm,balance_mm,grip_mm,period_s,pivot_mm,loadable,count,athlete\r\n",
    );
    for club in RACK {
        let number = |value: Option<u32>| value.map(|value| value.to_string()).unwrap_or_default();
        let name = if club.name.contains(',') {
            format!("\"{}\"", club.name)
        } else {
            club.name.to_owned()
        };
        text += &format!(
            "{name},{},{},{},{},{},{},{},{},{}\r\n",
            club.mass_kg,
            club.length_mm,
            number(club.balance_mm),
            number(club.grip_mm),
            club.period_s
                .map(|period| format!("{period:.3}"))
                .unwrap_or_default(),
            number(club.pivot_mm),
            if club.loadable { "yes" } else { "no" },
            club.count,
            club.owner.unwrap_or_default(),
        );
    }
    text
}

fn sets() -> String {
    let mut text = String::from(
        "athlete,date,session,movement,hands,club,side,seconds,reps,effort,pain,pain_place,asked_reps,minutes\r\n",
    );
    for (person, player) in played() {
        for (at, session) in player.sessions.iter().enumerate() {
            let on = day_of(player.week, session.day);
            for set in &session.sets {
                let club = RACK[set.club].name;
                let club = if club.contains(',') {
                    format!("\"{club}\"")
                } else {
                    club.to_owned()
                };
                let (pain, place) = session.pain.map_or((String::new(), ""), |(score, place)| {
                    (score.to_string(), place)
                });
                let number =
                    |value: Option<u32>| value.map(|value| value.to_string()).unwrap_or_default();
                text += &format!(
                    "{},{on},{},{},{},{club},{},{},{},{},{pain},{place},{},{}\r\n",
                    person.handle,
                    at + 1,
                    person.movement,
                    set.hands,
                    set.side,
                    number(set.seconds),
                    set.reps,
                    session.effort,
                    number(set.asked),
                    session.minutes,
                );
            }
        }
    }
    text
}
