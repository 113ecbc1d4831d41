use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Context;
use clap::Args;
use leverbook_domain::density::{DensityStanding, densities};
use leverbook_domain::id::{ClubId, LoadingId, MovementId, SessionId};
use leverbook_domain::next_step::{NextStep, Step, propose};
use leverbook_domain::policy::{self, Policy};
use leverbook_domain::roster::Handle;
use leverbook_domain::rules::help::rule_text;
use leverbook_domain::rules::{self, Episode, Flag, Names};
use leverbook_domain::training::{AvailableClub, Hands, History, Session, SetDone};
use leverbook_store::exchange::clubs::{self, ClubRow};
use leverbook_store::exchange::sets::{self, LoggedSession};
use leverbook_store::exchange::{Limits, Problem};
use leverbook_web::Clock;
use serde_json::{Map, Value, json};
use time::Date;
use time::macros::format_description;
use uuid::Uuid;

use super::refused::Refused;

/// Run the rules over a log in files, without a database: flags and next steps as JSON lines
///
/// Each flag has its kind, athlete, rule, severity, movement, hands, club, the day since when it
/// stands, the figures behind it (evidence), where the rule comes from (source) and the version of the
/// policy it was judged by (policy: the file's version, or 0, as shipped). Each next step has its kind,
/// athlete, movement, hands, step, sets, club, the day before which it waits, reasons for and
/// against, what would change it, the policy, and for each
/// club and interval of two-hand work where its count stands (density): the last session, the goal and
/// when the trend would reach it, the best, the trend, and how many sessions are missing before a stall
/// can be told. With --replay each flag also has an event, raised or closed, and its day (on). Every
/// name is told in DEVELOPERS.md, "What assess prints".
#[derive(Debug, Args)]
pub(crate) struct Arguments {
    /// The log, one set a row
    #[arg(long, value_name = "SETS.CSV")]
    log: PathBuf,

    /// The rack, one club a row
    #[arg(long, value_name = "CLUBS.CSV")]
    clubs: PathBuf,

    /// Thresholds that differ from the usual ones, and the version to tell them by
    #[arg(long, value_name = "POLICY.TOML")]
    policy: Option<PathBuf>,

    /// The day to judge; what was logged later is left out [default: today in UTC]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    as_of: Option<Date>,

    /// Every flag raised and closed up to that day, in order of date, instead of what stands on it
    #[arg(long)]
    replay: bool,
}

fn day(text: &str) -> Result<Date, &'static str> {
    Date::parse(text, format_description!("[year]-[month]-[day]"))
        .map_err(|_| "write a day like 2026-11-25")
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<()> {
    let as_of = arguments
        .as_of
        .unwrap_or_else(|| Clock::machine().now().date());
    let policy = match &arguments.policy {
        Some(path) => read_policy(path)?,
        None => Policy::default(),
    };
    let gym = Gym::read(&arguments.log, &arguments.clubs)?;
    let later = gym.leave_out_after(as_of);
    if later > 0 {
        let sessions = if later == 1 { "session" } else { "sessions" };
        eprintln!("leverbook: {later} {sessions} after {as_of} left out");
    }
    let lines = if arguments.replay {
        gym.replay(&policy, as_of)
    } else {
        gym.as_it_stands(&policy, as_of)
    };
    print(&lines)
}

/// Prints JSON lines. A reader that has seen enough is no fault.
fn print(lines: &[Value]) -> anyhow::Result<()> {
    let mut out = BufWriter::new(io::stdout().lock());
    let written = lines
        .iter()
        .try_for_each(|line| writeln!(out, "{line}"))
        .and_then(|()| out.flush());
    match written {
        Err(why) if why.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.context("cannot write the result"),
    }
}

fn read_policy(path: &Path) -> anyhow::Result<Policy> {
    let name = path.display();
    let text = fs::read_to_string(path).with_context(|| format!("cannot read {name}"))?;
    policy::file::read(&text).map_err(|faults| {
        let told = faults.iter().map(|fault| format!("{name}: {fault}"));
        Refused(told.collect()).into()
    })
}

/// What is wrong with the two files.
#[derive(Debug)]
pub struct WrongFiles {
    /// With the log.
    pub log: Vec<Problem>,
    /// With the rack.
    pub clubs: Vec<Problem>,
}

/// What the two files say, ready for the rules.
pub struct Gym {
    athletes: BTreeMap<String, History>,
    called: Called,
}

/// Names of what the rules know by id.
#[derive(Default)]
struct Called {
    movements: HashMap<MovementId, String>,
    clubs: HashMap<LoadingId, String>,
}

impl Names for Called {
    fn movement(&self, movement: MovementId) -> &str {
        self.movements.get(&movement).map_or("?", String::as_str)
    }

    fn club(&self, loading: LoadingId) -> &str {
        self.clubs.get(&loading).map_or("?", String::as_str)
    }
}

/// The id of a name: the same in every run.
fn id_of(kind: &str, name: &str) -> Uuid {
    Uuid::new_v5(
        &Uuid::NAMESPACE_OID,
        format!("leverbook {kind} {name}").as_bytes(),
    )
}

/// The rack as one athlete may use it: the gym's clubs and their own, not somebody else's.
fn clubs_of(athlete: &str, rack: &[(Option<Handle>, AvailableClub)]) -> Vec<AvailableClub> {
    rack.iter()
        .map(|(owner, club)| AvailableClub {
            usable: owner.as_ref().is_none_or(|owner| owner.as_str() == athlete),
            ..club.clone()
        })
        .collect()
}

impl Gym {
    fn read(log: &Path, rack: &Path) -> anyhow::Result<Self> {
        let bytes =
            |path: &Path| fs::read(path).with_context(|| format!("cannot read {}", path.display()));
        let told = |path: &Path, problems: &[Problem]| -> Vec<String> {
            let name = path.display();
            problems
                .iter()
                .map(|problem| format!("{name}: {problem}"))
                .collect()
        };
        Self::from_files(&bytes(log)?, &bytes(rack)?).map_err(|wrong| {
            let mut problems = told(rack, &wrong.clubs);
            problems.extend(told(log, &wrong.log));
            Refused(problems).into()
        })
    }

    /// Reads the two files' contents.
    ///
    /// # Errors
    /// Everything wrong with either file, by line and column.
    pub fn from_files(log: &[u8], clubs: &[u8]) -> Result<Self, WrongFiles> {
        let limits = Limits {
            rows: 50_000_000,
            ..Limits::default()
        };
        match (sets::read(log, limits), clubs::read(clubs, limits)) {
            (Ok(sessions), Ok(clubs)) => {
                let unknown = unknown_clubs(&sessions, &clubs);
                if unknown.is_empty() {
                    Ok(Self::new(sessions, clubs))
                } else {
                    Err(WrongFiles {
                        log: unknown,
                        clubs: Vec::new(),
                    })
                }
            }
            (log, clubs) => Err(WrongFiles {
                log: log.err().unwrap_or_default(),
                clubs: clubs.err().unwrap_or_default(),
            }),
        }
    }

    fn new(sessions: Vec<LoggedSession>, clubs: Vec<ClubRow>) -> Self {
        let mut called = Called::default();
        let mut loadings: HashMap<String, LoadingId> = HashMap::new();
        let rack: Vec<(Option<Handle>, AvailableClub)> = clubs
            .into_iter()
            .map(|row| {
                let loading = LoadingId(id_of("club", &row.club));
                loadings.insert(row.club.clone(), loading);
                let mechanics = *row.measure.mechanics();
                called.clubs.insert(loading, row.club);
                let club = AvailableClub {
                    loading,
                    club: ClubId(loading.0),
                    mechanics,
                    usable: true,
                };
                (row.athlete, club)
            })
            .collect();

        let mut movements: HashMap<Arc<str>, MovementId> = HashMap::new();
        let mut by_athlete: BTreeMap<String, Vec<LoggedSession>> = BTreeMap::new();
        for session in sessions {
            for set in &session.sets {
                movements
                    .entry(Arc::clone(&set.movement))
                    .or_insert_with(|| MovementId(id_of("movement", &set.movement)));
            }
            let athlete = session.athlete.to_string();
            by_athlete.entry(athlete).or_default().push(session);
        }
        let athletes = by_athlete
            .into_iter()
            .map(|(athlete, mut logged)| {
                // A day's sessions in the order of their words: 2 before 10.
                logged.sort_by_cached_key(|session| {
                    let number: Option<u64> = session.session.parse().ok();
                    (
                        session.on,
                        number.is_none(),
                        number,
                        session.session.to_string(),
                    )
                });
                let sessions = logged
                    .into_iter()
                    .enumerate()
                    .map(|(number, session)| done(number, session, &movements, &loadings))
                    .collect();
                let own = clubs_of(&athlete, &rack);
                (athlete, History::new(sessions, own, None))
            })
            .collect();
        let named = |(name, id): (Arc<str>, MovementId)| (id, name.to_string());
        called.movements = movements.into_iter().map(named).collect();
        Self { athletes, called }
    }

    /// How many sessions lie after a day; the rules do not look at them.
    fn leave_out_after(&self, day: Date) -> usize {
        self.athletes
            .values()
            .map(|history| history.sessions().len() - history.sessions_until(day).len())
            .sum()
    }

    /// The flags that stand on a day, and what the rules propose.
    pub fn as_it_stands(&self, policy: &Policy, as_of: Date) -> Vec<Value> {
        let mut lines = Vec::new();
        for (athlete, history) in &self.athletes {
            let found = rules::episodes(history, policy, as_of);
            let standing = rules::standing(&found, as_of);
            lines.extend(standing.iter().map(|flag| self.flag(athlete, flag, policy)));
            // Files hold no decisions of a coach: nothing was closed.
            let open = |_: &Flag| false;
            let steps = propose(history, policy, &found, &open, as_of, &self.called);
            let counts = densities(history, policy, standing, as_of);
            lines.extend(steps.iter().map(|step| {
                let own = counts.iter().filter(|it| it.movement == step.movement);
                let counts = own.map(|count| self.density(count)).collect();
                self.next_step(athlete, step, counts, policy)
            }));
        }
        lines
    }

    /// Every flag raised and closed up to a day, in order of date.
    pub fn replay(&self, policy: &Policy, as_of: Date) -> Vec<Value> {
        let mut lines = Vec::new();
        for (athlete, history) in &self.athletes {
            let found = rules::episodes(history, policy, as_of);
            lines.extend(self.events(athlete, history, policy, &found));
        }
        // Stable: athletes by name, then the rules' own order. What ends makes room for what begins.
        lines.sort_by_key(|line| (line["on"].to_string(), line["event"] == "raised"));
        lines
    }

    /// A flag as it stands.
    fn flag(&self, athlete: &str, flag: &Flag, policy: &Policy) -> Value {
        let subject = &flag.subject;
        let mut evidence = match json!(flag.evidence) {
            Value::Object(evidence) => evidence,
            other => Map::from_iter([("figures".to_owned(), other)]),
        };
        if let Some(seconds) = subject.seconds {
            evidence.insert("seconds".to_owned(), json!(seconds));
        }
        if let Some(place) = &subject.place {
            evidence.insert("place".to_owned(), json!(place));
        }
        let mut evidence = Value::Object(evidence);
        self.name_clubs(&mut evidence);
        json!({
            "kind": "flag",
            "athlete": athlete,
            "rule": flag.rule.id(),
            "severity": flag.severity,
            "movement": subject.movement.map(|movement| self.called.movement(movement)),
            "hands": subject.hands.map(Hands::word),
            "club": subject.loading.map(|loading| self.called.club(loading)),
            "since": flag.since,
            "evidence": evidence,
            "source": rule_text(flag.rule, policy).source,
            "policy": policy.version,
        })
    }

    /// Where the count stands at one club and interval.
    fn density(&self, standing: &DensityStanding) -> Value {
        let mut density = json!(standing.figures);
        density["club"] = json!(self.called.club(standing.loading));
        density["seconds"] = json!(standing.seconds);
        density["last_on"] = json!(standing.on);
        density["left"] = json!(standing.is_left);
        density["stalled"] = json!(standing.stalled);
        density
    }

    /// What the rules propose.
    fn next_step(
        &self,
        athlete: &str,
        step: &NextStep,
        density: Vec<Value>,
        policy: &Policy,
    ) -> Value {
        let (word, sets) = match step.step {
            Step::Stay => ("stay", None),
            Step::AddSets { sets } => ("add_sets", Some(sets)),
            Step::Hold => ("hold", None),
            Step::LightWeek { sets } => ("light_week", Some(sets)),
            Step::StepUp => ("step_up", None),
            Step::StepBack => ("step_back", None),
            Step::FingertipStage => ("fingertip_stage", None),
            Step::OpenOneHand => ("open_one_hand", None),
            Step::Return { sets } => ("return", Some(sets)),
            Step::WaitForCoach => ("wait_for_coach", None),
        };
        json!({
            "kind": "next_step",
            "athlete": athlete,
            "movement": self.called.movement(step.movement),
            "hands": step.hands,
            "step": word,
            "sets": sets,
            "club": step.loading.map(|loading| self.called.club(loading)),
            "not_before": step.not_before,
            "reasons": step.reasons,
            "against": step.against,
            "would_change": step.would_change,
            "density": density,
            "policy": policy.version,
        })
    }

    /// Puts names in the place of ids.
    fn name_clubs(&self, value: &mut Value) {
        match value {
            Value::String(text) => {
                let loading = text.parse().ok();
                if let Some(name) = loading.and_then(|id| self.called.clubs.get(&id)) {
                    text.clone_from(name);
                }
            }
            Value::Array(values) => values.iter_mut().for_each(|value| self.name_clubs(value)),
            Value::Object(fields) => {
                fields.values_mut().for_each(|value| self.name_clubs(value));
            }
            Value::Null | Value::Bool(_) | Value::Number(_) => {}
        }
    }

    /// What was raised and closed for one athlete, each with the evidence of its day.
    fn events(
        &self,
        athlete: &str,
        history: &History,
        policy: &Policy,
        found: &[Episode],
    ) -> Vec<Value> {
        let event = |flag: &Flag, event: &str, on: Date| {
            let mut line = self.flag(athlete, flag, policy);
            line["event"] = json!(event);
            line["on"] = json!(on);
            line
        };
        let mut events = Vec::new();
        // An episode carries the evidence of its end; what was known when it was raised is what the
        // rules say of that day.
        let days: BTreeSet<Date> = found.iter().map(|episode| episode.flag.since).collect();
        for day in days {
            let that_day = rules::episodes(history, policy, day);
            for Episode { flag, .. } in found.iter().filter(|episode| episode.flag.since == day) {
                let as_raised = that_day
                    .iter()
                    .map(|episode| &episode.flag)
                    .find(|it| (it.rule, &it.subject, it.since) == (flag.rule, &flag.subject, day));
                events.push(event(as_raised.unwrap_or(flag), "raised", day));
            }
        }
        for episode in found {
            events.extend(
                episode
                    .until
                    .map(|until| event(&episode.flag, "closed", until)),
            );
        }
        events
    }
}

/// Sets with a club that is not in the rack.
fn unknown_clubs(sessions: &[LoggedSession], clubs: &[ClubRow]) -> Vec<Problem> {
    let known: HashSet<&str> = clubs.iter().map(|row| row.club.as_str()).collect();
    let sets = sessions.iter().flat_map(|session| &session.sets);
    let mut unknown: Vec<Problem> = sets
        .filter(|set| !known.contains(set.club.as_ref()))
        .map(|set| Problem {
            line: set.line,
            column: "club".to_owned(),
            what: "is not in the clubs' file".to_owned(),
            excerpt: set.club.to_string(),
        })
        .collect();
    unknown.sort_by_key(|problem| problem.line);
    unknown
}

/// One athlete's so-manieth session, as the rules read it.
fn done(
    number: usize,
    session: LoggedSession,
    movements: &HashMap<Arc<str>, MovementId>,
    loadings: &HashMap<String, LoadingId>,
) -> Session {
    Session {
        id: SessionId(Uuid::from_u128(number as u128)),
        on: session.on,
        planned: None,
        minutes: session.minutes,
        effort: session.effort,
        pain: session.pain,
        sets: session
            .sets
            .into_iter()
            .map(|set| SetDone {
                movement: movements[&set.movement],
                hands: set.hands,
                loading: loadings[set.club.as_ref()],
                side: set.side,
                work: set.work,
            })
            .collect(),
    }
}
