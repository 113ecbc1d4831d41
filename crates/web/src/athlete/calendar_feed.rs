//! One's plan as a calendar feed (RFC 5545), behind a secret link and without a sign-in.
//!
//! Calendars are shared with family and work: what stands in it is movement, hands, club and sets.
//! Never the coach's note, nor anything of effort, pain or health.

use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use icalendar::{Calendar, Class, Component, Event, EventStatus, Property};
use leverbook_domain::id::GymId;
use leverbook_domain::plan::PlannedState;
use leverbook_store::calendar::{self, Entry};
use leverbook_store::gyms;
use leverbook_store::invitations::BEARER;
use leverbook_store::sign_ins::TokenHash;
use time::{Date, Duration, OffsetDateTime, UtcOffset};

use super::log_form::hands_word;
use crate::App;
use crate::error::PageError;

/// How far back the feed goes.
const KEPT: Duration = Duration::days(28);

/// How often a calendar should ask again (RFC 7986, 5.7): a coach's change is there within the hour.
const ASK_AGAIN: &str = "PT1H";

/// A calendar needs one component at least (RFC 5545, 3.4), and some programs refuse one without. This one says nothing.
const NOTHING_PLANNED: &str = "BEGIN:VTIMEZONE\r\nTZID:UTC\r\nBEGIN:STANDARD\r\nDTSTART:19700101T000000\r\nTZOFFSETFROM:+0000\r\nTZOFFSETTO:+0000\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\n";

/// `GET /calendar/{gym}/{feed}/plan.ics`. A link that was never given out, one that was replaced or
/// revoked, and one whose athlete is gone: none of them exists.
pub(crate) async fn give(
    State(app): State<App>,
    Path((gym, token)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, PageError> {
    let id: GymId = gym.parse().map_err(|_| PageError::NotFound)?;
    let mut tx = app.store.enter(id, BEARER).await?;
    let link = calendar::follow(&mut tx, TokenHash::of(&token)).await?;
    let gym = gyms::get(&mut tx, app.clock.now()).await?;
    let first = gym.today.saturating_sub(KEPT);
    let entries = calendar::entries(&mut tx, &link, first).await?;
    drop(tx);
    let plan = format!("{}/g/{id}/plan", app.config.origin());
    let text = written(&gym.name, &entries, &plan);
    // Weak: the same calendar, whether compressed on its way or not.
    let tag = format!("W/\"{}\"", TokenHash::of(&text));
    let kept = [
        (header::CACHE_CONTROL, "private, no-cache".to_owned()),
        (header::ETAG, tag.clone()),
    ];
    if is_known(&headers, &tag) {
        return Ok((StatusCode::NOT_MODIFIED, kept).into_response());
    }
    let kind = [(header::CONTENT_TYPE, "text/calendar; charset=utf-8")];
    Ok((kept, kind, text).into_response())
}

/// Whether the asking program has this very calendar (RFC 9110, 13.1.2: a list of tags, or any).
fn is_known(headers: &HeaderMap, tag: &str) -> bool {
    let opaque = |tag: &str| tag.trim().trim_start_matches("W/").to_owned();
    headers
        .get_all(header::IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .any(|known| known.trim() == "*" || opaque(known) == opaque(tag))
}

/// The whole feed.
fn written(gym: &str, entries: &[Entry], plan: &str) -> String {
    let name = format!("Training at {gym}");
    let mut feed = Calendar::empty();
    feed.append_property(("VERSION", "2.0"))
        .append_property(("PRODID", "-//Leverbook//Plan//EN"))
        .append_property(text("NAME", &name))
        .append_property(("X-WR-CALNAME", name.as_str()))
        .append_property(
            Property::new("REFRESH-INTERVAL", ASK_AGAIN)
                .add_parameter("VALUE", "DURATION")
                .done(),
        )
        .append_property(("X-PUBLISHED-TTL", ASK_AGAIN))
        .extend(entries.iter().map(|entry| event(entry, plan)));
    let text = feed.to_string();
    if entries.is_empty() {
        return text.replace("END:VCALENDAR", &format!("{NOTHING_PLANNED}END:VCALENDAR"));
    }
    text
}

/// A property that the library does not know to be text: it escapes what is said to be.
fn text(name: &str, value: &str) -> Property {
    Property::new(name, value)
        .add_parameter("VALUE", "TEXT")
        .done()
}

fn event(entry: &Entry, plan: &str) -> Event {
    let standing = &entry.planned.standing;
    let asked = &standing.prescription;
    let time = asked.time();
    let mut event = Event::new();
    event
        .uid(&entry.planned.planned.to_string())
        .add_property("SEQUENCE", entry.planned.revision.to_string())
        // Without a METHOD both say when it was last revised (RFC 5545, 3.8.7.2).
        .add_property("DTSTAMP", instant(entry.changed_at))
        .add_property("LAST-MODIFIED", instant(entry.changed_at))
        .summary(&format!(
            "{}, {}, {}",
            asked.movement_name,
            hands_word(asked.hands),
            asked.club_name
        ))
        .description(&format!(
            "{}. About {}.",
            asked.line_for_athlete(),
            time.in_minutes()
        ))
        .url(plan)
        .class(Class::Private);
    match entry.starts {
        Some(starts) => {
            let minutes = time.longest.div_ceil(60).max(1);
            event
                .add_property("DTSTART", instant(starts))
                .add_property("DTEND", instant(starts + Duration::minutes(minutes.into())));
        }
        None => {
            event
                .append_property(whole_day("DTSTART", standing.on))
                .append_property(whole_day("DTEND", standing.on + Duration::DAY))
                // A day on which one trains is not a day on which one is busy.
                .add_property("TRANSP", "TRANSPARENT");
        }
    }
    event.status(match standing.state {
        PlannedState::Planned => EventStatus::Confirmed,
        PlannedState::Skipped | PlannedState::Ended => EventStatus::Cancelled,
    });
    event
}

fn whole_day(name: &str, day: Date) -> Property {
    Property::new(name, date(day))
        .add_parameter("VALUE", "DATE")
        .done()
}

/// RFC 5545, 3.3.4.
fn date(day: Date) -> String {
    let (year, month, day) = day.to_calendar_date();
    format!("{year:04}{:02}{day:02}", u8::from(month))
}

/// RFC 5545, 3.3.5, form 2: an instant in UTC.
fn instant(at: OffsetDateTime) -> String {
    let at = at.to_offset(UtcOffset::UTC);
    let (hour, minute, second) = at.to_hms();
    format!("{}T{hour:02}{minute:02}{second:02}Z", date(at.date()))
}
