//! The plan in a calendar: read by another program's parser (ical.js, of the npm registry), and
//! the link that leads to it.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use leverbook_domain::club::{ClubFields, ClubMeasure};
use leverbook_domain::id::{ClubId, LoadingId, MovementId};
use leverbook_domain::plan::{
    BlockDraft, BlockWish, IntervalSets, PlannedState, Scheme, Standing, Swung,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::text::{ClubName, Guidance, GymName, LoadingName, MovementName};
use leverbook_domain::units::Seconds;
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::blocks::{self, Planned, Revise};
use leverbook_store::people::{self, Role};
use leverbook_store::rack::{self, ClubDetails, MovementDetails, NewLoading};
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{calendar, gyms};
use leverbook_tests::{Actor, Answer, NOW, TestGym, assign, new_id};
use leverbook_web::tokens;
use serde_json::Value;
use time::macros::date;
use time::{Date, Duration};

/// Everything that RFC 5545, 3.3.11 says is to be escaped, and what is more than one octet.
const AWKWARD: &str = "Mühle; links, rechts\\oben\nzweite Zeile 🏏🏽";

/// A gym with a movement and a club, and an athlete whose calendar is read.
struct Hall {
    gym: TestGym,
    movement: MovementId,
    loading: LoadingId,
}

impl Hall {
    async fn new() -> Self {
        let hall = Self {
            gym: TestGym::new().await,
            movement: new_id(),
            loading: new_id(),
        };
        let mut tx = hall.gym.enter().await;
        let details = MovementDetails {
            name: MovementName::new("Mill").unwrap(),
            cues: Guidance::new("").unwrap(),
            faults: Guidance::new("").unwrap(),
        };
        rack::add_movement(&mut tx, hall.movement, &details)
            .await
            .unwrap();
        let details = ClubDetails {
            name: ClubName::new("Oak 6").unwrap(),
            owner: None,
            loadable: false,
            count: 1,
        };
        let first = NewLoading {
            id: hall.loading,
            name: LoadingName::new("Oak 6").unwrap(),
            measure: ClubMeasure::try_from(ClubFields {
                mass_kg: Some(6.0),
                length_mm: Some(700.0),
                ..ClubFields::default()
            })
            .unwrap(),
        };
        rack::add_club(&mut tx, new_id::<ClubId>(), &details, &first, NOW)
            .await
            .unwrap();
        tx.commit().await.unwrap();
        hall
    }

    /// Five sets of 30 s a side on these ISO weekdays, with a rest of 60 s: 14 minutes at most, by
    /// hand: ten sets of 30 s and nine rests.
    async fn plan(&self, names: (&str, &str), weekdays: &[u8], starts_on: Date, weeks: i64) {
        let wish = BlockWish {
            movement: self.movement,
            scheme: Scheme::IntervalSets(IntervalSets {
                sets: 5,
                seconds: Seconds::new(30).unwrap(),
                rest_seconds: 60,
                goal: None,
            }),
            weekdays: weekdays.iter().map(|day| (*day).into()).collect(),
            starts_on,
            weeks,
            note: "Zebrafinch elbows.".to_owned(),
        };
        let draft = BlockDraft::new(wish, &Policy::default(), starts_on).unwrap();
        let swung = Swung {
            movement_name: names.0,
            loading: self.loading,
            club_name: names.1,
        };
        let mut tx = self.gym.enter().await;
        let now = self.gym.clock.now();
        assign(&mut tx, self.gym.athlete_id, draft, swung, now).await;
        tx.commit().await.unwrap();
    }

    async fn planned(&self) -> Vec<Planned> {
        let mut tx = self.gym.enter().await;
        blocks::between(
            &mut tx,
            &[self.gym.athlete_id],
            date!(2026 - 01 - 01),
            Date::MAX,
        )
        .await
        .unwrap()
    }

    /// A coach changes a planned session.
    async fn revise(&self, planned: &Planned, change: impl FnOnce(&mut Standing)) {
        let mut after = planned.standing.clone();
        change(&mut after);
        let mut tx = self.gym.enter().await;
        let revise = Revise {
            planned: std::slice::from_ref(planned),
            after: &[after],
            reason: "Quagga knuckle.",
            act: None,
        };
        let now = self.gym.clock.now();
        blocks::revise(&mut tx, self.gym.athlete_id, revise, now)
            .await
            .unwrap();
        tx.commit().await.unwrap();
    }

    /// The athlete makes a link on the page, and copies it.
    fn link(&self, athlete: &mut Actor) -> String {
        athlete.get(&self.gym.path("calendar")).expect(200);
        let page = athlete.post(&self.gym.path("calendar"), &[]).expect(200);
        let address = address_on(&page);
        address
            .strip_prefix(&self.gym.origin())
            .expect("a link of this server")
            .to_owned()
    }

    fn read(&self, link: &str) -> Value {
        read(&self.gym.anon().get(link).expect(200).body)
    }
}

/// What stands in the read-only field.
fn address_on(page: &Answer) -> String {
    let (_, field) = page.body.split_once("id=\"link\"").expect("a field");
    let (_, value) = field.split_once('>').expect("a value");
    value.split_once('<').expect("its end").0.to_owned()
}

/// What another program makes of a calendar.
fn read(calendar: &str) -> Value {
    keeps_to_content_lines(calendar);
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("browser/read-calendar.mjs");
    let mut node = Command::new("node")
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("node runs");
    node.stdin
        .take()
        .expect("a pipe")
        .write_all(calendar.as_bytes())
        .expect("a reader");
    let output = node.wait_with_output().expect("node ends");
    assert!(
        output.status.success(),
        "{}\n{calendar}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).expect("JSON")
}

/// RFC 5545, 3.1: lines end with CRLF, hold no control character but a tab (3.1, "CONTROL"), and are 75 octets long at most;
/// what is longer goes on in a line that starts with a blank, and no character is cut in two.
fn keeps_to_content_lines(calendar: &str) {
    let lines = calendar
        .strip_suffix("\r\n")
        .expect("the last line ends, too");
    for line in lines.split("\r\n") {
        assert!(line.len() <= 75, "{} octets: {line}", line.len());
        assert!(!line.trim_start().is_empty(), "an empty line");
        assert!(
            line.chars().all(|c| c == '\t' || !c.is_control()),
            "{line:?}"
        );
        assert!(!line.contains('\u{FFFD}'), "cut in two: {line}");
    }
    let unfolded = lines.replace("\r\n ", "");
    let mut names = unfolded.split("\r\n").map(|line| {
        let end = line.find([':', ';']).expect("a name and a value");
        &line[..end]
    });
    assert!(names.all(|name| name.chars().all(|c| c.is_ascii_uppercase() || c == '-')));
}

fn texts<'a>(read: &'a Value, name: &str) -> Vec<&'a str> {
    read["events"]
        .as_array()
        .expect("events")
        .iter()
        .map(|event| event[name].as_str().unwrap_or_default())
        .collect()
}

#[tokio::test]
async fn a_plan_stands_in_a_calendar_day_by_day() {
    let hall = Hall::new().await;
    // Wednesdays and Saturdays.
    hall.plan(
        ("inside circle", "Oak 6"),
        &[3, 6],
        date!(2026 - 11 - 25),
        2,
    )
    .await;
    let mut athlete = hall.gym.athlete().await;
    let link = hall.link(&mut athlete);
    let mut program = hall.gym.anon();
    let answer = program.get(&link).expect(200);
    assert_eq!(
        answer.header("content-type"),
        "text/calendar; charset=utf-8"
    );
    assert_eq!(answer.header("cache-control"), "private, no-cache");
    let read = read(&answer.body);
    // RFC 5545, 3.7: what every calendar says of itself; RFC 7986, 5.1 and 5.7: name and refresh.
    assert_eq!(read["version"], "2.0");
    assert_eq!(read["made_by"], "-//Leverbook//Plan//EN");
    assert_eq!(read["name"], "Training at Quarry Lane Club Hall");
    assert_eq!(read["known_as"], read["name"]);
    assert_eq!(read["ask_again"], 3600);
    let days = ["2026-11-25", "2026-11-28", "2026-12-02", "2026-12-05"];
    let next = ["2026-11-26", "2026-11-29", "2026-12-03", "2026-12-06"];
    assert_eq!(texts(&read, "starts"), days);
    // RFC 5545, 3.6.1: the end is not part of it.
    assert_eq!(texts(&read, "ends"), next);
    let planned = hall.planned().await;
    let ids: Vec<String> = planned.iter().map(|one| one.planned.to_string()).collect();
    assert_eq!(texts(&read, "uid"), ids);
    let plan = format!("{}{}", hall.gym.origin(), hall.gym.path("plan"));
    for event in read["events"].as_array().unwrap() {
        assert_eq!(event["sequence"], 1);
        assert_eq!(event["summary"], "inside circle, two hands, Oak 6");
        let line = "5 sets of 30 s a side. About 9–14 min.";
        assert_eq!(event["description"], line);
        assert_eq!(event["state"], "CONFIRMED");
        assert_eq!(event["shown_as"], "PRIVATE");
        assert_eq!(event["busy"], "TRANSPARENT");
        assert_eq!(event["url"], plan.as_str());
        assert_eq!(event["changed"], "2026-11-25T18:00:00.000Z");
        assert_eq!(event["stamp"], event["changed"]);
    }
}

#[tokio::test]
async fn a_calendar_that_has_it_already_is_sent_nothing() {
    let hall = Hall::new().await;
    hall.plan(("Mill", "Oak 6"), &[3], date!(2026 - 11 - 25), 2)
        .await;
    let link = hall.link(&mut hall.gym.athlete().await);
    let mut program = hall.gym.anon();
    let first = program.get(&link).expect(200);
    let tag = first.header("etag").to_owned();
    hall.gym.clock.advance(Duration::hours(2));
    let ask =
        |program: &mut Actor, tag: &str| program.send("GET", &link, &[("if-none-match", tag)], &[]);
    // RFC 9110, 13.1.2: weakly compared, in a list or as any.
    for known in [
        tag.clone(),
        format!("\"other\", {tag}"),
        tag.replace("W/", ""),
        "*".to_owned(),
    ] {
        let answer = ask(&mut program, &known).expect(304);
        assert_eq!(answer.body, "", "{known}");
        assert_eq!(answer.header("etag"), tag);
        assert_eq!(answer.header("cache-control"), "private, no-cache");
    }
    ask(&mut program, "\"other\"").expect(200);
    let planned = hall.planned().await;
    hall.revise(&planned[0], |after| after.on = date!(2026 - 11 - 27))
        .await;
    let changed = ask(&mut program, &tag).expect(200);
    assert_ne!(changed.header("etag"), tag);
    // Compressed or not, it is the same calendar.
    let small = program.send("GET", &link, &[("accept-encoding", "gzip")], &[]);
    assert_eq!(small.header("etag"), changed.header("etag"));
}

/// Lisbon is at UTC in winter and an hour ahead in summer; clocks change on the last Sundays of
/// October and March at 01:00 UTC (Directive 2000/84/EC; tz database).
#[tokio::test]
async fn a_time_of_day_stays_the_same_on_both_sides_of_a_change_of_the_clocks() {
    let hall = Hall::new().await;
    hall.gym.clock.advance(Duration::days(-40));
    // Saturdays, Sundays and Mondays until the end of March.
    hall.plan(("Mill", "Oak 6"), &[6, 7, 1], date!(2026 - 10 - 19), 24)
        .await;
    let mut athlete = hall.gym.athlete().await;
    let link = hall.link(&mut athlete);
    let path = hall.gym.path("calendar/time");
    athlete.post(&path, &[("starts_at", "18:30")]).expect(303);
    let read_at = |link: &str| {
        let read = hall.read(link);
        let starts: Vec<String> = texts(&read, "starts").iter().map(|s| (*s).into()).collect();
        let ends: Vec<String> = texts(&read, "ends").iter().map(|s| (*s).into()).collect();
        assert!(texts(&read, "busy").iter().all(|busy| *busy == "OPAQUE"));
        (starts, ends)
    };
    let (starts, ends) = read_at(&link);
    assert_eq!(starts.len(), 72);
    for (start, end) in [
        ("2026-10-24T17:30:00.000Z", "2026-10-24T17:44:00.000Z"),
        ("2026-10-25T18:30:00.000Z", "2026-10-25T18:44:00.000Z"),
        ("2026-10-26T18:30:00.000Z", "2026-10-26T18:44:00.000Z"),
        ("2026-12-21T18:30:00.000Z", "2026-12-21T18:44:00.000Z"),
        ("2027-03-27T18:30:00.000Z", "2027-03-27T18:44:00.000Z"),
        ("2027-03-28T17:30:00.000Z", "2027-03-28T17:44:00.000Z"),
        ("2027-03-29T17:30:00.000Z", "2027-03-29T17:44:00.000Z"),
    ] {
        let at = starts.iter().position(|one| one == start).expect(start);
        assert_eq!(ends[at], end);
    }
    // A minute before midnight, a session ends on the next day.
    athlete.post(&path, &[("starts_at", "23:59")]).expect(303);
    let (starts, ends) = read_at(&link);
    let at = starts
        .iter()
        .position(|one| one == "2026-12-21T23:59:00.000Z");
    assert_eq!(ends[at.expect("a start")], "2026-12-22T00:13:00.000Z");
    // Another zone: New York is 5 hours behind UTC in winter (tz database).
    let mut tx = hall.gym.enter().await;
    let name = GymName::new("Quarry Lane, Club Hall; Annexe").unwrap();
    gyms::rename(&mut tx, &name, "America/New_York")
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let (starts, _) = read_at(&link);
    assert!(starts.contains(&"2026-12-22T04:59:00.000Z".to_owned()));
    let renamed = hall.read(&link);
    assert_eq!(
        renamed["name"],
        "Training at Quarry Lane, Club Hall; Annexe"
    );
    assert_eq!(renamed["known_as"], renamed["name"]);
    // And without a time again, whole days.
    athlete.post(&path, &[("starts_at", "")]).expect(303);
    let whole = hall.read(&link);
    assert!(texts(&whole, "starts").contains(&"2026-10-25"));
}

#[tokio::test]
async fn any_name_arrives_as_it_is() {
    let long_ascii = "Heavy club, ".repeat(17)[..200].to_owned();
    let long_wide: String = "キネヅチ🪵 ".chars().cycle().take(200).collect();
    for names in [
        (AWKWARD, "plain"),
        ("plain", AWKWARD),
        (&long_ascii, &long_wide),
        (&long_wide, &long_ascii),
        ("BEGIN:VEVENT\nSUMMARY:forged", "a\\nb\\,c\\;d\\\\"),
        ("=1+1", "\t\"quoted\" : colon"),
    ] {
        let hall = Hall::new().await;
        hall.plan(names, &[3], date!(2026 - 11 - 25), 1).await;
        let link = hall.link(&mut hall.gym.athlete().await);
        let read = hall.read(&link);
        let summary = format!("{}, two hands, {}", names.0, names.1);
        assert_eq!(texts(&read, "summary"), [summary]);
        assert_eq!(texts(&read, "starts"), ["2026-11-25"]);
    }
}

/// RFC 5545, 3.3.11: in text, a backslash, a semicolon and a comma are escaped; 3.8.8.2: what is in no
/// standard is text.
#[tokio::test]
async fn the_gyms_name_arrives_as_it_is() {
    let hall = Hall::new().await;
    let link = hall.link(&mut hall.gym.athlete().await);
    for (name, on_the_wire) in [
        ("Quarry Lane Club Hall", "Quarry Lane Club Hall"),
        ("Hall, upstairs; left", r"Hall\, upstairs\; left"),
        (r"Quarry\new, \;\\Hall\", r"Quarry\\new\, \\\;\\\\Hall\\"),
    ] {
        let mut tx = hall.gym.enter().await;
        let gym = GymName::new(name).unwrap();
        gyms::rename(&mut tx, &gym, "Europe/Lisbon").await.unwrap();
        tx.commit().await.unwrap();
        let text = hall.gym.anon().get(&link).expect(200).body;
        let read = read(&text);
        let expected = format!("Training at {name}");
        assert_eq!(read["name"], expected.as_str());
        assert_eq!(read["known_as"], expected.as_str());
        let line = format!("X-WR-CALNAME:Training at {on_the_wire}\r\n");
        assert!(
            text.replace("\r\n ", "").contains(&line),
            "{line} in\n{text}"
        );
    }
}

/// RFC 5545, 3.4: a calendar has one component at least.
#[tokio::test]
async fn a_calendar_with_nothing_planned_is_still_a_calendar() {
    let hall = Hall::new().await;
    let link = hall.link(&mut hall.gym.athlete().await);
    let read = hall.read(&link);
    assert_eq!(read["parts"], serde_json::json!(["vtimezone"]));
    assert_eq!(read["events"], serde_json::json!([]));
}

/// RFC 5546, 2.1.4 and 3.2: the same UID with a higher SEQUENCE supersedes; what is cancelled says so.
#[tokio::test]
async fn what_a_coach_changes_supersedes_what_stood_there() {
    let hall = Hall::new().await;
    hall.plan(("Mill", "Oak 6"), &[3, 6], date!(2026 - 11 - 25), 2)
        .await;
    let link = hall.link(&mut hall.gym.athlete().await);
    let before = hall.read(&link);
    hall.gym.clock.advance(Duration::hours(3));
    let planned = hall.planned().await;
    hall.revise(&planned[1], |after| after.on = date!(2026 - 11 - 29))
        .await;
    hall.revise(&planned[2], |after| after.state = PlannedState::Skipped)
        .await;
    hall.revise(&planned[3], |after| after.state = PlannedState::Ended)
        .await;
    let after = hall.read(&link);
    assert_eq!(texts(&before, "uid"), texts(&after, "uid"));
    let sequence = |read: &Value, at: usize| read["events"][at]["sequence"].clone();
    assert_eq!([0, 1, 2, 3].map(|at| sequence(&before, at)), [1; 4]);
    assert_eq!([0, 1, 2, 3].map(|at| sequence(&after, at)), [1, 2, 2, 2]);
    let days = ["2026-11-25", "2026-11-29", "2026-12-02", "2026-12-05"];
    assert_eq!(texts(&after, "starts"), days);
    let states = ["CONFIRMED", "CONFIRMED", "CANCELLED", "CANCELLED"];
    assert_eq!(texts(&after, "state"), states);
    let changed = texts(&after, "changed");
    assert_eq!(changed[0], "2026-11-25T18:00:00.000Z");
    assert_eq!(changed[1], "2026-11-25T21:00:00.000Z");
    // Four weeks back, and what is older is gone.
    hall.gym.clock.advance(Duration::days(29));
    assert_eq!(texts(&hall.read(&link), "starts"), days[1..]);
}

/// Health data is the athlete's and their coach's; a calendar is shared.
#[tokio::test]
async fn a_calendar_holds_nothing_of_health_and_reading_it_is_not_seeing_the_plan() {
    let hall = Hall::new().await;
    hall.plan(("Mill", "Oak 6"), &[3, 6], date!(2026 - 11 - 25), 1)
        .await;
    let planned = hall.planned().await;
    hall.revise(&planned[1], |after| after.on = date!(2026 - 11 - 29))
        .await;
    let link = hall.link(&mut hall.gym.athlete().await);
    let text = hall.gym.anon().get(&link).expect(200).body;
    let read = read(&text);
    let allowed = [
        "class",
        "description",
        "dtend",
        "dtstamp",
        "dtstart",
        "last-modified",
        "sequence",
        "status",
        "summary",
        "transp",
        "uid",
        "url",
    ];
    for event in read["events"].as_array().unwrap() {
        for name in event["properties"].as_array().unwrap() {
            assert!(allowed.contains(&name.as_str().unwrap()), "{name}");
        }
    }
    let unfolded = text.replace("\r\n ", "");
    // The coach's note, the reason for a change, and who it is about.
    for word in ["Zebrafinch", "Quagga", "Ansel", "Tove", "ansel@"] {
        assert!(!unfolded.contains(word), "{word} in\n{unfolded}");
    }
    let mut tx = hall.gym.enter().await;
    let seen: i64 = sqlx::query_scalar("select count(*) from planned_seen")
        .fetch_one(tx.conn())
        .await
        .unwrap();
    assert_eq!(seen, 0);
}

#[tokio::test]
async fn a_link_opens_one_plan_until_it_is_replaced_or_revoked() {
    let hall = Hall::new().await;
    hall.plan(("Mill", "Oak 6"), &[3], date!(2026 - 11 - 25), 1)
        .await;
    let mut athlete = hall.gym.athlete().await;
    let mut program = hall.gym.anon();
    let first = hall.link(&mut athlete);
    program.get(&first).expect(200);
    // Only now, and kept as a hash only.
    let token = first.split('/').nth(3).expect("a token").to_owned();
    assert_eq!(token.len(), 64);
    let page = athlete.get(&hall.gym.path("calendar")).expect(200);
    assert!(!page.body.contains(&token));
    let mut tx = hall.gym.enter().await;
    let kept: String = sqlx::query_scalar("select l::text from calendar_links l")
        .fetch_one(tx.conn())
        .await
        .unwrap();
    drop(tx);
    assert!(!kept.contains(&token) && kept.contains(&TokenHash::of(&token).to_string()));

    let second = hall.link(&mut athlete);
    let unknown = first.replace(&token, &tokens::secret());
    let gone = program.get(&unknown).expect(404);
    let alike = |answer: Answer| assert_eq!(answer.expect(404).words(), gone.words());
    alike(program.get(&first));
    program.get(&second).expect(200);
    // The same token in another gym's address, in none's, and addresses that are none.
    let (other, _, _) = hall.gym.neighbour().await;
    let id = hall.gym.id.to_string();
    for address in [
        second.replace(&id, &other.to_string()),
        second.replace(&id, &new_id::<uuid::Uuid>().to_string()),
        second.replace(&id, "nowhere"),
        first.replace(&token, &TokenHash::of(&token).to_string()),
        first.replace(&token, "none"),
    ] {
        assert_eq!(program.get(&address).status, 404, "{address}");
    }
    alike(program.get(&second.replace(&id, &other.to_string())));

    // Signing out, and every other athlete's coming and going, leave it alone.
    athlete.post("/sign-out", &[]).expect(303);
    program.get(&second).expect(200);
    let mut athlete = hall.gym.athlete().await;
    athlete.get(&hall.gym.path("calendar")).expect(200);
    for _ in 0..2 {
        let done = athlete
            .post(&hall.gym.path("calendar/revoke"), &[])
            .expect(303);
        assert!(done.location().ends_with("calendar?done=calendar-revoked"));
    }
    alike(program.get(&second));
    // A time for a link that is gone is told, not lost in silence.
    let path = hall.gym.path("calendar/time");
    athlete.post(&path, &[("starts_at", "18:30")]).expect(409);
}

#[tokio::test]
async fn a_link_ends_with_the_athletes_part_in_the_gym_for_good() {
    let hall = Hall::new().await;
    hall.plan(("Mill", "Oak 6"), &[3], date!(2026 - 11 - 25), 1)
        .await;
    let mut athlete = hall.gym.athlete().await;
    let link = hall.link(&mut athlete);
    let mut owner = hall.gym.owner().await;
    owner.get(&hall.gym.path("people")).expect(200);
    let person = format!("people/{}/remove", hall.gym.athlete.id);
    owner
        .post(&hall.gym.path(&person), &[("role", "athlete")])
        .expect(303);
    hall.gym.anon().get(&link).expect(404);
    // Back in the gym: the old link stays dead.
    let mut tx = hall.gym.enter().await;
    people::join(&mut tx, &hall.gym.athlete, Role::Athlete, NOW)
        .await
        .unwrap();
    leverbook_store::athletes::give_account(&mut tx, hall.gym.athlete_id, hall.gym.athlete.id)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    hall.gym.anon().get(&link).expect(404);
    let again = hall.link(&mut athlete);
    hall.gym.anon().get(&again).expect(200);
    // Past the page, too: without the role, or without the account, a row alone opens nothing.
    for sql in [
        "delete from memberships where role = 'athlete'",
        "update athletes set person_id = null",
    ] {
        let mut admin = hall.gym.database.connect(DatabaseRole::Admin).await;
        let mut tx = sqlx::Connection::begin(&mut admin).await.unwrap();
        sqlx::query(sql).execute(&mut *tx).await.unwrap();
        tx.commit().await.unwrap();
        hall.gym.anon().get(&again).expect(404);
        let mut tx = hall.gym.enter().await;
        people::give_role(&mut tx, hall.gym.athlete.id, Role::Athlete, NOW)
            .await
            .unwrap();
        let kept = calendar::of_athlete(&mut tx, hall.gym.athlete_id).await;
        assert!(kept.unwrap().is_some(), "the row is what was tried");
        tx.commit().await.unwrap();
    }
}

#[tokio::test]
async fn a_time_that_is_none_is_told_at_its_field() {
    let hall = Hall::new().await;
    let mut athlete = hall.gym.athlete().await;
    hall.link(&mut athlete);
    let path = hall.gym.path("calendar/time");
    let page = athlete.post(&path, &[("starts_at", "half past six")]);
    let page = page.expect(422);
    assert_eq!(page.field("starts_at").as_deref(), Some("half past six"));
    assert!(page.body.contains("is a time of day, such as 18:30"));
    athlete.post(&path, &[("starts_at", "7:05")]).expect(303);
    let page = athlete.get(&hall.gym.path("calendar")).expect(200);
    assert_eq!(page.field("starts_at").as_deref(), Some("07:05"));
    // It stays when the link is made anew.
    hall.link(&mut athlete);
    let page = athlete.get(&hall.gym.path("calendar")).expect(200);
    assert_eq!(page.field("starts_at").as_deref(), Some("07:05"));
}
