//! Small histories for tests: days, clubs and sessions in one line each.

use time::{Date, Duration, Month};
use uuid::Uuid;

use super::{Episode, episodes};
use crate::club::Mechanics;
use crate::id::{BlockId, ClubId, LoadingId, MovementId, SessionId};
use crate::plan::Scheme;
use crate::policy::Policy;
use crate::training::{
    AvailableClub, BlockSpan, Hands, History, Pain, Session, SetDone, Side, Work,
};
use crate::units::{Effort, Mass, Measured, Pain as PainScore, Reps, Seconds, StaticMoment};

/// Day 0 is Monday, 5 January 2026.
pub(super) fn day(number: i64) -> Date {
    let monday = Date::from_calendar_date(2026, Month::January, 5).unwrap();
    monday + Duration::days(number)
}

pub(super) fn movement(number: u128) -> MovementId {
    MovementId(Uuid::from_u128(0x1000 + number))
}

pub(super) fn loading(number: u128) -> LoadingId {
    LoadingId(Uuid::from_u128(0x2000 + number))
}

/// A club that asks for this static moment.
pub(super) fn club(number: u128, kg: f64, nm: f64) -> AvailableClub {
    let mut club = club_by_mass(number, kg);
    club.mechanics.static_moment =
        Some(Measured::new(StaticMoment::from_nm(nm).unwrap(), 0.1).unwrap());
    club
}

/// A club of which only the mass is known.
pub(super) fn club_by_mass(number: u128, kg: f64) -> AvailableClub {
    AvailableClub {
        loading: loading(number),
        club: ClubId(Uuid::from_u128(0x3000 + number)),
        mechanics: Mechanics {
            mass: Measured::new(Mass::from_kg(kg).unwrap(), 0.01).unwrap(),
            length: None,
            balance: None,
            static_moment: None,
            inertia_cm: None,
            inertia_grip: None,
        },
        usable: true,
    }
}

/// Clubs 1 to 5 of 20, 25, 30, 40 and 50 N·m: steps of 25, 20, 33.3 and 25 %.
pub(super) fn rack() -> Vec<AvailableClub> {
    [(1, 20.0), (2, 25.0), (3, 30.0), (4, 40.0), (5, 50.0)]
        .map(|(number, nm)| club(number, nm / 4.0, nm))
        .to_vec()
}

/// A session without sets.
pub(super) fn session(on: i64) -> Session {
    Session {
        id: SessionId(Uuid::from_u128(
            0x4000 + u128::try_from(on + 100_000).unwrap() * 16,
        )),
        on: day(on),
        planned: None,
        minutes: None,
        effort: None,
        pain: Vec::new(),
        sets: Vec::new(),
    }
}

/// Sentences about one session, to be chained.
pub(super) trait Did {
    /// One 30 s interval set on each side with each of these counts, two hands, movement 1.
    fn against_the_clock(self, club: u128, counts: &[u16]) -> Self;
    /// One more set.
    fn set(self, movement: u128, hands: Hands, club: u128, side: Side, work: Work) -> Self;
    /// Effort.
    fn effort(self, rating: f64) -> Self;
    /// Pain without a place.
    fn pain(self, score: i64) -> Self;
}

pub(super) fn reps(count: u16) -> Reps {
    Reps::new(i64::from(count)).unwrap()
}

pub(super) fn half_minute(count: u16) -> Work {
    Work::Interval {
        seconds: Seconds::new(30).unwrap(),
        reps: reps(count),
    }
}

impl Did for Session {
    fn against_the_clock(mut self, club: u128, counts: &[u16]) -> Self {
        for count in counts {
            for side in Side::BOTH {
                self = self.set(1, Hands::Two, club, side, half_minute(*count));
            }
        }
        self
    }

    fn set(mut self, movement_: u128, hands: Hands, club: u128, side: Side, work: Work) -> Self {
        self.sets.push(SetDone {
            movement: movement(movement_),
            hands,
            loading: loading(club),
            side,
            work,
        });
        self
    }

    fn effort(mut self, rating: f64) -> Self {
        self.effort = Some(Effort::new(rating).unwrap());
        self
    }

    fn pain(mut self, score: i64) -> Self {
        self.pain.push(Pain {
            score: PainScore::new(score).unwrap(),
            place: None,
        });
        self
    }
}

/// A block of movement 1.
pub(super) fn block(hands: Hands, club: u128, from: i64, until: i64, scheme: Scheme) -> BlockSpan {
    BlockSpan {
        block: BlockId(Uuid::from_u128(0x5000)),
        movement: movement(1),
        hands,
        loading: loading(club),
        scheme,
        from: day(from),
        until: day(until),
    }
}

/// A history with the rack above and no blocks.
pub(super) fn history(sessions: Vec<Session>) -> History {
    History::new(sessions, rack(), None)
}

/// The life of every episode of these rules, as "T4 7-21" or, while it stands, "T4 7-"; days are
/// numbers of [`day`].
pub(super) fn lives(history: &History, rules: &[&str], as_of: i64) -> Vec<String> {
    let found = episodes(history, &Policy::default(), day(as_of));
    let number = |date: Date| (date - day(0)).whole_days();
    found
        .iter()
        .filter(|episode| rules.contains(&episode.flag.rule.id()))
        .map(|Episode { flag, until }| {
            let until = until.map(|until| number(until).to_string());
            format!(
                "{} {}-{}",
                flag.rule.id(),
                number(flag.since),
                until.unwrap_or_default()
            )
        })
        .collect()
}

/// The only episode of a rule.
pub(super) fn only(history: &History, rule: super::Rule, as_of: i64) -> Episode {
    let mut found = episodes(history, &Policy::default(), day(as_of));
    found.retain(|episode| episode.flag.rule == rule);
    assert_eq!(found.len(), 1, "{rule:?}: {found:?}");
    found.remove(0)
}
