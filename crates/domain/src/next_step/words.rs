//! What comes next, as the athlete reads it: what their log says, and why. A proposal is for the coach
//! to decide on; nothing here may read as leave to take a step, so no heavier club is named.

use super::proposal::{COACH_DECIDES, OPENED_EARLY};
use super::{NextStep, Reason, Step};
use crate::rules::words::{day_words, hands_words};
use crate::rules::{Names, Rule};
use crate::text::capitalised;

/// A proposal in words for the athlete.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ForAthlete {
    /// What it is about: movement and hands.
    pub about: String,
    /// What the log says.
    pub says: String,
    /// Why, each with its rule.
    pub reasons: Vec<(Rule, String)>,
    /// What speaks against it.
    pub against: Vec<(Rule, String)>,
    /// What would change it.
    pub would_change: Vec<String>,
    /// What holds until the coach decides.
    pub until_then: &'static str,
}

impl NextStep {
    /// What the athlete reads of this proposal.
    pub fn for_athlete(&self, names: &dyn Names) -> ForAthlete {
        let told = |reasons: &[Reason]| {
            let mut told: Vec<(Rule, String)> = Vec::new();
            for reason in reasons {
                if let Some(text) = self.reason_for_athlete(reason)
                    && told.iter().all(|(_, known)| *known != text)
                {
                    told.push((reason.rule, text));
                }
            }
            told
        };
        let waits = self.step == Step::WaitForCoach;
        ForAthlete {
            about: format!(
                "{}, {}",
                capitalised(names.movement(self.movement)),
                hands_words(self.hands)
            ),
            says: self.says(names),
            reasons: told(&self.reasons),
            against: told(&self.against),
            would_change: self
                .would_change
                .iter()
                .filter(|text| !waits && *text != COACH_DECIDES)
                .cloned()
                .collect(),
            until_then: if waits {
                "Your coach decides. Until then this work waits."
            } else {
                "Your coach decides. Until then do what is planned, and nothing more."
            },
        }
    }

    fn says(&self, names: &dyn Names) -> String {
        let club = self.loading.map(|loading| names.club(loading));
        let with = club.map_or_else(String::new, |club| format!(" with {club}"));
        let from = self.not_before.map_or_else(String::new, |day| {
            format!(", but not before {}", day_words(day))
        });
        let each = |sets: u8| {
            let plural = if sets == 1 { "" } else { "s" };
            format!("{sets} set{plural} on each side{with}")
        };
        match self.step {
            Step::Stay => format!("Your log speaks for going on as planned{with}."),
            Step::AddSets { sets } => format!("Your log speaks for {}{from}.", each(sets)),
            Step::Hold => {
                format!("Your log speaks for the same work{with}, with nothing added for now.")
            }
            Step::LightWeek { sets } => {
                format!("Your log speaks for a lighter week: {}{from}.", each(sets))
            }
            Step::StepUp => {
                "You have done what you set out to do with your club. When to take another, \
                             and which, your coach will look at with you."
                    .to_owned()
            }
            Step::StepBack => {
                format!(
                    "Your log speaks for lighter work for now{with}. That too is part of the way."
                )
            }
            Step::FingertipStage => {
                "Your log speaks for the fingertip stage. When to begin it, and with \
                                     which club, your coach will look at with you."
                    .to_owned()
            }
            Step::OpenOneHand => {
                "Your log speaks for one-hand sets. When to begin them, and with which \
                                  club, your coach will look at with you."
                    .to_owned()
            }
            Step::Return { sets } => format!("An easy way back in: {}.", each(sets)),
            Step::WaitForCoach => "This one waits for your coach.".to_owned(),
        }
    }

    /// The coach's reason in words for the athlete; `None` where it is for the coach alone.
    fn reason_for_athlete(&self, reason: &Reason) -> Option<String> {
        let text = match (reason.rule, self.step) {
            // What a coach wants to tell of their reason, they write as a note.
            (Rule::O1, _) if reason.text.starts_with(OPENED_EARLY) => {
                "Your coach opened one-hand work early."
            }
            // It names the heavier club.
            (Rule::W2, Step::StepUp) => return None,
            // How a step was measured, and how little is published: for who decides.
            (Rule::M4, _) => return None,
            (Rule::W3, _) => "This club came before the log had the sessions for it.",
            (Rule::T5, _) => "Your count has been level lately. That happens to everybody.",
            (Rule::T6, _) => "Your count has been lower lately. Rest is part of training.",
            (Rule::L4, Step::WaitForCoach) if !reason.text.contains("without pain") => {
                "You reported pain. It comes before everything else: stop what hurts, and see a \
                 licensed clinician about it."
            }
            _ => return Some(reason.text.clone()),
        };
        Some(text.to_owned())
    }
}
