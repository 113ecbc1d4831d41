//! What somebody's session of the day needs.

use time::Date;

use crate::id::LoadingId;
use crate::plan::Prescription;

/// A session that is planned for a day or after it, skipped and ended ones left out.
#[derive(Debug, Clone, Copy)]
pub struct Ahead<'a> {
    /// When.
    pub on: Date,
    /// What it asks for.
    pub prescription: &'a Prescription,
    /// It is in the log already.
    pub logged: bool,
    /// It waits for the coach: a stop flag is open (L4).
    pub waits: bool,
}

/// What an athlete does in a class on a day, by their plan.
#[derive(Debug, Clone, PartialEq)]
pub enum OfTheDay<'a> {
    /// What is planned for the day, without what waits for the coach.
    Planned {
        /// The sessions.
        sessions: Vec<&'a Prescription>,
        /// Whether another of that day waits and is left out.
        some_wait: bool,
    },
    /// Nothing is planned for the day: the next day that has something.
    Next {
        /// That day.
        on: Date,
        /// Its sessions.
        sessions: Vec<&'a Prescription>,
    },
    /// All that was planned for the day is in the log.
    Done,
    /// All there is waits for the coach (L4).
    Waits,
    /// Nothing is planned.
    Nothing,
}

/// What an athlete does in a class on a day. `ahead` is in order of day and begins no later.
pub fn of_the_day<'a>(ahead: &[Ahead<'a>], day: Date) -> OfTheDay<'a> {
    let on = |day: Date| ahead.iter().filter(move |one| one.on == day);
    let open = |one: &&Ahead<'_>| !one.logged && !one.waits;
    let sessions = |day| on(day).filter(open).map(|one| one.prescription).collect();
    let some_wait = |day| on(day).any(|one| one.waits && !one.logged);
    if on(day).any(|one| open(&one)) {
        return OfTheDay::Planned {
            sessions: sessions(day),
            some_wait: some_wait(day),
        };
    }
    if some_wait(day) {
        return OfTheDay::Waits;
    }
    if on(day).next().is_some() {
        return OfTheDay::Done;
    }
    let mut later = ahead.iter().filter(|one| one.on > day && !one.logged);
    match later.clone().find(open) {
        Some(next) => OfTheDay::Next {
            on: next.on,
            sessions: sessions(next.on),
        },
        None if later.next().is_some() => OfTheDay::Waits,
        None => OfTheDay::Nothing,
    }
}

impl<'a> OfTheDay<'a> {
    /// What is done, if anything is.
    pub fn sessions(&self) -> &[&'a Prescription] {
        match self {
            Self::Planned { sessions, .. } | Self::Next { sessions, .. } => sessions,
            Self::Done | Self::Waits | Self::Nothing => &[],
        }
    }

    /// The clubs, as loaded, one after another, each once.
    pub fn clubs(&self) -> Vec<LoadingId> {
        let mut clubs = Vec::new();
        for session in self.sessions() {
            if !clubs.contains(&session.loading) {
                clubs.push(session.loading);
            }
        }
        clubs
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;
    use uuid::Uuid;

    use super::*;
    use crate::id::MovementId;
    use crate::plan::Ask;
    use crate::training::Hands;
    use crate::units::Reps;

    const DAY: Date = date!(2026 - 11 - 26);
    const NEXT: Date = date!(2026 - 11 - 30);

    fn with(club: u128) -> Prescription {
        Prescription {
            movement: MovementId(Uuid::from_u128(1)),
            movement_name: "Mill".to_owned(),
            hands: Hands::One,
            loading: LoadingId(Uuid::from_u128(club)),
            club_name: "a club".to_owned(),
            sets: 5,
            ask: Ask::Straight {
                reps: Reps::new(5).unwrap(),
            },
            rest_seconds: 60,
            note: None,
            week: 1,
        }
    }

    #[test]
    fn it_is_the_days_session_else_the_next_without_what_waits_or_is_logged() {
        let (one, two) = (with(1), with(2));
        let plain = |on, prescription| Ahead {
            on,
            prescription,
            logged: false,
            waits: false,
        };
        let held = |ahead| Ahead {
            waits: true,
            ..ahead
        };
        let logged = |ahead| Ahead {
            logged: true,
            ..ahead
        };
        let planned = |sessions, some_wait| OfTheDay::Planned {
            sessions,
            some_wait,
        };
        let next = |sessions| OfTheDay::Next { on: NEXT, sessions };
        for (ahead, expected) in [
            (vec![], OfTheDay::Nothing),
            (vec![plain(DAY, &one)], planned(vec![&one], false)),
            (
                vec![plain(DAY, &one), plain(DAY, &two)],
                planned(vec![&one, &two], false),
            ),
            (
                vec![plain(DAY, &one), held(plain(DAY, &two))],
                planned(vec![&one], true),
            ),
            (
                vec![logged(plain(DAY, &one)), plain(DAY, &two)],
                planned(vec![&two], false),
            ),
            (
                vec![held(plain(DAY, &one)), plain(NEXT, &two)],
                OfTheDay::Waits,
            ),
            (
                vec![logged(plain(DAY, &one)), plain(NEXT, &two)],
                OfTheDay::Done,
            ),
            (
                vec![plain(NEXT, &one), plain(NEXT, &two)],
                next(vec![&one, &two]),
            ),
            (
                vec![held(plain(NEXT, &one)), plain(NEXT, &two)],
                next(vec![&two]),
            ),
            (vec![held(plain(NEXT, &one))], OfTheDay::Waits),
        ] {
            assert_eq!(of_the_day(&ahead, DAY), expected, "{ahead:?}");
        }
    }

    #[test]
    fn a_club_that_two_sessions_need_is_picked_up_once() {
        let (one, two) = (with(1), with(2));
        let of = OfTheDay::Planned {
            sessions: vec![&two, &one, &two],
            some_wait: false,
        };
        assert_eq!(of.clubs(), [two.loading, one.loading]);
    }
}
