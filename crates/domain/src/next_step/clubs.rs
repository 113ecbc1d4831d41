//! Clubs: which can be picked up, which is a step up or down, which is light enough.

use super::Book;
use super::proposal::more_by;
use crate::club::StepSize;
use crate::id::{LoadingId, MovementId};
use crate::training::{AvailableClub, Hands, NextClub};

impl<'a> Book<'a> {
    pub(super) fn is_usable(&self, loading: LoadingId) -> bool {
        self.history.club(loading).is_some_and(|club| club.usable)
    }

    /// M4: the step from one club up to another; `None` where it is none.
    pub(super) fn step_up(&self, from: LoadingId, to: LoadingId) -> Option<StepSize> {
        self.history.step_up(self.policy, from, to)
    }

    pub(super) fn usable(&self) -> impl Iterator<Item = &'a AvailableClub> {
        self.history.clubs.iter().filter(|club| club.usable)
    }

    /// The smallest step up, or why there is none.
    pub(super) fn next_up(&self, from: LoadingId) -> Result<(LoadingId, StepSize), String> {
        match self.history.next_club(self.policy, from) {
            NextClub::Within(next, size) => Ok((next, size)),
            NextClub::TooFar(next, size) => Err(format!(
                "The next club up, {}, asks {}, over the limit of {:.0} %.",
                self.names.club(next),
                more_by(size),
                self.policy.step_percent
            )),
            NextClub::None => Err(format!(
                "No club in the rack is a step up from {}.",
                self.names.club(from)
            )),
        }
    }

    /// The usable club next below.
    pub(super) fn lighter(&self, than: LoadingId) -> Option<(LoadingId, StepSize)> {
        self.usable()
            .filter_map(|club| Some((club.loading, self.step_up(club.loading, than)?)))
            .min_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction).then(a.0.cmp(&b.0)))
    }

    /// O2: how a restart's club compares: by static moment, by mass where one is unknown.
    pub(super) fn demand(&self, loading: LoadingId, by_mass: bool) -> Option<f64> {
        let mechanics = &self.history.club(loading)?.mechanics;
        if by_mass {
            return Some(mechanics.mass.value().kg());
        }
        Some(mechanics.static_moment?.value().nm())
    }

    pub(super) fn is_no_heavier(&self, club: LoadingId, than: LoadingId) -> bool {
        let by = |by_mass| Some((self.demand(club, by_mass)?, self.demand(than, by_mass)?));
        by(false)
            .or_else(|| by(true))
            .is_some_and(|(club, than)| club <= than * (1.0 + 1e-9))
    }

    /// The clubs worked in a movement with these hands.
    pub(super) fn clubs_worked(&self, movement: MovementId, hands: Hands) -> Vec<LoadingId> {
        self.sessions
            .iter()
            .filter(|worked| (worked.bout.movement, worked.bout.hands) == (movement, hands))
            .map(|worked| worked.bout.loading)
            .collect()
    }

    /// The lightest of some clubs.
    pub(super) fn lightest(&self, clubs: &[LoadingId]) -> Option<LoadingId> {
        clubs.iter().copied().reduce(|lightest, club| {
            if self.is_no_heavier(lightest, club) {
                lightest
            } else {
                club
            }
        })
    }

    /// This club if it is usable, else the usable club nearest below it.
    pub(super) fn no_heavier_than(&self, club: LoadingId) -> Option<LoadingId> {
        if self.is_usable(club) {
            return Some(club);
        }
        self.lighter(club)
            .map(|(lighter, _)| lighter)
            .filter(|lighter| self.is_no_heavier(*lighter, club))
    }

    /// The club to begin a stage with: no heavier than the limit, and no step up from what was last
    /// used in that stage.
    pub(super) fn restart_club(
        &self,
        movement: MovementId,
        hands: Hands,
        limit: LoadingId,
    ) -> Option<LoadingId> {
        let last = self
            .sessions
            .iter()
            .rev()
            .find(|worked| (worked.bout.movement, worked.bout.hands) == (movement, hands))
            .map(|worked| worked.bout.loading);
        let begin = self.no_heavier_than(limit)?;
        match last {
            Some(last) if self.step_up(last, begin).is_some() => self
                .no_heavier_than(last)
                .filter(|club| self.is_no_heavier(*club, limit)),
            _ => Some(begin),
        }
    }
}
