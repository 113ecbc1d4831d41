//! W · Weight jumps, and M4 where a step could only be judged by mass.
//!
//! A step is judged from the club of the last session in that movement and hands; a change of less
//! than 2 % is none. Flags about a step end together ([`super::steps`]).
//!
//! - **W1** The step is over the limit: 33 %, common practice, the coach's own number. Published
//!   guidance for load increases is 2 to 10 % (Ratamess et al., ACSM position stand, *Med Sci Sports
//!   Exerc* 2009;41:687-708), which fixed clubs cannot reach: hence V4 and T3.
//! - **W2** A usable club with a smaller step stood in the rack. Smaller by at least the 2 % that make
//!   a step. Which clubs are usable is known for today only. Common practice, no source.
//! - **W3** The step was not earned: neither T4 nor V3 ever held on the old club, in that movement and
//!   hands. Common practice, no source.
//! - **W4** The volume was kept across the step: the same condition as V4, whose flag states the rule
//!   as a note, while this one asks the coach to look.
//! - **W5** The restart was heavy: the same condition as O2, likewise.
//! - **M4** The step could only be judged by mass, as a balance point or a grip is not known.

use super::log::Log;
use super::steps::{Step, is_earned_at};
use super::{Episode, Evidence, Flag, Rule, Severity, Subject};
use crate::club::{StepBasis, StepSize, step_size};
use crate::id::LoadingId;

/// M4, W1 to W3.
pub(super) fn episodes(log: &Log, steps: &[Step], earned: &[Episode]) -> Vec<Episode> {
    let mut found = Vec::new();
    for step in steps {
        let smaller = smaller_step(log, step);
        let was_earned = earned.iter().any(|episode| {
            is_earned_at(episode, step.movement, step.hands, step.from)
                && episode.flag.since <= step.on
        });
        let flags = [
            (Rule::M4, step.size.basis == StepBasis::MassOnly),
            (Rule::W1, step.size.is_over(log.policy.step_percent / 100.0)),
            (Rule::W2, smaller.is_some()),
            (Rule::W3, !was_earned),
        ];
        let raised = flags.into_iter().filter(|(_, holds)| *holds);
        found.extend(raised.map(|(rule, _)| Episode {
            flag: Flag {
                rule,
                severity: match rule {
                    Rule::M4 => Severity::Note,
                    _ => Severity::Look,
                },
                subject: Subject {
                    movement: Some(step.movement),
                    hands: Some(step.hands),
                    loading: Some(step.to),
                    seconds: None,
                    place: None,
                },
                since: step.on,
                evidence: Evidence::Step {
                    from: step.from,
                    to: step.to,
                    step: step.size,
                    limit_percent: log.policy.step_percent,
                    smaller: smaller.map(|(club, _)| club),
                    smaller_step: smaller.map(|(_, size)| size),
                },
            },
            until: step.until,
        }));
    }
    found
}

/// W2: the usable club with the smallest step, where it is smaller than the one taken. A club that can
/// only be compared by mass counts only where the step itself was judged so.
fn smaller_step(log: &Log, step: &Step) -> Option<(LoadingId, StepSize)> {
    let from = log.history.club(step.from)?;
    let least = log.policy.step_percent_min / 100.0;
    let by_mass = |size: StepSize| size.basis == StepBasis::MassOnly;
    log.history
        .clubs
        .iter()
        .filter(|club| club.usable && club.loading != step.from && club.loading != step.to)
        .map(|club| (club.loading, step_size(&from.mechanics, &club.mechanics)))
        .filter(|(_, size)| size.fraction >= least && size.fraction + least <= step.size.fraction)
        .filter(|(_, size)| !by_mass(*size) || by_mass(step.size))
        .min_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction).then(a.0.cmp(&b.0)))
}

/// W4 and W5: the same episodes as V4 and O2, for the coach to look at.
pub(super) fn twins(episodes: &[Episode]) -> Vec<Episode> {
    episodes
        .iter()
        .filter_map(|episode| {
            let rule = twin(episode.flag.rule)?;
            let mut twin = episode.clone();
            twin.flag.rule = rule;
            twin.flag.severity = Severity::Look;
            Some(twin)
        })
        .collect()
}

/// The rule that asks the coach to look at what this rule states.
const fn twin(rule: Rule) -> Option<Rule> {
    match rule {
        Rule::V4 => Some(Rule::W4),
        Rule::O2 => Some(Rule::W5),
        _ => None,
    }
}
