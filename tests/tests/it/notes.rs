//! Notes between an athlete and their coaches: who reads them, what counts as read, what is stored.

use leverbook_domain::id::{AthleteId, DecisionId};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::athletes;
use leverbook_store::people::Role;
use leverbook_tests::{Actor, Answer, Person, TestGym, new_id};
use uuid::Uuid;

use crate::browser::Stage;
use crate::routes::{Caller, House};

/// What a form would send.
fn note<'a>(id: &'a str, about: &'a str, body: &'a str) -> [(&'a str, &'a str); 3] {
    [("id", id), ("about", about), ("words", body)]
}

fn fresh() -> String {
    new_id::<DecisionId>().to_string()
}

/// Opens a page as somebody goes to it: not as a script that keeps it.
fn open(actor: &mut Actor, path: &str) -> Answer {
    actor
        .send("GET", path, &[("sec-fetch-mode", "navigate")], b"")
        .expect(200)
}

/// "2 new" in the room of that word; empty where nothing is.
fn new_in(page: &Answer, room: &str) -> String {
    let (_, rest) = page
        .body
        .split_once(&format!(">{room}<b>&nbsp;· "))
        .unwrap_or(("", "</b>"));
    rest.split_once("</b>")
        .map_or("", |(new, _)| new)
        .to_owned()
}

async fn second_coach(gym: &TestGym) -> Person {
    let person = gym
        .person("Ebba Roth", "ebba@quarry.example", &[Role::Coach])
        .await;
    let mut tx = gym.enter().await;
    athletes::set_coaches(&mut tx, gym.athlete_id, &[gym.coach.id, person.id])
        .await
        .unwrap();
    tx.commit().await.unwrap();
    person
}

async fn stored(gym: &TestGym) -> Vec<(String, String, Uuid)> {
    let mut tx = gym.enter().await;
    sqlx::query_as(
        "select body, written_as, written_by from coach_notes where gym_id = $1 order by nth",
    )
    .bind(gym.id.0)
    .fetch_all(tx.conn())
    .await
    .unwrap()
}

#[tokio::test]
async fn a_note_goes_there_and_back_and_is_new_until_it_is_opened() {
    let gym = TestGym::new().await;
    let theirs = gym.path(&format!("athletes/{}/notes", gym.athlete_id));
    let mine = gym.path("mine/notes");
    let (mut coach, mut athlete) = (gym.coach().await, gym.athlete().await);

    open(&mut coach, &theirs);
    let answer = coach.post(&theirs, &note(&fresh(), "", "How was the new club?"));
    assert_eq!(
        answer.expect(303).location(),
        format!("{theirs}?done=note-written#notes")
    );
    assert!(open(&mut coach, &theirs).body.contains("not opened yet"));

    // Kept by a phone and never looked at: still new.
    athlete
        .send("GET", &mine, &[("sec-fetch-mode", "cors")], b"")
        .expect(200);
    let today = open(&mut athlete, &gym.path("today"));
    assert_eq!(new_in(&today, "My notes"), "1 new");
    assert!(
        today.body.contains("How was the new club?"),
        "{}",
        today.words()
    );
    let opened = open(&mut athlete, &mine);
    assert!(
        opened.body.contains("</svg>New</strong>"),
        "{}",
        opened.words()
    );
    assert_eq!(new_in(&opened, "My notes"), "", "it is on the page itself");
    let again = open(&mut athlete, &mine);
    assert!(
        !again.body.contains("</svg>New</strong>"),
        "{}",
        again.words()
    );
    assert!(
        !open(&mut athlete, &gym.path("today"))
            .body
            .contains("How was")
    );

    athlete
        .post(
            &mine,
            &note(&fresh(), "", "Heavier than it looks. Grip held."),
        )
        .expect(303);
    let list = open(&mut coach, &gym.path("notes"));
    assert_eq!(new_in(&list, "Notes"), "1 new");
    assert!(
        list.body.contains("</svg>1 new</strong>"),
        "{}",
        list.words()
    );
    let thread = open(&mut coach, &theirs);
    assert!(thread.body.contains("Grip held."), "{}", thread.words());
    assert!(
        thread.body.contains("opened on Wed 25 Nov 2026"),
        "{}",
        thread.words()
    );
    let list = open(&mut coach, &gym.path("notes"));
    assert_eq!(new_in(&list, "Notes"), "");
    assert!(!list.body.contains("new</strong>"), "{}", list.words());
}

#[tokio::test]
async fn each_coach_has_marks_of_their_own_and_the_first_sight_counts() {
    let gym = TestGym::new().await;
    let ebba = second_coach(&gym).await;
    let theirs = gym.path(&format!("athletes/{}/notes", gym.athlete_id));
    let mut athlete = gym.athlete().await;
    open(&mut athlete, &gym.path("mine/notes"));
    athlete
        .post(
            &gym.path("mine/notes"),
            &note(&fresh(), "", "Both hands are sore."),
        )
        .expect(303);

    let (mut first, mut second) = (gym.coach().await, gym.sign_in(&ebba).await);
    open(&mut first, &theirs);
    gym.clock.advance(time::Duration::hours(1));
    open(&mut first, &theirs);
    assert_eq!(new_in(&open(&mut first, &gym.path("notes")), "Notes"), "");
    assert_eq!(
        new_in(&open(&mut second, &gym.path("notes")), "Notes"),
        "1 new"
    );
    let mut tx = gym.enter().await;
    let read: Vec<(Uuid, time::OffsetDateTime)> =
        sqlx::query_as("select reader_id, read_at from note_reads where gym_id = $1")
            .bind(gym.id.0)
            .fetch_all(tx.conn())
            .await
            .unwrap();
    assert_eq!(read, [(gym.coach.id.0, leverbook_tests::NOW)]);
    drop(tx);
    open(&mut second, &theirs);
    assert_eq!(new_in(&open(&mut second, &gym.path("notes")), "Notes"), "");
}

#[tokio::test]
async fn a_note_sent_twice_is_stored_once_and_other_words_under_its_id_are_another_note() {
    let gym = TestGym::new().await;
    let mine = gym.path("mine/notes");
    let mut athlete = gym.athlete().await;
    open(&mut athlete, &mine);
    let id = fresh();
    for body in ["One.", "One.", "Two.", "Two.", "One."] {
        athlete.post(&mine, &note(&id, "", body)).expect(303);
    }
    let person = gym.athlete.id.0;
    let mut found = stored(&gym).await;
    found.sort();
    assert_eq!(
        found,
        [("One.", person), ("Two.", person)].map(|(body, by)| (
            body.to_owned(),
            "athlete".to_owned(),
            by
        ))
    );
}

#[tokio::test]
async fn a_note_about_a_session_or_a_flag_stands_with_it() {
    let house = House::new().await;
    let gym = &house.gym;
    let theirs = gym.path(&format!("athletes/{}/notes", gym.athlete_id));
    let (session, flag) = (house.filled("{session}"), house.filled("{flag}"));
    let log = gym.path(&format!("log/{session}"));
    let mut athlete = gym.athlete().await;
    let mut coach = gym.coach().await;

    open(&mut athlete, &log);
    let sent = athlete.post(
        &gym.path("mine/notes"),
        &note(
            &fresh(),
            &format!("session:{session}"),
            "The last set was rushed.",
        ),
    );
    assert_eq!(
        sent.expect(303).location(),
        format!("{log}?done=note-written#notes")
    );
    let page = open(
        &mut coach,
        &house.filled("/g/{gym}/athletes/{athlete}/log/{session}"),
    );
    assert!(
        page.body.contains("The last set was rushed."),
        "{}",
        page.words()
    );
    assert!(page.body.contains("</svg>New</strong>"), "{}", page.words());
    let thread = open(&mut coach, &theirs);
    assert!(
        thread.body.contains("the session of Sat 21 Nov 2026"),
        "{}",
        thread.words()
    );
    assert!(
        !thread.body.contains("</svg>New</strong>"),
        "opened with the session"
    );

    let about = house.filled("/g/{gym}/athletes/{athlete}/flags/{flag}");
    let sent = coach.post(
        &theirs,
        &note(&fresh(), &format!("flag:{flag}"), "Even the sides out."),
    );
    assert_eq!(
        sent.expect(303).location(),
        format!("{about}?done=note-written#notes")
    );
    assert!(
        open(&mut coach, &about)
            .body
            .contains("Even the sides out.")
    );
    let mine = open(&mut athlete, &gym.path("mine/notes"));
    assert!(
        mine.body.contains("Even the sides out."),
        "{}",
        mine.words()
    );
    // The answer is about the same flag, in words for the athlete.
    let way = format!("{}?about=flag:{flag}", gym.path("mine/notes"));
    assert!(mine.body.contains(&format!("{way}#write")), "{}", mine.body);
    let form = open(&mut athlete, &way);
    assert_eq!(
        form.field("about").as_deref(),
        Some(format!("flag:{flag}").as_str())
    );
    athlete
        .post(
            &gym.path("mine/notes"),
            &note(&fresh(), &format!("flag:{flag}"), "I will."),
        )
        .expect(303);
    assert!(open(&mut coach, &about).body.contains("I will."));

    // What is not the athlete's cannot be written about.
    for about in [
        format!("session:{}", fresh()),
        format!("flag:{}", fresh()),
        "x".to_owned(),
    ] {
        coach
            .post(&theirs, &note(&fresh(), &about, "Lost."))
            .expect(404);
    }
    let mut other = house.actor(Caller::OtherAthlete).await;
    open(&mut other, &gym.path("mine/notes"));
    let foreign = format!("session:{session}");
    let sent = other.post(&gym.path("mine/notes"), &note(&fresh(), &foreign, "Whose?"));
    assert!([404, 422].contains(&sent.status), "{}", sent.words());
    assert_eq!(stored(gym).await.len(), 3);
}

#[tokio::test]
async fn only_the_athlete_and_their_coaches_ever_see_a_note() {
    let house = House::new().await;
    let gym = &house.gym;
    let mut athlete = gym.athlete().await;
    open(&mut athlete, &gym.path("mine/notes"));
    athlete
        .post(
            &gym.path("mine/notes"),
            &note(&fresh(), "", "zebrawood elbow"),
        )
        .expect(303);
    for caller in [
        Caller::Member(Role::Owner),
        Caller::OtherCoach,
        Caller::OtherAthlete,
        Caller::Neighbour(Role::Coach),
    ] {
        let mut actor = house.actor(caller).await;
        for route in leverbook_web::routes::table() {
            if route.method != "GET" || route.path.contains("{unclaimed}") {
                continue;
            }
            let page = actor.get(&house.filled(route.path));
            assert!(
                !page.body.contains("zebrawood"),
                "{caller:?} on {}",
                route.path
            );
            assert!(!page.body.contains("1 new"), "{caller:?} on {}", route.path);
        }
    }
}

#[tokio::test]
async fn an_athlete_on_no_roster_is_told_that_nobody_would_read_it() {
    let gym = TestGym::new().await;
    let (person, _) = gym
        .another_athlete("Nils Grau", "nils@quarry.example")
        .await;
    let mut nils = gym.sign_in(&person).await;
    let page = open(&mut nils, &gym.path("mine/notes"));
    assert!(
        page.body.contains("No coach has you on their roster yet"),
        "{}",
        page.words()
    );
    assert!(!page.body.contains("<textarea"));
    nils.post(&gym.path("mine/notes"), &note(&fresh(), "", "Anybody?"))
        .expect(422);
    assert!(stored(&gym).await.is_empty());
}

#[tokio::test]
async fn a_note_that_says_nothing_comes_back_with_what_was_typed() {
    let gym = TestGym::new().await;
    let mine = gym.path("mine/notes");
    let mut athlete = gym.athlete().await;
    open(&mut athlete, &mine);
    let long = "x".repeat(2001);
    for (body, said) in [("  ", "is needed"), (&long, "at most 2000 characters")] {
        let page = athlete.post(&mine, &note(&fresh(), "", body)).expect(422);
        assert!(page.body.contains(said), "{}", page.words());
        assert!(page.body.contains(body.trim()));
    }
    assert!(stored(&gym).await.is_empty());
}

#[tokio::test]
async fn long_threads_are_read_a_page_at_a_time_and_only_what_is_shown_is_opened() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    sqlx::query(
        "insert into coach_notes (gym_id, note_id, athlete_id, body, written_by, written_at, written_as)
         select $1, gen_random_uuid(), $2, 'note ' || n || '.', $3, $4 + n * interval '1 minute', 'athlete'
         from generate_series(1, 45) as n",
    )
    .bind(gym.id.0)
    .bind(gym.athlete_id.0)
    .bind(gym.athlete.id.0)
    .bind(leverbook_tests::NOW)
    .execute(tx.conn())
    .await
    .unwrap();
    tx.commit().await.unwrap();
    let theirs = gym.path(&format!("athletes/{}/notes", gym.athlete_id));
    let mut coach = gym.coach().await;
    let first = open(&mut coach, &theirs);
    assert!(first.body.contains(">note 45.<") && first.body.contains(">note 16.<"));
    assert!(!first.body.contains(">note 15.<"));
    assert_eq!(new_in(&first, "Notes"), "15 new");
    let (_, rest) = first.body.split_once("?before=").expect("a way on");
    let before = rest.split_once('"').unwrap().0;
    let second = open(&mut coach, &format!("{theirs}?before={before}"));
    assert!(second.body.contains(">note 15.<") && second.body.contains(">note 1.<"));
    assert!(!second.body.contains(">note 16.<"));
    assert_eq!(new_in(&second, "Notes"), "");
}

/// What stood before notes went both ways is still shown, and still the coach's.
#[tokio::test]
async fn notes_of_an_older_release_are_shown() {
    let gym = TestGym::new().await;
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    sqlx::query(
        "insert into coach_notes (gym_id, note_id, athlete_id, body, written_by, written_at)
         values ($1, gen_random_uuid(), $2, 'Two lighter weeks.', $3, $4)",
    )
    .bind(gym.id.0)
    .bind(gym.athlete_id.0)
    .bind(gym.coach.id.0)
    .bind(leverbook_tests::NOW)
    .execute(&mut admin)
    .await
    .unwrap();
    let mut athlete = gym.athlete().await;
    for page in ["today", "mine", "mine/notes"] {
        let page = athlete.get(&gym.path(page)).expect(200);
        assert!(page.body.contains("Two lighter weeks."), "{}", page.words());
        assert!(page.body.contains("Tove Lind"), "{}", page.words());
    }
    let mut coach = gym.coach().await;
    let story = coach
        .get(&gym.path(&format!("athletes/{}", gym.athlete_id)))
        .expect(200);
    assert!(
        story.body.contains("Two lighter weeks."),
        "{}",
        story.words()
    );
}

/// Whoever trains and coaches is not told of their own words.
#[tokio::test]
async fn ones_own_notes_are_never_new_to_oneself() {
    let gym = TestGym::new().await;
    let person = gym
        .person(
            "Ebba Roth",
            "ebba@quarry.example",
            &[Role::Coach, Role::Athlete],
        )
        .await;
    let own = new_id::<AthleteId>();
    let mut tx = gym.enter().await;
    athletes::of_new_person(
        &mut tx,
        &person,
        own,
        leverbook_tests::NOW.date(),
        leverbook_tests::NOW,
    )
    .await
    .unwrap();
    let own = athletes::of_person(&mut tx, person.id).await.unwrap().id;
    athletes::set_coaches(&mut tx, own, &[person.id])
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut ebba = gym.sign_in(&person).await;
    open(&mut ebba, &gym.path("mine/notes"));
    ebba.post(&gym.path("mine/notes"), &note(&fresh(), "", "To myself."))
        .expect(303);
    let theirs = gym.path(&format!("athletes/{own}/notes"));
    ebba.post(&theirs, &note(&fresh(), "", "And back."))
        .expect(303);
    let page = open(&mut ebba, &gym.path("notes"));
    assert_eq!(
        (new_in(&page, "Notes"), new_in(&page, "My notes")),
        Default::default()
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_and_an_athlete_write_to_each_other_in_a_browser() {
    let stage = Stage::new().await;
    stage.run(
        "notes.mjs",
        &[("LEVERBOOK_TEST_BRUNO", stage.bruno.to_string())],
    );
    let mut tx = stage.gym.enter().await;
    let written: Vec<(String, bool, String)> = sqlx::query_as(
        "select written_as, session_id is not null, body from coach_notes
         where gym_id = $1 and athlete_id = $2 order by nth",
    )
    .bind(stage.gym.id.0)
    .bind(stage.bruno.0)
    .fetch_all(tx.conn())
    .await
    .unwrap();
    let expected = [
        (
            "coach",
            false,
            "How did the new club feel?\nTake a day more if your hands are sore.",
        ),
        ("athlete", false, "Good, thank you. The grip is thicker."),
        ("coach", false, "Then we wrap the other one too."),
        ("athlete", false, "Written in the cellar."),
        ("athlete", true, "The last set was rushed."),
    ];
    assert_eq!(
        written,
        expected.map(|(by, about, body)| (by.to_owned(), about, body.to_owned())),
        "each once"
    );
}
