//! The rack and the movements, through the pages.

use leverbook_domain::club::{ClubFields, ClubMeasure};
use leverbook_domain::id::{ClubId, LoadingId, MovementId};
use leverbook_domain::text::{ClubName, LoadingName};
use leverbook_store::people::Role;
use leverbook_store::rack::{self, ClubDetails, Loading, NewLoading};
use leverbook_tests::{Answer, NOW, TestGym, new_id};
use uuid::Uuid;

/// What a browser sends for a club that was weighed, balanced and swung, with some fields typed
/// over.
fn club_form<'a>(typed: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut fields = vec![
        ("name", "Iron 12"),
        ("count", "2"),
        ("loading_name", ""),
        ("how", "measured"),
        ("mass", "11.7"),
        ("length", "660"),
        ("balance", "463"),
        ("grip", "50"),
        ("swings_time", "29.06"),
        ("pivot", "0"),
        ("pieces", "3"),
        ("plates", "2"),
    ];
    for (name, value) in typed {
        match fields.iter_mut().find(|(known, _)| known == name) {
            Some(field) => field.1 = value,
            None => fields.push((name, value)),
        }
    }
    fields
}

async fn loadings(gym: &TestGym) -> Vec<Loading> {
    rack::loadings(&mut gym.enter().await)
        .await
        .expect("the loadings")
}

/// Adds a weighed club past the page.
async fn club(gym: &TestGym, name: &str, fields: ClubFields) -> (ClubId, LoadingId) {
    let (club, loading) = (new_id(), new_id());
    let details = ClubDetails {
        name: ClubName::new(name).expect("a name"),
        owner: None,
        loadable: false,
        count: 1,
    };
    let first = NewLoading {
        id: loading,
        name: LoadingName::new(name).expect("a name"),
        measure: ClubMeasure::try_from(fields).expect("a possible club"),
    };
    let mut tx = gym.enter().await;
    rack::add_club(&mut tx, club, &details, &first, NOW)
        .await
        .expect("a new club");
    tx.commit().await.expect("a new club");
    (club, loading)
}

fn weighed(mass_kg: f64, balance_mm: Option<f64>) -> ClubFields {
    ClubFields {
        mass_kg: Some(mass_kg),
        length_mm: Some(700.0),
        balance_mm,
        grip_mm: balance_mm.map(|_| 50.0),
        ..ClubFields::default()
    }
}

/// Logs one set with a loading, past the page.
async fn swing(gym: &TestGym, loading: LoadingId) {
    let mut tx = gym.enter().await;
    rack::seed_movements(&mut tx).await.expect("movements");
    let movement = rack::movements(&mut tx).await.expect("movements")[0].id;
    let session: Uuid = new_id();
    sqlx::query(
        "insert into logged_sessions (gym_id, revision_id, session_id, athlete_id, on_date,
             logged_by, logged_at, content_hash)
         values ($1, $2, $2, $3, '2026-11-23', $4, $5, '\\x00')",
    )
    .bind(gym.id.0)
    .bind(session)
    .bind(gym.athlete_id.0)
    .bind(gym.athlete.id.0)
    .bind(NOW)
    .execute(tx.conn())
    .await
    .expect("a session");
    sqlx::query(
        "insert into logged_sets (gym_id, revision_id, position, movement_id, hands, loading_id,
             side, seconds, reps)
         values ($1, $2, 1, $3, 'two', $4, 'left', 30, 14)",
    )
    .bind(gym.id.0)
    .bind(session)
    .bind(movement.0)
    .bind(loading.0)
    .execute(tx.conn())
    .await
    .expect("a set");
    tx.commit().await.expect("a logged session");
}

/// The text after a field's error mark, if the page shows one.
fn error_at(page: &Answer, field: &str) -> Option<String> {
    let at = page.body.find(&format!("id=\"{field}-error\""))?;
    let text = page.body[at..].split_once('>')?.1.split_once('<')?.0;
    Some(text.to_owned())
}

#[tokio::test]
async fn a_coach_adds_a_club_and_everybody_reads_its_figures() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let empty = coach.get(&gym.path("rack")).expect(200);
    assert!(empty.body.contains("No clubs yet"));
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let added = coach
        .post(&gym.path("rack/clubs/new"), &club_form(&[]))
        .expect(303);
    assert_eq!(added.location(), gym.path("rack?done=club-added"));

    for mut reader in [gym.coach().await, gym.owner().await, gym.athlete().await] {
        let page = reader.get(&gym.path("rack")).expect(200);
        // M1 by hand: 11.7 · 9.80665 · (0.463 − 0.050) = 47.387 N·m. M2a and M2 by hand with
        // T = 1.453 s, p = 0: I_pivot = 11.7 · 9.80665 · 0.463 · 1.453²/4π² = 2.8409;
        // I_cm = 2.8409 − 11.7 · 0.463² = 0.3328; I = 0.3328 + 11.7 · 0.413² = 2.3285 kg·m².
        for words in [
            "Iron 12",
            "× 2",
            "47.4 ±",
            "2.33",
            "S = m·g·(b − r)",
            "M2a",
            "OpenStax",
        ] {
            assert!(page.body.contains(words), "{words}: {}", page.words());
        }
    }
    let mut athlete = gym.athlete().await;
    let page = athlete.get(&gym.path("rack"));
    assert!(!page.body.contains("Add a club"), "an athlete only reads");
}

// 1 lb = 0.45359237 kg, 1 in = 25.4 mm, 1 lbf·ft = 1.3558179 N·m (NIST SP 811).
#[tokio::test]
async fn somebody_who_reads_pounds_types_and_reads_pounds() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    sqlx::query("update accounts set units = 'pound' where account_id = $1")
        .bind(gym.coach.id.0)
        .execute(tx.conn())
        .await
        .expect("units");
    tx.commit().await.expect("units");
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let typed = [
        ("mass", "25"),
        ("length", "26"),
        ("balance", "18"),
        ("grip", "2"),
        ("swings_time", ""),
        ("pivot", ""),
    ];
    coach
        .post(&gym.path("rack/clubs/new"), &club_form(&typed))
        .expect(303);
    let kept = ClubFields::from(loadings(&gym).await[0].measure.clone());
    assert_eq!(kept.mass_kg, Some(11.339_809_25));
    assert_eq!(kept.balance_mm, Some(457.2));
    // By hand: 25 lbf at 16 in is 33.33 lbf·ft.
    let page = coach.get(&gym.path("rack"));
    assert!(
        page.body.contains("33.3 ±") && page.body.contains("lbf·ft"),
        "{}",
        page.words()
    );
    // The same club for somebody who reads kilograms: 33.33 · 1.3558179 = 45.19 N·m.
    let page = gym.owner().await.get(&gym.path("rack"));
    assert!(
        page.body.contains("45.2 ±") && page.body.contains("11.34"),
        "{}",
        page.words()
    );
}

#[tokio::test]
async fn what_is_wrong_is_told_at_its_field_and_nothing_is_written() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let megabyte = "x".repeat(1 << 20);
    let table: &[(&str, &str)] = &[
        ("name", ""),
        ("name", "   "),
        ("name", &megabyte),
        ("name", "Iron\u{0}12"),
        ("name", "Iron \u{1b}[31m"),
        ("name", "Iron \u{202e}21"),
        ("count", ""),
        ("count", "0"),
        ("count", "-1"),
        ("count", "501"),
        ("count", "2.5"),
        ("count", "99999999999999999999"),
        ("loading_name", "\u{7f}"),
        ("mass", ""),
        ("mass", "0"),
        ("mass", "-3"),
        ("mass", "NaN"),
        ("mass", "inf"),
        ("mass", "1e3"),
        ("mass", "101"),
        ("mass", "12 kg"),
        ("mass", "١٢"),
        ("mass", "🏋"),
        ("length", "0"),
        ("length", "3001"),
        ("balance", "661"),
        ("grip", "463"),
        ("pivot", ""),
        ("swings_time", "10"),
        ("swings_time", "100"),
        ("mass_off", "-0.01"),
    ];
    for (field, typed) in table {
        let page = coach
            .post(&gym.path("rack/clubs/new"), &club_form(&[(field, typed)]))
            .expect(422);
        let shown: String = typed.chars().take(20).collect();
        assert!(
            error_at(&page, field).is_some(),
            "{field} {shown:?}: {}",
            page.words()
        );
        let kept = page.field(field).unwrap_or_default();
        assert_eq!(kept.trim(), typed.trim(), "{field} {shown:?} is lost");
        if *field != "name" {
            assert_eq!(
                page.field("name").as_deref(),
                Some("Iron 12"),
                "{field} {shown:?}"
            );
        }
        assert!(
            page.body.contains("aria-invalid=\"true\""),
            "{field} {shown:?}"
        );
    }
    assert_eq!(loadings(&gym).await, []);
}

#[tokio::test]
async fn any_script_may_name_a_club() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    for name in ["מוט ברזל", "棍棒 八", "🔥 12", "<b>Iron</b> & \"co\""] {
        coach
            .post(&gym.path("rack/clubs/new"), &club_form(&[("name", name)]))
            .expect(303);
    }
    let page = coach.get(&gym.path("rack"));
    assert!(page.body.contains("מוט ברזל") && page.body.contains("🔥 12"));
    assert!(!page.body.contains("<b>Iron"), "a name is text, not markup");
}

#[tokio::test]
async fn what_is_no_form_changes_nothing() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let csrf = coach.csrf().to_owned();
    let path = gym.path("rack/clubs/new");
    let json = [("content-type", "application/json")];
    let answer = coach.send("POST", &path, &json, b"{\"name\": \"Iron 12\"}");
    assert_eq!(answer.status, 415, "{}", answer.words());
    let form = [("content-type", "application/x-www-form-urlencoded")];
    let broken = format!("csrf={csrf}&name=Iron%FF12&count=1&mass=12&how=measured");
    let page = coach
        .send("POST", &path, &form, broken.as_bytes())
        .expect(422);
    assert!(error_at(&page, "name").is_some(), "{}", page.words());
    assert_eq!(
        page.field("mass").as_deref(),
        Some("12"),
        "what was typed stays"
    );
    assert_eq!(loadings(&gym).await, []);
}

#[tokio::test]
async fn a_form_grows_by_rows_and_loses_nothing() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let typed = [
        ("how", "shape"),
        ("piece_length_2", "150"),
        ("mass", "12"),
        ("more", "pieces"),
    ];
    let page = coach
        .post(&gym.path("rack/clubs/new"), &club_form(&typed))
        .expect(200);
    assert_eq!(page.field("piece_length_2").as_deref(), Some("150"));
    assert_eq!(page.field("mass").as_deref(), Some("12"));
    assert!(page.field("piece_length_6").is_some(), "three rows more");
    assert!(
        !page.body.contains("aria-invalid"),
        "asking for rows is no mistake"
    );
    assert_eq!(loadings(&gym).await, []);
}

/// M2b: a solid steel rod 1 m long and 25 mm across, 7850 kg/m³, weighs 3.85336 kg and balances in
/// the middle (handbook values recomputed from mL and πr²Lρ).
#[tokio::test]
async fn a_club_may_be_built_from_its_shape() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let typed = [
        ("name", "Rod"),
        ("how", "shape"),
        ("grip", "100"),
        ("piece_length_1", "1000"),
        ("piece_start_1", "25"),
        ("piece_end_1", "25"),
        ("piece_density_1", "7850"),
    ];
    coach
        .post(&gym.path("rack/clubs/new"), &club_form(&typed))
        .expect(303);
    let mechanics = *loadings(&gym).await[0].measure.mechanics();
    assert!((mechanics.mass.value().kg() - 3.85336).abs() < 1e-5);
    assert!((mechanics.balance.expect("known").value().m() - 0.5).abs() < 1e-9);
}

/// By hand at one balance point: steps of mass are steps of moment. 8 to 10 kg is 25 %, 10 to 16 kg
/// is 60 %: over 33 %, and one club of √(10·16) = 12.65 kg closes it.
#[tokio::test]
async fn wide_steps_are_marked_and_what_closes_them_is_told() {
    let gym = TestGym::new().await;
    for (name, mass) in [("Sixteen", 16.0), ("Eight", 8.0), ("Ten", 10.0)] {
        club(&gym, name, weighed(mass, Some(450.0))).await;
    }
    club(&gym, "Unbalanced", weighed(9.0, None)).await;
    let page = gym.coach().await.get(&gym.path("rack")).expect(200);
    let words = page.words();
    let table = words.find("By static moment (M1)").expect("a table");
    let place = |name: &str| {
        words[table..]
            .find(name)
            .unwrap_or_else(|| panic!("{name}: {words}"))
    };
    assert!(
        place("Eight") < place("Ten") && place("Ten") < place("Sixteen"),
        "{words}"
    );
    assert!(words.contains("+25 %"), "{words}");
    assert!(words.contains("Wide +60 %"), "{words}");
    assert!(words.contains("Ten to Sixteen"), "{words}");
    assert!(words.contains("one more club: about 12.65 kg"), "{words}");
    assert!(
        words.contains("By mass only") && words.contains("needs the balance point and the grip")
    );
}

#[tokio::test]
async fn a_log_keeps_the_figures_it_was_logged_under() {
    let gym = TestGym::new().await;
    let (club_id, loading) = club(&gym, "Oak", weighed(8.0, None)).await;
    let edit = gym.path(&format!("rack/loadings/{loading}/edit"));
    let mut coach = gym.coach().await;
    let oak = |typed: &[(&'static str, &'static str)]| {
        let mut fields = vec![
            ("loading_name", "Oak"),
            ("how", "measured"),
            ("mass", "8"),
            ("length", "700"),
            ("pieces", "3"),
            ("plates", "2"),
        ];
        fields.extend_from_slice(typed);
        fields
    };

    // Unused, it may be corrected.
    coach.get(&edit).expect(200);
    coach.post(&edit, &oak(&[("balance", "")])).expect(303);
    // Its picture says what nobody measured, and hangs no mass where it may not balance.
    let page = coach
        .get(&gym.path(&format!("rack/clubs/{club_id}")))
        .expect(200);
    assert!(
        page.body
            .contains(">Oak: 8 kg, 700 mm, balance point unknown</title>")
    );
    assert!(
        page.body.contains("class=\"club-rod\"") && !page.body.contains("class=\"club-weight\"")
    );
    swing(&gym, loading).await;

    // Used, what was unknown may be added.
    assert!(coach.get(&edit).body.contains("in a log or a plan"));
    coach
        .post(&edit, &oak(&[("balance", "450"), ("grip", "50")]))
        .expect(303);
    let kept = loadings(&gym).await;
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].id, loading);
    assert!(kept[0].measure.mechanics().static_moment.is_some());

    // Any other change makes a new loading; the old one keeps its figures.
    let before = kept[0].measure.clone();
    let changed: Vec<_> = oak(&[("balance", "450"), ("grip", "50")])
        .into_iter()
        .map(|(name, value)| {
            if name == "mass" {
                (name, "9")
            } else {
                (name, value)
            }
        })
        .collect();
    let answer = coach.post(&edit, &changed).expect(303);
    assert!(
        answer.location().ends_with("done=loading-replaced"),
        "{}",
        answer.location()
    );
    let kept = loadings(&gym).await;
    let old = kept
        .iter()
        .find(|kept| kept.id == loading)
        .expect("the old one is there");
    assert_eq!(old.measure, before);
    assert!(old.retired_at.is_some());
    assert!(
        old.name.as_str().starts_with("Oak until 2026-11-25"),
        "{}",
        old.name
    );
    let new = kept
        .iter()
        .find(|kept| kept.id != loading)
        .expect("a new one");
    assert_eq!((new.name.as_str(), new.retired_at), ("Oak", None));
    assert_eq!(new.club, club_id);
    assert_eq!(ClubFields::from(new.measure.clone()).mass_kg, Some(9.0));
}

#[tokio::test]
async fn a_name_is_once_in_a_gym() {
    let gym = TestGym::new().await;
    let (first, _) = club(&gym, "Oak", weighed(8.0, None)).await;
    club(&gym, "Ash", weighed(6.0, None)).await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("rack/clubs/new")).expect(200);
    let page = coach
        .post(&gym.path("rack/clubs/new"), &club_form(&[("name", "Oak")]))
        .expect(422);
    assert!(error_at(&page, "name").is_some(), "{}", page.words());
    let edit = gym.path(&format!("rack/clubs/{first}/edit"));
    let renamed = [("name", "Ash"), ("count", "1")];
    let page = coach.post(&edit, &renamed).expect(422);
    assert!(error_at(&page, "name").is_some(), "{}", page.words());
    coach
        .post(
            &edit,
            &[("name", "Oak of old"), ("count", "3"), ("loadable", "yes")],
        )
        .expect(303);
    let names: Vec<_> = loadings(&gym)
        .await
        .iter()
        .map(|kept| kept.name.to_string())
        .collect();
    assert_eq!(
        names,
        ["Ash", "Oak of old"],
        "a fixed club's loading takes the name along"
    );
}

#[tokio::test]
async fn a_club_of_one_athlete_is_no_other_athletes() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let owner = gym.athlete_id.to_string();
    coach
        .get(&gym.path(&format!("rack/clubs/new?athlete={owner}")))
        .expect(200);
    let typed = [("name", "Ansel’s own"), ("owner", owner.as_str())];
    let added = coach
        .post(&gym.path("rack/clubs/new"), &club_form(&typed))
        .expect(303);
    assert!(added.location().contains(&format!("athlete={owner}")));
    let own = loadings(&gym).await[0].club;

    // M1 by hand: 10 · 9.80665 · (0.463 − 0.050) = 40.501 N·m, and 11.7 kg on the same lever asks
    // 17 % more.
    club(&gym, "Oak", weighed(10.0, Some(463.0))).await;
    let page = coach.get(&gym.path("rack")).expect(200);
    let placed = page.body.split("Athletes’ own clubs").nth(1);
    for words in [
        "Ansel’s own",
        "47.4 ±",
        "+17 %",
        "from Oak, by static moment",
    ] {
        assert!(
            placed.is_some_and(|rest| rest.contains(words)),
            "{words}: {}",
            page.words()
        );
    }

    let mut athlete = gym.athlete().await;
    assert!(athlete.get(&gym.path("rack")).body.contains("Ansel’s own"));
    athlete
        .get(&gym.path(&format!("rack/clubs/{own}")))
        .expect(200);

    let other = gym
        .person("Ida Brock", "ida@quarry.example", &[Role::Athlete])
        .await;
    let mut other = gym.sign_in(&other).await;
    assert!(!other.get(&gym.path("rack")).body.contains("Ansel’s own"));
    other
        .get(&gym.path(&format!("rack/clubs/{own}")))
        .expect(404);

    // Nobody's club can be made somebody else's by naming an athlete of another gym.
    let (_, _, stranger) = gym.neighbour().await;
    let stranger = stranger.to_string();
    let typed = [("name", "Lost"), ("owner", stranger.as_str())];
    coach
        .post(&gym.path("rack/clubs/new"), &club_form(&typed))
        .expect(404);
}

#[tokio::test]
async fn a_club_is_taken_out_and_brought_back() {
    let gym = TestGym::new().await;
    let (id, _) = club(&gym, "Oak", weighed(8.0, Some(450.0))).await;
    let mut coach = gym.coach().await;
    let page = gym.path(&format!("rack/clubs/{id}"));
    coach.get(&page).expect(200);
    coach.post(&format!("{page}/retire"), &[]).expect(303);
    let rack_page = coach.get(&gym.path("rack"));
    assert!(
        rack_page.body.contains("Retired (1)"),
        "{}",
        rack_page.words()
    );
    assert!(rack_page.body.contains("No clubs yet"));
    coach
        .post(&format!("{page}/retire"), &[("bring", "back")])
        .expect(303);
    assert!(!coach.get(&gym.path("rack")).body.contains("Retired ("));
}

#[tokio::test]
async fn a_new_gym_has_movements_and_edits_its_own() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    rack::seed_movements(&mut tx).await.expect("movements");
    rack::seed_movements(&mut tx)
        .await
        .expect("the same movements again");
    let shipped = rack::movements(&mut tx).await.expect("movements");
    tx.commit().await.expect("movements");
    assert_eq!(shipped.len(), 7);
    let mill: MovementId = shipped
        .iter()
        .find(|movement| movement.details.name.as_str() == "mill")
        .expect("the mill is shipped")
        .id;

    let mut coach = gym.coach().await;
    let page = coach.get(&gym.path("movements")).expect(200);
    assert!(page.body.contains("pullover") && page.body.contains("Common faults"));
    let edit = gym.path(&format!("movements/{mill}/edit"));
    coach.get(&edit).expect(200);
    for (field, typed) in [
        ("name", "".to_owned()),
        ("name", "pullover".to_owned()),
        ("name", "PullOver".to_owned()),
        ("name", "m".repeat(1 << 20)),
        ("cues", "x".repeat(4001)),
        ("faults", "bell \u{7}".to_owned()),
    ] {
        let mut fields = vec![("name", "mill"), ("cues", "Keep"), ("faults", "Hurry")];
        fields.retain(|(name, _)| *name != field);
        fields.push((field, typed.as_str()));
        let page = coach.post(&edit, &fields).expect(422);
        assert!(
            error_at(&page, field).is_some(),
            "{field}: {}",
            page.words()
        );
    }
    let fields = [("name", "Big mill"), ("cues", "One\nTwo"), ("faults", "")];
    coach.post(&edit, &fields).expect(303);
    coach
        .post(&gym.path(&format!("movements/{mill}/retire")), &[])
        .expect(303);
    let kept = rack::movement(&mut gym.enter().await, mill)
        .await
        .expect("still there");
    assert_eq!(kept.details.name.as_str(), "Big mill");
    assert_eq!(kept.details.cues.as_str(), "One\nTwo");
    assert!(kept.retired_at.is_some());
    coach
        .post(
            &gym.path(&format!("movements/{mill}/retire")),
            &[("bring", "back")],
        )
        .expect(303);
    coach.get(&gym.path("movements/new")).expect(200);
    let new = [("name", "Side plank"), ("cues", ""), ("faults", "")];
    coach.post(&gym.path("movements/new"), &new).expect(303);
    let mut athlete = gym.athlete().await;
    assert!(
        athlete
            .get(&gym.path("movements"))
            .expect(200)
            .body
            .contains("Side plank")
    );
}
