//! The invented gym: what its scripts did on purpose is exactly what the flags find.

use std::collections::{BTreeMap, BTreeSet};

use leverbook_domain::id::AthleteId;
use leverbook_domain::review::Week;
use leverbook_domain::rules::Severity;
use leverbook_domain::training::catalogue::SHIPPED;
use leverbook_store::exchange::{self, Files, Import, Scope};
use leverbook_store::people::Role;
use leverbook_store::{athletes, flags};
use leverbook_tests::demo_gym::{self, AS_OF, COACH_NAMES, COACHES, PEOPLE};
use leverbook_tests::{NOW, TestGym};

/// Whoever looks around in the invented gym finds cues and faults for all that is swung there: the movements
/// are those that a new gym is given.
#[test]
fn every_movement_of_the_invented_gym_has_cues_and_faults() {
    let files = demo_gym::files();
    let (_, sets) = files
        .iter()
        .find(|(name, _)| *name == "sets.csv")
        .expect("a file");
    let swung: BTreeSet<&str> = sets
        .lines()
        .skip(1)
        .map(|line| line.split(',').nth(3).expect("a movement"))
        .collect();
    assert_eq!(swung.len(), 4, "{swung:?}");
    for name in swung {
        let shipped = SHIPPED.iter().find(|movement| movement.name == name);
        let shipped = shipped.unwrap_or_else(|| panic!("{name} is not shipped"));
        assert!(
            !shipped.cues.is_empty() && !shipped.faults.is_empty(),
            "{name}"
        );
    }
}

/// A gym into which the invented one was imported, as somebody who runs the server would.
pub(crate) async fn demo_gym() -> TestGym {
    let gym = TestGym::new().await;
    for (name, email) in COACH_NAMES.into_iter().zip(COACHES) {
        gym.person(name, email, &[Role::Coach]).await;
    }
    let files = demo_gym::files();
    let content = |name: &str| {
        let (_, text) = files
            .iter()
            .find(|(file, _)| *file == name)
            .expect("a file");
        Some(text.as_bytes())
    };
    let files = Files {
        athletes: content("athletes.csv"),
        clubs: content("clubs.csv"),
        sets: content("sets.csv"),
    };
    let how = Import {
        scope: Scope::WholeGym,
        now: NOW,
        today: AS_OF,
        dry_run: false,
    };
    let mut tx = gym.enter().await;
    exchange::import(&mut tx, files, how)
        .await
        .expect("the invented gym");
    tx.commit().await.expect("the invented gym");
    gym
}

#[test]
fn the_files_in_the_repository_are_the_generators() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data");
    for (name, text) in demo_gym::files() {
        let kept = std::fs::read_to_string(folder.join(name)).expect(name);
        assert!(
            kept == text,
            "{name} differs: run `cargo run -p leverbook-tests --bin make-demo-data`"
        );
    }
}

/// Nobody may be missed and nobody accused: every athlete has exactly the flags that the script put
/// there. What the scripts are is this project's own; that a plateau, a jump, a favoured side and a
/// gap are what a coach looks for is common practice, no source.
///
/// Who is paused or has left is in the files as not coming, which is their script's truth; in the gym
/// their days do not count as missed, so nothing is found.
#[tokio::test(flavor = "multi_thread")]
async fn the_flags_find_exactly_the_truths() {
    let gym = demo_gym().await;
    let mut tx = gym.enter().await;
    let everybody = athletes::all(&mut tx).await.expect("athletes");
    let handles: BTreeMap<AthleteId, String> = everybody
        .iter()
        .map(|athlete| (athlete.id, athlete.handle.to_string()))
        .collect();
    let ids: Vec<AthleteId> = handles.keys().copied().collect();
    let week = Week::of(AS_OF);
    let mut found: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let standing = flags::on_days(&mut tx, &ids, week.monday(), week.sunday())
        .await
        .expect("flags");
    for kept in standing
        .iter()
        .filter(|kept| kept.flag.severity >= Severity::Look)
    {
        found
            .entry(&handles[&kept.athlete])
            .or_default()
            .insert(kept.flag.rule.id());
    }
    for person in PEOPLE {
        let truth: BTreeSet<&str> = if person.is_here() {
            person.truth.iter().copied().collect()
        } else {
            BTreeSet::new()
        };
        let flagged = found.remove(person.handle).unwrap_or_default();
        assert_eq!(flagged, truth, "{}", person.handle);
    }
}

/// What a script leaves one answer to is what the rules propose.
#[tokio::test(flavor = "multi_thread")]
async fn the_proposals_follow_from_the_scripts() {
    let gym = demo_gym().await;
    let mut tx = gym.enter().await;
    let everybody = athletes::all(&mut tx).await.expect("athletes");
    let ids: Vec<AthleteId> = everybody.iter().map(|athlete| athlete.id).collect();
    let assessed = flags::assessments(&mut tx, &ids)
        .await
        .expect("assessments");
    for person in PEOPLE {
        let Some(expected) = person.next else {
            continue;
        };
        let athlete = everybody
            .iter()
            .find(|athlete| athlete.handle.as_str() == person.handle)
            .expect("an athlete");
        let steps: Vec<String> = assessed[&athlete.id]
            .steps
            .iter()
            .map(|proposal| serde_json::to_value(proposal.step).expect("a step"))
            .map(|step| match step {
                serde_json::Value::String(word) => word,
                other => other
                    .as_object()
                    .and_then(|map| map.keys().next())
                    .cloned()
                    .unwrap_or_default(),
            })
            .collect();
        assert_eq!(steps, [expected], "{}", person.handle);
    }
}
