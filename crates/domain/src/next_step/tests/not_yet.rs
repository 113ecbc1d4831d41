//! Examples: what was earned, done before or opened is not proposed where the last session, the rack or the
//! rules speak against it. Common practice, no source, unless said otherwise.

use super::examples::{a_year_of_two_hands, climbed, fingertip, opened};
use super::*;
use crate::scenario::reps;
use crate::training::{GateOpening, Work};

/// The sets of a session as they went, of five reps each.
fn of_five(mut day: Day, done: u16) -> Day {
    for set in &mut day.0.sets {
        set.work = Work::Straight {
            reps: reps(done),
            asked: Some(reps(5)),
        };
    }
    day
}

fn two_days_later(history: &History) -> NextStep {
    let last = history.sessions().last().unwrap().on;
    next(history, plus(last, 2))
}

fn first_reason(step: &NextStep) -> (Step, Rule, &str) {
    let reason = &step.reasons[0];
    (step.step, reason.rule, &reason.text)
}

// V3, V5: a ladder done in full twice, and then a session that was not.
#[test]
fn a_ladder_that_was_done_waits_for_a_session_in_full() {
    let after = |last: Day| {
        let mut days = climbed(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10, 10, 10, 10]);
        days.push(last);
        two_days_later(&opened(days))
    };
    let ten = |done| of_five(ladder(130, 1, 10), done).effort(7.0);
    assert_eq!(after(ten(5)).step, Step::StepUp);
    let missed = after(ten(3));
    assert_eq!(
        first_reason(&missed),
        (
            Step::Hold,
            Rule::V5,
            "A rep was missed in the last session: add nothing."
        )
    );
    assert_eq!(against(&missed), ["A step is earned with club 1."]);
    for (sets, expected) in [
        (4, Step::AddSets { sets: 10 }),
        (9, Step::AddSets { sets: 10 }),
    ] {
        let fewer = after(ladder(130, 1, sets));
        assert_eq!(fewer.step, expected, "{sets}");
        assert_eq!(fewer.loading, Some(club(1)), "{sets}");
    }
    // More than the target is no less than it.
    assert_eq!(after(ladder(130, 1, 11)).step, Step::StepUp);
}

// T4: the goal is 24 a minute; 12 in half a minute are 24.
#[test]
fn a_count_that_was_there_waits_for_a_session_at_it() {
    let after = |count| two_days_later(&history(climbing(&[11, 12, 12, count]), rack()));
    assert_eq!(after(12).step, Step::StepUp);
    for (count, said) in [(8, "16.0"), (11, "22.0")] {
        let step = after(count);
        let text =
            format!("{said} a minute with club 1, {said} on the slower side; the goal is 24.0.");
        assert_eq!(first_reason(&step), (Step::Hold, Rule::T4, &text[..]));
        assert_eq!(against(&step), ["A step is earned with club 1."]);
        assert_eq!(
            step.would_change,
            [
                "1 more session at 24.0 a minute on both sides, at effort 7 or less and pain 2 or less"
            ]
        );
    }
    // One side under it.
    let mut uneven = clock(6, 1, 12);
    for set in uneven.0.sets.iter_mut().skip(1).step_by(2) {
        set.work = crate::scenario::half_minute(11);
    }
    let mut days = climbing(&[11, 12, 12]);
    days.push(uneven);
    assert_eq!(two_days_later(&history(days, rack())).step, Step::Hold);
}

// V2, V4, V5: sets that came too soon, hurt or were missed are not there to come back to.
#[test]
fn only_sets_that_went_well_in_their_time_are_come_back_to() {
    let proposed = |days: Vec<Day>, later| {
        let last = days.last().unwrap().0.on;
        next(&opened(days), plus(last, later)).step
    };
    let then =
        |second: Day, later| proposed(vec![ladder(114, 1, 5), second, ladder(116, 1, 5)], later);
    let back_to_six = Step::AddSets { sets: 6 };
    for (name, second, later, expected) in [
        ("six", ladder(115, 1, 6), 3, back_to_six),
        ("six, hard", ladder(115, 1, 6).effort(8.5), 3, back_to_six),
        (
            "nine, missed and hard",
            of_five(ladder(115, 1, 9), 4).effort(10.0),
            3,
            Step::Stay,
        ),
        ("nine in full", ladder(115, 1, 9), 3, Step::Stay),
        ("six, missed", of_five(ladder(115, 1, 6), 4), 3, Step::Stay),
        (
            "six at effort 9",
            ladder(115, 1, 6).effort(9.0),
            3,
            Step::Stay,
        ),
        (
            "six with pain 3",
            ladder(115, 1, 6).pain(3, "elbow"),
            3,
            Step::Stay,
        ),
    ] {
        assert_eq!(then(second, later), expected, "{name}");
    }
}

// O3, O2: the fingertip stage is caught up with a club that is light enough.
#[test]
fn fingertips_are_caught_up_with_a_light_club() {
    let caught = |with: u128, usable: &[u128]| {
        let mut days = a_year_of_two_hands();
        days.extend([110, 111].map(fingertip));
        days.push(ladder(112, with, 5));
        let mut clubs = rack();
        clubs.push(of_mass(6, 5.0));
        for one in &mut clubs {
            one.usable = usable.iter().any(|number| club(*number) == one.loading);
        }
        two_days_later(&history(days, clubs))
    };
    for (name, with, usable, expected) in [
        ("too heavy", 2, &[1, 2, 3][..], (Step::FingertipStage, 1)),
        ("light", 1, &[1, 2, 3], (Step::FingertipStage, 1)),
        ("lighter still", 6, &[1, 2, 3, 6], (Step::FingertipStage, 6)),
        (
            "the light one is gone",
            2,
            &[2, 3, 6],
            (Step::FingertipStage, 6),
        ),
        (
            "all light ones are gone",
            2,
            &[2, 3],
            (Step::WaitForCoach, 2),
        ),
    ] {
        let step = caught(with, usable);
        assert_eq!(step.reasons[0].rule, Rule::O3, "{name}: {step:?}");
        assert_eq!(
            (step.step, step.loading),
            (expected.0, Some(club(expected.1))),
            "{name}"
        );
    }
}

// O2, W5.
#[test]
fn a_heavy_restart_waits_where_no_club_is_light_enough() {
    let mut gym = opened(vec![ladder(114, 2, 5)]);
    let step = two_days_later(&gym);
    assert_eq!((step.step, step.loading), (Step::StepBack, Some(club(1))));
    gym.clubs[0].usable = false;
    let step = two_days_later(&gym);
    assert_eq!(
        first_reason(&step),
        (
            Step::WaitForCoach,
            Rule::O2,
            "club 2 asks 25 % more by static moment than club 1, the lightest club finished."
        )
    );
    assert_eq!(
        step.would_change,
        ["a club that asks no more than club 1 in the rack"]
    );
}

// O1, V5.
#[test]
fn the_fingertip_stage_does_not_begin_after_a_session_that_says_not_to_add() {
    let after = |change: fn(Day) -> Day| {
        let mut days = a_year_of_two_hands();
        let last = days.pop().unwrap();
        days.push(change(last));
        two_days_later(&history(days, rack()))
    };
    assert_eq!(after(|day| day.effort(8.5)).step, Step::FingertipStage);
    assert_eq!(after(|day| day.pain(2, "elbow")).step, Step::FingertipStage);
    for step in [
        after(|day| day.effort(9.0)),
        after(|day| day.pain(3, "elbow")),
    ] {
        assert_eq!((step.step, step.reasons[0].rule), (Step::Hold, Rule::V5));
        assert_eq!((step.hands, step.loading), (Hands::Two, Some(club(3))));
    }
}

// O2: with no club finished it goes by the lightest worked.
#[test]
fn a_gate_opened_early_names_the_club_it_goes_by() {
    let mut gym = history(climbing(&[]), rack());
    gym.openings = vec![GateOpening {
        movement: MILL,
        on: MONDAY,
        reason: "swung clubs for years".to_owned(),
    }];
    let step = two_days_later(&gym);
    assert_eq!(step.step, Step::FingertipStage);
    assert_eq!(
        said(&step)[1],
        "club 1 asks no more than the lightest club worked with two hands."
    );
    let step = two_days_later(&history(a_year_of_two_hands(), rack()));
    assert_eq!(
        said(&step)[1],
        "club 1 asks no more than the lightest club finished."
    );
}

// L4: who says nothing of pain has not said that there was none.
#[test]
fn a_stop_does_not_end_in_silence() {
    let after = |change: fn(Day) -> Day| {
        let mut days = climbing(&[11, 11, 11]);
        days[3] = days[3].clone().pain(5, "elbow");
        for day in &mut days[4..] {
            *day = change(day.clone());
        }
        two_days_later(&history(days, rack()))
    };
    let silent = after(|day| day);
    assert_eq!(
        (silent.step, against(&silent).len()),
        (Step::WaitForCoach, 0)
    );
    assert_eq!(after(|day| day.pain(0, "")).step, Step::Stay);
}
