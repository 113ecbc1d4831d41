//! The sessions to come.

use askama::Template;
use axum::extract::State;
use leverbook_domain::plan::PlannedState;
use leverbook_domain::review::Week as IsoWeek;
use leverbook_store::blocks::{self, Planned};
use leverbook_store::{athletes, flags};
use time::{Date, Duration};

use super::log_form::hands_word;
use super::today::waiting;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::{Sight, Visit};

/// How far ahead the page looks.
const AHEAD: Duration = Duration::days(8 * 7);

#[derive(Template)]
#[template(path = "athlete/plan.html")]
pub(crate) struct PlanPage {
    frame: Frame,
    weeks: Vec<Week>,
}

/// An ISO week with planned sessions.
struct Week {
    name: String,
    sessions: Vec<Coming>,
}

struct Coming {
    day: String,
    what: String,
    line: String,
    minutes: String,
    note: Option<String>,
    /// What became of it, where it is not simply to come.
    state: Option<String>,
    /// The way to what was logged for it.
    logged: Option<String>,
}

/// `GET /plan`.
pub(crate) async fn plan(
    State(app): State<App>,
    visit: Visit,
    sight: Sight,
) -> Result<Page<PlanPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    let last = visit.today.saturating_add(AHEAD);
    let planned = blocks::between(&mut tx, &[athlete.id], visit.today, last).await?;
    let standing = flags::standing_for(&mut tx, &[athlete.id]).await?;
    let shown: Vec<_> = planned
        .iter()
        .filter(|planned| planned.standing.state == PlannedState::Planned)
        .map(|planned| (planned.planned, planned.revision))
        .collect();
    if sight == Sight::Opened {
        blocks::mark_seen(&mut tx, &shown, visit.now).await?;
    }
    tx.commit().await?;
    let (all_waits, movements) = waiting(&standing, visit.today);
    let mut weeks: Vec<Week> = Vec::new();
    for planned in planned
        .iter()
        .filter(|planned| planned.standing.state != PlannedState::Ended)
    {
        let name = week_name(planned.standing.on, visit.today);
        if weeks.last().is_none_or(|last| last.name != name) {
            weeks.push(Week {
                name,
                sessions: Vec::new(),
            });
        }
        let movement = planned.standing.prescription.movement;
        let waits = all_waits || movements.contains(&movement);
        if let Some(week) = weeks.last_mut() {
            week.sessions.push(Coming::of(&visit, planned, waits));
        }
    }
    Ok(Page(PlanPage {
        frame: visit.frame("Plan", Nav::Plan),
        weeks,
    }))
}

/// The ISO week of a day, as somebody says it today.
fn week_name(day: Date, today: Date) -> String {
    let monday = |day: Date| IsoWeek::of(day).monday();
    match (monday(day) - monday(today)).whole_weeks() {
        0 => "This week".to_owned(),
        1 => "Next week".to_owned(),
        _ => {
            let (year, week, _) = day.to_iso_week_date();
            format!("Week {week} of {year}")
        }
    }
}

impl Coming {
    fn of(visit: &Visit, planned: &Planned, waits: bool) -> Self {
        let asked = &planned.standing.prescription;
        let state = match (planned.standing.state, planned.logged.is_some(), waits) {
            (PlannedState::Skipped | PlannedState::Ended, _, _) => {
                Some("Taken out by your coach".to_owned())
            }
            (PlannedState::Planned, true, _) => Some("Logged".to_owned()),
            (PlannedState::Planned, false, true) => Some("Waits for your coach".to_owned()),
            (PlannedState::Planned, false, false) => None,
        };
        let why = planned.reason.as_str();
        Self {
            day: day_label(planned.standing.on),
            what: format!(
                "{}, {}, {}",
                asked.movement_name,
                hands_word(asked.hands),
                asked.club_name
            ),
            line: asked.line_for_athlete(),
            minutes: asked.time().in_minutes(),
            note: asked.note.clone(),
            state: match (state, why) {
                (Some(state), "") => Some(state),
                (Some(state), why) => Some(format!("{state}: {why}")),
                (None, "") if planned.revision > 1 => Some("Changed by your coach".to_owned()),
                (None, "") => None,
                (None, why) => Some(format!("Changed by your coach: {why}")),
            },
            logged: planned
                .logged
                .map(|session| visit.to(&format!("log/{session}"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    // ISO 8601: weeks begin on Monday; 2026 has 53 of them, and the last ends on 3 January 2027.
    #[test]
    fn the_weeks_at_hand_have_names_and_the_others_a_number() {
        let today = date!(2026 - 12 - 31);
        for (day, name) in [
            (date!(2026 - 12 - 31), "This week"),
            (date!(2027 - 01 - 03), "This week"),
            (date!(2027 - 01 - 04), "Next week"),
            (date!(2027 - 01 - 10), "Next week"),
            (date!(2027 - 01 - 11), "Week 2 of 2027"),
        ] {
            assert_eq!(week_name(day, today), name, "{day}");
        }
    }
}
