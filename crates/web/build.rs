//! Puts the static files into the binary, and builds again when a template changes.

use std::path::{Path, PathBuf};
use std::{env, fs};

#[path = "src/shipping.rs"]
pub mod shipping;

const STATIC: &str = "../../static";

fn main() {
    println!("cargo:rerun-if-changed=../../templates");
    println!("cargo:rerun-if-changed={STATIC}");
    if cfg!(debug_assertions) {
        // Read from the disk at each request.
        memory_serve::load_directory(STATIC);
    } else {
        let out = env::var_os("OUT_DIR").expect("cargo sets it");
        let shipped = PathBuf::from(out).join("static");
        ship(Path::new(STATIC), &shipped);
        memory_serve::load_directory(shipped);
    }
}

/// Copies a folder, as it is shipped.
fn ship(from: &Path, to: &Path) {
    // A file that is gone from the source must not stay.
    if to.exists() {
        fs::remove_dir_all(to).expect("the copy can be made anew");
    }
    fs::create_dir_all(to).expect("a folder for the copy");
    for entry in fs::read_dir(from).expect("the static files") {
        let from = entry.expect("a static file").path();
        let to = to.join(from.file_name().expect("a file has a name"));
        if from.is_dir() {
            ship(&from, &to);
            continue;
        }
        let content = fs::read(&from).expect("a static file");
        let shipped = match std::str::from_utf8(&content) {
            Ok(text) => shipping::as_shipped(&from.to_string_lossy(), text).into_bytes(),
            Err(_) => content,
        };
        fs::write(&to, shipped).expect("the copy");
    }
}
