//! What another policy would change for an athlete, on a day: told before it is saved.

use time::Date;

use super::Policy;
use crate::id::MovementId;
use crate::next_step::{self, NextStep};
use crate::rules::{self, Flag, Names, Severity};
use crate::training::History;

/// A standing flag that another policy turns.
#[derive(Debug, Clone, PartialEq)]
pub enum FlagTurn {
    /// It would stand.
    Appears(Flag),
    /// It would stand no more.
    Disappears(Flag),
    /// It would stand with another severity, or since another day.
    Changes {
        /// Its severity now.
        severity: Severity,
        /// Since when it stands now.
        since: Date,
        /// As it would stand.
        to: Flag,
    },
}

/// A next step that another policy turns.
#[derive(Debug, Clone, PartialEq)]
pub struct StepTurn {
    /// The movement.
    pub movement: MovementId,
    /// As it is proposed now.
    pub from: Option<NextStep>,
    /// As it would be proposed.
    pub to: Option<NextStep>,
}

/// What changes for an athlete.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Effect {
    /// Flags, in order of day, rule and subject.
    pub flags: Vec<FlagTurn>,
    /// Next steps, in order of movement.
    pub steps: Vec<StepTurn>,
}

impl Effect {
    /// Whether nothing changes.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.flags.is_empty() && self.steps.is_empty()
    }

    /// Works out an athlete's flags and next steps under both policies. `is_closed` says which flags a
    /// coach has closed or quieted, as in [`next_step::propose`].
    #[must_use]
    pub fn of(
        history: &History,
        [now, then]: [&Policy; 2],
        is_closed: &dyn Fn(&Flag) -> bool,
        today: Date,
        names: &dyn Names,
    ) -> Self {
        let [(flags_now, steps_now), (flags_then, steps_then)] = [now, then].map(|policy| {
            let episodes = rules::episodes(history, policy, today);
            let steps = next_step::propose(history, policy, &episodes, is_closed, today, names);
            let standing: Vec<Flag> = rules::standing(&episodes, today)
                .into_iter()
                .cloned()
                .collect();
            (standing, steps)
        });
        Self {
            flags: turned_flags(flags_now, flags_then),
            steps: turned_steps(steps_now, steps_then),
        }
    }
}

/// Two flags of one rule about one thing are the same flag; the nearest day counts where there are
/// several.
fn turned_flags(now: Vec<Flag>, mut then: Vec<Flag>) -> Vec<FlagTurn> {
    let same = |a: &Flag, b: &Flag| a.rule == b.rule && a.subject == b.subject;
    let mut turns = Vec::new();
    let mut moved = Vec::new();
    for flag in now {
        let as_before = |other: &Flag| same(&flag, other) && flag.since == other.since;
        match then.iter().position(as_before) {
            Some(at) => {
                let to = then.remove(at);
                if to.severity != flag.severity {
                    turns.push(FlagTurn::changes(&flag, to));
                }
            }
            None => moved.push(flag),
        }
    }
    for flag in moved {
        match then.iter().position(|other| same(&flag, other)) {
            Some(at) => turns.push(FlagTurn::changes(&flag, then.remove(at))),
            None => turns.push(FlagTurn::Disappears(flag)),
        }
    }
    turns.extend(then.into_iter().map(FlagTurn::Appears));
    turns.sort_by_cached_key(|turn| {
        let flag = turn.flag();
        (flag.since, flag.rule, flag.subject.clone())
    });
    turns
}

impl FlagTurn {
    const fn changes(from: &Flag, to: Flag) -> Self {
        Self::Changes {
            severity: from.severity,
            since: from.since,
            to,
        }
    }

    /// The flag as it would stand, or as it stood.
    #[must_use]
    pub const fn flag(&self) -> &Flag {
        match self {
            Self::Appears(flag) | Self::Disappears(flag) | Self::Changes { to: flag, .. } => flag,
        }
    }
}

/// What is to be done, with which club; the reasons may say the same in other numbers.
fn turned_steps(now: Vec<NextStep>, mut then: Vec<NextStep>) -> Vec<StepTurn> {
    let asks = |step: &NextStep| (step.hands, step.step, step.loading);
    let mut turns: Vec<StepTurn> = Vec::new();
    for from in now {
        let movement = from.movement;
        let to = then
            .iter()
            .position(|step| step.movement == movement)
            .map(|at| then.remove(at));
        if to.as_ref().map(asks) != Some(asks(&from)) {
            turns.push(StepTurn {
                movement,
                from: Some(from),
                to,
            });
        }
    }
    turns.extend(then.into_iter().map(|to| StepTurn {
        movement: to.movement,
        from: None,
        to: Some(to),
    }));
    turns.sort_by_key(|turn| turn.movement);
    turns
}
