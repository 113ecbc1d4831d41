//! The last: one hand, the set ladder.

use time::{Date, Duration};

use super::present::{Present, Worked};
use super::proposal::{Proposal, easy_enough, more, says_not_to_add};
use super::{Book, Step};
use crate::plan::{HoldingWeek, Scheme, SetLadder, ladder_block, week_that_holds};
use crate::review::Week;
use crate::rules::{self, Climbed, Evidence, Rule};
use crate::training::{BlockSpan, Hands, since_gap};

/// V2: whether a ladder may add.
#[derive(Debug, Clone, Copy)]
enum Adding {
    /// To this many sets, from this day on.
    Now(u8, Date),
    /// To this many sets, which were done before.
    BackUp(u8),
    /// The present sets were begun less than a week ago, or the pace allows no more.
    NotYet {
        /// Sessions of the present sets after which more may come; 0 where only time helps.
        missing: usize,
    },
}

/// V6: not before the week that holds is over.
fn after_the_week(adds: Proposal, week: HoldingWeek) -> Proposal {
    Proposal {
        not_before: Some(week.over_on),
        ..adds.until(format!(
            "a session before {}: until then the ladder holds",
            week.over_on
        ))
    }
}

impl<'a> Book<'a> {
    pub(super) fn one_hand(&self, present: &Present<'_>, block: Option<&BlockSpan>) -> Proposal {
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
        if self.is_done_again(present) {
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
                .but_all(self.speaks_for_more(present))
                .until(format!("{line}, without {}", says_not_to_add(self.policy)));
        }
        if !present.last.is_even() {
            return Proposal::new(
                present,
                Step::Hold,
                Rule::B1,
                "The sides were not equal in the last session.",
            )
            .but_all(self.speaks_for_more(present))
            .until("a session with equal reps on both sides");
        }
        if sets >= target {
            if let Some(too_far) = too_far {
                return too_far;
            }
            let missing = match self.stands_here(Rule::V3, present) {
                Some(_) => 1,
                None => self.missing_at_target(&rungs, target),
            };
            return Proposal::new(
                present,
                Step::Stay,
                Rule::V3,
                format!("{line}: the target of {target} is reached."),
            )
            .but_all(self.speaks_for_more(present))
            .until(format!(
                "{}{} of {target} sets in full on both sides, {}",
                more(missing, "session"),
                if missing > 1 { " running" } else { "" },
                easy_enough(self.policy)
            ));
        }
        let adds = self.adds(present, &rungs, sets, target, ladder);
        // Two sessions a week are three or four days apart.
        let next_on = self
            .today
            .max(present.last.on().saturating_add(Duration::days(4)));
        let holds = self.week_that_holds(next_on, present, &rungs);
        if let (Adding::Now(..), Some(week)) = (adds, holds) {
            let text = format!("Week {} of the ladder holds its sets.", week.number);
            let step = match ladder.filter(|ladder| ladder.light_fourth_week) {
                Some(_) => Step::LightWeek {
                    sets: self.share_of_sets(present, self.policy.light_week_share),
                },
                None => Step::Hold,
            };
            return Proposal::new(present, step, Rule::V6, text)
                .but_all(self.speaks_for_more(present))
                .until(format!("the week after, from {} on", week.over_on));
        }
        let adding = |more: u8, why: String| {
            Proposal::new(present, Step::AddSets { sets: more }, Rule::V2, why)
                .but_all(self.speaks_for_less(present))
                .until(format!("before it, {}", says_not_to_add(self.policy)))
        };
        let proposal = match adds {
            Adding::Now(more, from) => {
                let why = format!("{line} went well: {more} sets, on the way to {target}.");
                let adds = adding(more, why);
                match self.week_that_holds(self.today, present, &rungs) {
                    Some(week) => after_the_week(adds, week),
                    None if from > self.today => Proposal {
                        not_before: Some(from),
                        ..adds.until(format!(
                            "a session before {from}: sets are added once a week"
                        ))
                    },
                    None => adds,
                }
            }
            Adding::BackUp(more) => {
                let why = format!("{line} went well: back up to the {more} sets of before.");
                let light = ladder.filter(|ladder| ladder.light_fourth_week);
                // What is left of a light week stays light.
                match light.and(self.week_that_holds(self.today, present, &rungs)) {
                    Some(week) => after_the_week(adding(more, why), week),
                    None => adding(more, why),
                }
            }
            Adding::NotYet { missing } => Proposal::new(
                present,
                Step::Stay,
                Rule::V2,
                format!("{line}: sets are added once a week."),
            )
            .but_all(self.speaks_for_more(present))
            .until(match missing {
                0 => format!("a week at {sets} sets"),
                many => format!("{} of {sets} sets", more(many, "session")),
            }),
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

    /// V3: a step was earned, and the last session too did all that earned it.
    fn is_done_again(&self, present: &Present<'_>) -> bool {
        let earned = self.stands_here(Rule::V3, present);
        let bout = &present.last.bout;
        match earned.map(|flag| &flag.evidence) {
            Some(Evidence::LadderDone { target, reps, .. }) => {
                bout.sets_each_side() >= *target && bout.reps >= *reps && !bout.missed_reps()
            }
            _ => false,
        }
    }

    /// The ladder's sessions since the last gap, oldest first.
    fn rungs(&self, present: &Present<'_>) -> Vec<&Worked<'a>> {
        let here = |worked: &&Worked<'a>| {
            let bout = &worked.bout;
            (bout.movement, bout.hands, bout.loading, bout.seconds)
                == (present.movement, Hands::One, present.loading, None)
        };
        let all: Vec<&Worked<'a>> = self.sessions.iter().filter(here).collect();
        since_gap(self.policy, &all, |worked| worked.on()).to_vec()
    }

    /// V3: sessions missing at the target, at least one.
    fn missing_at_target(&self, rungs: &[&Worked<'_>], target: u16) -> usize {
        let done = rungs
            .iter()
            .rev()
            .take_while(|rung| {
                rung.bout.sets_each_side() >= target
                    && !rung.bout.missed_reps()
                    && rules::easy_enough(self.policy, rung.session)
            })
            .count();
        self.policy.earned_in_a_row.saturating_sub(done).max(1)
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

    /// V6: the week of the ladder into which a day falls, if that week holds: as the rule counts it.
    fn week_that_holds(
        &self,
        day: Date,
        present: &Present<'_>,
        rungs: &[&Worked<'_>],
    ) -> Option<HoldingWeek> {
        let began = ladder_block(self.history, present.movement, present.loading, day)
            .map(|(block, _)| block.from)
            .or_else(|| rungs.first().map(|rung| rung.on()))?;
        week_that_holds(self.policy, began, day)
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
        let before = rules::sets_to_come_back_to(
            self.policy,
            self.episodes,
            (present.movement, present.hands, present.loading),
            rungs.iter().map(|rung| self.climbed(rung)),
            self.today,
        );
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
        let missing = usize::from(self.policy.sessions_per_week)
            .max(1)
            .saturating_sub(level.len());
        if missing > 0 && self.today - first < Duration::WEEK {
            return Adding::NotYet { missing };
        }
        let pace = ladder.map_or(1, |ladder| u16::from(ladder.add_per_week));
        let more = (sets + pace).min(target).min(self.fastest(rungs, sets));
        if more > sets {
            // A week of the level, or the next week of the calendar: two sessions a week on fixed days
            // add every week.
            let next_week = Week::of(first).after().monday();
            let from = next_week.min(first.saturating_add(Duration::WEEK));
            Adding::Now(as_sets(more), from)
        } else {
            Adding::NotYet { missing: 0 }
        }
    }

    fn climbed(&self, rung: &Worked<'_>) -> Climbed {
        let (missed, effort) = (rung.bout.missed_reps(), rung.effort());
        let pain = rung.session.worst_pain();
        let against = rules::says_not_to_add(missed, effort, pain, self.policy);
        Climbed {
            on: rung.on(),
            sets: rung.bout.sets_each_side(),
            says_not_to_add: against.is_some(),
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
}
