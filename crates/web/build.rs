//! Puts the static files into the binary, and builds again when a template changes.

use std::env;
use std::path::{Path, PathBuf};

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
        shipping::ship(Path::new(STATIC), &shipped);
        memory_serve::load_directory(shipped);
    }
}
