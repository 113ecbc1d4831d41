//! L5 · What is asked after a session, and what has to be answered.
//!
//! - **L5** Effort and pain are asked after every session, and each may be left unsaid, but where a rule waits for
//!   the answer. Pain has to be said while a pain flag stands, and after a session with pain: a stop (L4) ends only
//!   after sessions of which it was said that nothing hurt. Effort has to be said while it climbs (L3), after a
//!   session of effort ≥ 9, of which a second would be climbing, and while a step is earned (T4, V3): what was not
//!   said does not stand in the way of a step, so that a heavier club would be taken up on silence.
//!   Source: ours.
//!
//! Sessions of days before are not asked about. Who logs for somebody else may leave both unsaid, for an answer that
//! was made up would end a stop.

use time::Date;

use super::{Flag, Rule};
use crate::policy::Policy;
use crate::training::Session;

/// What has to be said after a session.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Questions {
    /// Whether pain has to be said, and why.
    pub pain: Option<MustSay>,
    /// Whether effort has to be said, and why.
    pub effort: Option<MustSay>,
}

/// An answer that has to be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MustSay {
    /// Why.
    pub why: Why,
    /// The first day whose sessions are asked about.
    pub from: Date,
}

/// Why an answer has to be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// A flag of L4 stands.
    PainStands,
    /// It hurt in the last session.
    HurtLast,
    /// A flag of L3 stands.
    EffortClimbs,
    /// The last session was as hard as L3 looks at.
    HardLast,
    /// A flag of T4 or V3 stands.
    StepEarned,
}

/// **L5** Pain has to be said while a pain flag stands, and after a session with pain.
fn pain_waits_for(standing: &[&Flag], last: Option<&Session>) -> Option<MustSay> {
    stands(standing, &[Rule::L4], Why::PainStands).or_else(|| {
        let hurt = last.filter(|last| last.worst_pain().is_some_and(|pain| pain > 0))?;
        Some(MustSay {
            why: Why::HurtLast,
            from: hurt.on,
        })
    })
}

/// **L5** Effort has to be said while it climbs, after a session of effort ≥ 9, and while a step is earned.
fn effort_waits_for(
    standing: &[&Flag],
    last: Option<&Session>,
    policy: &Policy,
) -> Option<MustSay> {
    let hard = |last: &&Session| {
        let effort = last.effort.map(|effort| effort.rating());
        effort.is_some_and(|effort| effort >= policy.effort_climbing)
    };
    stands(standing, &[Rule::L3], Why::EffortClimbs)
        .or_else(|| {
            let hard = last.filter(hard)?;
            Some(MustSay {
                why: Why::HardLast,
                from: hard.on,
            })
        })
        .or_else(|| stands(standing, &[Rule::T4, Rule::V3], Why::StepEarned))
}

/// Since a flag of one of these rules stands, whatever a coach decided about it.
fn stands(standing: &[&Flag], rules: &[Rule], why: Why) -> Option<MustSay> {
    standing
        .iter()
        .filter(|flag| rules.contains(&flag.rule))
        .map(|flag| flag.since)
        .min()
        .map(|from| MustSay { why, from })
}

impl Questions {
    /// What has to be said after a session: by the flags that stand, also those that a coach closed or quieted,
    /// and the last session in the log.
    pub fn after(standing: &[&Flag], last: Option<&Session>, policy: &Policy) -> Self {
        Self {
            pain: pain_waits_for(standing, last),
            effort: effort_waits_for(standing, last, policy),
        }
    }

    /// What has to be said of a session of this day.
    #[must_use]
    pub fn on(self, day: Date) -> Self {
        let asked = |must: &MustSay| must.from <= day;
        Self {
            pain: self.pain.filter(asked),
            effort: self.effort.filter(asked),
        }
    }
}

impl Why {
    /// What is said to whoever left it unsaid.
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::PainStands => {
                "Please say it this time, 0 if nothing hurts: pain that you reported is not over yet"
            }
            Self::HurtLast => {
                "Please say it this time, 0 if nothing hurts: it hurt in the last session"
            }
            Self::EffortClimbs => {
                "Please say it this time: the last sessions were very hard, and your coach looks at that"
            }
            Self::HardLast => "Please say it this time: the last session was very hard",
            Self::StepEarned => {
                "Please say it this time: a heavier club is near, and that goes by how hard the work is"
            }
        }
    }
}

#[cfg(test)]
mod examples {
    use super::*;
    use crate::rules::{episodes, standing};
    use crate::scenario::{Day, date, history, rack, session, twice_a_week};
    use crate::training::Hands;

    /// Ten sets of five a side with one hand, the target of a ladder.
    fn target(number: i64) -> Day {
        session(number).straight(Hands::One, 1, &[5; 10])
    }

    fn work(number: i64) -> Day {
        session(number).straight(Hands::One, 1, &[5; 5])
    }

    /// Pain and effort, each with the first day that is asked about.
    fn asked(days: Vec<Day>, as_of: i64) -> [Option<(Why, Date)>; 2] {
        let (history, policy) = (history(days, rack()), Policy::default());
        let episodes = episodes(&history, &policy, date(as_of));
        let standing = standing(&episodes, date(as_of));
        let last = history.sessions_until(date(as_of)).last();
        let asked = Questions::after(&standing, last, &policy);
        [asked.pain, asked.effort].map(|must| must.map(|must| (must.why, must.from)))
    }

    // That pain ends a session at 4 and is looked at in two sessions running, that effort climbs at 9: common
    // practice, no source. What is asked because of it is ours.
    #[test]
    #[rustfmt::skip] // A table is read by its rows.
    fn l5_what_has_to_be_said() {
        use Why::{EffortClimbs, HardLast, HurtLast, PainStands, StepEarned};
        for (words, days, as_of, pain, effort) in [
            ("nothing was logged yet", vec![], 0, None, None),
            ("nothing was said in the last session", vec![work(0)], 0, None, None),
            ("nothing hurt in the last session", vec![work(0).pain(0, "")], 0, None, None),
            ("it hurt a little in the last session", vec![work(0).pain(1, "")], 3, Some((HurtLast, 0)), None),
            ("it hurt a little in the session before the last", vec![work(0).pain(1, ""), work(3)], 3, None, None),
            ("strong pain once", vec![work(0).pain(4, "left elbow")], 3, Some((PainStands, 0)), None),
            (
                "strong pain, then a session that says nothing",
                vec![work(0).pain(4, "left elbow"), work(3), work(7)],
                7, Some((PainStands, 0)), None,
            ),
            (
                "strong pain, then one session that says that nothing hurt",
                vec![work(0).pain(4, "left elbow"), work(3).pain(0, "")],
                3, Some((PainStands, 0)), None,
            ),
            (
                "strong pain, then two sessions that say that nothing hurt",
                vec![work(0).pain(4, "left elbow"), work(3).pain(0, ""), work(7).pain(0, "")],
                7, None, None,
            ),
            (
                "milder pain at one place in two sessions running",
                vec![work(0).pain(2, "left elbow"), work(3).pain(2, "left elbow")],
                3, Some((PainStands, 3)), None,
            ),
            ("effort of 8.5", vec![work(0).effort(8.5)], 0, None, None),
            ("effort of 9 once", vec![work(0).effort(9.0)], 0, None, Some((HardLast, 0))),
            ("effort of 9 in the session before the last", vec![work(0).effort(9.0), work(3)], 3, None, None),
            (
                "effort of 9 twice at the same work",
                vec![work(0).effort(9.0), work(3).effort(9.0)],
                3, None, Some((EffortClimbs, 3)),
            ),
            (
                "effort of 9 twice, then a session that says nothing",
                vec![work(0).effort(9.0), work(3).effort(9.0), work(7)],
                7, None, Some((EffortClimbs, 3)),
            ),
            (
                "the ladder's target done twice: a step is earned",
                vec![target(0), target(twice_a_week(1))],
                3, None, Some((StepEarned, 3)),
            ),
            ("the ladder's target done once", vec![target(0)], 0, None, None),
        ] {
            let expected = [pain, effort].map(|must| must.map(|(why, from)| (why, date(from))));
            assert_eq!(asked(days, as_of), expected, "{words}");
        }
    }

    #[test]
    fn l5_sessions_of_days_before_are_not_asked_about() {
        let must = |why, from| {
            Some(MustSay {
                why,
                from: date(from),
            })
        };
        let both = Questions {
            pain: must(Why::PainStands, 3),
            effort: must(Why::HardLast, 7),
        };
        let said = |day| {
            let asked = both.on(date(day));
            (asked.pain.is_some(), asked.effort.is_some())
        };
        assert_eq!(
            [2, 3, 6, 7, 70].map(said),
            [
                (false, false),
                (true, false),
                (true, false),
                (true, true),
                (true, true),
            ]
        );
    }

    #[test]
    fn l5_every_reason_has_words_of_its_own() {
        let all = [
            Why::PainStands,
            Why::HurtLast,
            Why::EffortClimbs,
            Why::HardLast,
            Why::StepEarned,
        ];
        let sentences: std::collections::BTreeSet<&str> = all.map(Why::sentence).into();
        assert_eq!(sentences.len(), all.len());
        assert!(
            all.map(Why::sentence)
                .iter()
                .all(|said| said.starts_with("Please say it"))
        );
    }
}
