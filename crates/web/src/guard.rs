//! Stands before every handler: works out who is asking, and lets pass only whom the route states.

use axum::extract::{FromRequestParts, RawPathParams, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use axum_extra::extract::cookie::{Cookie, SameSite};
use leverbook_domain::id::GymId;
use leverbook_store::sign_ins::{self, SignIn, TokenHash};
use leverbook_store::{StoreError, notes, people};
use time::{Duration, OffsetDateTime};

use crate::App;
use crate::error::{PageError, Sent};
use crate::page::see_other;
use crate::posted::Posted;
use crate::routes::Who;
use crate::tokens;
use crate::visit::{Caller, Visit};

/// The cookie with the token of a sign-in.
const SIGN_IN: &str = "leverbook";
/// The cookie with the token of forms that are sent before signing in.
const FORM: &str = "leverbook-form";
/// How old the note of the last request may get before it is written anew.
const NOTE_AFTER: Duration = Duration::minutes(5);

/// What a guard knows: the application, and what its route states.
#[derive(Clone)]
pub(crate) struct Post {
    pub(crate) app: App,
    pub(crate) who: Who,
}

/// A cookie that scripts cannot read and other sites cannot send along with their forms.
fn cookie(app: &App, name: &str, value: String) -> Cookie<'static> {
    Cookie::build((app.config.cookie_name(name), value))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(app.config.is_tls())
        .build()
}

/// The cookie of a new sign-in.
pub(crate) fn sign_in_cookie(app: &App, token: String) -> Cookie<'static> {
    let mut cookie = cookie(app, SIGN_IN, token);
    cookie.set_max_age(app.config.sign_in.absolute);
    cookie
}

/// The cookie that takes the sign-in away.
pub(crate) fn no_sign_in_cookie(app: &App) -> Cookie<'static> {
    let mut cookie = cookie(app, SIGN_IN, String::new());
    cookie.set_max_age(Duration::ZERO);
    cookie
}

pub(crate) async fn guard(State(post): State<Post>, request: Request, next: Next) -> Response {
    let Post { app, who } = post;
    let jar = CookieJar::from_headers(request.headers());
    let known = jar
        .get(&app.config.cookie_name(FORM))
        .map(|cookie| cookie.value().to_owned())
        .filter(|token| token.len() == 64);
    let form_token = known.clone().unwrap_or_else(tokens::secret);
    let mut caller = Caller::new(form_token.clone(), None, None);
    let outcome = admit(&app, who, &jar, &mut caller, request).await;
    let set_form_cookie = known.is_none() && caller.account().is_none();
    let mut response = match outcome {
        Ok(request) => next.run(request).await,
        Err(Refusal::Page(error)) => error.into_response(),
        Err(Refusal::SignInFirst(address)) => see_other(&address),
    };
    if set_form_cookie
        && let Ok(value) = HeaderValue::from_str(&cookie(&app, FORM, form_token).to_string())
    {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
    response
        .headers_mut()
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    // An error page is framed as the page would have been.
    response.extensions_mut().insert(caller);
    response
}

enum Refusal {
    Page(PageError),
    SignInFirst(String),
}

impl<E: Into<PageError>> From<E> for Refusal {
    fn from(error: E) -> Self {
        Self::Page(error.into())
    }
}

/// Lets a request pass, with its caller and its visit in it, or says why not.
async fn admit(
    app: &App,
    who: Who,
    jar: &CookieJar,
    caller: &mut Caller,
    request: Request,
) -> Result<Request, Refusal> {
    let now = app.clock.now();
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    if changes && from_another_site(app, request.headers()) {
        return Err(PageError::AnotherSite.into());
    }
    let done = request.uri().query().and_then(|query| {
        form_urlencoded::parse(query.as_bytes())
            .find(|(name, _)| name == "done")
            .map(|(_, value)| value.into_owned())
    });
    let signed = signed_in(app, jar, now).await?;
    let form_token = signed.as_ref().map_or_else(
        || caller.form_token().to_owned(),
        |(sign_in, _)| sign_in.csrf_token.clone(),
    );
    let units = signed.as_ref().map(|(sign_in, _)| sign_in.account.units);
    *caller = Caller::new(
        form_token,
        done.as_deref(),
        signed.map(|(sign_in, token)| (sign_in.account, token)),
    );
    if who != Who::Anyone && caller.account().is_none() {
        return Err(sign_in_first(app, request, changes).await);
    }

    let (mut parts, body) = request.into_parts();
    if let (Who::Gym(roles), Some(account), Some(units)) = (who, caller.account(), units) {
        let account = account.clone();
        let params = RawPathParams::from_request_parts(&mut parts, app)
            .await
            .map_err(|_| PageError::NotFound)?;
        let gym: GymId = params
            .iter()
            .find(|(name, _)| *name == "gym")
            .and_then(|(_, id)| id.parse().ok())
            .ok_or(PageError::NotFound)?;
        // Whoever has no part in it does not learn whether it exists.
        let mut tx = app.store.enter(gym, account.id).await?;
        let (gym, part) = people::part_in(&mut tx, account.id, now).await?;
        // A form answers with another page, which asks again.
        let unread = if changes {
            notes::Unread::default()
        } else {
            notes::unread(&mut tx, account.id).await?
        };
        drop(tx);
        caller.enter(gym.id, &gym.name, part, unread);
        if !part.any(roles) {
            return Err(PageError::Forbidden.into());
        }
        parts.extensions.insert(Visit {
            gym: gym.id,
            gym_name: gym.name,
            zone: gym.zone,
            account: account.id,
            name: account.name.into(),
            roles: part,
            units,
            today: gym.today,
            now,
            caller: caller.clone(),
        });
    }
    parts.extensions.insert(caller.clone());
    Ok(Request::from_parts(parts, body))
}

/// The sign-in of the cookie, if it is alive; notes that it was seen.
async fn signed_in(
    app: &App,
    jar: &CookieJar,
    now: OffsetDateTime,
) -> Result<Option<(SignIn, TokenHash)>, StoreError> {
    let Some(cookie) = jar.get(&app.config.cookie_name(SIGN_IN)) else {
        return Ok(None);
    };
    let token = TokenHash::of(cookie.value());
    let mut outside = app.store.outside().await?;
    let sign_in = match sign_ins::find(&mut outside, token, now, app.config.sign_in).await {
        Ok(sign_in) => sign_in,
        Err(StoreError::NotFound) => return Ok(None),
        Err(error) => return Err(error),
    };
    if now - sign_in.last_seen > NOTE_AFTER {
        sign_ins::seen(&mut outside, token, now).await?;
    }
    Ok(Some((sign_in, token)))
}

/// To the sign-in page and back; a form's content is kept on the page that says so.
async fn sign_in_first(app: &App, request: Request, changes: bool) -> Refusal {
    let address = request
        .uri()
        .path_and_query()
        .map_or("/", |address| address.as_str())
        .to_owned();
    if !changes {
        let next: String = form_urlencoded::byte_serialize(address.as_bytes()).collect();
        return Refusal::SignInFirst(format!("/sign-in?next={next}"));
    }
    let fields = Posted::unchecked(request, app)
        .await
        .map(|posted| posted.shown_again())
        .unwrap_or_default();
    Refusal::Page(PageError::SignedOut(Sent {
        action: address,
        fields,
    }))
}

/// Whether a browser says that a form came from another site. Old browsers say nothing; the form's
/// token is checked in any case.
fn from_another_site(app: &App, headers: &HeaderMap) -> bool {
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    if let Some(site) = text("sec-fetch-site") {
        return !matches!(site, "same-origin" | "none");
    }
    match (text("origin"), &app.config.public_url, text("host")) {
        (None, _, _) => false,
        (Some(origin), Some(public), _) => origin != public.trim_end_matches('/'),
        (Some(origin), None, Some(host)) => {
            origin
                .strip_prefix("http://")
                .or(origin.strip_prefix("https://"))
                != Some(host)
        }
        (Some(_), None, None) => true,
    }
}
