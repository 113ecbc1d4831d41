//! Invented logs, in few words, for the tests: days, clubs and sessions in one line each, and tables of
//! examples that say what the rules make of them.

use time::macros::date;
use time::{Date, Duration};
use uuid::Uuid;

use crate::club::{ClubMeasure, Mechanics};
use crate::id::{BlockId, ClubId, LoadingId, MovementId, SessionId};
use crate::plan::Scheme;
use crate::policy::Policy;
use crate::rules::{Episode, Rule, episodes};
use crate::training::{
    AvailableClub, BlockSpan, GateOpening, Hands, History, Pain, PainPlace, Session, SetDone, Side,
    Work,
};
use crate::units::{
    Effort, Mass, Measured, Minutes, Pain as PainScore, Reps, Seconds, StaticMoment,
};

pub(crate) const MILL: MovementId = MovementId(Uuid::from_u128(0xA1));
pub(crate) const PULLOVER: MovementId = MovementId(Uuid::from_u128(0xA2));

/// Day 0 of every table: 2026-01-05 is a Monday, of 2026-W02 (ISO 8601).
pub(crate) const MONDAY: Date = date!(2026 - 01 - 05);

/// The day so many days after another.
pub(crate) fn plus(day: Date, days: i64) -> Date {
    day + Duration::days(days)
}

/// The day with this number.
pub(crate) fn date(number: i64) -> Date {
    plus(MONDAY, number)
}

/// The day of the so-manieth session at two a week: 0, 3, 7, 10, 14, …
pub(crate) fn twice_a_week(session: i64) -> i64 {
    session / 2 * 7 + session % 2 * 3
}

/// The club with this number.
pub(crate) const fn club(number: u128) -> LoadingId {
    LoadingId(Uuid::from_u128(0xC000 + number))
}

/// A club of this mass, balanced 500 mm from its grip, so that steps go by static moment alone.
pub(crate) fn of_mass(number: u128, mass_kg: f64) -> AvailableClub {
    let json = format!(r#"{{"mass_kg":{mass_kg},"length_mm":800,"balance_mm":550,"grip_mm":50}}"#);
    let measure: ClubMeasure = serde_json::from_str(&json).unwrap();
    AvailableClub {
        mechanics: *measure.mechanics(),
        ..by_mass_only(number, mass_kg)
    }
}

/// A club of this mass that asks for this static moment.
pub(crate) fn of_moment(number: u128, kg: f64, nm: f64) -> AvailableClub {
    let mut club = by_mass_only(number, kg);
    club.mechanics.static_moment =
        Some(Measured::new(StaticMoment::from_nm(nm).unwrap(), 0.1).unwrap());
    club
}

/// A club of which only the mass is known.
pub(crate) fn by_mass_only(number: u128, kg: f64) -> AvailableClub {
    AvailableClub {
        loading: club(number),
        club: ClubId(club(number).0),
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
pub(crate) fn rack() -> Vec<AvailableClub> {
    [(1, 20.0), (2, 25.0), (3, 30.0), (4, 40.0), (5, 50.0)]
        .map(|(number, nm)| of_moment(number, nm / 4.0, nm))
        .to_vec()
}

/// One session in the making.
#[derive(Debug, Clone)]
pub(crate) struct Day(pub(crate) Session);

/// A session without sets.
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

/// A session without sets on the day with this number.
pub(crate) fn session(number: i64) -> Day {
    day(date(number))
}

pub(crate) fn reps(count: u16) -> Reps {
    Reps::new(i64::from(count)).unwrap()
}

/// A set of 30 s.
pub(crate) fn half_minute(count: u16) -> Work {
    Work::Interval {
        seconds: Seconds::new(30).unwrap(),
        reps: reps(count),
    }
}

impl Day {
    /// As many sets on each side as there are pairs of left and right reps; straight sets where
    /// `seconds` is 0.
    pub(crate) fn sets(
        mut self,
        (movement, hands, loading): (MovementId, Hands, LoadingId),
        seconds: u16,
        pairs: &[(u16, u16)],
    ) -> Self {
        for (left, right) in pairs {
            for (side, count) in [(Side::Left, left), (Side::Right, right)] {
                let reps = reps(*count);
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

    /// One 30 s set of two-hand mills on each side with each of these counts.
    pub(crate) fn against_the_clock(self, number: u128, counts: &[u16]) -> Self {
        let both: Vec<(u16, u16)> = counts.iter().map(|count| (*count, *count)).collect();
        self.sets((MILL, Hands::Two, club(number)), 30, &both)
    }

    /// One straight set of mills on each side with each of these reps, no plan.
    pub(crate) fn straight(self, hands: Hands, number: u128, counts: &[u16]) -> Self {
        let both: Vec<(u16, u16)> = counts.iter().map(|count| (*count, *count)).collect();
        self.sets((MILL, hands, club(number)), 0, &both)
    }

    /// All sets so far were of another movement.
    pub(crate) fn moving(mut self, movement: MovementId) -> Self {
        for set in &mut self.0.sets {
            set.movement = movement;
        }
        self
    }

    /// What the plan had asked for in every straight set.
    pub(crate) fn asked(mut self, count: u16) -> Self {
        for set in &mut self.0.sets {
            if let Work::Straight { asked, .. } = &mut set.work {
                *asked = Some(reps(count));
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

    /// Pain at a place, or without one where that is empty.
    pub(crate) fn pain(mut self, score: i64, place: &str) -> Self {
        self.0.pain.push(Pain {
            score: PainScore::new(score).unwrap(),
            place: PainPlace::new(place).ok(),
        });
        self
    }
}

/// A block of mills over these days.
pub(crate) fn block(
    hands: Hands,
    number: u128,
    (from, until): (i64, i64),
    scheme: Scheme,
) -> BlockSpan {
    BlockSpan {
        block: BlockId(Uuid::from_u128(0xB10C)),
        movement: MILL,
        hands,
        loading: club(number),
        scheme,
        from: date(from),
        until: date(until),
    }
}

/// The coach opened one-hand mills.
pub(crate) fn opening(on: i64) -> GateOpening {
    GateOpening {
        movement: MILL,
        on: date(on),
        reason: "came from another hall".to_owned(),
    }
}

/// A history of these sessions with these clubs and no known plan.
pub(crate) fn history(days: Vec<Day>, clubs: Vec<AvailableClub>) -> History {
    History::new(days.into_iter().map(|day| day.0).collect(), clubs, None)
}

impl From<Vec<Day>> for History {
    /// A history with the clubs of [`rack`] and no known plan.
    fn from(days: Vec<Day>) -> Self {
        history(days, rack())
    }
}

/// The only episode of a rule by a day, with the policy as shipped.
pub(crate) fn only(history: &History, rule: Rule, as_of: i64) -> Episode {
    let mut found = episodes(history, &Policy::default(), date(as_of));
    found.retain(|episode| episode.flag.rule == rule);
    assert_eq!(found.len(), 1, "{rule:?}: {found:?}");
    found.remove(0)
}

/// What the rules with these ids say of a history by a day: "T4 from day 7" while the flag stands, "T4 day
/// 7 to 21" once it has ended on day 21; several in order of day, "nothing" where none was raised.
pub(crate) fn said(history: &History, policy: &Policy, rules: &[&str], as_of: i64) -> String {
    let number = |date: Date| (date - MONDAY).whole_days();
    let said: Vec<String> = episodes(history, policy, date(as_of))
        .iter()
        .filter(|episode| rules.contains(&episode.flag.rule.id()))
        .map(|Episode { flag, until }| {
            let (id, since) = (flag.rule.id(), number(flag.since));
            match until {
                None => format!("{id} from day {since}"),
                Some(until) => format!("{id} day {since} to {}", number(*until)),
            }
        })
        .collect();
    if said.is_empty() {
        return "nothing".to_owned();
    }
    said.join(", ")
}

/// A table of examples for some rules: what a coach would say of the log, the log, and what the rules say
/// of it on the day of its last session.
pub(crate) fn examples<Log: Into<History>, const ROWS: usize>(
    rules: &[&str],
    rows: [(&str, Log, &str); ROWS],
) {
    let last_day = |history: &History| {
        let last = history.sessions().last().expect("a log with a session");
        (last.on - MONDAY).whole_days()
    };
    for (words, log, expected) in rows {
        let history = log.into();
        let said = said(&history, &Policy::default(), rules, last_day(&history));
        assert_eq!(said, expected, "{words}");
    }
}

/// As [`examples`], on the day given in each row.
pub(crate) fn examples_by_day<Log: Into<History>, const ROWS: usize>(
    rules: &[&str],
    rows: [(&str, Log, i64, &str); ROWS],
) {
    for (words, log, as_of, expected) in rows {
        let said = said(&log.into(), &Policy::default(), rules, as_of);
        assert_eq!(said, expected, "{words}");
    }
}
