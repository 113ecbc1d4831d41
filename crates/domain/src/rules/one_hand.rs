//! V · One-hand strength by volume: the set ladder.
//!
//! A *ladder* is the straight sets of one movement with one hand and one club: the reps of a set stay,
//! sets are added. A set counts once both sides have done it. All of this is common practice without
//! a published source, but for V3.
//!
//! - **V1** Sets of 3 to 5 reps, and the first one-hand session of a movement has no more than 5 sets.
//!   Ends with the next session whose reps are in bounds; too many first sets: once a session has 5 or
//!   fewer, or four sessions running went well.
//! - **V2** The reps of a set do not change within a ladder, and no more than two sets are added within
//!   any seven days. Coming back up to a number of sets that the ladder had in the four weeks before is
//!   not adding. Ends with the next session that keeps to it.
//! - **V3** A step is earned once the ladder's target was done in full on both sides in two sessions
//!   running, at no more than effort 7 and pain 2; the target is the running block's, else 10, then 20.
//!   Two in a row is the shape of the 2-for-2 rule (NSCA, from memory). Ends as T4 does.
//! - **V4** After a step the ladder starts again at 5 sets. Ends with a session of 5 sets or fewer, and
//!   as every flag about a step does ([`super::steps`]).
//! - **V5** After a missed rep, effort 9 or more, or pain 3 or more, the next session adds no sets. Ends
//!   with the next session that adds none.
//! - **V6** Every fourth week the ladder holds. Weeks are ISO weeks, counted from the running block's
//!   first, else from the one in which the ladder began. Ends with the next session that adds none.
//!
//! V1, V2, V5 and V6 end, beside their own reasons, as V3 and T4 do: once a bigger club has been worked
//! in the movement, once four sessions running used other clubs, or when the ladder has not been worked
//! for 28 days. After such a gap it begins again.

use std::collections::BTreeMap;

use time::{Date, Duration};

use super::club_use::{self, ClubUse};
use super::log::Log;
use super::steps::Step;
use super::{Episode, Evidence, Flag, NoAdding, Rule, Subject};
use crate::id::{LoadingId, MovementId};
use crate::plan::{SetLadder, ladder_block, week_that_holds};
use crate::training::{BlockSpan, Bout, Hands, Session};

/// What a ladder is judged at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    movement: MovementId,
    loading: LoadingId,
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

/// V1 to V3, V5 and V6.
pub(super) fn episodes(log: &Log) -> Vec<Episode> {
    let mut ladders: BTreeMap<Key, Vec<(usize, Rung)>> = BTreeMap::new();
    let mut begun: BTreeMap<MovementId, usize> = BTreeMap::new();
    for (index, (session, bouts)) in log.sessions().enumerate() {
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

    /// V5: what says that the next session does not add.
    fn says_not_to_add(&self, log: &Log) -> Option<NoAdding> {
        let because = NoAdding {
            missed_reps: self.missed,
            effort: self
                .effort
                .filter(|effort| *effort >= log.policy.no_add_effort),
            pain: self.pain.filter(|pain| *pain >= log.policy.no_add_pain),
        };
        (because.missed_reps || because.effort.is_some() || because.pain.is_some())
            .then_some(because)
    }
}

/// A flag that stands until a session keeps to its rule.
#[derive(Debug, Clone)]
struct Standing {
    since: Date,
    evidence: Evidence,
}

/// The walk over one ladder's sessions, in order.
struct Ladder<'a> {
    log: &'a Log<'a>,
    key: Key,
    /// All rungs so far, and where the present run of them begins: after the last gap.
    rungs: Vec<Rung>,
    run_from: usize,
    in_use: ClubUse,
    standing: BTreeMap<Rule, Standing>,
    /// V1, too many first sets, with the sessions since that went well.
    heavy_start: Option<(Standing, usize)>,
    /// V3: sessions running that did the target.
    running: usize,
    ever_earned: bool,
    done: Vec<Episode>,
}

impl<'a> Ladder<'a> {
    fn new(log: &'a Log<'a>, key: Key) -> Self {
        Self {
            log,
            key,
            rungs: Vec::new(),
            run_from: 0,
            in_use: ClubUse::default(),
            standing: BTreeMap::new(),
            heavy_start: None,
            running: 0,
            ever_earned: false,
            done: Vec::new(),
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
        for rule in std::mem::take(&mut self.standing) {
            self.write(rule.0, rule.1, None);
        }
        if let Some((start, _)) = self.heavy_start.take() {
            self.write(Rule::V1, start, None);
        }
        self.done
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
        for (rule, standing) in std::mem::take(&mut self.standing) {
            self.write(rule, standing, Some(on));
        }
        self.end_heavy_start(on);
        self.running = 0;
    }

    fn judge(&mut self, rung: &Rung) {
        let reps = self.reps_out_of_bounds(rung);
        self.keep(Rule::V1, rung, reps);
        self.judge_start(rung);
        let changed = self.reps_changed(rung).or_else(|| self.too_fast(rung));
        self.keep(Rule::V2, rung, changed);
        let added = self.added_against_advice(rung);
        self.keep(Rule::V5, rung, added);
        let held = self.added_in_a_week_that_holds(rung);
        self.keep(Rule::V6, rung, held);
        self.judge_earned(rung);
    }

    /// Raises a flag, leaves it standing, or ends it, as this session has it.
    fn keep(&mut self, rule: Rule, rung: &Rung, found: Option<Evidence>) {
        match (self.standing.remove(&rule), found) {
            (None, None) => {}
            (Some(standing), None) => self.write(rule, standing, Some(rung.on)),
            (standing, Some(evidence)) => {
                let since = standing.map_or(rung.on, |standing| standing.since);
                self.standing.insert(rule, Standing { since, evidence });
            }
        }
    }

    /// V1, reps.
    fn reps_out_of_bounds(&self, rung: &Rung) -> Option<Evidence> {
        let (min, max) = (
            self.log.policy.ladder_reps_min,
            self.log.policy.ladder_reps_max,
        );
        let (reps, allowed) = if rung.reps.max(rung.most_reps) > max {
            (rung.reps.max(rung.most_reps), max)
        } else if rung.reps < min {
            (rung.reps, min)
        } else {
            return None;
        };
        Some(Evidence::Ladder {
            sets: rung.sets,
            sets_before: self.run().last().map(|before| before.sets),
            reps,
            reps_before: self.run().last().map(|before| before.reps),
            allowed_sets: None,
            allowed_reps: Some(allowed),
            because: None,
        })
    }

    /// V1, first sets.
    fn judge_start(&mut self, rung: &Rung) {
        let start = u16::from(self.log.policy.ladder_start_sets);
        if let Some((_, went_well)) = &mut self.heavy_start {
            *went_well = if rung.easy_enough && !rung.missed {
                *went_well + 1
            } else {
                0
            };
            if rung.sets <= start || *went_well >= self.log.policy.settled_sessions {
                self.end_heavy_start(rung.on);
            }
        } else if rung.first_of_movement && rung.sets > start {
            let evidence = Evidence::Ladder {
                sets: rung.sets,
                sets_before: None,
                reps: rung.reps,
                reps_before: None,
                allowed_sets: Some(start),
                allowed_reps: None,
                because: None,
            };
            let since = rung.on;
            self.heavy_start = Some((Standing { since, evidence }, 0));
        }
    }

    fn end_heavy_start(&mut self, on: Date) {
        if let Some((start, _)) = self.heavy_start.take() {
            self.write(Rule::V1, start, Some(on));
        }
    }

    /// V2, reps: another number of reps than the session before, planned or in every set, or more in
    /// any set.
    fn reps_changed(&self, rung: &Rung) -> Option<Evidence> {
        let before = self.run().last()?;
        let reps = rung.reps.max(rung.most_reps);
        let changed = reps > before.reps || rung.reps < before.reps;
        changed.then_some(Evidence::Ladder {
            sets: rung.sets,
            sets_before: Some(before.sets),
            reps: if reps > before.reps { reps } else { rung.reps },
            reps_before: Some(before.reps),
            allowed_sets: None,
            allowed_reps: Some(before.reps),
            because: None,
        })
    }

    /// V2, sets: more added within seven days than the pace allows.
    ///
    /// A ladder that begins, or begins again, may always do so with the sets that begin one (V1, V4).
    fn too_fast(&self, rung: &Rung) -> Option<Evidence> {
        let start = u16::from(self.log.policy.ladder_start_sets);
        if self.run().is_empty() && rung.sets <= start {
            return None;
        }
        let a_week_before = rung.on - Duration::WEEK;
        let reached = self
            .lately(rung.on - Duration::weeks(5))
            .filter(|before| before.on <= a_week_before)
            .map(|before| before.sets)
            .max();
        let first_this_week = || {
            self.rungs
                .iter()
                .rev()
                .take_while(|before| before.on > a_week_before)
                .last()
        };
        let base = reached
            .or_else(|| first_this_week().map(|before| before.sets))
            .or_else(|| self.rungs.last().map(|before| before.sets))?;
        let allowed = base + u16::from(self.log.policy.ladder_added_sets_max);
        let back_up = self
            .lately(rung.on - Duration::weeks(4))
            .any(|before| before.sets >= rung.sets);
        (rung.sets > allowed && !back_up).then_some(Evidence::Ladder {
            sets: rung.sets,
            sets_before: Some(base),
            reps: rung.reps,
            reps_before: None,
            allowed_sets: Some(allowed),
            allowed_reps: None,
            because: None,
        })
    }

    /// Rungs from this day on, newest first.
    fn lately(&self, from: Date) -> impl Iterator<Item = &Rung> {
        self.rungs
            .iter()
            .rev()
            .take_while(move |rung| rung.on >= from)
    }

    /// V5.
    fn added_against_advice(&self, rung: &Rung) -> Option<Evidence> {
        let before = self.run().last()?;
        let because = before.says_not_to_add(self.log)?;
        (rung.sets > before.sets).then_some(Evidence::Ladder {
            sets: rung.sets,
            sets_before: Some(before.sets),
            reps: rung.reps,
            reps_before: Some(before.reps),
            allowed_sets: Some(before.sets),
            allowed_reps: None,
            because: Some(because),
        })
    }

    /// V6.
    fn added_in_a_week_that_holds(&self, rung: &Rung) -> Option<Evidence> {
        let began = self
            .block_on(rung.on)
            .map(|(block, _)| block.from)
            .or_else(|| self.run().first().map(|first| first.on))?;
        week_that_holds(self.log.policy, began, rung.on)?;
        let most = self
            .run()
            .iter()
            .rev()
            .take_while(|before| before.on >= rung.on - Duration::weeks(4))
            .map(|before| before.sets)
            .max()?;
        (rung.sets > most).then_some(Evidence::Ladder {
            sets: rung.sets,
            sets_before: Some(most),
            reps: rung.reps,
            reps_before: None,
            allowed_sets: Some(most),
            allowed_reps: None,
            because: None,
        })
    }

    /// The ladder block that runs on this day; of several the newest.
    fn block_on(&self, day: Date) -> Option<(&'a BlockSpan, &'a SetLadder)> {
        ladder_block(self.log.history, self.key.movement, self.key.loading, day)
    }

    /// V3.
    fn judge_earned(&mut self, rung: &Rung) {
        let planned = self
            .block_on(rung.on)
            .map(|(_, ladder)| u16::from(ladder.target_sets));
        let targets = self.log.policy.ladder_targets.map(u16::from);
        let target = planned.or_else(|| {
            targets
                .into_iter()
                .filter(|target| *target <= rung.sets)
                .max()
        });
        let in_full = !rung.missed && rung.easy_enough;
        let Some(target) = target.filter(|target| in_full && rung.sets >= *target) else {
            self.running = 0;
            return;
        };
        self.running += 1;
        if self.running < self.log.policy.earned_in_a_row {
            return;
        }
        let row = self.log.policy.earned_in_a_row.saturating_sub(1);
        let of_all = self
            .run()
            .iter()
            .rev()
            .take(row)
            .map(|before| before.sets)
            .chain([rung.sets])
            .min()
            .unwrap_or(rung.sets);
        let target = match planned {
            Some(planned) => planned,
            None => targets
                .into_iter()
                .filter(|each| *each <= of_all)
                .max()
                .unwrap_or(target),
        };
        let evidence = Evidence::LadderDone {
            sets: rung.sets,
            target,
            reps: rung.reps,
            in_a_row: self.running,
        };
        let bigger_in_use = self.in_use.bigger_in_use(self.log, rung.on);
        let since = match self.standing.remove(&Rule::V3) {
            Some(standing) => standing.since,
            None if bigger_in_use && self.ever_earned => return,
            None => rung.on,
        };
        self.ever_earned = true;
        let standing = Standing { since, evidence };
        if bigger_in_use {
            self.write(Rule::V3, standing, Some(rung.on));
        } else {
            self.standing.insert(Rule::V3, standing);
        }
    }

    fn write(&mut self, rule: Rule, standing: Standing, until: Option<Date>) {
        let key = self.key;
        self.done.push(episode(rule, key, standing, until));
    }
}

fn episode(rule: Rule, key: Key, standing: Standing, until: Option<Date>) -> Episode {
    Episode {
        flag: Flag {
            rule,
            severity: rule.severity(),
            subject: Subject {
                movement: Some(key.movement),
                hands: Some(Hands::One),
                loading: Some(key.loading),
                seconds: None,
                place: None,
            },
            since: standing.since,
            evidence: standing.evidence,
        },
        until,
    }
}

/// V4.
pub(super) fn volume_kept(log: &Log, steps: &[Step]) -> Vec<Episode> {
    let start = u16::from(log.policy.ladder_start_sets);
    let sets = |session: usize, movement, loading| {
        log.bouts(session)
            .iter()
            .find(|bout| is_ladder(bout) && (bout.movement, bout.loading) == (movement, loading))
    };
    steps
        .iter()
        .filter(|step| step.hands == Hands::One)
        .filter_map(|step| {
            let now = sets(step.session, step.movement, step.to)?;
            if now.sets_each_side() <= start {
                return None;
            }
            let before = sets(step.from_session, step.movement, step.from);
            let began_again = log
                .sessions()
                .skip(step.session + 1)
                .find(|(_, bouts)| {
                    bouts.iter().any(|bout| {
                        is_ladder(bout)
                            && (bout.movement, bout.loading) == (step.movement, step.to)
                            && bout.sets_each_side() <= start
                    })
                })
                .map(|(session, _)| session.on);
            let key = Key {
                movement: step.movement,
                loading: step.to,
            };
            let evidence = Evidence::Ladder {
                sets: now.sets_each_side(),
                sets_before: before.map(Bout::sets_each_side),
                reps: now.reps,
                reps_before: before.map(|bout| bout.reps),
                allowed_sets: Some(start),
                allowed_reps: None,
                because: None,
            };
            let since = step.on;
            let until = [step.until, began_again].into_iter().flatten().min();
            Some(episode(Rule::V4, key, Standing { since, evidence }, until))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::scenario::{Did, block, history, lives, only, rack, session};
    use super::*;
    use crate::plan::Scheme;
    use crate::training::{History, Side};
    use crate::units::Reps;

    /// One one-hand session with club 1.
    fn ladder(on: i64, sets: usize, reps: u16) -> Session {
        session(on).straight(Hands::One, 1, &vec![reps; sets])
    }

    fn ladders(steps: &[(i64, usize)]) -> Vec<Session> {
        steps
            .iter()
            .map(|(on, sets)| ladder(*on, *sets, 5))
            .collect()
    }

    // All of V is common practice of the trade, no source, but for two in a row (V3).

    /// As the help page says of all four; the next session that keeps to the rule is tried one by one
    /// below.
    #[test]
    fn a_ladders_flags_end_when_the_club_is_no_longer_in_use() {
        let with_club = |on, club| session(on).straight(Hands::One, club, &[5; 5]);
        let begun = || {
            vec![
                with_club(0, 2),
                with_club(7, 2),
                with_club(14, 2).effort(9.0),
                session(21).straight(Hands::One, 2, &[6; 8]),
            ]
        };
        let ends = |more: Vec<Session>, on: i64| {
            let sessions = begun().into_iter().chain(more).collect();
            let expected: Vec<String> = ["V1", "V2", "V5", "V6"]
                .map(|rule| format!("{rule} 21-{on}"))
                .into();
            let found = lives(&history(sessions), &["V1", "V2", "V5", "V6"], 60);
            assert_eq!(found, expected);
        };
        ends(vec![with_club(24, 3)], 24);
        ends([24, 28, 31, 35].map(|on| with_club(on, 1)).into(), 35);
        ends(Vec::new(), 49);
    }

    #[test]
    fn v1_three_to_five_reps() {
        for (reps, flagged) in [(1, true), (2, true), (3, false), (5, false), (6, true)] {
            let found = lives(&history(vec![ladder(0, 5, reps)]), &["V1"], 0);
            assert_eq!(found.len(), usize::from(flagged), "{reps} reps");
        }
        let sessions = vec![ladder(0, 5, 6), ladder(3, 5, 6), ladder(7, 5, 5)];
        assert_eq!(lives(&history(sessions), &["V1"], 8), ["V1 0-7"]);
        // Two of five asked for is a missed rep, not a set of two.
        let missed = session(0).straight(Hands::One, 1, &[5, 5, 2]).asked(5);
        assert_eq!(lives(&history(vec![missed]), &["V1"], 0), [""; 0]);
        // Straight sets with two hands are no ladder.
        let two = session(0).straight(Hands::Two, 1, &[12, 12]);
        assert_eq!(lives(&history(vec![two]), &["V1"], 0), [""; 0]);
    }

    #[test]
    fn v1_five_sets_to_begin_with() {
        assert_eq!(lives(&history(ladders(&[(0, 5)])), &["V1"], 0), [""; 0]);
        assert_eq!(lives(&history(ladders(&[(0, 3)])), &["V1"], 0), [""; 0]);
        assert_eq!(lives(&history(ladders(&[(0, 6)])), &["V1"], 0), ["V1 0-"]);
        let back = ladders(&[(0, 8), (3, 8), (7, 5)]);
        assert_eq!(lives(&history(back), &["V1"], 8), ["V1 0-7"]);
        let settled = ladders(&[(0, 6), (3, 6), (7, 6), (10, 6), (14, 6)]);
        assert_eq!(lives(&history(settled), &["V1"], 15), ["V1 0-14"]);
    }

    #[test]
    fn v2_at_most_two_sets_in_seven_days() {
        type Case<'a> = (&'a str, &'a [(i64, usize)], &'a [&'a str]);
        let cases: [Case; 8] = [
            ("one a week", &[(0, 5), (3, 5), (7, 6), (10, 6)], &[]),
            ("two in a week", &[(0, 5), (3, 7)], &[]),
            ("three at once", &[(0, 5), (3, 8), (7, 8)], &["V2 3-7"]),
            ("three by ones", &[(0, 5), (3, 7), (6, 8)], &["V2 6-"]),
            (
                "from the level of a week before",
                &[(0, 5), (5, 7), (8, 8)],
                &["V2 8-"],
            ),
            ("at once after ten days", &[(0, 5), (10, 9)], &["V2 10-"]),
            (
                "two each week",
                &[(0, 5), (3, 6), (7, 7), (10, 8), (14, 9)],
                &[],
            ),
            (
                "back up after a light week",
                &[(0, 5), (7, 6), (14, 7), (21, 4), (24, 7)],
                &[],
            ),
        ];
        for (name, steps, expected) in cases {
            let found = lives(&history(ladders(steps)), &["V2"], 24);
            assert_eq!(found, expected, "{name}");
        }
    }

    #[test]
    fn v2_reps_stay() {
        let more = vec![ladder(0, 5, 3), ladder(3, 5, 4), ladder(7, 5, 4)];
        assert_eq!(lives(&history(more.clone()), &["V2"], 8), ["V2 3-7"]);
        let Evidence::Ladder {
            reps,
            reps_before,
            allowed_reps,
            allowed_sets,
            ..
        } = only(&history(more), Rule::V2, 8).flag.evidence
        else {
            panic!("ladder evidence");
        };
        assert_eq!(
            (reps, reps_before, allowed_reps, allowed_sets),
            (4, Some(3), Some(3), None)
        );
        let fewer = vec![ladder(0, 5, 5), ladder(3, 5, 3)];
        assert_eq!(lives(&history(fewer), &["V2"], 3), ["V2 3-"]);
        let one_set_more = vec![
            ladder(0, 5, 3),
            session(3).straight(Hands::One, 1, &[3, 3, 3, 3, 4]),
        ];
        assert_eq!(lives(&history(one_set_more), &["V2"], 3), ["V2 3-"]);
        // Most sets short of the ladder's five, without a plan: missed reps, not a change.
        let short = vec![
            ladder(0, 5, 5),
            session(3).straight(Hands::One, 1, &[5, 4, 4, 3, 3]),
        ];
        assert_eq!(lives(&history(short), &["V2"], 3), [""; 0]);
        // Another club is another ladder.
        let other = vec![ladder(0, 5, 3), session(3).straight(Hands::One, 2, &[5; 5])];
        assert_eq!(lives(&history(other), &["V2"], 3), [""; 0]);
    }

    #[test]
    fn v3_the_target_twice_in_full() {
        let cases: [(&str, Vec<Session>, &[&str]); 6] = [
            (
                "twice",
                vec![ladder(0, 10, 5), ladder(3, 10, 5)],
                &["V3 3-"],
            ),
            ("once", vec![ladder(0, 9, 5), ladder(3, 10, 5)], &[]),
            (
                "hard",
                vec![ladder(0, 10, 5), ladder(3, 10, 5).effort(7.5)],
                &[],
            ),
            (
                "it hurt",
                vec![ladder(0, 10, 5), ladder(3, 10, 5).pain(3)],
                &[],
            ),
            (
                "a missed rep between",
                vec![
                    ladder(0, 10, 5),
                    session(3)
                        .straight(Hands::One, 1, &[5, 5, 5, 5, 5, 5, 5, 5, 5, 4])
                        .asked(5),
                    ladder(7, 10, 5),
                ],
                &[],
            ),
            (
                "a set short on the right",
                vec![ladder(0, 10, 5), {
                    let mut session = ladder(3, 10, 5);
                    session.sets.pop();
                    session
                }],
                &[],
            ),
        ];
        for (name, sessions, expected) in cases {
            assert_eq!(lives(&history(sessions), &["V3"], 8), expected, "{name}");
        }
    }

    #[test]
    fn v3_names_the_higher_target_once_that_is_done() {
        let target = |sessions: &[(i64, usize)]| {
            let episode = only(&history(ladders(sessions)), Rule::V3, 20);
            match episode.flag.evidence {
                Evidence::LadderDone { target, .. } => target,
                other => panic!("{other:?}"),
            }
        };
        assert_eq!(target(&[(0, 10), (3, 10)]), 10);
        assert_eq!(target(&[(0, 10), (3, 10), (7, 20)]), 10);
        assert_eq!(target(&[(0, 10), (3, 10), (7, 20), (10, 20)]), 20);
    }

    fn with_block(sessions: Vec<Session>, target_sets: u8) -> History {
        let scheme = Scheme::SetLadder(SetLadder {
            reps: Reps::new(5).unwrap(),
            start_sets: 5,
            add_per_week: 1,
            target_sets,
            light_fourth_week: false,
            rest_seconds: 60,
        });
        let block = block(Hands::One, 1, -7, 60, scheme);
        History::new(sessions, rack(), Some(vec![block]))
    }

    #[test]
    fn v3_the_blocks_target_counts() {
        let sessions = || ladders(&[(0, 10), (3, 10)]);
        assert_eq!(lives(&with_block(sessions(), 12), &["V3"], 8), [""; 0]);
        assert_eq!(lives(&with_block(sessions(), 8), &["V3"], 8), ["V3 3-"]);
    }

    #[test]
    fn v4_the_ladder_starts_again_after_a_step() {
        let step = |sets: usize| session(7).straight(Hands::One, 2, &vec![5; sets]);
        let before = || ladders(&[(0, 10), (3, 10)]);
        let mut kept = before();
        kept.push(step(10));
        assert_eq!(
            lives(&history(kept.clone()), &["V4", "W4"], 8),
            ["V4 7-", "W4 7-"]
        );
        kept.push(session(10).straight(Hands::One, 2, &[5; 5]));
        assert_eq!(
            lives(&history(kept), &["V4", "W4"], 11),
            ["V4 7-10", "W4 7-10"]
        );
        let mut again = before();
        again.push(step(5));
        assert_eq!(lives(&history(again), &["V4", "W4"], 8), [""; 0]);
        // A step down is none.
        let down = vec![
            session(0).straight(Hands::One, 2, &[5; 5]),
            session(3).straight(Hands::One, 1, &[5; 10]),
        ];
        assert_eq!(lives(&history(down), &["V4", "W4"], 8), [""; 0]);
    }

    #[test]
    fn v5_nothing_is_added_after_a_session_that_said_not_to() {
        let missed = session(0).straight(Hands::One, 1, &[5, 5, 5, 5, 4]);
        let cases: [(&str, Session, usize, bool); 7] = [
            ("missed a rep", missed, 6, true),
            ("effort 9", ladder(0, 5, 5).effort(9.0), 6, true),
            ("effort 8.5", ladder(0, 5, 5).effort(8.5), 6, false),
            ("pain 3", ladder(0, 5, 5).pain(3), 6, true),
            ("pain 2", ladder(0, 5, 5).pain(2), 6, false),
            ("held", ladder(0, 5, 5).effort(10.0), 5, false),
            ("nothing reported", ladder(0, 5, 5), 6, false),
        ];
        for (name, first, next, flagged) in cases {
            let found = lives(&history(vec![first, ladder(3, next, 5)]), &["V5"], 3);
            assert_eq!(found.len(), usize::from(flagged), "{name}");
        }
        let sessions = vec![
            ladder(0, 5, 5).effort(9.5),
            ladder(3, 6, 5),
            ladder(7, 6, 5),
        ];
        assert_eq!(lives(&history(sessions), &["V5"], 8), ["V5 3-7"]);
    }

    #[test]
    fn v6_every_fourth_week_holds() {
        let adding = [(0, 5), (7, 6), (14, 7), (21, 8), (28, 9)];
        assert_eq!(lives(&history(ladders(&adding)), &["V6"], 29), ["V6 21-28"]);
        let holding = [(0, 5), (7, 6), (14, 7), (21, 7), (24, 7), (28, 8)];
        assert_eq!(lives(&history(ladders(&holding)), &["V6"], 29), [""; 0]);
        let light = [(0, 5), (7, 6), (14, 7), (21, 4), (24, 7)];
        assert_eq!(lives(&history(ladders(&light)), &["V6"], 29), [""; 0]);
        // Thursday to Thursday is four ISO weeks, though only three times seven days.
        let from_thursday = [(3, 5), (7, 6), (14, 7), (21, 8)];
        assert_eq!(
            lives(&history(ladders(&from_thursday)), &["V6"], 21),
            ["V6 21-"]
        );
        // The block began a week before the log: its fourth week is the log's third.
        assert_eq!(
            lives(&with_block(ladders(&adding), 10), &["V6"], 29),
            ["V6 14-21"]
        );
    }

    #[test]
    fn a_ladder_left_for_28_days_begins_again() {
        let sessions = vec![ladder(0, 5, 3), ladder(28, 5, 5)];
        assert_eq!(lives(&history(sessions), &["V2"], 28), [""; 0]);
        let sessions = vec![ladder(0, 5, 3), ladder(27, 5, 5)];
        assert_eq!(lives(&history(sessions), &["V2"], 28), ["V2 27-"]);
    }

    #[test]
    fn a_set_counts_once_both_sides_have_done_it() {
        let mut session = ladder(0, 5, 5);
        for _ in 0..5 {
            let set = session.sets[0];
            assert_eq!(set.side, Side::Left);
            session.sets.push(set);
        }
        assert_eq!(lives(&history(vec![session]), &["V1"], 0), [""; 0]);
    }
}
