//! A log that was kept on a phone, sent when there is signal.

use axum::response::Response;

use crate::error::PageError;
use crate::posted::Posted;
use crate::visit::Visit;

/// `POST /log/carried`.
pub(crate) async fn take(_visit: Visit, _posted: Posted) -> Result<Response, PageError> {
    Err(PageError::Unreadable(
        "This server does not take what phones carry yet. It waits on the phone.",
    ))
}
