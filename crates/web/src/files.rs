//! A file as an answer.

use axum::http::header;
use axum::response::{IntoResponse, Response};

/// Answers with a file to keep: CSV, or TOML by its name.
pub(crate) fn download(name: &str, content: Vec<u8>) -> Response {
    let kind = if name.ends_with(".toml") {
        "application/toml; charset=utf-8"
    } else {
        "text/csv; charset=utf-8; header=present"
    };
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}\""),
        ),
    ];
    (headers, content).into_response()
}
