//! What a phone carries: the plan of the next two weeks and what is needed to log without signal.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use askama::Template;
use axum::Json;
use axum::extract::State;
use leverbook_domain::id::{
    AccountId, GymId, LoadingId, MovementId, PlannedId, RevisionId, SessionId,
};
use leverbook_domain::plan::{Ask, Prescription};
use leverbook_domain::rules::Questions;
use leverbook_domain::training::{SetDone, Side};
use leverbook_store::blocks::Planned;
use leverbook_store::log::{self, WorkKind};
use leverbook_store::{athletes, policies};
use serde::Serialize;
use time::format_description::well_known::Rfc3339;
use time::{Date, Duration};

use super::entry::{Entry, FORMAT};
use super::log_form::{day_value, effort_choices, hands_choices, hands_word, pain_choices};
use super::questions::after;
use super::today::{Days, STILL_OPEN};
use crate::App;
use crate::assets;
use crate::error::PageError;
use crate::parts::Choice;
use crate::visit::Visit;

/// How far ahead the plan is carried, beside today.
const AHEAD: Duration = Duration::days(14);

/// How far back the log is carried, beside today.
const BACK: Duration = Duration::days(13);

/// The book that a phone carries.
#[derive(Serialize)]
pub(crate) struct Carried {
    format: u32,
    release: &'static str,
    account: AccountId,
    name: String,
    gym: GymId,
    gym_name: String,
    zone: String,
    now: String,
    today: String,
    csrf: String,
    pain_stop: u8,
    must_say: Asked,
    waiting: Waiting,
    days: BTreeMap<String, String>,
    planned: Vec<CarriedPlanned>,
    movements: Vec<Named<MovementId>>,
    clubs: Vec<Club>,
    hands: Vec<Word>,
    efforts: Vec<Answer>,
    pains: Vec<Answer>,
    logged: Vec<CarriedLogged>,
}

/// L5: what has to be said after a session of today.
#[derive(Serialize)]
struct Asked {
    effort: bool,
    pain: bool,
}

/// L4: what waits for the coach, planned or not.
#[derive(Serialize)]
struct Waiting {
    all: bool,
    movements: BTreeSet<MovementId>,
}

#[derive(Serialize)]
struct CarriedPlanned {
    planned: PlannedId,
    revision: i32,
    on: String,
    logged: Option<SessionId>,
    waits: bool,
    movement: MovementId,
    movement_name: String,
    hands: &'static str,
    hands_words: &'static str,
    club: LoadingId,
    club_name: String,
    loadable: bool,
    first_with_club: bool,
    sets: u8,
    seconds: Option<u16>,
    reps: Option<u16>,
    goal: Option<u32>,
    rest_seconds: u16,
    line: String,
    note: Option<String>,
    before: Option<Before>,
}

/// The counts of the last time, in the order in which they were done on each side.
#[derive(Serialize)]
struct Before {
    on: String,
    left: Vec<u16>,
    right: Vec<u16>,
}

#[derive(Serialize)]
struct Named<I> {
    id: I,
    name: String,
}

#[derive(Serialize)]
struct Club {
    id: LoadingId,
    name: String,
    loadable: bool,
}

#[derive(Serialize)]
struct Word {
    word: String,
    words: String,
}

#[derive(Serialize)]
struct Answer {
    value: String,
    word: String,
}

#[derive(Serialize)]
struct CarriedLogged {
    session: SessionId,
    revision: RevisionId,
    on: String,
    entry: Entry,
}

/// `GET /carry`: thirteen statements, however much is planned and logged.
pub(crate) async fn give(State(app): State<App>, visit: Visit) -> Result<Json<Carried>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    let today = visit.today;
    let last = today.saturating_add(AHEAD);
    let since = today.saturating_sub(BACK);
    let days = Days::load(&mut tx, athlete.id, today, last, since).await?;
    let within = today.saturating_sub(STILL_OPEN)..=last;
    let planned: Vec<&Planned> = days
        .planned
        .iter()
        .filter(|planned| within.contains(&planned.standing.on))
        .collect();
    let kinds: HashSet<WorkKind> = planned.iter().map(|planned| kind_of(planned)).collect();
    let kinds: Vec<WorkKind> = kinds.into_iter().collect();
    let before = log::last_of_each(&mut tx, athlete.id, &kinds).await?;
    let policy = policies::of_athlete(&mut tx, athlete.id).await?;
    let newest = match days.logged.last() {
        Some(newest) => Some(newest.clone()),
        None => log::before(&mut tx, athlete.id, since, 1).await?.pop(),
    };
    drop(tx);
    let asked = after(&days.standing, newest, policy.own()).on(today);
    let carried = planned
        .into_iter()
        .map(|planned| {
            let before = before.get(&kind_of(planned));
            let before = before.map(|(on, sets)| Before::of(*on, sets));
            CarriedPlanned::of(planned, &days, before)
        })
        .collect();
    book(&visit, &days, policy.own().pain_stop, asked, carried).map(Json)
}

fn book(
    visit: &Visit,
    days: &Days,
    pain_stop: u8,
    asked: Questions,
    planned: Vec<CarriedPlanned>,
) -> Result<Carried, PageError> {
    let internal = |error: &dyn std::fmt::Display| PageError::Internal(error.to_string());
    let (movements, clubs) = named(days);
    let answers = |choices: Vec<Choice>| {
        let answer = |Choice { value, word }| Answer { value, word };
        choices.into_iter().map(answer).collect()
    };
    Ok(Carried {
        format: FORMAT,
        release: assets::release(),
        account: visit.account,
        name: visit.name.clone(),
        gym: visit.gym,
        gym_name: visit.gym_name.clone(),
        zone: visit.zone.clone(),
        now: visit
            .now
            .format(&Rfc3339)
            .map_err(|error| internal(&error))?,
        today: day_value(visit.today),
        csrf: visit.caller.form_token().to_owned(),
        pain_stop,
        must_say: Asked {
            effort: asked.effort.is_some(),
            pain: asked.pain.is_some(),
        },
        waiting: Waiting {
            all: days.all_waits,
            movements: days.waiting.iter().copied().collect(),
        },
        days: contents(visit, days).map_err(|error| internal(&error))?,
        planned,
        movements,
        clubs,
        hands: hands_choices()
            .into_iter()
            .map(|Choice { value, word }| Word {
                word: value,
                words: word,
            })
            .collect(),
        efforts: answers(effort_choices()),
        pains: answers(pain_choices(pain_stop)),
        logged: days
            .logged
            .iter()
            .map(|logged| CarriedLogged {
                session: logged.session,
                revision: logged.revision,
                on: day_value(logged.done.on),
                entry: Entry::of_logged(logged),
            })
            .collect(),
    })
}

/// What Today shows on each of the days.
fn contents(visit: &Visit, days: &Days) -> Result<BTreeMap<String, String>, askama::Error> {
    std::iter::successors(Some(visit.today), |day| day.next_day())
        .take_while(|day| *day <= visit.today.saturating_add(AHEAD))
        .map(|day| {
            let html = days.content(visit, day).render()?;
            Ok((day_value(day), html.trim().to_owned()))
        })
        .collect()
}

/// Movements and clubs to choose from, and those that a carried session has.
fn named(days: &Days) -> (Vec<Named<MovementId>>, Vec<Club>) {
    let sets = || days.logged.iter().flat_map(|logged| &logged.done.sets);
    let planned = || {
        days.planned
            .iter()
            .map(|planned| &planned.standing.prescription)
    };
    let movements: HashSet<MovementId> = sets()
        .map(|set| set.movement)
        .chain(planned().map(|asked| asked.movement))
        .collect();
    let clubs: HashSet<LoadingId> = sets()
        .map(|set| set.loading)
        .chain(planned().map(|asked| asked.loading))
        .collect();
    let movements = days.catalogue.movements(&movements).into_iter();
    let clubs = days.catalogue.clubs(&clubs).into_iter();
    (
        movements.map(|(id, name)| Named { id, name }).collect(),
        clubs
            .map(|(id, name)| Club {
                id,
                name,
                loadable: days.catalogue.is_loadable(id),
            })
            .collect(),
    )
}

/// The kind of work that a planned session asks for.
fn kind_of(planned: &Planned) -> WorkKind {
    let Prescription {
        movement,
        hands,
        loading,
        ask,
        ..
    } = planned.standing.prescription;
    let seconds = match ask {
        Ask::Interval { seconds, .. } => Some(seconds),
        Ask::Straight { .. } => None,
    };
    (movement, hands, loading, seconds)
}

impl CarriedPlanned {
    fn of(planned: &Planned, days: &Days, before: Option<Before>) -> Self {
        let asked = &planned.standing.prescription;
        let (seconds, reps) = match asked.ask {
            Ask::Interval { seconds, .. } => (Some(seconds.get()), None),
            Ask::Straight { reps } => (None, Some(reps.get())),
        };
        Self {
            planned: planned.planned,
            revision: planned.revision,
            on: day_value(planned.standing.on),
            logged: planned.logged,
            waits: days.waits(planned),
            movement: asked.movement,
            movement_name: asked.movement_name.clone(),
            hands: asked.hands.word(),
            hands_words: hands_word(asked.hands),
            club: asked.loading,
            club_name: asked.club_name.clone(),
            loadable: days.catalogue.is_loadable(asked.loading),
            first_with_club: !days.swung.contains(&asked.loading),
            sets: asked.sets,
            seconds,
            reps,
            goal: asked.goal_count(),
            rest_seconds: asked.rest_seconds,
            line: asked.line_for_athlete(),
            note: asked.note.clone(),
            before,
        }
    }
}

impl Before {
    fn of(on: Date, sets: &[SetDone]) -> Self {
        let counts = |side: Side| {
            let of_side = sets.iter().filter(|set| set.side == side);
            of_side.map(|set| set.work.reps().get()).collect()
        };
        Self {
            on: day_value(on),
            left: counts(Side::Left),
            right: counts(Side::Right),
        }
    }
}
