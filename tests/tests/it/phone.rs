//! The athlete's phone: what it keeps, and that all of it arrives, once and in order.

use std::collections::BTreeMap;
use std::path::Path;

use leverbook_domain::id::AthleteId;
use leverbook_store::rack;
use leverbook_tests::{Forwarder, NOW, TestGym};
use serde_json::{Value, json};

use crate::browser::{Stage, run_journey};
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

impl Stage {
    /// Runs a journey of a phone, with a forwarder before the server.
    async fn run_on_phone(&self, journey: &str, more: &[(&str, String)]) {
        let forwarder = Forwarder::before(&self.gym.database, &self.gym.clock).await;
        let mut all = vec![("LEVERBOOK_TEST_URL", forwarder.origin())];
        all.extend_from_slice(more);
        self.run(journey, &all);
    }
}

/// A line for each revision that an athlete logged after the invented log ends, sorted: its day, how many
/// revisions it has before it, whether it answers a planned session, the reps of both sides, the note.
async fn new_revisions(gym: &TestGym, athlete: AthleteId) -> Vec<String> {
    let mut tx = gym.enter().await;
    let mut lines: Vec<String> = sqlx::query_scalar(
        "with recursive chain as (
             select s.*, 0 as before from logged_sessions s
             where s.gym_id = $1 and s.athlete_id = $2 and s.replaces is null
                 and s.on_date >= '2026-11-23'
             union all
             select s.*, chain.before + 1 from logged_sessions s
             join chain on s.gym_id = chain.gym_id and s.replaces = chain.revision_id)
         select concat_ws(' ', on_date, '#' || before,
             case when planned_id is not null then 'planned' end,
             case when withdrawn then 'taken back' else (
                 select coalesce(sum(reps), 0) || ' reps' from logged_sets t
                 where t.gym_id = chain.gym_id and t.revision_id = chain.revision_id) end,
             nullif(note, ''))
         from chain",
    )
    .bind(gym.id.0)
    .bind(athlete.0)
    .fetch_all(tx.conn())
    .await
    .expect("the log");
    lines.sort();
    lines
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_without_signal_is_kept_shown_and_sent_once_when_there_is_signal() {
    let stage = Stage::new().await;
    stage.run_on_phone("phone-offline.mjs", &[]).await;
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        [
            "2026-11-25 #0 18 reps A few more. 🏋",
            "2026-11-25 #0 planned 30 reps",
            "2026-11-25 #1 planned 30 reps The last set was short.",
        ]
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_changed_on_two_phones_loses_neither_and_a_sign_out_elsewhere_loses_nothing() {
    let stage = Stage::new().await;
    stage.run_on_phone("phone-conflicts.mjs", &[]).await;
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        [
            "2026-11-25 #0 30 reps kept before the sign-out",
            "2026-11-25 #0 30 reps same id, first",
            "2026-11-25 #0 planned 30 reps first",
            "2026-11-25 #1 30 reps same id, second",
            "2026-11-25 #1 planned 30 reps from the first phone",
            "2026-11-25 #2 planned 30 reps from the second phone",
            "2026-11-25 #3 planned 30 reps from the second phone, once more",
            "2026-11-25 #4 taken back",
        ]
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_plan_changed_or_ended_meanwhile_is_told_and_what_was_done_is_in_the_log() {
    for what in ["changes", "ends"] {
        let stage = Stage::new().await;
        let plan = ("LEVERBOOK_TEST_PLAN", what.to_owned());
        stage.run_on_phone("phone-plan.mjs", &[plan]).await;
        let logged = new_revisions(&stage.gym, stage.bruno).await;
        assert_eq!(logged, ["2026-11-25 #0 planned 30 reps"], "{what}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_phone_that_several_use_shows_nobody_anothers_training() {
    let stage = Stage::new().await;
    let email = "ida@quarrylane.example";
    let (_, ida) = stage.gym.another_athlete("Ida Fell", email).await;
    let second = ("LEVERBOOK_TEST_SECOND", email.to_owned());
    stage.run_on_phone("phone-shared.mjs", &[second]).await;
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        [
            "2026-11-25 #0 30 reps kept for Bruno alone",
            "2026-11-25 #0 planned 30 reps sent before signing out",
        ]
    );
    assert!(new_revisions(&stage.gym, ida).await.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_clock_wrong_by_a_day_loses_nothing_and_the_day_is_asked_about() {
    let stage = Stage::new().await;
    let work = ("LEVERBOOK_TEST_WORK", work(&stage.gym).await.to_string());
    stage.run_on_phone("phone-clock.mjs", &[work]).await;
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        [
            "2026-11-24 #0 30 reps behind, after the first contact",
            "2026-11-24 #0 5 reps behind, before the first contact",
            "2026-11-25 #0 30 reps ahead, after the first contact",
            "2026-11-25 #0 5 reps ahead, before the first contact",
        ]
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_upgraded_meanwhile_interrupts_and_loses_nothing() {
    let stage = Stage::new().await;
    stage.run_on_phone("phone-release.mjs", &[]).await;
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        ["2026-11-25 #0 planned 30 reps kept under the old release"]
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_breaks_without_a_service_worker() {
    let stage = Stage::new().await;
    stage.run_on_phone("phone-plain.mjs", &[]).await;
    let forwarder = Forwarder::before(&stage.gym.database, &stage.gym.clock).await;
    let plain = forwarder
        .origin()
        .replace("127.0.0.1", "book.quarry.example");
    stage.run("phone-plain.mjs", &[("LEVERBOOK_TEST_URL", plain)]);
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        [
            "2026-11-25 #0 30 reps without TLS",
            "2026-11-25 #0 30 reps without a worker",
        ]
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_refused_holds_up_nothing_else_and_can_be_put_right() {
    let stage = Stage::new().await;
    stage.run_on_phone("phone-refused.mjs", &[]).await;
    let logged = new_revisions(&stage.gym, stage.bruno).await;
    assert_eq!(
        logged,
        [
            "2026-11-25 #0 30 reps put right",
            "2026-11-25 #0 30 reps sent by the browser",
            "2026-11-25 #0 planned 30 reps behind the refused ones",
        ]
    );
}
