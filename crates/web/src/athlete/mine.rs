//! How it goes: one's own sessions, bests, and what the coach sees.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Query, State};
use leverbook_domain::density::{DensityStanding, densities};
use leverbook_domain::id::MovementId;
use leverbook_domain::policy::Policy;
use leverbook_domain::review::Week;
use leverbook_domain::rules::{Names, words};
use leverbook_domain::training::History;
use leverbook_domain::units::Density;
use leverbook_store::athletes::Athlete;
use leverbook_store::flags::{self, KeptFlag, Life};
use leverbook_store::log::Logged;
use leverbook_store::review::{self, Decision, Verdict};
use leverbook_store::{GymTx, StoreError, athletes, history, log, policies};
use serde::Deserialize;
use time::Date;

use super::catalogue::Catalogue;
use super::log_form::{day_from, day_value, hands_word};
use super::show::SessionWords;
use crate::App;
use crate::ahead::{self, Ahead};
use crate::chart::day_label;
use crate::error::PageError;
use crate::evidence;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

/// How many sessions are on one page.
const ON_A_PAGE: u16 = 15;

/// How many of the coach's notes, and of their decisions, are shown.
const NOTES: u16 = 5;
const DECISIONS: usize = 3;

#[derive(Debug, Default, Deserialize)]
pub(crate) struct Paging {
    #[serde(default)]
    before: String,
}

#[derive(Template)]
#[template(path = "athlete/mine.html")]
pub(crate) struct MinePage {
    frame: Frame,
    says: Vec<Saying>,
    notes: Vec<Note>,
    decisions: Vec<String>,
    bests: Vec<Best>,
    /// Where the counts lead, by rule.
    ahead: Vec<(&'static str, String)>,
    ways: Vec<Ahead>,
    sessions: Vec<Entry>,
    /// The address of the sessions before these.
    older: Option<String>,
    newest_page: bool,
}

/// What the log shows, in words for the athlete.
struct Saying {
    severity: &'static str,
    words: String,
    seen: bool,
}

/// What the coach wrote to the athlete.
struct Note {
    body: String,
    from: String,
}

/// The best of one movement, hands and club.
struct Best {
    what: String,
    best: String,
    day: String,
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
    let sessions = log::before(&mut tx, athlete.id, day, ON_A_PAGE).await?;
    let story = if before.is_none() {
        Story::load(&mut tx, &visit, &athlete, &catalogue).await?
    } else {
        Story::default()
    };
    let full = sessions.len() == usize::from(ON_A_PAGE);
    let oldest = sessions.last().map(|logged| logged.done.on);
    Ok(Page(MinePage {
        frame: visit.frame("My training", Nav::Mine),
        says: story.says,
        notes: story.notes,
        decisions: story.decisions,
        bests: story.bests,
        ahead: story.ahead,
        ways: story.ways,
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
    says: Vec<Saying>,
    notes: Vec<Note>,
    decisions: Vec<String>,
    bests: Vec<Best>,
    ahead: Vec<(&'static str, String)>,
    ways: Vec<Ahead>,
}

impl Story {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        athlete: &Athlete,
        catalogue: &Catalogue,
    ) -> Result<Self, StoreError> {
        let standing = flags::standing_for(tx, &[athlete.id]).await?;
        let notes = review::notes(tx, athlete.id, NOTES).await?;
        let decisions = review::decisions_of(tx, athlete.id).await?;
        let history = history::load(tx, athlete.id).await?;
        let policy = policies::of_athlete(tx, athlete.id).await?;
        Ok(Self {
            says: sayings(&standing, visit.today, catalogue),
            notes: notes
                .into_iter()
                .map(|note| Note {
                    from: format!("{}, {}", note.by, day_label(note.at.date())),
                    body: note.body,
                })
                .collect(),
            decisions: decisions
                .into_iter()
                .take(DECISIONS)
                .map(|(week, decision)| decision_words(week, &decision))
                .collect(),
            bests: bests(&history, catalogue),
            ways: ahead::for_athlete(
                &history,
                policy.own(),
                catalogue,
                &ahead::closed(&standing, visit.today),
                visit.today,
            ),
            ahead: in_use(&history, policy.own(), visit.today)
                .iter()
                .flat_map(|standing| evidence::ahead(standing, catalogue))
                .collect(),
        })
    }
}

/// Of each movement with two hands, where the count with the club worked last stands.
fn in_use(history: &History, policy: &Policy, today: Date) -> Vec<DensityStanding> {
    let mut newest: BTreeMap<MovementId, DensityStanding> = BTreeMap::new();
    // What the rules flagged is told above; the figures do not need it.
    for standing in densities(history, policy, [], today) {
        match newest.get(&standing.movement) {
            Some(other) if other.on > standing.on => {}
            _ => _ = newest.insert(standing.movement, standing),
        }
    }
    newest.into_values().collect()
}

/// The open flags that are for the athlete too, each sentence once.
fn sayings(standing: &[KeptFlag], today: Date, catalogue: &Catalogue) -> Vec<Saying> {
    let mut says: Vec<Saying> = Vec::new();
    for kept in standing.iter().filter(|kept| kept.life(today).is_open()) {
        let Some(words) = words::for_athlete(&kept.flag, catalogue) else {
            continue;
        };
        if says.iter().all(|said| said.words != words) {
            says.push(Saying {
                severity: kept.flag.severity.word(),
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

/// The best density at each key, and the most sets of each straight work, newest first.
fn bests(history: &History, catalogue: &Catalogue) -> Vec<Best> {
    let mut densest: BTreeMap<_, (Density, Date)> = BTreeMap::new();
    let mut longest: BTreeMap<_, (u16, Date)> = BTreeMap::new();
    for session in history.sessions() {
        for bout in session.bouts() {
            let what = (bout.movement, bout.hands, bout.loading);
            if let (Some(seconds), Some(density)) = (bout.seconds, bout.density()) {
                let best = densest
                    .entry((what, seconds))
                    .or_insert((density, session.on));
                if density > best.0 {
                    *best = (density, session.on);
                }
            } else if bout.seconds.is_none() {
                let sets = bout.sets_each_side();
                let best = longest
                    .entry((what, bout.reps))
                    .or_insert((sets, session.on));
                if sets > best.0 {
                    *best = (sets, session.on);
                }
            }
        }
    }
    let words = |(movement, hands, loading)| {
        format!(
            "{}, {}, {}",
            catalogue.movement(movement),
            catalogue.club(loading),
            hands_word(hands)
        )
    };
    let dense = densest.into_iter().map(|((what, seconds), (density, on))| {
        let best = format!(
            "{:.1} reps a minute in {} s sets",
            density.rpm(),
            seconds.get()
        );
        (on, words(what), best)
    });
    let long = longest.into_iter().map(|((what, reps), (sets, on))| {
        let best = format!("{sets} sets of {reps} on each side");
        (on, words(what), best)
    });
    let mut all: Vec<(Date, String, String)> = dense.chain(long).collect();
    all.sort_by(|a, b| b.cmp(a));
    all.into_iter()
        .map(|(on, what, best)| Best {
            what,
            best,
            day: day_label(on),
        })
        .collect()
}
