//! How long a club counts as the one in use, for the rules that speak about one club.

use time::Date;

use super::log::Log;
use crate::id::{LoadingId, MovementId};
use crate::training::{Bout, Hands};

/// One session of a movement and hands, as one club sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Visit {
    /// Which session of the log.
    pub(super) session: usize,
    pub(super) on: Date,
    /// Whether a club that is a step up from this one was worked in it.
    pub(super) bigger_club: bool,
}

/// The sessions of a movement and hands, as one club sees them.
pub(super) fn visits(
    log: &Log,
    movement: MovementId,
    hands: Hands,
    loading: LoadingId,
) -> Vec<Visit> {
    let bigger = log.bigger_than(loading);
    let here = |bout: &&Bout| bout.movement == movement && bout.hands == hands;
    log.sessions()
        .enumerate()
        .filter_map(|(index, (session, bouts))| {
            bouts.iter().find(here)?;
            Some(Visit {
                session: index,
                on: session.on,
                bigger_club: bouts
                    .iter()
                    .filter(here)
                    .any(|bout| bigger.contains(&bout.loading)),
            })
        })
        .collect()
}

/// A club in use, session after session.
#[derive(Debug, Default)]
pub(super) struct ClubUse {
    last_on: Option<Date>,
    bigger_on: Option<Date>,
    elsewhere: usize,
}

impl ClubUse {
    /// The day on which the club counted as left, if that is on or before `day`.
    pub(super) fn left_by(&self, log: &Log, day: Date) -> Option<Date> {
        log.left_on(self.last_on?).filter(|left| *left <= day)
    }

    /// Takes one session in; says whether with it the club stopped being the one in use.
    pub(super) fn over_with(&mut self, log: &Log, visit: Visit, worked_here: bool) -> bool {
        if worked_here {
            self.last_on = Some(visit.on);
            self.elsewhere = 0;
        } else {
            self.elsewhere += 1;
        }
        if visit.bigger_club {
            self.bigger_on = Some(visit.on);
        }
        visit.bigger_club || self.elsewhere >= log.policy.settled_sessions
    }

    /// Whether a bigger club was worked lately enough to count as the one in use.
    pub(super) fn bigger_in_use(&self, log: &Log, day: Date) -> bool {
        self.bigger_on
            .and_then(|on| super::log::left_after(log.policy, on))
            .is_some_and(|left| left > day)
    }
}
