//! Classes and their plans: who keeps the list, who swings what, when, what waits, two coaches at
//! once, last time's order.

use leverbook_domain::club::{ClubFields, ClubMeasure};
use leverbook_domain::id::{AthleteId, ClassId, ClubId, LoadingId, MovementId};
use leverbook_domain::plan::{BlockDraft, BlockWish, IntervalSets, Scheme, Swung};
use leverbook_domain::policy::Policy;
use leverbook_domain::roster::PersonName;
use leverbook_domain::text::{ClassName, ClubName, Guidance, LoadingName, MovementName};
use leverbook_domain::training::{Hands, Note, Pain, SetDone, Side, Work};
use leverbook_domain::units::{Pain as PainScore, Reps, Seconds, UnitSystem};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::accounts::{Account, Email};
use leverbook_store::classes::{self, ClassDetails};
use leverbook_store::log::{self, Done, NewRevision};
use leverbook_store::people::{self, Role};
use leverbook_store::rack::{self, ClubDetails, MovementDetails, NewLoading};
use leverbook_store::{GymTx, athletes, blocks, flags};
use leverbook_tests::{Actor, Answer, NOW, TestGym, assign, new_id};
use time::macros::{date, time};
use time::{Date, Weekday};

use crate::browser::Stage;
use crate::routes::all_that_is_stored;

/// A Wednesday, the day of the tests' clock.
const DAY: Date = date!(2026 - 11 - 25);

fn wednesday(at_once: u16) -> ClassDetails {
    ClassDetails {
        name: ClassName::new("Evening class").unwrap(),
        weekday: Weekday::Wednesday,
        starts_at: time!(18:30),
        minutes: 60,
        at_once,
        coach: None,
    }
}

/// A class of everybody on the roster of the invented gym's first coach, with a plan for today in
/// which most swing a club that the coach chose by hand.
pub(crate) async fn with_a_plan(stage: &Stage) -> ClassId {
    let class = new_id();
    let entered = stage.gym.store.enter(stage.gym.id, stage.coach).await;
    let mut tx = entered.unwrap();
    let members: Vec<AthleteId> = blocks::assignable(&mut tx)
        .await
        .unwrap()
        .into_iter()
        .map(|one| one.athlete)
        .collect();
    let mut details = wednesday(6);
    details.coach = Some(stage.coach);
    classes::add(&mut tx, class, &details, NOW).await.unwrap();
    classes::set_members(&mut tx, class, &members)
        .await
        .unwrap();
    let clubs: Vec<LoadingId> = rack::loadings(&mut tx)
        .await
        .unwrap()
        .into_iter()
        .filter(|loading| {
            ["Oak 6", "Oak 7.1", "Tallow bar, two plates"].contains(&loading.name.as_str())
        })
        .map(|loading| loading.id)
        .collect();
    let standing = flags::standing_for(&mut tx, &members).await.unwrap();
    tx.commit().await.unwrap();
    let held = |athlete: &AthleteId| {
        standing
            .iter()
            .any(|flag| flag.athlete == *athlete && flag.holds_work(DAY))
    };
    let mut fields = vec![
        ("on".to_owned(), DAY.to_string()),
        ("revision".to_owned(), "0".to_owned()),
        ("at_once".to_owned(), "6".to_owned()),
    ];
    for (number, athlete) in members.iter().filter(|one| !held(one)).enumerate() {
        fields.push(("here".to_owned(), athlete.to_string()));
        if *athlete != stage.bruno {
            let club = clubs[number % clubs.len()];
            fields.push((format!("club-{athlete}"), club.to_string()));
        }
    }
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    let people = people::list(&mut stage.gym.enter().await).await.unwrap();
    let coach = people
        .into_iter()
        .find(|one| one.id == stage.coach)
        .unwrap();
    let coach = Account {
        id: coach.id,
        email: Email::new(&coach.email).unwrap(),
        name: PersonName::new(&coach.name).unwrap(),
        units: UnitSystem::Kilogram,
    };
    let mut coach = stage.gym.sign_in(&coach).await;
    coach
        .post(&stage.gym.path(&format!("classes/{class}/plan")), &fields)
        .expect(303);
    class
}

/// A class on Wednesdays with four athletes of the coach, each with a session today: two with the
/// one Forge, two with the bar that is loaded in two ways.
struct Hall {
    gym: TestGym,
    class: ClassId,
    movement: MovementId,
    forge: LoadingId,
    bar: [LoadingId; 2],
    /// Two of them, of which no plan makes use.
    oak: LoadingId,
    /// Ada and Bea swing the Forge, Cem and Dov the bar.
    people: [AthleteId; 4],
}

impl Hall {
    async fn new(at_once: u16) -> Self {
        let gym = TestGym::new().await;
        let mut people = Vec::new();
        for name in ["Ada Quill", "Bea Moss", "Cem Arda", "Dov Lake"] {
            let email = format!("{}@quarry.example", &name[..3].to_lowercase());
            people.push(gym.another_athlete(name, &email).await.1);
        }
        let people: [AthleteId; 4] = people.try_into().unwrap();
        let mut tx = gym.enter().await;
        let movement = new_id();
        let details = MovementDetails {
            name: MovementName::new("mill").unwrap(),
            cues: Guidance::new("").unwrap(),
            faults: Guidance::new("").unwrap(),
        };
        rack::add_movement(&mut tx, movement, &details)
            .await
            .unwrap();
        let forge = club(&mut tx, "Forge 8", 1, None, false).await.1;
        let oak = club(&mut tx, "Oak 6", 2, None, false).await.1;
        let (bar_club, bare) = club(&mut tx, "Bar", 1, None, true).await;
        let loaded = new_loading("Bar, two plates");
        rack::add_loading(&mut tx, bar_club, &loaded, NOW)
            .await
            .unwrap();
        let bar = [bare, loaded.id];
        let class = new_id();
        classes::add(&mut tx, class, &wednesday(at_once), NOW)
            .await
            .unwrap();
        classes::set_members(&mut tx, class, &people).await.unwrap();
        for (athlete, loading) in people.iter().zip([forge, forge, bar[0], bar[1]]) {
            athletes::set_coaches(&mut tx, *athlete, &[gym.coach.id])
                .await
                .unwrap();
            planned(&mut tx, *athlete, movement, loading).await;
        }
        tx.commit().await.unwrap();
        Self {
            gym,
            class,
            movement,
            forge,
            bar,
            oak,
            people,
        }
    }

    fn path(&self, on: Date) -> String {
        self.gym
            .path(&format!("classes/{}/plan?on={on}", self.class))
    }

    /// The form for these people, with more fields.
    fn make(
        &self,
        actor: &mut Actor,
        on: Date,
        revision: i32,
        here: &[AthleteId],
        more: &[(&str, &str)],
    ) -> Answer {
        let (on, revision) = (on.to_string(), revision.to_string());
        let here: Vec<String> = here.iter().map(ToString::to_string).collect();
        let mut fields = vec![
            ("on", on.as_str()),
            ("revision", revision.as_str()),
            ("at_once", "6"),
        ];
        fields.extend(here.iter().map(|id| ("here", id.as_str())));
        fields.extend(more);
        let path = self.gym.path(&format!("classes/{}/plan", self.class));
        actor.post(&path, &fields)
    }

    /// The rotations of the newest plan, by name.
    async fn rotations(&self, on: Date) -> Vec<Vec<String>> {
        let mut tx = self.gym.enter().await;
        let names = athletes::all(&mut tx).await.unwrap();
        let kept = classes::plan_on(&mut tx, self.class, on)
            .await
            .unwrap()
            .expect("a plan");
        let name = |id: AthleteId| {
            let athlete = names.iter().find(|athlete| athlete.id == id).unwrap();
            athlete.name.as_str()[..3].to_owned()
        };
        kept.made
            .plan
            .rotations
            .iter()
            .map(|swings| swings.iter().map(|swing| name(swing.athlete)).collect())
            .collect()
    }

    async fn plans(&self) -> i64 {
        let mut tx = self.gym.enter().await;
        sqlx::query_scalar("select count(*) from class_plans where gym_id = $1")
            .bind(self.gym.id.0)
            .fetch_one(tx.conn())
            .await
            .unwrap()
    }
}

fn new_loading(name: &str) -> NewLoading {
    NewLoading {
        id: new_id(),
        name: LoadingName::new(name).unwrap(),
        measure: ClubMeasure::try_from(ClubFields {
            mass_kg: Some(8.0),
            length_mm: Some(700.0),
            ..ClubFields::default()
        })
        .unwrap(),
    }
}

async fn club(
    tx: &mut GymTx,
    name: &str,
    count: u16,
    owner: Option<AthleteId>,
    loadable: bool,
) -> (ClubId, LoadingId) {
    let details = ClubDetails {
        name: ClubName::new(name).unwrap(),
        owner,
        loadable,
        count,
    };
    let (id, first) = (new_id(), new_loading(name));
    rack::add_club(tx, id, &details, &first, NOW).await.unwrap();
    (id, first.id)
}

/// A block on Wednesdays from today on.
async fn planned(tx: &mut GymTx, athlete: AthleteId, movement: MovementId, loading: LoadingId) {
    let wish = BlockWish {
        movement,
        scheme: Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds: Seconds::new(30).unwrap(),
            rest_seconds: 60,
            goal: None,
        }),
        weekdays: vec![3],
        starts_on: DAY,
        weeks: 4,
        note: String::new(),
    };
    let draft = BlockDraft::new(wish, &Policy::default(), DAY).unwrap();
    let swung = Swung {
        movement_name: "mill",
        loading,
        club_name: "as planned",
    };
    assign(tx, athlete, draft, swung, NOW).await;
}

/// A session of yesterday that hurt enough to stop the work (L4: 4 and more of 10).
async fn hurts(tx: &mut GymTx, athlete: AthleteId, movement: MovementId, loading: LoadingId) {
    let set = |side| SetDone {
        movement,
        hands: Hands::Two,
        loading,
        side,
        work: Work::Interval {
            seconds: Seconds::new(30).unwrap(),
            reps: Reps::new(12).unwrap(),
        },
    };
    let revision = NewRevision {
        revision: new_id(),
        replaces: None,
        athlete,
        done: Some(Done {
            on: date!(2026 - 11 - 24),
            planned: None,
            minutes: None,
            effort: None,
            pain: vec![Pain {
                score: PainScore::new(7).unwrap(),
                place: None,
            }],
            note: Note::default(),
            sets: vec![set(Side::Left), set(Side::Right)],
        }),
        logged_at: NOW,
    };
    log::record(tx, &revision).await.unwrap();
    flags::reassess(tx, athlete, DAY).await.unwrap();
}

#[tokio::test]
async fn the_coach_and_the_owner_keep_the_list() {
    let hall = Hall::new(6).await;
    let gym = &hall.gym;
    let mut owner = gym.owner().await;
    let (id, member) = (new_id::<ClassId>().to_string(), hall.people[0].to_string());
    let coach_id = gym.coach.id.to_string();
    let fields = |name: &'static str| {
        [
            ("class", id.as_str()),
            ("name", name),
            ("day", "1"),
            ("starts_at", "7:15"),
            ("minutes", "45"),
            ("at_once", "5"),
            ("taken_by", coach_id.as_str()),
            ("member", member.as_str()),
        ]
        .to_vec()
    };
    // Sent twice, there is one class.
    for _ in 0..2 {
        owner
            .post(&gym.path("classes/new"), &fields("Early class"))
            .expect(303);
    }
    let list = owner.get(&gym.path("classes")).expect(200);
    assert_eq!(list.body.matches("Early class</th>").count(), 1);
    let words = list.words();
    assert!(
        words.contains("Monday, 07:15") && words.contains(gym.coach.name.as_str()),
        "{words}"
    );
    assert!(!list.body.contains("/plan?on="), "plans are the coach's");

    // A second class of that name at that hour, and every field wrong at once.
    let mut again = fields("Early class");
    again[0].1 = "0193a000-0000-7000-8000-000000000001";
    let page = owner.post(&gym.path("classes/new"), &again).expect(422);
    assert!(
        page.words()
            .contains("is the name of another class at that hour")
    );
    assert_eq!(page.field("minutes").as_deref(), Some("45"));
    let wrong = [
        ("name", ""),
        ("day", "8"),
        ("starts_at", "25:00"),
        ("minutes", "5"),
        ("at_once", "0"),
        ("taken_by", "nobody"),
        ("member", "nobody"),
    ];
    let page = owner.post(&gym.path("classes/new"), &wrong).expect(422);
    for (field, _) in wrong {
        assert!(
            page.body.contains(&format!("id=\"{field}-error\"")),
            "{field}"
        );
    }

    let change = gym.path(&format!("classes/{id}/edit"));
    let shown = owner.get(&change).expect(200);
    assert!(shown.body.contains(&format!("value=\"{member}\" checked")));
    let mut fields = fields("Dawn class");
    fields.pop();
    let mut coach = gym.coach().await;
    coach.post(&change, &fields).expect(303);
    let list = coach.get(&gym.path("classes")).expect(200);
    assert!(list.words().contains("Dawn class"));
    assert!(
        list.body.contains(&format!("{id}/plan?on=2026-11-30")),
        "the next Monday"
    );
    let members = classes::members(&mut gym.enter().await, id.parse().unwrap())
        .await
        .unwrap();
    assert_eq!(members, []);

    let retire = gym.path(&format!("classes/{id}/retire"));
    coach.post(&retire, &[]).expect(303);
    let list = coach.get(&gym.path("classes")).expect(200);
    assert!(list.words().contains("Taken out of the week (1)"));
    coach.post(&retire, &[("bring", "back")]).expect(303);
    let list = coach.get(&gym.path("classes")).expect(200);
    assert!(!list.words().contains("Taken out of the week"));
}

#[tokio::test]
async fn the_plan_has_the_fewest_rotations_and_says_what_is_short() {
    let hall = Hall::new(6).await;
    let mut coach = hall.gym.coach().await;
    let page = coach.get(&hall.path(DAY)).expect(200);
    for athlete in hall.people {
        assert!(
            page.body.contains(&format!("value=\"{athlete}\" checked")),
            "{athlete}"
        );
    }
    assert!(page.words().contains("5 sets of 30 s a side"));

    // The one Forge is wanted by two, and the bar cannot be loaded in two ways at once.
    hall.make(&mut coach, DAY, 0, &hall.people, &[]).expect(303);
    assert_eq!(hall.rotations(DAY).await, [["Ada", "Cem"], ["Bea", "Dov"]]);
    let words = coach.get(&hall.path(DAY)).expect(200).words();
    for said in [
        "2 rotations, 30 minutes each at most",
        "at most 6 at once",
        "Inspect collars and fasteners first: Bar.",
        "Forge 8 is short: wanted 2 times and there is 1, so 2 rotations. Wanted by Ada Quill and Bea Moss.",
        "Bar is short: wanted 2 times and there is 1, so 2 rotations. Wanted by Cem Arda and Dov Lake.",
        "No single extra club would save a rotation.",
    ] {
        assert!(words.contains(said), "{said}\n{words}");
    }

    // Without Dov, the Forge alone is short, and one more would do.
    hall.make(&mut coach, DAY, 1, &hall.people[..3], &[])
        .expect(303);
    let words = coach.get(&hall.path(DAY)).expect(200).words();
    let said = "One more Forge 8 would help most: 1 rotation instead of 2.";
    assert!(words.contains(said), "{words}");

    // Two at once: the room asks for as many as the clubs.
    let fields = [
        ("on", "2026-11-25"),
        ("revision", "2"),
        ("at_once", "1"),
        ("here", &hall.people[0].to_string()),
        ("here", &hall.people[2].to_string()),
    ];
    let path = hall.gym.path(&format!("classes/{}/plan", hall.class));
    coach.post(&path, &fields).expect(303);
    let words = coach.get(&hall.path(DAY)).expect(200).words();
    let said = "2 turns with a club, and the room takes 1 at once: 2 rotations.";
    assert!(words.contains(said), "{words}");
}

#[tokio::test]
async fn next_week_keeps_the_order_and_the_coach_may_hold_somebody_first() {
    let hall = Hall::new(6).await;
    let mut coach = hall.gym.coach().await;
    let [ada, bea, ..] = hall.people;
    let first = |athlete: AthleteId| athlete.to_string();
    hall.make(&mut coach, DAY, 0, &hall.people, &[("first", &first(bea))])
        .expect(303);
    assert_eq!(hall.rotations(DAY).await, [["Bea", "Cem"], ["Ada", "Dov"]]);

    let next = date!(2026 - 12 - 02);
    hall.make(&mut coach, next, 0, &hall.people, &[])
        .expect(303);
    assert_eq!(hall.rotations(next).await, [["Bea", "Cem"], ["Ada", "Dov"]]);

    // Made again with another club for Ada: she can swing in the first rotation, but keeps her place.
    let club = format!("club-{ada}");
    let oak = hall.oak.to_string();
    hall.make(&mut coach, next, 1, &hall.people, &[(&club, &oak)])
        .expect(303);
    assert_eq!(hall.rotations(next).await, [["Bea", "Cem"], ["Ada", "Dov"]]);
    let page = coach.get(&hall.path(next)).expect(200);
    assert!(page.body.contains(&format!("value=\"{oak}\" selected")));

    // Both held to be first with one Forge: one gives way, and it is said.
    let held = [("first", first(ada)), ("first", first(bea))];
    let held: Vec<(&str, &str)> = held.iter().map(|(name, id)| (*name, id.as_str())).collect();
    hall.make(&mut coach, next, 2, &hall.people, &held)
        .expect(303);
    let words = coach.get(&hall.path(next)).expect(200).words();
    assert!(
        words.contains("Not in the first rotation, though held to be first: Ada Quill."),
        "{words}"
    );
}

#[tokio::test]
async fn work_that_waits_for_the_coach_is_left_out_and_said() {
    let hall = Hall::new(6).await;
    let mut coach = hall.gym.coach().await;
    hall.make(&mut coach, DAY, 0, &hall.people, &[]).expect(303);

    let ada = hall.people[0];
    let mut tx = hall.gym.enter().await;
    hurts(&mut tx, ada, hall.movement, hall.forge).await;
    tx.commit().await.unwrap();
    let page = coach.get(&hall.path(DAY)).expect(200);
    let words = page.words();
    let said = "Since this plan was made, a stop flag was opened (L4) for Ada Quill.";
    assert!(words.contains(said), "{words}");
    assert!(words.contains("They are left out until you have decided about it."));
    assert!(
        !page
            .body
            .contains(&format!("name=\"here\" value=\"{ada}\""))
    );

    // Nor by a page that was opened before, nor with a club chosen by hand.
    let mut admin = hall.gym.database.connect(DatabaseRole::Admin).await;
    let stored = all_that_is_stored(&mut admin).await;
    let club = format!("club-{ada}");
    for more in [&[][..], &[(club.as_str(), hall.oak.to_string().as_str())]] {
        let page = hall
            .make(&mut coach, DAY, 1, &hall.people, more)
            .expect(422);
        assert!(
            page.words()
                .contains("somebody ticked cannot be planned for now")
        );
    }
    assert_eq!(all_that_is_stored(&mut admin).await, stored);
    hall.make(&mut coach, DAY, 1, &hall.people[1..], &[])
        .expect(303);
    assert_eq!(hall.rotations(DAY).await, [vec!["Cem"], vec!["Bea", "Dov"]]);
}

/// L4: whoever makes the plan again takes nobody along whose own coach has to look first, and is not told
/// why: pain is between an athlete and their coach.
#[tokio::test]
async fn another_coach_takes_nobody_along_whose_work_waits() {
    let hall = Hall::new(6).await;
    let other = hall
        .gym
        .person("Ebba Roth", "ebba@quarry.example", &[Role::Coach])
        .await;
    let mut tx = hall.gym.enter().await;
    athletes::set_coaches(&mut tx, hall.people[0], &[hall.gym.coach.id, other.id])
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let (mut coach, mut other) = (hall.gym.coach().await, hall.gym.sign_in(&other).await);
    hall.make(&mut coach, DAY, 0, &hall.people, &[]).expect(303);
    let dov = hall.people[3];
    let mut tx = hall.gym.enter().await;
    hurts(&mut tx, dov, hall.movement, hall.forge).await;
    tx.commit().await.unwrap();

    let page = other.get(&hall.path(DAY)).expect(200);
    let words = page.words();
    assert!(words.contains("Left out until their own coach has looked."));
    assert!(words.contains("their own coaches look first before Dov Lake may swing"));
    assert!(!words.contains("stop flag"), "{words}");
    let refused = hall.make(&mut other, DAY, 1, &hall.people, &[]).expect(422);
    assert!(
        refused
            .words()
            .contains("somebody ticked cannot be planned for now")
    );
    assert_eq!(hall.plans().await, 1);
    hall.make(&mut other, DAY, 1, &hall.people[..3], &[])
        .expect(303);
    let swing = hall.rotations(DAY).await.concat();
    assert!(!swing.contains(&"Dov".into()), "{swing:?}");
}

#[tokio::test]
async fn two_coaches_at_once_do_not_overwrite_each_other() {
    let hall = Hall::new(6).await;
    let other = hall
        .gym
        .person("Ebba Roth", "ebba@quarry.example", &[Role::Coach])
        .await;
    let mut tx = hall.gym.enter().await;
    for athlete in &hall.people[..2] {
        athletes::set_coaches(&mut tx, *athlete, &[hall.gym.coach.id, other.id])
            .await
            .unwrap();
    }
    tx.commit().await.unwrap();
    let (mut coach, mut other) = (hall.gym.coach().await, hall.gym.sign_in(&other).await);
    hall.make(&mut coach, DAY, 0, &hall.people, &[]).expect(303);
    hall.make(&mut coach, DAY, 0, &hall.people, &[]).expect(303);
    assert_eq!(hall.plans().await, 1, "sent twice, kept once");
    let page = hall
        .make(&mut other, DAY, 0, &hall.people[..1], &[])
        .expect(409);
    assert!(
        page.words().contains("Somebody made this plan anew"),
        "{}",
        page.words()
    );
    assert_eq!(hall.plans().await, 1);

    // The other coach reads the plan and makes it again: those of another roster stay as they were
    // planned, with nothing of their training shown.
    let page = other.get(&hall.path(DAY)).expect(200);
    assert!(
        page.words()
            .contains("As their coach planned it: Bar, two plates."),
        "{}",
        page.words()
    );
    assert!(!page.body.contains(&format!("club-{}", hall.people[3])));
    hall.make(&mut other, DAY, 1, &hall.people[1..], &[])
        .expect(303);
    assert_eq!(hall.rotations(DAY).await, [vec!["Cem"], vec!["Bea", "Dov"]]);

    // On a day without a plan, only their own coaches plan for them.
    let next = date!(2026 - 12 - 02);
    let page = other.get(&hall.path(next)).expect(200);
    assert!(page.words().contains("Cem Arda and Dov Lake"));
    let page = hall
        .make(&mut other, next, 0, &hall.people, &[])
        .expect(422);
    assert!(
        page.words()
            .contains("somebody ticked cannot be planned for now")
    );
    assert_eq!(hall.plans().await, 2);
}

#[tokio::test]
async fn a_club_is_chosen_by_hand_where_nothing_is_planned() {
    let hall = Hall::new(6).await;
    let guest = hall.gym.athlete_id;
    let mut tx = hall.gym.enter().await;
    let own = club(&mut tx, "Ada's own", 1, Some(hall.people[0]), false)
        .await
        .1;
    sqlx::query(
        "insert into excused
             (gym_id, excused_id, athlete_id, first_day, last_day, reason, decided_by, decided_at)
         values ($1, $2, $3, '2026-11-20', '2026-11-28', 'away', $4, $5)",
    )
    .bind(hall.gym.id.0)
    .bind(new_id::<ClassId>().0)
    .bind(hall.people[3].0)
    .bind(hall.gym.coach.id.0)
    .bind(NOW)
    .execute(tx.conn())
    .await
    .unwrap();
    tx.commit().await.unwrap();
    let mut coach = hall.gym.coach().await;
    let page = coach.get(&hall.path(DAY)).expect(200);
    assert!(page.words().contains("Away that day."));
    assert!(
        !page
            .body
            .contains(&format!("value=\"{}\" checked", hall.people[3]))
    );
    assert!(page.words().contains("Nothing planned: choose a club."));

    let (club, or) = (format!("club-{guest}"), format!("or-{guest}"));
    let [own, forge, bare] = [own, hall.forge, hall.bar[0]].map(|id| id.to_string());
    let here = [hall.people[0], guest];
    for (more, said) in [
        (
            vec![],
            "nothing is left to do by the plan; choose a club, or untick them",
        ),
        (
            vec![(club.as_str(), own.as_str())],
            "choose a club from the list",
        ),
        (
            vec![(or.as_str(), bare.as_str())],
            "choose the first club, too",
        ),
    ] {
        let page = hall.make(&mut coach, DAY, 0, &here, &more).expect(422);
        assert!(page.words().contains(said), "{said}: {}", page.words());
        assert!(
            page.body.contains(&format!("value=\"{guest}\" checked")),
            "what was ticked stays"
        );
    }
    assert_eq!(hall.plans().await, 0);

    // Ada has the Forge; the guest would take it, but the bar will do: one rotation.
    let more = [
        (club.as_str(), forge.as_str()),
        (or.as_str(), bare.as_str()),
    ];
    hall.make(&mut coach, DAY, 0, &here, &more).expect(303);
    assert_eq!(hall.rotations(DAY).await, [["Ada", "Ans"]]);

    for (wrong, said) in [
        ("2026-02-30", "is not a day"),
        ("1900-01-01", "must be from"),
    ] {
        let path = hall
            .gym
            .path(&format!("classes/{}/plan?on={wrong}", hall.class));
        assert!(
            coach.get(&path).expect(200).words().contains(said),
            "{wrong}"
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_plans_a_class_by_mouse_by_keyboard_and_without_script() {
    let stage = Stage::new().await;
    stage.run("classes.mjs", &[]);
    let mut tx = stage.gym.enter().await;
    let kept: Vec<(Date, i32, i32)> = sqlx::query_as(
        "select on_date, revision, jsonb_array_length(plan->'rotations') from class_plans
         where gym_id = $1 order by on_date, revision",
    )
    .bind(stage.gym.id.0)
    .fetch_all(tx.conn())
    .await
    .unwrap();
    let next = date!(2026 - 12 - 02);
    assert_eq!(kept, [(DAY, 1, 2), (DAY, 2, 2), (next, 1, 2)]);
}
