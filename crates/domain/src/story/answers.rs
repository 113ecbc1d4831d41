//! The questions that a coach brings to an athlete's page, each answered in a sentence or two from the same figures as
//! the drawing below it. Nothing is judged here: where a rule has judged, the sentence says what it said.

use time::{Date, Duration};

use super::{BothSides, GapKind, gaps};
use crate::density::DensityStanding;
use crate::policy::Policy;
use crate::progress::Point;
use crate::review::Week;
use crate::rules::words::day_words;
use crate::rules::{LoadWeek, StepTaken};
use crate::stats::mean;
use crate::text::counted;
use crate::training::{History, Session, since_gap};

/// Is the count still climbing? By T5 where it has judged, else by the sign of both ends of the trend's 90 % interval;
/// an interval that holds 0 tells neither.
pub fn is_the_count_climbing(standing: &DensityStanding) -> String {
    let figures = &standing.figures;
    let slope = figures.slope_rpm_per_week;
    let interval = figures.slope_low.zip(figures.slope_high);
    let best = format!(
        "{:.1} a minute on {}",
        figures.best_rpm,
        day_words(figures.best_on)
    );
    let verdict = match (slope, interval) {
        _ if standing.is_left => {
            return format!(
                "Not worked since {}: {:.1} a minute then, the best was {best}.",
                day_words(standing.on),
                figures.density_rpm
            );
        }
        _ if standing.stalled => format!(
            "No, it has stopped: the best was {best}, {} ago.",
            counted(figures.sessions_since_best, "session")
        ),
        (Some(slope), Some((low, high))) => {
            let trend =
                format!("{slope:+.2} a minute each week, 90 % interval {low:+.2} to {high:+.2}");
            if low > 0.0 {
                format!("Yes: {trend}.")
            } else if high < 0.0 {
                format!("No, it is falling: {trend}.")
            } else {
                format!("It cannot be told yet: {trend}.")
            }
        }
        (Some(slope), None) => {
            format!("Too few sessions to tell: {slope:+.2} a minute each week so far.")
        }
        (None, _) => "Too few sessions to tell.".to_owned(),
    };
    let goal = figures
        .goal_rpm
        .map_or_else(String::new, |goal| format!(", the goal is {goal:.1}"));
    format!(
        "{verdict} The last session had {:.1} a minute{goal}.",
        figures.density_rpm
    )
}

/// Does the ladder climb? From the sessions of one club in straight sets since the last gap, in order of day, and the
/// block's target; `None` without a session.
pub fn is_the_ladder_climbing(
    points: &[Point],
    target: Option<u8>,
    policy: &Policy,
) -> Option<String> {
    /// Far enough back for sets to have been added.
    const LATELY: Duration = Duration::weeks(4);
    let points = since_gap(policy, points, |point| point.on);
    let last = points.last()?;
    let sets = |point: &Point| point.bout.sets_each_side();
    let now = sets(last);
    let before = points
        .iter()
        .find(|point| last.on - point.on <= LATELY)
        .map_or(now, sets);
    let running = points
        .iter()
        .rev()
        .take_while(|point| sets(point) == now)
        .count();
    let reps = last.bout.reps;
    let of_target = target.map_or_else(String::new, |target| format!(" of {target}"));
    let verdict = if last.bout.missed_reps() {
        format!("Reps were missed in the last session, of {now} sets on each side.")
    } else if target.is_some_and(|target| now >= u16::from(target)) {
        format!(
            "It is at the top: {now}{of_target} sets on each side, {} running.",
            counted(running, "session")
        )
    } else if now > before {
        format!("Yes: from {before} to {now}{of_target} sets on each side within four weeks.")
    } else if now < before {
        format!(
            "No, sets were taken off: from {before} to {now}{of_target} on each side within four weeks."
        )
    } else {
        format!(
            "It holds: {now}{of_target} sets on each side, {} running.",
            counted(running, "session")
        )
    };
    let changed = points
        .windows(2)
        .rev()
        .find(|pair| pair[0].bout.reps != pair[1].bout.reps);
    let reps = match changed {
        Some(pair) => format!(
            "Reps changed from {} to {reps} a set on {}.",
            pair[0].bout.reps,
            day_words(pair[1].on)
        ),
        None if points.len() > 1 => format!("Reps stayed at {reps} a set."),
        None => format!("{reps} reps a set."),
    };
    Some(format!("{verdict} {reps}"))
}

/// O3: have there been enough fingertip sessions?
pub fn have_there_been_enough_fingertip_sessions(sessions: usize, policy: &Policy) -> String {
    let needed = policy.fingertip_sessions;
    if sessions >= needed {
        format!("Yes: {sessions}, and {needed} are asked for.")
    } else {
        format!("Not yet: {sessions} of the {needed} that are asked for.")
    }
}

/// How big was each step to a club that asks more (M4)?
pub fn how_big_was_each_step(steps: &[StepTaken], policy: &Policy) -> String {
    let limit = policy.step_percent / 100.0;
    let biggest = steps
        .iter()
        .max_by(|one, other| one.size.fraction.total_cmp(&other.size.fraction));
    let Some(biggest) = biggest else {
        return "No step to a bigger club in this time.".to_owned();
    };
    let wide = steps.iter().filter(|step| step.size.is_over(limit)).count();
    let size = format!(
        "{:+.0} % {}, on {}",
        100.0 * biggest.size.fraction,
        biggest.size.basis.words(),
        day_words(biggest.on)
    );
    let over = match wide {
        0 => "none over".to_owned(),
        wide => format!("{wide} over"),
    };
    let limit = policy.step_percent;
    match steps.len() {
        1 if wide == 0 => format!("One step of {size}: not over the limit of {limit} %."),
        1 => format!("One step of {size}: over the limit of {limit} %."),
        many => format!("{many} steps, the biggest {size}; {over} the limit of {limit} %."),
    }
}

/// Do both sides do the same? B2, of the days that it looks back over; `largest` is the largest symmetry index of one
/// movement and way of holding.
pub fn do_both_sides_do_the_same(all: BothSides, largest: Option<f64>, policy: &Policy) -> String {
    let days = policy.symmetry_days;
    let Some(largest) = largest else {
        return format!("Nothing was swung in the last {days} days.");
    };
    let BothSides { left, right } = all;
    let reps = format!("{left} reps left and {right} right in the last {days} days");
    let limit = policy.symmetry_percent;
    if largest == 0.0 {
        format!("Yes: {reps}.")
    } else if largest > limit {
        format!("No: {reps}; the index reaches {largest:.1} %, over {limit} %.")
    } else {
        format!("Nearly: {reps}; the index is at most {largest:.1} %, not over {limit} %.")
    }
}

/// How hard did it feel? Of these sessions in order of day.
pub fn how_hard_did_it_feel(sessions: &[Session]) -> String {
    const LATELY: usize = 8;
    let newest = &sessions[sessions.len().saturating_sub(LATELY)..];
    let efforts: Vec<f64> = newest
        .iter()
        .filter_map(|session| Some(session.effort?.rating()))
        .collect();
    let effort = match efforts.last() {
        None => "No effort was logged lately.".to_owned(),
        Some(last) => {
            let low = efforts.iter().copied().fold(f64::INFINITY, f64::min);
            let high = efforts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let sessions = counted(newest.len(), "session");
            if low < high {
                format!("Effort {last} of 10 last, {low} to {high} in the newest {sessions}.")
            } else {
                format!("Effort {last} of 10 in all that said so of the newest {sessions}.")
            }
        }
    };
    let pains: Vec<u8> = newest
        .iter()
        .filter_map(Session::worst_pain)
        .filter(|pain| *pain > 0)
        .collect();
    let pain = match pains.iter().max() {
        None => "No pain was reported in them.".to_owned(),
        Some(worst) => format!(
            "Pain was reported in {} of them, {worst} of 10 at worst.",
            pains.len()
        ),
    };
    format!("{effort} {pain}")
}

/// How much was each week (L1)? Of whole weeks in order, the running one left out.
pub fn how_much_was_each_week(weeks: &[LoadWeek], today: Date) -> String {
    const BEFORE: usize = 4;
    let sums: Vec<f64> = weeks
        .iter()
        .filter(|week| Week::of(week.monday).sunday() < today)
        .map(LoadWeek::sum)
        .collect();
    let Some((last, before)) = sums.split_last() else {
        return "No week is over yet.".to_owned();
    };
    let before = &before[before.len().saturating_sub(BEFORE)..];
    match mean(before) {
        None => format!("{last:.0} in the first week."),
        Some(mean) => format!(
            "{last:.0} in the last whole week; {mean:.0} on average in the {} before it.",
            counted(before.len(), "week")
        ),
    }
}

/// Did the sessions happen? A1: whole weeks with as many days of training as it asks for, a week that was partly away
/// asking for that part less, as A1 counts them.
pub fn did_the_sessions_happen(
    history: &History,
    policy: &Policy,
    from: Date,
    today: Date,
) -> String {
    let sessions = history.sessions_until(today);
    let Some(first) = sessions.first() else {
        return "Nothing is logged yet.".to_owned();
    };
    let away: Vec<(Date, Date)> = gaps(history, policy, today)
        .into_iter()
        .filter(|gap| gap.kind == GapKind::Away)
        .map(|gap| (gap.first, gap.last))
        .collect();
    let begun = Week::of(first.on.max(from));
    let begun = if begun.monday() < first.on.max(from) {
        begun.after()
    } else {
        begun
    };
    let (mut kept, mut asked, mut gone) = (0, 0, 0);
    let mut week = begun;
    while week.sunday() < today {
        let holds = |day: Date| (week.monday()..=week.sunday()).contains(&day);
        let mut days: Vec<Date> = sessions
            .iter()
            .map(|session| session.on)
            .filter(|day| holds(*day))
            .collect();
        days.dedup();
        let days_away: i64 = away
            .iter()
            .map(|(first, last)| {
                let (first, last) = ((*first).max(week.monday()), (*last).min(week.sunday()));
                ((last - first).whole_days() + 1).max(0)
            })
            .sum();
        let wanted = i64::from(policy.sessions_per_week) * (7 - days_away) / 7;
        if days_away == 7 {
            gone += 1;
        } else {
            asked += 1;
            kept += usize::from(i64::try_from(days.len()).is_ok_and(|days| days >= wanted));
        }
        week = week.after();
    }
    let wanted = policy.sessions_per_week;
    let away = match gone {
        0 => String::new(),
        gone => format!("; away for {}", counted(gone, "more week")),
    };
    match asked {
        0 => format!("No whole week has passed yet{away}."),
        asked => format!(
            "{wanted} days or more in {kept} of {}{away}.",
            counted(asked, "whole week")
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::density::densities;
    use crate::progress::series;
    use crate::rules::{clubs_worked, load_weeks};
    use crate::scenario::{Day, MILL, club, date, history, of_moment, rack, session, twice_a_week};
    use crate::training::Hands;

    const TWO: Hands = Hands::Two;

    fn counts(reps: &[u16]) -> Vec<Day> {
        (0..)
            .zip(reps)
            .map(|(place, reps)| {
                session(twice_a_week(place)).sets((MILL, TWO, club(1)), 30, &[(*reps, *reps)])
            })
            .collect()
    }

    fn climb(reps: &[u16], today: i64) -> String {
        let history = history(counts(reps), rack());
        let policy = Policy::default();
        is_the_count_climbing(&densities(&history, &policy, [], date(today))[0])
    }

    // By hand: one rep more each session of 30 s is 2 a minute more in 3 or 4 days, 4 in every week; with no noise
    // every pairwise slope lies between 3.5 and 4.67 a week. Noise without a trend has an interval on both sides of 0.
    #[test]
    fn a_count_is_told_by_its_trend_and_interval() {
        let up = climb(&[10, 11, 12, 13, 14, 15, 16, 17], 25);
        assert!(up.starts_with("Yes: +4.00 a minute each week"), "{up}");
        assert!(
            up.contains("The last session had 34.0 a minute, the goal is"),
            "{up}"
        );
        let down = climb(&[17, 16, 15, 14, 13, 12, 11, 10], 25);
        assert!(down.starts_with("No, it is falling: -4.00"), "{down}");
        let level = climb(&[15, 17, 14, 16, 15, 17, 14, 16], 25);
        assert!(level.starts_with("It cannot be told yet"), "{level}");
        let few = climb(&[15, 16], 4);
        assert!(few.starts_with("Too few sessions to tell: +4.67"), "{few}");
        assert!(climb(&[15], 0).starts_with("Too few sessions to tell. The last session had 30.0"));
        let left = climb(&[15, 16, 17], 120);
        assert_eq!(
            left,
            "Not worked since 12 January 2026: 34.0 a minute then, the best was 34.0 a minute on 12 January 2026."
        );
    }

    // Where T5 stands, its word is the answer, whatever the trend.
    #[test]
    fn a_stall_is_told_as_the_rule_told_it() {
        let history = history(counts(&[10, 11, 12, 13, 12, 12, 12, 12]), rack());
        let mut standing = densities(&history, &Policy::default(), [], date(25)).remove(0);
        standing.stalled = true;
        assert!(is_the_count_climbing(&standing).starts_with(
            "No, it has stopped: the best was 26.0 a minute on 15 January 2026, 4 sessions ago."
        ));
    }

    fn ladder(sets: &[usize], reps: &[u16], target: Option<u8>) -> String {
        let days = (0..)
            .zip(sets.iter().zip(reps))
            .map(|(place, (sets, reps))| {
                session(twice_a_week(place)).straight(Hands::One, 1, &vec![*reps; *sets])
            })
            .collect();
        let history = history(days, rack());
        let points = &series(&history, date(400))[0].points;
        is_the_ladder_climbing(points, target, &Policy::default()).unwrap()
    }

    // V1, V2: sets climb toward the target, reps stay (common practice, no source).
    #[test]
    fn a_ladder_is_told_by_its_sets_and_its_reps() {
        assert_eq!(
            ladder(&[5, 5, 6, 6, 7], &[5; 5], Some(10)),
            "Yes: from 5 to 7 of 10 sets on each side within four weeks. Reps stayed at 5 a set."
        );
        assert_eq!(
            ladder(&[6, 6, 6], &[5; 3], None),
            "It holds: 6 sets on each side, 3 sessions running. Reps stayed at 5 a set."
        );
        assert_eq!(
            ladder(&[9, 10, 10], &[4; 3], Some(10)),
            "It is at the top: 10 of 10 sets on each side, 2 sessions running. Reps stayed at 4 a set."
        );
        assert_eq!(
            ladder(&[8, 5], &[5, 6], Some(10)),
            "No, sets were taken off: from 8 to 5 of 10 on each side within four weeks. Reps changed from 5 to 6 a \
             set on 8 January 2026."
        );
        assert_eq!(
            ladder(&[5], &[5], None),
            "It holds: 5 sets on each side, 1 session running. 5 reps a set."
        );
        assert_eq!(is_the_ladder_climbing(&[], None, &Policy::default()), None);
    }

    // O3: at least four sessions (ours).
    #[test]
    fn fingertip_sessions_are_counted() {
        let say =
            |sessions| have_there_been_enough_fingertip_sessions(sessions, &Policy::default());
        assert_eq!(say(3), "Not yet: 3 of the 4 that are asked for.");
        assert_eq!(say(4), "Yes: 4, and 4 are asked for.");
    }

    // Clubs of 20, 25, 30, 40 N·m: steps of 25, 20 and 33.3 % by M1 and M4.
    #[test]
    fn steps_are_counted_against_the_limit() {
        let days = [1, 2, 3, 4]
            .map(|number| {
                let day = 7 * (i64::try_from(number).unwrap() - 1);
                session(day).sets((MILL, TWO, club(number)), 30, &[(15, 15)])
            })
            .into();
        let clubs = [(1, 20.0), (2, 25.0), (3, 30.0), (4, 40.0)];
        let clubs = clubs.map(|(number, nm)| of_moment(number, 5.0, nm));
        let history = history(days, clubs.into());
        let policy = Policy::default();
        let worked = clubs_worked(&history, &policy, date(30));
        let steps = &worked[0].steps;
        assert_eq!(
            how_big_was_each_step(steps, &policy),
            "3 steps, the biggest +33 % by static moment, on 26 January 2026; 1 over the limit of 33 %."
        );
        assert_eq!(
            how_big_was_each_step(&steps[..1], &policy),
            "One step of +25 % by static moment, on 12 January 2026: not over the limit of 33 %."
        );
        assert_eq!(
            how_big_was_each_step(&[], &policy),
            "No step to a bigger club in this time."
        );
    }

    // The index of 45 and 50 is 10.526 by the formula of Robinson 1987.
    #[test]
    fn sides_are_told_by_the_index_that_b2_looks_at() {
        let policy = Policy::default();
        let say = |left, right| {
            let sides = BothSides { left, right };
            do_both_sides_do_the_same(sides, sides.index_percent(), &policy)
        };
        assert_eq!(
            say(50, 50),
            "Yes: 50 reps left and 50 right in the last 28 days."
        );
        assert!(say(45, 50).ends_with("the index reaches 10.5 %, over 10 %."));
        assert!(say(49, 50).starts_with("Nearly:"));
        assert_eq!(say(0, 0), "Nothing was swung in the last 28 days.");
    }

    // Foster et al. 2001: effort × minutes; 7 × 60 = 420.
    #[test]
    fn effort_and_load_are_told_lately_and_before() {
        let day = |number, effort: f64, pain| {
            let day = session(number)
                .straight(Hands::One, 1, &[5])
                .effort(effort)
                .minutes(60);
            day.pain(pain, "left elbow")
        };
        let history = history(
            vec![day(0, 5.0, 0), day(7, 6.0, 2), day(14, 7.0, 0)],
            rack(),
        );
        assert_eq!(
            how_hard_did_it_feel(history.sessions()),
            "Effort 7 of 10 last, 5 to 7 in the newest 3 sessions. Pain was reported in 1 of them, 2 of 10 at worst."
        );
        let weeks = load_weeks(&history, &Policy::default(), date(21));
        assert_eq!(
            how_much_was_each_week(&weeks, date(21)),
            "420 in the last whole week; 330 on average in the 2 weeks before it."
        );
        assert_eq!(
            how_much_was_each_week(&weeks[..1], date(21)),
            "300 in the first week."
        );
        assert_eq!(
            how_much_was_each_week(&weeks, date(6)),
            "No week is over yet."
        );
    }

    // A1: two sessions in every week (common practice). Day 0 is a Monday.
    #[test]
    fn weeks_are_told_by_what_a1_asks_of_them() {
        let say = |days: &[i64], excused: &[(i64, i64)], today| {
            let mut history = history(days.iter().map(|day| session(*day)).collect(), rack());
            history.excused = excused.iter().map(|(a, b)| (date(*a), date(*b))).collect();
            did_the_sessions_happen(&history, &Policy::default(), date(0), date(today))
        };
        // Weeks of two, one, none but away, one with four days away, and one that is not over.
        assert_eq!(
            say(&[0, 3, 7, 24, 29], &[(14, 20), (25, 28)], 30),
            "2 days or more in 2 of 3 whole weeks; away for 1 more week."
        );
        assert_eq!(say(&[0], &[], 5), "No whole week has passed yet.");
        assert_eq!(say(&[], &[], 5), "Nothing is logged yet.");
    }
}
