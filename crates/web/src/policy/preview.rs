//! What another policy would change across the gym, before it is saved. Flags are health data: a coach
//! reads those of their own roster, and of everybody else how many people. An owner is told nothing: trying
//! one number for pain after another would tell them, by the count, that somebody hurts.

use std::collections::{HashMap, HashSet};

use askama::Template;
use leverbook_domain::id::AthleteId;
use leverbook_domain::policy::{AthletePolicy, Policy, Threshold};
use leverbook_domain::roster::Status;
use leverbook_store::names::GymNames;
use leverbook_store::people::Role;
use leverbook_store::{GymTx, StoreError, athletes, flags};

use super::form::Typed;
use super::turns::{Counts, Turns};
use super::{ChangeLine, changes};
use crate::frame::{Frame, Nav};
use crate::visit::Visit;

/// The most athletes shown one by one.
const SHOWN: usize = 100;

#[derive(Template)]
#[template(path = "policy/preview.html")]
pub(super) struct PreviewPage {
    frame: Frame,
    version: i32,
    changes: Vec<ChangeLine>,
    reason: String,
    /// Field and value of everything that is saved.
    carried: Vec<(&'static str, String)>,
    /// For a coach.
    roster: Option<Roster>,
}

/// A coach's own athletes.
struct Roster {
    /// How many athletes of the gym anything changes for, and how many there are.
    touched: usize,
    of: usize,
    counts: Counts,
    athletes: Vec<AthleteTurns>,
    more: usize,
    /// Athletes of other coaches for whom something changes.
    others: usize,
}

struct AthleteTurns {
    name: String,
    href: String,
    turns: Turns,
}

impl Roster {
    async fn new(tx: &mut GymTx, visit: &Visit, typed: &Typed) -> Result<Self, StoreError> {
        let mut everybody = athletes::all(tx).await?;
        everybody.retain(|athlete| athlete.status != Status::Left);
        let ids: Vec<AthleteId> = everybody.iter().map(|athlete| athlete.id).collect();
        let then = |athlete: &AthletePolicy| {
            let moved = AthletePolicy::new(typed.policy.clone(), athlete.exceptions().clone());
            moved.own().clone()
        };
        let effects = flags::foresee(tx, &ids, visit.today, then).await?;
        let touched = effects.len();
        let rosters = athletes::rosters(tx).await?;
        let mine: HashSet<AthleteId> = rosters
            .into_iter()
            .filter(|(_, coach)| *coach == visit.account)
            .map(|(athlete, _)| athlete)
            .collect();
        let names = GymNames::load(tx).await?;
        let mut turns: HashMap<AthleteId, Turns> = effects
            .iter()
            .filter(|(athlete, _)| mine.contains(athlete))
            .map(|(athlete, effect)| (*athlete, Turns::new(effect, &names)))
            .collect();
        let others = touched - turns.len();
        let counts = Counts::of(turns.values());
        // By name, as everybody is.
        let mut athletes: Vec<AthleteTurns> = everybody
            .iter()
            .filter_map(|athlete| {
                Some(AthleteTurns {
                    turns: turns.remove(&athlete.id)?,
                    name: athlete.name.to_string(),
                    href: visit.to(&format!("athletes/{}", athlete.id)),
                })
            })
            .collect();
        let more = athletes.len().saturating_sub(SHOWN);
        athletes.truncate(SHOWN);
        Ok(Self {
            touched,
            of: everybody.len(),
            counts,
            athletes,
            more,
            others,
        })
    }
}

impl PreviewPage {
    pub(super) async fn new(
        tx: &mut GymTx,
        visit: &Visit,
        now: &Policy,
        typed: &Typed,
    ) -> Result<Self, StoreError> {
        let roster = if visit.roles.has(Role::Coach) {
            Some(Roster::new(tx, visit, typed).await?)
        } else {
            None
        };
        let mut carried: Vec<(&'static str, String)> = Threshold::ALL
            .iter()
            .map(|threshold| (threshold.name, threshold.of(&typed.policy).to_string()))
            .collect();
        carried.push(("after", now.version.0.to_string()));
        carried.push(("reason", typed.reason.to_string()));
        Ok(Self {
            frame: visit.frame("What would change", Nav::Rules),
            version: now.version.0,
            changes: changes(now, &typed.policy),
            reason: typed.reason.to_string(),
            carried,
            roster,
        })
    }
}
