//! What a new block asks of one athlete: the rules' next step, turned into a club, a way of holding it and
//! a scheme with the numbers of their own log. The coach decides.
//!
//! | the next step | two hands | fingertips | one hand |
//! |---|---|---|---|
//! | stay, hold, wait | sets, interval and goal as they are (T1, T3) | sets and reps as they are (O3) | from the sets of the last session (V2, V5) |
//! | add sets | | | from those sets, once their day has come (V2) |
//! | step up | next club; the goal is set anew (T4, T3) | | next club, from 5 sets (V4) |
//! | step back | the club of before | as they are | from 5 sets (V4) |
//! | fingertip stage, one hand | | begin at 5 sets (O1) | begin at 5 sets of 5 (V1) |
//! | return | week 1 at 60 % of the sets (A1) | the same | from 60 % of the sets (A1) |
//! | light week | week 1 at 60 % of the sets (V6) | the same | the same; from 5 sets where a ladder did not begin again (V4) |
//!
//! The rules of the table are those of the trade, common practice without a published source.

use time::{Date, Duration};

use super::block::{FINGERTIP_REPS, GOAL_AT_MOST, INTERVAL_SECONDS, SETS};
use super::{FingertipSets, IntervalSets, Scheme, SetLadder, Weekdays};
use crate::id::{LoadingId, MovementId};
use crate::next_step::{NextStep, Reason, Step};
use crate::policy::Policy;
use crate::review::Week;
use crate::rules::{Rule, goal_density};
use crate::training::{Bout, Hands, History};
use crate::units::{Density, Reps, Seconds};

/// Sessions with a club of which the one with the most sets counts as usual: a light week is not.
const USUAL_OF: usize = 4;
/// Rest between sets where nobody said how long, in seconds. Common practice, no source.
const USUAL_REST: u16 = 60;

/// What a block is proposed from.
#[derive(Debug, Clone, Copy)]
pub struct BlockGround<'a> {
    /// Everything about the athlete.
    pub history: &'a History,
    /// The thresholds by which they are judged.
    pub policy: &'a Policy,
    /// What the rules propose in this movement; `None` where nothing of it was logged or planned.
    pub step: Option<&'a NextStep>,
    /// The block's movement.
    pub movement: MovementId,
    /// What the coach asks where log and rules leave it open: of everybody, or as in the last block.
    pub asked: Scheme,
    /// The club that the coach chose instead of the rules'; `None` leaves it to the rules.
    pub club: Option<LoadingId>,
    /// The club that the goal in `asked` is about; `None` where the coach set it for any club.
    pub goal_is_for: Option<LoadingId>,
    /// The block's first day.
    pub first_day: Date,
    /// Today.
    pub today: Date,
}

/// What the rules propose for a block.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposedBlock {
    /// The way of holding the club and the work that goes with it.
    pub scheme: Scheme,
    /// The club of the rules; `None` where nothing was logged that says which.
    pub loading: Option<LoadingId>,
    /// Sets on each side in week 1, where that begins with fewer than the scheme's (A1, V6).
    pub first_week_sets: Option<u8>,
    /// The next step that it follows; `None` where nothing was logged.
    pub step: Option<Step>,
    /// Why: the reasons of the next step, then those of the numbers.
    pub reasons: Vec<Reason>,
    /// What speaks against it.
    pub against: Vec<Reason>,
}

impl ProposedBlock {
    /// Whether the rules say that the coach decides first.
    pub fn waits(&self) -> bool {
        self.step == Some(Step::WaitForCoach)
    }
}

/// The first day of a block that goes on after another: the day after that one ends; the next Monday where
/// it has ended already.
pub fn start_after(last_day: Date, today: Date) -> Date {
    let after = last_day.saturating_add(Duration::DAY);
    if after > today {
        after
    } else {
        Week::of(today).after().monday()
    }
}

/// The last day that a block of so many ISO weeks can ask something of: the Sunday of its last week.
pub fn last_day(weekdays: Weekdays, starts_on: Date, weeks: u8) -> Date {
    Week::of(weekdays.first_from(starts_on))
        .monday()
        .saturating_add(Duration::days(7 * i64::from(weeks) - 1))
}

/// What to propose for a block, by the table at the top.
pub fn proposed_block(ground: &BlockGround<'_>) -> ProposedBlock {
    let Some(step) = ground.step else {
        let of_another = ground
            .goal_is_for
            .is_some_and(|of| ground.club.unwrap_or(of) != of);
        return ProposedBlock {
            scheme: if of_another {
                ground.asked.with_goal(None)
            } else {
                ground.asked
            },
            loading: None,
            first_week_sets: None,
            step: None,
            reasons: Vec::new(),
            against: Vec::new(),
        };
    };
    let (work, why) = match step.hands {
        Hands::Two => ground.interval_sets(step),
        Hands::Fingertip => ground.fingertip_sets(step),
        Hands::One => ground.set_ladder(step),
    };
    ProposedBlock {
        scheme: work.scheme,
        loading: step.loading,
        first_week_sets: work.first_week_sets,
        step: Some(step.step),
        reasons: step.reasons.iter().cloned().chain(why).collect(),
        against: step.against.clone(),
    }
}

/// The work of one way of holding a club where neither log nor coach says anything: as the policy has it.
pub fn usual_scheme(hands: Hands, policy: &Policy) -> Scheme {
    let sets = policy.ladder_start_sets;
    let reps = Reps::new(policy.ladder_reps_max.into())
        .unwrap_or_else(|_| Reps::new(5).expect("5 reps are reps"));
    let rest_seconds = USUAL_REST;
    match hands {
        Hands::Two => Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds: Seconds::new(policy.interval_seconds.into())
                .unwrap_or_else(|_| Seconds::new(30).expect("30 s are an interval")),
            rest_seconds,
            goal: None,
        }),
        Hands::Fingertip => Scheme::FingertipSets(FingertipSets {
            sets,
            reps,
            rest_seconds,
        }),
        Hands::One => Scheme::SetLadder(SetLadder {
            reps,
            start_sets: sets,
            add_per_week: 1,
            target_sets: policy.ladder_targets[0].max(sets),
            light_fourth_week: false,
            rest_seconds,
        }),
    }
}

struct Proposed {
    scheme: Scheme,
    first_week_sets: Option<u8>,
}

/// One session's work with these hands.
struct Worked {
    on: Date,
    bout: Bout,
}

fn because(rule: Rule, text: impl Into<String>) -> Reason {
    Reason {
        rule,
        text: text.into(),
    }
}

fn as_sets(sets: u16) -> u8 {
    u8::try_from(sets)
        .unwrap_or(u8::MAX)
        .clamp(*SETS.start(), *SETS.end())
}

impl BlockGround<'_> {
    /// The coach's parameters for this way of holding: as asked, else those of the last such block, else
    /// the usual.
    fn base(&self, hands: Hands) -> Scheme {
        if self.asked.hands() == hands {
            return self.asked;
        }
        let blocks = self.history.blocks.iter().flatten();
        blocks
            .filter(|block| (block.movement, block.hands) == (self.movement, hands))
            .max_by_key(|block| (block.from, block.block))
            .map_or_else(
                || usual_scheme(hands, self.policy),
                |block| match block.scheme {
                    // That goal was about that block's club.
                    Scheme::IntervalSets(work) => {
                        Scheme::IntervalSets(IntervalSets { goal: None, ..work })
                    }
                    other => other,
                },
            )
    }

    /// The sessions with these hands, newest first; with one club alone where that was worked.
    fn worked(&self, hands: Hands, loading: Option<LoadingId>) -> Vec<Worked> {
        let mut all: Vec<Worked> = Vec::new();
        for session in self.history.sessions_until(self.today).iter().rev() {
            let here = session
                .bouts()
                .into_iter()
                .filter(|bout| (bout.movement, bout.hands) == (self.movement, hands))
                .max_by_key(|bout| (Some(bout.loading) == loading, bout.sets_each_side()));
            if let Some(bout) = here {
                all.push(Worked {
                    on: session.on,
                    bout,
                });
            }
        }
        let club = loading
            .filter(|club| all.iter().any(|worked| worked.bout.loading == *club))
            .or_else(|| all.first().map(|worked| worked.bout.loading));
        all.retain(|worked| Some(worked.bout.loading) == club);
        all
    }

    /// The club that the work is about.
    fn club(&self, step: &NextStep) -> Option<LoadingId> {
        self.club.or(step.loading)
    }

    /// Whether a ladder goes on with the club of the last session: the sets of one club say nothing about
    /// another (V4).
    fn goes_on(&self, step: &NextStep) -> bool {
        let club = self.club(step);
        let newest = self.worked(Hands::One, None);
        let with_it = self.worked(Hands::One, club);
        club == step.loading
            && with_it
                .first()
                .zip(newest.first())
                .is_none_or(|(with_it, newest)| {
                    with_it.on == newest.on && Some(with_it.bout.loading) == club
                })
    }

    /// Fewer sets in week 1, where the step says so and that is fewer.
    fn first_week(&self, step: &NextStep, last: Option<Date>, usual: u8) -> Option<(u8, Reason)> {
        let (rule, sets, what) = match step.step {
            Step::Return { sets } => (Rule::A1, sets, "coming back"),
            Step::LightWeek { sets } if !self.is_over(step, last) => {
                (Rule::V6, sets, "a light week")
            }
            _ => return None,
        };
        let sets = as_sets(sets.into());
        (sets < usual).then(|| {
            let text = format!(
                "Week 1 asks {sets} sets a side, {what}; from week 2 on {usual} as before."
            );
            (sets, because(rule, text))
        })
    }

    /// V6: whether the week that a ladder holds is over by the block's first day. A light week for another
    /// reason is still owed.
    fn is_over(&self, step: &NextStep, last: Option<Date>) -> bool {
        let of_the_ladder = step.hands == Hands::One
            && step.reasons.first().is_some_and(|why| why.rule == Rule::V6);
        // Two sessions a week are three or four days apart, as the next step counts them.
        let next_on = last.map_or(self.today, |on| {
            self.today.max(on.saturating_add(Duration::days(4)))
        });
        of_the_ladder && self.first_day >= Week::of(next_on).after().monday()
    }

    fn interval_sets(&self, step: &NextStep) -> (Proposed, Vec<Reason>) {
        let Scheme::IntervalSets(base) = self.base(Hands::Two) else {
            unreachable!("a base has the hands that were asked for");
        };
        let club = self.club(step);
        let worked = self.worked(Hands::Two, club);
        let last = worked.first();
        let seconds = last
            .and_then(|last| last.bout.seconds)
            .filter(|seconds| INTERVAL_SECONDS.contains(&seconds.get()))
            .unwrap_or(base.seconds);
        let sets = usual_sets(&worked).unwrap_or(base.sets);
        let mut why = Vec::new();
        let known = club.and_then(|loading| {
            let key = (self.movement, Hands::Two, loading, seconds);
            let rpm = goal_density(self.history, self.policy, key, self.today)?;
            Density::from_rpm(rpm)
                .ok()
                .filter(|goal| goal.rpm() > 0.0 && goal.rpm() <= GOAL_AT_MOST)
        });
        let coachs = base
            .goal
            .filter(|_| self.goal_is_for.is_none_or(|of| Some(of) == club));
        let goal = coachs.or(known);
        if last.is_some() || goal.is_some() {
            why.push(because(
                Rule::T4,
                match goal {
                    Some(goal) => format!("The goal is {:.1} reps a minute.", goal.rpm()),
                    None => format!(
                        "The first {} sessions with this club and {} s set the goal.",
                        self.policy.goal_start_sessions,
                        seconds.get()
                    ),
                },
            ));
        }
        let first = self.first_week(step, last.map(|last| last.on), sets);
        let first_week_sets = first.as_ref().map(|(sets, _)| *sets);
        why.extend(first.map(|(_, why)| why));
        let scheme = Scheme::IntervalSets(IntervalSets {
            sets,
            seconds,
            goal,
            ..base
        });
        (
            Proposed {
                scheme,
                first_week_sets,
            },
            why,
        )
    }

    fn fingertip_sets(&self, step: &NextStep) -> (Proposed, Vec<Reason>) {
        let Scheme::FingertipSets(base) = self.base(Hands::Fingertip) else {
            unreachable!("a base has the hands that were asked for");
        };
        let worked = self.worked(Hands::Fingertip, self.club(step));
        let last = worked.first();
        let sets = usual_sets(&worked).unwrap_or(base.sets);
        let reps = last
            .map(|last| last.bout.reps)
            .filter(|reps| FINGERTIP_REPS.contains(reps))
            .and_then(|reps| Reps::new(reps.into()).ok())
            .unwrap_or(base.reps);
        let first = self.first_week(step, last.map(|last| last.on), sets);
        let scheme = Scheme::FingertipSets(FingertipSets { sets, reps, ..base });
        (
            Proposed {
                scheme,
                first_week_sets: first.as_ref().map(|(sets, _)| *sets),
            },
            first.map(|(_, why)| why).into_iter().collect(),
        )
    }

    fn set_ladder(&self, step: &NextStep) -> (Proposed, Vec<Reason>) {
        let Scheme::SetLadder(base) = self.base(Hands::One) else {
            unreachable!("a base has the hands that were asked for");
        };
        let policy = self.policy;
        let worked = self.worked(Hands::One, self.club(step));
        let last = worked.first();
        let goes_on = self.goes_on(step);
        let again = policy.ladder_start_sets;
        let (done, usual) = match last {
            Some(last) if goes_on => {
                let done = as_sets(last.bout.sets_each_side());
                (done, usual_sets(&worked).unwrap_or(done))
            }
            Some(_) => (again, again),
            None => (base.start_sets, base.start_sets),
        };
        let begins_again = step.reasons.first().is_some_and(|why| why.rule == Rule::V4);
        let mut why = Vec::new();
        let mut first_week_sets = None;
        let start = match step.step {
            Step::StepUp | Step::StepBack | Step::OpenOneHand => again,
            Step::Return { sets } if self.club(step) == step.loading => as_sets(sets.into()),
            Step::Return { sets } => as_sets(sets.into()).min(again),
            Step::AddSets { .. } if !goes_on => again,
            Step::LightWeek { sets } if begins_again => as_sets(sets.into()),
            Step::LightWeek { .. } => {
                let first = self.first_week(step, last.map(|last| last.on), usual);
                first_week_sets = first.as_ref().map(|(sets, _)| *sets);
                why.extend(first.map(|(_, why)| why));
                usual
            }
            Step::AddSets { sets } => match step.not_before {
                Some(day) if self.first_day < day => {
                    let text = format!(
                        "Before {day} the ladder stays at {done} sets; the block begins earlier."
                    );
                    why.push(because(Rule::V2, text));
                    done
                }
                _ => as_sets(sets.into()),
            },
            Step::Stay | Step::Hold | Step::FingertipStage | Step::WaitForCoach => done,
        };
        let steps = matches!(step.step, Step::StepUp | Step::StepBack);
        let returns = matches!(step.step, Step::Return { .. } | Step::OpenOneHand);
        if steps || last.is_some() && !goes_on && !returns {
            let text = format!("On another club the ladder starts again at {start} sets.");
            why.insert(0, because(Rule::V4, text));
        }
        let reps = match (step.step, last) {
            (Step::OpenOneHand, _) => policy.ladder_reps_max,
            (_, Some(last)) => last
                .bout
                .reps
                .clamp(policy.ladder_reps_min, policy.ladder_reps_max),
            (_, None) => base.reps.get(),
        };
        let target_sets = std::iter::once(base.target_sets)
            .filter(|_| !matches!(step.step, Step::StepUp | Step::OpenOneHand))
            .chain(policy.ladder_targets)
            .find(|target| *target >= start)
            .unwrap_or_else(|| start.max(base.target_sets));
        let scheme = Scheme::SetLadder(SetLadder {
            reps: Reps::new(reps.into()).unwrap_or(base.reps),
            start_sets: start,
            target_sets,
            ..base
        });
        (
            Proposed {
                scheme,
                first_week_sets,
            },
            why,
        )
    }
}

/// The sets of the newest sessions with one club, the most of them.
fn usual_sets(worked: &[Worked]) -> Option<u8> {
    let sets = worked.iter().take(USUAL_OF);
    sets.map(|worked| worked.bout.left.sets.max(worked.bout.right.sets))
        .max()
        .map(as_sets)
}

/// The rules of the trade (ids at each row); common practice, no published source, but where one is named.
#[cfg(test)]
mod examples {
    use time::macros::date;

    use super::*;
    use crate::next_step::propose;
    use crate::rules::{Names, episodes};
    use crate::scenario::{
        Day, MILL, MONDAY, block, club, history, of_mass, opening, plus, rack, session,
        twice_a_week,
    };

    struct Numbers;

    impl Names for Numbers {
        fn movement(&self, _: MovementId) -> &str {
            "mill"
        }

        fn club(&self, _: LoadingId) -> &str {
            "a club"
        }
    }

    fn asked_two() -> Scheme {
        usual_scheme(Hands::Two, &Policy::default())
    }

    /// What is proposed on a day for a block that begins on another.
    fn proposed(history: &History, today: i64, first_day: i64, asked: Scheme) -> ProposedBlock {
        let policy = Policy::default();
        let today = plus(MONDAY, today);
        let found = episodes(history, &policy, today);
        let steps = propose(history, &policy, &found, &|_| false, today, &Numbers);
        proposed_block(&BlockGround {
            history,
            policy: &policy,
            step: steps.iter().find(|step| step.movement == MILL),
            movement: MILL,
            asked,
            club: None,
            goal_is_for: None,
            first_day: plus(MONDAY, first_day),
            today,
        })
    }

    /// "one club 1: 6 to 10 by 1, 5 reps", "two club 2: 5 × 30 s to 24.0", with "week 1: 3" where that has
    /// sets of its own.
    fn said(block: &ProposedBlock) -> String {
        let club = block
            .loading
            .map_or(0, |loading| loading.0.as_u128() - club(0).0.as_u128());
        let work = match block.scheme {
            Scheme::IntervalSets(work) => {
                let goal = work.goal.map_or("the first sessions".to_owned(), |goal| {
                    format!("{:.1}", goal.rpm())
                });
                format!(
                    "two club {club}: {} × {} s to {goal}",
                    work.sets,
                    work.seconds.get()
                )
            }
            Scheme::FingertipSets(work) => {
                format!("fingertip club {club}: {} × {}", work.sets, work.reps.get())
            }
            Scheme::SetLadder(ladder) => format!(
                "one club {club}: {} to {} by {}, {} reps",
                ladder.start_sets,
                ladder.target_sets,
                ladder.add_per_week,
                ladder.reps.get()
            ),
        };
        match block.first_week_sets {
            Some(sets) => format!("{work}; week 1: {sets}"),
            None => work,
        }
    }

    fn rules_of(block: &ProposedBlock) -> Vec<&'static str> {
        block.reasons.iter().map(|why| why.rule.id()).collect()
    }

    /// Five sets of 30 s, twice a week, with these counts.
    fn counts(counts: &[u16]) -> Vec<Day> {
        (0..)
            .zip(counts)
            .map(|(number, count)| {
                session(twice_a_week(number))
                    .against_the_clock(1, &[*count; 5])
                    .effort(6.0)
            })
            .collect()
    }

    /// Sessions of a ladder with club 1, so many sets of five, twice a week; after four fingertip sessions
    /// (O3), one hand opened before (O1).
    fn rungs(sets: &[usize]) -> Vec<Day> {
        let fingertips = (0..4).map(|number| {
            session(twice_a_week(number) - 14)
                .straight(Hands::Fingertip, 1, &[5; 5])
                .effort(6.0)
        });
        let rungs = (0..).zip(sets).map(|(number, sets)| {
            session(twice_a_week(number))
                .straight(Hands::One, 1, &vec![5; *sets])
                .effort(6.0)
        });
        fingertips.chain(rungs).collect()
    }

    fn ladder(sets: &[usize]) -> History {
        let mut log = history(rungs(sets), rack());
        log.openings.push(opening(-400));
        log
    }

    #[test]
    fn nothing_in_the_log_asks_what_the_coach_asks() {
        let block = proposed(&history(Vec::new(), rack()), 0, 0, asked_two());
        assert_eq!(said(&block), "two club 0: 5 × 30 s to the first sessions");
        assert_eq!((block.step, block.waits()), (None, false));
    }

    /// T1, T3, T4: 10 reps in 30 s are 20 a minute, so the goal is 1.2 × 20 = 24 a minute, 12 reps; by hand.
    #[test]
    fn two_hands() {
        // Goal not set yet, set, reached once, reached twice: a step earned.
        for (log, today, expected) in [
            (
                &[10, 10][..],
                4,
                "two club 1: 5 × 30 s to the first sessions",
            ),
            (&[10, 10, 10], 8, "two club 1: 5 × 30 s to 24.0"),
            (&[10, 10, 10, 12], 11, "two club 1: 5 × 30 s to 24.0"),
            (
                &[10, 10, 10, 12, 12],
                15,
                "two club 2: 5 × 30 s to the first sessions",
            ),
        ] {
            let block = proposed(&counts(log).into(), today, today + 3, asked_two());
            assert_eq!(said(&block), expected, "{log:?}");
        }
    }

    /// The coach's own sets, interval and goal: the log says how many sets and how long; the coach's goal
    /// stands unless it is about another club.
    #[test]
    fn the_coachs_goal_stands_for_its_club() {
        let goal = Density::from_rpm(30.0).ok();
        let asked = asked_two().with_goal(goal).with_sets(9);
        let log: History = counts(&[10, 10, 10]).into();
        assert_eq!(
            said(&proposed(&log, 8, 10, asked)),
            "two club 1: 5 × 30 s to 30.0"
        );
        let policy = Policy::default();
        let today = plus(MONDAY, 8);
        let found = episodes(&log, &policy, today);
        let steps = propose(&log, &policy, &found, &|_| false, today, &Numbers);
        let ground = |goal_is_for| BlockGround {
            history: &log,
            policy: &policy,
            step: steps.first(),
            movement: MILL,
            asked,
            club: None,
            goal_is_for,
            first_day: today,
            today,
        };
        let of = |number| said(&proposed_block(&ground(Some(club(number)))));
        assert_eq!(of(1), "two club 1: 5 × 30 s to 30.0");
        assert_eq!(of(2), "two club 1: 5 × 30 s to 24.0");
    }

    /// T3, V4: the goal and the sets of one club say nothing about another that the coach chose.
    #[test]
    fn another_club_of_the_coach_has_a_goal_and_sets_of_its_own() {
        let policy = Policy::default();
        let with = |log: &History, today: i64, chosen: Option<u128>| {
            let today = plus(MONDAY, today);
            let found = episodes(log, &policy, today);
            let steps = propose(log, &policy, &found, &|_| false, today, &Numbers);
            said(&proposed_block(&BlockGround {
                history: log,
                policy: &policy,
                step: steps.first(),
                movement: MILL,
                asked: asked_two(),
                club: chosen.map(club),
                goal_is_for: None,
                first_day: plus(today, 7),
                today,
            }))
        };
        let log: History = counts(&[10, 10, 10]).into();
        let (own, other) = ("5 × 30 s to 24.0", "5 × 30 s to the first sessions");
        for (chosen, expected) in [(None, own), (Some(1), own), (Some(2), other)] {
            let found = with(&log, 8, chosen);
            assert_eq!(found, format!("two club 1: {expected}"), "{chosen:?}");
        }
        let log = ladder(&[5, 5, 6, 6, 7, 7, 7, 7]);
        for (chosen, sets) in [(None, 8), (Some(1), 8), (Some(2), 5)] {
            let found = with(&log, twice_a_week(7) + 1, chosen);
            let expected = format!("one club 1: {sets} to 10 by 1, 5 reps");
            assert_eq!(found, expected, "{chosen:?}");
        }
    }

    /// V4: a block on the next club that nobody has begun yet is followed from 5 sets, not from those of the
    /// club before.
    #[test]
    fn a_step_that_was_not_begun_starts_the_ladder_again() {
        let mut log = ladder(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10, 10]);
        let day = twice_a_week(13);
        let scheme = usual_scheme(Hands::One, &Policy::default());
        log.blocks = Some(vec![block(Hands::One, 2, (day + 1, day + 40), scheme)]);
        let found = proposed(&log, day + 1, day + 42, asked_two());
        assert_eq!(found.step, Some(Step::Stay));
        assert_eq!(said(&found), "one club 2: 5 to 10 by 1, 5 reps");
        assert!(rules_of(&found).contains(&"V4"), "{:?}", found.reasons);
    }

    /// A1: back after 14 days with 60 % of the sets, after 28 with one club lighter; 60 % of 5 is 3.
    #[test]
    fn coming_back() {
        let log: History = vec![session(0).against_the_clock(2, &[10; 5])].into();
        for (today, expected) in [
            (13, "two club 2: 5 × 30 s to the first sessions"),
            (14, "two club 2: 5 × 30 s to the first sessions; week 1: 3"),
            (27, "two club 2: 5 × 30 s to the first sessions; week 1: 3"),
            (28, "two club 1: 5 × 30 s to the first sessions; week 1: 3"),
        ] {
            let block = proposed(&log, today, today, asked_two());
            assert_eq!(said(&block), expected, "after {today} days");
            assert_eq!(rules_of(&block).contains(&"A1"), today >= 14, "{today}");
        }
        // One hand: the ladder goes on from 60 % of its 8 sets, 4.8, rounded to 5.
        let log = ladder(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8]);
        let last = twice_a_week(9);
        assert_eq!(
            said(&proposed(&log, last + 14, last + 14, asked_two())),
            "one club 1: 5 to 10 by 1, 5 reps"
        );
    }

    /// V1, V2: from the sets of the last session; more once a week of them has gone by.
    #[test]
    fn a_ladder_goes_on_from_where_it_stands() {
        let log = ladder(&[5, 5, 6, 6]);
        let last = twice_a_week(3);
        // Day 10 is a Thursday: sets may be added from the next Monday, day 14, on (V2).
        for (first_day, expected) in [
            (13, "one club 1: 6 to 10 by 1, 5 reps"),
            (14, "one club 1: 7 to 10 by 1, 5 reps"),
        ] {
            let block = proposed(&log, last + 1, first_day, asked_two());
            assert_eq!(said(&block), expected, "from day {first_day}");
            assert!(rules_of(&block).contains(&"V2"), "{:?}", block.reasons);
        }
    }

    /// V5: a hard session adds nothing; the block begins with the sets that stand.
    #[test]
    fn a_hard_session_adds_nothing() {
        let mut log = ladder(&[5, 5, 6]);
        let hard = session(twice_a_week(3))
            .straight(Hands::One, 1, &[5; 6])
            .effort(9.0);
        log = log.with_sessions(vec![hard.0]);
        let block = proposed(&log, twice_a_week(3) + 1, twice_a_week(4), asked_two());
        assert_eq!(said(&block), "one club 1: 6 to 10 by 1, 5 reps");
        assert_eq!(rules_of(&block)[0], "V5");
        assert!(!block.waits());
    }

    /// V3, V4: the target done twice running earns the next club, and the ladder starts again at 5 sets.
    #[test]
    fn a_step_up_starts_the_ladder_again() {
        let sets = [5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10];
        let once = ladder(&sets);
        let day = twice_a_week(12);
        assert_eq!(
            said(&proposed(&once, day + 1, day + 3, asked_two())),
            "one club 1: 10 to 10 by 1, 5 reps"
        );
        let mut twice = sets.to_vec();
        twice.push(10);
        let twice = ladder(&twice);
        let day = twice_a_week(13);
        let block = proposed(&twice, day + 1, day + 4, asked_two());
        assert_eq!(said(&block), "one club 2: 5 to 10 by 1, 5 reps");
        assert!(rules_of(&block).contains(&"V4"), "{:?}", block.reasons);
    }

    /// The running block's pace, target and rest count where the form asks for other hands; as asked where it
    /// asks for a ladder.
    #[test]
    fn the_last_ladders_target_and_pace_are_kept() {
        let kept = SetLadder {
            reps: Reps::new(5).unwrap(),
            start_sets: 5,
            add_per_week: 2,
            target_sets: 12,
            light_fourth_week: true,
            rest_seconds: 90,
        };
        let mut log = ladder(&[5, 5, 5]);
        log.blocks = Some(vec![block(Hands::One, 1, (0, 40), Scheme::SetLadder(kept))]);
        let block = proposed(&log, 8, 14, asked_two());
        let Scheme::SetLadder(found) = block.scheme else {
            panic!("{block:?}");
        };
        assert_eq!((found.target_sets, found.add_per_week), (12, 2));
        assert_eq!((found.rest_seconds, found.light_fourth_week), (90, true));
        let asked = usual_scheme(Hands::One, &Policy::default());
        let asked = proposed(&log, 8, 14, asked);
        assert!(said(&asked).contains("to 10 by 1"), "{}", said(&asked));
    }

    /// O1 to O3, V1: the stage between, then one hand from 5 sets of 5 after four fingertip sessions.
    #[test]
    fn stages() {
        let fingertips = |sessions: i64| {
            let days = (0..sessions)
                .map(|number| {
                    session(twice_a_week(number))
                        .straight(Hands::Fingertip, 1, &[4; 6])
                        .effort(5.0)
                })
                .collect();
            let mut log = history(days, rack());
            log.openings.push(opening(-400));
            log
        };
        for (sessions, expected) in [
            (3, "fingertip club 1: 6 × 4"),
            (4, "one club 1: 5 to 10 by 1, 5 reps"),
        ] {
            let day = twice_a_week(sessions - 1) + 1;
            let block = proposed(&fingertips(sessions), day, day + 2, asked_two());
            assert_eq!(said(&block), expected, "after {sessions}");
        }
        // Opened early: the fingertip stage begins at the usual sets.
        let mut log: History = counts(&[10, 10]).into();
        log.openings.push(opening(-1));
        let block = proposed(&log, 4, 7, asked_two());
        assert_eq!(said(&block), "fingertip club 1: 5 × 5");
    }

    /// L4: pain of 4 stops the work; the coach decides, and the values stay as they were.
    #[test]
    fn pain_waits_for_the_coach() {
        for (pain, waits) in [(3, false), (4, true)] {
            let log: History = vec![
                session(0)
                    .against_the_clock(1, &[10; 5])
                    .pain(pain, "left elbow"),
            ]
            .into();
            let block = proposed(&log, 1, 3, asked_two());
            assert_eq!(block.waits(), waits, "pain {pain}");
            assert!(said(&block).starts_with("two club 1: 5 × 30 s"));
            assert_eq!(rules_of(&block).contains(&"L4"), waits);
        }
    }

    /// L3, V6: effort 9 twice at the same work asks for a light week of 60 %, then the sets of before.
    #[test]
    fn a_light_week_comes_first() {
        let hard = |number: i64| {
            session(twice_a_week(number))
                .against_the_clock(1, &[10; 5])
                .effort(9.0)
        };
        let log: History = vec![hard(0), hard(1)].into();
        let block = proposed(&log, 4, 7, asked_two());
        assert_eq!(
            said(&block),
            "two club 1: 5 × 30 s to the first sessions; week 1: 3"
        );
        let rules = rules_of(&block);
        assert!(rules.contains(&"L3") && rules.contains(&"V6"), "{rules:?}");
    }

    /// V4: sets kept across a step begin again at 5; that is no light week before more.
    #[test]
    fn a_ladder_that_did_not_begin_again_does() {
        let clubs = vec![of_mass(1, 6.0), of_mass(2, 7.5)];
        let mut days = rungs(&[5, 5, 6, 6, 7, 7, 7, 7, 8, 8, 9, 9, 10, 10]);
        days.push(
            session(twice_a_week(14))
                .straight(Hands::One, 2, &[5; 10])
                .effort(6.0),
        );
        let mut log = history(days, clubs);
        log.openings.push(opening(-400));
        let day = twice_a_week(14);
        let block = proposed(&log, day + 1, day + 3, asked_two());
        assert_eq!(said(&block), "one club 2: 5 to 10 by 1, 5 reps");
    }

    /// 2026-11-30 is a Monday (ISO 8601). A block that ends today or later is followed on the day after;
    /// one that has ended, on the next Monday.
    #[test]
    fn one_block_after_another() {
        let monday = date!(2026 - 11 - 30);
        for (last_day, today, expected) in [
            (date!(2026 - 12 - 06), monday, date!(2026 - 12 - 07)),
            (monday, monday, date!(2026 - 12 - 01)),
            (date!(2026 - 11 - 29), monday, date!(2026 - 12 - 07)),
            (
                date!(2026 - 10 - 04),
                date!(2026 - 12 - 02),
                date!(2026 - 12 - 07),
            ),
        ] {
            assert_eq!(start_after(last_day, today), expected, "{last_day} {today}");
        }
        let days = Weekdays::from_iso([1, 4]).unwrap();
        // From a Wednesday, Thursday's week is the first; from a Friday the next week is.
        for (starts_on, weeks, expected) in [
            (monday, 1, date!(2026 - 12 - 06)),
            (date!(2026 - 12 - 02), 2, date!(2026 - 12 - 13)),
            (date!(2026 - 12 - 04), 2, date!(2026 - 12 - 20)),
        ] {
            assert_eq!(last_day(days, starts_on, weeks), expected, "{starts_on}");
        }
    }
}
