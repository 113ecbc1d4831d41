//! The weekly review: order, one decision each, notes, closing, and the wall of the roster.

use leverbook_domain::review::Week;
use leverbook_store::people::Role;
use leverbook_store::review as kept;
use leverbook_store::{athletes, people};
use leverbook_tests::demo_gym::{AS_OF, COACHES};
use leverbook_tests::{Answer, NOW, TestGym};

use crate::demo::demo_gym;

/// The gym, and the coach Maren of the invented scenario signed in.
async fn week_of_maren() -> (TestGym, leverbook_tests::Actor, String) {
    let gym = demo_gym().await;
    let maren = {
        let mut tx = gym.enter().await;
        people::list(&mut tx)
            .await
            .expect("people")
            .into_iter()
            .find(|person| person.email == COACHES[0])
            .expect("Maren")
    };
    let account = leverbook_tests::Person {
        id: maren.id,
        ..gym.coach.clone()
    };
    let actor = gym.sign_in(&account).await;
    let path = format!("{}?week={}", gym.path("review"), Week::of(AS_OF));
    (gym, actor, path)
}

fn at(page: &Answer, text: &str) -> usize {
    page.body
        .find(text)
        .unwrap_or_else(|| panic!("{text:?} is not on the page: {}", page.words()))
}

/// The form of one athlete: its address, the id of the decision to come, and the mark of what is
/// proposed.
fn form_of(page: &Answer, name: &str) -> (String, String, String) {
    let from = &page.body[at(page, &format!("<bdi>{name}</bdi>"))..];
    let between = |open: &str| {
        let (_, rest) = from.split_once(open).expect(open);
        rest.split_once('"').expect("a closing quote").0.to_owned()
    };
    (
        between("<form method=\"post\" action=\""),
        between("name=\"decision\" value=\""),
        between("name=\"proposed\" value=\""),
    )
}

/// Common practice, no source: whoever may be hurt stands first, then what is odd, then what is
/// earned, then everybody else.
#[tokio::test(flavor = "multi_thread")]
async fn those_who_need_the_coach_stand_first() {
    let (_gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let order = ["Edvard Locke", "Kaveh Rushton", "Abena Thorsley"].map(|name| at(&page, name));
    assert!(order.is_sorted(), "{order:?}");
    assert!(
        !page.body.contains("Odile Sarrat"),
        "on another coach's roster"
    );
    assert!(!page.body.contains("Juno Whitlock"), "has left");
    // The last week of the invented logs has two sessions of nearly everybody.
    assert!(
        page.words().contains("2 sessions, none planned"),
        "{}",
        page.words()
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_decision_is_taken_once_shown_and_taken_back() {
    let (gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let (action, id, proposed) = form_of(&page, "Abena Thorsley");
    let week = Week::of(AS_OF).to_string();
    let fields = [
        ("week", week.as_str()),
        ("decision", id.as_str()),
        ("verdict", "accept"),
        ("proposed", proposed.as_str()),
        ("note", "Good count. Keep the elbows quiet."),
    ];
    coach.post(&action, &fields).expect(303);
    coach.post(&action, &fields).expect(303);
    let page = coach.get(&path).expect(200);
    let words = page.words();
    assert!(words.contains("Accepted as proposed"), "{words}");
    assert!(words.contains("1 Decided"), "{words}");
    {
        let mut tx = gym.enter().await;
        let abena = athletes::all(&mut tx)
            .await
            .expect("athletes")
            .into_iter()
            .find(|athlete| athlete.handle.as_str() == "abena")
            .expect("Abena");
        let notes = kept::notes(&mut tx, abena.id, 10).await.expect("notes");
        assert_eq!(
            notes.len(),
            1,
            "the form was sent twice, the note written once"
        );
        let decisions = kept::decisions_of(&mut tx, abena.id)
            .await
            .expect("decisions");
        assert_eq!(decisions.len(), 1);
    }
    let (action, id, _) = form_of(&page, "Abena Thorsley");
    coach
        .post(
            &action,
            &[("week", &week), ("decision", &id), ("verdict", "undo")],
        )
        .expect(303);
    assert!(
        !coach
            .get(&path)
            .expect(200)
            .words()
            .contains("Accepted as proposed")
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_change_needs_a_reason_and_keeps_what_was_typed() {
    let (_gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let (action, id, _) = form_of(&page, "Kaveh Rushton");
    let week = Week::of(AS_OF).to_string();
    let change = |reason: &str, note: &str| {
        vec![
            ("week".to_owned(), week.clone()),
            ("decision".to_owned(), id.clone()),
            ("verdict".to_owned(), "change".to_owned()),
            ("step".to_owned(), "step_back".to_owned()),
            ("reason".to_owned(), reason.to_owned()),
            ("note".to_owned(), note.to_owned()),
        ]
    };
    let sent = |fields: &[(String, String)]| -> Vec<(String, String)> { fields.to_vec() };
    for (reason, note, told) in [
        ("", "rest well", "say why"),
        (&*"x".repeat(401), "rest well", "at most 400 characters"),
        ("stale", &*"y".repeat(2001), "at most 2000 characters"),
        ("a\u{7}b", "rest well", "control characters"),
        ("\u{200b}", "rest well", "reason"),
    ] {
        let fields = sent(&change(reason, note));
        let fields: Vec<(&str, &str)> = fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        let refused = coach.post(&action, &fields).expect(422);
        assert!(
            refused.words().contains(told),
            "{told}: {}",
            refused.words()
        );
        assert!(refused.body.contains(note), "what was typed is lost");
    }
    for (name, value) in [
        ("verdict", "win"),
        ("step", "leap"),
        ("decision", "7"),
        ("club", "x"),
    ] {
        let mut fields = change("stale", "");
        for field in &mut fields {
            if field.0 == name {
                value.clone_into(&mut field.1);
            }
        }
        if name == "club" {
            fields.push(("club".to_owned(), value.to_owned()));
        }
        let fields: Vec<(&str, &str)> = fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        coach.post(&action, &fields).expect(422);
    }
    let fields = change("the count is stale", "");
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    coach.post(&action, &fields).expect(303);
    let words = coach.get(&path).expect(200).words();
    assert!(
        words.contains("Changed: step back a club") && words.contains("the count is stale"),
        "{words}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_closed_week_takes_no_decisions_until_it_is_opened_again() {
    let (gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let (action, id, proposed) = form_of(&page, "Abena Thorsley");
    let week = Week::of(AS_OF).to_string();
    let close = gym.path("review/close");
    coach
        .post(&close, &[("week", &week), ("act", "close")])
        .expect(303);
    let accept = [
        ("week", week.as_str()),
        ("decision", id.as_str()),
        ("verdict", "accept"),
        ("proposed", proposed.as_str()),
    ];
    let mut with_note = accept.to_vec();
    with_note.push(("note", "Keep the elbows quiet."));
    let refused = coach.post(&action, &with_note).expect(409);
    assert!(
        refused.words().contains("this week is closed"),
        "{}",
        refused.words()
    );
    assert!(
        refused.body.contains("Keep the elbows quiet."),
        "what was typed is lost"
    );
    assert!(
        coach
            .get(&path)
            .expect(200)
            .words()
            .contains("You closed this week")
    );
    coach
        .post(&close, &[("week", &week), ("act", "open")])
        .expect(303);
    coach.post(&action, &accept).expect(303);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_decides_for_their_own_roster_only() {
    let (gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let (action, id, _) = form_of(&page, "Abena Thorsley");
    let other = gym
        .person("Ines Thole", "ines@quarrylane.example", &[Role::Coach])
        .await;
    let mut other = gym.sign_in(&other).await;
    other.get(&gym.path("review")).expect(200);
    let week = Week::of(AS_OF).to_string();
    other
        .post(
            &action,
            &[("week", &week), ("decision", &id), ("verdict", "accept")],
        )
        .expect(404);
    coach.get(&gym.path("review?week=2026-W60")).expect(422);
    // Without a week it is the running one.
    let running = Week::of(NOW.date()).to_string();
    assert!(
        coach
            .get(&gym.path("review"))
            .expect(200)
            .words()
            .contains(&running)
    );
}

/// Seeing is not deciding: as long as planned work waits, the athlete stands first.
#[tokio::test(flavor = "multi_thread")]
async fn a_seen_stop_still_stands_first() {
    let (gym, mut coach, path) = week_of_maren().await;
    let edvard: (uuid::Uuid, uuid::Uuid) = {
        let mut tx = gym.enter().await;
        sqlx::query_as(
            "select f.athlete_id, f.flag_id from flags f join athletes a using (gym_id, athlete_id)
             where f.gym_id = $1 and a.handle = 'edvard' and f.severity = 'stop'",
        )
        .bind(gym.id.0)
        .fetch_one(tx.conn())
        .await
        .expect("a stop")
    };
    let flag = gym.path(&format!("athletes/{}/flags/{}", edvard.0, edvard.1));
    let page = coach.get(&flag).expect(200);
    let id = page.field("decision").expect("an id");
    coach
        .post(&flag, &[("decision", &id), ("verdict", "seen")])
        .expect(303);
    let page = coach.get(&path).expect(200);
    assert!(
        page.words().contains("1 Work waits for you"),
        "{}",
        page.words()
    );
    assert!(at(&page, "Work waits for you") < at(&page, "Edvard Locke"));
    assert!(at(&page, "Edvard Locke") < at(&page, "id=\"look\""));
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_accepts_what_they_did_not_see_or_sends_one_form_for_two_decisions() {
    let (_gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let (action, id, proposed) = form_of(&page, "Abena Thorsley");
    let week = Week::of(AS_OF).to_string();
    let send = |verdict: &'static str, mark: &str, note: &'static str| {
        [
            ("week", week.clone()),
            ("decision", id.clone()),
            ("verdict", verdict.to_owned()),
            ("proposed", mark.to_owned()),
            ("note", note.to_owned()),
        ]
    };
    let refused = sent(
        &mut coach,
        &action,
        &send("accept", "another mark", "well done"),
    )
    .expect(409);
    assert!(
        refused.words().contains("what is proposed has changed"),
        "{}",
        refused.words()
    );
    assert!(refused.body.contains("well done"), "what was typed is lost");
    sent(&mut coach, &action, &send("hold", &proposed, "")).expect(303);
    let refused = sent(&mut coach, &action, &send("accept", &proposed, "well done")).expect(409);
    assert!(
        refused.words().contains("sent before with something else"),
        "{}",
        refused.words()
    );
    let refused = sent(&mut coach, &action, &send("hold", &proposed, "well done")).expect(409);
    assert!(
        refused.body.contains("well done"),
        "a note was lost without a word"
    );
    assert!(
        coach
            .get(&path)
            .expect(200)
            .words()
            .contains("Held: nothing changes")
    );
}

fn sent(coach: &mut leverbook_tests::Actor, action: &str, fields: &[(&str, String)]) -> Answer {
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (*name, value.as_str()))
        .collect();
    coach.post(action, &fields)
}

#[tokio::test(flavor = "multi_thread")]
async fn weeks_and_clubs_that_make_no_sense_are_refused() {
    let (gym, mut coach, path) = week_of_maren().await;
    let page = coach.get(&path).expect(200);
    let (action, id, proposed) = form_of(&page, "Abena Thorsley");
    let close = gym.path("review/close");
    for week in ["2199-W01", "1950-W10", "2026-W49", "2026-W43", "NaN", ""] {
        let fields = [("week", week), ("decision", &*id), ("verdict", "hold")];
        coach.post(&action, &fields).expect(409);
        coach
            .post(&close, &[("week", week), ("act", "close")])
            .expect(409);
    }
    let week = Week::of(AS_OF).to_string();
    coach
        .post(&close, &[("week", &week), ("act", "burn")])
        .expect(400);
    assert!(
        !coach
            .get(&path)
            .expect(200)
            .words()
            .contains("You closed this week")
    );
    // Somebody else's own club, and one that is nobody's.
    let nairns: uuid::Uuid = {
        let mut tx = gym.enter().await;
        sqlx::query_scalar(
            "select loading_id from loadings where gym_id = $1 and name like 'Nairn%'",
        )
        .bind(gym.id.0)
        .fetch_one(tx.conn())
        .await
        .expect("a club")
    };
    assert!(
        !page.body[at(&page, "<bdi>Abena Thorsley</bdi>")..at(&page, "<bdi>Anton Greaves</bdi>")]
            .contains("Nairn")
    );
    for club in [nairns, uuid::Uuid::nil()] {
        let club = club.to_string();
        let fields = [
            ("week", week.as_str()),
            ("decision", &*id),
            ("verdict", "change"),
            ("step", "step_up"),
            ("club", &*club),
            ("proposed", &*proposed),
            ("reason", "a look"),
        ];
        let refused = coach.post(&action, &fields).expect(422);
        assert!(
            refused.words().contains("choose a club of the list"),
            "{}",
            refused.words()
        );
    }
    let asked = coach.get(&gym.path("review?week=NaN")).expect(422);
    assert!(
        asked.words().contains("a week is written as ISO 8601"),
        "{}",
        asked.words()
    );
}
