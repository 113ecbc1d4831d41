use std::collections::BTreeSet;

use serde_json::Value;
use time::macros::{date, datetime};
use uuid::Uuid;

use super::*;
use crate::id::AccountId;
use crate::rules::help::{FAMILIES, help};
use crate::text::Reason;

const PRACTICE: &str = "Common practice";
const OURS: &str = "This project’s own";

/// Name, as shipped, least, most, whether whole, and what its source begins with. The defaults are the
/// trade's common practice or stand in the sources named (all from memory); the ranges are this
/// project's own.
const ROWS: [(&str, f64, f64, f64, bool, &str); 40] = [
    (
        "step_percent_min",
        2.0,
        0.0,
        50.0,
        false,
        "The low end of published guidance",
    ),
    ("settled_sessions", 4.0, 1.0, 100.0, true, OURS),
    ("left_after_days", 28.0, 2.0, 366.0, true, OURS),
    ("interval_seconds", 30.0, 5.0, 3600.0, true, PRACTICE),
    ("goal_over_start", 1.2, 1.0, 3.0, false, PRACTICE),
    ("goal_start_sessions", 3.0, 1.0, 20.0, true, PRACTICE),
    (
        "earned_in_a_row",
        2.0,
        1.0,
        20.0,
        true,
        "The shape of the 2-for-2 rule",
    ),
    ("earned_effort_at_most", 7.0, 0.0, 10.0, false, PRACTICE),
    ("earned_pain_at_most", 2.0, 0.0, 10.0, true, PRACTICE),
    ("opening_clubs", 3.0, 0.0, 20.0, true, PRACTICE),
    (
        "opening_months",
        12.0,
        0.0,
        120.0,
        true,
        "Common practice of the trade, 12 to 24 months",
    ),
    ("opening_sessions_per_week", 2.0, 0.0, 14.0, false, PRACTICE),
    (
        "fingertip_sessions",
        4.0,
        0.0,
        100.0,
        true,
        "The order is common practice",
    ),
    ("ladder_reps_min", 3.0, 1.0, 50.0, true, PRACTICE),
    ("ladder_reps_max", 5.0, 1.0, 50.0, true, PRACTICE),
    ("ladder_start_sets", 5.0, 1.0, 40.0, true, PRACTICE),
    ("ladder_added_sets_max", 2.0, 0.0, 20.0, true, PRACTICE),
    ("ladder_targets[0]", 10.0, 1.0, 100.0, true, PRACTICE),
    ("ladder_targets[1]", 20.0, 1.0, 100.0, true, PRACTICE),
    ("no_add_effort", 9.0, 0.0, 10.0, false, PRACTICE),
    ("no_add_pain", 3.0, 0.0, 10.0, true, PRACTICE),
    ("hold_every_weeks", 4.0, 0.0, 52.0, true, PRACTICE),
    ("light_week_share", 0.6, 0.1, 1.0, false, PRACTICE),
    (
        "symmetry_percent",
        10.0,
        0.0,
        200.0,
        false,
        "Index: Robinson et al.",
    ),
    ("symmetry_days", 28.0, 1.0, 366.0, true, OURS),
    ("symmetry_sessions", 2.0, 1.0, 100.0, true, OURS),
    (
        "step_percent",
        33.0,
        0.0,
        200.0,
        false,
        "Common practice and the coach’s own number",
    ),
    ("assumed_rest_seconds", 60.0, 0.0, 900.0, false, PRACTICE),
    ("assumed_rep_seconds", 3.0, 0.5, 60.0, false, PRACTICE),
    (
        "load_spike_ratio",
        1.5,
        1.0,
        10.0,
        false,
        "Common practice. Such ratios are disputed",
    ),
    ("load_mean_weeks", 4.0, 1.0, 52.0, true, "Williams et al."),
    ("load_weeks_before", 3.0, 1.0, 52.0, true, OURS),
    ("effort_climbing", 9.0, 0.0, 10.0, false, PRACTICE),
    (
        "pain_stop",
        4.0,
        1.0,
        10.0,
        true,
        "Bands of pain scales disagree",
    ),
    ("pain_in_a_row", 2.0, 1.0, 20.0, true, PRACTICE),
    ("pain_free_sessions", 2.0, 1.0, 20.0, true, OURS),
    ("sessions_per_week", 2.0, 1.0, 14.0, true, "WHO guidelines"),
    ("gap_days", 14.0, 2.0, 366.0, true, PRACTICE),
    ("return_share", 0.6, 0.1, 1.0, false, PRACTICE),
    ("gap_lighter_days", 28.0, 2.0, 366.0, true, PRACTICE),
];

#[test]
fn every_threshold_has_its_default_its_range_and_its_source() {
    let rows = ROWS;
    let names: Vec<&str> = Threshold::ALL.iter().map(|it| it.name).collect();
    assert_eq!(names, rows.iter().map(|row| row.0).collect::<Vec<_>>());
    for (threshold, (name, shipped, least, most, whole, source)) in Threshold::ALL.iter().zip(&rows)
    {
        assert_eq!(threshold.shipped(), *shipped, "{name}");
        assert_eq!((threshold.least, threshold.most), (*least, *most), "{name}");
        assert_eq!(threshold.whole, *whole, "{name}");
        assert!(
            threshold.source.starts_with(source),
            "{name}: {}",
            threshold.source
        );
    }
}

/// The numbers in a policy as serialised, by name.
fn leaves(policy: &Policy) -> Vec<(String, Value)> {
    let json = serde_json::to_value(policy).unwrap();
    let mut leaves = Vec::new();
    for (name, value) in json.as_object().unwrap() {
        match value {
            Value::Array(values) => leaves.extend(
                values
                    .iter()
                    .enumerate()
                    .map(|(at, value)| (format!("{name}[{at}]"), value.clone())),
            ),
            value => leaves.push((name.clone(), value.clone())),
        }
    }
    leaves
}

#[test]
fn every_field_has_one_row_that_sets_it_and_nothing_else() {
    let shipped = leaves(&Policy::default());
    let fields: BTreeSet<&str> = shipped.iter().map(|(name, _)| name.as_str()).collect();
    let mut rows: Vec<&str> = Threshold::ALL.iter().map(|it| it.name).collect();
    rows.push("version");
    assert_eq!(rows.len(), fields.len());
    assert_eq!(rows.into_iter().collect::<BTreeSet<_>>(), fields);
    for threshold in Threshold::ALL {
        let name = threshold.name;
        assert_eq!(Threshold::named(name), Some(threshold));
        // 1 is in every range, and no threshold is 1 as shipped.
        let mut policy = Policy::default();
        threshold
            .set(&mut policy, 1.0_f64.max(threshold.least))
            .unwrap();
        let set = leaves(&policy);
        let changed: Vec<&str> = set
            .iter()
            .zip(&shipped)
            .filter(|(set, shipped)| set != shipped)
            .map(|((name, _), _)| name.as_str())
            .collect();
        assert_eq!(changed, [name]);
        assert_eq!(
            threshold.of(&policy),
            1.0_f64.max(threshold.least),
            "{name}"
        );
        let (_, value) = shipped.iter().find(|(field, _)| field == name).unwrap();
        assert_eq!(threshold.whole, !value.is_f64(), "{name}");
        let differing: Vec<&str> = Policy::default()
            .differing(&policy)
            .map(|it| it.name)
            .collect();
        assert_eq!(differing, [name]);
    }
}

#[test]
fn nothing_outside_its_range_can_be_set() {
    for threshold in Threshold::ALL {
        let (least, most) = (threshold.least, threshold.most);
        let mut policy = Policy::default();
        for good in [least, most] {
            assert_eq!(
                threshold.set(&mut policy, good),
                Ok(()),
                "{}",
                threshold.name
            );
            assert_eq!(threshold.of(&policy), good);
        }
        let before = policy.clone();
        let whole = "must be a whole number from";
        for bad in [
            least - 1.0,
            most + 1.0,
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
        ] {
            let refused = threshold.set(&mut policy, bad).unwrap_err();
            assert_eq!(refused.fault, Fault::OutOfRange, "{} {bad}", threshold.name);
            assert_eq!(refused.at_field().starts_with(whole), threshold.whole);
        }
        let half = threshold.set(&mut policy, most - 0.5);
        if threshold.whole {
            let refused = half.unwrap_err();
            assert_eq!(refused.fault, Fault::NotWhole);
            assert!(refused.at_field().starts_with(whole));
            assert_eq!(policy, before, "{}", threshold.name);
        } else {
            assert_eq!(half, Ok(()));
        }
    }
}

#[test]
fn the_policy_as_shipped_can_be_used() {
    assert_eq!(Policy::default().refused(), []);
}

#[test]
fn pairs_stand_in_order() {
    let pairs: Vec<(&str, &str)> = Threshold::ALL
        .iter()
        .filter_map(|it| Some((it.not_under?, it.name)))
        .collect();
    assert_eq!(
        pairs,
        [
            ("ladder_reps_min", "ladder_reps_max"),
            ("ladder_start_sets", "ladder_targets[0]"),
            ("ladder_targets[0]", "ladder_targets[1]"),
            ("step_percent_min", "step_percent"),
            ("gap_days", "gap_lighter_days"),
        ]
    );
    for (lower, upper) in pairs {
        let [lower, upper] = [lower, upper].map(|name| Threshold::named(name).unwrap());
        let value = upper.of(&Policy::default());
        let mut policy = Policy::default();
        lower.set(&mut policy, value).unwrap();
        assert_eq!(upper.check(&policy), Ok(()), "equal is in order");
        lower.set(&mut policy, value + 1.0).unwrap();
        let refused = upper.check(&policy).unwrap_err();
        assert_eq!(refused.fault, Fault::Under(lower, value + 1.0));
        assert!(policy.refused().contains(&refused));
    }
}

#[test]
fn what_is_wrong_is_told_with_its_range() {
    let policy = Policy {
        step_percent: f64::NAN,
        gap_days: 30,
        ladder_reps_min: 60,
        no_add_pain: 11,
        ..Policy::default()
    };
    let told: Vec<String> = policy.refused().iter().map(ToString::to_string).collect();
    assert_eq!(
        told,
        [
            "ladder_reps_min must be a whole number from 1 to 50 reps a side",
            "no_add_pain must be a whole number from 0 to 10",
            "step_percent must be from 2 to 200 %: not under step_percent_min, which is 2",
            "gap_lighter_days must be a whole number from 30 to 366 days: not under gap_days, which is 30",
        ]
    );
    let last = policy.refused().pop().unwrap();
    assert_eq!(
        last.at_field(),
        "must be a whole number from 30 to 366 days: not under “A gap begins after”, which is 30"
    );
}

#[test]
fn rows_read_as_sentences_and_stand_by_family() {
    let letters: Vec<char> = FAMILIES.iter().map(|(letter, _)| *letter).collect();
    let mut families: Vec<usize> = Vec::new();
    let explained: Vec<&str> = help(&Policy::default())
        .iter()
        .map(|text| text.id)
        .collect();
    let mut words = BTreeSet::new();
    for threshold in Threshold::ALL {
        let family = threshold.family();
        families.push(letters.iter().position(|it| *it == family).unwrap());
        for rule in threshold.rules {
            assert!(explained.contains(rule), "{rule}");
        }
        for text in [threshold.sentence, threshold.source] {
            assert!(text.ends_with('.') && !text.contains("  "), "{text}");
        }
        assert!(words.insert(threshold.words), "{} twice", threshold.words);
    }
    assert!(families.is_sorted());
}

#[test]
fn values_read_with_their_units() {
    for (unit, value, words) in [
        (Unit::Seconds, 30.0, "30 s"),
        (Unit::Days, 28.0, "28 days"),
        (Unit::Days, 1.0, "1 day"),
        (Unit::Weeks, 4.0, "4 weeks"),
        (Unit::Weeks, 1.0, "1 week"),
        (Unit::Months, 12.0, "12 months"),
        (Unit::Months, 1.0, "1 month"),
        (Unit::Sessions, 0.0, "0 sessions"),
        (Unit::Sessions, 1.0, "1 session"),
        (Unit::SessionsAWeek, 1.5, "1.5 sessions a week"),
        (Unit::SessionsAWeek, 1.0, "1 session a week"),
        (Unit::Clubs, 3.0, "3 clubs"),
        (Unit::Clubs, 1.0, "1 club"),
        (Unit::Sets, 5.0, "5 sets a side"),
        (Unit::Sets, 1.0, "1 set a side"),
        (Unit::Reps, 5.0, "5 reps a side"),
        (Unit::Reps, 1.0, "1 rep a side"),
        (Unit::Percent, 33.0, "33 %"),
        (Unit::ShareOfSets, 0.57, "0.57 of the sets"),
        (Unit::ShareOfSets, 0.125, "0.125 of the sets"),
        (Unit::Times, 1.2, "1.2 times"),
        (Unit::Effort, 7.0, "7 of 10"),
        (Unit::Pain, 2.0, "2 of 10"),
    ] {
        assert_eq!(unit.words(value), words);
    }
}

fn named(name: &str) -> &'static Threshold {
    Threshold::named(name).unwrap()
}

/// Changes as (threshold, value), numbered from 1, a day apart from 2 November 2026.
fn exceptions(changes: &[(&str, Option<f64>)]) -> Exceptions {
    let changes = changes
        .iter()
        .zip(1..)
        .map(|((name, value), number)| ExceptionChange {
            number: ExceptionsNumber(number),
            exception: Exception {
                threshold: named(name),
                value: *value,
            },
            reason: Reason::new("A careful year.").unwrap(),
            by: AccountId(Uuid::nil()),
            at: datetime!(2026-11-01 10:00 UTC) + time::Duration::days(number.into()),
            on: date!(2026 - 11 - 01) + time::Duration::days(number.into()),
        });
    // In any order.
    let mut changes: Vec<ExceptionChange> = changes.collect();
    changes.reverse();
    Exceptions::new(changes)
}

#[test]
fn exceptions_change_the_athletes_own_numbers_and_keep_their_history() {
    let gym = Policy {
        version: PolicyVersion(3),
        step_percent: 25.0,
        ..Policy::default()
    };
    let nobody = AthletePolicy::new(gym.clone(), Exceptions::default());
    assert_eq!(nobody.own(), &gym);
    assert_eq!(nobody.exceptions().number(), ExceptionsNumber(0));

    let made = exceptions(&[
        ("step_percent", Some(15.0)),
        ("pain_stop", Some(3.0)),
        ("step_percent", Some(12.5)),
        ("pain_stop", None),
    ]);
    assert_eq!(made.number(), ExceptionsNumber(4));
    assert_eq!(made.changes().len(), 4);
    let athlete = AthletePolicy::new(gym.clone(), made);
    let own = Policy {
        step_percent: 12.5,
        ..gym.clone()
    };
    assert_eq!(athlete.own(), &own);
    assert_eq!(athlete.gym(), &gym);
    let standing = |number| -> Vec<(&str, Option<f64>)> {
        athlete
            .exceptions()
            .standing_at(ExceptionsNumber(number))
            .iter()
            .map(|change| (change.exception.threshold.name, change.exception.value))
            .collect()
    };
    assert_eq!(standing(0), []);
    assert_eq!(standing(1), [("step_percent", Some(15.0))]);
    assert_eq!(
        standing(2),
        [("step_percent", Some(15.0)), ("pain_stop", Some(3.0))]
    );
    assert_eq!(standing(4), [("step_percent", Some(12.5))]);
    assert_eq!(
        athlete
            .exceptions()
            .to(named("step_percent"))
            .map(|it| it.number),
        Some(ExceptionsNumber(3))
    );
    assert_eq!(athlete.exceptions().to(named("pain_stop")), None);
}

#[test]
fn a_policy_is_named_with_the_exceptions_of_its_time() {
    let made = exceptions(&[
        ("step_percent", Some(15.0)),
        ("pain_stop", Some(3.0)),
        ("step_percent", None),
        ("pain_stop", None),
    ]);
    let athlete = AthletePolicy::new(Policy::default(), made);
    let called = |number| {
        athlete.called(PolicyVersion(3), ExceptionsNumber(number), "Ida", |day| {
            day.day().to_string()
        })
    };
    assert_eq!(called(0), "version 3");
    assert_eq!(called(1), "version 3, with an exception for Ida since 2");
    assert_eq!(called(2), "version 3, with 2 exceptions for Ida since 3");
    assert_eq!(called(3), "version 3, with an exception for Ida since 3");
    assert_eq!(called(4), "version 3");
}

#[test]
fn an_exception_out_of_order_is_refused_before_it_is_made() {
    let made = exceptions(&[("gap_lighter_days", Some(20.0))]);
    let athlete = AthletePolicy::new(Policy::default(), made);
    let with = |name, value| {
        athlete.with(Exception {
            threshold: named(name),
            value,
        })
    };
    assert_eq!(with("gap_days", Some(20.0)).unwrap().gap_days, 20);
    let refused = with("gap_days", Some(21.0)).unwrap_err();
    assert_eq!(refused.threshold, named("gap_lighter_days"));
    let refused = with("gap_days", Some(1.0)).unwrap_err();
    assert_eq!(
        (refused.threshold, refused.fault),
        (named("gap_days"), Fault::OutOfRange)
    );
    // Ended, the gym's own counts again.
    assert_eq!(with("gap_lighter_days", None).unwrap(), Policy::default());
    assert_eq!(with("pain_stop", None).unwrap(), *athlete.own());

    // A new policy of the gym has to go with the exceptions that stand.
    let longer = Policy {
        gap_days: 20,
        gap_lighter_days: 40,
        ..Policy::default()
    };
    let under = |gym: &Policy| AthletePolicy::new(gym.clone(), athlete.exceptions().clone());
    let moved = under(&longer);
    assert_eq!(
        (moved.own().gap_days, moved.own().gap_lighter_days),
        (20, 20)
    );
    assert_eq!(moved.own().refused(), []);
    let too_long = Policy {
        gap_days: 21,
        ..longer
    };
    let refused = under(&too_long).own().refused();
    assert_eq!(refused[0].threshold, named("gap_lighter_days"));
}

#[test]
fn a_file_reads_back_to_the_same_policy() {
    let mut policy = Policy {
        version: PolicyVersion(7),
        ..Policy::default()
    };
    assert_eq!(file::read(&file::write(&policy)), Ok(policy.clone()));
    for threshold in Threshold::ALL {
        threshold.set(&mut policy, threshold.most).unwrap();
    }
    policy.ladder_reps_min = 41;
    policy.goal_over_start = 1.0 / 3.0 + 1.0;
    let text = file::write(&policy);
    assert_eq!(file::read(&text), Ok(policy.clone()));
    // The names are those by which the policy is stored.
    assert_eq!(toml::from_str(&text), Ok(policy));
    assert_eq!(file::read(""), Ok(Policy::default()));
}

#[test]
fn a_file_says_all_there_is_to_know() {
    let text = file::write(&Policy::default());
    assert!(text.contains("\n# W · Weight jumps\n"), "{text}");
    let entry = "\n# Sessions running that earn a step (T4, V3)\n\
        # A step is earned once the goal, or the ladder’s target, was reached on both sides in so many \
        sessions running.\n\
        # A whole number from 1 to 20 sessions; as shipped 2. The shape of the 2-for-2 rule for adding \
        load (NSCA, Essentials of Strength Training and Conditioning, from memory).\n\
        earned_in_a_row = 2\n";
    assert!(text.contains(entry), "{text}");
    assert!(text.contains("\nladder_targets = [10, 20]\n"), "{text}");
    assert!(text.contains("as shipped 33.0."), "{text}");
    for threshold in Threshold::ALL {
        assert!(text.contains(threshold.sentence), "{}", threshold.name);
        assert!(text.contains(threshold.source), "{}", threshold.name);
    }
}

#[test]
fn what_is_wrong_in_a_file_is_told_by_line() {
    let told = |text: &str| -> Vec<String> {
        file::read(text)
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect()
    };
    assert_eq!(
        told(
            "# A policy.\nversion = -1\npain_stop = 0\nstep_percant = 60.0\nearned_in_a_row = 1.5\n\
             gap_days = \"ten\"\nladder_targets = [10]\nladder_start_sets = [5]\n[pain]\nstop = 4\n"
        ),
        [
            "line 2: version must be the whole number of a version",
            "line 3: pain_stop must be a whole number from 1 to 10",
            "line 4: step_percant is no threshold",
            "line 5: earned_in_a_row must be a whole number from 1 to 20 sessions",
            "line 6: gap_days must be a number",
            "line 7: ladder_targets must be two numbers, like [10, 20]",
            "line 8: ladder_start_sets must be a number",
            "line 9: pain is no threshold",
        ]
    );
    assert_eq!(
        told("ladder_targets = [30, 500]\n"),
        ["line 1: ladder_targets[1] must be a whole number from 1 to 100 sets a side"]
    );
    // At its own line, else at that of the other.
    assert_eq!(
        told("gap_days = 50\n"),
        [
            "line 1: gap_lighter_days must be a whole number from 50 to 366 days: not under gap_days, which is 50"
        ]
    );
    assert_eq!(told("\ngap_days = 50\ngap_lighter_days = 40\n").len(), 1);
    assert!(told("\ngap_days = 50\ngap_lighter_days = 40\n")[0].starts_with("line 3: "));
    let broken = told("pain_stop = 4\ngap_days = = 3\n");
    assert!(broken[0].starts_with("line 2: "), "{broken:?}");
    let twice = told("pain_stop = 4\npain_stop = 5\n");
    assert!(twice[0].starts_with("line 2: "), "{twice:?}");
    let whole = "pain_stop = 99999999999999999999999\n";
    assert_eq!(told(whole).len(), 1);
    assert_eq!(
        file::read("pain_stop = 5.0").map(|policy| policy.pain_stop),
        Ok(5)
    );
    assert_eq!(
        file::read("step_percent = 25").map(|policy| policy.step_percent),
        Ok(25.0)
    );
    assert_eq!(
        file::read("version = 4").map(|policy| policy.version),
        Ok(PolicyVersion(4))
    );
}

#[test]
fn each_threshold_has_its_words_and_its_unit() {
    let mut words = BTreeSet::new();
    for threshold in Threshold::ALL {
        assert!(
            words.insert(threshold.words) && !threshold.words.is_empty(),
            "{}",
            threshold.name
        );
        assert!(threshold.sentence.ends_with('.'), "{}", threshold.name);
    }
    let as_shipped: Vec<(&str, String)> = Threshold::ALL
        .iter()
        .map(|threshold| (threshold.name, threshold.unit.words(threshold.shipped())))
        .collect();
    let expected = [
        ("step_percent_min", "2 %"),
        ("settled_sessions", "4 sessions"),
        ("left_after_days", "28 days"),
        ("interval_seconds", "30 s"),
        ("goal_over_start", "1.2 times"),
        ("goal_start_sessions", "3 sessions"),
        ("earned_in_a_row", "2 sessions"),
        ("earned_effort_at_most", "7 of 10"),
        ("earned_pain_at_most", "2 of 10"),
        ("opening_clubs", "3 clubs"),
        ("opening_months", "12 months"),
        ("opening_sessions_per_week", "2 sessions a week"),
        ("fingertip_sessions", "4 sessions"),
        ("ladder_reps_min", "3 reps a side"),
        ("ladder_reps_max", "5 reps a side"),
        ("ladder_start_sets", "5 sets a side"),
        ("ladder_added_sets_max", "2 sets a side"),
        ("ladder_targets[0]", "10 sets a side"),
        ("ladder_targets[1]", "20 sets a side"),
        ("no_add_effort", "9 of 10"),
        ("no_add_pain", "3 of 10"),
        ("hold_every_weeks", "4 weeks"),
        ("light_week_share", "0.6 of the sets"),
        ("symmetry_percent", "10 %"),
        ("symmetry_days", "28 days"),
        ("symmetry_sessions", "2 sessions"),
        ("step_percent", "33 %"),
        ("assumed_rest_seconds", "60 s"),
        ("assumed_rep_seconds", "3 s"),
        ("load_spike_ratio", "1.5 times"),
        ("load_mean_weeks", "4 weeks"),
        ("load_weeks_before", "3 weeks"),
        ("effort_climbing", "9 of 10"),
        ("pain_stop", "4 of 10"),
        ("pain_in_a_row", "2 sessions"),
        ("pain_free_sessions", "2 sessions"),
        ("sessions_per_week", "2 sessions a week"),
        ("gap_days", "14 days"),
        ("return_share", "0.6 of the sets"),
        ("gap_lighter_days", "28 days"),
    ];
    assert_eq!(
        as_shipped,
        expected.map(|(name, value)| (name, value.to_owned()))
    );
}

#[test]
fn one_of_a_unit_is_one() {
    for (unit, one) in [
        (Unit::Seconds, "1 s"),
        (Unit::Days, "1 day"),
        (Unit::Weeks, "1 week"),
        (Unit::Months, "1 month"),
        (Unit::Sessions, "1 session"),
        (Unit::SessionsAWeek, "1 session a week"),
        (Unit::Clubs, "1 club"),
        (Unit::Sets, "1 set a side"),
        (Unit::Reps, "1 rep a side"),
        (Unit::Percent, "1 %"),
        (Unit::ShareOfSets, "1 of the sets"),
        (Unit::Times, "1 times"),
        (Unit::Pain, "1 of 10"),
    ] {
        assert_eq!(unit.words(1.0), one);
    }
}
