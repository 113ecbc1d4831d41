//! M · Steps to a bigger club, and how long each is news, for the rules that judge them (M4, V4, W1 to W5).
//!
//! A step is judged from the last club actually worked in that movement and hands. How big it is (M4) stands in
//! [`crate::club::step_size`].

use std::collections::BTreeMap;

use time::Date;

use super::log::Log;
use super::{Episode, Rule};
use crate::club::StepSize;
use crate::id::{LoadingId, MovementId};
use crate::policy::Policy;
use crate::training::{Hands, History};

/// A change, from one session of a movement and hands to the next, to a club that asks more.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub(super) movement: MovementId,
    pub(super) hands: Hands,
    pub(super) from: LoadingId,
    pub(super) to: LoadingId,
    pub(super) size: StepSize,
    /// Which sessions of the log.
    pub(super) from_session: usize,
    pub(super) session: usize,
    pub(super) on: Date,
    /// The day from which flags about the step no longer stand: it was taken back, another one came
    /// on top of it, the next step was earned on the new club, four sessions running went well on
    /// it, or that way of swinging was left for 28 days.
    pub(super) until: Option<Date>,
}

/// The club of one session in a movement and hands: the one that asks most. A lighter one swung to
/// warm up is not what a step is judged from; of clubs that cannot be told apart the later counts.
#[derive(Debug, Clone, Copy)]
struct Used {
    session: usize,
    on: Date,
    club: LoadingId,
    /// Nothing missed, effort and pain low enough for a step.
    went_well: bool,
}

fn used(log: &Log) -> BTreeMap<(MovementId, Hands), Vec<Used>> {
    let mut used: BTreeMap<(MovementId, Hands), Vec<Used>> = BTreeMap::new();
    for (index, (session, bouts)) in log.sessions().enumerate() {
        for bout in bouts {
            let sessions = used.entry((bout.movement, bout.hands)).or_default();
            let went_well = log.easy_enough(session) && !bout.missed_reps();
            match sessions.last_mut().filter(|used| used.session == index) {
                Some(used) => {
                    used.went_well &= went_well;
                    if log.step_up(bout.loading, used.club).is_none() {
                        used.club = bout.loading;
                    }
                }
                None => sessions.push(Used {
                    session: index,
                    on: session.on,
                    club: bout.loading,
                    went_well,
                }),
            }
        }
    }
    used
}

/// The clubs of one movement and hands in the order they were worked, and the steps between them.
#[derive(Debug, Clone, PartialEq)]
pub struct ClubsWorked {
    /// Movement.
    pub movement: MovementId,
    /// Hands.
    pub hands: Hands,
    /// Day and club of each session: the club that asked most in it.
    pub worked: Vec<(Date, LoadingId)>,
    /// The steps to clubs that asked more, in order of day.
    pub steps: Vec<StepTaken>,
}

/// M4: a change to a club that asks more, as it was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepTaken {
    /// The day of the first session with the new club.
    pub on: Date,
    /// The club of the session before.
    pub from: LoadingId,
    /// The new club.
    pub to: LoadingId,
    /// How big the step was.
    pub size: StepSize,
}

/// Every way of swinging that the log holds up to a day, the one begun first coming first, with
/// the very steps that W1 to W5 judge.
pub fn clubs_worked(history: &History, policy: &Policy, as_of: Date) -> Vec<ClubsWorked> {
    let log = Log::new(history, policy, as_of);
    let mut taken: BTreeMap<(MovementId, Hands), Vec<StepTaken>> = BTreeMap::new();
    for step in steps(&log, &[]) {
        taken
            .entry((step.movement, step.hands))
            .or_default()
            .push(StepTaken {
                on: step.on,
                from: step.from,
                to: step.to,
                size: step.size,
            });
    }
    let mut all: Vec<ClubsWorked> = used(&log)
        .into_iter()
        .map(|((movement, hands), sessions)| ClubsWorked {
            movement,
            hands,
            worked: sessions.iter().map(|used| (used.on, used.club)).collect(),
            steps: taken.remove(&(movement, hands)).unwrap_or_default(),
        })
        .collect();
    all.sort_by_key(|one| {
        (
            one.worked.first().map(|(on, _)| *on),
            one.movement,
            one.hands,
        )
    });
    all
}

pub(super) fn steps(log: &Log, earned: &[Episode]) -> Vec<Step> {
    let used = used(log);
    used.iter()
        .flat_map(|((movement, hands), sessions)| {
            sessions.windows(2).enumerate().filter_map(|(at, pair)| {
                let (before, now) = (pair[0], pair[1]);
                let size = log.step_up(before.club, now.club)?;
                let news_ends = news_ends(log, &sessions[at + 1..]);
                let next_earned = earned
                    .iter()
                    .filter(|episode| is_earned_at(episode, *movement, *hands, now.club))
                    .map(|episode| episode.flag.since)
                    .filter(|since| *since > now.on)
                    .min();
                Some(Step {
                    movement: *movement,
                    hands: *hands,
                    from: before.club,
                    to: now.club,
                    size,
                    from_session: before.session,
                    session: now.session,
                    on: now.on,
                    until: [news_ends, next_earned].into_iter().flatten().min(),
                })
            })
        })
        .collect()
}

/// Whether this is a step earned (T4, V3) at that club.
pub(super) fn is_earned_at(
    episode: &Episode,
    movement: MovementId,
    hands: Hands,
    loading: LoadingId,
) -> bool {
    let subject = &episode.flag.subject;
    matches!(episode.flag.rule, Rule::T4 | Rule::V3)
        && subject.movement == Some(movement)
        && subject.hands == Some(hands)
        && subject.loading == Some(loading)
}

/// When the step that led to the first of these sessions stops being news, as far as the sessions say.
fn news_ends(log: &Log, sessions: &[Used]) -> Option<Date> {
    let club = sessions.first()?.club;
    let mut last_on = sessions[0].on;
    let mut went_well = 0;
    for used in sessions {
        if let Some(left) = log.left_on(last_on).filter(|left| *left <= used.on) {
            return Some(left);
        }
        last_on = used.on;
        if used.club == club {
            went_well = if used.went_well { went_well + 1 } else { 0 };
            if went_well >= log.policy.settled_sessions {
                return Some(used.on);
            }
        } else if log.step_up(club, used.club).is_some() || log.step_up(used.club, club).is_some() {
            return Some(used.on);
        }
    }
    log.left_on(last_on)
}
