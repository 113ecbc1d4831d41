//! Class plans against an independent solver: scipy's milp on 200 random classes, `class_plans/milp.py`.

use std::collections::BTreeMap;
use std::num::NonZeroU16;

use leverbook_domain::class::{
    AsLoaded, Bound, ClassDay, ClassPlan, Expected, RackClub, Work, plan,
};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use serde::Deserialize;
use uuid::Uuid;

#[derive(Deserialize)]
struct Solved {
    source: String,
    classes: Vec<Class>,
}

#[derive(Deserialize)]
struct Class {
    at_once: Option<NonZeroU16>,
    /// How many, whose, how many loadings.
    stock: Vec<(u16, Option<usize>, usize)>,
    /// Works of each athlete: clubs, as loaded, that will do.
    athletes: Vec<Vec<Vec<(usize, usize)>>>,
    /// The fewest.
    rotations: usize,
    /// The fewest with one more of each club of the gym.
    with_one_more: Vec<Option<usize>>,
}

fn id(kind: u128, number: usize) -> Uuid {
    Uuid::from_u128((kind << 64) + number as u128)
}

fn athlete(number: usize) -> AthleteId {
    AthleteId(id(1, number))
}

fn club(number: usize) -> ClubId {
    ClubId(id(2, number))
}

impl Class {
    fn expected(&self) -> Vec<Expected> {
        let loaded = |(of, loading): &(usize, usize)| AsLoaded {
            club: club(*of),
            loading: LoadingId(id(3, 100 * of + loading)),
        };
        let work = |any_of: &Vec<(usize, usize)>| Work {
            any_of: any_of.iter().map(loaded).collect(),
        };
        let everybody = self.athletes.iter().enumerate();
        everybody
            .map(|(number, works)| Expected {
                athlete: athlete(number),
                works: works.iter().map(work).collect(),
                first: number % 5 == 0,
            })
            .collect()
    }

    fn rack(&self) -> Vec<RackClub> {
        let clubs = self.stock.iter().enumerate();
        clubs
            .map(|(number, (count, owner, _))| RackClub {
                club: club(number),
                count: *count,
                owner: owner.map(athlete),
            })
            .collect()
    }

    /// The plan after one in which the day before was planned, so that wishes are in it, too.
    fn planned(&self) -> ClassPlan {
        let (expected, rack) = (self.expected(), self.rack());
        let mut day = ClassDay {
            expected: &expected,
            rack: &rack,
            at_once: self.at_once,
            last: &[],
        };
        let mut last = plan(&day).rotations;
        last.reverse();
        day.last = &last;
        plan(&day)
    }
}

fn solved() -> Solved {
    let text = include_str!("class_plans/classes.json");
    serde_json::from_str(text).expect("what milp.py wrote")
}

#[test]
fn the_fewest_rotations_are_those_that_milp_finds() {
    let solved = solved();
    assert_eq!(solved.source, "scipy 1.17.1, milp (HiGHS), seed 20261130");
    assert_eq!(solved.classes.len(), 200);
    for (number, class) in solved.classes.iter().enumerate() {
        let plan = class.planned();
        assert_eq!(plan.rotations.len(), class.rotations, "class {number}");
        is_a_plan(class, &plan, number);
        explains_itself(class, &plan, number);
    }
}

#[test]
fn the_one_more_club_that_helps_most_is_the_one_that_milp_finds() {
    for (number, class) in solved().classes.iter().enumerate() {
        let fewest = class.with_one_more.iter().flatten().min();
        let Some(fewest) = fewest.filter(|fewest| **fewest < class.rotations) else {
            assert_eq!(class.planned().one_more, None, "class {number}");
            continue;
        };
        let one_more = class.planned().one_more.expect("one that helps");
        let best: Vec<ClubId> = (0..class.stock.len())
            .filter(|of| class.with_one_more[*of] == Some(*fewest))
            .map(club)
            .collect();
        assert_eq!(one_more.rotations, *fewest, "class {number}");
        assert_eq!(one_more.clubs, best, "class {number}");
    }
}

/// Everybody does all of their works, each once with a club that will do, never two at once; no club
/// is held by more than there are; no more swing at once than the room takes.
fn is_a_plan(class: &Class, plan: &ClassPlan, number: usize) {
    let expected = class.expected();
    let mut done: BTreeMap<AthleteId, Vec<AsLoaded>> = BTreeMap::new();
    for swings in &plan.rotations {
        assert!(!swings.is_empty(), "class {number}: an idle rotation");
        let most = class.at_once.map_or(usize::MAX, |most| most.get().into());
        assert!(swings.len() <= most, "class {number}: room");
        for (of, (count, ..)) in class.stock.iter().enumerate() {
            let out = swings.iter().filter(|swing| swing.with.club == club(of));
            assert!(out.count() <= (*count).into(), "class {number}: club {of}");
        }
        for swing in swings {
            let same = swings.iter().filter(|one| one.athlete == swing.athlete);
            assert_eq!(same.count(), 1, "class {number}: two clubs at once");
            done.entry(swing.athlete).or_default().push(swing.with);
        }
    }
    for one in &expected {
        let mut done = done.remove(&one.athlete).unwrap_or_default();
        assert_eq!(done.len(), one.works.len(), "class {number}");
        assert!(answers(&one.works, &mut done), "class {number}");
    }
    assert!(
        done.is_empty(),
        "class {number}: somebody who is not expected"
    );
    assert_eq!(plan.without_club, [], "class {number}");
}

/// Whether each work has a club of its own among those that were swung.
fn answers(works: &[Work], done: &mut Vec<AsLoaded>) -> bool {
    let Some((work, rest)) = works.split_first() else {
        return true;
    };
    (0..done.len()).any(|at| {
        if !work.any_of.contains(&done[at]) {
            return false;
        }
        let with = done.remove(at);
        let answered = answers(rest, done);
        done.insert(at, with);
        answered
    })
}

/// Each bound asks for as many rotations as there are, counted anew from the class.
fn explains_itself(class: &Class, plan: &ClassPlan, number: usize) {
    let rotations = plan.rotations.len();
    assert_eq!(plan.why.is_empty(), rotations < 2, "class {number}");
    let works = || {
        class
            .athletes
            .iter()
            .enumerate()
            .flat_map(|(of, works)| works.iter().map(move |work| (of, work)))
    };
    for bound in &plan.why {
        let asks_for = match bound {
            Bound::OneAfterAnother {
                athlete: who,
                works,
            } => {
                let of = (0..class.athletes.len())
                    .find(|of| athlete(*of) == *who)
                    .expect("somebody");
                assert_eq!(class.athletes[of].len(), *works, "class {number}");
                *works
            }
            Bound::Room { swings, at_once } => {
                assert_eq!(works().count(), *swings, "class {number}");
                assert_eq!(class.at_once.map(NonZeroU16::get), Some(*at_once));
                swings.div_ceil((*at_once).into())
            }
            Bound::Short {
                clubs,
                there_are,
                swings,
                wanted_by,
            } => {
                let none_else = |(_, work): &(usize, &Vec<(usize, usize)>)| {
                    work.iter().all(|(of, _)| clubs.contains(&club(*of)))
                };
                let counted: u32 = (0..class.stock.len())
                    .filter(|of| clubs.contains(&club(*of)))
                    .map(|of| u32::from(class.stock[of].0))
                    .sum();
                assert_eq!(counted, *there_are, "class {number}");
                assert!(
                    works().filter(none_else).count() >= *swings,
                    "class {number}"
                );
                for who in wanted_by {
                    assert!(works().filter(none_else).any(|(of, _)| athlete(of) == *who));
                }
                swings.div_ceil(*there_are as usize)
            }
        };
        assert_eq!(asks_for, rotations, "class {number}: {bound:?}");
    }
}
