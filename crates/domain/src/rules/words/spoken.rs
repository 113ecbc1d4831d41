//! Every kind of figure, said to the coach and to the athlete, word for word.

use time::macros::date;

use super::*;
use crate::club::StepBasis;
use crate::density::GoalReach;
use crate::id::MovementId;
use crate::rules::Subject;
use crate::scenario::{MILL, club};
use crate::training::PainPlace;

struct Hall;

impl Names for Hall {
    fn movement(&self, _: MovementId) -> &str {
        "mill"
    }

    fn club(&self, loading: LoadingId) -> &str {
        if loading == club(1) { "Ash 5" } else { "Oak 7" }
    }
}

/// A flag about mills with one hand and Ash 5.
fn flag(rule: Rule, evidence: Evidence) -> Flag {
    Flag {
        rule,
        severity: rule.severity(),
        subject: Subject {
            movement: Some(MILL),
            hands: Some(Hands::One),
            loading: Some(club(1)),
            seconds: None,
            place: None,
        },
        since: date!(2026 - 10 - 05),
        evidence,
    }
}

/// What was found, without what it is about.
#[track_caller]
fn says(rule: Rule, evidence: Evidence, expected: &str) {
    let text = sentence(&flag(rule, evidence), &Hall);
    assert_eq!(text, format!("Mill, one hand, Ash 5: {expected}"));
}

fn figures() -> DensityFigures {
    DensityFigures {
        density_rpm: 24.44,
        goal_rpm: Some(30.0),
        best_rpm: 27.0,
        best_on: date!(2026 - 10 - 03),
        sessions_since_best: 5,
        slope_rpm_per_week: Some(-0.31),
        slope_low: Some(-0.8),
        slope_high: Some(0.22),
        kendall_s: Some(-8),
        kendall_p: Some(0.3),
        kendall_exact: Some(true),
        sessions: 20,
        sessions_missing: 0,
        recovered_rpm: None,
        goal_reach: GoalReach::NotRising,
    }
}

#[test]
fn a_count() {
    let figures = figures();
    let last = "24.4 reps a minute in the last session, goal 30.0";
    let best = "Best 27.0 on 3 October 2026, 5 sessions ago. Lately -0.3 a week (-0.8 to +0.2)";
    says(
        Rule::T5,
        Evidence::Density(figures.clone()),
        &format!("the count has stopped climbing. {last}. {best}"),
    );
    says(
        Rule::T6,
        Evidence::Density(figures.clone()),
        &format!("the count is falling, by more than its own noise. {last}. {best}"),
    );
    says(
        Rule::T4,
        Evidence::Density(figures.clone()),
        &format!("a step is earned, on both sides. {last}"),
    );
    let of_one = DensityFigures {
        goal_rpm: None,
        sessions_since_best: 1,
        slope_low: None,
        ..figures.clone()
    };
    says(
        Rule::T5,
        Evidence::Density(of_one),
        "the count has stopped climbing. 24.4 reps a minute in the last session, no goal yet. Best 27.0 on \
         3 October 2026, 1 session ago. Lately -0.3 a week",
    );
    let just_now = DensityFigures {
        sessions_since_best: 0,
        slope_rpm_per_week: None,
        ..figures
    };
    says(
        Rule::T5,
        Evidence::Density(just_now),
        &format!(
            "the count has stopped climbing. {last}. Best 27.0 on 3 October 2026, the last session"
        ),
    );
}

#[test]
fn an_opening_and_a_restart() {
    let opening = |stop_flag_open, opened_early: Option<&str>| Evidence::Opening {
        clubs_finished: 2,
        clubs_needed: 3,
        months: 11,
        months_needed: 12,
        sessions_per_week: 1.84,
        sessions_per_week_needed: 2.0,
        stop_flag_open,
        opened_early: opened_early.map(str::to_owned),
    };
    let figures = "Two-hand clubs finished: 2 of 3; months of two-hand work: 11 of 12; sessions a week: 1.8 of 2";
    says(
        Rule::O1,
        opening(false, None),
        &format!("begun before its gate was open. {figures}"),
    );
    says(
        Rule::O1,
        opening(true, Some("years elsewhere")),
        &format!(
            "opened early by the coach, who wrote “years elsewhere”. {figures}; a stop flag stands"
        ),
    );

    let restart = |finished| Evidence::Restart {
        lightest: club(2),
        finished,
        step: StepSize {
            fraction: 0.246,
            basis: StepBasis::Moment,
        },
    };
    says(
        Rule::W5,
        restart(true),
        "a heavy restart. This club asks 25 % by static moment more than Oak 7, the lightest one finished",
    );
    says(
        Rule::O2,
        restart(false),
        "a new way to hold it starts with a light club. This club asks 25 % by static moment more than Oak 7, \
         the lightest one worked with two hands; none is finished",
    );
    says(
        Rule::O3,
        Evidence::Fingertip {
            sessions: 3,
            needed: 4,
        },
        "free one-hand sets after 3 of 4 fingertip sessions",
    );
}

/// Sets, sets before, reps, reps before, allowed sets, allowed reps.
fn ladder(
    (sets, sets_before, reps, reps_before): (u16, Option<u16>, u16, Option<u16>),
    allowed_sets: Option<u16>,
    allowed_reps: Option<u16>,
    because: Option<NoAdding>,
) -> Evidence {
    Evidence::Ladder {
        sets,
        sets_before,
        reps,
        reps_before,
        allowed_sets,
        allowed_reps,
        because,
    }
}

#[test]
fn a_ladder() {
    let because = |missed_reps, effort, pain| {
        Some(NoAdding {
            missed_reps,
            effort,
            pain,
        })
    };
    let eight = (8, Some(6), 5, Some(4));
    for (rule, evidence, expected) in [
        (
            Rule::V1,
            ladder((8, None, 6, None), None, Some(5), None),
            "sets of 6 reps; 5 is the most",
        ),
        (
            Rule::V1,
            ladder((8, None, 1, None), None, Some(3), None),
            "sets of 1 rep; 3 is the fewest",
        ),
        (
            Rule::V1,
            ladder((8, None, 5, None), Some(5), None, None),
            "the first one-hand session had 8 sets on each side; 5 is the most to begin with",
        ),
        (
            Rule::V2,
            ladder(eight, None, Some(4), None),
            "the reps of a set changed within the ladder, from 4, to 5",
        ),
        (
            Rule::V2,
            ladder((8, None, 5, None), None, Some(4), None),
            "the reps of a set changed within the ladder, to 5",
        ),
        (
            Rule::V2,
            ladder(eight, Some(7), None, None),
            "8 sets on each side, up from 6 within seven days; 7 would have kept the pace",
        ),
        (
            Rule::V2,
            ladder((1, None, 5, None), Some(0), None, None),
            "1 set on each side within seven days; 0 would have kept the pace",
        ),
        (
            Rule::V5,
            ladder(eight, Some(6), None, because(false, Some(9.0), None)),
            "8 sets on each side, up from 6, right after effort 9",
        ),
        (
            Rule::V5,
            ladder(eight, Some(6), None, because(true, None, Some(3))),
            "8 sets on each side, up from 6, right after missed reps and pain 3",
        ),
        (
            Rule::V5,
            ladder(eight, Some(6), None, because(true, Some(9.5), Some(3))),
            "8 sets on each side, up from 6, right after missed reps, effort 9.5 and pain 3",
        ),
        (
            Rule::V6,
            ladder(eight, Some(6), None, None),
            "8 sets on each side, up from 6, in a week that holds",
        ),
        (
            Rule::W4,
            ladder(eight, Some(5), None, None),
            "8 sets on each side kept across a step; after one a ladder starts again at 5",
        ),
        (
            Rule::V4,
            ladder(eight, Some(5), None, None),
            "after a step the ladder starts again at 5 sets; this one had 8",
        ),
    ] {
        says(rule, evidence, expected);
    }
    for (in_a_row, which) in [(1, "first"), (2, "second"), (3, "third"), (4, "4th")] {
        says(
            Rule::V3,
            Evidence::LadderDone {
                sets: 11,
                target: 10,
                reps: 5,
                in_a_row,
            },
            &format!(
                "a step is earned. The target of 10 sets on each side was done in full; the last session had 11, \
                 the {which} running"
            ),
        );
    }
}

#[test]
fn sides_and_steps() {
    let sides = |left_reps, right_reps, index_percent, days| Evidence::Sides {
        left_reps,
        right_reps,
        index_percent,
        days,
    };
    for (rule, evidence, expected) in [
        (
            Rule::B1,
            sides(25, 24, Some(4.1), 1),
            "unequal sides in the last session, 25 reps on the left, 24 on the right",
        ),
        (
            Rule::B2,
            sides(300, 250, Some(18.18), 28),
            "the left side is favoured. 300 reps on the left, 250 on the right over 28 days, a difference of 18 %",
        ),
        (
            Rule::B2,
            sides(0, 250, None, 28),
            "the right side is favoured. 0 reps on the left, 250 on the right over 28 days",
        ),
    ] {
        says(rule, evidence, expected);
    }

    let step = |smaller: Option<f64>| Evidence::Step {
        from: club(1),
        to: club(2),
        step: StepSize {
            fraction: 0.501,
            basis: StepBasis::MassOnly,
        },
        limit_percent: 33.0,
        smaller: smaller.map(|_| club(2)),
        smaller_step: smaller.map(|fraction| StepSize {
            fraction,
            basis: StepBasis::MomentAndInertia,
        }),
    };
    let by_mass = StepBasis::MassOnly.words();
    let by_inertia = StepBasis::MomentAndInertia.words();
    for (rule, evidence, expected) in [
        (
            Rule::W1,
            step(None),
            format!(
                "the step from Ash 5 to Oak 7 is 50 % {by_mass}; the limit is 33 %. Published guidance is 2 to 10 %"
            ),
        ),
        (
            Rule::W2,
            step(Some(0.2)),
            format!(
                "a smaller step stood in the rack. Ash 5 to Oak 7 is 50 % {by_mass}, past Oak 7 at 20 % {by_inertia}"
            ),
        ),
        (
            Rule::W2,
            step(None),
            format!("a smaller step stood in the rack. Ash 5 to Oak 7 is 50 % {by_mass}"),
        ),
        (
            Rule::W3,
            step(None),
            "the step from Ash 5 to Oak 7 was not earned on Ash 5".to_owned(),
        ),
        (
            Rule::M4,
            step(None),
            format!(
                "the step from Ash 5 to Oak 7 is 50 % {by_mass}. With a balance point and a grip measured it could \
                 be judged better"
            ),
        ),
    ] {
        says(rule, evidence, &expected);
    }
}

#[test]
fn load_effort_pain_and_attendance() {
    let load = |minutes_estimated| Evidence::Load {
        week_load: 1260.4,
        mean_before: 700.0,
        ratio: 1.8,
        limit: 1.5,
        monotony: None,
        strain: None,
        minutes_estimated,
    };
    let spike = "the week's load was 1260, 1.8 times the weighted mean of the weeks before (700); the limit is \
                 1.5. Such ratios are disputed as predictors of injury";
    says(Rule::L2, load(false), spike);
    says(
        Rule::L2,
        load(true),
        &format!("{spike}. Some minutes were estimated from the sets"),
    );
    says(
        Rule::L3,
        Evidence::Effort {
            effort: 9.5,
            effort_before: 9.0,
            limit: 9.0,
        },
        "effort 9.5 after 9, at the same work",
    );

    let pain = |score, sessions, severity, place: Option<&str>| {
        let mut flag = flag(
            Rule::L4,
            Evidence::Pain {
                score,
                sessions,
                stop_at: 4,
            },
        );
        flag.severity = severity;
        flag.subject.place = place.map(|place| PainPlace::new(place).unwrap());
        sentence(&flag, &Hall)
    };
    assert_eq!(
        pain(5, 1, Severity::Stop, Some("left elbow")),
        "Mill, one hand, Ash 5: pain 5 of 10, left elbow. Planned work waits until you have looked"
    );
    assert_eq!(
        pain(2, 2, Severity::Look, None),
        "Mill, one hand, Ash 5: pain 2 of 10, 2 sessions running"
    );
    let unsaid = |now| {
        let stop_at = 4;
        let mut flag = flag(
            Rule::L4,
            Evidence::PainUnsaid {
                score: 6,
                now,
                stop_at,
            },
        );
        flag.subject.place = Some(PainPlace::new("left elbow").unwrap());
        assert_eq!(
            for_athlete(&flag, &Hall).unwrap(),
            "You had reported pain 6 of 10 and changed that. Your coach sees both and will ask you."
        );
        sentence(&flag, &Hall)
    };
    assert_eq!(
        unsaid(Some(2)),
        "Mill, one hand, Ash 5: pain 6 of 10, left elbow, changed to 2 by the athlete afterwards. It no \
         longer stops the work: ask them"
    );
    assert!(unsaid(None).contains(", taken out of the log by the athlete"));

    let quiet = |days_since| Evidence::Attendance {
        last_on: date!(2026 - 10 - 01),
        days_since,
        last_week: 0,
        week_before: 1,
        wanted: 2,
    };
    let weeks = "1 and 0 sessions in the last two whole weeks, 2 wanted in each";
    says(
        Rule::A1,
        quiet(15),
        &format!("the last session was 15 days ago; {weeks}"),
    );
    let mut about_nothing = flag(Rule::A1, quiet(1));
    about_nothing.subject = Subject::default();
    assert_eq!(
        sentence(&about_nothing, &Hall),
        format!("The last session was 1 day ago; {weeks}")
    );
}

#[test]
fn what_a_flag_is_about() {
    let mut flag = flag(Rule::T5, Evidence::Density(figures()));
    for (hands, seconds, expected) in [
        (Some(Hands::Two), Some(30), "Mill, two hands, Ash 5, 30 s: "),
        (Some(Hands::Fingertip), None, "Mill, fingertips, Ash 5: "),
        (None, None, "Mill, Ash 5: "),
    ] {
        (flag.subject.hands, flag.subject.seconds) = (hands, seconds);
        assert!(sentence(&flag, &Hall).starts_with(expected), "{expected}");
    }
}

#[test]
fn said_to_the_athlete() {
    let any = Evidence::Density(figures());
    let said = |rule| for_athlete(&flag(rule, any.clone()), &Hall);
    for (rule, expected) in [
        (
            Rule::T4,
            "You did what you set out to do with Ash 5. Your coach will look at the next club with you.",
        ),
        (
            Rule::V3,
            "You did what you set out to do with Ash 5. Your coach will look at the next club with you.",
        ),
        (
            Rule::T5,
            "Your count with Ash 5 has been level for a while. That happens to everybody; your coach will look at \
             what to change.",
        ),
        (
            Rule::T6,
            "Your count with Ash 5 has been lower lately. Rest is part of training; tell your coach how you are.",
        ),
        (
            Rule::O1,
            "One-hand work builds on a good deal of two-hand work. Check with your coach before you go on with \
             mill this way.",
        ),
        (
            Rule::O2,
            "A new way to hold the club starts light. Check with your coach whether Ash 5 is the one to start with.",
        ),
        (
            Rule::O3,
            "A few more sessions with the fingertips of the other hand come first in mill. Your coach will say when.",
        ),
        (
            Rule::V4,
            "New club, new start: begin Ash 5 with few sets. They come back sooner than you think.",
        ),
        (
            Rule::V5,
            "The session before was a hard one. Keep the sets with Ash 5 as they are for now.",
        ),
        (
            Rule::V6,
            "Every few weeks the sets stay where they are. Let Ash 5 settle.",
        ),
        (
            Rule::B2,
            "One side has been doing more than the other in mill. Same number on each side, as near as you can: \
             let the weaker side set the count, if your coach agrees.",
        ),
        (
            Rule::W1,
            "Ash 5 is a step up. Check with your coach before you go on with it.",
        ),
        (
            Rule::W3,
            "Ash 5 is a step up. Check with your coach before you go on with it.",
        ),
        (
            Rule::L3,
            "The last sessions felt very hard. Tell your coach how you are.",
        ),
        (
            Rule::A1,
            "It has been quiet here. Come back when you can: your coach has an easy way in for you.",
        ),
    ] {
        assert_eq!(said(rule).as_deref(), Some(expected), "{rule:?}");
    }
    for rule in [
        Rule::B1,
        Rule::M4,
        Rule::W2,
        Rule::W4,
        Rule::W5,
        Rule::L1,
        Rule::L2,
    ] {
        assert_eq!(said(rule), None, "{rule:?}");
    }
    let mut opened_early = flag(Rule::O1, any);
    opened_early.severity = Severity::Note;
    assert_eq!(for_athlete(&opened_early, &Hall), None);
}

#[test]
fn a_ladder_said_to_the_athlete() {
    let said = |allowed_sets, allowed_reps| {
        let evidence = ladder((8, Some(6), 5, Some(4)), allowed_sets, allowed_reps, None);
        for_athlete(&flag(Rule::V2, evidence), &Hall)
    };
    assert_eq!(
        said(None, Some(4)).as_deref(),
        Some("Keep to sets of 4 with Ash 5; your coach adds sets, not reps.")
    );
    assert_eq!(
        said(Some(7), None).as_deref(),
        Some("More comes little by little: up to 7 sets on each side was enough with Ash 5.")
    );
    assert_eq!(said(None, None), None);
}

/// Whatever the score: stop, and see somebody licensed (common practice, no source).
#[test]
fn pain_said_to_the_athlete() {
    let said = |severity, movement, place: Option<&str>| {
        let mut flag = flag(
            Rule::L4,
            Evidence::Pain {
                score: 5,
                sessions: 1,
                stop_at: 4,
            },
        );
        flag.severity = severity;
        flag.subject.movement = movement;
        flag.subject.place = place.map(|place| PainPlace::new(place).unwrap());
        for_athlete(&flag, &Hall).unwrap()
    };
    let stop = "Stop what hurts, and see a licensed clinician about it.";
    for (text, expected) in [
        (
            said(Severity::Stop, Some(MILL), Some("wrist")),
            format!("You reported pain (wrist). {stop} Mill waits until your coach has decided."),
        ),
        (
            said(Severity::Stop, None, None),
            format!(
                "You reported pain. {stop} What is planned waits until your coach has decided."
            ),
        ),
        (
            said(Severity::Look, Some(MILL), None),
            format!("You reported pain. {stop} Your coach will look at it with you."),
        ),
    ] {
        assert_eq!(text, expected);
    }
}
