//! Any club's file is refused with the reason or worked out, to numbers that are numbers, and written again it is the
//! same club.
#![no_main]

use leverbook::commands::mechanics::read;
use libfuzzer_sys::fuzz_target;
use serde_json::Value;

fuzz_target!(|text: &str| {
    let Ok(club) = read(text) else { return };
    let figures = serde_json::to_value(club.mechanics()).expect("figures");
    for (name, figure) in figures.as_object().expect("an object") {
        if figure.is_null() {
            continue;
        }
        for part in ["value", "plus_minus"] {
            let number = figure[part].as_f64();
            assert!(number.is_some_and(f64::is_finite), "{name}: {figure}");
        }
        assert!(figure["plus_minus"].as_f64() >= Some(0.0), "{name}: {figure}");
    }
    let written = serde_json::to_string(&club).expect("a club's file");
    let again = read(&written).expect("what was written");
    assert_eq!(again.mechanics().static_moment.is_some(), club.mechanics().static_moment.is_some());
    let _: Value = figures;
});
