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

// V5, T4, V3: who stopped before the first set because it hurt is asked for no more, though the session before
// went well.
#[test]
fn pain_before_a_first_set_holds_what_the_last_session_earned() {
    let stopped = |days: &[Day], score: i64| {
        let mut days = days.to_vec();
        let last = days.last().unwrap().0.on;
        days.push(day(plus(last, 2)).pain(score, "elbow"));
        two_days_later(&opened(days))
    };
    let sets = climbed(&[5, 5]);
    assert_eq!(
        two_days_later(&opened(sets.clone())).step,
        Step::AddSets { sets: 6 }
    );
    let mild = stopped(&sets, 2);
    assert_eq!(mild.step, Step::AddSets { sets: 6 });
    let text = "Pain 2 of 10 before the first set of a session since then.";
    assert!(against(&mild).contains(&text), "{mild:?}");
    assert_eq!(
        first_reason(&stopped(&sets, 3)),
        (
            Step::Hold,
            Rule::V5,
            "Pain 3 of 10 before the first set of a session since then: add nothing."
        )
    );
    // What the last session itself said is told as that.
    let mut sore = sets.clone();
    sore[1] = sore[1].clone().pain(3, "wrist");
    let text = "Pain 3 of 10 in the last session: add nothing.";
    assert_eq!(said(&stopped(&sore, 3))[0], text);
    let stopped = |days: &[Day], score: i64| {
        let mut days = days.to_vec();
        let last = days.last().unwrap().0.on;
        days.push(day(plus(last, 2)).pain(score, "elbow"));
        after(days)
    };
    let goal = climbing(&[12, 12]);
    assert_eq!(after(goal.clone()).step, Step::StepUp);
    assert_eq!(stopped(&goal, 2).step, Step::StepUp);
    let held = stopped(&goal, 3);
    assert_eq!(held.step, Step::Hold);
    assert_eq!(
        said(&held)[0],
        "Pain 3 of 10 before the first set of a session since then."
    );
    assert_eq!(stopped(&goal, 4).step, Step::WaitForCoach);
}

fn with_block(days: Vec<Day>, clubs: Vec<AvailableClub>, planned: BlockSpan) -> NextStep {
    let mut gym = history(days, clubs);
    let today = planned.from;
    gym.blocks = Some(vec![planned]);
    next(&gym, today)
}

fn rules_against(step: &NextStep) -> Vec<&'static str> {
    step.against.iter().map(|reason| reason.rule.id()).collect()
}

// O1 to O3, W1 to W3: the coach decides, and is told what the rules hold against it.
#[test]
fn a_block_is_begun_with_what_speaks_against_it() {
    let two_hands = || climbing(&[11]);
    let earned = || climbing(&[11, 12, 12]);
    let hard = || {
        let mut days = two_hands();
        days[3] = days[3].clone().effort(9.0).pain(3, "elbow");
        days
    };
    let ladder_missed = vec![of_five(ladder(0, 1, 5), 4)];
    let year = a_year_of_two_hands;
    let closer = || [rack(), vec![of_mass(6, 6.6)]].concat();
    for (name, days, clubs, planned, expected) in [
        (
            "one hand, nothing before",
            vec![],
            rack(),
            block(Hands::One, 2, on(4)),
            &["O1", "O3"][..],
        ),
        (
            "two hands, nothing before",
            vec![],
            rack(),
            block(Hands::Two, 2, on(4)),
            &[],
        ),
        (
            "one hand, heavy",
            two_hands(),
            rack(),
            block(Hands::One, 2, on(4)),
            &["O1", "O2", "O3"],
        ),
        (
            "fingertips, light",
            two_hands(),
            rack(),
            block(Hands::Fingertip, 1, on(4)),
            &["O1"],
        ),
        (
            "fingertips, and it was hard",
            hard(),
            rack(),
            block(Hands::Fingertip, 1, on(4)),
            &["O1", "T4", "L4"],
        ),
        (
            "the gate is open",
            year(),
            rack(),
            block(Hands::Fingertip, 1, on(110)),
            &[],
        ),
        (
            "open, but heavy",
            year(),
            rack(),
            block(Hands::Fingertip, 2, on(110)),
            &["O2"],
        ),
        (
            "open, but one hand first",
            year(),
            rack(),
            block(Hands::One, 1, on(110)),
            &["O3"],
        ),
        (
            "two clubs up",
            earned(),
            rack(),
            block(Hands::Two, 3, on(6)),
            &["W1", "W2"],
        ),
        (
            "one club up",
            earned(),
            rack(),
            block(Hands::Two, 2, on(6)),
            &[],
        ),
        (
            "past a smaller step",
            earned(),
            closer(),
            block(Hands::Two, 2, on(6)),
            &["W2"],
        ),
        (
            "not earned",
            two_hands(),
            rack(),
            block(Hands::Two, 2, on(4)),
            &["W3"],
        ),
        (
            "down",
            vec![clock(0, 2, 9)],
            rack(),
            block(Hands::Two, 1, on(1)),
            &[],
        ),
        (
            "after missed reps",
            ladder_missed,
            rack(),
            block(Hands::Two, 1, on(1)),
            &["V5"],
        ),
    ] {
        let (hands, loading) = (planned.hands, planned.loading);
        let step = with_block(days, clubs, planned);
        assert_eq!(
            (step.step, step.hands, step.loading),
            (Step::Stay, hands, Some(loading)),
            "{name}"
        );
        assert_eq!(rules_against(&step), expected, "{name}: {step:?}");
    }
}

// W2: what is planned with a club that cannot be picked up waits; a club that is gone is not in the way
// of a block with another.
#[test]
fn a_block_needs_its_club_and_no_other() {
    let without = |number: usize| {
        let mut clubs = rack();
        clubs[number - 1].usable = false;
        clubs
    };
    let planned = || block(Hands::Two, 2, on(6));
    for days in [vec![], climbing(&[11, 12, 12])] {
        let waits = with_block(days, without(2), planned());
        assert_eq!(
            (waits.step, waits.loading),
            (Step::WaitForCoach, Some(club(2)))
        );
        assert_eq!(
            (said(&waits).last(), &waits.would_change[..]),
            (
                Some(&"club 2 is not in the rack."),
                &["club 2 back in the rack, or another club in the block".to_owned()][..]
            )
        );
    }
    let begins = with_block(climbing(&[11, 12, 12]), without(1), planned());
    assert_eq!((begins.step, begins.loading), (Step::Stay, Some(club(2))));
    // Not where pain stays, nor where the block goes on with the club that is gone.
    let mut sore = climbing(&[11, 12, 12]);
    for day in &mut sore[4..] {
        *day = day.clone().pain(1, "elbow");
    }
    let waits = with_block(sore, without(1), planned());
    assert_eq!(
        (waits.step, waits.loading),
        (Step::WaitForCoach, Some(club(1)))
    );
    let same = with_block(
        climbing(&[11, 12, 12]),
        without(1),
        block(Hands::Two, 1, on(6)),
    );
    assert_eq!(same.step, Step::WaitForCoach);
}

// V6, a light fourth week: its second session is light too. 60 % of 7 are 4, of 8 are 5, rounded as in
// the plan; by hand.
#[test]
fn a_light_week_stays_light() {
    let planned = |sets: &[usize], later| {
        let mut gym = opened(climbed(sets));
        gym.blocks = Some(vec![block(Hands::One, 1, on(114))]);
        let last = gym.sessions().last().unwrap().on;
        next(&gym, plus(last, later))
    };
    let first = planned(&[5, 5, 6, 6, 7, 7], 4);
    assert_eq!(first.step, Step::LightWeek { sets: 4 });
    let second = planned(&[5, 5, 6, 6, 7, 7, 4], 3);
    assert_eq!(second.step, Step::AddSets { sets: 7 });
    assert_eq!(second.not_before, Some(on(122)));
    let after = planned(&[5, 5, 6, 6, 7, 7, 4, 4], 4);
    assert_eq!(
        (after.step, after.not_before),
        (Step::AddSets { sets: 7 }, None)
    );
    // In a week that only holds, sets that are missing are made up at once.
    let held = two_days_later(&opened(climbed(&[5, 5, 6, 6, 7, 7, 4])));
    assert_eq!(
        (held.step, held.not_before),
        (Step::AddSets { sets: 7 }, None)
    );

    let mut hard = climbed(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8]);
    for day in &mut hard[8..] {
        *day = day.clone().effort(9.0);
    }
    assert_eq!(
        two_days_later(&opened(hard)).step,
        Step::LightWeek { sets: 5 }
    );
}

// V2: sets are added once a week, however many sessions there are. Day 0 is a Monday.
#[test]
fn sets_are_added_once_a_week() {
    for (days, asked, from) in [
        (&[0, 1][..], 2, Some(7)),
        (&[0, 3], 5, Some(7)),
        (&[0, 3], 7, None),
        (&[2, 5], 6, Some(7)),
        (&[2, 5], 7, None),
        (&[0, 1, 2, 3, 4], 5, Some(7)),
        (&[0], 7, None),
    ] {
        let at = |number: i64| plus(on(114), number);
        let five = |number: &i64| {
            day(at(*number))
                .sets((MILL, Hands::One, club(1)), 0, &[(5, 5); 5])
                .effort(6.0)
        };
        let step = next(&opened(days.iter().map(five).collect()), at(asked));
        let expected = (Step::AddSets { sets: 6 }, from.map(at));
        assert_eq!((step.step, step.not_before), expected, "{days:?}, {asked}");
    }
}

// V2: the week that sets which came too soon are waited out.
#[test]
fn a_rush_that_the_coach_closed_is_over() {
    let at = |number: i64, sets: usize, reps: u16| {
        day(plus(on(114), number))
            .sets((MILL, Hands::One, club(1)), 0, &vec![(reps, reps); sets])
            .effort(6.0)
    };
    let rushed = vec![at(0, 5, 5), at(3, 9, 5), at(4, 5, 5)];
    let other_reps = [rushed.clone(), vec![at(5, 5, 4), at(6, 5, 4)]].concat();
    for days in [rushed, other_reps] {
        let (gym, today) = (opened(days), plus(on(114), 7));
        let held = next(&gym, today);
        assert_eq!(
            first_reason(&held),
            (
                Step::Hold,
                Rule::V2,
                "9 sets came too soon; 7 were in order. Add nothing."
            )
        );
        let policy = Policy::default();
        let found = rules::episodes(&gym, &policy, today);
        let closed = |flag: &Flag| flag.rule == Rule::V2;
        let steps = propose(&gym, &policy, &found, &closed, today, &Numbers);
        assert_ne!(steps[0].step, Step::Hold, "{:?}", steps[0]);
    }
}

// A1: the gap is the movement's, whatever the hands; a club that is gone is not come back with.
#[test]
fn the_way_back_is_taken_with_a_club_that_is_there() {
    let both = opened(vec![ladder(114, 1, 5), clock(117, 3, 12)]);
    let last = on(117);
    assert_eq!(next(&both, plus(last, 8)).hands, Hands::One);
    assert_ne!(next(&both, plus(last, 13)).step, Step::Return { sets: 3 });
    assert_eq!(next(&both, plus(last, 14)).step, Step::Return { sets: 3 });

    let days: Vec<Day> = (0..4).map(|session| clock(session, 2, 11)).collect();
    let mut clubs = rack();
    clubs[1].usable = false;
    let step = next(&history(days.clone(), clubs), plus(on(3), 14));
    assert_eq!(
        (step.step, step.loading),
        (Step::Return { sets: 3 }, Some(club(1)))
    );
    assert_eq!(
        said(&step)[1..],
        [
            "club 2 is not in the rack.",
            "club 1 is the next one below."
        ]
    );
    let gone = AvailableClub {
        usable: false,
        ..of_mass(2, 7.5)
    };
    let step = next(&history(days, vec![gone]), plus(on(3), 28));
    assert_eq!(
        (step.step, step.loading),
        (Step::WaitForCoach, Some(club(2)))
    );
    assert_eq!(step.would_change.last().unwrap(), "club 2 back in the rack");

    // V4: five, where 60 % of ten would be six.
    let mut ten = opened(climbed(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10, 10]));
    ten.clubs.push(of_mass(6, 5.0));
    let step = next(&ten, plus(on(127), 28));
    assert_eq!(
        (step.step, step.loading),
        (Step::Return { sets: 5 }, Some(club(6)))
    );
    assert_eq!(step.reasons.last().unwrap().rule, Rule::V4);
    let step = next(&ten, plus(on(127), 27));
    assert_eq!(
        (step.step, step.reasons.len()),
        (Step::Return { sets: 6 }, 1)
    );
}

#[test]
fn how_many_times_running_is_the_gyms_to_set() {
    for (in_a_row, counts, running) in [
        (1, &[11, 12][..], ""),
        (3, &[11, 12, 12, 12], ", 3 times running"),
    ] {
        let policy = Policy {
            earned_in_a_row: in_a_row,
            ..Policy::default()
        };
        let days = climbing(counts);
        let today = plus(days.last().unwrap().0.on, 2);
        let steps = all(&history(days, rack()), &policy, today);
        let text = format!("The goal with club 1 was reached on both sides{running}.");
        assert_eq!(first_reason(&steps[0]), (Step::StepUp, Rule::T4, &text[..]));
    }
}

// T6, V6: a light week is a week.
#[test]
fn one_lighter_session_is_no_light_week() {
    let light = |session, number| {
        day(on(session))
            .sets((MILL, Hands::Two, club(number)), 30, &[(9, 9); 3])
            .effort(6.0)
    };
    let proposed = |more: Vec<Day>, today| {
        let mut days = climbing(&[11, 11, 11, 11, 11, 11, 11, 9, 9]);
        days.extend(more);
        next(&history(days, rack()), today).step
    };
    let light_week = Step::LightWeek { sets: 3 };
    assert_eq!(proposed(vec![light(12, 1)], plus(on(12), 6)), light_week);
    assert_eq!(proposed(vec![light(12, 1)], plus(on(12), 7)), Step::Hold);
    assert_eq!(
        proposed(vec![light(12, 1), light(13, 1)], on(14)),
        Step::Hold
    );
    // Not so light.
    let four = || {
        day(on(12))
            .sets((MILL, Hands::Two, club(1)), 30, &[(9, 9); 4])
            .effort(6.0)
    };
    assert_eq!(proposed(vec![four()], plus(on(12), 7)), light_week);
    // A warm-up before the work is no lighter session.
    let warm_up = day(on(12))
        .sets((MILL, Hands::Two, club(1)), 20, &[(6, 6); 2])
        .sets((MILL, Hands::Two, club(1)), 30, &[(9, 9); 5])
        .effort(6.0);
    assert_eq!(proposed(vec![warm_up], plus(on(12), 7)), light_week);
}
