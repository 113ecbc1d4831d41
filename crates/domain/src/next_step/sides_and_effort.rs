//! The seventh and the eighth: a side is favoured; the work has become harder, or the count has stopped.

use std::collections::BTreeMap;

use time::{Date, Duration};

use super::last_session::whole;
use super::present::Present;
use super::proposal::{Proposal, more};
use super::{Book, Step};
use crate::id::SessionId;
use crate::plan::share_of_sets;
use crate::rules::{Evidence, Flag, Rule};
use crate::units::Seconds;

impl<'a> Book<'a> {
    pub(super) fn is_uneven(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = self.stands_here(Rule::B2, present)?;
        let Evidence::Sides {
            left_reps,
            right_reps,
            days,
            ..
        } = &flag.evidence
        else {
            return None;
        };
        let text = format!(
            "{left_reps} reps on the left and {right_reps} on the right in {days} days: even the sides before \
             anything is added."
        );
        Some(
            Proposal::new(present, Step::Hold, Rule::B2, text)
                .but_all(self.speaks_for_more(present))
                .until(self.evened_out(present, *left_reps, *right_reps)),
        )
    }

    /// B2: how many sessions with equal reps bring the index back to the limit, of the size of the last.
    fn evened_out(&self, present: &Present<'_>, left: u32, right: u32) -> String {
        let bout = &present.last.bout;
        let each = bout.left.reps.min(bout.right.reps);
        let limit = self.policy.symmetry_percent / 100.0;
        let (apart, mean) = (
            f64::from(left.abs_diff(right)),
            f64::from(left + right) / 2.0,
        );
        // 100·apart/(mean + n·each) ≤ limit, for the least n.
        let sessions = ((apart / limit - mean) / f64::from(each)).ceil();
        if !sessions.is_finite() || !(1.0..=50.0).contains(&sessions) {
            return "sessions with equal reps on both sides".to_owned();
        }
        // From 1 to 50, and whole.
        let sessions = more(sessions as usize, "session");
        format!("{sessions} with {each} reps on each side, or the uneven ones long enough ago")
    }

    pub(super) fn is_tired(&self, present: &Present<'_>) -> Option<Proposal> {
        let flag = [Rule::L3, Rule::T6, Rule::T5]
            .into_iter()
            .find_map(|rule| self.stands_here(rule, present))?;
        let club = self.names.club(present.loading);
        let text = match (flag.rule, &flag.evidence) {
            (
                Rule::L3,
                Evidence::Effort {
                    effort,
                    effort_before,
                    ..
                },
            ) => format!("Effort {effort_before} and {effort} in two sessions of the same work."),
            (Rule::T6, Evidence::Density(figures)) => format!(
                "The count with {club} is falling: {}.",
                self.count_told(figures.density_rpm, interval_of(flag))
            ),
            (Rule::T5, Evidence::Density(figures)) => format!(
                "The count with {club} has stopped climbing: {} sessions since the best of {}.",
                figures.sessions_since_best,
                self.count_told(figures.best_rpm, interval_of(flag))
            ),
            _ => "The work has become harder.".to_owned(),
        };
        let sets = self.share_of_sets(present, self.policy.light_week_share);
        let rested = self.has_rested(present, flag.since);
        let until = self.until_it_is_over(flag);
        Some(if rested {
            Proposal::new(present, Step::Hold, flag.rule, text)
                .but_all(self.speaks_for_more(present))
                .and(
                    flag.rule,
                    "A lighter week has not changed it: the coach should look.",
                )
                .until(until)
                .until("the coach changes the goal, the club or the way it is swung")
        } else {
            let share = 100.0 * self.policy.light_week_share;
            Proposal::new(present, Step::LightWeek { sets }, flag.rule, text)
                .but_all(self.speaks_for_more(present))
                .and(
                    Rule::V6,
                    format!("A light week has {share:.0} % of the sets."),
                )
                .until(until)
        })
    }

    /// V6: whether a light week has gone by since a day: a week since the first session with this club
    /// that had no more than a light week's share of the sets of before.
    fn has_rested(&self, present: &Present<'_>, since: Date) -> bool {
        let mut sessions: BTreeMap<(Date, SessionId), u16> = BTreeMap::new();
        for worked in self.alike(present) {
            let sets = sessions
                .entry((worked.on(), worked.session.id))
                .or_default();
            *sets = worked.sets().max(*sets);
        }
        let before = sessions.iter().rev().filter(|((on, _), _)| *on <= since);
        let usual = before.take(4).map(|(_, sets)| *sets).max().unwrap_or(0);
        let light = share_of_sets(whole(usual), self.policy.light_week_share);
        sessions
            .iter()
            .find(|((on, _), sets)| *on > since && **sets <= u16::from(light))
            .is_some_and(|((on, _), _)| self.today - *on >= Duration::WEEK)
    }

    /// L3, T6, T5: the session that ends the flag.
    fn until_it_is_over(&self, flag: &Flag) -> String {
        match &flag.evidence {
            Evidence::Effort { limit, .. } => format!("the same work at effort under {limit}"),
            Evidence::Density(figures) => {
                let seconds = interval_of(flag);
                let best = match (flag.rule, figures.recovered_rpm) {
                    (Rule::T6, Some(back)) => {
                        format!("a session back at {}", self.count_told(back, seconds))
                    }
                    _ => format!(
                        "a session over {}",
                        self.count_told(figures.best_rpm, seconds)
                    ),
                };
                match figures.goal_rpm.filter(|_| flag.rule == Rule::T5) {
                    Some(goal) => {
                        format!("{best}, or at {} on both sides", self.count(goal, seconds))
                    }
                    None => best,
                }
            }
            _ => "an easier session".to_owned(),
        }
    }
}

/// The interval of the sets that a flag is about.
fn interval_of(flag: &Flag) -> Option<Seconds> {
    let seconds = flag.subject.seconds?;
    Seconds::new(seconds.into()).ok()
}
