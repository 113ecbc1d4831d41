//! The way in: which gym, and which page first.

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AccountId, GymId};
use leverbook_store::people::Role;
use leverbook_store::{StoreError, accounts, gyms, people};

use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::visit::{Signed, Visit};

/// A gym to choose.
struct Choice {
    id: GymId,
    name: String,
    roles: String,
}

#[derive(Template)]
#[template(path = "account/home.html")]
struct HomePage {
    frame: Frame,
    gyms: Vec<Choice>,
}

/// The account's gyms; the only one is entered at once.
pub(crate) async fn choose_gym(
    State(app): State<App>,
    signed: Signed,
) -> Result<Response, PageError> {
    let gyms = gyms_of(&app, signed.account.id).await?;
    if let [only] = gyms.as_slice() {
        return Ok(see_other(&format!("/g/{}", only.id)));
    }
    Ok(Page(HomePage {
        frame: signed.frame("Your gyms", Nav::Nowhere),
        gyms,
    })
    .into_response())
}

async fn gyms_of(app: &App, account: AccountId) -> Result<Vec<Choice>, PageError> {
    let ids = {
        let mut outside = app.store.outside().await?;
        accounts::gyms(&mut outside, account).await?
    };
    let mut choices = Vec::new();
    for id in ids {
        let mut tx = app.store.enter(id, account).await?;
        // The directory may be stale; the gym's own list decides.
        let person = match people::get(&mut tx, account).await {
            Ok(person) if !person.roles.is_empty() => person,
            Ok(_) | Err(StoreError::NotFound) => continue,
            Err(error) => return Err(error.into()),
        };
        let gym = gyms::get(&mut tx, app.clock.now()).await?;
        let roles: Vec<&str> = person.roles.iter().map(Role::word).collect();
        choices.push(Choice {
            id,
            name: gym.name,
            roles: roles.join(", "),
        });
    }
    choices.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(choices)
}

/// Where somebody's work starts: a coach at the week, an athlete at today, an owner at attendance.
pub(crate) async fn first_page(visit: Visit, RawQuery(query): RawQuery) -> Response {
    let page = if visit.roles.has(Role::Coach) {
        "review"
    } else if visit.roles.has(Role::Athlete) {
        "today"
    } else {
        "attendance"
    };
    let query = query.map_or_else(String::new, |query| format!("?{query}"));
    see_other(&visit.to(&format!("{page}{query}")))
}
