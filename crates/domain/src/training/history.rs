//! Everything about one athlete that the rules look at.

use time::{Date, Duration};

use super::{Hands, Pain, Session};
use crate::club::Mechanics;
use crate::club::care::OutOfUse;
use crate::id::{BlockId, ClubId, LoadingId, MovementId, SessionId};
use crate::plan::Scheme;
use crate::policy::Policy;

/// A club, as loaded, that an athlete may use or has used.
#[derive(Debug, Clone, PartialEq)]
pub struct AvailableClub {
    /// The loading.
    pub loading: LoadingId,
    /// The club it belongs to.
    pub club: ClubId,
    /// Its mechanics.
    pub mechanics: Mechanics,
    /// Whether it can be picked up now: in use, and the gym's or the athlete's own.
    pub usable: bool,
}

/// The days over which a block runs.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockSpan {
    /// Which block.
    pub block: BlockId,
    /// Movement.
    pub movement: MovementId,
    /// Hands.
    pub hands: Hands,
    /// Club.
    pub loading: LoadingId,
    /// Scheme, with its goal and targets.
    pub scheme: Scheme,
    /// Day of its first planned session.
    pub from: Date,
    /// Last day.
    pub until: Date,
}

/// A coach opened one-hand work early (O1), and said why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GateOpening {
    /// For which movement.
    pub movement: MovementId,
    /// From which day on.
    pub on: Date,
    /// Why.
    pub reason: String,
}

/// Pain as it stood in the log before the athlete changed the session or took it back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnsaidPain {
    /// Of which session.
    pub session: SessionId,
    /// The day that the session had then.
    pub on: Date,
    /// Its movement then, where it had only one.
    pub movement: Option<MovementId>,
    /// How much, and where.
    pub pain: Pain,
}

/// One athlete's history: the input of every rule.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    sessions: Vec<Session>,
    /// Clubs the athlete may use or has used.
    pub clubs: Vec<AvailableClub>,
    /// Blocks, running and past; `None` where no plan is known (files without a plan), in which
    /// case the athlete counts as being in training from the first session on.
    pub blocks: Option<Vec<BlockSpan>>,
    /// Early openings of one-hand work.
    pub openings: Vec<GateOpening>,
    /// Days on which the athlete was paused or excused, first to last: they do not count as missed.
    pub excused: Vec<(Date, Date)>,
    /// Pain in what the athlete replaced since; whether it was typed wrong, only a coach can ask.
    pub unsaid: Vec<UnsaidPain>,
}

impl History {
    /// Puts the sessions in order of day, then id, so that the order of input never matters.
    pub fn new(
        mut sessions: Vec<Session>,
        clubs: Vec<AvailableClub>,
        blocks: Option<Vec<BlockSpan>>,
    ) -> Self {
        sessions.sort_by_key(|session| (session.on, session.id));
        Self {
            sessions,
            clubs,
            blocks,
            openings: Vec::new(),
            excused: Vec::new(),
            unsaid: Vec::new(),
        }
    }

    /// Leaves out of use what cannot be picked up on the day that is judged.
    pub fn leave_out(&mut self, out: &OutOfUse) {
        for club in &mut self.clubs {
            club.usable &= out.of(club.club, club.loading).is_none();
        }
    }

    /// The sessions in order of day, then id.
    pub fn sessions(&self) -> &[Session] {
        &self.sessions
    }

    /// The sessions up to and on a day: what was known by the end of it.
    pub fn sessions_until(&self, day: Date) -> &[Session] {
        let end = self.sessions.partition_point(|session| session.on <= day);
        &self.sessions[..end]
    }

    /// The worst pain of which it was said, after this session and up to a day, that it stopped the work before
    /// its first set.
    pub fn pain_without_sets_since(&self, session: &Session, until: Date) -> Option<u8> {
        self.sessions_until(until)
            .iter()
            .rev()
            .take_while(|later| (later.on, later.id) > (session.on, session.id))
            .filter(|later| later.sets.is_empty())
            .filter_map(Session::worst_pain)
            .max()
    }

    /// The same history with more sessions, as for judging a plan before it is done.
    pub fn with_sessions(&self, sessions: Vec<Session>) -> Self {
        let mut more = self.clone();
        more.sessions.extend(sessions);
        more.sessions
            .sort_by_key(|session| (session.on, session.id));
        more
    }

    /// The club with this loading.
    pub fn club(&self, loading: LoadingId) -> Option<&AvailableClub> {
        self.clubs.iter().find(|club| club.loading == loading)
    }
}

/// What came since the last gap so long that the club counted as left: a series begins again there. In order
/// of day.
pub fn since_gap<'a, T>(policy: &Policy, dated: &'a [T], on: impl Fn(&T) -> Date) -> &'a [T] {
    let left = Duration::days(policy.left_after_days.into());
    let began = dated
        .windows(2)
        .rposition(|pair| on(&pair[1]) - on(&pair[0]) >= left);
    &dated[began.map_or(0, |before| before + 1)..]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{date, history, rack, session};
    use crate::training::Hands;

    #[test]
    fn pain_before_a_first_set_is_told_since_a_session() {
        let swung = |on| session(on).straight(Hands::One, 1, &[5]);
        let log = history(
            vec![
                session(0).pain(7, ""),
                swung(1),
                session(3).pain(2, ""),
                swung(4).pain(6, ""),
                session(7).pain(1, ""),
                session(9),
            ],
            rack(),
        );
        let first = &log.sessions()[1];
        let since = |until| log.pain_without_sets_since(first, date(until));
        // Neither what was before, nor what was said of sets.
        assert_eq!(
            [1, 2, 3, 4, 9].map(since),
            [None, None, Some(2), Some(2), Some(2)]
        );
        let second = &log.sessions()[3];
        assert_eq!(log.pain_without_sets_since(second, date(9)), Some(1));
    }

    /// Left after 28 days, as shipped: common practice, no source.
    #[test]
    fn a_series_begins_again_after_a_gap() {
        let policy = Policy::default();
        for (days, expected) in [
            (&[][..], &[][..]),
            (&[5], &[5]),
            (&[0, 27, 54], &[0, 27, 54]),
            (&[0, 28], &[28]),
            (&[0, 28, 30, 58, 60], &[58, 60]),
            (&[0, 28, 30, 57], &[28, 30, 57]),
        ] {
            assert_eq!(since_gap(&policy, days, |day| date(*day)), expected);
        }
    }
}
