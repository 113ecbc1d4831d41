//! From a block's parameters to its planned sessions, day by day.

use time::{Date, Duration};

use super::{Ask, BlockDraft, Prescription, Scheme, SetLadder};
use crate::id::LoadingId;
use crate::policy::Policy;

/// What is swung, with the names that a prescription freezes.
#[derive(Debug, Clone, Copy)]
pub struct Swung<'a> {
    /// The movement's name today.
    pub movement_name: &'a str,
    /// The athlete's club, as loaded.
    pub loading: LoadingId,
    /// The club's name today.
    pub club_name: &'a str,
}

/// One planned session of a block that is not yet assigned.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedOn {
    /// Its day.
    pub on: Date,
    /// What it asks.
    pub prescription: Prescription,
}

/// Every planned session of a block, in order of day.
///
/// Weeks are ISO weeks. Week 1 is the one with the first chosen weekday on or after the start, so
/// a block that starts in mid-week has a short first week, never an empty one. Interval and
/// fingertip sets stay; a ladder moves from week to week only, so that nothing is
/// added within a week however many days it has.
pub fn preview(draft: &BlockDraft, policy: &Policy, swung: Swung<'_>) -> Vec<PlannedOn> {
    let first = draft.weekdays().first_from(draft.starts_on());
    let monday = first - Duration::days(first.weekday().number_days_from_monday().into());
    (1..=draft.weeks())
        .flat_map(|week| {
            let week_start = monday + Duration::weeks(i64::from(week) - 1);
            draft
                .weekdays()
                .iso()
                .map(move |day| (week, week_start + Duration::days(i64::from(day) - 1)))
        })
        .filter(|(_, on)| *on >= first)
        .map(|(week, on)| PlannedOn {
            on,
            prescription: prescribe(draft, policy, swung, week),
        })
        .collect()
}

fn prescribe(draft: &BlockDraft, policy: &Policy, swung: Swung<'_>, week: u8) -> Prescription {
    let (usual_sets, ask, rest_seconds) = match draft.scheme() {
        Scheme::IntervalSets(work) => (
            work.sets,
            Ask::Interval {
                seconds: work.seconds,
                goal: work.goal,
            },
            work.rest_seconds,
        ),
        Scheme::FingertipSets(work) => (
            work.sets,
            Ask::Straight { reps: work.reps },
            work.rest_seconds,
        ),
        Scheme::SetLadder(ladder) => (
            ladder_sets(&ladder, policy, week, draft.first_week_sets().is_some()),
            Ask::Straight { reps: ladder.reps },
            ladder.rest_seconds,
        ),
    };
    Prescription {
        movement: draft.movement(),
        movement_name: swung.movement_name.to_owned(),
        hands: draft.scheme().hands(),
        loading: swung.loading,
        club_name: swung.club_name.to_owned(),
        sets: draft
            .first_week_sets()
            .filter(|_| week == 1)
            .unwrap_or(usual_sets),
        ask,
        rest_seconds,
        week,
        note: draft.note().map(str::to_owned),
    }
}

/// V2, V6: the sets on each side in a week of a ladder, counted from 1. Each week adds, up to the
/// target, except every fourth (the policy's number), which holds the sets of the week before or,
/// as a light week, cuts them to the policy's share, rounded, at least one. The week after goes on
/// from where the ladder stood. After a first week of its own the ladder begins in week 2.
fn ladder_sets(ladder: &SetLadder, policy: &Policy, week: u8, begins_in_week_2: bool) -> u8 {
    let holds = |week: u8| super::holds(policy, week.into());
    let mut sets = ladder.start_sets;
    for week in 2 + u8::from(begins_in_week_2)..=week {
        if !holds(week) {
            sets = sets
                .saturating_add(ladder.add_per_week)
                .min(ladder.target_sets);
        }
    }
    if holds(week) && ladder.light_fourth_week {
        share_of_sets(sets, policy.light_week_share)
    } else {
        sets
    }
}

/// A share of so many sets, rounded, at least one and no more than they are.
pub(crate) fn share_of_sets(sets: u8, share: f64) -> u8 {
    (1..=sets)
        .rev()
        .find(|fewer| f64::from(*fewer) - 0.5 <= f64::from(sets) * share)
        .unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::id::MovementId;
    use crate::plan::{BlockWish, FingertipSets, IntervalSets};
    use crate::units::{Reps, Seconds};
    use proptest::prelude::*;
    use std::collections::BTreeMap;
    use time::macros::date;
    use uuid::Uuid;

    const SWUNG: Swung<'static> = Swung {
        movement_name: "Mill",
        loading: LoadingId(Uuid::nil()),
        club_name: "Oak 8",
    };

    fn ladder(start_sets: u8, add_per_week: u8, target_sets: u8, light: bool) -> Scheme {
        Scheme::SetLadder(SetLadder {
            reps: Reps::new(5).unwrap(),
            start_sets,
            add_per_week,
            target_sets,
            light_fourth_week: light,
            rest_seconds: 60,
        })
    }

    fn plan(scheme: Scheme, weekdays: &[i64], starts_on: Date, weeks: i64) -> Vec<PlannedOn> {
        let policy = Policy::default();
        let wish = BlockWish {
            movement: MovementId(Uuid::nil()),
            scheme,
            weekdays: weekdays.to_vec(),
            starts_on,
            weeks,
            note: String::new(),
        };
        let draft = BlockDraft::new(wish, &policy, starts_on).unwrap();
        preview(&draft, &policy, SWUNG)
    }

    fn sets_by_week(planned: &[PlannedOn]) -> Vec<u8> {
        let weeks: BTreeMap<u8, u8> = planned
            .iter()
            .map(|one| (one.prescription.week, one.prescription.sets))
            .collect();
        weeks.into_values().collect()
    }

    /// Worked by hand from common practice (no source): start at 5 sets, one more a week toward
    /// 10, every fourth week holds; a light week is 60 % of the sets.
    #[test]
    fn a_ladder_climbs_week_by_week() {
        let monday = date!(2026 - 11 - 30);
        let cases: &[(Scheme, &[u8])] = &[
            (ladder(5, 1, 10, false), &[5, 6, 7, 7, 8, 9, 10, 10, 10, 10]),
            (
                ladder(5, 1, 10, true),
                &[5, 6, 7, 4, 8, 9, 10, 6, 10, 10, 10, 6],
            ),
            (ladder(10, 2, 20, false), &[10, 12, 14, 14, 16, 18, 20, 20]),
            (ladder(9, 2, 10, false), &[9, 10, 10, 10]),
            (ladder(5, 0, 10, false), &[5, 5, 5, 5, 5]),
            (ladder(1, 1, 1, true), &[1, 1, 1, 1]),
            // 60 % of 5 is 3; of 8 it is 4.8, which rounds to 5.
            (ladder(5, 0, 5, true), &[5, 5, 5, 3]),
            (ladder(8, 0, 8, true), &[8, 8, 8, 5]),
        ];
        for (scheme, expected) in cases {
            let planned = plan(*scheme, &[1, 4], monday, expected.len() as i64);
            assert_eq!(sets_by_week(&planned), *expected, "{scheme:?}");
            assert_eq!(planned.len(), 2 * expected.len());
        }
    }

    /// A1, V6: week 1 has its own sets, and the scheme begins in week 2; by hand.
    #[test]
    fn a_first_week_of_its_own() {
        let monday = date!(2026 - 11 - 30);
        let sets = |scheme| {
            let wish = BlockWish {
                movement: MovementId(Uuid::nil()),
                scheme,
                weekdays: vec![1, 4],
                starts_on: monday,
                weeks: 5,
                note: String::new(),
            };
            let draft = BlockDraft::new(wish, &Policy::default(), monday).unwrap();
            assert!(draft.clone().with_first_week(Some(0)).is_err());
            assert!(draft.clone().with_first_week(Some(41)).is_err());
            let draft = draft.with_first_week(Some(3)).unwrap();
            sets_by_week(&preview(&draft, &Policy::default(), SWUNG))
        };
        let fingertip = Scheme::FingertipSets(FingertipSets {
            sets: 5,
            reps: Reps::new(5).unwrap(),
            rest_seconds: 60,
        });
        assert_eq!(sets(fingertip), [3, 5, 5, 5, 5]);
        assert_eq!(sets(ladder(5, 1, 10, false)), [3, 5, 6, 6, 7]);
    }

    /// ISO 8601 weeks begin on Monday; 2026-12-02 is a Wednesday, and 2026 has a week 53 that ends
    /// on 2027-01-03.
    #[test]
    fn a_block_may_start_in_mid_week_and_cross_a_year() {
        let days = |weekdays: &[i64], starts_on, weeks| -> Vec<(Date, u8)> {
            plan(ladder(5, 1, 10, false), weekdays, starts_on, weeks)
                .iter()
                .map(|one| (one.on, one.prescription.week))
                .collect()
        };
        assert_eq!(
            days(&[1, 4], date!(2026 - 12 - 02), 2),
            [
                (date!(2026 - 12 - 03), 1),
                (date!(2026 - 12 - 07), 2),
                (date!(2026 - 12 - 10), 2),
            ]
        );
        // Friday: both days of that week are gone, so the next week is the first.
        assert_eq!(
            days(&[1, 4], date!(2026 - 12 - 04), 1),
            [(date!(2026 - 12 - 07), 1), (date!(2026 - 12 - 10), 1)]
        );
        assert_eq!(
            days(&[7], date!(2027 - 01 - 01), 2),
            [(date!(2027 - 01 - 03), 1), (date!(2027 - 01 - 10), 2)]
        );
    }

    #[test]
    fn interval_and_fingertip_sets_stay_as_they_are() {
        let interval = Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        });
        let fingertip = Scheme::FingertipSets(FingertipSets {
            sets: 4,
            reps: Reps::new(3).unwrap(),
            rest_seconds: 90,
        });
        for (scheme, sets) in [(interval, 5), (fingertip, 4)] {
            let planned = plan(scheme, &[2, 5], date!(2026 - 12 - 01), 8);
            assert_eq!(sets_by_week(&planned), vec![sets; 8]);
            assert!(
                planned
                    .iter()
                    .all(|one| one.prescription.hands == scheme.hands())
            );
            assert!(
                planned
                    .iter()
                    .all(|one| one.prescription.movement_name == "Mill")
            );
        }
    }

    /// 5 sets a side of 30 s: ten sets are 300 s of work. Nine rests of 60 s make 840 s, four make
    /// 540 s. By hand.
    #[test]
    fn a_session_takes_its_work_and_its_rests() {
        let interval = Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        });
        let planned = plan(interval, &[1], date!(2026 - 11 - 30), 1);
        let time = planned[0].prescription.time();
        assert_eq!((time.shortest, time.longest), (540, 840));
        assert_eq!(time.in_minutes(), "9–14 min");
        // Ladder: 5 sets of 5 a side is 50 reps, 100 to 200 s, with the same rests.
        let planned = plan(ladder(5, 1, 10, false), &[1], date!(2026 - 11 - 30), 1);
        let time = planned[0].prescription.time();
        assert_eq!((time.shortest, time.longest), (340, 740));
        assert_eq!(planned[0].prescription.line(), "5 sets of 5 a side");
    }

    /// A ladder as shipped is laid out so that no rule of the one-hand phase objects to its sets.
    #[test]
    fn the_rules_of_the_ladder_object_to_no_ladder_within_them() {
        use crate::rules::{PlannedWork, Rule, objections};
        use crate::training::History;

        let nobody = History::new(Vec::new(), Vec::new(), None);
        let objected = |planned: &[PlannedOn]| -> Vec<(Rule, Date)> {
            let work: Vec<PlannedWork> = planned.iter().map(PlannedWork::from).collect();
            objections(&nobody, &Policy::default(), &work)
                .into_iter()
                .map(|objection| (objection.flag.rule, planned[objection.planned].on))
                .filter(|(rule, _)| rule.id().starts_with('V'))
                .collect()
        };
        // They do look: nine sets are too many to begin with (V1).
        let monday = date!(2026 - 11 - 30);
        let too_many = plan(ladder(9, 1, 10, false), &[1, 4], monday, 2);
        assert!(objected(&too_many).contains(&(Rule::V1, monday)));
        for weekdays in [&[1][..], &[1, 4], &[2, 3, 7], &[1, 2, 3, 4, 5, 6, 7]] {
            for starts_on in [date!(2026 - 11 - 30), date!(2026 - 12 - 05)] {
                for (add, target, light) in [
                    (1, 10, false),
                    (1, 10, true),
                    (2, 20, false),
                    (2, 20, true),
                    (0, 5, true),
                ] {
                    let planned = plan(ladder(5, add, target, light), weekdays, starts_on, 16);
                    assert_eq!(
                        objected(&planned),
                        [],
                        "{weekdays:?} {starts_on} +{add} to {target} {light}"
                    );
                }
            }
        }
    }

    prop_compose! {
        fn any_plan()(
            days in 1u8..128,
            start in 0i64..4000,
            weeks in 1i64..=52,
            start_sets in 1u8..=40,
            climb in 0u8..=40,
            add in 0u8..=2,
            light in any::<bool>(),
        ) -> (Vec<i64>, Date, i64, SetLadder, Vec<PlannedOn>) {
            let weekdays: Vec<i64> = (1..=7).filter(|day| days & (1 << (day - 1)) != 0).collect();
            let starts_on = date!(2024 - 01 - 01) + Duration::days(start);
            let scheme = ladder(start_sets, add, (start_sets + climb).min(40), light);
            let Scheme::SetLadder(parameters) = scheme else { unreachable!() };
            let planned = plan(scheme, &weekdays, starts_on, weeks);
            (weekdays, starts_on, weeks, parameters, planned)
        }
    }

    proptest! {
        #[test]
        fn days_rise_and_fall_only_on_chosen_weekdays(
            (weekdays, starts_on, weeks, _, planned) in any_plan(),
        ) {
            let per_week = weekdays.len();
            let weeks = weeks as usize;
            prop_assert!(planned.len() > (weeks - 1) * per_week);
            prop_assert!(planned.len() <= weeks * per_week);
            prop_assert!(planned[0].on >= starts_on);
            prop_assert!(planned[0].on - starts_on < Duration::days(7));
            for pair in planned.windows(2) {
                prop_assert!(pair[0].on < pair[1].on);
            }
            for one in &planned {
                let day = i64::from(one.on.weekday().number_from_monday());
                prop_assert!(weekdays.contains(&day));
            }
            let iso_weeks: std::collections::BTreeSet<_> =
                planned.iter().map(|one| one.on.to_iso_week_date()).map(|(y, w, _)| (y, w)).collect();
            prop_assert_eq!(iso_weeks.len(), weeks);
        }

        #[test]
        fn a_ladder_stays_within_its_bounds_and_holds_every_fourth_week(
            (_, _, _, ladder, planned) in any_plan(),
        ) {
            let by_week = sets_by_week(&planned);
            prop_assert_eq!(by_week[0], ladder.start_sets);
            for (index, sets) in by_week.iter().enumerate() {
                prop_assert!((1..=ladder.target_sets).contains(sets));
                if (index + 1) % 4 == 0 {
                    prop_assert!(*sets <= by_week[index - 1]);
                }
            }
            // Beyond light weeks, never down and never more than two sets in any seven days.
            let full: Vec<&PlannedOn> = planned
                .iter()
                .filter(|one| !(ladder.light_fourth_week && one.prescription.week % 4 == 0))
                .collect();
            for (index, later) in full.iter().enumerate() {
                for earlier in &full[..index] {
                    let (before, after) = (earlier.prescription.sets, later.prescription.sets);
                    prop_assert!(before <= after);
                    if later.on - earlier.on <= Duration::days(7) {
                        prop_assert!(after - before <= 2);
                    }
                }
            }
        }
    }
}
