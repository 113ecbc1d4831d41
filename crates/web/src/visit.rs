//! Who is asking, and where: put together before a handler runs, by what its route states.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::Extensions;
use axum::http::request::Parts;
use leverbook_domain::id::{AccountId, GymId};
use leverbook_domain::units::UnitSystem;
use leverbook_store::accounts::Account;
use leverbook_store::notes::Unread;
use leverbook_store::people::Roles;
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{GymTx, StoreError};
use time::{Date, OffsetDateTime};

use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav, notice};

/// Anybody, signed in or not. Every handler can ask for it.
#[derive(Debug, Clone)]
pub struct Caller {
    form_token: String,
    notice: Option<&'static str>,
    signed: Option<(Account, TokenHash)>,
    /// The gym of the address, its name, what the caller may do in it, and what waits for them.
    gym: Option<(GymId, String, Roles, Unread)>,
}

impl Caller {
    pub(crate) fn new(
        form_token: String,
        done: Option<&str>,
        signed: Option<(Account, TokenHash)>,
    ) -> Self {
        Self {
            form_token,
            notice: done.and_then(notice),
            signed,
            gym: None,
        }
    }

    pub(crate) fn enter(&mut self, gym: GymId, name: &str, roles: Roles, unread: Unread) {
        self.gym = Some((gym, name.to_owned(), roles, unread));
    }

    /// The caller that was put together for a request.
    ///
    /// # Errors
    /// [`PageError::Internal`] outside the table of routes.
    pub(crate) fn of(extensions: &Extensions) -> Result<&Self, PageError> {
        extensions
            .get::<Self>()
            .ok_or_else(|| PageError::Internal("a handler outside the table of routes".to_owned()))
    }

    /// The account, if signed in.
    #[must_use]
    pub fn account(&self) -> Option<&Account> {
        self.signed.as_ref().map(|(account, _)| account)
    }

    pub(crate) fn form_token(&self) -> &str {
        &self.form_token
    }

    /// The frame of a page.
    pub fn frame(&self, title: impl Into<String>, nav: Nav) -> Frame {
        let frame = Frame {
            title: title.into(),
            nav,
            csrf: self.form_token.clone(),
            gym: None,
            rooms: Vec::new(),
            person: self.account().map(|account| account.name.to_string()),
            phone: None,
            notice: self.notice,
        };
        match &self.gym {
            Some((gym, name, roles, unread)) => {
                let account = self.account().map(|account| account.id);
                frame.in_gym(*gym, name, *roles, *unread, account)
            }
            None => frame,
        }
    }
}

impl FromRequestParts<App> for Caller {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, PageError> {
        Self::of(&parts.extensions).cloned()
    }
}

/// Somebody who is signed in: for routes that state `Who::SignedIn` or a gym.
#[derive(Debug, Clone)]
pub struct Signed {
    /// Who.
    pub account: Account,
    /// This browser's sign-in.
    pub token: TokenHash,
    caller: Caller,
}

impl Signed {
    /// The frame of a page.
    pub fn frame(&self, title: impl Into<String>, nav: Nav) -> Frame {
        self.caller.frame(title, nav)
    }
}

impl FromRequestParts<App> for Signed {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, PageError> {
        let caller = Caller::of(&parts.extensions)?.clone();
        match caller.signed.clone() {
            Some((account, token)) => Ok(Self {
                account,
                token,
                caller,
            }),
            None => Err(PageError::Internal(
                "the route does not state that it needs a sign-in".to_owned(),
            )),
        }
    }
}

/// Whether somebody goes to this page, or a script fetches it to keep it (W3C Fetch Metadata Request
/// Headers). The mode says so: the destination of what a service worker hands through is lost. A
/// browser that says nothing goes there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sight {
    /// It is shown.
    Opened,
    /// It is kept, and perhaps never shown.
    Fetched,
}

impl FromRequestParts<App> for Sight {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, Infallible> {
        Ok(match parts.headers.get("sec-fetch-mode") {
            Some(mode) if mode != "navigate" => Self::Fetched,
            _ => Self::Opened,
        })
    }
}

/// Somebody inside a gym, with a role that the route states.
#[derive(Debug, Clone)]
pub struct Visit {
    /// The gym.
    pub gym: GymId,
    /// Its name.
    pub gym_name: String,
    /// Its zone, such as `Europe/Lisbon`.
    pub zone: String,
    /// Who.
    pub account: AccountId,
    /// Their name.
    pub name: String,
    /// What they may do here.
    pub roles: Roles,
    /// The units they read and write.
    pub units: UnitSystem,
    /// The date in the gym's zone.
    pub today: Date,
    /// The instant of this request.
    pub now: OffsetDateTime,
    pub(crate) caller: Caller,
}

impl Visit {
    /// Opens the door to the gym's data for one transaction.
    ///
    /// # Errors
    /// [`StoreError::Db`].
    pub async fn enter(&self, app: &App) -> Result<GymTx, StoreError> {
        app.store.enter(self.gym, self.account).await
    }

    /// The frame of a page.
    pub fn frame(&self, title: impl Into<String>, nav: Nav) -> Frame {
        self.caller.frame(title, nav)
    }

    /// An address inside the gym: `visit.to("roster?done=saved")`.
    #[must_use]
    pub fn to(&self, page: &str) -> String {
        format!("/g/{}/{page}", self.gym)
    }
}

impl FromRequestParts<App> for Visit {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, PageError> {
        parts.extensions.get::<Self>().cloned().ok_or_else(|| {
            PageError::Internal("the route does not state that it is a gym's".to_owned())
        })
    }
}
