//! What went wrong, as a page that says what to do next.

use std::sync::Arc;

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_store::StoreError;

/// Why there is no page. Rendered in one place, with a reference that is in the log where it is
/// our fault.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// There is no such thing, or it is none of the visitor's business.
    #[error("not found")]
    NotFound,
    /// The visitor belongs to the gym, and this is for another role.
    #[error("for another role")]
    Forbidden,
    /// A form was sent without being signed in. What was typed is given back.
    #[error("signed out")]
    SignedOut(Sent),
    /// A form's token was missing or old. What was typed is given back.
    #[error("the form's token is missing or old")]
    StaleForm(Sent),
    /// A form was sent from another site.
    #[error("sent from another site")]
    AnotherSite,
    /// It was here and is over: a used invitation.
    #[error("gone")]
    Gone(&'static str),
    /// Somebody else was quicker. The sentence says what to do.
    #[error("conflict: {0}")]
    Conflict(String),
    /// The request cannot be read. The sentence says what was wrong.
    #[error("unreadable: {0}")]
    Unreadable(&'static str),
    /// A form that is no form: another content type.
    #[error("unknown kind of form")]
    UnknownForm,
    /// More than the form may hold.
    #[error("too large")]
    TooLarge,
    /// Too many attempts; try again after so many seconds.
    #[error("too many attempts")]
    TooMany {
        /// Seconds to wait.
        seconds: u64,
    },
    /// The database failed, or what it holds cannot be true.
    #[error(transparent)]
    Store(StoreError),
    /// Our own mistake.
    #[error("{0}")]
    Internal(String),
    /// An answer that is only a status, from the libraries below.
    #[error("status {0}")]
    Status(StatusCode),
}

/// A form that was sent and not taken.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sent {
    /// Where it was sent.
    pub action: String,
    /// What was typed, without passwords.
    pub fields: Vec<(String, String)>,
}

impl PageError {
    /// The HTTP status.
    #[must_use]
    pub const fn status(&self) -> StatusCode {
        match self {
            Self::NotFound => StatusCode::NOT_FOUND,
            Self::Forbidden | Self::StaleForm(_) | Self::AnotherSite => StatusCode::FORBIDDEN,
            Self::SignedOut(_) => StatusCode::UNAUTHORIZED,
            Self::Gone(_) => StatusCode::GONE,
            Self::Conflict(_) => StatusCode::CONFLICT,
            Self::Unreadable(_) => StatusCode::BAD_REQUEST,
            Self::UnknownForm => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::TooMany { .. } => StatusCode::TOO_MANY_REQUESTS,
            Self::Store(_) | Self::Internal(_) => StatusCode::INTERNAL_SERVER_ERROR,
            Self::Status(status) => *status,
        }
    }

    /// The headline and the sentence below it.
    #[must_use]
    pub fn words(&self) -> (&'static str, String) {
        match self {
            Self::NotFound => (
                "Nothing here",
                "There is no such page, or it is not yours to see. The address may be old or mistyped.".to_owned(),
            ),
            Self::Forbidden => (
                "Not for your role",
                "You belong to this gym, but this page is for another role. The gym's owner can give you one.".to_owned(),
            ),
            Self::SignedOut(_) => (
                "You are signed out",
                "Nothing was saved yet, and what you typed is below. Sign in, then send it again.".to_owned(),
            ),
            Self::StaleForm(_) => (
                "Please send this once more",
                "The form was open for too long, or you signed in again since. Nothing was saved yet; check what you typed, then send it again.".to_owned(),
            ),
            Self::AnotherSite => (
                "Sent from another site",
                "This form was not sent from a page of ours, so it was not taken. Open the page here and send it again.".to_owned(),
            ),
            Self::Gone(sentence) => ("No longer open", (*sentence).to_owned()),
            Self::Conflict(sentence) => ("Changed in the meantime", sentence.clone()),
            Self::Unreadable(sentence) => ("That could not be read", (*sentence).to_owned()),
            Self::UnknownForm => (
                "That could not be read",
                "A form is sent as a form. This was sent as something else.".to_owned(),
            ),
            Self::TooLarge => (
                "That is too much at once",
                "What you sent is larger than this form takes. Go back and send less.".to_owned(),
            ),
            Self::TooMany { seconds } => (
                "Too many attempts",
                format!("Wait {seconds} seconds, then try again."),
            ),
            Self::Store(_) | Self::Internal(_) => (
                "Something failed here",
                "It is our fault, not yours. Try again in a minute; if it stays, tell whoever runs this server the reference below.".to_owned(),
            ),
            Self::Status(status) => match *status {
                StatusCode::METHOD_NOT_ALLOWED => (
                    "Nothing here",
                    "This address does not take that kind of request.".to_owned(),
                ),
                StatusCode::REQUEST_TIMEOUT | StatusCode::SERVICE_UNAVAILABLE => (
                    "That took too long",
                    "The server is busy. Try again in a minute.".to_owned(),
                ),
                _ => (
                    "That could not be read",
                    "The address or what was sent with it could not be read.".to_owned(),
                ),
            },
        }
    }
}

impl From<StoreError> for PageError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::NotFound => Self::NotFound,
            other => Self::Store(other),
        }
    }
}

/// Travels with the answer to where error pages are rendered.
#[derive(Clone)]
pub(crate) struct Wrong(pub(crate) Arc<PageError>);

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        let mut response = self.status().into_response();
        response.extensions_mut().insert(Wrong(Arc::new(self)));
        response
    }
}
