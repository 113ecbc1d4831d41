//! The ninth: two hands, against the clock.

use super::present::{Present, Worked};
use super::proposal::{
    OPENED_EARLY, Proposal, easy_enough, lightest_of, more, more_by, says_not_to_add,
};
use super::{Book, Reason, Step};
use crate::density::{Reading, TREND_SESSIONS, trend_line};
use crate::id::{LoadingId, MovementId};
use crate::rules::{self, Gate, Rule};
use crate::training::Hands;
use crate::units::Seconds;

impl<'a> Book<'a> {
    pub(super) fn two_hands(&self, present: &Present<'_>) -> Proposal {
        let gate = self.gate(present.movement);
        let open = gate.is_open(self.policy) || gate.opened_early.is_some();
        let lightest = self.lightest_two_hand(present.movement, &gate);
        let light = lightest
            .and_then(|lightest| self.restart_club(present.movement, Hands::Fingertip, lightest));
        if open && let Some(light) = light {
            let text = match &gate.opened_early {
                Some(reason) if !gate.is_open(self.policy) => {
                    format!("{OPENED_EARLY}: {reason}")
                }
                _ => format!(
                    "{} two-hand clubs finished and {} months of two-hand work.",
                    gate.finished.len(),
                    gate.months
                ),
            };
            if let Some(why) = self.says_not_to_add(present) {
                return Proposal::new(present, Step::Hold, Rule::V5, why)
                    .but(Rule::O1, text)
                    .until(format!(
                        "a session without {}",
                        says_not_to_add(self.policy)
                    ));
            }
            let club = self.names.club(light);
            let limit = lightest_of(!gate.finished.is_empty());
            return Proposal::new(present, Step::FingertipStage, Rule::O1, text)
                .with(Hands::Fingertip, light)
                .and(
                    Rule::O2,
                    format!("{club} asks no more than the lightest club {limit}."),
                )
                .but_all(self.lighter_by(present, light))
                .but_all(self.speaks_for_less(present))
                .until("the coach keeps to two hands");
        }
        let proposal = match self.stands_here(Rule::T4, present) {
            Some(_) if self.is_at_goal(present) => self.earned(present, Rule::T4),
            // It stands though the last session fell short.
            Some(_) => Proposal {
                step: Step::Hold,
                ..self
                    .climbs(present)
                    .but(Rule::T4, self.step_is_earned(present))
            },
            None => self.climbs(present),
        };
        if !open && gate.finished.len() >= self.policy.opening_clubs {
            return self.at_the_gate(proposal, &gate);
        }
        if open {
            return proposal.and(
                Rule::O2,
                "The gate to one-hand work is open, but no usable club is light enough to begin it.",
            );
        }
        proposal
    }

    /// O2: the club by which a restart goes.
    pub(super) fn lightest_two_hand(&self, movement: MovementId, gate: &Gate) -> Option<LoadingId> {
        self.lightest(&gate.finished)
            .or_else(|| self.lightest(&self.clubs_worked(movement, Hands::Two)))
    }

    /// O2: how much lighter the work becomes.
    fn lighter_by(&self, present: &Present<'_>, light: LoadingId) -> Vec<Reason> {
        let step = self.step_up(light, present.loading);
        step.map(|step| {
            let club = self.names.club(present.loading);
            let text = format!("The work becomes light: {club} asks {}.", more_by(step));
            Reason::new(Rule::O2, text)
        })
        .into_iter()
        .collect()
    }

    /// O1: the clubs are finished, and the gate waits for something else.
    fn at_the_gate(&self, proposal: Proposal, gate: &Gate) -> Proposal {
        let proposal = proposal.until(format!(
            "the gate to one-hand work: {}",
            self.gate_missing(gate)
        ));
        if gate.twice_a_week(self.policy) {
            return proposal;
        }
        let text = format!(
            "One-hand work waits for the average: {} sessions a week with two hands, of {}.",
            self.pace(gate.sessions_per_week),
            self.pace(self.policy.opening_sessions_per_week)
        );
        let proposal = proposal.and(Rule::O1, text);
        match rules::mended_pace(self.history, self.policy, self.today) {
            Some(mend) => proposal.until(format!(
                "the average: {} in the next {} mend it",
                more(mend.sessions, "session"),
                match mend.weeks {
                    1 => "week".to_owned(),
                    many => format!("{many} weeks"),
                }
            )),
            None => proposal,
        }
    }

    /// Sessions a week, to as many places as it takes not to look like enough.
    fn pace(&self, sessions: f64) -> String {
        let needed = self.policy.opening_sessions_per_week;
        if sessions < needed && format!("{sessions:.1}") == format!("{needed:.1}") {
            return format!("{:.2}", (sessions * 100.0).floor() / 100.0);
        }
        format!("{sessions:.1}")
    }

    /// O1: the gate as it stands today.
    pub(super) fn gate(&self, movement: MovementId) -> Gate {
        rules::gate(
            self.history,
            self.policy,
            self.episodes,
            movement,
            self.today,
        )
    }

    /// O1: what the gate still waits for.
    pub(super) fn gate_missing(&self, gate: &Gate) -> String {
        let policy = self.policy;
        let stop = if gate.stop_flag_open {
            " A stop flag stands."
        } else {
            ""
        };
        format!(
            "{} of {} two-hand clubs finished, {} of {} months, {} of {:.1} sessions a week.{stop}",
            gate.finished.len(),
            policy.opening_clubs,
            gate.months,
            policy.opening_months,
            self.pace(gate.sessions_per_week),
            policy.opening_sessions_per_week
        )
    }

    /// T1: the same work until the count is there.
    pub(super) fn climbs(&self, present: &Present<'_>) -> Proposal {
        let club = self.names.club(present.loading);
        let last = present.last;
        let (Some(seconds), Some(density)) = (last.bout.seconds, last.bout.density()) else {
            return Proposal::new(
                present,
                Step::Stay,
                Rule::T4,
                "Two-hand work goes against the clock; these sets had none.",
            )
            .until("sets logged with their seconds");
        };
        let here = self.readings(present, seconds);
        let Some(goal) = self.goal(present, seconds) else {
            let needed = self.policy.goal_start_sessions;
            let done = here.len();
            let text = format!(
                "{} with {club}; {done} of the {needed} sessions that set the goal are done.",
                self.count_told(density.rpm(), last.bout.seconds)
            );
            return Proposal::new(present, Step::Stay, Rule::T4, text).until(format!(
                "{} with {club}: they set the goal",
                more(needed.saturating_sub(done), "session")
            ));
        };
        let slower = last.bout.slower_side().map_or(0.0, |slower| slower.rpm());
        let text = format!(
            "{} with {club}, {} on the slower side; the goal is {}.",
            self.count_told(density.rpm(), last.bout.seconds),
            self.count(slower, last.bout.seconds),
            self.count(goal, last.bout.seconds)
        );
        let needed = match self.stands_here(Rule::T4, present) {
            Some(_) => 1,
            None => self.policy.earned_in_a_row,
        };
        let at_goal = self.is_at_goal(present) && self.was_hard(present).is_none();
        let missing = needed.saturating_sub(usize::from(at_goal)).max(1);
        let running = if missing > 1 { " running" } else { "" };
        let stays = Proposal::new(present, Step::Stay, Rule::T4, text);
        let stays = match self.not_rising(&here) {
            Some(why) => stays.but(Rule::T5, why),
            None => stays,
        };
        stays.until(format!(
            "{}{running} at {} on both sides, {}",
            more(missing, "session"),
            self.count_told(goal, last.bout.seconds),
            easy_enough(self.policy)
        ))
    }

    /// T3: the goal with the club and interval of the last session.
    fn goal(&self, present: &Present<'_>, seconds: Seconds) -> Option<f64> {
        let key = (present.movement, Hands::Two, present.loading, seconds);
        rules::goal_density(self.history, self.policy, key, self.today)
    }

    /// T4: whether both sides of the last session were at the goal.
    fn is_at_goal(&self, present: &Present<'_>) -> bool {
        let bout = &present.last.bout;
        let goal = bout.seconds.and_then(|seconds| self.goal(present, seconds));
        bout.slower_side()
            .zip(goal)
            .is_some_and(|(slower, goal)| slower.rpm() >= goal * (1.0 - 1e-9))
    }

    /// The sessions with the club and interval of the last one.
    fn readings(&self, present: &Present<'_>, seconds: Seconds) -> Vec<Reading> {
        let key = (present.movement, Hands::Two, present.loading, Some(seconds));
        let here = |worked: &&Worked<'_>| {
            let bout = &worked.bout;
            (bout.movement, bout.hands, bout.loading, bout.seconds) == key
        };
        self.sessions
            .iter()
            .filter(here)
            .filter_map(|worked| Reading::of(worked.on(), &worked.bout))
            .collect()
    }

    /// T5: a trend that is level or down, once there are sessions enough for one.
    fn not_rising(&self, readings: &[Reading]) -> Option<String> {
        if readings.len() < TREND_SESSIONS {
            return None;
        }
        let slope = trend_line(self.policy, readings)?.slope;
        let (low, high) = slope.low.zip(slope.high)?;
        (slope.rpm_per_week <= 0.0).then(|| {
            format!(
                "The count is not rising: {:+.1} a week lately (90 % interval {low:+.1} to {high:+.1}).",
                slope.rpm_per_week
            )
        })
    }
}
