//! How long the server takes to look at a block for sixty athletes with a year of log behind each, and to
//! assign it, against the limit of one second: from the request to the whole answer, over HTTP, on a
//! database of its own.
//!
//! `cargo bench -p leverbook-tests --bench assigning`

use std::time::{Duration, Instant};

use leverbook_domain::club::ClubMeasure;
use leverbook_domain::id::{AthleteId, ClubId, LoadingId, MovementId};
use leverbook_domain::training::{Hands, Note, SetDone, Side, Work};
use leverbook_domain::units::{Effort, Reps, Seconds};
use leverbook_store::log::{self, Done, NewRevision};
use leverbook_store::rack::{self, ClubDetails, MovementDetails, NewLoading};
use leverbook_store::{GymTx, flags};
use leverbook_tests::{Actor, NOW, TestGym, new_id};
use time::Date;
use time::macros::date;

const ATHLETES: usize = 60;
/// Two a week for a year.
const SESSIONS: i64 = 104;
const LIMIT: Duration = Duration::from_secs(1);
const ROUNDS: usize = 5;
const FIRST: Date = date!(2025 - 11 - 24);

async fn rack_of(tx: &mut GymTx) -> (MovementId, LoadingId) {
    let movement = new_id();
    let details = MovementDetails {
        name: "mill".to_owned().try_into().expect("a name"),
        cues: Default::default(),
        faults: Default::default(),
    };
    rack::add_movement(tx, movement, &details)
        .await
        .expect("a movement");
    let mut first = None;
    for step in 0..12 {
        let measure: ClubMeasure = serde_json::from_value(serde_json::json!({
            "mass_kg": 4.0 + f64::from(step), "length_mm": 600.0, "balance_mm": 400.0, "grip_mm": 60.0,
        }))
        .expect("a club");
        let name = format!("Oak {}", 4 + step);
        let loading = NewLoading {
            id: new_id(),
            name: name.clone().try_into().expect("a name"),
            measure,
        };
        let details = ClubDetails {
            name: name.try_into().expect("a name"),
            owner: None,
            loadable: false,
            count: 1,
        };
        rack::add_club(tx, new_id::<ClubId>(), &details, &loading, NOW)
            .await
            .expect("a club");
        first = first.or(Some(loading.id));
    }
    (movement, first.expect("a club"))
}

/// The count climbs by a rep in ten sessions, with a slower day in five; effort as it goes.
fn done(number: i64, movement: MovementId, loading: LoadingId) -> Done {
    let reps = 10 + number / 10 - i64::from(number % 5 == 0);
    let set = |side| SetDone {
        movement,
        hands: Hands::Two,
        loading,
        side,
        work: Work::Interval {
            seconds: Seconds::new(30).expect("an interval"),
            reps: Reps::new(reps).expect("reps"),
        },
    };
    Done {
        on: FIRST + time::Duration::days(number / 2 * 7 + number % 2 * 3),
        planned: None,
        minutes: None,
        effort: Effort::new(6.0).ok(),
        pain: Vec::new(),
        note: Note::default(),
        sets: (0..5).flat_map(|_| Side::BOTH.map(set)).collect(),
    }
}

async fn athlete(gym: &TestGym, number: usize, movement: MovementId, club: LoadingId) -> AthleteId {
    let mut tx = gym.enter().await;
    let athlete: AthleteId = new_id();
    sqlx::query(
        "with new as (
             insert into athletes
                 (gym_id, athlete_id, name, started_on, status_since, handle, created_at)
             values ($1, $2, $3, $4, $4, $5, $6)
         )
         insert into rosters (gym_id, coach_id, athlete_id) values ($1, $7, $2)",
    )
    .bind(gym.id.0)
    .bind(athlete.0)
    .bind(format!("Athlete {number:02}"))
    .bind(FIRST)
    .bind(athlete.to_string())
    .bind(NOW)
    .bind(gym.coach.id.0)
    .execute(tx.conn())
    .await
    .expect("an athlete");
    for number in 0..SESSIONS {
        let revision = NewRevision {
            revision: new_id(),
            replaces: None,
            athlete,
            done: Some(done(number, movement, club)),
            logged_at: NOW,
        };
        log::record(&mut tx, &revision).await.expect("a session");
    }
    tx.commit().await.expect("a year");
    athlete
}

fn timed(
    coach: &mut Actor,
    path: &str,
    fields: &[(String, String)],
    status: u16,
) -> (Duration, leverbook_tests::Answer) {
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    let began = Instant::now();
    let answer = coach.post(path, &fields);
    (began.elapsed(), answer.expect(status))
}

fn tell(what: &str, mut times: Vec<Duration>) {
    times.sort_unstable();
    let (median, slowest) = (times[times.len() / 2], times[times.len() - 1]);
    println!(
        "{what}: median {:.0} ms, slowest of {} {:.0} ms; {:.2} of the limit of {} s",
        median.as_secs_f64() * 1e3,
        times.len(),
        slowest.as_secs_f64() * 1e3,
        slowest.as_secs_f64() / LIMIT.as_secs_f64(),
        LIMIT.as_secs()
    );
}

#[tokio::main]
async fn main() {
    let gym = TestGym::new().await;
    let mut tx = gym.enter().await;
    let (movement, club) = rack_of(&mut tx).await;
    tx.commit().await.expect("a rack");
    let mut athletes = Vec::new();
    for number in 1..=ATHLETES {
        athletes.push(athlete(&gym, number, movement, club).await);
    }
    let mut tx = gym.enter().await;
    flags::reassess_all(&mut tx, &athletes, NOW.date())
        .await
        .expect("flags");
    tx.commit().await.expect("flags");
    println!(
        "{ATHLETES} athletes with {SESSIONS} sessions each, {} build",
        if cfg!(debug_assertions) {
            "debug"
        } else {
            "release"
        }
    );

    let mut coach = gym.coach().await;
    let path = gym.path("assign");
    let movement = movement.to_string();
    let (mut looks, mut assigns) = (Vec::new(), Vec::new());
    for round in 0..ROUNDS {
        let starts_on = (NOW.date() + time::Duration::weeks(8 * round as i64)).to_string();
        let mut fields: Vec<(String, String)> = athletes
            .iter()
            .map(|id| ("athlete".to_owned(), id.to_string()))
            .collect();
        for (name, value) in [
            ("movement", movement.as_str()),
            ("by", "own"),
            ("hands", "two"),
            ("club", "next"),
            ("weekday", "1"),
            ("weekday", "4"),
            ("starts_on", &starts_on),
            ("weeks", "8"),
            ("interval_sets", "5"),
            ("interval_seconds", "30"),
            ("interval_rest", "60"),
            ("note", "Count out loud."),
            ("step", "preview"),
        ] {
            fields.push((name.to_owned(), value.to_owned()));
        }
        let (time, page) = timed(&mut coach, &path, &fields, 200);
        looks.push(time);
        let mut fields = page.main_form();
        fields.push(("because".to_owned(), "Agreed with everybody.".to_owned()));
        fields.push(("step".to_owned(), "assign".to_owned()));
        let (time, _) = timed(&mut coach, &path, &fields, 303);
        assigns.push(time);
    }
    let mut tx = gym.enter().await;
    let written: i64 = sqlx::query_scalar("select count(*) from blocks where gym_id = $1")
        .bind(gym.id.0)
        .fetch_one(tx.conn())
        .await
        .expect("a count");
    assert_eq!(written, (ATHLETES * ROUNDS) as i64, "all were assigned");
    tell("look at every week", looks);
    tell("assign", assigns);
}
