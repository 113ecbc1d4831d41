//! Any two files, a log and a rack, are refused with the reason or assessed; the answer is always the same, and a
//! replay ends with the flags that stand.
#![no_main]

use leverbook::commands::assess::Gym;
use leverbook_domain::policy::Policy;
use libfuzzer_sys::fuzz_target;
use time::{Date, Month};

fuzz_target!(|bytes: &[u8]| {
    // The two files stand in one, parted by a line of dashes.
    let parted = bytes.windows(5).position(|window| window == b"\n---\n");
    let Some(at) = parted else { return };
    let (log, clubs) = (&bytes[..at + 1], &bytes[at + 5..]);
    let Ok(gym) = Gym::from_files(log, clubs) else {
        return;
    };
    let as_of = Date::from_calendar_date(2026, Month::November, 25).expect("a day");
    let policy = Policy::default();
    let lines = gym.as_it_stands(&policy, as_of);
    assert_eq!(lines, gym.as_it_stands(&policy, as_of));

    let stands = lines.iter().filter(|line| line["kind"] == "flag").count();
    let events = gym.replay(&policy, as_of);
    let counted = |event| events.iter().filter(|line| line["event"] == event).count();
    assert_eq!(counted("raised") - counted("closed"), stands);
});
