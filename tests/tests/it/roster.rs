//! The roster and athletes' details, through the pages.

use leverbook_domain::id::AthleteId;
use leverbook_domain::roster::{PersonName, Status};
use leverbook_domain::rules::Severity;
use leverbook_store::athletes::{self, Athlete, Details};
use leverbook_store::people::Role;
use leverbook_store::roster::{self, Coached, Search};
use leverbook_store::{GymTx, history};
use leverbook_tests::{Answer, NOW, TestGym, new_id};
use time::Date;
use time::macros::date;
use uuid::Uuid;

/// The day of [`NOW`] in the gym's zone.
const TODAY: Date = date!(2026 - 11 - 25);

fn details(name: &str) -> Details {
    Details {
        name: PersonName::new(name).expect("a name"),
        started_on: date!(2026 - 01 - 05),
        status: Status::Active,
        status_since: date!(2026 - 01 - 05),
        notes: String::new(),
    }
}

async fn enrol(gym: &TestGym, name: &str) -> AthleteId {
    let id = new_id();
    let mut tx = gym.enter().await;
    roster::enrol(&mut tx, id, &details(name), &[gym.coach.id], NOW, TODAY)
        .await
        .expect("a new athlete");
    tx.commit().await.expect("a new athlete");
    id
}

async fn athlete(gym: &TestGym, id: AthleteId) -> Athlete {
    athletes::get(&mut gym.enter().await, id)
        .await
        .expect("the athlete")
}

/// The text after a field's error mark, if the page shows one.
fn error_at(page: &Answer, field: &str) -> Option<String> {
    let at = page.body.find(&format!("id=\"{field}-error\""))?;
    Some(
        page.body[at..]
            .split_once('>')?
            .1
            .split_once('<')?
            .0
            .to_owned(),
    )
}

/// A form with one field typed over.
fn with<'a>(
    form: &[(&'a str, &'a str)],
    field: &'a str,
    typed: &'a str,
) -> Vec<(&'a str, &'a str)> {
    let rest = form.iter().copied().filter(|(name, _)| *name != field);
    rest.chain([(field, typed)]).collect()
}

fn everybody() -> Search {
    Search {
        text: String::new(),
        status: None,
        coached: Coached::ByAnybody,
        at_least: None,
        page: 1,
    }
}

async fn names(tx: &mut GymTx, wanted: &Search) -> Vec<String> {
    let found = roster::search(tx, wanted, TODAY).await.expect("a search");
    found
        .lines
        .iter()
        .map(|line| line.name.to_string())
        .collect()
}

/// Raises a flag, past the rules.
async fn raise(tx: &mut GymTx, athlete: AthleteId, severity: &str) -> Uuid {
    let id: Uuid = new_id();
    sqlx::query(
        "insert into flags (gym_id, flag_id, athlete_id, rule, severity, since, flag, policy_version)
         values ($1, $2, $3, 'L4', $4, '2026-11-20', '{}', 0)",
    )
    .bind(tx.gym().0)
    .bind(id)
    .bind(athlete.0)
    .bind(severity)
    .execute(tx.conn())
    .await
    .expect("a flag");
    id
}

/// A coach decides about a flag, past the page.
async fn decide(
    tx: &mut GymTx,
    flag: Uuid,
    athlete: AthleteId,
    kind: &str,
    quiet: Option<Date>,
    severity: &str,
) {
    let decision: Uuid = new_id();
    sqlx::query(
        "insert into flag_decisions (gym_id, decision_id, flag_id, athlete_id, kind, quiet_until,
             severity, reason, decided_by, decided_at)
         values ($1, $2, $3, $4, $5, $6, $7, 'seen to', $8, $9)",
    )
    .bind(tx.gym().0)
    .bind(decision)
    .bind(flag)
    .bind(athlete.0)
    .bind(kind)
    .bind(quiet)
    .bind(severity)
    .bind(tx.actor().0)
    .bind(NOW)
    .execute(tx.conn())
    .await
    .expect("a decision");
}

#[tokio::test]
async fn a_coach_adds_somebody_who_is_then_on_their_roster() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let form = coach.get(&gym.path("athletes/new")).expect(200);
    assert_eq!(
        form.field("started_on").as_deref(),
        Some("2026-11-25"),
        "today in the gym's zone"
    );
    let me = gym.coach.id.to_string();
    let typed = [
        ("name", "  Ida   Brock "),
        ("started_on", "2026-11-02"),
        ("coach", me.as_str()),
        ("notes", "Old shoulder injury, left."),
    ];
    coach.post(&gym.path("athletes/new"), &typed).expect(303);
    coach.post(&gym.path("athletes/new"), &typed).expect(303);
    let page = coach.get(&gym.path("roster")).expect(200);
    assert!(page.body.contains("Ida Brock"), "{}", page.words());
    let all = athletes::all(&mut gym.enter().await)
        .await
        .expect("athletes");
    let handles: Vec<&str> = all.iter().map(|athlete| athlete.handle.as_str()).collect();
    assert!(
        handles.contains(&"ida-brock") && handles.contains(&"ida-brock-2"),
        "{handles:?}"
    );
    // Notes are health data.
    assert!(
        !gym.owner()
            .await
            .get(&gym.path("attendance"))
            .body
            .contains("shoulder")
    );
}

#[tokio::test]
async fn what_is_wrong_with_a_new_athlete_is_told_at_its_field() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("athletes/new")).expect(200);
    let me = gym.coach.id.to_string();
    let stranger = new_id::<Uuid>().to_string();
    let form = [
        ("name", "Ida Brock"),
        ("started_on", "2026-11-02"),
        ("coach", me.as_str()),
        ("notes", ""),
    ];
    let (megabyte, long) = ("x".repeat(1 << 20), "x".repeat(4001));
    let table: &[(&str, &str)] = &[
        ("name", ""),
        ("name", &megabyte),
        ("name", "Ida\u{0}Brock"),
        ("name", "\u{1b}[2J"),
        ("name", "\u{200b}"),
        ("name", "Ida \u{202e}kcorB"),
        ("started_on", ""),
        ("started_on", "2026-02-30"),
        ("started_on", "0001-01-01"),
        ("started_on", "9999-12-31"),
        ("started_on", "2028-01-01"),
        ("started_on", "yesterday"),
        ("started_on", "NaN"),
        ("coach", ""),
        ("coach", &stranger),
        ("coach", "nobody at all"),
        ("notes", &long),
        ("notes", "bell \u{7}"),
    ];
    let before = athletes::all(&mut gym.enter().await)
        .await
        .expect("athletes");
    for (field, typed) in table {
        let shown: String = typed.chars().take(20).collect();
        let page = coach
            .post(&gym.path("athletes/new"), &with(&form, field, typed))
            .expect(422);
        assert!(
            error_at(&page, field).is_some(),
            "{field} {shown:?}: {}",
            page.words()
        );
        if *field != "name" {
            assert_eq!(
                page.field("name").as_deref(),
                Some("Ida Brock"),
                "{field} {shown:?}"
            );
        } else {
            assert_eq!(
                page.field("name").unwrap_or_default().trim(),
                *typed,
                "{shown:?} is lost"
            );
        }
    }
    let csrf = coach.csrf().to_owned();
    let json = [("content-type", "text/plain")];
    assert_eq!(
        coach
            .send("POST", &gym.path("athletes/new"), &json, b"name=Ida")
            .status,
        415
    );
    let kind = [("content-type", "application/x-www-form-urlencoded")];
    let broken = format!("csrf={csrf}&name=Ida%FFBrock&started_on=2026-11-02&coach={me}&notes=");
    let page = coach
        .send("POST", &gym.path("athletes/new"), &kind, broken.as_bytes())
        .expect(422);
    assert!(error_at(&page, "name").is_some());
    let after = athletes::all(&mut gym.enter().await)
        .await
        .expect("athletes");
    assert_eq!(before, after, "nothing was written");

    for name in ["שרה כהן", "李 小龍 二", "Zoë 🔥", "Ann O’Hara <b>"] {
        coach
            .post(&gym.path("athletes/new"), &with(&form, "name", name))
            .expect(303);
    }
    let page = coach.get(&gym.path("roster"));
    assert!(page.body.contains("שרה כהן") && page.body.contains("🔥"));
    assert!(
        !page.body.contains("O’Hara <b>"),
        "a name is text, not markup"
    );
}

#[tokio::test]
async fn a_coach_sees_flags_and_notes_of_their_own_athletes_only() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    raise(&mut tx, gym.athlete_id, "stop").await;
    tx.commit().await.expect("a flag");
    let other = gym
        .person("Pell Moor", "pell@quarry.example", &[Role::Coach])
        .await;
    let mut other = gym.sign_in(&other).await;
    let all = gym.path("roster?coach=any&status=any");
    let page = other.get(&all).expect(200);
    assert!(page.body.contains("Ansel Reed") && page.body.contains("for their coaches"));
    assert!(!page.body.contains("Stop"), "{}", page.words());
    let found = other.get(&gym.path("roster?coach=any&status=any&flag=stop"));
    assert!(
        !found.body.contains("Ansel Reed"),
        "a filter tells no more than the page"
    );
    for path in ["edit", "excused", "take-on"] {
        let path = gym.path(&format!("athletes/{}/{path}", gym.athlete_id));
        let answer = if path.ends_with("edit") {
            other.get(&path)
        } else {
            other.post(&path, &[])
        };
        assert_eq!(answer.status, 404, "{path}");
    }
    let mut coach = gym.coach().await;
    assert!(coach.get(&all).body.contains("Stop"));
    coach
        .get(&gym.path(&format!("athletes/{}/edit", gym.athlete_id)))
        .expect(200);
}

#[tokio::test]
async fn somebody_whom_nobody_looks_after_can_be_taken_on_once() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    athletes::set_coaches(&mut tx, gym.athlete_id, &[])
        .await
        .expect("nobody");
    tx.commit().await.expect("nobody");
    let mut coach = gym.coach().await;
    assert!(!coach.get(&gym.path("roster")).body.contains("Ansel Reed"));
    let page = coach.get(&gym.path("roster?coach=nobody"));
    assert!(
        page.body.contains("Ansel Reed") && page.body.contains("Take on"),
        "{}",
        page.words()
    );
    let path = gym.path(&format!("athletes/{}/take-on", gym.athlete_id));
    coach.post(&path, &[]).expect(303);
    assert!(coach.get(&gym.path("roster")).body.contains("Ansel Reed"));
    let other = gym
        .person("Pell Moor", "pell@quarry.example", &[Role::Coach])
        .await;
    let mut other = gym.sign_in(&other).await;
    other.get(&gym.path("roster")).expect(200);
    other.post(&path, &[]).expect(404);
}

#[tokio::test]
async fn the_roster_is_searched_by_name_status_coach_and_flag() {
    let gym = TestGym::new().await;
    let ids = [
        enrol(&gym, "Bea Marsh").await,
        enrol(&gym, "Cole Marsh").await,
        enrol(&gym, "Dara 100% Voss").await,
    ];
    let mut tx = gym.enter().await;
    let left = Details {
        status: Status::Left,
        ..details("Cole Marsh")
    };
    athletes::change(&mut tx, ids[1], &left)
        .await
        .expect("left");
    athletes::set_coaches(&mut tx, ids[2], &[])
        .await
        .expect("nobody");

    let text = |text: &str| Search {
        text: text.to_owned(),
        ..everybody()
    };
    assert_eq!(
        names(&mut tx, &text("MARSH")).await,
        ["Bea Marsh", "Cole Marsh"]
    );
    assert_eq!(names(&mut tx, &text("100%")).await, ["Dara 100% Voss"]);
    assert_eq!(
        names(&mut tx, &text("_")).await,
        [""; 0],
        "an underscore is no wildcard"
    );
    assert_eq!(
        names(&mut tx, &text("cole-marsh")).await,
        ["Cole Marsh"],
        "a handle finds too"
    );
    let status = |status| Search {
        status: Some(status),
        ..everybody()
    };
    assert_eq!(names(&mut tx, &status(Status::Left)).await, ["Cole Marsh"]);
    let coached = |coached| Search {
        coached,
        ..everybody()
    };
    assert_eq!(
        names(&mut tx, &coached(Coached::ByNobody)).await,
        ["Dara 100% Voss"]
    );
    assert_eq!(
        names(&mut tx, &coached(Coached::By(gym.coach.id))).await,
        ["Ansel Reed", "Bea Marsh", "Cole Marsh"]
    );

    raise(&mut tx, ids[0], "look").await;
    raise(&mut tx, ids[0], "note").await;
    raise(&mut tx, ids[1], "stop").await;
    raise(&mut tx, ids[2], "stop").await;
    let grave = |severity| Search {
        at_least: Some(severity),
        ..everybody()
    };
    assert_eq!(
        names(&mut tx, &grave(Severity::Note)).await,
        ["Bea Marsh", "Cole Marsh"]
    );
    assert_eq!(
        names(&mut tx, &grave(Severity::Stop)).await,
        ["Cole Marsh"],
        "Dara is not ours"
    );
    let found = roster::search(&mut tx, &text("Bea"), TODAY)
        .await
        .expect("Bea");
    let closer = found.lines[0].closer.as_ref().expect("ours");
    assert_eq!(
        (closer.open_flags, closer.gravest),
        (2, Some(Severity::Look))
    );
}

/// Flags that a coach has closed or quieted are not open, until they worsen or the day has passed.
#[tokio::test]
async fn the_roster_shows_the_flags_that_are_open() {
    let gym = TestGym::new().await;
    let table = [
        ("none", None, true),
        ("seen", Some(("seen", None, "look")), true),
        ("closed", Some(("closed", None, "look")), false),
        ("reopened", Some(("reopened", None, "look")), true),
        (
            "quiet until today",
            Some(("quieted", Some(TODAY), "look")),
            false,
        ),
        (
            "quiet until yesterday",
            Some(("quieted", TODAY.previous_day(), "look")),
            true,
        ),
        (
            "closed when it was a note",
            Some(("closed", None, "note")),
            true,
        ),
    ];
    for (word, decision, open) in table {
        let id = enrol(&gym, word).await;
        let mut tx = gym.enter().await;
        let flag = raise(&mut tx, id, "look").await;
        if let Some((kind, quiet, severity)) = decision {
            decide(&mut tx, flag, id, kind, quiet, severity).await;
        }
        let wanted = Search {
            text: word.to_owned(),
            at_least: Some(Severity::Look),
            ..everybody()
        };
        assert_eq!(!names(&mut tx, &wanted).await.is_empty(), open, "{word}");
    }
}

#[tokio::test]
async fn an_athlete_is_changed_and_what_is_wrong_changes_nothing() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let edit = gym.path(&format!("athletes/{}/edit", gym.athlete_id));
    let page = coach.get(&edit).expect(200);
    assert_eq!(page.field("name").as_deref(), Some("Ansel Reed"));
    let me = gym.coach.id.to_string();
    let form = [
        ("name", "Ansel Reed"),
        ("started_on", "2026-01-05"),
        ("status", "active"),
        ("status_since", "2026-01-05"),
        ("coach", me.as_str()),
        ("notes", ""),
    ];
    let before = athlete(&gym, gym.athlete_id).await;
    for (field, typed) in [
        ("name", " "),
        ("started_on", "1492-10-12"),
        ("status", "asleep"),
        ("status", ""),
        ("status_since", "2026-11-26"),
        ("coach", ""),
        ("notes", "\u{0}"),
    ] {
        let page = coach.post(&edit, &with(&form, field, typed)).expect(422);
        assert!(
            error_at(&page, field).is_some(),
            "{field} {typed:?}: {}",
            page.words()
        );
    }
    assert_eq!(athlete(&gym, gym.athlete_id).await, before);
    coach
        .post(&edit, &with(&form, "notes", "Sleeps badly."))
        .expect(303);
    assert_eq!(athlete(&gym, gym.athlete_id).await.notes, "Sleeps badly.");
}

#[tokio::test]
async fn an_invitation_begun_at_an_athlete_is_for_that_athlete() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let add = gym.path("athletes/new");
    coach.get(&add).expect(200);
    let me = gym.coach.id.to_string();
    for name in ["Bea Finch", "Cyril Dow"] {
        let fields = [
            ("name", name),
            ("started_on", "2026-01-05"),
            ("coach", me.as_str()),
        ];
        coach.post(&add, &fields).expect(303);
    }
    let roster = coach.get(&gym.path("roster")).expect(200);
    let way = gym.path("people/invite?athlete=");
    let id = roster
        .body
        .rsplit(&way)
        .next()
        .and_then(|rest| rest.split('"').next())
        .expect("an invitation for the last of them");
    let page = coach.get(&format!("{way}{id}")).expect(200);
    assert!(
        page.body
            .contains(&format!("<option value=\"{id}\" selected>Cyril Dow")),
        "{}",
        page.words()
    );
}

/// A1 (common practice): nothing counts as missed in a pause, during it and after it.
#[tokio::test]
async fn the_days_of_a_pause_stay_excused_when_somebody_comes_back() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let edit = gym.path(&format!("athletes/{}/edit", gym.athlete_id));
    coach.get(&edit).expect(200);
    let me = gym.coach.id.to_string();
    let form = |status, since| {
        vec![
            ("name", "Ansel Reed"),
            ("started_on", "2026-01-05"),
            ("status", status),
            ("status_since", since),
            ("coach", me.as_str()),
            ("notes", ""),
        ]
    };
    coach.post(&edit, &form("paused", "2026-10-01")).expect(303);
    coach.post(&edit, &form("active", "2026-11-16")).expect(303);
    let mut tx = gym.enter().await;
    let excused = history::load(&mut tx, gym.athlete_id)
        .await
        .expect("a history")
        .excused;
    assert_eq!(excused, [(date!(2026 - 10 - 01), date!(2026 - 11 - 15))]);
    let page = coach.get(&edit);
    assert!(page.body.contains("pause: paused"), "{}", page.words());
}

#[tokio::test]
async fn days_are_excused_and_taken_back() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let edit = gym.path(&format!("athletes/{}/edit", gym.athlete_id));
    let path = gym.path(&format!("athletes/{}/excused", gym.athlete_id));
    coach.get(&edit).expect(200);
    let form = [
        ("kind", "travel"),
        ("first_day", "2026-11-30"),
        ("last_day", "2026-12-06"),
        ("reason", "A week at sea"),
    ];
    for (field, typed) in [
        ("kind", ""),
        ("kind", "laziness"),
        ("first_day", ""),
        ("first_day", "2026-12-07"),
        ("last_day", "2029-01-01"),
        ("reason", ""),
        ("reason", "bell \u{7}"),
    ] {
        let page = coach.post(&path, &with(&form, field, typed)).expect(422);
        let field = if typed == "2026-12-07" {
            "last_day"
        } else {
            field
        };
        assert!(
            error_at(&page, field).is_some(),
            "{field} {typed:?}: {}",
            page.words()
        );
        assert_eq!(
            page.field("name").as_deref(),
            Some("Ansel Reed"),
            "the other form stays"
        );
    }
    coach.post(&path, &form).expect(303);
    let mut tx = gym.enter().await;
    let load = history::load(&mut tx, gym.athlete_id)
        .await
        .expect("a history");
    assert_eq!(
        load.excused,
        [(date!(2026 - 11 - 30), date!(2026 - 12 - 06))]
    );
    let id = roster::excused(&mut tx, gym.athlete_id)
        .await
        .expect("excused")[0]
        .id;
    drop(tx);
    coach
        .post(&format!("{path}/{id}/take-back"), &[])
        .expect(303);
    coach
        .post(&format!("{path}/{id}/take-back"), &[])
        .expect(404);
    let mut tx = gym.enter().await;
    assert_eq!(
        history::load(&mut tx, gym.athlete_id)
            .await
            .expect("a history")
            .excused,
        []
    );
    assert!(
        roster::excused(&mut tx, gym.athlete_id)
            .await
            .expect("excused")[0]
            .taken_back
    );
}

/// A thousand athletes: every page has its part, none twice and none missing, and the search uses
/// the gym's part of the tables only.
#[tokio::test]
async fn a_thousand_athletes_stay_usable() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    sqlx::query(
        "insert into athletes (gym_id, athlete_id, name, started_on, status_since, handle, created_at)
         select $1, gen_random_uuid(), 'Swinger ' || lpad(n::text, 4, '0'), '2026-01-05',
             '2026-01-05', 'swinger-' || n, $2
         from generate_series(1, 999) n",
    )
    .bind(gym.id.0)
    .bind(NOW)
    .execute(tx.conn())
    .await
    .expect("athletes");
    sqlx::query(
        "insert into rosters (gym_id, coach_id, athlete_id)
         select $1, $2, athlete_id from athletes where gym_id = $1 on conflict do nothing",
    )
    .bind(gym.id.0)
    .bind(gym.coach.id.0)
    .execute(tx.conn())
    .await
    .expect("a roster");
    tx.commit().await.expect("athletes");
    let mut seen = std::collections::BTreeSet::new();
    let mut tx = gym.enter().await;
    for page in 1..=20 {
        let found = roster::search(
            &mut tx,
            &Search {
                page,
                ..everybody()
            },
            TODAY,
        )
        .await
        .expect("a page");
        assert_eq!((found.total, found.lines.len()), (1000, 50), "page {page}");
        seen.extend(found.lines.iter().map(|line| line.id));
    }
    assert_eq!(seen.len(), 1000);
    drop(tx);

    let mut coach = gym.coach().await;
    let page = coach.get(&gym.path("roster?page=20")).expect(200);
    assert!(
        page.body.contains("951 to 1000 of 1000"),
        "{}",
        page.words()
    );
    assert!(page.body.contains("page=19") && !page.body.contains("page=21"));
    let found = coach.get(&gym.path("roster?name=swinger+0777")).expect(200);
    assert!(found.body.contains("1 to 1 of 1"), "{}", found.words());
    for query in [
        "page=0",
        "page=-1",
        "page=x",
        "page=4294967295",
        "name=%00",
        "status=%F0%9F%94%A5",
        "coach=nonsense",
        "flag=worst",
        "name=%25%25%25",
    ] {
        coach.get(&gym.path(&format!("roster?{query}"))).expect(200);
    }
}
