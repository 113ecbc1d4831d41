//! Around everything: a reference for each request, one log line, the headers every answer has,
//! and the page for whatever went wrong.
//!
//! The log line names the route as the table states it, never the address itself, which may hold
//! an invitation's token; nor any content.

use std::error::Error;
use std::time::Instant;

use askama::Template;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Response};
use tracing::Instrument;

use crate::App;
use crate::error::{PageError, Sent, Wrong};
use crate::frame::{Frame, Nav};
use crate::tokens;
use crate::visit::Caller;

/// Nothing is loaded but from this very host, and nobody frames us.
const CONTENT_SECURITY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; \
    img-src 'self'; font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; \
    form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

pub(crate) async fn observe(State(app): State<App>, request: Request, next: Next) -> Response {
    let began = Instant::now();
    let reference: uuid::Uuid = app.new_id();
    let method = request.method().clone();
    let route = request
        .extensions()
        .get::<MatchedPath>()
        .map_or("unknown", MatchedPath::as_str)
        .to_owned();
    let wants_problem = wants_problem_details(request.headers());
    let gym_home = gym_home(request.uri().path());
    let is_file = request.uri().path().starts_with("/static/");
    let span = tracing::info_span!("request", %reference);
    async {
        let response = next.run(request).await;
        let mut response = explained(response, reference, wants_problem, gym_home);
        if is_file && !response.status().is_client_error() {
            // What concerns pages would be as much again as a small file itself.
            response
                .headers_mut()
                .insert(header::X_CONTENT_TYPE_OPTIONS, NO_SNIFFING);
        } else {
            add_headers(&app, &mut response, reference);
        }
        tracing::info!(
            %method,
            route,
            status = response.status().as_u16(),
            milliseconds = began.elapsed().as_millis(),
            "answered"
        );
        response
    }
    .instrument(span)
    .await
}

/// What is said to be a stylesheet or a script is nothing else.
const NO_SNIFFING: HeaderValue = HeaderValue::from_static("nosniff");

fn add_headers(app: &App, response: &mut Response, reference: uuid::Uuid) {
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY);
    // Under "no-referrer" a browser also hides the origin of our own forms from us (Fetch Standard,
    // "append a request Origin header"); without TLS it tells nothing else, and each would be refused.
    set(header::REFERRER_POLICY, "same-origin");
    set(
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    );
    set(
        HeaderName::from_static("permissions-policy"),
        "camera=(), microphone=(), geolocation=()",
    );
    if app.config.is_tls() {
        set(header::STRICT_TRANSPORT_SECURITY, "max-age=31536000");
    }
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, NO_SNIFFING);
    if let Ok(value) = HeaderValue::from_str(&reference.to_string()) {
        headers.insert("x-request-id", value);
    }
}

/// The error page, where the answer is an error without a page of its own.
fn explained(
    mut response: Response,
    reference: uuid::Uuid,
    wants_problem: bool,
    gym_home: Option<String>,
) -> Response {
    let status = response.status();
    let error = match response.extensions_mut().remove::<Wrong>() {
        Some(Wrong(error)) => error,
        None if is_bare(&response) => PageError::Status(status).into(),
        None => return response,
    };
    if status.is_server_error() {
        let mut causes = error.to_string();
        let mut cause = error.source();
        while let Some(inner) = cause {
            causes.push_str(": ");
            causes.push_str(&inner.to_string());
            cause = inner.source();
        }
        tracing::error!(status = status.as_u16(), causes, "failed");
    }
    let frame = response
        .extensions_mut()
        .remove::<Caller>()
        .unwrap_or_else(|| Caller::new(tokens::secret(), None, None))
        .frame(error.words().0, Nav::Nowhere);
    let body = if wants_problem {
        problem(&error, reference)
    } else {
        page(&error, frame, reference, gym_home)
    };
    // What the answer said besides, such as a cookie, still holds.
    let kept = std::mem::take(response.headers_mut());
    let mut explained = (status, body).into_response();
    for (name, value) in kept {
        if let Some(name) = name.filter(|name| {
            *name == header::SET_COOKIE || *name == header::CACHE_CONTROL || *name == header::ALLOW
        }) {
            explained.headers_mut().append(name, value);
        }
    }
    explained
}

/// Whether an answer is an error that only the libraries below have worded, or nobody.
fn is_bare(response: &Response) -> bool {
    let status = response.status();
    (status.is_client_error() || status.is_server_error())
        && response
            .headers()
            .get(header::CONTENT_TYPE)
            .is_none_or(|kind| kind.as_bytes().starts_with(b"text/plain"))
}

#[derive(Template)]
#[template(path = "parts/error.html")]
struct ErrorPage {
    frame: Frame,
    sentence: String,
    /// What was sent, to send again.
    sent: Option<Sent>,
    /// To be found in the log.
    reference: Option<uuid::Uuid>,
    signed_out: bool,
    gym_home: Option<String>,
}

fn page(
    error: &PageError,
    frame: Frame,
    reference: uuid::Uuid,
    gym_home: Option<String>,
) -> Response {
    let template = ErrorPage {
        sentence: error.words().1,
        sent: match error {
            PageError::SignedOut(sent) | PageError::StaleForm(sent) => Some(sent.clone()),
            _ => None,
        },
        reference: error.status().is_server_error().then_some(reference),
        signed_out: frame.person.is_none(),
        gym_home: gym_home.filter(|_| frame.person.is_some()),
        frame,
    };
    match template.render() {
        Ok(html) => Html(html).into_response(),
        Err(error) => {
            tracing::error!(%error, "the error page cannot be rendered");
            "Something failed here.".into_response()
        }
    }
}

/// RFC 9457, for programs.
fn problem(error: &PageError, reference: uuid::Uuid) -> Response {
    let (title, detail) = error.words();
    let body = serde_json::json!({
        "type": "about:blank",
        "title": title,
        "status": error.status().as_u16(),
        "detail": detail,
        "instance": format!("urn:uuid:{reference}"),
    });
    (
        [(header::CONTENT_TYPE, "application/problem+json")],
        body.to_string(),
    )
        .into_response()
}

fn wants_problem_details(headers: &HeaderMap) -> bool {
    headers
        .get(header::ACCEPT)
        .and_then(|accept| accept.to_str().ok())
        .is_some_and(|accept| accept.contains("json") && !accept.contains("text/html"))
}

/// The first page of the gym that an address lies in.
fn gym_home(path: &str) -> Option<String> {
    let gym: uuid::Uuid = path.strip_prefix("/g/")?.split('/').next()?.parse().ok()?;
    Some(format!("/g/{gym}"))
}

/// A panic is a bug: the page says so, with the reference that is in the log.
pub(crate) fn panicked(panic: Box<dyn std::any::Any + Send>) -> Response {
    let message = panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_default();
    PageError::Internal(format!("panicked: {message}")).into_response()
}

/// No such address.
pub(crate) async fn nothing_here() -> PageError {
    PageError::NotFound
}

/// How long an answer may take.
pub(crate) const PATIENCE: std::time::Duration = std::time::Duration::from_secs(30);

/// What is answered when it takes longer.
pub(crate) const TOO_LONG: StatusCode = StatusCode::SERVICE_UNAVAILABLE;

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_panic_shows_a_reference_and_not_what_was_said() {
        let reference = uuid::Uuid::from_u128(7);
        let response = panicked(Box::new("effort of Ida: 9"));
        let response = explained(response, reference, false, None);
        assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
        let body = axum::body::to_bytes(response.into_body(), 100_000)
            .await
            .unwrap();
        let page = String::from_utf8(body.to_vec()).unwrap();
        assert!(
            page.contains(&reference.to_string()) && !page.contains("Ida"),
            "{page}"
        );
    }

    #[test]
    fn an_address_tells_which_gym_it_is_in() {
        let gym = "00000000-0000-0000-0000-000000000007";
        let home = Some(format!("/g/{gym}"));
        assert_eq!(gym_home(&format!("/g/{gym}/roster/x")), home);
        for other in ["/g/", "/g/x/roster", "/account", "/g"] {
            assert_eq!(gym_home(other), None, "{other}");
        }
    }
}
