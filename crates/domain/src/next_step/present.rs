//! The work that a proposal goes on from: what was done last, and what the coach has planned.

use time::Date;

use super::proposal::{COACH_DECIDES, Proposal, lightest_of, more_by, stage_rule};
use super::{Book, Reason, Step};
use crate::id::{LoadingId, MovementId};
use crate::rules::{Rule, Subject};
use crate::training::{BlockSpan, Bout, Hands, Session};

/// One bout of one session.
#[derive(Debug)]
pub(super) struct Worked<'a> {
    pub(super) session: &'a Session,
    pub(super) bout: Bout,
}

impl Worked<'_> {
    pub(super) const fn on(&self) -> Date {
        self.session.on
    }

    pub(super) fn effort(&self) -> Option<f64> {
        self.session.effort.map(|effort| effort.rating())
    }

    /// Sets on the side that did more.
    pub(super) fn sets(&self) -> u16 {
        self.bout.left.sets.max(self.bout.right.sets)
    }

    pub(super) fn is_even(&self) -> bool {
        self.bout.left.reps == self.bout.right.reps
    }
}

/// The work that a proposal goes on from: what was done last in a movement, at its furthest stage.
#[derive(Debug, Clone, Copy)]
pub(super) struct Present<'a> {
    pub(super) movement: MovementId,
    pub(super) hands: Hands,
    pub(super) loading: LoadingId,
    pub(super) last: &'a Worked<'a>,
}

impl Present<'_> {
    /// Whether a flag is about this very work: the same movement, hands and club.
    pub(super) fn is_about(&self, subject: &Subject) -> bool {
        (subject.movement, subject.hands, subject.loading)
            == (Some(self.movement), Some(self.hands), Some(self.loading))
    }
}

/// Whether a block asks for another club or way of holding it than was done last, and was not begun.
pub(super) fn is_new(present: &Present<'_>, block: &BlockSpan) -> bool {
    (present.hands, present.loading) != (block.hands, block.loading)
        && present.last.on() < block.from
}

impl<'a> Book<'a> {
    pub(super) fn running_blocks(&self) -> impl Iterator<Item = &'a BlockSpan> {
        let today = self.today;
        let blocks = self.history.blocks.iter().flatten();
        blocks.filter(move |block| (block.from..=block.until).contains(&today))
    }

    /// What was done last: at the stage of the running block if that was begun, else at the furthest
    /// stage of the last weeks.
    pub(super) fn present(
        &self,
        movement: MovementId,
        block: Option<&BlockSpan>,
    ) -> Option<Present<'_>> {
        let of = |hands| {
            self.sessions
                .iter()
                .rev()
                .find(|worked| (worked.bout.movement, worked.bout.hands) == (movement, hands))
        };
        let newest = Hands::ALL
            .into_iter()
            .filter_map(of)
            .map(|worked| worked.on())
            .max()?;
        let lately = |worked: &&Worked<'_>| {
            (newest - worked.on()).whole_days() < i64::from(self.policy.gap_days)
        };
        let planned = block.and_then(|block| of(block.hands)).filter(lately);
        let last = planned.or_else(|| Hands::ALL.into_iter().rev().filter_map(of).find(lately))?;
        // The club that asks most of that session, and of its bouts the one with the most sets.
        let mut bouts = self.sessions.iter().filter(|worked| {
            worked.session.id == last.session.id
                && (worked.bout.movement, worked.bout.hands) == (movement, last.bout.hands)
        });
        let first = bouts.next()?;
        let last = bouts.fold(first, |kept, worked| {
            let same = worked.bout.loading == kept.bout.loading;
            let heavier = self
                .step_up(worked.bout.loading, kept.bout.loading)
                .is_none();
            if (same && worked.sets() > kept.sets()) || (!same && heavier) {
                worked
            } else {
                kept
            }
        });
        Some(Present {
            movement,
            hands: last.bout.hands,
            loading: last.bout.loading,
            last,
        })
    }

    /// A block of which nothing was done yet, in a movement that was never trained.
    pub(super) fn begin(&self, block: &BlockSpan) -> Proposal {
        let movement = self.names.movement(block.movement);
        let begins =
            |step, rule, text| Proposal::with_club(block.hands, block.loading, step, rule, text);
        if let Some(stop) = self.stop(block.movement) {
            return begins(Step::WaitForCoach, stop.rule, stop.text).until(COACH_DECIDES);
        }
        if !self.is_usable(block.loading) {
            let gone = self.is_gone(block.loading);
            return begins(Step::WaitForCoach, Rule::W2, gone).until(self.back_in_the_rack(block));
        }
        let text = format!("No {movement} was logged yet: begin the block as planned.");
        begins(Step::Stay, stage_rule(block.hands), text)
            .but_all(self.against_the_stage(block))
            .until(format!("the first session of {movement}"))
    }

    /// The running block asks for another club or stage than was done last: the coach has decided.
    pub(super) fn begins_block(
        &self,
        present: &Present<'_>,
        block: Option<&BlockSpan>,
    ) -> Option<Proposal> {
        let block = block.filter(|block| is_new(present, block))?;
        let text = format!(
            "The block with {} has begun, and nothing of it was logged yet.",
            self.names.club(block.loading)
        );
        let begins = Proposal::new(present, Step::Stay, stage_rule(block.hands), text)
            .with(block.hands, block.loading);
        if !self.is_usable(block.loading) {
            let waits = Proposal {
                step: Step::WaitForCoach,
                ..begins
            };
            return Some(
                waits
                    .and(Rule::W2, self.is_gone(block.loading))
                    .until(self.back_in_the_rack(block)),
            );
        }
        let against = if present.hands == block.hands {
            self.against_the_step(present, block)
        } else {
            self.against_the_stage(block)
        };
        Some(
            begins
                .but_all(against)
                .but_all(self.speaks_for_less(present))
                .until("its first session"),
        )
    }

    pub(super) fn is_gone(&self, loading: LoadingId) -> String {
        format!("{} is not in the rack.", self.names.club(loading))
    }

    fn back_in_the_rack(&self, block: &BlockSpan) -> String {
        let club = self.names.club(block.loading);
        format!("{club} back in the rack, or another club in the block")
    }

    /// O1 to O3: what the rules hold against the stage that a block begins.
    fn against_the_stage(&self, block: &BlockSpan) -> Vec<Reason> {
        let (movement, hands) = (block.movement, block.hands);
        let mut reasons = Vec::new();
        if hands == Hands::Two {
            return reasons;
        }
        let gate = self.gate(movement);
        if !gate.is_open(self.policy) && gate.opened_early.is_none() {
            let missing = self.gate_missing(&gate);
            let text = format!("The gate to one-hand work is not open: {missing}");
            reasons.push(Reason::new(Rule::O1, text));
        }
        let heavier = self
            .lightest_two_hand(movement, &gate)
            .filter(|lightest| !self.is_no_heavier(block.loading, *lightest))
            .filter(|_| self.clubs_worked(movement, hands).is_empty());
        if let Some(lightest) = heavier {
            let text = format!(
                "{} asks more than {}, the lightest club {}.",
                self.names.club(block.loading),
                self.names.club(lightest),
                lightest_of(!gate.finished.is_empty())
            );
            reasons.push(Reason::new(Rule::O2, text));
        }
        let (done, needed) = (
            self.fingertip_sessions(movement),
            self.policy.fingertip_sessions,
        );
        if hands == Hands::One && done < needed {
            let text = format!("{done} of {needed} fingertip sessions are done.");
            reasons.push(Reason::new(Rule::O3, text));
        }
        reasons
    }

    /// W1 to W3: what the rules hold against the step that a block takes.
    fn against_the_step(&self, present: &Present<'_>, block: &BlockSpan) -> Vec<Reason> {
        let Some(size) = self.step_up(present.loading, block.loading) else {
            return Vec::new();
        };
        let (from, to) = (
            self.names.club(present.loading),
            self.names.club(block.loading),
        );
        let limit = self.policy.step_percent;
        let too_big = size.is_over(limit / 100.0).then(|| {
            let text = format!(
                "{to} asks {} than {from}, over the limit of {limit:.0} %.",
                more_by(size)
            );
            Reason::new(Rule::W1, text)
        });
        let skipped = match self.next_up(present.loading) {
            Ok((next, smaller)) if smaller.fraction < size.fraction => {
                let next = self.names.club(next);
                let text = format!("{next} is a smaller step: {}.", more_by(smaller));
                Some(Reason::new(Rule::W2, text))
            }
            _ => None,
        };
        let earned = [Rule::T4, Rule::V3].map(|rule| self.stands_here(rule, present));
        let unearned = earned.iter().all(Option::is_none).then(|| {
            let text = format!("The step from {from} to {to} is not earned yet.");
            Reason::new(Rule::W3, text)
        });
        too_big.into_iter().chain(skipped).chain(unearned).collect()
    }
}
