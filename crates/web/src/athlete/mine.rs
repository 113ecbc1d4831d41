//! How it goes: one's own sessions, bests, and what the coach sees.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Query, State};
use leverbook_domain::rules::Names;
use leverbook_domain::training::History;
use leverbook_domain::units::Density;
use leverbook_store::log::Logged;
use leverbook_store::{athletes, history, log};
use serde::Deserialize;
use time::Date;

use super::catalogue::Catalogue;
use super::log_form::{day_from, day_value, hands_word};
use super::show::{SessionWords, day_words};
use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

/// How many sessions are on one page.
const ON_A_PAGE: u16 = 15;

#[derive(Debug, Default, Deserialize)]
pub(crate) struct Paging {
    #[serde(default)]
    before: String,
}

#[derive(Template)]
#[template(path = "athlete/mine.html")]
pub(crate) struct MinePage {
    frame: Frame,
    bests: Vec<Best>,
    sessions: Vec<Entry>,
    /// The address of the sessions before these.
    older: Option<String>,
    newest_page: bool,
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
    let bests = if before.is_none() {
        bests(&history::load(&mut tx, athlete.id).await?, &catalogue)
    } else {
        Vec::new()
    };
    let full = sessions.len() == usize::from(ON_A_PAGE);
    let oldest = sessions.last().map(|logged| logged.done.on);
    Ok(Page(MinePage {
        frame: visit.frame("My training", Nav::Mine),
        bests,
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

impl Entry {
    fn of(visit: &Visit, logged: &Logged, catalogue: &Catalogue) -> Self {
        Self {
            href: visit.to(&format!("log/{}", logged.session)),
            words: SessionWords::of(&logged.done, catalogue),
            edited: logged.edited,
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
            day: day_words(on),
        })
        .collect()
}
