//! The rules: history, policy and a date go in; flags with their evidence come out.
//!
//! One file a family. Each family turns a history into *episodes*: a flag with the day it was
//! raised and the day its condition ended. The flags that stand on a day are the episodes that
//! have not ended by then; a replay is the same episodes in order of date. Nothing else is kept,
//! so flags can always be rebuilt from the log alone.

mod attendance;
mod both_sides;
mod club_use;
mod coming_back;
mod evidence;
pub mod help;
mod life;
mod load;
mod log;
mod names;
mod objections;
mod one_hand;
mod opening;
#[cfg(test)]
mod properties;
mod questions;
mod steps;
mod two_hand;
mod weight_jumps;
pub mod words;

pub(crate) use coming_back::{Climbed, sets_to_come_back_to};
pub use evidence::{Evidence, NoAdding};
pub use load::{LoadWeek, SessionLoad, load_weeks, session_load};
pub(crate) use log::easy_enough;
pub use names::Names;
pub use objections::{Objection, PlannedWork, objections};
pub(crate) use one_hand::says_not_to_add;
pub(crate) use opening::is_long_enough;
pub use opening::{Gate, Mend, gate, mended_pace};
pub use questions::{MustSay, Questions, Why};
pub use steps::{ClubsWorked, StepTaken, clubs_worked};
pub(crate) use two_hand::at_the_goal_on_both_sides;
pub use two_hand::goal_density;

use serde::{Deserialize, Serialize};
use time::Date;

use crate::id::{AthleteId, FlagId, LoadingId, MovementId};
use crate::policy::Policy;
use crate::training::{Hands, History, PainPlace};
use log::Log;

macro_rules! rules {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {
        /// A rule's id: the same in code, tests, pages and help.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Rule { $($(#[$doc])* $name),+ }

        impl Rule {
            /// Every rule, by family.
            pub const ALL: &[Self] = &[$(Self::$name),+];

            /// The id as it is written everywhere.
            pub const fn id(self) -> &'static str {
                match self { $(Self::$name => stringify!($name)),+ }
            }

            /// Reads [`Rule::id`] back.
            pub fn from_id(id: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|rule| rule.id() == id)
            }
        }
    };
}

rules! {
    /// A step could only be judged by mass.
    M4,
    /// Two-hand step earned.
    T4,
    /// The count has stopped climbing short of the goal.
    T5,
    /// Density is falling.
    T6,
    /// One-hand work opened before its gate.
    O1,
    /// The first light club was heavier than the lightest finished one.
    O2,
    /// Free one-hand sets before enough fingertip sets.
    O3,
    /// Reps or first sets outside the ladder's bounds.
    V1,
    /// Sets added too fast, or reps changed within a ladder.
    V2,
    /// One-hand step earned.
    V3,
    /// A ladder did not start again after a step.
    V4,
    /// Sets were added right after a session that said not to.
    V5,
    /// A ladder added in a week that holds.
    V6,
    /// Unequal sides in one session.
    B1,
    /// One side favoured over weeks.
    B2,
    /// A step too big.
    W1,
    /// A smaller step was in the rack.
    W2,
    /// A step that was not earned.
    W3,
    /// Volume kept across a step.
    W4,
    /// A heavy restart.
    W5,
    /// Session load, shown as context.
    L1,
    /// Load spike.
    L2,
    /// Effort climbing at the same work.
    L3,
    /// Pain.
    L4,
    /// Attendance.
    A1,
}

/// How much a flag asks of the coach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Shown, not pushed.
    Note,
    /// Belongs in this week's review.
    Look,
    /// Planned work waits for the coach.
    Stop,
}

impl Severity {
    /// The word used in files, the database and pages.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Look => "look",
            Self::Stop => "stop",
        }
    }

    /// Reads [`Severity::word`] back.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Note, Self::Look, Self::Stop]
            .into_iter()
            .find(|severity| severity.word() == word)
    }
}

impl Rule {
    /// How much a flag of this rule asks of the coach. Two rules ask for less or more by what was found:
    /// O1 is a note once the coach opened the gate, and L4 stops the work from a certain pain on. L1 and
    /// the rules without a flag are context.
    pub const fn severity(self) -> Severity {
        match self {
            // Good news, and statements that a twin already asks to look at.
            Self::T4 | Self::V3 | Self::O2 | Self::V4 => Severity::Note,
            // Nothing to act on by itself: a club to measure, a matter of taste, one uneven session, a
            // ratio whose worth is disputed.
            Self::M4 | Self::V1 | Self::V6 | Self::B1 | Self::L1 | Self::L2 => Severity::Note,
            // Progress has ended or turned round: only the coach can change the plan.
            Self::T5 | Self::T6 | Self::L3 | Self::A1 | Self::B2 => Severity::Look,
            // A step that can hurt somebody if it goes on.
            Self::O1 | Self::O3 | Self::V2 | Self::V5 => Severity::Look,
            Self::W1 | Self::W2 | Self::W3 | Self::W4 | Self::W5 => Severity::Look,
            Self::L4 => Severity::Look,
        }
    }

    /// The rule that states as a note what this rule asks the coach to look at. Both flags are raised and
    /// end together and say the same of the same subject, so that a page can show them as one.
    pub const fn restates(self) -> Option<Self> {
        match self {
            Self::W4 => Some(Self::V4),
            Self::W5 => Some(Self::O2),
            _ => None,
        }
    }
}

/// What a flag is about, beside the athlete.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Subject {
    /// Movement, where the flag is about one.
    pub movement: Option<MovementId>,
    /// Hands, where the flag is about one way of holding.
    pub hands: Option<Hands>,
    /// Club as loaded, where the flag is about one.
    pub loading: Option<LoadingId>,
    /// Interval length in seconds, where the flag is about one density key.
    pub seconds: Option<u16>,
    /// Body place, where the flag is about one.
    pub place: Option<PainPlace>,
}

/// A flag, with the evidence as it stood on the last day it was looked at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flag {
    /// Which rule.
    pub rule: Rule,
    /// How much it asks of the coach.
    pub severity: Severity,
    /// What it is about.
    pub subject: Subject,
    /// The day its condition began to hold.
    pub since: Date,
    /// The figures behind it.
    pub evidence: Evidence,
}

impl Flag {
    /// The flag's id: made from what it is about and when it began, so that rebuilding flags from
    /// the log gives the same ids and what coaches decided stays attached.
    pub fn id(&self, athlete: AthleteId) -> FlagId {
        let subject = &self.subject;
        let name = format!(
            "{}|{}|{}|{}|{}|{}|{}",
            self.rule.id(),
            subject
                .movement
                .map(|id| id.to_string())
                .unwrap_or_default(),
            subject.hands.map(Hands::word).unwrap_or_default(),
            subject.loading.map(|id| id.to_string()).unwrap_or_default(),
            subject
                .seconds
                .map(|seconds| seconds.to_string())
                .unwrap_or_default(),
            subject
                .place
                .as_ref()
                .map(PainPlace::as_str)
                .unwrap_or_default(),
            self.since,
        );
        FlagId(uuid::Uuid::new_v5(&athlete.0, name.as_bytes()))
    }
}

/// A flag's life as the log alone gives it: raised on [`Flag::since`], ended when its condition
/// ended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Episode {
    /// The flag, with its evidence as of the end, or as of the day asked for while it stands.
    pub flag: Flag,
    /// The day from which the condition no longer held; `None` while it stands.
    pub until: Option<Date>,
}

/// Every episode that the log shows up to and on `as_of`, in order of day, rule and subject.
///
/// A rule never looks ahead: what this gives for one day is what it gives for any later day, less
/// what came after. The cost grows linearly with the number of sessions.
pub fn episodes(history: &History, policy: &Policy, as_of: Date) -> Vec<Episode> {
    let log = Log::new(history, policy, as_of);
    // Later families ask what earlier ones found: whether a step was earned, whether a stop stands.
    let mut all = Vec::new();
    all.extend(two_hand::episodes(&log));
    all.extend(load::episodes(&log));
    all.extend(one_hand::episodes(&log));
    all.extend(opening::episodes(&log, &all));
    let steps = steps::steps(&log, &all);
    all.extend(one_hand::volumes_kept(&log, &steps));
    all.extend(weight_jumps::episodes(&log, &steps, &all));
    all.extend(weight_jumps::volume_kept_and_heavy_restart(&all));
    all.extend(both_sides::episodes(&log));
    all.extend(attendance::episodes(&log));
    in_order(all)
}

/// The flags that stand at the end of a day.
pub fn standing(episodes: &[Episode], day: Date) -> Vec<&Flag> {
    episodes
        .iter()
        .filter(|episode| episode.stands_on(day))
        .map(|episode| &episode.flag)
        .collect()
}

impl Episode {
    /// Whether the flag stands at the end of this day.
    pub fn stands_on(&self, day: Date) -> bool {
        self.flag.since <= day && self.until.is_none_or(|until| until > day)
    }
}

/// Sorts, and makes one of two episodes that began on the same day with the same rule and subject
/// (two sessions in one day): the one that lasted longer.
fn in_order(mut episodes: Vec<Episode>) -> Vec<Episode> {
    let key = |episode: &Episode| {
        let flag = &episode.flag;
        (flag.since, flag.rule, flag.subject.clone())
    };
    episodes.sort_by_cached_key(|episode| {
        let lasted = episode.until.map_or(Date::MIN, |until| until);
        (
            key(episode),
            episode.until.is_some(),
            std::cmp::Reverse(lasted),
        )
    });
    episodes.dedup_by(|later, kept| key(later) == key(kept));
    episodes
}
