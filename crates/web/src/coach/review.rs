//! The weekly review: everybody on the coach's roster for an ISO week, those who need the coach
//! first, and one decision each.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, ClubId, DecisionId, LoadingId};
use leverbook_domain::next_step::{NextStep, Reason as Told, Step};
use leverbook_domain::progress::{Progress, Standing};
use leverbook_domain::review::{Instead, Need, Week, changes_the_work, need};
use leverbook_domain::roster::Status;
use leverbook_domain::rules::{Names, Severity, words};
use leverbook_domain::text::{Reason, capitalised};
use leverbook_domain::training::Note;
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::names::GymNames;
use leverbook_store::review::{self, AthleteWeek, DecideError, Decision, NewDecision, Verdict};
use leverbook_store::{GymTx, athletes, rack};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use time::Date;

use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::tokens::hex;
use crate::visit::Visit;

/// Which week; the running one where nothing is said.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    week: Option<String>,
}

#[derive(Debug, Template)]
#[template(path = "coach/review.html")]
pub(crate) struct ReviewPage {
    frame: Frame,
    week: Week,
    days: String,
    is_running: bool,
    before: Week,
    after: Week,
    closed: Option<String>,
    counts: Vec<(usize, &'static str)>,
    groups: Vec<Group>,
    steps: Vec<Choice>,
    clubs: Vec<ClubChoice>,
    /// Whether decisions about this week are still, or already, taken.
    is_open: bool,
    /// What was wrong with the week that was asked for.
    wrong: Option<String>,
}

/// A club to decide for.
#[derive(Debug)]
struct ClubChoice {
    loading: LoadingId,
    name: String,
    /// Whose own it is; `None` for the gym's.
    owner: Option<AthleteId>,
}

impl ClubChoice {
    fn is_for(&self, athlete: &AthleteId) -> bool {
        self.owner.is_none_or(|owner| owner == *athlete)
    }
}

/// Athletes with the same need.
#[derive(Debug)]
struct Group {
    id: &'static str,
    title: &'static str,
    /// Nothing to look at: a line each, the rest folded.
    is_quiet: bool,
    lines: Vec<Line>,
}

/// One athlete's week, ready to be read.
#[derive(Debug)]
struct Line {
    athlete: AthleteId,
    name: String,
    paused: bool,
    sessions: String,
    progress: Vec<String>,
    /// Flags that want a look.
    flags: Vec<FlagLine>,
    /// Notes: shown, not pushed.
    notes: Vec<FlagLine>,
    proposals: Vec<ProposalLine>,
    decision: Option<DecisionLine>,
    decision_id: DecisionId,
    /// A mark of the proposals shown, so that nobody accepts what they did not see.
    proposed: String,
    form: Form,
}

/// A flag in plain words.
#[derive(Debug)]
struct FlagLine {
    id: String,
    word: &'static str,
    sentence: String,
    rule: &'static str,
    since: String,
    over: bool,
    handled: Option<&'static str>,
}

/// What the rules propose, in plain words.
#[derive(Debug)]
struct ProposalLine {
    sentence: String,
    reasons: Vec<(&'static str, String)>,
    against: Vec<(&'static str, String)>,
    would_change: Vec<String>,
    /// Where a new block is wanted: the assign page is one step away.
    new_block: bool,
}

/// What was decided, by whom.
#[derive(Debug)]
struct DecisionLine {
    sentence: String,
    reason: String,
    by: String,
    at: String,
}

/// The week.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let running = Week::of(visit.today);
    let (week, wrong) = match asked.week.as_deref() {
        None | Some("") => (running, None),
        Some(text) => match text.parse::<Week>() {
            Ok(week) => (week, None),
            Err(why) => (running, Some(why.to_string())),
        },
    };
    flags::bring_up_to_date(&app.store, visit.gym, visit.account, visit.today).await?;
    let mut tx = visit.enter(&app).await?;
    let mut page = page(&mut tx, &app, &visit, week, None).await?;
    page.wrong = wrong;
    if page.wrong.is_some() {
        return Ok(Page::unprocessable(page));
    }
    Ok(Page(page).into_response())
}

/// Decisions are about the running week and the four before it.
fn takes_decisions(week: Week, today: Date) -> bool {
    let running = Week::of(today);
    let first = (0..4).fold(running, |week, _| week.before());
    (first..=running).contains(&week)
}

/// The week of a form, if decisions about it are taken.
fn week_of(posted: &Posted, today: Date) -> Result<Week, PageError> {
    match posted.text("week").parse() {
        Ok(week) if takes_decisions(week, today) => Ok(week),
        _ => Err(PageError::Conflict(
            "Only this week and the four before it are decided. Open the week and decide there."
                .to_owned(),
        )),
    }
}

/// The same for the same proposals.
fn mark_of(proposals: &[NextStep]) -> String {
    let text = serde_json::to_string(proposals).unwrap_or_default();
    hex(&Sha256::digest(text.as_bytes())[..8])
}

/// Puts the page together; `again` is a form that came back.
async fn page(
    tx: &mut GymTx,
    app: &App,
    visit: &Visit,
    week: Week,
    again: Option<(AthleteId, Form)>,
) -> Result<ReviewPage, PageError> {
    let names = GymNames::load(tx).await?;
    let closed = review::closed_at(tx, visit.account, week).await?;
    let mut groups = Group::all();
    let mut again = again;
    for athlete_week in review::week(tx, visit.account, week).await? {
        let need = need_of(&athlete_week, visit.today);
        let typed = again.take_if(|(athlete, _)| *athlete == athlete_week.athlete);
        let line = Line::new(
            athlete_week,
            &names,
            visit,
            app,
            typed.map(|(_, form)| form),
        );
        groups[need as usize].lines.push(line);
    }
    let counts = groups
        .iter()
        .filter(|group| !group.lines.is_empty())
        .map(|group| (group.lines.len(), group.title))
        .collect();
    let groups = groups
        .into_iter()
        .filter(|group| !group.lines.is_empty())
        .collect();
    Ok(ReviewPage {
        frame: visit.frame(format!("Week {week}"), Nav::Review),
        week,
        days: format!(
            "{} to {}",
            day_label(week.monday()),
            day_label(week.sunday())
        ),
        is_running: week == Week::of(visit.today),
        before: week.before(),
        after: week.after(),
        closed: closed.map(|at| day_label(at.date())),
        counts,
        groups,
        steps: step_choices(),
        clubs: club_choices(tx).await?,
        is_open: takes_decisions(week, visit.today),
        wrong: None,
    })
}

fn need_of(week: &AthleteWeek, today: Date) -> Need {
    let weight = |flag: &KeptFlag| {
        if flag.holds_work(today) {
            // Seen or not: the athlete's work waits until a coach has decided.
            Some(Severity::Stop)
        } else if flag.life(today).wants_the_coach() {
            // A stop that is over no longer holds the work, but the coach should know of it.
            Some(flag.flag.severity.min(Severity::Look))
        } else {
            None
        }
    };
    let unseen = week.flags.iter().filter_map(weight);
    // Nobody comes back from a pause before it ends.
    let proposals = if week.status == Status::Active {
        &week.proposals[..]
    } else {
        &[]
    };
    need(unseen, proposals, week.decision.is_some())
}

impl Group {
    /// One for each [`Need`], in its order.
    fn all() -> [Self; 5] {
        let group = |id, title, is_quiet| Self {
            id,
            title,
            is_quiet,
            lines: Vec::new(),
        };
        [
            group("stopped", "Work waits for you", false),
            group("look", "To look at", false),
            group("step", "A step is due", false),
            group("steady", "Steady", true),
            group("decided", "Decided", true),
        ]
    }
}

impl Line {
    fn new(
        week: AthleteWeek,
        names: &GymNames,
        visit: &Visit,
        app: &App,
        typed: Option<Form>,
    ) -> Self {
        let (flags, notes) = week
            .flags
            .iter()
            .map(|flag| FlagLine::new(flag, names, visit.today))
            .partition(|flag: &FlagLine| flag.word != Severity::Note.word());
        let decision = week
            .decision
            .map(|decision| DecisionLine::new(decision, names));
        Self {
            athlete: week.athlete,
            name: week.name.to_string(),
            paused: week.status != Status::Active,
            sessions: sessions_words(week.planned, week.skipped, week.done, week.done_before),
            progress: week
                .progress
                .iter()
                .map(|work| progress_words(work, names))
                .collect(),
            flags,
            notes,
            proposals: week
                .proposals
                .iter()
                .map(|step| ProposalLine::new(step, names))
                .collect(),
            decision,
            decision_id: app.new_id(),
            proposed: mark_of(&week.proposals),
            form: typed.unwrap_or_default(),
        }
    }
}

impl FlagLine {
    fn new(kept: &KeptFlag, names: &GymNames, today: Date) -> Self {
        use leverbook_store::flags::Life;
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
        let club = proposal.loading.map(|loading| names.club(loading));
        Self {
            sentence: format!(
                "{}, {}: {}{}",
                capitalised(names.movement(proposal.movement)),
                words::hands_words(proposal.hands),
                step_words(proposal.step, club),
                from_words(proposal)
            ),
            reasons: told(&proposal.reasons),
            against: told(&proposal.against),
            would_change: proposal.would_change.clone(),
            new_block: changes_the_work(proposal.step) && proposal.step != Step::WaitForCoach,
        }
    }
}

/// Each reason with its rule.
pub(super) fn told(reasons: &[Told]) -> Vec<(&'static str, String)> {
    let told = |reason: &Told| (reason.rule.id(), reason.text.clone());
    reasons.iter().map(told).collect()
}

impl DecisionLine {
    fn new(decision: Decision, names: &GymNames) -> Self {
        let sentence = match decision.verdict {
            Verdict::Accept => "Accepted as proposed".to_owned(),
            Verdict::Hold => "Held: nothing changes this week".to_owned(),
            Verdict::Change(instead) => {
                let club = instead.loading.map(|loading| names.club(loading));
                format!("Changed: {}", step_words(instead.step, club))
            }
        };
        Self {
            sentence,
            reason: decision.reason,
            by: decision.by,
            at: day_label(decision.at.date()),
        }
    }
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
pub(super) fn from_words(proposal: &NextStep) -> String {
    let day = proposal.not_before;
    day.map_or_else(String::new, |day| format!(", from {} on", day_label(day)))
}

/// What a coach can decide instead. A number of sets belongs to the block, so none is asked here.
const INSTEAD: [(&str, Step, &str); 6] = [
    ("stay", Step::Stay, "Go on as planned"),
    ("step_up", Step::StepUp, "Step up a club"),
    ("step_back", Step::StepBack, "Step back a club"),
    (
        "fingertip_stage",
        Step::FingertipStage,
        "Begin the fingertip stage",
    ),
    ("open_one_hand", Step::OpenOneHand, "Open one-hand work"),
    ("wait_for_coach", Step::WaitForCoach, "Wait"),
];

fn step_choices() -> Vec<Choice> {
    INSTEAD
        .iter()
        .map(|(value, _, word)| Choice::new(*value, *word))
        .collect()
}

async fn club_choices(tx: &mut GymTx) -> Result<Vec<ClubChoice>, PageError> {
    let clubs: HashMap<ClubId, _> = rack::clubs(tx)
        .await?
        .into_iter()
        .filter(|club| club.retired_at.is_none())
        .map(|club| (club.id, club.details.owner))
        .collect();
    Ok(rack::loadings(tx)
        .await?
        .into_iter()
        .filter(|loading| loading.retired_at.is_none())
        .filter_map(|loading| {
            Some(ClubChoice {
                loading: loading.id,
                owner: *clubs.get(&loading.club)?,
                name: loading.name.to_string(),
            })
        })
        .collect())
}

/// Takes a decision about one athlete.
pub(crate) async fn decide(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let week = week_of(&posted, visit.today)?;
    let proposals = flags::assessments(&mut tx, &[athlete])
        .await?
        .into_iter()
        .next()
        .map(|(_, assessment)| assessment.steps)
        .unwrap_or_default();
    let clubs = club_choices(&mut tx).await?;
    let mut errors = FieldErrors::new();
    let wish = Wish::read(&posted, &mut errors, |club| {
        clubs
            .iter()
            .any(|choice| choice.loading == club && choice.is_for(&athlete))
    });
    let Some(wish) = wish.filter(|_| !errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = page(&mut tx, &app, &visit, week, Some((athlete, form))).await?;
        return Ok(Page::unprocessable(page));
    };
    let outdated = wish.verdict == Some(Verdict::Accept) && wish.proposed != mark_of(&proposals);
    let refusal = if outdated {
        Some(
            "what is proposed has changed since you opened the page: look again, then decide"
                .to_owned(),
        )
    } else {
        let decision = NewDecision {
            id: wish.id,
            athlete,
            week,
            verdict: wish.verdict,
            proposals: &proposals,
            reason: &wish.reason,
            note: wish.note.as_ref().map_or("", Note::as_str),
            at: visit.now,
        };
        match review::decide(&mut tx, &decision).await {
            Ok(()) => None,
            Err(DecideError::Store(why)) => return Err(why.into()),
            Err(why) => Some(why.to_string()),
        }
    };
    if let Some(sentence) = refusal {
        let mut errors = FieldErrors::new();
        errors.add("verdict", sentence);
        let form = Form::again(&posted, errors);
        let page = page(&mut tx, &app, &visit, week, Some((athlete, form))).await?;
        return Ok((StatusCode::CONFLICT, Page(page)).into_response());
    }
    tx.commit().await?;
    Ok(see_other(&visit.to(&format!(
        "review?week={week}&done=decided#athlete-{athlete}"
    ))))
}

/// What the form asks for, read.
struct Wish {
    id: DecisionId,
    verdict: Option<Verdict>,
    proposed: String,
    reason: String,
    note: Option<Note>,
}

impl Wish {
    fn read(
        posted: &Posted,
        errors: &mut FieldErrors,
        may_use: impl Fn(LoadingId) -> bool,
    ) -> Option<Self> {
        let id = posted.text("decision").parse().ok();
        if id.is_none() {
            errors.add("verdict", "this form is broken: open the page again");
        }
        let reason = errors.read_optional(posted, "reason", Reason::new);
        let note = errors.read(posted, "note", Note::new);
        let verdict = match posted.text("verdict") {
            "accept" => Some(Some(Verdict::Accept)),
            "hold" => Some(Some(Verdict::Hold)),
            "undo" => Some(None),
            "change" => {
                if posted.text("reason").trim().is_empty() {
                    errors.add(
                        "reason",
                        "say why, in a few words: it stays with the decision",
                    );
                }
                instead(posted, errors, may_use).map(|instead| Some(Verdict::Change(instead)))
            }
            _ => {
                errors.add("verdict", "choose: accept, change or hold");
                None
            }
        };
        Some(Self {
            id: id?,
            verdict: verdict?,
            proposed: posted.text("proposed").to_owned(),
            reason: reason.map(String::from).unwrap_or_default(),
            note: Some(note?).filter(|note| !note.as_str().is_empty()),
        })
    }
}

fn instead(
    posted: &Posted,
    errors: &mut FieldErrors,
    may_use: impl Fn(LoadingId) -> bool,
) -> Option<Instead> {
    let step = errors.read(posted, "step", |text| {
        INSTEAD
            .iter()
            .find(|(value, _, _)| *value == text)
            .map(|(_, step, _)| *step)
            .ok_or("choose what to do instead")
    });
    let loading = errors.read(posted, "club", |text| match text {
        "" => Ok(None),
        text => text
            .parse::<LoadingId>()
            .ok()
            .filter(|club| may_use(*club))
            .map(Some)
            .ok_or("choose a club of the list"),
    });
    Some(Instead {
        step: step?,
        loading: loading?,
    })
}

/// Closes the week, or opens it again.
pub(crate) async fn close(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let week = week_of(&posted, visit.today)?;
    let mut tx = visit.enter(&app).await?;
    let done = match posted.text("act") {
        "open" => {
            review::open_again(&mut tx, week).await?;
            "week-opened"
        }
        "close" => {
            review::close(&mut tx, week, visit.now).await?;
            "week-closed"
        }
        _ => {
            return Err(PageError::Unreadable(
                "The form does not say whether to close the week or to open it.",
            ));
        }
    };
    tx.commit().await?;
    Ok(see_other(
        &visit.to(&format!("review?week={week}&done={done}")),
    ))
}
