//! The tenth: fingertips.

use std::collections::BTreeSet;

use super::present::{Present, Worked};
use super::proposal::{Proposal, more, says_not_to_add};
use super::{Book, Step};
use crate::id::MovementId;
use crate::rules::Rule;
use crate::training::Hands;

impl<'a> Book<'a> {
    pub(super) fn fingertips(&self, present: &Present<'_>) -> Proposal {
        let needed = self.policy.fingertip_sessions;
        let done = self.fingertip_sessions(present.movement);
        let text = format!("{done} of {needed} fingertip sessions are done.");
        if let Some(why) = self.says_not_to_add(present) {
            return Proposal::new(present, Step::Hold, Rule::V5, why)
                .and(Rule::O3, text)
                .but_all(self.speaks_for_more(present))
                .until(format!(
                    "a session without {}",
                    says_not_to_add(self.policy)
                ));
        }
        if done < needed {
            return Proposal::new(present, Step::Stay, Rule::O3, text)
                .but_all(self.speaks_for_more(present))
                .until(more(needed - done, "fingertip session"));
        }
        let Some(club) = self.restart_club(present.movement, Hands::One, present.loading) else {
            return Proposal::new(present, Step::Stay, Rule::O3, text)
                .and(
                    Rule::O2,
                    "No usable club is light enough to begin with one hand.",
                )
                .until(format!(
                    "a club in the rack that asks no more than {}",
                    self.names.club(present.loading)
                ));
        };
        let start = self.policy.ladder_start_sets;
        Proposal::new(present, Step::OpenOneHand, Rule::O3, text)
            .with(Hands::One, club)
            .and(
                Rule::V1,
                format!(
                    "Begin at {start} sets of {} on each side.",
                    self.policy.ladder_reps_max
                ),
            )
            .but(
                Rule::O3,
                format!("{needed} fingertip sessions are common practice; no source says how many it takes."),
            )
            .but_all(self.speaks_for_less(present))
            .until(format!("before it, {}", says_not_to_add(self.policy)))
    }

    pub(super) fn fingertip_sessions(&self, movement: MovementId) -> usize {
        let here = |worked: &&Worked<'_>| {
            (worked.bout.movement, worked.bout.hands) == (movement, Hands::Fingertip)
        };
        let ids: BTreeSet<_> = self
            .sessions
            .iter()
            .filter(here)
            .map(|it| it.session.id)
            .collect();
        ids.len()
    }
}
