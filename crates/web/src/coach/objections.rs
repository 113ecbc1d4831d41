//! What the rules object to in planned work, as a coach reads it.

use leverbook_domain::id::AthleteId;
use leverbook_domain::plan::PlannedOn;
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{self, PlannedWork, Rule, Severity, words};
use leverbook_domain::training::History;
use leverbook_store::blocks::KeptObjection;
use leverbook_store::names::GymNames;
use sha2::{Digest, Sha256};
use time::Date;

use crate::chart::day_label;
use crate::evidence::figures;
use crate::tokens::hex;

/// One thing that the rules object to, on the days that it is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Objected {
    pub(crate) rule: Rule,
    pub(crate) severity: Severity,
    pub(crate) sentence: String,
    pub(crate) figures: Vec<(&'static str, String)>,
    /// In order, at least one.
    days: Vec<Date>,
}

impl Objected {
    /// Whether the coach must say why it goes ahead all the same.
    pub(crate) fn asks_for_a_reason(&self) -> bool {
        self.severity >= Severity::Look
    }

    pub(crate) fn first_day(&self) -> Option<Date> {
        self.days.first().copied()
    }

    pub(crate) fn is_about(&self, day: Date) -> bool {
        self.days.contains(&day)
    }

    pub(crate) fn can_open_early(&self) -> bool {
        self.rule == Rule::O1 && self.asks_for_a_reason()
    }

    pub(crate) const fn many_days(&self) -> bool {
        self.days.len() > 1
    }

    pub(crate) fn days_in_words(&self) -> String {
        match self.days.as_slice() {
            [day] => day_label(*day),
            [first, .., last] => format!(
                "{} days from {} to {}",
                self.days.len(),
                day_label(*first),
                day_label(*last)
            ),
            [] => String::new(),
        }
    }

    pub(crate) fn kept(self) -> KeptObjection {
        KeptObjection {
            rule: self.rule,
            severity: self.severity,
            on: self.days.first().copied().unwrap_or(Date::MIN),
            sentence: self.sentence,
        }
    }
}

/// What the rules object to in this athlete's planned sessions: the same objection to several of
/// them is told once, with its days.
pub(super) fn to(
    history: &History,
    policy: &Policy,
    planned: &[PlannedOn],
    names: &GymNames,
) -> Vec<Objected> {
    let work: Vec<PlannedWork> = planned.iter().map(PlannedWork::from).collect();
    let mut all: Vec<Objected> = Vec::new();
    for objection in rules::objections(history, policy, &work) {
        let day = planned[objection.planned].on;
        let flag = &objection.flag;
        let sentence = words::sentence(flag, names);
        let known = all
            .iter_mut()
            .find(|one| one.rule == flag.rule && one.sentence == sentence);
        match known {
            Some(known) => known.days.push(day),
            None => all.push(Objected {
                rule: flag.rule,
                severity: flag.severity,
                sentence,
                figures: figures(&flag.evidence, names),
                days: vec![day],
            }),
        }
    }
    all.sort_by_key(|one| (std::cmp::Reverse(one.severity), one.days[0], one.rule));
    all
}

/// Those of them that were not there already, whichever the day.
pub(super) fn new_ones(all: Vec<Objected>, already: &[Objected]) -> Vec<Objected> {
    let is_new = |one: &Objected| {
        !already
            .iter()
            .any(|old| old.rule == one.rule && old.sentence == one.sentence)
    };
    all.into_iter().filter(is_new).collect()
}

/// A mark of what was looked at: the same for the same objections, whatever their order.
pub(super) fn mark<'a>(all: impl Iterator<Item = (AthleteId, &'a Objected)>) -> String {
    let mut lines: Vec<String> = all
        .map(|(athlete, objected)| format!("{athlete} {} {:?}", objected.rule.id(), objected.days))
        .collect();
    lines.sort_unstable();
    hex(&Sha256::digest(lines.join("\n"))[..16])
}

/// [`mark`] for one athlete.
pub(crate) fn mark_of(objections: &[Objected]) -> String {
    mark(
        objections
            .iter()
            .map(|objected| (AthleteId(uuid::Uuid::nil()), objected)),
    )
}
