//! What the athlete reads of a proposal.

use super::*;
use crate::scenario::opening;

fn told(step: &NextStep) -> String {
    let told = step.for_athlete(&Numbers);
    let reasons = told.reasons.iter().chain(&told.against);
    let mut all = vec![told.about.clone(), told.says.clone()];
    all.extend(reasons.map(|(_, text)| text.clone()));
    all.extend(told.would_change.clone());
    all.push(told.until_then.to_owned());
    all.join(" | ")
}

/// Common practice, no source: whoever steps up does it with the coach. The athlete is told what they
/// did and what a step would cost, and no heavier club is named to them.
#[test]
fn a_step_earned_is_told_without_the_next_club() {
    let step = after(climbing(&[11, 12, 12]));
    assert_eq!((step.step, step.loading), (Step::StepUp, Some(club(2))));
    let told = told(&step);
    assert!(
        told.contains("You have done what you set out to do"),
        "{told}"
    );
    assert!(
        told.contains("The goal with club 1 was reached on both sides"),
        "{told}"
    );
    assert!(told.contains("The count starts lower"), "{told}");
    assert!(!told.contains("club 2"), "{told}");
    assert!(
        told.ends_with("Until then do what is planned, and nothing more."),
        "{told}"
    );
}

#[test]
fn sets_to_come_are_told_with_their_day() {
    let mut step = after(climbing(&[11]));
    step.step = Step::AddSets { sets: 6 };
    assert!(
        told(&step).contains("for 6 sets on each side with club 1."),
        "{}",
        told(&step)
    );
    step.not_before = Some(plus(MONDAY, 7));
    assert!(
        told(&step).contains("with club 1, but not before 8 January 2024."),
        "{}",
        told(&step)
    );
}

/// L4: pain comes first, and whoever waits is not told what would let them go on.
#[test]
fn pain_waits_for_the_coach_and_refers_to_a_clinician() {
    let mut log = climbing(&[11]);
    log.push(clock(4, 1, 11).pain(6, "elbow"));
    let step = after(log);
    assert_eq!(step.step, Step::WaitForCoach);
    let told = told(&step);
    assert!(told.contains("This one waits for your coach."), "{told}");
    assert!(told.contains("licensed clinician"), "{told}");
    assert!(told.ends_with("Until then this work waits."), "{told}");
    assert_eq!(
        step.for_athlete(&Numbers).would_change,
        Vec::<String>::new()
    );
}

/// What a coach wrote as a reason is for coaches.
#[test]
fn a_coachs_own_reason_is_not_passed_on() {
    let mut log = history(climbing(&[11]), rack());
    log.openings.push(opening(0));
    let reason = log.openings[0].reason.clone();
    log.openings[0].on = MONDAY;
    let step = next(&log, plus(on(3), 2));
    assert_eq!(step.step, Step::FingertipStage);
    assert!(said(&step)[0].contains(&reason), "{step:?}");
    let told = told(&step);
    assert!(
        told.contains("Your coach opened one-hand work early."),
        "{told}"
    );
    assert!(!told.contains(&reason), "{told}");
}

/// Every proposal of every kind ends with the coach, and shames nobody.
#[test]
fn whatever_is_proposed_the_coach_decides() {
    let steps = [
        Step::Stay,
        Step::AddSets { sets: 6 },
        Step::Hold,
        Step::LightWeek { sets: 1 },
        Step::StepUp,
        Step::StepBack,
        Step::FingertipStage,
        Step::OpenOneHand,
        Step::Return { sets: 3 },
        Step::WaitForCoach,
    ];
    let usual = after(climbing(&[11]));
    for step in steps {
        let told = told(&NextStep {
            step,
            ..usual.clone()
        });
        assert!(told.contains("Your coach decides."), "{told}");
        let lower = told.to_lowercase();
        for word in ["fail", "wrong", "bad", "must", "never", "too much"] {
            assert!(!lower.contains(word), "{word}: {told}");
        }
        assert!(!lower.contains("1 sets"), "{told}");
        let heavier = matches!(
            step,
            Step::StepUp | Step::FingertipStage | Step::OpenOneHand | Step::WaitForCoach
        );
        let says = NextStep {
            step,
            ..usual.clone()
        }
        .for_athlete(&Numbers)
        .says;
        assert_eq!(!says.contains("club 1"), heavier, "{says}");
    }
}

/// What is told to the athlete of a reason, by its rule and what is proposed; `None`: nothing.
#[test]
fn a_reason_is_told_kindly_or_not_at_all() {
    let usual = after(climbing(&[11]));
    let of = |rule, step, texts: &[&str]| {
        let reasons = texts.iter().map(|text| Reason {
            rule,
            text: (*text).to_owned(),
        });
        let step = NextStep {
            step,
            reasons: reasons.collect(),
            ..usual.clone()
        };
        let told = step.for_athlete(&Numbers).reasons;
        assert!(told.iter().all(|(from, _)| *from == rule));
        told.into_iter().map(|(_, text)| text).collect::<Vec<_>>()
    };
    let nothing: [&str; 0] = [];
    assert_eq!(of(Rule::M4, Step::StepUp, &["By mass only."]), nothing);
    assert_eq!(
        of(Rule::W2, Step::StepUp, &["club 2 is the smallest."]),
        nothing
    );
    for (rule, step, text) in [
        (Rule::W2, Step::StepBack, "club 1 is not in the rack."),
        (Rule::W1, Step::StepUp, "Published guidance."),
        (Rule::O1, Step::Stay, "One-hand work waits for the average."),
        (
            Rule::L4,
            Step::Hold,
            "Pain stays since January: add nothing.",
        ),
        (
            Rule::L4,
            Step::WaitForCoach,
            "The last 3 sessions of mill went without pain.",
        ),
        (
            Rule::V5,
            Step::Hold,
            "Effort 9 in the last session: add nothing.",
        ),
    ] {
        assert_eq!(of(rule, step, &[text]), [text], "{rule:?}");
    }
    for (rule, step, kind) in [
        (
            Rule::W3,
            Step::StepBack,
            "came before the log had the sessions for it",
        ),
        (
            Rule::T5,
            Step::Hold,
            "level lately. That happens to everybody",
        ),
        (
            Rule::T6,
            Step::LightWeek { sets: 3 },
            "Rest is part of training",
        ),
        (Rule::L4, Step::WaitForCoach, "licensed clinician"),
    ] {
        // Two that come to the same are told once.
        let told = of(rule, step, &["Blunt.", "Blunter."]);
        assert!(told.len() == 1 && told[0].contains(kind), "{told:?}");
    }
}

/// T2, by hand: sets of half a minute, so what is 24 a minute for the coach is 12 a set for the athlete.
#[test]
fn a_count_is_told_by_the_set() {
    let told = |days: Vec<Day>| {
        let today = plus(days.last().unwrap().0.on, 2);
        let log = history(days, rack());
        let policy = Policy::default();
        let episodes = rules::episodes(&log, &policy, today);
        let mut told = propose_for_athlete(&log, &policy, &episodes, &|_| false, today, &Numbers);
        assert_eq!(told.len(), 1);
        let told = told.remove(0);
        (told.reasons[0].1.clone(), told.would_change)
    };
    assert_eq!(
        told(vec![clock(0, 1, 11)]).0,
        "11.0 reps a set with club 1; 1 of the 3 sessions that set the goal are done."
    );
    let (why, until) = told(climbing(&[11, 12, 12, 11]));
    assert_eq!(
        why,
        "11.0 reps a set with club 1, 11.0 on the slower side; the goal is 12.0."
    );
    assert_eq!(
        until,
        ["1 more session at 12.0 reps a set on both sides, at effort 7 or less and pain 2 or less"]
    );
    let (_, until) = told(climbing(&[11; 20]));
    assert_eq!(
        until,
        ["a session over 11.0 reps a set, or at 12.0 on both sides"]
    );
    let (_, until) = told(climbing(&[11, 11, 11, 11, 11, 11, 11, 9, 9]));
    let back: f64 = until[0]
        .strip_prefix("a session back at ")
        .and_then(|rest| rest.strip_suffix(" reps a set"))
        .and_then(|count| count.parse().ok())
        .unwrap_or_else(|| panic!("{until:?}"));
    assert!((9.0..=11.0).contains(&back), "{until:?}");
}
