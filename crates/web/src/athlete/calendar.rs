//! The link to one's plan in a calendar: made, replaced, revoked, and the time of day it shows.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use leverbook_store::calendar::{self, Link};
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{StoreError, athletes};
use time::Time;
use time::macros::format_description;

use crate::account::own::instant;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;
use crate::{App, tokens};

#[derive(Template)]
#[template(path = "athlete/calendar.html")]
struct CalendarPage {
    frame: Frame,
    /// Since when there is a link.
    made: Option<String>,
    /// The link itself, right after it was made: it is not stored.
    fresh: Option<Addresses>,
    zone: String,
    form: Form,
    only_here: bool,
}

/// The same link for a calendar to read, and for a program to open.
struct Addresses {
    plain: String,
    webcal: String,
}

impl Addresses {
    fn new(app: &App, visit: &Visit, token: &str) -> Self {
        let plain = format!(
            "{}/calendar/{}/{token}/plan.ics",
            app.config.origin(),
            visit.gym
        );
        let rest = plain
            .split_once("://")
            .map_or(plain.as_str(), |(_, rest)| rest);
        Self {
            webcal: format!("webcal://{rest}"),
            plain,
        }
    }
}

impl CalendarPage {
    fn new(app: &App, visit: &Visit, link: Option<&Link>) -> Self {
        let time = link.and_then(|link| link.starts_at);
        Self {
            frame: visit.frame("In your calendar", Nav::Plan),
            made: link.map(|link| instant(link.made_at)),
            fresh: None,
            zone: visit.zone.clone(),
            form: Form::with([("starts_at", time.map(typed).unwrap_or_default())]),
            only_here: app.config.is_for_this_machine_only(),
        }
    }
}

async fn own_link(app: &App, visit: &Visit) -> Result<Option<Link>, StoreError> {
    let mut tx = visit.enter(app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    calendar::of_athlete(&mut tx, athlete.id).await
}

/// `GET /g/{gym}/calendar`.
pub(crate) async fn show(State(app): State<App>, visit: Visit) -> Result<Response, PageError> {
    let link = own_link(&app, &visit).await?;
    Ok(Page(CalendarPage::new(&app, &visit, link.as_ref())).into_response())
}

/// Makes a link, in place of the one that there was.
pub(crate) async fn make(
    State(app): State<App>,
    visit: Visit,
    _: Posted,
) -> Result<Response, PageError> {
    let token = tokens::secret();
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    calendar::give(&mut tx, athlete.id, TokenHash::of(&token), visit.now).await?;
    let link = calendar::of_athlete(&mut tx, athlete.id).await?;
    tx.commit().await?;
    // Not sent on to another page: the token is not stored, so it can only be shown now.
    Ok(Page(CalendarPage {
        fresh: Some(Addresses::new(&app, &visit, &token)),
        ..CalendarPage::new(&app, &visit, link.as_ref())
    })
    .into_response())
}

/// Sets the time of day at which sessions stand in the calendar.
pub(crate) async fn set_time(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let time = errors.read_optional(&posted, "starts_at", time_of_day);
    if errors.any() {
        let link = own_link(&app, &visit).await?;
        return Ok(Page::unprocessable(CalendarPage {
            form: Form::again(&posted, errors),
            ..CalendarPage::new(&app, &visit, link.as_ref())
        }));
    }
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    match calendar::set_time(&mut tx, athlete.id, time, visit.now).await {
        Ok(()) => tx.commit().await?,
        Err(StoreError::NotFound) => {
            return Err(PageError::Conflict(
                "The link was revoked before the time was saved. Make a new one, then set the time again."
                    .to_owned(),
            ));
        }
        Err(error) => return Err(error.into()),
    }
    Ok(see_other(&visit.to("calendar?done=calendar-time")))
}

/// Ends the link. Sent twice, it is done once.
pub(crate) async fn revoke(
    State(app): State<App>,
    visit: Visit,
    _: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    calendar::revoke(&mut tx, athlete.id).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to("calendar?done=calendar-revoked")))
}

/// As the field shows it: 18:30.
fn typed(time: Time) -> String {
    format!("{:02}:{:02}", time.hour(), time.minute())
}

fn time_of_day(text: &str) -> Result<Time, &'static str> {
    Time::parse(text, format_description!("[hour padding:none]:[minute]"))
        .map_err(|_| "is a time of day, such as 18:30")
}

#[cfg(test)]
mod tests {
    use time::macros::time;

    use super::*;

    // By hand. A browser's field sends HH:MM (HTML, "valid time string"); people type 7:05 too.
    #[test]
    fn a_time_of_day_is_read_as_it_is_shown() {
        for (text, read) in [
            ("18:30", Some(time!(18:30))),
            ("00:00", Some(time!(00:00))),
            ("23:59", Some(time!(23:59))),
            ("07:05", Some(time!(07:05))),
            ("7:05", Some(time!(07:05))),
            ("24:00", None),
            ("18:60", None),
            ("18", None),
            ("18:30:00", None),
            ("half past six", None),
        ] {
            assert_eq!(time_of_day(text).ok(), read, "{text}");
        }
        assert_eq!(typed(time!(07:05)), "07:05");
    }
}
