//! The form with every threshold.

use std::collections::HashSet;

use leverbook_domain::id::AthleteId;
use leverbook_domain::policy::{Fault, Policy, PolicyVersion, Refused, Threshold};
use leverbook_domain::text::Reason;
use leverbook_store::{GymTx, StoreError, athletes};

use crate::form::{FieldErrors, Form};
use crate::numbers::decimal;
use crate::posted::Posted;
use crate::visit::Visit;

/// What a form asks for.
pub(super) struct Typed {
    pub(super) policy: Policy,
    pub(super) reason: Reason,
}

/// Why something was decided: needed, since it stays in the history.
pub(crate) fn why(text: &str) -> Result<Reason, String> {
    if text.is_empty() {
        return Err("say why: it stays in the history".to_owned());
    }
    Reason::new(text).map_err(|error| error.to_string())
}

impl Typed {
    pub(super) fn read(posted: &Posted) -> Result<Self, FieldErrors> {
        let mut errors = FieldErrors::new();
        let mut policy = Policy::default();
        for threshold in Threshold::ALL {
            errors.read(posted, threshold.name, |text| {
                let value = decimal(text).map_err(str::to_owned)?;
                threshold
                    .set(&mut policy, value)
                    .map_err(|refused| refused.at_field())
            });
        }
        if !errors.any() {
            for refused in policy.refused() {
                errors.add(refused.threshold.name, refused.at_field());
            }
        }
        let reason = errors.read(posted, "reason", why);
        match reason {
            Some(reason) if !errors.any() => Ok(Self { policy, reason }),
            _ => Err(errors),
        }
    }
}

/// The version that a form was made from.
pub(super) fn version_in(posted: &Posted) -> Option<PolicyVersion> {
    posted.text("after").parse().ok().map(PolicyVersion)
}

fn values(policy: &Policy) -> Vec<(&'static str, String)> {
    Threshold::ALL
        .iter()
        .map(|threshold| (threshold.name, threshold.of(policy).to_string()))
        .collect()
}

pub(super) fn first_form(policy: &Policy) -> Form {
    let mut form = Form::with(values(policy));
    form.set("after", policy.version.0.to_string());
    form
}

/// The form with everything in it that was asked for, wherever it came from.
pub(super) fn all_of(typed: &Typed, after: PolicyVersion, errors: FieldErrors) -> Form {
    let mut form = Form::wrong(values(&typed.policy), errors);
    form.set("after", after.0.to_string());
    form.set("reason", typed.reason.as_str());
    form
}

/// The form as typed, upon the policy that somebody else has saved meanwhile: what was left alone
/// follows it, and where both changed the same, the field says so.
pub(super) fn merged(posted: &Posted, seen: &Policy, now: &Policy) -> Form {
    let mut errors = FieldErrors::new();
    let mut followed = Vec::new();
    for threshold in seen.differing(now) {
        let present = threshold.of(now);
        let typed = decimal(posted.text(threshold.name)).ok();
        if typed == Some(threshold.of(seen)) {
            followed.push((threshold.name, present));
        } else if typed != Some(present) {
            let words = threshold.unit.words(present);
            errors.add(
                threshold.name,
                format!("somebody made it {words} while you typed"),
            );
        }
    }
    let mut form = Form::again(posted, errors);
    for (name, value) in followed {
        form.set(name, value.to_string());
    }
    form.set("after", now.version.0.to_string());
    form
}

/// Tells at its field what does not go with an athlete's exception. Whose it is, and from what, only their
/// coach reads: an exception tells of somebody's health.
pub(super) async fn out_of_order(
    tx: &mut GymTx,
    visit: &Visit,
    now: &Policy,
    then: &Policy,
    wrong: &[(AthleteId, Refused)],
    errors: &mut FieldErrors,
) -> Result<(), StoreError> {
    let mut said = HashSet::new();
    for (athlete, refused) in wrong {
        let other = match refused.fault {
            Fault::Under(other, _) => other,
            Fault::NotWhole | Fault::OutOfRange => refused.threshold,
        };
        // The one of the two that this form changes.
        let field = now
            .differing(then)
            .find(|it| *it == other)
            .unwrap_or(refused.threshold);
        let sentence = if athletes::is_on_roster(tx, visit.account, *athlete).await? {
            let whose = athletes::get(tx, *athlete).await?.name;
            format!(
                "does not go with an exception for {whose}: “{}” would be under “{}”. Their coach can end \
                 or change it first",
                refused.threshold.words, other.words
            )
        } else {
            "does not go with an exception for an athlete. Their coach can end or change it first"
                .to_owned()
        };
        // Once, however many it is about.
        if said.insert((field.name, sentence.clone())) {
            errors.add(field.name, sentence);
        }
    }
    Ok(())
}
