//! Invented logs, in few words, for the tests of the rules.

use time::{Date, Duration};
use uuid::Uuid;

use crate::club::ClubMeasure;
use crate::id::{ClubId, LoadingId, MovementId, SessionId};
use crate::training::{
    AvailableClub, Hands, History, Pain, PainPlace, Session, SetDone, Side, Work,
};
use crate::units::{Effort, Minutes, Pain as PainScore, Reps, Seconds};

pub(crate) const MILL: MovementId = MovementId(Uuid::from_u128(0xA1));
pub(crate) const PULLOVER: MovementId = MovementId(Uuid::from_u128(0xA2));

/// The club with this number.
pub(crate) const fn club(number: u128) -> LoadingId {
    LoadingId(Uuid::from_u128(0xC000 + number))
}

/// A club of this mass, balanced 500 mm from its grip, so that steps go by static moment alone.
pub(crate) fn of_mass(number: u128, mass_kg: f64) -> AvailableClub {
    let json = format!(r#"{{"mass_kg":{mass_kg},"length_mm":800,"balance_mm":550,"grip_mm":50}}"#);
    let measure: ClubMeasure = serde_json::from_str(&json).unwrap();
    AvailableClub {
        loading: club(number),
        club: ClubId(Uuid::from_u128(0xC000 + number)),
        mechanics: *measure.mechanics(),
        usable: true,
    }
}

/// One session in the making.
#[derive(Debug, Clone)]
pub(crate) struct Day(pub(crate) Session);

pub(crate) fn day(on: Date) -> Day {
    let number = u128::from(on.to_julian_day().unsigned_abs());
    Day(Session {
        id: SessionId(Uuid::from_u128(number)),
        on,
        planned: None,
        minutes: None,
        effort: None,
        pain: Vec::new(),
        sets: Vec::new(),
    })
}

impl Day {
    /// As many sets on each side as there are pairs of left and right reps; straight sets where
    /// `seconds` is 0.
    pub(crate) fn sets(
        mut self,
        (movement, hands, loading): (MovementId, Hands, LoadingId),
        seconds: u16,
        reps: &[(u16, u16)],
    ) -> Self {
        for (left, right) in reps {
            for (side, reps) in [(Side::Left, left), (Side::Right, right)] {
                let reps = Reps::new(i64::from(*reps)).unwrap();
                let work = match Seconds::new(i64::from(seconds)) {
                    Ok(seconds) => Work::Interval { seconds, reps },
                    Err(_) => Work::Straight { reps, asked: None },
                };
                self.0.sets.push(SetDone {
                    movement,
                    hands,
                    loading,
                    side,
                    work,
                });
            }
        }
        self
    }

    pub(crate) fn effort(mut self, effort: f64) -> Self {
        self.0.effort = Some(Effort::new(effort).unwrap());
        self
    }

    pub(crate) fn minutes(mut self, minutes: i64) -> Self {
        self.0.minutes = Some(Minutes::new(minutes).unwrap());
        self
    }

    pub(crate) fn pain(mut self, score: i64, place: &str) -> Self {
        self.0.pain.push(Pain {
            score: PainScore::new(score).unwrap(),
            place: PainPlace::new(place).ok(),
        });
        self
    }
}

/// A history of these sessions with these clubs and no known plan.
pub(crate) fn history(days: Vec<Day>, clubs: Vec<AvailableClub>) -> History {
    History::new(days.into_iter().map(|day| day.0).collect(), clubs, None)
}

/// The day so many days after another.
pub(crate) fn plus(day: Date, days: i64) -> Date {
    day + Duration::days(days)
}
