//! How fast a class plan is made: `cargo bench -p leverbook-domain --bench classes`.
//!
//! Forty athletes, the limit of 200 ms, and scipy's milp on the same class in the same run, where Python has it
//! (`pip install scipy`). Nothing is asserted, since a machine may be busy.

use std::hint::black_box;
use std::num::NonZeroU16;
use std::process::Command;
use std::time::Instant;

use leverbook_domain::class::{AsLoaded, ClassDay, Expected, RackClub, Work, plan};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use uuid::Uuid;

const LIMIT_S: f64 = 0.2;
const ATHLETES: usize = 40;

/// A class of forty with so many kinds of clubs, so many of each, works each and clubs to choose from for each work.
struct Shape {
    what: &'static str,
    kinds: usize,
    of_each: u16,
    works: usize,
    choices: usize,
    at_once: Option<u16>,
}

const SHAPES: [Shape; 6] = [
    Shape {
        what: "one club each",
        kinds: 10,
        of_each: 2,
        works: 1,
        choices: 1,
        at_once: Some(12),
    },
    Shape {
        what: "one of three clubs each",
        kinds: 10,
        of_each: 2,
        works: 1,
        choices: 3,
        at_once: Some(12),
    },
    Shape {
        what: "three clubs each",
        kinds: 12,
        of_each: 3,
        works: 3,
        choices: 1,
        at_once: None,
    },
    Shape {
        what: "three works, each with three clubs",
        kinds: 12,
        of_each: 3,
        works: 3,
        choices: 3,
        at_once: Some(14),
    },
    Shape {
        what: "three works, forty kinds of clubs",
        kinds: 40,
        of_each: 6,
        works: 3,
        choices: 4,
        at_once: Some(9),
    },
    Shape {
        what: "one club for all",
        kinds: 1,
        of_each: 1,
        works: 1,
        choices: 1,
        at_once: None,
    },
];

impl Shape {
    /// Numbers that are spread evenly and the same every time.
    fn clubs(&self, athlete: usize, work: usize) -> Vec<usize> {
        let mut clubs: Vec<usize> = (0..self.choices)
            .map(|choice| (7 * athlete + 3 * work + 5 * choice + athlete * work) % self.kinds)
            .collect();
        clubs.sort_unstable();
        clubs.dedup();
        clubs
    }

    fn expected(&self) -> Vec<Expected> {
        let id = |number: usize| Uuid::from_u128(number as u128 + 1);
        let work = |athlete, work| Work {
            any_of: self
                .clubs(athlete, work)
                .into_iter()
                .map(|club| AsLoaded {
                    club: ClubId(id(club)),
                    loading: LoadingId(id(club)),
                })
                .collect(),
        };
        (0..ATHLETES)
            .map(|athlete| Expected {
                athlete: AthleteId(id(athlete)),
                works: (0..self.works)
                    .map(|number| work(athlete, number))
                    .collect(),
                first: athlete % 9 == 0,
            })
            .collect()
    }

    fn rack(&self) -> Vec<RackClub> {
        (1..=self.kinds)
            .map(|club| RackClub {
                club: ClubId(Uuid::from_u128(club as u128)),
                count: self.of_each,
                owner: None,
            })
            .collect()
    }

    /// The class in the form that `tests/class_plans/milp.py` takes.
    fn as_json(&self) -> String {
        let athletes: Vec<Vec<Vec<(usize, usize)>>> = (0..ATHLETES)
            .map(|athlete| {
                let works = 0..self.works;
                let loaded = |work| {
                    self.clubs(athlete, work)
                        .into_iter()
                        .map(|club| (club, 0))
                        .collect()
                };
                works.map(loaded).collect()
            })
            .collect();
        let stock = vec![(self.of_each, None::<usize>, 1); self.kinds];
        serde_json::json!({ "at_once": self.at_once, "stock": stock, "athletes": athletes })
            .to_string()
    }
}

fn main() {
    println!(
        "Class plans for {ATHLETES} athletes, with the second plan after a first and one more of each club tried:"
    );
    for shape in SHAPES {
        let (expected, rack) = (shape.expected(), shape.rack());
        let day = ClassDay {
            expected: &expected,
            rack: &rack,
            at_once: shape.at_once.and_then(NonZeroU16::new),
            last: &[],
        };
        let mut last = plan(&day).rotations;
        last.reverse();
        let day = ClassDay { last: &last, ..day };
        let mut slowest: f64 = 0.0;
        let mut fastest = f64::INFINITY;
        for _ in 0..20 {
            let began = Instant::now();
            black_box(plan(&day));
            let taken = began.elapsed().as_secs_f64();
            (fastest, slowest) = (fastest.min(taken), slowest.max(taken));
        }
        let share = 100.0 * fastest / LIMIT_S;
        println!(
            "  {:36} {:3} rotations, {:7.2} ms (slowest {:.2}), {share:.0} % of the limit; {}",
            shape.what,
            last.len(),
            1e3 * fastest,
            1e3 * slowest,
            beside_milp(&shape)
        );
    }
}

/// milp on the same class: the rotations it finds and how long it takes, without starting Python.
fn beside_milp(shape: &Shape) -> String {
    const ASK: &str = "
import json, sys, time
sys.path.insert(0, sys.argv[1])
from milp import fewest
a_class = json.loads(sys.argv[2])
began = time.perf_counter()
rotations = fewest(a_class)
print(f'scipy milp: {rotations} rotations, {1e3 * (time.perf_counter() - began):.0f} ms, the fewest alone')
";
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/class_plans");
    let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let asked = Command::new(python)
        .args(["-B", "-c", ASK, folder, &shape.as_json()])
        .output();
    match asked {
        Ok(said) if said.status.success() => {
            String::from_utf8_lossy(&said.stdout).trim().to_owned()
        }
        _ => "no scipy here to stand beside (pip install scipy)".to_owned(),
    }
}
