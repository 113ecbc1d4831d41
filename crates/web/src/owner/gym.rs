//! The gym's name and zone.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use leverbook_domain::text::GymName;
use leverbook_store::gyms;

use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form, text_of};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "owner/gym.html")]
struct GymPage {
    frame: Frame,
    form: Form,
}

fn page(visit: &Visit, form: Form) -> GymPage {
    GymPage {
        frame: visit.frame("The gym", Nav::Gym),
        form,
    }
}

pub(crate) async fn show(visit: Visit) -> Response {
    let form = Form::with([("name", &visit.gym_name), ("zone", &visit.zone)]);
    Page(page(&visit, form)).into_response()
}

pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let name = errors.read(&posted, "name", GymName::new);
    let zone = errors.read(&posted, "zone", text_of(1..=60));
    if let Some(zone) = &zone
        && !gyms::zone_exists(&app.store, zone).await?
    {
        errors.add("zone", "There is no such time zone; one is Europe/Lisbon");
    }
    let (Some(name), Some(zone), false) = (name, zone, errors.any()) else {
        return Ok(Page::unprocessable(page(
            &visit,
            Form::again(&posted, errors),
        )));
    };
    let mut tx = visit.enter(&app).await?;
    gyms::rename(&mut tx, &name, &zone).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to("gym?done=saved")))
}
