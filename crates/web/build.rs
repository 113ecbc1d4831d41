//! Puts the static files into the binary, and builds again when a template changes.

fn main() {
    println!("cargo:rerun-if-changed=../../templates");
    println!("cargo:rerun-if-changed=../../static");
    memory_serve::load_directory("../../static");
}
