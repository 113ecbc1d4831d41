//! Files in and out: dry runs, problems by line and column, all or nothing, and a round trip.

use leverbook_store::attendance::{self, CalendarMonth};
use leverbook_store::exchange::{self, Files, Import, ImportError, Report, Scope};
use leverbook_store::flags;
use leverbook_tests::demo_gym::{COACH_NAMES, COACHES};
use leverbook_tests::{NOW, TestGym};
use time::macros::date;

use crate::demo::demo_gym;

const ATHLETES: &str = "athlete,name,started_on\nada,Ada Quill,2025-01-06\nbo,Bo Lind,2025-02-03\n";
const CLUBS: &str =
    "club,mass_kg,length_mm,balance_mm,grip_mm\nOak 6,6,620,405,60\nOak 7,7,630,412,60\n";
const SETS: &str = "athlete,date,session,movement,hands,club,side,seconds,reps,effort,pain,pain_place,note\n\
    ada,2026-11-02,1,pullover,two,Oak 6,left,30,15,5,2,left elbow,\"went, \"\"well\"\"\"\n\
    ada,2026-11-02,1,pullover,two,Oak 6,right,30,15,,,,\n\
    bo,2026-11-03,1,pullover,two,Oak 7,left,30,14,6,,,\n\
    bo,2026-11-03,1,pullover,two,Oak 7,right,30,14,,,,\n";

async fn bring(
    gym: &TestGym,
    files: [Option<&str>; 3],
    dry_run: bool,
) -> Result<Report, ImportError> {
    let [athletes, clubs, sets] = files.map(|file| file.map(str::as_bytes));
    let how = Import {
        scope: Scope::Roster,
        now: NOW,
        today: date!(2026 - 11 - 25),
        dry_run,
    };
    let mut tx = gym.enter().await;
    let report = exchange::import(
        &mut tx,
        Files {
            athletes,
            clubs,
            sets,
        },
        how,
    )
    .await?;
    if !dry_run {
        tx.commit().await.expect("a commit");
    }
    Ok(report)
}

fn told(refused: ImportError) -> Vec<String> {
    match refused {
        ImportError::Refused(problems) => problems
            .into_iter()
            .map(|(file, problem)| format!("{}: {problem}", file.name()))
            .collect(),
        ImportError::Store(why) => panic!("{why:?}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dry_run_writes_nothing_and_says_the_same_as_the_real_one() {
    let gym = TestGym::new().await;
    let files = [Some(ATHLETES), Some(CLUBS), Some(SETS)];
    let dry = bring(&gym, files, true).await.expect("a dry run");
    assert_eq!(
        dry,
        bring(&gym, files, true).await.expect("another"),
        "a dry run wrote something"
    );
    let real = bring(&gym, files, false).await.expect("an import");
    assert_eq!(dry, real);
    assert_eq!(
        (real.athletes.added, real.clubs.added, real.sessions.added),
        (2, 2, 2)
    );
    let again = bring(&gym, files, false).await.expect("the same again");
    assert_eq!(
        (
            again.athletes.unchanged,
            again.clubs.unchanged,
            again.sessions.unchanged
        ),
        (2, 2, 2)
    );
    assert_eq!(
        (
            again.athletes.added,
            again.sessions.added,
            again.sessions.changed
        ),
        (0, 0, 0)
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn every_problem_is_told_by_file_line_and_column_and_nothing_is_written() {
    let gym = TestGym::new().await;
    let sets = SETS
        .replace("bo,2026-11-03", "nobody,2026-11-03")
        .replace("Oak 6,right", "Elm,right");
    let refused = bring(&gym, [Some(ATHLETES), Some(CLUBS), Some(&sets)], false)
        .await
        .unwrap_err();
    assert_eq!(
        told(refused),
        [
            "sets.csv: line 3, column club: is no club in this gym or in clubs.csv (found \"Elm\")",
            "sets.csv: line 4, column athlete: is nobody in this gym or in athletes.csv (found \"nobody\")",
        ]
    );
    let later = SETS.replace("2026-11-03", "2026-12-24");
    let refused = bring(&gym, [Some(ATHLETES), Some(CLUBS), Some(&later)], false)
        .await
        .unwrap_err();
    assert_eq!(
        told(refused),
        ["sets.csv: line 4, column date: lies in the future (found \"2026-12-24\")"]
    );
    let coached = "athlete,name,started_on,coach\nada,Ada,2025-01-06,who@where.example\n";
    let refused = bring(&gym, [Some(coached), None, None], false)
        .await
        .unwrap_err();
    assert_eq!(
        told(refused),
        [
            "athletes.csv: line 2, column coach: is no coach of this gym; invite them first (found \"who@where.example\")"
        ]
    );
    let nothing = bring(&gym, [Some(ATHLETES), None, None], true)
        .await
        .expect("a dry run");
    assert_eq!(
        nothing.athletes.added, 2,
        "something of the refused imports was written"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_club_that_was_swung_is_not_measured_anew() {
    let gym = TestGym::new().await;
    bring(&gym, [Some(ATHLETES), Some(CLUBS), Some(SETS)], false)
        .await
        .expect("an import");
    let heavier = CLUBS.replace("Oak 6,6,", "Oak 6,6.5,");
    let refused = bring(&gym, [None, Some(&heavier), None], false)
        .await
        .unwrap_err();
    assert!(told(refused)[0].contains("line 2, column club: is in the log or the plan"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_changed_session_is_a_new_revision_and_a_stranger_to_the_roster_is_refused() {
    let gym = TestGym::new().await;
    bring(&gym, [Some(ATHLETES), Some(CLUBS), Some(SETS)], false)
        .await
        .expect("an import");
    let edited = SETS.replace("right,30,15", "right,30,16");
    let report = bring(&gym, [None, None, Some(&edited)], false)
        .await
        .expect("an edit");
    assert_eq!((report.sessions.changed, report.sessions.unchanged), (1, 1));
    let revisions: i64 = {
        let mut tx = gym.enter().await;
        sqlx::query_scalar("select count(*) from logged_sessions where gym_id = $1")
            .bind(gym.id.0)
            .fetch_one(tx.conn())
            .await
            .expect("a count")
    };
    assert_eq!(revisions, 3, "the first revision must still be there");

    let other = gym
        .person(
            COACH_NAMES[1],
            COACHES[1],
            &[leverbook_store::people::Role::Coach],
        )
        .await;
    let mut tx = gym
        .store
        .enter(gym.id, other.id)
        .await
        .expect("the door opens");
    let how = Import {
        scope: Scope::Roster,
        now: NOW,
        today: date!(2026 - 11 - 25),
        dry_run: true,
    };
    let files = Files {
        sets: Some(SETS.as_bytes()),
        ..Files::default()
    };
    let refused = exchange::import(&mut tx, files, how).await.unwrap_err();
    assert!(told(refused)[0].contains("column athlete: is not on your roster"));
}

/// Athletes, clubs and log of two years go out, into an empty gym and out again: byte for byte.
#[tokio::test(flavor = "multi_thread")]
async fn what_goes_out_comes_in_again_to_the_same() {
    let from = demo_gym().await;
    let to = TestGym::new().await;
    for (name, email) in COACH_NAMES.into_iter().zip(COACHES) {
        to.person(name, email, &[leverbook_store::people::Role::Coach])
            .await;
    }
    let taken = take(&from).await;
    let [athletes, clubs, sets] = &taken;
    // The athlete who is in every test's gym from the start.
    let athletes: String = String::from_utf8_lossy(athletes)
        .lines()
        .filter(|line| !line.contains("Ansel"))
        .map(|line| format!("{line}\r\n"))
        .collect();
    let how = Import {
        scope: Scope::WholeGym,
        now: NOW,
        today: date!(2026 - 11 - 25),
        dry_run: false,
    };
    let files = Files {
        athletes: Some(athletes.as_bytes()),
        clubs: Some(clubs),
        sets: Some(sets),
    };
    let mut tx = to.enter().await;
    exchange::import(&mut tx, files, how)
        .await
        .expect("the files read back");
    tx.commit().await.expect("a commit");
    let again = take(&to).await;
    assert!(taken[1] == again[1], "clubs.csv changed");
    assert!(taken[2] == again[2], "sets.csv changed");
    let rows = |file: &[u8]| -> Vec<String> {
        String::from_utf8_lossy(file)
            .lines()
            .filter(|line| !line.contains("Ansel"))
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(rows(&taken[0]), rows(&again[0]));
}

async fn take(gym: &TestGym) -> [Vec<u8>; 3] {
    let mut tx = gym.enter().await;
    [
        exchange::athletes_csv(&mut tx, Scope::WholeGym)
            .await
            .expect("athletes"),
        exchange::clubs_csv(&mut tx).await.expect("clubs"),
        exchange::sets_csv(&mut tx, Scope::WholeGym)
            .await
            .expect("sets"),
    ]
}

#[tokio::test(flavor = "multi_thread")]
async fn files_are_checked_and_imported_from_the_page() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let path = gym.path("files");
    coach.get(&path).expect(200);
    let refused = coach.post(&path, &[("act", "check")]).expect(422);
    assert!(refused.words().contains("Choose at least one file"));
    let broken = coach
        .post_file(
            &path,
            &[("act", "import")],
            (
                "athletes",
                "a.csv",
                b"athlete,name,started_on\nada,,2025-01-06\n\xff,x,y\n",
            ),
        )
        .expect(422);
    assert!(
        broken.words().contains("athletes.csv 2 name is empty"),
        "{}",
        broken.words()
    );
    assert!(
        broken
            .words()
            .contains("athletes.csv 3 athlete is not UTF-8 text"),
        "{}",
        broken.words()
    );
    let checked = coach
        .post_file(
            &path,
            &[("act", "check")],
            ("athletes", "a.csv", ATHLETES.as_bytes()),
        )
        .expect(200);
    assert!(
        checked.words().contains("Nothing is written yet"),
        "{}",
        checked.words()
    );
    // The page carries what was checked, so that importing needs no second choosing.
    let carried = checked.field("athletes").expect("the checked text");
    let imported = coach
        .post(&path, &[("act", "import"), ("athletes", &carried)])
        .expect(200);
    assert!(
        imported.words().contains("Imported"),
        "{}",
        imported.words()
    );
    let out = coach.get(&gym.path("files/athletes.csv")).expect(200);
    assert!(out.header("content-type").starts_with("text/csv"));
    assert!(
        out.body
            .contains("ada,Ada Quill,2025-01-06,active,2025-01-06,"),
        "{}",
        out.body
    );
    coach.get(&gym.path("files/passwords.csv")).expect(404);
}

/// The month's page and file say what was logged: counted here from the file that was imported.
#[tokio::test(flavor = "multi_thread")]
async fn attendance_is_what_was_logged() {
    let gym = TestGym::new().await;
    bring(&gym, [Some(ATHLETES), Some(CLUBS), Some(SETS)], false)
        .await
        .expect("an import");
    let mut owner = gym.owner().await;
    let page = owner.get(&gym.path("attendance?month=2026-11")).expect(200);
    assert!(
        page.words().contains("2 visits by 2 of 3 people"),
        "{}",
        page.words()
    );
    let file = owner
        .get(&gym.path("attendance.csv?month=2026-11"))
        .expect(200);
    let lines: Vec<&str> = file.body.split("\r\n").collect();
    assert!(lines[0].starts_with("athlete,name,2026-11-01,2026-11-02"));
    assert_eq!(lines[1], format!("ada,Ada Quill,,1{},1", ",".repeat(28)));
    assert!(
        lines.iter().any(|line| line.starts_with("bo,Bo Lind,,,1,")),
        "{}",
        file.body
    );
    assert!(lines[4].starts_with(",everybody,0,1,1,0"), "{}", file.body);
    for health in ["elbow", "went, "] {
        assert!(
            !page.body.contains(health),
            "{health} is no owner's business"
        );
        assert!(
            !file.body.contains(health),
            "{health} is no owner's business"
        );
    }
    for (room, typed) in [
        ("attendance", "2026-13"),
        ("attendance", "soon"),
        ("attendance.csv", "soon"),
        ("attendance.csv", "2026-13"),
    ] {
        let page = owner
            .get(&gym.path(&format!("{room}?month={typed}")))
            .expect(422);
        assert_eq!(page.field("month").as_deref(), Some(typed), "{room}");
        assert!(
            page.words()
                .contains("a month is written as year and month"),
            "{room}: {}",
            page.words()
        );
    }

    let mut tx = gym.enter().await;
    let month: CalendarMonth = "2026-11".parse().expect("a month");
    let counted = attendance::month(&mut tx, month, None)
        .await
        .expect("a month");
    assert_eq!(counted.visits(), 2);
}

/// A club brought in by a file is news to the rules, as one added on a page is: it may be the
/// smaller step that somebody passed by (W2).
#[tokio::test(flavor = "multi_thread")]
async fn clubs_that_come_in_are_seen_by_the_rules() {
    let gym = TestGym::new().await;
    let today = date!(2026 - 11 - 25);
    bring(&gym, [Some(ATHLETES), Some(CLUBS), Some(SETS)], false)
        .await
        .expect("an import");
    let outdated = || flags::bring_up_to_date(&gym.store, gym.id, gym.coach.id, today);
    outdated().await.expect("flags");
    assert_eq!(outdated().await.expect("flags"), 0, "all are up to date");
    let between = "club,mass_kg,length_mm,balance_mm,grip_mm\nOak 6.4,6.4,625,407,60\n";
    bring(&gym, [None, Some(between), None], false)
        .await
        .expect("a new club");
    assert_eq!(
        outdated().await.expect("flags"),
        3,
        "a new club goes unseen"
    );
    let counted = format!(
        "{}\nOak 6.4,6.4,625,407,60,3\n",
        "club,mass_kg,length_mm,balance_mm,grip_mm,count"
    );
    bring(&gym, [None, Some(&counted), None], false)
        .await
        .expect("a changed club");
    assert_eq!(
        outdated().await.expect("flags"),
        3,
        "a changed club goes unseen"
    );
}
