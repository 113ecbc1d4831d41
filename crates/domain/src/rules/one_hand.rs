//! V · One-hand phase: strength by volume.
//!
//! A *ladder* is the straight sets of one movement with one hand and one club: the reps of a set stay,
//! sets are added. A set counts once both sides have done it.
//!
//! - **V1** Straight sets of 3 to 5 reps each side, default 5, then change hands. Starts at 5 sets.
//!   Source: common practice.
//! - **V2** Add sets over the weeks toward 10, then 20. Reps per set do not change within a ladder: more reps
//!   is a change of intensity, and is flagged. Default pace +1 set a week; more than +2 in any 7 days is
//!   flagged. Source: common practice.
//! - **V3** Step earned: the ladder's target sets done in full, both sides, in two consecutive sessions,
//!   effort ≤ 7, pain ≤ 2. Source: two in a row mirrors the published 2-for-2 rule (NSCA, Essentials of Strength
//!   Training and Conditioning, from memory); the rest is common practice.
//! - **V4** After a step the ladder starts again at 5 sets. Keeping the volume across a step is flagged.
//!   Source: common practice.
//! - **V5** A missed rep, effort ≥ 9 or pain ≥ 3 means the next session does not add. Source: common practice.
//!   Pain said of a session that stopped before its first set counts with the session before it: ours.
//! - **V6** Every fourth week the ladder holds its sets; an optional light week cuts them to 60 % (the plan's:
//!   fewer sets break no rule). Source: common practice.
//!
//! Each flag ends with the next session that keeps to its rule; V3 once the step is taken. Too many first
//! sets (V1) also end once four sessions running went well, and V4 as every flag about a step does
//! ([`super::steps`]). V1, V2, V3, V5 and V6 end in any case once a bigger club has been worked in the
//! movement, once four sessions running used other clubs, or when the ladder has not been worked for 28 days
//! ([`super::club_use`]). After such a gap it begins again.

use std::collections::BTreeMap;

use time::{Date, Duration};

use super::club_use::{self, ClubUse};
use super::life::{Life, about_club, episode};
use super::log::Log;
use super::steps::Step;
use super::{Episode, Evidence, NoAdding, Rule};
use crate::id::{LoadingId, MovementId};
use crate::plan::{SetLadder, ladder_block, week_that_holds};
use crate::policy::Policy;
use crate::training::{BlockSpan, Bout, Hands, Session};

/// **V1** Straight sets of 3 to 5 reps: the nearest number in bounds, where these are not.
const fn reps_out_of_bounds(reps: u16, policy: &Policy) -> Option<u16> {
    if reps < policy.ladder_reps_min {
        Some(policy.ladder_reps_min)
    } else if reps > policy.ladder_reps_max {
        Some(policy.ladder_reps_max)
    } else {
        None
    }
}

/// **V1** Starts at 5 sets: the first one-hand session of a movement has no more.
fn starts_with_too_many_sets(first_of_movement: bool, sets: u16, policy: &Policy) -> bool {
    first_of_movement && sets > u16::from(policy.ladder_start_sets)
}

/// **V2** Reps per set do not change within a ladder.
const fn reps_changed(before: u16, now: u16) -> bool {
    now != before
}

/// **V2** More than +2 in any 7 days is flagged.
///
/// Two things are not adding: to begin, or begin again, with the sets that begin a ladder (V1, V4), and to
/// come back up to a number of sets that it had in the four weeks before.
fn too_many_sets_added(week_ago: u16, now: u16, policy: &Policy) -> bool {
    now > week_ago + u16::from(policy.ladder_added_sets_max)
}

/// **V3** The ladder's target sets done in full, both sides, effort ≤ 7, pain ≤ 2,
fn target_done_in_full(session: &Rung, target: u16) -> bool {
    session.sets >= target && !session.missed && session.easy_enough
}

/// **V3** in two consecutive sessions: step earned.
const fn step_earned(sessions_running: usize, policy: &Policy) -> bool {
    sessions_running >= policy.earned_in_a_row
}

/// **V4** After a step the ladder starts again at 5 sets. Keeping the volume across a step is flagged.
fn volume_kept(sets_after_step: u16, policy: &Policy) -> bool {
    sets_after_step > u16::from(policy.ladder_start_sets)
}

/// **V5** A missed rep, effort ≥ 9 or pain ≥ 3 means the next session does not add: which of them it was. Asked by
/// the rule, by the next step and by the path ahead.
pub(crate) fn says_not_to_add(
    missed_reps: bool,
    effort: Option<f64>,
    pain: Option<u8>,
    policy: &Policy,
) -> Option<NoAdding> {
    let because = NoAdding {
        missed_reps,
        effort: effort.filter(|effort| *effort >= policy.no_add_effort),
        pain: pain.filter(|pain| *pain >= policy.no_add_pain),
    };
    (because.missed_reps || because.effort.is_some() || because.pain.is_some()).then_some(because)
}

/// **V6** Every fourth week the ladder holds its sets. The plan and the rule ask the same function which weeks
/// hold ([`week_that_holds`]): ISO weeks, counted from the running block's first, else from the one in which the
/// ladder began.
fn added_in_a_week_that_holds(
    began: Date,
    now: Date,
    (most_before, sets): (u16, u16),
    policy: &Policy,
) -> bool {
    week_that_holds(policy, began, now).is_some() && sets > most_before
}

/// One session of a ladder.
#[derive(Debug, Clone, Copy)]
struct Rung {
    on: Date,
    sets: u16,
    /// What each set was for.
    reps: u16,
    /// The most done in any set.
    most_reps: u16,
    asked: bool,
    missed: bool,
    easy_enough: bool,
    effort: Option<f64>,
    pain: Option<u8>,
    /// The first session with one hand in this movement.
    first_of_movement: bool,
}

// How V1 to V3, V5 and V6 are walked through a log, a ladder at a time.

pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut ladders: BTreeMap<Key, Vec<(usize, Rung)>> = BTreeMap::new();
    let mut begun: BTreeMap<MovementId, usize> = BTreeMap::new();
    for (index, (session, bouts)) in log.sessions().enumerate() {
        if bouts.is_empty() {
            for (_, last) in ladders.values_mut().filter_map(|rungs| rungs.last_mut()) {
                last.pain = last.pain.max(session.worst_pain());
            }
        }
        for bout in bouts.iter().filter(|bout| is_ladder(bout)) {
            let first = *begun.entry(bout.movement).or_insert(index) == index;
            let key = Key {
                movement: bout.movement,
                loading: bout.loading,
            };
            let rung = Rung::of(log, session, bout, first);
            ladders.entry(key).or_default().push((index, rung));
        }
    }
    ladders
        .into_iter()
        .flat_map(|(key, rungs)| Ladder::new(log, key).over(&rungs))
        .collect()
}

fn is_ladder(bout: &Bout) -> bool {
    bout.hands == Hands::One && bout.seconds.is_none()
}

/// What a ladder is judged at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    movement: MovementId,
    loading: LoadingId,
}

impl Rung {
    fn of(log: &Log, session: &Session, bout: &Bout, first_of_movement: bool) -> Self {
        Self {
            on: session.on,
            sets: bout.sets_each_side(),
            reps: bout.reps,
            most_reps: bout.most_reps,
            asked: bout.asked,
            missed: bout.missed_reps(),
            easy_enough: log.easy_enough(session),
            effort: session.effort.map(|effort| effort.rating()),
            pain: session.worst_pain(),
            first_of_movement,
        }
    }

    /// Where no plan said what the sets were for, and some reached the ladder's reps while most fell
    /// short, they were for the ladder's reps.
    fn within(mut self, before: Option<&Self>) -> Self {
        if let Some(before) = before
            && !self.asked
            && self.reps < before.reps
            && self.most_reps == before.reps
        {
            self.reps = before.reps;
            self.missed = true;
        }
        self
    }

    /// The most reps of any set where that is more than the sets were for.
    fn reps_at_most(&self) -> u16 {
        self.reps.max(self.most_reps)
    }
}

/// What a rule has to say of a session, beside its sets and reps.
#[derive(Default)]
struct Against {
    sets_before: Option<u16>,
    reps: Option<u16>,
    reps_before: Option<u16>,
    allowed_sets: Option<u16>,
    allowed_reps: Option<u16>,
    because: Option<NoAdding>,
}

impl Against {
    fn evidence(self, rung: &Rung) -> Evidence {
        Evidence::Ladder {
            sets: rung.sets,
            sets_before: self.sets_before,
            reps: self.reps.unwrap_or(rung.reps),
            reps_before: self.reps_before,
            allowed_sets: self.allowed_sets,
            allowed_reps: self.allowed_reps,
            because: self.because,
        }
    }
}

/// The walk over one ladder's sessions, in order.
struct Ladder<'a> {
    log: &'a Log<'a>,
    key: Key,
    /// All rungs so far, and where the present run of them begins: after the last gap.
    rungs: Vec<Rung>,
    run_from: usize,
    in_use: ClubUse,
    /// V1: reps; too many first sets, and the sessions since that went well.
    reps: Life,
    start: Life,
    went_well: usize,
    /// V2.
    pace: Life,
    /// V3, and the sessions running that did the target.
    earned: Life,
    running: usize,
    ever_earned: bool,
    /// V5.
    advice: Life,
    /// V6.
    hold: Life,
}

impl<'a> Ladder<'a> {
    fn new(log: &'a Log<'a>, key: Key) -> Self {
        let life = |rule| Life::new(rule, about_club(key.movement, Hands::One, key.loading));
        Self {
            log,
            key,
            rungs: Vec::new(),
            run_from: 0,
            in_use: ClubUse::default(),
            reps: life(Rule::V1),
            start: life(Rule::V1),
            went_well: 0,
            pace: life(Rule::V2),
            earned: life(Rule::V3),
            running: 0,
            ever_earned: false,
            advice: life(Rule::V5),
            hold: life(Rule::V6),
        }
    }

    fn over(mut self, rungs: &[(usize, Rung)]) -> Vec<Episode> {
        let mut rungs = rungs.iter().peekable();
        for visit in club_use::visits(self.log, self.key.movement, Hands::One, self.key.loading) {
            self.leave_if_gone_by(visit.on);
            let rung = rungs.next_if(|(session, _)| *session == visit.session);
            if let Some((_, rung)) = rung {
                let rung = rung.within(self.run().last());
                self.judge(&rung);
                self.rungs.push(rung);
            }
            if self.in_use.over_with(self.log, visit, rung.is_some()) {
                self.end_all(visit.on);
            }
        }
        self.leave_if_gone_by(self.log.as_of);
        [
            self.reps,
            self.start,
            self.pace,
            self.earned,
            self.advice,
            self.hold,
        ]
        .into_iter()
        .flat_map(Life::episodes)
        .collect()
    }

    /// The rungs since the last gap.
    fn run(&self) -> &[Rung] {
        &self.rungs[self.run_from..]
    }

    fn leave_if_gone_by(&mut self, day: Date) {
        if let Some(left) = self.in_use.left_by(self.log, day) {
            self.end_all(left);
            self.run_from = self.rungs.len();
        }
    }

    fn end_all(&mut self, on: Date) {
        for life in [
            &mut self.reps,
            &mut self.start,
            &mut self.pace,
            &mut self.earned,
            &mut self.advice,
            &mut self.hold,
        ] {
            life.end(on);
        }
        self.running = 0;
    }

    fn judge(&mut self, rung: &Rung) {
        let reps = self.judge_reps(rung);
        self.reps.shows(rung.on, reps);
        self.judge_start(rung);
        let pace = self.judge_change(rung).or_else(|| self.judge_pace(rung));
        self.pace.shows(rung.on, pace);
        let advice = self.judge_advice(rung);
        self.advice.shows(rung.on, advice);
        let hold = self.judge_hold(rung);
        self.hold.shows(rung.on, hold);
        self.judge_earned(rung);
    }

    /// V1: the most reps of any set must not be too many, what they were for not too few.
    fn judge_reps(&self, rung: &Rung) -> Option<Evidence> {
        let policy = self.log.policy;
        let too_many = Some(rung.reps_at_most()).filter(|reps| *reps > policy.ladder_reps_max);
        let reps = too_many.unwrap_or(rung.reps);
        let allowed = reps_out_of_bounds(reps, policy)?;
        let before = self.run().last();
        let against = Against {
            sets_before: before.map(|before| before.sets),
            reps: Some(reps),
            reps_before: before.map(|before| before.reps),
            allowed_reps: Some(allowed),
            ..Against::default()
        };
        Some(against.evidence(rung))
    }

    /// V1: too many first sets, until there are no more than five or it has settled.
    fn judge_start(&mut self, rung: &Rung) {
        let policy = self.log.policy;
        let start = u16::from(policy.ladder_start_sets);
        if self.start.since().is_some() {
            self.went_well = if rung.easy_enough && !rung.missed {
                self.went_well + 1
            } else {
                0
            };
            if rung.sets <= start || self.went_well >= policy.settled_sessions {
                self.start.end(rung.on);
            }
        } else if starts_with_too_many_sets(rung.first_of_movement, rung.sets, policy) {
            let against = Against {
                allowed_sets: Some(start),
                ..Against::default()
            };
            self.went_well = 0;
            self.start.raise(rung.on, against.evidence(rung));
        }
    }

    /// V2: other reps than the session before, in what the sets were for or more in any set.
    fn judge_change(&self, rung: &Rung) -> Option<Evidence> {
        let before = self.run().last()?;
        let more = Some(rung.reps_at_most()).filter(|reps| *reps > before.reps);
        let reps = more.unwrap_or(rung.reps);
        let against = Against {
            sets_before: Some(before.sets),
            reps: Some(reps),
            reps_before: Some(before.reps),
            allowed_reps: Some(before.reps),
            ..Against::default()
        };
        reps_changed(before.reps, reps).then(|| against.evidence(rung))
    }

    /// V2: more sets than the pace allows.
    fn judge_pace(&self, rung: &Rung) -> Option<Evidence> {
        let policy = self.log.policy;
        if self.run().is_empty() && rung.sets <= u16::from(policy.ladder_start_sets) {
            return None;
        }
        let back_up = self
            .lately(rung.on - Duration::weeks(4))
            .any(|before| before.sets >= rung.sets);
        let week_ago = self.sets_a_week_before(rung.on)?;
        let against = Against {
            sets_before: Some(week_ago),
            allowed_sets: Some(week_ago + u16::from(policy.ladder_added_sets_max)),
            ..Against::default()
        };
        (!back_up && too_many_sets_added(week_ago, rung.sets, policy))
            .then(|| against.evidence(rung))
    }

    /// V2: the most sets of the four weeks that ended seven days earlier; of a ladder that has none there, the
    /// first of the seven days since, or else the last it had.
    fn sets_a_week_before(&self, day: Date) -> Option<u16> {
        let a_week_before = day - Duration::WEEK;
        let reached = self
            .lately(day - Duration::weeks(5))
            .filter(|before| before.on <= a_week_before)
            .map(|before| before.sets)
            .max();
        let since = self.rungs.iter().rev();
        let since = since.take_while(|before| before.on > a_week_before);
        reached
            .or_else(|| since.last().map(|first| first.sets))
            .or_else(|| self.rungs.last().map(|last| last.sets))
    }

    /// Rungs from this day on, newest first.
    fn lately(&self, from: Date) -> impl Iterator<Item = &Rung> {
        self.rungs
            .iter()
            .rev()
            .take_while(move |rung| rung.on >= from)
    }

    /// V5: sets were added though the session before said not to.
    fn judge_advice(&self, rung: &Rung) -> Option<Evidence> {
        let before = self.run().last()?;
        let Rung {
            missed,
            effort,
            pain,
            ..
        } = *before;
        let because = says_not_to_add(missed, effort, pain, self.log.policy)?;
        let against = Against {
            sets_before: Some(before.sets),
            reps_before: Some(before.reps),
            allowed_sets: Some(before.sets),
            because: Some(because),
            ..Against::default()
        };
        (rung.sets > before.sets).then(|| against.evidence(rung))
    }

    /// V6: more sets than in the four weeks before.
    fn judge_hold(&self, rung: &Rung) -> Option<Evidence> {
        let began = self
            .block_on(rung.on)
            .map(|(block, _)| block.from)
            .or_else(|| self.run().first().map(|first| first.on))?;
        let most = self
            .run()
            .iter()
            .rev()
            .take_while(|before| before.on >= rung.on - Duration::weeks(4))
            .map(|before| before.sets)
            .max()?;
        let against = Against {
            sets_before: Some(most),
            allowed_sets: Some(most),
            ..Against::default()
        };
        added_in_a_week_that_holds(began, rung.on, (most, rung.sets), self.log.policy)
            .then(|| against.evidence(rung))
    }

    /// V3. The target is the running block's, else the highest of 10 and 20 that all sessions running did.
    fn judge_earned(&mut self, rung: &Rung) {
        let policy = self.log.policy;
        let planned = self
            .block_on(rung.on)
            .map(|(_, ladder)| u16::from(ladder.target_sets));
        let highest_up_to = |sets: u16| {
            let targets = policy.ladder_targets.map(u16::from);
            targets.into_iter().filter(|target| *target <= sets).max()
        };
        let target = planned.or_else(|| highest_up_to(rung.sets));
        let Some(target) = target.filter(|target| target_done_in_full(rung, *target)) else {
            self.running = 0;
            return;
        };
        self.running += 1;
        if !step_earned(self.running, policy) {
            return;
        }
        let row = policy.earned_in_a_row.saturating_sub(1);
        let before = self.run().iter().rev().take(row);
        let fewest = before.fold(rung.sets, |fewest, before| fewest.min(before.sets));
        let target = planned.or_else(|| highest_up_to(fewest)).unwrap_or(target);
        // Beside a bigger club that is in use there is nothing to step up from: it is on record once.
        let bigger_in_use = self.in_use.bigger_in_use(self.log, rung.on);
        if bigger_in_use && self.ever_earned && self.earned.since().is_none() {
            return;
        }
        self.ever_earned = true;
        self.earned.raise(
            rung.on,
            Evidence::LadderDone {
                sets: rung.sets,
                target,
                reps: rung.reps,
                in_a_row: self.running,
            },
        );
        if bigger_in_use {
            self.earned.end(rung.on);
        }
    }

    /// The ladder block that runs on this day; of several the newest.
    fn block_on(&self, day: Date) -> Option<(&'a BlockSpan, &'a SetLadder)> {
        ladder_block(self.log.history, self.key.movement, self.key.loading, day)
    }
}

/// V4, of every step: until a session with the new club has five sets or fewer, or the step is no news.
pub(super) fn volumes_kept(log: &Log, steps: &[Step]) -> Vec<Episode> {
    let ladder = |session: usize, step: &Step, loading| {
        log.bouts(session).iter().find(|bout| {
            is_ladder(bout) && (bout.movement, bout.loading) == (step.movement, loading)
        })
    };
    let kept = |step: &Step| {
        let now = ladder(step.session, step, step.to)?;
        if !volume_kept(now.sets_each_side(), log.policy) {
            return None;
        }
        let before = ladder(step.from_session, step, step.from);
        let mut later = log.sessions().enumerate().skip(step.session);
        let began_again = later.find_map(|(index, (session, _))| {
            let bout = ladder(index, step, step.to)?;
            (!volume_kept(bout.sets_each_side(), log.policy)).then_some(session.on)
        });
        Some(episode(
            Rule::V4,
            about_club(step.movement, Hands::One, step.to),
            (
                step.on,
                [step.until, began_again].into_iter().flatten().min(),
            ),
            Evidence::Ladder {
                sets: now.sets_each_side(),
                sets_before: before.map(Bout::sets_each_side),
                reps: now.reps,
                reps_before: before.map(|bout| bout.reps),
                allowed_sets: Some(log.policy.ladder_start_sets.into()),
                allowed_reps: None,
                because: None,
            },
        ))
    };
    steps
        .iter()
        .filter(|step| step.hands == Hands::One)
        .filter_map(kept)
        .collect()
}

#[cfg(test)]
mod examples {
    use super::*;
    use crate::plan::Scheme;
    use crate::scenario::{
        Day, MILL, PULLOVER, block, club, date, examples, history, only, rack, reps, said, session,
    };
    use crate::training::{History, Side};

    /// One one-hand session of mills with club 1.
    fn ladder(on: i64, sets: usize, reps: u16) -> Day {
        session(on).straight(Hands::One, 1, &vec![reps; sets])
    }

    /// Sets of five: on which day, how many.
    fn sets(steps: &[(i64, usize)]) -> Vec<Day> {
        steps
            .iter()
            .map(|(on, sets)| ladder(*on, *sets, 5))
            .collect()
    }

    fn with_blocks(days: Vec<Day>, blocks: &[((i64, i64), u8)]) -> History {
        let span = |(days, target_sets): &((i64, i64), u8)| {
            let scheme = Scheme::SetLadder(SetLadder {
                reps: reps(5),
                start_sets: 5,
                add_per_week: 1,
                target_sets: *target_sets,
                light_fourth_week: false,
                rest_seconds: 60,
            });
            block(Hands::One, 1, *days, scheme)
        };
        let mut history = history(days, rack());
        history.blocks = Some(blocks.iter().map(span).collect());
        history
    }

    /// The figures of a rule's only flag on the day of the last session.
    fn figures(days: Vec<Day>, rule: Rule) -> Evidence {
        let last = days
            .last()
            .map_or(0, |day| (day.0.on - date(0)).whole_days());
        only(&history(days, rack()), rule, last).flag.evidence
    }

    // All of V is common practice of the trade, no source, but for two in a row (V3).

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v1_three_to_five_reps() {
        let missed = session(0).straight(Hands::One, 1, &[5, 5, 2]);
        let one_of_six = session(0).straight(Hands::One, 1, &[5, 5, 5, 5, 6]);
        examples(
            &["V1"],
            [
                ("sets of 2", vec![ladder(0, 5, 2)], "V1 from day 0"),
                ("sets of 3", vec![ladder(0, 5, 3)], "nothing"),
                ("sets of 4", vec![ladder(0, 5, 4)], "nothing"),
                ("sets of 5", vec![ladder(0, 5, 5)], "nothing"),
                ("sets of 6", vec![ladder(0, 5, 6)], "V1 from day 0"),
                ("one set of 6", vec![one_of_six], "V1 from day 0"),
                ("sets of 2 and one of 5", vec![session(0).straight(Hands::One, 1, &[2, 2, 2, 2, 5])], "V1 from day 0"),
                ("two of five asked for: a missed rep", vec![missed.asked(5)], "nothing"),
                ("6, 6, then 5", vec![ladder(0, 5, 6), ladder(3, 5, 6), ladder(7, 5, 5)], "V1 day 0 to 7"),
                ("straight sets with two hands", vec![session(0).straight(Hands::Two, 1, &[12])], "nothing"),
                ("fingertips", vec![session(0).straight(Hands::Fingertip, 1, &[12])], "nothing"),
                (
                    "one hand against the clock",
                    vec![session(0).sets((MILL, Hands::One, club(1)), 30, &[(12, 12)])],
                    "nothing",
                ),
            ],
        );
        for (days, reps, reps_before, allowed) in [
            (vec![ladder(0, 5, 2)], 2, None, 3),
            (vec![ladder(0, 5, 4), ladder(3, 5, 6)], 6, Some(4), 5),
            (vec![session(0).straight(Hands::One, 1, &[5, 5, 5, 5, 6])], 6, None, 5),
        ] {
            assert_eq!(
                figures(days, Rule::V1),
                Evidence::Ladder {
                    sets: 5,
                    sets_before: reps_before.map(|_| 5),
                    reps,
                    reps_before,
                    allowed_sets: None,
                    allowed_reps: Some(allowed),
                    because: None,
                }
            );
        }
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v1_starts_at_five_sets() {
        let missed = |on| session(on).straight(Hands::One, 1, &[5, 5, 5, 5, 5, 4]);
        let six = |days: &[i64]| days.iter().map(|on| ladder(*on, 6, 5)).collect::<Vec<_>>();
        let mut left_twice = ladder(0, 5, 5);
        let lefts: Vec<_> = left_twice
            .0
            .sets
            .iter()
            .filter(|set| set.side == Side::Left)
            .copied()
            .collect();
        left_twice.0.sets.extend(lefts);
        examples(
            &["V1"],
            [
                ("4 sets", sets(&[(0, 4)]), "nothing"),
                ("5 sets", sets(&[(0, 5)]), "nothing"),
                ("6 sets", sets(&[(0, 6)]), "V1 from day 0"),
                ("10 on the left, 5 on the right", vec![left_twice], "nothing"),
                ("6 sets later on are not the first", sets(&[(0, 5), (7, 6)]), "nothing"),
                (
                    "6 first sets of another movement",
                    vec![ladder(0, 5, 5), ladder(7, 6, 5).moving(PULLOVER)],
                    "V1 from day 7",
                ),
                ("8, 8, then 5", sets(&[(0, 8), (3, 8), (7, 5)]), "V1 day 0 to 7"),
                ("8, then 6", sets(&[(0, 8), (3, 6)]), "V1 from day 0"),
                ("three more went well", six(&[0, 3, 7, 10]), "V1 from day 0"),
                ("four more went well", six(&[0, 3, 7, 10, 14]), "V1 day 0 to 14"),
                (
                    "one of them was hard",
                    [
                        six(&[0, 3, 7]),
                        vec![ladder(10, 6, 5).effort(7.5)],
                        six(&[14]),
                    ]
                    .concat(),
                    "V1 from day 0",
                ),
                (
                    "one of them missed a rep; four more since",
                    [six(&[0, 3]), vec![missed(7)], six(&[10, 14, 17, 21])].concat(),
                    "V1 day 0 to 21",
                ),
            ],
        );
        assert_eq!(
            figures(sets(&[(0, 6)]), Rule::V1),
            Evidence::Ladder {
                sets: 6,
                sets_before: None,
                reps: 5,
                reps_before: None,
                allowed_sets: Some(5),
                allowed_reps: None,
                because: None,
            }
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v2_reps_stay() {
        let plain = |on, counts: &[u16]| session(on).straight(Hands::One, 1, counts);
        let after_fives = |next: Day| vec![ladder(0, 5, 5), next];
        let after_threes = |next: Day| vec![ladder(0, 5, 3), next];
        examples(
            &["V2"],
            [
                ("3, then 3", after_threes(ladder(3, 5, 3)), "nothing"),
                ("3, then 4", after_threes(ladder(3, 5, 4)), "V2 from day 3"),
                ("5, then 4", after_fives(ladder(3, 5, 4)), "V2 from day 3"),
                ("one set of 4 among 3s", after_threes(plain(3, &[3, 3, 3, 3, 4])), "V2 from day 3"),
                ("3, 4, 4", [after_threes(ladder(3, 5, 4)), vec![ladder(7, 5, 4)]].concat(), "V2 day 3 to 7"),
                ("some of 5, most short of it, no plan: missed", after_fives(plain(3, &[5, 4, 4, 3, 3])), "nothing"),
                ("all short of 5, no plan: changed", after_fives(plain(3, &[4, 4, 4, 4, 4])), "V2 from day 3"),
                ("4 asked for, one of 5", after_fives(plain(3, &[5, 4, 4, 4, 4]).asked(4)), "V2 from day 3"),
                ("5 asked for, 4 done: missed", after_fives(ladder(3, 5, 4).asked(5)), "nothing"),
                ("one of 5, the rest of 6", after_fives(plain(3, &[5, 6, 6, 6, 6])), "V2 from day 3"),
                (
                    "another club is another ladder",
                    after_threes(session(3).straight(Hands::One, 2, &[5; 5])),
                    "nothing",
                ),
                ("again after 27 days", vec![ladder(0, 5, 3), ladder(27, 5, 5)], "V2 from day 27"),
                ("again after 28 days", vec![ladder(0, 5, 3), ladder(28, 5, 5)], "nothing"),
            ],
        );
        for (days, reps, before) in [
            (after_threes(ladder(3, 5, 4)), 4, 3),
            (after_fives(ladder(3, 5, 4)), 4, 5),
            (after_threes(plain(3, &[3, 3, 3, 3, 4])), 4, 3),
        ] {
            assert_eq!(
                figures(days, Rule::V2),
                Evidence::Ladder {
                    sets: 5,
                    sets_before: Some(5),
                    reps,
                    reps_before: Some(before),
                    allowed_sets: None,
                    allowed_reps: Some(before),
                    because: None,
                }
            );
        }
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v2_too_many_sets_added() {
        examples(
            &["V2"],
            [
                ("5 sets, then 7 within the week", sets(&[(0, 5), (3, 7)]), "nothing"),
                ("5 sets, then 8 within the week", sets(&[(0, 5), (3, 8)]), "V2 from day 3"),
                ("and 8 again", sets(&[(0, 5), (3, 8), (7, 8)]), "V2 day 3 to 7"),
                ("1 set, then 4 within the week", sets(&[(0, 1), (3, 4)]), "V2 from day 3"),
                ("5, 7, then 8 on the sixth day", sets(&[(0, 5), (3, 7), (6, 8)]), "V2 from day 6"),
                ("5, 7, then 8 on the seventh", sets(&[(0, 5), (3, 7), (7, 8)]), "V2 from day 7"),
                ("5, 7, then 8 a week after the 7", sets(&[(0, 5), (3, 7), (10, 8)]), "nothing"),
                ("5 and 7 within the week, 9 in the next", sets(&[(0, 5), (3, 7), (10, 9)]), "nothing"),
                ("and 10", sets(&[(0, 5), (3, 7), (10, 10)]), "V2 from day 10"),
                ("7 after ten days", sets(&[(0, 5), (10, 7)]), "nothing"),
                ("8 after ten days", sets(&[(0, 5), (10, 8)]), "V2 from day 10"),
                ("two each week", sets(&[(0, 5), (3, 6), (7, 7), (10, 8), (14, 9)]), "nothing"),
                ("one each week", sets(&[(0, 5), (3, 5), (7, 6), (10, 6)]), "nothing"),
                ("back up after a light week", sets(&[(0, 5), (7, 6), (14, 7), (21, 4), (24, 7)]), "nothing"),
                ("back up to what it had 28 days before", sets(&[(0, 9), (21, 5), (28, 9)]), "nothing"),
                (
                    "29 days before: long ago, but not adding to the best of five weeks",
                    sets(&[(0, 9), (21, 5), (29, 9)]),
                    "nothing",
                ),
                ("two over the best of five weeks", sets(&[(0, 9), (21, 5), (35, 11)]), "nothing"),
                ("the best is longer ago than that", sets(&[(0, 9), (21, 5), (36, 9)]), "V2 from day 36"),
                ("after 28 days, begun again with 5", sets(&[(0, 1), (28, 5)]), "nothing"),
                ("after 28 days, begun again with 6", sets(&[(0, 1), (28, 6)]), "V2 from day 28"),
                ("after 40 days, begun again with 9 where it had 7", sets(&[(0, 5), (7, 7), (47, 9)]), "nothing"),
                ("with 10", sets(&[(0, 5), (7, 7), (47, 10)]), "V2 from day 47"),
            ],
        );
        assert_eq!(
            figures(sets(&[(0, 5), (3, 6), (6, 8)]), Rule::V2),
            Evidence::Ladder {
                sets: 8,
                sets_before: Some(5),
                reps: 5,
                reps_before: None,
                allowed_sets: Some(7),
                allowed_reps: None,
                because: None,
            }
        );
    }

    // NSCA's 2-for-2 rule, from memory, for two in a row.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v3_step_earned() {
        let ten = |on| ladder(on, 10, 5);
        let short = session(3).straight(Hands::One, 1, &[5, 5, 5, 5, 5, 5, 5, 5, 5, 4]);
        let mut set_short = ten(3);
        set_short.0.sets.pop();
        let bigger = |on| session(on).straight(Hands::One, 2, &[5; 5]);
        examples(
            &["V3"],
            [
                ("10 sets twice", vec![ten(0), ten(3)], "V3 from day 3"),
                ("10 sets once", vec![ladder(0, 9, 5), ten(3)], "nothing"),
                ("9 sets twice", vec![ladder(0, 9, 5), ladder(3, 9, 5)], "nothing"),
                ("not running", vec![ten(0), ladder(3, 9, 5), ten(7)], "nothing"),
                ("effort 7", vec![ten(0), ten(3).effort(7.0)], "V3 from day 3"),
                ("effort 7.5", vec![ten(0), ten(3).effort(7.5)], "nothing"),
                ("pain 2", vec![ten(0), ten(3).pain(2, "")], "V3 from day 3"),
                ("pain 3", vec![ten(0), ten(3).pain(3, "")], "nothing"),
                ("a missed rep between", vec![ten(0), short.asked(5), ten(7)], "nothing"),
                ("a set short on the right", vec![ten(0), set_short], "nothing"),
                ("it stands though the next is worse", vec![ten(0), ten(3), ladder(7, 4, 5)], "V3 from day 3"),
                ("the step is taken", vec![ten(0), ten(3), bigger(7)], "V3 day 3 to 7"),
                (
                    "beside the bigger club nothing is earned again",
                    vec![ten(0), ten(3), bigger(7), ten(10), ten(14)],
                    "V3 day 3 to 7",
                ),
                (
                    "earned for the first time beside a bigger club: on record once",
                    vec![bigger(0), ten(3), ten(7), ten(10)],
                    "V3 day 7 to 7",
                ),
                ("two running are two running since the bigger club", vec![ten(0), bigger(3), ten(7)], "nothing"),
                (
                    "once the bigger club counts as left",
                    vec![ten(0), ten(3), bigger(7), ten(32), ten(35)],
                    "V3 day 3 to 7, V3 from day 35",
                ),
            ],
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v3_the_target() {
        let twice = || sets(&[(0, 10), (3, 10)]);
        examples(
            &["V3"],
            [
                ("the block's is 12", with_blocks(twice(), &[((-7, 60), 12)]), "nothing"),
                ("the block's is 10", with_blocks(twice(), &[((-7, 60), 10)]), "V3 from day 3"),
                ("the block's is 8", with_blocks(sets(&[(0, 8), (3, 8)]), &[((-7, 60), 8)]), "V3 from day 3"),
                ("a block over until the day", with_blocks(twice(), &[((-7, 3), 12)]), "nothing"),
                ("over the day before", with_blocks(twice(), &[((-7, -1), 12)]), "V3 from day 3"),
                ("a block from the day on", with_blocks(twice(), &[((3, 60), 12)]), "nothing"),
                ("from the day after", with_blocks(twice(), &[((4, 60), 12)]), "V3 from day 3"),
                ("of two blocks the newer", with_blocks(twice(), &[((-2, 60), 12), ((-7, 60), 10)]), "nothing"),
            ],
        );
        let mut other_club = with_blocks(twice(), &[((-7, 60), 12)]);
        for block in other_club.blocks.iter_mut().flatten() {
            block.loading = club(2);
        }
        assert_eq!(
            said(&other_club, &Policy::default(), &["V3"], 3),
            "V3 from day 3"
        );
        for (words, steps, expected) in [
            ("10 twice", &[(0, 10), (3, 10)][..], (10, 10, 2)),
            ("19 twice", &[(0, 19), (3, 19)], (19, 10, 2)),
            ("10, 10, 20", &[(0, 10), (3, 10), (7, 20)], (20, 10, 3)),
            ("10, 10, 20, 20", &[(0, 10), (3, 10), (7, 20), (10, 20)], (20, 20, 4)),
            ("10, 20, 20", &[(0, 10), (3, 20), (7, 20)], (20, 20, 3)),
        ] {
            let Evidence::LadderDone {
                sets,
                target,
                reps: 5,
                in_a_row,
            } = figures(sets(steps), Rule::V3)
            else {
                panic!("{words}");
            };
            assert_eq!((sets, target, in_a_row), expected, "{words}");
        }
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v4_volume_kept() {
        let step = |on, sets: usize| session(on).straight(Hands::One, 2, &vec![5; sets]);
        let then = |more: &[Day]| [&sets(&[(0, 10), (3, 10)]), more].concat();
        let two_hands = |on, club| session(on).straight(Hands::Two, club, &[5; 10]);
        examples(
            &["V4"],
            [
                ("10 sets, a step, 5 sets", then(&[step(7, 5)]), "nothing"),
                ("10 sets, a step, 6 sets", then(&[step(7, 6)]), "V4 from day 7"),
                ("10 sets, a step, 10 sets", then(&[step(7, 10)]), "V4 from day 7"),
                ("and then 6", then(&[step(7, 10), step(10, 6)]), "V4 from day 7"),
                ("and then 5", then(&[step(7, 10), step(10, 5)]), "V4 day 7 to 10"),
                ("5 with the old club", then(&[step(7, 10), ladder(10, 5, 5)]), "V4 day 7 to 10"),
                ("5 in another movement", then(&[step(7, 10), step(10, 5).moving(PULLOVER)]), "V4 from day 7"),
                ("a step down", vec![step(0, 5), ladder(3, 10, 5)], "nothing"),
                ("two hands", vec![two_hands(0, 1), two_hands(3, 2)], "nothing"),
                ("left for 28 days", then(&[step(7, 10), step(35, 10)]), "V4 day 7 to 35"),
            ],
        );
        let mut days = sets(&[(0, 10), (3, 9)]);
        days.push(session(7).straight(Hands::One, 2, &[4; 8]));
        assert_eq!(
            figures(days, Rule::V4),
            Evidence::Ladder {
                sets: 8,
                sets_before: Some(9),
                reps: 4,
                reps_before: Some(5),
                allowed_sets: Some(5),
                allowed_reps: None,
                because: None,
            }
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v5_the_next_session_does_not_add() {
        let missed = || session(0).straight(Hands::One, 1, &[5, 5, 5, 5, 4]);
        let then = |first: Day, next| vec![first, ladder(3, next, 5)];
        let five = || ladder(0, 5, 5);
        let short = session(3).straight(Hands::One, 1, &[5, 4, 4, 3, 3]);
        examples(
            &["V5"],
            [
                ("nothing reported, then 6", then(five(), 6), "nothing"),
                ("missed a rep, then 6", then(missed(), 6), "V5 from day 3"),
                ("missed a rep, then 5", then(missed(), 5), "nothing"),
                ("effort 8.5, then 6", then(five().effort(8.5), 6), "nothing"),
                ("effort 9, then 6", then(five().effort(9.0), 6), "V5 from day 3"),
                ("effort 10, then 5", then(five().effort(10.0), 5), "nothing"),
                ("pain 2, then 6", then(five().pain(2, ""), 6), "nothing"),
                ("pain 3, then 6", then(five().pain(3, ""), 6), "V5 from day 3"),
                (
                    "most sets short of the ladder's five, then 6",
                    vec![five(), short, ladder(7, 6, 5)],
                    "V5 from day 7",
                ),
                (
                    "effort 9, added all the same, then kept",
                    vec![five().effort(9.0), ladder(3, 6, 5), ladder(7, 6, 5)],
                    "V5 day 3 to 7",
                ),
                (
                    "pain 3 in a session that stopped before its first set, then 6",
                    vec![five(), session(3).pain(3, ""), ladder(7, 6, 5)],
                    "V5 from day 7",
                ),
                (
                    "pain 2 in a session that stopped before its first set, then 6",
                    vec![five(), session(3).pain(2, ""), ladder(7, 6, 5)],
                    "nothing",
                ),
                (
                    "pain 3 before a first set, then 5, then 6",
                    vec![five(), session(3).pain(3, ""), ladder(7, 5, 5), ladder(10, 6, 5)],
                    "nothing",
                ),
                ("27 days later", vec![five().effort(9.0), ladder(27, 6, 5)], "V5 from day 27"),
                ("28 days later", vec![five().effort(9.0), ladder(28, 6, 5)], "nothing"),
            ],
        );
        for (first, missed_reps, effort, pain) in [
            (missed(), true, None, None),
            (five().effort(9.5).pain(2, ""), false, Some(9.5), None),
            (five().effort(8.5).pain(4, ""), false, None, Some(4)),
        ] {
            assert_eq!(
                figures(then(first, 6), Rule::V5),
                Evidence::Ladder {
                    sets: 6,
                    sets_before: Some(5),
                    reps: 5,
                    reps_before: Some(5),
                    allowed_sets: Some(5),
                    allowed_reps: None,
                    because: Some(NoAdding {
                        missed_reps,
                        effort,
                        pain
                    }),
                }
            );
        }
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn v6_every_fourth_week_holds() {
        let adding = || sets(&[(0, 5), (7, 6), (14, 7), (21, 8), (28, 9)]);
        let third = || sets(&[(0, 5), (7, 6), (14, 7)]);
        examples(
            &["V6"],
            [
                ("one more in the third week", third().into(), "nothing"),
                ("one more in the fourth", sets(&[(0, 5), (7, 6), (14, 7), (21, 8)]).into(), "V6 from day 21"),
                ("and one more in the fifth", adding().into(), "V6 day 21 to 28"),
                ("the fourth holds", sets(&[(0, 5), (7, 6), (14, 7), (21, 7), (24, 7)]).into(), "nothing"),
                ("the fourth is light", sets(&[(0, 5), (7, 6), (14, 7), (21, 4), (24, 7)]).into(), "nothing"),
                ("from Thursday on: ISO weeks", sets(&[(3, 5), (7, 6), (14, 7), (21, 8)]).into(), "V6 from day 21"),
                ("Sunday of the fourth week", sets(&[(0, 5), (7, 6), (14, 7), (27, 8)]).into(), "V6 from day 27"),
                ("more than 28 days ago", sets(&[(0, 5), (1, 8), (20, 6), (48, 6), (55, 7)]).into(), "nothing"),
                (
                    "the block began a week before the log: its fourth week is the log's third",
                    with_blocks(third(), &[((-7, 60), 10)]),
                    "V6 from day 14",
                ),
            ],
        );
        assert_eq!(
            figures(sets(&[(0, 5), (7, 6), (14, 7), (21, 9)]), Rule::V6),
            Evidence::Ladder {
                sets: 9,
                sets_before: Some(7),
                reps: 5,
                reps_before: None,
                allowed_sets: Some(7),
                allowed_reps: None,
                because: None,
            }
        );
    }

    /// As the help page says of all of them.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn a_ladders_flags_end_when_the_club_is_no_longer_in_use() {
        let with_club = |on, club| session(on).straight(Hands::One, club, &[5; 5]);
        let then = |more: Vec<Day>| {
            let begun = vec![
                with_club(0, 2),
                with_club(7, 2),
                with_club(14, 2).effort(9.0),
                session(21).straight(Hands::One, 2, &[6; 8]),
            ];
            [begun, more].concat()
        };
        let lighter = |days: &[i64]| days.iter().map(|on| with_club(*on, 1)).collect::<Vec<_>>();
        for rule in ["V1", "V2", "V5", "V6"] {
            let stands = format!("{rule} from day 21");
            let ended = |on| format!("{rule} day 21 to {on}");
            for (words, days, as_of, expected) in [
                ("a bigger club", then(vec![with_club(24, 3)]), 24, ended(24)),
                ("three sessions with a lighter one", then(lighter(&[24, 28, 31])), 31, stands.clone()),
                ("four", then(lighter(&[24, 28, 31, 35])), 35, ended(35)),
                ("27 days without", then(Vec::new()), 48, stands),
                ("28 days without", then(Vec::new()), 49, ended(49)),
            ] {
                let found = said(&days.into(), &Policy::default(), &[rule], as_of);
                assert_eq!(found, expected, "{words}");
            }
        }
    }
}
