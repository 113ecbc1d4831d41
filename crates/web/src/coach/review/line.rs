//! One athlete's week in words.

use leverbook_domain::id::{AthleteId, DecisionId};
use leverbook_domain::next_step::{NextStep, Reason as Told, Step};
use leverbook_domain::progress::{Progress, Standing};
use leverbook_domain::review::{
    Amount, Compared, Need, Week, against_week_before, changes_the_work, is_plainly_steady,
};
use leverbook_domain::roster::Status;
use leverbook_domain::rules::{Names, Severity, words};
use leverbook_domain::text::capitalised;
use leverbook_store::flags::{KeptFlag, Life};
use leverbook_store::names::GymNames;
use leverbook_store::review::{Act, AthleteWeek, Decision, Verdict};
use sha2::{Digest, Sha256};
use time::{Date, PrimitiveDateTime};

use super::{need_id, need_of};
use crate::App;
use crate::chart::day_label;
use crate::evidence::figures;
use crate::form::Form;
use crate::tokens::hex;
use crate::visit::Visit;

/// One athlete's week, ready to be read.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) athlete: AthleteId,
    pub(super) name: String,
    pub(super) need: Need,
    /// Nothing to look at: a line, the rest folded.
    pub(super) is_quiet: bool,
    pub(super) paused: bool,
    pub(super) sessions: String,
    pub(super) progress: Vec<String>,
    /// Flags that want a look.
    pub(super) flags: Vec<FlagLine>,
    /// Notes: shown, not pushed.
    pub(super) notes: Vec<FlagLine>,
    /// What the flags that are still to be looked at rest on: their rules, then each figure.
    pub(super) rests_on: Vec<(String, Figures)>,
    pub(super) proposals: Vec<ProposalLine>,
    pub(super) decision: Option<DecisionLine>,
    /// What was done before, where that is more than the decision that counts.
    pub(super) history: Vec<String>,
    pub(super) before: BeforeLine,
    pub(super) decision_id: DecisionId,
    /// A mark of the proposals shown, so that nobody accepts what they did not see.
    pub(super) proposed: String,
    /// A mark of all that is shown of this week, to tell whether it has changed.
    pub(super) stamp: String,
    /// Whether it may be accepted together with others.
    pub(super) plainly_steady: bool,
    pub(super) form: Form,
}

/// A flag in plain words.
#[derive(Debug)]
pub(super) struct FlagLine {
    pub(super) id: String,
    pub(super) word: &'static str,
    pub(super) sentence: String,
    pub(super) rule: &'static str,
    pub(super) since: String,
    pub(super) over: bool,
    pub(super) handled: Option<&'static str>,
}

/// What the rules propose, in plain words.
#[derive(Debug)]
pub(super) struct ProposalLine {
    pub(super) sentence: String,
    pub(super) reasons: Vec<(&'static str, String)>,
    pub(super) against: Vec<(&'static str, String)>,
    pub(super) would_change: Vec<String>,
    /// Where a new block is wanted: the assign page is one step away.
    pub(super) new_block: bool,
}

/// What was decided, by whom.
#[derive(Debug)]
pub(super) struct DecisionLine {
    pub(super) id: DecisionId,
    pub(super) sentence: String,
    pub(super) reason: String,
    pub(super) by: String,
    pub(super) at: String,
}

/// The week before, and what came of it.
#[derive(Debug)]
pub(super) struct BeforeLine {
    /// In a line.
    pub(super) gist: String,
    /// The rest, a sentence each.
    pub(super) told: Vec<String>,
}

impl Line {
    pub(super) fn new(
        week: AthleteWeek,
        asked: Week,
        names: &GymNames,
        visit: &Visit,
        app: &App,
        typed: Option<Form>,
    ) -> Self {
        let need = need_of(&week, visit.today);
        let before = BeforeLine::new(&week, asked, names);
        let stamp = stamp_of(&week);
        let plainly_steady = is_accepted_unread(&week, visit.today);
        let (flags, notes): (Vec<FlagLine>, Vec<FlagLine>) = week
            .flags
            .iter()
            .map(|flag| FlagLine::new(flag, names, visit.today))
            .partition(|flag| flag.word != Severity::Note.word());
        let rests_on = rests_on(&week.flags, names, visit.today);
        let told = usize::from(week.decision.is_some());
        let history = week.acts[..week.acts.len().saturating_sub(told)]
            .iter()
            .map(|act| act_words(act, names))
            .collect();
        Self {
            athlete: week.athlete,
            name: week.name.to_string(),
            need,
            is_quiet: need >= Need::Steady,
            paused: week.status != Status::Active,
            sessions: sessions_words(week.planned, week.skipped, week.done, week.done_before),
            progress: week
                .progress
                .iter()
                .map(|work| progress_words(work, names))
                .collect(),
            flags,
            notes,
            rests_on,
            proposals: week
                .proposals
                .iter()
                .map(|step| ProposalLine::new(step, names))
                .collect(),
            decision: week
                .decision
                .map(|decision| DecisionLine::new(decision, names)),
            history,
            before,
            decision_id: app.new_id(),
            proposed: mark_of(&week.proposals),
            stamp,
            plainly_steady,
            form: typed.unwrap_or_default(),
        }
    }

    pub(super) fn need_id(&self) -> &'static str {
        need_id(self.need)
    }

    /// Whether a decision of the coach is still owed.
    pub(super) fn waits(&self) -> bool {
        self.need < Need::Steady && self.decision.is_none()
    }
}

/// Name and value of each figure.
type Figures = Vec<(&'static str, String)>;

/// What the flags that are still to be looked at rest on; several that rest on the same say it once.
fn rests_on(flags: &[KeptFlag], names: &GymNames, today: Date) -> Vec<(String, Figures)> {
    let mut told: Vec<(String, Figures)> = Vec::new();
    for kept in flags {
        if kept.flag.severity == Severity::Note || !kept.life(today).wants_the_coach() {
            continue;
        }
        let figures = figures(&kept.flag.evidence, names);
        let rule = kept.flag.rule.id();
        match told.iter_mut().find(|(_, same)| *same == figures) {
            Some((rules, _)) => *rules = format!("{rules}, {rule}"),
            None => told.push((rule.to_owned(), figures)),
        }
    }
    told
}

/// Whether this week may be accepted together with others.
pub(super) fn is_accepted_unread(week: &AthleteWeek, today: Date) -> bool {
    let flags_stand = week.flags.iter().any(|flag| flag.until.is_none());
    week.status == Status::Active
        && is_plainly_steady(need_of(week, today), flags_stand, &week.proposals)
}

/// The same for the same proposals.
pub(super) fn mark_of(proposals: &[NextStep]) -> String {
    let text = serde_json::to_string(proposals).unwrap_or_default();
    hex(&Sha256::digest(text.as_bytes())[..8])
}

/// The same for a week that looks the same.
fn stamp_of(week: &AthleteWeek) -> String {
    let mut hash = Sha256::new();
    hash.update(mark_of(&week.proposals));
    hash.update(format!(
        "{} {} {} {} {} {:?} {:?}",
        week.planned, week.skipped, week.done, week.done_before, week.name, week.status, week.acts
    ));
    for flag in &week.flags {
        hash.update(format!(
            "{} {:?} {:?} {}",
            flag.id,
            flag.flag.severity,
            flag.until,
            flag.decisions.len()
        ));
    }
    hex(&hash.finalize()[..8])
}

/// "Wed 25 Nov 2026, 18:04".
pub(super) fn when(local: PrimitiveDateTime) -> String {
    let (day, time) = (day_label(local.date()), local.time());
    format!("{day}, {:02}:{:02}", time.hour(), time.minute())
}

/// What a coach decided.
pub(super) fn verdict_words(verdict: &Verdict, names: &GymNames) -> String {
    match verdict {
        Verdict::Accept => "Accepted as proposed".to_owned(),
        Verdict::Hold => "Held: nothing changes this week".to_owned(),
        Verdict::Change(instead) => {
            let club = instead.loading.map(|loading| names.club(loading));
            format!("Changed: {}", step_words(instead.step, club))
        }
    }
}

/// What a coach did, who and when.
pub(super) fn act_words(act: &Act, names: &GymNames) -> String {
    let what = match &act.verdict {
        Some(verdict) => verdict_words(verdict, names),
        None => "Taken back".to_owned(),
    };
    let why = if act.reason.is_empty() {
        String::new()
    } else {
        format!(": {}", act.reason)
    };
    format!("{what}, by {}, {}{why}", act.by, when(act.local))
}

impl BeforeLine {
    fn new(week: &AthleteWeek, asked: Week, names: &GymNames) -> Self {
        let decided = match &week.before {
            None => "nothing decided",
            Some((decision, _)) => match decision.verdict {
                Verdict::Accept => "accepted",
                Verdict::Hold => "held",
                Verdict::Change(_) => "changed",
            },
        };
        let since = match (week.planned, week.done) {
            (0, 1) => "1 session since".to_owned(),
            (0, done) => format!("{done} sessions since"),
            (planned, done) => format!("{done} of {planned} planned sessions since"),
        };
        let mut told = Vec::new();
        if let Some((decision, proposals)) = &week.before {
            for proposal in proposals {
                told.push(format!("Proposed: {}", proposal_sentence(proposal, names)));
            }
            told.push(format!(
                "{}, by {}, {}{}",
                verdict_words(&decision.verdict, names),
                decision.by,
                when(decision.local),
                if decision.reason.is_empty() {
                    String::new()
                } else {
                    format!(": {}", decision.reason)
                }
            ));
        }
        let compared = against_week_before(&week.work, asked);
        told.extend(compared.iter().map(|line| compared_words(line, names)));
        let flags = |which: &dyn Fn(&KeptFlag) -> bool| {
            let rules: Vec<String> = week
                .flags
                .iter()
                .filter(|flag| which(flag))
                .map(|flag| format!("{} ({})", flag.flag.severity.word(), flag.flag.rule.id()))
                .collect();
            (!rules.is_empty()).then(|| rules.join(", "))
        };
        let days = asked.monday()..=asked.sunday();
        if let Some(new) = flags(&|flag| days.contains(&flag.flag.since)) {
            told.push(format!("New flags this week: {new}"));
        }
        if let Some(over) = flags(&|flag| flag.until.is_some_and(|until| days.contains(&until))) {
            told.push(format!("Over this week: {over}"));
        }
        Self {
            gist: format!("Last week: {decided}; {since}"),
            told,
        }
    }
}

/// "Inside circle, two hands, Oak 6: 24.3 a minute, 23.8 last week (+0.5)".
fn compared_words(line: &Compared, names: &GymNames) -> String {
    let what = format!(
        "{}, {}, {}",
        capitalised(names.movement(line.key.movement)),
        words::hands_words(line.key.hands),
        names.club(line.key.loading)
    );
    let amount = |amount: Amount| match amount {
        Amount::Density { rpm } => format!("{rpm:.1} a minute"),
        Amount::Sets { sets: 1 } => "1 set each side".to_owned(),
        Amount::Sets { sets } => format!("{sets} sets each side"),
    };
    let against = match (line.now, line.before) {
        (Some(now), Some(before)) => {
            let by = match (now, before) {
                (Amount::Density { rpm: now }, Amount::Density { rpm: before }) => {
                    format!("{:+.1}", now - before)
                }
                (Amount::Sets { sets: now }, Amount::Sets { sets: before }) => {
                    format!("{:+}", i32::from(now) - i32::from(before))
                }
                _ => String::new(),
            };
            format!("{}, {} last week ({by})", amount(now), amount(before))
        }
        (Some(now), None) => format!("{}, not done last week", amount(now)),
        (None, Some(before)) => format!("not done this week, {} last week", amount(before)),
        (None, None) => String::new(),
    };
    format!("{what}: {against}")
}

impl DecisionLine {
    fn new(decision: Decision, names: &GymNames) -> Self {
        Self {
            id: decision.id,
            sentence: verdict_words(&decision.verdict, names),
            reason: decision.reason,
            by: decision.by,
            at: when(decision.local),
        }
    }
}

impl FlagLine {
    pub(super) fn new(kept: &KeptFlag, names: &GymNames, today: Date) -> Self {
        Self {
            id: kept.id.to_string(),
            word: kept.flag.severity.word(),
            sentence: words::sentence(&kept.flag, names),
            rule: kept.flag.rule.id(),
            since: day_label(kept.flag.since),
            over: kept.until.is_some(),
            handled: match kept.life(today) {
                Life::Fresh | Life::Worse | Life::Reopened => None,
                Life::Seen => Some("seen"),
                Life::Quiet { .. } => Some("quiet for now"),
                Life::Closed => Some("closed"),
            },
        }
    }
}

impl ProposalLine {
    fn new(proposal: &NextStep, names: &GymNames) -> Self {
        Self {
            sentence: proposal_sentence(proposal, names),
            reasons: told(&proposal.reasons),
            against: told(&proposal.against),
            would_change: proposal.would_change.clone(),
            new_block: changes_the_work(proposal.step) && proposal.step != Step::WaitForCoach,
        }
    }
}

/// "Inside circle, two hands: step up to Oak 7.1, from Mon 30 Nov 2026 on".
fn proposal_sentence(proposal: &NextStep, names: &GymNames) -> String {
    let club = proposal.loading.map(|loading| names.club(loading));
    format!(
        "{}, {}: {}{}",
        capitalised(names.movement(proposal.movement)),
        words::hands_words(proposal.hands),
        step_words(proposal.step, club),
        from_words(proposal)
    )
}

/// Each reason with its rule.
pub(in crate::coach) fn told(reasons: &[Told]) -> Vec<(&'static str, String)> {
    let told = |reason: &Told| (reason.rule.id(), reason.text.clone());
    reasons.iter().map(told).collect()
}

fn sessions_words(planned: u16, skipped: u16, done: u16, done_before: u16) -> String {
    let of = match (planned, done) {
        (0, 1) => "1 session, none planned".to_owned(),
        (0, _) => format!("{done} sessions, none planned"),
        _ => format!("{done} of {planned} planned sessions"),
    };
    let skipped = if skipped > 0 {
        format!(", {skipped} skipped")
    } else {
        String::new()
    };
    format!("{of}{skipped}; {done_before} the week before")
}

fn progress_words(work: &Progress, names: &GymNames) -> String {
    let what = format!(
        "{}, {}, {}",
        names.movement(work.key.movement),
        words::hands_words(work.key.hands),
        names.club(work.key.loading)
    );
    match work.standing {
        Standing::Density {
            rpm,
            goal_rpm,
            slope,
        } => {
            let goal = goal_rpm.map_or_else(
                || ", no goal yet".to_owned(),
                |goal| format!(" of {goal:.1} aimed for"),
            );
            let trend = match slope {
                Some(slope) => {
                    let within = match (slope.low, slope.high) {
                        (Some(low), Some(high)) => {
                            format!(" (90 % interval {low:+.1} to {high:+.1})")
                        }
                        _ => String::new(),
                    };
                    format!("; {:+.1} a week{within}", slope.rpm_per_week)
                }
                None => String::new(),
            };
            format!("{what}: {rpm:.1} a minute{goal}{trend}")
        }
        Standing::Sets { sets, reps, target } => {
            let target =
                target.map_or_else(String::new, |target| format!(" on the way to {target}"));
            format!("{what}: {sets} sets of {reps} each side{target}")
        }
    }
}

/// A proposal or a decision in words.
pub(crate) fn step_words(step: Step, club: Option<&str>) -> String {
    let with = club.map_or_else(String::new, |club| format!(" with {club}"));
    match step {
        Step::Stay => format!("go on as planned{with}"),
        Step::AddSets { sets } => format!("add sets, up to {sets} each side{with}"),
        Step::Hold => format!("hold{with}, the same work and nothing added"),
        Step::LightWeek { sets } => format!("a light week of {sets} sets each side{with}"),
        Step::StepUp => club.map_or_else(
            || "step up a club".to_owned(),
            |club| format!("step up to {club}"),
        ),
        Step::StepBack => club.map_or_else(
            || "step back a club".to_owned(),
            |club| format!("step back to {club}"),
        ),
        Step::FingertipStage => format!("begin the fingertip stage{with}"),
        Step::OpenOneHand => format!("open one-hand work{with}"),
        Step::Return { sets } => format!("come back with {sets} sets each side{with}"),
        Step::WaitForCoach => "wait until you have looked".to_owned(),
    }
}

/// From when on to do it, where that is not at once.
pub(in crate::coach) fn from_words(proposal: &NextStep) -> String {
    let day = proposal.not_before;
    day.map_or_else(String::new, |day| format!(", from {} on", day_label(day)))
}
