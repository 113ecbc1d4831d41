//! One loading of a club: added, measured again, retired.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{ClubId, LoadingId};
use leverbook_domain::text::LoadingName;
use leverbook_store::rack::{self, Club, Loading, NewLoading, Remeasured};

use super::measure_form::{self, MeasureRows, Rows};
use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

const NAME_TAKEN: &str = "is the name of another loading in this gym, in use or retired";

#[derive(Template)]
#[template(path = "coach/loading.html")]
pub(crate) struct LoadingPage {
    frame: Frame,
    form: Form,
    club: Club,
    /// The loading that is measured again; `None` for a new one.
    before: Option<Loading>,
    /// Whether a log or a plan names it.
    used: bool,
    measure: MeasureRows,
}

impl LoadingPage {
    fn new(
        visit: &Visit,
        form: Form,
        club: Club,
        before: Option<(Loading, bool)>,
        rows: Rows,
    ) -> Self {
        let title = if before.is_some() {
            "Measure again"
        } else {
            "Add a loading"
        };
        let (before, used) = before.map_or((None, false), |(before, used)| (Some(before), used));
        Self {
            frame: visit.frame(title, Nav::Rack),
            form,
            club,
            before,
            used,
            measure: rows.named(visit.units),
        }
    }
}

/// A form for another loading of a club, filled with the newest one's measure.
pub(crate) async fn add_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
) -> Result<Page<LoadingPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let newest = rack::loadings_of(&mut tx, club.id)
        .await?
        .into_iter()
        .next();
    let (form, rows) = match newest {
        Some(newest) => {
            let (values, rows) = measure_form::shown(&newest.measure, visit.units);
            (Form::with(values), rows)
        }
        None => measure_form::empty(),
    };
    Ok(Page(LoadingPage::new(&visit, form, club, None, rows)))
}

/// Adds a loading to a club.
pub(crate) async fn add(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let again = |errors: FieldErrors, club| {
        let form = Form::again(&posted, errors);
        LoadingPage::new(&visit, form, club, None, Rows::sent(&posted))
    };
    let mut errors = FieldErrors::new();
    if posted.has("more") {
        return Ok(Page(again(errors, club)).into_response());
    }
    let newest = rack::loadings_of(&mut tx, club.id)
        .await?
        .into_iter()
        .next();
    let before = newest.as_ref().map(|newest| &newest.measure);
    let name = errors.read(&posted, "loading_name", LoadingName::new);
    let measure = measure_form::read(&posted, visit.units, before, &mut errors);
    if let (Some(name), Some(measure)) = (name, measure) {
        let new = NewLoading {
            id: app.new_id(),
            name,
            measure,
        };
        match rack::add_loading(&mut tx, club.id, &new, visit.now).await {
            Ok(()) => {
                rack::tell_rules(&mut tx, club.details.owner, visit.today).await?;
                tx.commit().await?;
                return Ok(see_other(
                    &visit.to(&format!("rack/clubs/{}?done=saved", club.id)),
                ));
            }
            Err(error) => {
                errors.refused(error, &[("loadings_name_once", "loading_name", NAME_TAKEN)])?;
            }
        }
    }
    Ok(Page::unprocessable(again(errors, club)))
}

/// A loading's name and measure, to be corrected or completed.
pub(crate) async fn remeasure_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, loading)): Path<(String, LoadingId)>,
) -> Result<Page<LoadingPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let loading = rack::loading(&mut tx, loading).await?;
    let club = rack::club(&mut tx, loading.club).await?;
    let used = rack::is_used(&mut tx, loading.id).await?;
    let (mut values, rows) = measure_form::shown(&loading.measure, visit.units);
    values.push(("loading_name".to_owned(), loading.name.as_str().to_owned()));
    Ok(Page(LoadingPage::new(
        &visit,
        Form::with(values),
        club,
        Some((loading, used)),
        rows,
    )))
}

/// Measures a loading again. One that was used is replaced, unless something was only added.
pub(crate) async fn remeasure(
    State(app): State<App>,
    visit: Visit,
    Path((_, loading)): Path<(String, LoadingId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let loading = rack::loading(&mut tx, loading).await?;
    let club = rack::club(&mut tx, loading.club).await?;
    let used = rack::is_used(&mut tx, loading.id).await?;
    let again = |errors: FieldErrors, club, loading| {
        let form = Form::again(&posted, errors);
        LoadingPage::new(
            &visit,
            form,
            club,
            Some((loading, used)),
            Rows::sent(&posted),
        )
    };
    let mut errors = FieldErrors::new();
    if posted.has("more") {
        return Ok(Page(again(errors, club, loading)).into_response());
    }
    if loading.retired_at.is_some() {
        return Err(PageError::Conflict(
            "This loading is retired. Bring it back before you measure it again.".to_owned(),
        ));
    }
    let name = errors.read(&posted, "loading_name", LoadingName::new);
    let measure = measure_form::read(&posted, visit.units, Some(&loading.measure), &mut errors);
    if let (Some(name), Some(measure)) = (name, measure) {
        let new = NewLoading {
            id: app.new_id(),
            name,
            measure,
        };
        match rack::remeasure(&mut tx, &loading, &new, visit.now, visit.today).await {
            Ok(outcome) => {
                rack::tell_rules(&mut tx, club.details.owner, visit.today).await?;
                tx.commit().await?;
                let done = match outcome {
                    Remeasured::Same => "saved",
                    Remeasured::Replaced(_) => "loading-replaced",
                };
                return Ok(see_other(
                    &visit.to(&format!("rack/clubs/{}?done={done}", club.id)),
                ));
            }
            Err(error) => {
                errors.refused(error, &[("loadings_name_once", "loading_name", NAME_TAKEN)])?;
            }
        }
    }
    Ok(Page::unprocessable(again(errors, club, loading)))
}

/// Retires a loading, or brings it back.
pub(crate) async fn retire(
    State(app): State<App>,
    visit: Visit,
    Path((_, loading)): Path<(String, LoadingId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let back = posted.text("bring") == "back";
    let mut tx = visit.enter(&app).await?;
    let club = rack::loading(&mut tx, loading).await?.club;
    let owner = rack::club(&mut tx, club).await?.details.owner;
    rack::retire_loading(&mut tx, loading, (!back).then_some(visit.now)).await?;
    rack::tell_rules(&mut tx, owner, visit.today).await?;
    tx.commit().await?;
    let done = if back { "brought-back" } else { "club-retired" };
    Ok(see_other(
        &visit.to(&format!("rack/clubs/{club}?done={done}")),
    ))
}
