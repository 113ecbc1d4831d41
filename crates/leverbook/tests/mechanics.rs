//! `leverbook mechanics FILE.json`, as a person runs it.

use std::process::{Command, Output};

/// Runs the command on a file with this text.
fn mechanics(text: &str) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("club.json");
    std::fs::write(&file, text).unwrap();
    Command::new(env!("CARGO_BIN_EXE_leverbook"))
        .arg("mechanics")
        .arg(file)
        .output()
        .unwrap()
}

fn figures(text: &str) -> serde_json::Value {
    let output = mechanics(text);
    assert!(output.status.success(), "{output:?}");
    serde_json::from_slice(&output.stdout).unwrap()
}

fn refusal(text: &str) -> String {
    let output = mechanics(text);
    assert!(
        !output.status.success() && output.stdout.is_empty(),
        "{output:?}"
    );
    String::from_utf8(output.stderr).unwrap()
}

// Steel handle with steel frustum head: adaptive quadrature, scipy 1.17.1; six figures given.
#[test]
fn a_shape_gives_all_five_figures() {
    let found = figures(
        r#"{"grip_mm": 50, "segments": [
            {"length_mm": 300, "start_radius_mm": 16, "end_radius_mm": 16, "bore_radius_mm": 0, "density_kg_m3": 7850},
            {"length_mm": 360, "start_radius_mm": 20, "end_radius_mm": 45, "bore_radius_mm": 0, "density_kg_m3": 7850}]}"#,
    );
    for (name, expected) in [
        ("mass_kg", 11.733_9),
        ("balance_mm", 463.619),
        ("static_moment_nm", 47.595_4),
        ("inertia_cm_kgm2", 0.330_921),
        ("inertia_grip_kgm2", 2.338_37),
    ] {
        let value = found[name]["value"].as_f64().unwrap();
        assert!((value / expected - 1.0).abs() < 5e-6, "{name}: {value}");
        assert!(found[name]["plus_minus"].as_f64().unwrap() > 0.0, "{name}");
    }
}

#[test]
fn what_is_not_known_is_null() {
    let found = figures(r#"{"club": "Bell 8", "mass_kg": 8, "length_mm": 600}"#);
    assert_eq!(found["mass_kg"]["value"], 8.0);
    for name in [
        "balance_mm",
        "static_moment_nm",
        "inertia_cm_kgm2",
        "inertia_grip_kgm2",
    ] {
        assert!(
            found.as_object().unwrap().contains_key(name) && found[name].is_null(),
            "{name}"
        );
    }
}

#[test]
fn a_bad_file_names_the_field() {
    let negative =
        r#"{"mass_kg": 10, "length_mm": 700, "balance_mm": 450, "period_s": 0.7, "pivot_mm": 0}"#;
    assert!(refusal(negative).contains("period_s: gives a negative moment of inertia"));
    assert!(
        refusal(r#"{"mass_kg": -1, "length_mm": 700}"#).contains("mass_kg: mass must be over 0")
    );
    assert!(refusal(r#"{"mass_kg": 1, "length_mm": 700, "balanse_mm": 3}"#).contains("balanse_mm"));
    assert!(refusal("{").contains("describes no club"));
    assert!(refusal("[]").contains("describes no club"));
    assert!(refusal("{}").contains("mass_kg: is missing"));
}
