use std::fmt::Write;
use std::num::NonZeroU16;

use anyhow::bail;
use leverbook_domain::class::{
    self, Ahead, AsLoaded, ClassDay, Expected, RackClub, Work, of_the_day,
};
use leverbook_domain::id::{AccountId, AthleteId, BlockId, ClassId, GymId};
use leverbook_domain::plan::{
    BlockDraft, BlockWish, FingertipSets, IntervalSets, Scheme, SetLadder, Swung, preview,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::progress::{Progress, Standing};
use leverbook_domain::review::{Week, changes_the_work};
use leverbook_domain::roster::PersonName;
use leverbook_domain::rules::Names;
use leverbook_domain::text::{ClassName, GymName};
use leverbook_domain::training::Hands;
use leverbook_domain::units::{Reps, UnitSystem};
use leverbook_store::accounts::{self, Account, Email};
use leverbook_store::blocks::{self, Assignment, NewBlock};
use leverbook_store::classes::{self, ClassDetails, Coming, Made};
use leverbook_store::exchange::{self, Files, Import, ImportError, Scope};
use leverbook_store::names::GymNames;
use leverbook_store::people::{self, Role};
use leverbook_store::{GymTx, Store, StoreError, athletes, flags, gyms, rack, review};
use leverbook_web::Clock;
use leverbook_web::passwords::Passwords;
use time::format_description::well_known::Iso8601;
use time::macros::{date, time};
use time::{Date, Duration, OffsetDateTime};
use uuid::{NoContext, Timestamp, Uuid};

use super::serve::{Arguments, serve};

const GYM: &str = "Quarry Lane Club Hall";
const ZONE: &str = "Europe/Dublin";

const ATHLETES: &[u8] = include_bytes!("../../../../demo-data/athletes.csv");
const CLUBS: &[u8] = include_bytes!("../../../../demo-data/clubs.csv");
const SETS: &[u8] = include_bytes!("../../../../demo-data/sets.csv");

/// The last day of the invented logs, a Sunday.
const LAST_DAY: Date = date!(2026 - 11 - 22);

/// The columns that hold days, in any of the files.
const DAYS: [&str; 3] = ["started_on", "status_since", "date"];

/// Somebody who can sign in. Their passwords are known to everybody: it is a gym to play with.
struct Person {
    name: &'static str,
    email: &'static str,
    password: &'static str,
    role: Role,
    /// The handle in `athletes.csv`.
    athlete: Option<&'static str>,
}

/// The first of each role is shown at every start.
const PEOPLE: [Person; 4] = [
    Person {
        name: "Maren Holloway",
        email: "maren@quarrylane.example",
        password: "four clubs on the rack",
        role: Role::Coach,
        athlete: None,
    },
    Person {
        name: "Zelda Prowse",
        email: "zelda@quarrylane.example",
        password: "left side then right",
        role: Role::Athlete,
        athlete: Some("zelda"),
    },
    Person {
        name: "Orla Penhale",
        email: "orla@quarrylane.example",
        password: "keys to the club hall",
        role: Role::Owner,
        athlete: None,
    },
    Person {
        name: "Tobias Wren",
        email: "tobias@quarrylane.example",
        password: "chalk before the ladder",
        role: Role::Coach,
        athlete: None,
    },
];

pub(crate) async fn run(arguments: Arguments) -> anyhow::Result<()> {
    serve(arguments, async |store| {
        if accounts::all_gyms(&mut *store.outside().await?)
            .await?
            .is_empty()
        {
            println!("Loading the demo gym");
            load(store, Clock::machine().now()).await?;
        }
        how_to_sign_in(store).await
    })
    .await
}

/// Makes the gym and its people, brings the files in as anybody would, and plans as its coaches
/// would: all of it or nothing.
async fn load(store: &Store, now: OffsetDateTime) -> anyhow::Result<()> {
    let passwords = Passwords::new();
    let (gym, owner) = (GymId(new_id(now)), AccountId(new_id(now)));
    let mut tx = store.enter(gym, owner).await?;
    gyms::create(&mut tx, &GymName::new(GYM)?, ZONE, now).await?;
    rack::seed_movements(&mut tx).await?;
    let (mut trainees, mut coaches) = (Vec::new(), Vec::new());
    for person in &PEOPLE {
        let id = if person.role == Role::Owner {
            owner
        } else {
            AccountId(new_id(now))
        };
        let account = Account {
            id,
            email: Email::new(person.email)?,
            name: PersonName::new(person.name)?,
            units: UnitSystem::Kilogram,
        };
        let hash = passwords.hash(person.password).await;
        accounts::create(tx.conn(), &account, &hash, now).await?;
        people::join(&mut tx, &account, person.role, now).await?;
        trainees.extend(person.athlete.map(|handle| (handle, id)));
        coaches.extend((person.role == Role::Coach).then_some(id));
    }

    let today = gyms::get(&mut tx, now).await?.today;
    let by = whole_weeks_until(today);
    let (athletes, sets) = (moved(ATHLETES, by)?, moved(SETS, by)?);
    let files = Files {
        athletes: Some(&athletes),
        clubs: Some(CLUBS),
        sets: Some(&sets),
    };
    let how = Import {
        scope: Scope::WholeGym,
        now,
        today,
        dry_run: false,
    };
    match exchange::import(&mut tx, files, how).await {
        Ok(_) => {}
        Err(ImportError::Store(error)) => return Err(error.into()),
        Err(ImportError::Refused(problems)) => {
            let mut said = String::new();
            for (file, problem) in problems {
                write!(said, "\n{}: {problem}", file.name())?;
            }
            bail!("the demo's files have problems:{said}");
        }
    }
    for athlete in athletes::all(&mut tx).await? {
        for (handle, account) in &trainees {
            if athlete.handle.as_str() == *handle {
                athletes::give_account(&mut tx, athlete.id, *account).await?;
            }
        }
    }
    for (at, coach) in coaches.into_iter().enumerate() {
        tx.go_on_as(coach);
        let planned = plan(&mut tx, now, today).await?;
        // The first is the one that the visitor signs in as.
        if at == 0 {
            hold_class(&mut tx, &planned, now, today).await?;
        }
    }
    Ok(tx.commit().await?)
}

/// Assigns blocks as the coach would who has nothing to object to: to everybody of theirs whose rules
/// propose to go on. Whom a step, a flag or a gap concerns waits for the visitor, who is the coach. Says
/// for whom.
async fn plan(tx: &mut GymTx, now: OffsetDateTime, today: Date) -> anyhow::Result<Vec<AthleteId>> {
    let names = GymNames::load(tx).await?;
    let coach = tx.actor();
    let mut planned = Vec::new();
    let week = review::week(tx, coach, Week::of(today)).await?;
    for (at, line) in week.iter().enumerate() {
        let going_on = !line.proposals.is_empty()
            && line
                .proposals
                .iter()
                .all(|proposal| !changes_the_work(proposal.step));
        let Some(work) = line.progress.first().filter(|_| going_on) else {
            continue;
        };
        let own = PEOPLE
            .iter()
            .any(|person| person.name == line.name.as_str());
        // Whoever the visitor can sign in as has a session to do today.
        let first = if own {
            i64::from(today.weekday().number_from_monday())
        } else {
            at as i64 % 3 + 1
        };
        let wish = BlockWish {
            movement: work.key.movement,
            scheme: scheme(work)?,
            weekdays: vec![first, (first + 2) % 7 + 1],
            starts_on: today,
            weeks: 6,
            note: String::new(),
        };
        let draft = BlockDraft::new(wish, &Policy::default(), today)?;
        let swung = Swung {
            movement_name: names.movement(work.key.movement),
            loading: work.key.loading,
            club_name: names.club(work.key.loading),
        };
        let block = NewBlock {
            block: BlockId(new_id(now)),
            athlete: line.athlete,
            loading: work.key.loading,
            planned: preview(&draft, &Policy::default(), swung),
            objections: Vec::new(),
            overruled_because: None,
        };
        let assignment = Assignment {
            draft,
            blocks: vec![block],
        };
        blocks::assign(tx, &assignment, now).await?;
        planned.push(line.athlete);
    }
    flags::reassess_all(tx, &planned, today).await?;
    Ok(planned)
}

/// A class of this evening with those who have work planned, and its plan: who swings what, when.
async fn hold_class(
    tx: &mut GymTx,
    members: &[AthleteId],
    now: OffsetDateTime,
    today: Date,
) -> anyhow::Result<()> {
    let class = ClassId(new_id(now));
    let at_once = 5;
    let details = ClassDetails {
        name: ClassName::new("Evening class")?,
        weekday: today.weekday(),
        starts_at: time!(18:30),
        minutes: 60,
        at_once,
        coach: Some(tx.actor()),
    };
    classes::add(tx, class, &details, now).await?;
    classes::set_members(tx, class, members).await?;

    let loadings = rack::loadings(tx).await?;
    let rack: Vec<RackClub> = rack::clubs(tx)
        .await?
        .iter()
        .map(|club| RackClub {
            club: club.id,
            count: club.details.count,
            owner: club.details.owner,
        })
        .collect();
    let weeks = today + Duration::weeks(2);
    let sessions = blocks::between(tx, members, today, weeks).await?;
    let coming: Vec<Coming> = members
        .iter()
        .map(|athlete| {
            let ahead: Vec<Ahead<'_>> = sessions
                .iter()
                .filter(|session| session.athlete == *athlete)
                .map(|session| Ahead {
                    on: session.standing.on,
                    prescription: &session.standing.prescription,
                    logged: false,
                    waits: false,
                })
                .collect();
            let work = |club| Work {
                any_of: loadings
                    .iter()
                    .filter(|loading| loading.id == club)
                    .map(|loading| AsLoaded {
                        club: loading.club,
                        loading: loading.id,
                    })
                    .collect(),
            };
            let clubs = of_the_day(&ahead, today).clubs();
            Coming {
                expected: Expected {
                    athlete: *athlete,
                    works: clubs.into_iter().map(work).collect(),
                    first: false,
                },
                by_hand: false,
            }
        })
        .collect();
    let expected: Vec<Expected> = coming.iter().map(|one| one.expected.clone()).collect();
    let made = Made {
        at_once,
        plan: class::plan(&ClassDay {
            expected: &expected,
            rack: &rack,
            at_once: NonZeroU16::new(at_once),
            last: &[],
        }),
        coming,
    };
    Ok(classes::keep(tx, class, today, 0, &made, now).await?)
}

/// The same work as before: as many sets as in the last session.
fn scheme(work: &Progress) -> anyhow::Result<Scheme> {
    let rest_seconds = 60;
    Ok(match (work.key.seconds, work.standing) {
        (Some(seconds), _) => Scheme::IntervalSets(IntervalSets {
            sets: 5,
            seconds,
            rest_seconds,
            goal: None,
        }),
        (None, Standing::Sets { reps, .. }) if work.key.hands == Hands::Fingertip => {
            let reps = Reps::new(reps.into())?;
            Scheme::FingertipSets(FingertipSets {
                sets: 5,
                reps,
                rest_seconds,
            })
        }
        (None, Standing::Sets { sets, reps, .. }) => Scheme::SetLadder(SetLadder {
            reps: Reps::new(reps.into())?,
            start_sets: u8::try_from(sets)?,
            add_per_week: 1,
            target_sets: 10,
            light_fourth_week: false,
            rest_seconds,
        }),
        (None, Standing::Density { .. }) => bail!("straight sets have no density"),
    })
}

fn new_id(now: OffsetDateTime) -> Uuid {
    let seconds = now.unix_timestamp().unsigned_abs();
    Uuid::new_v7(Timestamp::from_unix(NoContext, seconds, now.nanosecond()))
}

/// The invented logs end in the week before the present one, whenever that is.
fn whole_weeks_until(today: Date) -> Duration {
    Duration::weeks((today - LAST_DAY - Duration::days(1)).whole_weeks().max(0))
}

/// A file with every day moved.
fn moved(file: &[u8], by: Duration) -> anyhow::Result<Vec<u8>> {
    let mut reader = csv::Reader::from_reader(file);
    let mut writer = csv::Writer::from_writer(Vec::with_capacity(file.len()));
    let header = reader.headers()?.clone();
    writer.write_record(&header)?;
    for row in reader.records() {
        for (column, cell) in header.iter().zip(&row?) {
            if DAYS.contains(&column) && !cell.is_empty() {
                let day = Date::parse(cell, &Iso8601::DATE)? + by;
                writer.write_field(day.format(&Iso8601::DATE)?)?;
            } else {
                writer.write_field(cell)?;
            }
        }
        writer.write_record(None::<&[u8]>)?;
    }
    Ok(writer.into_inner()?)
}

/// One sign-in for a coach, an athlete and an owner, or that this book is somebody's own.
async fn how_to_sign_in(store: &Store) -> anyhow::Result<String> {
    let mut outside = store.outside().await?;
    let mut said = String::from(
        "An invented gym to look around in. Everybody knows these passwords: put nobody's \
         real training into it.\n",
    );
    for role in [Role::Coach, Role::Athlete, Role::Owner] {
        let Some(person) = PEOPLE.iter().find(|person| person.role == role) else {
            continue;
        };
        match accounts::by_email(&mut outside, &Email::new(person.email)?).await {
            Ok(_) => {}
            Err(StoreError::NotFound) => {
                return Ok("This book is in use, so no demo gym was added.".to_owned());
            }
            Err(error) => return Err(error.into()),
        }
        write!(
            said,
            "\n  {:<8} {:<26} {}",
            role.word(),
            person.email,
            person.password
        )?;
    }
    Ok(said)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logs_end_in_the_week_before() {
        let moved_to = |today| LAST_DAY + whole_weeks_until(today);
        assert_eq!(moved_to(date!(2026 - 11 - 23)), LAST_DAY);
        assert_eq!(moved_to(date!(2026 - 11 - 29)), LAST_DAY);
        assert_eq!(moved_to(date!(2026 - 11 - 30)), date!(2026 - 11 - 29));
        assert_eq!(moved_to(date!(2028 - 03 - 01)), date!(2028 - 02 - 27));
        assert_eq!(moved_to(date!(2020 - 01 - 01)), LAST_DAY);
    }

    #[test]
    fn only_days_are_moved() {
        let file = b"athlete,date,reps,status_since\na,2026-11-22,7,\nb,2026-02-27,8,2025-12-29\n";
        let later = moved(file, Duration::weeks(1)).unwrap();
        let expected =
            "athlete,date,reps,status_since\na,2026-11-29,7,\nb,2026-03-06,8,2026-01-05\n";
        assert_eq!(String::from_utf8(later).unwrap(), expected);
    }
}
