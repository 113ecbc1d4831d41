//! A form as it was sent. Its content cannot be read before its token was checked.

use axum::body::Bytes;
use axum::extract::{FromRequest, Multipart, Request};
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use percent_encoding::percent_decode;

use crate::App;
use crate::error::{PageError, Sent};
use crate::tokens;
use crate::visit::Caller;

/// The name of the field with the token.
pub const TOKEN: &str = "csrf";

/// What a form held.
#[derive(Debug, Clone, Default)]
pub struct Posted {
    fields: Vec<Field>,
    files: Vec<File>,
}

#[derive(Debug, Clone)]
struct Field {
    name: String,
    value: String,
    /// It was no UTF-8; the value has replacement characters.
    broken: bool,
}

/// A file in a form.
#[derive(Debug, Clone)]
pub struct File {
    /// The field.
    pub field: String,
    /// What the browser calls the file.
    pub name: String,
    /// What is in it.
    pub content: Bytes,
}

impl Posted {
    /// A form as its fields stand, before anybody sent it: for a look that an address asks for.
    pub(crate) fn of(fields: &[(String, String)]) -> Self {
        let mut posted = Self::default();
        for (name, value) in fields {
            posted.add(name.clone(), value.as_bytes());
        }
        posted
    }

    /// The text of a field as typed; empty if it was not sent.
    #[must_use]
    pub fn text(&self, name: &str) -> &str {
        self.fields
            .iter()
            .find(|field| field.name == name)
            .map_or("", |field| &field.value)
    }

    /// The texts of all fields of a name: of boxes that were ticked, of rows.
    #[must_use]
    pub fn all(&self, name: &str) -> Vec<&str> {
        self.fields
            .iter()
            .filter(|field| field.name == name)
            .map(|field| field.value.as_str())
            .collect()
    }

    /// Whether a field, or a box, or a button was sent at all.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.fields.iter().any(|field| field.name == name)
    }

    /// Whether a field was sent as something that is not UTF-8.
    #[must_use]
    pub fn is_broken(&self, name: &str) -> bool {
        self.fields
            .iter()
            .any(|field| field.name == name && field.broken)
    }

    /// The names of all fields that were sent as something that is not UTF-8.
    pub fn broken(&self) -> impl Iterator<Item = &str> {
        self.fields
            .iter()
            .filter(|field| field.broken)
            .map(|field| field.name.as_str())
    }

    /// The file of a field, if one was chosen.
    #[must_use]
    pub fn file(&self, name: &str) -> Option<&File> {
        self.files
            .iter()
            .find(|file| file.field == name && !(file.name.is_empty() && file.content.is_empty()))
    }

    /// Names and values in the order sent, without the token and without passwords.
    #[must_use]
    pub fn shown_again(&self) -> Vec<(String, String)> {
        self.fields
            .iter()
            .filter(|field| field.name != TOKEN && !field.name.contains("password"))
            .map(|field| (field.name.clone(), field.value.clone()))
            .collect()
    }

    fn add(&mut self, name: String, value: &[u8]) {
        let broken = std::str::from_utf8(value).is_err();
        self.fields.push(Field {
            name,
            value: String::from_utf8_lossy(value).into_owned(),
            broken,
        });
    }

    pub(crate) fn from_urlencoded(body: &[u8]) -> Self {
        let mut posted = Self::default();
        for pair in body.split(|b| *b == b'&').filter(|pair| !pair.is_empty()) {
            let at = pair.iter().position(|b| *b == b'=').unwrap_or(pair.len());
            let (name, value) = pair.split_at(at);
            let name = String::from_utf8_lossy(&decoded(name)).into_owned();
            posted.add(name, &decoded(value.get(1..).unwrap_or_default()));
        }
        posted
    }

    async fn from_multipart(mut form: Multipart) -> Result<Self, PageError> {
        let mut posted = Self::default();
        while let Some(part) = form.next_field().await.map_err(|e| broken_multipart(&e))? {
            let field = part.name().unwrap_or_default().to_owned();
            let file_name = part.file_name().map(str::to_owned);
            let content = part.bytes().await.map_err(|e| broken_multipart(&e))?;
            match file_name {
                Some(name) => posted.files.push(File {
                    field,
                    name,
                    content,
                }),
                None => posted.add(field, &content),
            }
        }
        Ok(posted)
    }

    /// Reads a form without checking its token, to give it back or to check it.
    pub(crate) async fn unchecked(request: Request, app: &App) -> Result<Self, PageError> {
        let kind = request
            .headers()
            .get(header::CONTENT_TYPE)
            .and_then(|kind| kind.to_str().ok())
            .unwrap_or_default()
            .to_ascii_lowercase();
        if kind.starts_with("application/x-www-form-urlencoded") {
            let body = Bytes::from_request(request, app)
                .await
                .map_err(|refused| by_status(refused.into_response().status()))?;
            Ok(Self::from_urlencoded(&body))
        } else if kind.starts_with("multipart/form-data") {
            let form = Multipart::from_request(request, app)
                .await
                .map_err(|refused| by_status(refused.into_response().status()))?;
            Self::from_multipart(form).await
        } else {
            Err(PageError::UnknownForm)
        }
    }
}

/// `+` is a blank in a form, and percent signs are bytes (WHATWG URL, application/x-www-form-urlencoded).
fn decoded(text: &[u8]) -> Vec<u8> {
    let spaced: Vec<u8> = text
        .iter()
        .map(|b| if *b == b'+' { b' ' } else { *b })
        .collect();
    percent_decode(&spaced).collect()
}

fn by_status(status: StatusCode) -> PageError {
    match status {
        StatusCode::PAYLOAD_TOO_LARGE => PageError::TooLarge,
        _ => PageError::Unreadable("What was sent broke off, or is no form. Send it again."),
    }
}

fn broken_multipart(error: &axum::extract::multipart::MultipartError) -> PageError {
    by_status(error.status())
}

impl FromRequest<App> for Posted {
    type Rejection = PageError;

    async fn from_request(request: Request, app: &App) -> Result<Self, PageError> {
        let token = Caller::of(request.extensions())?.form_token().to_owned();
        let action = request.uri().path().to_owned();
        let posted = Self::unchecked(request, app).await?;
        if tokens::same(posted.text(TOKEN), &token) {
            Ok(posted)
        } else {
            Err(PageError::StaleForm(Sent {
                action,
                fields: posted.shown_again(),
            }))
        }
    }
}

/// The form by which a mail program ends mails without asking further (RFC 8058 § 3.2), or one with its
/// token. The secret in the address is what allows it, so it needs no other.
pub(crate) struct OneClick;

impl FromRequest<App> for OneClick {
    type Rejection = PageError;

    async fn from_request(request: Request, app: &App) -> Result<Self, PageError> {
        let token = Caller::of(request.extensions())?.form_token().to_owned();
        let action = request.uri().path().to_owned();
        let posted = Posted::unchecked(request, app).await?;
        if posted.text("List-Unsubscribe") == "One-Click"
            || tokens::same(posted.text(TOKEN), &token)
        {
            Ok(Self)
        } else {
            Err(PageError::StaleForm(Sent {
                action,
                fields: posted.shown_again(),
            }))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // WHATWG URL Standard § 5.1, application/x-www-form-urlencoded parsing; from memory.
    #[test]
    fn a_form_is_read_as_browsers_send_it() {
        let posted = Posted::from_urlencoded(b"a=1+2&b=%C3%A9&a=3&empty=&bare&c=x%3Dy%26z");
        assert_eq!(posted.text("a"), "1 2");
        assert_eq!(posted.all("a"), ["1 2", "3"]);
        assert_eq!(posted.text("b"), "é");
        assert_eq!(posted.text("c"), "x=y&z");
        assert!(posted.has("empty") && posted.has("bare") && !posted.has("absent"));
        assert_eq!(posted.text("absent"), "");
    }

    #[test]
    fn broken_utf8_is_known_and_shown() {
        let posted = Posted::from_urlencoded(b"name=%FFAda&other=fine");
        assert!(posted.is_broken("name") && !posted.is_broken("other"));
        assert_eq!(posted.text("name"), "\u{fffd}Ada");
    }

    #[test]
    fn passwords_and_the_token_are_not_shown_again() {
        let posted =
            Posted::from_urlencoded(b"csrf=t&email=a%40b.example&password=secret&new_password=x");
        assert_eq!(
            posted.shown_again(),
            [("email".to_owned(), "a@b.example".to_owned())]
        );
    }
}
