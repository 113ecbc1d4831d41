//! Moving one planned session on the calendar: at once where no rule objects, else after a look.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{DecisionId, GymId, PlannedId};
use leverbook_domain::plan::{Placed, Standing, moved_to};
use leverbook_domain::text::Reason;
use leverbook_store::blocks::{self, Block, ChangeError, Planned};
use leverbook_store::plan_acts::{self, NewAct, What};
use leverbook_store::{GymTx, StoreError, flags};

use super::blocks::own_block;
use super::objections::{self, Objected};
use super::planned::objections_after;
use super::typed::iso_date;
use super::words;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::whole;
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/move.html")]
pub(crate) struct MovePage {
    frame: Frame,
    form: Form,
    planned: PlannedId,
    revision: i32,
    athlete_name: String,
    /// What and when, as it stands now.
    stands: String,
    back_href: String,
    objections: Vec<Objected>,
    /// Somebody was quicker: who, and how it stands since.
    meanwhile: Option<String>,
}

impl MovePage {
    fn new(
        visit: &Visit,
        posted: &Posted,
        (block, planned): (&Block, &Planned),
        errors: FieldErrors,
        objections: Vec<Objected>,
    ) -> Self {
        let standing = &planned.standing;
        let asked = &standing.prescription;
        let mut form = Form::again(posted, errors);
        if form.value("act").parse::<DecisionId>().is_err() {
            form.set("act", "");
        }
        Self {
            frame: visit.frame(format!("Move {}", asked.movement_name), Nav::Roster),
            form,
            planned: planned.planned,
            revision: planned.revision,
            athlete_name: block.athlete_name.clone(),
            stands: format!(
                "{}: {}, {}",
                day_label(standing.on),
                asked.line(),
                asked.club_name
            ),
            back_href: visit.to(&back_to(posted, block, planned, "")),
            objections,
            meanwhile: None,
        }
    }
}

/// The page that the calendar stood on, and the session on it.
fn back_to(posted: &Posted, block: &Block, planned: &Planned, done: &str) -> String {
    let plan = format!("athletes/{}/plan", block.athlete);
    let page = if posted.text("back") == plan {
        plan
    } else {
        format!("blocks/{}", block.block)
    };
    format!("{page}{done}#planned-{}", planned.planned)
}

pub(crate) async fn send(
    State(app): State<App>,
    visit: Visit,
    Path((_, planned)): Path<(GymId, PlannedId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let planned = blocks::planned(&mut tx, planned).await?;
    let block = own_block(&mut tx, &visit, planned.block).await?;
    let next = visit.to(&back_to(&posted, &block, &planned, "?done=moved"));
    let mut errors = FieldErrors::new();
    let on = errors.read(&posted, "on", iso_date);
    let revision = errors.read(&posted, "revision", whole);
    let reason = errors.read(&posted, "reason", |text| match text {
        "" => Ok(String::new()),
        text => Reason::new(text)
            .map(|reason| reason.as_str().to_owned())
            .map_err(|error| error.to_string()),
    });
    let act: DecisionId = posted.text("act").parse().unwrap_or_else(|_| app.new_id());
    // Sent twice: what it did is done, whatever came after.
    match plan_acts::of_act(&mut tx, act).await {
        Ok(_) => return Ok(see_other(&next)),
        Err(StoreError::NotFound) => {}
        Err(error) => return Err(error.into()),
    }
    let about = (&block, &planned);
    let (Some(on), Some(revision), Some(reason)) = (on, revision, reason) else {
        let page = MovePage::new(&visit, &posted, about, errors, Vec::new());
        return Ok(Page::unprocessable(page));
    };
    if revision != i64::from(planned.revision) || planned.logged.is_some() {
        return conflict(&mut tx, &visit, &posted, about).await;
    }
    let after = match moved(&mut tx, &visit, about, on).await? {
        Ok(after) => after,
        Err(refused) => {
            errors.add("on", refused);
            let page = MovePage::new(&visit, &posted, about, errors, Vec::new());
            return Ok(Page::unprocessable(page));
        }
    };
    let (changed, afters) = ([planned.clone()], [after]);
    // What they object to wherever it stands was looked at when it was assigned.
    let stands = [planned.standing.clone()];
    let already = objections_after(&mut tx, &visit, &block, &changed, &stands).await?;
    let objections = objections_after(&mut tx, &visit, &block, &changed, &afters).await?;
    let objections = objections::new_ones(objections, &already);
    if objections.iter().any(Objected::asks_for_a_reason) {
        if posted.text("looked_at") != objections::mark_of(&objections) {
            errors.add("on", "the rules object to that day: read it below");
        } else if reason.is_empty() {
            errors.add("reason", "say why it goes ahead: the athlete reads it");
        }
    }
    if errors.any() {
        let page = MovePage::new(&visit, &posted, about, errors, objections);
        return Ok(Page::unprocessable(page));
    }
    let new = NewAct {
        act,
        athlete: block.athlete,
        what: What::Move,
        kind: None,
        first_day: on,
        last_day: Some(on),
        reason: &reason,
        weeks: 0,
        excused: None,
        status: None,
        planned: &changed,
        after: &afters,
    };
    match plan_acts::make(&mut tx, &new, visit.now).await {
        Ok(true) => flags::reassess(&mut tx, block.athlete, visit.today).await?,
        Ok(false) => {}
        Err(ChangeError::ChangedMeanwhile | ChangeError::Logged(_)) => {
            drop(tx);
            let mut tx = visit.enter(&app).await?;
            let planned = blocks::planned(&mut tx, planned.planned).await?;
            return conflict(&mut tx, &visit, &posted, (&block, &planned)).await;
        }
        Err(error) => return Err(words::change_refused(error)),
    }
    tx.commit().await?;
    Ok(see_other(&next))
}

/// The session on its new day, or why not.
async fn moved(
    tx: &mut GymTx,
    visit: &Visit,
    (block, planned): (&Block, &Planned),
    on: time::Date,
) -> Result<Result<Standing, String>, StoreError> {
    if block.ended.is_some() {
        return Ok(Err(
            "its block has ended: nothing of it is planned any more".to_owned(),
        ));
    }
    let others = blocks::of_running_blocks(tx, &[block.athlete]).await?;
    let others: Vec<Placed> = others.iter().map(Planned::placed).collect();
    let days = (block.starts_on, block.until());
    let moved = moved_to(&planned.placed(), on, &others, days, visit.today);
    Ok(moved.map_err(|refused| refused.to_string()))
}

/// Nothing is written: the page says who was quicker and how the session stands now.
async fn conflict(
    tx: &mut GymTx,
    visit: &Visit,
    posted: &Posted,
    (block, planned): (&Block, &Planned),
) -> Result<Response, PageError> {
    let newest = blocks::revisions(tx, planned.planned).await?.pop();
    let mut page = MovePage::new(
        visit,
        posted,
        (block, planned),
        FieldErrors::new(),
        Vec::new(),
    );
    page.meanwhile = Some(match newest {
        _ if planned.logged.is_some() => {
            "It was logged meanwhile: what was done cannot be moved.".to_owned()
        }
        Some(newest) => format!(
            "{} changed it meanwhile{}{}. It stands as below; look, and decide anew.",
            newest.decided_by_name,
            if newest.reason.is_empty() { "" } else { ": " },
            newest.reason
        ),
        None => "It was changed meanwhile. Look, and decide anew.".to_owned(),
    });
    Ok((StatusCode::CONFLICT, Page(page)).into_response())
}
