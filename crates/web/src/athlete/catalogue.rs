//! What the gym calls things: the movements and clubs that an athlete's pages name.

use std::collections::{HashMap, HashSet};

use leverbook_domain::club::ClubMeasure;
use leverbook_domain::club::care::OutOfUse;
use leverbook_domain::id::{AthleteId, ClubId, LoadingId, MovementId};
use leverbook_domain::rules::Names;
use leverbook_domain::units::UnitSystem;
use leverbook_store::rack::{self, Movement};
use leverbook_store::{GymTx, StoreError};

use crate::club_picture::{ClubPicture, Scale};

/// A club as loaded, by its name.
#[derive(Debug)]
pub(super) struct NamedClub {
    club: ClubId,
    pub(super) name: String,
    /// Whether it has fasteners to inspect.
    pub(super) loadable: bool,
    /// Whether this athlete may pick it up now.
    usable: bool,
    measure: ClubMeasure,
}

/// The names of everything in the gym, for one athlete.
#[derive(Debug)]
pub(super) struct Catalogue {
    movements: Vec<Movement>,
    clubs: HashMap<LoadingId, NamedClub>,
    /// The clubs' order on pages: by name.
    order: Vec<LoadingId>,
}

impl Catalogue {
    pub(super) async fn load(tx: &mut GymTx, athlete: AthleteId) -> Result<Self, StoreError> {
        let movements = rack::movements(tx).await?;
        let clubs: HashMap<_, _> = rack::clubs(tx)
            .await?
            .into_iter()
            .map(|club| (club.id, club))
            .collect();
        let mut named = HashMap::new();
        let mut order = Vec::new();
        for loading in rack::loadings(tx).await? {
            let Some(club) = clubs.get(&loading.club) else {
                continue;
            };
            let in_use = loading.retired_at.is_none() && club.retired_at.is_none();
            let theirs = club.details.owner.is_none_or(|owner| owner == athlete);
            order.push(loading.id);
            named.insert(
                loading.id,
                NamedClub {
                    club: club.id,
                    name: loading.name.as_str().to_owned(),
                    loadable: club.details.loadable,
                    usable: in_use && theirs,
                    measure: loading.measure,
                },
            );
        }
        Ok(Self {
            movements,
            clubs: named,
            order,
        })
    }

    pub(super) fn movement_of(&self, id: MovementId) -> Option<&Movement> {
        self.movements.iter().find(|movement| movement.id == id)
    }

    pub(super) fn club_of(&self, id: LoadingId) -> Option<&NamedClub> {
        self.clubs.get(&id)
    }

    /// Whether a club has fasteners to inspect.
    pub(super) fn is_loadable(&self, id: LoadingId) -> bool {
        self.club_of(id).is_some_and(|club| club.loadable)
    }

    /// Whether a club, as loaded, is out of use.
    pub(super) fn is_out(&self, id: LoadingId, out: &OutOfUse) -> bool {
        self.club_of(id)
            .is_some_and(|named| out.of(named.club, id).is_some())
    }

    /// Whether it is one of these.
    pub(super) fn is_of(&self, id: LoadingId, clubs: &HashSet<ClubId>) -> bool {
        self.club_of(id)
            .is_some_and(|named| clubs.contains(&named.club))
    }

    /// A club drawn beside those that this athlete may pick up.
    pub(super) fn picture(&self, id: LoadingId, units: UnitSystem) -> Option<ClubPicture> {
        let usable = self.clubs.values().filter(|club| club.usable);
        let scale = Scale::over(usable.map(|club| &club.measure), units);
        let club = self.clubs.get(&id)?;
        Some(scale.draw(&club.name, &club.measure))
    }

    /// The movements to choose from: those in use, and those that a session at hand has.
    pub(super) fn movements(&self, had: &HashSet<MovementId>) -> Vec<(MovementId, String)> {
        self.movements
            .iter()
            .filter(|movement| movement.retired_at.is_none() || had.contains(&movement.id))
            .map(|movement| (movement.id, movement.details.name.as_str().to_owned()))
            .collect()
    }

    /// The clubs to choose from: those that this athlete may pick up, and those that a session at
    /// hand has.
    pub(super) fn clubs(&self, had: &HashSet<LoadingId>) -> Vec<(LoadingId, String)> {
        self.order
            .iter()
            .filter_map(|id| {
                let club = self.clubs.get(id)?;
                (club.usable || had.contains(id)).then(|| (*id, club.name.clone()))
            })
            .collect()
    }
}

impl Names for Catalogue {
    fn movement(&self, id: MovementId) -> &str {
        self.movement_of(id)
            .map_or("a movement that is gone", |movement| {
                movement.details.name.as_str()
            })
    }

    fn club(&self, id: LoadingId) -> &str {
        self.club_of(id)
            .map_or("a club that is gone", |club| club.name.as_str())
    }
}
