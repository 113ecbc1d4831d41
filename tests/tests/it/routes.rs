//! Every route of the table, tried by every kind of caller. A new route is tried without being
//! named here; one whose address has an unknown parameter fails until it gets an example.

use std::collections::{BTreeMap, BTreeSet};

use leverbook_domain::club::{ClubFields, ClubMeasure};
use leverbook_domain::id::{
    AthleteId, BlockTemplateId, ClassId, ClubId, DecisionId, LoadingId, MovementId, SessionId,
};
use leverbook_domain::plan::{BlockDraft, BlockWish, IntervalSets, Scheme, Swung};
use leverbook_domain::policy::Policy;
use leverbook_domain::text::{ClassName, ClubName, Guidance, LoadingName, MovementName};
use leverbook_domain::training::{Hands, Note, SetDone, Side, Work};
use leverbook_domain::units::{Reps, Seconds};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::block_templates::{self, BlockPattern};
use leverbook_store::blocks;
use leverbook_store::classes::{self, ClassDetails};
use leverbook_store::log::{self, Done, NewRevision};
use leverbook_store::people::Role;
use leverbook_store::rack::{self, ClubDetails, MovementDetails, NewLoading};
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{athletes, calendar, flags, invitations};
use leverbook_tests::{Actor, Answer, NOW, Person, TestGym, assign, new_id};
use leverbook_web::routes::{self, Route, Who};
use leverbook_web::{Config, tokens};
use sqlx::PgConnection;
use time::macros::{date, time};
use time::{Duration, Weekday};

/// Who tries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Caller {
    /// Not signed in.
    Anon,
    /// Signed in, in no gym.
    Stranger,
    /// With that role in another gym.
    Neighbour(Role),
    /// With that role in this gym: the coach has the athlete on the roster, and the athlete is the
    /// one whose training it is.
    Member(Role),
    /// A coach of this gym without that athlete.
    OtherCoach,
    /// Another athlete of this gym.
    OtherAthlete,
}

/// Those who are turned away first, so that nothing has changed when the others come.
const CALLERS: [Caller; 10] = [
    Caller::Anon,
    Caller::Stranger,
    Caller::Neighbour(Role::Owner),
    Caller::Neighbour(Role::Coach),
    Caller::Neighbour(Role::Athlete),
    Caller::OtherCoach,
    Caller::OtherAthlete,
    Caller::Member(Role::Athlete),
    Caller::Member(Role::Owner),
    Caller::Member(Role::Coach),
];

/// What a caller must meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Verdict {
    /// Has to sign in first.
    SignInFirst,
    /// Does not learn that it exists: 404.
    Hidden,
    /// Belongs to the gym and is told that it is for another role: 403.
    OtherRole,
    /// Gets in: neither of these, and no failure.
    Admitted,
}

/// Addresses about one athlete are for that athlete and their coaches.
const ABOUT_ONE_ATHLETE: [&str; 5] = ["{athlete}", "{block}", "{planned}", "{session}", "{act}"];

/// The one that is about an athlete whom nobody looks after.
const TAKE_ON: &str = "/athletes/{athlete}/take-on";

fn verdict(route: &Route, caller: Caller) -> Verdict {
    let roles = match route.who {
        Who::Anyone => return Verdict::Admitted,
        Who::SignedIn if caller == Caller::Anon => return Verdict::SignInFirst,
        Who::SignedIn => return Verdict::Admitted,
        Who::Gym(roles) => roles,
    };
    let role = match caller {
        Caller::Anon => return Verdict::SignInFirst,
        Caller::Stranger | Caller::Neighbour(_) => return Verdict::Hidden,
        Caller::Member(role) => role,
        Caller::OtherCoach => Role::Coach,
        Caller::OtherAthlete => Role::Athlete,
    };
    if !roles.contains(&role) {
        return Verdict::OtherRole;
    }
    let theirs = matches!(caller, Caller::Member(_));
    if route.path.ends_with(TAKE_ON) {
        // Whoever comes first has the athlete; to the next, there is nobody to take on.
        return if theirs {
            Verdict::Hidden
        } else {
            Verdict::Admitted
        };
    }
    if caller == Caller::OtherCoach && route.path.contains("{invitation}") {
        return Verdict::Hidden;
    }
    if !theirs
        && ABOUT_ONE_ATHLETE
            .iter()
            .any(|part| route.path.contains(part))
    {
        return Verdict::Hidden;
    }
    Verdict::Admitted
}

/// Somebody who gets in, rather from this gym than from outside.
fn whoever_may(route: &Route) -> Caller {
    CALLERS
        .into_iter()
        .rev()
        .find(|caller| verdict(route, *caller) == Verdict::Admitted)
        .expect("somebody may call it")
}

fn met(answer: &Answer) -> Result<Verdict, String> {
    match answer.status {
        401 => Ok(Verdict::SignInFirst),
        303 if answer.location().starts_with("/sign-in?next=") => Ok(Verdict::SignInFirst),
        403 => Ok(Verdict::OtherRole),
        404 => Ok(Verdict::Hidden),
        200..=499 => Ok(Verdict::Admitted),
        failed => Err(format!("{failed}: {}", answer.words())),
    }
}

/// A gym in which every address of the table leads somewhere.
pub(crate) struct House {
    pub(crate) gym: TestGym,
    neighbours: [Person; 3],
    other_coach: Person,
    other_athlete: Person,
    stranger: Person,
    /// By the name of the parameter.
    pub(crate) examples: BTreeMap<&'static str, String>,
}

impl House {
    pub(crate) async fn new() -> Self {
        let gym = TestGym::new().await;
        let (_, neighbours, _) = gym.neighbour().await;
        let other_coach = gym
            .person("Ebba Roth", "ebba@quarry.example", &[Role::Coach])
            .await;
        let other_athlete = gym
            .person("Nils Grau", "nils@quarry.example", &[Role::Athlete])
            .await;
        let stranger = gym.account("Rune Falk", "rune@elsewhere.example").await;
        let mut house = Self {
            gym,
            neighbours,
            other_coach,
            other_athlete,
            stranger,
            examples: BTreeMap::new(),
        };
        house.furnish().await;
        house
    }

    /// One of each thing that an address can name.
    async fn furnish(&mut self) {
        let (movement, club, loading): (MovementId, ClubId, LoadingId) =
            (new_id(), new_id(), new_id());
        let athlete = self.gym.athlete_id;
        let today = date!(2026 - 11 - 25);
        let mut tx = self.gym.enter().await;
        let other: AthleteId = new_id();
        athletes::of_new_person(&mut tx, &self.other_athlete, other, today, NOW)
            .await
            .unwrap();

        let details = MovementDetails {
            name: MovementName::new("Mill").unwrap(),
            cues: Guidance::new("").unwrap(),
            faults: Guidance::new("").unwrap(),
        };
        rack::add_movement(&mut tx, movement, &details)
            .await
            .unwrap();
        let details = ClubDetails {
            name: ClubName::new("Oak 6").unwrap(),
            owner: None,
            loadable: true,
            count: 2,
        };
        let first = NewLoading {
            id: loading,
            name: LoadingName::new("Oak 6").unwrap(),
            measure: ClubMeasure::try_from(ClubFields {
                mass_kg: Some(6.0),
                length_mm: Some(700.0),
                balance_mm: Some(450.0),
                grip_mm: Some(60.0),
                ..ClubFields::default()
            })
            .unwrap(),
        };
        rack::add_club(&mut tx, club, &details, &first, NOW)
            .await
            .unwrap();

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
                on: date!(2026 - 11 - 21),
                planned: None,
                minutes: None,
                effort: None,
                pain: Vec::new(),
                note: Note::default(),
                // Unequal sides, for a flag to look at.
                sets: vec![set(Side::Left), set(Side::Right), set(Side::Left)],
            }),
            logged_at: NOW,
        };
        log::record(&mut tx, &revision).await.unwrap();
        flags::reassess(&mut tx, athlete, today).await.unwrap();
        let flag = flags::standing_for(&mut tx, &[athlete])
            .await
            .unwrap()
            .pop()
            .expect("a flag");

        let wish = BlockWish {
            movement,
            scheme: Scheme::IntervalSets(IntervalSets {
                sets: 2,
                seconds: Seconds::new(30).unwrap(),
                rest_seconds: 60,
                goal: None,
            }),
            weekdays: vec![3, 6],
            starts_on: today,
            weeks: 4,
            note: String::new(),
        };
        let draft = BlockDraft::new(wish, &Policy::default(), today).unwrap();
        let swung = Swung {
            movement_name: "Mill",
            loading,
            club_name: "Oak 6",
        };
        let block_id = assign(&mut tx, athlete, draft.clone(), swung, NOW).await;
        let planned = blocks::between(&mut tx, &[athlete], today, today)
            .await
            .unwrap()
            .pop()
            .expect("a session today");

        let template: BlockTemplateId = new_id();
        let pattern = BlockPattern::of("Autumn".to_owned(), &draft, true);
        block_templates::add(&mut tx, template, &pattern, NOW)
            .await
            .unwrap();

        let excused = new_id::<DecisionId>();
        sqlx::query(
            "insert into excused
                 (gym_id, excused_id, athlete_id, first_day, last_day, reason, decided_by, decided_at)
             values ($1, $2, $3, '2026-11-02', '2026-11-08', 'away', $4, $5)",
        )
        .bind(self.gym.id.0)
        .bind(excused.0)
        .bind(athlete.0)
        .bind(self.gym.coach.id.0)
        .bind(NOW)
        .execute(tx.conn())
        .await
        .unwrap();

        let act = new_id::<DecisionId>();
        sqlx::query(
            "insert into plan_acts
                 (gym_id, act_id, athlete_id, what, first_day, last_day, decided_by, decided_at)
             values ($1, $2, $3, 'away', '2026-11-02', '2026-11-08', $4, $5)",
        )
        .bind(self.gym.id.0)
        .bind(act.0)
        .bind(athlete.0)
        .bind(self.gym.coach.id.0)
        .bind(NOW)
        .execute(tx.conn())
        .await
        .unwrap();

        let token = tokens::secret();
        let until = NOW + Duration::days(1);
        let hash = TokenHash::of(&token);
        invitations::create(&mut tx, hash, Role::Coach, None, NOW, until)
            .await
            .unwrap();
        let feed = tokens::secret();
        calendar::give(&mut tx, athlete, TokenHash::of(&feed), NOW)
            .await
            .unwrap();
        let class = new_id::<ClassId>();
        let details = ClassDetails {
            name: ClassName::new("Evening").unwrap(),
            weekday: Weekday::Wednesday,
            starts_at: time!(18:30),
            minutes: 60,
            at_once: 4,
            coach: None,
        };
        classes::add(&mut tx, class, &details, NOW).await.unwrap();
        classes::set_members(&mut tx, class, &[athlete])
            .await
            .unwrap();
        tx.commit().await.unwrap();

        self.examples = BTreeMap::from([
            ("gym", self.gym.id.to_string()),
            ("athlete", athlete.to_string()),
            ("unclaimed", other.to_string()),
            ("person", self.gym.athlete.id.to_string()),
            ("movement", movement.to_string()),
            ("class", class.to_string()),
            ("club", club.to_string()),
            ("loading", loading.to_string()),
            ("session", revision.revision.to_string()),
            ("block", block_id.to_string()),
            ("template", template.to_string()),
            ("planned", planned.planned.to_string()),
            ("excused", excused.to_string()),
            ("act", act.to_string()),
            ("flag", flag.id.to_string()),
            ("token", token),
            ("feed", feed),
            ("stop", tokens::secret()),
            ("invitation", hash.to_string()),
            ("name", "athletes.csv".to_owned()),
        ]);
    }

    /// The address of a route with every parameter filled in.
    fn address(&self, route: &Route) -> String {
        if route.path.ends_with(TAKE_ON) {
            self.filled(&route.path.replace("{athlete}", "{unclaimed}"))
        } else {
            self.filled(route.path)
        }
    }

    /// A text with an example for each name in braces.
    pub(crate) fn filled(&self, text: &str) -> String {
        let mut filled = text.to_owned();
        while let Some((before, rest)) = filled.split_once('{') {
            let (name, after) = rest.split_once('}').expect("a closed brace");
            let example = self
                .examples
                .get(name)
                .unwrap_or_else(|| panic!("no example of {{{name}}} for {text}"));
            filled = format!("{before}{example}{after}");
        }
        filled
    }

    pub(crate) async fn actor(&self, caller: Caller) -> Actor {
        let person = match caller {
            Caller::Anon => {
                let mut anon = self.gym.anon();
                // For the token of the form.
                anon.get("/sign-in");
                return anon;
            }
            Caller::Stranger => &self.stranger,
            Caller::OtherCoach => &self.other_coach,
            Caller::OtherAthlete => &self.other_athlete,
            Caller::Member(Role::Owner) => &self.gym.owner,
            Caller::Member(Role::Coach) => &self.gym.coach,
            Caller::Member(Role::Athlete) => &self.gym.athlete,
            Caller::Neighbour(Role::Owner) => &self.neighbours[0],
            Caller::Neighbour(Role::Coach) => &self.neighbours[1],
            Caller::Neighbour(Role::Athlete) => &self.neighbours[2],
        };
        self.gym.sign_in(person).await
    }

    /// Lets every caller try a route, and collects what went otherwise than its statement.
    async fn try_all(&self, route: &Route, wrong: &mut Vec<String>) {
        let address = self.address(route);
        for caller in CALLERS {
            let mut actor = self.actor(caller).await;
            let answer = match route.method.as_str() {
                "GET" => actor.get(&address),
                "POST" => {
                    // What pages put into their own forms.
                    let id = new_id::<SessionId>().to_string();
                    let replaces = &self.examples["session"];
                    let fields = [
                        ("id", id.as_str()),
                        ("replaces", replaces),
                        ("week", "2026-W48"),
                    ];
                    actor.post(&address, &fields)
                }
                other => panic!("{other} is no method of ours"),
            };
            let expected = verdict(route, caller);
            let met = met(&answer);
            if met != Ok(expected) {
                wrong.push(format!(
                    "{} {} as {caller:?}: {met:?} ({}) instead of {expected:?}",
                    route.method, route.path, answer.status
                ));
            }
        }
    }
}

#[tokio::test]
async fn every_page_is_shown_to_whom_its_route_states_and_to_nobody_else() {
    let house = House::new().await;
    let mut wrong = Vec::new();
    for route in routes::table().iter().filter(|route| route.method == "GET") {
        house.try_all(route, &mut wrong).await;
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[tokio::test]
async fn every_form_is_taken_from_whom_its_route_states_and_from_nobody_else() {
    let mut wrong = Vec::new();
    for route in routes::table()
        .iter()
        .filter(|route| route.method == "POST")
    {
        // What one form does must not be in the way of the next.
        House::new().await.try_all(route, &mut wrong).await;
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// How, with which headers, and what is sent.
type Try<'a> = (&'a str, &'a [(&'a str, &'a str)], &'a str);

#[tokio::test]
async fn no_form_is_taken_without_its_token_or_from_another_site() {
    let house = House::new().await;
    let form = ("content-type", "application/x-www-form-urlencoded");
    let mut wrong = Vec::new();
    for route in routes::table()
        .iter()
        .filter(|route| route.method == "POST")
    {
        let caller = whoever_may(route);
        let address = house.address(route);
        let mut actor = house.actor(caller).await;
        let right = format!("csrf={}", actor.csrf());
        let other = format!("csrf={}", house.actor(Caller::Stranger).await.csrf());
        let tries: [Try<'_>; 6] = [
            ("without a token", &[form], "note=kept"),
            ("with an empty token", &[form], "csrf=&note=kept"),
            ("with somebody else's token", &[form], &other),
            (
                "from another site",
                &[form, ("sec-fetch-site", "cross-site")],
                &right,
            ),
            (
                "from a sibling host",
                &[form, ("sec-fetch-site", "same-site")],
                &right,
            ),
            (
                "from another origin",
                &[form, ("origin", "https://elsewhere.example")],
                &right,
            ),
        ];
        for (how, headers, body) in tries {
            let answer = actor.send("POST", &address, headers, body.as_bytes());
            if answer.status != 403 {
                wrong.push(format!("{} {how}: {}", route.path, answer.status));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// Every row of every table, in short.
pub(crate) async fn all_that_is_stored(admin: &mut PgConnection) -> String {
    sqlx::query_scalar(
        "select md5(string_agg(query_to_xml(
             format('select * from %I.%I t order by t::text', schemaname, tablename), true, false, ''
         )::text, '' order by tablename))
         from pg_tables where schemaname = 'public'",
    )
    .fetch_one(admin)
    .await
    .unwrap()
}

#[tokio::test]
async fn what_is_no_form_or_too_large_for_one_is_refused_everywhere_and_writes_nothing() {
    let house = House::new().await;
    let mut admin = house.gym.database.connect(DatabaseRole::Admin).await;
    let mut wrong = Vec::new();
    for route in routes::table()
        .iter()
        .filter(|route| route.method == "POST")
    {
        let address = house.address(route);
        let mut actor = house.actor(whoever_may(route)).await;
        let stored = all_that_is_stored(&mut admin).await;
        let right = format!("csrf={}&name=Ida", actor.csrf());
        let limit = route.body_bytes.unwrap_or(Config::default().form_bytes);
        let mut too_large = format!("{right}&note=").into_bytes();
        too_large.resize(limit + 1, b'a');
        let form = "application/x-www-form-urlencoded";
        let json = br#"{"name": "Ida"}"#;
        for (kind, body, status) in [
            (Some("application/json"), &json[..], 415),
            (Some("text/plain"), right.as_bytes(), 415),
            (None, right.as_bytes(), 415),
            (Some(form), &too_large, 413),
        ] {
            let headers: Vec<_> = kind.iter().map(|kind| ("content-type", *kind)).collect();
            let answer = actor.send("POST", &address, &headers, body);
            if answer.status != status || !answer.body.contains("<h1>") {
                wrong.push(format!(
                    "{} as {kind:?}: {} instead of a page with {status}",
                    route.path, answer.status
                ));
            }
        }
        let file = ("athletes", "athletes.csv", &too_large[..limit]);
        let answer = actor.post_file(&address, &[], file);
        if answer.status != 413 || !answer.body.contains("<h1>") {
            wrong.push(format!("{} with a file: {}", route.path, answer.status));
        }
        if all_that_is_stored(&mut admin).await != stored {
            wrong.push(format!("{} wrote something", route.path));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn the_table_says_everything_once_and_gyms_routes_are_gyms() {
    let mut seen = BTreeSet::new();
    for route in routes::table() {
        assert!(
            seen.insert((route.method.to_string(), route.path)),
            "{} twice",
            route.path
        );
        assert!(
            route.method == "GET" || route.method == "POST",
            "{}",
            route.path
        );
        let is_gyms = matches!(route.who, Who::Gym(_));
        assert_eq!(
            is_gyms,
            route.path.starts_with("/g/{gym}"),
            "{}",
            route.path
        );
        if let Who::Gym(roles) = route.who {
            assert!(!roles.is_empty(), "{} is for nobody", route.path);
        }
    }
    // What is open to everybody is few, and each is here on purpose.
    let open: BTreeSet<&str> = routes::table()
        .iter()
        .filter(|route| route.who == Who::Anyone)
        .map(|route| route.path)
        .collect();
    let meant = [
        "/calendar/{gym}/{feed}/plan.ics",
        "/invitation/{gym}/{token}",
        "/service-worker.js",
        "/sign-in",
        "/sign-out",
        "/week-mail/{gym}/{stop}",
    ];
    assert_eq!(open, BTreeSet::from(meant));
}

#[tokio::test]
async fn what_is_not_in_the_table_is_not_there() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    for path in [
        "/nowhere",
        "/g",
        "/g/not-a-gym/people",
        "/static/nowhere.css",
    ] {
        coach.get(path).expect(404);
    }
    for path in [gym.path("nowhere"), gym.path("people/invite/x")] {
        let page = coach.get(&path).expect(404);
        assert!(page.body.contains("Nothing here"), "{}", page.words());
    }
    let answer = coach.send("PUT", &gym.path("people/invite"), &[], b"");
    assert_eq!(answer.status, 405);
    assert!(
        answer.body.contains("<h1>"),
        "an error is a page: {}",
        answer.body
    );
}
