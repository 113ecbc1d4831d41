//! Writes the invented gym into `demo-data/`.

fn main() -> std::io::Result<()> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data");
    for (name, text) in leverbook_tests::demo_gym::files() {
        std::fs::write(folder.join(name), text)?;
    }
    Ok(())
}
