//! The log as the rules read it: sessions up to a day, each with its bouts.

use time::Date;

use crate::club::StepSize;
use crate::id::LoadingId;
use crate::policy::Policy;
use crate::training::{Bout, History, Session};

/// A history cut off after one day, with every session's bouts worked out once for all families.
pub(super) struct Log<'a> {
    pub(super) history: &'a History,
    pub(super) policy: &'a Policy,
    pub(super) as_of: Date,
    sessions: Vec<(&'a Session, Vec<Bout>)>,
}

impl<'a> Log<'a> {
    pub(super) fn new(history: &'a History, policy: &'a Policy, as_of: Date) -> Self {
        let sessions = history
            .sessions_until(as_of)
            .iter()
            .map(|session| (session, session.bouts()))
            .collect();
        Self {
            history,
            policy,
            as_of,
            sessions,
        }
    }

    /// The sessions in order, with their bouts.
    pub(super) fn sessions(&self) -> impl Iterator<Item = (&'a Session, &[Bout])> {
        self.sessions
            .iter()
            .map(|(session, bouts)| (*session, bouts.as_slice()))
    }

    /// One session.
    pub(super) fn session(&self, index: usize) -> &'a Session {
        self.sessions[index].0
    }

    /// One session's day.
    pub(super) fn on(&self, index: usize) -> Date {
        self.session(index).on
    }

    /// One session's bouts.
    pub(super) fn bouts(&self, index: usize) -> &[Bout] {
        &self.sessions[index].1
    }

    /// [`easy_enough`].
    pub(super) fn easy_enough(&self, session: &Session) -> bool {
        easy_enough(self.policy, session)
    }

    /// **M4** [`History::step_up`].
    pub(super) fn step_up(&self, from: LoadingId, to: LoadingId) -> Option<StepSize> {
        self.history.step_up(self.policy, from, to)
    }

    /// The clubs that are a step up from this one.
    pub(super) fn bigger_than(&self, loading: LoadingId) -> Vec<LoadingId> {
        self.history
            .clubs
            .iter()
            .map(|club| club.loading)
            .filter(|other| self.step_up(loading, *other).is_some())
            .collect()
    }

    /// The first day on which something last worked on `last_on` counts as left, if that day has
    /// come.
    pub(super) fn left_on(&self, last_on: Date) -> Option<Date> {
        left_after(self.policy, last_on).filter(|day| *day <= self.as_of)
    }
}

/// The first day on which something last worked on `last_on` counts as left.
pub(super) fn left_after(policy: &Policy, last_on: Date) -> Option<Date> {
    last_on.checked_add(time::Duration::days(i64::from(policy.left_after_days)))
}

/// **T4**, **V3** Effort ≤ 7, pain ≤ 2. What was not reported does not stand in the way.
pub(crate) fn easy_enough(policy: &Policy, session: &Session) -> bool {
    session
        .effort
        .is_none_or(|effort| effort.rating() <= policy.earned_effort_at_most)
        && session
            .worst_pain()
            .is_none_or(|pain| pain <= policy.earned_pain_at_most)
}
