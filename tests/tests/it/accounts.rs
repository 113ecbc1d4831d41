//! Signing in and out, one's own account, invitations, and who has which role.

use std::io::{Read, Write};
use std::net::TcpStream;

use leverbook_domain::id::AthleteId;
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::invitations::{self, Fate};
use leverbook_store::people::Role;
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{StoreError, accounts, athletes};
use leverbook_tests::{Actor, Answer, NOW, PASSWORD, TestGym, new_id};
use leverbook_web::{Config, tokens};
use time::Duration;
use time::macros::date;

const TOVE: &str = "tove@quarry.example";

/// Signs in through the page.
fn sign_in(actor: &mut Actor, email: &str, password: &str) -> Answer {
    actor.get("/sign-in").expect(200);
    actor.post(
        "/sign-in",
        &[
            ("email", email),
            ("password", password),
            ("next", "/account"),
        ],
    )
}

fn is_signed_in(actor: &mut Actor) -> bool {
    match actor.get("/account").status {
        200 => true,
        303 => false,
        other => panic!("{other}"),
    }
}

#[tokio::test]
async fn the_right_password_opens_the_gym() {
    let gym = TestGym::new().await;
    let mut visitor = gym.anon();
    let home = visitor.get("/");
    assert_eq!((home.status, home.location()), (303, "/sign-in?next=%2F"));
    visitor.get(home.location()).expect(200);
    let entered = visitor
        .post(
            "/sign-in",
            &[
                ("email", "Tove@quarry.example"),
                ("password", PASSWORD),
                ("next", "/"),
            ],
        )
        .expect(303);
    assert_eq!(entered.location(), "/");
    let gym_page = visitor.get("/").expect(303);
    assert_eq!(gym_page.location(), format!("/g/{}", gym.id));
    let review = visitor.get(gym_page.location()).expect(303);
    assert_eq!(review.location(), gym.path("review"));
}

#[tokio::test]
async fn a_wrong_password_and_an_unknown_address_are_told_alike() {
    let gym = TestGym::new().await;
    let mut visitor = gym.anon();
    let wrong = sign_in(&mut visitor, TOVE, "granite lantern otter").expect(422);
    assert_eq!(
        wrong.field("email").as_deref(),
        Some(TOVE),
        "what was typed is kept"
    );
    assert!(!wrong.body.contains("granite"), "but no password");
    let unknown = sign_in(&mut visitor, "nobody@quarry.example", PASSWORD).expect(422);
    let stripped = |page: &Answer| {
        page.words()
            .replace(TOVE, "")
            .replace("nobody@quarry.example", "")
    };
    assert_eq!(stripped(&wrong), stripped(&unknown));
    for bad in ["", "tove", "@", "tove@quarry.example\0", "' or 1=1 --"] {
        sign_in(&mut visitor, bad, PASSWORD).expect(422);
    }
    // OWASP ASVS 5.0 V6.2.8: a password is taken exactly as it is.
    for bad in [
        "",
        "Correct horse battery staple",
        "correct horse battery staple ",
    ] {
        sign_in(&mut visitor, TOVE, bad).expect(422);
    }
    assert!(!is_signed_in(&mut visitor));
}

// NIST SP 800-63B-4 § 3.2.2: attempts on one account are limited.
#[tokio::test]
async fn a_guesser_has_to_wait_and_others_do_not() {
    let gym = TestGym::new().await;
    let mut guesser = gym.anon();
    for _ in 0..10 {
        sign_in(&mut guesser, TOVE, "granite lantern otter").expect(422);
    }
    let page = sign_in(&mut guesser, TOVE, PASSWORD).expect(429);
    assert!(page.body.contains("Wait "), "{}", page.words());
    sign_in(&mut guesser, "maren@quarry.example", PASSWORD).expect(303);
}

// OWASP Session Management Cheat Sheet: a new identifier at each sign-in; from memory.
#[tokio::test]
async fn a_planted_cookie_is_never_signed_in() {
    let gym = TestGym::new().await;
    let mut visitor = gym.anon();
    let planted = "a".repeat(64);
    visitor.set_cookie("leverbook", &planted);
    sign_in(&mut visitor, TOVE, PASSWORD).expect(303);
    let first = visitor.cookie("leverbook").unwrap().to_owned();
    assert_ne!(first, planted);
    let mut planter = gym.anon();
    planter.set_cookie("leverbook", &planted);
    assert!(!is_signed_in(&mut planter));

    // Signing in again ends the sign-in that this browser had.
    let token = visitor.csrf().to_owned();
    let mut again = visitor.clone();
    again.get("/account").expect(200);
    let fields = [("email", TOVE), ("password", PASSWORD), ("next", "/")];
    again.post("/sign-in", &fields).expect(303);
    assert_ne!(again.cookie("leverbook").unwrap(), first);
    assert!(!is_signed_in(&mut visitor), "the old token is dead");
    again.get("/account").expect(200);
    assert_ne!(again.csrf(), token, "and so is its forms' token");
}

// OWASP ASVS 5.0 V7.2.3: tokens from a CSPRNG, 128 bits or more.
#[tokio::test]
async fn only_the_hash_of_a_token_is_kept() {
    let gym = TestGym::new().await;
    let mut visitor = gym.anon();
    sign_in(&mut visitor, TOVE, PASSWORD).expect(303);
    let token = visitor.cookie("leverbook").unwrap();
    assert_eq!(token.len(), 64);
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let rows: Vec<(Vec<u8>, String)> =
        sqlx::query_as("select token_hash, sign_ins::text from sign_ins")
            .fetch_all(&mut admin)
            .await
            .unwrap();
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0].0, TokenHash::of(token).as_bytes());
    assert!(!rows[0].1.contains(token));
}

#[tokio::test]
async fn cookies_and_headers_keep_others_out() {
    let plain = TestGym::new().await;
    let mut visitor = plain.anon();
    let page = sign_in(&mut visitor, TOVE, PASSWORD).expect(303);
    let cookie = page.header("set-cookie");
    assert!(cookie.starts_with("leverbook="), "{cookie}");
    for part in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=2592000"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }
    let page = visitor.get("/account").expect(200);
    assert_eq!(page.header("cache-control"), "no-store");
    assert_eq!(page.header("x-content-type-options"), "nosniff");
    assert_eq!(page.header("referrer-policy"), "same-origin");
    let policy = page.header("content-security-policy");
    assert!(policy.starts_with("default-src 'none'"), "{policy}");
    assert!(!policy.contains("unsafe"), "{policy}");
    assert_eq!(page.header("strict-transport-security"), "");

    let tls = TestGym::with(Config {
        public_url: Some("https://book.quarry.example".to_owned()),
        ..Config::default()
    })
    .await;
    let mut visitor = tls.anon();
    let page = sign_in(&mut visitor, TOVE, PASSWORD).expect(303);
    // RFC 6265bis § 4.1.3.2: the __Host- prefix needs Secure, Path=/ and no Domain.
    let cookie = page.header("set-cookie");
    assert!(cookie.starts_with("__Host-leverbook="), "{cookie}");
    assert!(cookie.contains("Secure") && cookie.contains("Path=/") && !cookie.contains("Domain"));
    assert!(page.header("strict-transport-security").contains("max-age"));
}

#[tokio::test]
async fn a_sign_in_runs_out() {
    let gym = TestGym::new().await;
    let mut idle = gym.coach().await;
    gym.clock.advance(Duration::days(7));
    assert!(!is_signed_in(&mut idle), "after 7 days without a request");

    let mut busy = gym.coach().await;
    for _ in 0..4 {
        gym.clock.advance(Duration::days(6));
        assert!(is_signed_in(&mut busy), "a request keeps it alive");
    }
    gym.clock.advance(Duration::days(6));
    assert!(!is_signed_in(&mut busy), "after 30 days in all");
}

#[tokio::test]
async fn signing_out_ends_one_sign_in_or_all() {
    let gym = TestGym::new().await;
    let (mut phone, mut desk) = (gym.coach().await, gym.coach().await);
    let stolen = phone.clone();
    phone.post("/sign-out", &[]).expect(303);
    assert!(!is_signed_in(&mut phone) && !is_signed_in(&mut stolen.clone()));
    assert!(is_signed_in(&mut desk));
    let mut phone = gym.coach().await;
    let answer = desk.post("/account/sign-out-everywhere", &[]).expect(303);
    assert!(!is_signed_in(&mut phone) && !is_signed_in(&mut desk));
    let page = desk.get(answer.location()).expect(200);
    assert!(page.body.contains("You are signed out everywhere."));
    assert!(is_signed_in(&mut gym.athlete().await), "others are not");
}

#[tokio::test]
async fn a_disabled_account_is_out_at_once() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    assert!(is_signed_in(&mut coach));
    let mut outside = gym.store.outside().await.unwrap();
    accounts::set_disabled(&mut outside, gym.coach.id, Some(NOW))
        .await
        .unwrap();
    assert!(!is_signed_in(&mut coach));
    sign_in(&mut gym.anon(), TOVE, PASSWORD).expect(422);
    accounts::set_disabled(&mut outside, gym.coach.id, None)
        .await
        .unwrap();
    sign_in(&mut gym.anon(), TOVE, PASSWORD).expect(303);
}

#[tokio::test]
async fn a_new_password_signs_every_other_browser_out() {
    let gym = TestGym::new().await;
    let (mut here, mut elsewhere) = (gym.coach().await, gym.coach().await);
    let new = "granite lantern otter";
    let change =
        |now: &'static str, new: &'static str| [("password_now", now), ("password_new", new)];
    let page = here
        .post("/account/password", &change("wrong wrong wrong", new))
        .expect(422);
    assert!(page.body.contains("This is not your password"));
    let page = here
        .post("/account/password", &change(PASSWORD, "short"))
        .expect(422);
    assert!(
        page.body.contains("at least 15 characters"),
        "{}",
        page.words()
    );
    let page = here
        .post(
            "/account/password",
            &change(PASSWORD, "tove.lind tove lind"),
        )
        .expect(422);
    assert!(page.body.contains("mostly your name"), "{}", page.words());
    here.post("/account/password", &change(PASSWORD, new))
        .expect(303);
    assert!(is_signed_in(&mut here) && !is_signed_in(&mut elsewhere));
    sign_in(&mut gym.anon(), TOVE, PASSWORD).expect(422);
    sign_in(&mut gym.anon(), TOVE, new).expect(303);
}

#[tokio::test]
async fn name_and_units_are_ones_own_in_every_gym() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get("/account").expect(200);
    let fields = [("name", "  Tove   Lind-Ask "), ("units", "pound")];
    let answer = coach.post("/account", &fields).expect(303);
    let page = coach.get(answer.location()).expect(200);
    assert_eq!(page.field("name").as_deref(), Some("Tove Lind-Ask"));
    let people = gym.owner().await.get(&gym.path("people")).expect(200);
    assert!(people.body.contains("Tove Lind-Ask"));
    let page = coach
        .post("/account", &[("name", ""), ("units", "stone")])
        .expect(422);
    assert!(page.body.contains("id=\"name-error\"") && page.body.contains("id=\"units-error\""));
}

#[tokio::test]
async fn somebody_in_two_gyms_chooses_and_sees_each_as_what_they_are_there() {
    let gym = TestGym::new().await;
    let (other, [_, bram, _], _) = gym.neighbour().await;
    let mut tx = gym.enter().await;
    leverbook_store::people::join(&mut tx, &bram, Role::Owner, NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut actor = gym.sign_in(&bram).await;
    let home = actor.get("/").expect(200);
    assert!(home.body.contains("Quarry Lane Club Hall"));
    assert!(home.body.contains("Harbour Street Swing Room"));
    actor.get(&gym.path("people")).expect(200);
    // A coach there, not an owner.
    actor.get(&format!("/g/{other}/people")).expect(403);
    actor.get(&format!("/g/{other}/people/invite")).expect(200);
}

// Invitations

/// Makes an invitation through the page and gives the link's path.
fn invite(actor: &mut Actor, gym: &TestGym, role: &str, athlete: &str) -> String {
    actor.get(&gym.path("people/invite")).expect(200);
    let fields = [("role", role), ("athlete", athlete)];
    let page = actor.post(&gym.path("people/invite"), &fields).expect(200);
    let at = page.body.find("/invitation/").expect("a link");
    let link: String = page.body[at..].chars().take_while(|c| *c != '"').collect();
    assert!(
        page.body.contains("<svg class=\"qr\"") && page.body.contains("<title id=\"qr-title\">")
    );
    link
}

const IDA: [(&str, &str); 4] = [
    ("with", "new"),
    ("name", "Ida Marsh"),
    ("email", "ida@quarry.example"),
    ("password", "granite lantern otter"),
];

#[tokio::test]
async fn an_invitation_lets_one_person_in_once() {
    let gym = TestGym::new().await;
    let link = invite(&mut gym.coach().await, &gym, "athlete", "new");
    let mut ida = gym.anon();
    let page = ida.get(&link).expect(200);
    assert!(page.body.contains("Join Quarry Lane Club Hall") && page.body.contains("Tove Lind"));
    let joined = ida.post(&link, &IDA).expect(303);
    assert_eq!(joined.location(), format!("/g/{}?done=joined", gym.id));
    assert!(is_signed_in(&mut ida), "and is signed in");
    ida.get(&gym.path("people")).expect(403);

    // An athlete of the book now, on the roster of the coach who invited.
    let mut tx = gym.enter().await;
    let everybody = athletes::all(&mut tx).await.unwrap();
    let athlete = everybody
        .iter()
        .find(|a| a.name.as_str() == "Ida Marsh")
        .unwrap();
    assert_eq!(athlete.started_on, date!(2026 - 11 - 25));
    assert!(
        athletes::is_on_roster(&mut tx, gym.coach.id, athlete.id)
            .await
            .unwrap()
    );

    let mut second = gym.anon();
    let page = second.get(&link).expect(410);
    assert!(page.body.contains("taken up already"), "{}", page.words());
    second.get("/sign-in");
    second
        .post(
            &link,
            &[
                ("with", "new"),
                ("name", "X"),
                ("email", "x@quarry.example"),
                ("password", "another lantern otter"),
            ],
        )
        .expect(410);
    let mut outside = gym.store.outside().await.unwrap();
    let x = accounts::Email::new("x@quarry.example").unwrap();
    assert!(
        accounts::by_email(&mut outside, &x).await.is_err(),
        "nothing was made"
    );
}

#[tokio::test]
async fn an_invitation_leads_here_whatever_host_the_request_claims() {
    let invite = async |gym: &TestGym| {
        let mut owner = gym.owner().await;
        let body = format!("csrf={}&role=coach", owner.csrf());
        let headers = [
            ("content-type", "application/x-www-form-urlencoded"),
            ("host", "evil.example"),
            ("x-forwarded-host", "evil.example"),
            ("x-forwarded-proto", "https"),
        ];
        let path = gym.path("people/invite");
        let page = owner
            .send("POST", &path, &headers, body.as_bytes())
            .expect(200);
        assert!(!page.body.contains("evil.example"), "{}", page.words());
        page
    };
    let gym = TestGym::new().await;
    let start = format!("href=\"{}/invitation/{}/", gym.origin(), gym.id);
    let page = invite(&gym).await;
    assert!(page.body.contains(&start), "{}", page.body);
    assert!(page.words().contains("LEVERBOOK_PUBLIC_URL"));

    let gym = TestGym::with(Config {
        public_url: Some("http://book.example.org".to_owned()),
        ..Config::default()
    })
    .await;
    let start = format!("href=\"http://book.example.org/invitation/{}/", gym.id);
    let page = invite(&gym).await;
    assert!(page.body.contains(&start), "{}", page.body);
    assert!(!page.words().contains("LEVERBOOK_PUBLIC_URL"));
}

#[tokio::test]
async fn an_invitation_expires_and_belongs_to_its_gym() {
    let gym = TestGym::new().await;
    let (other, ..) = gym.neighbour().await;
    let link = invite(&mut gym.owner().await, &gym, "coach", "new");
    let token = link.rsplit('/').next().unwrap();
    let mut visitor = gym.anon();
    visitor
        .get(&format!("/invitation/{other}/{token}"))
        .expect(404);
    visitor
        .get(&format!("/invitation/{}/{}", gym.id, "0".repeat(64)))
        .expect(404);
    visitor
        .get(&format!("/invitation/nowhere/{token}"))
        .expect(404);
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let stored: String = sqlx::query_scalar("select invitations::text from invitations")
        .fetch_one(&mut admin)
        .await
        .unwrap();
    assert!(!stored.contains(token), "only its hash is kept");

    visitor.get(&link).expect(200);
    gym.clock.advance(Duration::days(7));
    let page = visitor.get(&link).expect(410);
    assert!(page.body.contains("has expired"), "{}", page.words());
    visitor.get("/sign-in");
    visitor.post(&link, &IDA).expect(410);
}

/// The address that the first "withdraw" of a page sends to.
fn withdrawing(page: &Answer) -> String {
    let (before, _) = page.body.split_once("/withdraw\"").expect("a button");
    format!("{}/withdraw", before.rsplit_once('"').expect("an action").1)
}

#[tokio::test]
async fn an_invitation_can_be_withdrawn_by_whoever_made_it_and_by_an_owner() {
    let gym = TestGym::new().await;
    let (mut owner, mut coach) = (gym.owner().await, gym.coach().await);
    let other_coach = gym
        .person("Ebba Roth", "ebba@quarry.example", &[Role::Coach])
        .await;
    let mut other_coach = gym.sign_in(&other_coach).await;

    let owners = invite(&mut owner, &gym, "coach", "new");
    let of_owner = withdrawing(&owner.get(&gym.path("people")).expect(200));
    for other in [&mut coach, &mut other_coach] {
        let page = other.get(&gym.path("people/invite")).expect(200);
        assert!(!page.body.contains("/withdraw\""), "{}", page.words());
        other.post(&of_owner, &[]).expect(404);
    }
    let coachs = invite(&mut coach, &gym, "athlete", "new");
    let of_coach = withdrawing(&coach.get(&gym.path("people/invite")).expect(200));
    other_coach.post(&of_coach, &[]).expect(404);

    let mut ida = gym.anon();
    for link in [&owners, &coachs] {
        ida.get(link).expect(200);
    }
    // Twice: the second is a reload of the first.
    for _ in 0..2 {
        let done = coach.post(&of_coach, &[]).expect(303);
        let page = coach.get(done.location()).expect(200);
        assert!(page.words().contains("The invitation is withdrawn"));
        assert!(!page.body.contains("/withdraw\""), "{}", page.words());
        let done = owner.post(&of_owner, &[]).expect(303);
        let page = owner.get(done.location()).expect(200);
        assert!(
            page.words().contains("Invitations that are open None."),
            "{}",
            page.words()
        );
    }
    for link in [&owners, &coachs] {
        let page = ida.get(link).expect(410);
        assert!(page.words().contains("was withdrawn"), "{}", page.words());
        ida.get("/sign-in");
        ida.post(link, &IDA).expect(410);
    }
    let mut tx = gym.enter().await;
    let joined: i64 = sqlx::query_scalar("select count(*) from people where email like 'ida@%'")
        .fetch_one(tx.conn())
        .await
        .unwrap();
    assert_eq!(joined, 0);
}

#[tokio::test]
async fn an_invitation_is_taken_up_or_withdrawn_and_never_both() {
    let gym = TestGym::new().await;
    let mut owner = gym.owner().await;
    let link = invite(&mut owner, &gym, "coach", "new");
    let withdraw = withdrawing(&owner.get(&gym.path("people")).expect(200));
    let mut ida = gym.anon();
    ida.get(&link).expect(200);
    ida.post(&link, &IDA).expect(303);
    let page = owner.post(&withdraw, &[]).expect(409);
    assert!(page.words().contains("was taken up"), "{}", page.words());

    // Behind the page's back, as when both happen at the same moment.
    let token = TokenHash::of(&tokens::secret());
    let rune = gym.account("Rune Falk", "rune@elsewhere.example").await;
    let mut tx = gym.enter().await;
    let until = NOW + Duration::days(1);
    invitations::create(&mut tx, token, Role::Coach, None, NOW, until)
        .await
        .unwrap();
    invitations::withdraw(&mut tx, token, NOW).await.unwrap();
    let (again, today) = (
        invitations::withdraw(&mut tx, token, NOW).await,
        date!(2026 - 11 - 25),
    );
    assert!(matches!(again, Err(StoreError::NotFound)), "{again:?}");
    let late = invitations::take_up(&mut tx, token, &rune, new_id(), today, NOW).await;
    assert!(matches!(late, Err(StoreError::NotFound)), "{late:?}");
    let found = invitations::find(&mut tx, token).await.unwrap();
    assert_eq!(found.fate, Fate::Withdrawn);
}

#[tokio::test]
async fn two_who_take_up_one_invitation_at_once_are_one() {
    let gym = TestGym::new().await;
    let link = invite(&mut gym.owner().await, &gym, "coach", "new");
    let answers: Vec<u16> = std::thread::scope(|scope| {
        let racers: Vec<_> = (0..4)
            .map(|i| {
                let mut racer = gym.anon();
                racer.get(&link);
                let link = &link;
                scope.spawn(move || {
                    let email = format!("racer{i}@quarry.example");
                    let fields = [
                        ("with", "new"),
                        ("name", "Racer"),
                        ("email", &email),
                        ("password", "granite lantern otter"),
                    ];
                    racer.post(link, &fields).status
                })
            })
            .collect();
        racers
            .into_iter()
            .map(|racer| racer.join().unwrap())
            .collect()
    });
    assert_eq!(
        answers.iter().filter(|status| **status == 303).count(),
        1,
        "{answers:?}"
    );
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let racers: i64 = sqlx::query_scalar("select count(*) from accounts where email like 'racer%'")
        .fetch_one(&mut admin)
        .await
        .unwrap();
    assert_eq!(racers, 1, "the others left nothing behind");
}

/// An athlete of the book without an account, on nobody's roster.
async fn unclaimed(gym: &TestGym) -> AthleteId {
    let id: AthleteId = new_id();
    let mut tx = gym.enter().await;
    sqlx::query(
        "insert into athletes (gym_id, athlete_id, name, started_on, status_since, handle, created_at)
         values ($1, $2, 'Ida Marsh', '2025-03-01', '2025-03-01', 'ida', $3)",
    )
    .bind(gym.id.0)
    .bind(id.0)
    .bind(NOW)
    .execute(tx.conn())
    .await
    .unwrap();
    tx.commit().await.unwrap();
    id
}

#[tokio::test]
async fn an_athlete_of_the_book_gets_their_training_with_their_account() {
    let gym = TestGym::new().await;
    let ida = unclaimed(&gym).await;
    let link = invite(&mut gym.owner().await, &gym, "athlete", &ida.to_string());
    // Somebody who has an account elsewhere joins with it.
    let rune = gym.account("Rune Falk", "rune@elsewhere.example").await;
    let mut visitor = gym.anon();
    visitor.get(&link).expect(200);
    let known = |password: &'static str| {
        [
            ("with", "known"),
            ("known_email", "rune@elsewhere.example"),
            ("known_password", password),
        ]
    };
    let page = visitor
        .post(&link, &known("granite lantern otter"))
        .expect(422);
    assert!(page.body.contains("do not go together"), "{}", page.words());
    visitor.post(&link, &known(PASSWORD)).expect(303);
    let mut tx = gym.enter().await;
    assert_eq!(athletes::of_person(&mut tx, rune.id).await.unwrap().id, ida);
}

#[tokio::test]
async fn whoever_is_signed_in_joins_with_one_press() {
    let gym = TestGym::new().await;
    let link = invite(&mut gym.owner().await, &gym, "owner", "new");
    let mut stranger = gym.stranger().await;
    stranger.get(&gym.path("people")).expect(404);
    stranger.get(&link).expect(200);
    stranger.post(&link, &[]).expect(303);
    stranger.get(&gym.path("people")).expect(200);
}

#[tokio::test]
async fn a_coach_invites_their_own_athletes_and_nobody_else() {
    let gym = TestGym::new().await;
    let ida = unclaimed(&gym).await.to_string();
    let mut coach = gym.coach().await;
    coach.get(&gym.path("people/invite")).expect(200);
    let mut refused = |role: &str, athlete: &str, at: &str| {
        let fields = [("role", role), ("athlete", athlete)];
        let page = coach.post(&gym.path("people/invite"), &fields).expect(422);
        assert!(
            page.body.contains(&format!("id=\"{at}-error\"")),
            "{}",
            page.words()
        );
    };
    for role in ["owner", "coach", "", "boss"] {
        refused(role, "new", "role");
    }
    refused("athlete", &ida, "athlete");
    refused("athlete", &gym.athlete_id.to_string(), "athlete");
    refused("athlete", "not-an-id", "athlete");
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let made: i64 = sqlx::query_scalar("select count(*) from invitations")
        .fetch_one(&mut admin)
        .await
        .unwrap();
    assert_eq!(made, 0);
}

#[tokio::test]
async fn bad_input_is_told_at_its_field_keeps_what_was_typed_and_changes_nothing() {
    let gym = TestGym::new().await;
    let link = invite(&mut gym.owner().await, &gym, "coach", "new");
    let mut visitor = gym.anon();
    visitor.get(&link).expect(200);
    let long_name = "x".repeat(121);
    let long_password = "granite lantern ".repeat(63);
    let fine = ("Ida Marsh", "ida@quarry.example", "granite lantern otter");
    // Name, email, password, and the field that is wrong.
    let table = [
        ("", fine.1, fine.2, "name"),
        ("   ", fine.1, fine.2, "name"),
        ("Ida\0Marsh", fine.1, fine.2, "name"),
        ("Ida\u{7}Marsh", fine.1, fine.2, "name"),
        (&long_name, fine.1, fine.2, "name"),
        (fine.0, "", fine.2, "email"),
        (fine.0, "ida", fine.2, "email"),
        (fine.0, "ida@quarry@example", fine.2, "email"),
        ("\u{200b}", fine.1, fine.2, "name"),
        ("Ida \u{202e}hsraM", fine.1, fine.2, "name"),
        (fine.0, "ida marsh@quarry.example", fine.2, "email"),
        (fine.0, "ida\u{200b}@quarry.example", fine.2, "email"),
        (fine.0, TOVE, fine.2, "email"),
        (fine.0, fine.1, "", "password"),
        (fine.0, fine.1, "granite otter9", "password"),
        (fine.0, fine.1, &long_password, "password"),
        (fine.0, fine.1, "passwordpassword", "password"),
        (fine.0, fine.1, "aaaaaaaaaaaaaaaa", "password"),
        (fine.0, fine.1, "ida marsh ida marsh", "password"),
        (fine.0, fine.1, "Quarry Lane Club Hall", "password"),
    ];
    for (name, email, password, wrong) in table {
        let fields = [
            ("with", "new"),
            ("name", name),
            ("email", email),
            ("password", password),
        ];
        let page = visitor.post(&link, &fields).expect(422);
        assert!(
            page.body.contains(&format!("id=\"{wrong}-error\"")),
            "{wrong}: {}",
            page.words()
        );
        for other in ["name", "email", "password"]
            .into_iter()
            .filter(|other| *other != wrong)
        {
            assert!(
                !page.body.contains(&format!("id=\"{other}-error\"")),
                "{other}: {}",
                page.words()
            );
        }
        if !name.contains('\0') {
            assert_eq!(page.field("name").as_deref(), Some(name));
        }
        assert_eq!(page.field("email").as_deref(), Some(email));
        assert!(password.is_empty() || page.field("password").as_deref() == Some(""));
    }
    // Broken UTF-8.
    let body = format!(
        "csrf={}&with=new&name=%FF%FEIda&email=ida%40quarry.example&password=granite+lantern+otter",
        visitor.csrf()
    );
    let form = [("content-type", "application/x-www-form-urlencoded")];
    let page = visitor.send("POST", &link, &form, body.as_bytes());
    assert_eq!(page.status, 422);
    assert!(page.body.contains("id=\"name-error\""), "{}", page.words());
    // Another kind of content, and far too much of it.
    let json = visitor.send(
        "POST",
        &link,
        &[("content-type", "application/json")],
        b"{}",
    );
    assert_eq!(json.status, 415);
    let megabyte = "x".repeat(1024 * 1024);
    let page = visitor
        .post(&link, &[("with", "new"), ("name", &megabyte)])
        .expect(422);
    assert!(page.body.contains("id=\"name-error\""));
    let more = megabyte.repeat(2);
    visitor
        .post(&link, &[("with", "new"), ("name", &more)])
        .expect(413);

    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let accounts: i64 = sqlx::query_scalar("select count(*) from accounts")
        .fetch_one(&mut admin)
        .await
        .unwrap();
    assert_eq!(accounts, 3, "the three that were there");
    // Names of every script are names.
    for (i, name) in ["أمينة", "山田 太郎", "🏋 Bo", "O'Neill-Šimić <b>&amp;"]
        .iter()
        .enumerate()
    {
        let link = invite(&mut gym.owner().await, &gym, "coach", "new");
        let mut visitor = gym.anon();
        visitor.get(&link).expect(200);
        let email = format!("n{i}@quarry.example");
        visitor
            .post(
                &link,
                &[
                    ("with", "new"),
                    ("name", name),
                    ("email", &email),
                    fields_password(),
                ],
            )
            .expect(303);
        let page = visitor.get("/account").expect(200);
        assert_eq!(page.field("name").as_deref(), Some(*name));
    }
}

const fn fields_password() -> (&'static str, &'static str) {
    ("password", "granite lantern otter")
}

// People

#[tokio::test]
async fn a_role_taken_away_closes_the_door_at_once() {
    let gym = TestGym::new().await;
    let (mut owner, mut coach) = (gym.owner().await, gym.coach().await);
    coach.get(&gym.path("people/invite")).expect(200);
    owner.get(&gym.path("people")).expect(200);
    let take = gym.path(&format!("people/{}/remove", gym.coach.id));
    owner.post(&take, &[("role", "coach")]).expect(303);
    coach.get(&gym.path("people/invite")).expect(404);
    let home = coach.get("/").expect(200);
    assert!(home.body.contains("no part in any gym"), "{}", home.words());
    owner.post(&take, &[("role", "coach")]).expect(404);
    let mut tx = gym.enter().await;
    assert!(
        !athletes::is_on_roster(&mut tx, gym.coach.id, gym.athlete_id)
            .await
            .unwrap()
    );
}

#[tokio::test]
async fn the_last_owner_stays() {
    let gym = TestGym::new().await;
    let mut owner = gym.owner().await;
    owner.get(&gym.path("people")).expect(200);
    let leave = gym.path(&format!("people/{}/remove", gym.owner.id));
    let page = owner.post(&leave, &[("role", "owner")]).expect(422);
    assert!(page.body.contains("at least one owner"), "{}", page.words());
    owner.get(&gym.path("people")).expect(200);

    let give = gym.path(&format!("people/{}/give", gym.coach.id));
    owner.post(&give, &[("role", "athlete")]).expect(422);
    owner.post(&give, &[("role", "owner")]).expect(303);
    // Both at once: one of them stays.
    let mut other = gym.coach().await;
    let other_leaves = gym.path(&format!("people/{}/remove", gym.coach.id));
    let (a, b) = std::thread::scope(|scope| {
        let a = scope.spawn(|| owner.post(&leave, &[("role", "owner")]).status);
        let b = scope.spawn(|| other.post(&other_leaves, &[("role", "owner")]).status);
        (a.join().unwrap(), b.join().unwrap())
    });
    let mut statuses = [a, b];
    statuses.sort_unstable();
    assert_eq!(statuses, [303, 422]);
}

#[tokio::test]
async fn people_of_another_gym_cannot_be_named() {
    let gym = TestGym::new().await;
    let (_, [sunna, ..], _) = gym.neighbour().await;
    let mut owner = gym.owner().await;
    let page = owner.get(&gym.path("people")).expect(200);
    assert!(page.body.contains("Tove Lind") && !page.body.contains("Sunna"));
    for what in ["give", "remove"] {
        let path = gym.path(&format!("people/{}/{what}", sunna.id));
        owner.post(&path, &[("role", "owner")]).expect(404);
    }
    owner
        .post(&gym.path("people/x/give"), &[("role", "owner")])
        .expect(404);
}

#[tokio::test]
async fn a_gym_can_be_renamed_and_moved_to_a_zone_that_exists() {
    let gym = TestGym::new().await;
    let mut owner = gym.owner().await;
    owner.get(&gym.path("gym")).expect(200);
    let page = owner
        .post(&gym.path("gym"), &[("name", ""), ("zone", "Mars/Olympus")])
        .expect(422);
    assert!(page.body.contains("id=\"name-error\"") && page.body.contains("id=\"zone-error\""));
    assert_eq!(page.field("zone").as_deref(), Some("Mars/Olympus"));
    let fine = ("Quarry Lane", "Pacific/Kiritimati");
    for (name, zone, wrong) in [
        ("Quarry\u{202e} enaL", fine.1, "name"),
        ("\u{200b}", fine.1, "name"),
        ("\u{200d}", fine.1, "name"),
        (&"x".repeat(121), fine.1, "name"),
        // Entries of the database's list that are no place's zone (IANA time zone database, from memory).
        (fine.0, "posixrules", "zone"),
        (fine.0, "localtime", "zone"),
        (fine.0, "Factory", "zone"),
        (fine.0, "posix/Europe/Lisbon", "zone"),
        (fine.0, "right/Europe/Lisbon", "zone"),
    ] {
        let page = owner
            .post(&gym.path("gym"), &[("name", name), ("zone", zone)])
            .expect(422);
        assert!(
            page.body.contains(&format!("id=\"{wrong}-error\"")),
            "{name:?} {zone}: {}",
            page.words()
        );
        assert_eq!(page.field("name").as_deref(), Some(name));
        assert_eq!(page.field("zone").as_deref(), Some(zone));
    }
    // Line breaks between words are blanks, as in every other name.
    let fields = [("name", "Quarry\r\n Lane"), ("zone", fine.1)];
    owner.post(&gym.path("gym"), &fields).expect(303);
    let page = owner.get(&gym.path("gym?done=saved")).expect(200);
    assert!(page.body.contains("Quarry Lane") && page.body.contains("Saved."));
    // 18:00 UTC is 08:00 of the next day at UTC+14 (IANA time zone database).
    let mut tx = gym.enter().await;
    let there = leverbook_store::gyms::get(&mut tx, NOW).await.unwrap();
    assert_eq!(there.today, date!(2026 - 11 - 26));
}

// Forms and failures

#[tokio::test]
async fn a_form_that_was_open_too_long_gives_back_what_was_typed() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let fields = [
        ("csrf", "old"),
        ("name", "Tove \"Lind\" <b>"),
        ("units", "pound"),
        ("password_now", "secret"),
    ];
    let page = coach.post_without_token("/account", &fields).expect(403);
    assert!(
        page.body.contains("Please send this once more"),
        "{}",
        page.words()
    );
    assert_eq!(page.field("name").as_deref(), Some("Tove \"Lind\" <b>"));
    assert!(!page.body.contains("secret"));
    // Sent again as that page would.
    let (name, units) = (page.field("name").unwrap(), page.field("units").unwrap());
    coach
        .post("/account", &[("name", &name), ("units", &units)])
        .expect(303);

    let mut gone = gym.anon();
    let page = gone
        .post_without_token(&gym.path("gym"), &[("name", "Typed for long")])
        .expect(401);
    assert_eq!(page.field("name").as_deref(), Some("Typed for long"));
    assert!(page.body.contains("You are signed out"), "{}", page.words());
}

#[tokio::test]
async fn a_failure_shows_a_reference_and_not_its_cause() {
    let gym = TestGym::new().await;
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    sqlx::raw_sql("alter table invitations rename to gone")
        .execute(&mut admin)
        .await
        .unwrap();
    let mut owner = gym.owner().await;
    let page = owner.get(&gym.path("people")).expect(500);
    let reference = page.header("x-request-id").to_owned();
    assert!(
        page.body.contains(&reference) && !page.body.contains("invitations"),
        "{}",
        page.words()
    );
    // RFC 9457 for programs.
    let json = owner.send(
        "GET",
        &gym.path("people"),
        &[("accept", "application/json")],
        b"",
    );
    assert_eq!(
        (json.status, json.header("content-type")),
        (500, "application/problem+json")
    );
    let problem: serde_json::Value = serde_json::from_str(&json.body).unwrap();
    assert_eq!(problem["status"], 500);
}

#[tokio::test]
async fn every_file_that_a_page_names_is_there_and_compressed() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let page = coach.get("/account").expect(200);
    let files: Vec<&str> = page
        .body
        .split('"')
        .filter(|part| part.starts_with("/static/"))
        .collect();
    assert!(files.len() >= 5, "{files:?}");
    for file in files {
        coach.get(file).expect(200);
    }
    let gzip = [("accept-encoding", "gzip")];
    let page = coach.send("GET", "/account", &gzip, b"");
    assert_eq!(page.header("content-encoding"), "gzip");
}

/// RFC 9112 section 9.6: who closes while the other side still sends makes it lose the answer. Of a
/// body that is far more than the buffers between two sockets hold, every byte is taken, then told of.
#[tokio::test]
async fn whoever_sends_too_much_sees_the_answer_and_no_broken_connection() {
    let gym = TestGym::new().await;
    let host = gym.origin().replacen("http://", "", 1);
    let piece = [b'a'; 64 * 1024];
    let pieces = 512;
    let mut connection = TcpStream::connect(&host).unwrap();
    write!(
        connection,
        "POST /sign-in HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n",
        pieces * piece.len()
    )
    .unwrap();
    for number in 0..pieces {
        connection
            .write_all(&piece)
            .unwrap_or_else(|error| panic!("broke off at piece {number}: {error}"));
    }
    let mut answer = String::new();
    connection.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 413 "), "{answer}");
    assert!(answer.contains("<h1>"), "{answer}");
}
