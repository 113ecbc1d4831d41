//! W · Weight jumps, and M4 where a step could only be judged by mass.
//!
//! A step is judged from the club of the last session in that movement and hands; a change of less
//! than 2 % is none. Flags about a step end together ([`super::steps`]).
//!
//! - **W1** The step is over the limit: 33 %, common practice, the coach's own number. Published
//!   guidance for load increases is 2 to 10 % (Ratamess et al., ACSM position stand, *Med Sci Sports
//!   Exerc* 2009;41:687-708), which fixed clubs cannot reach: hence V4 and T3.
//! - **W2** A usable club with a smaller step stood in the rack. Smaller by at least the 2 % that make
//!   a step. Which clubs are usable is known for today only. Common practice, no source.
//! - **W3** The step was not earned: neither T4 nor V3 ever held on the old club, in that movement and
//!   hands. Common practice, no source.
//! - **W4** The volume was kept across the step: the same condition as V4, whose flag states the rule
//!   as a note, while this one asks the coach to look.
//! - **W5** The restart was heavy: the same condition as O2, likewise.
//! - **M4** The step could only be judged by mass, as a balance point or a grip is not known.

use super::log::Log;
use super::steps::{Step, is_earned_at};
use super::{Episode, Evidence, Flag, Rule, Subject};
use crate::club::{StepBasis, StepSize, step_size};
use crate::id::LoadingId;

/// M4, W1 to W3.
pub(super) fn episodes(log: &Log, steps: &[Step], earned: &[Episode]) -> Vec<Episode> {
    let mut found = Vec::new();
    for step in steps {
        let smaller = smaller_step(log, step);
        let was_earned = earned.iter().any(|episode| {
            is_earned_at(episode, step.movement, step.hands, step.from)
                && episode.flag.since <= step.on
        });
        let flags = [
            (Rule::M4, step.size.basis == StepBasis::MassOnly),
            (Rule::W1, step.size.is_over(log.policy.step_percent / 100.0)),
            (Rule::W2, smaller.is_some()),
            (Rule::W3, !was_earned),
        ];
        let raised = flags.into_iter().filter(|(_, holds)| *holds);
        found.extend(raised.map(|(rule, _)| Episode {
            flag: Flag {
                rule,
                severity: rule.severity(),
                subject: Subject {
                    movement: Some(step.movement),
                    hands: Some(step.hands),
                    loading: Some(step.to),
                    seconds: None,
                    place: None,
                },
                since: step.on,
                evidence: Evidence::Step {
                    from: step.from,
                    to: step.to,
                    step: step.size,
                    limit_percent: log.policy.step_percent,
                    smaller: smaller.map(|(club, _)| club),
                    smaller_step: smaller.map(|(_, size)| size),
                },
            },
            until: step.until,
        }));
    }
    found
}

/// W2: the usable club with the smallest step, where it is smaller than the one taken. A club that can
/// only be compared by mass counts only where the step itself was judged so.
fn smaller_step(log: &Log, step: &Step) -> Option<(LoadingId, StepSize)> {
    let from = log.history.club(step.from)?;
    let least = log.policy.step_percent_min / 100.0;
    let by_mass = |size: StepSize| size.basis == StepBasis::MassOnly;
    log.history
        .clubs
        .iter()
        .filter(|club| club.usable && club.loading != step.from && club.loading != step.to)
        .map(|club| (club.loading, step_size(&from.mechanics, &club.mechanics)))
        .filter(|(_, size)| size.fraction >= least && size.fraction + least <= step.size.fraction)
        .filter(|(_, size)| !by_mass(*size) || by_mass(step.size))
        .min_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction).then(a.0.cmp(&b.0)))
}

/// W4 and W5: the same episodes as V4 and O2, for the coach to look at.
pub(super) fn twins(episodes: &[Episode]) -> Vec<Episode> {
    let of = |rule: Rule| {
        episodes
            .iter()
            .filter(move |episode| rule.restates() == Some(episode.flag.rule))
            .map(move |episode| {
                let mut twin = episode.clone();
                twin.flag.rule = rule;
                twin.flag.severity = rule.severity();
                twin
            })
    };
    of(Rule::W4).chain(of(Rule::W5)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::Severity;
    use super::super::scenario::{
        Did, club, club_by_mass, history, lives, loading, only, rack, session,
    };
    use super::*;
    use crate::training::{Hands, History, Session};

    const ALL: &[&str] = &["M4", "W1", "W2", "W3", "W4", "W5"];

    fn swung(on: i64, club: u128) -> Session {
        session(on).against_the_clock(club, &[10])
    }

    /// Three sessions that set the goal, two that reach it, on days 0 to 14.
    fn finished(club: u128) -> Vec<Session> {
        [(0, 10), (3, 10), (7, 10), (10, 12), (14, 12)]
            .map(|(on, count)| session(on).against_the_clock(club, &[count]))
            .to_vec()
    }

    fn then(mut sessions: Vec<Session>, more: &[(i64, u128)]) -> History {
        sessions.extend(more.iter().map(|(on, club)| swung(*on, *club)));
        history(sessions)
    }

    // The rack's clubs ask for 20, 25, 30, 40 and 50 N·m. 33 % is common practice, no source.
    #[test]
    fn steps_by_table() {
        let cases: [(&str, Vec<Session>, u128, &[&str]); 6] = [
            ("the next club, earned", finished(1), 2, &[]),
            (
                "the next club, not earned",
                vec![swung(0, 1)],
                2,
                &["W3 17-"],
            ),
            ("a club left out", finished(1), 3, &["W1 17-", "W2 17-"]),
            ("a third more is over 33 %", finished(3), 4, &["W1 17-"]),
            ("down", vec![swung(0, 3)], 2, &[]),
            ("the same", vec![swung(0, 3)], 3, &[]),
        ];
        for (name, before, next, expected) in cases {
            let history = then(before, &[(17, next)]);
            assert_eq!(lives(&history, ALL, 17), expected, "{name}");
        }
    }

    #[test]
    fn the_evidence_names_the_smaller_step() {
        let history = then(finished(1), &[(17, 4)]);
        let Evidence::Step {
            from,
            to,
            step,
            smaller,
            smaller_step,
            ..
        } = only(&history, Rule::W2, 17).flag.evidence
        else {
            panic!("step evidence");
        };
        assert_eq!(
            (from, to, smaller),
            (loading(1), loading(4), Some(loading(2)))
        );
        assert!((step.fraction - 1.0).abs() < 1e-9);
        assert!((smaller_step.unwrap().fraction - 0.25).abs() < 1e-9);
    }

    #[test]
    fn a_club_that_cannot_be_picked_up_was_not_skipped() {
        let mut history = then(finished(1), &[(17, 3)]);
        history.clubs[1].usable = false;
        assert_eq!(lives(&history, ALL, 17), ["W1 17-"]);
    }

    #[test]
    fn by_mass_only_is_said() {
        let mut history = then(finished(1), &[(17, 9)]);
        history.clubs.push(club_by_mass(9, 6.0));
        // 5 kg to 6 kg is 20 %; club 2, known better, is not compared with that.
        assert_eq!(lives(&history, ALL, 17), ["M4 17-"]);
        let evidence = only(&history, Rule::M4, 17).flag.evidence;
        assert!(
            matches!(evidence, Evidence::Step { step, .. } if step.basis == StepBasis::MassOnly)
        );
    }

    /// Judged by moment, a step is not compared with a club known by its mass alone.
    #[test]
    fn what_is_known_by_mass_alone_is_not_skipped() {
        let mut history = then(finished(1), &[(17, 3)]);
        history.clubs[1] = club_by_mass(2, 6.0);
        assert_eq!(lives(&history, ALL, 17), ["W1 17-"]);
    }

    #[test]
    fn a_step_as_good_as_the_same_was_not_skipped() {
        let mut history = then(finished(1), &[(17, 6)]);
        history.clubs.push(club(6, 6.4, 25.3));
        assert_eq!(lives(&history, ALL, 17), [""; 0]);
    }

    /// M4: the same mass further out is a step; a heavier but shorter club is none.
    #[test]
    fn mass_alone_is_not_a_step() {
        let clubs = vec![club(1, 8.0, 30.0), club(2, 8.0, 45.0), club(3, 10.0, 28.0)];
        let to = |next: u128| {
            let mut sessions = finished(1);
            sessions.push(swung(17, next));
            lives(&History::new(sessions, clubs.clone(), None), ALL, 17)
        };
        assert_eq!(to(2), ["W1 17-"]);
        assert_eq!(to(3), [""; 0]);
    }

    #[test]
    fn a_change_under_two_percent_is_no_step() {
        let mut clubs = rack();
        clubs.push(club(6, 5.0, 20.3));
        let sessions = vec![swung(0, 1), swung(3, 6), swung(7, 1)];
        assert_eq!(lives(&History::new(sessions, clubs, None), ALL, 8), [""; 0]);
    }

    /// The lighter club of a warm-up is not what a step is judged from.
    #[test]
    fn a_warm_up_is_no_step() {
        let warmed_up = |on: i64| {
            session(on)
                .against_the_clock(1, &[10])
                .against_the_clock(4, &[8])
        };
        let history = history(vec![warmed_up(0), warmed_up(3), warmed_up(7)]);
        assert_eq!(lives(&history, ALL, 8), [""; 0]);
    }

    /// Nor is the lighter club of the last sets.
    #[test]
    fn a_lighter_club_at_the_end_is_no_step() {
        let wound_down = |on: i64| {
            session(on)
                .against_the_clock(4, &[8])
                .against_the_clock(1, &[10])
        };
        let history = history(vec![
            wound_down(0),
            swung(3, 4),
            wound_down(7),
            swung(10, 4),
        ]);
        assert_eq!(lives(&history, ALL, 11), [""; 0]);
    }

    /// What was earned on the new club long before does not end the news of stepping back up to it.
    #[test]
    fn an_old_step_earned_does_not_settle_a_new_one() {
        let history = then(finished(2), &[(17, 1), (21, 2)]);
        assert_eq!(lives(&history, ALL, 22), ["W3 21-"]);
    }

    /// A missed rep with either club of a session keeps the step from being settled.
    #[test]
    fn a_session_goes_well_with_all_its_clubs() {
        let light = |on: i64| session(on).straight(Hands::One, 1, &[5; 5]);
        let heavy = |on: i64, [first, second]: [u16; 2]| {
            session(on)
                .straight(Hands::One, 1, &[5, 5, 5, 5, first])
                .straight(Hands::One, 2, &[5, 5, 5, 5, second])
        };
        let settled = |last_sets: [u16; 2]| {
            let mut sessions = vec![light(0)];
            sessions.extend([3, 7, 10, 14].map(|on| heavy(on, last_sets)));
            lives(&history(sessions), &["W3"], 15)
        };
        assert_eq!(settled([5, 5]), ["W3 3-14"]);
        assert_eq!(settled([4, 5]), ["W3 3-"]);
        assert_eq!(settled([5, 4]), ["W3 3-"]);
    }

    #[test]
    fn hands_and_movements_are_judged_apart() {
        let one_hand = session(3).straight(Hands::One, 4, &[5; 5]);
        let other_movement = swung(7, 5).moving(2);
        let history = history(vec![swung(0, 1), one_hand, other_movement]);
        // No step; but one hand began heavier than the only club worked with two.
        assert_eq!(lives(&history, ALL, 8), ["W5 3-"]);
    }

    #[test]
    fn a_step_is_news_until_it_is_settled_or_undone() {
        type Case<'a> = (&'a str, &'a [(i64, u128)], i64, &'a [&'a str]);
        let cases: [Case; 5] = [
            (
                "settled",
                &[(17, 2), (21, 2), (24, 2), (28, 2)],
                30,
                &["W3 17-28"],
            ),
            ("not yet", &[(17, 2), (21, 2), (24, 2)], 30, &["W3 17-"]),
            ("taken back", &[(17, 2), (21, 1)], 30, &["W3 17-21"]),
            (
                "another on top",
                &[(17, 2), (21, 3)],
                22,
                &["W3 17-21", "W3 21-"],
            ),
            ("left", &[(17, 2)], 45, &["W3 17-45"]),
        ];
        for (name, more, as_of, expected) in cases {
            let history = then(vec![swung(0, 1)], more);
            assert_eq!(lives(&history, ALL, as_of), expected, "{name}");
        }
        let mut hard = vec![swung(0, 1)];
        hard.extend([17, 21, 24, 28].map(|on| swung(on, 2).effort(8.0)));
        assert_eq!(lives(&history(hard), ALL, 30), ["W3 17-"]);
    }

    #[test]
    fn twins_say_the_same_of_the_same() {
        let sessions = vec![
            session(0).straight(Hands::One, 1, &[5; 10]),
            session(3).straight(Hands::One, 1, &[5; 10]),
            session(7).straight(Hands::One, 2, &[5; 10]),
        ];
        let history = history(sessions);
        let stated = only(&history, Rule::V4, 8);
        let looked_at = only(&history, Rule::W4, 8);
        assert_eq!(stated.flag.severity, Severity::Note);
        assert_eq!(looked_at.flag.severity, Severity::Look);
        assert_eq!(stated.flag.evidence, looked_at.flag.evidence);
        assert_eq!(stated.flag.subject, looked_at.flag.subject);
    }
}
