//! A step earned, with two hands or with one: up, if the last session allows it and a club is near enough.

use super::present::Present;
use super::proposal::{Proposal, easy_enough, more_by};
use super::{Book, Reason, Step};
use crate::club::{StepBasis, StepSize};
use crate::rules::Rule;

/// Published guidance for load increases is 2 to 10 % (ACSM 2009).
const PUBLISHED_MOST: f64 = 0.10;

impl<'a> Book<'a> {
    /// T4 or V3 stands: up, if the last session allows it and a club is near enough.
    pub(super) fn earned(&self, present: &Present<'_>, rule: Rule) -> Proposal {
        let club = self.names.club(present.loading);
        let running = match self.policy.earned_in_a_row {
            1 => String::new(),
            2 => ", twice running".to_owned(),
            many => format!(", {many} times running"),
        };
        let done = match rule {
            Rule::V3 => {
                format!("The ladder with {club} was done in full on both sides{running}.")
            }
            _ => format!("The goal with {club} was reached on both sides{running}."),
        };
        if let Some(why) = self.was_hard(present) {
            return Proposal::new(present, Step::Hold, rule, why)
                .but(rule, done)
                .until(format!("a session {}", easy_enough(self.policy)));
        }
        match self.next_up(present.loading) {
            Ok((next, size)) => Proposal::new(present, Step::StepUp, rule, done)
                .with(present.hands, next)
                .and(
                    Rule::W2,
                    format!(
                        "{} is the smallest step up in the rack: {}.",
                        self.names.club(next),
                        more_by(size)
                    ),
                )
                .but_all(self.against_a_step(rule, size))
                .but_all(self.speaks_for_less(present))
                .until(format!(
                    "a session before it over effort {} or pain {}",
                    self.policy.earned_effort_at_most, self.policy.earned_pain_at_most
                )),
            Err(no_step) => Proposal::new(present, Step::Stay, rule, done)
                .and(Rule::W1, no_step)
                .until(format!(
                    "a club in the rack that asks at most {:.0} % more than {club}",
                    self.policy.step_percent
                )),
        }
    }

    /// What the step costs, however well it was earned.
    fn against_a_step(&self, rule: Rule, size: StepSize) -> Vec<Reason> {
        let mut reasons = Vec::new();
        if size.fraction > PUBLISHED_MOST {
            let text = "Published guidance for load increases is 2 to 10 % (ACSM 2009), which fixed clubs \
                        cannot reach.";
            reasons.push(Reason::new(Rule::W1, text));
        }
        if size.basis == StepBasis::MassOnly {
            let text = "The step is judged by mass only: measure a balance point to know more.";
            reasons.push(Reason::new(Rule::M4, text));
        }
        let (restart, text) = if rule == Rule::V3 {
            let start = self.policy.ladder_start_sets;
            (
                Rule::V4,
                format!("The ladder starts again at {start} sets."),
            )
        } else {
            let first = self.policy.goal_start_sessions;
            (
                Rule::T4,
                format!(
                    "The count starts lower, and its goal is set anew by the first {first} sessions."
                ),
            )
        };
        reasons.push(Reason::new(restart, text));
        reasons
    }
}
