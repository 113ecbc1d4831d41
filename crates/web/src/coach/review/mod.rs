//! The weekly review: everybody on the coach's roster for an ISO week, those who need the coach
//! first, and one decision each.

mod decide;
mod figures;
mod line;
mod together;

use std::collections::HashMap;

use askama::Template;
use axum::extract::{FromRequestParts, Query, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use leverbook_domain::next_step::Step;
use leverbook_domain::review::{Need, Week, need};
use leverbook_domain::roster::Status;
use leverbook_domain::rules::Severity;
use leverbook_domain::text::capitalised;
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::names::GymNames;
use leverbook_store::review::{self, AthleteWeek};
use leverbook_store::{GymTx, care, rack};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use time::Date;

use self::figures::{Against, Summary};
use self::line::Line;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::Form;
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::tokens::hex;
use crate::visit::Visit;

pub(crate) use self::decide::decide;
pub(crate) use self::line::step_words;
pub(super) use self::line::{from_words, told};
pub(crate) use self::together::together;

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
    /// Loadable clubs whose inspection is overdue.
    to_inspect: usize,
    before: Week,
    after: Week,
    /// A mark of all that is shown of the week, to tell whether it has changed.
    stamp: String,
    /// The day on which the coach closed it, and what was decided then.
    closed: Option<(String, Summary)>,
    groups: Vec<Group>,
    against: Against,
    /// What the coach accepted together, by act.
    acts: Vec<together::ActLine>,
    act_id: String,
    /// How many could be accepted together.
    plainly_steady: usize,
    choices: Choices,
    /// Whether decisions about this week are still, or already, taken.
    is_open: bool,
    /// Whether decisions can be made now.
    deciding: bool,
    /// What was wrong with the week that was asked for.
    wrong: Option<String>,
    /// What was wrong with what was asked for the week as a whole.
    refused: Option<String>,
}

impl ReviewPage {
    fn is_empty(&self) -> bool {
        self.groups.iter().all(|group| group.lines.is_empty())
    }
}

/// One athlete's week alone, as a script puts it in the place of the old one.
#[derive(Debug, Template)]
#[template(path = "coach/review_line.html")]
struct LinePage {
    frame: Frame,
    week: Week,
    choices: Choices,
    deciding: bool,
    line: Line,
}

/// What may be decided instead of what is proposed.
#[derive(Debug)]
struct Choices {
    steps: Vec<Choice>,
    clubs: Vec<ClubChoice>,
}

/// Whether the page's own script asks, which wants the one athlete's part and no whole page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wants {
    /// A browser that goes to the page.
    Page,
    /// The script: what has changed.
    Part,
}

impl FromRequestParts<App> for Wants {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, Self::Rejection> {
        Ok(if parts.headers.contains_key("x-leverbook-part") {
            Self::Part
        } else {
            Self::Page
        })
    }
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
    lines: Vec<Line>,
}

/// The week.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    headers: HeaderMap,
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
    // A page that is looked at again asks whether anything has changed.
    let mark = format!("\"{}\"", page.stamp);
    if headers
        .get(header::IF_NONE_MATCH)
        .and_then(|known| known.to_str().ok())
        == Some(&mark)
    {
        return Ok(StatusCode::NOT_MODIFIED.into_response());
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

/// Puts the page together; `again` is a form that came back.
async fn page(
    tx: &mut GymTx,
    app: &App,
    visit: &Visit,
    week: Week,
    mut again: Option<(AthleteId, Form)>,
) -> Result<ReviewPage, PageError> {
    let names = GymNames::load(tx).await?;
    let closed = review::closed_at(tx, visit.account, week).await?;
    let weeks = review::week(tx, visit.account, week).await?;
    let against = Against::of(&weeks, week, visit.today);
    let acts = together::acts(&weeks, visit.account);
    let closed = closed.map(|at| {
        let summary = Summary::of(&weeks, visit.today);
        (day_label(at.date()), summary)
    });
    let mut stamp = Sha256::new();
    stamp.update(if closed.is_some() { "closed" } else { "open" });
    let mut groups = Group::all();
    for athlete_week in weeks {
        let typed = again.take_if(|(athlete, _)| *athlete == athlete_week.athlete);
        let form = typed.map(|(_, form)| form);
        let line = Line::new(athlete_week, week, &names, visit, app, form);
        stamp.update(&line.stamp);
        groups[line.need as usize].lines.push(line);
    }
    let is_open = takes_decisions(week, visit.today);
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
        stamp: hex(&stamp.finalize()[..8]),
        deciding: is_open && closed.is_none(),
        closed,
        plainly_steady: groups
            .iter()
            .flat_map(|group| &group.lines)
            .filter(|line| line.plainly_steady)
            .count(),
        groups: groups.into(),
        against,
        acts,
        act_id: app.new_id::<uuid::Uuid>().to_string(),
        choices: Choices::load(tx, visit.today).await?,
        to_inspect: care::inspectable(tx)
            .await?
            .iter()
            .filter(|club| club.is_overdue(visit.today))
            .count(),
        is_open,
        wrong: None,
        refused: None,
    })
}

/// One athlete's week alone; `form` is one that came back.
async fn line_page(
    tx: &mut GymTx,
    app: &App,
    visit: &Visit,
    week: Week,
    athlete: AthleteId,
    form: Option<Form>,
) -> Result<LinePage, PageError> {
    let names = GymNames::load(tx).await?;
    let closed = review::closed_at(tx, visit.account, week).await?;
    let athlete_week = review::week_of(tx, visit.account, week, athlete)
        .await?
        .ok_or(PageError::NotFound)?;
    Ok(LinePage {
        frame: visit.frame(String::new(), Nav::Review),
        week,
        choices: Choices::load(tx, visit.today).await?,
        deciding: takes_decisions(week, visit.today) && closed.is_none(),
        line: Line::new(athlete_week, week, &names, visit, app, form),
    })
}

pub(crate) fn need_of(week: &AthleteWeek, today: Date) -> Need {
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
        let group = |need, title| Self {
            id: need_id(need),
            title,
            lines: Vec::new(),
        };
        [
            group(Need::Stopped, "Work waits for you"),
            group(Need::Look, "To look at"),
            group(Need::Step, "A step is due"),
            group(Need::Steady, "Steady"),
            group(Need::Decided, "Decided"),
        ]
    }
}

/// What the page calls a need in its marks.
const fn need_id(need: Need) -> &'static str {
    match need {
        Need::Stopped => "stopped",
        Need::Look => "look",
        Need::Step => "step",
        Need::Steady => "steady",
        Need::Decided => "decided",
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

impl Choices {
    async fn load(tx: &mut GymTx, today: Date) -> Result<Self, PageError> {
        let steps = INSTEAD
            .iter()
            .map(|(value, _, word)| Choice::new(*value, *word))
            .collect();
        Ok(Self {
            steps,
            clubs: club_choices(tx, today).await?,
        })
    }

    fn may_use(&self, club: LoadingId, athlete: AthleteId) -> bool {
        self.clubs
            .iter()
            .any(|choice| choice.loading == club && choice.is_for(&athlete))
    }
}

async fn club_choices(tx: &mut GymTx, today: Date) -> Result<Vec<ClubChoice>, PageError> {
    let clubs: HashMap<ClubId, _> = rack::clubs(tx)
        .await?
        .into_iter()
        .filter(|club| club.retired_at.is_none())
        .map(|club| (club.id, club.details.owner))
        .collect();
    let out = care::out_of_use(tx, today).await?;
    Ok(rack::loadings(tx)
        .await?
        .into_iter()
        .filter(|loading| loading.retired_at.is_none())
        .filter(|loading| out.of(loading.club, loading.id).is_none())
        .filter_map(|loading| {
            Some(ClubChoice {
                loading: loading.id,
                owner: *clubs.get(&loading.club)?,
                name: loading.name.to_string(),
            })
        })
        .collect())
}

/// A refusal as a sentence of its own.
fn sentence(refusal: &str) -> String {
    let full_stop = if refusal.ends_with('.') { "" } else { "." };
    format!("{}{full_stop}", capitalised(refusal))
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
