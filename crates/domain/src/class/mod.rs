//! The class plan: who swings what, when.
//!
//! A **rotation** is a stretch of a class in which everybody holds at most one club, and every club
//! is held by at most as many as there are of it. A club that is loaded with plates is one thing:
//! two of its loadings cannot be out at the same time unless there are two of the club. An athlete's
//! own club is held by them alone. Where the room takes only so many at once, no rotation has more.
//!
//! [`plan`] gives, first, the **fewest rotations** in which everybody does all of their work. That is
//! exact for every class, also where somebody may choose among several clubs or needs several one
//! after another. Three things ask for rotations: the athlete with the most clubs to swing, the room
//! for all, and the clubs. The fewest are as many as the most demanding of the three asks for; it
//! is what `fewest.rs` works out and [`Bound`] tells.
//!
//! Then, among all plans with so few rotations, **the order of last time**: from the first rotation
//! on, as many as can be swing where they did last time, so that partners stay partners; whoever could
//! not comes next, before those whose place it is; nobody is moved forward while nothing asks for it,
//! and whoever was not there fills what is free. Somebody whom the coach holds to be first comes
//! before all that. Neither ever costs a rotation: where a wish and the fewest rotations do not go
//! together, the wish gives way and the plan says so. What is best is told rotation by rotation: the
//! first is as near to last time as it can be, then the second with what is left, and so on. Where
//! people may choose among clubs, the clubs are given out before that.

mod fewest;
mod of_the_day;
mod order;

use std::num::NonZeroU16;

use serde::{Deserialize, Serialize};

use crate::id::{AthleteId, ClubId, LoadingId};

pub use of_the_day::{Ahead, OfTheDay, of_the_day};

/// A club of the rack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RackClub {
    /// Which.
    pub club: ClubId,
    /// How many of the same there are.
    pub count: u16,
    /// Whose own it is; `None` for the gym's.
    pub owner: Option<AthleteId>,
}

/// A club as loaded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct AsLoaded {
    /// The thing that is picked up.
    pub club: ClubId,
    /// With what on it.
    pub loading: LoadingId,
}

/// What an athlete does with one club, from picking it up to putting it back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Work {
    /// Any of these will do, the one that is rather wanted first. Usually it is one.
    pub any_of: Vec<AsLoaded>,
}

/// Somebody who is expected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Expected {
    /// Who.
    pub athlete: AthleteId,
    /// What their session of the day needs, one after another.
    pub works: Vec<Work>,
    /// The coach holds them to be first.
    pub first: bool,
}

/// Somebody with a club in a rotation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Swing {
    /// Who.
    pub athlete: AthleteId,
    /// With which club.
    pub with: AsLoaded,
}

/// All that a plan is made from.
#[derive(Debug, Clone, Copy)]
pub struct ClassDay<'a> {
    /// Who is expected, each once, in the order in which they are shown.
    pub expected: &'a [Expected],
    /// The clubs there are.
    pub rack: &'a [RackClub],
    /// How many the room lets swing at once, with clear space around each; `None` for all.
    pub at_once: Option<NonZeroU16>,
    /// The rotations of last time, first to last; empty if there was none.
    pub last: &'a [Vec<Swing>],
}

/// Who swings what, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClassPlan {
    /// The rotations, first to last; in each, people in the order in which they are expected.
    pub rotations: Vec<Vec<Swing>>,
    /// Why there are not fewer: each of these alone asks for all of the rotations. Empty where one
    /// rotation is enough.
    pub why: Vec<Bound>,
    /// The one more club that would help most; `None` where no single one saves a rotation.
    pub one_more: Option<OneMore>,
    /// Whom the coach holds to be first and who are not in the first rotation: there are not enough
    /// clubs, or places, for all of them at once without a rotation more.
    pub not_first: Vec<AthleteId>,
    /// Who has work that no club of the rack can be had for. That work is not in the plan.
    pub without_club: Vec<AthleteId>,
}

/// Something that asks for as many rotations as there are.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "bound")]
pub enum Bound {
    /// One athlete has so many clubs to swing, one after another.
    OneAfterAnother {
        /// Who.
        athlete: AthleteId,
        /// How many clubs.
        works: usize,
    },
    /// The room takes only so many at once.
    Room {
        /// How many swings there are in all.
        swings: usize,
        /// How many the room takes.
        at_once: u16,
    },
    /// These clubs are short: so many swings have no other club to go to.
    Short {
        /// The clubs; several where people may choose among them.
        clubs: Vec<ClubId>,
        /// How many of them there are, together.
        there_are: u32,
        /// How many swings need one of them.
        swings: usize,
        /// Who swings them, in the order in which they are expected.
        wanted_by: Vec<AthleteId>,
    },
}

/// What one more of a club would change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OneMore {
    /// The club, or several of which one more of any helps equally.
    pub clubs: Vec<ClubId>,
    /// How many rotations there would be then.
    pub rotations: usize,
}

/// Makes the plan of a class on a day.
pub fn plan(day: &ClassDay<'_>) -> ClassPlan {
    let (works, without_club) = fewest::Works::of(day);
    let rotations = works.fewest();
    let ordered = order::order(&works, rotations, day);
    let not_first = day
        .expected
        .iter()
        .filter(|one| one.first && works.is_of(one.athlete))
        .map(|one| one.athlete)
        .filter(|athlete| {
            let swings = |first: &Vec<Swing>| first.iter().any(|swing| swing.athlete == *athlete);
            !ordered.first().is_some_and(swings)
        })
        .collect();
    ClassPlan {
        why: works.why(rotations),
        one_more: works.one_more(rotations),
        rotations: ordered,
        not_first,
        without_club,
    }
}

#[cfg(test)]
mod tests;
