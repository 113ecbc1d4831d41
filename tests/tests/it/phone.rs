//! The athlete's phone: what it keeps, and that all of it arrives, once and in order.

use std::path::Path;

/// What the phone's database is reached through is the published build of npm's idb 8.0.4, byte for
/// byte, under a line with its licence.
#[test]
fn the_library_for_the_phones_database_is_the_published_one() {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    let ours = std::fs::read_to_string(tests.join("../static/js/idb.js")).expect("our copy");
    let published = std::fs::read_to_string(tests.join("browser/node_modules/idb/build/umd.js"))
        .expect("npm ci was run in tests/browser");
    let (licence, build) = ours.split_once('\n').expect("a line with the licence");
    assert!(licence.starts_with("/*! idb 8.0.4 ") && licence.contains("ISC License"));
    assert!(
        build == published,
        "static/js/idb.js is not the package's build"
    );
}
