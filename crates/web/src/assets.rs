//! Stylesheets, scripts and icons: in the binary, compressed, under an address that changes with the
//! content of any of them. Scripts name each other by relative addresses, so a page has all of one
//! release or none.

use std::sync::LazyLock;

use axum::Router;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use memory_serve::{CacheControl, load};
use sha2::{Digest, Sha256};

use crate::App;
use crate::tokens::hex;

/// Every file with the hash of its content, in order of name.
static FILES: LazyLock<Vec<(&'static str, String)>> = LazyLock::new(|| {
    let manifest = files().enable_hashed_routes(true).manifest();
    let mut files: Vec<(&str, String)> = manifest
        .iter()
        .map(|(name, hashed)| (name, hashed.to_owned()))
        .collect();
    files.sort_unstable();
    files
});

static RELEASE: LazyLock<String> = LazyLock::new(|| {
    let mut hash = Sha256::new();
    for (_, hashed) in FILES.iter() {
        hash.update(hashed);
    }
    hex(&hash.finalize()[..8])
});

fn files() -> memory_serve::MemoryServe {
    // Read from the disk while the house is built, a file may change under its address.
    let cache = if cfg!(debug_assertions) {
        CacheControl::NoCache
    } else {
        CacheControl::Long
    };
    load!().index_file(None).cache_control(cache)
}

/// What tells this set of files from every other.
#[must_use]
pub fn release() -> &'static str {
    &RELEASE
}

/// The address of a file of `static/`, such as `css/page.css`. An unknown file gives an address
/// that answers 404; a test looks every template's files up.
#[must_use]
pub fn address(file: &str) -> String {
    format!("/static/{}/{file}", release())
}

pub(crate) fn router() -> Router<App> {
    Router::new().nest(&format!("/static/{}", release()), files().into_router())
}

/// Whether a phone carries a file: not the coach's stylesheets, nor the pictures that the browser itself asks for
/// when the book is installed.
fn is_carried(name: &str) -> bool {
    const COACHS: [&str; 3] = ["/css/plan.css", "/css/policy.css", "/css/week.css"];
    !COACHS.contains(&name) && !name.ends_with(".png")
}

/// `GET /service-worker.js`: under an address that stays, for the whole host, and never kept by the
/// browser. It says which files of this release a phone carries; the rest is one of them.
pub(crate) async fn service_worker() -> Response {
    let files: Vec<String> = FILES
        .iter()
        .filter(|(name, _)| is_carried(name))
        .map(|(name, _)| address(name.trim_start_matches('/')))
        .collect();
    let script = format!(
        "const RELEASE = {};\nconst FILES = {};\nimportScripts({});\n",
        serde_json::json!(release()),
        serde_json::json!(files),
        serde_json::json!(address("js/service-worker.js")),
    );
    let headers = [
        (header::CONTENT_TYPE, "text/javascript; charset=utf-8"),
        (header::CACHE_CONTROL, "no-cache"),
    ];
    (headers, script).into_response()
}
