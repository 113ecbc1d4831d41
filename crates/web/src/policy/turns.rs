//! What another policy would turn, as a coach reads it.

use leverbook_domain::next_step::NextStep;
use leverbook_domain::policy::{Effect, FlagTurn, StepTurn};
use leverbook_domain::rules::Names;
use leverbook_domain::rules::words::{hands_words, sentence};
use leverbook_domain::text::capitalised;

use crate::chart::day_label;
use crate::coach::review::step_words;

/// A flag that would be turned.
pub(crate) struct FlagLine {
    /// "Appears", "goes", "changes".
    pub(crate) what: &'static str,
    pub(crate) severity: &'static str,
    pub(crate) rule: &'static str,
    pub(crate) sentence: String,
}

/// What changes for one athlete.
pub(crate) struct Turns {
    pub(crate) flags: Vec<FlagLine>,
    pub(crate) steps: Vec<String>,
}

impl Turns {
    pub(crate) fn new(effect: &Effect, names: &dyn Names) -> Self {
        let flags = effect
            .flags
            .iter()
            .filter(|turn| !is_stated_by_another(turn, &effect.flags));
        Self {
            flags: flags.map(|turn| flag_line(turn, names)).collect(),
            steps: effect
                .steps
                .iter()
                .map(|turn| step_line(turn, names))
                .collect(),
        }
    }

    fn count(&self, what: &str) -> usize {
        self.flags.iter().filter(|flag| flag.what == what).count()
    }
}

/// Whether another flag turns with it, says the same and asks for more.
fn is_stated_by_another(turn: &FlagTurn, all: &[FlagTurn]) -> bool {
    let flag = turn.flag();
    all.iter().any(|other| {
        let twin = other.flag();
        twin.rule.restates() == Some(flag.rule)
            && twin.subject == flag.subject
            && twin.since == flag.since
            && std::mem::discriminant(other) == std::mem::discriminant(turn)
    })
}

fn flag_line(turn: &FlagTurn, names: &dyn Names) -> FlagLine {
    let flag = turn.flag();
    let found = sentence(flag, names);
    let (what, sentence) = match turn {
        FlagTurn::Appears(_) => (APPEARS, found),
        FlagTurn::Disappears(_) => (GOES, found),
        FlagTurn::Changes {
            severity, since, ..
        } => {
            let mut was = Vec::new();
            if *severity != flag.severity {
                was.push(format!("a {} until now", severity.word()));
            }
            if *since != flag.since {
                was.push(format!(
                    "since {} instead of {}",
                    day_label(flag.since),
                    day_label(*since)
                ));
            }
            (CHANGES, format!("{found} ({})", was.join(", ")))
        }
    };
    FlagLine {
        what,
        severity: flag.severity.word(),
        rule: flag.rule.id(),
        sentence,
    }
}

const APPEARS: &str = "Appears";
const GOES: &str = "Goes";
const CHANGES: &str = "Changes";

fn step_line(turn: &StepTurn, names: &dyn Names) -> String {
    let words = |step: &NextStep| {
        let club = step.loading.map(|loading| names.club(loading));
        let from = step.not_before.map_or_else(String::new, |day| {
            format!(", not before {}", day_label(day))
        });
        format!("{}{from}", step_words(step.step, club))
    };
    let movement = capitalised(names.movement(turn.movement));
    let about = |step: &NextStep| format!("{movement}, {}", hands_words(step.hands));
    match (&turn.from, &turn.to) {
        (Some(from), Some(to)) if from.hands == to.hands => {
            format!("{}: {}. Until now: {}", about(to), words(to), words(from))
        }
        (Some(from), Some(to)) => format!(
            "{}: {}. Until now, {}: {}",
            about(to),
            words(to),
            hands_words(from.hands),
            words(from)
        ),
        (None, Some(to)) => format!("{}: {}. Until now: nothing", about(to), words(to)),
        (Some(from), None) => format!("{}: nothing. Until now: {}", about(from), words(from)),
        (None, None) => movement.clone(),
    }
}

/// How much is turned.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Counts {
    pub(crate) appear: usize,
    pub(crate) go: usize,
    pub(crate) change: usize,
    pub(crate) steps: usize,
}

impl Counts {
    pub(crate) fn of<'a>(all: impl IntoIterator<Item = &'a Turns>) -> Self {
        all.into_iter().fold(Self::default(), |sum, turns| Self {
            appear: sum.appear + turns.count(APPEARS),
            go: sum.go + turns.count(GOES),
            change: sum.change + turns.count(CHANGES),
            steps: sum.steps + turns.steps.len(),
        })
    }
}
