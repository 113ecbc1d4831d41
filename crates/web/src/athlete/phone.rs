//! The pages that live on the phone: the guided session, what waits there to be sent, and what makes
//! it an app of its own. They are shells: scripts fill them from what the phone carries, so that
//! they open without signal.

use askama::Template;
use axum::http::header;
use axum::response::{IntoResponse, Response};

use crate::assets;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "athlete/train.html")]
pub(crate) struct TrainPage {
    frame: Frame,
}

#[derive(Template)]
#[template(path = "athlete/phone.html")]
pub(crate) struct PhonePage {
    frame: Frame,
}

/// `GET /train`: the guided session.
pub(crate) async fn train(visit: Visit) -> Page<TrainPage> {
    Page(TrainPage {
        frame: visit.frame("Training", Nav::Today),
    })
}

/// `GET /phone`: what is on this phone.
pub(crate) async fn show(visit: Visit) -> Page<PhonePage> {
    Page(PhonePage {
        frame: visit.frame("On this phone", Nav::Phone),
    })
}

/// `GET /manifest.webmanifest` (W3C Web Application Manifest): the gym's book as an app.
pub(crate) async fn manifest(visit: Visit) -> Response {
    let icon = |file: &str, sizes: &str, purpose: &str| {
        let kind = if file.ends_with(".svg") {
            "image/svg+xml"
        } else {
            "image/png"
        };
        serde_json::json!({
            "src": assets::address(file), "sizes": sizes, "type": kind, "purpose": purpose,
        })
    };
    let manifest = serde_json::json!({
        "id": visit.to("today"),
        "name": format!("{} · Leverbook", visit.gym_name),
        "short_name": "Leverbook",
        "description": "Your plan, your training and your log.",
        "start_url": visit.to("today"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#fbfaf6",
        "theme_color": "#fbfaf6",
        "icons": [
            icon("icons/mark-192.png", "192x192", "any"),
            icon("icons/mark-512.png", "512x512", "any"),
            icon("icons/mark-512-maskable.png", "512x512", "maskable"),
            icon("icons/mark.svg", "any", "any"),
        ],
    });
    let headers = [(header::CONTENT_TYPE, "application/manifest+json")];
    (headers, manifest.to_string()).into_response()
}
