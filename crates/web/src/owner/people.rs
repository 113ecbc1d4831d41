//! Who has which role in the gym.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::AccountId;
use leverbook_store::invitations::{self, Invitation};
use leverbook_store::people::{self, Person, RemoveError, Role};

use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "owner/people.html")]
struct PeoplePage {
    frame: Frame,
    people: Vec<Person>,
    invitations: Vec<Invitation>,
    /// Why the last change was not made.
    refusal: Option<&'static str>,
}

impl PeoplePage {
    /// Roles that the owner can give without an invitation; an athlete's needs one, because it
    /// says which athlete.
    fn can_be_given(person: &Person) -> impl Iterator<Item = Role> {
        let has = person.roles;
        [Role::Coach, Role::Owner]
            .into_iter()
            .filter(move |role| !has.has(*role))
    }
}

async fn page(
    app: &App,
    visit: &Visit,
    refusal: Option<&'static str>,
) -> Result<PeoplePage, PageError> {
    let mut tx = visit.enter(app).await?;
    Ok(PeoplePage {
        frame: visit.frame("People", Nav::People),
        people: people::list(&mut tx).await?,
        invitations: invitations::open(&mut tx, visit.now).await?,
        refusal,
    })
}

pub(crate) async fn show(State(app): State<App>, visit: Visit) -> Result<Response, PageError> {
    Ok(Page(page(&app, &visit, None).await?).into_response())
}

/// The person of the address and the role of the form.
fn who_and_what(person: &str, posted: &Posted) -> Result<(AccountId, Role), PageError> {
    let person = person.parse().map_err(|_| PageError::NotFound)?;
    let role = Role::from_word(posted.text("role")).ok_or(PageError::Unreadable(
        "The form names no role. Open the page again.",
    ))?;
    Ok((person, role))
}

pub(crate) async fn give_role(
    State(app): State<App>,
    visit: Visit,
    Path((_, person)): Path<(String, String)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let (person, role) = who_and_what(&person, &posted)?;
    let mut tx = visit.enter(&app).await?;
    let known = people::get(&mut tx, person).await?;
    if !PeoplePage::can_be_given(&known).any(|free| free == role) || known.roles.is_empty() {
        let refusal = "They have that role, or it needs an invitation.";
        drop(tx);
        return Ok(Page::unprocessable(
            page(&app, &visit, Some(refusal)).await?,
        ));
    }
    people::give_role(&mut tx, person, role, visit.now).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to("people?done=role-given")))
}

pub(crate) async fn remove_role(
    State(app): State<App>,
    visit: Visit,
    Path((_, person)): Path<(String, String)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let (person, role) = who_and_what(&person, &posted)?;
    let mut tx = visit.enter(&app).await?;
    match people::remove_role(&mut tx, person, role).await {
        Ok(()) => tx.commit().await?,
        Err(RemoveError::LastOwner) => {
            drop(tx);
            let refusal = "A gym keeps at least one owner: give the role to somebody else first.";
            return Ok(Page::unprocessable(
                page(&app, &visit, Some(refusal)).await?,
            ));
        }
        Err(RemoveError::Store(error)) => return Err(error.into()),
    }
    // Whoever gave up their own key is let out by the front door.
    if person == visit.account && role == Role::Owner {
        return Ok(see_other("/?done=role-removed"));
    }
    Ok(see_other(&visit.to("people?done=role-removed")))
}
