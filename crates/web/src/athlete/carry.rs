//! What a phone carries: the plan of the next two weeks and what is needed to log without signal.

use axum::response::{IntoResponse, Response};

use crate::assets;
use crate::visit::Visit;

/// `GET /carry`.
pub(crate) async fn give(visit: Visit) -> Response {
    axum::Json(serde_json::json!({
        "format": 1,
        "release": assets::release(),
        "account": visit.account,
        "gym": visit.gym,
        "zone": visit.zone,
    }))
    .into_response()
}
