//! `leverbook assess`, as a person runs it on files.

use std::collections::{BTreeMap, BTreeSet};
use std::process::{Command, Output};

use leverbook_domain::policy::Policy;
use leverbook_domain::rules::Rule;
use leverbook_domain::rules::help::rule_text;
use serde_json::{Map, Value, json};

const CLUBS: &str = "club,mass_kg,length_mm,balance_mm,grip_mm,period_s,pivot_mm\n\
    Ash 6,6,800,550,50,,\n\
    Ash 9,9,800,550,50,,\n";

const HEADER: &str =
    "athlete,date,session,movement,hands,club,side,seconds,reps,effort,pain,pain_place\n";

/// Runs the command on these files.
fn assess(sets: impl AsRef<[u8]>, clubs: &str, policy: Option<&str>, options: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    };
    let mut command = Command::new(env!("CARGO_BIN_EXE_leverbook"));
    command.arg("assess");
    command.arg("--log").arg(file("sets.csv", sets.as_ref()));
    command
        .arg("--clubs")
        .arg(file("clubs.csv", clubs.as_bytes()));
    if let Some(policy) = policy {
        command
            .arg("--policy")
            .arg(file("policy.toml", policy.as_bytes()));
    }
    command.args(options).output().unwrap()
}

/// The lines printed for these rows of the log.
fn lines(rows: &str, options: &[&str]) -> Vec<Value> {
    let output = assess(format!("{HEADER}{rows}"), CLUBS, None, options);
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn flags<'a>(lines: &'a [Value], rule: &str) -> Vec<&'a Value> {
    let is = |line: &&Value| line["kind"] == "flag" && line["rule"] == rule;
    lines.iter().filter(is).collect()
}

/// Ida holds level for two sessions, then jumps by half, unequally, and it hurts.
const IDA: &str = "\
    Ida,2026-11-02,1,mill,two,Ash 6,left,30,14,6,,\n\
    Ida,2026-11-02,1,mill,two,Ash 6,right,30,14,6,,\n\
    Ida,2026-11-05,1,mill,two,Ash 6,left,30,14,6,,\n\
    Ida,2026-11-05,1,mill,two,Ash 6,right,30,14,6,,\n\
    Ida,2026-11-09,1,mill,two,Ash 9,left,30,9,8,5,left elbow\n\
    Ida,2026-11-09,1,mill,two,Ash 9,right,30,12,8,,\n";

#[test]
fn flags_stand_with_names_and_figures() {
    let found = lines(IDA, &["--as-of", "2026-11-10"]);
    let jump = flags(&found, "W1");
    assert_eq!(jump.len(), 1);
    // M4: 9/6 − 1 at the same balance point and grip; the limit is common practice, a third.
    assert_eq!(
        *jump[0],
        json!({
            "kind": "flag", "athlete": "Ida", "rule": "W1", "severity": "look",
            "movement": "mill", "hands": "two", "club": "Ash 9", "since": "2026-11-09",
            "evidence": {
                "about": "step", "from": "Ash 6", "to": "Ash 9",
                "step": {"fraction": 0.5, "basis": "moment"},
                "limit_percent": 33.0, "smaller": null, "smaller_step": null,
            },
            "source": rule_text(Rule::W1, &Policy::default()).source,
            "policy": 0,
        })
    );
    let pain = flags(&found, "L4");
    assert_eq!(pain[0]["severity"], "stop");
    assert_eq!(pain[0]["evidence"]["place"], "left elbow");
    let sides = flags(&found, "B1");
    assert_eq!(sides[0]["evidence"]["left_reps"], 9);
    // Robinson et al. 1987: 100·|9 − 12|/(0.5·(9 + 12)) = 28.571 %.
    let index = sides[0]["evidence"]["index_percent"].as_f64().unwrap();
    assert!((index - 28.571).abs() < 1e-3);
}

#[test]
fn every_line_names_the_policy_and_every_flag_its_source() {
    let log = format!("{HEADER}{IDA}");
    for options in [&["--as-of", "2026-11-10"][..], &["--replay"]] {
        let output = assess(&log, CLUBS, Some("version = 7\nstep_percent = 40"), options);
        assert!(output.status.success(), "{output:?}");
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(text.lines().count() > 2, "{text}");
        for line in text.lines() {
            let line: Value = serde_json::from_str(line).unwrap();
            assert_eq!(line["policy"], 7, "{line}");
            if line["kind"] == "flag" {
                let rule = Rule::from_id(line["rule"].as_str().unwrap()).unwrap();
                assert_eq!(line["source"], rule_text(rule, &Policy::default()).source);
            }
        }
    }
}

#[test]
fn each_movement_has_a_next_step_with_reasons() {
    let rows = "\
        Bo,2026-11-02,1,mill,two,Ash 6,left,30,14,6,,\n\
        Bo,2026-11-02,1,mill,two,Ash 6,right,30,14,6,,\n";
    let found = lines(rows, &["--as-of", "2026-11-03"]);
    assert_eq!(
        found,
        [json!({
            "kind": "next_step", "athlete": "Bo", "movement": "mill", "hands": "two",
            "step": "stay", "sets": null, "club": "Ash 6",
            "reasons": [{
                "rule": "T4",
                "text": "28.0 a minute with Ash 6; 1 of the 3 sessions that set the goal are done.",
            }],
            "against": [], "not_before": null,
            "would_change": ["2 more sessions with Ash 6: they set the goal"],
            "density": [{
                "club": "Ash 6", "seconds": 30, "last_on": "2026-11-02", "left": false, "stalled": false,
                "density_rpm": 28.0, "goal_rpm": null, "best_rpm": 28.0, "best_on": "2026-11-02",
                "sessions_since_best": 0, "slope_rpm_per_week": null, "slope_low": null,
                "slope_high": null, "kendall_s": null, "kendall_p": null, "kendall_exact": null,
                "sessions": 1, "sessions_missing": 7, "recovered_rpm": null,
                "goal_reach": {"when": "unknown"},
            }],
            "policy": 0,
        })]
    );
    let found = lines(IDA, &["--as-of", "2026-11-10"]);
    let step = found
        .iter()
        .find(|line| line["kind"] == "next_step")
        .unwrap();
    assert_eq!(step["step"], "wait_for_coach");
}

#[test]
fn a_day_before_the_jump_knows_nothing_of_it() {
    let found = lines(IDA, &["--as-of", "2026-11-08"]);
    assert!(found.iter().all(|line| line["kind"] != "flag"), "{found:?}");
}

#[test]
fn a_replay_tells_each_event_on_its_day() {
    let rows = format!(
        "{IDA}\
         Bo,2026-11-10,1,mill,two,Ash 6,left,30,10,,,\n\
         Ida,2026-11-12,1,mill,two,Ash 6,left,30,12,6,0,\n\
         Ida,2026-11-12,1,mill,two,Ash 6,right,30,12,6,0,\n\
         Ida,2026-11-16,1,mill,two,Ash 6,left,30,12,6,0,\n\
         Ida,2026-11-16,1,mill,two,Ash 6,right,30,12,6,0,\n"
    );
    let events = lines(&rows, &["--replay", "--as-of", "2026-11-30"]);
    assert!(events.iter().all(|line| line["kind"] == "flag"));
    let told = |rule: &str| -> Vec<(String, String, String)> {
        let word = |value: &Value| value.as_str().unwrap().to_owned();
        flags(&events, rule)
            .iter()
            .map(|line| {
                (
                    word(&line["athlete"]),
                    word(&line["event"]),
                    word(&line["on"]),
                )
            })
            .collect()
    };
    let expected = |events: &[(&str, &str, &str)]| -> Vec<(String, String, String)> {
        let owned = |(who, what, on): &(&str, &str, &str)| {
            ((*who).to_owned(), (*what).to_owned(), (*on).to_owned())
        };
        events.iter().map(owned).collect()
    };
    assert_eq!(
        told("B1"),
        expected(&[
            ("Ida", "raised", "2026-11-09"),
            ("Bo", "raised", "2026-11-10"),
            ("Ida", "closed", "2026-11-12"),
        ])
    );
    // Two sessions that said: no pain.
    assert_eq!(
        told("L4"),
        expected(&[
            ("Ida", "raised", "2026-11-09"),
            ("Ida", "closed", "2026-11-16")
        ])
    );
    // Fourteen days after the last session, though nobody logged on that day.
    assert_eq!(
        told("A1"),
        expected(&[
            ("Bo", "raised", "2026-11-24"),
            ("Ida", "raised", "2026-11-30")
        ])
    );
    let days: Vec<&str> = events
        .iter()
        .map(|line| line["on"].as_str().unwrap())
        .collect();
    assert!(days.is_sorted(), "{days:?}");
}

#[test]
fn the_same_files_in_another_order_say_the_same() {
    let mut rows: Vec<String> = IDA.lines().map(|row| format!("{}\n", row.trim())).collect();
    let day = ["--as-of", "2026-11-10"];
    let as_written = lines(&rows.concat(), &day);
    rows.reverse();
    assert_eq!(lines(&rows.concat(), &day), as_written);
}

#[test]
fn a_gyms_own_thresholds_count() {
    let text = format!("{HEADER}{IDA}");
    let day = ["--as-of", "2026-11-10"];
    let wide = assess(&text, CLUBS, Some("step_percent = 60.0\n"), &day);
    assert!(!String::from_utf8(wide.stdout).unwrap().contains("\"W1\""));

    let wrong = assess(
        &text,
        CLUBS,
        Some("pain_stop = 5\nstep_percant = 60.0\n"),
        &day,
    );
    let told = String::from_utf8(wrong.stderr).unwrap();
    assert_eq!(wrong.status.code(), Some(2), "{told}");
    assert!(
        told.contains("line 2") && told.contains("step_percant"),
        "{told}"
    );
    assert!(wrong.stdout.is_empty());
}

#[test]
fn thresholds_that_mean_nothing_are_refused() {
    let text = format!("{HEADER}{IDA}");
    let wrong = assess(
        &text,
        CLUBS,
        Some("step_percent = nan\npain_stop = 0\n"),
        &[],
    );
    let told = String::from_utf8(wrong.stderr).unwrap();
    assert_eq!(wrong.status.code(), Some(2), "{told}");
    assert!(
        told.contains("step_percent must be from 0 to 200 %"),
        "{told}"
    );
    assert!(
        told.contains("pain_stop must be a whole number from 1 to 10"),
        "{told}"
    );
    assert!(wrong.stdout.is_empty());
}

#[test]
fn bad_files_are_refused_without_a_panic() {
    let row = |cells: &str| format!("{HEADER}{cells}\n");
    let long = "x".repeat(1_000_000);
    let many = "Bo,2026-11-10,1,mill,two,Ash 6,left,30,10,,,\n".repeat(10_000);
    let cases: [(&str, Vec<u8>); 11] = [
        ("empty", Vec::new()),
        (
            "no header",
            b"Bo,2026-11-10,1,mill,two,Ash 6,left,30,10,,,\n".to_vec(),
        ),
        (
            "long name",
            row(&format!("{long},2026-11-10,1,mill,two,Ash 6,left,30,10,,,")).into(),
        ),
        ("many sets", format!("{HEADER}{many}").into()),
        (
            "NaN",
            row("Bo,2026-11-10,1,mill,two,Ash 6,left,30,NaN,,,").into(),
        ),
        (
            "huge",
            row("Bo,2026-11-10,1,mill,two,Ash 6,left,30,99999999999999999999,,,").into(),
        ),
        (
            "negative",
            row("Bo,2026-11-10,1,mill,two,Ash 6,left,30,-1,,,").into(),
        ),
        (
            "ancient",
            row("Bo,0001-01-01,1,mill,two,Ash 6,left,30,10,,,").into(),
        ),
        (
            "far ahead",
            row("Bo,9999-12-31,1,mill,two,Ash 6,left,30,10,,,").into(),
        ),
        (
            "control",
            row("B\u{7}o,2026-11-10,1,mill,two,Ash 6,left,30,10,,,").into(),
        ),
        (
            "not UTF-8",
            [
                HEADER.as_bytes(),
                b"B\xffo,2026-11-10,1,mill,two,Ash 6,left,30,10,,,\n",
            ]
            .concat(),
        ),
    ];
    for (name, bytes) in cases {
        let output = assess(bytes, CLUBS, None, &[]);
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{name}: {told}");
        assert!(
            output.stdout.is_empty() && told.contains("sets.csv: "),
            "{name}: {told}"
        );
    }
    // Any script is a name.
    let names = row(
        "\u{5de}\u{5d9}\u{5db}\u{5dc} \u{1f3cb}\u{fe0f},2026-11-10,1,mill,two,Ash 6,left,30,10,,,",
    );
    assert!(assess(names, CLUBS, None, &[]).status.success());
}

#[test]
fn problems_are_told_by_line_and_column_and_nothing_is_printed() {
    let rows = "\
        Ida,2026-11-02,1,mill,two,Ash 7,left,30,14,6,,\n\
        Ida,2026-11-02,1,mill,two,Ash 6,right,30,14,6,,\n";
    let output = assess(format!("{HEADER}{rows}"), CLUBS, None, &[]);
    let told = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(
        told.ends_with(
            "sets.csv: line 2, column club: is not in the clubs' file (found \"Ash 7\")\n"
        ),
        "{told}"
    );
    assert!(output.stdout.is_empty());

    let output = assess(
        "athlete,date\nIda,2026-11-02\n",
        "club,mass_kg\nAsh 6,-6\n",
        None,
        &[],
    );
    let told = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(
        told.contains("clubs.csv: line 2, column mass_kg: mass must be over 0"),
        "{told}"
    );
    assert!(
        told.contains("sets.csv: line 1, column session: this column is missing"),
        "{told}"
    );
    assert!(output.stdout.is_empty());
}

#[test]
fn sessions_after_the_day_are_left_out_and_that_is_said() {
    let text = format!("{HEADER}{IDA}");
    let output = assess(&text, CLUBS, None, &["--as-of", "2026-11-08"]);
    let told = String::from_utf8(output.stderr).unwrap();
    assert_eq!(told, "leverbook: 1 session after 2026-11-08 left out\n");
    assert!(output.status.success());
}

#[test]
fn an_empty_log_says_nothing() {
    assert_eq!(lines("", &["--as-of", "2026-11-08"]), Vec::<Value>::new());
    assert_eq!(lines("", &["--replay"]), Vec::<Value>::new());
}

/// Names by the kind of object that has them.
type ByObject = BTreeMap<String, BTreeSet<String>>;

/// What the contributors' guide says that `assess` prints: a list whose bold words are the objects.
fn documented() -> ByObject {
    let guide = include_str!("../../../DEVELOPERS.md");
    let (_, section) = guide.split_once("## What `assess` prints").unwrap();
    let (section, _) = section.split_once("\n## ").unwrap();
    section
        .lines()
        .filter_map(|line| line.strip_prefix("- **")?.split_once("**"))
        .map(|(object, names)| {
            let names = names.split('`').skip(1).step_by(2);
            let names = names.filter(|name| !name.starts_with("--"));
            (object.to_owned(), names.map(str::to_owned).collect())
        })
        .collect()
}

/// Collects the names of an object and of all that are in it.
fn gather(object: &str, fields: &Map<String, Value>, found: &mut ByObject) {
    let names = found.entry(object.to_owned()).or_default();
    names.extend(fields.keys().cloned());
    for (name, value) in fields {
        let inner = match name.as_str() {
            "reasons" | "against" => "reason".to_owned(),
            "step" | "smaller_step" => "step size".to_owned(),
            "evidence" => format!("evidence {}", value["about"].as_str().unwrap()),
            other => other.to_owned(),
        };
        let values = match value {
            Value::Array(values) => values.as_slice(),
            other => std::slice::from_ref(other),
        };
        for value in values.iter().filter_map(Value::as_object) {
            gather(&inner, value, found);
        }
    }
}

/// One set a side at effort 9, and two sets in the next session: V5, which nobody in the invented gym has.
const NO_REST: &str = "\
    Vee,2026-11-02,1,mill,one,Ash 6,left,,5,9,,\n\
    Vee,2026-11-02,1,mill,one,Ash 6,right,,5,9,,\n\
    Vee,2026-11-05,1,mill,one,Ash 6,left,,5,6,,\n\
    Vee,2026-11-05,1,mill,one,Ash 6,left,,5,6,,\n\
    Vee,2026-11-05,1,mill,one,Ash 6,right,,5,6,,\n\
    Vee,2026-11-05,1,mill,one,Ash 6,right,,5,6,,\n";

/// The guide names everything that is printed over the invented gym, and nothing else.
#[test]
fn every_name_printed_is_in_the_contributors_guide() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data");
    let file = |name: &str| std::fs::read_to_string(format!("{root}/{name}")).unwrap();
    let (log, clubs) = (file("sets.csv"), file("clubs.csv"));
    let mut printed = ByObject::new();
    let no_rest = format!("{HEADER}{NO_REST}");
    let day = ["--as-of", "2026-11-25"];
    let replay = ["--as-of", "2026-11-25", "--replay"];
    for (log, clubs, options) in [
        (&log, clubs.as_str(), &day[..]),
        (&log, &clubs, &replay),
        (&no_rest, CLUBS, &replay),
    ] {
        let output = assess(log, clubs, None, options);
        assert!(output.status.success(), "{output:?}");
        for line in String::from_utf8(output.stdout).unwrap().lines() {
            let line: Value = serde_json::from_str(line).unwrap();
            let kind = line["kind"].as_str().unwrap();
            gather(kind, line.as_object().unwrap(), &mut printed);
        }
    }
    let mut documented = documented();
    // The array of a next step repeats the names of the evidence beside its own.
    let evidence = documented["evidence density"].clone();
    let evidence = evidence.into_iter().filter(|name| name != "about");
    documented.get_mut("density").unwrap().extend(evidence);
    assert_eq!(printed, documented);
}

/// T5: eight sessions level at 20 a minute. By hand: 20 is the start and the best, on the first day; the
/// goal is 1.2 times it; nothing rises. One session fewer, and one is missing before it can be told.
#[test]
fn the_count_of_each_club_and_interval_is_told_with_the_next_step() {
    let row = |day: &str, seconds: u16, reps: u16| -> String {
        ["left", "right"]
            .map(|side| format!("Bo,{day},1,mill,two,Ash 6,{side},{seconds},{reps},6,,\n"))
            .concat()
    };
    let days = [
        "2026-10-01",
        "2026-10-05",
        "2026-10-08",
        "2026-10-12",
        "2026-10-15",
        "2026-10-19",
        "2026-10-22",
        "2026-10-26",
    ];
    let level: String = days.iter().map(|day| row(day, 30, 10)).collect();
    let rows = level + &row("2026-10-26", 60, 19);
    let density = |as_of: &str| -> Vec<Value> {
        let found = lines(&rows, &["--as-of", as_of]);
        let step = found
            .iter()
            .find(|line| line["kind"] == "next_step")
            .unwrap();
        step["density"].as_array().unwrap().clone()
    };
    let all = density("2026-10-27");
    assert_eq!(all.len(), 2, "{all:?}");
    assert_eq!(
        (&all[1]["seconds"], &all[1]["sessions"]),
        (&json!(60), &json!(1))
    );
    let half_minute = &all[0];
    for (name, value) in [
        ("club", json!("Ash 6")),
        ("seconds", json!(30)),
        ("last_on", json!("2026-10-26")),
        ("density_rpm", json!(20.0)),
        ("goal_rpm", json!(24.0)),
        ("best_on", json!("2026-10-01")),
        ("sessions_since_best", json!(7)),
        ("slope_rpm_per_week", json!(0.0)),
        ("kendall_s", json!(0)),
        ("sessions_missing", json!(0)),
        ("goal_reach", json!({"when": "not_rising"})),
        ("left", json!(false)),
    ] {
        assert_eq!(half_minute[name], value, "{name}: {half_minute}");
    }
    assert_eq!(density("2026-10-25")[0]["sessions_missing"], 1);
    let later = density("2026-11-23");
    assert_eq!(
        (&later[0]["left"], &later[0]["sessions_missing"]),
        (&json!(true), &json!(8))
    );
}
