//! Asking for the week by e-mail, and ending it: signed in, or by the link in a mail.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{AccountId, GymId};
use leverbook_store::people;
use leverbook_store::{StoreError, digests, gyms};
use uuid::Uuid;

use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::{OneClick, Posted};
use crate::tokens;
use crate::visit::{Caller, Visit};

#[derive(Template)]
#[template(path = "week_mail/ask.html")]
pub(crate) struct AskPage {
    frame: Frame,
    asked: bool,
    /// Where it goes.
    email: String,
    /// Whether the server sends mail at all.
    sends: bool,
    last: Option<String>,
    trouble: bool,
}

/// `GET /week-mail`.
pub(crate) async fn show(State(app): State<App>, visit: Visit) -> Result<Page<AskPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let standing = digests::standing(&mut tx).await?;
    let email = people::get(&mut tx, visit.account).await?.email;
    let last = standing.last.as_ref();
    Ok(Page(AskPage {
        frame: visit.frame("The week by e-mail", Nav::Review),
        asked: standing.stop_token.is_some(),
        email,
        sends: app.mailer.is_some(),
        trouble: last.is_some_and(|last| !last.error.is_empty()),
        last: last.map(|last| {
            let week = format!("Week {} of {}", last.week.number(), last.week.year());
            match (last.sent_at, last.given_up) {
                (Some(at), _) => format!("{week} was sent on {}.", day_label(at.date())),
                (None, true) => format!("{week} was not sent: {}.", last.error),
                (None, false) if last.error.is_empty() => format!("{week} is on its way."),
                (None, false) => {
                    format!("{week} is not sent yet: {}. It is tried again.", last.error)
                }
            }
        }),
    }))
}

/// `POST /week-mail`: asks for the mails, or ends them.
pub(crate) async fn set(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let done = match posted.text("wish") {
        "ask" => {
            digests::ask(&mut tx, &tokens::secret(), visit.now).await?;
            "week-mail-asked"
        }
        "stop" => {
            digests::stop(&mut tx).await?;
            "week-mail-stopped"
        }
        _ => {
            return Err(PageError::Unreadable(
                "The form was changed on its way here. Open the page again.",
            ));
        }
    };
    tx.commit().await?;
    Ok(see_other(&visit.to(&format!("week-mail?done={done}"))))
}

#[derive(Template)]
#[template(path = "week_mail/stop.html")]
pub(crate) struct StopPage {
    frame: Frame,
    gym: String,
    action: String,
    running: bool,
}

/// Whoever follows a link from a mail may be nobody.
const NOBODY: AccountId = AccountId(Uuid::nil());

async fn stop_page(
    app: &App,
    caller: &Caller,
    gym: &str,
    token: &str,
    stops: bool,
) -> Result<StopPage, PageError> {
    let id: GymId = gym.parse().map_err(|_| PageError::NotFound)?;
    if token.len() != 64 || !token.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Err(PageError::NotFound);
    }
    let mut tx = app.store.enter(id, NOBODY).await?;
    let gym = match gyms::get(&mut tx, app.clock.now()).await {
        Err(StoreError::NotFound) => return Err(PageError::NotFound),
        found => found?,
    };
    if stops {
        digests::stop_by(&mut tx, token).await?;
    }
    let running = digests::is_running(&mut tx, token).await?;
    tx.commit().await?;
    Ok(StopPage {
        frame: caller.frame("The week by e-mail", Nav::Nowhere),
        gym: gym.name,
        action: format!("/week-mail/{id}/{token}"),
        running,
    })
}

/// `GET /week-mail/{gym}/{stop}`: asks first, since programs follow links in mails by themselves. A
/// link of which nothing is known any more has ended its mails.
pub(crate) async fn stopping(
    State(app): State<App>,
    caller: Caller,
    Path((gym, token)): Path<(String, String)>,
) -> Result<Page<StopPage>, PageError> {
    stop_page(&app, &caller, &gym, &token, false)
        .await
        .map(Page)
}

/// `POST /week-mail/{gym}/{stop}`: from the page, or from a mail program by itself (RFC 8058).
pub(crate) async fn stop(
    State(app): State<App>,
    caller: Caller,
    Path((gym, token)): Path<(String, String)>,
    _: OneClick,
) -> Result<Page<StopPage>, PageError> {
    stop_page(&app, &caller, &gym, &token, true).await.map(Page)
}
