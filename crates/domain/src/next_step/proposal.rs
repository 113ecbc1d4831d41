//! A proposal in the making, and the words that several of them use.

use time::Date;

use super::present::Present;
use super::{Reason, Step};
use crate::club::StepSize;
use crate::id::LoadingId;
use crate::policy::Policy;
use crate::rules::Rule;
use crate::training::Hands;

/// A proposal in the making.
pub(super) struct Proposal {
    pub(super) hands: Hands,
    pub(super) step: Step,
    pub(super) loading: Option<LoadingId>,
    pub(super) not_before: Option<Date>,
    pub(super) reasons: Vec<Reason>,
    pub(super) against: Vec<Reason>,
    pub(super) would_change: Vec<String>,
}

impl Proposal {
    pub(super) fn new(
        present: &Present<'_>,
        step: Step,
        rule: Rule,
        because: impl Into<String>,
    ) -> Self {
        Self::with_club(present.hands, present.loading, step, rule, because)
    }

    /// Where nothing was done yet that a proposal could go on from.
    pub(super) fn with_club(
        hands: Hands,
        loading: LoadingId,
        step: Step,
        rule: Rule,
        because: impl Into<String>,
    ) -> Self {
        Self {
            hands,
            step,
            loading: Some(loading),
            not_before: None,
            reasons: Vec::new(),
            against: Vec::new(),
            would_change: Vec::new(),
        }
        .and(rule, because)
    }

    pub(super) fn with(mut self, hands: Hands, loading: LoadingId) -> Self {
        (self.hands, self.loading) = (hands, Some(loading));
        self
    }

    /// What speaks for it.
    pub(super) fn and(mut self, rule: Rule, because: impl Into<String>) -> Self {
        self.reasons.push(Reason::new(rule, because));
        self
    }

    /// What speaks against it.
    pub(super) fn but(mut self, rule: Rule, against: impl Into<String>) -> Self {
        self.against.push(Reason::new(rule, against));
        self
    }

    pub(super) fn but_all(mut self, against: Vec<Reason>) -> Self {
        self.against.extend(against);
        self
    }

    /// What would change it.
    pub(super) fn until(mut self, what: impl Into<String>) -> Self {
        self.would_change.push(what.into());
        self
    }
}

impl Reason {
    pub(super) fn new(rule: Rule, text: impl Into<String>) -> Self {
        Self {
            rule,
            text: text.into(),
        }
    }
}

/// The rule that says when a stage's work changes.
pub(super) const fn stage_rule(hands: Hands) -> Rule {
    match hands {
        Hands::Two => Rule::T4,
        Hands::Fingertip => Rule::O3,
        Hands::One => Rule::V1,
    }
}

/// What releases work that a flag holds back: to have seen it does not.
pub(super) const COACH_DECIDES: &str = "a coach closes or quiets the flag";

/// How the reason begins of a coach who opened one-hand work early.
pub(super) const OPENED_EARLY: &str = "The coach opened one-hand work early";

/// "1 more session", "3 more sessions".
pub(super) fn more(count: usize, what: &str) -> String {
    format!("{count} more {what}{}", plural(count))
}

/// The ending of so many.
pub(super) const fn plural(count: usize) -> &'static str {
    if count == 1 { "" } else { "s" }
}

/// "25 % more by static moment".
pub(super) fn more_by(step: StepSize) -> String {
    format!("{:.0} % more {}", 100.0 * step.fraction, step.basis.words())
}

/// O2: of which clubs the restart's limit is the lightest.
pub(super) const fn lightest_of(finished: bool) -> &'static str {
    if finished {
        "finished"
    } else {
        "worked with two hands"
    }
}

/// V5: what says that the next session adds nothing.
pub(super) fn says_not_to_add(policy: &Policy) -> String {
    format!(
        "a missed rep, effort {} or more, or pain {} or more",
        policy.no_add_effort, policy.no_add_pain
    )
}

/// T4, V3: how hard a session may be that earns a step.
pub(super) fn easy_enough(policy: &Policy) -> String {
    format!(
        "at effort {} or less and pain {} or less",
        policy.earned_effort_at_most, policy.earned_pain_at_most
    )
}
