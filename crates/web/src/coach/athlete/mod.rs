//! One athlete's story: how the work went, what the rules said, what was decided.

mod body;
mod clubs;
mod days;
pub(crate) mod flags;
mod happened;
mod plan;
mod sides;
mod work;

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Path, Query, State};
use leverbook_domain::density::{DensityStanding, densities};
use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::policy::{AthletePolicy, ExceptionsNumber, Policy, PolicyVersion};
use leverbook_domain::progress;
use leverbook_domain::review::Week;
use leverbook_domain::roster::Status;
use leverbook_domain::rules::words::hands_words;
use leverbook_domain::rules::{Names, episodes};
use leverbook_domain::training::History;
use leverbook_domain::units::UnitSystem;
use leverbook_store::athletes::Athlete;
use leverbook_store::blocks::{Block, Planned};
use leverbook_store::flags::{Assessment, KeptFlag};
use leverbook_store::log::Logged;
use leverbook_store::names::GymNames;
use leverbook_store::review::Decision;
use leverbook_store::roster::Excused;
use leverbook_store::{
    GymTx, StoreError, athletes, blocks, flags as kept, history, log, policies, review, roster,
    story,
};
use serde::Deserialize;
use time::{Date, Duration};

use crate::App;
use crate::ahead::{self, Ahead};
use crate::chart::{CalendarChart, day_label};
use crate::coach::typed::iso_date;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::notes::{Reader, Section};
use crate::page::Page;
use crate::visit::Visit;

/// How far back the page looks when nothing is asked.
const USUALLY: Duration = Duration::days(365);

/// How far ahead the calendar looks.
const AHEAD: Duration = Duration::days(21);

/// The sessions shown one by one.
const NEWEST_SESSIONS: u16 = 6;

/// The notes shown.
const NEWEST_NOTES: u16 = 3;

/// How far back to look: a day, or `all`. What cannot be read is as if nothing was asked.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    since: String,
}

/// The days that the page is about.
#[derive(Debug, Clone, Copy)]
struct Window {
    from: Date,
    today: Date,
}

impl Window {
    fn of(asked: &str, began: Date, today: Date) -> Self {
        let usual = today.saturating_sub(USUALLY);
        let from = match asked {
            "all" => began,
            day => iso_date(day)
                .ok()
                .filter(|day| *day <= today)
                .unwrap_or(usual),
        };
        Self {
            from: from.max(began.min(today)),
            today,
        }
    }

    fn holds(self, day: Date) -> bool {
        (self.from..=self.today).contains(&day)
    }
}

/// Everything that is known of an athlete, read once.
struct Book {
    athlete: Athlete,
    history: History,
    /// What this athlete is judged by, and of that what the rules are given.
    judged_by: AthletePolicy,
    policy: Policy,
    /// Where the count stands at each club and interval.
    densities: Vec<DensityStanding>,
    names: GymNames,
    units: UnitSystem,
    window: Window,
    flags: Vec<KeptFlag>,
    assessment: Option<Assessment>,
    decisions: Vec<(Week, Decision)>,
    excused: Vec<Excused>,
    blocks: Vec<Block>,
    planned: Vec<Planned>,
    newest: Vec<Logged>,
    people: HashMap<AccountId, String>,
}

impl Book {
    async fn read(
        tx: &mut GymTx,
        visit: &Visit,
        athlete: AthleteId,
        since: &str,
    ) -> Result<Self, StoreError> {
        let athlete = athletes::of_roster(tx, visit.account, athlete).await?;
        let judged_by = policies::of_athlete(tx, athlete.id).await?;
        let assessment = up_to_date(tx, &athlete, &judged_by, visit.today).await?;
        let history = history::load(tx, athlete.id).await?;
        let began = history
            .sessions()
            .first()
            .map_or(athlete.started_on, |session| {
                session.on.min(athlete.started_on)
            });
        let window = Window::of(since, began, visit.today);
        let flags = kept::story(tx, athlete.id).await?;
        let deciders: Vec<AccountId> = flags
            .iter()
            .flat_map(|flag| flag.decisions.iter().map(|decision| decision.by))
            .collect();
        let tomorrow = visit.today.saturating_add(Duration::DAY);
        let ahead = visit.today.saturating_add(AHEAD);
        let standing = flags.iter().filter(|flag| flag.until.is_none());
        let standing = standing.map(|flag| &flag.flag);
        Ok(Self {
            densities: densities(&history, judged_by.own(), standing, visit.today),
            policy: judged_by.own().clone(),
            judged_by,
            names: GymNames::load(tx).await?,
            units: visit.units,
            window,
            flags,
            assessment,
            decisions: review::decisions_of(tx, athlete.id).await?,
            excused: roster::excused(tx, athlete.id).await?,
            blocks: blocks::of_athletes(tx, &[athlete.id]).await?,
            planned: blocks::between(tx, &[athlete.id], window.from, ahead).await?,
            newest: log::before(tx, athlete.id, tomorrow, NEWEST_SESSIONS).await?,
            people: story::names_of(tx, &deciders).await?,
            history,
            athlete,
        })
    }
}

impl Book {
    /// A policy by which something of this athlete was judged, in words.
    fn policy_words(&self, version: PolicyVersion, exceptions: ExceptionsNumber) -> String {
        self.judged_by
            .called(version, exceptions, self.athlete.name.as_str(), day_label)
    }
}

/// What the rules say today: some conditions begin or end because days pass.
async fn up_to_date(
    tx: &mut GymTx,
    athlete: &Athlete,
    policy: &AthletePolicy,
    today: Date,
) -> Result<Option<Assessment>, StoreError> {
    let found = kept::assessments(tx, &[athlete.id])
        .await?
        .remove(&athlete.id);
    let fresh = found
        .as_ref()
        .is_some_and(|found| found.is_fresh(today, policy));
    if fresh || athlete.status == Status::Left {
        return Ok(found);
    }
    kept::reassess(tx, athlete.id, today).await?;
    Ok(kept::assessments(tx, &[athlete.id])
        .await?
        .remove(&athlete.id))
}

#[derive(Template)]
#[template(path = "coach/athlete.html")]
pub(crate) struct AthletePage {
    frame: Frame,
    athlete: AthleteId,
    name: String,
    lead: String,
    notes: String,
    windows: Vec<WindowLink>,
    since: String,
    since_day: Date,
    policy: String,
    proposals: Vec<plan::Proposal>,
    ahead: Vec<Ahead>,
    open: Vec<flags::FlagView>,
    away: Vec<flags::FlagView>,
    past: Vec<flags::FlagView>,
    past_before: usize,
    work: Vec<work::Work>,
    clubs: Option<clubs::Clubs>,
    sides: Option<sides::BothSidesView>,
    body: body::Body,
    came: String,
    calendar: Option<CalendarChart>,
    decisions: Vec<plan::Decided>,
    written: Section,
    blocks: Vec<plan::BlockLine>,
    sessions: Vec<work::SessionLine>,
}

/// Another length of time to look at.
struct WindowLink {
    href: String,
    word: &'static str,
    here: bool,
}

/// `GET /athletes/{athlete}`.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    Query(asked): Query<Asked>,
) -> Result<Page<AthletePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let book = Book::read(&mut tx, &visit, athlete, &asked.since).await?;
    let written = Reader::new(&visit, &book.athlete, true)
        .in_short(&app, &mut tx, NEWEST_NOTES)
        .await?;
    tx.commit().await?;
    Ok(Page(AthletePage::new(&app, &visit, &book, written)))
}

impl AthletePage {
    fn new(app: &App, visit: &Visit, book: &Book, written: Section) -> Self {
        let from = book.window.from;
        let standing = |view: &KeptFlag| view.until.is_none();
        let views = |keep: &dyn Fn(&KeptFlag) -> bool| {
            flags::views(
                app,
                visit,
                book,
                book.flags.iter().filter(|flag| keep(flag)),
            )
        };
        let is_open = |flag: &KeptFlag| flag.life(visit.today).is_open();
        let since = |flag: &KeptFlag| flag.until.is_some_and(|until| until >= from);
        Self {
            frame: visit.frame(book.athlete.name.as_str(), Nav::Roster),
            athlete: book.athlete.id,
            name: book.athlete.name.as_str().to_owned(),
            lead: lead(book),
            notes: book.athlete.notes.clone(),
            windows: windows(visit, book),
            since: day_label(from),
            since_day: from,
            policy: book.policy_words(book.policy.version, book.judged_by.exceptions().number()),
            proposals: plan::proposals(book),
            ahead: if book.athlete.status == Status::Active {
                let is_closed = ahead::closed(&book.flags, visit.today);
                let (history, policy) = (&book.history, &book.policy);
                let episodes = episodes(history, policy, visit.today);
                ahead::for_coach(
                    history,
                    policy,
                    &book.names,
                    &episodes,
                    &is_closed,
                    visit.today,
                )
            } else {
                Vec::new()
            },
            open: flags::gravest_first(views(&|flag| standing(flag) && is_open(flag))),
            away: views(&|flag| standing(flag) && !is_open(flag)),
            past: views(&|flag| !standing(flag) && since(flag)),
            past_before: book
                .flags
                .iter()
                .filter(|flag| !standing(flag) && !since(flag))
                .count(),
            work: work::work(book),
            clubs: clubs::clubs(book),
            sides: sides::both_sides(book),
            body: body::body(book),
            came: days::answer(book),
            calendar: days::calendar(book),
            decisions: plan::decisions(book),
            written,
            blocks: plan::blocks(visit, book),
            sessions: work::newest(visit, book),
        }
    }
}

/// Status, since when, how much, and with which clubs lately.
fn lead(book: &Book) -> String {
    let athlete = &book.athlete;
    let status = match athlete.status {
        Status::Active => format!("Here since {}", day_label(athlete.started_on)),
        Status::Paused => format!("Paused since {}", day_label(athlete.status_since)),
        Status::Left => format!("Left on {}", day_label(athlete.status_since)),
    };
    let sessions = book.history.sessions();
    let logged = match (sessions.len(), sessions.last()) {
        (_, None) => "nothing logged yet".to_owned(),
        (1, Some(last)) => format!("1 session, on {}", day_label(last.on)),
        (count, Some(last)) => format!("{count} sessions, the last on {}", day_label(last.on)),
    };
    let at: Vec<String> = progress::latest(&book.history, &book.policy, book.window.today)
        .iter()
        .map(|work| {
            format!(
                "{}, {}, with {}",
                book.names.movement(work.key.movement),
                hands_words(work.key.hands),
                book.names.club(work.key.loading)
            )
        })
        .collect();
    let at = if at.is_empty() {
        String::new()
    } else {
        format!(" Now at: {}.", at.join("; "))
    };
    format!("{status}; {logged}.{at}")
}

fn windows(visit: &Visit, book: &Book) -> Vec<WindowLink> {
    let page = |query: String| visit.to(&format!("athletes/{}{query}", book.athlete.id));
    let Window { from, today } = book.window;
    let began = Window::of("all", book.athlete.started_on, today).from;
    let quarter = today.saturating_sub(Duration::days(91));
    let year = today.saturating_sub(USUALLY);
    let first = book
        .history
        .sessions()
        .first()
        .map_or(began, |session| session.on.min(began));
    vec![
        WindowLink {
            href: page(format!("?since={quarter}")),
            word: "3 months",
            // Of a shorter log both would show the same, and only one is marked.
            here: from == quarter && first < quarter,
        },
        WindowLink {
            href: page(String::new()),
            word: "12 months",
            here: from == year.max(first),
        },
        WindowLink {
            href: page("?since=all".to_owned()),
            word: "Everything",
            here: from == first && first < year,
        },
    ]
}
