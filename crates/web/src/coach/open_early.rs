//! O1: opening one-hand work early, with a reason.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{AthleteId, DecisionId, GymId, MovementId};
use leverbook_domain::policy::Policy;
use leverbook_domain::text::Reason;
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::blocks::{self, OpenGate};
use leverbook_store::{flags, policies};

use super::offer::Offer;
use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/assign_open_early.html")]
pub(crate) struct OpenEarlyPage {
    frame: Frame,
    form: Form,
    athlete: AthleteId,
    name: String,
    movements: Vec<Choice>,
    clubs_needed: usize,
    months_needed: u32,
    per_week_needed: f64,
}

impl OpenEarlyPage {
    fn new(visit: &Visit, athlete: &Athlete, offer: &Offer, policy: &Policy, form: Form) -> Self {
        Self {
            frame: visit.frame("Open one-hand work early", Nav::Assign),
            form,
            athlete: athlete.id,
            name: athlete.name.to_string(),
            movements: offer
                .movements
                .iter()
                .map(|(id, name)| Choice::new(id.to_string(), name.clone()))
                .collect(),
            clubs_needed: policy.opening_clubs,
            months_needed: policy.opening_months,
            per_week_needed: policy.opening_sessions_per_week,
        }
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(GymId, AthleteId)>,
) -> Result<Page<OpenEarlyPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    let policy = policies::of_athlete(&mut tx, athlete.id).await?;
    let opening: DecisionId = app.new_id();
    let form = Form::with([("opening", opening.to_string())]);
    Ok(Page(OpenEarlyPage::new(
        &visit,
        &athlete,
        &offer,
        policy.own(),
        form,
    )))
}

pub(crate) async fn open(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(GymId, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    let policy = policies::of_athlete(&mut tx, athlete.id).await?;
    let mut errors = FieldErrors::new();
    let movement = errors.read(&posted, "movement", |text| {
        let known = |id: &MovementId| offer.movement_name(*id).is_some();
        let movement = text.parse().ok().filter(known);
        movement.ok_or("choose a movement from the list")
    });
    let reason = errors.read(&posted, "reason", |text| {
        if text.is_empty() {
            return Err("say why: it stays in the history".to_owned());
        }
        Reason::new(text).map_err(|error| error.to_string())
    });
    let (Some(movement), Some(reason)) = (movement, reason) else {
        let form = Form::again(&posted, errors);
        let page = OpenEarlyPage::new(&visit, &athlete, &offer, policy.own(), form);
        return Ok(Page::unprocessable(page));
    };
    let gate = OpenGate {
        opening: posted
            .text("opening")
            .parse()
            .unwrap_or_else(|_| app.new_id()),
        athlete: athlete.id,
        movement,
        on: visit.today,
        reason: reason.as_str().to_owned(),
    };
    blocks::open_gate(&mut tx, &gate, visit.now).await?;
    flags::reassess(&mut tx, athlete.id, visit.today).await?;
    tx.commit().await?;
    let next = format!(
        "assign?athlete={}&movement={movement}&done=opened",
        athlete.id
    );
    Ok(see_other(&visit.to(&next)))
}
