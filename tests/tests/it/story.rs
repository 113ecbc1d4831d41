//! An athlete's story and the page of rules: whose it is, what it shows, and a flag's life.

use leverbook_domain::density::densities;
use leverbook_domain::id::{AccountId, AthleteId, DecisionId, FlagId};
use leverbook_domain::policy::Policy;
use leverbook_domain::progress;
use leverbook_domain::review::Week;
use leverbook_domain::roster::ExcusedKind;
use leverbook_domain::rules::{self, Rule, help};
use leverbook_domain::text::Reason;
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::blocks::OpenGate;
use leverbook_store::exchange::{self, Files, Import, Scope};
use leverbook_store::flags::{self, KeptFlag, Life};
use leverbook_store::people::Role;
use leverbook_store::roster::NewExcused;
use leverbook_store::{athletes, blocks, history, rack, review, roster};
use leverbook_tests::{NOW, TestGym, demo_gym, new_id};
use time::Date;
use time::macros::date;

use crate::browser::Stage;

/// The day of the tests' clock.
const TODAY: Date = date!(2026 - 11 - 25);

/// Brings the demo gym's files in, onto the roster of the test's coach.
pub(crate) async fn imported(gym: &TestGym) {
    let files = demo_gym::files();
    // The files name coaches of the demo; here everybody is this coach's.
    let named = |name: &str| {
        let (_, text) = files
            .iter()
            .find(|(file, _)| *file == name)
            .expect("a demo file");
        ["maren@quarrylane.example", "tobias@quarrylane.example"]
            .iter()
            .fold(text.clone(), |text, coach| {
                text.replace(coach, gym.coach.email.as_str())
            })
    };
    let [athletes, clubs, sets] = ["athletes.csv", "clubs.csv", "sets.csv"].map(named);
    let mut tx = gym.enter().await;
    exchange::import(
        &mut tx,
        Files {
            athletes: Some(athletes.as_bytes()),
            clubs: Some(clubs.as_bytes()),
            sets: Some(sets.as_bytes()),
        },
        Import {
            scope: Scope::Roster,
            now: NOW,
            today: TODAY,
            dry_run: false,
        },
    )
    .await
    .expect("the demo gym comes in");
    tx.commit().await.expect("the demo gym comes in");
}

pub(crate) async fn named(gym: &TestGym, handle: &str) -> AthleteId {
    let mut tx = gym.enter().await;
    let all = athletes::all(&mut tx).await.expect("athletes");
    all.iter()
        .find(|athlete| athlete.handle.as_str() == handle)
        .unwrap_or_else(|| panic!("{handle} is in the demo gym"))
        .id
}

#[tokio::test]
async fn a_long_history_is_a_page_and_a_page_of_bounded_size() {
    let gym = TestGym::new().await;
    imported(&gym).await;
    let mut coach = gym.coach().await;
    // Two years of sessions; one of them is what a coach looks at first.
    for handle in ["zelda", "wilf", "hollis"] {
        let id = named(&gym, handle).await;
        let page = coach.get(&gym.path(&format!("athletes/{id}"))).expect(200);
        let all = coach
            .get(&gym.path(&format!("athletes/{id}?since=all")))
            .expect(200);
        assert!(page.body.len() < 250_000, "{handle}: {}", page.body.len());
        assert!(all.body.len() < 500_000, "{handle}: {}", all.body.len());
        assert!(all.body.len() >= page.body.len());
    }
}

#[tokio::test]
async fn the_page_shows_the_domains_figures() {
    let gym = TestGym::new().await;
    imported(&gym).await;
    let mut coach = gym.coach().await;
    let id = named(&gym, "vesna").await;
    let words = coach
        .get(&gym.path(&format!("athletes/{id}")))
        .expect(200)
        .words();
    let mut tx = gym.enter().await;
    let history = history::load(&mut tx, id).await.expect("a history");
    let policy = Policy::default();
    let latest = progress::latest(&history, &policy, TODAY);
    let mut compared = 0;
    for work in &latest {
        if let progress::Standing::Density {
            rpm,
            goal_rpm,
            slope,
        } = work.standing
        {
            assert!(words.contains(&format!("{rpm:.1} with ")), "{rpm}");
            let goal = goal_rpm.expect("enough sessions for a goal");
            assert!(words.contains(&format!("{goal:.1}")), "{goal}");
            let slope = slope.expect("enough sessions for a trend");
            assert!(words.contains(&format!("{:+.2} (90 % interval", slope.rpm_per_week)));
            compared += 1;
        }
    }
    assert!(compared > 0, "{latest:?}");
    // What is proposed, with what speaks for it and against it.
    let mut proposed = 0;
    for step in &flags::assessments(&mut tx, &[id])
        .await
        .expect("assessments")[&id]
        .steps
    {
        for reason in step.reasons.iter().chain(&step.against) {
            assert!(words.contains(&reason.text), "{}", reason.text);
        }
        proposed += step.against.len();
    }
    assert!(proposed > 0 && words.contains("Against it:"), "{words}");
    // The newest club is drawn; what its count leads to stands under the drawing.
    let counts = densities(&history, &policy, [], TODAY);
    let newest = counts.iter().max_by_key(|count| count.on).expect("a count");
    let goal = newest.figures.goal_words().expect("a trend and a goal");
    assert!(words.contains(&goal), "{goal}");
    for way in rules::clubs_worked(&history, &policy, TODAY) {
        for step in way
            .steps
            .iter()
            .filter(|step| step.on >= date!(2025 - 11 - 25))
        {
            let size = format!(
                "{:+.0} % {}",
                100.0 * step.size.fraction,
                step.size.basis.words()
            );
            assert!(words.contains(&size), "{size}");
        }
    }
}

/// Three years of log with a bit of everything, all of the page told in the charts.
#[tokio::test(flavor = "multi_thread")]
async fn the_charts_of_an_athlete_are_walked_along() {
    let stage = Stage::new().await;
    let gym = &stage.gym;
    let told = named(gym, "zelda").await;
    let said = happened(gym, stage.coach, told).await;
    let mut athletes = vec![serde_json::json!({"handle": "zelda", "id": told, "told": said})];
    for handle in ["bruno", "vesna", "quilla", "nairn", "ulf"] {
        athletes.push(serde_json::json!({"handle": handle, "id": named(gym, handle).await}));
    }
    let athletes = serde_json::Value::Array(athletes).to_string();
    stage.run("story.mjs", &[("LEVERBOOK_TEST_ATHLETES", athletes)]);
}

/// Decides, excuses, quiets and opens early; gives what the charts must then say of it.
async fn happened(gym: &TestGym, coach: AccountId, athlete: AthleteId) -> Vec<String> {
    let entered = gym.store.enter(gym.id, coach).await;
    let mut tx = entered.expect("the door opens");
    let days = NewExcused {
        id: new_id(),
        kind: ExcusedKind::Travel,
        first_day: date!(2026 - 08 - 03),
        last_day: date!(2026 - 08 - 09),
        reason: Reason::new("at sea").expect("a reason"),
    };
    roster::excuse(&mut tx, athlete, &days, NOW, TODAY)
        .await
        .expect("excused");
    let decision = review::NewDecision {
        id: new_id(),
        athlete,
        week: Week::of(TODAY),
        verdict: Some(review::Verdict::Hold),
        over: None,
        proposals: &[],
        reason: "the wrist first",
        note: "",
        at: NOW,
    };
    review::decide(&mut tx, &decision).await.expect("decided");
    let movements = rack::movements(&mut tx).await.expect("movements");
    let pullover = movements
        .iter()
        .find(|movement| movement.details.name.as_str() == "pullover")
        .expect("a movement");
    let gate = OpenGate {
        opening: new_id(),
        athlete,
        movement: pullover.id,
        on: date!(2026 - 05 - 04),
        reason: "asked for by the clinic".to_owned(),
    };
    blocks::open_gate(&mut tx, &gate, NOW)
        .await
        .expect("opened");
    flags::reassess(&mut tx, athlete, TODAY)
        .await
        .expect("flags");
    let story = flags::story(&mut tx, athlete).await.expect("flags");
    let flag = story
        .iter()
        .find(|kept| matches!(kept.flag.rule, Rule::T4 | Rule::V3))
        .expect("a step was earned");
    let closed = flags::NewDecision {
        id: new_id(),
        flag: flag.id,
        athlete,
        verdict: flags::Verdict::Closed,
        reason: "talked over".to_owned(),
        at: NOW,
    };
    flags::decide(&mut tx, &closed, TODAY)
        .await
        .expect("closed");
    tx.commit().await.expect("all of it");
    let id = flag.flag.rule.id();
    vec![
        "travel (“at sea”)".to_owned(),
        "2026-W48: held, nothing for now (“the wrist first”)".to_owned(),
        "one-hand work opened early, pullover (“asked for by the clinic”)".to_owned(),
        format!("{id} closed (“talked over”)"),
        format!("{id} raised"),
        format!("{id} over"),
        "by static moment".to_owned(),
    ]
}

#[tokio::test]
async fn a_story_is_for_coaches_of_that_athlete_alone() {
    let gym = TestGym::new().await;
    let (path, flag) = flagged(&gym).await;
    let flag_path = format!("{path}/flags/{flag}");
    gym.coach().await.get(&path).expect(200);
    let other = gym
        .person("Ida Moss", "ida@quarry.example", &[Role::Coach])
        .await;
    let mut other = gym.sign_in(&other).await;
    let mut neighbour = {
        let (_, [_, coach, _], _) = gym.neighbour().await;
        gym.sign_in(&coach).await
    };
    for (actor, status) in [
        (&mut other, 404),
        (&mut neighbour, 404),
        (&mut gym.owner().await, 403),
        (&mut gym.athlete().await, 403),
    ] {
        actor.get(&path).expect(status);
        actor.get(&flag_path).expect(status);
        let id = new_id::<DecisionId>().to_string();
        actor
            .post(&flag_path, &[("verdict", "seen"), ("decision", &id)])
            .expect(status);
    }
    assert!(kept(&gym).await.decisions.is_empty());
    for member in [&gym.owner, &gym.coach, &gym.athlete] {
        gym.sign_in(member)
            .await
            .get(&gym.path("rules"))
            .expect(200);
    }
}

#[tokio::test]
async fn a_flag_is_seen_quieted_closed_and_opened_again() {
    let gym = TestGym::new().await;
    let (path, flag) = flagged(&gym).await;
    let flag_path = format!("{path}/flags/{flag}");
    let mut coach = gym.coach().await;
    coach.get(&path).expect(200);
    let today = TODAY;
    for (fields, life, word) in [
        (vec![("verdict", "seen")], Life::Seen, "seen by Tove Lind"),
        (
            vec![
                ("verdict", "quiet"),
                ("until", "2026-12-10"),
                ("reason", "at the clinic"),
            ],
            Life::Quiet {
                until: date!(2026 - 12 - 10),
            },
            "quiet until Thu 10 Dec 2026",
        ),
        (vec![("verdict", "reopen")], Life::Reopened, "opened again"),
        (
            vec![("verdict", "close"), ("reason", "gone since Monday")],
            Life::Closed,
            "gone since Monday",
        ),
    ] {
        let id = new_id::<DecisionId>().to_string();
        let mut form = fields.clone();
        form.push(("decision", &id));
        form.push(("back", &path));
        let sent = coach.post(&flag_path, &form).expect(303);
        assert_eq!(sent.location(), format!("{path}?done=flag-decided"));
        // Sent twice, decided once.
        let before = kept(&gym).await.decisions.len();
        coach.post(&flag_path, &form).expect(303);
        let after = kept(&gym).await;
        assert_eq!(after.decisions.len(), before);
        assert_eq!(after.life(today), life);
        let page = coach.get(&path).expect(200).words();
        assert!(page.contains(word), "{word}: {page}");
    }
    assert_eq!(kept(&gym).await.decisions.len(), 4);
}

#[tokio::test]
async fn a_flag_names_the_policy_it_was_judged_by() {
    let gym = TestGym::new().await;
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    sqlx::query(
        "insert into policies (gym_id, version, policy, decided_by, decided_at)
         values ($1, 3, '{\"pain_stop\": 6}', $2, $3)",
    )
    .bind(gym.id.0)
    .bind(gym.owner.id.0)
    .bind(NOW)
    .execute(&mut admin)
    .await
    .expect("a policy of the gym's own");
    let (path, flag) = flagged(&gym).await;
    let mut coach = gym.coach().await;
    for page in [path.clone(), format!("{path}/flags/{flag}")] {
        let words = coach.get(&page).expect(200).words();
        assert!(words.contains("Policy version 3"), "{page}: {words}");
        assert!(words.contains("Stops at 6"), "{page}: {words}");
    }
}

#[tokio::test]
async fn a_decision_that_cannot_be_taken_says_why_and_changes_nothing() {
    let gym = TestGym::new().await;
    let (path, flag) = flagged(&gym).await;
    let flag_path = format!("{path}/flags/{flag}");
    let mut coach = gym.coach().await;
    coach.get(&path).expect(200);
    let long = "x".repeat(401);
    let id = new_id::<DecisionId>().to_string();
    let cases: [(&[(&str, &str)], &str); 8] = [
        (&[("verdict", "")], "choose what you decide"),
        (&[("verdict", "burn")], "choose what you decide"),
        (
            &[("verdict", "close"), ("reason", " ")],
            "stays with the flag",
        ),
        (&[("verdict", "close"), ("reason", &long)], "at most 400"),
        (
            &[("verdict", "quiet"), ("reason", "kept"), ("until", "")],
            "is needed",
        ),
        (
            &[
                ("verdict", "quiet"),
                ("reason", "kept"),
                ("until", "2026-11-24"),
            ],
            "in the past",
        ),
        (
            &[
                ("verdict", "quiet"),
                ("reason", "kept"),
                ("until", "2031-01-01"),
            ],
            "more than a year",
        ),
        (
            &[("verdict", "quiet"), ("reason", "kept"), ("until", "soon")],
            "needs a day",
        ),
    ];
    for (fields, said) in cases {
        let mut form = fields.to_vec();
        form.push(("decision", &id));
        let page = coach.post(&flag_path, &form).expect(422);
        assert!(page.words().contains(said), "{fields:?}: {}", page.words());
        if fields.contains(&("reason", "kept")) {
            assert!(page.body.contains("kept</textarea>"), "{fields:?}");
        }
    }
    coach.post(&flag_path, &[("verdict", "seen")]).expect(422);
    let seen = [("verdict", "seen"), ("decision", id.as_str())];
    let unknown = new_id::<FlagId>();
    coach
        .post(&format!("{path}/flags/{unknown}"), &seen)
        .expect(404);
    coach.get(&format!("{path}/flags/{unknown}")).expect(404);
    assert!(kept(&gym).await.decisions.is_empty());
    // Nobody is sent on to another site.
    for back in [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/g/../sign-out",
        "/",
    ] {
        let id = new_id::<DecisionId>().to_string();
        let form = [
            ("verdict", "seen"),
            ("decision", id.as_str()),
            ("back", back),
        ];
        let sent = coach.post(&flag_path, &form).expect(303);
        assert_eq!(
            sent.location(),
            format!("{path}?done=flag-decided"),
            "{back}"
        );
    }
}

#[tokio::test]
async fn every_rule_has_its_place_on_the_page_of_rules() {
    let gym = TestGym::new().await;
    let page = gym.athlete().await.get(&gym.path("rules")).expect(200);
    for text in help::help(&Policy::default()) {
        assert!(
            page.body.contains(&format!("id=\"{}\"", text.id)),
            "{}",
            text.id
        );
    }
    for rule in Rule::ALL {
        assert!(
            page.body.contains(&format!("id=\"{}\"", rule.id())),
            "{rule:?}"
        );
    }
    let words = page.words();
    for caution in [
        "Clear the space",
        "dry grip",
        "collars",
        "Start light",
        "Stop on pain",
        "clinician",
        "local law",
    ] {
        assert!(words.contains(caution), "{caution}");
    }
}

/// A stop flag of the gym's athlete: pain of 6 in one session. Gives the athlete's page and the
/// flag.
async fn flagged(gym: &TestGym) -> (String, FlagId) {
    let csv = "athlete,date,session,movement,hands,club,side,seconds,reps,effort,pain,pain_place\n\
        ansel-reed,2026-11-23,1,mill,two,Ash 5,left,30,15,6,6,left elbow\n\
        ansel-reed,2026-11-23,1,mill,two,Ash 5,right,30,15,6,6,left elbow\n";
    let clubs = "club,mass_kg,length_mm,balance_mm,grip_mm\nAsh 5,5,700,450,60\n";
    let mut tx = gym.enter().await;
    let files = Files {
        athletes: None,
        clubs: Some(clubs.as_bytes()),
        sets: Some(csv.as_bytes()),
    };
    let how = Import {
        scope: Scope::Roster,
        now: NOW,
        today: TODAY,
        dry_run: false,
    };
    exchange::import(&mut tx, files, how)
        .await
        .expect("a session with pain");
    flags::reassess(&mut tx, gym.athlete_id, TODAY)
        .await
        .expect("flags");
    tx.commit().await.expect("a session with pain");
    let flag = kept(gym).await;
    (gym.path(&format!("athletes/{}", gym.athlete_id)), flag.id)
}

/// The stop flag as it is kept.
async fn kept(gym: &TestGym) -> KeptFlag {
    let mut tx = gym.enter().await;
    let all = flags::story(&mut tx, gym.athlete_id).await.expect("flags");
    all.into_iter()
        .find(|kept| kept.flag.rule == Rule::L4)
        .expect("pain of 6 is flagged")
}
