//! A file as an answer.

use axum::http::header;
use axum::response::{IntoResponse, Response};

/// Answers with a CSV file to keep.
pub(crate) fn download(name: &str, content: Vec<u8>) -> Response {
    let headers = [
        (
            header::CONTENT_TYPE,
            "text/csv; charset=utf-8; header=present".to_owned(),
        ),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}\""),
        ),
    ];
    (headers, content).into_response()
}
