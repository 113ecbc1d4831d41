//! One row a threshold: what it means, its unit, its range, its source.

use super::Policy;

/// What a threshold counts or measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Seconds.
    Seconds,
    /// Days.
    Days,
    /// Weeks.
    Weeks,
    /// Months.
    Months,
    /// Sessions.
    Sessions,
    /// Sessions a week.
    SessionsAWeek,
    /// Two-hand clubs.
    Clubs,
    /// Sets on each side.
    Sets,
    /// Reps on each side.
    Reps,
    /// Percent.
    Percent,
    /// A share of the usual sets: 0.6 is 60 %.
    ShareOfSets,
    /// A multiple.
    Times,
    /// The 0 to 10 scale of effort (CR10).
    Effort,
    /// The 0 to 10 scale of pain.
    Pain,
}

impl Unit {
    /// The unit's word beside a number that is typed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Seconds => "seconds",
            Self::Days => "days",
            Self::Weeks => "weeks",
            Self::Months => "months",
            Self::Sessions => "sessions",
            Self::SessionsAWeek => "sessions a week",
            Self::Clubs => "clubs",
            Self::Sets => "sets a side",
            Self::Reps => "reps a side",
            Self::Percent => "%",
            Self::ShareOfSets => "of the sets",
            Self::Times => "times",
            Self::Effort | Self::Pain => "of 10",
        }
    }

    /// A value with its unit, to be read: "28 days", "1 session", "0.6 of the sets".
    #[must_use]
    pub fn words(self, value: f64) -> String {
        let one = value == 1.0;
        match self {
            Self::Seconds => format!("{value} s"),
            Self::Days if one => "1 day".to_owned(),
            Self::Weeks if one => "1 week".to_owned(),
            Self::Months if one => "1 month".to_owned(),
            Self::Sessions if one => "1 session".to_owned(),
            Self::SessionsAWeek if one => "1 session a week".to_owned(),
            Self::Clubs if one => "1 club".to_owned(),
            Self::Sets if one => "1 set a side".to_owned(),
            Self::Reps if one => "1 rep a side".to_owned(),
            Self::Effort | Self::Pain => format!("{value} of 10"),
            Self::Days
            | Self::Weeks
            | Self::Months
            | Self::Sessions
            | Self::SessionsAWeek
            | Self::Clubs
            | Self::Sets
            | Self::Reps
            | Self::Percent
            | Self::ShareOfSets
            | Self::Times => format!("{value} {}", self.word()),
        }
    }
}

/// A threshold: all there is to know about it, but for its value in a policy.
#[derive(Debug)]
pub struct Threshold {
    /// Its name, as in files and the database; of one of two values, with its place: `name[0]`.
    pub name: &'static str,
    /// The rules that it serves; the first one's family is where it is shown.
    pub rules: &'static [&'static str],
    /// A few words: what a form calls it.
    pub words: &'static str,
    /// What it does.
    pub sentence: &'static str,
    /// What it counts or measures.
    pub unit: Unit,
    /// Whether only whole numbers make sense.
    pub whole: bool,
    /// The least it may be.
    pub least: f64,
    /// The most it may be.
    pub most: f64,
    /// The threshold that it must not be under.
    pub not_under: Option<&'static str>,
    /// Where its default comes from.
    pub source: &'static str,
    get: fn(&Policy) -> f64,
    set: fn(&mut Policy, f64),
}

impl PartialEq for Threshold {
    /// Names are unique; a test says so.
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

/// What is wrong with a threshold's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// No whole number, where only those make sense.
    NotWhole,
    /// Not from the least to the most.
    OutOfRange,
    /// Under the threshold that it must not be under, which is this much.
    Under(&'static Threshold, f64),
}

/// A value that a threshold cannot have.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{} {}", self.threshold.name, self.in_file())]
pub struct Refused {
    /// Which threshold.
    pub threshold: &'static Threshold,
    /// Why.
    pub fault: Fault,
}

impl Refused {
    /// What to say beside a form's field.
    #[must_use]
    pub fn at_field(&self) -> String {
        self.sentence(|it| format!("“{}”", it.words))
    }

    /// What to say beside the threshold's name in a file.
    #[must_use]
    pub fn in_file(&self) -> String {
        self.sentence(|it| it.name.to_owned())
    }

    fn sentence(&self, call: impl Fn(&Threshold) -> String) -> String {
        match self.fault {
            Fault::NotWhole | Fault::OutOfRange => {
                format!("must be {}", self.threshold.range_words())
            }
            Fault::Under(other, value) => format!(
                "must be {}: not under {}, which is {value}",
                self.threshold.range_from(value),
                call(other)
            ),
        }
    }
}

const PRACTICE: &str = "Common practice of the trade, no published source.";
const OURS: &str = "This project’s own.";
const TWO_FOR_TWO: &str = "The shape of the 2-for-2 rule for adding load (NSCA, Essentials of Strength \
    Training and Conditioning, from memory).";
const GUIDANCE: &str = "The low end of published guidance for adding load, 2 to 10 % (Ratamess et al., \
    ACSM position stand, Med Sci Sports Exerc 2009;41(3):687-708).";
const MEAN: &str = "Williams et al., Br J Sports Med 2017;51:209-210 (from memory); the value is this \
    project’s own.";

/// Ways in and out of a field of [`Policy`], whatever its type. A value was checked before it is set.
macro_rules! field {
    ($($field:tt)+) => {
        Threshold {
            name: stringify!($($field)+),
            get: |policy| policy.$($field)+ as f64,
            set: |policy, value| policy.$($field)+ = value as _,
            rules: &[],
            words: "",
            sentence: "",
            unit: Unit::Sessions,
            whole: true,
            least: 0.0,
            most: 0.0,
            not_under: None,
            source: PRACTICE,
        }
    };
}

impl Threshold {
    /// All of them, by family of the first rule that they serve.
    pub const ALL: &[Self] = &[
        Self {
            rules: &["M4", "W2"],
            words: "No step under",
            sentence: "A club that asks for less than this much more is no step: changing to it needs \
                nothing, and skipping it skips nothing.",
            unit: Unit::Percent,
            whole: false,
            most: 50.0,
            source: GUIDANCE,
            ..field!(step_percent_min)
        },
        Self {
            rules: &[
                "M4", "T4", "T5", "T6", "O2", "V1", "V2", "V3", "V4", "V5", "V6", "W1", "W2", "W3",
                "W4", "W5",
            ],
            words: "Sessions running that settle a step",
            sentence: "After so many sessions running at a new club, with nothing missed and without great \
                effort or pain, a step is settled and flags about it end; so do flags about a club whose \
                place other clubs took for so long.",
            least: 1.0,
            most: 100.0,
            source: OURS,
            ..field!(settled_sessions)
        },
        Self {
            rules: &[
                "M4", "T4", "T5", "T6", "O1", "O2", "O3", "V1", "V2", "V3", "V4", "V5", "V6", "B1",
                "W1", "W2", "W3", "W4", "W5", "L3",
            ],
            words: "A club counts as left after",
            sentence: "After so many days without work a club, or a way of holding it, counts as left: \
                flags about it end, and its count starts again.",
            unit: Unit::Days,
            least: 2.0,
            most: 366.0,
            source: OURS,
            ..field!(left_after_days)
        },
        Self {
            rules: &["T1"],
            words: "Length of a set against the clock",
            sentence: "How long a set against the clock lasts, where nothing else is chosen.",
            unit: Unit::Seconds,
            least: 5.0,
            most: 3600.0,
            ..field!(interval_seconds)
        },
        Self {
            rules: &["T3"],
            words: "Goal, times the start",
            sentence: "Where the coach sets no goal, it is this many times the median density of the first \
                sessions with the club.",
            unit: Unit::Times,
            whole: false,
            least: 1.0,
            most: 3.0,
            ..field!(goal_over_start)
        },
        Self {
            rules: &["T3"],
            words: "Sessions that make the start",
            sentence: "So many first sessions with a club are what a goal is reckoned from.",
            least: 1.0,
            most: 20.0,
            ..field!(goal_start_sessions)
        },
        Self {
            rules: &["T4", "V3"],
            words: "Sessions running that earn a step",
            sentence: "A step is earned once the goal, or the ladder’s target, was reached on both sides in \
                so many sessions running.",
            least: 1.0,
            most: 20.0,
            source: TWO_FOR_TWO,
            ..field!(earned_in_a_row)
        },
        Self {
            rules: &["T4", "V3"],
            words: "Most effort that earns a step",
            sentence: "A session of more effort than this earns no step.",
            unit: Unit::Effort,
            whole: false,
            most: 10.0,
            ..field!(earned_effort_at_most)
        },
        Self {
            rules: &["T4", "V3"],
            words: "Most pain that earns a step",
            sentence: "A session with more pain than this earns no step.",
            unit: Unit::Pain,
            most: 10.0,
            ..field!(earned_pain_at_most)
        },
        Self {
            rules: &["O1"],
            words: "Clubs finished before one hand",
            sentence: "So many two-hand clubs are finished before one-hand work opens.",
            unit: Unit::Clubs,
            most: 20.0,
            ..field!(opening_clubs)
        },
        Self {
            rules: &["O1"],
            words: "Months of two-hand work",
            sentence: "So many months of two-hand work are in the log before one-hand work opens.",
            unit: Unit::Months,
            most: 120.0,
            source: "Common practice of the trade, 12 to 24 months; no published source.",
            ..field!(opening_months)
        },
        Self {
            rules: &["O1"],
            words: "Sessions a week until then",
            sentence: "That two-hand work had at least so many sessions a week on average.",
            unit: Unit::SessionsAWeek,
            whole: false,
            most: 14.0,
            ..field!(opening_sessions_per_week)
        },
        Self {
            rules: &["O3"],
            words: "Fingertip sessions",
            sentence: "So many sessions with the fingertips of the other hand come before free one-hand sets.",
            most: 100.0,
            source: "The order is common practice of the trade, the number is this project’s own.",
            ..field!(fingertip_sessions)
        },
        Self {
            rules: &["V1"],
            words: "Fewest reps",
            sentence: "A straight set of fewer reps than this is flagged.",
            unit: Unit::Reps,
            least: 1.0,
            most: 50.0,
            ..field!(ladder_reps_min)
        },
        Self {
            rules: &["V1"],
            words: "Most reps",
            sentence: "A straight set of more reps than this is flagged; new ladders begin with it.",
            unit: Unit::Reps,
            least: 1.0,
            most: 50.0,
            not_under: Some("ladder_reps_min"),
            ..field!(ladder_reps_max)
        },
        Self {
            rules: &["V1", "V4", "W4"],
            words: "Sets to begin with",
            sentence: "A ladder begins with so many sets on each side, and begins there again after a step.",
            unit: Unit::Sets,
            least: 1.0,
            most: 40.0,
            ..field!(ladder_start_sets)
        },
        Self {
            rules: &["V2"],
            words: "Sets added in seven days, at most",
            sentence: "More sets than this added within seven days is flagged.",
            unit: Unit::Sets,
            most: 20.0,
            ..field!(ladder_added_sets_max)
        },
        Self {
            rules: &["V3"],
            words: "First target",
            sentence: "A ladder’s sets on each side at which a step is earned, where no block says \
                otherwise.",
            unit: Unit::Sets,
            least: 1.0,
            most: 100.0,
            not_under: Some("ladder_start_sets"),
            ..field!(ladder_targets[0])
        },
        Self {
            rules: &["V3"],
            words: "Last target",
            sentence: "A ladder goes on to so many sets on each side where the next club is too far.",
            unit: Unit::Sets,
            least: 1.0,
            most: 100.0,
            not_under: Some("ladder_targets[0]"),
            ..field!(ladder_targets[1])
        },
        Self {
            rules: &["V5"],
            words: "No sets added from effort",
            sentence: "After a session of this much effort or more, the next one adds no sets.",
            unit: Unit::Effort,
            whole: false,
            most: 10.0,
            ..field!(no_add_effort)
        },
        Self {
            rules: &["V5"],
            words: "No sets added from pain",
            sentence: "After a session with this much pain or more, the next one adds no sets.",
            unit: Unit::Pain,
            most: 10.0,
            ..field!(no_add_pain)
        },
        Self {
            rules: &["V6"],
            words: "A week that holds, every",
            sentence: "Every so many weeks a ladder holds its sets; 0 means that none has to.",
            unit: Unit::Weeks,
            most: 52.0,
            ..field!(hold_every_weeks)
        },
        Self {
            rules: &["V6"],
            words: "Light week",
            sentence: "What a light week keeps of the sets.",
            unit: Unit::ShareOfSets,
            whole: false,
            least: 0.1,
            most: 1.0,
            ..field!(light_week_share)
        },
        Self {
            rules: &["B2"],
            words: "A side is favoured over",
            sentence: "The difference between the sides, as a share of their mean, over which one of them \
                is favoured.",
            unit: Unit::Percent,
            whole: false,
            most: 200.0,
            source: "Index: Robinson et al., J Manipulative Physiol Ther 1987;10:172. 10 % is an arbitrary, \
                widely used cut-off: Herzog et al., Med Sci Sports Exerc 1989;21(1):110-114.",
            ..field!(symmetry_percent)
        },
        Self {
            rules: &["B2"],
            words: "Days the sides are compared over",
            sentence: "The sides are compared over so many days.",
            unit: Unit::Days,
            least: 1.0,
            most: 366.0,
            source: OURS,
            ..field!(symmetry_days)
        },
        Self {
            rules: &["B2"],
            words: "Fewest sessions in those days",
            sentence: "With fewer sessions than this in those days there is no habit to see.",
            least: 1.0,
            most: 100.0,
            source: OURS,
            ..field!(symmetry_sessions)
        },
        Self {
            rules: &["W1", "M5"],
            words: "Largest step",
            sentence: "A step to a club that asks for more than this much more is flagged, and a gap in the \
                rack is one wider than this.",
            unit: Unit::Percent,
            whole: false,
            most: 200.0,
            not_under: Some("step_percent_min"),
            source: "Common practice and the coach’s own number. Published guidance is 2 to 10 %, which \
                fixed clubs cannot reach: Ratamess et al., ACSM position stand, Med Sci Sports Exerc \
                2009;41(3):687-708.",
            ..field!(step_percent)
        },
        Self {
            rules: &["L1"],
            words: "Rest between sets, where minutes were not logged",
            sentence: "A session’s minutes are reckoned with this rest after each set where nobody logged \
                them.",
            unit: Unit::Seconds,
            whole: false,
            most: 900.0,
            ..field!(assumed_rest_seconds)
        },
        Self {
            rules: &["L1"],
            words: "A rep of a straight set, where minutes were not logged",
            sentence: "A session’s minutes are reckoned with so long a rep where nobody logged them.",
            unit: Unit::Seconds,
            whole: false,
            least: 0.5,
            most: 60.0,
            ..field!(assumed_rep_seconds)
        },
        Self {
            rules: &["L2"],
            words: "A spike is over",
            sentence: "A week whose load is over so many times the mean of the weeks before is flagged.",
            unit: Unit::Times,
            whole: false,
            least: 1.0,
            most: 10.0,
            source: "Common practice. Such ratios are disputed as predictors of injury: Impellizzeri et \
                al., Int J Sports Physiol Perform 2020 (from memory).",
            ..field!(load_spike_ratio)
        },
        Self {
            rules: &["L2"],
            words: "Weeks the mean looks back",
            sentence: "How long a memory the weighted mean of the weeks before has.",
            unit: Unit::Weeks,
            least: 1.0,
            most: 52.0,
            source: MEAN,
            ..field!(load_mean_weeks)
        },
        Self {
            rules: &["L2"],
            words: "Fewest weeks before a spike",
            sentence: "With fewer weeks than this before it, no week is judged.",
            unit: Unit::Weeks,
            least: 1.0,
            most: 52.0,
            source: OURS,
            ..field!(load_weeks_before)
        },
        Self {
            rules: &["L3", "L5"],
            words: "Great effort from",
            sentence: "This much effort or more in two sessions running, at work that did not change, is \
                flagged.",
            unit: Unit::Effort,
            whole: false,
            most: 10.0,
            ..field!(effort_climbing)
        },
        Self {
            rules: &["L4"],
            words: "Pain that stops the work",
            sentence: "This much pain once, or more, stops the work until a coach has decided.",
            unit: Unit::Pain,
            least: 1.0,
            most: 10.0,
            source: "Bands of pain scales disagree; 4 to 6 is moderate in that of the Canadian \
                Physiotherapy Association’s pain science division.",
            ..field!(pain_stop)
        },
        Self {
            rules: &["L4"],
            words: "Sessions running with milder pain",
            sentence: "Milder pain at one place in so many sessions running is for the coach to look at.",
            least: 1.0,
            most: 20.0,
            ..field!(pain_in_a_row)
        },
        Self {
            rules: &["L4"],
            words: "Sessions without pain that end it",
            sentence: "After so many sessions of the movement running without pain there, the flag ends; a stop after so many \
                       of which it was said that nothing hurt.",
            least: 1.0,
            most: 20.0,
            source: OURS,
            ..field!(pain_free_sessions)
        },
        Self {
            rules: &["A1"],
            words: "Sessions a week",
            sentence: "Fewer sessions than this in each of the last two whole weeks, while a block runs, is \
                flagged.",
            unit: Unit::SessionsAWeek,
            least: 1.0,
            most: 14.0,
            source: "WHO guidelines on physical activity and sedentary behaviour, 2020: muscle \
                strengthening on two or more days a week (from memory).",
            ..field!(sessions_per_week)
        },
        Self {
            rules: &["A1"],
            words: "A gap begins after",
            sentence: "After so many days without a session the flag is raised, and the way back begins with \
                fewer sets.",
            unit: Unit::Days,
            least: 2.0,
            most: 366.0,
            ..field!(gap_days)
        },
        Self {
            rules: &["A1"],
            words: "Sets on return",
            sentence: "What the first week after a gap keeps of the sets.",
            unit: Unit::ShareOfSets,
            whole: false,
            least: 0.1,
            most: 1.0,
            ..field!(return_share)
        },
        Self {
            rules: &["A1"],
            words: "One club lighter after",
            sentence: "After so many days without a session the way back begins one club lighter.",
            unit: Unit::Days,
            least: 2.0,
            most: 366.0,
            not_under: Some("gap_days"),
            ..field!(gap_lighter_days)
        },
    ];

    /// The threshold of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        Self::ALL.iter().find(|threshold| threshold.name == name)
    }

    /// The letter of the family that it is shown in.
    #[must_use]
    pub fn family(&self) -> char {
        self.rules[0].chars().next().unwrap_or_default()
    }

    /// Its value in a policy.
    #[must_use]
    pub fn of(&self, policy: &Policy) -> f64 {
        (self.get)(policy)
    }

    /// Its value in the policy as shipped.
    #[must_use]
    pub fn shipped(&self) -> f64 {
        self.of(&Policy::default())
    }

    /// Sets it in a policy. Whether the policy's thresholds are still in order is for
    /// [`Policy::refused`] to say, since they may have to change together.
    ///
    /// # Errors
    /// [`Refused`] for a value that is not whole where it has to be, or not in the range.
    pub fn set(&'static self, policy: &mut Policy, value: f64) -> Result<(), Refused> {
        self.in_range(value)?;
        (self.set)(policy, value);
        Ok(())
    }

    /// Checks its value in a policy, also against the threshold that it must not be under.
    ///
    /// # Errors
    /// [`Refused`].
    pub fn check(&'static self, policy: &Policy) -> Result<(), Refused> {
        let value = self.of(policy);
        if let Some(other) = self.not_under.and_then(Self::named) {
            let floor = other.of(policy);
            // Where the other is wrong itself, that is what has to be said.
            if (value < floor || value.is_nan()) && other.in_range(floor).is_ok() {
                return Err(Refused {
                    threshold: self,
                    fault: Fault::Under(other, floor),
                });
            }
        }
        self.in_range(value)
    }

    fn in_range(&'static self, value: f64) -> Result<(), Refused> {
        // What is no number is in no range.
        let fault = if !(self.least..=self.most).contains(&value) {
            Fault::OutOfRange
        } else if self.whole && value.fract() != 0.0 {
            Fault::NotWhole
        } else {
            return Ok(());
        };
        Err(Refused {
            threshold: self,
            fault,
        })
    }

    /// Its range in words: "a whole number from 1 to 20 sessions".
    #[must_use]
    pub fn range_words(&self) -> String {
        self.range_from(self.least)
    }

    fn range_from(&self, least: f64) -> String {
        let kind = if self.whole { "a whole number " } else { "" };
        let most = self.most;
        match self.unit {
            // The scale says it.
            Unit::Effort | Unit::Pain => format!("{kind}from {least} to {most}"),
            unit => format!("{kind}from {least} to {most} {}", unit.word()),
        }
    }
}
