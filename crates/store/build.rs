//! Builds again when a migration is added: they are embedded.

fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
