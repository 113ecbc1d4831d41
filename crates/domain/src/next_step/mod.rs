//! What the rules propose for an athlete's coming week, and why. The coach decides.
//!
//! One proposal a movement, from the first of these that applies:
//!
//! 1. a stop flag stands: wait for the coach (L4);
//! 2. nothing of it was logged for 14 days: return with 60 % of the sets, from 28 days on with one club
//!    lighter (A1);
//! 3. pain stays at one place: hold (L4);
//! 4. a step or a stage was taken that the rules object to: step back to what was earned (O1 to O3, W1
//!    to W5), begin the ladder again at 5 sets (V4), or hold (V1, V2, V5, V6), for a week or four
//!    also after sets that came too soon were done in full (V2, V4);
//! 5. a side is favoured: hold (B2);
//! 6. effort climbs, or density falls or has stopped climbing: a light week; if a light week has not
//!    helped, hold until the coach closes the flag (L3, T6, T5);
//! 7. two hands: the fingertip stage where the gate is open (O1), else a step up where one was earned
//!    (T4), else the same work until the count is there (T1);
//! 8. fingertips: one hand at 5 sets after four sessions (O3, V1);
//! 9. one hand: a step up where one was earned (V3), else more sets, one a week (V2), but not after a
//!    session that said not to (V5) nor in every fourth week (V6).
//!
//! A step up goes to the usable club with the smallest step, and only if that is within the limit
//! (W1, W2). Where every step in the rack is too big, the two-hand count goes on climbing, and a
//! one-hand ladder goes on to its next target.
//!
//! A ladder's target is the running block's; without one it is the first of the policy's two targets,
//! 10, at which a step is earned; 20 is for racks whose next club is too far. All of this order is
//! common practice without a published source.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use crate::club::{StepBasis, StepSize};
use crate::id::{LoadingId, MovementId};
use crate::plan::{Scheme, SetLadder};
use crate::policy::Policy;
use crate::rules::{self, Episode, Evidence, Flag, Names, Rule, Severity};
use crate::training::{AvailableClub, BlockSpan, Bout, Hands, History, NextClub, Session};

/// The kinds of proposal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Go on as planned.
    Stay,
    /// Add sets, up to this many on each side.
    AddSets {
        /// Sets on each side.
        sets: u8,
    },
    /// Same work, nothing added.
    Hold,
    /// A week of fewer sets.
    LightWeek {
        /// Sets on each side.
        sets: u8,
    },
    /// Step to a club with a greater lever demand.
    StepUp,
    /// Step back to a lighter club.
    StepBack,
    /// Begin the fingertip stage.
    FingertipStage,
    /// Begin free one-hand work.
    OpenOneHand,
    /// Come back after a gap with fewer sets.
    Return {
        /// Sets on each side.
        sets: u8,
    },
    /// Wait until the coach decides.
    WaitForCoach,
}

/// One reason for or against, tied to the rule it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// The rule.
    pub rule: Rule,
    /// In plain words.
    pub text: String,
}

/// A proposal for one movement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextStep {
    /// Movement.
    pub movement: MovementId,
    /// Hands of the proposed work.
    pub hands: Hands,
    /// What to do.
    pub step: Step,
    /// The club of the proposed work.
    pub loading: Option<LoadingId>,
    /// Why.
    pub reasons: Vec<Reason>,
    /// What would change the answer, in plain words.
    pub would_change: Vec<String>,
}

/// What the rules propose for each movement that the athlete has trained or has a running block for,
/// in order of movement. `episodes` are those of [`rules::episodes`] for the same day; `is_closed` says
/// which flags the coach has closed or quieted, so that nothing waits for them any more.
pub fn propose(
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
    names: &dyn Names,
) -> Vec<NextStep> {
    let mut standing = rules::standing(episodes, today);
    standing.retain(|flag| !is_closed(flag));
    let sessions: Vec<Worked> = history
        .sessions_until(today)
        .iter()
        .flat_map(|session| {
            let worked = move |bout| Worked { session, bout };
            session.bouts().into_iter().map(worked)
        })
        .collect();
    let book = Book {
        history,
        policy,
        episodes,
        standing,
        sessions,
        today,
        names,
    };
    let trained = book.sessions.iter().map(|worked| worked.bout.movement);
    let planned = book.running_blocks().map(|block| block.movement);
    let movements: BTreeSet<MovementId> = trained.chain(planned).collect();
    movements
        .into_iter()
        .filter_map(|movement| book.propose(movement))
        .collect()
}

/// One bout of one session.
#[derive(Debug)]
struct Worked<'a> {
    session: &'a Session,
    bout: Bout,
}

impl Worked<'_> {
    const fn on(&self) -> Date {
        self.session.on
    }

    fn effort(&self) -> Option<f64> {
        self.session.effort.map(|effort| effort.rating())
    }

    /// Sets on the side that did more.
    fn sets(&self) -> u16 {
        self.bout.left.sets.max(self.bout.right.sets)
    }

    fn is_even(&self) -> bool {
        self.bout.left.reps == self.bout.right.reps
    }
}

/// Everything that a proposal is made from.
struct Book<'a> {
    history: &'a History,
    policy: &'a Policy,
    episodes: &'a [Episode],
    /// The flags that stand and that the coach has not closed.
    standing: Vec<&'a Flag>,
    sessions: Vec<Worked<'a>>,
    today: Date,
    names: &'a dyn Names,
}

/// The work that a proposal goes on from: what was done last in a movement, at its furthest stage.
#[derive(Debug, Clone, Copy)]
struct Present<'a> {
    movement: MovementId,
    hands: Hands,
    loading: LoadingId,
    last: &'a Worked<'a>,
}

/// A proposal in the making.
struct Proposal {
    hands: Hands,
    step: Step,
    loading: Option<LoadingId>,
    reasons: Vec<Reason>,
    would_change: Vec<String>,
}

impl Proposal {
    fn new(present: &Present<'_>, step: Step, rule: Rule, because: impl Into<String>) -> Self {
        Self {
            hands: present.hands,
            step,
            loading: Some(present.loading),
            reasons: Vec::new(),
            would_change: Vec::new(),
        }
        .and(rule, because)
    }

    fn with(mut self, hands: Hands, loading: LoadingId) -> Self {
        (self.hands, self.loading) = (hands, Some(loading));
        self
    }

    fn and(mut self, rule: Rule, because: impl Into<String>) -> Self {
        let text = because.into();
        self.reasons.push(Reason { rule, text });
        self
    }

    fn until(mut self, what: impl Into<String>) -> Self {
        self.would_change.push(what.into());
        self
    }
}

/// The rule that says when a stage's work changes.
const fn stage_rule(hands: Hands) -> Rule {
    match hands {
        Hands::Two => Rule::T4,
        Hands::Fingertip => Rule::O3,
        Hands::One => Rule::V1,
    }
}

/// What releases work that a flag holds back: to have seen it does not.
const COACH_DECIDES: &str = "a coach closes or quiets the flag";

/// "1 more session", "3 more sessions".
fn more(count: usize, what: &str) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} more {what}{ending}")
}

/// "25 % more by static moment".
fn more_by(step: StepSize) -> String {
    format!("{:.0} % more {}", 100.0 * step.fraction, step.basis.words())
}

impl<'a> Book<'a> {
    fn propose(&self, movement: MovementId) -> Option<NextStep> {
        let block = self
            .running_blocks()
            .filter(|block| block.movement == movement)
            .max_by_key(|block| (block.from, block.block));
        let proposal = match (self.present(movement, block), block) {
            (Some(present), block) => self.go_on(&present, block),
            (None, Some(block)) => self.begin(block),
            (None, None) => return None,
        };
        Some(NextStep {
            movement,
            hands: proposal.hands,
            step: proposal.step,
            loading: proposal.loading,
            reasons: proposal.reasons,
            would_change: proposal.would_change,
        })
    }

    fn running_blocks(&self) -> impl Iterator<Item = &'a BlockSpan> {
        let today = self.today;
        let blocks = self.history.blocks.iter().flatten();
        blocks.filter(move |block| (block.from..=block.until).contains(&today))
    }

    /// What was done last: at the stage of the running block if that was begun, else at the furthest
    /// stage of the last weeks.
    fn present(&self, movement: MovementId, block: Option<&BlockSpan>) -> Option<Present<'_>> {
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
    fn begin(&self, block: &BlockSpan) -> Proposal {
        let movement = self.names.movement(block.movement);
        if let Some(stop) = self.stop(block.movement) {
            return Proposal {
                hands: block.hands,
                step: Step::WaitForCoach,
                loading: Some(block.loading),
                reasons: vec![stop],
                would_change: vec![COACH_DECIDES.to_owned()],
            };
        }
        Proposal {
            hands: block.hands,
            step: Step::Stay,
            loading: Some(block.loading),
            reasons: vec![Reason {
                rule: stage_rule(block.hands),
                text: format!("No {movement} was logged yet: begin the block as planned."),
            }],
            would_change: vec![format!("the first sessions of {movement}")],
        }
    }

    fn go_on(&self, present: &Present<'_>, block: Option<&BlockSpan>) -> Proposal {
        self.waits(present)
            .or_else(|| self.returns(present))
            .or_else(|| self.has_no_club(present))
            .or_else(|| self.sore(present))
            .or_else(|| self.begins_block(present, block))
            .or_else(|| self.goes_back(present))
            .or_else(|| self.is_uneven(present))
            .or_else(|| self.is_tired(present))
            .unwrap_or_else(|| match present.hands {
                Hands::Two => self.two_hands(present),
                Hands::Fingertip => self.fingertips(present),
                Hands::One => self.one_hand(present, block),
            })
    }

    // ---- 1 to 3: pain and gaps

    /// A flag of this rule about the movement, or about all.
    fn stands(&self, rule: Rule, movement: MovementId) -> Option<&'a Flag> {
        self.standing.iter().copied().find(|flag| {
            flag.rule == rule && flag.subject.movement.is_none_or(|about| about == movement)
        })
    }

    /// A flag of this rule about the work of the moment: the same movement, hands and club.
    fn stands_here(&self, rule: Rule, present: &Present<'_>) -> Option<&'a Flag> {
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

    fn stop(&self, movement: MovementId) -> Option<Reason> {
        let flag = self.standing.iter().find(|flag| {
            flag.severity == Severity::Stop
                && flag.subject.movement.is_none_or(|about| about == movement)
        })?;
        let text = match &flag.evidence {
            Evidence::Pain { score, .. } => format!(
                "Pain {score} of 10{}, on {}: stop, and see a licensed clinician. Planned sessions wait until \
                 a coach closes or quiets this flag.",
                place(flag),
                flag.since
            ),
            _ => format!("A stop flag stands since {}.", flag.since),
        };
        Some(Reason {
            rule: flag.rule,
            text,
        })
    }

    fn waits(&self, present: &Present<'_>) -> Option<Proposal> {
        let stop = self.stop(present.movement)?;
        Some(Proposal::new(present, Step::WaitForCoach, stop.rule, stop.text).until(COACH_DECIDES))
    }

    fn returns(&self, present: &Present<'_>) -> Option<Proposal> {
        let days = (self.today - present.last.on()).whole_days();
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
        .until(format!("a session of {movement}"));
        if days < i64::from(self.policy.gap_lighter_days) && self.is_usable(present.loading) {
            return Some(returns);
        }
        let club = self.names.club(present.loading);
        let Some((lighter, _)) = self.lighter(present.loading) else {
            let none = format!("No usable club is lighter than {club}.");
            return Some(returns.and(Rule::A1, none));
        };
        // On another club a ladder starts again (V4).
        let most = match present.hands {
            Hands::One => self.policy.ladder_start_sets,
            Hands::Two | Hands::Fingertip => sets,
        };
        let returns = Proposal {
            step: Step::Return {
                sets: sets.min(most),
            },
            ..returns
        };
        Some(returns.with(present.hands, lighter).and(
            Rule::A1,
            format!("After so long, one club lighter than {club}."),
        ))
    }

    /// The club of the moment cannot be picked up any more.
    fn has_no_club(&self, present: &Present<'_>) -> Option<Proposal> {
        if self.is_usable(present.loading) {
            return None;
        }
        let gone = format!("{} is not in the rack.", self.names.club(present.loading));
        Some(
            match self.lighter(present.loading) {
                Some((lighter, _)) => Proposal::new(present, Step::StepBack, Rule::W2, gone)
                    .with(present.hands, lighter),
                None => Proposal::new(present, Step::WaitForCoach, Rule::W2, gone),
            }
            .until("that club, or one near it, in the rack"),
        )
    }

    fn sore(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = self.stands(Rule::L4, present.movement)?;
        let text = format!(
            "Pain stays{} since {}: add nothing.",
            place(flag),
            flag.since
        );
        Some(
            Proposal::new(present, Step::Hold, Rule::L4, text)
                .until(match self.policy.pain_free_sessions {
                    1 => "a session without pain there".to_owned(),
                    many => format!("{many} sessions running without pain there"),
                })
                .until(COACH_DECIDES),
        )
    }

    // ---- 4: what the rules object to

    /// The running block asks for another club or stage than was done last: the coach has decided.
    fn begins_block(&self, present: &Present<'_>, block: Option<&BlockSpan>) -> Option<Proposal> {
        let block = block?;
        let begun = (present.hands, present.loading) == (block.hands, block.loading)
            || present.last.on() >= block.from;
        (!begun && self.is_usable(block.loading)).then(|| {
            let text = format!(
                "The block with {} has begun, and nothing of it was logged yet.",
                self.names.club(block.loading)
            );
            Proposal::new(present, Step::Stay, stage_rule(block.hands), text)
                .with(block.hands, block.loading)
                .until("its first session")
        })
    }

    fn goes_back(&self, present: &Present<'_>) -> Option<Proposal> {
        self.behind_the_gate(present)
            .or_else(|| self.light_again(present))
            .or_else(|| self.smaller_step(present))
            .or_else(|| self.begins_again(present))
    }

    /// O1 and O3: a stage too early.
    fn behind_the_gate(&self, present: &Present<'_>) -> Option<Proposal> {
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
            return Some(
                back.and(Rule::O1, self.gate_missing(present.movement))
                    .until("the coach opens the gate early, with a reason"),
            );
        }
        if present.hands != Hands::One {
            return None;
        }
        self.stands(Rule::O3, present.movement).map(|_| {
            let needed = self.policy.fingertip_sessions;
            let done = self.fingertip_sessions(present.movement);
            let text = format!("{done} of {needed} fingertip sessions were done before one hand.");
            Proposal::new(present, Step::FingertipStage, Rule::O3, text)
                .with(Hands::Fingertip, present.loading)
                .until(more(needed.saturating_sub(done), "fingertip session"))
        })
    }

    /// O1: what the gate still waits for.
    fn gate_missing(&self, movement: MovementId) -> String {
        let policy = self.policy;
        let gate = rules::gate(self.history, policy, self.episodes, movement, self.today);
        format!(
            "{} of {} two-hand clubs finished, {} of {} months, {:.1} of {:.1} sessions a week.",
            gate.finished.len(),
            policy.opening_clubs,
            gate.months,
            policy.opening_months,
            gate.sessions_per_week,
            policy.opening_sessions_per_week
        )
    }

    /// O2, W5: the restart was heavier than the lightest finished club.
    fn light_again(&self, present: &Present<'_>) -> Option<Proposal> {
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
        let light = self.no_heavier_than(*lightest)?;
        let text = format!(
            "{} asks {} than {}, the lightest club {}.",
            self.names.club(present.loading),
            more_by(*step),
            self.names.club(*lightest),
            if *finished {
                "finished"
            } else {
                "worked with two hands"
            }
        );
        Some(
            Proposal::new(present, Step::StepBack, Rule::O2, text)
                .with(present.hands, light)
                .until("a session with a club that light"),
        )
    }

    /// W1 to W3: a step too big, past a smaller one, or not earned.
    fn smaller_step(&self, present: &Present<'_>) -> Option<Proposal> {
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
                    .until("the coach decides about the step"),
            );
        }
        Some(
            Proposal::new(present, Step::StepBack, flag.rule, text)
                .with(present.hands, back)
                .until(format!(
                    "{} sessions running that go well with {to}",
                    self.policy.settled_sessions
                )),
        )
    }

    /// V1, V2, V4 to V6: a ladder out of bounds.
    fn begins_again(&self, present: &Present<'_>) -> Option<Proposal> {
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
        let text = match (flag.rule, &flag.evidence) {
            (
                Rule::V1 | Rule::V2,
                Evidence::Ladder {
                    reps,
                    allowed_reps: Some(allowed),
                    ..
                },
            ) => format!(
                "Sets had {reps} reps: a ladder keeps its reps, from {min} to {max}; {allowed} were in order."
            ),
            (
                _,
                Evidence::Ladder {
                    sets,
                    allowed_sets: Some(allowed),
                    ..
                },
            ) => format!("{sets} sets came too soon; {allowed} were in order. Add nothing."),
            _ => "The ladder moved out of its bounds. Add nothing.".to_owned(),
        };
        Some(
            Proposal::new(present, Step::Hold, flag.rule, text)
                .until("a session that keeps to the ladder"),
        )
    }

    /// V2, V4: sets that came too soon do not earn a step, though they were done in full. Ours: a
    /// week goes by after sets were rushed, four after a ladder did not begin again.
    fn rushed(&self, present: &Present<'_>) -> Option<Proposal> {
        let lately = |episode: &&Episode| {
            let flag = &episode.flag;
            let days = match flag.rule {
                Rule::V2 => 7,
                Rule::V4 => i64::from(self.policy.left_after_days),
                _ => return false,
            };
            let subject = &flag.subject;
            subject.movement == Some(present.movement)
                && subject.hands == Some(present.hands)
                && subject.loading == Some(present.loading)
                && (self.today - flag.since).whole_days() < days
        };
        let episode = self.episodes.iter().rfind(lately)?;
        let Evidence::Ladder {
            sets,
            allowed_sets: Some(allowed),
            ..
        } = &episode.flag.evidence
        else {
            return None;
        };
        let text = format!("{sets} sets came too soon; {allowed} were in order. Add nothing.");
        Some(
            Proposal::new(present, Step::Hold, episode.flag.rule, text)
                .until("time at this work, without adding"),
        )
    }

    // ---- 5 and 6: sides, effort, density

    fn is_uneven(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = self.stands_here(Rule::B2, present)?;
        let Evidence::Sides {
            left_reps,
            right_reps,
            days,
            ..
        } = &flag.evidence
        else {
            return None;
        };
        let text = format!(
            "{left_reps} reps on the left and {right_reps} on the right in {days} days: even the sides before \
             anything is added."
        );
        Some(
            Proposal::new(present, Step::Hold, Rule::B2, text)
                .until("sessions with equal reps on both sides"),
        )
    }

    fn is_tired(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = [Rule::L3, Rule::T6, Rule::T5]
            .into_iter()
            .find_map(|rule| self.stands_here(rule, present))?;
        let club = self.names.club(present.loading);
        let text = match (flag.rule, &flag.evidence) {
            (
                Rule::L3,
                Evidence::Effort {
                    effort,
                    effort_before,
                    ..
                },
            ) => format!("Effort {effort_before} and {effort} in two sessions of the same work."),
            (Rule::T6, Evidence::Density(figures)) => format!(
                "The count with {club} is falling: {:.1} a minute.",
                figures.density_rpm
            ),
            (Rule::T5, Evidence::Density(figures)) => format!(
                "The count with {club} has stopped climbing: {} sessions since the best of {:.1} a minute.",
                figures.sessions_since_best, figures.best_rpm
            ),
            _ => "The work has become harder.".to_owned(),
        };
        let sets = self.share_of_sets(present, self.policy.light_week_share);
        let rested = self.sessions.iter().any(|worked| {
            (worked.bout.movement, worked.bout.hands) == (present.movement, present.hands)
                && worked.on() > flag.since
                && worked.sets() <= u16::from(self.most_sets(present)) * 4 / 5
        });
        Some(if rested {
            Proposal::new(present, Step::Hold, flag.rule, text)
                .and(
                    flag.rule,
                    "A lighter week has not changed it: the coach should look.",
                )
                .until("the coach changes the goal, the club or the way it is swung")
        } else {
            let share = 100.0 * self.policy.light_week_share;
            Proposal::new(present, Step::LightWeek { sets }, flag.rule, text)
                .and(
                    Rule::V6,
                    format!("A light week has {share:.0} % of the sets."),
                )
                .until("an easier session")
        })
    }

    // ---- 7: two hands

    fn two_hands(&self, present: &Present<'_>) -> Proposal {
        let gate = rules::gate(
            self.history,
            self.policy,
            self.episodes,
            present.movement,
            self.today,
        );
        let open = gate.is_open(self.policy) || gate.opened_early.is_some();
        let light = self
            .lightest(&gate.finished)
            .or_else(|| self.lightest(&self.clubs_worked(present.movement, Hands::Two)))
            .and_then(|lightest| self.restart_club(present.movement, Hands::Fingertip, lightest));
        if open && let Some(light) = light {
            let text = match &gate.opened_early {
                Some(reason) if !gate.is_open(self.policy) => {
                    format!("The coach opened one-hand work early: {reason}")
                }
                _ => format!(
                    "{} two-hand clubs finished and {} months of two-hand work.",
                    gate.finished.len(),
                    gate.months
                ),
            };
            let club = self.names.club(light);
            return Proposal::new(present, Step::FingertipStage, Rule::O1, text)
                .with(Hands::Fingertip, light)
                .and(
                    Rule::O2,
                    format!("{club} asks no more than the lightest finished club."),
                )
                .until("the coach keeps to two hands");
        }
        let proposal = if self.stands_here(Rule::T4, present).is_some() {
            self.earned(present, Rule::T4)
        } else {
            self.climbs(present)
        };
        if !open && gate.finished.len() >= self.policy.opening_clubs {
            return proposal.until(format!(
                "the gate to one-hand work: {}",
                self.gate_missing(present.movement)
            ));
        }
        if open {
            return proposal.and(
                Rule::O2,
                "The gate to one-hand work is open, but no usable club is light enough to begin it.",
            );
        }
        proposal
    }

    /// T4 or V3 stands: up, if the last session allows it and a club is near enough.
    fn earned(&self, present: &Present<'_>, rule: Rule) -> Proposal {
        let club = self.names.club(present.loading);
        let done = match rule {
            Rule::V3 => {
                format!("The ladder with {club} was done in full on both sides, twice running.")
            }
            _ => format!("The goal with {club} was reached on both sides, twice running."),
        };
        if let Some(why) = self.was_hard(present) {
            return Proposal::new(present, Step::Hold, rule, done)
                .and(rule, why)
                .until(format!(
                    "a session at effort {} or less, without pain",
                    self.policy.earned_effort_at_most
                ));
        }
        match self.next_up(present.loading) {
            Ok((next, size)) => {
                let next_name = self.names.club(next);
                let mut proposal = Proposal::new(present, Step::StepUp, rule, done)
                    .with(present.hands, next)
                    .and(
                        Rule::W2,
                        format!(
                            "{next_name} is the smallest step up in the rack: {}.",
                            more_by(size)
                        ),
                    );
                if size.basis == StepBasis::MassOnly {
                    proposal = proposal.and(
                        Rule::M4,
                        "The step is judged by mass only: measure a balance point to know more.",
                    );
                }
                if rule == Rule::V3 {
                    let start = self.policy.ladder_start_sets;
                    proposal = proposal.and(
                        Rule::V4,
                        format!("The ladder starts again at {start} sets."),
                    );
                }
                proposal.until("pain, or a session at effort 9 or more")
            }
            Err(no_step) => Proposal::new(present, Step::Stay, rule, done)
                .and(Rule::W1, no_step)
                .until("a club in the rack within the limit"),
        }
    }

    /// T1: the same work until the count is there.
    fn climbs(&self, present: &Present<'_>) -> Proposal {
        let club = self.names.club(present.loading);
        let last = present.last;
        let (Some(seconds), Some(density)) = (last.bout.seconds, last.bout.density()) else {
            return Proposal::new(
                present,
                Step::Stay,
                Rule::T4,
                "Two-hand work goes against the clock; these sets had none.",
            )
            .until("sets logged with their seconds");
        };
        let key = (present.movement, Hands::Two, present.loading, seconds);
        let Some(goal) = rules::goal_density(self.history, self.policy, key, self.today) else {
            let here = self.sessions.iter().filter(|worked| {
                let bout = &worked.bout;
                (bout.movement, bout.hands, bout.loading, bout.seconds)
                    == (present.movement, Hands::Two, present.loading, Some(seconds))
            });
            let needed = self.policy.goal_start_sessions;
            let done = here.count();
            let text = format!(
                "{:.1} a minute with {club}; {done} of the {needed} sessions that set the goal are done.",
                density.rpm()
            );
            return Proposal::new(present, Step::Stay, Rule::T4, text)
                .until(more(needed.saturating_sub(done), "session"));
        };
        let slower = last.bout.slower_side().map_or(0.0, |slower| slower.rpm());
        let text = format!(
            "{:.1} a minute with {club}, {slower:.1} on the slower side; the goal is {goal:.1}.",
            density.rpm()
        );
        let at_goal = slower >= goal * (1.0 - 1e-9) && self.was_hard(present).is_none();
        let missing = self
            .policy
            .earned_in_a_row
            .saturating_sub(usize::from(at_goal))
            .max(1);
        let running = if missing > 1 { " running" } else { "" };
        Proposal::new(present, Step::Stay, Rule::T4, text).until(format!(
            "{}{running} at {goal:.1} a minute on both sides, at effort {} or less",
            more(missing, "session"),
            self.policy.earned_effort_at_most
        ))
    }

    // ---- 8: fingertips

    fn fingertips(&self, present: &Present<'_>) -> Proposal {
        let needed = self.policy.fingertip_sessions;
        let done = self.fingertip_sessions(present.movement);
        let text = format!("{done} of {needed} fingertip sessions are done.");
        if let Some(why) = self.says_not_to_add(present) {
            return Proposal::new(present, Step::Hold, Rule::V5, why)
                .and(Rule::O3, text)
                .until("a session without missed reps, pain or effort 9");
        }
        if done < needed {
            return Proposal::new(present, Step::Stay, Rule::O3, text)
                .until(more(needed - done, "fingertip session"));
        }
        let Some(club) = self.restart_club(present.movement, Hands::One, present.loading) else {
            return Proposal::new(present, Step::Stay, Rule::O3, text)
                .and(
                    Rule::O2,
                    "No usable club is light enough to begin with one hand.",
                )
                .until("a lighter club in the rack");
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
            .until("pain, or a missed rep")
    }

    fn fingertip_sessions(&self, movement: MovementId) -> usize {
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

    // ---- 9: one hand

    fn one_hand(&self, present: &Present<'_>, block: Option<&BlockSpan>) -> Proposal {
        if present.last.bout.seconds.is_some() {
            return Proposal::new(
                present,
                Step::Stay,
                Rule::V1,
                "One-hand work is straight sets of few reps; these went against the clock.",
            )
            .until("straight sets");
        }
        let block =
            block.filter(|block| (block.hands, block.loading) == (present.hands, present.loading));
        let ladder = block.and_then(|block| match &block.scheme {
            Scheme::SetLadder(ladder) => Some(ladder),
            _ => None,
        });
        let mut too_far = None;
        if self.stands_here(Rule::V3, present).is_some() {
            let earned = self.earned(present, Rule::V3);
            if earned.step != Step::Stay {
                return earned;
            }
            too_far = Some(earned);
        }
        let rungs = self.rungs(present);
        let sets = present.last.bout.sets_each_side();
        let target = self.target(sets, ladder, too_far.is_some());
        let line = format!("{sets} sets of {} a side", present.last.bout.reps);

        if let Some(why) = self.says_not_to_add(present) {
            return Proposal::new(present, Step::Hold, Rule::V5, why)
                .until(format!("{line}, in full, without pain or effort 9"));
        }
        if !present.last.is_even() {
            return Proposal::new(
                present,
                Step::Hold,
                Rule::B1,
                "The sides were not equal in the last session.",
            )
            .until("equal reps on both sides");
        }
        if sets >= target {
            if let Some(too_far) = too_far {
                return too_far;
            }
            return Proposal::new(
                present,
                Step::Stay,
                Rule::V3,
                format!("{line}: the target of {target} is reached."),
            )
            .until(format!(
                "{} sessions running of {target} sets in full on both sides, at effort {} or less",
                self.policy.earned_in_a_row, self.policy.earned_effort_at_most
            ));
        }
        let adds = self.adds(present, &rungs, sets, target, ladder);
        // Two sessions a week are three or four days apart.
        let next_on = self
            .today
            .max(present.last.on().saturating_add(Duration::days(4)));
        let holds = self.week_that_holds(next_on, block, &rungs);
        if let (Adding::Now(_), Some((week, _))) = (adds, holds) {
            let text = format!("Week {week} of the ladder holds its sets.");
            if ladder.is_some_and(|ladder| ladder.light_fourth_week) {
                let light = self.share_of_sets(present, self.policy.light_week_share);
                return Proposal::new(present, Step::LightWeek { sets: light }, Rule::V6, text)
                    .until("the week after");
            }
            return Proposal::new(present, Step::Hold, Rule::V6, text).until("the week after");
        }
        let proposal = match adds {
            Adding::Now(more) => Proposal::new(
                present,
                Step::AddSets { sets: more },
                Rule::V2,
                format!("{line} went well: {more} sets, on the way to {target}."),
            )
            .until(match self.week_that_holds(self.today, block, &rungs) {
                Some((_, over)) => format!("a session before {over}: until then the ladder holds"),
                None => "a missed rep, pain, or effort 9".to_owned(),
            }),
            Adding::BackUp(more) => Proposal::new(
                present,
                Step::AddSets { sets: more },
                Rule::V2,
                format!("{line} went well: back up to the {more} sets of before."),
            )
            .until("a missed rep, pain, or effort 9"),
            Adding::NotYet => Proposal::new(
                present,
                Step::Stay,
                Rule::V2,
                format!("{line}: sets are added once a week."),
            )
            .until(more(1, "session of the same sets")),
        };
        match too_far {
            Some(too_far) => Proposal {
                reasons: proposal
                    .reasons
                    .into_iter()
                    .chain(too_far.reasons)
                    .collect(),
                ..proposal
            },
            None => proposal,
        }
    }

    /// The ladder's sessions since the last gap, oldest first.
    fn rungs(&self, present: &Present<'_>) -> Vec<&Worked<'a>> {
        let mut rungs: Vec<&Worked<'a>> = Vec::new();
        for worked in self.sessions.iter().rev() {
            let bout = &worked.bout;
            if (bout.movement, bout.hands, bout.loading, bout.seconds)
                != (present.movement, Hands::One, present.loading, None)
            {
                continue;
            }
            let left = Duration::days(self.policy.left_after_days.into());
            if rungs
                .last()
                .is_some_and(|later| later.on() - worked.on() >= left)
            {
                break;
            }
            rungs.push(worked);
        }
        rungs.reverse();
        rungs
    }

    /// Sets at which the ladder is done.
    fn target(&self, sets: u16, ladder: Option<&SetLadder>, next_is_too_far: bool) -> u16 {
        let planned = ladder.map(|ladder| u16::from(ladder.target_sets));
        let targets = self.policy.ladder_targets.map(u16::from);
        let beyond = |target: &u16| {
            if next_is_too_far {
                *target > sets
            } else {
                *target >= sets
            }
        };
        planned
            .filter(beyond)
            .or_else(|| targets.into_iter().find(beyond))
            .unwrap_or(sets)
    }

    /// V6: the week of the ladder into which a day falls, and the day on which the week after begins, if
    /// that week holds.
    fn week_that_holds(
        &self,
        day: Date,
        block: Option<&BlockSpan>,
        rungs: &[&Worked<'_>],
    ) -> Option<(i64, Date)> {
        let every = i64::from(self.policy.hold_every_weeks);
        let began = block
            .map(|block| block.from)
            .or_else(|| rungs.first().map(|rung| rung.on()))?;
        let week = (day - began).whole_weeks() + 1;
        (every > 0 && week % every == 0)
            .then(|| (week, began.saturating_add(Duration::weeks(week))))
    }

    /// V2: how many sets come next, once the pace allows more.
    fn adds(
        &self,
        present: &Present<'_>,
        rungs: &[&Worked<'_>],
        sets: u16,
        target: u16,
        ladder: Option<&SetLadder>,
    ) -> Adding {
        // Coming back up to what was done in the last three weeks is not adding, unless a gap lies
        // between.
        let lately = self.today.saturating_sub(Duration::weeks(3));
        let gap = Duration::days(self.policy.gap_days.into());
        let mut before: u16 = 0;
        let mut next_on = self.today;
        for rung in rungs.iter().rev() {
            if rung.on() < lately || next_on - rung.on() >= gap {
                break;
            }
            before = before.max(rung.bout.sets_each_side());
            next_on = rung.on();
        }
        let as_sets = |sets: u16| u8::try_from(sets).unwrap_or(u8::MAX);
        if before > sets {
            return Adding::BackUp(as_sets(before.min(target)));
        }
        let level: Vec<_> = rungs
            .iter()
            .rev()
            .take_while(|rung| rung.bout.sets_each_side() == sets)
            .collect();
        let first = level.last().map_or(present.last.on(), |rung| rung.on());
        let settled = level.len() >= usize::from(self.policy.sessions_per_week).max(1)
            || self.today - first >= Duration::WEEK;
        if !settled {
            return Adding::NotYet;
        }
        let pace = ladder.map_or(1, |ladder| u16::from(ladder.add_per_week));
        let more = (sets + pace).min(target).min(self.fastest(rungs, sets));
        if more > sets {
            Adding::Now(as_sets(more))
        } else {
            Adding::NotYet
        }
    }

    /// V2: the most sets that may come next, however soon that is.
    fn fastest(&self, rungs: &[&Worked<'_>], sets: u16) -> u16 {
        let week_ago = self.today.saturating_sub(Duration::WEEK);
        let lately = self.today.saturating_sub(Duration::weeks(4));
        let reached = rungs
            .iter()
            .filter(|rung| (lately..=week_ago).contains(&rung.on()));
        let this_week = rungs.iter().find(|rung| rung.on() > week_ago);
        let base = reached
            .map(|rung| rung.bout.sets_each_side())
            .max()
            .or_else(|| this_week.map(|rung| rung.bout.sets_each_side()))
            .unwrap_or(sets);
        base + u16::from(self.policy.ladder_added_sets_max)
    }

    // ---- what the last session says

    /// V5: why the next session does not add.
    fn says_not_to_add(&self, present: &Present<'_>) -> Option<String> {
        let last = present.last;
        if last.bout.missed_reps() {
            return Some("A rep was missed in the last session: add nothing.".to_owned());
        }
        if let Some(effort) = last.effort().filter(|it| *it >= self.policy.no_add_effort) {
            return Some(format!("Effort {effort} in the last session: add nothing."));
        }
        let pain = last.session.worst_pain();
        let pain = pain.filter(|pain| *pain >= self.policy.no_add_pain)?;
        Some(format!(
            "Pain {pain} of 10 in the last session: add nothing."
        ))
    }

    /// T4, V3: effort or pain of the last session that speak against a step.
    fn was_hard(&self, present: &Present<'_>) -> Option<String> {
        let last = present.last;
        let effort = last
            .effort()
            .filter(|it| *it > self.policy.earned_effort_at_most);
        if let Some(effort) = effort {
            return Some(format!("The last session took effort {effort}."));
        }
        let pain = last.session.worst_pain();
        let pain = pain.filter(|pain| *pain > self.policy.earned_pain_at_most)?;
        Some(format!("Pain {pain} of 10 in the last session."))
    }

    /// The most sets of any session in the last four weeks, with this movement and hands.
    fn most_sets(&self, present: &Present<'_>) -> u8 {
        let since = present.last.on().saturating_sub(Duration::weeks(4));
        let most = self
            .sessions
            .iter()
            .filter(|worked| {
                (worked.bout.movement, worked.bout.hands) == (present.movement, present.hands)
                    && worked.on() >= since
            })
            .map(|worked| worked.sets())
            .max()
            .unwrap_or(0);
        u8::try_from(most).unwrap_or(u8::MAX)
    }

    /// A share of the usual sets, the most of the last four sessions; at least one.
    fn share_of_sets(&self, present: &Present<'_>, share: f64) -> u8 {
        let here = |worked: &&Worked<'_>| {
            (worked.bout.movement, worked.bout.hands) == (present.movement, present.hands)
        };
        let last_four = self.sessions.iter().rev().filter(here).take(4);
        let usual = last_four.map(|worked| worked.sets()).max().unwrap_or(1);
        let sets = f64::from(u8::try_from(usual).unwrap_or(u8::MAX).max(1));
        // Within 1 to 255 by the clamp.
        (sets * share + 1e-9).floor().clamp(1.0, sets) as u8
    }

    // ---- clubs

    fn is_usable(&self, loading: LoadingId) -> bool {
        self.history.club(loading).is_some_and(|club| club.usable)
    }

    /// M4: the step from one club up to another; `None` where it is none.
    fn step_up(&self, from: LoadingId, to: LoadingId) -> Option<StepSize> {
        self.history.step_up(self.policy, from, to)
    }

    fn usable(&self) -> impl Iterator<Item = &'a AvailableClub> {
        self.history.clubs.iter().filter(|club| club.usable)
    }

    /// The smallest step up, or why there is none.
    fn next_up(&self, from: LoadingId) -> Result<(LoadingId, StepSize), String> {
        match self.history.next_club(self.policy, from) {
            NextClub::Within(next, size) => Ok((next, size)),
            NextClub::TooFar(next, size) => Err(format!(
                "The next club up, {}, asks {}, over the limit of {:.0} %.",
                self.names.club(next),
                more_by(size),
                self.policy.step_percent
            )),
            NextClub::None => Err(format!(
                "No club in the rack is a step up from {}.",
                self.names.club(from)
            )),
        }
    }

    /// The usable club next below.
    fn lighter(&self, than: LoadingId) -> Option<(LoadingId, StepSize)> {
        self.usable()
            .filter_map(|club| Some((club.loading, self.step_up(club.loading, than)?)))
            .min_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction).then(a.0.cmp(&b.0)))
    }

    /// O2: how a restart's club compares: by static moment, by mass where one is unknown.
    fn demand(&self, loading: LoadingId, by_mass: bool) -> Option<f64> {
        let mechanics = &self.history.club(loading)?.mechanics;
        if by_mass {
            return Some(mechanics.mass.value().kg());
        }
        Some(mechanics.static_moment?.value().nm())
    }

    fn is_no_heavier(&self, club: LoadingId, than: LoadingId) -> bool {
        let by = |by_mass| Some((self.demand(club, by_mass)?, self.demand(than, by_mass)?));
        by(false)
            .or_else(|| by(true))
            .is_some_and(|(club, than)| club <= than * (1.0 + 1e-9))
    }

    /// The clubs worked in a movement with these hands.
    fn clubs_worked(&self, movement: MovementId, hands: Hands) -> Vec<LoadingId> {
        self.sessions
            .iter()
            .filter(|worked| (worked.bout.movement, worked.bout.hands) == (movement, hands))
            .map(|worked| worked.bout.loading)
            .collect()
    }

    /// The lightest of some clubs.
    fn lightest(&self, clubs: &[LoadingId]) -> Option<LoadingId> {
        clubs.iter().copied().reduce(|lightest, club| {
            if self.is_no_heavier(lightest, club) {
                lightest
            } else {
                club
            }
        })
    }

    /// This club if it is usable, else the usable club nearest below it.
    fn no_heavier_than(&self, club: LoadingId) -> Option<LoadingId> {
        if self.is_usable(club) {
            return Some(club);
        }
        self.lighter(club)
            .map(|(lighter, _)| lighter)
            .filter(|lighter| self.is_no_heavier(*lighter, club))
    }

    /// The club to begin a stage with: no heavier than the limit, and no step up from what was last
    /// used in that stage.
    fn restart_club(
        &self,
        movement: MovementId,
        hands: Hands,
        limit: LoadingId,
    ) -> Option<LoadingId> {
        let last = self
            .sessions
            .iter()
            .rev()
            .find(|worked| (worked.bout.movement, worked.bout.hands) == (movement, hands))
            .map(|worked| worked.bout.loading);
        let begin = self.no_heavier_than(limit)?;
        match last {
            Some(last) if self.step_up(last, begin).is_some() => self
                .no_heavier_than(last)
                .filter(|club| self.is_no_heavier(*club, limit)),
            _ => Some(begin),
        }
    }
}

/// V2: whether a ladder may add.
#[derive(Debug, Clone, Copy)]
enum Adding {
    /// To this many sets.
    Now(u8),
    /// To this many sets, which were done before.
    BackUp(u8),
    /// The present sets were begun less than a week ago.
    NotYet,
}

/// " (left elbow)", or nothing where no place was said.
fn place(flag: &Flag) -> String {
    flag.subject
        .place
        .as_ref()
        .map(|place| format!(" ({})", place.as_str()))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests;
