//! The athlete's phone: what it keeps, and that all of it arrives, once and in order.

use std::collections::BTreeMap;
use std::path::Path;

use leverbook_store::rack;
use leverbook_tests::{Forwarder, NOW, TestGym};
use serde_json::{Value, json};

use crate::browser::run_journey;
use crate::demo::demo_gym;

/// What the phone's database is reached through is the published build of npm's idb 8.0.4, byte for
/// byte, under a line with its licence.
#[test]
fn the_library_for_the_phones_database_is_the_published_one() {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    let ours = std::fs::read_to_string(tests.join("../static/js/idb.js")).expect("our copy");
    let published = std::fs::read_to_string(tests.join("browser/node_modules/idb/build/umd.js"))
        .expect("npm ci was run in tests/browser");
    let (licence, build) = ours.split_once('\n').expect("a line with the licence");
    assert!(licence.starts_with("/*! idb 8.0.4 ") && licence.contains("ISC License"));
    assert!(
        build == published,
        "static/js/idb.js is not the package's build"
    );
}

/// How many work at the same time, each behind a forwarder and before a server of its own.
const WORKERS: usize = 3;
/// After this many schedules the next athlete's phone is taken: none has logged for years.
const SCHEDULES_EACH: usize = 25;

/// A number from the environment, to run more schedules, others, or one of them again.
fn from_environment(name: &str) -> Option<usize> {
    std::env::var(name)
        .ok()
        .map(|value| value.parse().expect(name))
}

/// The property of the outbox: whatever happens to the phone, to what is sent and to the server, the
/// log holds exactly what was entered, every session once, every revision after the one it replaces.
#[tokio::test(flavor = "multi_thread")]
async fn whatever_happens_the_log_holds_exactly_what_was_entered() {
    let schedules = from_environment("LEVERBOOK_SCHEDULES").unwrap_or(1000);
    let seed = from_environment("LEVERBOOK_SEED").unwrap_or(20_261_125);
    let only = from_environment("LEVERBOOK_SCHEDULE");
    println!("seed {seed}, {schedules} schedules, only {only:?}");
    let gym = demo_gym().await;
    let mut workers = Vec::new();
    let mut forwarders = Vec::new();
    let phones = schedules.div_ceil(SCHEDULES_EACH).max(WORKERS);
    for worker in 0..WORKERS {
        let forwarder = Forwarder::before(&gym.database, &gym.clock).await;
        let mut athletes = Vec::new();
        for phone in (worker..phones).step_by(WORKERS) {
            let name = format!("Runner {phone}");
            let email = format!("runner{phone}@quarrylane.example");
            let (person, _) = gym.another_athlete(&name, &email).await;
            let (token, _) = gym.open_sign_in(&person).await;
            athletes.push(json!({ "account": person.id, "token": token }));
        }
        workers.push(json!({ "origin": forwarder.origin(), "athletes": athletes }));
        forwarders.push(forwarder);
    }
    let before = logged(&gym).await;
    let out = std::env::temp_dir().join(format!("leverbook-entered-{}.json", gym.id));
    run_journey(
        &gym,
        "schedules.mjs",
        &[
            ("LEVERBOOK_TEST_WORKERS", Value::from(workers).to_string()),
            ("LEVERBOOK_TEST_WORK", work(&gym).await.to_string()),
            (
                "LEVERBOOK_TEST_SCHEDULES",
                json!({ "seed": seed, "schedules": schedules, "only": only }).to_string(),
            ),
            ("LEVERBOOK_TEST_OUT", out.display().to_string()),
        ],
    );
    let entered = std::fs::read_to_string(&out).expect("what was entered");
    std::fs::remove_file(&out).expect("what was entered");
    let mut entered: BTreeMap<String, Value> = serde_json::from_str(&entered).expect("JSON");
    for content in entered.values_mut() {
        content["effort"] = json!(content["effort"].as_f64());
    }
    assert!(
        only.is_some() || entered.len() > schedules,
        "{} entries prove nothing",
        entered.len()
    );
    let mut now = logged(&gym).await;
    now.retain(|id, _| !before.contains_key(id));
    for (id, content) in &entered {
        assert_eq!(now.get(id), Some(content), "entry {id} of seed {seed}");
    }
    let more: Vec<&String> = now.keys().filter(|id| !entered.contains_key(*id)).collect();
    assert!(more.is_empty(), "nobody entered {more:?}, seed {seed}");
}

/// What there is to swing, and the gym's day.
async fn work(gym: &TestGym) -> Value {
    let mut tx = gym.enter().await;
    let movements = rack::movements(&mut tx).await.expect("movements");
    let clubs = rack::loadings(&mut tx).await.expect("the rack");
    json!({
        "movements": movements.iter().map(|one| one.id).collect::<Vec<_>>(),
        "clubs": clubs.iter().map(|one| one.id).collect::<Vec<_>>(),
        "today": NOW.date().to_string(),
    })
}

/// Every revision of the gym's log as a phone would have sent it, with whose it is, by its id.
async fn logged(gym: &TestGym) -> BTreeMap<String, Value> {
    let mut tx = gym.enter().await;
    let rows: Vec<(String, Value)> = sqlx::query_as(
        "select s.revision_id::text, jsonb_build_object(
             'format', 1, 'id', s.revision_id, 'replaces', s.replaces, 'session', s.session_id,
             'account', a.person_id, 'on', s.on_date, 'effort', s.effort_half_steps::float8 / 2,
             'minutes', s.minutes, 'note', s.note, 'taken_back', s.withdrawn,
             'planned', case when s.planned_id is not null then jsonb_build_object(
                 'planned', s.planned_id, 'revision', s.planned_revision) end,
             'pain', s.pain,
             'sets', coalesce((select jsonb_agg(jsonb_build_object(
                     'movement', t.movement_id, 'hands', t.hands, 'club', t.loading_id,
                     'side', t.side, 'seconds', t.seconds, 'reps', t.reps, 'asked', t.asked_reps)
                     order by t.position)
                 from logged_sets t
                 where t.gym_id = s.gym_id and t.revision_id = s.revision_id), '[]'))
         from logged_sessions s
         join athletes a on a.gym_id = s.gym_id and a.athlete_id = s.athlete_id
         where s.gym_id = $1",
    )
    .bind(gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("the log");
    let number = |(id, mut content): (String, Value)| {
        content["effort"] = json!(content["effort"].as_f64());
        (id, content)
    };
    rows.into_iter().map(number).collect()
}
