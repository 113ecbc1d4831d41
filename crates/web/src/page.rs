//! A page as an answer.

use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

use crate::error::PageError;

/// Answers with a template, rendered.
#[derive(Debug)]
pub struct Page<T>(pub T);

impl<T: Template> Page<T> {
    /// The page again, because something in the form was wrong: status 422.
    pub fn unprocessable(template: T) -> Response {
        (StatusCode::UNPROCESSABLE_ENTITY, Self(template)).into_response()
    }
}

impl<T: Template> IntoResponse for Page<T> {
    fn into_response(self) -> Response {
        match self.0.render() {
            Ok(html) => Html(html).into_response(),
            Err(error) => PageError::Internal(error.to_string()).into_response(),
        }
    }
}

/// Sends the browser on after a form was taken: reloading the next page sends nothing twice.
#[must_use]
pub fn see_other(address: &str) -> Response {
    match HeaderValue::from_str(address) {
        Ok(location) => (StatusCode::SEE_OTHER, [(header::LOCATION, location)]).into_response(),
        Err(_) => PageError::Internal("an address with characters outside ASCII".to_owned())
            .into_response(),
    }
}
