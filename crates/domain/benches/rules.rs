//! How fast the rules are: `cargo bench -p leverbook-domain`.
//!
//! Each figure stands beside its limit or its peer, measured in the same run: one athlete's three years, how the time
//! grows with the log, ten thousand athletes, and the same statistics of the same data by scipy and pymannkendall,
//! where Python has them (`pip install scipy pymannkendall`). Nothing is asserted, since a machine may be busy.

use std::hint::black_box;
use std::io::Write as _;
use std::process::{Command, Stdio};
use std::time::Instant;

use leverbook_domain::club::ClubMeasure;
use leverbook_domain::id::{ClubId, LoadingId, MovementId, SessionId};
use leverbook_domain::next_step::propose;
use leverbook_domain::policy::Policy;
use leverbook_domain::rules::{self, Flag, Names};
use leverbook_domain::stats::{mann_kendall, theil_sen};
use leverbook_domain::training::{AvailableClub, Hands, History, Session, SetDone, Side, Work};
use leverbook_domain::units::{Effort, Reps, Seconds};
use time::macros::date;
use time::{Date, Duration};
use uuid::Uuid;

/// Two sessions a week for three years.
const THREE_YEARS: usize = 312;

const FIRST_DAY: Date = date!(2020 - 01 - 06);
const MOVEMENT: MovementId = MovementId(Uuid::from_u128(1));

fn main() {
    let history = invented(THREE_YEARS, 0);
    let flags = seconds_of(|| rules::episodes(&history, &Policy::default(), last_day(&history)));
    let all = seconds_of(|| assess(&history));
    println!("One athlete with three years ({THREE_YEARS} sessions):");
    println!("  flags {}, limit 1 ms: {}", ms(flags), share(flags, 1e-3));
    println!("  flags and next step {}", ms(all));

    println!("How the time for the flags grows:");
    for sessions in [10, 100, 1_000, 10_000] {
        let history = invented(sessions, 0);
        let flags =
            seconds_of(|| rules::episodes(&history, &Policy::default(), last_day(&history)));
        let each = 1e6 * flags / sessions as f64;
        println!(
            "  {sessions:6} sessions {:>12}, {each:.2} µs a session",
            ms(flags)
        );
    }

    let athletes: Vec<History> = (0..100)
        .map(|athlete| invented(THREE_YEARS, athlete))
        .collect();
    let began = Instant::now();
    for history in athletes.iter().cycle().take(10_000) {
        black_box(rules::episodes(
            history,
            &Policy::default(),
            last_day(history),
        ));
    }
    let taken = began.elapsed().as_secs_f64();
    println!(
        "10,000 athletes with three years, one core: {taken:.2} s, limit 5 s: {}",
        share(taken, 5.0)
    );

    beside_python(&athletes);
}

fn assess(history: &History) -> usize {
    let (policy, today) = (Policy::default(), last_day(history));
    let found = rules::episodes(history, &policy, today);
    let open = |_: &Flag| false;
    propose(history, &policy, &found, &open, today, &Numbers).len()
}

fn last_day(history: &History) -> Date {
    history
        .sessions()
        .last()
        .map_or(FIRST_DAY, |session| session.on)
}

/// The fastest of several runs that take half a second together: what else the machine does only ever adds.
fn seconds_of<T>(mut run: impl FnMut() -> T) -> f64 {
    let (began, mut fastest) = (Instant::now(), f64::INFINITY);
    while began.elapsed().as_secs_f64() < 0.5 {
        let start = Instant::now();
        black_box(run());
        fastest = fastest.min(start.elapsed().as_secs_f64());
    }
    fastest
}

fn ms(seconds: f64) -> String {
    format!("{:.3} ms", 1e3 * seconds)
}

fn share(seconds: f64, limit: f64) -> String {
    format!("{:.0} % of it", 100.0 * seconds / limit)
}

struct Numbers;

impl Names for Numbers {
    fn movement(&self, _: MovementId) -> &str {
        "mill"
    }

    fn club(&self, _: LoadingId) -> &str {
        "club"
    }
}

/// An invented log: clubs with two hands that climb and are left at the goal, fingertips, then a ladder; and again from
/// the start until there are enough sessions.
fn invented(sessions: usize, athlete: usize) -> History {
    let clubs: Vec<AvailableClub> = (1..=6u32)
        .map(|number| {
            let json = format!(
                r#"{{"mass_kg":{},"length_mm":700,"balance_mm":430,"grip_mm":60}}"#,
                2.0 + 0.5 * f64::from(number)
            );
            let measure: ClubMeasure = serde_json::from_str(&json).expect("a club");
            let id = Uuid::from_u128(number.into());
            AvailableClub {
                loading: LoadingId(id),
                club: ClubId(id),
                mechanics: *measure.mechanics(),
                usable: true,
            }
        })
        .collect();
    let sessions = (0..sessions)
        .map(|number| session(number, athlete, &clubs))
        .collect();
    History::new(sessions, clubs, None)
}

fn session(number: usize, athlete: usize, clubs: &[AvailableClub]) -> Session {
    let in_three_years = number % THREE_YEARS;
    // Day-to-day noise that repeats itself, and not in step with anything else.
    let noise = (number * 7 + athlete * 5) % 11 % 3;
    let (hands, club, sets, work) = match in_three_years {
        0..200 => {
            let reps = 11 + in_three_years % 50 / 12 + noise;
            (
                Hands::Two,
                in_three_years / 50 + 2,
                5,
                against_the_clock(reps),
            )
        }
        200..208 => (Hands::Fingertip, 2, 5, straight()),
        // Two sessions a week, and a set more each week.
        _ => (
            Hands::One,
            2,
            5 + (in_three_years - 208) / 2 % 16,
            straight(),
        ),
    };
    let sets = (0..sets)
        .flat_map(|_| Side::BOTH)
        .map(|side| SetDone {
            movement: MOVEMENT,
            hands,
            loading: clubs[club - 1].loading,
            side,
            work,
        })
        .collect();
    Session {
        id: SessionId(Uuid::from_u128(number as u128)),
        on: FIRST_DAY + Duration::days((number / 2 * 7 + number % 2 * 3) as i64),
        planned: None,
        minutes: None,
        effort: Effort::new(6.0).ok(),
        pain: Vec::new(),
        sets,
    }
}

fn against_the_clock(reps: usize) -> Work {
    Work::Interval {
        seconds: Seconds::new(30).expect("half a minute"),
        reps: Reps::new(reps as i64).expect("a count"),
    }
}

fn straight() -> Work {
    Work::Straight {
        reps: Reps::new(5).expect("a count"),
        asked: None,
    }
}

/// Slope, its interval and Kendall's test of windows of eight sessions, here and in Python.
fn beside_python(athletes: &[History]) {
    let windows: Vec<Vec<(f64, f64)>> = athletes
        .iter()
        .flat_map(|history| {
            let points: Vec<(f64, f64)> = history.sessions()[..200]
                .iter()
                .map(|session| {
                    let day = (session.on - FIRST_DAY).whole_days() as f64;
                    let reps: u32 = session
                        .sets
                        .iter()
                        .map(|set| u32::from(set.work.reps().get()))
                        .sum();
                    (day, f64::from(reps) / 5.0)
                })
                .collect();
            points.chunks(8).map(<[_]>::to_vec).collect::<Vec<_>>()
        })
        .collect();
    let ours = seconds_of(|| {
        windows
            .iter()
            .map(|window| (theil_sen(window), mann_kendall(window)))
            .collect::<Vec<_>>()
    });
    let count = windows.len();
    println!("Slope, interval and Kendall's test of {count} windows of 8 sessions:");
    println!("  here {}", ms(ours));
    match python(&windows) {
        Ok((theirs, slopes)) => {
            println!(
                "  Python with scipy and pymannkendall {}: {:.0} times as long",
                ms(theirs),
                theirs / ours
            );
            let differ = windows
                .iter()
                .zip(&slopes)
                .filter(|(window, (slope, s))| {
                    let ours = theil_sen(window).zip(mann_kendall(window));
                    ours.is_none_or(|(trend, kendall)| {
                        (trend.per_day - slope).abs() > 1e-9 || kendall.s as f64 != *s
                    })
                })
                .count();
            println!("  slope or S differ in {differ} of {count}");
        }
        Err(why) => println!("  Python: not measured, {why}"),
    }
}

/// Seconds that Python takes, and its slopes and S.
fn python(windows: &[Vec<(f64, f64)>]) -> Result<(f64, Vec<(f64, f64)>), String> {
    let mut python = Command::new("python3")
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/benches/peer.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|why| why.to_string())?;
    let json = serde_json::to_vec(windows).map_err(|why| why.to_string())?;
    let mut stdin = python.stdin.take().ok_or("no way in")?;
    stdin.write_all(&json).map_err(|why| why.to_string())?;
    drop(stdin);
    let out = python.wait_with_output().map_err(|why| why.to_string())?;
    if !out.status.success() {
        return Err("it failed; does it have scipy and pymannkendall?".to_owned());
    }
    serde_json::from_slice(&out.stdout).map_err(|why| why.to_string())
}
