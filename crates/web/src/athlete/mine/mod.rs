//! How it goes: one's own sessions, bests, and what the coach sees.

mod bests;
mod days;
mod sides;
mod work;

use askama::Template;
use axum::extract::{Query, State};
use leverbook_domain::next_step::{ForAthlete, propose_for_athlete};
use leverbook_domain::plan::PlannedState;
use leverbook_domain::policy::Policy;
use leverbook_domain::review::Week;
use leverbook_domain::rules::{Rule, episodes, words};
use leverbook_domain::training::History;
use leverbook_store::athletes::Athlete;
use leverbook_store::flags::{self, KeptFlag, Life};
use leverbook_store::log::Logged;
use leverbook_store::review::{self, Decision, Verdict};
use leverbook_store::{GymTx, StoreError, athletes, blocks, history, log, policies};
use serde::Deserialize;
use time::{Date, Duration};

use super::catalogue::Catalogue;
use super::log_form::{day_from, day_value};
use super::show::SessionWords;
use crate::App;
use crate::ahead::{self, Ahead};
use crate::chart::day_label;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::notes::{NoteLine, Reader};
use crate::page::Page;
use crate::visit::Visit;
use bests::Best;
use days::Trained;
use sides::BothSides;
use work::{Shown, Work};

/// How many sessions are on the first page, below all the rest, and on each page after it.
const ON_THE_FIRST: u16 = 5;
const ON_A_PAGE: u16 = 15;

/// How many notes, and how many of the coach's decisions, are shown.
const NOTES: u16 = 3;
const DECISIONS: usize = 3;

/// How far ahead the calendar of training days looks.
const AHEAD: Duration = Duration::days(14);

#[derive(Debug, Default, Deserialize)]
pub(crate) struct Paging {
    #[serde(default)]
    before: String,
}

#[derive(Template)]
#[template(path = "athlete/mine.html")]
pub(crate) struct MinePage {
    frame: Frame,
    story: Story,
    sessions: Vec<Entry>,
    /// The address of the sessions before these.
    older: Option<String>,
    newest_page: bool,
}

/// What the log shows, in words for the athlete.
struct Saying {
    severity: &'static str,
    /// A step is earned: said as praise, not as a flag.
    praise: bool,
    words: String,
    seen: bool,
}

/// A session in the list.
struct Entry {
    href: String,
    words: SessionWords,
    edited: bool,
}

/// `GET /mine`.
pub(crate) async fn mine(
    State(app): State<App>,
    visit: Visit,
    Query(paging): Query<Paging>,
) -> Result<Page<MinePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    let catalogue = Catalogue::load(&mut tx, athlete.id).await?;
    let before = day_from(&paging.before);
    let day = before.unwrap_or_else(|| visit.today.next_day().unwrap_or(visit.today));
    let most = if before.is_none() {
        ON_THE_FIRST
    } else {
        ON_A_PAGE
    };
    let sessions = log::before(&mut tx, athlete.id, day, most).await?;
    let story = if before.is_none() {
        Story::load(&mut tx, &visit, &athlete, &catalogue).await?
    } else {
        Story::default()
    };
    let full = sessions.len() == usize::from(most);
    let oldest = sessions.last().map(|logged| logged.done.on);
    Ok(Page(MinePage {
        frame: visit.frame("My training", Nav::Mine),
        story,
        older: oldest
            .filter(|_| full)
            .map(|day| visit.to(&format!("mine?before={}", day_value(day)))),
        newest_page: before.is_none(),
        sessions: sessions
            .iter()
            .map(|logged| Entry::of(&visit, logged, &catalogue))
            .collect(),
    }))
}

/// What stands above the sessions on the first page.
#[derive(Default)]
struct Story {
    /// The day of the last session, where it is so long ago that the way back in is an easy one.
    back_since: Option<String>,
    says: Vec<Saying>,
    notes: Vec<NoteLine>,
    decisions: Vec<String>,
    work: Vec<Work>,
    next: Vec<ForAthlete>,
    ways: Vec<Ahead>,
    sides: Option<BothSides>,
    days: Option<Trained>,
    bests: Vec<Best>,
}

impl Story {
    /// Whether a club is drawn anywhere.
    fn has_pictures(&self) -> bool {
        self.work.iter().any(|work| work.club.is_some())
    }

    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        athlete: &Athlete,
        catalogue: &Catalogue,
    ) -> Result<Self, StoreError> {
        let standing = flags::standing_for(tx, &[athlete.id]).await?;
        let notes = Reader::new(visit, athlete, false).newest(tx, NOTES).await?;
        let decisions = review::decisions_of(tx, athlete.id).await?;
        let history = history::load(tx, athlete.id).await?;
        let judged_by = policies::of_athlete(tx, athlete.id).await?;
        let last = visit.today.saturating_add(AHEAD);
        let planned = blocks::between(tx, &[athlete.id], visit.today, last).await?;
        let (policy, today) = (judged_by.own(), visit.today);
        let is_closed = ahead::closed(&standing, today);
        let episodes = episodes(&history, policy, today);
        let back_since = away_since(&history, policy, today);
        let to_come = planned
            .iter()
            .filter(|planned| planned.standing.state == PlannedState::Planned)
            .filter(|planned| planned.logged.is_none())
            .map(|planned| planned.standing.on);
        let shown = Shown {
            history: &history,
            policy,
            catalogue,
            units: visit.units,
            today,
            after_gap: back_since.is_some(),
        };
        Ok(Self {
            says: sayings(&standing, today, catalogue, back_since.is_some()),
            // Whoever hurts is not asked to come back.
            back_since: back_since
                .filter(|_| !stops(&standing, today))
                .map(day_label),
            notes,
            decisions: decisions
                .into_iter()
                .take(DECISIONS)
                .map(|(week, decision)| decision_words(week, &decision))
                .collect(),
            work: work::in_use(&shown),
            next: propose_for_athlete(&history, policy, &episodes, &is_closed, today, catalogue),
            ways: ahead::for_athlete(&history, policy, catalogue, &episodes, &is_closed, today),
            sides: sides::both_sides(&history, policy, catalogue, today),
            days: days::trained(&history, policy, to_come, today, last),
            bests: bests::bests(&history, catalogue),
        })
    }
}

/// A1: the day of the last session, where a gap has followed it.
fn away_since(history: &History, policy: &Policy, today: Date) -> Option<Date> {
    let last = history.sessions_until(today).last()?.on;
    (today - last >= Duration::days(policy.gap_days.into())).then_some(last)
}

/// Whether pain holds any work back.
fn stops(standing: &[KeptFlag], today: Date) -> bool {
    standing.iter().any(|kept| kept.holds_work(today))
}

/// The open flags that are for the athlete too, each sentence once. Whoever hurts is not asked to come
/// back, and whoever has been away is welcomed instead.
fn sayings(
    standing: &[KeptFlag],
    today: Date,
    catalogue: &Catalogue,
    welcomed: bool,
) -> Vec<Saying> {
    let mut says: Vec<Saying> = Vec::new();
    for kept in standing.iter().filter(|kept| kept.life(today).is_open()) {
        if kept.flag.rule == Rule::A1 && (welcomed || stops(standing, today)) {
            continue;
        }
        let Some(words) = words::for_athlete(&kept.flag, catalogue) else {
            continue;
        };
        if says.iter().all(|said| said.words != words) {
            says.push(Saying {
                severity: kept.flag.severity.word(),
                praise: matches!(kept.flag.rule, Rule::T4 | Rule::V3),
                words,
                seen: kept.life(today) == Life::Seen,
            });
        }
    }
    says
}

/// What was decided, without the coach's reason: what a coach wants to tell, they write as a note.
fn decision_words(week: Week, decision: &Decision) -> String {
    let what = match decision.verdict {
        Verdict::Accept => "looked at your week and goes on as proposed",
        Verdict::Change(_) => "looked at your week and decided on a change; see your plan",
        Verdict::Hold => "looked at your week and keeps everything as it is",
    };
    format!(
        "Week {} of {}: {} {what}.",
        week.number(),
        week.year(),
        decision.by
    )
}

impl Entry {
    fn of(visit: &Visit, logged: &Logged, catalogue: &Catalogue) -> Self {
        Self {
            href: visit.to(&format!("log/{}", logged.session)),
            words: SessionWords::of(&logged.done, catalogue),
            edited: logged.replaces.is_some(),
        }
    }
}
