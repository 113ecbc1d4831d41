//! A class plan as a page tells it.

use std::collections::{BTreeSet, HashMap};

use leverbook_domain::class::{Bound, ClassPlan, Expected, Swing};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use leverbook_domain::text::counted;
use leverbook_store::rack::{Club, Loading};

/// What people and clubs are called.
pub(super) struct Called {
    pub(super) athletes: HashMap<AthleteId, String>,
    clubs: HashMap<ClubId, String>,
    loadings: HashMap<LoadingId, String>,
    loadable: BTreeSet<ClubId>,
}

impl Called {
    pub(super) fn new(
        athletes: HashMap<AthleteId, String>,
        clubs: &[Club],
        loadings: &[Loading],
    ) -> Self {
        Self {
            athletes,
            clubs: clubs
                .iter()
                .map(|club| (club.id, club.details.name.to_string()))
                .collect(),
            loadings: loadings
                .iter()
                .map(|loading| (loading.id, loading.name.to_string()))
                .collect(),
            loadable: clubs
                .iter()
                .filter(|club| club.details.loadable)
                .map(|club| club.id)
                .collect(),
        }
    }

    pub(super) fn athlete(&self, athlete: AthleteId) -> String {
        let known = self.athletes.get(&athlete);
        known.cloned().unwrap_or_else(|| "somebody".to_owned())
    }

    fn club(&self, club: ClubId) -> String {
        let known = self.clubs.get(&club);
        known.cloned().unwrap_or_else(|| "a club".to_owned())
    }

    pub(super) fn loading(&self, loading: LoadingId) -> String {
        let known = self.loadings.get(&loading);
        known.cloned().unwrap_or_else(|| "a club".to_owned())
    }

    fn people(&self, athletes: &[AthleteId]) -> String {
        list(
            athletes.iter().map(|one| self.athlete(*one)).collect(),
            "and",
        )
    }
}

/// One rotation on the wall.
pub(super) struct Rotation {
    pub(super) number: usize,
    /// Who, and the club that they hold.
    pub(super) swings: Vec<(String, String)>,
}

/// A plan, in words.
pub(super) struct Told {
    pub(super) rotations: Vec<Rotation>,
    /// How long a rotation may take, of the class's minutes.
    pub(super) minutes_each: Option<u16>,
    pub(super) at_once: u16,
    /// Why there are not fewer rotations.
    pub(super) why: Vec<String>,
    /// The single extra club that would help most.
    pub(super) one_more: String,
    /// What could not be as it was wished.
    pub(super) not_so: Vec<String>,
    /// Clubs of the plan with fasteners to inspect.
    pub(super) inspect: Option<String>,
}

impl Told {
    pub(super) fn new(
        plan: &ClassPlan,
        expected: &[&Expected],
        at_once: u16,
        minutes: u16,
        called: &Called,
    ) -> Self {
        let count = plan.rotations.len();
        let swing = |swing: &Swing| {
            (
                called.athlete(swing.athlete),
                called.loading(swing.with.loading),
            )
        };
        let rotations = (1..)
            .zip(&plan.rotations)
            .map(|(number, swings)| Rotation {
                number,
                swings: swings.iter().map(swing).collect(),
            })
            .collect();
        let inspect: BTreeSet<ClubId> = plan
            .rotations
            .iter()
            .flatten()
            .map(|swing| swing.with.club)
            .filter(|club| called.loadable.contains(club))
            .collect();
        let inspect: Vec<String> = inspect.into_iter().map(|club| called.club(club)).collect();
        Self {
            rotations,
            minutes_each: u16::try_from(count)
                .ok()
                .and_then(|count| minutes.checked_div(count)),
            at_once,
            why: plan
                .why
                .iter()
                .map(|bound| why(bound, count, called))
                .collect(),
            one_more: one_more(plan, called),
            not_so: not_so(plan, expected, called),
            inspect: (!inspect.is_empty()).then(|| list(inspect, "and")),
        }
    }
}

fn why(bound: &Bound, rotations: usize, called: &Called) -> String {
    match bound {
        Bound::OneAfterAnother { athlete, works } => format!(
            "{} has {works} clubs to swing, one after another.",
            called.athlete(*athlete)
        ),
        Bound::Room { swings, at_once } => format!(
            "{swings} turns with a club, and the room takes {at_once} at once: {rotations} rotations."
        ),
        Bound::Short {
            clubs,
            there_are,
            swings,
            wanted_by,
        } => {
            let names = clubs.iter().map(|club| called.club(*club)).collect();
            let there = match (there_are, clubs.len()) {
                (1, _) => "there is 1".to_owned(),
                (count, 1) => format!("there are {count}"),
                (count, _) => format!("there are {count} together"),
            };
            format!(
                "{} is short: wanted {swings} times and {there}, so {rotations} rotations. Wanted by {}.",
                list(names, "or"),
                called.people(wanted_by)
            )
        }
    }
}

fn one_more(plan: &ClassPlan, called: &Called) -> String {
    let count = plan.rotations.len();
    match &plan.one_more {
        Some(best) => {
            let names = best.clubs.iter().map(|club| called.club(*club)).collect();
            format!(
                "One more {} would help most: {} instead of {count}.",
                list(names, "or"),
                counted(best.rotations, "rotation")
            )
        }
        None if count < 2 => "Nothing is short.".to_owned(),
        None => "No single extra club would save a rotation.".to_owned(),
    }
}

fn not_so(plan: &ClassPlan, expected: &[&Expected], called: &Called) -> Vec<String> {
    let mut said = Vec::new();
    if !plan.not_first.is_empty() {
        said.push(format!(
            "Not in the first rotation, though held to be first: {}. There are not enough clubs or places for all of them at once without one rotation more.",
            called.people(&plan.not_first)
        ));
    }
    for athlete in &plan.without_club {
        let wanted = expected
            .iter()
            .filter(|one| one.athlete == *athlete)
            .flat_map(|one| &one.works)
            .flat_map(|work| &work.any_of)
            .map(|with| called.loading(with.loading))
            .collect();
        said.push(format!(
            "{} has work that no club in the rack is there for: {}. Choose another club for them.",
            called.athlete(*athlete),
            list(wanted, "or")
        ));
    }
    said
}

/// "A, B and C".
pub(super) fn list(names: Vec<String>, word: &str) -> String {
    match names.as_slice() {
        [before @ .., last] if !before.is_empty() => format!("{} {word} {last}", before.join(", ")),
        _ => names.concat(),
    }
}
