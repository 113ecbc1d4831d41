use proptest::prelude::*;
use uuid::Uuid;

use super::*;

const fn athlete(number: u128) -> AthleteId {
    AthleteId(Uuid::from_u128(number))
}

const fn club(number: u128) -> ClubId {
    ClubId(Uuid::from_u128(number))
}

/// A club that is never loaded otherwise.
const fn fixed(number: u128) -> AsLoaded {
    loaded(number, number)
}

const fn loaded(number: u128, loading: u128) -> AsLoaded {
    AsLoaded {
        club: club(number),
        loading: LoadingId(Uuid::from_u128(loading)),
    }
}

fn any_of(clubs: &[u128]) -> Work {
    Work {
        any_of: clubs.iter().map(|number| fixed(*number)).collect(),
    }
}

/// Athletes numbered from 1, each with their works.
fn expected<const N: usize>(works: [Vec<Work>; N]) -> Vec<Expected> {
    (1..)
        .zip(works)
        .map(|(number, works)| Expected {
            athlete: athlete(number),
            works,
            first: false,
        })
        .collect()
}

/// Clubs of the gym, numbered from 1, so many of each.
fn rack<const N: usize>(counts: [u16; N]) -> Vec<RackClub> {
    (1..)
        .zip(counts)
        .map(|(number, count)| RackClub {
            club: club(number),
            count,
            owner: None,
        })
        .collect()
}

fn planned(expected: &[Expected], rack: &[RackClub]) -> ClassPlan {
    after(expected, rack, &[])
}

fn after(expected: &[Expected], rack: &[RackClub], last: &[Vec<Swing>]) -> ClassPlan {
    plan(&ClassDay {
        expected,
        rack,
        at_once: None,
        last,
    })
}

/// Who is in each rotation, by number.
fn order(plan: &ClassPlan) -> Vec<Vec<u128>> {
    let number = |swing: &Swing| swing.athlete.0.as_u128();
    plan.rotations
        .iter()
        .map(|swings| swings.iter().map(number).collect())
        .collect()
}

// Hall's theorem: with s of each club, the fewest rotations are the most, over all groups of
// people, of the people in it by the clubs that any of them may use. Five who may use the first club
// alone and two who may use either: 5/1 for the five, 7/2 for all.
#[test]
fn one_club_each_from_several_needs_what_the_tightest_group_needs() {
    let one = || vec![any_of(&[1])];
    let either = || vec![any_of(&[1, 2])];
    let class = expected([one(), one(), one(), one(), one(), either(), either()]);
    let plan = planned(&class, &rack([1, 1]));
    assert_eq!(plan.rotations.len(), 5);
    assert_eq!(
        plan.why,
        [Bound::Short {
            clubs: vec![club(1)],
            there_are: 1,
            swings: 5,
            wanted_by: (1..=5).map(athlete).collect(),
        }]
    );
    let one_more = OneMore {
        clubs: vec![club(1)],
        rotations: 3,
    };
    assert_eq!(plan.one_more, Some(one_more));

    // All seven may use either: 7/2, and one more of either gives 7/3.
    let class = expected([(); 7].map(|()| either()));
    let plan = planned(&class, &rack([1, 1]));
    assert_eq!(plan.rotations.len(), 4);
    let one_more = OneMore {
        clubs: vec![club(1), club(2)],
        rotations: 3,
    };
    assert_eq!(plan.one_more, Some(one_more));
}

// König's line-colouring theorem: several given clubs each need the larger of the most clubs that
// one athlete needs and the most that a club is wanted, by how many there are.
#[test]
fn several_clubs_each_need_what_the_busiest_athlete_or_club_needs() {
    let class = expected([
        vec![any_of(&[1]), any_of(&[2])],
        vec![any_of(&[1])],
        vec![any_of(&[2]), any_of(&[1])],
    ]);
    let plan = planned(&class, &rack([1, 1]));
    assert_eq!(plan.rotations.len(), 3, "the first club is wanted by three");
    let plan = planned(&class, &rack([2, 1]));
    assert_eq!(plan.rotations.len(), 2);
    let busy = |number| Bound::OneAfterAnother {
        athlete: athlete(number),
        works: 2,
    };
    let short = |number, there_are, swings, by: &[u128]| Bound::Short {
        clubs: vec![club(number)],
        there_are,
        swings,
        wanted_by: by.iter().map(|number| athlete(*number)).collect(),
    };
    assert_eq!(
        plan.why,
        [
            short(1, 2, 3, &[1, 2, 3]),
            short(2, 1, 2, &[1, 3]),
            busy(1),
            busy(3)
        ]
    );
    assert_eq!(
        plan.one_more, None,
        "two athletes need two rotations anyway"
    );
}

// With room for p of n at once: n/p, rounded up (the second half of Hall's row in the house's table).
#[test]
fn the_room_alone_may_ask_for_rotations() {
    let class = expected([(); 12].map(|()| vec![any_of(&[1])]));
    let plan = plan(&ClassDay {
        expected: &class,
        rack: &rack([12]),
        at_once: NonZeroU16::new(5),
        last: &[],
    });
    let sizes: Vec<usize> = plan.rotations.iter().map(Vec::len).collect();
    assert_eq!(sizes, [5, 5, 2]);
    let room = Bound::Room {
        swings: 12,
        at_once: 5,
    };
    assert_eq!(plan.why, [room]);
    assert_eq!(plan.one_more, None);
}

#[test]
fn two_loadings_of_one_club_are_never_out_at_once() {
    let light_or_heavy = |loading| {
        vec![Work {
            any_of: vec![loaded(1, loading)],
        }]
    };
    let class = expected([light_or_heavy(11), light_or_heavy(12)]);
    assert_eq!(planned(&class, &rack([1])).rotations.len(), 2);
    assert_eq!(planned(&class, &rack([2])).rotations.len(), 1);
}

#[test]
fn an_own_club_is_held_by_its_owner_alone() {
    let mut rack = rack([1, 1]);
    rack[1].owner = Some(athlete(1));
    let class = expected([
        vec![any_of(&[2])],
        vec![any_of(&[1, 2])],
        vec![any_of(&[1])],
    ]);
    let plan = planned(&class, &rack);
    assert_eq!(plan.rotations.len(), 2);
    let own = |swing: &&Swing| swing.with.club == club(2);
    let holders: Vec<AthleteId> = plan
        .rotations
        .iter()
        .flatten()
        .filter(own)
        .map(|swing| swing.athlete)
        .collect();
    assert_eq!(holders, [athlete(1)]);
}

#[test]
fn work_without_a_club_is_told_and_does_not_stop_the_rest() {
    let mut rack = rack([1, 0, 1]);
    rack[2].owner = Some(athlete(9));
    let class = expected([
        vec![any_of(&[1]), any_of(&[2])],
        vec![any_of(&[3])],
        vec![any_of(&[4])],
        vec![],
    ]);
    let plan = planned(&class, &rack);
    assert_eq!(order(&plan), [[1]]);
    assert_eq!(plan.without_club, [athlete(1), athlete(2), athlete(3)]);
    assert_eq!(planned(&[], &rack).rotations, Vec::<Vec<Swing>>::new());
}

#[test]
fn where_two_clubs_are_equally_short_no_single_one_helps() {
    let class = expected([
        vec![any_of(&[1])],
        vec![any_of(&[1])],
        vec![any_of(&[2])],
        vec![any_of(&[2])],
    ]);
    let plan = planned(&class, &rack([1, 1]));
    assert_eq!(plan.rotations.len(), 2);
    assert_eq!(plan.why.len(), 2);
    assert_eq!(plan.one_more, None);
}

#[test]
fn places_of_last_time_are_kept() {
    let class = expected([(); 4].map(|()| vec![any_of(&[1])]));
    let first = planned(&class, &rack([2]));
    assert_eq!(order(&first), [[1, 2], [3, 4]], "in the order of the list");
    let last = [
        vec![swing(3, 1), swing(2, 1)],
        vec![swing(1, 1), swing(4, 1)],
    ];
    assert_eq!(order(&after(&class, &rack([2]), &last)), [[2, 3], [1, 4]]);

    // Somebody new fills what is free, and nobody moves for them.
    let class = expected([(); 5].map(|()| vec![any_of(&[1])]));
    let plan = after(&class, &rack([3]), &last);
    assert_eq!(order(&plan), [vec![2, 3, 5], vec![1, 4]]);

    // With another club than last time, the place stays.
    let mut class = expected([(); 4].map(|()| vec![any_of(&[1])]));
    class[0].works = vec![any_of(&[2])];
    let plan = after(&class, &rack([2, 1]), &last);
    assert_eq!(order(&plan), [[2, 3], [1, 4]]);

    // One club fewer: three rotations, and whoever was earlier last time is earlier still.
    let class = expected([(); 4].map(|()| vec![any_of(&[1])]));
    let plan = after(&class, &rack([1]), &last);
    let at = |number: u128| order(&plan).iter().position(|who| who.contains(&number));
    assert!(at(2) < at(1) && at(2) < at(4) && at(3) < at(1) && at(3) < at(4));
}

fn swing(who: u128, number: u128) -> Swing {
    Swing {
        athlete: athlete(who),
        with: fixed(number),
    }
}

#[test]
fn the_club_of_last_time_is_taken_again_and_else_the_one_rather_wanted() {
    let class = expected([vec![any_of(&[1, 2])], vec![any_of(&[1, 2])]]);
    let with = |plan: &ClassPlan| {
        let mut swings = plan.rotations[0].clone();
        swings.sort_unstable();
        swings
    };
    assert_eq!(
        with(&planned(&class, &rack([2, 2]))),
        [swing(1, 1), swing(2, 1)]
    );
    let last = [vec![swing(2, 2)]];
    assert_eq!(
        with(&after(&class, &rack([2, 2]), &last)),
        [swing(1, 1), swing(2, 2)]
    );
}

#[test]
fn whoever_is_held_first_is_first_and_it_costs_no_rotation() {
    let mut class = expected([(); 4].map(|()| vec![any_of(&[1])]));
    let last = [
        vec![swing(1, 1), swing(2, 1)],
        vec![swing(3, 1), swing(4, 1)],
    ];
    class[3].first = true;
    let plan = after(&class, &rack([2]), &last);
    assert!(order(&plan)[0].contains(&4), "{:?}", order(&plan));
    assert_eq!(plan.rotations.len(), 2);
    assert_eq!(plan.not_first, []);

    // Three held for two clubs: two are first, the third is told and comes next.
    class[2].first = true;
    class[1].first = true;
    let plan = after(&class, &rack([2]), &last);
    assert_eq!(plan.rotations.len(), 2);
    assert_eq!(plan.not_first.len(), 1);
    let held = order(&plan)[0].iter().filter(|who| **who > 1).count();
    assert_eq!(held, 2, "{:?}", order(&plan));
}

/// A class of up to a dozen: clubs to choose from for each work, how many there are, room, whom the coach
/// holds first.
fn classes() -> impl Strategy<Value = (Vec<Expected>, Vec<RackClub>, Option<NonZeroU16>)> {
    let work = prop::collection::vec(1..=4u128, 1..=2).prop_map(|mut clubs| {
        clubs.sort_unstable();
        clubs.dedup();
        any_of(&clubs)
    });
    let one = (prop::collection::vec(work, 1..=3), any::<bool>());
    (
        prop::collection::vec(one, 1..=12),
        prop::array::uniform4(1..=3u16),
        prop::option::of(1..=6u16),
    )
        .prop_map(|(people, counts, at_once)| {
            let expected = (1..)
                .zip(people)
                .map(|(number, (works, first))| Expected {
                    athlete: athlete(number),
                    works,
                    first,
                })
                .collect();
            (expected, rack(counts), at_once.and_then(NonZeroU16::new))
        })
}

proptest! {
    #[test]
    // Where people choose among clubs, who holds which may change places: rotations are filled one by one.
    fn the_same_class_again_is_the_same_plan((mut expected, rack, at_once) in classes()) {
        for work in expected.iter_mut().flat_map(|one| &mut one.works) {
            work.any_of.truncate(1);
        }
        let day = ClassDay { expected: &expected, rack: &rack, at_once, last: &[] };
        let first = plan(&day);
        let again = plan(&ClassDay { last: &first.rotations, ..day });
        let sets = |plan: &ClassPlan| {
            let mut rotations = plan.rotations.clone();
            rotations.iter_mut().for_each(|swings| swings.sort_unstable());
            rotations
        };
        prop_assert_eq!(sets(&first), sets(&again));
    }

    #[test]
    fn wishes_and_last_time_cost_no_rotation((mut expected, rack, at_once) in classes()) {
        let day = ClassDay { expected: &expected, rack: &rack, at_once, last: &[] };
        let mut last = plan(&day).rotations;
        last.reverse();
        let wished = plan(&ClassDay { last: &last, ..day });
        for one in &mut expected {
            one.first = false;
        }
        let plain = plan(&ClassDay { expected: &expected, rack: &rack, at_once, last: &[] });
        prop_assert_eq!(wished.rotations.len(), plain.rotations.len());
        prop_assert_eq!(wished.why, plain.why);
        let all = wished.rotations.iter().flatten().count();
        prop_assert_eq!(all, expected.iter().map(|one| one.works.len()).sum::<usize>());
    }

    // One club each is Hall's case: two can be first together exactly if there are two places for them.
    #[test]
    fn as_many_as_can_be_are_first(wants in prop::collection::vec((1..=3u128, any::<bool>()), 1..=10), counts in prop::array::uniform3(1..=3u16)) {
        let expected: Vec<Expected> = (1..).zip(&wants).map(|(number, (with, first))| Expected {
            athlete: athlete(number),
            works: vec![any_of(&[*with])],
            first: *first,
        }).collect();
        let plan = planned(&expected, &rack(counts));
        let over: usize = (1..=3).zip(counts).map(|(of, count)| {
            let held = wants.iter().filter(|(with, first)| *with == of && *first).count();
            held.saturating_sub(count.into())
        }).sum();
        prop_assert_eq!(plan.not_first.len(), over);
    }
}
