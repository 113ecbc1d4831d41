//! Logging: a session of one's own, planned or not, and changes to it.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{LoadingId, MovementId, PlannedId, RevisionId, SessionId};
use leverbook_domain::plan::{Ask, PlannedState, Prescription};
use leverbook_domain::training::{Hands, SetDone, Work};
use leverbook_domain::units::{Reps, Seconds};
use leverbook_store::athletes::Athlete;
use leverbook_store::blocks::{self, Planned};
use leverbook_store::log::{self, Done, NewRevision, PlannedSeen, RecordError, Recorded, Revision};
use leverbook_store::notes::About;
use leverbook_store::{GymTx, StoreError, flags};
use serde::Deserialize;
use time::Date;

use super::log_form::{
    Allowed, LogForm, OpenDays, Start, Wish, counted_choices, day_from, effort_choices,
    hands_choices, pain_choices, side_choices,
};
use super::questions::AfterSession;
use super::show::SessionWords;
use super::whose::{Own, Whose};
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::notes::{Reader, Section};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::{Sight, Visit};

/// What a form that is not about a planned session begins with.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Begin {
    #[serde(default)]
    planned: String,
    #[serde(default)]
    movement: String,
    #[serde(default)]
    hands: String,
    #[serde(default)]
    club: String,
    #[serde(default)]
    counted: String,
    #[serde(default)]
    sets: String,
    #[serde(default)]
    seconds: String,
}

impl Begin {
    /// What was swung first in a session: the likeliest work of the next.
    fn like(done: &Done) -> Self {
        let Some(first) = done.sets.first() else {
            return Self::default();
        };
        let sets = done.sets.iter().filter(|set| {
            set.side == first.side
                && (set.movement, set.hands, set.loading)
                    == (first.movement, first.hands, first.loading)
        });
        let (counted, seconds) = match first.work {
            Work::Interval { seconds, .. } => ("time", seconds.get().to_string()),
            Work::Straight { .. } => ("reps", String::new()),
        };
        Self {
            planned: String::new(),
            movement: first.movement.to_string(),
            hands: first.hands.word().to_owned(),
            club: first.loading.to_string(),
            counted: counted.to_owned(),
            sets: sets.count().to_string(),
            seconds,
        }
    }
}

#[derive(Template)]
#[template(path = "athlete/log_start.html")]
struct StartPage {
    frame: Frame,
    /// Where the choice is sent.
    action: String,
    begin: Begin,
    movements: Vec<Choice>,
    hands: Vec<Choice>,
    clubs: Vec<Choice>,
    counted: Vec<Choice>,
    wrong: Vec<(&'static str, &'static str)>,
}

#[derive(Template)]
#[template(path = "athlete/log_form.html")]
struct FormPage {
    frame: Frame,
    /// Where the form is sent.
    action: String,
    form: LogForm,
    /// What the plan asks, in one line.
    asked: Option<String>,
    /// Why the form is here again beside what stands.
    conflict: Option<Conflict>,
    movements: Vec<Choice>,
    clubs: Vec<Choice>,
    hands: Vec<Choice>,
    counted: Vec<Choice>,
    sides: Vec<Choice>,
    efforts: Vec<Choice>,
    pains: Vec<Choice>,
    after: AfterSession,
}

/// What stands in the log where something else was sent.
struct Conflict {
    /// What happened, in one sentence.
    sentence: &'static str,
    /// `None` where the session was taken back.
    standing: Option<SessionWords>,
    /// The address of the session as it stands.
    address: String,
}

#[derive(Template)]
#[template(path = "athlete/log_session.html")]
struct SessionPage {
    frame: Frame,
    by_coach: bool,
    /// The way back.
    back: String,
    edit: String,
    take_back: String,
    now: Option<SessionWords>,
    /// Pain so strong that the work stops.
    stop: bool,
    revisions: Vec<RevisionWords>,
    /// For the form that takes it back.
    take_back_id: RevisionId,
    newest: RevisionId,
    /// What was written about it.
    written: Section,
}

struct RevisionWords {
    when: String,
    who: &'static str,
    words: Option<SessionWords>,
}

fn choices<I: ToString>(named: &[(I, String)]) -> Vec<Choice> {
    named
        .iter()
        .map(|(id, name)| Choice::new(id.to_string(), name.clone()))
        .collect()
}

/// What is allowed in a form about these sets, planned so, on a session that had this day.
fn allowed(
    own: &Own,
    visit: &Visit,
    sets: &[SetDone],
    planned: Option<&Prescription>,
    own_day: Option<Date>,
) -> Allowed {
    let mut movements: HashSet<MovementId> = sets.iter().map(|set| set.movement).collect();
    let mut clubs: HashSet<LoadingId> = sets.iter().map(|set| set.loading).collect();
    let mut asked: HashMap<(MovementId, Hands, LoadingId), Reps> = sets
        .iter()
        .filter_map(|set| match set.work {
            Work::Straight { asked, .. } => Some(((set.movement, set.hands, set.loading), asked?)),
            Work::Interval { .. } => None,
        })
        .collect();
    if let Some(planned) = planned {
        movements.insert(planned.movement);
        clubs.insert(planned.loading);
        if let Ask::Straight { reps } = planned.ask {
            asked.insert((planned.movement, planned.hands, planned.loading), reps);
        }
    }
    Allowed {
        movements: own.catalogue.movements(&movements),
        clubs: own.catalogue.clubs(&clubs),
        asked,
        days: OpenDays::new(own.athlete.started_on, visit.today, own_day),
        after: own.after,
    }
}

fn form_page(
    visit: &Visit,
    own: &Own,
    title: &str,
    action: String,
    form: LogForm,
    allowed: &Allowed,
    asked: Option<&Prescription>,
) -> FormPage {
    let day = day_from(form.value("day")).unwrap_or(visit.today);
    let after = AfterSession {
        questions: own.after.questions.on(day),
        ..own.after
    };
    FormPage {
        frame: visit.frame(own.title(title), own.nav(Nav::Today)),
        action,
        form,
        asked: asked.map(|asked| {
            format!(
                "{}, {}: {}",
                asked.movement_name,
                asked.club_name,
                asked.line_for_athlete()
            )
        }),
        conflict: None,
        movements: choices(&allowed.movements),
        clubs: choices(&allowed.clubs),
        hands: hands_choices(),
        counted: counted_choices(),
        sides: side_choices(),
        efforts: effort_choices(),
        pains: pain_choices(own.after.pain_stop),
        after,
    }
}

/// What the athlete saw of a planned session. Another's does not exist.
async fn prescription(
    tx: &mut GymTx,
    athlete: &Athlete,
    seen: PlannedSeen,
) -> Result<Prescription, StoreError> {
    let planned = blocks::planned(tx, seen.planned).await?;
    if planned.athlete != athlete.id {
        return Err(StoreError::NotFound);
    }
    if planned.revision == seen.revision {
        return Ok(planned.standing.prescription);
    }
    blocks::revisions(tx, seen.planned)
        .await?
        .into_iter()
        .find(|revision| revision.revision == seen.revision)
        .map(|revision| revision.standing.prescription)
        .ok_or(StoreError::NotFound)
}

async fn prescription_if(
    tx: &mut GymTx,
    athlete: &Athlete,
    seen: Option<PlannedSeen>,
) -> Result<Option<Prescription>, StoreError> {
    match seen {
        Some(seen) => Ok(Some(prescription(tx, athlete, seen).await?)),
        None => Ok(None),
    }
}

/// `GET /log/new`: the form for a planned session, for chosen work, or the choice of work.
pub(crate) async fn new(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    Query(begin): Query<Begin>,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let own = whose.open(&mut tx, &visit).await?;
    if !begin.planned.is_empty() {
        let planned: PlannedId = begin.planned.parse().map_err(|_| PageError::NotFound)?;
        let planned = blocks::planned(&mut tx, planned).await?;
        return new_planned(&app, &visit, &own, &planned);
    }
    let allowed = allowed(&own, &visit, &[], None, None);
    match start_of(&begin, &allowed) {
        Ok(start) => {
            let form = LogForm::fresh(app.new_id(), visit.today, None, start);
            let action = own.to("new");
            let page = form_page(&visit, &own, "Log a session", action, form, &allowed, None);
            Ok(Page(page).into_response())
        }
        Err(wrong) if wrong.is_empty() => {
            let tomorrow = visit.today.next_day().unwrap_or(visit.today);
            let newest = log::before(&mut tx, own.athlete.id, tomorrow, 1).await?;
            let begin = newest
                .first()
                .map_or_else(Begin::default, |logged| Begin::like(&logged.done));
            Ok(start_page(&visit, &own, begin, &allowed, wrong))
        }
        Err(wrong) => Ok(start_page(&visit, &own, begin, &allowed, wrong)),
    }
}

/// The form for a planned session; where it is logged already, the way to that.
fn new_planned(
    app: &App,
    visit: &Visit,
    own: &Own,
    planned: &Planned,
) -> Result<Response, PageError> {
    if planned.athlete != own.athlete.id {
        return Err(PageError::NotFound);
    }
    if let Some(logged) = planned.logged {
        return Ok(see_other(&own.to(logged)));
    }
    if planned.standing.state != PlannedState::Planned {
        return Ok(see_other(&own.to("new")));
    }
    let seen = PlannedSeen {
        planned: planned.planned,
        revision: planned.revision,
    };
    let asked = &planned.standing.prescription;
    let day = planned.standing.on.min(visit.today);
    let form = LogForm::fresh(app.new_id(), day, Some(seen), Start::from(asked));
    let allowed = allowed(own, visit, &[], Some(asked), None);
    let action = own.to("new");
    let page = form_page(
        visit,
        own,
        "Log a session",
        action,
        form,
        &allowed,
        Some(asked),
    );
    Ok(Page(page).into_response())
}

/// The choice of work; with what is missing, where something was chosen.
fn start_page(
    visit: &Visit,
    own: &Own,
    begin: Begin,
    allowed: &Allowed,
    wrong: Vec<(&'static str, &'static str)>,
) -> Response {
    let fresh = wrong.is_empty();
    let page = StartPage {
        frame: visit.frame(own.title("Log a session"), own.nav(Nav::Today)),
        action: own.to("new"),
        begin,
        movements: choices(&allowed.movements),
        hands: hands_choices(),
        clubs: choices(&allowed.clubs),
        counted: counted_choices(),
        wrong,
    };
    if fresh {
        Page(page).into_response()
    } else {
        Page::unprocessable(page)
    }
}

/// The chosen work; where nothing was chosen yet, no complaint either.
fn start_of(begin: &Begin, allowed: &Allowed) -> Result<Start, Vec<(&'static str, &'static str)>> {
    if begin.movement.is_empty() && begin.club.is_empty() {
        return Err(Vec::new());
    }
    let mut wrong = Vec::new();
    let movement = begin
        .movement
        .parse()
        .ok()
        .filter(|id| allowed.movements.iter().any(|(known, _)| known == id));
    let loading = begin
        .club
        .parse()
        .ok()
        .filter(|id| allowed.clubs.iter().any(|(known, _)| known == id));
    let hands = Hands::from_word(&begin.hands);
    let sets = begin
        .sets
        .trim()
        .parse()
        .ok()
        .filter(|sets| (1..=40u8).contains(sets));
    let timed = begin.counted != "reps";
    let seconds = begin
        .seconds
        .trim()
        .parse()
        .ok()
        .and_then(|seconds| Seconds::new(seconds).ok());
    for (missing, field, sentence) in [
        (movement.is_none(), "movement", "Choose a movement"),
        (hands.is_none(), "hands", "Choose how the club is held"),
        (loading.is_none(), "club", "Choose a club"),
        (sets.is_none(), "sets", "Say how many sets a side, 1 to 40"),
        (
            timed && seconds.is_none(),
            "seconds",
            "Say how many seconds a set takes, 1 to 3600",
        ),
    ] {
        if missing {
            wrong.push((field, sentence));
        }
    }
    match (movement, hands, loading, sets) {
        (Some(movement), Some(hands), Some(loading), Some(sets_a_side)) if wrong.is_empty() => {
            Ok(Start {
                movement,
                hands,
                loading,
                sets_a_side,
                seconds: seconds.filter(|_| timed),
                reps: None,
            })
        }
        _ => Err(wrong),
    }
}

/// `POST /log/new`: stores a session, once however often it is sent.
pub(crate) async fn send(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let own = whose.open(&mut tx, &visit).await?;
    let form = LogForm::sent(&posted);
    let planned = prescription_if(&mut tx, &own.athlete, form.planned()).await?;
    let allowed = allowed(&own, &visit, &[], planned.as_ref(), None);
    let page = form_page(
        &visit,
        &own,
        "Log a session",
        own.to("new"),
        form,
        &allowed,
        planned.as_ref(),
    );
    store(&app, &visit, tx, &own, &allowed, page, None).await
}

/// `GET /log/{session}/edit`: the form with what stands.
pub(crate) async fn edit(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
) -> Result<Response, PageError> {
    let session = whose.session()?;
    let mut tx = visit.enter(&app).await?;
    let own = whose.open(&mut tx, &visit).await?;
    let newest = newest(&mut tx, &own.athlete, session).await?;
    let done = newest.done.clone().ok_or(PageError::NotFound)?;
    let planned = prescription_if(&mut tx, &own.athlete, done.planned).await?;
    let allowed = allowed(&own, &visit, &done.sets, planned.as_ref(), Some(done.on));
    let form = LogForm::of(app.new_id(), newest.revision, &done);
    let action = own.to(format_args!("{session}/edit"));
    let page = form_page(
        &visit,
        &own,
        "Change a session",
        action,
        form,
        &allowed,
        planned.as_ref(),
    );
    Ok(Page(page).into_response())
}

async fn newest(
    tx: &mut GymTx,
    athlete: &Athlete,
    session: SessionId,
) -> Result<Revision, StoreError> {
    log::revisions(tx, athlete.id, session)
        .await?
        .pop()
        .ok_or(StoreError::NotFound)
}

/// `POST /log/{session}/edit`: a new revision in place of the one that the form names.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    posted: Posted,
) -> Result<Response, PageError> {
    let session = whose.session()?;
    let mut tx = visit.enter(&app).await?;
    let own = whose.open(&mut tx, &visit).await?;
    let newest = newest(&mut tx, &own.athlete, session).await?;
    let form = LogForm::sent(&posted);
    let planned = prescription_if(&mut tx, &own.athlete, form.planned()).await?;
    let sets = newest.done.as_ref().map_or(&[][..], |done| &done.sets);
    let allowed = allowed(&own, &visit, sets, planned.as_ref(), Some(newest.on));
    let page = form_page(
        &visit,
        &own,
        "Change a session",
        own.to(format_args!("{session}/edit")),
        form,
        &allowed,
        planned.as_ref(),
    );
    store(&app, &visit, tx, &own, &allowed, page, Some(session)).await
}

/// Stores what a form means, with the flags that follow from it, in one transaction; or shows the
/// form again.
async fn store(
    app: &App,
    visit: &Visit,
    mut tx: GymTx,
    own: &Own,
    allowed: &Allowed,
    mut page: FormPage,
    session: Option<SessionId>,
) -> Result<Response, PageError> {
    let first_movement = allowed.movements.first().map(|(id, _)| *id);
    if page.form.wish(first_movement) == Wish::MoreRoom {
        return Ok(Page(page).into_response());
    }
    let Some(read) = page.form.read(allowed) else {
        return Ok(Page::unprocessable(page));
    };
    // A change names what it replaces, a first sending must not.
    if session.is_some() != read.replaces.is_some() {
        return Err(PageError::Unreadable(
            "The form was changed on its way here. Open it again and copy over what you typed.",
        ));
    }
    let new = NewRevision {
        revision: read.revision,
        replaces: read.replaces,
        athlete: own.athlete.id,
        done: Some(read.done),
        logged_at: visit.now,
    };
    let session = session.unwrap_or(SessionId(new.revision.0));
    let done = own.to(format_args!("{session}?done=logged"));
    match flags::record(&mut tx, &new, visit.today).await {
        Ok(Recorded::Stored | Recorded::AlreadyStored) => {
            tx.commit().await?;
            Ok(see_other(&done))
        }
        Err(RecordError::OtherContent { stored }) => {
            let newest = newest(&mut tx, &own.athlete, stored.session).await?;
            let sentence = "This form was sent before, and is in the log as below. What you sent \
                now is different: send it again to change the session, or leave it as it stands.";
            Ok(conflict(app, own, page, &newest, sentence))
        }
        Err(RecordError::ReplacedMeanwhile { newest }) => {
            let sentence = "Somebody changed this session since you opened the form; it is in the \
                log as below. What you typed is kept here: send it again to change the session to \
                it, or leave it as it stands.";
            Ok(conflict(app, own, page, &newest, sentence))
        }
        Err(RecordError::TooMuch) => Err(PageError::TooLarge),
        Err(RecordError::Store(error)) => Err(error.into()),
    }
}

/// The form with what was typed, beside what stands, ready to be sent as a change to it.
fn conflict(
    app: &App,
    own: &Own,
    mut page: FormPage,
    newest: &Revision,
    sentence: &'static str,
) -> Response {
    let id = app.new_id();
    page.form = page.form.replacing(id, newest.revision);
    page.action = own.to(format_args!("{}/edit", newest.session));
    page.conflict = Some(Conflict {
        sentence,
        standing: newest
            .done
            .as_ref()
            .map(|done| SessionWords::of(done, &own.catalogue)),
        address: own.to(newest.session),
    });
    (StatusCode::CONFLICT, Page(page)).into_response()
}

/// `GET /log/{session}`: one session, and how it came to be as it is.
pub(crate) async fn session(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    sight: Sight,
) -> Result<Response, PageError> {
    let session = whose.session()?;
    let mut tx = visit.enter(&app).await?;
    let own = whose.open(&mut tx, &visit).await?;
    let mut revisions = log::revisions(&mut tx, own.athlete.id, session).await?;
    let newest = revisions.pop().ok_or(PageError::NotFound)?;
    let done = newest.done.as_ref();
    let stop = done.is_some_and(|done| done.stops_the_work(own.after.pain_stop));
    let words = |done: &Done| SessionWords::of(done, &own.catalogue);
    let title = own.title(&format!("Session of {}", day_label(newest.on)));
    let mut frame = visit.frame(title, own.nav(Nav::Mine));
    let written = Reader::new(&visit, &own.athlete, own.by_coach)
        .about(&app, &mut tx, About::Session(session), sight, &mut frame)
        .await?;
    tx.commit().await?;
    let page = SessionPage {
        frame,
        written,
        by_coach: own.by_coach,
        back: if own.by_coach {
            visit.to(&format!("athletes/{}", own.athlete.id))
        } else {
            visit.to("today")
        },
        edit: own.to(format_args!("{session}/edit")),
        take_back: own.to(format_args!("{session}/take-back")),
        now: newest.done.as_ref().map(words),
        stop,
        take_back_id: app.new_id(),
        newest: newest.revision,
        revisions: revisions
            .iter()
            .rev()
            .map(|old| RevisionWords {
                when: day_label(old.logged_at.date()),
                who: if old.logged_by == visit.account {
                    "you"
                } else if own.by_coach {
                    "somebody else"
                } else {
                    "your coach"
                },
                words: old.done.as_ref().map(words),
            })
            .collect(),
    };
    Ok(Page(page).into_response())
}

/// `POST /log/{session}/take-back`: the session no longer counts; its revisions stay.
pub(crate) async fn take_back(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    posted: Posted,
) -> Result<Response, PageError> {
    let session = whose.session()?;
    let ids = (posted.text("id").parse(), posted.text("replaces").parse());
    let (Ok(revision), Ok(replaces)) = ids else {
        return Err(PageError::Unreadable(
            "The form was changed on its way here. Open the session again.",
        ));
    };
    let mut tx = visit.enter(&app).await?;
    let own = whose.open(&mut tx, &visit).await?;
    let new = NewRevision {
        revision,
        replaces: Some(replaces),
        athlete: own.athlete.id,
        done: None,
        logged_at: visit.now,
    };
    match flags::record(&mut tx, &new, visit.today).await {
        Ok(Recorded::Stored | Recorded::AlreadyStored) => tx.commit().await?,
        Err(RecordError::Store(error)) => return Err(error.into()),
        Err(
            RecordError::OtherContent { .. }
            | RecordError::ReplacedMeanwhile { .. }
            | RecordError::TooMuch,
        ) => {
            return Err(PageError::Conflict(
                "This session was changed since you opened it. Open it again to see how it \
                 stands, then take it back if you still want to."
                    .to_owned(),
            ));
        }
    }
    Ok(see_other(
        &own.to(format_args!("{session}?done=taken-back")),
    ))
}
