//! Assigning a block: choose, look at every planned session with what the rules object to, assign.
//!
//! `form` is the first page and what it begins with, `wanted` what the coach asks of all, `share` one
//! athlete's part of it with what the coach changed there, `grid` the look at all of them, `write` the end.

use axum::extract::{RawQuery, State};
use axum::response::{IntoResponse, Response};
use leverbook_store::GymTx;

use super::offer::Offer;
use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

mod form;
mod grid;
mod share;
mod wanted;
mod write;

pub(super) use form::{AssignPage, BlockFields, of_pattern};
pub(super) use grid::carried;
pub(super) use share::waits;
pub(super) use wanted::{By, read_block};

use grid::GridPage;
use wanted::Wanted;

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    RawQuery(query): RawQuery,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    let asked: Vec<(String, String)> =
        form_urlencoded::parse(query.as_deref().unwrap_or_default().as_bytes())
            .into_owned()
            .collect();
    let looks = asked.contains(&("step".to_owned(), "preview".to_owned()));
    let first = form::first(&mut tx, &offer, asked, &visit).await?;
    if looks {
        // Nothing is written by a look, so an address may ask for one.
        return look(&app, &mut tx, &visit, &offer, &Posted::of(&first)).await;
    }
    let form = Form::with(first);
    Ok(Page(AssignPage::new(&app, &visit, &offer, form, Vec::new())).into_response())
}

pub(crate) async fn submit(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    match posted.text("step") {
        "change" | "all" => {
            let mut form = Form::again(&posted, FieldErrors::new());
            if posted.text("step") == "all" {
                for athlete in &offer.athletes {
                    form.tick("athlete", athlete.athlete.to_string());
                }
            }
            let page = AssignPage::new(&app, &visit, &offer, form, grid::carried(&posted));
            Ok(Page(page).into_response())
        }
        "assign" => {
            let wanted = match Wanted::read(&posted, &offer, visit.today) {
                Ok(wanted) => wanted,
                Err(errors) => return Ok(again(&app, &visit, &offer, &posted, errors)),
            };
            let mut errors = FieldErrors::new();
            let shares =
                share::all(&mut tx, &app, &visit, &posted, &offer, &wanted, &mut errors).await?;
            let because = write::read_because(&posted, &shares, &mut errors);
            if errors.any() {
                let page = GridPage::new(&visit, &posted, &offer, &wanted, &shares, errors);
                return Ok(Page::unprocessable(page));
            }
            let end_running = posted.has("end_running");
            let next = write::all(&mut tx, &visit, &wanted, shares, &because, end_running).await?;
            tx.commit().await?;
            Ok(see_other(&visit.to(&next)))
        }
        _ => look(&app, &mut tx, &visit, &offer, &posted).await,
    }
}

/// Every session of everybody, and what the rules object to.
async fn look(
    app: &App,
    tx: &mut GymTx,
    visit: &Visit,
    offer: &Offer,
    posted: &Posted,
) -> Result<Response, PageError> {
    let wanted = match Wanted::read(posted, offer, visit.today) {
        Ok(wanted) => wanted,
        Err(errors) => return Ok(again(app, visit, offer, posted, errors)),
    };
    let mut errors = FieldErrors::new();
    let shares = share::all(tx, app, visit, posted, offer, &wanted, &mut errors).await?;
    let wrong = errors.any();
    let page = GridPage::new(visit, posted, offer, &wanted, &shares, errors);
    Ok(if wrong {
        Page::unprocessable(page)
    } else {
        Page(page).into_response()
    })
}

/// The form once more, with what was wrong.
fn again(
    app: &App,
    visit: &Visit,
    offer: &Offer,
    posted: &Posted,
    errors: FieldErrors,
) -> Response {
    let form = Form::again(posted, errors);
    Page::unprocessable(AssignPage::new(
        app,
        visit,
        offer,
        form,
        grid::carried(posted),
    ))
}
