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

/// What is to be done, with which club and when; the reasons may say the same in other numbers.
fn turned_steps(now: Vec<NextStep>, mut then: Vec<NextStep>) -> Vec<StepTurn> {
    let asks = |step: &NextStep| (step.hands, step.step, step.loading, step.not_before);
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

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::next_step::{Reason, Step};
    use crate::rules::{Evidence, Rule, Subject};
    use crate::scenario::{MILL, MONDAY, PULLOVER, club, day, history, of_mass, plus};
    use crate::training::Hands;

    /// A flag about a club, raised so many days after the Monday.
    fn flag(rule: Rule, number: u128, severity: Severity, since: i64) -> Flag {
        Flag {
            rule,
            severity,
            subject: Subject {
                loading: Some(club(number)),
                ..Subject::default()
            },
            since: plus(MONDAY, since),
            evidence: Evidence::Fingertip {
                sessions: 1,
                needed: 4,
            },
        }
    }

    const LOOK: Severity = Severity::Look;
    const STOP: Severity = Severity::Stop;

    #[test]
    fn flags_turn_by_what_they_are_about() {
        let now = vec![
            flag(Rule::W1, 1, LOOK, 0),
            flag(Rule::W1, 2, LOOK, 0),
            flag(Rule::W1, 3, LOOK, 4),
            flag(Rule::W1, 4, LOOK, 1),
            // Of two about one thing, the one that stays is no change.
            flag(Rule::L4, 5, LOOK, 2),
            flag(Rule::L4, 5, LOOK, 9),
        ];
        let then = vec![
            flag(Rule::W2, 4, LOOK, 1),
            flag(Rule::L4, 5, LOOK, 9),
            flag(Rule::W1, 3, LOOK, 6),
            flag(Rule::W1, 2, STOP, 0),
            flag(Rule::W1, 1, LOOK, 0),
        ];
        let changes = |severity, since, to| FlagTurn::Changes {
            severity,
            since: plus(MONDAY, since),
            to,
        };
        assert_eq!(
            turned_flags(now, then),
            [
                changes(LOOK, 0, flag(Rule::W1, 2, STOP, 0)),
                FlagTurn::Disappears(flag(Rule::W1, 4, LOOK, 1)),
                FlagTurn::Appears(flag(Rule::W2, 4, LOOK, 1)),
                FlagTurn::Disappears(flag(Rule::L4, 5, LOOK, 2)),
                changes(LOOK, 4, flag(Rule::W1, 3, LOOK, 6)),
            ]
        );
    }

    fn step(movement: MovementId, hands: Hands, step: Step, number: u128) -> NextStep {
        NextStep {
            movement,
            hands,
            step,
            loading: Some(club(number)),
            not_before: None,
            reasons: Vec::new(),
            against: Vec::new(),
            would_change: Vec::new(),
        }
    }

    #[test]
    fn steps_turn_by_what_they_ask() {
        let kept = step(MILL, Hands::Two, Step::Stay, 1);
        let reworded = NextStep {
            reasons: vec![Reason {
                rule: Rule::T4,
                text: "3 sessions running".to_owned(),
            }],
            would_change: vec!["One more.".to_owned()],
            ..kept.clone()
        };
        assert_eq!(turned_steps(vec![kept.clone()], vec![reworded]), []);
        for other in [
            step(MILL, Hands::One, Step::Stay, 1),
            step(MILL, Hands::Two, Step::Hold, 1),
            step(MILL, Hands::Two, Step::Stay, 2),
            NextStep {
                not_before: Some(MONDAY),
                ..kept.clone()
            },
        ] {
            let turned = StepTurn {
                movement: MILL,
                from: Some(kept.clone()),
                to: Some(other.clone()),
            };
            assert_eq!(turned_steps(vec![kept.clone()], vec![other]), [turned]);
        }
        let pullover = step(PULLOVER, Hands::Two, Step::Stay, 1);
        let third = MovementId(Uuid::from_u128(0xA3));
        let same = step(third, Hands::Two, Step::Hold, 3);
        assert_eq!(
            turned_steps(
                vec![pullover.clone(), same.clone()],
                vec![same, kept.clone()]
            ),
            [
                StepTurn {
                    movement: MILL,
                    from: None,
                    to: Some(kept),
                },
                StepTurn {
                    movement: PULLOVER,
                    from: Some(pullover),
                    to: None,
                },
            ]
        );
    }

    struct Names;

    impl rules::Names for Names {
        fn movement(&self, _: MovementId) -> &str {
            "mill"
        }

        fn club(&self, _: crate::id::LoadingId) -> &str {
            "a club"
        }
    }

    /// From 6 kg to 9.6 kg at the same balance is a step of 60 %; pain 3 once is no flag as shipped.
    fn effect(now: &Policy, then: &Policy, closed: bool) -> Effect {
        let swung = |on, number| {
            let work = (MILL, Hands::Two, club(number));
            day(plus(MONDAY, on)).sets(work, 30, &[(12, 12); 5])
        };
        let days = vec![swung(0, 1), swung(3, 1), swung(7, 2).pain(3, "left elbow")];
        let clubs = vec![of_mass(1, 6.0), of_mass(2, 9.6)];
        Effect::of(
            &history(days, clubs),
            [now, then],
            &|_| closed,
            plus(MONDAY, 8),
            &Names,
        )
    }

    #[test]
    fn an_effect_is_what_the_rules_say_under_both() {
        let shipped = Policy::default();
        assert!(effect(&shipped, &shipped, false).is_none());
        let wide = Policy {
            step_percent: 60.5,
            ..Policy::default()
        };
        let turned = |now, then| -> Vec<(bool, Rule)> {
            effect(now, then, false)
                .flags
                .iter()
                .map(|turn| (matches!(turn, FlagTurn::Appears(_)), turn.flag().rule))
                .collect()
        };
        assert_eq!(turned(&shipped, &wide), [(false, Rule::W1)]);
        assert_eq!(turned(&wide, &shipped), [(true, Rule::W1)]);

        let careful = Policy {
            pain_stop: 3,
            ..Policy::default()
        };
        assert_eq!(turned(&shipped, &careful), [(true, Rule::L4)]);
        let waits = |closed| {
            let steps = effect(&shipped, &careful, closed).steps;
            steps.iter().any(|turn| {
                turn.to
                    .as_ref()
                    .is_some_and(|to| to.step == Step::WaitForCoach)
            })
        };
        assert!(waits(false));
        assert!(!waits(true), "a closed flag lets the work go on");
    }

    #[test]
    fn a_step_alone_is_an_effect() {
        let flags = vec![FlagTurn::Appears(flag(Rule::W1, 1, LOOK, 0))];
        let steps = turned_steps(vec![step(MILL, Hands::Two, Step::Stay, 1)], Vec::new());
        assert!(Effect::default().is_none());
        for effect in [
            Effect {
                flags,
                steps: Vec::new(),
            },
            Effect {
                flags: Vec::new(),
                steps,
            },
        ] {
            assert!(!effect.is_none());
        }
    }
}
