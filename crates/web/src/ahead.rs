//! The path ahead, as pages tell it.

use leverbook_domain::plan::{
    BlockAhead, Milestone, PlannedOn, Scheme, SessionTime, block_ahead, ways_ahead,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::words::hands_words;
use leverbook_domain::rules::{Names, episodes};
use leverbook_domain::text::capitalised;
use leverbook_domain::training::History;
use time::Date;

/// What is to be expected in one movement, or of one block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Ahead {
    /// Movement, hands and club.
    pub(crate) about: String,
    pub(crate) lines: Vec<Line>,
    /// What the dates rest on.
    pub(crate) assumption: String,
}

/// One thing to be expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Line {
    pub(crate) what: String,
    pub(crate) when: String,
    pub(crate) rule: &'static str,
}

fn lines(
    milestones: &[Milestone],
    names: &dyn Names,
    when: impl Fn(&Milestone) -> String,
) -> Vec<Line> {
    let line = |one: &Milestone| Line {
        what: one.aim.words(names),
        when: when(one),
        rule: one.aim.rule().id(),
    };
    milestones.iter().map(line).collect()
}

/// The path ahead in every movement, for the coach.
pub(crate) fn for_coach(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    today: Date,
) -> Vec<Ahead> {
    told(history, policy, names, today, |one| one.when.words(names))
}

/// The same in kind words.
pub(crate) fn for_athlete(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    today: Date,
) -> Vec<Ahead> {
    told(history, policy, names, today, |one| one.when.for_athlete())
}

fn told(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    today: Date,
    when: impl Fn(&Milestone) -> String + Copy,
) -> Vec<Ahead> {
    let episodes = episodes(history, policy, today);
    ways_ahead(history, policy, &episodes, today)
        .iter()
        .map(|way| Ahead {
            about: format!(
                "{}, {}, with {}",
                capitalised(names.movement(way.movement)),
                hands_words(way.hands),
                names.club(way.loading)
            ),
            lines: lines(&way.milestones, names, when),
            assumption: way.assumption(policy),
        })
        .collect()
}

/// What a block leads to, for the coach; `None` of a block without sessions.
pub(crate) fn of_block(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    scheme: &Scheme,
    planned: &[PlannedOn],
    today: Date,
) -> Option<Ahead> {
    let episodes = episodes(history, policy, today);
    let block = block_ahead(history, policy, &episodes, scheme, planned, today)?;
    Some(Ahead {
        about: minutes(&block),
        lines: lines(&block.milestones, names, |one| one.when.words(names)),
        assumption: block.assumption(policy),
    })
}

/// How long a session takes, at both ends of the block.
fn minutes(block: &BlockAhead) -> String {
    let of = SessionTime::in_minutes;
    if block.first_week == block.last_week {
        return format!("A session takes {} all through.", of(block.first_week));
    }
    format!(
        "A session takes {} in the first week and {} in the last.",
        of(block.first_week),
        of(block.last_week)
    )
}
