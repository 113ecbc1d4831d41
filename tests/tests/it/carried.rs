//! What a phone carries, and what it sends when there is signal: over HTTP, with the real database.
//!
//! How requests are answered is RFC 9110 (status codes) and RFC 9457 (problem details); ids are RFC
//! 9562's version 7. What is asked and when the work stops is common practice, no source.

use std::collections::BTreeSet;

use leverbook_domain::id::{AthleteId, BlockId, MovementId, SessionId};
use leverbook_domain::plan::{
    BlockDraft, BlockWish, IntervalSets, PlannedState, Scheme, Standing, Swung,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{Rule, Severity};
use leverbook_domain::units::{Density, Seconds};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::blocks::{self, Planned, Revise};
use leverbook_store::exchange;
use leverbook_store::people::Role;
use leverbook_store::rack::{self, MovementDetails};
use leverbook_store::{athletes, flags, log};
use leverbook_tests::{Actor, Answer, NOW, new_id};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use serde_json::{Value, json};
use time::macros::date;
use time::{Date, Duration};
use uuid::Uuid;

use crate::hall::Hall;
use crate::log::REFUSE_ASSESSMENTS;

/// The day of the tests' clock in the gym's zone, a Wednesday.
const TODAY: Date = date!(2026 - 11 - 25);

/// A phone on which the athlete is signed in.
struct Phone {
    actor: Actor,
    account: String,
    carry: String,
    send: String,
}

impl Phone {
    async fn of(hall: &Hall) -> Self {
        Self::with(
            hall,
            hall.gym.athlete().await,
            hall.gym.athlete.id.to_string(),
        )
    }

    fn with(hall: &Hall, actor: Actor, account: String) -> Self {
        Self {
            actor,
            account,
            carry: hall.gym.path("carry"),
            send: hall.gym.path("log/carried"),
        }
    }

    fn carry(&mut self) -> Value {
        let answer = self.actor.get(&self.carry).expect(200);
        serde_json::from_str(&answer.body).expect("a book")
    }

    fn send(&mut self, entry: &Value) -> Answer {
        self.send_text(&entry.to_string())
    }

    fn send_text(&mut self, entry: &str) -> Answer {
        let account = self.account.clone();
        self.send_as(&account, entry)
    }

    fn send_as(&mut self, account: &str, entry: &str) -> Answer {
        let csrf = self.actor.csrf().to_owned();
        let body = form_urlencoded::Serializer::new(String::new())
            .extend_pairs([
                ("csrf", csrf.as_str()),
                ("account", account),
                ("entry", entry),
            ])
            .finish();
        self.send_body(body.as_bytes())
    }

    fn send_body(&mut self, body: &[u8]) -> Answer {
        let headers = [
            ("content-type", "application/x-www-form-urlencoded"),
            ("accept", "application/json"),
        ];
        let path = self.send.clone();
        self.actor.send("POST", &path, &headers, body)
    }

    /// Sends an entry that has to be taken, and gives the answer.
    #[track_caller]
    fn takes(&mut self, entry: &Value) -> Value {
        value(&self.send(entry).expect(200))
    }

    /// Sends an entry that has to be refused, and gives the problems as "field: sentence".
    #[track_caller]
    fn refuses(&mut self, entry: &str) -> String {
        let answer = value(&self.send_text(entry).expect(422));
        assert_eq!(answer["outcome"], "refused");
        let problems = answer["problems"].as_array().expect("problems");
        let said = |problem: &Value| {
            let text = |name: &str| problem[name].as_str().expect("a text").to_owned();
            format!("{}: {}", text("field"), text("sentence"))
        };
        problems.iter().map(said).collect::<Vec<_>>().join("; ")
    }
}

#[track_caller]
fn value(answer: &Answer) -> Value {
    serde_json::from_str(&answer.body).unwrap_or_else(|error| panic!("{error}: {}", answer.body))
}

/// A problem of RFC 9457 with this status.
#[track_caller]
fn is_problem(answer: &Answer, status: u16) {
    assert_eq!(answer.status, status, "{}", answer.body);
    assert_eq!(answer.header("content-type"), "application/problem+json");
    assert_eq!(value(answer)["status"], status);
}

impl Hall {
    /// A first entry of today: two 30 s sets, left and right.
    fn entry(&self, left: i64, right: i64) -> Value {
        let id: Uuid = new_id();
        json!({
            "format": 1, "id": id, "replaces": null, "session": id, "on": "2026-11-25",
            "planned": null, "sets": [self.timed("left", left), self.timed("right", right)],
            "effort": null, "pain": [], "minutes": null, "note": "", "taken_back": false,
        })
    }

    fn timed(&self, side: &str, reps: i64) -> Value {
        json!({"movement": self.mill, "hands": "two", "club": self.light, "side": side,
            "seconds": 30, "reps": reps, "asked": null})
    }

    /// An edit of an entry, with these counts.
    fn edit(&self, entry: &Value, left: i64, right: i64) -> Value {
        let mut edit = self.entry(left, right);
        edit["replaces"] = entry["id"].clone();
        edit["session"] = entry["session"].clone();
        edit
    }

    /// A block of two sessions a week from today on: two sets of 30 s a side, to 30 a minute.
    async fn assign(&self) -> BlockId {
        let wish = BlockWish {
            movement: self.mill,
            scheme: Scheme::IntervalSets(IntervalSets {
                sets: 2,
                seconds: Seconds::new(30).unwrap(),
                rest_seconds: 60,
                goal: Some(Density::from_rpm(29.0).unwrap()),
            }),
            weekdays: vec![3, 6],
            starts_on: TODAY,
            weeks: 4,
            note: "Breathe out on the swing".to_owned(),
        };
        let draft = BlockDraft::new(wish, &Policy::default(), TODAY).unwrap();
        let swung = Swung {
            movement_name: "Test mill",
            loading: self.light,
            club_name: "Ash 5",
        };
        let mut tx = self.gym.enter().await;
        let athlete = self.gym.athlete_id;
        let block = leverbook_tests::assign(&mut tx, athlete, draft, swung, NOW).await;
        tx.commit().await.unwrap();
        block
    }

    async fn rows(&self, sql: &'static str) -> i64 {
        let mut admin = self.gym.database.connect(DatabaseRole::Admin).await;
        sqlx::query_scalar(sql).fetch_one(&mut admin).await.unwrap()
    }

    /// Changes something past the application.
    async fn past(&self, sql: &str) {
        let mut admin = self.gym.database.connect(DatabaseRole::Admin).await;
        let sql = sqlx::AssertSqlSafe(sql.to_owned());
        sqlx::raw_sql(sql).execute(&mut admin).await.unwrap();
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
}

const SESSIONS: &str = "select count(*) from logged_sessions";
const SETS: &str = "select count(*) from logged_sets";
const SEEN: &str = "select count(*) from planned_seen";

fn keys(value: &Value) -> BTreeSet<&str> {
    value
        .as_object()
        .expect("an object")
        .keys()
        .map(String::as_str)
        .collect()
}

#[tokio::test]
async fn a_phone_carries_two_weeks() {
    let hall = Hall::new().await;
    hall.assign().await;
    let mut phone = Phone::of(&hall).await;
    let mut before = hall.entry(14, 13);
    before["on"] = json!("2026-11-20");
    before["sets"]
        .as_array_mut()
        .unwrap()
        .push(hall.timed("left", 12));
    before["note"] = json!("a good day");
    before["pain"] = json!([{"score": 1, "place": "left elbow"}]);
    phone.takes(&before);
    let book = phone.carry();
    let named = "account clubs csrf days efforts format gym gym_name hands logged movements must_say name now \
        pain_stop pains planned release today waiting zone";
    assert_eq!(keys(&book), named.split(' ').collect());
    for (name, expected) in [
        ("format", json!(1)),
        ("account", json!(hall.gym.athlete.id)),
        ("name", json!("Ansel Reed")),
        ("gym", json!(hall.gym.id)),
        ("gym_name", json!("Quarry Lane Club Hall")),
        ("zone", json!("Europe/Lisbon")),
        ("now", json!("2026-11-25T18:00:00Z")),
        ("today", json!("2026-11-25")),
        ("csrf", json!(phone.actor.csrf())),
        ("pain_stop", json!(4)),
        ("must_say", json!({"effort": false, "pain": true})),
        ("waiting", json!({"all": false, "movements": []})),
        ("movements", json!([{"id": hall.mill, "name": "Test mill"}])),
    ] {
        assert_eq!(book[name], expected, "{name}");
    }
    assert_eq!(
        book["hands"][0],
        json!({"word": "two", "words": "two hands"})
    );
    assert_eq!(book["efforts"][0], json!({"value": "", "word": "not said"}));
    assert_eq!(
        book["pains"][1],
        json!({"value": "0", "word": "0 – no pain"})
    );
    let club = json!({"id": hall.light, "name": "Ash 5", "loadable": false});
    assert_eq!(book["clubs"][0], club);
    // Wednesdays and Saturdays from today to two weeks on.
    let planned = book["planned"].as_array().unwrap();
    let days: Vec<&str> = planned
        .iter()
        .map(|one| one["on"].as_str().unwrap())
        .collect();
    let expected = [
        "2026-11-25",
        "2026-11-28",
        "2026-12-02",
        "2026-12-05",
        "2026-12-09",
    ];
    assert_eq!(days, expected);
    let first = &planned[0];
    for (name, expected) in [
        ("revision", json!(1)),
        ("logged", json!(null)),
        ("waits", json!(false)),
        ("movement", json!(hall.mill)),
        ("movement_name", json!("Test mill")),
        ("hands", json!("two")),
        ("hands_words", json!("two hands")),
        ("club", json!(hall.light)),
        ("club_name", json!("Ash 5")),
        ("loadable", json!(false)),
        ("first_with_club", json!(false)),
        ("sets", json!(2)),
        ("seconds", json!(30)),
        ("reps", json!(null)),
        // 29 a minute is 14.5 in 30 s.
        ("goal", json!(15)),
        ("rest_seconds", json!(60)),
        ("line", json!("2 sets of 30 s a side, to 14.5 reps a set")),
        ("note", json!("Breathe out on the swing")),
        (
            "before",
            json!({"on": "2026-11-20", "left": [14, 12], "right": [13]}),
        ),
    ] {
        assert_eq!(first[name], expected, "{name}");
    }
    assert_eq!(keys(first).len(), 21);
    assert_eq!(book["days"].as_object().unwrap().len(), 15);
    // The page has the same words for today, and a day to come has its own.
    let page = phone.actor.get(&hall.gym.path("today")).expect(200);
    let today = book["days"]["2026-11-25"].as_str().unwrap();
    assert!(page.body.contains(today), "{today}");
    let planned = first["planned"].as_str().unwrap();
    for words in [
        format!("data-planned=\"{planned}\""),
        hall.gym
            .path(&format!("train?planned={planned}\">Get ready")),
        hall.gym
            .path(&format!("log/new?planned={planned}\">Already done? Log it")),
    ] {
        assert!(today.contains(&words), "{words}: {today}");
    }
    let rest = book["days"]["2026-11-26"].as_str().unwrap();
    assert!(
        rest.contains("Nothing planned for today") && rest.contains("Sat 28 Nov 2026"),
        "{rest}"
    );
    // Three days on, today's is one to catch up on.
    let later = book["days"]["2026-11-28"].as_str().unwrap();
    assert!(
        later.contains("Not logged yet") && later.contains(planned),
        "{later}"
    );
    let logged = json!([{"session": before["id"], "revision": before["id"], "on": "2026-11-20", "entry": before}]);
    assert_eq!(book["logged"], logged);
    // Today was opened, and it alone was seen: carrying is not seeing.
    assert_eq!(hall.rows(SEEN).await, 1);
}

#[tokio::test]
async fn what_is_sent_twice_or_by_eight_at_once_is_stored_once() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let entry = hall.entry(14, 15);
    let first = phone.takes(&entry);
    let expected = json!({
        "outcome": "stored", "session": entry["id"], "revision": entry["id"], "on": "2026-11-25",
        "stop": false, "plan": null,
    });
    assert_eq!(first, expected);
    assert_eq!(phone.takes(&entry)["outcome"], "already_stored");
    assert_eq!((hall.rows(SESSIONS).await, hall.rows(SETS).await), (1, 2));
    let entry = hall.entry(16, 16);
    let outcomes: Vec<_> = (0..8)
        .map(|_| {
            let (actor, entry) = (phone.actor.clone(), entry.clone());
            let mut phone = Phone::with(&hall, actor, phone.account.clone());
            std::thread::spawn(move || phone.takes(&entry)["outcome"].as_str().unwrap().to_owned())
        })
        .collect();
    let mut outcomes: Vec<String> = outcomes
        .into_iter()
        .map(|one| one.join().unwrap())
        .collect();
    outcomes.sort();
    assert_eq!(
        outcomes.iter().filter(|one| *one == "stored").count(),
        1,
        "{outcomes:?}"
    );
    assert_eq!(
        outcomes
            .iter()
            .filter(|one| *one == "already_stored")
            .count(),
        7,
        "{outcomes:?}"
    );
    assert_eq!((hall.rows(SESSIONS).await, hall.rows(SETS).await), (2, 4));
}

#[tokio::test]
async fn edits_follow_each_other_and_the_last_can_take_the_session_back() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let first = hall.entry(14, 14);
    let second = hall.edit(&first, 15, 15);
    let third = hall.edit(&second, 16, 16);
    let mut fourth = hall.edit(&third, 0, 0);
    fourth["taken_back"] = json!(true);
    fourth["sets"] = json!([]);
    // What an edit replaces has to be there first: until then there is nothing to replace, and the
    // phone keeps it and tries again.
    is_problem(&phone.send(&second), 404);
    assert_eq!(hall.rows(SESSIONS).await, 0);
    for entry in [&first, &second, &third] {
        assert_eq!(phone.takes(entry)["outcome"], "stored");
    }
    assert_eq!(phone.carry()["logged"][0]["entry"], third);
    let gone = phone.takes(&fourth);
    assert_eq!(
        (&gone["outcome"], &gone["session"]),
        (&json!("stored"), &first["id"])
    );
    for entry in [&first, &second, &third, &fourth] {
        assert_eq!(phone.takes(entry)["outcome"], "already_stored");
    }
    assert_eq!(hall.rows(SESSIONS).await, 4);
    assert_eq!(phone.carry()["logged"], json!([]));
    let session = first["id"].as_str().unwrap();
    let page = phone
        .actor
        .get(&hall.gym.path(&format!("log/{session}")))
        .expect(200);
    assert!(page.words().contains("16 (16 in all)") && page.words().contains("Taken back"));
    // What was taken back stands as nothing where a late edit of it comes.
    let late = hall.edit(&third, 17, 17);
    let met = value(&phone.send(&late).expect(409));
    assert_eq!(met["outcome"], "changed_meanwhile");
    assert_eq!(met["newest"]["entry"], json!(null));
}

#[tokio::test]
async fn of_two_phones_the_second_is_shown_what_stands() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let first = hall.entry(14, 14);
    phone.takes(&first);
    let (one, other) = (hall.edit(&first, 15, 15), hall.edit(&first, 16, 16));
    phone.takes(&one);
    let met = value(&phone.send(&other).expect(409));
    let stands = json!({"outcome": "changed_meanwhile", "newest": {
        "session": first["id"], "revision": one["id"], "by": "you", "at": "2026-11-25T18:00:00Z", "entry": one,
    }});
    assert_eq!(met, stands);
    assert_eq!(hall.rows(SESSIONS).await, 2);
    // It can follow instead, under an id of its own.
    phone.takes(&hall.edit(&one, 16, 16));
    // The same id with other content is no edit.
    let mut changed = first.clone();
    changed["sets"][0]["reps"] = json!(99);
    let met = value(&phone.send(&changed).expect(409));
    assert_eq!(
        (&met["outcome"], &met["newest"]["by"]),
        (&json!("other_content"), &json!("you"))
    );
    assert_eq!(met["newest"]["entry"]["sets"][0]["reps"], 16);
    // Nor is what cannot be read any more.
    changed["sets"][0]["reps"] = json!(-1);
    assert_eq!(
        value(&phone.send(&changed).expect(409))["outcome"],
        "other_content"
    );
    assert_eq!(hall.rows(SESSIONS).await, 3);
    // A coach's edit is told with the coach's name.
    let second = hall.entry(10, 10);
    phone.takes(&second);
    let mut tx = hall.gym.enter().await;
    let id: SessionId = second["id"].as_str().unwrap().parse().unwrap();
    let stored = log::current(&mut tx, hall.gym.athlete_id, id)
        .await
        .unwrap();
    let new = log::NewRevision {
        revision: new_id(),
        replaces: Some(stored.revision),
        athlete: hall.gym.athlete_id,
        done: Some(stored.done),
        logged_at: NOW,
    };
    flags::record(&mut tx, &new, TODAY).await.unwrap();
    tx.commit().await.unwrap();
    let met = value(&phone.send(&hall.edit(&second, 11, 11)).expect(409));
    assert_eq!(met["newest"]["by"], "Tove Lind");
}

#[tokio::test]
async fn who_sends_is_whose_phone_it_is() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let entry = hall.entry(14, 14);
    for account in [
        hall.gym.coach.id.to_string(),
        String::new(),
        "me".to_owned(),
    ] {
        is_problem(&phone.send_as(&account, &entry.to_string()), 403);
    }
    // A token of before, as after signing in again.
    let body = format!("csrf=old&account={}&entry={entry}", phone.account);
    is_problem(&phone.send_body(body.as_bytes()), 403);
    let mut out = Phone::with(&hall, hall.gym.anon(), phone.account.clone());
    is_problem(&out.send(&entry), 401);
    let coach = hall.gym.coach().await;
    let mut coach = Phone::with(&hall, coach, hall.gym.coach.id.to_string());
    is_problem(&coach.send(&entry), 403);
    let stranger = hall.gym.stranger().await;
    let mut stranger = Phone::with(&hall, stranger, phone.account.clone());
    is_problem(&stranger.send(&entry), 404);
    assert_eq!(hall.rows(SESSIONS).await, 0);
    // Who is no athlete any more can send it once they are one again.
    hall.past("update memberships set role = 'owner' where role = 'athlete'")
        .await;
    is_problem(&phone.send(&entry), 403);
    let athlete = hall.gym.athlete.id;
    hall.past(&format!(
        "update memberships set role = 'athlete' where person_id = '{athlete}'"
    ))
    .await;
    assert_eq!(phone.takes(&entry)["outcome"], "stored");
}

/// A stop before the first set is a session all the same: they came, and the coach is told.
#[tokio::test]
async fn pain_before_the_first_set_reaches_the_coach() {
    let hall = Hall::new().await;
    hall.assign().await;
    let mut phone = Phone::of(&hall).await;
    let mut entry = hall.entry(0, 0);
    entry["sets"] = json!([]);
    let said = phone.refuses(&entry.to_string());
    assert!(said.starts_with("sets: Put a count"), "{said}");
    entry["pain"] = json!([{"score": 4, "place": "Left  Elbow"}]);
    let taken = phone.takes(&entry);
    assert_eq!(
        (&taken["outcome"], &taken["stop"]),
        (&json!("stored"), &json!(true))
    );
    assert_eq!(hall.standing().await, [(Rule::L4, Severity::Stop)]);
    let book = phone.carry();
    assert_eq!(book["must_say"], json!({"effort": false, "pain": true}));
    let planned = book["planned"].as_array().unwrap();
    assert!(planned.iter().all(|one| one["waits"] == true));
    assert_eq!(book["waiting"], json!({"all": true, "movements": []}));
    // Nothing to begin with is offered, today and on the days to come; what was done can be logged.
    let (begin, log) = (hall.gym.path("train?"), hall.gym.path("log/new"));
    let page = phone.actor.get(&hall.gym.path("today")).expect(200).body;
    let days = book["days"].as_object().unwrap().values();
    for day in days.map(|day| day.as_str().unwrap()).chain([&*page]) {
        assert!(!day.contains(&begin) && day.contains(&log), "{day}");
    }
    let places = &book["logged"][0]["entry"]["pain"];
    assert_eq!(places, &json!([{"score": 4, "place": "left elbow"}]));
    // Every page that tells of it.
    let session = entry["id"].as_str().unwrap();
    let stopped = "Stopped before the first set";
    for (page, words) in [
        ("today".to_owned(), stopped),
        ("today".to_owned(), "wants to look first"),
        ("plan".to_owned(), "Waits for your coach"),
        ("mine".to_owned(), stopped),
        (format!("log/{session}"), stopped),
        (format!("log/{session}"), "Stop for today"),
        (format!("log/{session}/edit"), "left elbow"),
    ] {
        let page = phone.actor.get(&hall.gym.path(&page)).expect(200);
        assert!(page.body.contains(words), "{words}: {}", page.words());
    }
    let athlete = hall.gym.athlete_id;
    let mut coach = hall.gym.coach().await;
    for (page, words) in [
        (format!("athletes/{athlete}"), stopped),
        (format!("athletes/{athlete}"), "pain 4, left elbow"),
        (format!("athletes/{athlete}/log/{session}"), stopped),
        (
            format!("athletes/{athlete}/log/{session}"),
            "Pain that stops the work",
        ),
        ("review".to_owned(), "Ansel Reed"),
        ("roster".to_owned(), "25 Nov"),
        (format!("assign?athlete={athlete}"), "Ansel Reed"),
    ] {
        let page = coach.get(&hall.gym.path(&page)).expect(200);
        assert!(page.body.contains(words), "{words}: {}", page.words());
    }
    // They came: the owner sees the day, and nothing of why.
    let mut owner = hall.gym.owner().await;
    let sheet = owner
        .get(&hall.gym.path("attendance.csv?month=2026-11"))
        .expect(200);
    let row = sheet
        .body
        .lines()
        .find(|line| line.contains("Ansel"))
        .unwrap();
    assert!(row.ends_with(",1"), "{row}");
    let page = owner
        .get(&hall.gym.path("attendance?month=2026-11"))
        .expect(200);
    assert!(!page.body.contains("elbow") && !page.body.contains(stopped));
    // The file of the log has it, and is read back to the same.
    let file = coach.get(&hall.gym.path("files/sets.csv")).expect(200);
    let row = format!("ansel-reed,2026-11-25,{session},,,,,,,,4,left elbow,,,");
    assert!(file.body.contains(&row), "{}", file.body);
    let read = exchange::sets::read(file.body.as_bytes(), exchange::Limits::default()).unwrap();
    assert!(read.len() == 1 && read[0].sets.is_empty());
    // Two days of saying that nothing hurts, without a set, end no stop; work that goes well does.
    for (day, sets) in [(1, 0), (2, 0), (3, 1), (6, 1)] {
        hall.gym
            .clock
            .advance(Duration::days(if day == 6 { 3 } else { 1 }));
        let mut free = hall.entry(12, 12);
        free["on"] = json!((TODAY + Duration::days(day)).to_string());
        free["pain"] = json!([{"score": 0, "place": null}]);
        if sets == 0 {
            free["sets"] = json!([]);
        }
        phone.takes(&free);
        let stands = hall.standing().await.contains(&(Rule::L4, Severity::Stop));
        assert_eq!(stands, day != 6, "day {day}");
    }
}

/// L4: a typing error is corrected and stops nothing any more, but a coach is told; the flags are worked
/// out from nothing to the same. Common practice, no source.
#[tokio::test]
async fn pain_that_stopped_the_work_and_was_changed_is_still_told_to_the_coach() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let mut entry = hall.entry(14, 14);
    entry["pain"] = json!([{"score": 6, "place": "left elbow"}]);
    phone.takes(&entry);
    assert_eq!(hall.standing().await, [(Rule::L4, Severity::Stop)]);
    let mut milder = hall.edit(&entry, 14, 14);
    milder["pain"] = json!([{"score": 2, "place": "left elbow"}]);
    phone.takes(&milder);
    let mut gone = hall.edit(&milder, 14, 14);
    let look = [(Rule::L4, Severity::Look)];
    let athlete = hall.gym.athlete_id;
    let mut coach = hall.gym.coach().await;
    for words in [
        "changed to 2 by the athlete",
        "taken out of the log by the athlete",
    ] {
        assert_eq!(hall.standing().await, look);
        assert_eq!(phone.carry()["waiting"]["movements"], json!([]));
        for page in ["review".to_owned(), format!("athletes/{athlete}")] {
            let page = coach.get(&hall.gym.path(&page)).expect(200);
            assert!(page.words().contains(words), "{words}: {}", page.words());
        }
        let mut tx = hall.gym.enter().await;
        flags::rebuild(&mut tx, athlete, TODAY).await.unwrap();
        tx.commit().await.unwrap();
        assert_eq!(hall.standing().await, look);
        gone["taken_back"] = json!(true);
        phone.takes(&gone);
    }
    // What a coach corrects, a coach has looked at.
    let mut entry = hall.entry(14, 14);
    entry["pain"] = json!([{"score": 7, "place": "neck"}]);
    phone.takes(&entry);
    let id: SessionId = entry["id"].as_str().unwrap().parse().unwrap();
    let mut tx = hall.gym.enter().await;
    let mut stored = log::current(&mut tx, athlete, id).await.unwrap();
    stored.done.pain.clear();
    let new = log::NewRevision {
        revision: new_id(),
        replaces: Some(stored.revision),
        athlete,
        done: Some(stored.done),
        logged_at: NOW,
    };
    flags::record(&mut tx, &new, TODAY).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(hall.standing().await, look);
}

/// L4: pain in a session of one movement makes that one wait, planned or not; Today says the same.
#[tokio::test]
async fn a_phone_knows_which_movements_wait() {
    let hall = Hall::new().await;
    hall.assign().await;
    let mut phone = Phone::of(&hall).await;
    let mut entry = hall.entry(14, 14);
    entry["pain"] = json!([{"score": 4, "place": "left elbow"}]);
    phone.takes(&entry);
    let waiting = json!({"all": false, "movements": [hall.mill]});
    assert_eq!(phone.carry()["waiting"], waiting);
    let page = phone.actor.get(&hall.gym.path("today")).expect(200);
    assert!(page.body.contains("Waits for your coach"));
    let offered = hall.gym.path("train?free=1");
    assert!(
        page.body.contains(&offered),
        "another movement can be swung"
    );
    // Once a coach has closed the flag, nothing waits.
    let mut tx = hall.gym.enter().await;
    let flag = flags::standing_for(&mut tx, &[hall.gym.athlete_id])
        .await
        .unwrap()
        .remove(0);
    let closed = flags::NewDecision {
        id: new_id(),
        flag: flag.id,
        athlete: flag.athlete,
        verdict: flags::Verdict::Closed,
        reason: "Spoke with them.".to_owned(),
        at: NOW,
    };
    flags::decide(&mut tx, &closed, TODAY).await.unwrap();
    tx.commit().await.unwrap();
    let nothing = json!({"all": false, "movements": []});
    assert_eq!(phone.carry()["waiting"], nothing);
}

/// W3C Fetch Metadata Request Headers: a page that is gone to has the mode `navigate`, what a script
/// fetches another. Browsers without these headers go to pages all the same.
#[tokio::test]
async fn what_a_phone_fetches_was_not_seen_and_what_is_opened_or_logged_was() {
    let hall = Hall::new().await;
    let block = hall.assign().await;
    let mut phone = Phone::of(&hall).await;
    let fetched = |mode: &'static str| [("sec-fetch-mode", mode), ("sec-fetch-dest", "empty")];
    for page in ["carry", "today", "plan"] {
        for mode in ["cors", "same-origin", "no-cors"] {
            let answer = phone
                .actor
                .send("GET", &hall.gym.path(page), &fetched(mode), &[]);
            answer.expect(200);
        }
    }
    assert_eq!(hall.rows(SEEN).await, 0);
    let opened = [
        ("sec-fetch-mode", "navigate"),
        ("sec-fetch-dest", "document"),
    ];
    for (page, seen) in [("carry", 0), ("today", 1), ("plan", 8)] {
        let answer = phone.actor.send("GET", &hall.gym.path(page), &opened, &[]);
        answer.expect(200);
        assert_eq!(hall.rows(SEEN).await, seen, "{page}");
    }
    // A worker that hands a page through names no destination (Fetch, 5.4: a request made from another
    // keeps its mode).
    hall.past("delete from planned_seen").await;
    phone
        .actor
        .send("GET", &hall.gym.path("today"), &fetched("navigate"), &[])
        .expect(200);
    assert_eq!(hall.rows(SEEN).await, 1);
    // Who logged by it has seen it, and no other revision; once, however often it is sent.
    hall.past("delete from planned_seen").await;
    let planned = hall.planned(block).await;
    let mut entry = hall.entry(14, 14);
    entry["planned"] = json!({"planned": planned[1].planned, "revision": 1});
    phone.takes(&entry);
    phone.takes(&entry);
    let mut edit = hall.edit(&entry, 15, 15);
    edit["planned"] = entry["planned"].clone();
    phone.takes(&edit);
    assert_eq!(hall.rows(SEEN).await, 1);
    let mut tx = hall.gym.enter().await;
    let history = blocks::revisions(&mut tx, planned[1].planned)
        .await
        .unwrap();
    assert_eq!(history[0].seen_on, Some(TODAY));
    // A coach who logs for an athlete does not see for them.
    let done = log::Done {
        on: TODAY,
        planned: Some(log::PlannedSeen {
            planned: planned[2].planned,
            revision: 1,
        }),
        minutes: None,
        effort: None,
        pain: Vec::new(),
        note: Default::default(),
        sets: Vec::new(),
    };
    let new = log::NewRevision {
        revision: new_id(),
        replaces: None,
        athlete: hall.gym.athlete_id,
        done: Some(done),
        logged_at: NOW,
    };
    flags::record(&mut tx, &new, TODAY).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(hall.rows(SEEN).await, 1);
}

#[tokio::test]
async fn the_form_takes_pain_without_a_count_too() {
    let hall = Hall::new().await;
    let mut athlete = hall.gym.athlete().await;
    let path = hall.gym.path("log/new");
    athlete.get(&path).expect(200);
    let id: Uuid = new_id();
    let (id, mill, light) = (
        id.to_string(),
        hall.mill.to_string(),
        hall.light.to_string(),
    );
    let mut typed = vec![
        ("id", id.as_str()),
        ("day", "2026-11-25"),
        ("do", "save"),
        ("work-1-movement", &mill),
        ("work-1-hands", "two"),
        ("work-1-club", &light),
        ("work-1-counted", "time"),
        ("work-1-set-1-side", "left"),
        ("work-1-set-1-reps", ""),
        ("work-1-set-1-seconds", "30"),
        ("pain-1-score", ""),
        ("pain-1-place", ""),
    ];
    let page = athlete.post(&path, &typed).expect(422);
    assert!(page.body.contains("or say below that it hurts"));
    typed[10].1 = "4";
    let stored = athlete.post(&path, &typed).expect(303);
    let page = athlete.get(stored.location()).expect(200);
    assert!(page.body.contains("Stopped before the first set"));
    assert_eq!(hall.standing().await, [(Rule::L4, Severity::Stop)]);
    assert_eq!((hall.rows(SESSIONS).await, hall.rows(SETS).await), (1, 0));
}

/// The flags follow in the transaction of the log: where the rules fail, nothing was written.
#[tokio::test]
async fn flags_are_written_with_what_a_phone_sends_or_neither_is() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    hall.past(REFUSE_ASSESSMENTS).await;
    let mut entry = hall.entry(14, 20);
    entry["pain"] = json!([{"score": 5, "place": null}]);
    is_problem(&phone.send(&entry), 500);
    let rows = "select (select count(*) from logged_sessions) + (select count(*) from flags)";
    assert_eq!(hall.rows(rows).await, 0);
    hall.past("drop trigger refused on assessments").await;
    assert_eq!(phone.takes(&entry)["stop"], true);
    // 14 against 20 is a symmetry index of 35 % (B1, by hand), and 5 stops the work (L4).
    let rules: Vec<Rule> = hall
        .standing()
        .await
        .into_iter()
        .map(|(rule, _)| rule)
        .collect();
    assert!(
        rules.contains(&Rule::L4) && rules.contains(&Rule::B1),
        "{rules:?}"
    );
    let assessed = "select count(*) from assessments where as_of = '2026-11-25'";
    assert_eq!(hall.rows(assessed).await, 1);
}

#[tokio::test]
async fn a_plan_that_was_changed_meanwhile_loses_no_log_and_is_told() {
    let hall = Hall::new().await;
    let block = hall.assign().await;
    let planned = hall.planned(block).await;
    let mut phone = Phone::of(&hall).await;
    let answers = |planned: &Planned| {
        let mut entry = hall.entry(14, 14);
        entry["planned"] = json!({"planned": planned.planned, "revision": planned.revision});
        entry
    };
    // As seen: nothing to tell.
    let first = answers(&planned[0]);
    assert_eq!(phone.takes(&first)["plan"], json!(null));
    assert_eq!(phone.carry()["planned"][0]["logged"], first["id"]);
    // Moved a day, then with fewer sets, then taken out, then the whole block ended.
    let change = async |planned: &Planned, change: &dyn Fn(&mut Standing)| {
        let mut after = planned.standing.clone();
        change(&mut after);
        let revise = Revise {
            planned: std::slice::from_ref(planned),
            after: &[after],
            reason: "A sore shoulder.",
            act: None,
        };
        let mut tx = hall.gym.enter().await;
        blocks::revise(&mut tx, hall.gym.athlete_id, revise, NOW)
            .await
            .unwrap();
        tx.commit().await.unwrap();
    };
    change(&planned[1], &|standing| standing.on = date!(2026 - 11 - 29)).await;
    let moved = answers(&planned[1]);
    let said = phone.takes(&moved)["plan"].clone();
    assert_eq!(
        said,
        "Your coach had changed this session: on Sun 29 Nov 2026, Test mill, Ash 5, 2 sets of 30 s a \
         side, to 14.5 reps a set. What you did is in the log as you did it."
    );
    // The same again, as after an answer that was lost.
    assert_eq!(phone.takes(&moved)["plan"], said);
    change(&planned[2], &|standing| standing.prescription.sets = 1).await;
    let said = phone.takes(&answers(&planned[2]))["plan"].to_string();
    assert!(said.contains("1 set of 30 s a side"), "{said}");
    change(&planned[3], &|standing| {
        standing.state = PlannedState::Skipped
    })
    .await;
    let said = phone.takes(&answers(&planned[3]))["plan"].clone();
    assert_eq!(
        said,
        "Your coach had taken the session of Sat 5 Dec 2026 out of your plan. What you did is in the \
         log."
    );
    let mut tx = hall.gym.enter().await;
    let standing = blocks::block(&mut tx, block).await.unwrap();
    blocks::end(&mut tx, &standing, TODAY, "Enough.", NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let said = phone.takes(&answers(&planned[4]))["plan"].to_string();
    assert!(said.contains("out of your plan"), "{said}");
    assert_eq!(hall.rows(SESSIONS).await, 5);
    // Logged on another phone too, or by the coach: both stay, and it is told.
    let twice = phone.takes(&answers(&planned[0]))["plan"].to_string();
    assert!(twice.contains("in the log twice"), "{twice}");
    // Of a change of the session, the plan is told as well; of one taken back there is nothing to tell.
    let mut edit = hall.edit(&moved, 15, 15);
    edit["planned"] = moved["planned"].clone();
    assert!(
        phone.takes(&edit)["plan"]
            .to_string()
            .contains("Sun 29 Nov")
    );
    let mut gone = hall.edit(&edit, 15, 15);
    gone["taken_back"] = json!(true);
    assert_eq!(phone.takes(&gone)["plan"], json!(null));
}

#[tokio::test]
async fn a_club_or_a_movement_that_is_out_of_use_loses_no_log() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let (entry, swung) = (hall.entry(14, 14), hall.entry(15, 15));
    let other: AthleteId = new_id();
    let ida = hall
        .gym
        .person("Ida Marsh", "ida@quarry.example", &[Role::Athlete])
        .await;
    let mut tx = hall.gym.enter().await;
    athletes::of_new_person(&mut tx, &ida, other, TODAY, NOW)
        .await
        .unwrap();
    rack::retire_movement(&mut tx, hall.mill, Some(NOW))
        .await
        .unwrap();
    let club = rack::loading(&mut tx, hall.light).await.unwrap().club;
    rack::retire_club(&mut tx, club, Some(NOW)).await.unwrap();
    rack::retire_loading(&mut tx, hall.light, Some(NOW))
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert_eq!(phone.takes(&entry)["outcome"], "stored");
    // Its names are carried for as long as it is, or nobody could read or change it.
    let book = phone.carry();
    assert_eq!(book["movements"][0]["name"], "Test mill");
    assert!(book["clubs"].to_string().contains("Ash 5"));
    // Somebody else's own club, as picked up by mistake: it was swung.
    hall.past(&format!("update clubs set athlete_id = '{other}'"))
        .await;
    assert_eq!(phone.takes(&swung)["outcome"], "stored");
}

#[tokio::test]
async fn nothing_of_another_athlete_or_gym_can_be_named() {
    let hall = Hall::new().await;
    let block = hall.assign().await;
    let planned = hall.planned(block).await[0].planned;
    let mut phone = Phone::of(&hall).await;
    let theirs = hall.entry(14, 14);
    phone.takes(&theirs);
    let other = hall
        .gym
        .person("Nils Grau", "nils@quarry.example", &[Role::Athlete])
        .await;
    let mut tx = hall.gym.enter().await;
    athletes::of_new_person(&mut tx, &other, new_id(), TODAY, NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let actor = hall.gym.sign_in(&other).await;
    let mut nils = Phone::with(&hall, actor, other.id.to_string());
    // Neither what they did, nor that it is there: as with an id of nobody.
    let mut same = hall.entry(9, 9);
    same["id"] = theirs["id"].clone();
    same["session"] = theirs["id"].clone();
    is_problem(&nils.send(&same), 404);
    is_problem(&nils.send(&hall.edit(&theirs, 9, 9)), 404);
    is_problem(&nils.send(&hall.edit(&hall.entry(1, 1), 9, 9)), 404);
    let mut entry = hall.entry(9, 9);
    for planned in [planned, new_id()] {
        entry["planned"] = json!({"planned": planned, "revision": 1});
        let said = nils.refuses(&entry.to_string());
        assert_eq!(said, "planned: This planned session is none of yours");
    }
    // A revision that never was.
    let mut entry = hall.entry(9, 9);
    for revision in [0, 2, -1, 9999] {
        entry["planned"] = json!({"planned": planned, "revision": revision});
        let said = phone.refuses(&entry.to_string());
        assert_eq!(said, "planned: This planned session is none of yours");
    }
    let (gym, [_, _, swinger], _) = hall.gym.neighbour().await;
    let mut tx = hall.gym.store.enter(gym, swinger.id).await.unwrap();
    let movement: MovementId = new_id();
    let details = MovementDetails {
        name: "Mill".to_owned().try_into().unwrap(),
        cues: Default::default(),
        faults: Default::default(),
    };
    rack::add_movement(&mut tx, movement, &details)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    for movement in [movement, new_id()] {
        let mut entry = hall.entry(9, 9);
        entry["sets"][1]["movement"] = json!(movement);
        let said = phone.refuses(&entry.to_string());
        assert_eq!(said, "sets: Set 2: its movement is none of this gym’s");
    }
    let mut entry = hall.entry(9, 9);
    entry["sets"][0]["club"] = json!(new_id::<Uuid>());
    let said = phone.refuses(&entry.to_string());
    assert_eq!(said, "sets: Set 1: its club is none of this gym’s");
    // The same id in another gym is another session.
    let mut there = Phone {
        actor: hall.gym.sign_in(&swinger).await,
        account: swinger.id.to_string(),
        carry: format!("/g/{gym}/carry"),
        send: format!("/g/{gym}/log/carried"),
    };
    let mut pain = same.clone();
    pain["sets"] = json!([]);
    pain["pain"] = json!([{"score": 1, "place": null}]);
    assert_eq!(there.takes(&pain)["outcome"], "stored");
    assert_eq!(hall.rows(SESSIONS).await, 2);
    let book = nils.carry().to_string();
    for secret in [
        planned.to_string(),
        theirs["id"].to_string(),
        "Ansel".to_owned(),
    ] {
        assert!(!book.contains(secret.trim_matches('"')), "{secret}");
    }
}

#[tokio::test]
async fn a_day_that_has_not_come_waits_and_what_was_taken_stays_taken() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let mut entry = hall.entry(14, 14);
    entry["on"] = json!("2026-11-26");
    let answer = value(&phone.send(&entry).expect(422));
    let expected = json!({"outcome": "refused", "today": "2026-11-25", "problems": [
        {"field": "on", "sentence": "2026-11-26 is yet to come: here it is 2026-11-25"},
    ]});
    assert_eq!(answer, expected);
    for (day, sentence) in [
        ("1970-01-01", "too long ago"),
        ("2025-11-23", "too long ago"),
        ("2026-02-29", "year-month-day"),
        ("25.11.2026", "year-month-day"),
        ("2026-11-25T18:00:00Z", "year-month-day"),
        ("", "year-month-day"),
    ] {
        let mut entry = hall.entry(14, 14);
        entry["on"] = json!(day);
        let said = phone.refuses(&entry.to_string());
        assert!(
            said.starts_with("on: ") && said.contains(sentence),
            "{day}: {said}"
        );
    }
    hall.gym.clock.advance(Duration::days(1));
    assert_eq!(phone.takes(&entry)["outcome"], "stored");
    // As if the gym moved to a zone where that day has not come: what is there is there.
    hall.gym.clock.advance(Duration::days(-1));
    assert_eq!(phone.takes(&entry)["outcome"], "already_stored");
    // And an edit may keep the day that its session has.
    let mut edit = hall.edit(&entry, 15, 15);
    edit["on"] = json!("2026-11-25");
    assert_eq!(phone.takes(&edit)["outcome"], "stored");
    hall.gym.clock.advance(Duration::days(500));
    let mut phone = Phone::of(&hall).await;
    let mut late = hall.edit(&edit, 16, 16);
    late["on"] = json!("2026-11-25");
    assert_eq!(phone.takes(&late)["outcome"], "stored");
}

#[tokio::test]
async fn what_cannot_be_read_or_cannot_be_is_refused_and_stores_nothing() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    let good = hall.entry(14, 14);
    for text in [
        "",
        "{",
        "null",
        "[]",
        "\"entry\"",
        "{\"format\": \"1\"}",
        "\u{0}",
        "{}",
    ] {
        let said = phone.refuses(text);
        assert_eq!(
            said, "entry: This cannot be read as an entry of a phone",
            "{text:?}"
        );
    }
    let mut later = good.clone();
    later["format"] = json!(2);
    later["of_a_later_version"] = json!(true);
    let said = phone.refuses(&later.to_string());
    assert!(
        said.contains("another version") && said.contains("stays on the phone"),
        "{said}"
    );
    let changed = |pointer: &str, to: Value| {
        let mut entry = good.clone();
        let (parent, name) = pointer.rsplit_once('/').unwrap();
        entry.pointer_mut(parent).unwrap()[name] = to;
        entry.to_string()
    };
    let set = |name: &str, to: Value| {
        let mut entry = good.clone();
        entry["sets"][1][name] = to;
        entry.to_string()
    };
    let v4 = "c0ffee00-0000-4000-8000-000000000000";
    for (entry, expected) in [
        (
            changed("/colour", json!("red")),
            "entry: This entry cannot be read: unknown field",
        ),
        (
            set("speed", json!(1)),
            "entry: This entry cannot be read: unknown field",
        ),
        (
            changed("/id", json!("no id")),
            "entry: This entry cannot be read",
        ),
        (
            changed("/id", json!(v4)),
            "entry: Its id is none that a phone makes",
        ),
        (
            changed("/session", json!(v4)),
            "entry: A first entry has the id of its session",
        ),
        (
            changed("/taken_back", json!(true)),
            "entry: There is nothing to take back yet",
        ),
        (
            changed("/sets", json!([])),
            "sets: Put a count into at least one set",
        ),
        (
            changed("/sets", json!({})),
            "entry: This entry cannot be read",
        ),
        (
            set("reps", json!(-1)),
            "sets: Set 2: reps must be a whole number from 0 to 1000",
        ),
        (
            set("reps", json!(1001)),
            "sets: Set 2: reps must be a whole number from 0 to 1000",
        ),
        (set("reps", json!(1.5)), "entry: This entry cannot be read"),
        (
            set("seconds", json!(0)),
            "sets: Set 2: interval must be a whole number of seconds",
        ),
        (
            set("seconds", json!(3601)),
            "sets: Set 2: interval must be a whole number of seconds",
        ),
        (
            set("asked", json!(5)),
            "sets: Set 2: reps are asked of straight sets",
        ),
        (set("side", json!("up")), "sets: Set 2: say left or right"),
        (
            set("hands", json!("three")),
            "sets: Set 2: say how the club was held",
        ),
        (
            changed("/effort", json!(10.5)),
            "effort: Effort must be from 0 to 10",
        ),
        (
            changed("/effort", json!(6.3)),
            "effort: Effort must be from 0 to 10",
        ),
        (
            changed("/effort", json!("6")),
            "entry: This entry cannot be read",
        ),
        (changed("/minutes", json!(0)), "minutes: "),
        (changed("/minutes", json!(601)), "minutes: "),
        (
            changed("/pain", json!([{"score": 11, "place": null}])),
            "pain: Pain must be",
        ),
        (
            changed("/pain", json!([{"score": 1, "place": ""}])),
            "pain: A pain place is 1 to 60",
        ),
        (
            changed("/pain", json!(vec![json!({"score": 1}); 9])),
            "pain: At most 8 places",
        ),
        (
            changed("/sets", json!(vec![&good["sets"][0]; 401])),
            "sets: At most 400 sets fit in one session; here are 401",
        ),
        (
            changed("/note", json!("bell \u{7}")),
            "note: A note is plain text",
        ),
        (
            changed("/note", json!("n".repeat(2001))),
            "note: A note is at most 2000 characters",
        ),
        (
            good.to_string()
                .replacen("\"effort\":null", "\"effort\":1,\"effort\":2", 1),
            "entry: This entry cannot be read: duplicate field",
        ),
    ] {
        let said = phone.refuses(&entry);
        assert!(said.starts_with(expected), "{said} instead of {expected}");
    }
    // Everything that is wrong is said at once.
    let mut entry = good.clone();
    entry["effort"] = json!(11);
    entry["minutes"] = json!(0);
    entry["sets"][0]["reps"] = json!(-1);
    assert_eq!(phone.refuses(&entry.to_string()).split("; ").count(), 3);
    // Straight sets with nothing asked, and with nothing like a number asked.
    let mut straight = hall.entry(5, 5);
    straight["sets"][0]["seconds"] = json!(null);
    straight["sets"][0]["asked"] = json!(0);
    let said = phone.refuses(&straight.to_string());
    assert_eq!(said, "sets: Set 1: the reps asked must be 1 or more");
    let body = format!(
        "csrf={}&account={}&entry=%7B%FF%7D",
        phone.actor.csrf(),
        phone.account
    );
    let answer = value(&phone.send_body(body.as_bytes()).expect(422));
    assert_eq!(
        answer["problems"][0]["sentence"],
        "Some characters could not be read"
    );
    let body = format!("csrf={}&entry=%7B%7D", phone.actor.csrf());
    is_problem(&phone.send_body(body.as_bytes()), 400);
    is_problem(&phone.send_text(&"x".repeat(2 * 1024 * 1024)), 413);
    let kind = [
        ("content-type", "application/json"),
        ("accept", "application/json"),
    ];
    let path = phone.send.clone();
    is_problem(
        &phone
            .actor
            .send("POST", &path, &kind, good.to_string().as_bytes()),
        415,
    );
    assert_eq!(hall.rows(SESSIONS).await, 0);
    // The most that a session may have goes in.
    let mut entry = good.clone();
    entry["sets"] = json!(vec![&good["sets"][0]; 400]);
    entry["note"] = json!("🙂".repeat(2000));
    assert_eq!(phone.takes(&entry)["outcome"], "stored");
}

/// L5: what a form must not leave unsaid, a phone is asked for; what it kept all the same is taken.
#[tokio::test]
async fn what_has_to_be_said_is_asked_and_never_loses_a_log() {
    let hall = Hall::new().await;
    let mut phone = Phone::of(&hall).await;
    assert_eq!(
        phone.carry()["must_say"],
        json!({"effort": false, "pain": false})
    );
    let mut sore = hall.entry(14, 14);
    sore["pain"] = json!([{"score": 2, "place": null}]);
    sore["effort"] = json!(9);
    phone.takes(&sore);
    assert_eq!(
        phone.carry()["must_say"],
        json!({"effort": true, "pain": true})
    );
    let path = hall.gym.path("log/new");
    let wanted = format!(
        "{path}?movement={}&hands=two&club={}&counted=time&sets=1&seconds=30",
        hall.mill, hall.light
    );
    let form = phone.actor.get(&wanted).expect(200);
    assert_eq!(
        form.body.matches("Please say it this time").count(),
        2,
        "{}",
        form.words()
    );
    assert!(form.body.contains("From 4 on, stop for today"));
    let id: Uuid = new_id();
    let (id, mill, light) = (
        id.to_string(),
        hall.mill.to_string(),
        hall.light.to_string(),
    );
    let typed = [
        ("id", id.as_str()),
        ("day", "2026-11-25"),
        ("do", "save"),
        ("work-1-movement", &mill),
        ("work-1-hands", "two"),
        ("work-1-club", &light),
        ("work-1-counted", "time"),
        ("work-1-set-1-side", "left"),
        ("work-1-set-1-reps", "14"),
        ("work-1-set-1-seconds", "30"),
        ("pain-1-place", ""),
        ("note", "kept"),
    ];
    let with = |more: &[(&'static str, &'static str)]| [&typed[..], more].concat();
    let page = phone
        .actor
        .post(&path, &with(&[("effort", ""), ("pain-1-score", "")]))
        .expect(422);
    for (field, sentence) in [
        (
            "pain-1-score",
            "Please say it this time, 0 if nothing hurts: it hurt in the last session",
        ),
        (
            "effort",
            "Please say it this time: the last session was very hard",
        ),
    ] {
        let said = page
            .body
            .split_once(&format!("id=\"{field}-error\">"))
            .unwrap()
            .1;
        assert_eq!(said.split('<').next().unwrap(), sentence, "{field}");
    }
    assert_eq!(page.field("work-1-set-1-reps").as_deref(), Some("14"));
    assert!(page.body.contains("kept"));
    // A day before that session is not asked about, and a coach may leave it unsaid.
    let mut before = with(&[("effort", ""), ("pain-1-score", "")]);
    before[1] = ("day", "2026-11-24");
    phone.actor.post(&path, &before).expect(303);
    let mut coach = hall.gym.coach().await;
    let theirs = hall
        .gym
        .path(&format!("athletes/{}/log/new", hall.gym.athlete_id));
    let other: Uuid = new_id();
    let other = other.to_string();
    let mut unsaid = with(&[("effort", ""), ("pain-1-score", "")]);
    unsaid[0] = ("id", &other);
    let form = coach.get(&wanted.replace(&path, &theirs)).expect(200);
    assert!(!form.body.contains("Please say it"));
    coach.post(&theirs, &unsaid).expect(303);
    // That was the last session, and it said nothing: nothing is asked any more.
    assert_eq!(
        phone.carry()["must_say"],
        json!({"effort": false, "pain": false})
    );
    // Nor does the server refuse for it: what a phone kept is taken.
    let mut sore = hall.entry(14, 14);
    sore["pain"] = json!([{"score": 1, "place": "neck"}]);
    phone.takes(&sore);
    phone.takes(&hall.entry(14, 14));
    // Who stops the work at another pain has it said so.
    hall.past(
        "insert into policies (gym_id, version, policy, decided_by, decided_at)
         select gym_id, 1, '{\"pain_stop\": 6}', gym_id, now() from gyms",
    )
    .await;
    let book = phone.carry();
    let words: Vec<&str> = (5..8)
        .map(|at| book["pains"][at]["word"].as_str().unwrap())
        .collect();
    assert_eq!(
        words,
        ["4 – moderate", "5 – moderate", "6 – moderate: stop"]
    );
    assert_eq!(book["pain_stop"], 6);
    let form = phone.actor.get(&wanted).expect(200);
    assert!(form.body.contains("From 6 on, stop for today"));
    let rules = phone.actor.get(&hall.gym.path("rules")).expect(200);
    assert!(rules.body.contains("id=\"L5\"") && rules.words().contains("What has to be said"));
}

/// What a phone carries of an athlete with two sessions a week and their log of two weeks is 2.5 KB on its
/// way; twice as much would want a reason (ours).
#[tokio::test]
async fn the_book_is_light() {
    let hall = Hall::new().await;
    hall.assign().await;
    let mut phone = Phone::of(&hall).await;
    for day in ["2026-11-13", "2026-11-17", "2026-11-20", "2026-11-24"] {
        let mut entry = hall.entry(14, 14);
        entry["on"] = json!(day);
        let sets: Vec<Value> = (0..10)
            .map(|set| hall.timed(if set % 2 == 0 { "left" } else { "right" }, 12 + set))
            .collect();
        entry["sets"] = json!(sets);
        entry["effort"] = json!(6.5);
        entry["note"] = json!("Elbows closer; the last set was hard.");
        phone.takes(&entry);
    }
    let path = phone.carry.clone();
    for encoding in ["br", "gzip"] {
        let answer = phone
            .actor
            .send("GET", &path, &[("accept-encoding", encoding)], &[]);
        assert_eq!(answer.header("content-encoding"), encoding);
        assert_eq!(answer.header("cache-control"), "no-store");
        assert!(answer.bytes <= 5 * 1024, "{encoding}: {}", answer.bytes);
    }
}

/// Whatever a phone can enter comes back from the log as it was entered.
#[tokio::test]
async fn any_entry_is_stored_and_carried_back_the_same() {
    const SEED: [u8; 32] = *b"a phone's entries, 2026-11-25...";
    let hall = Hall::new().await;
    let block = hall.assign().await;
    let planned = hall.planned(block).await[0].planned;
    let mut phone = Phone::of(&hall).await;
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &SEED);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), rng);
    let clubs = [hall.light, hall.middle, hall.heavy];
    let set = (
        0..3usize,
        select(vec!["two", "fingertip", "one"]),
        select(vec!["left", "right"]),
        option::of(1..=3600i64),
        0..=1000i64,
        option::of(1..=1000i64),
    );
    let mill = hall.mill;
    let set = set.prop_map(move |(club, hands, side, seconds, reps, asked)| {
        let asked = asked.filter(|_| seconds.is_none());
        json!({"movement": mill, "hands": hands, "club": clubs[club], "side": side,
            "seconds": seconds, "reps": reps, "asked": asked})
    });
    // As a place and a note are kept: places in small letters, no blanks around either.
    let place = "[a-zäñ\u{5d0}-\u{5ea}]{1,8}( [a-z]{1,8}){0,2}";
    let pain = (0..=10i64, option::of(place))
        .prop_map(|(score, place)| json!({"score": score, "place": place}));
    let entries = (
        vec(set, 0..30),
        option::of(0..=20u8),
        vec(pain, 0..=8),
        option::of(1..=600i64),
        option::of("[^\\p{C}\\p{Z}]([^\\p{C}]{0,200}[^\\p{C}\\p{Z}])?"),
        0..14i64,
        any::<bool>(),
    );
    let mut last: Option<Value> = None;
    for case in 0..60 {
        let (sets, effort, pain, minutes, note, ago, answers) =
            entries.new_tree(&mut runner).unwrap().current();
        let mut entry = hall.entry(0, 0);
        entry["on"] = json!((TODAY - Duration::days(ago)).to_string());
        if sets.is_empty() && pain.is_empty() {
            continue;
        }
        entry["sets"] = json!(sets);
        entry["pain"] = json!(pain);
        entry["effort"] = json!(effort.map(|half_steps| f64::from(half_steps) / 2.0));
        entry["minutes"] = json!(minutes);
        entry["note"] = json!(note.unwrap_or_default());
        if answers {
            entry["planned"] = json!({"planned": planned, "revision": 1});
        }
        // Every other one is an edit of the one before.
        if let Some(last) = last.take() {
            entry["replaces"] = last["id"].clone();
            entry["session"] = last["session"].clone();
        } else {
            last = Some(entry.clone());
        }
        let at = format!("case {case} of seed {SEED:?}: {entry}");
        let answer = phone.send(&entry);
        assert_eq!(answer.status, 200, "{at}: {}", answer.body);
        let book = phone.carry();
        let logged = book["logged"].as_array().unwrap();
        let back = logged
            .iter()
            .find(|logged| logged["session"] == entry["session"]);
        let back = back.unwrap_or_else(|| panic!("{at} is not carried"));
        assert_eq!(back["entry"], entry, "{at}");
        assert_eq!(back["revision"], entry["id"], "{at}");
        assert_eq!(phone.takes(&entry)["outcome"], "already_stored", "{at}");
    }
}
