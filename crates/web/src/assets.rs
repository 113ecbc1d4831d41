//! Stylesheets, scripts and icons: in the binary, compressed, each under an address that changes
//! with its content.

use std::sync::LazyLock;

use axum::Router;
use memory_serve::{CacheControl, Manifest, load};

use crate::App;

/// Where the files are, under the host.
const FOLDER: &str = "/static";

static FILES: LazyLock<Manifest> = LazyLock::new(|| files().manifest());

fn files() -> memory_serve::MemoryServe {
    load!()
        .index_file(None)
        .enable_hashed_routes(true)
        .cache_control(CacheControl::Short)
}

/// The address of a file of `static/`, such as `css/page.css`. An unknown file gives its plain
/// address, which answers 404; a test looks every template's files up.
#[must_use]
pub fn address(file: &str) -> String {
    let route = format!("/{file}");
    format!("{FOLDER}{}", FILES.get(&route).unwrap_or(&route))
}

pub(crate) fn router() -> Router<App> {
    Router::new().nest(FOLDER, files().into_router())
}
