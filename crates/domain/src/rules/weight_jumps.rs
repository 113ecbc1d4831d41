//! W · Weight jumps, and M4 where a step could only be judged by mass.
//!
//! A step is judged from the last club actually worked in that movement and hands.
//!
//! - **M4** Step size is the larger of `S_B/S_A − 1` and, where both are known, `I_B/I_A − 1`. With no balance
//!   point it falls back to mass, marked "by mass only". Source: mechanics.
//! - **W1** Too big: step size over the limit (default 33 %). Source: common practice, the coach's own number.
//!   Shown beside it: published guidance for load increases is 2 to 10 % (Ratamess et al., ACSM position
//!   stand, Med Sci Sports Exerc 2009;41:687-708), which fixed clubs cannot reach; hence V4 and T3.
//! - **W2** Skipped: a usable club with a smaller step stood in the athlete's rack. Source: common practice.
//! - **W3** Not earned: neither T4 nor V3 held on the old club. Source: common practice.
//! - **W4** Volume kept: V4 broken. Source: as V4.
//! - **W5** Heavy restart: O2 broken. Source: as O2.
//!
//! A change of less than 2 % is no step. Flags about a step end together ([`super::steps`]).

use super::life::{about_club, episode};
use super::log::Log;
use super::steps::{Step, is_earned_at};
use super::{Episode, Evidence, Rule};
use crate::club::{StepBasis, StepSize, step_size};
use crate::id::LoadingId;
use crate::policy::Policy;

/// **M4** With no balance point it falls back to mass, marked "by mass only".
fn by_mass_only(step: StepSize) -> bool {
    step.basis == StepBasis::MassOnly
}

/// **W1** Too big: step size over the limit (default 33 %).
fn too_big(step: StepSize, policy: &Policy) -> bool {
    step.is_over(policy.step_percent / 100.0)
}

/// **W2** Skipped: a usable club with a smaller step stood in the athlete's rack.
///
/// Smaller by at least the 2 % that make a step. Which clubs are usable is known for today only. A club that
/// can only be compared by mass counts only where the step itself was judged so.
fn skipped(step: &Step, log: &Log) -> Option<(LoadingId, StepSize)> {
    let from = log.history.club(step.from)?;
    let least = log.policy.step_percent_min / 100.0;
    log.history
        .clubs
        .iter()
        .filter(|club| club.usable && club.loading != step.from && club.loading != step.to)
        .map(|club| (club.loading, step_size(&from.mechanics, &club.mechanics)))
        .filter(|(_, size)| size.leads_up() && size.fraction >= least)
        .filter(|(_, size)| size.fraction < step.size.fraction)
        .filter(|(_, size)| size.fraction + least <= step.size.fraction)
        .filter(|(_, size)| !by_mass_only(*size) || by_mass_only(step.size))
        .min_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction).then(a.0.cmp(&b.0)))
}

/// **W3** Not earned: neither T4 nor V3 held on the old club, ever, in that movement and hands.
fn not_earned(step: &Step, found: &[Episode]) -> bool {
    !found.iter().any(|episode| {
        is_earned_at(episode, step.movement, step.hands, step.from) && episode.flag.since <= step.on
    })
}

/// **W4** Volume kept: V4 broken. **W5** Heavy restart: O2 broken.
///
/// V4 and O2 state the rule as a note; these ask the coach to look at the same, and stand as long.
pub(super) fn volume_kept_and_heavy_restart(found: &[Episode]) -> Vec<Episode> {
    let looked_at = |rule: Rule| {
        found
            .iter()
            .filter(move |episode| rule.restates() == Some(episode.flag.rule))
            .map(move |episode| {
                let mut twin = episode.clone();
                twin.flag.rule = rule;
                twin.flag.severity = rule.severity();
                twin
            })
    };
    looked_at(Rule::W4).chain(looked_at(Rule::W5)).collect()
}

// How M4 and W1 to W3 are asked of every step.

pub(super) fn episodes(log: &Log, steps: &[Step], found: &[Episode]) -> Vec<Episode> {
    steps
        .iter()
        .flat_map(|step| {
            let smaller = skipped(step, log);
            let flags = [
                (Rule::M4, by_mass_only(step.size)),
                (Rule::W1, too_big(step.size, log.policy)),
                (Rule::W2, smaller.is_some()),
                (Rule::W3, not_earned(step, found)),
            ];
            let broken = flags.into_iter().filter(|(_, broken)| *broken);
            broken.map(move |(rule, _)| {
                episode(
                    rule,
                    about_club(step.movement, step.hands, step.to),
                    (step.on, step.until),
                    Evidence::Step {
                        from: step.from,
                        to: step.to,
                        step: step.size,
                        limit_percent: log.policy.step_percent,
                        smaller: smaller.map(|(club, _)| club),
                        smaller_step: smaller.map(|(_, size)| size),
                    },
                )
            })
        })
        .collect()
}

#[cfg(test)]
mod examples {
    use super::super::Severity;
    use super::*;
    use crate::scenario::{
        self, Day, PULLOVER, club, examples, examples_by_day, history, of_moment, only, rack, said,
        session,
    };
    use crate::training::{AvailableClub, Hands, History};

    const ALL: &[&str] = &["M4", "W1", "W2", "W3", "W4", "W5"];

    fn swung(on: i64, club: u128) -> Day {
        session(on).against_the_clock(club, &[10])
    }

    /// Three sessions that set the goal, two that reach it, on days 0 to 14.
    fn finished(club: u128) -> Vec<Day> {
        [(0, 10), (3, 10), (7, 10), (10, 12), (14, 12)]
            .map(|(on, count)| session(on).against_the_clock(club, &[count]))
            .to_vec()
    }

    fn then(mut days: Vec<Day>, more: &[(i64, u128)]) -> Vec<Day> {
        days.extend(more.iter().map(|(on, club)| swung(*on, *club)));
        days
    }

    /// From a finished club of 20 N·m to club 2 on day 17.
    fn to(next: AvailableClub) -> History {
        history(
            then(finished(1), &[(17, 2)]),
            vec![of_moment(1, 5.0, 20.0), next],
        )
    }

    // M4, by hand: 26.6 N·m over 20 N·m is 33 %, 26.8 is 34 %; 1.02 times 20 is 20.4. 33 % is common practice,
    // no source; 2 % the low end of published guidance for load increases (ACSM 2009).
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn w1_too_big() {
        examples(
            &["W1"],
            [
                ("33 % passes", to(of_moment(2, 5.0, 26.6)), "nothing"),
                ("34 % is flagged", to(of_moment(2, 5.0, 26.8)), "W1 from day 17"),
                ("the same mass, further out", to(of_moment(2, 5.0, 30.0)), "W1 from day 17"),
                ("twice the mass, asking less", to(of_moment(2, 10.0, 19.0)), "nothing"),
            ],
        );
    }

    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn m4_by_mass_only() {
        let mass_only = |kg| to(scenario::by_mass_only(2, kg));
        examples(
            ALL,
            [
                ("a balance point is known", to(of_moment(2, 6.0, 25.0)), "nothing"),
                ("5 kg to 6 kg, no balance point", mass_only(6.0), "M4 from day 17"),
                ("5 kg to 6.6 kg", mass_only(6.6), "M4 from day 17"),
                ("5 kg to 6.7 kg", mass_only(6.7), "M4 from day 17, W1 from day 17"),
            ],
        );
        let evidence = only(&mass_only(6.0), Rule::M4, 17).flag.evidence;
        let Evidence::Step { step, .. } = evidence else {
            panic!("step evidence");
        };
        assert!(by_mass_only(step) && (step.fraction - 0.2).abs() < 1e-9);
    }

    // Common practice, no source. The rack's clubs ask for 20, 25, 30, 40 and 50 N·m.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn w2_skipped() {
        let with = |change: fn(&mut Vec<AvailableClub>), next| {
            let mut clubs = rack();
            change(&mut clubs);
            history(then(finished(1), &[(17, next)]), clubs)
        };
        examples(
            &["W2"],
            [
                ("20 to 25 N·m", with(|_| {}, 2), "nothing"),
                (
                    "20 to 30 N·m, 25 N·m was there",
                    with(|_| {}, 3),
                    "W2 from day 17",
                ),
                ("25 N·m could not be picked up", with(|clubs| clubs[1].usable = false, 3), "nothing"),
                (
                    "to 25 N·m, where 24.7 was there: not 2 % smaller",
                    with(|clubs| clubs.push(of_moment(6, 6.0, 24.7)), 2),
                    "nothing",
                ),
                (
                    "to 25 N·m, where 24.5 was there",
                    with(|clubs| clubs.push(of_moment(6, 6.0, 24.5)), 2),
                    "W2 from day 17",
                ),
                (
                    "to 25 N·m, where 20.3 was there: no step",
                    with(|clubs| clubs.push(of_moment(6, 6.0, 20.3)), 2),
                    "nothing",
                ),
                (
                    "to 25 N·m, where 20.5 was there",
                    with(|clubs| clubs.push(of_moment(6, 6.0, 20.5)), 2),
                    "W2 from day 17",
                ),
                (
                    "to 30 N·m; what stood between is known by mass alone",
                    with(|clubs| clubs[1] = scenario::by_mass_only(2, 6.0), 3),
                    "nothing",
                ),
                (
                    "5 to 7 kg by mass alone; 6 kg was there",
                    with(
                        |clubs| {
                            clubs[1] = scenario::by_mass_only(2, 6.0);
                            clubs[2] = scenario::by_mass_only(3, 7.0);
                        },
                        3,
                    ),
                    "W2 from day 17",
                ),
            ],
        );
        // Where nothing is too small for a step, the clubs of the step itself still were not skipped.
        let any = Policy {
            step_percent_min: 0.0,
            ..Policy::default()
        };
        assert_eq!(said(&with(|_| {}, 2), &any, &["W2"], 17), "nothing");
        // Nor was another club that asks for just as much as one of them.
        let twins = with(
            |clubs| clubs.extend([of_moment(6, 6.0, 20.0), of_moment(7, 6.0, 25.0)]),
            2,
        );
        assert_eq!(said(&twins, &any, &["W2"], 17), "nothing");
        // And going on with a club is no step at all.
        let steady = history(then(finished(1), &[(17, 1), (21, 1)]), rack());
        assert_eq!(said(&steady, &any, ALL, 21), "nothing");
        let by_mass = with(|clubs| clubs[0] = scenario::by_mass_only(1, 5.0), 1);
        assert_eq!(said(&by_mass, &any, ALL, 17), "nothing");
        // The smallest of several is named.
        let history = with(|_| {}, 4);
        let Evidence::Step {
            from,
            to,
            step,
            smaller,
            smaller_step,
            limit_percent,
        } = only(&history, Rule::W2, 17).flag.evidence
        else {
            panic!("step evidence");
        };
        assert_eq!((from, to, smaller), (club(1), club(4), Some(club(2))));
        assert!((step.fraction - 1.0).abs() < 1e-9);
        assert!((smaller_step.unwrap().fraction - 0.25).abs() < 1e-9);
        assert!((limit_percent - 33.0).abs() < 1e-9);
    }

    // Common practice, no source.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn w3_not_earned() {
        let one_hand =
            |on, club, sets: usize| session(on).straight(Hands::One, club, &vec![5; sets]);
        examples(
            &["W3"],
            [
                ("T4 on the old club", then(finished(1), &[(17, 2)]), "nothing"),
                ("never", then(vec![swung(0, 1)], &[(17, 2)]), "W3 from day 17"),
                ("T4 only on another club", then(finished(1), &[(17, 2), (21, 3)]), "W3 from day 21"),
                (
                    "T4 in another movement",
                    [
                        finished(1)
                            .into_iter()
                            .map(|day| day.moving(PULLOVER))
                            .collect(),
                        vec![swung(14, 1), swung(17, 2)],
                    ]
                    .concat(),
                    "W3 from day 17",
                ),
                ("V3 on the old club", vec![one_hand(0, 1, 10), one_hand(3, 1, 10), one_hand(7, 2, 5)], "nothing"),
                ("V3 not yet", vec![one_hand(0, 1, 9), one_hand(3, 1, 10), one_hand(7, 2, 5)], "W3 from day 7"),
                ("down is no step", then(vec![swung(0, 3)], &[(17, 2)]), "nothing"),
                ("the same is no step", then(vec![swung(0, 3)], &[(17, 3)]), "nothing"),
            ],
        );
    }

    /// W4 and W5 stand with V4 and O2, and say the same of the same.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn w4_volume_kept_and_w5_heavy_restart() {
        let one_hand =
            |on, club, sets: usize| session(on).straight(Hands::One, club, &vec![5; sets]);
        let kept = |sets| vec![one_hand(0, 1, 10), one_hand(3, 1, 10), one_hand(7, 2, sets)];
        examples(
            &["V4", "W4", "O2", "W5"],
            [
                ("5 sets after the step", kept(5), "nothing"),
                ("6 sets after the step", kept(6), "V4 from day 7, W4 from day 7"),
                ("a restart with the old club", vec![swung(0, 1), one_hand(3, 1, 5)], "nothing"),
                ("a heavier restart", vec![swung(0, 1), one_hand(3, 2, 5)], "O2 from day 3, W5 from day 3"),
            ],
        );
        for (stated, looked_at, days) in [
            (Rule::V4, Rule::W4, kept(6)),
            (Rule::O2, Rule::W5, vec![swung(0, 1), one_hand(3, 2, 5)]),
        ] {
            let history = History::from(days);
            let (stated, looked_at) = (only(&history, stated, 8), only(&history, looked_at, 8));
            assert_eq!(stated.flag.severity, Severity::Note);
            assert_eq!(looked_at.flag.severity, Severity::Look);
            assert_eq!(stated.flag.evidence, looked_at.flag.evidence);
            assert_eq!(stated.flag.subject, looked_at.flag.subject);
        }
    }

    /// A step is judged from the last club actually worked: the one of a session that asks most.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn the_last_club_actually_worked() {
        let warmed_up = |on| {
            session(on)
                .against_the_clock(1, &[10])
                .against_the_clock(4, &[8])
        };
        let wound_down = |on| {
            session(on)
                .against_the_clock(4, &[8])
                .against_the_clock(1, &[10])
        };
        let mut close = rack();
        close.push(of_moment(6, 5.0, 20.3));
        close.push(of_moment(7, 5.0, 20.5));
        let close = |club| {
            history(
                vec![swung(0, 1), swung(3, club), swung(7, 1)],
                close.clone(),
            )
        };
        examples(
            ALL,
            [
                ("warm-ups with a lighter club", vec![warmed_up(0), warmed_up(3), warmed_up(7)].into(), "nothing"),
                (
                    "last sets with a lighter club",
                    vec![wound_down(0), swung(3, 4), wound_down(7), swung(10, 4)].into(),
                    "nothing",
                ),
                ("under 2 % is no step", close(6), "nothing"),
                ("2.5 % is one", close(7), "W3 day 3 to 7"),
                (
                    "hands and movements are judged apart; one hand began heavy",
                    vec![
                        swung(0, 1),
                        session(3).straight(Hands::One, 4, &[5; 5]),
                        swung(7, 5).moving(PULLOVER),
                    ]
                    .into(),
                    "W5 from day 3",
                ),
            ],
        );
    }

    /// A step is news until it is settled, undone, or left.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn how_long_a_step_is_news() {
        let begun = |more| then(vec![swung(0, 1)], more);
        let hard = [17, 21, 24, 28].map(|on| swung(on, 2).effort(8.0));
        examples_by_day(
            ALL,
            [
                ("four sessions went well", begun(&[(17, 2), (21, 2), (24, 2), (28, 2)]), 30, "W3 day 17 to 28"),
                ("three so far", begun(&[(17, 2), (21, 2), (24, 2)]), 30, "W3 from day 17"),
                ("they were hard", [vec![swung(0, 1)], hard.to_vec()].concat(), 30, "W3 from day 17"),
                ("taken back", begun(&[(17, 2), (21, 1)]), 30, "W3 day 17 to 21"),
                ("another on top", begun(&[(17, 2), (21, 3)]), 22, "W3 day 17 to 21, W3 from day 21"),
                ("27 days without", begun(&[(17, 2)]), 44, "W3 from day 17"),
                ("28 days without", begun(&[(17, 2)]), 45, "W3 day 17 to 45"),
                ("27 days, then again", begun(&[(17, 2), (44, 2)]), 44, "W3 from day 17"),
                ("28 days, then again", begun(&[(17, 2), (45, 2)]), 45, "W3 day 17 to 45"),
                (
                    "the next step is earned",
                    [
                        begun(&[(17, 2)]),
                        vec![
                            swung(20, 2).effort(9.0),
                            swung(24, 2).effort(9.0),
                            session(27).against_the_clock(2, &[12]),
                            session(31).against_the_clock(2, &[12]),
                        ],
                    ]
                    .concat(),
                    31,
                    "W3 day 17 to 31",
                ),
                (
                    "what was earned long before settles nothing",
                    then(finished(2), &[(17, 1), (21, 2)]),
                    22,
                    "W3 from day 21",
                ),
            ],
        );
    }

    /// A missed rep with either club of a session keeps the step from being settled.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn a_session_goes_well_with_all_its_clubs() {
        let settled = |[first, second]: [u16; 2]| {
            let heavy = |on| {
                session(on)
                    .straight(Hands::One, 1, &[5, 5, 5, 5, first])
                    .straight(Hands::One, 2, &[5, 5, 5, 5, second])
            };
            let mut days = vec![session(0).straight(Hands::One, 1, &[5; 5])];
            days.extend([3, 7, 10, 14].map(heavy));
            days
        };
        examples(
            &["W3"],
            [
                ("no rep missed", settled([5, 5]), "W3 day 3 to 14"),
                ("one with the lighter club", settled([4, 5]), "W3 from day 3"),
                ("one with the heavier club", settled([5, 4]), "W3 from day 3"),
            ],
        );
    }
}
