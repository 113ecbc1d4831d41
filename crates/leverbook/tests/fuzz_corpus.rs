//! What fuzzing holds of any bytes, tried on every file of its corpus, and on each with a byte changed or cut off.

use std::fs;
use std::path::Path;

#[path = "../../../tests/fuzz/tried.rs"]
mod tried;

#[test]
fn every_file_of_the_corpus_is_refused_or_holds() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/corpus");
    for (name, target) in [
        ("assess", tried::assess as fn(&[u8])),
        ("import", tried::import),
        ("mechanics", tried::mechanics),
    ] {
        let files: Vec<_> = fs::read_dir(corpus.join(name))
            .unwrap()
            .map(|entry| fs::read(entry.unwrap().path()).unwrap())
            .collect();
        assert!(files.len() > 3, "{name}");
        for bytes in files {
            target(&bytes);
            for nth in 1..8 {
                let at = bytes.len() * nth / 8;
                target(&bytes[..at]);
                let mut changed = bytes.clone();
                changed[at] ^= 1 << nth;
                target(&changed);
            }
        }
    }
}
