//! Any file that is brought in is refused with the reason or read; what was read and is written again reads the same.
#![no_main]

use leverbook_store::exchange::{Limits, Problem, athletes, clubs, sets};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    // The first byte says which file it is.
    match bytes.split_first() {
        Some((b'a', file)) => comes_back(
            file,
            athletes::read,
            |rows| athletes::write(rows),
            |row| row.line = 0,
        ),
        Some((b'c', file)) => comes_back(
            file,
            clubs::read,
            |rows| clubs::write(rows),
            |row| row.line = 0,
        ),
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
});

/// `anywhere` forgets the line on which a row stood: empty lines are passed over.
fn comes_back<Row: PartialEq + std::fmt::Debug>(
    file: &[u8],
    read: fn(&[u8], Limits) -> Result<Vec<Row>, Vec<Problem>>,
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
