//! An athlete's story and the page of rules: whose it is, what it shows, and a flag's life.

use leverbook_domain::id::AthleteId;
use leverbook_store::athletes;
use leverbook_store::exchange::{self, Files, Import, Scope};
use leverbook_tests::{NOW, TestGym, demo_gym};
use time::macros::date;

/// Brings the demo gym's files in, onto the roster of the test's coach.
async fn imported(gym: &TestGym) {
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
            today: date!(2026 - 11 - 25),
            dry_run: false,
        },
    )
    .await
    .expect("the demo gym comes in");
    tx.commit().await.expect("the demo gym comes in");
}

async fn named(gym: &TestGym, handle: &str) -> AthleteId {
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
