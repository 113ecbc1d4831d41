//! What a phone carries, and what it sends when there is signal: over HTTP, with the real database.
//!
//! How requests are answered is RFC 9110 (status codes) and RFC 9457 (problem details); ids are RFC
//! 9562's version 7. What is asked and when the work stops is common practice, no source.

use std::collections::BTreeSet;

use leverbook_domain::id::{BlockId, SessionId};
use leverbook_domain::plan::{
    BlockDraft, BlockWish, IntervalSets, PlannedOn, Scheme, Swung, preview,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{Rule, Severity};
use leverbook_domain::units::{Density, Seconds};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::blocks::{self, Assignment, NewBlock};
use leverbook_store::{flags, log};
use leverbook_tests::{Actor, Answer, NOW, new_id};
use serde_json::{Value, json};
use time::Date;
use time::macros::date;
use uuid::Uuid;

use crate::hall::Hall;

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
        let policy = Policy::default();
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
        let draft = BlockDraft::new(wish, &policy, TODAY).unwrap();
        let swung = Swung {
            movement_name: "Test mill",
            loading: self.light,
            club_name: "Ash 5",
        };
        let planned: Vec<PlannedOn> = preview(&draft, &policy, swung);
        let block: BlockId = new_id();
        let assignment = Assignment {
            draft,
            blocks: vec![NewBlock {
                block,
                athlete: self.gym.athlete_id,
                loading: self.light,
                planned,
                objections: Vec::new(),
                overruled_because: None,
            }],
        };
        let mut tx = self.gym.enter().await;
        blocks::assign(&mut tx, &assignment, NOW).await.unwrap();
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
        pain_stop pains planned release today zone";
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
        ("line", json!("2 sets of 30 s a side, to 29.0 a minute")),
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
        hall.gym.path(&format!("train?planned={planned}\">Start")),
        hall.gym.path(&format!(
            "log/new?planned={planned}\">Log without the timer"
        )),
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
    // What is carried counts as seen.
    assert_eq!(hall.rows("select count(*) from planned_seen").await, 5);
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
    assert!(
        book["planned"]
            .as_array()
            .unwrap()
            .iter()
            .all(|one| one["waits"] == true)
    );
    assert_eq!(
        book["logged"][0]["entry"]["pain"],
        json!([{"score": 4, "place": "left elbow"}])
    );
}
