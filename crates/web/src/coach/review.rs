//! The weekly review: everybody on the coach's roster for an ISO week, those who need the coach
//! first, and one decision each.

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use leverbook_domain::id::{AthleteId, DecisionId, LoadingId};
use leverbook_domain::next_step::{NextStep, Step};
use leverbook_domain::progress::{Progress, Standing};
use leverbook_domain::review::{Instead, Need, Week, changes_the_work, need};
use leverbook_domain::rules::{Names, Severity, words};
use leverbook_domain::training::Hands;
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::names::GymNames;
use leverbook_store::review::{self, AthleteWeek, DecideError, Decision, NewDecision, Verdict};
use leverbook_store::{GymTx, athletes, rack};
use serde::Deserialize;
use time::Date;
use time::macros::format_description;

use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// Most characters of a reason, as the database has it.
const REASON: usize = 400;

/// Most characters of a note to an athlete, as the database has it.
const NOTE: usize = 2000;

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
    clubs: Vec<Choice>,
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
) -> Result<Page<ReviewPage>, PageError> {
    let week = week_of(asked.week.as_deref(), visit.today)?;
    flags::bring_up_to_date(&app.store, visit.gym, visit.account, visit.today).await?;
    let mut tx = visit.enter(&app).await?;
    Ok(Page(page(&mut tx, &app, &visit, week, None).await?))
}

fn week_of(text: Option<&str>, today: Date) -> Result<Week, PageError> {
    match text {
        None | Some("") => Ok(Week::of(today)),
        Some(text) => text.parse().map_err(|_| PageError::NotFound),
    }
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
            day_words(week.monday()),
            day_words(week.sunday())
        ),
        is_running: week == Week::of(visit.today),
        before: week.before(),
        after: week.after(),
        closed: closed.map(|at| day_words(at.date())),
        counts,
        groups,
        steps: step_choices(),
        clubs: club_choices(tx).await?,
    })
}

fn need_of(week: &AthleteWeek, today: Date) -> Need {
    let unseen = week
        .flags
        .iter()
        .filter(|flag| flag.life(today).wants_the_coach())
        .map(|flag| match flag.until {
            // A stop that is over no longer holds the work, but the coach should know of it.
            Some(_) => flag.flag.severity.min(Severity::Look),
            None => flag.flag.severity,
        });
    need(unseen, &week.proposals, week.decision.is_some())
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
            paused: week.status != leverbook_domain::roster::Status::Active,
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
            since: day_words(kept.flag.since),
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
                "{}: {}",
                names.movement(proposal.movement),
                step_words(proposal.step, club)
            ),
            reasons: proposal
                .reasons
                .iter()
                .map(|reason| (reason.rule.id(), reason.text.clone()))
                .collect(),
            would_change: proposal.would_change.clone(),
            new_block: changes_the_work(proposal.step) && proposal.step != Step::WaitForCoach,
        }
    }
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
            at: day_words(decision.at.date()),
        }
    }
}

/// A day in words, such as "Mon 23 Nov 2026".
fn day_words(day: Date) -> String {
    let form =
        format_description!("[weekday repr:short] [day padding:none] [month repr:short] [year]");
    day.format(form).unwrap_or_else(|_| day.to_string())
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

fn hands_words(hands: Hands) -> &'static str {
    match hands {
        Hands::Two => "two hands",
        Hands::Fingertip => "fingertips",
        Hands::One => "one hand",
    }
}

fn progress_words(work: &Progress, names: &GymNames) -> String {
    let what = format!(
        "{}, {}, {}",
        names.movement(work.key.movement),
        hands_words(work.key.hands),
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
pub(super) fn step_words(step: Step, club: Option<&str>) -> String {
    let with = club.map_or_else(String::new, |club| format!(" with {club}"));
    match step {
        Step::Stay => format!("go on as planned{with}"),
        Step::AddSets { sets } => format!("add sets, up to {sets} each side{with}"),
        Step::Hold => format!("hold: the same work, nothing added{with}"),
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

async fn club_choices(tx: &mut GymTx) -> Result<Vec<Choice>, PageError> {
    let mut choices = vec![Choice::new("", "Say nothing about the club")];
    choices.extend(
        rack::loadings(tx)
            .await?
            .into_iter()
            .filter(|loading| loading.retired_at.is_none())
            .map(|loading| Choice::new(loading.id.to_string(), loading.name.as_str())),
    );
    Ok(choices)
}

/// Takes a decision about one athlete.
pub(crate) async fn decide(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    if !athletes::is_on_roster(&mut tx, visit.account, athlete).await? {
        return Err(PageError::NotFound);
    }
    let week: Week = posted
        .text("week")
        .parse()
        .map_err(|_| PageError::NotFound)?;
    let proposals = flags::assessments(&mut tx, &[athlete])
        .await?
        .into_iter()
        .next()
        .map(|(_, assessment)| assessment.steps)
        .unwrap_or_default();
    let mut errors = FieldErrors::new();
    let wish = Wish::read(&posted, &mut errors);
    let Some(wish) = wish.filter(|_| !errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = page(&mut tx, &app, &visit, week, Some((athlete, form))).await?;
        return Ok(Page::unprocessable(page));
    };
    let decision = NewDecision {
        id: wish.id,
        athlete,
        week,
        verdict: wish.verdict,
        proposals: &proposals,
        reason: &wish.reason,
        at: visit.now,
    };
    match review::decide(&mut tx, &decision).await {
        Ok(()) => {}
        Err(DecideError::Closed) => {
            return Err(PageError::Conflict(DecideError::Closed.to_string()));
        }
        Err(DecideError::Store(why)) => return Err(why.into()),
    }
    if let Some(note) = &wish.note {
        review::write_note(&mut tx, wish.id, athlete, note, visit.now).await?;
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
    reason: String,
    note: Option<String>,
}

impl Wish {
    fn read(posted: &Posted, errors: &mut FieldErrors) -> Option<Self> {
        let id = posted.text("decision").parse().ok();
        if id.is_none() {
            errors.add("verdict", "This form is broken: open the page again.");
        }
        let reason = errors.read(posted, "reason", |text| at_most(text, REASON));
        let note = errors.read(posted, "note", |text| at_most(text, NOTE));
        let verdict = match posted.text("verdict") {
            "accept" => Some(Some(Verdict::Accept)),
            "hold" => Some(Some(Verdict::Hold)),
            "undo" => Some(None),
            "change" => instead(posted, errors).map(|instead| Some(Verdict::Change(instead))),
            _ => {
                errors.add("verdict", "Choose: accept, change or hold.");
                None
            }
        };
        let note = note?;
        Some(Self {
            id: id?,
            verdict: verdict?,
            reason: reason?,
            note: (!note.is_empty()).then_some(note),
        })
    }
}

fn at_most(text: &str, most: usize) -> Result<String, String> {
    match text.chars().count() {
        count if count > most => Err(format!("at most {most} characters; this has {count}")),
        _ => Ok(text.to_owned()),
    }
}

fn instead(posted: &Posted, errors: &mut FieldErrors) -> Option<Instead> {
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
            .map(Some)
            .map_err(|_| "choose a club of the list"),
    });
    if posted.text("reason").trim().is_empty() {
        errors.add(
            "reason",
            "say why, in a few words: it stays with the decision",
        );
        return None;
    }
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
    let week: Week = posted
        .text("week")
        .parse()
        .map_err(|_| PageError::NotFound)?;
    let mut tx = visit.enter(&app).await?;
    let done = if posted.text("act") == "open" {
        review::open_again(&mut tx, week).await?;
        "week-opened"
    } else {
        review::close(&mut tx, week, visit.now).await?;
        "week-closed"
    };
    tx.commit().await?;
    Ok(see_other(
        &visit.to(&format!("review?week={week}&done={done}")),
    ))
}
