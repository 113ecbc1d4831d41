//! The rack: which club is the right step.

mod care;
mod clubs;
mod figures;
mod ladder;
mod loadings;
mod measure_form;
mod standing;
mod view;

pub(crate) use care::{change_use, change_use_form, inspect, inspect_form};
pub(crate) use clubs::{add, add_form, change, change_form, retire, show_club};
pub(crate) use loadings::{
    add as add_loading, add_form as add_loading_form, remeasure, remeasure_form,
    retire as retire_loading,
};

use askama::Template;
use axum::extract::{Query, State};
use leverbook_domain::id::AthleteId;
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::people::Role;
use leverbook_store::{GymTx, StoreError, policies};
use serde::Deserialize;

use standing::Standing;

use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::numbers::plain;
use crate::page::Page;
use crate::visit::Visit;

/// Who keeps the rack.
const KEEPERS: [Role; 2] = [Role::Coach, Role::Owner];

#[derive(Template)]
#[template(path = "coach/rack.html")]
pub(crate) struct RackPage {
    frame: Frame,
    /// Whose rack, where it is not the gym's alone.
    athlete: Option<Athlete>,
    rack: view::RackView,
    /// Who stands where, as far as the visitor may see it.
    standing: Option<Standing>,
    limit: String,
    may_change: bool,
}

/// Whose rack was asked for, and in which work people are to be shown on it.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    athlete: Option<String>,
    movement: Option<String>,
    hands: Option<String>,
}

/// The gym's rack, or what one athlete may pick up: the gym's clubs and their own.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Page<RackPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = whose(&mut tx, &visit, asked.athlete.as_deref()).await?;
    let policy = policies::in_force(&mut tx).await?;
    let all = view::Stock::load(&mut tx, visit.today).await?;
    let may_change = visit.roles.any(&KEEPERS);
    let standing = Standing::load(&mut tx, &visit, athlete.as_ref(), &asked).await?;
    let seen_by = view::SeenBy {
        whose: athlete.as_ref().map(|athlete| athlete.id),
        with_others: may_change,
        today: visit.today,
        units: visit.units,
    };
    Ok(Page(RackPage {
        frame: visit.frame("Rack", Nav::Rack),
        rack: view::laid_out(&all, seen_by, standing.as_ref(), policy.step_percent),
        standing,
        athlete,
        limit: plain(policy.step_percent, 1),
        may_change,
    }))
}

/// The athlete whose rack is shown: for keepers the one asked for, for an athlete themselves.
async fn whose(
    tx: &mut GymTx,
    visit: &Visit,
    asked: Option<&str>,
) -> Result<Option<Athlete>, PageError> {
    if !visit.roles.any(&KEEPERS) {
        return match athletes::of_person(tx, visit.account).await {
            Err(StoreError::NotFound) => Ok(None),
            found => Ok(Some(found?)),
        };
    }
    match asked.filter(|asked| !asked.is_empty()) {
        None => Ok(None),
        Some(asked) => {
            let id: AthleteId = asked.parse().map_err(|_| PageError::NotFound)?;
            Ok(Some(athletes::get(tx, id).await?))
        }
    }
}
