//! Assigning a block: choose, look at every planned session with what the rules object to, assign.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, BlockId, LoadingId, MovementId};
use leverbook_domain::plan::{
    BlockDraft, BlockField, BlockProblems, BlockWish, FingertipSets, IntervalSets, PlannedOn,
    Scheme, SetLadder, Swung, preview,
};
use leverbook_domain::text::Reason;
use leverbook_domain::training::{Hands, History};
use leverbook_domain::units::{Density, Reps, Seconds};
use leverbook_store::blocks::{self, Assignable, Assignment, Block, NewBlock};
use leverbook_store::flags::{self, Assessment, KeptFlag};
use leverbook_store::names::GymNames;
use leverbook_store::{GymTx, StoreError, history};
use time::{Date, Duration};

use super::objections::{self, Objected};
use super::offer::{ClubOffered, Offer};
use super::typed::{iso_date, seconds, small};
use super::words;
use crate::App;
use crate::ahead::{self, Ahead};
use crate::chart::{day_label, short_day_label};
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::{decimal, whole};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// The value of the club field that takes each athlete's proposed or last club.
const EACH_THEIR_NEXT: &str = "next";

#[derive(Template)]
#[template(path = "coach/assign.html")]
pub(crate) struct AssignPage {
    frame: Frame,
    form: Form,
    athletes: Vec<Choice>,
    movements: Vec<Choice>,
    hands: Vec<Choice>,
    clubs: Vec<Choice>,
    weekdays: Vec<Choice>,
    added_sets_at_most: u8,
    hold_every_weeks: u8,
    light_percent: f64,
    /// Typed on the preview; carried through this page so that nothing is lost.
    carried: Vec<(String, String)>,
}

impl AssignPage {
    fn new(visit: &Visit, offer: &Offer, form: Form, carried: Vec<(String, String)>) -> Self {
        let mut athletes: Vec<Choice> = offer
            .athletes
            .iter()
            .map(|athlete| Choice::new(athlete.athlete.to_string(), athlete.name.clone()))
            .collect();
        // Those chosen already stand first; the order by name stays.
        athletes.sort_by_key(|athlete| !form.checked("athlete", &athlete.value));
        let mut clubs = vec![Choice::new(
            EACH_THEIR_NEXT,
            "Each athlete’s own next: as proposed, else the last one swung",
        )];
        clubs.extend(offer.gym_clubs(visit.units));
        Self {
            frame: visit.frame("Assign a block", Nav::Assign),
            form,
            athletes,
            movements: offer
                .movements
                .iter()
                .map(|(id, name)| Choice::new(id.to_string(), name.clone()))
                .collect(),
            hands: Hands::ALL
                .iter()
                .map(|hands| Choice::new(hands.word(), words::scheme_of(*hands)))
                .collect(),
            clubs,
            weekdays: words::weekdays(),
            added_sets_at_most: offer.policy.ladder_added_sets_max,
            hold_every_weeks: offer.policy.hold_every_weeks,
            light_percent: (100.0 * offer.policy.light_week_share).round(),
            carried,
        }
    }
}

/// The form at first: common practice, and whatever the address asks for.
fn first_form(offer: &Offer, query: &str, today: Date) -> Form {
    let policy = &offer.policy;
    let asked: Vec<(String, String)> = form_urlencoded::parse(query.as_bytes())
        .into_owned()
        .collect();
    let usual = [
        ("hands", Hands::Two.word().to_owned()),
        ("club", EACH_THEIR_NEXT.to_owned()),
        ("weekday", "1".to_owned()),
        ("weekday", "4".to_owned()),
        ("starts_on", today.to_string()),
        ("weeks", "8".to_owned()),
        ("interval_sets", "5".to_owned()),
        ("interval_seconds", policy.interval_seconds.to_string()),
        ("interval_rest", "60".to_owned()),
        ("fingertip_sets", policy.ladder_start_sets.to_string()),
        ("fingertip_reps", policy.ladder_reps_max.to_string()),
        ("fingertip_rest", "60".to_owned()),
        ("ladder_reps", policy.ladder_reps_max.to_string()),
        ("ladder_start", policy.ladder_start_sets.to_string()),
        ("ladder_add", "1".to_owned()),
        ("ladder_target", policy.ladder_targets[0].to_string()),
        ("ladder_rest", "60".to_owned()),
    ];
    let unasked = usual
        .into_iter()
        .filter(|(name, _)| !asked.iter().any(|(other, _)| other == name))
        .map(|(name, value)| (name.to_owned(), value));
    Form::with(unasked.chain(asked.clone()))
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    RawQuery(query): RawQuery,
) -> Result<Page<AssignPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx).await?;
    let form = first_form(&offer, query.as_deref().unwrap_or_default(), visit.today);
    Ok(Page(AssignPage::new(&visit, &offer, form, Vec::new())))
}

pub(crate) async fn submit(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let offer = Offer::load(&mut tx).await?;
    let again = |errors| {
        let form = Form::again(&posted, errors);
        AssignPage::new(&visit, &offer, form, carried(&posted))
    };
    if posted.text("step") == "change" {
        return Ok(Page(again(FieldErrors::new())).into_response());
    }
    let wanted = match Wanted::read(&posted, &offer, visit.today) {
        Ok(wanted) => wanted,
        Err(errors) => return Ok(Page::unprocessable(again(errors))),
    };
    let mut errors = FieldErrors::new();
    let shares = shares(&mut tx, &app, &visit, &posted, &offer, &wanted, &mut errors).await?;
    if posted.text("step") != "assign" {
        let wrong = errors.any();
        let page = PreviewPage::new(&visit, &posted, &offer, &wanted, &shares, errors);
        return Ok(if wrong {
            Page::unprocessable(page)
        } else {
            Page(page).into_response()
        });
    }
    let because = read_because(&posted, &shares, &mut errors);
    if errors.any() {
        let page = PreviewPage::new(&visit, &posted, &offer, &wanted, &shares, errors);
        return Ok(Page::unprocessable(page));
    }
    let end_running = posted.has("end_running");
    let next = write(&mut tx, &visit, &wanted, shares, because, end_running).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to(&next)))
}

/// What was typed beside the block itself, to be kept while the block is changed.
fn carried(posted: &Posted) -> Vec<(String, String)> {
    posted
        .shown_again()
        .into_iter()
        .filter(|(name, _)| is_of_preview(name) && name != "step" && name != "looked_at")
        .collect()
}

/// Whether a field belongs to the preview, not to the block itself.
fn is_of_preview(name: &str) -> bool {
    name.starts_with("club-")
        || name.starts_with("block-")
        || matches!(name, "because" | "end_running" | "step" | "looked_at")
}

/// A block as read from the form, and whom it is for.
struct Wanted {
    draft: BlockDraft,
    movement_name: String,
    athletes: Vec<Assignable>,
    /// `None` takes each athlete's own next.
    club: Option<LoadingId>,
}

impl Wanted {
    fn read(posted: &Posted, offer: &Offer, today: Date) -> Result<Self, FieldErrors> {
        let mut errors = FieldErrors::new();
        let athletes = read_athletes(posted, offer, &mut errors);
        let movement = errors.read(posted, "movement", |text| {
            let movement = text.parse::<MovementId>().ok();
            movement
                .and_then(|id| Some((id, offer.movement_name(id)?.to_owned())))
                .ok_or("choose a movement from the list")
        });
        let club = errors.read(posted, "club", |text| {
            if text == EACH_THEIR_NEXT {
                return Ok(None);
            }
            let gyms = |loading: &LoadingId| {
                let known = |club: &ClubOffered| club.loading == *loading && club.owner.is_none();
                offer.clubs.iter().any(known)
            };
            text.parse()
                .ok()
                .filter(gyms)
                .map(Some)
                .ok_or("choose a club from the list")
        });
        let hands = errors.read(posted, "hands", |text| {
            Hands::from_word(text).ok_or("choose how the club is held")
        });
        let scheme = hands.and_then(|hands| read_scheme(posted, hands, &mut errors));
        let weekdays: Vec<i64> = posted
            .all("weekday")
            .iter()
            .map(|day| day.parse().unwrap_or(0))
            .collect();
        let starts_on = errors.read(posted, "starts_on", iso_date);
        let weeks = errors.read(posted, "weeks", whole);
        let note = errors.read(posted, "note", |text| Ok::<_, String>(text.to_owned()));
        let (Some(hands), Some((movement, movement_name)), Some(club)) = (hands, movement, club)
        else {
            return Err(errors);
        };
        let (Some(scheme), Some(starts_on), Some(weeks), Some(note)) =
            (scheme, starts_on, weeks, note)
        else {
            return Err(errors);
        };
        let wish = BlockWish {
            movement,
            scheme,
            weekdays,
            starts_on,
            weeks,
            note,
        };
        let policy = match athletes.as_slice() {
            [one] => offer.policy_for(one.athlete),
            _ => &offer.policy,
        };
        match BlockDraft::new(wish, policy, today) {
            Ok(draft) if !errors.any() => Ok(Self {
                draft,
                movement_name,
                athletes,
                club,
            }),
            Ok(_) => Err(errors),
            Err(BlockProblems(problems)) => {
                for problem in problems {
                    errors.add(field_name(problem.field, hands), problem.message);
                }
                Err(errors)
            }
        }
    }
}

/// The name of a field of the form; each scheme has fields of its own.
const fn field_name(field: BlockField, hands: Hands) -> &'static str {
    match (field, hands) {
        (BlockField::Weekdays, _) => "weekday",
        (BlockField::StartsOn, _) => "starts_on",
        (BlockField::Weeks, _) => "weeks",
        (BlockField::Note, _) => "note",
        (BlockField::Seconds, _) => "interval_seconds",
        (BlockField::Goal, _) => "interval_goal",
        (BlockField::StartSets, _) => "ladder_start",
        (BlockField::AddPerWeek, _) => "ladder_add",
        (BlockField::TargetSets, _) => "ladder_target",
        (BlockField::Sets, Hands::Fingertip) => "fingertip_sets",
        (BlockField::Sets, _) => "interval_sets",
        (BlockField::Reps, Hands::Fingertip) => "fingertip_reps",
        (BlockField::Reps, _) => "ladder_reps",
        (BlockField::Rest, Hands::Two) => "interval_rest",
        (BlockField::Rest, Hands::Fingertip) => "fingertip_rest",
        (BlockField::Rest, Hands::One) => "ladder_rest",
    }
}

fn read_athletes(posted: &Posted, offer: &Offer, errors: &mut FieldErrors) -> Vec<Assignable> {
    let sent = posted.all("athlete");
    if sent.is_empty() {
        errors.add("athlete", "choose at least one athlete");
    }
    let chosen: Vec<Assignable> = offer
        .athletes
        .iter()
        .filter(|athlete| sent.contains(&athlete.athlete.to_string().as_str()))
        .cloned()
        .collect();
    let unknown = sent.iter().any(|id| {
        !chosen
            .iter()
            .any(|athlete| athlete.athlete.to_string() == **id)
    });
    if unknown {
        errors.add(
            "athlete",
            "somebody chosen is not on your roster, or not in training: choose again",
        );
    }
    chosen
}

/// Reads the fields of the scheme that goes with these hands; the other schemes' are left alone.
fn read_scheme(posted: &Posted, hands: Hands, errors: &mut FieldErrors) -> Option<Scheme> {
    match hands {
        Hands::Two => {
            let sets = errors.read(posted, "interval_sets", small);
            let interval = errors.read(posted, "interval_seconds", |text| {
                Seconds::new(whole(text)?).map_err(|e| e.to_string())
            });
            let rest = errors.read(posted, "interval_rest", seconds);
            let goal = errors.read_optional(posted, "interval_goal", |text| {
                Density::from_rpm(decimal(text)?).map_err(|e| e.to_string())
            });
            Some(Scheme::IntervalSets(IntervalSets {
                sets: sets?,
                seconds: interval?,
                rest_seconds: rest?,
                goal,
            }))
        }
        Hands::Fingertip => {
            let sets = errors.read(posted, "fingertip_sets", small);
            let reps = errors.read(posted, "fingertip_reps", reps);
            let rest = errors.read(posted, "fingertip_rest", seconds);
            Some(Scheme::FingertipSets(FingertipSets {
                sets: sets?,
                reps: reps?,
                rest_seconds: rest?,
            }))
        }
        Hands::One => {
            let reps = errors.read(posted, "ladder_reps", reps);
            let start = errors.read(posted, "ladder_start", small);
            let add = errors.read(posted, "ladder_add", small);
            let target = errors.read(posted, "ladder_target", small);
            let rest = errors.read(posted, "ladder_rest", seconds);
            Some(Scheme::SetLadder(SetLadder {
                reps: reps?,
                start_sets: start?,
                add_per_week: add?,
                target_sets: target?,
                light_fourth_week: posted.has("ladder_light"),
                rest_seconds: rest?,
            }))
        }
    }
}

fn reps(text: &str) -> Result<Reps, String> {
    Reps::new(whole(text)?).map_err(|e| e.to_string())
}

/// One athlete's share of what is about to be assigned.
struct Share {
    athlete: Assignable,
    block: BlockId,
    /// `None` where no club could be told; then nothing is planned yet.
    club: Option<LoadingId>,
    loadable: bool,
    planned: Vec<PlannedOn>,
    /// What the block leads to; nothing where nothing is planned yet.
    ahead: Option<Ahead>,
    objections: Vec<Objected>,
    /// Blocks of the same movement that still run when this one begins.
    running: Vec<Block>,
    /// Whether an open stop flag makes this work wait for the coach (L4).
    waits: bool,
}

fn club_field(athlete: AthleteId) -> String {
    format!("club-{athlete}")
}

fn block_field(athlete: AthleteId) -> String {
    format!("block-{athlete}")
}

/// Works out everybody's share, from a handful of queries however many athletes there are.
async fn shares(
    tx: &mut GymTx,
    app: &App,
    visit: &Visit,
    posted: &Posted,
    offer: &Offer,
    wanted: &Wanted,
    errors: &mut FieldErrors,
) -> Result<Vec<Share>, StoreError> {
    let ids: Vec<AthleteId> = wanted.athletes.iter().map(|one| one.athlete).collect();
    let draft = &wanted.draft;
    let first_day = draft.weekdays().first_from(draft.starts_on());
    let mut histories: HashMap<AthleteId, History> =
        history::load_many(tx, &ids).await?.into_iter().collect();
    let proposals = flags::assessments(tx, &ids).await?;
    let standing = flags::standing_for(tx, &ids).await?;
    let running = blocks::running(tx, &ids, draft.movement(), first_day).await?;
    let names = GymNames::load(tx).await?;
    let mut shares = Vec::with_capacity(ids.len());
    for athlete in &wanted.athletes {
        let id = athlete.athlete;
        let history = histories.remove(&id).ok_or(StoreError::NotFound)?;
        let own_next = || own_next(proposals.get(&id), &history, draft);
        let club = read_club(posted, offer, wanted, id, own_next, errors);
        let policy = offer.policy_for(id);
        let swung = club.map(|club| Swung {
            movement_name: &wanted.movement_name,
            loading: club.loading,
            club_name: &club.name,
        });
        let planned = swung.map_or_else(Vec::new, |swung| preview(draft, policy, swung));
        let own_flags = standing.iter().filter(|flag| flag.athlete == id);
        shares.push(Share {
            block: posted
                .text(&block_field(id))
                .parse()
                .unwrap_or_else(|_| app.new_id()),
            club: club.map(|club| club.loading),
            loadable: club.is_some_and(|club| club.loadable),
            ahead: ahead::of_block(
                &history,
                policy,
                &names,
                &ahead::closed(own_flags, visit.today),
                &draft.scheme(),
                &planned,
                visit.today,
            ),
            objections: objections::to(&history, policy, &planned, &names),
            planned,
            running: running
                .iter()
                .filter(|block| block.athlete == id)
                .cloned()
                .collect(),
            waits: waits(&standing, id, draft.movement(), visit.today),
            athlete: athlete.clone(),
        });
    }
    Ok(shares)
}

/// L4: whether work in this movement waits for the coach.
pub(super) fn waits(
    standing: &[KeptFlag],
    athlete: AthleteId,
    movement: MovementId,
    today: Date,
) -> bool {
    standing
        .iter()
        .filter(|kept| kept.athlete == athlete && kept.holds_work(today))
        .any(|kept| {
            kept.flag
                .subject
                .movement
                .is_none_or(|about| about == movement)
        })
}

/// The club proposed for an athlete's next step in this movement and hands, else the last swung.
fn own_next(
    assessment: Option<&Assessment>,
    history: &History,
    draft: &BlockDraft,
) -> Option<LoadingId> {
    let (movement, hands) = (draft.movement(), draft.scheme().hands());
    let proposed = assessment.and_then(|assessment| {
        assessment
            .steps
            .iter()
            .find(|step| step.movement == movement && step.hands == hands)
            .and_then(|step| step.loading)
    });
    proposed.or_else(|| {
        history
            .sessions()
            .iter()
            .rev()
            .flat_map(|session| session.sets.iter().rev())
            .find(|set| set.movement == movement && set.hands == hands)
            .map(|set| set.loading)
    })
}

fn read_club<'a>(
    posted: &Posted,
    offer: &'a Offer,
    wanted: &Wanted,
    athlete: AthleteId,
    own_next: impl FnOnce() -> Option<LoadingId>,
    errors: &mut FieldErrors,
) -> Option<&'a ClubOffered> {
    let field = club_field(athlete);
    let club = if posted.text(&field).is_empty() {
        wanted
            .club
            .or_else(own_next)
            .and_then(|loading| offer.club(loading, athlete))
    } else {
        let typed = posted.text(&field).parse().ok();
        typed.and_then(|loading| offer.club(loading, athlete))
    };
    if club.is_none() {
        errors.add(
            &field,
            "choose a club: none was proposed, or it is not in the rack",
        );
    }
    club
}

/// To go on despite an objection that asks for a look, the coach says why. What was objected to
/// must be what the coach looked at.
fn read_because(posted: &Posted, shares: &[Share], errors: &mut FieldErrors) -> Option<Reason> {
    if posted.text("looked_at") != looked_at(shares) {
        errors.add(
            "because",
            "what the rules object to has changed since you looked: read it again",
        );
    }
    if needs_reason(shares) {
        return errors.read(posted, "because", |text| {
            if text.is_empty() {
                return Err("say why this goes ahead despite what the rules object to".to_owned());
            }
            Reason::new(text).map_err(|error| error.to_string())
        });
    }
    errors.read_optional(posted, "because", Reason::new)
}

fn needs_reason(shares: &[Share]) -> bool {
    shares
        .iter()
        .flat_map(|share| &share.objections)
        .any(Objected::asks_for_a_reason)
}

/// A mark of everything that is objected to.
fn looked_at(shares: &[Share]) -> String {
    objections::mark(shares.iter().flat_map(|share| {
        let athlete = share.athlete.athlete;
        share
            .objections
            .iter()
            .map(move |objected| (athlete, objected))
    }))
}

/// Writes the blocks, and says where to go on.
async fn write(
    tx: &mut GymTx,
    visit: &Visit,
    wanted: &Wanted,
    shares: Vec<Share>,
    because: Option<Reason>,
    end_running: bool,
) -> Result<String, PageError> {
    let athletes: Vec<AthleteId> = shares.iter().map(|share| share.athlete.athlete).collect();
    let running: Vec<Block> = shares
        .iter()
        .flat_map(|share| share.running.iter().cloned())
        .collect();
    let blocks: Vec<NewBlock> = shares
        .into_iter()
        .filter_map(|share| {
            let overruled = share.objections.iter().any(Objected::asks_for_a_reason);
            Some(NewBlock {
                block: share.block,
                athlete: share.athlete.athlete,
                loading: share.club?,
                planned: share.planned,
                objections: share.objections.into_iter().map(Objected::kept).collect(),
                overruled_because: because
                    .as_ref()
                    .filter(|_| overruled)
                    .map(|because| because.as_str().to_owned()),
            })
        })
        .collect();
    let next = match blocks.as_slice() {
        [only] => format!("blocks/{}?done=assigned", only.block),
        _ => "roster?done=assigned".to_owned(),
    };
    let assignment = Assignment {
        draft: wanted.draft.clone(),
        blocks,
    };
    let written = blocks::assign(tx, &assignment, visit.now).await?;
    if end_running && !written.is_empty() {
        let last_day = wanted.draft.starts_on() - Duration::days(1);
        for block in running
            .iter()
            .filter(|block| !written.contains(&block.block))
        {
            blocks::end(tx, block, last_day, "A new block begins.", visit.now)
                .await
                .map_err(words::change_refused)?;
        }
    }
    flags::reassess_all(tx, &athletes, visit.today).await?;
    Ok(next)
}

#[derive(Template)]
#[template(path = "coach/assign_preview.html")]
struct PreviewPage {
    frame: Frame,
    form: Form,
    /// Field and sentence of what was wrong, with the athlete's name where it is about one.
    wrong: Vec<(String, String)>,
    /// The block itself, to be sent again.
    kept: Vec<(String, String)>,
    facts: Vec<(&'static str, String)>,
    weeks: Vec<WeekHead>,
    days: Vec<String>,
    rows: Vec<Row>,
    sessions: usize,
    objected: usize,
    needs_reason: bool,
    any_running: bool,
    any_loadable: bool,
    complete: bool,
    looked_at: String,
}

struct WeekHead {
    number: u8,
    days: usize,
}

struct Row {
    athlete: AthleteId,
    name: String,
    club_field: String,
    clubs: Vec<Choice>,
    block_field: String,
    block: BlockId,
    cells: Vec<Cell>,
    totals: String,
    ahead: Option<Ahead>,
    objections: Vec<Objected>,
    running: Vec<(String, String)>,
    waits: bool,
}

struct Cell {
    line: String,
    marks: Vec<&'static str>,
}

impl PreviewPage {
    fn new(
        visit: &Visit,
        posted: &Posted,
        offer: &Offer,
        wanted: &Wanted,
        shares: &[Share],
        errors: FieldErrors,
    ) -> Self {
        let draft = &wanted.draft;
        let plain = shares.iter().find(|share| !share.planned.is_empty());
        let dates: &[PlannedOn] = plain.map_or(&[], |share| &share.planned);
        let mut weeks: Vec<WeekHead> = Vec::new();
        for one in dates {
            match weeks.last_mut() {
                Some(week) if week.number == one.prescription.week => week.days += 1,
                _ => weeks.push(WeekHead {
                    number: one.prescription.week,
                    days: 1,
                }),
            }
        }
        let complete = shares.iter().all(|share| share.club.is_some());
        let looked_at = looked_at(shares);
        let mut form = Form::again(posted, errors);
        for share in shares {
            if let Some(club) = share.club {
                form.set(&club_field(share.athlete.athlete), club.to_string());
            }
        }
        Self {
            frame: visit.frame("Look before you assign", Nav::Assign),
            wrong: wrong(&form, shares),
            form,
            kept: posted
                .shown_again()
                .into_iter()
                .filter(|(name, _)| !is_of_preview(name))
                .collect(),
            facts: facts(draft, &wanted.movement_name, dates),
            weeks,
            days: dates.iter().map(|one| short_day_label(one.on)).collect(),
            rows: shares
                .iter()
                .map(|share| Row::new(visit, offer, share))
                .collect(),
            sessions: shares.iter().map(|share| share.planned.len()).sum(),
            objected: shares.iter().map(|share| share.objections.len()).sum(),
            needs_reason: needs_reason(shares),
            any_running: shares.iter().any(|share| !share.running.is_empty()),
            any_loadable: shares.iter().any(|share| share.loadable),
            complete,
            looked_at,
        }
    }
}

fn wrong(form: &Form, shares: &[Share]) -> Vec<(String, String)> {
    form.errors()
        .map(|(field, error)| {
            let whose = shares
                .iter()
                .find(|share| club_field(share.athlete.athlete) == field);
            let sentence = match whose {
                Some(share) => format!("{}: {error}", share.athlete.name),
                None => error.to_owned(),
            };
            (field.to_owned(), sentence)
        })
        .collect()
}

impl Row {
    fn new(visit: &Visit, offer: &Offer, share: &Share) -> Self {
        let athlete = share.athlete.athlete;
        let sets: u32 = share
            .planned
            .iter()
            .map(|one| u32::from(one.prescription.sets))
            .sum();
        Self {
            athlete,
            name: share.athlete.name.clone(),
            club_field: club_field(athlete),
            clubs: offer.clubs_for(athlete, visit.units),
            block_field: block_field(athlete),
            block: share.block,
            cells: share
                .planned
                .iter()
                .map(|one| Cell {
                    line: words::short_line(&one.prescription),
                    marks: share
                        .objections
                        .iter()
                        .filter(|objected| objected.is_about(one.on))
                        .map(|objected| objected.rule.id())
                        .collect(),
                })
                .collect(),
            totals: format!("{} sessions, {sets} sets a side", share.planned.len()),
            ahead: share.ahead.clone(),
            objections: share.objections.clone(),
            running: share
                .running
                .iter()
                .map(|block| {
                    let word = format!(
                        "{}, {}, {}, until {}",
                        block.movement_name,
                        words::hands(block.hands),
                        block.club_name,
                        day_label(block.until())
                    );
                    (visit.to(&format!("blocks/{}", block.block)), word)
                })
                .collect(),
            waits: share.waits,
        }
    }
}

/// What is the same for everybody.
fn facts(
    draft: &BlockDraft,
    movement_name: &str,
    dates: &[PlannedOn],
) -> Vec<(&'static str, String)> {
    let mut facts = vec![
        ("Movement", movement_name.to_owned()),
        ("Hands", words::hands(draft.scheme().hands()).to_owned()),
        ("Work", words::scheme(&draft.scheme())),
    ];
    if let (Some(first), Some(last)) = (dates.first(), dates.last()) {
        let times = || dates.iter().map(|one| one.prescription.time());
        let shortest = times().map(|time| time.shortest).min().unwrap_or(0);
        let longest = times().map(|time| time.longest).max().unwrap_or(0);
        let time = leverbook_domain::plan::SessionTime { shortest, longest };
        facts.push((
            "Days",
            format!(
                "{} for {} weeks: {} sessions from {} to {}",
                words::weekday_names(draft.weekdays()),
                draft.weeks(),
                dates.len(),
                day_label(first.on),
                day_label(last.on)
            ),
        ));
        facts.push((
            "One session",
            format!("{} of work and rest, after warming up", time.in_minutes()),
        ));
    }
    if let Some(note) = draft.note() {
        facts.push(("Note to the athlete", note.to_owned()));
    }
    facts
}
