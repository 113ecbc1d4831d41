//! What a coach has to choose from when planning: movements, clubs, athletes.

use std::collections::{HashMap, HashSet};

use leverbook_domain::club::Mechanics;
use leverbook_domain::id::{AthleteId, ClubId, LoadingId, MovementId};
use leverbook_domain::policy::{AthletePolicy, Policy};
use leverbook_domain::units::UnitSystem;
use leverbook_store::blocks::{self, Assignable};
use leverbook_store::{GymTx, StoreError, care, policies, rack};
use time::Date;

use crate::parts::Choice;

/// Everything to choose from.
pub(super) struct Offer {
    /// The coach's athletes in training, by name.
    pub(super) athletes: Vec<Assignable>,
    /// Movements in use, in the order of the catalogue.
    pub(super) movements: Vec<(MovementId, String)>,
    /// Clubs that can be picked up today, the one that asks least first.
    pub(super) clubs: Vec<ClubOffered>,
    /// The gym's thresholds.
    pub(super) policy: Policy,
    /// By which each of the athletes is judged.
    judged_by: HashMap<AthleteId, AthletePolicy>,
}

/// A club, as loaded, that can be prescribed.
pub(super) struct ClubOffered {
    pub(super) loading: LoadingId,
    pub(super) name: String,
    /// Whose own it is; `None` for the gym's.
    pub(super) owner: Option<AthleteId>,
    /// Whether it has fasteners to inspect.
    pub(super) loadable: bool,
    /// Whether its inspection is overdue.
    pub(super) overdue: bool,
    mechanics: Mechanics,
}

impl ClubOffered {
    /// Whether this athlete may pick it up.
    pub(super) fn is_for(&self, athlete: AthleteId) -> bool {
        self.owner.is_none_or(|owner| owner == athlete)
    }

    fn choice(&self, units: UnitSystem) -> Choice {
        let mass = units.format_mass(self.mechanics.mass.value());
        let moment = self.mechanics.static_moment.map_or_else(
            || "moment unknown".to_owned(),
            |moment| units.format_moment(moment.value()),
        );
        let overdue = if self.overdue {
            ", inspection overdue"
        } else {
            ""
        };
        let word = format!("{}: {mass}, {moment}{overdue}", self.name);
        Choice::new(self.loading.to_string(), word)
    }
}

impl Offer {
    pub(super) async fn load(tx: &mut GymTx, today: Date) -> Result<Self, StoreError> {
        let athletes = blocks::assignable(tx).await?;
        let movements = rack::movements(tx)
            .await?
            .into_iter()
            .filter(|movement| movement.retired_at.is_none())
            .map(|movement| (movement.id, movement.details.name.to_string()))
            .collect();
        let owners = rack::clubs(tx).await?;
        let out = care::out_of_use(tx, today).await?;
        let overdue: HashSet<ClubId> = care::inspectable(tx)
            .await?
            .into_iter()
            .filter(|one| one.is_overdue(today))
            .map(|one| one.club)
            .collect();
        let mut clubs: Vec<ClubOffered> = rack::loadings(tx)
            .await?
            .into_iter()
            .filter(|loading| loading.retired_at.is_none())
            .filter(|loading| out.of(loading.club, loading.id).is_none())
            .filter_map(|loading| {
                let club = owners
                    .iter()
                    .find(|club| club.id == loading.club && club.retired_at.is_none())?;
                Some(ClubOffered {
                    loading: loading.id,
                    name: loading.name.to_string(),
                    owner: club.details.owner,
                    loadable: club.details.loadable,
                    overdue: overdue.contains(&club.id),
                    mechanics: *loading.measure.mechanics(),
                })
            })
            .collect();
        clubs.sort_by(|a, b| demand(&a.mechanics).total_cmp(&demand(&b.mechanics)));
        let ids: Vec<AthleteId> = athletes.iter().map(|one| one.athlete).collect();
        Ok(Self {
            athletes,
            movements,
            clubs,
            policy: policies::in_force(tx).await?,
            judged_by: policies::of_athletes(tx, &ids).await?,
        })
    }

    /// The thresholds of one of the athletes, with the exceptions made for them.
    pub(super) fn policy_for(&self, athlete: AthleteId) -> &Policy {
        self.judged_by
            .get(&athlete)
            .map_or(&self.policy, AthletePolicy::own)
    }

    pub(super) fn movement_name(&self, movement: MovementId) -> Option<&str> {
        self.movements
            .iter()
            .find(|(id, _)| *id == movement)
            .map(|(_, name)| name.as_str())
    }

    /// A club that this athlete may pick up.
    pub(super) fn club(&self, loading: LoadingId, athlete: AthleteId) -> Option<&ClubOffered> {
        self.clubs
            .iter()
            .find(|club| club.loading == loading && club.is_for(athlete))
    }

    /// The gym's clubs.
    pub(super) fn gym_clubs(&self, units: UnitSystem) -> Vec<Choice> {
        self.clubs
            .iter()
            .filter(|club| club.owner.is_none())
            .map(|club| club.choice(units))
            .collect()
    }

    /// The clubs that this athlete may pick up, their own marked.
    pub(super) fn clubs_for(&self, athlete: AthleteId, units: UnitSystem) -> Vec<Choice> {
        self.clubs
            .iter()
            .filter(|club| club.is_for(athlete))
            .map(|club| {
                let mut choice = club.choice(units);
                if club.owner.is_some() {
                    choice.word.push_str(" (their own)");
                }
                choice
            })
            .collect()
    }
}

/// What clubs are put in order by: static moment; a club without one stands after those with one,
/// by mass.
fn demand(mechanics: &Mechanics) -> f64 {
    const AFTER_ALL_MOMENTS: f64 = 1e6;
    mechanics.static_moment.map_or_else(
        || AFTER_ALL_MOMENTS + mechanics.mass.value().kg(),
        |moment| moment.value().nm(),
    )
}
