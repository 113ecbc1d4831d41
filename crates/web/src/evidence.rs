//! The figures behind a flag, name by name, so that every statement opens to what made it.

use leverbook_domain::club::{StepBasis, StepSize};
use leverbook_domain::density::DensityStanding;
use leverbook_domain::rules::{Evidence, Names, NoAdding};
use leverbook_domain::text::capitalised;

use crate::chart::day_label;

/// Name and value of every figure that is known.
#[must_use]
pub fn figures(evidence: &Evidence, names: &dyn Names) -> Vec<(&'static str, String)> {
    let all: Vec<(&'static str, Option<String>)> = match evidence {
        Evidence::Density(figures) => vec![
            ("Density, last session", Some(rpm(figures.density_rpm))),
            ("Goal", figures.goal_rpm.map(rpm)),
            (
                "Best",
                Some(format!(
                    "{} on {}",
                    rpm(figures.best_rpm),
                    day_label(figures.best_on)
                )),
            ),
            (
                "Sessions since the best",
                Some(figures.sessions_since_best.to_string()),
            ),
            (
                "Sessions at this club and interval",
                Some(figures.sessions.to_string()),
            ),
            ("Trend a week", figures.slope_rpm_per_week.map(rpm)),
            (
                "Its 90 % interval",
                figures
                    .slope_low
                    .zip(figures.slope_high)
                    .map(|(low, high)| format!("{low:.2} to {high:.2}")),
            ),
            (
                "Kendall’s S and p",
                figures.kendall_s.zip(figures.kendall_p).map(|(s, p)| {
                    let how = match figures.kendall_exact {
                        Some(true) => ", exact",
                        Some(false) => ", approximate",
                        None => "",
                    };
                    format!("{s}, {p:.3}{how}")
                }),
            ),
            ("If the trend holds", figures.goal_words()),
            ("Whether the count has stopped", figures.missing_words()),
        ],
        Evidence::Opening {
            clubs_finished,
            clubs_needed,
            months,
            months_needed,
            sessions_per_week,
            sessions_per_week_needed,
            stop_flag_open,
            opened_early,
        } => vec![
            (
                "Two-hand clubs finished",
                Some(format!("{clubs_finished} of {clubs_needed}")),
            ),
            (
                "Months of two-hand work",
                Some(format!("{months} of {months_needed}")),
            ),
            (
                "Sessions a week",
                Some(format!(
                    "{sessions_per_week:.1} of {sessions_per_week_needed:.1}"
                )),
            ),
            ("Stop flag open", Some(yes_no(*stop_flag_open))),
            ("Opened early because", opened_early.clone()),
        ],
        Evidence::Restart {
            lightest,
            finished,
            step,
        } => vec![
            (
                if *finished {
                    "Lightest finished club"
                } else {
                    "Lightest club worked with two hands, none finished"
                },
                Some(names.club(*lightest).to_owned()),
            ),
            ("Step from it", Some(step_words(*step))),
        ],
        Evidence::Fingertip { sessions, needed } => vec![(
            "Fingertip sessions",
            Some(format!("{sessions} of {needed}")),
        )],
        Evidence::Ladder {
            sets,
            sets_before,
            reps,
            reps_before,
            allowed_sets,
            allowed_reps,
            because,
        } => vec![
            ("Sets a side", Some(sets.to_string())),
            ("Sets a side before", sets_before.map(|n| n.to_string())),
            ("Sets a side in order", allowed_sets.map(|n| n.to_string())),
            ("Reps a set", Some(reps.to_string())),
            ("Reps a set before", reps_before.map(|n| n.to_string())),
            ("Reps a set in order", allowed_reps.map(|n| n.to_string())),
            ("The session before", because.map(no_adding)),
        ],
        Evidence::LadderDone {
            sets,
            target,
            reps,
            in_a_row,
        } => vec![
            ("Sets a side", Some(format!("{sets} of {target}"))),
            ("Reps a set", Some(reps.to_string())),
            ("Sessions in a row", Some(in_a_row.to_string())),
        ],
        Evidence::Sides {
            left_reps,
            right_reps,
            index_percent,
            days,
        } => vec![
            ("Left reps", Some(left_reps.to_string())),
            ("Right reps", Some(right_reps.to_string())),
            (
                "Symmetry index",
                index_percent.map(|index| format!("{index:.1} %")),
            ),
            ("Days looked at", Some(days.to_string())),
        ],
        Evidence::Step {
            from,
            to,
            step,
            limit_percent,
            smaller,
            smaller_step,
        } => vec![
            ("From", Some(names.club(*from).to_owned())),
            ("To", Some(names.club(*to).to_owned())),
            ("Step", Some(step_words(*step))),
            ("Limit", Some(format!("{limit_percent:.0} %"))),
            (
                "Smaller step in the rack",
                smaller
                    .zip(*smaller_step)
                    .map(|(club, step)| format!("{}, {}", names.club(club), step_words(step))),
            ),
            (
                "Published for load increases",
                Some("2 to 10 % (ACSM 2009), which fixed clubs cannot reach".to_owned()),
            ),
        ],
        Evidence::Load {
            week_load,
            mean_before,
            ratio,
            limit,
            monotony,
            strain,
            minutes_estimated,
        } => vec![
            ("Load of the week", Some(format!("{week_load:.0}"))),
            (
                "Mean of the weeks before",
                Some(format!("{mean_before:.0}")),
            ),
            ("Ratio", Some(format!("{ratio:.2}"))),
            ("Limit", Some(format!("{limit:.2}"))),
            ("Monotony", monotony.map(|n| format!("{n:.2}"))),
            ("Strain", strain.map(|n| format!("{n:.0}"))),
            (
                "Minutes estimated from sets",
                Some(yes_no(*minutes_estimated)),
            ),
        ],
        Evidence::Effort {
            effort,
            effort_before,
            limit,
        } => vec![
            ("Effort", Some(format!("{effort:.1}"))),
            ("Effort before", Some(format!("{effort_before:.1}"))),
            ("Limit", Some(format!("{limit:.1}"))),
        ],
        Evidence::Pain {
            score,
            sessions,
            stop_at,
        } => vec![
            ("Pain, 0 to 10", Some(score.to_string())),
            ("Sessions running", Some(sessions.to_string())),
            ("Stops at", Some(stop_at.to_string())),
        ],
        Evidence::PainUnsaid {
            score,
            now,
            stop_at,
        } => vec![
            ("Pain as logged first, 0 to 10", Some(score.to_string())),
            ("Pain as it stands", now.map(|now| now.to_string())),
            ("Stops at", Some(stop_at.to_string())),
        ],
        Evidence::Attendance {
            last_on,
            days_since,
            last_week,
            week_before,
            wanted,
        } => vec![
            ("Last session", Some(day_label(*last_on))),
            ("Days since", Some(days_since.to_string())),
            ("Sessions last week", Some(last_week.to_string())),
            ("Sessions the week before", Some(week_before.to_string())),
            ("Wanted in every week", Some(wanted.to_string())),
        ],
    };
    all.into_iter()
        .filter_map(|(name, value)| Some((name, value?)))
        .collect()
}

/// Of a club that is in use: when its goal would be reached, and what is missing before a stall can be
/// told, each with its rule.
pub(crate) fn ahead(standing: &DensityStanding, names: &dyn Names) -> Vec<(&'static str, String)> {
    if standing.is_left {
        return Vec::new();
    }
    let movement = capitalised(names.movement(standing.movement));
    let club = names.club(standing.loading);
    let figures = &standing.figures;
    [
        ("T3", figures.goal_words()),
        ("T5", figures.missing_words()),
    ]
    .into_iter()
    .filter_map(|(rule, words)| Some((rule, format!("{movement} with {club}: {}.", words?))))
    .collect()
}

fn rpm(value: f64) -> String {
    format!("{value:.1} reps a minute")
}

fn yes_no(holds: bool) -> String {
    if holds { "yes" } else { "no" }.to_owned()
}

fn step_words(step: StepSize) -> String {
    let basis = match step.basis {
        StepBasis::Moment => "by static moment",
        StepBasis::MomentAndInertia => "by static moment and inertia",
        StepBasis::MassOnly => "by mass only",
    };
    format!("{:+.0} % {basis}", step.fraction * 100.0)
}

fn no_adding(said: NoAdding) -> String {
    [
        said.missed_reps.then(|| "reps were missed".to_owned()),
        said.effort.map(|effort| format!("effort {effort:.1}")),
        said.pain.map(|pain| format!("pain {pain}")),
    ]
    .into_iter()
    .flatten()
    .collect::<Vec<_>>()
    .join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use leverbook_domain::id::{LoadingId, MovementId};

    struct Numbered;

    impl Names for Numbered {
        fn movement(&self, _: MovementId) -> &str {
            "Mill"
        }

        fn club(&self, loading: LoadingId) -> &str {
            if loading.0.is_nil() {
                "Ash 5"
            } else {
                "Oak 10"
            }
        }
    }

    #[test]
    fn a_step_is_told_with_its_clubs_and_what_is_unknown_is_left_out() {
        let evidence = Evidence::Step {
            from: LoadingId(uuid::Uuid::nil()),
            to: LoadingId(uuid::Uuid::max()),
            step: StepSize {
                fraction: 1.0,
                basis: StepBasis::Moment,
            },
            limit_percent: 33.0,
            smaller: None,
            smaller_step: None,
        };
        let told = figures(&evidence, &Numbered);
        assert_eq!(told[0], ("From", "Ash 5".to_owned()));
        assert_eq!(told[1], ("To", "Oak 10".to_owned()));
        assert_eq!(told[2], ("Step", "+100 % by static moment".to_owned()));
        assert!(
            told.iter()
                .all(|(name, _)| *name != "Smaller step in the rack")
        );
    }
}
