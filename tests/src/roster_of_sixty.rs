//! A roster of sixty, of whom twenty need a decision: five who hurt, eight who jumped clubs, seven who
//! earned a step. Plain logs, so that everybody is what they are said to be and nothing else.

use leverbook_store::exchange::{self, Files, Import, Scope};
use leverbook_store::people::Role;
use time::{Date, Duration};

use crate::demo_gym::{AS_OF, files};
use crate::{NOW, Person, TestGym};

/// Athletes on the roster.
pub const ATHLETES: usize = 60;
/// Those who hurt, who jumped, who earned a step.
pub const HURT: usize = 5;
/// See [`HURT`].
pub const JUMPED: usize = 8;
/// See [`HURT`].
pub const EARNED: usize = 7;

/// The coach whose roster it is.
pub const COACH: &str = "runa@quarrylane.example";
/// A coach who looks after the same sixty.
pub const OTHER_COACH: &str = "tiber@quarrylane.example";

const GIVEN: [&str; 10] = [
    "Ada", "Bela", "Caro", "Dov", "Elin", "Fenn", "Gale", "Hedda", "Ilse", "Joss",
];
const FAMILY: [&str; 6] = ["Arden", "Birch", "Coombe", "Dellow", "Esker", "Fallow"];

/// The name of one of the sixty.
#[must_use]
pub fn name(at: usize) -> String {
    format!("{} {}", GIVEN[at % 10], FAMILY[at / 10])
}

fn handle(at: usize) -> String {
    format!("swinger-{at:02}")
}

/// What one session looks like.
struct Day {
    on: Date,
    club: &'static str,
    /// Repetitions of each of the five sets on each side.
    reps: u32,
    pain: &'static str,
}

fn days(at: usize) -> Vec<Day> {
    let hurt = at < HURT;
    let jumped = (HURT..HURT + JUMPED).contains(&at);
    let earned = (HURT + JUMPED..HURT + JUMPED + EARNED).contains(&at);
    (0..12)
        .map(|session: usize| {
            let last = session == 11;
            let week = Duration::weeks(5 - session as i64 / 2);
            let on = AS_OF - week - Duration::days(if session.is_multiple_of(2) { 5 } else { 2 });
            Day {
                on,
                club: if jumped && last { "Oak 6" } else { "Hazel 3.5" },
                // The goal is 1.2 times the first three sessions: 18 reps of 15.
                reps: match session {
                    10 | 11 if earned => 18,
                    _ => 15 + session as u32 / 6,
                },
                pain: if hurt && last { "5,left elbow" } else { "," },
            }
        })
        .collect()
}

/// The athletes' and sets' files.
fn books() -> (String, String) {
    let mut athletes = "athlete,name,started_on,status,status_since,coach,notes\r\n".to_owned();
    let mut sets = "athlete,date,session,movement,hands,club,side,seconds,reps,effort,pain,pain_place,asked_reps,minutes\r\n".to_owned();
    for at in 0..ATHLETES {
        let (who, name) = (handle(at), name(at));
        let started = AS_OF - Duration::weeks(6) + Duration::days(1);
        athletes += &format!("{who},{name},{started},active,{started},{COACH},\r\n");
        for (number, day) in days(at).iter().enumerate() {
            for _ in 0..5 {
                for side in ["left", "right"] {
                    sets += &format!(
                        "{who},{},{},pullover,two,{},{side},30,{},6,{},,32\r\n",
                        day.on,
                        number + 1,
                        day.club,
                        day.reps,
                        day.pain,
                    );
                }
            }
        }
    }
    (athletes, sets)
}

/// The gym with its sixty, and both coaches.
///
/// # Panics
/// If the gym cannot be made.
pub async fn roster_of_sixty() -> (TestGym, Person, Person) {
    let gym = TestGym::new().await;
    let coach = gym.person("Runa Averill", COACH, &[Role::Coach]).await;
    let other = gym
        .person("Tiber Quayle", OTHER_COACH, &[Role::Coach])
        .await;
    let (athletes, sets) = books();
    let clubs = files()
        .into_iter()
        .find(|(file, _)| *file == "clubs.csv")
        .map(|(_, text)| text)
        .expect("a rack");
    // Somebody of another gym owns one of these.
    let clubs: String = clubs
        .split_inclusive('\n')
        .filter(|line| !line.contains(",nairn"))
        .collect();
    let files = Files {
        athletes: Some(athletes.as_bytes()),
        clubs: Some(clubs.as_bytes()),
        sets: Some(sets.as_bytes()),
    };
    let how = Import {
        scope: Scope::WholeGym,
        now: NOW,
        today: AS_OF,
        dry_run: false,
    };
    let mut tx = gym.enter().await;
    exchange::import(&mut tx, files, how)
        .await
        .expect("the sixty");
    sqlx::query(
        "insert into rosters (gym_id, coach_id, athlete_id)
         select gym_id, $2, athlete_id from rosters where gym_id = $1 and coach_id = $3",
    )
    .bind(gym.id.0)
    .bind(other.id.0)
    .bind(coach.id.0)
    .execute(tx.conn())
    .await
    .expect("both look after them");
    tx.commit().await.expect("the sixty");
    (gym, coach, other)
}
