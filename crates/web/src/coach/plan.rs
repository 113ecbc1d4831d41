//! An athlete's plan over all blocks, and what was done to it.

use askama::Template;
use axum::extract::{Path, State};
use leverbook_domain::id::{AthleteId, GymId};
use leverbook_domain::roster::Status;
use leverbook_store::{athletes, plan_acts};

use super::plan_calendar::{PlanCalendar, Told};
use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

/// How many acts are listed.
const ACTS: i64 = 20;

#[derive(Template)]
#[template(path = "coach/plan.html")]
pub(crate) struct PlanPage {
    frame: Frame,
    name: String,
    athlete: AthleteId,
    is_paused: bool,
    calendar: PlanCalendar,
    acts: Vec<Told>,
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(GymId, AthleteId)>,
) -> Result<Page<PlanPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let calendar = PlanCalendar::load(&mut tx, &app, &visit, athlete.id, None).await?;
    let acts = plan_acts::of_athlete(&mut tx, athlete.id, ACTS).await?;
    Ok(Page(PlanPage {
        frame: visit.frame("Plan", Nav::Roster),
        name: athlete.name.to_string(),
        athlete: athlete.id,
        is_paused: athlete.status == Status::Paused,
        calendar,
        acts: acts.iter().map(Told::of).collect(),
    }))
}
