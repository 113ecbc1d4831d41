//! Block templates: kept from the form or from a block, used again, changed by a new version.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{BlockId, BlockTemplateId, GymId};
use leverbook_store::block_templates::{self, BlockPattern, BlockTemplate};
use leverbook_store::blocks::TemplateVersion;
use leverbook_store::{GymTx, StoreError};

use super::assign::{AssignPage, BlockFields, By, carried, of_pattern, read_block};
use super::blocks::{BlockPage, own_block};
use super::offer::Offer;
use super::words;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form, text_of};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// Characters of a template's name.
const NAME: std::ops::RangeInclusive<usize> = 1..=80;

#[derive(Template)]
#[template(path = "coach/block_templates.html")]
pub(crate) struct ListPage {
    frame: Frame,
    in_use: Vec<Line>,
    retired: Vec<Line>,
}

/// A template in the list.
struct Line {
    id: BlockTemplateId,
    name: String,
    facts: Vec<(&'static str, String)>,
    /// Every version, the newest first.
    versions: Vec<VersionLine>,
    used: String,
}

struct VersionLine {
    number: i32,
    made: String,
    what: String,
    used: String,
}

fn times(count: i64) -> String {
    match count {
        0 => "not used yet".to_owned(),
        1 => "used for 1 block".to_owned(),
        many => format!("used for {many} blocks"),
    }
}

/// What a version asks, in a line.
fn what(pattern: &BlockPattern, movement_name: &str) -> String {
    format!(
        "{movement_name}, {}: {}; {} for {} weeks",
        words::hands(pattern.scheme.hands()),
        words::scheme(&pattern.scheme),
        words::weekday_names(pattern.weekdays),
        pattern.weeks
    )
}

impl Line {
    fn new(versions: &[BlockTemplate]) -> Self {
        let newest = &versions[0];
        let pattern = &newest.pattern;
        let by = if pattern.each_their_own {
            By::Own
        } else {
            By::Same
        };
        let mut facts = vec![
            ("Movement", newest.movement_name.clone()),
            ("Values", by.words().to_owned()),
            (
                if pattern.each_their_own {
                    "Where the log says nothing"
                } else {
                    "Work"
                },
                format!(
                    "{}: {}",
                    words::hands(pattern.scheme.hands()),
                    words::scheme(&pattern.scheme)
                ),
            ),
            (
                "Days",
                format!(
                    "{} for {} weeks",
                    words::weekday_names(pattern.weekdays),
                    pattern.weeks
                ),
            ),
        ];
        if !pattern.note.is_empty() {
            facts.push(("Note to the athlete", pattern.note.clone()));
        }
        Self {
            id: newest.at.template,
            name: pattern.name.clone(),
            facts,
            used: times(versions.iter().map(|one| one.used).sum()),
            versions: version_lines(versions),
        }
    }
}

fn version_lines(versions: &[BlockTemplate]) -> Vec<VersionLine> {
    versions
        .iter()
        .map(|one| VersionLine {
            number: one.at.version,
            made: format!("{}, by {}", day_label(one.made_on), one.made_by_name),
            what: format!(
                "{}: {}",
                one.pattern.name,
                what(&one.pattern, &one.movement_name)
            ),
            used: times(one.used),
        })
        .collect()
}

/// All templates of the gym.
pub(crate) async fn list(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<ListPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let (retired, in_use): (Vec<_>, Vec<_>) = block_templates::all(&mut tx)
        .await?
        .into_iter()
        .partition(|versions| versions[0].retired);
    let lines = |all: Vec<Vec<BlockTemplate>>| all.iter().map(|one| Line::new(one)).collect();
    Ok(Page(ListPage {
        frame: visit.frame("Block templates", Nav::Assign),
        in_use: lines(in_use),
        retired: lines(retired),
    }))
}

/// Reads a name and what a block asks; a template has no first day.
fn read(
    posted: &Posted,
    offer: &Offer,
    visit: &Visit,
    errors: &mut FieldErrors,
) -> Option<BlockPattern> {
    let name = errors.read(posted, "template_name", text_of(NAME));
    let by = By::read(posted, errors);
    let today = visit.today;
    let block = read_block(posted, offer, &offer.policy, Some(today), today, errors);
    let (draft, _) = block?;
    Some(BlockPattern::of(name?, &draft, by? != By::Same))
}

/// Keeps the form of an assignment as a template.
pub(crate) async fn add(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    let mut errors = FieldErrors::new();
    let pattern = read(&posted, &offer, &visit, &mut errors);
    let Some(pattern) = pattern.filter(|_| !errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = AssignPage::new(&app, &visit, &offer, form, carried(&posted));
        return Ok(Page::unprocessable(page));
    };
    let template = posted
        .text("template_id")
        .parse()
        .unwrap_or_else(|_| app.new_id());
    block_templates::add(&mut tx, template, &pattern, visit.now).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to("block-templates?done=template-kept")))
}

/// Keeps what a block asks as a template.
pub(crate) async fn add_from_block(
    State(app): State<App>,
    visit: Visit,
    Path((_, block)): Path<(GymId, BlockId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let block = own_block(&mut tx, &visit, block).await?;
    let mut errors = FieldErrors::new();
    let Some(name) = errors.read(&posted, "template_name", text_of(NAME)) else {
        let form = Form::again(&posted, errors);
        let page = BlockPage::load(&app, &mut tx, &visit, block, form).await?;
        return Ok(Page::unprocessable(page));
    };
    let template = posted
        .text("template_id")
        .parse()
        .unwrap_or_else(|_| app.new_id());
    let pattern = BlockPattern {
        name,
        movement: block.movement,
        each_their_own: posted.has("each_their_own"),
        scheme: block.scheme,
        weekdays: block.weekdays,
        weeks: block.weeks,
        note: String::new(),
    };
    block_templates::add(&mut tx, template, &pattern, visit.now).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to("block-templates?done=template-kept")))
}

#[derive(Template)]
#[template(path = "coach/block_template.html")]
pub(crate) struct ChangePage {
    frame: Frame,
    form: Form,
    id: BlockTemplateId,
    looked_at: i32,
    bys: Vec<Choice>,
    ask: BlockFields,
    versions: Vec<VersionLine>,
}

impl ChangePage {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        offer: &Offer,
        template: BlockTemplateId,
        form: Option<Form>,
    ) -> Result<Self, StoreError> {
        let versions = block_templates::versions(tx, template).await?;
        let newest = &versions[0];
        let looked_at = form
            .as_ref()
            .and_then(|form| form.value("after").parse().ok());
        let form = form.unwrap_or_else(|| {
            let mut fields = of_pattern(&newest.pattern, &offer.policy);
            fields.push(("template_name".to_owned(), newest.pattern.name.clone()));
            Form::with(fields)
        });
        Ok(Self {
            frame: visit.frame(
                format!("Block template: {}", newest.pattern.name),
                Nav::Assign,
            ),
            form,
            id: template,
            looked_at: looked_at.unwrap_or(newest.at.version),
            bys: [By::Own, By::Same]
                .map(|by| Choice::new(by.word(), by.words()))
                .to_vec(),
            ask: BlockFields::new(offer),
            versions: version_lines(&versions),
        })
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, template)): Path<(GymId, BlockTemplateId)>,
) -> Result<Page<ChangePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    Ok(Page(
        ChangePage::load(&mut tx, &visit, &offer, template, None).await?,
    ))
}

/// Makes a new version. Blocks of the versions before stay as they are.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, template)): Path<(GymId, BlockTemplateId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx, visit.today).await?;
    let mut errors = FieldErrors::new();
    let pattern = read(&posted, &offer, &visit, &mut errors);
    let Some(pattern) = pattern.filter(|_| !errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = ChangePage::load(&mut tx, &visit, &offer, template, Some(form)).await?;
        return Ok(Page::unprocessable(page));
    };
    let looked_at = TemplateVersion {
        template,
        version: posted.text("after").parse().unwrap_or(0),
    };
    let newest = block_templates::versions(&mut tx, template).await?;
    let to_list = see_other(&visit.to("block-templates?done=template-changed"));
    if newest[0].pattern == pattern {
        // Sent twice, or nothing was changed.
        return Ok(to_list);
    }
    let refused = || {
        PageError::Conflict(
            "Somebody changed this template while you looked at it. Nothing of yours was saved; open it again and decide anew."
                .to_owned(),
        )
    };
    if newest[0].at != looked_at {
        return Err(refused());
    }
    match block_templates::change(&mut tx, looked_at, &pattern, visit.now).await {
        Err(error) if error.is_constraint("block_template_versions_pkey") => {
            return Err(refused());
        }
        other => other?,
    }
    tx.commit().await?;
    Ok(to_list)
}

/// Offers a template no more, or again.
pub(crate) async fn retire(
    State(app): State<App>,
    visit: Visit,
    Path((_, template)): Path<(GymId, BlockTemplateId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let back = posted.has("bring");
    block_templates::retire(&mut tx, template, (!back).then_some(visit.now)).await?;
    tx.commit().await?;
    let done = if back { "brought-back" } else { "retired" };
    Ok(see_other(
        &visit.to(&format!("block-templates?done={done}")),
    ))
}

/// "Autumn, version 2", for a block's page.
pub(super) async fn came_from(tx: &mut GymTx, at: TemplateVersion) -> Result<String, StoreError> {
    let versions = block_templates::versions(tx, at.template).await?;
    let name = versions
        .iter()
        .find(|one| one.at == at)
        .map_or("", |one| one.pattern.name.as_str());
    Ok(format!("{name}, version {}", at.version))
}
