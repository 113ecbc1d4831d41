//! The path ahead, as pages tell it.

use leverbook_domain::plan::{
    Aim, BlockAhead, Milestone, PlannedOn, Scheme, SessionTime, WayAhead, When, block_ahead,
    ways_ahead,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::words::hands_words;
use leverbook_domain::rules::{Episode, Flag, Names, Rule, Subject, episodes};
use leverbook_domain::text::capitalised;
use leverbook_domain::training::{Hands, History};
use leverbook_store::flags::KeptFlag;
use time::Date;

/// What is to be expected in one movement, or of one block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Ahead {
    /// Movement, hands and club.
    pub(crate) about: String,
    pub(crate) lines: Vec<Line>,
    /// Why there is no date for anything, where that is the same of all: it goes before the lines.
    pub(crate) halted: Option<String>,
    /// What the dates rest on, where there are any.
    pub(crate) assumption: Option<String>,
    /// The same in a few words, for who does not want to know it exactly.
    pub(crate) gist: Option<&'static str>,
}

impl Ahead {
    /// What comes next, in a line.
    pub(crate) fn next(&self) -> String {
        if let Some(why) = &self.halted {
            return format!("{}: {why}", self.about);
        }
        // What is there already is not ahead.
        let next = self.lines.iter().find(|line| !line.is_now);
        match next.or(self.lines.first()) {
            Some(line) => format!("{}. {}: {}", self.about, line.what, line.when),
            None => self.about.clone(),
        }
    }
}

/// One thing to be expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Line {
    pub(crate) what: String,
    pub(crate) when: String,
    pub(crate) is_now: bool,
    pub(crate) rule: &'static str,
}

fn lines(
    milestones: &[Milestone],
    hands: Hands,
    what: impl Fn(&Milestone) -> String,
    when: impl Fn(&Milestone) -> String,
) -> Vec<Line> {
    let mut club_has_come = false;
    let line = |one: &Milestone| {
        let provided = match one.aim {
            // T4 goes on beside the open gate, but the next step leads through it.
            Aim::NextClub(Some(_)) if hands == Hands::Two && gate_is_open(milestones) => {
                ", if two hands go on"
            }
            // V4: the next club begins its ladder anew.
            Aim::Sets(_) if club_has_come => ", if the club stays",
            _ => "",
        };
        club_has_come |= hands == Hands::One && matches!(one.aim, Aim::NextClub(Some(_)));
        Line {
            what: format!("{}{provided}", what(one)),
            when: when(one),
            is_now: one.when == When::Now,
            rule: one.aim.rule().id(),
        }
    };
    milestones.iter().map(line).collect()
}

/// Which of an athlete's flags a coach closed or quieted, so that nothing waits for them any more.
pub(crate) fn closed<'a>(
    kept: impl IntoIterator<Item = &'a KeptFlag>,
    today: Date,
) -> impl Fn(&Flag) -> bool {
    let settled = kept.into_iter().filter(|kept| !kept.life(today).is_open());
    let closed: Vec<_> = settled
        .map(|kept| (kept.flag.rule, kept.flag.subject.clone(), kept.flag.since))
        .collect();
    move |flag| {
        let same = |(rule, subject, since): &(Rule, Subject, Date)| {
            (*rule, subject, *since) == (flag.rule, &flag.subject, flag.since)
        };
        closed.iter().any(same)
    }
}

fn gate_is_open(milestones: &[Milestone]) -> bool {
    let open = Milestone {
        aim: Aim::Gate,
        when: When::Now,
    };
    milestones.contains(&open)
}

/// What stands in the way of every date alike.
fn halted(milestones: &[Milestone], when: impl Fn(&Milestone) -> String) -> Option<String> {
    let first = milestones.first()?;
    let alike = matches!(first.when, When::Unknown(_))
        && milestones.iter().all(|one| one.when == first.when);
    alike.then(|| capitalised(&when(first)))
}

/// The path ahead in every movement, for the coach.
pub(crate) fn for_coach(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
) -> Vec<Ahead> {
    ways_ahead(history, policy, episodes, is_closed, today)
        .iter()
        .map(|way| {
            let what = |one: &Milestone| one.aim.words(names);
            let when = |one: &Milestone| one.when.words(names);
            told(way, policy, names, what, when)
        })
        .collect()
}

/// The same in kind words.
pub(crate) fn for_athlete(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    episodes: &[Episode],
    is_closed: &dyn Fn(&Flag) -> bool,
    today: Date,
) -> Vec<Ahead> {
    ways_ahead(history, policy, episodes, is_closed, today)
        .iter()
        .map(|way| {
            let what = |one: &Milestone| one.aim.for_athlete(names, way.seconds);
            let when = |one: &Milestone| one.when.for_athlete();
            Ahead {
                gist: way.gist_for_athlete(),
                ..told(way, policy, names, what, when)
            }
        })
        .collect()
}

fn told(
    way: &WayAhead,
    policy: &Policy,
    names: &dyn Names,
    what: impl Fn(&Milestone) -> String,
    when: impl Fn(&Milestone) -> String + Copy,
) -> Ahead {
    Ahead {
        about: format!(
            "{}, {}, with {}",
            capitalised(names.movement(way.movement)),
            hands_words(way.hands),
            names.club(way.loading)
        ),
        lines: lines(&way.milestones, way.hands, what, when),
        halted: halted(&way.milestones, when),
        assumption: way.assumption(policy),
        gist: None,
    }
}

/// What a block leads to, for the coach; `None` of a block without sessions.
pub(crate) fn of_block(
    history: &History,
    policy: &Policy,
    names: &dyn Names,
    is_closed: &dyn Fn(&Flag) -> bool,
    scheme: &Scheme,
    planned: &[PlannedOn],
    today: Date,
) -> Option<Ahead> {
    let episodes = episodes(history, policy, today);
    let block = block_ahead(
        history, policy, &episodes, is_closed, scheme, planned, today,
    )?;
    let when = |one: &Milestone| one.when.words(names);
    Some(Ahead {
        about: minutes(&block),
        lines: lines(
            &block.milestones,
            planned.first()?.prescription.hands,
            |one| one.aim.words(names),
            when,
        ),
        halted: halted(&block.milestones, when),
        assumption: block.assumption(policy),
        gist: None,
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
