//! What the last session says for and against more, and how much is usual.

use super::present::{Present, Worked};
use super::proposal::stage_rule;
use super::{Book, Reason};
use crate::plan::share_of_sets;
use crate::rules::{self, Evidence, Rule};
use crate::training::Hands;

/// The rule by which a stage's step is earned.
const fn earned_rule(hands: Hands) -> Rule {
    match hands {
        Hands::Two => Rule::T4,
        Hands::Fingertip => Rule::O3,
        Hands::One => Rule::V3,
    }
}

/// Sets as a plan counts them: from 1 to 255.
pub(super) fn whole(sets: u16) -> u8 {
    u8::try_from(sets).unwrap_or(u8::MAX).max(1)
}

impl<'a> Book<'a> {
    /// The worst pain that was said of the last session, and of those since that stopped before their first
    /// set; with the words for when.
    fn pain_lately(&self, present: &Present<'_>) -> Option<(u8, &'static str)> {
        let last = present.last.session;
        let said = last.worst_pain();
        let since = self.history.pain_without_sets_since(last, self.today);
        if since > said {
            since.map(|pain| (pain, "before the first set of a session since then"))
        } else {
            said.map(|pain| (pain, "in the last session"))
        }
    }

    /// V5: why the next session does not add.
    pub(super) fn says_not_to_add(&self, present: &Present<'_>) -> Option<String> {
        let last = present.last;
        let pain = self.pain_lately(present);
        let said = pain.map(|(score, _)| score);
        let missed = last.bout.missed_reps();
        let because = rules::says_not_to_add(missed, last.effort(), said, self.policy)?;
        Some(match (because.missed_reps, because.effort, pain) {
            (true, ..) => "A rep was missed in the last session: add nothing.".to_owned(),
            (false, Some(effort), _) => {
                format!("Effort {effort} in the last session: add nothing.")
            }
            (false, None, pain) => {
                let (score, when) = pain?;
                format!("Pain {score} of 10 {when}: add nothing.")
            }
        })
    }

    /// T4, V3: effort or pain of the last session that speak against a step.
    pub(super) fn was_hard(&self, present: &Present<'_>) -> Option<String> {
        let effort = present
            .last
            .effort()
            .filter(|it| *it > self.policy.earned_effort_at_most);
        if let Some(effort) = effort {
            return Some(format!("The last session took effort {effort}."));
        }
        let (pain, when) = self
            .pain_lately(present)
            .filter(|(pain, _)| *pain > self.policy.earned_pain_at_most)?;
        Some(format!("Pain {pain} of 10 {when}."))
    }

    pub(super) fn step_is_earned(&self, present: &Present<'_>) -> String {
        format!(
            "A step is earned with {}.",
            self.names.club(present.loading)
        )
    }

    /// Where a proposal asks for no more: what speaks for going on.
    pub(super) fn speaks_for_more(&self, present: &Present<'_>) -> Vec<Reason> {
        let mut reasons = Vec::new();
        let earned = [Rule::T4, Rule::V3]
            .into_iter()
            .find(|rule| self.stands_here(*rule, present).is_some());
        if let Some(rule) = earned {
            reasons.push(Reason::new(rule, self.step_is_earned(present)));
        }
        let last = present.last;
        let unfinished = last.bout.missed_reps() || !last.is_even();
        if unfinished || self.was_hard(present).is_some() {
            return reasons;
        }
        let felt = match (last.effort(), last.session.worst_pain()) {
            (Some(effort), Some(0)) => format!(", at effort {effort}, without pain"),
            (Some(effort), _) => format!(", at effort {effort}"),
            (None, Some(0)) => ", without pain".to_owned(),
            (None, _) => String::new(),
        };
        let sets = last.bout.sets_each_side();
        let text = format!("The last session was done in full: {sets} sets on each side{felt}.");
        reasons.push(Reason::new(stage_rule(present.hands), text));
        reasons
    }

    /// Where a proposal asks for more: what speaks for waiting.
    pub(super) fn speaks_for_less(&self, present: &Present<'_>) -> Vec<Reason> {
        let mut reasons = Vec::new();
        let last = present.last;
        if last.bout.missed_reps() {
            reasons.push(Reason::new(
                Rule::V5,
                "A rep was missed in the last session.",
            ));
        }
        let most = self.policy.earned_effort_at_most;
        match last.effort() {
            None => reasons.push(Reason::new(
                earned_rule(present.hands),
                "The effort of the last session was not logged.",
            )),
            Some(effort) if effort >= most => reasons.push(Reason::new(
                earned_rule(present.hands),
                format!(
                    "The last session took effort {effort}; a step is earned at {most} or less."
                ),
            )),
            Some(_) => {}
        }
        if let Some((pain, when)) = self.pain_lately(present).filter(|(pain, _)| *pain > 0) {
            let text = format!("Pain {pain} of 10 {when}.");
            reasons.push(Reason::new(Rule::L4, text));
        }
        if !last.is_even() {
            let text = "The sides were not equal in the last session.";
            reasons.push(Reason::new(Rule::B1, text));
        }
        let spike = self.stands(Rule::L2, present.movement);
        if let Some(Evidence::Load { ratio, .. }) = spike.map(|flag| &flag.evidence) {
            let text = format!("The week’s load is {ratio:.1} times that of the weeks before.");
            reasons.push(Reason::new(Rule::L2, text));
        }
        reasons
    }

    /// The sessions with the movement, hands and club of the last one, newest first.
    pub(super) fn alike(&self, present: &Present<'_>) -> impl Iterator<Item = &Worked<'a>> {
        let key = (present.movement, present.hands, present.loading);
        self.sessions.iter().rev().filter(move |worked| {
            (worked.bout.movement, worked.bout.hands, worked.bout.loading) == key
        })
    }

    /// A share of the usual sets with this club, the most of the last four sessions; at least one, and no
    /// more than the last session had.
    pub(super) fn share_of_sets(&self, present: &Present<'_>, share: f64) -> u8 {
        let usual = self.alike(present).take(4).map(Worked::sets).max();
        share_of_sets(whole(usual.unwrap_or(1)), share).min(whole(present.last.sets()))
    }
}
