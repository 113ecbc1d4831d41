//! Journeys in a real browser, against a real server with the invented gym behind it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use leverbook_domain::id::{AccountId, AthleteId, BlockTemplateId, LoadingId, MovementId};
use leverbook_domain::plan::{
    BlockDraft, BlockWish, IntervalSets, Scheme, Swung, Weekdays, usual_scheme,
};
use leverbook_domain::policy::{Policy, PolicyVersion};
use leverbook_domain::text::NoteBody;
use leverbook_domain::training::Hands;
use leverbook_domain::units::Seconds;
use leverbook_store::block_templates::{self, BlockPattern};
use leverbook_store::blocks::TemplateVersion;
use leverbook_store::notes::{self, About, NewNote};
use leverbook_store::people::{self, Role};
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{GymTx, athletes, digests, flags, invitations, policies, rack};
use leverbook_tests::demo_gym::COACHES;
use leverbook_tests::{NOW, PASSWORD, TestGym, new_id};
use leverbook_web::routes::{self, Who};
use leverbook_web::shipping::ship;
use leverbook_web::tokens;
use time::macros::date;
use time::{Date, Duration};

use crate::demo::demo_gym;
use crate::hall::Hall;

/// The address of the athlete who can sign in.
pub(crate) const ATHLETE: &str = "bruno@quarrylane.example";

/// The invented gym with a session planned for today for Bruno, who can sign in.
pub(crate) struct Stage {
    pub(crate) gym: TestGym,
    pub(crate) bruno: AthleteId,
    pub(crate) coach: AccountId,
    pub(crate) oak: LoadingId,
    pub(crate) circle: MovementId,
}

impl Stage {
    pub(crate) async fn new() -> Self {
        let gym = demo_gym().await;
        let account = gym
            .person("Bruno Ashgrove", ATHLETE, &[Role::Athlete])
            .await;
        let coach = {
            let mut tx = gym.enter().await;
            let people = people::list(&mut tx).await.expect("people");
            people
                .into_iter()
                .find(|person| person.email == COACHES[0])
                .expect("a coach")
                .id
        };
        let mut tx = gym
            .store
            .enter(gym.id, coach)
            .await
            .expect("the door opens");
        let bruno = athletes::all(&mut tx)
            .await
            .expect("athletes")
            .into_iter()
            .find(|athlete| athlete.handle.as_str() == "bruno")
            .expect("Bruno")
            .id;
        athletes::give_account(&mut tx, bruno, account.id)
            .await
            .expect("an account");
        let loadings = rack::loadings(&mut tx).await.expect("the rack");
        let oak = loadings
            .iter()
            .find(|loading| loading.name.as_str() == "Oak 6")
            .expect("Oak 6")
            .id;
        let movements = rack::movements(&mut tx).await.expect("movements");
        let circle = movements
            .iter()
            .find(|movement| movement.details.name.as_str() == "inside circle")
            .expect("a movement")
            .id;
        let intervals = Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds: Seconds::new(30).expect("an interval"),
            rest_seconds: 60,
            goal: None,
        });
        assign(&mut tx, bruno, circle, oak, intervals).await;
        flags::reassess(&mut tx, bruno, NOW.date())
            .await
            .expect("flags");
        tx.commit().await.expect("a plan");
        Self {
            gym,
            bruno,
            coach,
            oak,
            circle,
        }
    }

    /// Plans a block with Oak 6 for Bruno that begins today.
    pub(crate) async fn plan(&self, scheme: Scheme) {
        let entered = self.gym.store.enter(self.gym.id, self.coach).await;
        let mut tx = entered.expect("the door opens");
        assign(&mut tx, self.bruno, self.circle, self.oak, scheme).await;
        tx.commit().await.expect("a plan");
    }

    /// Runs one journey and gives what it says; that is the test's message if it fails.
    pub(crate) fn run(&self, journey: &str, more: &[(&str, String)]) -> String {
        run_journey(&self.gym, journey, more)
    }
}

/// Runs one journey in a gym and gives what it says; that is the test's message if it fails.
pub(crate) fn run_journey(gym: &TestGym, journey: &str, more: &[(&str, String)]) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("browser");
    let output = Command::new("node")
        .arg(folder.join(journey))
        .env("LEVERBOOK_TEST_URL", gym.origin())
        .env("LEVERBOOK_TEST_GYM", gym.id.to_string())
        .env("LEVERBOOK_TEST_PASSWORD", PASSWORD)
        .env("LEVERBOOK_TEST_PICTURES", pictures())
        .env("LEVERBOOK_TEST_COACH", COACHES[0])
        .env("LEVERBOOK_TEST_ATHLETE", ATHLETE)
        .env("LEVERBOOK_TEST_OWNER", gym.owner.email.as_str())
        .envs(more.iter().map(|(name, value)| (*name, value.as_str())))
        .output()
        .expect("node runs");
    assert!(
        output.status.success(),
        "{journey}\n{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Where the pictures of the pages are kept, to be looked at.
fn pictures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/pictures")
}

/// Runs a script's own tests, in node and without a page.
pub(crate) fn passes_in_node(file: &str) {
    let output = Command::new("node")
        .arg("--test")
        .arg(
            Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("browser")
                .join(file),
        )
        .output()
        .expect("node runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{said}");
    assert!(said.contains("# fail 0"), "{said}");
    assert!(!said.contains("# pass 0"), "{said}");
}

pub(crate) async fn assign(
    tx: &mut GymTx,
    athlete: AthleteId,
    movement: MovementId,
    loading: LoadingId,
    scheme: Scheme,
) {
    let wish = BlockWish {
        movement,
        scheme,
        weekdays: vec![3, 6],
        starts_on: date!(2026 - 11 - 25),
        weeks: 6,
        note: "Quiet elbows.".to_owned(),
    };
    let draft = BlockDraft::new(wish, &Policy::default(), NOW.date()).expect("a block");
    let swung = Swung {
        movement_name: "inside circle",
        loading,
        club_name: "Oak 6",
    };
    leverbook_tests::assign(tx, athlete, draft, swung, NOW).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_assigns_a_block_to_three_and_sees_the_objection() {
    let stage = Stage::new().await;
    stage.run("assign.mjs", &[]);
    let mut tx = stage.gym.enter().await;
    let planned: (i64, i64, i64) = sqlx::query_as(
        "select count(distinct b.athlete_id), count(*), count(distinct b.athlete_id) filter (
             where b.overruled_because is not null and jsonb_array_length(b.objections) > 0
         )
         from blocks b join planned_sessions p on p.gym_id = b.gym_id and p.block_id = b.block_id
         where b.gym_id = $1 and b.starts_on = '2026-11-30'",
    )
    .bind(stage.gym.id.0)
    .fetch_one(tx.conn())
    .await
    .expect("a count");
    // Later from a template: for two, since the third was left out.
    let later = assigned(&stage, date!(2027 - 02 - 01)).await;
    let of: Vec<_> = later
        .iter()
        .map(|(name, version, ..)| (name.as_str(), *version))
        .collect();
    assert_eq!(of, [("Abena Thorsley", Some(1)), ("Elske Brandt", Some(1))]);
    assert_eq!(later[0].2, 6, "the sets that the coach changed");
    // Only Abena has worked the movement, so only for her there is a step to object to.
    assert_eq!(
        planned,
        (3, 24, 1),
        "three athletes, two days a week, four weeks"
    );
}

/// Blocks that a coach has assigned with this first day, with the version of the template, their sets, and
/// why they go ahead.
async fn assigned(stage: &Stage, since: Date) -> Vec<(String, Option<i32>, i32, Option<String>)> {
    let mut tx = stage.gym.enter().await;
    sqlx::query_as(
        "select a.name, b.template_version,
             coalesce(b.scheme->>'sets', b.scheme->>'start_sets')::integer, b.overruled_because
         from blocks b join athletes a on a.gym_id = b.gym_id and a.athlete_id = b.athlete_id
         where b.gym_id = $1 and b.starts_on >= $2 order by a.name",
    )
    .bind(stage.gym.id.0)
    .bind(since)
    .fetch_all(tx.conn())
    .await
    .expect("the blocks")
}

/// Gives two athletes a block each that can be gone on from.
async fn two_blocks(stage: &Stage) {
    let entered = stage.gym.store.enter(stage.gym.id, stage.coach).await;
    let mut tx = entered.expect("the door opens");
    let all = athletes::all(&mut tx).await.expect("athletes");
    let movements = rack::movements(&mut tx).await.expect("movements");
    let pullover = movements
        .iter()
        .find(|movement| movement.details.name.as_str() == "pullover")
        .expect("a movement")
        .id;
    let intervals = Scheme::IntervalSets(IntervalSets {
        sets: 5,
        seconds: Seconds::new(30).expect("an interval"),
        rest_seconds: 60,
        goal: None,
    });
    for name in ["Abena Thorsley", "Elske Brandt"] {
        let one = all.iter().find(|one| one.name.as_str() == name);
        let id = one.expect("an athlete").id;
        assign(&mut tx, id, pullover, stage.oak, intervals).await;
        flags::reassess(&mut tx, id, NOW.date())
            .await
            .expect("flags");
    }
    tx.commit().await.expect("two blocks");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_takes_last_blocks_again_with_the_keyboard_alone() {
    let stage = Stage::new().await;
    two_blocks(&stage).await;
    stage.run("assign-keys.mjs", &[]);
    // Six weeks from Wednesday 2026-11-25 end on Sunday 2027-01-03.
    let found = assigned(&stage, date!(2027 - 01 - 04)).await;
    let [abena, elske] = found.as_slice() else {
        panic!("{found:?}");
    };
    assert_eq!((abena.0.as_str(), abena.2), ("Abena Thorsley", 4));
    assert_eq!(abena.3.as_deref(), Some("Swings it at home."));
    assert_eq!(elske.0, "Elske Brandt");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_assigns_from_a_template_without_script() {
    let stage = Stage::new().await;
    stage.run("assign-plain.mjs", &[]);
    let found = assigned(&stage, date!(2026 - 11 - 25)).await;
    let plain: Vec<_> = found.iter().filter(|one| one.1 == Some(2)).collect();
    assert_eq!(plain.len(), 2, "{found:?}");
    let because = plain.iter().filter_map(|one| one.3.as_deref());
    assert!(because.clone().next().is_some() && because.clone().all(|why| why == "Under my eyes."));
}

#[tokio::test(flavor = "multi_thread")]
async fn sixty_athletes_are_readable_in_one_look() {
    let hall = Hall::new().await;
    let names: Vec<String> = (1..=60)
        .map(|number| format!("Athlete {number:02}"))
        .collect();
    for athlete in hall.roster(&hall.gym.coach, &names).await {
        hall.logged(athlete, hall.done(date!(2026 - 11 - 19), hall.light))
            .await;
    }
    let coach = hall.gym.coach.email.as_str().to_owned();
    run_journey(
        &hall.gym,
        "assign-sixty.mjs",
        &[("LEVERBOOK_TEST_COACH", coach)],
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn an_athlete_logs_todays_session_on_a_phone() {
    let stage = Stage::new().await;
    stage.run("log.mjs", &[]);
    let mut tx = stage.gym.enter().await;
    // Every revision of that day, the first one first: which it replaces, whether it stands, its reps.
    let logged: Vec<(bool, bool, i64)> = sqlx::query_as(
        "select s.replaces is not null,
             not exists (select from logged_sessions n
                 where n.gym_id = s.gym_id and n.replaces = s.revision_id),
             (select sum(t.reps) from logged_sets t
                 where t.gym_id = s.gym_id and t.revision_id = s.revision_id and t.loading_id = $3)
         from logged_sessions s
         where s.gym_id = $1 and s.athlete_id = $2 and s.on_date = '2026-11-25'
             and s.planned_id is not null
         order by s.replaces nulls first",
    )
    .bind(stage.gym.id.0)
    .bind(stage.bruno.0)
    .bind(stage.oak.0)
    .fetch_all(tx.conn())
    .await
    .expect("a count");
    assert_eq!(
        logged,
        [(false, false, 155), (true, true, 158)],
        "ten sets of 15 and 16 in turn, stored once though sent twice, and corrected by three"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn an_athlete_puts_the_plan_into_a_calendar_without_script() {
    let stage = Stage::new().await;
    stage.run("calendar.mjs", &[]);
}

/// The budget for a page on a bad line is 60 KB, opened cold, with what is fetched in the background.
#[tokio::test(flavor = "multi_thread")]
async fn the_athletes_pages_are_light_and_can_be_installed() {
    let stage = Stage::new().await;
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../static");
    let shipped = Path::new(env!("CARGO_TARGET_TMPDIR")).join("shipped");
    ship(&source, &shipped);
    stage.run(
        "light.mjs",
        &[
            ("LEVERBOOK_TEST_SOURCE", source.display().to_string()),
            ("LEVERBOOK_TEST_SHIPPED", shipped.display().to_string()),
        ],
    );
}

/// Lighthouse, mobile, with its own throttling: performance 95 of 100, accessibility and best
/// practices 100.
#[tokio::test(flavor = "multi_thread")]
async fn lighthouse_finds_the_athletes_pages_fast_and_within_reach() {
    let stage = Stage::new().await;
    stage.run("lighthouse.mjs", &[]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_finds_the_flag_in_the_week_and_decides() {
    let stage = Stage::new().await;
    stage.run("review.mjs", &[]);
    let mut tx = stage.gym.enter().await;
    let decided: Vec<(String, i16, i16, String, Option<String>, bool)> = sqlx::query_as(
        "select a.handle, d.iso_year, d.iso_week, d.kind || ': ' || d.reason,
             d.decided ->> 'step', p.email = $2
         from review_decisions d
         join athletes a on a.gym_id = d.gym_id and a.athlete_id = d.athlete_id
         join people p on p.gym_id = d.gym_id and p.person_id = d.decided_by
         where d.gym_id = $1 and d.kind in ('change', 'hold')",
    )
    .bind(stage.gym.id.0)
    .bind(COACHES[0])
    .fetch_all(tx.conn())
    .await
    .expect("the decisions");
    let expected = (
        "kaveh".to_owned(),
        2026,
        47,
        "change: The count has been flat since September.".to_owned(),
        Some("step_back".to_owned()),
        true,
    );
    assert_eq!(decided, [expected], "one decision, by the coach");
    let notes: Vec<(String, String)> = sqlx::query_as(
        "select a.handle, n.body from coach_notes n
         join athletes a on a.gym_id = n.gym_id and a.athlete_id = n.athlete_id
         where n.gym_id = $1",
    )
    .bind(stage.gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("the notes");
    let note = "Two lighter weeks, then we look again.";
    assert_eq!(notes, [("kaveh".to_owned(), note.to_owned())]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_coach_tries_a_policy_out_and_makes_an_exception() {
    let stage = Stage::new().await;
    let bruno = stage.bruno.to_string();
    stage.run("policy.mjs", &[("LEVERBOOK_TEST_BRUNO", bruno)]);
    let mut tx = stage.gym.enter().await;
    let policy = policies::of_athlete(&mut tx, stage.bruno)
        .await
        .expect("a policy");
    let gym = Policy {
        version: PolicyVersion(1),
        step_percent: 25.0,
        ..Policy::default()
    };
    assert_eq!(policy.gym(), &gym, "saved once, after two looks");
    let own = Policy { gap_days: 2, ..gym };
    assert_eq!(policy.own(), &own);
}

#[tokio::test(flavor = "multi_thread")]
async fn forms_are_taken_without_tls_in_a_gyms_own_network() {
    let stage = Stage::new().await;
    let address = stage
        .gym
        .origin()
        .replace("127.0.0.1", "book.quarry.example");
    stage.run("plain.mjs", &[("LEVERBOOK_TEST_URL", address)]);
}

/// The file is held against the log itself, counted by another query than the page's.
#[tokio::test(flavor = "multi_thread")]
async fn an_owner_downloads_the_month_and_it_is_what_was_logged() {
    let stage = Stage::new().await;
    let out = std::env::temp_dir().join(format!("leverbook-month-{}.csv", stage.gym.id));
    stage.run(
        "month.mjs",
        &[("LEVERBOOK_TEST_OUT", out.display().to_string())],
    );
    let file = std::fs::read_to_string(&out).expect("the file");
    std::fs::remove_file(&out).expect("the file");
    let mut tx = stage.gym.enter().await;
    let logged: Vec<(String, String)> = sqlx::query_as(
        "select distinct a.handle, s.on_date::text from logged_sessions s
         join athletes a on a.gym_id = s.gym_id and a.athlete_id = s.athlete_id
         where s.gym_id = $1 and to_char(s.on_date, 'YYYY-MM') = '2026-10' order by 1, 2",
    )
    .bind(stage.gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("the log");
    let mut lines = file.split("\r\n");
    let head: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let mut downloaded: Vec<(String, String)> = lines
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|cells| cells.len() == head.len() && !cells[0].is_empty())
        .flat_map(|cells| {
            let came = cells.iter().zip(&head).skip(2).take(head.len() - 3);
            came.filter(|(cell, _)| **cell == "1")
                .map(|(_, day)| (cells[0].to_owned(), (*day).to_owned()))
                .collect::<Vec<_>>()
        })
        .collect();
    downloaded.sort();
    assert!(logged.len() > 100, "an October with nobody proves nothing");
    assert_eq!(downloaded, logged);
}

/// Everybody of whom the invented gym tells a story that looks different on their own page, and one who has
/// logged nothing.
#[tokio::test(flavor = "multi_thread")]
async fn everybody_sees_how_they_are_doing() {
    let stage = Stage::new().await;
    let people: [(&str, &str, &[&str]); 9] = [
        ("counts", "bruno", &["The goal is", "Your coach decides."]),
        ("level", "kaveh", &["That happens to everybody"]),
        ("sides", "quilla", &["Same number on each side from here"]),
        ("fingertips", "xanthe", &["fingertips, with"]),
        ("ladder", "zelda", &["Sets are added little by little"]),
        ("step", "imani", &["You have done what you set out to do"]),
        ("stepped", "hollis", &["sessions with a club set its goal"]),
        ("gap", "signe", &["Welcome back", "An easy way back in"]),
        (
            "pain",
            "edvard",
            &["licensed clinician", "Until then this work waits."],
        ),
    ];
    let mut states = Vec::new();
    for (state, handle, says) in people {
        let email = format!("{handle}@quarrylane.example");
        if handle != "bruno" {
            stage.lets_in(handle, &email).await;
        }
        states.push(serde_json::json!({
            "state": state, "email": email, "charts": 3, "says": says,
        }));
    }
    states.push(serde_json::json!({
        "state": "nothing",
        "email": stage.gym.athlete.email.as_str(),
        "charts": 0,
        "says": ["Nothing logged yet"],
    }));
    stage.run(
        "mine.mjs",
        &[(
            "LEVERBOOK_TEST_STATES",
            serde_json::json!(states).to_string(),
        )],
    );
}

/// Every page that there is, as everybody who may see it: axe, light and dark, 360 px.
#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_within_reach_of_everybody() {
    let stage = Stage::new().await;
    let pages = stage.pages().await;
    assert!(pages.len() > 20, "{pages:?}");
    stage.run(
        "pages.mjs",
        &[("LEVERBOOK_TEST_PAGES", serde_json::json!(pages).to_string())],
    );
}

impl Stage {
    /// Gives somebody of the invented gym an account.
    async fn lets_in(&self, handle: &str, email: &str) {
        let person = self.gym.person(handle, email, &[Role::Athlete]).await;
        let mut tx = self.gym.enter().await;
        let athlete = athletes::all(&mut tx)
            .await
            .expect("athletes")
            .into_iter()
            .find(|athlete| athlete.handle.as_str() == handle)
            .expect("somebody of the invented gym");
        athletes::give_account(&mut tx, athlete.id, person.id)
            .await
            .expect("an account");
        tx.commit().await.expect("an account");
    }

    /// Every page of the table of routes, once for each role that may see it, with addresses that
    /// lead somewhere. Downloads are no pages.
    async fn pages(&self) -> Vec<serde_json::Value> {
        let examples = self.examples().await;
        let callers = [
            (Role::Coach, COACHES[0]),
            (Role::Athlete, ATHLETE),
            (Role::Owner, self.gym.owner.email.as_str()),
        ];
        let mut pages = Vec::new();
        for route in routes::table() {
            if route.method != "GET"
                || [".csv", ".toml", ".ics", ".js", ".webmanifest", "/carry"]
                    .iter()
                    .any(|end| route.path.ends_with(end))
                || route.path.contains("{name}")
            {
                continue;
            }
            let mut path = filled(route.path, &examples);
            if route.path.ends_with("/review") {
                // The week that the invented logs end in.
                path += "?week=2026-W47";
            }
            let name = route
                .path
                .trim_matches('/')
                .replace("g/{gym}", "gym")
                .replace(['/', '{', '}'], "-");
            let who: Vec<Option<(Role, &str)>> = match route.who {
                Who::Anyone => vec![None],
                Who::SignedIn => vec![Some(callers[0])],
                Who::Gym(roles) => callers
                    .into_iter()
                    .filter(|(role, _)| roles.contains(role))
                    .map(Some)
                    .collect(),
            };
            for caller in who {
                let role = caller.map_or("anybody", |(role, _)| role.word());
                pages.push(serde_json::json!({
                    "who": caller.map(|(_, email)| email),
                    "name": format!("{role}-{name}"),
                    "path": path,
                }));
            }
        }
        pages
    }

    /// Something of Bruno's, or of the gym's, for every parameter that a route may have.
    async fn examples(&self) -> BTreeMap<&'static str, String> {
        let token = tokens::secret();
        let mut tx = self.gym.enter().await;
        let hash = TokenHash::of(&token);
        invitations::create(
            &mut tx,
            hash,
            Role::Coach,
            None,
            NOW,
            NOW + Duration::days(1),
        )
        .await
        .expect("an invitation");
        let stop = tokens::secret();
        digests::ask(&mut tx, &stop, NOW).await.expect("a wish");
        let note = |side, words| NewNote {
            id: new_id(),
            athlete: self.bruno,
            side,
            about: About::Nothing,
            body: NoteBody::new(words).expect("a note"),
            at: NOW,
        };
        for (side, words) in [
            (
                notes::Side::Coach,
                "Two lighter weeks.\nThen we look again.",
            ),
            (notes::Side::Athlete, "The grip is thicker than I thought."),
        ] {
            notes::write(&mut tx, &note(side, words))
                .await
                .expect("a note");
        }
        let mut examples = BTreeMap::from([
            ("stop", stop),
            ("gym", self.gym.id.to_string()),
            ("athlete", self.bruno.to_string()),
            ("loading", self.oak.to_string()),
            ("token", token),
        ]);
        for (name, sql) in [
            ("club", "select club_id from loadings where gym_id = $1 and name = 'Oak 6'"),
            ("movement", "select movement_id from movements where gym_id = $1 and name = 'pullover'"),
            ("person", "select person_id from people where gym_id = $1 order by name limit 1"),
            ("block", "select block_id from blocks where gym_id = $1 limit 1"),
            ("planned", "select planned_id from planned_sessions where gym_id = $1 order by planned_id limit 1"),
            (
                "act",
                "insert into plan_acts
                     (gym_id, act_id, athlete_id, what, first_day, last_day, decided_by, decided_at)
                 select gym_id, gen_random_uuid(), athlete_id, 'move', date '2026-11-26',
                        date '2026-11-27', assigned_by, assigned_at
                 from blocks join athletes using (gym_id, athlete_id)
                 where gym_id = $1 and handle = 'bruno' limit 1
                 returning act_id",
            ),
            (
                "flag",
                "select flag_id from flags f join athletes a using (gym_id, athlete_id)
                 where f.gym_id = $1 and a.handle = 'bruno' order by since desc, flag_id limit 1",
            ),
            (
                "session",
                "select session_id from logged_sessions s join athletes a using (gym_id, athlete_id)
                 where s.gym_id = $1 and a.handle = 'bruno' order by on_date desc limit 1",
            ),
        ] {
            let id: uuid::Uuid = sqlx::query_scalar(sql)
                .bind(self.gym.id.0)
                .fetch_one(tx.conn())
                .await
                .expect(name);
            examples.insert(name, id.to_string());
        }
        let template = self.template(&mut tx).await;
        examples.insert("template", template.to_string());
        tx.commit().await.expect("an invitation");
        let class = crate::classes::with_a_plan(self).await;
        examples.insert("class", class.to_string());
        examples
    }

    /// Keeps a block template of two versions.
    async fn template(&self, tx: &mut GymTx) -> BlockTemplateId {
        let template: BlockTemplateId = new_id();
        let mut pattern = BlockPattern {
            name: "Steady count".to_owned(),
            movement: self.circle,
            each_their_own: true,
            scheme: usual_scheme(Hands::Two, &Policy::default()),
            weekdays: Weekdays::from_iso([1, 4]).expect("two days"),
            weeks: 8,
            note: "Count out loud.".to_owned(),
        };
        block_templates::add(tx, template, &pattern, NOW)
            .await
            .expect("a template");
        pattern.weeks = 12;
        let first = TemplateVersion {
            template,
            version: 1,
        };
        block_templates::change(tx, first, &pattern, NOW)
            .await
            .expect("a second version");
        template
    }
}

/// A route's address with every parameter filled in.
fn filled(path: &str, examples: &BTreeMap<&str, String>) -> String {
    let address = examples
        .iter()
        .fold(path.to_owned(), |path, (name, value)| {
            path.replace(&format!("{{{name}}}"), value)
        });
    assert!(!address.contains('{'), "no example for {address}");
    address
}
