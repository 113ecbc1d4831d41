//! One act on the plan of an athlete or many, and taking it back whole.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{DecisionId, GymId};
use leverbook_store::plan_acts::{self, Act};
use leverbook_store::{StoreError, flags};

use super::plan_calendar::Told;
use super::words;
use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/change.html")]
pub(crate) struct ChangePage {
    frame: Frame,
    act: DecisionId,
    taken_back: bool,
    who: String,
    whose: Vec<(String, String, String)>,
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, act)): Path<(GymId, DecisionId)>,
) -> Result<Page<ChangePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let acts = plan_acts::of_act(&mut tx, act).await?;
    let told: Vec<(&Act, Told)> = acts.iter().map(|act| (act, Told::of(act))).collect();
    Ok(Page(ChangePage {
        frame: visit.frame("What was changed", Nav::Roster),
        act,
        taken_back: told.iter().all(|(_, told)| told.taken_back),
        who: told
            .first()
            .map(|(_, told)| told.who.clone())
            .unwrap_or_default(),
        whose: told
            .into_iter()
            .map(|(act, told)| {
                let plan = visit.to(&format!("athletes/{}/plan", act.athlete));
                (act.athlete_name.clone(), plan, told.words)
            })
            .collect(),
    }))
}

pub(crate) async fn take_back(
    State(app): State<App>,
    visit: Visit,
    Path((_, act)): Path<(GymId, DecisionId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let acts = plan_acts::of_act(&mut tx, act).await?;
    let changed = plan_acts::take_back(&mut tx, act, visit.now, visit.today)
        .await
        .map_err(words::change_refused)?;
    flags::reassess_all(&mut tx, &changed, visit.today).await?;
    tx.commit().await?;
    let next = back_to(posted.text("back"), act, &acts).ok_or(StoreError::NotFound)?;
    Ok(see_other(&visit.to(&next)))
}

/// The calendar that it was taken back on, or the page of the act.
fn back_to(back: &str, act: DecisionId, acts: &[Act]) -> Option<String> {
    let page = match back.split_once('/') {
        Some(("blocks", block)) => {
            let block: leverbook_domain::id::BlockId = block.parse().ok()?;
            format!("blocks/{block}")
        }
        Some(("athletes", _)) => format!("athletes/{}/plan", acts.first()?.athlete),
        _ => format!("changes/{act}"),
    };
    Some(format!("{page}?done=change-taken-back#calendar"))
}
