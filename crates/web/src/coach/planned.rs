//! One planned session: how it stands, how it stood, and what a coach changes about it.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{AthleteId, GymId, PlannedId};
use leverbook_domain::plan::{
    BlockField, BlockProblems, Change, MoveRefused, Placed, PlannedOn, PlannedState, Prescription,
    Standing, moved_to,
};
use leverbook_domain::units::UnitSystem;
use leverbook_store::blocks::{self, Block, Planned, PlannedRevision, Revise};
use leverbook_store::names::GymNames;
use leverbook_store::{GymTx, StoreError, care, flags, history, policies};
use time::Date;

use super::blocks::{is_waiting, own_block, reason, state_word};
use super::objections::{self, Objected};
use super::offer::Offer;
use super::typed::iso_date;
use super::words;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::whole;
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// A planned session, the block around it, and what there is to choose from.
struct Around {
    block: Block,
    planned: Planned,
    /// It and every later one of the block that is still to be done, in order of day.
    rest: Vec<Planned>,
    /// All that is planned for the athlete, of all blocks.
    all: Vec<Planned>,
    offer: Offer,
    waits: bool,
}

impl Around {
    async fn load(tx: &mut GymTx, visit: &Visit, planned: PlannedId) -> Result<Self, StoreError> {
        let planned = blocks::planned(tx, planned).await?;
        let block = own_block(tx, visit, planned.block).await?;
        let rest = blocks::of_block(tx, planned.block)
            .await?
            .into_iter()
            .filter(|one| one.planned == planned.planned || is_later(one, &planned))
            .collect();
        Ok(Self {
            waits: is_waiting(tx, visit, &block).await?,
            all: blocks::of_running_blocks(tx, &[block.athlete]).await?,
            offer: Offer::load(tx, visit.today).await?,
            block,
            planned,
            rest,
        })
    }

    /// What can still be changed: nothing that is logged, and nothing of a block that is over.
    fn is_open(&self) -> bool {
        self.planned.logged.is_none() && self.block.ended.is_none()
    }

    /// Whether every one of these may go where it is to go, and if not, which and why.
    fn may_move(
        &self,
        planned: &[Planned],
        after: &[Standing],
        today: Date,
    ) -> Result<(), (Date, MoveRefused)> {
        let moves = |one: &&Planned| planned.iter().any(|moved| moved.planned == one.planned);
        let staying = self.all.iter().filter(|one| !moves(one));
        let staying: Vec<Placed> = staying.map(Planned::placed).collect();
        let days = (self.block.starts_on, self.block.until());
        for (one, after) in planned.iter().zip(after) {
            moved_to(&one.placed(), after.on, &staying, days, today)
                .map_err(|refused| (one.standing.on, refused))?;
        }
        Ok(())
    }

    fn first_form(&self) -> Form {
        let standing = &self.planned.standing;
        let prescription = &standing.prescription;
        Form::with([
            ("what", "move".to_owned()),
            ("scope", "this".to_owned()),
            ("on", standing.on.to_string()),
            ("sets", prescription.sets.to_string()),
            ("club", prescription.loading.to_string()),
            ("note", prescription.note.clone().unwrap_or_default()),
        ])
    }
}

fn is_later(one: &Planned, than: &Planned) -> bool {
    one.standing.on > than.standing.on
        && one.logged.is_none()
        && one.standing.state == PlannedState::Planned
}

#[derive(Template)]
#[template(path = "coach/planned.html")]
pub(crate) struct PlannedPage {
    frame: Frame,
    form: Form,
    planned: PlannedId,
    revision: i32,
    athlete_name: String,
    athlete_href: String,
    block_href: String,
    day: String,
    state: &'static str,
    waits: bool,
    loadable: bool,
    facts: Vec<(&'static str, String)>,
    log_href: Option<String>,
    is_open: bool,
    later: usize,
    what: Vec<Choice>,
    scope: Vec<Choice>,
    clubs: Vec<Choice>,
    objections: Vec<Objected>,
    history: Vec<Past>,
}

/// One revision, as the page tells it.
struct Past {
    revision: i32,
    newest: bool,
    who: String,
    line: String,
    reason: String,
    seen: Option<String>,
}

impl Past {
    fn new(past: &PlannedRevision, newest: i32) -> Self {
        let Standing {
            on,
            state,
            prescription,
        } = &past.standing;
        let state = match state {
            PlannedState::Planned => "",
            PlannedState::Skipped => ", skipped",
            PlannedState::Ended => ", ended",
        };
        let note = prescription
            .note
            .as_deref()
            .map(|note| format!(". “{note}”"))
            .unwrap_or_default();
        Self {
            revision: past.revision,
            newest: past.revision == newest,
            who: format!("{} on {}", past.decided_by_name, day_label(past.decided_on)),
            line: format!(
                "{}: {}, {}{state}{note}",
                day_label(*on),
                prescription.line(),
                prescription.club_name
            ),
            reason: past.reason.clone(),
            seen: past.seen_on.map(day_label),
        }
    }
}

impl PlannedPage {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        around: &Around,
        form: Form,
        objections: Vec<Objected>,
    ) -> Result<Self, StoreError> {
        let Around { block, planned, .. } = around;
        let standing = &planned.standing;
        let history = blocks::revisions(tx, planned.planned)
            .await?
            .iter()
            .rev()
            .map(|past| Past::new(past, planned.revision))
            .collect();
        let can_restore = standing.state == PlannedState::Skipped;
        let mut what = vec![
            Choice::new("move", "Move it"),
            Choice::new("edit", "Change sets, club or note"),
        ];
        what.push(if can_restore {
            Choice::new("restore", "Plan it after all")
        } else {
            Choice::new("skip", "Skip it")
        });
        let later = around.rest.len().saturating_sub(1);
        Ok(Self {
            frame: visit.frame(
                format!("{}, {}", block.movement_name, day_label(standing.on)),
                Nav::Roster,
            ),
            form,
            planned: planned.planned,
            revision: planned.revision,
            athlete_name: block.athlete_name.clone(),
            athlete_href: visit.to(&format!("athletes/{}", block.athlete)),
            block_href: visit.to(&format!("blocks/{}", block.block)),
            day: day_label(standing.on),
            state: state_word(planned, around.waits, visit.today),
            waits: around.waits && around.is_open(),
            loadable: block.loadable,
            facts: facts(standing),
            log_href: planned
                .logged
                .map(|session| visit.to(&format!("athletes/{}#session-{session}", block.athlete))),
            is_open: around.is_open(),
            later,
            what,
            scope: vec![
                Choice::new("this", "Only this session"),
                Choice::new(
                    "rest",
                    format!("This and the {later} later ones of the block"),
                ),
            ],
            clubs: clubs(
                &around.offer,
                block.athlete,
                &standing.prescription,
                visit.units,
            ),
            objections,
            history,
        })
    }
}

/// The clubs to choose from. One that is planned and cannot be picked up stands among them, so that none takes its place
/// unseen; it is refused when it is sent.
fn clubs(
    offer: &Offer,
    athlete: AthleteId,
    planned: &Prescription,
    units: UnitSystem,
) -> Vec<Choice> {
    let mut clubs = offer.clubs_for(athlete, units);
    if offer.club(planned.loading, athlete).is_none() {
        let word = format!("{}: out of use, choose another", planned.club_name);
        clubs.insert(0, Choice::new(planned.loading.to_string(), word));
    }
    clubs
}

fn facts(standing: &Standing) -> Vec<(&'static str, String)> {
    let prescription = &standing.prescription;
    let mut facts = vec![
        ("Movement", prescription.movement_name.clone()),
        ("Hands", words::hands(prescription.hands).to_owned()),
        ("Club", prescription.club_name.clone()),
        ("Work", prescription.line()),
        (
            "Rest",
            format!("{} s between sets", prescription.rest_seconds),
        ),
        (
            "Takes",
            format!("{} of work and rest", prescription.time().in_minutes()),
        ),
        ("Week", format!("{} of its block", prescription.week)),
    ];
    if let Some(note) = &prescription.note {
        facts.push(("Note to the athlete", note.clone()));
    }
    facts
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, planned)): Path<(GymId, PlannedId)>,
) -> Result<Page<PlannedPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let around = Around::load(&mut tx, &visit, planned).await?;
    let form = around.first_form();
    let page = PlannedPage::load(&mut tx, &visit, &around, form, Vec::new()).await?;
    Ok(Page(page))
}

pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, planned)): Path<(GymId, PlannedId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let around = Around::load(&mut tx, &visit, planned).await?;
    if !around.is_open() {
        return Err(PageError::Conflict(
            "This session is logged, or its block has ended: it cannot be changed any more."
                .to_owned(),
        ));
    }
    let mut errors = FieldErrors::new();
    let wanted = Wanted::read(&posted, &around, visit.today, &mut errors);
    let Some(wanted) = wanted.filter(|_| !errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = PlannedPage::load(&mut tx, &visit, &around, form, Vec::new()).await?;
        return Ok(Page::unprocessable(page));
    };
    let objections = objections_after(
        &mut tx,
        &visit,
        &around.block,
        &wanted.planned,
        &wanted.after,
    )
    .await?;
    if objections.iter().any(Objected::asks_for_a_reason)
        && posted.text("looked_at") != objections::mark_of(&objections)
    {
        errors.add(
            "despite",
            "the rules object: read it below, then send it again",
        );
        let form = Form::again(&posted, errors);
        let page = PlannedPage::load(&mut tx, &visit, &around, form, objections).await?;
        return Ok(Page::unprocessable(page));
    }
    let revision = Revise {
        planned: &wanted.planned,
        after: &wanted.after,
        reason: &wanted.reason,
        act: None,
    };
    blocks::revise(&mut tx, around.block.athlete, revision, visit.now)
        .await
        .map_err(words::change_refused)?;
    flags::reassess(&mut tx, around.block.athlete, visit.today).await?;
    tx.commit().await?;
    Ok(see_other(
        &visit.to(&format!("planned/{planned}?done=changed")),
    ))
}

/// A change as read from the form, worked out for every session that it is for.
struct Wanted {
    planned: Vec<Planned>,
    after: Vec<Standing>,
    /// Empty only for a move, which needs none.
    reason: String,
}

impl Wanted {
    fn read(
        posted: &Posted,
        around: &Around,
        today: Date,
        errors: &mut FieldErrors,
    ) -> Option<Self> {
        let revision = errors.read(posted, "revision", whole);
        let change = read_change(posted, around, errors);
        let reason = errors.read(posted, "reason", |text| match &change {
            Some(Change::Move { .. }) if text.is_empty() => Ok(String::new()),
            _ => reason(text).map(|reason| reason.as_str().to_owned()),
        });
        let (revision, change, reason) = (revision?, change?, reason?);
        let mut planned = match posted.text("scope") {
            "rest" => around.rest.clone(),
            _ => vec![around.planned.clone()],
        };
        // The revision that the coach looked at, not the one that stands now.
        let this = planned
            .iter_mut()
            .find(|one| one.planned == around.planned.planned)?;
        this.revision = i32::try_from(revision).ok()?;
        let mut after = Vec::with_capacity(planned.len());
        for one in &planned {
            match change.apply(&one.standing, today) {
                Ok(standing) => after.push(standing),
                Err(BlockProblems(problems)) => {
                    for problem in problems {
                        let at = day_label(one.standing.on);
                        errors.add(
                            field_name(problem.field),
                            format!("{at}: {}", problem.message),
                        );
                    }
                    return None;
                }
            }
        }
        if matches!(change, Change::Move { .. })
            && let Err((from, refused)) = around.may_move(&planned, &after, today)
        {
            errors.add("on", format!("{}: {refused}", day_label(from)));
            return None;
        }
        Some(Self {
            planned,
            after,
            reason,
        })
    }
}

/// What the rules object to once sessions of a block are changed, on the days that it is about.
pub(super) async fn objections_after(
    tx: &mut GymTx,
    visit: &Visit,
    block: &Block,
    planned: &[Planned],
    after: &[Standing],
) -> Result<Vec<Objected>, StoreError> {
    let athlete = block.athlete;
    let mut history = history::load(tx, athlete).await?;
    history.leave_out(&care::out_of_use(tx, visit.today).await?);
    let is_changed = |one: &Planned| planned.iter().any(|changed| changed.planned == one.planned);
    let mut ahead: Vec<PlannedOn> = blocks::of_block(tx, block.block)
        .await?
        .into_iter()
        .filter(|one| !is_changed(one))
        .filter(|one| one.logged.is_none() && one.standing.on >= visit.today)
        .map(|one| one.standing)
        .chain(after.iter().cloned())
        .filter(|standing| standing.state == PlannedState::Planned)
        .map(|standing| PlannedOn {
            on: standing.on,
            prescription: standing.prescription,
        })
        .collect();
    ahead.sort_by_key(|one| one.on);
    let names = GymNames::load(tx).await?;
    let policy = policies::of_athlete(tx, athlete).await?;
    let objected = objections::to(&history, policy.own(), &ahead, &names);
    Ok(objected
        .into_iter()
        .filter(|one| after.iter().any(|after| one.is_about(after.on)))
        .collect())
}

const fn field_name(field: BlockField) -> &'static str {
    match field {
        BlockField::Sets => "sets",
        BlockField::Note => "note",
        _ => "on",
    }
}

fn read_change(posted: &Posted, around: &Around, errors: &mut FieldErrors) -> Option<Change> {
    let standing = &around.planned.standing;
    match posted.text("what") {
        "move" => {
            let on = errors.read(posted, "on", iso_date)?;
            if on == standing.on {
                errors.add("on", "it is on that day already: choose another");
                return None;
            }
            Some(Change::Move {
                days: (on - standing.on).whole_days(),
            })
        }
        "skip" => Some(Change::Skip),
        "restore" => Some(Change::Restore),
        "edit" => {
            let sets = errors.read(posted, "sets", whole);
            let club = errors.read(posted, "club", |text| {
                let club = text.parse().ok();
                club.and_then(|club| around.offer.club(club, around.block.athlete))
                    .ok_or("choose a club from the list")
            });
            let note = errors.read(posted, "note", |text| Ok::<_, String>(text.to_owned()));
            let (sets, club, note) = (sets?, club?, note?);
            Some(Change::Edit {
                sets_by: sets.saturating_sub(standing.prescription.sets.into()),
                loading: club.loading,
                club_name: club.name.clone(),
                note,
            })
        }
        _ => {
            errors.add("what", "choose what to do");
            None
        }
    }
}
