//! Which days were trained, missed, excused, and which are to come.

use leverbook_domain::plan::PlannedState;
use leverbook_domain::story::{Days, answers};

use super::{AHEAD, Book};
use crate::chart::{self, CalendarChart};

/// Whether the sessions happened, in a sentence.
pub(super) fn answer(book: &Book) -> String {
    let window = book.window;
    answers::did_the_sessions_happen(&book.history, &book.policy, window.from, window.today)
}

pub(super) fn calendar(book: &Book) -> Option<CalendarChart> {
    let open = book
        .planned
        .iter()
        .filter(|planned| {
            planned.standing.state == PlannedState::Planned && planned.logged.is_none()
        })
        .map(|planned| planned.standing.on);
    let days = Days::new(&book.history, open, book.window.today);
    let last = book
        .planned
        .iter()
        .map(|planned| planned.standing.on)
        .max()
        .unwrap_or(book.window.today)
        .clamp(book.window.today, book.window.today.saturating_add(AHEAD));
    let trained = book
        .history
        .sessions()
        .iter()
        .filter(|session| book.window.holds(session.on))
        .count();
    chart::calendar(
        "days",
        "Each day of these weeks".to_owned(),
        format!("{trained} sessions on these days."),
        (book.window.from, last),
        book.window.today,
        |day| days.kind(day),
    )
    .map(CalendarChart::with_stops)
}
