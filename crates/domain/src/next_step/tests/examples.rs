//! Examples: a history, and what is proposed for it.

use super::*;
use crate::rules::Severity;
use crate::training::Work;

/// Proposals as they were kept before they told what speaks against them.
#[test]
fn proposals_kept_earlier_are_still_read() {
    let kept = r#"[{
        "movement": "00000000-0000-0000-0000-0000000000a1", "hands": "one",
        "step": {"add_sets": {"sets": 6}}, "loading": null,
        "reasons": [{"rule": "V2", "text": "5 sets went well."}], "would_change": ["pain"]
    }]"#;
    let steps: Vec<NextStep> = serde_json::from_str(kept).unwrap();
    assert_eq!(steps[0].step, Step::AddSets { sets: 6 });
    assert_eq!((steps[0].against.len(), steps[0].not_before), (0, None));
    let text = serde_json::to_string(&steps).unwrap();
    assert_eq!(serde_json::from_str::<Vec<NextStep>>(&text).unwrap(), steps);
}

#[test]
fn nobody_is_told_anything_before_the_first_session() {
    assert_eq!(
        all(&history(Vec::new(), rack()), &Policy::default(), MONDAY),
        []
    );
    let mut planned = history(Vec::new(), rack());
    planned.blocks = Some(vec![block(Hands::Two, 1, MONDAY)]);
    let step = next(&planned, MONDAY);
    assert_eq!((step.step, step.loading), (Step::Stay, Some(club(1))));
    assert_eq!(
        said(&step),
        ["No mill was logged yet: begin the block as planned."]
    );
}

// T1 to T4: the count climbs, and a step is earned by two sessions at 1.2 times the median of the
// first three. Common practice, no source.
#[test]
fn two_hand_work_stays_until_the_count_is_there() {
    let step = after(climbing(&[])[..2].to_vec());
    assert_eq!(
        (step.step, step.would_change),
        (
            Step::Stay,
            vec!["1 more session with club 1: they set the goal".to_owned()]
        )
    );

    let step = after(climbing(&[11]));
    assert_eq!(step.step, Step::Stay);
    assert_eq!(
        step.would_change,
        [
            "2 more sessions running at 24.0 a minute on both sides, at effort 7 or less and pain 2 or less"
        ]
    );

    let step = after(climbing(&[11, 12]));
    assert_eq!(
        said(&step),
        ["24.0 a minute with club 1, 24.0 on the slower side; the goal is 24.0."]
    );
    assert_eq!(
        step.would_change,
        ["1 more session at 24.0 a minute on both sides, at effort 7 or less and pain 2 or less"]
    );
}

#[test]
fn a_step_earned_goes_to_the_smallest_step_in_the_rack() {
    let step = after(climbing(&[11, 12, 12]));
    assert_eq!((step.step, step.loading), (Step::StepUp, Some(club(2))));
    assert_eq!(
        said(&step),
        [
            "The goal with club 1 was reached on both sides, twice running.",
            "club 2 is the smallest step up in the rack: 25 % more by static moment.",
        ]
    );
    // Not after a hard session, or a sore one.
    let mut days = climbing(&[11, 12, 12, 12]);
    days[6] = days[6].clone().effort(8.5);
    assert_eq!(after(days).step, Step::Hold);
}

#[test]
fn a_step_too_big_is_not_proposed_and_the_gap_is_named() {
    let days: Vec<Day> = climbing(&[11, 12, 12]);
    let today = plus(days.last().unwrap().0.on, 2);
    let clubs = || vec![of_mass(1, 6.0), of_mass(3, 9.0), of_mass(2, 5.0)];
    let step = next(&history(days.clone(), clubs()), today);
    assert_eq!((step.step, step.loading), (Step::Stay, Some(club(1))));
    assert_eq!(
        said(&step)[1],
        "The next club up, club 3, asks 50 % more by static moment, over the limit of 33 %."
    );
    // A club in between that somebody has taken away does not help; put back, it does.
    let mut with_middle = clubs();
    with_middle.push(of_mass(4, 7.5));
    with_middle[3].usable = false;
    let step = next(&history(days.clone(), with_middle.clone()), today);
    assert_eq!(step.step, Step::Stay);
    with_middle[3].usable = true;
    let step = next(&history(days.clone(), with_middle), today);
    assert_eq!((step.step, step.loading), (Step::StepUp, Some(club(4))));
    // Nothing above it at all.
    let step = next(&history(days, vec![of_mass(1, 6.0)]), today);
    assert_eq!(
        said(&step)[1],
        "No club in the rack is a step up from club 1."
    );
}

#[test]
fn a_falling_count_asks_for_a_light_week_and_then_for_the_coach() {
    let mut days = climbing(&[11, 11, 11, 11, 11, 11, 11, 9, 9]);
    let step = after(days.clone());
    assert_eq!(step.step, Step::LightWeek { sets: 3 });
    days.extend([12, 13].map(|session| {
        day(on(session))
            .sets((MILL, Hands::Two, club(1)), 30, &[(9, 9); 3])
            .effort(6.0)
    }));
    let step = next(&history(days, rack()), on(14));
    assert_eq!(step.step, Step::Hold);
    assert_eq!(
        said(&step)[1],
        "A lighter week has not changed it: the coach should look."
    );
}

/// A year and more with clubs 1 to 3, each until its goal was met twice.
pub(super) fn a_year_of_two_hands() -> Vec<Day> {
    (0..110)
        .map(|session| {
            let number = u128::try_from(session / 36).unwrap().min(2) + 1;
            let within = session - 36 * (i64::try_from(number).unwrap() - 1);
            let count = match within {
                0..=2 => 10,
                34.. => 12,
                _ => 11,
            };
            clock(session, number, count)
        })
        .collect()
}

// O1 to O3: three clubs and twelve months, then light with fingertips for four sessions, then one
// hand at five sets. Common practice; the four are ours.
#[test]
fn three_clubs_and_a_year_open_the_light_way_to_one_hand() {
    let mut days = a_year_of_two_hands();
    let step = after(days[..100].to_vec());
    assert_eq!(step.hands, Hands::Two, "{step:?}");

    let step = after(days.clone());
    assert_eq!(
        (step.step, step.hands),
        (Step::FingertipStage, Hands::Fingertip)
    );
    assert_eq!(step.loading, Some(club(1)));

    // The lightest finished club is gone: the next below it, and none if there is none.
    let today = plus(on(109), 2);
    let mut without: Vec<AvailableClub> = rack();
    without[0].usable = false;
    without.push(of_mass(6, 5.0));
    let step = next(&history(days.clone(), without.clone()), today);
    assert_eq!(
        (step.step, step.loading),
        (Step::FingertipStage, Some(club(6)))
    );
    without[5].usable = false;
    assert_eq!(
        next(&history(days.clone(), without), today).hands,
        Hands::Two
    );

    days.extend([110, 111, 112].map(fingertip));
    let step = after(days.clone());
    assert_eq!((step.step, step.hands), (Step::Stay, Hands::Fingertip));
    assert_eq!(step.would_change, ["1 more fingertip session"]);
    days.push(fingertip(113));
    let step = after(days);
    assert_eq!(
        (step.step, step.hands, step.loading),
        (Step::OpenOneHand, Hands::One, Some(club(1)))
    );
    assert_eq!(said(&step)[1], "Begin at 5 sets of 5 on each side.");
}

/// Five fingertip sets with club 1.
pub(super) fn fingertip(session: i64) -> Day {
    day(on(session))
        .sets((MILL, Hands::Fingertip, club(1)), 0, &[(5, 5); 5])
        .effort(5.0)
}

/// Fingertip and one-hand work that the gate lets through.
pub(super) fn opened(days: Vec<Day>) -> History {
    let mut all = a_year_of_two_hands();
    all.extend([110, 111, 112, 113].map(fingertip));
    all.extend(days);
    history(all, rack())
}

fn on_the_ladder(days: Vec<Day>) -> NextStep {
    let today = plus(days.last().unwrap().0.on, 2);
    next(&opened(days), today)
}

/// A ladder from session 114 on: these sets, one session each.
pub(super) fn climbed(sets: &[usize]) -> Vec<Day> {
    (114..)
        .zip(sets)
        .map(|(session, sets)| ladder(session, 1, *sets))
        .collect()
}

// V1 to V6. Common practice, no source.
#[test]
fn a_ladder_adds_a_set_a_week_and_holds_every_fourth() {
    for (sets, expected) in [
        (vec![5], Step::Stay),
        (vec![5, 5], Step::AddSets { sets: 6 }),
        (vec![5, 5, 6], Step::Stay),
        (vec![5, 5, 6, 6], Step::AddSets { sets: 7 }),
        // The fourth week holds; the fifth goes on.
        (vec![5, 5, 6, 6, 7, 7], Step::Hold),
        (vec![5, 5, 6, 6, 7, 7, 7, 7], Step::AddSets { sets: 8 }),
        // Fewer than before are made up in one go.
        (vec![5, 5, 6, 6, 7, 7, 4, 4], Step::AddSets { sets: 7 }),
    ] {
        assert_eq!(on_the_ladder(climbed(&sets)).step, expected, "{sets:?}");
    }
}

#[test]
fn a_missed_rep_effort_nine_or_pain_adds_nothing() {
    let last = |change: fn(Day) -> Day| {
        let mut days = climbed(&[5, 5, 6, 6]);
        days[3] = change(days[3].clone());
        on_the_ladder(days)
    };
    let missed = last(|mut day| {
        for set in &mut day.0.sets {
            set.work = Work::Straight {
                reps: Reps::new(4).unwrap(),
                asked: Reps::new(5).ok(),
            };
        }
        day
    });
    assert_eq!(missed.step, Step::Hold);
    assert_eq!(missed.reasons[0].rule, Rule::V5);
    assert_eq!(last(|day| day.effort(9.0)).step, Step::Hold);
    assert_eq!(last(|day| day.pain(3, "elbow")).step, Step::Hold);
    assert_eq!(
        last(|day| day.pain(1, "elbow").effort(8.5)).step,
        Step::AddSets { sets: 7 }
    );
    // One side short of a set.
    let uneven = last(|mut day| {
        day.0.sets.pop();
        day
    });
    assert_eq!(
        (uneven.step, uneven.reasons[0].rule),
        (Step::Hold, Rule::B1)
    );
}

#[test]
fn ten_sets_twice_earn_a_step_and_twenty_are_for_racks_without_one() {
    let to_ten = [5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10];
    let step = on_the_ladder(climbed(&to_ten));
    assert_eq!((step.step, step.loading), (Step::Stay, Some(club(1))));
    assert_eq!(
        said(&step),
        ["10 sets of 5 a side: the target of 10 is reached."]
    );

    let twice: Vec<usize> = to_ten.into_iter().chain([10]).collect();
    let step = on_the_ladder(climbed(&twice));
    assert_eq!((step.step, step.loading), (Step::StepUp, Some(club(2))));
    assert!(against(&step).contains(&"The ladder starts again at 5 sets."));

    // Nothing near enough: on towards 20.
    let four_times: Vec<usize> = twice.iter().copied().chain([10, 10]).collect();
    let mut bare = opened(climbed(&four_times));
    bare.clubs
        .retain(|club| club.loading != crate::scenario::club(2));
    let step = next(&bare, plus(on(129), 2));
    assert_eq!(step.step, Step::AddSets { sets: 11 }, "{step:?}");
    assert!(
        said(&step)
            .iter()
            .any(|text| text.contains("over the limit")),
        "{step:?}"
    );

    // The running block says 20, and its fourth weeks are light ones.
    let mut planned = opened(climbed(&twice));
    planned.blocks = Some(vec![block(Hands::One, 1, on(114))]);
    let step = next(&planned, plus(on(127), 2));
    assert_eq!(step.step, Step::LightWeek { sets: 6 });
    planned.blocks = Some(vec![block(Hands::One, 1, on(116))]);
    let step = next(&planned, plus(on(127), 2));
    assert_eq!(step.step, Step::AddSets { sets: 11 });
}

// L4: pain of 4 stops; 1 to 3 twice at one place adds nothing. Bands: Canadian Physiotherapy
// Association, pain division.
#[test]
fn pain_goes_before_everything() {
    let mut days = climbing(&[11, 12, 12]);
    days[5] = days[5].clone().pain(5, "left elbow");
    let step = after(days.clone());
    assert_eq!(step.step, Step::WaitForCoach);
    assert_eq!(
        said(&step),
        [
            "Pain 5 of 10 (left elbow), on 18 January 2024: stop, and see a licensed clinician. Planned sessions \
          wait until a coach closes or quiets this flag."
        ]
    );
    // Long after, it still waits; once the coach has closed the flag, the gap counts.
    let gym = history(days, rack());
    assert_eq!(next(&gym, plus(MONDAY, 60)).step, Step::WaitForCoach);
    let policy = Policy::default();
    let found = rules::episodes(&gym, &policy, plus(MONDAY, 60));
    let stops = |flag: &Flag| flag.severity == Severity::Stop;
    let step = propose(&gym, &policy, &found, &stops, plus(MONDAY, 60), &Numbers);
    assert_eq!(step[0].step, Step::Return { sets: 3 });

    let mut days = climbing(&[11, 12, 12]);
    days[4] = days[4].clone().pain(2, "neck");
    days[5] = days[5].clone().pain(1, "neck");
    assert_eq!(after(days).step, Step::Hold);
}

// A1. Common practice: 60 % of the sets, same club; one club lighter after 28 days.
#[test]
fn after_a_gap_the_way_back_is_lighter() {
    let days: Vec<Day> = (0..4).map(|session| clock(session, 2, 11)).collect();
    let last = on(3);
    let gym = history(days, rack());
    assert_eq!(next(&gym, plus(last, 13)).step, Step::Stay);
    let step = next(&gym, plus(last, 14));
    assert_eq!(
        (step.step, step.loading),
        (Step::Return { sets: 3 }, Some(club(2)))
    );
    assert_eq!(next(&gym, plus(last, 27)).loading, Some(club(2)));
    let step = next(&gym, plus(last, 28));
    assert_eq!(
        (step.step, step.loading),
        (Step::Return { sets: 3 }, Some(club(1)))
    );
    // No lighter one in the rack.
    let alone = History::new(gym.sessions().to_vec(), vec![of_mass(2, 7.5)], None);
    let step = next(&alone, plus(last, 28));
    assert_eq!(
        (step.step, step.loading),
        (Step::Return { sets: 3 }, Some(club(2)))
    );
    assert_eq!(said(&step)[1], "No usable club is lighter than club 2.");
}

#[test]
fn a_jump_is_taken_back() {
    // Not earned, and past club 2.
    let mut days = climbing(&[11]);
    days.push(clock(4, 3, 8));
    let step = after(days);
    assert_eq!((step.step, step.loading), (Step::StepBack, Some(club(1))));
    // Earned, but past club 2: to club 2.
    let mut days = climbing(&[11, 12, 12]);
    days.push(clock(6, 3, 8));
    let step = after(days);
    assert_eq!((step.step, step.loading), (Step::StepBack, Some(club(2))));
    assert_eq!(
        step.reasons[0].text,
        "club 3 asks 60 % more by static moment than club 1, over the limit of 33 %."
    );
    // One hand before its time: back to two.
    let mut days = climbing(&[11]);
    days.push(ladder(4, 1, 5));
    let step = after(days);
    assert_eq!(
        (step.step, step.hands, step.loading),
        (Step::StepBack, Hands::Two, Some(club(1)))
    );
    assert_eq!(
        said(&step)[1],
        "0 of 3 two-hand clubs finished, 0 of 12 months, 2.8 of 2.0 sessions a week."
    );
    // Volume kept across a step.
    let mut days = climbed(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10, 10]);
    days.push(ladder(128, 2, 10));
    let step = on_the_ladder(days);
    assert_eq!(step.step, Step::LightWeek { sets: 5 });
}

#[test]
fn a_favoured_side_holds() {
    let mut days = climbed(&[5, 5, 6, 6]);
    for day in &mut days {
        let last = day.0.sets.len();
        day.0.sets.truncate(last - 1);
    }
    let step = on_the_ladder(days);
    assert_eq!((step.step, step.reasons[0].rule), (Step::Hold, Rule::B2));
}

#[test]
fn each_movement_has_one_proposal() {
    let pullover = day(on(3)).sets((PULLOVER, Hands::Two, club(1)), 30, &[(9, 9); 5]);
    let mut days = climbing(&[11]);
    days[3] = Day(crate::training::Session {
        sets: days[3]
            .0
            .sets
            .iter()
            .copied()
            .chain(pullover.0.sets)
            .collect(),
        ..days[3].0.clone()
    });
    let steps = all(&history(days, rack()), &Policy::default(), on(4));
    let movements: Vec<MovementId> = steps.iter().map(|step| step.movement).collect();
    assert_eq!(movements, [MILL, PULLOVER]);
}

#[test]
fn a_block_of_the_coach_is_begun_before_anything_is_proposed() {
    let mut gym = history(climbing(&[11, 12, 12]), rack());
    gym.blocks = Some(vec![block(Hands::Two, 2, on(6))]);
    let step = next(&gym, on(6));
    assert_eq!((step.step, step.loading), (Step::Stay, Some(club(2))));
}

/// Nothing is proposed on a day that is excused, from its first to its last; what waits for the coach still does.
#[test]
fn who_is_away_is_left_in_peace() {
    let days = vec![ladder(114, 2, 5), ladder(115, 2, 5)];
    let last = days[1].0.on;
    let away = |days: Vec<Day>, today| {
        let mut log = opened(days);
        log.excused = vec![(plus(last, 1), plus(last, 20))];
        let steps = all(&log, &Policy::default(), plus(last, today));
        steps.iter().map(|step| step.step).collect::<Vec<_>>()
    };
    assert_eq!(away(days.clone(), 0).len(), 1);
    assert_eq!(away(days.clone(), 1), []);
    assert_eq!(away(days.clone(), 20), []);
    assert_eq!(away(days.clone(), 21), [Step::Return { sets: 3 }]);
    let mut sore = days;
    sore[1] = ladder(115, 2, 5).pain(7, "left elbow");
    assert_eq!(away(sore, 5), [Step::WaitForCoach]);
}
