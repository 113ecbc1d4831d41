//! What the fuzz targets try, and what holds whatever the bytes are. Tests try it on the corpus.

use std::fmt::Debug;

use leverbook::commands::assess::Gym;
use leverbook::commands::mechanics::read;
use leverbook_domain::policy::Policy;
use leverbook_store::exchange::{Limits, Problem, athletes, clubs, sets};
use time::{Date, Month};

/// A log and a rack, parted by a line of dashes, are refused with the reason or assessed; the answer is always the
/// same, and a replay ends with the flags that stand.
pub(crate) fn assess(bytes: &[u8]) {
    let parted = bytes.windows(5).position(|window| window == b"\n---\n");
    let Some(at) = parted else { return };
    let Ok(gym) = Gym::from_files(&bytes[..=at], &bytes[at + 5..]) else {
        return;
    };
    let as_of = Date::from_calendar_date(2026, Month::November, 25).expect("a day");
    let policy = Policy::default();
    let lines = gym.as_it_stands(&policy, as_of);
    assert_eq!(lines, gym.as_it_stands(&policy, as_of));

    let stands = lines.iter().filter(|line| line["kind"] == "flag").count();
    let events = gym.replay(&policy, as_of);
    let counted = |event| events.iter().filter(|line| line["event"] == event).count();
    assert_eq!(counted("raised"), counted("closed") + stands);
}

/// A file that is brought in is refused with the reason or read; what was read and is written again reads the same. The
/// first byte says which file it is.
pub(crate) fn import(bytes: &[u8]) {
    match bytes.split_first() {
        Some((b'a', file)) => {
            comes_back(
                file,
                athletes::read,
                |rows| athletes::write(rows),
                |row| row.line = 0,
            );
        }
        Some((b'c', file)) => {
            comes_back(
                file,
                clubs::read,
                |rows| clubs::write(rows),
                |row| row.line = 0,
            );
        }
        Some((_, file)) => comes_back(
            file,
            sets::read,
            |rows| sets::write(rows),
            |session| {
                session.line = 0;
                session.sets.iter_mut().for_each(|set| set.line = 0);
            },
        ),
        None => {}
    }
}

/// `anywhere` forgets the line on which a row stood: empty lines are passed over.
fn comes_back<Row: PartialEq + Debug>(
    file: &[u8],
    read: impl Fn(&[u8], Limits) -> Result<Vec<Row>, Vec<Problem>>,
    write: impl Fn(&[Row]) -> Vec<u8>,
    anywhere: impl Fn(&mut Row),
) {
    let Ok(mut rows) = read(file, Limits::default()) else {
        return;
    };
    let mut again = read(&write(&rows), Limits::default()).expect("what was written");
    rows.iter_mut().for_each(&anywhere);
    again.iter_mut().for_each(&anywhere);
    assert_eq!(again, rows);
}

/// A club's file is refused with the reason or worked out, to figures that are numbers; written again it can be read.
pub(crate) fn mechanics(bytes: &[u8]) {
    let Ok(club) = std::str::from_utf8(bytes)
        .map_err(drop)
        .and_then(|text| read(text).map_err(drop))
    else {
        return;
    };
    let figures = serde_json::to_value(club.mechanics()).expect("figures");
    for (name, figure) in figures.as_object().expect("an object") {
        if !figure.is_null() {
            let part = |part: &str| figure[part].as_f64().filter(|number| number.is_finite());
            assert!(part("value").is_some(), "{name}: {figure}");
            assert!(part("plus_minus") >= Some(0.0), "{name}: {figure}");
        }
    }
    read(&serde_json::to_string(&club).expect("a club's file")).expect("what was written");
}
