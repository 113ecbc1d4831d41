//! Athletes who do what is proposed.

use std::collections::BTreeSet;

use proptest::collection::vec;
use proptest::prelude::*;

use super::*;
use crate::rules::Severity;
use crate::training::Work;

/// What one session was like.
#[derive(Debug, Clone, Copy)]
struct Form {
    days_since: i64,
    effort: Option<f64>,
    pain: Option<i64>,
    missed: bool,
    /// Reps more than the session before, two hands.
    gained: u16,
}

fn form() -> impl Strategy<Value = Form> {
    let effort = prop_oneof![
        2 => Just(None),
        10 => (8..=14u8).prop_map(|half| Some(f64::from(half) / 2.0)),
        1 => (15..=20u8).prop_map(|half| Some(f64::from(half) / 2.0)),
    ];
    let pain = prop_oneof![20 => Just(None), 2 => (0..=3i64).prop_map(Some), 1 => Just(Some(5))];
    let days_since = prop_oneof![12 => 1..5i64, 1 => 14..45i64];
    (
        days_since,
        effort,
        pain,
        prop::bool::weighted(0.06),
        0..=1u16,
    )
        .prop_map(|(days_since, effort, pain, missed, gained)| Form {
            days_since,
            effort,
            pain,
            missed,
            gained,
        })
}

/// A policy under which all stages come up within months.
fn impatient() -> Policy {
    Policy {
        opening_clubs: 2,
        opening_months: 2,
        opening_sessions_per_week: 0.5,
        ladder_targets: [7, 9],
        ..Policy::default()
    }
}

/// Does what is proposed: before every session, or for a week at a time.
fn follow(forms: &[Form], weekly: bool) -> (Vec<Day>, BTreeSet<&'static str>) {
    let policy = impatient();
    let mut days: Vec<Day> = Vec::new();
    let mut kinds = BTreeSet::new();
    let mut today = MONDAY;
    let mut count = 10;
    let mut decided: Option<(Date, NextStep)> = None;
    let mut club_before = None;
    for form in forms {
        today = plus(today, form.days_since);
        let gym = history(days.clone(), rack());
        let episodes = rules::episodes(&gym, &policy, today);
        // The coach looks at every stop, and closes it.
        let stops = |flag: &Flag| flag.severity == Severity::Stop;
        let asked_on = decided.as_ref().map(|(on, _)| *on);
        let fresh = !weekly || asked_on.is_none_or(|on| (today - on).whole_days() >= 7);
        let step = match decided.take() {
            Some((_, step)) if !fresh => Some(step),
            _ => propose(&gym, &policy, &episodes, &stops, today, &Numbers).pop(),
        };
        let (hands, loading, sets) = match &step {
            None => (Hands::Two, club(1), 5),
            Some(step) => {
                let name = format!("{:?}", step.step);
                let known = [
                    "Stay",
                    "AddSets",
                    "Hold",
                    "LightWeek",
                    "StepUp",
                    "StepBack",
                    "FingertipStage",
                    "OpenOneHand",
                    "Return",
                    "WaitForCoach",
                ];
                kinds.extend(known.into_iter().filter(|known| name.starts_with(known)));
                let last = days.last().map_or(5, |day| day.0.sets.len() / 2);
                let sets = match step.step {
                    Step::AddSets { sets } | Step::LightWeek { sets } | Step::Return { sets } => {
                        sets.into()
                    }
                    Step::StepUp if step.hands == Hands::One => 5,
                    Step::OpenOneHand => 5,
                    _ if step.hands == Hands::One => last,
                    _ => 5,
                };
                (step.hands, step.loading.unwrap(), sets)
            }
        };
        if club_before != Some((hands, loading)) {
            count = 10;
            club_before = Some((hands, loading));
        }
        count += form.gained;
        let done = match hands {
            Hands::Two => day(today).sets((MILL, hands, loading), 30, &vec![(count, count); sets]),
            _ => {
                let reps = if form.missed { 4 } else { 5 };
                let mut done =
                    day(today).sets((MILL, hands, loading), 0, &vec![(reps, reps); sets]);
                for set in &mut done.0.sets {
                    if let Work::Straight { asked, .. } = &mut set.work {
                        *asked = Reps::new(5).ok();
                    }
                }
                done
            }
        };
        let done = match form.effort {
            Some(effort) => done.effort(effort),
            None => done,
        };
        days.push(match form.pain {
            Some(pain) => done.pain(pain, "elbow"),
            None => done,
        });
        decided = step.map(|step| {
            let on = asked_on.filter(|_| !fresh).unwrap_or(today);
            (on, step)
        });
    }
    (days, kinds)
}

/// What the rules object to in work that somebody chose. Not V6: whether the next session falls into the
/// week that holds depends on when it is done, and the proposal says so.
const OBJECTIONS: [Rule; 13] = [
    Rule::O1,
    Rule::O2,
    Rule::O3,
    Rule::V1,
    Rule::V2,
    Rule::V4,
    Rule::B1,
    Rule::B2,
    Rule::W1,
    Rule::W2,
    Rule::W3,
    Rule::W4,
    Rule::W5,
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn who_does_what_is_proposed_is_never_objected_to(forms in vec(form(), 1..120), weekly: bool) {
        let (days, _) = follow(&forms, weekly);
        let today = days.last().unwrap().0.on;
        let gym = history(days, rack());
        let found = rules::episodes(&gym, &impatient(), today);
        let objections: Vec<_> = found
            .iter()
            .filter(|episode| OBJECTIONS.contains(&episode.flag.rule))
            .map(|episode| (episode.flag.rule, episode.flag.since))
            .collect();
        let done: Vec<String> = gym
            .sessions()
            .iter()
            .map(|it| {
                let set = it.sets[0];
                let club = Numbers.club(set.loading);
                let sets = it.sets.len() / 2;
                format!("{} {} {club}: {sets} x {}", it.on, set.hands.word(), set.work.reps().get())
            })
            .collect();
        prop_assert!(objections.is_empty(), "{objections:?} in {done:#?}");
    }

    #[test]
    fn every_history_has_an_answer_and_always_the_same(forms in vec(form(), 0..40), later in 0..60i64) {
        let (days, _) = follow(&forms, false);
        let today = plus(days.last().map_or(MONDAY, |day| day.0.on), later);
        let gym = history(days.clone(), rack());
        let steps = all(&gym, &impatient(), today);
        prop_assert_eq!(steps.len(), usize::from(!days.is_empty()));
        for step in &steps {
            prop_assert!(!step.reasons.is_empty() && !step.would_change.is_empty(), "{step:?}");
        }
        let reversed = history(days.into_iter().rev().collect(), rack());
        prop_assert_eq!(all(&reversed, &impatient(), today), steps);
    }
}

/// The simulated athletes reach every kind of proposal but the one that their coach has lifted.
#[test]
fn the_simulated_athletes_meet_every_proposal() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let mut seen = BTreeSet::new();
    for _ in 0..12 {
        let forms = vec(form(), 120).new_tree(&mut runner).unwrap().current();
        seen.extend(follow(&forms, false).1);
    }
    for kind in [
        "Stay",
        "AddSets",
        "Hold",
        "LightWeek",
        "StepUp",
        "FingertipStage",
        "OpenOneHand",
        "Return",
    ] {
        assert!(seen.contains(kind), "{kind} never came up: {seen:?}");
    }
}
