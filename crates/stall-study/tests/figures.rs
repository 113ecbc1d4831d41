//! What the stall flag must reach, on athletes of seeds that no constant was set with.
//!
//! The required figures are the product's own: with independent noise at most 8 % false alarms in eight weeks of real
//! growth and at least 75 % of plateaus seen within four weeks, with AR(1) noise of 0.3 at most 10 % and at least 62 %.

use leverbook_domain::stats::{Climb, judge_climb};
use leverbook_stall_study::{
    Figures, Goal, HELD_OUT, Log, ORACLE, Rule, SCAN, Setting, Study, TUNED_WITH, beaten_at,
    countings, events, grid, measure, plot, published,
};

/// Standard errors: 0.5 points of a share of 4 %, 0.9 of 80 %.
const MANY: u64 = 2_000;

fn one(setting: &Setting, rule: Rule, athletes: u64) -> Figures {
    measure(setting, &[rule], HELD_OUT, athletes).remove(0)
}

#[test]
fn the_seed_of_the_figures_set_no_constant() {
    assert!(!TUNED_WITH.contains(&HELD_OUT));
}

/// Three standard errors and more inside what is required; of all athletes, and of those not alarmed before.
#[test]
fn the_judgement_reaches_what_is_required() {
    let [(_, independent), (_, carried)] = published();
    for (setting, most_false, least_seen) in [(independent, 0.06, 0.775), (carried, 0.08, 0.72)] {
        let found = one(&setting, Rule::Judgement, MANY);
        assert!(
            found.false_alarms() <= most_false,
            "{}",
            found.false_alarms()
        );
        assert!(found.seen() >= least_seen, "{}", found.seen());
        assert!(found.seen_first() >= least_seen, "{}", found.seen_first());
    }
}

/// The same figures however reps are counted and sides differ, three standard errors of 500 athletes allowed for.
#[test]
fn the_way_of_counting_does_not_matter() {
    for (name, setting) in countings() {
        let found = one(&setting, Rule::Judgement, 500);
        let (most_false, least_seen) = match setting.carry_over > 0.0 {
            true => (0.10, 0.70),
            false => (0.08, 0.75),
        };
        assert!(
            found.false_alarms() <= most_false,
            "{name} {}",
            found.false_alarms()
        );
        assert!(
            found.seen_first() >= least_seen,
            "{name} {}",
            found.seen_first()
        );
    }
}

/// No naive rule has as few false alarms and sees more plateaus, at any setting. Where 300 athletes leave it open, for
/// instance because neither rule has a false alarm among them, two thousand decide.
#[test]
fn no_rule_of_thumb_dominates() {
    let study = |athletes| Study {
        seed: HELD_OUT,
        athletes,
    };
    for named in grid() {
        if !beaten_at(&named, study(300)).is_empty() {
            assert_eq!(beaten_at(&named, study(2_000)), [], "{}", named.0);
        }
    }
}

/// Noise of 2 and 5 % instead of 3 %: a quarter of the false alarms allowed more, and no fewer plateaus asked for.
#[test]
fn other_noise_is_borne() {
    for (day_noise, most_false) in [(0.02, 0.08), (0.05, 0.10)] {
        let setting = Setting {
            day_noise,
            ..Setting::default()
        };
        let found = one(&setting, Rule::Judgement, 1_000);
        assert!(
            found.false_alarms() <= most_false,
            "{}",
            found.false_alarms()
        );
        assert!(found.seen_first() >= 0.75, "{}", found.seen_first());
    }
}

/// The published figures of five rules on such athletes, false alarms and plateaus seen in percent, that the simulator
/// comes near; how near is theirs and ours together: it was not said how a session's sets differ.
#[test]
fn the_rivals_are_as_published() {
    let trend_test = Rule::TrendTest {
        window: 8,
        p_over: 0.3,
    };
    let [(_, independent), (_, carried)] = published();
    for (setting, rule, false_alarms, seen) in [
        (independent, Rule::NoNewBest(4), 62.0, 90.0),
        (independent, Rule::NoNewBest(6), 17.0, 49.0),
        (independent, trend_test, 43.0, 92.0),
        (independent, SCAN, 9.0, 77.0),
        (carried, SCAN, 12.0, 71.0),
        (independent, ORACLE, 7.0, 87.0),
        (carried, ORACLE, 6.0, 73.0),
    ] {
        let found = one(&setting, rule, MANY);
        let off = [
            100.0 * found.false_alarms() - false_alarms,
            100.0 * found.seen() - seen,
        ];
        assert!(
            off.iter().all(|off| off.abs() <= 8.0),
            "{} {off:?}",
            rule.name()
        );
    }
}

/// With a goal that is never reached the flag of all the rules together goes up when the judgement of the one key does;
/// with the default goal it sees nearly as much.
#[test]
fn the_rules_raise_what_the_estimator_finds() {
    let (_, setting) = &published()[1];
    for number in 0..150 {
        for plateau in [false, true] {
            let log = Log::of(setting.athlete(HELD_OUT, number, plateau, 11));
            let first = |rule: Rule| rule.alarms(&log).iter().position(|alarm| *alarm);
            assert_eq!(
                first(Rule::Flag(Goal::FarOff)),
                first(Rule::Judgement),
                "athlete {number}"
            );
        }
    }
    let found = one(&Setting::default(), Rule::Flag(Goal::Default), 600);
    assert!(found.false_alarms() <= 0.06, "{}", found.false_alarms());
    assert!(found.seen_first() >= 0.76, "{}", found.seen_first());
}

/// Another interval, another club or 28 days away begin a new series; 21 to 27 days, which the weeks away may be too,
/// do not. Either way there are no more false alarms than without.
#[test]
fn what_breaks_a_series_is_no_stall() {
    let found: Vec<Figures> = events()
        .iter()
        .map(|(_, setting)| one(setting, Rule::Flag(Goal::Default), 200))
        .collect();
    for (index, event) in found[1..].iter().enumerate() {
        assert!(event.false_alarms() <= found[0].false_alarms(), "{index}");
        assert!(event.seen_of_unalarmed() >= 0.7, "{index}");
    }
}

#[test]
fn nothing_is_said_before_eight_sessions() {
    let setting = Setting {
        growth: (-0.05, 0.0),
        missed: 0.0,
        ..Setting::default()
    };
    for number in 0..100 {
        let athlete = setting.athlete(HELD_OUT, number, false, 8);
        let work = athlete.work();
        for sessions in 0..8 {
            let missing = Climb::NotEnoughYet {
                sessions_missing: 8 - sessions,
            };
            assert_eq!(judge_climb(&work[..sessions]), missing);
        }
        assert!(!athlete.flagged(Goal::FarOff)[..7].contains(&true));
    }
}

#[test]
fn one_seed_gives_one_study() {
    let study = |seed| Study { seed, athletes: 8 };
    assert_eq!(study(5).tables(), study(5).tables());
    assert_ne!(study(5).tables(), study(6).tables());
    assert_eq!(plot(study(5)), plot(study(5)));
    assert!(plot(study(5)).ends_with("</svg>\n"));
}
