//! One block: all its sessions, what was objected to, and its end.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{BlockId, BlockTemplateId, GymId};
use leverbook_domain::plan::{PlannedOn, PlannedState};
use leverbook_domain::text::Reason;
use leverbook_store::blocks::{self, Block, KeptObjection, Planned};
use leverbook_store::names::GymNames;
use leverbook_store::{GymTx, StoreError, athletes, flags, history, policies};
use time::{Date, Duration};

use super::assign::waits;
use super::block_templates::came_from;
use super::plan_calendar::PlanCalendar;
use super::typed::iso_date;
use super::words;
use crate::App;
use crate::ahead::{self, Ahead};
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/block.html")]
pub(crate) struct BlockPage {
    frame: Frame,
    form: Form,
    block: BlockId,
    athlete_name: String,
    athlete_href: String,
    facts: Vec<(&'static str, String)>,
    objections: Vec<KeptObjection>,
    overruled_because: Option<String>,
    ended: Option<(String, String)>,
    rows: Vec<SessionRow>,
    calendar: PlanCalendar,
    /// What the block leads to, while it runs or is to come.
    ahead: Option<Ahead>,
    waits: bool,
    loadable: bool,
    /// The id of a template that the block may be kept as.
    new_template: String,
}

/// One planned session in the block's list.
struct SessionRow {
    href: String,
    day: String,
    week: u8,
    line: String,
    club: String,
    state: &'static str,
    reason: String,
    changed: bool,
}

impl SessionRow {
    fn new(visit: &Visit, planned: &Planned, waits: bool) -> Self {
        let prescription = &planned.standing.prescription;
        Self {
            href: visit.to(&format!("planned/{}", planned.planned)),
            day: day_label(planned.standing.on),
            week: prescription.week,
            line: prescription.line(),
            club: prescription.club_name.clone(),
            state: state_word(planned, waits, visit.today),
            reason: planned.reason.clone(),
            changed: planned.revision > 1,
        }
    }
}

/// How a planned session stands, in a word or three.
pub(super) fn state_word(planned: &Planned, waits: bool, today: Date) -> &'static str {
    if planned.logged.is_some() {
        return "logged";
    }
    match planned.standing.state {
        PlannedState::Skipped => "skipped",
        PlannedState::Ended => "ended",
        PlannedState::Planned if planned.standing.on < today => "not logged",
        PlannedState::Planned if waits => "waits for the coach",
        PlannedState::Planned => "planned",
    }
}

/// A block of an athlete on the visitor's roster; any other does not exist for them.
pub(super) async fn own_block(
    tx: &mut GymTx,
    visit: &Visit,
    block: BlockId,
) -> Result<Block, StoreError> {
    let block = blocks::block(tx, block).await?;
    if athletes::is_on_roster(tx, visit.account, block.athlete).await? {
        Ok(block)
    } else {
        Err(StoreError::NotFound)
    }
}

/// Whether the block's work waits because of an open stop flag (L4).
pub(super) async fn is_waiting(
    tx: &mut GymTx,
    visit: &Visit,
    block: &Block,
) -> Result<bool, StoreError> {
    let standing = flags::standing_for(tx, &[block.athlete]).await?;
    Ok(waits(&standing, block.athlete, block.movement, visit.today))
}

impl BlockPage {
    pub(super) async fn load(
        app: &App,
        tx: &mut GymTx,
        visit: &Visit,
        block: Block,
        form: Form,
    ) -> Result<Self, StoreError> {
        let calendar = PlanCalendar::load(tx, app, visit, block.athlete, Some(block.block)).await?;
        let waits = is_waiting(tx, visit, &block).await?;
        let planned = blocks::of_block(tx, block.block).await?;
        let rows = planned
            .iter()
            .map(|planned| SessionRow::new(visit, planned, waits))
            .collect();
        let ahead = ahead_of(tx, visit, &block, &planned).await?;
        let mut facts = facts(&block);
        if let Some(at) = block.template {
            facts.push(("Block template", came_from(tx, at).await?));
        }
        let kept = form.value("template_id");
        Ok(Self {
            new_template: if kept.is_empty() {
                app.new_id::<BlockTemplateId>().to_string()
            } else {
                kept.to_owned()
            },
            frame: visit.frame(
                format!("{}, {}", block.movement_name, words::hands(block.hands)),
                Nav::Roster,
            ),
            form,
            block: block.block,
            athlete_href: visit.to(&format!("athletes/{}", block.athlete)),
            facts,
            athlete_name: block.athlete_name,
            objections: block.objections,
            overruled_because: block.overruled_because,
            ended: block.ended.map(|(on, why)| (day_label(on), why)),
            rows,
            calendar,
            ahead,
            waits,
            loadable: block.loadable,
        })
    }
}

/// What a block leads to; nothing once it is over.
async fn ahead_of(
    tx: &mut GymTx,
    visit: &Visit,
    block: &Block,
    planned: &[Planned],
) -> Result<Option<Ahead>, StoreError> {
    if block.ended.is_some() || block.until() < visit.today {
        return Ok(None);
    }
    let history = history::load(tx, block.athlete).await?;
    let policy = policies::of_athlete(tx, block.athlete).await?;
    let names = GymNames::load(tx).await?;
    let standing = flags::standing_for(tx, &[block.athlete]).await?;
    let planned: Vec<PlannedOn> = planned
        .iter()
        .filter(|one| one.standing.state == PlannedState::Planned)
        .map(|one| PlannedOn {
            on: one.standing.on,
            prescription: one.standing.prescription.clone(),
        })
        .collect();
    Ok(ahead::of_block(
        &history,
        policy.own(),
        &names,
        &ahead::closed(&standing, visit.today),
        &block.scheme,
        &planned,
        visit.today,
    ))
}

fn facts(block: &Block) -> Vec<(&'static str, String)> {
    vec![
        ("Club", block.club_name.clone()),
        ("Work", words::scheme(&block.scheme)),
        (
            "Days",
            format!(
                "{} for {} weeks from {}{}",
                words::weekday_names(block.weekdays),
                block.weeks,
                day_label(block.starts_on),
                match block.moved_on_weeks {
                    0 => String::new(),
                    1 => ", moved on by a week since".to_owned(),
                    weeks => format!(", moved on by {weeks} weeks since"),
                }
            ),
        ),
        (
            "Assigned",
            format!(
                "by {} on {}",
                block.assigned_by_name,
                day_label(block.assigned_on)
            ),
        ),
    ]
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, block)): Path<(GymId, BlockId)>,
) -> Result<Page<BlockPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let block = own_block(&mut tx, &visit, block).await?;
    let form = Form::with([("last_day", visit.today.to_string())]);
    Ok(Page(
        BlockPage::load(&app, &mut tx, &visit, block, form).await?,
    ))
}

pub(crate) async fn end(
    State(app): State<App>,
    visit: Visit,
    Path((_, block)): Path<(GymId, BlockId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let block = own_block(&mut tx, &visit, block).await?;
    let mut errors = FieldErrors::new();
    let last_day = errors.read(&posted, "last_day", |text| last_day(text, visit.today));
    let reason = errors.read(&posted, "reason", reason);
    let (Some(last_day), Some(reason)) = (last_day, reason) else {
        let form = Form::again(&posted, errors);
        let page = BlockPage::load(&app, &mut tx, &visit, block, form).await?;
        return Ok(Page::unprocessable(page));
    };
    blocks::end(&mut tx, &block, last_day, reason.as_str(), visit.now)
        .await
        .map_err(words::change_refused)?;
    flags::reassess(&mut tx, block.athlete, visit.today).await?;
    tx.commit().await?;
    Ok(see_other(
        &visit.to(&format!("blocks/{}?done=ended", block.block)),
    ))
}

/// The last day that counts: yesterday at the earliest, since what was missed before stays missed.
fn last_day(text: &str, today: Date) -> Result<Date, String> {
    let day = iso_date(text)?;
    if day < today - Duration::days(1) {
        return Err("the last day that counts is yesterday or later".to_owned());
    }
    Ok(day)
}

/// Why; the athlete reads it too.
pub(super) fn reason(text: &str) -> Result<Reason, String> {
    if text.is_empty() {
        return Err("say why: the athlete reads it".to_owned());
    }
    Reason::new(text).map_err(|error| error.to_string())
}
