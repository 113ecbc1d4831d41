//! The gym's movements: names, coaching notes, common faults.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::MovementId;
use leverbook_domain::text::{Guidance, MovementName};
use leverbook_store::people::Role;
use leverbook_store::rack::{self, Movement, MovementDetails};
use leverbook_store::{GymTx, StoreError};

use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

/// What the schema's constraint on names says at its field.
const NAME_TAKEN: [(&str, &str, &str); 1] = [(
    "movements_name_once",
    "name",
    "is the name of another movement here, perhaps a retired one",
)];

#[derive(Template)]
#[template(path = "coach/movements.html")]
pub(crate) struct MovementsPage {
    frame: Frame,
    in_use: Vec<Movement>,
    retired: Vec<Movement>,
    may_change: bool,
}

/// The catalogue.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<MovementsPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let (in_use, retired) = rack::movements(&mut tx)
        .await?
        .into_iter()
        .partition(|movement| movement.retired_at.is_none());
    Ok(Page(MovementsPage {
        frame: visit.frame("Movements", Nav::Movements),
        in_use,
        retired,
        may_change: visit.roles.any(&[Role::Coach, Role::Owner]),
    }))
}

#[derive(Template)]
#[template(path = "coach/movement.html")]
pub(crate) struct MovementPage {
    frame: Frame,
    form: Form,
    /// `None` for a new one.
    movement: Option<Movement>,
}

impl MovementPage {
    fn new(visit: &Visit, form: Form, movement: Option<Movement>) -> Self {
        let title = if movement.is_some() {
            "Change a movement"
        } else {
            "Add a movement"
        };
        Self {
            frame: visit.frame(title, Nav::Movements),
            form,
            movement,
        }
    }
}

/// Whether another movement has this name. Pages begin a name with a capital, so two that differ by
/// case alone would look the same; the schema tells only the same letters apart.
async fn is_taken(
    tx: &mut GymTx,
    details: &MovementDetails,
    but: Option<MovementId>,
) -> Result<bool, StoreError> {
    let name = |details: &MovementDetails| details.name.as_str().to_lowercase();
    Ok(rack::movements(tx)
        .await?
        .iter()
        .any(|other| Some(other.id) != but && name(&other.details) == name(details)))
}

/// An empty form.
pub(crate) async fn add_form(visit: Visit) -> Page<MovementPage> {
    Page(MovementPage::new(&visit, Form::default(), None))
}

/// Adds a movement.
pub(crate) async fn add(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    if let Some(details) = read(&posted, &mut errors) {
        let mut tx = visit.enter(&app).await?;
        if is_taken(&mut tx, &details, None).await? {
            errors.add("name", NAME_TAKEN[0].2);
        } else {
            match rack::add_movement(&mut tx, app.new_id(), &details).await {
                Ok(()) => {
                    tx.commit().await?;
                    return Ok(see_other(&visit.to("movements?done=saved")));
                }
                Err(error) => errors.refused(error, &NAME_TAKEN)?,
            }
        }
    }
    let form = Form::again(&posted, errors);
    Ok(Page::unprocessable(MovementPage::new(&visit, form, None)))
}

/// A movement as it is written.
pub(crate) async fn change_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, movement)): Path<(String, MovementId)>,
) -> Result<Page<MovementPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let movement = rack::movement(&mut tx, movement).await?;
    let form = Form::with([
        ("name", movement.details.name.as_str()),
        ("cues", movement.details.cues.as_str()),
        ("faults", movement.details.faults.as_str()),
    ]);
    Ok(Page(MovementPage::new(&visit, form, Some(movement))))
}

/// Changes what is written about a movement.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, movement)): Path<(String, MovementId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let movement = rack::movement(&mut tx, movement).await?;
    let mut errors = FieldErrors::new();
    if let Some(details) = read(&posted, &mut errors) {
        if is_taken(&mut tx, &details, Some(movement.id)).await? {
            errors.add("name", NAME_TAKEN[0].2);
        } else {
            match rack::change_movement(&mut tx, movement.id, &details).await {
                Ok(()) => {
                    tx.commit().await?;
                    return Ok(see_other(&visit.to("movements?done=saved")));
                }
                Err(error) => errors.refused(error, &NAME_TAKEN)?,
            }
        }
    }
    let form = Form::again(&posted, errors);
    Ok(Page::unprocessable(MovementPage::new(
        &visit,
        form,
        Some(movement),
    )))
}

fn read(posted: &Posted, errors: &mut FieldErrors) -> Option<MovementDetails> {
    let name = errors.read(posted, "name", MovementName::new);
    let cues = errors.read(posted, "cues", Guidance::new);
    let faults = errors.read(posted, "faults", Guidance::new);
    Some(MovementDetails {
        name: name?,
        cues: cues?,
        faults: faults?,
    })
}

/// Takes a movement out of the catalogue, or brings it back.
pub(crate) async fn retire(
    State(app): State<App>,
    visit: Visit,
    Path((_, movement)): Path<(String, MovementId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let back = posted.text("bring") == "back";
    let mut tx = visit.enter(&app).await?;
    rack::retire_movement(&mut tx, movement, (!back).then_some(visit.now)).await?;
    tx.commit().await?;
    let done = if back { "brought-back" } else { "retired" };
    Ok(see_other(&visit.to(&format!("movements?done={done}"))))
}
