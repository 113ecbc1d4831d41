//! The path ahead: when the goal, the next club, the opening of one-hand work and its sets are to be
//! expected, each as a range of days, if an assumption holds that is said beside it.
//!
//! A range is what is found by playing the coming weeks twice: at the early end every training day is kept
//! and the count climbs as steeply as its trend allows, at the late end weeks are missed and it climbs as
//! flatly. Whoever does as assumed ends up inside. Nothing is guessed: where the log cannot say, what is
//! missing is said instead.
//!
//! - The goal (T4): the slower side's count goes on along the trend of its newest sessions, within its 90 %
//!   interval, and takes two sessions running there.
//! - The gate (O1): clubs still to be finished begin at the count at which this one's goal began and climb
//!   as fast; months and sessions a week go on from the log.
//! - One hand (O3): after the fingertip sessions.
//! - 10 and 20 sets (V2): the block's pace, else one set a week; every fourth week holds (V6).
//! - The next club (W1, W2): the one that the next step would name, the session after the step is earned.
//!
//! Common practice of the trade gives the rules; what is assumed about weeks missed is ours.

mod attendance;
#[cfg(test)]
mod tests;
mod words;

use time::{Date, Duration};

use self::attendance::Play;
pub use self::attendance::{Attendance, MissedWeeks};
use super::{
    Ask, PlannedOn, Scheme, SessionTime, SetLadder, Weekdays, ladder_block, week_that_holds,
};
use crate::density::{self, Reading};
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::progress::{self, Point, Series, WorkKey};
use crate::review::Week;
use crate::rules::{self, Climbed, Episode, Flag, Gate, Rule, Severity};
use crate::stats::{Trend, median};
use crate::training::{Bout, Hands, History, NextClub, Session, since_gap};
use crate::units::Seconds;

/// What is to be expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// T4: the goal on both sides, often enough running.
    Goal {
        /// Reps a minute; `None` while there is no goal.
        rpm: Option<f64>,
        /// With this club.
        loading: LoadingId,
    },
    /// W1, W2: the first session with the next club; `None` where there is none.
    NextClub(Option<LoadingId>),
    /// O1: the gate to one-hand work is open, and fingertip sets may begin.
    Gate,
    /// O3: the first free one-hand sets.
    OneHand,
    /// V2: so many sets on each side.
    Sets(u8),
}

/// Why there is no late end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Open {
    /// At the flat end of its trend the count does not get there.
    Trend,
    /// Fewer than four of the last eight weeks were full.
    Attendance,
    /// O1: with weeks missed, the sessions a week stay too few.
    Pace,
}

/// What the log lacks for a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// So many more sessions of this work, for a goal and a trend.
    Sessions(usize),
    /// L4: a stop flag stands.
    Stop,
    /// A1: nothing of the movement was logged for so many days.
    Gap(i64),
    /// Sets of another kind than this way of holding a club asks for.
    OtherSets,
    /// W1: the rack's next club is too far.
    TooFar(LoadingId),
    /// The rack has no bigger club.
    NoClub,
    /// The block adds no sets.
    NothingAdded,
    /// O1: with these training days, the sessions a week stay too few.
    TooFewDays,
}

/// When it is to be expected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// It has come.
    Now,
    /// In between.
    Between {
        /// Not before this day.
        early: Date,
        /// By this day, or why that cannot be said.
        late: Result<Date, Open>,
    },
    /// T4: even at the steep end of its trend the count does not get there.
    NotAtThisTrend,
    /// The log cannot say.
    Unknown(Missing),
}

/// One thing to be expected, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Milestone {
    /// What.
    pub aim: Aim,
    /// When.
    pub when: When,
}

/// The path ahead in one movement.
#[derive(Debug, Clone, PartialEq)]
pub struct WayAhead {
    /// Movement.
    pub movement: MovementId,
    /// Hands of the work at present.
    pub hands: Hands,
    /// Club of the work at present.
    pub loading: LoadingId,
    /// The interval of the work at present; `None` of straight sets.
    pub seconds: Option<Seconds>,
    /// How the athlete is taken to train.
    pub attendance: Attendance,
    /// What is to be expected, in the order in which it comes.
    pub milestones: Vec<Milestone>,
}

/// What a block leads to.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockAhead {
    /// How long a session of the first week takes.
    pub first_week: SessionTime,
    /// How long a session of the last week takes.
    pub last_week: SessionTime,
    /// Day of the last session.
    pub last_on: Date,
    /// How the athlete is taken to train.
    pub attendance: Attendance,
    /// What is to be expected.
    pub milestones: Vec<Milestone>,
}

/// The path ahead in every movement that the log holds, the one worked last first. `episodes` are those of
/// [`rules::episodes`] for the same day; `is_closed` says which flags the coach has closed or quieted, so that
/// nothing waits for them any more.
pub fn ways_ahead(
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
) -> Vec<WayAhead> {
    let attendance = Attendance::of(history, policy, None, today);
    let book = Book::new(history, policy, episodes, is_closed, attendance, today);
    let all = progress::series(history, today);
    progress::latest(history, policy, today)
        .into_iter()
        .filter_map(|latest| all.iter().find(|series| series.key == latest.key))
        .map(|series| WayAhead {
            movement: series.key.movement,
            hands: series.key.hands,
            loading: series.key.loading,
            seconds: series.key.seconds,
            attendance,
            milestones: book.milestones(series),
        })
        .collect()
}

/// What a block leads to, given its planned sessions; `None` of none. `episodes` and `is_closed` as for
/// [`ways_ahead`].
pub fn block_ahead(
    history: &History,
    policy: &Policy,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    scheme: &Scheme,
    planned: &[PlannedOn],
    today: Date,
) -> Option<BlockAhead> {
    let (first, last) = (planned.first()?, planned.last()?);
    let weekdays = planned.iter().map(|one| one.on.weekday());
    let mut iso: Vec<i64> = weekdays
        .map(|day| day.number_from_monday().into())
        .collect();
    iso.sort_unstable();
    iso.dedup();
    let weekdays = Weekdays::from_iso(iso).ok();
    let attendance = Attendance::of(history, policy, weekdays, today);
    let mut book = Book::new(history, policy, episodes, is_closed, attendance, today);
    book.from = book.from.max(first.on);
    let longest = |week: u8| {
        planned
            .iter()
            .map(|one| &one.prescription)
            .filter(|prescription| prescription.week == week)
            .map(super::Prescription::time)
            .max_by_key(|time| (time.longest, time.shortest))
    };
    Some(BlockAhead {
        first_week: longest(first.prescription.week)?,
        last_week: longest(last.prescription.week)?,
        last_on: last.on,
        attendance,
        milestones: book.of_block(scheme, first),
    })
}

/// Puts what comes first before what comes later, and what has no date last.
fn in_order(milestones: &mut [Milestone]) {
    milestones.sort_by_key(|one| match one.when {
        When::Now => (0, None),
        When::Between { early, .. } => (1, Some(early)),
        When::NotAtThisTrend | When::Unknown(_) => (2, None),
    });
}

/// Everything that a path is worked out from.
struct Book<'a> {
    history: &'a History,
    policy: &'a Policy,
    episodes: &'a [Episode],
    is_closed: &'a dyn Fn(&Flag) -> bool,
    attendance: Attendance,
    today: Date,
    /// The first day on which anything can still happen.
    from: Date,
}

/// A range in the making: the late end may be open.
#[derive(Debug, Clone, Copy)]
struct Range {
    early: Date,
    late: Result<Date, Open>,
}

impl From<Range> for When {
    fn from(Range { early, late }: Range) -> Self {
        Self::Between { early, late }
    }
}

/// V2: a ladder from now on.
#[derive(Debug, Clone, Copy)]
struct Rungs {
    /// Sets on each side at present.
    sets: u16,
    /// Sets added each week.
    add: u16,
    /// The Monday of its first week, from which V6 counts; `None`: it begins with the first session.
    began: Option<Date>,
    /// The Monday of the week last worked, after which the next week adds; `None` before the first session, and
    /// where the next one only goes back up.
    last: Option<Date>,
    /// Sessions that do not add, because the last said not to (V5).
    held: usize,
}

impl<'a> Book<'a> {
    fn new(
        history: &'a History,
        policy: &'a Policy,
        episodes: &'a [Episode],
        is_closed: &'a dyn Fn(&Flag) -> bool,
        attendance: Attendance,
        today: Date,
    ) -> Self {
        let trained_today = history
            .sessions_until(today)
            .last()
            .is_some_and(|session| session.on == today);
        let tomorrow = today.saturating_add(Duration::DAY);
        Self {
            history,
            policy,
            episodes,
            is_closed,
            attendance,
            today,
            from: if trained_today { tomorrow } else { today },
        }
    }

    fn stands(&self, rule: Rule, key: &WorkKey) -> bool {
        self.standing_on(self.today, key)
            .any(|flag| flag.rule == rule)
    }

    /// The flags about some work that stand on a day.
    fn standing_on(&self, day: Date, key: &WorkKey) -> impl Iterator<Item = &'a Flag> {
        self.episodes
            .iter()
            .filter(move |episode| episode.stands_on(day))
            .map(|episode| &episode.flag)
            .filter(move |flag| {
                let subject = &flag.subject;
                (subject.movement, subject.hands, subject.loading)
                    == (Some(key.movement), Some(key.hands), Some(key.loading))
                    && subject
                        .seconds
                        .is_none_or(|seconds| key.seconds.is_some_and(|own| own.get() == seconds))
            })
    }

    /// What stands in the way of any date in a movement, unless the coach closed it.
    fn halted(&self, movement: MovementId) -> Option<Missing> {
        self.episodes
            .iter()
            .any(|episode| {
                let about = episode.flag.subject.movement;
                episode.flag.severity == Severity::Stop
                    && episode.stands_on(self.today)
                    && about.is_none_or(|about| about == movement)
                    && !(self.is_closed)(&episode.flag)
            })
            .then_some(Missing::Stop)
    }

    /// A1: whether the work was left for so long that the return comes first.
    fn gap(&self, series: &Series) -> Option<Missing> {
        let days = (self.today - series.points.last()?.on).whole_days();
        (days >= i64::from(self.policy.gap_days)).then_some(Missing::Gap(days))
    }

    // ---- which milestones

    fn milestones(&self, series: &Series) -> Vec<Milestone> {
        let key = &series.key;
        let fits = (key.hands == Hands::Two) == key.seconds.is_some();
        let missing = self
            .halted(key.movement)
            .or_else(|| self.gap(series))
            .or_else(|| (!fits).then_some(Missing::OtherSets));
        let mut found = match key.hands {
            Hands::Two => self.with_two_hands(key, series),
            Hands::Fingertip => self.with_fingertips(key),
            Hands::One => self.with_one_hand(key, series),
        };
        if let Some(missing) = missing {
            for milestone in &mut found {
                milestone.when = When::Unknown(missing);
            }
        }
        found
    }

    fn with_two_hands(&self, key: &WorkKey, series: &Series) -> Vec<Milestone> {
        let (aim, goal) = self.goal(key, series, None);
        let next = self.history.next_club(self.policy, key.loading);
        let gate = self.gate(key, goal);
        let mut found = vec![aim, self.next_club(next, goal), at(Aim::Gate, gate)];
        found.extend(self.beyond_the_gate(key.movement, gate));
        found
    }

    fn with_fingertips(&self, key: &WorkKey) -> Vec<Milestone> {
        let gate = self.gate_beside(key);
        let mut found = Vec::new();
        if gate != When::Now {
            found.push(at(Aim::Gate, gate));
        }
        found.extend(self.beyond_the_gate(key.movement, gate));
        found
    }

    /// O3 and the ladder after it.
    fn beyond_the_gate(&self, movement: MovementId, gate: When) -> Vec<Milestone> {
        let one_hand = self.one_hand(movement, gate);
        let ladder = Rungs {
            sets: self.policy.ladder_start_sets.into(),
            add: 1,
            began: None,
            last: None,
            held: 0,
        };
        let mut found = vec![at(Aim::OneHand, one_hand)];
        found.extend(self.policy.ladder_targets.map(|target| {
            let play = self.reaches_sets(ladder, target.into());
            at(Aim::Sets(target), self.after(one_hand, &*play))
        }));
        found
    }

    fn with_one_hand(&self, key: &WorkKey, series: &Series) -> Vec<Milestone> {
        let block = ladder_block(self.history, key.movement, key.loading, self.today);
        let ladder = block.map(|(_, ladder)| *ladder);
        let rungs = self.rungs(series, block.map(|(block, ladder)| (block.from, ladder)));
        let mut found: Vec<Milestone> = self
            .policy
            .ladder_targets
            .map(|target| at(Aim::Sets(target), self.sets(rungs, target.into())))
            .to_vec();
        found.push(self.club_after_ladder(key, rungs, ladder));
        in_order(&mut found);
        found
    }

    fn of_block(&self, scheme: &Scheme, first: &PlannedOn) -> Vec<Milestone> {
        let prescription = &first.prescription;
        let key = WorkKey {
            movement: prescription.movement,
            hands: prescription.hands,
            loading: prescription.loading,
            seconds: match prescription.ask {
                Ask::Interval { seconds, .. } => Some(seconds),
                Ask::Straight { .. } => None,
            },
        };
        let series = progress::series(self.history, self.today)
            .into_iter()
            .find(|series| series.key == key)
            .unwrap_or(Series {
                key,
                points: Vec::new(),
            });
        let mut found = match (scheme, prescription.ask) {
            (Scheme::IntervalSets(_), Ask::Interval { goal, .. }) => {
                let goal = goal.map(|goal| goal.rpm());
                let (aim, goal) = self.goal(&key, &series, goal);
                let next = self.history.next_club(self.policy, key.loading);
                vec![aim, self.next_club(next, goal)]
            }
            (Scheme::SetLadder(ladder), _) => {
                let rungs = self.rungs(&series, Some((first.on, ladder)));
                let mut targets = self.policy.ladder_targets.to_vec();
                targets.push(ladder.target_sets);
                targets.retain(|target| *target <= ladder.target_sets);
                targets.sort_unstable();
                targets.dedup();
                let mut found: Vec<Milestone> = targets
                    .into_iter()
                    .map(|target| at(Aim::Sets(target), self.sets(rungs, target.into())))
                    .collect();
                found.push(self.club_after_ladder(&key, rungs, Some(*ladder)));
                in_order(&mut found);
                found
            }
            _ => vec![at(
                Aim::OneHand,
                self.one_hand(key.movement, self.gate_beside(&key)),
            )],
        };
        if let Some(missing) = self.halted(key.movement) {
            for milestone in &mut found {
                milestone.when = When::Unknown(missing);
            }
        }
        found
    }

    // ---- ranges

    /// The range over which something comes that begins now.
    fn beginning_now(&self, play: &Play<'_>, otherwise: Missing) -> When {
        let Some(early) = self.attendance.at_best(self.from, play) else {
            return When::Unknown(otherwise);
        };
        let late = self.attendance.at_worst(self.from, play);
        When::Between {
            early,
            late: late.ok_or(Open::Attendance),
        }
    }

    /// The range over which something comes that begins the day after something else has come.
    fn after(&self, before: When, play: &Play<'_>) -> When {
        let (early, late) = match before {
            When::Now => return self.beginning_now(play, Missing::NothingAdded),
            When::Between { early, late } => (early, late),
            other => return other,
        };
        let next = |day: Date| day.saturating_add(Duration::DAY);
        let Some(early) = self.attendance.at_best(next(early), play) else {
            return When::Unknown(Missing::NothingAdded);
        };
        let late = late.and_then(|late| {
            let found = self.attendance.at_worst(next(late), play);
            found.ok_or(Open::Attendance)
        });
        When::Between { early, late }
    }

    // ---- T4

    /// T4: the goal at a key; the coach's of a block to come goes before the one that stands.
    fn goal(&self, key: &WorkKey, series: &Series, asked: Option<f64>) -> (Milestone, Climb) {
        let standing = key.seconds.and_then(|seconds| {
            let of = (key.movement, key.hands, key.loading, seconds);
            rules::goal_density(self.history, self.policy, of, self.today)
        });
        let named = asked.or(standing);
        let aim = Aim::Goal {
            rpm: named,
            loading: key.loading,
        };
        let readings: Vec<Reading> = series
            .points
            .iter()
            .filter_map(|point| Reading::of(point.on, &point.bout))
            .collect();
        let recent = since_gap(self.policy, &readings, |reading| reading.on);
        let trend = density::toward_goal(recent);
        let with_both = recent
            .iter()
            .filter(|reading| reading.slower_rpm.is_some())
            .count();
        let trend = trend.filter(|(trend, _)| trend.interval.is_some());
        let climb = |when, trend| Climb {
            when,
            rpm: named,
            trend,
        };
        let when = match (named, &trend) {
            _ if named == standing && self.stands(Rule::T4, key) => When::Now,
            (Some(goal), Some((trend, zero))) => self.reaches_goal(goal, trend, *zero, series),
            (goal, _) => {
                let for_goal = match goal {
                    Some(_) => 0,
                    None => self
                        .policy
                        .goal_start_sessions
                        .saturating_sub(readings.len()),
                };
                let for_trend = Trend::FEWEST_FOR_INTERVAL.saturating_sub(with_both);
                When::Unknown(Missing::Sessions(for_goal.max(for_trend).max(1)))
            }
        };
        (at(aim, when), climb(when, trend.map(|(trend, _)| trend)))
    }

    fn reaches_goal(&self, goal: f64, trend: &Trend, zero: Date, series: &Series) -> When {
        let Some(reach) = trend.reaches(goal, zero, self.from) else {
            return When::Unknown(Missing::Sessions(1));
        };
        let Some(earliest) = reach.earliest else {
            return When::NotAtThisTrend;
        };
        let running = series
            .points
            .iter()
            .rev()
            .take_while(|point| self.was_at(goal, point.on, &point.bout))
            .count();
        let needed = self.policy.earned_in_a_row.max(1);
        let still = needed.saturating_sub(running).max(1);
        let early = self.attendance.at_best(earliest, &session(still));
        let late = reach.latest.ok_or(Open::Trend).and_then(|latest| {
            let found = self.attendance.at_worst(latest, &session(needed));
            found.ok_or(Open::Attendance)
        });
        early.map_or(When::NotAtThisTrend, |early| When::Between { early, late })
    }

    /// T4: whether a session counts toward the step.
    fn was_at(&self, goal: f64, on: Date, bout: &Bout) -> bool {
        let slower = bout.slower_side().map(|slower| slower.rpm());
        let session = self.session_of(on, bout);
        rules::at_the_goal_on_both_sides(slower, Some(goal))
            && session.is_some_and(|session| rules::easy_enough(self.policy, session))
    }

    // ---- W1, W2

    fn next_club(&self, next: NextClub, earned: impl Into<When>) -> Milestone {
        match next {
            NextClub::Within(club, _) => at(
                Aim::NextClub(Some(club)),
                self.after(earned.into(), &session(1)),
            ),
            NextClub::TooFar(club, _) => {
                at(Aim::NextClub(None), When::Unknown(Missing::TooFar(club)))
            }
            NextClub::None => at(Aim::NextClub(None), When::Unknown(Missing::NoClub)),
        }
    }

    /// V3: the next club once the ladder is done in full, often enough running.
    fn club_after_ladder(
        &self,
        key: &WorkKey,
        rungs: Rungs,
        ladder: Option<SetLadder>,
    ) -> Milestone {
        let next = self.history.next_club(self.policy, key.loading);
        if self.stands(Rule::V3, key) {
            return self.next_club(next, When::Now);
        }
        let targets = self.policy.ladder_targets.map(u16::from);
        let target = ladder
            .map(|ladder| u16::from(ladder.target_sets))
            .filter(|target| *target >= rungs.sets)
            .or_else(|| targets.into_iter().find(|target| *target >= rungs.sets))
            .unwrap_or(rungs.sets);
        let reaches = self.reaches_sets(rungs, target);
        let row = self.policy.earned_in_a_row.max(1);
        let in_a_row = |running: usize| {
            let reaches = &reaches;
            move |days: &mut dyn Iterator<Item = Date>| {
                let first = reaches(days)?;
                match row.saturating_sub(running + 1) {
                    0 => Some(first),
                    more => days.nth(more - 1),
                }
            }
        };
        let running = usize::from(rungs.last.is_some() && rungs.sets >= target);
        let Some(early) = self.attendance.at_best(self.from, &in_a_row(running)) else {
            return self.next_club(next, When::Unknown(Missing::NothingAdded));
        };
        let late = self.attendance.at_worst(self.from, &in_a_row(0));
        self.next_club(
            next,
            When::Between {
                early,
                late: late.ok_or(Open::Attendance),
            },
        )
    }

    // ---- O1, O3

    /// O1: beside work with fingertips, from the movement's last work with two hands.
    fn gate_beside(&self, key: &WorkKey) -> When {
        let two_hands = progress::series(self.history, self.today)
            .into_iter()
            .filter(|series| {
                let of = &series.key;
                (of.movement, of.hands) == (key.movement, Hands::Two) && of.seconds.is_some()
            })
            .max_by_key(|series| series.points.last().map(|last| last.on))
            .unwrap_or(Series {
                key: WorkKey {
                    hands: Hands::Two,
                    seconds: None,
                    ..*key
                },
                points: Vec::new(),
            });
        let (_, climb) = self.goal(&two_hands.key, &two_hands, None);
        let climb = match self.gap(&two_hands) {
            Some(missing) => Climb {
                when: When::Unknown(missing),
                rpm: None,
                trend: None,
            },
            None => climb,
        };
        self.gate(&two_hands.key, climb)
    }

    /// O1: from clubs, months and sessions a week.
    fn gate(&self, key: &WorkKey, climb: Climb) -> When {
        let gate = rules::gate(
            self.history,
            self.policy,
            self.episodes,
            key.movement,
            self.today,
        );
        if gate.is_open(self.policy) || gate.opened_early.is_some() {
            return When::Now;
        }
        if gate.stop_flag_open {
            return When::Unknown(Missing::Stop);
        }
        let clubs = match self.clubs_finished(key, &gate, climb) {
            Ok(clubs) => clubs,
            Err(when) => return when,
        };
        let worked = self.days_with_two_hands();
        let opens = |not_before: Date| {
            let worked = &worked;
            move |days: &mut dyn Iterator<Item = Date>| self.opens(worked.clone(), not_before, days)
        };
        let Some(early) = self.attendance.at_best(self.from, &opens(clubs.early)) else {
            return When::Unknown(Missing::TooFewDays);
        };
        let late = clubs.late.and_then(|late| {
            let found = self.attendance.at_worst(self.from, &opens(late));
            found.ok_or(match self.attendance.missed {
                MissedWeeks::Unknown => Open::Attendance,
                _ => Open::Pace,
            })
        });
        When::Between { early, late }
    }

    /// O1: when enough clubs are finished.
    fn clubs_finished(&self, key: &WorkKey, gate: &Gate, climb: Climb) -> Result<Range, When> {
        let mut missing = self
            .policy
            .opening_clubs
            .saturating_sub(gate.finished.len());
        let mut club = key.loading;
        let mut at = Range {
            early: self.from,
            late: Ok(self.from),
        };
        if missing == 0 {
            return Ok(at);
        }
        if !gate.finished.contains(&key.loading) {
            missing -= 1;
            at = match climb.when {
                When::Between { early, late } => Range { early, late },
                When::Now => at,
                other => return Err(other),
            };
        }
        while missing > 0 {
            club = match self.history.next_club(self.policy, club) {
                NextClub::Within(next, _) => next,
                NextClub::TooFar(next, _) => return Err(When::Unknown(Missing::TooFar(next))),
                NextClub::None => return Err(When::Unknown(Missing::NoClub)),
            };
            if !gate.finished.contains(&club) {
                missing -= 1;
                at = self.one_more_club(at, &climb)?;
            }
        }
        Ok(at)
    }

    /// O1: one more club, which begins where this one's goal began and climbs as fast.
    fn one_more_club(&self, before: Range, climb: &Climb) -> Result<Range, When> {
        let unknown = || When::Unknown(Missing::Sessions(1));
        let goal = climb.rpm.ok_or_else(unknown)?;
        let slopes = climb.trend.as_ref().and_then(|trend| trend.interval);
        let slopes = slopes.ok_or_else(unknown)?;
        let start = goal / self.policy.goal_over_start;
        let finishes = |per_day: f64| {
            move |days: &mut dyn Iterator<Item = Date>| {
                finishes_club(self.policy, start, per_day, days)
            }
        };
        let next = |day: Date| day.saturating_add(Duration::DAY);
        let early = self
            .attendance
            .at_best_from(next(before.early), &finishes(slopes.high))
            .ok_or(When::NotAtThisTrend)?;
        let late = before.late.and_then(|late| {
            if slopes.low <= 0.0 {
                return Err(Open::Trend);
            }
            let found = self
                .attendance
                .at_worst_until(next(late), &finishes(slopes.low));
            found.ok_or(match self.attendance.missed {
                MissedWeeks::Unknown => Open::Attendance,
                _ => Open::Trend,
            })
        });
        Ok(Range { early, late })
    }

    fn days_with_two_hands(&self) -> Vec<Date> {
        let mut days: Vec<Date> = self
            .history
            .sessions_until(self.today)
            .iter()
            .filter(|session| session.sets.iter().any(|set| set.hands == Hands::Two))
            .map(|session| session.on)
            .collect();
        days.dedup();
        days
    }

    /// O1: the first day, not before `not_before`, on which months and sessions a week are enough.
    fn opens(
        &self,
        mut worked: Vec<Date>,
        not_before: Date,
        days: &mut dyn Iterator<Item = Date>,
    ) -> Option<Date> {
        let mut day = self.from;
        for session in days {
            while day <= session {
                if day == session {
                    worked.push(session);
                }
                if day >= not_before && rules::is_long_enough(self.policy, &worked, day) {
                    return Some(day);
                }
                day = day.next_day()?;
            }
        }
        None
    }

    /// O3: the first free one-hand sets after the fingertip sessions.
    fn one_hand(&self, movement: MovementId, gate: When) -> When {
        let with_fingertips = |session: &&Session| {
            let mut sets = session.sets.iter();
            sets.any(|set| (set.movement, set.hands) == (movement, Hands::Fingertip))
        };
        let sessions = self.history.sessions_until(self.today).iter();
        let done = sessions.filter(with_fingertips).count();
        let left = self.policy.fingertip_sessions.saturating_sub(done);
        match gate {
            When::Now => self.beginning_now(&session(left + 1), Missing::NothingAdded),
            // Fingertip sets may begin on the very day on which the gate opens.
            When::Between { early, late } => {
                let eve = early.saturating_sub(Duration::DAY);
                self.after(When::Between { early: eve, late }, &session(left + 1))
            }
            other => other,
        }
    }

    // ---- V2

    /// V2, V5: where a ladder stands, in a block that begins on a day or in none.
    fn rungs(&self, series: &Series, block: Option<(Date, &SetLadder)>) -> Rungs {
        let points = since_gap(self.policy, &series.points, |point| point.on);
        let begins = block.map_or(Date::MIN, |(from, _)| from);
        let add = block.map_or(1, |(_, ladder)| u16::from(ladder.add_per_week));
        let here: Vec<_> = points.iter().filter(|point| point.on >= begins).collect();
        let (Some(first), Some(last)) = (here.first(), here.last()) else {
            let start = block.map_or(self.policy.ladder_start_sets, |(_, it)| it.start_sets);
            return Rungs {
                sets: start.into(),
                add,
                began: block.map(|(from, _)| Week::of(from).monday()),
                last: None,
                held: 0,
            };
        };
        let began = block.map_or(first.on, |(from, _)| from);
        let done = last.bout.sets_each_side();
        let climbed = here.iter().map(|point| Climbed {
            on: point.on,
            sets: point.bout.sets_each_side(),
            says_not_to_add: self.says_not_to_add(point, None),
        });
        let key = &series.key;
        let about = (key.movement, key.hands, key.loading);
        let (policy, episodes) = (self.policy, self.episodes);
        let reached = rules::sets_to_come_back_to(policy, episodes, about, climbed, self.today);
        let sets = reached.max(done);
        // A light week of the block is no step back: the week after adds.
        let is_light = block.is_some_and(|(_, ladder)| ladder.light_fourth_week)
            && week_that_holds(self.policy, began, last.on).is_some();
        let goes_back_up = sets > done && !is_light;
        Rungs {
            sets,
            add,
            began: Some(Week::of(began).monday()),
            last: (!goes_back_up).then(|| Week::of(last.on).monday()),
            held: usize::from(self.holds_the_next(last)),
        }
    }

    /// V5: whether the session after the last one does not add.
    fn holds_the_next(&self, last: &Point) -> bool {
        let since = |session| self.history.pain_without_sets_since(session, self.today);
        let session = self.session_of(last.on, &last.bout);
        self.says_not_to_add(last, session.and_then(since))
    }

    /// V5, with pain that was said since.
    fn says_not_to_add(&self, point: &Point, pain_since: Option<u8>) -> bool {
        let session = self.session_of(point.on, &point.bout);
        let effort = session.and_then(|session| session.effort);
        let pain = session.and_then(Session::worst_pain).max(pain_since);
        let effort = effort.map(|effort| effort.rating());
        rules::says_not_to_add(point.bout.missed_reps(), effort, pain, self.policy).is_some()
    }

    /// The session that a bout was part of.
    fn session_of(&self, on: Date, bout: &Bout) -> Option<&'a Session> {
        let here = |session: &&Session| session.on == on && session.bouts().contains(bout);
        self.history.sessions_until(on).iter().rev().find(here)
    }

    fn sets(&self, rungs: Rungs, target: u16) -> When {
        if rungs.last.is_some() && rungs.sets >= target {
            return When::Now;
        }
        self.beginning_now(&*self.reaches_sets(rungs, target), Missing::NothingAdded)
    }

    /// V2, V6: the day on which a ladder reaches so many sets. A week adds at its first session, unless it
    /// holds.
    fn reaches_sets(&self, rungs: Rungs, target: u16) -> Box<Play<'a>> {
        let policy = self.policy;
        Box::new(move |days| {
            if rungs.add == 0 && rungs.sets < target {
                return None;
            }
            let (mut sets, mut began, mut last) = (rungs.sets, rungs.began, rungs.last);
            for day in days.skip(rungs.held) {
                let monday = Week::of(day).monday();
                let holds = week_that_holds(policy, *began.get_or_insert(monday), day).is_some();
                if last.is_some_and(|last| monday > last) && !holds {
                    sets = sets.saturating_add(rungs.add);
                }
                last = Some(monday);
                if sets >= target {
                    return Some(day);
                }
            }
            None
        })
    }
}

/// How the count climbs to the goal.
#[derive(Debug, Clone, Copy)]
struct Climb {
    when: When,
    /// The goal.
    rpm: Option<f64>,
    trend: Option<Trend>,
}

impl From<Climb> for When {
    fn from(climb: Climb) -> Self {
        climb.when
    }
}

const fn at(aim: Aim, when: When) -> Milestone {
    Milestone { aim, when }
}

/// The day of the session with this number, counted from 1.
fn session(number: usize) -> impl Fn(&mut dyn Iterator<Item = Date>) -> Option<Date> {
    move |days| days.nth(number.saturating_sub(1))
}

/// T3, T4: when a club is finished whose count starts at `start` and climbs by `per_day`.
fn finishes_club(
    policy: &Policy,
    start: f64,
    per_day: f64,
    days: &mut dyn Iterator<Item = Date>,
) -> Option<Date> {
    let mut first = None;
    let mut begun = Vec::new();
    let mut running = 0;
    for day in days {
        let into = (day - *first.get_or_insert(day)).whole_days() as f64;
        let rpm = start + per_day * into;
        if begun.len() < policy.goal_start_sessions {
            begun.push(rpm);
        }
        let goal = (begun.len() >= policy.goal_start_sessions)
            .then(|| median(&begun))
            .flatten()
            .map(|middle| policy.goal_over_start * middle);
        let at_goal = goal.is_some_and(|goal| rpm >= goal * (1.0 - 1e-9));
        running = if at_goal { running + 1 } else { 0 };
        if running >= policy.earned_in_a_row {
            return Some(day);
        }
    }
    None
}
