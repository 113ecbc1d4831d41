//! One club: what it is called, what it was measured to be, and its loadings.

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use leverbook_domain::text::{ClubName, LoadingName};
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::rack::{self, Club, ClubDetails, NewLoading};
use leverbook_store::{GymTx, StoreError};

use super::care::Status;
use super::figures::Figures;
use super::measure_form::{self, MeasureRows, Rows};
use super::view::Stock;
use super::{Asked, KEEPERS, whose};
use crate::App;
use crate::club_picture::ClubPicture;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::whole;
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

/// A name that files and plans would take for another loading.
const NAME_TAKEN: &str = "is the name of another loading in this gym, in use or retired";

#[derive(Template)]
#[template(path = "coach/club.html")]
pub(crate) struct ClubPage {
    frame: Frame,
    club: Club,
    status: Status,
    loadings: Vec<LoadingView>,
    may_change: bool,
}

struct LoadingView {
    id: LoadingId,
    name: String,
    retired: bool,
    picture: ClubPicture,
    /// For the page's own ids.
    picture_id: String,
    figures: Figures,
}

/// A club with its loadings, each figure open to where it comes from.
pub(crate) async fn show_club(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
) -> Result<Page<ClubPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = visible(&mut tx, &visit, club).await?;
    let may_change = visit.roles.any(&KEEPERS);
    let owner = club.details.owner;
    let status = Status::load(&mut tx, &club, visit.today).await?;
    let scale = Stock::load(&mut tx, visit.today)
        .await?
        .scale(owner, may_change, visit.units);
    let loadings = rack::loadings_of(&mut tx, club.id)
        .await?
        .into_iter()
        .map(|loading| LoadingView {
            id: loading.id,
            picture: scale.draw(loading.name.as_str(), &loading.measure),
            picture_id: format!("picture-{}", loading.id),
            name: loading.name.as_str().to_owned(),
            retired: loading.retired_at.is_some(),
            figures: Figures::of(&loading.measure, visit.units),
        })
        .collect();
    Ok(Page(ClubPage {
        frame: visit.frame(club.details.name.as_str(), Nav::Rack),
        club,
        status,
        loadings,
        may_change,
    }))
}

/// The club, unless it is another athlete's own.
async fn visible(tx: &mut GymTx, visit: &Visit, club: ClubId) -> Result<Club, PageError> {
    let club = rack::club(tx, club).await?;
    let theirs = whose(tx, visit, None).await?.map(|athlete| athlete.id);
    if club.details.owner.is_none() || visit.roles.any(&KEEPERS) || club.details.owner == theirs {
        Ok(club)
    } else {
        Err(PageError::NotFound)
    }
}

#[derive(Template)]
#[template(path = "coach/club_new.html")]
pub(crate) struct NewClubPage {
    frame: Frame,
    form: Form,
    owner: Option<Athlete>,
    measure: MeasureRows,
}

impl NewClubPage {
    fn new(visit: &Visit, form: Form, owner: Option<Athlete>, rows: Rows) -> Self {
        Self {
            frame: visit.frame("Add a club", Nav::Rack),
            form,
            owner,
            measure: rows.named(visit.units),
        }
    }
}

/// An empty form for a club, the gym's or an athlete's own.
pub(crate) async fn add_form(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Page<NewClubPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let owner = whose(&mut tx, &visit, asked.athlete.as_deref()).await?;
    let (form, rows) = measure_form::empty();
    Ok(Page(NewClubPage::new(&visit, form, owner, rows)))
}

/// Adds a club with its first loading.
pub(crate) async fn add(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let owner = owner_of(&mut tx, &posted).await?;
    let again = |errors: FieldErrors, owner| {
        NewClubPage::new(
            &visit,
            Form::again(&posted, errors),
            owner,
            Rows::sent(&posted),
        )
    };
    let mut errors = FieldErrors::new();
    if posted.has("more") {
        return Ok(Page(again(errors, owner)).into_response());
    }
    let details = read_details(&posted, owner.as_ref().map(|owner| owner.id), &mut errors);
    let named = errors.read_optional(&posted, "loading_name", LoadingName::new);
    let measure = measure_form::read(&posted, visit.units, None, &mut errors);
    if let (Some(details), Some(measure), false) = (details, measure, errors.any()) {
        let name = named.unwrap_or_else(|| details.name.for_loading());
        let first = NewLoading {
            id: app.new_id(),
            name,
            measure,
        };
        match rack::add_club(&mut tx, app.new_id(), &details, &first, visit.now).await {
            Ok(()) => {
                rack::tell_rules(&mut tx, details.owner, visit.today).await?;
                tx.commit().await?;
                return Ok(see_other(
                    &visit.to(&rack_address(owner.as_ref(), "club-added")),
                ));
            }
            Err(error) => errors.refused(
                error,
                &[("loadings_name_once", name_field(&posted), NAME_TAKEN)],
            )?,
        }
    }
    Ok(Page::unprocessable(again(errors, owner)))
}

fn rack_address(owner: Option<&Athlete>, done: &str) -> String {
    match owner {
        Some(owner) => format!("rack?athlete={}&done={done}", owner.id),
        None => format!("rack?done={done}"),
    }
}

/// The field whose name was taken: the loading's own where one was typed, else the club's.
fn name_field(posted: &Posted) -> &'static str {
    if posted.text("loading_name").trim().is_empty() {
        "name"
    } else {
        "loading_name"
    }
}

/// The athlete that the form says the club belongs to.
async fn owner_of(tx: &mut GymTx, posted: &Posted) -> Result<Option<Athlete>, PageError> {
    match posted.text("owner") {
        "" => Ok(None),
        id => {
            let id: AthleteId = id.parse().map_err(|_| PageError::NotFound)?;
            Ok(Some(athletes::get(tx, id).await?))
        }
    }
}

fn read_details(
    posted: &Posted,
    owner: Option<AthleteId>,
    errors: &mut FieldErrors,
) -> Option<ClubDetails> {
    let name = errors.read(posted, "name", ClubName::new);
    let count = errors.read(posted, "count", count_of);
    Some(ClubDetails {
        name: name?,
        owner,
        loadable: posted.text("loadable") == "yes",
        count: count?,
    })
}

/// How many of the same there are.
fn count_of(text: &str) -> Result<u16, &'static str> {
    let count = whole(text)?;
    u16::try_from(count)
        .ok()
        .filter(|count| (1..=500).contains(count))
        .ok_or("must be a whole number from 1 to 500")
}

#[derive(Template)]
#[template(path = "coach/club_edit.html")]
pub(crate) struct EditClubPage {
    frame: Frame,
    form: Form,
    club: Club,
}

/// A club's name, number and kind.
pub(crate) async fn change_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
) -> Result<Page<EditClubPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let loadable = if club.details.loadable { "yes" } else { "" };
    let form = Form::with([
        ("name", club.details.name.as_str().to_owned()),
        ("count", club.details.count.to_string()),
        ("loadable", loadable.to_owned()),
    ]);
    Ok(Page(EditClubPage {
        frame: visit.frame("Change a club", Nav::Rack),
        form,
        club,
    }))
}

/// Changes a club's name, number and kind. A fixed club's only loading takes the name along.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let mut errors = FieldErrors::new();
    if let Some(details) = read_details(&posted, club.details.owner, &mut errors) {
        match write(&mut tx, &club, &details).await {
            Ok(()) => {
                tx.commit().await?;
                return Ok(see_other(
                    &visit.to(&format!("rack/clubs/{}?done=saved", club.id)),
                ));
            }
            Err(error) => errors.refused(error, &[("loadings_name_once", "name", NAME_TAKEN)])?,
        }
    }
    let form = Form::again(&posted, errors);
    let frame = visit.frame("Change a club", Nav::Rack);
    Ok(Page::unprocessable(EditClubPage { frame, form, club }))
}

async fn write(tx: &mut GymTx, club: &Club, details: &ClubDetails) -> Result<(), StoreError> {
    rack::change_club(tx, club.id, details).await?;
    let mut loadings = rack::loadings_of(tx, club.id).await?;
    loadings.retain(|loading| loading.retired_at.is_none());
    if let [only] = loadings.as_slice()
        && only.name.as_str() == club.details.name.as_str()
    {
        rack::rename_loading(tx, only.id, &details.name.for_loading()).await?;
    }
    Ok(())
}

/// Takes a club out of the rack, or brings it back.
pub(crate) async fn retire(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let back = posted.text("bring") == "back";
    let mut tx = visit.enter(&app).await?;
    let owner = rack::club(&mut tx, club).await?.details.owner;
    rack::retire_club(&mut tx, club, (!back).then_some(visit.now)).await?;
    rack::tell_rules(&mut tx, owner, visit.today).await?;
    tx.commit().await?;
    let done = if back { "brought-back" } else { "club-retired" };
    Ok(see_other(
        &visit.to(&format!("rack/clubs/{club}?done={done}")),
    ))
}
