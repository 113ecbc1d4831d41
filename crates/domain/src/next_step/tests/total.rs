//! Any history, rack, plan and policy that can be: one answer a movement, always the same.

use std::collections::BTreeSet;

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;

use super::*;
use crate::policy::Threshold;
use crate::training::BlockSpan;

/// Sets with one club: movement, hands, club, seconds (0: straight sets), reps on both sides.
type Bouts = Vec<(bool, Hands, u128, u16, Vec<(u16, u16)>)>;

fn hands() -> impl Strategy<Value = Hands> {
    prop::sample::select(Hands::ALL.to_vec())
}

fn any_day() -> impl Strategy<Value = (i64, Bouts, Option<u8>, Option<i64>)> {
    let reps = vec((0..40u16, 0..40u16), 1..7);
    let seconds = prop::sample::select(vec![0u16, 30, 60]);
    let bout = (any::<bool>(), hands(), 1..8u128, seconds, reps);
    let days_since = prop_oneof![6 => 0..5i64, 1 => 12..45i64, 1 => 300..400i64];
    let pain = option::weighted(0.2, 0..=10i64);
    (days_since, vec(bout, 0..4), option::of(0..=20u8), pain)
}

/// Clubs by number: none of its mass, nothing but mass, or a moment too; some cannot be picked up.
fn any_rack() -> impl Strategy<Value = Vec<AvailableClub>> {
    let club = (1.0..30.0f64, any::<bool>(), any::<bool>());
    vec(option::weighted(0.8, club), 0..7).prop_map(|clubs| {
        (1u128..)
            .zip(clubs)
            .filter_map(|(number, club)| {
                let (kg, measured, usable) = club?;
                let club = if measured {
                    of_mass(number, kg)
                } else {
                    crate::scenario::by_mass_only(number, kg)
                };
                Some(AvailableClub { usable, ..club })
            })
            .collect()
    })
}

fn any_block() -> impl Strategy<Value = BlockSpan> {
    (hands(), 1..8u128, 0..200i64, any::<bool>()).prop_map(|(hands, number, from, mill)| {
        let block = block(hands, number, plus(MONDAY, from));
        let movement = if mill { MILL } else { PULLOVER };
        BlockSpan { movement, ..block }
    })
}

/// Every threshold as shipped, at its least or at its most, as far as they stay in order.
fn any_policy() -> impl Strategy<Value = Policy> {
    vec(0..5u8, Threshold::ALL.len()).prop_map(|choices| {
        let mut policy = Policy::default();
        for (threshold, choice) in Threshold::ALL.iter().zip(choices) {
            let mut changed = policy.clone();
            let value = match choice {
                0 => threshold.least,
                1 => threshold.most,
                _ => continue,
            };
            if threshold.set(&mut changed, value).is_ok() && changed.refused().is_empty() {
                policy = changed;
            }
        }
        policy
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_history_has_exactly_one_answer_a_movement(
        days in vec(any_day(), 0..30),
        clubs in any_rack(),
        blocks in option::of(vec(any_block(), 0..3)),
        policy in any_policy(),
        closed in any::<u32>(),
        later in 0..40i64,
    ) {
        let mut today = MONDAY;
        let logged: Vec<Day> = days
            .into_iter()
            .map(|(days_since, bouts, effort, pain)| {
                today = plus(today, days_since);
                let mut done = day(today);
                for (mill, hands, number, seconds, reps) in bouts {
                    let movement = if mill { MILL } else { PULLOVER };
                    done = done.sets((movement, hands, club(number)), seconds, &reps);
                }
                if let Some(half) = effort {
                    done = done.effort(f64::from(half) / 2.0);
                }
                match pain {
                    Some(score) => done.pain(score, "elbow"),
                    None => done,
                }
            })
            .collect();
        let today = plus(today, later);
        let mut gym = history(logged, clubs);
        gym.blocks = blocks;
        let running = |block: &&BlockSpan| (block.from..=block.until).contains(&today);
        let planned = gym.blocks.iter().flatten().filter(running).map(|block| block.movement);
        let sets = gym.sessions().iter().flat_map(|session| &session.sets);
        let expected: BTreeSet<MovementId> = sets.map(|set| set.movement).chain(planned).collect();

        let is_closed = |flag: &Flag| closed & (1 << (flag.rule as u32)) != 0;
        let episodes = rules::episodes(&gym, &policy, today);
        let ask = || propose(&gym, &policy, &episodes, &is_closed, today, &Numbers);
        let steps = ask();
        let answered: Vec<MovementId> = steps.iter().map(|step| step.movement).collect();
        prop_assert_eq!(&answered, &expected.into_iter().collect::<Vec<_>>());
        for step in &steps {
            prop_assert!(!step.reasons.is_empty() && !step.would_change.is_empty(), "{step:?}");
            prop_assert!(step.loading.is_some(), "{step:?}");
            let told = step.reasons.iter().chain(&step.against).map(|reason| &reason.text);
            for text in told.chain(&step.would_change) {
                let odd = ["NaN", "inf ", "infinite"].into_iter().any(|odd| text.contains(odd));
                prop_assert!(!text.is_empty() && !odd, "{text}");
            }
            // What is to be picked up is there to be picked up.
            let goes = matches!(step.step, Step::StepUp | Step::FingertipStage | Step::OpenOneHand);
            let usable = gym.club(step.loading.unwrap()).is_some_and(|club| club.usable);
            prop_assert!(!goes || usable, "{step:?}");
        }
        prop_assert_eq!(ask(), steps);
    }
}
