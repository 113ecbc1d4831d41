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

/// What a phone carries, beside the mark: the sheets and scripts of the athlete's pages. The desk's are not among
/// them, so that they may grow.
const CARRIED: [&str; 20] = [
    "/css/charts.css",
    "/css/log.css",
    "/css/page.css",
    "/css/parts.css",
    "/css/phone.css",
    "/css/tokens.css",
    "/css/train.css",
    "/icons/mark.svg",
    "/js/copy.js",
    "/js/idb.js",
    "/js/on-phone.js",
    "/js/outbox.js",
    "/js/phone.js",
    "/js/service-worker.js",
    "/js/session.js",
    "/js/signals.js",
    "/js/stages.js",
    "/js/train.js",
    "/js/underway.js",
    "/js/words.js",
];

/// `GET /service-worker.js`: under an address that stays, for the whole host, and never kept by the
/// browser. It says which files of this release a phone carries; the rest is one of them.
pub(crate) async fn service_worker() -> Response {
    let files: Vec<String> = FILES
        .iter()
        .filter(|(name, _)| CARRIED.contains(name))
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

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::*;

    /// What stands between `before` and the next quotation mark, wherever it stands in a text.
    fn named<'a>(text: &'a str, before: &str) -> Vec<&'a str> {
        let rest = text.split(before).skip(1);
        rest.filter_map(|rest| rest.split('"').next()).collect()
    }

    /// A page without signal would lack what is not carried, and nobody would see it before.
    #[test]
    fn a_phone_carries_all_that_the_athletes_pages_name() {
        let house = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let mut seen = 0;
        for entry in fs::read_dir(house.join("templates/athlete")).expect("templates") {
            let path = entry.expect("an entry").path();
            let text = fs::read_to_string(&path).expect("a template");
            for file in named(&text, "frame.asset(\"") {
                assert!(
                    CARRIED.contains(&format!("/{file}").as_str()),
                    "{file} is on {} and not carried",
                    path.display()
                );
                seen += 1;
            }
        }
        for script in CARRIED.iter().filter(|name| name.ends_with(".js")) {
            let text = fs::read_to_string(house.join("static").join(&script[1..])).expect(script);
            for file in named(&text, "from \"./") {
                assert!(
                    CARRIED.contains(&format!("/js/{file}").as_str()),
                    "{file} is used by {script} and not carried"
                );
                seen += 1;
            }
        }
        assert!(seen > 10, "files were found: {seen}");
        for name in CARRIED {
            assert!(
                FILES.iter().any(|(file, _)| *file == name),
                "{name} is gone"
            );
        }
    }
}
