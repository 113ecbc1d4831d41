//! The weekly review: order, one decision each, notes, closing, and the wall of the roster.

use leverbook_domain::id::{AthleteId, DecisionId};
use leverbook_domain::review::Week;
use leverbook_store::notes::{Side, Wanted};
use leverbook_store::people::Role;
use leverbook_store::review as kept;
use leverbook_store::review::{DecideError, NewDecision, Verdict};
use leverbook_store::{athletes, notes, people};
use leverbook_tests::demo_gym::{AS_OF, COACHES};
use leverbook_tests::roster_of_sixty::{self, EARNED, HURT, JUMPED, roster_of_sixty};
use leverbook_tests::{Actor, Answer, NOW, Person, TestGym, new_id};

use crate::browser::run_journey;
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

/// The decision that a form was shown with.
fn over_of(page: &Answer, name: &str) -> String {
    let from = &page.body[at(page, &format!("<bdi>{name}</bdi>"))..];
    let (_, rest) = from.split_once("name=\"over\" value=\"").expect("a form");
    rest.split_once('"').expect("a closing quote").0.to_owned()
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
        let wanted = Wanted {
            at_most: 10,
            ..Wanted::default()
        };
        let notes = notes::of_athlete(&mut tx, abena.id, Side::Athlete, wanted)
            .await
            .expect("notes");
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
    let over = over_of(&page, "Abena Thorsley");
    coach
        .post(
            &action,
            &[
                ("week", &week),
                ("decision", &id),
                ("verdict", "undo"),
                ("over", &over),
            ],
        )
        .expect(303);
    let page = coach.get(&path).expect(200);
    assert!(!page.body.contains("<p class=\"decision\">"));
    // What was decided and taken back stays in the book.
    let words = page.words();
    assert!(words.contains("0 Decided"), "{words}");
    assert!(
        words.contains("Before: Accepted as proposed, by Maren")
            && words.contains("; Taken back, by Maren"),
        "{words}"
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
        refused.words().contains("This week is closed"),
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
        refused.words().contains("What is proposed has changed"),
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

/// The week of the sixty.
fn sixty(gym: &TestGym) -> String {
    format!("{}?week={}", gym.path("review"), Week::of(AS_OF))
}

/// The sixty are what they are said to be: the journey over them counts on it.
#[tokio::test(flavor = "multi_thread")]
async fn of_sixty_twenty_need_the_coach() {
    let (gym, coach, _) = roster_of_sixty().await;
    let mut coach = gym.sign_in(&coach).await;
    let words = coach.get(&sixty(&gym)).expect(200).words();
    let counts = format!(
        "{HURT} Work waits for you {JUMPED} To look at {EARNED} A step is due 40 Steady 0 Decided"
    );
    assert!(words.contains(&counts), "{}", &words[..900]);
    assert!(
        words.contains("the block that runs: 40 of them"),
        "{}",
        &words[..900]
    );
}

fn athlete_of(page: &Answer, name: &str) -> AthleteId {
    let (action, _, _) = form_of(page, name);
    let id = action.rsplit_once('/').expect("an address").1;
    id.parse().expect("an athlete")
}

/// A form of one athlete, sent.
fn decide(
    coach: &mut Actor,
    page: &Answer,
    name: &str,
    verdict: &str,
    over: &str,
    more: &[(&str, &str)],
) -> Answer {
    let (action, id, proposed) = form_of(page, name);
    let week = Week::of(AS_OF).to_string();
    let mut fields = vec![
        ("week", week.as_str()),
        ("decision", &id),
        ("verdict", verdict),
        ("proposed", &proposed),
        ("over", over),
    ];
    fields.extend_from_slice(more);
    coach.post(&action, &fields)
}

#[tokio::test(flavor = "multi_thread")]
async fn what_another_coach_decided_meanwhile_is_shown_and_not_overwritten() {
    let (gym, coach, other) = roster_of_sixty().await;
    let (mut one, mut two) = (gym.sign_in(&coach).await, gym.sign_in(&other).await);
    let who = roster_of_sixty::name(5);
    let seen = one.get(&sixty(&gym)).expect(200);
    let theirs = two.get(&sixty(&gym)).expect(200);
    decide(&mut two, &theirs, &who, "hold", "", &[]).expect(303);
    let typed = [
        ("note", "Back to the lighter one."),
        ("reason", "Too soon."),
    ];
    let mine = [&typed[..], &[("step", "step_back"), ("club", "")]].concat();
    let refused = decide(&mut one, &seen, &who, "change", "", &mine).expect(409);
    let words = refused.words();
    assert!(
        words.contains("Tiber Quayle decided meanwhile, Wed 25 Nov 2026, 18:00: “Held: nothing changes this week”"),
        "who, when, what: {words}"
    );
    assert!(
        refused.body.contains("Back to the lighter one.") && refused.body.contains("Too soon."),
        "what was typed is lost"
    );
    // Knowingly, it can be put in its place: the form that came back knows of the other.
    let over = over_of(&refused, &who);
    assert!(!over.is_empty());
    decide(&mut one, &refused, &who, "change", &over, &mine).expect(303);
    let page = two.get(&sixty(&gym)).expect(200);
    let line = &page.body[at(&page, &format!("<bdi>{who}</bdi>"))..];
    let line = &line[..line.find("</article>").expect("an end")];
    assert!(
        line.contains("<strong>Changed: step back a club</strong> by <bdi>Runa Averill</bdi>"),
        "{line}"
    );
    assert!(
        line.contains("Before: <bdi>Held: nothing changes this week, by Tiber Quayle"),
        "the history stays: {line}"
    );
    // What the other took back is told too.
    let who = roster_of_sixty::name(6);
    let theirs = two.get(&sixty(&gym)).expect(200);
    decide(&mut two, &theirs, &who, "accept", "", &[]).expect(303);
    let seen = one.get(&sixty(&gym)).expect(200);
    let over = over_of(&seen, &who);
    decide(&mut two, &seen, &who, "undo", &over, &[]).expect(303);
    let (action, _, proposed) = form_of(&seen, &who);
    let week = Week::of(AS_OF).to_string();
    let id = new_id::<DecisionId>().to_string();
    let fields = [
        ("week", week.as_str()),
        ("decision", &id),
        ("verdict", "hold"),
        ("proposed", &proposed),
        ("over", &over),
    ];
    let refused = one.post(&action, &fields).expect(409);
    assert!(
        refused
            .words()
            .contains("Tiber Quayle took the decision back meanwhile"),
        "{}",
        refused.words()
    );
    let page = one.get(&sixty(&gym)).expect(200);
    let nothing = decide(&mut one, &page, &who, "undo", "", &[]).expect(409);
    assert!(
        nothing
            .words()
            .contains("There is no decision to take back"),
        "{}",
        nothing.words()
    );
}

/// The same decision as two coaches make it, at once, over and over: exactly one is taken, and the
/// other is told of it.
#[tokio::test(flavor = "multi_thread")]
async fn two_coaches_at_once_decide_one_after_the_other() {
    let (gym, coach, other) = roster_of_sixty().await;
    let page = gym.sign_in(&coach).await.get(&sixty(&gym)).expect(200);
    let week = Week::of(AS_OF);
    let attempt = |who: Person, athlete: AthleteId, verdict: Verdict| {
        let store = gym.store.clone();
        let gym = gym.id;
        tokio::spawn(async move {
            let mut tx = store.enter(gym, who.id).await.expect("the door opens");
            let new = NewDecision {
                id: new_id(),
                athlete,
                week,
                verdict: Some(verdict),
                over: None,
                proposals: &[],
                reason: "",
                note: "",
                at: NOW,
            };
            match kept::decide(&mut tx, &new).await {
                Ok(()) => {
                    tx.commit().await.expect("a decision");
                    None
                }
                Err(DecideError::Meanwhile(act)) => Some(act.by),
                Err(why) => panic!("{why}"),
            }
        })
    };
    for at in 20..40 {
        let athlete = athlete_of(&page, &roster_of_sixty::name(at));
        let one = attempt(coach.clone(), athlete, Verdict::Accept);
        let two = attempt(other.clone(), athlete, Verdict::Hold);
        let (one, two) = (one.await.expect("one"), two.await.expect("two"));
        let told = match (one, two) {
            (None, Some(by)) => by == "Runa Averill",
            (Some(by), None) => by == "Tiber Quayle",
            both => panic!("both or none: {both:?}"),
        };
        assert!(told, "the other's name");
        let mut tx = gym.enter().await;
        let acts: i64 = sqlx::query_scalar(
            "select count(*) from review_decisions where gym_id = $1 and athlete_id = $2",
        )
        .bind(gym.id.0)
        .bind(athlete.0)
        .fetch_one(tx.conn())
        .await
        .expect("a count");
        assert_eq!(acts, 1);
    }
}

/// A coach with two windows: a week that one closes takes no decision of the other.
#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_decided_in_a_week_that_is_being_closed() {
    let (gym, coach, _) = roster_of_sixty().await;
    let page = gym.sign_in(&coach).await.get(&sixty(&gym)).expect(200);
    let week = Week::of(AS_OF);
    let athlete = athlete_of(&page, &roster_of_sixty::name(30));
    let mut closing = gym.store.enter(gym.id, coach.id).await.expect("the door");
    kept::close(&mut closing, week, NOW).await.expect("closing");
    let deciding = {
        let (store, gym, coach) = (gym.store.clone(), gym.id, coach.id);
        tokio::spawn(async move {
            let mut tx = store.enter(gym, coach).await.expect("the door opens");
            let new = NewDecision {
                id: new_id(),
                athlete,
                week,
                verdict: Some(Verdict::Hold),
                over: None,
                proposals: &[],
                reason: "",
                note: "",
                at: NOW,
            };
            kept::decide(&mut tx, &new).await
        })
    };
    // It waits for what is being done.
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    assert!(!deciding.is_finished());
    closing.commit().await.expect("closed");
    assert!(matches!(
        deciding.await.expect("an answer"),
        Err(DecideError::Closed)
    ));
}

/// Every hidden field of the page that stands for a steady week.
fn steady(page: &Answer) -> Vec<String> {
    page.body
        .split("name=\"steady\" form=\"accept-steady\" value=\"")
        .skip(1)
        .map(|rest| rest.split_once('"').expect("a closing quote").0.to_owned())
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn steady_weeks_are_accepted_in_one_act_and_taken_back_in_one() {
    let (gym, coach, other) = roster_of_sixty().await;
    let (mut one, mut two) = (gym.sign_in(&coach).await, gym.sign_in(&other).await);
    let address = gym.path("review/together");
    let week = Week::of(AS_OF).to_string();
    let send = |coach: &mut Actor, act: &str, together: &str, steady: &[String]| {
        let mut fields = vec![("week", &*week), ("act", act), ("together", together)];
        fields.extend(steady.iter().map(|shown| ("steady", &**shown)));
        coach.post(&address, &fields)
    };
    let page = one.get(&sixty(&gym)).expect(200);
    let shown = steady(&page);
    assert_eq!(shown.len(), 40);
    let together = page.field("together").expect("an id");
    // Somebody else decides about one of them: none is accepted, and it says why.
    let who = roster_of_sixty::name(30);
    let theirs = two.get(&sixty(&gym)).expect(200);
    decide(&mut two, &theirs, &who, "hold", "", &[]).expect(303);
    let refused = send(&mut one, "accept", &together, &shown).expect(409);
    assert!(
        refused
            .words()
            .contains(&format!("has changed since you opened the page: {who}.")),
        "{}",
        &refused.words()[..900]
    );
    assert!(
        refused.words().contains("40 Steady") || refused.words().contains("39 Steady 1 Decided")
    );
    let again = steady(&refused);
    assert_eq!(again.len(), 39);
    send(&mut one, "accept", &together, &again).expect(303);
    // Sent twice, accepted once.
    send(&mut one, "accept", &together, &again).expect(303);
    let page = one.get(&sixty(&gym)).expect(200);
    assert!(
        page.words().contains("0 Steady 40 Decided"),
        "{}",
        &page.words()[..900]
    );
    assert!(page.words().contains("you accepted 39 together"));
    assert!(
        !two.get(&sixty(&gym))
            .expect(200)
            .words()
            .contains("accepted 39 together"),
        "it is not theirs to take back"
    );
    // One was changed since: that stays.
    let changed = roster_of_sixty::name(31);
    let over = over_of(&page, &changed);
    let why = [("step", "step_back"), ("club", ""), ("reason", "A cold.")];
    decide(&mut one, &page, &changed, "change", &over, &why).expect(303);
    send(&mut two, "undo", &together, &[]).expect(303);
    send(&mut one, "undo", &together, &[]).expect(303);
    send(&mut one, "undo", &together, &[]).expect(303);
    let page = one.get(&sixty(&gym)).expect(200);
    assert!(
        page.words().contains("38 Steady 2 Decided"),
        "{}",
        &page.words()[..900]
    );
    assert!(page.words().contains("Changed: step back a club"));
    let mut tx = gym.enter().await;
    let acts: Vec<(String, i64)> = sqlx::query_as(
        "select kind, count(*) from review_decisions where gym_id = $1 group by kind order by kind",
    )
    .bind(gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("counts");
    let expected = [("accept", 39), ("change", 1), ("hold", 1), ("undo", 38)];
    assert_eq!(acts, expected.map(|(kind, many)| (kind.to_owned(), many)));
    drop(tx);
    // Who needs a look is never accepted unread, whatever is sent.
    let hurt = roster_of_sixty::name(0);
    let (action, id, proposed) = form_of(&page, &hurt);
    let athlete = action.rsplit_once('/').expect("an address").1;
    let forged = vec![format!("{athlete}:{id}:{proposed}")];
    let other_act = new_id::<uuid::Uuid>().to_string();
    let refused = send(&mut one, "accept", &other_act, &forged).expect(409);
    assert!(refused.words().contains(&hurt));
    for (act, together, shown) in [
        ("accept", "7", &forged[..]),
        ("accept", &*other_act, &[]),
        ("accept", &*other_act, &["x:y:z".to_owned()]),
        ("burn", &*other_act, &forged[..]),
    ] {
        send(&mut one, act, together, shown).expect(400);
    }
    let close = gym.path("review/close");
    one.post(&close, &[("week", &week), ("act", "close")])
        .expect(303);
    for act in ["accept", "undo"] {
        send(&mut one, act, &other_act, &forged).expect(409);
    }
}

/// The page's own script gets one athlete's part, which is the same as on the page.
#[tokio::test(flavor = "multi_thread")]
async fn a_script_is_answered_with_the_athletes_part() {
    let (gym, coach, _) = roster_of_sixty().await;
    let mut coach = gym.sign_in(&coach).await;
    let page = coach.get(&sixty(&gym)).expect(200);
    let who = roster_of_sixty::name(14);
    let (action, id, proposed) = form_of(&page, &who);
    let week = Week::of(AS_OF).to_string();
    let csrf = coach.csrf().to_owned();
    let send = |coach: &mut Actor, id: &str, verdict: &str, over: &str| {
        let body = form_urlencoded::Serializer::new(String::new())
            .extend_pairs([
                ("csrf", csrf.as_str()),
                ("week", week.as_str()),
                ("decision", id),
                ("verdict", verdict),
                ("proposed", proposed.as_str()),
                ("over", over),
                ("note", "Well swung."),
            ])
            .finish();
        let headers = [
            ("content-type", "application/x-www-form-urlencoded"),
            ("x-leverbook-part", "1"),
        ];
        coach.send("POST", &action, &headers, body.as_bytes())
    };
    let part = send(&mut coach, &id, "accept", "").expect(200);
    assert!(
        part.body.trim_start().starts_with("<article"),
        "{}",
        part.body
    );
    assert_eq!(part.body.matches("<article").count(), 1);
    assert!(part.words().contains("Accepted as proposed"));
    let whole = coach.get(&sixty(&gym)).expect(200);
    let stamp = |page: &Answer| {
        let line = &page.body[..at(page, &format!("<bdi>{who}</bdi>"))];
        let from = line.rfind("data-stamp=\"").expect("a stamp") + 12;
        line[from..].split_once('"').expect("a quote").0.to_owned()
    };
    assert_eq!(stamp(&part), stamp(&whole));
    assert_ne!(stamp(&page), stamp(&whole));
    let other = new_id::<DecisionId>().to_string();
    let refused = send(&mut coach, &other, "hold", "").expect(409);
    assert!(refused.body.trim_start().starts_with("<article"));
    assert!(refused.words().contains("Runa Averill decided meanwhile"));
    assert!(
        refused.body.contains("Well swung."),
        "what was typed is lost"
    );
    let wrong = send(&mut coach, &other, "win", "").expect(422);
    assert!(wrong.body.trim_start().starts_with("<article"));
    // A page that is looked at again: nothing new, nothing sent.
    let mark = whole
        .body
        .split_once("id=\"week\" data-stamp=\"")
        .expect("a stamp")
        .1;
    let mark = format!("\"{}\"", mark.split_once('"').expect("a quote").0);
    let asked = [("if-none-match", mark.as_str())];
    let same = coach.send("GET", &sixty(&gym), &asked, &[]).expect(304);
    assert!(same.body.is_empty());
    let over = over_of(&whole, &who);
    send(
        &mut coach,
        &new_id::<DecisionId>().to_string(),
        "undo",
        &over,
    )
    .expect(200);
    coach.send("GET", &sixty(&gym), &asked, &[]).expect(200);
}

/// What came of last week, beside what was decided then; and what is told when the week is closed.
#[tokio::test(flavor = "multi_thread")]
async fn a_week_stands_beside_the_one_before_and_is_summed_up() {
    let (gym, coach, other) = roster_of_sixty().await;
    let (mut one, mut two) = (gym.sign_in(&coach).await, gym.sign_in(&other).await);
    let before = format!("{}?week={}", gym.path("review"), Week::of(AS_OF).before());
    let page = one.get(&before).expect(200);
    let who = roster_of_sixty::name(40);
    let (action, id, proposed) = form_of(&page, &who);
    let last_week = Week::of(AS_OF).before().to_string();
    let fields = [
        ("week", last_week.as_str()),
        ("decision", &id),
        ("verdict", "accept"),
        ("proposed", &proposed),
    ];
    one.post(&action, &fields).expect(303);
    let page = one.get(&sixty(&gym)).expect(200);
    let line = |page: &Answer, who: &str| {
        let from = at(page, &format!("<bdi>{who}</bdi>"));
        let end = page.body[from..].find("</article>").expect("an end");
        Answer {
            body: page.body[from..from + end].to_owned(),
            ..page.clone()
        }
        .words()
    };
    let words = line(&page, &who);
    // Two sessions a week, 16 reps a set of 30 s by now: 32 a minute, as the week before.
    for told in [
        "Last week: accepted; 2 sessions since",
        "Proposed: Pullover, two hands: go on as planned with Hazel 3.5",
        "Accepted as proposed, by Runa Averill, Wed 25 Nov 2026, 18:00",
        "Pullover, two hands, Hazel 3.5: 32.0 a minute, 32.0 a minute last week (+0.0)",
    ] {
        assert!(words.contains(told), "{told}: {words}");
    }
    let hurt = line(&page, &roster_of_sixty::name(0));
    assert!(
        hurt.contains("Last week: nothing decided; 2 sessions since"),
        "{hurt}"
    );
    assert!(hurt.contains("New flags this week: stop (L4)"), "{hurt}");
    let words = page.words();
    for told in [
        "Sessions 120 , the week before 120",
        "Athletes who came 60 , the week before 60",
        "With a stop flag 5 , the week before 0",
        "With a look flag 8 , the week before 0",
        "0 Decided, 1 the week before",
    ] {
        assert!(words.contains(told), "{told}: {}", &words[..1200]);
    }
    let note = [("note", "Rest the elbow, and see somebody about it.")];
    decide(
        &mut one,
        &page,
        &roster_of_sixty::name(0),
        "accept",
        "",
        &note,
    )
    .expect(303);
    decide(&mut one, &page, &roster_of_sixty::name(5), "hold", "", &[]).expect(303);
    let theirs = two.get(&sixty(&gym)).expect(200);
    decide(
        &mut two,
        &theirs,
        &roster_of_sixty::name(13),
        "accept",
        "",
        &[],
    )
    .expect(303);
    let week = Week::of(AS_OF).to_string();
    one.post(
        &gym.path("review/close"),
        &[("week", &week), ("act", "close")],
    )
    .expect(303);
    let words = one.get(&sixty(&gym)).expect(200).words();
    for told in [
        "You closed this week on Wed 25 Nov 2026".to_owned(),
        "Decided 3 of 60: 2 accepted, 0 changed, 1 held".to_owned(),
        "By Runa Averill 2, Tiber Quayle 1".to_owned(),
        "Notes written 1".to_owned(),
        format!("Work waits {}", roster_of_sixty::name(0)),
        "; 40 steady".to_owned(),
    ] {
        assert!(words.contains(&told), "{told}: {}", &words[..1500]);
    }
}

/// The roster of sixty in a browser, with one journey; what it says.
async fn journey_of_sixty(journey: &str) -> (TestGym, String) {
    let (gym, _, _) = roster_of_sixty().await;
    let coaches = [
        ("LEVERBOOK_TEST_COACH", roster_of_sixty::COACH.to_owned()),
        (
            "LEVERBOOK_TEST_OTHER_COACH",
            roster_of_sixty::OTHER_COACH.to_owned(),
        ),
    ];
    let told = run_journey(&gym, journey, &coaches);
    (gym, told)
}

async fn acts(gym: &TestGym) -> Vec<(String, i64)> {
    let mut tx = gym.enter().await;
    sqlx::query_as(
        "select kind, count(*) from review_decisions where gym_id = $1 group by kind order by kind",
    )
    .bind(gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("counts")
}

/// Sixty athletes, twenty of whom need a decision, in under 200 keystrokes without a page load; the
/// journey counts them.
#[tokio::test(flavor = "multi_thread")]
async fn sixty_athletes_take_under_two_hundred_keystrokes() {
    let (gym, told) = journey_of_sixty("review-keys.mjs").await;
    println!("{told}");
    let expected = [("accept", 57), ("change", 2), ("hold", 2), ("undo", 1)];
    let expected = expected.map(|(kind, many)| (kind.to_owned(), many));
    assert_eq!(acts(&gym).await, expected);
    let mut tx = gym.enter().await;
    let notes: Vec<String> = sqlx::query_scalar(
        "select n.body from coach_notes n
         join review_decisions d on d.gym_id = n.gym_id and d.decision_id = n.note_id
         where n.gym_id = $1 order by n.body",
    )
    .bind(gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("notes");
    assert_eq!(notes, ["see a clinician, please", "well swung"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn two_coaches_no_signal_and_a_sign_out_lose_nothing() {
    let (gym, _) = journey_of_sixty("review-two.mjs").await;
    let expected = [("accept", 1), ("hold", 4)];
    let expected = expected.map(|(kind, many)| (kind.to_owned(), many));
    assert_eq!(acts(&gym).await, expected, "each was taken once");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_week_is_worked_without_script() {
    let (gym, _) = journey_of_sixty("review-plain.mjs").await;
    let expected = [("accept", 41), ("change", 1), ("undo", 41)];
    let expected = expected.map(|(kind, many)| (kind.to_owned(), many));
    assert_eq!(acts(&gym).await, expected);
}
