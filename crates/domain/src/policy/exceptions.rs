//! Exceptions for one athlete: a threshold that a coach set otherwise, with a reason.
//!
//! Nothing is taken away. Each exception made, changed or ended is a change with a number of its own,
//! and the last number stands beside the gym's version in every result worked out with it.

use serde::{Deserialize, Serialize};
use time::{Date, OffsetDateTime};

use super::{Policy, PolicyVersion, Refused, Threshold};
use crate::id::AccountId;
use crate::text::Reason;

/// How many changes to an athlete's exceptions there were: 0 where there never was one.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct ExceptionsNumber(pub i32);

/// An exception, or its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exception {
    /// Which threshold.
    pub threshold: &'static Threshold,
    /// Its value for this athlete; `None` for the gym's own again.
    pub value: Option<f64>,
}

/// An exception as it was decided.
#[derive(Debug, Clone, PartialEq)]
pub struct ExceptionChange {
    /// Its number among the athlete's, from 1.
    pub number: ExceptionsNumber,
    /// What was decided.
    pub exception: Exception,
    /// Why. It may hold health data: for the athlete's coaches only.
    pub reason: Reason,
    /// Who.
    pub by: AccountId,
    /// When.
    pub at: OffsetDateTime,
    /// The day that was in the gym's zone.
    pub on: Date,
}

/// Every change to an athlete's exceptions, in order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Exceptions(Vec<ExceptionChange>);

impl Exceptions {
    /// Takes the changes in any order.
    #[must_use]
    pub fn new(mut changes: Vec<ExceptionChange>) -> Self {
        changes.sort_by_key(|change| change.number);
        Self(changes)
    }

    /// Every change, in order.
    #[must_use]
    pub fn changes(&self) -> &[ExceptionChange] {
        &self.0
    }

    /// The number of the last change.
    #[must_use]
    pub fn number(&self) -> ExceptionsNumber {
        self.0
            .last()
            .map(|change| change.number)
            .unwrap_or_default()
    }

    /// What stands, in the order of the table of thresholds.
    #[must_use]
    pub fn standing(&self) -> Vec<&ExceptionChange> {
        self.standing_at(self.number())
    }

    /// What stood after the change of this number.
    #[must_use]
    pub fn standing_at(&self, number: ExceptionsNumber) -> Vec<&ExceptionChange> {
        let until = self.0.partition_point(|change| change.number <= number);
        let last = |threshold: &&Threshold| {
            self.0[..until]
                .iter()
                .rfind(|change| change.exception.threshold == *threshold)
        };
        Threshold::ALL
            .iter()
            .filter_map(|threshold| last(&threshold))
            .filter(|change| change.exception.value.is_some())
            .collect()
    }

    /// The exception to this threshold, if one stands.
    #[must_use]
    pub fn to(&self, threshold: &Threshold) -> Option<&ExceptionChange> {
        self.standing()
            .into_iter()
            .find(|change| change.exception.threshold == threshold)
    }
}

/// The policy by which one athlete is judged: the gym's, with the exceptions made for them.
#[derive(Debug, Clone, PartialEq)]
pub struct AthletePolicy {
    gym: Policy,
    exceptions: Exceptions,
    own: Policy,
}

impl AthletePolicy {
    /// Puts the exceptions that stand into the gym's policy.
    #[must_use]
    pub fn new(gym: Policy, exceptions: Exceptions) -> Self {
        let mut own = gym.clone();
        for change in exceptions.standing() {
            change.exception.put_into(&mut own);
        }
        Self {
            gym,
            exceptions,
            own,
        }
    }

    /// The gym's policy.
    #[must_use]
    pub const fn gym(&self) -> &Policy {
        &self.gym
    }

    /// The athlete's exceptions.
    #[must_use]
    pub const fn exceptions(&self) -> &Exceptions {
        &self.exceptions
    }

    /// What the rules are to be given.
    #[must_use]
    pub const fn own(&self) -> &Policy {
        &self.own
    }

    /// The athlete's thresholds with one exception more, or less, to be looked at before it is decided.
    ///
    /// # Errors
    /// [`Refused`] where the value is out of range, or a threshold would be out of order with another.
    pub fn with(&self, exception: Exception) -> Result<Policy, Refused> {
        let mut own = self.own.clone();
        exception
            .threshold
            .set(&mut own, exception.value_in(&self.gym))?;
        match own.refused().into_iter().next() {
            Some(refused) => Err(refused),
            None => Ok(own),
        }
    }

    /// Names a policy by which something of this athlete was judged: "version 3, with 2 exceptions for
    /// Ida Marsh since 12 November 2026". `day` writes a date.
    #[must_use]
    pub fn called(
        &self,
        version: PolicyVersion,
        number: ExceptionsNumber,
        name: &str,
        day: impl Fn(Date) -> String,
    ) -> String {
        let version = version.0;
        let standing = self.exceptions.standing_at(number);
        let Some(since) = standing.iter().map(|change| change.on).max() else {
            return format!("version {version}");
        };
        let count = match standing.len() {
            1 => "an exception".to_owned(),
            count => format!("{count} exceptions"),
        };
        format!(
            "version {version}, with {count} for {name} since {}",
            day(since)
        )
    }
}

impl Exception {
    /// The threshold's value under this exception.
    #[must_use]
    pub fn value_in(&self, gym: &Policy) -> f64 {
        self.value.unwrap_or_else(|| self.threshold.of(gym))
    }

    /// A value outside its range, which no form takes, leaves the gym's own.
    fn put_into(&self, policy: &mut Policy) {
        let _kept_on_error = self.threshold.set(policy, self.value_in(policy));
    }
}
