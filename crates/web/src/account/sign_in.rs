//! Signing in and out.

use std::net::{IpAddr, SocketAddr};

use askama::Template;
use axum::extract::{ConnectInfo, FromRequestParts, Query, State};
use axum::http::header;
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use leverbook_domain::id::AccountId;
use leverbook_store::accounts::Email;
use leverbook_store::sign_ins::{self, TokenHash};
use leverbook_store::{StoreError, accounts};
use serde::Deserialize;

use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::guard::{no_sign_in_cookie, sign_in_cookie};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Caller;
use crate::{App, tokens};

/// From where a request comes.
pub(crate) struct From {
    /// The address, where it is known.
    pub(crate) address: Option<IpAddr>,
    /// What the browser calls itself.
    pub(crate) device: String,
}

impl FromRequestParts<App> for From {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Self::Rejection> {
        let text = |name| {
            parts
                .headers
                .get(name)
                .and_then(|value| value.to_str().ok())
        };
        let forwarded = text(header::HeaderName::from_static("x-forwarded-for"))
            .filter(|_| app.config.behind_proxy)
            // The last one is what our own proxy saw; the ones before it anybody can write.
            .and_then(|list| list.rsplit(',').next())
            .and_then(|address| address.trim().parse().ok());
        let direct = parts
            .extensions
            .get::<ConnectInfo<SocketAddr>>()
            .map(|ConnectInfo(address)| address.ip());
        Ok(Self {
            address: forwarded.or(direct),
            device: text(header::USER_AGENT).unwrap_or_default().to_owned(),
        })
    }
}

#[derive(Template)]
#[template(path = "account/sign_in.html")]
struct SignInPage {
    frame: Frame,
    form: Form,
    next: String,
}

#[derive(Deserialize)]
pub(crate) struct Next {
    #[serde(default)]
    next: String,
}

/// An address of ours to go on to; another site's is not.
fn local(next: &str) -> &str {
    let ours = next.starts_with('/')
        && !next.starts_with("//")
        && !next.contains('\\')
        && next.bytes().all(|b| b.is_ascii_graphic());
    if ours { next } else { "/" }
}

pub(crate) async fn show(caller: Caller, Query(Next { next }): Query<Next>) -> Response {
    if caller.account().is_some() {
        return see_other(local(&next));
    }
    Page(SignInPage {
        frame: caller.frame("Sign in", Nav::Nowhere),
        form: Form::default(),
        next: local(&next).to_owned(),
    })
    .into_response()
}

pub(crate) async fn sign_in(
    State(app): State<App>,
    caller: Caller,
    from: From,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, PageError> {
    let next = local(posted.text("next")).to_owned();
    match try_password(&app, &from, posted.text("email"), posted.text("password")).await? {
        Some(account) => {
            let jar = open(&app, &from, jar, account).await?;
            Ok((jar, see_other(&next)).into_response())
        }
        None => {
            let mut errors = FieldErrors::new();
            errors.add("email", "The address and the password do not go together");
            Ok(Page::unprocessable(SignInPage {
                frame: caller.frame("Sign in", Nav::Nowhere),
                form: Form::again(&posted, errors),
                next,
            }))
        }
    }
}

/// The account, if the password is its own and it is not disabled. Takes as long where there is
/// no such account, and counts against the limits in any case.
pub(crate) async fn try_password(
    app: &App,
    from: &From,
    email: &str,
    password: &str,
) -> Result<Option<AccountId>, PageError> {
    let Ok(email) = Email::new(email) else {
        return Ok(None);
    };
    app.limits
        .attempt(&email, from.address)
        .map_err(|seconds| PageError::TooMany { seconds })?;
    let found = {
        let mut outside = app.store.outside().await?;
        match accounts::by_email(&mut outside, &email).await {
            Ok(lock) => Some(lock),
            Err(StoreError::NotFound) => None,
            Err(error) => return Err(error.into()),
        }
    };
    let hash = found.as_ref().map(|lock| lock.password_hash.as_str());
    let right = app.passwords.verify(password, hash).await;
    Ok(found
        .filter(|lock| right && !lock.disabled)
        .map(|lock| lock.account.id))
}

/// Signs a browser in under a new token, and ends the sign-in it had.
pub(crate) async fn open(
    app: &App,
    from: &From,
    jar: CookieJar,
    account: AccountId,
) -> Result<CookieJar, PageError> {
    let (token, csrf_token) = (tokens::secret(), tokens::secret());
    let mut outside = app.store.outside().await?;
    if let Some(old) = jar.get(sign_in_cookie(app, String::new()).name()) {
        sign_ins::close(&mut outside, TokenHash::of(old.value())).await?;
    }
    let new = sign_ins::New {
        token: TokenHash::of(&token),
        account,
        csrf_token: &csrf_token,
        device: &from.device,
        now: app.clock.now(),
        lifetime: app.config.sign_in,
    };
    sign_ins::open(&mut outside, &new).await?;
    Ok(CookieJar::new().add(sign_in_cookie(app, token)))
}

pub(crate) async fn sign_out(
    State(app): State<App>,
    jar: CookieJar,
    _posted: Posted,
) -> Result<Response, PageError> {
    if let Some(cookie) = jar.get(no_sign_in_cookie(&app).name()) {
        let mut outside = app.store.outside().await?;
        sign_ins::close(&mut outside, TokenHash::of(cookie.value())).await?;
    }
    let jar = CookieJar::new().add(no_sign_in_cookie(&app));
    Ok((jar, see_other("/sign-in?done=signed-out")).into_response())
}

#[cfg(test)]
mod tests {
    use super::local;

    // OWASP Unvalidated Redirects and Forwards Cheat Sheet; from memory.
    #[test]
    fn only_addresses_of_ours_are_gone_on_to() {
        assert_eq!(
            local("/g/1/review?week=2026-W48"),
            "/g/1/review?week=2026-W48"
        );
        for other in [
            "",
            "https://elsewhere.example",
            "//elsewhere.example",
            "/\\elsewhere.example",
            "/a\r\nb",
            "javascript:alert(1)",
        ] {
            assert_eq!(local(other), "/", "{other:?}");
        }
    }
}
