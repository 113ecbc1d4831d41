//! The sixth: a step or a stage was taken that the rules object to.

use time::Duration;

use super::present::Present;
use super::proposal::{Proposal, easy_enough, lightest_of, more, more_by};
use super::{Book, Step};
use crate::id::LoadingId;
use crate::rules::{Episode, Evidence, Rule, Severity};
use crate::training::Hands;

impl<'a> Book<'a> {
    pub(super) fn goes_back(&self, present: &Present<'_>) -> Option<Proposal> {
        self.behind_the_gate(present)
            .or_else(|| self.light_again(present))
            .or_else(|| self.smaller_step(present))
            .or_else(|| self.begins_again(present))
    }

    /// O1 and O3: a stage too early.
    pub(super) fn behind_the_gate(&self, present: &Present<'_>) -> Option<Proposal> {
        let movement = self.names.movement(present.movement);
        let gate = self
            .stands(Rule::O1, present.movement)
            .filter(|flag| flag.severity > Severity::Note && present.hands != Hands::Two);
        if gate.is_some() {
            let text = format!("One-hand work in {movement} has begun before its gate is open.");
            let two = self.sessions.iter().rev().find(|worked| {
                (worked.bout.movement, worked.bout.hands) == (present.movement, Hands::Two)
            });
            let back = Proposal::new(present, Step::StepBack, Rule::O1, text);
            let back = match two.filter(|worked| self.is_usable(worked.bout.loading)) {
                Some(worked) => back.with(Hands::Two, worked.bout.loading),
                None => Proposal {
                    step: Step::WaitForCoach,
                    ..back
                },
            };
            let gate = self.gate(present.movement);
            return Some(
                back.and(Rule::O1, self.gate_missing(&gate))
                    .but_all(self.speaks_for_more(present))
                    .until("the coach opens the gate early, with a reason"),
            );
        }
        if present.hands != Hands::One {
            return None;
        }
        self.stands(Rule::O3, present.movement)?;
        let needed = self.policy.fingertip_sessions;
        let done = self.fingertip_sessions(present.movement);
        let text = format!("{done} of {needed} fingertip sessions were done before one hand.");
        let back = Proposal::new(present, Step::FingertipStage, Rule::O3, text)
            .but_all(self.speaks_for_more(present));
        // No heavier than the lightest club of before (O2), nor than the one in hand.
        let gate = self.gate(present.movement);
        let limit = self
            .lightest_two_hand(present.movement, &gate)
            .filter(|lightest| !self.is_no_heavier(present.loading, *lightest))
            .unwrap_or(present.loading);
        Some(
            match self.restart_club(present.movement, Hands::Fingertip, limit) {
                Some(light) => back
                    .with(Hands::Fingertip, light)
                    .until(more(needed.saturating_sub(done), "fingertip session")),
                None => self.waits_for_a_club(back, limit),
            },
        )
    }

    /// No club in the rack is light enough to go back with.
    fn waits_for_a_club(&self, back: Proposal, limit: LoadingId) -> Proposal {
        let club = self.names.club(limit);
        Proposal {
            step: Step::WaitForCoach,
            ..back
        }
        .until(format!("a club that asks no more than {club} in the rack"))
    }

    /// O2, W5: the restart was heavier than the lightest finished club.
    pub(super) fn light_again(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = self
            .stands_here(Rule::O2, present)
            .or_else(|| self.stands_here(Rule::W5, present))?;
        let Evidence::Restart {
            lightest,
            finished,
            step,
        } = &flag.evidence
        else {
            return None;
        };
        let text = format!(
            "{} asks {} than {}, the lightest club {}.",
            self.names.club(present.loading),
            more_by(*step),
            self.names.club(*lightest),
            lightest_of(*finished)
        );
        let back = Proposal::new(present, Step::StepBack, Rule::O2, text)
            .but_all(self.speaks_for_more(present));
        Some(match self.no_heavier_than(*lightest) {
            Some(light) => back
                .with(present.hands, light)
                .until(format!("a session with {}", self.names.club(light))),
            None => self.waits_for_a_club(back, *lightest),
        })
    }

    /// W1 to W3: a step too big, past a smaller one, or not earned.
    pub(super) fn smaller_step(&self, present: &Present<'_>) -> Option<Proposal> {
        let [big, skipped, unearned] =
            [Rule::W1, Rule::W2, Rule::W3].map(|rule| self.stands_here(rule, present));
        let flag = big.or(skipped).or(unearned)?;
        let Evidence::Step {
            from,
            to,
            step,
            smaller,
            limit_percent,
            ..
        } = &flag.evidence
        else {
            return None;
        };
        let smaller = smaller
            .filter(|_| unearned.is_none())
            .filter(|club| self.is_usable(*club))
            .filter(|club| {
                let size = self.step_up(*from, *club);
                size.is_some_and(|size| !size.is_over(limit_percent / 100.0))
            });
        let back = smaller.unwrap_or(*from);
        let (from, to) = (self.names.club(*from), self.names.club(*to));
        let text = match flag.rule {
            Rule::W1 => format!(
                "{to} asks {} than {from}, over the limit of {limit_percent:.0} %.",
                more_by(*step)
            ),
            Rule::W2 => format!("From {from} to {to} skipped a smaller step in the rack."),
            _ => format!("The step from {from} to {to} was not earned."),
        };
        if !self.is_usable(back) {
            return Some(
                Proposal::new(present, Step::WaitForCoach, flag.rule, text)
                    .but_all(self.speaks_for_more(present))
                    .until(format!("{} back in the rack", self.names.club(back)))
                    .until("the coach decides about the step"),
            );
        }
        Some(
            Proposal::new(present, Step::StepBack, flag.rule, text)
                .with(present.hands, back)
                .but_all(self.speaks_for_more(present))
                .until(format!(
                    "{} running with {to}, in full, {}",
                    more(self.policy.settled_sessions, "session"),
                    easy_enough(self.policy)
                )),
        )
    }

    /// V1, V2, V4 to V6: a ladder out of bounds.
    pub(super) fn begins_again(&self, present: &Present<'_>) -> Option<Proposal> {
        if present.hands != Hands::One {
            return None;
        }
        let start = self.policy.ladder_start_sets;
        let sets = present.last.sets();
        let kept = [Rule::V4, Rule::W4].map(|rule| self.stands_here(rule, present));
        if kept.iter().any(Option::is_some) && sets > u16::from(start) {
            let text =
                format!("After a step the ladder starts again at {start} sets; {sets} were kept.");
            return Some(
                Proposal::new(present, Step::LightWeek { sets: start }, Rule::V4, text)
                    .but_all(self.speaks_for_more(present))
                    .until(format!("a session of {start} sets")),
            );
        }
        let standing = [Rule::V1, Rule::V2, Rule::V5, Rule::V6]
            .into_iter()
            .find_map(|rule| self.stands_here(rule, present));
        let Some(flag) = standing else {
            return self.rushed(present);
        };
        let (min, max) = (self.policy.ladder_reps_min, self.policy.ladder_reps_max);
        let (text, until) = match (flag.rule, &flag.evidence) {
            (
                Rule::V1 | Rule::V2,
                Evidence::Ladder {
                    reps,
                    allowed_reps: Some(allowed),
                    ..
                },
            ) => (
                format!(
                    "Sets had {reps} reps: a ladder keeps its reps, from {min} to {max}; {allowed} were in \
                     order."
                ),
                format!("a session with sets of {allowed}"),
            ),
            (
                Rule::V1,
                Evidence::Ladder {
                    sets,
                    allowed_sets: Some(allowed),
                    ..
                },
            ) => (
                format!("{sets} sets came too soon; {allowed} were in order. Add nothing."),
                format!(
                    "a session of {allowed} sets or fewer, or {} running in full, {}",
                    more(self.policy.settled_sessions, "session"),
                    easy_enough(self.policy)
                ),
            ),
            (
                _,
                Evidence::Ladder {
                    sets,
                    allowed_sets: Some(allowed),
                    ..
                },
            ) => (
                format!("{sets} sets came too soon; {allowed} were in order. Add nothing."),
                format!("a session of {sets} sets or fewer"),
            ),
            _ => (
                "The ladder moved out of its bounds. Add nothing.".to_owned(),
                "a session that adds nothing".to_owned(),
            ),
        };
        Some(
            Proposal::new(present, Step::Hold, flag.rule, text)
                .but_all(self.speaks_for_more(present))
                .until(until),
        )
    }

    /// V2, V4: sets that came too soon do not earn a step, though they were done in full. Ours: a
    /// week goes by after sets were rushed, four after a ladder did not begin again.
    pub(super) fn rushed(&self, present: &Present<'_>) -> Option<Proposal> {
        let over_on = |episode: &Episode| {
            let days = match episode.flag.rule {
                Rule::V2 => 7,
                Rule::V4 => i64::from(self.policy.left_after_days),
                _ => return None,
            };
            let over_on = episode.flag.since.saturating_add(Duration::days(days));
            (self.today < over_on).then_some(over_on)
        };
        let too_soon = |episode: &Episode| match &episode.flag.evidence {
            Evidence::Ladder {
                sets, allowed_sets, ..
            } => Some((*sets, (*allowed_sets)?)),
            _ => None,
        };
        let (episode, over_on, (sets, allowed)) = self
            .episodes
            .iter()
            .rev()
            .filter(|episode| present.is_about(&episode.flag.subject))
            .filter(|episode| !(self.is_closed)(&episode.flag))
            .find_map(|episode| Some((episode, over_on(episode)?, too_soon(episode)?)))?;
        let text = format!("{sets} sets came too soon; {allowed} were in order. Add nothing.");
        Some(
            Proposal::new(present, Step::Hold, episode.flag.rule, text)
                .but_all(self.speaks_for_more(present))
                .until(format!("nothing added until {over_on}")),
        )
    }
}
