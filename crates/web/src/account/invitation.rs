//! Taking an invitation up: with a new account, or with the one somebody has.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use leverbook_domain::id::GymId;
use leverbook_domain::roster::PersonName;
use leverbook_domain::units::UnitSystem;
use leverbook_store::accounts::{self, Account, Email};
use leverbook_store::gyms::{self, Gym};
use leverbook_store::invitations::{self, BEARER, Fate, Invitation};
use leverbook_store::people::Role;
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{GymTx, StoreError};

use crate::App;
use crate::account::sign_in::{From, open, try_password};
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::passwords;
use crate::posted::Posted;
use crate::visit::Caller;

#[derive(Template)]
#[template(path = "account/invitation.html")]
struct InvitationPage {
    frame: Frame,
    gym: String,
    invitation: Invitation,
    action: String,
    new_form: Form,
    known_form: Form,
    /// Where something concerns neither form.
    refusal: Option<&'static str>,
}

/// The link that was followed, and what it leads to.
struct Link {
    gym: Gym,
    token: TokenHash,
    action: String,
    invitation: Invitation,
}

impl Link {
    /// Finds an open invitation. What was never given out does not exist; what is over says so.
    async fn follow(app: &App, gym: &str, token: &str) -> Result<Self, PageError> {
        let id: GymId = gym.parse().map_err(|_| PageError::NotFound)?;
        let now = app.clock.now();
        let hash = TokenHash::of(token);
        let mut tx = app.store.enter(id, BEARER).await?;
        let invitation = invitations::find(&mut tx, hash).await?;
        if !invitation.is_open(now) {
            return Err(PageError::Gone(match invitation.fate {
                Fate::TakenUp => {
                    "This invitation was taken up already. If that was you, sign in; if not, ask for a new one."
                }
                Fate::Withdrawn => {
                    "This invitation was withdrawn. Ask whoever sent it for a new one."
                }
                Fate::Waiting => "This invitation has expired. Ask whoever sent it for a new one.",
            }));
        }
        Ok(Self {
            gym: gyms::get(&mut tx, now).await?,
            token: hash,
            action: format!("/invitation/{id}/{token}"),
            invitation,
        })
    }

    fn page(&self, caller: &Caller, new_form: Form, known_form: Form) -> InvitationPage {
        InvitationPage {
            frame: caller.frame(format!("Join {}", self.gym.name), Nav::Nowhere),
            gym: self.gym.name.clone(),
            invitation: self.invitation.clone(),
            action: self.action.clone(),
            new_form,
            known_form,
            refusal: None,
        }
    }

    async fn take_up(
        &self,
        app: &App,
        tx: &mut GymTx,
        account: &Account,
    ) -> Result<(), StoreError> {
        let now = app.clock.now();
        invitations::take_up(tx, self.token, account, app.new_id(), self.gym.today, now).await
    }

    fn joined(&self) -> Response {
        see_other(&format!("/g/{}?done=joined", self.gym.id))
    }
}

/// The account is another athlete of this gym already.
const TWO_ATHLETES: &str = "This account is another athlete of this gym already. Sign out, and use an account of your own.";

pub(crate) async fn show(
    State(app): State<App>,
    caller: Caller,
    Path((gym, token)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let link = Link::follow(&app, &gym, &token).await?;
    let new_form = match &link.invitation.athlete {
        Some((_, name)) => Form::with([("name", name)]),
        None => Form::default(),
    };
    Ok(Page(link.page(&caller, new_form, Form::default())).into_response())
}

pub(crate) async fn take_up(
    State(app): State<App>,
    caller: Caller,
    from: From,
    jar: CookieJar,
    Path((gym, token)): Path<(String, String)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let link = Link::follow(&app, &gym, &token).await?;
    match (caller.account(), posted.text("with")) {
        (Some(account), _) => join(&app, &caller, &link, account).await,
        (None, "known") => join_known(&app, &caller, &from, jar, &link, &posted).await,
        (None, _) => join_new(&app, &caller, &from, jar, &link, &posted).await,
    }
}

async fn join(
    app: &App,
    caller: &Caller,
    link: &Link,
    account: &Account,
) -> Result<Response, PageError> {
    let mut tx = app.store.enter(link.gym.id, account.id).await?;
    match link.take_up(app, &mut tx, account).await {
        Ok(()) => tx.commit().await?,
        Err(error) if error.is_constraint("athletes_person_once") => {
            let mut page = link.page(caller, Form::default(), Form::default());
            page.refusal = Some(TWO_ATHLETES);
            return Ok(Page::unprocessable(page));
        }
        Err(error) => return Err(error.into()),
    }
    Ok(link.joined())
}

async fn join_known(
    app: &App,
    caller: &Caller,
    from: &From,
    jar: CookieJar,
    link: &Link,
    posted: &Posted,
) -> Result<Response, PageError> {
    let (email, password) = (posted.text("known_email"), posted.text("known_password"));
    let Some(id) = try_password(app, from, email, password).await? else {
        let mut errors = FieldErrors::new();
        errors.add(
            "known_email",
            "The address and the password do not go together",
        );
        let page = link.page(caller, Form::default(), Form::again(posted, errors));
        return Ok(Page::unprocessable(page));
    };
    let account = {
        let mut outside = app.store.outside().await?;
        accounts::by_id(&mut outside, id).await?.account
    };
    let answer = join(app, caller, link, &account).await?;
    if answer.status().is_redirection() {
        let jar = open(app, from, jar, id).await?;
        return Ok((jar, answer).into_response());
    }
    Ok(answer)
}

async fn join_new(
    app: &App,
    caller: &Caller,
    from: &From,
    jar: CookieJar,
    link: &Link,
    posted: &Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let name = errors.read(posted, "name", PersonName::new);
    let email = errors.read(posted, "email", Email::new);
    let about = [posted.text("email"), posted.text("name"), &link.gym.name];
    let password = posted.text("password");
    if !errors.refuse_broken(posted, "password")
        && let Err(weak) = passwords::check(password, &about)
    {
        errors.add("password", format!("The password {weak}"));
    }
    if let (Some(name), Some(email), false) = (name, email, errors.any()) {
        let account = Account {
            id: app.new_id(),
            email,
            name,
            units: UnitSystem::default(),
        };
        let hash = app.passwords.hash(password).await;
        match create_and_join(app, link, &account, &hash).await {
            Ok(()) => {
                let jar = open(app, from, jar, account.id).await?;
                return Ok((jar, link.joined()).into_response());
            }
            Err(error) => errors.refused(
                error,
                &[(
                    accounts::EMAIL_ONCE,
                    "email",
                    "There is an account with this address: join with it, below",
                )],
            )?,
        }
    }
    let page = link.page(caller, Form::again(posted, errors), Form::default());
    Ok(Page::unprocessable(page))
}

async fn create_and_join(
    app: &App,
    link: &Link,
    account: &Account,
    password_hash: &str,
) -> Result<(), StoreError> {
    let mut tx = app.store.enter(link.gym.id, account.id).await?;
    accounts::create(tx.conn(), account, password_hash, app.clock.now()).await?;
    link.take_up(app, &mut tx, account).await?;
    tx.commit().await
}
