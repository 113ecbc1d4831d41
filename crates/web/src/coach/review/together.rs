//! Steady weeks accepted in one act, and taken back in one.

use std::collections::BTreeMap;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AccountId, AthleteId, DecisionId};
use leverbook_store::review::AthleteWeek;
use leverbook_store::review::together::{self as kept, TogetherError};
use uuid::Uuid;

use super::line::{is_accepted_unread, mark_of, when};
use super::{page, week_of};
use crate::App;
use crate::error::PageError;
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

/// What the coach accepted in one act, as far as it still counts.
#[derive(Debug)]
pub(super) struct ActLine {
    pub(super) id: String,
    pub(super) many: usize,
    pub(super) at: String,
}

/// The acts of this coach whose decisions still count.
pub(super) fn acts(weeks: &[AthleteWeek], coach: AccountId) -> Vec<ActLine> {
    let mut found: BTreeMap<Uuid, ActLine> = BTreeMap::new();
    for decision in weeks.iter().filter_map(|week| week.decision.as_ref()) {
        let Some((id, by)) = decision.together else {
            continue;
        };
        if by != coach {
            continue;
        }
        let act = found.entry(id).or_insert_with(|| ActLine {
            id: id.to_string(),
            many: 0,
            at: when(decision.local),
        });
        act.many += 1;
    }
    found.into_values().collect()
}

/// Athlete, decision to be, and the mark of what was shown.
fn wanted(text: &str) -> Option<(AthleteId, DecisionId, &str)> {
    let mut parts = text.split(':');
    let athlete = parts.next()?.parse().ok()?;
    let decision = parts.next()?.parse().ok()?;
    Some((athlete, decision, parts.next()?))
}

/// Accepts every steady week that was on the page, or takes such an act back.
pub(crate) async fn together(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    const BROKEN: PageError =
        PageError::Unreadable("The form does not say what to accept. Open the week again.");
    let week = week_of(&posted, visit.today)?;
    let Ok(act) = posted.text("together").parse::<Uuid>() else {
        return Err(BROKEN);
    };
    let mut tx = visit.enter(&app).await?;
    let (done, outcome) = match posted.text("act") {
        "accept" => {
            let shown: Option<Vec<_>> = posted.all("steady").into_iter().map(wanted).collect();
            let shown = shown.filter(|shown| !shown.is_empty()).ok_or(BROKEN)?;
            let ids: Vec<_> = shown.iter().map(|(who, id, _)| (*who, *id)).collect();
            let as_shown = |line: &AthleteWeek| {
                let mark = mark_of(&line.proposals);
                is_accepted_unread(line, visit.today)
                    && shown
                        .iter()
                        .any(|(who, _, seen)| *who == line.athlete && *seen == mark)
            };
            let outcome = kept::accept(&mut tx, act, week, &ids, visit.now, as_shown).await;
            ("accepted-together", outcome)
        }
        "undo" => {
            let outcome = kept::take_back(&mut tx, act, week, visit.now, || app.new_id()).await;
            ("together-taken-back", outcome)
        }
        _ => return Err(BROKEN),
    };
    let sentence = match outcome {
        Ok(()) => {
            tx.commit().await?;
            let next = format!("review?week={week}&done={done}#steady");
            return Ok(see_other(&visit.to(&next)));
        }
        Err(TogetherError::Store(why)) => return Err(why.into()),
        Err(TogetherError::NotAsShown(names)) => format!(
            "Nobody was accepted, because this has changed since you opened the page: {}. Look again, then accept.",
            names.join(", ")
        ),
        Err(TogetherError::Closed) => {
            "This week is closed. Open it again to change a decision.".to_owned()
        }
    };
    let mut page = page(&mut tx, &app, &visit, week, None).await?;
    page.refused = Some(sentence);
    Ok((StatusCode::CONFLICT, Page(page)).into_response())
}
