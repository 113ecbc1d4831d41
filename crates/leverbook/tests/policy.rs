//! The gym's policy out and in at the command line, and the same file at work without a database.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use leverbook_domain::policy::{Policy, PolicyVersion, file};
use leverbook_local_postgres::{Cluster, Role};
use tempfile::TempDir;

fn run(url: &str, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leverbook"))
        .args(arguments)
        .env_remove("LEVERBOOK_DATA")
        .env("DATABASE_URL", url)
        .output()
        .unwrap()
}

fn says(url: &str, arguments: &[&str]) -> String {
    let output = run(url, arguments);
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{told}");
    String::from_utf8(output.stdout).unwrap()
}

fn refuses(url: &str, arguments: &[&str]) -> String {
    let output = run(url, arguments);
    assert!(!output.status.success());
    String::from_utf8(output.stderr).unwrap()
}

#[test]
fn a_policy_goes_out_and_comes_in_with_a_reason() {
    let cluster = Cluster::disposable().unwrap();
    let way = cluster.connection(Role::Admin);
    let socket = way.socket_folder().to_str().unwrap().replace('/', "%2F");
    let url = format!(
        "postgres://{}@{socket}:{}/{}",
        way.user(),
        way.port(),
        way.database()
    );
    let owner = [
        "account",
        "add",
        "--gym",
        "Quarry Lane Club Hall",
        "--time-zone",
        "Europe/Lisbon",
        "--email",
        "maren@quarry.example",
        "--name",
        "Maren Holt",
    ];
    says(&url, &owner);
    let shipped = says(&url, &["export", "policy"]);
    assert_eq!(shipped, file::write(&Policy::default()));

    let folder = TempDir::new().unwrap();
    let path = folder.path().join("policy.toml");
    let name = path.to_str().unwrap();
    fs::write(
        &path,
        shipped.replace("\npain_stop = 4\n", "\npain_stop = 3\n"),
    )
    .unwrap();
    let because = ["--because", "Stop sooner."];
    let import = |more: &[&'static str]| {
        let mut arguments = vec!["import", "--policy", name];
        arguments.extend(more);
        arguments
    };
    let told = refuses(&url, &import(&[]));
    assert!(told.contains("--because"), "{told}");
    let tried = says(&url, &[&import(&because)[..], &["--dry-run"]].concat());
    assert!(tried.contains("policy: pain_stop from 4 to 3\n"), "{tried}");
    assert_eq!(says(&url, &["export", "policy"]), shipped, "only tried");
    let done = says(&url, &import(&because));
    assert!(done.contains("policy: version 1\n"), "{done}");
    let changed = Policy {
        version: PolicyVersion(1),
        pain_stop: 3,
        ..Policy::default()
    };
    let given = says(&url, &["export", "policy"]);
    assert_eq!(file::read(&given), Ok(changed));
    let again = says(&url, &import(&because));
    assert!(again.contains("policy: the same\n"), "{again}");

    fs::write(&path, "pain_stop = 0\nstep_percant = 1\n").unwrap();
    let told = refuses(&url, &import(&because));
    assert!(
        told.contains("line 1: pain_stop must be a whole number from 1 to 10"),
        "{told}"
    );
    assert!(
        told.contains("line 2: step_percant is no threshold"),
        "{told}"
    );
    assert!(told.contains("nothing was imported"), "{told}");
    assert_eq!(says(&url, &["export", "policy"]), given);

    // The same file, without a database.
    fs::write(&path, &given).unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-data");
    let [sets, clubs] = ["sets.csv", "clubs.csv"].map(|file| demo.join(file));
    let lines = says(
        "",
        &[
            "assess",
            "--log",
            sets.to_str().unwrap(),
            "--clubs",
            clubs.to_str().unwrap(),
            "--policy",
            name,
            "--as-of",
            "2026-11-22",
        ],
    );
    assert!(lines.lines().count() > 10);
    assert!(
        lines.lines().all(|line| line.contains("\"policy\":1")),
        "{lines}"
    );
}
