//! Care of clubs and the ladder, through the pages: inspections, out of use, who stands where.

use leverbook_domain::club::care::{Inspection, Why};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use leverbook_domain::plan::{BlockDraft, BlockWish, IntervalSets, Scheme, Swung};
use leverbook_domain::policy::Policy;
use leverbook_domain::units::Seconds;
use leverbook_store::people::Role;
use leverbook_store::{GymTx, care, flags, rack};
use leverbook_tests::{Answer, NOW, assign, new_id};
use time::macros::date;
use time::{Date, Duration};
use uuid::Uuid;

use crate::browser::{self, Stage};
use crate::hall::Hall;

#[test]
fn the_stopwatch_by_itself_keeps_to_the_pendulum() {
    browser::passes_in_node("swings.test.mjs");
}

impl Hall {
    async fn club_of(&self, loading: LoadingId) -> ClubId {
        let mut tx = self.gym.enter().await;
        rack::loading(&mut tx, loading).await.unwrap().club
    }

    /// Logs one set of the mill past the page.
    async fn swing(&self, athlete: AthleteId, loading: LoadingId) {
        let session: Uuid = new_id();
        let mut tx = self.gym.enter().await;
        sqlx::query(
            "insert into logged_sessions (gym_id, revision_id, session_id, athlete_id, on_date,
                 logged_by, logged_at, content_hash)
             values ($1, $2, $2, $3, '2026-11-23', $4, $5, '\\x00')",
        )
        .bind(self.gym.id.0)
        .bind(session)
        .bind(athlete.0)
        .bind(self.gym.coach.id.0)
        .bind(NOW)
        .execute(tx.conn())
        .await
        .unwrap();
        sqlx::query(
            "insert into logged_sets (gym_id, revision_id, position, movement_id, hands, loading_id,
                 side, seconds, reps)
             values ($1, $2, 1, $3, 'two', $4, 'left', 30, 14)",
        )
        .bind(self.gym.id.0)
        .bind(session)
        .bind(self.mill.0)
        .bind(loading.0)
        .execute(tx.conn())
        .await
        .unwrap();
        flags::reassess(&mut tx, athlete, date!(2026 - 11 - 25))
            .await
            .unwrap();
        tx.commit().await.unwrap();
    }

    /// Makes a club one with fasteners.
    async fn is_loadable(&self, club: ClubId) {
        let mut tx = self.gym.enter().await;
        sqlx::query("update clubs set loadable = true where gym_id = $1 and club_id = $2")
            .bind(self.gym.id.0)
            .bind(club.0)
            .execute(tx.conn())
            .await
            .unwrap();
        tx.commit().await.unwrap();
    }

    /// Assigns a block with the light club that has a session today.
    async fn plan_light(&self) {
        let today = date!(2026 - 11 - 25);
        let mut tx = self
            .gym
            .store
            .enter(self.gym.id, self.gym.coach.id)
            .await
            .unwrap();
        with_the_light_club(&mut tx, self, today).await;
        tx.commit().await.unwrap();
    }
}

/// A block on Wednesdays from a day on, with the light club.
async fn with_the_light_club(tx: &mut GymTx, hall: &Hall, today: Date) {
    let wish = BlockWish {
        movement: hall.mill,
        scheme: Scheme::IntervalSets(IntervalSets {
            sets: 2,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        }),
        weekdays: vec![3],
        starts_on: today,
        weeks: 4,
        note: String::new(),
    };
    let draft = BlockDraft::new(wish, &Policy::default(), today).unwrap();
    let swung = Swung {
        movement_name: "Test mill",
        loading: hall.light,
        club_name: "Ash 5",
    };
    assign(tx, hall.gym.athlete_id, draft, swung, NOW).await;
}

/// What a browser sends to put a club out of use.
fn out<'a>(id: &'a str, from: &'a str) -> [(&'a str, &'a str); 6] {
    [
        ("change", id),
        ("what", "club"),
        ("turn", "out"),
        ("from", from),
        ("why", "in_repair"),
        ("note", "The collar is at the smith’s."),
    ]
}

fn offered(page: &Answer, club: &str) -> bool {
    page.body.contains(&format!(">{club}: "))
}

#[tokio::test]
async fn a_club_out_of_use_is_nowhere_offered_and_whoever_plans_it_is_told() {
    let hall = Hall::new().await;
    let gym = &hall.gym;
    hall.plan_light().await;
    let club = hall.club_of(hall.light).await;
    let page = gym.path(&format!("rack/clubs/{club}/use"));
    let mut coach = gym.coach().await;
    assert!(offered(
        &coach.get(&gym.path("assign")).expect(200),
        "Ash 5"
    ));
    coach.get(&page).expect(200);
    let id = new_id::<Uuid>().to_string();
    // Sent twice, it is written once.
    for _ in 0..2 {
        coach.post(&page, &out(&id, "2026-11-25")).expect(303);
    }
    let mut tx = gym.enter().await;
    let changes = care::use_changes_of(&mut tx, club).await.unwrap();
    assert_eq!(changes.len(), 1);
    assert_eq!(changes[0].change.out, Some(Why::InRepair));
    drop(tx);

    assert!(!offered(
        &coach.get(&gym.path("assign")).expect(200),
        "Ash 5"
    ));
    let listed = coach.get(&page).expect(200);
    // Wednesdays from 25 November: four in four weeks.
    assert_eq!(
        listed.body.matches("/planned/").count(),
        4,
        "{}",
        listed.words()
    );
    assert!(listed.words().contains("The collar is at the smith’s."));
    let rack_page = coach.get(&gym.path("rack")).expect(200);
    assert!(
        rack_page.words().contains("Out of use Ash 5 since"),
        "{}",
        rack_page.words()
    );
    // The ladder begins with the next.
    assert!(!rack_page.body.contains("class=\"label club\">Ash 5"));
    assert!(rack_page.body.contains("class=\"label club\">Elm 6"));

    let today = gym.athlete().await.get(&gym.path("today")).expect(200);
    assert!(
        today.words().contains("This club is out of use."),
        "{}",
        today.words()
    );
    // An owner keeps the rack, and reads no plan.
    let owners = gym.owner().await.get(&page).expect(200);
    assert!(!owners.body.contains("/planned/"), "{}", owners.words());

    // The rules count it as no club that could be picked up.
    let mut tx = gym.enter().await;
    let mut history = leverbook_store::history::load(&mut tx, gym.athlete_id)
        .await
        .unwrap();
    let usable = |history: &leverbook_domain::training::History| {
        let mut clubs = history.clubs.iter();
        clubs.find(|one| one.loading == hall.light).unwrap().usable
    };
    assert!(usable(&history));
    history.leave_out(
        &care::out_of_use(&mut tx, date!(2026 - 11 - 25))
            .await
            .unwrap(),
    );
    assert!(!usable(&history));
    drop(tx);

    // Back again from today on: the last that was written of a day counts.
    let back = new_id::<Uuid>().to_string();
    let fields = [
        ("change", back.as_str()),
        ("what", "club"),
        ("turn", "back"),
        ("from", "2026-11-25"),
    ];
    coach.post(&page, &fields).expect(303);
    assert!(offered(
        &coach.get(&gym.path("assign")).expect(200),
        "Ash 5"
    ));
    let today = gym.athlete().await.get(&gym.path("today")).expect(200);
    assert!(!today.words().contains("out of use"), "{}", today.words());
    assert_eq!(
        coach
            .get(&page)
            .expect(200)
            .body
            .matches("/planned/")
            .count(),
        0
    );
}

#[tokio::test]
async fn a_club_lent_from_next_week_is_out_only_then() {
    let hall = Hall::new().await;
    let gym = &hall.gym;
    hall.plan_light().await;
    let club = hall.club_of(hall.light).await;
    let page = gym.path(&format!("rack/clubs/{club}/use"));
    let mut coach = gym.coach().await;
    coach.get(&page).expect(200);
    let id = new_id::<Uuid>().to_string();
    coach.post(&page, &out(&id, "2026-12-05")).expect(303);
    // Of the Wednesdays 25 November, 2, 9 and 16 December the last two fall on days without it.
    assert_eq!(
        coach
            .get(&page)
            .expect(200)
            .body
            .matches("/planned/")
            .count(),
        2
    );
    assert!(offered(
        &coach.get(&gym.path("assign")).expect(200),
        "Ash 5"
    ));
    gym.clock.advance(Duration::days(10));
    let mut coach = gym.coach().await;
    assert!(!offered(
        &coach.get(&gym.path("assign")).expect(200),
        "Ash 5"
    ));
}

#[tokio::test]
async fn a_loadable_club_is_due_after_thirty_days_and_its_inspection_counts_anew() {
    let hall = Hall::new().await;
    let gym = &hall.gym;
    let club = hall.club_of(hall.light).await;
    hall.is_loadable(club).await;
    let page = gym.path(&format!("rack/clubs/{club}/inspections"));
    // 30 days after 25 November is 25 December: in time that day, overdue the next (by the calendar).
    gym.clock.advance(Duration::days(30));
    let mut coach = gym.coach().await;
    assert!(
        !coach
            .get(&gym.path("rack"))
            .expect(200)
            .words()
            .contains("overdue")
    );
    gym.clock.advance(Duration::days(1));
    let words = coach.get(&gym.path("rack")).expect(200).words();
    assert!(
        words.contains("Inspection overdue") && words.contains("no inspection is in the book"),
        "{words}"
    );
    let offer = coach.get(&gym.path("assign")).expect(200);
    assert!(offer.body.contains("inspection overdue"));
    let shown = gym
        .athlete()
        .await
        .get(&gym.path(&format!("rack/clubs/{club}")))
        .expect(200);
    assert!(
        shown.words().contains("Inspection overdue"),
        "{}",
        shown.words()
    );

    coach.get(&page).expect(200);
    let id = new_id::<Uuid>().to_string();
    let sound = |found| {
        vec![
            ("inspection", id.as_str()),
            ("inspected_on", "2026-12-26"),
            ("found", found),
            ("note", "Pins replaced."),
            ("next_in_days", "14"),
        ]
    };
    let wrong = coach.post(&page, &sound("")).expect(422);
    assert!(
        wrong.body.contains("Pins replaced."),
        "what was typed stays"
    );
    for _ in 0..2 {
        coach.post(&page, &sound("in_order")).expect(303);
    }
    let mut tx = gym.enter().await;
    let book = care::inspections_of(&mut tx, club).await.unwrap();
    assert_eq!(book.len(), 1, "sent twice, written once");
    let expected = Inspection {
        on: date!(2026 - 12 - 26),
        next_in_days: 14,
    };
    assert_eq!(
        (book[0].inspection, book[0].by.as_str()),
        (expected, gym.coach.name.as_str())
    );
    drop(tx);
    assert!(
        !coach
            .get(&gym.path("rack"))
            .expect(200)
            .words()
            .contains("overdue")
    );
    // The next time the same interval is proposed.
    assert_eq!(
        coach.get(&page).field("next_in_days").as_deref(),
        Some("14")
    );
    gym.clock.advance(Duration::days(15));
    let mut coach = gym.coach().await;
    assert!(
        coach
            .get(&gym.path("rack"))
            .expect(200)
            .words()
            .contains("overdue")
    );

    // One that is found unfit goes out of use with the inspection.
    let other = new_id::<Uuid>().to_string();
    let unfit = [
        ("inspection", other.as_str()),
        ("inspected_on", "2027-01-10"),
        ("found", "taken_out"),
        ("note", "Sleeve cracked."),
        ("next_in_days", "14"),
    ];
    let sent = coach.post(&page, &unfit).expect(303);
    assert!(sent.location().ends_with("/use?done=use-changed"));
    let words = coach.get(&gym.path("rack")).expect(200).words();
    assert!(
        words.contains("Out of use Ash 5 since") && words.contains("broken"),
        "{words}"
    );
}

#[tokio::test]
async fn people_on_the_ladder_are_for_their_own_coach() {
    let hall = Hall::new().await;
    let gym = &hall.gym;
    hall.swing(gym.athlete_id, hall.middle).await;
    let (_, other) = gym
        .another_athlete("Nils Grau", "nils@quarry.example")
        .await;
    hall.swing(other, hall.middle).await;
    let name = gym.athlete.name.clone();

    let page = gym.coach().await.get(&gym.path("rack")).expect(200);
    assert!(
        page.body
            .contains(&format!("aria-label=\"1 at Elm 6: {name}\"")),
        "{}",
        page.words()
    );
    assert!(!page.body.contains("Nils Grau"), "is on nobody’s roster");
    // Held otherwise, nobody stands there.
    let one = gym.path(&format!("rack?movement={}&hands=one", hall.mill));
    let page = gym.coach().await.get(&one).expect(200);
    assert!(!page.body.contains("class=\"stand\""));
    assert!(page.words().contains("1 with no such work within a year"));

    let own = gym.athlete().await.get(&gym.path("rack")).expect(200);
    assert!(own.body.contains(&format!("1 at Elm 6: {name}")) && !own.body.contains("Nils Grau"));
    let ladder = gym.owner().await.get(&gym.path("rack")).expect(200);
    assert!(ladder.body.contains("class=\"ladder\"") && !ladder.body.contains("class=\"stand\""));
    let athlete = gym.path(&format!("rack?athlete={}", gym.athlete_id));
    assert!(
        !gym.owner()
            .await
            .get(&athlete)
            .expect(200)
            .body
            .contains("class=\"stand\"")
    );
    let stranger = gym
        .person("Ebba Roth", "ebba@quarry.example", &[Role::Coach])
        .await;
    let theirs = gym.sign_in(&stranger).await.get(&athlete).expect(200);
    assert!(!theirs.body.contains("class=\"stand\""), "of another coach");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_keeps_the_rack_by_mouse_by_keyboard_and_without_script() {
    let stage = Stage::new().await;
    let mut tx = stage.gym.enter().await;
    let loadable = rack::clubs(&mut tx)
        .await
        .unwrap()
        .into_iter()
        .find(|club| club.details.loadable && club.details.owner.is_none())
        .expect("a loadable club");
    drop(tx);
    // Whatever came into the rack on the first day is overdue.
    stage.gym.clock.advance(Duration::days(40));
    stage.run(
        "rack.mjs",
        &[("LEVERBOOK_TEST_CLUB", loadable.id.to_string())],
    );
    let mut tx = stage.gym.enter().await;
    let found = care::inspections_of(&mut tx, loadable.id).await.unwrap();
    assert_eq!(found.len(), 2, "one by keyboard, one without script");
    let kept: Vec<f64> = rack::loadings(&mut tx)
        .await
        .unwrap()
        .into_iter()
        .filter(|loading| loading.name.as_str() == "Timed rod")
        .filter_map(|loading| loading.measure.mechanics().inertia_cm)
        .map(|inertia| inertia.value().kgm2())
        .collect();
    // A uniform rod about its centre, mL²/12 = 6/12 (OpenStax University Physics vol. 1 § 10.5), within what a hand on
    // a watch is off.
    assert_eq!(kept.len(), 1);
    assert!((kept[0] - 0.5).abs() < 0.05, "{kept:?}");
}
