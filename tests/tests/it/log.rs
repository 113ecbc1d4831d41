//! The training log and the flags that follow from it: through the pages, and past them.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use leverbook_domain::club::{ClubFields, ClubMeasure};
use leverbook_domain::id::{
    AthleteId, DecisionId, LoadingId, MovementId, PlannedId, RevisionId, SessionId,
};
use leverbook_domain::plan::{BlockDraft, BlockWish, IntervalSets, Scheme, Swung};
use leverbook_domain::policy::Policy;
use leverbook_domain::roster::Status;
use leverbook_domain::rules::{Rule, Severity};
use leverbook_domain::text::{ClubName, Guidance, LoadingName, MovementName};
use leverbook_domain::training::{Hands, Note, SetDone, Side, Work};
use leverbook_domain::units::{Reps, Seconds};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::blocks;
use leverbook_store::flags::{self, Life, NewDecision, Verdict};
use leverbook_store::log::{self, Done, NewRevision, RecordError, Recorded};
use leverbook_store::people::Role;
use leverbook_store::rack::{self, ClubDetails, MovementDetails, NewLoading};
use leverbook_store::{StoreError, athletes, history};
use leverbook_tests::{Actor, Answer, NOW, TestGym, new_id};
use time::macros::date;
use time::{Date, Duration};
use uuid::Uuid;

/// The day of [`NOW`] in the gym's zone.
const TODAY: Date = date!(2026 - 11 - 25);

/// A gym with a movement and two clubs, the second a quarter heavier.
struct Hall {
    gym: TestGym,
    movement: MovementId,
    light: LoadingId,
    heavy: LoadingId,
}

async fn hall() -> Hall {
    let gym = TestGym::new().await;
    let (movement, light, heavy) = (new_id(), new_id(), new_id());
    let mut tx = gym.enter().await;
    let details = MovementDetails {
        name: MovementName::new("Pullover").unwrap(),
        cues: Guidance::new("Elbows close; let the club hang.").unwrap(),
        faults: Guidance::new("The back arches.").unwrap(),
    };
    rack::add_movement(&mut tx, movement, &details)
        .await
        .unwrap();
    for (loading, name, kg) in [(light, "Oak 6", 6.0), (heavy, "Oak 7.5", 7.5)] {
        let details = ClubDetails {
            name: ClubName::new(name).unwrap(),
            owner: None,
            loadable: false,
            count: 2,
        };
        let first = NewLoading {
            id: loading,
            name: LoadingName::new(name).unwrap(),
            measure: ClubMeasure::try_from(ClubFields {
                mass_kg: Some(kg),
                length_mm: Some(700.0),
                balance_mm: Some(450.0),
                grip_mm: Some(60.0),
                ..ClubFields::default()
            })
            .unwrap(),
        };
        rack::add_club(&mut tx, new_id(), &details, &first, NOW)
            .await
            .unwrap();
    }
    tx.commit().await.unwrap();
    Hall {
        gym,
        movement,
        light,
        heavy,
    }
}

type Fields = Vec<(String, String)>;

impl Hall {
    /// The form for so many timed sets a side.
    fn open(&self, athlete: &mut Actor, sets: u8) -> Answer {
        athlete
            .get(&self.gym.path(&format!(
                "log/new?movement={}&hands=two&club={}&counted=time&sets={sets}&seconds=30",
                self.movement, self.light
            )))
            .expect(200)
    }

    /// What a browser sends from that form with these counts, left and right in turn.
    fn filled(&self, form: &Answer, counts: &[&str]) -> Fields {
        let mut fields = vec![
            ("id".to_owned(), form.field("id").expect("an id")),
            ("day".to_owned(), form.field("day").expect("a day")),
            ("do".to_owned(), "save".to_owned()),
        ];
        for name in ["replaces", "planned", "planned-revision"] {
            fields.extend(form.field(name).map(|value| (name.to_owned(), value)));
        }
        let mut add = |name: &str, value: &str| fields.push((name.to_owned(), value.to_owned()));
        add("work-1-movement", &self.movement.to_string());
        add("work-1-hands", "two");
        add("work-1-club", &self.light.to_string());
        add("work-1-counted", "time");
        for (set, (count, side)) in (1..).zip(counts.iter().zip(["left", "right"].iter().cycle())) {
            add(&format!("work-1-set-{set}-side"), side);
            add(&format!("work-1-set-{set}-reps"), count);
            add(&format!("work-1-set-{set}-seconds"), "30");
        }
        for name in ["effort", "minutes", "note", "pain-1-score", "pain-1-place"] {
            add(name, "");
        }
        fields
    }

    /// Logs a session through the page and gives the path of it.
    fn logged(&self, athlete: &mut Actor, counts: &[&str], extra: &[(&str, &str)]) -> String {
        let form = self.open(athlete, 1);
        let mut fields = self.filled(&form, counts);
        for (name, value) in extra {
            put(&mut fields, name, value);
        }
        let answer = send(athlete, &self.gym.path("log/new"), &fields).expect(303);
        answer.location().split('?').next().unwrap().to_owned()
    }

    /// The rows of a query about this gym, past the application and its row security.
    async fn count(&self, sql: &'static str) -> i64 {
        let mut admin = self.gym.database.connect(DatabaseRole::Admin).await;
        sqlx::query_scalar(sql)
            .fetch_one(&mut admin)
            .await
            .expect("a count")
    }

    /// Every flag and assessment row, as text, past the application.
    async fn derived(&self) -> Vec<String> {
        let mut admin = self.gym.database.connect(DatabaseRole::Admin).await;
        sqlx::query_scalar(
            "select f::text from flags f union all select a::text from assessments a order by 1",
        )
        .fetch_all(&mut admin)
        .await
        .expect("rows")
    }

    /// The rules of the flags that stand.
    async fn standing(&self) -> Vec<(Rule, Severity)> {
        let mut tx = self.gym.enter().await;
        flags::standing_for(&mut tx, &[self.gym.athlete_id])
            .await
            .unwrap()
            .into_iter()
            .map(|kept| (kept.flag.rule, kept.flag.severity))
            .collect()
    }

    fn set(&self, side: Side, reps: i64) -> SetDone {
        SetDone {
            movement: self.movement,
            hands: Hands::Two,
            loading: self.light,
            side,
            work: Work::Interval {
                seconds: Seconds::new(30).unwrap(),
                reps: Reps::new(reps).unwrap(),
            },
        }
    }

    fn revision(&self, on: Date, reps: [i64; 2]) -> NewRevision {
        NewRevision {
            revision: new_id(),
            replaces: None,
            athlete: self.gym.athlete_id,
            done: Some(Done {
                on,
                planned: None,
                minutes: None,
                effort: None,
                pain: Vec::new(),
                note: Note::default(),
                sets: vec![
                    self.set(Side::Left, reps[0]),
                    self.set(Side::Right, reps[1]),
                ],
            }),
            logged_at: NOW,
        }
    }
}

fn put(fields: &mut Fields, name: &str, value: &str) {
    match fields.iter_mut().find(|(n, _)| n == name) {
        Some((_, old)) => value.clone_into(old),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

fn send(actor: &mut Actor, path: &str, fields: &Fields) -> Answer {
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    actor.post(path, &fields)
}

fn session_of(path: &str) -> SessionId {
    path.rsplit('/').next().unwrap().parse().unwrap()
}

const SESSIONS: &str = "select count(*) from logged_sessions";
const SETS: &str = "select count(*) from logged_sets";

#[tokio::test]
async fn the_same_form_sent_twice_stores_once() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let form = hall.open(&mut athlete, 2);
    let fields = hall.filled(&form, &["14", "15", "13", "14"]);
    let path = hall.gym.path("log/new");
    let first = send(&mut athlete, &path, &fields).expect(303);
    let again = send(&mut athlete, &path, &fields).expect(303);
    assert_eq!(first.location(), again.location());
    assert_eq!((hall.count(SESSIONS).await, hall.count(SETS).await), (1, 4));
    let page = athlete.get(first.location()).expect(200);
    assert!(page.body.contains("14, 13") && page.body.contains("15, 14"));
}

#[tokio::test]
async fn the_same_form_sent_twice_at_once_stores_once() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let form = hall.open(&mut athlete, 1);
    let fields = hall.filled(&form, &["14", "15"]);
    let path = hall.gym.path("log/new");
    let both: Vec<_> = (0..2)
        .map(|_| {
            let (mut athlete, path, fields) = (athlete.clone(), path.clone(), fields.clone());
            std::thread::spawn(move || send(&mut athlete, &path, &fields).status)
        })
        .collect();
    let statuses: Vec<u16> = both.into_iter().map(|one| one.join().unwrap()).collect();
    assert_eq!(statuses, [303, 303]);
    assert_eq!((hall.count(SESSIONS).await, hall.count(SETS).await), (1, 2));
}

#[tokio::test]
async fn the_same_form_with_other_content_shows_both_and_loses_neither() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let form = hall.open(&mut athlete, 1);
    let mut fields = hall.filled(&form, &["41", "41"]);
    let path = hall.gym.path("log/new");
    let first = send(&mut athlete, &path, &fields).expect(303);
    put(&mut fields, "work-1-set-1-reps", "43");
    put(&mut fields, "note", "second thoughts");
    let both = send(&mut athlete, &path, &fields).expect(409);
    assert!(both.words().contains("41 (41 in all)"), "{}", both.words());
    assert_eq!(both.field("work-1-set-1-reps").as_deref(), Some("43"));
    assert!(both.body.contains("second thoughts"));
    assert_eq!(hall.count(SESSIONS).await, 1);
    // Sent again from that page, it becomes a change.
    let session = first.location().split('?').next().unwrap();
    let mut change = hall.filled(&both, &["43", "41"]);
    put(&mut change, "note", "second thoughts");
    send(&mut athlete, &format!("{session}/edit"), &change).expect(303);
    let page = athlete.get(session).expect(200);
    assert!(page.words().contains("43 (43 in all)") && page.words().contains("41 (41 in all)"));
    assert_eq!(hall.count(SESSIONS).await, 2);
}

#[tokio::test]
async fn of_two_edits_at_once_one_is_stored_and_the_other_is_kept_on_the_page() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let session = hall.logged(&mut athlete, &["14", "14"], &[]);
    let edit = format!("{session}/edit");
    let answers: Vec<Answer> = ["15", "16"]
        .map(|count| {
            let mut phone = athlete.clone();
            let form = phone.get(&edit).expect(200);
            let fields = hall.filled(&form, &[count, count]);
            (phone, fields)
        })
        .map(|(mut phone, fields)| {
            let edit = edit.clone();
            std::thread::spawn(move || send(&mut phone, &edit, &fields))
        })
        .map(|one| one.join().unwrap())
        .into();
    let mut statuses: Vec<u16> = answers.iter().map(|answer| answer.status).collect();
    statuses.sort_unstable();
    assert_eq!(statuses, [303, 409]);
    let refused = answers.iter().find(|answer| answer.status == 409).unwrap();
    let typed = refused.field("work-1-set-1-reps").unwrap();
    assert!(["15", "16"].contains(&typed.as_str()));
    let standing = if typed == "15" { "16" } else { "15" };
    assert!(
        refused
            .words()
            .contains(&format!("{standing} ({standing} in all)")),
        "{}",
        refused.words()
    );
    assert_eq!(hall.count(SESSIONS).await, 2);
    // Nothing is lost: sent again, what was typed follows the other edit.
    let fields = hall.filled(refused, &[&typed, &typed]);
    send(&mut athlete, &edit, &fields).expect(303);
    assert_eq!(hall.count(SESSIONS).await, 3);
}

/// Who logs work of their own is offered what they swung last, not the first of every list.
#[tokio::test]
async fn work_out_of_the_plan_begins_with_what_was_swung_last() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let heavy = hall.heavy.to_string();
    let changed = [
        ("work-1-club", heavy.as_str()),
        ("work-1-set-1-seconds", "45"),
        ("work-1-set-2-seconds", "45"),
    ];
    hall.logged(&mut athlete, &["11", "11"], &changed);
    let page = athlete.get(&hall.gym.path("log/new")).expect(200);
    assert!(
        page.body
            .contains(&format!("<option value=\"{heavy}\" selected>")),
        "{}",
        page.body
    );
    assert_eq!(page.field("sets").as_deref(), Some("1"));
    assert_eq!(page.field("seconds").as_deref(), Some("45"));
}

#[tokio::test]
async fn an_edit_is_a_new_revision_and_every_older_one_stays() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let session = hall.logged(&mut athlete, &["14", "14"], &[]);
    for count in ["15", "16"] {
        let form = athlete.get(&format!("{session}/edit")).expect(200);
        let fields = hall.filled(&form, &[count, count]);
        send(&mut athlete, &format!("{session}/edit"), &fields).expect(303);
    }
    let newest = athlete.get(&session).expect(200);
    let take_back: Vec<(String, String)> = ["id", "replaces"]
        .map(|name| (name.to_owned(), newest.field(name).unwrap()))
        .into();
    let path = format!("{session}/take-back");
    send(&mut athlete, &path, &take_back).expect(303);
    send(&mut athlete, &path, &take_back).expect(303);
    let mut tx = hall.gym.enter().await;
    let chain = log::revisions(&mut tx, hall.gym.athlete_id, session_of(&session))
        .await
        .unwrap();
    let counts: Vec<Option<u16>> = chain
        .iter()
        .map(|one| one.done.as_ref().map(|done| done.sets[0].work.reps().get()))
        .collect();
    assert_eq!(counts, [Some(14), Some(15), Some(16), None]);
    for pair in chain.windows(2) {
        assert_eq!(pair[1].replaces, Some(pair[0].revision));
    }
    let gone = log::current(&mut tx, hall.gym.athlete_id, session_of(&session)).await;
    assert!(matches!(gone, Err(StoreError::NotFound)));
    let history = history::load(&mut tx, hall.gym.athlete_id).await.unwrap();
    assert!(history.sessions().is_empty());
    let page = athlete.get(&session).expect(200);
    assert!(page.words().contains("Taken back") && page.words().contains("16 (16 in all)"));
}

// PostgreSQL 15 documentation, GRANT: without the privilege, UPDATE and DELETE are refused.
#[tokio::test]
async fn the_server_may_not_overwrite_or_delete_what_was_logged() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    hall.logged(&mut athlete, &["14", "14"], &[]);
    for sql in [
        "update logged_sessions set note = 'changed'",
        "update logged_sets set reps = 99",
        "delete from logged_sets",
        "delete from logged_sessions",
        "delete from flag_decisions",
        "update flag_decisions set reason = 'changed'",
    ] {
        let mut tx = hall.gym.enter().await;
        let refused = sqlx::query(sql).execute(tx.conn()).await.unwrap_err();
        let code = refused
            .as_database_error()
            .unwrap()
            .code()
            .unwrap()
            .into_owned();
        assert_eq!(code, "42501", "{sql}");
    }
}

#[tokio::test]
async fn a_server_killed_while_it_writes_leaves_nothing_and_the_form_is_safe_to_send_again() {
    let hall = hall().await;
    let new = hall.revision(TODAY, [14, 20]);
    let mut tx = hall.gym.enter().await;
    assert_eq!(log::record(&mut tx, &new).await.unwrap(), Recorded::Stored);
    flags::reassess(&mut tx, new.athlete, TODAY).await.unwrap();
    let backend: i32 = sqlx::query_scalar("select pg_backend_pid()")
        .fetch_one(tx.conn())
        .await
        .unwrap();
    let mut admin = hall.gym.database.connect(DatabaseRole::Admin).await;
    sqlx::query("select pg_terminate_backend($1)")
        .bind(backend)
        .execute(&mut admin)
        .await
        .unwrap();
    assert!(tx.commit().await.is_err());
    assert_eq!(
        (hall.count(SESSIONS).await, hall.derived().await.len()),
        (0, 0)
    );
    let mut tx = hall.gym.enter().await;
    assert_eq!(log::record(&mut tx, &new).await.unwrap(), Recorded::Stored);
    flags::reassess(&mut tx, new.athlete, TODAY).await.unwrap();
    tx.commit().await.unwrap();
    // The client saw an error although the write was done, and sends again.
    let mut tx = hall.gym.enter().await;
    let again = log::record(&mut tx, &new).await.unwrap();
    assert_eq!(again, Recorded::AlreadyStored);
    assert_eq!(hall.count(SESSIONS).await, 1);
}

/// Makes every writing of what the rules say fail, as a full disk would.
pub(crate) const REFUSE_ASSESSMENTS: &str = "
    create function refuse() returns trigger language plpgsql as $$
    begin raise 'refused'; end $$;
    create trigger refused before insert on assessments execute function refuse()";

#[tokio::test]
async fn flags_are_written_with_the_log_or_neither_is() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let mut admin = hall.gym.database.connect(DatabaseRole::Admin).await;
    // What the rules say is refused after the log was written.
    sqlx::raw_sql(REFUSE_ASSESSMENTS)
        .execute(&mut admin)
        .await
        .unwrap();
    let form = hall.open(&mut athlete, 1);
    let fields = hall.filled(&form, &["14", "20"]);
    let path = hall.gym.path("log/new");
    send(&mut athlete, &path, &fields).expect(500);
    assert_eq!(
        (hall.count(SESSIONS).await, hall.derived().await.len()),
        (0, 0)
    );
    sqlx::query("drop trigger refused on assessments")
        .execute(&mut admin)
        .await
        .unwrap();
    send(&mut athlete, &path, &fields).expect(303);
    assert_eq!(hall.count(SESSIONS).await, 1);
    // B1, B2: 14 against 20 is a symmetry index of 35 %.
    let rules: Vec<Rule> = hall
        .standing()
        .await
        .into_iter()
        .map(|(rule, _)| rule)
        .collect();
    assert!(
        rules.contains(&Rule::B1) || rules.contains(&Rule::B2),
        "{rules:?}"
    );
}

#[tokio::test]
async fn flags_rebuilt_from_nothing_are_the_same_rows() {
    let hall = hall().await;
    let mut tx = hall.gym.enter().await;
    let mut day = date!(2026 - 08 - 03);
    // Unequal sides, a gap of four weeks, a heavy effort: something for several rules.
    for (week, reps) in (0..).zip([[14, 14], [14, 20], [15, 15], [15, 22], [16, 16], [16, 16]]) {
        let new = hall.revision(day, reps);
        log::record(&mut tx, &new).await.unwrap();
        flags::reassess(&mut tx, new.athlete, day).await.unwrap();
        day += Duration::days(if week == 3 { 35 } else { 4 });
    }
    flags::reassess(&mut tx, hall.gym.athlete_id, TODAY)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let kept = hall.derived().await;
    assert!(kept.len() > 3, "{kept:?}");
    let mut tx = hall.gym.enter().await;
    flags::rebuild(&mut tx, hall.gym.athlete_id, TODAY)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert_eq!(hall.derived().await, kept);
}

#[tokio::test]
async fn an_edit_that_mends_the_cause_takes_the_flag_away_and_keeps_the_decision() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let session = hall.logged(&mut athlete, &["14", "20"], &[]);
    let mut tx = hall.gym.enter().await;
    let kept = flags::standing_for(&mut tx, &[hall.gym.athlete_id])
        .await
        .unwrap();
    let flag = kept.first().expect("a flag about the sides").clone();
    let decision = NewDecision {
        id: DecisionId(new_id()),
        flag: flag.id,
        athlete: hall.gym.athlete_id,
        verdict: Verdict::Seen,
        reason: "spoke with Ansel".to_owned(),
        at: NOW,
    };
    flags::decide(&mut tx, &decision, TODAY).await.unwrap();
    flags::decide(&mut tx, &decision, TODAY).await.unwrap();
    tx.commit().await.unwrap();
    let form = athlete.get(&format!("{session}/edit")).expect(200);
    let fields = hall.filled(&form, &["20", "20"]);
    send(&mut athlete, &format!("{session}/edit"), &fields).expect(303);
    assert_eq!(hall.standing().await, []);
    assert_eq!(hall.count("select count(*) from flags").await, 0);
    assert_eq!(hall.count("select count(*) from flag_decisions").await, 1);
    // The same cause again raises the same flag, and what was decided is attached to it.
    let form = athlete.get(&format!("{session}/edit")).expect(200);
    let fields = hall.filled(&form, &["14", "20"]);
    send(&mut athlete, &format!("{session}/edit"), &fields).expect(303);
    let mut tx = hall.gym.enter().await;
    let again = flags::standing_for(&mut tx, &[hall.gym.athlete_id])
        .await
        .unwrap();
    let again = again.iter().find(|kept| kept.id == flag.id).unwrap();
    assert_eq!(again.life(TODAY), Life::Seen);
    assert_eq!(again.decisions[0].reason, "spoke with Ansel");
}

#[tokio::test]
async fn a_flag_is_seen_quieted_closed_and_comes_back() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    hall.logged(
        &mut athlete,
        &["14", "14"],
        &[("pain-1-score", "5"), ("pain-1-place", "Left elbow")],
    );
    let athlete_id = hall.gym.athlete_id;
    let mut tx = hall.gym.enter().await;
    let stop = |kept: Vec<flags::KeptFlag>| {
        kept.into_iter()
            .find(|kept| kept.flag.rule == Rule::L4)
            .expect("pain")
    };
    let flag = stop(flags::standing_for(&mut tx, &[athlete_id]).await.unwrap());
    assert_eq!(flag.flag.severity, Severity::Stop);
    assert!(flag.life(TODAY) == Life::Fresh && flag.holds_work(TODAY));
    let mut at = NOW;
    for (verdict, life, holds) in [
        (Verdict::Seen, Life::Seen, true),
        (
            Verdict::Quieted { until: TODAY },
            Life::Quiet { until: TODAY },
            false,
        ),
        (Verdict::Closed, Life::Closed, false),
        (Verdict::Reopened, Life::Reopened, true),
    ] {
        at += Duration::minutes(1);
        let decision = NewDecision {
            id: DecisionId(new_id()),
            flag: flag.id,
            athlete: athlete_id,
            verdict,
            reason: "the elbow is looked after".to_owned(),
            at,
        };
        flags::decide(&mut tx, &decision, TODAY).await.unwrap();
        let now = stop(flags::standing_for(&mut tx, &[athlete_id]).await.unwrap());
        assert_eq!(
            (now.life(TODAY), now.holds_work(TODAY)),
            (life, holds),
            "{verdict:?}"
        );
        if let Verdict::Quieted { until } = verdict {
            assert_eq!(now.life(until + Duration::days(1)), Life::Fresh);
        }
        // Decided when it was a lesser thing: it is back.
        let mut lesser = now;
        for decision in &mut lesser.decisions {
            decision.severity = Severity::Look;
        }
        assert_eq!(lesser.life(TODAY), Life::Worse);
    }
    let story = stop(flags::story(&mut tx, athlete_id).await.unwrap());
    assert_eq!(story.decisions.len(), 4);
    let elsewhere = NewDecision {
        id: DecisionId(new_id()),
        flag: flag.id,
        athlete: AthleteId(new_id()),
        verdict: Verdict::Closed,
        reason: String::new(),
        at,
    };
    let refused = flags::decide(&mut tx, &elsewhere, TODAY).await;
    assert!(matches!(refused, Err(StoreError::NotFound)));
}

#[tokio::test]
async fn strong_pain_stops_the_work_until_the_coach_has_decided() {
    let hall = hall().await;
    assign(&hall).await;
    let mut athlete = hall.gym.athlete().await;
    let session = hall.logged(
        &mut athlete,
        &["14", "14"],
        &[
            ("pain-1-score", "4"),
            ("pain-1-place", "left elbow"),
            ("effort", "6.5"),
        ],
    );
    let page = athlete.get(&session).expect(200);
    for words in [
        "Stop for today",
        "licensed clinician",
        "Your coach is told",
        "left elbow",
    ] {
        assert!(page.body.contains(words), "{words}");
    }
    let today = athlete.get(&hall.gym.path("today")).expect(200);
    assert!(
        today.body.contains("Waits for your coach") || today.body.contains("wants to look first")
    );
    assert!(!today.body.contains("log/new?planned="));
    let plan = athlete.get(&hall.gym.path("plan")).expect(200);
    assert!(plan.body.contains("Waits for your coach"));
    let mut tx = hall.gym.enter().await;
    for kept in flags::standing_for(&mut tx, &[hall.gym.athlete_id])
        .await
        .unwrap()
    {
        let decision = NewDecision {
            id: DecisionId(new_id()),
            flag: kept.id,
            athlete: hall.gym.athlete_id,
            verdict: Verdict::Closed,
            reason: "seen by a physiotherapist, cleared".to_owned(),
            at: NOW,
        };
        flags::decide(&mut tx, &decision, TODAY).await.unwrap();
    }
    tx.commit().await.unwrap();
    let today = athlete.get(&hall.gym.path("today")).expect(200);
    assert!(today.body.contains("log/new?planned="));
}

/// Two interval sessions a week from today on, two sets a side.
async fn assign(hall: &Hall) -> PlannedId {
    let wish = BlockWish {
        movement: hall.movement,
        scheme: Scheme::IntervalSets(IntervalSets {
            sets: 2,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        }),
        weekdays: vec![3, 6],
        starts_on: TODAY,
        weeks: 4,
        note: "Breathe out on the swing".to_owned(),
    };
    let draft = BlockDraft::new(wish, &Policy::default(), TODAY).unwrap();
    let swung = Swung {
        movement_name: "Pullover",
        loading: hall.light,
        club_name: "Oak 6",
    };
    let mut tx = hall.gym.enter().await;
    leverbook_tests::assign(&mut tx, hall.gym.athlete_id, draft, swung, NOW).await;
    let first = blocks::between(&mut tx, &[hall.gym.athlete_id], TODAY, TODAY)
        .await
        .unwrap()
        .pop()
        .expect("a session today");
    tx.commit().await.unwrap();
    first.planned
}

#[tokio::test]
async fn a_planned_session_is_shown_seen_logged_and_then_answered() {
    let hall = hall().await;
    let planned = assign(&hall).await;
    let mut athlete = hall.gym.athlete().await;
    let today = athlete.get(&hall.gym.path("today")).expect(200);
    // In the order of use: what, what to mind with a new club, the way to begin; then what the coach
    // wants, with what, how many, how it goes.
    let mut rest = today.body.as_str();
    for words in [
        "Pullover",
        "2 sets of 30 s a side",
        "Your first session with Oak 6",
        "<details class=\"notice caution\" open>",
        "Clear the space",
        "Dry hands",
        "Get ready",
        "Breathe out on the swing",
        "Oak 6: 6 kg, 700 mm, balance 450 mm from the knob</title>",
        "Left side: 30 seconds",
        "<li>Elbows close",
        "<li>The back arches",
        "Already done? Log it",
    ] {
        let (_, after) = rest
            .split_once(words)
            .unwrap_or_else(|| panic!("{words}: {}", today.words()));
        rest = after;
    }
    assert_eq!(hall.count("select count(*) from planned_seen").await, 1);
    athlete.get(&hall.gym.path("today")).expect(200);
    assert_eq!(hall.count("select count(*) from planned_seen").await, 1);
    let form = athlete
        .get(&hall.gym.path(&format!("log/new?planned={planned}")))
        .expect(200);
    let sides: Vec<&str> = form
        .body
        .split("aria-label=\"Set ")
        .filter(|rest| {
            rest.split('"')
                .next()
                .is_some_and(|label| label.ends_with("side"))
        })
        .map(|rest| {
            let chosen = rest.split(" selected>").next().unwrap();
            if chosen.ends_with("value=\"left\"") {
                "left"
            } else {
                "right"
            }
        })
        .collect();
    assert_eq!(sides, ["left", "right", "left", "right"]);
    assert_eq!(form.field("work-1-set-4-seconds").as_deref(), Some("30"));
    let fields = hall.filled(&form, &["14", "14", "13", "13"]);
    let logged = send(&mut athlete, &hall.gym.path("log/new"), &fields).expect(303);
    let today = athlete.get(&hall.gym.path("today")).expect(200);
    assert!(!today.body.contains(&format!("planned={planned}")));
    assert!(
        today.words().contains("Logged today 4 sets"),
        "{}",
        today.words()
    );
    let again = athlete
        .get(&hall.gym.path(&format!("log/new?planned={planned}")))
        .expect(303);
    assert_eq!(
        again.location(),
        logged.location().split('?').next().unwrap()
    );
    let mut tx = hall.gym.enter().await;
    let answered = blocks::planned(&mut tx, planned).await.unwrap();
    assert_eq!(answered.logged, Some(session_of(again.location())));
    // The second time with a club, the cautions are there, folded.
    hall.gym.clock.advance(Duration::days(3));
    let later = athlete.get(&hall.gym.path("today")).expect(200);
    assert!(later.body.contains("Clear the space") && !later.body.contains("caution\" open"));
}

#[tokio::test]
async fn more_rows_come_without_script_and_nothing_typed_is_lost() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let form = hall.open(&mut athlete, 1);
    let mut fields = hall.filled(&form, &["14", "15"]);
    put(&mut fields, "note", "typed before");
    put(&mut fields, "do", "sets-1");
    let path = hall.gym.path("log/new");
    let more = send(&mut athlete, &path, &fields).expect(200);
    assert_eq!(more.field("work-1-set-1-reps").as_deref(), Some("14"));
    assert!(more.body.contains("name=\"work-1-set-4-reps\""));
    assert!(!more.body.contains("name=\"work-1-set-5-reps\""));
    assert!(more.body.contains("typed before"));
    put(&mut fields, "do", "work");
    let other = send(&mut athlete, &path, &fields).expect(200);
    assert!(other.body.contains("name=\"work-2-movement\""));
    put(&mut fields, "do", "pain");
    let pain = send(&mut athlete, &path, &fields).expect(200);
    assert!(pain.body.contains("name=\"pain-2-score\""));
    assert_eq!(hall.count(SESSIONS).await, 0);
    // Two kinds of work in one session, the second with fixed reps.
    put(&mut fields, "do", "save");
    for (name, value) in [
        ("work-2-movement", hall.movement.to_string()),
        ("work-2-hands", "one".to_owned()),
        ("work-2-club", hall.light.to_string()),
        ("work-2-counted", "reps".to_owned()),
        ("work-2-set-1-side", "left".to_owned()),
        ("work-2-set-1-reps", "5".to_owned()),
        ("work-2-set-2-side", "right".to_owned()),
        ("work-2-set-2-reps", String::new()),
    ] {
        put(&mut fields, name, &value);
    }
    let logged = send(&mut athlete, &path, &fields).expect(303);
    // A row without a count is a set that was not done.
    assert_eq!(hall.count(SETS).await, 3);
    let session = logged.location().split('?').next().unwrap().to_owned();
    let edit = athlete.get(&format!("{session}/edit")).expect(200);
    assert_eq!(edit.field("work-2-set-1-reps").as_deref(), Some("5"));
}

#[tokio::test]
async fn bad_input_is_told_at_its_field_keeps_what_was_typed_and_stores_nothing() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let form = hall.open(&mut athlete, 1);
    let good = hall.filled(&form, &["14", "15"]);
    let path = hall.gym.path("log/new");
    let long = "n".repeat(2001);
    let cases: &[(&str, &str, &str)] = &[
        ("work-1-set-1-reps", "NaN", "whole number"),
        ("work-1-set-1-reps", "-3", "0 to 1000"),
        ("work-1-set-1-reps", "1001", "0 to 1000"),
        (
            "work-1-set-1-reps",
            "99999999999999999999999",
            "whole number",
        ),
        ("work-1-set-1-reps", "14.5", "whole number"),
        ("work-1-set-1-reps", "١٤", "whole number"),
        ("work-1-set-1-reps", "1\u{0}4", "whole number"),
        ("work-1-set-1-seconds", "", "how many seconds"),
        ("work-1-set-1-seconds", "0", "1 to 3600"),
        ("work-1-set-1-seconds", "inf", "whole number"),
        ("work-1-set-2-side", "up", "left or right"),
        ("work-1-movement", "pullover", "Choose a movement"),
        (
            "work-1-club",
            "0193a000-0000-7000-8000-000000000000",
            "Choose a club",
        ),
        ("work-1-hands", "three", "how the club was held"),
        ("day", "", "year-month-day"),
        ("day", "2026-11-26", "yet to come"),
        ("day", "2026-13-01", "year-month-day"),
        ("day", "0001-01-01", "too long ago"),
        ("day", "1899-12-31", "too long ago"),
        ("day", "+262143-01-01", "year-month-day"),
        ("day", "2026-11-25T23:00:00+09:00", "year-month-day"),
        ("effort", "7.3", "steps of 0.5"),
        ("effort", "11", "0 to 10"),
        ("effort", "NaN", "0 to 10"),
        ("effort", "-1", "0 to 10"),
        ("minutes", "0", "1 to 600"),
        ("minutes", "601", "1 to 600"),
        ("minutes", "an hour", "whole number"),
        ("pain-1-score", "11", "0 to 10"),
        ("pain-1-score", "-1", "0 to 10"),
        ("pain-1-place", "left elbow", "how much it hurt"),
        ("note", &long, "at most 2000 characters"),
        ("note", "bell \u{7}", "control characters"),
        ("note", "nothing \u{0}", "control characters"),
    ];
    for (field, value, sentence) in cases {
        let mut fields = good.clone();
        put(&mut fields, field, value);
        let answer = send(&mut athlete, &path, &fields);
        // The score's error stands at the score, though the place was typed.
        let at = if *field == "pain-1-place" {
            "pain-1-score"
        } else {
            field
        };
        assert_eq!(
            answer.status,
            422,
            "{field}={value:.20}: {}",
            answer.words()
        );
        let error = answer
            .body
            .split_once(&format!("id=\"{at}-error\">"))
            .unwrap_or_else(|| panic!("no error at {at} for {value:.20}"))
            .1;
        let error = error.split("</span>").next().unwrap();
        assert!(error.contains(sentence), "{field}={value:.20}: {error}");
        assert!(answer.body.contains(&format!("href=\"#{at}\"")), "{field}");
        for (name, value) in &fields {
            if name.ends_with("-reps") {
                assert_eq!(answer.field(name).as_ref(), Some(value), "{field}");
            }
        }
        assert!(answer.body.contains("Nothing was saved yet"));
    }
    let mut none = good.clone();
    put(&mut none, "work-1-set-1-reps", "");
    put(&mut none, "work-1-set-2-reps", " ");
    let answer = send(&mut athlete, &path, &none).expect(422);
    assert!(answer.body.contains("at least one set"));
    assert_eq!(hall.count(SESSIONS).await, 0);
}

#[tokio::test]
async fn what_is_no_form_or_far_too_much_is_refused_and_stores_nothing() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let form = hall.open(&mut athlete, 1);
    let path = hall.gym.path("log/new");
    let mut many = hall.filled(&form, &vec!["14"; 402]);
    let answer = send(&mut athlete, &path, &many).expect(422);
    assert!(answer.body.contains("At most 400 sets"));
    assert_eq!(answer.field("work-1-set-402-reps").as_deref(), Some("14"));
    many = hall.filled(&form, &vec!["14"; 10_000]);
    let answer = send(&mut athlete, &path, &many).expect(422);
    assert!(
        answer
            .body
            .contains("At most 400 sets fit in one session; here are 10000")
    );
    let mut note = hall.filled(&form, &["14", "15"]);
    put(&mut note, "note", &"n".repeat(1_000_000));
    let answer = send(&mut athlete, &path, &note).expect(422);
    assert!(
        answer
            .body
            .contains("at most 2000 characters; this one has 1000000")
    );
    for (kind, body) in [
        ("application/json", r#"{"day":"2026-11-25"}"#),
        ("text/plain", "day=2026-11-25"),
    ] {
        let answer = athlete.send("POST", &path, &[("content-type", kind)], body.as_bytes());
        answer.expect(415);
    }
    // Broken UTF-8 in a field: told at the field.
    let fields = hall.filled(&form, &["14", "15"]);
    let mut body = format!("csrf={}", athlete.csrf());
    for (name, value) in fields.iter().filter(|(name, _)| name != "note") {
        body += &format!("&{name}={value}");
    }
    body += "&note=caf%E9";
    let kind = [("content-type", "application/x-www-form-urlencoded")];
    let answer = athlete
        .send("POST", &path, &kind, body.as_bytes())
        .expect(422);
    assert!(
        answer.body.contains("could not be read"),
        "{}",
        answer.words()
    );
    assert_eq!(hall.count(SESSIONS).await, 0);
}

#[tokio::test]
async fn notes_and_places_in_any_script_come_back_as_they_were() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let note = "כתף ימין 🙂 تعب\nsecond line <b>not bold</b>";
    let session = hall.logged(
        &mut athlete,
        &["14", "14"],
        &[
            ("note", note),
            ("pain-1-score", "2"),
            ("pain-1-place", "  Linker  ELLENBOGEN "),
        ],
    );
    let mut tx = hall.gym.enter().await;
    let kept = log::current(&mut tx, hall.gym.athlete_id, session_of(&session))
        .await
        .unwrap();
    assert_eq!(kept.done.note.as_str(), note);
    assert_eq!(
        kept.done.pain[0].place.as_ref().unwrap().as_str(),
        "linker ellenbogen"
    );
    let page = athlete.get(&session).expect(200);
    assert!(page.body.contains("dir=\"auto\"") && !page.body.contains("<b>not bold"));
}

#[tokio::test]
async fn an_athlete_reaches_only_their_own_log() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let session = hall.logged(&mut athlete, &["14", "14"], &[]);
    let planned = assign(&hall).await;
    let other = hall
        .gym
        .person("Juno Marsh", "juno@quarry.example", &[Role::Athlete])
        .await;
    let mut admin = hall.gym.database.connect(DatabaseRole::Admin).await;
    sqlx::query(
        "insert into athletes (gym_id, athlete_id, person_id, name, started_on, status_since, handle, created_at)
         values ($1, $2, $3, 'Juno Marsh', '2026-01-05', '2026-01-05', 'juno', now())",
    )
    .bind(hall.gym.id.0)
    .bind(new_id::<Uuid>())
    .bind(other.id.0)
    .execute(&mut admin)
    .await
    .unwrap();
    let mut other = hall.gym.sign_in(&other).await;
    other.get(&session).expect(404);
    other.get(&format!("{session}/edit")).expect(404);
    other
        .get(&hall.gym.path(&format!("log/new?planned={planned}")))
        .expect(404);
    // A form of theirs that names another's plan, another's revision, or another's id.
    let path = hall.gym.path("log/new");
    let form = hall.open(&mut other, 1);
    let mut fields = hall.filled(&form, &["9", "9"]);
    put(&mut fields, "planned", &planned.to_string());
    put(&mut fields, "planned-revision", "1");
    send(&mut other, &path, &fields).expect(404);
    let mut fields = hall.filled(&form, &["9", "9"]);
    put(&mut fields, "replaces", &session_of(&session).to_string());
    send(&mut other, &format!("{session}/edit"), &fields).expect(404);
    let mut fields = hall.filled(&form, &["9", "9"]);
    put(&mut fields, "id", &session_of(&session).to_string());
    let answer = send(&mut other, &path, &fields);
    assert_eq!(answer.status, 404);
    assert_eq!(hall.count(SESSIONS).await, 1);
    hall.gym.coach().await.get(&session).expect(403);
    hall.gym.owner().await.get(&session).expect(403);
    hall.gym.stranger().await.get(&session).expect(404);
}

#[tokio::test]
async fn a_day_that_passes_raises_what_only_time_raises() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    hall.logged(&mut athlete, &["14", "14"], &[("day", "2026-11-20")]);
    assert_eq!(hall.standing().await, []);
    let later = TODAY + Duration::days(30);
    let up = || flags::bring_up_to_date(&hall.gym.store, hall.gym.id, hall.gym.coach.id, later);
    assert_eq!(up().await.unwrap(), 1);
    assert_eq!(up().await.unwrap(), 0);
    // A1: no session for 14 days.
    assert!(hall.standing().await.contains(&(Rule::A1, Severity::Look)));
    let mut tx = hall.gym.enter().await;
    let assessed = flags::assessments(&mut tx, &[hall.gym.athlete_id])
        .await
        .unwrap();
    assert_eq!(assessed[&hall.gym.athlete_id].as_of, later);
}

#[tokio::test]
async fn one_training_list_reads_the_same_in_pages_and_at_once() {
    let hall = hall().await;
    let mut tx = hall.gym.enter().await;
    let athlete = hall.gym.athlete_id;
    let mut by_day: BTreeMap<Date, RevisionId> = BTreeMap::new();
    for days in 0..20 {
        let new = hall.revision(TODAY - Duration::days(days), [14, 14]);
        log::record(&mut tx, &new).await.unwrap();
        by_day.insert(new.done.unwrap().on, new.revision);
    }
    let between = log::between(&mut tx, &[athlete], date!(2026 - 01 - 01), TODAY)
        .await
        .unwrap();
    let ids: Vec<RevisionId> = between.iter().map(|one| one.revision).collect();
    assert_eq!(ids, by_day.values().copied().collect::<Vec<_>>());
    assert!(between.iter().all(|one| one.done.sets.len() == 2));
    let mut paged = Vec::new();
    let mut before = TODAY + Duration::days(1);
    loop {
        let page = log::before(&mut tx, athlete, before, 6).await.unwrap();
        let Some(last) = page.last() else { break };
        before = last.done.on;
        paged.extend(page.into_iter().map(|one| one.revision));
    }
    paged.reverse();
    assert_eq!(paged, ids);
    let other = log::record(
        &mut tx,
        &NewRevision {
            replaces: Some(RevisionId(new_id())),
            ..hall.revision(TODAY, [1, 1])
        },
    )
    .await;
    assert!(matches!(
        other,
        Err(RecordError::Store(StoreError::NotFound))
    ));
    tx.commit().await.unwrap();
    let mut athlete = hall.gym.athlete().await;
    let mine = athlete.get(&hall.gym.path("mine")).expect(200);
    // Twenty sessions: five below the rest of the page, and the other fifteen on the next.
    assert_eq!(mine.body.matches("Oak 6: 14 left, 14 right").count(), 5);
    assert!(
        mine.words().contains("14.0 reps a set of 30 seconds"),
        "{}",
        mine.words()
    );
    // 1.2 times 14 in half a minute (T3), and level since.
    let level = "The goal is 16.8 reps in 30 seconds on average, on both sides. Lately the count is about level";
    assert!(mine.words().contains(level), "{}", mine.words());
    let older = mine
        .body
        .split("mine?before=")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let next = athlete
        .get(&hall.gym.path(&format!("mine?before={older}")))
        .expect(200);
    assert_eq!(next.body.matches("Oak 6: 14 left, 14 right").count(), 15);
}

#[tokio::test]
async fn the_phone_page_is_light() {
    let hall = hall().await;
    assign(&hall).await;
    let mut athlete = hall.gym.athlete().await;
    for page in ["today", "log/new", "mine", "plan"] {
        let answer = athlete.get(&hall.gym.path(page)).expect(200);
        // As a browser asks for it.
        let packed = [("accept-encoding", "gzip, br")];
        let mut weigh = |path: &str| athlete.send("GET", path, &packed, b"").expect(200).bytes;
        let mut bytes = weigh(&hall.gym.path(page));
        for linked in answer
            .body
            .split("href=\"")
            .skip(1)
            .chain(answer.body.split("src=\"").skip(1))
        {
            let address = linked.split('"').next().unwrap();
            assert!(
                !address.starts_with("http"),
                "{page} asks another host: {address}"
            );
            if address.starts_with("/static/")
                || address.contains(".css")
                || address.contains(".svg")
            {
                bytes += weigh(address);
            }
        }
        assert!(bytes <= 60_000, "{page} is {bytes} bytes over the wire");
    }
}

/// Everything that the server's process says at the most talkative level.
#[derive(Clone, Default)]
struct Overheard(Arc<Mutex<Vec<u8>>>);

impl std::io::Write for Overheard {
    fn write(&mut self, said: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(said);
        Ok(said.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[tokio::test]
async fn effort_pain_and_notes_never_reach_a_log_line() {
    let overheard = Overheard::default();
    let ear = overheard.clone();
    tracing_subscriber::fmt()
        .with_max_level(tracing_subscriber::filter::LevelFilter::TRACE)
        .with_ansi(false)
        .with_writer(move || ear.clone())
        .init();
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    let health = [
        ("note", "zebrafinch told me"),
        ("pain-1-place", "quagga knuckle"),
        ("pain-1-score", "7"),
        ("effort", "9.5"),
    ];
    let session = hall.logged(&mut athlete, &["14", "14"], &health);
    athlete.get(&session).expect(200);
    athlete.get(&hall.gym.path("today")).expect(200);
    // A calendar's link is a secret of the same kind.
    athlete.get(&hall.gym.path("calendar")).expect(200);
    let page = athlete.post(&hall.gym.path("calendar"), &[]).expect(200);
    let (_, link) = page.body.split_once("webcal://").expect("a link");
    let address = &link[link.find("/calendar/").unwrap()..link.find('"').unwrap()];
    let secret = address.split('/').nth(3).expect("a token");
    hall.gym.anon().get(address).expect(200);
    hall.gym
        .anon()
        .get(&address.replace(".ics", ".ical"))
        .expect(404);
    // A form that is refused, one that meets another, and one that fails on the way.
    let form = athlete.get(&format!("{session}/edit")).expect(200);
    let mut fields = hall.filled(&form, &["14", "x"]);
    for (name, value) in health {
        put(&mut fields, name, value);
    }
    let edit = format!("{session}/edit");
    send(&mut athlete, &edit, &fields).expect(422);
    put(&mut fields, "work-1-set-2-reps", "15");
    send(&mut athlete, &edit, &fields).expect(303);
    put(&mut fields, "work-1-set-2-reps", "16");
    send(&mut athlete, &edit, &fields).expect(409);
    let mut admin = hall.gym.database.connect(DatabaseRole::Admin).await;
    // The database tells the whole row that it refuses.
    sqlx::query("alter table logged_sessions add constraint no_more check (note = '') not valid")
        .execute(&mut admin)
        .await
        .unwrap();
    let form = hall.open(&mut athlete, 1);
    let mut fields = hall.filled(&form, &["14", "15"]);
    for (name, value) in health {
        put(&mut fields, name, value);
    }
    send(&mut athlete, &hall.gym.path("log/new"), &fields).expect(500);
    let said = String::from_utf8_lossy(&overheard.0.lock().unwrap()).into_owned();
    assert!(said.contains("log/{session}/edit"), "the ear was deaf");
    assert!(said.contains("{feed}/plan.ics"), "the ear was deaf");
    for word in ["zebrafinch", "quagga", "effort=", "pain-1", secret] {
        let line = said.lines().find(|line| line.contains(word));
        assert!(line.is_none(), "{word}: {line:?}");
    }
}

#[tokio::test]
async fn a_coach_logs_for_their_roster_and_for_nobody_else() {
    let hall = hall().await;
    let mut coach = hall.gym.coach().await;
    let base = hall
        .gym
        .path(&format!("athletes/{}/log", hall.gym.athlete_id));
    let form = coach
        .get(&format!(
            "{base}/new?movement={}&hands=two&club={}&counted=time&sets=1&seconds=30",
            hall.movement, hall.light
        ))
        .expect(200);
    assert!(form.body.contains("Ansel Reed"));
    let fields = hall.filled(&form, &["14", "20"]);
    let logged = send(&mut coach, &format!("{base}/new"), &fields).expect(303);
    assert!(
        logged.location().starts_with(&base),
        "{}",
        logged.location()
    );
    coach.get(logged.location()).expect(200);
    assert!(!hall.standing().await.is_empty());
    // The athlete sees it, and who wrote it once they change it.
    let session = session_of(logged.location().split('?').next().unwrap());
    let mut athlete = hall.gym.athlete().await;
    let own = hall.gym.path(&format!("log/{session}"));
    let edit = athlete.get(&format!("{own}/edit")).expect(200);
    let fields = hall.filled(&edit, &["20", "20"]);
    send(&mut athlete, &format!("{own}/edit"), &fields).expect(303);
    assert!(athlete.get(&own).expect(200).body.contains("by your coach"));
    // Another coach, whose roster does not hold this athlete.
    let other = hall
        .gym
        .person("Odd Berg", "odd@quarry.example", &[Role::Coach])
        .await;
    let mut other = hall.gym.sign_in(&other).await;
    other.get(&format!("{base}/new")).expect(404);
    other.get(&format!("{base}/{session}")).expect(404);
    other.get(&format!("{base}/{session}/edit")).expect(404);
    let fields = hall.filled(&form, &["9", "9"]);
    send(&mut other, &format!("{base}/new"), &fields).expect(404);
    athlete.get(&format!("{base}/new")).expect(403);
    assert_eq!(hall.count(SESSIONS).await, 2);
}

#[tokio::test]
async fn a_change_to_the_rack_or_the_roster_is_followed_by_the_flags() {
    let hall = hall().await;
    let mut athlete = hall.gym.athlete().await;
    hall.logged(&mut athlete, &["14", "14"], &[]);
    let up = || flags::bring_up_to_date(&hall.gym.store, hall.gym.id, hall.gym.coach.id, TODAY);
    assert_eq!(up().await.unwrap(), 0);
    let mut tx = hall.gym.enter().await;
    rack::retire_loading(&mut tx, hall.heavy, Some(NOW))
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert_eq!((up().await.unwrap(), up().await.unwrap()), (1, 0));
    let mut tx = hall.gym.enter().await;
    let now = athletes::get(&mut tx, hall.gym.athlete_id).await.unwrap();
    let left = athletes::Details {
        name: now.name,
        started_on: now.started_on,
        status: Status::Left,
        // Known before it comes.
        status_since: TODAY + Duration::days(3),
        notes: now.notes,
    };
    athletes::change(&mut tx, hall.gym.athlete_id, &left)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert_eq!((up().await.unwrap(), up().await.unwrap()), (1, 0));
    // Whoever has left is not worked out again day after day.
    let later = TODAY + Duration::days(60);
    let up = || flags::bring_up_to_date(&hall.gym.store, hall.gym.id, hall.gym.coach.id, later);
    assert_eq!((up().await.unwrap(), up().await.unwrap()), (1, 0));
    assert_eq!(hall.standing().await, []);
    let much_later = TODAY + Duration::days(90);
    let up = flags::bring_up_to_date(&hall.gym.store, hall.gym.id, hall.gym.coach.id, much_later);
    assert_eq!(up.await.unwrap(), 0);
}
