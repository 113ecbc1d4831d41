//! An athlete's details: added, changed, excused.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{AccountId, AthleteId, DecisionId};
use leverbook_domain::roster::{ExcusedKind, PersonName, Status};
use leverbook_domain::text::{Prose, Reason};
use leverbook_store::athletes::{self, Athlete, Details};
use leverbook_store::people::{self, Role};
use leverbook_store::roster::{self, Excused, NewExcused};
use leverbook_store::{GymTx, StoreError};

use crate::App;
use crate::days::{day, day_until};
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// The coaches' notes on an athlete.
type Notes = Prose<4000>;

#[derive(Template)]
#[template(path = "coach/athlete_new.html")]
pub(crate) struct NewAthletePage {
    frame: Frame,
    form: Form,
    coaches: Vec<Choice>,
}

#[derive(Template)]
#[template(path = "coach/athlete_edit.html")]
pub(crate) struct EditAthletePage {
    frame: Frame,
    form: Form,
    /// The form for excused days, which is sent on its own.
    days: Form,
    athlete: Athlete,
    coaches: Vec<Choice>,
    statuses: Vec<Choice>,
    kinds: Vec<Choice>,
    excused: Vec<Excused>,
}

/// An empty form, with oneself as the coach.
pub(crate) async fn add_form(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<NewAthletePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let form = Form::with([
        ("started_on", visit.today.to_string()),
        ("coach", visit.account.to_string()),
    ]);
    new_page(&mut tx, &visit, form).await.map(Page)
}

async fn new_page(tx: &mut GymTx, visit: &Visit, form: Form) -> Result<NewAthletePage, PageError> {
    Ok(NewAthletePage {
        frame: visit.frame("Add an athlete", Nav::Roster),
        form,
        coaches: coaches(tx).await?,
    })
}

/// Everybody who coaches here.
async fn coaches(tx: &mut GymTx) -> Result<Vec<Choice>, StoreError> {
    Ok(people::list(tx)
        .await?
        .into_iter()
        .filter(|person| person.roles.has(Role::Coach))
        .map(|person| Choice::new(person.id.to_string(), person.name.to_string()))
        .collect())
}

/// Adds an athlete to the roster.
pub(crate) async fn add(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let mut errors = FieldErrors::new();
    let name = errors.read(&posted, "name", PersonName::new);
    let started_on = errors.read(&posted, "started_on", |text| day(text, visit.today));
    let notes = errors.read(&posted, "notes", Notes::new);
    let coaches = read_coaches(&mut tx, &posted, &mut errors).await?;
    if let (Some(name), Some(started_on), Some(notes), Some(coaches)) =
        (name, started_on, notes, coaches)
    {
        let details = Details {
            name,
            started_on,
            status: Status::Active,
            status_since: started_on,
            notes: notes.as_str().to_owned(),
        };
        let id: AthleteId = app.new_id();
        roster::enrol(&mut tx, id, &details, &coaches, visit.now, visit.today).await?;
        tx.commit().await?;
        return Ok(see_other(&visit.to("roster?done=athlete-added")));
    }
    let form = Form::again(&posted, errors);
    Ok(Page::unprocessable(new_page(&mut tx, &visit, form).await?))
}

/// The coaches that are ticked: at least one, and each a coach of this gym.
async fn read_coaches(
    tx: &mut GymTx,
    posted: &Posted,
    errors: &mut FieldErrors,
) -> Result<Option<Vec<AccountId>>, StoreError> {
    let known = coaches(tx).await?;
    let ticked: Vec<&str> = posted.all("coach");
    let all_known = ticked
        .iter()
        .all(|id| known.iter().any(|choice| choice.value == *id));
    let ids: Vec<AccountId> = ticked.iter().filter_map(|id| id.parse().ok()).collect();
    if ids.is_empty() {
        errors.add("coach", "tick at least one coach");
        return Ok(None);
    }
    if !all_known {
        errors.add("coach", "somebody ticked is no longer a coach here");
        return Ok(None);
    }
    Ok(Some(ids))
}

/// An athlete's details as they stand.
pub(crate) async fn change_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
) -> Result<Page<EditAthletePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let form = form_of(&mut tx, &athlete).await?;
    let days = Form::default();
    edit_page(&mut tx, &visit, athlete, form, days)
        .await
        .map(Page)
}

async fn form_of(tx: &mut GymTx, athlete: &Athlete) -> Result<Form, StoreError> {
    let coaches = roster::coaches_of(tx, athlete.id).await?;
    let values = [
        ("name", athlete.name.to_string()),
        ("started_on", athlete.started_on.to_string()),
        ("status", athlete.status.word().to_owned()),
        ("status_since", athlete.status_since.to_string()),
        ("notes", athlete.notes.clone()),
    ];
    Ok(Form::with(
        values
            .into_iter()
            .chain(coaches.iter().map(|id| ("coach", id.to_string()))),
    ))
}

async fn edit_page(
    tx: &mut GymTx,
    visit: &Visit,
    athlete: Athlete,
    form: Form,
    days: Form,
) -> Result<EditAthletePage, PageError> {
    Ok(EditAthletePage {
        frame: visit.frame(athlete.name.as_str(), Nav::Roster),
        form,
        days,
        coaches: coaches(tx).await?,
        statuses: [
            (Status::Active, "Active: trains"),
            (
                Status::Paused,
                "Paused: comes back, nothing counts as missed",
            ),
            (Status::Left, "Left: the log stays"),
        ]
        .map(|(status, word)| Choice::new(status.word(), word))
        .into(),
        kinds: [
            (ExcusedKind::Pause, "pause"),
            (ExcusedKind::Travel, "travel"),
            (ExcusedKind::Illness, "illness"),
            (ExcusedKind::Competition, "competition"),
            (ExcusedKind::Other, "something else"),
        ]
        .map(|(kind, word)| Choice::new(kind.word(), word))
        .into(),
        excused: roster::excused(tx, athlete.id).await?,
        athlete,
    })
}

/// Changes an athlete's details and coaches.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let mut errors = FieldErrors::new();
    let details = read_details(&posted, &visit, &mut errors);
    let coaches = read_coaches(&mut tx, &posted, &mut errors).await?;
    if let (Some(details), Some(coaches)) = (details, coaches) {
        let (pause, now, today) = (app.new_id(), visit.now, visit.today);
        roster::change(&mut tx, athlete.id, &details, &coaches, pause, now, today).await?;
        tx.commit().await?;
        // Whoever passed an athlete on cannot open their page any more.
        let next = if coaches.contains(&visit.account) {
            format!("athletes/{}/edit?done=saved", athlete.id)
        } else {
            "roster?done=saved".to_owned()
        };
        return Ok(see_other(&visit.to(&next)));
    }
    let form = Form::again(&posted, errors);
    let page = edit_page(&mut tx, &visit, athlete, form, Form::default()).await?;
    Ok(Page::unprocessable(page))
}

fn read_details(posted: &Posted, visit: &Visit, errors: &mut FieldErrors) -> Option<Details> {
    let name = errors.read(posted, "name", PersonName::new);
    let started_on = errors.read(posted, "started_on", |text| day(text, visit.today));
    let status = errors.read(posted, "status", |word| {
        Status::from_word(word).ok_or("choose active, paused or left")
    });
    let status_since = errors.read(posted, "status_since", |text| day_until(text, visit.today));
    let notes = errors.read(posted, "notes", Notes::new);
    Some(Details {
        name: name?,
        started_on: started_on?,
        status: status?,
        status_since: status_since?,
        notes: notes?.as_str().to_owned(),
    })
}

/// Excuses days: they do not count as missed.
pub(crate) async fn excuse(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let mut errors = FieldErrors::new();
    if let Some(days) = read_excused(&app, &posted, &visit, &mut errors) {
        roster::excuse(&mut tx, athlete.id, &days, visit.now, visit.today).await?;
        tx.commit().await?;
        let next = format!("athletes/{}/edit?done=excused", athlete.id);
        return Ok(see_other(&visit.to(&next)));
    }
    let form = form_of(&mut tx, &athlete).await?;
    let days = Form::again(&posted, errors);
    Ok(Page::unprocessable(
        edit_page(&mut tx, &visit, athlete, form, days).await?,
    ))
}

fn read_excused(
    app: &App,
    posted: &Posted,
    visit: &Visit,
    errors: &mut FieldErrors,
) -> Option<NewExcused> {
    let kind = errors.read(posted, "kind", |word| {
        ExcusedKind::from_word(word).ok_or("choose what it was")
    });
    let first = errors.read(posted, "first_day", |text| day(text, visit.today));
    let last = errors.read(posted, "last_day", |text| day(text, visit.today));
    let reason = errors.read(posted, "reason", Reason::new);
    let (first_day, last_day) = (first?, last?);
    if last_day < first_day {
        errors.add("last_day", "must not be before the first day");
        return None;
    }
    Some(NewExcused {
        id: app.new_id(),
        kind: kind?,
        first_day,
        last_day,
        reason: reason?,
    })
}

/// Takes an excuse back.
pub(crate) async fn take_back_excuse(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete, excused)): Path<(String, AthleteId, DecisionId)>,
    _token_checked: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    roster::take_back_excuse(&mut tx, athlete.id, excused, visit.now, visit.today).await?;
    tx.commit().await?;
    let next = format!("athletes/{}/edit?done=excuse-taken-back", athlete.id);
    Ok(see_other(&visit.to(&next)))
}
