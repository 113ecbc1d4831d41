//! The settings that the rules are compared at.

use crate::athlete::{Counting, Event, Setting};

/// A setting with its name in tables.
pub type Named = (String, Setting);

/// Independent noise, and noise that carries over: the two settings of the published comparison.
#[must_use]
pub fn published() -> [Named; 2] {
    let independent = Setting::default();
    [
        ("independent noise".to_owned(), independent),
        (
            "AR(1) 0.3".to_owned(),
            Setting {
                carry_over: 0.3,
                ..independent
            },
        ),
    ]
}

/// One thing at a time made different from the published comparison, and growth with noise in every combination.
#[must_use]
pub fn grid() -> Vec<Named> {
    let plain = Setting::default();
    let mut grid: Vec<Named> = published().to_vec();
    let mut add = |name: String, setting: Setting| grid.push((name, setting));
    for growth in [0.01, 0.015, 0.02, 0.025] {
        for day_noise in [0.02, 0.03, 0.05] {
            add(
                format!("growth {} %, noise {} %", 100.0 * growth, 100.0 * day_noise),
                Setting {
                    growth: (growth, growth),
                    day_noise,
                    ..plain
                },
            );
        }
    }
    for day_noise in [0.02, 0.05] {
        let name = format!("noise {} %", 100.0 * day_noise);
        add(name, Setting { day_noise, ..plain });
    }
    let carried = Setting {
        carry_over: 0.5,
        ..plain
    };
    add("AR(1) 0.5".to_owned(), carried);
    let heavy = Setting {
        heavy_tails: true,
        ..plain
    };
    add("heavy-tailed noise".to_owned(), heavy);
    for plateau_after in [3, 12] {
        add(
            format!("plateau after {plateau_after} weeks"),
            Setting {
                plateau_after,
                ..plain
            },
        );
    }
    for missed in [0.0, 0.3] {
        let name = format!("{} % missed", 100.0 * missed);
        add(name, Setting { missed, ..plain });
    }
    for sets in [3, 4, 6, 8] {
        add(format!("{sets} sets a side"), Setting { sets, ..plain });
    }
    grid
}

/// Other ways in which the same athletes could be counted and could differ.
#[must_use]
pub fn countings() -> Vec<Named> {
    let plain = Setting::default();
    let rounded = Setting {
        counting: Counting::Rounded,
        ..plain
    };
    let floored = Setting {
        counting: Counting::Floored,
        ..plain
    };
    let ways = [
        ("all sets of a day alike, rounded", rounded),
        ("all sets of a day alike, cut off", floored),
        (
            "sets differ by 3 %, rounded",
            Setting {
                set_noise: 0.03,
                ..rounded
            },
        ),
        (
            "8 to 20 reps a set",
            Setting {
                start_reps: (8.0, 20.0),
                ..plain
            },
        ),
        (
            "right side 6 % slower",
            Setting {
                slower_right: 0.06,
                ..plain
            },
        ),
    ];
    let mut all = Vec::new();
    for (name, setting) in ways {
        all.push((name.to_owned(), setting));
        let carried = Setting {
            carry_over: 0.3,
            ..setting
        };
        all.push((format!("{name}, AR(1) 0.3"), carried));
    }
    all
}

/// Settings that break the series, for the rules together to judge; growing slowly enough that ten weeks do not reach
/// the default goal.
#[must_use]
pub fn events() -> Vec<Named> {
    let with = |event| Setting {
        event,
        growth: (0.01, 0.015),
        plateau_after: 10,
        ..Setting::default()
    };
    vec![
        ("none".to_owned(), with(Event::None)),
        ("60 s instead of 30".to_owned(), with(Event::LongerInterval)),
        ("a bigger club".to_owned(), with(Event::BiggerClub)),
        ("3 to 5 weeks away".to_owned(), with(Event::Layoff)),
    ]
}
