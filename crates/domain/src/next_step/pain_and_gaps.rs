//! The first four: pain, a gap, a club that is gone.

use super::present::{Present, is_new};
use super::proposal::{COACH_DECIDES, Proposal, plural};
use super::{Book, Reason, Step};
use crate::id::MovementId;
use crate::rules::words::day_words;
use crate::rules::{Evidence, Flag, Rule, Severity};
use crate::training::{BlockSpan, Hands};

impl<'a> Book<'a> {
    /// A flag of this rule about the movement, or about all.
    pub(super) fn stands(&self, rule: Rule, movement: MovementId) -> Option<&'a Flag> {
        self.standing.iter().copied().find(|flag| {
            flag.rule == rule && flag.subject.movement.is_none_or(|about| about == movement)
        })
    }

    /// A flag of this rule about the work of the moment: the same movement, hands and club.
    pub(super) fn stands_here(&self, rule: Rule, present: &Present<'_>) -> Option<&'a Flag> {
        self.standing.iter().copied().find(|flag| {
            let subject = &flag.subject;
            flag.rule == rule
                && subject.movement == Some(present.movement)
                && subject.hands.is_none_or(|hands| hands == present.hands)
                && subject
                    .loading
                    .is_none_or(|loading| loading == present.loading)
        })
    }

    pub(super) fn stop(&self, movement: MovementId) -> Option<Reason> {
        let flag = self.standing.iter().find(|flag| {
            flag.severity == Severity::Stop
                && flag.subject.movement.is_none_or(|about| about == movement)
        })?;
        let text = match &flag.evidence {
            Evidence::Pain { score, .. } => format!(
                "Pain {score} of 10{}, on {}: stop, and see a licensed clinician. Planned sessions wait until \
                 a coach closes or quiets this flag.",
                place(flag),
                day_words(flag.since)
            ),
            _ => format!("A stop flag stands since {}.", day_words(flag.since)),
        };
        Some(Reason {
            rule: flag.rule,
            text,
        })
    }

    /// Newest sessions of a movement, one after the other, of which it was said that nothing hurt.
    fn painless_sessions(&self, movement: MovementId) -> usize {
        let mut ids = Vec::new();
        for worked in self.sessions.iter().rev() {
            if worked.bout.movement == movement && ids.last() != Some(&worked.session.id) {
                if worked.session.worst_pain() != Some(0) {
                    break;
                }
                ids.push(worked.session.id);
            }
        }
        ids.len()
    }

    pub(super) fn waits(&self, present: &Present<'_>) -> Option<Proposal> {
        let stop = self.stop(present.movement)?;
        let painless = self.painless_sessions(present.movement);
        let waits = Proposal::new(present, Step::WaitForCoach, stop.rule, stop.text);
        let waits = match painless {
            0 => waits,
            many => {
                let movement = self.names.movement(present.movement);
                let text = format!(
                    "The last {many} session{} of {movement} went without pain.",
                    plural(many)
                );
                waits.but(stop.rule, text)
            }
        };
        Some(waits.until(COACH_DECIDES))
    }

    pub(super) fn returns(&self, present: &Present<'_>) -> Option<Proposal> {
        // Whatever the hands: the stage of the proposal may be older than the last session.
        let newest = self
            .sessions
            .iter()
            .rfind(|worked| worked.bout.movement == present.movement)?;
        let days = (self.today - newest.on()).whole_days();
        if days < i64::from(self.policy.gap_days) {
            return None;
        }
        let sets = self.share_of_sets(present, self.policy.return_share);
        let movement = self.names.movement(present.movement);
        let share = 100.0 * self.policy.return_share;
        let returns = Proposal::new(
            present,
            Step::Return { sets },
            Rule::A1,
            format!("No {movement} for {days} days: come back with {share:.0} % of the sets."),
        )
        .but(
            Rule::A1,
            "The log does not say why: after an illness or an injury, ask first.",
        )
        .until(format!("a session of {movement}"));
        let usable = self.is_usable(present.loading);
        if usable && days < i64::from(self.policy.gap_lighter_days) {
            return Some(returns);
        }
        let club = self.names.club(present.loading);
        let returns = if usable {
            returns
        } else {
            returns.and(Rule::W2, self.is_gone(present.loading))
        };
        let Some((lighter, _)) = self.lighter(present.loading) else {
            let returns = returns.and(Rule::A1, format!("No usable club is lighter than {club}."));
            return Some(if usable {
                returns
            } else {
                Proposal {
                    step: Step::WaitForCoach,
                    ..returns
                }
                .until(format!("{club} back in the rack"))
            });
        };
        let returns = returns.with(present.hands, lighter).and(
            Rule::A1,
            if usable {
                format!("After so long, one club lighter than {club}.")
            } else {
                format!("{} is the next one below.", self.names.club(lighter))
            },
        );
        let start = self.policy.ladder_start_sets;
        Some(if present.hands == Hands::One && sets > start {
            Proposal {
                step: Step::Return { sets: start },
                ..returns
            }
            .and(
                Rule::V4,
                format!("On another club the ladder starts again at {start} sets."),
            )
        } else {
            returns
        })
    }

    /// The club of the moment cannot be picked up any more, and the coach has planned no other.
    pub(super) fn has_no_club(
        &self,
        present: &Present<'_>,
        block: Option<&BlockSpan>,
    ) -> Option<Proposal> {
        let begins = block
            .filter(|_| self.stands(Rule::L4, present.movement).is_none())
            .is_some_and(|block| is_new(present, block) && self.is_usable(block.loading));
        if begins || self.is_usable(present.loading) {
            return None;
        }
        let gone = self.is_gone(present.loading);
        Some(
            match self.lighter(present.loading) {
                Some((lighter, _)) => Proposal::new(present, Step::StepBack, Rule::W2, gone)
                    .with(present.hands, lighter),
                None => Proposal::new(present, Step::WaitForCoach, Rule::W2, gone),
            }
            .until(format!(
                "{} back in the rack",
                self.names.club(present.loading)
            )),
        )
    }

    pub(super) fn sore(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = self.stands(Rule::L4, present.movement)?;
        let (place, since) = (place(flag), flag.since);
        let text = match flag.evidence {
            Evidence::PainUnsaid { score, .. } => {
                format!(
                    "Pain {score} of 10{place} was logged on {since} and changed since: add nothing."
                )
            }
            _ => format!("Pain stays{place} since {since}: add nothing."),
        };
        Some(
            Proposal::new(present, Step::Hold, Rule::L4, text)
                .but_all(self.speaks_for_more(present))
                .until(match self.policy.pain_free_sessions {
                    1 => "a session without pain there".to_owned(),
                    many => format!("{many} sessions running without pain there"),
                })
                .until(COACH_DECIDES),
        )
    }
}

/// " (left elbow)", or nothing where no place was said.
fn place(flag: &Flag) -> String {
    flag.subject
        .place
        .as_ref()
        .map(|place| format!(" ({})", place.as_str()))
        .unwrap_or_default()
}
